/* A battery with explicit circuit values is exactly that circuit. */
#include "support/assert_near.h"

#include "parts/battery.h"

static struct tailvolt_battery circuit_spec(void) {
  struct tailvolt_battery spec = {.name = "starter", .kind = TAILVOLT_FLOODED, .capacity_ah = 70.0};
  spec.reserve_min = (double)NAN;
  spec.cold_cranking_a = 640.0;
  spec.soc_frac = 0.9;
  spec.rested_v = (double)NAN;
  spec.health_frac = spec.cranking_health_frac = 1.0;
  spec.resistance_ohm = 6e-3;
  spec.polarization_count = 2;
  spec.polarization_ohm[0] = 4e-3, spec.polarization_s[0] = 10.0;
  spec.polarization_ohm[1] = 3e-3, spec.polarization_s[1] = 200.0;
  spec.open_circuit_count = 3;
  spec.open_circuit_frac[0] = 0.0, spec.open_circuit_v[0] = 11.9;
  spec.open_circuit_frac[1] = 0.5, spec.open_circuit_v[1] = 12.4;
  spec.open_circuit_frac[2] = 1.0, spec.open_circuit_v[2] = 12.8;
  return spec;
}

static struct tv_battery *made(const struct tailvolt_battery *spec) {
  struct tv_battery *battery;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tv_battery_create(spec, &battery, error), TAILVOLT_OK);
  return battery;
}

/* v(t) = U(q) - R i - sum R_k i (1 - exp(-t/tau_k)) under a constant current */
static double closed_form_v(double t_s, double current_a) {
  double soc = 0.9 - current_a * t_s / (70.0 * 3600.0);
  double ocv_v = soc >= 0.5 ? 12.4 + 0.8 * (soc - 0.5) : 11.9 + soc;
  return ocv_v - current_a * (6e-3 - 4e-3 * expm1(-t_s / 10.0) - 3e-3 * expm1(-t_s / 200.0));
}

static double run_v(double t_s, double h_s, double current_a) {
  struct tailvolt_battery spec = circuit_spec();
  struct tv_battery *battery = made(&spec);
  struct tv_battery_state state;
  tv_battery_rest(battery, 25.0, &state);
  long steps = lround(t_s / h_s);
  for (long k = 0; k < steps; k++) {
    (void)tv_battery_begin(battery, &state, h_s, current_a);
    tv_battery_end(battery, &state, h_s, current_a);
  }
  struct tv_battery_line line = tv_battery_begin(battery, &state, 0.0, current_a);
  tv_battery_free(battery);
  return line.e_v - line.r_ohm * current_a;
}

static void follows_its_closed_form(void **unused) {
  (void)unused;
  assert_near(run_v(30.0, 1e-3, 80.0), closed_form_v(30.0, 80.0), 1e-8);
  assert_near(run_v(2000.0, 0.1, 55.0), closed_form_v(2000.0, 55.0), 1e-6); /* over the corner at 50 % */
  assert_near(run_v(30.0, 1e-3, -40.0), closed_form_v(30.0, -40.0), 1e-8);
}

static void midpoint_is_of_second_order(void **unused) {
  (void)unused;
  double coarse_v = run_v(16.0, 2.0, 80.0), middle_v = run_v(16.0, 1.0, 80.0),
         fine_v = run_v(16.0, 0.5, 80.0);
  double order = log2((coarse_v - middle_v) / (middle_v - fine_v));
  assert_near(order, 2.0, 0.1);
}

