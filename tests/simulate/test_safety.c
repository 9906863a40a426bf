/* Safety rules: each has a car that breaks it and one that keeps it. */
#include <stdlib.h>
#include <string.h>

#include "parts/cautions.h"
#include "parts/conductor.h"
#include "parts/fuse.h"
#include "simulate/safety.h"
#include "support/assert_near.h"

enum { GROUND, POST, FUSED, PLUS, MINUS, STUD, BODY, BLOCK, ALTERNATOR, SPARE, SECOND, POINTS = 16 };
enum { CHARGE, STRAP, NEGATIVE, FUSE, FEED, RETURN, JOINT_STUD, SHELL, FITTED, CONDUCTORS = 20 };

/* The plain car: every part in place, nothing to complain of. */
struct car {
  struct tailvolt_system system;
  struct tailvolt_battery batteries[2];
  struct tailvolt_conductor conductors[CONDUCTORS];
  struct tailvolt_capacitor capacitors[1];
  struct tailvolt_isolator isolators[1];
  struct tailvolt_amplifier amplifiers[2];
  char points[POINTS][TAILVOLT_NAME_MAX];
};

static void lay(struct car *car, int k, const char *name, int from, int to, const char *size, double length_m) {
  struct tailvolt_conductor *c = &car->conductors[k];
  struct tv_section section;
  memset(c, 0, sizeof *c);
  int number = atoi(size);
  if (strstr(size, "AWG") != NULL) {
    assert_true(tv_section_from_awg(strncmp(size, "1/0", 3) == 0 ? 0 : number, TAILVOLT_COPPER, &section));
  } else {
    assert_true(tv_section_from_mm2(number, TAILVOLT_COPPER, &section));
  }
  strcpy(c->name, name);
  strcpy(c->size, size);
  c->kind = TAILVOLT_CABLE;
  c->from = from;
  c->to = to;
  c->length_m = length_m;
  c->resistance_ohm = section.r20_ohm_per_m * length_m;
  c->temperature_per_k = tv_material_temperature_per_k(TAILVOLT_COPPER);
  c->area_m2 = tv_material_resistivity_ohm_m(TAILVOLT_COPPER) / section.r20_ohm_per_m;
  c->outer_m = section.outer_m;
  c->insulation_limit_c = 85.0;
  c->distance_m = (double)NAN;
}

static void fit_fuse(struct car *car, int k, const char *name, int from, int to, double rating_a, double distance_m) {
  struct tailvolt_conductor *c = &car->conductors[k];
  memset(c, 0, sizeof *c);
  strcpy(c->name, name);
  c->kind = TAILVOLT_FUSE;
  c->fuse_kind = TAILVOLT_BOLT_DOWN;
  c->from = from;
  c->to = to;
  c->rating_a = rating_a;
  c->distance_m = distance_m;
  c->resistance_ohm = tv_fuse_resistance_ohm(rating_a);
}

static void join(struct car *car, int k, const char *name, int from, int to, double ohm) {
  struct tailvolt_conductor *c = &car->conductors[k];
  memset(c, 0, sizeof *c);
  strcpy(c->name, name);
  c->kind = TAILVOLT_JOINT;
  c->from = from;
  c->to = to;
  c->resistance_ohm = ohm;
  c->distance_m = (double)NAN;
}

static void make_battery(struct tailvolt_battery *battery, const char *name, int positive, int negative) {
  memset(battery, 0, sizeof *battery);
  strcpy(battery->name, name);
  battery->positive = positive;
  battery->negative = negative;
  battery->kind = TAILVOLT_AGM;
  battery->capacity_ah = 70.0;
  battery->cold_cranking_a = 640.0;
  battery->resistance_ohm = 6e-3;
}

