/* Charging by computer: the set point moves between two ends.
 *
 * Voltage is judged at the low end, where the run itself is made. Charge is judged over the swing: the low end is used only
 * while the battery's charge is above `low end above`; below that the computer charges at the high end. So no charge is lost for
 * good where the high end restores it: the same profile is run once more at the high end, for its balance alone.
 * Which batteries that helps: simulate/charge.h. */
#ifndef TV_SIMULATE_SWING_H
#define TV_SIMULATE_SWING_H

#include "simulate/run.h"

static inline bool tv_swings(const struct tailvolt_system *system) {
  return system->alternator.present && system->alternator.set_point_low_v < system->alternator.set_point_high_v;
}

/* Runs the profile at the high end of the band and keeps its result in run->high_end; does nothing where the set point is
 * fixed. */
TAILVOLT_CHECKED enum tailvolt_status tv_swing_run(struct tv_run *run, const struct tailvolt_profile *profile,
                                                   const struct tv_programmes *shared);

#endif
