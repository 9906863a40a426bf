/* Whether a value is in the file or is a default. */
#ifndef TV_INPUT_ASSUMES_H
#define TV_INPUT_ASSUMES_H

#include "tailvolt/system.h"

/* What a relay switches at where the file says nothing (common practice). */
#define TV_RELAY_CLOSES_V 13.3
#define TV_RELAY_OPENS_V 12.8
/* Below this a converter that the engine switches lets go, to guard the starter battery. */
#define TV_GUARDS_BELOW_V 11.0

/* `key` as --set takes it: "vehicle.base load". */
bool tv_system_assumes(const struct tailvolt_system *system, const char *key);
/* True where the file or a setting says it (system_memory.c); false of every key of a system that a host filled. */
bool tv_system_states(const struct tailvolt_system *system, const char *key);
/* The line, from 1, where the file states a section's key ("battery starter", "reserve"); where it does not, or `key` is NULL,
 * the section's own; 0 = the file has no such section. *setting: stated by a setting, not by the file. */
int tv_system_line(const struct tailvolt_system *system, const char *section, const char *key, bool *setting);
/* True where it is marked `measured`, or measured by its nature. */
bool tv_system_measures(const struct tailvolt_system *system, const char *key);

#endif
