/* JSON reports: keys and their order, null for missing values, and a document that reads back. */
#include "support/assert_near.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/json_write.h"
#include "support/sample_result.h"
#include "tailvolt/report.h"

static struct sample fails, holds;

static json_t *report(const struct sample *sample, char **text) {
  const struct tailvolt_result *run = &sample->result;
  json_error_t error;
  assert_int_equal(tailvolt_report_json(&sample->system, &run, 1, text), TAILVOLT_OK);
  json_t *root = json_loads(*text, JSON_REJECT_DUPLICATES, &error);
  if (root == NULL) fail_msg("line %d: %s", error.line, error.text);
  return root;
}

/* The listed keys come first, in this order; more may follow. */
static void check_keys(json_t *object, const char *const *keys) {
  assert_true(json_is_object(object));
  void *at = json_object_iter(object);
  for (; *keys != NULL; keys++) {
    if (at == NULL) fail_msg("%s is missing", *keys);
    assert_string_equal(json_object_iter_key(at), *keys);
    at = json_object_iter_next(object, at);
  }
}

#define KEYS(object, ...) check_keys(object, (const char *const[]){__VA_ARGS__, NULL})

static json_t *first(json_t *root, const char *key) {
  json_t *list = json_object_get(root, key);
  assert_true(json_is_array(list));
  assert_int_not_equal(json_array_size(list), 0);
  return json_array_get(list, 0);
}

static void test_keys(void **state) {
  (void)state;
  char *text;
  json_t *root = report(&fails, &text);
  KEYS(root, "tailvolt", "system", "profile", "duration_s", "step_s", "steps", "verdict", "amplifiers", "sag_ledger",
       "batteries", "alternator", "capacitors", "conductors", "fuses", "budget", "meters", "energy", "phases", "assumed",
       "cautions");
  KEYS(json_object_get(root, "verdict"), "status", "reasons");
  KEYS(first(root, "amplifiers"), "name", "rest_v", "min_v", "min_time_s", "min_without_ripple_v", "mean_v", "low_1pct_v",
       "target_v", "below_target_pct", "mean_a", "peak_a", "input_j", "output_j", "lost_output_db", "cut_outs", "off_s");
  KEYS(first(root, "sag_ledger"), "amplifier", "time_s", "rest_v", "terminal_v", "entries", "residual_v");
  KEYS(first(first(root, "sag_ledger"), "entries"), "part", "kind", "current_a", "drop_v", "share_pct",
       "ground_side", "index");
  KEYS(first(root, "batteries"), "name", "start_soc_pct", "end_soc_pct", "min_soc_pct", "min_v", "end_rest_v",
       "charge_in_ah", "charge_out_ah", "discharged_j", "charged_j", "loss_j");
  KEYS(json_object_get(root, "alternator"), "output_j", "mean_a", "peak_a", "at_limit_pct", "mean_available_a");
  KEYS(first(root, "capacitors"), "name", "min_v", "peak_a", "loss_j");
  KEYS(first(root, "conductors"), "name", "kind", "rms_a", "peak_a", "max_drop_v", "loss_j", "loss_w", "end_c", "steady_c",
       "insulation_limit_c", "status");
  KEYS(first(root, "fuses"), "name", "rating_a", "rms_a", "peak_a", "margin_pct", "opens",
       "opens_time_s", "may_open", "cable_ampacity_a", "assumed");
  KEYS(json_object_get(root, "budget"), "driving", "parked");
  KEYS(json_object_get(json_object_get(root, "budget"), "driving"), "available_a", "generation_a", "base_a",
       "amplifier_a", "battery_a", "surplus_a");
  KEYS(first(root, "meters"), "name", "rest_v", "min_v", "mean_v", "max_v");
  KEYS(json_object_get(root, "energy"), "generated_j", "from_storage_j", "loads_j", "amplifiers_j", "losses_j",
       "residual_j");
  KEYS(first(root, "phases"), "name", "status", "reasons");
  KEYS(first(root, "assumed"), "key", "value");
  json_decref(root);
  tailvolt_report_free(text);
}

