/* The list of values that the system file does not give, each as the --set that replaces it: grouped, what
 * matters most first. */
#ifndef TV_REPORT_ASSUMED_H
#define TV_REPORT_ASSUMED_H

#include "report/page.h"
#include "tailvolt/system.h"

/* Prints every assumption of the system, each line after `indent` blanks. */
void tv_page_assumed(struct tv_page *page, const struct tailvolt_system *system, int indent);

/* "what lights, blower and the rest take: 35 A, ...": the `most` assumptions that move the answer most. */
void tv_assumed_sentence(const struct tailvolt_system *system, int most, bool us_units, char *text, size_t size);

#endif
