/* The spread: the same bits for any number of threads, steady quantiles, and what matters named. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "study/spread.h"
#include "support/assert_near.h"
#include "support/long_case.h"
#include "support/scenes.h"

/* Short cycles, no ripple, steps of 4 ms: a vehicle takes a few milliseconds. */
static const char car[] =
    "[engine]\nsize = 1.6 L petrol\ncranking current = 150 A\nbreakaway current = 450 A\n"
    "[battery one]\npositive = post\nnegative = ground\nkind = flooded\ncapacity = 45 Ah\ncold cranking = "
    "420 A EN\n"
    "rested voltage = 12.55 V\nhealth = 90 %\n"
    "[cable feed]\nfrom = post\nto = plus\nsize = 10 mm2\nlength = 5 m\n"
    "[cable return]\nfrom = minus\nto = ground\nsize = 10 mm2\nlength = 1 m\n"
    "[amplifier bass]\npositive = plus\nnegative = minus\nrated power = 600 W\ninternal capacitance = 0 F\n"
    "[programme beat]\ncrest factor = 9 dB\ntempo = 480 /min\ndecay = 40 ms\nbass note = 0 Hz\nphrases = 0 %\n"
    "[vehicle]\ncharging = none\n";

static struct tailvolt_system *system_of(void) {
  return scene_parse(car);
}

static struct tailvolt_parked_options quick_options(int vehicles, int threads) {
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  options.run.time_step_s = 4e-3;
  options.vehicles = vehicles;
  options.threads = threads;
  return options;
}

static const struct tv_parked_quick plain = {.draw_ratio = 1, .cut_out_ratio = 1};

static struct tailvolt_certainty sure; /* of the last one drawn */
static struct tailvolt_parked_soonest soonest;

static struct tailvolt_parked_spread draw(const struct tailvolt_system *system,
                                          const struct tailvolt_parked_options *options, double wanted_s) {
  struct tailvolt_parked_spread spread;
  memset(&sure, 0, sizeof sure);
  assert_int_equal(tv_parked_spread(system, NULL, options, &plain, wanted_s, &spread, &soonest, &sure), TAILVOLT_OK);
  return spread;
}

/* A battery smaller than any that starts a car has no usual reserve; one that the file does not state follows the capacity drawn. */
static void small_batteries_can_be_drawn(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_parse("[battery]\ncapacity = 12 Ah\ncold cranking = 120 A EN\n[alternator]\nrated current = 90 A\n"
                                               "[amplifier bass]\nrated power = 100 W\ninternal capacitance = 0 F\n"
                                               "[cable feed]\nsize = 10 mm2\nlength = 5 m\n"
                                               "[programme beat]\ntempo = 480 /min\nbass note = 0 Hz\nphrases = 0 %\n");
  struct tailvolt_parked_options options = quick_options(16, 1);
  struct tailvolt_parked_spread spread = draw(system, &options, (double)NAN);
  assert_int_equal(spread.refused, 0);
  assert_int_equal(spread.done, 16);
  for (int k = 0; k < system->assumption_count; k++) assert_string_not_equal(system->assumptions[k].key, "battery.reserve");
  tailvolt_system_free(system);
}

static void same_bits_for_any_number_of_threads(void **state) {
  (void)state;
  struct tailvolt_system *system = system_of();
  struct tailvolt_parked_options one = quick_options(24, 1), three = quick_options(24, 3);
  struct tailvolt_parked_spread a = draw(system, &one, 3600), b = draw(system, &three, 3600);
  assert_int_equal(a.done, 24);
  assert_false(a.partial);
  assert_true(a.until_s.p10 < a.until_s.p50 && a.until_s.p50 < a.until_s.p90);
  assert_memory_equal(&a, &b, sizeof a);
  tailvolt_system_free(system);
}

/* With two threads some vehicles are computed while the car described is played, before anyone knows when that one cuts out. */
static void vehicles_beside_the_car_described_are_the_same(void **state) {
  (void)state;
  struct tailvolt_system *system = system_of();
  struct tailvolt_parked *parked[2];
  struct tv_parked_quick quick = plain;
  char error[TAILVOLT_TEXT_MAX];
  for (int k = 0; k < 2; k++) {
    struct tailvolt_parked_options options = quick_options(12, k + 1);
    assert_int_equal(tailvolt_parked(system, NULL, &options, &parked[k], error), TAILVOLT_OK);
  }
  assert_memory_equal(&parked[0]->spread, &parked[1]->spread, sizeof parked[0]->spread);
  assert_memory_equal(&parked[0]->certainty, &parked[1]->certainty, sizeof parked[0]->certainty);
  assert_true(parked[0]->cut_out_s == parked[1]->cut_out_s);
  /* what the car described says of the cut-out reaches them all */
  struct tailvolt_parked_options options = quick_options(12, 1);
  assert_int_equal(tv_parked_calibrate(system, NULL, &options, parked[0]->cut_out_s, &quick, error), TAILVOLT_OK);
  assert_true(quick.cut_out_ratio != 1);
  struct tailvolt_parked_spread fitted, unfitted;
  assert_int_equal(tv_parked_spread(system, NULL, &options, &quick, (double)NAN, &fitted, &soonest, &sure), TAILVOLT_OK);
  quick.cut_out_ratio = 1;
  assert_int_equal(tv_parked_spread(system, NULL, &options, &quick, (double)NAN, &unfitted, &soonest, &sure), TAILVOLT_OK);
  assert_true(fitted.cut_out_s.p50 != unfitted.cut_out_s.p50);
  assert_true(parked[1]->spread.cut_out_s.p50 == fitted.cut_out_s.p50);
  for (int k = 0; k < 2; k++) tailvolt_parked_free(parked[k]);
  tailvolt_system_free(system);
}

