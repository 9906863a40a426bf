/* Walking through a profile's rows.
 *
 * A cursor fills two rows in turn. What goes where is settled when it is opened, so a step only copies the columns
 * that change; everything else is in both rows from the start. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "input/profile_lines.h"
#include "input/profile_rows.h"
#include "input/profile_store.h"

#define ROWS 2

struct number_copy { int from; double *to[ROWS]; };
struct programme_copy { int from, own; int *to[ROWS]; }; /* own -1 = none, or the column is the amplifier's */
struct power_copy { int from; bool *to[ROWS]; };

struct tailvolt_profile_cursor {
  const struct tailvolt_profile *profile;
  struct tailvolt_row row[ROWS];
  double *load_on[ROWS];
  struct tailvolt_amplifier_row *amplifier[ROWS];
  bool running[ROWS]; /* what load_on by default was set for */
  double ready[ROWS]; /* column of that name */
  int filled;         /* rows that have their constant columns, up to ROWS */
  int at;             /* row given last */
  long next_row;
  /* columns that change come first */
  int numbers, changing_numbers, programmes, changing_programmes, powers, changing_powers, default_loads;
  struct number_copy *number;
  struct programme_copy *programme;
  struct power_copy *power;
  int *default_load; /* loads without a column: on while the engine runs */
  int *draw;         /* [amplifiers][supply_w, supply_a] column, or -1 */
  int *other;        /* [others] columns that change beside time and draws */
  int others;
  /* streamed */
  struct tv_lines lines;
  struct tv_rows rows;
  struct tailvolt_faults faults; /* stays empty: the file was checked */
};

/* Column that applies to an amplifier or load: its own, else the general one, else -1. */
static int column_for(const struct tv_profile_columns *columns, enum tv_column_kind kind, int item) {
  int general = -1;
  for (int k = 0; k < columns->count; k++) {
    if (columns->column[k].kind != kind) continue;
    if (columns->column[k].item == item) return k;
    if (columns->column[k].item == TV_COLUMN_GENERAL) general = k;
  }
  return general;
}

static void copy_number(struct tailvolt_profile_cursor *cursor, int from, double *to0, double *to1) {
  cursor->number[cursor->numbers++] = (struct number_copy){from, {to0, to1}};
}

/* Two passes: columns that change, then those that do not. */
static bool belongs(const struct tailvolt_profile *profile, int column, int round) {
  return column >= 0 && profile->constant[column] == (round == 1);
}

static void plan_general(struct tailvolt_profile_cursor *cursor, int round) {
  static const enum tv_column_kind kinds[] = {TV_COLUMN_TIME, TV_COLUMN_ENGINE, TV_COLUMN_AMBIENT,
                                              TV_COLUMN_SET_POINT, TV_COLUMN_BASE_LOAD};
  static const size_t offsets[] = {
      offsetof(struct tailvolt_row, time_s), offsetof(struct tailvolt_row, engine_rpm),
      offsetof(struct tailvolt_row, ambient_c), offsetof(struct tailvolt_row, set_point_v),
      offsetof(struct tailvolt_row, base_load_a)};
  for (size_t k = 0; k < sizeof kinds / sizeof kinds[0]; k++) {
    int column = column_for(&cursor->profile->columns, kinds[k], TV_COLUMN_GENERAL);
    if (!belongs(cursor->profile, column, round)) continue;
    void *to[ROWS];
    for (int r = 0; r < ROWS; r++) to[r] = (char *)&cursor->row[r] + offsets[k];
    copy_number(cursor, column, to[0], to[1]);
  }
  int ready = column_for(&cursor->profile->columns, TV_COLUMN_READY, TV_COLUMN_GENERAL);
  if (belongs(cursor->profile, ready, round))
    copy_number(cursor, ready, &cursor->ready[0], &cursor->ready[1]);
  for (int k = 0; k < cursor->profile->parts.load_count; k++) {
    int column = column_for(&cursor->profile->columns, TV_COLUMN_LOAD, k);
    if (belongs(cursor->profile, column, round))
      copy_number(cursor, column, &cursor->load_on[0][k], &cursor->load_on[1][k]);
    else if (column < 0 && round == 0)
      cursor->default_load[cursor->default_loads++] = k;
  }
}

