/* Values with units: every spelling accepted, one form shown back, SI inside. */
#ifndef TV_INPUT_QUANTITY_H
#define TV_INPUT_QUANTITY_H

#include <stdbool.h>
#include <stddef.h>

/* What a value measures; in brackets the internal unit. */
enum tv_measure {
  TV_VOLTAGE,      /* V */
  TV_CURRENT,      /* A */
  TV_RESISTANCE,   /* ohm */
  TV_PER_METRE,    /* ohm a metre */
  TV_CAPACITANCE,  /* F */
  TV_POWER,        /* W */
  TV_TIME,         /* s */
  TV_MINUTES,      /* minutes: the unit of a reserve capacity label */
  TV_LENGTH,       /* m */
  TV_AREA,         /* m2 */
  TV_TEMPERATURE,  /* degrees Celsius */
  TV_CHARGE,       /* Ah */
  TV_SPEED,        /* rpm */
  TV_SHARE,        /* fraction */
  TV_LEVEL,        /* dB */
  TV_FREQUENCY,    /* Hz */
  TV_TEMPO,        /* beats per minute */
  TV_DRIFT,        /* V/K */
  TV_RISE,         /* A/s */
  TV_DISPLACEMENT, /* litres */
  TV_DIFFERENCE,   /* kelvin: a difference of temperatures */
  TV_PLAIN,        /* a bare number */
  TV_MEASURES
};

enum tv_quantity_status {
  TV_QUANTITY_OK,
  TV_QUANTITY_EMPTY,
  TV_QUANTITY_NO_NUMBER, /* does not start with a number, or the number is not finite */
  TV_QUANTITY_COMMA,     /* a decimal comma */
  TV_QUANTITY_NO_UNIT,   /* a bare number */
  TV_QUANTITY_BAD_UNIT   /* a unit of something else, or unknown */
};

/* Reads "5.5 m" as a value of `measure`, in the internal unit. text must be plain (tv_plain_text).
 * Surrounding white space is skipped; `*value` is set for TV_QUANTITY_OK only. */
enum tv_quantity_status tv_quantity_read(const char *text, size_t length, enum tv_measure measure,
                                         double *value);

/* The accepted units, for messages: "m, cm, mm, ft or in". */
const char *tv_measure_units(enum tv_measure measure);
/* The unit a bare number would most likely be in ("Ah"), or NULL where several are as likely. */
const char *tv_measure_plain_unit(enum tv_measure measure);

/* Writes a value as the reader accepts it, in the handiest unit: "5 mohm", "200 ms". At most six digits;
 * `exact` writes what reads back as the same double. */
void tv_quantity_write(char *to, size_t size, double value, enum tv_measure measure, bool exact);

/* The same with at most `digits` significant digits. */
void tv_quantity_round(char *to, size_t size, double value, enum tv_measure measure, int digits);

/* Turns look-alikes into one plain spelling: ohm and micro signs, superscript two, degree sign, minus sign,
 * multiplication sign, no-break spaces; runs of white space become one blank, none at the ends. */
void tv_plain_text(char *to, size_t size, const char *from);

/* Wire gauge: "8 AWG", "4 ga", "0 gauge", "1/0 AWG", "2/0". False where it is not one; 1/0 = 0, 4/0 = -3. */
bool tv_gauge_read(const char *text, int *awg);
/* "8 AWG", "1/0 AWG". */
void tv_gauge_write(char *to, size_t size, int awg);

#endif