static void make_car(struct car *car) {
  memset(car, 0, sizeof *car);
  struct tailvolt_system *s = &car->system;
  s->vehicle.ambient_c = 25.0;
  s->vehicle.engine_bay_c = 60.0;
  s->alternator = (struct tailvolt_alternator){
      .present = true, .positive = ALTERNATOR, .negative = BLOCK, .set_point_v = 14.3, .drift_v_per_k = -0.01};
  s->point_count = POINTS;
  s->point_names = car->points;
  s->battery_count = 1;
  s->batteries = car->batteries;
  s->conductor_count = FITTED;
  s->conductors = car->conductors;
  s->capacitors = car->capacitors;
  s->isolators = car->isolators;
  s->amplifier_count = 1;
  s->amplifiers = car->amplifiers;
  make_battery(&car->batteries[0], "starter", POST, GROUND);
  lay(car, CHARGE, "charge lead", ALTERNATOR, POST, "25 mm2", 1.2);
  lay(car, STRAP, "engine", BLOCK, BODY, "25 mm2", 0.5);
  car->conductors[STRAP].kind = TAILVOLT_STRAP;
  lay(car, NEGATIVE, "negative lead", BODY, GROUND, "25 mm2", 0.6);
  fit_fuse(car, FUSE, "main", POST, FUSED, 60.0, 0.30);
  lay(car, FEED, "feed", FUSED, PLUS, "8 AWG", 5.5);
  lay(car, RETURN, "amplifier ground", MINUS, STUD, "8 AWG", 0.8);
  join(car, JOINT_STUD, "body stud", STUD, SPARE, 0.3e-3);
  join(car, SHELL, "body shell", SPARE, BODY, 0.7e-3);
  struct tailvolt_amplifier *a = &car->amplifiers[0];
  strcpy(a->name, "bass");
  a->positive = PLUS;
  a->negative = MINUS;
  a->rated_w = 500.0;
  a->rated_v = 14.4;
  a->efficiency_frac = 0.82;
  a->fuses_a = (double)NAN;
}

static struct tv_finding_list check(const struct car *car, const struct tailvolt_result *result) {
  struct tv_finding_list list;
  memset(&list, 0, sizeof list);
  assert_int_equal(tv_safety_check(&car->system, result, &list), TAILVOLT_OK);
  for (int k = 0; k < list.count; k++) {
    assert_true(strlen(list.finding[k].text) <= 200);
    assert_true(k == 0 || list.finding[k - 1].status >= list.finding[k].status);
    for (int j = 0; j < k; j++) {
      assert_string_not_equal(list.finding[j].text, list.finding[k].text);
    }
  }
  return list;
}

static int count_of(const struct tv_finding_list *list, enum tv_severity status) {
  int count = 0;
  for (int k = 0; k < list->count; k++) {
    count += list->finding[k].status == status;
  }
  return count;
}

static void tell(const struct tv_finding_list *list) {
  for (int k = 0; k < list->count; k++) {
    print_message("  %d %s: %s\n", (int)list->finding[k].status, list->finding[k].part, list->finding[k].text);
  }
}

/* The car has exactly `times` findings of this severity whose text holds the words. */
static void expect_times(const struct car *car, const struct tailvolt_result *result, enum tv_severity status,
                         const char *words, int times) {
  struct tv_finding_list list = check(car, result);
  int seen = 0;
  for (int k = 0; k < list.count; k++) {
    seen += list.finding[k].status == status && strstr(list.finding[k].text, words) != NULL;
  }
  if (seen != times) {
    tell(&list);
    fail_msg("\"%s\" found %d times, wanted %d", words, seen, times);
  }
  tv_finding_list_free(&list);
}

static void expect(const struct car *car, enum tv_severity status, const char *words) {
  expect_times(car, NULL, status, words, 1);
}

static void expect_none(const struct car *car, const char *words) {
  for (int status = TV_CAUTION; status <= TV_FAILS; status++) {
    expect_times(car, NULL, (enum tv_severity)status, words, 0);
  }
}

/* No finding worse than a caution. */
static void expect_sound(const struct car *car, const struct tailvolt_result *result) {
  struct tv_finding_list list = check(car, result);
  if (count_of(&list, TV_FAILS) + count_of(&list, TV_MARGINAL) > 0) {
    tell(&list);
    fail_msg("a sound car is complained of");
  }
  tv_finding_list_free(&list);
}

/* 8 AWG of copper with a 60 A fuse: a customary pairing (common practice), sound even for 85 C insulation. */
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
  expect(&car, TV_FAILS, "fuse main 80 A too big for 8 AWG (at most 60 A)");
  /* the better insulation does not save it, the thicker cable does */
  car.conductors[FEED].insulation_limit_c = 105.0;
  expect(&car, TV_FAILS, "fuse main 80 A too big for 8 AWG (at most 70 A)");
  lay(&car, FEED, "feed", FUSED, PLUS, "4 AWG", 5.5);
  lay(&car, RETURN, "amplifier ground", MINUS, STUD, "4 AWG", 0.8);
  expect_sound(&car, NULL);
}

