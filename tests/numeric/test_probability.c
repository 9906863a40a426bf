#include "numeric/probability.h"

#include "support/assert_near.h"

#include <math.h>

/* Tables of Student's t (two-sided 5 %) and of chi-square (5 % and 1 %), as in every handbook of statistics. */
static void test_tables(void **state) {
  (void)state;
  assert_near(tv_student_95(1), 12.706, 0.0005);
  assert_near(tv_student_95(2), 4.303, 0.0005);
  assert_near(tv_student_95(10), 2.228, 0.0005);
  assert_near(tv_student_95(30), 2.042, 0.0005);
  assert_near(tv_student_95(1e9), 1.960, 0.0005);
  assert_near(tv_chi_square_above(3.841, 1), 0.05, 5e-5);
  assert_near(tv_chi_square_above(18.307, 10), 0.05, 5e-6);
  assert_near(tv_chi_square_above(135.807, 100), 0.01, 5e-6);
}

/* Nowhere does the library's error handler end this program. */
static void test_everywhere(void **state) {
  (void)state;
  double before = HUGE_VAL;
  for (double freedom = 0.1; freedom < 1e6; freedom *= 1.07) {
    double t = tv_student_95(freedom);
    assert_true(t <= before && t > 1.9599);
    before = t;
    double share = 1;
    for (double x = 1e-9; x < 1e12; x *= 1.3) {
      double now = tv_chi_square_above(x, freedom);
      assert_true(now >= 0 && now <= share + 1e-9);
      share = now;
    }
    assert_true(share <= 0);
  }
  assert_true(isnan(tv_chi_square_above((double)NAN, 3)) && isnan(tv_chi_square_above(1, 0)));
  assert_near(tv_chi_square_above((double)INFINITY, 3), 0, 0);
  assert_near(tv_chi_square_above(-1, 3), 1, 0);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_tables), cmocka_unit_test(test_everywhere)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
