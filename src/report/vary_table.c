#include "report/vary_table.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/csv.h"
#include "report/json.h"
#include "report/json_read.h"
#include "report/json_write.h"
#include "report/sure.h"
#include "text/feed_drops.h"
#include "text/number.h"
#include "report/page.h"
#include "text/words.h"
#include "tailvolt/version.h"

/* Each amplifier's sag in three sums, and the part that takes the most. */
static json_t *sags(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int l = 0; l < result->ledger_count; l++) {
    const struct tailvolt_ledger *ledger = &result->ledgers[l];
    double battery_v = 0.0, feed_v = 0.0, ground_v = 0.0, worst_v = 0.0;
    const char *worst = "";
    struct tv_feed_drops drops;
    for (int k = 0; k < ledger->entry_count; k++) {
      const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
      if (tv_entry_is_battery(entry))
        battery_v += entry->drop_v;
      else if (entry->ground_side)
        ground_v += entry->drop_v;
      else
        feed_v += entry->drop_v;
    }
    /* the battery's entries count as one part there */
    tv_feed_drops_of(ledger, result->battery_count > 1, &drops);
    for (int k = 0; k < drops.count; k++) {
      if (!drops.part[k].worst) continue;
      worst = drops.part[k].name;
      worst_v = drops.part[k].drop_v;
    }
    json_t *sag = json_object();
    tv_json_put_text(&sag, "amplifier", ledger->amplifier);
    tv_json_put_number(&sag, "battery_drop_v", battery_v);
    tv_json_put_number(&sag, "feed_drop_v", feed_v);
    tv_json_put_number(&sag, "ground_drop_v", ground_v);
    tv_json_put_text(&sag, "worst_part", worst);
    tv_json_put_number(&sag, "worst_part_v", worst_v);
    tv_json_append(&list, sag);
  }
  return list;
}

static json_t *hottest(const struct tailvolt_result *result) {
  const struct tailvolt_conductor_result *hot = NULL;
  for (int k = 0; k < result->conductor_count; k++) {
    const struct tailvolt_conductor_result *conductor = &result->conductors[k];
    if (isfinite(conductor->end_c) && (hot == NULL || conductor->end_c > hot->end_c)) hot = conductor;
  }
  if (hot == NULL) return json_null();
  json_t *object = json_object();
  tv_json_put_text(&object, "name", hot->name);
  tv_json_put_number(&object, "end_c", hot->end_c);
  tv_json_put_number(&object, "steady_c", hot->steady_c);
  return object;
}

static json_t *meters(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->meter_count; k++) {
    json_t *meter = json_object();
    tv_json_put_text(&meter, "name", result->meters[k].name);
    tv_json_put_number(&meter, "rest_v", result->meters[k].rest_v);
    tv_json_put_number(&meter, "min_v", result->meters[k].min_v);
    tv_json_put_number(&meter, "mean_v", result->meters[k].mean_v);
    tv_json_put_number(&meter, "max_v", result->meters[k].max_v);
    tv_json_append(&list, meter);
  }
  return list;
}

static json_t *alternator(const struct tailvolt_result *result) {
  if (!result->alternator.present) return json_null();
  json_t *object = json_object();
  tv_json_put_number(&object, "mean_a", result->alternator.mean_a);
  tv_json_put_number(&object, "at_limit_pct", result->alternator.at_limit_pct);
  tv_json_put_number(&object, "surplus_a", result->driving.present ? result->driving.surplus_a : (double)NAN);
  return object;
}