static void a_cut_out_that_moves_may_end_the_playing(void **state) {
  (void)state;
  struct tv_parked_brief b = {.until_s = 100, .restart_s = (double)NAN, .cut_out_s = 104, .limit_s = 100, .likely = true,
                              .ends_by = TAILVOLT_ENDS_BY_REST_LIMIT};
  tv_parked_brief_scale(&b, 0.95, 1000);
  assert_near(b.cut_out_s, 98.8, 1e-9);
  assert_true(b.until_s == b.cut_out_s);
  assert_int_equal(b.ends_by, TAILVOLT_ENDS_BY_CUT_OUT);
  tv_parked_brief_scale(&b, 1.1, 1000);
  assert_true(b.until_s == 100);
  assert_int_equal(b.ends_by, TAILVOLT_ENDS_BY_REST_LIMIT);
  b.likely = false; /* found step by step: nothing to correct */
  tv_parked_brief_scale(&b, 0.5, 1000);
  assert_true(b.until_s == 100);
}

static void near(const char *what, double few, double many) {
  if (!(fabs(few - many) <= 0.08 * many)) fail_msg("%s: %.1f s of 128, %.1f s of 512", what, few, many);
}

static void quantiles_stand_still_from_128_on(void **state) {
  (void)state;
  LONG_CASE();
  struct tailvolt_system *system = system_of();
  struct tailvolt_parked_options few = quick_options(128, 0), many = quick_options(512, 0);
  struct tailvolt_parked_spread a = draw(system, &few, (double)NAN), b = draw(system, &many, (double)NAN);
  assert_int_equal(b.done, 512);
  near("10 %", a.until_s.p10, b.until_s.p10);
  near("half", a.until_s.p50, b.until_s.p50);
  near("90 %", a.until_s.p90, b.until_s.p90);
  near("no start, half", a.restart_s.p50, b.restart_s.p50);
  near("no start, 10 %", a.restart_s.p10, b.restart_s.p10);
  near("cut-out, half", a.cut_out_s.p50, b.cut_out_s.p50);
  assert_true(sure.measure_first_count > 0);
  tailvolt_system_free(system);
}

/* Each factor moves the playing time the way it must, and is named by its own value where the file leaves nothing else open. */
static void each_value_pulls_its_own_way(void **state) {
  (void)state;
  static const struct {
    enum tailvolt_uncertain_value value;
    double sign;
  } pull[] = {{TAILVOLT_VALUE_HEALTH, 1},   {TAILVOLT_VALUE_RESTED_VOLTAGE, 1}, {TAILVOLT_VALUE_PER_METRE, -1},
              {TAILVOLT_VALUE_LEVEL, -1},   {TAILVOLT_VALUE_CRANKING, -1},      {TAILVOLT_VALUE_AMBIENT, 1},
              {TAILVOLT_VALUE_RATED_POWER, -1}};
  struct tailvolt_system *system = system_of();
  struct tailvolt_uncertainty *list;
  system->tolerance.level_db = 2;
  struct tailvolt_parked_options options = quick_options(0, 1);
  options.soc_limit_frac = 0; /* the restart, which all of them affect */
  options.floor_v = 10;
  options.ambient_c = 0;
  assert_int_equal(tailvolt_uncertainty_of(system, &list), TAILVOLT_OK);
  double *values = calloc((size_t)list->count, sizeof *values);
  for (size_t p = 0; p < sizeof pull / sizeof *pull; p++) {
    double until_s[2];
    for (int end = 0; end < 2; end++) {
      struct tv_spread_vehicle vehicle;
      struct tv_parked_brief brief;
      bool found = false;
      for (int k = 0; k < list->count; k++) {
        const struct tailvolt_uncertain *one = &list->values[k];
        values[k] = one->nominal;
        if (one->value != pull[p].value) continue;
        values[k] = end == 0 ? one->low : one->high;
        found = true;
      }
      assert_true(found);
      assert_int_equal(tv_spread_vehicle(system, &options, list, values, &vehicle), TAILVOLT_OK);
      assert_int_equal(tv_parked_brief_with(vehicle.system, NULL, &vehicle.options, &plain, &brief, NULL), TAILVOLT_OK);
      until_s[end] = brief.until_s;
      tv_spread_vehicle_free(&vehicle);
    }
    if (!(pull[p].sign * (until_s[1] - until_s[0]) > 0))
      fail_msg("value %d: %.0f s at its low end, %.0f s at its high", pull[p].value, until_s[0], until_s[1]);
  }
  free(values);
  tailvolt_uncertainty_free(list);
  tailvolt_system_free(system);
}

