/* The measured 17 Ah battery as a log that its owner could have written: time, what the tester drew, the air, the volts at the posts.
 *
 * Seven whole discharges of a valve-regulated battery (BSD-3, licence beside the extracts; described in Sulzer et al., J. Electrochem.
 * Soc. 166(12), 2019, A2363), thinned to a reading every five minutes and every hundred seconds towards the end. The system file says
 * what the label says; tailvolt_match() finds the charge that the battery really holds and its voltage when empty from two of them, the
 * quickest and one of the slow ones, and the other five are predicted. tests/outside/test_battery_measured.c holds the model with
 * values fitted by hand to 0.12 V between 5 and 95 % of the charge delivered: the same span is used here. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_statistics_double.h>

#include "support/scenes.h"

#ifdef TAILVOLT_SANITIZED
enum { SLOW = 1 };
#else
enum { SLOW = 0 };
#endif
enum { LOGS = 7, FIRST = 0, SECOND = 4 };
static const double LABEL_MODEL_V = 0.12;

static const char bench[] = "[vehicle]\nwiring = own\ncharging = none\n[battery]\npositive = battery post\ncapacity = 17 Ah\nkind = AGM\n"
                            "health = 100 %\nstate of charge = 100 %\nempty voltage = 11.5 V\n"
                            "[amplifier tester]\npositive = battery post\nnegative = ground\nrated power = 100 W\ncut-out voltage = 0 V\n";

static struct tailvolt_log *read_log(const struct tailvolt_system *system, int k) {
  char path[512];
  struct tailvolt_log *log = NULL;
  struct tailvolt_faults faults;
  snprintf(path, sizeof path, TAILVOLT_SOURCE_DIR "/tests/outside/data/vrla-17ah-discharge-%d.csv", k + 1);
  if (tailvolt_log_read(path, NULL, system, &log, &faults) != TAILVOLT_OK) fail_msg("%s", faults.fault[0].message);
  return log;
}

/* RMS at a nearly constant current between 5 and 95 % of the charge. */
static double error_v(const struct tailvolt_system *system, const struct tailvolt_log *log) {
  struct tailvolt_compare_options options = tailvolt_default_compare_options();
  struct tailvolt_comparison *comparison = NULL;
  char error[TAILVOLT_TEXT_MAX];
  if (tailvolt_compare(system, &log, 1, &options, &comparison, error) != TAILVOLT_OK) fail_msg("%s", error);
  double end_s = comparison->logs[0].time_s[comparison->logs[0].row_count - 1];
  tailvolt_comparison_free(comparison);
  options.from_s = 0.05 * end_s;
  options.to_s = 0.95 * end_s;
  if (tailvolt_compare(system, &log, 1, &options, &comparison, error) != TAILVOLT_OK) fail_msg("%s", error);
  double rms_v = comparison->logs[0].columns[0].rms;
  tailvolt_comparison_free(comparison);
  return rms_v;
}

static void two_fitted_five_predicted(void **state) {
  (void)state;
  static const char *const keys[] = {"battery.capacity", "battery.empty voltage"};
  struct tailvolt_system *system = scene_parse(bench), *fitted = NULL;
  struct tailvolt_compare_options options = tailvolt_default_compare_options();
  struct tailvolt_matching *matching = NULL;
  struct tailvolt_log *logs[LOGS];
  char error[TAILVOLT_TEXT_MAX];
  double predicted_v[LOGS - 2];
  int n = 0;
  for (int k = 0; k < LOGS; k++) logs[k] = read_log(system, k);
  const struct tailvolt_log *two[] = {logs[FIRST], logs[SECOND]};
  if (tailvolt_match(system, two, 2, keys, 2, &options, &matching, error) != TAILVOLT_OK) fail_msg("%s", error);
  assert_int_equal(tailvolt_system_copy(system, &fitted), TAILVOLT_OK);
  for (int k = 0; k < 2; k++) {
    const struct tailvolt_matched *key = &matching->keys[k];
    print_message("%s = %s (%s .. %s)\n", key->key, key->text, key->low_text, key->high_text);
    assert_int_equal(key->state, TAILVOLT_MATCH_FITTED);
    assert_int_equal(tailvolt_system_set(fitted, key->key, key->text), TAILVOLT_OK);
  }
  for (int k = 0; k < LOGS; k++) {
    double v = error_v(fitted, logs[k]), label_v = error_v(system, logs[k]);
    bool mine = k == FIRST || k == SECOND;
    print_message("discharge %d %s %.3f V rms; from the label alone %.2f V\n", k + 1, mine ? "fitted to   " : "predicted to", v, label_v);
    if (!mine) predicted_v[n++] = v;
  }
  double median_v = gsl_stats_median(predicted_v, 1, (size_t)n);
  print_message("median of the five predicted %.3f V; the model with values fitted by hand to all seven: at most %.2f V\n", median_v,
                LABEL_MODEL_V);
  for (int k = 0; k < n; k++) assert_true(predicted_v[k] < LABEL_MODEL_V);
  tailvolt_matching_free(matching);
  for (int k = 0; k < LOGS; k++) tailvolt_log_free(logs[k]);
  tailvolt_system_free(fitted);
  tailvolt_system_free(system);
}

int main(void) {
  if (SLOW) {
    print_message("skipped: minutes under a sanitizer, and test_one_car goes the same way\n");
    return 77;
  }
  const struct CMUnitTest tests[] = {cmocka_unit_test(two_fitted_five_predicted)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
