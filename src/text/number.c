#include "text/number.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* printf writes the locale's decimal point, which may be several bytes long: whatever is neither
 * digit, sign nor exponent becomes a point. */
static void force_point(char *text) {
  char *to = text;
  bool in_point = false;
  for (const char *from = text; *from != '\0'; from++) {
    bool plain = (*from >= '0' && *from <= '9') || *from == '-' || *from == '+' || *from == 'e';
    if (plain) *to++ = *from;
    else if (!in_point) *to++ = '.';
    in_point = !plain;
  }
  *to = '\0';
}

static struct tv_number nothing(void) { return (struct tv_number){"-"}; }

static void drop_sign_of_zero(char *text) {
  if (text[0] == '-' && strpbrk(text, "123456789") == NULL) memmove(text, text + 1, strlen(text));
}

struct tv_number tv_fixed(double value, int digits) {
  struct tv_number number;
  if (!isfinite(value)) return nothing();
  if (fabs(value) >= 1e15) return tv_shortest(value);
  snprintf(number.text, sizeof number.text, "%.*f", digits, value);
  force_point(number.text);
  drop_sign_of_zero(number.text);
  return number;
}

struct tv_number tv_shortest(double value) {
  struct tv_number number;
  if (!isfinite(value)) return nothing();
  for (int digits = 15; digits <= 17; digits++) {
    snprintf(number.text, sizeof number.text, "%.*g", digits, value);
    if (!(strtod(number.text, NULL) != value)) break;
  }
  force_point(number.text);
  return number;
}

struct tv_number tv_significant(double value, int digits) {
  struct tv_number number;
  if (!isfinite(value)) {
    snprintf(number.text, sizeof number.text, "%s", isnan(value) ? "nan" : value > 0 ? "inf" : "-inf");
    return number;
  }
  if (digits < 1) digits = 1;
  if (digits > 17) digits = 17;
  snprintf(number.text, sizeof number.text, "%.*g", digits, value);
  if (strchr(number.text, 'e') != NULL && fabs(value) >= 1e-4 && fabs(value) < 1e15)
    snprintf(number.text, sizeof number.text, "%.0f", value); /* all digits before the point */
  force_point(number.text);
  return number;
}

struct tv_number tv_scientific(double value) {
  struct tv_number number;
  if (!isfinite(value)) return nothing();
  snprintf(number.text, sizeof number.text, "%.1e", value);
  force_point(number.text);
  return number;
}

struct tv_number tv_compact(double value, int digits) {
  struct tv_number number = tv_fixed(value, digits);
  if (strchr(number.text, '.') == NULL || strchr(number.text, 'e') != NULL) return number;
  size_t length = strlen(number.text);
  while (number.text[length - 1] == '0') length--;
  if (number.text[length - 1] == '.') length--;
  number.text[length] = '\0';
  return number;
}

size_t tv_micro(char to[TV_MICRO_MAX], double value) {
  if (!isfinite(value)) return 0;
  if (fabs(value) >= 1e9) {
    struct tv_number number = tv_shortest(value);
    size_t long_length = strlen(number.text);
    memcpy(to, number.text, long_length);
    return long_length;
  }
  /* printf is several times slower, and a record may hold a hundred million cells */
  long long micro = llround(value * 1e6);
  unsigned long long left = (unsigned long long)(micro < 0 ? -micro : micro);
  unsigned long long whole = left / 1000000u, part = left % 1000000u;
  char backwards[TV_MICRO_MAX];
  size_t count = 0, length = 0;
  if (part > 0) {
    int digits = 6;
    for (; part % 10u == 0; part /= 10u) digits--;
    for (; digits > 0; digits--, part /= 10u) backwards[count++] = (char)('0' + part % 10u);
    backwards[count++] = '.';
  }
  do backwards[count++] = (char)('0' + whole % 10u);
  while ((whole /= 10u) > 0);
  if (micro < 0) to[length++] = '-';
  while (count > 0) to[length++] = backwards[--count];
  return length;
}

static struct tv_number with_unit(double value, int digits, const char *unit) {
  struct tv_number plain = tv_fixed(value, digits), number;
  snprintf(number.text, sizeof number.text, "%.28s%s", plain.text, unit);
  return number;
}

struct tv_number tv_amperes(double value_a) {
  return with_unit(value_a, fabs(value_a) < 9.95 ? 1 : 0, " A");
}

struct tv_number tv_volts_beside(double value_v, double beside_v) {
  bool alike = isfinite(beside_v) && fabs(value_v - beside_v) < 0.1 && fabs(value_v - beside_v) > 0.0;
  return with_unit(value_v, alike ? 2 : 1, " V");
}

