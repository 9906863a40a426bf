/* Collecting input faults. */
#ifndef TV_INPUT_FAULTS_H
#define TV_INPUT_FAULTS_H

#include <stdlib.h>

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

/* For a public call, whose `faults` may be NULL: `call`, the same call again, is then made with room taken for it, and its
 * status returned. So all that is wrong counts, whether anybody reads it or not. */
#define TV_FAULTS_OR_OWN(faults, call)                            \
  do {                                                            \
    if ((faults) == NULL) {                                       \
      enum tailvolt_status status_of_call = TAILVOLT_NO_MEMORY;   \
      (faults) = calloc(1, sizeof *(faults));                     \
      if ((faults) != NULL) status_of_call = (call);              \
      free(faults);                                               \
      return status_of_call;                                      \
    }                                                             \
  } while (0)

#endif
