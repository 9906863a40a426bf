/* Features of real cars: computers and converters that charge, batteries in other places, lamps, roles. */

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "support/assert_near.h"
#include "tailvolt/profile.h"
#include "tailvolt/system.h"
#include "support/systems.h"

static struct tailvolt_faults faults;

#define CAR                                                                                                  \
  "[battery]\ncapacity = 70 Ah\n[amplifier bass]\nrated power = 800 W\n[cable feed]\nsize = 8 AWG\n"          \
  "length = 5.5 m\n"
#define BELT "[alternator]\nrated current = 110 A\n"

static void charging_by_computer(void **state) {
  (void)state;
  struct tailvolt_system *s = system_of(CAR BELT "set point = 12.4 V .. 14.8 V\n[vehicle]\ncharging = computer\n");
  assert_near(s->alternator.set_point_v, 12.4, 0);
  assert_near(s->alternator.set_point_low_v, 12.4, 0);
  assert_near(s->alternator.set_point_high_v, 14.8, 0);
  assert_near(s->alternator.low_end_above_frac, 0.75, 0);
  tailvolt_system_free(s);
  static const char *const spellings[] = {"12.4 .. 14.8 V", "12.4 V to 14.8 V", "12.4V..14.8V", "12.4 V ... 14800 mV"};
  for (size_t k = 0; k < 4; k++) {
    char text[400];
    snprintf(text, sizeof text, CAR BELT "set point = %s\nlow end above = 60 %%\n[vehicle]\ncharging = computer\n",
             spellings[k]);
    s = system_of(text);
    assert_near(s->alternator.set_point_low_v, 12.4, 0);
    assert_near(s->alternator.set_point_high_v, 14.8, 1e-12);
    assert_near(s->alternator.low_end_above_frac, 0.6, 0);
    tailvolt_system_free(s);
  }
  /* without a band: the standard one; on a belt: a single voltage */
  s = system_of(CAR BELT "[vehicle]\ncharging = computer\n");
  assert_near(s->alternator.set_point_low_v, 12.4, 0);
  assert_near(s->alternator.set_point_high_v, 14.8, 0);
  tailvolt_system_free(s);
  s = system_of(CAR BELT);
  assert_near(s->alternator.set_point_v, 14.2, 0);
  assert_near(s->alternator.set_point_low_v, 14.2, 0);
  assert_near(s->alternator.set_point_high_v, 14.2, 0);
  tailvolt_system_free(s);
  refused(CAR BELT "set point = 14.8 V .. 12.4 V\n[vehicle]\ncharging = computer\n",
          "'set point = 14.8 V .. 12.4 V' ends below where it starts; write 'set point = 12.4 V .. 14.8 V'");
  refused(CAR BELT "set point = 12.4 V .. 14.8 V\n",
          "a set point with two ends goes with 'charging = computer' in [vehicle]; give one voltage, or write that");
  refused(CAR BELT "set point = 12.4 V .. 18 V\n[vehicle]\ncharging = computer\n",
          "18 V is out of range in 'set point = 12.4 V .. 18 V'; accepted: 11 V to 16 V");
}

static void charging_by_converter(void **state) {
  (void)state;
  struct tailvolt_system *s = system_of(CAR "[converter]\nrated current = 120 A\nset point = 14.1 V\n");
  assert_int_equal(s->vehicle.charging, TAILVOLT_CHARGING_CONVERTER);
  assert_true(s->converter.present);
  assert_near(s->converter.rated_a, 120, 0);
  assert_near(s->converter.set_point_v, 14.1, 0);
  assert_near(s->alternator.fixed_output_a, 120, 0);
  assert_string_equal(s->point_names[s->alternator.positive], "converter post");
  assert_near(s->engine.start_needs_a, 30, 0);
  assert_near(s->engine.start_needs_s, 5, 0);
  assert_near(s->engine.start_floor_v, 10.5, 0);
  tailvolt_system_free(s);
  s = system_of(CAR "[vehicle]\ncharging = converter\n[converter]\nrated current = 90 A\n[engine]\nstart needs = 40 A for "
               "3 s\nstart floor = 10 V\n");
  assert_near(s->converter.set_point_v, 14.0, 0);
  assert_near(s->engine.start_needs_a, 40, 0);
  assert_near(s->engine.start_needs_s, 3, 0);
  assert_near(s->engine.start_floor_v, 10, 0);
  tailvolt_system_free(s);
  s = system_of(CAR BELT);
  assert_false(s->converter.present);
  assert_true(isnan(s->engine.start_needs_a) && isnan(s->engine.start_floor_v));
  tailvolt_system_free(s);
  refused(CAR "[vehicle]\ncharging = converter\n",
          "'charging = converter' needs its limit; write for example 'rated current = 120 A' in [converter]");
  refused(CAR BELT "[converter]\nrated current = 90 A\n",
          "[converter] takes the place of the alternator; remove [alternator] or [converter]");
  refused(CAR "[vehicle]\ncharging = belt\n[converter]\nrated current = 90 A\n",
          "'charging = belt' but there is a [converter]; write 'charging = converter'");
  refused(CAR BELT "[engine]\nstart needs = 30 A\n",
          "'start needs = 30 A' is not understood; write for example 'start needs = 30 A for 5 s'");
}