static void test_hot_bay_allows_less(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  car.conductors[FEED].place = TAILVOLT_ENGINE_BAY;
  expect(&car, TV_FAILS, "fuse main 60 A too big for 8 AWG (at most 40 A)");
  fit_fuse(&car, FUSE, "main", POST, FUSED, 40.0, 0.30);
  expect_sound(&car, NULL);
  car.conductors[FEED].laid = TAILVOLT_CARPET;
  expect(&car, TV_FAILS, "fuse main 40 A too big for 8 AWG (at most 30 A): cable feed carries 39 A in air of 60 C");
  lay(&car, FEED, "feed", FUSED, PLUS, "16 AWG", 5.5);
  expect(&car, TV_FAILS, "fuse main 40 A too big for 16 AWG (no fuse of this kind is small enough)");
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
  expect(&car, TV_FAILS, "fuse main 60 A too big for 8 AWG clad aluminium (at most 40 A)");
  expect(&car, TV_CAUTION, "cable feed (8 AWG) is clad aluminium");
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
  expect(&car, TV_FAILS, "cable feed (8 AWG) at battery starter has no fuse");
  /* a second cable behind it is not named again */
  car.system.conductor_count = FITTED + 1;
  lay(&car, FITTED, "tail", PLUS, SECOND, "8 AWG", 0.5);
  expect_times(&car, NULL, TV_FAILS, "has no fuse", 1);
}

static void test_feed_of_joints_alone_is_a_caution(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  join(&car, FUSE, "main block", POST, FUSED, 0.3e-3);
  join(&car, FEED, "feed in one figure", FUSED, PLUS, 9e-3);
  expect_sound(&car, NULL);
  expect(&car, TV_CAUTION, "amplifier bass is fed from battery starter without a fuse");
}

static void test_charge_and_starter_leads_are_factory_leads(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  car.system.conductor_count = FITTED + 1;
  lay(&car, FITTED, "starter cable", POST, SECOND, "35 mm2", 1.0);
  expect_sound(&car, NULL);
  expect(&car, TV_CAUTION, "cable charge lead at battery starter has no fuse: customary");
  lay(&car, FITTED, "winch cable", POST, SECOND, "35 mm2", 1.0);
  expect(&car, TV_FAILS, "cable winch cable (35 mm2) at battery starter has no fuse");
}

static void test_distance_of_the_main_fuse(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  car.conductors[FUSE].distance_m = 0.45;
  expect_sound(&car, NULL);
  expect_none(&car, "of cable from battery");
  car.conductors[FUSE].distance_m = 0.60;
  expect(&car, TV_MARGINAL, "fuse main is 60 cm of cable from battery starter (at most 45 cm)");
  car.conductors[FUSE].distance_m = 2.5;
  expect(&car, TV_FAILS, "fuse main is 2.5 m of cable from battery starter: that cable counts as unfused");
  car.conductors[FUSE].distance_m = (double)NAN;
  expect(&car, TV_CAUTION, "its distance from battery starter is not stated");
}

/* The same distance drawn as a cable of its own: it counts for the distance, not as unfused. */
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
  expect(&car, TV_MARGINAL, "fuse main is 80 cm of cable from battery starter");
  /* a thin tail before a big fuse is not that fuse's business */
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
  expect(&car, TV_FAILS, "fuse main 200 A suits 1/0 AWG but not 8 AWG of cable feed behind it (at most 60 A)");
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

/* The way of a fuse is found by walking, not by which end is called `from`. */
static void test_direction_is_found_by_walking(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  fit_fuse(&car, FUSE, "main", FUSED, POST, 80.0, 0.30);
  lay(&car, FEED, "feed", PLUS, FUSED, "8 AWG", 5.5);
  expect(&car, TV_FAILS, "fuse main 80 A too big for 8 AWG (at most 60 A)");
}

/* Second battery at the amplifier, joined through a relay. */
static void make_two_batteries(struct car *car, bool fuse_at_second) {
  make_car(car);
  make_battery(&car->batteries[1], "second", SECOND, STUD);
  car->system.battery_count = 2;
  car->system.conductor_count = FITTED + 3;
  car->system.isolator_count = 1;
  struct tailvolt_isolator *relay = &car->isolators[0];
  strcpy(relay->name, "split charge");
  relay->kind = TAILVOLT_RELAY;
  relay->from = SPARE + 5;
  relay->to = SPARE + 4;
  relay->closes_above_v = 13.3;
  relay->resistance_ohm = 1e-3;
  relay->rating_a = 200.0;
  fit_fuse(car, FITTED, "link front", POST, SECOND + 1, 100.0, 0.3);
  lay(car, FITTED + 1, "link", SECOND + 1, SPARE + 5, "25 mm2", 4.0);
  if (fuse_at_second) {
    fit_fuse(car, FITTED + 2, "link rear", SPARE + 4, SECOND, 100.0, 0.2);
  } else {
    join(car, FITTED + 2, "link rear", SPARE + 4, SECOND, 0.3e-3);
  }
}

