/* Conductors: sections from every way of stating a size, the heat balance and its exact step. */
#include <string.h>

#include "parts/conductor.h"
#include "support/assert_near.h"

static struct tailvolt_conductor cable(const struct tv_section *section, enum tailvolt_material material,
                                       double length_m) {
  struct tailvolt_conductor conductor;
  memset(&conductor, 0, sizeof conductor);
  conductor.kind = TAILVOLT_CABLE;
  conductor.length_m = length_m;
  conductor.resistance_ohm = section->r20_ohm_per_m * length_m;
  conductor.temperature_per_k = tv_material_temperature_per_k(material);
  conductor.area_m2 = tv_material_resistivity_ohm_m(material) / section->r20_ohm_per_m;
  conductor.outer_m = section->outer_m;
  conductor.material = material;
  conductor.insulation_limit_c = 85.0;
  return conductor;
}

static void test_sizes_outside_the_tables_are_refused(void **state) {
  (void)state;
  struct tv_section s;
  assert_false(tv_section_from_awg(21, TAILVOLT_COPPER, &s));
  assert_false(tv_section_from_awg(-4, TAILVOLT_COPPER, &s));
  assert_true(tv_section_from_awg(20, TAILVOLT_COPPER, &s));
  assert_true(tv_section_from_awg(-3, TAILVOLT_COPPER, &s));
  assert_false(tv_section_from_mm2(0.0, TAILVOLT_COPPER, &s));
  assert_false(tv_section_from_mm2(1000.0, TAILVOLT_COPPER, &s));
  assert_false(tv_section_from_mm2((double)NAN, TAILVOLT_COPPER, &s));
  assert_false(tv_section_from_true_area(0.0, TAILVOLT_COPPER, &s));
  assert_false(tv_section_from_resistance(0.0, TAILVOLT_COPPER, &s));
  assert_false(tv_section_from_resistance(10.0, TAILVOLT_COPPER, &s));
}

static void test_every_thicker_size_is_better_and_wider(void **state) {
  (void)state;
  struct tv_section thin, thick;
  assert_true(tv_section_from_awg(20, TAILVOLT_COPPER, &thin));
  for (int awg = 19; awg >= -3; awg--) {
    assert_true(tv_section_from_awg(awg, TAILVOLT_COPPER, &thick));
    assert_true(thick.r20_ohm_per_m < thin.r20_ohm_per_m);
    assert_true(thick.outer_m > thin.outer_m);
    assert_true(thick.conductor_m < thick.outer_m);
    thin = thick;
  }
  assert_true(tv_section_from_mm2(0.5, TAILVOLT_COPPER, &thin));
  for (double mm2 = 0.6; mm2 < 240.0; mm2 *= 1.1) {
    assert_true(tv_section_from_mm2(mm2, TAILVOLT_COPPER, &thick));
    assert_true(thick.r20_ohm_per_m < thin.r20_ohm_per_m);
    assert_true(thick.outer_m > thin.outer_m);
    assert_true(thick.conductor_m < thick.outer_m);
    thin = thick;
  }
}

static void test_the_same_wire_stated_four_ways(void **state) {
  (void)state;
  struct tv_section awg, area, measured, metric;
  assert_true(tv_section_from_awg(4, TAILVOLT_COPPER, &awg));
  assert_true(tv_section_from_true_area(21.1506e-6, TAILVOLT_COPPER, &area));
  assert_true(tv_section_from_resistance(awg.r20_ohm_per_m, TAILVOLT_COPPER, &measured));
  assert_near_rel(area.r20_ohm_per_m, awg.r20_ohm_per_m, 1e-4);
  assert_near_rel(measured.r20_ohm_per_m, awg.r20_ohm_per_m, 1e-12);
  assert_near_rel(measured.outer_m, awg.outer_m, 0.15);
  /* "16 mm2" of a metric cable is thinner than its name: thinner than 16 mm2 of counted strands */
  assert_true(tv_section_from_mm2(16.0, TAILVOLT_COPPER, &metric));
  assert_true(tv_section_from_true_area(16e-6, TAILVOLT_COPPER, &area));
  assert_true(metric.r20_ohm_per_m > area.r20_ohm_per_m);
}

