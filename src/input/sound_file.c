#include "input/sound_file.h"
#include "text/unfit.h"

#include <errno.h>
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#define FORMAT_MPEG 0x230000 /* SF_FORMAT_MPEG, which older headers lack */

static enum tailvolt_status refuse(char *error, enum tailvolt_status status, const char *text) {
  snprintf(error, TAILVOLT_TEXT_MAX, "%s", text);
  return status;
}

/* A WAV or AIFF file cut short: libsndfile silently reads what is there, so the header is read here. Both formats are a
 * sequence of chunks, each a four-letter name, a size, and that many bytes, padded to an even count; WAV numbers are
 * little-endian, AIFF big-endian (Microsoft and IBM, RIFF 1991; Apple, AIFF-C 1991). Sizes near 2^31 and 2^32 are what
 * a program writing to a pipe puts in for "unknown".
 * Returns the declared size of the samples over what is there of them, 1 where nothing is missing, NAN when out of memory. */
static double declared_ratio(const char *path, long long length) {
  unsigned char head[12];
  double ratio = 1.0;
  FILE *stream = fopen(path, "rb");
  if (stream == NULL) return errno == ENOMEM ? (double)NAN : ratio;
  bool wav = fread(head, 1, sizeof head, stream) == sizeof head && memcmp(head, "RIFF", 4) == 0;
  bool aiff = !wav && memcmp(head, "FORM", 4) == 0 && memcmp(head + 8, "AIF", 3) == 0;
  for (long long at = 12; (wav || aiff) && fread(head, 1, 8, stream) == 8;) {
    long long size = 0, present = length - at - 8;
    for (int k = 0; k < 4; k++) size = size << 8 | head[wav ? 7 - k : 4 + k];
    if (memcmp(head, wav ? "data" : "SSND", 4) == 0) {
      bool unknown = (size >= 2147400000 && size <= 2147483648) || size >= 4294900000;
      if (!unknown && present > 0 && size > present) ratio = (double)size / (double)present;
      break;
    }
    at += 8 + size + size % 2;
    if (at >= length || fseek(stream, (long)at, SEEK_SET) != 0) break;
  }
  fclose(stream);
  return ratio;
}

/* Decoders do not all survive a failed allocation: what they take is asked for, and given back, before. */
static bool has_room(void) {
  const size_t most = 4u << 20;
  void *room = malloc(most);
  free(room);
  return room != NULL;
}

/* Opens the file, or says why not in the words of someone looking at a folder, not at a header. */
enum tailvolt_status tv_sound_file_open(struct tv_sound_file *file, const char *path, char *error) {
  struct stat about;
  SF_INFO info;
  memset(file, 0, sizeof *file);
  memset(&info, 0, sizeof info);
  if (stat(path, &about) != 0) return refuse(error, TAILVOLT_NOT_READABLE, strerror(errno));
  if (S_ISDIR(about.st_mode)) return refuse(error, TAILVOLT_NOT_READABLE, "is a folder, not a recording");
  const char *unfit = tv_unfit(path, false);
  if (unfit != NULL) return refuse(error, TAILVOLT_NOT_READABLE, unfit);
  if (S_ISREG(about.st_mode) && about.st_size == 0)
    return refuse(error, TAILVOLT_BAD_INPUT, "the file is empty (0 bytes)");
  if (!has_room()) return TAILVOLT_NO_MEMORY;
  errno = 0;
  file->handle = sf_open(path, SFM_READ, &info);
  if (file->handle == NULL && errno == ENOMEM) return TAILVOLT_NO_MEMORY;
  if (file->handle == NULL) {
    snprintf(error, TAILVOLT_TEXT_MAX, "cannot be read as a recording: %.180s", sf_strerror(NULL));
    return TAILVOLT_BAD_INPUT;
  }
  if (info.channels < 1 || info.samplerate < 1)
    return refuse(error, TAILVOLT_BAD_INPUT, "has no channels or no sampling rate");
  file->rate_hz = info.samplerate;
  file->channels = info.channels;
  file->format = info.format;
  file->declared_frames = info.frames;
  file->declared_ratio = S_ISREG(about.st_mode) ? declared_ratio(path, (long long)about.st_size) : 1.0;
  return isnan(file->declared_ratio) ? TAILVOLT_NO_MEMORY : TAILVOLT_OK;
}

size_t tv_sound_file_frames(struct tv_sound_file *file, double *samples, size_t frames) {
  sf_count_t got = sf_readf_double(file->handle, samples, (sf_count_t)frames);
  return got > 0 ? (size_t)got : 0;
}

/* What the file declares against what could be read. An unknown length shows as the greatest possible count; in an
 * OGG stream that means the last page is missing. The length of an MPEG stream is an estimate. */
void tv_sound_file_length(const struct tv_sound_file *file, long long read_frames, double *declared_s,
                          bool *truncated) {
  int type = file->format & SF_FORMAT_TYPEMASK;
  bool known = file->declared_frames > 0 && file->declared_frames < SF_COUNT_MAX;
  double spare = type == FORMAT_MPEG ? 0.1 * file->rate_hz : 0.5;
  *declared_s = (double)NAN;
  if (known) *declared_s = (double)file->declared_frames / file->rate_hz * file->declared_ratio;
  *truncated = sf_error(file->handle) != SF_ERR_NO_ERROR || (!known && type == SF_FORMAT_OGG) ||
               *declared_s * file->rate_hz > (double)read_frames + spare;
}

void tv_sound_file_close(struct tv_sound_file *file) {
  if (file->handle != NULL) sf_close(file->handle);
  file->handle = NULL;
}
