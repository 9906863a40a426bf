/* compare: a log written by the simulator itself is matched to the last bit where it should be; what is added to it is what compare
 * finds. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/compare.h"
#include "simulate/run.h"
#include "support/scenes.h"

static struct tailvolt_system *car(void) {
  return scene_parse("[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 800 W\n"
                     "[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n");
}

/* What the car does: idles, plays a prescribed draw, stands. */
#define DRIVE_ROWS 120
static void drive_row(int k, char *text, size_t size) {
  snprintf(text, size, "%d,%d,%d", k, k < 90 ? 800 + 400 * (k / 30) : 0, k % 20 < 10 ? 0 : 40);
}

/* A log of the given measured cells, [row][column]; NAN leaves a cell empty. */
static struct tailvolt_log *write_log(const struct tailvolt_system *system, const char *columns, int count, const double *cells) {
  static char text[1 << 16];
  size_t used = (size_t)snprintf(text, sizeof text, "time_s,engine_rpm,supply_a:bass,%s\n", columns);
  for (int k = 0; k < DRIVE_ROWS; k++) {
    drive_row(k, text + used, sizeof text - used);
    used += strlen(text + used);
    for (int c = 0; c < count; c++)
      used += (size_t)(isnan(cells[k * count + c]) ? snprintf(text + used, sizeof text - used, ",")
                                                   : snprintf(text + used, sizeof text - used, ",%.17g", cells[k * count + c]));
    used += (size_t)snprintf(text + used, sizeof text - used, "\n");
  }
  struct tailvolt_log *log = NULL;
  struct tailvolt_faults faults;
  if (tailvolt_log_parse(text, "log.csv", system, &log, &faults) != TAILVOLT_OK) fail_msg("%s", faults.fault[0].message);
  return log;
}

static struct tailvolt_comparison *compare(const struct tailvolt_system *system, const struct tailvolt_log *log,
                                           struct tailvolt_compare_options options) {
  struct tailvolt_comparison *comparison = NULL;
  char error[TAILVOLT_TEXT_MAX];
  if (tailvolt_compare(system, &log, 1, &options, &comparison, error) != TAILVOLT_OK) fail_msg("%s", error);
  return comparison;
}

#define COLUMNS "voltage_v:amplifier plus,voltage_v:bass,current_a:alternator,current_a:battery,current_a:feed"

/* What the simulator would have measured. */
static double *made_cells(const struct tailvolt_system *system, struct tailvolt_compare_options options) {
  double *cells = calloc(DRIVE_ROWS * 5, sizeof *cells);
  struct tailvolt_log *log = write_log(system, COLUMNS, 5, cells);
  struct tailvolt_comparison *comparison = compare(system, log, options);
  memcpy(cells, comparison->logs[0].simulated, DRIVE_ROWS * 5 * sizeof *cells);
  tailvolt_comparison_free(comparison);
  tailvolt_log_free(log);
  return cells;
}

/* Against a recording simulation: the amplifier's voltage and the alternator's current are those of the step at that time. */
static int first_step(void *context, const double *cells, int count) {
  double(*seen)[DRIVE_ROWS] = context;
  double at_s = cells[0];
  int k = (int)floor(at_s + 0.5);
  (void)count;
  if (k < DRIVE_ROWS && fabs(at_s - k) < 1e-6) seen[0][k] = cells[3];
  return 0;
}
static int no_columns(void *context, const char *const *names, int count) {
  (void)context;
  (void)count;
  assert_string_equal(names[3], "bass:v_mean");
  return 0;
}

static void reads_what_a_run_shows(void **state) {
  (void)state;
  struct tailvolt_system *system = car();
  struct tailvolt_compare_options options = tailvolt_default_compare_options();
  options.run.time_step_s = 1e-3;
  double *cells = made_cells(system, options), seen[1][DRIVE_ROWS];
  static char text[1 << 14];
  size_t used = (size_t)snprintf(text, sizeof text, "time_s,engine_rpm,programme,supply_a:bass\n");
  for (int k = 0; k < DRIVE_ROWS; k++)
    used += (size_t)snprintf(text + used, sizeof text - used, "%d,%d,silence,%d\n", k, k < 90 ? 800 + 400 * (k / 30) : 0,
                             k % 20 < 10 ? 0 : 40);
  struct tailvolt_profile *profile = scene_profile(system, text);
  struct tailvolt_record_sink sink = {seen, no_columns, first_step};
  struct tailvolt_options run = tailvolt_default_options();
  struct tailvolt_result *result = NULL;
  char error[TAILVOLT_TEXT_MAX];
  run.record = &sink;
  run.record_every_s = run.time_step_s = 1e-3;
  assert_int_equal(tailvolt_simulate(system, profile, &run, &result, error), TAILVOLT_OK);
  for (int k = 0; k < DRIVE_ROWS - 1; k++) assert_near(cells[5 * k + 1], seen[0][k], 1e-9);
  tailvolt_result_free(result);
  tailvolt_profile_free(profile);
  free(cells);
  tailvolt_system_free(system);
}

