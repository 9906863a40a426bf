/* The columns of a load profile: which there are, what they accept, and which of them a header row names. */
#ifndef TV_INPUT_PROFILE_COLUMNS_H
#define TV_INPUT_PROFILE_COLUMNS_H

#include "input/profile_cells.h"
#include "tailvolt/system.h"

enum tv_column_kind {
  TV_COLUMN_TIME,
  TV_COLUMN_ENGINE,
  TV_COLUMN_AMBIENT,
  TV_COLUMN_SET_POINT,
  TV_COLUMN_BASE_LOAD,
  TV_COLUMN_READY,
  TV_COLUMN_VOLTAGE, /* measured: of a log, no part of a profile */
  TV_COLUMN_CURRENT,
  TV_COLUMN_LOAD,
  TV_COLUMN_PROGRAMME,
  TV_COLUMN_LEVEL,
  TV_COLUMN_POWER,
  TV_COLUMN_OUTPUT_W,
  TV_COLUMN_SUPPLY_W,
  TV_COLUMN_SUPPLY_A,
  TV_COLUMN_KINDS
};

#define TV_COLUMN_GENERAL (-1) /* item of a column that applies to all amplifiers, or that has no item */

struct tv_column {
  enum tv_column_kind kind;
  int item;  /* load or amplifier; of a measured column its place; or TV_COLUMN_GENERAL */
  int place; /* cell of the row, from 0 */
  double lowest, highest;
};

/* What a kind of column accepts. */
struct tv_column_rule {
  const char *name;     /* in a header; a name ending in ':' takes a part's name */
  double lowest, highest;
  const char *accepted; /* for messages */
};
const struct tv_column_rule *tv_column_rule(enum tv_column_kind kind);

/* Measured: an empty cell is a reading that was not taken. */
static inline bool tv_column_is_measured(const struct tv_column *column) {
  return column->kind == TV_COLUMN_VOLTAGE || column->kind == TV_COLUMN_CURRENT;
}

/* What a profile needs to know about its system, copied so that the system may be freed first. */
struct tv_profile_parts {
  int load_count, amplifier_count, programme_count;
  char (*loads)[TAILVOLT_NAME_MAX];
  char (*amplifiers)[TAILVOLT_NAME_MAX];
  char (*programmes)[TAILVOLT_NAME_MAX];
  int *own_programme; /* [amplifier_count], -1 = the profile's */
  double ambient_c, idle_rpm;
  bool log; /* measured columns are read too */
};
bool tv_profile_parts_copy(struct tv_profile_parts *parts, const struct tailvolt_system *system);
void tv_profile_parts_free(struct tv_profile_parts *parts);

struct tv_profile_columns {
  int cell_count; /* of every row */
  int count;      /* columns that are read, in ascending place */
  struct tv_column *column;
  char (*name)[96]; /* as the header writes them */
  int time, engine; /* index of these two, -1 = none */
};

/* Sorts the header's cells. `wanted` NULL or empty = all; else a comma-separated list of names, time_s always
 * among them. TAILVOLT_OK even where faults were found: check their count. */
enum tailvolt_status tv_profile_columns_read(struct tv_profile_columns *columns, const struct tv_cells *header,
                                             const char *wanted, const struct tv_profile_parts *parts,
                                             const char *file, int line, struct tailvolt_faults *faults);
void tv_profile_columns_free(struct tv_profile_columns *columns);

#endif
