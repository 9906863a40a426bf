/* Pictures drawn from a variation: curve, family of curves, heat map. */
#include <csv.h>
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text/read_number.h"
#include "text/number.h"
#include "report/json_write.h"
#include "report/plot_parts.h"
#include "report/vary_table.h"

enum { KEYS = TAILVOLT_VARY_KEYS, CURVES_MAX = 12, PLACES_MAX = 200 };

/* One row of a variation: its values and the figure shown. */
struct row {
  char *values[KEYS];
  double figure, wanted_v;
  bool holds;
};

struct table {
  int key_count, row_count, row_room;
  char *keys[KEYS];
  struct row *rows;
  bool failed;
};

static char *copy(struct table *table, const char *text) {
  char *made = strdup(text);
  if (made == NULL) table->failed = true;
  return made;
}

static struct row *add_row(struct table *table) {
  if (table->row_count == table->row_room) {
    int room = table->row_room == 0 ? 64 : 2 * table->row_room;
    struct row *grown = realloc(table->rows, (size_t)room * sizeof *grown);
    if (grown == NULL) {
      table->failed = true;
      return NULL;
    }
    table->rows = grown;
    table->row_room = room;
  }
  struct row *row = &table->rows[table->row_count++];
  *row = (struct row){.figure = (double)NAN, .wanted_v = (double)NAN};
  return row;
}

static void free_table(struct table *table) {
  for (int k = 0; k < table->key_count; k++) free(table->keys[k]);
  for (int r = 0; r < table->row_count; r++)
    for (int k = 0; k < KEYS; k++) free(table->rows[r].values[k]);
  free(table->rows);
}

/* ---- from CSV ---- */

struct csv_reading {
  struct table *table;
  const char *quantity, *amplifier;
  char chosen[160]; /* "bass:min_v" */
  int field, line;
  int figure_at, wanted_at, status_at;
  bool in_hours; /* the figure is a playing time */
  struct row *row;
};

/* "bass:min_v" is chosen by "min_v" (with the amplifier, where one is given) or by its whole name. */
static bool is_chosen(const struct csv_reading *reading, const char *name) {
  const char *colon = strrchr(name, ':'), *quantity = colon != NULL ? colon + 1 : name;
  size_t part = colon != NULL ? (size_t)(colon - name) : 0;
  if (strcmp(name, reading->quantity) == 0) return true;
  if (strcmp(quantity, reading->quantity) != 0) return false;
  return reading->amplifier == NULL ||
         (strlen(reading->amplifier) == part && strncmp(name, reading->amplifier, part) == 0);
}

static void take_name(struct csv_reading *reading, const char *text) {
  struct table *table = reading->table;
  const char *colon;
  char wanted[200];
  if (reading->field == 0) return;
  if (reading->status_at == 0 && strcmp(text, "status") == 0)
    reading->status_at = reading->field;
  else if (reading->status_at == 0 && table->key_count < KEYS)
    table->keys[table->key_count++] = copy(table, text);
  else if (reading->figure_at == 0 && is_chosen(reading, text)) {
    reading->figure_at = reading->field;
    snprintf(reading->chosen, sizeof reading->chosen, "%s", text);
    reading->in_hours = strcmp(text, "parked:until_s") == 0;
  }
  if (reading->figure_at == 0 || reading->wanted_at != 0) return;
  colon = strrchr(reading->chosen, ':');
  snprintf(wanted, sizeof wanted, "%.*s:target_v", colon != NULL ? (int)(colon - reading->chosen) : 0,
           reading->chosen);
  if (strcmp(text, wanted) == 0) reading->wanted_at = reading->field;
}

static void take_cell(struct csv_reading *reading, const char *text, size_t length) {
  struct row *row = reading->row;
  int key = reading->field - 1;
  double number;
  if (reading->field == 0) row = reading->row = add_row(reading->table);
  if (row == NULL) return;
  if (key >= 0 && key < reading->table->key_count) row->values[key] = copy(reading->table, text);
  if (reading->field == reading->status_at) row->holds = strcmp(text, "holds") == 0;
  if (reading->field == reading->figure_at && tv_parse_number(text, length, &number))
    row->figure = number / (reading->in_hours ? 3600.0 : 1.0);
  if (reading->field == reading->wanted_at && tv_parse_number(text, length, &number)) row->wanted_v = number;
}

