/* Pictures of inputs: a load profile, and the envelope of a recording. */
#include <csv.h>
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text/number.h"
#include "text/read_number.h"
#include "report/plot_parts.h"
#include "report/plot_record.h"

/* ---- the profile ---- */

enum { COLUMNS_MAX = 64, SERIES_MAX = 6, NAME_MAX_LENGTH = 48 };
#define UNHEARD_DB (-50.0) /* quieter than this is drawn as silence: the wiring does not notice it */

/* What a column means; for one amplifier or load, its name follows a colon. */
enum meaning { IGNORED, TIME, SPEED, BASE_LOAD, LOAD, PROGRAMME, LEVEL, POWER, DRAW_W, DRAW_A, OUTPUT_W };

struct column {
  enum meaning meaning;
  char part[NAME_MAX_LENGTH]; /* "" = for all */
};

struct profile {
  struct tv_plot *plot;
  const char *path;
  int column_count, field;
  struct column columns[COLUMNS_MAX];
  long row_count, room;
  double (*cells)[COLUMNS_MAX]; /* [row_count]; for a programme 1 = plays, 0 = silence */
  bool in_comment, no_memory, bad;
};

static struct column column_of(const char *name) {
  static const struct {
    const char *name;
    enum meaning meaning;
  } known[] = {{"time_s", TIME},         {"engine_rpm", SPEED}, {"base_load_a", BASE_LOAD}, {"load", LOAD},
               {"programme", PROGRAMME}, {"music", PROGRAMME},  {"level_db", LEVEL},        {"power", POWER},
               {"supply_w", DRAW_W},     {"supply_a", DRAW_A},  {"output_w", OUTPUT_W}};
  struct column column = {IGNORED, ""};
  size_t length = strcspn(name, ":");
  for (size_t k = 0; k < sizeof known / sizeof known[0]; k++)
    if (strlen(known[k].name) == length && strncmp(known[k].name, name, length) == 0)
      column.meaning = known[k].meaning;
  if (name[length] == ':') snprintf(column.part, sizeof column.part, "%s", name + length + 1);
  return column;
}

static void refuse_row(struct profile *profile, const char *text) {
  if (profile->bad) return;
  profile->bad = true;
  tv_plot_refuse(profile->plot, "%.120s: row %ld %.100s; `tailvolt check SYSTEM PROFILE` lists every fault",
                 profile->path, profile->row_count, text);
}

static bool new_row(struct profile *profile) {
  if (profile->row_count == profile->room) {
    long room = profile->room == 0 ? 256 : 2 * profile->room;
    void *grown = realloc(profile->cells, (size_t)room * sizeof *profile->cells);
    profile->no_memory = profile->no_memory || grown == NULL;
    if (grown == NULL) return false;
    profile->cells = grown;
    profile->room = room;
  }
  double *row = profile->cells[profile->row_count++];
  for (int k = 0; k < COLUMNS_MAX; k++)
    row[k] = profile->row_count > 1 ? profile->cells[profile->row_count - 2][k] : (double)NAN;
  return true;
}

static void take_profile_cell(struct profile *profile, const char *text, size_t length) {
  int at = profile->field;
  double number;
  if (at == 0 && !new_row(profile)) return;
  if (profile->row_count == 0 || at >= profile->column_count || length == 0) return;
  const struct column *column = &profile->columns[at];
  double *cell = &profile->cells[profile->row_count - 1][at];
  if (column->meaning == PROGRAMME)
    *cell = strcmp(text, "silence") != 0;
  else if (column->meaning != IGNORED && !tv_parse_number(text, length, &number))
    refuse_row(profile, "is not made of numbers as its columns are named");
  else if (column->meaning == TIME && profile->row_count > 1 && !(number > *cell))
    refuse_row(profile, "does not come after the one before it");
  else if (column->meaning != IGNORED)
    *cell = number;
}

static void field_end(void *bytes, size_t length, void *context) {
  struct profile *profile = context;
  const char *text = bytes != NULL ? bytes : "";
  if (profile->no_memory) return; /* the rest of a block still comes */
  if (profile->field == 0) profile->in_comment = text[0] == '#';
  if (!profile->in_comment && profile->room == 0 && profile->row_count == 0) {
    if (profile->field < COLUMNS_MAX) profile->columns[profile->field] = column_of(text);
    if (profile->field < COLUMNS_MAX) profile->column_count = profile->field + 1;
  } else if (!profile->in_comment && !profile->no_memory) {
    take_profile_cell(profile, text, length);
  }
  profile->field++;
}

