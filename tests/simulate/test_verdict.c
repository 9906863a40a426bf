/* The verdict's one rule, from voltages and currents known beforehand. */
#include "support/assert_near.h"

#include <stdio.h>
#include <string.h>

#include "support/scenes.h"

/* 13 V behind 0.1 ohm, this many amperes throughout with the engine idling; the target is 12.0 V. */
static struct tailvolt_result *hold(double amperes) {
  struct tailvolt_system *system = scene_stiff(13, 0.1, "");
  char text[128];
  snprintf(text, sizeof text, "time_s,engine_rpm,supply_a:bass\n0,800,%.6g\n20,800,%.6g\n", amperes, amperes);
  struct tailvolt_profile *profile = scene_profile(system, text);
  struct tailvolt_options options = scene_isothermal();
  struct tailvolt_result *result = scene_run(system, profile, &options);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return result;
}

/* v = 13 V - 0.1 ohm x i: a tenth above the target holds, less is marginal, 0.08 V below fails. */
static void bounds_of_the_voltage(void **state) {
  (void)state;
  static const struct { double a; enum tailvolt_verdict status; bool met; } wanted[] = {
      {8.98, TAILVOLT_HOLDS, true}, {9.03, TAILVOLT_MARGINAL, true}, {9.98, TAILVOLT_MARGINAL, true},
      {10.03, TAILVOLT_MARGINAL, false}, {10.77, TAILVOLT_MARGINAL, false}, {10.83, TAILVOLT_FAILS, false}};
  for (size_t k = 0; k < sizeof wanted / sizeof *wanted; k++) {
    struct tailvolt_result *r = hold(wanted[k].a);
    assert_near(r->margin_v, 1 - 0.1 * wanted[k].a, 1.5e-3);
    if (r->status != wanted[k].status) fail_msg("%g A: verdict %d, wanted %d", wanted[k].a, r->status, wanted[k].status);
    assert_int_equal(r->targets_met, wanted[k].met);
    tailvolt_result_free(r);
  }
}

/* 3 V less for 0.5 s of 100 s: the deepest dip is half of what may be missed, and does not decide; for 1.5 s it does. */
static void a_dip_that_may_be_missed(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_stiff(13, 0.1, "");
  struct tailvolt_options options = scene_isothermal();
  for (int k = 0; k < 2; k++) {
    char text[160];
    snprintf(text, sizeof text, "time_s,engine_rpm,supply_a:bass\n0,800,5\n50,800,30\n%.1f,800,5\n100,800,5\n", k ? 51.5 : 50.5);
    struct tailvolt_profile *profile = scene_profile(system, text);
    struct tailvolt_result *r = scene_run(system, profile, &options);
    assert_near(r->amplifiers[0].min_v, 10, 1e-3);
    assert_int_equal(r->status, k ? TAILVOLT_FAILS : TAILVOLT_HOLDS);
    tailvolt_result_free(r);
    tailvolt_profile_free(profile);
  }
  tailvolt_system_free(system);
}

static struct tailvolt_result *charge_beside(double idle_a, double road_a, double road_balance_a) {
  /* an alternator that gives 20 A at any speed; the rest of the car's draw comes out of the battery */
  struct tailvolt_system *system = scene_parse(
      "[battery]\npositive = post\ncapacity = 100 Ah\nstate of charge = 80 %\nhealth = 100 %\nresistance = 5 mohm\n"
      "polarization = 0.01 mohm, 10 s\nopen circuit = 12.5 V at 0 %, 12.6 V at 100 %\n"
      "[alternator]\npositive = post\nnegative = ground\nfixed output = 20 A\nset point = 14.4 V\n"
      "[amplifier bass]\npositive = post\nnegative = ground\nrated power = 100 W\n");
  char text[256];
  snprintf(text, sizeof text,
           "time_s,engine_rpm,base_load_a,supply_a:bass\n0,800,%.6g,1\n29.99,800,%.6g,1\n30,%g,%.6g,1\n60,%g,%.6g,1\n",
           idle_a - 1, idle_a - 1,
           road_a > 0 ? 2500.0 : 800.0, (road_a > 0 ? road_a : idle_a) - 1, road_a > 0 ? 2500.0 : 800.0,
           (road_a > 0 ? road_a : idle_a) - 1);
  struct tailvolt_profile *profile = scene_profile(system, text);
  struct tailvolt_options options = scene_isothermal();
  options.road_balance_a = road_balance_a;
  struct tailvolt_result *result = scene_run(system, profile, &options);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return result;
}

