/* Remedy: why the voltage is low, what each cure is worth, and the cheapest set of cures that meets every
 * target, all found by simulating the whole profile.
 *
 * A cure is a list of settings on the system file, so the chosen ones can be written back into it. */
#ifndef TAILVOLT_REMEDY_H
#define TAILVOLT_REMEDY_H

#include <stddef.h>

#include "tailvolt/certainty.h"
#include "tailvolt/simulate.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Where the volts are lost, from runs with one thing made ideal. */
enum tailvolt_shortage {
  TAILVOLT_SHORTAGE_NONE,
  TAILVOLT_SHORTAGE_WIRE,   /**< feed, return, joints */
  TAILVOLT_SHORTAGE_FAST,   /**< the alternator's field does not follow the beat */
  TAILVOLT_SHORTAGE_SLOW,   /**< resistance and polarization of the battery */
  TAILVOLT_SHORTAGE_STEADY  /**< less is generated than used */
};

/** Families of cures. */
enum tailvolt_cure {
  TAILVOLT_CURE_FUSES,      /**< fuses and insulation put right, in every set */
  TAILVOLT_CURE_FEED,
  TAILVOLT_CURE_GROUND,
  TAILVOLT_CURE_STRAPS,     /**< battery-body, body-engine, charge lead */
  TAILVOLT_CURE_JOINTS,
  TAILVOLT_CURE_RETURN,     /**< a cable back to the battery instead of the body */
  TAILVOLT_CURE_OWN_FEED,   /**< fewer amplifiers on one feed */
  TAILVOLT_CURE_CAPACITOR,
  TAILVOLT_CURE_BATTERY,
  TAILVOLT_CURE_SECOND_BATTERY,
  TAILVOLT_CURE_ALTERNATOR,
  TAILVOLT_CURE_IDLE,
  TAILVOLT_CURE_LEVEL,
  TAILVOLT_CURE_CONVERTER,  /**< a bigger one before a battery that loses charge */
  TAILVOLT_CURES
};

/** Whether a cure is part of the chosen set, helps without being part of it, or does not help. */
enum tailvolt_answer_status { TAILVOLT_NEEDED, TAILVOLT_HELPS, TAILVOLT_USELESS };

/** What one cure alone is worth over the whole profile. */
struct tailvolt_worth {
  enum tailvolt_cure cure;
  char what[96];            /**< "4 AWG feed" */
  double gain_v;            /**< on the worst amplifier's lowest voltage relative to its target */
  double min_v;             /**< lowest voltage of the worst amplifier with it */
  double below_pct;         /**< time below target, worst amplifier and phase */
  double gain_pct;          /**< reduction of that */
  double gain_ah;           /**< change in charge left at the end, all batteries */
  double parked_s;          /**< playing time with the engine off; NAN = not asked for */
  double gain_parked_s;
  bool meets;               /**< alone meets every target */
  double cost, effort_h;    /**< the cost includes the hours. In the catalogue's unit (in the one built in 1 is a metre of 8 AWG
                             *   copper cable); what a price list holds, in its currency */
  int size;                 /**< which of the catalogue's sizes of this cure, from 1 */
  bool loses_charge;        /**< with it alone a battery loses charge for good */
};

/** One thing made ideal. */
enum tailvolt_ideal {
  TAILVOLT_IDEAL_WIRE,       /**< no resistance in feed, return and joints */
  TAILVOLT_IDEAL_BATTERY,    /**< no resistance, no polarization */
  TAILVOLT_IDEAL_ALTERNATOR, /**< no current limit */
  TAILVOLT_IDEAL_FIELD,      /**< no lag */
  TAILVOLT_IDEAL_CAPACITOR   /**< one beyond anything sold, at each amplifier */
};
/** What that would gain. */
struct tailvolt_counterfactual {
  enum tailvolt_ideal ideal;
  double gain_v, gain_pct;  /**< as in tailvolt_worth */
};
enum { TAILVOLT_COUNTERFACTUALS = 5 };

/** What an answer says about its cure. */
enum tailvolt_answer_kind {
  TAILVOLT_ANSWER_NOT_TRIED,     /**< the search was stopped first */
  TAILVOLT_ANSWER_NO_SUCH_PART,  /**< nothing to change here */
  TAILVOLT_ANSWER_NOT_NEEDED,    /**< every target is met without it */
  TAILVOLT_ANSWER_IN_SET,        /**< needed: part of the chosen set */
  TAILVOLT_ANSWER_SHORTENS,      /**< it plays for less time than without */
  TAILVOLT_ANSWER_BRINGS_LITTLE,
  TAILVOLT_ANSWER_DOES_ALONE,    /**< would do as well as the chosen set */
  TAILVOLT_ANSWER_NOT_ENOUGH,    /**< helps, but not enough */
  TAILVOLT_ANSWER_NOT_IN_CATALOGUE /**< there is a place for it, but no size on offer suits */
};

