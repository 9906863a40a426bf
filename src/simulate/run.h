/* One simulation under way: the system's fixed description, its state, and what has been gathered so far.
 *
 * The system and profile are never written. Everything is allocated by tv_run_create(); stepping allocates nothing. One thread, one
 * run.
 *
 * The loop itself works on the run's hot block (simulate/hot.h), which holds everything that changes as plain numbers. Between
 * stretches of steps the state is also here, part by part, for any code that reads or changes it: tv_run_advance() packs it into
 * the block first and unpacks it last. */
#ifndef TV_SIMULATE_RUN_H
#define TV_SIMULATE_RUN_H

#include "network/network.h"
#include "network/port_solve.h"
#include "parts/alternator.h"
#include "parts/amplifier.h"
#include "parts/battery.h"
#include "parts/battery_model.h"
#include "parts/conductor.h"
#include "parts/fuse.h"
#include "parts/load.h"
#include "parts/starter.h"
#include "simulate/hot.h"
#include "simulate/programmes.h"
#include "simulate/statistics.h"
#include "simulate/uses.h"
#include "simulate/feed_path.h"
#include "tailvolt/simulate.h"

#define TV_NONE (-1)
#define TV_OPEN_S 1e-6          /* leakage of an open contact or a blocking diode */
/* What a pack that refuses charge still lets in: 0.1 mA at a volt. A source left alone with its loads finds its voltage from the current
 * that passes here, so that the last digit of a current is this many times as much of a volt. */
#define TV_BLOCKED_OHM 1e4
/* From here down a pack that refuses charge shuts. Nearer to zero lies what rounding makes of no current at all. */
#define TV_PACK_REFUSES_V (-1e-9)
#define TV_TICK_S 1.0           /* slow clock: temperatures */
#define TV_FUSE_TICK_S 0.01     /* fuses' thermal memory */
#define TV_DRIFT_FRAC 2e-4      /* run->drift_frac unless a study says otherwise */
#define TV_GRACE_S 3.0          /* a starter turns, an alternator comes up: nobody expects charging voltage yet */
#define TV_UP_S 1.0             /* from the end of a start until charging is up */
#define TV_FULL_FIELD 0.995     /* a field above this counts as full: the machine is at its limit */
#define TV_ANCHOR_STEPS 32      /* ripple's sine is recomputed this often, and rotated in between */

struct tv_amplifier_state {
  bool out;                     /* cut out */
  double below_s, above_s;      /* continuously below cut-out, above cut-in */
  double ramp_s;                /* since the restart; TV_SOFT_START_S and more = done */
};

struct tv_isolator_state {
  bool closed;
  double held_s;                /* how long the condition to switch has held */
};

struct tv_guess { double j, before_j; };

struct tv_source_state {
  int clamp;                    /* -1: at its minimum, 0: holds its voltage, 1: at its maximum */
  double heat_as, heat_a2s, heat_j; /* since the last tick */
  double slope_siemens, intercept_a, per_field_a, at_frac; /* its line there: see hot_parts.inc */
};

/* A pack's own protection, as the step handles it. */
struct tv_guard_state { double guard, guard_s, one_way, blocked; };

struct tv_state_scalars {
  double field_frac;
  double bay_c;                 /* under-bonnet air */
  double ambient_c;
  double copper_c;              /* the alternator's winding */
  double crank_s;               /* since the starter was engaged; < 0 = not cranking */
  struct tv_start_needs start;  /* what it takes, at the engine temperature when it was engaged */
  double grace_end_s;           /* until then, after a start, the parked target applies */
  bool engine_on;
  double tick_s, fuse_s;        /* since the slow clocks' last ticks */
  double now_s, step_s;         /* of the last step */
  double grid_from_s, grid_step_s, grid_end_s, grid_index, grid_count; /* the row's steps, and how many are done */
  double row_end_s;             /* later than grid_end_s where something other than the row ends there */
};

struct tv_state {
  struct tv_state_scalars now;
  struct tv_battery_state *battery;
  struct tv_guard_state *guard;
  double *battery_last_a, *battery_used_ohm;
  double *capacitor_v;
  double *storage_v;            /* an amplifier's internal storage */
  bool *stiff;                  /* [capacitors, then amplifiers] too fast for the step: updated by its end value */
  struct tv_amplifier_state *amplifier;
  struct tv_isolator_state *isolator;
  struct tv_guess *guess;       /* [unknowns] */
  struct tv_source_state *source;
  bool *low;                    /* [ports] drawn below the taper */
  double *conductor_c;
  double *conductor_ohm;        /* in the wiring */
  double *group_square_as, *group_fuse_as;
  struct tv_fuse_state *fuse;   /* one per conductor; used for fuses */
  bool *blown;
  struct tv_programme_cursor *cursor;
  struct tv_playing *play;
  void *block;                  /* holds all arrays above */
  size_t block_size;
};

