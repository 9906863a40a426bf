/* Logical lines of a text file. */
#include "input/lines.h"
#include "text/text.h"
#include "text/unfit.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { BIGGEST_FILE = 4 * 1024 * 1024 };

static enum tailvolt_status read_stream(FILE *stream, struct tv_lines *lines, const char **why) {
  size_t room = 0;
  for (;;) {
    if (lines->length + 1 >= room) {
      room = room == 0 ? 8192 : 2 * room;
      char *bigger = realloc(lines->text, room);
      if (bigger == NULL) return TAILVOLT_NO_MEMORY;
      lines->text = bigger;
    }
    size_t got = fread(lines->text + lines->length, 1, room - 1 - lines->length, stream);
    lines->length += got;
    lines->text[lines->length] = '\0';
    if (lines->length > BIGGEST_FILE) {
      *why = "larger than 4 MiB: not a system file";
      return TAILVOLT_NOT_READABLE;
    }
    if (ferror(stream)) {
      *why = strerror(errno);
      return TAILVOLT_NOT_READABLE;
    }
    if (got == 0) return TAILVOLT_OK;
  }
}

enum tailvolt_status tv_lines_read(const char *path, struct tv_lines *lines, const char **why) {
  *lines = (struct tv_lines){0};
  *why = NULL;
  bool standard_input = strcmp(path, "-") == 0;
  if ((*why = tv_unfit(path, false)) != NULL) return TAILVOLT_NOT_READABLE;
  FILE *stream = standard_input ? stdin : fopen(path, "rb");
  if (stream == NULL) {
    if (errno == ENOMEM) return TAILVOLT_NO_MEMORY;
    *why = strerror(errno);
    return TAILVOLT_NOT_READABLE;
  }
  enum tailvolt_status status = read_stream(stream, lines, why);
  if (!standard_input) fclose(stream);
  if (status != TAILVOLT_OK) tv_lines_free(lines);
  return status;
}

enum tailvolt_status tv_lines_copy(const char *text, struct tv_lines *lines) {
  *lines = (struct tv_lines){0};
  lines->length = strlen(text);
  lines->text = malloc(lines->length + 1);
  if (lines->text == NULL) return TAILVOLT_NO_MEMORY;
  memcpy(lines->text, text, lines->length + 1);
  return TAILVOLT_OK;
}

void tv_lines_free(struct tv_lines *lines) {
  free(lines->text);
  *lines = (struct tv_lines){0};
}

const char *tv_lines_unreadable(const struct tv_lines *lines) {
  const char *problem = tv_utf16_problem(lines->text, lines->length);
  if (problem != NULL) return problem;
  if (memchr(lines->text, '\0', lines->length) != NULL) return "holds a NUL byte: not a text file";
  return NULL;
}

bool tv_lines_next_raw(struct tv_lines *lines, const char **raw, size_t *length) {
  if (lines->at == 0 && lines->length >= 3 && memcmp(lines->text, "\xEF\xBB\xBF", 3) == 0) lines->at = 3;
  if (lines->at >= lines->length) return false;
  const char *start = lines->text + lines->at;
  size_t count = strcspn(start, "\r\n");
  lines->at += count;
  if (lines->text[lines->at] == '\r') lines->at++; /* CR, CRLF and LF all end one line */
  if (lines->text[lines->at] == '\n') lines->at++;
  lines->number++;
  *raw = start;
  *length = count;
  return true;
}

static bool is_blank(char c) {
  return c == ' ' || c == '\t' || c == '\v' || c == '\f';
}

void tv_line_content(const char *raw, size_t length, size_t *start, size_t *end) {
  size_t first = 0, last = length;
  while (first < length && is_blank(raw[first])) first++;
  for (size_t k = first; k < length; k++) {
    if ((raw[k] == '#' || raw[k] == ';') && (k == first || is_blank(raw[k - 1]))) {
      last = k;
      break;
    }
  }
  while (last > first && is_blank(raw[last - 1])) last--;
  *start = first;
  *end = last;
}

/* Length of the well-formed UTF-8 sequence at `at`, 0 where there is none. */
static size_t sequence(const unsigned char *at, size_t left) {
  if (at[0] < 0x80) return 1;
  size_t need = at[0] >= 0xC2 && at[0] < 0xE0   ? 2
                : at[0] >= 0xE0 && at[0] < 0xF0 ? 3
                : at[0] >= 0xF0 && at[0] < 0xF5 ? 4
                                                : 0;
  if (need == 0 || need > left) return 0;
  for (size_t k = 1; k < need; k++)
    if ((at[k] & 0xC0u) != 0x80u) return 0;
  if ((at[0] == 0xE0 && at[1] < 0xA0) || (at[0] == 0xED && at[1] > 0x9F) || (at[0] == 0xF0 && at[1] < 0x90) ||
      (at[0] == 0xF4 && at[1] > 0x8F))
    return 0;
  return need;
}

const char *tv_text_problem(const char *line, size_t length) {
  for (size_t k = 0; k < length;) {
    unsigned char c = (unsigned char)line[k];
    if ((c < 0x20 && c != '\t') || c == 0x7F) return "holds a control character";
    size_t step = sequence((const unsigned char *)line + k, length - k);
    if (step == 0) return "is not UTF-8 text; save the file as UTF-8";
    k += step;
  }
  return NULL;
}

bool tv_lines_next(struct tv_lines *lines, char *line, const char **problem) {
  const char *raw = NULL;
  size_t length = 0;
  while (tv_lines_next_raw(lines, &raw, &length)) {
    size_t start = 0, end = 0;
    tv_line_content(raw, length, &start, &end);
    if (start == end) continue;
    lines->column = (int)start + 1;
    *problem = tv_text_problem(raw + start, end - start);
    if (end - start > TV_LINE_LONGEST) {
      *problem = "is longer than 198 characters";
      end = start + TV_LINE_LONGEST;
    }
    memcpy(line, raw + start, end - start);
    line[end - start] = '\0';
    return true;
  }
  return false;
}
