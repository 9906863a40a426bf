/* The moment of the first cut-out, by checkpoints.
 *
 * A window that cuts out and one before it that does not are drawn together. But each block of beats has an
 * order of its own, and the voltage dips deeper in some than in others: over an evening the first cut-out
 * comes to an unlucky order, before any window need have met one. So the fine run plays through the time in
 * which that may happen, which the range of the dips and the slope of their fall tell. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_fit.h>
#include <math.h>

#include "study/parked.h"

#define LUCK_WINDOWS 7 /* further windows that show how much the order of the beats matters */
#define QUICK_WINDOWS 3
#define LUCK_RANGES 1.5   /* no order of beats falls further below the mean of the windows than this */
#define LIKELY_RANGES 0.8 /* ... and one that has come by so far commonly this */
#define SCAN_MOST_S 1500.0

/* Where to look between a window without and one with a cut-out: the margin's zero, every third time the
 * middle. */
static double crossing(const struct tv_checkpoint *a, const struct tv_checkpoint *b, int round) {
  double fall_v = a->margin_v - b->margin_v;
  if (round % 3 == 2 || !(fall_v > 0) || !isfinite(fall_v)) return 0.5;
  /* a little to the far side, so that the next look comes from there */
  double part = a->margin_v / fall_v + (round % 3 == 0 ? 0.03 : -0.03);
  return fmin(fmax(part, 0.1), 0.9);
}

/* Halves the time between a window without a cut-out and one with it; the slow run is kept at the former. */
static enum tailvolt_status narrow_cut_out(struct tv_vehicle *v, int *trip, double grain_frac) {
  enum tailvolt_status status = tv_vehicle_begin_slow(v);
  int high = *trip;
  if (status == TAILVOLT_OK) status = tv_vehicle_glide(v, tv_vehicle_stood_s(v, high - 1));
  tv_vehicle_keep(v, TV_AT_TRIP);
  for (int round = 0; status == TAILVOLT_OK; round++) {
    const struct tv_checkpoint *a = &v->checkpoint[high - 1], *b = a + 1;
    double gap_s = b->time_s - a->time_s;
    double grain_s = fmax(2 * (v->window_s + v->lead_s), grain_frac * (b->time_s - v->begin_s));
    if (gap_s <= grain_s || a->row != b->row) break;
    double middle_s =
        fmax(a->time_s + crossing(a, b, round) * gap_s - 0.5 * v->window_s - v->lead_s, v->slow_s);
    int row = a->row;
    struct tv_checkpoint *c;
    if ((status = tv_vehicle_glide(v, middle_s)) != TAILVOLT_OK) break;
    if ((status = tv_vehicle_add_checkpoint(v, &c)) != TAILVOLT_OK) break;
    if ((status = tv_vehicle_probe(v, row, tv_vehicle_window_s(v, row, middle_s), c)) != TAILVOLT_OK) break;
    int at = tv_vehicle_settle_in(v);
    if (v->checkpoint[at].trips) {
      high = at;
      tv_vehicle_go_back(v, TV_AT_TRIP);
    } else {
      high = at + 1;
      tv_vehicle_keep(v, TV_AT_TRIP);
    }
  }
  *trip = high;
  return status;
}

/* How the margin falls about the cut-out: its mean and range over windows that differ only in the order of their
 * beats, and its slope. */
struct fall {
  double mean_v, range_v, per_s, zero_v;
};

/* The margin at which it cuts out: not quite zero, for the voltage must stay low for a while. */
static double zero_margin_v(const struct tv_vehicle *v, int trip) {
  double trips_v = -HUGE_VAL, plays_v = HUGE_VAL;
  for (int k = 0; k < v->count; k++) {
    const struct tv_checkpoint *c = &v->checkpoint[k];
    if (c->row != v->checkpoint[trip - 1].row || c->collapses) continue;
    if (c->trips)
      trips_v = fmax(trips_v, c->margin_v);
    else
      plays_v = fmin(plays_v, c->margin_v);
  }
  return isfinite(trips_v) && isfinite(plays_v) ? fmin(0.5 * (trips_v + plays_v), 0) : 0;
}

