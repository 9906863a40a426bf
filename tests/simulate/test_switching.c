/* Changes between steps: loads following the profile, relays, diodes, converters. Networks without storage,
 * so every value has a closed form. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/scenes.h"

#define STEPS_MAX 40000

/* One column of a record with a row a step. */
struct trace {
  const char *column;
  int index, count;
  double time_s[STEPS_MAX], value[STEPS_MAX];
};

static int find_column(void *context, const char *const *names, int count) {
  struct trace *trace = context;
  trace->index = -1;
  trace->count = 0;
  for (int k = 0; k < count; k++)
    if (strcmp(names[k], trace->column) == 0) trace->index = k;
  return trace->index < 0;
}

static int take_row(void *context, const double *cells, int count) {
  struct trace *trace = context;
  if (trace->index >= count || trace->count >= STEPS_MAX) return 1;
  trace->time_s[trace->count] = cells[0];
  trace->value[trace->count++] = cells[trace->index];
  return 0;
}

static void record_in(const struct tailvolt_system *system, const char *profile_text, double step_s, struct trace *trace) {
  struct tailvolt_profile *profile = scene_profile(system, profile_text);
  struct tailvolt_record_sink sink = {trace, find_column, take_row};
  struct tailvolt_options options = scene_isothermal();
  options.time_step_s = step_s;
  options.record_every_s = fmax(step_s, 1e-3);
  options.record = &sink;
  tailvolt_result_free(scene_run(system, profile, &options));
  tailvolt_profile_free(profile);
}

static void record(const struct tailvolt_system *system, const char *profile_text, struct trace *trace) {
  record_in(system, profile_text, 1e-3, trace);
}

static double value_at(const struct trace *trace, double time_s) {
  for (int k = 0; k < trace->count; k++)
    if (fabs(trace->time_s[k] - time_s) < 1e-6) return trace->value[k];
  fail_msg("no row at %g s", time_s);
  return 0;
}

/* First time at or after from_s at which the value is above (below) the level. */
static double crosses_s(const struct trace *trace, double from_s, double level, bool above) {
  for (int k = 0; k < trace->count; k++)
    if (trace->time_s[k] > from_s - 1e-6 && (trace->value[k] > level) == above) return trace->time_s[k];
  return (double)NAN;
}

/* 1000 W at 13.8 V behind 20 mohm: 12.488 V as a resistor, 12.351 V as a current, 12.155 V as a power. */
static void loads_follow_the_profile(void **state) {
  (void)state;
  static const struct {
    const char *behaves;
    double v;
  } row[] = {{"resistor", 12.488}, {"constant current", 12.351}, {"constant power", 12.155}};
  static struct trace trace;
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    char more[512];
    snprintf(more, sizeof more,
             "[load heater]\npositive = amplifier plus\nnegative = ground\npower = 1000 W\n"
             "rated voltage = 13.8 V\nbehaves = %s\n",
             row[k].behaves);
    struct tailvolt_system *system = scene_stiff(13.8, 0.020, more);
    trace.column = "bass:v_mean";
    record(system, "time_s,load:heater,supply_w:bass\n0,0,0\n0.1,1,0\n0.2,0.5,0\n0.3,0,0\n0.4,0,0\n", &trace);
    assert_near(value_at(&trace, 0.099), 13.8, 1e-4);
    assert_near(value_at(&trace, 0.1), row[k].v, 1e-3);
    assert_near(value_at(&trace, 0.199), row[k].v, 1e-3);
    assert_true(value_at(&trace, 0.2) > row[k].v + 0.5);
    assert_near(value_at(&trace, 0.3), 13.8, 1e-4);
    tailvolt_system_free(system);
  }
}

static const char second_battery[] =
    "[joint link]\nfrom = behind\nto = second plus\nresistance = 50 mohm\n"
    "[battery second]\npositive = second plus\nnegative = ground\ncapacity = 1000 Ah\nstate of charge = 50 "
    "%\n"
    "health = 100 %\nresistance = 0.01 mohm\npolarization = 0.001 mohm, 1000 s\n"
    "open circuit = 12.6 V at 0 %, 12.6 V at 100 %\n";

static struct tailvolt_system *with_isolator(double source_v, const char *isolator) {
  char more[1024];
  snprintf(more, sizeof more, "[isolator split]\nfrom = amplifier plus\nto = behind\n%s%s", isolator,
           second_battery);
  return scene_stiff(source_v, 0.010, more);
}

/* The relay opens 10 s after its sensing point has been continuously below 12.8 V, closes 2 s after it has
 * been above 13.3 V. Closed, it carries what the two batteries drive through 10 + 1 + 50 mohm. */
