/* One value of a system file as a number that can be changed: its present value, unit and range. */
#ifndef TV_INPUT_SYSTEM_NUMBER_H
#define TV_INPUT_SYSTEM_NUMBER_H

#include <stdbool.h>

#include "input/quantity.h"
#include "tailvolt/system.h"

struct tv_system_number {
  char key[96];            /* "section.key", in the plain spelling */
  enum tv_measure measure;
  double value;            /* NAN = neither stated nor assumed */
  double low, high;        /* accepted by the file */
  bool assumed;            /* a default */
};

/* Looks up a key as --set takes it.
 * TAILVOLT_BAD_INPUT with `error` (TAILVOLT_TEXT_MAX) where it is not a key, not a single quantity, or belongs to a missing
 * part. */
TAILVOLT_CHECKED enum tailvolt_status tv_system_number(const struct tailvolt_system *system, const char *key,
                                                       struct tv_system_number *number, char *error);

/* Whether two names mean one value. */
bool tv_system_number_same(const struct tv_system_number *a, const struct tv_system_number *b);

/* A system that was read, with settings applied, made quickly: for runs only, it cannot be changed
 * further. */
TAILVOLT_CHECKED enum tailvolt_status tv_system_variant(const struct tailvolt_system *system, const struct tailvolt_setting *settings,
                                                        int count, struct tailvolt_system **out, struct tailvolt_faults *faults);

#endif
