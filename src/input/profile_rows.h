/* One data row after another, checked: from a physical line to the values of the columns that are read.
 *
 * libcsv splits the lines. A line without a quote has the plain grammar "cells between commas, blanks around them
 * dropped", so a line that is right in every cell is also read by a faster way that stops short of making cells;
 * whatever that way does not like goes to libcsv, which alone finds faults. */
#ifndef TV_INPUT_PROFILE_ROWS_H
#define TV_INPUT_PROFILE_ROWS_H

#include "input/profile_columns.h"

struct tv_rows {
  const struct tv_profile_columns *columns;
  const struct tv_profile_parts *parts;
  const char *file;
  struct tailvolt_faults *faults;
  struct tv_cells cells;
  double *value;      /* [columns->count]: of the row read last; programmes as their index */
  double last_time_s; /* -INFINITY before the first row */
  long count;         /* rows so far */
};

bool tv_rows_init(struct tv_rows *rows, const struct tv_profile_columns *columns,
                  const struct tv_profile_parts *parts, const char *file, struct tailvolt_faults *faults);
void tv_rows_free(struct tv_rows *rows);

/* Blank line or comment. */
bool tv_line_is_skipped(const char *line, size_t length);

/* Reads a row; empty cells keep the value above, or take the default in the first row. Faults are added to
 * rows->faults; false = no memory. */
bool tv_rows_take(struct tv_rows *rows, const char *line, size_t length, int number);

/* The two ways of tv_rows_take, for comparison: both fill rows->value; the fast one returns false where it leaves the
 * line to the other. Neither counts the row. */
bool tv_rows_take_fast(struct tv_rows *rows, const char *line, size_t length);
bool tv_rows_take_checked(struct tv_rows *rows, const char *line, size_t length, int number);

/* Programme that amplifier k plays where the general column says `programme`, and where there is no column. */
int tv_programme_of(const struct tv_profile_parts *parts, int amplifier, int programme);
int tv_programme_default(const struct tv_profile_parts *parts, int amplifier);

#endif
