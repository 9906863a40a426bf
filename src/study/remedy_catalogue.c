#include "study/remedy_catalogue.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "text/read_number.h"
#include "input/profile_cells.h"
#include "input/profile_lines.h"
#include "input/profile_rows.h"
#include "input/quantity.h"
#include "text/text.h"
#include "text/unfit.h"
#include "parts/conductor.h"

static const struct {
  const char *name;
  enum tv_measure measure;
  double lowest, highest; /* of the size, in the internal unit; a cable's area in m2 */
} stocks[TV_STOCKS] = {
    [TV_STOCK_HOUR] = {"hour", TV_PLAIN, 0, 0},
    [TV_STOCK_CABLE] = {"cable", TV_AREA, 0.5e-6, 240e-6},
    [TV_STOCK_WORK] = {"work", TV_PLAIN, 0, 0},
    [TV_STOCK_CAPACITOR] = {"capacitor", TV_CAPACITANCE, 1e-6, 1e5},
    [TV_STOCK_BATTERY] = {"battery", TV_CHARGE, 1, 1000},
    [TV_STOCK_SECOND_BATTERY] = {"second battery", TV_CHARGE, 1, 1000},
    [TV_STOCK_ALTERNATOR] = {"alternator", TV_CURRENT, 10, 500},
    [TV_STOCK_IDLE] = {"idle", TV_SPEED, 10, 1000},
    [TV_STOCK_LEVEL] = {"level", TV_LEVEL, 0.1, 90},
    [TV_STOCK_CONVERTER] = {"converter", TV_CURRENT, 1, 500},
    [TV_STOCK_CURRENCY] = {"currency", TV_PLAIN, 0, 0},
};
static const char *const works[TV_WORKS] = {"feed", "ground", "strap", "joint", "fuse"};

enum column { PART, SIZE, COST, COST_PER_M, EFFORT, ESR, COLD_CRANKING, COLUMNS };
static const char *const column_names[COLUMNS] = {"part",     "size",     "cost",           "cost_per_m",
                                                  "effort_h", "esr_mohm", "cold_cranking_a"};
/* the same in a price list */
static const char *const price_names[COLUMNS] = {"part", "size", "price", "price_per_m", "hours", "esr_mohm", "cold_cranking_a"};

struct reader {
  struct tv_cells cells;
  int line;
  bool prices; /* a price list, not a catalogue */
  bool has_header;
  int cell_count, place[COLUMNS]; /* -1 = not there */
  struct tv_catalogue *catalogue;
  char *error;
};

