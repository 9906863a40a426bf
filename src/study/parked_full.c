/* One vehicle by the full method: every step of the evening, with a start tried every few minutes. */
#include <math.h>
#include <string.h>

#include "study/parked.h"

#define SLICE_S 10.0
#define TRY_SOON_S 60.0   /* between tries of a start with little margin left ... */
#define TRY_LATER_S 300.0 /* ... and of one with half a volt to spare */
#define SPARE_V 0.5
#define FINE_S 0.005
#define TRIP_SLICE_S 0.5

enum { AT_TRY, AT_SLICE, AT_END };

struct full {
  struct tv_parked_search *search;
  double at_s;                 /* present time of the fine run */
  double lowest_v;             /* since the last try of a start, at any amplifier that plays */
  double kept_c[3], kept_j[3]; /* what had been taken at a snapshot */
  bool end_kept;
  bool collapsed;              /* the supply gives way under music that plays on although it has cut out */
};

static void keep(struct full *f, int which) {
  struct tv_parked_search *search = f->search;
  tv_run_save(search->fine, search->kept[which]);
  search->kept_s[which] = f->at_s;
  f->kept_c[which] = search->taken_c;
  f->kept_j[which] = search->taken_j;
}

static void go_back(struct full *f, int which) {
  struct tv_parked_search *search = f->search;
  tv_run_restore(search->fine, search->kept[which]);
  f->at_s = search->kept_s[which];
  search->taken_c = f->kept_c[which];
  search->taken_j = f->kept_j[which];
}

static enum tailvolt_status advance(struct full *f, double to_s) {
  struct tv_parked_search *search = f->search;
  enum tailvolt_status status;
  while (f->at_s < to_s) {
    int row = tv_parked_row_at(&search->rows, f->at_s);
    double next_s = fmin(tv_parked_row_end_s(&search->rows, row), to_s);
    long long steps = search->fine->steps;
    status = tv_run_advance(search->fine, &search->rows.row[row], tv_parked_row_next(&search->rows, row),
                            f->at_s, next_s);
    if (status != TAILVOLT_OK || (status = tv_run_fold(search->fine)) != TAILVOLT_OK) return status;
    tv_run_look_back(search->fine, &search->taken_c, &search->taken_j, &f->lowest_v);
    search->steps += search->fine->steps - steps;
    f->at_s = next_s;
  }
  return TAILVOLT_OK;
}

/* The first event: the end will be replayed from the last good try before it. */
static void keep_end(struct full *f) {
  struct tv_parked_search *search = f->search;
  if (f->end_kept) return;
  memcpy(search->kept[AT_END], search->kept[AT_TRY], tv_run_state_size(search->fine));
  search->kept_s[AT_END] = search->kept_s[AT_TRY];
  f->kept_c[AT_END] = f->kept_c[AT_TRY];
  f->kept_j[AT_END] = f->kept_j[AT_TRY];
  f->end_kept = true;
}

static enum tailvolt_status find_trip(struct full *f, double slice_end_s) {
  struct tv_parked_search *search = f->search;
  enum tailvolt_status status;
  static const double grains_s[] = {TRIP_SLICE_S, FINE_S};
  go_back(f, AT_SLICE);
  for (int g = 0; g < 2; g++) {
    int before = tv_parked_cut_outs(search->fine);
    while (f->at_s < slice_end_s) {
      keep(f, AT_SLICE);
      if ((status = advance(f, fmin(f->at_s + grains_s[g], slice_end_s))) != TAILVOLT_OK) return status;
      if (tv_parked_cut_outs(search->fine) > before) break;
    }
    search->times.cut_out_s = f->at_s;
    for (int k = 0; k < search->system->amplifier_count; k++)
      if (search->fine->state.amplifier[k].out) search->times.cut_out_amplifier = k;
    go_back(f, AT_SLICE);
  }
  /* the other times are wanted on their own terms: as if it played on */
  tv_search_comparators(search, false);
  return advance(f, slice_end_s);
}

static int collapses(const struct tv_run *run) {
  int count = 0;
  for (int k = 0; k < run->system->amplifier_count; k++) count += run->statistics->amplifier[k].collapses;
  return count;
}

static enum tailvolt_status slice(struct full *f) {
  struct tv_parked_search *search = f->search;
  int battery, before = tv_parked_cut_outs(search->fine), collapses_before = collapses(search->fine);
  bool by_voltage;
  double from_s = f->at_s, to_s = fmin(from_s + SLICE_S, search->end_s);
  double above = tv_search_above_limit(search, search->fine, &battery, &by_voltage);
  if (isnan(search->times.cut_out_s)) keep(f, AT_SLICE);
  enum tailvolt_status status = advance(f, to_s);
  if (status != TAILVOLT_OK) return status;
  if (!isnan(search->times.cut_out_s)) f->collapsed = collapses(search->fine) > collapses_before;
  if (isnan(search->times.cut_out_s) && tv_parked_cut_outs(search->fine) > before) {
    if ((status = find_trip(f, to_s)) != TAILVOLT_OK) return status;
    keep_end(f);
  }
  double now = tv_search_above_limit(search, search->fine, &battery, &by_voltage);
  if (isnan(search->times.limit_s) && now <= 0) {
    search->times.limit_s = above > 0 ? from_s + (to_s - from_s) * above / (above - now) : from_s;
    search->times.limit_battery = battery;
    search->times.limit_by_voltage = by_voltage;
    keep_end(f);
  }
  return TAILVOLT_OK;
}

