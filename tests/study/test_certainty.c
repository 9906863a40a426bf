/* How sure: the same bits for any number of threads, shares against a closed form, steady quantiles, stretches against whole
 * profiles, fleets that are as requested. Anything that takes minutes is in tests/bench/bench_certainty.c. */
#include "support/assert_near.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "study/certainty_parts.h"
#include "study/certainty_sum.h"
#include "support/fleets.h"
#include "support/long_case.h"
#include "support/scenes.h"

/* Short beats, no ripple: a vehicle takes a few milliseconds. */
static const char car[] =
    "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 500 W\n[cable feed]\n"
    "size = 4 AWG\nlength = 5 m\n[programme beat]\ncrest factor = 9 dB\ntempo = 240 /min\ndecay = 60 ms\nbass note = 0 Hz\n"
    "phrases = 0 %\n[targets]\nvoltage = 12.4 V\n";
static const char drive[] = "time_s,engine_rpm,programme\n0,800,beat\n6,800,beat\n";

struct scene {
  struct tailvolt_system *system;
  struct tailvolt_profile *profile;
};

static struct scene scene_of(const char *text, const char *rows) {
  struct scene scene = {.system = scene_parse(text)};
  scene.profile = scene_profile(scene.system, rows);
  return scene;
}

static void end(struct scene *scene) {
  tailvolt_profile_free(scene->profile);
  tailvolt_system_free(scene->system);
}

static struct tailvolt_certainty ask_seed(const struct scene *scene, int vehicles, int threads, bool shares, unsigned long seed) {
  struct tailvolt_certainty_options options = tailvolt_default_certainty_options();
  struct tailvolt_options run = tailvolt_default_options();
  const struct tailvolt_profile *profiles[] = {scene->profile};
  struct tailvolt_certainty out;
  char error[TAILVOLT_TEXT_MAX];
  run.time_step_s = 4e-3;
  options.run = &run;
  options.vehicles = vehicles;
  options.threads = threads;
  options.shares = shares;
  options.seed = seed;
  memset(&out, 0, sizeof out);
  if (tailvolt_certainty(scene->system, profiles, 1, NULL, &options, &out, error) != TAILVOLT_OK) fail_msg("%s", error);
  return out;
}

static struct tailvolt_certainty ask(const struct scene *scene, int vehicles, int threads, bool shares) {
  return ask_seed(scene, vehicles, threads, shares, 1);
}

static void same_bits_for_any_number_of_threads(void **state) {
  (void)state;
  struct scene scene = scene_of(car, drive);
  struct tailvolt_certainty one = ask(&scene, 40, 1, true), three = ask(&scene, 40, 3, true);
  assert_int_equal(one.vehicles, 40);
  assert_true(one.holds_low_pct <= one.holds_pct && one.holds_pct <= one.holds_high_pct);
  assert_true(one.min_v.p10 < one.min_v.p50 && one.min_v.p50 < one.min_v.p90);
  assert_memory_equal(&one, &three, sizeof one);
  end(&scene);
}

/* A stiff source, a constant current, resistances in a row: the volts left are U - I (R1 + R2 + ...), a straight line in every
 * resistance and in the source's voltage, so the share of factor f is its variance over the sum of all. Every share named is within
 * twice the error stated beside it, whatever vehicles are drawn. */
static const char straight_line[] =
    "[vehicle]\ncharging = none\n[battery]\npositive = post\nnegative = ground\ncapacity = 1000 Ah\nresistance = 0.02 mohm\n"
    "polarization = 0.001 mohm, 1 s\nopen circuit = 12.5 V at 0 %, 12.5001 V at 100 %\nstate of charge = 50 % measured\n"
    "health = 100 % measured\ncranking health = 100 % measured\n"
    "[cable feed]\nfrom = post\nto = a\nsize = 16 mm2\nlength = 5 m\n[joint one]\nfrom = a\nto = b\nresistance = 1 mohm\n"
    "[joint two]\nfrom = b\nto = plus\nresistance = 2 mohm\n[fuse main]\nfrom = minus\nto = c\nrating = 100 A\nresistance = 2 mohm\n"
    "[cable back]\nfrom = c\nto = ground\nsize = 16 mm2\nlength = 2 m\n"
    "[amplifier bass]\npositive = plus\nnegative = minus\nrated power = 500 W\ninternal capacitance = 0 F\n"
    "[tolerance]\nresistances = 40 %\nlength = 20 %\n";

