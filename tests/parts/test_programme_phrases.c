/* The slow level of generated music: exact mean, the requested swings, one set of levels in a different order for
 * each seed, and the measured spectrum. */
#include <stdlib.h>
#include <string.h>

#include "parts/programme.h"
#include "support/assert_near.h"

static const struct tv_phrases_spec usual = {
    .mean_frac = 0.2, .beat_s = 0.5, .swing_1s_frac = 0.8, .swing_10s_frac = 0.52, .seed = 1};

static double *levels(const struct tv_phrases_spec *spec) {
  double *level = malloc((size_t)tv_phrases_beats(spec->beat_s) * sizeof *level);
  assert_non_null(level);
  assert_int_equal(tv_phrases_make(spec, level), TAILVOLT_OK);
  return level;
}

static double mean_of(const double *level, int n) {
  double sum = 0.0;
  for (int k = 0; k < n; k++) sum += level[k];
  return sum / n;
}

/* Standard deviation of the mean over `window` beats, cyclic, over the mean. */
static double swing_of(const double *level, int n, int window) {
  double mean = mean_of(level, n), square = 0.0;
  for (int k = 0; k < n; k++) {
    double sum = 0.0;
    for (int j = 0; j < window; j++) sum += level[(k + j) % n];
    square += (sum / window - mean) * (sum / window - mean);
  }
  return sqrt(square / n) / mean;
}

static void a_cycle_is_whole_blocks_of_at_most_two_minutes(void **state) {
  (void)state;
  assert_int_equal(tv_phrases_beats(0.5), 240);
  assert_int_equal(tv_phrases_beats(60.0 / 124.0), 240);
  assert_int_equal(tv_phrases_beats(60.0 / 174.0), 336);
  assert_int_equal(tv_phrases_beats(2.0), 48);
  assert_int_equal(tv_phrases_beats(60.0), 16);
  assert_int_equal(tv_phrases_beats(0.05), TV_CYCLE_BEATS_MAX);
}

static void mean_is_exact_and_nothing_is_above_clip(void **state) {
  (void)state;
  const double mean_frac[] = {0.002, 0.02, 0.126, 0.2, 0.5, 0.9}, beat_s[] = {0.05, 0.3448, 0.5, 2.0};
  for (int m = 0; m < 6; m++)
    for (int b = 0; b < 4; b++)
      for (int s = 0; s < 3; s++) {
        struct tv_phrases_spec spec = usual;
        spec.mean_frac = mean_frac[m];
        spec.beat_s = beat_s[b];
        spec.swing_1s_frac = 0.3 + 0.7 * s;
        spec.swing_10s_frac = 0.6 * spec.swing_1s_frac;
        int n = tv_phrases_beats(spec.beat_s);
        double *level = levels(&spec);
        assert_near_rel(mean_of(level, n), spec.mean_frac, 1e-12);
        for (int k = 0; k < n; k++) assert_true(level[k] >= 0.0 && level[k] <= 1.0);
        free(level);
      }
}

/* Within 1 and 3 % where levels between 0 and 1 leave room for it. */
static void swings_are_those_asked_for(void **state) {
  (void)state;
  for (unsigned long long seed = 1; seed <= 20; seed++)
    for (int s = 0; s < 4; s++) {
      struct tv_phrases_spec spec = usual;
      spec.seed = seed;
      spec.mean_frac = 0.1;
      spec.swing_1s_frac = 0.3 + 0.2 * s;
      spec.swing_10s_frac = (s % 2 == 0 ? 0.45 : 0.75) * spec.swing_1s_frac;
      double *level = levels(&spec);
      assert_near_rel(swing_of(level, 240, 2), spec.swing_1s_frac, 0.01);
      assert_near_rel(swing_of(level, 240, 20), spec.swing_10s_frac, 0.03);
      free(level);
    }
}