static void field_end(void *bytes, size_t length, void *context) {
  struct csv_reading *reading = context;
  const char *text = bytes != NULL ? bytes : "";
  if (reading->line == 0)
    take_name(reading, text);
  else
    take_cell(reading, text, length);
  reading->field++;
}

static void line_end(int by, void *context) {
  struct csv_reading *reading = context;
  (void)by;
  reading->line++;
  reading->field = 0;
}

static enum tailvolt_status read_csv(struct tv_plot *plot, const char *path, struct csv_reading *reading) {
  struct csv_parser parser;
  char block[8192];
  size_t got;
  FILE *file = fopen(path, "rb");
  if (file == NULL && errno == ENOMEM) return TAILVOLT_NO_MEMORY;
  if (file == NULL) {
    tv_plot_refuse(plot, "%.150s: %.90s", path, strerror(errno));
    return TAILVOLT_NOT_READABLE;
  }
  /* a terminated copy of each field, empty ones too */
  if (csv_init(&parser, CSV_APPEND_NULL) != 0) {
    fclose(file);
    return TAILVOLT_NO_MEMORY;
  }
  bool sound = true;
  while (sound && (got = fread(block, 1, sizeof block, file)) > 0)
    sound = csv_parse(&parser, block, got, field_end, line_end, reading) == got;
  sound = sound && csv_fini(&parser, field_end, line_end, reading) == 0;
  bool no_memory = csv_error(&parser) == CSV_ENOMEM;
  csv_free(&parser);
  fclose(file);
  if (no_memory) return TAILVOLT_NO_MEMORY;
  return sound ? TAILVOLT_OK : tv_plot_refuse(plot, "%.150s: is not readable as CSV", path);
}

/* ---- from JSON: converted to the form of the CSV, so that one reader knows the columns ---- */

static enum tailvolt_status json_as_csv(struct tv_plot *plot, const json_t *document, char **csv) {
  const json_t *keys = json_object_get(document, "keys"), *rows = json_object_get(document, "rows");
  struct tailvolt_variation variation = {.key_count = (int)json_array_size(keys),
                                         .row_count = (long)json_array_size(rows)};
  char **lines = calloc((size_t)variation.row_count + 1, sizeof *lines);
  enum tailvolt_status status = lines != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  if (variation.key_count < 1 || variation.key_count > KEYS)
    status = tv_plot_refuse(plot, "the variation has no keys");
  for (int k = 0; k < KEYS && status == TAILVOLT_OK && k < variation.key_count; k++) {
    const char *key = json_string_value(json_array_get(keys, (size_t)k));
    snprintf(variation.keys[k].key, sizeof variation.keys[k].key, "%s", key != NULL ? key : "");
  }
  for (long r = 0; r < variation.row_count && status == TAILVOLT_OK; r++) {
    if (!json_is_object(json_array_get(rows, (size_t)r))) {
      status = tv_plot_refuse(plot, "row %ld of the variation is not an object", r + 1);
      break;
    }
    lines[r] = tv_json_compact(json_array_get(rows, (size_t)r), 0);
    if (lines[r] == NULL) status = TAILVOLT_NO_MEMORY;
  }
  if (status == TAILVOLT_OK) status = tv_vary_csv(&variation, lines, csv);
  for (long r = 0; lines != NULL && r < variation.row_count; r++) free(lines[r]);
  free(lines);
  return status;
}

static enum tailvolt_status read_json(struct tv_plot *plot, const json_t *document,
                                      struct csv_reading *reading) {
  struct csv_parser parser;
  char *csv = NULL;
  enum tailvolt_status status = json_as_csv(plot, document, &csv);
  if (status != TAILVOLT_OK) return status;
  if (csv_init(&parser, CSV_APPEND_NULL) != 0)
    status = TAILVOLT_NO_MEMORY;
  else {
    size_t length = strlen(csv);
    if (csv_parse(&parser, csv, length, field_end, line_end, reading) != length ||
        csv_fini(&parser, field_end, line_end, reading) != 0)
      status = TAILVOLT_NO_MEMORY;
    csv_free(&parser);
  }
  tailvolt_report_free(csv);
  return status;
}

