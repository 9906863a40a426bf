/* What was understood from the inputs, as text: the answer of `check`. */
#ifndef TV_REPORT_UNDERSTOOD_H
#define TV_REPORT_UNDERSTOOD_H

#include "tailvolt/profile.h"
#include "tailvolt/report.h"

/* Each returns a text to be freed with tailvolt_report_free(), NULL where memory ran out. */
char *tv_system_understood(const struct tailvolt_system *system, const struct tailvolt_report_style *style);
/* What follows from each battery's label, line by line. */
char *tv_batteries_explained(const struct tailvolt_system *system);
char *tv_profile_understood(const char *path, const struct tailvolt_profile *profile,
                            const struct tailvolt_system *system,
                            const struct tailvolt_report_style *style);

#endif
