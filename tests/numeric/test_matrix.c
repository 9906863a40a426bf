#include "numeric/matrix.h"

#include "support/assert_near.h"

#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

/* Hilbert's matrix, positive definite, with something on the diagonal. */
static void fill(gsl_matrix *a, double diagonal) {
  for (size_t i = 0; i < a->size1; i++)
    for (size_t j = 0; j < a->size2; j++) gsl_matrix_set(a, i, j, 1.0 / (double)(i + j + 1) + (i == j ? diagonal : 0));
}

static void test_cholesky_equals_the_librarys(void **state) {
  (void)state;
  for (size_t n = 1; n <= 24; n++) {
    gsl_matrix *ours = tv_matrix_new(n, n), *theirs = gsl_matrix_alloc(n, n);
    fill(ours, 0.1);
    fill(theirs, 0.1);
    assert_true(tv_cholesky(ours));
    assert_int_equal(gsl_linalg_cholesky_decomp1(theirs), 0);
    for (size_t i = 0; i < n; i++)
      for (size_t j = 0; j <= i; j++) assert_near(gsl_matrix_get(ours, i, j), gsl_matrix_get(theirs, i, j), 1e-15);
    gsl_matrix_free(ours);
    gsl_matrix_free(theirs);
  }
}

static void test_cholesky_refuses(void **state) {
  (void)state;
  double diagonal[] = {-2, (double)NAN, (double)INFINITY, -1.0 / 3};
  for (size_t k = 0; k < 4; k++) {
    gsl_matrix *a = tv_matrix_new(2, 2);
    fill(a, 1);
    gsl_matrix_set(a, 1, 1, diagonal[k]);
    assert_false(tv_cholesky(a));
    gsl_matrix_free(a);
  }
}

static void test_solve(void **state) {
  (void)state;
  double a[] = {0, 2, 1, 1, -2, -3, -1, 1, 2}, b[] = {-8, 0, 3}; /* the first pivot is zero */
  const double x[] = {-4, -5, 2};
  assert_true(tv_solve(a, b, 3));
  for (int i = 0; i < 3; i++) assert_near(b[i], x[i], 1e-13);
  /* without exchanging rows the small pivot would lose all digits */
  double small[] = {1e-20, 1, 1, 1}, right[] = {1, 2};
  assert_true(tv_solve(small, right, 2));
  assert_near(right[0], 1, 1e-15);
  assert_near(right[1], 1, 1e-15);
  double nothing[9] = {0}, odd[] = {1, 2, 2, NAN};
  assert_false(tv_solve(nothing, b, 3));
  assert_false(tv_solve(odd, right, 2));
  double twice[] = {1, 2, 2, 4};
  assert_false(tv_solve(twice, right, 2));
}

static void test_eigen(void **state) {
  (void)state;
  for (int with = 0; with < 2; with++) {
    gsl_matrix *a = tv_matrix_new(2, 2), *vectors = tv_matrix_new(2, 2);
    gsl_vector *values = tv_vector_new(2);
    gsl_matrix_set(a, 0, 0, 2), gsl_matrix_set(a, 1, 1, 2), gsl_matrix_set(a, 0, 1, 1), gsl_matrix_set(a, 1, 0, 1);
    assert_true(tv_eigen(a, values, with ? vectors : NULL));
    assert_near(gsl_vector_min(values), 1, 1e-14);
    assert_near(gsl_vector_max(values), 3, 1e-14);
    if (with) assert_near(fabs(gsl_matrix_get(vectors, 0, 0)), sqrt(0.5), 1e-14);
    gsl_matrix_set(a, 0, 1, (double)NAN);
    assert_false(tv_eigen(a, values, NULL));
    gsl_matrix_free(a);
    gsl_matrix_free(vectors);
    gsl_vector_free(values);
  }
}

static void test_too_large(void **state) {
  (void)state;
  assert_null(tv_matrix_new(SIZE_MAX / 4, 16));
  assert_null(tv_vector_new(SIZE_MAX / 4));
  gsl_matrix_free(tv_matrix_new(0, 0));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_cholesky_equals_the_librarys), cmocka_unit_test(test_cholesky_refuses),
                                     cmocka_unit_test(test_solve), cmocka_unit_test(test_eigen), cmocka_unit_test(test_too_large)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
