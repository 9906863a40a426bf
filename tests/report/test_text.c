/* The text report: its five lines, its width, and that no name from a file can drive a terminal. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/page.h"
#include "support/sample_result.h"
#include "tailvolt/report.h"

static struct sample fails, holds;

static char *text_of(const struct sample *sample, struct tailvolt_report_style style, const char *next) {
  const struct tailvolt_result *run = &sample->result;
  char *text;
  assert_int_equal(tailvolt_report_text(&sample->system, &run, 1, &next, &style, &text), TAILVOLT_OK);
  return text;
}

/* Printed reports are checked in both lengths. */
static void check_columns(const char *text, size_t most) {
  for (const char *line = text; *line != '\0';) {
    size_t length = strcspn(line, "\n");
    char copy[1024];
    assert_true(length < sizeof copy);
    memcpy(copy, line, length);
    copy[length] = '\0';
    if (tv_columns(copy) > most) fail_msg("%zu columns: %s", tv_columns(copy), copy);
    if (length > 0 && copy[length - 1] == ' ') fail_msg("blank at the end: %s|", copy);
    for (size_t k = 0; k < length; k++)
      if ((unsigned char)copy[k] < 0x20 || copy[k] == 0x7f) fail_msg("control character in: %s", copy);
    line += length + (line[length] == '\n');
  }
}

static void check_width_and_bytes(const char *text) { check_columns(text, 100); }

static void expect_lines(const char *text, const char *const *lines, int count) {
  for (int k = 0; k < count; k++) {
    size_t length = strcspn(text, "\n");
    if (strlen(lines[k]) != length || memcmp(text, lines[k], length) != 0)
      fail_msg("line %d is\n%.*s\nwanted\n%s", k + 1, (int)length, text, lines[k]);
    text += length + 1;
  }
}

static void test_five_lines_fail(void **state) {
  (void)state;
  static const char *const lines[] = {
      "FAILS at idle: bass falls to 10.9 V (wanted 12.0 V), below it 31 % of the time",
      "        (1 % allowed), worst at 4:12; a meter's min-hold shows 11.3 V",
      "WHY     feed cable 0.72 V, battery 0.48 V, ground side 0.41 V of 1.8 V sag",
      "        (voltage drop under load)",
      "CHARGE  idle: alternator 58 A, car 41 A, amplifier 36 A: battery loses 19 A,",
      "        1.5 h to half charge",
      "SAFETY  FAILS: fuse main 80 A too big for 8 AWG (at most 60 A); 30 cm from the",
      "        battery: right",
      "NEXT    4 AWG feed lifts it to 11.6 V: not enough at idle.  9 values assumed"};
  char *text = text_of(&fails, (struct tailvolt_report_style){0}, "4 AWG feed lifts it to 11.6 V: not enough at idle");
  expect_lines(text, lines, (int)(sizeof lines / sizeof *lines));
  tailvolt_report_free(text);
}

static void test_five_lines_hold(void **state) {
  (void)state;
  static const char *const lines[] = {
      "HOLDS at idle and on the road: bass stays at or above 12.4 V (wanted 12.0 V),",
      "        lowest at 4:12; a meter's min-hold shows 12.5 V",
      "WHY     feed cable 0.72 V, battery 0.48 V, ground side 0.41 V of 1.8 V sag",
      "        (voltage drop under load)",
      "CHARGE  idle: alternator 58 A, car 41 A, amplifier 36 A: battery loses 19 A,",
      "        1.5 h to half charge",
      "SAFETY  fuse main 60 A protects its cable (at most 60 A), 30 cm from the",
      "        battery: right",
      "NEXT    nothing needs changing.  9 values assumed"};
  char *text = text_of(&holds, (struct tailvolt_report_style){0}, NULL);
  expect_lines(text, lines, (int)(sizeof lines / sizeof *lines));
  tailvolt_report_free(text);
}

/* Where the volts need nothing and the wiring is unsafe, that comes next. */
static void test_next_where_only_safety_fails(void **state) {
  (void)state;
  struct sample unsafe = holds;
  unsafe.result.safety = TAILVOLT_FAILS;
  char *text = text_of(&unsafe, (struct tailvolt_report_style){0}, NULL);
  assert_non_null(strstr(text, "NEXT    put right what SAFETY names; the volts need nothing."));
  tailvolt_report_free(text);
}

