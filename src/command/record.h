/* The time series of a run as a CSV file. */
#ifndef TV_COMMAND_RECORD_H
#define TV_COMMAND_RECORD_H

#include "command/output.h"
#include "tailvolt/simulate.h"

/* A sink that writes to an open output, which must outlive it; closing that says what went wrong. */
struct tailvolt_record_sink tv_record_sink(struct tv_output *output);

#endif
