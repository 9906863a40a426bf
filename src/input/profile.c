/* Reading and checking a whole profile. */
#include "tailvolt/profile.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "input/faults.h"
#include "text/read_number.h"
#include "input/profile_lines.h"
#include "input/profile_rows.h"
#include "input/profile_store.h"
#include "text/text.h"
#include "text/unfit.h"

/* What the first pass gathers. */
struct pass {
  struct tailvolt_profile *profile;
  const char *file;
  const char *wanted;
  struct tailvolt_faults *faults;
  struct tv_lines lines;
  size_t held_bytes;
  size_t room; /* rows that profile->values has room for */
};

struct tailvolt_profile *tv_profile_create(const char *name, const struct tailvolt_system *system) {
  struct tailvolt_profile *profile = calloc(1, sizeof *profile);
  if (profile == NULL) return NULL;
  profile->file = -1;
  tv_copy_text(profile->name, sizeof profile->name, name);
  profile->prescribed = calloc((size_t)system->amplifier_count + 1, sizeof *profile->prescribed);
  if (!tv_profile_parts_copy(&profile->parts, system) || profile->prescribed == NULL) {
    tailvolt_profile_free(profile);
    return NULL;
  }
  return profile;
}

void tailvolt_profile_free(struct tailvolt_profile *profile) {
  if (profile == NULL) return;
  tv_profile_parts_free(&profile->parts);
  tv_profile_columns_free(&profile->columns);
  free(profile->prescribed);
  free(profile->constant);
  free(profile->values);
  if (profile->spool != NULL)
    fclose(profile->spool);
  else if (profile->file >= 0)
    close(profile->file);
  free(profile);
}

/* ---- the first pass ---- */

static enum tailvolt_status line_status(const struct pass *pass, enum tv_line line) {
  switch (line) {
    case TV_LINE_TOO_LONG:
      tv_fault_add(pass->faults, pass->file, pass->lines.number + 1, 0, NULL, NULL,
                   "the line is longer than %zu MiB: is this a CSV file?", TV_LINE_MAX >> 20);
      return TAILVOLT_BAD_INPUT;
    case TV_LINE_UNREADABLE:
      tv_fault_add(pass->faults, pass->file, 0, 0, NULL, NULL, "cannot be read: %s", strerror(errno));
      return TAILVOLT_NOT_READABLE;
    case TV_LINE_NO_MEMORY: return TAILVOLT_NO_MEMORY;
    case TV_LINE_GIVEN:
    case TV_LINE_END: break;
  }
  return TAILVOLT_OK;
}

/* Faults that make it pointless to read on; *line moves past a byte-order mark. */
static const char *unusable_start(const char **line, size_t *length) {
  tv_line_drop_mark(line, length);
  return tv_utf16_problem(*line, *length);
}

static const char *unusable_header(const char *line, size_t length) {
  if (memchr(line, '\0', length) != NULL) return "not a text file: there is a zero byte in its first row";
  if (memchr(line, '\r', length) != NULL) return "lines must end with LF or CRLF, not with CR alone";
  return NULL;
}

/* The first line that is neither blank nor a comment; NULL with TAILVOLT_OK where there is none. */
static enum tailvolt_status find_header(struct pass *pass, const char **header, size_t *length) {
  *header = NULL;
  for (;;) {
    const char *line;
    enum tv_line given = tv_text_lines_next(&pass->lines, &line, length);
    if (given == TV_LINE_END) return TAILVOLT_OK;
    if (given != TV_LINE_GIVEN) return line_status(pass, given);
    const char *unusable = pass->lines.number == 1 ? unusable_start(&line, length) : NULL;
    if (unusable == NULL) {
      if (tv_line_is_skipped(line, *length)) continue;
      unusable = unusable_header(line, *length);
    }
    if (unusable != NULL) {
      tv_fault_add(pass->faults, pass->file, pass->lines.number, 0, NULL, NULL, "%s", unusable);
      return TAILVOLT_BAD_INPUT;
    }
    *header = line;
    return TAILVOLT_OK;
  }
}

