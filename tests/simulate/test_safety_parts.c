/* Safety of the other parts and of what a run did to them: each rule broken and kept. */
#include "simulate/safety_car.h"

#include "parts/cautions.h"

struct outcome {
  struct tailvolt_result result;
  struct tailvolt_conductor_result conductors[FITTED];
  struct tailvolt_fuse_result fuses[1];
};

static void make_outcome(const struct car *car, struct outcome *outcome) {
  memset(outcome, 0, sizeof *outcome);
  outcome->result.conductor_count = FITTED;
  outcome->result.conductors = outcome->conductors;
  outcome->result.fuse_count = 1;
  outcome->result.fuses = outcome->fuses;
  for (int k = 0; k < FITTED; k++) {
    const struct tailvolt_conductor *c = &car->conductors[k];
    struct tailvolt_conductor_result *row = &outcome->conductors[k];
    bool cable = c->kind == TAILVOLT_CABLE || c->kind == TAILVOLT_STRAP;
    snprintf(row->name, sizeof row->name, "%s", c->name);
    row->kind = c->kind;
    row->rms_a = 30.0;
    row->loss_w = 900.0 * c->resistance_ohm;
    row->end_c = cable ? 40.0 : (double)NAN;
    row->steady_c = cable ? 45.0 : (double)NAN;
    row->insulation_limit_c = cable ? 85.0 : (double)NAN;
  }
  snprintf(outcome->fuses[0].name, sizeof outcome->fuses[0].name, "%s", "main");
  outcome->fuses[0].conductor = FUSE;
  outcome->fuses[0].rating_a = 60.0;
  outcome->fuses[0].rms_a = 30.0;
  outcome->fuses[0].peak_a = 70.0;
  outcome->fuses[0].opens_time_s = (double)NAN;
}

static void test_conductors_against_their_insulation(void **state) {
  (void)state;
  struct car car;
  struct outcome o;
  make_car(&car);
  make_outcome(&car, &o);
  expect_sound(&car, &o.result);
  o.conductors[FEED].steady_c = 74.9;
  expect_sound(&car, &o.result);
  o.conductors[FEED].steady_c = 76.0;
  expect_times(&car, &o.result, TAILVOLT_MARGINAL,
               "cable feed reaches 76 C at 30 A, within 10 K of its insulation's 85 C", 1);
  o.conductors[FEED].steady_c = 91.0;
  expect_times(&car, &o.result, TAILVOLT_FAILS, "cable feed reaches 91 C at 30 A, above its insulation's 85 C", 1);
  o.conductors[FEED].steady_c = 40.0;
  o.conductors[FEED].end_c = 91.0;
  expect_times(&car, &o.result, TAILVOLT_FAILS, "cable feed reaches 91 C", 1);
  o.conductors[FEED].steady_c = (double)INFINITY;
  expect_times(&car, &o.result, TAILVOLT_FAILS, "cable feed runs away", 1);
}

static void test_joints_and_fuse_holders_by_their_watts(void **state) {
  (void)state;
  struct car car;
  struct outcome o;
  make_car(&car);
  make_outcome(&car, &o);
  o.conductors[JOINT_STUD].loss_w = 2.9;
  o.conductors[SHELL].loss_w = 20.0; /* sheet metal spreads its heat: by role, whatever its name */
  snprintf(car.conductors[SHELL].name, sizeof car.conductors[SHELL].name, "%s", "rear");
  snprintf(car.conductors[JOINT_STUD].name, sizeof car.conductors[JOINT_STUD].name, "%s", "chassis stud");
  expect_times(&car, &o.result, TAILVOLT_HOLDS, "into heat", 0);
  expect_times(&car, &o.result, TAILVOLT_FAILS, "into heat", 0);
  o.conductors[JOINT_STUD].loss_w = 4.0;
  expect_times(&car, &o.result, TAILVOLT_HOLDS, "joint chassis stud turns 4.0 W into heat", 1);
  o.conductors[JOINT_STUD].loss_w = 8.5;
  expect_times(&car, &o.result, TAILVOLT_FAILS, "joint chassis stud turns 8.5 W into heat at 30 A (at most 8 W)", 1);
  /* a fuse heats by design: 150 A at its 75 % makes 8 W with a good holder; a poor holder adds its own */
  make_outcome(&car, &o);
  o.conductors[FUSE].loss_w = 9.0;
  expect_times(&car, &o.result, TAILVOLT_HOLDS, "holder of fuse", 0);
  car.conductors[FUSE].resistance_ohm = 5e-3;
  o.conductors[FUSE].loss_w = 15.0;
  expect_times(&car, &o.result, TAILVOLT_FAILS, "holder of fuse main turns 10.5 W into heat", 1);
}

