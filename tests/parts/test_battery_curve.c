/* The rested-voltage curve: its points, extrapolation, integral and inverse. */
#include "support/assert_near.h"

#include "parts/battery_curve.h"

static const double SOC[] = {0.0, 0.25, 0.5, 0.75, 1.0}, V[] = {11.89, 12.06, 12.24, 12.45, 12.65};

/* integral by the trapezoid rule, so as not to mirror the code */
static double rough_area_v(const struct tv_battery_curve *curve, double from, double to) {
  int steps = 20000;
  double sum = 0.5 * (tv_curve_at(curve, from, NULL) + tv_curve_at(curve, to, NULL));
  for (int k = 1; k < steps; k++) sum += tv_curve_at(curve, from + (to - from) * k / steps, NULL);
  return sum * (to - from) / steps;
}

static void passes_through_its_points(void **unused) {
  (void)unused;
  struct tv_battery_curve curve;
  tv_curve_make(SOC, V, 5, 300.0, &curve);
  for (int k = 0; k < 5; k++) assert_near(tv_curve_at(&curve, SOC[k], NULL), V[k], 1e-12);
  double slope_v;
  assert_near(tv_curve_at(&curve, 0.125, &slope_v), 11.975, 1e-12);
  assert_near(slope_v, 0.68, 1e-12);
  assert_near(tv_curve_at(&curve, 1.1, &slope_v), 12.73, 1e-12);
  /* below empty: the first line less the knee, down to zero */
  assert_near(tv_curve_at(&curve, -0.05, &slope_v), 11.89 - 0.68 * 0.05 - 300.0 * 0.0025, 1e-12);
  assert_near(slope_v, 0.68 + 2.0 * 300.0 * 0.05, 1e-9);
  assert_near(tv_curve_at(&curve, -0.5, &slope_v), 0.0, 0.0);
  assert_near(slope_v, 0.0, 0.0);
}

static void integral_is_exact(void **unused) {
  (void)unused;
  struct tv_battery_curve curve;
  for (int knee = 0; knee < 2; knee++) {
    tv_curve_make(SOC, V, 5, knee ? 300.0 : 0.0, &curve);
    assert_near(tv_curve_area(&curve, 0.0), 0.0, 1e-15);
    static const double AT[] = {-0.4, -0.15, -0.03, 0.1, 0.25, 0.6, 1.0, 1.2};
    for (int k = 0; k < 8; k++)
      assert_near(tv_curve_area(&curve, AT[k]), rough_area_v(&curve, 0.0, AT[k]), 2e-5);
    /* in one straight piece the trapezoid is exact */
    assert_near(tv_curve_area(&curve, 0.7) - tv_curve_area(&curve, 0.6),
                0.1 * tv_curve_at(&curve, 0.65, NULL), 1e-13);
  }
}

static void inverse_finds_the_charge(void **unused) {
  (void)unused;
  struct tv_battery_curve curve;
  tv_curve_make(SOC, V, 5, 300.0, &curve);
  for (double soc = 0.01; soc < 1.0; soc += 0.07)
    assert_near(tv_curve_inverse(&curve, tv_curve_at(&curve, soc, NULL)), soc, 1e-12);
  assert_near(tv_curve_inverse(&curve, 10.0), 0.0, 0.0);
  assert_near(tv_curve_inverse(&curve, 14.0), 1.0, 0.0);
}

static void tables_may_stop_short_of_the_ends(void **unused) {
  (void)unused;
  struct tv_battery_curve curve;
  static const double MIDDLE[] = {0.2, 0.8}, MIDDLE_V[] = {12.0, 12.6};
  tv_curve_make(MIDDLE, MIDDLE_V, 2, 0.0, &curve);
  assert_near(tv_curve_at(&curve, 0.0, NULL), 11.8, 1e-12);
  assert_near(tv_curve_at(&curve, 1.0, NULL), 12.8, 1e-12);
  assert_near(tv_curve_at(&curve, -0.01, NULL), 10.8, 1e-12);
  static const double ONE[] = {0.5}, ONE_V[] = {12.5};
  tv_curve_make(ONE, ONE_V, 1, 0.0, &curve);
  assert_near(tv_curve_at(&curve, 0.1, NULL), 12.5, 1e-12);
  assert_near(tv_curve_at(&curve, 0.9, NULL), 12.5, 1e-12);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(passes_through_its_points),
      cmocka_unit_test(integral_is_exact),
      cmocka_unit_test(inverse_finds_the_charge),
      cmocka_unit_test(tables_may_stop_short_of_the_ends),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
