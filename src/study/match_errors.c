/* Standard errors of the fitted values.
 *
 * The values solve sum_c sum_i J_i psi(r_i) / s_c = 0 (psi: r clipped at +-1.345). Their covariance is the sandwich
 *   A^-1 B A^-1,  A = sum_c m_c G_c,  B = n/(n - p) sum_c f_c q_c G_c,  G_c = sum_i J_i J_i^T / s_c^2
 * with m_c the share of readings inside the cut, q_c the mean of psi^2 (Huber, Robust Statistics, 1981, section 7.6). f_c allows
 * for correlated residuals: the sum of n numbers with autocorrelations rho_k varies as that of n/f independent ones, f = 1 + 2
 * sum rho_k; here up to the first lag that is not significant (two standard errors of a rho of white noise, 1/sqrt(n)). It is a
 * fair allowance where the derivatives change more slowly than the residuals do; with white noise it is 1. */
#include <math.h>
#include <stdlib.h>

#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>

#include "numeric/matrix.h"
#include "study/match_fit.h"

static double psi(const struct tv_fit *fit, long r) {
  const struct tv_fit_reading *reading = &fit->reading[r];
  if (reading->out) return 0;
  double x = (fit->simulated[r] - reading->measured) / fit->group[reading->group].scale;
  return fmin(fmax(x, -TV_HUBER), TV_HUBER);
}

static double time_of(const struct tv_fit *fit, long r) {
  const struct tv_fit_reading *reading = &fit->reading[r];
  const struct tailvolt_log *log = fit->logs[reading->log];
  return log->time_s[reading->cell / log->column_count];
}

/* The consecutive readings of a group in one log, starting at `from`. */
static long run_end(const struct tv_fit *fit, long from) {
  long end = from;
  while (end < fit->count && fit->reading[end].group == fit->reading[from].group && fit->reading[end].log == fit->reading[from].log) end++;
  return end;
}

/* Sum of psi_i psi_(i + lag) over a group, each log separately. */
static double product(const struct tv_fit *fit, int group, long lag) {
  double sum = 0;
  for (long from = 0, end; from < fit->count; from = end) {
    end = run_end(fit, from);
    if (fit->reading[from].group != group) continue;
    for (long r = from; r + lag < end; r++) sum += psi(fit, r) * psi(fit, r + lag);
  }
  return sum;
}

/* Mean time between readings of a group, s. */
static double interval_s(const struct tv_fit *fit, int group) {
  double span_s = 0;
  long gaps = 0;
  for (long from = 0, end; from < fit->count; from = end) {
    end = run_end(fit, from);
    if (fit->reading[from].group != group) continue;
    span_s += time_of(fit, end - 1) - time_of(fit, from);
    gaps += end - 1 - from;
  }
  return gaps > 0 ? span_s / (double)gaps : 0;
}

enum tailvolt_status tv_fit_correlation(struct tv_fit *fit) {
  for (int g = 0; g < fit->group_count; g++) {
    long n = 0;
    for (long r = 0; r < fit->count; r++) n += fit->reading[r].group == g;
    double all = product(fit, g, 0), limit = 2 / sqrt((double)(n > 0 ? n : 1));
    fit->group[g].inflation = 1;
    for (long lag = 1; lag < n / 3 && all > 0; lag++) {
      double rho = product(fit, g, lag) / all;
      if (rho < limit) break;
      fit->group[g].inflation += 2 * rho;
    }
    fit->group[g].alike_s = fit->group[g].inflation > 1 ? fit->group[g].inflation * interval_s(fit, g) : 0;
  }
  return TAILVOLT_OK;
}

/* Sums over the fitted keys: A and B. */
static void add_reading(const struct tv_fit *fit, const double *slope, const int *key, int count, long r, double for_a, double for_b,
                        gsl_matrix *a, gsl_matrix *b) {
  double s2 = fit->group[fit->reading[r].group].scale * fit->group[fit->reading[r].group].scale;
  for (int i = 0; i < count; i++)
    for (int j = 0; j < count; j++) {
      double g = slope[r * fit->key_count + key[i]] * slope[r * fit->key_count + key[j]] / s2;
      *gsl_matrix_ptr(a, (size_t)i, (size_t)j) += for_a * g;
      *gsl_matrix_ptr(b, (size_t)i, (size_t)j) += for_b * g;
    }
}

/* m_c and q_c of a group; returns its readings. */
static long group_moments(const struct tv_fit *fit, int group, double *inside, double *square) {
  long n = 0;
  *inside = *square = 0;
  for (long r = 0; r < fit->count; r++) {
    if (fit->reading[r].group != group || fit->reading[r].out) continue;
    double x = psi(fit, r);
    n++;
    *inside += fabs(x) < TV_HUBER;
    *square += x * x;
  }
  if (n > 0) {
    *inside /= (double)n;
    *square /= (double)n;
  }
  return n;
}

enum tailvolt_status tv_fit_errors(const struct tv_fit *fit, const double *slope, double error[TAILVOLT_MATCH_KEYS], double *worth) {
  int key[TAILVOLT_MATCH_KEYS], count = 0;
  *worth = 0;
  for (int k = 0; k < fit->key_count; k++) {
    error[k] = (double)NAN;
    if (fit->key[k].state == TAILVOLT_MATCH_FITTED) key[count++] = k;
  }
  double freedom = (double)fit->count / (double)(fit->count - count);
  gsl_matrix *a = tv_matrix_new((size_t)count + 1, (size_t)count + 1), *b = tv_matrix_new((size_t)count + 1, (size_t)count + 1),
             *half = tv_matrix_new((size_t)count + 1, (size_t)count + 1);
  enum tailvolt_status status = a != NULL && b != NULL && half != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  for (int g = 0; g < fit->group_count && status == TAILVOLT_OK; g++) {
    double inside, square;
    long n = group_moments(fit, g, &inside, &square);
    *worth += (double)n / fit->group[g].inflation;
    for (long r = 0; r < fit->count; r++)
      if (fit->reading[r].group == g && !fit->reading[r].out)
        add_reading(fit, slope, key, count, r, inside, freedom * fit->group[g].inflation * square, a, b);
  }
  if (status == TAILVOLT_OK && count > 0) {
    gsl_matrix_view va = gsl_matrix_submatrix(a, 0, 0, (size_t)count, (size_t)count),
                    vb = gsl_matrix_submatrix(b, 0, 0, (size_t)count, (size_t)count),
                    vh = gsl_matrix_submatrix(half, 0, 0, (size_t)count, (size_t)count);
    bool sound = tv_cholesky(&va.matrix) && gsl_linalg_cholesky_invert(&va.matrix) == 0;
    for (int k = 0; k < count && sound; k++) {
      double sum = 0;
      gsl_blas_dgemm(CblasNoTrans, CblasNoTrans, 1, &va.matrix, &vb.matrix, 0, &vh.matrix);
      for (int j = 0; j < count; j++)
        sum += gsl_matrix_get(&vh.matrix, (size_t)k, (size_t)j) * gsl_matrix_get(&va.matrix, (size_t)j, (size_t)k);
      error[key[k]] = sqrt(sum);
    }
  }
  gsl_matrix_free(a);
  gsl_matrix_free(b);
  gsl_matrix_free(half);
  return status;
}
