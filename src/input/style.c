#include "input/style.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/faults.h"
#include "input/lines.h"
#include "text/read_number.h"
#include "text/unfit.h"
#include "input/path.h"
#include "input/quantity.h"

#define BUILT_IN_MAX 64

static const struct style_key {
  const char *name;
  enum tv_measure measure;
  double lowest, highest; /* in the internal unit */
  const char *accepted;
  size_t place;           /* of the field in struct tv_style */
} keys[] = {
    {"crest factor", TV_LEVEL, 0.0, 30.0, "0 to 30 dB", offsetof(struct tv_style, crest_db)},
    {"tempo", TV_TEMPO, 1.0, 1000.0, "1 to 1000 /min", offsetof(struct tv_style, tempo_per_min)},
    {"hold", TV_TIME, 0.0, 60.0, "0 to 60 s", offsetof(struct tv_style, hold_s)},
    {"decay", TV_TIME, 0.0, 1000.0, "0 to 1000 s", offsetof(struct tv_style, decay_s)},
    {"floor", TV_SHARE, 0.0, 1.0, "0 to 100 %", offsetof(struct tv_style, floor_frac)},
    {"bass note", TV_FREQUENCY, 0.0, 500.0, "0 to 500 Hz", offsetof(struct tv_style, bass_hz)},
    {"phrases", TV_SHARE, 0.0, 3.0, "0 to 300 %", offsetof(struct tv_style, phrases_frac)},
    {"sections", TV_SHARE, 0.0, 1.0, "0 to 100 %", offsetof(struct tv_style, sections_frac)},
};
enum { KEY_COUNT = (int)(sizeof keys / sizeof keys[0]) };

struct reader {
  const char *name;
  struct tv_lines lines;
  struct tv_style *style;
  bool given[KEY_COUNT];
  char *error;
};