static int ascending(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* The seed changes the order; the levels differ only as far as the fit needs. */
static void a_seed_gives_another_order_of_like_levels(void **state) {
  (void)state;
  struct tv_phrases_spec spec = usual;
  double *one = levels(&spec), *same = levels(&spec);
  spec.seed = 2;
  double *two = levels(&spec);
  int differing = 0;
  assert_memory_equal(one, same, 240 * sizeof *one);
  for (int k = 0; k < 240; k++)
    if (fabs(one[k] - two[k]) > 0.02) differing++;
  assert_true(differing > 120);
  qsort(one, 240, sizeof *one, ascending);
  qsort(two, 240, sizeof *two, ascending);
  for (int k = 24; k < 228; k++) assert_near(one[k] / two[k], 1.0, 0.25);
  free(one);
  free(same);
  free(two);
}

/* Quantiles of single seconds, share of the mean, against those of the median track of 80 (mono, below 80 Hz; measured
 * for this test): 10 % 0.12, 25 % 0.30, 50 % 0.85, 75 % 1.45, 90 % 2.1, most 4. */
static void seconds_are_spread_as_measured(void **state) {
  (void)state;
  static const double at[] = {0.10, 0.25, 0.50, 0.75, 0.90}, measured[] = {0.12, 0.30, 0.85, 1.45, 2.1};
  static double second[20 * 240];
  int count = 0;
  double most = 0.0;
  for (unsigned long long seed = 1; seed <= 20; seed++) {
    struct tv_phrases_spec spec = usual;
    spec.seed = seed;
    double *level = levels(&spec);
    for (int k = 0; k < 240; k++) second[count++] = 0.5 * (level[k] + level[(k + 1) % 240]) / spec.mean_frac;
    free(level);
  }
  qsort(second, (size_t)count, sizeof *second, ascending);
  most = second[count - 1];
  for (int q = 0; q < 5; q++) assert_near(second[(int)(at[q] * count)], measured[q], 0.16);
  assert_true(most > 3.0 && most <= 5.0);
}

/* The beats carry the levels: each has its mean power, accents included; the louder ones peak at clip over a raised floor,
 * the others stay below the highest accent. */
static void beats_have_the_levels(void **state) {
  (void)state;
  struct tv_beats_spec spec = {.mean_frac = 0.2, .tempo_per_min = 120.0, .decay_s = 0.12, .seed = 1, .phrases_frac = 0.8,
                               .sections_frac = 0.52};
  struct tv_programme *programme = NULL;
  struct tv_programme_cursor cursor;
  char error[TAILVOLT_TEXT_MAX];
  double *level = levels(&usual), d = tv_beat_mean(0.5, 0.0, 0.12);
  int raised = 0, accents = 0;
  assert_int_equal(tv_programme_from_beats(&spec, 45.0, &programme, error), TAILVOLT_OK);
  assert_near(tv_programme_cycle_s(programme), 120.0, 1e-9);
  memset(&cursor, 0, sizeof cursor);
  for (int k = -240; k < 480; k++) {
    double mean = level[(k + 240) % 240], start_s = 0.5 * k;
    assert_near(tv_programme_mean(programme, &cursor, start_s, start_s + 0.5), mean, 1e-12);
    double peak = tv_programme_mean(programme, &cursor, start_s, start_s + 1e-9);
    if (mean > d) {
      assert_near(peak, 1.0, 1e-6);
      raised++;
    } else {
      assert_true(peak >= mean / d - 1e-6 && peak <= fmax(mean / d, 0.8));
      if (peak > 1.2 * mean / d) accents++;
    }
  }
  assert_true(raised > 180);
  assert_true(accents > 90);
  assert_near_rel(tv_programme_mean(programme, &cursor, 7.5, 127.5), 0.2, 1e-12);
  tv_programme_free(programme);
  free(level);
}

/* Millisecond steps through attacks, holds and decays against one look at the whole. */
static void steps_add_up_through_accents(void **state) {
  (void)state;
  const double hold_s[] = {0.0, 0.04};
  for (int h = 0; h < 2; h++) {
    struct tv_beats_spec spec = {.mean_frac = 0.06, .tempo_per_min = 97.0, .decay_s = 0.15, .hold_s = hold_s[h], .seed = 5,
                                 .phrases_frac = 0.6, .sections_frac = 0.4};
    struct tv_programme *programme = NULL;
    struct tv_programme_cursor cursor;
    char error[TAILVOLT_TEXT_MAX];
    double sum = 0.0;
    assert_int_equal(tv_programme_from_beats(&spec, 45.0, &programme, error), TAILVOLT_OK);
    memset(&cursor, 0, sizeof cursor);
    for (int k = 0; k < 60000; k++) sum += tv_programme_mean(programme, &cursor, k * 1e-3, (k + 1) * 1e-3);
    memset(&cursor, 0, sizeof cursor);
    assert_near_rel(sum / 60000.0, tv_programme_mean(programme, &cursor, 0.0, 60.0), 1e-11);
    tv_programme_free(programme);
  }
}

static void what_cannot_be_is_refused(void **state) {
  (void)state;
  struct tv_beats_spec spec = {.mean_frac = 0.2, .tempo_per_min = 30.0, .decay_s = 0.4, .phrases_frac = -0.1};
  struct tv_programme *none = NULL;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tv_programme_from_beats(&spec, 45.0, &none, error), TAILVOLT_BAD_INPUT);
  assert_string_equal(error, "phrases -0.1: must be 0 or more");
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(a_cycle_is_whole_blocks_of_at_most_two_minutes),
      cmocka_unit_test(mean_is_exact_and_nothing_is_above_clip),
      cmocka_unit_test(swings_are_those_asked_for),
      cmocka_unit_test(a_seed_gives_another_order_of_like_levels),
      cmocka_unit_test(seconds_are_spread_as_measured),
      cmocka_unit_test(beats_have_the_levels),
      cmocka_unit_test(steps_add_up_through_accents),
      cmocka_unit_test(what_cannot_be_is_refused),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