/* How one amplifier is driven in the present row. */
struct tv_drive {
  bool powered, playing, prescribed;
  int programme;                /* for envelope and bass note; TV_NONE = silence */
  double level_db, gain_w;      /* 10^(level/10) times rated power: W at envelope 1 */
  double output_w, supply_w, supply_a; /* NAN where not given */
  double target_v;              /* the one in force */
  double shift_v;               /* the phase's target minus the one in force */
  double wanted_w;              /* this step's delivery before clipping */
};

/* Envelope and ripple of one programme in the present step, shared by the amplifiers on it. */
struct tv_playing {
  bool used, ripple_on_d, ripple_on_ab; /* amplifiers of either class play it */
  double bass_hz;
  /* bass note at the end of the last step, the start of the next: sine and cosine of 2 pi f t */
  double last_end_s, last_sin, last_cos, turn_s, turn_sin, turn_cos;
};

/* What a programme plays in the next steps, means over each: envelope as a share of rated power, ripple as a factor. */
struct tv_heard {
  double envelope[TV_AHEAD], ripple_d[TV_AHEAD], ripple_ab[TV_AHEAD];
  struct tv_programme_cursor from_cursor; /* where listening began */
  struct tv_playing from_play;
};

struct tv_feed_path {
  int battery;                  /* reference battery, TV_NONE = none found */
  int count;
  struct tv_feed_path_part *part;
  double *rest_drop_v, *rest_a; /* at the start */
  double *worst_drop_v, *worst_a;
  struct tv_battery_drops rest, worst;
  double rest_battery_a, worst_battery_a;
  double rest_v, worst_v, worst_time_s;
  bool worst_at_limit;
  bool parted;                  /* at the worst moment a relay on it was open: the one by cable alone counts */
};

/* Rows kept by draws.c: time, then watts and amperes of each amplifier. */
struct tv_draws {
  double *record;
  int count, at;
  double end_s;
};

struct tv_run {
  const struct tailvolt_system *system;
  struct tailvolt_options options;
  double drift_frac;            /* a resistance that moved this much goes into the wiring again */
  char error[TAILVOLT_TEXT_MAX];
  /* fixed description */
  struct tv_battery **battery;
  struct tv_alternator alternator;
  struct tv_amplifier *amplifier;
  const struct tv_programme **programme;
  struct tv_programme **own_programme; /* NULL where it is shared */
  bool *prescribed;             /* [amplifiers] draw given by the profile */
  struct tv_network *network;
  struct tv_port_solver *solver; /* for steps where the joint iteration fails */
  struct tv_layout *layout;
  /* where things connect: indices into linear ports, nonlinear ports, watches; TV_NONE where there is none */
  int capacitor_port0, load_port0, load_port_count;
  int *storage_port, *load_port, *isolator_port;
  int alternator_port, sense_port, starter_port;
  int first_amplifier, first_load, first_converter, unknowns; /* nonlinear ports except the sensing point */
  int *load_unknown;            /* [loads] constant power: its port */
  int drop_watch0;              /* two per amplifier: plus side, minus side */
  int meter_watch0;
  int isolator_watch0;          /* two per isolator: `from` and `to` against ground */
  int group_count;
  struct tv_warming *warming;   /* [conductors] how they give off and store heat */
  int fuse_count, *fuse_at;               /* conductors that are fuses: few among many, and looked at a hundred times a second */
  int *conductor_group, *group_conductor; /* the conductor that represents a group */
  double *conductor_sign;       /* of its group's value in the step */
  int *group_value;             /* a part whose current is the group's; TV_NONE = it has a row of its own */
  double *group_sign;
  int *row_of;                  /* [rows] nonlinear ports, then linear ones, then watches */
  int *converter_source;        /* [isolators] index of the regulated source */
  struct tv_feed_path *feed_path;    /* [amplifiers] through relays */
  struct tv_feed_path *cable_path;   /* [amplifiers] by cable alone, for when one of those is open; none where it passes none */
  /* state */
  struct tv_state state;
  struct tv_hot *hot;           /* its form for the loop, one lane */
  enum tailvolt_status failed;  /* in a block of several lanes: what ended it */
  bool packed;                  /* the block holds the current values */
  /* in force for the present row and step length */
  struct tv_drive *drive;
  struct tv_playing *play;      /* part of the state */
  struct tv_heard *heard;       /* [programme_count + 1] of the steps to come, the last is silence; nothing outlives a stretch */
  struct tv_draws draws;
  double *load_on;
  double base_a, set_v, engine_rpm, engine_rpm_slope, row_start_s, ambient_c, ambient_slope;
  double next_s;                /* where the row ends; HUGE_VAL = never */
  bool set_commanded, plays;
  enum tailvolt_phase phase;
  enum tailvolt_use use;
  bool in_grace;                /* shortly after a start */
  bool use_noted;               /* what is switched on has been counted for this use */
  double ripple_hz;             /* lowest bass note playing; 0 = none */
  double step_s;                /* length the port reduction is for; 0 = the instant */
  double base_step_s;           /* requested */
  double asked_step_s;          /* the options' value that base_step_s was derived from */
  double shown_frac;            /* of the profile, as progress was told; steps when it was last asked whether to stop */
  long long asked_at;
  bool stale_ports, stale_stiff, stale_row, stale_offset, stale_wiring;
  bool matrix_moved;            /* by the event under way */
  bool stale_rebuild;           /* a state was restored: rebuild the reductions as they were with it */
  double rebuild_step_s;
  bool keep_used;               /* reductions are rebuilt as they were: battery slopes stay */
  double field_scale;           /* of winding temperature, on the law's x */
  double now_s;                 /* start of the current step */
  /* gathered */
  struct tv_statistics *statistics;
  long long steps;
  double largest_step_s;
  bool rest_at_limit, coarse_ripple;
  struct tailvolt_result *high_end; /* of the run for a set point that swings (swing.h); else NULL */
  double settled_s;             /* run with the music off before time zero */
  double begun_s, ended_s;
};

