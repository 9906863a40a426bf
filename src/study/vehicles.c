#include "study/vehicles.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_qrng.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

/* ---- points ---- */

enum { SOBOL_FACTORS = 40, SOBOL_BITS = 30 };

/* Finalizer of splitmix64 (Steele, Lea and Flood, OOPSLA 2014). */
static uint64_t mixed(uint64_t x) {
  x += 0x9e3779b97f4a7c15u;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9u;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebu;
  return x ^ (x >> 31);
}

static double hashed(unsigned long seed, int vehicle, int factor) {
  uint64_t bits = mixed(mixed(mixed((uint64_t)seed) + (uint64_t)vehicle) + (uint64_t)factor);
  return ((double)(bits >> 11) + 0.5) / 9007199254740992.0; /* 2^53 */
}

enum tailvolt_status tv_vehicle_points(int factor_count, unsigned long seed, int first, int count, double *points) {
  unsigned width = factor_count < SOBOL_FACTORS ? (unsigned)factor_count : SOBOL_FACTORS;
  const uint64_t cells = (uint64_t)1 << SOBOL_BITS;
  if (factor_count == 0) return TAILVOLT_OK;
  /* put together here: the library's own way of making one calls its error handler where memory runs out */
  gsl_qrng sobol = {.type = gsl_qrng_sobol, .dimension = width, .state_size = gsl_qrng_sobol->state_size(width)};
  sobol.state = malloc(sobol.state_size);
  if (sobol.state == NULL) return TAILVOLT_NO_MEMORY;
  if (gsl_qrng_sobol->init_state(sobol.state, width) != GSL_SUCCESS) {
    free(sobol.state);
    return TAILVOLT_NO_MEMORY;
  }
  for (int k = 0; k < first + count; k++) {
    double point[SOBOL_FACTORS] = {0};
    if (k > 0) gsl_qrng_get(&sobol, point); /* the library omits the sequence's first point, the origin */
    if (k < first) continue;
    double *row = points + (size_t)(k - first) * (size_t)factor_count;
    for (int f = 0; f < factor_count; f++) {
      if (f >= SOBOL_FACTORS) {
        row[f] = hashed(seed, k, f);
        continue;
      }
      uint64_t cell = (uint64_t)(point[f] * (double)cells), shift = mixed(mixed((uint64_t)seed) ^ (uint64_t)(f + 1)) & (cells - 1);
      row[f] = ((double)(cell ^ shift) + 0.5) / (double)cells;
    }
  }
  free(sobol.state);
  return TAILVOLT_OK;
}

void tv_random_points(int factor_count, unsigned long seed, int count, double *points) {
  for (int k = 0; k < count; k++)
    for (int f = 0; f < factor_count; f++) points[(size_t)k * (size_t)factor_count + (size_t)f] = hashed(~seed, k, f);
}

/* ---- a vehicle ---- */

void tv_vehicle_values(const struct tailvolt_uncertainty *list, const double *point, double *values) {
  for (int k = 0; k < list->count; k++) values[k] = tailvolt_uncertain_draw(&list->values[k], point);
}

#define LEAST_GAP_V 0.1 /* that a relay or converter is built with */

/* Each threshold has a range of its own where one is measured and the other is not. */
static void keep_apart(const struct tailvolt_system *described, struct tailvolt_system *drawn) {
  for (int k = 0; k < drawn->isolator_count; k++) {
    const struct tailvolt_isolator *own = &described->isolators[k];
    struct tailvolt_isolator *i = &drawn->isolators[k];
    double gap_v = fmin(own->closes_above_v - own->opens_below_v, LEAST_GAP_V);
    if (i->closes_above_v < i->opens_below_v + gap_v) i->closes_above_v = i->opens_below_v + gap_v;
  }
}

enum tailvolt_status tv_vehicle_system(const struct tailvolt_system *system, const struct tailvolt_uncertainty *list,
                                       const double *values, struct tailvolt_system **out) {
  /* what was stated is only for --set, which a vehicle never gets */
  struct tailvolt_system bare = *system;
  bare.stated = NULL;
  enum tailvolt_status status = tailvolt_system_copy(&bare, out);
  for (int k = 0; k < list->count && status == TAILVOLT_OK; k++) tailvolt_uncertain_put(*out, &list->values[k], values[k]);
  if (status == TAILVOLT_OK) keep_apart(system, *out);
  return status;
}

struct tv_vehicle_rows tv_vehicle_rows(const struct tailvolt_uncertainty *list, const double *values) {
  struct tv_vehicle_rows rows = {1, 0};
  for (int k = 0; k < list->count; k++) {
    if (list->values[k].value == TAILVOLT_VALUE_IDLE_SPEED) rows.idle_ratio = values[k] / list->values[k].nominal;
    if (list->values[k].value == TAILVOLT_VALUE_AMBIENT) rows.ambient_more_k = values[k] - list->values[k].nominal;
  }
  return rows;
}

/* ---- along one factor ---- */

/* A value without its tail. */
static struct tailvolt_uncertain body_of(const struct tailvolt_uncertain *one) {
  struct tailvolt_uncertain body = *one;
  body.tail_frac = 0;
  body.tail_high = body.high;
  return body;
}

