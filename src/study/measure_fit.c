#include "study/measure_fit.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdlib.h>

#include "numeric/matrix.h"

/* Gauss-Newton rounds. Readings are nearly linear, so two or three suffice; derivatives are recomputed only after a long step. A
 * bad joint is many times what was assumed: no round moves a logarithm by more than one, to avoid overshoot. */
enum { ROUNDS = 12 };
static const double LONGEST_RATIO = 1.0;
/* Priors this many times as wide (deviation) hardly count: whatever misfit remains is contradiction among the
 * readings. */
static const double WIDER = 6.0;

static void free_matrices(gsl_matrix *const *matrices, int count) {
  for (int k = 0; k < count; k++) gsl_matrix_free(matrices[k]);
}

enum tailvolt_status tv_measure_update(const gsl_vector *mean, const gsl_matrix *covariance, const gsl_vector *at,
                                       const gsl_matrix *jacobian, const double *misses, const double *noise, gsl_vector *x,
                                       gsl_matrix *covariance_after, double *hat) {
  size_t count = jacobian->size1, unknowns = jacobian->size2;
  gsl_matrix *cross = tv_matrix_new(unknowns, count), *sum = tv_matrix_new(count, count);
  gsl_matrix *gain = tv_matrix_new(unknowns, count);
  gsl_vector *miss = tv_vector_new(count), *away = tv_vector_new(unknowns);
  enum tailvolt_status status = TAILVOLT_OK;
  if (cross == NULL || sum == NULL || gain == NULL || miss == NULL || away == NULL) {
    status = TAILVOLT_NO_MEMORY;
  } else {
    gsl_blas_dgemm(CblasNoTrans, CblasTrans, 1, covariance, jacobian, 0, cross);
    gsl_blas_dgemm(CblasNoTrans, CblasNoTrans, 1, jacobian, cross, 0, sum);
    for (size_t p = 0; p < count; p++) {
      gsl_matrix_set(sum, p, p, gsl_matrix_get(sum, p, p) + noise[p] * noise[p]);
      gsl_vector_set(miss, p, misses[p]);
    }
    gsl_vector_memcpy(away, mean);
    gsl_vector_sub(away, at);
    gsl_blas_dgemv(CblasNoTrans, -1, jacobian, away, 1, miss);
    if (!tv_cholesky(sum)) status = TAILVOLT_SINGULAR;
  }
  if (status == TAILVOLT_OK) {
    for (size_t k = 0; k < unknowns; k++) {
      gsl_vector_view row = gsl_matrix_row(gain, k);
      gsl_vector_const_view from = gsl_matrix_const_row(cross, k);
      gsl_linalg_cholesky_solve(sum, &from.vector, &row.vector);
    }
    gsl_vector_memcpy(x, mean);
    gsl_blas_dgemv(CblasNoTrans, 1, gain, miss, 1, x);
    if (covariance_after != NULL) {
      gsl_matrix_memcpy(covariance_after, covariance);
      gsl_blas_dgemm(CblasNoTrans, CblasTrans, -1, gain, cross, 1, covariance_after);
    }
    for (size_t p = 0; p < count && hat != NULL; p++) {
      gsl_vector_const_view row = gsl_matrix_const_row(jacobian, p), column = gsl_matrix_const_column(gain, p);
      gsl_blas_ddot(&row.vector, &column.vector, &hat[p]);
    }
  }
  gsl_matrix *const all[] = {cross, sum, gain};
  free_matrices(all, 3);
  gsl_vector_free(miss);
  gsl_vector_free(away);
  return status;
}

/* A drop cannot be negative: where it may be half as large again it varies by ratio. */
void tv_measure_normal(double mean, double deviation, bool drop, double *low, double *high) {
  const double z = 1.645, share = 0.25;
  if (drop && mean > 0 && deviation > share * mean) {
    double ratio = sqrt(log1p(deviation * deviation / (mean * mean)));
    *low = mean * exp(-z * ratio - 0.5 * ratio * ratio);
    *high = mean * exp(z * ratio - 0.5 * ratio * ratio);
    return;
  }
  *low = mean - z * deviation;
  *high = mean + z * deviation;
}

