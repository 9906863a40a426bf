/* One vehicle by checkpoints: down once in strides, then again with halved strides until nothing moves. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "study/parked.h"

#define AGREE_FRAC 0.004 /* halving the strides may move a time by this much */
#define PASSES_MOST 5
#define FIRST_STRIDE_FRAC 0.08 /* of the charge */
#define STRIDE_MOST_S 21600.0
#define STRIDE_MOST_FRAC 0.15 /* of the charge at the start ... */
#define STRIDE_LEFT_FRAC 0.35 /* ... and of what is left */
#define STRIDE_END_FRAC 0.01
/* For the quick search: mean and margin are nearly linear in charge, and jumps are retraced. */
#define QUICK_FIRST_STRIDE_FRAC 0.25
#define QUICK_STRIDE_MOST_FRAC 0.3
#define QUICK_STRIDE_LEFT_FRAC 0.5
#define STRAIGHT_FRAC 1e-3 /* a mean this near the line between its neighbours needs no more */
#define CURRENT_JUMP_FRAC 0.25
#define MARGIN_JUMP_V 0.6
#define QUICK_MARGIN_JUMP_V 1.2
#define SPLIT_FRAC 0.02 /* fine and slow run must share the current alike between batteries, to this */

static enum tailvolt_status crank(struct tv_parked_search *search, double *margin_v) {
  struct tv_start_outcome outcome = {0};
  int row = tv_parked_row_at(&search->rows, search->slow_s);
  enum tailvolt_status status = tv_start_trial_run(&search->start, search->slow, &search->rows.row[row],
                                                   search->slow_s, search->options, &outcome);
  *margin_v = outcome.margin_v;
  return status;
}

static enum tailvolt_status moment_room(struct tv_parked_search *search) {
  if (search->moment_count < search->moment_room) return TAILVOLT_OK;
  size_t room = 2 * (size_t)search->moment_room + 32, batteries = (size_t)search->system->battery_count;
  struct tv_noted_moment *moment = realloc(search->moment, room * sizeof *moment);
  if (moment != NULL) search->moment = moment;
  double *soc_pct = realloc(search->moment_soc_pct, room * batteries * sizeof *soc_pct);
  if (soc_pct != NULL) search->moment_soc_pct = soc_pct;
  double *rest_v = realloc(search->moment_rest_v, room * batteries * sizeof *rest_v);
  if (rest_v != NULL) search->moment_rest_v = rest_v;
  if (moment == NULL || soc_pct == NULL || rest_v == NULL) return TAILVOLT_NO_MEMORY;
  search->moment_room = (int)room;
  return TAILVOLT_OK;
}

enum tailvolt_status tv_search_note_moment(struct tv_parked_search *search, const struct tv_run *run,
                                           double time_s, double mean_a, double min_v, double *margin_v) {
  struct tv_start_outcome outcome = {0};
  int row = tv_parked_row_at(&search->rows, time_s), starter = search->system->engine.starter_battery;
  size_t at = (size_t)search->moment_count * (size_t)search->system->battery_count;
  enum tailvolt_status status =
      tv_start_trial_run(&search->start, run, &search->rows.row[row], time_s, search->options, &outcome);
  if (status == TAILVOLT_OK) status = moment_room(search);
  if (status != TAILVOLT_OK) return status;
  *margin_v = outcome.margin_v;
  for (int k = 0; k < search->system->battery_count; k++) {
    search->moment_soc_pct[at + (size_t)k] =
        100 * tv_battery_soc_frac(run->battery[k], &run->state.battery[k]);
    search->moment_rest_v[at + (size_t)k] =
        tv_battery_open_circuit_v(run->battery[k], &run->state.battery[k]);
  }
  search->moment[search->moment_count++] =
      (struct tv_noted_moment){.moment = {.time_s = time_s - search->begin_s,
                                          .soc_pct = search->moment_soc_pct[at + (size_t)starter],
                                          .rest_v = search->moment_rest_v[at + (size_t)starter],
                                          .mean_a = mean_a,
                                          .min_v = isfinite(min_v) ? min_v : (double)NAN,
                                          .cranking_v = outcome.cranking_v,
                                          .floor_v = outcome.floor_v},
                               .batteries_at = at};
  return TAILVOLT_OK;
}

/* ---- down in strides ---- */