static void shares_of_a_straight_line(void **state) {
  (void)state;
  const double current_a = 50;
  struct scene scene = scene_of(straight_line, "time_s,supply_a:bass\n0,50\n4,50\n");
  struct tailvolt_uncertainty *list;
  assert_int_equal(tailvolt_uncertainty_of(scene.system, &list), TAILVOLT_OK);
  double of_factor[64] = {0}, all = 0;
  assert_true(list->factor_count <= 64);
  for (int k = 0; k < list->count; k++) {
    const struct tailvolt_uncertain *one = &list->values[k];
    double deviation = tailvolt_uncertain_deviation(one);
    if (one->part.kind != TAILVOLT_PART_CABLE && one->part.kind != TAILVOLT_PART_JOINT && one->part.kind != TAILVOLT_PART_FUSE) continue;
    double ohm = scene.system->conductors[one->part.index].resistance_ohm;
    /* the values of one factor move together: deviations add, and so do the volts of new joints */
    of_factor[one->factor_index] += current_a * ohm * deviation / one->nominal;
  }
  for (int f = 0; f < list->factor_count; f++) all += of_factor[f] * of_factor[f];
  assert_true(all > 0);
  for (unsigned long seed = 1; seed <= 5; seed++) {
    struct tailvolt_certainty found = ask_seed(&scene, 64, 0, true, seed);
    double said = 0;
    assert_true(found.measure_first_count >= 3);
    for (int k = 0; k < found.measure_first_count; k++) {
      const struct tailvolt_measure_first *m = &found.measure_first[k];
      double exact_pct = 100 * of_factor[m->factor_index] * of_factor[m->factor_index] / all;
      if (!(fabs(m->share_pct - exact_pct) <= 2 * m->error_pct))
        fail_msg("%s: %.2f %% +- %.2f, exactly %.2f %%", m->key, m->share_pct, m->error_pct, exact_pct);
      assert_true(m->error_pct < 3);
      assert_true(m->share_pct > 2 * m->error_pct);
      said += exact_pct;
    }
    assert_true(said > 80);
  }
  tailvolt_uncertainty_free(list);
  end(&scene);
}

/* What is not linear is reported as such, and a share within its error: y = 2 z0 + z1 + z2^2 - 1 at normal
 * places. */
static void shares_with_an_unexplained_rest(void **state) {
  (void)state;
  enum { FACTORS = 6, COUNT = 64, SEEDS = 200 };
  enum tailvolt_factor kinds[FACTORS] = {TAILVOLT_FACTOR_NIGHT};
  struct tailvolt_uncertainty list = {.factor_count = FACTORS, .factors = kinds};
  static double along[COUNT * FACTORS], answer[COUNT], points[COUNT * FACTORS];
  const double step[FACTORS] = {2, 1, 0, 0, 0, 0}, variance = 4 + 1 + 0.8;
  int within = 0;
  for (unsigned long seed = 1; seed <= SEEDS; seed++) {
    double share_pct[FACTORS], error_pct[FACTORS];
    tv_random_points(FACTORS, seed, COUNT, points);
    for (int k = 0; k < COUNT; k++) {
      double *z = along + k * FACTORS;
      for (int f = 0; f < FACTORS; f++) z[f] = sqrt(12) * (points[k * FACTORS + f] - 0.5);
      answer[k] = 2 * z[0] + z[1] + z[2] * z[2] - 1; /* of an even place: variance of its square 9/5 - 1 */
    }
    struct tv_shares from = {.list = &list, .along = along, .answer = answer, .count = COUNT, .step = step};
    double rest_pct;
    assert_int_equal(tv_shares_of(&from, share_pct, error_pct, NULL, &rest_pct), TAILVOLT_OK);
    assert_near(rest_pct, 100 * 0.8 / variance, 12);
    within += fabs(share_pct[0] - 100 * 4 / variance) <= 2 * error_pct[0];
  }
  if (within < SEEDS * 90 / 100) fail_msg("within two errors in %d of %d", within, SEEDS);
}

