/* Simulating a log: what its meters would have shown. */
#ifndef TV_STUDY_LOG_RUN_H
#define TV_STUDY_LOG_RUN_H

#include "input/log.h"
#include "simulate/programmes.h"
#include "tailvolt/match.h"

/* A copy of the system in which every point the logs name has a meter to the battery's negative post. */
TAILVOLT_CHECKED enum tailvolt_status tv_log_system(const struct tailvolt_system *system, const struct tailvolt_log *const *logs,
                                                    int count, struct tailvolt_system **out, char *error);

struct tv_log_job {
  /* in */
  const struct tailvolt_system *system; /* from tv_log_system(); its values may be changed */
  const struct tailvolt_log *log;
  const struct tailvolt_profile *profile;
  const struct tailvolt_options *options; /* record and progress are not used; time_step_s must be set */
  const struct tv_programmes *shared; /* a study's; `like`: a run whose batteries may be carried over; may be NULL */
  const struct tailvolt_run *like;
  double to_s;         /* nothing after it is needed */
  double *simulated;   /* [row_count][column_count], filled; NAN = outside the profile */
  /* out */
  enum tailvolt_status status;
  char error[TAILVOLT_TEXT_MAX];
};

/* Runs all jobs side by side. TAILVOLT_OK when each has its own status; TAILVOLT_STOPPED by `progress` (may be NULL). */
TAILVOLT_CHECKED enum tailvolt_status tv_log_simulate(struct tv_log_job *jobs, int count, int threads,
                                                      int (*progress)(void *context, double done_frac), void *context);

/* Step size for a log without music: a tenth of its readings' interval, 1 ms to 1 s. */
double tv_log_step_s(const struct tailvolt_log *log);

#endif
