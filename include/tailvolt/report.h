/* Reports: results turned into text, JSON and CSV.
 *
 * Every function here returns its text in its own memory, to be freed with tailvolt_report_free(); nothing is
 * printed. Numbers are in the C locale, whatever locale the host program has set. `system` is the one that was run. */
#ifndef TAILVOLT_REPORT_H
#define TAILVOLT_REPORT_H

#include "tailvolt/result.h"

#ifdef __cplusplus
extern "C" {
#endif

/** How a text report looks. */
struct tailvolt_report_style {
  bool utf8;      /**< bars and signs beyond ASCII are allowed */
  bool colour;    /**< terminal colours; never the only carrier of meaning */
  bool us_units;  /**< ft, in, AWG, degrees F in place of m, cm, mm2, degrees C */
  bool details;   /**< the whole text report, 100 columns wide; else what to act on, 80 wide */
};

/** The text report of one or several runs of a system, 80 columns wide, 100 with details. Several runs are
 *  sorted worst first.
 *  \param next  one text per run for the NEXT line, or NULL; an entry may be NULL
 *  \param style may be NULL: plain ASCII, metric
 *  \return TAILVOLT_OK or TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_text(const struct tailvolt_system *system, const struct tailvolt_result *const *runs,
                     int run_count, const char *const *next, const struct tailvolt_report_style *style,
                     char **out);

/** One JSON document: the result itself for one run, {"runs": [...]} for several.
 *  \return TAILVOLT_OK or TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_json(const struct tailvolt_system *system, const struct tailvolt_result *const *runs,
                     int run_count, char **out);

/** A CSV table with a row for each amplifier of each run.
 *  \return TAILVOLT_OK or TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_csv(const struct tailvolt_result *const *runs, int run_count, char **out);

/** Faults, what the wiring alone says about safety, and assumptions, as one JSON document. `faults` (none) and `system` may be NULL.
 *  \return TAILVOLT_OK or TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_report_faults_json(const struct tailvolt_faults *faults, const struct tailvolt_system *system,
                            char **out);

/** Frees a text returned by this header; NULL is fine. */
TAILVOLT_API void tailvolt_report_free(char *text);

#ifdef __cplusplus
}
#endif
#endif