char *tv_vary_line(const struct tailvolt_variation *variation, const struct tailvolt_vary_row *row) {
  json_t *line = json_object(), *values = json_array();
  const struct tailvolt_result *result = row->result;
  tv_json_put(&line, "row", json_integer(row->index + 1));
  for (int k = 0; k < variation->key_count; k++)
    tv_json_append(&values, tv_json_text(tailvolt_variation_value(variation, row->index, k)));
  tv_json_put(&line, "values", values);
  tv_json_put_text(&line, "status", result != NULL ? tv_verdict_word(result->status) : "not computed");
  tv_json_put(&line, "amplifiers", result != NULL ? tv_json_amplifiers(result) : json_array());
  tv_json_put(&line, "batteries", result != NULL ? tv_json_batteries(result) : json_array());
  tv_json_put(&line, "sag", result != NULL ? sags(result) : json_array());
  tv_json_put(&line, "meters", result != NULL ? meters(result) : json_array());
  tv_json_put(&line, "alternator", result != NULL ? alternator(result) : json_null());
  json_t *parked = json_object();
  tv_json_put_number(&parked, "until_s", row->parked_s);
  tv_json_put(&parked, "beyond_limit", json_boolean(isinf(row->parked_s)));
  tv_json_put(&line, "parked", isnan(row->parked_s) ? json_null() : json_incref(parked));
  json_decref(parked);
  tv_json_put(&line, "certainty", row->certainty != NULL ? tv_json_certainty(row->certainty) : json_null());
  tv_json_put(&line, "hottest", result != NULL ? hottest(result) : json_null());
  tv_json_put(&line, "error", row->error != NULL && row->error[0] != '\0' ? tv_json_text(row->error) : json_null());
  char *text = line != NULL ? tv_json_compact(line, JSON_ENSURE_ASCII) : NULL;
  json_decref(line);
  return text;
}

/* NULL where it is none, or where memory ran out. */
static json_t *load(const char *line) {
  char error[TAILVOLT_TEXT_MAX];
  return tv_json_read(line, strlen(line), error);
}

/* The same of a line that is one; where memory ran out *failed says so. */
static json_t *load_sound(const char *line, bool *failed) {
  json_t *row = load(line);
  if (row == NULL) *failed = true;
  return row;
}

bool tv_vary_line_is(const struct tailvolt_variation *variation, long index, const char *line) {
  json_t *row = load(line);
  bool is = json_integer_value(json_object_get(row, "row")) == index + 1 && tv_json_text_of(row, "status")[0] != '\0';
  json_t *values = json_object_get(row, "values");
  is = is && json_array_size(values) == (size_t)variation->key_count;
  for (int k = 0; k < variation->key_count && is; k++) {
    const char *value = json_string_value(json_array_get(values, (size_t)k));
    is = value != NULL && strcmp(value, tailvolt_variation_value(variation, index, k)) == 0;
  }
  json_decref(row);
  return is;
}

bool tv_vary_line_failed(const char *line) {
  return strstr(line, "\"status\":\"not computed\"") != NULL; /* in a text a quotation mark has a backslash before it */
}

enum tailvolt_status tv_vary_json(const struct tailvolt_variation *variation, char *const *lines,
                                  char **out) {
  json_t *root = json_object(), *keys = json_array(), *rows = json_array();
  for (int k = 0; k < variation->key_count; k++) tv_json_append(&keys, tv_json_text(variation->keys[k].key));
  for (long r = 0; r < variation->row_count; r++)
    if (lines[r] != NULL) tv_json_append(&rows, load(lines[r]));
  tv_json_put_text(&root, "tailvolt", TAILVOLT_VERSION);
  tv_json_put(&root, "keys", keys);
  tv_json_put(&root, "rows", rows);
  return tv_json_finish(root, out);
}

/* A CSV column: a list of objects in the row, and one number of each. */
struct column {
  const char *list;  /* "amplifiers" */
  const char *named; /* the key that names an entry */
  const char *number;
};

