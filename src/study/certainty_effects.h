/* Certainty together with the effect of every factor: what `measure first` and the plan of readings both start from. */
#ifndef TV_STUDY_CERTAINTY_EFFECTS_H
#define TV_STUDY_CERTAINTY_EFFECTS_H

#include "tailvolt/certainty.h"

struct tv_labels;

/* As tailvolt_certainty(). `effect` (may be NULL) [factor_count of tailvolt_uncertainty_of()] gets what one standard deviation of each
 * factor moves the answer by (volts judged, or amperes where out->of_charge); it is left alone where shares were not found
 * (out->unexplained_pct is NAN). `labels` (may be NULL) are solved batteries that several calls share (parts/battery_labels.h). */
TAILVOLT_CHECKED enum tailvolt_status
tv_certainty_effects(const struct tailvolt_system *system, const struct tailvolt_profile *const *profiles, int profile_count,
                     const struct tailvolt_result *const *results, const struct tailvolt_certainty_options *options,
                     struct tv_labels *labels, struct tailvolt_certainty *out, double *effect, char *error);

#endif
