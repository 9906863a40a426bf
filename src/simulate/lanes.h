/* Many simulations at once, side by side in lanes.
 *
 * A study that wants N results (every combination of `vary`, the vehicles of `parked --spread`, the candidates of a round of
 * `remedy`, the trials of `report`) fills in N jobs and calls tv_lanes_simulate(). Jobs whose systems have one shape (the same
 * parts between the same points, only values differ) step together, as many to a thread as the processor has lanes; a finished
 * lane takes the next job. Each result has the bits that tailvolt_simulate() gives for its job alone, whatever the width, the
 * neighbours or the number of threads.
 *
 * For speed, hand in as many jobs at once as possible (eight or more), with `shared` programmes made once. Profiles and
 * systems must outlive the call and may be shared by jobs. */
#ifndef TV_SIMULATE_LANES_H
#define TV_SIMULATE_LANES_H

#include "simulate/hot.h"
#include "simulate/programmes.h"
#include "tailvolt/simulate.h"

struct tv_run;
struct tv_labels;

struct tv_lane_job {
  /* in */
  const struct tailvolt_system *system;
  const struct tailvolt_profile *profile;
  const struct tailvolt_options *options;   /* record and progress are not used */
  /* Called once per simulated second, NULL = never: true ends the run there, without a result and with TAILVOLT_STOPPED.
   * Totals of the run so far may be read (simulate/statistics.h). Called by the thread that runs the job. */
  bool (*stop)(void *context, const struct tv_run *run);
  void *context;
  double least_rpm;                         /* rows with a slower engine are lifted to it; 0 = unchanged */
  double drift_frac;                        /* of a resistance, until it goes into the wiring again; 0 = as in every run */
  const double *missed_frac;                /* [missed_count] shares of the playing time beside that of the targets */
  int missed_count;
  /* out */
  double *quantile_v;                       /* [missed_count x amplifiers x phases] the voltage there; the caller's */
  enum tailvolt_status status;
  struct tailvolt_result *result;           /* the caller's, free with tailvolt_result_free(); NULL unless
                                             * TAILVOLT_OK */
  char error[TAILVOLT_TEXT_MAX];
};

/* How many run at once. */
struct tv_lanes_how {
  int threads;   /* 0 = as many as the machine has */
  int lanes;     /* 1, 2, 4, 8; 0 = whatever is fastest on this processor */
  enum tv_vectors vectors; /* 0 = likewise */
  struct tv_labels *labels; /* solved ones that several calls share (parts/battery_labels.h); NULL = those of this call alone */
  /* Called now and then, from the calling thread or another, with the share done; nonzero = stop everything. May be
   * NULL. */
  int (*progress)(void *context, double done_frac);
  void *context;
};

/* Runs all jobs. TAILVOLT_OK where each has its own status; TAILVOLT_STOPPED by `progress`; TAILVOLT_NO_MEMORY, also where one job
 * alone found none: there are no results then. */
TAILVOLT_CHECKED enum tailvolt_status tv_lanes_simulate(struct tv_lane_job *jobs, int count,
                                                        const struct tv_programmes *shared,
                                                        const struct tv_lanes_how *how);

/* The fastest number of lanes here. */
int tv_lanes_best(void);

#endif
