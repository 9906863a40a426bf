/* Physical lines of a text, from memory or from a file. A file is read through pread(), so several readers can share
 * one that is open; a pipe or a terminal is read by one reader, once. Line ends are LF or CRLF; the last line may lack one. */
#ifndef TV_INPUT_PROFILE_LINES_H
#define TV_INPUT_PROFILE_LINES_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

/* longest line accepted, bytes: limits the memory that a file without line ends can take */
#define TV_LINE_MAX ((size_t)16 * 1024 * 1024)

enum tv_line { TV_LINE_GIVEN, TV_LINE_END, TV_LINE_TOO_LONG, TV_LINE_UNREADABLE, TV_LINE_NO_MEMORY };

struct tv_lines {
  int file;        /* descriptor, not owned; -1 = memory */
  bool in_turn;    /* a pipe: no reading by offset */
  off_t next_byte; /* of the file, not yet in the buffer */
  char *buffer;    /* owned when reading a file */
  size_t room;
  const char *at, *end; /* what is read but not yet returned */
  bool at_end;          /* nothing more in the file */
  int number;           /* of the line returned last, from 1 */
  size_t longest;       /* bytes of the longest line returned so far */
};

void tv_lines_from_text(struct tv_lines *lines, const char *text, size_t length);
/* `room` bytes are allocated at once (0 = the usual size); false = no memory */
bool tv_lines_from_file(struct tv_lines *lines, int file, size_t room);
void tv_text_lines_free(struct tv_lines *lines);

/* The next line without its line end; valid until the next call. */
enum tv_line tv_text_lines_next(struct tv_lines *lines, const char **line, size_t *length);

#endif
