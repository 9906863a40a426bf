/* Saving a state, running on, restoring and running again equals a straight run to the last bit; so does a row in any
 * slices. */
#include "support/assert_near.h"

#include <stdlib.h>
#include <string.h>

#include "simulate/run.h"
#include "support/scenes.h"

enum { ROWS = 4 };

/* Two batteries behind a relay that closes and opens, a stiff capacitor, an amplifier that cuts out, music that clips, cables
 * that heat: with `drift` fast enough to go into the wiring again. */
struct scene {
  struct tailvolt_system *system;
  struct tailvolt_row row[ROWS];
  struct tailvolt_amplifier_row amplifier[ROWS];
  struct tv_run *run;
};

static void open_scene(struct scene *s) {
  static const char *const set[] = {"isolator split charge.delay = 0.3 s", "amplifier bass.cut-in voltage = 11.2 V",
                                    "amplifier bass.cut-out voltage = 11 V", "cable amplifier feed.length = 7 m",
                                    "amplifier bass.supply = unregulated", "capacitor stiffener.capacitance = 2 mF"};
  enum { COUNT = sizeof set / sizeof set[0] };
  static const double rpm[ROWS] = {800, 2500, 0, 900}, level_db[ROWS] = {2, 0, 3, 0}, at_s[ROWS] = {0, 1.1, 2.3, 3.2};
  struct tailvolt_setting setting[COUNT];
  static struct tailvolt_faults faults;
  memset(s, 0, sizeof *s);
  for (int k = 0; k < COUNT; k++) setting[k].text = set[k];
  if (tailvolt_system_read(TAILVOLT_SOURCE_DIR "/examples/reference/all-of-it.ini", setting, COUNT, &s->system, &faults) !=
      TAILVOLT_OK)
    fail_msg("%s", faults.fault[0].message);
  for (int k = 0; k < s->system->conductor_count; k++) s->system->conductors[k].temperature_per_k *= 30;
  for (int k = 0; k < ROWS; k++) {
    s->amplifier[k] = (struct tailvolt_amplifier_row){.powered = true, .level_db = level_db[k], .output_w = (double)NAN,
                                                      .supply_w = (double)NAN, .supply_a = (double)NAN};
    s->row[k] = (struct tailvolt_row){.time_s = at_s[k], .engine_rpm = rpm[k], .ambient_c = 25, .set_point_v = (double)NAN,
                                      .amplifier = &s->amplifier[k]};
    s->row[k].load_on = calloc((size_t)s->system->load_count + 1, sizeof(double));
  }
  struct tailvolt_options options = tailvolt_default_options();
  char error[TAILVOLT_TEXT_MAX] = "";
  assert_int_equal(tv_run_create(s->system, NULL, &options, &s->run, error), TAILVOLT_OK);
  assert_int_equal(tv_run_start(s->run, &s->row[0]), TAILVOLT_OK);
}

static void close_scene(struct scene *s) {
  for (int k = 0; k < ROWS; k++) free((void *)(uintptr_t)s->row[k].load_on);
  tv_run_free(s->run);
  tailvolt_system_free(s->system);
}

static double end_s(int row) { return row + 1 < ROWS ? 0 : 4.5; }

static void begin_row(struct scene *s, struct tv_run *run, int row) {
  const struct tailvolt_row *next = row + 1 < ROWS ? &s->row[row + 1] : NULL;
  double to_s = next != NULL ? next->time_s : end_s(row);
  assert_int_equal(tv_run_begin_row(run, &s->row[row], next, s->row[row].time_s, to_s), TAILVOLT_OK);
}

/* What a run knows at a time: its saved state. */
static void *state_of(struct tv_run *run) {
  void *state = malloc(tv_run_state_size(run));
  tv_run_unpack(run);
  tv_run_save(run, state);
  return state;
}

static double all_volts(struct tv_run *run) {
  double sum = 0;
  for (int k = 0; k < run->layout->values; k++) sum += (k + 1) * tv_hot_y(run->hot)[k];
  return sum;
}

