/* Walks through the wiring for the safety rules: what is joined to what, by which cable, how far apart. */
#ifndef TV_SIMULATE_SAFETY_GRAPH_H
#define TV_SIMULATE_SAFETY_GRAPH_H

#include <stdbool.h>

#include "simulate/safety.h"

enum tv_weight { TV_BY_LENGTH, TV_BY_RESISTANCE };
/* What a walk may pass: all but fuses, everything, all but converters, or no isolator of any kind. */
enum tv_through { TV_NO_FUSES, TV_ALL, TV_NO_CONVERTERS, TV_CABLES_ALONE };

/* Shortest paths from one point. Edge k below conductor_count is a conductor, above it an isolator. */
struct tv_reach {
  double *far;   /* [point] metres of cable or ohms; INFINITY = not reached */
  int *edge;     /* [point] edge by which it was reached; -1 at the start */
  int *previous; /* [point] point before it */
  bool *settled; /* [point] */
};

TAILVOLT_CHECKED enum tailvolt_status tv_reach_create(const struct tailvolt_system *system,
                                                      struct tv_reach *reach);
void tv_reach_free(struct tv_reach *reach);
/* Walks from `start`. Diodes and converters are passed only from `from` to `to`. */
void tv_reach_walk(const struct tailvolt_system *system, int start, enum tv_weight weight, enum tv_through through,
                   struct tv_reach *reach);
bool tv_reached(const struct tv_reach *reach, int point);

/* True for what warms up and needs a fuse: cables and straps. */
bool tv_is_cable(const struct tailvolt_conductor *conductor);

/* What the fuses of a system protect, seen from all batteries. */
struct tv_protection {
  struct tv_reach reach;   /* scratch */
  bool *positive, *ground; /* [point] side */
  bool *unfused;           /* [conductor] cable with no fuse between it and some battery */
  bool *by;                /* [fuse conductor * conductor_count + cable]: last fuse before the cable */
};

TAILVOLT_CHECKED enum tailvolt_status tv_protection_create(const struct tailvolt_system *system,
                                                           struct tv_protection *protection);
void tv_protection_free(struct tv_protection *protection);

#endif
