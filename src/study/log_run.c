#include "study/log_run.h"

#include <math.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/each.h"
#include "simulate/run.h"
#include "text/lock.h"
#include "text/text.h"

/* ---- meters at the points ---- */

/* A meter from a point to the negative post; -1 = none. */
static int meter_at(const struct tailvolt_system *system, int point) {
  for (int k = 0; k < system->meter_count; k++)
    if (system->meters[k].positive == point && system->meters[k].negative == 0) return k;
  return -1;
}

/* Settings that make the meters that are wanting; texts are kept apart from the settings that point at them. */
struct meters {
  int count;
  char (*text)[TAILVOLT_NAME_MAX + 48];
  struct tailvolt_setting *setting;
  int *point;
};

static void want_meter(struct meters *all, const struct tailvolt_system *system, const struct tv_log_column *column) {
  int point = tv_log_point(system, column);
  if (column->place != TV_LOG_POINT || meter_at(system, point) >= 0) return;
  for (int k = 0; k < all->count; k++)
    if (all->point[k] == point) return;
  int number = system->meter_count + all->count + 1;
  snprintf(all->text[2 * all->count], sizeof all->text[0], "meter reading %d.positive = %s", number, column->point);
  snprintf(all->text[2 * all->count + 1], sizeof all->text[0], "meter reading %d.negative = ground", number);
  for (int k = 2 * all->count; k < 2 * all->count + 2; k++) all->setting[k].text = all->text[k];
  all->point[all->count++] = point;
}

static enum tailvolt_status add_meters(struct tailvolt_system *system, const struct meters *all, char *error) {
  struct tailvolt_faults *faults = malloc(sizeof *faults);
  if (faults == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = tailvolt_system_change(system, all->setting, 2 * all->count, faults);
  if (status == TAILVOLT_BAD_INPUT) snprintf(error, TAILVOLT_TEXT_MAX, "%.250s", faults->fault[0].message);
  free(faults);
  return status;
}

enum tailvolt_status tv_log_system(const struct tailvolt_system *system, const struct tailvolt_log *const *logs, int count,
                                   struct tailvolt_system **out, char *error) {
  struct meters all = {0};
  size_t most = 1;
  for (int l = 0; l < count; l++) most += (size_t)logs[l]->column_count;
  all.text = calloc(2 * most, sizeof *all.text);
  all.setting = calloc(2 * most, sizeof *all.setting);
  all.point = calloc(most, sizeof *all.point);
  enum tailvolt_status status = all.text != NULL && all.setting != NULL && all.point != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK) status = tailvolt_system_copy(system, out);
  for (int l = 0; l < count && status == TAILVOLT_OK; l++)
    for (int k = 0; k < logs[l]->column_count; k++) want_meter(&all, *out, &logs[l]->columns[k]);
  if (status == TAILVOLT_OK && all.count > 0) status = add_meters(*out, &all, error);
  free(all.text);
  free(all.setting);
  free(all.point);
  if (status == TAILVOLT_OK) return status;
  tailvolt_system_free(*out);
  *out = NULL;
  return status;
}

/* ---- one run ---- */

/* A run under way along the log. */
struct walk {
  struct tv_log_job *job;
  struct tailvolt_run *run;
  double step_s;
  int *item;  /* [column_count]: meter, battery ... */
  long sample; /* the next to take */
};

static double read_column(const struct walk *w, const struct tv_log_column *column, int item) {
  struct tailvolt_reading reading = {0, 0};
  switch (column->place) {
  case TV_LOG_POINT:
  case TV_LOG_METER: return tailvolt_run_meter_v(w->run, item);
  case TV_LOG_BATTERY: reading = tailvolt_run_battery(w->run, item); break;
  case TV_LOG_AMPLIFIER: reading = tailvolt_run_amplifier(w->run, item); break;
  case TV_LOG_ALTERNATOR: reading = tailvolt_run_alternator(w->run); break;
  case TV_LOG_CONDUCTOR: reading = tailvolt_run_conductor(w->run, item); break;
  }
  return column->current ? reading.current_a : reading.voltage_v;
}

static void take_sample(struct walk *w) {
  const struct tailvolt_log *log = w->job->log;
  double *cell = w->job->simulated + w->sample * log->column_count;
  for (int k = 0; k < log->column_count; k++) cell[k] = read_column(w, &log->columns[k], w->item[k]);
  w->sample++;
}

/* The readings of one row: each is that of the step that begins with it. */
static enum tailvolt_status walk_row(struct walk *w, const struct tailvolt_row *row, const struct tailvolt_row *next) {
  const struct tailvolt_log *log = w->job->log;
  enum tailvolt_status status = TAILVOLT_OK;
  while (w->sample < log->row_count && log->time_s[w->sample] < row->time_s) w->sample++;
  while (w->sample < log->row_count && log->time_s[w->sample] < next->time_s) {
    double at_s = fmin(log->time_s[w->sample] + w->step_s, next->time_s);
    status = tailvolt_run_advance(w->run, row, next, at_s);
    if (status != TAILVOLT_OK) return status;
    take_sample(w);
  }
  return tailvolt_run_advance(w->run, row, next, next->time_s);
}

