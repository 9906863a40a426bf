/* Speed traces: read, written, joined. */
#include "input/drive_trace.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "input/faults.h"
#include "text/number.h"
#include "text/read_number.h"
#include "input/profile_cells.h"
#include "input/profile_lines.h"
#include "input/profile_rows.h"
#include "text/text.h"
#include "text/unfit.h"

#define FASTEST_KMH 400.0

struct tailvolt_trace *tv_trace_create(const char *name) {
  struct tailvolt_trace *trace = calloc(1, sizeof *trace);
  if (trace != NULL) tv_copy_text(trace->name, sizeof trace->name, name);
  return trace;
}

void tailvolt_trace_free(struct tailvolt_trace *trace) {
  if (trace == NULL) return;
  free(trace->time_s);
  free(trace->speed_kmh);
  free(trace->gear);
  free(trace);
}

/* Room doubles at each power of two, so the count alone gives it. */
enum tailvolt_status tv_trace_add(struct tailvolt_trace *trace, double time_s, double speed_kmh, int gear) {
  size_t count = (size_t)trace->count;
  if ((count & (count - 1)) == 0) {
    size_t room = count == 0 ? 1 : 2 * count;
    double *times_s = realloc(trace->time_s, room * sizeof *times_s);
    if (times_s == NULL) return TAILVOLT_NO_MEMORY;
    trace->time_s = times_s;
    double *speeds_kmh = realloc(trace->speed_kmh, room * sizeof *speeds_kmh);
    if (speeds_kmh == NULL) return TAILVOLT_NO_MEMORY;
    trace->speed_kmh = speeds_kmh;
    int *gears = realloc(trace->gear, room * sizeof *gears);
    if (gears == NULL) return TAILVOLT_NO_MEMORY;
    trace->gear = gears;
  }
  trace->time_s[count] = time_s;
  trace->speed_kmh[count] = speed_kmh;
  trace->gear[count] = gear;
  trace->count++;
  return TAILVOLT_OK;
}

enum tailvolt_status tailvolt_trace_append(struct tailvolt_trace *trace, const struct tailvolt_trace *next) {
  if (trace->count < 1 || next->count < 1 || trace->speed_kmh[trace->count - 1] != next->speed_kmh[0])
    return TAILVOLT_BAD_INPUT;
  double shift_s = trace->time_s[trace->count - 1] - next->time_s[0];
  int count = next->count; /* a trace may be appended to itself */
  for (int k = 1; k < count; k++) {
    enum tailvolt_status status = tv_trace_add(trace, next->time_s[k] + shift_s, next->speed_kmh[k], next->gear[k]);
    if (status != TAILVOLT_OK) return status;
  }
  return TAILVOLT_OK;
}

/* ---- reading ---- */

struct speed_name { const char *name; double kmh; /* km/h per unit; 0 = a time */ };

/* 1 mile = 1.609344 km exactly. The first one found in a header is used. */
static const struct speed_name names[] = {
    {"time_s", 0}, {"time", 0}, {"seconds", 0}, {"t", 0},
    {"speed_kmh", 1}, {"km/h", 1}, {"kmh", 1}, {"speed_mph", 1.609344}, {"mph", 1.609344},
    {"speed_m_per_s", 3.6}, {"m/s", 3.6},
};

struct reading {
  const char *file;
  struct tailvolt_faults *faults;
  struct tv_lines lines;
  struct tv_cells cells;
  int cell_count, time, speed;
  double kmh;
  struct tailvolt_trace *trace;
};

static void take_header(struct reading *reading) {
  int line = reading->lines.number;
  const char *problem = tv_header_problem(&reading->cells);
  reading->cell_count = reading->cells.count;
  reading->time = reading->speed = -1;
  for (size_t n = 0; n < sizeof names / sizeof names[0]; n++)
    for (int k = 0; k < reading->cells.count; k++) {
      int *place = names[n].kmh > 0 ? &reading->speed : &reading->time;
      if (*place >= 0 || strcmp(tv_cell_text(&reading->cells, k), names[n].name) != 0) continue;
      *place = k;
      if (names[n].kmh > 0) reading->kmh = names[n].kmh;
    }
  if (problem != NULL) {
    tv_fault_add(reading->faults, reading->file, line, 0, NULL, NULL, "%s", problem);
    return;
  }
  if (reading->time < 0)
    tv_fault_add(reading->faults, reading->file, line, 0, "time_s", NULL,
                 "no time column: name one time_s (time, seconds and t are taken too)");
  if (reading->speed < 0)
    tv_fault_add(reading->faults, reading->file, line, 0, "speed_kmh", NULL,
                 "no speed column: name one speed_kmh, or by its unit km/h, mph or m/s");
}

static bool take_number(struct reading *reading, int cell, const char *name, double *value) {
  const char *text = tv_cell_text(&reading->cells, cell);
  if (tv_parse_number(text, tv_cell_length(&reading->cells, cell), value)) return true;
  tv_fault_add(reading->faults, reading->file, reading->lines.number, cell + 1, name, text,
               "not a number");
  return false;
}

