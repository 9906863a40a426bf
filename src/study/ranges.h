/* The table of ranges: how far cars of a kind differ, value by value, with reasons (ranges_table.c). */
#ifndef TV_STUDY_RANGES_H
#define TV_STUDY_RANGES_H

#include "input/quantity.h"
#include "tailvolt/certainty.h"

enum tv_basis {
  TV_AS_IS,   /* low and high are the range */
  TV_TIMES,   /* ... times the system's number */
  TV_PLUS     /* ... added to it */
};

struct tv_range {
  enum tv_basis basis;
  double low, high;
  enum tailvolt_distribution distribution;
  double tail_frac, tail_high; /* tail_high is in the same basis */
  const char *reason;          /* NULL = no such range */
};

/* How a meter, tape or tester reads. */
struct tv_meter {
  double share, plus; /* of the reading, and in its unit */
  const char *reason;
};

struct tv_range_row {
  enum tailvolt_uncertain_value value;
  const char *key;             /* within its section */
  enum tv_measure measure;
  enum tailvolt_factor factor;
  double least, most;          /* physical bounds */
  bool when_parked_only;
  struct tv_range assumed, stated;
  struct tv_meter meter;
};

const struct tv_range_row *tv_range_row(enum tailvolt_uncertain_value value);

/* Values with more than one range. */
extern const struct tv_range tv_range_new_joint, tv_range_old_joint, tv_range_body_shell, tv_range_kit_sized,
    tv_range_factory_cable, tv_range_stated_new_joint, tv_range_stated_old_joint, tv_range_stated_shell;

/* Which conductors belong to the installation: without one of them an amplifier, a capacitor or a second battery is cut off,
 * but nothing of the factory's (ranges_wiring.c). `new_joint` marks the joints among them that are not on sheet metal. */
TAILVOLT_CHECKED enum tailvolt_status tv_find_installation(const struct tailvolt_system *system, bool *installed,
                                                           bool *new_joint);

/* The system's number. */
double tv_uncertain_get(const struct tailvolt_system *system, enum tailvolt_uncertain_value value, int index);

#endif
