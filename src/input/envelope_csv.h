/* Envelope files: CSV with the columns time_s and share (of the rated power). A row holds until the next; the last row
 * ends the envelope, and its share is not used. */
#ifndef TV_INPUT_ENVELOPE_CSV_H
#define TV_INPUT_ENVELOPE_CSV_H

#include "parts/programme_table.h"

#define TV_SHARE_MAX 100.0

/* TAILVOLT_OK, _NOT_READABLE, _NO_MEMORY, _BAD_INPUT with `error` (TAILVOLT_TEXT_MAX bytes) as "LINE:COLUMN: text",
 * "LINE: text" or "text". */
TAILVOLT_CHECKED enum tailvolt_status tv_envelope_csv_read(const char *path, struct tv_table *out, char *error);

#endif
