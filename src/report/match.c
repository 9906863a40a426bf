#include "report/match.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/json_write.h"
#include "tailvolt/version.h"

static const char *state_word(enum tailvolt_match_state state) {
  static const char *const words[] = {"fitted", "at bound", "unseen", "alike"};
  return words[state];
}

static int count_of(const struct tailvolt_matching *matching, enum tailvolt_match_state state) {
  int count = 0;
  for (int k = 0; k < matching->count; k++) count += matching->keys[k].state == state;
  return count;
}

/* "a", "a and b", "a, b and c" of the keys whose bit is set. */
static void list_keys(const struct tailvolt_matching *matching, unsigned which, struct tv_buffer *buffer) {
  int left = 0;
  for (int k = 0; k < matching->count; k++) left += (which >> k & 1) != 0;
  for (int k = 0; k < matching->count; k++) {
    if ((which >> k & 1) == 0) continue;
    tv_buffer_add(buffer, matching->keys[k].key);
    left--;
    if (left > 0) tv_buffer_add(buffer, left == 1 ? " and " : ", ");
  }
}

static void advice(const struct tailvolt_matched *key, struct tv_buffer *buffer) {
  tv_buffer_add(buffer, "        measure: ");
  if (key->measure_volts[0] != '\0') tv_buffer_add(buffer, key->measure_volts);
  if (key->measure_volts[0] != '\0' && key->measure_amperes[0] != '\0') tv_buffer_add(buffer, " or ");
  if (key->measure_amperes[0] != '\0') tv_buffer_add(buffer, key->measure_amperes);
  if (key->measure_volts[0] == '\0' && key->measure_amperes[0] == '\0')
    tv_buffer_add(buffer, "no voltage or current of this drive decides; log another load\n        or speed, or measure the part itself");
  tv_buffer_add(buffer, "\n");
}

static void say_state(const struct tailvolt_matching *matching, int k, struct tv_buffer *buffer) {
  const struct tailvolt_matched *key = &matching->keys[k];
  if (key->state == TAILVOLT_MATCH_ALIKE) {
    tv_buffer_add(buffer, "ALIKE   ");
    list_keys(matching, key->alike | 1u << k, buffer);
    tv_buffer_add(buffer, "\n        cannot be told apart from these columns; ");
    tv_buffer_add(buffer, key->key);
    tv_buffer_add(buffer, "\n        was left at ");
    tv_buffer_add(buffer, key->text);
    tv_buffer_add(buffer, "\n");
    advice(key, buffer);
  } else if (key->state == TAILVOLT_MATCH_UNSEEN) {
    tv_buffer_add(buffer, "UNSEEN  ");
    tv_buffer_add(buffer, key->key);
    tv_buffer_add(buffer, " leaves no trace in these columns,\n        and was left at ");
    tv_buffer_add(buffer, key->text);
    tv_buffer_add(buffer, "\n");
    advice(key, buffer);
  } else if (key->state == TAILVOLT_MATCH_AT_BOUND) {
    tv_buffer_add(buffer, "BOUND   ");
    tv_buffer_add(buffer, key->key);
    tv_buffer_add(buffer, " went to the end of its range, ");
    tv_buffer_add(buffer, key->text);
    tv_buffer_add(buffer, ":\n        the fit wants what the model lacks, or another value is wrong\n");
  }
}

static void key_line(const struct tailvolt_matched *key, struct tv_buffer *buffer) {
  char line[320], interval[112] = "-";
  if (key->state == TAILVOLT_MATCH_FITTED) snprintf(interval, sizeof interval, "%s .. %s", key->low_text, key->high_text);
  if (strlen(key->key) > 30) {
    snprintf(line, sizeof line, "  %s\n", key->key);
    tv_buffer_add(buffer, line);
  }
  snprintf(line, sizeof line, "  %-30s %11s %12s  %s\n", strlen(key->key) > 30 ? "" : key->key, key->before_text,
           key->state == TAILVOLT_MATCH_FITTED || key->state == TAILVOLT_MATCH_AT_BOUND ? key->text : "as it was", interval);
  tv_buffer_add(buffer, line);
}

/* RMS over all readings of a kind. */
static double overall(const struct tailvolt_comparison *comparison, bool current) {
  double sum = 0;
  long count = 0;
  for (int l = 0; l < comparison->log_count; l++)
    for (int c = 0; c < comparison->logs[l].column_count; c++) {
      const struct tailvolt_compared *column = &comparison->logs[l].columns[c];
      if (column->current != current || column->count == 0) continue;
      sum += column->rms * column->rms * (double)column->count;
      count += column->count;
    }
  return sqrt(sum / (double)count);
}

