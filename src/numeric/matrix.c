#include "numeric/matrix.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_eigen.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

gsl_matrix *tv_matrix_new(size_t rows, size_t columns) {
  if (columns > 0 && rows > (SIZE_MAX / 2 / sizeof(double)) / columns) return NULL;
  /* owner = 0: gsl_matrix_free() frees the structure, and the numbers lie behind it */
  gsl_matrix *m = calloc(1, sizeof *m + rows * columns * sizeof(double));
  if (m == NULL) return NULL;
  m->size1 = rows;
  m->size2 = m->tda = columns;
  m->data = (double *)(m + 1);
  return m;
}

gsl_vector *tv_vector_new(size_t size) {
  if (size > SIZE_MAX / 2 / sizeof(double)) return NULL;
  gsl_vector *v = calloc(1, sizeof *v + size * sizeof(double));
  if (v == NULL) return NULL;
  v->size = size;
  v->stride = 1;
  v->data = (double *)(v + 1);
  return v;
}

bool tv_cholesky(gsl_matrix *a) {
  for (size_t j = 0; j < a->size1; j++) {
    double *row = gsl_matrix_ptr(a, j, 0), scale = 0;
    for (size_t i = j; i < a->size1; i++) {
      double *below = gsl_matrix_ptr(a, i, 0), sum = 0;
      for (size_t k = 0; k < j; k++) sum += below[k] * row[k];
      below[j] -= sum;
      if (i == j) {
        if (!(below[j] > 0) || !isfinite(below[j])) return false;
        scale = 1 / sqrt(below[j]);
      }
      below[j] *= scale;
    }
  }
  return true;
}

bool tv_solve(double *a, double *b, int n) {
  for (int k = 0; k < n; k++) {
    int pivot = k;
    for (int i = k + 1; i < n; i++)
      if (fabs(a[i * n + k]) > fabs(a[pivot * n + k])) pivot = i;
    if (!isfinite(a[pivot * n + k]) || !(fabs(a[pivot * n + k]) > 0)) return false;
    for (int l = k; l < n && pivot != k; l++) {
      double kept = a[k * n + l];
      a[k * n + l] = a[pivot * n + l];
      a[pivot * n + l] = kept;
    }
    double kept = b[k];
    b[k] = b[pivot];
    b[pivot] = kept;
    for (int i = k + 1; i < n; i++) {
      double factor = a[i * n + k] / a[k * n + k];
      for (int l = k + 1; l < n; l++) a[i * n + l] -= factor * a[k * n + l];
      b[i] -= factor * b[k];
    }
  }
  for (int k = n - 1; k >= 0; k--) {
    for (int l = k + 1; l < n; l++) b[k] -= a[k * n + l] * b[l];
    b[k] /= a[k * n + k];
  }
  return true;
}

static bool all_finite(const gsl_matrix *a) {
  for (size_t i = 0; i < a->size1; i++)
    for (size_t j = 0; j < a->size2; j++)
      if (!isfinite(gsl_matrix_get(a, i, j))) return false;
  return true;
}

bool tv_eigen(gsl_matrix *a, gsl_vector *values, gsl_matrix *vectors) {
  size_t n = a->size1;
  double *room = all_finite(a) ? calloc(4 * n, sizeof *room) : NULL;
  if (room == NULL) return false;
  if (vectors == NULL) {
    gsl_eigen_symm_workspace work = {.size = n, .d = room, .sd = room + n};
    gsl_eigen_symm(a, values, &work);
  } else {
    gsl_eigen_symmv_workspace work = {.size = n, .d = room, .sd = room + n, .gc = room + 2 * n, .gs = room + 3 * n};
    gsl_eigen_symmv(a, values, vectors, &work);
  }
  free(room);
  return true;
}
