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