/* ---- axes ---- */

/* The positions of a key along an axis, in file order; numeric where all have the same unit. */
struct axis {
  int key, count;
  const char *place[PLACES_MAX];
  double number[PLACES_MAX];
  bool numeric;
  char unit[32];
};

static bool gauge_like(const char *unit) {
  return strcmp(unit, "AWG") == 0 || strcmp(unit, "ga") == 0 || strcmp(unit, "gauge") == 0;
}

static int place_of(const struct axis *axis, const char *value) {
  for (int k = 0; k < axis->count; k++)
    if (strcmp(axis->place[k], value) == 0) return k;
  return -1;
}

static void make_axis(const struct table *table, int key, struct axis *axis) {
  *axis = (struct axis){.key = key, .numeric = true};
  for (int r = 0; r < table->row_count; r++) {
    const char *value = table->rows[r].values[key];
    double number = 0.0;
    if (place_of(axis, value) >= 0 || axis->count == PLACES_MAX) continue;
    size_t took = tv_parse_leading_number(value, strlen(value), &number);
    const char *unit = value + took + strspn(value + took, " ");
    if (axis->count == 0) snprintf(axis->unit, sizeof axis->unit, "%s", unit);
    if (took == 0 || strcmp(unit, axis->unit) != 0 || gauge_like(unit)) axis->numeric = false;
    axis->number[axis->count] = number;
    axis->place[axis->count++] = value;
  }
  if (axis->count < 2) axis->numeric = false;
  /* values too close together on a linear scale are spaced evenly, as names */
  double low = HUGE_VAL, high = -HUGE_VAL, gap = HUGE_VAL;
  for (int k = 0; k < axis->count; k++) {
    low = fmin(low, axis->number[k]);
    high = fmax(high, axis->number[k]);
    for (int j = 0; j < k; j++) gap = fmin(gap, fabs(axis->number[k] - axis->number[j]));
  }
  if (axis->count < 20 && gap < 0.04 * (high - low)) axis->numeric = false;
}

static double where(const struct axis *axis, const char *value) {
  int place = place_of(axis, value);
  return axis->numeric && place >= 0 ? axis->number[place] : (double)place;
}

static const char *key_end(const char *key) {
  const char *dot = strrchr(key, '.');
  return dot != NULL ? dot + 1 : key;
}

/* "length of feed cable" for `cable feed.length`: the quantity, then the part as people name it. */
static void key_words(const char *key, char *words, size_t size) {
  const char *dot = strrchr(key, '.'), *blank = strchr(key, ' ');
  if (dot == NULL)
    snprintf(words, size, "%s", key);
  else if (blank == NULL || blank > dot)
    snprintf(words, size, "%s of the %.*s", dot + 1, (int)(dot - key), key);
  else if (strncmp(key, "programme music.", 16) == 0)
    snprintf(words, size, "%s of the music", dot + 1);
  else /* kind and name swap: [cable feed] is the feed cable */
    snprintf(words, size, "%s of %.*s %.*s", dot + 1, (int)(dot - blank - 1), blank + 1, (int)(blank - key),
             key);
}

static void set_axis_label(struct tv_plot *plot, const char *name, const char *key, const struct axis *axis) {
  char words[160], text[200];
  key_words(key, words, sizeof words);
  snprintf(text, sizeof text, "%s%s%s", words, axis->numeric && axis->unit[0] != '\0' ? ", " : "",
           axis->numeric ? axis->unit : "");
  tv_plot_set_text(plot, name, text);
}

