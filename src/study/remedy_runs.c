/* Runs of a remedy: side by side, with progress and a way to stop; a short profile over again; playing times. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/each.h"
#include "simulate/lanes.h"
#include "study/parked.h"
#include "study/remedy.h"

bool tv_remedy_asked_to_stop(struct tv_remedy_job *job) {
  bool stop = false;
  const struct tailvolt_options *run = &job->options.run;
  if (atomic_load(&job->stop)) return true;
  if (run->progress == NULL) return false;
  if (!tv_lock_try(&job->reporting)) return false; /* another is asking */
  double done = job->stage_done + job->batch * 1e-3 * atomic_load(&job->batch_done);
  double share = job->stage_runs > 0 ? done / job->stage_runs : 1.0;
  double frac = job->stage_from + (job->stage_to - job->stage_from) * tv_least(share, 1.0);
  job->done_frac = tv_most(job->done_frac, frac);
  stop = run->progress(run->progress_context, job->done_frac) != 0;
  tv_lock_give(&job->reporting);
  if (stop) atomic_store(&job->stop, true);
  return stop;
}

enum tailvolt_status tv_remedy_over_again(const struct tailvolt_profile *profile, const struct tailvolt_system *system,
                                          struct tailvolt_profile **out) {
  enum { ROWS_MOST = 20000 };
  double span_s = tailvolt_profile_end_s(profile) - tailvolt_profile_start_s(profile);
  struct tailvolt_profile_cursor *cursor = NULL;
  const struct tailvolt_row *row;
  *out = NULL;
  if (!(span_s > 0.0) || span_s >= TV_LONG_S) return TAILVOLT_OK;
  int laps = (int)ceil(TV_LONG_S / span_s), count = 0;
  struct tailvolt_row *rows = malloc(ROWS_MOST * sizeof *rows);
  double *load_on = malloc(ROWS_MOST * ((size_t)system->load_count + 1) * sizeof *load_on);
  struct tailvolt_amplifier_row *amplifier =
      malloc(ROWS_MOST * ((size_t)system->amplifier_count + 1) * sizeof *amplifier);
  enum tailvolt_status status = rows && load_on && amplifier ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  for (int lap = 0; lap < laps && status == TAILVOLT_OK; lap++) {
    /* the last row of a lap is the first of the next */
    if (lap > 0) count--;
    if ((status = tailvolt_profile_open(profile, &cursor)) != TAILVOLT_OK) break;
    while ((status = tailvolt_profile_next(cursor, &row)) == TAILVOLT_OK && row != NULL && count < ROWS_MOST) {
      double *on = load_on + (size_t)count * ((size_t)system->load_count + 1);
      struct tailvolt_amplifier_row *played = amplifier + (size_t)count * ((size_t)system->amplifier_count + 1);
      memcpy(on, row->load_on, (size_t)system->load_count * sizeof *on);
      memcpy(played, row->amplifier, (size_t)system->amplifier_count * sizeof *played);
      rows[count] = *row;
      rows[count].time_s += lap * span_s;
      rows[count].load_on = on;
      rows[count++].amplifier = played;
    }
    tailvolt_profile_close(cursor);
    if (count == ROWS_MOST) laps = 0;
  }
  if (status == TAILVOLT_OK && laps > 0)
    status = tailvolt_profile_from_rows(rows, count, tailvolt_profile_name(profile), system, out);
  free(rows);
  free(load_on);
  free(amplifier);
  return status;
}

/* About once a second of a run that goes to its end: stops only if the user asks. */
static bool look_for_stop(void *context, const struct tv_run *run) {
  (void)run;
  return tv_remedy_asked_to_stop(context);
}

/* Of the batch that is tried: in longer steps and then in full, or one of the two. Runs stop by themselves, each where it stands. */
static int note_progress(void *context, double done_frac) {
  struct tv_remedy_job *job = context;
  atomic_store(&job->batch_done, (int)(1000 * done_frac));
  (void)tv_remedy_asked_to_stop(job);
  return 0;
}

enum tailvolt_status tv_remedy_run_in_steps(struct tv_remedy_job *job, struct tv_lane_job *lanes, int count, double step_s,
                                            const double *road_a) {
  struct tailvolt_options *options = calloc((size_t)count + 1, sizeof *options);
  struct tv_lanes_how how = {.threads = tv_threads(job->options.threads), .labels = job->labels, .progress = note_progress, .context = job};
  if (options == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < count; k++) {
    options[k] = job->options.run;
    options[k].record = NULL;
    options[k].progress = NULL;
    if (step_s > 0.0) options[k].time_step_s = step_s;
    if (road_a != NULL) options[k].road_balance_a = road_a[k];
    lanes[k].options = &options[k];
    /* an engine does not turn slower than its idle speed */
    lanes[k].least_rpm = lanes[k].system->engine.idle_rpm;
    if (lanes[k].stop != NULL) continue;
    lanes[k].stop = look_for_stop;
    lanes[k].context = job;
  }
  enum tailvolt_status status = tv_lanes_simulate(lanes, count, job->programmes, &how);
  for (int k = 0; k < count; k++) lanes[k].options = NULL;
  free(options);
  return status;
}

enum tailvolt_status tv_remedy_runs(struct tv_remedy_job *job, const struct tailvolt_profile *profile,
                                    struct tv_lane_job *lanes, int count) {
  for (int k = 0; k < count; k++) lanes[k].profile = profile;
  return tv_remedy_run_in_steps(job, lanes, count, 0.0, NULL);
}

static struct tailvolt_parked_options parked_options(const struct tv_remedy_job *job) {
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  options.run = job->options.run;
  options.run.record = NULL;
  options.run.progress = NULL;
  options.threads = 1;
  return options;
}

enum tailvolt_status tv_remedy_calibrate(struct tv_remedy_job *job) {
  struct tailvolt_parked_options options = parked_options(job);
  char error[TAILVOLT_TEXT_MAX];
  job->quick = (struct tv_parked_quick){.draw_ratio = 1, .cut_out_ratio = 1};
  if (!isfinite(job->parked_s)) return TAILVOLT_OK;
  enum tailvolt_status status = tv_parked_share(job->system, &options.run, &job->smooth_programmes, error);
  job->quick.programmes = job->smooth_programmes;
  if (status == TAILVOLT_OK)
    status = tv_parked_calibrate(job->system, NULL, &options, (double)NAN, &job->quick, error);
  return status == TAILVOLT_NO_MEMORY ? status : TAILVOLT_OK;
}

enum tailvolt_status tv_remedy_parked(struct tv_remedy_job *job, const struct tailvolt_system *system,
                                      bool thoroughly, double *until_s) {
  struct tailvolt_parked_options options = parked_options(job);
  struct tv_parked_brief brief;
  char error[TAILVOLT_TEXT_MAX];
  *until_s = (double)NAN;
  enum tailvolt_status status = tv_parked_brief_with(system, NULL, &options, thoroughly ? NULL : &job->quick, &brief, error);
  if (status == TAILVOLT_OK) *until_s = brief.until_s;
  /* a car that cannot be played parked at all has no time to compare */
  return status == TAILVOLT_NO_MEMORY || status == TAILVOLT_STOPPED ? status : TAILVOLT_OK;
}
