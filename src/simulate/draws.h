/* Rows that change only what the profile prescribes for amplifiers: a draw logged at every step brings one per step. They are
 * gathered and walked by the loop itself instead of being put into force one by one; the result is the same, to the bit. */
#ifndef TV_SIMULATE_DRAWS_H
#define TV_SIMULATE_DRAWS_H

#include "simulate/run.h"

/* Whether the row after the one in force is such a row, one step long; if so it is kept for tv_run_go_draws(). */
bool tv_draws_take(struct tv_run *run, const struct tailvolt_row *row, const struct tailvolt_row *next);
/* The same of the row given last by `cursor` and of those behind it that differ in their draws alone, when the row before it was
 * taken. Where it is true the cursor's next row is the first that was not. */
bool tv_draws_take_more(struct tv_run *run, struct tailvolt_profile_cursor *cursor);
bool tv_draws_full(const struct tv_run *run);
static inline long long tv_draws_left(const struct tv_run *run) { return run->draws.count - run->draws.at; }

/* Walks all rows kept. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_go_draws(struct tv_run *run);
/* In pieces, for a run that is a lane of `hot`: hands the remaining rows to the loop; after `done` steps, in the run's own
 * block or without one, brings the row in force to where the loop is. */
void tv_draws_hand_over(struct tv_run *run, struct tv_hot *hot, int lane);
void tv_draws_done(struct tv_run *run, struct tv_hot *hot, int lane, long long done);

#endif
