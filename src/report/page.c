#include "report/page.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text/text.h"

/* The plain ASCII spelling of one of the report's own signs; NULL for anything else. */
static const char *spelled(const char *from, size_t length) {
  static const struct { const char *sign, *plain; } signs[] = {
      {"\u00b0", ""},   {"\u00b2", "2"},  {"\u00b5", "u"},  {"\u03bc", "u"}, {"\u03a9", "ohm"},
      {"\u2212", "-"},  {"\u2013", "-"},  {"\u2500", "-"},  {"\u2588", "#"}, {"\u25b6", ">"},
      {"\u25c0", "<"},  {"\u2026", "..."}, {"\u00b7", "."}, {"\u2192", "->"}};
  for (size_t k = 0; k < sizeof signs / sizeof signs[0]; k++)
    if (strlen(signs[k].sign) == length && memcmp(signs[k].sign, from, length) == 0)
      return signs[k].plain;
  return NULL;
}

size_t tv_columns(const char *text) {
  size_t columns = 0;
  for (; *text != '\0'; text++) columns += ((unsigned char)*text & 0xc0) != 0x80;
  return columns;
}

size_t tv_page_clean(const struct tv_page *page, char *to, size_t size, const char *from) {
  size_t length = 0;
  while (*from != '\0') {
    size_t taken = tv_utf8_length(from);
    const char *piece = from;
    size_t piece_length = taken;
    if (taken == 0 || tv_is_unseen(from, taken)) {
      piece = *from == '\t' ? " " : "?";
      piece_length = 1;
    } else if (taken > 1 && !page->style.utf8) {
      const char *plain = spelled(from, taken);
      /* letters in the user's own names stay: a changed name could not be typed again */
      if (plain != NULL) {
        piece = plain;
        piece_length = strlen(plain);
      }
    }
    if (length + piece_length >= size) break;
    memcpy(to + length, piece, piece_length);
    length += piece_length;
    from += taken == 0 ? 1 : taken;
  }
  to[length] = '\0';
  return tv_columns(to);
}

size_t tv_page_columns(const struct tv_page *page) { return page->columns > 0 ? page->columns : TV_PAGE_WIDTH; }

static bool is_digit(char c) { return c >= '0' && c <= '9'; }

/* "V", "min", "%": what follows a number; "(V" does not count, "V," does. */
static size_t unit_length(const char *text) {
  size_t length = strcspn(text, " "), letters = 0;
  while (letters < length && (text[letters] == '%' || (text[letters] >= 'A' && text[letters] <= 'Z') ||
                              (text[letters] >= 'a' && text[letters] <= 'z')))
    letters++;
  return letters >= 1 && letters <= 3 && length <= letters + 2 ? length : 0;
}

size_t tv_page_word(const char **from, char *word, size_t size) {
  size_t blanks = strspn(*from, " "), length = strcspn(*from + blanks, " ");
  const char *start = *from + blanks;
  if (length > 0 && is_digit(start[length - 1]) && start[length] == ' ') {
    size_t unit = unit_length(start + length + 1);
    if (unit > 0) length += 1 + unit;
  }
  size_t taken = length < size ? length : size - 1;
  memcpy(word, start, taken);
  word[taken] = '\0';
  *from = start + length;
  return blanks;
}

void tv_page_cut(char *text, size_t columns) {
  if (tv_columns(text) <= columns) return;
  size_t keep = columns > 2 ? columns - 2 : 0, at = 0, seen = 0;
  while (text[at] != '\0') {
    if (((unsigned char)text[at] & 0xc0) != 0x80 && seen++ == keep) break;
    at++;
  }
  while (at > 0 && text[at - 1] == ' ') at--;
  for (size_t k = 0; k < 2 && k < columns; k++) text[at++] = '.';
  text[at] = '\0';
}

void tv_page_colour(struct tv_page *page, enum tv_colour colour) {
  static const char *const codes[] = {"\033[0m", "\033[1m", "\033[32m", "\033[33m", "\033[31m",
                                      "\033[2m"};
  if (page->style.colour) tv_buffer_add(&page->text, codes[colour]);
}

void tv_page_add(struct tv_page *page, const char *text) {
  char clean[4 * TAILVOLT_TEXT_MAX];
  tv_page_clean(page, clean, sizeof clean, text);
  tv_buffer_add(&page->text, clean);
}

void tv_page_newline(struct tv_page *page) { tv_buffer_add(&page->text, "\n"); }

/* Too long a line continues on the next, indented two columns further: figures are never cut off. */
static void add_line(struct tv_page *page, const char *format, va_list arguments) {
  char raw[4 * TAILVOLT_TEXT_MAX], clean[4 * TAILVOLT_TEXT_MAX], word[4 * TAILVOLT_TEXT_MAX];
  vsnprintf(raw, sizeof raw, format, arguments);
  tv_page_clean(page, clean, sizeof clean, raw);
  size_t at = 0, hang = strspn(clean, " ") + 2;
  for (const char *from = clean; *from != '\0';) {
    size_t blanks = strspn(from, " "), length = strcspn(from + blanks, " ");
    memcpy(word, from + blanks, length);
    word[length] = '\0';
    from += blanks + length;
    tv_page_cut(word, tv_page_columns(page) - hang);
    size_t wide = tv_columns(word);
    if (wide > 0 && at > 0 && at + blanks + wide > tv_page_columns(page)) {
      tv_page_newline(page);
      at = 0;
      blanks = hang;
    }
    tv_buffer_fill(&page->text, ' ', blanks);
    tv_buffer_add(&page->text, word);
    at += blanks + wide;
  }
}

