/* Parked: playing one car until something ends it, found by a search.
 *
 * There are two methods. The full one steps through the whole evening. The short one keeps a slow run, in
 * which each amplifier draws its mean current in long steps; at checkpoints the fine run plays one whole
 * cycle of the music from the slow run's state, which gives the mean currents, the heating of each conductor,
 * the lowest voltage and whether anything cuts out. Charge, wells, slow polarization and temperature depend
 * linearly on mean currents, so the slow run carries them as exactly as the means are right; the fast,
 * nonlinear polarization settles again in each window before anything is measured. */
#ifndef TV_STUDY_PARKED_H
#define TV_STUDY_PARKED_H

#include "simulate/run.h"
#include "tailvolt/study.h"

#define TV_PARKED_GRAIN_S 10.0  /* the restart is located to this */
#define TV_PARKED_EMPTY_FRAC (-0.03) /* below the label's empty: small draws take a little more */

/* ---- rows (parked_slow.c) ---- */

/* The rows that are played, the last one without end. */
struct tv_parked_rows {
  int count;
  struct tailvolt_row *row;
  double *load_on; /* of all rows */
  struct tailvolt_amplifier_row *amplifier;
  bool *prescribed; /* [amplifiers] */
};

TAILVOLT_CHECKED enum tailvolt_status tv_parked_rows_make(const struct tailvolt_system *system,
                                                          const struct tailvolt_profile *profile,
                                                          const struct tailvolt_parked_options *options,
                                                          struct tv_parked_rows *rows, char *error);
void tv_parked_rows_free(struct tv_parked_rows *rows);
/* Index of the row in force at a time, and where it ends (HUGE_VAL for the last). */
int tv_parked_row_at(const struct tv_parked_rows *rows, double time_s);
double tv_parked_row_end_s(const struct tv_parked_rows *rows, int index);
/* The row towards which ambient moves; NULL for the last. */
const struct tailvolt_row *tv_parked_row_next(const struct tv_parked_rows *rows, int index);
double tv_parked_ambient_c(const struct tv_parked_rows *rows, double time_s);

/* ---- a start from any state (parked_start.c) ---- */

struct tv_start_trial {
  struct tailvolt_system system; /* shallow copy in which starts are simulated */
  struct tv_run *run;
  struct tailvolt_amplifier_row *quiet; /* [amplifiers] */
};

struct tv_start_outcome {
  double paused_v;   /* posts after the pause */
  double cranking_v; /* lowest at the posts from floor_after_s on */
  double floor_v;    /* it starts where cranking_v is at or above this */
  double margin_v;   /* cranking_v - floor_v */
};

TAILVOLT_CHECKED enum tailvolt_status tv_start_trial_make(const struct tailvolt_system *system,
                                                          const struct tv_run *like,
                                                          const struct tailvolt_options *options,
                                                          struct tv_start_trial *trial, char *error);
void tv_start_trial_free(struct tv_start_trial *trial);
/* Music off, pause, start; `row` is what was in force before. Leaves the run at the end of the start. */
TAILVOLT_CHECKED enum tailvolt_status tv_start_trial_run(struct tv_start_trial *trial, const struct tv_run *from,
                                                         const struct tailvolt_row *row, double time_s,
                                                         const struct tailvolt_parked_options *options,
                                                         struct tv_start_outcome *outcome);

/* Copies all slow states (and the fast ones both runs have) between runs of similar systems. */
void tv_parked_hand_over(const struct tv_run *from, struct tv_run *to);
/* Changes a run's step length. */
void tv_parked_set_step(struct tv_run *run, double step_s);

/* ---- the search ---- */

/* Snapshots of the slow run, the last where the search for the cut-out begins; the full method uses the same room for the fine one. */
enum { TV_AT_STRIDE, TV_AT_PASS, TV_AT_TRIP, TV_AT_CALM, TV_SNAPSHOTS };

