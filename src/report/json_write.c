#include "report/json_write.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text/number.h"
#include "text/text.h"

enum { LINE_WIDTH = 100 };

json_t *tv_json_number(double value) { return isfinite(value) ? json_real(value) : json_null(); }

static bool is_utf8(const char *text) {
  size_t length = 1;
  for (; *text != '\0' && length > 0; text += length) length = tv_utf8_length(text);
  return length > 0;
}

json_t *tv_json_text(const char *text) {
  if (is_utf8(text)) return json_string(text);
  json_t *string;
  size_t length = strlen(text);
  char *plain = malloc(length + 1);
  if (plain == NULL) return NULL;
  for (size_t k = 0; k <= length; k++) plain[k] = text[k];
  for (size_t k = 0; k < length; k++)
    if ((unsigned char)plain[k] >= 0x80) plain[k] = '?';
  string = json_string(plain);
  free(plain);
  return string;
}

void tv_json_put(json_t **object, const char *key, json_t *value) {
  if (*object == NULL) {
    json_decref(value);
    return;
  }
  if (json_object_set_new(*object, key, value) != 0) {
    json_decref(*object);
    *object = NULL;
  }
}

void tv_json_append(json_t **array, json_t *value) {
  if (*array == NULL) {
    json_decref(value);
    return;
  }
  if (json_array_append_new(*array, value) != 0) {
    json_decref(*array);
    *array = NULL;
  }
}

static int add_piece(const char *bytes, size_t count, void *to) {
  struct tv_buffer *buffer = to;
  tv_buffer_add_bytes(buffer, bytes, count);
  return buffer->failed ? -1 : 0;
}

char *tv_json_compact(const json_t *root, size_t flags) {
  struct tv_buffer buffer = {0};
  char *text = NULL;
  /* jansson 2.14 goes on where a member's name was not taken: the buffer remembers */
  if (json_dump_callback(root, add_piece, &buffer, JSON_COMPACT | flags) != 0) buffer.failed = true;
  return tv_buffer_finish(&buffer, &text) == TAILVOLT_OK ? text : NULL;
}

void tv_json_put_number(json_t **object, const char *key, double value) {
  tv_json_put(object, key, tv_json_number(value));
}

void tv_json_put_text(json_t **object, const char *key, const char *text) {
  tv_json_put(object, key, tv_json_text(text));
}

/* The number of a character of one to three bytes. */
static unsigned code_of(const char *text, size_t length) {
  const unsigned char *at = (const unsigned char *)text;
  if (length == 1) return at[0];
  if (length == 2) return (at[0] & 0x1fu) << 6 | (at[1] & 0x3fu);
  return (at[0] & 0x0fu) << 12 | (at[1] & 0x3fu) << 6 | (at[2] & 0x3fu);
}

static void write_string(const char *text, struct tv_buffer *buffer) {
  tv_buffer_add(buffer, "\"");
  for (; *text != '\0'; text++) {
    unsigned char byte = (unsigned char)*text;
    size_t length = tv_utf8_length(text);
    char escape[8];
    if (byte == '"' || byte == '\\') {
      snprintf(escape, sizeof escape, "\\%c", byte);
      tv_buffer_add(buffer, escape);
    } else if (byte == '\n') {
      tv_buffer_add(buffer, "\\n");
    } else if (length > 0 && tv_is_unseen(text, length)) {
      snprintf(escape, sizeof escape, "\\u%04x", code_of(text, length));
      tv_buffer_add(buffer, escape);
      text += length - 1;
    } else {
      tv_buffer_add_bytes(buffer, text, 1);
    }
  }
  tv_buffer_add(buffer, "\"");
}

static void write_scalar(const json_t *value, struct tv_buffer *buffer) {
  if (json_is_string(value)) {
    write_string(json_string_value(value), buffer);
  } else if (json_is_integer(value)) {
    char text[32];
    snprintf(text, sizeof text, "%lld", (long long)json_integer_value(value));
    tv_buffer_add(buffer, text);
  } else if (json_is_real(value)) {
    struct tv_number number = tv_shortest(json_real_value(value));
    tv_buffer_add(buffer, number.text);
    /* keeps a real a real for readers that distinguish */
    if (strpbrk(number.text, ".e") == NULL) tv_buffer_add(buffer, ".0");
  } else {
    tv_buffer_add(buffer, json_is_true(value) ? "true" : json_is_false(value) ? "false" : "null");
  }
}

static void write_value(json_t *value, int depth, bool one_line, struct tv_buffer *buffer);

static void separate(int depth, bool one_line, bool first, struct tv_buffer *buffer) {
  if (!first) tv_buffer_add(buffer, one_line ? ", " : ",");
  if (one_line) return;
  tv_buffer_add(buffer, "\n");
  tv_buffer_fill(buffer, ' ', 2 * (size_t)depth);
}

static void write_members(json_t *value, int depth, bool one_line, struct tv_buffer *buffer) {
  bool first = true;
  if (json_is_array(value)) {
    for (size_t k = 0; k < json_array_size(value); k++, first = false) {
      separate(depth + 1, one_line, first, buffer);
      write_value(json_array_get(value, k), depth + 1, one_line, buffer);
    }
    return;
  }
  for (void *at = json_object_iter(value); at != NULL;
       at = json_object_iter_next(value, at), first = false) {
    separate(depth + 1, one_line, first, buffer);
    write_string(json_object_iter_key(at), buffer);
    tv_buffer_add(buffer, ": ");
    write_value(json_object_iter_value(at), depth + 1, one_line, buffer);
  }
}

static void write_value(json_t *value, int depth, bool one_line, struct tv_buffer *buffer) {
  bool array = json_is_array(value), object = json_is_object(value);
  if (!array && !object) {
    write_scalar(value, buffer);
    return;
  }
  size_t size = array ? json_array_size(value) : json_object_size(value);
  /* try one line; undo where it comes out too wide */
  size_t before = buffer->length;
  tv_buffer_add(buffer, array ? "[" : "{");
  write_members(value, depth, true, buffer);
  tv_buffer_add(buffer, array ? "]" : "}");
  if (one_line || size == 0 || buffer->failed) return;
  size_t wide = 2 * (size_t)depth + (buffer->length - before);
  if (depth > 0 && wide <= LINE_WIDTH) return;
  buffer->length = before;
  tv_buffer_add(buffer, array ? "[" : "{");
  write_members(value, depth, false, buffer);
  separate(depth, false, true, buffer);
  tv_buffer_add(buffer, array ? "]" : "}");
}

void tv_json_write(json_t *root, struct tv_buffer *buffer) {
  if (root == NULL) {
    buffer->failed = true;
    return;
  }
  write_value(root, 0, false, buffer);
  tv_buffer_add(buffer, "\n");
}

void tv_json_write_member(json_t *value, struct tv_buffer *buffer) {
  if (value == NULL) buffer->failed = true;
  else write_value(value, 1, false, buffer);
}

double tv_json_number_of(const json_t *object, const char *key) {
  const json_t *value = json_object_get(object, key);
  return json_is_number(value) ? json_number_value(value) : (double)NAN;
}

const char *tv_json_text_of(const json_t *object, const char *key) {
  const char *text = json_string_value(json_object_get(object, key));
  return text != NULL ? text : "";
}
