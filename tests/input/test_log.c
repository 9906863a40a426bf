/* Logs: what a measured column stands for, gaps, an engine that is cranked, silence, and every fault with its place. */
#include "support/assert_near.h"

#include <stdio.h>
#include <string.h>

#include "input/log.h"
#include "support/scenes.h"

/* Two parts called feed, an unnamed battery, a point in the boot. */
static struct tailvolt_system *car(void) {
  return scene_parse("[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 800 W\n"
                     "[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n[fuse feed]\nfrom = battery post\nto = tap\nrating = 10 A\n"
                     "[load lamp]\npositive = tap\nnegative = body\npower = 20 W\n[meter far]\npositive = tap\nnegative = body\n");
}

static struct tailvolt_log *parse(const struct tailvolt_system *system, const char *text) {
  struct tailvolt_faults faults;
  struct tailvolt_log *log = NULL;
  if (tailvolt_log_parse(text, "log.csv", system, &log, &faults) != TAILVOLT_OK) fail_msg("%s", faults.fault[0].message);
  return log;
}

static void columns_find_their_place(void **state) {
  (void)state;
  struct tailvolt_system *system = car();
  struct tailvolt_log *log = parse(system, "time_s,engine_rpm,voltage_v:battery,voltage_v:tap,voltage_v:far,current_a:cable feed,"
                                           "current_a:fuse feed,current_a:alternator,current_a:bass,voltage_v:amplifier bass,"
                                           "current_a:body stud,note_x\n0,800,1,2,3,4,5,6,7,8,9,a\n1,800,1,2,3,4,5,6,7,8,9,\n");
  static const enum tv_log_place places[] = {TV_LOG_BATTERY,    TV_LOG_POINT,     TV_LOG_METER,     TV_LOG_CONDUCTOR, TV_LOG_CONDUCTOR,
                                             TV_LOG_ALTERNATOR, TV_LOG_AMPLIFIER, TV_LOG_AMPLIFIER, TV_LOG_CONDUCTOR};
  assert_int_equal(log->column_count, 9);
  for (int k = 0; k < 9; k++) {
    assert_int_equal(log->columns[k].place, places[k]);
    assert_near(log->value[k], k + 1, 0);
  }
  assert_string_equal(system->conductors[log->columns[3].item].name, "feed");
  assert_int_equal(system->conductors[log->columns[3].item].kind, TAILVOLT_CABLE);
  assert_int_equal(system->conductors[log->columns[4].item].kind, TAILVOLT_FUSE);
  assert_true(log->columns[3].current && !log->columns[0].current);
  assert_true(log->drives && !log->music);
  tailvolt_log_free(log);
  tailvolt_system_free(system);
}

/* An empty cell of a measured column is a gap, of a profile column the value above; below half of idle speed the engine is
 * being cranked. */
static void gaps_and_cranking(void **state) {
  (void)state;
  struct tailvolt_system *system = car();
  struct tailvolt_log *log = parse(system, "time_s,engine_rpm,voltage_v:battery\n-2,0,12.4\n-1,220,\n0,850,13.9\n1,,\n2,\"860\",\n3,,14\n");
  static const double wanted[] = {12.4, (double)NAN, 13.9, (double)NAN, (double)NAN, 14}, rpm[] = {0, 0, 850, 850, 860, 860};
  struct tailvolt_profile_cursor *cursor;
  const struct tailvolt_row *row;
  assert_int_equal(tailvolt_profile_open(log->profile, &cursor), TAILVOLT_OK);
  for (int k = 0; k < 6; k++) {
    assert_int_equal(isnan(log->value[k]), isnan(wanted[k]));
    if (!isnan(wanted[k])) assert_near(log->value[k], wanted[k], 0);
    assert_int_equal(tailvolt_profile_next(cursor, &row), TAILVOLT_OK);
    assert_near(row->engine_rpm, rpm[k], 0);
    assert_int_equal(row->amplifier[0].programme, TAILVOLT_SILENCE);
  }
  tailvolt_profile_close(cursor);
  tailvolt_log_free(log);
  /* once the log mentions the music, the usual default applies */
  log = parse(system, "time_s,level_db,voltage_v:battery\n0,-3,12.4\n1,-3,12.4\n");
  assert_true(log->music);
  assert_int_equal(tailvolt_profile_open(log->profile, &cursor), TAILVOLT_OK);
  assert_int_equal(tailvolt_profile_next(cursor, &row), TAILVOLT_OK);
  assert_int_equal(row->amplifier[0].programme, 0);
  tailvolt_profile_close(cursor);
  tailvolt_log_free(log);
  /* measured columns alone do not say what the car did */
  log = parse(system, "time_s,voltage_v:battery\n0,12.4\n1,12.4\n");
  assert_false(log->drives);
  tailvolt_log_free(log);
  tailvolt_system_free(system);
}

