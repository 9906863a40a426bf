/* The smooth copy of a car: no ripple on its bass, nothing stored inside its amplifiers, everything else as it is. */
#include "support/assert_near.h"

#include <string.h>

#include "study/smooth.h"
#include "support/scenes.h"

/* A supply that droops, and an amplifier which stores next to nothing: the peaks of 20 Hz reach the terminals. */
static const char car[] =
    "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 800 W\n"
    "internal capacitance = 20 mF\n[cable feed]\nsize = 8 AWG\nlength = 5 m\n[programme beat]\n"
    "crest factor = 9 dB\ntempo = 240 /min\ndecay = 60 ms\nbass note = 20 Hz\nphrases = 0 %\n";

static const struct tailvolt_amplifier_result *lowest_of(struct tailvolt_result *result) { return &result->amplifiers[0]; }

static void it_has_no_ripple(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_parse(car), smooth;
  assert_int_equal(tv_smooth_copy(system, &smooth), TAILVOLT_OK);
  struct tailvolt_profile *profile = scene_profile(system, "time_s,engine_rpm,programme\n0,800,beat\n3,800,beat\n");
  struct tailvolt_options options = tailvolt_default_options();
  options.time_step_s = 1e-3;
  struct tailvolt_result *rippled = scene_run(system, profile, &options), *flat = scene_run(&smooth, profile, &options);
  /* with ripple the lowest moment is below the lowest mean of a period; without, no moment is below its mean */
  assert_true(lowest_of(rippled)->min_v < lowest_of(rippled)->min_without_ripple_v - 0.02);
  assert_near(lowest_of(flat)->min_v, lowest_of(flat)->min_without_ripple_v, 1e-9);
  /* the beats themselves are still there, and the charge they cost */
  assert_true(lowest_of(flat)->min_v < lowest_of(flat)->rest_v - 0.5);
  assert_near(lowest_of(flat)->mean_a, lowest_of(rippled)->mean_a, 0.05 * lowest_of(rippled)->mean_a);
  tailvolt_result_free(rippled);
  tailvolt_result_free(flat);
  tailvolt_profile_free(profile);
  tv_smooth_free(&smooth);
  tailvolt_system_free(system);
}

static void it_stores_nothing_and_leaves_the_car_alone(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_parse(car), smooth;
  assert_int_equal(tv_smooth_copy(system, &smooth), TAILVOLT_OK);
  assert_true(smooth.amplifier_count > 0 && smooth.programme_count > 0);
  for (int k = 0; k < smooth.amplifier_count; k++) assert_true(smooth.amplifiers[k].internal_f == 0);
  for (int k = 0; k < smooth.programme_count; k++) assert_true(smooth.programmes[k].bass_hz == 0);
  assert_true(system->amplifiers[0].internal_f > 0);
  assert_near(system->programmes[0].bass_hz, 20, 1e-12);
  assert_near(smooth.amplifiers[0].rated_w, 800, 1e-12);
  assert_ptr_equal(smooth.batteries, system->batteries);
  tv_smooth_free(&smooth);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(it_has_no_ripple),
                                     cmocka_unit_test(it_stores_nothing_and_leaves_the_car_alone)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
