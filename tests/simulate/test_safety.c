/* Safety of cables and fuses: each rule has a car that breaks it and one that keeps it. */
#include "simulate/safety_car.h"
#include "text/finding_text.h"

/* 8 AWG of copper with a 60 A fuse: a usual pairing (common practice), sound even with 85 C insulation. */
static void test_customary_pairing_is_sound(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_sound(&car, NULL);
  assert_near(tv_safety_ampacity_a(&car.system, &car.conductors[FEED]), 64.6, 0.1);
  assert_near(tv_safety_largest_fuse_a(&car.system, &car.conductors[FEED], TAILVOLT_BOLT_DOWN), 60.0, 0.0);
}

static void test_fuse_too_big_for_its_cable(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  fit_fuse(&car, FUSE, "main", POST, FUSED, 80.0, 0.30);
  expect(&car, TAILVOLT_FAILS, "fuse main 80 A too big for 8 AWG (at most 60 A)");
  /* better insulation does not save it, thicker cable does */
  car.conductors[FEED].insulation_limit_c = 105.0;
  expect(&car, TAILVOLT_FAILS, "fuse main 80 A too big for 8 AWG (at most 70 A)");
  lay(&car, FEED, "feed", FUSED, PLUS, "4 AWG", 5.5);
  lay(&car, RETURN, "amplifier ground", MINUS, STUD, "4 AWG", 0.8);
  expect_sound(&car, NULL);
}

static void test_hot_bay_allows_less(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  car.conductors[FEED].place = TAILVOLT_ENGINE_BAY;
  expect(&car, TAILVOLT_FAILS, "fuse main 60 A too big for 8 AWG (at most 40 A)");
  fit_fuse(&car, FUSE, "main", POST, FUSED, 40.0, 0.30);
  expect_sound(&car, NULL);
  car.conductors[FEED].laid = TAILVOLT_CARPET;
  expect(&car, TAILVOLT_FAILS,
         "fuse main 40 A too big for 8 AWG (at most 30 A): cable feed carries 36 A in air of 60 C");
  lay(&car, FEED, "feed", FUSED, PLUS, "16 AWG", 5.5);
  expect(&car, TAILVOLT_FAILS, "fuse main 40 A too big for 16 AWG (no fuse of this kind is small enough)");
}

static void test_clad_aluminium_counts_two_sizes_thinner(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "clad aluminium");
  struct tailvolt_conductor *feed = &car.conductors[FEED];
  double copper_a = tv_safety_ampacity_a(&car.system, feed);
  feed->material = TAILVOLT_CLAD_ALUMINIUM;
  feed->resistance_ohm /= 0.629;
  feed->temperature_per_k = 0.004;
  expect(&car, TAILVOLT_FAILS, "fuse main 60 A too big for 8 AWG clad aluminium (at most 40 A)");
  expect(&car, TAILVOLT_HOLDS, "cable feed (8 AWG) is clad aluminium");
  double clad_a = tv_safety_ampacity_a(&car.system, feed);
  assert_near_rel(clad_a / copper_a, sqrt(0.629 * pow(92.0, -2.0 / 39.0)), 0.005);
  fit_fuse(&car, FUSE, "main", POST, FUSED, 40.0, 0.30);
  expect_sound(&car, NULL);
}

static void test_unfused_feed(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  join(&car, FUSE, "main block", POST, FUSED, 0.3e-3);
  expect(&car, TAILVOLT_FAILS, "cable feed (8 AWG) at battery starter has no fuse");
  expect_none(&car, "without a fuse"); /* the amplifier after it is not named as well */
  /* a second cable after it is not named again */
  car.system.conductor_count = FITTED + 1;
  lay(&car, FITTED, "tail", PLUS, SECOND, "8 AWG", 0.5);
  expect_times(&car, NULL, TAILVOLT_FAILS, "has no fuse", 1);
}

static void test_feed_of_joints_alone_is_a_caution(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  join(&car, FUSE, "main block", POST, FUSED, 0.3e-3);
  join(&car, FEED, "feed in one figure", FUSED, PLUS, 9e-3);
  expect_sound(&car, NULL);
  expect(&car, TAILVOLT_HOLDS, "amplifier bass is fed from battery starter without a fuse");
}

