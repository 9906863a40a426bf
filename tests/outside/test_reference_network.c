/* Two networks with tight reference values.
 *
 * The values are from an independent integration (implicit midpoint at 1 ms, constant-power load in
 * closed form) and agree with a circuit simulator run at 0.25 ms within 2 uV. */
#include "support/assert_near.h"

#include "support/scenes.h"

#define TARGET_V 12.0

static struct tailvolt_result *run(double engine_rpm, double duration_s) {
  struct tailvolt_system *system = scene_read(SCENE_REFERENCE_FILE);
  /* 5.5 m of 21.15 mm2 copper at 20 C plus 5 mohm */
  assert_near(0.017241 * 5.5 / 21.15 + 0.005, 9.483475177e-3, 1e-11);
  system->amplifiers[0].target_v = TARGET_V;
  struct tailvolt_profile *profile =
      scene_beats(system, &scene_reference_beat, engine_rpm, SCENE_REFERENCE_BASE_A, duration_s);
  struct tailvolt_options options = scene_isothermal();
  struct tailvolt_result *result = scene_run(system, profile, &options);
  assert_near(result->step_s, 1e-3, 1e-15);
  assert_int_equal(result->steps, lround(duration_s / 1e-3));
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return result;
}

static void engine_on_for_60_s(void **state) {
  (void)state;
  struct tailvolt_result *r = run(2000, 60);
  const struct tailvolt_amplifier_result *a = &r->amplifiers[0];
  assert_near(a->min_v, 11.32576, 1e-3);
  assert_near(a->mean_v, 12.673689, 0.5e-3);
  assert_near(a->below_target_pct, 9.75, 0.2); /* one step in a beat of 500 */
  assert_near(r->batteries[0].end_soc_pct, 90.572904, 0.0005);
  /* rested battery 12.71 V, 45 A of 70 A left to charge it through 6 mohm */
  assert_near(a->rest_v, 12.71 + 45 * 0.006, 1e-5);
  assert_near(r->alternator.at_limit_pct, 100, 1e-9);
  assert_near(r->alternator.mean_a, 70, 1e-9);
  /* (15 + 1200 0.12/0.5 (1 - e^-(0.5/0.12))) W */
  assert_near_rel(a->input_j, 60 * (15 + 1200 * 0.24 * -expm1(-0.5 / 0.12)), 1e-9);
  assert_int_equal(a->collapses, 0);
  assert_int_equal(a->cut_outs, 0);
  tailvolt_result_free(r);
}

static void engine_off_for_600_s(void **state) {
  (void)state;
  struct tailvolt_result *r = run(0, 600);
  const struct tailvolt_amplifier_result *a = &r->amplifiers[0];
  assert_near(a->min_v, 10.43270, 1e-3);
  assert_near(a->min_time_s, 599.5, 1e-9);
  assert_near(a->mean_v, 11.890557, 0.5e-3);
  assert_near(a->below_target_pct, 41.79, 0.2);
  assert_near(r->batteries[0].end_soc_pct, 75.798751, 0.0005);
  assert_near(a->rest_v, 12.71 - 25 * 0.006, 1e-5);
  tailvolt_result_free(r);
}

/* The same bits after a second run. */
static void repeated_run_is_the_same(void **state) {
  (void)state;
  struct tailvolt_result *first = run(2000, 60), *second = run(2000, 60);
  assert_true(first->state_hash == second->state_hash);
  assert_true(first->amplifiers[0].mean_v == second->amplifiers[0].mean_v);
  assert_true(first->energy.residual_j == second->energy.residual_j);
  struct tailvolt_result *other = run(0, 60);
  assert_true(first->state_hash != other->state_hash);
  tailvolt_result_free(first);
  tailvolt_result_free(second);
  tailvolt_result_free(other);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(engine_on_for_60_s),
      cmocka_unit_test(engine_off_for_600_s),
      cmocka_unit_test(repeated_run_is_the_same),
  };
  return cmocka_run_group_tests_name("reference networks", tests, NULL, NULL);
}
