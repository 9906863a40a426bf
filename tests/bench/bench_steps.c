/* Speed and memory of the time loop.
 *
 * Steps per second of the reference network (600 s at 1 ms, one profile row a step, repeated), the time
 * ngspice needs for the same netlist at 1 ms where it is installed, and the peak memory of a 12 h run
 * without a record. `bench_steps --check` returns 1 where a budget is missed. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "support/scenes.h"

#define CIRCUITS TAILVOLT_SOURCE_DIR "/tests/outside/circuits"
#define DURATION_S 600.0
#define BUDGET_STEPS_PER_S 8e6
#define BUDGET_RATIO 30.0
#define BUDGET_MEMORY_MB 20.0
#define REPEATS 5

static double used_s(void) {
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t); /* other processes on the machine do not count */
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static struct tailvolt_result *simulate(const struct tailvolt_system *system,
                                        const struct tailvolt_profile *profile) {
  struct tailvolt_options options = scene_isothermal();
  struct tailvolt_result *result = NULL;
  char error[TAILVOLT_TEXT_MAX] = "";
  if (tailvolt_simulate(system, profile, &options, &result, error) != TAILVOLT_OK) {
    fprintf(stderr, "%s\n", error);
    exit(3);
  }
  return result;
}

/* Fastest of several repeats: disturbances only slow things down. */
static double steps_per_s(void) {
  struct tailvolt_system *system = scene_read(SCENE_REFERENCE_FILE);
  struct tailvolt_profile *profile =
      scene_beats(system, &scene_reference_beat, 2000, SCENE_REFERENCE_BASE_A, DURATION_S);
  double best = 0;
  for (int k = 0; k < REPEATS; k++) {
    double begun_s = used_s();
    struct tailvolt_result *result = simulate(system, profile);
    double rate = (double)result->steps / (used_s() - begun_s);
    best = fmax(best, rate);
    tailvolt_result_free(result);
  }
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return best;
}

/* Only its transient analysis, without start-up and output: its reported "Transient analysis time". */
static double ngspice_s(void) {
  if (!scene_ngspice_installed()) return (double)NAN;
  char folder[] = "/tmp/tailvolt-bench-XXXXXX", path[128], command[1024];
  if (mkdtemp(folder) == NULL) return (double)NAN;
  snprintf(path, sizeof path, "%s/drive.inc", folder);
  scene_write_drive(path, &scene_reference_beat, 1, DURATION_S, 1e-3);
  snprintf(command, sizeof command,
           "cp '%s/battery.inc' '%s/one_amplifier.cir' '%s' && cd '%s' && sed -i 's/^[.]end$/.options "
           "acct\\n.end/' "
           "one_amplifier.cir && ngspice -b -r out.raw one_amplifier.cir 2>&1 | sed -n 's/^Transient "
           "analysis time = //p'; "
           "rm -r '%s'",
           CIRCUITS, CIRCUITS, folder, folder, folder);
  FILE *pipe = popen(command, "r");
  double seconds = (double)NAN;
  if (pipe != NULL) {
    if (fscanf(pipe, "%lf", &seconds) != 1) seconds = (double)NAN;
    pclose(pipe);
  }
  return seconds;
}

/* A programme for 12 h without a record, in its own process, so nothing else counts. */
static void long_run(double *memory_mb, double *rate) {
  int ends[2];
  *memory_mb = *rate = (double)NAN;
  if (pipe(ends) != 0) return;
  pid_t child = fork();
  if (child == 0) {
    struct tailvolt_system *system = scene_read(SCENE_REFERENCE_FILE);
    system->programmes[0].bass_hz = 0;
    struct tailvolt_profile *profile =
        scene_profile(system, "time_s,engine_rpm,base_load_a\n0,2000,25\n43200,2000,25\n");
    double begun_s = used_s();
    struct tailvolt_result *result = simulate(system, profile);
    double seen[2] = {(double)NAN, (double)result->steps / (used_s() - begun_s)};
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    if (result->steps >= 43200000) seen[0] = (double)usage.ru_maxrss / 1024;
    _exit(write(ends[1], seen, sizeof seen) == sizeof seen ? 0 : 1);
  }
  double seen[2];
  close(ends[1]);
  if (read(ends[0], seen, sizeof seen) == sizeof seen) {
    *memory_mb = seen[0];
    *rate = seen[1];
  }
  close(ends[0]);
  waitpid(child, NULL, 0);
}

int main(int argc, char **argv) {
  double memory_mb, playing_rate;
  long_run(&memory_mb, &playing_rate);
  double rate = steps_per_s();
  double spice_s = ngspice_s();
  double ratio = spice_s * rate / (DURATION_S / 1e-3);
  printf("steps per second      %.2f million (at least %.0f million)\n", rate / 1e6,
         BUDGET_STEPS_PER_S / 1e6);
  if (isnan(spice_s))
    printf("ngspice               not installed\n");
  else
    printf(
        "ngspice               %.3f s for %.0f s at 1 ms; ours %.4f s: %.1f times as fast (at least %.0f)\n",
        spice_s, DURATION_S, DURATION_S / 1e-3 / rate, ratio, BUDGET_RATIO);
  printf("playing a programme   %.2f million steps per second (12 h, storage in the amplifier, no ripple)\n",
         playing_rate / 1e6);
  printf("peak memory of 12 h   %.1f MB (less than %.0f MB)\n", memory_mb, BUDGET_MEMORY_MB);
  bool met =
      rate >= BUDGET_STEPS_PER_S && (isnan(ratio) || ratio >= BUDGET_RATIO) && memory_mb < BUDGET_MEMORY_MB;
  return argc > 1 && strcmp(argv[1], "--check") == 0 && !met;
}