static void test_charge_and_starter_leads_are_factory_leads(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  car.system.conductor_count = FITTED + 1;
  lay(&car, FITTED, "black cable", POST, SECOND, "35 mm2", 1.0);
  car.conductors[FITTED].role = TAILVOLT_ROLE_STARTER_LEAD;
  expect_sound(&car, NULL);
  expect(&car, TAILVOLT_HOLDS, "cable charge lead at battery starter has no fuse: customary");
  /* a name does not make a starter lead */
  lay(&car, FITTED, "feed from starter battery", POST, SECOND, "35 mm2", 1.0);
  expect(&car, TAILVOLT_FAILS, "cable feed from starter battery (35 mm2) at battery starter has no fuse");
}

/* Any fuse that is only assumed has to be fitted, at a block as at the battery. */
static void test_assumed_fuses_are_told(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  fit_fuse(&car, FITTED, "tops", PLUS, SECOND, 30.0, (double)NAN);
  lay(&car, FITTED + 1, "tops lead", SECOND, SECOND + 1, "10 AWG", 1.0);
  car.system.conductor_count = FITTED + 2;
  expect_none(&car, "is not in your file");
  car.conductors[FITTED].assumed = true;
  expect(&car, TAILVOLT_HOLDS, "fit 30 A before cable tops lead (fuse tops is not in your file)");
  car.conductors[FUSE].assumed = true;
  expect(&car, TAILVOLT_HOLDS, "fit 60 A within 30 cm of battery starter (fuse main is not in your file)");
  expect_none(&car, "fit 60 A before"); /* told once */
}

static void test_distance_of_the_main_fuse(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  car.conductors[FUSE].distance_m = 0.45;
  expect_sound(&car, NULL);
  expect_none(&car, "of cable from battery");
  car.conductors[FUSE].distance_m = 18 * 0.0254; /* the same rule in inches */
  expect_none(&car, "of cable from battery");
  car.conductors[FUSE].distance_m = 0.60;
  expect(&car, TAILVOLT_MARGINAL, "fuse main is 60 cm of cable from battery starter (at most 45 cm)");
  car.conductors[FUSE].distance_m = 2.5;
  expect(&car, TAILVOLT_FAILS, "fuse main is 2.5 m of cable from battery starter: that cable counts as unfused");
  car.conductors[FUSE].distance_m = (double)NAN;
  expect(&car, TAILVOLT_HOLDS, "its distance from battery starter is not stated");
}

/* The same distance drawn as its own cable: it counts as distance, not as unfused. */
static void test_a_cable_before_the_fuse_is_its_distance(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  car.system.conductor_count = FITTED + 1;
  lay(&car, FITTED, "battery tail", POST, SECOND, "8 AWG", 0.30);
  fit_fuse(&car, FUSE, "main", SECOND, FUSED, 60.0, (double)NAN);
  expect_sound(&car, NULL);
  expect_none(&car, "battery tail");
  expect_none(&car, "not stated");
  lay(&car, FITTED, "battery tail", POST, SECOND, "8 AWG", 0.80);
  expect(&car, TAILVOLT_MARGINAL, "fuse main is 80 cm of cable from battery starter");
  /* a thin tail before a big fuse is not that fuse's concern */
  lay(&car, FITTED, "battery tail", POST, SECOND, "12 AWG", 0.30);
  expect_sound(&car, NULL);
}

/* 1/0 trunk on 200 A to a block, then 8 AWG to the amplifier */
static void test_every_step_down_has_its_fuse(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  car.system.conductor_count = FITTED + 1;
  fit_fuse(&car, FUSE, "main", POST, FUSED, 200.0, 0.30);
  lay(&car, FITTED, "trunk", FUSED, SECOND, "1/0 AWG", 5.0);
  lay(&car, FEED, "feed", SECOND, PLUS, "8 AWG", 0.5);
  expect(&car, TAILVOLT_FAILS,
         "fuse main 200 A suits 1/0 AWG but not 8 AWG of cable feed behind it (at most 60 A)");
  car.system.conductor_count = FITTED + 2;
  lay(&car, FEED, "feed", SECOND + 1, PLUS, "8 AWG", 0.5);
  fit_fuse(&car, FITTED + 1, "branch", SECOND, SECOND + 1, 60.0, (double)NAN);
  expect_sound(&car, NULL);
  double ampacity_a;
  int cable;
  assert_int_equal(tv_safety_protected_a(&car.system, FUSE, &ampacity_a, &cable), TAILVOLT_OK);
  assert_int_equal(cable, FITTED);
  assert_int_equal(tv_safety_protected_a(&car.system, FITTED + 1, &ampacity_a, &cable), TAILVOLT_OK);
  assert_int_equal(cable, FEED);
  assert_near(ampacity_a, 64.6, 0.1);
}