/** What the usual rule of thumb calls for; nothing here depends on it. */
struct tailvolt_rule_of_thumb {
  double rated_w;           /**< all amplifiers */
  double full_a;            /**< what they draw at full power, at 13.8 V */
  double car_a;             /**< what the car draws by itself */
  double feed_m;            /**< length of the feed */
  double feed_m2;           /**< copper that loses 0.5 V over that length at full power */
};

enum { TAILVOLT_ANSWERS = 5 };
/** What is said about a cure that people ask for. */
struct tailvolt_answer {
  enum tailvolt_cure cure;  /**< capacitor, second battery, feed, ground, alternator */
  enum tailvolt_answer_status status;
  double gain_v;            /**< for a part of the chosen set: how much lower the rest would be without it, where known */
  char with[96];            /**< the part that gains it; empty = none could be tried */
  enum tailvolt_answer_kind kind;
  bool gain_in_set;         /**< gain_v compares the set with it and the set without */
  bool in_minutes;          /**< parked playing time is what falls short: gain_parked_s counts */
  double gain_parked_s;     /**< NAN = not asked for */
  double then_v;            /**< lowest voltage with it alone */
  bool long_enough;         /**< plays as long as wanted, but misses another target */
  bool converter;           /**< the car has a converter in place of an alternator */
  struct tailvolt_rule_of_thumb rule;
  bool loses_charge;        /**< a battery loses charge with it alone: then_v lasts until that is empty */
};

/** An answer, and the rule of thumb beside it, one sentence each: lower-case, no full stop. 2 * TAILVOLT_TEXT_MAX bytes always do. */
TAILVOLT_API void tailvolt_answer_text(const struct tailvolt_answer *answer, char *to, size_t size);
TAILVOLT_API void tailvolt_rule_text(const struct tailvolt_answer *answer, char *to, size_t size);

/** One setting of a set. */
struct tailvolt_change {
  char key[128];            /**< "section.key" as --set takes it */
  char value[176];
  enum tailvolt_cure cure;
  double effort_h;          /**< of the cure it belongs to, given on its first change; else 0 */
  double price;             /**< likewise, labour included, in the list's currency; NAN = no price list, or not in it */
};

/** Hazards of the cures, and how the figures came about. Append only. */
enum tailvolt_remedy_caution_kind {
  TAILVOLT_REMEDY_FOUND,             /**< from the set's own run: see `finding` */
  TAILVOLT_REMEDY_ONLY_JUST,         /**< what keeps the set from a clean pass: see `reason` */
  TAILVOLT_REMEDY_FEED,              /**< grommets and clearances of a new feed */
  TAILVOLT_REMEDY_GROUND,            /**< bare metal under every lug */
  TAILVOLT_REMEDY_RETURN,            /**< a return cable does not replace the body ground */
  TAILVOLT_REMEDY_CAPACITOR,
  TAILVOLT_REMEDY_BATTERY,
  TAILVOLT_REMEDY_SECOND_BATTERY,
  TAILVOLT_REMEDY_CHARGE_LEAD,       /**< made for the old alternator [current_a] */
  TAILVOLT_REMEDY_BELT,              /**< a bigger alternator takes more torque */
  TAILVOLT_REMEDY_REGULATOR,         /**< set point commanded by the engine computer */
  TAILVOLT_REMEDY_IDLE_SPEED,        /**< if the engine computer allows it */
  TAILVOLT_REMEDY_IDLING,            /**< outdoors only */
  TAILVOLT_REMEDY_SLOW_ROWS,         /**< rows below idle speed were run at idle speed */
  TAILVOLT_REMEDY_SECOND_AS_NEW,     /**< charged as far as the first */
  TAILVOLT_REMEDY_BOUND,             /**< the search hit its limit of runs */
  TAILVOLT_REMEDY_CONVERTER,         /**< what feeds a bigger converter must carry more */
  TAILVOLT_REMEDY_TERMINALS,         /**< cable thicker than many terminals take */
  TAILVOLT_REMEDY_SECOND_BY_CONVERTER /**< a second battery that a converter charges */
};
/** One of them; what its kind does not use is empty. */
struct tailvolt_remedy_caution {
  enum tailvolt_remedy_caution_kind kind;
  double current_a;         /**< NAN where the kind has none */
  struct tailvolt_finding finding;
  struct tailvolt_reason reason;
};

