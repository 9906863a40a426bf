/* Replaces sound_file.c where libsndfile is not available (WebAssembly): only WAV files of 32-bit floats, the form in which the
 * page hands over what the browser has decoded.
 *
 * RIFF: "RIFF" size "WAVE", then chunks of a name, a size and that many bytes, padded to even (RFC 2361 for the format number).
 * Numbers are little-endian. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/sound_file.h"

enum { FORMAT_FLOAT = 3, CHANNELS_MOST = 32, BLOCK_FRAMES = 1024 };

static unsigned long whole(const unsigned char *at, int bytes) {
  unsigned long value = 0;
  for (int k = bytes - 1; k >= 0; k--) value = value << 8 | at[k];
  return value;
}

static enum tailvolt_status refuse(char *error) {
  snprintf(error, TAILVOLT_TEXT_MAX, "not decoded: only WAV files of 32-bit floats are read here");
  return TAILVOLT_BAD_INPUT;
}

/* Reads up to the first sample. */
static bool read_header(struct tv_sound_file *file, FILE *from) {
  unsigned char head[16];
  bool known = false;
  if (fread(head, 1, 12, from) != 12 || memcmp(head, "RIFF", 4) != 0 || memcmp(head + 8, "WAVE", 4) != 0) return false;
  while (fread(head, 1, 8, from) == 8) {
    unsigned long size = whole(head + 4, 4);
    if (memcmp(head, "data", 4) == 0) {
      file->declared_frames = known ? (long long)(size / (4ul * (unsigned long)file->channels)) : 0;
      return known;
    }
    if (memcmp(head, "fmt ", 4) == 0) {
      if (size < 16 || fread(head, 1, 16, from) != 16) return false;
      file->channels = (int)whole(head + 2, 2);
      file->rate_hz = (double)whole(head + 4, 4);
      known = whole(head, 2) == FORMAT_FLOAT && whole(head + 14, 2) == 32 && file->channels >= 1 &&
              file->channels <= CHANNELS_MOST && file->rate_hz >= 1.0;
      if (!known) return false;
      size -= 16;
    }
    /* a size that a 32-bit long cannot hold would lead backwards */
    if (size > 0x7ffffff0ul || fseek(from, (long)(size + (size & 1)), SEEK_CUR) != 0) return false;
  }
  return false;
}

enum tailvolt_status tv_sound_file_open(struct tv_sound_file *file, const char *path, char *error) {
  memset(file, 0, sizeof *file);
  file->declared_ratio = 1.0;
  FILE *from = fopen(path, "rb");
  if (from == NULL) {
    snprintf(error, TAILVOLT_TEXT_MAX, "cannot be opened: give the page this recording too");
    return TAILVOLT_NOT_READABLE;
  }
  file->handle = from;
  return read_header(file, from) ? TAILVOLT_OK : refuse(error);
}

size_t tv_sound_file_frames(struct tv_sound_file *file, double *samples, size_t frames) {
  unsigned char bytes[4 * BLOCK_FRAMES];
  size_t channels = (size_t)file->channels, done = 0, each = BLOCK_FRAMES / channels;
  while (done < frames) {
    size_t wanted = frames - done < each ? frames - done : each;
    size_t got = fread(bytes, 4 * channels, wanted, file->handle);
    for (size_t k = 0; k < got * channels; k++) {
      float sample;
      unsigned int bits = (unsigned int)whole(bytes + 4 * k, 4);
      memcpy(&sample, &bits, sizeof sample);
      samples[done * channels + k] = (double)sample;
    }
    done += got;
    if (got < wanted) break;
  }
  return done;
}

void tv_sound_file_length(const struct tv_sound_file *file, long long read_frames, double *declared_s, bool *truncated) {
  *declared_s = file->rate_hz > 0.0 ? (double)file->declared_frames / file->rate_hz : (double)NAN;
  *truncated = read_frames < file->declared_frames;
}

void tv_sound_file_close(struct tv_sound_file *file) {
  if (file->handle != NULL) fclose(file->handle);
  file->handle = NULL;
}
