/* The programme: mean of the envelope over any interval, in closed form.
 *
 * Every kind of programme is a sequence of segments floor + amplitude exp(-(t - start) / decay). Consecutive calls
 * inside a segment with a constant step take no exponential: the cursor carries the amplitude at the end of the last
 * interval and the two factors of the step. Intervals between times t = start + k h differ in their last bits;
 * first-order terms in that difference keep the product from drifting. */
#include "parts/programme.h"
#include "parts/elementary.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "parts/programme_beats.h"
#include "parts/programme_table.h"
#include "text/number.h"

enum kind { STEADY, BEATS, TABLE };

struct tv_programme {
  enum kind kind;
  unsigned long long id;
  double bass_hz;
  double mean_frac;    /* asked for */
  double per_decay_hz; /* 1 / decay; 0 where nothing decays */
  struct tv_beats beats;
  struct tv_table table;
};

/* Places in the cursor's cache. */
enum {
  AT_S,        /* end of the last interval */
  UNTIL_S,     /* end of the segment that holds it */
  FLOOR,
  AMPLITUDE,   /* at AT_S */
  STEP_S,      /* the last interval's length */
  STEP_DECAY,  /* exp(-step / decay) */
  STEP_MEAN,   /* mean of exp(-u / decay) over the step */
  STEP_SLOPE   /* its derivative by step / decay */
};

/* Steps closer than this to the cached one use its factors with first-order terms. */
#define SAME_STEP_FRAC 1e-6

static enum tailvolt_status refuse(char *error, const char *what, double value, const char *accepted) {
  snprintf(error, TAILVOLT_TEXT_MAX, "%s %s: must be %s", what, tv_significant(value, 6).text, accepted);
  return TAILVOLT_BAD_INPUT;
}

/* FNV-1a by words; the shift brings down what a word of few mantissa bits leaves at the top. */
static unsigned long long mix(unsigned long long id, double number) {
  unsigned long long bits;
  memcpy(&bits, &number, sizeof bits);
  id = (id ^ bits) * 0x100000001B3u;
  return id ^ id >> 32;
}

static unsigned long long identify_beats(unsigned long long id, const struct tv_beats_spec *beats) {
  const double number[] = {beats->tempo_per_min, beats->decay_s,      beats->hold_s,
                           beats->floor_frac,    beats->phrases_frac, beats->sections_frac};
  id ^= beats->seed;
  for (size_t k = 0; k < sizeof number / sizeof number[0]; k++) id = mix(id, number[k]);
  for (int k = 0; k < beats->passage_count; k++)
    id = mix(mix(id, (double)beats->passage_beats[k]), beats->passage_level_db[k]);
  return id;
}

static unsigned long long identify_table(unsigned long long id, const struct tv_table *table) {
  id = mix(mix(id, table->window_s), table->length_s);
  for (long k = 0; table->edge_s != NULL && k <= table->count; k++) id = mix(id, table->edge_s[k]);
  for (long k = 0; k < table->count; k++) id = mix(id, table->share_frac[k]);
  return id;
}

/* Identified by content: to a cursor, programmes with the same content are one. */
static unsigned long long identify(const struct tv_programme *programme, const struct tv_beats_spec *beats) {
  unsigned long long id = mix(0xCBF29CE484222325u, programme->mean_frac);
  if (programme->kind == BEATS) id = identify_beats(id, beats);
  if (programme->kind == TABLE) id = identify_table(id, &programme->table);
  return id == 0 ? 1 : id;
}

static enum tailvolt_status init_beats(struct tv_programme *programme, const struct tv_beats_spec *beats,
                                       char *error) {
  programme->mean_frac = beats->mean_frac;
  /* A sine has 3.0103 dB: at or below that nothing is left to swing, the tone is steady and clipped. */
  if (programme->mean_frac >= 1.0) {
    programme->kind = STEADY;
    return TAILVOLT_OK;
  }
  if (!(beats->tempo_per_min >= 1.0 && beats->tempo_per_min <= 1200.0))
    return refuse(error, "tempo", beats->tempo_per_min, "1 to 1200 /min");
  if (!(beats->decay_s >= 0.0 && isfinite(beats->decay_s)))
    return refuse(error, "decay", beats->decay_s, "0 s or more");
  if (!(beats->phrases_frac >= 0.0 && isfinite(beats->phrases_frac) && isfinite(beats->sections_frac)))
    return refuse(error, "phrases", beats->phrases_frac, "0 or more");
  programme->kind = BEATS;
  programme->per_decay_hz = beats->decay_s > 0.0 ? 1.0 / beats->decay_s : 0.0;
  return tv_beats_init(&programme->beats, beats, error);
}