static void test_plain_text(void **state) {
  (void)state;
  char *brief = text_of(&fails, (struct tailvolt_report_style){0}, NULL);
  check_columns(brief, 80);
  int lines = 0;
  for (const char *at = brief; *at != '\0'; at++) lines += *at == '\n';
  assert_true(lines <= 64);
  assert_non_null(strstr(brief, "\nASSUMED 9 values"));
  assert_null(strstr(brief, "uV"));
  tailvolt_report_free(brief);
  char *text = text_of(&fails, (struct tailvolt_report_style){.details = true}, NULL);
  check_width_and_bytes(text);
  for (const char *at = text; *at != '\0'; at++) assert_true((unsigned char)*at < 0x80);
  assert_non_null(strstr(text, "--set \"joint number 9.resistance = 0.3 mohm\""));
  assert_non_null(strstr(text, "MEASURE AT THE CAR"));
  assert_non_null(strstr(text, "0.72 WORST"));
  tailvolt_report_free(text);
}

static void test_utf8_and_colour(void **state) {
  (void)state;
  char *text = text_of(&fails, (struct tailvolt_report_style){.utf8 = true, .details = true}, NULL);
  check_width_and_bytes(text);
  assert_non_null(strstr(text, "\u2588\u2588"));
  tailvolt_report_free(text);
  char *coloured = text_of(&fails, (struct tailvolt_report_style){.colour = true}, NULL);
  char *plain = text_of(&fails, (struct tailvolt_report_style){0}, NULL);
  assert_non_null(strstr(coloured, "\033[31mFAILS"));
  /* colour alone says nothing: without its codes the text equals the plain one */
  char *to = coloured;
  for (const char *from = coloured; *from != '\0';) {
    if (*from == '\033') {
      while (*from != 'm') from++;
      from++;
    } else {
      *to++ = *from++;
    }
  }
  *to = '\0';
  assert_string_equal(coloured, plain);
  tailvolt_report_free(coloured);
  tailvolt_report_free(plain);
}

static void test_us_units(void **state) {
  (void)state;
  char *text = text_of(&holds, (struct tailvolt_report_style){.us_units = true, .details = true}, NULL);
  assert_non_null(strstr(text, "12 in from the"));
  assert_non_null(strstr(text, "18.0 ft"));
  assert_non_null(strstr(text, "degrees F"));
  assert_non_null(strstr(text, " 221 ")); /* 105 C */
  tailvolt_report_free(text);
}

/* Figures after long names go on a further line; they are not cut off. */
static void check_measures_whole(const char *text) {
  char section[4096];
  const char *measure = strstr(text, "MEASURE AT THE CAR");
  assert_non_null(measure);
  snprintf(section, sizeof section, "%s", measure);
  char *end = strstr(section, "CAUTIONS");
  assert_non_null(end);
  *end = '\0';
  assert_null(strstr(section, ".."));
}

/* The longest possible names, full of control characters and multibyte letters. */
static void test_hostile_names(void **state) {
  (void)state;
  struct sample *sample = malloc(sizeof *sample);
  assert_non_null(sample);
  sample_fails(sample);
  char hostile[TAILVOLT_NAME_MAX];
  memset(hostile, 'w', sizeof hostile);
  memcpy(hostile, "\033[31m\t\xc2\x9b\xff\u00e9", 11);
  hostile[sizeof hostile - 1] = '\0';
  memcpy(sample->amplifiers[0].name, hostile, sizeof hostile);
  memcpy(sample->ledger.amplifier, hostile, sizeof hostile);
  memcpy(sample->battery.name, hostile, sizeof hostile);
  memcpy(sample->meter.name, hostile, sizeof hostile);
  memcpy(sample->fuse.name, hostile, sizeof hostile);
  for (int k = 0; k < 4; k++) memcpy(sample->conductors[k].name, hostile, sizeof hostile);
  for (int k = 0; k < sample->ledger.entry_count; k++) memcpy(sample->entries[k].name, hostile, sizeof hostile);
  for (int k = 0; k < 2; k++) memset(sample->reasons[1].finding.part[k].name, 'x', TAILVOLT_NAME_MAX - 1);
  struct tailvolt_part *part = &sample->cautions[0].part[0];
  sample->cautions[0].kind = TAILVOLT_FOUND_SENSOR_BYPASSED;
  sample->cautions[0].part_count = 1;
  memset(part->name, 'y', sizeof part->name - 1);
  for (int utf8 = 0; utf8 < 2; utf8++) {
    char *text = text_of(sample, (struct tailvolt_report_style){.utf8 = utf8 == 1, .details = true}, NULL);
    check_width_and_bytes(text);
    assert_null(strstr(text, "\xc2\x9b"));
    check_measures_whole(text);
    tailvolt_report_free(text);
  }
  free(sample);
}

