/* Reading numbers: every accepted and refused form, exact rounding, independence of the locale. */
#include "text/read_number.h"

#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"

static void accepts(void **state) {
  (void)state;
  static const struct {
    const char *text;
    double value;
  } good[] = {
      {"0", 0.0},
      {"-0", -0.0},
      {"5", 5.0},
      {"+5", 5.0},
      {"-1.5e3", -1500.0},
      {".5", 0.5},
      {"5.", 5.0},
      {"1E-3", 0.001},
      {"0.1", 0.1},
      {"1e22", 1e22},
      {"1e23", 1e23},
      {"9007199254740993", 9007199254740992.0},
      {"123456789012345678901234567890", 123456789012345678901234567890.0},
      {"0.000000000000000000000000000001", 1e-30},
      {"5e-324", 5e-324},
      {"1e-400", 0.0},
      {"1.7976931348623157e308", 1.7976931348623157e308},
      {"000012.50", 12.5},
      {"2.2250738585072011e-308", 2.2250738585072011e-308},
      {"0.30000000000000004", 0.1 + 0.2},
  };
  for (size_t k = 0; k < sizeof good / sizeof good[0]; k++) {
    double seen = (double)NAN;
    if (!tv_parse_number(good[k].text, strlen(good[k].text), &seen)) fail_msg("refused %s", good[k].text);
    if (memcmp(&seen, &good[k].value, sizeof seen) != 0)
      fail_msg("%s read as %.17g, wanted %.17g", good[k].text, seen, good[k].value);
  }
}

static void refuses(void **state) {
  (void)state;
  static const char *const bad[] = {"",      "-",        "+",     ".",      "e5",    "1e",       "1e+",
                                    "1,5",   "1 ",       " 1",    "0x10",   "nan",   "inf",      "NaN",
                                    "-inf",  "infinity", "1e309", "-1e400", "1.2.3", "--1",      "1_000",
                                    "1'000", "1d5",      "1f",    "0b1",    "1e5.0", "\302\2401"};
  for (size_t k = 0; k < sizeof bad / sizeof bad[0]; k++) {
    double seen = 77.0;
    if (tv_parse_number(bad[k], strlen(bad[k]), &seen)) fail_msg("took '%s' as %g", bad[k], seen);
    assert_true(seen == 77.0);
  }
  char many[500];
  memset(many, '1', sizeof many);
  double seen = 0.0;
  assert_false(tv_parse_number(many, sizeof many, &seen));
}

static void leading(void **state) {
  (void)state;
  double seen = 0.0;
  assert_int_equal(tv_parse_leading_number("5.5 m", 5, &seen), 3);
  assert_true(seen == 5.5);
  assert_int_equal(tv_parse_leading_number("4ga", 3, &seen), 1);
  assert_int_equal(tv_parse_leading_number("1/0 AWG", 7, &seen), 1);
  assert_int_equal(tv_parse_leading_number("5e", 2, &seen), 1);
  assert_int_equal(tv_parse_leading_number("0x10", 4, &seen), 1);
  assert_int_equal(tv_parse_leading_number("m", 1, &seen), 0);
  /* only the span counts, never what follows it */
  assert_int_equal(tv_parse_leading_number("1234", 2, &seen), 2);
  assert_true(seen == 12.0);
  assert_true(tv_parse_number("1234", 3, &seen) && seen == 123.0);
}

/* The C library's own conversion in the C locale is the reference: 200 000 random decimals. */
static void rounds_like_the_c_library(void **state) {
  (void)state;
  unsigned long long s = 88172645463325252ULL;
  for (int k = 0; k < 200000; k++) {
    s ^= s << 13;
    s ^= s >> 7;
    s ^= s << 17;
    char text[64];
    int places = (int)(s % 9), shift = (int)((s >> 8) % 60) - 30;
    unsigned long long whole = s >> (unsigned)((s >> 20) % 50 + 5);
    snprintf(text, sizeof text, "%s%llu.%0*llue%d", s & 1u ? "-" : "", whole, places + 1, (s >> 40) % 1000u,
             shift);
    double seen = 0.0, wanted = strtod(text, NULL);
    assert_true(tv_parse_number(text, strlen(text), &seen));
    if (memcmp(&seen, &wanted, sizeof seen) != 0) fail_msg("%s: %.17g, wanted %.17g", text, seen, wanted);
  }
}

static void any_locale(void **state) {
  (void)state;
  static const char *const names[] = {"de_DE.UTF-8", "de_DE.utf8", "de_DE", "fr_FR.UTF-8", "C.UTF-8"};
  const char *taken = NULL;
  for (size_t k = 0; k < sizeof names / sizeof names[0] && taken == NULL; k++)
    taken = setlocale(LC_ALL, names[k]);
  print_message("locale %s, decimal point '%s'\n", taken == NULL ? "C" : taken, localeconv()->decimal_point);
  double seen = 0.0;
  assert_true(tv_parse_number("1.25", 4, &seen) && seen == 1.25);
  assert_true(tv_parse_number("12345678901234567890.5", 22, &seen) && seen == 12345678901234567890.5);
  assert_false(tv_parse_number("1,25", 4, &seen));
  setlocale(LC_ALL, "C");
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(accepts), cmocka_unit_test(refuses),
                                     cmocka_unit_test(leading), cmocka_unit_test(rounds_like_the_c_library),
                                     cmocka_unit_test(any_locale)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
