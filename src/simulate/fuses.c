/* Fuses have their own clock: 10 ms. It need not end a stretch of steps: where the smoothed current is below the rating and the
 * current of every step is, damage only fades. So looks are made up for later, one after another, and a stretch ends early where a
 * step's current is above. */
#include <math.h>

#include "simulate/run.h"

#define COLD_FRAC (1 - 1e-9) /* of the rating's square: below it by more than sums round */

static double *clock_of(const struct tv_hot *hot, int lane, size_t offset) {
  return hot->d + ((size_t)hot->layout->lane + offset / sizeof(double)) * (size_t)hot->lanes + (size_t)lane;
}

/* A group's sums: in all, and by the last look a lane's width on. */
static double *sums_of(const struct tv_run *run, const struct tv_hot *hot, int lane, int group) {
  size_t each = sizeof(struct tv_hot_group) / sizeof(double);
  return hot->d + ((size_t)run->layout->group + each * (size_t)group) * (size_t)hot->lanes + (size_t)lane;
}

static void lower_limit(const struct tv_run *run, const struct tv_hot *hot, int lane, int group, double limit_a) {
  const struct tv_layout *y = run->layout;
  for (int i = 0; i < y->fuse_values; i++) {
    double *limit = &hot->fuse_limit_a[i * hot->lanes + lane];
    if (y->fuse_value[i] == y->group_value[group]) *limit = tv_least(*limit, limit_a);
  }
}

static void no_limits(const struct tv_run *run, const struct tv_hot *hot, int lane) {
  for (int i = 0; i < run->layout->fuse_values; i++) hot->fuse_limit_a[i * hot->lanes + lane] = HUGE_VAL;
}

bool tv_run_fuses_are_cold(const struct tv_run *run, const struct tv_hot *hot, int lane) {
  const struct tailvolt_system *sys = run->system;
  double fuse_s = *clock_of(hot, lane, offsetof(struct tv_hot_lane, fuse_s));
  no_limits(run, hot, lane);
  if (hot->wary > 0) return false;
  for (int f = 0; f < run->fuse_count; f++) {
    int k = run->fuse_at[f];
    if (run->state.blown[k]) continue;
    const struct tv_fuse_state *state = &run->state.fuse[k];
    const double *sums = sums_of(run, hot, lane, run->conductor_group[k]);
    double rating_a = sys->conductors[k].rating_a, below_a2 = rating_a * rating_a * COLD_FRAC;
    bool noted = state->damage_must < 1 || !isnan(run->statistics->fuse[k].opens_time_s);
    if (!noted || !(state->mean_square_a2 < below_a2) || !(sums[0] - sums[hot->lanes] <= below_a2 * fuse_s)) {
      no_limits(run, hot, lane);
      return false;
    }
    lower_limit(run, hot, lane, run->conductor_group[k], rating_a * COLD_FRAC);
  }
  return true;
}

void tv_run_look_at_fuses(struct tv_run *run, struct tv_hot *hot, int lane) {
  const struct tailvolt_system *sys = run->system;
  struct tv_statistics *st = run->statistics;
  double *fuse_s = clock_of(hot, lane, offsetof(struct tv_hot_lane, fuse_s));
  double now_s = *clock_of(hot, lane, offsetof(struct tv_hot_lane, now_s));
  if (!(*fuse_s > 0)) return;
  for (int f = 0; f < run->fuse_count; f++) {
    int k = run->fuse_at[f];
    if (run->state.blown[k]) continue;
    const double *sums = sums_of(run, hot, lane, run->conductor_group[k]);
    double mean_square_a2 = (sums[0] - sums[hot->lanes]) / *fuse_s;
    tv_fuse_step(sys->conductors[k].fuse_kind, sys->conductors[k].rating_a, tv_most(mean_square_a2, 0), *fuse_s,
                 &run->state.fuse[k]);
    st->fuse[k].may = st->fuse[k].may || run->state.fuse[k].damage_may >= 1;
    if (run->state.fuse[k].damage_must >= 1 && isnan(st->fuse[k].opens_time_s)) {
      st->fuse[k].opens_time_s = now_s;
      run->state.blown[k] = run->options.blow;
      run->stale_wiring = run->options.blow;
    }
  }
  for (int f = 0; f < run->fuse_count; f++) { /* no other group's is asked for */
    double *sums = sums_of(run, hot, lane, run->conductor_group[run->fuse_at[f]]);
    sums[hot->lanes] = sums[0];
  }
  *fuse_s = 0;
}
