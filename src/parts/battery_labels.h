/* Solved labels, kept for similar batteries: solving one takes as long as thousands of steps, and cars of a study often share it. */
#ifndef TV_PARTS_BATTERY_LABELS_H
#define TV_PARTS_BATTERY_LABELS_H

#include "parts/battery.h"

struct tv_labels;

/* NULL where there is no memory. Several threads may use one. */
struct tv_labels *tv_labels_make(void);
void tv_labels_free(struct tv_labels *labels);

/* tv_battery_create(), to the same bits, with each label solved only once; charge, health, name and place do not matter to it.
 * `labels` may be NULL. */
TAILVOLT_CHECKED enum tailvolt_status tv_battery_create_by(struct tv_labels *labels, const struct tailvolt_battery *spec,
                                                           struct tv_battery **out, char *error);

#endif
