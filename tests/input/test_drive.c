/* Speed traces and what is made from them: column names and units, faults, gears, stop-start, and that the rows
 * written reproduce the engine speed. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"
#include "tailvolt/drive.h"
#include "tailvolt/profile.h"

static struct tailvolt_trace *parsed(const char *text) {
  static struct tailvolt_faults faults;
  struct tailvolt_trace *trace;
  if (tailvolt_trace_parse(text, "trip.csv", &trace, &faults) != TAILVOLT_OK)
    fail_msg("refused: %s", faults.fault[0].message);
  return trace;
}

static struct tailvolt_drive *driven(const struct tailvolt_trace *trace, const struct tailvolt_drive_options *options) {
  struct tailvolt_drive *drive;
  assert_int_equal(tailvolt_drive_create(trace, options, &drive), TAILVOLT_OK);
  return drive;
}

static void columns_by_name_and_unit(void **state) {
  (void)state;
  static const struct { const char *text; double kmh; } cases[] = {
      {"time_s,speed_kmh\n0,0\n1,36\n", 36},
      {"time,km/h\n0,0\n1,36\n", 36},
      {"\xEF\xBB\xBF# a trip\r\nseconds,kmh\r\n0,0\r\n\r\n1,36\r\n", 36},
      {"mph,t\n0,0\n10,1\n", 16.09344},
      {"time_s,m/s\n0,0\n1,10\n", 36},
      {"time_s,speed_mph,speed_kmh\n0,0,0\n1,99,36\n", 36}, /* km/h before the others */
      {"phase,time_s,\"speed_m_per_s\",gear\nlow,0,0,\n\"a, b\",1,10,x\n", 36},
  };
  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
    struct tailvolt_trace *trace = parsed(cases[k].text);
    assert_int_equal(trace->count, 2);
    assert_near(trace->time_s[1], 1, 0);
    assert_near(trace->speed_kmh[1], cases[k].kmh, 1e-12);
    assert_int_equal(trace->gear[1], TAILVOLT_GEAR_CHOSEN);
    tailvolt_trace_free(trace);
  }
}

static void faults_are_named(void **state) {
  (void)state;
  static const struct { const char *text; int line, column; const char *message; } cases[] = {
      {"", 0, 0, "a speed trace needs a header row and at least two rows"},
      {"time_s,speed_kmh\n0,0\n", 0, 0, "a speed trace needs a header row and at least two rows"},
      {"speed_kmh\n0\n1\n", 1, 0, "no time column: name one time_s (time, seconds and t are taken too)"},
      {"time_s,speed\n0,0\n1,0\n", 1, 0, "no speed column: name one speed_kmh, or by its unit km/h, mph or m/s"},
      {"time_s;kmh\n0;0\n1;5,5\n", 1, 0, "cells are separated by commas, not by semicolons"},
      {"\xFF\xFEt", 1, 0, "UTF-16 text; save it as UTF-8"},
      {"time_s,kmh\n0,0\n1,fast\n", 3, 2, "not a number"},
      {"time_s,kmh\n0,0\nnan,1\n", 3, 1, "not a number"},
      {"time_s,kmh\n0,0\n1,-1\n", 3, 2, "out of range: accepted is 0 to 400 km/h"},
      {"time_s,mph\n0,0\n1,249\n", 3, 2, "out of range: accepted is 0 to 400 km/h"},
      {"time_s,kmh\n5,0\n5,1\n", 3, 1, "does not rise: the row above is at 5 s"},
      {"time_s,kmh\n0,0\n1\n", 3, 0, "the row has 1 cells where the header has 2"},
      {"time_s,kmh\n0,\"0\n1,0\n", 2, 0, "a quote is left open or is inside a cell"},
  };
  static struct tailvolt_faults faults;
  struct tailvolt_trace *trace;
  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
    assert_int_equal(tailvolt_trace_parse(cases[k].text, "trip.csv", &trace, &faults), TAILVOLT_BAD_INPUT);
    assert_null(trace);
    assert_string_equal(faults.fault[0].message, cases[k].message);
    assert_int_equal(faults.fault[0].line, cases[k].line);
    assert_int_equal(faults.fault[0].column, cases[k].column);
    assert_string_equal(faults.fault[0].file, "trip.csv");
  }
  assert_int_equal(tailvolt_trace_read("no/such/file.csv", &trace, &faults), TAILVOLT_NOT_READABLE);
  assert_string_equal(faults.fault[0].message, "cannot be read: No such file or directory");
}

