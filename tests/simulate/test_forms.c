/* Loops compiled for a shape give the bits of the loop that any network takes. */
#include "support/assert_near.h"

#include <stdlib.h>
#include <string.h>

#include "simulate/run.h"
#include "support/scenes.h"

static const char CAR[] = "[battery]\ncapacity = 62 Ah\n[alternator]\nrated current = 90 A\n[amplifier bass]\nrated power = 600 W\n"
                          "[cable feed]\nlength = 4.2 m\n";
static const char LOADED[] = "[load pump]\npositive = battery post\nnegative = body\npower = 200 W\nbehaves = constant power\n";

struct row_in_force {
  struct tailvolt_row row;
  struct tailvolt_amplifier_row amplifier;
  double load_on[4];
};

/* The engine at idle, then off; music, or a power that each row prescribes. */
static void play(struct tv_run *run, bool prescribed) {
  struct row_in_force at[2];
  memset(at, 0, sizeof at);
  for (int k = 0; k < 2; k++) {
    at[k].amplifier = (struct tailvolt_amplifier_row){
        .programme = prescribed ? TAILVOLT_SILENCE : 0, .powered = true, .output_w = (double)NAN, .supply_a = (double)NAN,
        .supply_w = prescribed ? 300 + 200 * k : (double)NAN};
    at[k].load_on[0] = 1;
    at[k].row = (struct tailvolt_row){.time_s = 2 * k, .engine_rpm = k == 0 ? 800 : 0, .ambient_c = 25, .set_point_v = (double)NAN,
                                      .amplifier = &at[k].amplifier, .load_on = at[k].load_on};
  }
  assert_int_equal(tv_run_start(run, &at[0].row), TAILVOLT_OK);
  for (int k = 0; k < 2; k++) assert_int_equal(tv_run_advance(run, &at[k].row, NULL, 2 * k, 2 * k + 2), TAILVOLT_OK);
}

static void compare(bool alternator, bool loaded, bool storage, bool prescribed, bool summed, enum tv_shape form) {
  char text[600], error[TAILVOLT_TEXT_MAX] = "";
  snprintf(text, sizeof text, "%s%s", CAR, loaded ? LOADED : "");
  struct tailvolt_system *system = scene_parse(text);
  struct tailvolt_options options = tailvolt_default_options();
  struct tv_run *run[2];
  system->alternator.present = alternator;
  system->amplifiers[0].internal_f = storage ? 0.1 : 0;
  system->amplifiers[0].internal_ohm = 0.005;
  for (int k = 0; k < 2; k++) {
    assert_int_equal(tv_run_create(system, &prescribed, &options, &run[k], error), TAILVOLT_OK);
    assert_int_equal(run[k]->layout->form, form);
    if (!summed) tv_run_leave_out_sums(run[k]);
  }
  run[1]->layout->form = TV_SHAPE_ANY;
  play(run[0], prescribed);
  play(run[1], prescribed);
  assert_true(tv_run_amplifier_v(run[0], 0) > 9);
  assert_memory_equal(tv_hot_y(run[0]->hot), tv_hot_y(run[1]->hot), (size_t)run[0]->layout->rows_used * sizeof(double));
  assert_memory_equal(&run[0]->state.battery[0], &run[1]->state.battery[0], sizeof run[0]->state.battery[0]);
  assert_true(run[0]->statistics->amplifier[0].min_v == run[1]->statistics->amplifier[0].min_v);
  tv_run_free(run[0]), tv_run_free(run[1]);
  tailvolt_system_free(system);
}

static void cars(void **state) {
  (void)state;
  compare(true, false, true, false, true, TV_SHAPE_CAR);
  compare(true, true, true, false, true, TV_SHAPE_CAR_LOAD);
  compare(true, false, false, false, true, TV_SHAPE_SMOOTH);
  compare(true, true, false, false, true, TV_SHAPE_SMOOTH_LOAD);
  compare(true, false, true, true, true, TV_SHAPE_SMOOTH); /* a prescribed draw is one at the terminals */
  compare(true, true, true, true, true, TV_SHAPE_SMOOTH_LOAD);
  compare(false, false, true, false, true, TV_SHAPE_PARKED);
  compare(false, false, true, false, false, TV_SHAPE_PARKED);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(cars)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