static void test_each_battery_of_a_joining_cable_has_its_fuse(void **state) {
  (void)state;
  struct car car;
  make_two_batteries(&car, true);
  expect_sound(&car, NULL);
  make_two_batteries(&car, false);
  expect(&car, TV_FAILS, "fuse link front is 4.0 m of cable from battery second: that cable counts as unfused");
  /* no fuse at all: both batteries are named */
  join(&car, FITTED, "link front", POST, SECOND + 1, 0.3e-3);
  expect(&car, TV_FAILS, "cable link (25 mm2) at battery starter has no fuse");
  expect(&car, TV_FAILS, "cable link (25 mm2) at battery second has no fuse");
  expect_times(&car, NULL, TV_FAILS, "", 2);
}

/* A second battery at the amplifier's own terminals: the feed's fuse is far from it. */
static void test_a_battery_at_the_amplifier_needs_its_fuse(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  make_battery(&car.batteries[1], "second", PLUS, MINUS);
  car.system.battery_count = 2;
  expect(&car, TV_FAILS, "fuse main is 5.5 m of cable from battery second: that cable counts as unfused");
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
  expect(&car, TV_CAUTION, "isolator split charge: its rating is not stated");
  car.isolators[0].rating_a = 100.0;
  expect(&car, TV_MARGINAL, "isolator split charge may have to close onto");
  /* whichever battery stands first in the file, the one at the alternator is the full one */
  struct tailvolt_battery swapped = car.batteries[0];
  car.batteries[0] = car.batteries[1];
  car.batteries[1] = swapped;
  expect(&car, TV_MARGINAL, "when battery second is empty");
  car.isolators[0].rating_a = 200.0;
  expect_none(&car, "isolator split charge may");
  expect_none(&car, "may open when isolator");
  car.conductors[FITTED + 2].rating_a = 40.0;
  expect(&car, TV_CAUTION, "fuse link rear 40 A may open when isolator split charge joins an empty battery second");
}

static void test_no_fuse_in_a_ground_lead(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "ground lead");
  fit_fuse(&car, JOINT_STUD, "ground fuse", STUD, SPARE, 60.0, (double)NAN);
  expect(&car, TV_MARGINAL, "fuse ground fuse is in a ground lead");
}

static void test_breaking_capacity(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "made to break"); /* 12.6 V / (6 + 1.67 mohm) = 1644 A, below 2000 A */
  car.conductors[FUSE].fuse_kind = TAILVOLT_LARGE_BLADE;
  expect(&car, TV_CAUTION, "could draw 1600 A, more than the 1000 A such a fuse is made to break");
  car.batteries[0].resistance_ohm = 20e-3;
  expect_none(&car, "made to break");
  /* from the label: 640 A EN, (12.5 - 7.5)/640 x 0.55 = 4.3 mohm */
  car.batteries[0].resistance_ohm = (double)NAN;
  expect(&car, TV_CAUTION, "could draw 2100 A");
}

static void test_ground_as_strong_as_the_feed(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "ground side");
  lay(&car, RETURN, "amplifier ground", MINUS, STUD, "12 AWG", 0.8);
  expect(&car, TV_CAUTION, "cable amplifier ground (12 AWG) on the ground side is thinner than the feed of amplifier "
                           "bass (8 AWG)");
  /* the factory lead counts too */
  make_car(&car);
  lay(&car, NEGATIVE, "negative lead", BODY, GROUND, "6 mm2", 0.6);
  expect(&car, TV_CAUTION, "cable negative lead (6 mm2) on the ground side");
}

static void test_short_circuit_is_named(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  car.system.conductor_count = FITTED + 1;
  join(&car, FITTED, "slip", POST, BODY, 1e-3);
  expect(&car, TV_FAILS, "battery starter: its positive post is joined to a negative post");
}

