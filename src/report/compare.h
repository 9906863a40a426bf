/* A log beside its simulation. Question: where, when and by how much did the model of this car miss what its meters showed? */
#ifndef TV_REPORT_COMPARE_H
#define TV_REPORT_COMPARE_H

#include <jansson.h>

#include "tailvolt/match.h"
#include "tailvolt/report.h"
#include "text/buffer.h"
#include "text/number.h"

TAILVOLT_CHECKED enum tailvolt_status tv_compare_text(const struct tailvolt_comparison *comparison,
                                                      const struct tailvolt_report_style *style, char **out);
TAILVOLT_CHECKED enum tailvolt_status tv_compare_json(const struct tailvolt_comparison *comparison, char **out);

/* A row for each time with a reading: time_s, then for each column `measured:NAME`, `before:NAME` where `before` is given,
 * and `simulated:NAME`; last the log's number, from 1. `tailvolt plot` draws it. */
TAILVOLT_CHECKED enum tailvolt_status tv_compare_csv(const struct tailvolt_comparison *comparison,
                                                     const struct tailvolt_comparison *before, char **out);

/* Pieces that match also shows. */
/* "0.312 V", "-4.2 A" */
struct tv_number tv_reading(double value, bool current);
/* Figures of every column, one object per log. */
json_t *tv_compare_logs_json(const struct tailvolt_comparison *comparison);
/* The table of columns, all logs; `before` (may be NULL) adds its own error beside. */
void tv_compare_table(struct tv_buffer *buffer, const struct tailvolt_comparison *comparison,
                      const struct tailvolt_comparison *before);

#endif
