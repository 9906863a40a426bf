/* Words of the system file beside values: the choices of a key, a count before a quantity. */
#ifndef TV_INPUT_SYSTEM_CHOICES_H
#define TV_INPUT_SYSTEM_CHOICES_H

#include <stddef.h>

enum { TV_SPELLINGS_MAX = 16 };

struct tv_choices {
  char text[160];
  const char *word[TV_SPELLINGS_MAX]; /* every spelling */
  int index[TV_SPELLINGS_MAX];        /* the choice it belongs to */
  size_t count;
  char list[120]; /* the first spelling of each: "a, b or c" */
};

/* Splits the choices of a key: "|" between choices, "," between spellings of one. */
void tv_split_choices(const char *text, struct tv_choices *c);

/* Removes the last word of the text if it is one of the choices, the longest that is, and returns which; -1 where it is not. */
int tv_take_last_word(char *text, const char *choices);
/* The same of the first word. */
int tv_take_first_word(char *text, const char *choices);

/* "2 x" before a quantity: the count goes to *times (1 where absent), the rest is returned. */
const char *tv_take_times(const char *text, double *times);

#endif
