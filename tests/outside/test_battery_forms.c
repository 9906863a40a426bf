/* The two published battery forms against their published numbers. */
#include "support/assert_near.h"

#include "parts/battery_jackey.h"
#include "parts/battery_kinetic.h"
#include "parts/battery_model.h"

/* Jackey, SAE 2007-01-0778, set distributed for a 50 Ah battery: C(I, theta) from the published constants. */
static void jackey_capacity_table(void **unused) {
  (void)unused;
  static const double CURRENT_A[] = {0.0, 5.0, 15.0, 25.0, 50.0, 100.0};
  static const double TEMPERATURE_C[] = {0.0, 25.0, 40.0, 60.0};
  static const double CAPACITY_AH[4][6] = {{29.54, 27.11, 24.62, 22.89, 19.94, 16.42},
                                           {48.00, 44.05, 40.00, 37.20, 32.40, 26.68},
                                           {66.00, 60.57, 55.00, 51.15, 44.54, 36.69},
                                           {72.00, 66.07, 60.00, 55.80, 48.59, 40.02}};
  for (int t = 0; t < 4; t++)
    for (int i = 0; i < 6; i++)
      assert_near(tv_jackey_capacity_ah(&tv_jackey_sae_50ah, CURRENT_A[i], TEMPERATURE_C[t]),
                  CAPACITY_AH[t][i], 0.00501);
  assert_near(tv_jackey_capacity_ah(&tv_jackey_sae_50ah, 2.5, 25.0), 45.538, 0.00051);
  assert_near(tv_jackey_capacity_ah(&tv_jackey_sae_50ah, 25.0, 25.0), 37.198, 0.00051);
  assert_near(tv_jackey_capacity_ah(&tv_jackey_sae_50ah, 50.0, 25.0), 32.396, 0.00051);
}

/* Ceraolo, IEEE Trans. Power Systems 15(4), 2000 (values from memory). */
static void ceraolo_capacity_table(void **unused) {
  (void)unused;
  static const double CURRENT_A[] = {0.0, 12.25, 24.5, 49.0, 98.0, 196.0, 490.0};
  static const double TEMPERATURE_C[] = {-18.0, 0.0, 25.0, 40.0};
  static const double CAPACITY_AH[4][7] = {{142.9, 139.3, 133.8, 121.1, 96.9, 63.4, 25.9},
                                           {309.0, 301.3, 289.3, 261.9, 209.5, 137.1, 56.0},
                                           {578.1, 563.6, 541.2, 489.9, 391.9, 256.5, 104.7},
                                           {755.7, 736.7, 707.4, 640.4, 512.3, 335.3, 136.9}};
  for (int t = 0; t < 4; t++)
    for (int i = 0; i < 7; i++)
      assert_near(tv_jackey_capacity_ah(&tv_jackey_ceraolo_500ah, CURRENT_A[i], TEMPERATURE_C[t]),
                  CAPACITY_AH[t][i], 0.0501);
}