static void test_cheaper_metals_resist_more(void **state) {
  (void)state;
  struct tv_section copper, tinned, clad, aluminium;
  assert_true(tv_section_from_mm2(25.0, TAILVOLT_COPPER, &copper));
  assert_true(tv_section_from_mm2(25.0, TAILVOLT_TINNED_COPPER, &tinned));
  assert_true(tv_section_from_mm2(25.0, TAILVOLT_CLAD_ALUMINIUM, &clad));
  assert_true(tv_section_from_mm2(25.0, TAILVOLT_ALUMINIUM, &aluminium));
  assert_true(copper.r20_ohm_per_m < tinned.r20_ohm_per_m);
  assert_near_rel(clad.r20_ohm_per_m, copper.r20_ohm_per_m / 0.629, 1e-9);
  assert_near_rel(aluminium.r20_ohm_per_m, copper.r20_ohm_per_m / 0.61, 1e-9);
}

static double stepped_c(const struct tailvolt_conductor *c, double temperature_c, double square_a2, double air_c, double dt_s) {
  struct tv_warming warming = tv_conductor_warming(c);
  return tv_conductor_step_c(c, &warming, temperature_c, square_a2, air_c, dt_s);
}

static void test_joints_and_fuses_stay_at_air(void **state) {
  (void)state;
  struct tailvolt_conductor joint;
  memset(&joint, 0, sizeof joint);
  joint.kind = TAILVOLT_JOINT;
  joint.resistance_ohm = 5e-3;
  assert_near(tv_conductor_cooling_w_per_k(&joint), 0.0, 0.0);
  assert_near(tv_conductor_heat_j_per_k(&joint), 0.0, 0.0);
  assert_near(stepped_c(&joint, 30.0, 1e4, 40.0, 1.0), 40.0, 0.0);
  assert_near(tv_conductor_steady_c(&joint, 1e4, 40.0), 40.0, 0.0);
  assert_near(tv_conductor_resistance_ohm(&joint, 90.0), 5e-3, 0.0);
  assert_true(isnan(tv_conductor_ampacity_a(&joint, 85.0, 25.0)));
}

/* The closed-form step against the same balance in 100 000 small explicit steps. */
static void test_step_solves_the_balance(void **state) {
  (void)state;
  struct tv_section s;
  assert_true(tv_section_from_mm2(16.0, TAILVOLT_COPPER, &s));
  struct tailvolt_conductor c = cable(&s, TAILVOLT_COPPER, 5.0);
  double g = tv_conductor_cooling_w_per_k(&c);
  double heat = tv_conductor_heat_j_per_k(&c);
  double temperature_c = 25.0;
  double dt_s = 300.0 / 100000.0;
  for (int k = 0; k < 100000; k++) {
    double power_w = 1e4 * tv_conductor_resistance_ohm(&c, temperature_c) - g * (temperature_c - 30.0);
    temperature_c += power_w * dt_s / heat;
  }
  assert_near(stepped_c(&c, 25.0, 1e4, 30.0, 300.0), temperature_c, 1e-3);
}

static void test_step_may_be_cut_anywhere(void **state) {
  (void)state;
  struct tv_section s;
  assert_true(tv_section_from_awg(8, TAILVOLT_COPPER, &s));
  struct tailvolt_conductor c = cable(&s, TAILVOLT_COPPER, 5.5);
  double one_c = stepped_c(&c, 25.0, 3600.0, 40.0, 100.0);
  double many_c = 25.0;
  for (int k = 0; k < 1000; k++) {
    many_c = stepped_c(&c, many_c, 3600.0, 40.0, 0.1);
  }
  assert_near(many_c, one_c, 1e-9);
  assert_near(stepped_c(&c, 25.0, 3600.0, 40.0, 0.0), 25.0, 0.0);
  assert_near(stepped_c(&c, 25.0, 3600.0, 40.0, 1e6), tv_conductor_steady_c(&c, 3600.0, 40.0),
              1e-9);
  assert_near(stepped_c(&c, 90.0, 0.0, 40.0, 1e6), 40.0, 1e-9); /* cools to air temperature */
}

