/* A profile from rows that a host program owns. */
#include <math.h>
#include <stdlib.h>

#include "input/profile_store.h"

static void add_column(struct tv_profile_columns *columns, enum tv_column_kind kind, int item) {
  struct tv_column *column = &columns->column[columns->count];
  column->kind = kind;
  column->item = item;
  column->place = columns->count++;
  column->lowest = tv_column_rule(kind)->lowest;
  column->highest = tv_column_rule(kind)->highest;
}

static bool all_columns(struct tv_profile_columns *columns, const struct tv_profile_parts *parts) {
  size_t most = 6 + (size_t)parts->load_count + 6 * (size_t)parts->amplifier_count;
  columns->column = calloc(most, sizeof *columns->column);
  if (columns->column == NULL) return false;
  for (enum tv_column_kind kind = TV_COLUMN_TIME; kind <= TV_COLUMN_READY; kind++)
    add_column(columns, kind, TV_COLUMN_GENERAL);
  for (int k = 0; k < parts->load_count; k++) add_column(columns, TV_COLUMN_LOAD, k);
  for (int k = 0; k < parts->amplifier_count; k++)
    for (enum tv_column_kind kind = TV_COLUMN_PROGRAMME; kind <= TV_COLUMN_SUPPLY_A; kind++)
      add_column(columns, kind, k);
  columns->time = 0;
  columns->engine = 1;
  columns->cell_count = columns->count;
  return true;
}

static double cell_of(const struct tailvolt_row *row, const struct tv_column *column) {
  switch (column->kind) {
    case TV_COLUMN_TIME: return row->time_s;
    case TV_COLUMN_ENGINE: return row->engine_rpm;
    case TV_COLUMN_AMBIENT: return row->ambient_c;
    case TV_COLUMN_SET_POINT: return row->set_point_v;
    case TV_COLUMN_BASE_LOAD: return row->base_load_a;
    case TV_COLUMN_READY: return row->ready || row->engine_rpm > 0 ? 1 : 0;
    case TV_COLUMN_VOLTAGE:
    case TV_COLUMN_CURRENT: break;
    case TV_COLUMN_LOAD: return row->load_on[column->item];
    case TV_COLUMN_PROGRAMME: return row->amplifier[column->item].programme;
    case TV_COLUMN_LEVEL: return row->amplifier[column->item].level_db;
    case TV_COLUMN_POWER: return row->amplifier[column->item].powered ? 1 : 0;
    case TV_COLUMN_OUTPUT_W: return row->amplifier[column->item].output_w;
    case TV_COLUMN_SUPPLY_W: return row->amplifier[column->item].supply_w;
    case TV_COLUMN_SUPPLY_A: return row->amplifier[column->item].supply_a;
    case TV_COLUMN_KINDS: break;
  }
  return (double)NAN;
}

static bool cell_is_right(const struct tv_column *column, double value, const struct tv_profile_parts *parts) {
  if (column->kind == TV_COLUMN_PROGRAMME) return value >= TAILVOLT_SILENCE && value < parts->programme_count;
  bool may_lack = column->kind == TV_COLUMN_SET_POINT || column->kind >= TV_COLUMN_OUTPUT_W;
  if (isnan(value)) return may_lack;
  if (column->kind == TV_COLUMN_ENGINE && value > 0 && value < 0.5 * parts->idle_rpm) return false;
  return value >= column->lowest && value <= column->highest;
}

static bool row_is_right(const struct tailvolt_profile *profile, const struct tailvolt_row *row, double *value) {
  int prescribed = 0, amplifier = TV_COLUMN_GENERAL;
  for (int k = 0; k < profile->columns.count; k++) {
    const struct tv_column *column = &profile->columns.column[k];
    value[k] = cell_of(row, column);
    if (!cell_is_right(column, value[k], &profile->parts)) return false;
    if (column->item != amplifier) prescribed = 0;
    amplifier = column->item;
    if (column->kind >= TV_COLUMN_OUTPUT_W && !isnan(value[k]) && ++prescribed > 1) return false;
  }
  return true;
}

enum tailvolt_status tailvolt_profile_from_rows(const struct tailvolt_row *rows, int row_count, const char *name,
                                                const struct tailvolt_system *system,
                                                struct tailvolt_profile **out) {
  *out = NULL;
  if (row_count < 2) return TAILVOLT_BAD_INPUT;
  struct tailvolt_profile *profile = tv_profile_create(name, system);
  if (profile == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (!all_columns(&profile->columns, &profile->parts)) goto failed;
  size_t width = (size_t)profile->columns.count;
  profile->values = calloc((size_t)row_count * width, sizeof *profile->values);
  if (profile->values == NULL) goto failed;
  status = TAILVOLT_BAD_INPUT;
  for (int r = 0; r < row_count; r++) {
    if (!row_is_right(profile, &rows[r], profile->values + (size_t)r * width)) goto failed;
    if (r > 0 && !(rows[r].time_s > rows[r - 1].time_s)) goto failed;
  }
  profile->row_count = row_count;
  profile->start_s = rows[0].time_s;
  profile->end_s = rows[row_count - 1].time_s;
  status = TAILVOLT_NO_MEMORY;
  if (!tv_profile_describe(profile)) goto failed;
  *out = profile;
  return TAILVOLT_OK;
failed:
  tailvolt_profile_free(profile);
  return status;
}