static struct tailvolt_result *charge(double idle_a, double road_a) { return charge_beside(idle_a, road_a, (double)NAN); }

static const struct tailvolt_reason *about_charge(const struct tailvolt_result *r) {
  for (int k = 0; k < r->reason_count; k++)
    if (r->reasons[k].topic == TAILVOLT_ABOUT_CHARGE) return &r->reasons[k];
  return NULL;
}

/* 80 % of 100 Ah is 30 Ah above half: 25 A of which 20 A are generated leave 6.0 h, 28 A leave 3.75 h; 4 h are required. On
 * the road 17 A give 3 A back: 0.4 x -5 + 0.6 x 3 = -0.2 A is lost in the long run, 16 A and thus 4 A back gain 0.4 A. */
static void bounds_of_the_charge(void **state) {
  (void)state;
  static const struct {
    double idle_a, road_a;
    enum tailvolt_verdict status;
    enum tailvolt_reason_kind kind;
  } wanted[] = {
      {25, 0, TAILVOLT_HOLDS, TAILVOLT_REASON_SAFETY},
      {28, 0, TAILVOLT_FAILS, TAILVOLT_REASON_CHARGE_LOST},
      {25, 17, TAILVOLT_FAILS, TAILVOLT_REASON_CHARGE_MIX}, {25, 16, TAILVOLT_HOLDS, TAILVOLT_REASON_SAFETY}};
  for (size_t k = 0; k < sizeof wanted / sizeof *wanted; k++) {
    struct tailvolt_result *r = charge(wanted[k].idle_a, wanted[k].road_a);
    const struct tailvolt_reason *reason = about_charge(r);
    assert_near(r->phase_budget[TAILVOLT_IDLE].battery_a, 20 - wanted[k].idle_a, 0.01);
    if (r->status != wanted[k].status) fail_msg("case %zu: verdict %d, wanted %d", k, r->status, wanted[k].status);
    assert_int_equal(reason != NULL, wanted[k].status == TAILVOLT_FAILS);
    if (reason != NULL) assert_int_equal(reason->kind, wanted[k].kind);
    if (k == 1) assert_near(reason->time_s, 3.75 * 3600, 30);
    tailvolt_result_free(r);
  }
}

/* The same mix where the road is a separate profile, run beside the idling one: -5 A with 3 A and with 4 A. */
static void the_road_of_another_profile(void **state) {
  (void)state;
  struct tailvolt_result *r = charge_beside(25, 0, 3);
  assert_true(r->status == TAILVOLT_FAILS);
  assert_non_null(about_charge(r));
  assert_int_equal(about_charge(r)->kind, TAILVOLT_REASON_CHARGE_MIX);
  assert_near(about_charge(r)->number, 0.2, 0.01);
  assert_near(tailvolt_charge_balance_a(r, TAILVOLT_IDLE), -5, 0.01);
  assert_true(isnan(tailvolt_charge_balance_a(r, TAILVOLT_ROAD)));
  tailvolt_result_free(r);
  r = charge_beside(25, 0, 4);
  assert_true(r->status == TAILVOLT_HOLDS);
  tailvolt_result_free(r);
  /* its own road counts before another's */
  r = charge_beside(25, 16, -3);
  assert_true(r->status == TAILVOLT_HOLDS);
  tailvolt_result_free(r);
}