static void first_lines(const struct tailvolt_matching *matching, struct tv_buffer *buffer) {
  char line[320];
  double volts = overall(matching->after, false), amperes = overall(matching->after, true);
  tv_buffer_add(buffer, "FITTED  ");
  if (!isnan(volts)) {
    snprintf(line, sizeof line, "%s rms apart (%s before)%s", tv_reading(volts, false).text,
             tv_reading(overall(matching->before, false), false).text, isnan(amperes) ? "" : ", ");
    tv_buffer_add(buffer, line);
  }
  if (!isnan(amperes)) {
    snprintf(line, sizeof line, "%s (%s before)", tv_reading(amperes, true).text,
             tv_reading(overall(matching->before, true), true).text);
    tv_buffer_add(buffer, line);
  }
  snprintf(line, sizeof line, "\n        %d of %d keys from %ld readings", count_of(matching, TAILVOLT_MATCH_FITTED), matching->count,
           matching->readings);
  tv_buffer_add(buffer, line);
  if (matching->alike_s > 0) {
    snprintf(line, sizeof line, ", worth %s: residuals stay\n        correlated for %s", tv_fixed(matching->worth, 0).text,
             tv_duration(matching->alike_s).text);
    tv_buffer_add(buffer, line);
  }
  if (matching->spikes > 0) {
    snprintf(line, sizeof line, "%s%ld stand%s far out and %s left out", matching->alike_s > 0 ? "; " : ";\n        ", matching->spikes,
             matching->spikes == 1 ? "s" : "", matching->spikes == 1 ? "is" : "are");
    tv_buffer_add(buffer, line);
  }
  tv_buffer_add(buffer, "\n");
  if (!matching->settled) tv_buffer_add(buffer, "        the search was given up before the values settled\n");
}

enum tailvolt_status tv_match_text(const struct tailvolt_matching *matching, const struct tailvolt_report_style *style, char **out) {
  struct tv_buffer buffer = {0};
  (void)style;
  first_lines(matching, &buffer);
  for (int k = 0; k < matching->count; k++) say_state(matching, k, &buffer);
  char line[160];
  snprintf(line, sizeof line, "\n  %-30s %11s %12s  %s\n", "key", "was", "is", "95 of 100 such fits hold it");
  tv_buffer_add(&buffer, line);
  for (int k = 0; k < matching->count; k++) key_line(&matching->keys[k], &buffer);
  tv_buffer_add(&buffer, "\nSimulated with these values, less measured:\n");
  tv_compare_table(&buffer, matching->after, matching->before);
  return tv_buffer_finish(&buffer, out);
}

/* ---- JSON ---- */

static json_t *alike_json(const struct tailvolt_matching *matching, unsigned which) {
  json_t *list = json_array();
  for (int k = 0; k < matching->count; k++)
    if ((which >> k & 1) != 0) tv_json_append(&list, tv_json_text(matching->keys[k].key));
  return list;
}

static json_t *key_json(const struct tailvolt_matching *matching, const struct tailvolt_matched *key) {
  json_t *object = json_object(), *measure = json_array();
  tv_json_put_text(&object, "key", key->key);
  tv_json_put_text(&object, "state", state_word(key->state));
  tv_json_put_text(&object, "before", key->before_text);
  tv_json_put_text(&object, "value", key->text);
  tv_json_put(&object, "standard_error", key->error_text[0] != '\0' ? tv_json_text(key->error_text) : json_null());
  tv_json_put(&object, "low", key->low_text[0] != '\0' ? tv_json_text(key->low_text) : json_null());
  tv_json_put(&object, "high", key->high_text[0] != '\0' ? tv_json_text(key->high_text) : json_null());
  tv_json_put(&object, "alike", alike_json(matching, key->alike));
  if (key->measure_volts[0] != '\0') tv_json_append(&measure, tv_json_text(key->measure_volts));
  if (key->measure_amperes[0] != '\0') tv_json_append(&measure, tv_json_text(key->measure_amperes));
  tv_json_put(&object, "measure", measure);
  return object;
}

enum tailvolt_status tv_match_json(const struct tailvolt_matching *matching, char **out) {
  struct tv_buffer buffer = {0};
  json_t *root = json_object(), *keys = json_array();
  tv_json_put_text(&root, "tailvolt", TAILVOLT_VERSION);
  for (int k = 0; k < matching->count; k++) tv_json_append(&keys, key_json(matching, &matching->keys[k]));
  tv_json_put(&root, "keys", keys);
  tv_json_put(&root, "readings", json_integer(matching->readings));
  tv_json_put_number(&root, "worth", matching->worth);
  tv_json_put_number(&root, "alike_s", matching->alike_s);
  tv_json_put(&root, "spikes", json_integer(matching->spikes));
  tv_json_put(&root, "settled", json_boolean(matching->settled));
  tv_json_put(&root, "runs", json_integer(matching->runs));
  tv_json_put(&root, "before", tv_compare_logs_json(matching->before));
  tv_json_put(&root, "after", tv_compare_logs_json(matching->after));
  tv_json_write(root, &buffer);
  json_decref(root);
  return tv_buffer_finish(&buffer, out);
}

enum tailvolt_status tv_match_csv(const struct tailvolt_matching *matching, char **out) {
  return tv_compare_csv(matching->after, matching->before, out);
}
