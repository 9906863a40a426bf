/* Totals by use of the vehicle: idling, in town, on the motorway, parked. Gathered when a block of steps is folded and
 * when a row takes force, never in the step. */
#ifndef TV_SIMULATE_USES_H
#define TV_SIMULATE_USES_H

#include "tailvolt/result.h"

struct tv_run;
struct tv_statistics;
struct tv_phase_total;

/* Fifth gear above about 90 km/h in a small petrol car; a sixth gear comes later (judgement). */
#define TV_MOTORWAY_RPM 2500.0

static inline enum tailvolt_use tv_use_of(enum tailvolt_phase phase, double engine_rpm) {
  if (phase == TAILVOLT_PARKED) return TAILVOLT_USE_PARKED;
  if (phase == TAILVOLT_IDLE) return TAILVOLT_USE_IDLE;
  return engine_rpm >= TV_MOTORWAY_RPM ? TAILVOLT_USE_MOTORWAY : TAILVOLT_USE_TOWN;
}

/* Takes the block just gathered, before it is cleared; the present row and use are still its own. */
void tv_uses_fold(struct tv_run *run);

/* Notes what is switched on in the present row and use. */
void tv_uses_note_row(struct tv_run *run);

/* From here on all batteries' charge, in coulomb, counts as kept or lost. */
void tv_uses_mark_charge(struct tv_run *run);

/* The budget over the given totals. */
void tv_budget_of(const struct tv_phase_total *const *totals, int count, struct tailvolt_budget *budget);

/* The result's uses; its arrays are freed with it. */
TAILVOLT_CHECKED enum tailvolt_status tv_uses_finish(const struct tv_run *run, struct tailvolt_result *result);

#endif
