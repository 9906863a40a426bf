/* Every accepted spelling and form of the system file, and systems of unusual shape. */
#include "tailvolt/system.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"
#include "support/systems.h"

static struct tailvolt_faults faults;

static struct tailvolt_system *must_parse(const char *text) {
  struct tailvolt_system *system = NULL;
  if (tailvolt_system_parse(text, "job.ini", NULL, 0, &system, &faults) != TAILVOLT_OK)
    fail_msg("line %d: %s\n%s", faults.fault[0].line, faults.fault[0].message, text);
  return system;
}

#define BATTERY "[battery]\ncapacity = 70 Ah\n"
#define ALTERNATOR "[alternator]\nrated current = 110 A\n"
#define AMPLIFIER "[amplifier bass]\nrated power = 800 W\n"
#define FEED "[cable feed]\nlength = 5.5 m\n"

static void feeds(void **state) {
  (void)state;
  static const struct {
    const char *lines, *size;
    double mohm_per_m;
  } feed[] = {{"size = 8 AWG\n", "8 AWG", 2.1022},
              {"size = 8ga\n", "8 AWG", 2.1022},
              {"size = 0 gauge\n", "1/0 AWG", 0.3289},
              {"size = 1/0 AWG\n", "1/0 AWG", 0.3289},
              {"size = 10 mm2\n", "10 mm2", 1.82},
              {"size = 10 mm\xC2\xB2\n", "10 mm2", 1.82},
              /* 196 strands of 0.3 mm are 13.854 mm2 of copper */
              {"strands = 196 x 0.3 mm\n", "196 x 0.3 mm", 17.241 / 13.854},
              {"strands = 196 \xC3\x97 0.3 mm\n", "196 x 0.3 mm", 17.241 / 13.854},
              {"per metre = 1.8 mohm\n", "1.8 mohm/m", 1.8},
              {"per meter = 1.8 m\xCE\xA9\n", "1.8 mohm/m", 1.8},
              /* 60 % of a circle of 4.6 mm */
              {"conductor diameter = 4.6 mm\n", "4.6 mm", 17.241 / 9.9713},
              {"size = 8 AWG\nmaterial = OFC\n", "8 AWG", 2.1022},
              {"size = 8 AWG\nmaterial = CCA\n", "8 AWG", 2.1022 * 27.41 / 17.241},
              {"measured drop = 0.396 V at 40 A\n", "as measured", 1.8},
              {"size = 8 AWG\nmeasured drop = 0.396 V at 40 A\n", "8 AWG", 1.8}};
  for (size_t k = 0; k < sizeof feed / sizeof feed[0]; k++) {
    char text[512];
    snprintf(text, sizeof text, BATTERY ALTERNATOR AMPLIFIER FEED "%s", feed[k].lines);
    struct tailvolt_system *s = must_parse(text);
    const struct tailvolt_conductor *c = conductor_of(s, "feed");
    assert_string_equal(c->size, feed[k].size);
    if (fabs(c->resistance_ohm / 5.5e-3 / feed[k].mohm_per_m - 1.0) > 0.021)
      fail_msg("%s: %.6g mohm/m, wanted %.6g", feed[k].lines, c->resistance_ohm / 5.5e-3, feed[k].mohm_per_m);
    assert_true(c->area_m2 > 0.0 && c->outer_m > 0.0);
    tailvolt_system_free(s);
  }
}

