/* Data rows, checked one after another: from a physical line to the values of the columns that are read.
 *
 * libcsv splits the lines. A line without quotes has the simple grammar "cells between commas, surrounding blanks
 * dropped", so a line with no fault is also read by a faster path that never builds cells; whatever that path
 * rejects goes to libcsv, and only there are faults found. */
#ifndef TV_INPUT_PROFILE_ROWS_H
#define TV_INPUT_PROFILE_ROWS_H

#include "input/profile_columns.h"

struct tv_rows {
  const struct tv_profile_columns *columns;
  const struct tv_profile_parts *parts;
  const char *file;
  struct tailvolt_faults *faults;
  struct tv_cells cells;
  double *value;      /* [columns->count]: of the row read last; programmes by index */
  double last_time_s; /* -INFINITY before the first row */
  long count;         /* rows so far */
};

bool tv_rows_init(struct tv_rows *rows, const struct tv_profile_columns *columns,
                  const struct tv_profile_parts *parts, const char *file, struct tailvolt_faults *faults);
void tv_rows_free(struct tv_rows *rows);

/* Blank line or comment. */
bool tv_line_is_skipped(const char *line, size_t length);
/* Drops the byte-order mark that some spreadsheets put before a file's first line. */
void tv_line_drop_mark(const char **line, size_t *length);
/* The cells of line `number`, from 1; TV_SPLIT_NOTHING where the line is skipped. */
enum tv_split tv_line_split(struct tv_cells *cells, int number, const char *line, size_t length);

/* Reads a row; empty cells keep the value above, or take the default in the first row. Faults are added to
 * rows->faults; false = no memory. */
bool tv_rows_take(struct tv_rows *rows, const char *line, size_t length, int number);

/* The two paths of tv_rows_take, for comparison: both fill rows->value; the fast one returns false where it leaves
 * the line to the other. Neither counts the row. */
bool tv_rows_take_fast(struct tv_rows *rows, const char *line, size_t length);
bool tv_rows_take_checked(struct tv_rows *rows, const char *line, size_t length, int number);

/* Programme that amplifier k plays where the general column says `programme`, or where there is no column. */
int tv_programme_of(const struct tv_profile_parts *parts, int amplifier, int programme);
int tv_programme_default(const struct tv_profile_parts *parts, int amplifier);

#endif
