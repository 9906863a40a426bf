#include "input/profile_rows.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "input/faults.h"
#include "text/number.h"
#include "text/read_number.h"
#include "text/text.h"
#include "tailvolt/profile.h"

bool tv_rows_init(struct tv_rows *rows, const struct tv_profile_columns *columns,
                  const struct tv_profile_parts *parts, const char *file, struct tailvolt_faults *faults) {
  memset(rows, 0, sizeof *rows);
  rows->columns = columns;
  rows->parts = parts;
  rows->file = file;
  rows->faults = faults;
  rows->last_time_s = (double)-INFINITY;
  rows->value = calloc((size_t)columns->count + 1, sizeof *rows->value);
  if (!tv_cells_init(&rows->cells) || rows->value == NULL) {
    tv_rows_free(rows);
    return false;
  }
  for (int k = 0; k < columns->count; k++) rows->value[k] = (double)NAN;
  return true;
}

void tv_rows_free(struct tv_rows *rows) {
  tv_cells_free(&rows->cells);
  free(rows->value);
  rows->value = NULL;
}

bool tv_line_is_skipped(const char *line, size_t length) {
  size_t k = 0;
  while (k < length && (line[k] == ' ' || line[k] == '\t' || line[k] == '\r')) k++;
  return k == length || line[k] == '#';
}

void tv_line_drop_mark(const char **line, size_t *length) {
  if (*length < 3 || memcmp(*line, "\xEF\xBB\xBF", 3) != 0) return;
  *line += 3;
  *length -= 3;
}

enum tv_split tv_line_split(struct tv_cells *cells, int number, const char *line, size_t length) {
  if (number == 1) tv_line_drop_mark(&line, &length);
  return tv_line_is_skipped(line, length) ? TV_SPLIT_NOTHING : tv_cells_split(cells, line, length);
}

static int find_programme(const struct tv_profile_parts *parts, const char *name, size_t length) {
  static const char silence[] = "silence";
  for (int k = 0; k < parts->programme_count; k++)
    if (strlen(parts->programmes[k]) == length && memcmp(parts->programmes[k], name, length) == 0) return k;
  if (length == sizeof silence - 1 && memcmp(name, silence, length) == 0) return TAILVOLT_SILENCE;
  return TAILVOLT_SILENCE - 1;
}

int tv_programme_of(const struct tv_profile_parts *parts, int amplifier, int programme) {
  int own = parts->own_programme[amplifier];
  return own >= 0 && programme != TAILVOLT_SILENCE ? own : programme;
}

int tv_programme_default(const struct tv_profile_parts *parts, int amplifier) {
  if (amplifier >= 0 && parts->own_programme[amplifier] >= 0) return parts->own_programme[amplifier];
  return parts->programme_count == 1 ? 0 : TAILVOLT_SILENCE;
}

/* ---- empty cells of the first row ---- */

static double value_of(const struct tv_rows *rows, enum tv_column_kind kind, double otherwise) {
  for (int k = 0; k < rows->columns->count; k++) {
    const struct tv_column *column = &rows->columns->column[k];
    if (column->kind == kind && column->item == TV_COLUMN_GENERAL && !isnan(rows->value[k])) return rows->value[k];
  }
  return otherwise;
}

static double default_of(const struct tv_rows *rows, const struct tv_column *column) {
  switch (column->kind) {
    case TV_COLUMN_AMBIENT: return rows->parts->ambient_c;
    case TV_COLUMN_SET_POINT: return (double)NAN; /* the system's own */
    case TV_COLUMN_VOLTAGE:
    case TV_COLUMN_CURRENT: return (double)NAN; /* not read */
    case TV_COLUMN_LOAD:
      return value_of(rows, TV_COLUMN_ENGINE, 0) > 0 || value_of(rows, TV_COLUMN_READY, 0) > 0 ? 1 : 0;
    case TV_COLUMN_PROGRAMME: {
      if (column->item == TV_COLUMN_GENERAL) return tv_programme_default(rows->parts, TV_COLUMN_GENERAL);
      double general = value_of(rows, TV_COLUMN_PROGRAMME, (double)NAN);
      return isnan(general) ? tv_programme_default(rows->parts, column->item)
                            : tv_programme_of(rows->parts, column->item, (int)general);
    }
    case TV_COLUMN_LEVEL: return column->item == TV_COLUMN_GENERAL ? 0 : value_of(rows, TV_COLUMN_LEVEL, 0);
    case TV_COLUMN_POWER: return 1;
    default: return 0;
  }
}

static void fill_first_row(struct tv_rows *rows) {
  /* general columns first: the others build on them */
  for (int pass = 0; pass < 2; pass++)
    for (int k = 0; k < rows->columns->count; k++) {
      const struct tv_column *column = &rows->columns->column[k];
      if ((column->item == TV_COLUMN_GENERAL) == (pass == 0) && isnan(rows->value[k]))
        rows->value[k] = default_of(rows, column);
    }
}

/* ---- the fast path ---- */

static bool is_blank(char c) { return c == ' ' || c == '\t'; }

