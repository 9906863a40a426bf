/* The nearest known word, for messages about a misspelt one. */
#ifndef TV_TEXT_NEAREST_H
#define TV_TEXT_NEAREST_H

#include <stddef.h>

/* The word of `words` (count of them) nearest to `word` by edit distance (case-blind, adjacent swaps count
 * once), or NULL where none is close enough. */
const char *tv_nearest_word(const char *word, const char *const *words, size_t count);

#endif
