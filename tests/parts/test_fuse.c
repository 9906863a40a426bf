/* Fuses: thermal memory, damage, standard ratings. */
#include <string.h>

#include "parts/fuse.h"
#include "support/assert_near.h"

/* Time after which the chosen damage reaches 1 at a steady current; INFINITY if not within `most_s`. */
static double opens_after_s(enum tailvolt_fuse_kind kind, double rating_a, double current_a, double dt_s,
                            double most_s, bool must) {
  struct tv_fuse_state state;
  memset(&state, 0, sizeof state);
  state.mean_square_a2 = current_a * current_a; /* the current has flowed: the memory is full */
  for (long k = 1; (double)k * dt_s <= most_s; k++) {
    tv_fuse_step(kind, rating_a, current_a * current_a, dt_s, &state);
    if ((must ? state.damage_must : state.damage_may) >= 1.0) {
      return (double)k * dt_s;
    }
  }
  return (double)INFINITY;
}

static void test_steady_current_opens_at_the_time_of_the_curves(void **state) {
  (void)state;
  assert_near(opens_after_s(TAILVOLT_BOLT_DOWN, 100.0, 250.0, 0.001, 30.0, false),
              tv_fuse_quickest_s(TAILVOLT_BOLT_DOWN, 2.5), 0.0021);
  /* the slowest, already loaded: sooner than a cold one, whose element needs its memory time */
  static const struct { enum tailvolt_fuse_kind kind; double current_a, dt_s; } row[] = {
      {TAILVOLT_BOLT_DOWN, 250.0, 0.001}, {TAILVOLT_BLADE, 60.0, 0.001}};
  for (int k = 0; k < 2; k++) {
    double rating_a = k ? 30.0 : 100.0;
    double slowest_s = tv_fuse_slowest_s(row[k].kind, row[k].current_a / rating_a);
    double loaded_s = opens_after_s(row[k].kind, rating_a, row[k].current_a, row[k].dt_s, 30.0, true);
    assert_true(loaded_s < slowest_s && loaded_s > 0.8 * slowest_s);
  }
  assert_true(isinf(opens_after_s(TAILVOLT_BLADE, 30.0, 30.0, 0.01, 3600.0, true)));
  assert_true(isinf(opens_after_s(TAILVOLT_BLADE, 30.0, 36.0, 0.01, 3600.0, true)));
}

/* Beats of 1.8 In for 50 ms twice a second, mean square below In: no fuse opens. The raw current would have
 * had the quickest blade fuse open within seconds. */
static void test_bass_beats_do_not_blow(void **state) {
  (void)state;
  struct tv_fuse_state fuse;
  memset(&fuse, 0, sizeof fuse);
  double raw_damage = 0.0;
  for (long k = 0; k < 600000; k++) {
    double i_a = k % 500 < 50 ? 144.0 : 20.0;
    tv_fuse_step(TAILVOLT_BOLT_DOWN, 80.0, i_a * i_a, 0.001, &fuse);
    raw_damage += 0.001 / tv_fuse_quickest_s(TAILVOLT_BOLT_DOWN, i_a / 80.0);
  }
  assert_true(raw_damage > 1.0);
  assert_true(fuse.damage_may < 0.01);
  assert_true(fuse.damage_must < 0.01);
}

/* The same music at twice the current: root mean square 1.2 In, and the quickest may go. */
static void test_heavy_overload_by_music_may_open(void **state) {
  (void)state;
  struct tv_fuse_state fuse;
  memset(&fuse, 0, sizeof fuse);
  for (long k = 0; k < 600000; k++) {
    double i_a = k % 500 < 100 ? 240.0 : 60.0; /* root mean square 120 A */
    tv_fuse_step(TAILVOLT_BOLT_DOWN, 80.0, i_a * i_a, 0.001, &fuse);
  }
  assert_true(fuse.damage_may > 1.0);
}

static void test_short_circuit_counts_at_once(void **state) {
  (void)state;
  struct tv_fuse_state fuse;
  memset(&fuse, 0, sizeof fuse);
  /* 10 In: at least 3.6 ms, at most 36 ms, far below the memory of 0.5 s */
  double slowest_s = tv_fuse_slowest_s(TAILVOLT_BOLT_DOWN, 10.0);
  double quickest_s = tv_fuse_quickest_s(TAILVOLT_BOLT_DOWN, 10.0);
  double t_s = 0.0;
  while (fuse.damage_must < 1.0 && t_s < 10.0) {
    tv_fuse_step(TAILVOLT_BOLT_DOWN, 100.0, 1e6, 0.001, &fuse);
    t_s += 0.001;
  }
  assert_true(t_s > quickest_s && t_s < slowest_s);
}

