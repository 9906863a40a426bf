/* The time-step simulation. */
#ifndef TAILVOLT_SIMULATE_H
#define TAILVOLT_SIMULATE_H

#include <stddef.h>

#include "tailvolt/profile.h"
#include "tailvolt/result.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Receives the record: first the column names once, then rows of numbers (time first). Each cell is the
 *  minimum, mean or maximum over the record interval, as its column's name ends; NAN = no value. A nonzero return ends the
 *  run with TAILVOLT_NOT_WRITTEN. Names and cells are the library's until the call returns. */
struct tailvolt_record_sink {
  void *context;
  int (*columns)(void *context, const char *const *names, int count);
  int (*row)(void *context, const double *cells, int count);
};

/** How a run is made. */
struct tailvolt_options {
  size_t size;              /**< of this structure where the program was compiled; set by tailvolt_default_options() */
  double time_step_s;       /**< 0 = 1 ms, finer while ripple is active; else above 0, the same throughout */
  double settle_s;          /**< settling time before time zero with the music off, where the engine runs in the first
                             *   row; every battery's charge is then set back; 60 s */
  double settle_step_s;     /**< step while it settles; 0 = 10 ms, or time_step_s where that is longer */
  bool isothermal;          /**< freeze every temperature at ambient */
  bool blow;                /**< a fuse that opens stays open */
  bool seed_given;
  unsigned long seed;       /**< overrides every programme's seed when given */
  double record_every_s;    /**< interval of the record; 10 ms, also for 0 or less */
  const struct tailvolt_record_sink *record; /**< NULL = none */
  void *progress_context;
  int (*progress)(void *context, double done_frac); /**< nonzero = stop; may be NULL */
  double road_balance_a;    /**< tailvolt_charge_balance_a() on the road, from another profile: with it a profile of idling
                             *   alone is also judged by the mix of idle and road; NAN = not known */
};

/** Fills `size` bytes with what the command uses; for tailvolt_default_options(), which knows the caller's size. */
TAILVOLT_API void tailvolt_options_init(struct tailvolt_options *options, size_t size);
/** What the command uses; change fields of a copy. Options that were not begun with it, or by a program compiled
 * with the header of another version, are refused. */
static inline struct tailvolt_options tailvolt_default_options(void) {
  struct tailvolt_options options;
  tailvolt_options_init(&options, sizeof options);
  return options;
}

/** Mean current into the batteries in a phase, as the verdict counts it: what they take; where they are as good as full, what the
 *  alternator has to spare; charging by computer, the value at the high end. NAN where the profile has no such phase. */
TAILVOLT_API double tailvolt_charge_balance_a(const struct tailvolt_result *result, enum tailvolt_phase phase);

/** Whether a run could begin: battery labels that can be met, recordings, envelopes and styles that can be read.
 *  \param faults  receives one for each that cannot (added to any already there)
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT or TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_check(const struct tailvolt_system *system,
                                                                  struct tailvolt_faults *faults);

/** Runs a profile on a system.
 *  \param profile  read for this system, or for one with the same loads, amplifiers and programmes
 *  \param out      free with tailvolt_result_free()
 *  \param error  on TAILVOLT_SINGULAR, _DIVERGED and the like: what and when; at least TAILVOLT_TEXT_MAX
 *                bytes, may be NULL
 *  \return TAILVOLT_OK, or a status of 1xx, 3xx, 4xx; TAILVOLT_BAD_INPUT where a battery's label or a
 *          recording cannot be used (error says why) */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_simulate(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                  const struct tailvolt_options *options, struct tailvolt_result **out, char *error);

/** A simulation that the host program drives itself, step by step or in stretches: for a live picture, a controller,
 *  a game. One thread at a time; several runs may share a system. examples/embed/ is a complete program. */
struct tailvolt_run; /* opaque */

/** Opens a run on a system, which must outlive it, as must the record's sink; options and `prescribed` are copied.
 *  \param prescribed  [amplifier_count] true: the rows give this amplifier's draw (supply_w or supply_a), taken at its
 *                     terminals unchanged; NULL = none
 *  \param options     progress is not used
 *  \param out         free with tailvolt_run_close()
 *  \param error       at least TAILVOLT_TEXT_MAX bytes, may be NULL
 *  \return TAILVOLT_OK, _NO_MEMORY, _BAD_INPUT (error names the label, recording or wiring), _SINGULAR */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_run_open(const struct tailvolt_system *system, const bool *prescribed, const struct tailvolt_options *options,
                  struct tailvolt_run **out, char *error);
