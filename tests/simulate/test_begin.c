/* How a run begins, and what applies just after an engine start. The energy books are checked in every run
 * (scene_run): energy stored at the start is that after the charge was set back. */
#include "support/assert_near.h"

#include "support/scenes.h"

/* A minute of idling with the music off, written into the profile, and the same minute before time zero: the same voltages
 * except for that minute's charge (10 A for 60 s are 0.2 % of 70 Ah: under 5 mV), and the file's own charge. */
static void settled_is_a_minute_of_silence(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_read("examples/reference/ten-line.ini");
  struct tailvolt_profile *plain = scene_profile(system, "time_s,engine_rpm,programme\n0,800,music\n10,800,music\n");
  struct tailvolt_profile *written = scene_profile(
      system, "time_s,engine_rpm,programme\n-60,800,silence\n0,800,music\n10,800,music\n");
  struct tailvolt_options options = tailvolt_default_options(), unsettled = options;
  unsettled.settle_s = 0;
  struct tailvolt_result *begun = scene_run(system, plain, &options);
  struct tailvolt_result *as_rows = scene_run(system, written, &unsettled);
  struct tailvolt_result *at_once = scene_run(system, plain, &unsettled);
  options.settle_step_s = 0.05; /* a long step where nothing moves; the steps of the profile stay */
  struct tailvolt_result *quickly = scene_run(system, plain, &options);
  assert_true(quickly->steps == begun->steps && quickly->state_hash != begun->state_hash);
  assert_near(quickly->amplifiers[0].phase[TAILVOLT_IDLE].min_v, begun->amplifiers[0].phase[TAILVOLT_IDLE].min_v, 1e-3);
  assert_near(begun->settled_s, 60, 0);
  assert_near(begun->start_s, 0, 0);
  assert_near(begun->batteries[0].start_soc_pct, 85, 1e-9);
  assert_near(begun->amplifiers[0].phase[TAILVOLT_IDLE].min_v, as_rows->amplifiers[0].phase[TAILVOLT_IDLE].min_v, 5e-3);
  /* a battery just connected to the alternator holds the voltage down */
  assert_true(begun->amplifiers[0].rest_v > at_once->amplifiers[0].rest_v + 0.3);
  tailvolt_result_free(begun);
  tailvolt_result_free(as_rows);
  tailvolt_result_free(at_once);
  tailvolt_result_free(quickly);
  tailvolt_profile_free(plain);
  tailvolt_profile_free(written);
  tailvolt_system_free(system);
}

