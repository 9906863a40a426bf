/* From a system to a run's ports, watches and layout. */
#ifndef TV_SIMULATE_WIRING_H
#define TV_SIMULATE_WIRING_H

#include "simulate/run.h"

/* Droop of a converter's output with its current. */
#define TV_CONVERTER_DROOP_OHM 1e-4

TAILVOLT_CHECKED enum tailvolt_status tv_wiring_build(struct tv_run *run);

/* Whether an amplifier has resistance and storage behind its terminals: not where the profile prescribes the
 * draw. */
bool tv_has_inside(const struct tv_run *run, int amplifier);
bool tv_has_storage(const struct tv_run *run, int amplifier);

#endif