static void jackey_voltages_and_charging(void **unused) {
  (void)unused;
  static const double SOC[] = {1.0, 0.8, 0.5, 0.2};
  static const double SAE_V[] = {13.080, 12.865, 12.544, 12.222},
                      CERAOLO_V[] = {12.810, 12.603, 12.291, 11.980};
  for (int k = 0; k < 4; k++) {
    assert_near(6.0 * tv_jackey_emf_v(&tv_jackey_sae_50ah, SOC[k], 25.0), SAE_V[k], 0.00051);
    assert_near(6.0 * tv_jackey_emf_v(&tv_jackey_ceraolo_500ah, SOC[k], 25.0), CERAOLO_V[k], 0.00051);
  }
  /* steady discharge points */
  double full_ah = tv_jackey_capacity_ah(&tv_jackey_sae_50ah, 0.0, 25.0);
  assert_near(6.0 * tv_jackey_discharge_v(&tv_jackey_sae_50ah, 15.0, 0.2 * full_ah, 25.0), 12.5079, 0.00006);
  full_ah = tv_jackey_capacity_ah(&tv_jackey_ceraolo_500ah, 0.0, 25.0);
  assert_near(6.0 * tv_jackey_discharge_v(&tv_jackey_ceraolo_500ah, 49.0, 0.5 * full_ah, 25.0), 11.6082,
              0.00006);
  /* held voltage, and gassing at it */
  static const double HELD_V[] = {13.8, 14.2, 14.4}, GAS_A[] = {0.250, 0.449, 0.601};
  static const double CHARGE_A[6][3] = {{56.9, 75.0, 84.1}, {36.8, 49.6, 56.0}, {19.5, 26.9, 30.7},
                                        {8.43, 12.0, 13.8}, {3.47, 4.85, 5.55}, {1.47, 2.09, 2.38}};
  for (int v = 0; v < 3; v++) {
    assert_near(tv_jackey_parasitic_a(&tv_jackey_sae_50ah, HELD_V[v] / 6.0, 25.0), GAS_A[v], 0.00051);
    for (int s = 0; s < 6; s++)
      assert_near_rel(tv_jackey_charge_a(&tv_jackey_sae_50ah, 0.5 + 0.1 * s, HELD_V[v] / 6.0, 25.0),
                      CHARGE_A[s][v], 0.006);
  }
}

/* Manwell & McGowan 1993; worked numbers of the closed form. */
static void kinetic_closed_form(void **unused) {
  (void)unused;
  struct tv_kinetic model = {0.4, 0.6, 78.0};
  assert_near(tv_kinetic_empty_h(&model, 3.5), 19.7857, 5.1e-5);
  assert_near(tv_kinetic_empty_h(&model, 25.0), 1.58556, 5.1e-6);
  assert_near(tv_kinetic_empty_h(&model, 60.0), 0.57284, 5.1e-6);
  assert_near(tv_kinetic_delivered_ah(&model, tv_kinetic_empty_h(&model, 25.0)), 39.64, 0.0051);

  /* against the equations themselves, by many small fourth-order steps */
  struct tv_kinetic_wells wells = tv_kinetic_full(&model),
                          closed = tv_kinetic_after(&model, wells, 25.0, 1.5);
  int steps = 2000;
  double h = 1.5 / steps;
  for (int k = 0; k < steps; k++) {
    double slope[4], q1 = wells.available_ah, both = wells.available_ah + wells.bound_ah,
                     at[4] = {0.0, 0.5, 0.5, 1.0};
    for (int j = 0; j < 4; j++) {
      double q = q1 + (j ? at[j] * h * slope[j - 1] : 0.0), all = both - 25.0 * at[j] * h;
      slope[j] = -25.0 + 0.6 * 0.4 * (all - q) - 0.6 * 0.6 * q;
    }
    double next = q1 + h / 6.0 * (slope[0] + 2.0 * slope[1] + 2.0 * slope[2] + slope[3]);
    wells = (struct tv_kinetic_wells){next, both - 25.0 * h - next};
  }
  assert_near(closed.available_ah, wells.available_ah, 1e-6);
  assert_near(closed.bound_ah, wells.bound_ah, 1e-6);
}

/* Many short steps equal one long one. */
static void kinetic_short_steps(void **unused) {
  (void)unused;
  struct tv_kinetic model = {0.4, 0.6, 78.0};
  struct tv_kinetic_wells once = tv_kinetic_after(&model, tv_kinetic_full(&model), 25.0, 0.5),
                          wells = tv_kinetic_full(&model);
  for (int k = 0; k < 1000; k++) wells = tv_kinetic_after(&model, wells, 25.0, 0.5e-3);
  assert_near(wells.available_ah, once.available_ah, 1e-10);
  assert_near(wells.bound_ah, once.bound_ah, 1e-10);
}

