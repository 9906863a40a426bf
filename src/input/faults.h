/* Collecting input faults. */
#ifndef TV_INPUT_FAULTS_H
#define TV_INPUT_FAULTS_H

#include "tailvolt/status.h"
#include "text/nearest.h"

/* Adds one fault; beyond TAILVOLT_FAULTS_MAX only counts it. key and value may be NULL; long texts are
 * cut. The message is printf-formatted, lower case, no full stop. */
void tv_fault_add(struct tailvolt_faults *faults, const char *file, int line, int column,
                  const char *key, const char *value, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 7, 8)))
#endif
    ;

#endif
