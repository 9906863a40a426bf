/* The spread: the same bits for any number of threads, steady quantiles, and what matters named. */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "study/spread.h"
#include "support/assert_near.h"
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

static const struct tv_parked_quick plain = {1, 0, 1, NULL};

static struct tailvolt_parked_spread draw(const struct tailvolt_system *system,
                                          const struct tailvolt_parked_options *options, double wanted_s) {
  struct tailvolt_parked_spread spread;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tv_parked_spread(system, NULL, options, &plain, wanted_s, &spread, error), TAILVOLT_OK);
  return spread;
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

static void near(const char *what, double few, double many) {
  if (!(fabs(few - many) <= 0.02 * many)) fail_msg("%s: %.1f s of 128, %.1f s of 512", what, few, many);
}

static void quantiles_stand_still_from_128_on(void **state) {
  (void)state;
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
  assert_string_equal(a.matters[0].key, b.matters[0].key);
  tailvolt_system_free(system);
}

static void no_tolerance_no_spread(void **state) {
  (void)state;
  struct tailvolt_system *system = system_of();
  memset(&system->tolerance, 0, sizeof system->tolerance);
  struct tailvolt_parked_options options = quick_options(5, 0);
  struct tv_parked_brief brief;
  assert_int_equal(tv_parked_brief_with(system, NULL, &options, &plain, &brief, NULL), TAILVOLT_OK);
  struct tailvolt_parked_spread spread = draw(system, &options, brief.until_s + 1);
  assert_near(spread.until_s.p10, spread.until_s.p90, 1e-9);
  /* the charge at the start is worked out from the rested voltage once, and handed on */
  assert_near_rel(spread.until_s.p50, brief.until_s, 1e-9);
  assert_near(spread.too_short_pct, 100, 1e-9);
  for (int k = 0; k < TAILVOLT_TOLERANCES; k++) assert_true(isnan(spread.matters[k].rank_correlation) != 0);
  tailvolt_system_free(system);
}

/* With a single tolerance its rank correlation is plus or minus one, and the others are ignored. */
static void each_tolerance_pulls_its_own_way(void **state) {
  (void)state;
  static const struct {
    const char *key;
    double sign;
  } pull[] = {{"battery health", 1}, {"state of charge", 1},   {"resistances", -1},
              {"level", -1},         {"cranking current", -1}, {"temperature", 1}};
  for (size_t k = 0; k < sizeof pull / sizeof pull[0]; k++) {
    struct tailvolt_system *system = system_of();
    struct tailvolt_tolerance *t = &system->tolerance;
    memset(t, 0, sizeof *t);
    double *const place[] = {&t->health_frac, &t->soc_frac,      &t->resistance_frac,
                             &t->level_db,    &t->cranking_frac, &t->temperature_k};
    *place[k] = k == 3 ? 3 : k == 5 ? 15 : 0.2;
    struct tailvolt_parked_options options = quick_options(12, 0);
    options.soc_limit_frac = 0; /* the restart, which all of them affect */
    options.floor_v = 10;
    options.ambient_c = 0;
    struct tailvolt_parked_spread spread = draw(system, &options, (double)NAN);
    assert_string_equal(spread.matters[0].key, pull[k].key);
    if (!(pull[k].sign * spread.matters[0].rank_correlation > 0.9))
      fail_msg("%s: rank correlation %.3f", pull[k].key, spread.matters[0].rank_correlation);
    assert_true(isnan(spread.matters[1].rank_correlation) != 0);
    tailvolt_system_free(system);
  }
}

static void every_draw_lies_within_its_tolerance(void **state) {
  (void)state;
  struct tailvolt_system *system = system_of();
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  const double soc_frac = 0.9, high[TAILVOLT_TOLERANCES] = {1, 1, 1, 1, 1, 1},
               low[TAILVOLT_TOLERANCES] = {-1, -1, -1, -1, -1, -1};
  struct tv_spread_vehicle a, b;
  system->engine.start_needs_a = 30; /* a hybrid that boots */
  assert_int_equal(tv_spread_draw(system, &options, &soc_frac, high, &a), TAILVOLT_OK);
  assert_int_equal(tv_spread_draw(system, &options, &soc_frac, low, &b), TAILVOLT_OK);
  assert_near(a.batteries[0].health_frac, 1.0, 1e-12);
  assert_near(b.batteries[0].health_frac, 0.8, 1e-12);
  assert_near(a.batteries[0].soc_frac, 1.0, 1e-12);
  assert_near(b.batteries[0].soc_frac, 0.8, 1e-12);
  assert_near_rel(a.conductors[0].resistance_ohm, 1.2 * system->conductors[0].resistance_ohm, 1e-12);
  assert_near_rel(b.batteries[0].cranking_health_frac, 1 / 0.8, 1e-12);
  assert_near(a.options.level_db - b.options.level_db, 4, 1e-12);
  assert_near(a.options.ambient_shift_k - b.options.ambient_shift_k, 10, 1e-12);
  assert_near_rel(a.system.engine.cranking_a, 1.15 * 150, 1e-12);
  assert_near_rel(a.system.engine.start_needs_a, 1.15 * 30, 1e-12);
  /* the one described is left alone */
  assert_near(system->batteries[0].health_frac, 0.9, 1e-12);
  tv_spread_vehicle_free(&a);
  tv_spread_vehicle_free(&b);
  tailvolt_system_free(system);
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
      cmocka_unit_test(same_bits_for_any_number_of_threads),
      cmocka_unit_test(quantiles_stand_still_from_128_on),
      cmocka_unit_test(no_tolerance_no_spread),
      cmocka_unit_test(each_tolerance_pulls_its_own_way),
      cmocka_unit_test(every_draw_lies_within_its_tolerance),
      cmocka_unit_test(stopped_it_tells_what_was_done),
  };
  gsl_set_error_handler_off();
  return cmocka_run_group_tests(tests, NULL, NULL);
}
