/* CSV cells: RFC 4180 quoting (libcsv's writer), numbers in the C locale. */
#ifndef TV_REPORT_CSV_H
#define TV_REPORT_CSV_H

#include <stdbool.h>

#include "text/buffer.h"

/* A cell, quoted where it holds a comma or a quote. One that a spreadsheet would take for a formula gets an apostrophe
 * before it; characters that are not seen become question marks. */
void tv_csv_text(struct tv_buffer *buffer, const char *text);
bool tv_csv_is_formula(const char *text);

/* In how many such cars it holds, and their lowest voltage: empty where that is not known or NULL. */
struct tailvolt_certainty;
#define TV_CSV_CERTAINTY "holds_low_pct,holds_high_pct,lowest_low_v,lowest_high_v"
void tv_csv_certainty(struct tv_buffer *buffer, const struct tailvolt_certainty *certainty);

#endif
