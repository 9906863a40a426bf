/* Speed of the recording reader: times real time for 44.1 kHz stereo, with and without a crossover, and of the
 * programme's mean for one step. `bench_envelope --check` returns 1 where a budget is missed. */
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "support/assert_near.h"

#include "input/programme_read.h"
#include "tailvolt/envelope.h"

#define BUDGET_REAL_TIME 500.0 /* WAV, with crossover */
#define BUDGET_STEP_NS 15.0
#define DURATION_S 120

static double now_s(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Noise in beats: coders take short cuts on silence and tones. */
static int write_noise(const char *path, int format) {
  static double block[44100 * 2];
  SF_INFO info;
  unsigned random = 1;
  memset(&info, 0, sizeof info);
  info.format = format;
  info.samplerate = 44100;
  info.channels = 2;
  SNDFILE *file = sf_open(path, SFM_WRITE, &info);
  if (file == NULL) return 1;
  for (int second = 0; second < DURATION_S; second++) {
    for (int i = 0; i < 44100 * 2; i++) {
      random = random * 1664525u + 1013904223u;
      block[i] = 0.9 * exp(-(double)(i % 44100) / 9000.0) * ((double)(random >> 8) / 8388608.0 - 1.0);
    }
    if (sf_writef_double(file, block, 44100) != 44100) return 1;
  }
  return sf_close(file);
}

static double times_real_time(const char *path, double below_hz) {
  static struct tailvolt_faults faults;
  double best = 0.0;
  for (int k = 0; k < 3; k++) {
    struct tailvolt_envelope_options options = tailvolt_default_envelope_options();
    struct tailvolt_envelope *envelope = NULL;
    options.below_hz = below_hz;
    double begun_s = now_s();
    if (tailvolt_envelope_read(path, &options, &envelope, &faults) != TAILVOLT_OK) exit(3);
    best = fmax(best, envelope->duration_s / (now_s() - begun_s));
    tailvolt_envelope_free(envelope);
  }
  return best;
}

static double step_ns(double crest_db, double step_s) {
  struct tailvolt_programme spec;
  struct tv_programme_cursor cursor;
  struct tv_programme *programme = NULL;
  char error[TAILVOLT_TEXT_MAX];
  double best_ns = HUGE_VAL, sum = 0.0;
  memset(&spec, 0, sizeof spec);
  spec.crest_db = crest_db;
  spec.tempo_per_min = 120.0;
  spec.decay_s = 0.12;
  if (tv_programme_create(&spec, "", NULL, &programme, error) != TAILVOLT_OK) exit(3);
  for (int round = 0; round < 3; round++) {
    const long steps = 3000000;
    double begun_s = now_s(), t0_s = 0.0;
    memset(&cursor, 0, sizeof cursor);
    for (long k = 1; k <= steps; k++) {
      double t1_s = (double)k * step_s;
      sum += tv_programme_mean(programme, &cursor, t0_s, t1_s);
      t0_s = t1_s;
    }
    best_ns = fmin(best_ns, (now_s() - begun_s) * 1e9 / (double)steps);
  }
  tv_programme_free(programme);
  return sum > 0.0 ? best_ns : HUGE_VAL;
}

int main(int count, char **words) {
  static const struct {
    const char *name;
    int format;
  } kind[] = {{"WAV 16 bit", SF_FORMAT_WAV | SF_FORMAT_PCM_16},
              {"FLAC 16 bit", SF_FORMAT_FLAC | SF_FORMAT_PCM_16},
              {"OGG", SF_FORMAT_OGG | SF_FORMAT_VORBIS}};
  const char *where = getenv("TMPDIR");
  char path[256];
  int missed = 0;
  snprintf(path, sizeof path, "%s/tailvolt-bench-XXXXXX", where != NULL ? where : "/tmp");
  int place = mkstemp(path);
  if (place < 0) return 3;
  close(place);
  printf("%-12s %14s %18s   (times real time, 44.1 kHz stereo)\n", "file", "whole band", "below 80 Hz");
  for (int k = 0; k < 3; k++) {
    if (write_noise(path, kind[k].format) != 0) return 3;
    double whole = times_real_time(path, 0.0), below = times_real_time(path, 80.0);
    printf("%-12s %14.0f %18.0f\n", kind[k].name, whole, below);
    if (k == 0 && below < BUDGET_REAL_TIME) missed = 1;
  }
  unlink(path);
  double coarse_ns = step_ns(12.0, 1e-3), fine_ns = step_ns(12.0, 1e-4);
  printf("programme mean: %.1f ns a step of 1 ms, %.1f ns of 0.1 ms\n", coarse_ns, fine_ns);
  if (coarse_ns > BUDGET_STEP_NS || fine_ns > BUDGET_STEP_NS) missed = 1;
  return count > 1 && strcmp(words[1], "--check") == 0 ? missed : 0;
}
