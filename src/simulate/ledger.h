/* Making an amplifier's sag ledger from what the run noted at rest and at the worst moment. */
#ifndef TV_SIMULATE_LEDGER_H
#define TV_SIMULATE_LEDGER_H

#include "simulate/run.h"

/* Entries are allocated; tailvolt_result_free() frees them. */
TAILVOLT_CHECKED enum tailvolt_status tv_ledger_make(const struct tv_run *run, int amplifier,
                                                     struct tailvolt_ledger *ledger);

#endif
