#include "report/plot_record.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "report/csv.h"
#include "text/read_number.h"

enum { BLOCK = 1 << 20, HEAD_MAX = 1 << 18 };

static enum tailvolt_status bad(struct tv_record *record, const char *text) {
  snprintf(record->error, sizeof record->error, "%.150s: %.100s", record->path, text);
  return TAILVOLT_BAD_INPUT;
}

/* Splits the header at its commas; names may be quoted. */
static enum tailvolt_status read_names(struct tv_record *record, const char *at) {
  int room = 0;
  for (bool more = true; more;) {
    if (record->column_count == room) {
      room = room == 0 ? 64 : 2 * room;
      void *grown = realloc(record->names, (size_t)room * sizeof *record->names);
      if (grown == NULL) return TAILVOLT_NO_MEMORY;
      record->names = grown;
    }
    char *to = record->names[record->column_count++];
    size_t length = 0;
    bool quoted = *at == '"';
    if (quoted) at++;
    for (; *at != '\0' && *at != '\r' && *at != '\n'; at++) {
      if (quoted && *at == '"' && at[1] != '"') break;
      if (quoted && *at == '"') at++;
      if (!quoted && *at == ',') break;
      if (length + 1 < TV_RECORD_NAME_MAX) to[length++] = *at;
    }
    to[length] = '\0';
    if (to[0] == '\'' && tv_csv_is_formula(to + 1)) memmove(to, to + 1, length); /* it keeps a spreadsheet from running the name */
    if (quoted && *at == '"') at++;
    more = *at == ',';
    at += more;
  }
  return TAILVOLT_OK;
}

