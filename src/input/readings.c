/* Readings taken on a car, as a file or one value at a time. A reading is named by its condition and its
 *   place:
 *
 *   rest: battery post > ground          a voltage, red probe first
 *   tone: min battery post > ground      the same with min-hold
 *   lights: clamp charge lead            a current, the arrow from the conductor's `from` to its `to`
 *   lights: clamp charge lead reversed   ... the other way round */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

#include "input/faults.h"
#include "input/profile_cells.h"
#include "input/profile_lines.h"
#include "input/profile_rows.h"
#include "input/quantity.h"
#include "tailvolt/measure.h"
#include "text/text.h"
#include "text/unfit.h"

static const char *const conditions[TAILVOLT_CONDITIONS] = {
    [TAILVOLT_CONDITION_REST] = "rest", [TAILVOLT_CONDITION_TONE_OFF] = "tone off", [TAILVOLT_CONDITION_IDLE] = "idle",
    [TAILVOLT_CONDITION_LIGHTS] = "lights", [TAILVOLT_CONDITION_TONE] = "tone"};

/* The first conductor with a name; a cable before a joint or fuse of the same name. */
static int conductor_named(const struct tailvolt_system *system, const char *name) {
  int found = -1;
  for (int k = 0; k < system->conductor_count; k++) {
    if (strcasecmp(system->conductors[k].name, name) != 0) continue;
    if (system->conductors[k].kind == TAILVOLT_CABLE) return k;
    if (found < 0) found = k;
  }
  return found;
}

static int point_named(const struct tailvolt_system *system, const char *name) {
  for (int k = 0; k < system->point_count; k++)
    if (strcasecmp(system->point_names[k], name) == 0) return k;
  return -1;
}

void tailvolt_probe_write(const struct tailvolt_system *system, const struct tailvolt_probe *probe, char *to, size_t size) {
  const char *condition = conditions[probe->condition];
  if (probe->instrument == TAILVOLT_CLAMP)
    snprintf(to, size, "%s: clamp %s%s", condition, system->conductors[probe->conductor].name, probe->against ? " reversed" : "");
  else
    snprintf(to, size, "%s: %s%s > %s", condition, probe->instrument == TAILVOLT_MIN_HOLD ? "min " : "",
             system->point_names[probe->positive], system->point_names[probe->negative]);
}

static enum tailvolt_status refuse(char *error, const char *format, const char *what) {
  if (error != NULL) {
    error[0] = '\0';
    tv_append(error, TAILVOLT_TEXT_MAX, format, what);
  }
  return TAILVOLT_BAD_INPUT;
}

static enum tailvolt_status read_clamp(const struct tailvolt_system *system, char *name, struct tailvolt_probe *probe, char *error) {
  static const char reversed[] = " reversed";
  size_t length = strlen(name), end = sizeof reversed - 1;
  probe->instrument = TAILVOLT_CLAMP;
  probe->conductor = conductor_named(system, name);
  if (probe->conductor < 0 && length > end && strcasecmp(name + length - end, reversed) == 0) {
    probe->against = true;
    name[length - end] = '\0';
    probe->conductor = conductor_named(system, name);
  }
  if (probe->conductor >= 0) return TAILVOLT_OK;
  const char *names[128];
  size_t count = 0;
  for (int k = 0; k < system->conductor_count && count < 128; k++) names[count++] = system->conductors[k].name;
  const char *near = tv_nearest_word(name, names, count);
  if (near != NULL) return refuse(error, "no such cable to clamp; did you mean '%.60s'?", near);
  return refuse(error, "no cable is called '%.60s'; `tailvolt check` names them", name);
}

static enum tailvolt_status read_points(const struct tailvolt_system *system, const char *text, struct tailvolt_probe *probe,
                                        char *error) {
  char red[TAILVOLT_TEXT_MAX], black[TAILVOLT_TEXT_MAX];
  const char *between = strchr(text, '>');
  if (between == NULL) return refuse(error, "'%.80s': write two points, such as 'battery post > ground', or 'clamp' and a cable", text);
  snprintf(red, sizeof red, "%.*s", (int)(between - text), text);
  tv_squeeze(red, sizeof red, red);
  tv_squeeze(black, sizeof black, between + 1);
  const char *point = red;
  if (strncasecmp(red, "min ", 4) == 0) {
    probe->instrument = TAILVOLT_MIN_HOLD;
    point = red + 4;
  }
  probe->positive = point_named(system, point);
  probe->negative = point_named(system, black);
  if (probe->positive < 0) return refuse(error, "no point is called '%.60s'; `tailvolt check` names them", point);
  if (probe->negative < 0) return refuse(error, "no point is called '%.60s'; `tailvolt check` names them", black);
  if (probe->positive == probe->negative) return refuse(error, "both probes at '%.60s'", black);
  return TAILVOLT_OK;
}

