/* Every fault of a load profile, with its place and exact words. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "tailvolt/profile.h"
#include "support/systems.h"

static struct tailvolt_load loads[] = {{.name = "lights"}, {.name = "rear window"}};
static struct tailvolt_amplifier amplifiers[] = {{.name = "bass", .programme = -1}, {.name = "front", .programme = -1}};
static struct tailvolt_programme programmes[] = {{.name = "club"}, {.name = "spoken"}};

static struct tailvolt_system full_system(void) {
  struct tailvolt_system system = {.load_count = 2, .loads = loads, .amplifier_count = 2, .amplifiers = amplifiers,
                                   .programme_count = 2, .programmes = programmes};
  system.engine.idle_rpm = 800;
  system.vehicle.ambient_c = 25;
  return system;
}

struct fault_case {
  const char *text;
  int line, column;
  const char *key, *value, *message;
};

static const struct fault_case cases[] = {
    /* the file as a whole */
    {"", 0, 0, "", "", "the profile is empty: a header row that names the columns and two rows at least are needed"},
    {"# only a comment\n\n  \n", 0, 0, "", "",
     "the profile is empty: a header row that names the columns and two rows at least are needed"},
    {"time_s\n", 0, 0, "", "", "a profile needs at least two rows, this one has none: the last row ends it"},
    {"time_s\n0\n", 0, 0, "", "", "a profile needs at least two rows, this one has one: the last row ends it"},
    {"\xFF\xFEt\n", 1, 0, "", "", "UTF-16 text; save it as UTF-8"},
    {"\xFE\xFFt\n", 1, 0, "", "", "UTF-16 text; save it as UTF-8"},
    {"time_s\r0\r1\r", 1, 0, "", "", "lines must end with LF or CRLF, not with CR alone"},
    /* the header */
    {"0,800\n1,800\n", 1, 1, "", "0",
     "the header row is missing: the first row must name the columns"},
    {"engine_rpm\n0\n0\n", 1, 0, "time_s", "", "the column is missing: every profile needs it"},
    {"note\n0\n0\n", 1, 0, "time_s", "", "the column is missing: every profile needs it"},
    {"time_s,engine_rmp\n0,0\n1,0\n", 1, 2, "engine_rmp", "",
     "unknown column (did you mean \"engine_rpm\"?)"},
    {"time_s,Engine_RPM\n0,0\n1,0\n", 1, 2, "Engine_RPM", "",
     "unknown column (did you mean \"engine_rpm\"?)"},
    {"time_s,wheel\n0,0\n1,0\n", 1, 2, "wheel", "",
     "unknown column: known are time_s, engine_rpm, ambient_c, set_point_v, base_load_a, ready, load:NAME, "
     "programme, level_db, and with :AMPLIFIER programme, level_db, power, output_w, supply_w, supply_a"},
    {"time_s,speed_kmh\n0,0\n1,0\n", 1, 2, "speed_kmh", "",
     "unknown column: tailvolt drive turns a trace of road speed into a load profile"},
    {"time_s;engine_rpm\n0;0\n1;0\n", 1, 1, "time_s;engine_rpm", "",
     "cells are separated by commas, not by semicolons"},
    {"note;time_s\n0;0\n1;0\n", 1, 1, "note;time_s", "",
     "cells are separated by commas, not by semicolons"},
    {"time_s,\n0,0\n1,0\n", 1, 2, "", "", "column 2 has no name: name it, or call it note"},
    {"time_s,engine_rpm,engine_rpm\n0,0,0\n1,0,0\n", 1, 3, "engine_rpm", "",
     "appears twice: the first is column 2"},
    {"time_s,time_s\n0,0\n1,1\n", 1, 2, "time_s", "", "appears twice: the first is column 1"},
    {"time_s,load:ligths\n0,0\n1,0\n", 1, 2, "load:ligths", "",
     "no such load in the system (did you mean \"lights\"?)"},
    {"time_s,laod:rear windw\n0,0\n1,0\n", 1, 2, "laod:rear windw", "",
     "unknown column (did you mean \"load:rear window\"?)"},
    {"time_s,load:zzzzzzzz\n0,0\n1,0\n", 1, 2, "load:zzzzzzzz", "",
     "no such load in the system: its loads begin with \"lights\""},
    {"time_s,power:\n0,0\n1,0\n", 1, 2, "power:", "",
     "no such amplifier in the system: its amplifiers begin with \"bass\""},
    {"time_s,power:bas\n0,0\n1,0\n", 1, 2, "power:bas", "",
     "no such amplifier in the system (did you mean \"bass\"?)"},
    {"time_s,supply_a:bass,supply_w:bass\n0,0,0\n1,0,0\n", 1, 3, "supply_w:bass", "",
     "prescribes the same amplifier as \"supply_a:bass\": keep one of them"},
    {"time_s,output_w:bass,supply_a:bass\n0,0,0\n1,0,0\n", 1, 3, "supply_a:bass", "",
     "prescribes the same amplifier as \"output_w:bass\": keep one of them"},
    {"time_s,\"load:lights\n0,0\n1,0\n", 1, 0, "", "",
     "a quote is left open or is inside a cell: quote the whole cell, and double quotes within it"},
    /* rows */
    {"time_s,engine_rpm\n0,0\n1\n", 3, 2, "", "", "the row has 1 cell where the header has 2 columns"},
    {"time_s,engine_rpm\n0,0\n1,0,0\n", 3, 3, "", "0",
     "the row has 3 cells where the header has 2 columns (decimal comma?)"},
    {"time_s,note\n0,\"open\n1,\n2,\n", 2, 0, "", "0,\"open",
     "a quote is left open or is inside a cell: quote the whole cell, and double quotes within it"},
    {"time_s,note\n0,a 5\" speaker\n1,\n2,\n", 2, 0, "", "0,a 5\" speaker",
     "a quote is left open or is inside a cell: quote the whole cell, and double quotes within it"},
    {"time_s\n5\n5\n6\n", 3, 1, "time_s", "5", "does not rise: the row above is at 5 s"},
    {"time_s\n5\n4.5\n6\n", 3, 1, "time_s", "4.5", "does not rise: the row above is at 5 s"},
    {"time_s,note\n0,a\n,b\n2,c\n", 3, 1, "time_s", "", "empty: every row needs its time"},
    {"time_s\n0\nnan\n2\n", 3, 1, "time_s", "nan",
     "not a finite number: accepted is seconds, more than in the row above"},
    {"time_s\n0\n2e10\n", 3, 1, "time_s", "2e10",
     "out of range: accepted is seconds, more than in the row above"},
    {"time_s,engine_rpm\n0,0\n1,fast\n", 3, 2, "engine_rpm", "fast",
     "not a number: accepted is 0 to 20000 rpm"},
    {"time_s,engine_rpm\n0,0\n1,800 rpm\n", 3, 2, "engine_rpm", "800 rpm",
     "not a number: accepted is 0 to 20000 rpm"},
    {"time_s,engine_rpm\n0,0\n1,-INF\n", 3, 2, "engine_rpm", "-INF",
     "not a finite number: accepted is 0 to 20000 rpm"},
    {"time_s,engine_rpm\n0,0\n1,0x320\n", 3, 2, "engine_rpm", "0x320",
     "not a number: accepted is 0 to 20000 rpm"},
    {"time_s,engine_rpm\n0,0\n1,\"900,5\"\n", 3, 2, "engine_rpm", "900,5",
     "a decimal comma: write 900.5"},
    {"time_s,engine_rpm\n0,0\n1,-1\n", 3, 2, "engine_rpm", "-1",
     "out of range: accepted is 0 to 20000 rpm"},
    {"time_s,engine_rpm\n0,0\n1,399\n", 3, 2, "engine_rpm", "399",
     "below half of the idle speed of 800 rpm: accepted is 0 (engine off), or 400 and more"},
    {"time_s,ambient_c\n0,20\n1,90\n", 3, 2, "ambient_c", "90", "out of range: accepted is -60 to 80 C"},
    {"time_s,set_point_v\n0,14\n1,1.4\n", 3, 2, "set_point_v", "1.4",
     "out of range: accepted is 10 to 18 V"},
    {"time_s,base_load_a\n0,1\n1,-2\n", 3, 2, "base_load_a", "-2",
     "out of range: accepted is 0 to 1000 A"},
    {"time_s,load:lights\n0,1\n1,50\n", 3, 2, "load:lights", "50",
     "out of range: accepted is 0 (off) to 1 (on)"},
    {"time_s,level_db\n0,1\n1,41\n", 3, 2, "level_db", "41", "out of range: accepted is -200 to 40 dB"},
    {"time_s,level_db:bass\n0,1\n1,loud\n", 3, 2, "level_db:bass", "loud",
     "not a number: accepted is -200 to 40 dB"},
    {"time_s,power:bass\n0,1\n1,0.5\n", 3, 2, "power:bass", "0.5",
     "out of range: accepted is 0 (off) or 1 (on)"},
    {"time_s,output_w:bass\n0,1\n1,-1\n", 3, 2, "output_w:bass", "-1",
     "out of range: accepted is 0 to 100000 W"},
    {"time_s,supply_w:bass\n0,1\n1,1e6\n", 3, 2, "supply_w:bass", "1e6",
     "out of range: accepted is 0 to 100000 W"},
    {"time_s,supply_a:bass\n0,1\n1,1e5\n", 3, 2, "supply_a:bass", "1e5",
     "out of range: accepted is 0 to 10000 A"},
    {"time_s,programme\n0,club\n1,clbu\n", 3, 2, "programme", "clbu",
     "no such programme in the system (did you mean \"club\"?)"},
    {"time_s,programme\n0,club\n1,Silence\n", 3, 2, "programme", "Silence",
     "no such programme in the system (did you mean \"silence\"?)"},
    {"time_s,programme:front\n0,club\n1,opera house\n", 3, 2, "programme:front", "opera house",
     "no such programme in the system: accepted is silence, \"club\" and the others there"},
    /* places count comments, blanks and the line ends of CRLF */
    {"\xEF\xBB\xBF# head\r\n\r\ntime_s,note 1,engine_rpm\r\n# 5\" speaker, too\r\n0,,0\r\n1,,x\r\n", 6, 3,
     "engine_rpm", "x", "not a number: accepted is 0 to 20000 rpm"},
};

