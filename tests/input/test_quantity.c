/* Values with units: every accepted spelling, every refusal, and what is shown back. */
#include "input/quantity.h"

#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "support/assert_near.h"

static enum tv_quantity_status read_plain(const char *text, enum tv_measure measure, double *value) {
  char plain[128];
  tv_plain_text(plain, sizeof plain, text);
  return tv_quantity_read(plain, strlen(plain), measure, value);
}

static void spellings(void **state) {
  (void)state;
  static const struct {
    const char *text;
    enum tv_measure measure;
    double value;
  } good[] = {{"5.5 m", TV_LENGTH, 5.5},
              {"550 cm", TV_LENGTH, 5.5},
              {"18 ft", TV_LENGTH, 5.4864},
              {"6 in", TV_LENGTH, 0.1524},
              {"5500mm", TV_LENGTH, 5.5},
              {"18'", TV_LENGTH, 5.4864},
              {"6\"", TV_LENGTH, 0.1524},
              {"10 mm2", TV_AREA, 10e-6},
              {"10 mm\xC2\xB2", TV_AREA, 10e-6},
              {"10 sq mm", TV_AREA, 10e-6},
              {"3 mohm", TV_RESISTANCE, 0.003},
              {"3 m\xCE\xA9", TV_RESISTANCE, 0.003},
              {"3 m\xE2\x84\xA6", TV_RESISTANCE, 0.003},
              {"4 ohm", TV_RESISTANCE, 4.0},
              {"4 \xCE\xA9", TV_RESISTANCE, 4.0},
              {"4 Ohm", TV_RESISTANCE, 4.0},
              {"4 mOhm", TV_RESISTANCE, 0.004},
              {"20 uohm", TV_RESISTANCE, 20e-6},
              {"20 \xC2\xB5\xCE\xA9", TV_RESISTANCE, 20e-6},
              {"25 C", TV_TEMPERATURE, 25.0},
              {"25 \xC2\xB0"
               "C",
               TV_TEMPERATURE, 25.0},
              {"77 F", TV_TEMPERATURE, 25.0},
              {"77 \xC2\xB0"
               "F",
               TV_TEMPERATURE, 25.0},
              {"-40 F", TV_TEMPERATURE, -40.0},
              {"\xE2\x88\x92"
               "18 C",
               TV_TEMPERATURE, -18.0},
              {"298.15 K", TV_TEMPERATURE, 25.0},
              {"-10 mV/C", TV_DRIFT, -0.010},
              {"-10 mV/K", TV_DRIFT, -0.010},
              {"-10 mV/\xC2\xB0"
               "C",
               TV_DRIFT, -0.010},
              {"70 Ah", TV_CHARGE, 70.0},
              {"70ah", TV_CHARGE, 70.0},
              {"110 A", TV_CURRENT, 110.0},
              {"5 mA", TV_CURRENT, 0.005},
              {"110 amps", TV_CURRENT, 110.0},
              {"0.8 kW", TV_POWER, 800.0},
              {"800 W", TV_POWER, 800.0},
              {"800 watts", TV_POWER, 800.0},
              {"800 W RMS", TV_POWER, 800.0},
              {"0.8 kW rms", TV_POWER, 800.0},
              {"800 watts RMS", TV_POWER, 800.0},
              {"3 hrs", TV_TIME, 10800.0},
              {"100 ms", TV_TIME, 0.1},
              {"2 h", TV_TIME, 7200.0},
              {"5 min", TV_TIME, 300.0},
              {"0.8 s", TV_TIME, 0.8},
              {"115 min", TV_MINUTES, 115.0},
              {"2 h", TV_MINUTES, 120.0},
              {"800 rpm", TV_SPEED, 800.0},
              {"800 r/min", TV_SPEED, 800.0},
              {"85 %", TV_SHARE, 0.85},
              {"85%", TV_SHARE, 0.85},
              {"9 dB", TV_LEVEL, 9.0},
              {"-6 db", TV_LEVEL, -6.0},
              {"45 Hz", TV_FREQUENCY, 45.0},
              {"120 /min", TV_TEMPO, 120.0},
              {"120/min", TV_TEMPO, 120.0},
              {"120 bpm", TV_TEMPO, 120.0},
              {"10 A/s", TV_RISE, 10.0},
              {"1.6 L", TV_DISPLACEMENT, 1.6},
              {"1600 cc", TV_DISPLACEMENT, 1.6},
              {"1.6l", TV_DISPLACEMENT, 1.6},
              {"1 F", TV_CAPACITANCE, 1.0},
              {"160 mF", TV_CAPACITANCE, 0.16},
              {"4700 uF", TV_CAPACITANCE, 0.0047},
              {"4700 \xC2\xB5"
               "F",
               TV_CAPACITANCE, 0.0047},
              {"2.6", TV_PLAIN, 2.6},
              {"1.8 mohm", TV_PER_METRE, 0.0018},
              {"1.8 mohm/m", TV_PER_METRE, 0.0018},
              {"5\xC2\xA0m", TV_LENGTH, 5.0},
              {"  5   m  ", TV_LENGTH, 5.0},
              {"1e-3 V", TV_VOLTAGE, 0.001}};
  for (size_t k = 0; k < sizeof good / sizeof good[0]; k++) {
    double seen = (double)NAN;
    enum tv_quantity_status status = read_plain(good[k].text, good[k].measure, &seen);
    if (status != TV_QUANTITY_OK) fail_msg("'%s' refused: %d", good[k].text, (int)status);
    if (!(fabs(seen - good[k].value) <=
          4e-16 * fabs(good[k].value) + 1e-14 * (good[k].measure == TV_TEMPERATURE ? 10 : 0)))
      fail_msg("'%s' read as %.17g, wanted %.17g", good[k].text, seen, good[k].value);
  }
}

