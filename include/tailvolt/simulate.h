/* The time-step simulation. */
#ifndef TAILVOLT_SIMULATE_H
#define TAILVOLT_SIMULATE_H

#include "tailvolt/profile.h"
#include "tailvolt/result.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Receives the record: first the column names once, then rows of numbers (time first). Each cell is
 *  the minimum, mean or maximum over the record interval, as its column's name ends. A return other than
 *  0 ends the run with TAILVOLT_NOT_WRITTEN. */
struct tailvolt_record_sink {
  void *context;
  int (*columns)(void *context, const char *const *names, int count);
  int (*row)(void *context, const double *cells, int count);
};

struct tailvolt_options {
  int cookie;               /**< set by tailvolt_default_options() */
  double time_step_s;       /**< 0 = 1 ms, finer while ripple is active */
  double settle_s;          /**< run before time zero with the music off where the engine runs in the first row; every
                             *   battery's charge is then set back; 60 s */
  bool isothermal;          /**< freeze every temperature at ambient */
  bool blow;                /**< a fuse that opens stays open */
  bool seed_given;
  unsigned long seed;       /**< overrides every programme's seed when given */
  double record_every_s;
  const struct tailvolt_record_sink *record; /**< NULL = none */
  void *progress_context;
  int (*progress)(void *context, double done_frac); /**< nonzero = stop; may be NULL */
};

TAILVOLT_API struct tailvolt_options tailvolt_default_options(void);

/** Whether a run could begin: batteries whose labels can be met, recordings, envelopes and styles that can be read.
 *  \param faults  receives one for each that cannot (added to those already there)
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT or TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_check(const struct tailvolt_system *system,
                                                                  struct tailvolt_faults *faults);

/** Runs a profile on a system.
 *  \param error  on TAILVOLT_SINGULAR, _DIVERGED and such: what and when; at least TAILVOLT_TEXT_MAX
 *                bytes, may be NULL
 *  \return TAILVOLT_OK, or a status of 1xx, 3xx, 4xx; TAILVOLT_BAD_INPUT where a battery's label or a
 *          recording cannot be used (error says why) */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_simulate(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                  const struct tailvolt_options *options, struct tailvolt_result **out, char *error);

#ifdef __cplusplus
}
#endif
#endif