void tv_page_line(struct tv_page *page, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  add_line(page, format, arguments);
  va_end(arguments);
  tv_page_newline(page);
}

void tv_page_heading(struct tv_page *page, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  tv_page_newline(page);
  tv_page_colour(page, TV_BOLD);
  add_line(page, format, arguments);
  tv_page_colour(page, TV_PLAIN);
  va_end(arguments);
  tv_page_newline(page);
}

void tv_page_wrapped_within(struct tv_page *page, size_t columns, const char *start, const char *text) {
  char clean[8 * TAILVOLT_TEXT_MAX], word[TV_PAGE_WIDTH * 4];
  tv_page_add(page, start);
  size_t indent = tv_columns(start), at = indent;
  bool first = true;
  tv_page_clean(page, clean, sizeof clean, text);
  for (const char *from = clean; *from != '\0';) {
    from += strspn(from, " ");
    size_t length = strcspn(from, " ");
    if (length == 0) break;
    size_t taken = length < sizeof word ? length : sizeof word - 1;
    memcpy(word, from, taken);
    word[taken] = '\0';
    tv_page_cut(word, columns - indent);
    size_t wide = tv_columns(word);
    if (!first && at + 1 + wide > columns) {
      tv_page_newline(page);
      tv_buffer_fill(&page->text, ' ', indent);
      at = indent;
      first = true;
    }
    if (!first) tv_buffer_add(&page->text, " ");
    tv_buffer_add(&page->text, word);
    at += wide + (first ? 0 : 1);
    first = false;
    from += length;
  }
  tv_page_newline(page);
}

void tv_page_wrapped(struct tv_page *page, const char *start, const char *text) {
  tv_page_wrapped_within(page, tv_page_columns(page), start, text);
}

void tv_table_begin(struct tv_table *table, struct tv_page *page, const struct tv_column *columns,
                    int column_count) {
  *table = (struct tv_table){.page = page, .columns = columns, .column_count = column_count,
                             .marked_row = -1};
}

void tv_table_cell(struct tv_table *table, const char *text) {
  if (table->failed) return;
  if (table->cell_count == table->cell_room) {
    int room = table->cell_room == 0 ? 64 : 2 * table->cell_room;
    char (*cells)[TV_CELL_MAX] = realloc(table->cells, (size_t)room * sizeof *cells);
    if (cells == NULL) {
      table->failed = true;
      return;
    }
    table->cells = cells;
    table->cell_room = room;
  }
  char *cell = table->cells[table->cell_count];
  tv_page_clean(table->page, cell, TV_CELL_MAX, text);
  size_t most = table->columns[table->cell_count % table->column_count].most;
  if (most > 0) tv_page_cut(cell, most);
  table->cell_count++;
}

void tv_table_mark(struct tv_table *table) {
  table->marked_row = table->cell_count / table->column_count;
}

static void print_row(struct tv_table *table, const char *indent, const size_t *widths,
                      const char *const *cells) {
  struct tv_buffer *text = &table->page->text;
  tv_page_add(table->page, indent);
  size_t owed = 0; /* blanks are written only before something, so no line ends in any */
  for (int c = 0; c < table->column_count; c++) {
    size_t blank = widths[c] - tv_columns(cells[c]);
    if (table->columns[c].right) owed += blank;
    if (cells[c][0] != '\0') {
      tv_buffer_fill(text, ' ', owed);
      owed = 0;
      tv_buffer_add(text, cells[c]);
    }
    owed += 2 + (table->columns[c].right ? 0 : blank);
  }
  tv_page_newline(table->page);
}

/* Takes what is too wide from the columns of words, the widest first; columns of numbers stay whole. */
static void fit_widths(struct tv_table *table, size_t *widths, size_t indent) {
  size_t total = indent;
  for (int c = 0; c < table->column_count; c++) total += widths[c] + (c > 0 ? 2 : 0);
  while (total > tv_page_columns(table->page)) {
    int widest = -1;
    for (int c = 0; c < table->column_count; c++)
      if (!table->columns[c].right && widths[c] > tv_columns(table->columns[c].head) &&
          (widest < 0 || widths[c] > widths[widest]))
        widest = c;
    if (widest < 0 || widths[widest] <= 4) break;
    widths[widest]--;
    total--;
  }
  int rows = table->cell_count / table->column_count;
  for (int k = 0; k < rows * table->column_count; k++)
    tv_page_cut(table->cells[k], widths[k % table->column_count]);
}

void tv_table_end(struct tv_table *table, const char *indent) {
  size_t widths[TV_TABLE_COLUMNS];
  const char *cells[TV_TABLE_COLUMNS];
  int rows = table->cell_count / table->column_count;
  for (int c = 0; c < table->column_count; c++) {
    widths[c] = tv_columns(table->columns[c].head);
    for (int r = 0; r < rows; r++) {
      size_t wide = tv_columns(table->cells[r * table->column_count + c]);
      if (wide > widths[c]) widths[c] = wide;
    }
    cells[c] = table->columns[c].head;
  }
  if (table->failed) table->page->text.failed = true;
  fit_widths(table, widths, tv_columns(indent));
  tv_page_colour(table->page, TV_FAINT);
  print_row(table, indent, widths, cells);
  tv_page_colour(table->page, TV_PLAIN);
  for (int r = 0; r < rows; r++) {
    for (int c = 0; c < table->column_count; c++) cells[c] = table->cells[r * table->column_count + c];
    if (r == table->marked_row) tv_page_colour(table->page, TV_BOLD);
    print_row(table, indent, widths, cells);
    if (r == table->marked_row) tv_page_colour(table->page, TV_PLAIN);
  }
  free(table->cells);
  table->cells = NULL;
}
