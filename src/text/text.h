/* Small text helpers that cut rather than overrun. */
#ifndef TV_TEXT_TEXT_H
#define TV_TEXT_TEXT_H

#include <stddef.h>

/* Copies `from` (NULL = empty) into `to`, always terminated, cut to fit at a UTF-8 boundary. */
void tv_copy_text(char *to, size_t size, const char *from);

/* Copies a name with each run of white space as one blank and none at the ends. */
void tv_squeeze(char *to, size_t size, const char *from);

#endif
