/* The programme: closed form against quadrature, the running cursor against random access, reproducibility. */
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "parts/programme.h"
#include "support/assert_near.h"

/* Mean 2 / CF^2 of the rated power. */
static struct tv_beats_spec spec_of(double crest_db, double tempo_per_min, double decay_s) {
  return (struct tv_beats_spec){
      .mean_frac = 2.0 * pow(10.0, -crest_db / 10.0), .tempo_per_min = tempo_per_min, .decay_s = decay_s, .seed = 1};
}

static struct tv_programme *make(struct tv_beats_spec spec) {
  struct tv_programme *programme = NULL;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tv_programme_from_beats(&spec, 45.0, &programme, error), TAILVOLT_OK);
  return programme;
}

/* Shares of windows of one length, 0.5 s, the last of 0.25 s. */
static struct tv_table table_of(const double *share_frac, long count) {
  struct tv_table table = {.count = count, .window_s = 0.5, .length_s = 0.5 * (double)count - 0.25};
  table.share_frac = malloc((size_t)count * sizeof *share_frac);
  assert_non_null(table.share_frac);
  memcpy(table.share_frac, share_frac, (size_t)count * sizeof *share_frac);
  assert_int_equal(tv_table_finish(&table), TAILVOLT_OK);
  return table;
}

static double fresh_mean(const struct tv_programme *programme, double t0_s, double t1_s) {
  struct tv_programme_cursor cursor;
  memset(&cursor, 0, sizeof cursor);
  return tv_programme_mean(programme, &cursor, t0_s, t1_s);
}

/* Gains are read as the envelope at the first instant of each beat: below 9.276 dB there is no floor to
 * subtract. */
static double peak_of_beat(const struct tv_programme *programme, double beat_s, int beat) {
  double t_s = beat * beat_s;
  return fresh_mean(programme, t_s, t_s + 1e-9);
}

static void closed_form_agrees_with_quadrature(void **state) {
  (void)state;
  const double crest_db[] = {6.0, 9.0, 12.0};
  for (int c = 0; c < 3; c++) {
    struct tv_programme *programme = make(spec_of(crest_db[c], 120.0, 0.12));
    /* midpoint rule inside one beat: p known from its value at the start and the decay law */
    double floor_frac = fresh_mean(programme, 0.5 - 1e-7, 0.5 - 1e-8);
    double t0_s = 0.0123, t1_s = 0.4321;
    double sum = 0.0;
    int n = 20000;
    struct tv_segment segment;
    double rise = peak_of_beat(programme, 0.5, 0);
    double tail = exp(-0.5 / 0.12);
    /* p(0) = s + a, p(T) = s + a tail */
    segment.amplitude_frac = (rise - floor_frac) / (1.0 - tail);
    segment.floor_frac = rise - segment.amplitude_frac;
    for (int i = 0; i < n; i++) {
      double t_s = t0_s + (i + 0.5) * (t1_s - t0_s) / n;
      sum += segment.floor_frac + segment.amplitude_frac * exp(-t_s / 0.12);
    }
    assert_near_rel(fresh_mean(programme, t0_s, t1_s), sum / n, 2e-7);
    tv_programme_free(programme);
  }
}

static void running_cursor_equals_random_access(void **state) {
  (void)state;
  const double crest_db[] = {1.0, 6.0, 9.0, 12.0, 20.0};
  const double step_s[] = {1e-3, 5e-4, 1e-4, 0.003, 0.7};
  const double tempo_per_min[] = {120.0, 97.3, 174.0};
  for (int c = 0; c < 5; c++)
    for (int h = 0; h < 5; h++)
      for (int tempo = 0; tempo < 3; tempo++) {
        struct tv_programme *programme = make(spec_of(crest_db[c], tempo_per_min[tempo], 0.12));
        struct tv_programme_cursor cursor;
        memset(&cursor, 0, sizeof cursor);
        for (int k = 0; k < 9000; k++) {
          double t0_s = 3600.0 + k * step_s[h], t1_s = 3600.0 + (k + 1) * step_s[h];
          double seen = tv_programme_mean(programme, &cursor, t0_s, t1_s);
          if (k % 7 == 0) assert_near(seen, fresh_mean(programme, t0_s, t1_s), 1e-12);
        }
        tv_programme_free(programme);
      }
}