static void battery_spellings(void **state) {
  (void)state;
  struct tailvolt_system *short_form = must_parse("[battery]\ncapacity = 60 Ah\ncold cranking = 500 CCA\n" ALTERNATOR AMPLIFIER FEED
                                                  "size = 8 AWG\n");
  assert_int_equal(short_form->batteries[0].cold_cranking_standard, TAILVOLT_SAE);
  assert_near(short_form->batteries[0].cold_cranking_a, 500.0, 0.0);
  tailvolt_system_free(short_form);
  struct tailvolt_system *s = must_parse(
      "[battery]\ncapacity = 60 Ah\nkind = LiFePO4\ncold cranking = 500 A (SAE)\nrested voltage = 13.2 V\n"
      "tester cold cranking = 400 A\nresistance = 6 m\xCE\xA9\npolarization = 4 mohm, 10 s\npolarisation = 2 "
      "mohm,300 s\n"
      "open circuit = 11.9 V at 0 %, 12.8 V at 100%\n" ALTERNATOR
      "output = 16 A at 1300 rpm\noutput = 60 A at 2000 rpm\n" AMPLIFIER FEED "size = 8 AWG\n");
  const struct tailvolt_battery *b = &s->batteries[0];
  assert_string_equal(b->name, "battery");
  assert_int_equal(b->kind, TAILVOLT_LITHIUM_IRON);
  assert_int_equal(b->cold_cranking_standard, TAILVOLT_SAE);
  assert_near(b->cold_cranking_a, 500.0, 0.0);
  assert_true(isnan(b->soc_frac));
  assert_near(b->rested_v, 13.2, 0.0);
  assert_near(b->cranking_health_frac, 0.8, 1e-15);
  assert_near(b->resistance_ohm, 0.006, 0.0);
  assert_int_equal(b->polarization_count, 2);
  assert_near(b->polarization_ohm[1], 0.002, 0.0);
  assert_near(b->polarization_s[1], 300.0, 0.0);
  assert_int_equal(b->open_circuit_count, 2);
  assert_near(b->open_circuit_v[1], 12.8, 0.0);
  assert_near(b->open_circuit_frac[1], 1.0, 0.0);
  assert_int_equal(s->alternator.output_count, 3);
  assert_near(s->alternator.output_rpm[0], 1300.0, 0.0);
  assert_near(s->alternator.output_a[1], 60.0, 0.0);
  for (int k = 0; k < s->assumption_count; k++) {
    assert_string_not_equal(s->assumptions[k].key, "alternator.low current");
    assert_string_not_equal(s->assumptions[k].key, "battery.reserve");
    assert_string_not_equal(s->assumptions[k].key, "battery.state of charge");
  }
  tailvolt_system_free(s);
}

static void amplifier_spellings(void **state) {
  (void)state;
  struct tailvolt_system *s = must_parse(
      BATTERY ALTERNATOR "[amplifier tops]\nchannels = 4 x 75 W at 4 ohm\nclass = AB\npower at 12.5 V = 295 "
                         "W\nonboard fuses = 40 A\n"
                         "music = soft\ncut-out voltage = 9 V\nlevel offset = -3 dB\nstandby current = 5 "
                         "mA\ntarget voltage = 11.5 V\n"
                         "cut-out delay = 50 ms\nrestart delay = 2 s\n"
                         "[amplifier bass]\nrated power = 1 kW\npower at 12.5 V = 780 W\ncut-out voltage = 0 "
                         "V\n[music soft]\ntempo = 90 bpm\n"
                         "recording = a b.ogg\n[programme loud]\nenvelope = e.csv\n" FEED "size = 8 AWG\n");
  const struct tailvolt_amplifier *a = s->amplifiers;
  assert_near(a[0].rated_w, 300.0, 0.0);
  assert_int_equal(a[0].topology, TAILVOLT_CLASS_AB);
  assert_true(a[0].regulated);
  assert_near(a[0].efficiency_frac, 0.60, 0.0);
  assert_near(a[0].idle_a, 2.0, 0.0);
  assert_near(a[0].fuses_a, 40.0, 0.0);
  assert_int_equal(a[0].programme, 0);
  assert_near(a[0].cut_in_v, 10.0, 0.0);
  assert_near(a[0].level_offset_db, -3.0, 0.0);
  assert_near(a[0].standby_a, 0.005, 0.0);
  assert_near(a[0].target_v, 11.5, 0.0);
  assert_near(a[0].cut_out_delay_s, 0.05, 0.0);
  assert_near(a[0].restart_delay_s, 2.0, 0.0);
  assert_near(a[0].internal_f, 0.06, 1e-15);
  /* ln(780/1000)/ln(12.5/14.4) is 1.76: power goes as the square of voltage */
  assert_false(a[1].regulated);
  assert_near(a[1].cut_out_v, 0.0, 0.0);
  assert_int_equal(a[1].programme, -1);
  assert_int_equal(a[0].positive, a[1].positive);
  assert_string_equal(s->programmes[0].recording, "a b.ogg");
  assert_near(s->programmes[0].tempo_per_min, 90.0, 0.0);
  assert_string_equal(s->programmes[1].envelope, "e.csv");
  tailvolt_system_free(s);
}

