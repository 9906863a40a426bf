/* The charging budget by hand, as taught: what a hot alternator gives against what is drawn, in currents at 14 V.
 *
 * Long-running loads count in full, intermittent ones by their `duty`; each amplifier counts with a share of its rated
 * power. Beside it stands what the simulation found, and the difference, cause by cause. */
#ifndef TAILVOLT_BUDGET_H
#define TAILVOLT_BUDGET_H

#include "tailvolt/result.h"

#ifdef __cplusplus
extern "C" {
#endif

#define TAILVOLT_HAND_V 14.0               /**< voltage at which powers become currents */
#define TAILVOLT_HAND_HOT_FRAC 0.85        /**< hot output over label, whatever the speed (common practice) */
#define TAILVOLT_HAND_MUSIC_FRAC (1.0 / 8) /**< music as loud as it goes without audible clipping: 16 CFR 432.3 (c), 2006 */
#define TAILVOLT_HAND_DENSE_FRAC (1.0 / 3) /**< heavily limited music: the same rule before 2001 */
#define TAILVOLT_HAND_DENSE_BELOW_DB 9.0   /**< crest factor below which music counts as that (judgement) */

/** Currents at TAILVOLT_HAND_V, all positive but for the balance. */
struct tailvolt_hand_budget {
  double output_a;    /**< label output at the speeds driven, times TAILVOLT_HAND_HOT_FRAC; a fixed output in full */
  double base_a;      /**< base load, and each load by its duty where it was ever on */
  double amplifier_a; /**< of each that ever plays: share of rated power over efficiency, and its idle draw */
  double balance_a;   /**< output less the other two; negative = the batteries pay */
};

/** Share of rated power that counts, on average over time: TAILVOLT_HAND_DENSE_FRAC where the amplifier's programme (its own, else the
 *  first) states a crest factor below TAILVOLT_HAND_DENSE_BELOW_DB, else TAILVOLT_HAND_MUSIC_FRAC. */
TAILVOLT_API double tailvolt_hand_share_frac(const struct tailvolt_system *system, const struct tailvolt_amplifier *amplifier);

/** One use, from its recorded speeds and what was switched on: `details` is `use_details[]` of a result of the same system. Zeros where the
 *  engine does not turn and nothing is on. */
TAILVOLT_API void tailvolt_hand_budget_of(const struct tailvolt_system *system, const struct tailvolt_use_result *details,
                                           struct tailvolt_hand_budget *budget);

/** Over the whole mix of driving in the run, by time, what is parked left out; zeros where nothing is driven. */
TAILVOLT_API void tailvolt_hand_budget_mixed(const struct tailvolt_system *system, const struct tailvolt_result *result,
                                             struct tailvolt_hand_budget *budget);

/** From the hand balance to the simulated one (`battery_a`), A; all terms add up to the difference, positive = the simulation finds
 *  more left for the batteries. */
struct tailvolt_hand_gap {
  double voltage_a;    /**< the machine's voltage is not the label's */
  double heat_a;       /**< its own heat in place of the hot factor */
  double not_taken_a;  /**< what it could give but nobody takes: car, amplifiers and battery have enough */
  double base_a;       /**< loads as the profile switches them, at their own voltage */
  double amplifier_a;  /**< the programme at its level in place of a share of rated power */
  double rest_a;       /**< starting, isolators, capacitors */
};
/** Of one use: `by_hand` from tailvolt_hand_budget_of(), `simulated` and `details` from `uses[]` and `use_details[]` of the same use. */
TAILVOLT_API void tailvolt_hand_gap_of(const struct tailvolt_system *system, const struct tailvolt_hand_budget *by_hand,
                                       const struct tailvolt_budget *simulated, const struct tailvolt_use_result *details,
                                       struct tailvolt_hand_gap *gap);

/** Charge a starter battery should keep (common practice): below half it counts as flat. */
#define TAILVOLT_FLAT_SOC_PCT 50.0

/** How long the batteries last. */
struct tailvolt_flat_after {
  double days;  /**< with that use, or the whole profile, once a day; INFINITY = never, 0 = flat already */
  double hours; /**< of it alone, without a break */
};
/** How long until the batteries are flat, by the current at their posts; where they are not joined (`phase_group`), until the
 *  first of them is.
 *  \param use  enum tailvolt_use; below 0: the whole profile. One that the run does not have loses nothing: INFINITY */
TAILVOLT_API void tailvolt_flat_after_of(const struct tailvolt_result *result, int use, struct tailvolt_flat_after *after);

#ifdef __cplusplus
}
#endif
#endif
