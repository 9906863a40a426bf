/* Fuses have their own clock: 10 ms. */
#include <math.h>

#include "simulate/run.h"

void tv_run_look_at_fuses(struct tv_run *run, struct tv_hot *hot, int lane) {
  const struct tailvolt_system *sys = run->system;
  struct tv_statistics *st = run->statistics;
  double *clock = hot->d + hot->layout->lane * hot->lanes, *group = hot->d + hot->layout->group * hot->lanes + lane;
  double *fuse_s = clock + (offsetof(struct tv_hot_lane, fuse_s) / sizeof(double)) * (size_t)hot->lanes + lane;
  double now_s = clock[(offsetof(struct tv_hot_lane, now_s) / sizeof(double)) * (size_t)hot->lanes + (size_t)lane];
  size_t each = sizeof(struct tv_hot_group) / sizeof(double) * (size_t)hot->lanes;
  if (!(*fuse_s > 0)) return;
  for (int k = 0; k < sys->conductor_count; k++) {
    if (sys->conductors[k].kind != TAILVOLT_FUSE || run->state.blown[k]) continue;
    const double *sums = group + each * (size_t)run->conductor_group[k];
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
  for (int g = 0; g < run->group_count; g++) {
    double *sums = group + each * (size_t)g;
    sums[hot->lanes] = sums[0];
  }
  *fuse_s = 0;
}
