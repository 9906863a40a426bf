/* The system file: line by line into sections and keys with their places, checked against the one table of keys; then
 * the plain structs of the public header. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/faults.h"
#include "input/system_draft.h"
#include "text/text.h"

struct feed {
  struct tv_draft *draft;
  struct tv_lines lines;
  struct tv_part *part; /* section being read; NULL before the first and in an unknown one */
  bool before_sections;
};

static struct tv_place line_place(const struct feed *feed, const char *value) {
  return (struct tv_place){feed->draft, feed->draft->file, feed->lines.number, "", NULL, value, feed->lines.column};
}

static void open_section(struct feed *feed, const char *kind_text, const char *name) {
  struct tv_place place = line_place(feed, name[0] == '\0' ? kind_text : name);
  size_t word = strlen(kind_text);
  enum tv_kind kind = tv_kind_find(kind_text, word);
  place.section = kind_text;
  if (kind == TV_KINDS) {
    feed->draft->layout_broken = true;
    const char *near = tv_kind_nearest(kind_text);
    enum tv_kind last = tv_kind_find(name, strlen(name));
    if (near == NULL && last != TV_KINDS) { /* [main fuse] */
      feed->draft->misspelt |= 1u << last;
      tv_place_fault(&place, "unknown section [%.60s %.60s]; did you mean '[%s %.60s]'?", kind_text, name, tv_kind_word(last), kind_text);
      return;
    }
    if (near != NULL) feed->draft->misspelt |= 1u << tv_kind_find(near, strlen(near));
    tv_place_fault(&place, "unknown section [%.60s]%s%s%s", kind_text, near == NULL ? "" : "; did you mean '",
                   near == NULL ? "" : near, near == NULL ? "" : "'?");
    return;
  }
  if (tv_kind_is_single(kind) && name[0] != '\0') {
    tv_place_fault(&place, "[%s %.60s]: there is one [%s] only, without a name", kind_text, name,
                   tv_kind_word(kind));
    name = "";
  }
  const struct tv_part *first = tv_draft_find(feed->draft, kind, name);
  feed->part = tv_draft_add(feed->draft, kind, name, feed->lines.number);
  if (feed->part == NULL || first == NULL) return;
  feed->part->skipped = true;
  place.section = first->id;
  tv_place_fault(&place, "[%s] appears a second time; the first is on line %d", first->id, first->line);
}

static bool read_header(struct feed *feed, const char *line) {
  struct tv_place place = line_place(feed, line);
  feed->part = NULL;
  feed->before_sections = false;
  const char *end = strrchr(line, ']');
  enum tv_kind meant = tv_kind_find(line + 1, strcspn(line + 1, " ]"));
  if (end == NULL || end[1] != '\0') feed->draft->misspelt |= meant == TV_KINDS ? 0u : 1u << meant;
  if (end == NULL) {
    tv_place_fault(&place, "']' is missing in '%.60s'", line);
    return false;
  }
  if (end[1] != '\0') {
    tv_place_fault(&place, "'%.60s' after the section's ']'", end + 1);
    return false;
  }
  char inside[TV_LINE_LONGEST + 1], header[TV_LINE_LONGEST + 1];
  tv_copy_text(inside, (size_t)(end - line), line + 1);
  tv_squeeze(header, sizeof header, inside);
  if (header[0] == '\0') {
    tv_place_fault(&place, "'%.60s' names no section", line);
    return false;
  }
  size_t word = strcspn(header, " ");
  const char *name = header[word] == '\0' ? "" : header + word + 1;
  header[word] = '\0';
  if (strlen(name) >= TAILVOLT_NAME_MAX) {
    place.value = NULL;
    feed->draft->misspelt |= meant == TV_KINDS ? 0u : 1u << meant;
    tv_place_fault(&place, "the name '%.40s...' is longer than %d characters (an umlaut and its like count as two)", name,
                   TAILVOLT_NAME_MAX - 1);
    return false;
  }
  open_section(feed, header, name);
  return true;
}

/* The value of a key, created if absent; NULL when out of memory. */
static struct tv_value *value_of(struct feed *feed, struct tv_part *part, enum tv_key_id id) {
  if (part->value[id] != NULL) return part->value[id];
  struct tv_value *value = calloc(1, sizeof *value);
  if (value == NULL)
    feed->draft->no_memory = true;
  else
    value->line = feed->lines.number;
  part->value[id] = value;
  return value;
}