/* Every other name that a unit goes by. */
static void unit_names(void **state) {
  (void)state;
  static const struct {
    const char *text;
    enum tv_measure measure;
    double value;
  } good[] = {{"2 volt", TV_VOLTAGE, 2},
              {"2 volts", TV_VOLTAGE, 2},
              {"2 kV", TV_VOLTAGE, 2000},
              {"2 mV", TV_VOLTAGE, 0.002},
              {"2 amp", TV_CURRENT, 2},
              {"2 ampere", TV_CURRENT, 2},
              {"2 amperes", TV_CURRENT, 2},
              {"2 kA", TV_CURRENT, 2000},
              {"2 ohms", TV_RESISTANCE, 2},
              {"2 mohms", TV_RESISTANCE, 0.002},
              {"2 milliohm", TV_RESISTANCE, 0.002},
              {"2 milliohms", TV_RESISTANCE, 0.002},
              {"2 kohm", TV_RESISTANCE, 2000},
              {"2 ohm/m", TV_PER_METRE, 2},
              {"2 ohm", TV_PER_METRE, 2},
              {"2 ohm/km", TV_PER_METRE, 0.002},
              {"3.048 mohm/ft", TV_PER_METRE, 0.01},
              {"2 farad", TV_CAPACITANCE, 2},
              {"2 farads", TV_CAPACITANCE, 2},
              {"2 mW", TV_POWER, 0.002},
              {"2 watt", TV_POWER, 2},
              {"2 us", TV_TIME, 2e-6},
              {"2 sec", TV_TIME, 2},
              {"2 second", TV_TIME, 2},
              {"2 seconds", TV_TIME, 2},
              {"2 minute", TV_TIME, 120},
              {"2 minutes", TV_TIME, 120},
              {"2 hour", TV_TIME, 7200},
              {"2 hours", TV_TIME, 7200},
              {"2 minute", TV_MINUTES, 2},
              {"2 minutes", TV_MINUTES, 2},
              {"2 hours", TV_MINUTES, 120},
              {"120 s", TV_MINUTES, 2},
              {"1 foot", TV_LENGTH, 0.3048},
              {"2 feet", TV_LENGTH, 0.6096},
              {"1 inch", TV_LENGTH, 0.0254},
              {"2 inches", TV_LENGTH, 0.0508},
              {"2 metre", TV_LENGTH, 2},
              {"2 metres", TV_LENGTH, 2},
              {"2 meter", TV_LENGTH, 2},
              {"2 meters", TV_LENGTH, 2},
              {"2 mm^2", TV_AREA, 2e-6},
              {"2 sqmm", TV_AREA, 2e-6},
              {"2 deg C", TV_TEMPERATURE, 2},
              {"2 celsius", TV_TEMPERATURE, 2},
              {"32 deg F", TV_TEMPERATURE, 0},
              {"32 fahrenheit", TV_TEMPERATURE, 0},
              {"500 mAh", TV_CHARGE, 0.5},
              {"2 A h", TV_CHARGE, 2},
              {"2 /min", TV_SPEED, 2},
              {"2 1/min", TV_SPEED, 2},
              {"2 rev/min", TV_SPEED, 2},
              {"50 percent", TV_SHARE, 0.5},
              {"2 kHz", TV_FREQUENCY, 2000},
              {"2 beats/min", TV_TEMPO, 2},
              {"2 1/min", TV_TEMPO, 2},
              {"2 per minute", TV_TEMPO, 2},
              {"2 a minute", TV_TEMPO, 2},
              {"2 V/K", TV_DRIFT, 2},
              {"2 V/C", TV_DRIFT, 2},
              {"-5 mV/F", TV_DRIFT, -0.009},
              {"2 l", TV_DISPLACEMENT, 2},
              {"2 litre", TV_DISPLACEMENT, 2},
              {"2 litres", TV_DISPLACEMENT, 2},
              {"2 liter", TV_DISPLACEMENT, 2},
              {"2 liters", TV_DISPLACEMENT, 2},
              {"2000 cm3", TV_DISPLACEMENT, 2},
              {"2000 ccm", TV_DISPLACEMENT, 2}};
  for (size_t k = 0; k < sizeof good / sizeof good[0]; k++) {
    double seen = (double)NAN;
    if (read_plain(good[k].text, good[k].measure, &seen) != TV_QUANTITY_OK)
      fail_msg("'%s' refused", good[k].text);
    if (!(fabs(seen - good[k].value) <= 1e-15 * fabs(good[k].value) + 1e-14 * (good[k].value == 0)))
      fail_msg("'%s' read as %.17g, wanted %.17g", good[k].text, seen, good[k].value);
  }
}

