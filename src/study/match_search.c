/* The search: Levenberg and Marquardt's method (numeric/descend.h) over keys that are bounded by a change of variable.
 *
 *   value = low + (high - low) / (1 + exp(-u)), of its logarithm where the range spans decades
 *   residual r = (simulated - measured) / scale; what is squared and summed is
 *     r~ = r for |r| <= c, else sign(r) sqrt(2 c |r| - c^2), c = 1.345: half its square is Huber's loss
 *   dr~/du = dr/du for |r| <= c, else c/|r~| dr/du
 *
 * The scale of each column is the median of |r| over 0.6745, found again after each descent until it settles; so are the spikes,
 * which are left out of the next descent. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_statistics_double.h>

#include "numeric/descend.h"
#include "study/match_fit.h"

enum { ROUNDS_MAX = 6, STEPS_MAX = 25 };
#define STANDS 0.05 /* a smaller change of a scale moves no value by a tenth of its error */

/* ---- the change of variable ---- */

static double free_of(const struct tv_fit_key *key, double value) {
  double x = key->ratio ? log(value) : value, share = (x - key->low) / (key->high - key->low);
  share = fmin(fmax(share, 1e-6), 1 - 1e-6); /* exactly at the bound nothing would move */
  return log(share / (1 - share));
}

static double value_of(const struct tv_fit_key *key, double u) {
  double x = key->low + (key->high - key->low) / (1 + exp(-u));
  double value = key->ratio ? exp(x) : x;
  return fmin(fmax(value, key->number.low), key->number.high);
}

/* dvalue/du */
static double stretch_of(const struct tv_fit_key *key, double u) {
  double share = 1 / (1 + exp(-u)), slope = (key->high - key->low) * share * (1 - share);
  return key->ratio ? value_of(key, u) * slope : slope;
}

/* ---- what the descent asks for ---- */

struct search {
  struct tv_fit *fit;
  int free_count;
  int key[TAILVOLT_MATCH_KEYS];
  double at[TAILVOLT_MATCH_KEYS]; /* where fit->simulated was taken, in u */
  bool known;
  enum tailvolt_status status;
};

/* Brings fit->simulated to u; false: it cannot be simulated there. */
static bool go_to(struct search *s, const gsl_vector *u) {
  bool same = s->known;
  for (int k = 0; k < s->free_count; k++)
    same = same && !(fabs(s->at[k] - gsl_vector_get(u, (size_t)k)) > 0);
  if (same) return true;
  if (s->status == TAILVOLT_NO_MEMORY) return false;
  for (int k = 0; k < s->free_count; k++) {
    s->at[k] = gsl_vector_get(u, (size_t)k);
    s->fit->key[s->key[k]].value = value_of(&s->fit->key[s->key[k]], s->at[k]);
  }
  struct tv_fit_point here = tv_fit_here(s->fit);
  s->status = tv_fit_simulate(s->fit, &here, 1, &s->fit->simulated);
  s->known = s->status == TAILVOLT_OK;
  return s->known;
}

static double residual(const struct tv_fit *fit, long r) {
  const struct tv_fit_reading *reading = &fit->reading[r];
  return reading->out ? 0 : (fit->simulated[r] - reading->measured) / fit->group[reading->group].scale;
}

static double bent(double r) {
  return fabs(r) <= TV_HUBER ? r : copysign(sqrt(2 * TV_HUBER * fabs(r) - TV_HUBER * TV_HUBER), r);
}

static bool take_residuals(const gsl_vector *u, void *context, gsl_vector *f) {
  struct search *s = context;
  if (!go_to(s, u)) return false;
  for (long r = 0; r < s->fit->count; r++) {
    double x = residual(s->fit, r);
    /* nothing fits where the car cannot be simulated */
    gsl_vector_set(f, (size_t)r, isnan(x) ? 1e6 : bent(x));
  }
  return true;
}