/* Rate triples from a general-purpose energy model's test sets. */
static void kinetic_fit_of_published_triples(void **unused) {
  (void)unused;
  struct tv_kinetic a, b;
  assert_true(tv_kinetic_fit(1.0, 60.0, 93.0, 100.0, &a));
  assert_near(a.rate_per_h, 0.67696, 1e-5);
  assert_near(a.available_frac, 0.47511, 1e-5);
  assert_near(a.most_ah, 108.160, 1e-3);
  assert_true(tv_kinetic_fit(5.0, 340.0, 374.0, 415.0, &b));
  assert_near(b.rate_per_h, 0.18044, 1e-5);
  assert_near(b.available_frac, 0.59913, 1e-5);
  assert_near(b.most_ah, 489.857, 2e-3);
  assert_false(tv_kinetic_fit(1.0, 120.0, 93.0, 100.0, &b));

  static const double CURRENT_A[] = {2.0, 5.0, 10.0, 25.0, 50.0, 100.0, 200.0, 500.0};
  static const double TIME_H[] = {52.448, 20.000, 9.1873, 2.9204, 1.2374, 0.5638, 0.2691, 0.1047};
  for (int k = 0; k < 8; k++) assert_near_rel(tv_kinetic_empty_h(&a, CURRENT_A[k]), TIME_H[k], 5e-4);
  struct tv_kinetic_wells wells = tv_kinetic_full(&a);
  assert_near(tv_kinetic_discharge_a(&a, wells, 0.5), 111.66, 0.0051);
  wells = tv_kinetic_after(&a, wells, 50.0, 0.5);
  assert_near(wells.available_ah, 28.3780, 1e-3);
  assert_near(wells.bound_ah, 54.7818, 1e-3);
  wells = tv_kinetic_after(&a, wells, 0.0, 1.0);
  assert_near(wells.available_ah, 33.8532, 1e-3);
  struct tv_kinetic_wells half = {0.5 * a.available_frac * a.most_ah,
                                  0.5 * (1.0 - a.available_frac) * a.most_ah};
  assert_near(tv_kinetic_charge_a(&a, half, 0.5), 55.83, 0.0051);
}

/* The wells in the time loop are the same wells. */
static void time_loop_follows_the_closed_form(void **unused) {
  (void)unused;
  struct tailvolt_battery spec = {.name = "starter", .kind = TAILVOLT_FLOODED, .capacity_ah = 70.0};
  spec.reserve_min = spec.rested_v = spec.resistance_ohm = (double)NAN;
  spec.cold_cranking_a = 640.0;
  spec.soc_frac = spec.health_frac = spec.cranking_health_frac = 1.0;
  struct tv_battery *battery;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tv_battery_create(&spec, &battery, error), TAILVOLT_OK);
  struct tv_battery_state state;
  tv_battery_rest(battery, 25.0, &state);
  struct tv_kinetic model = {state.cache.available_frac, 3600.0 * state.cache.exchange_per_s, 70.0};
  struct tv_kinetic_wells wells = tv_kinetic_full(&model);
  static const double CURRENT_A[] = {20.0, 0.0, 45.0};
  for (int part = 0; part < 3; part++) {
    double gas_before_c = state.gassed_c, hours = 0.4;
    for (int k = 0; k < 1440; k++) {
      (void)tv_battery_begin(battery, &state, 1.0, CURRENT_A[part]);
      tv_battery_end(battery, &state, 1.0, CURRENT_A[part]);
    }
    /* self-discharge adds to the current */
    double gas_a = (state.gassed_c - gas_before_c) / (3600.0 * hours);
    assert_true(gas_a > 0.0 && gas_a < 0.01);
    wells = tv_kinetic_after(&model, wells, CURRENT_A[part] + gas_a, hours);
    double h1_c = state.charge_c - (1.0 - model.available_frac) * state.head_c;
    assert_near_rel(h1_c / 3600.0 * model.available_frac, wells.available_ah, 1e-6);
    assert_near(state.charge_c / 3600.0, wells.available_ah + wells.bound_ah, 1e-6);
  }
  tv_battery_free(battery);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(jackey_capacity_table),
      cmocka_unit_test(ceraolo_capacity_table),
      cmocka_unit_test(jackey_voltages_and_charging),
      cmocka_unit_test(kinetic_closed_form),
      cmocka_unit_test(kinetic_short_steps),
      cmocka_unit_test(kinetic_fit_of_published_triples),
      cmocka_unit_test(time_loop_follows_the_closed_form),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