/* With the engine off there is nothing to settle: the same bits whatever the time. */
static void parked_begins_rested(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_read("examples/reference/ten-line.ini");
  struct tailvolt_profile *profile = scene_profile(system, "time_s,engine_rpm,programme\n0,0,music\n5,0,music\n");
  struct tailvolt_options options = tailvolt_default_options(), unsettled = options;
  unsettled.settle_s = 0;
  struct tailvolt_result *a = scene_run(system, profile, &options), *b = scene_run(system, profile, &unsettled);
  assert_near(a->settled_s, 0, 0);
  assert_true(a->state_hash == b->state_hash);
  tailvolt_result_free(a);
  tailvolt_result_free(b);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

/* 13 V behind 0.1 ohm. 15 A for 2.5 s after the start leave 11.5 V: below 12.0 V, the target of the running engine, for
 * 2.5 of the 90 s with the engine on (2.8 %), above 11.0 V, which holds for 3 s after a start. */
static void a_start_has_three_seconds(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_stiff(13, 0.1, "");
  struct tailvolt_profile *profile = scene_profile(
      system, "time_s,engine_rpm,supply_a:bass\n0,0,5\n10,800,15\n12.5,800,5\n100,800,5\n");
  struct tailvolt_options options = scene_isothermal();
  struct tailvolt_result *r = scene_run(system, profile, &options);
  const struct tailvolt_amplifier_phase *idle = &r->amplifiers[0].phase[TAILVOLT_IDLE];
  assert_near(idle->below_target_pct, 0, 0);
  assert_near(idle->min_v, 12.5, 1e-3); /* the start's own lowest is kept apart */
  assert_near(r->amplifiers[0].min_v, 12.5, 1e-3);
  assert_near(r->amplifiers[0].min_without_ripple_v, 12.5, 1e-3);
  assert_near(r->amplifiers[0].meter_min_v, 12.5, 1e-3);
  assert_near(r->amplifiers[0].start_min_v, 11.5, 1e-3);
  assert_near(idle->target_v, 12, 0);
  assert_near(idle->low_1pct_v, 12.5, 2e-3); /* 11.5 V against 11.0 V leaves what 12.5 V leaves against 12.0 V */
  tailvolt_result_free(r);
  /* a car that stops at every light must be as good after each start, and while stopped */
  system->engine.stop_and_start = true;
  r = scene_run(system, profile, &options);
  assert_near(r->amplifiers[0].phase[TAILVOLT_IDLE].below_target_pct, 100 * 2.5 / 90, 1e-6);
  assert_near(r->amplifiers[0].min_v, 11.5, 1e-3);
  assert_true(isnan(r->amplifiers[0].start_min_v));
  assert_near(r->amplifiers[0].phase[TAILVOLT_PARKED].target_v, 12, 0);
  assert_true(r->status == TAILVOLT_FAILS);
  tailvolt_result_free(r);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

/* A hybrid boots for 5 s before its converter comes up: 15 A through 0.1 ohm for that long leave 11.5 V,
 * which is not idling. */
static void a_boot_has_as_long_as_it_takes(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_stiff(13, 0.1, "");
  struct tailvolt_profile *profile = scene_profile(
      system, "time_s,engine_rpm,supply_a:bass\n0,0,5\n10,800,15\n15,800,5\n100,800,5\n");
  struct tailvolt_options options = scene_isothermal();
  system->engine.simulate_starts = true;
  system->engine.start_needs_a = 1e-3;
  system->engine.start_needs_s = 5;
  struct tailvolt_result *r = scene_run(system, profile, &options);
  assert_near(r->amplifiers[0].phase[TAILVOLT_IDLE].below_target_pct, 0, 0);
  assert_near(r->amplifiers[0].phase[TAILVOLT_IDLE].min_v, 12.5, 1e-3);
  assert_near(r->amplifiers[0].start_min_v, 11.5, 1e-3);
  tailvolt_result_free(r);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

/* 40 A through 0.1 ohm leave 9 V: the amplifier cuts out during the engine start, which is not the
 * installation's fault unless the car does so at every light. 0.1 s later the draw is small again. */
static void a_cut_out_at_the_start_is_no_fault(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_stiff(13, 0.1, "");
  system->amplifiers[0].cut_out_v = 10;
  system->amplifiers[0].cut_in_v = 11;
  system->amplifiers[0].cut_out_delay_s = 0.02;
  system->amplifiers[0].restart_delay_s = 1;
  struct tailvolt_profile *profile = scene_profile(
      system, "time_s,engine_rpm,supply_a:bass\n0,0,1\n10,800,40\n10.1,800,1\n100,800,1\n");
  struct tailvolt_options options = scene_isothermal();
  for (int stops = 0; stops < 2; stops++) {
    system->engine.stop_and_start = stops;
    struct tailvolt_result *r = scene_run(system, profile, &options);
    assert_int_equal(r->amplifiers[0].cut_outs, 1);
    assert_int_equal(r->amplifiers[0].start_cut_outs, stops ? 0 : 1);
    assert_true((r->status == TAILVOLT_FAILS) == stops);
    tailvolt_result_free(r);
  }
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

/* 20 A for 50 ms out of 13 V behind 0.1 ohm: 11 V for half of a tenth of a second, which a meter shows as 12 V. */
static void a_meter_shows_tenths_of_a_second(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_stiff(13, 0.1, "");
  struct tailvolt_profile *profile = scene_profile(
      system, "time_s,engine_rpm,supply_a:bass\n0,0,0\n0.5,0,20\n0.55,0,0\n1.5,0,0\n");
  struct tailvolt_options options = scene_isothermal();
  struct tailvolt_result *r = scene_run(system, profile, &options);
  assert_near(r->amplifiers[0].min_v, 11, 1e-3);
  assert_near(r->amplifiers[0].meter_min_v, 12, 1e-3);
  tailvolt_result_free(r);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(settled_is_a_minute_of_silence), cmocka_unit_test(parked_begins_rested),
      cmocka_unit_test(a_start_has_three_seconds), cmocka_unit_test(a_boot_has_as_long_as_it_takes),
      cmocka_unit_test(a_cut_out_at_the_start_is_no_fault),
      cmocka_unit_test(a_meter_shows_tenths_of_a_second)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
