/* Levels, crossover and envelope of recordings with closed-form answers. */
#include "input/recording_files.h"

#include <gsl/gsl_fft_halfcomplex.h>
#include <gsl/gsl_rng.h>

#include "input/programme_read.h"
#include "tailvolt/envelope.h"
#include "tailvolt/report.h"

#define WAV_24 (SF_FORMAT_WAV | SF_FORMAT_PCM_24)
#define WAV_FLOAT (SF_FORMAT_WAV | SF_FORMAT_FLOAT)

static struct tailvolt_envelope *read_with(const char *path, const struct tailvolt_envelope_options *options) {
  static struct tailvolt_faults faults;
  struct tailvolt_envelope *envelope = NULL;
  enum tailvolt_status status = tailvolt_envelope_read(path, options, &envelope, &faults);
  if (status != TAILVOLT_OK) fail_msg("%s: %s", path, faults.count > 0 ? faults.fault[0].message : "no reason");
  assert_int_equal(faults.count, 0);
  return envelope;
}

/* A sine has a crest factor of 20 log10 sqrt 2 and delivers rated power when its peak is at clip. */
static void sine_has_3_01_db(void **state) {
  (void)state;
  static const int formats[] = {WAV_24, SF_FORMAT_FLAC | SF_FORMAT_PCM_24, WAV_FLOAT, SF_FORMAT_AIFF | SF_FORMAT_PCM_16};
  for (int k = 0; k < 4; k++) {
    struct tone tone = {-6.0, 480};
    const char *path = make_recording("sine", formats[k], 48000, 2, 96000, tone_at, &tone);
    struct tailvolt_envelope *envelope = read_with(path, NULL);
    assert_near(envelope->whole.crest_factor_db, 10.0 * log10(2.0), 0.0005);
    assert_near(envelope->whole.peak_dbfs, -6.0, 0.0005);
    assert_near(envelope->whole.rms_dbfs, -9.0103, 0.0005);
    assert_near(envelope->whole.mean_frac, 1.0, 1e-4);
    assert_near(envelope->mean_share_frac, 1.0, 1e-4);
    assert_near(envelope->duration_s, 2.0, 1e-12);
    assert_int_equal(envelope->window_count, 200);
    assert_int_equal(envelope->channels, 2);
    assert_false(envelope->truncated);
    for (long w = 0; w < 200; w++) assert_near(envelope->share_frac[w], 1.0, 1e-4);
    tailvolt_envelope_free(envelope);
    unlink(path);
  }
}

static void lossy_coding_changes_the_sine_little(void **state) {
  (void)state;
  struct tone tone = {-6.0, 480};
  const char *path = make_recording("sine.ogg", SF_FORMAT_OGG | SF_FORMAT_VORBIS, 48000, 2, 480000, tone_at, &tone);
  struct tailvolt_envelope *envelope = read_with(path, NULL);
  assert_near(envelope->whole.rms_dbfs, -9.0103, 0.1);
  assert_near(envelope->duration_s, 10.0, 1e-9);
  assert_false(envelope->truncated);
  tailvolt_envelope_free(envelope);
  unlink(path);
}

static double square_at(const void *about, long n, int c) {
  (void)about;
  (void)c;
  return n / 100 % 2 == 0 ? 0.5 : -0.5;
}

static void square_has_0_db(void **state) {
  (void)state;
  const char *path = make_recording("square.wav", WAV_24, 44100, 1, 44100, square_at, NULL);
  struct tailvolt_envelope *envelope = read_with(path, NULL);
  assert_near(envelope->whole.crest_factor_db, 0.0, 1e-9);
  assert_near(envelope->whole.mean_frac, 2.0, 1e-9);
  assert_near(envelope->mean_share_frac, 2.0, 1e-9);
  assert_near(envelope->peak_share_frac, 2.0, 1e-9);
  /* its peaks are at the clip level: nothing is lost at 0 dB, nothing gained above */
  assert_near(tailvolt_envelope_output_frac(envelope, 0.0), 2.0, 1e-9);
  assert_near_rel(tailvolt_envelope_output_frac(envelope, -3.0), 2.0 * pow(10.0, -0.3), 1e-9);
  assert_near(tailvolt_envelope_output_frac(envelope, 10.0), 2.0, 1e-9);
  tailvolt_envelope_free(envelope);
  unlink(path);
}

/* Two equal sines: 20 log10 2 = 6.02 dB (definition). */
static double two_tones_at(const void *about, long n, int c) {
  (void)about;
  (void)c;
  return 0.4 * sin(2.0 * PI * (double)n / 480.0) + 0.4 * sin(2.0 * PI * 5.0 * (double)n / 480.0);
}