/** A caution as one sentence. Arguments as for tailvolt_finding_text(). */
TAILVOLT_API void tailvolt_remedy_caution_text(const struct tailvolt_remedy_caution *caution, bool us_units, char *to,
                                               size_t size);

/** A fuse of the system with the remedy. */
struct tailvolt_remedy_fuse {
  char name[TAILVOLT_NAME_MAX];
  double rating_a;
  double rms_a;             /**< what it carries in the run */
  double smallest_a;        /**< smallest standard rating that carries that for hours and protects the cable; NAN =
                             *   none */
  double largest_a;         /**< largest standard rating that protects the cable; NAN = no cable found, or none */
};

/** A cable or strap that is laid for a set: new, or in place of a thinner one. */
struct tailvolt_remedy_lead {
  enum tailvolt_part_kind kind; /**< cable or strap */
  char name[TAILVOLT_NAME_MAX];
  char size[32];            /**< as sold: "4 AWG", "25 mm2" */
  char before[32];          /**< what it replaces; empty = nothing, or not known by its size */
  bool added;               /**< the system has no such lead yet */
  double length_m;
};

/** A set of cures with its run over the whole profile. */
struct tailvolt_remedy_set {
  char what[TAILVOLT_TEXT_MAX]; /**< "4 AWG feed + 130 A alternator" */
  int change_count;         struct tailvolt_change *changes;
  double cost, effort_h;    /**< as in tailvolt_worth */
  double price;             /**< labour included, in `currency`; NAN = no price list, or something is not in it */
  double margin_v;          /**< lowest voltage less target, worst amplifier */
  double below_pct;         /**< as in tailvolt_worth */
  double parked_s;          /**< NAN = not asked for */
  struct tailvolt_result *result; /**< belongs to the remedy, as all results in it do */
  int lead_count;           struct tailvolt_remedy_lead *leads;
  int fuse_count;           struct tailvolt_remedy_fuse *fuses;
  int caution_count;        struct tailvolt_remedy_caution *cautions; /**< hazards of the cures */
  struct tailvolt_certainty certainty; /**< in how many such cars it holds; not known where it was not asked for */
};

enum { TAILVOLT_RUNNERS_UP = 3 };

/** The outcome of a search. */
struct tailvolt_remedy {
  char system[TAILVOLT_TEXT_MAX], profile[TAILVOLT_TEXT_MAX];
  bool partial;             /**< stopped before the search was finished */
  struct tailvolt_result *before;
  bool met_before;          /**< the system as it is meets every target */
  double margin_before_v, below_before_pct; /**< of the system as it is, as in tailvolt_remedy_set */
  double margin_fitted_v, below_fitted_pct; /**< with only the fuses put right: gains count from here */
  enum tailvolt_shortage shortage;
  bool charge_short, voltage_short; /**< what was missed before: charge, voltage */
  enum tailvolt_part_kind worst_wire_kind; /**< the conductor with the largest drop on the worst amplifier's feed
                                            *   path */
  char worst_wire[TAILVOLT_NAME_MAX];      /**< its name */
  double worst_wire_v;      /**< NAN = none */
  double converter_a;       /**< what the converter gives at most by which alone charge reaches the battery that loses it; NAN =
                             *   none */
  int counterfactual_count; struct tailvolt_counterfactual counterfactuals[TAILVOLT_COUNTERFACTUALS];
  struct tailvolt_answer answers[TAILVOLT_ANSWERS];
  int worth_count;          struct tailvolt_worth *worth;
  bool found;               /**< chosen holds a set (perhaps empty: nothing is needed) */
  struct tailvolt_remedy_set chosen;
  int runner_up_count;      struct tailvolt_remedy_set runners_up[TAILVOLT_RUNNERS_UP];
  bool marginal_found;      /**< a cheaper set misses no target but has little margin */
  struct tailvolt_remedy_set marginal;
  double level_db;          /**< level that would hold without any part; NAN = not searched for, or none does */
  bool level_looked_for;    /**< the catalogue has levels, and they were tried */
  double quieter_db;        /**< how much quieter that is, positive: 0 = holds as it is; NAN = no level does, or not
                             *   known */
  char currency[8];         /**< of the prices; empty = none given */
  double parked_wanted_s, parked_before_s; /**< NAN = not asked for */
  int runs, whole_runs;     /**< tried; of these run in full to the end (the others were stopped once they had failed, or what they
                                 show was clear from longer steps) */
  bool exhausted;           /**< the limit of runs ended the search: a cheaper set may exist */
  int caution_count;        struct tailvolt_remedy_caution *cautions; /**< how the figures came about */
  struct tailvolt_certainty certainty_before; /**< of the car as it is */
  double sure_frac;         /**< share of such cars that was asked for; NAN = none */
  bool sure_reached;        /**< the set chosen holds in that share */
  bool sure_complete;       /**< the search was not cut short: of the sets that reach the share it is the cheapest, or none does */
  int sure_sets;            /**< sets whose cars were counted in that search */
  int most_parts;           /**< cures in one set that the search was allowed, 1 to 3 */
  double stays_open_v;      /**< the alternator's lowest set point, at which the relay or converter before the battery that loses charge
                             *   stays open; NAN = it does not */
};

