/* Totals by use of the vehicle: where each begins and ends, and that nothing is counted twice or lost. */
#include "support/assert_near.h"

#include <string.h>

#include "support/scenes.h"

static struct tailvolt_system *van(void) {
  return scene_parse("[engine]\nsize = 1.6 L petrol\nidle speed = 800 rpm\n[vehicle]\nambient = 20 C\n"
                     "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[cable feed]\nsize = 4 AWG\n"
                     "length = 5.5 m\n[amplifier bass]\nrated power = 500 W\n[amplifier voice]\nrated power = 100 W\n"
                     "[load lights]\npower = 120 W\n[load wipers]\npower = 60 W\n[programme music]\nbass note = 0 Hz\n");
}

static struct tailvolt_result *run(const struct tailvolt_system *system, const char *text) {
  struct tailvolt_profile *profile = scene_profile(system, text);
  struct tailvolt_options options = tailvolt_default_options();
  struct tailvolt_result *r = scene_run(system, profile, &options);
  tailvolt_profile_free(profile);
  return r;
}

static double charge_ah(const struct tailvolt_result *r, bool end) {
  double sum_ah = 0;
  for (int k = 0; k < r->battery_count; k++)
    sum_ah += r->batteries[k].capacity_ah * (end ? r->batteries[k].end_soc_pct : r->batteries[k].start_soc_pct) / 100;
  return sum_ah;
}

/* Sums over uses against the run's own figures. */
static void check_sums(const struct tailvolt_result *r) {
  double road_s = 0, battery_as = 0, kept_ah = 0, in_ah = 0, generation_as = 0, driving_s = 0;
  for (int u = 0; u < TAILVOLT_USES; u++) {
    const struct tailvolt_budget *use = &r->uses[u];
    if (!use->present) continue;
    if (u == TAILVOLT_USE_TOWN || u == TAILVOLT_USE_MOTORWAY) road_s += use->duration_s;
    if (u != TAILVOLT_USE_PARKED) driving_s += use->duration_s;
    battery_as += use->battery_a * use->duration_s;
    generation_as += use->generation_a * use->duration_s;
    kept_ah += r->use_details[u].kept_a * use->duration_s / 3600;
  }
  assert_near(road_s, r->phase_budget[TAILVOLT_ROAD].duration_s, 1e-9);
  assert_near(driving_s, r->driving.duration_s, 1e-9);
  for (int k = 0; k < r->battery_count; k++) in_ah += r->batteries[k].charge_in_ah - r->batteries[k].charge_out_ah;
  assert_near(battery_as / 3600, in_ah, 1e-9);
  assert_near(generation_as, r->driving.generation_a * r->driving.duration_s, 1e-6);
  assert_near(kept_ah, charge_ah(r, true) - charge_ah(r, false), 1e-9);
}

/* Steps of engine speed: 800 and 1000 rpm idle, 1001 to below 2500 town, from 2500 motorway, off parked. */
static void by_engine_speed(void **state) {
  (void)state;
  struct tailvolt_system *system = van();
  struct tailvolt_result *r = run(system, "time_s,engine_rpm,load:lights,load:wipers,base_load_a,power:voice\n"
                                          "0,800,1,0,5,0\n3,800,1,0.5,8,0\n5,0,0.2,0,2,0\n9.3,0,0.2,0,2,1\n"
                                          "10.3,1500,1,0.25,0,1\n15.8,1500,1,0,0,1\n15.8001,3000,0,0,12,0\n"
                                          "20,3000,0,0,12,0\n");
  check_sums(r);
  assert_near(r->uses[TAILVOLT_USE_IDLE].duration_s, 5, 1e-9);
  assert_near(r->uses[TAILVOLT_USE_PARKED].duration_s, 5.3, 1e-9);
  assert_near(r->uses[TAILVOLT_USE_TOWN].duration_s + r->uses[TAILVOLT_USE_MOTORWAY].duration_s, 9.7, 1e-9);
  assert_near(r->uses[TAILVOLT_USE_MOTORWAY].duration_s, 4.2, 2e-4);
  const struct tailvolt_use_result *idle = &r->use_details[TAILVOLT_USE_IDLE];
  const struct tailvolt_use_result *parked = &r->use_details[TAILVOLT_USE_PARKED];
  const struct tailvolt_use_result *town = &r->use_details[TAILVOLT_USE_TOWN];
  const struct tailvolt_use_result *motorway = &r->use_details[TAILVOLT_USE_MOTORWAY];
  assert_near(idle->base_load_a, (3 * 5 + 2 * 8) / 5.0, 1e-9);
  assert_near(parked->base_load_a, 2, 1e-9);
  assert_near(town->base_load_a, 0, 1e-9);
  assert_near(motorway->base_load_a, 12, 1e-3);
  assert_near(idle->load_most_frac[0], 1, 0);
  assert_near(idle->load_most_frac[1], 0.5, 0);
  assert_near(parked->load_most_frac[0], 0.2, 0);
  assert_near(parked->load_most_frac[1], 0, 0);
  assert_near(town->load_most_frac[1], 0.25, 0);
  assert_near(motorway->load_most_frac[0], 0, 0);
  assert_true(idle->plays[0] && !idle->plays[1]);
  assert_true(parked->plays[1] && town->plays[1] && !motorway->plays[1]);
  assert_near(parked->label_a, 0, 0);
  assert_true(isnan(parked->alternator_v));
  assert_true(idle->label_a > 40 && idle->label_a < town->label_a && town->label_a < motorway->label_a);
  tailvolt_result_free(r);
  tailvolt_system_free(system);
}