static void two_equal_sines_have_6_02_db(void **state) {
  (void)state;
  const char *path = make_recording("two.wav", WAV_24, 48000, 1, 48000, two_tones_at, NULL);
  struct tailvolt_envelope *envelope = read_with(path, NULL);
  assert_near(envelope->whole.crest_factor_db, 6.0206, 0.0005);
  tailvolt_envelope_free(envelope);
  unlink(path);
}

/* Bursts of 200 ms every second, and steps of level: every window exact to 0.01 dB. */
static double bursts_at(const void *about, long n, int c) {
  struct tone tone = {-12.0, 48};
  (void)about;
  (void)c;
  return n % 48000 < 9600 ? tone_at(&tone, n, c) : 0.0;
}

static void tone_bursts_are_exact_to_a_hundredth_of_a_decibel(void **state) {
  (void)state;
  const char *path = make_recording("bursts.wav", WAV_24, 48000, 2, 480000, bursts_at, NULL);
  struct tailvolt_envelope *envelope = read_with(path, NULL);
  assert_near(envelope->whole.crest_factor_db, 10.0 * log10(2.0 / 0.2), 0.001);
  assert_near(envelope->mean_share_frac, 0.2, 0.2 * 0.0002);
  for (long w = 0; w < envelope->window_count; w++) {
    if (w % 100 < 20)
      assert_near(10.0 * log10(envelope->share_frac[w]), 0.0, 0.001);
    else
      assert_true(envelope->share_frac[w] < 1e-9);
  }
  tailvolt_envelope_free(envelope);
  unlink(path);
}

/* Levels of the loudness-meter signals of EBU Tech 3341 (-36, -23, -36 dBFS; value from memory), unweighted. */
static double steps_at(const void *about, long n, int c) {
  struct tone tone = {-36.0, 48};
  (void)about;
  if (n >= 480000 && n < 3360000) tone.level_db = -23.0;
  return tone_at(&tone, n, c);
}

static void level_steps_are_exact_against_full_scale(void **state) {
  (void)state;
  struct tailvolt_envelope_options options = tailvolt_default_envelope_options();
  options.reference = TAILVOLT_FULL_SCALE;
  const char *path = make_recording("steps.wav", WAV_24, 48000, 2, 3840000, steps_at, NULL);
  struct tailvolt_envelope *envelope = read_with(path, &options);
  assert_near(envelope->reference_dbfs, 0.0, 1e-12);
  assert_int_equal(envelope->window_count, 8000);
  for (long w = 0; w < 8000; w++)
    assert_near(10.0 * log10(envelope->share_frac[w]), w >= 1000 && w < 7000 ? -23.0 : -36.0, 0.001);
  tailvolt_envelope_free(envelope);
  unlink(path);
}

/* Pink noise of random phases, Gaussian as a sum of many: equal power in every octave by construction. */
#define PINK 1048576
struct pink {
  double *sample; /* unit variance */
  double limit;   /* clipped at this many standard deviations */
};

static struct pink make_pink(void) {
  struct pink pink = {malloc(PINK * sizeof(double)), 4.0};
  gsl_rng *random = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_fft_halfcomplex_wavetable *table = gsl_fft_halfcomplex_wavetable_alloc(PINK);
  gsl_fft_real_workspace *work = gsl_fft_real_workspace_alloc(PINK);
  assert_non_null(pink.sample);
  memset(pink.sample, 0, PINK * sizeof(double));
  double power = 0.0;
  for (size_t k = 400; k < PINK / 2 - 1; k++) { /* from 17 Hz at 44.1 kHz */
    double phase = 2.0 * PI * gsl_rng_uniform(random), size = 1.0 / sqrt((double)k);
    pink.sample[2 * k - 1] = size * cos(phase);
    pink.sample[2 * k] = size * sin(phase);
  }
  gsl_fft_halfcomplex_inverse(pink.sample, 1, PINK, table, work);
  for (size_t k = 0; k < PINK; k++) power += pink.sample[k] * pink.sample[k] / PINK;
  for (size_t k = 0; k < PINK; k++) pink.sample[k] /= sqrt(power);
  gsl_rng_free(random);
  gsl_fft_halfcomplex_wavetable_free(table);
  gsl_fft_real_workspace_free(work);
  return pink;
}

