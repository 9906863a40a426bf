/* The five lines that open every report: verdict, why, charge, safety, next. */
#ifndef TV_REPORT_SUMMARY_H
#define TV_REPORT_SUMMARY_H

#include <stddef.h>

#include "tailvolt/report.h"

#define TV_SUMMARY_LINES 5

struct tv_summary {
  char label[TV_SUMMARY_LINES][12]; /* "FAILS at idle" has none: its line says it all */
  char text[TV_SUMMARY_LINES][2 * TAILVOLT_TEXT_MAX];
  enum tailvolt_verdict status;
};

/* `next` may be NULL. Each line fits 100 columns, label included. */
void tv_summary_of(const struct tailvolt_system *system, const struct tailvolt_result *run,
                   const char *next, bool us_units, struct tv_summary *summary);

/* Drops whole clauses from the end of a line (at its commas) until it fits. */
void tv_summary_shorten(char *line, size_t columns);

#endif