static enum tailvolt_status refuse(const struct reader *reader, int cell, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* cell -1 = the line as a whole; line 0 = the file as a whole */
static enum tailvolt_status refuse(const struct reader *reader, int cell, const char *format, ...) {
  char text[TAILVOLT_TEXT_MAX - 32];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(text, sizeof text, format, arguments);
  va_end(arguments);
  tv_at_place(reader->error, TAILVOLT_TEXT_MAX, reader->line, cell + 1, text);
  return TAILVOLT_BAD_INPUT;
}

static enum tailvolt_status take_header(struct reader *reader) {
  const char *problem = tv_header_problem(&reader->cells);
  if (problem != NULL) return refuse(reader, -1, "%s", problem);
  for (int c = 0; c < COLUMNS; c++) reader->place[c] = -1;
  reader->cell_count = reader->cells.count;
  const char *const *names = reader->prices ? price_names : column_names;
  for (int k = 0; k < reader->cells.count; k++) {
    const char *name = tv_cell_text(&reader->cells, k);
    int c = 0;
    while (c < COLUMNS && strcmp(name, names[c]) != 0) c++;
    if (c == COLUMNS)
      return refuse(reader, k, "column '%.60s': a %s has part, size, %s, %s, %s, esr_mohm and cold_cranking_a", name,
                    reader->prices ? "price list" : "catalogue", names[COST], names[COST_PER_M], names[EFFORT]);
    if (reader->place[c] >= 0) return refuse(reader, k, "column '%s' appears twice", name);
    reader->place[c] = k;
  }
  for (int c = PART; c <= COST; c++)
    if (reader->place[c] < 0) return refuse(reader, -1, "column %s is missing", names[c]);
  reader->has_header = true;
  return TAILVOLT_OK;
}

/* Empty = `absent`. Never negative. */
static enum tailvolt_status take_number(struct reader *reader, enum column column, double absent, double *value) {
  int k = reader->place[column];
  *value = absent;
  if (k < 0 || tv_cell_length(&reader->cells, k) == 0) return TAILVOLT_OK;
  const char *text = tv_cell_text(&reader->cells, k);
  if (!tv_parse_number(text, tv_cell_length(&reader->cells, k), value))
    return refuse(reader, k, "'%.60s' is not a number", text);
  if (*value < 0.0 || *value > 1e9) return refuse(reader, k, "'%.60s' is out of range: 0 to 1e9", text);
  return TAILVOLT_OK;
}

static enum tailvolt_status take_size(struct reader *reader, struct tv_stock_item *item) {
  int k = reader->place[SIZE], awg;
  const char *text = tv_cell_text(&reader->cells, k), *name = stocks[item->stock].name;
  tv_plain_text(item->size, sizeof item->size, text);
  if (item->stock == TV_STOCK_HOUR) return TAILVOLT_OK;
  if (item->stock == TV_STOCK_CURRENCY) {
    if (!reader->prices) return refuse(reader, k, "a currency belongs in a price list (--prices)");
    if (item->size[0] == '\0' || strlen(item->size) >= sizeof reader->catalogue->currency)
      return refuse(reader, k, "'%.60s': a currency is a short word such as EUR or USD", text);
    tv_copy_text(reader->catalogue->currency, sizeof reader->catalogue->currency, item->size);
    return TAILVOLT_OK;
  }
  if (item->stock == TV_STOCK_WORK) {
    for (item->work = 0; item->work < TV_WORKS; item->work++)
      if (strcmp(item->size, works[item->work]) == 0) return TAILVOLT_OK;
    return refuse(reader, k, "'%.60s': work is feed, ground, strap, joint or fuse", text);
  }
  struct tv_section section;
  if (item->stock == TV_STOCK_CABLE && tv_gauge_read(item->size, &awg)) {
    if (!tv_section_from_awg(awg, TAILVOLT_COPPER, &section))
      return refuse(reader, k, "'%.60s' is not a size of cable: 20 to 4/0 AWG", text);
    item->value = section.r20_ohm_per_m;
    return TAILVOLT_OK;
  }
  if (tv_quantity_read(item->size, strlen(item->size), stocks[item->stock].measure, &item->value) != TV_QUANTITY_OK)
    return refuse(reader, k, "'%.60s' is not a size of a %s: a number with its unit (%s%s)", text, name,
                  tv_measure_units(stocks[item->stock].measure), item->stock == TV_STOCK_CABLE ? " or AWG" : "");
  if (!(item->value >= stocks[item->stock].lowest && item->value <= stocks[item->stock].highest))
    return refuse(reader, k, "'%.60s' is out of range for a part %s", text, name);
  if (item->stock != TV_STOCK_CABLE) return TAILVOLT_OK;
  item->metric = true;
  if (!tv_section_from_mm2(item->value * 1e6, TAILVOLT_COPPER, &section))
    return refuse(reader, k, "'%.60s' is not a size of cable", text);
  item->value = section.r20_ohm_per_m;
  return TAILVOLT_OK;
}

static enum tailvolt_status keep(struct tv_catalogue *catalogue, const struct tv_stock_item *item) {
  if (catalogue->count == catalogue->room) {
    int room = 2 * catalogue->room + 64;
    struct tv_stock_item *larger = realloc(catalogue->item, (size_t)room * sizeof *larger);
    if (larger == NULL) return TAILVOLT_NO_MEMORY;
    catalogue->item = larger;
    catalogue->room = room;
  }
  catalogue->item[catalogue->count++] = *item;
  return TAILVOLT_OK;
}

/* However its size is written. */
static bool same_item(const struct tv_stock_item *a, const struct tv_stock_item *b) {
  if (a->stock != b->stock) return false;
  if (a->stock == TV_STOCK_WORK) return a->work == b->work;
  return a->metric == b->metric && fabs(a->value - b->value) <= 1e-9 * fabs(b->value);
}

static enum tailvolt_status take_row(struct reader *reader) {
  struct tv_stock_item item = {.stock = TV_STOCKS};
  enum tailvolt_status status;
  if (reader->cells.count != reader->cell_count)
    return refuse(reader, -1, "has %d cells where the header has %d", reader->cells.count, reader->cell_count);
  const char *part = tv_cell_text(&reader->cells, reader->place[PART]);
  for (int s = 0; s < TV_STOCKS; s++)
    if (strcmp(part, stocks[s].name) == 0) item.stock = (enum tv_stock)s;
  if (item.stock == TV_STOCKS)
    return refuse(reader, reader->place[PART], "part '%.60s': known are %shour, cable, work, capacitor, battery, "
                                               "second battery, alternator, idle and level", part,
                  reader->prices ? "currency, " : "");
  double esr_mohm;
  if ((status = take_size(reader, &item)) != TAILVOLT_OK) return status;
  if ((status = take_number(reader, COST, 0.0, &item.cost)) != TAILVOLT_OK) return status;
  if ((status = take_number(reader, COST_PER_M, 0.0, &item.cost_per_m)) != TAILVOLT_OK) return status;
  if ((status = take_number(reader, EFFORT, 0.0, &item.effort_h)) != TAILVOLT_OK) return status;
  if ((status = take_number(reader, ESR, (double)NAN, &esr_mohm)) != TAILVOLT_OK) return status;
  if ((status = take_number(reader, COLD_CRANKING, (double)NAN, &item.cold_cranking_a)) != TAILVOLT_OK) return status;
  item.esr_ohm = esr_mohm / 1e3;
  if (item.stock == TV_STOCK_CURRENCY) return TAILVOLT_OK;
  if (item.stock == TV_STOCK_HOUR) {
    reader->catalogue->hour_cost = item.cost;
    return TAILVOLT_OK;
  }
  item.priced = reader->prices;
  for (int k = 0; k < reader->catalogue->count; k++) {
    const struct tv_stock_item *other = &reader->catalogue->item[k];
    if (same_item(other, &item))
      return refuse(reader, reader->place[SIZE], "%s '%s' appears twice", part, item.size);
  }
  return keep(reader->catalogue, &item);
}

static enum tailvolt_status take_line(struct reader *reader, const char *line, size_t length) {
  reader->line++;
  switch (tv_line_split(&reader->cells, reader->line, line, length)) {
  case TV_SPLIT_NOTHING:
    return TAILVOLT_OK;
  case TV_SPLIT_DONE:
    return reader->has_header ? take_row(reader) : take_header(reader);
  case TV_SPLIT_BAD_QUOTE:
    return refuse(reader, -1, "a quotation mark is not closed or is inside a cell");
  case TV_SPLIT_NO_MEMORY:
    break;
  }
  return TAILVOLT_NO_MEMORY;
}

static enum tailvolt_status read_file(struct reader *reader, const char *path) {
  struct tv_lines lines = {0};
  const char *unfit = tv_unfit(path, false);
  int file = unfit != NULL ? -1 : open(path, O_RDONLY);
  if (file < 0) {
    snprintf(reader->error, TAILVOLT_TEXT_MAX, "%s", unfit != NULL ? unfit : strerror(errno));
    return TAILVOLT_NOT_READABLE;
  }
  enum tailvolt_status status = tv_lines_from_file(&lines, file, 0) ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  bool more = status == TAILVOLT_OK;
  while (more && status == TAILVOLT_OK) {
    const char *line;
    size_t length;
    switch (tv_text_lines_next(&lines, &line, &length)) {
    case TV_LINE_GIVEN:
      status = take_line(reader, line, length);
      break;
    case TV_LINE_END:
      more = false;
      break;
    case TV_LINE_TOO_LONG:
      status = refuse(reader, -1, "the line after this one is too long");
      break;
    case TV_LINE_UNREADABLE:
      snprintf(reader->error, TAILVOLT_TEXT_MAX, "%s", strerror(errno));
      status = TAILVOLT_NOT_READABLE;
      break;
    case TV_LINE_NO_MEMORY:
      status = TAILVOLT_NO_MEMORY;
      break;
    }
  }
  tv_text_lines_free(&lines);
  close(file);
  return status;
}

/* The order in which the search climbs. */
static bool before(const struct tv_stock_item *a, const struct tv_stock_item *b) {
  if (a->stock != b->stock) return a->stock < b->stock;
  if (a->stock == TV_STOCK_WORK) return false;
  return a->stock == TV_STOCK_CABLE ? a->value > b->value : a->value < b->value;
}

static void sort(struct tv_catalogue *catalogue) {
  for (int k = 1; k < catalogue->count; k++) {
    struct tv_stock_item moved = catalogue->item[k];
    int at = k;
    for (; at > 0 && before(&moved, &catalogue->item[at - 1]); at--) catalogue->item[at] = catalogue->item[at - 1];
    catalogue->item[at] = moved;
  }
}

/* What the list leaves out about an item comes from the catalogue; new items are added. */
static enum tailvolt_status put_prices(struct tv_catalogue *catalogue, const struct tv_catalogue *list) {
  bool listed[TV_STOCKS] = {false};
  enum tailvolt_status status = TAILVOLT_OK;
  for (int p = 0; p < list->count && status == TAILVOLT_OK; p++) {
    struct tv_stock_item item = list->item[p], *known = NULL;
    listed[item.stock] = true;
    for (int k = 0; k < catalogue->count && known == NULL; k++)
      if (same_item(&catalogue->item[k], &item)) known = &catalogue->item[k];
    if (known == NULL) {
      status = keep(catalogue, &item);
      continue;
    }
    if (isnan(item.esr_ohm)) item.esr_ohm = known->esr_ohm;
    if (isnan(item.cold_cranking_a)) item.cold_cranking_a = known->cold_cranking_a;
    *known = item;
  }
  int kept = 0;
  for (int k = 0; k < catalogue->count; k++) {
    const struct tv_stock_item *item = &catalogue->item[k];
    if (item->priced || item->stock == TV_STOCK_WORK || !listed[item->stock]) catalogue->item[kept++] = *item;
  }
  catalogue->count = kept;
  catalogue->hour_cost = list->hour_cost;
  tv_copy_text(catalogue->currency, sizeof catalogue->currency, list->currency);
  return status;
}

enum tailvolt_status tv_catalogue_price(const char *path, struct tv_catalogue *catalogue, char *error) {
  struct tv_catalogue list = {0};
  struct reader reader = {.catalogue = &list, .error = error, .prices = true};
  error[0] = '\0';
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (tv_cells_init(&reader.cells)) {
    status = read_file(&reader, path);
    reader.line = 0;
    if (status == TAILVOLT_OK && !reader.has_header)
      status = refuse(&reader, -1, "is empty: the columns part, size and price are wanted");
    if (status == TAILVOLT_OK && list.currency[0] == '\0')
      status = refuse(&reader, -1, "no currency: a row such as 'currency,EUR,' is wanted");
    tv_cells_free(&reader.cells);
  }
  if (status == TAILVOLT_OK) status = put_prices(catalogue, &list);
  if (status == TAILVOLT_NO_MEMORY) snprintf(error, TAILVOLT_TEXT_MAX, "out of memory");
  if (status == TAILVOLT_OK) sort(catalogue);
  tv_catalogue_free(&list);
  return status;
}

enum tailvolt_status tv_catalogue_read(const char *path, struct tv_catalogue *catalogue, char *error) {
  struct reader reader = {.catalogue = catalogue, .error = error};
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  *catalogue = (struct tv_catalogue){0};
  error[0] = '\0';
  if (tv_cells_init(&reader.cells)) {
    status = TAILVOLT_OK;
    if (path != NULL)
      status = read_file(&reader, path);
    else
      for (int k = 0; tv_built_in_catalogue[k] != NULL && status == TAILVOLT_OK; k++)
        status = take_line(&reader, tv_built_in_catalogue[k], strlen(tv_built_in_catalogue[k]));
    reader.line = 0;
    if (status == TAILVOLT_OK && !reader.has_header)
      status = refuse(&reader, -1, "is empty: the columns part, size and cost are wanted");
    tv_cells_free(&reader.cells);
  }
  if (status == TAILVOLT_NO_MEMORY) snprintf(error, TAILVOLT_TEXT_MAX, "out of memory");
  if (status == TAILVOLT_OK)
    sort(catalogue);
  else
    tv_catalogue_free(catalogue);
  return status;
}

void tv_catalogue_free(struct tv_catalogue *catalogue) {
  free(catalogue->item);
  *catalogue = (struct tv_catalogue){0};
}

const struct tv_stock_item *tv_catalogue_work(const struct tv_catalogue *catalogue, enum tv_work work) {
  for (int k = 0; k < catalogue->count; k++)
    if (catalogue->item[k].stock == TV_STOCK_WORK && catalogue->item[k].work == work) return &catalogue->item[k];
  return NULL;
}
