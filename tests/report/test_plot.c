/* Records of any length: read from whatever program wrote them, thinned without losing a dip; texts for gnuplot. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "report/plot_parts.h"
#include "report/plot_record.h"

static char path[] = "/tmp/tailvolt-plot-XXXXXX";

static void write_file(const char *text) {
  FILE *file = fopen(path, "wb");
  assert_non_null(file);
  fputs(text, file);
  fclose(file);
}

struct seen {
  int count;
  double cells[16][3];
  int stop_after;
};

static int take(void *context, const double *cells, long offset) {
  struct seen *seen = context;
  assert_true(offset > 0);
  memcpy(seen->cells[seen->count++], cells, 3 * sizeof *cells);
  return seen->count == seen->stop_after;
}

static enum tailvolt_status read_with(struct tv_record_pass *pass, struct seen *seen, char *error) {
  struct tv_record record;
  enum tailvolt_status status = tv_record_open(path, &record);
  *seen = (struct seen){.stop_after = seen->stop_after};
  if (status == TAILVOLT_OK) {
    pass->chosen[1] = tv_record_column(&record, "b,ass", "v_min");
    pass->chosen[2] = tv_record_column(&record, "starter", "a_mean");
    pass->chosen_count = 3;
    pass->context = seen;
    pass->row = take;
    assert_true(pass->chosen[1] > 0 && pass->chosen[2] > 0);
    status = tv_record_read(&record, pass);
  }
  snprintf(error, TAILVOLT_TEXT_MAX, "%s", record.error);
  tv_record_close(&record);
  return status;
}

static void test_reading(void **state) {
  (void)state;
  char error[TAILVOLT_TEXT_MAX];
  struct seen seen = {0};
  struct tv_record_pass pass = {.from_s = (double)NAN, .to_s = (double)NAN};
  /* byte-order mark, quotes, CRLF, blank and comment lines, an exponent, an empty cell, no newline at the end */
  write_file("\xef\xbb\xbftime_s,\"b,ass:v_min\",x,starter:a_mean\r\n0,12.5,1,-3\r\n\r\n"
             "# note\r\n0.5,1.25e1,,+2\r\n1,,9,.5\r\n1.5,-0.000001,7,123456789.125");
  assert_int_equal(read_with(&pass, &seen, error), TAILVOLT_OK);
  assert_int_equal(seen.count, 4);
  assert_near(seen.cells[0][1], 12.5, 0.0);
  assert_near(seen.cells[0][2], -3.0, 0.0);
  assert_near(seen.cells[1][0], 0.5, 0.0);
  assert_near(seen.cells[1][1], 12.5, 0.0);
  assert_near(seen.cells[1][2], 2.0, 0.0);
  assert_true(isnan(seen.cells[2][1]));
  assert_near(seen.cells[2][2], 0.5, 0.0);
  assert_near(seen.cells[3][1], -1e-6, 0.0);
  assert_near(seen.cells[3][2], 123456789.125, 0.0);
  pass.from_s = 0.5;
  pass.to_s = 1.0;
  assert_int_equal(read_with(&pass, &seen, error), TAILVOLT_OK);
  assert_int_equal(seen.count, 2);
  seen.stop_after = 1;
  assert_int_equal(read_with(&pass, &seen, error), TAILVOLT_OK);
  assert_int_equal(seen.count, 1);
}

static void expect_error(const char *text, const char *part) {
  char error[TAILVOLT_TEXT_MAX];
  struct seen seen = {0};
  struct tv_record_pass pass = {.from_s = (double)NAN, .to_s = (double)NAN};
  write_file(text);
  assert_int_equal(read_with(&pass, &seen, error), TAILVOLT_BAD_INPUT);
  if (strstr(error, part) == NULL) fail_msg("`%s` said: %s", text, error);
}

static void test_faults(void **state) {
  (void)state;
  expect_error("time_s,\"b,ass:v_min\",starter:a_mean\n0,1,2\n1,x,2\n", "row 2");
  expect_error("time_s,\"b,ass:v_min\",starter:a_mean\n0,1,2\n1,1\n", "row 2");
  expect_error("time_s,\"b,ass:v_min\",starter:a_mean\n0,1,-\n", "row 1");
  expect_error("time_s,\"b,ass:v_min\",starter:a_mean\n,1,2\n", "row 1");
  expect_error("t,\"b,ass:v_min\",starter:a_mean\n", "first column is not time_s");
  expect_error("time_s", "no line of column names");
  expect_error("", "no line of column names");
}

