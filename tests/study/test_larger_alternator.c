/* The same alternator, larger: whichever way a file states its curve, the settings give that curve in proportion. */
#include "support/assert_near.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "study/larger_alternator.h"
#include "support/scenes.h"
#include "tailvolt/tailvolt.h"

static struct tailvolt_system *car_with(const char *alternator) {
  char text[1024];
  snprintf(text, sizeof text,
           "[battery]\ncapacity = 70 Ah\n[alternator]\n%s[amplifier bass]\nrated power = 800 W\n[cable feed]\nsize = 4 AWG\nlength = 5 m\n",
           alternator);
  return scene_parse(text);
}

static void grows(const char *alternator, double to_a, int settings) {
  struct tailvolt_system *system = car_with(alternator);
  struct tailvolt_alternator old = system->alternator;
  struct tv_larger_alternator larger;
  struct tailvolt_setting setting[3];
  struct tailvolt_faults faults = {0};
  char line[3][TV_VALUE_ROOM + 64];
  assert_true(tv_larger_alternator(system, to_a, &larger));
  assert_int_equal(larger.count, settings);
  for (int k = 0; k < larger.count; k++) {
    snprintf(line[k], sizeof line[k], "alternator.%s = %s", larger.setting[k].key, larger.setting[k].value);
    setting[k].text = line[k];
  }
  if (tailvolt_system_change(system, setting, larger.count, &faults) != TAILVOLT_OK)
    fail_msg("%s: %s", alternator, faults.count > 0 ? faults.fault[0].message : "refused");
  const struct tailvolt_alternator *now = &system->alternator;
  if (isfinite(old.fixed_output_a)) {
    assert_near(now->fixed_output_a, to_a, 1e-9);
  } else {
    assert_near(now->rated_a, to_a, 1e-9);
    assert_int_equal(now->output_count, old.output_count);
  }
  for (int k = 0; k < old.output_count; k++) {
    assert_near(now->output_rpm[k], old.output_rpm[k], 1e-9);
    assert_near(now->output_a[k], old.output_a[k] * to_a / old.rated_a, old.output_count > 8 ? 0.51 : 0.051); /* to a tenth of an ampere */
  }
  tailvolt_system_free(system);
}

static void every_way_to_state_a_curve(void **state) {
  (void)state;
  grows("rated current = 110 A\n", 150, 2);
  grows("rated current = 110 A\nlow current = 52 A\n", 150, 2);
  grows("rated current = 110 A\nlow current = 52 A\noutput = 16 A at 1300 rpm\n", 150, 3);
  grows("rated current = 110 A\noutput = 52 A at 1800 rpm\n", 150, 2);
  grows("rated current = 110 A\noutput = 60 A at 2000 rpm\n", 150, 2);
  grows("rated current = 110 A\noutput = 40 A at 1500 rpm\n", 150, 2);
  grows("rated current = 110 A\noutput = 40 A at 1500 rpm, 52 A at 1800 rpm, 100 A at 4000 rpm, 118 A at 12000 rpm\n", 150, 2);
  /* ten points fit, to the ampere */
  grows("rated current = 110 A\noutput = 10 A at 1250 rpm, 21 A at 1350 rpm, 31 A at 1450 rpm, 41 A at 1600 rpm\n"
        "output = 51 A at 1850 rpm, 61 A at 2150 rpm, 71 A at 2550 rpm, 81 A at 3050 rpm, 91 A at 4050 rpm\n", 150, 2);
  grows("fixed output = 100 A\n", 130, 1);
}

static void too_many_points(void **state) {
  (void)state;
  struct tailvolt_system *system =
      car_with("rated current = 110 A\noutput = 10 A at 1250 rpm, 21 A at 1350 rpm, 31 A at 1450 rpm, 41 A at 1600 rpm\n"
               "output = 51 A at 1850 rpm, 61 A at 2150 rpm, 71 A at 2550 rpm, 81 A at 3050 rpm, 91 A at 4050 rpm\n"
               "output = 93 A at 4250 rpm, 95 A at 4450 rpm, 97 A at 4650 rpm, 99 A at 4850 rpm\n");
  struct tv_larger_alternator larger;
  assert_false(tv_larger_alternator(system, 150, &larger));
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(every_way_to_state_a_curve), cmocka_unit_test(too_many_points)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
