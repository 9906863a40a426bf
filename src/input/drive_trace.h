/* Growing a speed trace. */
#ifndef TV_INPUT_DRIVE_TRACE_H
#define TV_INPUT_DRIVE_TRACE_H

#include "tailvolt/drive.h"

struct tailvolt_trace *tv_trace_create(const char *name);
TAILVOLT_CHECKED enum tailvolt_status tv_trace_add(struct tailvolt_trace *trace, double time_s, double speed_kmh,
                                                   int gear);

#endif