/* Shares are compared: the currents themselves still move while a stride is being found. */
static bool split_agrees(const struct tv_parked_search *search, const struct tv_checkpoint *c) {
  double slow_a = 0;
  if (search->system->battery_count < 2 || search->slow_s <= search->begin_s + 120) return true;
  for (int k = 0; k < search->system->battery_count; k++) slow_a += tv_run_battery_a(search->slow, k);
  if (!(fabs(c->total_a) > 0.1) || !(fabs(slow_a) > 0.1)) return true;
  for (int k = 0; k < search->system->battery_count; k++)
    if (fabs(c->battery_a[k] / c->total_a - tv_run_battery_a(search->slow, k) / slow_a) > SPLIT_FRAC) return false;
  return true;
}

static bool empty(const struct tv_run *run) {
  for (int k = 0; k < run->system->battery_count; k++)
    if (tv_battery_soc_frac(run->battery[k], &run->state.battery[k]) > TV_PARKED_EMPTY_FRAC) return false;
  return true;
}

/* What may still happen before the end. */
struct ahead {
  bool starts, limit;
};

static enum tailvolt_status look(struct tv_parked_search *search, struct ahead *ahead) {
  int battery;
  bool by_voltage;
  enum tailvolt_status status = TAILVOLT_OK;
  if (ahead->limit && tv_search_above_limit(search, search->slow, &battery, &by_voltage) <= 0)
    ahead->limit = false;
  if (ahead->starts) {
    double margin_v;
    if ((status = crank(search, &margin_v)) != TAILVOLT_OK) return status;
    if (margin_v < 0)
      ahead->starts = false;
    else
      search->starts_until_s = search->slow_s;
  }
  return status;
}

static bool over(const struct tv_parked_search *search, const struct ahead *ahead,
                 const struct tv_checkpoint *last) {
  if (empty(search->slow)) return true;
  /* the supply collapses under the music: nothing more to learn */
  if (last->collapses) return true;
  return last->trips && !ahead->starts && !ahead->limit;
}

static bool jumps(const struct tv_checkpoint *a, const struct tv_checkpoint *b, double margin_v) {
  if (a->row != b->row || b->collapses) return false;
  if (fabs(b->total_a - a->total_a) > CURRENT_JUMP_FRAC * fmax(fabs(a->total_a), 0.1)) return true;
  return isfinite(a->margin_v) && isfinite(b->margin_v) && fabs(b->margin_v - a->margin_v) > margin_v;
}

/* One stride from the slow run's position; *stride_s is the stride taken, then the one proposed. */
static enum tailvolt_status take_stride(struct tv_parked_search *search, int row, double *stride_s) {
  enum tailvolt_status status;
  double row_end_s = fmin(tv_parked_row_end_s(&search->rows, row), search->end_s), from_s = search->slow_s;
  double least_s = fmax(2 * search->window_s + search->lead_s, 30.0),
         need_s = search->window_s + search->lead_s;
  double charge_c = tv_search_charge_left_c(search->slow),
         mean_a = fmax(search->checkpoint[search->count - 1].total_a, 1e-3);
  double most_frac = search->is_quick ? QUICK_STRIDE_MOST_FRAC : STRIDE_MOST_FRAC,
         left_frac = search->is_quick ? QUICK_STRIDE_LEFT_FRAC : STRIDE_LEFT_FRAC;
  double most_c = fmin(most_frac * search->start_c,
                       fmax(left_frac * charge_c, STRIDE_END_FRAC * search->start_c));
  /* the first may be a share of the charge that is gone before a window has played */
  *stride_s = fmax(fmin(*stride_s, fmax(most_c / mean_a, least_s)), 0.5 * least_s);
  tv_search_save(search, TV_AT_STRIDE);
  for (;;) {
    double to_s = fmin(from_s + *stride_s, row_end_s - need_s);
    struct tv_checkpoint *c;
    if ((status = tv_search_advance_slow(search, to_s)) != TAILVOLT_OK) return status;
    if ((status = tv_search_add_checkpoint(search, &c)) != TAILVOLT_OK) return status;
    if ((status = tv_search_play_window(search, row, tv_search_window_s(search, row, to_s), c)) !=
        TAILVOLT_OK)
      return status;
    const struct tv_checkpoint *before = &search->checkpoint[search->count - 1];
    if (!split_agrees(search, c)) search->full_reason = TAILVOLT_FULL_UNEQUAL_SHARES;
    double jump_v = search->is_quick ? QUICK_MARGIN_JUMP_V : MARGIN_JUMP_V;
    bool too_far = jumps(before, c, jump_v) && *stride_s > least_s && to_s - from_s > least_s;
    if (!too_far) {
      search->count++;
      double change = fabs(c->total_a - before->total_a) / fmax(fabs(c->total_a), 0.1);
      if (change < 0.06)
        *stride_s = fmin(1.6 * *stride_s, STRIDE_MOST_S);
      else if (change > 0.12)
        *stride_s = fmax(0.6 * *stride_s, least_s);
      if (search->is_quick) return TAILVOLT_OK;
      /* again, now between two known means */
      tv_search_restore(search, TV_AT_STRIDE);
      return tv_search_advance_slow(search, to_s);
    }
    *stride_s = fmax(0.4 * (to_s - from_s), least_s);
    tv_search_restore(search, TV_AT_STRIDE);
  }
}

