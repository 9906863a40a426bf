/* What compare and match share. */
#ifndef TV_STUDY_COMPARE_H
#define TV_STUDY_COMPARE_H

#include "study/log_run.h"

/* Refuses impossible options and logs before anything runs. */
TAILVOLT_CHECKED enum tailvolt_status tv_compare_check(const struct tailvolt_log *const *logs, int log_count,
                                                       const struct tailvolt_compare_options *options, char *error);
/* Whether music may be played along this log. */
bool tv_compare_plays(const struct tailvolt_log *log, const struct tailvolt_compare_options *options);
/* The options of its run. */
struct tailvolt_options tv_compare_run_options(const struct tailvolt_log *log, const struct tailvolt_compare_options *options);
/* True where readings of that time count. */
bool tv_compare_counts(const struct tailvolt_compare_options *options, double time_s);

/* A comparison with the measured values filled in; the caller adds the simulated ones, then the figures. */
TAILVOLT_CHECKED enum tailvolt_status tv_comparison_begin(const struct tailvolt_log *const *logs, int log_count,
                                                          const struct tailvolt_compare_options *options,
                                                          struct tailvolt_comparison **out);
TAILVOLT_CHECKED enum tailvolt_status tv_comparison_end(struct tailvolt_comparison *comparison, char *error);

#endif
