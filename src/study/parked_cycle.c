/* The cycle of the music in which a time falls, followed step by step.
 *
 * The slow run takes charge at the mean rate of a cycle, so that it agrees with the fine run at the ends of whole cycles alone. Music
 * mostly begins with its loud half: what a limit of charge or a start asks for is then gone sooner than by the mean, by up to a quarter
 * of a minute in a cycle of two minutes, which is much of a short evening. So the fine run plays the cycle that holds such a time, and the
 * one after it in case the time falls near the end, from the slow run's state at its beginning. */
#include <math.h>

#include "study/parked.h"

#define SLICE_S 2.0
#define CYCLES 2
#define WORTH_FRAC 5e-4 /* a cycle shorter than this share of the time cannot move it by more than a fraction of that */

struct cycle {
  struct tv_parked_search *search;
  double at_s, end_s; /* of the fine run */
};

/* Puts both runs where the cycle around a time begins. Cycles are counted from the beginning of the row: there the means begin. */
static enum tailvolt_status begin(struct cycle *c, double time_s) {
  struct tv_parked_search *search = c->search;
  int row = tv_parked_row_at(&search->rows, time_s);
  double row_s = search->rows.row[row].time_s;
  c->at_s = row_s + fmax(floor((time_s - row_s) / search->window_s), 0) * search->window_s;
  c->end_s = fmin(c->at_s + CYCLES * search->window_s, search->end_s);
  enum tailvolt_status status = tv_search_start_slow(search);
  if (status == TAILVOLT_OK) status = tv_search_advance_slow(search, c->at_s);
  if (status == TAILVOLT_OK) status = tv_search_sync_fine(search, row);
  /* these times stand on their own terms, as if an amplifier that has cut out played on */
  tv_search_comparators(search, false);
  return status;
}

static enum tailvolt_status advance(struct cycle *c, double to_s) {
  struct tv_parked_search *search = c->search;
  enum tailvolt_status status = TAILVOLT_OK;
  while (status == TAILVOLT_OK && c->at_s < to_s) {
    int row = tv_parked_row_at(&search->rows, c->at_s);
    double next_s = fmin(tv_parked_row_end_s(&search->rows, row), to_s);
    status = tv_search_play(search, row, c->at_s, next_s);
    c->at_s = next_s;
  }
  return status;
}

static bool is_worth(const struct tv_parked_search *search, double time_s) {
  return search->window_s > WORTH_FRAC * (time_s - search->begin_s) && time_s > search->begin_s;
}

static enum tailvolt_status follow_limit(struct tv_parked_search *search) {
  struct cycle c = {.search = search};
  int battery;
  bool by_voltage;
  if (isnan(search->times.limit_s) || !is_worth(search, search->times.limit_s)) return TAILVOLT_OK;
  enum tailvolt_status status = begin(&c, search->times.limit_s);
  double above = tv_search_above_limit(search, search->fine, &battery, &by_voltage);
  while (status == TAILVOLT_OK && c.at_s < c.end_s && above > 0) {
    double from_s = c.at_s, before = above;
    if ((status = advance(&c, fmin(from_s + SLICE_S, c.end_s))) != TAILVOLT_OK) break;
    above = tv_search_above_limit(search, search->fine, &battery, &by_voltage);
    if (above > 0) continue;
    search->times.limit_s = from_s + (c.at_s - from_s) * before / (before - above);
    search->times.limit_battery = battery;
    search->times.limit_by_voltage = by_voltage;
  }
  return status;
}

static enum tailvolt_status crank(struct cycle *c, double *margin_v) {
  struct tv_parked_search *search = c->search;
  struct tv_start_outcome outcome = {0};
  int row = tv_parked_row_at(&search->rows, c->at_s);
  enum tailvolt_status status =
      tv_start_trial_run(&search->start, search->fine, &search->rows.row[row], c->at_s, search->options, &outcome);
  *margin_v = outcome.margin_v;
  return status;
}

/* Between the cycle's beginning, where it starts, and a moment where it does not: a few tries, each a start. */
static enum tailvolt_status follow_restart(struct tv_parked_search *search) {
  struct cycle c = {.search = search};
  double low_v, high_v;
  if (isnan(search->times.restart_s) || !is_worth(search, search->times.restart_s)) return TAILVOLT_OK;
  enum tailvolt_status status = begin(&c, search->times.restart_s);
  if (status != TAILVOLT_OK || (status = crank(&c, &low_v)) != TAILVOLT_OK || low_v < 0) return status;
  double low_s = c.at_s, step_s = fmax(search->window_s / 8, TV_PARKED_GRAIN_S);
  while (c.at_s < c.end_s) {
    status = advance(&c, fmin(low_s + step_s, c.end_s));
    if (status != TAILVOLT_OK || (status = crank(&c, &high_v)) != TAILVOLT_OK) return status;
    if (high_v < 0) {
      search->times.restart_s = low_s + (c.at_s - low_s) * low_v / fmax(low_v - high_v, 1e-9);
      break;
    }
    low_s = c.at_s;
    low_v = high_v;
  }
  return status;
}

enum tailvolt_status tv_search_follow_cycles(struct tv_parked_search *search) {
  enum tailvolt_status status = follow_limit(search);
  if (status == TAILVOLT_OK) status = follow_restart(search);
  tv_search_comparators(search, true);
  return status;
}

double tv_search_by_means_s(const struct tv_parked_search *search, double until_s) {
  switch (tv_search_ended_by(search, until_s)) {
  case TAILVOLT_ENDS_BY_RESTART: return search->by_means.restart_s;
  case TAILVOLT_ENDS_BY_REST_LIMIT: return search->by_means.limit_s;
  default: return until_s;
  }
}