static enum tailvolt_status stride_down(struct tv_parked_search *search) {
  struct ahead ahead = {true, tv_parked_has_limit(search->options)};
  enum tailvolt_status status = tv_search_start_slow(search);
  double stride_s = 0;
  search->start_c = tv_search_charge_left_c(search->slow);
  search->starts_until_s = -HUGE_VAL;
  search->count = 0;
  for (int row = 0; status == TAILVOLT_OK && row < search->rows.count; row++) {
    struct tv_checkpoint *c;
    if ((status = tv_search_add_checkpoint(search, &c)) != TAILVOLT_OK) return status;
    if ((status = tv_search_play_window(search, row, tv_search_window_s(search, row, search->slow_s), c)) !=
        TAILVOLT_OK)
      return status;
    search->count++;
    double first_frac = search->is_quick ? QUICK_FIRST_STRIDE_FRAC : FIRST_STRIDE_FRAC;
    stride_s = fmin(first_frac * tv_search_charge_left_c(search->slow) / fmax(c->total_a, 1e-3), STRIDE_MOST_S);
    double row_end_s = fmin(tv_parked_row_end_s(&search->rows, row), search->end_s);
    while (search->slow_s < row_end_s - search->window_s - search->lead_s - 1) {
      if ((status = take_stride(search, row, &stride_s)) != TAILVOLT_OK) return status;
      if (search->full_reason != TAILVOLT_FULL_NOT) return TAILVOLT_OK;
      if ((status = look(search, &ahead)) != TAILVOLT_OK) return status;
      if (over(search, &ahead, &search->checkpoint[search->count - 1])) return TAILVOLT_OK;
      if ((status = tv_search_progress(search, 0.5 * (1 - tv_search_charge_left_c(search->slow) / search->start_c))) !=
          TAILVOLT_OK)
        return status;
    }
    if (search->slow_s >= search->end_s - search->window_s - search->lead_s - 1) break;
    status = tv_search_advance_slow(search, row_end_s);
  }
  return status;
}

/* ---- the times, with the present means ---- */

/* Between a moment that starts the car and one that does not; the slow run is at the latter. */
static enum tailvolt_status narrow_restart(struct tv_parked_search *search, double low_v, double high_v) {
  double low_s = search->kept_s[TV_AT_PASS], high_s = search->slow_s;
  while (high_s - low_s > TV_PARKED_GRAIN_S) {
    tv_search_restore(search, TV_AT_PASS);
    /* where the line crosses, kept off the ends */
    double part = low_v / fmax(low_v - high_v, 1e-9);
    double margin_v, middle_s = low_s + fmin(fmax(part, 0.1), 0.9) * (high_s - low_s);
    enum tailvolt_status status = tv_search_advance_slow(search, middle_s);
    if (status != TAILVOLT_OK || (status = crank(search, &margin_v)) != TAILVOLT_OK) return status;
    if (margin_v >= 0) {
      low_s = middle_s;
      low_v = margin_v;
      tv_search_save(search, TV_AT_PASS);
    } else {
      high_s = middle_s;
      high_v = margin_v;
    }
  }
  search->times.restart_s = low_s + (high_s - low_s) * low_v / fmax(low_v - high_v, 1e-9);
  return TAILVOLT_OK;
}

/* Advances to `to_s` in pieces, watching the limit. */
static enum tailvolt_status walk(struct tv_parked_search *search, double to_s) {
  double from_s = search->slow_s, pieces = search->is_quick ? 2 : 8;
  int battery;
  bool by_voltage;
  double above = tv_search_above_limit(search, search->slow, &battery, &by_voltage);
  for (int k = 1; k <= (int)pieces; k++) {
    double before_s = search->slow_s;
    enum tailvolt_status status =
        tv_search_advance_slow(search, k == (int)pieces ? to_s : from_s + (to_s - from_s) * k / pieces);
    if (status != TAILVOLT_OK) return status;
    double now = tv_search_above_limit(search, search->slow, &battery, &by_voltage);
    if (isnan(search->times.limit_s) && now <= 0) {
      search->times.limit_s =
          above > 0 ? before_s + (search->slow_s - before_s) * above / (above - now) : before_s;
      search->times.limit_battery = battery;
      search->times.limit_by_voltage = by_voltage;
    }
    above = now;
  }
  return TAILVOLT_OK;
}

