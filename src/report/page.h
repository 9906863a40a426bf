/* A page of text at most 100 columns wide: lines, wrapped paragraphs, tables. Anything from the user's files is
 * stripped of control characters here; without UTF-8 the report's own signs are spelled in ASCII. */
#ifndef TV_REPORT_PAGE_H
#define TV_REPORT_PAGE_H

#include "text/buffer.h"
#include "tailvolt/report.h"

#define TV_PAGE_WIDTH 100
#define TV_TABLE_COLUMNS 16
#define TV_CELL_MAX 128

struct tv_page {
  struct tv_buffer text;
  size_t columns; /* its width, at most TV_PAGE_WIDTH; 0 = that */
  struct tailvolt_report_style style;
};

enum tv_colour { TV_PLAIN, TV_BOLD, TV_GREEN, TV_YELLOW, TV_RED, TV_FAINT };

/* Cleans `from` into `to`; returns its width in columns. */
size_t tv_page_clean(const struct tv_page *page, char *to, size_t size, const char *from);

/* How wide the page is. */
size_t tv_page_columns(const struct tv_page *page);

/* Columns of a cleaned text. */
size_t tv_columns(const char *text);

/* The next word of a cleaned text, counting the blanks before it; a number includes its unit, so no line breaks between
 * them. Moves `*from` past it; an empty word at the end. */
size_t tv_page_word(const char **from, char *word, size_t size);

/* Cuts a cleaned text to `columns`, ending in ".." where something was cut. */
void tv_page_cut(char *text, size_t columns);

void tv_page_colour(struct tv_page *page, enum tv_colour colour);
void tv_page_add(struct tv_page *page, const char *text);
void tv_page_newline(struct tv_page *page);

/* One line, or more where it is wider than the page. Numbers must come in as text (text/number.h): printf's
 * own floating point follows the locale. */
void tv_page_line(struct tv_page *page, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 2, 3)))
#endif
    ;

/* A blank line and a heading. */
void tv_page_heading(struct tv_page *page, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 2, 3)))
#endif
    ;

/* A paragraph that starts with `start`, further lines indented to match. */
void tv_page_wrapped(struct tv_page *page, const char *start, const char *text);
/* The same within `columns`, at most TV_PAGE_WIDTH. */
void tv_page_wrapped_within(struct tv_page *page, size_t columns, const char *start, const char *text);

/* Row k of a result's conductors belongs to conductor k of the system; NULL where there is no system. */
static inline const struct tailvolt_conductor *tv_conductor_at(const struct tailvolt_system *system, int k) {
  return system != NULL && k >= 0 && k < system->conductor_count ? &system->conductors[k] : NULL;
}

struct tv_column {
  const char *head;
  bool right;    /* aligned to the right */
  size_t most;   /* widest, 0 = as wide as its cells */
};

struct tv_table {
  struct tv_page *page;
  const struct tv_column *columns;
  int column_count;
  int cell_count, cell_room;
  char (*cells)[TV_CELL_MAX];
  int marked_row; /* shown bold, -1 = none */
  bool failed;
};

void tv_table_begin(struct tv_table *table, struct tv_page *page, const struct tv_column *columns,
                    int column_count);
void tv_table_cell(struct tv_table *table, const char *text);
/* Marks the row that the next cell starts. */
void tv_table_mark(struct tv_table *table);
/* Prints the table, each line after `indent`, and frees it. */
void tv_table_end(struct tv_table *table, const char *indent);

#endif
