/* One vehicle by checkpoints: down once in strides, then again with strides halved until nothing moves. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "study/parked.h"

#define AGREE_FRAC 0.004 /* halved strides may move a time by this much */
#define PASSES_MOST 5
#define FIRST_STRIDE_FRAC 0.08 /* of the charge */
#define STRIDE_MOST_S 21600.0
#define STRIDE_MOST_FRAC 0.15 /* of the charge at the start ... */
#define STRIDE_LEFT_FRAC 0.35 /* ... and of what is left */
#define STRIDE_END_FRAC 0.01
#define STRAIGHT_FRAC 1e-3 /* a mean this near the line between its neighbours needs no more of them */
#define CURRENT_JUMP_FRAC 0.25
#define MARGIN_JUMP_V 0.6
#define EMPTY_FRAC (-0.03) /* beyond the label's empty: small draws take a little more */
#define SPLIT_FRAC 0.02    /* fine and slow run must share the current alike between batteries */

enum tailvolt_status tv_vehicle_add_checkpoint(struct tv_vehicle *v, struct tv_checkpoint **out) {
  if (v->count == v->room) {
    int room = v->room + 64;
    struct tv_checkpoint *grown = realloc(v->checkpoint, (size_t)room * sizeof *grown);
    if (grown == NULL) return TAILVOLT_NO_MEMORY;
    v->checkpoint = grown;
    while (v->room < room) {
      enum tailvolt_status status = tv_checkpoint_make(v->system, &v->checkpoint[v->room]);
      if (status != TAILVOLT_OK) return status;
      v->room++;
    }
  }
  *out = &v->checkpoint[v->count];
  return TAILVOLT_OK;
}

/* The one just filled at the end goes to its place in time. */
int tv_vehicle_settle_in(struct tv_vehicle *v) {
  struct tv_checkpoint added = v->checkpoint[v->count];
  int at = v->count++;
  while (at > 0 && (v->checkpoint[at - 1].row > added.row || (v->checkpoint[at - 1].row == added.row &&
                                                              v->checkpoint[at - 1].time_s > added.time_s))) {
    v->checkpoint[at] = v->checkpoint[at - 1];
    at--;
  }
  v->checkpoint[at] = added;
  return at;
}

/* Where the slow run stood when the window was played. */
double tv_vehicle_stood_s(const struct tv_vehicle *v, int k) {
  const struct tv_checkpoint *c = &v->checkpoint[k];
  double start_s = c->time_s - 0.5 * v->window_s, row_s = v->rows.row[c->row].time_s;
  return fmax(start_s - v->lead_s, row_s);
}

void tv_vehicle_keep(struct tv_vehicle *v, int which) {
  tv_run_save(v->slow, v->kept[which]);
  v->kept_s[which] = v->slow_s;
}

void tv_vehicle_go_back(struct tv_vehicle *v, int which) {
  tv_run_restore(v->slow, v->kept[which]);
  v->slow_s = v->kept_s[which];
}

double tv_vehicle_above_limit(const struct tv_vehicle *v, const struct tv_run *run, int *battery,
                              bool *by_voltage) {
  const struct tailvolt_parked_options *o = v->options;
  double least = HUGE_VAL;
  *battery = 0;
  *by_voltage = false;
  for (int k = 0; k < v->system->battery_count; k++) {
    if (o->soc_limit_frac > 0) {
      double above = tv_battery_soc_frac(run->battery[k], &run->state.battery[k]) - o->soc_limit_frac;
      if (above < least) least = above, *battery = k, *by_voltage = false;
    }
    if (!isnan(o->rest_limit_v)) {
      double above = tv_battery_open_circuit_v(run->battery[k], &run->state.battery[k]) - o->rest_limit_v;
      if (above < least) least = above, *battery = k, *by_voltage = true;
    }
  }
  return least;
}

enum tailvolt_status tv_vehicle_tell(struct tv_vehicle *v, double done_frac) {
  const struct tailvolt_options *o = &v->options->run;
  if (o->progress == NULL) return TAILVOLT_OK;
  v->told_s = fmin(fmax(done_frac, v->told_s), 1.0);
  return o->progress(o->progress_context, v->told_s) ? TAILVOLT_STOPPED : TAILVOLT_OK;
}

static enum tailvolt_status crank(struct tv_vehicle *v, double *cranking_v) {
  struct tv_start_seen seen;
  int row = tv_parked_row_at(&v->rows, v->slow_s);
  enum tailvolt_status status =
      tv_starter_try(&v->starter, v->slow, &v->rows.row[row], v->slow_s, v->options, false, &seen);
  *cranking_v = seen.cranking_v;
  return status;
}

