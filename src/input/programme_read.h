/* A programme as the system file describes it: beats, a style, a recording or an envelope file. */
#ifndef TV_INPUT_PROGRAMME_READ_H
#define TV_INPUT_PROGRAMME_READ_H

#include "parts/programme.h"
#include "tailvolt/system.h"

/* Makes a programme from its description; reads a recording or envelope file where one is named (path relative
 * to the system file's folder). `seed_override` NULL = the programme's own seed.
 * TAILVOLT_OK, _NO_MEMORY, or _BAD_INPUT with `error` (TAILVOLT_TEXT_MAX bytes) filled. */
TAILVOLT_CHECKED enum tailvolt_status
tv_programme_create(const struct tailvolt_programme *spec, const char *system_file,
                    const unsigned long *seed_override, struct tv_programme **out, char *error);

#endif
