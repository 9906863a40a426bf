/* Rows that change only a prescribed draw are walked in one go: it must not show. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/lanes.h"
#include "support/assert_near.h"
#include "support/scenes.h"

static const char CAR[] =
    "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 800 W\n[cable feed]\n"
    "size = 8 AWG\nlength = 5.5 m\n[load pump]\npower = 120 W\nbehaves = constant power\n";

/* A row a millisecond: beats that make the amplifier cut out, one draw that has no solution, a silence, a pump that starts,
 * a longer row, another engine speed. */
static struct tailvolt_profile *logged(const struct tailvolt_system *system) {
  enum { ROOM = 1 << 18 };
  char *text = malloc(ROOM);
  size_t at = (size_t)snprintf(text, ROOM, "time_s,engine_rpm,load:pump,supply_w:bass\n");
  for (int k = 0; k <= 3500; k++) {
    if (k > 1700 && k < 1725 && k != 1710) continue;
    double w = 40 + 1500 * exp(-(k % 500) / 120.0);
    if (k == 800) w = 60000;
    if (k >= 1900 && k < 1950) w = 0;
    at += (size_t)snprintf(text + at, ROOM - at, "%.17g,%d,%d,%.17g\n", k / 1000.0, k < 2600 ? 800 : 900, k >= 2200, w);
  }
  struct tailvolt_profile *profile = scene_profile(system, text);
  free(text);
  return profile;
}

static struct tailvolt_result *row_by_row(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                                          const struct tailvolt_options *options) {
  bool prescribed[1] = {true};
  struct tailvolt_run *run;
  struct tailvolt_profile_cursor *cursor;
  const struct tailvolt_row *row, *next;
  struct tailvolt_result *result = NULL;
  assert_int_equal(tailvolt_run_open(system, prescribed, options, &run, NULL), TAILVOLT_OK);
  assert_int_equal(tailvolt_profile_open(profile, &cursor), TAILVOLT_OK);
  assert_int_equal(tailvolt_profile_next(cursor, &row), TAILVOLT_OK);
  assert_int_equal(tailvolt_run_begin(run, row), TAILVOLT_OK);
  while (tailvolt_profile_next(cursor, &next) == TAILVOLT_OK && next != NULL) {
    assert_int_equal(tailvolt_run_advance(run, row, next, next->time_s), TAILVOLT_OK);
    row = next;
  }
  assert_int_equal(tailvolt_run_result(run, "row by row", &result), TAILVOLT_OK);
  tailvolt_profile_close(cursor);
  tailvolt_run_close(run);
  return result;
}

static void assert_same(const struct tailvolt_result *a, const struct tailvolt_result *b) {
  assert_true(a->steps == b->steps);
  assert_true(a->state_hash == b->state_hash);
  assert_true(a->energy.residual_j == b->energy.residual_j);
  assert_true(a->amplifiers[0].mean_v == b->amplifiers[0].mean_v && a->amplifiers[0].min_v == b->amplifiers[0].min_v);
  assert_true(a->amplifiers[0].min_time_s == b->amplifiers[0].min_time_s);
  assert_true(a->amplifiers[0].low_1pct_v == b->amplifiers[0].low_1pct_v);
  assert_true(a->amplifiers[0].input_j == b->amplifiers[0].input_j && a->duration_s == b->duration_s);
  assert_int_equal(a->amplifiers[0].cut_outs, b->amplifiers[0].cut_outs);
  assert_true(a->batteries[0].end_soc_pct == b->batteries[0].end_soc_pct);
}

static void it_does_not_show(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_parse(CAR);
  struct tailvolt_profile *profile = logged(system);
  struct tailvolt_options options = tailvolt_default_options();
  struct tailvolt_result *whole = scene_run(system, profile, &options), *rows = row_by_row(system, profile, &options);
  assert_true(whole->amplifiers[0].cut_outs > 0);
  assert_same(whole, rows);
  for (int lanes = 1; lanes <= 8; lanes *= 2) {
    struct tv_lane_job job[3];
    struct tv_lanes_how how = {.threads = 1, .lanes = lanes};
    memset(job, 0, sizeof job);
    for (int k = 0; k < 3; k++) job[k].system = system, job[k].profile = profile, job[k].options = &options;
    assert_int_equal(tv_lanes_simulate(job, 3, NULL, &how), TAILVOLT_OK);
    for (int k = 0; k < 3; k++) {
      assert_non_null(job[k].result);
      assert_same(whole, job[k].result);
      tailvolt_result_free(job[k].result);
    }
  }
  tailvolt_result_free(whole);
  tailvolt_result_free(rows);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(it_does_not_show)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
