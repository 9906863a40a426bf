/* One vehicle: its runs, and the windows that the fine run plays. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "study/parked.h"

#define LEAD_S 2.0 /* the fast polarization (under a second) and a cut-out's return settle in this time */
#define LONGEST_WINDOW_S 120.0
#define SCAN_SLICE_S 0.5
#define SCAN_FINE_S 0.005

/* ---- making ---- */

static bool used_by_rows(const struct tv_vehicle *v, int programme) {
  for (int r = 0; r < v->rows.count; r++)
    for (int k = 0; k < v->system->amplifier_count; k++)
      if (!v->rows.prescribed[k] && v->rows.row[r].amplifier[k].powered &&
          isnan(v->rows.row[r].amplifier[k].output_w) && v->rows.row[r].amplifier[k].programme == programme)
        return true;
  return false;
}

/* The shortest time after which everything that plays comes again. */
static void find_window(struct tv_vehicle *v) {
  double window_s = 0;
  int longest = 0;
  for (int k = 0; k < v->system->programme_count; k++) {
    double cycle_s = used_by_rows(v, k) ? tv_programme_cycle_s(v->fine->programme[k]) : 0;
    if (cycle_s > window_s) window_s = cycle_s, longest = k;
  }
  v->window_s = window_s > 0 ? window_s : 1.0;
  v->lead_s = LEAD_S;
  for (int n = 1; window_s > 0 && n * window_s <= LONGEST_WINDOW_S; n++) {
    bool fits = true;
    for (int k = 0; k < v->system->programme_count && fits; k++) {
      double cycle_s = used_by_rows(v, k) ? tv_programme_cycle_s(v->fine->programme[k]) : 0;
      if (!(cycle_s > 0)) continue;
      double count = n * window_s / cycle_s;
      fits = fabs(count - round(count)) < 1e-6;
    }
    if (!fits) continue;
    v->window_s = n * window_s;
    return;
  }
  if (!(window_s > 0)) return;
  if (v->quick && window_s > LONGEST_WINDOW_S) {
    tv_vehicle_sample(v, longest);
    return;
  }
  snprintf(v->why_full, sizeof v->why_full, "what plays comes again only after more than %.0f s",
           LONGEST_WINDOW_S);
}

static void find_short_rows(struct tv_vehicle *v) {
  double least_s = 3 * (v->window_s + v->lead_s);
  for (int r = 0; r + 1 < v->rows.count && v->why_full[0] == '\0'; r++)
    if (tv_parked_row_end_s(&v->rows, r) - v->rows.row[r].time_s < least_s)
      snprintf(v->why_full, sizeof v->why_full, "the profile has stretches shorter than %.0f s", least_s);
}

static struct tailvolt_options fine_options(const struct tailvolt_parked_options *options) {
  struct tailvolt_options run = options->run;
  run.record = NULL;
  run.progress = NULL;
  return run;
}

static enum tailvolt_status make_slow(struct tv_vehicle *v) {
  size_t amplifiers = (size_t)v->system->amplifier_count;
  struct tailvolt_amplifier *held = calloc(amplifiers + 1, sizeof *held);
  v->slow_system = *v->system;
  if (held == NULL) return TAILVOLT_NO_MEMORY;
  if (amplifiers > 0) memcpy(held, v->system->amplifiers, amplifiers * sizeof *held);
  for (size_t k = 0; k < amplifiers; k++) held[k].cut_out_v = 0;
  v->slow_system.amplifiers = held;
  v->slow_system.programme_count = 0; /* nothing of it is played here */
  struct tailvolt_options options = fine_options(v->options);
  options.time_step_s = 0.1;
  return tv_run_create(&v->slow_system, v->always, &options, &v->slow, v->error);
}

static enum tailvolt_status make_runs(struct tv_vehicle *v) {
  struct tailvolt_options options = fine_options(v->options);
  enum tailvolt_status status = tv_run_create(v->system, v->rows.prescribed, &options, &v->fine, v->error);
  if (status != TAILVOLT_OK) return status;
  if ((status = make_slow(v)) != TAILVOLT_OK) return status;
  if ((status = tv_starter_make(v->system, &options, &v->starter, v->error)) != TAILVOLT_OK) return status;
  size_t slow = tv_run_state_size(v->slow), fine = tv_run_state_size(v->fine);
  for (int k = 0; k < TV_SNAPSHOTS; k++)
    if ((v->kept[k] = malloc(slow > fine ? slow : fine)) == NULL) return TAILVOLT_NO_MEMORY;
  return TAILVOLT_OK;
}