static void changing_steps_and_jumps_stay_exact(void **state) {
  (void)state;
  struct tv_programme *programme = make(spec_of(12.0, 97.3, 0.12));
  struct tv_programme *other = make(spec_of(8.0, 120.0, 0.05));
  struct tv_programme_cursor cursor;
  memset(&cursor, 0, sizeof cursor);
  unsigned random = 12345;
  double t_s = -3.0;
  for (int k = 0; k < 100000; k++) {
    random = random * 1103515245u + 12345u;
    unsigned choice = (random >> 16) % 16u;
    double step_s = 1e-3;
    if (choice == 0) step_s = 1e-3 * (double)((random >> 8) % 100u + 1u) / 37.0;
    if (choice == 1) t_s = (double)((random >> 4) % 100000u) * 1e-3 - 20.0;
    const struct tv_programme *played = choice == 2 ? other : programme;
    double seen = tv_programme_mean(played, &cursor, t_s, t_s + step_s);
    assert_near(seen, fresh_mean(played, t_s, t_s + step_s), 1e-12);
    t_s += step_s;
  }
  tv_programme_free(programme);
  tv_programme_free(other);
}

static void long_intervals_equal_the_sum_of_short_ones(void **state) {
  (void)state;
  struct tv_programme *programme = make(spec_of(13.0, 126.0, 0.08));
  double t0_s = -11.3, t1_s = 47.9, sum = 0.0;
  int n = 10007;
  for (int k = 0; k < n; k++) {
    double a_s = t0_s + (t1_s - t0_s) * k / n, b_s = t0_s + (t1_s - t0_s) * (k + 1) / n;
    sum += fresh_mean(programme, a_s, b_s) * (b_s - a_s);
  }
  assert_near_rel(fresh_mean(programme, t0_s, t1_s), sum / (t1_s - t0_s), 1e-12);
  tv_programme_free(programme);
}

static void each_block_has_one_full_beat_and_the_exact_mean(void **state) {
  (void)state;
  const double crest_db[] = {9.5, 12.0, 15.0, 20.0};
  for (int c = 0; c < 4; c++) {
    struct tv_programme *programme = make(spec_of(crest_db[c], 120.0, 0.12));
    double mean = 2.0 * pow(10.0, -crest_db[c] / 10.0);
    for (int block = -3; block < 20; block++) {
      int full = 0;
      for (int j = 0; j < 16; j++) {
        double peak = peak_of_beat(programme, 0.5, 16 * block + j);
        if (peak > 1.0 - 1e-6) full++;
        assert_true(peak <= 1.0);
      }
      assert_int_equal(full, 1);
      assert_near_rel(fresh_mean(programme, 8.0 * block, 8.0 * block + 8.0), mean, 1e-12);
    }
    tv_programme_free(programme);
  }
}

/* Over many blocks the full beat appears in every place about equally often: 1600 blocks, 100 expected per
 * place. */
static void the_order_is_shuffled_evenly(void **state) {
  (void)state;
  struct tv_programme *programme = make(spec_of(12.0, 120.0, 0.12));
  int count[16] = {0};
  for (int beat = 0; beat < 1600 * 16; beat++)
    if (peak_of_beat(programme, 0.5, beat) > 1.0 - 1e-6) count[beat % 16]++;
  double chi2 = 0.0;
  for (int j = 0; j < 16; j++) chi2 += (count[j] - 100.0) * (count[j] - 100.0) / 100.0;
  assert_true(chi2 > 3.5); /* 15 degrees of freedom: 0.1 % and 99.9 % points 3.48 and 37.7 */
  assert_true(chi2 < 37.7);
  tv_programme_free(programme);
}

static void seed_decides_the_order_and_nothing_else(void **state) {
  (void)state;
  struct tv_beats_spec spec = spec_of(12.0, 120.0, 0.12);
  struct tv_programme *one = make(spec), *same = make(spec);
  spec.seed = 2;
  struct tv_programme *two = make(spec);
  int differing = 0;
  for (int beat = 0; beat < 64; beat++) {
    double a = peak_of_beat(one, 0.5, beat), b = peak_of_beat(same, 0.5, beat);
    assert_memory_equal(&a, &b, sizeof a);
    if (fabs(a - peak_of_beat(two, 0.5, beat)) > 1e-9) differing++;
  }
  assert_true(differing > 32);
  assert_near_rel(fresh_mean(two, 0.0, 32.0), fresh_mean(one, 0.0, 32.0), 1e-12);
  tv_programme_free(one);
  tv_programme_free(same);
  tv_programme_free(two);
}

