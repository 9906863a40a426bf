/* The report on a parked car from a study made by hand: five lines, the discharge, batteries, the spread, and what is omitted
 * where it is not known. */
#include "support/assert_near.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "support/sample_result.h"
#include "tailvolt/report.h"
#include "tailvolt/study.h"

static struct sample sample;
static struct tailvolt_parked_battery batteries[2];
static struct tailvolt_parked_moment moments[3];
static struct tailvolt_finding finding;
static struct tailvolt_parked parked;

static int make(void **state) {
  (void)state;
  sample_holds(&sample);
  batteries[0] = (struct tailvolt_parked_battery){.name = "starter", .start_soc_pct = 85, .end_soc_pct = 50,
                                                  .end_rest_v = 12.24, .taken_ah = 16.8, .limit_pct = 50,
                                                  .share_pct = 80, .starts_car = true, .feeds_music = true};
  batteries[1] = (struct tailvolt_parked_battery){.name = "second", .start_soc_pct = 90, .end_soc_pct = 84,
                                                  .end_rest_v = 12.6, .taken_ah = 4.2, .limit_pct = NAN, .share_pct = 20};
  for (int k = 0; k < 3; k++)
    moments[k] = (struct tailvolt_parked_moment){.time_s = 3600.0 * k, .soc_pct = 85 - 17 * k, .rest_v = 12.7 - 0.23 * k,
                                                 .mean_a = 7, .min_v = 12.1 - 0.2 * k, .cranking_v = 11.2 - 0.25 * k,
                                                 .floor_v = 8, .music_soc_pct = 85 - 17 * k, .music_rest_v = 12.7};
  finding = (struct tailvolt_finding){.kind = TAILVOLT_FOUND_CABLE_UNFUSED_FACTORY, .part_count = 2,
                                      .part = {{.kind = TAILVOLT_PART_CABLE, .name = "charge lead"},
                                               {.kind = TAILVOLT_PART_BATTERY, .name = "starter"}}};
  parked = (struct tailvolt_parked){
      .system = "van.ini", .step_s = 0.0005, .steps = 123456, .checkpoints = 9, .passes = 2, .level_db = -3,
      .ambient_c = 10, .restart_s = 17760, .cut_out_s = NAN, .rest_limit_s = 8580, .until_s = 8580, .followed_s = 18000,
      .ends_by = TAILVOLT_ENDS_BY_REST_LIMIT, .limit_battery = "starter", .soc_limit_pct = 50, .rest_limit_v = NAN,
      .limit_s = 172800, .taken_ah = 21, .taken_j = 900000, .mean_a = 7, .starter = "starter", .soc_pct = 50,
      .rest_v = 12.24, .paused_v = 12.12, .cranking_v = 10.7, .starts = true, .floor_v = 8, .pause_s = 60,
      .cranking_a = 180, .breakaway_a = 520, .battery_count = 2, .batteries = batteries, .back_soc_pct = 85,
      .idle_s = 8340, .town_s = NAN, .motorway_s = 5000, .wanted_s = NAN, .wanted_level_db = NAN, .moment_count = 3,
      .moments = moments, .strict_floor_v = NAN, .strict_until_s = NAN, .standing_s = NAN, .standing_after_s = 86400 * 20.0,
      .key_off_a = 0.03, .finding_count = 1, .findings = &finding};
  parked.spread = (struct tailvolt_parked_spread){.vehicles = 64, .done = 64, .until_s = {6000, 8580, 12000},
                                                  .restart_s = {12000, 17760, NAN}, .cut_out_s = {NAN, NAN, NAN},
                                                  .rest_limit_s = {6000, 8580, 12000}, .not_starting_pct = NAN,
                                                  .too_short_pct = NAN, .holds_low_pct = NAN, .holds_high_pct = NAN};
  static const struct tailvolt_parked_quantiles known = {NAN, NAN, NAN};
  parked.spread_soonest = (struct tailvolt_parked_soonest){known, {172800, 172800, 172800}, known, NAN};
  parked.certainty = (struct tailvolt_certainty){.known = true, .vehicles = 64, .holds_pct = NAN, .holds_low_pct = NAN,
                                                 .holds_high_pct = NAN, .min_v = {NAN, NAN, NAN}, .below_target_pct = NAN,
                                                 .charge_lost_pct = NAN, .unexplained_pct = 7, .level_db = NAN,
                                                 .measure_first_count = 2};
  parked.certainty.measure_first[0] =
      (struct tailvolt_measure_first){.key = "battery.health", .part = {.kind = TAILVOLT_PART_BATTERY},
                                      .value = TAILVOLT_VALUE_HEALTH, .factor = TAILVOLT_FACTOR_AGE, .share_pct = 51, .error_pct = 3};
  parked.certainty.measure_first[1] =
      (struct tailvolt_measure_first){.key = "battery.state of charge", .part = {.kind = TAILVOLT_PART_BATTERY},
                                      .value = TAILVOLT_VALUE_CHARGE, .factor = TAILVOLT_FACTOR_CHARGE, .share_pct = 30, .error_pct = 3};
  return 0;
}

