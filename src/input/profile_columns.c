#include "input/profile_columns.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/faults.h"
#include "text/text.h"

/* Ranges catch wrong units and slips of the pen, not rare vehicles. Set point: 12 V systems are commanded to between
 * 11.6 and 15.5 V (makers' data sheets). */
static const struct tv_column_rule rules[TV_COLUMN_KINDS] = {
    [TV_COLUMN_TIME] = {"time_s", -1e10, 1e10, "seconds, more than in the row above"},
    [TV_COLUMN_ENGINE] = {"engine_rpm", 0, 20000, "0 to 20000 rpm"},
    [TV_COLUMN_AMBIENT] = {"ambient_c", -60, 80, "-60 to 80 C"},
    [TV_COLUMN_SET_POINT] = {"set_point_v", 10, 18, "10 to 18 V"},
    [TV_COLUMN_BASE_LOAD] = {"base_load_a", 0, 1000, "0 to 1000 A"},
    [TV_COLUMN_READY] = {"ready", 0, 1, "0 (off) or 1 (on)"},
    [TV_COLUMN_VOLTAGE] = {"voltage_v:", -100, 100, "-100 to 100 V, or nothing where none was read"},
    [TV_COLUMN_CURRENT] = {"current_a:", -5000, 5000, "-5000 to 5000 A, or nothing where none was read"},
    [TV_COLUMN_LOAD] = {"load:", 0, 1, "0 (off) to 1 (on)"},
    [TV_COLUMN_PROGRAMME] = {"programme", 0, 0, "the name of a programme, or silence"},
    [TV_COLUMN_LEVEL] = {"level_db", -200, 40, "-200 to 40 dB"},
    [TV_COLUMN_POWER] = {"power:", 0, 1, "0 (off) or 1 (on)"},
    [TV_COLUMN_OUTPUT_W] = {"output_w:", 0, 100000, "0 to 100000 W"},
    [TV_COLUMN_SUPPLY_W] = {"supply_w:", 0, 100000, "0 to 100000 W"},
    [TV_COLUMN_SUPPLY_A] = {"supply_a:", 0, 10000, "0 to 10000 A"},
};

/* kinds that can apply to all amplifiers or to one */
static const struct { const char *prefix; enum tv_column_kind kind; } prefixes[] = {
    {"load:", TV_COLUMN_LOAD},         {"programme:", TV_COLUMN_PROGRAMME},
    {"level_db:", TV_COLUMN_LEVEL},    {"power:", TV_COLUMN_POWER},
    {"output_w:", TV_COLUMN_OUTPUT_W}, {"supply_w:", TV_COLUMN_SUPPLY_W},
    {"supply_a:", TV_COLUMN_SUPPLY_A}, {"voltage_v:", TV_COLUMN_VOLTAGE},
    {"current_a:", TV_COLUMN_CURRENT},
};
#define PREFIXES (sizeof prefixes / sizeof prefixes[0])

static const enum tv_column_kind plain_kinds[] = {
    TV_COLUMN_TIME,      TV_COLUMN_ENGINE,    TV_COLUMN_AMBIENT, TV_COLUMN_SET_POINT,
    TV_COLUMN_BASE_LOAD, TV_COLUMN_READY,     TV_COLUMN_PROGRAMME, TV_COLUMN_LEVEL,
};
#define PLAIN_KINDS (sizeof plain_kinds / sizeof plain_kinds[0])

const struct tv_column_rule *tv_column_rule(enum tv_column_kind kind) { return &rules[kind]; }

/* ---- the system's names ---- */

static char (*copy_names(const void *first, size_t stride, int count))[TAILVOLT_NAME_MAX] {
  char(*names)[TAILVOLT_NAME_MAX] = calloc((size_t)count + 1, sizeof *names);
  if (names == NULL) return NULL;
  /* every part starts with its name */
  for (int k = 0; k < count; k++)
    tv_copy_text(names[k], sizeof names[k], (const char *)first + (size_t)k * stride);
  return names;
}

