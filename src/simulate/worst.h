/* The worst in a result: amplifiers within a phase, phases within a run. */
#ifndef TV_SIMULATE_WORST_H
#define TV_SIMULATE_WORST_H

#include "tailvolt/result.h"

/* Volts between the voltage judged (quantile_v) and an amplifier's target in a phase; +inf where it does not
 * play there. */
double tv_phase_margin_v(const struct tailvolt_result *result, int amplifier, int phase);

/* The worst amplifier in a phase, -1 = none plays. */
int tv_worst_amplifier(const struct tailvolt_result *result, int phase);

/* Phases present, worst first; returns how many. */
int tv_phases_worst_first(const struct tailvolt_result *result, int order[TAILVOLT_PHASES]);

#endif