static void line_end(int by, void *context) {
  struct profile *profile = context;
  (void)by;
  /* the names have been read: rows follow */
  if (!profile->in_comment && profile->field > 0 && profile->cells == NULL && !profile->no_memory) {
    profile->cells = malloc(256 * sizeof *profile->cells);
    profile->room = profile->cells != NULL ? 256 : 0;
    profile->no_memory = profile->cells == NULL;
  }
  profile->field = 0;
}

static enum tailvolt_status read_profile(struct profile *profile) {
  struct csv_parser parser;
  char block[8192];
  size_t got;
  FILE *file = fopen(profile->path, "rb");
  if (file == NULL && errno == ENOMEM) return TAILVOLT_NO_MEMORY;
  if (file == NULL) {
    tv_plot_refuse(profile->plot, "%.150s: %.90s", profile->path, strerror(errno));
    return TAILVOLT_NOT_READABLE;
  }
  if (csv_init(&parser, CSV_APPEND_NULL) != 0) {
    fclose(file);
    return TAILVOLT_NO_MEMORY;
  }
  if (fread(block, 1, 3, file) != 3 || memcmp(block, "\xef\xbb\xbf", 3) != 0) rewind(file);
  bool sound = true;
  while (sound && !profile->no_memory && (got = fread(block, 1, sizeof block, file)) > 0)
    sound = csv_parse(&parser, block, got, field_end, line_end, profile) == got;
  sound = sound && csv_fini(&parser, field_end, line_end, profile) == 0;
  bool no_memory = profile->no_memory || csv_error(&parser) == CSV_ENOMEM;
  csv_free(&parser);
  fclose(file);
  if (no_memory) return TAILVOLT_NO_MEMORY;
  if (profile->bad) return TAILVOLT_BAD_INPUT;
  if (!sound) return tv_plot_refuse(profile->plot, "%.150s: is not readable as CSV", profile->path);
  if (profile->row_count < 2)
    return tv_plot_refuse(profile->plot, "%.150s: a profile has two rows at least", profile->path);
  return TAILVOLT_OK;
}

static int find(const struct profile *profile, enum meaning meaning, const char *part) {
  for (int k = 0; k < profile->column_count; k++)
    if (profile->columns[k].meaning == meaning && strcmp(profile->columns[k].part, part) == 0) return k;
  return -1;
}

/* One curve of the picture: music of an amplifier, a prescribed draw, a load. */
struct series {
  char name[NAME_MAX_LENGTH + 16];
  int programme, level, power; /* for music: columns, -1 = none */
  int column;                  /* for anything else */
};

static int add_series(struct series *list, int count, const struct profile *profile, const char *part) {
  for (int k = 0; k < count; k++)
    if (strcmp(list[k].name, part) == 0) return count;
  if (count == SERIES_MAX) return count;
  struct series *one = &list[count];
  *one = (struct series){.column = -1,
                         .programme = find(profile, PROGRAMME, part),
                         .level = find(profile, LEVEL, part),
                         .power = find(profile, POWER, part)};
  snprintf(one->name, sizeof one->name, "%s", part);
  if (one->programme < 0) one->programme = find(profile, PROGRAMME, "");
  if (one->level < 0) one->level = find(profile, LEVEL, "");
  return count + 1;
}

/* Music of each amplifier that has its own columns, else of all. */
static int music_series(const struct profile *profile, struct series list[SERIES_MAX]) {
  int count = 0;
  for (int k = 0; k < profile->column_count; k++) {
    enum meaning meaning = profile->columns[k].meaning;
    if ((meaning == PROGRAMME || meaning == LEVEL || meaning == POWER) && profile->columns[k].part[0] != '\0')
      count = add_series(list, count, profile, profile->columns[k].part);
  }
  if (count == 0 && (find(profile, PROGRAMME, "") >= 0 || find(profile, LEVEL, "") >= 0)) {
    count = add_series(list, count, profile, "");
    snprintf(list[0].name, sizeof list[0].name, "music");
  }
  return count;
}

static int plain_series(const struct profile *profile, enum meaning meaning, struct series list[SERIES_MAX]) {
  int count = 0;
  for (int k = 0; k < profile->column_count && count < SERIES_MAX; k++) {
    if (profile->columns[k].meaning != meaning) continue;
    list[count] = (struct series){.column = k};
    snprintf(list[count++].name, sizeof list[0].name, "%s", profile->columns[k].part);
  }
  return count;
}

/* The level in force in a row; NAN = silent. */
static double level_db(const struct series *one, const double *row) {
  if (one->programme >= 0 && !(row[one->programme] > 0.5)) return (double)NAN;
  if (one->power >= 0 && !(row[one->power] > 0.0)) return (double)NAN;
  double level = one->level >= 0 && isfinite(row[one->level]) ? row[one->level] : 0.0;
  return level > UNHEARD_DB ? level : (double)NAN;
}