static size_t count_commas(const char *text, size_t length) {
  size_t commas = 0;
  for (size_t k = 0; k < length; k++) commas += text[k] == ',';
  return commas;
}

/* Past the next `count` commas, or NULL. Blocks are counted at vector speed: logs have thousands of columns
 * nobody reads. */
static const char *skip_cells(const char *at, const char *end, int count) {
  enum { BLOCK = 128 };
  size_t left = (size_t)count;
  while (left > 4 && end - at > BLOCK) {
    unsigned char commas = 0;
    for (int k = 0; k < BLOCK; k++) commas = (unsigned char)(commas + (at[k] == ','));
    if (commas >= left) break;
    left -= commas;
    at += BLOCK;
  }
  for (; at < end; at++)
    if (*at == ',' && --left == 0) return at + 1;
  return NULL;
}

/* Only off and on, nothing between. */
static bool is_switch(const struct tv_column *column) {
  return column->kind == TV_COLUMN_POWER || column->kind == TV_COLUMN_READY;
}

/* Reads one cell; returns where it ended, NULL = leave the line to the slow path. */
static const char *take_cell_fast(struct tv_rows *rows, int k, const char *at, const char *end) {
  const struct tv_column *column = &rows->columns->column[k];
  while (at < end && is_blank(*at)) at++;
  if (at == end || *at == ',') {
    if (tv_column_is_measured(column)) rows->value[k] = (double)NAN;
    return at;
  }
  if (column->kind == TV_COLUMN_PROGRAMME) {
    const char *comma = memchr(at, ',', (size_t)(end - at));
    const char *stop = comma != NULL ? comma : end, *last = stop;
    while (is_blank(last[-1])) last--;
    int programme = find_programme(rows->parts, at, (size_t)(last - at));
    if (programme < TAILVOLT_SILENCE) return NULL;
    rows->value[k] = programme;
    return stop;
  }
  double value;
  size_t took = tv_parse_leading_number(at, (size_t)(end - at), &value);
  if (took == 0 || !(value >= column->lowest && value <= column->highest)) return NULL;
  if (is_switch(column) && value > 0 && value < 1) return NULL;
  at += took;
  while (at < end && is_blank(*at)) at++;
  if (at < end && *at != ',') return NULL;
  rows->value[k] = value;
  return at;
}

static bool engine_too_slow(const struct tv_rows *rows, double rpm) {
  return rpm > 0 && rpm < 0.5 * rows->parts->idle_rpm;
}

bool tv_rows_take_fast(struct tv_rows *rows, const char *line, size_t length) {
  const struct tv_profile_columns *columns = rows->columns;
  const char *at = line, *end = line + length;
  if (columns->time < 0 || memchr(line, '"', length) != NULL) return false;
  int place = 0;
  for (int k = 0; k < columns->count; k++) {
    int ahead = columns->column[k].place - place;
    if (ahead > 0) {
      at = skip_cells(at, end, ahead);
      if (at == NULL) return false;
      place += ahead;
    }
    at = take_cell_fast(rows, k, at, end);
    if (at == NULL) return false;
  }
  if (place + 1 + (int)count_commas(at, (size_t)(end - at)) != columns->cell_count) return false;
  if (!(rows->value[columns->time] > rows->last_time_s)) return false;
  if (columns->engine < 0 || !engine_too_slow(rows, rows->value[columns->engine])) return true;
  if (rows->parts->log) rows->value[columns->engine] = 0; /* it is being cranked */
  return rows->parts->log;
}

/* ---- the path that finds faults ---- */

static void cell_fault_number(struct tv_rows *rows, int line, const struct tv_column *column, const char *name,
                              const char *text) {
  const char *accepted = tv_column_rule(column->kind)->accepted;
  char copy[48];
  tv_copy_text(copy, sizeof copy, text);
  char *comma = strchr(copy, ',');
  if (comma != NULL) {
    *comma = '.';
    double value;
    if (tv_parse_number(copy, strlen(copy), &value)) {
      tv_fault_add(rows->faults, rows->file, line, column->place + 1, name, text,
                   "a decimal comma: write %s", copy);
      return;
    }
  }
  const char *letters = text + strspn(text, "+-");
  for (int k = 0; k < 3 && letters[k] != '\0'; k++) copy[k] = (char)tolower((unsigned char)letters[k]);
  bool not_finite = strlen(letters) >= 3 && (memcmp(copy, "nan", 3) == 0 || memcmp(copy, "inf", 3) == 0);
  tv_fault_add(rows->faults, rows->file, line, column->place + 1, name, text,
               "not a %snumber: accepted is %s", not_finite ? "finite " : "", accepted);
}

