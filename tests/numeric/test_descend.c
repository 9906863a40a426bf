#include "numeric/descend.h"

#include "support/assert_near.h"

#include <math.h>

/* NIST Statistical Reference Datasets, nonlinear regression, "Misra1a": y = b1 (1 - exp(-b2 x)). Certified: b1 = 2.3894212918E+02,
 * b2 = 5.5015643181E-04, residual sum of squares 1.2455138894E-01. Data and values from memory; that the data lead to the certified
 * values to nine digits confirms both. */
static const double measured[] = {10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78},
                    at[] = {77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0};
enum { READINGS = sizeof at / sizeof *at };

static int looks, most_looks = 1000;

static bool misra(const gsl_vector *b, void *context, gsl_vector *f) {
  (void)context;
  for (size_t k = 0; k < READINGS; k++)
    gsl_vector_set(f, k, gsl_vector_get(b, 0) * -expm1(-gsl_vector_get(b, 1) * at[k]) - measured[k]);
  return ++looks <= most_looks;
}

static bool misra_slopes(const gsl_vector *b, void *context, gsl_matrix *j) {
  (void)context;
  for (size_t k = 0; k < READINGS; k++) {
    gsl_matrix_set(j, k, 0, -expm1(-gsl_vector_get(b, 1) * at[k]));
    gsl_matrix_set(j, k, 1, gsl_vector_get(b, 0) * at[k] * exp(-gsl_vector_get(b, 1) * at[k]));
  }
  return true;
}

static void test_certified_values(void **state) {
  (void)state;
  const double starts[2][2] = {{500, 0.0001}, {250, 0.0005}}; /* the data set's own two */
  for (int k = 0; k < 2; k++) {
    double b[2] = {starts[k][0], starts[k][1]}, rest[READINGS], squares = 0;
    gsl_vector_view x = gsl_vector_view_array(b, 2), f = gsl_vector_view_array(rest, READINGS);
    struct tv_descent how = {misra, misra_slopes, NULL, READINGS, 2, 60, 1e-7, 0};
    assert_int_equal(tv_descend(&how, &x.vector), TV_ARRIVED);
    assert_near(b[0], 238.94212918, 1e-6);
    assert_near(b[1], 5.5015643181e-04, 1e-12);
    misra(&x.vector, NULL, &f.vector);
    for (int r = 0; r < READINGS; r++) squares += rest[r] * rest[r];
    assert_near(squares, 0.12455138894, 1e-10);
  }
}

static void test_ends(void **state) {
  (void)state;
  double b[2] = {500, 0.0001};
  gsl_vector_view x = gsl_vector_view_array(b, 2);
  struct tv_descent how = {misra, misra_slopes, NULL, READINGS, 2, 2, 1e-9, 0};
  assert_int_equal(tv_descend(&how, &x.vector), TV_OUT_OF_STEPS);
  looks = 0, most_looks = 3;
  how.steps = 60;
  assert_int_equal(tv_descend(&how, &x.vector), TV_NOT_THERE);
  most_looks = 1000;
  assert_true(b[0] < 500); /* as far as it came */
}

/* An unknown without influence stays where it is. */
static bool one_of_two(const gsl_vector *b, void *context, gsl_vector *f) {
  (void)context;
  gsl_vector_set(f, 0, gsl_vector_get(b, 0) - 3);
  gsl_vector_set(f, 1, 2 * (gsl_vector_get(b, 0) - 3));
  return true;
}

static bool one_of_two_slopes(const gsl_vector *b, void *context, gsl_matrix *j) {
  (void)context, (void)b;
  gsl_matrix_set_zero(j);
  gsl_matrix_set(j, 0, 0, 1);
  gsl_matrix_set(j, 1, 0, 2);
  return true;
}

static void test_without_influence(void **state) {
  (void)state;
  double b[2] = {10, 7};
  gsl_vector_view x = gsl_vector_view_array(b, 2);
  struct tv_descent how = {one_of_two, one_of_two_slopes, NULL, 2, 2, 60, 1e-9, 1e-12};
  assert_int_equal(tv_descend(&how, &x.vector), TV_ARRIVED);
  assert_near(b[0], 3, 1e-6);
  assert_near(b[1], 7, 0);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_certified_values), cmocka_unit_test(test_ends),
                                     cmocka_unit_test(test_without_influence)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