static void begins_at_rest(void **unused) {
  (void)unused;
  struct tailvolt_battery spec = circuit_spec();
  struct tv_battery *battery = made(&spec);
  struct tv_battery_state state;
  tv_battery_rest(battery, -20.0, &state);
  struct tv_battery_line line = tv_battery_begin(battery, &state, 0.0, 0.0);
  assert_near(line.e_v, 12.72, 1e-12);
  assert_near(line.r_ohm, 6e-3, 1e-15);
  assert_near(tv_battery_soc_frac(battery, &state), 0.9, 1e-15);
  assert_near(tv_battery_resistance_ohm(battery, &state), 6e-3, 0.0);
  tv_battery_free(battery);

  spec.soc_frac = (double)NAN;
  spec.rested_v = 12.15;
  battery = made(&spec);
  tv_battery_rest(battery, 25.0, &state);
  assert_near(tv_battery_soc_frac(battery, &state), 0.25, 1e-12);
  assert_near(tv_battery_open_circuit_v(battery, &state), 12.15, 1e-12);
  tv_battery_free(battery);
}

/* a swinging current, with a change of step and a corner of the table on the way */
static double swing_a(long k) {
  return 30.0 + 70.0 * sin(0.01 * (double)k) - (double)(k % 7) * 12.0;
}

static void books_close(void **unused) {
  (void)unused;
  struct tailvolt_battery spec = circuit_spec();
  spec.soc_frac = 0.5002;
  struct tv_battery *battery = made(&spec);
  struct tv_battery_state state;
  tv_battery_rest(battery, 25.0, &state);
  double start_j = tv_battery_stored_j(battery, &state), start_c = state.charge_c;
  double out_j = 0.0, out_c = 0.0, turned_j = 0.0, last_a = 0.0;
  for (long k = 0; k < 200000; k++) {
    double h_s = k % 1000 < 500 ? 1e-3 : 0.25e-3, current_a = swing_a(k);
    struct tv_battery_line line = tv_battery_begin(battery, &state, h_s, last_a);
    double v = line.e_v - line.r_ohm * current_a;
    struct tv_battery_drops drops;
    tv_battery_drops(battery, &state, h_s, current_a, &drops);
    assert_int_equal(drops.branch_count, 2);
    assert_near(drops.ocv_v - drops.ohmic_v - drops.branch_v[0] - drops.branch_v[1], v, 1e-9);
    out_j += v * current_a * h_s;
    out_c += current_a * h_s;
    turned_j += fabs(v * current_a * h_s);
    tv_battery_end(battery, &state, h_s, current_a);
    last_a = current_a;
  }
  assert_near(start_c - state.charge_c, out_c, 1e-9 * start_c);
  double residual_j = start_j - tv_battery_stored_j(battery, &state) - out_j - state.loss_j;
  assert_true(state.loss_j > 0.0);
  assert_near(residual_j, 0.0, 1e-11 * turned_j);
  tv_battery_free(battery);
}

static void empty_falls_steeply_and_full_makes_gas(void **unused) {
  (void)unused;
  struct tailvolt_battery spec = circuit_spec();
  spec.soc_frac = 0.001;
  struct tv_battery *battery = made(&spec);
  struct tv_battery_state state;
  tv_battery_rest(battery, 25.0, &state);
  double start_j = tv_battery_stored_j(battery, &state), out_j = 0.0, last_v = 20.0;
  for (int k = 0; k < 50000 && last_v > 9.0; k++) {
    struct tv_battery_line line = tv_battery_begin(battery, &state, 0.1, 10.0);
    double v = line.e_v - line.r_ohm * 10.0;
    assert_true(v <= last_v + 1e-12);
    last_v = v;
    out_j += v * 10.0 * 0.1;
    tv_battery_end(battery, &state, 0.1, 10.0);
  }
  assert_true(last_v <= 9.0);
  assert_near(tv_battery_soc_frac(battery, &state), -0.03, 0.01);
  assert_near(start_j - tv_battery_stored_j(battery, &state), out_j + state.loss_j, 1e-5 * out_j);
  tv_battery_free(battery);

  spec.soc_frac = 0.999;
  battery = made(&spec);
  tv_battery_rest(battery, 25.0, &state);
  start_j = tv_battery_stored_j(battery, &state), out_j = 0.0;
  for (int k = 0; k < 50000; k++) {
    struct tv_battery_line line = tv_battery_begin(battery, &state, 0.1, -20.0);
    out_j -= (line.e_v + line.r_ohm * 20.0) * 20.0 * 0.1;
    tv_battery_end(battery, &state, 0.1, -20.0);
  }
  assert_near(tv_battery_soc_frac(battery, &state), 1.0, 1e-12);
  assert_near(state.gassed_c, 50000.0 * 2.0 - 0.001 * 70.0 * 3600.0, 1e-6);
  assert_near(start_j - tv_battery_stored_j(battery, &state), out_j + state.loss_j, 1e-9 * fabs(out_j));
  tv_battery_free(battery);
}