enum tailvolt_status tailvolt_probe_read(const struct tailvolt_system *system, const char *text, struct tailvolt_probe *probe,
                                         char *error) {
  char plain[TAILVOLT_TEXT_MAX], word[32];
  tv_plain_text(plain, sizeof plain, text);
  const char *colon = strchr(plain, ':');
  *probe = (struct tailvolt_probe){.positive = -1, .negative = -1, .conductor = -1};
  if (colon == NULL || (size_t)(colon - plain) >= sizeof word)
    return refuse(error, "'%.60s': a reading begins with rest, tone off, idle, lights or tone, and a colon", plain);
  snprintf(word, sizeof word, "%.*s", (int)(colon - plain), plain);
  tv_squeeze(word, sizeof word, word);
  int condition = -1;
  for (int k = 0; k < TAILVOLT_CONDITIONS; k++)
    if (strcasecmp(word, conditions[k]) == 0) condition = k;
  if (condition < 0) return refuse(error, "'%.30s' is no condition; accepted: rest, tone off, idle, lights, tone", word);
  probe->condition = (enum tailvolt_condition)condition;
  tv_squeeze(plain, sizeof plain, colon + 1);
  if (strncasecmp(plain, "clamp ", 6) != 0) {
    enum tailvolt_status status = read_points(system, plain, probe, error);
    bool silent = condition != TAILVOLT_CONDITION_TONE && condition != TAILVOLT_CONDITION_TONE_OFF;
    if (status == TAILVOLT_OK && probe->instrument == TAILVOLT_MIN_HOLD && silent)
      return refuse(error, "min-hold is for a tone; with %s the display will do", conditions[condition]);
    return status;
  }
  memmove(plain, plain + 6, strlen(plain + 6) + 1);
  return read_clamp(system, plain, probe, error);
}

enum tailvolt_status tailvolt_reading_read(const struct tailvolt_probe *probe, const char *text, double *value, char *error) {
  char plain[TAILVOLT_TEXT_MAX];
  enum tv_measure measure = probe->instrument == TAILVOLT_CLAMP ? TV_CURRENT : TV_VOLTAGE;
  tv_plain_text(plain, sizeof plain, text);
  for (size_t k = 1; plain[0] != '\0' && plain[k] != '\0'; k++)
    if (plain[k] == ',' && plain[k - 1] >= '0' && plain[k - 1] <= '9' && plain[k + 1] >= '0' && plain[k + 1] <= '9') plain[k] = '.';
  enum tv_quantity_status status = tv_quantity_read(plain, strlen(plain), measure, value);
  if (status == TV_QUANTITY_OK) return TAILVOLT_OK;
  if (error != NULL)
    snprintf(error, TAILVOLT_TEXT_MAX, "%s '%.60s'; accepted: %s", status == TV_QUANTITY_NO_UNIT ? "no unit in" : "not understood:",
             plain, tv_measure_units(measure));
  return TAILVOLT_BAD_INPUT;
}

/* ---- a file ---- */

struct table {
  const char *file;
  const struct tailvolt_system *system;
  struct tailvolt_faults *faults;
  struct tv_lines lines;
  struct tv_cells cells;
  int cell_count, reading, value; /* columns */
  struct tailvolt_reading_taken *taken;
  int count;
};

static void take_header(struct table *t) {
  const char *problem = tv_header_problem(&t->cells);
  if (problem != NULL) {
    tv_fault_add(t->faults, t->file, t->lines.number, 0, NULL, NULL, "%s", problem);
    return;
  }
  t->cell_count = t->cells.count;
  for (int k = 0; k < t->cells.count; k++) {
    if (strcasecmp(tv_cell_text(&t->cells, k), "reading") == 0) t->reading = k;
    if (strcasecmp(tv_cell_text(&t->cells, k), "value") == 0) t->value = k;
  }
  if (t->reading < 0 || t->value < 0)
    tv_fault_add(t->faults, t->file, t->lines.number, 0, t->reading < 0 ? "reading" : "value", NULL,
                 "no such column; a file of readings has the columns reading and value");
}

static enum tailvolt_status take_row(struct table *t) {
  struct tailvolt_reading_taken one = {.value = 0};
  char error[TAILVOLT_TEXT_MAX];
  if (t->cells.count != t->cell_count) {
    tv_fault_add(t->faults, t->file, t->lines.number, 0, NULL, NULL, "the row has %d cells where the header has %d",
                 t->cells.count, t->cell_count);
    return TAILVOLT_OK;
  }
  const char *reading = tv_cell_text(&t->cells, t->reading), *value = tv_cell_text(&t->cells, t->value);
  if (value[strspn(value, " \t")] == '\0') return TAILVOLT_OK;
  if (tailvolt_probe_read(t->system, reading, &one.probe, error) != TAILVOLT_OK) {
    tv_fault_add(t->faults, t->file, t->lines.number, t->reading + 1, "reading", reading, "%s", error);
    return TAILVOLT_OK;
  }
  if (tailvolt_reading_read(&one.probe, value, &one.value, error) != TAILVOLT_OK) {
    tv_fault_add(t->faults, t->file, t->lines.number, t->value + 1, "value", value, "%s", error);
    return TAILVOLT_OK;
  }
  struct tailvolt_reading_taken *more = realloc(t->taken, ((size_t)t->count + 1) * sizeof *more);
  if (more == NULL) return TAILVOLT_NO_MEMORY;
  t->taken = more;
  t->taken[t->count++] = one;
  return TAILVOLT_OK;
}