bool tv_profile_parts_copy(struct tv_profile_parts *parts, const struct tailvolt_system *system) {
  memset(parts, 0, sizeof *parts);
  parts->load_count = system->load_count;
  parts->amplifier_count = system->amplifier_count;
  parts->programme_count = system->programme_count;
  parts->ambient_c = system->vehicle.ambient_c;
  parts->idle_rpm = system->engine.idle_rpm;
  parts->loads = copy_names(system->loads, sizeof *system->loads, system->load_count);
  parts->amplifiers = copy_names(system->amplifiers, sizeof *system->amplifiers, system->amplifier_count);
  parts->programmes = copy_names(system->programmes, sizeof *system->programmes, system->programme_count);
  parts->own_programme = calloc((size_t)system->amplifier_count + 1, sizeof *parts->own_programme);
  if (parts->loads == NULL || parts->amplifiers == NULL || parts->programmes == NULL ||
      parts->own_programme == NULL) {
    tv_profile_parts_free(parts);
    return false;
  }
  for (int k = 0; k < system->amplifier_count; k++)
    parts->own_programme[k] = system->amplifiers[k].programme;
  return true;
}

void tv_profile_parts_free(struct tv_profile_parts *parts) {
  free(parts->loads);
  free(parts->amplifiers);
  free(parts->programmes);
  free(parts->own_programme);
  memset(parts, 0, sizeof *parts);
}

static int find_name(char (*names)[TAILVOLT_NAME_MAX], int count, const char *name) {
  for (int k = 0; k < count; k++)
    if (strcmp(names[k], name) == 0) return k;
  return -1;
}

static const char *nearest_name(char (*names)[TAILVOLT_NAME_MAX], int count, const char *name) {
  const char *best = NULL;
  const char **list = calloc((size_t)count + 1, sizeof *list);
  if (list == NULL) return NULL;
  for (int k = 0; k < count; k++) list[k] = names[k];
  best = tv_nearest_word(name, list, (size_t)count);
  free(list);
  return best;
}

/* ---- one cell of the header ---- */

/* Nearest known name to `name`: the parts before and after the colon are compared separately, so a slip in either is
 * found. False where nothing is near. */
static bool nearest_column(const char *name, const struct tv_profile_parts *parts, char *out, size_t room) {
  const char *words[PLAIN_KINDS + PREFIXES];
  size_t count = 0;
  const char *colon = strchr(name, ':');
  if (colon == NULL) {
    for (size_t k = 0; k < PLAIN_KINDS; k++) words[count++] = rules[plain_kinds[k]].name;
    const char *near = tv_nearest_word(name, words, count);
    tv_copy_text(out, room, near);
    return near != NULL;
  }
  char stem[64];
  size_t length = (size_t)(colon - name) + 1;
  if (length >= sizeof stem) return false;
  memcpy(stem, name, length);
  stem[length] = '\0';
  for (size_t k = 0; k < PREFIXES; k++) words[count++] = prefixes[k].prefix;
  const char *near = tv_nearest_word(stem, words, count);
  if (near == NULL) return false;
  if (strcmp(near, rules[TV_COLUMN_VOLTAGE].name) == 0 || strcmp(near, rules[TV_COLUMN_CURRENT].name) == 0) {
    snprintf(out, room, "%s%s", near, colon + 1);
    return parts->log;
  }
  bool load = strcmp(near, "load:") == 0;
  char(*names)[TAILVOLT_NAME_MAX] = load ? parts->loads : parts->amplifiers;
  int names_count = load ? parts->load_count : parts->amplifier_count;
  const char *part = nearest_name(names, names_count, colon + 1);
  if (part == NULL && names_count == 1) part = names[0];
  if (part == NULL) return false;
  char whole[TAILVOLT_NAME_MAX + 16];
  tv_copy_text(whole, sizeof whole, near);
  size_t used = strlen(whole);
  tv_copy_text(whole + used, sizeof whole - used, part);
  tv_copy_text(out, room, whole);
  return true;
}

static void unknown_column(const char *name, int place, const struct tv_profile_parts *parts, const char *file,
                           int line, struct tailvolt_faults *faults) {
  char near[TAILVOLT_NAME_MAX + 16];
  if (strncmp(name, "speed", 5) == 0)
    tv_fault_add(faults, file, line, place + 1, name, NULL,
                 "unknown column: tailvolt drive turns a trace of road speed into a load profile");
  else if (nearest_column(name, parts, near, sizeof near))
    tv_fault_add(faults, file, line, place + 1, name, NULL, "unknown column (did you mean \"%s\"?)", near);
  else
    tv_fault_add(faults, file, line, place + 1, name, NULL,
                 "unknown column: known are time_s, engine_rpm, ambient_c, set_point_v, base_load_a, "
                 "ready, load:NAME, programme, level_db, and with :AMPLIFIER programme, level_db, power, output_w, "
                 "supply_w, supply_a%s", parts->log ? "; and measured: voltage_v:POINT, current_a:PART" : "");
}

