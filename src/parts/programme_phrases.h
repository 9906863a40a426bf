/* The slow level of generated music: bars, phrases, verses and breaks over a cycle of about two minutes. */
#ifndef TV_PARTS_PROGRAMME_PHRASES_H
#define TV_PARTS_PROGRAMME_PHRASES_H

#include <stdint.h>

#include "tailvolt/status.h"

#define TV_CYCLE_BEATS_MAX 2400 /* 120 s at 1200 beats a minute */

struct tv_phrases_spec {
  double mean_frac;      /* of the rated power, over the cycle; below 1 */
  double beat_s;
  double swing_1s_frac;  /* requested standard deviation of one-second mean power, relative to the mean */
  double swing_10s_frac; /* the same for ten seconds */
  unsigned long long seed;
};

/* Beats in a cycle: a multiple of 16, 16 at least, as many as fit into 120 s. */
int tv_phrases_beats(double beat_s);

/* Mean power of each beat of a cycle, level[tv_phrases_beats()], share of the rated power, none above 1. The mean over
 * the cycle is exact within rounding; the swings come as close to the requested ones as levels between 0 and 1 allow.
 * The loudest half minute comes first. TAILVOLT_OK or _NO_MEMORY. */
TAILVOLT_CHECKED enum tailvolt_status tv_phrases_make(const struct tv_phrases_spec *spec, double *level_frac);

/* A bijection of 64 bits in which every input bit moves about half of the output bits. */
uint64_t tv_scramble(uint64_t x);

#endif
