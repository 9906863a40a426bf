/* Comparing findings. finding_text.c is the one place that words safety findings and cautions: see
 * tailvolt_finding_text(). */
#ifndef TV_TEXT_FINDING_TEXT_H
#define TV_TEXT_FINDING_TEXT_H

#include "tailvolt/finding.h"

/* True where both say the same about the same parts, whatever their numbers. */
bool tv_finding_same(const struct tailvolt_finding *a, const struct tailvolt_finding *b);

#endif