/* A series as steps: each row's value from its time until the next row's. */
static void add_steps(struct tv_plot *plot, const struct profile *profile, int time, const struct series *one,
                      double scale, double in_s) {
  tv_plot_cell_text(plot, one->name);
  tv_plot_row(plot);
  for (long r = 0; r + 1 < profile->row_count; r++) {
    double value =
        one->column >= 0 ? scale * profile->cells[r][one->column] : level_db(one, profile->cells[r]);
    for (long edge = r; edge <= r + 1; edge++) {
      tv_plot_cell(plot, profile->cells[edge][time] / in_s);
      tv_plot_cell(plot, value);
      tv_plot_row(plot);
    }
    /* a gap where the music stops, so no line bridges the silence */
    if (isnan(value)) tv_buffer_add(&plot->data, "\n");
  }
  tv_buffer_add(&plot->data, "\n\n");
}

/* Speed is linear between rows that both turn; else it holds. */
static void add_speed(struct profile *profile, int time, int speed, double in_s) {
  struct tv_plot *plot = profile->plot;
  double low_rpm = HUGE_VAL, high_rpm = 0.0, off_s = 0.0;
  char engine[128] = "engine off all the time";
  tv_plot_cell_text(plot, "engine speed");
  tv_plot_row(plot);
  for (long r = 0; r + 1 < profile->row_count; r++) {
    double from_rpm = speed >= 0 ? profile->cells[r][speed] : 0.0;
    double to_rpm = speed >= 0 ? profile->cells[r + 1][speed] : 0.0;
    double length_s = profile->cells[r + 1][time] - profile->cells[r][time];
    if (!(from_rpm > 0.0)) from_rpm = 0.0, off_s += length_s;
    tv_plot_cell(plot, profile->cells[r][time] / in_s);
    tv_plot_cell(plot, from_rpm);
    tv_plot_row(plot);
    tv_plot_cell(plot, profile->cells[r + 1][time] / in_s);
    tv_plot_cell(plot, from_rpm > 0.0 && to_rpm > 0.0 ? to_rpm : from_rpm);
    tv_plot_row(plot);
    if (from_rpm > 0.0) low_rpm = fmin(low_rpm, from_rpm);
    high_rpm = fmax(high_rpm, from_rpm);
  }
  tv_buffer_add(&plot->data, "\n\n");
  if (high_rpm > 0.0 && high_rpm > low_rpm)
    snprintf(engine, sizeof engine, "engine at %s to %s rpm", tv_fixed(low_rpm, 0).text,
             tv_fixed(high_rpm, 0).text);
  else if (high_rpm > 0.0)
    snprintf(engine, sizeof engine, "engine at %s rpm", tv_fixed(high_rpm, 0).text);
  double span_s = profile->cells[profile->row_count - 1][time] - profile->cells[0][time];
  bool stops = high_rpm > 0.0 && off_s > 0.0;
  tv_plot_title(plot, "%s: %s%s%s", tv_playing_time(span_s).text, engine, stops ? ", off for " : "",
                stops ? tv_playing_time(off_s).text : "");
}

static void make_profile(struct profile *profile, int time) {
  struct tv_plot *plot = profile->plot;
  struct series list[SERIES_MAX];
  struct tv_time_axis axis =
      tv_time_axis_of(profile->cells[profile->row_count - 1][time] - profile->cells[0][time]);
  static const struct {
    enum meaning meaning;
    const char *label;
  } draws[] = {{DRAW_W, "stated draw, W"}, {DRAW_A, "stated draw, A"}, {OUTPUT_W, "stated output, W"}};
  add_speed(profile, time, find(profile, SPEED, ""), axis.in_s);
  int count = music_series(profile, list);
  const char *label = "music level, dB";
  for (size_t k = 0; k < sizeof draws / sizeof draws[0] && count == 0; k++) {
    count = plain_series(profile, draws[k].meaning, list);
    label = draws[k].label;
  }
  for (int k = 0; k < count; k++) add_steps(plot, profile, time, &list[k], 1.0, axis.in_s);
  tv_plot_set_text(plot, "music_label", label);
  tv_plot_set_number(plot, "music_count", count);
  count = plain_series(profile, LOAD, list);
  for (int k = 0; k < count; k++) add_steps(plot, profile, time, &list[k], 100.0, axis.in_s);
  const char *load_label = "loads on, %";
  if (count == 0) {
    count = plain_series(profile, BASE_LOAD, list);
    if (count > 0) snprintf(list[0].name, sizeof list[0].name, "base load");
    load_label = "base load, A";
    for (int k = 0; k < count; k++) add_steps(plot, profile, time, &list[k], 1.0, axis.in_s);
  }
  tv_plot_set_text(plot, "load_label", load_label);
  tv_plot_set_number(plot, "load_count", count);
  tv_plot_set_text(plot, "time_unit", axis.unit);
}