/* The readings against each other and the meters alone: priors made so wide that they hardly hold anything back. What the
 * meters have in common stays. */
static enum tailvolt_status compare_readings(const struct tv_measure_model *model, const gsl_matrix *jacobian, const double *misses,
                                             const double *noise, int count, struct tv_measure_fit *fit) {
  gsl_matrix *wide = tv_matrix_new((size_t)model->unknowns, (size_t)model->unknowns);
  gsl_vector *x = tv_vector_new((size_t)model->unknowns), *away = tv_vector_new((size_t)model->unknowns);
  double *hat = calloc((size_t)count + 1, sizeof *hat);
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (wide != NULL && x != NULL && away != NULL && hat != NULL) {
    gsl_matrix_memcpy(wide, model->covariance);
    for (int k = 0; k < model->values + TV_OCCASION_VOLT_GAIN; k++)
      for (int j = 0; j < model->values + TV_OCCASION_VOLT_GAIN; j++)
        gsl_matrix_set(wide, (size_t)k, (size_t)j, WIDER * WIDER * gsl_matrix_get(wide, (size_t)k, (size_t)j));
    status = tv_measure_update(model->mean, wide, fit->x, jacobian, misses, noise, x, NULL, hat);
  }
  fit->chi_square = fit->freedom = 0;
  if (status == TAILVOLT_OK) {
    gsl_vector_memcpy(away, x);
    gsl_vector_sub(away, fit->x);
    for (int p = 0; p < count; p++) {
      gsl_vector_const_view row = gsl_matrix_const_row(jacobian, (size_t)p);
      double moved = 0;
      gsl_blas_ddot(&row.vector, away, &moved);
      double miss = (misses[p] - moved) / noise[p];
      fit->chi_square += miss * miss;
      fit->freedom += fmax(1 - hat[p], 0);
    }
  }
  gsl_matrix_free(wide);
  gsl_vector_free(x);
  gsl_vector_free(away);
  free(hat);
  return status;
}

/* The model at x, and by how much it misses the readings. */
static enum tailvolt_status look_at(const struct tv_measure_model *model, const struct tailvolt_probe *probes,
                                    const double *values, int count, double *misses, double *noise, struct tv_measure_fit *fit,
                                    char *error) {
  enum tailvolt_status status = tv_measure_show(model, fit->x, probes, count, fit->shown, error);
  for (int p = 0; p < count && status == TAILVOLT_OK; p++) {
    misses[p] = values[p] - fit->shown[p];
    noise[p] = tv_measure_noise(&probes[p], values[p]);
  }
  return status;
}

enum tailvolt_status tv_measure_surprise(const struct tv_measure_model *model, const gsl_matrix *jacobian, const double *misses,
                                         const double *noise, double *surprise) {
  size_t count = jacobian->size1;
  gsl_matrix *cross = tv_matrix_new((size_t)model->unknowns, count), *sum = tv_matrix_new(count, count);
  gsl_vector *miss = tv_vector_new(count), *solved = tv_vector_new(count);
  bool room = cross != NULL && sum != NULL && miss != NULL && solved != NULL;
  *surprise = (double)NAN;
  if (room) {
    gsl_blas_dgemm(CblasNoTrans, CblasTrans, 1, model->covariance, jacobian, 0, cross);
    gsl_blas_dgemm(CblasNoTrans, CblasNoTrans, 1, jacobian, cross, 0, sum);
    for (size_t p = 0; p < count; p++) {
      gsl_matrix_set(sum, p, p, gsl_matrix_get(sum, p, p) + noise[p] * noise[p]);
      gsl_vector_set(miss, p, misses[p]);
    }
    if (tv_cholesky(sum) && gsl_linalg_cholesky_solve(sum, miss, solved) == 0)
      gsl_blas_ddot(miss, solved, surprise);
  }
  gsl_matrix_free(cross);
  gsl_matrix_free(sum);
  gsl_vector_free(miss);
  gsl_vector_free(solved);
  return room ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}