static enum tailvolt_status read_header(struct pass *pass, struct tv_cells *cells) {
  struct tailvolt_profile *profile = pass->profile;
  const char *line;
  size_t length;
  enum tailvolt_status status = find_header(pass, &line, &length);
  if (status != TAILVOLT_OK) return status;
  if (line == NULL) {
    tv_fault_add(pass->faults, pass->file, 0, 0, NULL, NULL,
                 "the %s is empty: a header row that names the columns and two rows at least are needed",
                 pass->profile->parts.log ? "log" : "profile");
    return TAILVOLT_BAD_INPUT;
  }
  int number = pass->lines.number;
  enum tv_split split = tv_cells_split(cells, line, length);
  if (split == TV_SPLIT_NO_MEMORY) return TAILVOLT_NO_MEMORY;
  if (split == TV_SPLIT_BAD_QUOTE) {
    tv_fault_add(pass->faults, pass->file, number, 0, NULL, NULL,
                 "a quote is left open or is inside a cell: quote the whole cell, and double quotes within it");
    return TAILVOLT_BAD_INPUT;
  }
  double value;
  const char *first = tv_cell_text(cells, 0);
  if (tv_parse_number(first, tv_cell_length(cells, 0), &value)) {
    tv_fault_add(pass->faults, pass->file, number, 1, NULL, first,
                 "the header row is missing: the first row must name the columns");
    return TAILVOLT_BAD_INPUT;
  }
  if (cells->count == 1 && first[0] == '[') {
    tv_fault_add(pass->faults, pass->file, 0, 0, NULL, NULL,
                 "is a system file, not a %s; the system file comes first, the %s after it",
                 profile->parts.log ? "log" : "profile", profile->parts.log ? "log" : "profile");
    return TAILVOLT_BAD_INPUT;
  }
  profile->rows_line = number;
  profile->rows_at = pass->lines.next_byte - (pass->lines.end - pass->lines.at);
  status = tv_profile_columns_read(&profile->columns, cells, pass->wanted, &profile->parts, pass->file, number,
                                   pass->faults);
  /* nothing to check rows against */
  if (status == TAILVOLT_OK && profile->columns.count == 0) return TAILVOLT_BAD_INPUT;
  return status;
}

/* Keeps a row, or stops keeping them once they take too much; false = no memory. */
static bool keep_row(struct pass *pass, const struct tv_rows *rows) {
  struct tailvolt_profile *profile = pass->profile;
  size_t width = (size_t)profile->columns.count, count = (size_t)rows->count;
  if (pass->room == 0) return true; /* no longer kept */
  if (count * width * sizeof(double) > pass->held_bytes && profile->file >= 0) {
    free(profile->values);
    profile->values = NULL;
    pass->room = 0;
    return true;
  }
  if (count > pass->room || profile->values == NULL) {
    size_t room = count > pass->room ? 2 * pass->room : pass->room;
    double *wider = realloc(profile->values, room * width * sizeof *wider);
    if (wider == NULL) return false;
    profile->values = wider;
    pass->room = room;
  }
  memcpy(profile->values + (count - 1) * width, rows->value, width * sizeof(double));
  return true;
}

static enum tailvolt_status read_rows(struct pass *pass, struct tv_rows *rows) {
  struct tailvolt_profile *profile = pass->profile;
  pass->room = 64;
  for (;;) {
    const char *line;
    size_t length;
    enum tv_line given = tv_text_lines_next(&pass->lines, &line, &length);
    if (given == TV_LINE_END) break;
    if (given != TV_LINE_GIVEN) return line_status(pass, given);
    if (tv_line_is_skipped(line, length)) continue;
    if (!tv_rows_take(rows, line, length, pass->lines.number) || !keep_row(pass, rows)) return TAILVOLT_NO_MEMORY;
    if (rows->count == 1) profile->start_s = rows->last_time_s;
  }
  profile->row_count = rows->count;
  profile->end_s = rows->last_time_s;
  profile->line_room = pass->lines.longest + 2;
  if (rows->count < 2)
    tv_fault_add(pass->faults, pass->file, 0, 0, NULL, NULL,
                 "a %s needs at least two rows, this one has %s: the last row ends it",
                 profile->parts.log ? "log" : "profile", rows->count == 0 ? "none" : "one");
  return TAILVOLT_OK;
}

