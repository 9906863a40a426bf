/* Whether a value stands in the file or is a default. */
#ifndef TV_INPUT_ASSUMES_H
#define TV_INPUT_ASSUMES_H

#include "tailvolt/system.h"

/* `key` as --set takes it: "vehicle.base load". */
bool tv_system_assumes(const struct tailvolt_system *system, const char *key);

#endif
