#include "study/certainty_sum.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "numeric/matrix.h"

void tv_share_interval(int hits, int count, double *low_pct, double *high_pct) {
  *low_pct = *high_pct = (double)NAN;
  if (count == 0) return;
  double z = gsl_cdf_ugaussian_Pinv(0.95), n = count, p = hits / n;
  double middle = (p + z * z / (2 * n)) / (1 + z * z / n);
  double half = z / (1 + z * z / n) * sqrt(p * (1 - p) / n + z * z / (4 * n * n));
  *low_pct = 100 * fmax(middle - half, 0);
  *high_pct = 100 * fmin(middle + half, 1);
}

struct tailvolt_three_quantiles tv_three_quantiles(double *numbers, int count) {
  struct tailvolt_three_quantiles q = {(double)NAN, (double)NAN, (double)NAN};
  if (count == 0) return q;
  gsl_sort(numbers, 1, (size_t)count);
  q.p10 = gsl_stats_quantile_from_sorted_data(numbers, 1, (size_t)count, 0.1);
  q.p50 = gsl_stats_quantile_from_sorted_data(numbers, 1, (size_t)count, 0.5);
  q.p90 = gsl_stats_quantile_from_sorted_data(numbers, 1, (size_t)count, 0.9);
  return q;
}

/* ---- shares ---- */

#define STEP_ERROR_FRAC 0.3   /* of a difference at one car */
#define LEAST_DEVIATION 0.04  /* of the answer's own: what such a difference may miss altogether */

/* The regression of the answers that are known, about their means. */
struct regression {
  const struct tv_shares *from;
  size_t factors, count;
  double *z;              /* [count x factors] less its mean */
  double *rest;           /* [count] of the answer, less its mean and c times what the differences say */
  double *prior;          /* [factors] variance of what is added to c D */
  double scale, variance; /* c; of the answer */
  gsl_matrix *inverse;
  gsl_vector *added, *moment;
};

static bool regression_make(struct regression *r) {
  size_t room = (size_t)r->from->count + 1;
  r->factors = (size_t)r->from->list->factor_count;
  r->z = calloc(room * r->factors + 1, sizeof *r->z);
  r->rest = calloc(room, sizeof *r->rest);
  r->prior = calloc(r->factors + 1, sizeof *r->prior);
  r->inverse = r->factors > 0 ? tv_matrix_new(r->factors, r->factors) : NULL;
  r->added = r->factors > 0 ? tv_vector_new(r->factors) : NULL;
  r->moment = r->factors > 0 ? tv_vector_new(r->factors) : NULL;
  return r->z && r->rest && r->prior && r->inverse && r->added && r->moment;
}

static void regression_free(struct regression *r) {
  free(r->z);
  free(r->rest);
  free(r->prior);
  gsl_matrix_free(r->inverse);
  gsl_vector_free(r->added);
  gsl_vector_free(r->moment);
}

static void less_mean(double *number, size_t count, size_t stride) {
  double mean = 0;
  for (size_t k = 0; k < count; k++) mean += number[k * stride] / (double)count;
  for (size_t k = 0; k < count; k++) number[k * stride] -= mean;
}

static double step_of(const struct tv_shares *from, size_t f) { return isfinite(from->step[f]) ? from->step[f] : 0; }

/* Answers and places about their means, and how much of every difference the vehicles confirm. */
static void gather(struct regression *r) {
  const struct tv_shares *from = r->from;
  for (size_t k = 0; k < (size_t)from->count; k++) {
    if (!isfinite(from->answer[k])) continue;
    memcpy(r->z + r->count * r->factors, from->along + k * r->factors, r->factors * sizeof *r->z);
    r->rest[r->count++] = from->answer[k];
  }
  less_mean(r->rest, r->count, 1);
  for (size_t f = 0; f < r->factors; f++) less_mean(r->z + f, r->count, r->factors);
  double own = 0, both = 0;
  for (size_t k = 0; k < r->count; k++) {
    double said = 0;
    for (size_t f = 0; f < r->factors; f++) said += step_of(from, f) * r->z[k * r->factors + f];
    own += said * said;
    both += said * r->rest[k];
    r->variance += r->rest[k] * r->rest[k] / (double)(r->count - 1);
  }
  r->scale = own > 0 ? fmax(both / own, 0) : 1;
  for (size_t k = 0; k < r->count; k++)
    for (size_t f = 0; f < r->factors; f++) r->rest[k] -= r->scale * step_of(from, f) * r->z[k * r->factors + f];
  for (size_t f = 0; f < r->factors; f++) {
    double step = r->scale * step_of(from, f), missed = isfinite(from->step[f]) ? LEAST_DEVIATION * LEAST_DEVIATION : 1;
    r->prior[f] = STEP_ERROR_FRAC * STEP_ERROR_FRAC * step * step + missed * r->variance;
  }
}

/* What is added to c D with a given variance of the errors, and its covariance; returns the variance of the errors that this leaves,
 * each factor counted as far as it follows the vehicles. */
