/* One simulation under way: the system's fixed description, its state, and what has been gathered so far.
 *
 * The system and profile are never written. Everything is allocated by tv_run_create(); stepping allocates nothing. One thread, one
 * run. The state is one block of plain data, so that a study can save and restore it. */
#ifndef TV_SIMULATE_RUN_H
#define TV_SIMULATE_RUN_H

#include "network/network.h"
#include "network/port_solve.h"
#include "parts/alternator.h"
#include "parts/amplifier.h"
#include "parts/battery.h"
#include "parts/fuse.h"
#include "parts/starter.h"
#include "simulate/programmes.h"
#include "simulate/statistics.h"
#include "simulate/uses.h"
#include "simulate/way.h"
#include "tailvolt/simulate.h"

#define TV_NONE (-1)
#define TV_OPEN_S 1e-6          /* what an open contact or a blocking diode leaks */
#define TV_TICK_S 1.0           /* slow clock: temperatures */
#define TV_FUSE_TICK_S 0.01     /* fuses' thermal memory */
#define TV_DRIFT_FRAC 2e-4      /* a resistance that moved this much is put into the wiring anew */
#define TV_PARTS_MOST 64        /* finest division of a step */
#define TV_GRACE_S 3.0          /* a starter turns, an alternator comes up: nobody expects charging voltage meanwhile */
#define TV_FULL_FIELD 0.995     /* a field beyond this counts as full: the machine is at its limit */

struct tv_amplifier_state {
  bool out;                     /* cut out */
  double below_s, above_s;      /* without a break below cut-out, above cut-in */
  double ramp_s;                /* since the restart; TV_SOFT_START_S and more = done */
};

struct tv_isolator_state {
  bool closed;
  double held_s;                /* the condition to change over has held so long */
};

struct tv_state_scalars {
  double field_x;
  double bay_c;                 /* under-bonnet air */
  double ambient_c;
  double copper_c;              /* the alternator's winding */
  double crank_s;               /* since the starter was engaged; < 0 = not cranking */
  struct tv_start_needs start;  /* what it takes, of the engine's temperature when it was engaged */
  double grace_end_s;           /* until then, after a start, the target of the parked car holds */
  bool engine_on;
};

struct tv_state {
  struct tv_state_scalars now;
  struct tv_battery_state *battery;
  double *capacitor_v;
  double *storage_v;            /* an amplifier's internal storage */
  struct tv_amplifier_state *amplifier;
  struct tv_isolator_state *isolator;
  double *conductor_c;
  struct tv_fuse_state *fuse;   /* one a conductor; used by fuses */
  bool *blown;
  void *block;                  /* holds all arrays above */
  size_t block_size;
};

/* How one amplifier is driven in the present row. */
struct tv_drive {
  bool powered, playing, prescribed;
  int programme;                /* for envelope and bass note; TV_NONE = silence */
  double level_db, gain_w;      /* 10^(level/10) times rated power: W at envelope 1 */
  double output_w, supply_w, supply_a; /* NAN where not given */
  double target_v;              /* in force */
  double shift_v;               /* the phase's target above the one in force */
  double wanted_w;              /* this step's delivery before clipping */
};

/* Envelope and ripple of one programme in the present step, shared by the amplifiers on it. */
struct tv_playing {
  bool used, ripple_on_d, ripple_on_ab; /* amplifiers of either class play it */
  double envelope;
  double ripple_d, ripple_ab;
  double bass_hz;
  double last_end_s, last_sin, last_abs; /* the step's end is the next one's start */
};

struct tv_path {
  int battery;                  /* reference battery, TV_NONE = none found */
  int count;
  struct tv_path_part *part;
  double *rest_drop_v, *rest_a; /* at the start */
  double *worst_drop_v, *worst_a;
  struct tv_battery_drops rest, worst;
  double rest_battery_a, worst_battery_a;
  double rest_v, worst_v, worst_time_s;
  bool worst_at_limit;
};

struct tv_run {
  const struct tailvolt_system *system;
  struct tailvolt_options options;
  char error[TAILVOLT_TEXT_MAX];
  /* fixed description */
  struct tv_battery **battery;
  struct tv_alternator alternator;
  struct tv_amplifier *amplifier;
  const struct tv_programme **programme;
  struct tv_programme **own_programme; /* NULL where it is shared */
  bool *prescribed;             /* [amplifiers] draw given by the profile */
  struct tv_network *network;
  struct tv_port_solver *solver;
  /* where things hang: indices into linear ports, nonlinear ports, watches; TV_NONE where there is none */
  int capacitor_port0;
  int *storage_port, *load_port, *isolator_port;
  int starter_port;
  int alternator_port, sense_port;
  int *load_index;              /* [loads] index into solver->load */
  int *amplifier_watch;         /* terminal voltage; TV_NONE = the port itself */
  int drop_watch0;              /* two an amplifier: plus side, minus side */
  int meter_watch0;
  int isolator_watch0;          /* two an isolator: `from` and `to` against ground */
  int group_count;
  int *conductor_group, *group_conductor; /* the conductor that stands for a group */
  double *conductor_sign;
  int *converter_source;        /* [isolators] index of the regulated source */
  struct tv_path *path;         /* [amplifiers] */
  /* state */
  struct tv_state state;
  struct tv_programme_cursor *cursor;
  /* in force for the present row and step length */
  struct tv_drive *drive;
  struct tv_playing *play;
  double *load_on;
  double base_a, set_v, engine_rpm, engine_rpm_slope, row_start_s, ambient_c, ambient_slope;
  bool set_commanded;
  enum tailvolt_phase phase;
  enum tailvolt_use use;
  bool in_grace;                /* so little after a start */
  bool use_noted;               /* what is switched on has been counted to this use */
  double ripple_hz;             /* lowest bass note playing; 0 = none */
  double step_s;                /* length the port reduction holds for; 0 = the instant */
  double base_step_s;           /* wanted, before division */
  int parts;                    /* division asked for by the shortest time constant */
  bool stale_ports, stale_switches, stale_wiring;
  double field_decay;           /* exp(-h/tau) */
  double field_scale;           /* of the winding's temperature, on the law's x */
  double *used_ohm, *line_ohm;  /* [batteries] in the reduction; of the battery's own line */
  /* one step's numbers */
  double *s, *linear_v, *watch_y, *last_a, *battery_a;
  double now_s;
  /* gathered */
  struct tv_statistics *statistics;
  long long steps;
  double largest_step_s;
  bool rest_at_limit, coarse_ripple;
  struct { bool known; double balance_a[TAILVOLT_PHASES]; } high_end; /* of a set point that swings (swing.h) */
  double settled_s;             /* run with the music off before time zero */
  double begun_s, ended_s;
};

