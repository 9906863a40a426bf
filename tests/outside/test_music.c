/* Generated music against measured music: how passages cluster, and the effect on a supply.
 *
 * Eleven freely licensed recordings of different kinds, measured below 80 Hz (data/music-below-80hz.md), and three made here
 * from a score. For each, the generator gets what `tailvolt envelope` reports (crest factor, phrases, sections) and the
 * style of its kind, nothing else; seed 1. Then both play at idle in the same car. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/programme_read.h"
#include "input/recording_files.h"
#include "support/assert_near.h"
#include "support/scenes.h"

#define WINDOW_S 0.02
#define WINDOWS_MAX 6000
#define KINDS_MAX 20

struct kind {
  char name[32];
  const char *style;
  int count;
  double share_frac[WINDOWS_MAX];
};

/* What is compared. */
struct shape {
  double mean_frac, crest_db, phrases_frac, sections_frac;
  double peak[3]; /* highest mean of 1, 10 and 30 s over the mean */
};

static struct kind *kinds;
static int kind_count;

static double swing(const double *share, int count, int window, double mean, double *most) {
  double sum = 0.0, square = 0.0;
  *most = 0.0;
  for (int k = 0; k < window; k++) sum += share[k % count];
  for (int k = 0; k < count; k++) {
    double ratio = sum / window / mean;
    square += (ratio - 1.0) * (ratio - 1.0);
    if (ratio > *most) *most = ratio;
    sum += share[(k + window) % count] - share[k];
  }
  return sqrt(square / count);
}

static struct shape shape_of(const double *share, int count) {
  struct shape shape;
  double sum = 0.0;
  for (int k = 0; k < count; k++) sum += share[k];
  shape.mean_frac = sum / count;
  shape.crest_db = 10.0 * log10(2.0 / shape.mean_frac);
  shape.phrases_frac = swing(share, count, 50, shape.mean_frac, &shape.peak[0]);
  shape.sections_frac = swing(share, count, 500, shape.mean_frac, &shape.peak[1]) / shape.phrases_frac;
  swing(share, count, 1500, shape.mean_frac, &shape.peak[2]);
  return shape;
}

/* Under sanitizers, where a run takes thirty times as long, every fifth kind. */
#ifdef TAILVOLT_SANITIZED
enum { EVERY = 5 };
#else
enum { EVERY = 1 };
#endif

static void read_measured(void) {
  static const struct {
    const char *name, *style;
  } known[] = {{"electronic", "electronic"}, {"dance", "dance"}, {"rock", "rock"},   {"breaks", "breaks"},
               {"verses", "metal"},           {"metal", "metal"}, {"sparse", "sparse"}, {"folk", "folk"},
               {"calm", "calm"},             {"film", "film"},   {"ambient", "ambient"}};
  char line[512];
  FILE *file = fopen(TAILVOLT_SOURCE_DIR "/tests/outside/data/music-below-80hz.csv", "r");
  assert_non_null(file);
  while (fgets(line, sizeof line, file) != NULL && line[0] == '#') {}
  for (char *name = strtok(line, ",\n"); name != NULL; name = strtok(NULL, ",\n")) {
    struct kind *kind = &kinds[kind_count++];
    snprintf(kind->name, sizeof kind->name, "%s", name);
    for (size_t k = 0; k < sizeof known / sizeof known[0]; k++)
      if (strcmp(known[k].name, name) == 0) kind->style = known[k].style;
    assert_non_null(kind->style);
  }
  while (fgets(line, sizeof line, file) != NULL) {
    char *at = line;
    for (int k = 0; k < kind_count; k++) {
      if (*at >= '0' && *at <= '9')
        kinds[k].share_frac[kinds[k].count++] = pow(10.0, (12.0 - (double)strtol(at, &at, 10)) / 20.0);
      if (*at == ',') at++;
    }
  }
  fclose(file);
}

/* ---- made here from a score, 8000 samples a second ---- */

#define RATE 8000

/* One note or beat at time `at` into it. */
static double struck(double at_s, double decay_s, double note_hz) {
  return exp(-at_s / (2.0 * decay_s)) * sin(2.0 * PI * note_hz * at_s); /* power falls with decay_s */
}

/* A band at the fair: verses of 16 s, refrains of 8 s, every fourth bar of a verse without bass. */
static double fair(const void *about, long n, int c) {
  static const double note_hz[] = {41.2, 49.0, 55.0, 61.7};
  double t_s = (double)n / RATE, beat_s = 0.5;
  long beat = (long)floor(t_s / beat_s), bar = beat / 4;
  bool refrain = fmod(t_s, 24.0) >= 16.0;
  double level = refrain ? 0.55 : bar % 4 == 3 ? 0.06 : 0.33;
  (void)about, (void)c;
  return level * struck(t_s - (double)beat * beat_s, 0.3, note_hz[bar % 4]) * (beat % 4 == 0 ? 1.7 : 1.0);
}