/* ------------------------------------------------------------------ what a run did */

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
    strcpy(row->name, c->name);
    row->kind = c->kind;
    row->rms_a = 30.0;
    row->loss_w = 900.0 * c->resistance_ohm;
    row->end_c = cable ? 40.0 : (double)NAN;
    row->steady_c = cable ? 45.0 : (double)NAN;
    row->insulation_limit_c = cable ? 85.0 : (double)NAN;
  }
  strcpy(outcome->fuses[0].name, "main");
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
  expect_times(&car, &o.result, TV_MARGINAL, "cable feed comes to 76 C at 30 A, within 10 K of its insulation's 85 C", 1);
  o.conductors[FEED].steady_c = 91.0;
  expect_times(&car, &o.result, TV_FAILS, "cable feed comes to 91 C at 30 A, above its insulation's 85 C", 1);
  o.conductors[FEED].steady_c = 40.0;
  o.conductors[FEED].end_c = 91.0;
  expect_times(&car, &o.result, TV_FAILS, "cable feed comes to 91 C", 1);
  o.conductors[FEED].steady_c = (double)INFINITY;
  expect_times(&car, &o.result, TV_FAILS, "cable feed runs away", 1);
}

static void test_joints_and_fuse_holders_by_their_watts(void **state) {
  (void)state;
  struct car car;
  struct outcome o;
  make_car(&car);
  make_outcome(&car, &o);
  o.conductors[JOINT_STUD].loss_w = 2.9;
  o.conductors[SHELL].loss_w = 20.0; /* sheet metal spreads its heat */
  expect_times(&car, &o.result, TV_CAUTION, "into heat", 0);
  o.conductors[JOINT_STUD].loss_w = 4.0;
  expect_times(&car, &o.result, TV_CAUTION, "joint body stud turns 4.0 W into heat", 1);
  o.conductors[JOINT_STUD].loss_w = 8.5;
  expect_times(&car, &o.result, TV_FAILS, "joint body stud turns 8.5 W into heat at 30 A (at most 8 W)", 1);
  /* a fuse heats by design: 150 A at its 75 % turns 8 W into heat with a good holder; a poor holder adds its own */
  make_outcome(&car, &o);
  o.conductors[FUSE].loss_w = 9.0;
  expect_times(&car, &o.result, TV_CAUTION, "holder of fuse", 0);
  car.conductors[FUSE].resistance_ohm = 5e-3;
  o.conductors[FUSE].loss_w = 15.0;
  expect_times(&car, &o.result, TV_FAILS, "holder of fuse main turns 10.5 W into heat", 1);
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
  expect_times(&car, &o.result, TV_MARGINAL, "fuse main 60 A carries 46 A: 77 % of its rating, at most 45 A", 1);
  /* hot air takes 7 % off at 60 C */
  o.fuses[0].rms_a = 43.0;
  expect_sound(&car, &o.result);
  car.conductors[FUSE].place = TAILVOLT_ENGINE_BAY;
  expect_times(&car, &o.result, TV_MARGINAL, "at most 42 A for hours in air of 60 C", 1);
  o.fuses[0].rms_a = 30.0;
  o.fuses[0].may_open = true;
  expect_times(&car, &o.result, TV_CAUTION, "fuse main 60 A may open", 1);
  o.fuses[0].opens = true;
  o.fuses[0].opens_time_s = 252.0;
  expect_times(&car, &o.result, TV_FAILS, "fuse main 60 A opens at 252.0 s", 1);
}

/* ------------------------------------------------------------------ other parts */

static void test_amplifier_that_claims_more_than_its_fuses(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  struct tailvolt_amplifier *a = &car.amplifiers[0];
  a->rated_w = 800.0;
  a->fuses_a = 80.0; /* needs 67.8 A */
  expect_none(&car, "its own fuses");
  a->rated_w = 2000.0;
  expect(&car, TV_CAUTION, "amplifier bass: 2000 W would take 169 A, its own fuses of 80 A never pass that: about 1039 W");
}

static void test_hazards_of_batteries(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "in the cabin");
  make_two_batteries(&car, true);
  expect(&car, TV_CAUTION, "battery second (AGM) in the cabin: sealed");
  car.batteries[1].kind = TAILVOLT_FLOODED;
  expect(&car, TV_CAUTION, "battery second (flooded) in the cabin: only a sealed kind belongs there");
  expect_none(&car, "lithium-iron");
  car.batteries[1].kind = TAILVOLT_LITHIUM_IRON;
  expect(&car, TV_CAUTION, "battery second is lithium-iron: no charging below 0 C");
  expect(&car, TV_CAUTION, "charge it through a converter");
  car.isolators[0].kind = TAILVOLT_CONVERTER;
  expect_none(&car, "charge it through a converter");
  car.system.alternator.set_point_v = 14.8;
  expect(&car, TV_CAUTION, "the alternator's 14.8 V is above the 14.6 V that lithium-iron cells bear");
}