static void each_fault_is_named(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
    const struct fault_case *wanted = &cases[k];
    static struct tailvolt_faults faults;
    struct tailvolt_profile *profile = NULL;
    enum tailvolt_status status = tailvolt_profile_parse(wanted->text, "trip.csv", &system, &profile, &faults);
    if (status != TAILVOLT_BAD_INPUT || profile != NULL) fail_msg("case %zu was accepted: %s", k, wanted->text);
    const struct tailvolt_fault *seen = &faults.fault[0];
    if (faults.count < 1 || strcmp(seen->message, wanted->message) != 0)
      fail_msg("case %zu: \"%s\", wanted \"%s\"", k, seen->message, wanted->message);
    if (seen->line != wanted->line || seen->column != wanted->column)
      fail_msg("case %zu at %d:%d, wanted %d:%d", k, seen->line, seen->column, wanted->line, wanted->column);
    assert_string_equal(seen->file, "trip.csv");
    assert_string_equal(seen->key, wanted->key);
    assert_string_equal(seen->value, wanted->value);
    if (faults.count != 1)
      fail_msg("case %zu has %d faults, the second \"%s\"", k, faults.count, faults.fault[1].message);
  }
  assert_true(sizeof cases / sizeof cases[0] >= 35);
}

static void a_system_without_parts_says_so(void **state) {
  (void)state;
  struct tailvolt_system system = {0};
  static struct tailvolt_faults faults;
  struct tailvolt_profile *profile;
  assert_int_equal(tailvolt_profile_parse("time_s,load:a,power:b,programme\n0,0,0,x\n1,0,0,silence\n", "p", &system,
                                          &profile, &faults), TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.count, 3);
  assert_string_equal(faults.fault[0].message, "no such load: the system has none");
  assert_string_equal(faults.fault[1].message, "no such amplifier: the system has none");
  assert_string_equal(faults.fault[2].message, "no such programme: the system has none, accepted is silence");
}

