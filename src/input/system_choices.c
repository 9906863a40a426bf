/* Words of the system file beside values: the choices of a key, a count before a quantity. */
#include "input/system_choices.h"

#include <ctype.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "text/read_number.h"
#include "text/text.h"

void tv_split_choices(const char *text, struct tv_choices *c) {
  tv_copy_text(c->text, sizeof c->text, text);
  c->count = 0;
  c->list[0] = '\0';
  int index = 0;
  bool first = true;
  for (char *at = c->text; *at != '\0' && c->count < TV_SPELLINGS_MAX;) {
    size_t length = strcspn(at, ",|");
    char end = at[length];
    at[length] = '\0';
    c->word[c->count] = at;
    c->index[c->count++] = index;
    if (first) {
      size_t used = strlen(c->list);
      const char *between = used == 0 ? "" : strchr(text + (at - c->text), '|') == NULL ? " or " : ", ";
      snprintf(c->list + used, sizeof c->list - used, "%s%s", between, at);
    }
    first = end == '|';
    if (first) index++;
    if (end == '\0') break;
    at += length + 1;
  }
}

const char *tv_take_times(const char *text, double *times) {
  *times = 1.0;
  double number = 0.0;
  size_t used = tv_parse_leading_number(text, strlen(text), &number);
  const char *at = text + used;
  while (*at == ' ') at++;
  if (used == 0 || (*at != 'x' && *at != 'X' && *at != '*') || isalpha((unsigned char)at[1])) return text;
  *times = number;
  at++;
  while (*at == ' ') at++;
  return at;
}

int tv_take_last_word(char *text, const char *choices) {
  struct tv_choices c;
  tv_split_choices(choices, &c);
  size_t length = strlen(text), longest = 0;
  int index = -1;
  if (length > 0 && text[length - 1] == ')') text[--length] = '\0';
  for (size_t k = 0; k < c.count; k++) {
    size_t word = strlen(c.word[k]);
    if (word <= longest || length <= word || strcasecmp(text + length - word, c.word[k]) != 0) continue;
    char before = text[length - word - 1];
    if (before != ' ' && before != '(' && !isdigit((unsigned char)before)) continue;
    longest = word;
    index = c.index[k];
  }
  if (index < 0) return -1;
  length -= longest;
  if (text[length - 1] == '(') length--;
  while (length > 0 && text[length - 1] == ' ') length--;
  text[length] = '\0';
  return index;
}

int tv_take_first_word(char *text, const char *choices) {
  struct tv_choices c;
  tv_split_choices(choices, &c);
  size_t longest = 0;
  int index = -1;
  for (size_t k = 0; k < c.count; k++) {
    size_t word = strlen(c.word[k]);
    if (word <= longest || strncasecmp(text, c.word[k], word) != 0 || text[word] != ' ') continue;
    longest = word;
    index = c.index[k];
  }
  if (index >= 0) memmove(text, text + longest + 1, strlen(text + longest + 1) + 1);
  return index;
}