static enum tailvolt_status refuse(const struct reader *reader, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static enum tailvolt_status refuse(const struct reader *reader, const char *format, ...) {
  char text[TAILVOLT_TEXT_MAX];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(text, sizeof text, format, arguments);
  va_end(arguments);
  if (reader->lines.number > 0)
    snprintf(reader->error, TAILVOLT_TEXT_MAX, "%.80s:%d: %.160s", reader->name, reader->lines.number, text);
  else
    snprintf(reader->error, TAILVOLT_TEXT_MAX, "%.80s: %.160s", reader->name, text);
  return TAILVOLT_BAD_INPUT;
}

/* "64 beats at -6 dB" */
static enum tailvolt_status take_passage(struct reader *reader, const char *text) {
  static const char between[] = " beats at ";
  struct tv_style *style = reader->style;
  double beats, level_db;
  size_t used = tv_parse_leading_number(text, strlen(text), &beats);
  const char *rest = text + used;
  if (used == 0 || strncmp(rest, between, sizeof between - 1) != 0 ||
      tv_quantity_read(rest + sizeof between - 1, strlen(rest) - (sizeof between - 1), TV_LEVEL, &level_db) !=
          TV_QUANTITY_OK)
    return refuse(reader, "passage = %.40s: must be like '64 beats at -6 dB'", text);
  if (!(beats >= TV_BEAT_BLOCK && beats <= 1e6) || fmod(beats, TV_BEAT_BLOCK) != 0.0)
    return refuse(reader, "passage = %.40s: the beats must be a multiple of %d", text, TV_BEAT_BLOCK);
  if (!(level_db >= -100.0 && level_db <= 0.0))
    return refuse(reader, "passage = %.40s: the level must be -100 to 0 dB", text);
  if (style->passage_count == TV_PASSAGE_MAX) return refuse(reader, "more than %d passages", TV_PASSAGE_MAX);
  style->passage_beats[style->passage_count] = (int)beats;
  style->passage_level_db[style->passage_count++] = level_db;
  return TAILVOLT_OK;
}

static enum tailvolt_status unknown_key(const struct reader *reader, const char *key) {
  const char *names[KEY_COUNT + 1] = {"passage"};
  for (int k = 0; k < KEY_COUNT; k++) names[k + 1] = keys[k].name;
  const char *near = tv_nearest_word(key, names, KEY_COUNT + 1);
  return refuse(reader, "unknown key '%.40s' of a style%s%s%s", key, near != NULL ? "; did you mean '" : "",
                near != NULL ? near : "", near != NULL ? "'?" : "");
}

static enum tailvolt_status take_pair(struct reader *reader, const char *key, const char *text) {
  double value;
  int k = 0;
  if (strcmp(key, "passage") == 0) return take_passage(reader, text);
  while (k < KEY_COUNT && strcmp(keys[k].name, key) != 0) k++;
  if (k == KEY_COUNT) return unknown_key(reader, key);
  if (reader->given[k]) return refuse(reader, "'%s' appears a second time", key);
  reader->given[k] = true;
  if (tv_quantity_read(text, strlen(text), keys[k].measure, &value) != TV_QUANTITY_OK)
    return refuse(reader, "%s = %.40s: must be a number with its unit (%s)", key, text,
                  tv_measure_units(keys[k].measure));
  if (!(value >= keys[k].lowest && value <= keys[k].highest))
    return refuse(reader, "%s = %.40s: must be %s", key, text, keys[k].accepted);
  *(double *)((char *)reader->style + keys[k].place) = value;
  return TAILVOLT_OK;
}

static enum tailvolt_status take_line(struct reader *reader, const char *line) {
  char key[TV_LINE_LONGEST + 1], value[TV_LINE_LONGEST + 1], plain[TV_LINE_LONGEST + 1];
  if (strcmp(line, "[style]") == 0) return TAILVOLT_OK;
  const char *sign = strchr(line, '=');
  if (line[0] == '[' || sign == NULL) return refuse(reader, "'%.60s' is neither [style] nor 'key = value'", line);
  snprintf(key, sizeof key, "%.*s", (int)(sign - line), line);
  snprintf(value, sizeof value, "%s", sign + 1);
  tv_plain_text(plain, sizeof plain, key);
  tv_plain_text(key, sizeof key, value);
  return take_pair(reader, plain, key);
}

static enum tailvolt_status read_lines(struct reader *reader) {
  char line[TV_LINE_LONGEST + 1];
  const char *problem = tv_lines_unreadable(&reader->lines);
  if (problem != NULL) return refuse(reader, "%s", problem);
  while (tv_lines_next(&reader->lines, line, &problem)) {
    enum tailvolt_status status = problem != NULL ? refuse(reader, "the line %s", problem) : take_line(reader, line);
    if (status != TAILVOLT_OK) return status;
  }
  reader->lines.number = 0;
  for (int k = 0; k < 2; k++)
    if (!reader->given[k]) return refuse(reader, "'%s' is missing", keys[k].name);
  if (reader->style->passage_count > 0 && reader->style->phrases_frac > 0.0)
    return refuse(reader, "'phrases' and 'passage' both: one of them is the slow level");
  return TAILVOLT_OK;
}

bool tv_style_is_file(const char *name) {
  size_t length = strlen(name);
  return strchr(name, '/') != NULL || (length > 4 && strcmp(name + length - 4, ".ini") == 0);
}

static enum tailvolt_status open_file(struct reader *reader, const char *system_file) {
  const char *why = NULL;
  char *path = tv_beside(system_file, reader->name);
  if (path == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = TAILVOLT_NOT_READABLE;
  if ((why = tv_unfit(path, true)) == NULL) status = tv_lines_read(path, &reader->lines, &why);
  free(path);
  if (status == TAILVOLT_NOT_READABLE) return refuse(reader, "%s", why != NULL ? why : "cannot be read");
  return status;
}

/* Blanks and hyphens are equal in a name. */
static bool same_name(const char *a, const char *b) {
  for (; *a != '\0' && *b != '\0'; a++, b++)
    if (*a != *b && !((*a == ' ' || *a == '-') && (*b == ' ' || *b == '-'))) return false;
  return *a == *b;
}

static enum tailvolt_status open_built_in(struct reader *reader) {
  const char *names[BUILT_IN_MAX] = {NULL};
  size_t count = 0;
  for (const struct tv_built_in_style *style = tv_built_in_styles; style->name != NULL; style++) {
    if (same_name(style->name, reader->name)) return tv_lines_copy(style->text, &reader->lines);
    if (count < BUILT_IN_MAX) names[count++] = style->name;
  }
  const char *near = tv_nearest_word(reader->name, names, count);
  char list[TAILVOLT_TEXT_MAX] = "";
  for (size_t k = 0; k < count && near == NULL; k++) {
    size_t used = strlen(list);
    snprintf(list + used, sizeof list - used, "%s%s", k > 0 ? ", " : "", names[k]);
  }
  return near != NULL ? refuse(reader, "no style of this name; did you mean '%s'?", near)
                      : refuse(reader, "no style of this name; there are %s, or the path of a style file", list);
}

enum tailvolt_status tv_style_read(const char *name, const char *system_file, struct tv_style *out, char *error) {
  struct reader reader = {.name = name, .style = out, .error = error};
  memset(out, 0, sizeof *out);
  out->phrases_frac = out->sections_frac = (double)NAN;
  error[0] = '\0';
  enum tailvolt_status status = tv_style_is_file(name) ? open_file(&reader, system_file) : open_built_in(&reader);
  if (status == TAILVOLT_OK) {
    status = read_lines(&reader);
    tv_lines_free(&reader.lines);
  }
  return status;
}
