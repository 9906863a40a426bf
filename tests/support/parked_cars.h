/* Cars for the parked tests. */
#ifndef TAILVOLT_TEST_PARKED_CARS_H
#define TAILVOLT_TEST_PARKED_CARS_H

#include "study/parked.h"

/* A 70 Ah battery on the bench, full and healthy, and a drain across its posts that gives up at 10.5 V. Nothing else
 * draws. */
struct tailvolt_system *parked_bench(const char *more);

/* A small car with music; short cycles and no ripple, so that a whole evening at full resolution stays affordable. */
struct tailvolt_system *parked_car(double ambient_c, const char *feed_size, const char *topology, const char *more);
struct tailvolt_system *parked_ordinary(void); /* 25 C, 10 mm2, class D */

/* Plays; the test fails where that fails. */
struct tailvolt_parked *parked_play(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                                    const struct tailvolt_parked_options *options);

/* A constant current drawn by the bench's drain. */
struct tailvolt_profile *parked_drain(const struct tailvolt_system *system, double current_a);

/* NAN is later than any time. */
double parked_or_never(double time_s);

#endif
