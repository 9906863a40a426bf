/* Reading a log: the profile's reader with measured columns beside; then where each of them was measured. */
#include "input/log.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/faults.h"
#include "input/profile_store.h"
#include "text/text.h"
#include "text/words.h"

/* ---- what a column stands for ---- */

/* One thing that can be measured. */
struct candidate {
  char name[TAILVOLT_NAME_MAX];         /* of the point or part */
  char section[TAILVOLT_NAME_MAX + 16]; /* as its section is named; a point's own name */
  enum tv_log_place place;
  int item;
};

struct candidates {
  int count;
  struct candidate *list;
};

static void add(struct candidates *all, enum tv_log_place place, int item, enum tailvolt_part_kind kind, const char *name) {
  struct candidate *one = &all->list[all->count++];
  one->place = place;
  one->item = item;
  tv_copy_text(one->name, sizeof one->name, name);
  if (place == TV_LOG_POINT)
    tv_copy_text(one->section, sizeof one->section, name);
  else
    tv_section_words(kind, name, one->section, sizeof one->section);
}

/* Volts: points before parts. Amperes: parts that carry a single current. */
static bool list_candidates(struct candidates *all, const struct tailvolt_system *system, bool current) {
  size_t most = (size_t)system->point_count + (size_t)system->meter_count + (size_t)system->battery_count +
                (size_t)system->amplifier_count + (size_t)system->conductor_count + 1;
  all->count = 0;
  all->list = calloc(most, sizeof *all->list);
  if (all->list == NULL) return false;
  for (int k = 0; k < system->point_count && !current; k++)
    add(all, TV_LOG_POINT, k, TAILVOLT_PART_CABLE, system->point_names[k]);
  for (int k = 0; k < system->meter_count && !current; k++) {
    add(all, TV_LOG_METER, k, TAILVOLT_PART_CABLE, system->meters[k].name);
    snprintf(all->list[all->count - 1].section, sizeof all->list[0].section, "meter %.60s", system->meters[k].name);
  }
  for (int k = 0; k < system->battery_count; k++)
    add(all, TV_LOG_BATTERY, k, TAILVOLT_PART_BATTERY, system->batteries[k].name);
  for (int k = 0; k < system->amplifier_count; k++)
    add(all, TV_LOG_AMPLIFIER, k, TAILVOLT_PART_AMPLIFIER, system->amplifiers[k].name);
  if (system->alternator.present) add(all, TV_LOG_ALTERNATOR, 0, TAILVOLT_PART_ALTERNATOR, "alternator");
  for (int k = 0; k < system->conductor_count && current; k++)
    add(all, TV_LOG_CONDUCTOR, k, tv_part_of_conductor(system->conductors[k].kind), system->conductors[k].name);
  return true;
}

/* By its section, or by a name that only one has; points come first. NULL: not found, *several: ambiguous. */
static const struct candidate *find(const struct candidates *all, const char *name, const struct candidate **several) {
  const struct candidate *found = NULL;
  *several = NULL;
  for (int k = 0; k < all->count; k++)
    if (strcmp(all->list[k].section, name) == 0) return &all->list[k];
  for (int k = 0; k < all->count; k++) {
    if (strcmp(all->list[k].name, name) != 0) continue;
    if (found != NULL) {
      *several = &all->list[k];
      return found;
    }
    found = &all->list[k];
  }
  return found;
}

/* Where a column's header is in the file. */
struct place {
  const char *file;
  int line, column;
  struct tailvolt_faults *faults;
};

static void unknown_place(const struct candidates *all, const struct tv_log_column *column, const char *name,
                          const struct place *at) {
  const char *near = NULL;
  const char **words = calloc(2 * (size_t)all->count + 1, sizeof *words);
  if (words != NULL) {
    for (int k = 0; k < all->count; k++) {
      words[2 * k] = all->list[k].name;
      words[2 * k + 1] = all->list[k].section;
    }
    near = tv_nearest_word(name, words, 2 * (size_t)all->count);
    free(words);
  }
  if (near != NULL)
    tv_fault_add(at->faults, at->file, at->line, at->column, column->name, NULL, "no such %s in the system (did you mean \"%s\"?)",
                 column->current ? "part that a clamp goes round" : "point or part", near);
  else
    tv_fault_add(at->faults, at->file, at->line, at->column, column->name, NULL,
                 "no such %s in the system; `tailvolt check` prints %s",
                 column->current ? "part that a clamp goes round (battery, alternator, amplifier, cable, strap, joint, fuse)"
                                 : "point or part",
                 column->current ? "its parts" : "its points");
}

