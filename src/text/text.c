#include "text/text.h"

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
