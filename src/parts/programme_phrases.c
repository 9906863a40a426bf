/* The slow level of generated music.
 *
 * Measured on 80 freely licensed recordings of many kinds (mono sum, below 80 Hz, and the whole band):
 *   - the mean power of single seconds is spread as a Weibull law of shape 1 to 1.5: share of the mean at the 10, 25,
 *     50, 75 and 90 % quantiles 0.12, 0.30, 0.85, 1.45, 2.1, loudest 4 (median track; the law at the same deviation
 *     0.18, 0.40, 0.80, 1.39, 2.1, 4.2);
 *   - its spectrum falls slowly: of the variance of half-seconds each octave of time from 0.5 to 32 s holds 0.25, 0.17,
 *     0.14, 0.10, 0.08 and 0.12, anything slower 0.14: a density that falls with frequency to the power -0.75.
 * So: noise of that spectrum, as harmonics of the cycle with phases drawn from the seed, in two weighted bands, gives
 * the order of the beats; the law gives their levels, the same set for every seed. */
#include "parts/programme_phrases.h"
#include "parts/elementary.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#define CYCLE_S 120.0
#define GRAIN 16            /* beats */
#define SHORTEST_PERIOD_S 0.5
#define SECTION_S 20.0      /* periods this long or longer are sections, shorter ones phrases */
#define SPECTRUM_POWER 0.75
#define SECTION_EDGE 3.0
#define OPENING_S 30.0
#define STEEPEST 4.0        /* inverse of the law's shape */
#define CUT_OFF 0.05        /* of the law's upper end: loudest seconds of tracks that swing by 50 % stand at 2.1 to 2.5 */

/* The finalizer of SplitMix64 (Steele, Lea, Flood, OOPSLA 2014; constants from memory). */
uint64_t tv_scramble(uint64_t x) {
  x += 0x9E3779B97F4A7C15u;
  x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9u;
  x = (x ^ (x >> 27)) * 0x94D049BB133111EBu;
  return x ^ (x >> 31);
}

struct place {
  double noise;
  int beat;
};

struct work {
  const struct tv_phrases_spec *spec;
  int count;
  double *slow, *fast; /* [count] noise of the two bands, of unit variance or all zero */
  double *log_rank;    /* [count] logarithm of the law's standard quantiles, rising */
  double *value;       /* [count] levels, rising */
  double *level;       /* in time order */
  struct place *place; /* beats in order of rising noise */
};

int tv_phrases_beats(double beat_s) {
  int count = GRAIN * (int)floor(CYCLE_S / (GRAIN * beat_s) * (1.0 + 1e-12));
  if (count < GRAIN) return GRAIN;
  return count < TV_CYCLE_BEATS_MAX ? count : TV_CYCLE_BEATS_MAX;
}

static void add_harmonic(double *noise, int count, int harmonic, double amplitude, double phase_rad) {
  const double pi = 3.14159265358979323846;
  double turn_rad = 2.0 * pi * harmonic / count;
  for (int k = 0; k < count; k++) noise[k] += amplitude * tv_cos(turn_rad * k + phase_rad);
}

static void normalize(double *noise, int count) {
  double square = 0.0;
  for (int k = 0; k < count; k++) square += noise[k] * noise[k];
  if (!(square > 0.0)) return;
  double scale = 1.0 / sqrt(square / count);
  for (int k = 0; k < count; k++) noise[k] *= scale;
}

static void draw_noise(struct work *w) {
  const double pi = 3.14159265358979323846;
  double cycle_s = w->count * w->spec->beat_s;
  for (int h = 1; 2 * h <= w->count && cycle_s >= h * SHORTEST_PERIOD_S; h++) {
    uint64_t bits = tv_scramble(w->spec->seed ^ tv_scramble(0x9B00u + (uint64_t)h));
    double phase_rad = 2.0 * pi * (double)(bits >> 11) * 0x1p-53;
    double amplitude = tv_pow(h, -0.5 * SPECTRUM_POWER);
    add_harmonic(cycle_s >= h * SECTION_S ? w->slow : w->fast, w->count, h, amplitude, phase_rad);
  }
  normalize(w->slow, w->count);
  normalize(w->fast, w->count);
  /* verses and breaks rather than swells: mostly near one of two levels */
  for (int k = 0; k < w->count; k++) w->slow[k] = tanh(SECTION_EDGE * w->slow[k]);
  normalize(w->slow, w->count);
}