static enum tailvolt_status resolve(struct tv_log_column *column, const struct tailvolt_system *system, const struct place *at) {
  struct candidates all;
  const struct candidate *several, *found;
  const char *name = strchr(column->name, ':') + 1;
  if (!list_candidates(&all, system, column->current)) return TAILVOLT_NO_MEMORY;
  found = find(&all, name, &several);
  if (found == NULL) {
    unknown_place(&all, column, name, at);
  } else if (several != NULL) {
    tv_fault_add(at->faults, at->file, at->line, at->column, column->name, NULL,
                 "several parts have this name: write \"%s\" or \"%s\"", found->section, several->section);
  } else {
    column->place = found->place;
    column->item = found->item;
    if (found->place == TV_LOG_POINT) tv_copy_text(column->point, sizeof column->point, found->name);
  }
  free(all.list);
  return TAILVOLT_OK;
}

/* ---- the columns ---- */

/* Notes what a profile column means for the log. */
static void note_column(struct tailvolt_log *log, enum tv_column_kind kind) {
  log->drives = log->drives || kind != TV_COLUMN_TIME;
  log->music = log->music || kind == TV_COLUMN_PROGRAMME || kind == TV_COLUMN_LEVEL || kind == TV_COLUMN_OUTPUT_W;
}

static enum tailvolt_status take_columns(struct tailvolt_log *log, const struct tailvolt_system *system, int *from,
                                         struct tailvolt_faults *faults) {
  const struct tailvolt_profile *profile = log->profile;
  for (int k = 0; k < profile->columns.count; k++) {
    const struct tv_column *column = &profile->columns.column[k];
    const char *name = profile->columns.name[k];
    if (!tv_column_is_measured(column)) {
      note_column(log, column->kind);
      continue;
    }
    struct tv_log_column *mine = &log->columns[log->column_count];
    struct place at = {profile->name, profile->rows_line, column->place + 1, faults};
    tv_copy_text(mine->name, sizeof mine->name, name);
    mine->current = column->kind == TV_COLUMN_CURRENT;
    for (int j = 0; j < log->column_count; j++)
      if (strcmp(log->columns[j].name, name) == 0)
        tv_fault_add(faults, at.file, at.line, at.column, name, NULL, "appears twice: the first is column %d",
                     profile->columns.column[from[j]].place + 1);
    enum tailvolt_status status = resolve(mine, system, &at);
    if (status != TAILVOLT_OK) return status;
    from[log->column_count++] = k;
  }
  if (log->column_count == 0)
    tv_fault_add(faults, profile->name, profile->rows_line, 0, NULL, NULL,
                 "has no measured column: voltage_v:POINT or current_a:PART, such as \"voltage_v:battery\"");
  return TAILVOLT_OK;
}

static bool take_values(struct tailvolt_log *log, const int *from) {
  const struct tailvolt_profile *profile = log->profile;
  size_t rows = (size_t)profile->row_count, columns = (size_t)log->column_count, width = (size_t)profile->columns.count;
  log->row_count = profile->row_count;
  log->time_s = calloc(rows + 1, sizeof *log->time_s);
  log->value = calloc(rows * columns + 1, sizeof *log->value);
  if (log->time_s == NULL || log->value == NULL) return false;
  for (size_t r = 0; r < rows; r++) {
    log->time_s[r] = profile->values[r * width + (size_t)profile->columns.time];
    for (size_t k = 0; k < columns; k++) log->value[r * columns + k] = profile->values[r * width + (size_t)from[k]];
  }
  return true;
}