static bool take_slopes(const gsl_vector *u, void *context, gsl_matrix *jacobian) {
  struct search *s = context;
  struct tv_fit *fit = s->fit;
  unsigned which = 0;
  double *slope = malloc(((size_t)fit->count * (size_t)fit->key_count + 1) * sizeof *slope);
  if (slope == NULL) s->status = TAILVOLT_NO_MEMORY;
  if (slope == NULL || !go_to(s, u)) {
    free(slope);
    return false;
  }
  for (int k = 0; k < s->free_count; k++) which |= 1u << s->key[k];
  s->status = tv_fit_slopes(fit, which, fit->simulated, 1, slope);
  for (long r = 0; r < fit->count && s->status == TAILVOLT_OK; r++) {
    double x = residual(fit, r), share = fit->reading[r].out ? 0 : fabs(x) <= TV_HUBER ? 1 : TV_HUBER / fabs(bent(x));
    for (int k = 0; k < s->free_count; k++) {
      const struct tv_fit_key *key = &fit->key[s->key[k]];
      double per_u = slope[r * fit->key_count + s->key[k]] / key->reach * stretch_of(key, s->at[k]);
      gsl_matrix_set(jacobian, (size_t)r, (size_t)k, share * per_u / fit->group[fit->reading[r].group].scale);
    }
  }
  free(slope);
  return s->status == TAILVOLT_OK;
}

/* ---- scatter ---- */

static bool find_spikes(struct tv_fit *fit, int group, size_t count) {
  size_t spikes = 0;
  bool changed = false;
  for (int pass = 0; pass < 2; pass++)
    for (long r = 0; r < fit->count; r++) {
      struct tv_fit_reading *reading = &fit->reading[r];
      if (reading->group != group) continue;
      bool far = fabs(fit->simulated[r] - reading->measured) > TV_SPIKE * fit->group[group].scale;
      if (pass == 0) spikes += far;
      else {
        far = far && (double)spikes <= TV_SPIKES_MOST * (double)count;
        changed = changed || far != reading->out;
        reading->out = far;
      }
    }
  return changed;
}

enum tailvolt_status tv_fit_rescale(struct tv_fit *fit, double *change) {
  double *size = malloc(((size_t)fit->count + 1) * sizeof *size);
  *change = 0;
  if (size == NULL) return TAILVOLT_NO_MEMORY;
  for (int g = 0; g < fit->group_count; g++) {
    size_t n = 0;
    double least = fit->group[g].current ? TV_LEAST_A : TV_LEAST_V;
    for (long r = 0; r < fit->count; r++)
      if (fit->reading[r].group == g) size[n++] = fabs(fit->simulated[r] - fit->reading[r].measured);
    double before = fit->group[g].scale, now = n > 0 ? fmax(gsl_stats_median(size, 1, n) / 0.6745, least) : least;
    if (before > 0) *change = fmax(*change, fabs(log(now / before)));
    fit->group[g].scale = now;
    if (find_spikes(fit, g, n)) *change = HUGE_VAL;
  }
  free(size);
  return TAILVOLT_OK;
}

/* ---- the descent ---- */

/* One descent with the present scales. */
static enum tailvolt_status descend(struct tv_fit *fit) {
  struct search s = {.fit = fit};
  double start[TAILVOLT_MATCH_KEYS];
  for (int k = 0; k < fit->key_count; k++)
    if (fit->key[k].state == TAILVOLT_MATCH_FITTED) s.key[s.free_count++] = k;
  if (s.free_count == 0) return TAILVOLT_OK;
  for (int k = 0; k < s.free_count; k++) start[k] = free_of(&fit->key[s.key[k]], fit->key[s.key[k]].value);
  gsl_vector_view u = gsl_vector_view_array(start, (size_t)s.free_count);
  struct tv_descent how = {take_residuals, take_slopes, &s, (size_t)fit->count, (size_t)s.free_count, STEPS_MAX, 1e-5, 1e-8};
  enum tv_descent_end end = tv_descend(&how, &u.vector);
  if (end == TV_NO_ROOM) return TAILVOLT_NO_MEMORY;
  /* no further progress counts as arrived */
  if (s.status == TAILVOLT_OK && go_to(&s, &u.vector)) fit->settled = end == TV_ARRIVED || end == TV_NO_LOWER;
  return s.status;
}

enum tailvolt_status tv_fit_search(struct tv_fit *fit) {
  double change;
  enum tailvolt_status status = tv_fit_rescale(fit, &change);
  for (long r = 0; r < fit->count; r++) fit->reading[r].out = false; /* spikes are unknown before the first descent */
  for (int round = 0; round < ROUNDS_MAX && status == TAILVOLT_OK; round++) {
    status = descend(fit);
    if (status == TAILVOLT_OK) status = tv_fit_rescale(fit, &change);
    if (change < STANDS) break;
  }
  return status;
}
