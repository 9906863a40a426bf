/* The one place that knows how sound files are read: samples as numbers, and whether the file is whole.
 *
 * sound_file.c reads them by libsndfile. Where that is not available (WebAssembly: the browser decodes), the build takes
 * sound_file_float.c in its place, which reads WAV files of floats alone. */
#ifndef TV_INPUT_SOUND_FILE_H
#define TV_INPUT_SOUND_FILE_H

#include <stdbool.h>
#include <stddef.h>

#include "tailvolt/status.h"

struct tv_sound_file {
  void *handle; /* NULL = not open */
  double rate_hz;
  int channels;
  int format;                /* the library's */
  long long declared_frames; /* its own idea of the length */
  double declared_ratio;     /* size that the header declares to what is there of it; 1 = whole */
};

/* TAILVOLT_OK, _NOT_READABLE, _BAD_INPUT; `error` says why. Close it in either case. */
TAILVOLT_CHECKED enum tailvolt_status tv_sound_file_open(struct tv_sound_file *file, const char *path,
                                                         char *error);
/* Reads up to `frames` frames of all channels; 0 at the end. */
size_t tv_sound_file_frames(struct tv_sound_file *file, double *samples, size_t frames);
/* After the last read: length that the file declares (NAN = it does not say), and whether less than that was there. */
void tv_sound_file_length(const struct tv_sound_file *file, long long read_frames, double *declared_s,
                          bool *truncated);
void tv_sound_file_close(struct tv_sound_file *file);

#endif
