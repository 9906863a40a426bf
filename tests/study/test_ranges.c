/* Ranges of what nobody has measured: every number of a car has one, meters and the file's tolerances replace it, draws have the
 * stated moments, and --set accepts what is written. */
#include "support/assert_near.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "study/ranges.h"
#include "study/vehicles.h"
#include "support/scenes.h"

#define CAR \
  "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 800 W\n[cable feed]\n" \
  "size = 8 AWG\nlength = 5.5 m\n"

static struct tailvolt_uncertainty *list_of(const struct tailvolt_system *system) {
  struct tailvolt_uncertainty *list;
  assert_int_equal(tailvolt_uncertainty_of(system, &list), TAILVOLT_OK);
  return list;
}

static const struct tailvolt_uncertain *find(const struct tailvolt_uncertainty *list, const char *key) {
  for (int k = 0; k < list->count; k++)
    if (strcmp(list->values[k].key, key) == 0) return &list->values[k];
  return NULL;
}

static const struct tailvolt_uncertain *want(const struct tailvolt_uncertainty *list, const char *key) {
  const struct tailvolt_uncertain *one = find(list, key);
  if (one == NULL) fail_msg("%s has no range", key);
  return one;
}

/* Which defaults may have no range, and why. */
static bool needs_none(const char *key) {
  static const char *const of_music[] = {"crest factor", "tempo", "decay", "bass note", "phrases", "level offset"};
  static const char *const wishes[] = {"voltage", "voltage parked", "missed at most", "endurance at idle", "idle share"};
  /* not a number that could be wrong, chosen by the fitter, or irrelevant to a verdict on volts and charge */
  static const char *const others[] = {"size", "kind", "material", "insulation", "laid", "place", "topology", "supply",
                                       "charging", "headlamps", "distance", "rating", "reserve", "rated voltage",
                                       "cut-in voltage", "cranking time", "ramp", "lamp", "behaves", "low end above",
                                       "start floor", "sense", "delay", "opening delay", "wiring"};
  const char *name = strrchr(key, '.') + 1;
  for (size_t k = 0; k < sizeof of_music / sizeof *of_music; k++)
    if (strcmp(name, of_music[k]) == 0) return true;
  for (size_t k = 0; k < sizeof others / sizeof *others; k++)
    if (strcmp(name, others[k]) == 0) return true;
  for (size_t k = 0; k < sizeof wishes / sizeof *wishes && strncmp(key, "targets.", 8) == 0; k++)
    if (strcmp(name, wishes[k]) == 0) return true;
  return false;
}

static void every_number_assumed_has_a_range(void **state) {
  (void)state;
  static const char *const cars[] = {"examples/reference/ten-line.ini", "examples/second-battery/relay.ini",
                                     "examples/second-battery/diode.ini", "examples/second-battery/converter.ini",
                                     "examples/hybrid/system.ini",      "examples/fused-block/system.ini",
                                     "examples/smart-hatchback/system.ini", "examples/reference/all-of-it.ini"};
  for (size_t c = 0; c < sizeof cars / sizeof *cars; c++) {
    struct tailvolt_system *system = scene_read(cars[c]);
    struct tailvolt_uncertainty *list = list_of(system);
    for (int k = 0; k < system->assumption_count; k++) {
      const char *key = system->assumptions[k].key;
      if (system->converter.present && strcmp(key, "engine.idle speed") == 0) continue; /* charges at any speed */
      if (!needs_none(key) && find(list, key) == NULL) fail_msg("%s: %s has no range", cars[c], key);
    }
    for (int k = 0; k < list->count; k++) {
      const struct tailvolt_uncertain *one = &list->values[k];
      if (!(one->low < one->high) && !(one->tail_frac > 0)) fail_msg("%s: %s: no width", cars[c], one->key);
      if (one->reason == NULL || one->reason[0] == '\0') fail_msg("%s: no reason", one->key);
      assert_in_range(one->factor_index, 0, list->factor_count - 1);
      assert_int_equal(list->factors[one->factor_index], one->factor);
    }
    tailvolt_uncertainty_free(list);
    tailvolt_system_free(system);
  }
}

