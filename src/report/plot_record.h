/* Reading a record of any length: columns by name, rows in one pass, thinned without losing a dip. */
#ifndef TV_REPORT_PLOT_RECORD_H
#define TV_REPORT_PLOT_RECORD_H

#include <stdio.h>

#include "tailvolt/status.h"

#define TV_RECORD_NAME_MAX 160
#define TV_RECORD_BINS 300 /* a thinned record has at least this many rows, at most twice as many */
#define TV_RECORD_CHOSEN_MAX 40

struct tv_record {
  const char *path;
  FILE *file;
  int column_count;
  char (*names)[TV_RECORD_NAME_MAX]; /* time_s first */
  long body_at;                      /* offset of the first row */
  char error[TAILVOLT_TEXT_MAX];
};

TAILVOLT_CHECKED enum tailvolt_status tv_record_open(const char *path, struct tv_record *record);
void tv_record_close(struct tv_record *record);

/* The column PART:QUANTITY, -1 = none. */
int tv_record_column(const struct tv_record *record, const char *part, const char *quantity);

/* Calls `row` with the cells of the chosen columns (cells[0] is always time; NAN = empty) for each row from `from_s` to
 * `to_s`, NAN = all; a nonzero return ends the pass. `start_at` is the offset of a row, 0 = the first. */
struct tv_record_pass {
  int chosen_count;
  int chosen[TV_RECORD_CHOSEN_MAX]; /* columns; chosen[0] must be 0 */
  double from_s, to_s;
  long start_at;
  void *context;
  int (*row)(void *context, const double *cells, long offset);
};
TAILVOLT_CHECKED enum tailvolt_status tv_record_read(struct tv_record *record,
                                                     const struct tv_record_pass *pass);

/* Merged rows: the lowest of cells whose column ends in _min, the highest for _max, else the mean. */
struct tv_thinned {
  int count, rows_each, open_rows;
  int chosen_count;
  char how[TV_RECORD_CHOSEN_MAX]; /* 'l'owest, 'h'ighest, 'm'ean, 't'ime of the first */
  double *cells;                  /* [2 * TV_RECORD_BINS + 1][chosen_count] */
  long *offsets;                  /* of the first row of each */
  double last_s, interval_s;      /* time of the last row, and how long the rows before it lasted */
  long row_count;
};
TAILVOLT_CHECKED enum tailvolt_status
tv_thin_begin(struct tv_thinned *thinned, const struct tv_record *record, const struct tv_record_pass *pass);
void tv_thin_row(struct tv_thinned *thinned, const double *cells, long offset);
void tv_thin_end(struct tv_thinned *thinned);
void tv_thin_free(struct tv_thinned *thinned);

#endif
