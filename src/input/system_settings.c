/* `--set "section.key = value"`: overrides of the system file. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/faults.h"
#include "input/system_draft.h"
#include "input/system_edit.h"
#include "text/text.h"

/* Splits what is left of "=" at the given dot; true where section and key are both known. */
static bool split_at(const char *left, size_t dot, struct tv_setting *setting) {
  char section[sizeof setting->section];
  char piece[TAILVOLT_TEXT_MAX];
  tv_copy_text(piece, dot + 1 < sizeof piece ? dot + 1 : sizeof piece, left);
  tv_squeeze(section, sizeof section, piece);
  tv_squeeze(setting->key, sizeof setting->key, left + dot + 1);
  tv_copy_text(setting->section, sizeof setting->section, section);
  size_t word = strcspn(section, " ");
  setting->kind = tv_kind_find(section, word);
  tv_copy_text(setting->name, sizeof setting->name, section[word] == '\0' ? "" : section + word + 1);
  setting->id = setting->kind == TV_KINDS ? TV_KEY_COUNT : tv_key_find(setting->kind, setting->key);
  return setting->id != TV_KEY_COUNT;
}

const char *tv_setting_split(const char *text, struct tv_setting *setting) {
  *setting = (struct tv_setting){.kind = TV_KINDS, .id = TV_KEY_COUNT};
  char left[TAILVOLT_TEXT_MAX];
  const char *equals = strchr(text, '=');
  const char *problem = tv_text_problem(text, strlen(text));
  if (problem != NULL) return problem;
  if (equals == NULL) return "has no '='; write 'section.key = value'";
  size_t length = (size_t)(equals - text);
  if (length >= sizeof left || strlen(equals) >= sizeof setting->value) return "is too long";
  tv_copy_text(left, length + 1, text);
  tv_squeeze(setting->value, sizeof setting->value, equals + 1);
  size_t from = 0, to = 0;
  tv_line_content(setting->value, strlen(setting->value), &from, &to);
  if (to != strlen(setting->value)) return "holds a comment; leave out what follows '#' or ';'";
  if (memchr(text, '[', length) != NULL || memchr(text, ']', length) != NULL)
    return "names its section in brackets; write 'section.key = value', as in 'battery.capacity = 70 Ah'";
  size_t last = length;
  for (size_t dot = length; dot-- > 0;) {
    if (left[dot] != '.') continue;
    if (last == length) last = dot;
    if (split_at(left, dot, setting)) return NULL;
  }
  if (last == length) return "has no '.' between section and key; write 'section.key = value'";
  split_at(left, last, setting);
  return NULL;
}

const char *tv_setting_section_meant(const struct tv_draft *draft, const struct tv_setting *setting) {
  const struct tv_part *named = NULL;
  for (int p = 0; p < draft->part_count; p++) {
    const struct tv_part *part = draft->parts[p];
    if (part->skipped || !tv_words_alike(part->name, setting->section)) continue;
    if (tv_key_find(part->kind, setting->key) != TV_KEY_COUNT) return part->id;
    if (named == NULL) named = part;
  }
  if (named != NULL) return named->id;
  char word[40];
  tv_copy_text(word, sizeof word, setting->section);
  word[strcspn(word, " ")] = '\0';
  return tv_kind_nearest(word);
}

static void unknown_key_fault(const struct tv_place *place, const struct tv_setting *setting) {
  const char *near = tv_key_nearest(setting->kind, setting->key);
  tv_place_fault(place, "unknown key '%.40s' in [%.60s]%s%s%s", setting->key, setting->section,
                 near == NULL ? "" : "; did you mean '", near == NULL ? "" : near, near == NULL ? "" : "'?");
}

/* The section a setting means: the same name, else the only one of its kind, else a new one. NULL after a
 * fault. */
static struct tv_part *find_target(struct tv_draft *draft, const struct tv_place *place,
                                   const struct tv_setting *setting) {
  struct tv_part *part = tv_draft_find(draft, setting->kind, setting->name);
  if (part != NULL) return part;
  if (tv_kind_is_single(setting->kind) && setting->name[0] != '\0') {
    tv_place_fault(place, "there is one [%s] only; write '%s.%s'", tv_kind_word(setting->kind),
                   tv_kind_word(setting->kind), setting->key);
    return NULL;
  }
  int same = 0;
  if (setting->name[0] == '\0') {
    for (int k = 0; k < draft->part_count; k++) {
      if (draft->parts[k]->kind != setting->kind || draft->parts[k]->skipped) continue;
      part = draft->parts[k];
      same++;
    }
    if (same == 1) return part;
    if (same > 1) {
      tv_place_fault(place, "which %s? write for example '%.60s.%s'", tv_kind_word(setting->kind), part->id,
                     setting->key);
      return NULL;
    }
  }
  part = tv_draft_add(draft, setting->kind, setting->name, 0);
  if (part != NULL) part->from_setting = true;
  return part;
}