/* What a window of the fine run found. Its arrays are one block. */
struct tv_checkpoint {
  double time_s; /* middle of the window, where the means hold */
  int row;
  double *mean_a;          /* [amplifiers] at the terminals */
  double *square_a2;       /* [conductors] mean square current */
  double *battery_a;       /* [batteries] */
  double *opens_lift_v, *closes_lift_v; /* [relays] the voltage that counts above the mean sensed; NAN where in the other position */
  double total_a, power_w; /* out of all batteries */
  double margin_v;         /* smallest distance of a ripple-free voltage from its amplifier's cut-out */
  double sag_v;            /* of that amplifier, below its battery's open-circuit voltage */
  double min_v;
  bool trips, collapses;
  bool settled; /* the means are straight enough from here to the next */
};

/* Where in the music its loudest piece begins and, in long music, a typical one. */
struct tv_parked_pieces {
  const struct tv_programme *programme; /* NULL = not chosen yet */
  double loud_s, typical_s;
};

/* The quick search, for roots and spreads: the fine run plays the music without ripple and without the storage
 * inside amplifiers, in steps of a fiftieth of a second, a twentieth of the work. What ripple adds is
 * measured once, on the car as described, and carried over. */
struct tv_parked_quick {
  double draw_ratio;      /* draw above idle with ripple over that without; 1 */
  double crest_frac;      /* share of the sag by which ripple crests stand above its mean; 0 */
  double cut_out_ratio;   /* cut-out time with ripple over that without; 1 */
  const struct tv_programmes *programmes; /* that may be shared, NULL = none */
  struct tv_parked_pieces pieces;         /* of one that is shared, as its first search chose them */
};

struct tv_parked_times {
  double restart_s, cut_out_s, limit_s; /* NAN = not found */
  int cut_out_amplifier, limit_battery;
  bool limit_by_voltage;
  bool likely; /* the cut-out, from how the margin falls without ripple: quick.cut_out_ratio is still to be applied */
};

/* A relay or converter whose voltage the windows measure. */
struct tv_parked_relay {
  int isolator;
  int first_meter, ends;     /* in the system that the fine run plays */
  double *most_v, *least_v;  /* [slices of a window], one block */
  int room;
  bool held;                 /* closed as the window began */
  bool closed;               /* in the slow run, when last looked at */
  int row, closings;         /* how often it has closed again in this row ... */
  double closed_s;           /* ... until then */
};

struct tv_parked_relays {
  int count;
  struct tv_parked_relay *relay;
  struct tailvolt_isolator *fine, *slow; /* the two runs' own, whose thresholds move */
  struct tailvolt_meter *meter;          /* of the fine run */
};

/* A moment of the discharge, and where its batteries are in the search's arrays. */
struct tv_noted_moment {
  struct tailvolt_parked_moment moment;
  size_t batteries_at;
};

struct tv_parked_search {
  const struct tailvolt_system *system;
  const struct tailvolt_parked_options *options;
  struct tv_parked_rows rows;
  bool *always;                       /* [amplifiers] all true */
  struct tailvolt_system slow_system; /* shallow copy without cut-outs */
  struct tailvolt_system still_system; /* shallow copy for the fine run without what no row uses: alternator, loads */
  struct tv_run *fine, *slow;
  struct tv_start_trial start;
  struct tv_parked_relays relays;
  double begin_s, end_s;               /* profile time */
  double window_s, lead_s;             /* one cycle of the music; played before measuring */
  struct tailvolt_amplifier_row *mean; /* [amplifiers] the slow run's row */
  double *old_c;                       /* [conductors] */
  int count, room;
  struct tv_checkpoint *checkpoint;
  double slow_s;            /* present time of the slow run */
  double start_c;           /* charge of all batteries at the beginning */
  void *kept[TV_SNAPSHOTS]; /* snapshots */
  double kept_s[TV_SNAPSHOTS];
  struct tv_parked_times times;
  struct tv_parked_times by_means; /* before the fine run was followed through their cycles */
  double followed_s;       /* profile time up to which the times were searched for */
  double taken_c, taken_j; /* at the end */
  int passes, checkpoints;
  long long steps;
  double step_s;
  bool is_quick;            /* one pass, cut-out not to the exact block */
  struct tv_parked_quick quick;
  struct tailvolt_system smooth_system; /* shallow copy that the quick search plays */
  double starts_until_s;    /* starts have succeeded up to here */
  bool sampled;             /* long music, represented by two pieces ... */
  struct tv_parked_pieces pieces; /* ... which begin here */
  enum tailvolt_full_reason full_reason;
  double full_reason_s;
  char error[TAILVOLT_TEXT_MAX];
  int moment_count, moment_room;
  struct tv_noted_moment *moment;
  double *moment_soc_pct, *moment_rest_v; /* [moments x batteries] */
  double progress_frac;
};