static void what_is_put_is_had_and_what_is_written_is_taken(void **state) {
  (void)state;
  static const char *const cars[] = {"examples/reference/ten-line.ini", "examples/second-battery/relay.ini",
                                     "examples/second-battery/diode.ini", "examples/second-battery/converter.ini",
                                     "examples/hybrid/system.ini", "examples/reference/all-of-it.ini"};
  for (size_t c = 0; c < sizeof cars / sizeof *cars; c++) {
    struct tailvolt_system *system = scene_read(cars[c]);
    struct tailvolt_uncertainty *list = list_of(system);
    for (int k = 0; k < list->count; k++) {
      const struct tailvolt_uncertain *one = &list->values[k];
      struct tailvolt_system *put, *set;
      char text[64];
      double number = 0.5 * (one->low + one->high);
      assert_int_equal(tailvolt_system_copy(system, &put), TAILVOLT_OK);
      tailvolt_uncertain_put(put, one, number);
      assert_near_rel(tv_uncertain_get(put, one->value, one->part.index), number, 1e-12);
      assert_int_equal(tailvolt_system_copy(system, &set), TAILVOLT_OK);
      tailvolt_uncertain_write(one, number, 0, text, sizeof text);
      bool pairs = one->value == TAILVOLT_VALUE_START_NEEDS || one->value == TAILVOLT_VALUE_ISOLATOR_OUTPUT;
      if (!pairs) {
        if (tailvolt_system_set(set, one->key, text) != TAILVOLT_OK) fail_msg("%s = %s is refused", one->key, text);
        assert_near_rel(tv_uncertain_get(set, one->value, one->part.index), number, 1e-9);
      }
      tailvolt_system_free(put);
      tailvolt_system_free(set);
    }
    tailvolt_uncertainty_free(list);
    tailvolt_system_free(system);
  }
}

static void ranges_of_the_table(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_parse(CAR);
  struct tailvolt_uncertainty *list = list_of(system);
  static const struct {
    const char *key;
    double low, high, tail_frac, tail_high;
    enum tailvolt_factor factor;
  } rows[] = {{"vehicle.base load", 25, 50, 0, 50, TAILVOLT_FACTOR_NIGHT},
              {"battery.health", 0.5, 1, 0, 1, TAILVOLT_FACTOR_AGE},
              {"battery.cranking health", 0.6, 1.1, 0, 1.1, TAILVOLT_FACTOR_AGE},
              {"battery.state of charge", 0.7, 0.95, 0, 0.95, TAILVOLT_FACTOR_CHARGE},
              {"joint feed at battery.resistance", 1e-4, 5e-4, 0.02, 5e-3, TAILVOLT_FACTOR_WORKMANSHIP},
              {"joint strap at engine.resistance", 3e-4, 1e-3, 0.1, 5e-3, TAILVOLT_FACTOR_OLD_JOINT},
              {"joint body stud.resistance", 3e-4, 1e-3, 0.1, 5e-3, TAILVOLT_FACTOR_OLD_JOINT},
              {"joint body shell.resistance", 5e-4, 3e-3, 0, 3e-3, TAILVOLT_FACTOR_SHELL},
              {"alternator.set point", 14.0, 14.4, 0, 14.4, TAILVOLT_FACTOR_SET_POINT},
              {"alternator.rated current", 104.5, 115.5, 0, 115.5, TAILVOLT_FACTOR_LABEL},
              {"alternator.low current", 49.5, 60.5, 0, 60.5, TAILVOLT_FACTOR_LOW_SPEED},
              {"engine.idle speed", 750, 900, 0, 900, TAILVOLT_FACTOR_IDLE},
              {"cable feed.length", 4.95, 6.05, 0, 6.05, TAILVOLT_FACTOR_LENGTHS},
              {"amplifier bass.rated power", 640, 840, 0, 840, TAILVOLT_FACTOR_POWER},
              {"amplifier bass.efficiency", 0.75, 0.85, 0, 0.85, TAILVOLT_FACTOR_EFFICIENCY},
              {"amplifier bass.cut-out voltage", 9.5, 10.5, 0, 10.5, TAILVOLT_FACTOR_CUT_OUT},
              {"vehicle.engine bay", 40, 90, 0, 90, TAILVOLT_FACTOR_OUTSIDE}};
  for (size_t k = 0; k < sizeof rows / sizeof *rows; k++) {
    const struct tailvolt_uncertain *one = want(list, rows[k].key);
    assert_near_rel(one->low, rows[k].low, 1e-12);
    assert_near_rel(one->high, rows[k].high, 1e-12);
    assert_near(one->tail_frac, rows[k].tail_frac, 0);
    assert_near_rel(one->tail_high, rows[k].tail_high, 1e-12);
    assert_int_equal(one->factor, rows[k].factor);
  }
  /* cables: the kit's honesty is one factor, the maker's another */
  assert_int_equal(want(list, "cable feed.per metre")->factor, TAILVOLT_FACTOR_KIT);
  assert_int_equal(want(list, "cable ground lead.per metre")->factor_index, want(list, "cable feed.per metre")->factor_index);
  assert_int_equal(want(list, "cable charge lead.per metre")->factor, TAILVOLT_FACTOR_FACTORY_CABLE);
  assert_near(want(list, "cable charge lead.per metre")->tail_frac, 0, 0);
  /* both healths from one age, each old joint by itself, new ones together */
  assert_int_equal(want(list, "battery.health")->factor_index, want(list, "battery.cranking health")->factor_index);
  assert_int_not_equal(want(list, "joint strap at engine.resistance")->factor_index,
                       want(list, "joint strap at body.resistance")->factor_index);
  assert_int_equal(want(list, "joint feed at battery.resistance")->factor_index,
                   want(list, "joint feed at amplifier.resistance")->factor_index);
  assert_int_not_equal(want(list, "joint feed at battery.resistance")->tail_place,
                       want(list, "joint feed at amplifier.resistance")->tail_place);
  /* the music is not drawn */
  assert_null(find(list, "amplifier bass.level offset"));
  assert_null(find(list, "programme music.crest factor"));
  tailvolt_uncertainty_free(list);
  tailvolt_system_free(system);
}

