/* What a reading is, in the words of whoever holds the probes. */
#ifndef TV_REPORT_MEASURE_WORDS_H
#define TV_REPORT_MEASURE_WORDS_H

#include "tailvolt/measure.h"
#include "text/number.h"

/* What a reading is about, which decides what it means to be outside. */
enum tv_reading_of {
  TV_READING_REST,      /* a battery's own voltage */
  TV_READING_CHARGING,  /* at the posts, engine running */
  TV_READING_SAG,       /* at the posts under a tone */
  TV_READING_TERMINALS, /* at an amplifier */
  TV_READING_JOINT,
  TV_READING_FUSE,
  TV_READING_CABLE,
  TV_READING_SEVERAL,   /* a drop over several parts */
  TV_READING_CHARGE_A,  /* clamp on the charge lead */
  TV_READING_BATTERY_A, /* clamp at a battery */
  TV_READING_FEED_A,    /* clamp on a feed */
  TV_READING_OTHER
};

enum tv_reading_of tv_reading_of(const struct tailvolt_system *system, const struct tailvolt_probe *probe,
                                 const struct tailvolt_straddled *between);

/* The condition as a heading: "ENGINE OFF FOR HOURS, everything off". */
const char *tv_condition_words(enum tailvolt_condition condition, bool hybrid);

/* What it means to read more, or less, than normal: a clause, lower case. */
const char *tv_reading_above(enum tv_reading_of of);
const char *tv_reading_below(enum tv_reading_of of);

/* A voltage or current as a meter on that range shows it: "12.52 V", "85.3 mV", "31.2 A". */
struct tv_number tv_reading_number(enum tailvolt_instrument instrument, double value);
/* The same in the unit of the greatest of those that stand together: never millivolts up to volts. */
struct tv_number tv_reading_beside(enum tailvolt_instrument instrument, double value, double greatest);

#endif
