/* Values with units: one table of units, each an exact factor to the unit used inside. */
#include "input/quantity.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text/number.h"
#include "text/read_number.h"
#include "text/text.h"

struct unit {
  enum tv_measure measure;
  const char *name;
  double
      factor; /* internal value = (number + offset) * factor, or * 1/-factor where negative: exact division */
  double offset;
  bool shown; /* a unit this program writes */
};

/* A negative factor divides: 3 mm is 3/1000, the double nearest to 0.003; 3 * 0.001 is not. */
static const struct unit units[] = {
    {TV_VOLTAGE, "V", 1, 0, true},
    {TV_VOLTAGE, "mV", -1000, 0, true},
    {TV_VOLTAGE, "volt", 1, 0, false},
    {TV_VOLTAGE, "volts", 1, 0, false},
    {TV_VOLTAGE, "kV", 1000, 0, false},
    {TV_CURRENT, "A", 1, 0, true},
    {TV_CURRENT, "mA", -1000, 0, true},
    {TV_CURRENT, "amp", 1, 0, false},
    {TV_CURRENT, "amps", 1, 0, false},
    {TV_CURRENT, "ampere", 1, 0, false},
    {TV_CURRENT, "amperes", 1, 0, false},
    {TV_CURRENT, "kA", 1000, 0, false},
    {TV_RESISTANCE, "ohm", 1, 0, true},
    {TV_RESISTANCE, "mohm", -1000, 0, true},
    {TV_RESISTANCE, "uohm", -1e6, 0, true},
    {TV_RESISTANCE, "ohms", 1, 0, false},
    {TV_RESISTANCE, "mohms", -1000, 0, false},
    {TV_RESISTANCE, "milliohm", -1000, 0, false},
    {TV_RESISTANCE, "milliohms", -1000, 0, false},
    {TV_RESISTANCE, "kohm", 1000, 0, false},
    {TV_PER_METRE, "mohm/m", -1000, 0, true},
    {TV_PER_METRE, "ohm/m", 1, 0, false},
    {TV_PER_METRE, "mohm", -1000, 0, false},
    {TV_PER_METRE, "ohm", 1, 0, false},
    {TV_PER_METRE, "mohm/ft", 1.0 / 304.8, 0, false},
    {TV_PER_METRE, "ohm/km", -1000, 0, false},
    {TV_CAPACITANCE, "F", 1, 0, true},
    {TV_CAPACITANCE, "mF", -1000, 0, true},
    {TV_CAPACITANCE, "uF", -1e6, 0, true},
    {TV_CAPACITANCE, "farad", 1, 0, false},
    {TV_CAPACITANCE, "farads", 1, 0, false},
    {TV_POWER, "W", 1, 0, true},
    {TV_POWER, "kW", 1000, 0, true},
    {TV_POWER, "mW", -1000, 0, true},
    {TV_POWER, "watt", 1, 0, false},
    {TV_POWER, "watts", 1, 0, false},
    {TV_POWER, "W RMS", 1, 0, false},
    {TV_POWER, "kW RMS", 1000, 0, false},
    {TV_POWER, "watts RMS", 1, 0, false},
    {TV_TIME, "s", 1, 0, true},
    {TV_TIME, "ms", -1000, 0, true},
    {TV_TIME, "us", -1e6, 0, false},
    {TV_TIME, "min", 60, 0, true},
    {TV_TIME, "h", 3600, 0, true},
    {TV_TIME, "sec", 1, 0, false},
    {TV_TIME, "second", 1, 0, false},
    {TV_TIME, "seconds", 1, 0, false},
    {TV_TIME, "minute", 60, 0, false},
    {TV_TIME, "minutes", 60, 0, false},
    {TV_TIME, "hour", 3600, 0, false},
    {TV_TIME, "hours", 3600, 0, false},
    {TV_TIME, "hrs", 3600, 0, false},
    {TV_MINUTES, "min", 1, 0, true},
    {TV_MINUTES, "h", 60, 0, false},
    {TV_MINUTES, "minute", 1, 0, false},
    {TV_MINUTES, "minutes", 1, 0, false},
    {TV_MINUTES, "hours", 60, 0, false},
    {TV_MINUTES, "s", -60, 0, false},
    {TV_LENGTH, "m", 1, 0, true},
    {TV_LENGTH, "cm", -100, 0, true},
    {TV_LENGTH, "mm", -1000, 0, true},
    {TV_LENGTH, "ft", 0.3048, 0, false},
    {TV_LENGTH, "in", 0.0254, 0, false},
    {TV_LENGTH, "foot", 0.3048, 0, false},
    {TV_LENGTH, "feet", 0.3048, 0, false},
    {TV_LENGTH, "inch", 0.0254, 0, false},
    {TV_LENGTH, "inches", 0.0254, 0, false},
    {TV_LENGTH, "metre", 1, 0, false},
    {TV_LENGTH, "metres", 1, 0, false},
    {TV_LENGTH, "meter", 1, 0, false},
    {TV_LENGTH, "meters", 1, 0, false},
    {TV_LENGTH, "'", 0.3048, 0, false},
    {TV_LENGTH, "\"", 0.0254, 0, false},
    {TV_AREA, "mm2", -1e6, 0, true},
    {TV_AREA, "mm^2", -1e6, 0, false},
    {TV_AREA, "sq mm", -1e6, 0, false},
    {TV_AREA, "sqmm", -1e6, 0, false},
    {TV_TEMPERATURE, "C", 1, 0, true},
    {TV_TEMPERATURE, "deg C", 1, 0, false},
    {TV_TEMPERATURE, "celsius", 1, 0, false},
    {TV_TEMPERATURE, "F", 5.0 / 9.0, -32, false},
    {TV_TEMPERATURE, "deg F", 5.0 / 9.0, -32, false},
    {TV_TEMPERATURE, "fahrenheit", 5.0 / 9.0, -32, false},
    {TV_TEMPERATURE, "K", 1, -273.15, false},
    {TV_CHARGE, "Ah", 1, 0, true},
    {TV_CHARGE, "mAh", -1000, 0, false},
    {TV_CHARGE, "A h", 1, 0, false},
    {TV_SPEED, "rpm", 1, 0, true},
    {TV_SPEED, "/min", 1, 0, false},
    {TV_SPEED, "1/min", 1, 0, false},
    {TV_SPEED, "r/min", 1, 0, false},
    {TV_SPEED, "rev/min", 1, 0, false},
    {TV_SHARE, "%", -100, 0, true},
    {TV_SHARE, "percent", -100, 0, false},
    {TV_LEVEL, "dB", 1, 0, true},
    {TV_FREQUENCY, "Hz", 1, 0, true},
    {TV_FREQUENCY, "kHz", 1000, 0, false},
    {TV_TEMPO, "/min", 1, 0, true},
    {TV_TEMPO, "bpm", 1, 0, false},
    {TV_TEMPO, "beats/min", 1, 0, false},
    {TV_TEMPO, "1/min", 1, 0, false},
    {TV_TEMPO, "per minute", 1, 0, false},
    {TV_TEMPO, "a minute", 1, 0, false},
    {TV_DRIFT, "mV/K", -1000, 0, true},
    {TV_DRIFT, "mV/C", -1000, 0, false},
    {TV_DRIFT, "V/K", 1, 0, false},
    {TV_DRIFT, "V/C", 1, 0, false},
    {TV_DRIFT, "mV/F", 0.0018, 0, false},
    {TV_RISE, "A/s", 1, 0, true},
    {TV_DISPLACEMENT, "L", 1, 0, true},
    {TV_DISPLACEMENT, "l", 1, 0, false},
    {TV_DISPLACEMENT, "litre", 1, 0, false},
    {TV_DISPLACEMENT, "litres", 1, 0, false},
    {TV_DISPLACEMENT, "liter", 1, 0, false},
    {TV_DISPLACEMENT, "liters", 1, 0, false},
    {TV_DISPLACEMENT, "cc", -1000, 0, false},
    {TV_DISPLACEMENT, "cm3", -1000, 0, false},
    {TV_DISPLACEMENT, "ccm", -1000, 0, false},
    {TV_DIFFERENCE, "C", 1, 0, true},
    {TV_DIFFERENCE, "K", 1, 0, false},
    {TV_DIFFERENCE, "deg C", 1, 0, false},
    {TV_DIFFERENCE, "F", 5.0 / 9.0, 0, false},
    {TV_PLAIN, "", 1, 0, true},
};
enum { UNIT_COUNT = sizeof units / sizeof units[0] };

