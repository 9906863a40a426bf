/* Decimal numbers, whatever the locale of the host program.
 *
 * Most numbers in files are short: an integer below 2^53 multiplied or divided by a power of ten up to 10^22
 * takes one correctly rounded operation on exact operands. All others go to the C library in its own C
 * locale. */
#ifndef _GNU_SOURCE
#define _GNU_SOURCE /* strtod_l */
#endif
#include "text/read_number.h"

#include <locale.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { LONGEST = 400, EXPONENT_LIMIT = 100000 };

struct scanned {
  size_t used; /* characters, 0 = no number here */
  bool negative;
  bool exact; /* mantissa holds every digit */
  uint64_t mantissa;
  int exponent10;
};

static bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

/* One digit of the mantissa; once it is full, further digits leave the exact path. */
static void take_digit(struct scanned *s, char c, bool after_point) {
  if (s->mantissa < UINT64_C(900719925474099200)) {
    s->mantissa = s->mantissa * 10 + (uint64_t)(c - '0');
    if (after_point) s->exponent10--;
  } else {
    s->exact = false;
  }
}

static struct scanned scan(const char *text, size_t length) {
  struct scanned s = {.exact = true};
  size_t k = 0, digits = 0;
  if (k < length && (text[k] == '-' || text[k] == '+')) s.negative = text[k++] == '-';
  for (; k < length && is_digit(text[k]); k++, digits++) take_digit(&s, text[k], false);
  if (k < length && text[k] == '.') {
    size_t point = k++;
    for (; k < length && is_digit(text[k]); k++, digits++) take_digit(&s, text[k], true);
    if (digits == 0) k = point;
  }
  if (digits == 0) return s;
  s.used = k;
  if (k < length && (text[k] == 'e' || text[k] == 'E')) {
    bool minus = false;
    int exponent = 0;
    k++;
    if (k < length && (text[k] == '-' || text[k] == '+')) minus = text[k++] == '-';
    if (k >= length || !is_digit(text[k])) return s;
    for (; k < length && is_digit(text[k]); k++)
      if (exponent < EXPONENT_LIMIT) exponent = exponent * 10 + (text[k] - '0');
    s.exponent10 += minus ? -exponent : exponent;
    s.used = k;
  }
  return s;
}

static bool convert_slowly(const char *text, size_t length, double *value) {
  char copy[LONGEST + 1];
  if (length > LONGEST) return false;
  memcpy(copy, text, length);
  copy[length] = '\0';
  locale_t c_locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
  if (c_locale == (locale_t)0) return false;
  char *end = NULL;
  double result = strtod_l(copy, &end, c_locale);
  freelocale(c_locale);
  if (end != copy + length || !isfinite(result)) return false;
  *value = result;
  return true;
}

static bool convert(const char *text, const struct scanned *s, double *value) {
  static const double power[23] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                   1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
  if (s->exact && s->mantissa < (UINT64_C(1) << 53) && s->exponent10 >= -22 && s->exponent10 <= 22) {
    double result = (double)s->mantissa;
    result = s->exponent10 < 0 ? result / power[-s->exponent10] : result * power[s->exponent10];
    *value = s->negative ? -result : result;
    return true;
  }
  return convert_slowly(text, s->used, value);
}

bool tv_parse_number(const char *text, size_t length, double *value) {
  struct scanned s = scan(text, length);
  return s.used > 0 && s.used == length && convert(text, &s, value);
}

size_t tv_parse_leading_number(const char *text, size_t length, double *value) {
  struct scanned s = scan(text, length);
  return s.used > 0 && convert(text, &s, value) ? s.used : 0;
}
