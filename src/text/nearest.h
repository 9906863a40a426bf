/* The nearest known word, for messages about a misspelt one. */
#ifndef TV_TEXT_NEAREST_H
#define TV_TEXT_NEAREST_H

#include <stddef.h>

/* The word of `words` (count of them) nearest to `word` by edit distance (case-blind, adjacent swaps count
 * once); where none is close enough, the first of several words that begins or ends with it; else NULL. */
const char *tv_nearest_word(const char *word, const char *const *words, size_t count);

#endif
