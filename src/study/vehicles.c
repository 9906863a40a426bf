#include "study/vehicles.h"

#include <gsl/gsl_qrng.h>
#include <math.h>
#include <stdint.h>

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
  gsl_qrng *sobol = gsl_qrng_alloc(gsl_qrng_sobol, width);
  if (sobol == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < first + count; k++) {
    double point[SOBOL_FACTORS] = {0};
    if (k > 0) gsl_qrng_get(sobol, point); /* the library omits the sequence's first point, the origin */
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
  gsl_qrng_free(sobol);
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

enum tailvolt_status tv_vehicle_system(const struct tailvolt_system *system, const struct tailvolt_uncertainty *list,
                                       const double *values, struct tailvolt_system **out) {
  /* what was stated is only for --set, which a vehicle never gets */
  struct tailvolt_system bare = *system;
  bare.stated = NULL;
  enum tailvolt_status status = tailvolt_system_copy(&bare, out);
  for (int k = 0; k < list->count && status == TAILVOLT_OK; k++) tailvolt_uncertain_put(*out, &list->values[k], values[k]);
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

bool tv_vehicle_move(const struct tailvolt_uncertainty *list, int factor, double *values) {
  int tails = tails_of(list, factor);
  bool moved = false;
  for (int k = 0; k < list->count; k++) {
    const struct tailvolt_uncertain *one = &list->values[k];
    double mean, deviation;
    if (one->tail_index == factor) {
      /* one of them at a time: together they move a voltage as the square root of their number */
      values[k] += tail_deviation(one) / sqrt(tails);
      moved = true;
    } else if (moved_by(one, factor, &mean, &deviation)) {
      double to = values[k] + sense(one) * deviation;
      values[k] = fmax(to, 0.1 * fmin(one->low, values[k]));
      if (one->low < 0) values[k] = to;
      moved = true;
    }
  }
  return moved;
}

double tv_vehicle_along(const struct tailvolt_uncertainty *list, int factor, const double *values) {
  double sum = 0, weight = 0;
  int tails = tails_of(list, factor);
  for (int k = 0; k < list->count; k++) {
    const struct tailvolt_uncertain *one = &list->values[k];
    double mean, deviation;
    if (one->tail_index == factor) {
      struct tailvolt_uncertain body = body_of(one);
      double jump = values[k] > one->high * (1 + 1e-12) ? values[k] - tailvolt_uncertain_mean(&body) : 0;
      double common = tailvolt_uncertain_mean(one) - tailvolt_uncertain_mean(&body), scale = tail_deviation(one);
      if (scale > 0) sum += (jump - common) / scale / sqrt(tails);
    } else if (moved_by(one, factor, &mean, &deviation)) {
      double x = values[k];
      if (one->tail_index >= 0) x = fmin(x, one->high); /* for a bad joint the rest belongs to another factor */
      sum += sense(one) * (x - mean) / deviation;
      weight += 1;
    }
  }
  return weight > 0 ? sum / weight : sum;
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
