/* A log beside its simulation: error figures for each column, and where the two are farthest apart. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "study/compare.h"
#include "text/text.h"

enum { DISAGREEMENTS_MAX = 12 };

void tailvolt_compare_options_init(struct tailvolt_compare_options *options, size_t size) {
  struct tailvolt_compare_options all = {
      .size = size, .run = tailvolt_default_options(), .from_s = (double)NAN, .to_s = (double)NAN};
  memcpy(options, &all, size < sizeof all ? size : sizeof all);
}

/* ---- what is simulated ---- */

enum tailvolt_status tv_compare_check(const struct tailvolt_log *const *logs, int log_count,
                                      const struct tailvolt_compare_options *options, char *error) {
  error[0] = '\0';
  if (options->size != sizeof *options) {
    snprintf(error, TAILVOLT_TEXT_MAX, "options must come from tailvolt_default_compare_options()");
    return TAILVOLT_INTERNAL;
  }
  if (log_count < 1 || log_count > TAILVOLT_LOGS_MAX) {
    snprintf(error, TAILVOLT_TEXT_MAX, "1 to %d logs can be taken", TAILVOLT_LOGS_MAX);
    return TAILVOLT_BAD_INPUT;
  }
  for (int k = 0; k < log_count; k++) {
    if (logs[k]->drives || options->profile != NULL) continue;
    snprintf(error, TAILVOLT_TEXT_MAX,
             "%.120s: does not say what the car did: add a column such as engine_rpm, or give a load profile", logs[k]->name);
    return TAILVOLT_BAD_INPUT;
  }
  return TAILVOLT_OK;
}

bool tv_compare_plays(const struct tailvolt_log *log, const struct tailvolt_compare_options *options) {
  return options->profile != NULL || log->music;
}

struct tailvolt_options tv_compare_run_options(const struct tailvolt_log *log, const struct tailvolt_compare_options *options) {
  struct tailvolt_options run = options->run;
  run.record = NULL;
  run.progress = NULL;
  if (!(run.time_step_s > 0) && !tv_compare_plays(log, options)) run.time_step_s = tv_log_step_s(log);
  return run;
}

bool tv_compare_counts(const struct tailvolt_compare_options *options, double time_s) {
  return !(time_s < options->from_s) && !(time_s > options->to_s);
}

/* ---- figures ---- */

static void sum_column(const struct tailvolt_compared_log *log, int c, struct tailvolt_compared *column) {
  double sum = 0, sum2 = 0, measured = 0, simulated = 0;
  column->worst_s = column->worst = (double)NAN;
  for (long r = 0; r < log->row_count; r++) {
    double m = log->measured[r * log->column_count + c], s = log->simulated[r * log->column_count + c], e = s - m;
    if (isnan(e)) continue;
    column->count++;
    sum += e;
    sum2 += e * e;
    measured += m;
    simulated += s;
    if (fabs(e) <= fabs(column->worst)) continue;
    column->worst = e;
    column->worst_s = log->time_s[r];
  }
  double n = (double)column->count;
  column->bias = sum / n; /* NAN of none */
  column->rms = sqrt(sum2 / n);
  column->spread = sqrt(fmax(sum2 / n - column->bias * column->bias, 0));
  column->measured_mean = measured / n;
  column->simulated_mean = simulated / n;
}

/* A disagreement for ranking. */
struct ranked {
  struct tailvolt_disagreement what;
  double size; /* relative to the column's own error */
};

static int by_size(const void *a, const void *b) {
  double x = ((const struct ranked *)a)->size, y = ((const struct ranked *)b)->size;
  return (x < y) - (x > y);
}

static double error_at(const struct tailvolt_compared_log *log, int c, long r) {
  return log->simulated[r * log->column_count + c] - log->measured[r * log->column_count + c];
}

/* Grows a stretch from its worst row as long as the error keeps its sign and half its size; marks its rows as
 * taken. */
static struct tailvolt_disagreement stretch(const struct tailvolt_compared_log *log, int c, long worst, bool *taken) {
  double half = 0.5 * error_at(log, c, worst);
  struct tailvolt_disagreement d = {.column = c, .time_s = log->time_s[worst], .from_s = log->time_s[worst], .to_s = log->time_s[worst],
                                    .measured = log->measured[worst * log->column_count + c],
                                    .simulated = log->simulated[worst * log->column_count + c]};
  taken[worst] = true;
  for (int side = -1; side <= 1; side += 2)
    for (long r = worst + side; r >= 0 && r < log->row_count; r += side) {
      double e = error_at(log, c, r);
      if (isnan(e)) continue; /* a gap */
      if (taken[r] || !(e * half > half * half)) break;
      taken[r] = true;
      if (side < 0) d.from_s = log->time_s[r];
      if (side > 0) d.to_s = log->time_s[r];
    }
  return d;
}

