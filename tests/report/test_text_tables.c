/* Each table of the text report, from a result made by hand: its rows, its figures, and that it is omitted where there
 * is nothing to show. */
#include "support/assert_near.h"

#include <stdlib.h>
#include <string.h>

#include "report/text_parts.h"
#include "support/sample_result.h"
#include "text/buffer.h"

static struct sample sample;

static int make(void **state) {
  (void)state;
  sample_fails(&sample);
  return 0;
}

static char *finish(struct tv_page *page) {
  char *text;
  assert_int_equal(tv_buffer_finish(&page->text, &text), TAILVOLT_OK);
  return text;
}

/* The words appear in this order on one line that begins with the first of them. */
static void row(const char *text, const char *const *words) {
  const char *line = text;
  while (line != NULL && *line != '\0') {
    const char *at = line + strspn(line, " "), *end = strchr(line, '\n');
    if (strncmp(at, words[0], strlen(words[0])) == 0) {
      int k = 0;
      for (; words[k] != NULL; k++) {
        at = strstr(at, words[k]);
        if (at == NULL || (end != NULL && at > end)) break;
        at += strlen(words[k]);
      }
      if (words[k] == NULL) return;
    }
    line = end == NULL ? NULL : end + 1;
  }
  fail_msg("no row of %s ... in\n%s", words[0], text);
}
#define ROW(text, ...) row(text, (const char *const[]){__VA_ARGS__, NULL})

static void test_fuses(void **state) {
  (void)state;
  struct tv_page page = {0};
  tv_text_fuses(&page, &sample.result);
  char *text = finish(&page);
  ROW(text, "main", "80", "36.0", "75.0", "55", "65", "holds");
  free(text);
  sample.fuse.opens = true;
  sample.fuse.opens_time_s = 252.0;
  page = (struct tv_page){0};
  tv_text_fuses(&page, &sample.result);
  text = finish(&page);
  ROW(text, "main", "opens at 4:12");
  free(text);
  sample.result.fuse_count = 0;
  page = (struct tv_page){0};
  tv_text_fuses(&page, &sample.result);
  text = finish(&page);
  assert_string_equal(text, "");
  free(text);
}

static void test_conductors(void **state) {
  (void)state;
  for (int us = 0; us < 2; us++) {
    struct tv_page page = {.style = {.us_units = us}};
    sample.conductors[1].status = TAILVOLT_TOO_HOT;
    tv_text_conductors(&page, &sample.system, &sample.result);
    char *text = finish(&page);
    if (us) ROW(text, "feed", "AWG", "18.0 ft", "36.0", "75.0", "0.900", "7.50", "108", "118", "221", "too hot");
    else ROW(text, "feed", "8 AWG", "5.5 m", "36.0", "75.0", "0.900", "7.50", "42", "48", "105", "too hot");
    ROW(text, "ground", us ? "118" : "48", "cool");
    ROW(text, "main", "fuse", "36.0", "7.50", "cool");
    ROW(text, "body stud", "joint", "36.0");
    free(text);
  }
  /* without a system there are no sizes, and nothing else is lost */
  struct tv_page page = {0};
  tv_text_conductors(&page, NULL, &sample.result);
  char *text = finish(&page);
  assert_null(strstr(text, "AWG"));
  ROW(text, "feed", "36.0", "105");
  free(text);
}

static void test_supply(void **state) {
  (void)state;
  struct tv_page page = {0};
  tv_text_supply(&page, &sample.result);
  char *text = finish(&page);
  ROW(text, "starter", "90.0", "88.5", "11.60");
  assert_non_null(strstr(text, "stiffener"));
  assert_non_null(strstr(text, "65"));
  free(text);
}

static void test_meters_and_energy(void **state) {
  (void)state;
  struct tv_page page = {0};
  tv_text_meters(&page, &sample.result);
  tv_text_energy(&page, &sample.result);
  char *text = finish(&page);
  ROW(text, "at the amplifier", "12.700", "10.900", "12.250", "14.200");
  ROW(text, "generated 1100.00 kJ", "36.00 kJ");
  ROW(text, "residual", "1.3e-09 J");
  free(text);
  sample.result.meter_count = 0;
  page = (struct tv_page){0};
  tv_text_meters(&page, &sample.result);
  text = finish(&page);
  assert_string_equal(text, "");
  free(text);
}

static void test_ledger_and_loop(void **state) {
  (void)state;
  struct tv_page page = {0};
  tv_text_ledger(&page, &sample.ledger);
  tv_text_feed_path(&page, &sample.ledger, false);
  char *text = finish(&page);
  ROW(text, "SAG LEDGER of bass", "12.70 V at rest", "10.90 V at 4:12");
  ROW(text, "battery resistance", "battery", "60.0", "0.40", "22");
  ROW(text, "feed cable", "feed", "60.0", "0.72", "40");
  ROW(text, "negative lead cable", "return", "40.0", "0.10");
  ROW(text, "feed", "battery", "main fuse", "feed cable", "bass");
  ROW(text, "return", "ground cable", "body stud joint", "negative lead cable");
  free(text);
}

static void test_cautions_and_assumed(void **state) {
  (void)state;
  struct tv_page page = {.style = {.us_units = true}};
  struct tailvolt_finding *far = &sample.cautions[sample.result.caution_count++];
  *far = (struct tailvolt_finding){.kind = TAILVOLT_FOUND_FUSE_PLACE_UNKNOWN, .part_count = 2, .limit_m = 0.45};
  far->part[0] = (struct tailvolt_part){.kind = TAILVOLT_PART_FUSE, .name = "main"};
  far->part[1] = (struct tailvolt_part){.kind = TAILVOLT_PART_BATTERY, .name = "battery"};
  tv_text_cautions(&page, &sample.result, true, false);
  tv_text_assumed(&page, &sample.system);
  char *text = finish(&page);
  assert_non_null(strstr(text, "coarser than the ripple"));
  assert_non_null(strstr(text, "fuse main: its distance from the battery is not stated; at most 18 in of cable"));
  assert_non_null(strstr(text, "0.3 mohm"));
  free(text);
  sample.result.caution_count = 0;
  page = (struct tv_page){0};
  tv_text_cautions(&page, &sample.result, true, false);
  text = finish(&page);
  assert_string_equal(text, "");
  free(text);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test_setup(test_fuses, make),           cmocka_unit_test_setup(test_conductors, make),
      cmocka_unit_test_setup(test_supply, make),          cmocka_unit_test_setup(test_meters_and_energy, make),
      cmocka_unit_test_setup(test_ledger_and_loop, make), cmocka_unit_test_setup(test_cautions_and_assumed, make)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