static char *text_of(bool us_units) {
  const struct tailvolt_report_style style = {.us_units = us_units, .details = true};
  char *text = NULL;
  assert_int_equal(tailvolt_report_parked_text(&sample.system, &parked, &style, &text), TAILVOLT_OK);
  for (const char *line = text; *line != '\0';) {
    size_t length = strcspn(line, "\n");
    if (length > 100) fail_msg("%d columns: %.110s", (int)length, line);
    line += length + (line[length] == '\n');
  }
  assert_null(strstr(text, "nan"));
  return text;
}

static void has(const char *text, const char *words) {
  if (strstr(text, words) == NULL) fail_msg("lacks `%s` in\n%s", words, text);
}

static void test_first_screen(void **state) {
  (void)state;
  char *text = text_of(false);
  has(text, "PLAYS   2 h 23 min");
  has(text, "no start after 4 h 56 min");
  has(text, "12.24 V rested");
  has(text, "12.12 V after 60 s of silence");
  has(text, "10.7 V");
  has(text, "8 of 10 such cars play 1 h 40 min to 3 h 20 min with this music\n        measure first: battery health, battery charge\n");
  has(text, "charge lead");
  tailvolt_report_free(text);
}

/* Unknowns are not made up: no number stands for "later than the limit". */
static void test_beyond_what_was_looked_at(void **state) {
  (void)state;
  parked.until_s = parked.followed_s = parked.limit_s;
  parked.restart_s = parked.rest_limit_s = NAN;
  parked.ends_by = TAILVOLT_ENDS_BY_TIME;
  parked.limit_battery[0] = '\0';
  parked.spread.vehicles = parked.spread.done = 0;
  char *text = text_of(false);
  has(text, "PLAYS   48 h, the longest time simulated");
  has(text, "still starts after 48 h");
  assert_null(strstr(text, "no start after 4 h"));
  assert_null(strstr(text, "8 of 10 such cars"));
  tailvolt_report_free(text);
}

/* What the file has beside the music and does not run while parked is said, with the way to keep it on. */
static void test_loads_off(void **state) {
  (void)state;
  char *text = text_of(false);
  assert_null(strstr(text, "\noff "));
  tailvolt_report_free(text);
  snprintf(parked.loads_off, sizeof parked.loads_off, "fridge, pump");
  text = text_of(false);
  has(text, "\noff     fridge, pump: loads run with the engine; a profile's column load:NAME keeps one on\n");
  tailvolt_report_free(text);
  parked.loads_off[0] = '\0';
}

/* A car that plays on at the end of what was simulated plays for longer than that. */
static void test_cars_that_outlast_the_search(void **state) {
  (void)state;
  parked.spread.until_s = (struct tailvolt_parked_quantiles){6000, 172800, 172800};
  char *text = text_of(false);
  has(text, "8 of 10 such cars play 1 h 40 min to over 48 h with this music");
  has(text, "  playing ends  1 h 40 min   over 48 h   over 48 h\n");
  tailvolt_report_free(text);
  parked.spread.until_s.p10 = 172800;
  text = text_of(false);
  has(text, "8 of 10 such cars play over 48 h with this music");
  tailvolt_report_free(text);
}