/* The worst stretches of one column, at most DISAGREEMENTS_MAX. */
static bool rank_column(const struct tailvolt_compared_log *log, int l, int c, struct ranked *list, int *count) {
  bool *taken = calloc((size_t)log->row_count + 1, sizeof *taken);
  if (taken == NULL) return false;
  for (int n = 0; n < DISAGREEMENTS_MAX; n++) {
    long worst = -1;
    for (long r = 0; r < log->row_count; r++)
      if (!taken[r] && !isnan(error_at(log, c, r)) &&
          (worst < 0 || fabs(error_at(log, c, r)) > fabs(error_at(log, c, worst))))
        worst = r;
    /* what is no worse than usual is not a disagreement */
    if (worst < 0 || !(fabs(error_at(log, c, worst)) > log->columns[c].rms)) break;
    struct ranked *one = &list[(*count)++];
    one->size = fabs(error_at(log, c, worst)) / log->columns[c].rms;
    one->what = stretch(log, c, worst, taken);
    one->what.log = l;
  }
  free(taken);
  return true;
}

static enum tailvolt_status find_disagreements(struct tailvolt_comparison *comparison) {
  int columns = 0, count = 0;
  for (int l = 0; l < comparison->log_count; l++) columns += comparison->logs[l].column_count;
  struct ranked *list = calloc((size_t)columns * DISAGREEMENTS_MAX + 1, sizeof *list);
  comparison->disagreements = calloc(DISAGREEMENTS_MAX, sizeof *comparison->disagreements);
  bool done = list != NULL && comparison->disagreements != NULL;
  for (int l = 0; l < comparison->log_count && done; l++)
    for (int c = 0; c < comparison->logs[l].column_count && done; c++)
      done = rank_column(&comparison->logs[l], l, c, list, &count);
  if (done) {
    qsort(list, (size_t)count, sizeof *list, by_size);
    comparison->disagreement_count = count < DISAGREEMENTS_MAX ? count : DISAGREEMENTS_MAX;
    for (int k = 0; k < comparison->disagreement_count; k++) comparison->disagreements[k] = list[k].what;
  }
  free(list);
  return done ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}

/* ---- the comparison ---- */

static enum tailvolt_status begin_log(const struct tailvolt_log *log, const struct tailvolt_compare_options *options,
                                      struct tailvolt_compared_log *out) {
  size_t rows = (size_t)log->row_count, cells = rows * (size_t)log->column_count;
  tv_copy_text(out->name, sizeof out->name, log->name);
  out->column_count = log->column_count;
  out->row_count = log->row_count;
  out->columns = calloc((size_t)log->column_count + 1, sizeof *out->columns);
  out->time_s = calloc(rows + 1, sizeof *out->time_s);
  out->measured = calloc(cells + 1, sizeof *out->measured);
  out->simulated = calloc(cells + 1, sizeof *out->simulated);
  if (out->columns == NULL || out->time_s == NULL || out->measured == NULL || out->simulated == NULL) return TAILVOLT_NO_MEMORY;
  memcpy(out->time_s, log->time_s, rows * sizeof *out->time_s);
  memcpy(out->measured, log->value, cells * sizeof *out->measured);
  for (int k = 0; k < log->column_count; k++) {
    tv_copy_text(out->columns[k].name, sizeof out->columns[k].name, log->columns[k].name);
    out->columns[k].current = log->columns[k].current;
  }
  for (size_t r = 0; r < rows; r++)
    for (int k = 0; k < log->column_count && !tv_compare_counts(options, log->time_s[r]); k++)
      out->measured[r * (size_t)log->column_count + (size_t)k] = (double)NAN;
  return TAILVOLT_OK;
}

enum tailvolt_status tv_comparison_begin(const struct tailvolt_log *const *logs, int log_count,
                                         const struct tailvolt_compare_options *options, struct tailvolt_comparison **out) {
  struct tailvolt_comparison *comparison = calloc(1, sizeof *comparison);
  *out = comparison;
  if (comparison == NULL) return TAILVOLT_NO_MEMORY;
  comparison->log_count = log_count;
  comparison->logs = calloc((size_t)log_count + 1, sizeof *comparison->logs);
  enum tailvolt_status status = comparison->logs != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  for (int k = 0; k < log_count && status == TAILVOLT_OK; k++) {
    status = begin_log(logs[k], options, &comparison->logs[k]);
    comparison->music = comparison->music || tv_compare_plays(logs[k], options);
  }
  if (status == TAILVOLT_OK) return status;
  tailvolt_comparison_free(comparison);
  *out = NULL;
  return status;
}

