/* The remedy's text, JSON and CSV from a remedy made by hand: every table shows its figures and says what is missing. */
#include "support/assert_near.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "support/sample_result.h"
#include "tailvolt/remedy.h"
#include "tailvolt/report.h"

static struct sample fails, holds;
static struct tailvolt_worth worth[2];
static struct tailvolt_change changes[2];
static struct tailvolt_remedy_lead lead[3];
static struct tailvolt_remedy_fuse fuse;
static struct tailvolt_remedy_caution of_set[2], of_search[1];
static struct tailvolt_remedy remedy;

static int make(void **state) {
  (void)state;
  sample_fails(&fails);
  sample_holds(&holds);
  worth[0] = (struct tailvolt_worth){.cure = TAILVOLT_CURE_FEED, .what = "4 AWG feed", .gain_v = 0.61, .min_v = 11.51,
                                     .below_pct = 7.25, .gain_pct = 23.75, .gain_ah = 0.12, .parked_s = NAN,
                                     .gain_parked_s = NAN, .cost = 80, .effort_h = 2.5, .size = 1};
  worth[1] = (struct tailvolt_worth){.cure = TAILVOLT_CURE_CAPACITOR, .what = "1 F capacitor", .gain_v = 0.02,
                                     .min_v = 10.92, .below_pct = 30.5, .gain_pct = 0.5, .parked_s = NAN,
                                     .gain_parked_s = NAN, .cost = 60, .effort_h = 1, .size = 1};
  changes[0] = (struct tailvolt_change){.key = "cable feed.size", .value = "4 AWG", .cure = TAILVOLT_CURE_FEED,
                                        .effort_h = 2.5, .price = 120};
  changes[1] = (struct tailvolt_change){.key = "alternator.rated current", .value = "150 A",
                                        .cure = TAILVOLT_CURE_ALTERNATOR, .effort_h = 2, .price = 480};
  fuse = (struct tailvolt_remedy_fuse){.name = "main", .rating_a = 60, .rms_a = 36, .smallest_a = 50, .largest_a = 80};
  lead[0] = (struct tailvolt_remedy_lead){.kind = TAILVOLT_PART_CABLE, .name = "feed", .size = "4 AWG", .before = "8 AWG",
                                          .length_m = 5.5};
  lead[1] = (struct tailvolt_remedy_lead){.kind = TAILVOLT_PART_STRAP, .name = "engine", .size = "35 mm2", .length_m = 0.4};
  lead[2] = (struct tailvolt_remedy_lead){.kind = TAILVOLT_PART_CABLE, .name = "cable", .size = "1 AWG", .added = true,
                                          .length_m = 0.5};
  of_set[0] = (struct tailvolt_remedy_caution){.kind = TAILVOLT_REMEDY_FEED, .current_a = NAN};
  of_set[1] = (struct tailvolt_remedy_caution){.kind = TAILVOLT_REMEDY_CHARGE_LEAD, .current_a = 110};
  of_search[0] = (struct tailvolt_remedy_caution){.kind = TAILVOLT_REMEDY_BOUND, .current_a = NAN};
  remedy = (struct tailvolt_remedy){.system = "van.ini", .profile = "evening.csv", .before = &fails.result,
                                    .margin_before_v = -1.1, .below_before_pct = 31, .margin_fitted_v = -1.1,
                                    .below_fitted_pct = 31, .shortage = TAILVOLT_SHORTAGE_WIRE,
                                    .voltage_short = true, .worst_wire_kind = TAILVOLT_PART_CABLE, .worst_wire = "feed",
                                    .worst_wire_v = 0.72, .worth_count = 2, .worth = worth,
                                    .found = true, .sure_frac = NAN, .level_db = NAN, .quieter_db = NAN, .currency = "EUR",
                                    .parked_wanted_s = NAN, .parked_before_s = NAN, .runs = 90, .whole_runs = 40,
                                    .caution_count = 1, .cautions = of_search};
  remedy.chosen = (struct tailvolt_remedy_set){.what = "4 AWG feed + 150 A alternator", .change_count = 2,
                                               .changes = changes, .cost = 300, .effort_h = 4.5, .price = 600,
                                               .margin_v = 0.4, .below_pct = 0, .parked_s = NAN, .result = &holds.result,
                                               .lead_count = 3, .leads = lead, .fuse_count = 1, .fuses = &fuse, .caution_count = 2,
                                               .cautions = of_set};
  static const enum tailvolt_cure asked[TAILVOLT_ANSWERS] = {TAILVOLT_CURE_CAPACITOR, TAILVOLT_CURE_SECOND_BATTERY,
                                                             TAILVOLT_CURE_FEED, TAILVOLT_CURE_GROUND,
                                                             TAILVOLT_CURE_ALTERNATOR};
  for (int k = 0; k < TAILVOLT_ANSWERS; k++) {
    remedy.answers[k].gain_v = 0.1 * k;
    remedy.answers[k].cure = asked[k];
    remedy.answers[k].kind = TAILVOLT_ANSWER_BRINGS_LITTLE;
    snprintf(remedy.answers[k].with, sizeof remedy.answers[k].with, "part %d", k);
  }
  return 0;
}