/* `quick` NULL: thorough. */
TAILVOLT_CHECKED enum tailvolt_status tv_search_make(const struct tailvolt_system *system,
                                                     const struct tailvolt_profile *profile,
                                                     const struct tailvolt_parked_options *options,
                                                     const struct tv_parked_quick *quick,
                                                     struct tv_parked_search *search);
void tv_search_free(struct tv_parked_search *search);
/* Finds the times, by checkpoints or through every step; leaves that run at the end of the playing, returned
 * in *until_s. */
TAILVOLT_CHECKED enum tailvolt_status tv_search_by_checkpoints(struct tv_parked_search *search, double *until_s);
TAILVOLT_CHECKED enum tailvolt_status tv_search_every_step(struct tv_parked_search *search, double *until_s);
/* By checkpoints where they can represent the whole (parked_brief.c); returns what ended it. */
TAILVOLT_CHECKED enum tailvolt_status tv_search_find(struct tv_parked_search *search, double *until_s);
static inline enum tailvolt_parked_end tv_ended_by(double until_s, double restart_s, double cut_out_s, double limit_s) {
  if (restart_s <= until_s) return TAILVOLT_ENDS_BY_RESTART;
  if (cut_out_s <= until_s) return TAILVOLT_ENDS_BY_CUT_OUT;
  return limit_s <= until_s ? TAILVOLT_ENDS_BY_REST_LIMIT : TAILVOLT_ENDS_BY_TIME;
}
static inline enum tailvolt_parked_end tv_search_ended_by(const struct tv_parked_search *search, double until_s) {
  return tv_ended_by(until_s, search->times.restart_s, search->times.cut_out_s, search->times.limit_s);
}
/* The run left at the end. */
struct tv_run *tv_search_end_run(struct tv_parked_search *search);
/* Whether restart and limit are known, so that the search can stop. */
bool tv_search_found_start_and_limit(const struct tv_parked_search *search);
/* The charge at which a battery ends the playing; 0 = none. Whether any battery or voltage has a limit. */
double tv_parked_least_frac(const struct tailvolt_parked_options *options, const struct tailvolt_battery *battery);
bool tv_parked_has_limit(const struct tailvolt_parked_options *options);
/* How far a battery is above its limit, and which limit: 0 or less = reached. */
double tv_search_above_limit(const struct tv_parked_search *search, const struct tv_run *run, int *battery,
                             bool *by_voltage);
/* Tries a start and notes the moment for the table. */
TAILVOLT_CHECKED enum tailvolt_status tv_search_note_moment(struct tv_parked_search *search, const struct tv_run *run,
                                                            double time_s, double mean_a, double min_v,
                                                            double *margin_v);
/* TAILVOLT_STOPPED where the caller asks to stop. */
TAILVOLT_CHECKED enum tailvolt_status tv_search_progress(struct tv_parked_search *search, double done_frac);
/* Charge of all batteries together; one drawn below empty counts as empty. */
double tv_search_charge_left_c(const struct tv_run *run);
void tv_search_save(struct tv_parked_search *search, int snapshot);
void tv_search_restore(struct tv_parked_search *search, int snapshot);

/* ---- windows of the fine run (parked_fine.c) ---- */

