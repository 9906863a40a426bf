/* What only shows when parts are made: labels that contradict each other, files that are not there. */
#include "support/assert_near.h"

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
  assert_string_equal(faults.fault[0].key, "programme drums");
  assert_non_null(strstr(faults.fault[0].message, "not-there.wav"));
  assert_string_equal(faults.fault[1].key, "battery starter");
  assert_true(strlen(faults.fault[1].message) > 10);
  assert_string_equal(faults.fault[1].file, system->file);
  /* a full list is counted on */
  faults.count = TAILVOLT_FAULTS_MAX;
  faults.dropped = 0;
  assert_int_equal(tailvolt_check(system, &faults), TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.count, TAILVOLT_FAULTS_MAX);
  assert_int_equal(faults.dropped, 2);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_a_sound_system), cmocka_unit_test(test_each_fault_is_named)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
