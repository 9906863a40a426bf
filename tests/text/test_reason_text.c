/* Reasons for a verdict, and cautions of a remedy, as sentences. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>

#include "tailvolt/remedy.h"

static struct tailvolt_reason reason_of(enum tailvolt_reason_kind kind, double number, double limit, double time_s) {
  struct tailvolt_reason r = {.kind = kind, .status = TAILVOLT_FAILS, .number = number, .limit = limit, .time_s = time_s,
                              .about = {.kind = TAILVOLT_PART_AMPLIFIER, .name = "bass"}};
  r.share_pct = r.least_v = r.allowed_pct = r.wanted_s = r.from_v = (double)NAN;
  return r;
}

static void assert_reason(const struct tailvolt_reason *reason, const char *wanted) {
  char text[TAILVOLT_TEXT_MAX];
  tailvolt_reason_text(reason, false, text, sizeof text);
  assert_string_equal(text, wanted);
}

static void test_each_kind(void **state) {
  (void)state;
  struct tailvolt_reason r = reason_of(TAILVOLT_REASON_BELOW_TARGET, 10.213, 12, 145.25);
  r.allowed_pct = 1;
  r.least_v = 9.456;
  r.from_v = 0.08;
  assert_reason(&r, "bass is below 10.21 V for 1 % of the time (wanted 12.0 V; fails from 0.08 V below it), lowest 9.46 V at 2:25");
  r.kind = TAILVOLT_REASON_NEAR_TARGET;
  r.from_v = 0.1;
  assert_reason(&r, "bass is below 10.21 V for 1 % of the time (wanted 12.0 V; holds from 0.1 V above it), lowest 9.46 V at 2:25");
  r = reason_of(TAILVOLT_REASON_COLLAPSES, 1, (double)NAN, 3.42);
  assert_reason(&r, "bass asks for more than its wiring can carry: the supply collapses 1 time, first at 0:03.4");
  r = reason_of(TAILVOLT_REASON_CUTS_OUT, 7, (double)NAN, 12.34);
  assert_reason(&r, "bass cuts out 7 times, silent for 12.3 s");
  r = reason_of(TAILVOLT_REASON_CHARGE_LOST, 12.14, 6, 7200);
  r.wanted_s = 4 * 3600;
  r.about.index = -1;
  assert_reason(&r, "the battery loses 12.1 A at idle: half charge after 2.0 h (at least 4.0 h wanted)");
  r.time_s = 0;
  assert_reason(&r, "the battery loses 12.1 A at idle: already below half charge (at least 4.0 h wanted)");
  r = reason_of(TAILVOLT_REASON_CHARGE_MIX, 3.26, 0, (double)NAN);
  r.share_pct = 40;
  r.about.index = -1;
  assert_reason(&r, "the battery loses 3.3 A averaged over 40 % idling and 60 % driving: the road does not put back what idling takes");
  r.about.index = 1;
  snprintf(r.about.name, sizeof r.about.name, "second");
  assert_reason(&r, "battery second loses 3.3 A averaged over 40 % idling and 60 % driving: the road does not put back what idling takes");
  r = reason_of(TAILVOLT_REASON_CHARGE_ROAD, 3.26, 0, (double)NAN);
  r.about.index = -1;
  assert_reason(&r, "the battery loses 3.3 A even on the road");
}

/* A safety reason is its finding, in the reader's units. */
static void test_safety(void **state) {
  (void)state;
  struct tailvolt_reason r = reason_of(TAILVOLT_REASON_SAFETY, (double)NAN, (double)NAN, (double)NAN);
  char text[TAILVOLT_TEXT_MAX], finding[TAILVOLT_TEXT_MAX];
  r.finding = (struct tailvolt_finding){.kind = TAILVOLT_FOUND_FUSE_FAR, .part_count = 2, .length_m = 0.9, .limit_m = 0.45,
                                        .part = {{.kind = TAILVOLT_PART_FUSE, .name = "main"}, {.kind = TAILVOLT_PART_BATTERY}}};
  for (int us = 0; us < 2; us++) {
    tailvolt_reason_text(&r, us == 1, text, sizeof text);
    tailvolt_finding_text(&r.finding, us == 1, finding, sizeof finding);
    assert_string_equal(text, finding);
    assert_non_null(strstr(text, us == 1 ? " in" : " cm"));
  }
}

/* No buffer is overrun, and every cut text is terminated. */
static void test_small_buffers(void **state) {
  (void)state;
  struct tailvolt_reason r = reason_of(TAILVOLT_REASON_CUTS_OUT, 2, (double)NAN, 1);
  char text[8] = "xxxxxxx";
  tailvolt_reason_text(&r, false, text, 0);
  assert_string_equal(text, "xxxxxxx");
  tailvolt_reason_text(&r, false, text, 5);
  assert_string_equal(text, "bass");
}

static void test_remedy_cautions(void **state) {
  (void)state;
  char all[TAILVOLT_REMEDY_BOUND + 1][TAILVOLT_TEXT_MAX];
  for (int k = 0; k <= TAILVOLT_REMEDY_BOUND; k++) {
    struct tailvolt_remedy_caution caution = {.kind = (enum tailvolt_remedy_caution_kind)k, .current_a = 90,
                                              .finding = {.kind = TAILVOLT_FOUND_RIPPLE_COARSE},
                                              .reason = reason_of(TAILVOLT_REASON_CUTS_OUT, 2, (double)NAN, 1.5)};
    tailvolt_remedy_caution_text(&caution, false, all[k], sizeof all[k]);
    assert_true(strlen(all[k]) > 20);
    for (int j = 0; j < k; j++) assert_string_not_equal(all[j], all[k]);
  }
  assert_string_equal(all[TAILVOLT_REMEDY_ONLY_JUST], "only just: bass cuts out 2 times, silent for 1.5 s");
  assert_non_null(strstr(all[TAILVOLT_REMEDY_CHARGE_LEAD], "(90 A)"));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_each_kind), cmocka_unit_test(test_safety),
                                     cmocka_unit_test(test_small_buffers), cmocka_unit_test(test_remedy_cautions)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