static void test_runaway_is_reported_and_stays_a_number(void **state) {
  (void)state;
  struct tv_section s;
  assert_true(tv_section_from_awg(8, TAILVOLT_COPPER, &s));
  struct tailvolt_conductor c = cable(&s, TAILVOLT_COPPER, 5.5);
  assert_true(isinf(tv_conductor_steady_c(&c, 500.0 * 500.0, 25.0)));
  double end_c = stepped_c(&c, 25.0, 500.0 * 500.0, 25.0, 1e6);
  assert_true(isfinite(end_c) && end_c > 500.0);
}

static void test_ampacity_is_the_current_of_the_limit(void **state) {
  (void)state;
  struct tv_section s;
  for (int awg = 10; awg >= -3; awg--) {
    assert_true(tv_section_from_awg(awg, TAILVOLT_COPPER, &s));
    struct tailvolt_conductor c = cable(&s, TAILVOLT_COPPER, 3.0);
    double i_a = tv_conductor_ampacity_a(&c, 85.0, 40.0);
    assert_near(tv_conductor_steady_c(&c, i_a * i_a, 40.0), 85.0, 1e-9);
  }
  struct tailvolt_conductor c = cable(&s, TAILVOLT_COPPER, 3.0);
  assert_near(tv_conductor_ampacity_a(&c, 85.0, 85.0), 0.0, 0.0);
  assert_near(tv_conductor_ampacity_a(&c, 85.0, 90.0), 0.0, 0.0);
}

static void test_covered_cable_carries_less(void **state) {
  (void)state;
  struct tv_section s;
  assert_true(tv_section_from_mm2(25.0, TAILVOLT_COPPER, &s));
  struct tailvolt_conductor c = cable(&s, TAILVOLT_COPPER, 3.0);
  double free_a = tv_conductor_ampacity_a(&c, 85.0, 30.0);
  const enum tailvolt_laid covered[] = {TAILVOLT_SLEEVE, TAILVOLT_BUNDLED, TAILVOLT_CARPET};
  const double share[] = {0.87, 0.70, 0.75};
  for (size_t k = 0; k < 3; k++) {
    c.laid = covered[k];
    assert_near_rel(tv_conductor_ampacity_a(&c, 85.0, 30.0), free_a * share[k], 1e-12);
  }
}

static void test_length_changes_no_temperature(void **state) {
  (void)state;
  struct tv_section s;
  assert_true(tv_section_from_mm2(10.0, TAILVOLT_COPPER, &s));
  struct tailvolt_conductor brief = cable(&s, TAILVOLT_COPPER, 0.3);
  struct tailvolt_conductor lengthy = cable(&s, TAILVOLT_COPPER, 6.0);
  assert_near(tv_conductor_steady_c(&brief, 2500.0, 30.0), tv_conductor_steady_c(&lengthy, 2500.0, 30.0),
              1e-9);
  assert_near(stepped_c(&brief, 30.0, 2500.0, 30.0, 60.0),
              stepped_c(&lengthy, 30.0, 2500.0, 30.0, 60.0), 1e-9);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_sizes_outside_the_tables_are_refused),
      cmocka_unit_test(test_every_thicker_size_is_better_and_wider),
      cmocka_unit_test(test_the_same_wire_stated_four_ways),
      cmocka_unit_test(test_cheaper_metals_resist_more),
      cmocka_unit_test(test_joints_and_fuses_stay_at_air),
      cmocka_unit_test(test_step_solves_the_balance),
      cmocka_unit_test(test_step_may_be_cut_anywhere),
      cmocka_unit_test(test_runaway_is_reported_and_stays_a_number),
      cmocka_unit_test(test_ampacity_is_the_current_of_the_limit),
      cmocka_unit_test(test_covered_cable_carries_less),
      cmocka_unit_test(test_length_changes_no_temperature),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
