/* The load profile: what happens over time, row by row.
 *
 * A profile is checked completely before anything runs. Rows are then read through a cursor, so a long
 * profile need not fit in memory. */
#ifndef TAILVOLT_PROFILE_H
#define TAILVOLT_PROFILE_H

#include "tailvolt/system.h"

#ifdef __cplusplus
extern "C" {
#endif

#define TAILVOLT_SILENCE (-1) /**< programme index of silence */

/** What one amplifier does in a row. A prescribed draw is NAN where not given, else 0 or more;
 *  at most one of output_w, supply_w, supply_a is given. */
struct tailvolt_amplifier_row {
  int programme;     /**< index into the system's programmes, or TAILVOLT_SILENCE */
  double level_db;   /**< the profile's, 0 = just below clipping; the run adds the amplifier's own offset */
  bool powered;      /**< false: off, drawing its standby current */
  double output_w;   /**< to its speakers: replaces music and level */
  double supply_w;   /**< taken at its terminals: replaces all of the amplifier */
  double supply_a;   /**< the same as a current */
};

/** One row with every default filled in. Values hold until the next row. */
struct tailvolt_row {
  double time_s;
  double engine_rpm;     /**< crankshaft; 0 = off */
  double ambient_c;
  double set_point_v;    /**< NAN = the system's own */
  double base_load_a;    /**< further constant current at the posts of the first battery */
  const double *load_on;                          /**< [load_count], 0 to 1 */
  const struct tailvolt_amplifier_row *amplifier; /**< [amplifier_count] */
  bool ready;            /**< the car is on: the source may work. Column `ready`, else engine_rpm > 0; rows
                          *   from a host that leave it false have it set where engine_rpm > 0 */
};

struct tailvolt_profile;        /* opaque */
struct tailvolt_profile_cursor; /* opaque */

/** Reads and checks a profile against a system (names of loads, amplifiers, programmes).
 *
 *  Up to 4 MB of rows are held in memory; of a longer profile the file stays open and its rows are read again with each cursor,
 *  so it may not change until tailvolt_profile_free(). What comes through a pipe is kept in a temporary file.
 *  \param path     file, or "-" for standard input
 *  \param columns  NULL, or the columns to read, separated by commas; all others are ignored unread
 *  \param system   needed for this call only: what the profile needs of it is copied
 *  \param out      receives the profile; free with tailvolt_profile_free()
 *  \param faults   filled with everything wrong; its count is 0 on success
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NOT_READABLE, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_profile_read(const char *path, const char *columns, const struct tailvolt_system *system,
                      struct tailvolt_profile **out, struct tailvolt_faults *faults);

/** The same from text in memory, which is copied; faults call it `name`.
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_profile_parse(const char *text, const char *name, const struct tailvolt_system *system,
                       struct tailvolt_profile **out, struct tailvolt_faults *faults);

/** The same from `length` bytes in memory, which need no zero byte, restricted to `columns` as tailvolt_profile_read() is. */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_profile_parse_columns(const char *text, size_t length, const char *name, const char *columns,
                               const struct tailvolt_system *system, struct tailvolt_profile **out, struct tailvolt_faults *faults);

/** A profile built by a host program from its own rows; everything is copied. Each row's load_on and amplifier arrays must have the
 *  system's counts.
 *  \param row_count  2 at least; times rise strictly
 *  \param out        free with tailvolt_profile_free()
 *  \return TAILVOLT_OK; TAILVOLT_BAD_INPUT: too few rows, times that do not rise, a number outside what a profile's file may hold, or
 *          more than one prescribed draw of an amplifier; TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_profile_from_rows(const struct tailvolt_row *rows, int row_count, const char *name,
                           const struct tailvolt_system *system, struct tailvolt_profile **out);

/** What is run where no profile is given: ten minutes of idling at night in the rain and ten on the road, every load on and
 *  every amplifier playing; where nothing charges, ten minutes parked alone. */
enum { TAILVOLT_STANDARD_PROFILES = 2 };
/** \param out  receives them, the road last; each is freed with tailvolt_profile_free(), after a failure too
 *  \param count  receives how many
 *  \return TAILVOLT_OK, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_standard_profiles(const struct tailvolt_system *system, struct tailvolt_profile *out[TAILVOLT_STANDARD_PROFILES],
                           int *count);

/** Frees it and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_profile_free(struct tailvolt_profile *profile);

/** Its name as given, in its own memory; "standard input" for "-". */
TAILVOLT_API const char *tailvolt_profile_name(const struct tailvolt_profile *profile);
/** Its first and last time. */
TAILVOLT_API double tailvolt_profile_start_s(const struct tailvolt_profile *profile);
TAILVOLT_API double tailvolt_profile_end_s(const struct tailvolt_profile *profile);
/** Rows, of a long profile too; 2 at least. */
TAILVOLT_API long tailvolt_profile_row_count(const struct tailvolt_profile *profile);
/** True where the profile prescribes amplifier k's draw (supply_w or supply_a); false for an index out of range. */
TAILVOLT_API bool tailvolt_profile_prescribes(const struct tailvolt_profile *profile, int amplifier);

/** A cursor before the first row. Several cursors may read one profile at once, in several threads too; the profile must outlive them.
 *  \param out  free with tailvolt_profile_close()
 *  \return TAILVOLT_OK; TAILVOLT_NOT_READABLE: the file of a long profile has changed since it was checked; TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_profile_open(const struct tailvolt_profile *profile, struct tailvolt_profile_cursor **out);
/** Advances to the next row. `*row` belongs to the cursor and stays valid until the call after next, so two neighbouring rows can be
 *  held at once. `*row` is NULL after the last row.
 *  \return TAILVOLT_OK, of a long profile also TAILVOLT_NOT_READABLE, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_profile_next(struct tailvolt_profile_cursor *cursor, const struct tailvolt_row **row);
/** Looks ahead, without moving: how many rows from the one given last on, `most` at most, last `span_s` (within 1e-9 of it) and
 *  differ from the row before and the one behind in nothing but time and what is prescribed for amplifiers. Writes of each of
 *  them, and of the row behind, its time and every amplifier's supply_w and supply_a, NaN where none is given:
 *  cells[rows + 1][1 + 2 * amplifiers]; so there must be room for most + 1. 0 where the profile's rows are not held in memory. */
TAILVOLT_API int tailvolt_profile_repeats(const struct tailvolt_profile_cursor *cursor, double span_s, int most, double *cells);
/** Passes over rows; no more than are left. */
TAILVOLT_API void tailvolt_profile_skip(struct tailvolt_profile_cursor *cursor, int rows);
/** Frees the cursor; NULL is fine. */
TAILVOLT_API void tailvolt_profile_close(struct tailvolt_profile_cursor *cursor);

#ifdef __cplusplus
}
#endif
#endif
