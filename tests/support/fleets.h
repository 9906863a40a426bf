/* Fleets made by chance: cars that the sequence of certainty has not seen, each run by itself over the whole profile. */
#ifndef TV_TESTS_FLEETS_H
#define TV_TESTS_FLEETS_H

#include "tailvolt/certainty.h"
#include "tailvolt/simulate.h"

/* A ten-line car whose music is short beats without ripple, so that a car takes milliseconds: `design` sets its power (W), and with it
 * battery, alternator and feed. Six seconds at idle. */
struct fleet {
  struct tailvolt_system *system;
  struct tailvolt_profile *profile;
  struct tailvolt_options run;
};
struct fleet fleet_of(int design);
void fleet_free(struct fleet *fleet);

/* Per cent that the default certainty calls. */
double fleet_called_pct(const struct fleet *fleet, unsigned long seed);
/* Of `cars` made by chance this many hold; every range moved up by `shift` of its width. */
int fleet_holds(const struct fleet *fleet, unsigned long seed, int cars, double shift);

#endif