/** What is wanted, and how it is looked for. */
struct tailvolt_remedy_options {
  size_t size;              /**< of this structure where the program was compiled; set by tailvolt_default_remedy_options() */
  struct tailvolt_options run; /**< for every run; its record is not used */
  double parked_s;          /**< wanted playing time, engine off; NAN = the system's target, if any */
  const char *prices;       /**< path of a CSV file with currency, prices and hours; NULL = none: hours and parts are given, no money */
  const char *catalogue;    /**< path of a CSV file of sizes and costs; NULL = the one built in */
  int threads;              /**< 0 = as many as there are processors */
  int most_parts;           /**< cures in one set, 1 to 3; 3 */
  int most_runs;            /**< limit of the search; 2000 */
  bool thorough;            /**< no pruning by monotonicity: every set in order of cost */
  bool cheapest;            /**< the cheapest set whatever the cause; else wire is put right before parts are added at
                             *   its end, a steady shortage gets an alternator, a raised idle comes last */
  int vehicles;             /**< cars drawn to say in how many of them a set holds; 0 = none, the default */
  double sure_frac;         /**< choose the cheapest set that holds in this share of them; NAN = no such wish */
  const struct tailvolt_profile *road; /**< where run.road_balance_a is that of another profile: that profile. Where idling and
                             *   road together could lose charge each set gets the balance of its own. NULL, the default: what the
                             *   system as it is has there counts for every set. It must outlive the search */
};

/** Fills `size` bytes with what the command uses; for tailvolt_default_remedy_options(), which knows the caller's size. */
TAILVOLT_API void tailvolt_remedy_options_init(struct tailvolt_remedy_options *options, size_t size);
/** What the command uses; change fields of a copy. Options that were not begun with it, or by a program compiled
 * with the header of another version, are refused. */
static inline struct tailvolt_remedy_options tailvolt_default_remedy_options(void) {
  struct tailvolt_remedy_options options;
  tailvolt_remedy_options_init(&options, sizeof options);
  return options;
}

/** Searches. `text` is the system file's text, `name` its path (recordings are found from there), `settings`
 *  overrides on top of it; `profile` was read against that system.
 *  \param out    free with tailvolt_remedy_free(), also after TAILVOLT_STOPPED
 *  \param error  what is wrong; at least TAILVOLT_TEXT_MAX bytes, may be NULL
 *  \return TAILVOLT_OK; TAILVOLT_STOPPED with *out filled as far as it got and marked partial (NULL where it got nowhere);
 *          TAILVOLT_BAD_INPUT or TAILVOLT_NOT_READABLE for the catalogue or the prices; or as tailvolt_simulate() */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_remedy(const char *text, const char *name, const struct tailvolt_setting *settings, int setting_count,
                const struct tailvolt_profile *profile, const struct tailvolt_remedy_options *options,
                struct tailvolt_remedy **out, char *error);

/** The system file's text with `settings` and the set's changes written into it, comments kept.
 *  \param text  as handed to tailvolt_remedy(), and `settings` likewise
 *  \param out   free with tailvolt_report_free()
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT (a setting that is none), TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_remedy_write(const char *text, const struct tailvolt_setting *settings, int setting_count,
                      const struct tailvolt_remedy_set *set, char **out);

/** Frees it and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_remedy_free(struct tailvolt_remedy *remedy);

/** The cause of the shortage as one sentence: lower-case, no full stop. 2 * TAILVOLT_TEXT_MAX bytes always do. */
TAILVOLT_API void tailvolt_shortage_text(const struct tailvolt_remedy *remedy, char *to, size_t size);

/** Reports of the remedy, as in report.h: free each text with tailvolt_report_free(); `system` and `style` may be NULL.
 *  \return TAILVOLT_OK, TAILVOLT_NO_MEMORY */
struct tailvolt_report_style;
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_remedy_text(const struct tailvolt_system *system, const struct tailvolt_remedy *remedy,
                            const struct tailvolt_report_style *style, char **out);
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_remedy_json(const struct tailvolt_system *system, const struct tailvolt_remedy *remedy, char **out);
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_remedy_csv(const struct tailvolt_remedy *remedy, char **out);

#ifdef __cplusplus
}
#endif
#endif
