/* Studies: questions that take more than one run. Here: how long music may play with the engine off. */
#ifndef TAILVOLT_STUDY_H
#define TAILVOLT_STUDY_H

#include <stddef.h>

#include "tailvolt/report.h"
#include "tailvolt/simulate.h"

#ifdef __cplusplus
extern "C" {
#endif

/** What ends the playing. */
enum tailvolt_parked_end {
  TAILVOLT_ENDS_BY_RESTART,    /**< from then on the car would not start */
  TAILVOLT_ENDS_BY_CUT_OUT,    /**< an amplifier cuts out */
  TAILVOLT_ENDS_BY_REST_LIMIT, /**< a battery is at its limit of charge or rest voltage */
  TAILVOLT_ENDS_BY_TIME        /**< nothing does within limit_s */
};

/** Why the evening was simulated step by step. */
enum tailvolt_full_reason {
  TAILVOLT_FULL_NOT,            /**< it was not: checkpoints represent the whole */
  TAILVOLT_FULL_ASKED,          /**< requested by the options */
  TAILVOLT_FULL_LONG_MUSIC,     /**< the music repeats only after more than full_reason_s */
  TAILVOLT_FULL_SHORT_ROWS,     /**< the profile has rows shorter than full_reason_s */
  TAILVOLT_FULL_UNEQUAL_SHARES, /**< batteries share the beats differently from the mean current */
  TAILVOLT_FULL_RELAY_CHATTERS  /**< a relay or converter that has opened closes again, and opens again */
};

/** Where the floor of the starting voltage comes from. */
enum tailvolt_floor {
  TAILVOLT_FLOOR_OF_STARTER,    /**< the starter's equation at that temperature */
  TAILVOLT_FLOOR_STATED,        /**< set by the options */
  TAILVOLT_FLOOR_OF_BOOTING     /**< a car without a starter: what its computers need */
};

/** What a reader of the result needs to know. */
enum tailvolt_parked_caution {
  TAILVOLT_PARKED_NOTHING_PLAYS,
  TAILVOLT_PARKED_NEVER_STARTS,            /**< not even before anything has played */
  TAILVOLT_PARKED_AT_LIMIT_FROM_THE_START, /**< limit_battery is below its limit before anything has played */
  TAILVOLT_PARKED_CUT_OUT_AT_ONCE,         /**< within the first minute */
  TAILVOLT_PARKED_EVERY_STEP,              /**< see full_reason */
  TAILVOLT_PARKED_TWO_PIECES,              /**< level and spread come from two pieces of long music */
  TAILVOLT_PARKED_CAUTIONS
};

/** What is played, and when it ends. */
struct tailvolt_parked_options {
  size_t size;              /**< of this structure where the program was compiled; set by tailvolt_default_parked_options() */
  struct tailvolt_options run; /**< time step, seed, isothermal, blow, progress */
  int programme;            /**< index played where neither amplifier nor profile names one; -1 = the first */
  double level_db;          /**< added to every playing level; 0 */
  double ambient_c;         /**< replaces the profile's or the system's; NAN = theirs */
  double ambient_shift_k;   /**< added to it */
  double floor_v;           /**< lowest allowed voltage at the posts while the starter turns; NAN = what this
                             *   engine's starter needs at that temperature, at least 8.0 V */
  double floor_after_s;     /**< ... counted from this long after the starter is engaged, 0.5 */
  double pause_s;           /**< silence before the start, 60 */
  double soc_limit_frac;    /**< of every battery; 0 = none; NAN = by kind: lead 0.5, lithium-iron 0.2 */
  double rest_limit_v;      /**< of the open-circuit voltage; NAN = none */
  double limit_s;           /**< longest time simulated, 48 h */
  double wanted_s;          /**< wanted playing time; NAN = the system's target, if it has one */
  bool solve_level;         /**< find the level that lasts `wanted_s` even where that time is met */
  bool full;                /**< every step of the whole time, no checkpoints */
  int vehicles;             /**< of a spread, 0 = none */
  int threads;              /**< 0 = as many as there are processors */
  bool spread_if_quick;     /**< skip the spread where every vehicle would have to be stepped through */
};

/** One moment of the discharge. */
struct tailvolt_parked_moment {
  double time_s;
  double soc_pct, rest_v;   /**< of the battery that starts the car */
  double mean_a;            /**< out of all batteries */
  double min_v;             /**< lowest at any amplifier around then, NAN = none plays */
  double cranking_v;        /**< at the posts, after a pause */
  double floor_v;           /**< ... and what it must be to start */
  double music_soc_pct, music_rest_v; /**< of the battery that feeds the music most */
};

/** One battery. */
struct tailvolt_parked_battery {
  char name[TAILVOLT_NAME_MAX];
  double start_soc_pct, end_soc_pct;
  double end_rest_v;        /**< open-circuit voltage at that charge */
  double taken_ah;          /**< out of it while it plays */
  double limit_pct;         /**< charge at which the playing ends; NAN = none */
  double share_pct;         /**< of all the charge taken */
  bool starts_car, feeds_music; /**< feeds_music: the one that gave most to it */
  double idle_s, town_s, motorway_s; /**< driving until it has its own charge back; 0 = it lacks none, NAN = not within a day */
};

/** A relay or converter that keeps what the alternator gives from a battery: its lowest set point does not reach what that closes at. */
struct tailvolt_parked_open {
  bool present;
  int battery, isolator;    /**< as numbered in the system */
  enum tailvolt_isolator_kind kind;
  char name[TAILVOLT_NAME_MAX];
  double set_point_v, closes_above_v;
};

/** Times below which 10, 50 and 90 % of the vehicles lie. */
struct tailvolt_parked_quantiles {
  double p10, p50, p90;     /**< NAN = beyond the longest time simulated; but see `spread_soonest` */
};

/** Over vehicles drawn from the ranges of what is not known. */
struct tailvolt_parked_spread {
  int vehicles;             /**< requested; 0 = no spread */
  int done;                 /**< computed; all shares are of these */
  bool partial;             /**< stopped before all were done */
  int refused;              /**< could not be computed, left out */
  struct tailvolt_parked_quantiles until_s, restart_s, cut_out_s, rest_limit_s;
  double not_starting_pct;  /**< share that does not start after `wanted_s`; NAN without one */
  double too_short_pct;     /**< share that plays less than `wanted_s` */
  double ends_by_pct[4];    /**< by enum tailvolt_parked_end */
  double holds_low_pct, holds_high_pct; /**< 90 % interval of the share that plays `wanted_s`; NAN without one */
};

/** What the quantiles of the spread would be if in cars that were not followed to the longest time all else had happened at once then.
 *  Nothing is known of a car whose supply has collapsed, and an empty battery gives no more; the spread's own quantiles count that as
 *  never. NAN where both are the same. */
struct tailvolt_parked_soonest {
  struct tailvolt_parked_quantiles restart_s, cut_out_s, rest_limit_s;
  double not_followed_pct;  /**< share that may start after `wanted_s` or not; NAN without one */
};

/** The whole answer. */
struct tailvolt_parked {
  char system[TAILVOLT_TEXT_MAX], profile[TAILVOLT_TEXT_MAX]; /**< profile empty = none */
  bool full;                /**< every step was simulated */
  enum tailvolt_full_reason full_reason;
  double full_reason_s;     /**< the length that decided, where the reason has one */
  double step_s;
  long long steps;          /**< of the fine simulation */
  int checkpoints, passes;
  double level_db, ambient_c; /**< level added; outside air at the end */
  /* Times from the start of the profile; NAN = not within limit_s. Each on its own terms: restart and rest
   * limit as if an amplifier that cuts out had played on. */
  double restart_s, cut_out_s, rest_limit_s; /**< from when it no longer starts; first cut-out; first battery at its limit */
  double until_s;           /**< the first of them, or limit_s: how long it plays */
  double followed_s;        /**< how far the discharge was followed: to limit_s, an empty battery or a collapse */
  enum tailvolt_parked_end ends_by;
  char cut_out_amplifier[TAILVOLT_NAME_MAX];
  char limit_battery[TAILVOLT_NAME_MAX];
  bool limit_by_voltage;    /**< rest_limit_s is by rest voltage; else by charge */
  double soc_limit_pct, rest_limit_v, limit_s; /**< in force */
  /* while it plays */
  double taken_ah, taken_j, mean_a; /**< out of all batteries */
  /* at the end, of the battery that starts the car */
  char starter[TAILVOLT_NAME_MAX];
  double soc_pct, rest_v;   /**< open-circuit voltage at that charge */
  double paused_v;          /**< what a meter shows at the posts after the pause */
  double cranking_v;        /**< lowest at the posts from floor_after_s on */
  bool starts;              /**< cranking_v is not below floor_v */
  double floor_v, pause_s;  /**< in force */
  double cranking_a, breakaway_a; /**< at that temperature */
  int battery_count;        struct tailvolt_parked_battery *batteries;
  /* driving that puts the charge back; NAN = not within a day */
  double back_soc_pct;      /**< charge over all batteries that counts as restored */
  double idle_s, town_s;    /**< idling; in town */
  /* the wanted time */
  double wanted_s;          /**< NAN = none */
  double wanted_level_db;   /**< level that lasts that long; NAN = not searched for, or no level does */
  bool level_looked_for, any_level_lasts; /**< even full level (0 dB) lasts */
  int moment_count;         struct tailvolt_parked_moment *moments;
  struct tailvolt_parked_spread spread;
  int caution_count;        enum tailvolt_parked_caution caution[TAILVOLT_PARKED_CAUTIONS];
  int starter_index, music_index; /**< batteries: the one that starts the car, the one that feeds most of the music */
  int limit_index;          /**< the one that reached its limit, else the one that feeds the music */
  enum tailvolt_floor floor_from;
  /* below 0 C, with a floor of 9.0 V at the posts (a common rule of thumb); NAN where that is not shorter */
  double strict_floor_v, strict_until_s;
  /* recharging by other uses; ready: charged whenever the car is on, engine turning or not */
  double motorway_s;        /**< as idle_s */
  bool charged_when_ready;
  /* left standing, key off, until it no longer starts: from the file's charge, and from the end of the
   * playing; NAN = more than half a year, or it does not start to begin with */
  double standing_s, standing_after_s;
  double key_off_a;         /**< what it draws meanwhile */
  int finding_count;        struct tailvolt_finding *findings; /**< safety, from the wiring alone; worst first */
  /** Over the vehicles of the spread; holds = plays the time asked for, NAN without one. Its volts are NAN, its shares those of the
   *  playing time. */
  struct tailvolt_certainty certainty;
  struct tailvolt_parked_soonest spread_soonest;
  char loads_off[TAILVOLT_TEXT_MAX]; /**< names of the file's loads that never run here, separated by commas; they take part where a
                                      *   profile's column load:NAME turns them on */
  struct tailvolt_parked_open stays_open; /**< why no driving puts back what was taken */
};

/** Fills `size` bytes with what the command uses; for tailvolt_default_parked_options(), which knows the caller's size. */
TAILVOLT_API void tailvolt_parked_options_init(struct tailvolt_parked_options *options, size_t size);
/** What the command uses; change fields of a copy. Options that were not begun with it, or by a program compiled
 * with the header of another version, are refused. */
static inline struct tailvolt_parked_options tailvolt_default_parked_options(void) {
  struct tailvolt_parked_options options;
  tailvolt_parked_options_init(&options, sizeof options);
  return options;
}

/** Plays with the engine off until the first of: the car could not be restarted, an amplifier cuts out, a
 * battery is at its limit of charge or rest voltage, limit_s.
 * \param profile NULL = the programme at the options' level; else what it says, its last row going on
 * \param out   free with tailvolt_parked_free()
 * \param error what and why; at least TAILVOLT_TEXT_MAX bytes, may be NULL
 * \return TAILVOLT_OK, TAILVOLT_BAD_INPUT (no battery, or an engine that runs), or as tailvolt_simulate().
 *         Stopped during the spread: TAILVOLT_OK with what was done, marked partial */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_parked(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                const struct tailvolt_parked_options *options, struct tailvolt_parked **out, char *error);

/** Frees it and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_parked_free(struct tailvolt_parked *parked);

/** Reports, as in tailvolt/report.h: text of at most 100 columns, one JSON document, a CSV table of one row. `system` is the one that was
 * played, `style` may be NULL. Free with tailvolt_report_free().
 * \return TAILVOLT_OK, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_parked_text(const struct tailvolt_system *system, const struct tailvolt_parked *parked,
                            const struct tailvolt_report_style *style, char **out);
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_parked_json(const struct tailvolt_system *system, const struct tailvolt_parked *parked,
                            char **out);
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_parked_csv(const struct tailvolt_parked *parked, char **out);

/** Where the profile of a run is mostly parked: puts into the result's `parked_answer` whether the car starts and how long it
 * plays. Otherwise, and where neither can be found, the result is left alone.
 * \param options  of the run; its record and progress are not used
 * \return TAILVOLT_OK, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_ask_parked(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                    const struct tailvolt_options *options, struct tailvolt_result *result);

/** The currents of a start, A, at a battery's and engine's temperature, C, from those given at 25 C. The turning current rises as the oil
 * thickens: petrol 1.1 times at 5 C and 2.55 times at -20 C, diesel 1.7 times at -20 C, its logarithm linear between, no more below -40 C
 * (service practice and handbook ranges). The breakaway current is that of the stalled starter and rises as copper's resistance falls,
 * 0.39 % a kelvin (IEC 60028). A car that is booted takes `start_needs_a` at any temperature. */
TAILVOLT_API void tailvolt_cold_start(const struct tailvolt_engine *engine, double temperature_c,
                                      double *cranking_a, double *breakaway_a);

/** The outcome of the next step. */
enum tailvolt_step_outcome {
  TAILVOLT_STEP_NOT_TRIED,   /**< nothing to change, or nothing that could be tried */
  TAILVOLT_STEP_NONE_HELPS,  /**< no single part gains 0.05 V */
  TAILVOLT_STEP_VOLTAGE,     /**< raises the voltage that is judged: `quantile_v` against `target_v` */
  TAILVOLT_STEP_CHARGE,      /**< raises the charge balance: `battery_a` */
  TAILVOLT_STEP_FUSE,        /**< a fuse reduced to what its cable allows */
  TAILVOLT_STEP_NONE_CHARGES /**< charge is lost, and no single part brings 0.05 A to the batteries that lose it */
};

enum { TAILVOLT_STEP_SETTINGS = 3 };

/** One change, and what the same profile gives with it. */
struct tailvolt_next_step {
  enum tailvolt_step_outcome outcome;
  enum tailvolt_part_kind kind;    /**< of the part that is changed */
  int index;                       /**< among those of its kind; conductors count as one kind */
  char name[TAILVOLT_NAME_MAX];
  char size[48];                   /**< its new size, as sold: "4 AWG", "95 Ah" */
  bool into_copper;                /**< a clad or aluminium cable becomes copper */
  bool by_engine;                  /**< a relay or converter is switched by the ignition: `size` says which of the two */
  int setting_count;
  char setting[TAILVOLT_STEP_SETTINGS][200]; /**< as --set takes them */
  int phase;                       /**< the one judged, enum tailvolt_phase */
  double quantile_v, target_v;     /**< of the worst amplifier, after the change */
  double missed_frac;              /**< share of time that may be below quantile_v */
  double battery_a;                /**< into the batteries that lose charge, after the change */
  enum tailvolt_verdict verdict, safety; /**< after the change */
  int short_phase;                 /**< where it still falls short, worst first; -1 = nowhere */
  enum tailvolt_verdict short_verdict;   /**< verdict there */
};

/** What to change first, tried by simulation: the largest entry of the sag ledger that a purchase can cure (a cable, a
 * joint, the battery, the alternator, a converter before a battery that runs down) one standard size up, or the oversized
 * fuse one down, on the same profile. One step only; tailvolt_remedy() searches for the smallest sufficient set.
 * \param system  read or parsed by the library; it is not changed
 * \param result  of that profile on that system; it is not changed
 * \param out     the caller's own; owns nothing
 * \return TAILVOLT_OK, _NO_MEMORY or _STOPPED. The options' record is not used */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_find_next_step(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                        const struct tailvolt_options *options, const struct tailvolt_result *result,
                        struct tailvolt_next_step *out);

/** The same as one sentence for the report's NEXT line: lower-case, no full stop; empty where nothing was tried. 2 * TAILVOLT_TEXT_MAX
 * bytes always do. */
TAILVOLT_API void tailvolt_next_step_text(const struct tailvolt_next_step *step, char *to, size_t size);

/** Whether a verdict hangs on one value that the file does not give. Run again with that value at `limit`, the verdict is
 * the other one: holds where it failed or was marginal, no longer holds where it held; one grain (1 A, 0.1 dB, 1 %, 0.1
 * mohm) nearer to what was assumed it is not.
 * \param out set to `known` = false where the file gives them all, the verdict is far from turning, or no value turns it
 * \return TAILVOLT_OK, _NO_MEMORY or _STOPPED. The options' record is not used */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_find_hangs_on(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                       const struct tailvolt_options *options, const struct tailvolt_result *result,
                       struct tailvolt_hangs_on *out);

#ifdef __cplusplus
}
#endif
#endif