/* Twelve hours of a large system: the energy books stay readable to the last digit. */
static void test_large_figures(void **state) {
  (void)state;
  struct sample *sample = malloc(sizeof *sample);
  assert_non_null(sample);
  sample_fails(sample);
  sample->result.energy = (struct tailvolt_energy_result){.generated_j = 123456789.0e3, .from_storage_j = -98765432.0e3,
                                                          .loads_j = 111111111.0e3, .amplifiers_j = 222222222.0e3,
                                                          .losses_j = 333333333.0e3};
  char *text = text_of(sample, (struct tailvolt_report_style){.details = true}, NULL);
  check_width_and_bytes(text);
  assert_non_null(strstr(text, "generated 123456789.00 kJ + from storage -98765432.00 kJ\n"));
  assert_non_null(strstr(text, "= loads 111111111.00 kJ + amplifiers 222222222.00 kJ + losses 333333333.00 kJ\n"));
  tailvolt_report_free(text);
  free(sample);
}

/* Safety is never cut silently. */
static void test_long_safety(void **state) {
  (void)state;
  struct sample *sample = malloc(sizeof *sample);
  assert_non_null(sample);
  sample_fails(sample);
  struct tailvolt_reason *more = &sample->reasons[sample->result.reason_count++];
  *more = sample->reasons[1];
  more->finding = (struct tailvolt_finding){
      .kind = TAILVOLT_FOUND_CABLE_UNFUSED, .status = TAILVOLT_FAILS, .part_count = 2, .limit_m = 0.45,
      .part = {{.kind = TAILVOLT_PART_CABLE, .name = "second feed", .size = "2 AWG"},
               {.kind = TAILVOLT_PART_BATTERY, .name = "second"}}};
  char *text = text_of(sample, (struct tailvolt_report_style){0}, NULL);
  assert_non_null(strstr(text, "SAFETY  FAILS: fuse main 80 A too big for 8 AWG (at most 60 A); cable second\n"));
  assert_non_null(strstr(text, "has no fuse: one is needed"));
  tailvolt_report_free(text);
  free(sample);
}

static void test_worst_run_first(void **state) {
  (void)state;
  const struct tailvolt_result *runs[] = {&holds.result, &fails.result};
  char *text;
  assert_int_equal(tailvolt_report_text(&fails.system, runs, 2, NULL, NULL, &text), TAILVOLT_OK);
  assert_memory_equal(text, "FAILS at idle", 13);
  assert_non_null(strstr(text, "\nALSO    evening.csv: HOLDS"));
  check_width_and_bytes(text);
  tailvolt_report_free(text);
}

static void test_csv(void **state) {
  (void)state;
  const struct tailvolt_result *runs[] = {&holds.result, &fails.result};
  char *text;
  /* of both together; it stands in the one that is shown first */
  struct tailvolt_certainty *certainty = &fails.result.certainty, none = *certainty;
  *certainty = (struct tailvolt_certainty){.known = true, .holds_low_pct = 52.5, .holds_high_pct = 81,
                                           .min_v = {.p10 = 11.5, .p50 = 12, .p90 = 12.25}};
  assert_int_equal(tailvolt_report_csv(runs, 2, &text), TAILVOLT_OK);
  static const char *const lines[] = {
      ("system,profile,amplifier,status,rest_v,min_v,min_time_s,min_without_ripple_v,mean_v,low_1pct_v,target_v,"
       "below_target_pct,mean_a,peak_a,input_j,output_j,lost_output_db,cut_outs,off_s,"
       "holds_low_pct,holds_high_pct,lowest_low_v,lowest_high_v"),
      "Puppet theatre van,evening.csv,bass,holds,12.7,12.4,252,11.1,12.25,11.02,12,0,30,75,441000,300000,0.25,0,0,52.5,81,11.5,12.25",
      "Puppet theatre van,evening.csv,bass,fails,12.7,10.9,252,11.1,12.25,11.02,12,15.5,30,75,441000,300000,0.25,0,0,52.5,81,11.5,12.25"};
  expect_lines(text, lines, 3);
  tailvolt_report_free(text);
  *certainty = none;
}