/* Cars whose supply collapses are not followed: a quantile is known within a range, or from below. */
static void test_cars_that_were_not_followed(void **state) {
  (void)state;
  char *text = text_of(false);
  has(text, "  no start      3 h 20 min  4 h 56 min   over 48 h\n");
  assert_null(strstr(text, "is followed"));
  tailvolt_report_free(text);
  parked.wanted_s = 7200;
  parked.spread.not_starting_pct = 20;
  parked.spread.too_short_pct = 40;
  parked.spread.holds_low_pct = 50;
  parked.spread.holds_high_pct = 70;
  parked.spread_soonest.restart_s = (struct tailvolt_parked_quantiles){NAN, 12600, 15000};
  parked.spread_soonest.not_followed_pct = 25;
  text = text_of(false);
  has(text, "  no start      3 h 20 min  3 h 30 min to 4 h 56 min  over 4 h 10 min\n");
  has(text, "over 48 h");
  has(text, "no car is followed beyond the moment its supply collapses");
  has(text, "20 % would not start, 25 % may or may not (not followed so long), 40 % have stopped");
  tailvolt_report_free(text);
  assert_int_equal(tailvolt_report_parked_json(&sample.system, &parked, &text), TAILVOLT_OK);
  has(text, "\"restart_s\": {\"p10\": null, \"p50\": 12600.0, \"p90\": 15000.0}");
  has(text, "\"not_followed_pct\": 25.0");
  tailvolt_report_free(text);
}

static void test_tables(void **state) {
  (void)state;
  char *text = text_of(false);
  has(text, "DISCHARGE of ");
  for (int k = 0; k < 2; k++) has(text, batteries[k].name);
  has(text, "16.8");
  has(text, "4.2");
  tailvolt_report_free(text);
  text = text_of(true);
  has(text, "50 F");
  tailvolt_report_free(text);
}

static void test_json(void **state) {
  (void)state;
  char *text = NULL;
  json_error_t error;
  assert_int_equal(tailvolt_report_parked_json(&sample.system, &parked, &text), TAILVOLT_OK);
  json_t *root = json_loads(text, 0, &error);
  if (root == NULL) fail_msg("%s", error.text);
  has(text, "8580");
  assert_null(strstr(text, "nan"));
  json_decref(root);
  tailvolt_report_free(text);
  assert_int_equal(tailvolt_report_parked_csv(&parked, &text), TAILVOLT_OK);
  int lines = 0;
  for (const char *at = text; (at = strchr(at, '\n')) != NULL; at++) lines++;
  assert_int_equal(lines, 2);
  has(text, "8580");
  tailvolt_report_free(text);
}

/* What is unsafe says FAILS, as `simulate` does, and what is still to be fitted is counted; a use that never brings the charge back
 * has no time. */
static void test_safety_and_back(void **state) {
  (void)state;
  struct tailvolt_finding found[3] = {
      {.kind = TAILVOLT_FOUND_FUSE_FAR, .status = TAILVOLT_FAILS, .part_count = 2, .length_m = 0.8, .limit_m = 0.45,
       .part = {{.kind = TAILVOLT_PART_FUSE, .name = "main"}, {.kind = TAILVOLT_PART_BATTERY, .name = "starter"}}},
      {.kind = TAILVOLT_FOUND_FUSE_ASSUMED, .part_count = 2, .current_a = 60, .limit_m = 0.3,
       .part = {{.kind = TAILVOLT_PART_FUSE, .name = "link"}, {.kind = TAILVOLT_PART_BATTERY, .name = "starter"}}},
      finding};
  sample.system.alternator.present = true;
  parked.findings = found;
  parked.finding_count = 3;
  char *text = text_of(false);
  has(text, "SAFETY  FAILS: fuse main is 80 cm of cable from battery starter (at most 45");
  has(text, "cm);\n        1 more at the end\n");
  has(text, "back to 85 % after 2 h 19 min\n        at idle or 1 h 23 min on the motorway, never in town\n");
  tailvolt_report_free(text);
  parked.findings = &found[1];
  parked.finding_count = 1;
  parked.idle_s = (double)NAN;
  text = text_of(false);
  has(text, "SAFETY  fit 60 A within 30 cm");
  has(text, "back to 85 % after 1 h 23 min\n        on the motorway, never at idle nor in town\n");
  if (strstr(text, "more at the end") != NULL) fail_msg("counts nothing: %s", text);
  tailvolt_report_free(text);
}