static int by_noise(const void *a, const void *b) {
  const struct place *x = a, *y = b;
  if (x->noise != y->noise) return x->noise < y->noise ? -1 : 1;
  return x->beat - y->beat;
}

static void order_beats(struct work *w, double section_share) {
  double slow = sqrt(section_share), fast = sqrt(1.0 - section_share);
  for (int k = 0; k < w->count; k++)
    w->place[k] = (struct place){.noise = slow * w->slow[k] + fast * w->fast[k], .beat = k};
  qsort(w->place, (size_t)w->count, sizeof *w->place, by_noise);
}

/* Levels proportional to the law, the loudest cut at 1, the others scaled to give the requested mean. */
static void set_values(struct work *w, double steepness) {
  int n = w->count, top = n;
  double *sum = w->level; /* of those that are not louder; summed afresh, since a difference would lose digits */
  double wanted = n * w->spec->mean_frac;
  for (int k = 0; k < n; k++) {
    w->value[k] = tv_exp(steepness * w->log_rank[k]);
    sum[k] = w->value[k] + (k > 0 ? sum[k - 1] : 0.0);
  }
  while (top > 1 && (wanted - (n - top)) / sum[top - 1] * w->value[top - 1] > 1.0) w->value[--top] = 1.0;
  double scale = (wanted - (n - top)) / sum[top - 1];
  for (int k = 0; k < top; k++) w->value[k] *= scale;
}

/* Standard deviation of the mean over `window` beats, relative to the mean. */
static double swing(const struct work *w, int window) {
  double sum = 0.0, square = 0.0, mean = w->spec->mean_frac;
  for (int k = 0; k < window; k++) sum += w->level[k];
  for (int k = 0; k < w->count; k++) {
    double off = sum / window - mean;
    square += off * off;
    sum += w->level[(k + window) % w->count] - w->level[k];
  }
  return sqrt(square / w->count) / mean;
}

static int window_beats(const struct work *w, double window_s) {
  int beats = (int)floor(window_s / w->spec->beat_s + 0.5);
  return beats < 1 ? 1 : beats > w->count ? w->count : beats;
}

static void fit_steepness(struct work *w) {
  double low = 0.0, high = STEEPEST;
  int window = window_beats(w, 1.0);
  for (int i = 0; i < 24; i++) {
    double middle = 0.5 * (low + high);
    set_values(w, middle);
    for (int k = 0; k < w->count; k++) w->level[w->place[k].beat] = w->value[k];
    if (swing(w, window) < w->spec->swing_1s_frac)
      low = middle;
    else
      high = middle;
  }
}

/* The slower the noise, the more of a second's swing is left over ten. */
static void fit(struct work *w) {
  double low = 0.0, high = 1.0;
  int window = window_beats(w, 10.0);
  for (int i = 0; i < 12; i++) {
    double middle = 0.5 * (low + high);
    order_beats(w, middle);
    fit_steepness(w);
    if (swing(w, window) < w->spec->swing_10s_frac)
      low = middle;
    else
      high = middle;
  }
}

/* The cycle begins with its loudest half minute, so a short run does not happen to hear only its quiet part. */
static void begin_loud(struct work *w) {
  int window = window_beats(w, OPENING_S), first = 0;
  double sum = 0.0, most = -1.0;
  for (int k = 0; k < window; k++) sum += w->level[k];
  for (int k = 0; k < w->count; k++) {
    if (sum > most * (1.0 + 1e-12)) most = sum, first = k;
    sum += w->level[(k + window) % w->count] - w->level[k];
  }
  for (int k = 0; k < w->count; k++) w->value[k] = w->level[(k + first) % w->count];
  memcpy(w->level, w->value, (size_t)w->count * sizeof *w->level);
}

enum tailvolt_status tv_phrases_make(const struct tv_phrases_spec *spec, double *level_frac) {
  int n = tv_phrases_beats(spec->beat_s);
  struct work w = {.spec = spec, .count = n, .level = level_frac};
  double *room = calloc(4 * (size_t)n, sizeof *room);
  w.place = calloc((size_t)n, sizeof *w.place);
  if (room != NULL && w.place != NULL) {
    w.slow = room;
    w.fast = room + n;
    w.log_rank = room + 2 * n;
    w.value = room + 3 * n;
    for (int k = 0; k < n; k++) w.log_rank[k] = tv_log(-tv_log1p(-(k + 0.5) / n * (1.0 - CUT_OFF)));
    draw_noise(&w);
    fit(&w);
    begin_loud(&w);
  }
  bool done = room != NULL && w.place != NULL;
  free(room);
  free(w.place);
  return done ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}
