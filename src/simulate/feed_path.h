/* The feed path: the parts that carry an amplifier's current from the reference battery and back, which the ledger
 * follows; each side by the least total resistance. */
#ifndef TV_SIMULATE_FEED_PATH_H
#define TV_SIMULATE_FEED_PATH_H

#include "tailvolt/system.h"

/* An entry of the feed path: a conductor or an isolator, passed forwards (+1) or backwards. */
struct tv_feed_path_part {
  bool isolator;
  int index;
  double sign;
  bool ground_side;
};

/* The feed path of one amplifier and the battery where it begins; *count is 0 and *battery -1 where none reaches it. Free *part with
 * free(). */
TAILVOLT_CHECKED enum tailvolt_status tv_feed_path_find(const struct tailvolt_system *system, int amplifier,
                                                  struct tv_feed_path_part **part, int *count, int *battery);

#endif
