/* Styles of programme: kinds of music or speech, as plain data files.
 *
 *   [style]
 *   crest factor = 9 dB               (needed)
 *   tempo = 124 /min                  (needed) beats, notes or syllables
 *   hold = 40 ms                      at full power before the decay
 *   decay = 60 ms                     of power, e-fold
 *   floor = 5 %                       least power under the beats, of the loudest
 *   bass note = 50 Hz                 0 Hz = envelope only
 *   phrases = 80 %                    swing of the level from second to second; 0 % = beats alone; default 90 %
 *   sections = 65 %                   how much of that swing a ten-second mean still shows; default 70 %
 *   passage = 64 beats at -6 dB       repeatable, played in turn, in place of phrases; multiples of 16 beats */
#ifndef TV_INPUT_STYLE_H
#define TV_INPUT_STYLE_H

#include "parts/programme_beats.h"
#include "tailvolt/system.h"

struct tv_style {
  double crest_db, tempo_per_min, hold_s, decay_s, floor_frac, bass_hz;
  double phrases_frac, sections_frac; /* NAN where the style does not say */
  int passage_count;
  int passage_beats[TV_PASSAGE_MAX];
  double passage_level_db[TV_PASSAGE_MAX];
};

/* The styles of the folder `profiles`, built in. `name` NULL ends the list. */
struct tv_built_in_style {
  const char *name, *text;
};
extern const struct tv_built_in_style tv_built_in_styles[];

/* Whether a style so named is a file: it holds a slash or ends in ".ini". */
bool tv_style_is_file(const char *name);

/* Reads a built-in style by name ("kick", "held bass" = "held-bass"), or a file where `name` holds a slash or ends in
 * ".ini"; `system_file` gives the folder a relative path starts from.
 * TAILVOLT_OK, _NO_MEMORY, or _BAD_INPUT with `error` (TAILVOLT_TEXT_MAX bytes) filled. */
TAILVOLT_CHECKED enum tailvolt_status tv_style_read(const char *name, const char *system_file, struct tv_style *out,
                                                    char *error);

#endif