static const struct {
  const char *accepted, *plain;
} wording[TV_MEASURES] = {
    [TV_VOLTAGE] = {"V or mV", "V"},
    [TV_CURRENT] = {"A or mA", "A"},
    [TV_RESISTANCE] = {"ohm or mohm", NULL},
    [TV_PER_METRE] = {"mohm (per metre) or mohm/ft", "mohm"},
    [TV_CAPACITANCE] = {"F, mF or uF", NULL},
    [TV_POWER] = {"W or kW", "W"},
    [TV_TIME] = {"ms, s, min or h", NULL},
    [TV_MINUTES] = {"min or h", "min"},
    [TV_LENGTH] = {"m, cm, mm, ft or in", NULL},
    [TV_AREA] = {"mm2", "mm2"},
    [TV_TEMPERATURE] = {"C or F", NULL},
    [TV_DIFFERENCE] = {"C or F", NULL},
    [TV_CHARGE] = {"Ah", "Ah"},
    [TV_SPEED] = {"rpm", "rpm"},
    [TV_SHARE] = {"%", "%"},
    [TV_LEVEL] = {"dB", "dB"},
    [TV_FREQUENCY] = {"Hz", "Hz"},
    [TV_TEMPO] = {"/min or bpm", "/min"},
    [TV_DRIFT] = {"mV/K, mV/C or V/K", "mV/K"},
    [TV_RISE] = {"A/s", "A/s"},
    [TV_DISPLACEMENT] = {"L or cc", "L"},
    [TV_PLAIN] = {"a bare number", ""},
};