/* Drops what the new value replaces: values of the keys it excludes, and a measured drop under a new size. */
static void drop_replaced(struct tv_part *part, enum tv_key_id id) {
  for (int k = 0; k < TV_KEY_COUNT; k++)
    if (tv_key_replaces(id, (enum tv_key_id)k)) {
      free(part->value[k]);
      part->value[k] = NULL;
    }
}

static void apply(struct tv_draft *draft, const char *text) {
  struct tv_setting setting;
  struct tv_place place = {draft, "--set", 0, "", NULL, text, 0};
  const char *shape = tv_setting_split(text, &setting);
  if (shape != NULL) {
    tv_place_fault(&place, "'%.100s' %s", text, shape);
    return;
  }
  place = (struct tv_place){draft, "--set", 0, setting.section, setting.key, setting.value, 0};
  if (setting.id == TV_KEY_COUNT) {
    draft->layout_broken = true;
    if (setting.kind != TV_KINDS) unknown_key_fault(&place, &setting); /* else see tv_refuse_unknown_sections() */
    return;
  }
  struct tv_part *part = find_target(draft, &place, &setting);
  if (part == NULL) return;
  place.section = part->id;
  struct tv_value *value = calloc(1, sizeof *value);
  if (value == NULL) {
    draft->no_memory = true;
    return;
  }
  value->from_setting = true;
  if (!tv_value_read(&place, setting.id, setting.key, setting.value, value)) {
    /* keeps the key present, so that it is not reported as missing too */
    value->bad = true;
    if (part->value[setting.id] == NULL)
      part->value[setting.id] = value;
    else
      free(value);
    return;
  }
  drop_replaced(part, setting.id);
  free(part->value[setting.id]);
  part->value[setting.id] = value;
}

void tv_apply_settings(struct tv_draft *draft, const struct tailvolt_setting *settings, int count) {
  for (int k = 0; k < count && !draft->no_memory; k++) apply(draft, settings[k].text);
}

void tv_refuse_unknown_sections(struct tv_draft *draft, const struct tailvolt_setting *settings, int count) {
  for (int k = 0; k < count; k++) {
    struct tv_setting setting;
    if (tv_setting_split(settings[k].text, &setting) != NULL || setting.kind != TV_KINDS) continue;
    struct tv_place place = {draft, "--set", 0, setting.section, setting.key, setting.value, 0};
    const char *near = tv_setting_section_meant(draft, &setting);
    tv_place_fault(&place, "unknown section '%.60s'%s%s%s", setting.section, near == NULL ? "" : "; did you mean '",
                   near == NULL ? "" : near, near == NULL ? "" : "'?");
  }
}

static bool has_point(const struct tv_part *part) {
  for (int key = 0; key < TV_KEY_COUNT; key++)
    if (key != TV_K_SENSE_POINT && part->value[key] != NULL &&
        tv_key_of((enum tv_key_id)key)->form == TV_FORM_POINT)
      return true;
  return false;
}

/* The part of that kind with the nearest name, NULL = none near. */
static const struct tv_part *nearest_part(const struct tv_draft *draft, const struct tv_part *meant) {
  const char *names[64];
  size_t count = 0;
  for (int p = 0; p < draft->part_count && count < sizeof names / sizeof names[0]; p++) {
    const struct tv_part *part = draft->parts[p];
    if (part->kind == meant->kind && !part->from_setting && !part->skipped) names[count++] = part->name;
  }
  const char *near = tv_nearest_word(meant->name, names, count);
  for (int p = 0; p < draft->part_count && near != NULL; p++)
    if (draft->parts[p]->name == near) return draft->parts[p];
  return NULL;
}

void tv_refuse_strays(struct tv_draft *draft, bool near_only) {
  static const enum tv_kind placed_kinds[] = {TV_KIND_CABLE,    TV_KIND_STRAP,   TV_KIND_JOINT,     TV_KIND_FUSE,
                                              TV_KIND_ISOLATOR, TV_KIND_BATTERY, TV_KIND_AMPLIFIER, TV_KIND_LOAD,
                                              TV_KIND_CAPACITOR, TV_KIND_METER};
  unsigned placed = 0;
  for (size_t k = 0; k < sizeof placed_kinds / sizeof placed_kinds[0]; k++) placed |= 1u << placed_kinds[k];
  for (int p = 0; p < draft->part_count; p++) {
    struct tv_part *part = draft->parts[p];
    if (!part->from_setting || part->skipped || (placed & 1u << part->kind) == 0 || has_point(part)) continue;
    struct tv_place place = {draft, "--set", 0, part->id, NULL, NULL, 0};
    const struct tv_part *near = nearest_part(draft, part);
    /* capacitors and meters go to the only amplifier */
    bool finds_place = part->kind == TV_KIND_CAPACITOR || part->kind == TV_KIND_METER;
    if (near == NULL && (near_only || finds_place)) continue;
    if (near != NULL)
      tv_place_fault(&place, "there is no [%s]; did you mean '%s'?", part->id, near->id);
    else
      tv_place_fault(&place, "there is no [%s]; a new part needs its points too", part->id);
    part->skipped = true;
    draft->layout_broken = true;
  }
}
