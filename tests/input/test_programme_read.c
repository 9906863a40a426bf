/* Programmes from their description: crest factor, seed, faults. Styles, recordings and envelope files have their
 * own tests. */
#include <string.h>

#include "input/programme_read.h"
#include "support/assert_near.h"

static struct tailvolt_programme spec_of(double crest_db, double tempo_per_min, double decay_s) {
  struct tailvolt_programme spec;
  memset(&spec, 0, sizeof spec);
  spec.crest_db = crest_db;
  spec.tempo_per_min = tempo_per_min;
  spec.decay_s = decay_s;
  spec.bass_hz = 45.0;
  spec.seed = 1;
  return spec;
}

static struct tv_programme *make(const struct tailvolt_programme *spec, const unsigned long *seed) {
  struct tv_programme *programme = NULL;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tv_programme_create(spec, "system.ini", seed, &programme, error), TAILVOLT_OK);
  return programme;
}

static double fresh_mean(const struct tv_programme *programme, double t0_s, double t1_s) {
  struct tv_programme_cursor cursor;
  memset(&cursor, 0, sizeof cursor);
  return tv_programme_mean(programme, &cursor, t0_s, t1_s);
}

/* The same beats as from plain data, to the bit. */
static void description_becomes_beats(void **state) {
  (void)state;
  struct tailvolt_programme spec = spec_of(12.0, 97.3, 0.08);
  struct tv_beats_spec beats = {
      .mean_frac = 2.0 * pow(10.0, -1.2), .tempo_per_min = 97.3, .decay_s = 0.08, .seed = 1};
  struct tv_programme *read = make(&spec, NULL), *built = NULL;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tv_programme_from_beats(&beats, 45.0, &built, error), TAILVOLT_OK);
  for (int k = 0; k < 20000; k++) {
    double a = fresh_mean(read, 1e-3 * k, 1e-3 * (k + 1)), b = fresh_mean(built, 1e-3 * k, 1e-3 * (k + 1));
    assert_memory_equal(&a, &b, sizeof a);
  }
  assert_near(tv_programme_bass_hz(read), 45.0, 0.0);
  tv_programme_free(read);
  tv_programme_free(built);
}

/* Crest factors at and below that of a sine: a steady tone, at 0 dB a square wave of twice the rated power. */
static void low_crest_factors_are_steady(void **state) {
  (void)state;
  const double crest_db[] = {10.0 * log10(2.0), 1.0, 0.0}, mean_frac[] = {1.0, 1.5886564694485633, 2.0};
  for (int k = 0; k < 3; k++) {
    struct tailvolt_programme spec = spec_of(crest_db[k], 120.0, 0.12);
    struct tv_programme *programme = make(&spec, NULL);
    assert_near(fresh_mean(programme, 0.1, 0.2), mean_frac[k], 1e-12);
    assert_near(fresh_mean(programme, 0.1, 77.2), mean_frac[k], 1e-12);
    tv_programme_free(programme);
  }
}

static void a_seed_given_stands_above_the_programmes_own(void **state) {
  (void)state;
  struct tailvolt_programme spec = spec_of(12.0, 120.0, 0.12);
  const unsigned long seed = 2;
  struct tv_programme *one = make(&spec, NULL), *two = make(&spec, &seed);
  spec.seed = 2;
  struct tv_programme *own = make(&spec, NULL);
  int differing = 0;
  for (int beat = 0; beat < 64; beat++) {
    double t_s = 0.5 * beat, a = fresh_mean(two, t_s, t_s + 1e-3), b = fresh_mean(own, t_s, t_s + 1e-3);
    assert_memory_equal(&a, &b, sizeof a);
    if (fabs(a - fresh_mean(one, t_s, t_s + 1e-3)) > 1e-9) differing++;
  }
  assert_true(differing > 32);
  tv_programme_free(one);
  tv_programme_free(two);
  tv_programme_free(own);
}

static void faults_are_named(void **state) {
  (void)state;
  struct tailvolt_programme wrong[] = {spec_of(-1.0, 120.0, 0.12), spec_of(40.5, 120.0, 0.12),
                                       spec_of((double)NAN, 120.0, 0.12), spec_of(9.0, 0.0, 0.12),
                                       spec_of(9.0, 120.0, -0.1), spec_of(9.0, 120.0, 0.1)};
  static const char *const errors[] = {
      "crest factor -1: must be 0 to 40 dB", "crest factor 40.5: must be 0 to 40 dB",
      "crest factor nan: must be 0 to 40 dB", "tempo 0: must be 1 to 1200 /min",
      "decay -0.1: must be 0 s or more", "bass note nan: must be 0 Hz or more"};
  wrong[5].bass_hz = (double)NAN;
  for (size_t k = 0; k < sizeof wrong / sizeof wrong[0]; k++) {
    struct tv_programme *none = NULL;
    char error[TAILVOLT_TEXT_MAX];
    assert_int_equal(tv_programme_create(&wrong[k], "system.ini", NULL, &none, error), TAILVOLT_BAD_INPUT);
    assert_null(none);
    assert_string_equal(error, errors[k]);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(description_becomes_beats),
      cmocka_unit_test(low_crest_factors_are_steady),
      cmocka_unit_test(a_seed_given_stands_above_the_programmes_own),
      cmocka_unit_test(faults_are_named),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