static void test_fuses_by_their_load(void **state) {
  (void)state;
  struct car car;
  struct outcome o;
  make_car(&car);
  make_outcome(&car, &o);
  o.fuses[0].rms_a = 44.9;
  expect_sound(&car, &o.result);
  o.fuses[0].rms_a = 46.0;
  expect_times(&car, &o.result, TAILVOLT_MARGINAL, "fuse main 60 A carries 46 A: 77 % of its rating, at most 45 A",
               1);
  /* hot air takes off 7 % at 60 C */
  o.fuses[0].rms_a = 43.0;
  expect_sound(&car, &o.result);
  car.conductors[FUSE].place = TAILVOLT_ENGINE_BAY;
  expect_times(&car, &o.result, TAILVOLT_MARGINAL, "at most 42 A for hours in air of 60 C", 1);
  o.fuses[0].rms_a = 30.0;
  o.fuses[0].may_open = true;
  expect_times(&car, &o.result, TAILVOLT_HOLDS, "fuse main 60 A may open", 1);
  o.fuses[0].opens = true;
  o.fuses[0].opens_time_s = 252.0;
  expect_times(&car, &o.result, TAILVOLT_FAILS, "fuse main 60 A opens at 252.0 s", 1);
}

static void test_amplifier_that_claims_more_than_its_fuses(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  struct tailvolt_amplifier *a = &car.amplifiers[0];
  a->rated_w = 800.0;
  a->fuses_a = 80.0; /* needs 67.8 A */
  expect_none(&car, "its own fuses");
  a->rated_w = 2000.0;
  expect(&car, TAILVOLT_HOLDS,
         "amplifier bass: 2000 W would take 169 A, which its own fuses of 80 A cannot carry: about 1039 W");
}

/* 8 AWG of 5.5 m has 11.5 mohm; a kit's with 18 has less copper than it claims, and a feed must carry what the amplifier's own
 * fuses let pass. */
static void test_a_feed_too_thin(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "than its size");
  expect_none(&car, "where its size has");
  expect_none(&car, "the on-board fuses of amplifier bass pass");
  struct tailvolt_conductor *feed = &car.conductors[FEED];
  car.amplifiers[0].fuses_a = 60.0;
  expect_none(&car, "the on-board fuses of amplifier bass pass");
  feed->claimed_ohm = feed->resistance_ohm;
  feed->resistance_ohm = 18e-3; /* which carries less, too: 52 A */
  expect(&car, TAILVOLT_HOLDS, "cable feed (8 AWG) has 18 mohm where its size has 11.6 mohm");
  expect(&car, TAILVOLT_HOLDS, "cable feed (8 AWG) carries 52 A, but the on-board fuses of amplifier bass pass 60 A");
  feed->resistance_ohm = feed->claimed_ohm;
  feed->claimed_ohm = (double)NAN;
  car.amplifiers[0].fuses_a = 80.0;
  expect(&car, TAILVOLT_HOLDS, "A, but the on-board fuses of amplifier bass pass 80 A: too thin");
}

/* The link before a converter carries what that draws, however much the amplifiers behind its battery may take. */
static void test_a_thin_lead_before_a_converter(void **state) {
  (void)state;
  struct car car;
  make_two_batteries(&car, true);
  lay(&car, FITTED + 1, "link", SECOND + 1, SPARE + 5, "6 mm2", 4.0);
  lay(&car, FEED, "feed", SECOND, PLUS, "25 mm2", 5.5);
  car.amplifiers[0].fuses_a = 80.0;
  expect(&car, TAILVOLT_HOLDS, "cable link (6 mm2) carries 46 A, but the on-board fuses of amplifier bass pass 80 A");
  struct tailvolt_isolator *converter = &car.isolators[0];
  converter->kind = TAILVOLT_CONVERTER;
  converter->output_v = 14.4;
  converter->output_a = 30.0;
  converter->efficiency_frac = 0.9;
  expect_none(&car, "the on-board fuses of amplifier bass pass");
  lay(&car, FEED, "feed", SECOND, PLUS, "6 mm2", 5.5); /* what its own battery feeds it by is judged as ever */
  expect(&car, TAILVOLT_HOLDS, "cable feed (6 mm2) carries 46 A, but the on-board fuses of amplifier bass pass 80 A");
  expect_none(&car, "cable link (6 mm2) carries");
  car.system.battery_count = 1; /* nothing but the converter feeds it, with 30 A at most */
  expect_none(&car, "the on-board fuses of amplifier bass pass");
  converter->output_a = 60.0;
  expect(&car, TAILVOLT_HOLDS, "cable feed (6 mm2) carries 46 A, but the on-board fuses of amplifier bass pass 80 A");
}