/* A procession: a big drum that approaches and recedes. */
static double procession(const void *about, long n, int c) {
  double t_s = (double)n / RATE, beat_s = 0.6;
  long beat = (long)floor(t_s / beat_s);
  double near = pow(0.5 - 0.5 * cos(2.0 * PI * t_s / 120.0), 1.5);
  (void)about, (void)c;
  return (0.12 + 0.86 * near) * (beat % 2 == 0 ? 1.0 : 0.55) * struck(t_s - (double)beat * beat_s, 0.09, 52.0);
}

/* A long dance: the same two bars over and over, the bass absent for 8 s of every 64. */
static double dance(const void *about, long n, int c) {
  double t_s = (double)n / RATE, beat_s = 60.0 / 128.0;
  long beat = (long)floor(t_s / beat_s);
  double into_s = t_s - (double)beat * beat_s, off_s = t_s - ((double)beat - (into_s < 0.5 * beat_s)) * beat_s - 0.5 * beat_s;
  double bass = fmod(t_s, 64.0) < 8.0 ? 0.0 : 1.0;
  (void)about, (void)c;
  return bass * (0.55 * struck(into_s, 0.1, 50.0) + 0.4 * struck(off_s, 0.2, beat % 8 < 4 ? 43.7 : 58.3));
}