static void unknown_key(struct feed *feed, const struct tv_place *place, struct tv_part *part,
                        const char *key) {
  const char *near = tv_key_nearest(part->kind, key);
  enum tv_key_id meant = near == NULL ? TV_KEY_COUNT : tv_key_find(part->kind, near);
  if (meant != TV_KEY_COUNT && part->value[meant] == NULL) {
    /* so that the intended key is not reported as missing too */
    struct tv_value *guess = value_of(feed, part, meant);
    if (guess != NULL) guess->bad = guess->misspelt = true;
  }
  enum tv_kind elsewhere = tv_key_elsewhere(key);
  if (elsewhere != TV_KINDS && near == NULL)
    tv_place_fault(place, "unknown key '%.40s' in [%s]; it belongs to [%s]", key, part->id,
                   tv_kind_word(elsewhere));
  else
    tv_place_fault(place, "unknown key '%.40s' in [%s]%s%s%s", key, part->id,
                   near == NULL ? "" : "; did you mean '", near == NULL ? "" : near,
                   near == NULL ? "" : "'?");
}

/* A line "key = value"; ':' separates them as well. `split` is where. */
static void take_pair(struct feed *feed, const char *line, size_t split) {
  struct tv_part *part = feed->part;
  char key[96], left[TV_LINE_LONGEST + 1];
  tv_copy_text(left, split + 1, line);
  tv_squeeze(key, sizeof key, left);
  const char *text = line + split + 1 + strspn(line + split + 1, " \t\v\f");
  int column = feed->lines.column + (int)(text - line);
  struct tv_place place = line_place(feed, text);
  place.section = part->id;
  place.key = key;
  enum tv_key_id id = tv_key_find(part->kind, key);
  if (id == TV_KEY_COUNT) {
    feed->draft->layout_broken = true;
    unknown_key(feed, &place, part, key);
    return;
  }
  struct tv_value *value = part->value[id];
  if (value != NULL && value->misspelt) {
    free(value);
    value = part->value[id] = NULL;
  }
  if (value != NULL && (tv_key_of(id)->flags & TV_KEY_MANY) == 0) {
    if (!part->skipped)
      tv_place_fault(&place, "'%s' appears a second time in [%s]; the first is on line %d", key, part->id,
                     value->line);
    return;
  }
  value = value_of(feed, part, id);
  if (value == NULL) return;
  value->column = place.column = *text == '\0' ? feed->lines.column : column;
  if (!tv_value_read(&place, id, key, text, value)) value->bad = true;
}

static void take_line(struct feed *feed, const char *line, const char *problem) {
  struct tv_place place = line_place(feed, line);
  size_t split = strcspn(line, "=:");
  if (problem != NULL) {
    feed->draft->layout_broken = true;
    if (line[0] == '[') feed->part = NULL;
    tv_place_fault(&place, "the line %s", problem);
  } else if (line[0] == '[') {
    if (!read_header(feed, line)) feed->draft->layout_broken = true;
  } else if (line[split] == '\0') {
    tv_place_fault(&place, "'%.60s' is neither [section] nor 'key = value'", line);
  } else if (feed->before_sections) {
    tv_place_fault(&place, "'%.60s' comes before any [section]", line);
  } else if (feed->part != NULL) {
    take_pair(feed, line, split);
  }
}

/* Sorts faults by line of the file, settings last. */
static void sort_faults(struct tailvolt_faults *faults) {
  for (int k = 1; k < faults->count; k++) {
    struct tailvolt_fault one = faults->fault[k];
    int at = k;
    bool setting = strcmp(one.file, "--set") == 0;
    while (at > 0) {
      const struct tailvolt_fault *before = &faults->fault[at - 1];
      bool before_setting = strcmp(before->file, "--set") == 0;
      if (before_setting == setting ? before->line <= one.line : setting) break;
      faults->fault[at] = *before;
      at--;
    }
    faults->fault[at] = one;
  }
}

/* The two kinds of file are easily swapped. */
static bool is_profile(struct tv_lines lines) {
  char line[TV_LINE_LONGEST + 1];
  const char *problem = NULL;
  return tv_lines_next(&lines, line, &problem) && line[0] != '[' && strchr(line, '=') == NULL &&
         (strncmp(line, "time_s,", 7) == 0 || strstr(line, ",time_s") != NULL);
}