static void test_capacitors(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "pre-charge");
  car.system.capacitor_count = 1;
  car.capacitors[0] = (struct tailvolt_capacitor){.name = "stiffener",
                                                  .positive = PLUS,
                                                  .negative = MINUS,
                                                  .capacitance_f = 1.0,
                                                  .esr_ohm = 2e-3,
                                                  .rated_v = 16.0};
  expect(&car, TAILVOLT_HOLDS, "capacitor stiffener (1 F): pre-charge it");
  expect_sound(&car, NULL);
  car.capacitors[0].rated_v = 13.5;
  expect(&car, TAILVOLT_FAILS, "capacitor stiffener is rated 13.5 V, below the charging voltage of 14.3 V");
}

static void test_charging(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "12.4 to 15.0 V");
  expect_none(&car, "orange");
  expect_none(&car, "puts the posts above");
  car.system.vehicle.charging = TAILVOLT_CHARGING_COMPUTER;
  expect(&car, TAILVOLT_HOLDS, "12.4 to 15.0 V");
  /* a stated band is what the run was judged by */
  car.system.alternator.set_point_low_v = 12.4;
  car.system.alternator.set_point_high_v = 14.8;
  expect_none(&car, "12.4 to 15.0 V");
  car.system.alternator.set_point_high_v = 15.2;
  expect(&car, TAILVOLT_HOLDS, "a set point of 15.2 V puts the posts above 15.0 V");
  make_car(&car);
  car.system.alternator.set_point_v = 15.2;
  expect(&car, TAILVOLT_HOLDS, "a set point of 15.2 V puts the posts above 15.0 V");
  /* a moderate one comes above it in deep frost */
  car.system.alternator.set_point_v = 14.8;
  expect_none(&car, "puts the posts above");
  car.system.vehicle.ambient_c = -10.0;
  expect(&car, TAILVOLT_HOLDS, "a set point of 15.2 V puts the posts above 15.0 V");
}

/* Before every other caution. */
static void test_orange_cable_comes_first(void **state) {
  (void)state;
  struct car car;
  make_two_batteries(&car, true);
  car.batteries[1].place = TAILVOLT_BOOT;
  car.system.vehicle.charging = TAILVOLT_CHARGING_CONVERTER;
  struct tv_finding_list list = check(&car, NULL);
  assert_true(list.count > 2);
  assert_int_equal(list.finding[0].kind, TAILVOLT_FOUND_CHARGING_HYBRID);
  assert_non_null(strstr(text_of(&list.finding[0]).text, "do not touch orange cable"));
  tv_finding_list_free(&list);
}

static void test_battery_sensor(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "sensor");
  car.system.vehicle.battery_sensor = true;
  expect(&car, TAILVOLT_HOLDS, "every ground goes to the body");
  car.conductors[RETURN].to = GROUND;
  expect(&car, TAILVOLT_HOLDS, "amplifier bass is grounded at the battery's post and bypasses the battery sensor");
  expect_none(&car, "every ground goes to the body");
  car.amplifiers[0].negative = GROUND;
  expect(&car, TAILVOLT_HOLDS, "bypasses the battery sensor");
  car.system.alternator.present = false;
  expect(&car, TAILVOLT_HOLDS, "bypasses the battery sensor");
}