static void plan_amplifier(struct tailvolt_profile_cursor *cursor, int k, int round) {
  const struct tailvolt_profile *profile = cursor->profile;
  const struct tv_profile_columns *columns = &profile->columns;
  struct tailvolt_amplifier_row *a = &cursor->amplifier[0][k], *b = &cursor->amplifier[1][k];
  int column = column_for(columns, TV_COLUMN_LEVEL, k);
  if (belongs(profile, column, round)) copy_number(cursor, column, &a->level_db, &b->level_db);
  column = column_for(columns, TV_COLUMN_OUTPUT_W, k);
  if (belongs(profile, column, round)) copy_number(cursor, column, &a->output_w, &b->output_w);
  column = column_for(columns, TV_COLUMN_SUPPLY_W, k);
  if (belongs(profile, column, round)) copy_number(cursor, column, &a->supply_w, &b->supply_w);
  column = column_for(columns, TV_COLUMN_SUPPLY_A, k);
  if (belongs(profile, column, round)) copy_number(cursor, column, &a->supply_a, &b->supply_a);
  column = column_for(columns, TV_COLUMN_POWER, k);
  if (belongs(profile, column, round))
    cursor->power[cursor->powers++] = (struct power_copy){column, {&a->powered, &b->powered}};
  column = column_for(columns, TV_COLUMN_PROGRAMME, k);
  if (belongs(profile, column, round)) {
    bool general = columns->column[column].item == TV_COLUMN_GENERAL;
    cursor->programme[cursor->programmes++] = (struct programme_copy){
        column, general ? profile->parts.own_programme[k] : -1, {&a->programme, &b->programme}};
  }
}

static void set_defaults(struct tailvolt_profile_cursor *cursor) {
  const struct tv_profile_parts *parts = &cursor->profile->parts;
  for (int r = 0; r < ROWS; r++) {
    struct tailvolt_row *row = &cursor->row[r];
    row->ambient_c = parts->ambient_c;
    row->set_point_v = (double)NAN;
    row->load_on = cursor->load_on[r];
    row->amplifier = cursor->amplifier[r];
    for (int k = 0; k < parts->amplifier_count; k++)
      cursor->amplifier[r][k] = (struct tailvolt_amplifier_row){
          .programme = tv_programme_default(parts, k), .powered = true,
          .output_w = (double)NAN, .supply_w = (double)NAN, .supply_a = (double)NAN};
  }
}

static void plan(struct tailvolt_profile_cursor *cursor) {
  for (int round = 0; round < 2; round++) {
    plan_general(cursor, round);
    for (int k = 0; k < cursor->profile->parts.amplifier_count; k++) plan_amplifier(cursor, k, round);
    if (round > 0) break;
    cursor->changing_numbers = cursor->numbers;
    cursor->changing_programmes = cursor->programmes;
    cursor->changing_powers = cursor->powers;
  }
}

static void plan_draws(struct tailvolt_profile_cursor *cursor) {
  const struct tv_profile_columns *columns = &cursor->profile->columns;
  for (int k = 0; k < cursor->profile->parts.amplifier_count; k++) {
    cursor->draw[2 * k] = column_for(columns, TV_COLUMN_SUPPLY_W, k);
    cursor->draw[2 * k + 1] = column_for(columns, TV_COLUMN_SUPPLY_A, k);
  }
  for (int k = 0; k < columns->count; k++) {
    enum tv_column_kind kind = columns->column[k].kind;
    if (kind != TV_COLUMN_TIME && kind != TV_COLUMN_SUPPLY_W && kind != TV_COLUMN_SUPPLY_A && !cursor->profile->constant[k])
      cursor->other[cursor->others++] = k;
  }
}