static double pink_at(const void *about, long n, int c) {
  const struct pink *pink = about;
  double sample = pink->sample[n % PINK];
  (void)c;
  if (sample > pink->limit) sample = pink->limit;
  if (sample < -pink->limit) sample = -pink->limit;
  return sample / 8.0;
}

/* Mean square of a unit Gaussian clipped at c. */
static double clipped_gaussian(double c) {
  double phi = exp(-0.5 * c * c) / sqrt(2.0 * PI), tail = 0.5 * erfc(c / sqrt(2.0));
  return 1.0 - 2.0 * tail - 2.0 * c * phi + 2.0 * c * c * tail;
}

static void pink_noise_has_its_published_crest_factors(void **state) {
  (void)state;
  struct pink pink = make_pink();
  /* limited at 4 sigma: 12.04 dB; clipped at 2 sigma, the noise of IEC 60268-5 and AES2-1984 (value from memory):
   * 6.38 dB after clipping; 1.8 and 2.2 sigma, the limits of EN 50332-1 (value from memory): 5.68 and 7.07 dB */
  static const double limit[] = {4.0, 2.0, 1.8, 2.2}, crest_db[] = {12.04, 6.38, 5.68, 7.07};
  for (int k = 0; k < 4; k++) {
    pink.limit = limit[k];
    const char *path = make_recording("pink.wav", WAV_FLOAT, 44100, 1, PINK, pink_at, &pink);
    struct tailvolt_envelope *envelope = read_with(path, NULL);
    assert_near(envelope->whole.crest_factor_db, crest_db[k], 0.05);
    assert_near_rel(envelope->mean_share_frac, 2.0 * clipped_gaussian(limit[k]) / (limit[k] * limit[k]), 0.01);
    tailvolt_envelope_free(envelope);
    unlink(path);
  }
  free(pink.sample);
}

static void pink_noise_has_equal_power_in_every_octave(void **state) {
  (void)state;
  struct pink pink = make_pink();
  pink.limit = 1e9;
  const char *path = make_recording("pink.wav", WAV_FLOAT, 44100, 1, PINK, pink_at, &pink);
  double first_db = 0.0;
  /* above that the bilinear transform squeezes the skirt towards half the sampling rate */
  for (double low_hz = 80.0; low_hz < 2000.0; low_hz *= 2.0) {
    struct tailvolt_envelope_options options = tailvolt_default_envelope_options();
    options.above_hz = low_hz;
    options.below_hz = 2.0 * low_hz;
    struct tailvolt_envelope *envelope = read_with(path, &options);
    assert_true(envelope->is_filtered);
    if (low_hz < 100.0) first_db = envelope->filtered.rms_dbfs;
    assert_near(envelope->filtered.rms_dbfs, first_db, 0.03);
    tailvolt_envelope_free(envelope);
  }
  unlink(path);
  free(pink.sample);
}

/* |H| = 1 / (1 + (f/fc)^4): 6.02 dB down at the crossover, 24.6 dB an octave beyond it; both branches in phase add up
 * to one. Long tones, so the start hardly counts. */
static void crossover_is_linkwitz_riley_of_fourth_order(void **state) {
  (void)state;
  static const long period[] = {2400, 1200, 600, 300, 150}; /* 20 to 320 Hz at 48 kHz */
  static const int channels[] = {1, 2, 3};
  for (int k = 0; k < 5; k++) {
    struct tone tone = {-1.0, period[k]};
    int count = channels[k % 3];
    double ratio = 48000.0 / (double)period[k] / 80.0;
    const char *path = make_recording("tone.wav", WAV_FLOAT, 48000, count, 48000 * 20, tone_at, &tone);
    struct tailvolt_envelope_options options = tailvolt_default_envelope_options();
    options.below_hz = 80.0;
    struct tailvolt_envelope *below = read_with(path, &options);
    options.below_hz = 0.0;
    options.above_hz = 80.0;
    struct tailvolt_envelope *above = read_with(path, &options);
    double low = 1.0 / (1.0 + pow(ratio, 4.0));
    double low_seen = 0.0, high_seen = 0.0;
    /* half a second: whole periods of every tone, long after the start */
    for (long w = 1000; w < 1050; w++) {
      low_seen += below->share_frac[w] * pow(10.0, (below->reference_dbfs - below->whole.peak_dbfs) / 10.0) / 50.0;
      high_seen += above->share_frac[w] * pow(10.0, (above->reference_dbfs - above->whole.peak_dbfs) / 10.0) / 50.0;
    }
    assert_near(10.0 * log10(low_seen), 20.0 * log10(low), 0.02);
    assert_near(10.0 * log10(high_seen), 20.0 * log10(1.0 - low), 0.02);
    tailvolt_envelope_free(below);
    tailvolt_envelope_free(above);
    unlink(path);
  }
}