static enum tailvolt_status take_sample(struct reading *reading) {
  int line = reading->lines.number;
  double time_s, speed_kmh;
  if (reading->cells.count != reading->cell_count) {
    tv_fault_add(reading->faults, reading->file, line, 0, NULL, NULL, "the row has %d cells where the header has %d",
                 reading->cells.count, reading->cell_count);
    return TAILVOLT_OK;
  }
  bool right = take_number(reading, reading->time, "time", &time_s);
  right = take_number(reading, reading->speed, "speed", &speed_kmh) && right;
  if (!right) return TAILVOLT_OK;
  speed_kmh *= reading->kmh;
  if (!(speed_kmh >= 0 && speed_kmh <= FASTEST_KMH))
    tv_fault_add(reading->faults, reading->file, line, reading->speed + 1, "speed",
                 tv_cell_text(&reading->cells, reading->speed), "out of range: accepted is 0 to %s km/h",
                 tv_significant(FASTEST_KMH, 6).text);
  struct tailvolt_trace *trace = reading->trace;
  if (trace->count > 0 && !(time_s > trace->time_s[trace->count - 1]))
    tv_fault_add(reading->faults, reading->file, line, reading->time + 1, "time",
                 tv_cell_text(&reading->cells, reading->time), "does not rise: the row above is at %s s",
                 tv_significant(trace->time_s[trace->count - 1], 15).text);
  return tv_trace_add(trace, time_s, speed_kmh, TAILVOLT_GEAR_CHOSEN);
}

static enum tailvolt_status take_line(struct reading *reading, const char *line, size_t length, bool *header) {
  enum tv_split split = tv_line_split(&reading->cells, reading->lines.number, line, length);
  if (split == TV_SPLIT_NOTHING) return TAILVOLT_OK;
  if (split == TV_SPLIT_NO_MEMORY) return TAILVOLT_NO_MEMORY;
  if (split == TV_SPLIT_BAD_QUOTE) {
    tv_fault_add(reading->faults, reading->file, reading->lines.number, 0, NULL, NULL,
                 "a quote is left open or is inside a cell");
    return TAILVOLT_BAD_INPUT;
  }
  if (*header) return take_sample(reading);
  *header = true;
  take_header(reading);
  return reading->time < 0 || reading->speed < 0 ? TAILVOLT_BAD_INPUT : TAILVOLT_OK;
}

static enum tailvolt_status read_trace(struct reading *reading) {
  bool header = false;
  for (;;) {
    const char *line;
    size_t length;
    enum tv_line given = tv_text_lines_next(&reading->lines, &line, &length);
    if (given == TV_LINE_NO_MEMORY) return TAILVOLT_NO_MEMORY;
    if (given == TV_LINE_UNREADABLE || given == TV_LINE_TOO_LONG) {
      tv_fault_add(reading->faults, reading->file, reading->lines.number + 1, 0, NULL, NULL, "cannot be read: %s",
                   given == TV_LINE_TOO_LONG ? "the line is too long" : strerror(errno));
      return given == TV_LINE_TOO_LONG ? TAILVOLT_BAD_INPUT : TAILVOLT_NOT_READABLE;
    }
    if (given == TV_LINE_END) break;
    enum tailvolt_status status = take_line(reading, line, length, &header);
    if (status != TAILVOLT_OK) return status;
  }
  if (reading->faults->count == 0 && reading->trace->count < 2)
    tv_fault_add(reading->faults, reading->file, 0, 0, NULL, NULL,
                 "a speed trace needs a header row and at least two rows");
  return reading->faults->count > 0 ? TAILVOLT_BAD_INPUT : TAILVOLT_OK;
}

static enum tailvolt_status finish(struct reading *reading, enum tailvolt_status status,
                                   struct tailvolt_trace **out) {
  tv_cells_free(&reading->cells);
  tv_text_lines_free(&reading->lines);
  if (status == TAILVOLT_OK)
    *out = reading->trace;
  else
    tailvolt_trace_free(reading->trace);
  return status;
}

enum tailvolt_status tailvolt_trace_parse(const char *text, const char *name, struct tailvolt_trace **out,
                                          struct tailvolt_faults *faults) {
  *out = NULL;
  TV_FAULTS_OR_OWN(faults, tailvolt_trace_parse(text, name, out, faults));
  faults->count = faults->dropped = 0;
  struct reading reading = {.file = name, .faults = faults, .trace = tv_trace_create(name)};
  tv_lines_from_text(&reading.lines, text, strlen(text));
  bool ready = tv_cells_init(&reading.cells) && reading.trace != NULL;
  return finish(&reading, ready ? read_trace(&reading) : TAILVOLT_NO_MEMORY, out);
}

enum tailvolt_status tailvolt_trace_read(const char *path, struct tailvolt_trace **out,
                                         struct tailvolt_faults *faults) {
  *out = NULL;
  TV_FAULTS_OR_OWN(faults, tailvolt_trace_read(path, out, faults));
  faults->count = faults->dropped = 0;
  bool standard_input = strcmp(path, "-") == 0;
  const char *unfit = tv_unfit(path, false);
  int file = standard_input ? STDIN_FILENO : unfit != NULL ? -1 : open(path, O_RDONLY | O_CLOEXEC);
  if (file < 0) {
    tv_fault_add(faults, path, 0, 0, NULL, NULL, "cannot be read: %s", unfit != NULL ? unfit : strerror(errno));
    return TAILVOLT_NOT_READABLE;
  }
  struct reading reading = {.file = path, .faults = faults,
                            .trace = tv_trace_create(standard_input ? "standard input" : path)};
  bool ready = tv_cells_init(&reading.cells) && reading.trace != NULL;
  ready = tv_lines_from_file(&reading.lines, file, 0) && ready;
  enum tailvolt_status status = finish(&reading, ready ? read_trace(&reading) : TAILVOLT_NO_MEMORY, out);
  if (!standard_input) close(file);
  return status;
}
