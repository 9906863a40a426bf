/* Names are for people. With every part and point of every example renamed: the same verdict, the same findings about the
 * same parts, the same bits. */
#include "support/assert_near.h"

#include <stdio.h>
#include <string.h>

#include "support/scenes.h"

struct job {
  const char *system, *profile;
};

static const struct job jobs[] = {
    {"examples/van-800w-8awg/system.ini", "time_s,engine_rpm,programme\n0,800,drums\n8,2300,drums\n12,2300,drums\n"},
    {"examples/van-put-right/system.ini", "time_s,engine_rpm,programme\n0,800,drums\n8,2300,drums\n12,2300,drums\n"},
    {"examples/hatchback-300w/system.ini", "time_s,engine_rpm,programme\n0,0,silence\n2,800,silence\n5,800,silence\n"},
    {"examples/reference/ten-line.ini", "time_s,engine_rpm\n0,800\n8,0\n12,0\n"},
    {"examples/reference/all-of-it.ini", "time_s,engine_rpm,programme\n0,0,club\n2,800,club\n12,800,club\n"},
    {"examples/lessons/car.ini", "time_s,engine_rpm\n0,800\n12,800\n"}};

#define RENAME(list, count, letter)                                                                              \
  for (int k = 0; k < (count); k++) snprintf((list)[k].name, sizeof (list)[k].name, letter "%d", k)

static void rename_all(struct tailvolt_system *s) {
  RENAME(s->batteries, s->battery_count, "b");
  RENAME(s->conductors, s->conductor_count, "c");
  RENAME(s->capacitors, s->capacitor_count, "f");
  RENAME(s->isolators, s->isolator_count, "i");
  RENAME(s->loads, s->load_count, "l");
  RENAME(s->amplifiers, s->amplifier_count, "a");
  RENAME(s->meters, s->meter_count, "m");
  RENAME(s->programmes, s->programme_count, "p");
  snprintf(s->vehicle.name, sizeof s->vehicle.name, "v");
  for (int k = 1; k < s->point_count; k++) snprintf(s->point_names[k], sizeof s->point_names[k], "n%d", k);
}

static void same_bits(double a, double b) { assert_memory_equal(&a, &b, sizeof a); }

static void same_finding(const struct tailvolt_finding *a, const struct tailvolt_finding *b) {
  assert_int_equal(a->kind, b->kind);
  assert_int_equal(a->status, b->status);
  assert_int_equal(a->part_count, b->part_count);
  for (int k = 0; k < a->part_count; k++) {
    assert_int_equal(a->part[k].kind, b->part[k].kind);
    assert_int_equal(a->part[k].index, b->part[k].index);
    assert_string_equal(a->part[k].size, b->part[k].size);
  }
  same_bits(a->current_a, b->current_a);
  same_bits(a->limit_a, b->limit_a);
  same_bits(a->temperature_c, b->temperature_c);
  same_bits(a->power_w, b->power_w);
  same_bits(a->length_m, b->length_m);
}

static void same_result(const struct tailvolt_result *a, const struct tailvolt_result *b) {
  assert_int_equal(a->status, b->status);
  assert_int_equal(a->state_hash, b->state_hash);
  assert_int_equal(a->reason_count, b->reason_count);
  for (int k = 0; k < a->reason_count; k++) {
    assert_int_equal(a->reasons[k].status, b->reasons[k].status);
    assert_int_equal(a->reasons[k].topic, b->reasons[k].topic);
    assert_int_equal(a->reasons[k].phase, b->reasons[k].phase);
    if (a->reasons[k].topic == TAILVOLT_ABOUT_SAFETY) same_finding(&a->reasons[k].finding, &b->reasons[k].finding);
  }
  assert_int_equal(a->caution_count, b->caution_count);
  for (int k = 0; k < a->caution_count; k++) same_finding(&a->cautions[k], &b->cautions[k]);
  for (int k = 0; k < a->amplifier_count; k++) {
    same_bits(a->amplifiers[k].min_v, b->amplifiers[k].min_v);
    same_bits(a->amplifiers[k].low_1pct_v, b->amplifiers[k].low_1pct_v);
  }
  for (int k = 0; k < a->ledger_count; k++) {
    assert_int_equal(a->ledgers[k].entry_count, b->ledgers[k].entry_count);
    for (int j = 0; j < a->ledgers[k].entry_count; j++) {
      assert_int_equal(a->ledgers[k].entries[j].index, b->ledgers[k].entries[j].index);
      same_bits(a->ledgers[k].entries[j].drop_v, b->ledgers[k].entries[j].drop_v);
    }
  }
}

static void test_renamed(void **state) {
  (void)state;
  for (size_t j = 0; j < sizeof jobs / sizeof jobs[0]; j++) {
    struct tailvolt_result *result[2];
    for (int renamed = 0; renamed < 2; renamed++) {
      struct tailvolt_system *system = scene_read(jobs[j].system);
      system->engine.simulate_starts = true; /* so that the engine block's point takes part too */
      struct tailvolt_profile *profile = scene_profile(system, jobs[j].profile);
      struct tailvolt_options options = tailvolt_default_options();
      if (renamed) rename_all(system);
      result[renamed] = scene_run(system, profile, &options);
      tailvolt_profile_free(profile);
      tailvolt_system_free(system);
    }
    same_result(result[0], result[1]);
    tailvolt_result_free(result[0]);
    tailvolt_result_free(result[1]);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_renamed)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