const char *tv_measure_units(enum tv_measure measure) {
  return wording[measure].accepted;
}
const char *tv_measure_plain_unit(enum tv_measure measure) {
  return wording[measure].plain;
}

static bool same_letters(const char *text, size_t length, const char *name) {
  if (strlen(name) != length) return false;
  /* m is a thousandth, M a million: never fold case there */
  if (length > 1 && text[0] == 'M' && name[0] == 'm') return false;
  for (size_t k = 0; k < length; k++)
    if (tolower((unsigned char)text[k]) != tolower((unsigned char)name[k])) return false;
  return true;
}

static const struct unit *find_unit(const char *text, size_t length, enum tv_measure measure) {
  for (int k = 0; k < UNIT_COUNT; k++)
    if (units[k].measure == measure && strlen(units[k].name) == length &&
        memcmp(text, units[k].name, length) == 0)
      return &units[k];
  for (int k = 0; k < UNIT_COUNT; k++)
    if (units[k].measure == measure && same_letters(text, length, units[k].name)) return &units[k];
  return NULL;
}

static size_t skip_blanks(const char *text, size_t at, size_t length) {
  while (at < length && isspace((unsigned char)text[at])) at++;
  return at;
}

/* The internal value of a number in this unit. */
static double inside(const struct unit *unit, double number) {
  double sum = number + unit->offset;
  return unit->factor < 0.0 ? sum / -unit->factor : sum * unit->factor;
}