static void relay_delays(void **state) {
  (void)state;
  static struct trace trace;
  struct tailvolt_system *system =
      with_isolator(13.8, "kind = relay\ncloses above = 13.3 V\nopens below = 12.8 V\n");
  trace.column = "second:a_mean";
  /* 150 A takes the sensing point to 12.4 V, interrupted for one step at 5 s; at 20 s the draw ends */
  record(system, "time_s,supply_a:bass\n0,0\n1,150\n5,0\n5.001,150\n20,0\n30,0\n", &trace);
  double closed_a = -(13.8 - 12.6) / 0.06103;
  assert_near(value_at(&trace, 0), closed_a, 0.01);
  assert_near(value_at(&trace, 0.999), closed_a, 0.01);
  assert_true(value_at(&trace, 15.0) > 0.5);
  assert_near(crosses_s(&trace, 15.01, 0.1, false), 15.001, 0.0101);
  assert_near(value_at(&trace, 18), 0, 1e-4);
  assert_near(crosses_s(&trace, 20, -1, false), 22, 0.0021);
  assert_near(value_at(&trace, 25), closed_a, 0.01);
  tailvolt_system_free(system);
}

/* Switched by the ignition they work 2 s after the engine has started, although the voltage that another relay goes by is never reached
 * or always exceeded, and let go with it; a converter also where its input falls below what guards the battery. */
static void engine_switches(void **state) {
  (void)state;
  static struct trace trace;
  static const struct {
    double source_v;
    const char *isolator;
    double working_a;
    bool guarded;
  } row[] = {{12.7, "kind = relay\n", -(12.7 - 12.6) / 0.06103, false},
             {13.8, "kind = relay\n", -(13.8 - 12.6) / 0.06103, false},
             {12.3, "kind = converter\noutput = 20 A at 14.1 V\n", -20, true}};
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    char isolator[192];
    snprintf(isolator, sizeof isolator, "%ssense = engine\n", row[k].isolator);
    struct tailvolt_system *system = with_isolator(row[k].source_v, isolator);
    trace.column = "second:a_mean";
    /* from 10 s on 150 A take the sensing point 1.5 V down */
    record(system, "time_s,engine_rpm,supply_a:bass\n0,0,0\n1,800,0\n10,800,150\n20,800,0\n30,0,0\n32,0,0\n", &trace);
    assert_near(value_at(&trace, 0), 0, 1e-3);
    assert_near(value_at(&trace, 2.9), 0, 1e-3);
    assert_near(crosses_s(&trace, 1, 0.5 * row[k].working_a, false), 3, 0.0021);
    assert_near(value_at(&trace, 9), row[k].working_a, 0.01);
    assert_int_equal(fabs(value_at(&trace, 19)) < 0.01, row[k].guarded);
    assert_near(value_at(&trace, 29), row[k].working_a, 0.05);
    assert_near(crosses_s(&trace, 30, 0.5 * row[k].working_a, true), 30, 0.0021);
    assert_near(value_at(&trace, 31), 0, 1e-3);
    tailvolt_system_free(system);
  }
}

/* A diode of 0.4 V + 2 mohm conducts exactly where the open voltages exceed its drop, from that very step
 * on. */
static void diode_belongs_to_the_step(void **state) {
  (void)state;
  static struct trace trace;
  struct tailvolt_system *system = with_isolator(13.8, "kind = diode\ndrop = 0.4 V\n");
  trace.column = "second:a_mean";
  record(system, "time_s,supply_a:bass\n0,0\n0.1,50\n0.2,100\n0.3,79\n0.4,81\n0.5,0\n0.6,0\n", &trace);
  static const struct {
    double from_s, draw_a;
  } row[] = {{0, 0}, {0.1, 50}, {0.2, 100}, {0.3, 79}, {0.4, 81}, {0.5, 0}};
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    double left_v = 13.8 - 0.010 * row[k].draw_a - 0.4 - 12.6;
    double wanted_a = left_v > 0 ? -left_v / (0.010 + 0.002 + 0.050 + 0.00001) : 0;
    assert_near(value_at(&trace, row[k].from_s), wanted_a, 0.02);
    assert_near(value_at(&trace, row[k].from_s + 0.099), wanted_a, 0.02);
  }
  tailvolt_system_free(system);
}

/* A converter holds its output voltage while that needs less than its current limit, and takes 1/0.9 of the
 * power at `from`. */
