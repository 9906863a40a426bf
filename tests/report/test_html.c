/* The page to hand over: complete tags, escaped texts, everything asked for is there; and the trace its pictures come
 * from. */
#include "support/assert_near.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/html.h"
#include "report/html_parts.h"
#include "support/sample_result.h"

enum { DEPTH_MAX = 40, TAG_MAX = 16 };

static bool is_void(const char *tag) {
  return strcmp(tag, "meta") == 0 || strcmp(tag, "br") == 0;
}

/* Every opened element is closed, in order; attributes are quoted; no bare & or <. */
static void check_whole(const char *page) {
  char open[DEPTH_MAX][TAG_MAX], tag[TAG_MAX];
  int depth = 0;
  const char *at = page;
  assert_memory_equal(page, "<!DOCTYPE html>\n", 16);
  for (at += 16; *at != '\0'; at++) {
    if (*at == '&') {
      size_t length = strcspn(at, ";");
      if (length > 8) fail_msg("a bare & in: %.40s", at);
    }
    if (*at == '>') fail_msg("a bare > in: %.40s", at);
    if (*at != '<') continue;
    bool closes = at[1] == '/';
    size_t length = 0;
    for (at += closes ? 2 : 1; isalnum((unsigned char)*at) && length + 1 < TAG_MAX; at++) tag[length++] = *at;
    tag[length] = '\0';
    if (length == 0) fail_msg("a bare < in: %.40s", at - 1);
    bool ended = false, quoted = false;
    for (; *at != '\0' && (quoted || *at != '>'); at++) {
      if (*at == '"') quoted = !quoted;
      ended = *at == '/';
      if (!quoted && *at == '=' && at[1] != '"') fail_msg("an attribute without quotes in: %.40s", at - 10);
    }
    if (*at == '\0') fail_msg("the page ends within a tag");
    if (closes) {
      if (depth == 0 || strcmp(open[depth - 1], tag) != 0)
        fail_msg("</%s> where </%s> was due", tag, depth > 0 ? open[depth - 1] : "nothing");
      depth--;
    } else if (!ended && !is_void(tag)) {
      assert_true(depth < DEPTH_MAX);
      memcpy(open[depth++], tag, sizeof tag);
    }
    /* the style sheet is not markup */
    if (!closes && strcmp(tag, "style") == 0) at = strstr(at, "</style>") - 1;
  }
  assert_int_equal(depth, 0);
}

static char *page_of(struct sample *sample, const char *next, const char *note) {
  struct tv_html_run run = {.result = &sample->result, .next = next};
  struct tv_html_report report = {
      .system = &sample->system, .run_count = 1, .runs = &run, .date = "1 May 2030", .note = note};
  char *page = NULL;
  assert_int_equal(tv_html(&report, &page), TAILVOLT_OK);
  return page;
}

static void expect(const char *page, const char *text) {
  if (strstr(page, text) == NULL) fail_msg("the page lacks: %s", text);
}

static void test_page(void **state) {
  (void)state;
  static struct sample sample;
  sample_fails(&sample);
  char *page = page_of(&sample, "a thicker feed lifts it to 12.1 V: enough", NULL);
  check_whole(page);
  expect(page, "<p class=\"verdict fails\">FAILS");
  expect(page, "A thicker feed lifts it to 12.1 V: enough.");
  expect(page, "The feed path");
  expect(page, " worst</b>");
  expect(page, "at the worst moment");
  expect(page, "Cautions");
  expect(page, sample.assumptions[0].value);
  expect(page, "1 May 2030");
  tailvolt_report_free(page);
  sample_holds(&sample);
  page = page_of(&sample, NULL, NULL);
  check_whole(page);
  expect(page, "<p class=\"verdict holds\">HOLDS");
  expect(page, "Nothing needs changing.");
  tailvolt_report_free(page);
}

static void test_names(void **state) {
  (void)state;
  static struct sample sample;
  sample_fails(&sample);
  snprintf(sample.system.vehicle.name, sizeof sample.system.vehicle.name,
           "</h1><script>\"&'\xff\x1b[31m\xc2\x9b");
  char *page = page_of(&sample, "<i>a & b", "\xc3\xa9t\xc3\xa9 <b>");
  check_whole(page);
  assert_null(strstr(page, "<script"));
  assert_null(strstr(page, "\x1b"));
  assert_null(strstr(page, "\xff"));
  assert_null(strstr(page, "\xc2\x9b"));
  expect(page, "&lt;/h1&gt;&lt;script&gt;&quot;&amp;'??[31m?");
  expect(page, "&lt;i&gt;a &amp; b.");
  expect(page, "\xc3\xa9t\xc3\xa9 &lt;b&gt;");
  tailvolt_report_free(page);
}