enum tailvolt_status tv_vehicle_note_moment(struct tv_vehicle *v, const struct tv_run *run, double time_s,
                                            double mean_a, double min_v, double *cranking_v) {
  struct tv_start_seen seen;
  int row = tv_parked_row_at(&v->rows, time_s);
  enum tailvolt_status status =
      tv_starter_try(&v->starter, run, &v->rows.row[row], time_s, v->options, false, &seen);
  if (status != TAILVOLT_OK) return status;
  *cranking_v = seen.cranking_v;
  if (v->moment_count == v->moment_room) {
    int room = 2 * v->moment_room + 32;
    struct tailvolt_parked_moment *grown = realloc(v->moment, (size_t)room * sizeof *grown);
    if (grown == NULL) return TAILVOLT_NO_MEMORY;
    v->moment = grown;
    v->moment_room = room;
  }
  v->moment[v->moment_count++] =
      (struct tailvolt_parked_moment){time_s - v->begin_s,
                                      100 * tv_battery_soc_frac(run->battery[0], &run->state.battery[0]),
                                      tv_battery_open_circuit_v(run->battery[0], &run->state.battery[0]),
                                      mean_a,
                                      isfinite(min_v) ? min_v : (double)NAN,
                                      seen.cranking_v};
  return TAILVOLT_OK;
}

/* ---- down in strides ---- */

/* Shares are compared: the currents themselves still move while a stride is found. */
static bool split_agrees(const struct tv_vehicle *v, const struct tv_checkpoint *c) {
  double slow_a = 0;
  if (v->system->battery_count < 2 || v->slow_s <= v->begin_s + 120) return true;
  for (int k = 0; k < v->system->battery_count; k++) slow_a += v->slow->battery_a[k];
  if (!(fabs(c->total_a) > 0.1) || !(fabs(slow_a) > 0.1)) return true;
  for (int k = 0; k < v->system->battery_count; k++)
    if (fabs(c->battery_a[k] / c->total_a - v->slow->battery_a[k] / slow_a) > SPLIT_FRAC) return false;
  return true;
}

static double charge_left_c(const struct tv_run *run) {
  double sum_c = 0;
  for (int k = 0; k < run->system->battery_count; k++) sum_c += fmax(run->state.battery[k].charge_c, 0);
  return sum_c;
}

static bool empty(const struct tv_run *run) {
  for (int k = 0; k < run->system->battery_count; k++)
    if (tv_battery_soc_frac(run->battery[k], &run->state.battery[k]) > EMPTY_FRAC) return false;
  return true;
}

/* What is still to be seen on the way down. */
struct ahead {
  bool starts, limit;
  double last_v;
};

static enum tailvolt_status look(struct tv_vehicle *v, struct ahead *ahead) {
  int battery;
  bool by_voltage;
  enum tailvolt_status status = TAILVOLT_OK;
  if (ahead->limit && tv_vehicle_above_limit(v, v->slow, &battery, &by_voltage) <= 0) ahead->limit = false;
  if (ahead->starts) {
    double cranking_v;
    if ((status = crank(v, &cranking_v)) != TAILVOLT_OK) return status;
    if (cranking_v < v->options->floor_v) ahead->starts = false;
  }
  return status;
}

static bool over(const struct tv_vehicle *v, const struct ahead *ahead, const struct tv_checkpoint *last) {
  if (empty(v->slow)) return true;
  /* the supply collapses under the music: nothing more to be learnt */
  if (last->collapses) return true;
  return last->trips && !ahead->starts && !ahead->limit;
}

static bool jumps(const struct tv_checkpoint *a, const struct tv_checkpoint *b) {
  if (a->row != b->row || b->collapses) return false;
  if (fabs(b->total_a - a->total_a) > CURRENT_JUMP_FRAC * fmax(fabs(a->total_a), 0.1)) return true;
  return isfinite(a->margin_v) && isfinite(b->margin_v) && fabs(b->margin_v - a->margin_v) > MARGIN_JUMP_V;
}