TAILVOLT_CHECKED enum tailvolt_status tv_run_create(const struct tailvolt_system *system,
                                                    const bool *prescribed,
                                                    const struct tailvolt_options *options,
                                                    struct tv_run **out, char *error);
/* The same, playing whatever in `shared` (may be NULL, must outlive the run) fits the system's
 * descriptions. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_create_with(const struct tailvolt_system *system,
                                                         const bool *prescribed,
                                                         const struct tailvolt_options *options,
                                                         const struct tv_programmes *shared,
                                                         struct tv_run **out, char *error);
/* Both: programmes of a study, and its solved labels; each may be NULL. */
struct tv_labels;
TAILVOLT_CHECKED enum tailvolt_status tv_run_create_by(const struct tailvolt_system *system, const bool *prescribed,
                                                       const struct tailvolt_options *options, const struct tv_programmes *shared,
                                                       struct tv_labels *labels, struct tv_run **out, char *error);
/* The same with the batteries of a run (may be NULL) whose system has exactly the same ones: labels are solved
 * once. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_create_like(const struct tv_run *like, const struct tailvolt_system *system,
                                                         const bool *prescribed,
                                                         const struct tailvolt_options *options,
                                                         struct tv_run **out, char *error);
/* Both: programmes of a study, and the batteries of `like` where the system describes the same. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_create_from(const struct tailvolt_system *system, const bool *prescribed,
                                                         const struct tailvolt_options *options,
                                                         const struct tv_programmes *shared, const struct tv_run *like,
                                                         struct tv_run **out, char *error);
/* tailvolt_run_open() with both; each may be NULL, and must outlive the call. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_open_like(const struct tailvolt_system *system, const bool *prescribed,
                                                       const struct tailvolt_options *options,
                                                       const struct tv_programmes *shared, const struct tailvolt_run *like,
                                                       struct tailvolt_run **out, char *error);
void tv_run_free(struct tv_run *run);

/* How every run begins, for every command: from the first row, settled for options.settle_s with the music off where the
 * engine runs in it, every battery's charge as in the file; else rested. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_begin(struct tv_run *run, const struct tailvolt_row *first);

/* Starts at the first row: storage rested, the alternator settled, every amplifier silent. Clears the statistics. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_start(struct tv_run *run, const struct tailvolt_row *row);

/* Simulates from `from_s` to `to_s` with `row` in force; `next` (or NULL) is where engine speed and ambient are
 * heading. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_advance(struct tv_run *run, const struct tailvolt_row *row,
                                                     const struct tailvolt_row *next, double from_s, double to_s);

/* Makes the present state, with every amplifier silent, the new start: rest voltages, ledger reference and energy books;
 * clears the statistics. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_rebase(struct tv_run *run, const struct tailvolt_row *row);

/* A profile being read. */
struct tv_row_walk { struct tailvolt_profile_cursor *cursor; const struct tailvolt_row *row; };

