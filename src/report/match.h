/* What was fitted to logs. Question: which values does the car have, how sure is that, and what must be measured for the rest? */
#ifndef TV_REPORT_MATCH_H
#define TV_REPORT_MATCH_H

#include "report/compare.h"

TAILVOLT_CHECKED enum tailvolt_status tv_match_text(const struct tailvolt_matching *matching,
                                                    const struct tailvolt_report_style *style, char **out);
TAILVOLT_CHECKED enum tailvolt_status tv_match_json(const struct tailvolt_matching *matching, char **out);
/* Readings with the simulation before and after: tv_compare_csv(). */
TAILVOLT_CHECKED enum tailvolt_status tv_match_csv(const struct tailvolt_matching *matching, char **out);

#endif
