/* What a stretch of a run leaves for the moving picture: single-precision numbers, one row per interval, a few
 * columns. */
#ifndef TV_PAGE_TRACE_H
#define TV_PAGE_TRACE_H

#include "tailvolt/simulate.h"

enum { TV_PAGE_TRACE_COLUMNS = 8 };
/* time_s, lowest and mean voltage at the amplifier, mean voltage at the battery's posts, currents of amplifiers, alternator and
 * batteries, light of a halogen lamp at the battery (1 = at rest) */
enum tv_page_column { TV_PAGE_TIME, TV_PAGE_AMPLIFIER_MIN, TV_PAGE_AMPLIFIER, TV_PAGE_BATTERY, TV_PAGE_TAKES, TV_PAGE_ALTERNATOR,
                      TV_PAGE_GIVES, TV_PAGE_LIGHT };

struct tv_page_trace {
  float *cells; /* [rows][TV_PAGE_TRACE_COLUMNS] */
  long rows, room;
  const struct tailvolt_system *system;
  int amplifier, battery;
  /* indices of the record's columns, -1 = none */
  int amplifier_min, amplifier_mean, battery_v, alternator_a;
  int *takes, *gives; /* [amplifiers], [batteries] */
  double lag_v, rest_v, last_s; /* of the lamp's filament */
  bool failed;
};

/* `amplifier`: whose voltages; the battery is the one that starts the car. The system must outlive the run. */
struct tailvolt_record_sink tv_page_trace_begin(struct tv_page_trace *trace, const struct tailvolt_system *system, int amplifier);
void tv_page_trace_free(struct tv_page_trace *trace);

#endif