/* One stride from where the slow run stands; *stride_s is what was taken and then what is proposed. */
static enum tailvolt_status take_stride(struct tv_vehicle *v, int row, double *stride_s) {
  enum tailvolt_status status;
  double row_end_s = fmin(tv_parked_row_end_s(&v->rows, row), v->end_s), from_s = v->slow_s;
  double least_s = fmax(2 * v->window_s + v->lead_s, 30.0), need_s = v->window_s + v->lead_s;
  double charge_c = charge_left_c(v->slow), mean_a = fmax(v->checkpoint[v->count - 1].total_a, 1e-3);
  *stride_s = fmin(*stride_s, fmax(fmin(STRIDE_MOST_FRAC * v->start_c,
                                        fmax(STRIDE_LEFT_FRAC * charge_c, STRIDE_END_FRAC * v->start_c)) /
                                       mean_a,
                                   least_s));
  tv_vehicle_keep(v, TV_AT_STRIDE);
  for (;;) {
    double to_s = fmin(from_s + *stride_s, row_end_s - need_s);
    if (to_s < from_s + 0.5 * least_s) to_s = row_end_s - need_s;
    struct tv_checkpoint *c;
    if ((status = tv_vehicle_glide(v, to_s)) != TAILVOLT_OK) return status;
    if ((status = tv_vehicle_add_checkpoint(v, &c)) != TAILVOLT_OK) return status;
    if ((status = tv_vehicle_probe(v, row, tv_vehicle_window_s(v, row, to_s), c)) != TAILVOLT_OK)
      return status;
    const struct tv_checkpoint *before = &v->checkpoint[v->count - 1];
    if (!split_agrees(v, c))
      snprintf(v->why_full, sizeof v->why_full, "the batteries share beats and mean current differently");
    bool too_far = jumps(before, c) && *stride_s > least_s && to_s - from_s > least_s;
    if (!too_far) {
      v->count++;
      double change = fabs(c->total_a - before->total_a) / fmax(fabs(c->total_a), 0.1);
      if (change < 0.06)
        *stride_s = fmin(1.6 * *stride_s, STRIDE_MOST_S);
      else if (change > 0.12)
        *stride_s = fmax(0.6 * *stride_s, least_s);
      /* again, now between two known means */
      tv_vehicle_go_back(v, TV_AT_STRIDE);
      return tv_vehicle_glide(v, to_s);
    }
    *stride_s = fmax(0.4 * (to_s - from_s), least_s);
    tv_vehicle_go_back(v, TV_AT_STRIDE);
  }
}

static enum tailvolt_status stride_down(struct tv_vehicle *v) {
  struct ahead ahead = {true, v->options->soc_limit_frac > 0 || !isnan(v->options->rest_limit_v), 0};
  enum tailvolt_status status = tv_vehicle_begin_slow(v);
  double stride_s = 0;
  v->start_c = charge_left_c(v->slow);
  v->count = 0;
  for (int row = 0; status == TAILVOLT_OK && row < v->rows.count; row++) {
    struct tv_checkpoint *c;
    if ((status = tv_vehicle_add_checkpoint(v, &c)) != TAILVOLT_OK) return status;
    if ((status = tv_vehicle_probe(v, row, tv_vehicle_window_s(v, row, v->slow_s), c)) != TAILVOLT_OK)
      return status;
    v->count++;
    stride_s = fmin(FIRST_STRIDE_FRAC * charge_left_c(v->slow) / fmax(c->total_a, 1e-3), STRIDE_MOST_S);
    double row_end_s = fmin(tv_parked_row_end_s(&v->rows, row), v->end_s);
    while (v->slow_s < row_end_s - v->window_s - v->lead_s - 1) {
      if ((status = take_stride(v, row, &stride_s)) != TAILVOLT_OK) return status;
      if (v->why_full[0] != '\0') return TAILVOLT_OK;
      if ((status = look(v, &ahead)) != TAILVOLT_OK) return status;
      if (over(v, &ahead, &v->checkpoint[v->count - 1])) return TAILVOLT_OK;
      if ((status = tv_vehicle_tell(v, 0.5 * (1 - charge_left_c(v->slow) / v->start_c))) != TAILVOLT_OK)
        return status;
    }
    if (v->slow_s >= v->end_s - v->window_s - v->lead_s - 1) break;
    status = tv_vehicle_glide(v, row_end_s);
  }
  return status;
}

/* ---- the times, with the means as they stand ---- */

