#include "input/envelope_csv.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "text/number.h"
#include "text/read_number.h"
#include "input/profile_cells.h"
#include "input/profile_lines.h"
#include "input/profile_rows.h"
#include "text/text.h"

/* Beyond these the count of rounds would exceed the whole numbers a double can hold. */
#define LENGTH_MIN_S 1e-3
#define LENGTH_MAX_S 1e9

struct reader {
  struct tv_lines lines;
  struct tv_cells cells;
  bool has_header;
  int time_cell, share_cell, cell_count;
  double first_s;
  long count, room; /* rows */
  double *time_s, *share_frac;
  char *error;
};

static enum tailvolt_status refuse(const struct reader *reader, int cell, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* cell -1 = the line as a whole; line 0 = the file as a whole */
static enum tailvolt_status refuse(const struct reader *reader, int cell, const char *format, ...) {
  char text[TAILVOLT_TEXT_MAX - 32];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(text, sizeof text, format, arguments);
  va_end(arguments);
  tv_at_place(reader->error, TAILVOLT_TEXT_MAX, reader->lines.number, cell + 1, text);
  return TAILVOLT_BAD_INPUT;
}

static enum tailvolt_status take_header(struct reader *reader) {
  const char *problem = tv_header_problem(&reader->cells);
  if (problem != NULL) return refuse(reader, -1, "%s", problem);
  reader->time_cell = reader->share_cell = -1;
  reader->cell_count = reader->cells.count;
  for (int k = 0; k < reader->cells.count; k++) {
    const char *name = tv_cell_text(&reader->cells, k);
    int *place = strcmp(name, "time_s") == 0  ? &reader->time_cell
                 : strcmp(name, "share") == 0 ? &reader->share_cell
                                              : NULL;
    if (place == NULL)
      return refuse(reader, k, "column '%.80s': an envelope has the columns time_s and share", name);
    if (*place >= 0) return refuse(reader, k, "column '%s' appears twice", name);
    *place = k;
  }
  if (reader->time_cell < 0) return refuse(reader, -1, "column time_s is missing");
  if (reader->share_cell < 0) return refuse(reader, -1, "column share is missing");
  reader->has_header = true;
  return TAILVOLT_OK;
}

static enum tailvolt_status take_number(struct reader *reader, int cell, double *value) {
  const char *text = tv_cell_text(&reader->cells, cell);
  if (tv_parse_number(text, tv_cell_length(&reader->cells, cell), value)) return TAILVOLT_OK;
  return refuse(reader, cell, "'%.80s' is not a number", text);
}

static enum tailvolt_status take_row(struct reader *reader) {
  double time_s, share_frac;
  if (reader->cells.count != reader->cell_count)
    return refuse(reader, -1, "%d cells where the header has %d", reader->cells.count, reader->cell_count);
  enum tailvolt_status status = take_number(reader, reader->time_cell, &time_s);
  if (status == TAILVOLT_OK) status = take_number(reader, reader->share_cell, &share_frac);
  if (status != TAILVOLT_OK) return status;
  if (!(share_frac >= 0.0 && share_frac <= TV_SHARE_MAX))
    return refuse(reader, reader->share_cell, "share %s: must be 0 to %d",
                  tv_cell_text(&reader->cells, reader->share_cell), (int)TV_SHARE_MAX);
  if (reader->count == 0) reader->first_s = time_s;
  time_s -= reader->first_s;
  if (reader->count > 0 && !(time_s > reader->time_s[reader->count - 1]))
    return refuse(reader, reader->time_cell, "time %s: must be later than in the row before",
                  tv_cell_text(&reader->cells, reader->time_cell));
  if (reader->count == reader->room) {
    long room = reader->room > 0 ? 2 * reader->room : 1024;
    double *times = realloc(reader->time_s, (size_t)room * sizeof *times);
    if (times != NULL) reader->time_s = times;
    double *shares = realloc(reader->share_frac, (size_t)room * sizeof *shares);
    if (shares != NULL) reader->share_frac = shares;
    if (times == NULL || shares == NULL) return TAILVOLT_NO_MEMORY;
    reader->room = room;
  }
  reader->time_s[reader->count] = time_s;
  reader->share_frac[reader->count++] = share_frac;
  return TAILVOLT_OK;
}

static enum tailvolt_status take_line(struct reader *reader, const char *line, size_t length) {
  switch (tv_line_split(&reader->cells, reader->lines.number, line, length)) {
    case TV_SPLIT_NOTHING:
      return TAILVOLT_OK;
    case TV_SPLIT_DONE:
      return reader->has_header ? take_row(reader) : take_header(reader);
    case TV_SPLIT_BAD_QUOTE:
      return refuse(reader, -1, "a quotation mark is not closed or is inside a cell");
    case TV_SPLIT_NO_MEMORY:
      break;
  }
  return TAILVOLT_NO_MEMORY;
}

static enum tailvolt_status read_lines(struct reader *reader) {
  for (;;) {
    const char *line;
    size_t length;
    enum tailvolt_status status;
    switch (tv_text_lines_next(&reader->lines, &line, &length)) {
      case TV_LINE_GIVEN:
        status = take_line(reader, line, length);
        if (status != TAILVOLT_OK) return status;
        break;
      case TV_LINE_END:
        return TAILVOLT_OK;
      case TV_LINE_TOO_LONG:
        return refuse(reader, -1, "the line after this one is too long");
      case TV_LINE_UNREADABLE:
        refuse(reader, -1, "%s", strerror(errno));
        return TAILVOLT_NOT_READABLE;
      case TV_LINE_NO_MEMORY:
        return TAILVOLT_NO_MEMORY;
    }
  }
}

/* The rows' times become the windows' edges. */
static enum tailvolt_status build(struct reader *reader, struct tv_table *out) {
  reader->lines.number = 0;
  if (!reader->has_header) return refuse(reader, -1, "is empty: it needs the columns time_s and share");
  if (reader->count < 2)
    return refuse(reader, -1, "needs two rows at least: a row holds until the next, the last one ends the envelope");
  double length_s = reader->time_s[reader->count - 1];
  if (!(length_s >= LENGTH_MIN_S && length_s <= LENGTH_MAX_S))
    return refuse(reader, -1, "lasts %s s: must last 1 ms to 1e9 s", tv_significant(length_s, 6).text);
  out->count = reader->count - 1;
  out->edge_s = reader->time_s;
  out->share_frac = reader->share_frac;
  out->length_s = length_s;
  reader->time_s = reader->share_frac = NULL;
  return tv_table_finish(out);
}

enum tailvolt_status tv_envelope_csv_read(const char *path, struct tv_table *out, char *error) {
  struct reader reader;
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  memset(&reader, 0, sizeof reader);
  memset(out, 0, sizeof *out);
  reader.error = error;
  error[0] = '\0';
  int file = open(path, O_RDONLY);
  if (file < 0) {
    snprintf(error, TAILVOLT_TEXT_MAX, "%s", strerror(errno));
    return TAILVOLT_NOT_READABLE;
  }
  if (tv_cells_init(&reader.cells)) {
    if (tv_lines_from_file(&reader.lines, file, 0)) status = read_lines(&reader);
    if (status == TAILVOLT_OK) status = build(&reader, out);
    tv_text_lines_free(&reader.lines);
    tv_cells_free(&reader.cells);
  }
  close(file);
  free(reader.time_s);
  free(reader.share_frac);
  if (status == TAILVOLT_NO_MEMORY) snprintf(error, TAILVOLT_TEXT_MAX, "out of memory");
  if (status != TAILVOLT_OK) tv_table_free(out);
  return status;
}
