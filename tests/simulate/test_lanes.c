/* Lanes: runs side by side give what each gives alone, to the last bit, at every width and in any company. */
#include "support/assert_near.h"

#include <stdio.h>
#include <string.h>

#include "simulate/lanes.h"
#include "support/scenes.h"

enum { JOBS = 11 };

/* The full example with a relay that closes, two batteries, a capacitor; the feed's length and the music's loudness differ
 * from run to run, one is so weak that it cuts out, one has a fuse so small that it opens, one has another shape. */
struct company {
  struct tailvolt_system *system[JOBS];
  struct tailvolt_profile *profile[JOBS];
  struct tailvolt_options options;
  struct tailvolt_result *alone[JOBS];
};

static const char PROFILE[] =
    "time_s,engine_rpm,programme,level_db\n0,800,silence,0\n1,800,club,0\n4.2,2300,club,3\n7.1,0,club,0\n9,0,club,0\n";

static struct tailvolt_system *vehicle(int k) {
  char feed[96], charge[96];
  snprintf(feed, sizeof feed, "cable amplifier feed.length = %g m", 2.0 + 0.9 * k);
  snprintf(charge, sizeof charge, "battery starter.state of charge = %d %%", 95 - 5 * k);
  struct tailvolt_setting settings[] = {{feed}, {charge}, {"isolator split charge.delay = 0.5 s"}, {"capacitor stiffener.esr = 9 mohm"},
                                        {"amplifier bass.cut-in voltage = 12 V"},
                                        {"amplifier bass.cut-out voltage = 11.6 V"}};
  if (k == 3) settings[2].text = "fuse main.rating = 10 A", settings[3].text = "fuse main.kind = blade";
  struct tailvolt_faults faults;
  struct tailvolt_system *system = NULL;
  int count = k == 7 ? 6 : 4;
  enum tailvolt_status status = tailvolt_system_read(TAILVOLT_SOURCE_DIR "/examples/reference/all-of-it.ini", settings, count,
                                                     &system, &faults);
  if (status != TAILVOLT_OK) fail_msg("%s", faults.fault[0].message);
  if (k == 5) system->meter_count = 0;
  return system;
}

static int make_company(void **state) {
  static struct company c;
  c.options = tailvolt_default_options();
  c.options.settle_s = 3;
  c.options.settle_step_s = 5e-3;
  c.options.blow = true;
  for (int k = 0; k < JOBS; k++) {
    c.system[k] = vehicle(k);
    c.profile[k] = scene_profile(c.system[k], PROFILE);
    c.alone[k] = scene_run(c.system[k], c.profile[k], &c.options);
  }
  assert_true(c.alone[7]->amplifiers[0].cut_outs > 0);
  for (int k = 0; k < JOBS; k++) assert_true(isnan(c.alone[k]->fuses[0].opens_time_s) == (k != 3));
  *state = &c;
  return 0;
}

static int end_company(void **state) {
  struct company *c = *state;
  for (int k = 0; k < JOBS; k++) {
    tailvolt_result_free(c->alone[k]);
    tailvolt_profile_free(c->profile[k]);
    tailvolt_system_free(c->system[k]);
  }
  return 0;
}

static void same_bits(const struct tailvolt_result *a, const struct tailvolt_result *b) {
  assert_true(a->steps == b->steps);
  assert_true(a->amplifiers[0].min_v == b->amplifiers[0].min_v);
  assert_true(a->amplifiers[0].min_time_s == b->amplifiers[0].min_time_s);
  assert_true(a->amplifiers[0].mean_v == b->amplifiers[0].mean_v);
  assert_true(a->amplifiers[0].low_1pct_v == b->amplifiers[0].low_1pct_v);
  assert_true(a->amplifiers[0].min_without_ripple_v == b->amplifiers[0].min_without_ripple_v);
  assert_true(a->amplifiers[0].meter_min_v == b->amplifiers[0].meter_min_v);
  assert_true(a->amplifiers[0].output_j == b->amplifiers[0].output_j);
  assert_int_equal(a->amplifiers[0].cut_outs, b->amplifiers[0].cut_outs);
  for (int k = 0; k < a->battery_count; k++) {
    assert_true(a->batteries[k].end_soc_pct == b->batteries[k].end_soc_pct);
    assert_true(a->batteries[k].min_v == b->batteries[k].min_v);
    assert_true(a->batteries[k].loss_j == b->batteries[k].loss_j);
  }
  assert_memory_equal(&a->fuses[0].opens_time_s, &b->fuses[0].opens_time_s, sizeof(double));
  for (int k = 0; k < a->conductor_count; k++) {
    assert_true(a->conductors[k].rms_a == b->conductors[k].rms_a);
    assert_memory_equal(&a->conductors[k].end_c, &b->conductors[k].end_c, sizeof(double)); /* NAN for a joint */
  }
  for (int k = 0; k < a->ledgers[0].entry_count; k++)
    assert_true(a->ledgers[0].entries[k].drop_v == b->ledgers[0].entries[k].drop_v);
  assert_true(a->energy.residual_j == b->energy.residual_j);
  assert_true(a->state_hash == b->state_hash);
}