enum tv_quantity_status tv_quantity_read(const char *text, size_t length, enum tv_measure measure,
                                         double *value) {
  size_t at = skip_blanks(text, 0, length);
  while (length > at && isspace((unsigned char)text[length - 1])) length--;
  if (at == length) return TV_QUANTITY_EMPTY;
  double number = 0.0;
  size_t used = tv_parse_leading_number(text + at, length - at, &number);
  if (used == 0) return TV_QUANTITY_NO_NUMBER;
  at += used;
  if (at + 1 < length && text[at] == ',' && isdigit((unsigned char)text[at + 1])) return TV_QUANTITY_COMMA;
  at = skip_blanks(text, at, length);
  if (at == length && measure != TV_PLAIN) return TV_QUANTITY_NO_UNIT;
  const struct unit *unit = find_unit(text + at, length - at, measure);
  if (unit == NULL) return TV_QUANTITY_BAD_UNIT;
  double result = inside(unit, number);
  if (!isfinite(result)) return TV_QUANTITY_NO_NUMBER;
  *value = result;
  return TV_QUANTITY_OK;
}

/* The shown unit in which the number is easiest to read: the largest that leaves it at 1 or above, else the
 * smallest. */
static const struct unit *handiest(double value, enum tv_measure measure) {
  const struct unit *best = NULL, *smallest = NULL, *base = NULL;
  double best_scale = 0.0, smallest_scale = HUGE_VAL;
  for (int k = 0; k < UNIT_COUNT; k++) {
    if (units[k].measure != measure || !units[k].shown) continue;
    double scale = units[k].factor < 0.0 ? 1.0 / -units[k].factor : units[k].factor;
    if (base == NULL) base = &units[k];
    if (scale < smallest_scale) {
      smallest = &units[k];
      smallest_scale = scale;
    }
    if (fabs(value) >= scale * (1.0 - 1e-9) && scale > best_scale) {
      best = &units[k];
      best_scale = scale;
    }
  }
  if (value == 0.0) return base;
  return best != NULL ? best : smallest;
}

/* Writes a value in one unit with the fewest digits that read back to it, or with six. False where `exact`
 * was wanted and no number in this unit reads back as the value. */
static bool write_in(char *to, size_t size, double value, const struct unit *unit, int most_digits, bool exact) {
  double number = (unit->factor < 0.0 ? value * -unit->factor : value / unit->factor) - unit->offset;
  bool found = false;
  struct tv_number text = {""};
  for (int digits = exact ? 1 : most_digits; digits <= most_digits && !found; digits++) {
    text = tv_significant(number, digits);
    double back = 0.0;
    found = !exact || (tv_parse_number(text.text, strlen(text.text), &back) && inside(unit, back) == value);
  }
  snprintf(to, size, "%s%s%s", text.text, unit->name[0] == '\0' ? "" : " ", unit->name);
  return found;
}

/* The internal unit, in which every value can be written. */
static const struct unit *plain_unit(enum tv_measure measure) {
  for (int k = 0; k < UNIT_COUNT; k++)
    if (units[k].measure == measure && units[k].factor == 1.0 && units[k].offset == 0.0) return &units[k];
  return NULL;
}

static void write_value(char *to, size_t size, double value, enum tv_measure measure, int digits, bool exact) {
  const struct unit *unit = handiest(value, measure);
  if (unit == NULL) {
    tv_copy_text(to, size, "");
    return;
  }
  /* voltages, currents and minutes keep their usual unit down to a tenth */
  if ((measure == TV_VOLTAGE || measure == TV_CURRENT || measure == TV_LENGTH || measure == TV_CAPACITANCE) &&
      fabs(value) >= 0.0999)
    unit = find_unit(measure == TV_VOLTAGE   ? "V"
                     : measure == TV_CURRENT ? "A"
                     : measure == TV_LENGTH  ? "m"
                                             : "F",
                     1, measure);
  if (measure == TV_POWER && fabs(value) < 10000.0 && fabs(value) >= 1.0) unit = find_unit("W", 1, TV_POWER);
  if (write_in(to, size, value, unit, digits, exact)) return;
  const struct unit *plain = plain_unit(measure);
  if (plain != NULL) write_in(to, size, value, plain, digits, exact);
}

