/* What real jobs cost, in processor seconds and relative to the hand loop of the same run.
 *
 *   bench_jobs                 all of it, some minutes
 *   bench_jobs --short         a minute of each network at idle in place of ten (the van's own profile too), and no
 *                              command; run by tests/run.sh, never fails on time
 *   bench_jobs van remedy ...  only rows whose name holds one of these words
 *
 * Other users of the machine slow everything down, the hand loop included: it is measured again beside each row,
 * and the fastest of several repeats counts. Whole commands are also timed by the clock, which is what a user
 * waits for. */
#define _DEFAULT_SOURCE /* wait4 */
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "bench/hand_loop.h"
#include "simulate/lanes.h"
#include "support/assert_near.h"
#include "support/scenes.h"

#define VAN "examples/van-800w-8awg/system.ini"
#define VAN_PROFILE "examples/van-800w-8awg/profile.csv"
#define STEP_REPEATS 3

static bool brief;

static double hand_rate(void) {
  return hand_loop(true, 60, 3).system_steps_per_s;
}

static double clock_s(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* ---- rows that step a network in this process ---- */

struct network_row {
  const char *name, *file, *profile; /* profile: a path, or NULL: the engine at `rpm` for ten minutes */
  double rpm;
  double wanted_share; /* of the hand loop's steps per second */
};

static const struct network_row NETWORKS[] = {
    {"reference network", SCENE_REFERENCE_FILE, NULL, 0, 0.35},
    {"ten-line file at idle", "examples/reference/ten-line.ini", NULL, 800, 0.20},
    {"van, own profile", VAN, VAN_PROFILE, 0, 0.13},
    {"everything at once at idle", "examples/reference/all-of-it.ini", NULL, 800, 0.14},
};

static struct tailvolt_profile *read_profile(const char *path, const struct tailvolt_system *system) {
  static struct tailvolt_faults faults;
  char full[1024];
  struct tailvolt_profile *profile = NULL;
  snprintf(full, sizeof full, "%s/%s", TAILVOLT_SOURCE_DIR, path);
  if (tailvolt_profile_read(full, NULL, system, &profile, &faults) != TAILVOLT_OK) {
    fprintf(stderr, "%s: %s\n", path, faults.fault[0].message);
    exit(3);
  }
  return profile;
}

/* With --short, the first minute of a profile of steady rows. */
static struct tailvolt_profile *profile_of(const struct network_row *row,
                                           const struct tailvolt_system *system) {
  double duration_s = brief ? 60 : 600;
  if (strcmp(row->file, SCENE_REFERENCE_FILE) == 0)
    return scene_beats(system, &scene_reference_beat, 2000, SCENE_REFERENCE_BASE_A, duration_s);
  if (row->profile != NULL && !brief) return read_profile(row->profile, system);
  char text[128];
  double rpm = row->rpm > 0 ? row->rpm : 800;
  snprintf(text, sizeof text, "time_s,engine_rpm,level_db\n0,%g,0\n%g,%g,0\n", rpm, duration_s, rpm);
  return scene_profile(system, text);
}

static struct tailvolt_result *simulate(const struct tailvolt_system *system,
                                        const struct tailvolt_profile *profile,
                                        const struct tailvolt_options *options) {
  struct tailvolt_result *result = NULL;
  char error[TAILVOLT_TEXT_MAX] = "";
  if (tailvolt_simulate(system, profile, options, &result, error) != TAILVOLT_OK) {
    fprintf(stderr, "%s\n", error);
    exit(3);
  }
  return result;
}

static void heading(void) {
  printf("%-34s %9s %12s %9s %8s\n", "a network, one core", "used s", "M steps/s", "of hand", "wanted");
}

static void step_network(const struct network_row *row) {
  struct tailvolt_system *system = scene_read(row->file);
  struct tailvolt_profile *profile = profile_of(row, system);
  bool reference = strcmp(row->file, SCENE_REFERENCE_FILE) == 0;
  struct tailvolt_options options = reference ? scene_isothermal() : tailvolt_default_options();
  options.settle_s = 0; /* its steps are not counted */
  double best = 0, used_s = 0, hand = hand_rate();
  for (int k = 0; k < STEP_REPEATS; k++) {
    double begun_s = hand_used_s();
    struct tailvolt_result *result = simulate(system, profile, &options);
    double now_s = hand_used_s() - begun_s, rate = (double)result->steps / now_s;
    if (rate > best) best = rate, used_s = now_s;
    tailvolt_result_free(result);
    hand = fmax(hand, hand_rate());
  }
  printf("%-34s %9.3f %12.2f %9.3f %8.2f\n", row->name, used_s, best / 1e6, best / hand, row->wanted_share);
  fflush(stdout);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

/* ---- lanes ---- */

enum { FLEET = 64 };

/* Identical systems side by side; each keeps its own statistics, as a single run does. */
struct cost_of_lanes {
  double used_s, clock_s;
  double steps;
};

static struct cost_of_lanes run_lanes(const struct network_row *row, int count, int lanes, int threads) {
  struct tailvolt_system *system = scene_read(row->file);
  struct tailvolt_profile *profile = profile_of(row, system);
  struct tailvolt_options options =
      strcmp(row->file, SCENE_REFERENCE_FILE) == 0 ? scene_isothermal() : tailvolt_default_options();
  if (count < FLEET) options.settle_s = 0; /* its steps are not counted */
  struct tv_lane_job *job = calloc((size_t)count, sizeof *job);
  struct tv_lanes_how how = {.threads = threads, .lanes = lanes};
  if (job == NULL) exit(3);
  for (int k = 0; k < count; k++) job[k].system = system, job[k].profile = profile, job[k].options = &options;
  struct cost_of_lanes cost = {hand_used_s(), clock_s(), 0};
  enum tailvolt_status status = tv_lanes_simulate(job, count, NULL, &how);
  cost.used_s = hand_used_s() - cost.used_s;
  cost.clock_s = clock_s() - cost.clock_s;
  for (int k = 0; k < count; k++) {
    if (status != TAILVOLT_OK || job[k].result == NULL) exit(3);
    cost.steps += (double)job[k].result->steps;
    tailvolt_result_free(job[k].result);
  }
  free(job);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return cost;
}

static void step_lanes(const char *name, const struct network_row *row, int lanes, double wanted_share) {
  double best = 0, used_s = 0, hand = hand_rate();
  for (int k = 0; k < STEP_REPEATS; k++) {
    struct cost_of_lanes cost = run_lanes(row, lanes, lanes, 1);
    if (cost.steps / cost.used_s > best) best = cost.steps / cost.used_s, used_s = cost.used_s;
    hand = fmax(hand, hand_rate());
  }
  printf("%-34s %9.3f %12.2f %9.3f %8.2f\n", name, used_s, best / 1e6, best / hand, wanted_share);
  fflush(stdout);
}

static void run_fleet(int lanes, int threads, double wanted_s) {
  char name[64];
  struct cost_of_lanes cost = run_lanes(&NETWORKS[2], FLEET, lanes, threads);
  snprintf(name, sizeof name, "%d vans, %d thread%s, %d lanes", FLEET, threads, threads > 1 ? "s" : "",
           lanes > 0 ? lanes : tv_lanes_best());
  printf("%-34s %9.2f %12.2f %9.0f ", name, cost.used_s, cost.clock_s, cost.used_s * hand_rate() / 1e6);
  if (wanted_s > 0)
    printf("%8.1f\n", wanted_s);
  else
    printf("%8s\n", "");
  fflush(stdout);
}

/* ---- rows that run a command ---- */

struct cost {
  double used_s, clock_s; /* processor time, wall clock */
  int status;
};

/* Runs it by the shell in the source folder; its output is dropped. */
static struct cost run(const char *command) {
  struct cost cost = {0, clock_s(), -1};
  pid_t child = fork();
  if (child == 0) {
    int nowhere = open("/dev/null", O_WRONLY);
    if (nowhere >= 0) dup2(nowhere, STDOUT_FILENO), dup2(nowhere, STDERR_FILENO);
    if (chdir(TAILVOLT_SOURCE_DIR) == 0) execl("/bin/sh", "sh", "-c", command, (char *)NULL);
    _exit(127);
  }
  struct rusage usage;
  int status;
  if (child > 0 && wait4(child, &status, 0, &usage) == child) {
    cost.status = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    cost.used_s = (double)usage.ru_utime.tv_sec + 1e-6 * (double)usage.ru_utime.tv_usec +
                  (double)usage.ru_stime.tv_sec + 1e-6 * (double)usage.ru_stime.tv_usec;
  }
  cost.clock_s = clock_s() - cost.clock_s;
  return cost;
}

struct command_row {
  const char *name, *arguments;
  double wanted_s; /* wall clock on two free cores */
};

static const struct command_row COMMANDS[] = {
    {"simulate van", "simulate " VAN " " VAN_PROFILE, 0},
    {"report of van", "report " VAN " " VAN_PROFILE " -o -", 1.5},
    {"remedy van, 23 min of town", "remedy " VAN " profiles/town-night-rain.csv", 5},
    {"parked --spread 256", "parked examples/van-put-right/system.ini --level -6 --spread 256", 2},
    {"parked --full, 6 h",
     "parked examples/van-put-right/system.ini --level -6 --full --longest 6h --time-step 1ms "
     "--set 'programme drums.bass note = 0 Hz'",
     1.2},
};

static void time_command(const struct command_row *row) {
  char command[1024];
  snprintf(command, sizeof command, "%s %s", TAILVOLT_COMMAND, row->arguments);
  double hand = hand_rate();
  struct cost cost = run(command);
  hand = fmax(hand, hand_rate());
  if (cost.status != 0) {
    printf("%-34s failed with %d\n", row->name, cost.status);
    return;
  }
  printf("%-34s %9.2f %12.2f %9.0f ", row->name, cost.used_s, cost.clock_s, cost.used_s * hand / 1e6);
  if (row->wanted_s > 0)
    printf("%8.1f\n", row->wanted_s);
  else
    printf("%8s\n", "");
  fflush(stdout);
}

/* ---- against the circuit simulator ---- */

/* The van's network as a netlist of the same points, parts and step; processor seconds of the whole program. */
static void against_ngspice(void) {
  if (!scene_ngspice_installed()) {
    printf("%-34s not installed\n", "van against ngspice");
    return;
  }
  struct cost cost = run("ngspice -b tests/bench/van.cir");
  struct tailvolt_system *system = scene_read(VAN);
  struct tailvolt_profile *profile = scene_profile(system, "time_s,engine_rpm\n0,800\n60,800\n");
  struct tailvolt_options options = tailvolt_default_options();
  double best_s = 1e9;
  for (int k = 0; k < STEP_REPEATS; k++) {
    double begun_s = hand_used_s();
    tailvolt_result_free(simulate(system, profile, &options));
    best_s = fmin(best_s, hand_used_s() - begun_s);
  }
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  if (cost.status == 0)
    printf("%-34s %9.2f s against %.3f s: %.0f times as fast, wanted 40\n", "van, 60 s, against ngspice",
           cost.used_s, best_s, cost.used_s / best_s);
  else
    printf("%-34s failed with %d\n", "van against ngspice", cost.status);
}

static bool asked_for(const char *name, int count, char **words) {
  bool any = false;
  for (int k = 1; k < count; k++) {
    if (words[k][0] == '-') continue;
    any = true;
    if (strstr(name, words[k]) != NULL) return true;
  }
  return !any;
}

int main(int argc, char **argv) {
  for (int k = 1; k < argc; k++) brief = brief || strcmp(argv[k], "--short") == 0;
  struct hand_result one = hand_loop(true, 60, 9), eight = hand_loop_eight(true, 60, 9);
  printf("hand loop: %.1f M steps/s; eight side by side %.0f M system-steps/s\n\n",
         one.system_steps_per_s / 1e6, eight.system_steps_per_s / 1e6);
  heading();
  for (size_t k = 0; k < sizeof NETWORKS / sizeof NETWORKS[0]; k++)
    if (asked_for(NETWORKS[k].name, argc, argv)) step_network(&NETWORKS[k]);
  if (asked_for("reference network in lanes", argc, argv))
    step_lanes("reference network, 4 lanes", &NETWORKS[0], 4, 1.2);
  if (asked_for("van in lanes", argc, argv)) step_lanes("van, 4 lanes", &NETWORKS[2], 4, 0.35);
  if (brief) return 0;
  if (asked_for("van against ngspice", argc, argv)) against_ngspice();
  printf("\n%-34s %9s %12s %9s %8s\n", "a command", "used s", "clock s", "M hand", "wanted s");
  if (asked_for("fleet of vans", argc, argv)) {
    run_fleet(0, 2, 1.2);
    run_fleet(2, 1, 0);
  }
  for (size_t k = 0; k < sizeof COMMANDS / sizeof COMMANDS[0]; k++)
    if (asked_for(COMMANDS[k].name, argc, argv)) time_command(&COMMANDS[k]);
  printf("\nof hand: steps a second over the hand loop's. M hand: steps that the hand loop does in the "
         "processor time\n"
         "used, in millions. wanted s: on the clock, two free cores\n");
  return 0;
}
