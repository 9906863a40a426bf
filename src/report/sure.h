/* How sure an answer is, in words. */
#ifndef TV_REPORT_SURE_H
#define TV_REPORT_SURE_H

#include <jansson.h>

#include "report/page.h"
#include "tailvolt/result.h"

enum { TV_SURE_LINE = 96 };

/* "base load", "battery health", "strap at engine": what a reading would have to determine. */
void tv_measure_words(const struct tailvolt_measure_first *what, char *to, size_t size);

/* "55 to 80 of 100": the interval of an estimated share, whole and never empty. */
void tv_sure_share(double low_pct, double high_pct, char *to, size_t size);

/* "measure first: base load, battery health", as many as fit in `columns`; empty where none stands out. */
void tv_measure_first_line(const struct tailvolt_certainty *certainty, size_t columns, char *to, size_t size);

/* The lines of the first screen, at most 72 columns each: in how many cars it holds, and what to measure
 * first. */
void tv_sure_lines(const struct tailvolt_certainty *certainty, char first[TV_SURE_LINE], char second[TV_SURE_LINE]);

/* "fails with the 35 A assumed for lights and blower; holds up to 33 A: clamp it"; empty where nothing is known. */
void tv_hangs_on_sentence(const struct tailvolt_result *run, char *to, size_t size);

/* The table of what each value is worth, of the variance of what is asked. */
void tv_text_shares(struct tv_page *page, const struct tailvolt_certainty *certainty, const char *of);

/* The section of the detailed report: the share, the volts, what each value is worth. */
void tv_text_certainty(struct tv_page *page, const struct tailvolt_result *run);

json_t *tv_json_certainty(const struct tailvolt_certainty *certainty);

#endif