void tv_quantity_write(char *to, size_t size, double value, enum tv_measure measure, bool exact) {
  write_value(to, size, value, measure, exact ? 17 : 6, exact);
}

void tv_quantity_round(char *to, size_t size, double value, enum tv_measure measure, int digits) {
  write_value(to, size, value, measure, digits, false);
}

void tv_plain_text(char *to, size_t size, const char *from) {
  static const struct {
    const char *from, *to;
    bool alone; /* a word, with a blank on either side */
  } same[] = {{"@", "at", true},
              {"\xCE\xA9", "ohm", false},   {"\xE2\x84\xA6", "ohm", false}, {"\xC2\xB5", "u", false},     {"\xCE\xBC", "u", false},
              {"\xC2\xB2", "2", false},     {"\xC2\xB0", "", false},        {"\xC2\xBA", "", false},      {"\xE2\x88\x92", "-", false},
              {"\xC3\x97", "x", false},     {"\xC2\xA0", " ", false},       {"\xE2\x80\xAF", " ", false}, {"\xE2\x80\x89", " ", false},
              {"\xE2\x84\x83", "C", false}, {"\xE2\x84\x89", "F", false},   {"\xC2\xB7", ".", false}};
  size_t used = 0;
  bool blank = false;
  while (*from != '\0' && used + 1 < size) {
    const char *piece = NULL;
    size_t taken = 1;
    bool alone = false;
    for (size_t k = 0; k < sizeof same / sizeof same[0] && piece == NULL; k++)
      if (strncmp(from, same[k].from, strlen(same[k].from)) == 0) {
        piece = same[k].to;
        taken = strlen(same[k].from);
        alone = same[k].alone;
      }
    char one[2] = {*from, '\0'};
    if (piece == NULL) piece = isspace((unsigned char)*from) ? " " : one;
    from += taken;
    if (strcmp(piece, " ") == 0) {
      blank = used > 0;
      continue;
    }
    if (piece[0] == '\0') continue;
    blank = blank || (alone && used > 0);
    size_t length = strlen(piece);
    if (used + length + (blank ? 1u : 0u) >= size) break;
    if (blank) to[used++] = ' ';
    blank = alone;
    memcpy(to + used, piece, length);
    used += length;
  }
  to[used] = '\0';
}

bool tv_gauge_read(const char *text, int *awg) {
  static const char *const names[] = {"AWG", "ga", "gauge", "ga.", "B&S"};
  const char *at = text;
  int number = 0;
  for (; isdigit((unsigned char)*at) && at - text < 5; at++) number = 10 * number + (*at - '0');
  size_t digits = (size_t)(at - text);
  if (digits == 0 || digits > 4 || (digits > 2 && text[0] != '0')) return false;
  bool aught = false;
  if (at[0] == '/' && at[1] == '0' && !isdigit((unsigned char)at[2])) {
    at += 2;
    aught = true;
    if (number < 1 || number > 4) return false;
    number = 1 - number;
  } else if (text[0] == '0') {
    /* 0, 00, 000 and 0000 are 1/0 to 4/0 */
    if (number != 0) return false;
    number = 1 - (int)digits;
    aught = digits > 1;
  }
  while (*at == ' ') at++;
  bool named = false;
  for (size_t k = 0; k < sizeof names / sizeof names[0]; k++)
    named = named || same_letters(at, strlen(at), names[k]);
  if (!named && !(aught && *at == '\0')) return false;
  *awg = number;
  return true;
}

void tv_gauge_write(char *to, size_t size, int awg) {
  if (awg <= 0)
    snprintf(to, size, "%d/0 AWG", 1 - awg);
  else
    snprintf(to, size, "%d AWG", awg);
}