static void meters_and_tolerances_take_the_place_of_ranges(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_parse(
      "[battery]\ncapacity = 70 Ah\nrested voltage = 12.50 V measured\n[alternator]\nrated current = 110 A\nset point = 14.30 V "
      "measured\n[amplifier bass]\nrated power = 800 W\n[cable feed]\nstrands = 105 x 0.3 mm\nlength = 5.5 m measured\n"
      "[vehicle]\nbase load = 40 A measured\n[joint body stud]\nmeasured drop = 12 mV at 20 A\n[tolerance]\nefficiency = 2 %\n"
      "level = 3 dB\npulley ratio = 0 %\n");
  struct tailvolt_uncertainty *list = list_of(system);
  const struct tailvolt_uncertain *one = want(list, "vehicle.base load");
  assert_int_equal(one->origin, TAILVOLT_FROM_METER);
  assert_near_rel(one->high - one->low, 2 * (0.025 * 40 + 1.0), 1e-12); /* 2.5 %, 5 digits of 0.1 A, 0.5 A of zero */
  one = want(list, "alternator.set point");
  assert_near_rel(one->high - one->low, 2 * (0.005 * 14.3 + 0.02), 1e-12);
  one = want(list, "battery.rested voltage");
  assert_near_rel(one->high - one->low, 2 * (0.005 * 12.5 + 0.02), 1e-12);
  assert_null(find(list, "battery.state of charge"));
  one = want(list, "joint body stud.measured drop");
  assert_near_rel(one->nominal, 0.6e-3, 1e-12);
  assert_int_equal(one->factor, TAILVOLT_FACTOR_METER);
  assert_true(one->high < 0.65e-3);
  one = want(list, "cable feed.length");
  assert_near_rel(one->high - one->low, 2 * (0.055 + 0.02), 1e-9);
  assert_near(want(list, "cable feed.per metre")->tail_frac, 0, 0); /* its strands were counted */
  one = want(list, "amplifier bass.efficiency");
  assert_true(one->by_tolerance);
  assert_near_rel(one->high - one->low, 0.04, 1e-9);
  assert_near_rel(want(list, "amplifier bass.level offset")->high, 3, 1e-12);
  assert_null(find(list, "alternator.pulley ratio")); /* a tolerance of nothing */
  tailvolt_uncertainty_free(list);
  tailvolt_system_free(system);
}