/* The computer relies on a sensor, stated or not; it cannot see a second battery unless a converter separates them. */
static void test_battery_sensor_of_computer_charging(void **state) {
  (void)state;
  struct car car;
  make_two_batteries(&car, true);
  expect_none(&car, "sensor");
  car.system.vehicle.charging = TAILVOLT_CHARGING_COMPUTER;
  expect(&car, TAILVOLT_HOLDS, "the car has a battery sensor: every ground goes to the body");
  expect(&car, TAILVOLT_HOLDS, "battery second: the battery sensor does not see its charge");
  car.isolators[0].kind = TAILVOLT_CONVERTER;
  expect_none(&car, "does not see its charge");
}

static void test_choosing_a_fuse(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  const struct tailvolt_conductor *feed = &car.conductors[FEED];
  assert_near(tv_safety_fuse_for_cable(&car.system, feed, TAILVOLT_BOLT_DOWN, 20.0), 30.0, 0.0);
  assert_near(tv_safety_fuse_for_cable(&car.system, feed, TAILVOLT_BOLT_DOWN, 40.0), 60.0, 0.0);
  assert_true(
      isnan(tv_safety_fuse_for_cable(&car.system, feed, TAILVOLT_BOLT_DOWN, 50.0))); /* needs 70 A: refused */
}

static void test_stricter_limits_can_be_set(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  struct tv_safety_limits limits = tv_safety_default_limits();
  limits.fuse_distance_m = 0.18; /* 7 in, ABYC E-11 unsheathed: value from memory */
  struct tv_finding_list list;
  memset(&list, 0, sizeof list);
  assert_int_equal(tv_safety_check_with(&limits, &car.system, NULL, &list), TAILVOLT_OK);
  assert_int_equal(count_of(&list, TAILVOLT_MARGINAL), 1);
  assert_non_null(strstr(text_of(&list.finding[0]).text, "30 cm of cable from battery starter (at most 18 cm)"));
  tv_finding_list_free(&list);
}

static void test_a_car_without_battery_or_parts(void **state) {
  (void)state;
  struct tailvolt_system system;
  memset(&system, 0, sizeof system);
  system.point_count = 1;
  struct tv_finding_list list;
  memset(&list, 0, sizeof list);
  assert_int_equal(tv_safety_check(&system, NULL, &list), TAILVOLT_OK);
  assert_int_equal(list.count, 0);
  tv_finding_list_free(&list);
}

static void test_cautions_and_checklist(void **state) {
  (void)state;
  size_t count;
  const char *const *text = tv_general_cautions(&count);
  assert_true(count >= 9);
  for (size_t k = 0; k < count; k++) {
    size_t length = strlen(text[k]);
    assert_true(length > 20 && length <= 200 && text[k][length - 1] == '.');
  }
  /* what must never be left out */
  const char *const words[] = {"negative lead", "fuse",     "hydrogen", "cabin", "capacitor",
                               "hearing",       "estimate", "open air", "brake", "orange"};
  for (size_t w = 0; w < sizeof words / sizeof words[0]; w++) {
    bool found = false;
    for (size_t k = 0; k < count; k++) {
      found = found || strstr(text[k], words[w]) != NULL;
    }
    assert_true(found);
  }
  /* each in the reader's units */
  text = tv_fitting_checklist(true, &count);
  for (size_t k = 0; k < count; k++) assert_null(strstr(text[k], " cm"));
  text = tv_fitting_checklist(false, &count);
  assert_true(count >= 10);
  for (size_t k = 0; k < count; k++) {
    assert_true(strlen(text[k]) > 15 && strlen(text[k]) <= 200);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_conductors_against_their_insulation),
      cmocka_unit_test(test_joints_and_fuse_holders_by_their_watts),
      cmocka_unit_test(test_fuses_by_their_load),
      cmocka_unit_test(test_amplifier_that_claims_more_than_its_fuses),
      cmocka_unit_test(test_a_feed_too_thin),
      cmocka_unit_test(test_a_thin_lead_before_a_converter),
      cmocka_unit_test(test_capacitors),
      cmocka_unit_test(test_charging),
      cmocka_unit_test(test_orange_cable_comes_first),
      cmocka_unit_test(test_battery_sensor),
      cmocka_unit_test(test_battery_sensor_of_computer_charging),
      cmocka_unit_test(test_choosing_a_fuse),
      cmocka_unit_test(test_stricter_limits_can_be_set),
      cmocka_unit_test(test_a_car_without_battery_or_parts),
      cmocka_unit_test(test_cautions_and_checklist),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
