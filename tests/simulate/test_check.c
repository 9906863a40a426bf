/* Faults that show only when parts are made: labels that contradict each other, missing files. */
#include "support/assert_near.h"

#include <stdlib.h>
#include <string.h>

#include "support/scenes.h"

static void test_a_sound_system(void **state) {
  (void)state;
  static struct tailvolt_faults faults;
  struct tailvolt_system *system = scene_read("examples/reference/all-of-it.ini");
  assert_int_equal(tailvolt_check(system, &faults), TAILVOLT_OK);
  assert_int_equal(faults.count, 0);
  tailvolt_system_free(system);
}

static void test_each_fault_is_named(void **state) {
  (void)state;
  static struct tailvolt_faults faults;
  struct tailvolt_system *system = scene_read("examples/van-800w-8awg/system.ini");
  snprintf(system->programmes[0].recording, sizeof system->programmes[0].recording, "%s", "not-there.wav");
  system->batteries[0].reserve_min = 1e-3;
  assert_int_equal(tailvolt_check(system, &faults), TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.count, 2);
  assert_string_equal(faults.fault[0].key, "programme drums.recording");
  assert_non_null(strstr(faults.fault[0].message, "not-there.wav"));
  assert_string_equal(faults.fault[1].key, "battery starter.reserve");
  assert_true(strlen(faults.fault[1].message) > 10);
  assert_string_equal(faults.fault[1].file, system->file);
  assert_true(faults.fault[0].line > faults.fault[1].line && faults.fault[1].line > 1);
  /* a full list goes on counting */
  faults.count = TAILVOLT_FAULTS_MAX;
  faults.dropped = 0;
  assert_int_equal(tailvolt_check(system, &faults), TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.count, TAILVOLT_FAULTS_MAX);
  assert_int_equal(faults.dropped, 2);
  tailvolt_system_free(system);
}

/* Loads at one point count once, so 10 000 of them do not matter. */
static void test_the_limit_of_places_is_named(void **state) {
  (void)state;
  enum { LOADS = 10000 };
  static struct tailvolt_faults faults;
  struct tailvolt_system *system = scene_read("examples/van-800w-8awg/system.ini");
  struct tailvolt_load *loads = calloc(LOADS, sizeof *loads);
  assert_non_null(loads);
  for (int k = 0; k < LOADS; k++) {
    loads[k] = system->loads[0];
    loads[k].behaviour = TAILVOLT_CONSTANT_POWER;
  }
  struct tailvolt_system many = *system;
  many.loads = loads;
  many.load_count = LOADS;
  faults.count = faults.dropped = 0;
  assert_int_equal(tailvolt_check(&many, &faults), TAILVOLT_OK);
  /* each at its own place: alternator and amplifier are two of the 128 */
  for (int k = 0; k < LOADS; k++) loads[k].positive = k;
  many.load_count = 126;
  assert_int_equal(tailvolt_check(&many, &faults), TAILVOLT_OK);
  many.load_count = 127;
  assert_int_equal(tailvolt_check(&many, &faults), TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.count, 1);
  assert_non_null(strstr(faults.fault[0].message, "more than 128 places"));
  free(loads);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_a_sound_system), cmocka_unit_test(test_each_fault_is_named),
                                     cmocka_unit_test(test_the_limit_of_places_is_named)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