/* A relay that the alternator's low end leaves open: no time for what is behind it, and that of the rest below. */
static void test_what_stays_open(void **state) {
  (void)state;
  sample.system.alternator.present = true;
  parked.idle_s = parked.town_s = parked.motorway_s = (double)NAN;
  parked.stays_open = (struct tailvolt_parked_open){true, 1, 0, TAILVOLT_RELAY, "split", 12.2, 13.3};
  for (int k = 0; k < 2; k++) {
    batteries[k].idle_s = batteries[k].town_s = k == 1 ? (double)NAN : 1200;
    batteries[k].motorway_s = k == 1 ? (double)NAN : 600;
  }
  char *text = text_of(false);
  has(text, "driving does not put all of it\n        back: the relay stays open at 12.2 V (sense = engine closes it)\n");
  has(text, "  battery second does not get its charge back while the alternator stays at 12.2 V: isolator split");
  has(text, "closes above 13.3 V; with sense = engine it is closed whenever the engine runs");
  has(text, "battery starter is\n  back after 20 min at idle, 20 min in town or 10 min on the motorway\n");
  tailvolt_report_free(text);
  batteries[0].taken_ah = 0.1;
  text = text_of(false);
  has(text, "driving does not put it back:\n        the relay stays open at 12.2 V");
  if (strstr(text, "back after") != NULL) fail_msg("it gave next to nothing: %s", text);
  tailvolt_report_free(text);
  assert_int_equal(tailvolt_report_parked_json(&sample.system, &parked, &text), TAILVOLT_OK);
  has(text, "\"stays_open\": {");
  has(text, "\"closes_above_v\": 13.3");
  tailvolt_report_free(text);
  parked.stays_open.present = false;
  text = text_of(false);
  has(text, "no driving puts it back");
  tailvolt_report_free(text);
}

/* Why it took so long is said whole, wherever the longest reason is shown. */
static void test_every_step(void **state) {
  (void)state;
  static const char end[] = "each empties; nothing to put right";
  parked.full_reason = TAILVOLT_FULL_UNEQUAL_SHARES;
  parked.caution[0] = TAILVOLT_PARKED_EVERY_STEP;
  parked.caution_count = 1;
  char *text = text_of(false);
  has(text, "simulated step by step: one battery gives more of each beat than of the");
  has(text, end);
  tailvolt_report_free(text);
  assert_int_equal(tailvolt_report_parked_json(&sample.system, &parked, &text), TAILVOLT_OK);
  const char *why = strstr(text, "\"why\": ");
  assert_non_null(why);
  const char *line_end = strchr(why, '\n');
  assert_non_null(line_end);
  assert_memory_equal(line_end - sizeof end - 1, end, sizeof end - 1); /* before the quote and the comma */
  tailvolt_report_free(text);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test_setup(test_first_screen, make), cmocka_unit_test_setup(test_beyond_what_was_looked_at, make),
      cmocka_unit_test_setup(test_tables, make), cmocka_unit_test_setup(test_cars_that_were_not_followed, make),
      cmocka_unit_test_setup(test_json, make), cmocka_unit_test_setup(test_loads_off, make),
      cmocka_unit_test_setup(test_cars_that_outlast_the_search, make),
      cmocka_unit_test_setup(test_safety_and_back, make), cmocka_unit_test_setup(test_what_stays_open, make),
      cmocka_unit_test_setup(test_every_step, make)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
