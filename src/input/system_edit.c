/* A system file's text with settings written into it. Comments, order, spacing and line ends stay. */
#include "input/system_edit.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "input/lines.h"
#include "input/system_draft.h"
#include "text/text.h"

/* A growing text. */
struct output {
  char *text;
  size_t length, room;
  bool no_memory;
};

static void put(struct output *out, const char *text, size_t length) {
  if (out->length + length + 1 > out->room && !out->no_memory) {
    size_t room = 2 * (out->length + length) + 256;
    char *bigger = realloc(out->text, room);
    if (bigger == NULL) {
      out->no_memory = true;
    } else {
      out->text = bigger;
      out->room = room;
    }
  }
  if (out->no_memory) return;
  memcpy(out->text + out->length, text, length);
  out->length += length;
  out->text[out->length] = '\0';
}

static void put_text(struct output *out, const char *text) {
  put(out, text, strlen(text));
}

/* One raw line and what it is. */
struct raw_line {
  const char *raw;
  size_t length, whole; /* without and with its line end */
  size_t start, end;    /* of the content */
  bool header;
  enum tv_kind kind; /* of a header */
  char name[TAILVOLT_NAME_MAX];
  size_t value; /* where the value starts in a "key = value" line, 0 = no such line */
  char key[96];
};

static void look_at_header(struct raw_line *line) {
  char inside[TV_LINE_LONGEST + 1], plain[TV_LINE_LONGEST + 1];
  size_t length = line->end - line->start;
  if (length < 2 || length > TV_LINE_LONGEST) return;
  tv_copy_text(inside, length - 1, line->raw + line->start + 1);
  tv_squeeze(plain, sizeof plain, inside);
  size_t word = strcspn(plain, " ");
  line->kind = tv_kind_find(plain, word);
  tv_copy_text(line->name, sizeof line->name, plain[word] == '\0' ? "" : plain + word + 1);
}

static bool next_line(struct tv_lines *lines, struct raw_line *line) {
  *line = (struct raw_line){.kind = TV_KINDS};
  if (!tv_lines_next_raw(lines, &line->raw, &line->length)) return false;
  line->whole = lines->at - (size_t)(line->raw - lines->text);
  tv_line_content(line->raw, line->length, &line->start, &line->end);
  if (line->start == line->end) return true;
  line->header = line->raw[line->start] == '[';
  if (line->header) {
    look_at_header(line);
    return true;
  }
  size_t split = line->start;
  while (split < line->end && line->raw[split] != '=' && line->raw[split] != ':') split++;
  if (split == line->end || split - line->start >= sizeof line->key) return true;
  char key[sizeof line->key];
  tv_copy_text(key, split - line->start + 1, line->raw + line->start);
  tv_squeeze(line->key, sizeof line->key, key);
  line->value = split + 1;
  while (line->value < line->end && (line->raw[line->value] == ' ' || line->raw[line->value] == '\t'))
    line->value++;
  return true;
}

/* Where the section that a setting means is, as the reader would find it. */
struct target {
  int header; /* line number of the header, 0 = there is none */
  int last;   /* the last line with content in that section */
  bool has_key;
};

static struct target find_target(const struct tv_lines *text, const struct tv_setting *setting) {
  struct target exact = {0}, only = {0};
  struct target *now = NULL;
  int same_kind = 0;
  struct tv_lines lines = *text;
  struct raw_line line;
  while (next_line(&lines, &line)) {
    if (line.header) {
      now = NULL;
      if (line.kind != setting->kind) continue;
      same_kind++;
      now = strcmp(line.name, setting->name) == 0 ? &exact : &only;
      *now = (struct target){lines.number, lines.number, false};
    } else if (now != NULL && line.start < line.end) {
      now->last = lines.number;
      if (line.value > 0 && tv_key_find(setting->kind, line.key) == setting->id) now->has_key = true;
    }
  }
  if (exact.header > 0) return exact;
  return setting->name[0] == '\0' && same_kind == 1 ? only : (struct target){0};
}

/* True where a line's key cannot coexist with the one being set. */
static bool excluded(const struct tv_setting *setting, enum tv_key_id id) {
  return id != TV_KEY_COUNT && tv_key_replaces(setting->id, id);
}

static void put_note(struct output *out, const struct tv_setting *setting) {
  if (setting->note == NULL) return;
  put_text(out, "  # ");
  put_text(out, setting->note);
}

static void put_setting(struct output *out, const struct tv_setting *setting, const char *line_end) {
  put_text(out, setting->key);
  put_text(out, " = ");
  put_text(out, setting->value);
  put_note(out, setting);
  put_text(out, line_end);
}

/* Writes the line with its value changed; `power at 12.5 V` changes its key as well. */
static void put_changed(struct output *out, const struct raw_line *line, const struct tv_setting *setting) {
  if (tv_key_of(setting->id)->form == TV_FORM_POWER_AT) {
    put(out, line->raw, line->start);
    put_text(out, setting->key);
    put_text(out, " = ");
  } else {
    put(out, line->raw, line->value);
  }
  put_text(out, setting->value);
  put_note(out, setting);
  put(out, line->raw + line->end, line->whole - line->end);
}