/* The share that lasts, and what was measured is no longer to be measured. */
static void what_is_asked_is_counted(void **state) {
  (void)state;
  struct tailvolt_system *system = system_of();
  struct tailvolt_parked_options options = quick_options(48, 0);
  struct tailvolt_parked_spread any = draw(system, &options, (double)NAN);
  struct tailvolt_parked_spread spread = draw(system, &options, any.until_s.p50);
  assert_near(spread.too_short_pct, 50, 3);
  assert_near(sure.holds_pct, 100 - spread.too_short_pct, 1e-9);
  assert_true(sure.holds_low_pct < sure.holds_pct && sure.holds_pct < sure.holds_high_pct);
  assert_true(sure.measure_first_count > 0);
  for (int k = 0; k < sure.measure_first_count; k++)
    assert_true(sure.measure_first[k].share_pct > 2 * sure.measure_first[k].error_pct);
  tailvolt_system_free(system);
}

/* An amplifier too large for its battery and cable: in some such cars the supply collapses early, and whether those start later nobody
 * knows. Where none collapses every quantile is known, or none before the longest time. */
static void what_was_not_followed_is_not_promised(void **state) {
  (void)state;
  struct tailvolt_system *light = system_of(),
                         *heavy = scene_parse("[alternator]\nrated current = 90 A\n[battery]\ncapacity = 39 Ah\nhealth = 66 %\n"
                                              "kind = AGM\n[amplifier bass]\nrated power = 1500 W\ninternal capacitance = 0 F\n"
                                              "[cable feed]\nsize = 10 AWG\nlength = 5 m\n"
                                              "[programme beat]\ntempo = 480 /min\nbass note = 0 Hz\nphrases = 0 %\n");
  struct tailvolt_parked_options options = quick_options(32, 0);
  struct tailvolt_parked_spread spread = draw(heavy, &options, 2 * 3600.0);
  print_message("no start: %.0f %.0f %.0f s at the latest, %.0f %.0f %.0f s at the soonest; %.1f %% would not, %.1f %% unknown\n",
                spread.restart_s.p10, spread.restart_s.p50, spread.restart_s.p90, soonest.restart_s.p10, soonest.restart_s.p50,
                soonest.restart_s.p90, spread.not_starting_pct, soonest.not_followed_pct);
  assert_true(soonest.not_followed_pct > 0);
  assert_true(soonest.not_followed_pct + spread.not_starting_pct <= 100);
  assert_true(isnan(spread.restart_s.p90));
  assert_true(soonest.restart_s.p10 <= soonest.restart_s.p50 && soonest.restart_s.p50 <= soonest.restart_s.p90);
  assert_true(soonest.restart_s.p90 < 2 * 3600.0);
  options.limit_s = 600;
  spread = draw(light, &options, 2 * 3600.0);
  assert_true(isnan(spread.restart_s.p90));
  assert_near(soonest.restart_s.p90, 600, 1e-9);
  /* cars that play on when the search ends play for longer */
  assert_true(isnan(spread.until_s.p10) && isnan(spread.until_s.p90));
  tailvolt_system_free(heavy);
  tailvolt_system_free(light);
}

static int stop_after_some(void *context, double done_frac) {
  (void)context;
  return done_frac > 0.2;
}

static void stopped_it_tells_what_was_done(void **state) {
  (void)state;
  struct tailvolt_system *system = system_of();
  struct tailvolt_parked_options options = quick_options(40, 2);
  options.run.progress = stop_after_some;
  struct tailvolt_parked_spread spread = draw(system, &options, (double)NAN);
  assert_true(spread.partial);
  assert_true(spread.done >= 8 && spread.done < 40);
  assert_int_equal(spread.vehicles, 40);
  assert_true(spread.until_s.p50 > 0);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(small_batteries_can_be_drawn),
      cmocka_unit_test(same_bits_for_any_number_of_threads),
      cmocka_unit_test(vehicles_beside_the_car_described_are_the_same),
      cmocka_unit_test(a_cut_out_that_moves_may_end_the_playing),
      cmocka_unit_test(quantiles_stand_still_from_128_on),
      cmocka_unit_test(each_value_pulls_its_own_way),
      cmocka_unit_test(what_is_asked_is_counted),
      cmocka_unit_test(what_was_not_followed_is_not_promised),
      cmocka_unit_test(stopped_it_tells_what_was_done),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
