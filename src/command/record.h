/* The time series of a run as a CSV file. */
#ifndef TV_COMMAND_RECORD_H
#define TV_COMMAND_RECORD_H

#include "tailvolt/simulate.h"

#include <stdio.h>

/* A sink that writes to `file`, which must outlive it. */
struct tailvolt_record_sink tv_record_sink(FILE *file);

#endif
