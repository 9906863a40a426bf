/* The catalogue of remedies: standard sizes, what they cost and how long they take to fit.
 *
 * A CSV file (profiles/catalogue.csv is built in). Rows of one part rise in effect; the search relies on
 * that. */
#ifndef TV_STUDY_REMEDY_CATALOGUE_H
#define TV_STUDY_REMEDY_CATALOGUE_H

#include <stdbool.h>

#include "tailvolt/status.h"

enum tv_stock {
  TV_STOCK_HOUR,     /* cost of one hour of work */
  TV_STOCK_CURRENCY, /* of a price list */
  TV_STOCK_CABLE,
  TV_STOCK_WORK,
  TV_STOCK_CAPACITOR,
  TV_STOCK_BATTERY,
  TV_STOCK_SECOND_BATTERY,
  TV_STOCK_ALTERNATOR,
  TV_STOCK_IDLE,
  TV_STOCK_LEVEL,
  TV_STOCK_CONVERTER,
  TV_STOCKS
};

/* Kinds of work. */
enum tv_work { TV_WORK_FEED, TV_WORK_GROUND, TV_WORK_STRAP, TV_WORK_JOINT, TV_WORK_FUSE, TV_WORKS };

struct tv_stock_item {
  enum tv_stock stock;
  enum tv_work work;    /* for TV_STOCK_WORK */
  char size[32];        /* as the system file writes it: "4 AWG", "1 F"; a word for TV_STOCK_WORK */
  double value;         /* SI; for a cable its resistance per metre at 20 C, ohm/m; level in dB, idle in rpm */
  bool metric;          /* cable sold by mm2 */
  double cost, cost_per_m, effort_h;
  double esr_ohm, cold_cranking_a; /* NAN = not given */
  bool priced;          /* cost, cost_per_m and effort_h come from a price list */
};

struct tv_catalogue {
  int count, room;
  struct tv_stock_item *item;
  double hour_cost;
  char currency[8];     /* of the price list; empty = no prices, costs only order the search */
};

extern const char *const tv_built_in_catalogue[]; /* lines; NULL ends the list */

/* Reads a file, NULL = the one built in. TAILVOLT_OK, _NOT_READABLE, _NO_MEMORY, _BAD_INPUT with `error`
 * (TAILVOLT_TEXT_MAX bytes) as "LINE:COLUMN: text", "LINE: text" or "text". */
TAILVOLT_CHECKED enum tailvolt_status tv_catalogue_read(const char *path, struct tv_catalogue *catalogue,
                                                        char *error);
/* Applies a price list to a catalogue: a CSV file with part, size, price, price_per_m and hours, a row `currency,EUR` and
 * a row `hour,,60`. Of a part that has rows in the list only the listed sizes stay: what is not listed is not stocked.
 * Faults as in tv_catalogue_read(). */
TAILVOLT_CHECKED enum tailvolt_status tv_catalogue_price(const char *path, struct tv_catalogue *catalogue, char *error);
void tv_catalogue_free(struct tv_catalogue *catalogue);

/* The row for a kind of work; NULL = that work is not offered. */
const struct tv_stock_item *tv_catalogue_work(const struct tv_catalogue *catalogue, enum tv_work work);

#endif