/* A fuse above what its cable can carry does not concern voltage: the verdict holds, safety fails. */
static void safety_has_its_own_verdict(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_parse(
      "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 200 W\n"
      "[cable feed]\nsize = 8 AWG\nlength = 1 m\n[fuse main]\nrating = 150 A\ndistance = 20 cm\n");
  struct tailvolt_profile *profile = scene_profile(system, "time_s,engine_rpm,programme\n0,2000,music\n5,2000,music\n");
  struct tailvolt_options options = scene_isothermal();
  struct tailvolt_result *r = scene_run(system, profile, &options);
  assert_int_equal(r->status, TAILVOLT_HOLDS);
  assert_int_equal(r->safety, TAILVOLT_FAILS);
  tailvolt_result_free(r);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

/* What is behind a converter or a diode is judged by itself: the other battery's gain, 20 A less 4 A and what the converter takes, does
 * not reach it. Joined by a relay they share. The second loses 10 A less the converter's 5 A throughout. */
static struct tailvolt_result *two_batteries_at(const char *isolator, double first_rpm) {
  char text[1024], rows[128];
  snprintf(text, sizeof text,
           "[vehicle]\nbase load = 4 A\n[battery]\npositive = post\ncapacity = 100 Ah\nstate of charge = 60 %%\n"
           "health = 100 %%\nresistance = 5 mohm\npolarization = 0.01 mohm, 10 s\nopen circuit = 12.5 V at 0 %%, 12.6 V at 100 %%\n"
           "[alternator]\npositive = post\nnegative = ground\nfixed output = 20 A\nset point = 14.4 V\n"
           "[battery second]\npositive = behind\nnegative = ground\ncapacity = 100 Ah\nstate of charge = 80 %%\n"
           "health = 100 %%\nresistance = 5 mohm\npolarization = 0.01 mohm, 10 s\nopen circuit = 12.5 V at 0 %%, 12.6 V at 100 %%\n"
           "[isolator split]\nfrom = post\nto = behind\n%s"
           "[amplifier bass]\npositive = behind\nnegative = ground\nrated power = 100 W\n[targets]\nvoltage = 11 V\n",
           isolator);
  struct tailvolt_system *system = scene_parse(text);
  snprintf(rows, sizeof rows, "time_s,engine_rpm,supply_a:bass\n0,%g,10\n20,2500,10\n40,2500,10\n", first_rpm);
  struct tailvolt_profile *profile = scene_profile(system, rows);
  struct tailvolt_options options = scene_isothermal();
  struct tailvolt_result *r = scene_run(system, profile, &options);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return r;
}

static struct tailvolt_result *two_batteries(const char *isolator) { return two_batteries_at(isolator, 800); }

/* A profile that never idles: what the road does not put back, nothing does. */
static void charge_lost_on_the_road(void **state) {
  (void)state;
  struct tailvolt_result *r = two_batteries_at("kind = converter\noutput = 5 A at 14.1 V\nopens below = 12 V\n", 2500);
  assert_false(r->phases[TAILVOLT_IDLE].present);
  assert_int_equal(r->status, TAILVOLT_FAILS);
  assert_int_equal(r->reasons[0].kind, TAILVOLT_REASON_CHARGE_ROAD);
  assert_int_equal(r->reasons[0].phase, TAILVOLT_ROAD);
  assert_int_equal(r->reasons[0].about.index, 1);
  assert_near(r->reasons[0].number, 5, 0.02);
  tailvolt_result_free(r);
  r = two_batteries_at("kind = converter\noutput = 12 A at 14.1 V\nopens below = 12 V\n", 2500);
  assert_int_equal(r->status, TAILVOLT_HOLDS);
  tailvolt_result_free(r);
}

static void charge_behind_a_converter(void **state) {
  (void)state;
  char why[TAILVOLT_TEXT_MAX];
  struct tailvolt_result *r = two_batteries("kind = converter\noutput = 5 A at 14.1 V\nopens below = 12 V\n");
  assert_int_equal(r->batteries[0].group, 0);
  assert_int_equal(r->batteries[1].group, 1);
  assert_true(r->phase_budget[TAILVOLT_IDLE].battery_a > 4);
  assert_near(r->batteries[1].mean_a[TAILVOLT_IDLE], -5, 0.02);
  assert_int_equal(r->status, TAILVOLT_FAILS);
  assert_int_equal(r->reasons[0].kind, TAILVOLT_REASON_CHARGE_MIX);
  assert_near(r->reasons[0].number, 5, 0.02);
  tailvolt_reason_text(&r->reasons[0], false, why, sizeof why);
  assert_non_null(strstr(why, "battery second loses 5.0 A"));
  tailvolt_result_free(r);
  r = two_batteries("kind = converter\noutput = 12 A at 14.1 V\nopens below = 12 V\n");
  assert_int_equal(r->status, TAILVOLT_HOLDS);
  tailvolt_result_free(r);
  r = two_batteries("kind = relay\ncloses above = 12.2 V\nopens below = 12 V\n");
  assert_int_equal(r->batteries[1].group, 0);
  assert_int_equal(r->status, TAILVOLT_HOLDS);
  tailvolt_result_free(r);
}

/* A relay that stays open parts them as a converter does: 30 Ah above half at 10 A are 3 h, whatever the other gains meanwhile. */
static void charge_behind_an_open_relay(void **state) {
  (void)state;
  char why[TAILVOLT_TEXT_MAX];
  struct tailvolt_result *r = two_batteries("kind = relay\ncloses above = 14.3 V\nopens below = 14.2 V\n");
  assert_int_equal(r->batteries[1].group, 1);
  assert_true(r->phase_budget[TAILVOLT_IDLE].battery_a > 4);
  assert_int_equal(r->status, TAILVOLT_FAILS);
  assert_int_equal(r->reasons[0].kind, TAILVOLT_REASON_CHARGE_LOST);
  assert_near(r->reasons[0].number, 10, 0.02);
  assert_near(r->reasons[0].time_s, 3 * 3600, 30);
  tailvolt_reason_text(&r->reasons[0], false, why, sizeof why);
  assert_non_null(strstr(why, "battery second loses 10.0 A"));
  tailvolt_result_free(r);
}

/* Open while parked, closed for more than half of the 20 s on the road: each phase has its own groups, and the road is judged. */
static void a_relay_that_closes_with_the_engine(void **state) {
  (void)state;
  struct tailvolt_result *r = two_batteries_at("kind = relay\ncloses above = 12.6 V\nopens below = 12 V\ndelay = 8 s\n", 0);
  assert_int_equal(r->batteries[1].phase_group[TAILVOLT_PARKED], 1);
  assert_int_equal(r->batteries[1].phase_group[TAILVOLT_ROAD], 0);
  assert_int_equal(r->batteries[1].group, 0);
  tailvolt_result_free(r);
  r = two_batteries_at("kind = relay\ncloses above = 12.6 V\nopens below = 12 V\ndelay = 18.5 s\n", 0);
  assert_int_equal(r->batteries[1].phase_group[TAILVOLT_ROAD], 1); /* 1.5 s of 20 s let nothing worth having through */
  tailvolt_result_free(r);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(bounds_of_the_voltage), cmocka_unit_test(a_dip_that_may_be_missed),
      cmocka_unit_test(bounds_of_the_charge), cmocka_unit_test(the_road_of_another_profile),
      cmocka_unit_test(charge_behind_an_open_relay), cmocka_unit_test(a_relay_that_closes_with_the_engine),
      cmocka_unit_test(charge_behind_a_converter), cmocka_unit_test(charge_lost_on_the_road),
      cmocka_unit_test(safety_has_its_own_verdict)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
