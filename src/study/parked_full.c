/* One vehicle by the full way: every step of the evening, a start tried every few minutes. */
#include <math.h>
#include <string.h>

#include "study/parked.h"

#define SLICE_S 10.0
#define TRY_SOON_S 60.0   /* between two tries of a start that has little left ... */
#define TRY_LATER_S 300.0 /* ... and one that has half a volt to spare */
#define SPARE_V 0.5
#define FINE_S 0.005
#define TRIP_SLICE_S 0.5
#define EMPTY_FRAC (-0.03) /* as by checkpoints */

enum { AT_TRY, AT_SLICE, AT_END };

struct full {
  struct tv_vehicle *v;
  double at_s;                 /* where the fine run stands */
  double kept_c[3], kept_j[3]; /* what had been taken at a snapshot */
  bool end_kept;
};

static void keep(struct full *f, int which) {
  struct tv_vehicle *v = f->v;
  tv_run_save(v->fine, v->kept[which]);
  v->kept_s[which] = f->at_s;
  f->kept_c[which] = v->taken_c;
  f->kept_j[which] = v->taken_j;
}

static void go_back(struct full *f, int which) {
  struct tv_vehicle *v = f->v;
  tv_run_restore(v->fine, v->kept[which]);
  f->at_s = v->kept_s[which];
  v->taken_c = f->kept_c[which];
  v->taken_j = f->kept_j[which];
}

static void taken(const struct tv_run *run, double *charge_c, double *energy_j) {
  *charge_c = *energy_j = 0;
  for (int k = 0; k < run->system->battery_count; k++) {
    const struct tv_battery_total *t = &run->statistics->battery[k];
    *charge_c += tv_sum_value(&t->out_as) - tv_sum_value(&t->in_as);
    *energy_j += tv_sum_value(&t->discharged_j) - tv_sum_value(&t->charged_j);
  }
}

static int cut_outs(const struct tv_run *run) {
  int count = 0;
  for (int k = 0; k < run->system->amplifier_count; k++) count += run->statistics->amplifier[k].cut_outs;
  return count;
}

static enum tailvolt_status advance(struct full *f, double to_s) {
  struct tv_vehicle *v = f->v;
  enum tailvolt_status status;
  while (f->at_s < to_s) {
    int row = tv_parked_row_at(&v->rows, f->at_s);
    double next_s = fmin(tv_parked_row_end_s(&v->rows, row), to_s);
    double before_c, before_j, after_c, after_j;
    long long steps = v->fine->steps;
    taken(v->fine, &before_c, &before_j);
    status = tv_run_advance(v->fine, &v->rows.row[row], tv_parked_row_next(&v->rows, row), f->at_s, next_s);
    if (status != TAILVOLT_OK || (status = tv_statistics_fold(v->fine)) != TAILVOLT_OK) return status;
    taken(v->fine, &after_c, &after_j);
    v->taken_c += after_c - before_c;
    v->taken_j += after_j - before_j;
    v->steps += v->fine->steps - steps;
    f->at_s = next_s;
  }
  return TAILVOLT_OK;
}

/* The first event: from the last good try before it the end will be played again. */
static void keep_end(struct full *f) {
  struct tv_vehicle *v = f->v;
  if (f->end_kept) return;
  memcpy(v->kept[AT_END], v->kept[AT_TRY], tv_run_state_size(v->fine));
  v->kept_s[AT_END] = v->kept_s[AT_TRY];
  f->kept_c[AT_END] = f->kept_c[AT_TRY];
  f->kept_j[AT_END] = f->kept_j[AT_TRY];
  f->end_kept = true;
}

static enum tailvolt_status find_trip(struct full *f, double slice_end_s) {
  struct tv_vehicle *v = f->v;
  enum tailvolt_status status;
  static const double grains_s[] = {TRIP_SLICE_S, FINE_S};
  go_back(f, AT_SLICE);
  for (int g = 0; g < 2; g++) {
    int before = cut_outs(v->fine);
    while (f->at_s < slice_end_s) {
      keep(f, AT_SLICE);
      if ((status = advance(f, fmin(f->at_s + grains_s[g], slice_end_s))) != TAILVOLT_OK) return status;
      if (cut_outs(v->fine) > before) break;
    }
    v->times.cut_out_s = f->at_s;
    for (int k = 0; k < v->system->amplifier_count; k++)
      if (v->fine->state.amplifier[k].out) v->times.cut_out_amplifier = k;
    go_back(f, AT_SLICE);
  }
  /* the other times are asked for on their own terms: as if it played on */
  tv_parked_comparators(v->fine, false);
  return advance(f, slice_end_s);
}

static enum tailvolt_status slice(struct full *f) {
  struct tv_vehicle *v = f->v;
  int battery, before = cut_outs(v->fine);
  bool by_voltage;
  double from_s = f->at_s, to_s = fmin(from_s + SLICE_S, v->end_s);
  double above = tv_vehicle_above_limit(v, v->fine, &battery, &by_voltage);
  if (isnan(v->times.cut_out_s)) keep(f, AT_SLICE);
  enum tailvolt_status status = advance(f, to_s);
  if (status != TAILVOLT_OK) return status;
  if (isnan(v->times.cut_out_s) && cut_outs(v->fine) > before) {
    if ((status = find_trip(f, to_s)) != TAILVOLT_OK) return status;
    keep_end(f);
  }
  double now = tv_vehicle_above_limit(v, v->fine, &battery, &by_voltage);
  if (isnan(v->times.limit_s) && now <= 0) {
    v->times.limit_s = above > 0 ? from_s + (to_s - from_s) * above / (above - now) : from_s;
    v->times.limit_battery = battery;
    v->times.limit_by_voltage = by_voltage;
    keep_end(f);
  }
  return TAILVOLT_OK;
}

