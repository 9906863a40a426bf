#include "text/buffer.h"

#include <stdlib.h>
#include <string.h>

static bool make_room(struct tv_buffer *buffer, size_t more) {
  if (buffer->failed) return false;
  if (buffer->room - buffer->length > more) return true;
  size_t room = buffer->room < 1024 ? 1024 : buffer->room;
  while (room - buffer->length <= more) room *= 2;
  char *text = realloc(buffer->text, room);
  if (text == NULL) {
    buffer->failed = true;
    return false;
  }
  buffer->text = text;
  buffer->room = room;
  return true;
}

void tv_buffer_add_bytes(struct tv_buffer *buffer, const char *bytes, size_t count) {
  if (!make_room(buffer, count)) return;
  memcpy(buffer->text + buffer->length, bytes, count);
  buffer->length += count;
  buffer->text[buffer->length] = '\0';
}

void tv_buffer_add(struct tv_buffer *buffer, const char *text) {
  tv_buffer_add_bytes(buffer, text, strlen(text));
}

void tv_buffer_fill(struct tv_buffer *buffer, char byte, size_t count) {
  if (!make_room(buffer, count)) return;
  memset(buffer->text + buffer->length, byte, count);
  buffer->length += count;
  buffer->text[buffer->length] = '\0';
}

enum tailvolt_status tv_buffer_finish(struct tv_buffer *buffer, char **out) {
  tv_buffer_add_bytes(buffer, "", 0);
  *out = NULL;
  if (buffer->failed) {
    free(buffer->text);
    *buffer = (struct tv_buffer){0};
    return TAILVOLT_NO_MEMORY;
  }
  *out = buffer->text;
  *buffer = (struct tv_buffer){0};
  return TAILVOLT_OK;
}
