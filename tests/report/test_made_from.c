/* Where the line that names a job stands in a text report. */
#include "support/assert_near.h"

#include <stdlib.h>
#include <string.h>

#include "report/made_from.h"
#include "report/text_parts.h"
#include "tailvolt/tailvolt.h"

static char *with_job(const char *report, bool labelled) {
  struct tv_made_from made = {.command = "simulate"};
  char *text = strdup(report);
  assert_int_equal(tv_made_into_text(&made, NULL, 80, labelled, &text), TAILVOLT_OK);
  return text;
}

/* It is one more of the last paragraphs with a label, or stands by itself; what the report says there does not decide. */
static void test_blank_line(void **state) {
  (void)state;
  static const char *const reports[] = {"HOLDS\n\nASSUMED 9 values\n", "HOLDS\n\nASSUMED cable  8 AWG\n", "HOLDS\n"};
  for (size_t k = 0; k < sizeof reports / sizeof *reports; k++) {
    char *one_more = with_job(reports[k], true), *alone = with_job(reports[k], false);
    size_t length = strlen(reports[k]);
    assert_memory_equal(one_more, reports[k], length);
    assert_memory_equal(alone, reports[k], length);
    assert_memory_equal(one_more + length, "MADE BY ", 8);
    assert_memory_equal(alone + length, "\nMADE BY ", 9);
    free(one_more), free(alone);
  }
}

/* What tells the two apart is what the report does. */
static void test_ends_assumed(void **state) {
  (void)state;
  static struct tailvolt_faults faults;
  static const char car[] = "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\n"
                            "rated power = 800 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n";
  struct tailvolt_system *system = NULL;
  assert_int_equal(tailvolt_system_parse(car, "car.ini", NULL, 0, &system, &faults), TAILVOLT_OK);
  assert_true(system->assumption_count > 0);
  struct tailvolt_system nothing_assumed = *system;
  nothing_assumed.assumption_count = 0;
  const struct tailvolt_system *const systems[] = {system, &nothing_assumed, NULL};
  struct tailvolt_profile *profiles[TAILVOLT_STANDARD_PROFILES] = {NULL};
  struct tailvolt_result *result = NULL;
  struct tailvolt_options options = tailvolt_default_options();
  int count = 0;
  options.time_step_s = 0.01;
  assert_int_equal(tailvolt_standard_profiles(system, profiles, &count), TAILVOLT_OK);
  assert_int_equal(tailvolt_simulate(system, profiles[0], &options, &result, NULL), TAILVOLT_OK);
  for (int k = 0; k < 6; k++) {
    const struct tailvolt_report_style style = {.details = k >= 3};
    const struct tailvolt_result *run = result;
    char *text = NULL;
    const char *last = NULL;
    assert_int_equal(tailvolt_report_text(systems[k % 3], &run, 1, NULL, &style, &text), TAILVOLT_OK);
    last = text;
    for (const char *at = text; (at = strstr(at, "\n\n")) != NULL;) last = at += 2;
    assert_int_equal(strncmp(last, "ASSUMED ", 8) == 0, tv_text_ends_assumed(systems[k % 3], &style));
    assert_int_equal(tv_text_ends_assumed(systems[k % 3], &style), k == 0);
    tailvolt_report_free(text);
  }
  tailvolt_result_free(result);
  for (int k = 0; k < count; k++) tailvolt_profile_free(profiles[k]);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_blank_line), cmocka_unit_test(test_ends_assumed)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
