/* Version of the library. */
#ifndef TAILVOLT_VERSION_H
#define TAILVOLT_VERSION_H

#include "tailvolt/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Of the headers that a program was compiled with. */
#define TAILVOLT_VERSION "0.1.0"
/** Of the library that it runs with, in the same form; constant. Within a major version what a program uses stays. */
TAILVOLT_API const char *tailvolt_version(void);

#ifdef __cplusplus
}
#endif
#endif