/* Opposite channels leave nothing of their sum; equal ones leave all. */
static double opposite_at(const void *about, long n, int c) {
  return (c == 0 ? 1.0 : -0.5) * tone_at(about, n, c);
}

static void mono_is_the_mean_of_the_channels(void **state) {
  (void)state;
  struct tone tone = {0.0, 480};
  struct tailvolt_envelope_options options = tailvolt_default_envelope_options();
  const char *path = make_recording("opposite.wav", WAV_FLOAT, 48000, 2, 48000, opposite_at, &tone);
  struct tailvolt_envelope *both = read_with(path, &options);
  assert_near(both->whole.peak_dbfs, 0.0, 1e-6);
  assert_near(both->whole.rms_dbfs, 10.0 * log10((0.5 + 0.125) / 2.0), 1e-5);
  options.mono = true;
  struct tailvolt_envelope *mono = read_with(path, &options);
  assert_near(mono->whole.peak_dbfs, 20.0 * log10(0.25), 1e-5);
  assert_near(mono->whole.crest_factor_db, 3.0103, 1e-4);
  tailvolt_envelope_free(both);
  tailvolt_envelope_free(mono);
  unlink(path);
}

/* Windows that are not a whole number of samples keep the energy: ramp of power, 22.05 kHz, 220.5 samples a
 * window. */
static double ramp_at(const void *about, long n, int c) {
  (void)about;
  (void)c;
  return sqrt((double)n / 50000.0) * (n % 2 == 0 ? 1.0 : -1.0);
}

static void windows_between_samples_keep_the_energy(void **state) {
  (void)state;
  const char *path = make_recording("ramp.wav", WAV_FLOAT, 22050, 1, 49997, ramp_at, NULL);
  struct tailvolt_envelope *envelope = read_with(path, NULL);
  assert_int_equal(envelope->window_count, 227);
  assert_near_rel(envelope->mean_share_frac, envelope->whole.mean_frac, 1e-12);
  for (long w = 0; w + 1 < envelope->window_count; w++) {
    /* power n / 49996 of frame n, each spread over [n, n + 1): the window's middle less half a frame */
    double wanted = 2.0 * ((double)w * 220.5 + 110.25 - 0.5) / 49996.0;
    assert_near(envelope->share_frac[w], wanted, 0.3 / 49996.0);
  }
  tailvolt_envelope_free(envelope);
  unlink(path);
}

/* The level scales the power; 20 dB too loud, the windows of a sine are nearly square. */
static void level_and_draw_of_an_amplifier(void **state) {
  (void)state;
  struct tone tone = {-3.0, 480};
  const char *path = make_recording("sine.wav", WAV_FLOAT, 48000, 1, 48000, tone_at, &tone);
  struct tailvolt_envelope *envelope = read_with(path, NULL);
  assert_near(tailvolt_envelope_output_frac(envelope, 0.0), 1.0, 1e-6);
  assert_near_rel(tailvolt_envelope_output_frac(envelope, -9.0), pow(10.0, -0.9), 1e-6);
  assert_true(tailvolt_envelope_output_frac(envelope, 20.0) > 1.8);
  assert_true(tailvolt_envelope_output_frac(envelope, 80.0) <= 2.0);
  /* class D, 1000 W, 82 %, 1.2 A idle at 13.8 V: 1219.5 W and 88.37 A at rated, 166.9 W and 12.10 A at an eighth
   * (hand calculation); class AB law: (1219.5 - 16.56) sqrt(1/8) + 16.56 = 441.86 W */
  struct tailvolt_amplifier amplifier;
  struct tailvolt_envelope_draw draw;
  memset(&amplifier, 0, sizeof amplifier);
  amplifier.rated_w = 1000.0;
  amplifier.rated_v = 13.8;
  amplifier.efficiency_frac = 0.82;
  amplifier.idle_a = 1.2;
  amplifier.topology = TAILVOLT_CLASS_D;
  tailvolt_envelope_amplifier(envelope, &amplifier, 0.0, &draw);
  assert_near(draw.mean_a, 88.37, 0.005);
  assert_near(draw.output_w, 1000.0, 0.01);
  amplifier.level_offset_db = 10.0 * log10(0.125);
  tailvolt_envelope_amplifier(envelope, &amplifier, 0.0, &draw);
  assert_near(draw.mean_a, 12.10, 0.005);
  assert_near(draw.supply_w, 166.9, 0.05);
  assert_near(draw.rms_a, draw.mean_a, 1e-3);
  amplifier.topology = TAILVOLT_CLASS_AB;
  tailvolt_envelope_amplifier(envelope, &amplifier, 0.0, &draw);
  assert_near(draw.supply_w, 441.86, 0.05);
  tailvolt_envelope_free(envelope);
  unlink(path);
}

