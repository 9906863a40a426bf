/* The same car in quieter detail, for studies that take long steps. */
#ifndef TV_STUDY_SMOOTH_H
#define TV_STUDY_SMOOTH_H

#include "tailvolt/system.h"

/* The car without ripple in its music and without storage inside its amplifiers. Amplifiers and programmes are the copy's own:
 * free them with tv_smooth_free(), also after a failure; all else is the car's. TAILVOLT_NO_MEMORY. */
enum tailvolt_status tv_smooth_copy(const struct tailvolt_system *system, struct tailvolt_system *smooth);
void tv_smooth_free(struct tailvolt_system *smooth);

#endif