static void test_values(void **state) {
  (void)state;
  char *text;
  json_t *root = report(&fails, &text);
  json_t *amplifier = first(root, "amplifiers");
  assert_near(json_real_value(json_object_get(amplifier, "min_v")), 10.9, 0.0);
  assert_true(json_is_null(json_object_get(amplifier, "first_collapse_s")));
  assert_true(json_is_null(json_object_get(first(root, "conductors"), "end_c"))); /* a fuse has none */
  assert_true(json_is_null(json_object_get(json_object_get(root, "budget"), "parked")));
  assert_int_equal(json_integer_value(json_object_get(root, "steps")), 1200000);
  assert_string_equal(json_string_value(json_object_get(json_object_get(root, "verdict"), "status")), "fails");
  assert_near(json_real_value(json_object_get(json_object_get(root, "energy"), "residual_j")), 1.25e-9, 0.0);
  /* only phases that occur, worst first */
  json_t *phases = json_object_get(root, "phases");
  assert_int_equal(json_array_size(phases), 2);
  assert_string_equal(json_string_value(json_object_get(json_array_get(phases, 0), "name")), "idle");
  assert_string_equal(json_string_value(json_object_get(json_array_get(phases, 1), "status")), "holds");
  assert_int_equal(json_array_size(json_object_get(json_array_get(phases, 1), "reasons")), 1);
  json_decref(root);
  tailvolt_report_free(text);
}

static void test_several_runs(void **state) {
  (void)state;
  const struct tailvolt_result *runs[] = {&holds.result, &fails.result};
  char *text;
  assert_int_equal(tailvolt_report_json(&fails.system, runs, 2, &text), TAILVOLT_OK);
  json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
  assert_non_null(root);
  json_t *list = json_object_get(root, "runs");
  assert_int_equal(json_array_size(list), 2);
  KEYS(json_array_get(list, 1), "tailvolt", "system", "profile");
  json_decref(root);
  tailvolt_report_free(text);
}

static void test_no_alternator(void **state) {
  (void)state;
  struct sample *sample = malloc(sizeof *sample);
  assert_non_null(sample);
  sample_holds(sample);
  sample->result.alternator.present = false;
  char *text;
  json_t *root = report(sample, &text);
  assert_true(json_is_null(json_object_get(root, "alternator")));
  json_decref(root);
  tailvolt_report_free(text);
  free(sample);
}

static void test_faults(void **state) {
  (void)state;
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  assert_non_null(faults);
  faults->count = 1;
  struct tailvolt_fault *fault = &faults->fault[0];
  snprintf(fault->file, sizeof fault->file, "van.ini");
  snprintf(fault->key, sizeof fault->key, "cable feed.size");
  snprintf(fault->value, sizeof fault->value, "8");
  snprintf(fault->message, sizeof fault->message, "which unit? \"8 AWG\" or 8 mm2\n\x01");
  fault->line = 12;
  char *text;
  assert_int_equal(tailvolt_report_faults_json(faults, &fails.system, &text), TAILVOLT_OK);
  json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
  assert_non_null(root);
  json_t *entry = first(root, "faults");
  KEYS(entry, "file", "line", "column", "key", "value", "message");
  assert_int_equal(json_integer_value(json_object_get(entry, "line")), 12);
  assert_true(json_is_null(json_object_get(entry, "column")));
  assert_string_equal(json_string_value(json_object_get(entry, "message")), fault->message);
  assert_int_equal(json_array_size(json_object_get(root, "assumed")), 9);
  json_decref(root);
  tailvolt_report_free(text);
  free(faults);
}

/* A name cut in mid-character, or typed in another encoding, still gives valid JSON. */
static void test_broken_utf8(void **state) {
  (void)state;
  struct tv_buffer buffer = {0};
  char *text;
  json_t *name = tv_json_text("caf\xe9");
  tv_json_write(name, &buffer);
  json_decref(name);
  assert_int_equal(tv_buffer_finish(&buffer, &text), TAILVOLT_OK);
  assert_string_equal(text, "\"caf?\"\n");
  free(text);
}

/* Every allocation of the tree fails in turn: the call says so and returns nothing half made. */
static long allocations_left;

static void *rationed(size_t size) { return allocations_left-- > 0 ? malloc(size) : NULL; }

static void test_no_memory(void **state) {
  (void)state;
  const struct tailvolt_result *run = &fails.result;
  char *text = NULL;
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  long ration = 0;
  json_set_alloc_funcs(rationed, free);
  for (; status == TAILVOLT_NO_MEMORY && ration < 100000; ration++) {
    allocations_left = ration;
    status = tailvolt_report_json(&fails.system, &run, 1, &text);
    if (status == TAILVOLT_NO_MEMORY) assert_null(text);
  }
  json_set_alloc_funcs(malloc, free);
  assert_int_equal(status, TAILVOLT_OK);
  assert_true(ration > 300); /* the tree has hundreds of nodes, and each was refused once */
  tailvolt_report_free(text);
}

int main(void) {
  sample_fails(&fails);
  sample_holds(&holds);
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_keys),          cmocka_unit_test(test_values), cmocka_unit_test(test_several_runs),
      cmocka_unit_test(test_no_alternator), cmocka_unit_test(test_faults), cmocka_unit_test(test_broken_utf8),
      cmocka_unit_test(test_no_memory)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
