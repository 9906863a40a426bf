#include "input/profile_lines.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define USUAL_ROOM ((size_t)256 * 1024)

void tv_lines_from_text(struct tv_lines *lines, const char *text, size_t length) {
  memset(lines, 0, sizeof *lines);
  lines->file = -1;
  lines->at = text;
  lines->end = text + length;
  lines->at_end = true;
}

bool tv_lines_from_file(struct tv_lines *lines, int file, size_t room) {
  memset(lines, 0, sizeof *lines);
  lines->file = file;
  struct stat state;
  lines->in_turn = fstat(file, &state) == 0 && !S_ISREG(state.st_mode);
  lines->room = room > USUAL_ROOM ? room : USUAL_ROOM;
  lines->buffer = malloc(lines->room);
  lines->at = lines->end = lines->buffer;
  return lines->buffer != NULL;
}

void tv_text_lines_free(struct tv_lines *lines) {
  free(lines->buffer);
  lines->buffer = NULL;
}

/* Moves the partial line to the front of the buffer and reads on after it. */
static enum tv_line read_more(struct tv_lines *lines) {
  size_t kept = (size_t)(lines->end - lines->at);
  if (kept > 0) memmove(lines->buffer, lines->at, kept);
  if (kept == lines->room) {
    if (lines->room >= TV_LINE_MAX) return TV_LINE_TOO_LONG;
    char *wider = realloc(lines->buffer, 2 * lines->room);
    if (wider == NULL) {
      lines->at = lines->buffer;
      lines->end = lines->buffer + kept;
      return TV_LINE_NO_MEMORY;
    }
    lines->buffer = wider;
    lines->room *= 2;
  }
  lines->at = lines->buffer;
  lines->end = lines->buffer + kept;
  ssize_t got;
  do {
    char *to = lines->buffer + kept;
    size_t room = lines->room - kept;
    got = lines->in_turn ? read(lines->file, to, room) : pread(lines->file, to, room, lines->next_byte);
  } while (got < 0 && errno == EINTR);
  if (got < 0) return TV_LINE_UNREADABLE;
  if (got == 0) lines->at_end = true;
  lines->next_byte += got;
  lines->end += got;
  return TV_LINE_GIVEN;
}

enum tv_line tv_text_lines_next(struct tv_lines *lines, const char **line, size_t *length) {
  size_t searched = 0;
  for (;;) {
    size_t have = (size_t)(lines->end - lines->at);
    const char *line_end =
        have > searched ? memchr(lines->at + searched, '\n', have - searched) : NULL;
    if (line_end == NULL && !lines->at_end) {
      searched = have;
      enum tv_line more = read_more(lines);
      if (more != TV_LINE_GIVEN) return more;
      continue;
    }
    if (line_end == NULL && have == 0) return TV_LINE_END;
    const char *next = line_end != NULL ? line_end + 1 : lines->end;
    *line = lines->at;
    *length = (size_t)((line_end != NULL ? line_end : lines->end) - lines->at);
    if (*length > lines->longest) lines->longest = *length;
    if (*length > 0 && (*line)[*length - 1] == '\r') --*length;
    lines->at = next;
    lines->number++;
    return TV_LINE_GIVEN;
  }
}
