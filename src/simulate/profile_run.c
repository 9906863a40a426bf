/* A run along a whole profile. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/draws.h"
#include "simulate/programmes.h"

/* Once per simulated second, where there is a listener. */
static enum tailvolt_status report_progress(struct tv_run *run, double at_s, double start_s, double span_s,
                                            double *reported_s) {
  const struct tailvolt_options *o = &run->options;
  if (o->progress == NULL || at_s - *reported_s < 1) return TAILVOLT_OK;
  *reported_s = at_s;
  run->shown_frac = (at_s - start_s) / span_s;
  run->asked_at = run->steps;
  return o->progress(o->progress_context, run->shown_frac) ? TAILVOLT_STOPPED : TAILVOLT_OK;
}

/* Runs long rows in stretches, so that progress and requests to stop get through: the steps are the row's
 * own. */
static enum tailvolt_status go_through(struct tv_run *run, const struct tailvolt_profile *profile,
                                       struct tv_row_walk *walk) {
  enum tailvolt_status status;
  const struct tailvolt_options *o = &run->options;
  double start_s = tailvolt_profile_start_s(profile), span_s = tailvolt_profile_end_s(profile) - start_s;
  double progress_s = start_s;
  const struct tailvolt_row *row = walk->row, *next;
  for (;;) {
    if ((status = tailvolt_profile_next(walk->cursor, &next)) != TAILVOLT_OK) return status;
    bool taken = next != NULL && tv_draws_take(run, row, next);
    if (taken) row = next;
    if (taken && tv_draws_take_more(run, walk->cursor) && (status = tailvolt_profile_next(walk->cursor, &row)) != TAILVOLT_OK)
      return status;
    if (taken && !tv_draws_full(run)) continue;
    if ((status = tv_run_go_draws(run)) != TAILVOLT_OK || next == NULL) return status;
    double at_s = row->time_s;
    if (taken) {
      if ((status = report_progress(run, at_s, start_s, span_s, &progress_s)) != TAILVOLT_OK) return status;
      continue;
    }
    if ((status = tv_run_begin_row(run, row, next, at_s, next->time_s)) != TAILVOLT_OK) return status;
    while (at_s < next->time_s) {
      at_s = o->progress != NULL && next->time_s - at_s > 15 ? at_s + 10 : next->time_s;
      if ((status = tv_run_go(run, at_s)) != TAILVOLT_OK) return status;
      if ((status = report_progress(run, at_s, start_s, span_s, &progress_s)) != TAILVOLT_OK) return status;
    }
    row = next;
  }
}

static enum tailvolt_status begin_and_go(struct tv_run *run, const struct tailvolt_profile *profile) {
  struct tv_row_walk walk = {NULL, NULL};
  enum tailvolt_status status = tailvolt_profile_open(profile, &walk.cursor);
  if (status == TAILVOLT_OK) status = tailvolt_profile_next(walk.cursor, &walk.row);
  if (status == TAILVOLT_OK) status = tv_run_begin(run, walk.row);
  if (status == TAILVOLT_OK) status = tv_recorder_open(run);
  if (status == TAILVOLT_OK) status = go_through(run, profile, &walk);
  tailvolt_profile_close(walk.cursor);
  return status;
}

enum tailvolt_status tv_profile_run(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                                    const struct tailvolt_options *options, const struct tv_programmes *shared,
                                    const struct tv_run *like, struct tv_run **out, char *error) {
  struct tv_run *run = NULL;
  *out = NULL;
  bool *prescribed = calloc((size_t)system->amplifier_count + 1, sizeof *prescribed);
  if (prescribed == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < system->amplifier_count; k++) prescribed[k] = tailvolt_profile_prescribes(profile, k);
  enum tailvolt_status status = tv_run_create_from(system, prescribed, options, shared, like, &run, error);
  free(prescribed);
  if (status != TAILVOLT_OK) return status;
  if ((status = begin_and_go(run, profile)) == TAILVOLT_OK) {
    *out = run;
    return TAILVOLT_OK;
  }
  if (run->error[0] != '\0') memcpy(error, run->error, TAILVOLT_TEXT_MAX);
  tv_run_free(run);
  return status;
}
