/* Generated programmes: one decaying burst of power on every beat, shaped by phrases drawn from a seed or by loud and
 * quiet passages as written. */
#ifndef TV_PARTS_PROGRAMME_BEATS_H
#define TV_PARTS_PROGRAMME_BEATS_H

#include <stdbool.h>

#include "parts/programme_phrases.h"
#include "tailvolt/status.h"

#define TV_BEAT_BLOCK 16       /* beats over which the gains' mean is exact */
#define TV_BEAT_BLOCK_MAX 2048 /* the same where the crest factor is too high for 16 */
#define TV_PASSAGE_MAX 32

/* A stretch of time in which the envelope is floor + amplitude exp(-(t - start) / decay). The decay may have started
 * before the stretch. */
struct tv_segment {
  double start_s, end_s;
  double floor_frac;
  double amplitude_frac; /* 0 = constant */
};

/* What a generated programme should be. */
struct tv_beats_spec {
  double mean_frac;  /* of the rated power, over whole blocks and passages */
  double tempo_per_min;
  double decay_s;    /* of power, e-fold */
  double hold_s;     /* at full power before the decay begins */
  double floor_frac; /* least floor under the beats; raised where the mean needs it */
  unsigned long seed;
  int passage_count; /* 0 = one level throughout */
  int passage_beats[TV_PASSAGE_MAX];       /* multiples of TV_BEAT_BLOCK */
  double passage_level_db[TV_PASSAGE_MAX]; /* 0 or below */
  double phrases_frac;  /* swing of one-second means about the mean (programme_phrases.h); 0 = none; without passages
                         * only */
  double sections_frac; /* the same for ten seconds */
};

/* Constant once made. */
struct tv_beats {
  double beat_s, decay_s, hold_s;
  double floor_frac;        /* under every beat, at passage level 1 */
  double rise_frac;         /* from floor to the peak of a beat of gain 1 */
  double block_mean_frac;   /* over a whole block, at passage level 1 */
  unsigned long long seed;
  int block;                /* beats */
  bool varied;              /* gains differ from beat to beat */
  double gain[TV_BEAT_BLOCK_MAX]; /* ascending, the last exactly 1 */
  int passage_count;
  long long form_beats;     /* all passages */
  long long passage_end[TV_PASSAGE_MAX];
  double passage_frac[TV_PASSAGE_MAX];
  bool phrased;                         /* beats follow level_frac; block is the cycle */
  double beat_mean_frac;                /* mean of a beat of full height over the least floor */
  double level_frac[TV_CYCLE_BEATS_MAX];  /* mean power of each beat of the cycle */
  double attack_s;                        /* start of a beat, in which an accent stands above the rest */
  double accent_frac[TV_CYCLE_BEATS_MAX]; /* share of a beat's energy that its accent takes */
};

/* Fits floor and gains to the requested mean. TAILVOLT_OK, or _BAD_INPUT with `error` filled. */
TAILVOLT_CHECKED enum tailvolt_status
tv_beats_init(struct tv_beats *beats, const struct tv_beats_spec *spec, char *error);

/* Index of the beat that time t falls into; negative before time zero. */
long long tv_beats_index(const struct tv_beats *beats, double t_s);

/* The segment that holds time t: start <= t < end. */
void tv_beats_segment(const struct tv_beats *beats, double t_s, struct tv_segment *out);

/* Mean of the whole block that holds the beat, all passages counted. */
double tv_beats_block_mean(const struct tv_beats *beats, long long beat);

/* Mean of the power over one beat of gain 1 without floor: (hold + decay (1 - exp(-(T - hold) / decay))) / T. */
double tv_beat_mean(double beat_s, double hold_s, double decay_s);

#endif