/* A column's name in words, with its unit. */
static void figure_words(const char *chosen, char *words, size_t size) {
  static const char *const known[][2] = {{"min_v", "lowest voltage, V"},
                                         {"low_1pct_v", "voltage that 1 % of the time lies below, V"},
                                         {"mean_v", "mean voltage, V"},
                                         {"rest_v", "voltage at rest, V"},
                                         {"min_without_ripple_v", "lowest voltage without ripple, V"},
                                         {"below_target_pct", "time below the target, %"},
                                         {"mean_a", "mean current, A"},
                                         {"peak_a", "peak current, A"},
                                         {"cut_outs", "cut-outs"},
                                         {"battery_drop_v", "lost in the battery, V"},
                                         {"feed_drop_v", "lost in the feed, V"},
                                         {"ground_drop_v", "lost on the ground side, V"},
                                         {"end_soc_pct", "charge at the end, %"},
                                         {"min_soc_pct", "least charge, %"},
                                         {"lost_output_db", "loudness lost, dB"},
                                         {"surplus_a", "surplus of the alternator, A"},
                                         {"at_limit_pct", "alternator at its limit, % of the time"},
                                         {"hottest_c", "hottest conductor, C"},
                                         {"until_s", "playing time parked, h"},
                                         {"off_s", "time cut out, s"},
                                         {"output_j", "delivered to the speakers, J"},
                                         {"input_j", "taken by the amplifier, J"}};
  const char *colon = strrchr(chosen, ':'), *quantity = colon != NULL ? colon + 1 : chosen;
  const char *text = quantity;
  for (size_t k = 0; k < sizeof known / sizeof known[0]; k++)
    if (strcmp(known[k][0], quantity) == 0) text = known[k][1];
  /* "lowest voltage at bass, V": the part goes before the unit */
  const char *comma = strrchr(text, ',');
  int plain = comma != NULL ? (int)(comma - text) : (int)strlen(text);
  if (colon == NULL || strncmp(chosen, "parked:", 7) == 0)
    snprintf(words, size, "%s", text);
  else
    snprintf(words, size, "%.*s at %.*s%s", plain, text, (int)(colon - chosen), chosen, text + plain);
}

static int digits_for(double low, double high) {
  double span = high - low;
  return span >= 100.0 ? 0 : span >= 10.0 ? 1 : span > 0.5 || !(span > 0.0) ? 2 : 3;
}

/* Values of every key but one, as a name for a curve. */
static void name_curve(const struct table *table, const struct row *row, int along, char *name, size_t size) {
  name[0] = '\0';
  for (int k = 0; k < table->key_count; k++) {
    size_t length = strlen(name);
    if (k != along) snprintf(name + length, size - length, "%s%s", length > 0 ? ", " : "", row->values[k]);
  }
}

struct range {
  double low, high;
  const struct row *low_row, *high_row;
  double wanted_v; /* the same in all rows, else NAN */
  int holds, known;
};

static struct range range_of(const struct table *table) {
  struct range range = {.low = HUGE_VAL, .high = -HUGE_VAL, .wanted_v = (double)NAN};
  bool mixed = false;
  for (int r = 0; r < table->row_count; r++) {
    const struct row *row = &table->rows[r];
    range.holds += row->holds;
    if (!isfinite(row->figure)) continue;
    range.known++;
    if (row->figure < range.low) {
      range.low = row->figure;
      range.low_row = row;
    }
    if (row->figure > range.high) {
      range.high = row->figure;
      range.high_row = row;
    }
    if (isfinite(range.wanted_v) && (row->wanted_v > range.wanted_v || row->wanted_v < range.wanted_v))
      mixed = true;
    range.wanted_v = row->wanted_v;
  }
  if (mixed) range.wanted_v = (double)NAN;
  return range;
}

/* Where the figure is a terminal voltage, the target belongs in the picture. */
static bool has_target(const char *chosen) {
  const char *colon = strrchr(chosen, ':'), *quantity = colon != NULL ? colon + 1 : chosen;
  return strcmp(quantity, "min_v") == 0 || strcmp(quantity, "low_1pct_v") == 0 ||
         strcmp(quantity, "min_without_ripple_v") == 0;
}