static void make_recorded(const char *name, const char *style, signal_of *signal) {
  static struct tailvolt_faults faults;
  struct tailvolt_envelope_options options = tailvolt_default_envelope_options();
  struct tailvolt_envelope *envelope = NULL;
  struct kind *kind = &kinds[kind_count++];
  const char *path = make_recording("made.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_16, RATE, 1, 120L * RATE, signal, NULL);
  options.window_s = WINDOW_S;
  options.below_hz = 80.0;
  if (tailvolt_envelope_read(path, &options, &envelope, &faults) != TAILVOLT_OK) fail_msg("%s", faults.fault[0].message);
  unlink(path);
  snprintf(kind->name, sizeof kind->name, "%s", name);
  kind->style = style;
  assert_int_equal(envelope->window_count, WINDOWS_MAX);
  for (int k = 0; k < WINDOWS_MAX; k++) kind->share_frac[kind->count++] = envelope->share_frac[k];
  struct shape shape = shape_of(kind->share_frac, kind->count);
  assert_near_rel(envelope->phrases_frac, shape.phrases_frac, 1e-9);
  assert_near_rel(envelope->sections_frac, shape.sections_frac, 1e-9);
  tailvolt_envelope_free(envelope);
}

/* ---- generated ---- */

static void describe(const struct kind *kind, const struct shape *shape, char *text, size_t size) {
  snprintf(text, size, "style = %s\ncrest factor = %.2f dB\nphrases = %.1f %%\nsections = %.1f %%\n", kind->style,
           shape->crest_db, 100.0 * shape->phrases_frac, 100.0 * shape->sections_frac);
}

static struct shape generated_shape(const struct tailvolt_system *system) {
  static double share_frac[WINDOWS_MAX + 1];
  struct tv_programme *programme = NULL;
  struct tv_programme_cursor cursor;
  char error[TAILVOLT_TEXT_MAX];
  memset(&cursor, 0, sizeof cursor);
  if (tv_programme_create(&system->programmes[0], "", NULL, &programme, error) != TAILVOLT_OK) fail_msg("%s", error);
  int count = (int)(tv_programme_cycle_s(programme) / WINDOW_S + 0.5);
  assert_true(count <= WINDOWS_MAX);
  for (int k = 0; k < count; k++)
    share_frac[k] = tv_programme_mean(programme, &cursor, k * WINDOW_S, (k + 1) * WINDOW_S);
  tv_programme_free(programme);
  return shape_of(share_frac, count);
}

/* ---- through a car ---- */

struct outcome {
  double min_v, low_1pct_v, below_pct;
  enum tailvolt_verdict verdict;
};

/* 2 kW on 1/0 AWG: most kinds bring it to its limit at idle. */
static struct tailvolt_system *car(const char *music, double target_v) {
  char text[1024];
  snprintf(text, sizeof text,
           "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 130 A\n[amplifier bass]\nrated power = 2000 W\n"
           "[cable feed]\nsize = 1/0 AWG\nlength = 5 m\n[targets]\nvoltage = %.4f V\n[programme music]\n%s"
           "bass note = 0 Hz\n",
           target_v, music);
  return scene_parse(text);
}

static struct outcome play(const char *music, double target_v) {
  struct tailvolt_system *system = car(music, target_v);
  struct tailvolt_profile *profile = scene_profile(
      system, "time_s,engine_rpm,programme,level_db\n0,800,silence,0\n60,800,music,0\n300,800,music,0\n");
  struct tailvolt_options options = tailvolt_default_options();
  options.time_step_s = 2e-3;
  struct tailvolt_result *result = scene_run(system, profile, &options);
  struct outcome outcome = {.min_v = result->amplifiers[0].min_v,
                            .low_1pct_v = result->amplifiers[0].low_1pct_v,
                            .below_pct = result->amplifiers[0].below_target_pct,
                            .verdict = result->status};
  tailvolt_result_free(result);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return outcome;
}

static void write_envelope(const struct kind *kind, const char *path) {
  FILE *file = fopen(path, "w");
  assert_non_null(file);
  fputs("time_s,share\n", file);
  for (int k = 0; k <= kind->count; k++)
    fprintf(file, "%.2f,%.6f\n", k * WINDOW_S, k < kind->count ? kind->share_frac[k] : 0.0);
  fclose(file);
}

static void generated_music_does_what_the_recording_does(void **state) {
  (void)state;
  static const double most[] = {1.5, 1.3, 1.35}; /* ratio of either peak to the other */
  int like = 0, wrong = 0;
  printf("%-11s %-10s crest  phr sec | 1, 10, 30 s: recording, generated      | lowest V    | below %%   | verdicts\n",
         "kind", "style");
  for (int k = 0; k < kind_count; k += EVERY) {
    const struct kind *kind = &kinds[k];
    struct shape shape = shape_of(kind->share_frac, kind->count);
    char recorded[256], generated[256];
    const char *path = in_folder("kind.csv");
    write_envelope(kind, path);
    snprintf(recorded, sizeof recorded, "envelope = %s\n", path);
    describe(kind, &shape, generated, sizeof generated);
    struct tailvolt_system *system = car(generated, 12.0);
    struct shape made = generated_shape(system);
    tailvolt_system_free(system);
    /* one target that the recording clearly misses, one that it clearly holds */
    double low_v = play(recorded, 12.0).low_1pct_v;
    struct outcome was = play(recorded, low_v + 0.15), is = play(generated, low_v + 0.15);
    struct outcome was_easy = play(recorded, was.min_v - 0.4), is_easy = play(generated, was.min_v - 0.4);
    unlink(path);
    bool ok = fabs(is.min_v - was.min_v) <= 0.3 && is.below_pct <= 1.5 * was.below_pct &&
              was.below_pct <= 1.5 * is.below_pct && is.verdict == was.verdict && is_easy.verdict == was_easy.verdict;
    for (int p = 0; p < 3; p++) ok = ok && made.peak[p] < most[p] * shape.peak[p] && shape.peak[p] < most[p] * made.peak[p];
    /* one bass line without beats under long breaks: there the generator is too hard on the supply, and may be */
    bool known = strcmp(kind->name, "breaks") == 0 && is.min_v < was.min_v && is.below_pct > was.below_pct &&
                 is.min_v > was.min_v - 1.0;
    printf("%-11s %-10s %4.1f %4.0f %3.0f | %5.2f %4.2f %4.2f  %5.2f %4.2f %4.2f | %5.2f %5.2f | %4.1f %4.1f | %d %d, %d %d "
           "%s\n",
           kind->name, kind->style, shape.crest_db, 100.0 * shape.phrases_frac, 100.0 * shape.sections_frac, shape.peak[0],
           shape.peak[1], shape.peak[2], made.peak[0], made.peak[1], made.peak[2], was.min_v, is.min_v, was.below_pct,
           is.below_pct, was.verdict, is.verdict, was_easy.verdict, is_easy.verdict, ok ? "" : known ? "harder" : "DIFFERS");
    like += ok;
    wrong += !ok && !known;
  }
  /* eight kinds are required; a few are at the edge of a bound, and the table above names them */
  assert_true(like >= 11 / EVERY);
  assert_true(wrong <= 2);
}

/* ---- what was fitted, on data not used for the fit ---- */

enum { DECAYS = 6 };

static struct kind half_of(const struct kind *kind, int part) {
  struct kind half = {.style = kind->style, .count = kind->count / 2};
  snprintf(half.name, sizeof half.name, "%s", kind->name);
  memcpy(half.share_frac, kind->share_frac + part * half.count, (size_t)half.count * sizeof *half.share_frac);
  return half;
}

struct pair {
  struct outcome was, is;
};

/* What the recording does under the target that leaves its quantile 0.15 V short. */
static double play_recorded(const struct kind *kind, struct outcome *was) {
  char recorded[256];
  const char *path = in_folder("half.csv");
  write_envelope(kind, path);
  snprintf(recorded, sizeof recorded, "envelope = %s\n", path);
  double target_v = play(recorded, 12.0).low_1pct_v + 0.15;
  *was = play(recorded, target_v);
  unlink(path);
  return target_v;
}

/* What generated music of the same crest factor, phrases and sections does under it. */
static struct outcome play_generated(const struct kind *kind, double decay_ms, double target_v) {
  char generated[320];
  struct shape shape = shape_of(kind->share_frac, kind->count);
  describe(kind, &shape, generated, sizeof generated);
  size_t length = strlen(generated);
  snprintf(generated + length, sizeof generated - length, "decay = %.0f ms\n", decay_ms);
  return play(generated, target_v);
}

/* How far apart, in units of the tolerance: 0.3 V, a factor of 1.5. */
static double apart(const struct pair *p) {
  double volts = fabs(p->is.min_v - p->was.min_v) / 0.3;
  double share = fabs(log(fmax(p->is.below_pct, 1e-3) / fmax(p->was.below_pct, 1e-3))) / log(1.5);
  return fmax(volts, share);
}

/* The one constant of a kind that is not measured is the decay of its beats. It is fitted here on the first half of each piece
 * and judged on the second, which the fit has not seen. */
static void what_is_fitted_on_one_half_holds_on_the_other(void **state) {
  (void)state;
  static const double decay_ms[DECAYS] = {60, 110, 180, 280, 420, 650};
  int like = 0, verdicts = 0;
  for (int k = 0; k < kind_count; k += EVERY) {
    struct kind seen = half_of(&kinds[k], 0), unseen = half_of(&kinds[k], 1);
    double best_ms = 0.0, least = HUGE_VAL;
    struct pair pair;
    double target_v = play_recorded(&seen, &pair.was);
    for (int d = 0; d < DECAYS; d++) {
      pair.is = play_generated(&seen, decay_ms[d], target_v);
      if (apart(&pair) < least) least = apart(&pair), best_ms = decay_ms[d];
    }
    target_v = play_recorded(&unseen, &pair.was);
    pair.is = play_generated(&unseen, best_ms, target_v);
    bool ok = apart(&pair) <= 1.0;
    printf("%-11s decay %3.0f ms (%.2f of what is allowed) | %5.2f %5.2f V | %4.1f %4.1f %% | %d %d %s\n", seen.name, best_ms,
           least, pair.was.min_v, pair.is.min_v, pair.was.below_pct, pair.is.below_pct, pair.was.verdict, pair.is.verdict,
           ok ? "" : "DIFFERS");
    like += ok;
    verdicts += pair.was.verdict == pair.is.verdict;
  }
  printf("%d of %d kinds within 0.3 V and a factor of 1.5, %d verdicts alike\n", like, kind_count, verdicts);
  assert_true(like >= 8 / EVERY);
  assert_true(verdicts >= 8 / EVERY);
}

/* Medians of 80 recordings (data/music-below-80hz.md), measured for this test: 3.98, 2.04, 1.68. With no style and no
 * depth given, music is not gentler than that. */
static void default_music_is_not_gentler_than_the_median_track(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_read("examples/reference/ten-line.ini");
  struct shape shape = generated_shape(system);
  printf("default music: 1, 10, 30 s at %.2f, %.2f, %.2f times the mean\n", shape.peak[0], shape.peak[1], shape.peak[2]);
  assert_true(shape.peak[0] >= 3.5); /* a second cannot be above 1 / mean = 5 */
  assert_true(shape.peak[1] >= 2.04);
  assert_true(shape.peak[2] >= 1.68);
  tailvolt_system_free(system);
}

static int make_all(void **state) {
  if (make_folder(state) != 0) return 1;
  kinds = calloc(KINDS_MAX, sizeof *kinds);
  if (kinds == NULL) return 1;
  read_measured();
  make_recorded("fair", "dance", fair);
  make_recorded("procession", "kick", procession);
  make_recorded("long dance", "kick", dance);
  return 0;
}

static int free_all(void **state) {
  free(kinds);
  return remove_folder(state);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(generated_music_does_what_the_recording_does),
      cmocka_unit_test(what_is_fitted_on_one_half_holds_on_the_other),
      cmocka_unit_test(default_music_is_not_gentler_than_the_median_track),
  };
  return cmocka_run_group_tests(tests, make_all, free_all);
}
