#include "input/profile_cells.h"

#include <stdlib.h>
#include <string.h>

#include "text/text.h"

/* The line reader has removed the line ends, so no byte ends a row for libcsv. */
static int never_ends(unsigned char byte) {
  (void)byte;
  return 0;
}

static bool init_parser(struct tv_cells *cells) {
  if (csv_init(&cells->parser, CSV_STRICT | CSV_STRICT_FINI) != 0) return false;
  csv_set_term_func(&cells->parser, never_ends);
  return true;
}

bool tv_cells_init(struct tv_cells *cells) {
  memset(cells, 0, sizeof *cells);
  return init_parser(cells);
}

void tv_cells_free(struct tv_cells *cells) {
  csv_free(&cells->parser);
  free(cells->text);
  free(cells->start);
  memset(cells, 0, sizeof *cells);
}

static bool make_room(struct tv_cells *cells, size_t length) {
  if (cells->used + length + 1 > cells->room) {
    size_t room = 2 * (cells->used + length + 1) + 256;
    char *text = realloc(cells->text, room);
    if (text == NULL) return false;
    cells->text = text;
    cells->room = room;
  }
  if (cells->count + 2 > cells->start_room) {
    int room = 2 * cells->start_room + 32;
    size_t *start = realloc(cells->start, (size_t)room * sizeof *start);
    if (start == NULL) return false;
    cells->start = start;
    cells->start_room = room;
  }
  return true;
}

static void take_cell(void *text, size_t length, void *context) {
  struct tv_cells *cells = context;
  if (cells->no_memory || !make_room(cells, length)) {
    cells->no_memory = true;
    return;
  }
  cells->start[cells->count] = cells->used;
  if (length > 0) memcpy(cells->text + cells->used, text, length);
  cells->text[cells->used + length] = '\0';
  cells->used += length + 1;
  cells->start[++cells->count] = cells->used;
}

enum tv_split tv_cells_split(struct tv_cells *cells, const char *line, size_t length) {
  cells->used = 0;
  cells->count = 0;
  cells->no_memory = false;
  bool fine = csv_parse(&cells->parser, line, length, take_cell, NULL, cells) == length &&
              csv_fini(&cells->parser, take_cell, NULL, cells) == 0;
  if (!fine) {
    /* after an error the parser stays in the middle of its cell */
    bool quote = csv_error(&cells->parser) == CSV_EPARSE;
    csv_free(&cells->parser);
    if (!init_parser(cells) || !quote) return TV_SPLIT_NO_MEMORY;
    return TV_SPLIT_BAD_QUOTE;
  }
  return cells->no_memory ? TV_SPLIT_NO_MEMORY : TV_SPLIT_DONE;
}

const char *tv_cell_text(const struct tv_cells *cells, int cell) {
  return cells->text + cells->start[cell];
}

size_t tv_cell_length(const struct tv_cells *cells, int cell) {
  return cells->start[cell + 1] - cells->start[cell] - 1;
}

static const char *column_name_problem(const char *name) {
  return strchr(name, ';') != NULL ? "cells are separated by commas, not by semicolons" : NULL;
}

const char *tv_header_problem(const struct tv_cells *header) {
  const char *problem = NULL;
  if (header->count > 0) problem = tv_utf16_problem(tv_cell_text(header, 0), tv_cell_length(header, 0));
  for (int k = 0; k < header->count && problem == NULL; k++) problem = column_name_problem(tv_cell_text(header, k));
  return problem;
}
