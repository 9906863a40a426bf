/* A start inside a run: currents at the engine's temperature, the same as in the parked study. */
#include "support/assert_near.h"

#include <stdio.h>

#include "parts/starter.h"
#include "support/scenes.h"

/* A battery of 12.5 V and 6 mohm starts a 1.6 L petrol engine, 150 A and 450 A at 25 C. At -18 C the oil takes 358 A
 * to turn and the copper 450 (1 + 0.0039 x 43) = 525 A to break away: 12.5 - 6e-3 x 525 = 9.35 V for 0.1 s, and
 * (525 x 0.1 + 358 x 0.7)/3600 = 0.084 Ah. A restart of the warm engine takes 150 A. */
static void a_start_in_the_cold(void **state) {
  (void)state;
  struct tailvolt_system *system =
      scene_parse("[vehicle]\nambient = -18 C\n"
                  "[engine]\nsize = 1.6 L petrol\nsimulate starts = yes\n"
                  "[battery]\npositive = post\ncapacity = 70 Ah\nstate of charge = 50 %\nhealth = 100 %\n"
                  "resistance = 6 mohm\npolarization = 0.001 mohm, 1 s\nopen circuit = 12.5 V at 0 %, 12.5 V at 100 %\n"
                  "[amplifier a]\npositive = post\nnegative = ground\nrated power = 100 W\nidle current = 0 A\n");
  struct tv_start_needs cold = tv_starter_needs(&system->engine, -18);
  assert_near(cold.turning_a, 358, 1);
  assert_near(cold.breakaway_a, 525.5, 0.5);
  static const char *const profiles[] = {"time_s,engine_rpm,programme\n0,0,silence\n1,800,\n3,800,\n",
                                         "time_s,engine_rpm,programme\n0,800,silence\n1,0,\n2,800,\n4,800,\n"};
  static const double breakaway_a[] = {525.5, 450}, turning_a[] = {357.6, 150};
  for (int warm = 0; warm < 2; warm++) {
    struct tailvolt_profile *profile = scene_profile(system, profiles[warm]);
    struct tailvolt_options options = tailvolt_default_options();
    options.time_step_s = 1e-3;
    struct tailvolt_result *r = scene_run(system, profile, &options);
    assert_near(r->batteries[0].min_v, 12.5 - 6e-3 * breakaway_a[warm], 0.01);
    assert_near_rel(r->batteries[0].charge_out_ah, (0.1 * breakaway_a[warm] + 0.7 * turning_a[warm]) / 3600.0, 0.005);
    tailvolt_result_free(r);
    tailvolt_profile_free(profile);
  }
  tailvolt_system_free(system);
}

static const struct tailvolt_finding *no_start(const struct tailvolt_result *r) {
  for (int k = 0; k < r->caution_count; k++)
    if (r->cautions[k].kind == TAILVOLT_FOUND_NO_START) return &r->cautions[k];
  return NULL;
}

/* Steady turning takes 357.6 A at -18 C: from 12.5 V behind 13 mohm 7.85 V are left at the posts, behind 6 mohm 10.35 V. The
 * starter needs 8.0 V or more. */
static void a_start_that_does_not_turn_is_a_finding(void **state) {
  (void)state;
  for (int strong = 0; strong < 2; strong++) {
    char text[1024];
    snprintf(text, sizeof text,
             "[vehicle]\nambient = -18 C\n[engine]\nsize = 1.6 L petrol\nsimulate starts = yes\n"
             "[battery]\npositive = post\ncapacity = 70 Ah\nstate of charge = 50 %%\nhealth = 100 %%\n"
             "resistance = %s\npolarization = 0.001 mohm, 1 s\nopen circuit = 12.5 V at 0 %%, 12.5 V at 100 %%\n"
             "[amplifier a]\npositive = post\nnegative = ground\nrated power = 100 W\nidle current = 0 A\n",
             strong ? "6 mohm" : "13 mohm");
    struct tailvolt_system *system = scene_parse(text);
    struct tailvolt_profile *profile = scene_profile(system, "time_s,engine_rpm,programme\n0,0,silence\n1,800,\n3,800,\n");
    struct tailvolt_options options = tailvolt_default_options();
    struct tailvolt_result *r = scene_run(system, profile, &options);
    const struct tailvolt_finding *found = no_start(r);
    assert_true((found != NULL) == !strong);
    if (found != NULL) {
      assert_near(found->voltage_v, 12.5 - 13e-3 * 357.6, 0.02);
      assert_near(found->limit_v, tv_starter_needs(&system->engine, -18).floor_v, 0.01);
      assert_near(found->time_s, 1.0, 1e-6);
    }
    tailvolt_result_free(r);
    tailvolt_profile_free(profile);
    tailvolt_system_free(system);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(a_start_in_the_cold),
                                     cmocka_unit_test(a_start_that_does_not_turn_is_a_finding)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
