/* Generated programmes.
 *
 * On each beat the power is p(u) = s + (1 - s) e(u), e = 1 while held, then exp(-(u - hold) / decay); without a floor the
 * mean of a beat is d. A requested mean m at or above d sets the floor, s = (m - d) / (1 - d). A lower one scales the beats
 * by gains g <= 1 of mean m / d: the same set of gains in every block, the greatest exactly 1, in an order drawn for each
 * block from (seed, block), so any beat can be computed without those before it.
 *
 * With phrases each beat has its own mean, and the same two rules apply beat by beat: below the mean of a beat of full
 * height the whole beat is scaled, above it the floor rises under a peak of 1. A loud passage is a denser one. Beats of one
 * level differ: some are struck harder, with part of their energy in the first 40 ms (an accent). Measured below 80 Hz (11
 * recordings): the highest 20 ms of a half-second are 2 to 4 times its mean (medians), 3 to 7 times in one of ten, and the
 * highest of all 0.7 to 1 of the rated power, however quiet the piece. */
#include "parts/programme_beats.h"
#include "parts/elementary.h"
#include "text/number.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#define ATTACK_S 0.04
#define ACCENT_MOST 0.6
#define ACCENT_POWER 4
#define ACCENT_PEAK 0.8 /* of the rated power */

double tv_beat_mean(double beat_s, double hold_s, double decay_s) {
  if (hold_s >= beat_s) return 1.0;
  double rest_s = beat_s - hold_s;
  double decaying_s = decay_s > 0.0 ? -decay_s * tv_expm1(-rest_s / decay_s) : 0.0;
  return (hold_s + decaying_s) / beat_s;
}

/* Whole number below `limit`; the bias of the multiply-shift is limit / 2^32. */
static int below(uint64_t bits, int limit) {
  return (int)(((bits >> 32) * (uint64_t)limit) >> 32);
}

/* Mean of ((j + 1) / n)^power, j = 0 .. n - 1: falls from 1 at power 0 to 1/n. */
static double power_law_mean(int n, double power) {
  double sum = 0.0;
  for (int j = 0; j < n; j++) sum += tv_pow((j + 1) / (double)n, power);
  return sum / n;
}

/* Gains as a power law whose exponent gives the mean; what the root search leaves is spread over all but the
 * greatest, so that the mean is right to the last bits. */
static void fit_gains(struct tv_beats *beats, double mean) {
  int n = beats->block;
  double low = 0.0, high = 1.0;
  while (high < 1e6 && power_law_mean(n, high) > mean) high *= 2.0;
  for (int i = 0; i < 100 && high - low > 1e-14 * high; i++) {
    double middle = 0.5 * (low + high);
    if (power_law_mean(n, middle) > mean)
      low = middle;
    else
      high = middle;
  }
  double others = 0.0;
  for (int j = 0; j < n; j++) {
    beats->gain[j] = tv_pow((j + 1) / (double)n, high);
    if (j < n - 1) others += beats->gain[j];
  }
  double wanted = n * mean - 1.0;
  for (int j = 0; j < n - 1; j++) {
    double scaled = others > 0.0 ? beats->gain[j] * (wanted / others) : 0.0;
    beats->gain[j] = scaled < 1.0 ? scaled : 1.0;
  }
  beats->gain[n - 1] = 1.0;
}

static enum tailvolt_status init_passages(struct tv_beats *beats, const struct tv_beats_spec *spec,
                                          double *mean_level, char *error) {
  double sum = 0.0;
  if (spec->passage_count > TV_PASSAGE_MAX) return TAILVOLT_INTERNAL;
  beats->passage_count = spec->passage_count;
  for (int i = 0; i < spec->passage_count; i++) {
    int count = spec->passage_beats[i];
    if (count <= 0 || count % TV_BEAT_BLOCK != 0) {
      snprintf(error, TAILVOLT_TEXT_MAX, "a passage of %d beats: must be a multiple of %d", count,
               TV_BEAT_BLOCK);
      return TAILVOLT_BAD_INPUT;
    }
    if (!(spec->passage_level_db[i] <= 0.0)) {
      snprintf(error, TAILVOLT_TEXT_MAX, "a passage at %s dB: must not be above 0 dB",
               tv_significant(spec->passage_level_db[i], 6).text);
      return TAILVOLT_BAD_INPUT;
    }
    beats->passage_frac[i] = tv_pow(10.0, spec->passage_level_db[i] / 10.0);
    beats->form_beats += count;
    beats->passage_end[i] = beats->form_beats;
    sum += count * beats->passage_frac[i];
  }
  *mean_level = spec->passage_count > 0 ? sum / (double)beats->form_beats : 1.0;
  return TAILVOLT_OK;
}

