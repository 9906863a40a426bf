/* Variations: lists and ranges as read, and rows equal to single runs for any threads and shards. */
#include "support/assert_near.h"

#include <stdlib.h>
#include <string.h>

#include "report/vary_table.h"
#include "support/scenes.h"

#define CAR TAILVOLT_SOURCE_DIR "/examples/lessons/car.ini"
#define IDLE TAILVOLT_SOURCE_DIR "/examples/lessons/idle.csv"

static struct tailvolt_variation *parse(const char *const *texts, int count, struct tailvolt_faults *faults) {
  struct tailvolt_variation *variation = NULL;
  memset(faults, 0, sizeof *faults);
  enum tailvolt_status status = tailvolt_variation_parse(texts, count, &variation, faults);
  assert_true((status == TAILVOLT_OK) == (faults->count == 0));
  return variation;
}

static void expect_values(const char *text, const char *wanted) {
  struct tailvolt_faults faults;
  char seen[1024] = "";
  struct tailvolt_variation *variation = parse(&text, 1, &faults);
  if (variation == NULL) fail_msg("%s: %s", text, faults.fault[0].message);
  for (int k = 0; k < variation->keys[0].value_count; k++) {
    if (k > 0) strncat(seen, ";", sizeof seen - strlen(seen) - 1);
    strncat(seen, variation->keys[0].values[k], sizeof seen - strlen(seen) - 1);
  }
  assert_string_equal(seen, wanted);
  tailvolt_variation_free(variation);
}

static void test_values(void **state) {
  (void)state;
  expect_values("cable feed.size = 8 AWG, 4 AWG , 1/0 AWG", "8 AWG;4 AWG;1/0 AWG");
  expect_values("cable feed.length=1 m .. 4 m step 1 m", "1 m;2 m;3 m;4 m");
  expect_values("cable feed.length = 1 .. 4 m step 1.5", "1.0 m;2.5 m;4.0 m");
  /* ends at the last step within the end; a tenth is not exact in binary */
  expect_values("cable feed.length = 0 m .. 1 m step 0.3 m", "0.0 m;0.3 m;0.6 m;0.9 m");
  expect_values("cable feed.length = 0 m .. 0.3 m step 0.1 m", "0.0 m;0.1 m;0.2 m;0.3 m");
  /* downwards, through zero, and mixed with a list */
  expect_values("vehicle.ambient = 10 C .. -20 C step 15 C, 30 C", "10 C;-5 C;-20 C;30 C");
  /* a unit stated once, at the end, is of all; one that an earlier value has is its own */
  expect_values("battery.capacity = 40, 60, 80 Ah", "40 Ah;60 Ah;80 Ah");
  expect_values("battery.cold cranking = 600, 640 A EN", "600 A EN;640 A EN");
  expect_values("cable feed.size = 4 | 1/0 | 2/0 AWG", "4 AWG;1/0 AWG;2/0 AWG");
  expect_values("battery.capacity = 40, 60 .. 80 step 20 Ah", "40 Ah;60 Ah;80 Ah");
  expect_values("battery.capacity = 40 .. 60 step 20, 80 Ah", "40 Ah;60 Ah;80 Ah");
  expect_values("battery.capacity = 40, 60 Ah, 80 Ah", "40;60 Ah;80 Ah");
  expect_values("cable feed.size = 1, 2 x 4 AWG", "1;2 x 4 AWG");
  expect_values("programme a.seed = 1, 2", "1;2");
  /* what may itself be written `A .. B` is one value without a step */
  expect_values("alternator.set point = 12.2 V .. 15.0 V | 13.5 V .. 15.0 V", "12.2 V .. 15.0 V;13.5 V .. 15.0 V");
  expect_values("alternator.set point = 12.2 .. 15.0, 14.2, 13.5 .. 15.0 V", "12.2 .. 15.0 V;14.2 V;13.5 .. 15.0 V");
  expect_values("alternator.set point = 14.2 V, 12.4 V .. 14.8 V", "14.2 V;12.4 V .. 14.8 V");
  expect_values("alternator.set point = 13 V .. 14 V step 0.5 V, 12.4 V .. 14.8 V", "13.0 V;13.5 V;14.0 V;12.4 V .. 14.8 V");
  expect_values("battery.polarization = 4 mohm, 10 s | 8 mohm, 10 s", "4 mohm, 10 s;8 mohm, 10 s");
}