/* Puts the fine run where the slow run is, its relays free to switch, and plays within a row. */
TAILVOLT_CHECKED enum tailvolt_status tv_search_sync_fine(struct tv_parked_search *search, int row);
TAILVOLT_CHECKED enum tailvolt_status tv_search_play(struct tv_parked_search *search, int row, double from_s, double to_s);
/* Plays the fine run from the slow run's state and measures one cycle starting at `start_s`. */
TAILVOLT_CHECKED enum tailvolt_status tv_search_play_window(struct tv_parked_search *search, int row, double start_s,
                                                            struct tv_checkpoint *checkpoint);
/* Plays a piece of the music from the slow run's state, as if it were `from_s` in it, and notes what the fine run
 * shows. */
#define TV_LOUD_PIECE_S 2.0 /* the loudest second and one after it: its polarization lags */
TAILVOLT_CHECKED enum tailvolt_status tv_search_play_piece(struct tv_parked_search *search, int row, double from_s,
                                                           double length_s, struct tv_checkpoint *checkpoint);
void tv_search_measure(const struct tv_parked_search *search, double length_s, struct tv_checkpoint *checkpoint);
/* Start of a window within a row that can be played from `time_s` on. */
double tv_search_window_s(const struct tv_parked_search *search, int row, double time_s);
/* First moment at which an amplifier cuts out, from the slow run's state until `to_s` by the fine run; NAN =
 * none. */
TAILVOLT_CHECKED enum tailvolt_status tv_search_scan(struct tv_parked_search *search, double to_s, double *trip_s,
                                                     int *amplifier);
/* Switches the voltage comparators of the fine run's amplifiers; a collapsing supply still cuts out. */
void tv_search_comparators(struct tv_parked_search *search, bool on);
/* Cut-outs of all amplifiers since the statistics were cleared. */
int tv_parked_cut_outs(const struct tv_run *run);
/* Appends a checkpoint to be filled; it counts only once inserted. */
TAILVOLT_CHECKED enum tailvolt_status tv_search_add_checkpoint(struct tv_parked_search *search,
                                                               struct tv_checkpoint **out);
/* Moves the one just filled to its place in time; returns its index. */
int tv_search_insert_checkpoint(struct tv_parked_search *search);
/* Where the slow run was when the window was played. */
double tv_search_slow_time_s(const struct tv_parked_search *search, int checkpoint);

/* The first checkpoint that cuts out, -1 = none. The time of the first cut-out goes into the times (parked_cut_out.c). */
int tv_search_first_trip(const struct tv_parked_search *search);
TAILVOLT_CHECKED enum tailvolt_status tv_search_cut_out(struct tv_parked_search *search);

/* ---- times within a cycle (parked_cycle.c) ---- */

/* Moves limit and restart from where the slow run has them to where the fine run has them in that cycle of the music. */
TAILVOLT_CHECKED enum tailvolt_status tv_search_follow_cycles(struct tv_parked_search *search);
/* When the slow run has the state that the fine run has at the end of the playing. */
double tv_search_by_means_s(const struct tv_parked_search *search, double until_s);

/* ---- relays (parked_relay.c) ---- */

/* `fine` is the system that the fine run plays; it gets relays and meters of its own, and relays for the slow run's are made. */
TAILVOLT_CHECKED enum tailvolt_status tv_relays_make(struct tv_parked_search *search, struct tailvolt_system *fine);
void tv_relays_free(struct tv_parked_relays *relays);
/* Holds the fine run's relays as they are, or lets them switch. */
void tv_relays_hold(struct tv_parked_search *search, bool hold);
/* Advances the fine run through what is measured, noting what relays sense. */
TAILVOLT_CHECKED enum tailvolt_status tv_relays_play(struct tv_parked_search *search, const struct tailvolt_row *row,
                                                     const struct tailvolt_row *next, double from_s, double to_s,
                                                     struct tv_checkpoint *checkpoint);
/* Moves the slow run's thresholds by what two windows measured; NULL: as they are on the relay. */
void tv_relays_lift(struct tv_parked_search *search, const struct tv_checkpoint *low, const struct tv_checkpoint *high, double part);

