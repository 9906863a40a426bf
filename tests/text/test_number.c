/* Numbers as text: digits, signs, units, and the C locale under any other. */
#include "support/assert_near.h"

#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "text/number.h"

static void test_fixed(void **state) {
  (void)state;
  assert_string_equal(tv_fixed(12.3456, 2).text, "12.35");
  assert_string_equal(tv_fixed(-0.001, 2).text, "0.00"); /* zero has no sign */
  assert_string_equal(tv_fixed(-0.006, 2).text, "-0.01");
  assert_string_equal(tv_fixed(7.0, 0).text, "7");
  assert_string_equal(tv_fixed((double)NAN, 2).text, "-");
  assert_string_equal(tv_fixed((double)INFINITY, 2).text, "-");
  assert_string_equal(tv_fixed(1e300, 2).text, "1e+300");
  assert_string_equal(tv_compact(12.5, 3).text, "12.5");
  assert_string_equal(tv_compact(800.0, 1).text, "800");
  assert_string_equal(tv_compact(0.0, 3).text, "0");
  assert_string_equal(tv_scientific(1.26e-9).text, "1.3e-09");
}

static void test_shortest(void **state) {
  (void)state;
  assert_string_equal(tv_shortest(0.1).text, "0.1");
  assert_string_equal(tv_shortest(1.0 / 3.0).text, "0.3333333333333333");
  assert_string_equal(tv_shortest(5e-324).text, "4.94065645841247e-324");
  /* every double reads back as itself; the generator is Marsaglia's xorshift64 (2003) */
  unsigned long long bits = 88172645463325252ull;
  for (int k = 0; k < 100000; k++) {
    double value;
    bits ^= bits << 13;
    bits ^= bits >> 7;
    bits ^= bits << 17;
    memcpy(&value, &bits, sizeof value);
    if (!isfinite(value)) continue;
    double back = strtod(tv_shortest(value).text, NULL);
    assert_memory_equal(&back, &value, sizeof value);
  }
}

static const char *micro(double value, char *to) {
  to[tv_micro(to, value)] = '\0';
  return to;
}

static void test_micro(void **state) {
  (void)state;
  char text[TV_MICRO_MAX + 1];
  assert_string_equal(micro(12.25, text), "12.25");
  assert_string_equal(micro(-0.000001, text), "-0.000001");
  assert_string_equal(micro(-0.0000001, text), "0");
  assert_string_equal(micro(0.123456789, text), "0.123457");
  assert_string_equal(micro(600.0, text), "600");
  assert_string_equal(micro(1000000.05, text), "1000000.05");
  assert_string_equal(micro((double)NAN, text), "");
  assert_string_equal(micro(-2.5e12, text), "-2500000000000");
  unsigned seed = 1;
  for (int k = 0; k < 100000; k++) {
    seed = seed * 1664525u + 1013904223u;
    double value = ((double)seed / 4294967296.0 - 0.5) * 400.0;
    assert_near(strtod(micro(value, text), NULL), value, 0.5000001e-6);
  }
}

static void test_units(void **state) {
  (void)state;
  assert_string_equal(tv_amperes(58.4).text, "58 A");
  assert_string_equal(tv_amperes(4.25).text, "4.2 A");
  assert_string_equal(tv_volts_beside(10.93, 12.0).text, "10.9 V");
  assert_string_equal(tv_volts_beside(11.96, 12.0).text, "11.96 V"); /* not "12.0 V, wanted 12.0 V" */
  assert_string_equal(tv_percent(31.2).text, "31 %");
  assert_string_equal(tv_percent(0.4).text, "0.4 %");
  assert_string_equal(tv_percent(0.04).text, "0.04 %");
  assert_string_equal(tv_percent(0.001).text, "under 0.01 %");
  assert_string_equal(tv_percent(0.0).text, "0 %");
  assert_string_equal(tv_clock(252.0).text, "4:12");
  assert_string_equal(tv_clock(59.97).text, "0:59.9");
  assert_string_equal(tv_clock(12.34).text, "0:12.3");
  assert_string_equal(tv_clock(0.3).text, "0:00.3");
  assert_string_equal(tv_clock(189.97).text, "3:09");
  assert_string_equal(tv_clock(3852.0).text, "1:04:12");
  assert_string_equal(tv_clock(-90.0).text, "-1:30");
  assert_string_equal(tv_duration(7560.0).text, "2.1 h");
  assert_string_equal(tv_duration(600.0).text, "10 min");
  assert_string_equal(tv_duration(172800.0 * 2.1).text, "4.2 days");
  assert_string_equal(tv_length(0.3, false).text, "30 cm");
  assert_string_equal(tv_length(5.5, false).text, "5.5 m");
  assert_string_equal(tv_length(5.4864, true).text, "18.0 ft");
  assert_string_equal(tv_length(0.3048, true).text, "12 in");
  assert_string_equal(tv_temperature(85.0, true).text, "185 F");
  assert_string_equal(tv_temperature(85.0, false).text, "85 C");
}