static void expect_fault(const char *text, const char *part) {
  struct tailvolt_faults faults;
  struct tailvolt_variation *variation = parse(&text, 1, &faults);
  assert_null(variation);
  if (strstr(faults.fault[0].message, part) == NULL) fail_msg("`%s` said: %s", text, faults.fault[0].message);
}

static void test_faults(void **state) {
  (void)state;
  struct tailvolt_faults faults;
  expect_fault("cable feed size", "SECTION.KEY = VALUE");
  expect_fault("size = 8 AWG", "SECTION.KEY = VALUE");
  expect_fault("cable feed.size = 8 AWG,, 4 AWG", "a value is missing");
  expect_fault("cable feed.size = 8 AWG, 8 AWG", "twice");
  expect_fault("battery.capacity = 40, 40 Ah", "twice");
  expect_fault("cable feed.length = 1 m .. 8 m", "needs its step");
  expect_fault("alternator.rated current = 90 A .. 120 A", "needs its step");
  expect_fault("alternator.set point = 12.2 V .. 15.0 V, 12.2 V .. 15.0 V", "twice");
  expect_fault("cable feed.length = 1 m .. 8 m step 10 cm", "same unit");
  expect_fault("cable feed.length = 1 m .. 8 m step 0 m", "too small");
  expect_fault("cable feed.size = 8 AWG .. 1/0 AWG step 2 AWG", "numbers with their unit");
  const char *twice[] = {"a.b = 1", "a.b = 2"};
  assert_null(parse(twice, 2, &faults));
  const char *five[] = {"a.b = 1", "a.c = 1", "a.d = 1", "a.e = 1", "a.f = 1"};
  assert_null(parse(five, 5, &faults));
  const char *many[] = {"a.b = 1 .. 2000 step 1", "a.c = 1 .. 2000 step 1"};
  assert_null(parse(many, 2, &faults));
  assert_non_null(strstr(faults.fault[0].message, "combinations"));
}

static void test_order(void **state) {
  (void)state;
  struct tailvolt_faults faults;
  const char *texts[] = {"a.b = p, q", "a.c = 1, 2, 3"};
  struct tailvolt_variation *variation = parse(texts, 2, &faults);
  assert_int_equal(variation->row_count, 6);
  assert_string_equal(tailvolt_variation_value(variation, 4, 0), "q");
  assert_string_equal(tailvolt_variation_value(variation, 4, 1), "2");
  tailvolt_variation_free(variation);
}

/* Lines of all rows, wherever they ran. */
struct gathered {
  const struct tailvolt_variation *variation;
  char *line[16];
  int calls;
};

static int gather(void *context, const struct tailvolt_vary_row *row) {
  struct gathered *gathered = context;
  assert_null(gathered->line[row->index]);
  gathered->line[row->index] = tv_vary_line(gathered->variation, row);
  gathered->calls++;
  return 0;
}

static const char *const keys[] = {"cable feed.size = 8 AWG, 0 AWG",
                                   "amplifier bass.rated power = 300 W, 900 W, 1500 W"};

static void run_with(struct gathered *gathered, int threads, int shard_count) {
  for (int shard = 1; shard <= shard_count; shard++) {
    struct tailvolt_vary_options options = tailvolt_default_vary_options();
    options.threads = threads;
    options.shard = shard;
    options.shard_count = shard_count;
    options.context = gathered;
    options.row = gather;
    options.run.time_step_s = 1e-3;
    assert_int_equal(tailvolt_vary(CAR, NULL, 0, IDLE, gathered->variation, &options), TAILVOLT_OK);
  }
}

