/* The next step: what to change first, tried by simulation.
 *
 * Takes the greatest entry of the sag ledger that can be bought off (a cable, a joint, the battery, the alternator)
 * one standard step up, or the fuse that is too large one down, and runs the same profile again. One step only:
 * looking for the least sufficient set of changes is another study. */
#ifndef TV_STUDY_NEXT_STEP_H
#define TV_STUDY_NEXT_STEP_H

#include "tailvolt/simulate.h"

/* Writes one sentence, lower-case, no full stop, for the report's NEXT line. `settings` are those that `system` was read
 * with; the system is read again from its file. Leaves the text empty where nothing can be tried (the system came from
 * standard input, or no part is worth changing). The options' record is not used.
 * Returns TAILVOLT_OK, _NO_MEMORY or _STOPPED. */
TAILVOLT_CHECKED enum tailvolt_status
tv_next_step(const struct tailvolt_system *system, const struct tailvolt_setting *settings, int setting_count,
             const struct tailvolt_profile *profile, const struct tailvolt_options *options,
             const struct tailvolt_result *result, char text[TAILVOLT_TEXT_MAX]);

#endif