/* Between a moment that starts the car and one that does not; the slow run stands at the latter. */
static enum tailvolt_status narrow_restart(struct tv_vehicle *v, double low_v, double high_v) {
  double low_s = v->kept_s[TV_AT_PASS], high_s = v->slow_s, floor_v = v->options->floor_v;
  while (high_s - low_s > TV_PARKED_GRAIN_S) {
    tv_vehicle_go_back(v, TV_AT_PASS);
    /* the line's crossing, kept off the ends */
    double part = (low_v - floor_v) / fmax(low_v - high_v, 1e-9);
    double cranking_v, middle_s = low_s + fmin(fmax(part, 0.1), 0.9) * (high_s - low_s);
    enum tailvolt_status status = tv_vehicle_glide(v, middle_s);
    if (status != TAILVOLT_OK || (status = crank(v, &cranking_v)) != TAILVOLT_OK) return status;
    if (cranking_v >= floor_v) {
      low_s = middle_s;
      low_v = cranking_v;
      tv_vehicle_keep(v, TV_AT_PASS);
    } else {
      high_s = middle_s;
      high_v = cranking_v;
    }
  }
  v->times.restart_s = low_s + (high_s - low_s) * (low_v - floor_v) / fmax(low_v - high_v, 1e-9);
  return TAILVOLT_OK;
}

/* On to `to_s` in pieces, watching the limit. */
static enum tailvolt_status walk(struct tv_vehicle *v, double to_s) {
  double from_s = v->slow_s, pieces = 8;
  int battery;
  bool by_voltage;
  double above = tv_vehicle_above_limit(v, v->slow, &battery, &by_voltage);
  for (int k = 1; k <= (int)pieces; k++) {
    double before_s = v->slow_s;
    enum tailvolt_status status =
        tv_vehicle_glide(v, k == (int)pieces ? to_s : from_s + (to_s - from_s) * k / pieces);
    if (status != TAILVOLT_OK) return status;
    double now = tv_vehicle_above_limit(v, v->slow, &battery, &by_voltage);
    if (isnan(v->times.limit_s) && now <= 0) {
      v->times.limit_s = above > 0 ? before_s + (v->slow_s - before_s) * above / (above - now) : before_s;
      v->times.limit_battery = battery;
      v->times.limit_by_voltage = by_voltage;
    }
    above = now;
  }
  return TAILVOLT_OK;
}

static bool all_seen(const struct tv_vehicle *v) {
  bool limit = v->options->soc_limit_frac > 0 || !isnan(v->options->rest_limit_v);
  return !isnan(v->times.restart_s) && (!limit || !isnan(v->times.limit_s));
}

static enum tailvolt_status find_times(struct tv_vehicle *v) {
  v->times = (struct tv_parked_times){(double)NAN, (double)NAN, (double)NAN, 0, 0, false};
  v->moment_count = 0;
  enum tailvolt_status status = tv_vehicle_begin_slow(v);
  if (status != TAILVOLT_OK) return status;
  double last_v = (double)NAN;
  for (int k = 0; k <= v->count; k++) {
    bool last = k == v->count;
    double to_s = last ? v->end_s : tv_vehicle_stood_s(v, k);
    /* beyond the last checkpoint nothing is known, but where the time looked at ends first */
    if (last && v->end_s > v->checkpoint[k - 1].time_s + 2 * (v->window_s + v->lead_s)) break;
    const struct tv_checkpoint *c = &v->checkpoint[last ? k - 1 : k];
    if (to_s > v->slow_s && (status = walk(v, to_s)) != TAILVOLT_OK) return status;
    double cranking_v, here_s = v->slow_s;
    status = tv_vehicle_note_moment(v, v->slow, here_s, c->total_a, c->min_v, &cranking_v);
    if (status != TAILVOLT_OK) return status;
    if (!isnan(v->times.restart_s)) continue;
    if (cranking_v >= v->options->floor_v) {
      last_v = cranking_v;
      tv_vehicle_keep(v, TV_AT_PASS);
      continue;
    }
    if (isnan(last_v)) {
      v->times.restart_s = v->begin_s;
      continue;
    }
    tv_vehicle_keep(v, TV_AT_TRIP);
    if ((status = narrow_restart(v, last_v, cranking_v)) != TAILVOLT_OK) return status;
    tv_vehicle_go_back(v, TV_AT_TRIP);
  }
  v->followed_s = v->slow_s;
  return TAILVOLT_OK;
}

/* ---- strides halved ---- */

/* Whether the means on both sides of a new checkpoint run straight: then they are settled. */
static void judge_line(struct tv_vehicle *v, int at) {
  if (at == 0 || at + 1 >= v->count) return;
  struct tv_checkpoint *low = &v->checkpoint[at - 1], *c = low + 1, *high = low + 2;
  c->settled = false;
  if (low->row != c->row || high->row != c->row || low->trips != high->trips) return;
  double part = (c->time_s - low->time_s) / (high->time_s - low->time_s);
  double line_a = low->total_a + part * (high->total_a - low->total_a);
  low->settled = c->settled = fabs(c->total_a - line_a) <= STRAIGHT_FRAC * fabs(line_a);
}