bool tv_profile_describe(struct tailvolt_profile *profile) {
  const struct tv_profile_columns *columns = &profile->columns;
  size_t width = (size_t)columns->count;
  profile->constant = calloc(width + 1, sizeof *profile->constant);
  if (profile->constant == NULL) return false;
  for (int k = 0; k < columns->count; k++) {
    bool draw = columns->column[k].kind >= TV_COLUMN_SUPPLY_W, given = profile->values == NULL;
    bool constant = profile->values != NULL;
    for (long r = 0; r < profile->row_count && profile->values != NULL && (constant || draw); r++) {
      const double *value = profile->values + (size_t)r * width + (size_t)k;
      if (memcmp(value, profile->values + k, sizeof *value) != 0) constant = false;
      if (draw && !isnan(*value)) given = true;
    }
    profile->constant[k] = constant;
    if (draw && given) profile->prescribed[columns->column[k].item] = true;
  }
  return true;
}

static enum tailvolt_status read_whole(struct pass *pass) {
  struct tv_cells cells;
  if (!tv_cells_init(&cells)) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = read_header(pass, &cells);
  tv_cells_free(&cells);
  if (status != TAILVOLT_OK) return status;
  struct tv_rows rows;
  if (!tv_rows_init(&rows, &pass->profile->columns, &pass->profile->parts, pass->file, pass->faults))
    return TAILVOLT_NO_MEMORY;
  status = read_rows(pass, &rows);
  tv_rows_free(&rows);
  if (status != TAILVOLT_OK) return status;
  if (pass->faults->count > 0) return TAILVOLT_BAD_INPUT;
  return tv_profile_describe(pass->profile) ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}

/* ---- files ---- */

static FILE *unnamed_file(void) {
#ifdef __wasi__
  errno = ENOTSUP; /* WebAssembly has none: there a profile is a file or a text in memory */
  return NULL;
#else
  return tmpfile();
#endif
}

/* Copies input that cannot be read twice into an unnamed temporary file. */
static bool spool(struct tailvolt_profile *profile, int from) {
  char block[65536];
  profile->spool = unnamed_file();
  if (profile->spool == NULL) return false;
  for (;;) {
    ssize_t got = read(from, block, sizeof block);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return false;
    if (got == 0) break;
    if (fwrite(block, 1, (size_t)got, profile->spool) != (size_t)got) return false;
  }
  if (fflush(profile->spool) != 0) return false;
  profile->file = fileno(profile->spool);
  return true;
}

static bool open_file(struct tailvolt_profile *profile, const char *path) {
  bool standard_input = strcmp(path, "-") == 0;
  int file = standard_input ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC);
  if (file < 0) return false;
  if (fstat(file, &profile->state) != 0) {
    if (!standard_input) close(file);
    return false;
  }
  if (S_ISREG(profile->state.st_mode) && !standard_input) {
    profile->file = file;
    return true;
  }
  bool done = spool(profile, file);
  int reason = errno;
  if (!standard_input) close(file);
  errno = reason;
  return done && fstat(profile->file, &profile->state) == 0;
}

/* The file is not needed once its rows are in memory. */
static void release_file(struct tailvolt_profile *profile) {
  if (profile->spool != NULL)
    fclose(profile->spool);
  else
    close(profile->file);
  profile->spool = NULL;
  profile->file = -1;
}

static enum tailvolt_status read_path(struct tailvolt_profile *profile, const char *path, const char *wanted,
                                      size_t held_bytes, struct tailvolt_faults *faults) {
  const char *unfit = tv_unfit(path, false);
  if (unfit != NULL || !open_file(profile, path)) {
    tv_fault_add(faults, path, 0, 0, NULL, NULL, "cannot be read: %s", unfit != NULL ? unfit : strerror(errno));
    return TAILVOLT_NOT_READABLE;
  }
  struct pass pass = {.profile = profile, .file = path, .wanted = wanted, .faults = faults, .held_bytes = held_bytes};
  if (!tv_lines_from_file(&pass.lines, profile->file, 0)) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = read_whole(&pass);
  tv_text_lines_free(&pass.lines);
  if (status == TAILVOLT_OK && profile->values != NULL) release_file(profile);
  return status;
}

