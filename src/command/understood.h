/* What was understood of the inputs, as text: the answer of `check`. */
#ifndef TV_COMMAND_UNDERSTOOD_H
#define TV_COMMAND_UNDERSTOOD_H

#include "tailvolt/profile.h"
#include "tailvolt/report.h"

/* Each returns a text to be freed with tailvolt_report_free(), NULL where memory ran out. */
char *tv_system_understood(const struct tailvolt_system *system, const struct tailvolt_report_style *style);
char *tv_profile_understood(const char *path, const struct tailvolt_profile *profile,
                            const struct tailvolt_system *system,
                            const struct tailvolt_report_style *style);

#endif
