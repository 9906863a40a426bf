/* Rows that change nothing but what the profile prescribes for amplifiers: a logged draw brings one a step. They are gathered
 * and walked by the loop itself, in place of being put into force one by one; what results is the same, to the bit. */
#ifndef TV_SIMULATE_DRAWS_H
#define TV_SIMULATE_DRAWS_H

#include "simulate/run.h"

/* Whether the row that follows the one in force is such a row, of one step; then it is kept for tv_run_go_draws(). */
bool tv_draws_take(struct tv_run *run, const struct tailvolt_row *row, const struct tailvolt_row *next);
/* The same of the row given last by `cursor` and of those behind it that differ in their draws alone, when the row before it was
 * taken. Where it is true the cursor's next row is the first that was not. */
bool tv_draws_take_more(struct tv_run *run, struct tailvolt_profile_cursor *cursor);
bool tv_draws_full(const struct tv_run *run);
static inline long long tv_draws_left(const struct tv_run *run) { return run->draws.count - run->draws.at; }

/* Walks all that were kept. */
TAILVOLT_CHECKED enum tailvolt_status tv_run_go_draws(struct tv_run *run);
/* In pieces, of a run that is a lane of `hot`: hands those that are left to the loop; after `done` steps, in the run's own
 * block or without one, brings the row in force to where the loop stands. */
void tv_draws_hand_over(struct tv_run *run, struct tv_hot *hot, int lane);
void tv_draws_done(struct tv_run *run, struct tv_hot *hot, int lane, long long done);

#endif
