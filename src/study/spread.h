/* Spread: the playing time over many vehicles drawn from tolerances.
 *
 * Each tolerance is the half width of a range with every value equally likely; one number per vehicle is
 * drawn for each from a Sobol sequence, which fills the ranges more evenly than chance. One thread computes a
 * vehicle from its number alone, so results have the same bits for any number of threads. */
#ifndef TV_STUDY_SPREAD_H
#define TV_STUDY_SPREAD_H

#include "study/parked.h"

/* `quick` as measured on the car as described. */
TAILVOLT_CHECKED enum tailvolt_status tv_parked_spread(const struct tailvolt_system *system,
                                                       const struct tailvolt_profile *profile,
                                                       const struct tailvolt_parked_options *options,
                                                       const struct tv_parked_quick *quick, double wanted_s,
                                                       struct tailvolt_parked_spread *spread, char *error);

/* Draws one vehicle: `draw` holds TAILVOLT_TOLERANCES numbers from -1 to 1, in the order of the keys. Free
 * with tv_spread_vehicle_free(). */
struct tv_spread_vehicle {
  struct tailvolt_system system;
  struct tailvolt_battery *batteries;
  struct tailvolt_conductor *conductors;
  struct tailvolt_parked_options options;
};
TAILVOLT_CHECKED enum tailvolt_status tv_spread_draw(const struct tailvolt_system *system,
                                                     const struct tailvolt_parked_options *options,
                                                     const double *soc_frac, const double *draw,
                                                     struct tv_spread_vehicle *vehicle);
void tv_spread_vehicle_free(struct tv_spread_vehicle *vehicle);

extern const char *const tv_tolerance_keys[TAILVOLT_TOLERANCES];

#endif
