/* What a verdict hangs on: run again with the value said, the verdict is the other one; one grain nearer it is not. */
#include "support/assert_near.h"

#include <stdio.h>

#include "tailvolt/study.h"
#include "support/scenes.h"

#define CAR                                                                                                  \
  "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[cable feed]\nsize = 4 AWG\nlength = "  \
  "5 m\n"
static const char drive[] = "time_s,engine_rpm,programme\n0,800,music\n25,800,music\n";

static enum tailvolt_verdict verdict_with(const char *text, const char *key, const char *value) {
  struct tailvolt_system *system = scene_parse(text);
  if (key != NULL) assert_int_equal(tailvolt_system_set(system, key, value), TAILVOLT_OK);
  struct tailvolt_profile *profile = scene_profile(system, drive);
  struct tailvolt_options options = tailvolt_default_options();
  struct tailvolt_result *result = scene_run(system, profile, &options);
  enum tailvolt_verdict verdict = result->status;
  tailvolt_result_free(result);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return verdict;
}

static struct tailvolt_hangs_on ask(const char *text, enum tailvolt_verdict *verdict) {
  struct tailvolt_system *system = scene_parse(text);
  struct tailvolt_profile *profile = scene_profile(system, drive);
  struct tailvolt_options options = tailvolt_default_options();
  struct tailvolt_result *result = scene_run(system, profile, &options);
  struct tailvolt_hangs_on hangs;
  assert_int_equal(tailvolt_find_hangs_on(system, profile, &options, result, &hangs), TAILVOLT_OK);
  *verdict = result->status;
  tailvolt_result_free(result);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return hangs;
}

/* Everything but the base load is given, so that it alone can be what the verdict hangs on. */
#define GIVEN CAR "[programme music]\ncrest factor = 10 dB\n[amplifier bass]\nrated power = %d W\n"

static void check(int power_w, enum tailvolt_verdict wanted) {
  static const struct {
    const char *key, *unit;
    double in, grain;
  } values[TAILVOLT_HANGS_ON_VALUES] = {
      {"vehicle.base load", "A", 1.0, 1.0},      {"programme music.crest factor", "dB", 1.0, 0.1},
      {"alternator.low current", "A", 1.0, 1.0}, {"battery.state of charge", "%", 0.01, 0.01},
      {"battery.health", "%", 0.01, 0.01},       {"joint body shell.resistance", "mohm", 1e-3, 1e-4}};
  char text[1024], value[64];
  enum tailvolt_verdict verdict;
  snprintf(text, sizeof text, GIVEN, power_w);
  struct tailvolt_hangs_on hangs = ask(text, &verdict);
  assert_int_equal(verdict, wanted);
  assert_true(hangs.known);
  assert_int_not_equal(hangs.value, TAILVOLT_HANGS_ON_CREST_FACTOR); /* it is given */
  double nearer = hangs.limit + (hangs.above ? -1.0 : 1.0) * values[hangs.value].grain;
  snprintf(value, sizeof value, "%.4g %s", hangs.limit / values[hangs.value].in, values[hangs.value].unit);
  assert_int_equal(verdict_with(text, values[hangs.value].key, value) == TAILVOLT_HOLDS,
                   wanted != TAILVOLT_HOLDS);
  snprintf(value, sizeof value, "%.4g %s", nearer / values[hangs.value].in, values[hangs.value].unit);
  assert_int_equal(verdict_with(text, values[hangs.value].key, value) == TAILVOLT_HOLDS,
                   wanted == TAILVOLT_HOLDS);
}

/* The greatest power that still holds hangs on a value, and so does the least that does not. */
static void test_turning(void **state) {
  (void)state;
  char text[1024];
  int holds_w = 300, fails_w = 1500;
  while (fails_w - holds_w > 20) {
    int middle_w = (holds_w + fails_w) / 2;
    snprintf(text, sizeof text, GIVEN, middle_w);
    if (verdict_with(text, NULL, NULL) == TAILVOLT_HOLDS)
      holds_w = middle_w;
    else
      fails_w = middle_w;
  }
  check(holds_w, TAILVOLT_HOLDS);
  check(fails_w, TAILVOLT_MARGINAL);
}

/* Far from turning nothing is tried, and of what the file gives nothing is said. */
static void test_far(void **state) {
  (void)state;
  char text[1024];
  enum tailvolt_verdict verdict;
  snprintf(text, sizeof text, GIVEN, 30);
  assert_false(ask(text, &verdict).known);
  assert_int_equal(verdict, TAILVOLT_HOLDS);
  snprintf(text, sizeof text, GIVEN, 4000);
  assert_false(ask(text, &verdict).known);
  assert_int_equal(verdict, TAILVOLT_FAILS);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_turning), cmocka_unit_test(test_far)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