TAILVOLT_CHECKED enum tailvolt_status tv_run_create(const struct tailvolt_system *system,
                                                    const bool *prescribed,
                                                    const struct tailvolt_options *options,
                                                    struct tv_run **out, char *error);
/* The same, playing what of `shared` (may be NULL, must outlive the run) fits the system's descriptions. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_create_with(const struct tailvolt_system *system,
                                                         const bool *prescribed,
                                                         const struct tailvolt_options *options,
                                                         const struct tv_programmes *shared,
                                                         struct tv_run **out, char *error);
void tv_run_free(struct tv_run *run);

/* How every run begins, of whatever command: from the first row, settled for options.settle_s with the music off where the
 * engine runs in it, every battery's charge as the file has it; else rested. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_begin(struct tv_run *run, const struct tailvolt_row *first);

/* Starts at the first row: storage rested, the alternator settled, every amplifier silent. Clears the statistics. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_start(struct tv_run *run, const struct tailvolt_row *row);

/* Simulates from `from_s` to `to_s` with `row` in force; `next` (or NULL) gives where engine speed and ambient go. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_advance(struct tv_run *run, const struct tailvolt_row *row,
                                                     const struct tailvolt_row *next, double from_s,
                                                     double to_s);

/* Makes the state as it stands, every amplifier silent, the new start: rest voltages, ledger reference and energy books;
 * clears the statistics. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_rebase(struct tv_run *run, const struct tailvolt_row *row);

/* A profile being read. */
struct tv_row_walk { struct tailvolt_profile_cursor *cursor; const struct tailvolt_row *row; };

/* Gathers everything into a result. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_finish(struct tv_run *run, const char *profile_name,
                                                    struct tailvolt_result **out);

/* Snapshot of the state (not of the statistics). The buffer holds tv_run_state_size() bytes. */
size_t tv_run_state_size(const struct tv_run *run);
void tv_run_save(const struct tv_run *run, void *buffer);
void tv_run_restore(struct tv_run *run, const void *buffer);

/* ---- between the files of this folder ---- */
void tv_run_set_row(struct tv_run *run, const struct tailvolt_row *row, const struct tailvolt_row *next);
enum tailvolt_status tv_run_reduce(struct tv_run *run, double step_s);
enum tailvolt_status tv_run_update_wiring(struct tv_run *run, bool always);
enum tailvolt_status tv_run_update_division(struct tv_run *run);
enum tailvolt_status tv_run_step(struct tv_run *run, double start_s, double end_s, double step_s);
void tv_run_prepare(struct tv_run *run, double start_s, double end_s, double step_s);
void tv_run_switch(struct tv_run *run, double step_s);
enum tailvolt_status tv_run_solve(struct tv_run *run);
void tv_run_fill_sources(struct tv_run *run, double step_s);
enum tailvolt_status tv_run_tick(struct tv_run *run);
void tv_run_free_paths(struct tv_run *run);
enum tailvolt_status tv_run_find_paths(struct tv_run *run);
void tv_path_look(const struct tv_run *run, int amplifier, bool rest, double time_s, double terminal_v,
                  double step_s);
void tv_run_look_at_rest(struct tv_run *run);
double tv_run_stored_j(const struct tv_run *run);
void tv_run_set_field_scale(struct tv_run *run);

/* idle up to a quarter above the idle speed: revs that a driver would still call standing */
#define TV_IDLE_SPAN 1.25

/* The engine runs, or whatever else charges the battery while it does not. */
static inline bool tv_row_runs(const struct tailvolt_row *row) { return row->engine_rpm > 0 || row->ready; }

static inline enum tailvolt_phase tv_run_phase(const struct tv_run *run, double engine_rpm) {
  if (engine_rpm <= 0) return TAILVOLT_PARKED;
  return engine_rpm <= TV_IDLE_SPAN * run->system->engine.idle_rpm ? TAILVOLT_IDLE : TAILVOLT_ROAD;
}

/* Of the step just solved: terminal voltage of an amplifier; current out of a battery. */
static inline double tv_run_amplifier_v(const struct tv_run *run, int k) {
  if (run->amplifier_watch[k] >= 0) return run->watch_y[run->amplifier_watch[k]];
  return run->solver->v[run->solver->load[k].port];
}
static inline double tv_run_battery_a(const struct tv_run *run, int k) { return run->battery_a[k]; }

/* libm's fmin and fmax are calls, for the sake of NaN */
static inline double tv_least(double a, double b) { return a < b ? a : b; }
static inline double tv_most(double a, double b) { return a > b ? a : b; }

#endif
