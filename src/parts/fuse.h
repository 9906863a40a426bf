/* Fuses: resistance, time-current gates with thermal memory, choosing a rating. Sources in fuse.c. */
#ifndef TV_PARTS_FUSE_H
#define TV_PARTS_FUSE_H

#include <stdbool.h>
#include "tailvolt/system.h"

/* Thermal memory; plain data. Start with memset 0. */
struct tv_fuse_state {
  double mean_square_a2; /* low-passed square of the current */
  double damage_may;     /* against the quickest fuse within the gates: 1 = may open */
  double damage_must;    /* against the slowest: 1 = must have opened */
  double step_s, taken_frac; /* the last step's length, what it takes in of a new mean square ... */
  double left_frac;      /* ... and what it leaves of damage that fades */
};

/* 0.1 V / rating, holder included (default of a fuse with no stated resistance). */
double tv_fuse_resistance_ohm(double rating_a);
/* Gates: opening times at a steady multiple of the rating; INFINITY = never. */
double tv_fuse_quickest_s(enum tailvolt_fuse_kind kind, double multiple);
double tv_fuse_slowest_s(enum tailvolt_fuse_kind kind, double multiple);
/* Advances dt_s (a few ms) at a mean square current. */
void tv_fuse_step(enum tailvolt_fuse_kind kind, double rating_a, double mean_square_a2, double dt_s,
                  struct tv_fuse_state *state);
/* Smallest standard rating of a kind that is at least `least_a` and at most `most_a`; NAN where there is
 * none. */
double tv_fuse_standard_rating_a(enum tailvolt_fuse_kind kind, double least_a, double most_a);
/* Largest standard rating of a kind that is at most `most_a`; NAN where even the smallest is larger. */
double tv_fuse_largest_rating_a(enum tailvolt_fuse_kind kind, double most_a);
/* Largest fault current a kind can break: ISO 8820-3 (blades) 1000 A, ISO 8820-5 (bolt-down) 2000 A.
 */
double tv_fuse_breaking_capacity_a(enum tailvolt_fuse_kind kind);
/* Share of its rating that a fuse carries in air of `air_c`: 1 at 25 C, less above. */
double tv_fuse_rerating_frac(double air_c);
/* Load a fuse carries for hours without ageing: 75 % of the rating, less in hot air. */
double tv_fuse_continuous_a(double rating_a, double air_c);
/* What the fuse before a converter must not be below: that gives its full output from a 12 V battery, for hours. */
double tv_fuse_for_converter_a(double output_v, double output_a, double efficiency_frac);

#endif