enum tailvolt_status tv_draft_build(struct tv_draft *draft, const struct tailvolt_setting *settings, int setting_count,
                                    struct tailvolt_system **out) {
  tv_apply_settings(draft, settings, setting_count);
  if (draft->no_memory) return TAILVOLT_NO_MEMORY;
  tv_find_starter(draft);
  tv_default_places(draft);
  tv_standard_car(draft);
  tv_refuse_unknown_sections(draft, settings, setting_count);
  tv_fill_defaults(draft);
  if (draft->no_memory) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = tv_system_build(draft, out);
  if (status != TAILVOLT_OK) return status;
  sort_faults(draft->faults);
  return draft->faults->count > 0 ? TAILVOLT_BAD_INPUT : TAILVOLT_OK;
}

enum tailvolt_status tv_draft_finish(struct tv_draft *draft, const struct tailvolt_setting *settings,
                                     int setting_count, struct tailvolt_system **out) {
  enum tailvolt_status status = tv_draft_build(draft, settings, setting_count, out);
  if (status != TAILVOLT_OK) return status;
  (*out)->stated = tv_stated_keep(draft);
  return (*out)->stated != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}

static enum tailvolt_status read_all(struct feed *feed, const struct tailvolt_setting *settings,
                                     int setting_count, struct tailvolt_system **out) {
  struct tv_draft *draft = feed->draft;
  const char *unreadable = tv_lines_unreadable(&feed->lines);
  if (unreadable != NULL) {
    tv_fault_add(draft->faults, draft->file, 0, 0, NULL, NULL, "%s", unreadable);
    return TAILVOLT_BAD_INPUT;
  }
  const char *report = tv_text_report_problem(feed->lines.text);
  if (report != NULL) {
    tv_fault_add(draft->faults, draft->file, 0, 0, NULL, NULL, "%s", report);
    return TAILVOLT_BAD_INPUT;
  }
  if (is_profile(feed->lines)) {
    tv_fault_add(draft->faults, draft->file, 0, 0, NULL, NULL,
                 "is a load profile; the system file comes first, the profile after it");
    return TAILVOLT_BAD_INPUT;
  }
  char line[TV_LINE_LONGEST + 1];
  const char *problem = NULL;
  while (!draft->no_memory && tv_lines_next(&feed->lines, line, &problem)) take_line(feed, line, problem);
  return tv_draft_finish(draft, settings, setting_count, out);
}

static enum tailvolt_status parse_lines(struct tv_lines lines, const char *name,
                                        const struct tailvolt_setting *settings, int setting_count,
                                        struct tailvolt_system **out, struct tailvolt_faults *faults) {
  struct tv_draft draft = {.faults = faults};
  struct feed feed = {.draft = &draft, .lines = lines, .before_sections = true};
  tv_copy_text(draft.file, sizeof draft.file, name);
  struct tailvolt_system *system = NULL;
  enum tailvolt_status status = read_all(&feed, settings, setting_count, &system);
  sort_faults(faults);
  tv_lines_free(&feed.lines);
  tv_draft_free(&draft);
  if (status == TAILVOLT_OK)
    *out = system;
  else
    tailvolt_system_free(system);
  return status;
}

enum tailvolt_status tailvolt_system_parse(const char *text, const char *name,
                                           const struct tailvolt_setting *settings, int setting_count,
                                           struct tailvolt_system **out, struct tailvolt_faults *faults) {
  struct tv_lines lines;
  *out = NULL;
  TV_FAULTS_OR_OWN(faults, tailvolt_system_parse(text, name, settings, setting_count, out, faults));
  *faults = (struct tailvolt_faults){0};
  enum tailvolt_status status = tv_lines_copy(text, &lines);
  if (status != TAILVOLT_OK) return status;
  return parse_lines(lines, name, settings, setting_count, out, faults);
}

enum tailvolt_status tailvolt_system_read(const char *path, const struct tailvolt_setting *settings,
                                          int setting_count, struct tailvolt_system **out,
                                          struct tailvolt_faults *faults) {
  struct tv_lines lines;
  const char *why = NULL;
  *out = NULL;
  TV_FAULTS_OR_OWN(faults, tailvolt_system_read(path, settings, setting_count, out, faults));
  *faults = (struct tailvolt_faults){0};
  enum tailvolt_status status = tv_lines_read(path, &lines, &why);
  if (status == TAILVOLT_NOT_READABLE)
    tv_fault_add(faults, path, 0, 0, NULL, NULL, "cannot be read: %s", why);
  if (status != TAILVOLT_OK) return status;
  return parse_lines(lines, path, settings, setting_count, out, faults);
}