static struct tv_programme *make_programme(const char *recording, const char *envelope) {
  struct tailvolt_programme spec;
  struct tv_programme *programme = NULL;
  char error[TAILVOLT_TEXT_MAX], system_file[192];
  memset(&spec, 0, sizeof spec);
  copy_path(spec.recording, sizeof spec.recording, recording);
  copy_path(spec.envelope, sizeof spec.envelope, envelope);
  snprintf(system_file, sizeof system_file, "%s/system.ini", folder);
  enum tailvolt_status status = tv_programme_create(&spec, system_file, NULL, &programme, error);
  if (status != TAILVOLT_OK) fail_msg("%s", error);
  return programme;
}

static double mean(const struct tv_programme *programme, double t0_s, double t1_s) {
  struct tv_programme_cursor cursor;
  memset(&cursor, 0, sizeof cursor);
  return tv_programme_mean(programme, &cursor, t0_s, t1_s);
}

/* A programme loops the recording, and the envelope written from it. */
static void programme_from_recording_equals_its_envelope_file(void **state) {
  (void)state;
  char *csv = NULL;
  const char *path = make_recording("bursts.wav", WAV_24, 48000, 2, 240240, bursts_at, NULL); /* 5.005 s */
  struct tailvolt_envelope *envelope = read_with(path, NULL);
  assert_int_equal(tailvolt_envelope_csv(envelope, &csv), TAILVOLT_OK);
  write_bytes("bursts.csv", csv, strlen(csv));
  struct tv_programme *one = make_programme("bursts.wav", ""), *two = make_programme("", "bursts.csv");
  assert_near_rel(mean(one, 0.0, 5.005), envelope->mean_share_frac, 1e-12);
  struct tv_programme_cursor cursor;
  memset(&cursor, 0, sizeof cursor);
  for (int k = -3000; k < 20000; k++) {
    double t0_s = 0.00137 * k, t1_s = 0.00137 * (k + 1);
    double seen = tv_programme_mean(one, &cursor, t0_s, t1_s);
    assert_near(seen, mean(two, t0_s, t1_s), 1e-8);
    double into_s = fmod(t0_s + 50.05, 5.005), out_s = into_s + 0.00137;
    if (out_s < 5.0 && fmod(into_s, 1.0) < 0.198 && fmod(into_s, 1.0) > 0.0) assert_near(seen, 1.0, 1e-3);
    if (out_s < 5.0 && fmod(into_s, 1.0) > 0.2 && fmod(out_s, 1.0) > 0.2) assert_near(seen, 0.0, 1e-9);
  }
  /* one after another, across many rounds, against the whole */
  double sum = 0.0;
  for (int k = 0; k < 700; k++) sum += mean(one, -3.1 + 0.04 * k, -3.1 + 0.04 * (k + 1)) / 700.0;
  assert_near(mean(one, -3.1, 24.9), sum, 1e-11);
  free(csv);
  tv_programme_free(one);
  tv_programme_free(two);
  tailvolt_envelope_free(envelope);
  unlink(path);
  unlink(in_folder("bursts.csv"));
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(sine_has_3_01_db),
      cmocka_unit_test(lossy_coding_changes_the_sine_little),
      cmocka_unit_test(square_has_0_db),
      cmocka_unit_test(two_equal_sines_have_6_02_db),
      cmocka_unit_test(tone_bursts_are_exact_to_a_hundredth_of_a_decibel),
      cmocka_unit_test(level_steps_are_exact_against_full_scale),
      cmocka_unit_test(pink_noise_has_its_published_crest_factors),
      cmocka_unit_test(pink_noise_has_equal_power_in_every_octave),
      cmocka_unit_test(crossover_is_linkwitz_riley_of_fourth_order),
      cmocka_unit_test(mono_is_the_mean_of_the_channels),
      cmocka_unit_test(windows_between_samples_keep_the_energy),
      cmocka_unit_test(level_and_draw_of_an_amplifier),
      cmocka_unit_test(programme_from_recording_equals_its_envelope_file),
  };
  return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