/* "load:lights" and its like: false with a fault where the part is not in the system. */
static bool part_column(struct tv_column *column, const char *name, const char *part,
                        const struct tv_profile_parts *parts, const char *file, int line,
                        struct tailvolt_faults *faults) {
  bool load = column->kind == TV_COLUMN_LOAD;
  char(*names)[TAILVOLT_NAME_MAX] = load ? parts->loads : parts->amplifiers;
  int count = load ? parts->load_count : parts->amplifier_count;
  const char *what = load ? "load" : "amplifier";
  column->item = find_name(names, count, part);
  if (column->item >= 0) return true;
  const char *near = nearest_name(names, count, part);
  if (near == NULL && count == 1) near = names[0];
  if (count == 0)
    tv_fault_add(faults, file, line, column->place + 1, name, NULL, "no such %s: the system has none", what);
  else if (near != NULL)
    tv_fault_add(faults, file, line, column->place + 1, name, NULL,
                 "no such %s in the system (did you mean \"%s\"?)", what, near);
  else
    tv_fault_add(faults, file, line, column->place + 1, name, NULL,
                 "no such %s in the system: its %ss begin with \"%.60s\"", what, what, names[0]);
  return false;
}

/* "voltage_v:battery post" and the like; whoever reads the log finds where it was measured. */
static bool measured_column(struct tv_column *column, const char *name, const char *place,
                            const struct tv_profile_parts *parts, const char *file, int line,
                            struct tailvolt_faults *faults) {
  column->item = column->place;
  if (!parts->log)
    tv_fault_add(faults, file, line, column->place + 1, name, NULL,
                 "a measured column: `tailvolt compare` and `match` read it; in a load profile call it note_...");
  else if (place[0] == '\0')
    tv_fault_add(faults, file, line, column->place + 1, name, NULL, "names no place: where was it measured?");
  return parts->log && place[0] != '\0';
}

/* Finds what a header cell names. False: do not read it; a fault is added where it is wrong. */
static bool sort_column(struct tv_column *column, const char *name, const struct tv_profile_parts *parts,
                        const char *file, int line, struct tailvolt_faults *faults) {
  column->item = TV_COLUMN_GENERAL;
  for (size_t k = 0; k < PLAIN_KINDS; k++) {
    if (strcmp(rules[plain_kinds[k]].name, name) != 0) continue;
    column->kind = plain_kinds[k];
    return true;
  }
  for (size_t k = 0; k < PREFIXES; k++) {
    size_t length = strlen(prefixes[k].prefix);
    if (strncmp(prefixes[k].prefix, name, length) != 0) continue;
    column->kind = prefixes[k].kind;
    if (tv_column_is_measured(column)) return measured_column(column, name, name + length, parts, file, line, faults);
    return part_column(column, name, name + length, parts, file, line, faults);
  }
  if (name[0] == '\0')
    tv_fault_add(faults, file, line, column->place + 1, NULL, NULL,
                 "column %d has no name: name it, or call it note", column->place + 1);
  else
    unknown_column(name, column->place, parts, file, line, faults);
  return false;
}

/* ---- the --columns list ---- */

/* The next name of a comma-separated list, trimmed; NULL at its end. */
static const char *next_wanted(const char **rest, size_t *length) {
  while (**rest == ',' || **rest == ' ') ++*rest;
  if (**rest == '\0') return NULL;
  const char *start = *rest;
  *rest += strcspn(start, ",");
  *length = (size_t)(*rest - start);
  while (*length > 0 && start[*length - 1] == ' ') --*length;
  return start;
}

static bool is_wanted(const char *wanted, const char *name) {
  if (wanted == NULL || wanted[0] == '\0' || strcmp(name, rules[TV_COLUMN_TIME].name) == 0) return true;
  size_t length;
  for (const char *item; (item = next_wanted(&wanted, &length)) != NULL;)
    if (strlen(name) == length && memcmp(name, item, length) == 0) return true;
  return false;
}