/* Variations without meaning: case of keys, blanks, byte-order mark, line ends, colon. */
static void loose_forms(void **state) {
  (void)state;
  struct tailvolt_system *s =
      must_parse("\xEF\xBB\xBF"
                 "[ vehicle ]\r\nambient = 68 \xC2\xB0"
                 "F\r\n  engine bay: 140 F ; hot\r\nBattery Sensor = YES\r\ncharging = computer\r\n"
                 "[engine]\nsize = 2000 cc diesel\nsimulate starts = on\n[alternator]\nrated current = 140 "
                 "A\nsense = battery post\n"
                 "set point drift = \xE2\x88\x92"
                 "12 mV/K\n" BATTERY AMPLIFIER "[capacitor   stiff  one]\ncapacitance = 500 mF\nrated "
                 "voltage = 20 V\n[load fan]\ncurrent = 10 A\nduty = 30 %\n"
                 "[load radio]\npower = 15 W\nbehaves = constant power\n[joint body shell]\nmeasured drop = "
                 "0.18 V at 40 A\n" FEED "size = 8 AWG\n");
  assert_true(s->standard_car);
  assert_near(s->vehicle.ambient_c, 20.0, 1e-12);
  assert_near(s->vehicle.engine_bay_c, 60.0, 1e-12);
  assert_true(s->vehicle.battery_sensor);
  assert_int_equal(s->vehicle.charging, TAILVOLT_CHARGING_COMPUTER);
  assert_true(isnan(s->vehicle.base_load_a)); /* the file names its loads */
  assert_near(s->engine.displacement_l, 2.0, 0.0);
  assert_int_equal(s->engine.fuel, TAILVOLT_DIESEL);
  assert_near(s->engine.cranking_a, 335.0, 0.0);
  assert_near(s->engine.breakaway_a, 1005.0, 0.0);
  assert_true(s->engine.simulate_starts);
  assert_int_equal(s->alternator.sense, point_of(s, "battery post"));
  assert_near(s->alternator.drift_v_per_k, -0.012, 1e-17);
  assert_string_equal(s->capacitors[0].name, "stiff one");
  assert_near(s->capacitors[0].capacitance_f, 0.5, 0.0);
  assert_near(s->capacitors[0].rated_v, 20.0, 0.0);
  assert_int_equal(s->capacitors[0].positive, point_of(s, "amplifier plus"));
  assert_near(s->loads[0].power_w, 135.0, 1e-12);
  assert_int_equal(s->loads[0].behaviour, TAILVOLT_CONSTANT_CURRENT);
  assert_near(s->loads[0].duty_frac, 0.3, 0.0);
  assert_int_equal(s->loads[0].negative, point_of(s, "body"));
  assert_int_equal(s->loads[1].behaviour, TAILVOLT_CONSTANT_POWER);
  assert_near(conductor_of(s, "body shell")->resistance_ohm, 0.0045, 1e-17);
  tailvolt_system_free(s);
}

/* As labels and the trade have them: hyphens for blanks, @ for at, the other order of words. */
static void trade_spellings(void **state) {
  (void)state;
  static const char *const keys[] = {"stop and start", "Stop-Start", "start-stop", "stop start", "start and stop"};
  static const struct {
    const char *word;
    enum tailvolt_fuse_kind kind;
  } fuses[] = {{"mini", TAILVOLT_BLADE}, {"maxi", TAILVOLT_LARGE_BLADE}, {"maxi-blade", TAILVOLT_LARGE_BLADE},
               {"ANL", TAILVOLT_BOLT_DOWN}, {"bolt down", TAILVOLT_BOLT_DOWN}};
  for (size_t k = 0; k < sizeof keys / sizeof keys[0]; k++) {
    char text[512];
    snprintf(text, sizeof text, BATTERY ALTERNATOR "[amplifier tops]\nchannels = 4x75W@4ohm\nCut out voltage = 9 V\n"
             FEED "size = 8 AWG\n[engine]\n%s = yes\n[fuse main]\nrating = 80A\nkind = %s\n", keys[k], fuses[k].word);
    struct tailvolt_system *s = must_parse(text);
    assert_true(s->engine.stop_and_start);
    assert_near(s->amplifiers[0].rated_w, 300.0, 0.0);
    assert_near(s->amplifiers[0].cut_out_v, 9.0, 0.0);
    assert_int_equal(conductor_of(s, "main")->fuse_kind, fuses[k].kind);
    tailvolt_system_free(s);
  }
}

