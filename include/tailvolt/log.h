/* Logs: what a car did, and what its meters showed meanwhile. */
#ifndef TAILVOLT_LOG_H
#define TAILVOLT_LOG_H

#include "tailvolt/profile.h"

#ifdef __cplusplus
extern "C" {
#endif

#define TAILVOLT_LOG_NAME_MAX 96

/** A log: a load profile (what the car did) with measured columns (what its meters showed) beside it.
 *
 *  `voltage_v:NAME`: NAME is a point of the wiring, measured against `ground`, the negative post of the first battery; or a meter, battery,
 *  amplifier or the alternator, across its own terminals.
 *  `current_a:NAME`: NAME is a battery (out of it: positive discharges), the alternator (out of it), an amplifier (into it) or a conductor
 *  (from its `from` to its `to`). A part may be named like its section ("cable feed").
 *  An empty cell is a reading that was not taken. An engine speed below half of idle speed means the engine does not run yet.
 *  A log without a column for music, output or prescribed draw plays none. */
struct tailvolt_log; /* opaque */

/** Reads and checks a log.
 *  \param path     file, or "-" for standard input
 *  \param columns  NULL, or the columns to read, separated by commas
 *  \param out      receives the log; free with tailvolt_log_free(). It does not refer to the system
 *  \param faults   filled with everything wrong; its count is 0 on success
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NOT_READABLE, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_log_read(const char *path, const char *columns, const struct tailvolt_system *system, struct tailvolt_log **out,
                  struct tailvolt_faults *faults);
/** The same from text in memory, called `name`.
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_log_parse(const char *text, const char *name, const struct tailvolt_system *system, struct tailvolt_log **out,
                   struct tailvolt_faults *faults);
/** Frees it and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_log_free(struct tailvolt_log *log);

/** As given by the user; the log's own memory. */
TAILVOLT_API const char *tailvolt_log_name(const struct tailvolt_log *log);
/** Measured columns. */
TAILVOLT_API int tailvolt_log_column_count(const struct tailvolt_log *log);
/** Rows, readings or not; 2 at least. */
TAILVOLT_API long tailvolt_log_row_count(const struct tailvolt_log *log);
/** Seconds from its first row to its last. */
TAILVOLT_API double tailvolt_log_span_s(const struct tailvolt_log *log);
/** True where it has load profile columns besides time; else a profile has to be given. */
TAILVOLT_API bool tailvolt_log_drives(const struct tailvolt_log *log);

#ifdef __cplusplus
}
#endif
#endif
