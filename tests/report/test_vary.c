/* The tables of a variation, from results made by hand: the row kept as a line, and all rows as text, CSV and JSON. */
#include "support/assert_near.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "report/csv.h"
#include "report/vary_table.h"
#include "support/sample_result.h"

static struct sample fails, holds;
static struct tailvolt_variation *variation;
static char *lines[4]; /* the third belongs to another shard, the fourth could not be computed */

static char *line_of(long index, const struct tailvolt_result *result, const char *error, double parked_s) {
  struct tailvolt_vary_row row = {.index = index, .result = result, .error = error, .parked_s = parked_s};
  char *line = tv_vary_line(variation, &row);
  assert_non_null(line);
  assert_null(strchr(line, '\n'));
  return line;
}

static int make(void **state) {
  (void)state;
  static const char *const texts[] = {"cable feed.size = 8 AWG, 4 AWG", "alternator.rated current = 110 A, 150 A"};
  static struct tailvolt_faults faults;
  assert_int_equal(tailvolt_variation_parse(texts, 2, &variation, &faults), TAILVOLT_OK);
  sample_fails(&fails);
  sample_holds(&holds);
  lines[0] = line_of(0, &fails.result, "", 8580);
  lines[1] = line_of(1, &holds.result, "", HUGE_VAL);
  lines[2] = NULL;
  lines[3] = line_of(3, NULL, "cable feed is too long", NAN);
  return 0;
}

static int clear(void **state) {
  (void)state;
  for (int k = 0; k < 4; k++) free(lines[k]);
  tailvolt_variation_free(variation);
  return 0;
}

static void test_line(void **state) {
  (void)state;
  assert_true(tv_vary_line_is(variation, 0, lines[0]));
  assert_false(tv_vary_line_is(variation, 1, lines[0]));
  /* cut anywhere, it is not a line */
  char cut[8192];
  size_t length = strlen(lines[0]);
  assert_true(length < sizeof cut);
  for (size_t k = 0; k < length; k++) {
    memcpy(cut, lines[0], k);
    cut[k] = '\0';
    if (tv_vary_line_is(variation, 0, cut)) fail_msg("taken for whole: %s", cut);
  }
}

static void test_text(void **state) {
  (void)state;
  const struct tailvolt_report_style style = {0};
  char *text;
  assert_int_equal(tv_vary_text(variation, lines, &style, &text), TAILVOLT_OK);
  static const char wanted[] =
      "3 of 4 combinations: holds 1, marginal 0, fails 1, not computed 1\n"
      "lowest voltage from 10.90 V (8 AWG, 110 A) to 12.40 V (8 AWG, 150 A)\n"
      "\n"
      "(1) cable feed.size\n"
      "(2) alternator.rated current\n"
      "\n"
      "(1)    (2)    verdict  lowest V  1 % below V  charge %  plays parked  most lost in\n"
      "8 AWG  110 A  fails       10.90        11.02      88.5    2 h 23 min  feed cable\n"
      "8 AWG  150 A  holds       12.40        11.02      88.5     over 48 h  feed cable\n"
      "4 AWG  150 A  none            -            -         -             -\n"
      "4 AWG, 150 A: cable feed is too long\n";
  assert_string_equal(text, wanted);
  tailvolt_report_free(text);
}

/* With a full column for each key's name and figure it would be wider than a page. */
static void test_width(void **state) {
  (void)state;
  const struct tailvolt_report_style style = {0};
  char *text, *alone;
  alone = line_of(0, &fails.result, "", NAN);
  char *one[4] = {alone, NULL, NULL, NULL};
  assert_int_equal(tv_vary_text(variation, one, &style, &text), TAILVOLT_OK);
  assert_non_null(strstr(text, "\n(1) size  (2) rated current  verdict  lowest V  1 % below V  below %  mean A  charge %  "));
  for (const char *line = text; *line != '\0'; line = strchr(line, '\n') + 1) assert_true(strcspn(line, "\n") <= 100);
  tailvolt_report_free(text);
  free(alone);
}

/* How many cells a line of CSV has, none of which holds a comma here. */
static int cells(const char *line) {
  int count = 1;
  for (; *line != '\0' && *line != '\n'; line++) count += *line == ',';
  return count;
}

