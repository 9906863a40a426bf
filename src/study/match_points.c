#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "study/match_fit.h"
#include "text/text.h"

struct tv_fit_point tv_fit_here(const struct tv_fit *fit) {
  struct tv_fit_point point = {{0}};
  for (int k = 0; k < fit->key_count; k++) point.value[k] = fit->key[k].value;
  return point;
}

enum tailvolt_status tv_fit_system(const struct tv_fit *fit, const struct tailvolt_system *base, const struct tv_fit_point *point,
                                   struct tailvolt_system **out, char *error) {
  char text[TAILVOLT_MATCH_KEYS][192], value[64];
  struct tailvolt_setting settings[TAILVOLT_MATCH_KEYS];
  struct tailvolt_faults *faults = malloc(sizeof *faults);
  *out = NULL;
  if (faults == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < fit->key_count; k++) {
    tv_quantity_write(value, sizeof value, point->value[k], fit->key[k].number.measure, true);
    snprintf(text[k], sizeof text[k], "%s = %s", fit->key[k].number.key, value);
    settings[k].text = text[k];
  }
  enum tailvolt_status status = tv_system_variant(base, settings, fit->key_count, out, faults);
  if (status == TAILVOLT_BAD_INPUT)
    snprintf(error, TAILVOLT_TEXT_MAX, "%.90s: %.150s", faults->fault[0].key, faults->fault[0].message);
  free(faults);
  return status;
}

/* One job for each log at each point. */
struct batch {
  int count;
  struct tailvolt_system **system; /* [points] */
  struct tv_log_job *job;          /* [points][logs] */
  double *cells;
};

static void free_batch(struct batch *batch) {
  for (int p = 0; batch->system != NULL && p < batch->count; p++) tailvolt_system_free(batch->system[p]);
  free(batch->system);
  free(batch->job);
  free(batch->cells);
}

static size_t cells_of(const struct tailvolt_log *log) { return (size_t)log->row_count * (size_t)log->column_count; }

static enum tailvolt_status make_batch(struct tv_fit *fit, const struct tv_fit_point *points, int count, struct batch *batch) {
  size_t each = 0;
  for (int l = 0; l < fit->log_count; l++) each += cells_of(fit->logs[l]);
  *batch = (struct batch){count, calloc((size_t)count, sizeof *batch->system),
                          calloc((size_t)count * (size_t)fit->log_count, sizeof *batch->job),
                          calloc((size_t)count * each + 1, sizeof *batch->cells)};
  if (batch->system == NULL || batch->job == NULL || batch->cells == NULL) return TAILVOLT_NO_MEMORY;
  double *cell = batch->cells;
  for (int p = 0; p < count; p++) {
    enum tailvolt_status status = tv_fit_system(fit, fit->system, &points[p], &batch->system[p], fit->error);
    if (status == TAILVOLT_NO_MEMORY) return status;
    for (int l = 0; l < fit->log_count; l++) {
      batch->job[p * fit->log_count + l] = (struct tv_log_job){
          .system = batch->system[p], .log = fit->logs[l], .options = &fit->run[l], .simulated = cell,
          .shared = fit->shared, .like = fit->like,
          .profile = fit->options->profile != NULL ? fit->options->profile : fit->logs[l]->profile,
          .to_s = isnan(fit->options->to_s) ? HUGE_VAL : fit->options->to_s};
      cell += cells_of(fit->logs[l]);
    }
  }
  return TAILVOLT_OK;
}

static void take_point(struct tv_fit *fit, const struct tv_log_job *jobs, bool sound, double *out) {
  for (int l = 0; l < fit->log_count && sound; l++) {
    if (jobs[l].status == TAILVOLT_OK) continue;
    snprintf(fit->error, sizeof fit->error, "%.100s: %.150s", fit->logs[l]->name, jobs[l].error);
    sound = false;
  }
  for (long k = 0; k < fit->count; k++)
    out[k] = sound ? jobs[fit->reading[k].log].simulated[fit->reading[k].cell] : (double)NAN;
}