enum tailvolt_status tv_vehicle_make(const struct tailvolt_system *system,
                                     const struct tailvolt_profile *profile,
                                     const struct tailvolt_parked_options *options, bool quick,
                                     struct tv_vehicle *v) {
  memset(v, 0, sizeof *v);
  v->quick = quick;
  v->system = system;
  v->options = options;
  if (system->battery_count == 0) {
    snprintf(v->error, sizeof v->error, "there is no battery: nothing can play with the engine off");
    return TAILVOLT_BAD_INPUT;
  }
  enum tailvolt_status status = tv_parked_rows_make(system, profile, options, &v->rows, v->error);
  if (status != TAILVOLT_OK) return status;
  size_t amplifiers = (size_t)system->amplifier_count;
  v->always = calloc(amplifiers + 1, sizeof *v->always);
  v->mean = calloc(amplifiers + 1, sizeof *v->mean);
  v->old_c = calloc((size_t)system->conductor_count + 1, sizeof *v->old_c);
  if (!v->always || !v->mean || !v->old_c) return TAILVOLT_NO_MEMORY;
  for (size_t k = 0; k < amplifiers; k++) v->always[k] = true;
  v->begin_s = v->rows.row[0].time_s;
  v->end_s = v->begin_s + options->limit_s;
  if ((status = make_runs(v)) != TAILVOLT_OK) return status;
  find_window(v);
  find_short_rows(v);
  return TAILVOLT_OK;
}

void tv_vehicle_free(struct tv_vehicle *v) {
  tv_run_free(v->fine);
  tv_run_free(v->slow);
  tv_starter_free(&v->starter);
  if (v->slow_system.amplifiers != v->system->amplifiers) free(v->slow_system.amplifiers);
  for (int k = 0; k < v->room; k++) tv_checkpoint_free(&v->checkpoint[k]);
  free(v->checkpoint);
  for (int k = 0; k < TV_SNAPSHOTS; k++) free(v->kept[k]);
  free(v->always);
  free(v->mean);
  free(v->old_c);
  free(v->moment);
  tv_parked_rows_free(&v->rows);
}

enum tailvolt_status tv_checkpoint_make(const struct tailvolt_system *system, struct tv_checkpoint *c) {
  memset(c, 0, sizeof *c);
  size_t amplifiers = (size_t)system->amplifier_count, conductors = (size_t)system->conductor_count;
  c->mean_a = calloc(amplifiers + conductors + (size_t)system->battery_count + 1, sizeof(double));
  if (c->mean_a == NULL) return TAILVOLT_NO_MEMORY;
  c->square_a2 = c->mean_a + amplifiers;
  c->battery_a = c->square_a2 + conductors;
  return TAILVOLT_OK;
}

void tv_checkpoint_free(struct tv_checkpoint *c) {
  free(c->mean_a);
  memset(c, 0, sizeof *c);
}

/* ---- windows ---- */

double tv_vehicle_window_s(const struct tv_vehicle *v, int row, double time_s) {
  double from_s = v->rows.row[row].time_s, until_s = tv_parked_row_end_s(&v->rows, row);
  /* nothing has to settle at the very beginning: it is what it is */
  double ready_s = time_s <= v->begin_s ? time_s : time_s + v->lead_s;
  double start_s = ceil(ready_s / v->window_s - 1e-9) * v->window_s;
  if (start_s < from_s) start_s += v->window_s;
  if (start_s + v->window_s > until_s) start_s = until_s - v->window_s;
  return fmax(start_s, from_s);
}

enum tailvolt_status tv_vehicle_take_over(struct tv_vehicle *v, int row) {
  struct tv_run *fine = v->fine;
  if (fine->steps == 0 || v->slow_s <= v->begin_s) {
    enum tailvolt_status status = tv_run_start(fine, &v->rows.row[row]);
    if (status != TAILVOLT_OK || v->slow_s <= v->begin_s) return status;
  }
  tv_parked_hand_over(v->slow, fine);
  return tv_run_update_wiring(fine, false);
}

static enum tailvolt_status play(struct tv_vehicle *v, int row, double from_s, double to_s) {
  if (!(to_s > from_s)) return TAILVOLT_OK;
  long long before = v->fine->steps;
  enum tailvolt_status status =
      tv_run_advance(v->fine, &v->rows.row[row], tv_parked_row_next(&v->rows, row), from_s, to_s);
  v->steps += v->fine->steps - before;
  return status;
}

static int cut_outs(const struct tv_run *run) {
  int count = 0;
  for (int k = 0; k < run->system->amplifier_count; k++) count += run->statistics->amplifier[k].cut_outs;
  return count;
}

