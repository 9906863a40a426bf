/* The verdict: it follows from the simulated numbers and the safety rules, never from a rule of thumb. */
#ifndef TV_SIMULATE_VERDICT_H
#define TV_SIMULATE_VERDICT_H

#include "simulate/run.h"

/* Fills status, reasons (worst first), the phases' status and the cautions. */
TAILVOLT_CHECKED enum tailvolt_status tv_verdict_judge(const struct tv_run *run, struct tailvolt_result *result);

#endif
