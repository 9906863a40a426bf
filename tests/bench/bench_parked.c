/* How long the parked study takes: by checkpoints, by every step of a six-hour evening, and a spread. Prints
 * measured times beside their budgets; `bench_parked --check` returns 1 where one is missed. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "tailvolt/study.h"

static double now_s(clockid_t clock) {
  struct timespec t;
  clock_gettime(clock, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static int report(const char *what, double took_s, double wanted_s) {
  printf("%-44s %7.3f s (less than %g s)%s\n", what, took_s, wanted_s, took_s < wanted_s ? "" : "  MISSED");
  return took_s >= wanted_s;
}

static double play(const struct tailvolt_system *system, const struct tailvolt_parked_options *options,
                   clockid_t clock) {
  struct tailvolt_parked *parked = NULL;
  char error[TAILVOLT_TEXT_MAX];
  double begun_s = now_s(clock);
  if (tailvolt_parked(system, NULL, options, &parked, error) != TAILVOLT_OK) {
    printf("%s\n", error);
    return HUGE_VAL;
  }
  double took_s = now_s(clock) - begun_s;
  tailvolt_parked_free(parked);
  return took_s;
}

int main(int argument_count, char **arguments) {
  static struct tailvolt_faults faults;
  struct tailvolt_system *system = NULL;
  int missed = 0;
  if (tailvolt_system_read(TAILVOLT_SOURCE_DIR "/examples/van-put-right/system.ini", NULL, 0, &system,
                           &faults) != TAILVOLT_OK)
    return 1;
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  options.level_db = -6;
  missed += report("default, bass note and all", play(system, &options, CLOCK_PROCESS_CPUTIME_ID), 0.5);
  options.vehicles = 256;
  options.threads = 2;
  missed += report("256 vehicles, two threads (on the clock)", play(system, &options, CLOCK_MONOTONIC), 60);
  options.vehicles = 0;
  options.full = true;
  options.limit_s = 6 * 3600.0;
  options.run.time_step_s = 1e-3;
  for (int k = 0; k < system->programme_count; k++) system->programmes[k].bass_hz = 0;
  missed += report("every step of six hours at 1 ms", play(system, &options, CLOCK_PROCESS_CPUTIME_ID), 4);
  tailvolt_system_free(system);
  return missed > 0 && argument_count > 1 && strcmp(arguments[1], "--check") == 0;
}