enum tailvolt_status tv_fit_simulate(struct tv_fit *fit, const struct tv_fit_point *points, int count, double *const *out) {
  struct batch batch;
  enum tailvolt_status status = make_batch(fit, points, count, &batch);
  if (status == TAILVOLT_OK) {
    /* refused systems have no job to run */
    int ready = 0, *place = calloc((size_t)count + 1, sizeof *place);
    struct tv_log_job *run = calloc((size_t)count * (size_t)fit->log_count + 1, sizeof *run);
    if (place == NULL || run == NULL) status = TAILVOLT_NO_MEMORY;
    for (int p = 0; p < count && status == TAILVOLT_OK; p++) {
      place[p] = ready;
      for (int l = 0; l < fit->log_count && batch.system[p] != NULL; l++) run[ready++] = batch.job[p * fit->log_count + l];
    }
    if (status == TAILVOLT_OK)
      status = tv_log_simulate(run, ready, fit->options->threads, fit->options->run.progress, fit->options->run.progress_context);
    fit->runs += ready;
    for (int p = 0; p < count && status == TAILVOLT_OK; p++) take_point(fit, run + place[p], batch.system[p] != NULL, out[p]);
    free(place);
    free(run);
  }
  free_batch(&batch);
  return status;
}

/* ---- readings ---- */

static int group_named(struct tv_fit *fit, const struct tv_log_column *column) {
  for (int g = 0; g < fit->group_count; g++)
    if (tv_log_same_column(fit->group[g].name, column)) return g;
  struct tv_fit_group *group = &fit->group[fit->group_count];
  tv_copy_text(group->name, sizeof group->name, column->name);
  group->current = column->current;
  group->inflation = 1;
  return fit->group_count++;
}

static enum tailvolt_status list_readings(struct tv_fit *fit) {
  size_t cells = 0, columns = 0;
  for (int l = 0; l < fit->log_count; l++) {
    cells += cells_of(fit->logs[l]);
    columns += (size_t)fit->logs[l]->column_count;
  }
  fit->reading = calloc(cells + 1, sizeof *fit->reading);
  fit->simulated = calloc(cells + 1, sizeof *fit->simulated);
  fit->group = calloc(columns + 1, sizeof *fit->group);
  if (fit->reading == NULL || fit->simulated == NULL || fit->group == NULL) return TAILVOLT_NO_MEMORY;
  for (int l = 0; l < fit->log_count; l++)
    for (int c = 0; c < fit->logs[l]->column_count; c++) {
      int group = group_named(fit, &fit->logs[l]->columns[c]);
      for (long r = 0; r < fit->logs[l]->row_count; r++) {
        long cell = r * fit->logs[l]->column_count + c;
        double measured = fit->logs[l]->value[cell];
        if (isnan(measured) || !tv_compare_counts(fit->options, fit->logs[l]->time_s[r])) continue;
        fit->reading[fit->count++] = (struct tv_fit_reading){l, group, cell, measured, false};
      }
    }
  return TAILVOLT_OK;
}

enum tailvolt_status tv_fit_begin(struct tv_fit *fit) {
  struct tv_fit_point here = tv_fit_here(fit);
  enum tailvolt_status status = list_readings(fit);
  if (status == TAILVOLT_OK) status = tv_fit_simulate(fit, &here, 1, &fit->simulated);
  if (status != TAILVOLT_OK) return status;
  long kept = 0;
  for (long k = 0; k < fit->count; k++) {
    if (isnan(fit->simulated[k])) continue;
    fit->simulated[kept] = fit->simulated[k];
    fit->reading[kept++] = fit->reading[k];
  }
  fit->count = kept;
  if (kept == 0 && fit->error[0] != '\0') return TAILVOLT_BAD_INPUT;
  if (kept > 2 * fit->key_count) return TAILVOLT_OK;
  snprintf(fit->error, sizeof fit->error, "no reading lies in the time that is simulated and asked for");
  if (kept > 0)
    snprintf(fit->error, sizeof fit->error, "only %ld readings lie in the time that is simulated and asked for: too few for %d keys", kept,
             fit->key_count);
  return TAILVOLT_BAD_INPUT;
}

/* ---- derivatives ---- */

/* A trace of 30 mV or 0.3 A is well above the scatter of the simulator's own steps (0.2 mV), and small enough to be linear. */
#define WANTED_V 0.03
#define WANTED_A 0.3

