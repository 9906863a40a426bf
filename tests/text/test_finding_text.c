/* Every finding has a sentence; figures are in the C locale and in the requested units. */
#include "support/assert_near.h"

#include <locale.h>
#include <string.h>

#include "text/finding_text.h"

/* A finding of every kind with every number set, so that none is omitted for lack of a figure. */
static struct tailvolt_finding filled(enum tailvolt_finding_kind kind) {
  struct tailvolt_finding f = {.kind = kind, .part_count = 3, .current_a = 80.5, .limit_a = 64.6, .most_a = 60, .peak_a = 90,
                               .voltage_v = 14.85, .limit_v = 14.6, .temperature_c = -15, .limit_c = 85, .air_c = 40,
                               .margin_k = 10, .length_m = 0.6, .limit_m = 0.45, .power_w = 9.25, .limit_w = 8,
                               .capacitance_f = 1, .crest_db = 2, .limit_db = 3.01, .charge_frac = 0.25, .time_s = 252,
                               .resistance_ohm = 6.9e-3, .limit_ohm = 4.2e-3};
  f.part[0] = (struct tailvolt_part){.kind = TAILVOLT_PART_CABLE, .name = "first", .size = "8 AWG"};
  f.part[1] = (struct tailvolt_part){.kind = TAILVOLT_PART_BATTERY, .name = "second"};
  f.part[2] = (struct tailvolt_part){.kind = TAILVOLT_PART_CABLE, .name = "third", .size = "4 AWG"};
  return f;
}

static void test_each_kind_has_its_own_sentence(void **state) {
  (void)state;
  static char text[TAILVOLT_FOUND_KINDS][TAILVOLT_TEXT_MAX];
  setlocale(LC_ALL, "de_DE.UTF-8"); /* where available; the figures must not change */
  for (int k = TAILVOLT_FOUND_NONE + 1; k < TAILVOLT_FOUND_KINDS; k++) {
    struct tailvolt_finding f = filled((enum tailvolt_finding_kind)k);
    tailvolt_finding_text(&f, false, text[k], sizeof text[k]);
    size_t length = strlen(text[k]);
    if (length < 20 || length > 220 || text[k][length - 1] == '.') fail_msg("kind %d says `%s`", k, text[k]);
    assert_null(strstr(text[k], "nan"));
    for (int j = 1; j < k; j++) assert_string_not_equal(text[j], text[k]);
  }
}

static void test_units_and_room(void **state) {
  (void)state;
  struct tailvolt_finding f = filled(TAILVOLT_FOUND_FUSE_FAR);
  char text[TAILVOLT_TEXT_MAX], room[8];
  tailvolt_finding_text(&f, false, text, sizeof text);
  assert_string_equal(text, "cable first is 60 cm of cable from battery second (at most 45 cm)");
  tailvolt_finding_text(&f, true, text, sizeof text);
  assert_string_equal(text, "cable first is 24 in of cable from battery second (at most 18 in)");
  f = filled(TAILVOLT_FOUND_CABLE_TOO_HOT);
  tailvolt_finding_text(&f, true, text, sizeof text);
  assert_string_equal(text, "cable first reaches 5 F at 80 A, above its insulation's 185 F");
  memset(room, '#', sizeof room);
  tailvolt_finding_text(&f, true, room, 4);
  assert_int_equal(room[3], 0);
  assert_int_equal(room[4], '#');
  /* no standard fuse is small enough */
  f = filled(TAILVOLT_FOUND_FUSE_TOO_BIG);
  f.most_a = (double)NAN;
  tailvolt_finding_text(&f, false, text, sizeof text);
  assert_non_null(strstr(text, "(no fuse of this kind is small enough)"));
}

static void test_same(void **state) {
  (void)state;
  struct tailvolt_finding a = filled(TAILVOLT_FOUND_FUSE_FAR), b = a;
  b.length_m = 9;
  assert_true(tv_finding_same(&a, &b)); /* whatever the figures */
  b.part[1].index = 1;
  assert_false(tv_finding_same(&a, &b));
  b = a;
  b.kind = TAILVOLT_FOUND_FUSE_OPENS;
  assert_false(tv_finding_same(&a, &b));
  b = a;
  b.part_count = 2;
  assert_false(tv_finding_same(&a, &b));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_each_kind_has_its_own_sentence),
                                     cmocka_unit_test(test_units_and_room), cmocka_unit_test(test_same)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