struct tv_number tv_percent(double value_pct) {
  double size = fabs(value_pct);
  if (size > 0.0 && size < 0.005) return (struct tv_number){"under 0.01 %"};
  return with_unit(value_pct, size >= 9.95 || !(size > 0.0) ? 0 : size >= 0.095 ? 1 : 2, " %");
}

struct tv_number tv_clock(double time_s) {
  struct tv_number number;
  if (!isfinite(time_s) || fabs(time_s) > 1e12) return nothing();
  /* times are rounded down to the second or tenth; the nudge keeps 0.3 from reading 0.2 */
  long long tenths = (long long)floor(fabs(time_s) * 10.0 + 1e-6), whole = tenths / 10;
  const char *sign = time_s < 0.0 && tenths > 0 ? "-" : "";
  if (whole < 60)
    snprintf(number.text, sizeof number.text, "%s0:%02lld.%lld", sign, whole, tenths % 10);
  else if (whole < 3600)
    snprintf(number.text, sizeof number.text, "%s%lld:%02lld", sign, whole / 60, whole % 60);
  else
    snprintf(number.text, sizeof number.text, "%s%lld:%02lld:%02lld", sign, whole / 3600,
             whole / 60 % 60, whole % 60);
  return number;
}

struct tv_number tv_duration(double time_s) {
  double size = fabs(time_s);
  if (size < 9.95) return with_unit(time_s, 1, " s");
  if (size < 99.5) return with_unit(time_s, 0, " s");
  if (size < 3570.0) return with_unit(time_s / 60.0, size < 597.0 ? 1 : 0, " min");
  if (size < 172800.0) return with_unit(time_s / 3600.0, size < 35820.0 ? 1 : 0, " h");
  return with_unit(time_s / 86400.0, size < 864000.0 ? 1 : 0, " days");
}

struct tv_number tv_degrees(double value_c, bool us_units) {
  return tv_fixed(us_units ? value_c * 1.8 + 32.0 : value_c, 0);
}

struct tv_number tv_playing_time(double time_s) {
  struct tv_number out;
  if (!isfinite(time_s)) {
    snprintf(out.text, sizeof out.text, "-");
  } else if (time_s < 120) {
    snprintf(out.text, sizeof out.text, "%.20s s", tv_compact(time_s, time_s < 10 ? 1 : 0).text);
  } else {
    long minutes = lround(time_s / 60);
    if (minutes < 60)
      snprintf(out.text, sizeof out.text, "%ld min", minutes);
    else if (minutes % 60 == 0)
      snprintf(out.text, sizeof out.text, "%ld h", minutes / 60);
    else
      snprintf(out.text, sizeof out.text, "%ld h %02ld min", minutes / 60, minutes % 60);
  }
  return out;
}

struct tv_number tv_temperature(double value_c, bool us_units) {
  return with_unit(us_units ? value_c * 1.8 + 32.0 : value_c, 0, us_units ? " F" : " C");
}

struct tv_number tv_length(double value_m, bool us_units) {
  if (us_units) {
    if (value_m < 0.9144) return with_unit(value_m / 0.0254, 0, " in");
    return with_unit(value_m / 0.3048, 1, " ft");
  }
  if (value_m < 0.9995) return with_unit(value_m * 100.0, 0, " cm");
  return with_unit(value_m, 1, " m");
}

/* Nearest gauge by the ratio of areas: ASTM B258, area of gauge n is (0.127 mm x 92^((36-n)/39))^2 pi/4. */
static struct tv_number gauge(double area_m2) {
  struct tv_number number;
  double diameter_mm = sqrt(area_m2 * 1e6 * 4.0 / 3.14159265358979323846);
  long n = lround(36.0 - 39.0 * log(diameter_mm / 0.127) / log(92.0));
  if (n > 0) snprintf(number.text, sizeof number.text, "%ld AWG", n);
  else snprintf(number.text, sizeof number.text, "%ld/0 AWG", 1 - n);
  return number;
}

struct tv_number tv_size(double area_m2, bool us_units) {
  if (!(area_m2 > 0.0) || !isfinite(area_m2)) return nothing();
  if (us_units) return gauge(area_m2);
  struct tv_number plain = tv_compact(area_m2 * 1e6, area_m2 < 9.95e-6 ? 2 : 1), number;
  snprintf(number.text, sizeof number.text, "%.28s mm2", plain.text);
  return number;
}