static double furthest(const struct tv_measure_model *model, const gsl_vector *a, const gsl_vector *b) {
  double most = 0;
  for (int k = 0; k < model->unknowns; k++) {
    double deviation = sqrt(gsl_matrix_get(model->covariance, (size_t)k, (size_t)k));
    if (deviation > 0) most = fmax(most, fabs(gsl_vector_get(a, (size_t)k) - gsl_vector_get(b, (size_t)k)) / deviation);
  }
  return most;
}

/* The whole step is scaled, so its direction stays. */
static void shorten(const struct tv_measure_model *model, const gsl_vector *from, gsl_vector *to) {
  double most = 0;
  for (int k = 0; k < model->values; k++)
    if (model->by_ratio[k]) most = fmax(most, fabs(gsl_vector_get(to, (size_t)k) - gsl_vector_get(from, (size_t)k)));
  if (most <= LONGEST_RATIO) return;
  gsl_vector_sub(to, from);
  gsl_vector_scale(to, LONGEST_RATIO / most);
  gsl_vector_add(to, from);
}

enum tailvolt_status tv_measure_fit_make(const struct tv_measure_model *model, const struct tailvolt_probe *probes,
                                         const double *values, int count, const gsl_matrix *at_mean, struct tv_measure_fit *fit,
                                         char *error) {
  size_t n = (size_t)model->unknowns, m = (size_t)count;
  *fit = (struct tv_measure_fit){.x = tv_vector_new(n), .covariance = tv_matrix_new(n, n),
                                 .shown = calloc(m + 1, sizeof(double))};
  if (fit->x == NULL || fit->covariance == NULL || fit->shown == NULL) return TAILVOLT_NO_MEMORY;
  gsl_vector_memcpy(fit->x, model->mean);
  gsl_matrix_memcpy(fit->covariance, model->covariance);
  if (count == 0) return TAILVOLT_OK;
  gsl_matrix *jacobian = tv_matrix_new(m, n);
  gsl_vector *next = tv_vector_new(n);
  double *misses = calloc(m, sizeof *misses), *noise = calloc(m, sizeof *noise);
  enum tailvolt_status status =
      jacobian == NULL || next == NULL || misses == NULL || noise == NULL ? TAILVOLT_NO_MEMORY : TAILVOLT_OK;
  if (status == TAILVOLT_OK) gsl_matrix_memcpy(jacobian, at_mean);
  for (int k = 0; k < ROUNDS && status == TAILVOLT_OK; k++) {
    status = look_at(model, probes, values, count, misses, noise, fit, error);
    if (status == TAILVOLT_OK)
      status = tv_measure_update(model->mean, model->covariance, fit->x, jacobian, misses, noise, next, fit->covariance, NULL);
    if (status != TAILVOLT_OK) break;
    shorten(model, fit->x, next);
    double moved = furthest(model, next, fit->x);
    gsl_vector_memcpy(fit->x, next);
    const double settled = 0.05, far = 0.1; /* in deviations of the priors */
    if (moved < settled) break;
    if (moved > far && k + 1 < ROUNDS) status = tv_measure_jacobian(model, fit->x, probes, count, jacobian, error);
  }
  if (status == TAILVOLT_OK) status = look_at(model, probes, values, count, misses, noise, fit, error);
  if (status == TAILVOLT_OK) status = compare_readings(model, jacobian, misses, noise, count, fit);
  gsl_matrix_free(jacobian);
  gsl_vector_free(next);
  free(misses);
  free(noise);
  return status;
}

void tv_measure_fit_free(struct tv_measure_fit *fit) {
  gsl_vector_free(fit->x);
  gsl_matrix_free(fit->covariance);
  free(fit->shown);
  *fit = (struct tv_measure_fit){0};
}