static const char *const names[] = {"time_s",
                                    "bass:v_min",
                                    "bass:v_mean",
                                    "bass:v_max",
                                    "bass:a_mean",
                                    "bass:target_v_max",
                                    "alternator:a_mean",
                                    "starter:a_mean",
                                    "starter:soc_pct_mean"};
enum { COLUMNS = (int)(sizeof names / sizeof names[0]) };

/* A run of `rows` rows with its lowest voltage in one of them. */
static void run_trace(struct tv_trace *trace, struct sample *sample, long rows, long lowest) {
  snprintf(sample->amplifiers[0].name, sizeof sample->amplifiers[0].name, "bass");
  static struct tailvolt_amplifier bass;
  static struct tailvolt_battery starter;
  static struct tailvolt_system system;
  snprintf(bass.name, sizeof bass.name, "bass");
  snprintf(starter.name, sizeof starter.name, "starter");
  system = (struct tailvolt_system){
      .amplifier_count = 1, .amplifiers = &bass, .battery_count = 1, .batteries = &starter};
  struct tailvolt_record_sink sink = tv_trace_begin(trace, &system);
  assert_int_equal(sink.columns(sink.context, names, COLUMNS), 0);
  for (long k = 0; k < rows; k++) {
    double v = k == lowest ? 9.5 : 12.0 + 1e-4 * (double)(k % 7);
    const double cells[] = {0.002 * (double)k, v, v + 0.1, v + 0.2, 20.0, 12.0, 60.0, 5.0, 90.0};
    assert_int_equal(sink.row(sink.context, cells, COLUMNS), 0);
  }
  tv_trace_end(trace);
}

static void expect_window(long rows, long lowest, int count, int at) {
  struct tv_trace trace;
  static struct sample sample;
  run_trace(&trace, &sample, rows, lowest);
  const struct tv_trace_amplifier *amplifier = &trace.amplifier[0];
  assert_near(amplifier->lowest_v, 9.5, 0.0);
  assert_int_equal(amplifier->window_count, count);
  assert_int_equal(amplifier->lowest_at, at);
  const double *row = amplifier->window + (size_t)at * (size_t)trace.pass.chosen_count;
  assert_near(row[0], 0.002 * (double)lowest, 1e-12);
  assert_near(row[amplifier->min_v], 9.5, 0.0);
  assert_near(amplifier->window[0], 0.002 * (double)(lowest - at), 1e-12);
  tv_trace_free(&trace);
}

static void test_trace(void **state) {
  (void)state;
  expect_window(5000, 2500, TV_TRACE_WINDOW, TV_TRACE_HALF_ROWS);
  expect_window(5000, 0, 1 + TV_TRACE_HALF_ROWS, 0);
  expect_window(5000, 40, 41 + TV_TRACE_HALF_ROWS, 40);
  expect_window(5000, 4999, 1 + TV_TRACE_HALF_ROWS, TV_TRACE_HALF_ROWS);
  expect_window(5000, 4950, TV_TRACE_HALF_ROWS + 50, TV_TRACE_HALF_ROWS);
  expect_window(30, 10, 30, 10);
}

static void test_pictures(void **state) {
  (void)state;
  static struct sample sample;
  struct tv_trace trace;
  struct tv_buffer page = {0};
  run_trace(&trace, &sample, 5000, 2500);
  tv_buffer_add(&page, "<!DOCTYPE html>\n<div>");
  tv_html_voltage(&page, &trace, 0, "ba<ss");
  tv_html_beat(&page, &trace, 0, "bass");
  tv_html_currents(&page, &trace);
  tv_buffer_add(&page, "</div>");
  check_whole(page.text);
  expect(page.text, "Voltage at ba&lt;ss over the run: lowest 9.50 V at 0:05.0");
  assert_null(strstr(page.text, "nan"));
  assert_null(strstr(page.text, "inf"));
  assert_null(strstr(page.text, "M- "));
  free(page.text);
  tv_trace_free(&trace);
}

/* Nothing played, one row, no amplifier: no picture rather than a nonsense one. */
static void test_nothing_to_draw(void **state) {
  (void)state;
  struct tv_trace trace;
  static struct sample sample;
  struct tv_buffer page = {0};
  run_trace(&trace, &sample, 1, 5);
  tv_html_beat(&page, &trace, 0, "bass");
  tv_html_voltage(&page, &trace, 0, "bass");
  assert_null(page.text);
  tv_trace_free(&trace);
  sample_fails(&sample);
  sample.result.amplifier_count = 0;
  sample.result.ledger_count = 0;
  sample.system.amplifier_count = 0;
  char *text = page_of(&sample, NULL, NULL);
  check_whole(text);
  tailvolt_report_free(text);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_page), cmocka_unit_test(test_names),
                                     cmocka_unit_test(test_trace), cmocka_unit_test(test_pictures),
                                     cmocka_unit_test(test_nothing_to_draw)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
