/* The charging budget by hand, as taught: what the alternator gives hot against what is drawn, in currents at 14 V.
 *
 * Loads that are on for long count in full, those that come and go by their `duty`; each amplifier counts with a share
 * of its rated power. Beside it what the simulation found, and what the two differ by, cause by cause. */
#ifndef TAILVOLT_BUDGET_H
#define TAILVOLT_BUDGET_H

#include "tailvolt/result.h"

#ifdef __cplusplus
extern "C" {
#endif

#define TAILVOLT_HAND_V 14.0              /* at which powers turn into currents */
#define TAILVOLT_HAND_HOT_FRAC 0.85       /* hot output over label, whatever the speed (common practice) */
#define TAILVOLT_HAND_MUSIC_FRAC (1.0 / 8) /* music as loud as it goes without plain clipping: 16 CFR 432.3 (c), 2006 */
#define TAILVOLT_HAND_DENSE_FRAC (1.0 / 3) /* heavily limited music: the same rule before 2001 */
#define TAILVOLT_HAND_DENSE_BELOW_DB 9.0  /* crest factor below which it counts as that (judgement) */

struct tailvolt_hand_budget {
  double output_a, base_a, amplifier_a, balance_a;
};

/** Shares of rated power: TAILVOLT_HAND_DENSE_FRAC where the amplifier's programme (its own, else the first) says so. */
TAILVOLT_API double tailvolt_hand_share_frac(const struct tailvolt_system *system, const struct tailvolt_amplifier *amplifier);

/** One use, from what its details say of speed and of what is switched on. */
TAILVOLT_API void tailvolt_hand_budget_of(const struct tailvolt_system *system, const struct tailvolt_use_result *details,
                                           struct tailvolt_hand_budget *budget);

/** Over the mix of all driving that the run saw, by time. */
TAILVOLT_API void tailvolt_hand_budget_mixed(const struct tailvolt_system *system, const struct tailvolt_result *result,
                                             struct tailvolt_hand_budget *budget);

/** From the balance by hand to the simulated one; all terms add up to the difference. */
struct tailvolt_hand_gap {
  double voltage_a;    /**< the machine's own voltage is not the label's */
  double heat_a;       /**< its own heat in place of the hot factor */
  double not_taken_a;  /**< what it could give and nobody takes: car, amplifiers and battery have enough */
  double base_a;       /**< loads as the profile switches them, at their own voltage */
  double amplifier_a;  /**< the programme at its level in place of a share of rated power */
  double rest_a;       /**< starting, isolators, capacitors */
};
TAILVOLT_API void tailvolt_hand_gap_of(const struct tailvolt_system *system, const struct tailvolt_hand_budget *by_hand,
                 const struct tailvolt_budget *simulated, const struct tailvolt_use_result *details,
                 struct tailvolt_hand_gap *gap);

/** Half charge is what a starter battery should keep (common practice); below it counts as flat. */
#define TAILVOLT_FLAT_SOC_PCT 50.0

struct tailvolt_flat_after {
  double days;  /**< the use, or the whole profile, once a day; INFINITY = never, 0 = flat already */
  double hours; /**< it alone, without a break */
};
/** How long until all batteries together are flat. use < 0: the whole profile. */
TAILVOLT_API void tailvolt_flat_after_of(const struct tailvolt_result *result, int use, struct tailvolt_flat_after *after);

#ifdef __cplusplus
}
#endif
#endif