/* What being the bad one adds to the deviation of a value whose tail has its own factor. */
static double tail_deviation(const struct tailvolt_uncertain *one) {
  struct tailvolt_uncertain body = body_of(one);
  double all = tailvolt_uncertain_deviation(one), rest = tailvolt_uncertain_deviation(&body);
  return sqrt(fmax(all * all - (1 - one->tail_frac) * rest * rest, 0));
}

static int tails_of(const struct tailvolt_uncertainty *list, int factor) {
  int count = 0;
  for (int k = 0; k < list->count; k++) count += list->values[k].tail_index == factor;
  return count;
}

/* Deviation and mean of a factor's effect on one value; false where there is none. */
static bool moved_by(const struct tailvolt_uncertain *one, int factor, double *mean, double *deviation) {
  if (one->factor_index != factor) return false;
  struct tailvolt_uncertain part = one->tail_index >= 0 ? body_of(one) : *one;
  *mean = tailvolt_uncertain_mean(&part);
  *deviation = tailvolt_uncertain_deviation(&part);
  return *deviation > 0;
}

/* A value that falls as its factor rises moves opposite to those that rise with it. */
static double sense(const struct tailvolt_uncertain *one) { return one->distribution == TAILVOLT_UPPER_END ? -1 : 1; }

void tv_vehicle_mean(const struct tailvolt_uncertainty *list, double *values) {
  for (int k = 0; k < list->count; k++) values[k] = tailvolt_uncertain_mean(&list->values[k]);
}

bool tv_vehicle_move(const struct tailvolt_uncertainty *list, int factor, int side, double *values) {
  int tails = tails_of(list, factor);
  bool moved = false, possible = true;
  for (int k = 0; k < list->count; k++) {
    const struct tailvolt_uncertain *one = &list->values[k];
    double mean, deviation, to = values[k], least = 0.1 * fmin(one->low, values[k]);
    if (one->tail_index == factor) {
      /* one of them at a time: together they move a voltage as the square root of their number */
      to += side * tail_deviation(one) / sqrt(tails);
    } else if (moved_by(one, factor, &mean, &deviation)) {
      to += side * sense(one) * deviation;
    } else {
      continue;
    }
    moved = true;
    possible = possible && (one->low < 0 || to >= least);
    values[k] = one->low < 0 ? to : fmax(to, least);
  }
  return moved && (side > 0 || possible);
}

/* What of a value belongs to its own factor, and what to the one that says which new joint is bad. */
struct moments {
  bool moves;
  double mean, deviation;          /* along its factor */
  double body_mean, all_mean, tail; /* along the other: tail_deviation() */
};

static void find_moments(const struct tailvolt_uncertain *one, struct moments *m) {
  *m = (struct moments){.moves = false};
  m->moves = moved_by(one, one->factor_index, &m->mean, &m->deviation);
  if (one->tail_index < 0) return;
  struct tailvolt_uncertain body = body_of(one);
  m->body_mean = tailvolt_uncertain_mean(&body);
  m->all_mean = tailvolt_uncertain_mean(one);
  m->tail = tail_deviation(one);
}

enum tailvolt_status tv_vehicles_along(const struct tailvolt_uncertainty *list, const double *values, int count, double *along) {
  size_t factors = (size_t)list->factor_count, width = (size_t)list->count;
  struct moments *moments = calloc(width + 1, sizeof *moments);
  double *weight = calloc(2 * factors + 1, sizeof *weight);
  if (moments == NULL || weight == NULL) {
    free(moments);
    free(weight);
    return TAILVOLT_NO_MEMORY;
  }
  double *tails = weight + factors;
  for (size_t k = 0; k < width; k++) {
    const struct tailvolt_uncertain *one = &list->values[k];
    find_moments(one, &moments[k]);
    if (moments[k].moves) weight[one->factor_index] += 1;
    if (one->tail_index >= 0) tails[one->tail_index] += 1;
  }
  for (size_t v = 0; v < (size_t)count; v++) {
    double *z = along + v * factors;
    for (size_t f = 0; f < factors; f++) z[f] = 0;
    for (size_t k = 0; k < width; k++) {
      const struct tailvolt_uncertain *one = &list->values[k];
      const struct moments *m = &moments[k];
      double x = values[v * width + k];
      if (one->tail_index >= 0 && m->tail > 0) {
        double jump = x > one->high * (1 + 1e-12) ? x - m->body_mean : 0;
        z[one->tail_index] += (jump - (m->all_mean - m->body_mean)) / m->tail / sqrt(tails[one->tail_index]);
      }
      if (!m->moves) continue;
      if (one->tail_index >= 0) x = fmin(x, one->high); /* for a bad joint the rest belongs to another factor */
      z[one->factor_index] += sense(one) * (x - m->mean) / m->deviation / weight[one->factor_index];
    }
  }
  free(moments);
  free(weight);
  return TAILVOLT_OK;
}

int tv_factor_value(const struct tailvolt_uncertainty *list, int factor) {
  int best = -1;
  double most = 0;
  for (int k = 0; k < list->count; k++) {
    const struct tailvolt_uncertain *one = &list->values[k];
    if (one->factor_index != factor && one->tail_index != factor) continue;
    /* among one kind the largest; among several the first in the table */
    double weight = tailvolt_uncertain_deviation(one);
    if (one->value == TAILVOLT_VALUE_PER_METRE) weight *= one->nominal; /* the thinnest */
    if (best >= 0 && (one->value != list->values[best].value || !(weight > most))) continue;
    best = k;
    most = weight;
  }
  return best;
}