static void test_capacitors(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "pre-charge");
  car.system.capacitor_count = 1;
  car.capacitors[0] = (struct tailvolt_capacitor){
      .name = "stiffener", .positive = PLUS, .negative = MINUS, .capacitance_f = 1.0, .esr_ohm = 2e-3, .rated_v = 16.0};
  expect(&car, TV_CAUTION, "capacitor stiffener (1 F): pre-charge it");
  expect_sound(&car, NULL);
  car.capacitors[0].rated_v = 13.5;
  expect(&car, TV_FAILS, "capacitor stiffener is rated 13.5 V, below the charging voltage of 14.3 V");
}

static void test_charging(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "12.4 to 15.0 V");
  expect_none(&car, "orange");
  expect_none(&car, "puts the posts above");
  car.system.vehicle.charging = TAILVOLT_CHARGING_COMPUTER;
  expect(&car, TV_CAUTION, "12.4 to 15.0 V");
  car.system.vehicle.charging = TAILVOLT_CHARGING_CONVERTER;
  expect(&car, TV_CAUTION, "orange cable");
  car.system.alternator.set_point_v = 15.2;
  expect(&car, TV_CAUTION, "a set point of 15.2 V puts the posts above 15.0 V");
  /* a moderate one comes above it in deep frost */
  car.system.alternator.set_point_v = 14.8;
  expect_none(&car, "puts the posts above");
  car.system.vehicle.ambient_c = -10.0;
  expect(&car, TV_CAUTION, "a set point of 15.2 V puts the posts above 15.0 V");
}

static void test_battery_sensor(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  expect_none(&car, "sensor");
  car.system.vehicle.battery_sensor = true;
  expect(&car, TV_CAUTION, "every ground goes to the body");
  car.conductors[RETURN].to = GROUND;
  expect(&car, TV_CAUTION, "amplifier bass is earthed at the battery's post and bypasses the battery sensor");
  expect_none(&car, "every ground goes to the body");
  car.amplifiers[0].negative = GROUND;
  expect(&car, TV_CAUTION, "bypasses the battery sensor");
}

static void test_choosing_a_fuse(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  const struct tailvolt_conductor *feed = &car.conductors[FEED];
  assert_near(tv_safety_fuse_for_cable(&car.system, feed, TAILVOLT_BOLT_DOWN, 20.0), 30.0, 0.0);
  assert_near(tv_safety_fuse_for_cable(&car.system, feed, TAILVOLT_BOLT_DOWN, 40.0), 60.0, 0.0);
  assert_true(isnan(tv_safety_fuse_for_cable(&car.system, feed, TAILVOLT_BOLT_DOWN, 50.0))); /* needs 70 A: refused */
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
  assert_int_equal(count_of(&list, TV_MARGINAL), 1);
  assert_non_null(strstr(list.finding[0].text, "30 cm of cable from battery starter (at most 18 cm)"));
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
  const char *const words[] = {"negative lead", "fuse", "hydrogen", "cabin", "capacitor", "hearing", "estimate",
                               "open air", "brake", "orange"};
  for (size_t w = 0; w < sizeof words / sizeof words[0]; w++) {
    bool found = false;
    for (size_t k = 0; k < count; k++) {
      found = found || strstr(text[k], words[w]) != NULL;
    }
    assert_true(found);
  }
  text = tv_fitting_checklist(&count);
  assert_true(count >= 10);
  for (size_t k = 0; k < count; k++) {
    assert_true(strlen(text[k]) > 15 && strlen(text[k]) <= 200);
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
      cmocka_unit_test(test_distance_of_the_main_fuse),
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
      cmocka_unit_test(test_conductors_against_their_insulation),
      cmocka_unit_test(test_joints_and_fuse_holders_by_their_watts),
      cmocka_unit_test(test_fuses_by_their_load),
      cmocka_unit_test(test_amplifier_that_claims_more_than_its_fuses),
      cmocka_unit_test(test_hazards_of_batteries),
      cmocka_unit_test(test_capacitors),
      cmocka_unit_test(test_charging),
      cmocka_unit_test(test_battery_sensor),
      cmocka_unit_test(test_choosing_a_fuse),
      cmocka_unit_test(test_stricter_limits_can_be_set),
      cmocka_unit_test(test_a_car_without_battery_or_parts),
      cmocka_unit_test(test_cautions_and_checklist),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
