/* The car as measured: logs of volts and amperes, compared with a simulation (compare) and used to find values of
 * the system file (match). */
#ifndef TAILVOLT_MATCH_H
#define TAILVOLT_MATCH_H

#include <stddef.h>

#include "tailvolt/log.h"
#include "tailvolt/simulate.h"

#ifdef __cplusplus
extern "C" {
#endif

#define TAILVOLT_LOGS_MAX 16

/** What is simulated of a log, and which of its readings count. */
struct tailvolt_compare_options {
  size_t size;                 /**< of this structure where the program was compiled; set by tailvolt_default_compare_options() */
  struct tailvolt_options run; /**< record is not used; time_step_s 0 = from the log's own interval where no music
                                *   is generated, else as in any run */
  const struct tailvolt_profile *profile; /**< what the car did, where the logs do not say; NULL = they do */
  double from_s, to_s;         /**< readings of this part of each log's time count; NAN = from its start, to its end */
  int threads;                 /**< 0 = as many as there are processors */
};

/** Fills `size` bytes with what the command uses; for tailvolt_default_compare_options(), which knows the caller's size. */
TAILVOLT_API void tailvolt_compare_options_init(struct tailvolt_compare_options *options, size_t size);
/** What the command uses; change fields of a copy. Options that were not begun with it, or by a program compiled
 * with the header of another version, are refused. */
static inline struct tailvolt_compare_options tailvolt_default_compare_options(void) {
  struct tailvolt_compare_options options;
  tailvolt_compare_options_init(&options, sizeof options);
  return options;
}

/** One measured column of one log. */
struct tailvolt_compared {
  char name[TAILVOLT_LOG_NAME_MAX]; /**< as its header says, "voltage_v:battery post" */
  bool current;             /**< amperes; else volts */
  long count;               /**< readings compared */
  double bias;              /**< mean of simulated less measured, V or A; NAN where nothing was compared */
  double rms;               /**< root of its mean square */
  double spread;            /**< the same around the bias */
  double worst, worst_s;    /**< the largest one with its sign, and when */
  double measured_mean, simulated_mean; /**< V or A, over the readings compared */
};

/** A stretch of a column where measured and simulated are far apart. */
struct tailvolt_disagreement {
  int log, column;
  double time_s, from_s, to_s; /**< its worst moment; the readings around it that are more than half as far apart, same sign */
  double measured, simulated; /**< V or A, at time_s */
};

/** One log with its readings and what the simulation gives at their times. */
struct tailvolt_compared_log {
  char name[TAILVOLT_TEXT_MAX];
  int column_count;
  struct tailvolt_compared *columns;
  long row_count;
  double *time_s;    /**< [row_count] */
  double *measured;  /**< [row_count][column_count]; NAN = not taken, or does not count */
  double *simulated; /**< likewise; NAN = outside the profile */
};

/** All logs compared. */
struct tailvolt_comparison {
  int log_count;
  struct tailvolt_compared_log *logs;
  int disagreement_count;
  struct tailvolt_disagreement *disagreements; /**< the worst first, relative to each column's own error */
  bool music;                                  /**< some is played */
  bool set_point_open; /**< a computer moves the set point, and a log does not say to what: its low end is simulated */
};

/** Simulates each log and sets its readings beside the result. The simulated value is the mean of the step that begins at the
 *  reading's time, so a current prescribed from then on is in force.
 *  \param logs   1 to TAILVOLT_LOGS_MAX, each read for this system or for one with the same points and parts
 *  \param out    free with tailvolt_comparison_free()
 *  \param error  at least TAILVOLT_TEXT_MAX bytes, may be NULL
 *  \return TAILVOLT_OK; TAILVOLT_BAD_INPUT (a log that does not say what the car did; no reading to compare); or as
 *          tailvolt_simulate() */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_compare(const struct tailvolt_system *system, const struct tailvolt_log *const *logs, int log_count,
                 const struct tailvolt_compare_options *options, struct tailvolt_comparison **out, char *error);
/** Frees it and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_comparison_free(struct tailvolt_comparison *comparison);

#define TAILVOLT_MATCH_KEYS 8

/** The outcome for a key to be fitted. */
enum tailvolt_match_state {
  TAILVOLT_MATCH_FITTED,
  TAILVOLT_MATCH_AT_BOUND, /**< fitted, and driven to the end of its accepted range: no error can be given */
  TAILVOLT_MATCH_UNSEEN,   /**< left as it was: it leaves no trace in these columns */
  TAILVOLT_MATCH_ALIKE     /**< left as it was: these columns cannot tell it from others, see `alike` */
};

/** One key. Texts are as in a system file. */
struct tailvolt_matched {
  char key[96];
  enum tailvolt_match_state state;
  bool assumed;             /**< it was a default */
  double before, value;     /**< in the unit of its measure */
  double error, low, high;  /**< standard error; ends of the interval that holds the true value in 95 of 100; NAN where not fitted */
  char before_text[48], text[48], error_text[48], low_text[48], high_text[48];
  unsigned alike;           /**< bit k: key k cannot be told from this one; also set for the fitted ones of such a set */
  char measure_volts[TAILVOLT_LOG_NAME_MAX], measure_amperes[TAILVOLT_LOG_NAME_MAX]; /**< for ALIKE and UNSEEN: the column of each
                             *   kind that would determine it best; empty where none would */
};

/** The outcome of a fit. */
struct tailvolt_matching {
  int count;
  struct tailvolt_matched keys[TAILVOLT_MATCH_KEYS];
  struct tailvolt_comparison *before, *after; /**< with the values as they were, and as they are now */
  long readings;            /**< number fitted */
  double worth;             /**< number of independent readings they are worth: residuals are not pure noise */
  double alike_s;           /**< longest time that a column's residuals stay correlated; 0 = not at all */
  long spikes;              /**< readings left out: more than six standard deviations of the others away */
  int runs;                 /**< simulations of one log */
  bool settled;             /**< false: the values still moved when the search gave up */
};

/** Fits keys of the system file to logs: nonlinear least squares with a loss that grows linearly beyond 1.345 standard
 *  deviations (Huber), leaving out readings beyond six as long as they are few; each column weighted by its remaining scatter.
 *
 *  Standard errors allow for correlated residuals: the readings of a column count as n/f, f = 1 + 2 (sum of their
 *  autocorrelations up to the first that is not significant). With white noise f is 1.
 *  \param system  read or parsed by the library; it is not changed
 *  \param keys    as --set names them, 1 to TAILVOLT_MATCH_KEYS; each needs a value to start from
 *  \param out     free with tailvolt_matching_free(), its two comparisons with it
 *  \param error   at least TAILVOLT_TEXT_MAX bytes, may be NULL
 *  \return as tailvolt_compare(); TAILVOLT_BAD_INPUT also for something that is not a key, or not a number */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_match(const struct tailvolt_system *system, const struct tailvolt_log *const *logs, int log_count,
               const char *const *keys, int key_count, const struct tailvolt_compare_options *options,
               struct tailvolt_matching **out, char *error);
/** Frees it and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_matching_free(struct tailvolt_matching *matching);

/** The text of the system file with the settings and what was fitted written into it, each value marked `measured`
 *  and followed by a comment with its standard error and `date`; everything else stays as it was.
 *  \param text  of the system file as it was read, and `settings` those that were in force
 *  \param date  such as "2026-11-29"
 *  \param out   free with tailvolt_system_text_free()
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT (a setting that is none), TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_match_write(const char *text, const struct tailvolt_setting *settings, int setting_count,
                     const struct tailvolt_matching *matching, const char *date, char **out);

#ifdef __cplusplus
}
#endif
#endif