static void with_vectors(struct company *c, int first, int count, int lanes, int threads, enum tv_vectors vectors) {
  struct tv_lane_job job[JOBS];
  memset(job, 0, sizeof job);
  for (int k = 0; k < count; k++) {
    job[k].system = c->system[first + k];
    job[k].profile = c->profile[first + k];
    job[k].options = &c->options;
  }
  struct tv_lanes_how how = {.threads = threads, .lanes = lanes, .vectors = vectors};
  assert_int_equal(tv_lanes_simulate(job, count, NULL, &how), TAILVOLT_OK);
  for (int k = 0; k < count; k++) {
    assert_int_equal(job[k].status, TAILVOLT_OK);
    same_bits(job[k].result, c->alone[first + k]);
    tailvolt_result_free(job[k].result);
  }
}

static void together(struct company *c, int first, int count, int lanes, int threads) {
  with_vectors(c, first, count, lanes, threads, TV_VECTORS_ALL);
}

static void one_lane(void **state) { together(*state, 0, JOBS, 1, 1); }
static void two_lanes(void **state) { together(*state, 0, JOBS, 2, 1); }
static void four_lanes(void **state) { together(*state, 0, JOBS, 4, 1); }
static void eight_lanes(void **state) { together(*state, 0, JOBS, 8, 1); }

/* The loop is compiled for several kinds of processor; here those that this one has. */
static void other_vectors(void **state) {
  for (int lanes = 1; lanes <= 8; lanes *= 2) {
    with_vectors(*state, 0, JOBS, lanes, 1, TV_VECTORS_AVX2);
    with_vectors(*state, 0, JOBS, lanes, 1, TV_VECTORS_PLAIN);
  }
}

/* Fewer runs than lanes, other neighbours, two threads. */
static void other_company(void **state) {
  together(*state, 7, 1, 4, 1);
  together(*state, 2, 3, 4, 1);
  together(*state, 4, 6, 4, 2);
}

/* ---- shapes that the loop is compiled for ---- */

/* The van, which has one of those shapes, and what a remedy or a study makes of it. Eight lanes know no shape. */
static void compiled_shapes(void **state) {
  (void)state;
  static const char CAPACITOR[] = "\n[capacitor more]\npositive = amplifier plus\nnegative = amplifier minus\n"
                                  "capacitance = 1 F\nesr = 2 mohm\n";
  static const char SECOND[] = "\n[battery second]\npositive = fused feed\nnegative = body stud\nkind = AGM\ncapacity = 60 Ah\n"
                               "[isolator split]\nfrom = battery post\nto = fused feed\nkind = relay\nrating = 140 A\ndelay = 0.5 s\n";
  static char text[16384];
  FILE *file = fopen(TAILVOLT_SOURCE_DIR "/examples/van-800w-8awg/system.ini", "rb");
  assert_non_null(file);
  text[fread(text, 1, sizeof text / 2, file)] = '\0';
  fclose(file);
  size_t length = strlen(text);
  for (int k = 0; k < 5; k++) {
    text[length] = '\0';
    if (k & 1) strcat(text, CAPACITOR);
    if (k & 2) strcat(text, SECOND);
    struct tailvolt_system *system = scene_parse(text);
    if (k == 4) system->amplifiers[0].internal_f = 0;
    struct tailvolt_profile *profile = scene_profile(
        system, "time_s,engine_rpm,programme,level_db\n0,800,silence,0\n1,800,drums,0\n3.2,2300,drums,3\n6,0,drums,0\n7,0,drums,0\n");
    struct tailvolt_options options = tailvolt_default_options();
    options.settle_s = 2;
    struct tailvolt_result *wanted = NULL;
    for (int way = 0; way < 4 * 3; way++) {
      struct tv_lane_job job[2] = {{.system = system, .profile = profile, .options = &options},
                                   {.system = system, .profile = profile, .options = &options}};
      struct tv_lanes_how how = {.threads = 1, .lanes = 1 << way % 4, .vectors = (enum tv_vectors)(way / 4)};
      assert_int_equal(tv_lanes_simulate(job, 2, NULL, &how), TAILVOLT_OK);
      for (int j = 0; j < 2; j++) {
        assert_int_equal(job[j].status, TAILVOLT_OK);
        if (wanted == NULL) wanted = job[j].result;
        else same_bits(job[j].result, wanted);
        if (job[j].result != wanted) tailvolt_result_free(job[j].result);
      }
    }
    tailvolt_result_free(wanted);
    tailvolt_profile_free(profile);
    tailvolt_system_free(system);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(one_lane), cmocka_unit_test(two_lanes), cmocka_unit_test(four_lanes),
                                     cmocka_unit_test(eight_lanes), cmocka_unit_test(other_vectors), cmocka_unit_test(other_company),
                                     cmocka_unit_test(compiled_shapes)};
  return cmocka_run_group_tests(tests, make_company, end_company);
}
