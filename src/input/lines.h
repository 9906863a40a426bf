/* A text file as logical lines with their numbers: comments, indentation and line ends removed. */
#ifndef TV_INPUT_LINES_H
#define TV_INPUT_LINES_H

#include <stdbool.h>
#include <stddef.h>

#include "tailvolt/status.h"

enum { TV_LINE_LONGEST = 198 }; /* bytes, comment not counted */

struct tv_lines {
  char *text; /* owned, always terminated */
  size_t length;
  size_t at;  /* where the next line starts */
  int number; /* of the line last read, from 1 */
  int column; /* where its content begins, from 1 */
};

/* Reads all of `path` ("-" = standard input) into memory.
 * TAILVOLT_OK, _NOT_READABLE with *why set to a constant text or strerror's, or _NO_MEMORY. */
TAILVOLT_CHECKED enum tailvolt_status tv_lines_read(const char *path, struct tv_lines *lines,
                                                    const char **why);
/* Copies a text in memory. */
TAILVOLT_CHECKED enum tailvolt_status tv_lines_copy(const char *text, struct tv_lines *lines);
void tv_lines_free(struct tv_lines *lines);

/* What is wrong with the file as a text ("UTF-16 ..."), or NULL. If so, read no further. */
const char *tv_lines_unreadable(const struct tv_lines *lines);

/* The next line unchanged, without its line end; false at the end. `*raw` points into the text. */
bool tv_lines_next_raw(struct tv_lines *lines, const char **raw, size_t *length);

/* Where the content of a raw line begins and ends, without white space and comments. A comment starts with #
 * or ; at the start of the line or after white space. */
void tv_line_content(const char *raw, size_t length, size_t *start, size_t *end);

/* What is wrong with a piece of text ("holds a control character", "is not UTF-8 text ..."), or NULL. */
const char *tv_text_problem(const char *text, size_t length);

/* The next line that has content, copied into `line` (size TV_LINE_LONGEST + 1). *problem receives what is
 * wrong with it
 * ("longer than 198 characters") or NULL; the line is then cut. False at the end. */
bool tv_lines_next(struct tv_lines *lines, char *line, const char **problem);

#endif