static void converter_limits_its_current(void **state) {
  (void)state;
  static const struct { double output_a, behind_v; } row[] = {{30, 14.1}, {20, 12.6 + 20 * 0.05001}};
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    char isolator[256];
    snprintf(isolator, sizeof isolator,
             "kind = converter\noutput = %g A at 14.1 V\nopens below = 12 V\n[meter out]\npositive = behind\n"
             "negative = ground\n",
             row[k].output_a);
    /* 14.1 V would take 1.5 V / 50 mohm = 30 A */
    struct tailvolt_system *system = with_isolator(13.8, isolator);
    struct tailvolt_result *r = scene_hold(system, "supply_w:bass", 0, 0.5, 1e-3);
    assert_near(r->meters[0].mean_v, row[k].behind_v, 0.01);
    double output_w = row[k].behind_v * (row[k].behind_v - 12.6) / 0.05001, input_w = output_w / 0.9;
    double source_a = (13.8 - sqrt(13.8 * 13.8 - 4 * 0.010 * input_w)) / 0.020;
    assert_near(r->conductors[0].rms_a, source_a, 0.2);
    tailvolt_result_free(r);
    tailvolt_system_free(system);
  }
}

/* Between its thresholds it begins at work; below, not. */
static void converter_begins_closed(void **state) {
  (void)state;
  static const struct { double source_v, behind_a; } row[] = {{12.5, 20}, {12.1, 0}};
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    struct tailvolt_system *system = with_isolator(row[k].source_v, "kind = converter\noutput = 20 A at 14.1 V\nopens below = 12.2 V\n");
    struct tailvolt_result *r = scene_hold(system, "supply_a:bass", 1, 0.5, 1e-3);
    assert_near(r->batteries[1].charge_in_ah * 3600 / 0.5, row[k].behind_a, 0.01);
    tailvolt_result_free(r);
    tailvolt_system_free(system);
  }
}

/* An amplifier on the second battery, which does not carry it without the converter, and another one that pulls down what the converter
 * senses. */
static struct tailvolt_system *at_the_threshold(const char *isolator) {
  char more[2048];
  snprintf(more, sizeof more,
           "rated power = 1000 W\n"
           "[isolator split]\nfrom = amplifier plus\nto = behind\nkind = converter\noutput = 20 A at 14.1 V\n%s%s"
           "[amplifier tail]\npositive = behind\nnegative = ground\nrated power = 400 W\ncut-out voltage = 11.5 V\n"
           "internal capacitance = 0 F\n",
           isolator, second_battery);
  return scene_stiff(12.9, 0.020, more);
}

/* A converter that is held below its threshold by what it draws itself opens after its delay, as a relay does, whatever the step: from
 * 1 s on it senses 12.9 - 0.02 * (30 + some 22) V, opens at 11 s, and at 12.9 - 0.02 * 30 V stays open. The amplifier behind it cuts out
 * 20 ms later. */
static void converter_delays(void **state) {
  (void)state;
  static const double steps_s[] = {0.25e-3, 1e-3, 2e-3, 10e-3};
  static struct trace trace;
  for (size_t k = 0; k < sizeof steps_s / sizeof *steps_s; k++) {
    struct tailvolt_system *system = at_the_threshold("closes above = 12.8 V\nopens below = 12.2 V\n");
    trace.column = "tail:a_mean";
    record_in(system, "time_s,supply_a:bass,supply_a:tail\n0,0,30\n1,30,30\n15,30,30\n", steps_s[k], &trace);
    assert_near(value_at(&trace, 0.5), 30, 1e-3);
    assert_near(crosses_s(&trace, 0.1, 1, false), 11.02, 0.002 + steps_s[k] / 2);
    tailvolt_system_free(system);
  }
}

/* By `either` it senses the higher end: its own output, here, keeps it closed. */
static void converter_senses_either(void **state) {
  (void)state;
  static struct trace trace;
  struct tailvolt_system *system = at_the_threshold("closes above = 12.8 V\nopens below = 12.2 V\nsense = either\n");
  trace.column = "source:a_mean";
  record(system, "time_s,supply_a:bass,supply_a:tail\n0,0,0\n1,30,0\n15,30,0\n", &trace);
  assert_true(value_at(&trace, 14.9) > 50);
  tailvolt_system_free(system);
}

static struct tailvolt_system *overloaded(double source_ohm) {
  char more[1024];
  snprintf(more, sizeof more,
           "[isolator split]\nfrom = amplifier plus\nto = behind\nkind = converter\noutput = 30 A at 14.1 V\n"
           "closes above = 12.5 V\nopens below = 12 V\n%s",
           second_battery);
  return scene_stiff(12.9, source_ohm, more);
}

/* 14.1 V and 30 A at its output want 470 W, 12.9 V behind 150 mohm have 277 W: it lets go, and tries again after its delay. Nothing
 * comes out of nothing meanwhile. */
