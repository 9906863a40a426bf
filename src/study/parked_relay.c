/* Relays and converters of the parked car, which open and close by the voltage they sense, by one rule; called relays here.
 *
 * A relay opens where that voltage has stayed below its threshold for the whole of its delay, and between two beats it may rise above.
 * The slow run knows mean voltages alone. So the windows of the fine run, in which relays stay as the slow run has them, measure the
 * voltage that counts: the lowest that the highest voltage within any stretch of the delay's length comes to; for one that is open, the
 * highest that the lowest voltage comes to. How far that stands from the window's mean hardly changes with charge: by as much the slow
 * run's thresholds are moved. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "study/parked.h"

#define SLICE_S 0.05
#define CHATTERS 3 /* closings within a row */

static bool senses(const struct tailvolt_isolator *isolator) {
  return isolator->kind != TAILVOLT_DIODE;
}

static enum tailvolt_status own_isolators(const struct tailvolt_system *system, struct tailvolt_isolator **own) {
  *own = calloc((size_t)system->isolator_count + 1, sizeof **own);
  if (*own == NULL) return TAILVOLT_NO_MEMORY;
  if (system->isolator_count > 0) memcpy(*own, system->isolators, (size_t)system->isolator_count * sizeof **own);
  return TAILVOLT_OK;
}

/* The system that the fine run plays gets a meter at each end that is sensed. */
static enum tailvolt_status add_meters(struct tv_parked_relays *relays, struct tailvolt_system *fine) {
  size_t before = (size_t)fine->meter_count;
  relays->meter = calloc(before + 2 * (size_t)relays->count, sizeof *relays->meter);
  if (relays->meter == NULL) return TAILVOLT_NO_MEMORY;
  if (before > 0) memcpy(relays->meter, fine->meters, before * sizeof *relays->meter);
  fine->meters = relays->meter;
  for (int k = 0; k < relays->count; k++) {
    struct tv_parked_relay *relay = &relays->relay[k];
    const struct tailvolt_isolator *isolator = &fine->isolators[relay->isolator];
    relay->ends = isolator->sense_either ? 2 : 1;
    relay->first_meter = fine->meter_count;
    fine->meters[fine->meter_count++].positive = isolator->from;
    if (relay->ends == 2) fine->meters[fine->meter_count++].positive = isolator->to;
  }
  return TAILVOLT_OK;
}

enum tailvolt_status tv_relays_make(struct tv_parked_search *search, struct tailvolt_system *fine) {
  struct tv_parked_relays *relays = &search->relays;
  for (int k = 0; k < fine->isolator_count; k++) relays->count += senses(&fine->isolators[k]);
  if (relays->count == 0) return TAILVOLT_OK;
  relays->relay = calloc((size_t)relays->count, sizeof *relays->relay);
  if (relays->relay == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0, n = 0; k < fine->isolator_count; k++)
    if (senses(&fine->isolators[k])) relays->relay[n++].isolator = k;
  enum tailvolt_status status = own_isolators(fine, &relays->fine);
  if (status == TAILVOLT_OK) status = own_isolators(fine, &relays->slow);
  if (status != TAILVOLT_OK) return status;
  fine->isolators = relays->fine;
  return add_meters(relays, fine);
}

void tv_relays_free(struct tv_parked_relays *relays) {
  for (int k = 0; k < relays->count && relays->relay != NULL; k++) free(relays->relay[k].most_v);
  free(relays->relay);
  free(relays->fine);
  free(relays->slow);
  free(relays->meter);
}

void tv_relays_hold(struct tv_parked_search *search, bool hold) {
  for (int k = 0; k < search->relays.count; k++) {
    int at = search->relays.relay[k].isolator;
    const struct tailvolt_isolator *real = &search->system->isolators[at];
    search->relays.fine[at].open_delay_s = hold ? HUGE_VAL : real->open_delay_s;
    search->relays.fine[at].close_delay_s = hold ? HUGE_VAL : real->close_delay_s;
  }
  if (search->relays.count > 0) search->fine->stale_row = true;
}

/* ---- what counts, in a window ---- */

static enum tailvolt_status slices_room(struct tv_parked_relay *relay, int slices) {
  if (slices <= relay->room) return TAILVOLT_OK;
  double *grown = realloc(relay->most_v, 2 * (size_t)slices * sizeof *grown);
  if (grown == NULL) return TAILVOLT_NO_MEMORY;
  relay->most_v = grown;
  relay->least_v = grown + slices;
  relay->room = slices;
  return TAILVOLT_OK;
}

static void read_slice(struct tv_run *fine, struct tv_parked_relay *relay, int slice) {
  relay->most_v[slice] = relay->least_v[slice] = -HUGE_VAL;
  for (int end = 0; end < relay->ends; end++) {
    struct tv_meter_total *meter = &fine->statistics->meter[relay->first_meter + end];
    relay->most_v[slice] = fmax(relay->most_v[slice], meter->max_v);
    relay->least_v[slice] = fmax(relay->least_v[slice], meter->min_v);
    meter->min_v = HUGE_VAL;
    meter->max_v = -HUGE_VAL;
  }
}

/* The lowest that the highest of `length` values one after another comes to; the music begins again behind its end. */
static double lowest_of_highest(const double *value, int count, int length, double sign) {
  double lowest = HUGE_VAL;
  if (length > count) length = count;
  for (int k = 0; k < count; k++) {
    double highest = -HUGE_VAL;
    for (int n = 0; n < length && highest < lowest; n++) highest = fmax(highest, sign * value[(k + n) % count]);
    lowest = fmin(lowest, highest);
  }
  return sign * lowest;
}