/* Areas of the AWG sizes: ASTM B258, the formula's values from memory. */
static void test_sizes(void **state) {
  (void)state;
  assert_string_equal(tv_size(8.366e-6, true).text, "8 AWG");
  assert_string_equal(tv_size(8.366e-6 / 1.02, true).text, "8 AWG"); /* stranded */
  assert_string_equal(tv_size(21.151e-6, true).text, "4 AWG");
  assert_string_equal(tv_size(53.475e-6, true).text, "1/0 AWG");
  assert_string_equal(tv_size(107.219e-6, true).text, "4/0 AWG");
  assert_string_equal(tv_size(25e-6, true).text, "3 AWG");
  assert_string_equal(tv_size(25e-6, false).text, "25 mm2");
  assert_string_equal(tv_size(0.0, false).text, "-");
}

/* A locale with a decimal comma, made for this test where the system can. */
static void test_locale(void **state) {
  (void)state;
  char folder[] = "/tmp/tailvolt-locale-XXXXXX", command[256];
  assert_non_null(mkdtemp(folder));
  snprintf(command, sizeof command, "localedef -i de_DE -f UTF-8 %s/de_DE.UTF-8 >/dev/null 2>&1", folder);
  bool made = system(command) == 0;
  setenv("LOCPATH", folder, 1);
  bool set = made && setlocale(LC_ALL, "de_DE.UTF-8") != NULL;
  char plain[16] = "", text[TV_MICRO_MAX + 1];
  if (set) snprintf(plain, sizeof plain, "%.1f", 0.5);
  struct tv_number fixed = tv_fixed(12.5, 1), shortest = tv_shortest(-1.25e-300),
                   volts = tv_volts_beside(1.5, 9.0);
  micro(3.5, text);
  setlocale(LC_ALL, "C");
  snprintf(command, sizeof command, "rm -r %s", folder);
  assert_int_equal(system(command), 0);
  if (!set) {
    print_message("no locale with a decimal comma can be made here\n");
    skip();
  }
  assert_string_equal(plain, "0,5");
  assert_string_equal(fixed.text, "12.5");
  assert_string_equal(shortest.text, "-1.25e-300");
  assert_string_equal(volts.text, "1.5 V");
  assert_string_equal(text, "3.5");
}

static void significant(void **state) {
  (void)state;
  assert_string_equal(tv_significant(117.672182113, 4).text, "117.7");
  assert_string_equal(tv_significant(100, 1).text, "100");
  assert_string_equal(tv_significant(1234567, 4).text, "1234567");
  assert_string_equal(tv_significant(0.00016, 3).text, "0.00016");
  assert_string_equal(tv_significant(0.00001234567, 3).text, "1.23e-05");
  assert_string_equal(tv_significant(-2.5, 0).text, "-2");
  assert_string_equal(tv_significant(0.1, 17).text, "0.10000000000000001");
  assert_string_equal(tv_significant((double)NAN, 4).text, "nan");
  assert_string_equal(tv_significant(-(double)INFINITY, 4).text, "-inf");
}

static void test_playing_time(void **state) {
  (void)state;
  assert_string_equal(tv_playing_time(4.25).text, "4.2 s");
  assert_string_equal(tv_playing_time(119.0).text, "119 s");
  assert_string_equal(tv_playing_time(3569.0).text, "59 min");
  assert_string_equal(tv_playing_time(3571.0).text, "1 h");
  assert_string_equal(tv_playing_time(11100.0).text, "3 h 05 min");
  assert_string_equal(tv_playing_time((double)NAN).text, "-");
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_playing_time), cmocka_unit_test(significant),

                                     cmocka_unit_test(test_fixed),        cmocka_unit_test(test_shortest),
                                     cmocka_unit_test(test_micro),        cmocka_unit_test(test_units),
                                     cmocka_unit_test(test_sizes),        cmocka_unit_test(test_locale)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