enum tailvolt_status tv_comparison_end(struct tailvolt_comparison *comparison, char *error) {
  long count = 0;
  for (int l = 0; l < comparison->log_count; l++)
    for (int c = 0; c < comparison->logs[l].column_count; c++) {
      sum_column(&comparison->logs[l], c, &comparison->logs[l].columns[c]);
      count += comparison->logs[l].columns[c].count;
    }
  if (count > 0) return find_disagreements(comparison);
  snprintf(error, TAILVOLT_TEXT_MAX, "no reading lies in the time that is simulated and asked for");
  return TAILVOLT_BAD_INPUT;
}

/* Whether a row has the engine running and leaves open where the computer's set point was. */
static enum tailvolt_status find_open_set_point(const struct tailvolt_system *system, const struct tailvolt_profile *profile, bool *found) {
  const struct tailvolt_alternator *machine = &system->alternator;
  struct tailvolt_profile_cursor *cursor = NULL;
  const struct tailvolt_row *row = NULL;
  if (system->vehicle.charging != TAILVOLT_CHARGING_COMPUTER || !(machine->set_point_low_v < machine->set_point_high_v))
    return TAILVOLT_OK;
  enum tailvolt_status status = tailvolt_profile_open(profile, &cursor);
  while (status == TAILVOLT_OK && !*found) {
    status = tailvolt_profile_next(cursor, &row);
    if (status != TAILVOLT_OK || row == NULL) break;
    *found = row->engine_rpm > 0.5 * system->engine.idle_rpm && isnan(row->set_point_v);
  }
  tailvolt_profile_close(cursor);
  return status;
}

enum tailvolt_status tailvolt_compare(const struct tailvolt_system *system, const struct tailvolt_log *const *logs, int log_count,
                                      const struct tailvolt_compare_options *options, struct tailvolt_comparison **out,
                                      char *error) {
  char unheard[TAILVOLT_TEXT_MAX];
  struct tv_log_job *jobs = calloc(TAILVOLT_LOGS_MAX, sizeof *jobs);
  struct tailvolt_options run[TAILVOLT_LOGS_MAX];
  struct tailvolt_system *metered = NULL;
  struct tailvolt_comparison *comparison = NULL;
  if (error == NULL) error = unheard;
  error[0] = '\0';
  *out = NULL;
  enum tailvolt_status status = jobs != NULL ? tv_compare_check(logs, log_count, options, error) : TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK) status = tv_log_system(system, logs, log_count, &metered, error);
  if (status == TAILVOLT_OK) status = tv_comparison_begin(logs, log_count, options, &comparison);
  for (int k = 0; k < log_count && status == TAILVOLT_OK; k++) {
    run[k] = tv_compare_run_options(logs[k], options);
    jobs[k] = (struct tv_log_job){.system = metered, .log = logs[k], .options = &run[k],
                                  .profile = options->profile != NULL ? options->profile : logs[k]->profile,
                                  .to_s = isnan(options->to_s) ? HUGE_VAL : options->to_s,
                                  .simulated = comparison->logs[k].simulated};
    status = find_open_set_point(system, jobs[k].profile, &comparison->set_point_open);
  }
  if (status == TAILVOLT_OK)
    status = tv_log_simulate(jobs, log_count, options->threads, options->run.progress, options->run.progress_context);
  for (int k = 0; k < log_count && status == TAILVOLT_OK; k++) {
    status = jobs[k].status;
    if (status != TAILVOLT_OK) snprintf(error, TAILVOLT_TEXT_MAX, "%.100s: %.150s", logs[k]->name, jobs[k].error);
  }
  if (status == TAILVOLT_OK) status = tv_comparison_end(comparison, error);
  tailvolt_system_free(metered);
  free(jobs);
  if (status == TAILVOLT_OK) {
    *out = comparison;
    return status;
  }
  if (error[0] == '\0') snprintf(error, TAILVOLT_TEXT_MAX, "%s", tailvolt_status_text(status));
  tailvolt_comparison_free(comparison);
  return status;
}

void tailvolt_comparison_free(struct tailvolt_comparison *comparison) {
  if (comparison == NULL) return;
  for (int k = 0; comparison->logs != NULL && k < comparison->log_count; k++) {
    free(comparison->logs[k].columns);
    free(comparison->logs[k].time_s);
    free(comparison->logs[k].measured);
    free(comparison->logs[k].simulated);
  }
  free(comparison->logs);
  free(comparison->disagreements);
  free(comparison);
}
