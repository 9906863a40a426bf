#include "study/certainty_sum.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

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

/* Slope and variance of numbers over places that are only nearly standardized. */
static double slope(const double *place, int stride, const double *number, int count, double mean) {
  double sum_z = 0, sum_zz = 0, sum_zy = 0;
  int n = 0;
  for (int k = 0; k < count; k++) {
    double z = place[(size_t)k * (size_t)stride];
    if (!isfinite(number[k])) continue;
    sum_z += z;
    sum_zz += z * z;
    sum_zy += z * (number[k] - mean);
    n++;
  }
  double spread = n > 0 ? sum_zz - sum_z * sum_z / n : 0;
  return spread > 1e-9 * n ? sum_zy / spread : 0;
}

static double mean_of(const double *number, int count, int *known) {
  double sum = 0;
  *known = 0;
  for (int k = 0; k < count; k++)
    if (isfinite(number[k])) {
      sum += number[k];
      ++*known;
    }
  return *known > 0 ? sum / *known : 0;
}

static double variance(const double *number, int count) {
  int known;
  double mean = mean_of(number, count, &known), sum = 0;
  for (int k = 0; k < count; k++)
    if (isfinite(number[k])) sum += (number[k] - mean) * (number[k] - mean);
  return known > 1 ? sum / (known - 1) : 0;
}

static void take_away(double *rest, const double *along, int stride, double step, int count) {
  for (int k = 0; k < count; k++) rest[k] -= step * along[(size_t)k * (size_t)stride];
}

double tv_shares_of(const struct tv_shares *from, double *share_pct, double *error_pct) {
  int factors = from->list->factor_count, count = from->count, known;
  double *rest = malloc(((size_t)count + (size_t)factors + 2) * sizeof *rest), *beta = rest + count;
  for (int f = 0; f < factors; f++) share_pct[f] = error_pct[f] = 0;
  if (rest == NULL) return (double)NAN;
  memcpy(rest, from->answer, (size_t)count * sizeof *rest);
  for (int f = 0; f < factors; f++) {
    beta[f] = isfinite(from->step[f]) ? from->step[f] : 0;
    take_away(rest, from->along + f, factors, beta[f], count);
  }
  /* what differences at one car miss: one correction per factor, from what the vehicles show in addition */
  double mean = mean_of(rest, count, &known), before = variance(rest, count);
  for (int f = 0; f < factors; f++) {
    double more = slope(from->along + f, factors, rest, count, mean);
    double noise = sqrt(before / fmax(known, 1));
    if (fabs(more) < 2 * noise) more = 0; /* no more than chance */
    beta[f] += more;
    take_away(rest, from->along + f, factors, more, count);
    mean = mean_of(rest, count, &known);
  }
  double unexplained = variance(rest, count), all = unexplained;
  for (int f = 0; f < factors; f++) all += beta[f] * beta[f];
  double rest_share = all > 0 ? unexplained / all : 0;
  for (int f = 0; f < factors && all > 0; f++) {
    double share = beta[f] * beta[f] / all, n = fmax(known, 1);
    /* of the slope; and of the variance, of which only the unexplained part is counted from vehicles */
    double of_slope = 2 * sqrt(share * rest_share / n), of_variance = share * rest_share * sqrt(2 / n);
    share_pct[f] = 100 * share;
    error_pct[f] = 100 * hypot(of_slope, of_variance);
  }
  free(rest);
  return all > 0 ? 100 * rest_share : (double)NAN;
}

void tv_name_first(const struct tailvolt_uncertainty *list, const double *share_pct, const double *error_pct,
                   struct tailvolt_certainty *out) {
  out->measure_first_count = 0;
  for (;;) {
    int best = -1;
    double below = out->measure_first_count > 0 ? out->measure_first[out->measure_first_count - 1].share_pct : (double)INFINITY;
    int last = out->measure_first_count > 0 ? out->measure_first[out->measure_first_count - 1].factor_index : -1;
    for (int f = 0; f < list->factor_count; f++) {
      bool later = share_pct[f] < below || (share_pct[f] == below && f > last);
      if (!later || !(share_pct[f] > 2 * error_pct[f]) || share_pct[f] < 1) continue;
      if (best < 0 || share_pct[f] > share_pct[best]) best = f;
    }
    if (best < 0 || out->measure_first_count == TAILVOLT_MEASURE_FIRST_MAX) return;
    struct tailvolt_measure_first *one = &out->measure_first[out->measure_first_count++];
    int value = tv_factor_value(list, best);
    memset(one, 0, sizeof *one);
    memcpy(one->key, list->values[value].key, sizeof one->key);
    one->part = list->values[value].part;
    one->value = list->values[value].value;
    one->factor = list->factors[best];
    one->factor_index = best;
    one->share_pct = share_pct[best];
    one->error_pct = error_pct[best];
  }
}
