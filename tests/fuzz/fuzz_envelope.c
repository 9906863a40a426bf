/* Any bytes as an envelope file (first byte 'c') or a style file (any other): never a crash or a silent refusal, and
 * anything accepted plays within its bounds at any time. */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "input/envelope_csv.h"
#include "input/programme_read.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void play(const struct tailvolt_programme *spec, double most) {
  struct tv_programme *programme = NULL;
  struct tv_programme_cursor cursor;
  char error[TAILVOLT_TEXT_MAX] = "";
  memset(&cursor, 0, sizeof cursor);
  enum tailvolt_status status = tv_programme_create(spec, "", NULL, &programme, error);
  if (status != TAILVOLT_OK) {
    if (status != TAILVOLT_BAD_INPUT || error[0] == '\0') abort();
    return;
  }
  for (int k = 0; k < 300; k++) {
    /* steps, jumps and long spans, before and after time zero */
    double t0_s = k % 50 == 0 ? 37.7 * k - 4000.0 : 1e-3 * k, span_s = k % 7 == 0 ? 0.01 * k * k + 1e-4 : 1e-3;
    double mean = tv_programme_mean(programme, &cursor, t0_s, t0_s + span_s);
    if (!(mean >= -1e-9 && mean <= most * (1.0 + 1e-9))) abort();
  }
  tv_programme_free(programme);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  static char path[128];
  if (size < 1) return 0;
  if (path[0] == '\0') {
    const char *where = getenv("TMPDIR");
    snprintf(path, sizeof path, "%s/tailvolt-fuzz-%ld.ini", where != NULL ? where : "/tmp", (long)getpid());
  }
  FILE *file = fopen(path, "wb");
  if (file == NULL) abort();
  if (size > 1 && fwrite(data + 1, 1, size - 1, file) != size - 1) abort();
  fclose(file);
  struct tailvolt_programme spec;
  memset(&spec, 0, sizeof spec);
  spec.crest_db = spec.tempo_per_min = spec.decay_s = spec.bass_hz = (double)NAN;
  if (data[0] == 'c') {
    spec.bass_hz = 0.0;
    memcpy(spec.envelope, path, sizeof path);
    play(&spec, TV_SHARE_MAX);
  } else {
    memcpy(spec.style, path, sizeof path);
    play(&spec, 2.0);
  }
  unlink(path);
  return 0;
}
