/* How sure an answer is: the values of a car that nobody has measured, each with its range, and their effect on a verdict.
 *
 * Values are not drawn one by one. A vehicle is a point of a few dozen independent factors (its age, the honesty of its cable
 * kit, the quality of its new joints, ...), and each factor drives the values that belong together. */
#ifndef TAILVOLT_CERTAINTY_H
#define TAILVOLT_CERTAINTY_H

#include <stddef.h>

#include "tailvolt/finding.h"
#include "tailvolt/profile.h"
#include "tailvolt/system.h"

#ifdef __cplusplus
extern "C" {
#endif

/** What makes cars differ; each is one number per vehicle, or one per part where it says so. */
enum tailvolt_factor {
  TAILVOLT_FACTOR_NIGHT,        /**< what is switched on: base load, lamps */
  TAILVOLT_FACTOR_AGE,          /**< both healths of the battery that starts the car */
  TAILVOLT_FACTOR_CHARGE,       /**< charge of every battery: how the car has been driven */
  TAILVOLT_FACTOR_LOW_SPEED,    /**< alternator at low speed */
  TAILVOLT_FACTOR_IDLE,         /**< idle speed of the engine */
  TAILVOLT_FACTOR_PULLEY,
  TAILVOLT_FACTOR_WORKMANSHIP,  /**< all new joints together */
  TAILVOLT_FACTOR_BAD_JOINT,    /**< which new joint, if any, is a bad one */
  TAILVOLT_FACTOR_KIT,          /**< ohms per metre of every installed cable: one kit is equally honest */
  TAILVOLT_FACTOR_POWER,        /**< each amplifier: share of its claimed power that it delivers */
  TAILVOLT_FACTOR_SHELL,        /**< sheet metal */
  TAILVOLT_FACTOR_OLD_JOINT,    /**< each old joint, strap or stud by itself */
  TAILVOLT_FACTOR_SET_POINT,
  TAILVOLT_FACTOR_OUTSIDE,      /**< air outside and under the bonnet */
  TAILVOLT_FACTOR_LABEL,        /**< alternator's or converter's label current */
  TAILVOLT_FACTOR_EFFICIENCY,   /**< each amplifier */
  TAILVOLT_FACTOR_STORAGE,      /**< each amplifier: internal capacitance */
  TAILVOLT_FACTOR_FUSES,        /**< drop of fuses and their holders */
  TAILVOLT_FACTOR_LENGTHS,      /**< of every run: all estimated by the same eye */
  TAILVOLT_FACTOR_CRANKING_LABEL, /**< each battery */
  TAILVOLT_FACTOR_CAPACITY,     /**< each battery */
  TAILVOLT_FACTOR_LOADS,        /**< draw of the factory loads other than lamps */
  TAILVOLT_FACTOR_CUT_OUT,      /**< each amplifier */
  TAILVOLT_FACTOR_IDLE_DRAW,    /**< each amplifier */
  TAILVOLT_FACTOR_INSIDE,       /**< each amplifier: internal resistance */
  TAILVOLT_FACTOR_STARTER,      /**< currents of a start */
  TAILVOLT_FACTOR_OTHER_AGE,    /**< both healths of the other batteries */
  TAILVOLT_FACTOR_FACTORY_CABLE,
  TAILVOLT_FACTOR_DRIFT,
  TAILVOLT_FACTOR_FIELD,
  TAILVOLT_FACTOR_KEY_OFF,
  TAILVOLT_FACTOR_CAPACITOR,    /**< each */
  TAILVOLT_FACTOR_ISOLATOR,     /**< each */
  TAILVOLT_FACTOR_LEVEL,        /**< of the music: only where [tolerance] gives it */
  TAILVOLT_FACTOR_METER,        /**< each measured value by itself */
  TAILVOLT_FACTORS
};

/** Which value. */
enum tailvolt_uncertain_value {
  TAILVOLT_VALUE_BASE_LOAD, TAILVOLT_VALUE_AMBIENT, TAILVOLT_VALUE_ENGINE_BAY, TAILVOLT_VALUE_KEY_OFF,
  TAILVOLT_VALUE_IDLE_SPEED, TAILVOLT_VALUE_CRANKING, TAILVOLT_VALUE_BREAKAWAY, TAILVOLT_VALUE_START_NEEDS,
  TAILVOLT_VALUE_RATED_CURRENT, TAILVOLT_VALUE_LOW_CURRENT, TAILVOLT_VALUE_PULLEY_RATIO, TAILVOLT_VALUE_SET_POINT,
  TAILVOLT_VALUE_DRIFT, TAILVOLT_VALUE_FIELD_TIME, TAILVOLT_VALUE_FIXED_OUTPUT, TAILVOLT_VALUE_CONVERTER_CURRENT,
  TAILVOLT_VALUE_CONVERTER_SET_POINT,
  TAILVOLT_VALUE_CAPACITY, TAILVOLT_VALUE_COLD_CRANKING, TAILVOLT_VALUE_CHARGE, TAILVOLT_VALUE_RESTED_VOLTAGE,
  TAILVOLT_VALUE_HEALTH, TAILVOLT_VALUE_CRANKING_HEALTH, TAILVOLT_VALUE_BATTERY_RESISTANCE,
  TAILVOLT_VALUE_PER_METRE, TAILVOLT_VALUE_LENGTH, TAILVOLT_VALUE_MEASURED_DROP, TAILVOLT_VALUE_JOINT, TAILVOLT_VALUE_FUSE,
  TAILVOLT_VALUE_LOAD_POWER,
  TAILVOLT_VALUE_RATED_POWER, TAILVOLT_VALUE_EFFICIENCY, TAILVOLT_VALUE_CUT_OUT, TAILVOLT_VALUE_IDLE_CURRENT,
  TAILVOLT_VALUE_INTERNAL_CAPACITANCE, TAILVOLT_VALUE_INTERNAL_RESISTANCE, TAILVOLT_VALUE_LEVEL,
  TAILVOLT_VALUE_CAPACITANCE, TAILVOLT_VALUE_ESR,
  TAILVOLT_VALUE_ISOLATOR_RESISTANCE, TAILVOLT_VALUE_CLOSES_ABOVE, TAILVOLT_VALUE_OPENS_BELOW, TAILVOLT_VALUE_ISOLATOR_DROP,
  TAILVOLT_VALUE_ISOLATOR_OUTPUT, TAILVOLT_VALUE_ISOLATOR_EFFICIENCY,
  TAILVOLT_VALUES
};

/** How cars are distributed between `low` and `high`. */
enum tailvolt_distribution {
  TAILVOLT_EVEN,       /**< every value equally likely */
  TAILVOLT_UPPER_END,  /**< towards the upper end: high - (high - low) u^1.5, u even; falls as its factor rises */
  TAILVOLT_BY_RATIO    /**< every ratio equally likely */
};

/** Where the number in the file's car comes from. */
enum tailvolt_origin {
  TAILVOLT_FROM_DEFAULT,   /**< assumed: the file does not give it */
  TAILVOLT_FROM_FILE,      /**< a label, or somebody's word */
  TAILVOLT_FROM_METER      /**< marked `measured`, or a measurement by nature: the meter's range */
};

/** A value that may differ in the actual car. SI units. */
struct tailvolt_uncertain {
  char key[2 * TAILVOLT_NAME_MAX]; /**< "section.key", as --set takes it */
  enum tailvolt_uncertain_value value;
  struct tailvolt_part part;
  double nominal;               /**< what the system has */
  double low, high;             /**< all cars outside the tail lie here; `nominal` need not */
  enum tailvolt_distribution distribution;
  double tail_frac, tail_high;  /**< this share lies above `high`, up to tail_high, by ratio; 0 = none */
  enum tailvolt_origin origin;
  bool by_tolerance;            /**< the range is the file's [tolerance] */
  bool when_parked_only;        /**< has no effect while the engine runs */
  enum tailvolt_factor factor;
  int factor_index;             /**< which of a vehicle's numbers drives it, from 0 */
  int tail_index;               /**< which number decides whether it is in the tail; -1 = the same */
  int tail_place;               /**< ... in this slice of it, tail_frac wide, counted from 0 */
  const char *reason;           /**< of the range, with its source; the library's, constant */
  enum tailvolt_cranking_standard cranking_standard; /**< for a cold cranking current */
};

/** All values of a system that are uncertain, in the order of the file's parts. */
struct tailvolt_uncertainty {
  int count;
  struct tailvolt_uncertain *values;
  int factor_count;                 /**< independent numbers per vehicle */
  enum tailvolt_factor *factors;    /**< [factor_count] what each is */
};

/** Lists them. Music and targets are not uncertain: an answer is for the stated music. Also not listed are things a number
 *  cannot be wrong about: kinds, places, materials, points.
 *  \param out  free with tailvolt_uncertainty_free()
 *  \return TAILVOLT_OK, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_uncertainty_of(const struct tailvolt_system *system,
                                                                           struct tailvolt_uncertainty **out);
/** Frees it and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_uncertainty_free(struct tailvolt_uncertainty *uncertainty);

/** The value in a vehicle whose factors are `factors[factor_count]`, each from 0 to 1: from `low` to `high`, or in its tail up to
 *  `tail_high`. */
TAILVOLT_API double tailvolt_uncertain_draw(const struct tailvolt_uncertain *value, const double *factors);

/** Mean and standard deviation over all cars, in closed form. */
TAILVOLT_API double tailvolt_uncertain_mean(const struct tailvolt_uncertain *value);
TAILVOLT_API double tailvolt_uncertain_deviation(const struct tailvolt_uncertain *value);

/** A number of such a value with its unit, as --set takes it: "1.9 mohm", "640 A EN". `digits` significant digits, 0 = as many as
 *  read back to the same number. `to` of 64 bytes is always enough. */
TAILVOLT_API void tailvolt_uncertain_write(const struct tailvolt_uncertain *value, double number, int digits, char *to, size_t size);

/** Puts a number into a system's fields and derives nothing else from it: a fuse or cable that was chosen stays. The number is
 *  not checked; what tailvolt_uncertain_draw() gives always fits. The run finds labels that cannot be met together. The outside air
 *  of a profile is in its rows and stays untouched.
 *  \param value  listed by tailvolt_uncertainty_of() of this system or of one that it is a copy of */
TAILVOLT_API void tailvolt_uncertain_put(struct tailvolt_system *system, const struct tailvolt_uncertain *value, double number);

#define TAILVOLT_MEASURE_FIRST_MAX 8

/** Below which 10, 50 and 90 % of the vehicles lie. */
struct tailvolt_three_quantiles { double p10, p50, p90; };

/** A value whose not being known moves the answer. */
struct tailvolt_measure_first {
  char key[2 * TAILVOLT_NAME_MAX];     /**< as --set takes it: of the values that go together the one to be measured */
  struct tailvolt_part part;
  enum tailvolt_uncertain_value value;
  enum tailvolt_factor factor;
  int factor_index;
  double share_pct, error_pct;         /**< of the variance of the answer, and its standard error */
};

/** How sure an answer is, over vehicles like the one described. */
struct tailvolt_certainty {
  bool known;                          /**< false: not asked for */
  int vehicles;                        /**< that were computed */
  int refused;                         /**< that could not be, and are left out: labels that contradict each other */
  bool partial;                        /**< stopped before all were done */
  double holds_pct;                    /**< of them have what is wanted: every target met, no cut-out, charge kept */
  double holds_low_pct, holds_high_pct; /**< the estimate's interval of 90 % */
  struct tailvolt_three_quantiles min_v; /**< lowest voltage at any amplifier; NAN = nothing plays */
  double below_target_pct;             /**< of them miss a target of voltage, or cut out */
  double charge_lost_pct;              /**< ... lose charge */
  bool of_charge;                      /**< more of them lose charge than miss a voltage: the shares are those of the charge */
  int measure_first_count;             /**< those whose share is more than twice its error, the greatest first; where errors cannot tell
                                        *   them apart, in the order of what one deviation at the mean car does */
  struct tailvolt_measure_first measure_first[TAILVOLT_MEASURE_FIRST_MAX];
  double unexplained_pct;              /**< of the variance, by no value alone; NAN = shares were not asked for, or nothing varies */
  bool by_stretches;                   /**< the worst seconds of the full run stood for the profiles */
  double level_db;                     /**< half width in which [tolerance] has the level drawn; NAN = the music stated */
};

struct tailvolt_result;
struct tailvolt_options;

/** How vehicles are drawn and run. */
struct tailvolt_certainty_options {
  size_t size;              /**< of this structure where the program was compiled; set by tailvolt_default_certainty_options() */
  const struct tailvolt_options *run; /**< of the runs; NULL = defaults. Its record and progress are not used */
  int vehicles;             /**< to be drawn; 0 = 64, or as many of them as the budget allows, 16 at least */
  double budget_s;          /**< processor time that may be taken where `vehicles` is 0, counted in steps of a usual machine, so that
                             *   the answer does not depend on the machine; 3 s. With less than is needed shares are left out first */
  unsigned long seed;       /**< of the vehicles, 1 */
  int threads;              /**< 0 = as many as there are processors */
  bool shares;              /**< say what to measure first; true */
  bool whole;               /**< run whole profiles for every vehicle */
  bool same_day;            /**< the profiles are of one day: idling is judged with the road of another one of them */
  int (*progress)(void *context, double done_frac); /**< nonzero = stop; may be NULL */
  void *context;
  bool quick;               /**< a first share in a fraction of the time: no piece in full detail, nothing about what to measure
                             *   first; the lowest voltages are not known */
  double least_rpm;         /**< rows in which the engine turns slower are lifted to it: a raised idle; 0 = as they are */
};

/** Fills `size` bytes with what the command uses; for tailvolt_default_certainty_options(), which knows the caller's size. */
TAILVOLT_API void tailvolt_certainty_options_init(struct tailvolt_certainty_options *options, size_t size);
/** What the command uses; change fields of a copy. Options that were not begun with it, or by a program compiled
 * with the header of another version, are refused. */
static inline struct tailvolt_certainty_options tailvolt_default_certainty_options(void) {
  struct tailvolt_certainty_options options;
  tailvolt_certainty_options_init(&options, sizeof options);
  return options;
}

/** Draws vehicles like the system and runs profiles with each: in how many of them every profile holds, how low the voltage
 *  falls, and which value to measure first. Long profiles are stood for by their worst seconds: the voltage that is judged comes
 *  within 0.2 V for each vehicle and within 0.08 V on average, and over six jobs with four seeds each the 10 % quantile of the
 *  lowest voltage within 0.27 V of that of 4 096 vehicles. The same bits for any number of threads.
 *  \param profiles  that must all hold, `profile_count` of them
 *  \param results   theirs of the car described, in full, in that order; NULL = they are run here
 *  \param error     what and why; at least TAILVOLT_TEXT_MAX bytes, may be NULL
 *  \return TAILVOLT_OK; TAILVOLT_STOPPED by `progress` before a first batch was done (later: OK and `partial`); TAILVOLT_NO_MEMORY,
 *          or as tailvolt_simulate() where the car described cannot be run */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_certainty(const struct tailvolt_system *system, const struct tailvolt_profile *const *profiles, int profile_count,
                   const struct tailvolt_result *const *results, const struct tailvolt_certainty_options *options,
                   struct tailvolt_certainty *out, char *error);

/** An answer that is being worked out. */
struct tailvolt_certainty_beside;

/** The same while the program does something else, on one thread of its own; where there is none, tailvolt_certainty_end() does it.
 *  All that is handed in must outlive that call, but for `options` itself. `progress` is called from the thread that does it; nonzero
 *  from there is also how to give it up.
 *  \param out  must be ended with tailvolt_certainty_end(); NULL where there is no memory
 *  \return TAILVOLT_OK, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_certainty_begin(const struct tailvolt_system *system, const struct tailvolt_profile *const *profiles, int profile_count,
                         const struct tailvolt_result *const *results, const struct tailvolt_certainty_options *options,
                         struct tailvolt_certainty_beside **out);
/** Waits for it, and frees `beside`.
 *  \param out, error  as in tailvolt_certainty(); `error` may be NULL
 *  \return what tailvolt_certainty() would have */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_certainty_end(struct tailvolt_certainty_beside *beside, struct tailvolt_certainty *out, char *error);

#ifdef __cplusplus
}
#endif
#endif