/* Other vehicles of the same kind name the same value first, and none whose share is not above twice its error. */
static void what_to_measure_first_stands_still(void **state) {
  (void)state;
  struct scene scene = scene_of(car, drive);
  char first[2 * TAILVOLT_NAME_MAX] = "";
  for (unsigned long seed = 1; seed <= 5; seed++) {
    struct tailvolt_certainty found = ask_seed(&scene, 48, 0, true, seed);
    assert_true(found.measure_first_count >= 1);
    if (seed == 1) memcpy(first, found.measure_first[0].key, sizeof first);
    assert_string_equal(found.measure_first[0].key, first);
    for (int k = 0; k < found.measure_first_count; k++)
      assert_true(found.measure_first[k].share_pct > 2 * found.measure_first[k].error_pct);
  }
  end(&scene);
}

/* Shares that their errors cannot tell apart go by the effect of one deviation; what is clearly greater comes first all the same, and what
 * is within twice its error not at all. */
static void shares_alike_go_by_their_steps(void **state) {
  (void)state;
  struct scene scene = scene_of(car, drive);
  struct tailvolt_uncertainty *list;
  struct tailvolt_certainty out = {0};
  assert_int_equal(tailvolt_uncertainty_of(scene.system, &list), TAILVOLT_OK);
  double share_pct[128] = {0}, error_pct[128] = {0}, step[128] = {0};
  int f[4] = {0}, found = 0;
  assert_true(list->factor_count <= 128);
  for (int k = 0; k < list->factor_count && found < 4; k++)
    if (tv_factor_value(list, k) >= 0) f[found++] = k;
  assert_int_equal(found, 4);
  const double shares[4] = {20, 22, 50, 9}, errors[4] = {2, 2, 3, 5}, steps[4] = {0.3, -0.2, 0.1, 0.4};
  for (int k = 0; k < 4; k++) {
    share_pct[f[k]] = shares[k];
    error_pct[f[k]] = errors[k];
    step[f[k]] = steps[k];
  }
  struct tv_shares from = {.list = list, .step = step};
  tv_name_first(&from, share_pct, error_pct, &out);
  assert_int_equal(out.measure_first_count, 3);
  assert_int_equal(out.measure_first[0].factor_index, f[2]);
  assert_int_equal(out.measure_first[1].factor_index, f[0]);
  assert_int_equal(out.measure_first[2].factor_index, f[1]);
  tailvolt_uncertainty_free(list);
  end(&scene);
}

/* The default's 64 vehicles give quantiles within 0.15 V of those of 1 024 (of 4 096: bench_certainty), the
 * share within its 90 % interval. */
static void quantiles_stand_still(void **state) {
  (void)state;
  LONG_CASE();
  struct scene scene = scene_of(car, drive);
  struct tailvolt_certainty few = ask(&scene, 64, 0, false), many = ask(&scene, 1024, 0, false);
  assert_int_equal(many.vehicles, 1024);
  assert_near(few.min_v.p10, many.min_v.p10, 0.15);
  assert_near(few.min_v.p50, many.min_v.p50, 0.15);
  assert_near(few.min_v.p90, many.min_v.p90, 0.15);
  assert_true(many.holds_pct > 5 && many.holds_pct < 95);
  assert_true(few.holds_low_pct <= many.holds_pct && many.holds_pct <= few.holds_high_pct);
  end(&scene);
}

/* The worst seconds in place of two minutes at idle: judged voltage within 0.2 V for each vehicle, within 0.08 V on average,
 * currents to spare within 1 A. */
