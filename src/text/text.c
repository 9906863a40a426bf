#include "text/text.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

void tv_copy_text(char *to, size_t size, const char *from) {
  if (size == 0) return;
  size_t length = from == NULL ? 0 : strlen(from);
  if (length >= size) {
    length = size - 1;
    while (length > 0 && ((unsigned char)from[length] & 0xC0u) == 0x80u) length--;
  }
  if (length > 0) memcpy(to, from, length);
  to[length] = '\0';
}

static int plain_letter(char c) {
  return c == '-' ? ' ' : tolower((unsigned char)c);
}

bool tv_words_alike(const char *a, const char *b) {
  while (*a != '\0' && plain_letter(*a) == plain_letter(*b)) a++, b++;
  return *a == '\0' && *b == '\0';
}

void tv_squeeze(char *to, size_t size, const char *from) {
  size_t used = 0;
  bool blank = false;
  for (; *from != '\0' && used + 2 < size; from++) {
    if (isspace((unsigned char)*from)) {
      blank = used > 0;
      continue;
    }
    if (blank) to[used++] = ' ';
    blank = false;
    to[used++] = *from;
  }
  to[used] = '\0';
}

void tv_append(char *to, size_t size, const char *format, ...) {
  size_t length = strlen(to);
  va_list arguments;
  va_start(arguments, format);
  if (length < size) vsnprintf(to + length, size - length, format, arguments);
  va_end(arguments);
}

void tv_at_place(char *to, size_t size, int line, int column, const char *text) {
  if (line > 0 && column > 0)
    snprintf(to, size, "%d:%d: %s", line, column, text);
  else if (line > 0)
    snprintf(to, size, "%d: %s", line, text);
  else
    snprintf(to, size, "%s", text);
}

size_t tv_utf8_length(const char *text) {
  const unsigned char *at = (const unsigned char *)text;
  size_t length = at[0] < 0x80                    ? 1
                  : at[0] >= 0xc2 && at[0] < 0xe0 ? 2
                  : at[0] >= 0xe0 && at[0] < 0xf0 ? 3
                  : at[0] >= 0xf0 && at[0] < 0xf5 ? 4
                                                  : 0;
  for (size_t k = 1; k < length; k++)
    if ((at[k] & 0xc0) != 0x80) return 0;
  /* not in its shortest form; half of a pair; beyond the last */
  bool none = (at[0] == 0xe0 && at[1] < 0xa0) || (at[0] == 0xf0 && at[1] < 0x90) || (at[0] == 0xed && at[1] > 0x9f) ||
              (at[0] == 0xf4 && at[1] > 0x8f);
  return none ? 0 : length;
}

const char *tv_utf16_problem(const char *text, size_t length) {
  bool marked = length >= 2 && (memcmp(text, "\xFF\xFE", 2) == 0 || memcmp(text, "\xFE\xFF", 2) == 0);
  return marked ? "UTF-16 text; save it as UTF-8" : NULL;
}

const char *tv_text_report_problem(const char *text) {
  static const char mark[] = TV_MADE_BY TV_MADE_BY_WHOM;
  bool report = strncmp(text, mark, sizeof mark - 1) == 0;
  for (const char *at = text; !report && (at = strstr(at, mark)) != NULL; at++) report = at[-1] == '\n';
  return report ? "is a text report of tailvolt: it names what it was made from, but does not hold it. For a report that can be run "
                  "again ask for -f json, or for the page of `tailvolt report`"
                : NULL;
}

bool tv_is_utf8(const char *text) {
  size_t length = 1;
  for (; *text != '\0' && length > 0; text += length) length = tv_utf8_length(text);
  return length > 0;
}

bool tv_is_unseen(const char *text, size_t length) {
  const unsigned char *at = (const unsigned char *)text;
  if (length == 1) return at[0] < 0x20 || at[0] == 0x7f;
  if (length == 2) return (at[0] == 0xc2 && at[1] < 0xa0) || (at[0] == 0xd8 && at[1] == 0x9c); /* C1, U+061C */
  if (length != 3 || at[0] != 0xe2) return false;
  if (at[1] == 0x80) return at[2] == 0x8e || at[2] == 0x8f || (at[2] >= 0xaa && at[2] <= 0xae); /* U+200E-F, U+202A-E */
  return at[1] == 0x81 && at[2] >= 0xa6 && at[2] <= 0xa9;                                       /* U+2066-9 */
}

void tv_copy_seen(char *to, size_t size, const char *from) {
  size_t used = 0;
  if (size == 0) return;
  while (*from != '\0') {
    size_t length = tv_utf8_length(from), put = length;
    bool seen = length > 0 && !tv_is_unseen(from, length);
    if (!seen) put = 1;
    if (used + put >= size) break;
    if (seen)
      memcpy(to + used, from, length);
    else
      to[used] = *from == '\t' ? ' ' : '?';
    used += put;
    from += length == 0 ? 1 : length;
  }
  to[used] = '\0';
}
