/* Playing with the engine off: consequences that must follow, limits, the level found, recharging. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "parts/battery_model.h"
#include "study/parked.h"
#include "support/assert_near.h"
#include "support/long_case.h"
#include "support/parked_cars.h"
#include "support/scenes.h"

static void colder_is_never_longer(void **state) {
  (void)state;
  LONG_CASE();
  double before_s = HUGE_VAL, restart_before_s = HUGE_VAL, cut_out_before_s = HUGE_VAL;
  bool shorter = false;
  for (double ambient_c = 35; ambient_c > -26; ambient_c -= 10) {
    struct tailvolt_system *system = parked_car(ambient_c, "10 mm2", "d", "");
    struct tailvolt_parked_options options = tailvolt_default_parked_options();
    options.level_db = -6;
    struct tailvolt_parked *parked = parked_play(system, NULL, &options);
    assert_true(parked->until_s <= before_s * (1 + 2e-3));
    assert_true(parked_or_never(parked->restart_s) <= restart_before_s * (1 + 2e-3));
    assert_true(parked_or_never(parked->cut_out_s) <= cut_out_before_s * (1 + 2e-3));
    shorter = shorter || parked_or_never(parked->restart_s) < 0.9 * restart_before_s;
    before_s = parked->until_s;
    restart_before_s = parked_or_never(parked->restart_s);
    cut_out_before_s = parked_or_never(parked->cut_out_s);
    tailvolt_parked_free(parked);
    tailvolt_system_free(system);
  }
  assert_true(shorter);
}

static void thicker_cable_never_shortens_the_time_to_cut_out(void **state) {
  (void)state;
  static const char *const sizes[] = {"4 mm2", "6 mm2", "10 mm2", "16 mm2", "25 mm2", "50 mm2"};
  double before_s = 0, first_s = 0;
  for (size_t k = 0; k < sizeof sizes / sizeof sizes[0]; k++) {
    struct tailvolt_system *system = parked_car(25, sizes[k], "d", "");
    struct tailvolt_parked_options options = tailvolt_default_parked_options();
    options.level_db = 0;
    struct tailvolt_parked *parked = parked_play(system, NULL, &options);
    assert_true(parked->cut_out_s > 0);
    assert_true(parked->cut_out_s >= before_s * (1 - 1e-3));
    before_s = parked->cut_out_s;
    if (k == 0) first_s = before_s;
    tailvolt_parked_free(parked);
    tailvolt_system_free(system);
  }
  assert_true(before_s > 1.05 * first_s);
}

static void louder_is_never_longer(void **state) {
  (void)state;
  LONG_CASE();
  struct tailvolt_system *system = parked_ordinary();
  double before_s = HUGE_VAL;
  for (double level_db = -20; level_db <= 3; level_db += 4) {
    struct tailvolt_parked_options options = tailvolt_default_parked_options();
    options.level_db = level_db;
    struct tailvolt_parked *parked = parked_play(system, NULL, &options);
    assert_true(parked->until_s < before_s);
    assert_near(parked->until_s,
                fmin(fmin(parked_or_never(parked->restart_s), parked_or_never(parked->cut_out_s)),
                     fmin(parked_or_never(parked->rest_limit_s), 48 * 3600.0)),
                1e-6);
    before_s = parked->until_s;
    tailvolt_parked_free(parked);
  }
  tailvolt_system_free(system);
}

static void each_limit_ends_the_playing(void **state) {
  (void)state;
  struct tailvolt_system *system = parked_ordinary();
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tailvolt_parked *parked = parked_play(system, NULL, &options);
  assert_int_equal(parked->ends_by, TAILVOLT_ENDS_BY_REST_LIMIT);
  assert_near(parked->soc_pct, 50, 0.02);
  assert_near(parked->batteries[0].start_soc_pct, 85, 1e-9);
  /* 35 % of 45 Ah at 90 % health; what self-discharge took shows in neither */
  assert_near_rel(parked->taken_ah, 0.35 * 0.9 * 45, 2e-3);
  double half_s = parked->until_s;
  tailvolt_parked_free(parked);
  options.rest_limit_v = 12.30;
  parked = parked_play(system, NULL, &options);
  assert_int_equal(parked->ends_by, TAILVOLT_ENDS_BY_REST_LIMIT);
  assert_true(parked->limit_by_voltage);
  assert_near(parked->rest_v, 12.30, 2e-3);
  assert_true(parked->until_s < half_s);
  tailvolt_parked_free(parked);
  options.rest_limit_v = (double)NAN;
  options.soc_limit_frac = 0;
  parked = parked_play(system, NULL, &options);
  assert_true(isnan(parked->rest_limit_s));
  assert_true(parked->until_s > half_s);
  double last_s = parked->until_s;
  tailvolt_parked_free(parked);
  options.floor_v = 10.8;
  parked = parked_play(system, NULL, &options);
  assert_int_equal(parked->ends_by, TAILVOLT_ENDS_BY_RESTART);
  assert_true(parked->until_s < last_s);
  /* at the last moment that starts, the posts are at the floor */
  assert_near(parked->cranking_v, 10.8, 0.01);
  tailvolt_parked_free(parked);
  options.limit_s = 600;
  options.floor_v = 9;
  parked = parked_play(system, NULL, &options);
  assert_int_equal(parked->ends_by, TAILVOLT_ENDS_BY_TIME);
  assert_near(parked->until_s, 600, 1e-6);
  tailvolt_parked_free(parked);
  tailvolt_system_free(system);
}

