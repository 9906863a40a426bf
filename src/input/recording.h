/* Recordings (WAV, FLAC, OGG and whatever else libsndfile reads): levels and mean squares of short windows.
 *
 * Sound is streamed in blocks; only one number per window is kept. All channels count alike: the mean square is over
 * channels and time, the peak is that of the loudest channel. */
#ifndef TV_INPUT_RECORDING_H
#define TV_INPUT_RECORDING_H

#include <stdbool.h>

#include "tailvolt/status.h"

#define TV_WINDOW_MIN_S 1e-3
#define TV_WINDOW_MAX_S 10.0

struct tv_recording_options {
  double window_s;
  double below_hz, above_hz; /* crossover; 0 = none */
  bool mono;                 /* the mean of all channels first */
};

struct tv_recording_level {
  double peak;        /* largest absolute sample, 1 = full scale */
  double mean_square; /* over channels and time */
};

struct tv_recording {
  double rate_hz;
  int channels;
  long long frames;     /* read: samples of one channel */
  double duration_s;
  double declared_s;    /* NAN where the file does not say */
  bool truncated;       /* ended before its declared length */
  bool filtered;
  struct tv_recording_level whole, band; /* band: after the crossover, else the same as whole */
  double window_s;
  long window_count;    /* the last one may be shorter */
  double *mean_square;  /* [window_count], of the band */
};

/* TAILVOLT_OK, _NO_MEMORY, _NOT_READABLE where the file cannot be opened, _BAD_INPUT where it holds nothing usable;
 * `error` (TAILVOLT_TEXT_MAX bytes) says why, without the file's name. */
TAILVOLT_CHECKED enum tailvolt_status tv_recording_read(const char *path, const struct tv_recording_options *options,
                                                        struct tv_recording *out, char *error);
void tv_recording_free(struct tv_recording *recording);

#endif