static void stretches_stand_for_the_profile(void **state) {
  (void)state;
  enum { VEHICLES = 24 };
  struct tailvolt_system *system = scene_parse(
      "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 600 W\n[cable feed]\n"
      "size = 4 AWG\nlength = 5 m\n[programme music]\nbass note = 0 Hz\n");
  struct tailvolt_profile *profile = scene_profile(system, "time_s,engine_rpm,programme\n0,800,music\n120,800,music\n");
  struct tailvolt_options run = tailvolt_default_options();
  run.time_step_s = 2e-3;
  struct tailvolt_result *result = scene_run(system, profile, &run);
  struct tailvolt_uncertainty *list;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tailvolt_uncertainty_of(system, &list), TAILVOLT_OK);
  const struct tailvolt_profile *profiles[] = {profile};
  const struct tailvolt_result *results[] = {result};
  struct tv_vehicle_outcome outcome[2][VEHICLES];
  size_t factors = (size_t)list->factor_count, width = (size_t)list->count;
  double *points = calloc(VEHICLES * factors, sizeof *points), *values = calloc(VEHICLES * width, sizeof *values);
  assert_int_equal(tv_vehicle_points(list->factor_count, 1, 0, VEHICLES, points), TAILVOLT_OK);
  for (size_t k = 0; k < VEHICLES; k++) tv_vehicle_values(list, points + k * factors, values + k * width);
  for (int whole = 0; whole < 2; whole++) {
    struct tv_certainty_plan plan = {
        .system = system, .profiles = profiles, .profile_count = 1, .run = run, .list = list, .whole = whole == 1};
    assert_int_equal(tv_certainty_plan_make(&plan, results, error), TAILVOLT_OK);
    assert_int_equal(plan.whole, whole == 1);
    assert_int_equal(tv_certainty_run(&plan, values, VEHICLES, outcome[whole]), TAILVOLT_OK);
    tv_certainty_plan_free(&plan);
  }
  double sum = 0, square = 0;
  for (int k = 0; k < VEHICLES; k++) {
    double off_v = outcome[0][k].margin_v - outcome[1][k].margin_v;
    sum += off_v;
    square += off_v * off_v;
    assert_near(outcome[0][k].charge_a, outcome[1][k].charge_a, 1.0);
  }
  assert_near(sum / VEHICLES, 0, 0.08);
  assert_near(sqrt(square / VEHICLES), 0, 0.2);
  free(points);
  free(values);
  tailvolt_uncertainty_free(list);
  tailvolt_result_free(result);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

