/* Spread: the playing time over many vehicles like the one described (study/vehicles.h). A vehicle is computed by one thread from
 * its number alone, so the results are the same bits however many threads there are. */
#ifndef TV_STUDY_SPREAD_H
#define TV_STUDY_SPREAD_H

#include <stdatomic.h>

#include "study/parked.h"
#include "study/vehicles.h"

/* `quick` as measured on the car described. What was done before the options' progress stopped it is kept and marked partial; what to
 * measure first is then not said. */
TAILVOLT_CHECKED enum tailvolt_status tv_parked_spread(const struct tailvolt_system *system,
                                                       const struct tailvolt_profile *profile,
                                                       const struct tailvolt_parked_options *options,
                                                       const struct tv_parked_quick *quick, double wanted_s,
                                                       struct tailvolt_parked_spread *spread,
                                                       struct tailvolt_parked_soonest *soonest,
                                                       struct tailvolt_certainty *certainty);

/* The same in parts, so that some vehicles are computed beside other work. `quick` without its cut-out ratio, which is needed at the end
 * alone. All three name the same options. */
struct tv_spread;
TAILVOLT_CHECKED enum tailvolt_status tv_spread_begin(const struct tailvolt_system *system,
                                                      const struct tailvolt_profile *profile,
                                                      const struct tailvolt_parked_options *options,
                                                      struct tv_spread **out);
/* One after another on the caller's thread, until `enough` or all are done; no progress is reported. */
void tv_spread_some(struct tv_spread *spread, const struct tv_parked_quick *quick, const atomic_bool *enough);
/* What is left, on all threads. */
TAILVOLT_CHECKED enum tailvolt_status tv_spread_end(struct tv_spread *spread, const struct tv_parked_quick *quick,
                                                    double wanted_s, struct tailvolt_parked_spread *out,
                                                    struct tailvolt_parked_soonest *soonest,
                                                    struct tailvolt_certainty *certainty);
void tv_spread_free(struct tv_spread *spread);

/* One vehicle, by its values; free with tv_spread_vehicle_free(). */
struct tv_spread_vehicle {
  struct tailvolt_system *system;
  struct tailvolt_parked_options options;
};
TAILVOLT_CHECKED enum tailvolt_status tv_spread_vehicle(const struct tailvolt_system *system,
                                                        const struct tailvolt_parked_options *options,
                                                        const struct tailvolt_uncertainty *list, const double *values,
                                                        struct tv_spread_vehicle *vehicle);
void tv_spread_vehicle_free(struct tv_spread_vehicle *vehicle);

#endif
