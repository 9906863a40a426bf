/* Text that grows. A failed allocation is remembered: later calls do nothing and tv_buffer_finish() reports
 * it. */
#ifndef TV_TEXT_BUFFER_H
#define TV_TEXT_BUFFER_H

#include <stdbool.h>
#include <stddef.h>

#include "tailvolt/status.h"

struct tv_buffer {
  char *text; /* terminated once anything has been added */
  size_t length, room;
  bool failed;
};

void tv_buffer_add(struct tv_buffer *buffer, const char *text);
void tv_buffer_add_bytes(struct tv_buffer *buffer, const char *bytes, size_t count);
void tv_buffer_fill(struct tv_buffer *buffer, char byte, size_t count);

/* Hands the text over (never NULL on success) or frees it and returns TAILVOLT_NO_MEMORY. */
TAILVOLT_CHECKED enum tailvolt_status tv_buffer_finish(struct tv_buffer *buffer, char **out);

#endif