/* A ramp of speed within one row changes the use on the way, at a tick of one second. */
static void on_the_way(void **state) {
  (void)state;
  struct tailvolt_system *system = van();
  struct tailvolt_result *r = run(system, "time_s,engine_rpm,load:lights\n0,800,1\n44,3000,0\n60,3000,0\n");
  check_sums(r);
  /* 50 rpm a second: 1000 rpm after 4 s, 2500 after 34 */
  assert_near(r->uses[TAILVOLT_USE_IDLE].duration_s, 4, 1.01);
  assert_near(r->uses[TAILVOLT_USE_TOWN].duration_s, 30, 1.01);
  assert_near(r->uses[TAILVOLT_USE_MOTORWAY].duration_s, 26, 1.01);
  assert_near(r->use_details[TAILVOLT_USE_TOWN].load_most_frac[0], 1, 0);
  assert_near(r->use_details[TAILVOLT_USE_MOTORWAY].load_most_frac[0], 1, 0);
  assert_true(r->use_details[TAILVOLT_USE_TOWN].plays[0]);
  tailvolt_result_free(r);
  /* a row for the ramp's other half alone */
  r = run(system, "time_s,engine_rpm,load:lights\n0,3000,0\n10,3000,1\n16,800,1\n20,800,1\n");
  check_sums(r);
  assert_near(r->use_details[TAILVOLT_USE_IDLE].load_most_frac[0], 1, 0);
  tailvolt_result_free(r);
  tailvolt_system_free(system);
}

/* The engine's turning counts up to the moment it stops, at that moment's speed. */
static void the_last_second_counts(void **state) {
  (void)state;
  struct tailvolt_system *system = van();
  struct tailvolt_result *whole = run(system, "time_s,engine_rpm\n0,2000\n10,2000\n");
  struct tailvolt_result *stopped = run(system, "time_s,engine_rpm\n0,2000\n9.5,0\n10,0\n");
  assert_near(stopped->alternator.mean_torque_nm, whole->alternator.mean_torque_nm, 0.05 * whole->alternator.mean_torque_nm);
  assert_near(stopped->alternator.efficiency_pct, whole->alternator.efficiency_pct, 0.5);
  tailvolt_result_free(whole);
  tailvolt_result_free(stopped);
  tailvolt_system_free(system);
}

/* Time before zero is not counted. */
static void settling_is_left_out(void **state) {
  (void)state;
  struct tailvolt_system *system = van();
  struct tailvolt_profile *profile = scene_profile(system, "time_s,engine_rpm\n0,800\n5,1800\n10,1800\n");
  struct tailvolt_options options = tailvolt_default_options();
  options.settle_s = 20;
  struct tailvolt_result *r = scene_run(system, profile, &options);
  check_sums(r);
  assert_near(r->uses[TAILVOLT_USE_IDLE].duration_s + r->uses[TAILVOLT_USE_TOWN].duration_s, 10, 1e-9);
  assert_true(r->use_details[TAILVOLT_USE_IDLE].plays[0]);
  assert_near(r->use_details[TAILVOLT_USE_IDLE].load_most_frac[1], 1, 0);
  tailvolt_result_free(r);
  tailvolt_profile_free(profile);
  /* loads count from time zero even if nothing changes there */
  profile = scene_profile(system, "time_s,engine_rpm,programme\n0,800,silence\n5,800,silence\n");
  r = scene_run(system, profile, &options);
  assert_near(r->use_details[TAILVOLT_USE_IDLE].load_most_frac[1], 1, 0);
  assert_true(!r->use_details[TAILVOLT_USE_IDLE].plays[0]);
  tailvolt_result_free(r);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(by_engine_speed),
      cmocka_unit_test(on_the_way),
      cmocka_unit_test(the_last_second_counts),
      cmocka_unit_test(settling_is_left_out),
  };
  return cmocka_run_group_tests_name("uses", tests, NULL, NULL);
}