/* Floor and gains for the requested mean at passage level 1. */
static enum tailvolt_status fit_mean(struct tv_beats *beats, const struct tv_beats_spec *spec, double mean,
                                     char *error) {
  double d = tv_beat_mean(beats->beat_s, beats->hold_s, beats->decay_s);
  double s = spec->floor_frac;
  double bare = s + (1.0 - s) * d; /* with every gain 1 */
  beats->block = TV_BEAT_BLOCK;
  beats->block_mean_frac = mean;
  if (mean >= bare) {
    if (d < 1.0) s = (mean - d) / (1.0 - d);
    beats->floor_frac = s;
    beats->rise_frac = 1.0 - s;
    return TAILVOLT_OK;
  }
  if (mean < s) {
    snprintf(error, TAILVOLT_TEXT_MAX,
             "the floor alone (%s of the loudest) is above the mean (%s) that the crest factor asks for",
             tv_significant(s, 6).text, tv_significant(mean, 6).text);
    return TAILVOLT_BAD_INPUT;
  }
  double gain_mean = (mean - s) / ((1.0 - s) * d);
  /* one beat of the block at 1 makes the mean at least 1 / block */
  while (gain_mean * beats->block < 1.0 && beats->block < TV_BEAT_BLOCK_MAX) beats->block *= 2;
  if (gain_mean * beats->block < 1.0 || (beats->passage_count > 0 && beats->block > TV_BEAT_BLOCK)) {
    snprintf(error, TAILVOLT_TEXT_MAX,
             "crest factor too high for this tempo and decay: a mean of %s of rated from beats of mean %s",
             tv_significant(mean, 4).text, tv_significant(d, 4).text);
    return TAILVOLT_BAD_INPUT;
  }
  beats->floor_frac = s;
  beats->rise_frac = 1.0 - s;
  beats->varied = true;
  fit_gains(beats, gain_mean);
  return TAILVOLT_OK;
}

static enum tailvolt_status init_phrases(struct tv_beats *beats, const struct tv_beats_spec *spec) {
  double d = tv_beat_mean(beats->beat_s, beats->hold_s, beats->decay_s), s = spec->floor_frac;
  const struct tv_phrases_spec phrases = {.mean_frac = spec->mean_frac,
                                          .beat_s = beats->beat_s,
                                          .swing_1s_frac = spec->phrases_frac,
                                          .swing_10s_frac = spec->sections_frac,
                                          .seed = spec->seed};
  beats->phrased = true;
  beats->block = tv_phrases_beats(beats->beat_s);
  beats->block_mean_frac = spec->mean_frac;
  beats->floor_frac = s;
  beats->rise_frac = 1.0 - s;
  beats->beat_mean_frac = s + (1.0 - s) * d;
  beats->attack_s = beats->hold_s > 0.0 ? beats->hold_s : fmin(ATTACK_S, 0.5 * beats->beat_s);
  for (int k = 0; k < beats->block; k++) {
    double random = (double)(tv_scramble(spec->seed ^ tv_scramble(0xACCE00u + (uint64_t)k)) >> 11) * 0x1p-53;
    beats->accent_frac[k] = ACCENT_MOST * tv_pow(random, ACCENT_POWER);
  }
  return tv_phrases_make(&phrases, beats->level_frac);
}

enum tailvolt_status tv_beats_init(struct tv_beats *beats, const struct tv_beats_spec *spec, char *error) {
  double mean_level = 1.0;
  memset(beats, 0, sizeof *beats);
  beats->beat_s = 60.0 / spec->tempo_per_min;
  beats->decay_s = spec->decay_s;
  beats->hold_s = spec->hold_s < beats->beat_s ? spec->hold_s : beats->beat_s;
  beats->seed = spec->seed;
  if (spec->phrases_frac > 0.0 && spec->passage_count == 0) return init_phrases(beats, spec);
  enum tailvolt_status status = init_passages(beats, spec, &mean_level, error);
  if (status != TAILVOLT_OK) return status;
  double mean = spec->mean_frac / mean_level;
  if (mean > 1.0) {
    snprintf(error, TAILVOLT_TEXT_MAX,
             "quiet passages leave a mean of %s of the loudest, the crest factor asks for %s",
             tv_significant(mean_level, 4).text, tv_significant(spec->mean_frac, 4).text);
    return TAILVOLT_BAD_INPUT;
  }
  return fit_mean(beats, spec, mean, error);
}

