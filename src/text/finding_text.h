/* Findings compared. finding_text.c is the one place where safety and cautions are put into words: see
 * tailvolt_finding_text(). */
#ifndef TV_TEXT_FINDING_TEXT_H
#define TV_TEXT_FINDING_TEXT_H

#include "tailvolt/finding.h"

/* True where both say the same of the same parts, whatever their numbers. */
bool tv_finding_same(const struct tailvolt_finding *a, const struct tailvolt_finding *b);

#endif