static void very_high_crest_factor_takes_longer_blocks(void **state) {
  (void)state;
  struct tv_programme *programme = make(spec_of(30.0, 120.0, 0.12));
  /* mean gain 0.002 / 0.236279 = 0.0085: one full beat in 128 at most */
  assert_near_rel(fresh_mean(programme, 0.0, 64.0), 0.002, 1e-12);
  assert_near_rel(fresh_mean(programme, 64.0, 128.0), 0.002, 1e-12);
  tv_programme_free(programme);
}

static void steady_and_clipped_tones(void **state) {
  (void)state;
  struct tv_programme *sine = make(spec_of(10.0 * log10(2.0), 120.0, 0.12));
  struct tv_programme *clipped = make(spec_of(1.0, 120.0, 0.12));
  struct tv_programme *square = make(spec_of(0.0, 120.0, 0.12));
  assert_near(fresh_mean(sine, 0.1, 0.2), 1.0, 1e-12);
  assert_near(fresh_mean(clipped, 0.1, 0.2), 2.0 * pow(10.0, -0.1), 1e-12);
  assert_near(fresh_mean(square, 0.1, 77.2), 2.0, 1e-12);
  tv_programme_free(sine);
  tv_programme_free(clipped);
  tv_programme_free(square);
}

static void odd_descriptions(void **state) {
  (void)state;
  /* no decay time: only a floor is left; decay far longer than the beat: nearly flat beats, scaled */
  struct tv_programme *flat = make(spec_of(9.0, 120.0, 0.0));
  struct tv_programme *slow = make(spec_of(9.0, 120.0, 1e6));
  assert_near_rel(fresh_mean(flat, 0.1, 0.3), 2.0 * pow(10.0, -0.9), 1e-12);
  assert_near_rel(fresh_mean(slow, 0.0, 8.0), 2.0 * pow(10.0, -0.9), 1e-12);
  tv_programme_free(flat);
  tv_programme_free(slow);
}

static void values_out_of_range_are_refused(void **state) {
  (void)state;
  const struct {
    struct tv_beats_spec spec;
    double bass_hz;
    const char *error;
  } wrong[] = {
      {spec_of(9.0, 0.0, 0.12), 45.0, "tempo 0: must be 1 to 1200 /min"},
      {spec_of(9.0, (double)NAN, 0.12), 45.0, "tempo nan: must be 1 to 1200 /min"},
      {spec_of(9.0, 120.0, -0.1), 45.0, "decay -0.1: must be 0 s or more"},
      {spec_of(9.0, 120.0, 0.12), (double)NAN, "bass note nan: must be 0 Hz or more"},
      {spec_of(1.0, 120.0, 0.12), -1.0, "bass note -1: must be 0 Hz or more"},
  };
  for (size_t k = 0; k < sizeof wrong / sizeof wrong[0]; k++) {
    struct tv_programme *none = (struct tv_programme *)&none;
    char error[TAILVOLT_TEXT_MAX];
    assert_int_equal(tv_programme_from_beats(&wrong[k].spec, wrong[k].bass_hz, &none, error), TAILVOLT_BAD_INPUT);
    assert_null(none);
    assert_string_equal(error, wrong[k].error);
  }
}

static void a_table_is_taken_over_and_played_round_and_round(void **state) {
  (void)state;
  struct tv_table table = table_of((double[]){1.0, 0.0, 0.4}, 3); /* 1.25 s; mean (0.5 + 0.1) / 1.25 */
  struct tv_programme *programme = NULL;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tv_programme_from_table(&table, -1.0, &programme, error), TAILVOLT_BAD_INPUT);
  assert_null(programme);
  assert_non_null(table.share_frac); /* still the caller's */
  assert_int_equal(tv_programme_from_table(&table, 45.0, &programme, error), TAILVOLT_OK);
  assert_null(table.share_frac);
  assert_near(tv_programme_bass_hz(programme), 45.0, 0.0);
  assert_near(fresh_mean(programme, 0.25, 0.75), 0.5, 1e-15);
  assert_near(fresh_mean(programme, 1.0, 1.5), 0.7, 1e-15);
  assert_near(fresh_mean(programme, -12.5, 1250.0), 0.48, 1e-12);
  tv_programme_free(programme);
}

