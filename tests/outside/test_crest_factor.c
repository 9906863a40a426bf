/* Crest factor and average power: published relations against generated programmes.
 *
 * Source of the power law: a sine at clip gives the rated power and has a crest factor of sqrt 2, so with the peak at
 * clip P_avg / P_rated = 2 / CF^2. One eighth of rated (12.04 dB) is the precondition of 16 CFR 432.3(c) (2006 text),
 * one third (7.78 dB) that of the same rule before 65 FR 81232. */
#include <string.h>

#include "input/programme_read.h"
#include "parts/programme_beats.h"
#include "support/assert_near.h"

static double mean_over_blocks(double crest_db, double tempo_per_min, double decay_s) {
  struct tailvolt_programme spec;
  struct tv_programme *programme = NULL;
  struct tv_programme_cursor cursor;
  char error[TAILVOLT_TEXT_MAX];
  memset(&spec, 0, sizeof spec);
  memset(&cursor, 0, sizeof cursor);
  spec.crest_db = crest_db;
  spec.tempo_per_min = tempo_per_min;
  spec.decay_s = decay_s;
  spec.seed = 7;
  assert_int_equal(tv_programme_create(&spec, "system.ini", NULL, &programme, error), TAILVOLT_OK);
  /* five blocks of 16 beats in steps of about a millisecond, as in the time loop */
  double span_s = 80.0 * 60.0 / tempo_per_min, sum = 0.0;
  int n = (int)(span_s * 1000.0);
  for (int k = 0; k < n; k++) sum += tv_programme_mean(programme, &cursor, span_s * k / n, span_s * (k + 1) / n);
  tv_programme_free(programme);
  return sum / n;
}

static void mean_power_follows_the_crest_factor(void **state) {
  (void)state;
  const double crest_db[] = {6.0, 9.0, 12.0, 3.0103, 15.0, 18.0};
  const double table[] = {0.50238, 0.25179, 0.12619, 1.00000, 0.06325, 0.03170};
  const double tempo_per_min[] = {60.0, 90.0, 120.0, 140.0, 174.0};
  for (int c = 0; c < 6; c++)
    for (int t = 0; t < 5; t++) {
      double mean = mean_over_blocks(crest_db[c], tempo_per_min[t], 0.12);
      assert_near(mean, table[c], 0.6e-5);
      assert_near_rel(mean, 2.0 * pow(10.0, -crest_db[c] / 10.0), 1e-10);
    }
}

static void test_rules_of_one_eighth_and_one_third(void **state) {
  (void)state;
  assert_near(mean_over_blocks(20.0 * log10(4.0), 120.0, 0.12), 1.0 / 8.0, 1e-10);
  assert_near(mean_over_blocks(20.0 * log10(sqrt(6.0)), 120.0, 0.12), 1.0 / 3.0, 1e-10);
}

/* Worked by hand from d = (tau/T)(1 - exp(-T/tau)), s = (m - d)/(1 - d). */
static void worked_numbers_of_the_beat(void **state) {
  (void)state;
  static struct tv_beats beats;
  char error[TAILVOLT_TEXT_MAX];
  assert_near(tv_beat_mean(0.5, 0.0, 0.12), 0.236279, 0.5e-6);
  assert_near(tv_beat_mean(0.5, 0.0, 0.06), 0.119971, 0.5e-6);
  struct tv_beats_spec spec = {
      .mean_frac = 2.0 * pow(10.0, -0.9), .tempo_per_min = 120.0, .decay_s = 0.12, .seed = 1};
  assert_int_equal(tv_beats_init(&beats, &spec, error), TAILVOLT_OK);
  assert_near(beats.floor_frac, 0.020303, 0.5e-6);
  spec.decay_s = 0.06;
  assert_int_equal(tv_beats_init(&beats, &spec, error), TAILVOLT_OK);
  assert_near(beats.floor_frac, 0.149784, 0.5e-6);
  spec.decay_s = 0.12;
  spec.mean_frac = 2.0 * pow(10.0, -1.2);
  assert_int_equal(tv_beats_init(&beats, &spec, error), TAILVOLT_OK);
  double sum = 0.0;
  for (int j = 0; j < beats.block; j++) sum += beats.gain[j];
  assert_int_equal(beats.block, 16);
  assert_near(sum / 16.0, 0.5341, 0.5e-4);
}

/* Decay over beat length at which beats of full height alone give the crest factor: 6 dB 0.6325, 9 dB 0.2570,
 * 12 dB 0.1262 (hand calculation). */
static void decay_that_needs_no_floor(void **state) {
  (void)state;
  assert_near(tv_beat_mean(1.0, 0.0, 0.6325), 2.0 * pow(10.0, -0.6), 1e-4);
  assert_near(tv_beat_mean(1.0, 0.0, 0.2570), 2.0 * pow(10.0, -0.9), 1e-4);
  assert_near(tv_beat_mean(1.0, 0.0, 0.1262), 2.0 * pow(10.0, -1.2), 1e-4);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(mean_power_follows_the_crest_factor),
      cmocka_unit_test(test_rules_of_one_eighth_and_one_third),
      cmocka_unit_test(worked_numbers_of_the_beat),
      cmocka_unit_test(decay_that_needs_no_floor),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