/* A fuse's direction is found by walking, not by which end is called `from`. */
static void test_direction_is_found_by_walking(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  fit_fuse(&car, FUSE, "main", FUSED, POST, 80.0, 0.30);
  lay(&car, FEED, "feed", PLUS, FUSED, "8 AWG", 5.5);
  expect(&car, TAILVOLT_FAILS, "fuse main 80 A too big for 8 AWG (at most 60 A)");
}

static void test_each_battery_of_a_joining_cable_has_its_fuse(void **state) {
  (void)state;
  struct car car;
  make_two_batteries(&car, true);
  expect_sound(&car, NULL);
  make_two_batteries(&car, false);
  expect(&car, TAILVOLT_FAILS,
         "fuse link front is 4.0 m of cable from battery second: that cable counts as unfused");
  /* no fuse at all: both batteries are named */
  join(&car, FITTED, "link front", POST, SECOND + 1, 0.3e-3);
  expect(&car, TAILVOLT_FAILS, "cable link (25 mm2) at battery starter has no fuse");
  expect(&car, TAILVOLT_FAILS, "cable link (25 mm2) at battery second has no fuse");
  expect_times(&car, NULL, TAILVOLT_FAILS, "", 2);
}

/* A second battery at the amplifier's own terminals: the feed's fuse is far from it. */
static void test_a_battery_at_the_amplifier_needs_its_fuse(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  make_battery(&car.batteries[1], "second", PLUS, MINUS);
  car.system.battery_count = 2;
  expect(&car, TAILVOLT_FAILS, "fuse main is 5.5 m of cable from battery second: that cable counts as unfused");
}

/* A diode lets no current of the second battery back into the cable. */
static void test_a_diode_needs_no_second_fuse_before_it(void **state) {
  (void)state;
  struct car car;
  make_two_batteries(&car, false);
  car.isolators[0].kind = TAILVOLT_DIODE;
  expect_sound(&car, NULL);
}

static void test_relay_rating_and_inrush(void **state) {
  (void)state;
  struct car car;
  make_two_batteries(&car, true);
  car.isolators[0].rating_a = (double)NAN;
  expect(&car, TAILVOLT_HOLDS, "isolator split charge: its rating is not stated");
  car.isolators[0].rating_a = 100.0;
  expect(&car, TAILVOLT_MARGINAL, "isolator split charge may have to carry 124 A");
  /* whichever battery comes first in the file, the one at the alternator is the full one */
  struct tailvolt_battery swapped = car.batteries[0];
  car.batteries[0] = car.batteries[1];
  car.batteries[1] = swapped;
  expect(&car, TAILVOLT_MARGINAL, "when it closes onto an empty battery second");
  car.isolators[0].rating_a = 200.0;
  expect_none(&car, "isolator split charge may");
  expect_none(&car, "may open when isolator");
  car.conductors[FITTED + 2].rating_a = 40.0;
  expect(&car, TAILVOLT_HOLDS,
         "fuse link rear 40 A may open when isolator split charge joins an empty battery second");
}

static void test_no_fuse_in_a_ground_lead(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "ground lead");
  fit_fuse(&car, JOINT_STUD, "ground fuse", STUD, SPARE, 60.0, (double)NAN);
  expect(&car, TAILVOLT_MARGINAL, "fuse ground fuse is in a ground lead");
}

