/* Real music and sounds, where a distribution's packages of free games and desktop sounds are installed: levels and
 * envelope against a plain calculation over the whole file and, where it is installed, against sox. Nothing is
 * shipped; without such packages the test is skipped. */
#include <dirent.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "support/assert_near.h"
#include "tailvolt/envelope.h"

#define FILES_MAX 60
#define PATH_ROOM 512

static char found[FILES_MAX][PATH_ROOM];
static int found_count;

static int is_recording(const char *name) {
  const char *end = strrchr(name, '.');
  return end != NULL && (strcmp(end, ".ogg") == 0 || strcmp(end, ".oga") == 0 || strcmp(end, ".wav") == 0 ||
                         strcmp(end, ".flac") == 0);
}

static void search(const char *folder, int depth, int limit) {
  DIR *dir = opendir(folder);
  if (dir == NULL) return;
  for (struct dirent *entry; found_count < limit && (entry = readdir(dir)) != NULL;) {
    char path[PATH_ROOM];
    struct stat about;
    if (entry->d_name[0] == '.') continue;
    if (snprintf(path, sizeof path, "%s/%s", folder, entry->d_name) >= (int)sizeof path) continue;
    if (stat(path, &about) != 0) continue;
    if (S_ISDIR(about.st_mode) && depth > 0) search(path, depth - 1, limit);
    if (S_ISREG(about.st_mode) && about.st_size > 0 && is_recording(path))
      memcpy(found[found_count++], path, sizeof path);
  }
  closedir(dir);
}

struct plain {
  double *sample;
  long frames;
  int channels, rate_hz;
  double peak, rms;
};

static struct plain read_plainly(const char *path) {
  struct plain plain = {0};
  SF_INFO info;
  memset(&info, 0, sizeof info);
  SNDFILE *file = sf_open(path, SFM_READ, &info);
  if (file == NULL || info.frames > 48000L * 1200) {
    if (file != NULL) sf_close(file);
    return plain;
  }
  plain.sample = malloc((size_t)info.frames * (size_t)info.channels * sizeof(double));
  assert_non_null(plain.sample);
  plain.frames = (long)sf_readf_double(file, plain.sample, info.frames);
  plain.channels = info.channels;
  plain.rate_hz = info.samplerate;
  sf_close(file);
  long double sum = 0.0L;
  for (long i = 0; i < plain.frames * plain.channels; i++) {
    long double x = plain.sample[i];
    sum += x * x;
    if (fabs(plain.sample[i]) > plain.peak) plain.peak = fabs(plain.sample[i]);
  }
  plain.rms = sqrt((double)(sum / ((long double)plain.frames * plain.channels)));
  return plain;
}

/* Windows that are whole numbers of samples (44.1 and 48 kHz), one by one. */
static void compare_windows(const struct tailvolt_envelope *envelope, const struct plain *plain) {
  if (plain->rate_hz % 100 != 0) return;
  long length = plain->rate_hz / 100;
  for (long w = 0; w + 1 < envelope->window_count; w++) {
    double sum = 0.0;
    for (long i = w * length * plain->channels; i < (w + 1) * length * plain->channels; i++)
      sum += plain->sample[i] * plain->sample[i];
    double share = 2.0 * sum / (double)(length * plain->channels) / (plain->peak * plain->peak);
    assert_near(envelope->share_frac[w], share, 1e-9);
  }
}

/* sox prints its findings on standard error. It decodes OGG to 16 bits, clipped at full scale. */
static int compare_with_sox(const char *path, const struct tailvolt_envelope *envelope) {
  char command[PATH_ROOM + 64], line[256];
  double most = (double)NAN, least = (double)NAN, rms = (double)NAN;
  if (strpbrk(path, "'\\") != NULL) return 0;
  snprintf(command, sizeof command, "sox '%s' -n stat 2>&1", path);
  FILE *pipe = popen(command, "r");
  if (pipe == NULL) return 0;
  while (fgets(line, sizeof line, pipe) != NULL) {
    const char *value = strchr(line, ':');
    if (strstr(line, "Maximum amplitude") != NULL) most = strtod(value + 1, NULL);
    if (strstr(line, "Minimum amplitude") != NULL) least = strtod(value + 1, NULL);
    if (strstr(line, "RMS     amplitude") != NULL) rms = strtod(value + 1, NULL);
  }
  if (pclose(pipe) != 0 || isnan(most) || isnan(least) || isnan(rms)) return 0;
  double peak = pow(10.0, envelope->whole.peak_dbfs / 20.0);
  assert_near(fmin(peak, 1.0), fmax(most, -least), 5e-5);
  if (peak < 1.0) assert_near(pow(10.0, envelope->whole.rms_dbfs / 20.0), rms, 5e-5);
  return 1;
}

static void shipped_recordings_agree_with_plain_sums(void **state) {
  (void)state;
  int read = 0, with_sox = 0;
  double seconds = 0.0, least_db = HUGE_VAL, most_db = 0.0;
  for (int k = 0; k < found_count; k++) {
    static struct tailvolt_faults faults;
    struct tailvolt_envelope *envelope = NULL;
    struct plain plain = read_plainly(found[k]);
    if (plain.sample == NULL || plain.frames == 0 || plain.peak <= 0.0) {
      free(plain.sample);
      continue;
    }
    if (tailvolt_envelope_read(found[k], NULL, &envelope, &faults) != TAILVOLT_OK)
      fail_msg("%s: %s", found[k], faults.fault[0].message);
    assert_int_equal(envelope->frames, plain.frames);
    assert_near(envelope->whole.peak_dbfs, 20.0 * log10(plain.peak), 1e-9);
    assert_near(envelope->whole.rms_dbfs, 20.0 * log10(plain.rms), 1e-9);
    assert_near(envelope->mean_share_frac, 2.0 * plain.rms * plain.rms / (plain.peak * plain.peak), 1e-9);
    compare_windows(envelope, &plain);
    with_sox += compare_with_sox(found[k], envelope);
    read++;
    seconds += envelope->duration_s;
    if (envelope->duration_s > 20.0) {
      least_db = fmin(least_db, envelope->whole.crest_factor_db);
      most_db = fmax(most_db, envelope->whole.crest_factor_db);
    }
    tailvolt_envelope_free(envelope);
    free(plain.sample);
  }
  printf("%d recordings, %.0f s, %d of them also by sox", read, seconds, with_sox);
  if (most_db > 0.0) printf("; crest factor of those above 20 s: %.1f to %.1f dB", least_db, most_db);
  printf("\n");
  assert_true(read > 0);
}

int main(void) {
  search("/usr" "/share/games", 4, FILES_MAX / 2);
  search("/usr" "/share/sounds", 4, FILES_MAX);
  if (found_count == 0) {
    printf("skipped: no package with free music or sounds is installed\n");
    return 77;
  }
  const struct CMUnitTest tests[] = {cmocka_unit_test(shipped_recordings_agree_with_plain_sums)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