/* Own wiring, two named batteries: named, charged directly, before the relay, or asked for. */
static void which_battery_starts(void **state) {
  (void)state;
#define TWO "[battery a]\npositive = a\ncapacity = 70 Ah\n[battery b]\npositive = b\ncapacity = 60 Ah\n"
#define RELAY "[isolator relay]\nfrom = b\nto = a\n"
  struct tailvolt_system *s = system_of(TWO RELAY);
  assert_int_equal(s->engine.starter_battery, 1);
  tailvolt_system_free(s);
  s = system_of(TWO RELAY "[engine]\nstarts from = a\nstop and start = yes\n");
  assert_int_equal(s->engine.starter_battery, 0);
  assert_true(s->engine.stop_and_start);
  tailvolt_system_free(s);
  s = system_of(TWO "[isolator relay]\nfrom = b\nto = a\nsense = either\n[alternator]\nrated current = 110 A\npositive = "
               "post\nnegative = ground\n[cable charge]\nfrom = post\nto = a\nsize = 25 mm2\nlength = 1 m\n");
  assert_int_equal(s->engine.starter_battery, 0);
  tailvolt_system_free(s);
  s = system_of(CAR BELT);
  assert_int_equal(s->engine.starter_battery, 0);
  assert_false(s->engine.stop_and_start);
  tailvolt_system_free(s);
  refused(TWO, "which of 2 batteries starts the engine? write for example 'starts from = a' in [engine]");
  refused(TWO RELAY "[engine]\nstarts from = starter\n", "no [battery starter]");
  refused(CAR BELT "[engine]\nstarts from = main\n", "no [battery main]; did you mean 'battery'?");
  refused(CAR BELT "[amplifier tops]\nrated power = 90 W\nsupply from = secnod\n",
          "no [battery secnod]; did you mean 'battery'?");
}

static void places_and_lamps(void **state) {
  (void)state;
  struct tailvolt_system *s = system_of(CAR BELT);
  assert_int_equal(s->batteries[0].place, TAILVOLT_ENGINE_BAY);
  assert_false(s->batteries[0].vented);
  assert_int_equal(s->vehicle.headlamps, TAILVOLT_LAMP_IF_HALOGEN);
  assert_near(s->vehicle.key_off_a, 0.03, 0);
  assert_near(s->targets.idle_endurance_s, 14400, 0);
  assert_near(s->targets.idle_frac, 0.4, 0);
  assert_int_equal(s->amplifiers[0].supply_battery, -1);
  tailvolt_system_free(s);
  s = system_of("[battery]\ncapacity = 70 Ah\nplace = boot\nvented = yes\n" BELT
           "[amplifier bass]\nrated power = 800 W\nsupply from = battery\n[cable feed]\nsize = 2 x 4 AWG\nlength = 1 m\n"
           "place = bed\n[load lights]\npower = 110 W\nlamp = halogen\n[load rear]\npower = 10 W\nlamp = LED\n"
           "[load fan]\npower = 60 W\n[vehicle]\nkey-off draw = 0.05 A\n[targets]\nendurance at idle = 90 min\n"
           "idle share = 55 %\n");
  assert_int_equal(s->batteries[0].place, TAILVOLT_BOOT);
  assert_true(s->batteries[0].vented);
  assert_int_equal(s->vehicle.headlamps, TAILVOLT_LAMP_NONE);
  assert_int_equal(s->loads[0].lamp, TAILVOLT_LAMP_HALOGEN);
  assert_int_equal(s->loads[1].lamp, TAILVOLT_LAMP_LED);
  assert_int_equal(s->loads[2].lamp, TAILVOLT_LAMP_NONE);
  assert_near(s->vehicle.key_off_a, 0.05, 0);
  assert_near(s->targets.idle_endurance_s, 5400, 0);
  assert_near(s->targets.idle_frac, 0.55, 0);
  assert_int_equal(s->amplifiers[0].supply_battery, 0);
  tailvolt_system_free(s);
  refused(CAR BELT "[load lights]\npower = 5 W\nlamp = bulb\n",
          "'lamp = bulb' is unknown; accepted: none, halogen or LED");
  refused("[battery]\ncapacity = 70 Ah\nplace = bonnet\n",
          "'place = bonnet' is unknown; accepted: cabin, engine bay, boot or bed");
}