static void an_overloaded_converter_lets_go(void **state) {
  (void)state;
  struct tailvolt_system *system = overloaded(0.150);
  struct tailvolt_result *r = scene_hold(system, "supply_a:bass", 4, 10, 1e-3);
  assert_near(r->batteries[0].charge_out_ah * 3600, 40, 1e-3);
  assert_near(r->batteries[1].charge_in_ah * 3600, 0, 1e-3);
  tailvolt_result_free(r);
  tailvolt_system_free(system);
  /* behind 60 mohm it has them until, at 4 s, an amplifier takes 40 A as well; 240 As would be all it gives from 2 s on */
  system = overloaded(0.060);
  struct tailvolt_profile *profile = scene_profile(system, "time_s,supply_a:bass\n0,0\n4,40\n10,40\n");
  struct tailvolt_options options = scene_isothermal();
  options.time_step_s = 1e-3;
  r = scene_run(system, profile, &options);
  assert_true(r->batteries[1].charge_in_ah * 3600 > 55 && r->batteries[1].charge_in_ah * 3600 < 120);
  tailvolt_result_free(r);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

/* A converter that opened at its limit and closes again charges for what it takes, from the first step on. */
static void converter_takes_what_it_gives(void **state) {
  (void)state;
  static struct trace trace;
  struct tailvolt_system *system = with_isolator(
      13.8, "kind = converter\noutput = 20 A at 14.1 V\nopens below = 12 V\ndelay = 0 s\nopening delay = 0 s\n");
  trace.column = "source:a_mean";
  record(system, "time_s,supply_a:bass\n0,0\n0.1,200\n0.2,0\n0.3,0\n", &trace);
  double behind_v = 12.6 + 20 * 0.05001, source_a = (13.8 - sqrt(13.8 * 13.8 - 4 * 0.010 * 20 * behind_v / 0.9)) / 0.020;
  assert_near(value_at(&trace, 0.199), 200, 1e-3);
  assert_near(value_at(&trace, 0.2), 0, 1e-3);
  for (int k = 1; k < 100; k++) assert_near(value_at(&trace, 0.2 + k * 1e-3), source_a, 0.01);
  tailvolt_system_free(system);
}

/* Without delays and with hardly a gap a converter switches at every step at its limit, and the batteries' currents jump each time, with
 * a slope that is a little off the one in the reduction. The books close all the same. */
static void books_close_while_a_converter_flutters(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_parse(
      "[vehicle]\nambient = 15 C\n[engine]\nsize = 3.8 L diesel\n[battery]\nkind = lithium-iron\ncapacity = 100 Ah\nresistance = 7.6 mohm\n"
      "[alternator]\nset point = 14.6 V\nrated current = 88 A\n[amplifier bass]\nrated power = 260 W\ntopology = d\n"
      "cut-out voltage = 0 V\nsupply from = second\n[cable feed]\nsize = 10 AWG\nlength = 1.6 m\n[battery second]\nkind = flooded\n"
      "capacity = 36 Ah\nstate of charge = 80 %\nplace = boot\n[isolator]\nkind = converter\noutput = 39 A at 14.1 V\n"
      "closes above = 12.8001 V\nopens below = 12.8 V\ndelay = 0 s\nopening delay = 0 s\n"
      "[cable second feed]\nsize = 10 AWG\nlength = 4.3 m\n");
  struct tailvolt_profile *profile = scene_profile(system, "time_s,engine_rpm,programme,level_db\n0,0,silence,0\n2,0,silence,0\n");
  struct tailvolt_options options = scene_isothermal();
  struct tailvolt_result *r = scene_run(system, profile, &options);
  const struct tailvolt_energy_result *e = &r->energy;
  assert_true(r->batteries[1].charged_j > 300);
  assert_near(e->residual_j, 0, 1e-8 * r->batteries[1].charged_j);
  tailvolt_result_free(r);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(loads_follow_the_profile),
      cmocka_unit_test(relay_delays), cmocka_unit_test(engine_switches),
      cmocka_unit_test(diode_belongs_to_the_step),
      cmocka_unit_test(converter_limits_its_current),
      cmocka_unit_test(converter_begins_closed),
      cmocka_unit_test(converter_delays),
      cmocka_unit_test(converter_senses_either),
      cmocka_unit_test(an_overloaded_converter_lets_go),
      cmocka_unit_test(converter_takes_what_it_gives),
      cmocka_unit_test(books_close_while_a_converter_flutters),
  };
  return cmocka_run_group_tests_name("switching", tests, NULL, NULL);
}