static void refusals(void **state) {
  (void)state;
  static const struct {
    const char *text;
    enum tv_measure measure;
    enum tv_quantity_status status;
  } bad[] = {{"", TV_LENGTH, TV_QUANTITY_EMPTY},
             {"   ", TV_LENGTH, TV_QUANTITY_EMPTY},
             {"m", TV_LENGTH, TV_QUANTITY_NO_NUMBER},
             {"5", TV_LENGTH, TV_QUANTITY_NO_UNIT},
             {"5,5 m", TV_LENGTH, TV_QUANTITY_COMMA},
             {"5,5", TV_LENGTH, TV_QUANTITY_COMMA},
             {"5.5 A", TV_LENGTH, TV_QUANTITY_BAD_UNIT},
             {"5.5 m m", TV_LENGTH, TV_QUANTITY_BAD_UNIT},
             {"nan m", TV_LENGTH, TV_QUANTITY_NO_NUMBER},
             {"inf m", TV_LENGTH, TV_QUANTITY_NO_NUMBER},
             {"1e999 m", TV_LENGTH, TV_QUANTITY_NO_NUMBER},
             {"0x10 m", TV_LENGTH, TV_QUANTITY_BAD_UNIT},
             {"1e308 kV", TV_VOLTAGE, TV_QUANTITY_NO_NUMBER},
             {"5 Mohm", TV_RESISTANCE, TV_QUANTITY_BAD_UNIT},
             {"5 MV", TV_VOLTAGE, TV_QUANTITY_BAD_UNIT},
             {"5 MA", TV_CURRENT, TV_QUANTITY_BAD_UNIT},
             {"2.6 x", TV_PLAIN, TV_QUANTITY_BAD_UNIT},
             {"70 A", TV_CHARGE, TV_QUANTITY_BAD_UNIT},
             {"1,000.5 m", TV_LENGTH, TV_QUANTITY_COMMA},
             {"5 m2", TV_LENGTH, TV_QUANTITY_BAD_UNIT}};
  for (size_t k = 0; k < sizeof bad / sizeof bad[0]; k++) {
    double seen = 77.0;
    enum tv_quantity_status status = read_plain(bad[k].text, bad[k].measure, &seen);
    if (status != bad[k].status || seen != 77.0) fail_msg("'%s' gave %d", bad[k].text, (int)status);
  }
}

static void shown_back(void **state) {
  (void)state;
  static const struct {
    double value;
    enum tv_measure measure;
    const char *text;
  } shown[] = {{0.005, TV_RESISTANCE, "5 mohm"}, {0.1, TV_TIME, "100 ms"},
               {7200.0, TV_TIME, "2 h"},         {0.0, TV_TIME, "0 s"},
               {0.16, TV_CAPACITANCE, "0.16 F"}, {0.004, TV_CAPACITANCE, "4 mF"},
               {0.5, TV_LENGTH, "0.5 m"},        {0.03, TV_LENGTH, "3 cm"},
               {-0.010, TV_DRIFT, "-10 mV/K"},   {0.85, TV_SHARE, "85 %"},
               {35.0, TV_CURRENT, "35 A"},       {0.005, TV_CURRENT, "5 mA"},
               {800.0, TV_POWER, "800 W"},       {1500.0, TV_POWER, "1500 W"},
               {25e-6, TV_AREA, "25 mm2"},       {-18.0, TV_TEMPERATURE, "-18 C"},
               {0.5, TV_TEMPERATURE, "0.5 C"},   {120.0, TV_TEMPO, "120 /min"},
               {2.6, TV_PLAIN, "2.6"},           {14.2, TV_VOLTAGE, "14.2 V"},
               {117.7, TV_MINUTES, "117.7 min"}, {0.0, TV_DRIFT, "0 mV/K"}};
  for (size_t k = 0; k < sizeof shown / sizeof shown[0]; k++) {
    char text[64];
    tv_quantity_write(text, sizeof text, shown[k].value, shown[k].measure, false);
    assert_string_equal(text, shown[k].text);
  }
}

