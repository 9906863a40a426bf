/* The record: minimum, mean or maximum of chosen quantities over each record interval, as each column's name ends. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/run.h"

enum how { MINIMUM, MEAN, MAXIMUM };

static const char *const endings[] = {"min", "mean", "max"};

/* Columns in order; one walker names, starts and feeds them, so the three cannot disagree. */
struct walk {
  struct tv_run *run;
  enum { NAMING, ADDING } what;
  int column;
  double step_s;
};

static void column(struct walk *w, const char *part, const char *quantity, enum how how, double value) {
  struct tv_recorder *r = &w->run->statistics->recorder;
  int k = w->column++;
  if (w->what == NAMING) {
    if (r->is_mean != NULL) r->is_mean[k] = how == MEAN;
    if (r->name != NULL) snprintf(r->name[k], sizeof r->name[k], "%s:%s_%s", part, quantity, endings[how]);
    return;
  }
  bool first = r->dt_s == 0;
  if (how == MINIMUM)
    r->cell[k] = first ? value : fmin(r->cell[k], value);
  else if (how == MAXIMUM)
    r->cell[k] = first ? value : fmax(r->cell[k], value);
  else
    r->cell[k] = (first ? 0 : r->cell[k]) + value * w->step_s;
}

static void walk_amplifiers(struct walk *w) {
  const struct tv_run *run = w->run;
  for (int k = 0; k < run->system->amplifier_count; k++) {
    const char *name = run->system->amplifiers[k].name;
    const struct tv_hot_amplifier *hot = &TV_HOT(run->hot, amplifier)[k];
    double v = tv_run_amplifier_v(run, k), a = tv_hot_y(run->hot)[run->layout->terminal_a + k], output_w = 0;
    const struct tv_hot_amplifier_note *note = &TV_HOT(run->hot, amplifier_note)[k];
    if (!(hot->out > 0) && note->wanted_w > 0)
      output_w = tv_clipped_w(note->drive_w, tv_amplifier_clip_w(&run->amplifier[k], v));
    column(w, name, "v", MINIMUM, v);
    column(w, name, "v", MEAN, v);
    column(w, name, "v", MAXIMUM, v);
    column(w, name, "a", MEAN, a);
    column(w, name, "a", MAXIMUM, a);
    column(w, name, "output_w", MEAN, output_w);
    column(w, name, "target_v", MAXIMUM, run->drive[k].target_v);
  }
}

static void walk_all(struct walk *w) {
  struct tv_run *run = w->run;
  const struct tailvolt_system *sys = run->system;
  const double *value = tv_hot_y(run->hot);
  w->column = 0;
  double rpm = tv_run_rpm(run, run->now_s);
  column(w, "engine", "rpm", MEAN, rpm);
  walk_amplifiers(w);
  if (run->alternator_port >= 0) {
    column(w, "alternator", "v", MEAN, value[0]);
    column(w, "alternator", "a", MEAN, value[run->layout->source_a]);
    column(w, "alternator", "a", MAXIMUM, value[run->layout->source_a]);
  }
  for (int k = 0; k < sys->battery_count; k++) {
    const char *name = sys->batteries[k].name;
    const struct tv_hot_battery *battery = &TV_HOT(run->hot, battery)[k];
    column(w, name, "v", MINIMUM, tv_run_battery_v(run, k));
    column(w, name, "v", MEAN, tv_run_battery_v(run, k));
    column(w, name, "a", MEAN, tv_run_battery_a(run, k));
    column(w, name, "a", MAXIMUM, tv_run_battery_a(run, k));
    column(w, name, "soc_pct", MEAN, 100 * battery->charge_c / battery->usable_c);
  }
  for (int k = 0; k < sys->capacitor_count; k++) {
    column(w, sys->capacitors[k].name, "v", MINIMUM, value[run->layout->capacitor_row + k]);
    column(w, sys->capacitors[k].name, "a", MEAN, value[run->layout->capacitor_a + k]);
  }
  for (int k = 0; k < sys->meter_count; k++) {
    double v = value[run->layout->meter_value[k]];
    column(w, sys->meters[k].name, "v", MINIMUM, v);
    column(w, sys->meters[k].name, "v", MEAN, v);
    column(w, sys->meters[k].name, "v", MAXIMUM, v);
  }
}

enum tailvolt_status tv_recorder_open(struct tv_run *run) {
  struct tv_recorder *r = &run->statistics->recorder;
  r->sink = run->options.record;
  if (r->sink == NULL) return TAILVOLT_OK;
  struct walk w = {run, NAMING, 0, 0};
  walk_all(&w);
  r->column_count = w.column;
  r->every_s = run->options.record_every_s > 0 ? run->options.record_every_s : 0.01;
  r->name = calloc((size_t)w.column, sizeof *r->name);
  r->is_mean = calloc((size_t)w.column, sizeof *r->is_mean);
  r->cell = calloc((size_t)w.column + 1, sizeof(double));
  if (r->name == NULL || r->is_mean == NULL || r->cell == NULL) return TAILVOLT_NO_MEMORY;
  walk_all(&w);
  const char **names = calloc((size_t)w.column + 1, sizeof *names);
  if (names == NULL) return TAILVOLT_NO_MEMORY;
  names[0] = "time_s";
  for (int k = 0; k < w.column; k++) names[k + 1] = r->name[k];
  int failed = r->sink->columns(r->sink->context, names, w.column + 1);
  free(names);
  r->index = 0;
  r->dt_s = 0;
  r->start_s = run->now_s;
  return failed ? TAILVOLT_NOT_WRITTEN : TAILVOLT_OK;
}

/* cell[0..columns) accumulates; it is shifted by one to make room for the time when delivered */
static enum tailvolt_status flush(struct tv_run *run) {
  struct tv_recorder *r = &run->statistics->recorder;
  if (!(r->dt_s > 0)) return TAILVOLT_OK;
  for (int k = 0; k < r->column_count; k++)
    if (r->is_mean[k]) r->cell[k] /= r->dt_s;
  memmove(r->cell + 1, r->cell, (size_t)r->column_count * sizeof(double));
  r->cell[0] = r->start_s + (double)r->index * r->every_s;
  r->dt_s = 0;
  return r->sink->row(r->sink->context, r->cell, r->column_count + 1) ? TAILVOLT_NOT_WRITTEN : TAILVOLT_OK;
}

enum tailvolt_status tv_recorder_take(struct tv_run *run, double start_s, double step_s) {
  struct tv_recorder *r = &run->statistics->recorder;
  long long index = (long long)floor((start_s - r->start_s) / r->every_s + 1e-6);
  if (index != r->index) {
    enum tailvolt_status status = flush(run);
    if (status != TAILVOLT_OK) return status;
    r->index = index;
  }
  struct walk w = {run, ADDING, 0, step_s};
  walk_all(&w);
  r->dt_s += step_s;
  return TAILVOLT_OK;
}

enum tailvolt_status tv_recorder_close(struct tv_run *run) {
  return run->statistics->recorder.sink != NULL ? flush(run) : TAILVOLT_OK;
}
