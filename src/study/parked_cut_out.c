/* The time of the first cut-out, by checkpoints.
 *
 * A window that cuts out and one before it that does not are narrowed down. But each block of beats has its
 * own order, and voltage dips deeper in some than in others: over an evening the first cut-out falls on an
 * unlucky order, possibly before any window has met one. So the fine run plays through the stretch in which
 * that may happen, found from the range of the dips and the slope at which they fall. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_fit.h>
#include <math.h>
#include <string.h>

#include "study/parked.h"

#define QUICK_CUT_OUT_FRAC 0.04 /* the margin's line does the rest */
#define LUCK_WINDOWS 7 /* further windows that show how much beat order matters */
#define QUICK_WINDOWS 3 /* ... in the quick search, and for windows so long that each holds many orders: */
#define MANY_ORDERS_S 30.0
#define LUCK_RANGES 1.5   /* no beat order falls further below the windows' mean than this */
#define LIKELY_RANGES 0.8 /* ... and by this margin one has usually come by */
#define SCAN_MOST_S 1500.0

int tv_search_first_trip(const struct tv_parked_search *search) {
  for (int k = 0; k < search->count; k++)
    if (search->checkpoint[k].trips) return k;
  return -1;
}

/* Where to look between a window without and one with a cut-out: at the margin's zero, every third time in
 * the middle. */
static double crossing(const struct tv_checkpoint *a, const struct tv_checkpoint *b, int round) {
  double fall_v = a->margin_v - b->margin_v;
  if (round % 3 == 2 || !(fall_v > 0) || !isfinite(fall_v)) return 0.5;
  /* slightly to the far side, so that the next try comes from there */
  double part = a->margin_v / fall_v + (round % 3 == 0 ? 0.03 : -0.03);
  return fmin(fmax(part, 0.1), 0.9);
}

/* Halves the interval between a window without a cut-out and one with it; the slow run is kept at the
 * former. */
static enum tailvolt_status narrow_cut_out(struct tv_parked_search *search, int *trip, double grain_frac) {
  enum tailvolt_status status = TAILVOLT_OK;
  int high = *trip;
  /* The pass that found the other times came by there. It differs in where its steps ended, by a millionth of the time; with batteries
   * that share the current, by more. */
  if (search->is_quick && search->system->battery_count == 1) {
    tv_search_restore(search, TV_AT_CALM);
  } else if ((status = tv_search_start_slow(search)) == TAILVOLT_OK) {
    status = tv_search_advance_slow(search, tv_search_slow_time_s(search, high - 1));
  }
  tv_search_save(search, TV_AT_TRIP);
  for (int round = 0; status == TAILVOLT_OK; round++) {
    const struct tv_checkpoint *a = &search->checkpoint[high - 1], *b = a + 1;
    double gap_s = b->time_s - a->time_s;
    double grain_s =
        fmax(2 * (search->window_s + search->lead_s), grain_frac * (b->time_s - search->begin_s));
    if (gap_s <= grain_s || a->row != b->row) break;
    double middle_s = fmax(
        a->time_s + crossing(a, b, round) * gap_s - 0.5 * search->window_s - search->lead_s, search->slow_s);
    int row = a->row;
    struct tv_checkpoint *c;
    if ((status = tv_search_advance_slow(search, middle_s)) != TAILVOLT_OK) break;
    if ((status = tv_search_add_checkpoint(search, &c)) != TAILVOLT_OK) break;
    if ((status = tv_search_play_window(search, row, tv_search_window_s(search, row, middle_s), c)) !=
        TAILVOLT_OK)
      break;
    int at = tv_search_insert_checkpoint(search);
    if (search->checkpoint[at].trips) {
      high = at;
      tv_search_restore(search, TV_AT_TRIP);
    } else {
      high = at + 1;
      tv_search_save(search, TV_AT_TRIP);
    }
  }
  *trip = high;
  return status;
}

/* How the margin falls around the cut-out: its mean and range over windows that differ only in beat order, and
 * its slope. */
struct fall {
  double mean_v, range_v, per_s, zero_v;
};