/* A fuse that nobody named is never right: it is to be fitted, along with what else is wrong. */
static void test_assumed_fuse(void **state) {
  (void)state;
  for (int round = 0; round < 2; round++) {
    struct sample *sample = round == 0 ? &holds : &fails;
    if (round == 0) sample_holds(sample);
    else sample_fails(sample);
    struct tailvolt_finding *caution = &sample->cautions[sample->result.caution_count++];
    *caution = (struct tailvolt_finding){.kind = TAILVOLT_FOUND_FUSE_ASSUMED, .part_count = 2, .current_a = 60.0,
                                         .limit_m = 0.3};
    caution->part[0] = (struct tailvolt_part){.kind = TAILVOLT_PART_FUSE, .name = "main"};
    caution->part[1] = (struct tailvolt_part){.kind = TAILVOLT_PART_BATTERY, .name = "starter"};
    sample->fuse.assumed = true;
    char *text = text_of(sample, (struct tailvolt_report_style){.details = true}, NULL);
    assert_non_null(strstr(text, round == 0 ? "SAFETY  fit 60 A within 30 cm of the battery (not in your file)\n"
                                            : "(at most 60 A); fit 60 A within\n        30 cm of the battery (not in your file)\n"));
    assert_null(strstr(text, "battery: right"));
    assert_non_null(strstr(text, "holds; not in your file"));
    tailvolt_report_free(text);
  }
}

/* Fuses to be fitted at more posts than the safety line has room for are counted there and told below, each of them, however many
 * other cautions there are. */
static void test_fuses_at_many_posts(void **state) {
  (void)state;
  static const char *const posts[] = {"", "second", "third", "fourth"};
  static struct tailvolt_finding cautions[16];
  static struct tailvolt_battery_result batteries[4];
  struct sample *sample = &holds;
  sample_holds(sample);
  int count = 0;
  for (int k = 0; k < 12; k++)
    cautions[count++] = (struct tailvolt_finding){.kind = TAILVOLT_FOUND_RIPPLE_COARSE};
  for (int k = 0; k < 4; k++) {
    struct tailvolt_finding *caution = &cautions[count++];
    *caution = (struct tailvolt_finding){.kind = TAILVOLT_FOUND_FUSE_ASSUMED, .part_count = 2, .current_a = 60.0 + 40.0 * k,
                                         .limit_m = 0.3};
    caution->part[0] = (struct tailvolt_part){.kind = TAILVOLT_PART_FUSE, .index = k, .name = "main"};
    caution->part[1] = (struct tailvolt_part){.kind = TAILVOLT_PART_BATTERY, .index = k};
    snprintf(caution->part[1].name, sizeof caution->part[1].name, "%s", posts[k]);
  }
  sample->result.cautions = cautions;
  sample->result.caution_count = count;
  for (int k = 0; k < 4; k++) batteries[k] = sample->result.batteries[0];
  sample->result.batteries = batteries;
  sample->result.battery_count = 4;
  sample->fuse.assumed = true;
  struct tailvolt_report_style style = {0};
  char *text = text_of(sample, style, NULL);
  assert_non_null(strstr(text, "SAFETY  fit 60 A within 30 cm of the battery and 100 A within 30 cm of battery\n"
                               "        second; 2 more below (not in your file)\n"));
  assert_non_null(strstr(text, "  - fit 140 A within 30 cm of battery third"));
  assert_non_null(strstr(text, "  - fit 180 A within 30 cm of battery fourth"));
  assert_non_null(strstr(text, "  - and 9 more: --details\n"));
  tailvolt_report_free(text);
  /* where there is room for all they are said once */
  sample->result.caution_count = 13;
  text = text_of(sample, style, NULL);
  assert_non_null(strstr(text, "SAFETY  fit 60 A within 30 cm of the battery (not in your file)\n"));
  assert_null(strstr(text, "  - fit 60 A"));
  tailvolt_report_free(text);
}

int main(void) {
  sample_fails(&fails);
  sample_holds(&holds);
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_five_lines_fail), cmocka_unit_test(test_five_lines_hold),
      cmocka_unit_test(test_large_figures), cmocka_unit_test(test_plain_text), cmocka_unit_test(test_next_where_only_safety_fails),
      cmocka_unit_test(test_utf8_and_colour),
      cmocka_unit_test(test_us_units),        cmocka_unit_test(test_hostile_names),
      cmocka_unit_test(test_long_safety),     cmocka_unit_test(test_worst_run_first),
      cmocka_unit_test(test_csv),             cmocka_unit_test(test_assumed_fuse),
      cmocka_unit_test(test_fuses_at_many_posts)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
