/* The yardstick of every speed figure: the reference network (tests/outside/circuits/one_amplifier.ini) stepped by a
 * loop written by hand just for it. */
#ifndef TAILVOLT_BENCH_HAND_LOOP_H
#define TAILVOLT_BENCH_HAND_LOOP_H

#include <stdbool.h>

struct hand_result {
  double min_v, mean_v; /* at the amplifier */
  double below_frac;    /* of the steps, below 12 V; one system only */
  double soc_frac;      /* at the end */
  double system_steps_per_s;
};

/* One system, duration_s at 1 ms, with the alternator at its limit or the engine off. Fastest of `repeats`, in
 * processor seconds. */
struct hand_result hand_loop(bool engine_runs, double duration_s, int repeats);

/* Eight systems side by side, of which the fourth is returned; system-steps counted. */
struct hand_result hand_loop_eight(bool engine_runs, double duration_s, int repeats);

/* Processor seconds of this process and all its threads. */
double hand_used_s(void);

#endif
