/* The cautions of a run: hazards that leave the verdict alone, and how far to trust its figures. */
#ifndef TV_SIMULATE_CAUTIONS_H
#define TV_SIMULATE_CAUTIONS_H

#include "simulate/run.h"
#include "simulate/safety.h"

/* Fills in the result's cautions: those among the safety findings, then those of the run. TAILVOLT_OK or _NO_MEMORY. */
TAILVOLT_CHECKED enum tailvolt_status tv_cautions_gather(const struct tv_run *run, const struct tv_finding_list *safety,
                                                         struct tailvolt_result *result);

#endif
