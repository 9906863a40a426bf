/* The same alternator, larger, as settings of the system file. */
#ifndef TV_STUDY_LARGER_ALTERNATOR_H
#define TV_STUDY_LARGER_ALTERNATOR_H

#include "tailvolt/system.h"

enum { TV_VALUE_ROOM = 176 }; /* a line of a system file is no longer than 198 */

struct tv_larger_alternator {
  int count;
  struct {
    const char *key; /* in [alternator] */
    char value[TV_VALUE_ROOM];
  } setting[3];
};

/* The whole curve scales: what the file states of it is stated anew, in the form that the file has chosen. False where it has more points
 * than one setting takes (about ten): such a machine is changed by its owner alone. */
bool tv_larger_alternator(const struct tailvolt_system *system, double rated_a, struct tv_larger_alternator *larger);

#endif