static void options_are_checked(void **state) {
  (void)state;
  struct tailvolt_trace *trace = parsed("t,kmh\n0,0\n9,50\n");
  struct tailvolt_drive *drive;
  struct tailvolt_drive_options none = {0}, options = tailvolt_default_drive_options();
  assert_int_equal(tailvolt_drive_create(trace, &none, &drive), TAILVOLT_BAD_INPUT);
  options.gear_count = 9;
  assert_int_equal(tailvolt_drive_create(trace, &options, &drive), TAILVOLT_BAD_INPUT);
  options = tailvolt_default_drive_options();
  options.gear_rpm[2] = 68; /* gears must fall */
  assert_int_equal(tailvolt_drive_create(trace, &options, &drive), TAILVOLT_BAD_INPUT);
  options = tailvolt_default_drive_options();
  options.idle_rpm = (double)NAN;
  assert_int_equal(tailvolt_drive_create(trace, &options, &drive), TAILVOLT_BAD_INPUT);
  assert_null(drive);
  tailvolt_trace_free(trace);
}

/* Samples far apart: gears still change in between. */
static void long_ramps_pass_through_the_gears(void **state) {
  (void)state;
  struct tailvolt_trace *trace = parsed("t,kmh\n0,0\n100,100\n1000,100\n");
  struct tailvolt_drive_options options = tailvolt_default_drive_options();
  struct tailvolt_drive *drive = driven(trace, &options);
  assert_int_equal(drive->count, 102);
  assert_near(drive->moments[15].engine_rpm, 15 * 124, 1e-6);
  assert_near(drive->moments[16].engine_rpm, 16 * 68, 1e-6);
  assert_near(drive->moments[60].engine_rpm, 60 * 33, 1e-6);
  assert_int_equal(drive->moments[71].gear, 5);
  assert_near(drive->summary.distance_m, 100 * 50 / 3.6 + 900 * 100 / 3.6, 1e-6);
  tailvolt_drive_free(drive);
  tailvolt_trace_free(trace);
}

static double rpm_at(const struct tailvolt_drive *drive, double time_s) {
  for (int k = 0; k < drive->count; k++)
    if (drive->moments[k].time_s >= time_s - 1e-9 && drive->moments[k].time_s <= time_s + 1e-9)
      return drive->moments[k].engine_rpm;
  fail_msg("no moment at %g s", time_s);
  return 0;
}

static void the_engine_stops_and_starts(void **state) {
  (void)state;
  struct tailvolt_trace *trace = parsed("t,kmh\n0,0\n10,0\n11,10\n12,0\n14,0\n15,10\n20,0\n50,0\n");
  struct tailvolt_drive_options options = tailvolt_default_drive_options();
  options.stop_after_s = 2.5;
  struct tailvolt_drive *drive = driven(trace, &options);
  assert_near(rpm_at(drive, 0), 750, 0);
  assert_near(rpm_at(drive, 2.5), 0, 0);
  assert_near(rpm_at(drive, 9), 750, 0); /* a second before it moves off */
  assert_near(rpm_at(drive, 10), 750, 0);
  assert_near(rpm_at(drive, 11), 1240, 0);
  assert_near(rpm_at(drive, 12), 750, 0);
  assert_near(rpm_at(drive, 14), 750, 0); /* two seconds are too short a stop */
  assert_near(rpm_at(drive, 22.5), 0, 0);
  assert_near(rpm_at(drive, 50), 0, 0); /* it stays off at the end */
  assert_int_equal(drive->summary.stops, 2);
  assert_near(drive->summary.stopped_s, 6.5 + 27.5, 1e-9);
  assert_near(drive->summary.duration_s, 50, 0);
  for (int k = 1; k < drive->count; k++) assert_true(drive->moments[k].time_s > drive->moments[k - 1].time_s);
  tailvolt_drive_free(drive);
  tailvolt_trace_free(trace);
}

