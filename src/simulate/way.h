/* The way of the current from the reference battery to an amplifier and back, that ledger and loop follow: each side
 * by the least total resistance. */
#ifndef TV_SIMULATE_WAY_H
#define TV_SIMULATE_WAY_H

#include "tailvolt/system.h"

/* An entry of the way: a conductor or an isolator, passed forwards (+1) or backwards. */
struct tv_path_part {
  bool isolator;
  int index;
  double sign;
  bool ground_side;
};

/* The way to one amplifier of a system; *count is 0 where no battery reaches it. Free *part with free(). */
TAILVOLT_CHECKED enum tailvolt_status tv_way_find(const struct tailvolt_system *system, int amplifier,
                                                  struct tv_path_part **part, int *count);

#endif
