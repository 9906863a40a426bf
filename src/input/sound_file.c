#include "input/sound_file.h"

#include <errno.h>
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "text/read_number.h"

#define FORMAT_MPEG 0x230000 /* SF_FORMAT_MPEG, which older headers lack */

static enum tailvolt_status refuse(char *error, enum tailvolt_status status, const char *text) {
  snprintf(error, TAILVOLT_TEXT_MAX, "%s", text);
  return status;
}

/* Opens the file, or says why not in words of one who looks at a folder, not at a header. */
enum tailvolt_status tv_sound_file_open(struct tv_sound_file *file, const char *path, char *error) {
  struct stat about;
  SF_INFO info;
  memset(file, 0, sizeof *file);
  memset(&info, 0, sizeof info);
  if (stat(path, &about) != 0) return refuse(error, TAILVOLT_NOT_READABLE, strerror(errno));
  if (S_ISDIR(about.st_mode)) return refuse(error, TAILVOLT_NOT_READABLE, "is a folder, not a recording");
  if (S_ISREG(about.st_mode) && about.st_size == 0)
    return refuse(error, TAILVOLT_BAD_INPUT, "the file is empty (0 bytes)");
  file->handle = sf_open(path, SFM_READ, &info);
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
  return TAILVOLT_OK;
}

size_t tv_sound_file_frames(struct tv_sound_file *file, double *samples, size_t frames) {
  sf_count_t got = sf_readf_double(file->handle, samples, (sf_count_t)frames);
  return got > 0 ? (size_t)got : 0;
}

/* Reads the number behind `label` at `text`; false where there is none. */
static bool number_behind(const char *text, const char *label, double *value) {
  const char *at = strstr(text, label);
  if (at == NULL) return false;
  at += strlen(label);
  while (*at == ' ') at++;
  return tv_parse_leading_number(at, strlen(at), value) > 0;
}

/* A WAV or AIFF file cut short: libsndfile quietly takes what is there, but its log shows both sizes as
 * "data : DECLARED (should be PRESENT)". Sizes near 2^31 and 2^32 are what a writer to a pipe puts in for "unknown".
 * Returns the ratio of declared to present, 1 where nothing is missing. */
static double declared_ratio(SNDFILE *file) {
  static const char *const chunk[] = {"\ndata : ", "\n SSND : "};
  char log[16384];
  memset(log, 0, sizeof log);
  sf_command(file, SFC_GET_LOG_INFO, log, (int)sizeof log - 1);
  for (size_t k = 0; k < sizeof chunk / sizeof chunk[0]; k++) {
    double declared, present;
    const char *line = strstr(log, chunk[k]);
    if (line == NULL || !number_behind(line, chunk[k], &declared)) continue;
    const char *line_end = strchr(line + 1, '\n');
    const char *remark = strstr(line, "(should be ");
    if (remark == NULL || (line_end != NULL && remark > line_end)) continue;
    if (!number_behind(remark, "(should be ", &present) || present <= 0.0 || declared <= present) continue;
    if (declared >= 2147400000.0 && declared <= 2147483648.0) continue;
    if (declared >= 4294900000.0) continue;
    return declared / present;
  }
  return 1.0;
}

/* What the file says it holds, against what could be read. An unknown length is shown as the greatest count there is;
 * in an OGG stream that means that its last page is missing. The length of an MPEG stream is an estimate. */
void tv_sound_file_length(const struct tv_sound_file *file, long long read_frames, double *declared_s,
                          bool *truncated) {
  int type = file->format & SF_FORMAT_TYPEMASK;
  bool known = file->declared_frames > 0 && file->declared_frames < SF_COUNT_MAX;
  double spare = type == FORMAT_MPEG ? 0.1 * file->rate_hz : 0.5;
  *declared_s = (double)NAN;
  if (known) *declared_s = (double)file->declared_frames / file->rate_hz * declared_ratio(file->handle);
  *truncated = sf_error(file->handle) != SF_ERR_NO_ERROR || (!known && type == SF_FORMAT_OGG) ||
               *declared_s * file->rate_hz > (double)read_frames + spare;
}

void tv_sound_file_close(struct tv_sound_file *file) {
  if (file->handle != NULL) sf_close(file->handle);
  file->handle = NULL;
}
