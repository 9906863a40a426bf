/* Envelopes as CSV; the figures of a recording as text and JSON. */
#include "report/envelope.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "report/json_write.h"
#include "text/number.h"
#include "tailvolt/version.h"

static void csv_row(struct tv_buffer *buffer, double time_s, double share_frac) {
  /* steps of a nanosecond and of 1e-9 of rated power are finer than anything heard or measured */
  tv_buffer_add(buffer, tv_compact(time_s, 9).text);
  tv_buffer_add(buffer, ",");
  tv_buffer_add(buffer, tv_compact(share_frac, 9).text);
  tv_buffer_add(buffer, "\n");
}

enum tailvolt_status tailvolt_envelope_csv(const struct tailvolt_envelope *envelope, char **out) {
  struct tv_buffer buffer = {0};
  double last_frac = 0.0;
  tv_buffer_add(&buffer, "time_s,share\n");
  for (long k = 0; k < envelope->window_count; k++) {
    last_frac = envelope->share_frac[k];
    csv_row(&buffer, (double)k * envelope->window_s, last_frac);
  }
  csv_row(&buffer, envelope->duration_s, last_frac);
  return tv_buffer_finish(&buffer, out);
}

static void add(struct tv_buffer *buffer, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Texts and whole numbers only: decimals come through text/number.h. */
static void add(struct tv_buffer *buffer, const char *format, ...) {
  char line[512];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(line, sizeof line, format, arguments);
  va_end(arguments);
  tv_buffer_add(buffer, line);
}

/* "below 80 Hz", "above 60 Hz, below 120 Hz" */
static void band_words(const struct tailvolt_envelope *envelope, char *to, size_t size) {
  struct tv_number above = tv_compact(envelope->above_hz, 1), below = tv_compact(envelope->below_hz, 1);
  if (envelope->above_hz > 0.0 && envelope->below_hz > 0.0)
    snprintf(to, size, "%s to %s Hz", above.text, below.text);
  else if (envelope->below_hz > 0.0)
    snprintf(to, size, "below %s Hz", below.text);
  else
    snprintf(to, size, "above %s Hz", above.text);
}

static void level_row(struct tv_buffer *buffer, const struct tailvolt_envelope *envelope, const char *what,
                      const char *unit, double whole, double filtered) {
  char number[64];
  snprintf(number, sizeof number, "%s %s", tv_fixed(whole, 2).text, unit);
  if (envelope->is_filtered)
    add(buffer, "  %-16s%-20s%s %s\n", what, number, tv_fixed(filtered, 2).text, unit);
  else
    add(buffer, "  %-16s%s\n", what, number);
}

static void levels(struct tv_buffer *buffer, const struct tailvolt_envelope *envelope) {
  const struct tailvolt_level *whole = &envelope->whole, *filtered = &envelope->filtered;
  char band[96] = "";
  if (envelope->is_filtered) {
    band_words(envelope, band, sizeof band);
    add(buffer, "  %-16s%-20s%s\n", "", "whole band", band);
  }
  level_row(buffer, envelope, "peak", "dBFS", whole->peak_dbfs, filtered->peak_dbfs);
  level_row(buffer, envelope, "RMS", "dBFS", whole->rms_dbfs, filtered->rms_dbfs);
  level_row(buffer, envelope, "crest factor", "dB", whole->crest_factor_db, filtered->crest_factor_db);
  level_row(buffer, envelope, "mean power", "% of rated", 100.0 * whole->mean_frac, 100.0 * filtered->mean_frac);
}

static void player_text(struct tv_buffer *buffer, const struct tv_envelope_player *player) {
  const struct tailvolt_amplifier *amplifier = player->amplifier;
  const struct tailvolt_envelope_draw *draw = &player->draw;
  add(buffer, "  %s (%s W, class %s, at %s V):\n", amplifier->name, tv_compact(amplifier->rated_w, 1).text,
      amplifier->topology == TAILVOLT_CLASS_D ? "D" : "AB", tv_compact(amplifier->rated_v, 2).text);
  add(buffer, "    delivers %s W on average (%s of rated) and takes %s W\n", tv_compact(draw->output_w, 1).text,
      tv_percent(100.0 * draw->output_frac).text, tv_compact(draw->supply_w, 1).text);
  add(buffer, "    like a constant draw of %s A; its cable heats as with %s A; loudest window %s A\n",
      tv_fixed(draw->mean_a, 1).text, tv_fixed(draw->rms_a, 1).text, tv_fixed(draw->peak_a, 1).text);
}

enum tailvolt_status tv_envelope_text(const struct tv_envelope_report *report, char **out) {
  const struct tailvolt_envelope *envelope = report->envelope;
  struct tv_buffer buffer = {0};
  tv_buffer_add(&buffer, envelope->name);
  add(&buffer, ": %s, %s Hz, %d channel%s%s\n", tv_duration(envelope->duration_s).text,
      tv_compact(envelope->rate_hz, 0).text, envelope->channels, envelope->channels == 1 ? "" : "s",
      envelope->truncated ? ", CUT SHORT or damaged" : "");
  levels(&buffer, envelope);
  if (envelope->is_filtered)
    add(&buffer, "  crossover: Linkwitz-Riley, order %d (%d dB an octave), 6 dB down at its frequency;\n    %s\n",
        TAILVOLT_CROSSOVER_ORDER, 6 * TAILVOLT_CROSSOVER_ORDER,
        envelope->channels == 1 ? "one channel"
        : envelope->mono        ? "all channels mixed to one first (--stereo keeps them)"
                                : "channels kept apart");
  add(&buffer, "  rated power = a sine with its peak at %s dBFS; loudest window of %s ms: %s of rated\n",
      tv_fixed(envelope->reference_dbfs, 2).text, tv_compact(1000.0 * envelope->window_s, 3).text,
      tv_percent(100.0 * envelope->peak_share_frac).text);
  if (isfinite(envelope->phrases_frac))
    add(&buffer, "  loud and quiet passages: the power of a second swings by %s about the mean; made music\n    is like it with "
                 "crest factor = %s dB, phrases = %s %%, sections = %s %%\n",
        tv_percent(100.0 * envelope->phrases_frac).text, tv_fixed(envelope->filtered.crest_factor_db, 1).text,
        tv_fixed(100.0 * envelope->phrases_frac, 0).text,
        tv_fixed(isfinite(envelope->sections_frac) ? 100.0 * envelope->sections_frac : 0.0, 0).text);
  add(&buffer, "  played at %s dB: %s of rated on average\n", tv_compact(report->level_db, 2).text,
      tv_percent(100.0 * tailvolt_envelope_output_frac(envelope, report->level_db)).text);
  for (int k = 0; k < report->player_count; k++) player_text(&buffer, &report->players[k]);
  if (report->written != NULL) {
    add(&buffer, "  %ld windows written to ", envelope->window_count);
    tv_buffer_add(&buffer, report->written);
    tv_buffer_add(&buffer, "\n");
  }
  return tv_buffer_finish(&buffer, out);
}

/* The first failure empties the whole document, so it is never half there. */
static void put(json_t **object, const char *key, json_t *value) {
  if (*object == NULL) {
    json_decref(value);
  } else if (json_object_set_new(*object, key, value) != 0) {
    json_decref(*object);
    *object = NULL;
  }
}

static void set_number(json_t **object, const char *key, double value) {
  put(object, key, tv_json_number(value));
}

static void set_level(json_t **object, const struct tailvolt_level *level) {
  set_number(object, "peak_dbfs", level->peak_dbfs);
  set_number(object, "rms_dbfs", level->rms_dbfs);
  set_number(object, "crest_factor_db", level->crest_factor_db);
  set_number(object, "mean_share", level->mean_frac);
}

static json_t *filtered_json(const struct tailvolt_envelope *envelope) {
  if (!envelope->is_filtered) return json_null();
  json_t *object = json_object();
  set_number(&object, "below_hz", envelope->below_hz > 0.0 ? envelope->below_hz : (double)NAN);
  set_number(&object, "above_hz", envelope->above_hz > 0.0 ? envelope->above_hz : (double)NAN);
  set_level(&object, &envelope->filtered);
  put(&object, "filter", tv_json_text("Linkwitz-Riley"));
  put(&object, "order", json_integer(TAILVOLT_CROSSOVER_ORDER));
  set_number(&object, "corner_db", 20.0 * log10(0.5));
  put(&object, "mono", json_boolean(envelope->mono));
  return object;
}

static json_t *players_json(const struct tv_envelope_report *report) {
  json_t *array = json_array();
  for (int k = 0; array != NULL && k < report->player_count; k++) {
    const struct tv_envelope_player *player = &report->players[k];
    json_t *object = json_object();
    put(&object, "name", tv_json_text(player->amplifier->name));
    set_number(&object, "rated_w", player->amplifier->rated_w);
    set_number(&object, "rated_v", player->amplifier->rated_v);
    set_number(&object, "output_w", player->draw.output_w);
    set_number(&object, "output_share", player->draw.output_frac);
    set_number(&object, "supply_w", player->draw.supply_w);
    set_number(&object, "mean_a", player->draw.mean_a);
    set_number(&object, "rms_a", player->draw.rms_a);
    set_number(&object, "peak_a", player->draw.peak_a);
    if (json_array_append_new(array, object) != 0) {
      json_decref(array);
      array = NULL;
    }
  }
  return array;
}

enum tailvolt_status tv_envelope_json(const struct tv_envelope_report *report, char **out) {
  const struct tailvolt_envelope *envelope = report->envelope;
  struct tv_buffer buffer = {0};
  json_t *root = json_object();
  put(&root, "tailvolt", tv_json_text(TAILVOLT_VERSION));
  put(&root, "recording", tv_json_text(envelope->name));
  set_number(&root, "duration_s", envelope->duration_s);
  set_number(&root, "declared_s", envelope->declared_s);
  put(&root, "truncated", json_boolean(envelope->truncated));
  set_number(&root, "rate_hz", envelope->rate_hz);
  put(&root, "channels", json_integer(envelope->channels));
  set_level(&root, &envelope->whole);
  put(&root, "filtered", filtered_json(envelope));
  set_number(&root, "reference_dbfs", envelope->reference_dbfs);
  set_number(&root, "window_s", envelope->window_s);
  put(&root, "windows", json_integer(envelope->window_count));
  set_number(&root, "window_mean_share", envelope->mean_share_frac);
  set_number(&root, "window_peak_share", envelope->peak_share_frac);
  set_number(&root, "phrases_share", envelope->phrases_frac);
  set_number(&root, "sections_share", envelope->sections_frac);
  set_number(&root, "level_db", report->level_db);
  set_number(&root, "mean_share_at_level", tailvolt_envelope_output_frac(envelope, report->level_db));
  put(&root, "amplifiers", players_json(report));
  tv_json_write(root, &buffer);
  json_decref(root);
  return tv_buffer_finish(&buffer, out);
}