/* A first share, in a third of the time, is within 5 points: of cars of which most hold. */
static void a_first_share_is_near(void **state) {
  (void)state;
  static const struct tailvolt_setting thicker[] = {{"cable feed.size = 4 AWG"}, {"amplifier bass.rated power = 500 W"}};
  struct tailvolt_system *system = NULL;
  struct tailvolt_profile *profile = NULL;
  static struct tailvolt_faults faults;
  struct tailvolt_certainty quick, full;
  struct tailvolt_certainty_options options = tailvolt_default_certainty_options();
  assert_int_equal(tailvolt_system_parse(car, "car.ini", thicker, 2, &system, &faults), TAILVOLT_OK);
  assert_int_equal(tailvolt_profile_parse(drive, "drive.csv", system, &profile, &faults), TAILVOLT_OK);
  const struct tailvolt_profile *profiles[] = {profile};
  options.vehicles = 64;
  options.shares = false;
  assert_int_equal(tailvolt_certainty(system, profiles, 1, NULL, &options, &full, NULL), TAILVOLT_OK);
  options.quick = true;
  assert_int_equal(tailvolt_certainty(system, profiles, 1, NULL, &options, &quick, NULL), TAILVOLT_OK);
  print_message("[   NOTE   ] first share %.1f %%, then %.1f %%\n", quick.holds_pct, full.holds_pct);
  assert_int_equal(quick.vehicles, 64);
  assert_true(isnan(quick.min_v.p50) && quick.measure_first_count == 0);
  assert_near(quick.holds_pct, full.holds_pct, 5);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

static int stop_at_once(void *context, double done_frac) {
  int *calls = context;
  (void)done_frac;
  return ++*calls > 1;
}

static void it_can_be_stopped(void **state) {
  (void)state;
  struct scene scene = scene_of(car, drive);
  struct tailvolt_certainty_options options = tailvolt_default_certainty_options();
  const struct tailvolt_profile *profiles[] = {scene.profile};
  struct tailvolt_certainty out;
  int calls = 0;
  options.progress = stop_at_once;
  options.context = &calls;
  options.vehicles = 1024;
  options.threads = 1;
  assert_int_equal(tailvolt_certainty(scene.system, profiles, 1, NULL, &options, &out, NULL), TAILVOLT_STOPPED);
  assert_false(out.known);
  end(&scene);
}

static int never_goes_back(void *context, double done_frac) {
  double *before_frac = context;
  assert_true(done_frac >= *before_frac && done_frac <= 1.0);
  *before_frac = done_frac;
  return 0;
}

/* Whole profiles, stretches twice, then the same for cars moved along each value: one way through all of it. */
static void progress_never_goes_back(void **state) {
  (void)state;
  struct scene scene = scene_of(car, drive);
  struct tailvolt_certainty_options options = tailvolt_default_certainty_options();
  const struct tailvolt_profile *profiles[] = {scene.profile};
  struct tailvolt_certainty out;
  double done_frac = 0;
  options.progress = never_goes_back;
  options.context = &done_frac;
  options.vehicles = 24;
  options.threads = 1;
  assert_int_equal(tailvolt_certainty(scene.system, profiles, 1, NULL, &options, &out, NULL), TAILVOLT_OK);
  assert_true(done_frac > 0.9);
  end(&scene);
}

static void the_same_beside_other_work(void **state) {
  (void)state;
  struct scene scene = scene_of(car, drive);
  struct tailvolt_certainty_options options = tailvolt_default_certainty_options();
  const struct tailvolt_profile *profiles[] = {scene.profile};
  struct tailvolt_certainty apart, out;
  struct tailvolt_certainty_beside *beside;
  char error[TAILVOLT_TEXT_MAX];
  options.vehicles = 24;
  options.quick = true;
  for (int threads = 1; threads <= 2; threads++) {
    options.threads = threads;
    memset(&apart, 0, sizeof apart);
    memset(&out, 0, sizeof out);
    assert_int_equal(tailvolt_certainty(scene.system, profiles, 1, NULL, &options, &apart, NULL), TAILVOLT_OK);
    assert_int_equal(tailvolt_certainty_begin(scene.system, profiles, 1, NULL, &options, &beside), TAILVOLT_OK);
    assert_int_equal(tailvolt_certainty_end(beside, &out, error), TAILVOLT_OK);
    assert_string_equal(error, "");
    assert_true(out.known);
    assert_memory_equal(&apart, &out, sizeof out);
  }
  /* the last options serve the other outcomes: an end by the user, options of another version */
  int calls = 0;
  options.progress = stop_at_once;
  options.context = &calls;
  assert_int_equal(tailvolt_certainty_begin(scene.system, profiles, 1, NULL, &options, &beside), TAILVOLT_OK);
  assert_int_equal(tailvolt_certainty_end(beside, &out, NULL), TAILVOLT_STOPPED);
  assert_false(out.known);
  options.size--;
  assert_int_equal(tailvolt_certainty_begin(scene.system, profiles, 1, NULL, &options, &beside), TAILVOLT_OK);
  assert_int_equal(tailvolt_certainty_end(beside, &out, NULL), TAILVOLT_INTERNAL);
  end(&scene);
}

/* Every 2^m consecutive vehicles have one in each 2^m-th of every factor; another seed gives others. */
static void points_fill_every_factor(void **state) {
  (void)state;
  enum { FACTORS = 45, COUNT = 64 };
  static double points[COUNT * FACTORS], other[COUNT * FACTORS];
  assert_int_equal(tv_vehicle_points(FACTORS, 7, 64, COUNT, points), TAILVOLT_OK);
  assert_int_equal(tv_vehicle_points(FACTORS, 8, 64, COUNT, other), TAILVOLT_OK);
  for (int f = 0; f < 40; f++) {
    bool seen[COUNT] = {false};
    for (int k = 0; k < COUNT; k++) seen[(int)(points[k * FACTORS + f] * COUNT)] = true;
    for (int k = 0; k < COUNT; k++) assert_true(seen[k]);
  }
  for (int k = 0; k < COUNT * FACTORS; k++) assert_true(points[k] > 0 && points[k] < 1);
  assert_memory_not_equal(points, other, sizeof points);
}

/* Of designs for which 85 to 95 of 100 are called, as many of cars made by chance hold as are called, within three standard errors of
 * so few; of cars from ranges moved down fewer do. bench_certainty fleets does it with 1 000 cars. */
static void as_many_hold_as_are_called(void **state) {
  (void)state;
  LONG_CASE();
  enum { CARS = 64, DESIGNS = 4 };
  static const int designs[DESIGNS] = {301, 427, 526, 655};
  double called = 0;
  int holds = 0, worse = 0;
  for (int k = 0; k < DESIGNS; k++) {
    struct fleet fleet = fleet_of(designs[k]);
    double pct = fleet_called_pct(&fleet, (unsigned long)designs[k]);
    assert_true(pct >= 85 && pct <= 95);
    called += pct / DESIGNS;
    holds += fleet_holds(&fleet, (unsigned long)(1000 + designs[k]), CARS, 0);
    worse += fleet_holds(&fleet, (unsigned long)(1000 + designs[k]), CARS, -0.2);
    fleet_free(&fleet);
  }
  double share = called / 100, error_pct = 100 * sqrt(share * (1 - share) * (1.0 / (CARS * DESIGNS) + 1.0 / (64 * DESIGNS)));
  assert_near(100.0 * holds / (CARS * DESIGNS), called, 3 * error_pct);
  assert_true(worse < holds);
}

/* Places along a factor are standardized: mean 0, variance 1 over all cars. */
static void places_are_standardized(void **state) {
  (void)state;
  enum { VEHICLES = 1024 };
  struct scene scene = scene_of(car, drive);
  struct tailvolt_uncertainty *list;
  assert_int_equal(tailvolt_uncertainty_of(scene.system, &list), TAILVOLT_OK);
  size_t factors = (size_t)list->factor_count, width = (size_t)list->count;
  double *points = calloc(VEHICLES * factors, sizeof *points), *values = calloc(VEHICLES * width, sizeof *values);
  double *along = calloc(VEHICLES * factors, sizeof *along);
  assert_int_equal(tv_vehicle_points(list->factor_count, 1, 0, VEHICLES, points), TAILVOLT_OK);
  for (size_t k = 0; k < VEHICLES; k++) tv_vehicle_values(list, points + k * factors, values + k * width);
  assert_int_equal(tv_vehicles_along(list, values, VEHICLES, along), TAILVOLT_OK);
  for (size_t f = 0; f < factors; f++) {
    double sum = 0, square = 0;
    for (size_t k = 0; k < VEHICLES; k++) {
      sum += along[k * factors + f];
      square += along[k * factors + f] * along[k * factors + f];
    }
    assert_near(sum / VEHICLES, 0, 0.12); /* beyond forty factors places are independent: 1/32 */
    assert_near(square / VEHICLES, 1, 0.25);
  }
  free(points);
  free(values);
  free(along);
  tailvolt_uncertainty_free(list);
  end(&scene);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(places_are_standardized),
      cmocka_unit_test(as_many_hold_as_are_called),
      cmocka_unit_test(points_fill_every_factor),          cmocka_unit_test(same_bits_for_any_number_of_threads),
      cmocka_unit_test(shares_of_a_straight_line),         cmocka_unit_test(shares_with_an_unexplained_rest),
      cmocka_unit_test(what_to_measure_first_stands_still),
      cmocka_unit_test(shares_alike_go_by_their_steps),
      cmocka_unit_test(quantiles_stand_still),             cmocka_unit_test(stretches_stand_for_the_profile),
      cmocka_unit_test(a_first_share_is_near),             cmocka_unit_test(it_can_be_stopped),
      cmocka_unit_test(progress_never_goes_back),          cmocka_unit_test(the_same_beside_other_work)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