/* Straight through, noting each step; then again, at each step saving, running on for a while, and coming back. */
static void restored_at_every_step(void **state) {
  (void)state;
  struct scene straight, other;
  open_scene(&straight);
  open_scene(&other);
  void *kept = malloc(tv_run_state_size(other.run));
  int cut_outs = 0;
  for (int row = 0; row < ROWS; row++) {
    begin_row(&straight, straight.run, row);
    begin_row(&other, other.run, row);
    double step_s = TV_HOT(straight.run->hot, lane)->step_s, from_s = straight.row[row].time_s;
    double count = straight.run->state.now.grid_count;
    for (double k = 1; k <= count; k++) {
      double to_s = from_s + k * step_s;
      assert_int_equal(tv_run_go(straight.run, to_s), TAILVOLT_OK);
      tv_run_unpack(other.run);
      tv_run_save(other.run, kept);
      assert_int_equal(tv_run_go_on(other.run, to_s + 7 * step_s), TAILVOLT_OK);
      tv_run_restore(other.run, kept);
      assert_int_equal(tv_run_go_on(other.run, to_s), TAILVOLT_OK);
      if (all_volts(straight.run) != all_volts(other.run))
        fail_msg("step %.0f of row %d: %.17g, restored %.17g", k, row, all_volts(straight.run), all_volts(other.run));
    }
    cut_outs = straight.run->statistics->amplifier[0].cut_outs;
  }
  assert_true(cut_outs > 0);
  assert_true(straight.run->network->wiring_reductions > 3);
  void *a = state_of(straight.run), *b = state_of(other.run);
  assert_true(straight.run->state.battery[0].charge_c == other.run->state.battery[0].charge_c);
  assert_true(straight.run->state.battery[1].charge_c == other.run->state.battery[1].charge_c);
  assert_true(straight.run->state.now.copper_c == other.run->state.now.copper_c);
  assert_memory_equal(straight.run->state.conductor_c, other.run->state.conductor_c,
                      (size_t)straight.system->conductor_count * sizeof(double));
  free(a), free(b), free(kept);
  close_scene(&straight);
  close_scene(&other);
}

/* Out of the grace of a start, or into another use on a ramp of the engine's speed, and back. */
static void grace_and_use_come_back(void **state) {
  (void)state;
  struct scene straight, other;
  open_scene(&straight);
  open_scene(&other);
  void *kept = malloc(tv_run_state_size(other.run));
  struct scene *both[] = {&straight, &other};
  for (int k = 0; k < 2; k++) {
    struct scene *s = both[k];
    for (int row = 0; row < 3; row++) {
      begin_row(s, s->run, row);
      assert_int_equal(tv_run_go(s->run, s->row[row + 1].time_s), TAILVOLT_OK);
    }
    /* the engine starts at 3.2 s: grace up to 6.2 s; above 2500 rpm from 5.5 s on it is on the motorway */
    struct tailvolt_row next = s->row[3];
    next.time_s = 9;
    next.engine_rpm = 4900;
    assert_int_equal(tv_run_begin_row(s->run, &s->row[3], &next, s->row[3].time_s, next.time_s), TAILVOLT_OK);
    assert_int_equal(tv_run_go(s->run, 5), TAILVOLT_OK);
  }
  enum tailvolt_use use = straight.run->use;
  assert_true(straight.run->in_grace);
  tv_run_unpack(other.run);
  tv_run_save(other.run, kept);
  assert_int_equal(tv_run_go_on(other.run, 8), TAILVOLT_OK);
  assert_false(other.run->in_grace);
  assert_true(other.run->use != use);
  tv_run_restore(other.run, kept);
  assert_true(other.run->in_grace);
  assert_true(other.run->use == use);
  assert_int_equal(tv_run_go_on(other.run, 9), TAILVOLT_OK);
  assert_int_equal(tv_run_go(straight.run, 9), TAILVOLT_OK);
  assert_true(all_volts(straight.run) == all_volts(other.run));
  assert_true(straight.run->statistics->amplifier[0].start_min_v == other.run->statistics->amplifier[0].start_min_v);
  free(kept);
  close_scene(&straight);
  close_scene(&other);
}