static bool allocate(struct tailvolt_profile_cursor *cursor) {
  size_t loads = (size_t)cursor->profile->parts.load_count + 1;
  size_t amplifiers = (size_t)cursor->profile->parts.amplifier_count + 1;
  bool done = true;
  for (int r = 0; r < ROWS; r++) {
    cursor->load_on[r] = calloc(loads, sizeof *cursor->load_on[r]);
    cursor->amplifier[r] = calloc(amplifiers, sizeof *cursor->amplifier[r]);
    done = done && cursor->load_on[r] != NULL && cursor->amplifier[r] != NULL;
  }
  cursor->number = calloc(6 + loads + 4 * amplifiers, sizeof *cursor->number);
  cursor->programme = calloc(amplifiers, sizeof *cursor->programme);
  cursor->power = calloc(amplifiers, sizeof *cursor->power);
  cursor->default_load = calloc(loads, sizeof *cursor->default_load);
  cursor->draw = calloc(2 * amplifiers, sizeof *cursor->draw);
  cursor->other = calloc((size_t)cursor->profile->columns.count + 1, sizeof *cursor->other);
  done = done && cursor->draw != NULL && cursor->other != NULL;
  return done && cursor->number != NULL && cursor->programme != NULL && cursor->power != NULL &&
         cursor->default_load != NULL;
}

/* The file must still be the one that was checked. */
static enum tailvolt_status open_stream(struct tailvolt_profile_cursor *cursor) {
  const struct tailvolt_profile *profile = cursor->profile;
  struct stat now;
  if (fstat(profile->file, &now) != 0 || now.st_size != profile->state.st_size ||
      now.st_mtim.tv_sec != profile->state.st_mtim.tv_sec || now.st_mtim.tv_nsec != profile->state.st_mtim.tv_nsec)
    return TAILVOLT_NOT_READABLE;
  if (!tv_lines_from_file(&cursor->lines, profile->file, profile->line_room)) return TAILVOLT_NO_MEMORY;
  cursor->lines.next_byte = profile->rows_at;
  cursor->lines.number = profile->rows_line;
  return tv_rows_init(&cursor->rows, &profile->columns, &profile->parts, profile->name, &cursor->faults)
             ? TAILVOLT_OK
             : TAILVOLT_NO_MEMORY;
}

enum tailvolt_status tailvolt_profile_open(const struct tailvolt_profile *profile,
                                           struct tailvolt_profile_cursor **out) {
  *out = NULL;
  struct tailvolt_profile_cursor *cursor = calloc(1, sizeof *cursor);
  if (cursor == NULL) return TAILVOLT_NO_MEMORY;
  cursor->profile = profile;
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (allocate(cursor)) {
    set_defaults(cursor);
    plan(cursor);
    plan_draws(cursor);
    status = profile->values == NULL ? open_stream(cursor) : TAILVOLT_OK;
  }
  if (status == TAILVOLT_OK)
    *out = cursor;
  else
    tailvolt_profile_close(cursor);
  return status;
}

void tailvolt_profile_close(struct tailvolt_profile_cursor *cursor) {
  if (cursor == NULL) return;
  for (int r = 0; r < ROWS; r++) {
    free(cursor->load_on[r]);
    free(cursor->amplifier[r]);
  }
  free(cursor->number);
  free(cursor->programme);
  free(cursor->power);
  free(cursor->default_load);
  free(cursor->draw);
  free(cursor->other);
  if (cursor->lines.buffer != NULL) {
    tv_text_lines_free(&cursor->lines);
    if (cursor->rows.columns != NULL) tv_rows_free(&cursor->rows);
  }
  free(cursor);
}

static enum tailvolt_status read_streamed(struct tailvolt_profile_cursor *cursor, const double **value) {
  for (;;) {
    const char *line;
    size_t length;
    if (tv_text_lines_next(&cursor->lines, &line, &length) != TV_LINE_GIVEN) return TAILVOLT_NOT_READABLE;
    if (tv_line_is_skipped(line, length)) continue;
    if (!tv_rows_take(&cursor->rows, line, length, cursor->lines.number)) return TAILVOLT_NO_MEMORY;
    *value = cursor->rows.value;
    return cursor->faults.count > 0 ? TAILVOLT_NOT_READABLE : TAILVOLT_OK;
  }
}