static void set_title(struct tv_plot *plot, const struct table *table, const char *words,
                      const struct range *range) {
  char low[96], high[96], plain[96];
  int digits = digits_for(range->low, range->high);
  const char *comma = strrchr(words, ',');
  name_curve(table, range->low_row, -1, low, sizeof low);
  name_curve(table, range->high_row, -1, high, sizeof high);
  snprintf(plain, sizeof plain, "%.*s", comma != NULL ? (int)(comma - words) : (int)strlen(words), words);
  tv_plot_title(plot, "%.48s: %s%s (%.28s) to %s%s (%.28s)", plain, tv_fixed(range->low, digits).text,
                comma != NULL && strlen(comma) < 6 ? comma + 1 : "", low, tv_fixed(range->high, digits).text,
                comma != NULL && strlen(comma) < 6 ? comma + 1 : "", high);
}

static void add_point(struct tv_plot *plot, const struct axis *axis, const struct row *row, int digits) {
  const char *place = row->values[axis->key];
  tv_plot_cell(plot, where(axis, place));
  tv_plot_cell(plot, row->figure);
  tv_plot_cell_text(plot, place);
  tv_plot_cell_text(plot, isfinite(row->figure) ? tv_fixed(row->figure, digits).text : "");
  tv_plot_row(plot);
}

static enum tailvolt_status make_curves(struct tv_plot *plot, const struct table *table,
                                        const struct axis *axis, const struct range *range) {
  char name[128], seen[CURVES_MAX][128], keys[160] = "";
  int curves = 0, digits = digits_for(range->low, range->high);
  if (table->key_count == 1) {
    for (int r = 0; r < table->row_count; r++) add_point(plot, axis, &table->rows[r], digits);
    return TAILVOLT_OK;
  }
  for (int r = 0; r < table->row_count; r++) {
    bool known = false;
    name_curve(table, &table->rows[r], axis->key, name, sizeof name);
    for (int k = 0; k < curves && !known; k++) known = strcmp(seen[k], name) == 0;
    if (known) continue;
    if (curves == CURVES_MAX)
      return tv_plot_refuse(
          plot, "more than %d curves cannot be told apart; vary fewer values, or draw a `heat` map of two keys",
          CURVES_MAX);
    snprintf(seen[curves++], sizeof seen[0], "%s", name);
    if (curves > 1) tv_buffer_add(&plot->data, "\n\n");
    tv_plot_cell_text(plot, name);
    tv_plot_row(plot);
    for (int s = r; s < table->row_count; s++) {
      char other[128];
      name_curve(table, &table->rows[s], axis->key, other, sizeof other);
      if (strcmp(other, name) == 0) add_point(plot, axis, &table->rows[s], digits);
    }
  }
  for (int k = 0; k < table->key_count; k++) {
    size_t length = strlen(keys);
    if (k != axis->key)
      snprintf(keys + length, sizeof keys - length, "%s%s", length > 0 ? ", " : "", key_end(table->keys[k]));
  }
  tv_plot_set_text(plot, "keys", keys);
  tv_plot_set_number(plot, "count", curves);
  return TAILVOLT_OK;
}

static enum tailvolt_status make_heat(struct tv_plot *plot, const struct table *table,
                                      const struct axis *axis, const struct range *range, const char *words) {
  struct axis other;
  char text[64];
  int digits = digits_for(range->low, range->high), fits = 0;
  if (table->key_count != 2)
    return tv_plot_refuse(plot, "a heat map needs two varied keys, not %d", table->key_count);
  make_axis(table, 1 - axis->key, &other);
  for (int r = 0; r < table->row_count; r++) {
    const struct row *row = &table->rows[r];
    bool falls_short = isfinite(row->wanted_v) && row->figure < row->wanted_v && isfinite(range->wanted_v);
    if (!isfinite(row->figure)) continue;
    fits += !falls_short;
    snprintf(text, sizeof text, "%s%s", tv_fixed(row->figure, digits).text, falls_short ? " \u00d7" : "");
    tv_plot_cell(plot, place_of(axis, row->values[axis->key]));
    tv_plot_cell(plot, place_of(&other, row->values[other.key]));
    tv_plot_cell(plot, row->figure);
    tv_plot_cell_text(plot, row->values[axis->key]);
    tv_plot_cell_text(plot, row->values[other.key]);
    tv_plot_cell_text(plot, text);
    tv_plot_row(plot);
  }
  tv_plot_set_number(plot, "columns", axis->count);
  tv_plot_set_number(plot, "rows", other.count);
  tv_plot_set_number(plot, "low", range->low);
  tv_plot_set_number(plot, "high", range->high);
  tv_plot_set_text(plot, "zlabel", words);
  char label[160];
  key_words(table->keys[axis->key], label, sizeof label);
  tv_plot_set_text(plot, "xlabel", label);
  key_words(table->keys[other.key], label, sizeof label);
  tv_plot_set_text(plot, "ylabel", label);
  if (isfinite(range->wanted_v))
    tv_plot_title(plot, "%.60s: %d of %d combinations stay at or above %s V (\u00d7 falls short)", words,
                  fits, range->known, tv_fixed(range->wanted_v, 1).text);
  return TAILVOLT_OK;
}