static void test_breaking_capacity(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "such a fuse can break"); /* 12.6 V / (6 + 1.67 mohm) = 1644 A, below 2000 A */
  car.conductors[FUSE].fuse_kind = TAILVOLT_LARGE_BLADE;
  expect(&car, TAILVOLT_HOLDS, "could draw 1600 A, more than the 1000 A that such a fuse can break");
  car.batteries[0].resistance_ohm = 20e-3;
  expect_none(&car, "such a fuse can break");
  /* from the label: 640 A EN, (12.5 - 7.5)/640 x 0.55 = 4.3 mohm */
  car.batteries[0].resistance_ohm = (double)NAN;
  expect(&car, TAILVOLT_HOLDS, "could draw 2100 A");
}

static void test_ground_as_strong_as_the_feed(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "ground side");
  lay(&car, RETURN, "amplifier ground", MINUS, STUD, "12 AWG", 0.8);
  expect(&car, TAILVOLT_HOLDS,
         "cable amplifier ground (12 AWG) on the ground side is thinner than the feed of amplifier "
         "bass (8 AWG)");
  /* the factory lead counts too */
  make_car(&car);
  lay(&car, NEGATIVE, "negative lead", BODY, GROUND, "6 mm2", 0.6);
  expect(&car, TAILVOLT_HOLDS, "cable negative lead (6 mm2) on the ground side");
  /* sold as one size */
  make_car(&car);
  lay(&car, FEED, "amplifier feed", FUSED, PLUS, "1/0 AWG", 5.5);
  lay(&car, RETURN, "amplifier ground", MINUS, STUD, "1/0 AWG", 0.8);
  lay(&car, NEGATIVE, "negative lead", BODY, GROUND, "50 mm2", 0.6);
  expect_none(&car, "negative lead (50 mm2) on the ground side");
  lay(&car, NEGATIVE, "negative lead", BODY, GROUND, "35 mm2", 0.6);
  expect(&car, TAILVOLT_HOLDS, "cable negative lead (35 mm2) on the ground side");
}

static void test_short_circuit_is_named(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  car.system.conductor_count = FITTED + 1;
  join(&car, FITTED, "slip", POST, BODY, 1e-3);
  expect(&car, TAILVOLT_FAILS, "battery starter: its positive post is joined to a negative post");
}

/* The stretch between a battery and its fuse counts only for the distance, even where another battery feeds
 * it. */
static void test_the_stretch_before_a_fuse_is_not_judged_by_it(void **state) {
  (void)state;
  struct car car;
  make_two_batteries(&car, true);
  car.system.conductor_count = FITTED + 4;
  fit_fuse(&car, FITTED + 2, "link rear", SPARE + 4, SPARE + 3, 100.0, (double)NAN);
  lay(&car, FITTED + 3, "rear tail", SPARE + 3, SECOND, "8 AWG", 0.2);
  expect_sound(&car, NULL);
  lay(&car, FITTED + 1, "link", SECOND + 1, SPARE + 5, "8 AWG", 4.0);
  expect(&car, TAILVOLT_FAILS, "fuse link front 100 A too big for 8 AWG");
  expect(&car, TAILVOLT_FAILS, "fuse link rear 100 A too big for 8 AWG");
}

static void test_two_batteries_on_one_post_are_named_once(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  make_battery(&car.batteries[1], "twin", POST, GROUND);
  car.system.battery_count = 2;
  car.conductors[FUSE].fuse_kind = TAILVOLT_LARGE_BLADE;
  expect(&car, TAILVOLT_HOLDS, "such a fuse can break");
  join(&car, FUSE, "main block", POST, FUSED, 0.3e-3);
  expect(&car, TAILVOLT_FAILS, "has no fuse");
}

/* A relay that joins no batteries closes onto none. */
static void test_a_relay_to_elsewhere_has_no_inrush(void **state) {
  (void)state;
  struct car car;
  make_two_batteries(&car, true);
  car.isolators[0].rating_a = 1.0;
  lay(&car, FITTED + 1, "link", SECOND + 1, SPARE + 4, "25 mm2", 4.0);
  car.isolators[0].from = SPARE + 4;
  car.isolators[0].to = SPARE + 5;
  expect_none(&car, "may have to carry");
}