/* One cursor, step by step, from one programme to the other and back: each gives its own answer. */
static void a_cursor_tells_programmes_apart_by_what_they_play(void **state) {
  (void)state;
  struct tv_beats_spec spec = spec_of(9.0, 120.0, 0.12), other = spec;
  const double one_frac[] = {0.25, 0.5, 0.75}, two_frac[] = {0.25, 0.5, 0.5};
  struct tv_programme *pair[8][2];
  struct tv_table table;
  char error[TAILVOLT_TEXT_MAX];
  int n = 0;
  other = spec_of(8.9, 120.0, 0.12), pair[n][0] = make(spec), pair[n++][1] = make(other);
  other = spec_of(9.0, 119.0, 0.12), pair[n][0] = make(spec), pair[n++][1] = make(other);
  other = spec_of(9.0, 120.0, 0.11), pair[n][0] = make(spec), pair[n++][1] = make(other);
  other = spec, other.hold_s = 0.001, pair[n][0] = make(spec), pair[n++][1] = make(other);
  other = spec_of(12.0, 120.0, 0.12), other.seed = 2, pair[n][0] = make(spec_of(12.0, 120.0, 0.12));
  pair[n++][1] = make(other);
  other = spec_of(12.0, 120.0, 0.12), other.passage_count = 2, other.passage_beats[0] = other.passage_beats[1] = 16;
  other.passage_level_db[0] = -3.0, pair[n][0] = make(other);
  other.passage_level_db[0] = -2.0, pair[n++][1] = make(other);
  pair[n][0] = make(spec_of(1.0, 120.0, 0.12)), pair[n++][1] = make(spec_of(2.0, 120.0, 0.12));
  table = table_of(one_frac, 3);
  assert_int_equal(tv_programme_from_table(&table, 0.0, &pair[n][0], error), TAILVOLT_OK);
  table = table_of(two_frac, 3);
  assert_int_equal(tv_programme_from_table(&table, 0.0, &pair[n++][1], error), TAILVOLT_OK);
  for (int p = 0; p < n; p++) {
    struct tv_programme_cursor cursor;
    bool differ = false;
    memset(&cursor, 0, sizeof cursor);
    for (int k = 0; k < 40000; k++) {
      const struct tv_programme *played = pair[p][k / 3 % 2];
      double t0_s = k * 1e-3, t1_s = (k + 1) * 1e-3;
      assert_near(tv_programme_mean(played, &cursor, t0_s, t1_s), fresh_mean(played, t0_s, t1_s), 1e-12);
      differ = differ || fabs(fresh_mean(pair[p][0], t0_s, t1_s) - fresh_mean(pair[p][1], t0_s, t1_s)) > 1e-9;
    }
    assert_true(differ);
    tv_programme_free(pair[p][0]);
    tv_programme_free(pair[p][1]);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(closed_form_agrees_with_quadrature),
      cmocka_unit_test(running_cursor_equals_random_access),
      cmocka_unit_test(changing_steps_and_jumps_stay_exact),
      cmocka_unit_test(long_intervals_equal_the_sum_of_short_ones),
      cmocka_unit_test(each_block_has_one_full_beat_and_the_exact_mean),
      cmocka_unit_test(the_order_is_shuffled_evenly),
      cmocka_unit_test(seed_decides_the_order_and_nothing_else),
      cmocka_unit_test(very_high_crest_factor_takes_longer_blocks),
      cmocka_unit_test(steady_and_clipped_tones),
      cmocka_unit_test(odd_descriptions),
      cmocka_unit_test(values_out_of_range_are_refused),
      cmocka_unit_test(a_table_is_taken_over_and_played_round_and_round),
      cmocka_unit_test(a_cursor_tells_programmes_apart_by_what_they_play),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