static char *text_of(bool us_units) {
  const struct tailvolt_report_style style = {.us_units = us_units};
  char *text = NULL;
  assert_int_equal(tailvolt_report_remedy_text(&fails.system, &remedy, &style, &text), TAILVOLT_OK);
  for (const char *line = text; *line != '\0';) {
    size_t length = strcspn(line, "\n");
    if (length > 100) fail_msg("%d columns: %.110s", (int)length, line);
    line += length + (line[length] == '\n');
  }
  return text;
}

static void has(const char *text, const char *words) {
  if (strstr(text, words) == NULL) fail_msg("lacks `%s` in\n%s", words, text);
}

/* The line that begins with `name`, its blanks as one. */
static void has_row(const char *text, const char *name, const char *row) {
  char line[128] = "";
  size_t used = 0;
  const char *at = strstr(text, name);
  if (at == NULL) fail_msg("lacks `%s`", name);
  for (; *at != '\n' && used + 1 < sizeof line; at++)
    if (*at != ' ' || (used > 0 && line[used - 1] != ' ')) line[used++] = *at;
  while (used > 0 && line[used - 1] == ' ') used--;
  line[used] = '\0';
  assert_string_equal(line, row);
}

static void test_found(void **state) {
  (void)state;
  char *text = text_of(false);
  has_row(strstr(text, "CABLES TO LAY"), "cable feed", "cable feed 4 AWG 5.5 m 8 AWG");
  has_row(strstr(text, "CABLES TO LAY"), "strap engine", "strap engine 35 mm2 40 cm -");
  has_row(strstr(text, "CABLES TO LAY"), "  cable  ", "cable 1 AWG 50 cm new");
  has(text, "4 AWG feed");
  has(text, "150 A alternator");
  has(text, "0.61");
  has(text, "7.2");
  has(text, "cable feed.size");
  has(text, "alternator.rated current");
  has(text, "600 EUR");
  has(text, "made for the old one (110 A)");
  has(text, "limit of runs");
  for (int k = 0; k < TAILVOLT_ANSWERS; k++) {
    char words[64];
    snprintf(words, sizeof words, "useless here; even part %d brings 0.%d0 V", k, k);
    has(text, words);
  }
  tailvolt_report_free(text);
}

/* A cheaper cure that holds by itself is told; what quieter music does not put right too. */
static void test_cheaper_alone_and_unsafe(void **state) {
  (void)state;
  char *text = text_of(false);
  assert_null(strstr(text, "ALONE   "));
  tailvolt_report_free(text);
  worth[0].meets = true;
  remedy.level_looked_for = true;
  remedy.quieter_db = 3;
  remedy.before->safety = TAILVOLT_HOLDS;
  text = text_of(false);
  has(text, "ALONE   4 AWG feed holds by itself and is cheaper");
  has(text, "QUIETER 3 dB quieter holds without any part: it costs nothing");
  assert_null(strstr(text, "SAFETY FAILS"));
  tailvolt_report_free(text);
  enum tailvolt_verdict status = remedy.before->status;
  remedy.before->status = TAILVOLT_HOLDS;
  text = text_of(false);
  assert_null(strstr(text, "QUIETER")); /* the volts hold as loud as it is */
  tailvolt_report_free(text);
  remedy.before->status = status;
  remedy.sure_frac = 0.9;
  text = text_of(false);
  assert_null(strstr(text, "ALONE   "));
  tailvolt_report_free(text);
  remedy.sure_frac = NAN;
  remedy.before->safety = TAILVOLT_FAILS;
  worth[0].cost = 301; /* the set costs 300 */
  text = text_of(false);
  assert_null(strstr(text, "ALONE   "));
  has(text, "QUIETER 3 dB quieter holds without any part, once what SAFETY names is right");
  has(text, "; SAFETY FAILS");
  assert_null(strstr(text, "loses charge"));
  tailvolt_report_free(text);
  remedy.charge_short = true;
  text = text_of(false);
  has(text, "(wanted 12 V); a battery loses charge;\n        SAFETY FAILS\n");
  tailvolt_report_free(text);
}