enum tailvolt_status tv_plot_of_profile(struct tv_plot *plot, const char *path) {
  struct profile profile = {.plot = plot, .path = path};
  enum tailvolt_status status = read_profile(&profile);
  int time = find(&profile, TIME, "");
  if (status == TAILVOLT_OK && time < 0) status = tv_plot_refuse(plot, "%.150s: has no column time_s", path);
  int known = 0;
  for (int k = 0; k < profile.column_count; k++)
    known += profile.columns[k].meaning != IGNORED && profile.columns[k].meaning != TIME;
  if (status == TAILVOLT_OK && known == 0)
    status = tv_plot_refuse(plot, "%.150s: has no column of a load profile beside time_s", path);
  for (long r = 0; status == TAILVOLT_OK && r < profile.row_count; r++)
    if (isnan(profile.cells[r][time]))
      status = tv_plot_refuse(plot, "%.150s: row %ld has no time", path, r + 1);
  if (status == TAILVOLT_OK) make_profile(&profile, time);
  free(profile.cells);
  return status;
}

/* ---- the envelope ---- */

struct envelope {
  struct tv_thinned thinned;
  double sum, highest, first_s;
  long count;
};

/* Mean and highest of what is merged: the column is listed twice. */
static int take_share(void *context, const double *cells, long offset) {
  struct envelope *envelope = context;
  const double twice[] = {cells[0], 100.0 * cells[1], 100.0 * cells[1]};
  if (envelope->count++ == 0) envelope->first_s = cells[0];
  envelope->sum += twice[1];
  envelope->highest = fmax(envelope->highest, twice[1]);
  tv_thin_row(&envelope->thinned, twice, offset);
  return 0;
}

static enum tailvolt_status draw_envelope(struct tv_plot *plot, const char *path,
                                          const struct envelope *envelope) {
  const struct tv_thinned *thinned = &envelope->thinned;
  if (envelope->count < 2) return tv_plot_refuse(plot, "%.150s: has fewer than two rows in the requested time", path);
  double span_s = thinned->last_s + thinned->interval_s - envelope->first_s;
  struct tv_time_axis axis = tv_time_axis_of(span_s);
  double mean_pct = envelope->sum / (double)envelope->count;
  for (int k = 0; k <= thinned->count; k++) {
    const double *cells = thinned->cells + 3 * (size_t)k;
    tv_plot_cell(plot, cells[0] / axis.in_s);
    tv_plot_cell(plot, cells[1]);
    tv_plot_cell(plot, cells[2]);
    tv_plot_row(plot);
  }
  tv_plot_set_text(plot, "time_unit", axis.unit);
  tv_plot_set_number(plot, "mean_pct", mean_pct);
  tv_plot_title(plot, "%s of music: %s of rated power on average, the loudest %s ms at %s",
                tv_playing_time(span_s).text, tv_percent(mean_pct).text,
                tv_compact(1000.0 * thinned->interval_s, 1).text, tv_percent(envelope->highest).text);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_plot_of_envelope(struct tv_plot *plot, const char *path) {
  struct envelope envelope = {.highest = 0.0};
  struct tv_record record;
  enum tailvolt_status status = tv_record_open(path, &record);
  struct tv_record_pass pass = {.chosen_count = 2,
                                .chosen = {0, 1},
                                .from_s = plot->request->from_s,
                                .to_s = plot->request->to_s,
                                .context = &envelope,
                                .row = take_share};
  struct tv_record_pass twice = pass;
  twice.chosen_count = 3;
  twice.chosen[2] = 1;
  if (status == TAILVOLT_OK) status = tv_thin_begin(&envelope.thinned, &record, &twice);
  envelope.thinned.how[2] = 'h';
  if (status == TAILVOLT_OK) status = tv_record_read(&record, &pass);
  if (status != TAILVOLT_OK && record.error[0] != '\0') tv_plot_refuse(plot, "%.250s", record.error);
  if (status == TAILVOLT_OK) {
    tv_thin_end(&envelope.thinned);
    status = draw_envelope(plot, path, &envelope);
  }
  tv_thin_free(&envelope.thinned);
  tv_record_close(&record);
  return status;
}