/* A fuse not in the file must be fitted, wherever it was assumed to be. */
static void test_an_assumed_fuse_is_to_be_fitted(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "not in your file");
  car.conductors[FUSE].assumed = true;
  expect(&car, TAILVOLT_HOLDS, "fit 60 A within 30 cm of battery starter (fuse main is not in your file)");
  expect_sound(&car, NULL);
  /* a cable between batteries has two of them */
  make_two_batteries(&car, true);
  car.conductors[FITTED].assumed = car.conductors[FITTED + 2].assumed = true;
  expect(&car, TAILVOLT_HOLDS, "fit 100 A within 30 cm of battery starter (fuse link front is not in your file)");
  expect(&car, TAILVOLT_HOLDS, "fit 100 A within 20 cm of battery second (fuse link rear is not in your file)");
}

/* Names of parts change nothing: the same findings about the same parts, number for number. */
static void rename_all(struct car *car) {
  struct tailvolt_system *s = &car->system;
  for (int k = 0; k < s->conductor_count; k++) snprintf(car->conductors[k].name, TAILVOLT_NAME_MAX, "c%d", k);
  for (int k = 0; k < s->battery_count; k++) snprintf(car->batteries[k].name, TAILVOLT_NAME_MAX, "b%d", k);
  for (int k = 0; k < s->isolator_count; k++) snprintf(car->isolators[k].name, TAILVOLT_NAME_MAX, "i%d", k);
  for (int k = 0; k < s->amplifier_count; k++) snprintf(car->amplifiers[k].name, TAILVOLT_NAME_MAX, "a%d", k);
}

static void test_names_change_nothing(void **state) {
  (void)state;
  for (int which = 0; which < 4; which++) {
    struct car car;
    if (which < 2) make_car(&car);
    else make_two_batteries(&car, which == 2);
    if (which == 1) fit_fuse(&car, FUSE, "main", POST, FUSED, 200.0, 0.60);
    if (which == 1) lay(&car, NEGATIVE, "chassis starter body shell", BODY, GROUND, "6 mm2", 0.6);
    struct tv_finding_list before = check(&car, NULL);
    rename_all(&car);
    struct tv_finding_list after = check(&car, NULL);
    assert_int_equal(before.count, after.count);
    for (int k = 0; k < before.count; k++) {
      struct tailvolt_finding a = before.finding[k], b = after.finding[k];
      for (int p = 0; p < a.part_count; p++) memcpy(a.part[p].name, b.part[p].name, sizeof a.part[p].name);
      assert_true(tv_finding_same(&a, &b));
      assert_string_equal(text_of(&a).text, text_of(&b).text);
    }
    tv_finding_list_free(&before);
    tv_finding_list_free(&after);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_customary_pairing_is_sound),
      cmocka_unit_test(test_fuse_too_big_for_its_cable),
      cmocka_unit_test(test_hot_bay_allows_less),
      cmocka_unit_test(test_clad_aluminium_counts_two_sizes_thinner),
      cmocka_unit_test(test_unfused_feed),
      cmocka_unit_test(test_feed_of_joints_alone_is_a_caution),
      cmocka_unit_test(test_charge_and_starter_leads_are_factory_leads),
      cmocka_unit_test(test_distance_of_the_main_fuse), cmocka_unit_test(test_assumed_fuses_are_told),
      cmocka_unit_test(test_a_cable_before_the_fuse_is_its_distance),
      cmocka_unit_test(test_every_step_down_has_its_fuse),
      cmocka_unit_test(test_direction_is_found_by_walking),
      cmocka_unit_test(test_each_battery_of_a_joining_cable_has_its_fuse),
      cmocka_unit_test(test_a_battery_at_the_amplifier_needs_its_fuse),
      cmocka_unit_test(test_a_diode_needs_no_second_fuse_before_it),
      cmocka_unit_test(test_relay_rating_and_inrush),
      cmocka_unit_test(test_no_fuse_in_a_ground_lead),
      cmocka_unit_test(test_breaking_capacity),
      cmocka_unit_test(test_ground_as_strong_as_the_feed),
      cmocka_unit_test(test_short_circuit_is_named),
      cmocka_unit_test(test_the_stretch_before_a_fuse_is_not_judged_by_it),
      cmocka_unit_test(test_two_batteries_on_one_post_are_named_once),
      cmocka_unit_test(test_a_relay_to_elsewhere_has_no_inrush),
      cmocka_unit_test(test_an_assumed_fuse_is_to_be_fitted),
      cmocka_unit_test(test_names_change_nothing),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