static void check_programme(struct tv_rows *rows, int line, int k, const char *text, size_t length) {
  const struct tv_column *column = &rows->columns->column[k];
  const char *name = rows->columns->name[k];
  int programme = find_programme(rows->parts, text, length);
  if (programme >= TAILVOLT_SILENCE) {
    rows->value[k] = programme;
    return;
  }
  const char *near = NULL;
  const char **words = calloc((size_t)rows->parts->programme_count + 1, sizeof *words);
  if (words != NULL) {
    for (int p = 0; p < rows->parts->programme_count; p++) words[p] = rows->parts->programmes[p];
    words[rows->parts->programme_count] = "silence";
    near = tv_nearest_word(text, words, (size_t)rows->parts->programme_count + 1);
    free(words);
  }
  if (near != NULL)
    tv_fault_add(rows->faults, rows->file, line, column->place + 1, name, text,
                 "no such programme in the system (did you mean \"%s\"?)", near);
  else if (rows->parts->programme_count > 0)
    tv_fault_add(rows->faults, rows->file, line, column->place + 1, name, text,
                 "no such programme in the system: accepted is silence, \"%s\"%s", rows->parts->programmes[0],
                 rows->parts->programme_count > 1 ? " and the others there" : "");
  else
    tv_fault_add(rows->faults, rows->file, line, column->place + 1, name, text,
                 "no such programme: the system has none, accepted is silence");
}

static void check_number(struct tv_rows *rows, int line, int k, const char *text, size_t length) {
  const struct tv_column *column = &rows->columns->column[k];
  const char *name = rows->columns->name[k], *accepted = tv_column_rule(column->kind)->accepted;
  double value;
  if (strlen(text) != length || !tv_parse_number(text, length, &value)) {
    cell_fault_number(rows, line, column, name, text);
    return;
  }
  if (!(value >= column->lowest && value <= column->highest) ||
      (is_switch(column) && value > 0 && value < 1)) {
    tv_fault_add(rows->faults, rows->file, line, column->place + 1, name, text,
                 "out of range: accepted is %s", accepted);
    return;
  }
  if (column->kind == TV_COLUMN_ENGINE && rows->parts->log && engine_too_slow(rows, value)) value = 0; /* it is being cranked */
  if (column->kind == TV_COLUMN_ENGINE && engine_too_slow(rows, value)) {
    tv_fault_add(rows->faults, rows->file, line, column->place + 1, name, text,
                 "below half of the idle speed of %s rpm: accepted is 0 (engine off), or %s and more",
                 tv_significant(rows->parts->idle_rpm, 6).text, tv_significant(0.5 * rows->parts->idle_rpm, 6).text);
    return;
  }
  if (column->kind == TV_COLUMN_TIME) {
    if (!(value > rows->last_time_s))
      tv_fault_add(rows->faults, rows->file, line, column->place + 1, name, text,
                   "does not rise: the row above is at %s s", tv_significant(rows->last_time_s, 15).text);
    rows->last_time_s = value; /* one slip, one fault */
  }
  rows->value[k] = value;
}

static void count_fault(struct tv_rows *rows, int line) {
  int wanted = rows->columns->cell_count, seen = rows->cells.count;
  const char *extra = seen > wanted ? tv_cell_text(&rows->cells, wanted) : NULL;
  tv_fault_add(rows->faults, rows->file, line, seen > wanted ? wanted + 1 : seen + 1, NULL, extra,
               "the row has %d cell%s where the header has %d column%s%s", seen, seen == 1 ? "" : "s", wanted,
               wanted == 1 ? "" : "s", seen > wanted ? " (decimal comma?)" : "");
}

bool tv_rows_take_checked(struct tv_rows *rows, const char *line, size_t length, int number) {
  switch (tv_cells_split(&rows->cells, line, length)) {
    case TV_SPLIT_NO_MEMORY: return false;
    case TV_SPLIT_BAD_QUOTE: {
      char copy[64];
      tv_copy_text(copy, length < sizeof copy ? length + 1 : sizeof copy, line);
      tv_fault_add(rows->faults, rows->file, number, 0, NULL, copy,
                   "a quote is left open or is inside a cell: quote the whole cell, and double quotes within it");
      return true;
    }
    case TV_SPLIT_NOTHING: return true;
    case TV_SPLIT_DONE: break;
  }
  if (rows->cells.count != rows->columns->cell_count) {
    count_fault(rows, number);
    return true;
  }
  for (int k = 0; k < rows->columns->count; k++) {
    const struct tv_column *column = &rows->columns->column[k];
    const char *text = tv_cell_text(&rows->cells, column->place);
    size_t cell_length = tv_cell_length(&rows->cells, column->place);
    if (cell_length == 0 && column->kind == TV_COLUMN_TIME)
      tv_fault_add(rows->faults, rows->file, number, column->place + 1, "time_s", NULL,
                   "empty: every row needs its time");
    else if (cell_length > 0 && column->kind == TV_COLUMN_PROGRAMME)
      check_programme(rows, number, k, text, cell_length);
    else if (cell_length == 0 && tv_column_is_measured(column))
      rows->value[k] = (double)NAN;
    else if (cell_length > 0)
      check_number(rows, number, k, text, cell_length);
  }
  return true;
}

bool tv_rows_take(struct tv_rows *rows, const char *line, size_t length, int number) {
  if (tv_rows_take_fast(rows, line, length))
    rows->last_time_s = rows->value[rows->columns->time];
  else if (!tv_rows_take_checked(rows, line, length, number))
    return false;
  if (rows->count++ == 0) fill_first_row(rows);
  return true;
}