enum tailvolt_status tv_profile_read_log(const char *path, const char *text, const char *name, const char *columns,
                                         const struct tailvolt_system *system, struct tailvolt_profile **out,
                                         struct tailvolt_faults *faults) {
  *out = NULL;
  faults->count = faults->dropped = 0;
  if (path != NULL) name = strcmp(path, "-") == 0 ? "standard input" : path;
  struct tailvolt_profile *profile = tv_profile_create(name, system);
  if (profile == NULL) return TAILVOLT_NO_MEMORY;
  profile->parts.log = true;
  enum tailvolt_status status;
  if (path != NULL) {
    status = read_path(profile, path, columns, SIZE_MAX, faults);
  } else {
    struct pass pass = {.profile = profile, .file = name, .wanted = columns, .faults = faults};
    tv_lines_from_text(&pass.lines, text, strlen(text));
    status = read_whole(&pass);
  }
  if (status == TAILVOLT_OK)
    *out = profile;
  else
    tailvolt_profile_free(profile);
  return status;
}

/* ---- public ---- */

enum tailvolt_status tv_profile_read_limited(const char *path, const char *columns,
                                             const struct tailvolt_system *system, size_t held_bytes,
                                             struct tailvolt_profile **out, struct tailvolt_faults *faults) {
  *out = NULL;
  TV_FAULTS_OR_OWN(faults, tv_profile_read_limited(path, columns, system, held_bytes, out, faults));
  faults->count = faults->dropped = 0;
  struct tailvolt_profile *profile = tv_profile_create(strcmp(path, "-") == 0 ? "standard input" : path, system);
  if (profile == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = read_path(profile, path, columns, held_bytes, faults);
  if (status == TAILVOLT_OK)
    *out = profile;
  else
    tailvolt_profile_free(profile);
  return status;
}

enum tailvolt_status tailvolt_profile_read(const char *path, const char *columns,
                                           const struct tailvolt_system *system, struct tailvolt_profile **out,
                                           struct tailvolt_faults *faults) {
  return tv_profile_read_limited(path, columns, system, TV_PROFILE_HELD_BYTES, out, faults);
}

enum tailvolt_status tailvolt_profile_parse_columns(const char *text, size_t length, const char *name, const char *columns,
                                                    const struct tailvolt_system *system, struct tailvolt_profile **out,
                                                    struct tailvolt_faults *faults) {
  *out = NULL;
  TV_FAULTS_OR_OWN(faults, tailvolt_profile_parse_columns(text, length, name, columns, system, out, faults));
  faults->count = faults->dropped = 0;
  struct tailvolt_profile *profile = tv_profile_create(name, system);
  if (profile == NULL) return TAILVOLT_NO_MEMORY;
  struct pass pass = {.profile = profile, .file = name, .wanted = columns, .faults = faults};
  tv_lines_from_text(&pass.lines, text, length);
  enum tailvolt_status status = read_whole(&pass);
  if (status == TAILVOLT_OK)
    *out = profile;
  else
    tailvolt_profile_free(profile);
  return status;
}

enum tailvolt_status tailvolt_profile_parse(const char *text, const char *name,
                                            const struct tailvolt_system *system, struct tailvolt_profile **out,
                                            struct tailvolt_faults *faults) {
  return tailvolt_profile_parse_columns(text, strlen(text), name, NULL, system, out, faults);
}

const char *tailvolt_profile_name(const struct tailvolt_profile *profile) { return profile->name; }
double tailvolt_profile_start_s(const struct tailvolt_profile *profile) { return profile->start_s; }
double tailvolt_profile_end_s(const struct tailvolt_profile *profile) { return profile->end_s; }
long tailvolt_profile_row_count(const struct tailvolt_profile *profile) { return profile->row_count; }

bool tailvolt_profile_prescribes(const struct tailvolt_profile *profile, int amplifier) {
  return amplifier >= 0 && amplifier < profile->parts.amplifier_count && profile->prescribed[amplifier];
}
