/* Results of one simulation, as plain numbers. NAN means "no value" (null in JSON).
 *
 * Times are those of the profile. Every voltage and current is the mean over a step, stamped with the step's start. Means are over the
 * whole run where nothing else is said. Arrays are in the order of the system's; fuses are those among its conductors. */
#ifndef TAILVOLT_RESULT_H
#define TAILVOLT_RESULT_H

#include <stddef.h>

#include "tailvolt/certainty.h"
#include "tailvolt/finding.h"
#include "tailvolt/system.h"

#ifdef __cplusplus
extern "C" {
#endif

/** By the engine: turning at up to a quarter above idle speed, faster, off. */
enum tailvolt_phase { TAILVOLT_IDLE = 0, TAILVOLT_ROAD = 1, TAILVOLT_PARKED = 2 };
#define TAILVOLT_PHASES 3
/** What the vehicle is used for, judged by engine speed: idling; between idle and 2500 rpm; above; engine off. */
enum tailvolt_use { TAILVOLT_USE_IDLE = 0, TAILVOLT_USE_TOWN = 1, TAILVOLT_USE_MOTORWAY = 2, TAILVOLT_USE_PARKED = 3 };
#define TAILVOLT_USES 4
/** Dimming visible against a wall, and plainly visible (common practice; the eye sees a 2 % change of steady
 * light). */
#define TAILVOLT_DIM_VISIBLE_PCT 2.0
#define TAILVOLT_DIM_PLAIN_PCT 8.0

/** What a reason says and what its numbers are. Append only. */
enum tailvolt_reason_kind {
  TAILVOLT_REASON_SAFETY,       /**< see `finding` */
  TAILVOLT_REASON_BELOW_TARGET, /**< number = the voltage judged, below which it lies for the allowed share of the
                                 *   time; limit = target, share_pct below it, allowed_pct of the targets, least_v and
                                 *   time_s of the deepest dip, from_v so far below the target it fails */
  TAILVOLT_REASON_NEAR_TARGET,  /**< the same, too near to call; from_v so far above the target it holds */
  TAILVOLT_REASON_COLLAPSES,    /**< number = how often, time_s of the first */
  TAILVOLT_REASON_CUTS_OUT,     /**< number = how often, time_s = time spent silent */
  TAILVOLT_REASON_CHARGE_LOST,  /**< at idle: number = amperes lost, limit = amperes allowed; time_s = until half
                                 *   charge, wanted_s = how long that should last */
  TAILVOLT_REASON_CHARGE_MIX,   /**< over idle and road: number = mean amperes lost, limit = 0, share_pct idle */
  TAILVOLT_REASON_CHARGE_ROAD   /**< even on the road, of a profile that never idles: number = amperes lost, limit = 0 */
};

/** What a reason is about; SAFETY reasons go on the report's SAFETY line. */
enum tailvolt_topic { TAILVOLT_ABOUT_VOLTAGE, TAILVOLT_ABOUT_CHARGE, TAILVOLT_ABOUT_SAFETY };

/** Why a verdict is not "holds". */
struct tailvolt_reason {
  enum tailvolt_verdict status; /**< fails or marginal */
  enum tailvolt_topic topic;
  int phase;                    /**< enum tailvolt_phase, or -1 = all */
  enum tailvolt_reason_kind kind;
  struct tailvolt_part about;   /**< of charge: the first of the batteries meant; index -1 and no name = all of them */
  double number, limit;         /**< in the unit of its kind; NAN = none */
  double share_pct, time_s;     /**< NAN = none */
  struct tailvolt_finding finding; /**< of TAILVOLT_REASON_SAFETY */
  double least_v, allowed_pct, wanted_s, from_v; /**< NAN = none */
};

/** A reason as one sentence naming part, number, limit and time; numbers in the C locale.
 *  \param us_units feet, inches and Fahrenheit in place of metres and Celsius
 *  \param to       receives the text, cut to `size` bytes; TAILVOLT_TEXT_MAX always do */
TAILVOLT_API void tailvolt_reason_text(const struct tailvolt_reason *reason, bool us_units, char *to, size_t size);

/** One amplifier in one phase. */
struct tailvolt_amplifier_phase {
  double play_s;                 /**< time that it plays; where that is 0 the voltages are NAN */
  double min_v, min_time_s;      /**< lowest while it plays, and when */
  double low_1pct_v;             /**< below which it lies for 1 % of that time */
  double below_target_pct;       /**< share of that time below target_v */
  double target_v;
  double mean_a;                 /**< over the whole phase; NAN = no such phase */
  double quantile_v;             /**< missed for the share of the time that the targets allow: the voltage judged */
};

/** One amplifier, at its own terminals. */
struct tailvolt_amplifier_result {
  char name[TAILVOLT_NAME_MAX];
  double rest_v;                 /**< at the instant before the first step, nothing playing */
  double min_v, min_time_s;      /**< lowest, playing or not, and when */
  double min_without_ripple_v;   /**< lowest mean over a whole period of the bass note's ripple */
  double mean_v;
  double low_1pct_v;             /**< below which it lies for 1 % of the time that it plays */
  double target_v;               /**< in force at the worst moment */
  double below_target_pct;       /**< share of the time that it plays */
  double mean_a, peak_a;         /**< into it */
  double input_j;                /**< at its terminals */
  double output_j;               /**< to the speakers */
  double lost_output_db;         /**< NAN where the draw is prescribed or nothing plays */
  int cut_outs;
  int collapses;
  double first_collapse_s;       /**< NAN = none */
  double off_s;                  /**< time cut out */
  double play_s;
  struct tailvolt_amplifier_phase phase[TAILVOLT_PHASES];
  /* three values to measure on the car */
  double plus_drop_v;            /**< mean while playing: battery post to amplifier plus */
  double minus_drop_v;           /**< amplifier minus to battery negative post */
  double drop_at_a;              /**< amplifier current at which those two hold */
  double play_mean_v;            /**< mean while playing */
  int battery;                   /**< reference battery */
  int start_cut_outs;            /**< of cut_outs, those within 3 s after an engine start: not a fault of the installation */
  double meter_min_v;            /**< lowest 0.1 s mean: what a multimeter's min-hold shows */
  double start_min_v;            /**< lowest during engine starts (3 s, or as long as a simulated start takes); NAN = no start.
                                      No other lowest voltage counts those moments, unless the car stops and starts at every
                                      light */
};

/** Where an entry of the ledger loses its volts. */
enum tailvolt_drop {
  TAILVOLT_DROP_WIRING,         /**< cable, strap, joint, fuse or closed relay: see the part's kind */
  TAILVOLT_DROP_CHARGING,       /**< charging voltage lost since rest */
  TAILVOLT_DROP_AT_LIMIT,       /**< the same with the alternator at its limit */
  TAILVOLT_DROP_RESISTANCE,     /**< of the battery */
  TAILVOLT_DROP_POLARIZATION,   /**< of one branch of the battery */
  TAILVOLT_DROP_CHARGE_USED     /**< fall of the open-circuit voltage */
};

/** What happens in a branch of a battery's polarization. */
enum tailvolt_polarization {
  TAILVOLT_POLARIZATION_GIVEN,   /**< a branch that the file states */
  TAILVOLT_POLARIZATION_TRANSFER, /**< charge transfer at the plates, within a second */
  TAILVOLT_POLARIZATION_SLOW,    /**< about a minute */
  TAILVOLT_POLARIZATION_WELLS,   /**< charge within reach runs low, bound charge follows */
  TAILVOLT_POLARIZATION_SURFACE  /**< surface charge left by charging, used up */
};

/** One line of a sag ledger. */
struct tailvolt_ledger_entry {
  char name[TAILVOLT_NAME_MAX];  /**< of the part, as in the file */
  double current_a;              /**< through it at that moment, towards the amplifier */
  double drop_v;                 /**< what it has lost since rest; negative = it has gained */
  double share_pct;              /**< of the whole sag */
  bool ground_side;              /**< between amplifier minus and battery negative */
  enum tailvolt_drop drop;
  enum tailvolt_part_kind part_kind; /**< cable to fuse, isolator, or battery for the battery's own */
  int index;                     /**< of the conductor, isolator or battery in the system */
  int branch;                    /**< of TAILVOLT_DROP_POLARIZATION, from 0; else 0 */
  enum tailvolt_polarization polarization; /**< of TAILVOLT_DROP_POLARIZATION: what that branch is */
};

/** Where the volts of an amplifier go at its worst moment: rest_v - terminal_v is the sum of the entries and residual_v. */
struct tailvolt_ledger {
  char amplifier[TAILVOLT_NAME_MAX];
  char battery[TAILVOLT_NAME_MAX]; /**< from which its feed path begins */
  double time_s;                 /**< of the worst moment */
  double rest_v, terminal_v;     /**< at the amplifier, at rest and then */
  bool alternator_at_limit;      /**< it gave all it could then */
  int entry_count;
  struct tailvolt_ledger_entry *entries;
  double residual_v;             /**< what the entries leave unexplained: rounding */
  int amplifier_index, battery_index; /**< in the system; battery -1 = none reaches it */
};

/** One battery. */
struct tailvolt_battery_result {
  char name[TAILVOLT_NAME_MAX];
  double start_soc_pct, end_soc_pct, min_soc_pct; /**< of the usable charge, capacity_ah */
  double min_v;                  /**< lowest at its posts */
  double end_rest_v;             /**< open circuit voltage of the end charge */
  double charge_in_ah, charge_out_ah; /**< through its posts, each positive */
  double discharged_j, charged_j; /**< at its posts, each positive */
  double loss_j;                 /**< heat inside it */
  double mean_a[TAILVOLT_PHASES]; /**< charging positive; NAN = no such phase */
  double capacity_ah;            /**< usable, health applied */
  double end_c;                  /**< its temperature at the end */
  int group;                     /**< phase_group of the phase that is judged: at idle, else on the road, else parked */
  int phase_group[TAILVOLT_PHASES]; /**< the same number for batteries that were joined in the phase, by cable or by a relay that
                                  *   closed; the verdict judges the charge of each group */
  double high_a[TAILVOLT_PHASES]; /**< charging by computer: mean_a of the same profile at the high end of the set point; else 0 */
  double use_a[TAILVOLT_USES];   /**< mean_a by use; NAN = no such use */
};

/** The alternator, or the converter in its place. Means are over the time the engine runs (a hybrid: is ready). */
struct tailvolt_alternator_result {
  bool present;
  double output_j;               /**< at its terminals */
  double mean_a, peak_a;
  double at_limit_pct;           /**< share of that time in which it gives all it can */
  double mean_available_a;       /**< what it could give at its speed, voltage and heat */
  double mean_shaft_w;           /**< at the pulley, while the engine runs */
  double end_c;                  /**< winding; NAN with a fixed output or isothermal */
  double mean_torque_nm;         /**< at the alternator's shaft */
  double efficiency_pct;         /**< electrical over mechanical energy */
  bool by_converter;             /**< a hybrid's converter replaces it: it has no shaft, those figures are NAN */
};

/** One capacitor. */
struct tailvolt_capacitor_result {
  char name[TAILVOLT_NAME_MAX];
  double min_v;                  /**< lowest at its terminals */
  double peak_a;                 /**< greatest current, either way */
  double loss_j;                 /**< heat in its ESR */
};

/** A conductor against its insulation's limit: cool, within 10 K of it, above it. */
enum tailvolt_heat { TAILVOLT_COOL, TAILVOLT_WARM, TAILVOLT_TOO_HOT };

/** One cable, strap, joint or fuse. */
struct tailvolt_conductor_result {
  char name[TAILVOLT_NAME_MAX];
  enum tailvolt_conductor_kind kind;
  double rms_a, peak_a;          /**< peak either way */
  double max_drop_v;             /**< greatest voltage along it, either way */
  double loss_j, loss_w;         /**< heat in it, and its mean */
  double end_c;                  /**< at the end of the run; this and the next four are NAN for joints and fuses */
  double steady_c;               /**< where it would settle if it went on like that */
  double insulation_limit_c;
  double ampacity_a;             /**< what it carries for good in the air around it */
  enum tailvolt_heat status;
};

/** One fuse. */
struct tailvolt_fuse_result {
  char name[TAILVOLT_NAME_MAX];
  double rating_a, rms_a, peak_a; /**< peak either way */
  double margin_pct;             /**< 100 (1 - rms / rating) */
  bool opens;                    /**< even the slowest fuse within the gates would have */
  double opens_time_s;           /**< NAN = never */
  double cable_ampacity_a;       /**< lowest ampacity of what it protects; NAN = none found */
  bool may_open;                 /**< the quickest fuse within the gates would have opened */
  int conductor;                 /**< index of the fuse among the system's conductors */
  bool assumed;                  /**< not in the file */
  double largest_a;              /**< largest standard rating of its kind that protects its cable; NAN = none, or no cable */
};

/** Mean currents of a phase or a use. NAN where it does not occur. */
struct tailvolt_budget {
  bool present;                  /**< false = the phase does not occur */
  double duration_s;
  double available_a;            /**< what the alternator could give at its speed, voltage and heat */
  double generation_a;           /**< what it gives */
  double base_a;                 /**< all that is drawn but for amplifiers and starter: base load and loads */
  double amplifier_a;            /**< into the amplifiers */
  double battery_a;              /**< into the batteries at their posts: positive charges, negative discharges */
  double surplus_a;              /**< available less base less amplifiers; negative = the batteries have to help */
};

/** One use beside its currents: where a hand budget starts, and where it goes wrong. */
struct tailvolt_use_result {
  double label_a;                /**< mean of the alternator's label output at the speeds of this use: rated voltage, full field */
  double own_voltage_a;          /**< the same at the voltage it had */
  double alternator_v;           /**< its mean voltage while it gives current; NAN = none */
  double copper_c;               /**< mean winding temperature; NAN with a fixed output or isothermal */
  double kept_a;                 /**< mean rate at which the batteries' charge grows: gassing excluded */
  double base_load_a;            /**< mean base load of vehicle and profile, without loads */
  const double *load_most_frac;  /**< [loads] most each was on */
  const bool *plays;             /**< [amplifiers] whether it ever plays */
};

/** What a meter shows, positive against negative. */
struct tailvolt_meter_result {
  char name[TAILVOLT_NAME_MAX];
  double rest_v, min_v, mean_v, max_v; /**< rest: as an amplifier's rest_v */
};

/** The books: generated + from_storage = loads + amplifiers + losses + residual. */
struct tailvolt_energy_result {
  double generated_j;            /**< by the alternator, electrical */
  double from_storage_j;         /**< given by batteries, capacitors and the amplifiers' storage; negative = they hold more at the end */
  double loads_j;                /**< base load, loads and starter */
  double amplifiers_j;           /**< drawn by amplifiers behind their storage, speakers included */
  double losses_j;               /**< heat in conductors, isolators, batteries, capacitors and the amplifiers' storage */
  double residual_j;             /**< what does not add up: rounding, and what the solver leaves, of either sign */
};

/** One phase and its verdict. */
struct tailvolt_phase_result {
  bool present;                  /**< false = the phase does not occur */
  double duration_s;
  enum tailvolt_verdict status;
};

/** Values a file may leave out that move a verdict most. */
enum tailvolt_hangs_on_value {
  TAILVOLT_HANGS_ON_BASE_LOAD,    /**< A, of lights, wipers, blower */
  TAILVOLT_HANGS_ON_CREST_FACTOR, /**< dB, of the first programme */
  TAILVOLT_HANGS_ON_LOW_CURRENT,  /**< A, of the alternator at its lower label point */
  TAILVOLT_HANGS_ON_CHARGE,       /**< of the battery that starts the car, 0 to 1 */
  TAILVOLT_HANGS_ON_HEALTH,       /**< ... what is left of its capacity */
  TAILVOLT_HANGS_ON_BODY_SHELL,   /**< ohm */
  TAILVOLT_HANGS_ON_VALUES
};

/** The assumed value whose error would turn a verdict soonest, within the range of cars nobody has measured. */
struct tailvolt_hangs_on {
  bool known;                    /**< false: none would */
  enum tailvolt_hangs_on_value value;
  double number;                 /**< what was assumed, in the unit of `value` */
  double limit;                  /**< nearest value at which a verdict that holds no longer does, or another one
                                  *   holds */
  bool above;                    /**< `limit` is above what was assumed */
};

/** The whole result. */
struct tailvolt_result {
  char system[TAILVOLT_TEXT_MAX], profile[TAILVOLT_TEXT_MAX]; /**< their names, cut */
  double start_s, duration_s;
  double step_s;                 /**< longest step in use */
  long long steps;               /**< taken, without settling */
  enum tailvolt_verdict status;  /**< worst of the reasons but for safety's; `safety` is theirs */
  int reason_count;     struct tailvolt_reason *reasons;
  int amplifier_count;  struct tailvolt_amplifier_result *amplifiers;
  int ledger_count;     struct tailvolt_ledger *ledgers;      /**< one per amplifier */
  int battery_count;    struct tailvolt_battery_result *batteries;
  struct tailvolt_alternator_result alternator;
  int capacitor_count;  struct tailvolt_capacitor_result *capacitors;
  int conductor_count;  struct tailvolt_conductor_result *conductors;
  int fuse_count;       struct tailvolt_fuse_result *fuses;
  struct tailvolt_budget driving, parked, phase_budget[TAILVOLT_PHASES]; /**< driving: idle and road together */
  int meter_count;      struct tailvolt_meter_result *meters;
  struct tailvolt_energy_result energy;
  struct tailvolt_phase_result phases[TAILVOLT_PHASES];
  int caution_count;    struct tailvolt_finding *cautions;    /**< what leaves the verdict alone;
                                                               *   tailvolt_finding_text() */
  unsigned long long state_hash; /**< of the final state's bits */
  double settled_s;              /**< settling run with the music off before the start; 0 where the engine is
                                  *   off then */
  struct tailvolt_budget uses[TAILVOLT_USES];
  struct tailvolt_use_result use_details[TAILVOLT_USES];
  /** Charging by computer: the balance once charge has fallen below `low end above`, at the high end of the set point. */
  struct tailvolt_swing {
    bool present;                /**< the set point swings; phase_budget is for the low end */
    double low_v, high_v;
    double low_end_above_pct;
    double high_balance_a[TAILVOLT_PHASES]; /**< charging positive; 0 = no such phase */
    double high_surplus_a[TAILVOLT_PHASES]; /**< what the alternator has to spare there */
    int watched;                 /**< the battery by whose charge the computer goes to the high end */
  } swing;
  /** Where the profile is mostly parked: what tailvolt_parked() says of the same car, filled in by the caller. */
  struct tailvolt_parked_answer {
    bool asked;
    double until_s;              /**< how long it plays before something ends it; NAN = longer than the limit */
    double restart_s;            /**< when it no longer starts; NAN = later than the limit */
  } parked_answer;
  /** What tailvolt_find_hangs_on() says of the same run, filled in by the caller. */
  struct tailvolt_hangs_on hangs_on;
  /** How much a halogen lamp dims on each beat: median over beats of 1 - lowest/highest light. */
  struct tailvolt_lights {
    bool known;                  /**< a lamp was on while music played */
    double dim_pct;
    bool visible;                /**< at TAILVOLT_DIM_VISIBLE_PCT or more */
    bool if_halogen;             /**< the kind of lamp is not known */
    int load;                    /**< which load, -1 = the headlamps at the starting battery's posts */
  } lights;
  double margin_v;               /**< lowest quantile_v - target_v of all; NAN = nothing plays */
  bool targets_met;              /**< margin not negative, no cut-out, charge kept: what --strict checks */
  enum tailvolt_verdict safety;  /**< worst of the safety reasons, which are not part of `status` */
  double *use_load_frac;         /**< owns what use_details points to */
  bool *use_plays;
  /** What tailvolt_certainty() says of all profiles that were run, filled in by the caller in the run that is shown first. */
  struct tailvolt_certainty certainty;
  double high_margin_v;          /**< where the set point swings: margin_v of the same profile at its high end; NAN = it does not */
  bool high_end_holds;           /**< ... and whether the voltage holds there */
};

/** Frees it and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_result_free(struct tailvolt_result *result);

#ifdef __cplusplus
}
#endif
#endif
