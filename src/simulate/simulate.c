/* The public call: a profile on a system. */
#include "tailvolt/simulate.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/run.h"
#include "simulate/swing.h"

#define COOKIE 0x7a11

struct tailvolt_options tailvolt_default_options(void) {
  struct tailvolt_options o;
  memset(&o, 0, sizeof o);
  o.cookie = COOKIE;
  o.record_every_s = 0.01;
  o.settle_s = 60;
  return o;
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

/* Long rows in stretches, so that progress and a request to stop are heard: their steps are the row's own. */
static enum tailvolt_status go_through(struct tv_run *run, const struct tailvolt_profile *profile,
                                       struct tv_row_walk *walk) {
  enum tailvolt_status status;
  const struct tailvolt_options *o = &run->options;
  double start_s = tailvolt_profile_start_s(profile), span_s = tailvolt_profile_end_s(profile) - start_s;
  double progress_s = start_s;
  const struct tailvolt_row *row = walk->row, *next;
  for (;;) {
    if ((status = tailvolt_profile_next(walk->cursor, &next)) != TAILVOLT_OK || next == NULL) return status;
    double at_s = row->time_s;
    if ((status = tv_run_begin_row(run, row, next, at_s, next->time_s)) != TAILVOLT_OK) return status;
    while (at_s < next->time_s) {
      at_s = o->progress != NULL && next->time_s - at_s > 15 ? at_s + 10 : next->time_s;
      if ((status = tv_run_go(run, at_s)) != TAILVOLT_OK) return status;
      if (o->progress != NULL && at_s - progress_s >= 1) {
        progress_s = at_s;
        if (o->progress(o->progress_context, (at_s - start_s) / span_s)) return TAILVOLT_STOPPED;
      }
    }
    row = next;
  }
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
  if (options->cookie != COOKIE) {
    snprintf(error, TAILVOLT_TEXT_MAX, "options must come from tailvolt_default_options()");
    return TAILVOLT_INTERNAL;
  }
  bool *prescribed = calloc((size_t)system->amplifier_count + 1, sizeof *prescribed);
  if (prescribed == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < system->amplifier_count; k++) prescribed[k] = tailvolt_profile_prescribes(profile, k);
  struct tv_run *run = NULL;
  struct tv_row_walk walk = {NULL, NULL};
  enum tailvolt_status status = tv_run_create_with(system, prescribed, options, shared, &run, error);
  free(prescribed);
  if (status != TAILVOLT_OK) return status;
  if ((status = tailvolt_profile_open(profile, &walk.cursor)) != TAILVOLT_OK) goto done;
  if ((status = tailvolt_profile_next(walk.cursor, &walk.row)) != TAILVOLT_OK) goto done;
  if ((status = tv_run_begin(run, walk.row)) != TAILVOLT_OK) goto done;
  if ((status = tv_recorder_open(run)) != TAILVOLT_OK) goto done;
  if ((status = go_through(run, profile, &walk)) != TAILVOLT_OK) goto done;
  if ((status = tv_swing_run(run, profile, shared)) != TAILVOLT_OK) goto done;
  status = tv_run_finish(run, tailvolt_profile_name(profile), out);
done:
  if (status != TAILVOLT_OK && run->error[0] != '\0') memcpy(error, run->error, TAILVOLT_TEXT_MAX);
  if (status != TAILVOLT_OK && error[0] == '\0')
    snprintf(error, TAILVOLT_TEXT_MAX, "%s", tailvolt_status_text(status));
  tailvolt_profile_close(walk.cursor);
  tv_run_free(run);
  return status;
}