static void health_scales_charge_only(void **unused) {
  (void)unused;
  struct tailvolt_battery spec = circuit_spec();
  spec.health_frac = 0.5;
  spec.cranking_health_frac = 0.5;
  struct tv_battery *battery = made(&spec);
  struct tv_battery_state state;
  tv_battery_rest(battery, 25.0, &state);
  assert_near(tv_battery_capacity_ah(battery), 35.0, 1e-12);
  assert_near(state.charge_c, 0.9 * 35.0 * 3600.0, 1e-9);
  assert_near(tv_battery_resistance_ohm(battery, &state), 6e-3, 0.0); /* exactly as stated */
  tv_battery_free(battery);
}

static void copies_of_the_state_are_snapshots(void **unused) {
  (void)unused;
  struct tailvolt_battery spec = circuit_spec();
  struct tv_battery *battery = made(&spec);
  struct tv_battery_state state, again;
  tv_battery_rest(battery, 25.0, &state);
  for (int k = 0; k < 100; k++) {
    (void)tv_battery_begin(battery, &state, 1e-3, 50.0);
    tv_battery_end(battery, &state, 1e-3, 50.0);
  }
  again = state;
  (void)tv_battery_begin(battery, &state, 1e-3, 50.0);
  tv_battery_end(battery, &state, 1e-3, 50.0);
  (void)tv_battery_begin(battery, &again, 1e-3, 50.0);
  tv_battery_end(battery, &again, 1e-3, 50.0);
  assert_true(state.charge_c == again.charge_c && state.branch_v[0] == again.branch_v[0] &&
              state.loss_j == again.loss_j);
  tv_battery_free(battery);
}

/* A stated empty voltage moves the lower end of the kind's curve, leaves the upper one and keeps its shape. */
static void empty_voltage_stretches_the_curve(void **state) {
  (void)state;
  struct tailvolt_battery spec = circuit_spec();
  spec.open_circuit_count = 0;
  double kind_v[5], own_v[5];
  for (int own = 0; own < 2; own++) {
    if (own) spec.empty_v = 11.2;
    for (int k = 0; k < 5; k++) {
      spec.soc_frac = 0.25 * k;
      struct tv_battery *battery = made(&spec);
      struct tv_battery_state rest;
      tv_battery_rest(battery, 25.0, &rest);
      (own ? own_v : kind_v)[k] = tv_battery_open_circuit_v(battery, &rest);
      tv_battery_free(battery);
    }
  }
  assert_near(own_v[0], 11.2, 1e-9);
  assert_near(own_v[4], kind_v[4], 1e-9);
  for (int k = 1; k < 4; k++)
    assert_near((own_v[4] - own_v[k]) / (own_v[4] - own_v[0]), (kind_v[4] - kind_v[k]) / (kind_v[4] - kind_v[0]), 1e-9);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(empty_voltage_stretches_the_curve),
      cmocka_unit_test(follows_its_closed_form),
      cmocka_unit_test(midpoint_is_of_second_order),
      cmocka_unit_test(begins_at_rest),
      cmocka_unit_test(books_close),
      cmocka_unit_test(empty_falls_steeply_and_full_makes_gas),
      cmocka_unit_test(health_scales_charge_only),
      cmocka_unit_test(copies_of_the_state_are_snapshots),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
