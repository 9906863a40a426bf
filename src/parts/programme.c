/* The programme: mean of the envelope over any interval, by closed form.
 *
 * Every kind of programme is a row of segments floor + amplitude exp(-(t - start) / decay). Calls that follow one
 * another inside a segment with a constant step take no exponential: the cursor carries the amplitude at the end of
 * the last interval and the two factors of the step. Intervals of sums t = start + k h differ in their last bits; the
 * first-order terms in that difference keep the product from drifting. */
#include "parts/programme.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/envelope_csv.h"
#include "input/recording.h"
#include "parts/programme_beats.h"
#include "parts/programme_style.h"
#include "parts/programme_table.h"

#define RECORDING_WINDOW_S 0.01

enum kind { STEADY, BEATS, TABLE };

struct tv_programme {
  enum kind kind;
  unsigned long long id;
  double bass_hz;
  double mean_frac;    /* asked for by the crest factor */
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

static unsigned long long mix_id(unsigned long long id, const void *data, size_t size) {
  const unsigned char *byte = data;
  for (size_t i = 0; i < size; i++) id = (id ^ byte[i]) * 0x100000001B3u; /* FNV-1a */
  return id;
}

static unsigned long long identify(const struct tailvolt_programme *spec, unsigned long seed) {
  const double number[] = {spec->crest_db, spec->tempo_per_min, spec->decay_s,
                           spec->bass_hz,  spec->below_hz,      spec->above_hz};
  unsigned long long id = 0xCBF29CE484222325u;
  id = mix_id(id, number, sizeof number);
  id = mix_id(id, &seed, sizeof seed);
  id = mix_id(id, spec->recording, strlen(spec->recording) + 1);
  id = mix_id(id, spec->envelope, strlen(spec->envelope) + 1);
  id = mix_id(id, spec->style, strlen(spec->style) + 1);
  return id == 0 ? 1 : id;
}

static enum tailvolt_status refuse(char *error, const char *what, double value, const char *accepted) {
  snprintf(error, TAILVOLT_TEXT_MAX, "%s %g: must be %s", what, value, accepted);
  return TAILVOLT_BAD_INPUT;
}

/* Share of the rated sine power for a crest factor in decibel: 2 / CF^2. */
static double mean_of_crest(double crest_db) {
  return 2.0 * pow(10.0, -crest_db / 10.0);
}

/* What is played where neither a recording nor an envelope is named: the style, if one is named, with the
 * programme's own values in place of the style's where they are given (not NAN). */
static enum tailvolt_status describe(const struct tailvolt_programme *spec, const char *system_file,
                                     struct tv_style *style, char *error) {
  memset(style, 0, sizeof *style);
  if (spec->style[0] != '\0') {
    enum tailvolt_status status = tv_style_read(spec->style, system_file, style, error);
    if (status != TAILVOLT_OK) return status;
  }
  bool styled = spec->style[0] != '\0';
  if (!styled || !isnan(spec->crest_db)) style->crest_db = spec->crest_db;
  if (!styled || !isnan(spec->tempo_per_min)) style->tempo_per_min = spec->tempo_per_min;
  if (!styled || !isnan(spec->decay_s)) style->decay_s = spec->decay_s;
  if (!styled || !isnan(spec->bass_hz)) style->bass_hz = spec->bass_hz;
  return TAILVOLT_OK;
}

static enum tailvolt_status init_beats(struct tv_programme *programme, const struct tailvolt_programme *spec,
                                       const char *system_file, unsigned long seed, char *error) {
  struct tv_style style;
  enum tailvolt_status status = describe(spec, system_file, &style, error);
  if (status != TAILVOLT_OK) return status;
  programme->bass_hz = style.bass_hz;
  if (!(style.crest_db >= 0.0 && style.crest_db <= 40.0))
    return refuse(error, "crest factor", style.crest_db, "0 to 40 dB");
  programme->mean_frac = mean_of_crest(style.crest_db);
  /* A sine has 3.0103 dB: at or below that nothing is left to swing, the tone is steady and clipped. */
  if (programme->mean_frac >= 1.0) {
    programme->kind = STEADY;
    return TAILVOLT_OK;
  }
  if (!(style.tempo_per_min >= 1.0 && style.tempo_per_min <= 1200.0))
    return refuse(error, "tempo", style.tempo_per_min, "1 to 1200 /min");
  if (!(style.decay_s >= 0.0 && isfinite(style.decay_s)))
    return refuse(error, "decay", style.decay_s, "0 s or more");
  struct tv_beats_spec beats = {.mean_frac = programme->mean_frac,
                                .tempo_per_min = style.tempo_per_min,
                                .decay_s = style.decay_s,
                                .hold_s = style.hold_s,
                                .floor_frac = style.floor_frac,
                                .seed = seed,
                                .passage_count = style.passage_count};
  memcpy(beats.passage_beats, style.passage_beats, sizeof beats.passage_beats);
  memcpy(beats.passage_level_db, style.passage_level_db, sizeof beats.passage_level_db);
  programme->kind = BEATS;
  programme->per_decay_hz = style.decay_s > 0.0 ? 1.0 / style.decay_s : 0.0;
  return tv_beats_init(&programme->beats, &beats, error);
}

/* The loudest sample is taken as the loudest that the amplifier plays unclipped. */
static enum tailvolt_status read_recording(struct tv_table *table, const struct tailvolt_programme *spec,
                                           const char *path, char *error) {
  const struct tv_recording_options options = {
      .window_s = RECORDING_WINDOW_S, .below_hz = spec->below_hz, .above_hz = spec->above_hz};
  struct tv_recording recording;
  enum tailvolt_status status = tv_recording_read(path, &options, &recording, error);
  if (status != TAILVOLT_OK) return status;
  if (recording.truncated) {
    snprintf(error, TAILVOLT_TEXT_MAX, "is cut short or damaged after %.3f s", recording.duration_s);
    tv_recording_free(&recording);
    return TAILVOLT_BAD_INPUT;
  }
  double scale = 2.0 / (recording.band.peak * recording.band.peak);
  table->count = recording.window_count;
  table->window_s = recording.window_s;
  table->length_s = recording.duration_s;
  table->share_frac = recording.mean_square;
  recording.mean_square = NULL;
  for (long k = 0; k < table->count; k++) table->share_frac[k] *= scale;
  tv_recording_free(&recording);
  return tv_table_finish(table);
}

/* `what` is the key, `name` the path as the user wrote it; both go before the reason. */
static enum tailvolt_status init_table(struct tv_programme *programme, const struct tailvolt_programme *spec,
                                       const char *system_file, char *error) {
  char reason[TAILVOLT_TEXT_MAX] = "";
  bool from_recording = spec->recording[0] != '\0';
  const char *name = from_recording ? spec->recording : spec->envelope;
  char *path = tv_beside(system_file, name);
  if (path == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = from_recording ? read_recording(&programme->table, spec, path, reason)
                                               : tv_envelope_csv_read(path, &programme->table, reason);
  free(path);
  if (status == TAILVOLT_NO_MEMORY) return status;
  if (status != TAILVOLT_OK) {
    bool has_line = reason[0] >= '0' && reason[0] <= '9';
    snprintf(error, TAILVOLT_TEXT_MAX, "%.120s:%s%.128s", name, has_line ? "" : " ", reason);
    return TAILVOLT_BAD_INPUT;
  }
  programme->kind = TABLE;
  return TAILVOLT_OK;
}

enum tailvolt_status tv_programme_create(const struct tailvolt_programme *spec, const char *system_file,
                                         const unsigned long *seed_override, struct tv_programme **out,
                                         char *error) {
  *out = NULL;
  error[0] = '\0';
  struct tv_programme *programme = calloc(1, sizeof *programme);
  if (programme == NULL) return TAILVOLT_NO_MEMORY;
  unsigned long seed = seed_override != NULL ? *seed_override : spec->seed;
  programme->id = identify(spec, seed);
  programme->bass_hz = spec->bass_hz;
  enum tailvolt_status status = spec->recording[0] != '\0' || spec->envelope[0] != '\0'
                                    ? init_table(programme, spec, system_file, error)
                                    : init_beats(programme, spec, system_file, seed, error);
  if (status == TAILVOLT_OK && !(programme->bass_hz >= 0.0 && isfinite(programme->bass_hz)))
    status = refuse(error, "bass note", programme->bass_hz, "0 Hz or more");
  if (status != TAILVOLT_OK) {
    tv_programme_free(programme);
    return status;
  }
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
    integral -= segment->amplitude_frac * exp(-(t0_s - segment->start_s) * rate_hz) *
                expm1(-span_s * rate_hz) / rate_hz;
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
      segment.amplitude_frac > 0.0 ? segment.amplitude_frac * exp(-(t1_s - segment.start_s) * rate_hz) : 0.0;
  if (same_programme && fabs(step_s - cursor->value[STEP_S]) <= SAME_STEP_FRAC * step_s) return;
  cursor->value[STEP_S] = step_s;
  cursor->value[STEP_DECAY] = exp(-step_s * rate_hz);
  cursor->value[STEP_MEAN] = 1.0;
  cursor->value[STEP_SLOPE] = 0.0;
  if (rate_hz > 0.0) {
    double step = step_s * rate_hz;
    cursor->value[STEP_MEAN] = -expm1(-step) / step;
    cursor->value[STEP_SLOPE] = (cursor->value[STEP_DECAY] - cursor->value[STEP_MEAN]) / step;
  }
}

/* Window by window is the more exact; from here on the difference of two integrals is the faster. */
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

double tv_programme_mean(const struct tv_programme *programme, struct tv_programme_cursor *cursor, double t0_s,
                         double t1_s) {
  double *value = cursor->value;
  if (cursor->programme_id != programme->id || t0_s != value[AT_S] || t1_s > value[UNTIL_S])
    return mean_from_segments(programme, cursor, t0_s, t1_s);
  double excess_s = (t1_s - t0_s) - value[STEP_S];
  if (!(fabs(excess_s) <= SAME_STEP_FRAC * value[STEP_S]))
    return mean_from_segments(programme, cursor, t0_s, t1_s);
  double amplitude = value[AMPLITUDE];
  double excess = excess_s * programme->per_decay_hz;
  value[AT_S] = t1_s;
  value[AMPLITUDE] = amplitude * value[STEP_DECAY] * (1.0 - excess);
  return value[FLOOR] + amplitude * (value[STEP_MEAN] + value[STEP_SLOPE] * excess);
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