static const struct column columns[] = {{"amplifiers", "name", "rest_v"},
                                        {"amplifiers", "name", "min_v"},
                                        {"amplifiers", "name", "min_time_s"},
                                        {"amplifiers", "name", "min_without_ripple_v"},
                                        {"amplifiers", "name", "mean_v"},
                                        {"amplifiers", "name", "low_1pct_v"},
                                        {"amplifiers", "name", "target_v"},
                                        {"amplifiers", "name", "below_target_pct"},
                                        {"amplifiers", "name", "mean_a"},
                                        {"amplifiers", "name", "peak_a"},
                                        {"amplifiers", "name", "input_j"},
                                        {"amplifiers", "name", "output_j"},
                                        {"amplifiers", "name", "lost_output_db"},
                                        {"amplifiers", "name", "cut_outs"},
                                        {"amplifiers", "name", "off_s"},
                                        {"sag", "amplifier", "battery_drop_v"},
                                        {"sag", "amplifier", "feed_drop_v"},
                                        {"sag", "amplifier", "ground_drop_v"},
                                        {"batteries", "name", "start_soc_pct"},
                                        {"batteries", "name", "end_soc_pct"},
                                        {"batteries", "name", "min_soc_pct"},
                                        {"batteries", "name", "min_v"},
                                        {"batteries", "name", "end_rest_v"},
                                        {"meters", "name", "min_v"},
                                        {"meters", "name", "mean_v"}};
static const char *const singles[][3] = {{"alternator", "mean_a", "alternator:mean_a"},
                                         {"alternator", "at_limit_pct", "alternator:at_limit_pct"},
                                         {"alternator", "surplus_a", "surplus_a"},
                                         {"hottest", "end_c", "hottest_c"},
                                         {"parked", "until_s", "parked:until_s"},
                                         {"certainty", "holds_pct", "certainty:holds_pct"}};
enum {
  COLUMNS = (int)(sizeof columns / sizeof columns[0]),
  SINGLES = (int)(sizeof singles / sizeof singles[0])
};

/* The row that names the parts, any that was computed: all rows have the same parts. */
static json_t *model_row(const struct tailvolt_variation *variation, char *const *lines, bool *failed) {
  for (long r = 0; r < variation->row_count; r++) {
    json_t *row = lines[r] != NULL ? load_sound(lines[r], failed) : NULL;
    if (row != NULL && strcmp(tv_json_text_of(row, "status"), "not computed") != 0) return row;
    json_decref(row);
  }
  return NULL;
}

static void csv_head(struct tv_buffer *csv, const struct tailvolt_variation *variation, const json_t *model) {
  char name[2 * TAILVOLT_NAME_MAX];
  tv_buffer_add(csv, "row");
  for (int k = 0; k < variation->key_count; k++) {
    tv_buffer_add(csv, ",");
    tv_csv_text(csv, variation->keys[k].key);
  }
  tv_buffer_add(csv, ",status");
  for (int c = 0; c < COLUMNS; c++) {
    const json_t *list = json_object_get(model, columns[c].list);
    for (size_t k = 0; k < json_array_size(list); k++) {
      snprintf(name, sizeof name, "%s:%s", tv_json_text_of(json_array_get(list, k), columns[c].named),
               columns[c].number);
      tv_buffer_add(csv, ",");
      tv_csv_text(csv, name);
    }
  }
  for (int c = 0; c < SINGLES && model != NULL; c++) {
    tv_buffer_add(csv, ",");
    tv_buffer_add(csv, singles[c][2]);
  }
  tv_buffer_add(csv, ",error\n");
}

static void csv_number(struct tv_buffer *csv, double value) {
  tv_buffer_add(csv, ",");
  if (isfinite(value)) tv_buffer_add(csv, tv_shortest(value).text);
}

