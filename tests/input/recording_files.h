/* Recordings made by a test in its own temporary folder. */
#ifndef TAILVOLT_TEST_RECORDING_FILES_H
#define TAILVOLT_TEST_RECORDING_FILES_H

#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "support/assert_near.h"

#define PI 3.14159265358979323846

static char folder[96];

static inline int make_folder(void **state) {
  (void)state;
  const char *where = getenv("TMPDIR");
  snprintf(folder, sizeof folder, "%s/tailvolt-XXXXXX", where != NULL ? where : "/tmp");
  return mkdtemp(folder) == NULL;
}

static inline int remove_folder(void **state) {
  (void)state;
  return rmdir(folder);
}

static inline const char *in_folder(const char *name) {
  static char path[2][192];
  static int turn;
  turn = !turn;
  snprintf(path[turn], sizeof path[turn], "%s/%s", folder, name);
  return path[turn];
}

/* A sample of channel c at frame n. */
typedef double signal_of(const void *about, long n, int c);

static inline const char *make_recording(const char *name, int format, int rate_hz, int channels, long frames,
                                         signal_of *signal, const void *about) {
  const char *path = in_folder(name);
  SF_INFO info;
  memset(&info, 0, sizeof info);
  info.format = format;
  info.samplerate = rate_hz;
  info.channels = channels;
  SNDFILE *file = sf_open(path, SFM_WRITE, &info);
  if (file == NULL) fail_msg("%s: %s", path, sf_strerror(NULL));
  double *block = malloc(4096 * (size_t)channels * sizeof *block);
  assert_non_null(block);
  for (long at = 0; at < frames;) {
    long count = frames - at < 4096 ? frames - at : 4096;
    for (long i = 0; i < count; i++)
      for (int c = 0; c < channels; c++) block[i * channels + c] = signal(about, at + i, c);
    assert_int_equal(sf_writef_double(file, block, count), count);
    at += count;
  }
  free(block);
  assert_int_equal(sf_close(file), 0);
  return path;
}

static inline void copy_path(char *to, size_t size, const char *from) {
  assert_true(strlen(from) < size);
  memcpy(to, from, strlen(from) + 1);
}

/* Keeps the first `part` of a file. */
static inline const char *cut_file(const char *name, double part) {
  const char *path = in_folder(name);
  FILE *file = fopen(path, "rb");
  assert_non_null(file);
  assert_int_equal(fseek(file, 0, SEEK_END), 0);
  long length = (long)((double)ftell(file) * part);
  fclose(file);
  assert_int_equal(truncate(path, length), 0);
  return path;
}

static inline const char *write_bytes(const char *name, const void *bytes, size_t count) {
  const char *path = in_folder(name);
  FILE *file = fopen(path, "wb");
  assert_non_null(file);
  assert_int_equal(fwrite(bytes, 1, count, file), count);
  fclose(file);
  return path;
}

/* A tone of amplitude 10^(level/20); its peaks fall on frames where `period` (frames) is a multiple of four. */
struct tone {
  double level_db;
  long period;
};

static inline double tone_at(const void *about, long n, int c) {
  const struct tone *tone = about;
  (void)c;
  return pow(10.0, tone->level_db / 20.0) * sin(2.0 * PI * (double)(n % tone->period) / (double)tone->period);
}

#endif