/* A log that does not say what was played was logged in silence. */
static void silence(struct tailvolt_log *log) {
  struct tv_profile_parts *parts = &log->profile->parts;
  if (log->music) return;
  parts->programme_count = 0;
  for (int k = 0; k < parts->amplifier_count; k++) parts->own_programme[k] = -1;
}

static bool has_readings(const struct tailvolt_log *log) {
  for (long k = 0; k < log->row_count * log->column_count; k++)
    if (!isnan(log->value[k])) return true;
  return false;
}

/* From a log read as a profile. */
static enum tailvolt_status make_log(struct tailvolt_profile *profile, const struct tailvolt_system *system,
                                     struct tailvolt_log **out, struct tailvolt_faults *faults) {
  struct tailvolt_log *log = calloc(1, sizeof *log);
  int *from = calloc((size_t)profile->columns.count + 1, sizeof *from);
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (log != NULL) {
    log->profile = profile;
    log->columns = calloc((size_t)profile->columns.count + 1, sizeof *log->columns);
    tv_copy_text(log->name, sizeof log->name, profile->name);
  }
  if (log != NULL && log->columns != NULL && from != NULL) status = take_columns(log, system, from, faults);
  if (status == TAILVOLT_OK && !take_values(log, from)) status = TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK && faults->count == 0 && !has_readings(log))
    tv_fault_add(faults, log->name, 0, 0, NULL, NULL, "its measured columns are empty");
  if (status == TAILVOLT_OK && faults->count > 0) status = TAILVOLT_BAD_INPUT;
  free(from);
  if (log == NULL) {
    tailvolt_profile_free(profile);
    return TAILVOLT_NO_MEMORY;
  }
  silence(log);
  if (status == TAILVOLT_OK)
    *out = log;
  else
    tailvolt_log_free(log);
  return status;
}

enum tailvolt_status tailvolt_log_read(const char *path, const char *columns, const struct tailvolt_system *system,
                                       struct tailvolt_log **out, struct tailvolt_faults *faults) {
  struct tailvolt_profile *profile = NULL;
  *out = NULL;
  TV_FAULTS_OR_OWN(faults, tailvolt_log_read(path, columns, system, out, faults));
  enum tailvolt_status status = tv_profile_read_log(path, NULL, NULL, columns, system, &profile, faults);
  return status == TAILVOLT_OK ? make_log(profile, system, out, faults) : status;
}

enum tailvolt_status tailvolt_log_parse(const char *text, const char *name, const struct tailvolt_system *system,
                                        struct tailvolt_log **out, struct tailvolt_faults *faults) {
  struct tailvolt_profile *profile = NULL;
  *out = NULL;
  TV_FAULTS_OR_OWN(faults, tailvolt_log_parse(text, name, system, out, faults));
  enum tailvolt_status status = tv_profile_read_log(NULL, text, name, NULL, system, &profile, faults);
  return status == TAILVOLT_OK ? make_log(profile, system, out, faults) : status;
}

void tailvolt_log_free(struct tailvolt_log *log) {
  if (log == NULL) return;
  tailvolt_profile_free(log->profile);
  free(log->columns);
  free(log->time_s);
  free(log->value);
  free(log);
}

int tv_log_point(const struct tailvolt_system *system, const struct tv_log_column *column) {
  for (int k = 0; k < system->point_count; k++)
    if (strcmp(system->point_names[k], column->point) == 0) return k;
  return TAILVOLT_NOWHERE;
}

const char *tailvolt_log_name(const struct tailvolt_log *log) { return log->name; }
int tailvolt_log_column_count(const struct tailvolt_log *log) { return log->column_count; }
long tailvolt_log_row_count(const struct tailvolt_log *log) { return log->row_count; }
double tailvolt_log_span_s(const struct tailvolt_log *log) { return log->time_s[log->row_count - 1] - log->time_s[0]; }
bool tailvolt_log_drives(const struct tailvolt_log *log) { return log->drives; }

bool tv_log_same_column(const char *name, const struct tv_log_column *column) { return strcmp(name, column->name) == 0; }