/* `earth` is `ground`, and the first battery's name for its negative post is the same point. */
/* What the trade calls a part is answered with the section to write. */
static void trade_sections(void **state) {
  (void)state;
  refused(BATTERY ALTERNATOR FEED "[amp bass]\nrated power = 800 W\n", "unknown section [amp]; did you mean 'amplifier'?");
  refused(BATTERY ALTERNATOR AMPLIFIER FEED "[main fuse]\nrating = 60 A\n", "unknown section [main fuse]; did you mean '[fuse main]'?");
  refused(BATTERY ALTERNATOR AMPLIFIER FEED "[relay]\nrating = 60 A\n", "unknown section [relay]; did you mean 'isolator'?");
  struct tailvolt_system *system = must_parse(BATTERY "cca = 640 A EN\n" ALTERNATOR AMPLIFIER FEED);
  assert_near(system->batteries[0].cold_cranking_a, 640.0, 0.0);
  tailvolt_system_free(system);
}

static void ground_names(void **state) {
  (void)state;
  struct tailvolt_system *s = must_parse(
      "[battery]\npositive = post\nnegative = battery minus\ncapacity = 70 Ah\n"
      "[load lamp]\npositive = post\nnegative = earth\npower = 20 W\n"
      "[load bell]\npositive = post\nnegative = battery minus\npower = 20 W\n"
      "[load horn]\npositive = post\npower = 20 W\n[meter m]\npositive = post\nnegative = Ground\n");
  assert_int_equal(s->point_count, 2);
  assert_int_equal(s->batteries[0].negative, 0);
  assert_int_equal(s->loads[0].negative, 0);
  assert_int_equal(s->loads[1].negative, 0);
  assert_int_equal(s->loads[2].negative, 0);
  assert_int_equal(s->meters[0].negative, 0);
  assert_false(s->alternator.present);
  assert_int_equal(s->vehicle.charging, TAILVOLT_CHARGING_NONE);
  assert_true(isnan(s->vehicle.base_load_a));
  tailvolt_system_free(s);
}

/* No alternator: no charge lead, no engine strap; a converter takes its limit from `fixed output`. */
static void charging(void **state) {
  (void)state;
  struct tailvolt_system *s =
      must_parse("[vehicle]\ncharging = none\n" BATTERY AMPLIFIER FEED "size = 8 AWG\n");
  assert_false(s->alternator.present);
  assert_int_equal(s->conductor_count, 11);
  tailvolt_system_free(s);
  s = must_parse("[vehicle]\ncharging = converter\n[alternator]\nfixed output = 70 A\n" BATTERY AMPLIFIER FEED
                 "size = 8 AWG\n");
  assert_int_equal(s->vehicle.charging, TAILVOLT_CHARGING_CONVERTER);
  assert_near(s->alternator.fixed_output_a, 70.0, 0.0);
  assert_near(s->alternator.rated_a, 70.0, 0.0);
  assert_near(s->alternator.drift_v_per_k, 0.0, 0.0);
  assert_int_equal(s->alternator.output_count, 0);
  tailvolt_system_free(s);
}

/* Isolators of each kind, in a file with points. */
static void isolators(void **state) {
  (void)state;
  struct tailvolt_system *s = must_parse(
      "[battery a]\npositive = a\ncapacity = 70 Ah\n[battery b]\npositive = b\ncapacity = 70 Ah\n[load "
      "l]\npositive = a\npower = 10 W\n"
      "[isolator relay]\nfrom = a\nto = b\nsense = either\nopening delay = 3 s\nresistance = 2 mohm\n"
      "[isolator diode]\nfrom = a\nto = b\nkind = diode\n"
      "[isolator dc]\nfrom = a\nto = b\nkind = converter\noutput = 30 A at 14.4 V\nefficiency = 88 %\n");
  assert_true(s->isolators[0].sense_either);
  assert_near(s->isolators[0].close_delay_s, 2.0, 0.0);
  assert_near(s->isolators[0].open_delay_s, 3.0, 0.0);
  assert_near(s->isolators[0].resistance_ohm, 0.002, 0.0);
  assert_int_equal(s->isolators[1].kind, TAILVOLT_DIODE);
  assert_near(s->isolators[1].drop_v, 0.4, 0.0);
  assert_near(s->isolators[1].resistance_ohm, 0.002, 0.0);
  assert_near(s->isolators[2].output_a, 30.0, 0.0);
  assert_near(s->isolators[2].output_v, 14.4, 0.0);
  assert_near(s->isolators[2].efficiency_frac, 0.88, 0.0);
  tailvolt_system_free(s);
}

