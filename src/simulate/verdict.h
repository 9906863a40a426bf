/* The verdict: it follows from the simulated numbers and the safety rules, never from a rule of thumb. One rule for every
 * command:
 *
 *   q = voltage that is missed for the share of time that `missed at most` allows, less the target
 *   holds      q >= 0.1 V
 *   marginal   -0.08 V <= q < 0.1 V
 *   fails      below, or where an amplifier cuts out, or where charge is lost:
 *              idle empties the batteries to half charge sooner than `endurance at idle`, or
 *              idle share x idle balance + (1 - idle share) x road balance is negative (the road's from the same profile, or
 *              from one run beside it: options.road_balance_a);
 *              batteries behind a relay that stayed open, a diode or a converter by themselves (simulate/charge.h)
 *
 * The deepest dip does not decide: what is too short to be heard or measured is reported, not judged. The two bounds lie
 * around zero by what a meter can resolve (a few hundredths) and what a quieter or louder track changes. Safety has its own
 * verdict, `safety`. */
#ifndef TV_SIMULATE_VERDICT_H
#define TV_SIMULATE_VERDICT_H

#include "simulate/run.h"

#define TV_HOLDS_FROM_V 0.1
#define TV_MARGINAL_FROM_V (-0.08)

/* The verdict by voltage alone. */
static inline enum tailvolt_verdict tv_verdict_of_margin(double margin_v) {
  if (margin_v >= TV_HOLDS_FROM_V) return TAILVOLT_HOLDS;
  return margin_v >= TV_MARGINAL_FROM_V ? TAILVOLT_MARGINAL : TAILVOLT_FAILS;
}

/* The car is put right: it holds, and nothing in it is unsafe. */
static inline bool tv_is_put_right(const struct tailvolt_result *result) {
  return result->status == TAILVOLT_HOLDS && result->safety != TAILVOLT_FAILS;
}

/* Fills in status, reasons (worst first), the phases' status, safety and the cautions. */
TAILVOLT_CHECKED enum tailvolt_status tv_verdict_judge(const struct tv_run *run, struct tailvolt_result *result);

#endif