static void csv_row(struct tv_buffer *csv, const struct tailvolt_variation *variation, const json_t *model,
                    const char *line) {
  json_t *row = load_sound(line, &csv->failed);
  char number[24];
  if (row == NULL) return;
  long index = (long)json_integer_value(json_object_get(row, "row"));
  snprintf(number, sizeof number, "%ld", index);
  tv_buffer_add(csv, number);
  for (int k = 0; k < variation->key_count; k++) {
    tv_buffer_add(csv, ",");
    const char *value = json_string_value(json_array_get(json_object_get(row, "values"), (size_t)k));
    tv_csv_text(csv, value != NULL ? value : "");
  }
  tv_buffer_add(csv, ",");
  tv_csv_text(csv, tv_json_text_of(row, "status"));
  for (int c = 0; c < COLUMNS; c++) {
    const json_t *list = json_object_get(row, columns[c].list);
    size_t count = json_array_size(json_object_get(model, columns[c].list));
    for (size_t k = 0; k < count; k++) csv_number(csv, tv_json_number_of(json_array_get(list, k), columns[c].number));
  }
  for (int c = 0; c < SINGLES && model != NULL; c++)
    csv_number(csv, tv_json_number_of(json_object_get(row, singles[c][0]), singles[c][1]));
  tv_buffer_add(csv, ",");
  tv_csv_text(csv, tv_json_text_of(row, "error"));
  tv_buffer_add(csv, "\n");
  json_decref(row);
}

enum tailvolt_status tv_vary_csv(const struct tailvolt_variation *variation, char *const *lines, char **out) {
  struct tv_buffer csv = {0};
  json_t *model = model_row(variation, lines, &csv.failed);
  csv_head(&csv, variation, model);
  for (long r = 0; r < variation->row_count; r++)
    if (lines[r] != NULL) csv_row(&csv, variation, model, lines[r]);
  json_decref(model);
  return tv_buffer_finish(&csv, out);
}

/* The worst amplifier of a row: most time below its target, then the least margin. */
static const json_t *worst_amplifier(const json_t *row) {
  const json_t *list = json_object_get(row, "amplifiers"), *worst = NULL;
  for (size_t k = 0; k < json_array_size(list); k++) {
    const json_t *each = json_array_get(list, k);
    if (worst == NULL) {
      worst = each;
      continue;
    }
    double more_pct = tv_json_number_of(each, "below_target_pct") - tv_json_number_of(worst, "below_target_pct");
    double less_v = tv_json_number_of(worst, "min_v") - tv_json_number_of(worst, "target_v") - tv_json_number_of(each, "min_v") +
                    tv_json_number_of(each, "target_v");
    if (more_pct > 0.0 || (!(more_pct < 0.0) && less_v > 0.0)) worst = each;
  }
  return worst;
}

struct tally {
  long rows, holds, marginal, fails, failed;
  double low_v, high_v;
  long low_row, high_row;
};

static void count_row(struct tally *tally, const json_t *row, long index) {
  const char *status = tv_json_text_of(row, "status");
  double min_v = tv_json_number_of(worst_amplifier(row), "min_v");
  tally->rows++;
  if (strcmp(status, "holds") == 0)
    tally->holds++;
  else if (strcmp(status, "marginal") == 0)
    tally->marginal++;
  else if (strcmp(status, "fails") == 0)
    tally->fails++;
  else
    tally->failed++;
  if (isfinite(min_v) && !(min_v >= tally->low_v)) {
    tally->low_v = min_v;
    tally->low_row = index;
  }
  if (isfinite(min_v) && !(min_v <= tally->high_v)) {
    tally->high_v = min_v;
    tally->high_row = index;
  }
}

static void say_values(const struct tailvolt_variation *variation, long index, char *to, size_t size) {
  to[0] = '\0';
  for (int k = 0; k < variation->key_count; k++) {
    size_t length = strlen(to);
    snprintf(to + length, size - length, "%s%s", k > 0 ? ", " : "",
             tailvolt_variation_value(variation, index, k));
  }
}