/* Header and rows in one go; a slip in time is reported once, not in every row after it. */
static void all_faults_in_one_go(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  static struct tailvolt_faults faults;
  struct tailvolt_profile *profile;
  const char *text = "time_s,engine_rpm,level,ambient_c\n0,100,0,20\n1000,900,0,warm\n2,900,0,20\n3,900,0,20\n4,900,0\n";
  assert_int_equal(tailvolt_profile_parse(text, "p", &system, &profile, &faults), TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.count, 5);
  assert_int_equal(faults.fault[0].line, 1);
  assert_int_equal(faults.fault[1].line, 2);
  assert_int_equal(faults.fault[2].line, 3);
  assert_int_equal(faults.fault[3].line, 4);
  assert_int_equal(faults.fault[4].line, 6);
  assert_int_equal(faults.dropped, 0);
}

static void more_than_twenty_are_counted(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  static struct tailvolt_faults faults;
  struct tailvolt_profile *profile;
  char text[4096] = "time_s,engine_rpm\n";
  for (int r = 0; r < 50; r++) snprintf(text + strlen(text), sizeof text - strlen(text), "%d,x\n", r);
  assert_int_equal(tailvolt_profile_parse(text, "p", &system, &profile, &faults), TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.count, TAILVOLT_FAULTS_MAX);
  assert_int_equal(faults.dropped, 30);
}

