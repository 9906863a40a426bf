/* Hazards of batteries: place, gas, frost, and lithium beside lead. Each rule has a car that breaks it and one that
 * keeps it. */
#include "simulate/safety_car.h"

static void test_place_and_gas(void **state) {
  (void)state;
  struct car car;
  make_two_batteries(&car, true);
  expect_none(&car, "in the boot");
  car.batteries[1].place = TAILVOLT_BOOT;
  expect(&car, TAILVOLT_HOLDS, "battery second (AGM) in the boot: sealed, fastened");
  car.batteries[1].kind = TAILVOLT_FLOODED;
  expect(&car, TAILVOLT_HOLDS, "battery second (flooded) in the boot has no vent: it gives off hydrogen");
  car.batteries[1].place = TAILVOLT_CABIN;
  expect(&car, TAILVOLT_HOLDS, "battery second (flooded) in the cabin has no vent");
  car.batteries[1].vented = true;
  expect_none(&car, "hydrogen");
  car.batteries[1].vented = false;
  car.batteries[1].place = TAILVOLT_BED;
  expect_none(&car, "hydrogen");
  /* the car's own battery may be there too */
  car.batteries[0].kind = TAILVOLT_EFB;
  car.batteries[0].place = TAILVOLT_BOOT;
  expect(&car, TAILVOLT_HOLDS, "battery starter (EFB) in the boot has no vent");
}

/* At 25 % the acid freezes at -16 C: -15 C is mild enough, -17 C is not; at 85 % it is safe at either. */
static void test_frost(void **state) {
  (void)state;
  struct car car;
  make_car(&car);
  car.system.vehicle.ambient_c = -17.0;
  expect_none(&car, "freeze");
  car.batteries[0].soc_frac = 0.25;
  expect(&car, TAILVOLT_HOLDS, "battery starter would freeze and burst: at 25 % charge its acid freezes at -16 C");
  car.system.vehicle.ambient_c = -15.0;
  expect_none(&car, "freeze");
  /* a run ends with less than it began: the end counts, in its own air */
  struct tailvolt_battery_result end = {.name = "starter", .end_soc_pct = 20.0, .end_c = -15.0};
  struct tailvolt_result result = {.battery_count = 1, .batteries = &end};
  car.batteries[0].soc_frac = 0.85;
  expect_times(&car, &result, TAILVOLT_HOLDS, "at 20 % charge its acid freezes at -14 C and the air is at -15 C", 1);
  end.end_soc_pct = 80.0;
  expect_times(&car, &result, TAILVOLT_HOLDS, "freeze", 0);
  end.end_soc_pct = 20.0;
  car.batteries[0].kind = TAILVOLT_LITHIUM_IRON;
  expect_times(&car, &result, TAILVOLT_HOLDS, "freeze", 0);
}

/* Two batteries 4 m of 25 mm2 apart, the second of lithium-iron. Warm, the set point is 14.3 V. */
static void test_lithium_on_lead(void **state) {
  (void)state;
  struct car car;
  make_two_batteries(&car, true);
  expect_none(&car, "lithium");
  car.batteries[1].kind = TAILVOLT_LITHIUM_IRON;
  expect(&car, TAILVOLT_HOLDS, "battery second is lithium-iron: no charging below 0 C, not under the bonnet");
  expect(&car, TAILVOLT_HOLDS, "is joined to battery starter by isolator split charge: nothing but its own protection");
  /* by hand: (14.3 - 13.0) V over 6 mohm of battery and path */
  struct tv_finding_list list = check(&car, NULL);
  double way_ohm = car.isolators[0].resistance_ohm;
  for (int k = FITTED; k < car.system.conductor_count; k++) way_ohm += car.conductors[k].resistance_ohm;
  bool seen = false;
  for (int k = 0; k < list.count; k++) {
    if (list.finding[k].kind != TAILVOLT_FOUND_LITHIUM_ON_LEAD) continue;
    assert_near(list.finding[k].current_a, (14.3 - 13.0) / (6e-3 + way_ohm), 0.01);
    seen = true;
  }
  assert_true(seen);
  tv_finding_list_free(&list);
  /* a diode does not limit it either */
  car.isolators[0].kind = TAILVOLT_DIODE;
  expect(&car, TAILVOLT_HOLDS, "by isolator split charge: nothing but its own protection");
  car.isolators[0].kind = TAILVOLT_CONVERTER;
  expect_none(&car, "nothing but its own protection");
  /* joined directly */
  car.system.isolator_count = 0;
  join(&car, FITTED, "link front", POST, SECOND + 1, 0.3e-3);
  lay(&car, FITTED + 1, "link", SECOND + 1, SECOND, "25 mm2", 4.0);
  car.system.conductor_count = FITTED + 2;
  expect(&car, TAILVOLT_HOLDS, "is joined to battery starter by cable alone");
  /* a lithium battery alone in the car is on no lead battery */
  make_car(&car);
  car.batteries[0].kind = TAILVOLT_LITHIUM_IRON;
  expect_none(&car, "nothing but its own protection");
}

static void test_lithium_in_cold_heat_and_high_voltage(void **state) {
  (void)state;
  struct car car;
  make_two_batteries(&car, true);
  car.batteries[1].kind = TAILVOLT_LITHIUM_IRON;
  car.batteries[1].place = TAILVOLT_BOOT;
  expect_none(&car, "would be charged at");
  expect_none(&car, "engine bay at");
  car.system.vehicle.ambient_c = -5.0;
  expect(&car, TAILVOLT_HOLDS, "battery second (lithium-iron) would be charged at -5 C: below 0 C charging ruins its cells");
  /* not in a run that only discharges it */
  struct tailvolt_battery_result rows[2] = {{.end_soc_pct = 80.0, .end_c = -5.0}, {.end_soc_pct = 80.0, .end_c = -5.0}};
  struct tailvolt_result result = {.battery_count = 2, .batteries = rows};
  expect_times(&car, &result, TAILVOLT_HOLDS, "would be charged at", 0);
  rows[1].charge_in_ah = 1.0;
  expect_times(&car, &result, TAILVOLT_HOLDS, "would be charged at", 1);
  car.system.vehicle.ambient_c = 25.0;
  car.batteries[1].place = TAILVOLT_ENGINE_BAY;
  expect(&car, TAILVOLT_HOLDS, "battery second (lithium-iron) is in the engine bay at 60 C: its cells are made for at most 55 C");
  car.system.vehicle.engine_bay_c = 50.0;
  expect_none(&car, "engine bay at");
  expect_none(&car, "cells can take");
  car.system.alternator.set_point_v = 14.8;
  expect(&car, TAILVOLT_HOLDS, "the alternator's 14.8 V is above the 14.6 V that lithium-iron cells can take");
  /* behind a converter they see what that gives */
  car.isolators[0].kind = TAILVOLT_CONVERTER;
  car.isolators[0].output_v = 14.4;
  expect_none(&car, "cells can take");
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_place_and_gas), cmocka_unit_test(test_frost),
      cmocka_unit_test(test_lithium_on_lead), cmocka_unit_test(test_lithium_in_cold_heat_and_high_voltage)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