static void test_same_rows(void **state) {
  (void)state;
  struct tailvolt_faults faults;
  struct tailvolt_variation *variation = parse(keys, 2, &faults);
  struct gathered one = {.variation = variation}, four = one, shards = one;
  run_with(&one, 1, 1);
  run_with(&four, 4, 1);
  run_with(&shards, 2, 4);
  assert_int_equal(one.calls, 6);
  assert_int_equal(shards.calls, 6);
  for (int k = 0; k < 6; k++) {
    assert_string_equal(one.line[k], four.line[k]);
    assert_string_equal(one.line[k], shards.line[k]);
    assert_true(tv_vary_line_is(variation, k, one.line[k]));
    assert_false(tv_vary_line_is(variation, (k + 1) % 6, one.line[k]));
    if (k > 0) assert_string_not_equal(one.line[k], one.line[k - 1]);
  }
  for (int k = 0; k < 6; k++) {
    free(one.line[k]);
    free(four.line[k]);
    free(shards.line[k]);
  }
  tailvolt_variation_free(variation);
}

static int compare_with_single(void *context, const struct tailvolt_vary_row *row) {
  const struct tailvolt_setting settings[] = {{"cable feed.size = 0 AWG"},
                                              {"amplifier bass.rated power = 900 W"}};
  struct tailvolt_faults faults = {0};
  struct tailvolt_system *system;
  struct tailvolt_profile *profile;
  struct tailvolt_result *result;
  struct tailvolt_options options = tailvolt_default_options();
  if (row->index != 4) return 0;
  options.time_step_s = 1e-3;
  assert_int_equal(tailvolt_system_read(CAR, settings, 2, &system, &faults), TAILVOLT_OK);
  assert_int_equal(tailvolt_profile_read(IDLE, NULL, system, &profile, &faults), TAILVOLT_OK);
  assert_int_equal(tailvolt_simulate(system, profile, &options, &result, NULL), TAILVOLT_OK);
  assert_near(row->result->amplifiers[0].min_v, result->amplifiers[0].min_v, 1e-12);
  assert_near(row->result->batteries[0].end_soc_pct, result->batteries[0].end_soc_pct, 1e-9);
  tailvolt_result_free(result);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  ++*(int *)context;
  return 0;
}

static void test_row_is_a_single_run(void **state) {
  (void)state;
  struct tailvolt_faults faults;
  struct tailvolt_variation *variation = parse(keys, 2, &faults);
  struct tailvolt_vary_options options = tailvolt_default_vary_options();
  int compared = 0;
  options.context = &compared;
  options.row = compare_with_single;
  options.run.time_step_s = 1e-3;
  assert_int_equal(tailvolt_vary(CAR, NULL, 0, IDLE, variation, &options), TAILVOLT_OK);
  assert_int_equal(compared, 1);
  tailvolt_variation_free(variation);
}

/* Every faulty value is found before anything runs, and the file's own faults once. */
static void test_check(void **state) {
  (void)state;
  struct tailvolt_faults faults;
  const char *texts[] = {"cable feed.size = 8 AWG, 8, red", "cable feed.lengt = 1 m"};
  struct tailvolt_variation *variation = parse(texts, 2, &faults);
  struct tailvolt_vary_options options = tailvolt_default_vary_options();
  assert_int_equal(tailvolt_vary_check(CAR, NULL, 0, IDLE, variation, &options, &faults), TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.count, 3);
  tailvolt_variation_free(variation);
}

static int stop_at_once(void *context, double done_frac) {
  (void)context;
  (void)done_frac;
  return 1;
}

static void test_stopped(void **state) {
  (void)state;
  struct tailvolt_faults faults;
  struct tailvolt_variation *variation = parse(keys, 2, &faults);
  struct tailvolt_vary_options options = tailvolt_default_vary_options();
  options.progress = stop_at_once;
  assert_int_equal(tailvolt_vary(CAR, NULL, 0, IDLE, variation, &options), TAILVOLT_STOPPED);
  options.size--;
  assert_int_equal(tailvolt_vary(CAR, NULL, 0, IDLE, variation, &options), TAILVOLT_INTERNAL);
  assert_int_equal(tailvolt_vary_check(CAR, NULL, 0, IDLE, variation, &options, &faults), TAILVOLT_INTERNAL);
  tailvolt_variation_free(variation);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_values),
                                     cmocka_unit_test(test_faults),
                                     cmocka_unit_test(test_order),
                                     cmocka_unit_test(test_same_rows),
                                     cmocka_unit_test(test_row_is_a_single_run),
                                     cmocka_unit_test(test_check),
                                     cmocka_unit_test(test_stopped)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
