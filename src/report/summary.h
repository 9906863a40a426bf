/* The lines that open every report: verdict, why, charge, safety, next. */
#ifndef TV_REPORT_SUMMARY_H
#define TV_REPORT_SUMMARY_H

#include <stddef.h>

#include "tailvolt/report.h"

#define TV_SCREEN_WIDTH 80

enum tv_summary_line {
  TV_LINE_VERDICT, TV_LINE_WHY, TV_LINE_CHARGE, TV_LINE_SAFETY, TV_LINE_PARKED, TV_LINE_LIGHTS, TV_LINE_SURE,
  TV_LINE_NEXT, TV_SUMMARY_LINES };

struct tv_summary {
  char label[TV_SUMMARY_LINES][12]; /* "FAILS at idle" has none: its line speaks for itself */
  char text[TV_SUMMARY_LINES][2 * TAILVOLT_TEXT_MAX]; /* empty = nothing to say */
  enum tailvolt_verdict status, safety;
  bool fuses_below; /* fuses are to be fitted that the safety line has no room for */
};

/* `next` may be NULL. Each text takes at most two lines of 80 columns, including its label or 8 blanks; the verdict has
 * no label, and only its second line is indented. A newline in a text breaks the line there. */
void tv_summary_of(const struct tailvolt_system *system, const struct tailvolt_result *run,
                   const char *next, bool us_units, struct tv_summary *summary);

/* What the battery is called from which an amplifier's drops are read: "battery", or by name where there are several. */
void tv_feeding_battery(const struct tailvolt_result *run, int amplifier, char *to, size_t size);

#endif