/* A row in slices of odd lengths. */
static void any_slices(void **state) {
  (void)state;
  struct scene whole, sliced;
  open_scene(&whole);
  open_scene(&sliced);
  for (int row = 0; row < ROWS; row++) {
    double to_s = row + 1 < ROWS ? whole.row[row + 1].time_s : end_s(row);
    begin_row(&whole, whole.run, row);
    assert_int_equal(tv_run_go(whole.run, to_s), TAILVOLT_OK);
    begin_row(&sliced, sliced.run, row);
    for (double at_s = sliced.row[row].time_s; at_s < to_s; at_s += 0.0137)
      assert_int_equal(tv_run_go(sliced.run, at_s), TAILVOLT_OK);
    assert_int_equal(tv_run_go(sliced.run, to_s), TAILVOLT_OK);
    assert_true(all_volts(whole.run) == all_volts(sliced.run));
  }
  assert_int_equal(tv_run_fold(whole.run), TAILVOLT_OK);
  assert_int_equal(tv_run_fold(sliced.run), TAILVOLT_OK);
  assert_true(tv_sum_value(&whole.run->statistics->amplifier[0].v) == tv_sum_value(&sliced.run->statistics->amplifier[0].v));
  assert_true(tv_sum_value(&whole.run->statistics->conductor_j) == tv_sum_value(&sliced.run->statistics->conductor_j));
  close_scene(&whole);
  close_scene(&sliced);
}

/* A fuse that the first beat opens, within a stretch of steps that began with it cold. */
static struct tv_run *overload(const struct tailvolt_system *system, const struct tailvolt_row *row) {
  struct tailvolt_options options = tailvolt_default_options();
  char error[TAILVOLT_TEXT_MAX] = "";
  struct tv_run *run;
  options.blow = true;
  assert_int_equal(tv_run_create(system, NULL, &options, &run, error), TAILVOLT_OK);
  assert_int_equal(tv_run_start(run, row), TAILVOLT_OK);
  assert_int_equal(tv_run_begin_row(run, row, NULL, 0, 8), TAILVOLT_OK);
  return run;
}

/* Its looks are made up for later where they cannot open it: every step alone, odd slices and the whole agree, before and after it
 * opens. */
static void fuses_in_any_slices(void **state) {
  (void)state;
  struct tailvolt_setting setting[] = {{"fuse main.rating = 10 A"}, {"fuse main.kind = blade"}};
  static struct tailvolt_faults faults;
  struct tailvolt_system *system;
  if (tailvolt_system_read(TAILVOLT_SOURCE_DIR "/examples/van-put-right/system.ini", setting, 2, &system, &faults) != TAILVOLT_OK)
    fail_msg("%s", faults.fault[0].message);
  double *load_on = calloc((size_t)system->load_count + 1, sizeof *load_on), opens_s = (double)NAN;
  struct tailvolt_amplifier_row loud = {.powered = true, .output_w = (double)NAN, .supply_w = (double)NAN, .supply_a = (double)NAN};
  struct tailvolt_row row = {.engine_rpm = 1500, .ambient_c = 25, .set_point_v = (double)NAN, .amplifier = &loud, .load_on = load_on};
  struct tv_run *whole = overload(system, &row), *sliced = overload(system, &row), *single = overload(system, &row);
  double step_s = TV_HOT(whole->hot, lane)->step_s;
  int fuse = 0;
  while (system->conductors[fuse].kind != TAILVOLT_FUSE) fuse++;
  for (double at_s = 0.5; at_s <= 8; at_s += 0.5) {
    assert_int_equal(tv_run_go(whole, at_s), TAILVOLT_OK);
    for (double to_s = at_s - 0.5; to_s < at_s; to_s += 0.0137) assert_int_equal(tv_run_go(sliced, to_s), TAILVOLT_OK);
    assert_int_equal(tv_run_go(sliced, at_s), TAILVOLT_OK);
    for (double k = 0.5 / step_s - 1; k >= 0; k--) assert_int_equal(tv_run_go(single, at_s - k * step_s), TAILVOLT_OK);
    assert_true(all_volts(whole) == all_volts(sliced));
    assert_true(all_volts(whole) == all_volts(single));
    assert_memory_equal(&whole->state.fuse[fuse], &single->state.fuse[fuse], sizeof whole->state.fuse[fuse]);
  }
  opens_s = whole->statistics->fuse[fuse].opens_time_s;
  assert_true(opens_s > 0 && opens_s < 7);
  assert_true(opens_s == sliced->statistics->fuse[fuse].opens_time_s && opens_s == single->statistics->fuse[fuse].opens_time_s);
  tv_run_free(whole), tv_run_free(sliced), tv_run_free(single);
  tailvolt_system_free(system);
  free(load_on);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(restored_at_every_step), cmocka_unit_test(grace_and_use_come_back),
                                     cmocka_unit_test(any_slices), cmocka_unit_test(fuses_in_any_slices)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