static enum tailvolt_status set_bass(struct tv_programme *programme, double bass_hz, char *error) {
  programme->bass_hz = bass_hz;
  if (bass_hz >= 0.0 && isfinite(bass_hz)) return TAILVOLT_OK;
  return refuse(error, "bass note", bass_hz, "0 Hz or more");
}

enum tailvolt_status tv_programme_from_beats(const struct tv_beats_spec *beats, double bass_hz,
                                             struct tv_programme **out, char *error) {
  *out = NULL;
  struct tv_programme *programme = calloc(1, sizeof *programme);
  if (programme == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = init_beats(programme, beats, error);
  if (status == TAILVOLT_OK) status = set_bass(programme, bass_hz, error);
  if (status != TAILVOLT_OK) {
    tv_programme_free(programme);
    return status;
  }
  programme->id = identify(programme, beats);
  *out = programme;
  return TAILVOLT_OK;
}

enum tailvolt_status tv_programme_from_table(struct tv_table *table, double bass_hz, struct tv_programme **out,
                                             char *error) {
  *out = NULL;
  struct tv_programme *programme = calloc(1, sizeof *programme);
  if (programme == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = set_bass(programme, bass_hz, error);
  if (status != TAILVOLT_OK) {
    tv_programme_free(programme);
    return status;
  }
  programme->kind = TABLE;
  programme->table = *table;
  programme->id = identify(programme, NULL);
  memset(table, 0, sizeof *table);
  *out = programme;
  return TAILVOLT_OK;
}

void tv_programme_free(struct tv_programme *programme) {
  if (programme == NULL) return;
  tv_table_free(&programme->table);
  free(programme);
}

static void find_segment(const struct tv_programme *programme, double t_s, struct tv_segment *out) {
  switch (programme->kind) {
    case STEADY:
      *out = (struct tv_segment){.start_s = -HUGE_VAL, .end_s = HUGE_VAL, .floor_frac = programme->mean_frac};
      return;
    case BEATS:
      tv_beats_segment(&programme->beats, t_s, out);
      return;
    case TABLE:
      tv_table_segment(&programme->table, t_s, out);
      return;
  }
}

/* Integral of a segment from t0 to t1, both inside it. */
static double segment_integral(const struct tv_programme *programme, const struct tv_segment *segment,
                               double t0_s, double t1_s) {
  double span_s = t1_s - t0_s;
  double integral = segment->floor_frac * span_s;
  if (segment->amplitude_frac > 0.0) {
    double rate_hz = programme->per_decay_hz;
    integral -= segment->amplitude_frac * tv_exp(-(t0_s - segment->start_s) * rate_hz) *
                tv_expm1(-span_s * rate_hz) / rate_hz;
  }
  return integral;
}

/* Whole blocks from the start of one: adds them to `integral` and returns where they end. */
static double skip_whole_blocks(const struct tv_programme *programme, double t_s, double t1_s,
                                double *integral) {
  const struct tv_beats *beats = &programme->beats;
  if (programme->kind != BEATS) return t_s;
  long long beat = tv_beats_index(beats, t_s);
  if (t_s != (double)beat * beats->beat_s || beat % beats->block != 0) return t_s;
  for (;;) {
    double end_s = (double)(beat + beats->block) * beats->beat_s;
    if (end_s > t1_s) return (double)beat * beats->beat_s;
    *integral += tv_beats_block_mean(beats, beat) * beats->block * beats->beat_s;
    beat += beats->block;
  }
}

/* Leaves the cursor ready for an interval of the same length that begins at t1. */
static void prime_cursor(const struct tv_programme *programme, struct tv_programme_cursor *cursor, double t1_s,
                         double step_s) {
  struct tv_segment segment;
  double rate_hz = programme->per_decay_hz;
  find_segment(programme, t1_s, &segment);
  bool same_programme = cursor->programme_id == programme->id;
  cursor->programme_id = programme->id;
  cursor->value[AT_S] = t1_s;
  cursor->value[UNTIL_S] = segment.end_s;
  cursor->value[FLOOR] = segment.floor_frac;
  cursor->value[AMPLITUDE] =
      segment.amplitude_frac > 0.0 ? segment.amplitude_frac * tv_exp(-(t1_s - segment.start_s) * rate_hz) : 0.0;
  if (same_programme && fabs(step_s - cursor->value[STEP_S]) <= SAME_STEP_FRAC * step_s) return;
  cursor->value[STEP_S] = step_s;
  cursor->value[STEP_DECAY] = tv_exp(-step_s * rate_hz);
  cursor->value[STEP_MEAN] = 1.0;
  cursor->value[STEP_SLOPE] = 0.0;
  if (rate_hz > 0.0) {
    double step = step_s * rate_hz;
    cursor->value[STEP_MEAN] = -tv_expm1(-step) / step;
    cursor->value[STEP_SLOPE] = (cursor->value[STEP_DECAY] - cursor->value[STEP_MEAN]) / step;
  }
}

/* Window by window is more exact; beyond this the difference of two integrals is faster. */
static bool spans_many_windows(const struct tv_table *table, double span_s) {
  return span_s * (double)table->count > 64.0 * table->length_s;
}

static double mean_from_segments(const struct tv_programme *programme, struct tv_programme_cursor *cursor,
                                 double t0_s, double t1_s) {
  struct tv_segment segment;
  double integral = 0.0;
  double t_s = t0_s;
  if (programme->kind == TABLE && spans_many_windows(&programme->table, t1_s - t0_s)) {
    integral = tv_table_integral(&programme->table, t1_s) - tv_table_integral(&programme->table, t0_s);
    t_s = t1_s;
  }
  while (t_s < t1_s) {
    t_s = skip_whole_blocks(programme, t_s, t1_s, &integral);
    if (!(t_s < t1_s)) break;
    find_segment(programme, t_s, &segment);
    double end_s = segment.end_s < t1_s ? segment.end_s : t1_s;
    integral += segment_integral(programme, &segment, t_s, end_s);
    t_s = end_s;
  }
  prime_cursor(programme, cursor, t1_s, t1_s - t0_s);
  return integral / (t1_s - t0_s);
}

/* Begins where the last interval ended, in the same segment, and is as long. */
static inline bool goes_on(const struct tv_programme *programme, const struct tv_programme_cursor *cursor, double t0_s,
                           double t1_s) {
  const double *value = cursor->value;
  return cursor->programme_id == programme->id && t0_s == value[AT_S] && t1_s <= value[UNTIL_S] &&
         fabs((t1_s - t0_s) - value[STEP_S]) <= SAME_STEP_FRAC * value[STEP_S];
}

static inline double mean_within(const struct tv_programme *programme, struct tv_programme_cursor *cursor, double t0_s,
                                 double t1_s) {
  double *value = cursor->value, amplitude = value[AMPLITUDE];
  double excess = ((t1_s - t0_s) - value[STEP_S]) * programme->per_decay_hz;
  value[AT_S] = t1_s;
  value[AMPLITUDE] = amplitude * value[STEP_DECAY] * (1.0 - excess);
  return value[FLOOR] + amplitude * (value[STEP_MEAN] + value[STEP_SLOPE] * excess);
}

double tv_programme_mean(const struct tv_programme *programme, struct tv_programme_cursor *cursor, double t0_s,
                         double t1_s) {
  return goes_on(programme, cursor, t0_s, t1_s) ? mean_within(programme, cursor, t0_s, t1_s)
                                                : mean_from_segments(programme, cursor, t0_s, t1_s);
}

void tv_programme_means(const struct tv_programme *programme, struct tv_programme_cursor *cursor, double from_s, double step_s,
                        double index, int count, double *mean) {
  double t0_s = from_s + index * step_s, *value = cursor->value;
  for (int k = 0; k < count;) {
    double t1_s = from_s + (index + (k + 1)) * step_s;
    if (!goes_on(programme, cursor, t0_s, t1_s)) {
      mean[k++] = mean_from_segments(programme, cursor, t0_s, t1_s);
      t0_s = t1_s;
      continue;
    }
    /* as long as the segment lasts */
    const double rate_hz = programme->per_decay_hz, until_s = value[UNTIL_S], same_s = SAME_STEP_FRAC * value[STEP_S];
    const double length_s = value[STEP_S], decay = value[STEP_DECAY], step_mean = value[STEP_MEAN];
    double amplitude = value[AMPLITUDE];
    do {
      double excess_s = (t1_s - t0_s) - length_s, excess = excess_s * rate_hz;
      if (t1_s > until_s || !(fabs(excess_s) <= same_s)) break;
      mean[k++] = value[FLOOR] + amplitude * (step_mean + value[STEP_SLOPE] * excess);
      amplitude = amplitude * decay * (1.0 - excess);
      t0_s = t1_s;
      t1_s = from_s + (index + (k + 1)) * step_s;
    } while (k < count);
    value[AT_S] = t0_s;
    value[AMPLITUDE] = amplitude;
  }
}

double tv_programme_cycle_s(const struct tv_programme *programme) {
  const struct tv_beats *beats = &programme->beats;
  if (programme->kind == STEADY) return 0.0;
  if (programme->kind == TABLE) return programme->table.length_s;
  /* passages are whole blocks of TV_BEAT_BLOCK; a longer block need not divide them */
  long long whole = beats->block;
  if (beats->passage_count > 0) {
    whole = beats->form_beats;
    while (whole % beats->block != 0) whole += beats->form_beats;
  }
  return (double)whole * beats->beat_s;
}

double tv_programme_bass_hz(const struct tv_programme *programme) {
  return programme->bass_hz;
}