static enum tailvolt_status crank(struct full *f, double *cranking_v) {
  struct tv_vehicle *v = f->v;
  struct tv_start_seen seen;
  int row = tv_parked_row_at(&v->rows, f->at_s);
  enum tailvolt_status status =
      tv_starter_try(&v->starter, v->fine, &v->rows.row[row], f->at_s, v->options, false, &seen);
  *cranking_v = seen.cranking_v;
  return status;
}

static enum tailvolt_status narrow_restart(struct full *f, double low_v, double high_v) {
  struct tv_vehicle *v = f->v;
  double high_s = f->at_s, low_s = v->kept_s[AT_TRY], floor_v = v->options->floor_v;
  keep_end(f);
  keep(f, AT_SLICE);
  while (high_s - low_s > TV_PARKED_GRAIN_S) {
    double cranking_v, middle_s = 0.5 * (low_s + high_s);
    go_back(f, AT_TRY);
    enum tailvolt_status status = advance(f, middle_s);
    if (status != TAILVOLT_OK || (status = crank(f, &cranking_v)) != TAILVOLT_OK) return status;
    if (cranking_v >= floor_v) {
      low_s = middle_s;
      low_v = cranking_v;
    } else {
      high_s = middle_s;
      high_v = cranking_v;
    }
  }
  v->times.restart_s = low_s + (high_s - low_s) * (low_v - floor_v) / fmax(low_v - high_v, 1e-9);
  go_back(f, AT_SLICE);
  return TAILVOLT_OK;
}

static bool all_seen(const struct tv_vehicle *v) {
  bool limit = v->options->soc_limit_frac > 0 || !isnan(v->options->rest_limit_v);
  if (isnan(v->times.restart_s) || (limit && isnan(v->times.limit_s))) return false;
  for (int k = 0; k < v->system->amplifier_count; k++)
    if (v->system->amplifiers[k].cut_out_v > 0) return !isnan(v->times.cut_out_s);
  return true;
}

static double soc(const struct tv_run *run) {
  double most = 0;
  for (int k = 0; k < run->system->battery_count; k++)
    most = fmax(most, tv_battery_soc_frac(run->battery[k], &run->state.battery[k]));
  return most;
}

/* A start tried where the run stands. */
static enum tailvolt_status try_start(struct full *f, double mean_a, double *last_v) {
  struct tv_vehicle *v = f->v;
  double cranking_v, min_v = HUGE_VAL;
  for (int k = 0; k < v->system->amplifier_count; k++) {
    if (v->fine->drive[k].playing) min_v = fmin(min_v, v->fine->statistics->amplifier[k].min_v);
    v->fine->statistics->amplifier[k].min_v = HUGE_VAL; /* the next moment's own */
  }
  enum tailvolt_status status = tv_vehicle_note_moment(v, v->fine, f->at_s, mean_a, min_v, &cranking_v);
  if (status != TAILVOLT_OK || !isnan(v->times.restart_s)) return status;
  if (cranking_v >= v->options->floor_v) {
    *last_v = cranking_v;
    keep(f, AT_TRY);
  } else if (isnan(*last_v)) {
    v->times.restart_s = v->begin_s;
    keep(f, AT_TRY);
    keep_end(f);
  } else {
    return narrow_restart(f, *last_v, cranking_v);
  }
  return TAILVOLT_OK;
}

enum tailvolt_status tv_vehicle_play_full(struct tv_vehicle *v, double *until_s) {
  struct full f = {.v = v, .at_s = v->begin_s};
  double last_v = (double)NAN, start_frac, try_c = 0, try_s = v->begin_s;
  enum tailvolt_status status = tv_run_start(v->fine, &v->rows.row[0]);
  v->times = (struct tv_parked_times){(double)NAN, (double)NAN, (double)NAN, 0, 0, false};
  v->taken_c = v->taken_j = 0;
  v->moment_count = 0;
  start_frac = soc(v->fine);
  if (status == TAILVOLT_OK) status = try_start(&f, 0, &last_v);
  while (status == TAILVOLT_OK && f.at_s < v->end_s && !all_seen(v)) {
    if ((status = slice(&f)) != TAILVOLT_OK) break;
    bool spare = !isnan(v->times.restart_s) || last_v > v->options->floor_v + SPARE_V;
    if (f.at_s < try_s + (spare ? TRY_LATER_S : TRY_SOON_S) && f.at_s < v->end_s) continue;
    double mean_a = (v->taken_c - try_c) / (f.at_s - try_s);
    try_c = v->taken_c;
    try_s = f.at_s;
    if ((status = try_start(&f, mean_a, &last_v)) != TAILVOLT_OK) break;
    if (soc(v->fine) < EMPTY_FRAC) break;
    status =
        tv_vehicle_tell(v, fmax((f.at_s - v->begin_s) / v->options->limit_s, 1 - soc(v->fine) / start_frac));
  }
  if (status != TAILVOLT_OK) return status;
  v->followed_s = f.at_s;
  v->step_s = v->fine->largest_step_s;
  *until_s = fmin(fmin(v->times.restart_s, v->times.cut_out_s), fmin(v->times.limit_s, v->end_s));
  if (f.end_kept) go_back(&f, AT_END);
  status = advance(&f, *until_s);
  tv_parked_comparators(v->fine, true);
  return status;
}