static enum tailvolt_status take_line(struct table *t, const char *line, size_t length) {
  enum tv_split split = tv_line_split(&t->cells, t->lines.number, line, length);
  if (split == TV_SPLIT_NOTHING) return TAILVOLT_OK;
  if (split == TV_SPLIT_NO_MEMORY) return TAILVOLT_NO_MEMORY;
  if (split == TV_SPLIT_BAD_QUOTE) {
    tv_fault_add(t->faults, t->file, t->lines.number, 0, NULL, NULL, "a quote is left open or is inside a cell");
    return TAILVOLT_OK;
  }
  if (t->cell_count > 0) return take_row(t);
  take_header(t);
  return t->faults->count > 0 ? TAILVOLT_BAD_INPUT : TAILVOLT_OK;
}

static enum tailvolt_status read_table(struct table *t) {
  enum { MOST = 500 };
  for (;;) {
    const char *line;
    size_t length;
    enum tv_line given = tv_text_lines_next(&t->lines, &line, &length);
    if (given == TV_LINE_NO_MEMORY) return TAILVOLT_NO_MEMORY;
    if (given == TV_LINE_UNREADABLE || given == TV_LINE_TOO_LONG) {
      tv_fault_add(t->faults, t->file, t->lines.number + 1, 0, NULL, NULL, "cannot be read: %s",
                   given == TV_LINE_TOO_LONG ? "the line is too long" : strerror(errno));
      return TAILVOLT_NOT_READABLE;
    }
    if (given == TV_LINE_END) break;
    enum tailvolt_status status = take_line(t, line, length);
    if (status != TAILVOLT_OK) return status;
    if (t->count > MOST) {
      tv_fault_add(t->faults, t->file, t->lines.number, 0, NULL, NULL, "more than %d readings", MOST);
      break;
    }
  }
  if (t->faults->count == 0 && t->count == 0)
    tv_fault_add(t->faults, t->file, 0, 0, NULL, NULL, "holds no reading with a value");
  return t->faults->count > 0 ? TAILVOLT_BAD_INPUT : TAILVOLT_OK;
}

/* Reads what `t` has been set up for and takes it over. */
static enum tailvolt_status read_and_free(struct table *t, bool ready, struct tailvolt_reading_taken **out, int *count) {
  t->reading = t->value = -1;
  ready = tv_cells_init(&t->cells) && ready;
  enum tailvolt_status status = ready ? read_table(t) : TAILVOLT_NO_MEMORY;
  tv_cells_free(&t->cells);
  tv_text_lines_free(&t->lines);
  if (status != TAILVOLT_OK) {
    free(t->taken);
    return status;
  }
  *out = t->taken;
  *count = t->count;
  return TAILVOLT_OK;
}

enum tailvolt_status tailvolt_readings_parse(const char *text, const char *file, const struct tailvolt_system *system,
                                             struct tailvolt_reading_taken **out, int *count, struct tailvolt_faults *faults) {
  *out = NULL;
  *count = 0;
  TV_FAULTS_OR_OWN(faults, tailvolt_readings_parse(text, file, system, out, count, faults));
  faults->count = faults->dropped = 0;
  struct table t = {.file = file, .system = system, .faults = faults};
  tv_lines_from_text(&t.lines, text, strlen(text));
  return read_and_free(&t, true, out, count);
}

enum tailvolt_status tailvolt_readings_read(const char *path, const struct tailvolt_system *system,
                                            struct tailvolt_reading_taken **out, int *count, struct tailvolt_faults *faults) {
  *out = NULL;
  *count = 0;
  TV_FAULTS_OR_OWN(faults, tailvolt_readings_read(path, system, out, count, faults));
  faults->count = faults->dropped = 0;
  bool standard_input = strcmp(path, "-") == 0;
  const char *unfit = tv_unfit(path, false);
  int file = standard_input ? STDIN_FILENO : unfit != NULL ? -1 : open(path, O_RDONLY | O_CLOEXEC);
  if (file < 0) {
    tv_fault_add(faults, path, 0, 0, NULL, NULL, "cannot be read: %s", unfit != NULL ? unfit : strerror(errno));
    return TAILVOLT_NOT_READABLE;
  }
  struct table t = {.file = standard_input ? "standard input" : path, .system = system, .faults = faults};
  bool ready = tv_lines_from_file(&t.lines, file, 0);
  enum tailvolt_status status = read_and_free(&t, ready, out, count);
  if (!standard_input) close(file);
  return status;
}