static void test_csv(void **state) {
  (void)state;
  char *text;
  assert_int_equal(tv_vary_csv(variation, lines, &text), TAILVOLT_OK);
  static const char head[] = "row,cable feed.size,alternator.rated current,status,bass:rest_v,bass:min_v,";
  assert_memory_equal(text, head, sizeof head - 1);
  const char *first = strchr(text, '\n') + 1, *second = strchr(first, '\n') + 1, *third = strchr(second, '\n') + 1;
  assert_memory_equal(first, "1,8 AWG,110 A,fails,12.7,10.9,252,", 34);
  assert_memory_equal(second, "2,8 AWG,150 A,holds,12.7,12.4,", 30);
  assert_memory_equal(third, "4,4 AWG,150 A,not computed,,,,", 30);
  assert_non_null(strstr(third, ",cable feed is too long\n"));
  for (const char *line = first; line[-1] != '\0' && *line != '\0'; line = strchr(line, '\n') + 1)
    assert_int_equal(cells(line), cells(text));
  tailvolt_report_free(text);
}

/* What a spreadsheet would run stays text; figures with a sign stay as they are. */
static void test_formulas(void **state) {
  (void)state;
  static const struct {
    const char *from, *to;
  } table[] = {{"=1+2", "'=1+2"}, {"@SUM(A1)", "'@SUM(A1)"}, {"+cmd", "'+cmd"}, {"-x,\"y\"", "\"'-x,\"\"y\"\"\""},
               {"-3 dB", "-3 dB"}, {"+2", "+2"}, {"-.5", "-.5"},
               {"+1+1", "'+1+1"}, {"-2+3:v_min", "'-2+3:v_min"}, {"-2:A1", "'-2:A1"}, {"+1e3*A1", "'+1e3*A1"}, {"-", "'-"},
               {"-2.3", "-2.3"}, {"+1e-3", "+1e-3"}, {"-5.", "-5."}, {"+10%", "+10%"}, {"-40 C", "-40 C"}, {"-40C", "-40C"},
               {"feed", "feed"}, {"a,b", "\"a,b\""},
               {"\x1b[31m", "?[31m"}, {"", ""}};
  for (size_t k = 0; k < sizeof table / sizeof table[0]; k++) {
    struct tv_buffer cell = {0};
    char *text;
    tv_csv_text(&cell, table[k].from);
    assert_int_equal(tv_buffer_finish(&cell, &text), TAILVOLT_OK);
    assert_string_equal(text, table[k].to);
    free(text);
  }
}

static void test_json(void **state) {
  (void)state;
  char *text;
  assert_int_equal(tv_vary_json(variation, lines, &text), TAILVOLT_OK);
  json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, NULL), *rows = json_object_get(root, "rows");
  assert_int_equal(json_array_size(json_object_get(root, "keys")), 2);
  assert_int_equal(json_array_size(rows), 3);
  json_t *first = json_array_get(rows, 0), *second = json_array_get(rows, 1), *third = json_array_get(rows, 2);
  json_t *sag = json_array_get(json_object_get(first, "sag"), 0);
  assert_string_equal(json_string_value(json_object_get(first, "status")), "fails");
  assert_string_equal(json_string_value(json_object_get(sag, "worst_part")), "feed cable");
  assert_near(json_real_value(json_object_get(sag, "battery_drop_v")), 0.48, 1e-12);
  assert_near(json_real_value(json_object_get(sag, "feed_drop_v")), 0.91, 1e-12);
  assert_near(json_real_value(json_object_get(sag, "ground_drop_v")), 0.41, 1e-12);
  assert_near(json_real_value(json_object_get(json_object_get(first, "parked"), "until_s")), 8580, 0);
  assert_true(json_is_true(json_object_get(json_object_get(second, "parked"), "beyond_limit")));
  assert_true(json_is_null(json_object_get(third, "parked")));
  assert_true(json_is_null(json_object_get(third, "alternator")));
  assert_string_equal(json_string_value(json_object_get(third, "error")), "cable feed is too long");
  json_decref(root);
  tailvolt_report_free(text);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_line), cmocka_unit_test(test_text), cmocka_unit_test(test_width),
                                     cmocka_unit_test(test_csv),
                                     cmocka_unit_test(test_formulas),
                                     cmocka_unit_test(test_json)};
  return cmocka_run_group_tests(tests, make, clear);
}
