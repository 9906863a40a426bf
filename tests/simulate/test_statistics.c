/* Shares of time: the 1 % quantile, time below target, what counts as playing; a multimeter's lowest reading. Closed form: a source
 * of 14 V behind 10 mohm and a current prescribed row by row. */
#include "support/assert_near.h"

#include "simulate/statistics.h"
#include "support/scenes.h"

/* 0.5 s at 13.0 V, 0.7 s at 13.5 V, the rest of 100 s at 13.9 V, then 100 s of silence at 14.0 V. */
static void shares_of_the_playing_time(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_stiff(14, 0.010, "target voltage = 13.2 V\n");
  struct tailvolt_profile *profile =
      scene_profile(system, "time_s,supply_a:bass\n0,10\n20,100\n20.5,10\n40,50\n40.7,10\n100,0\n200,0\n");
  struct tailvolt_options options = scene_isothermal();
  struct tailvolt_result *r = scene_run(system, profile, &options);
  const struct tailvolt_amplifier_result *a = &r->amplifiers[0];
  assert_near(a->play_s, 100, 1e-6);
  assert_near(a->min_v, 13.0, 1e-3);
  assert_true(a->min_time_s >= 20 && a->min_time_s < 20.5);
  /* the lowest second: half of it at 13.0 V, so 1 % of the time is below 13.5 V */
  assert_near(a->low_1pct_v, 13.5, 2e-3);
  assert_near(a->below_target_pct, 0.5, 1e-6);
  assert_near(a->mean_v, (0.5 * 13.0 + 0.7 * 13.5 + 98.8 * 13.9 + 100 * 14.0) / 200, 1e-3);
  tailvolt_result_free(r);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

static void quantile_of_bins(void **state) {
  (void)state;
  static double one[TV_BIN_COUNT], two[TV_BIN_COUNT], none[TV_BIN_COUNT];
  double *both[] = {one, two}, *empty[] = {none};
  one[11000] = 1;
  two[12000] = 3;
  assert_near(tv_statistics_quantile_v(both, 2, 0.125), 11.0005, 1e-9);
  assert_near(tv_statistics_quantile_v(both, 2, 0.25), 11.001, 1e-9);
  assert_near(tv_statistics_quantile_v(both, 2, 0.26), 12.0, 1e-4);
  assert_true(isnan(tv_statistics_quantile_v(empty, 1, 0.01)));
}

/* The lowest mean of ten hundredths one after another, however little of it is summed up. */
static void lowest_reading_of_a_meter(void **state) {
  (void)state;
  enum { PARTS = 4000 };
  static double part_v[PARTS];
  struct tv_meter_window window = {.min_v = HUGE_VAL};
  double lowest_v = HUGE_VAL;
  unsigned seed = 7;
  for (int k = 0; k < PARTS; k++) {
    seed = seed * 1103515245u + 12345u;
    /* a deep one now and then; which of its neighbours come with it decides */
    part_v[k] = 13 - 0.5 * ((seed >> 16) & 0x7fff) / 32768.0 - (k % 37 == 0 ? 2 : 0);
    double length_s = k % 3 == 0 ? 0.0105 : 0.01;
    tv_meter_take(&window, part_v[k] * length_s, length_s);
    double sum_v = 0;
    for (int n = 0; n < TV_METER_PARTS && k >= TV_METER_PARTS - 1; n++) sum_v += part_v[k - n];
    if (k >= TV_METER_PARTS - 1) lowest_v = fmin(lowest_v, sum_v / TV_METER_PARTS);
    assert_near(window.min_v < HUGE_VAL ? window.min_v : 0, lowest_v < HUGE_VAL ? lowest_v : 0, 1e-12);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(shares_of_the_playing_time),
      cmocka_unit_test(quantile_of_bins),
      cmocka_unit_test(lowest_reading_of_a_meter),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