static void fill_row(struct tailvolt_profile_cursor *cursor, int r, const double *value) {
  bool first = cursor->filled < ROWS;
  int numbers = first ? cursor->numbers : cursor->changing_numbers;
  int programmes = first ? cursor->programmes : cursor->changing_programmes;
  int powers = first ? cursor->powers : cursor->changing_powers;
  for (int k = 0; k < numbers; k++) *cursor->number[k].to[r] = value[cursor->number[k].from];
  for (int k = 0; k < programmes; k++) {
    const struct programme_copy *copy = &cursor->programme[k];
    int programme = (int)value[copy->from];
    *copy->to[r] = copy->own >= 0 && programme != TAILVOLT_SILENCE ? copy->own : programme;
  }
  for (int k = 0; k < powers; k++) *cursor->power[k].to[r] = value[cursor->power[k].from] > 0;
  bool running = cursor->row[r].engine_rpm > 0 || cursor->ready[r] > 0;
  cursor->row[r].ready = running;
  if (running != cursor->running[r]) {
    cursor->running[r] = running;
    for (int k = 0; k < cursor->default_loads; k++) cursor->load_on[r][cursor->default_load[k]] = running ? 1 : 0;
  }
  if (first) cursor->filled++;
}

enum tailvolt_status tailvolt_profile_next(struct tailvolt_profile_cursor *cursor,
                                           const struct tailvolt_row **row) {
  const struct tailvolt_profile *profile = cursor->profile;
  *row = NULL;
  if (cursor->next_row >= profile->row_count) return TAILVOLT_OK;
  const double *value;
  if (profile->values != NULL) {
    value = profile->values + (size_t)cursor->next_row * (size_t)profile->columns.count;
  } else {
    enum tailvolt_status status = read_streamed(cursor, &value);
    if (status != TAILVOLT_OK) return status;
  }
  cursor->next_row++;
  cursor->at ^= 1;
  fill_row(cursor, cursor->at, value);
  *row = &cursor->row[cursor->at];
  return TAILVOLT_OK;
}

static const double *values_of(const struct tailvolt_profile *profile, long row) {
  return profile->values + (size_t)row * (size_t)profile->columns.count;
}

/* But for time and draws. */
static bool alike(const struct tailvolt_profile_cursor *cursor, const double *a, const double *b) {
  for (int k = 0; k < cursor->others; k++) {
    double x = a[cursor->other[k]], y = b[cursor->other[k]];
    if (!(x == y || (isnan(x) && isnan(y)))) return false;
  }
  return true;
}

/* A column of some rows, every `stride` cells. */
static void copy_column(const struct tailvolt_profile *profile, int column, long first, int rows, int stride, double *cells) {
  const double *value = column >= 0 ? values_of(profile, first) + column : NULL;
  for (int k = 0; k < rows; k++, cells += stride) {
    *cells = value != NULL ? *value : (double)NAN;
    if (value != NULL) value += profile->columns.count;
  }
}

int tailvolt_profile_repeats(const struct tailvolt_profile_cursor *cursor, double span_s, int most, double *cells) {
  const struct tailvolt_profile *profile = cursor->profile;
  int time = column_for(&profile->columns, TV_COLUMN_TIME, TV_COLUMN_GENERAL), rows = 0;
  long first = cursor->next_row - 1;
  int draws = 2 * profile->parts.amplifier_count;
  if (profile->values == NULL || first < 1 || !alike(cursor, values_of(profile, first - 1), values_of(profile, first))) return 0;
  const double *value = values_of(profile, first);
  for (; rows < most && first + rows + 1 < profile->row_count; rows++, value += profile->columns.count) {
    const double *behind = value + profile->columns.count;
    if (!(fabs(behind[time] - value[time] - span_s) <= 1e-9 * span_s) || !alike(cursor, value, behind)) break;
  }
  if (rows == 0) return 0;
  copy_column(profile, time, first, rows + 1, 1 + draws, cells);
  for (int k = 0; k < draws; k++) copy_column(profile, cursor->draw[k], first, rows + 1, 1 + draws, cells + 1 + k);
  return rows;
}

void tailvolt_profile_skip(struct tailvolt_profile_cursor *cursor, int rows) { cursor->next_row += rows; }