bool tv_search_found_start_and_limit(const struct tv_parked_search *search) {
  bool limit = tv_parked_has_limit(search->options);
  return !isnan(search->times.restart_s) && (!limit || !isnan(search->times.limit_s));
}

/* The quick search tries no start whose outcome is known. */
static bool start_is_known(const struct tv_parked_search *search, int checkpoint) {
  if (!search->is_quick) return false;
  if (!isnan(search->times.restart_s)) return true;
  return checkpoint + 1 < search->count &&
         tv_search_slow_time_s(search, checkpoint + 1) <= search->starts_until_s;
}

/* The first window under which the supply collapses; their number where none does. */
static int first_collapse(const struct tv_parked_search *search) {
  int k = 0;
  while (k < search->count && !search->checkpoint[k].collapses) k++;
  return k;
}

/* How far the present means are good: where the supply collapses under the music what comes hangs on how it falls, and that it started
 * then is no promise. */
static double followed_s(const struct tv_parked_search *search) {
  int k = first_collapse(search);
  return k == search->count ? search->slow_s : fmin(tv_search_slow_time_s(search, k > 0 ? k - 1 : 0), search->slow_s);
}

static enum tailvolt_status pass_down(struct tv_parked_search *search) {
  search->times = (struct tv_parked_times){(double)NAN, (double)NAN, (double)NAN, 0, 0, false, false};
  search->moment_count = 0;
  enum tailvolt_status status = tv_search_start_slow(search);
  if (status != TAILVOLT_OK) return status;
  double last_v = (double)NAN;
  int trip = tv_search_first_trip(search), collapse = first_collapse(search);
  for (int k = 0; k <= search->count && k <= collapse; k++) {
    bool last = k == search->count;
    double to_s = last ? search->end_s : tv_search_slow_time_s(search, k);
    /* nothing is known beyond the last checkpoint, unless the time limit comes first */
    if (last && search->end_s > search->checkpoint[k - 1].time_s + 2 * (search->window_s + search->lead_s))
      break;
    const struct tv_checkpoint *c = &search->checkpoint[last ? k - 1 : k];
    if (to_s > search->slow_s && (status = walk(search, to_s)) != TAILVOLT_OK) return status;
    if (k + 1 == trip) tv_search_save(search, TV_AT_CALM);
    if (start_is_known(search, k)) continue;
    double margin_v, here_s = search->slow_s;
    status = tv_search_note_moment(search, search->slow, here_s, c->total_a, c->min_v, &margin_v);
    if (status != TAILVOLT_OK) return status;
    if (!isnan(search->times.restart_s)) continue;
    if (margin_v >= 0) {
      last_v = margin_v;
      tv_search_save(search, TV_AT_PASS);
      continue;
    }
    if (isnan(last_v)) {
      search->times.restart_s = search->begin_s;
      continue;
    }
    tv_search_save(search, TV_AT_TRIP);
    if ((status = narrow_restart(search, last_v, margin_v)) != TAILVOLT_OK) return status;
    tv_search_restore(search, TV_AT_TRIP);
  }
  search->followed_s = followed_s(search);
  return TAILVOLT_OK;
}

static enum tailvolt_status find_times(struct tv_parked_search *search) {
  enum tailvolt_status status = pass_down(search);
  if (status != TAILVOLT_OK || search->times.restart_s != search->begin_s || !(search->starts_until_s > search->begin_s))
    return status;
  /* it did start later than that: with the means between two checkpoints, the last start assumed known has failed */
  search->starts_until_s = -HUGE_VAL;
  return pass_down(search);
}

/* ---- halving strides ---- */

/* Whether the means on both sides of a new checkpoint are linear: then they are settled. */
static void judge_line(struct tv_parked_search *search, int at) {
  if (at == 0 || at + 1 >= search->count) return;
  struct tv_checkpoint *low = &search->checkpoint[at - 1], *c = low + 1, *high = low + 2;
  c->settled = false;
  if (low->row != c->row || high->row != c->row || low->trips != high->trips) return;
  double part = (c->time_s - low->time_s) / (high->time_s - low->time_s);
  double line_a = low->total_a + part * (high->total_a - low->total_a);
  low->settled = c->settled = fabs(c->total_a - line_a) <= STRAIGHT_FRAC * fabs(line_a);
}