static void text_head(struct tv_page *page, const struct tailvolt_variation *variation,
                      const struct tally *tally) {
  char low[160], high[160], more[64] = "";
  if (tally->failed > 0) snprintf(more, sizeof more, ", not computed %ld", tally->failed);
  tv_page_line(page, "%ld of %ld combinations: holds %ld, marginal %ld, fails %ld%s", tally->rows,
               variation->row_count, tally->holds, tally->marginal, tally->fails, more);
  if (tally->rows > 1 && isfinite(tally->low_v)) {
    say_values(variation, tally->low_row, low, sizeof low);
    say_values(variation, tally->high_row, high, sizeof high);
    tv_page_line(page, "lowest voltage from %s V (%s) to %s V (%s)", tv_fixed(tally->low_v, 2).text, low,
                 tv_fixed(tally->high_v, 2).text, high);
  }
  tv_page_newline(page);
  for (int k = 0; k < variation->key_count; k++) tv_page_line(page, "(%d) %s", k + 1, variation->keys[k].key);
  tv_page_newline(page);
}

/* Columns that only some variations have. */
struct shown {
  bool amplifier, off, parked, sure;
  bool briefly; /* for many keys: their names go above the table, and less is shown of each row */
};

static void note_shown(struct shown *shown, const json_t *row) {
  const json_t *list = json_object_get(row, "amplifiers");
  shown->amplifier = shown->amplifier || json_array_size(list) > 1;
  for (size_t k = 0; k < json_array_size(list); k++)
    shown->off = shown->off || tv_json_number_of(json_array_get(list, k), "off_s") > 0.0;
  shown->parked = shown->parked || json_is_object(json_object_get(row, "parked"));
  shown->sure = shown->sure || json_is_object(json_object_get(row, "certainty"));
}

static void text_parked(struct tv_table *table, const json_t *row) {
  const json_t *parked = json_object_get(row, "parked");
  bool beyond = json_is_true(json_object_get(parked, "beyond_limit"));
  tv_table_cell(table, beyond ? "over 48 h" : !json_is_object(parked) ? "-"
                                                   : tv_playing_time(tv_json_number_of(parked, "until_s")).text);
}

/* "55 to 80" of 100 such cars */
static void text_sure(struct tv_table *table, const json_t *row) {
  const json_t *certainty = json_object_get(row, "certainty");
  char share[48] = "-";
  if (json_is_object(certainty))
    tv_sure_share(tv_json_number_of(certainty, "holds_low_pct"), tv_json_number_of(certainty, "holds_high_pct"), share, sizeof share);
  tv_table_cell(table, share);
}

static void text_row(struct tv_table *table, const struct tailvolt_variation *variation, const struct shown *shown,
                     const json_t *row, long index) {
  const json_t *amplifier = worst_amplifier(row);
  const json_t *battery = json_array_get(json_object_get(row, "batteries"), 0);
  const json_t *sag = NULL, *list = json_object_get(row, "sag");
  for (size_t k = 0; k < json_array_size(list); k++)
    if (strcmp(tv_json_text_of(json_array_get(list, k), "amplifier"), tv_json_text_of(amplifier, "name")) == 0)
      sag = json_array_get(list, k);
  for (int k = 0; k < variation->key_count; k++)
    tv_table_cell(table, tailvolt_variation_value(variation, index, k));
  tv_table_cell(table, amplifier != NULL ? tv_json_text_of(row, "status") : "none");
  if (shown->amplifier) tv_table_cell(table, tv_json_text_of(amplifier, "name"));
  tv_table_cell(table, tv_fixed(tv_json_number_of(amplifier, "min_v"), 2).text);
  tv_table_cell(table, tv_fixed(tv_json_number_of(amplifier, "low_1pct_v"), 2).text);
  if (!shown->briefly) tv_table_cell(table, tv_fixed(tv_json_number_of(amplifier, "below_target_pct"), 2).text);
  if (!shown->briefly) tv_table_cell(table, tv_fixed(tv_json_number_of(amplifier, "mean_a"), 1).text);
  tv_table_cell(table, tv_fixed(tv_json_number_of(battery, "end_soc_pct"), 1).text);
  if (shown->off) tv_table_cell(table, tv_fixed(tv_json_number_of(amplifier, "off_s"), 1).text);
  if (shown->parked) text_parked(table, row);
  if (shown->sure) text_sure(table, row);
  tv_table_cell(table, tv_json_text_of(sag, "worst_part"));
}