/* A requested name that the header lacks is a slip, and would otherwise silently become a default. */
static bool check_wanted(const char *wanted, const struct tv_cells *header, const char *file, int line,
                         struct tailvolt_faults *faults) {
  if (wanted == NULL) return true;
  const char **names = calloc((size_t)header->count + 1, sizeof *names);
  if (names == NULL) return false;
  for (int k = 0; k < header->count; k++) names[k] = tv_cell_text(header, k);
  size_t length;
  for (const char *item; (item = next_wanted(&wanted, &length)) != NULL;) {
    bool found = false;
    for (int k = 0; k < header->count && !found; k++)
      found = strlen(names[k]) == length && memcmp(names[k], item, length) == 0;
    if (found) continue;
    char name[96];
    tv_copy_text(name, length < sizeof name ? length + 1 : sizeof name, item);
    const char *near = tv_nearest_word(name, names, (size_t)header->count);
    if (near != NULL)
      tv_fault_add(faults, file, line, 0, name, NULL,
                   "asked for, but the file has no such column (did you mean \"%.60s\"?)", near);
    else
      tv_fault_add(faults, file, line, 0, name, NULL, "asked for, but the file has no such column");
  }
  free(names);
  return true;
}

/* ---- the whole header ---- */

static void check_once(const struct tv_profile_columns *columns, const char *file, int line,
                       struct tailvolt_faults *faults) {
  const struct tv_column *last = &columns->column[columns->count - 1];
  const char *name = columns->name[columns->count - 1];
  bool draws = last->kind >= TV_COLUMN_OUTPUT_W;
  for (int k = 0; k < columns->count - 1; k++) {
    const struct tv_column *earlier = &columns->column[k];
    if (earlier->item != last->item) continue;
    if (earlier->kind == last->kind) {
      tv_fault_add(faults, file, line, last->place + 1, name, NULL, "appears twice: the first is column %d",
                   earlier->place + 1);
      return;
    }
    if (draws && earlier->kind >= TV_COLUMN_OUTPUT_W) {
      tv_fault_add(faults, file, line, last->place + 1, name, NULL,
                   "prescribes the same amplifier as \"%.60s\": keep one of them", columns->name[k]);
      return;
    }
  }
}

enum tailvolt_status tv_profile_columns_read(struct tv_profile_columns *columns, const struct tv_cells *header,
                                             const char *wanted, const struct tv_profile_parts *parts,
                                             const char *file, int line, struct tailvolt_faults *faults) {
  memset(columns, 0, sizeof *columns);
  columns->cell_count = header->count;
  columns->time = columns->engine = -1;
  columns->column = calloc((size_t)header->count + 1, sizeof *columns->column);
  columns->name = calloc((size_t)header->count + 1, sizeof *columns->name);
  if (columns->column == NULL || columns->name == NULL) return TAILVOLT_NO_MEMORY;
  const char *problem = tv_header_problem(header);
  if (problem != NULL) { /* no name in it can be trusted */
    tv_fault_add(faults, file, line, 1, tv_cell_text(header, 0), NULL, "%s", problem);
    return TAILVOLT_OK;
  }
  for (int place = 0; place < header->count; place++) {
    const char *name = tv_cell_text(header, place);
    struct tv_column *column = &columns->column[columns->count];
    if (strncmp(name, "note", 4) == 0 || !is_wanted(wanted, name)) continue;
    column->place = place;
    if (!sort_column(column, name, parts, file, line, faults)) continue;
    column->lowest = rules[column->kind].lowest;
    column->highest = rules[column->kind].highest;
    tv_copy_text(columns->name[columns->count], sizeof columns->name[0], name);
    if (column->kind == TV_COLUMN_TIME && columns->time < 0) columns->time = columns->count;
    if (column->kind == TV_COLUMN_ENGINE && columns->engine < 0) columns->engine = columns->count;
    columns->count++;
    check_once(columns, file, line, faults);
  }
  if (!check_wanted(wanted, header, file, line, faults)) return TAILVOLT_NO_MEMORY;
  if (columns->time < 0)
    tv_fault_add(faults, file, line, 0, "time_s", NULL, "the column is missing: every %s needs it", parts->log ? "log" : "profile");
  return TAILVOLT_OK;
}

void tv_profile_columns_free(struct tv_profile_columns *columns) {
  free(columns->column);
  free(columns->name);
  memset(columns, 0, sizeof *columns);
}