/* Gathers everything into a result. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_finish(struct tv_run *run, const char *profile_name,
                                                    struct tailvolt_result **out);

/* Folds what has been gathered into the totals; the slow clocks tick with it. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_fold(struct tv_run *run);

/* Snapshot of the state (not of the statistics). The buffer holds tv_run_state_size() bytes. */
size_t tv_run_state_size(const struct tv_run *run);
void tv_run_save(const struct tv_run *run, void *buffer);
void tv_run_restore(struct tv_run *run, const void *buffer);

/* ---- between the files of this folder ---- */

/* Puts a row into force, and lays out its steps up to end_s. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_begin_row(struct tv_run *run, const struct tailvolt_row *row,
                                                       const struct tailvolt_row *next, double from_s, double end_s);
/* The row's steps that end by to_s; leaves the state packed. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_go(struct tv_run *run, double to_s);
/* The same for a state that may not be packed: after a restore, for instance. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_go_on(struct tv_run *run, double to_s);
/* The same in pieces, for a run that is one lane of `hot` (its own block, or one of several lanes): the row's remaining steps,
 * and how many until a slow clock ticks; whether the temperature clock is due once the fuses have been checked. */
long long tv_run_steps_left(const struct tv_run *run, const struct tv_hot *hot, int lane, double to_s);
long long tv_run_steps_to_tick(const struct tv_run *run, const struct tv_hot *hot, int lane);
bool tv_run_is_due(struct tv_run *run, struct tv_hot *hot, int lane);
/* In the run's own block: the tick of the slow clock; what row, switch or tick requires before the next step; the rest of a
 * row after the grace of a start. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_clocks(struct tv_run *run);
TAILVOLT_CHECKED enum tailvolt_status tv_run_bring_up_to_date(struct tv_run *run);
bool tv_run_grid_goes_on(struct tv_run *run, double to_s);
/* With the music off nothing moves faster than the field of the alternator, in tenths of a second: settling takes steps of this
 * length, or the run's own where they are longer. */
#define TV_SETTLE_STEP_S 0.01
double tv_run_settling_step_s(const struct tv_run *run);
/* The start of a run in pieces: the row that it settles on (`quiet` has room for every amplifier), false where it does not
 * settle; and the end of settling. */
bool tv_run_settling_row(const struct tv_run *run, const struct tailvolt_row *first, struct tailvolt_amplifier_row *quiet,
                         struct tailvolt_row *row);
TAILVOLT_CHECKED enum tailvolt_status tv_run_end_settling(struct tv_run *run, const struct tailvolt_row *first);

/* The step while ripple is active, by the highest note: the largest of some round ones not above 1/(40 f). */
double tv_run_ripple_step_s(double bass_hz);

enum tailvolt_status tv_draws_create(struct tv_run *run);
void tv_run_set_row(struct tv_run *run, const struct tailvolt_row *row, const struct tailvolt_row *next);
/* The targets of a row, after the grace of a start. */
void tv_run_end_grace(struct tv_run *run);
/* Before its start, for a run of whose statistics nothing but the batteries' lowest voltages will be asked, and
 * tv_run_look_back(): what the batteries gave since the last call, and the lowest voltage at an amplifier that plays. */
void tv_run_leave_out_sums(struct tv_run *run);
void tv_run_look_back(struct tv_run *run, double *charge_c, double *energy_j, double *lowest_v);
/* Fills run->heard for `count` steps (TV_AHEAD at most) from step `index` on of the row's grid, t = from_s + k step_s. */
void tv_run_listen(struct tv_run *run, double from_s, double step_s, double index, int count);
/* Listens again from the same step, to fewer: the others were not taken. */
void tv_run_listen_less(struct tv_run *run, double from_s, double step_s, double index, int count);
/* Engine speed in the row in force. */
static inline double tv_run_rpm(const struct tv_run *run, double at_s) {
  return run->engine_rpm + run->engine_rpm_slope * (at_s - run->row_start_s);
}
double tv_run_rated_a(const struct tv_run *run);
double tv_run_field_share(const struct tv_run *run, double elapsed_s);

/* Moves state between its part-by-part form and the block; numbers that follow from the row, the reductions, the
 * totals. */