static enum tailvolt_status walk_profile(struct walk *w, struct tailvolt_profile_cursor *cursor) {
  const struct tailvolt_row *row, *next;
  const struct tailvolt_log *log = w->job->log;
  enum tailvolt_status status = tailvolt_profile_next(cursor, &row);
  if (status == TAILVOLT_OK) status = tailvolt_run_begin(w->run, row);
  while (status == TAILVOLT_OK) {
    status = tailvolt_profile_next(cursor, &next);
    if (status != TAILVOLT_OK || next == NULL) break;
    status = walk_row(w, row, next);
    if (next->time_s > w->job->to_s) return status;
    row = next;
  }
  /* the reading at the very end is that of the last step */
  if (status == TAILVOLT_OK && w->sample < log->row_count && log->time_s[w->sample] == tailvolt_profile_end_s(w->job->profile))
    take_sample(w);
  return status;
}

static enum tailvolt_status find_items(struct walk *w) {
  const struct tailvolt_log *log = w->job->log;
  w->item = calloc((size_t)log->column_count + 1, sizeof *w->item);
  if (w->item == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < log->column_count; k++) {
    const struct tv_log_column *column = &log->columns[k];
    w->item[k] = column->place == TV_LOG_POINT ? meter_at(w->job->system, tv_log_point(w->job->system, column)) : column->item;
    if (w->item[k] < 0) return TAILVOLT_INTERNAL;
  }
  return TAILVOLT_OK;
}

/* What the threads share. */
struct crew {
  struct tv_log_job *jobs;
  int count;
  int (*progress)(void *context, double done_frac);
  void *context;
  struct tv_lock reporting;
  atomic_int done;
  atomic_bool stopped;
};

/* Within a run as between two: a log may be long. */
static int report_progress(void *context, double done_frac) {
  struct crew *crew = context;
  (void)done_frac;
  if (crew->progress == NULL || atomic_load(&crew->stopped) || !tv_lock_try(&crew->reporting)) return atomic_load(&crew->stopped);
  if (crew->progress(crew->context, (double)atomic_load(&crew->done) / crew->count) != 0) atomic_store(&crew->stopped, true);
  tv_lock_give(&crew->reporting);
  return atomic_load(&crew->stopped);
}

static enum tailvolt_status run_job(struct crew *crew, struct tv_log_job *job) {
  struct walk w = {.job = job};
  const struct tailvolt_system *system = job->system;
  struct tailvolt_profile_cursor *cursor = NULL;
  struct tailvolt_options options = *job->options;
  bool *prescribed = calloc((size_t)system->amplifier_count + 1, sizeof *prescribed);
  enum tailvolt_status status = prescribed != NULL ? find_items(&w) : TAILVOLT_NO_MEMORY;
  options.record = NULL;
  options.progress = report_progress;
  options.progress_context = crew;
  w.step_s = options.time_step_s > 0 ? options.time_step_s : 1e-3;
  for (long k = 0; k < job->log->row_count * job->log->column_count; k++) job->simulated[k] = (double)NAN;
  for (int k = 0; status == TAILVOLT_OK && k < system->amplifier_count; k++)
    prescribed[k] = tailvolt_profile_prescribes(job->profile, k);
  if (status == TAILVOLT_OK) status = tv_run_open_like(system, prescribed, &options, job->shared, job->like, &w.run, job->error);
  if (status == TAILVOLT_OK) status = tailvolt_profile_open(job->profile, &cursor);
  if (status == TAILVOLT_OK) status = walk_profile(&w, cursor);
  if (status != TAILVOLT_OK && job->error[0] == '\0')
    tv_copy_text(job->error, sizeof job->error,
                 w.run != NULL && tailvolt_run_error(w.run)[0] != '\0' ? tailvolt_run_error(w.run) : tailvolt_status_text(status));
  tailvolt_profile_close(cursor);
  tailvolt_run_close(w.run);
  free(prescribed);
  free(w.item);
  return status;
}

static void run_one(void *context, int k) {
  struct crew *crew = context;
  if (atomic_load(&crew->stopped)) return;
  crew->jobs[k].error[0] = '\0';
  crew->jobs[k].status = run_job(crew, &crew->jobs[k]);
  atomic_fetch_add(&crew->done, 1);
  (void)report_progress(crew, 0);
}

enum tailvolt_status tv_log_simulate(struct tv_log_job *jobs, int count, int threads,
                                     int (*progress)(void *context, double done_frac), void *context) {
  struct crew crew = {.jobs = jobs, .count = count, .progress = progress, .context = context};
  atomic_init(&crew.done, 0);
  atomic_init(&crew.stopped, false);
  tv_lock_make(&crew.reporting);
  tv_each(count, tv_threads(threads), run_one, &crew);
  tv_lock_free(&crew.reporting);
  if (atomic_load(&crew.stopped)) return TAILVOLT_STOPPED;
  for (int k = 0; k < count; k++)
    if (jobs[k].status == TAILVOLT_NO_MEMORY) return TAILVOLT_NO_MEMORY;
  return TAILVOLT_OK;
}

/* ---- the step ---- */

static int ascending(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

double tv_log_step_s(const struct tailvolt_log *log) {
  size_t count = log->row_count > 1 ? (size_t)log->row_count - 1 : 0;
  double *gap_s = malloc((count + 1) * sizeof *gap_s), step_s = 1e-3;
  if (gap_s == NULL || count == 0) {
    free(gap_s);
    return step_s;
  }
  for (size_t k = 0; k < count; k++) gap_s[k] = log->time_s[k + 1] - log->time_s[k];
  qsort(gap_s, count, sizeof *gap_s, ascending);
  step_s = fmin(fmax(0.1 * gap_s[count / 2], 1e-3), 1.0);
  free(gap_s);
  return step_s;
}