/* What is written and read back as a profile draws the same engine speed, within the requested tolerance and
 * rounding to whole rpm, with far fewer rows. */
static void written_rows_draw_the_same_speed(void **state) {
  (void)state;
  struct tailvolt_trace *trace;
  assert_int_equal(tailvolt_trace_cycle(TAILVOLT_CYCLE_NEDC, &trace), TAILVOLT_OK);
  struct tailvolt_drive_options options = tailvolt_default_drive_options();
  options.stop_after_s = 4;
  options.thin_rpm = 5;
  struct tailvolt_drive *drive = driven(trace, &options);
  char *text = NULL;
  size_t length;
  FILE *to = open_memstream(&text, &length);
  assert_int_equal(tailvolt_drive_write(drive, &options, "first line\n\nthird", to), TAILVOLT_OK);
  fclose(to);
  assert_memory_equal(text, "# first line\n#\n# third\ntime_s,engine_rpm,note_kmh\n0,750,0\n4,0,0\n", 64);
  struct tailvolt_system system = {0};
  system.engine.idle_rpm = 750;
  static struct tailvolt_faults faults;
  struct tailvolt_profile *profile;
  struct tailvolt_profile_cursor *cursor;
  assert_int_equal(tailvolt_profile_parse(text, "written", &system, &profile, &faults), TAILVOLT_OK);
  assert_true(tailvolt_profile_row_count(profile) < drive->count / 2);
  assert_near(tailvolt_profile_end_s(profile), 1180, 0);
  assert_int_equal(tailvolt_profile_open(profile, &cursor), TAILVOLT_OK);
  const struct tailvolt_row *now, *after;
  assert_int_equal(tailvolt_profile_next(cursor, &now), TAILVOLT_OK);
  assert_int_equal(tailvolt_profile_next(cursor, &after), TAILVOLT_OK);
  for (int k = 0; k < drive->count; k++) {
    const struct tailvolt_drive_moment *moment = &drive->moments[k];
    while (after != NULL && after->time_s <= moment->time_s) {
      now = after;
      assert_int_equal(tailvolt_profile_next(cursor, &after), TAILVOLT_OK);
    }
    double rpm = now->engine_rpm;
    if (after != NULL && now->engine_rpm > 0 && after->engine_rpm > 0)
      rpm += (after->engine_rpm - rpm) * (moment->time_s - now->time_s) / (after->time_s - now->time_s);
    assert_near(rpm, moment->engine_rpm, 5 + 0.5);
    if (!(moment->engine_rpm > 0)) assert_near(rpm, 0, 0);
  }
  tailvolt_profile_close(cursor);
  tailvolt_profile_free(profile);
  tailvolt_drive_free(drive);
  tailvolt_trace_free(trace);
  free(text);
}

static void traces_join_only_at_one_speed(void **state) {
  (void)state;
  struct tailvolt_trace *a = parsed("t,kmh\n0,0\n1,10\n"), *b = parsed("t,kmh\n5,10\n7,0\n");
  assert_int_equal(tailvolt_trace_append(b, b), TAILVOLT_BAD_INPUT);
  assert_int_equal(tailvolt_trace_append(a, b), TAILVOLT_OK);
  assert_int_equal(a->count, 3);
  assert_near(a->time_s[2], 3, 0);
  assert_near(a->speed_kmh[2], 0, 0);
  assert_int_equal(tailvolt_trace_append(a, a), TAILVOLT_OK);
  assert_int_equal(a->count, 5);
  assert_near(a->time_s[4], 6, 0);
  tailvolt_trace_free(a);
  tailvolt_trace_free(b);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(columns_by_name_and_unit),
      cmocka_unit_test(faults_are_named),
      cmocka_unit_test(options_are_checked),
      cmocka_unit_test(long_ramps_pass_through_the_gears),
      cmocka_unit_test(the_engine_stops_and_starts),
      cmocka_unit_test(written_rows_draw_the_same_speed),
      cmocka_unit_test(traces_join_only_at_one_speed),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