static void test_damage_is_forgotten_until_it_opened(void **state) {
  (void)state;
  struct tv_fuse_state fuse;
  memset(&fuse, 0, sizeof fuse);
  fuse.damage_may = 0.8;
  fuse.damage_must = 0.4;
  tv_fuse_step(TAILVOLT_BLADE, 20.0, 100.0, 30.0, &fuse);
  assert_near(fuse.damage_may, 0.8 * exp(-1.0), 1e-12);
  assert_near(fuse.damage_must, 0.4 * exp(-1.0), 1e-12);
  fuse.damage_may = 1.2;
  tv_fuse_step(TAILVOLT_BLADE, 20.0, 100.0, 3000.0, &fuse);
  assert_near(fuse.damage_may, 1.2, 0.0);
}

static void test_memory_is_exact_for_any_step(void **state) {
  (void)state;
  struct tv_fuse_state one, many;
  memset(&one, 0, sizeof one);
  memset(&many, 0, sizeof many);
  tv_fuse_step(TAILVOLT_BOLT_DOWN, 100.0, 4900.0, 0.5, &one);
  for (int k = 0; k < 500; k++) {
    tv_fuse_step(TAILVOLT_BOLT_DOWN, 100.0, 4900.0, 0.001, &many);
  }
  assert_near(one.mean_square_a2, 4900.0 * (1.0 - exp(-1.0)), 1e-9);
  assert_near(many.mean_square_a2, one.mean_square_a2, 1e-6);
}

static void test_curves_fall_and_the_quickest_is_never_slower(void **state) {
  (void)state;
  for (int kind = TAILVOLT_BLADE; kind <= TAILVOLT_BOLT_DOWN; kind++) {
    enum tailvolt_fuse_kind k = (enum tailvolt_fuse_kind)kind;
    double last_quickest_s = (double)INFINITY, last_slowest_s = (double)INFINITY;
    for (double x = 0.5; x < 30.0; x *= 1.01) {
      assert_true(tv_fuse_quickest_s(k, x) <= last_quickest_s);
      assert_true(tv_fuse_slowest_s(k, x) <= last_slowest_s);
      assert_true(tv_fuse_quickest_s(k, x) <= tv_fuse_slowest_s(k, x));
      last_quickest_s = tv_fuse_quickest_s(k, x);
      last_slowest_s = tv_fuse_slowest_s(k, x);
    }
    assert_true(isinf(tv_fuse_slowest_s(k, 0.0)));
    assert_true(isinf(tv_fuse_quickest_s(k, (double)NAN)));
  }
}

static void test_standard_ratings(void **state) {
  (void)state;
  assert_near(tv_fuse_standard_rating_a(TAILVOLT_BOLT_DOWN, 105.0, 200.0), 125.0, 0.0);
  assert_near(tv_fuse_standard_rating_a(TAILVOLT_BOLT_DOWN, 125.0, 125.0), 125.0, 0.0);
  assert_true(isnan(tv_fuse_standard_rating_a(TAILVOLT_BOLT_DOWN, 105.0, 120.0)));
  assert_true(isnan(tv_fuse_standard_rating_a(TAILVOLT_BLADE, 41.0, 500.0)));
  assert_near(tv_fuse_largest_rating_a(TAILVOLT_BOLT_DOWN, 64.6), 60.0, 0.0);
  assert_near(tv_fuse_largest_rating_a(TAILVOLT_BLADE, 64.6), 40.0, 0.0);
  assert_near(tv_fuse_largest_rating_a(TAILVOLT_LARGE_BLADE, 100.0), 100.0, 0.0);
  assert_true(isnan(tv_fuse_largest_rating_a(TAILVOLT_BOLT_DOWN, 29.0)));
  assert_near_rel(tv_fuse_resistance_ohm(80.0), 1.25e-3, 1e-12);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_steady_current_opens_at_the_time_of_the_curves),
      cmocka_unit_test(test_bass_beats_do_not_blow),
      cmocka_unit_test(test_heavy_overload_by_music_may_open),
      cmocka_unit_test(test_short_circuit_counts_at_once),
      cmocka_unit_test(test_damage_is_forgotten_until_it_opened),
      cmocka_unit_test(test_memory_is_exact_for_any_step),
      cmocka_unit_test(test_curves_fall_and_the_quickest_is_never_slower),
      cmocka_unit_test(test_standard_ratings),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