/* The standard car knows the role of each of its conductors; a key gives it for others. */
static void roles(void **state) {
  (void)state;
  struct tailvolt_system *s = system_of(CAR BELT "[cable charge lead]\nlength = 2 m\n[joint body stud]\nrole = body\n");
  int charge = 0, body = 0;
  for (int k = 0; k < s->conductor_count; k++) {
    charge += s->conductors[k].role == TAILVOLT_ROLE_CHARGE_LEAD;
    body += s->conductors[k].role == TAILVOLT_ROLE_BODY;
    assert_true(isnan(s->conductors[k].claimed_ohm));
  }
  assert_int_equal(charge, 1);
  assert_int_equal(body, 2);
  tailvolt_system_free(s);
  refused(CAR BELT "[cable feed to boot]\nrole = charge\nfrom = a\nto = b\nsize = 8 AWG\nlength = 1 m\n",
          "'role = charge' is unknown; accepted: none, starter lead, charge lead or body; did you mean 'charge lead'?");
}

/* Two runs side by side: half the resistance, twice the area, each with its own insulation. */
static void parallel_runs(void **state) {
  (void)state;
  struct tailvolt_system *one = system_of(CAR BELT), *two = NULL;
  const struct tailvolt_setting setting = {"cable feed.size = 2 x 8 AWG"};
  assert_int_equal(tailvolt_system_parse(CAR BELT, "car.ini", &setting, 1, &two, &faults), TAILVOLT_OK);
  const struct tailvolt_conductor *a = one->conductors, *b = two->conductors;
  while (strcmp(a->name, "feed") != 0) a++, b++;
  assert_int_equal(a->parallel, 1);
  assert_int_equal(b->parallel, 2);
  assert_string_equal(b->size, "2 x 8 AWG");
  assert_near(b->resistance_ohm, a->resistance_ohm / 2, 1e-15);
  assert_near(b->area_m2, 2 * a->area_m2, 1e-15);
  assert_near(b->outer_m, a->outer_m, 0);
  tailvolt_system_free(one);
  tailvolt_system_free(two);
  refused("[cable feed]\nsize = 9 x 8 AWG\n",
          "'size = 9 x 8 AWG' counts from 1 to 8 parallel runs; write for example 'size = 2 x 4 AWG'");
}

static void measured_values(void **state) {
  (void)state;
  struct tailvolt_system *s =
      system_of("[battery]\ncapacity = 70 Ah\nrested voltage = 12.55 V measured\n[alternator]\nrated current = 110 A\n"
           "set point = 14.31 V measured\n[amplifier bass]\nrated power = 800 W\n[cable feed]\nsize = 8 AWG\n"
           "length = 5.5 m\nmeasured drop = 0.31 V at 20 A\n[vehicle]\nbase load = 28 A MEASURED\n");
  assert_near(s->batteries[0].rested_v, 12.55, 0);
  assert_near(s->alternator.set_point_v, 14.31, 0);
  assert_near(s->vehicle.base_load_a, 28, 0);
  static const char *const keys[] = {"battery.rested voltage", "alternator.set point", "vehicle.base load",
                                     "cable feed.measured drop"};
  assert_int_equal(s->measured_count, 4);
  for (int k = 0; k < 4; k++) assert_string_equal(s->measured[k].key, keys[k]);
  tailvolt_system_free(s);
  refused("[battery]\ncapacity = measured\n", "no finite number in 'capacity = measured'; accepted: 1 Ah to 1000 Ah");
}

/* The column `ready`: the car is on though its engine is stopped. */
static void ready_rows(void **state) {
  (void)state;
  struct tailvolt_system *s = system_of(CAR "[converter]\nrated current = 120 A\n[load fan]\npower = 60 W\n");
  struct tailvolt_profile *profile = NULL;
  struct tailvolt_profile_cursor *cursor = NULL;
  const struct tailvolt_row *row = NULL;
  static const char text[] = "time_s,engine_rpm,ready\n0,0,0\n1,0,1\n2,800,0\n3,0,0\n";
  static const bool ready[] = {false, true, true, false};
  assert_int_equal(tailvolt_profile_parse(text, "p.csv", s, &profile, &faults), TAILVOLT_OK);
  assert_int_equal(tailvolt_profile_open(profile, &cursor), TAILVOLT_OK);
  for (int k = 0; k < 4; k++) {
    assert_int_equal(tailvolt_profile_next(cursor, &row), TAILVOLT_OK);
    assert_int_equal(row->ready, ready[k]);
    assert_near(row->load_on[0], ready[k] ? 1 : 0, 0);
  }
  tailvolt_profile_close(cursor);
  tailvolt_profile_free(profile);
  assert_int_equal(tailvolt_profile_parse("time_s,ready\n0,0.5\n1,1\n", "p.csv", s, &profile, &faults),
                   TAILVOLT_BAD_INPUT);
  assert_string_equal(faults.fault[0].message, "out of range: accepted is 0 (off) or 1 (on)");
  tailvolt_system_free(s);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(charging_by_computer), cmocka_unit_test(charging_by_converter),
      cmocka_unit_test(which_battery_starts), cmocka_unit_test(places_and_lamps),
      cmocka_unit_test(roles),                cmocka_unit_test(parallel_runs),
      cmocka_unit_test(measured_values),      cmocka_unit_test(ready_rows)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
