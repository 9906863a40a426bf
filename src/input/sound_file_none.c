/* In place of sound_file.c where libsndfile is not available. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "input/sound_file.h"

enum tailvolt_status tv_sound_file_open(struct tv_sound_file *file, const char *path, char *error) {
  (void)path;
  memset(file, 0, sizeof *file);
  snprintf(error, TAILVOLT_TEXT_MAX, "this build reads no recordings; turn it into an envelope first");
  return TAILVOLT_NOT_READABLE;
}

size_t tv_sound_file_frames(struct tv_sound_file *file, double *samples, size_t frames) {
  (void)file, (void)samples, (void)frames;
  return 0;
}

void tv_sound_file_length(const struct tv_sound_file *file, long long read_frames, double *declared_s,
                          bool *truncated) {
  (void)file, (void)read_frames;
  *declared_s = (double)NAN;
  *truncated = false;
}

void tv_sound_file_close(struct tv_sound_file *file) {
  file->handle = NULL;
}