void tv_checkpoint_measure(const struct tv_vehicle *v, double length_s, struct tv_checkpoint *c) {
  const struct tv_statistics *st = v->fine->statistics;
  const struct tailvolt_system *sys = v->system;
  c->total_a = c->power_w = 0;
  c->trips = c->collapses = c->settled = false;
  c->margin_v = c->min_v = HUGE_VAL;
  for (int k = 0; k < sys->amplifier_count; k++) {
    const struct tv_amplifier_total *t = &st->amplifier[k];
    c->mean_a[k] = tv_sum_value(&t->a) / length_s;
    if (!v->fine->drive[k].playing) continue;
    c->min_v = fmin(c->min_v, t->min_v);
    if (sys->amplifiers[k].cut_out_v > 0)
      c->margin_v = fmin(c->margin_v, t->min_smooth_v - sys->amplifiers[k].cut_out_v);
  }
  for (int k = 0; k < sys->conductor_count; k++)
    c->square_a2[k] = tv_sum_value(&st->conductor[k].square_as) / length_s;
  for (int k = 0; k < sys->battery_count; k++) {
    const struct tv_battery_total *t = &st->battery[k];
    c->battery_a[k] = (tv_sum_value(&t->out_as) - tv_sum_value(&t->in_as)) / length_s;
    c->total_a += c->battery_a[k];
    c->power_w += (tv_sum_value(&t->discharged_j) - tv_sum_value(&t->charged_j)) / length_s;
  }
  for (int k = 0; k < sys->amplifier_count; k++) {
    c->trips = c->trips || st->amplifier[k].cut_outs > 0 || tv_sum_value(&st->amplifier[k].off_s) > 0;
    c->collapses = c->collapses || st->amplifier[k].collapses > 0;
  }
}

void tv_parked_comparators(struct tv_run *run, bool on) {
  for (int k = 0; k < run->system->amplifier_count; k++)
    run->amplifier[k].cut_out_v = on ? run->system->amplifiers[k].cut_out_v : 0;
}

static enum tailvolt_status play_window(struct tv_vehicle *v, int row, double start_s,
                                        struct tv_checkpoint *c) {
  enum tailvolt_status status = tv_vehicle_take_over(v, row);
  if (status != TAILVOLT_OK) return status;
  if ((status = play(v, row, v->slow_s, start_s)) != TAILVOLT_OK) return status;
  if ((status = tv_statistics_fold(v->fine)) != TAILVOLT_OK) return status;
  tv_statistics_clear(v->fine->statistics);
  if ((status = play(v, row, start_s, start_s + v->window_s)) != TAILVOLT_OK) return status;
  if ((status = tv_statistics_fold(v->fine)) != TAILVOLT_OK) return status;
  tv_checkpoint_measure(v, v->window_s, c);
  v->checkpoints++;
  return status;
}

enum tailvolt_status tv_vehicle_probe(struct tv_vehicle *v, int row, double start_s,
                                      struct tv_checkpoint *c) {
  if (v->sampled) return tv_vehicle_probe_sampled(v, row, start_s, c);
  enum tailvolt_status status = play_window(v, row, start_s, c);
  if (status == TAILVOLT_OK && c->trips) {
    /* where it cuts out the means are those of playing on: the other times are on their own terms */
    bool collapses = c->collapses;
    tv_parked_comparators(v->fine, false);
    status = play_window(v, row, start_s, c);
    tv_parked_comparators(v->fine, true);
    c->trips = true;
    c->collapses = c->collapses || collapses;
  }
  c->time_s = start_s + 0.5 * v->window_s;
  c->row = row;
  v->step_s = v->fine->largest_step_s;
  return status;
}

/* ---- the moment of a cut-out ---- */

static int who_is_out(const struct tv_run *run) {
  for (int k = 0; k < run->system->amplifier_count; k++)
    if (run->state.amplifier[k].out) return k;
  return 0;
}

enum tailvolt_status tv_vehicle_scan(struct tv_vehicle *v, double to_s, double *trip_s, int *amplifier) {
  *trip_s = (double)NAN;
  double at_s = v->slow_s, valid_s = at_s <= v->begin_s ? at_s : at_s + v->lead_s;
  enum tailvolt_status status = tv_vehicle_take_over(v, tv_parked_row_at(&v->rows, at_s));
  while (status == TAILVOLT_OK && at_s < to_s) {
    int row = tv_parked_row_at(&v->rows, at_s);
    double next_s = (floor(at_s / SCAN_SLICE_S + 1e-9) + 1) * SCAN_SLICE_S;
    next_s = fmin(fmin(next_s, tv_parked_row_end_s(&v->rows, row)), to_s);
    int before = cut_outs(v->fine);
    tv_run_save(v->fine, v->kept[TV_AT_TRIP]);
    if ((status = play(v, row, at_s, next_s)) != TAILVOLT_OK) break;
    if (cut_outs(v->fine) == before || next_s <= valid_s) {
      at_s = next_s;
      continue;
    }
    tv_run_restore(v->fine, v->kept[TV_AT_TRIP]);
    before = cut_outs(v->fine);
    for (double t_s = at_s; t_s < next_s && status == TAILVOLT_OK; t_s += SCAN_FINE_S) {
      status = play(v, row, t_s, fmin(t_s + SCAN_FINE_S, next_s));
      if (cut_outs(v->fine) == before) continue;
      *trip_s = t_s + SCAN_FINE_S;
      *amplifier = who_is_out(v->fine);
      return status;
    }
    at_s = next_s;
  }
  return status;
}