/* Nothing is enough: unsafe findings come first, no set is made up. */
/* The times of an evening as `parked` writes them; a set's is the quick search's. */
static void test_playing_time(void **state) {
  (void)state;
  remedy.parked_before_s = 1326;
  remedy.parked_wanted_s = 3600;
  remedy.chosen.parked_s = 4140;
  char *text = text_of(false);
  has(text, "PARKED  plays about 1 h 09 min (wanted 1 h)\n");
  has(text, "  parked: plays 22 min (wanted 1 h)\n");
  tailvolt_report_free(text);
}

static void test_none_found(void **state) {
  (void)state;
  remedy.found = false;
  remedy.chosen.change_count = remedy.chosen.caution_count = remedy.chosen.fuse_count = 0;
  remedy.chosen.result = NULL;
  char *text = text_of(false);
  has(text, "nothing that is on offer is enough");
  has(text, "FIRST   fuse main 80 A too big for 8 AWG");
  assert_null(strstr(text, "600 EUR"));
  tailvolt_report_free(text);
  remedy.partial = true;
  text = text_of(false);
  has(text, "stopped early");
  assert_null(strstr(text, "nothing that is on offer"));
  tailvolt_report_free(text);
}

/* The reader's units reach the sentences too. */
static void test_us_units(void **state) {
  (void)state;
  remedy.found = false;
  char *metric = text_of(false), *us = text_of(true);
  has(metric, "air of 30 C");
  has(us, "air of 86 F");
  remedy.found = true;
  tailvolt_report_free(us);
  us = text_of(true);
  has_row(strstr(us, "CABLES TO LAY"), "cable feed", "cable feed 4 AWG 18.0 ft 8 AWG");
  remedy.found = false;
  tailvolt_report_free(metric);
  tailvolt_report_free(us);
}

static void test_json(void **state) {
  (void)state;
  char *text = NULL;
  json_error_t error;
  assert_int_equal(tailvolt_report_remedy_json(&fails.system, &remedy, &text), TAILVOLT_OK);
  json_t *root = json_loads(text, 0, &error);
  if (root == NULL) fail_msg("%s", error.text);
  json_t *body = json_object_get(root, "remedy"), *cautions = json_object_get(json_object_get(body, "after"), "cautions");
  assert_int_equal(json_array_size(cautions), 2);
  has(json_string_value(json_array_get(cautions, 1)), "(110 A)");
  assert_int_equal(json_array_size(json_object_get(body, "cautions")), 1);
  json_t *leads = json_object_get(json_object_get(body, "chosen_set"), "leads"), *strap = json_array_get(leads, 1);
  assert_int_equal(json_array_size(leads), 3);
  assert_string_equal(json_string_value(json_object_get(strap, "kind")), "strap");
  assert_string_equal(json_string_value(json_object_get(strap, "size")), "35 mm2");
  assert_near(json_number_value(json_object_get(strap, "length_m")), 0.4, 1e-12);
  assert_true(json_is_true(json_object_get(json_array_get(leads, 2), "added")));
  assert_int_equal(json_array_size(json_object_get(body, "worth")), 2);
  json_t *first = json_array_get(json_object_get(body, "worth"), 0);
  assert_near(json_number_value(json_object_get(first, "gain_v")), 0.61, 1e-12);
  json_decref(root);
  tailvolt_report_free(text);
}

static void test_csv(void **state) {
  (void)state;
  char *text = NULL;
  int lines = 0;
  assert_int_equal(tailvolt_report_remedy_csv(&remedy, &text), TAILVOLT_OK);
  for (const char *at = text; (at = strchr(at, '\n')) != NULL; at++) lines++;
  assert_true(lines >= 3); /* a header and a row for each cure */
  has(text, "4 AWG feed");
  has(text, "1 F capacitor");
  has(text, "0.61");
  tailvolt_report_free(text);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test_setup(test_found, make), cmocka_unit_test_setup(test_none_found, make),
      cmocka_unit_test_setup(test_cheaper_alone_and_unsafe, make),
      cmocka_unit_test_setup(test_us_units, make), cmocka_unit_test_setup(test_json, make),
      cmocka_unit_test_setup(test_csv, make), cmocka_unit_test_setup(test_playing_time, make)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
