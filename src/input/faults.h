/* Collecting input faults, and the nearest known word. */
#ifndef TV_INPUT_FAULTS_H
#define TV_INPUT_FAULTS_H

#include <stddef.h>
#include "tailvolt/status.h"

/* Adds one fault; beyond TAILVOLT_FAULTS_MAX only counts it. key and value may be NULL; long texts are
 * cut. The message is printf-formatted, lower case, no full stop. */
void tv_fault_add(struct tailvolt_faults *faults, const char *file, int line, int column,
                  const char *key, const char *value, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 7, 8)))
#endif
    ;

/* The word of `words` (count of them) nearest to `word` by edit distance (case-blind, adjacent swaps count
 * once), or NULL where none is near enough to be meant. */
const char *tv_nearest_word(const char *word, const char *const *words, size_t count);

#endif