struct fault_case {
  const char *text;
  int line, column;
  const char *message;
};

static const struct fault_case cases[] = {
    {"", 0, 0, "the log is empty: a header row that names the columns and two rows at least are needed"},
    {"time_s,voltage_v:battery\n0,12\n", 0, 0, "a log needs at least two rows, this one has one: the last row ends it"},
    {"voltage_v:battery\n0\n0\n", 1, 0, "the column is missing: every log needs it"},
    {"time_s,engine_rpm\n0,0\n1,0\n", 1, 0, "has no measured column: voltage_v:POINT or current_a:PART, such as \"voltage_v:battery\""},
    {"time_s,voltage_v:battery\n0,\n1,\n", 0, 0, "its measured columns are empty"},
    {"time_s,voltage_v:batery post\n0,1\n1,1\n", 1, 2, "no such point or part in the system (did you mean \"battery post\"?)"},
    {"time_s,voltage:battery\n0,1\n1,1\n", 1, 2, "unknown column (did you mean \"voltage_v:battery\"?)"},
    {"time_s,voltage_v:\n0,1\n1,1\n", 1, 2, "names no place: where was it measured?"},
    {"time_s,current_a:zzzzzzz\n0,1\n1,1\n", 1, 2,
     "no such part that a clamp goes round (battery, alternator, amplifier, cable, strap, joint, fuse) in the system; `tailvolt check` "
     "prints its parts"},
    {"time_s,current_a:feed\n0,1\n1,1\n", 1, 2, "several parts have this name: write \"fuse feed\" or \"cable feed\""},
    {"time_s,voltage_v:battery,voltage_v:battery\n0,1,1\n1,1,1\n", 1, 3, "appears twice: the first is column 2"},
    {"time_s,voltage_v:battery\n0,12\n1,12;4\n", 3, 2, "not a number: accepted is -100 to 100 V, or nothing where none was read"},
    {"time_s,voltage_v:battery\n0,12\n1,12400\n", 3, 2, "out of range: accepted is -100 to 100 V, or nothing where none was read"},
    {"time_s,voltage_v:battery\n0,12\n0,12\n", 3, 1, "does not rise: the row above is at 0 s"},
    {"[battery]\n", 0, 0, "is a system file, not a log; the system file comes first, the log after it"},
};

static void faults_have_their_place(void **state) {
  (void)state;
  struct tailvolt_system *system = car();
  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
    struct tailvolt_faults faults;
    struct tailvolt_log *log = NULL;
    assert_int_equal(tailvolt_log_parse(cases[k].text, "log.csv", system, &log, &faults), TAILVOLT_BAD_INPUT);
    assert_null(log);
    assert_string_equal(faults.fault[0].message, cases[k].message);
    assert_int_equal(faults.fault[0].line, cases[k].line);
    assert_int_equal(faults.fault[0].column, cases[k].column);
    assert_string_equal(faults.fault[0].file, "log.csv");
  }
  /* the same columns in a load profile are plainly refused */
  struct tailvolt_profile *profile = NULL;
  struct tailvolt_faults faults;
  assert_int_equal(tailvolt_profile_parse("time_s,voltage_v:battery\n0,1\n1,1\n", "p.csv", system, &profile, &faults), TAILVOLT_BAD_INPUT);
  assert_string_equal(faults.fault[0].message,
                      "a measured column: `tailvolt compare` and `match` read it; in a load profile call it note_...");
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(columns_find_their_place),
      cmocka_unit_test(gaps_and_cranking),
      cmocka_unit_test(faults_have_their_place),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
