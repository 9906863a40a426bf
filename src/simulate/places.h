/* Limits that a system must keep to be run at all, beyond what its file shows. */
#ifndef TV_SIMULATE_PLACES_H
#define TV_SIMULATE_PLACES_H

#include "tailvolt/simulate.h"

#define TV_PLACES_MOST 128 /* nonlinear ports: at this many a step takes about a millisecond */

/* TAILVOLT_BAD_INPUT, with what to change, where there are more. */
TAILVOLT_CHECKED enum tailvolt_status tv_check_places(const struct tailvolt_system *system, char error[TAILVOLT_TEXT_MAX]);

#endif