static void a_zero_byte_is_no_text(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  static struct tailvolt_faults faults;
  struct tailvolt_profile *profile;
  char path[512];
  FILE *out = temporary_file(path, sizeof path);
  assert_int_equal(fwrite("time_s,engine_rpm\n0,0\n1,8\0" "00\n", 1, 29, out), 29);
  fclose(out);
  assert_int_equal(tailvolt_profile_read(path, NULL, &system, &profile, &faults), TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.fault[0].line, 3);
  out = fopen(path, "w");
  assert_int_equal(fwrite("time_s\0x\n0\n1\n", 1, 13, out), 13);
  fclose(out);
  assert_int_equal(tailvolt_profile_read(path, NULL, &system, &profile, &faults), TAILVOLT_BAD_INPUT);
  assert_string_equal(faults.fault[0].message, "not a text file: there is a zero byte in its first row");
  remove(path);
}

static void an_endless_line_is_refused(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  static struct tailvolt_faults faults;
  struct tailvolt_profile *profile;
  char path[512];
  FILE *out = temporary_file(path, sizeof path);
  fputs("time_s\n0\n", out);
  for (int k = 0; k < 17 * 1024; k++) fprintf(out, "%1024d", 1);
  fclose(out);
  assert_int_equal(tailvolt_profile_read(path, NULL, &system, &profile, &faults), TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.fault[0].line, 3);
  assert_string_equal(faults.fault[0].message, "the line is longer than 16 MiB: is this a CSV file?");
  remove(path);
}

static void what_cannot_be_read(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  static struct tailvolt_faults faults;
  struct tailvolt_profile *profile;
  assert_int_equal(tailvolt_profile_read("no/such/profile.csv", NULL, &system, &profile, &faults),
                   TAILVOLT_NOT_READABLE);
  assert_string_equal(faults.fault[0].message, "cannot be read: No such file or directory");
  assert_null(profile);
  assert_int_equal(tailvolt_profile_read("/tmp", NULL, &system, &profile, &faults), TAILVOLT_NOT_READABLE);
  assert_string_equal(faults.fault[0].message, "cannot be read: Is a directory");
}

static void columns_asked_for_must_exist(void **state) {
  (void)state;
  struct tailvolt_system system = full_system();
  static struct tailvolt_faults faults;
  struct tailvolt_profile *profile;
  char path[512];
  FILE *out = temporary_file(path, sizeof path);
  fputs("time_s,engine_rpm,coolant\n0,0,nan\n1,0,hot\n", out);
  fclose(out);
  assert_int_equal(tailvolt_profile_read(path, "engine_prm, ambient_c", &system, &profile, &faults), TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.count, 2);
  assert_string_equal(faults.fault[0].message,
                      "asked for, but the file has no such column (did you mean \"engine_rpm\"?)");
  assert_string_equal(faults.fault[1].message, "asked for, but the file has no such column");
  assert_int_equal(tailvolt_profile_read(path, "engine_rpm", &system, &profile, &faults), TAILVOLT_OK);
  tailvolt_profile_free(profile);
  remove(path);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(each_fault_is_named),
      cmocka_unit_test(a_system_without_parts_says_so),
      cmocka_unit_test(all_faults_in_one_go),
      cmocka_unit_test(more_than_twenty_are_counted),
      cmocka_unit_test(a_zero_byte_is_no_text),
      cmocka_unit_test(an_endless_line_is_refused),
      cmocka_unit_test(what_cannot_be_read),
      cmocka_unit_test(columns_asked_for_must_exist),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