/* Switched by the ignition, in either word: a relay at any voltage, a converter above what guards the starter battery; both let go at
 * once. */
static void isolators_that_the_engine_switches(void **state) {
  (void)state;
  struct tailvolt_system *s = must_parse(
      "[battery a]\npositive = a\ncapacity = 70 Ah\n[battery b]\npositive = b\ncapacity = 70 Ah\n[load "
      "l]\npositive = a\npower = 10 W\n"
      "[isolator relay]\nfrom = a\nto = b\nsense = engine\ncloses above = 13.3 V\n"
      "[isolator dc]\nfrom = a\nto = b\nkind = converter\noutput = 30 A at 14.4 V\nsense = ignition\n"
      "[isolator high]\nfrom = a\nto = b\nkind = converter\noutput = 30 A at 14.4 V\nsense = engine\nopens below = 12 V\n");
  for (int k = 0; k < 3; k++) {
    assert_true(s->isolators[k].by_engine && !s->isolators[k].sense_either);
    assert_near(s->isolators[k].close_delay_s, 2.0, 0.0);
    assert_near(s->isolators[k].open_delay_s, 0.0, 0.0);
  }
  assert_true(isnan(s->isolators[0].closes_above_v) && isnan(s->isolators[0].opens_below_v));
  assert_near(s->isolators[1].opens_below_v, 11.0, 0.0);
  assert_near(s->isolators[1].closes_above_v, 11.5, 0.0);
  assert_near(s->isolators[2].opens_below_v, 12.0, 0.0);
  assert_near(s->isolators[2].closes_above_v, 12.5, 0.0);
  tailvolt_system_free(s);
}

/* 64 points, 128 parts, 16 amplifiers, 8 batteries. */
static void large_system(void **state) {
  (void)state;
  static char text[32768];
  size_t used = (size_t)snprintf(text, sizeof text, "[engine]\nstarts from = 3\n");
  for (int k = 0; k < 8; k++)
    used += (size_t)snprintf(text + used, sizeof text - used,
                             "[battery %d]\npositive = p%d\ncapacity = 70 Ah\n", k, k);
  for (int k = 0; k < 120; k++)
    used +=
        (size_t)snprintf(text + used, sizeof text - used,
                         "[joint %d]\nfrom = p%d\nto = p%d\nresistance = 1 mohm\n", k, k % 70, (k + 1) % 70);
  for (int k = 0; k < 16; k++)
    used += (size_t)snprintf(text + used, sizeof text - used,
                             "[amplifier %d]\npositive = p%d\nnegative = ground\nrated power = 100 W\n", k,
                             20 + k);
  struct tailvolt_system *s = must_parse(text);
  assert_int_equal(s->point_count, 71);
  assert_int_equal(s->conductor_count, 120);
  assert_int_equal(s->amplifier_count, 16);
  assert_int_equal(s->battery_count, 8);
  assert_int_equal(s->engine.starter_battery, 3);
  tailvolt_system_free(s);
  tailvolt_system_free(NULL);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(feeds),
                                     cmocka_unit_test(battery_spellings),
                                     cmocka_unit_test(amplifier_spellings),
                                     cmocka_unit_test(loose_forms),
                                     cmocka_unit_test(trade_spellings), cmocka_unit_test(trade_sections),
                                     cmocka_unit_test(ground_names),
                                     cmocka_unit_test(charging),
                                     cmocka_unit_test(isolators), cmocka_unit_test(isolators_that_the_engine_switches),
                                     cmocka_unit_test(large_system)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