/* What is written exactly reads back to the same bits. */
static void round_trip(void **state) {
  (void)state;
  unsigned long long s = 2463534242ULL;
  for (int measure = 0; measure < TV_MEASURES; measure++) {
    for (int k = 0; k < 2000; k++) {
      s ^= s << 13;
      s ^= s >> 7;
      s ^= s << 17;
      double value = ldexp((double)(s >> 11), -53) * pow(10.0, (double)(s % 9) - 4.0), seen = (double)NAN;
      char text[64];
      tv_quantity_write(text, sizeof text, value, (enum tv_measure)measure, true);
      assert_int_equal(tv_quantity_read(text, strlen(text), (enum tv_measure)measure, &seen), TV_QUANTITY_OK);
      if (!(fabs(seen - value) <= 3e-16 * fabs(value)))
        fail_msg("%s: %.17g, wanted %.17g", text, seen, value);
    }
  }
}

static void gauges(void **state) {
  (void)state;
  static const struct {
    const char *text;
    int awg;
    const char *shown;
  } good[] = {{"8 AWG", 8, "8 AWG"},      {"4 ga", 4, "4 AWG"},      {"4ga", 4, "4 AWG"},
              {"0 gauge", 0, "1/0 AWG"},  {"1/0 AWG", 0, "1/0 AWG"}, {"2/0", -1, "2/0 AWG"},
              {"4/0 awg", -3, "4/0 AWG"}, {"00 AWG", -1, "2/0 AWG"}, {"0000", -3, "4/0 AWG"},
              {"16AWG", 16, "16 AWG"}};
  static const char *const bad[] = {"8",      "0",       "8 mm2",   "AWG",    "5/0 AWG", "0/0 AWG",
                                    "08 AWG", "100 AWG", "8.5 AWG", "-8 AWG", "1/00 AWG"};
  for (size_t k = 0; k < sizeof good / sizeof good[0]; k++) {
    int awg = 99;
    char shown[16];
    if (!tv_gauge_read(good[k].text, &awg) || awg != good[k].awg) fail_msg("'%s' gave %d", good[k].text, awg);
    tv_gauge_write(shown, sizeof shown, awg);
    assert_string_equal(shown, good[k].shown);
  }
  for (size_t k = 0; k < sizeof bad / sizeof bad[0]; k++) {
    int awg = 99;
    if (tv_gauge_read(bad[k], &awg)) fail_msg("'%s' taken as %d", bad[k], awg);
  }
}

/* A German locale made here, where the tools to make one are available. */
static bool set_comma_locale(void) {
  static char folder[] = "/tmp/tailvolt-locale-XXXXXX";
  if (setlocale(LC_ALL, "de_DE.UTF-8") != NULL) return true;
  if (mkdtemp(folder) == NULL) return false;
  char command[256];
  snprintf(command, sizeof command, "localedef -f UTF-8 -i de_DE %s/de_DE.UTF-8 >/dev/null 2>&1", folder);
  bool made =
      system(command) == 0 && setenv("LOCPATH", folder, 1) == 0 && setlocale(LC_ALL, "de_DE.UTF-8") != NULL;
  snprintf(command, sizeof command, "rm -r %s", folder);
  if (system(command) != 0) print_message("could not remove %s\n", folder);
  return made;
}

static void any_locale(void **state) {
  (void)state;
  if (!set_comma_locale()) {
    print_message("no locale with a decimal comma here\n");
    skip();
  }
  double seen = 0.0;
  char text[64], comma[16];
  snprintf(comma, sizeof comma, "%.1f", 1.5);
  assert_string_equal(comma, "1,5");
  assert_int_equal(read_plain("14.25 V", TV_VOLTAGE, &seen), TV_QUANTITY_OK);
  assert_true(seen == 14.25);
  assert_int_equal(read_plain("14.250000000000000000001 V", TV_VOLTAGE, &seen), TV_QUANTITY_OK);
  assert_true(seen == 14.25);
  assert_int_equal(read_plain("14,25 V", TV_VOLTAGE, &seen), TV_QUANTITY_COMMA);
  tv_quantity_write(text, sizeof text, 14.25, TV_VOLTAGE, false);
  assert_string_equal(text, "14.25 V");
  setlocale(LC_ALL, "C");
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(spellings),  cmocka_unit_test(unit_names),
                                     cmocka_unit_test(refusals),   cmocka_unit_test(shown_back),
                                     cmocka_unit_test(round_trip), cmocka_unit_test(gauges),
                                     cmocka_unit_test(any_locale)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