/* Slope of the margin over time by least squares, from the checkpoints whose margin is near. */
static double slope_per_s(const struct tv_vehicle *v, int trip, double mean_v, double reach_v) {
  enum { POINTS_MOST = 64, POINTS_LEAST = 3 };
  double time_s[POINTS_MOST], margin_v[POINTS_MOST], intercept, slope, c00, c01, c11, rest;
  int row = v->checkpoint[trip - 1].row;
  for (int widen = 0; widen < 12; widen++, reach_v *= 1.6) {
    size_t n = 0;
    for (int k = 0; k < v->count && n < POINTS_MOST; k++) {
      const struct tv_checkpoint *c = &v->checkpoint[k];
      if (c->row != row || c->collapses || !(fabs(c->margin_v - mean_v) <= reach_v)) continue;
      time_s[n] = c->time_s;
      margin_v[n++] = c->margin_v;
    }
    if (n < POINTS_LEAST || !(time_s[n - 1] > time_s[0])) continue;
    if (gsl_fit_linear(time_s, 1, margin_v, 1, n, &intercept, &slope, &c00, &c01, &c11, &rest) == GSL_SUCCESS)
      return slope;
  }
  return 0;
}

static enum tailvolt_status look_at_fall(struct tv_vehicle *v, int trip, int windows, struct fall *fall) {
  int row = v->checkpoint[trip - 1].row;
  double first_s = v->checkpoint[trip - 1].time_s, row_end_s = tv_parked_row_end_s(&v->rows, row);
  double least_v = v->checkpoint[trip - 1].margin_v, most_v = least_v, sum_v = least_v;
  int count = 1;
  for (int k = 1; k <= windows; k++) {
    double start_s = first_s + (k - 0.5) * v->window_s, stands_s = v->slow_s;
    if (start_s + v->window_s > row_end_s) break;
    struct tv_checkpoint *c;
    enum tailvolt_status status = tv_vehicle_add_checkpoint(v, &c);
    if (status != TAILVOLT_OK) return status;
    /* all played from the same state */
    v->slow_s = start_s - v->lead_s;
    status = tv_vehicle_probe(v, row, start_s, c);
    v->slow_s = stands_s;
    if (status != TAILVOLT_OK) return status;
    least_v = fmin(least_v, c->margin_v);
    most_v = fmax(most_v, c->margin_v);
    sum_v += c->margin_v;
    count++;
  }
  *fall = (struct fall){sum_v / count, most_v - least_v, 0, zero_margin_v(v, trip)};
  fall->per_s = slope_per_s(v, trip, fall->mean_v, fmax(4 * fall->range_v, 0.05));
  return TAILVOLT_OK;
}

/* When the mean margin is still so many ranges above zero. */
static double when_above(const struct tv_vehicle *v, int trip, const struct fall *fall, double ranges) {
  double here_s = v->checkpoint[trip - 1].time_s;
  return fall->per_s < 0 ? here_s + (fall->mean_v - fall->zero_v - ranges * fall->range_v) / -fall->per_s
                         : here_s;
}