void tv_run_pack(struct tv_run *run);
void tv_run_unpack(struct tv_run *run);
void tv_run_pack_battery(struct tv_run *run, int k);
/* After its slope has gone into the reduction. */
void tv_run_pack_range(struct tv_run *run, int k);
/* After new tangents: with the line that they give. */
void tv_run_pack_tangent(struct tv_run *run, int k);
void tv_run_unpack_battery(struct tv_run *run, int k);
void tv_run_pack_row(struct tv_run *run);
/* What constant-power loads ask for. */
void tv_run_pack_loads(struct tv_run *run);
void tv_run_pack_source(struct tv_run *run);
void tv_run_pack_minima(struct tv_run *run);
/* The lowest voltages that a step of amplifier k is compared with: while the engine is started, only those of
 * starts. */
void tv_run_pack_lowest(struct tv_run *run, int k);
/* Starts begin and end here: the lowest voltage meanwhile is kept separately. */
void tv_run_set_grace(struct tv_run *run, bool in_grace);

enum tailvolt_status tv_run_reduce(struct tv_run *run, double step_s);
enum tailvolt_status tv_run_update_wiring(struct tv_run *run, bool always);
/* Reduces again, and finds the capacitances that are too fast for the step: called where step, switches, loads, or draws below the taper
 * have changed. */
enum tailvolt_status tv_run_update_stiff(struct tv_run *run);
void tv_run_load_offset(struct tv_run *run);
/* Call after a change of base load, loads or the starter's current. */
enum tailvolt_status tv_run_change_constants(struct tv_run *run);
enum tailvolt_status tv_run_rebuild(struct tv_run *run, double step_s);
/* Thermal memory of the fuses: the groups' sums may be in a block of several lanes. */
/* False where a fuse may open soon: then their clock ends a stretch of steps. Otherwise only a current above the limits that this sets
 * can make one open. */
bool tv_run_fuses_are_cold(const struct tv_run *run, const struct tv_hot *hot, int lane);
void tv_run_look_at_fuses(struct tv_run *run, struct tv_hot *hot, int lane);
void tv_run_tangent(struct tv_run *run, int k, double step_s);
/* Values of the step by the active-set solver; an amplifier that asks for more than there is trips. */
enum tailvolt_status tv_run_solve_hard(struct tv_run *run);
enum tailvolt_status tv_run_solve(struct tv_run *run);
enum tailvolt_status tv_run_tick(struct tv_run *run);
void tv_run_free_feed_paths(struct tv_feed_path *paths, int count);
enum tailvolt_status tv_run_find_feed_paths(struct tv_run *run);
/* The one that counts: with the relays as they are, as they were at the worst moment. */
const struct tv_feed_path *tv_feed_path_now(const struct tv_run *run, int amplifier);
const struct tv_feed_path *tv_feed_path_worst(const struct tv_run *run, int amplifier);
void tv_feed_path_look(const struct tv_run *run, int amplifier, bool rest, double time_s, double terminal_v,
                  double step_s);
void tv_run_look_at_rest(struct tv_run *run);
double tv_run_stored_j(const struct tv_run *run);
void tv_run_set_field_scale(struct tv_run *run);

/* idle is up to a quarter above idle speed: revs a driver would still call standing */
#define TV_IDLE_SPAN 1.25

/* Whether the engine runs, or whatever else charges the battery. */
static inline bool tv_row_runs(const struct tailvolt_row *row) { return row->engine_rpm > 0 || row->ready; }

static inline enum tailvolt_phase tv_run_phase(const struct tv_run *run, double engine_rpm) {
  if (engine_rpm <= 0) return TAILVOLT_PARKED;
  return engine_rpm <= TV_IDLE_SPAN * run->system->engine.idle_rpm ? TAILVOLT_IDLE : TAILVOLT_ROAD;
}

/* For the step just solved: terminal voltage of an amplifier; voltage at a battery's posts, current out of
 * it. */
static inline double tv_run_amplifier_v(const struct tv_run *run, int k) {
  return tv_hot_y(run->hot)[run->layout->terminal_v + k];
}
static inline double tv_run_battery_v(const struct tv_run *run, int k) {
  return tv_hot_y(run->hot)[run->layout->battery_row + k];
}
static inline double tv_run_battery_a(const struct tv_run *run, int k) { return TV_HOT(run->hot, battery)[k].a; }

/* The battery that starts the car and carries the base load. */
static inline int tv_start_battery(const struct tailvolt_system *system) {
  int k = system->engine.starter_battery;
  return k >= 0 && k < system->battery_count ? k : 0;
}

/* libm's fmin and fmax are calls, because of NaN */
static inline double tv_least(double a, double b) { return a < b ? a : b; }
static inline double tv_most(double a, double b) { return a > b ? a : b; }

#endif
