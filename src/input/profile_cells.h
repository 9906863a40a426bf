/* Cells of one physical CSV line, split by libcsv. A quoted cell may hold commas and doubled quotes but no line
 * break. */
#ifndef TV_INPUT_PROFILE_CELLS_H
#define TV_INPUT_PROFILE_CELLS_H

#include <csv.h>
#include <stdbool.h>
#include <stddef.h>

struct tv_cells {
  struct csv_parser parser;
  char *text;      /* all cells in sequence, each followed by a zero byte */
  size_t used, room;
  size_t *start;   /* [count + 1]: where each cell begins in text */
  int count, start_room;
  bool no_memory;
};

bool tv_cells_init(struct tv_cells *cells);
void tv_cells_free(struct tv_cells *cells);

enum tv_split { TV_SPLIT_DONE, TV_SPLIT_BAD_QUOTE, TV_SPLIT_NO_MEMORY, TV_SPLIT_NOTHING };
enum tv_split tv_cells_split(struct tv_cells *cells, const char *line, size_t length);

const char *tv_cell_text(const struct tv_cells *cells, int cell);
size_t tv_cell_length(const struct tv_cells *cells, int cell);

/* What to tell the user of a header that no table can begin with, whatever its columns; NULL where there is nothing. */
const char *tv_header_problem(const struct tv_cells *header);

#endif