/* The margin at which it cuts out: not quite zero, since the voltage must stay low for a while. */
static double zero_margin_v(const struct tv_parked_search *search, int trip) {
  double trips_v = -HUGE_VAL, plays_v = HUGE_VAL;
  for (int k = 0; k < search->count; k++) {
    const struct tv_checkpoint *c = &search->checkpoint[k];
    if (c->row != search->checkpoint[trip - 1].row || c->collapses) continue;
    if (c->trips)
      trips_v = fmax(trips_v, c->margin_v);
    else
      plays_v = fmin(plays_v, c->margin_v);
  }
  return isfinite(trips_v) && isfinite(plays_v) ? fmin(0.5 * (trips_v + plays_v), 0) : 0;
}

/* Slope of the margin over time by least squares, from checkpoints with a similar margin. */
static double slope_per_s(const struct tv_parked_search *search, int trip, double mean_v, double reach_v) {
  enum { POINTS_MOST = 64, POINTS_LEAST = 3 };
  double time_s[POINTS_MOST], margin_v[POINTS_MOST], intercept, slope, c00, c01, c11, rest;
  int row = search->checkpoint[trip - 1].row;
  for (int widen = 0; widen < 12; widen++, reach_v *= 1.6) {
    size_t n = 0;
    for (int k = 0; k < search->count && n < POINTS_MOST; k++) {
      const struct tv_checkpoint *c = &search->checkpoint[k];
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

static int luck_windows(const struct tv_parked_search *search) {
  return search->is_quick || search->window_s > MANY_ORDERS_S ? QUICK_WINDOWS : LUCK_WINDOWS;
}

static enum tailvolt_status look_at_fall(struct tv_parked_search *search, int trip, int windows,
                                         struct fall *fall) {
  int row = search->checkpoint[trip - 1].row;
  double first_s = search->checkpoint[trip - 1].time_s, row_end_s = tv_parked_row_end_s(&search->rows, row);
  double least_v = search->checkpoint[trip - 1].margin_v, most_v = least_v, sum_v = least_v;
  int count = 1;
  /* for long music the same two pieces are played every time: there is no other order */
  for (int k = 1; k <= windows && !search->sampled; k++) {
    double start_s = first_s + (k - 0.5) * search->window_s, stands_s = search->slow_s;
    if (start_s + search->window_s > row_end_s) break;
    struct tv_checkpoint *c;
    enum tailvolt_status status = tv_search_add_checkpoint(search, &c);
    if (status != TAILVOLT_OK) return status;
    /* all played from the same state */
    search->slow_s = start_s - search->lead_s;
    status = tv_search_play_window(search, row, start_s, c);
    search->slow_s = stands_s;
    if (status != TAILVOLT_OK) return status;
    least_v = fmin(least_v, c->margin_v);
    most_v = fmax(most_v, c->margin_v);
    sum_v += c->margin_v;
    count++;
  }
  *fall = (struct fall){sum_v / count, most_v - least_v, 0, zero_margin_v(search, trip)};
  fall->per_s = slope_per_s(search, trip, fall->mean_v, fmax(4 * fall->range_v, 0.05));
  return TAILVOLT_OK;
}

/* When the mean margin is still this many ranges above zero. */
static double when_above(const struct tv_parked_search *search, int trip, const struct fall *fall,
                         double ranges) {
  double here_s = search->checkpoint[trip - 1].time_s;
  return fall->per_s < 0 ? here_s + (fall->mean_v - fall->zero_v - ranges * fall->range_v) / -fall->per_s
                         : here_s;
}

/* No window cuts out; but near the end a beat order that no window held might. */
static enum tailvolt_status find_unlucky_end(struct tv_parked_search *search) {
  struct fall fall;
  int last = search->count - 1, row = search->checkpoint[last].row;
  const struct tv_checkpoint *c = &search->checkpoint[last];
  if (!isfinite(c->margin_v) || search->count < 2 ||
      search->end_s - c->time_s > 2 * (search->window_s + search->lead_s))
    return TAILVOLT_OK;
  double start_s = c->time_s - 0.5 * search->window_s;
  enum tailvolt_status status = tv_search_start_slow(search);
  if (status == TAILVOLT_OK) status = tv_search_advance_slow(search, tv_search_slow_time_s(search, last));
  tv_search_save(search, TV_AT_TRIP);
  if (status == TAILVOLT_OK) status = look_at_fall(search, last + 1, luck_windows(search), &fall);
  struct tv_checkpoint *raised;
  if (status == TAILVOLT_OK) status = tv_search_add_checkpoint(search, &raised);
  if (status != TAILVOLT_OK) return status;
  for (int k = 0; k < search->system->amplifier_count; k++)
    if (search->system->amplifiers[k].cut_out_v > 0)
      search->fine->amplifier[k].cut_out_v += LUCK_RANGES * fall.range_v;
  tv_search_restore(search, TV_AT_TRIP);
  status = tv_search_play_window(search, row, start_s, raised);
  tv_search_comparators(search, true);
  if (status != TAILVOLT_OK || !raised->trips) return status;
  if ((status = tv_search_start_slow(search)) != TAILVOLT_OK) return status;
  status = tv_search_advance_slow(search, fmax(search->end_s - SCAN_MOST_S, search->rows.row[row].time_s));
  return status == TAILVOLT_OK ? tv_search_scan(search, search->end_s, &search->times.cut_out_s,
                                                &search->times.cut_out_amplifier)
                               : status;
}

enum tailvolt_status tv_search_cut_out(struct tv_parked_search *search) {
  enum tailvolt_status status;
  int trip = tv_search_first_trip(search), row;
  if (trip < 0) return search->is_quick ? TAILVOLT_OK : find_unlucky_end(search);
  if (trip == 0) {
    if ((status = tv_search_start_slow(search)) != TAILVOLT_OK) return status;
    return tv_search_scan(search, search->checkpoint[0].time_s + search->window_s, &search->times.cut_out_s,
                          &search->times.cut_out_amplifier);
  }
  row = search->checkpoint[trip].row;
  if (search->checkpoint[trip - 1].row != row) {
    /* loud from the first beat of a row */
    if ((status = tv_search_start_slow(search)) != TAILVOLT_OK) return status;
    if ((status = tv_search_advance_slow(search, tv_search_slow_time_s(search, trip - 1))) != TAILVOLT_OK)
      return status;
    return tv_search_scan(search, search->checkpoint[trip].time_s + search->window_s,
                          &search->times.cut_out_s, &search->times.cut_out_amplifier);
  }
  if ((status = narrow_cut_out(search, &trip, search->is_quick ? QUICK_CUT_OUT_FRAC : 0.0025)) != TAILVOLT_OK)
    return status;
  double high_s = search->checkpoint[trip].time_s + 0.5 * search->window_s;
  struct fall fall;
  tv_search_restore(search, TV_AT_TRIP);
  if ((status = look_at_fall(search, trip, luck_windows(search), &fall)) !=
      TAILVOLT_OK)
    return status;
  if (search->is_quick) {
    /* the first of many blocks to cut out is about the worst of a few */
    double likely_s = when_above(search, trip, &fall, LIKELY_RANGES);
    search->times.cut_out_s = fmax(fmin(likely_s, high_s), search->rows.row[row].time_s);
    search->times.likely = true;
    return TAILVOLT_OK;
  }
  double from_s = fmin(when_above(search, trip, &fall, LUCK_RANGES), search->kept_s[TV_AT_TRIP]);
  double likely_s = when_above(search, trip, &fall, LIKELY_RANGES);
  from_s = fmax(from_s, fmin(likely_s, high_s) - 0.6 * SCAN_MOST_S) - search->lead_s;
  from_s = fmax(from_s, search->rows.row[row].time_s);
  if (from_s < search->kept_s[TV_AT_TRIP]) {
    if ((status = tv_search_start_slow(search)) != TAILVOLT_OK) return status;
    if ((status = tv_search_advance_slow(search, from_s)) != TAILVOLT_OK) return status;
  } else {
    tv_search_restore(search, TV_AT_TRIP);
  }
  status = tv_search_scan(search, high_s + search->window_s, &search->times.cut_out_s,
                          &search->times.cut_out_amplifier);
  if (status == TAILVOLT_OK && isnan(search->times.cut_out_s))
    search->times.cut_out_s = search->checkpoint[trip].time_s;
  return status;
}