long long tv_beats_index(const struct tv_beats *beats, double t_s) {
  long long beat = (long long)floor(t_s / beats->beat_s);
  /* the quotient may round across a beat's edge */
  while ((double)beat * beats->beat_s > t_s) beat--;
  while ((double)(beat + 1) * beats->beat_s <= t_s) beat++;
  return beat;
}

static long long floor_divide(long long a, long long b) {
  return a / b - (a % b < 0);
}

/* Gain of a beat: its place in the block's order, by the Fisher-Yates shuffle of this block. */
static double beat_gain(const struct tv_beats *beats, long long beat) {
  short order[TV_BEAT_BLOCK_MAX];
  if (!beats->varied) return 1.0;
  int n = beats->block;
  long long block = floor_divide(beat, n);
  int place = (int)(beat - block * n);
  uint64_t key = tv_scramble(beats->seed ^ tv_scramble((uint64_t)block));
  for (int j = 0; j < n; j++) order[j] = (short)j;
  /* from the end down to `place`: nothing above it moves again */
  for (int j = n - 1; j >= place && j > 0; j--) {
    int other = below(tv_scramble(key + (uint64_t)j), j + 1);
    short swapped = order[j];
    order[j] = order[other];
    order[other] = swapped;
  }
  return beats->gain[order[place]];
}

static double passage_level(const struct tv_beats *beats, long long beat) {
  if (beats->passage_count == 0) return 1.0;
  long long place = beat - floor_divide(beat, beats->form_beats) * beats->form_beats;
  int i = 0;
  while (place >= beats->passage_end[i]) i++;
  return beats->passage_frac[i];
}

struct beat_shape {
  double floor_frac;
  double rise_frac;   /* from there, decaying */
  double accent_frac; /* above both during the attack */
};

/* Takes energy for an accent from the rest of the beat, no more than stays below the highest measured. */
static void accent(const struct tv_beats *beats, double level, double energy_frac, struct beat_shape *shape) {
  double height = level * beats->beat_s / beats->attack_s; /* if all energy were in the attack */
  double peak = shape->floor_frac + shape->rise_frac;
  if (height <= peak || peak >= ACCENT_PEAK) return;
  double most = (ACCENT_PEAK - peak) / (height - peak);
  if (energy_frac > most) energy_frac = most;
  shape->floor_frac *= 1.0 - energy_frac;
  shape->rise_frac *= 1.0 - energy_frac;
  shape->accent_frac = energy_frac * height;
}

static struct beat_shape shape_of(const struct tv_beats *beats, long long beat) {
  if (!beats->phrased) {
    double level = passage_level(beats, beat);
    return (struct beat_shape){level * beats->floor_frac, level * beats->rise_frac * beat_gain(beats, beat), 0.0};
  }
  int place = (int)(beat - floor_divide(beat, beats->block) * beats->block);
  double level = beats->level_frac[place], full = beats->beat_mean_frac;
  if (level <= full) {
    struct beat_shape shape = {level / full * beats->floor_frac, level / full * beats->rise_frac, 0.0};
    accent(beats, level, beats->accent_frac[place], &shape);
    return shape;
  }
  double raised = (level - full) / (1.0 - full); /* of the room between the full beat and a steady tone */
  double floor_frac = beats->floor_frac + raised * beats->rise_frac;
  return (struct beat_shape){floor_frac, 1.0 - floor_frac, 0.0};
}

void tv_beats_segment(const struct tv_beats *beats, double t_s, struct tv_segment *out) {
  long long beat = tv_beats_index(beats, t_s);
  struct beat_shape shape = shape_of(beats, beat);
  double start_s = (double)beat * beats->beat_s;
  double end_s = (double)(beat + 1) * beats->beat_s;
  double hold_end_s = start_s + beats->hold_s, attack_end_s = start_s + beats->attack_s;
  if (beats->hold_s >= beats->beat_s || hold_end_s > end_s) hold_end_s = end_s;
  out->floor_frac = shape.floor_frac;
  if (t_s < hold_end_s) {
    out->start_s = start_s;
    out->end_s = hold_end_s;
    out->floor_frac += shape.rise_frac + shape.accent_frac;
    out->amplitude_frac = 0.0;
    return;
  }
  out->start_s = hold_end_s;
  out->end_s = end_s;
  out->amplitude_frac = beats->decay_s > 0.0 ? shape.rise_frac : 0.0;
  if (shape.accent_frac > 0.0 && t_s < attack_end_s) {
    out->end_s = attack_end_s;
    out->floor_frac += shape.accent_frac;
  }
}

double tv_beats_block_mean(const struct tv_beats *beats, long long beat) {
  return passage_level(beats, beat) * beats->block_mean_frac;
}