static enum tailvolt_status crank(struct full *f, double *margin_v) {
  struct tv_parked_search *search = f->search;
  struct tv_start_outcome outcome = {0};
  int row = tv_parked_row_at(&search->rows, f->at_s);
  enum tailvolt_status status = tv_start_trial_run(&search->start, search->fine, &search->rows.row[row],
                                                   f->at_s, search->options, &outcome);
  *margin_v = outcome.margin_v;
  return status;
}

static enum tailvolt_status narrow_restart(struct full *f, double low_v, double high_v) {
  struct tv_parked_search *search = f->search;
  double high_s = f->at_s, low_s = search->kept_s[AT_TRY];
  keep_end(f);
  keep(f, AT_SLICE);
  while (high_s - low_s > TV_PARKED_GRAIN_S) {
    double margin_v, middle_s = 0.5 * (low_s + high_s);
    go_back(f, AT_TRY);
    enum tailvolt_status status = advance(f, middle_s);
    if (status != TAILVOLT_OK || (status = crank(f, &margin_v)) != TAILVOLT_OK) return status;
    if (margin_v >= 0) {
      low_s = middle_s;
      low_v = margin_v;
    } else {
      high_s = middle_s;
      high_v = margin_v;
    }
  }
  search->times.restart_s = low_s + (high_s - low_s) * low_v / fmax(low_v - high_v, 1e-9);
  go_back(f, AT_SLICE);
  return TAILVOLT_OK;
}

static bool all_found(const struct tv_parked_search *search) {
  if (!tv_search_found_start_and_limit(search)) return false;
  for (int k = 0; k < search->system->amplifier_count; k++)
    if (search->system->amplifiers[k].cut_out_v > 0) return !isnan(search->times.cut_out_s);
  return true;
}

static double soc(const struct tv_run *run) {
  double most = 0;
  for (int k = 0; k < run->system->battery_count; k++)
    most = fmax(most, tv_battery_soc_frac(run->battery[k], &run->state.battery[k]));
  return most;
}

/* Tries a start from the run's present state. */
static enum tailvolt_status try_start(struct full *f, double mean_a, double *last_v) {
  struct tv_parked_search *search = f->search;
  double margin_v;
  enum tailvolt_status status =
      tv_search_note_moment(search, search->fine, f->at_s, mean_a, f->lowest_v, &margin_v);
  f->lowest_v = HUGE_VAL; /* the next moment's own */
  if (status != TAILVOLT_OK || !isnan(search->times.restart_s)) return status;
  if (margin_v >= 0) {
    *last_v = margin_v;
    keep(f, AT_TRY);
  } else if (isnan(*last_v)) {
    search->times.restart_s = search->begin_s;
    keep(f, AT_TRY);
    keep_end(f);
  } else {
    return narrow_restart(f, *last_v, margin_v);
  }
  return TAILVOLT_OK;
}

/* Tries come after whole cycles of the music: the mean current since the last one is then none of a loud or a quiet half. */
static double try_after_s(const struct tv_parked_search *search, double wanted_s) {
  double cycle_s = search->window_s;
  return search->full_reason == TAILVOLT_FULL_LONG_MUSIC || !(cycle_s > 0) ? wanted_s : ceil(wanted_s / cycle_s - 1e-9) * cycle_s;
}

enum tailvolt_status tv_search_every_step(struct tv_parked_search *search, double *until_s) {
  struct full f = {.search = search, .at_s = search->begin_s, .lowest_v = HUGE_VAL};
  double last_v = (double)NAN, start_frac, try_c = 0, try_s = search->begin_s;
  tv_run_leave_out_sums(search->fine);
  tv_relays_hold(search, false);
  enum tailvolt_status status = tv_run_start(search->fine, &search->rows.row[0]);
  tv_search_comparators(search, true);
  search->times = (struct tv_parked_times){(double)NAN, (double)NAN, (double)NAN, 0, 0, false, false};
  search->taken_c = search->taken_j = 0;
  search->moment_count = 0;
  start_frac = soc(search->fine);
  if (status == TAILVOLT_OK) status = try_start(&f, 0, &last_v);
  while (status == TAILVOLT_OK && f.at_s < search->end_s && !all_found(search)) {
    if ((status = slice(&f)) != TAILVOLT_OK) break;
    bool spare = !isnan(search->times.restart_s) || last_v > SPARE_V;
    bool soon = f.at_s < try_s + try_after_s(search, spare ? TRY_LATER_S : TRY_SOON_S) - 1e-6;
    if (soon && f.at_s < search->end_s && !f.collapsed) continue;
    double mean_a = (search->taken_c - try_c) / (f.at_s - try_s);
    try_c = search->taken_c;
    try_s = f.at_s;
    if ((status = try_start(&f, mean_a, &last_v)) != TAILVOLT_OK) break;
    /* as by windows: what comes after a collapse hangs on how it falls, and says nothing of playing on */
    if (f.collapsed || soc(search->fine) < TV_PARKED_EMPTY_FRAC) break;
    status = tv_search_progress(search, fmax((f.at_s - search->begin_s) / search->options->limit_s,
                                             1 - soc(search->fine) / start_frac));
  }
  if (status != TAILVOLT_OK) return status;
  search->followed_s = f.at_s;
  search->step_s = search->fine->largest_step_s;
  *until_s = fmin(fmin(search->times.restart_s, search->times.cut_out_s),
                  fmin(search->times.limit_s, search->end_s));
  if (f.end_kept) go_back(&f, AT_END);
  status = advance(&f, *until_s);
  tv_search_comparators(search, true);
  return status;
}
