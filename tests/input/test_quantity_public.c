/* The public side of values with units. */
#include "support/assert_near.h"

#include <string.h>

#include "tailvolt/quantity.h"

static void test_reads_and_refuses(void **state) {
  (void)state;
  static const struct {
    const char *text;
    enum tailvolt_measure measure;
    double value;
  } good[] = {{"12.5 V", TAILVOLT_VOLTAGE, 12.5},     {" 80 A ", TAILVOLT_CURRENT, 80.0},
              {"5 mohm", TAILVOLT_RESISTANCE, 5e-3},  {"0.8 kW", TAILVOLT_POWER, 800.0},
              {"2 min", TAILVOLT_TIME, 120.0},        {"18 ft", TAILVOLT_LENGTH, 5.4864},
              {"77 F", TAILVOLT_TEMPERATURE, 25.0},   {"70 Ah", TAILVOLT_CHARGE, 70.0},
              {"800 rpm", TAILVOLT_SPEED, 800.0},     {"85 %", TAILVOLT_SHARE, 0.85},
              {"-6 dB", TAILVOLT_LEVEL, -6.0},        {"80 Hz", TAILVOLT_FREQUENCY, 80.0}};
  static const char *const bad[] = {"", "80", "12,5 V", "volts", "5 m"};
  for (size_t k = 0; k < sizeof good / sizeof good[0]; k++) {
    double value = 0.0, again = 0.0;
    char text[48];
    assert_int_equal(tailvolt_quantity_read(good[k].text, good[k].measure, &value), TAILVOLT_OK);
    assert_near_rel(value, good[k].value, 1e-12);
    tailvolt_quantity_write(value, good[k].measure, text, sizeof text);
    assert_int_equal(tailvolt_quantity_read(text, good[k].measure, &again), TAILVOLT_OK);
    assert_near_rel(again, value, 1e-5);
    assert_true(strlen(tailvolt_measure_units(good[k].measure)) > 0);
  }
  for (size_t k = 0; k < sizeof bad / sizeof bad[0]; k++) {
    double value = 7.0;
    assert_int_equal(tailvolt_quantity_read(bad[k], TAILVOLT_VOLTAGE, &value), TAILVOLT_BAD_INPUT);
    assert_near(value, 7.0, 0.0);
  }
  char room[4];
  tailvolt_quantity_write(123.456, TAILVOLT_VOLTAGE, room, sizeof room);
  assert_true(strlen(room) < sizeof room);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_reads_and_refuses)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
