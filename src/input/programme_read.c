/* Programmes from their description in a system file. */
#include "input/programme_read.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/envelope_csv.h"
#include "input/path.h"
#include "input/recording.h"
#include "input/style.h"
#include "parts/programme_beats.h"
#include "parts/programme_table.h"
#include "text/number.h"
#include "text/text.h"
#include "text/unfit.h"

#define RECORDING_WINDOW_S 0.01
/* Where a style says nothing; peaks over 1, 10 and 30 s as in the median track
 * (parts/programme_phrases.c). */
#define PHRASES_FRAC 0.90
#define SECTIONS_FRAC 0.70

/* Share of the rated sine power for a crest factor in decibel: 2 / CF^2. */
static double mean_of_crest(double crest_db) {
  return 2.0 * pow(10.0, -crest_db / 10.0);
}

/* What is played where neither recording nor envelope is named: the style, if any, with the programme's own
 * values replacing the style's where given (not NAN). */
static enum tailvolt_status describe(const struct tailvolt_programme *spec, const char *system_file,
                                     struct tv_style *style, char *error) {
  memset(style, 0, sizeof *style);
  style->phrases_frac = style->sections_frac = (double)NAN;
  if (spec->style[0] != '\0') {
    enum tailvolt_status status = tv_style_read(spec->style, system_file, style, error);
    if (status != TAILVOLT_OK) return status;
  }
  bool styled = spec->style[0] != '\0';
  if (!styled || !isnan(spec->crest_db)) style->crest_db = spec->crest_db;
  if (!styled || !isnan(spec->tempo_per_min)) style->tempo_per_min = spec->tempo_per_min;
  if (!styled || !isnan(spec->decay_s)) style->decay_s = spec->decay_s;
  if (!styled || !isnan(spec->bass_hz)) style->bass_hz = spec->bass_hz;
  if (!styled || !isnan(spec->sections_frac)) style->sections_frac = spec->sections_frac;
  if (!styled || !isnan(spec->phrases_frac)) {
    style->phrases_frac = spec->phrases_frac;
    style->passage_count = 0;
  }
  if (isnan(style->phrases_frac)) style->phrases_frac = style->passage_count > 0 ? 0.0 : PHRASES_FRAC;
  if (isnan(style->sections_frac)) style->sections_frac = SECTIONS_FRAC;
  return TAILVOLT_OK;
}

static enum tailvolt_status create_beats(const struct tailvolt_programme *spec, const char *system_file,
                                         unsigned long seed, struct tv_programme **out, char *error) {
  struct tv_style style;
  enum tailvolt_status status = describe(spec, system_file, &style, error);
  if (status != TAILVOLT_OK) return status;
  if (!(style.crest_db >= 0.0 && style.crest_db <= 40.0)) {
    snprintf(error, TAILVOLT_TEXT_MAX, "crest factor %s: must be 0 to 40 dB", tv_significant(style.crest_db, 6).text);
    return TAILVOLT_BAD_INPUT;
  }
  struct tv_beats_spec beats = {.mean_frac = mean_of_crest(style.crest_db),
                                .tempo_per_min = style.tempo_per_min,
                                .decay_s = style.decay_s,
                                .hold_s = style.hold_s,
                                .floor_frac = style.floor_frac,
                                .seed = seed,
                                .phrases_frac = style.phrases_frac,
                                .sections_frac = style.phrases_frac * style.sections_frac,
                                .passage_count = style.passage_count};
  memcpy(beats.passage_beats, style.passage_beats, sizeof beats.passage_beats);
  memcpy(beats.passage_level_db, style.passage_level_db, sizeof beats.passage_level_db);
  return tv_programme_from_beats(&beats, style.bass_hz, out, error);
}

/* The loudest sample counts as the loudest the amplifier plays unclipped. */
static enum tailvolt_status read_recording(struct tv_table *table, const struct tailvolt_programme *spec,
                                           const char *path, char *error) {
  /* the band below a crossover is for a bass amplifier, which plays the sum of the channels */
  const struct tv_recording_options options = {.window_s = RECORDING_WINDOW_S,
                                               .below_hz = spec->below_hz,
                                               .above_hz = spec->above_hz,
                                               .mono = spec->below_hz > 0.0};
  struct tv_recording recording;
  enum tailvolt_status status = tv_recording_read(path, &options, &recording, error);
  if (status != TAILVOLT_OK) return status;
  if (recording.truncated) {
    snprintf(error, TAILVOLT_TEXT_MAX, "is cut short or damaged after %s s", tv_fixed(recording.duration_s, 3).text);
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

/* The path as the user wrote it precedes the reason. */
static enum tailvolt_status create_table(const struct tailvolt_programme *spec, const char *system_file,
                                         struct tv_programme **out, char *error) {
  struct tv_table table;
  char reason[TAILVOLT_TEXT_MAX] = "";
  bool from_recording = spec->recording[0] != '\0';
  const char *name = from_recording ? spec->recording : spec->envelope;
  char *path = tv_beside(system_file, name);
  if (path == NULL) return TAILVOLT_NO_MEMORY;
  memset(&table, 0, sizeof table);
  const char *unfit = tv_unfit(path, true);
  enum tailvolt_status status = TAILVOLT_NOT_READABLE;
  if (unfit != NULL) tv_copy_text(reason, sizeof reason, unfit);
  else status = from_recording ? read_recording(&table, spec, path, reason) : tv_envelope_csv_read(path, &table, reason);
  free(path);
  if (status == TAILVOLT_OK) {
    status = tv_programme_from_table(&table, spec->bass_hz, out, error);
  } else if (status != TAILVOLT_NO_MEMORY) {
    bool has_line = reason[0] >= '0' && reason[0] <= '9';
    snprintf(error, TAILVOLT_TEXT_MAX, "%.120s:%s%.128s", name, has_line ? "" : " ", reason);
    status = TAILVOLT_BAD_INPUT;
  }
  tv_table_free(&table);
  return status;
}

enum tailvolt_status tv_programme_create(const struct tailvolt_programme *spec, const char *system_file,
                                         const unsigned long *seed_override, struct tv_programme **out,
                                         char *error) {
  *out = NULL;
  error[0] = '\0';
  if (spec->recording[0] != '\0' || spec->envelope[0] != '\0') return create_table(spec, system_file, out, error);
  return create_beats(spec, system_file, seed_override != NULL ? *seed_override : spec->seed, out, error);
}
