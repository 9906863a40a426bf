/* What a page is made from. */
#ifndef TV_REPORT_HTML_REPORT_H
#define TV_REPORT_HTML_REPORT_H

#include "report/html_trace.h"
#include "report/made_from.h"
#include "tailvolt/remedy.h"
#include "tailvolt/report.h"
#include "tailvolt/study.h"

struct tv_html_run {
  const struct tailvolt_result *result;
  const struct tv_trace *trace;         /* NULL = no pictures over time */
  const char *next;                     /* the next step tried, NULL = none */
  const struct tailvolt_remedy *remedy; /* NULL = not searched for */
  const struct tailvolt_result *after;  /* the same profile on the other system, NULL = none */
};

struct tv_html_report {
  const struct tailvolt_system *system;
  int run_count;
  const struct tv_html_run *runs; /* in any order */
  const struct tailvolt_system *other;    /* to compare with: the system after the change; NULL = none */
  const struct tailvolt_parked *evening;  /* playing parked, NULL = not asked for */
  const char *date;               /* "25 November 2026", NULL = none */
  const char *note;               /* the user's own line, NULL = none */
  bool us_units;
  const struct tv_made_from *made; /* NULL = it does not say */
};

#endif