static void the_level_found_lasts_the_time_wanted(void **state) {
  (void)state;
  struct tailvolt_system *system = parked_ordinary();
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  options.wanted_s = 4 * 3600.0;
  struct tailvolt_parked *parked = parked_play(system, NULL, &options);
  assert_true(parked->until_s < options.wanted_s);
  assert_true(parked->level_looked_for);
  double level_db = parked->wanted_level_db;
  assert_true(level_db < 0 && level_db > -20);
  tailvolt_parked_free(parked);
  options.level_db = level_db;
  parked = parked_play(system, NULL, &options);
  assert_near_rel(parked->until_s, options.wanted_s, 0.01);
  tailvolt_parked_free(parked);
  /* starting from a quiet level */
  options.level_db = -30;
  options.solve_level = true;
  parked = parked_play(system, NULL, &options);
  assert_near(parked->wanted_level_db, level_db, 0.06);
  tailvolt_parked_free(parked);
  /* full level lasts a minute, no level lasts a month */
  options.wanted_s = 60;
  options.level_db = -10;
  parked = parked_play(system, NULL, &options);
  assert_true(parked->any_level_lasts);
  tailvolt_parked_free(parked);
  options.wanted_s = 30 * 86400.0;
  parked = parked_play(system, NULL, &options);
  assert_true(isnan(parked->wanted_level_db));
  assert_false(parked->any_level_lasts);
  tailvolt_parked_free(parked);
  tailvolt_system_free(system);
}

static void driving_puts_the_charge_back(void **state) {
  (void)state;
  struct tailvolt_system *system = parked_ordinary(), *weak = parked_ordinary(), *none = parked_bench("");
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tailvolt_parked *parked = parked_play(system, NULL, &options);
  assert_near(parked->back_soc_pct, 85, 1e-6);
  assert_true(parked->idle_s > 0);
  /* no battery takes more than the alternator gives */
  assert_true(parked->idle_s > parked->taken_ah * 3600 / 90);
  double idle_s = parked->idle_s, town_s = parked->town_s;
  tailvolt_parked_free(parked);
  /* a weak alternator under a heavy base load: idling takes longer than town, or never succeeds */
  weak->alternator.output_a[0] = 20;
  weak->vehicle.base_load_a = 40;
  parked = parked_play(weak, NULL, &options);
  assert_true(parked_or_never(parked->idle_s) > 1.3 * idle_s);
  assert_true(parked_or_never(parked->idle_s) > 1.05 * parked_or_never(parked->town_s));
  assert_true(parked->town_s >= town_s);
  tailvolt_parked_free(parked);
  weak->vehicle.base_load_a = 80;
  parked = parked_play(weak, NULL, &options);
  assert_true(isnan(parked->idle_s));
  tailvolt_parked_free(parked);
  /* nothing charges */
  struct tailvolt_profile *profile = parked_drain(none, 10);
  parked = parked_play(none, profile, &options);
  assert_true(isnan(parked->idle_s) && isnan(parked->town_s));
  tailvolt_parked_free(parked);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  tailvolt_system_free(weak);
  tailvolt_system_free(none);
}

static void driving_at_a_known_current_takes_a_known_time(void **state) {
  (void)state;
  /* a linear battery stores everything it is given, and the alternator is at its 10 A throughout */
  static const char linear[] =
      "[engine]\ncranking time = 0.8 s\ncranking current = 100 A\nbreakaway current = 300 A\n"
      "[battery one]\npositive = post\nnegative = ground\ncapacity = 40 Ah\nhealth = 100 %\n"
      "state of charge = 80 %\nresistance = 5 mohm\npolarization = 4 mohm, 10 s\n"
      "open circuit = 11.9 V at 0 %, 12.8 V at 100 %\n"
      "[alternator]\npositive = post\nnegative = ground\nfixed output = 10 A\nset point = 15.5 V\n"
      "[joint tap]\nfrom = post\nto = plus\nresistance = 1 mohm\n"
      "[amplifier bass]\npositive = plus\nnegative = ground\nrated power = 300 W\nidle current = 0 A\n"
      "[programme beat]\ntempo = 240 /min\nbass note = 0 Hz\nphrases = 0 %\n";
  struct tailvolt_system *system = scene_parse(linear);
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tailvolt_parked *parked = parked_play(system, NULL, &options);
  assert_near_rel(parked->taken_ah, 12, 1e-3);
  double start_c = 0.1 * 300 + 0.7 * 100;
  assert_near(parked->idle_s, (12 * 3600 + start_c) / 10, 5);
  assert_near(parked->town_s, parked->idle_s, 5);
  tailvolt_parked_free(parked);
  tailvolt_system_free(system);
}

