/* UN Regulation 83, Annex 4a (the test on the road or chassis dynamometer): part one, the elementary urban cycle of 25
 * operations, and part two, the extra-urban cycle of 21. Values from memory; durations, phase and gear totals and both
 * published distances are checked by a test. */
#include <stdlib.h>
#include <string.h>

#include "input/drive_trace.h"

/* An operation runs in a straight line from the previous speed to to_kmh. A gear change takes the next gear. */
struct operation { int duration_s, to_kmh, gear; };

#define NEUTRAL TAILVOLT_CLUTCH_OUT
#define CLUTCH TAILVOLT_CLUTCH_OUT

static const struct operation ece15[] = {
    {11, 0, NEUTRAL}, {4, 15, 1}, {8, 15, 1}, {2, 10, 1}, {3, 0, CLUTCH}, {21, 0, NEUTRAL}, {5, 15, 1},
    {2, 15, 2}, {5, 32, 2}, {24, 32, 2}, {8, 10, 2}, {3, 0, CLUTCH}, {21, 0, NEUTRAL}, {5, 15, 1},
    {2, 15, 2}, {9, 35, 2}, {2, 35, 3}, {8, 50, 3}, {12, 50, 3}, {8, 35, 3}, {13, 35, 3},
    {2, 32, 2}, {7, 10, 2}, {3, 0, CLUTCH}, {7, 0, NEUTRAL}};

/* operation 10 is in gear 5 or 4: the gear it begins in */
static const struct operation eudc[] = {
    {20, 0, CLUTCH}, {5, 15, 1}, {2, 15, 2}, {9, 35, 2}, {2, 35, 3}, {8, 50, 3}, {2, 50, 4},
    {13, 70, 4}, {50, 70, 5}, {8, 50, 5}, {69, 50, 4}, {13, 70, 4}, {50, 70, 5}, {35, 100, 5},
    {30, 100, 5}, {20, 120, 5}, {10, 120, 5}, {16, 80, 5}, {8, 50, 5}, {10, 0, CLUTCH}, {20, 0, NEUTRAL}};

#define COUNT(list) ((int)(sizeof(list) / sizeof((list)[0])))

static enum tailvolt_status run_operations(struct tailvolt_trace *trace, const struct operation *list, int count) {
  double time_s = 0, from_kmh = 0;
  enum tailvolt_status status = TAILVOLT_OK;
  if (trace->count > 0)
    time_s = trace->time_s[trace->count - 1];
  else
    status = tv_trace_add(trace, 0, 0, NEUTRAL);
  for (int k = 0; k < count; k++) {
    for (int s = 1; s <= list[k].duration_s && status == TAILVOLT_OK; s++)
      status = tv_trace_add(trace, time_s + s, from_kmh + (list[k].to_kmh - from_kmh) * s / list[k].duration_s,
                            list[k].gear);
    time_s += list[k].duration_s;
    from_kmh = list[k].to_kmh;
  }
  return status;
}

enum tailvolt_status tailvolt_trace_cycle(enum tailvolt_cycle cycle, struct tailvolt_trace **out) {
  static const char *const names[] = {"ECE-15", "EUDC", "NEDC"};
  *out = NULL;
  struct tailvolt_trace *trace = tv_trace_create(names[cycle]);
  if (trace == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = TAILVOLT_OK;
  int urban = cycle == TAILVOLT_CYCLE_ECE15 ? 1 : cycle == TAILVOLT_CYCLE_NEDC ? 4 : 0;
  for (int k = 0; k < urban && status == TAILVOLT_OK; k++) status = run_operations(trace, ece15, COUNT(ece15));
  if (cycle != TAILVOLT_CYCLE_ECE15 && status == TAILVOLT_OK) status = run_operations(trace, eudc, COUNT(eudc));
  if (status == TAILVOLT_OK)
    *out = trace;
  else
    tailvolt_trace_free(trace);
  return status;
}
