/* A run driven by the host program: same as a profile's, consistent readings, slices, restore. */
#include "support/assert_near.h"

#include <stdlib.h>

#include "support/scenes.h"

static const char CAR[] = "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n"
                          "[amplifier bass]\nrated power = 800 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n"
                          "[meter at the amplifier]\npositive = amplifier plus\nnegative = amplifier minus\n";

struct scene {
  struct tailvolt_system *system;
  struct tailvolt_run *run;
  struct tailvolt_amplifier_row amplifier[3];
  struct tailvolt_row row[3];
  double on[64];
};

static void open_scene(struct scene *s) {
  struct tailvolt_options options = tailvolt_default_options();
  s->system = scene_parse(CAR);
  for (int k = 0; k < 64; k++) s->on[k] = 1;
  for (int k = 0; k < 3; k++) {
    s->amplifier[k] = (struct tailvolt_amplifier_row){.programme = 0, .powered = true, .level_db = k == 1 ? 2 : 0,
                                                      .output_w = (double)NAN, .supply_w = (double)NAN,
                                                      .supply_a = (double)NAN};
    s->row[k] = (struct tailvolt_row){.time_s = k, .engine_rpm = k == 1 ? 2000 : 800, .ambient_c = 25,
                                      .set_point_v = (double)NAN, .load_on = s->on, .amplifier = &s->amplifier[k], .ready = true};
  }
  assert_true(s->system->load_count < 64);
  assert_int_equal(tailvolt_run_open(s->system, NULL, &options, &s->run, NULL), TAILVOLT_OK);
  assert_int_equal(tailvolt_run_begin(s->run, &s->row[0]), TAILVOLT_OK);
}

static void close_scene(struct scene *s) {
  tailvolt_run_close(s->run);
  tailvolt_system_free(s->system);
}

/* Slices of 7.3 ms against the profile in one go. */
static void the_same_as_a_profile(void **state) {
  (void)state;
  struct scene s;
  open_scene(&s);
  for (int k = 0; k < 2; k++)
    for (double at_s = k; at_s < k + 1; at_s += 0.0073)
      assert_int_equal(tailvolt_run_advance(s.run, &s.row[k], &s.row[k + 1], fmin(at_s + 0.0073, k + 1)), TAILVOLT_OK);
  assert_near(tailvolt_run_time_s(s.run), 2, 0);
  struct tailvolt_result *by_hand = NULL;
  assert_int_equal(tailvolt_run_result(s.run, "by hand", &by_hand), TAILVOLT_OK);
  struct tailvolt_profile *profile = scene_profile(
      s.system, "time_s,engine_rpm,programme,level_db\n0,800,music,0\n1,2000,music,2\n2,800,music,0\n");
  struct tailvolt_options options = tailvolt_default_options();
  struct tailvolt_result *whole = scene_run(s.system, profile, &options);
  assert_true(whole->steps == by_hand->steps);
  assert_true(whole->amplifiers[0].mean_v == by_hand->amplifiers[0].mean_v);
  assert_true(whole->amplifiers[0].min_v == by_hand->amplifiers[0].min_v);
  assert_true(whole->energy.residual_j == by_hand->energy.residual_j);
  assert_true(whole->state_hash == by_hand->state_hash);
  tailvolt_result_free(whole);
  tailvolt_result_free(by_hand);
  tailvolt_profile_free(profile);
  close_scene(&s);
}

/* The meter at the terminals shows the amplifier's voltage; around the alternator's loop its current is that of its lead. */
static void readings_belong_together(void **state) {
  (void)state;
  struct scene s;
  open_scene(&s);
  assert_int_equal(tailvolt_run_advance(s.run, &s.row[0], NULL, 0.503), TAILVOLT_OK);
  assert_near(tailvolt_run_time_s(s.run), 0.503, 1e-9);
  assert_near(tailvolt_run_meter_v(s.run, 0), tailvolt_run_amplifier(s.run, 0).voltage_v, 0);
  double lead_a = 0, most_a = 0;
  for (int k = 0; k < s.system->conductor_count; k++) {
    struct tailvolt_reading c = tailvolt_run_conductor(s.run, k);
    if (s.system->conductors[k].from == s.system->alternator.positive) lead_a = c.current_a;
    most_a = fmax(most_a, c.current_a);
  }
  assert_near(lead_a, tailvolt_run_alternator(s.run).current_a, 1e-9);
  assert_true(most_a > 30 && tailvolt_run_amplifier(s.run, 0).current_a > 5);
  assert_near(tailvolt_run_soc_frac(s.run, 0), 0.85, 0.01);
  close_scene(&s);
}

static void goes_back(void **state) {
  (void)state;
  struct scene s;
  open_scene(&s);
  assert_int_equal(tailvolt_run_advance(s.run, &s.row[0], NULL, 0.4), TAILVOLT_OK);
  void *here = malloc(tailvolt_run_state_size(s.run));
  tailvolt_run_save(s.run, here);
  assert_int_equal(tailvolt_run_advance(s.run, &s.row[0], NULL, 0.9), TAILVOLT_OK);
  struct tailvolt_reading once = tailvolt_run_amplifier(s.run, 0);
  struct tailvolt_row louder = s.row[1];
  louder.time_s = 0.9;
  assert_int_equal(tailvolt_run_advance(s.run, &louder, NULL, 1.3), TAILVOLT_OK);
  tailvolt_run_restore(s.run, here);
  assert_near(tailvolt_run_time_s(s.run), 0.4, 1e-9);
  assert_int_equal(tailvolt_run_advance(s.run, &s.row[0], NULL, 0.9), TAILVOLT_OK);
  assert_true(tailvolt_run_amplifier(s.run, 0).voltage_v == once.voltage_v && tailvolt_run_amplifier(s.run, 0).current_a == once.current_a);
  free(here);
  close_scene(&s);
}

static void wrong_use_is_told(void **state) {
  (void)state;
  struct scene s;
  open_scene(&s);
  assert_int_equal(tailvolt_run_advance(s.run, &s.row[1], &s.row[0], 2), TAILVOLT_BAD_INPUT);
  assert_true(tailvolt_run_error(s.run)[0] != '\0');
  struct tailvolt_result *result = NULL;
  assert_int_equal(tailvolt_run_result(s.run, "nothing", &result), TAILVOLT_OK);
  tailvolt_result_free(result);
  assert_int_equal(tailvolt_run_advance(s.run, &s.row[0], NULL, 1), TAILVOLT_BAD_INPUT);
  /* options of another version */
  struct tailvolt_options options = tailvolt_default_options();
  struct tailvolt_run *other = s.run;
  char error[TAILVOLT_TEXT_MAX];
  options.size--;
  assert_int_equal(tailvolt_run_open(s.system, NULL, &options, &other, error), TAILVOLT_INTERNAL);
  assert_null(other);
  assert_string_equal(error, "options must come from tailvolt_default_options()");
  close_scene(&s);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(the_same_as_a_profile), cmocka_unit_test(readings_belong_together),
                                     cmocka_unit_test(goes_back), cmocka_unit_test(wrong_use_is_told)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