/* A dip of one row, wherever it is and however many rows there are, is the lowest of the thinned rows; means stay means. */
static void thin_and_look(long rows, long dip) {
  struct tv_record record = {.column_count = 4};
  char names[4][TV_RECORD_NAME_MAX] = {"time_s", "a:v_min", "a:v_max", "a:v_mean"};
  struct tv_record_pass pass = {.chosen_count = 4, .chosen = {0, 1, 2, 3}};
  struct tv_thinned thinned;
  double low = HUGE_VAL, high = -HUGE_VAL, sum = 0.0, whole = 0.0;
  int low_at = -1;
  record.names = names;
  assert_int_equal(tv_thin_begin(&thinned, &record, &pass), TAILVOLT_OK);
  for (long k = 0; k < rows; k++) {
    const double cells[] = {0.01 * (double)k, k == dip ? 7.0 : 12.0, k == dip ? 16.0 : 13.0, (double)(k % 2)};
    tv_thin_row(&thinned, cells, k);
    whole += cells[3];
  }
  tv_thin_end(&thinned);
  assert_true(thinned.count <= 2 * TV_RECORD_BINS);
  for (int k = 0; k < thinned.count; k++) {
    const double *cells = thinned.cells + 4 * k;
    if (cells[1] < low) {
      low = cells[1];
      low_at = k;
    }
    high = fmax(high, cells[2]);
    sum += cells[3] * (k + 1 < thinned.count ? thinned.rows_each : thinned.open_rows);
    if (k > 0) assert_true(cells[0] > cells[-4]);
  }
  assert_near(low, 7.0, 0.0);
  assert_near(high, 16.0, 0.0);
  assert_near(sum, whole, 1e-6 * (double)rows);
  /* offsets tell where to find the row again */
  assert_true(thinned.offsets[low_at] <= dip &&
              (low_at + 1 == thinned.count || thinned.offsets[low_at + 1] > dip));
  assert_near(thinned.cells[4 * thinned.count], 0.01 * (double)rows, 1e-9 * (double)rows);
  tv_thin_free(&thinned);
}

static void test_thinning(void **state) {
  (void)state;
  static const long rows[] = {2, 3, 599, 600, 601, 1200, 1201, 4801, 100003};
  for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
    thin_and_look(rows[k], 0);
    thin_and_look(rows[k], rows[k] / 3);
    thin_and_look(rows[k], rows[k] - 1);
  }
}

static void test_texts(void **state) {
  (void)state;
  struct tv_plot plot = {0};
  tv_plot_set_text(&plot, "title", "it's `touch x` @y \\ a\nb");
  tv_plot_set_number(&plot, "n", 4.0);
  tv_plot_set_number(&plot, "x", 0.25);
  tv_plot_set_number(&plot, "nothing", (double)NAN);
  assert_string_equal(plot.settings.text, "title = 'it''s  touch x   y   a b'\nn = 4\nx = 0.25\n");
  tv_plot_cell(&plot, 3.0);
  tv_plot_cell(&plot, (double)NAN);
  tv_plot_cell_text(&plot, "say \"hi\"\n");
  assert_string_equal(plot.data.text, " 3.0 ? \"say 'hi' \"");
  free(plot.settings.text);
  free(plot.data.text);
  struct tv_plot strange = {0}; /* directions of writing, C1 controls; quotes as gnuplot reads them */
  tv_plot_set_text(&strange, "a", "\u202ex\u2066y\u2069z\u200f");
  tv_plot_set_text(&strange, "b", "x\xc2\x85y\xc2\x9bz\xff\u00e9");
  tv_plot_set_text(&strange, "c", "'=x \"y\"");
  tv_plot_set_text(&strange, "d", "x''y");
  assert_string_equal(strange.settings.text,
                      "a = ' x y z '\nb = 'x y z?\u00e9'\nc = \"'=x \\\"y\\\"\"\nd = \"x''y\"\n");
  tv_plot_cell_text(&strange, "\u202ex");
  assert_string_equal(strange.data.text, " \" x\"");
  free(strange.settings.text);
  free(strange.data.text);
  struct tv_plot titled = {0};
  tv_plot_title(&titled, "%s",
                "a title that is far too long for one line of the picture is split near its middle");
  assert_non_null(strstr(titled.settings.text, "title2 = 'of the picture is split near its middle'"));
  free(titled.settings.text);
}

int main(void) {
  int descriptor = mkstemp(path);
  if (descriptor < 0) return 1;
  close(descriptor);
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_reading), cmocka_unit_test(test_faults),
                                     cmocka_unit_test(test_thinning), cmocka_unit_test(test_texts)};
  int failed = cmocka_run_group_tests(tests, NULL, NULL);
  unlink(path);
  return failed;
}
