/* One value of a system file as a number that can be changed: what it is now, its unit and its range. */
#ifndef TV_INPUT_SYSTEM_NUMBER_H
#define TV_INPUT_SYSTEM_NUMBER_H

#include <stdbool.h>

#include "input/quantity.h"
#include "tailvolt/system.h"

struct tv_system_number {
  char key[96];            /* "section.key", in the plain spelling */
  enum tv_measure measure;
  double value;            /* NAN = nothing is stated or assumed */
  double low, high;        /* what the file accepts */
  bool assumed;            /* a default */
};

/* Looks a key up as --set takes it.
 * TAILVOLT_BAD_INPUT with `error` (TAILVOLT_TEXT_MAX) where it is no key, no single quantity, or of a part that is not there. */
TAILVOLT_CHECKED enum tailvolt_status tv_system_number(const struct tailvolt_system *system, const char *key,
                                                       struct tv_system_number *number, char *error);

/* Two names for one value. */
bool tv_system_number_same(const struct tv_system_number *a, const struct tv_system_number *b);

/* A system that was read, with settings, made quickly: for runs alone, it cannot be changed further. */
TAILVOLT_CHECKED enum tailvolt_status tv_system_variant(const struct tailvolt_system *system, const struct tailvolt_setting *settings,
                                                        int count, struct tailvolt_system **out, struct tailvolt_faults *faults);

#endif