static double correct(struct regression *r, double error_v2) {
  gsl_matrix_const_view z = gsl_matrix_const_view_array(r->z, r->count, r->factors);
  gsl_vector_const_view rest = gsl_vector_const_view_array(r->rest, r->count);
  gsl_blas_dgemm(CblasTrans, CblasNoTrans, 1 / error_v2, &z.matrix, &z.matrix, 0, r->inverse);
  gsl_blas_dgemv(CblasTrans, 1 / error_v2, &z.matrix, &rest.vector, 0, r->moment);
  for (size_t f = 0; f < r->factors; f++) gsl_matrix_set(r->inverse, f, f, gsl_matrix_get(r->inverse, f, f) + 1 / r->prior[f]);
  if (tv_cholesky(r->inverse)) gsl_linalg_cholesky_invert(r->inverse);
  else gsl_matrix_set_zero(r->inverse); /* numbers beyond bounds: nothing is added */
  gsl_blas_dgemv(CblasNoTrans, 1, r->inverse, r->moment, 0, r->added);
  double left = 0, freedom = (double)r->count - 2;
  for (size_t k = 0; k < r->count; k++) {
    double off = r->rest[k];
    for (size_t f = 0; f < r->factors; f++) off -= gsl_vector_get(r->added, f) * r->z[k * r->factors + f];
    left += off * off;
  }
  for (size_t f = 0; f < r->factors; f++) freedom -= 1 - gsl_matrix_get(r->inverse, f, f) / r->prior[f];
  return fmax(left / fmax(freedom, 1), 1e-6 * r->variance);
}

enum tailvolt_status tv_shares_of(const struct tv_shares *from, double *share_pct, double *error_pct, double *effect, double *rest_pct) {
  enum { ROUNDS = 4 };
  struct regression r = {.from = from};
  double left = 0, all = 0;
  for (int f = 0; f < from->list->factor_count; f++) share_pct[f] = error_pct[f] = 0;
  for (int f = 0; f < from->list->factor_count && effect != NULL; f++) effect[f] = 0;
  bool any = from->list->factor_count > 0, room = !any || regression_make(&r);
  if (any && room) gather(&r);
  if (r.variance > 0 && r.count > 2) {
    left = r.variance;
    for (int round = 0; round < ROUNDS; round++) left = correct(&r, left);
    all = left;
    for (size_t f = 0; f < r.factors; f++) {
      double b = r.scale * step_of(from, f) + gsl_vector_get(r.added, f);
      if (effect != NULL) effect[f] = b;
      all += b * b;
      share_pct[f] = 100 * b * b;
      error_pct[f] = 100 * 2 * fabs(b) * sqrt(gsl_matrix_get(r.inverse, f, f));
    }
    for (size_t f = 0; f < r.factors; f++) {
      share_pct[f] /= all;
      error_pct[f] /= all;
    }
  }
  regression_free(&r);
  *rest_pct = all > 0 ? 100 * left / all : (double)NAN;
  return room ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}

static bool to_be_named(const struct tv_shares *from, int f, const double *share_pct, const double *error_pct,
                        const struct tailvolt_certainty *out) {
  if (!(share_pct[f] > 2 * error_pct[f]) || share_pct[f] < 1 || tv_factor_value(from->list, f) < 0) return false;
  for (int k = 0; k < out->measure_first_count; k++)
    if (out->measure_first[k].factor_index == f) return false;
  return true;
}

void tv_name_first(const struct tv_shares *from, const double *share_pct, const double *error_pct, struct tailvolt_certainty *out) {
  const struct tailvolt_uncertainty *list = from->list;
  out->measure_first_count = 0;
  while (out->measure_first_count < TAILVOLT_MEASURE_FIRST_MAX) {
    int best = -1, chosen = -1;
    for (int f = 0; f < list->factor_count; f++)
      if (to_be_named(from, f, share_pct, error_pct, out) && (best < 0 || share_pct[f] > share_pct[best])) best = f;
    for (int f = 0; f < list->factor_count && best >= 0; f++) {
      bool alike = share_pct[f] >= share_pct[best] - hypot(error_pct[f], error_pct[best]);
      if (!alike || !to_be_named(from, f, share_pct, error_pct, out)) continue;
      if (chosen < 0 || fabs(step_of(from, (size_t)f)) > fabs(step_of(from, (size_t)chosen))) chosen = f;
    }
    if (chosen < 0) return;
    struct tailvolt_measure_first *one = &out->measure_first[out->measure_first_count++];
    int value = tv_factor_value(list, chosen);
    memset(one, 0, sizeof *one);
    memcpy(one->key, list->values[value].key, sizeof one->key);
    one->part = list->values[value].part;
    one->value = list->values[value].value;
    one->factor = list->factors[chosen];
    one->factor_index = chosen;
    one->share_pct = share_pct[chosen];
    one->error_pct = error_pct[chosen];
  }
}