static void finds_what_was_added(void **state) {
  (void)state;
  struct tailvolt_system *system = car();
  struct tailvolt_compare_options options = tailvolt_default_compare_options();
  double *cells = made_cells(system, options);
  struct tailvolt_log *log = write_log(system, COLUMNS, 5, cells);
  struct tailvolt_comparison *comparison = compare(system, log, options);
  for (int c = 0; c < 5; c++) {
    assert_int_equal(comparison->logs[0].columns[c].count, DRIVE_ROWS);
    assert_true(comparison->logs[0].columns[c].rms < 1e-12);
  }
  assert_int_equal(comparison->disagreement_count, 0);
  assert_false(comparison->music);
  tailvolt_comparison_free(comparison);
  tailvolt_log_free(log);
  /* Kirchhoff: the feed carries what the amplifier draws; a reversed clamp shows the rest */
  for (int k = 0; k < DRIVE_ROWS; k++) assert_near(cells[5 * k + 4], k % 20 < 10 ? 0 : 40, 1e-6);
  /* a bias, a spike, a gap */
  for (int k = 0; k < DRIVE_ROWS; k++) cells[5 * k + 1] -= 0.25;
  cells[5 * 37 + 1] -= 1.0;
  cells[5 * 38 + 1] = (double)NAN;
  log = write_log(system, COLUMNS, 5, cells);
  comparison = compare(system, log, options);
  const struct tailvolt_compared *column = &comparison->logs[0].columns[1];
  assert_int_equal(column->count, DRIVE_ROWS - 1);
  assert_near(column->bias, 0.25 + 1.0 / (DRIVE_ROWS - 1), 1e-9);
  assert_near(column->worst, 1.25, 1e-9);
  assert_near(column->worst_s, 37, 0);
  assert_near(column->rms * column->rms, column->bias * column->bias + column->spread * column->spread, 1e-12);
  assert_int_equal(comparison->disagreements[0].column, 1);
  assert_near(comparison->disagreements[0].time_s, 37, 0);
  assert_near(comparison->disagreements[0].to_s - comparison->disagreements[0].from_s, 0, 0);
  tailvolt_comparison_free(comparison);
  /* only readings in the requested time count */
  options.from_s = 40;
  options.to_s = 60;
  comparison = compare(system, log, options);
  assert_int_equal(comparison->logs[0].columns[1].count, 21);
  assert_near(comparison->logs[0].columns[1].worst, 0.25, 1e-9);
  char *csv = NULL;
  assert_int_equal(tv_compare_csv(comparison, NULL, &csv), TAILVOLT_OK);
  int lines = 0;
  for (const char *at = csv; *at != '\0'; at++) lines += *at == '\n';
  assert_int_equal(lines, 22);
  tailvolt_report_free(csv);
  tailvolt_comparison_free(comparison);
  tailvolt_log_free(log);
  free(cells);
  tailvolt_system_free(system);
}

static void says_what_is_missing(void **state) {
  (void)state;
  struct tailvolt_system *system = car();
  struct tailvolt_log *log = NULL;
  struct tailvolt_faults faults;
  struct tailvolt_comparison *comparison = NULL;
  struct tailvolt_compare_options options = tailvolt_default_compare_options();
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tailvolt_log_parse("time_s,voltage_v:battery\n0,12.5\n5,12.5\n", "bare.csv", system, &log, &faults), TAILVOLT_OK);
  const struct tailvolt_log *one = log;
  assert_int_equal(tailvolt_compare(system, &one, 1, &options, &comparison, error), TAILVOLT_BAD_INPUT);
  assert_string_equal(error, "bare.csv: does not say what the car did: add a column such as engine_rpm, or give a load profile");
  /* with a profile beside it; readings outside it do not count */
  struct tailvolt_profile *profile = scene_profile(system, "time_s,engine_rpm,programme\n-5,800,silence\n3,800,silence\n");
  options.profile = profile;
  comparison = compare(system, log, options);
  assert_int_equal(comparison->logs[0].columns[0].count, 1);
  tailvolt_comparison_free(comparison);
  options.from_s = 100;
  assert_int_equal(tailvolt_compare(system, &one, 1, &options, &comparison, error), TAILVOLT_BAD_INPUT);
  assert_string_equal(error, "no reading lies in the time that is simulated and asked for");
  tailvolt_profile_free(profile);
  tailvolt_log_free(log);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(reads_what_a_run_shows),
      cmocka_unit_test(finds_what_was_added),
      cmocka_unit_test(says_what_is_missing),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