static enum tailvolt_status halve(struct tv_parked_search *search, double until_s) {
  enum tailvolt_status status = tv_search_start_slow(search);
  double least_s = 4 * (search->window_s + search->lead_s);
  for (int k = 0; status == TAILVOLT_OK && k + 1 < search->count; k++) {
    const struct tv_checkpoint *a = &search->checkpoint[k], *b = a + 1;
    if (a->time_s > until_s || a->collapses) break;
    if (a->row != b->row || a->settled || b->time_s - a->time_s < least_s) continue;
    int row = a->row;
    double middle_s = 0.5 * (a->time_s + b->time_s) - 0.5 * search->window_s - search->lead_s;
    struct tv_checkpoint *c;
    if ((status = tv_search_advance_slow(search, middle_s)) != TAILVOLT_OK) return status;
    if ((status = tv_search_add_checkpoint(search, &c)) != TAILVOLT_OK) return status;
    if ((status = tv_search_play_window(search, row, tv_search_window_s(search, row, middle_s), c)) !=
        TAILVOLT_OK)
      return status;
    int at = tv_search_insert_checkpoint(search);
    judge_line(search, at);
    if (at == k + 1) k++;
  }
  return status;
}

static bool agree(double before_s, double now_s, double begin_s) {
  if (isnan(before_s) || isnan(now_s)) return isnan(before_s) && isnan(now_s);
  return fabs(now_s - before_s) <= fmax(AGREE_FRAC * (now_s - begin_s), 0.5);
}

/* Where the falling margin reaches zero; only to see whether it still moves. */
static double margin_end_s(const struct tv_parked_search *search) {
  int k = tv_search_first_trip(search);
  if (k < 1) return k == 0 ? search->begin_s : (double)NAN;
  return search->checkpoint[k - 1].time_s;
}

static enum tailvolt_status refine(struct tv_parked_search *search) {
  enum tailvolt_status status = find_times(search);
  for (search->passes = 1; status == TAILVOLT_OK && search->passes < PASSES_MOST && !search->is_quick;
       search->passes++) {
    struct tv_parked_times before = search->times;
    double taken_c = search->taken_c, until_s = tv_search_found_start_and_limit(search)
                                                    ? fmax(search->times.restart_s, search->times.limit_s)
                                                    : HUGE_VAL;
    double trip_s = margin_end_s(search);
    until_s = isnan(trip_s) || isnan(until_s) ? HUGE_VAL : fmax(until_s, trip_s);
    if ((status = halve(search, until_s)) != TAILVOLT_OK || (status = find_times(search)) != TAILVOLT_OK)
      break;
    if ((status = tv_search_progress(search, 0.5 + 0.1 * search->passes)) != TAILVOLT_OK) break;
    if (agree(before.restart_s, search->times.restart_s, search->begin_s) &&
        agree(before.limit_s, search->times.limit_s, search->begin_s) &&
        fabs(search->taken_c - taken_c) <= AGREE_FRAC * search->taken_c) {
      search->passes++;
      break;
    }
  }
  return status;
}

/* ---- all of it ---- */

static double end_of(const struct tv_parked_search *search) {
  return fmin(fmin(search->times.restart_s, search->times.cut_out_s),
              fmin(search->times.limit_s, search->end_s));
}

enum tailvolt_status tv_search_by_checkpoints(struct tv_parked_search *search, double *until_s) {
  enum tailvolt_status status = stride_down(search);
  if (status != TAILVOLT_OK || search->full_reason != TAILVOLT_FULL_NOT) return status;
  if ((status = refine(search)) != TAILVOLT_OK) return status;
  search->by_means = search->times;
  if (!search->is_quick && (status = tv_search_follow_cycles(search)) != TAILVOLT_OK) return status;
  if ((status = tv_search_cut_out(search)) != TAILVOLT_OK) return status;
  *until_s = end_of(search);
  if (search->is_quick) return TAILVOLT_OK; /* nobody asks for its state then */
  if ((status = tv_search_start_slow(search)) != TAILVOLT_OK) return status;
  return tv_search_advance_slow(search, tv_search_by_means_s(search, *until_s));
}

struct tv_run *tv_search_end_run(struct tv_parked_search *search) {
  return search->full_reason != TAILVOLT_FULL_NOT ? search->fine : search->slow;
}
