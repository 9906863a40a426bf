/* What to measure on a car, and what the readings say about it.
 *
 * A reading is a voltage between two points or a current in a conductor, under one of five conditions that anybody can set
 * up. What a meter should show is simulated, by the same model as everything else; readings then move the values nobody
 * knew, as far as the meter's own error allows. */
#ifndef TAILVOLT_MEASURE_H
#define TAILVOLT_MEASURE_H

#include <stddef.h>

#include "tailvolt/certainty.h"
#include "tailvolt/report.h"

#ifdef __cplusplus
extern "C" {
#endif

/** What the car does during a reading. */
enum tailvolt_condition {
  TAILVOLT_CONDITION_REST,     /**< engine off for hours, everything off */
  TAILVOLT_CONDITION_TONE_OFF, /**< engine off, a tone of 50 Hz for ten seconds, read at its end */
  TAILVOLT_CONDITION_IDLE,     /**< engine at idle for a minute (a hybrid: ready), everything off that can be */
  TAILVOLT_CONDITION_LIGHTS,   /**< the same, everything on as at night in the rain, music off */
  TAILVOLT_CONDITION_TONE,     /**< the same with the tone */
  TAILVOLT_CONDITIONS
};

/** What is read. */
enum tailvolt_instrument {
  TAILVOLT_VOLTMETER,          /**< display: mean over 0.3 s */
  TAILVOLT_MIN_HOLD,           /**< lowest mean over 0.1 s since the tone began */
  TAILVOLT_CLAMP               /**< direct current, display */
};

/** Where and when something is read. */
struct tailvolt_probe {
  enum tailvolt_condition condition;
  enum tailvolt_instrument instrument;
  int positive, negative;      /**< points of red and black; -1 with a clamp */
  int conductor;               /**< what the clamp is around; -1 with a voltmeter */
  bool against;                /**< the clamp's arrow points from the conductor's `to` to its `from` */
};

#define TAILVOLT_STRADDLED_MAX 24

/** Conductors between two probes, along the path of least resistance. */
struct tailvolt_straddled {
  int count;                   /**< 0 = a source lies between the probes */
  int conductor[TAILVOLT_STRADDLED_MAX];
};

/** A reading worth taking. Volts or amperes. */
struct tailvolt_planned {
  struct tailvolt_probe probe;
  struct tailvolt_straddled between;
  double normal;               /**< what the file's car shows */
  double low, high;            /**< nine in ten such cars are within these */
  double tolerance;            /**< of the meter, plus or minus */
  double worth_pct;            /**< share of the uncertainty in the verdict's margin that this reading and those before it remove */
};

/** One reading taken. */
struct tailvolt_reading_taken {
  struct tailvolt_probe probe;
  double value;                /**< V or A */
};

/** What is wrong with a reading; several may apply. */
enum tailvolt_reading_notice {
  TAILVOLT_NOTICE_SWAPPED = 1,     /**< a drop with the wrong sign: probes swapped; sign reversed */
  TAILVOLT_NOTICE_MILLIVOLTS = 2,  /**< a thousand times what is possible: mV typed as V; taken as mV */
  TAILVOLT_NOTICE_OUTSIDE = 4,     /**< outside what nine in ten such cars show */
  TAILVOLT_NOTICE_ODD = 8          /**< the readings cannot all be right, and this one fits worst */
};

/** A reading judged. */
struct tailvolt_judged {
  struct tailvolt_probe probe;
  struct tailvolt_straddled between;
  double value;                /**< as used */
  double typed;                /**< as given */
  unsigned notices;            /**< of enum tailvolt_reading_notice; 0 = none */
  double tolerance;            /**< of the meter */
  double normal, low, high;    /**< as in the plan */
  double fitted;               /**< what the estimated car shows */
  double resistance_ohm, error_ohm; /**< for a drop whose current is read too, with its error bar (one deviation); NAN = no such
                                     *   current */
  double usual_ohm, usual_high_ohm; /**< of the same parts in the file's car; at the upper ends of their ranges, where they are not bad */
};

/** A value that the readings determine. */
struct tailvolt_learned {
  struct tailvolt_uncertain what; /**< as it was before */
  double before, before_error; /**< mean over cars and one deviation, in its unit */
  double after, after_error;
  bool measured;               /**< known as well as a meter can tell: written with the word `measured` */
  char setting[160];           /**< "section.key = value measured"; empty where it is not written */
};

/** What the readings are to settle. */
struct tailvolt_measure_options {
  size_t size;                 /**< of this structure where the program was compiled; set by tailvolt_default_measure_options() */
  double tone_w;               /**< power of the tone into load or speakers; NAN = a quarter of the amplifier's rated power */
  int most;                    /**< readings in the plan; 8 */
  int amplifier;               /**< the one that plays the tone; -1 = the most powerful */
  int threads;                 /**< 0 = one per processor */
  const struct tailvolt_profile *const *profiles; /**< what the verdict to be settled is about */
  int profile_count;           /**< 0 = two minutes of music at idle */
  const struct tailvolt_certainty_options *sure; /**< how its vehicles are run; NULL = defaults */
};

/** Fills `size` bytes with what the command uses; for tailvolt_default_measure_options(), which knows the caller's size. */
TAILVOLT_API void tailvolt_measure_options_init(struct tailvolt_measure_options *options, size_t size);
/** What the command uses; change fields of a copy. Options that were not begun with it, or by a program compiled
 * with the header of another version, are refused. */
static inline struct tailvolt_measure_options tailvolt_default_measure_options(void) {
  struct tailvolt_measure_options options;
  tailvolt_measure_options_init(&options, sizeof options);
  return options;
}

/** What to read. */
struct tailvolt_measure_plan {
  int amplifier;               /**< plays the tone */
  double tone_w;
  int count;
  struct tailvolt_planned *readings; /**< by condition, in the best order to take them */
  struct tailvolt_certainty certainty; /**< before any of them: what the list starts from */
};

/** The shortest list of readings that settles the verdict: each time the reading is chosen that leaves least uncertain what
 *  tailvolt_certainty() answers, from the effects behind its shares and from what a reading tells about each value.
 *  \param out    free with tailvolt_measure_plan_free()
 *  \param error  at least TAILVOLT_TEXT_MAX bytes, may be NULL
 *  \return TAILVOLT_OK, or a status of 1xx, 2xx (error says why), 3xx */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_measure_plan(const struct tailvolt_system *system, const struct tailvolt_measure_options *options,
                      struct tailvolt_measure_plan **out, char *error);
/** Frees it and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_measure_plan_free(struct tailvolt_measure_plan *plan);

/** What readings say. */
struct tailvolt_estimate {
  int amplifier;
  double tone_w;
  int count;
  struct tailvolt_judged *readings;  /**< [count] as given */
  double chi_square, freedom;  /**< of the readings against the meters' tolerance, whatever the car; freedom 0 = nothing to compare */
  bool contradict;             /**< they cannot all be right (odds below one in a thousand) */
  int learned_count;
  struct tailvolt_learned *learned;  /**< what is better known than before, best first */
};

/** Judges readings: estimates the system's values from them by Gauss-Newton, with the ranges of tailvolt_uncertainty_of()
 *  as jointly normal priors.
 *  \param options   the plan's: the tone and its amplifier; its profiles are not used
 *  \param readings  `count` of them, 1 at least
 *  \param out       free with tailvolt_estimate_free()
 *  \param error     at least TAILVOLT_TEXT_MAX bytes, may be NULL
 *  \return TAILVOLT_OK; TAILVOLT_BAD_INPUT (no reading; nothing that could play a tone); or as tailvolt_simulate() */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_estimate(const struct tailvolt_system *system, const struct tailvolt_measure_options *options,
                 const struct tailvolt_reading_taken *readings, int count, struct tailvolt_estimate **out, char *error);
/** Frees it and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_estimate_free(struct tailvolt_estimate *estimate);

/** The text of a system file with what was learned, comments kept, each value followed by the date.
 *  \param text  of the system file as it was read, with the settings that were in force
 *  \param date  such as "2026-11-29"
 *  \param out   free with tailvolt_system_text_free()
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_estimate_write(const char *text, const struct tailvolt_setting *settings, int setting_count,
                       const struct tailvolt_estimate *estimate, const char *date, char **out);

/** Tolerance of an ordinary meter, plus or minus, in the unit of the reading: volts 0.5 % and 2 digits (of 0.1 mV below 0.2 V, 1 mV
 *  below 2 V, else 10 mV), clamp 2.5 % and 5 digits of 0.1 A, zeroed within 0.5 A. */
TAILVOLT_API double tailvolt_meter_tolerance(enum tailvolt_instrument instrument, double value);

/** How a reading is named in a file: "tone: feed end > amplifier plus", "lights: clamp charge lead", "rest: battery post > ground",
 *  "tone: min battery post > ground". At most `size` bytes. */
TAILVOLT_API void tailvolt_probe_write(const struct tailvolt_system *system, const struct tailvolt_probe *probe, char *to,
                                       size_t size);
/** The reverse; points and conductors go by the names of the system.
 *  \param error  at least TAILVOLT_TEXT_MAX bytes, may be NULL
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT with `*probe` not to be used */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_probe_read(const struct tailvolt_system *system, const char *text,
                                                                       struct tailvolt_probe *probe, char *error);

/** Reads a file of readings: CSV with the columns `reading` and `value` (others are ignored; rows without a value are too), a value
 *  with its unit ("12.61 V", "85 mV", "31 A"). 500 readings at most.
 *  \param path  file, or "-" for standard input
 *  \param out   one block of plain data, `*count` long; the one thing here that is freed with free(), of the C library that the
 *               library was linked with
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NOT_READABLE, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_readings_read(const char *path, const struct tailvolt_system *system, struct tailvolt_reading_taken **out, int *count,
                       struct tailvolt_faults *faults);

/** The same from memory; `file` is the name that faults give.
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_readings_parse(const char *text, const char *file, const struct tailvolt_system *system,
                        struct tailvolt_reading_taken **out, int *count, struct tailvolt_faults *faults);

/** Reads one value for a probe: "12.61 V", "85 mV", "31 A"; a decimal comma is accepted.
 *  \param value  V, or A of a clamp; set for TAILVOLT_OK only
 *  \param error  at least TAILVOLT_TEXT_MAX bytes, may be NULL
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_reading_read(const struct tailvolt_probe *probe, const char *text,
                                                                         double *value, char *error);

/* Reports, as in report.h: each text is freed with tailvolt_report_free(), `style` may be NULL, and the status is TAILVOLT_OK or
 * TAILVOLT_NO_MEMORY. `system` is the one that the plan or the estimate was made for. */

/** The plan as a text of 80 columns: cautions, then under each condition what to read, where the probes go, what a meter shows and
 *  what it means outside. Before them stands how sure the answer is `now` (NULL = not said). */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_measure_plan(const struct tailvolt_system *system, const struct tailvolt_measure_plan *plan,
                             const struct tailvolt_certainty *now, const struct tailvolt_report_style *style, char **out);

/** The plan as a table to fill in: reading, value (empty), normal, low, high, unit, what it is. */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_measure_csv(const struct tailvolt_system *system, const struct tailvolt_measure_plan *plan, char **out);
/** As JSON, with how sure the answer is `now` (NULL = not said). */
struct tailvolt_certainty;
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_measure_json(const struct tailvolt_system *system, const struct tailvolt_measure_plan *plan,
                             const struct tailvolt_certainty *now, char **out);
/** What the readings say as JSON, with how sure the answer is before them and after (NULL = not said). */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_estimate_json(const struct tailvolt_system *system, const struct tailvolt_estimate *estimate,
                              const struct tailvolt_certainty *before, const struct tailvolt_certainty *after, char **out);

/** One reading of a plan in a few words: "volts at the battery posts: red on ..., black on ...". 2 * TAILVOLT_TEXT_MAX bytes always
 *  do. */
TAILVOLT_API void tailvolt_probe_words(const struct tailvolt_system *system, const struct tailvolt_probe *probe,
                                       const struct tailvolt_straddled *between, char *to, size_t size);

/** What readings say, as a text of 80 columns: slips, parts found bad, values learned.
 *  \param before  how sure the answer was and is; NULL = not said */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_estimate(const struct tailvolt_system *system, const struct tailvolt_estimate *estimate,
                         const struct tailvolt_certainty *before, const struct tailvolt_certainty *after,
                         const struct tailvolt_report_style *style, char **out);

#ifdef __cplusplus
}
#endif
#endif
