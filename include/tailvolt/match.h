/* The car as measured: logs of volts and amperes, compared with a simulation (compare) and used to find values of
 * the system file (match). */
#ifndef TAILVOLT_MATCH_H
#define TAILVOLT_MATCH_H

#include "tailvolt/log.h"
#include "tailvolt/simulate.h"

#ifdef __cplusplus
extern "C" {
#endif

#define TAILVOLT_LOGS_MAX 16

/** What is simulated of a log, and which of its readings count. */
struct tailvolt_compare_options {
  int cookie;                  /**< set by tailvolt_default_compare_options() */
  struct tailvolt_options run; /**< record is not used; time_step_s 0 = from the log's own interval where no music
                                *   is generated, else as in any run */
  const struct tailvolt_profile *profile; /**< what the car did, where the logs do not say; NULL = they do */
  double from_s, to_s;         /**< readings of this part of each log's time count; NAN = from its start, to its end */
  int threads;                 /**< 0 = as many as there are processors */
};

TAILVOLT_API struct tailvolt_compare_options tailvolt_default_compare_options(void);

/** One measured column of one log. */
struct tailvolt_compared {
  char name[TAILVOLT_LOG_NAME_MAX]; /**< as its header says, "voltage_v:battery post" */
  bool current;             /**< amperes; else volts */
  long count;               /**< readings compared */
  double bias;              /**< mean of simulated less measured, V or A; NAN where nothing was compared */
  double rms;               /**< root of its mean square */
  double spread;            /**< the same around the bias */
  double worst, worst_s;    /**< the largest one with its sign, and when */
  double measured_mean, simulated_mean;
};

/** A stretch of a column where measured and simulated are far apart. */
struct tailvolt_disagreement {
  int log, column;
  double time_s, from_s, to_s; /**< its worst moment; the readings around it that are more than half as far apart, same sign */
  double measured, simulated;
};

struct tailvolt_compared_log {
  char name[TAILVOLT_TEXT_MAX];
  int column_count;
  struct tailvolt_compared *columns;
  long row_count;
  double *time_s;    /**< [row_count] */
  double *measured;  /**< [row_count][column_count]; NAN = not taken, or does not count */
  double *simulated; /**< likewise; NAN = outside the profile */
};

struct tailvolt_comparison {
  int log_count;
  struct tailvolt_compared_log *logs;
  int disagreement_count;
  struct tailvolt_disagreement *disagreements; /**< the worst first, relative to each column's own error */
  bool music;                                  /**< some is played */
};

/** Simulates each log and sets its readings beside the result. The simulated value is the mean of the step that begins at the
 *  reading's time, so a current prescribed from then on is in force.
 *  \param error  at least TAILVOLT_TEXT_MAX bytes, may be NULL
 *  \return TAILVOLT_OK; TAILVOLT_BAD_INPUT (a log that does not say what the car did; no reading to compare); or as
 *          tailvolt_simulate() */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_compare(const struct tailvolt_system *system, const struct tailvolt_log *const *logs, int log_count,
                 const struct tailvolt_compare_options *options, struct tailvolt_comparison **out, char *error);
TAILVOLT_API void tailvolt_comparison_free(struct tailvolt_comparison *comparison);

#ifdef __cplusplus
}
#endif
#endif