static int key_along(struct tv_plot *plot, const struct table *table) {
  const char *wanted = plot->request->along;
  int best = -1, most = 0;
  struct axis axis;
  for (int k = 0; k < table->key_count; k++) {
    make_axis(table, k, &axis);
    if (wanted != NULL ? strcmp(table->keys[k], wanted) == 0 || strcmp(key_end(table->keys[k]), wanted) == 0
                       : axis.count >= most) {
      best = k;
      most = axis.count;
    }
  }
  if (best < 0) tv_plot_refuse(plot, "the variation has no key `%.90s`", wanted != NULL ? wanted : "");
  return best;
}

static enum tailvolt_status make(struct tv_plot *plot, const struct table *table, const char *chosen,
                                 int *picture) {
  struct axis axis;
  char words[160];
  int along = key_along(plot, table);
  if (along < 0) return TAILVOLT_BAD_INPUT;
  make_axis(table, along, &axis);
  struct range range = range_of(table);
  if (range.known == 0) return tv_plot_refuse(plot, "no row of the variation has a figure to draw");
  if (!has_target(chosen)) range.wanted_v = (double)NAN;
  figure_words(chosen, words, sizeof words);
  set_title(plot, table, words, &range);
  if (*picture == TV_PICTURE_HEAT) return make_heat(plot, table, &axis, &range, words);
  *picture = table->key_count > 1 ? TV_PICTURE_FAMILY : TV_PICTURE_CURVE;
  set_axis_label(plot, "xlabel", table->keys[along], &axis);
  tv_plot_set_text(plot, "ylabel", words);
  tv_plot_set_number(plot, "categories", !axis.numeric);
  tv_plot_set_number(plot, "wanted_v", range.wanted_v);
  return make_curves(plot, table, &axis, &range);
}

enum tailvolt_status tv_plot_of_variation(struct tv_plot *plot, const char *path, const json_t *variation,
                                          int *picture) {
  struct table table = {0};
  struct csv_reading reading = {.table = &table,
                                .amplifier = plot->request->amplifier,
                                .quantity =
                                    plot->request->quantity != NULL ? plot->request->quantity : "min_v"};
  enum tailvolt_status status =
      variation != NULL ? read_json(plot, variation, &reading) : read_csv(plot, path, &reading);
  for (int r = 0; r < table.row_count && status == TAILVOLT_OK; r++)
    for (int k = 0; k < table.key_count; k++)
      if (table.rows[r].values[k] == NULL)
        status = tv_plot_refuse(plot, "%.150s: row %d is too short", path, r + 1);
  if (table.failed) status = TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK && (table.key_count == 0 || reading.figure_at == 0))
    status = tv_plot_refuse(plot, "%.120s: has no column %.60s%s%.40s", path, reading.quantity,
                            reading.amplifier != NULL ? " of " : "",
                            reading.amplifier != NULL ? reading.amplifier : "");
  if (status == TAILVOLT_OK) status = make(plot, &table, reading.chosen, picture);
  free_table(&table);
  return status;
}
