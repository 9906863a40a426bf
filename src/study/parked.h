/* Parked: one vehicle played until the end.
 *
 * Two ways lead down. The full way steps through the whole evening. The short way keeps a slow run in which
 * each amplifier takes its mean current in long steps, and at checkpoints lets the fine run play one whole
 * cycle of the music from the slow run's state: that gives the mean currents, the heating of each conductor,
 * the lowest voltage and whether anything cuts out. Charge, well, slow polarization and temperature depend
 * on mean currents linearly, so the slow run carries them exactly as far as the means are right; the fast,
 * nonlinear polarization is settled anew in each window before anything is measured. */
#ifndef TV_STUDY_PARKED_H
#define TV_STUDY_PARKED_H

#include "simulate/run.h"
#include "tailvolt/study.h"

#define TV_PARKED_GRAIN_S 10.0 /* the restart is located this well */

/* The rows that are played, the last one for ever. */
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
/* Index of the row in force at a time; where it ends (HUGE_VAL for the last). */
int tv_parked_row_at(const struct tv_parked_rows *rows, double time_s);
double tv_parked_row_end_s(const struct tv_parked_rows *rows, int index);
/* The row that gives where ambient goes; NULL for the last. */
const struct tailvolt_row *tv_parked_row_next(const struct tv_parked_rows *rows, int index);
double tv_parked_ambient_c(const struct tv_parked_rows *rows, double time_s);

/* ---- a start from any state ---- */

struct tv_starter {
  struct tailvolt_system system; /* shallow copy in which starts are simulated */
  struct tv_run *run;
  struct tailvolt_amplifier_row *quiet; /* [amplifiers] */
};

struct tv_start_seen {
  double paused_v;   /* posts after the pause */
  double cranking_v; /* lowest at the posts from floor_after_s on */
  double charge_c;   /* of the battery that starts, after the pause */
};

TAILVOLT_CHECKED enum tailvolt_status tv_starter_make(const struct tailvolt_system *system,
                                                      const struct tailvolt_options *options,
                                                      struct tv_starter *starter, char *error);
void tv_starter_free(struct tv_starter *starter);
/* Music off, pause, start with these currents; `row` is what was in force. The run is left at the end of the
 * pause where `only_pause`, else at the end of the start. */
TAILVOLT_CHECKED enum tailvolt_status tv_starter_try(struct tv_starter *starter, const struct tv_run *from,
                                                     const struct tailvolt_row *row, double time_s,
                                                     const struct tailvolt_parked_options *options,
                                                     bool only_pause, struct tv_start_seen *seen);

/* Copies all slow states (and the fast ones that both runs have) between runs of like systems. */
void tv_parked_hand_over(const struct tv_run *from, struct tv_run *to);
/* Voltage comparators of a run's amplifiers; a supply that collapses still cuts out. */
void tv_parked_comparators(struct tv_run *run, bool on);
/* Another step length for a run. */
void tv_parked_set_step(struct tv_run *run, double step_s);

/* ---- one vehicle ---- */

/* Snapshots of the slow run. */
enum { TV_AT_STRIDE, TV_AT_PASS, TV_AT_TRIP, TV_SNAPSHOTS };

/* What a window of the fine run found. Arrays lie in one block. */
struct tv_checkpoint {
  double time_s; /* middle of the window: the means hold there */
  int row;
  double *mean_a;          /* [amplifiers] at the terminals */
  double *square_a2;       /* [conductors] mean square current */
  double *battery_a;       /* [batteries] */
  double total_a, power_w; /* out of all batteries */
  double margin_v;         /* least distance of a ripple-free voltage from its amplifier's cut-out */
  double min_v;
  bool trips, collapses;
  bool settled; /* the means run straight enough from here to the next */
};

struct tv_parked_times {
  double restart_s, cut_out_s, limit_s; /* NAN = not seen */
  int cut_out_amplifier, limit_battery;
  bool limit_by_voltage;
};

struct tv_vehicle {
  const struct tailvolt_system *system;
  const struct tailvolt_parked_options *options;
  struct tv_parked_rows rows;
  bool *always;                       /* [amplifiers] all true */
  struct tailvolt_system slow_system; /* shallow copy without cut-outs */
  struct tv_run *fine, *slow;
  struct tv_starter starter;
  double begin_s, end_s;               /* profile time */
  double window_s, lead_s;             /* one cycle of the music; played before it is measured */
  struct tailvolt_amplifier_row *mean; /* [amplifiers] the slow run's row */
  double *old_c;                       /* [conductors] */
  int count, room;
  struct tv_checkpoint *checkpoint;
  double slow_s;            /* where the slow run stands */
  double start_c;           /* charge of all batteries at the beginning */
  void *kept[TV_SNAPSHOTS]; /* snapshots */
  double kept_s[TV_SNAPSHOTS];
  struct tv_parked_times times;
  double followed_s;        /* profile time up to which the times were looked for */
  double taken_c, taken_j; /* at the end */
  int passes, checkpoints;
  long long steps;
  double step_s;
  bool quick;               /* for roots and spreads: one pass, the cut-out not to the block */
  bool sampled;             /* long music, two pieces of which stand for the whole ... */
  double typical_s, loud_s; /* ... and where in it they begin */
  char why_full[TAILVOLT_TEXT_MAX];
  char error[TAILVOLT_TEXT_MAX];
  int moment_count, moment_room;
  struct tailvolt_parked_moment *moment;
  double told_s;
};

TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_make(const struct tailvolt_system *system,
                                                      const struct tailvolt_profile *profile,
                                                      const struct tailvolt_parked_options *options,
                                                      bool quick, struct tv_vehicle *vehicle);
void tv_vehicle_free(struct tv_vehicle *vehicle);
/* Finds the times; the run of the way taken is left at the end of the playing, which is returned in
 * *until_s. */
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_play(struct tv_vehicle *vehicle, double *until_s);
/* The same, by the full way. */
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_play_full(struct tv_vehicle *vehicle, double *until_s);
/* The run that stands at the end. */
struct tv_run *tv_vehicle_run(struct tv_vehicle *vehicle);

/* Plays the fine run from the slow run's state and measures one cycle about `time_s` or later. */
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_probe(struct tv_vehicle *vehicle, int row, double start_s,
                                                       struct tv_checkpoint *checkpoint);
/* Long music: two pieces of it stand for the whole, roughly. */
void tv_vehicle_sample(struct tv_vehicle *vehicle, int programme);
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_probe_sampled(struct tv_vehicle *vehicle, int row,
                                                               double start_s,
                                                               struct tv_checkpoint *checkpoint);
/* Puts the fine run where the slow one stands. */
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_take_over(struct tv_vehicle *vehicle, int row);
/* From the fine run's statistics, which cover so many seconds. */
void tv_checkpoint_measure(const struct tv_vehicle *vehicle, double length_s,
                           struct tv_checkpoint *checkpoint);
/* Where a window of a row begins that can be played from `time_s` on. */
double tv_vehicle_window_s(const struct tv_vehicle *vehicle, int row, double time_s);
/* First moment at which an amplifier cuts out, by the fine run from the slow run's state until `to_s`; NAN =
 * none. */
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_scan(struct tv_vehicle *vehicle, double to_s, double *trip_s,
                                                      int *amplifier);
TAILVOLT_CHECKED enum tailvolt_status tv_checkpoint_make(const struct tailvolt_system *system,
                                                         struct tv_checkpoint *checkpoint);
void tv_checkpoint_free(struct tv_checkpoint *checkpoint);

/* The end of the checkpoints grows by one, which is to be filled; it counts only once settled in. */
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_add_checkpoint(struct tv_vehicle *vehicle,
                                                                struct tv_checkpoint **out);
/* The one just filled at the end goes to its place in time; returns that. */
int tv_vehicle_settle_in(struct tv_vehicle *vehicle);
/* Where the slow run stood when the window was played. */
double tv_vehicle_stood_s(const struct tv_vehicle *vehicle, int checkpoint);
void tv_vehicle_keep(struct tv_vehicle *vehicle, int snapshot);
void tv_vehicle_go_back(struct tv_vehicle *vehicle, int snapshot);
int tv_vehicle_first_trip(const struct tv_vehicle *vehicle);
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_find_cut_out(struct tv_vehicle *vehicle);

/* Carries the slow run to a time, with the means of the checkpoints. */
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_glide(struct tv_vehicle *vehicle, double to_s);
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_begin_slow(struct tv_vehicle *vehicle);

/* How far a battery is above its limit, and which limit: 0 or less = at it. */
double tv_vehicle_above_limit(const struct tv_vehicle *vehicle, const struct tv_run *run, int *battery,
                              bool *by_voltage);
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_note_moment(struct tv_vehicle *vehicle,
                                                             const struct tv_run *run, double time_s,
                                                             double mean_a, double min_v, double *cranking_v);
/* TAILVOLT_STOPPED where the caller wants no more. */
TAILVOLT_CHECKED enum tailvolt_status tv_vehicle_tell(struct tv_vehicle *vehicle, double done_frac);

/* Driving from the run's state until the charge is back; NAN = not within a day. */
TAILVOLT_CHECKED enum tailvolt_status tv_drive_back(const struct tv_vehicle *vehicle,
                                                    const struct tv_run *from, double goal_c, bool town,
                                                    double *seconds);

/* All but spread and level. */
TAILVOLT_CHECKED enum tailvolt_status tv_parked_one(const struct tailvolt_system *system,
                                                    const struct tailvolt_profile *profile,
                                                    const struct tailvolt_parked_options *options,
                                                    struct tailvolt_parked *out, char *error);
/* The playing time alone, located roughly: for roots and spreads. */
struct tv_parked_brief {
  double until_s, restart_s, cut_out_s, limit_s;
  enum tailvolt_parked_end ends_by;
};
TAILVOLT_CHECKED enum tailvolt_status tv_parked_brief(const struct tailvolt_system *system,
                                                      const struct tailvolt_profile *profile,
                                                      const struct tailvolt_parked_options *options,
                                                      struct tv_parked_brief *brief, char *error);
TAILVOLT_CHECKED enum tailvolt_status tv_parked_find_level(const struct tailvolt_system *system,
                                                           const struct tailvolt_profile *profile,
                                                           const struct tailvolt_parked_options *options,
                                                           struct tailvolt_parked *out, char *error);

#endif
