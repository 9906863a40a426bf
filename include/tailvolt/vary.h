/* Variations: every combination of values of up to four keys of a system file, each simulated on its own. */
#ifndef TAILVOLT_VARY_H
#define TAILVOLT_VARY_H

#include <stddef.h>

#include "tailvolt/simulate.h"

#ifdef __cplusplus
extern "C" {
#endif

#define TAILVOLT_VARY_KEYS 4        /**< keys at most */
#define TAILVOLT_VARY_ROWS 1000000L /**< rows at most */
#define TAILVOLT_VARY_TEXT_MAX 96   /**< bytes of a key or a value, its zero byte included */

/** One key and its values, as --set takes them. */
struct tailvolt_vary_key {
  char key[TAILVOLT_VARY_TEXT_MAX]; /**< "section.key" */
  int value_count;
  char (*values)[TAILVOLT_VARY_TEXT_MAX];
};

/** Every combination: the last key changes fastest. */
struct tailvolt_variation {
  int key_count;
  struct tailvolt_vary_key keys[TAILVOLT_VARY_KEYS];
  long row_count;
};

/** Reads texts such as "cable amplifier feed.size = 8 AWG, 4 AWG" and "cable amplifier feed.length = 1 m .. 8 m step 1
 *  m". Values are separated by commas, or by `|` where a value holds a comma itself; lists and ranges may be mixed. A
 *  range stops at the last step within its end; `12.4 V .. 14.8 V` of a set point, without a step, is one value.
 *  \param texts   1 to TAILVOLT_VARY_KEYS
 *  \param out     free with tailvolt_variation_free()
 *  \param faults  filled with everything wrong; its count is 0 on success
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_variation_parse(const char *const *texts,
                                                                            int count,
                                                                            struct tailvolt_variation **out,
                                                                            struct tailvolt_faults *faults);
/** Frees it and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_variation_free(struct tailvolt_variation *variation);

/** The value of a key in a row, both from 0, below `row_count` and `key_count`. The variation's own memory. */
TAILVOLT_API const char *tailvolt_variation_value(const struct tailvolt_variation *variation, long row,
                                                  int key);

/** The outcome of one row; all it points to is the library's until the call returns. */
struct tailvolt_vary_row {
  long index;                           /**< from 0 */
  enum tailvolt_status status;          /**< of this row */
  const struct tailvolt_system *system; /**< as run; NULL where the combination was refused */
  const struct tailvolt_result *result; /**< NULL where it could not be computed */
  const char *error;                    /**< why; empty where it could be */
  double parked_s;                      /**< playing time with the engine off; INFINITY = beyond 48 h, NAN = not
                                         *   requested, or cannot be found */
  const struct tailvolt_certainty *certainty; /**< in how many such cars it holds; NULL = not requested, or not found */
};

/** How rows are run. */
struct tailvolt_vary_options {
  size_t size;                 /**< of this structure where the program was compiled; set by tailvolt_default_vary_options() */
  struct tailvolt_options run; /**< its record and progress are not used */
  const char *columns;         /**< of the profile; NULL = all */
  bool parked;                 /**< also find how long each plays with the engine off and still starts */
  int threads;                 /**< 0 = as many as there are processors */
  int shard, shard_count;      /**< shard number from 1, of shard_count; 1 of 1 = all */
  void *context; /**< for the three calls below, which never run at the same time; `wanted` and `row` in the thread that called */
  bool (*wanted)(void *context, long index); /**< NULL = all; false skips a row of the shard */
  int (*row)(void *context,
             const struct tailvolt_vary_row *row);  /**< as rows finish, in any order; nonzero = stop with
                                              *   TAILVOLT_NOT_WRITTEN */
  int (*progress)(void *context, double done_frac); /**< nonzero = stop; may be NULL */
  int vehicles;                /**< cars drawn for each row to say in how many of them it holds; 0 = none. What to measure
                                *   first is not asked */
};

/** Fills `size` bytes with what the command uses; for tailvolt_default_vary_options(), which knows the caller's size. */
TAILVOLT_API void tailvolt_vary_options_init(struct tailvolt_vary_options *options, size_t size);
/** What the command uses; change fields of a copy. Options that were not begun with it, or by a program compiled
 * with the header of another version, are refused. */
static inline struct tailvolt_vary_options tailvolt_default_vary_options(void) {
  struct tailvolt_vary_options options;
  tailvolt_vary_options_init(&options, sizeof options);
  return options;
}

/** True where a row belongs to a shard: rows are dealt out like cards. */
TAILVOLT_API bool tailvolt_vary_in_shard(const struct tailvolt_vary_options *options, long index);

/** Reads the system with each value alone, all others at their first, and the profile with the first of each, so that
 *  a bad value is found before anything runs.
 *  \param system_path, profile_path  files: what comes through a pipe or standard input is gone after the first reading
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NOT_READABLE, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_vary_check(const char *system_path, const struct tailvolt_setting *settings, int setting_count,
                    const char *profile_path, const struct tailvolt_variation *variation,
                    const struct tailvolt_vary_options *options, struct tailvolt_faults *faults);

/** Runs the rows, each from freshly read files: where one is changed meanwhile, the rows are of both. Recordings and styles that no key
 *  changes are read once. A row that cannot be computed is delivered as such and the others go on. Rows are the same to the last bit for
 *  any number of threads and shards.
 *  \return TAILVOLT_OK, TAILVOLT_STOPPED, TAILVOLT_NOT_WRITTEN, TAILVOLT_NO_MEMORY, TAILVOLT_INTERNAL (options not
 *          defaulted) */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_vary(const char *system_path,
                                                                 const struct tailvolt_setting *settings,
                                                                 int setting_count, const char *profile_path,
                                                                 const struct tailvolt_variation *variation,
                                                                 const struct tailvolt_vary_options *options);

/** What the rows are made from, read by the caller once. */
struct tailvolt_vary_texts {
  const char *system;    /**< of the system file, as tailvolt_system_text() gives it; NULL = read anew for each row */
  const char *profile;   /**< bytes of the profile; NULL = read anew for each row */
  size_t profile_length; /**< how many */
};

/** The same from texts in memory, so that system and profile may be changed meanwhile. Recordings, envelopes and styles are read from
 *  their files even so. The paths name the texts, and are where files named in the system are looked for. */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_vary_texts(const struct tailvolt_vary_texts *texts, const char *system_path,
                                                                       const struct tailvolt_setting *settings, int setting_count,
                                                                       const char *profile_path,
                                                                       const struct tailvolt_variation *variation,
                                                                       const struct tailvolt_vary_options *options);

#ifdef __cplusplus
}
#endif
#endif