/** Frees the run; NULL is fine. */
TAILVOLT_API void tailvolt_run_close(struct tailvolt_run *run);

/** Begins at a row's time, as every simulation does: settled for options.settle_s with the music off where the engine runs,
 *  else rested. Call it once before the first tailvolt_run_advance(), or again to start over.
 *  \param row  not kept
 *  \return TAILVOLT_OK, _NO_MEMORY, _SINGULAR, _DIVERGED, _NOT_WRITTEN (the record): tailvolt_run_error() says why, and the run has not
 *          begun */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_run_begin(struct tailvolt_run *run, const struct tailvolt_row *row);

/** Advances to the last step that ends by to_s, with `row` in force.
 *
 *  Steps belong to the row, not the call: however a row is sliced into calls, the bits are the same. A row with another time_s than
 *  in the call before is a new one and takes effect where the run is, so a row may be changed midway: give the changed one the time
 *  from which it holds.
 *  \param row   not kept; the same one again, or a copy, while it is in force
 *  \param next  the row that follows, towards which engine speed and ambient run in a straight line and at whose time the row ends;
 *               NULL = the row holds indefinitely
 *  \param to_s  one that lies behind the run's present time moves nothing
 *  \return TAILVOLT_OK; TAILVOLT_BAD_INPUT: the run has not begun, or `next` is not later than `row`; or as tailvolt_run_begin(): the run
 *          then stands where it is and has to be begun again */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_run_advance(struct tailvolt_run *run, const struct tailvolt_row *row, const struct tailvolt_row *next, double to_s);

/** The run's present time. */
TAILVOLT_API double tailvolt_run_time_s(const struct tailvolt_run *run);
/** What went wrong, naming part and time where known; "" = nothing. The run's own memory: it holds until the next call that is given the
 *  run without `const`. */
TAILVOLT_API const char *tailvolt_run_error(const struct tailvolt_run *run);

/** Voltage and current of a part: means over the last step. Indices are those of the system's arrays; one out of range is not
 *  caught. Before tailvolt_run_begin() there is nothing to read. */
struct tailvolt_reading { double voltage_v, current_a; };
/** At its terminals, current into it. */
TAILVOLT_API struct tailvolt_reading tailvolt_run_amplifier(const struct tailvolt_run *run, int index);
/** At its posts, current out of it. */
TAILVOLT_API struct tailvolt_reading tailvolt_run_battery(const struct tailvolt_run *run, int index);
/** State of charge, 0 to 1. */
TAILVOLT_API double tailvolt_run_soc_frac(const struct tailvolt_run *run, int index);
/** Current out of it; zeros where there is none. */
TAILVOLT_API struct tailvolt_reading tailvolt_run_alternator(const struct tailvolt_run *run);
/** What meter `index` shows, its positive against its negative. */
TAILVOLT_API double tailvolt_run_meter_v(const struct tailvolt_run *run, int index);
/** Voltage drop along it and current, both from its `from` to its `to`. */
TAILVOLT_API struct tailvolt_reading tailvolt_run_conductor(const struct tailvolt_run *run, int index);

/** A state in tailvolt_run_state_size() bytes of the caller's. Saving, running on, restoring and running again gives the
 *  same bits as running once. It is valid for the run that saved it and for others opened alike, once they have begun. What has been
 *  gathered for the result is not included. Plain bytes without pointers; the size does not change while a run is open. */
TAILVOLT_API size_t tailvolt_run_state_size(const struct tailvolt_run *run);
TAILVOLT_API void tailvolt_run_save(struct tailvolt_run *run, void *state);
TAILVOLT_API void tailvolt_run_restore(struct tailvolt_run *run, const void *state);

/** Everything gathered since tailvolt_run_begin(). Ends the run: begin it again to continue.
 *  \param name  what the result calls its profile
 *  \param out   free with tailvolt_result_free(); the run may be closed before
 *  \return TAILVOLT_OK, TAILVOLT_NO_MEMORY, TAILVOLT_NOT_WRITTEN (the record's last row) */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_run_result(struct tailvolt_run *run, const char *name, struct tailvolt_result **out);

#ifdef __cplusplus
}
#endif
#endif
