/* Constant currents drawn from a parked battery: against labels and closed forms. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "parts/battery_model.h"
#include "study/parked.h"
#include "support/assert_near.h"
#include "support/parked_cars.h"
#include "support/scenes.h"

/* Time to 10.5 V at a constant current. */
static double drained_s(double current_a, const char *more) {
  struct tailvolt_system *system = parked_bench(more);
  struct tailvolt_profile *profile = parked_drain(system, current_a);
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tailvolt_parked *parked = parked_play(system, profile, &options);
  double time_s = parked->cut_out_s;
  tailvolt_parked_free(parked);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return time_s;
}

static void reserve_capacity_of_the_label(void **state) {
  (void)state;
  /* IEC 60095-1: 25 A at 25 C down to 10.50 V (value from memory) */
  assert_near_rel(drained_s(25, ""), 117.7 * 60, 2e-3);
  /* and the capacity: a twentieth of it for 20 h */
  assert_near_rel(drained_s(3.5, ""), 20 * 3600.0, 5e-3);
}

/* Manwell & McGowan, Solar Energy 50(5), 1993: both wells after a constant current from equal heads. */
static void two_wells(double q0_c, double c, double k_per_s, double current_a, double t_s, double *q1_c,
                      double *q2_c) {
  double e = exp(-k_per_s * t_s), q10_c = c * q0_c, q20_c = (1 - c) * q0_c;
  double ramp_s = (k_per_s * t_s - 1 + e) / k_per_s;
  *q1_c = q10_c * e + (q0_c * k_per_s * c - current_a) * (1 - e) / k_per_s - current_a * c * ramp_s;
  *q2_c = q20_c * e + q0_c * (1 - c) * (1 - e) - current_a * (1 - c) * ramp_s;
}

static void wells_by_the_closed_form(void **state) {
  (void)state;
  struct tailvolt_system *system = parked_bench("");
  struct tailvolt_profile *profile = parked_drain(system, 20);
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  double until_s, q1_c, q2_c;
  struct tv_parked_search *v = calloc(1, sizeof *v);
  options.soc_limit_frac = 0.45;
  assert_int_equal(tv_search_make(system, profile, &options, NULL, v), TAILVOLT_OK);
  assert_int_equal(tv_search_by_checkpoints(v, &until_s), TAILVOLT_OK);
  assert_int_equal(v->full_reason, TAILVOLT_FULL_NOT);
  const struct tv_battery *battery = v->slow->battery[0];
  const struct tv_battery_state *now = &v->slow->state.battery[0];
  two_wells(battery->usable_c, battery->available_frac, battery->exchange_per_s, 20, until_s, &q1_c, &q2_c);
  double c = battery->available_frac;
  /* self-discharge, which the closed form lacks, takes about 10 mA of the 20 A */
  assert_near_rel(c * (now->charge_c - (1 - c) * now->head_c), q1_c, 2e-3);
  assert_near_rel((1 - c) * (now->charge_c + c * now->head_c), q2_c, 2e-3);
  assert_near_rel(until_s, 0.55 * battery->usable_c / 20, 1e-3);
  assert_true(now->head_c > 0.1 * battery->usable_c);
  tv_search_free(v);
  free(v);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

static void half_the_load_more_than_doubles_the_time(void **state) {
  (void)state;
  double times_s[4];
  for (int k = 0; k < 4; k++) times_s[k] = drained_s(40 / pow(2, k), "");
  for (int k = 1; k < 4; k++) {
    double ratio = times_s[k] / times_s[k - 1];
    /* Peukert exponents quoted for flooded batteries reach from 1.05 to 1.4 */
    assert_true(ratio > pow(2, 1.05));
    assert_true(ratio < pow(2, 1.4));
  }
}

static void a_second_equal_battery_slightly_more_than_doubles_the_time(void **state) {
  (void)state;
  static const char second[] =
      "[battery two]\npositive = post\nnegative = ground\nkind = flooded\ncapacity = 70 Ah\n"
      "reserve = 117.7 min\ncold cranking = 640 A EN\nstate of charge = 100 %\nhealth = 100 %\n";
  double one_s = drained_s(20, ""), two_s = drained_s(20, second);
  assert_true(two_s > 2.05 * one_s);
  assert_true(two_s < pow(2, 1.4) * one_s);
  /* each carries half the current: like one battery at half the current */
  assert_near_rel(two_s, drained_s(10, ""), 2e-3);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(reserve_capacity_of_the_label),
      cmocka_unit_test(wells_by_the_closed_form),
      cmocka_unit_test(half_the_load_more_than_doubles_the_time),
      cmocka_unit_test(a_second_equal_battery_slightly_more_than_doubles_the_time),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