static void measure(const struct tv_parked_search *search, int k, int slices, double length_s, struct tv_checkpoint *c) {
  const struct tv_parked_relay *relay = &search->relays.relay[k];
  const struct tailvolt_isolator *real = &search->system->isolators[relay->isolator];
  double mean_v = -HUGE_VAL, delay_slices;
  for (int end = 0; end < relay->ends; end++)
    mean_v = fmax(mean_v, tv_sum_value(&search->fine->statistics->meter[relay->first_meter + end].v) / length_s);
  c->opens_lift_v[k] = c->closes_lift_v[k] = (double)NAN;
  if (search->fine->state.isolator[relay->isolator].closed) {
    delay_slices = fmin(real->open_delay_s * slices / length_s, slices);
    const double *value = delay_slices < 1 ? relay->least_v : relay->most_v;
    c->opens_lift_v[k] = lowest_of_highest(value, slices, (int)fmax(delay_slices, 1), 1) - mean_v;
  } else {
    delay_slices = fmin(real->close_delay_s * slices / length_s, slices);
    const double *value = delay_slices < 1 ? relay->most_v : relay->least_v;
    c->closes_lift_v[k] = lowest_of_highest(value, slices, (int)fmax(delay_slices, 1), -1) - mean_v;
  }
}

enum tailvolt_status tv_relays_play(struct tv_parked_search *search, const struct tailvolt_row *row,
                                    const struct tailvolt_row *next, double from_s, double to_s, struct tv_checkpoint *c) {
  struct tv_parked_relays *relays = &search->relays;
  int slices = (int)fmax(ceil((to_s - from_s) / SLICE_S), 1);
  enum tailvolt_status status = TAILVOLT_OK;
  if (relays->count == 0) return tv_run_advance(search->fine, row, next, from_s, to_s);
  for (int k = 0; k < relays->count; k++) {
    relays->relay[k].held = search->fine->state.isolator[relays->relay[k].isolator].closed;
    if ((status = slices_room(&relays->relay[k], slices)) != TAILVOLT_OK) return status;
  }
  for (int k = 0; k < slices; k++) {
    double slice_s = (to_s - from_s) / slices, end_s = k + 1 < slices ? from_s + (k + 1) * slice_s : to_s;
    status = tv_run_advance(search->fine, row, next, from_s + k * slice_s, end_s);
    if (status == TAILVOLT_OK) status = tv_run_fold(search->fine);
    if (status != TAILVOLT_OK) return status;
    for (int n = 0; n < relays->count; n++) read_slice(search->fine, &relays->relay[n], k);
  }
  for (int k = 0; k < relays->count; k++) {
    measure(search, k, slices, to_s - from_s, c);
    /* a converter that finds no more at its input lets go although it is held */
    bool closed = search->fine->state.isolator[relays->relay[k].isolator].closed;
    if (closed != relays->relay[k].held && search->full_reason == TAILVOLT_FULL_NOT)
      search->full_reason = TAILVOLT_FULL_RELAY_CHATTERS;
  }
  return TAILVOLT_OK;
}

/* ---- the slow run ---- */

/* Between two windows; where neither had the relay in that position, as in the nearest that had. */
static double lift_v(const struct tv_parked_search *search, double low_v, double high_v, double part, int relay, bool opens) {
  double found_v = 0, nearest_s = HUGE_VAL;
  if (!isnan(low_v) && !isnan(high_v)) return low_v + (high_v - low_v) * part;
  if (!isnan(low_v) || !isnan(high_v)) return isnan(low_v) ? high_v : low_v;
  for (int k = 0; k < search->count; k++) {
    const struct tv_checkpoint *c = &search->checkpoint[k];
    double v = opens ? c->opens_lift_v[relay] : c->closes_lift_v[relay], off_s = fabs(c->time_s - search->slow_s);
    if (!isnan(v) && off_s < nearest_s) found_v = v, nearest_s = off_s;
  }
  return found_v;
}

void tv_relays_lift(struct tv_parked_search *search, const struct tv_checkpoint *low, const struct tv_checkpoint *high, double part) {
  for (int k = 0; k < search->relays.count; k++) {
    int at = search->relays.relay[k].isolator;
    const struct tailvolt_isolator *real = &search->system->isolators[at];
    double opens_v = 0, closes_v = 0;
    if (low != NULL) {
      opens_v = lift_v(search, low->opens_lift_v[k], high->opens_lift_v[k], part, k, true);
      closes_v = lift_v(search, low->closes_lift_v[k], high->closes_lift_v[k], part, k, false);
    }
    search->relays.slow[at].opens_below_v = real->opens_below_v - opens_v;
    search->relays.slow[at].closes_above_v = real->closes_above_v - closes_v;
    search->slow->stale_row = true;
  }
}

void tv_relays_went_back(struct tv_parked_search *search) {
  for (int k = 0; k < search->relays.count; k++) {
    struct tv_parked_relay *relay = &search->relays.relay[k];
    relay->closed = search->slow->state.isolator[relay->isolator].closed;
  }
}

void tv_relays_watch(struct tv_parked_search *search, int row) {
  for (int k = 0; k < search->relays.count; k++) {
    struct tv_parked_relay *relay = &search->relays.relay[k];
    bool closed = search->slow->state.isolator[relay->isolator].closed;
    if (row != relay->row || search->slow_s <= search->begin_s) {
      relay->closings = 0;
    } else if (closed && !relay->closed && search->slow_s > relay->closed_s) {
      relay->closings++;
      relay->closed_s = search->slow_s;
    }
    if (search->slow_s <= search->begin_s) relay->closed_s = search->slow_s;
    relay->row = row;
    relay->closed = closed;
    if (relay->closings >= CHATTERS && search->full_reason == TAILVOLT_FULL_NOT)
      search->full_reason = TAILVOLT_FULL_RELAY_CHATTERS;
  }
}
