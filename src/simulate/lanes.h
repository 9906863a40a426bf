/* Many simulations at once, side by side in lanes.
 *
 * A study that wants N results (every combination of `vary`, the vehicles of `parked --spread`, the candidates of a round of
 * `remedy`, the trials of `report`) fills in N jobs and calls tv_lanes_simulate(). Jobs whose systems have one shape (the same
 * parts between the same points: what differs is values) step together, so many to a thread as the processor has lanes;
 * a lane that has finished takes the next job. Each result has the same bits as tailvolt_simulate() gives for its job alone,
 * whatever the width, the company or the number of threads.
 *
 * To be quick: hand in as many jobs at a time as there are (eight or more), with `shared` programmes made once. Profiles and
 * systems must outlive the call and may be shared by jobs. */
#ifndef TV_SIMULATE_LANES_H
#define TV_SIMULATE_LANES_H

#include "simulate/programmes.h"
#include "tailvolt/simulate.h"

struct tv_run;

struct tv_lane_job {
  /* in */
  const struct tailvolt_system *system;
  const struct tailvolt_profile *profile;
  const struct tailvolt_options *options;   /* record and progress are not used */
  /* Asked about once a simulated second, NULL = never: true ends the run there, without a result and with TAILVOLT_STOPPED.
   * Totals of the run so far may be read (simulate/statistics.h). Called by the thread that runs the job. */
  bool (*stop)(void *context, const struct tv_run *run);
  void *context;
  double least_rpm;                         /* rows in which the engine turns slower are lifted to it; 0 = as they are */
  /* out */
  enum tailvolt_status status;
  struct tailvolt_result *result;           /* the caller's, tailvolt_result_free(); NULL unless TAILVOLT_OK */
  char error[TAILVOLT_TEXT_MAX];
};

/* How many run at once. */
struct tv_lanes_how {
  int threads;   /* 0 = as many as the machine has */
  int lanes;     /* 1, 2, 4, 8; 0 = what is quickest on this processor */
  /* Now and then, from the calling thread or another: share that is done; nonzero = stop everything. May be NULL. */
  int (*progress)(void *context, double done_frac);
  void *context;
};

/* Runs all jobs. TAILVOLT_OK where each has its own status; TAILVOLT_NO_MEMORY, or TAILVOLT_STOPPED by `progress`. */
TAILVOLT_CHECKED enum tailvolt_status tv_lanes_simulate(struct tv_lane_job *jobs, int count,
                                                        const struct tv_programmes *shared,
                                                        const struct tv_lanes_how *how);

/* Lanes that are quickest here. */
int tv_lanes_best(void);

#endif
