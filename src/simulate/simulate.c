/* The public call: a profile on a system. */
#include "tailvolt/simulate.h"

#include <stdio.h>
#include <math.h>
#include <string.h>

#include "simulate/run.h"
#include "simulate/swing.h"

void tailvolt_options_init(struct tailvolt_options *options, size_t size) {
  struct tailvolt_options all;
  memset(&all, 0, sizeof all);
  all.size = size;
  all.record_every_s = 0.01;
  all.settle_s = 60;
  all.road_balance_a = (double)NAN;
  memcpy(options, &all, size < sizeof all ? size : sizeof all);
}

const char *tailvolt_status_text(enum tailvolt_status status) {
  switch (status) {
    case TAILVOLT_OK: return "done";
    case TAILVOLT_NO_MEMORY: return "out of memory";
    case TAILVOLT_INTERNAL: return "internal error";
    case TAILVOLT_BAD_INPUT: return "bad input";
    case TAILVOLT_NOT_READABLE: return "not readable";
    case TAILVOLT_SINGULAR: return "the network has no unique solution";
    case TAILVOLT_DIVERGED: return "the network did not settle";
    case TAILVOLT_STOPPED: return "stopped";
    case TAILVOLT_NOT_WRITTEN: return "could not be written";
  }
  return "unknown status";
}

enum tailvolt_status tailvolt_simulate(const struct tailvolt_system *system,
                                       const struct tailvolt_profile *profile,
                                       const struct tailvolt_options *options, struct tailvolt_result **out,
                                       char *error) {
  return tv_simulate_with(system, profile, options, NULL, out, error);
}

enum tailvolt_status tv_simulate_with(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                                      const struct tailvolt_options *options, const struct tv_programmes *shared,
                                      struct tailvolt_result **out, char *error) {
  char unheard[TAILVOLT_TEXT_MAX];
  if (error == NULL) error = unheard;
  error[0] = '\0';
  *out = NULL;
  if (options->size != sizeof *options) {
    snprintf(error, TAILVOLT_TEXT_MAX, "options must come from tailvolt_default_options()");
    return TAILVOLT_INTERNAL;
  }
  struct tv_run *run = NULL;
  enum tailvolt_status status = tv_profile_run(system, profile, options, shared, NULL, &run, error);
  if (status == TAILVOLT_OK) {
    status = tv_swing_run(run, profile, shared);
    if (status == TAILVOLT_OK) status = tv_run_finish(run, tailvolt_profile_name(profile), out);
    if (status != TAILVOLT_OK && run->error[0] != '\0') memcpy(error, run->error, TAILVOLT_TEXT_MAX);
    tv_run_free(run);
  }
  if (status != TAILVOLT_OK && error[0] == '\0')
    snprintf(error, TAILVOLT_TEXT_MAX, "%s", tailvolt_status_text(status));
  return status;
}