static void a_profile_may_begin_anywhere(void **state) {
  (void)state;
  struct tailvolt_system *system = parked_ordinary();
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tailvolt_profile *early = scene_profile(system, "time_s,level_db\n0,-2\n60,-2\n");
  struct tailvolt_profile *late = scene_profile(system, "time_s,level_db\n-8000,-2\n-7000,-2\n");
  struct tailvolt_parked *a = parked_play(system, early, &options), *b = parked_play(system, late, &options);
  options.level_db = -2;
  struct tailvolt_parked *c = parked_play(system, NULL, &options);
  assert_near_rel(a->until_s, b->until_s, 2e-3);
  assert_near_rel(a->until_s, c->until_s, 1e-9);
  tailvolt_parked_free(a);
  tailvolt_parked_free(b);
  tailvolt_parked_free(c);
  tailvolt_profile_free(early);
  tailvolt_profile_free(late);
  tailvolt_system_free(system);
}

static int stop(void *context, double done_frac) {
  (void)context;
  (void)done_frac;
  return 1;
}

static void refusals(void **state) {
  (void)state;
  struct tailvolt_system *system = parked_ordinary();
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tailvolt_parked *parked = NULL;
  char error[TAILVOLT_TEXT_MAX];
  struct tailvolt_profile *driving = scene_profile(system, "time_s,engine_rpm\n0,0\n60,900\n120,900\n");
  assert_int_equal(tailvolt_parked(system, driving, &options, &parked, error), TAILVOLT_BAD_INPUT);
  assert_non_null(strstr(error, "engine runs at 60 s"));
  assert_null(parked);
  options.run.progress = stop;
  assert_int_equal(tailvolt_parked(system, NULL, &options, &parked, error), TAILVOLT_STOPPED);
  options.size--;
  assert_int_equal(tailvolt_parked(system, NULL, &options, &parked, NULL), TAILVOLT_INTERNAL);
  tailvolt_profile_free(driving);
  tailvolt_system_free(system);
}

/* A run that is mostly parked tells how long it plays, and nothing of a car that outlasts the search. */
static void a_parked_run_asks_how_long(void **state) {
  (void)state;
  static const char *const batteries[] = {"capacity = 40 Ah", "capacity = 220 Ah"};
  for (int k = 0; k < 2; k++) {
    char text[256];
    snprintf(text, sizeof text, "[battery]\n%s\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 10 W\n"
                                "idle current = %s\n[cable feed]\nsize = 4 AWG\nlength = 5 m\n", batteries[k], k == 0 ? "2 A" : "0.1 A");
    struct tailvolt_system *system = scene_parse(text);
    struct tailvolt_profile *profile = scene_profile(system, "time_s,engine_rpm\n0,0\n10,0\n");
    struct tailvolt_options options = tailvolt_default_options();
    struct tailvolt_result *result = scene_run(system, profile, &options);
    assert_int_equal(tailvolt_ask_parked(system, profile, &options, result), TAILVOLT_OK);
    assert_true(result->parked_answer.asked);
    assert_true(isnan(result->parked_answer.until_s) == (k == 1));
    tailvolt_result_free(result);
    tailvolt_profile_free(profile);
    tailvolt_system_free(system);
  }
}

/* Loads run with the engine: parked they are off, and named, unless a profile keeps them on. */
static void loads_that_are_off_are_named(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_parse(
      "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 300 W\n"
      "[cable feed]\nsize = 4 AWG\nlength = 5 m\n[load fridge]\npower = 60 W\n[load pump]\npower = 60 W\n");
  struct tailvolt_profile *profile = scene_profile(system, "time_s,engine_rpm,load:fridge\n0,0,1\n60,0,1\n");
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  options.limit_s = 600;
  struct tailvolt_parked *off = parked_play(system, NULL, &options), *on = parked_play(system, profile, &options);
  assert_string_equal(off->loads_off, "fridge, pump");
  assert_string_equal(on->loads_off, "pump");
  /* a resistance that takes 60 W at 13.5 V, at some 12.4 V */
  assert_near(on->taken_ah - off->taken_ah, 60.0 * 12.4 / 13.5 / 13.5 * 600.0 / 3600.0, 0.03);
  tailvolt_parked_free(on);
  tailvolt_parked_free(off);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(colder_is_never_longer),
      cmocka_unit_test(thicker_cable_never_shortens_the_time_to_cut_out),
      cmocka_unit_test(louder_is_never_longer),
      cmocka_unit_test(each_limit_ends_the_playing),
      cmocka_unit_test(the_level_found_lasts_the_time_wanted),
      cmocka_unit_test(driving_puts_the_charge_back),
      cmocka_unit_test(driving_at_a_known_current_takes_a_known_time),
      cmocka_unit_test(a_profile_may_begin_anywhere),
      cmocka_unit_test(loads_that_are_off_are_named),
      cmocka_unit_test(a_parked_run_asks_how_long),
      cmocka_unit_test(refusals),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