/* Draws over a fine grid of each factor have the stated mean, deviation and share of the tail. */
static void draws_have_the_moments_that_are_told(void **state) {
  (void)state;
  enum { GRID = 4000 };
  struct tailvolt_system *system = scene_parse(CAR);
  struct tailvolt_uncertainty *list = list_of(system);
  double factors[128] = {0};
  assert_true(list->factor_count <= 128);
  for (int k = 0; k < list->count; k++) {
    const struct tailvolt_uncertain *one = &list->values[k];
    double sum = 0, squares = 0;
    int beyond = 0, count = 0;
    /* the two factors of a new joint are independent: a coarse grid over the one that its body follows */
    for (int j = 0; j < (one->tail_index >= 0 ? 40 : 1); j++)
      for (int i = 0; i < GRID; i++, count++) {
        factors[one->factor_index] = one->tail_index >= 0 ? (j + 0.5) / 40 : (i + 0.5) / GRID;
        if (one->tail_index >= 0) factors[one->tail_index] = (i + 0.5) / GRID;
        double x = tailvolt_uncertain_draw(one, factors);
        assert_true(x >= one->low - 1e-12 * fabs(one->low) && x <= one->tail_high + 1e-12 * fabs(one->tail_high));
        sum += x;
        squares += (x - one->nominal) * (x - one->nominal);
        beyond += x > one->high * (1 + 1e-12) && one->tail_frac > 0;
      }
    double mean = sum / count, deviation = sqrt(squares / count - (mean - one->nominal) * (mean - one->nominal));
    double width = one->tail_high - one->low;
    assert_near(tailvolt_uncertain_mean(one), mean, 1e-3 * width);
    assert_near(tailvolt_uncertain_deviation(one), deviation, 2e-3 * width);
    assert_near((double)beyond / count, one->tail_frac, 1.0 / 1000);
  }
  tailvolt_uncertainty_free(list);
  tailvolt_system_free(system);
}

/* Closed forms of the body alone: even, a width over sqrt(12); towards the upper end, with u^1.5 of mean 2/5 and mean square 1/4. */
static void closed_forms(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_parse(CAR);
  struct tailvolt_uncertainty *list = list_of(system);
  assert_near_rel(tailvolt_uncertain_deviation(want(list, "vehicle.base load")), 25 / sqrt(12), 1e-5);
  assert_near_rel(tailvolt_uncertain_mean(want(list, "battery.health")), 1 - 0.5 * 0.4, 1e-5);
  assert_near_rel(tailvolt_uncertain_deviation(want(list, "battery.health")), 0.5 * sqrt(0.25 - 0.16), 1e-4);
  tailvolt_uncertainty_free(list);
  tailvolt_system_free(system);
}

/* One threshold measured, the other not: no car drawn has a relay that opens above where it closes. */
static void thresholds_do_not_cross(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_parse(CAR "[battery two]\ncapacity = 70 Ah\n[cable two feed]\nsize = 4 AWG\nlength = 5.5 m\n"
                                               "[isolator]\nkind = relay\n"
                                                   "closes above = 12.65 V measured\nopens below = 12.6 V\n");
  struct tailvolt_uncertainty *list = list_of(system);
  enum { CARS = 64 };
  double *points = calloc((size_t)list->factor_count * CARS, sizeof *points), *values = calloc((size_t)list->count, sizeof *values);
  tv_random_points(list->factor_count, 1, CARS, points);
  for (int k = 0; k < CARS; k++) {
    struct tailvolt_system *car;
    tv_vehicle_values(list, points + k * list->factor_count, values);
    assert_int_equal(tv_vehicle_system(system, list, values, &car), TAILVOLT_OK);
    assert_true(car->isolators[0].closes_above_v >= car->isolators[0].opens_below_v + 0.05 - 1e-9);
    tailvolt_system_free(car);
  }
  free(points);
  free(values);
  tailvolt_uncertainty_free(list);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(every_number_assumed_has_a_range),
                                     cmocka_unit_test(what_is_put_is_had_and_what_is_written_is_taken),
                                     cmocka_unit_test(ranges_of_the_table),
                                     cmocka_unit_test(meters_and_tolerances_take_the_place_of_ranges),
                                     cmocka_unit_test(draws_have_the_moments_that_are_told),
                                     cmocka_unit_test(closed_forms),
                                     cmocka_unit_test(thresholds_do_not_cross)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