enum tailvolt_status tv_record_open(const char *path, struct tv_record *record) {
  *record = (struct tv_record){.path = path};
  record->file = fopen(path, "rb");
  if (record->file == NULL && errno == ENOMEM) return TAILVOLT_NO_MEMORY;
  if (record->file == NULL) {
    snprintf(record->error, sizeof record->error, "%.150s: %.100s", path, strerror(errno));
    return TAILVOLT_NOT_READABLE;
  }
  char *head = malloc(HEAD_MAX);
  if (head == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = TAILVOLT_OK;
  if (fgets(head, HEAD_MAX, record->file) == NULL || strchr(head, '\n') == NULL)
    status = bad(record, "is not a record: it has no line of column names");
  else
    status = read_names(record, strncmp(head, "\xef\xbb\xbf", 3) == 0 ? head + 3 : head);
  free(head);
  if (status == TAILVOLT_OK && (record->column_count < 2 || strcmp(record->names[0], "time_s") != 0))
    status = bad(record, "is not a record: its first column is not time_s");
  if (status == TAILVOLT_OK && (record->body_at = ftell(record->file)) < 0)
    status = bad(record, "cannot be read more than once; give a file");
  return status;
}

void tv_record_close(struct tv_record *record) {
  if (record->file != NULL) fclose(record->file);
  free(record->names);
  record->file = NULL;
  record->names = NULL;
}

int tv_record_column(const struct tv_record *record, const char *part, const char *quantity) {
  char name[TV_RECORD_NAME_MAX];
  snprintf(name, sizeof name, "%s:%s", part, quantity);
  for (int k = 0; k < record->column_count; k++)
    if (strcmp(record->names[k], name) == 0) return k;
  return -1;
}

/* Digits with a point, as records are written; anything else goes to the general number reader. False = not a number. */
static bool read_cell(const char *from, const char *to, double *value) {
  static const double scale[] = {1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9};
  if (from == to) {
    *value = (double)NAN;
    return true;
  }
  const char *at = from;
  bool negative = *at == '-';
  if (negative) at++;
  long long digits = 0;
  int after = 0;
  bool point = false;
  if (to - at <= 16) {
    for (; at < to; at++) {
      if (*at >= '0' && *at <= '9') {
        digits = 10 * digits + (*at - '0');
        after += point;
      } else if (*at == '.' && !point) {
        point = true;
      } else {
        break;
      }
    }
    if (at == to && after < 10 && to > from + negative) {
      double number = (double)digits / scale[after];
      *value = negative ? -number : number;
      return true;
    }
  }
  return tv_parse_number(from, (size_t)(to - from), value);
}

/* Takes the chosen cells from one line. False = a cell that is not a number, or too short a row. */
static bool read_line(const char *from, const char *to, const signed char *place, int last_column,
                      double *cells) {
  int column = 0;
  if (to > from && to[-1] == '\r') to--;
  for (const char *at = from;; column++) {
    const char *end = at;
    while (end < to && *end != ',') end++;
    if (place[column] >= 0 && !read_cell(at, end, &cells[place[column]])) return false;
    if (column == last_column) return true;
    if (end == to) return false;
    at = end + 1;
  }
}

struct reading {
  struct tv_record *record;
  const struct tv_record_pass *pass;
  signed char *place; /* [columns] index among the chosen, -1 = not chosen */
  int last_column;
  long line; /* in this pass, for messages */
  bool over;
};

static enum tailvolt_status take_line(struct reading *reading, const char *from, const char *to,
                                      long offset) {
  double cells[TV_RECORD_CHOSEN_MAX];
  cells[0] = (double)NAN;
  const struct tv_record_pass *pass = reading->pass;
  reading->line++;
  if (to == from || *from == '#' || *from == '\r') return TAILVOLT_OK;
  if (!read_line(from, to, reading->place, reading->last_column, cells) || !isfinite(cells[0])) {
    char text[80];
    snprintf(text, sizeof text, "row %ld is not made of numbers as its columns are named", reading->line);
    return bad(reading->record, text);
  }
  if (cells[0] < pass->from_s) return TAILVOLT_OK;
  reading->over = cells[0] > pass->to_s || pass->row(pass->context, cells, offset) != 0;
  return TAILVOLT_OK;
}

static enum tailvolt_status read_blocks(struct reading *reading, char *block) {
  size_t held = 0;
  long offset = reading->pass->start_at > 0 ? reading->pass->start_at : reading->record->body_at;
  for (;;) {
    size_t got = fread(block + held, 1, BLOCK - held, reading->record->file);
    size_t have = held + got, at = 0;
    bool end_of_file = got < BLOCK - held;
    if (ferror(reading->record->file)) return bad(reading->record, "cannot be read to its end");
    while (at < have && !reading->over) {
      char *end = memchr(block + at, '\n', have - at);
      if (end == NULL && !end_of_file) break;
      size_t stop = end != NULL ? (size_t)(end - block) : have;
      enum tailvolt_status status = take_line(reading, block + at, block + stop, offset + (long)at);
      if (status != TAILVOLT_OK) return status;
      at = stop + (end != NULL);
    }
    if (reading->over || end_of_file) return TAILVOLT_OK;
    if (at == 0) return bad(reading->record, "has a line longer than a megabyte");
    memmove(block, block + at, have - at);
    held = have - at;
    offset += (long)at;
  }
}

enum tailvolt_status tv_record_read(struct tv_record *record, const struct tv_record_pass *pass) {
  struct reading reading = {.record = record, .pass = pass};
  char *block = malloc(BLOCK);
  reading.place = malloc((size_t)record->column_count);
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (block != NULL && reading.place != NULL) {
    memset(reading.place, -1, (size_t)record->column_count);
    for (int k = 0; k < pass->chosen_count; k++) {
      reading.place[pass->chosen[k]] = (signed char)k;
      if (pass->chosen[k] > reading.last_column) reading.last_column = pass->chosen[k];
    }
    clearerr(record->file);
    status = fseek(record->file, pass->start_at > 0 ? pass->start_at : record->body_at, SEEK_SET) == 0
                 ? read_blocks(&reading, block)
                 : bad(record, "cannot be read more than once; give a file");
  }
  free(block);
  free(reading.place);
  return status;
}

static char how_of(const char *name) {
  size_t length = strlen(name);
  if (length > 4 && strcmp(name + length - 4, "_min") == 0) return 'l';
  return length > 4 && strcmp(name + length - 4, "_max") == 0 ? 'h' : 'm';
}

enum tailvolt_status tv_thin_begin(struct tv_thinned *thinned, const struct tv_record *record,
                                   const struct tv_record_pass *pass) {
  *thinned = (struct tv_thinned){.rows_each = 1, .chosen_count = pass->chosen_count};
  for (int k = 0; k < pass->chosen_count; k++)
    thinned->how[k] = k == 0 ? 't' : how_of(record->names[pass->chosen[k]]);
  size_t room = 2 * TV_RECORD_BINS + 1;
  thinned->cells = malloc(room * (size_t)pass->chosen_count * sizeof *thinned->cells);
  thinned->offsets = malloc(room * sizeof *thinned->offsets);
  return thinned->cells != NULL && thinned->offsets != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}

/* Merges a row (or a merger of rows) into another; in means, the later one has weight `share`. */
static void join(const struct tv_thinned *thinned, double *to, const double *from, double share) {
  for (int k = 1; k < thinned->chosen_count; k++) {
    if (isnan(from[k])) continue;
    if (isnan(to[k]))
      to[k] = from[k];
    else if (thinned->how[k] == 'l')
      to[k] = fmin(to[k], from[k]);
    else if (thinned->how[k] == 'h')
      to[k] = fmax(to[k], from[k]);
    else
      to[k] += share * (from[k] - to[k]);
  }
}

static double *bin(const struct tv_thinned *thinned, int index) {
  return thinned->cells + (size_t)index * (size_t)thinned->chosen_count;
}

void tv_thin_row(struct tv_thinned *thinned, const double *cells, long offset) {
  size_t size = (size_t)thinned->chosen_count * sizeof *cells;
  if (thinned->row_count++ > 0) thinned->interval_s = cells[0] - thinned->last_s;
  thinned->last_s = cells[0];
  if (thinned->open_rows > 0 && thinned->open_rows < thinned->rows_each) {
    thinned->open_rows++;
    join(thinned, bin(thinned, thinned->count - 1), cells, 1.0 / thinned->open_rows);
    return;
  }
  if (thinned->count == 2 * TV_RECORD_BINS) {
    for (int k = 0; k < TV_RECORD_BINS; k++) {
      join(thinned, bin(thinned, 2 * k), bin(thinned, 2 * k + 1), 0.5);
      memmove(bin(thinned, k), bin(thinned, 2 * k), size);
      thinned->offsets[k] = thinned->offsets[2 * k];
    }
    thinned->count = TV_RECORD_BINS;
    thinned->rows_each *= 2;
  }
  memcpy(bin(thinned, thinned->count), cells, size);
  thinned->offsets[thinned->count++] = offset;
  thinned->open_rows = 1;
}

/* The last row is taken to last as long as the one before it. */
void tv_thin_end(struct tv_thinned *thinned) {
  if (thinned->count == 0) return;
  memcpy(bin(thinned, thinned->count), bin(thinned, thinned->count - 1),
         (size_t)thinned->chosen_count * sizeof(double));
  bin(thinned, thinned->count)[0] = thinned->last_s + thinned->interval_s;
  thinned->offsets[thinned->count] = thinned->offsets[thinned->count - 1];
}

void tv_thin_free(struct tv_thinned *thinned) {
  free(thinned->cells);
  free(thinned->offsets);
  *thinned = (struct tv_thinned){0};
}
