/* The rows of a variation: each kept as one line of JSON (so that a stopped run can be resumed), and all of them
 * written as text, CSV or one JSON document. */
#ifndef TV_REPORT_VARY_TABLE_H
#define TV_REPORT_VARY_TABLE_H

#include "tailvolt/report.h"
#include "tailvolt/vary.h"

/* One row as a line without its newline; free with free(). NULL = out of memory. */
char *tv_vary_line(const struct tailvolt_variation *variation, const struct tailvolt_vary_row *row);

/* True for the line of a row that could not be computed. */
bool tv_vary_line_failed(const char *line);
/* True for a complete line that tv_vary_line() wrote for this row of this variation. */
bool tv_vary_line_is(const struct tailvolt_variation *variation, long index, const char *line);

/* All rows: lines[row_count], NULL = missing (in another shard). */
TAILVOLT_CHECKED enum tailvolt_status tv_vary_text(const struct tailvolt_variation *variation,
                                                   char *const *lines,
                                                   const struct tailvolt_report_style *style, char **out);
TAILVOLT_CHECKED enum tailvolt_status tv_vary_csv(const struct tailvolt_variation *variation,
                                                  char *const *lines, char **out);
TAILVOLT_CHECKED enum tailvolt_status tv_vary_json(const struct tailvolt_variation *variation,
                                                   char *const *lines, char **out);

#endif