static void fit_step(const struct tv_fit *fit, struct tv_fit_key *key, const double *slope, int k) {
  double most = 0;
  for (long r = 0; r < fit->count; r++) {
    double wanted = fit->group[fit->reading[r].group].current ? WANTED_A : WANTED_V;
    most = fmax(most, fabs(slope[r * fit->key_count + k]) * key->step / wanted);
  }
  /* in reaches */
  if (most > 0) key->step = fmin(fmax(key->step / most, 1e-4), 0.2);
  else key->step = 0.2;
}

/* The value moved as far as its range allows. */
static double moved(const struct tv_fit_key *key, double step) {
  return fmin(fmax(key->value + step * key->reach, key->number.low), key->number.high);
}

static enum tailvolt_status slopes_once(struct tv_fit *fit, unsigned which, const double *here, double widen, double *slope) {
  struct tv_fit_point point[2 * TAILVOLT_MATCH_KEYS] = {{{0}}};
  double *out[2 * TAILVOLT_MATCH_KEYS] = {NULL};
  int of[2 * TAILVOLT_MATCH_KEYS], count = 0;
  enum tailvolt_status status = TAILVOLT_OK;
  for (int k = 0; k < fit->key_count; k++)
    for (int side = 0; side < (here != NULL ? 1 : 2); side++) {
      if ((which >> k & 1) == 0) continue;
      const struct tv_fit_key *key = &fit->key[k];
      point[count] = tv_fit_here(fit);
      double up = moved(key, widen * key->step), down = moved(key, -widen * key->step);
      /* to the side with more room */
      point[count].value[k] = here != NULL ? (up - key->value >= key->value - down ? up : down) : side == 0 ? up : down;
      of[count] = k;
      out[count] = malloc(((size_t)fit->count + 1) * sizeof *out[0]);
      if (out[count++] == NULL) status = TAILVOLT_NO_MEMORY;
    }
  if (status == TAILVOLT_OK) status = tv_fit_simulate(fit, point, count, out);
  memset(slope, 0, (size_t)fit->count * (size_t)fit->key_count * sizeof *slope);
  for (int p = 0; p < count && status == TAILVOLT_OK; p += here != NULL ? 1 : 2) {
    int k = of[p];
    const double *to = out[p], *from = here != NULL ? here : out[p + 1];
    double from_value = here != NULL ? fit->key[k].value : point[p + 1].value[k];
    double span = (point[p].value[k] - from_value) / fit->key[k].reach;
    for (long r = 0; r < fit->count; r++) {
      double d = (to[r] - from[r]) / span;
      slope[r * fit->key_count + k] = isfinite(d) ? d : 0;
    }
  }
  for (int p = 0; p < count; p++) free(out[p]);
  return status;
}

enum tailvolt_status tv_fit_slopes(struct tv_fit *fit, unsigned which, const double *here, double widen, double *slope) {
  double before[TAILVOLT_MATCH_KEYS];
  enum tailvolt_status status = slopes_once(fit, which, here, widen, slope);
  for (int round = 0; round < 3 && status == TAILVOLT_OK && widen <= 1; round++) {
    unsigned again = 0;
    for (int k = 0; k < fit->key_count; k++) {
      before[k] = fit->key[k].step;
      if ((which >> k & 1) == 0) continue;
      fit_step(fit, &fit->key[k], slope, k);
      /* a step that was far off gave no usable derivative */
      if (fit->key[k].step > 4 * before[k] || fit->key[k].step < 0.25 * before[k]) again |= 1u << k;
    }
    if (again == 0) return TAILVOLT_OK;
    double *anew = malloc(((size_t)fit->count * (size_t)fit->key_count + 1) * sizeof *anew);
    if (anew == NULL) return TAILVOLT_NO_MEMORY;
    status = slopes_once(fit, again, here, 1, anew);
    for (int k = 0; k < fit->key_count && status == TAILVOLT_OK; k++)
      for (long r = 0; r < fit->count && (again >> k & 1) != 0; r++) slope[r * fit->key_count + k] = anew[r * fit->key_count + k];
    free(anew);
  }
  return status;
}