/* No window cuts out; but near the end an order of beats that no window held may. */
static enum tailvolt_status find_unlucky_end(struct tv_vehicle *v) {
  struct fall fall;
  int last = v->count - 1, row = v->checkpoint[last].row;
  const struct tv_checkpoint *c = &v->checkpoint[last];
  if (!isfinite(c->margin_v) || v->count < 2 || v->end_s - c->time_s > 2 * (v->window_s + v->lead_s))
    return TAILVOLT_OK;
  double start_s = c->time_s - 0.5 * v->window_s;
  enum tailvolt_status status = tv_vehicle_begin_slow(v);
  if (status == TAILVOLT_OK) status = tv_vehicle_glide(v, tv_vehicle_stood_s(v, last));
  tv_vehicle_keep(v, TV_AT_TRIP);
  if (status == TAILVOLT_OK) status = look_at_fall(v, last + 1, LUCK_WINDOWS, &fall);
  struct tv_checkpoint *raised;
  if (status == TAILVOLT_OK) status = tv_vehicle_add_checkpoint(v, &raised);
  if (status != TAILVOLT_OK) return status;
  for (int k = 0; k < v->system->amplifier_count; k++)
    if (v->system->amplifiers[k].cut_out_v > 0) v->fine->amplifier[k].cut_out_v += LUCK_RANGES * fall.range_v;
  tv_vehicle_go_back(v, TV_AT_TRIP);
  status = tv_vehicle_probe(v, row, start_s, raised);
  tv_parked_comparators(v->fine, true);
  if (status != TAILVOLT_OK || !raised->trips) return status;
  if ((status = tv_vehicle_begin_slow(v)) != TAILVOLT_OK) return status;
  status = tv_vehicle_glide(v, fmax(v->end_s - SCAN_MOST_S, v->rows.row[row].time_s));
  return status == TAILVOLT_OK
             ? tv_vehicle_scan(v, v->end_s, &v->times.cut_out_s, &v->times.cut_out_amplifier)
             : status;
}

enum tailvolt_status tv_vehicle_find_cut_out(struct tv_vehicle *v) {
  enum tailvolt_status status;
  int trip = tv_vehicle_first_trip(v), row;
  if (trip < 0) return v->quick ? TAILVOLT_OK : find_unlucky_end(v);
  if (trip == 0) {
    if ((status = tv_vehicle_begin_slow(v)) != TAILVOLT_OK) return status;
    return tv_vehicle_scan(v, v->checkpoint[0].time_s + v->window_s, &v->times.cut_out_s,
                           &v->times.cut_out_amplifier);
  }
  row = v->checkpoint[trip].row;
  if (v->checkpoint[trip - 1].row != row) {
    /* loud from the first beat of a row on */
    if ((status = tv_vehicle_begin_slow(v)) != TAILVOLT_OK) return status;
    if ((status = tv_vehicle_glide(v, tv_vehicle_stood_s(v, trip - 1))) != TAILVOLT_OK) return status;
    return tv_vehicle_scan(v, v->checkpoint[trip].time_s + v->window_s, &v->times.cut_out_s,
                           &v->times.cut_out_amplifier);
  }
  if ((status = narrow_cut_out(v, &trip, v->quick ? 0.01 : 0.0025)) != TAILVOLT_OK) return status;
  double high_s = v->checkpoint[trip].time_s + 0.5 * v->window_s;
  struct fall fall;
  tv_vehicle_go_back(v, TV_AT_TRIP);
  if ((status = look_at_fall(v, trip, v->quick ? QUICK_WINDOWS : LUCK_WINDOWS, &fall)) != TAILVOLT_OK)
    return status;
  if (v->quick) {
    /* the first of many blocks to cut out is about the worst of a few */
    double likely_s = when_above(v, trip, &fall, LIKELY_RANGES);
    v->times.cut_out_s = fmin(fmax(likely_s, v->rows.row[row].time_s), high_s);
    return TAILVOLT_OK;
  }
  double from_s = fmin(when_above(v, trip, &fall, LUCK_RANGES), v->kept_s[TV_AT_TRIP]);
  double likely_s = when_above(v, trip, &fall, LIKELY_RANGES);
  from_s = fmax(from_s, fmin(likely_s, high_s) - 0.6 * SCAN_MOST_S) - v->lead_s;
  from_s = fmax(from_s, v->rows.row[row].time_s);
  if (from_s < v->kept_s[TV_AT_TRIP]) {
    if ((status = tv_vehicle_begin_slow(v)) != TAILVOLT_OK) return status;
    if ((status = tv_vehicle_glide(v, from_s)) != TAILVOLT_OK) return status;
  } else {
    tv_vehicle_go_back(v, TV_AT_TRIP);
  }
  status = tv_vehicle_scan(v, high_s + v->window_s, &v->times.cut_out_s, &v->times.cut_out_amplifier);
  if (status == TAILVOLT_OK && isnan(v->times.cut_out_s)) v->times.cut_out_s = v->checkpoint[trip].time_s;
  return status;
}