static void apply_one(const struct tv_lines *text, const struct tv_setting *setting, struct output *out) {
  const char *line_end = strstr(text->text, "\r\n") != NULL ? "\r\n" : "\n";
  struct target target = find_target(text, setting);
  struct tv_lines lines = *text;
  struct raw_line line;
  bool inside = false, written = false;
  if (text->length >= 3 && memcmp(text->text, "\xEF\xBB\xBF", 3) == 0) put(out, text->text, 3);
  while (next_line(&lines, &line)) {
    if (line.header) inside = lines.number == target.header;
    enum tv_key_id id = inside && line.value > 0 ? tv_key_find(setting->kind, line.key) : TV_KEY_COUNT;
    if (id == setting->id && !written) {
      put_changed(out, &line, setting);
      written = true;
    } else if (id == setting->id || excluded(setting, id)) {
      put_text(out, "# ");
      put(out, line.raw, line.whole);
    } else {
      put(out, line.raw, line.whole);
    }
    bool ended = line.whole > line.length;
    if (!ended) put_text(out, line_end);
    if (inside && lines.number == target.last && !target.has_key && !written) {
      put_setting(out, setting, line_end);
      written = true;
    }
  }
  if (written) return;
  char header[TAILVOLT_NAME_MAX + 40];
  snprintf(header, sizeof header, "%s[%s%s%s]%s", out->length > 0 ? line_end : "",
           tv_kind_word(setting->kind), setting->name[0] == '\0' ? "" : " ", setting->name, line_end);
  put_text(out, header);
  put_setting(out, setting, line_end);
}

/* Replaces *text by the same text with one setting applied. */
static enum tailvolt_status write_setting(char **text, const struct tv_setting *setting) {
  struct tv_lines lines;
  enum tailvolt_status status = tv_lines_copy(*text, &lines);
  if (status != TAILVOLT_OK) return status;
  struct output out = {0};
  put(&out, "", 0);
  apply_one(&lines, setting, &out);
  tv_lines_free(&lines);
  if (out.no_memory) {
    free(out.text);
    return TAILVOLT_NO_MEMORY;
  }
  free(*text);
  *text = out.text;
  return TAILVOLT_OK;
}

/* Points in a file that named none would switch off the standard car, so the file must say that it keeps
 * it. */
static bool needs_wiring_key(struct tv_lines lines, const struct tailvolt_setting *settings, int count) {
  bool standard = true, points = false;
  struct raw_line line;
  enum tv_kind kind = TV_KINDS;
  while (next_line(&lines, &line)) {
    if (line.header) kind = line.kind;
    enum tv_key_id id = kind == TV_KINDS || line.value == 0 ? TV_KEY_COUNT : tv_key_find(kind, line.key);
    if (id == TV_K_WIRING) return false;
    if (id != TV_KEY_COUNT && id != TV_K_SENSE_POINT && tv_key_of(id)->form == TV_FORM_POINT)
      standard = false;
  }
  for (int k = 0; k < count; k++) {
    struct tv_setting setting;
    if (tv_setting_split(settings[k].text, &setting) == NULL && setting.id != TV_KEY_COUNT &&
        setting.id != TV_K_SENSE_POINT && tv_key_of(setting.id)->form == TV_FORM_POINT)
      points = true;
  }
  return standard && points;
}

static enum tailvolt_status write_all(const char *text, const struct tailvolt_setting *settings, int count, const char *note,
                                      char **out) {
  *out = NULL;
  char *now = malloc(strlen(text) + 1);
  if (now == NULL) return TAILVOLT_NO_MEMORY;
  memcpy(now, text, strlen(text) + 1);
  struct tv_lines before;
  enum tailvolt_status status = tv_lines_copy(text, &before);
  for (int k = 0; k < count && status == TAILVOLT_OK; k++) {
    struct tv_setting setting;
    if (tv_setting_split(settings[k].text, &setting) != NULL || setting.id == TV_KEY_COUNT)
      status = TAILVOLT_BAD_INPUT;
    setting.note = note;
    if (status == TAILVOLT_OK) status = write_setting(&now, &setting);
  }
  if (status == TAILVOLT_OK && needs_wiring_key(before, settings, count)) {
    struct tv_setting wiring;
    if (tv_setting_split("vehicle.wiring = standard car", &wiring) == NULL)
      status = write_setting(&now, &wiring);
  }
  tv_lines_free(&before);
  if (status == TAILVOLT_OK)
    *out = now;
  else
    free(now);
  return status;
}

enum tailvolt_status tv_system_write_with(const char *text, const struct tailvolt_setting *settings,
                                          int count, char **out) {
  return write_all(text, settings, count, NULL, out);
}

enum tailvolt_status tv_system_write_noted(const char *text, const struct tailvolt_setting *setting, const char *note, char **out) {
  return write_all(text, setting, 1, note, out);
}