static void text_error(struct tv_page *page, const struct tailvolt_variation *variation, const json_t *row,
                       long index) {
  char values[160], start[192];
  if (tv_json_text_of(row, "error")[0] == '\0') return;
  say_values(variation, index, values, sizeof values);
  snprintf(start, sizeof start, "%.60s: ", values);
  tv_page_wrapped(page, start, tv_json_text_of(row, "error"));
}

enum tailvolt_status tv_vary_text(const struct tailvolt_variation *variation, char *const *lines,
                                  const struct tailvolt_report_style *style, char **out) {
  static const struct tv_column rest[] = {
      {"verdict", false, 0}, {"amplifier", false, 16}, {"lowest V", true, 0}, {"1 % below V", true, 0},
      {"below %", true, 0},  {"mean A", true, 0},      {"charge %", true, 0}, {"most lost in", false, 28}};
  static const bool always[] = {true, true, true, true, false, false, true, true};
  enum { REST = (int)(sizeof rest / sizeof rest[0]), MANY = 3 };
  struct tv_column heads[TAILVOLT_VARY_KEYS + REST + 3];
  char names[TAILVOLT_VARY_KEYS][48];
  struct shown shown = {0};
  struct tv_page page = {.style = *style};
  struct tv_table table;
  struct tally tally = {.low_v = (double)NAN, .high_v = (double)NAN};
  int count = variation->key_count;
  for (long r = 0; r < variation->row_count; r++) {
    json_t *row = lines[r] != NULL ? load_sound(lines[r], &page.text.failed) : NULL;
    if (row != NULL) count_row(&tally, row, r);
    if (row != NULL) note_shown(&shown, row);
    json_decref(row);
  }
  int more = shown.amplifier + shown.off + shown.parked + shown.sure;
  shown.briefly = variation->key_count >= MANY || (variation->key_count == MANY - 1 && more > 0);
  for (int k = 0; k < variation->key_count; k++) {
    const char *dot = strrchr(variation->keys[k].key, '.');
    snprintf(names[k], sizeof names[k], "(%d) %.24s", k + 1, dot != NULL ? dot + 1 : variation->keys[k].key);
    if (shown.briefly) snprintf(names[k], sizeof names[k], "(%d)", k + 1);
    heads[k] = (struct tv_column){names[k], false, shown.briefly ? 12 : 20};
  }
  for (int k = 0; k < REST; k++) {
    if ((k == 1 && !shown.amplifier) || (shown.briefly && !always[k])) continue;
    if (k == REST - 1 && shown.off) heads[count++] = (struct tv_column){"off s", true, 0};
    if (k == REST - 1 && shown.parked) heads[count++] = (struct tv_column){"plays parked", true, 0};
    if (k == REST - 1 && shown.sure) heads[count++] = (struct tv_column){"such cars hold", true, 0};
    heads[count] = rest[k];
    if (shown.briefly && k == REST - 1) heads[count].most = 20;
    count++;
  }
  text_head(&page, variation, &tally);
  tv_table_begin(&table, &page, heads, count);
  for (long r = 0; r < variation->row_count; r++) {
    json_t *row = lines[r] != NULL ? load_sound(lines[r], &page.text.failed) : NULL;
    if (row != NULL) text_row(&table, variation, &shown, row, r);
    json_decref(row);
  }
  tv_table_end(&table, "");
  for (long r = 0; r < variation->row_count && tally.failed > 0; r++) {
    json_t *row = lines[r] != NULL ? load_sound(lines[r], &page.text.failed) : NULL;
    if (row != NULL) text_error(&page, variation, row, r);
    json_decref(row);
  }
  return tv_buffer_finish(&page.text, out);
}