static enum tailvolt_status halve(struct tv_vehicle *v, double until_s) {
  enum tailvolt_status status = tv_vehicle_begin_slow(v);
  double least_s = 4 * (v->window_s + v->lead_s);
  for (int k = 0; status == TAILVOLT_OK && k + 1 < v->count; k++) {
    const struct tv_checkpoint *a = &v->checkpoint[k], *b = a + 1;
    if (a->row != b->row || a->settled || b->time_s - a->time_s < least_s) continue;
    if (a->time_s > until_s) break;
    int row = a->row;
    double middle_s = 0.5 * (a->time_s + b->time_s) - 0.5 * v->window_s - v->lead_s;
    struct tv_checkpoint *c;
    if ((status = tv_vehicle_glide(v, middle_s)) != TAILVOLT_OK) return status;
    if ((status = tv_vehicle_add_checkpoint(v, &c)) != TAILVOLT_OK) return status;
    if ((status = tv_vehicle_probe(v, row, tv_vehicle_window_s(v, row, middle_s), c)) != TAILVOLT_OK)
      return status;
    int at = tv_vehicle_settle_in(v);
    judge_line(v, at);
    if (at == k + 1) k++;
  }
  return status;
}

static bool agree(double before_s, double now_s, double begin_s) {
  if (isnan(before_s) || isnan(now_s)) return isnan(before_s) && isnan(now_s);
  return fabs(now_s - before_s) <= fmax(AGREE_FRAC * (now_s - begin_s), 0.5);
}

int tv_vehicle_first_trip(const struct tv_vehicle *v) {
  for (int k = 0; k < v->count; k++)
    if (v->checkpoint[k].trips) return k;
  return -1;
}

/* Where the falling margin meets zero; only to see whether it still moves. */
static double margin_end_s(const struct tv_vehicle *v) {
  int k = tv_vehicle_first_trip(v);
  if (k < 1) return k == 0 ? v->begin_s : (double)NAN;
  return v->checkpoint[k - 1].time_s;
}

static enum tailvolt_status refine(struct tv_vehicle *v) {
  enum tailvolt_status status = find_times(v);
  for (v->passes = 1; status == TAILVOLT_OK && v->passes < PASSES_MOST && !v->quick; v->passes++) {
    struct tv_parked_times before = v->times;
    double taken_c = v->taken_c,
           until_s = all_seen(v) ? fmax(v->times.restart_s, v->times.limit_s) : HUGE_VAL;
    double trip_s = margin_end_s(v);
    until_s = isnan(trip_s) || isnan(until_s) ? HUGE_VAL : fmax(until_s, trip_s);
    if ((status = halve(v, until_s)) != TAILVOLT_OK || (status = find_times(v)) != TAILVOLT_OK) break;
    if ((status = tv_vehicle_tell(v, 0.5 + 0.1 * v->passes)) != TAILVOLT_OK) break;
    if (agree(before.restart_s, v->times.restart_s, v->begin_s) &&
        agree(before.limit_s, v->times.limit_s, v->begin_s) &&
        fabs(v->taken_c - taken_c) <= AGREE_FRAC * v->taken_c) {
      v->passes++;
      break;
    }
  }
  return status;
}

static double end_of(const struct tv_vehicle *v) {
  return fmin(fmin(v->times.restart_s, v->times.cut_out_s), fmin(v->times.limit_s, v->end_s));
}

enum tailvolt_status tv_vehicle_play(struct tv_vehicle *v, double *until_s) {
  enum tailvolt_status status = stride_down(v);
  if (status != TAILVOLT_OK || v->why_full[0] != '\0') return status;
  if ((status = refine(v)) != TAILVOLT_OK) return status;
  if ((status = tv_vehicle_find_cut_out(v)) != TAILVOLT_OK) return status;
  *until_s = end_of(v);
  if ((status = tv_vehicle_begin_slow(v)) != TAILVOLT_OK) return status;
  return tv_vehicle_glide(v, *until_s);
}

struct tv_run *tv_vehicle_run(struct tv_vehicle *v) {
  return v->options->full || v->why_full[0] != '\0' ? v->fine : v->slow;
}