/* Looks at the slow run's relays: one that closes again and again within a row needs every step. */
void tv_relays_watch(struct tv_parked_search *search, int row);
/* The slow run stands where it was before: a relay that had opened since is closed without having closed. */
void tv_relays_went_back(struct tv_parked_search *search);

/* ---- the slow advance (parked_slow.c) ---- */

TAILVOLT_CHECKED enum tailvolt_status tv_search_start_slow(struct tv_parked_search *search);
/* Advances the slow run to a time, using the checkpoints' means. */
TAILVOLT_CHECKED enum tailvolt_status tv_search_advance_slow(struct tv_parked_search *search, double to_s);

/* ---- recharging (parked_start.c) ---- */

/* What puts the charge back: the engine at idle, the elementary urban cycle over and over, the engine at motorway
 * speed; or, where a converter charges, the car being on. */
enum tv_back { TV_BACK_IDLE, TV_BACK_TOWN, TV_BACK_MOTORWAY, TV_BACK_READY };

/* From the run's state until every battery has its charge goal_c[] back, and until each of them first has; NAN = not within a day. */
TAILVOLT_CHECKED enum tailvolt_status tv_drive_back(const struct tv_parked_search *search, const struct tv_run *from,
                                                    const double *goal_c, enum tv_back use, double *seconds, double *each_s);
/* Left standing, key off, until it no longer starts; NAN = more than half a year, or not even now. `from` NULL:
 * rested, with the file's charge. */
TAILVOLT_CHECKED enum tailvolt_status tv_stand(struct tv_parked_search *search, const struct tv_run *from,
                                               double *seconds);

/* ---- whole studies (parked.c) ---- */

/* The part of a quick search that many similar cars share. Free with tv_programmes_free(). */
TAILVOLT_CHECKED enum tailvolt_status tv_parked_share(const struct tailvolt_system *system,
                                                      const struct tailvolt_options *options,
                                                      struct tv_programmes **out, char *error);

/* What ripple and storage add, measured on a car as described; `quick` holds the shared programmes or NULL. `cut_out_s` from
 * the thorough search, NAN = not known. */
TAILVOLT_CHECKED enum tailvolt_status tv_parked_calibrate(const struct tailvolt_system *system,
                                                          const struct tailvolt_profile *profile,
                                                          const struct tailvolt_parked_options *options,
                                                          double cut_out_s, struct tv_parked_quick *quick,
                                                          char *error);
/* Its last part, `quick` being measured otherwise. */
TAILVOLT_CHECKED enum tailvolt_status tv_parked_fit_cut_out(const struct tailvolt_system *system,
                                                            const struct tailvolt_profile *profile,
                                                            const struct tailvolt_parked_options *options,
                                                            double cut_out_s, struct tv_parked_quick *quick);

/* The playing time alone, located roughly: for roots and spreads. */
struct tv_parked_brief {
  double until_s, restart_s, cut_out_s, limit_s;
  enum tailvolt_parked_end ends_by;
  bool likely; /* as in the times */
  double followed_s; /* what is NAN did not happen until then */
};
/* Applies a cut-out ratio. */
void tv_parked_brief_scale(struct tv_parked_brief *brief, double cut_out_ratio, double limit_s);
/* Calibrated on the car itself. */
TAILVOLT_CHECKED enum tailvolt_status tv_parked_brief(const struct tailvolt_system *system,
                                                      const struct tailvolt_profile *profile,
                                                      const struct tailvolt_parked_options *options,
                                                      struct tv_parked_brief *brief, char *error);
/* `quick` NULL: thorough. */
TAILVOLT_CHECKED enum tailvolt_status tv_parked_brief_with(const struct tailvolt_system *system,
                                                           const struct tailvolt_profile *profile,
                                                           const struct tailvolt_parked_options *options,
                                                           const struct tv_parked_quick *quick,
                                                           struct tv_parked_brief *brief, char *error);

#endif
