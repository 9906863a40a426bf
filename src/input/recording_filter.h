/* Fourth-order Linkwitz-Riley crossover: two equal second-order Butterworth sections in series, 6 dB down at
 * the crossover frequency, 24 dB per octave (Linkwitz, J. Audio Eng. Soc. 24(1), 1976; value from memory). */
#ifndef TV_INPUT_RECORDING_FILTER_H
#define TV_INPUT_RECORDING_FILTER_H

#include <stdbool.h>
#include <stddef.h>

struct tv_section {
  double b0, b1, b2, a1, a2;
};

/* State of the two sections for one channel. */
struct tv_crossover_state {
  double first[2], second[2];
};

/* One section of the low or high pass at a sampling rate; frequency_hz below half of it. */
struct tv_section tv_crossover_section(bool high_pass, double frequency_hz, double rate_hz);

/* Filters `count` samples, `stride` apart, in place. */
void tv_crossover_run(const struct tv_section *section, struct tv_crossover_state *state, double *sample,
                      size_t count, size_t stride);

#endif
