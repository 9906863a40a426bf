/* Sections and values of a system file while it is being read. */
#include "input/system_draft.h"

#include <ctype.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/faults.h"
#include "text/number.h"
#include "text/text.h"

struct tv_part *tv_draft_find(struct tv_draft *draft, enum tv_kind kind, const char *name) {
  for (int k = 0; k < draft->part_count; k++) {
    struct tv_part *part = draft->parts[k];
    if (!part->skipped && part->kind == kind && (name == NULL || strcmp(part->name, name) == 0)) return part;
  }
  return NULL;
}

struct tv_part *tv_draft_add(struct tv_draft *draft, enum tv_kind kind, const char *name, int line) {
  if (draft->part_count == draft->part_room) {
    int room = draft->part_room == 0 ? 32 : 2 * draft->part_room;
    struct tv_part **parts = realloc(draft->parts, (size_t)room * sizeof *parts);
    if (parts == NULL) {
      draft->no_memory = true;
      return NULL;
    }
    draft->parts = parts;
    draft->part_room = room;
  }
  struct tv_part *part = calloc(1, sizeof *part);
  if (part == NULL) {
    draft->no_memory = true;
    return NULL;
  }
  part->kind = kind;
  part->line = line;
  tv_copy_text(part->name, sizeof part->name, name);
  snprintf(part->id, sizeof part->id, "%s%s%s", tv_kind_word(kind), name[0] == '\0' ? "" : " ", part->name);
  draft->parts[draft->part_count++] = part;
  return part;
}

void tv_draft_free(struct tv_draft *draft) {
  for (int k = 0; k < draft->part_count; k++) {
    for (int key = 0; key < TV_KEY_COUNT; key++) free(draft->parts[k]->value[key]);
    free(draft->parts[k]);
  }
  free(draft->parts);
  free(draft->assumptions);
  free(draft->feeds);
  draft->feeds = NULL;
  draft->feed_count = 0;
  draft->parts = NULL;
  draft->assumptions = NULL;
  draft->part_count = draft->assumption_count = 0;
}

static void list_assumption(struct tv_draft *draft, const struct tv_part *part, enum tv_key_id key,
                            const char *text, const char *shown, bool chosen) {
  if (draft->assumption_count == draft->assumption_room) {
    int room = draft->assumption_room == 0 ? 64 : 2 * draft->assumption_room;
    struct tailvolt_assumption *list = realloc(draft->assumptions, (size_t)room * sizeof *list);
    if (list == NULL) {
      draft->no_memory = true;
      return;
    }
    draft->assumptions = list;
    draft->assumption_room = room;
  }
  struct tailvolt_assumption *one = &draft->assumptions[draft->assumption_count++];
  memset(one, 0, sizeof *one);
  snprintf(one->key, sizeof one->key, "%.73s.%s", part->id, tv_key_of(key)->name);
  tv_copy_text(one->value, sizeof one->value, text);
  tv_copy_text(one->shown, sizeof one->shown, shown);
  double number = part->value[key]->x[0];
  if (tv_key_of(key)->measure == TV_LENGTH && tv_key_of(key)->form == TV_FORM_QUANTITY)
    snprintf(one->shown_us, sizeof one->shown_us, "%s", tv_length(number, true).text);
  if (tv_key_of(key)->measure == TV_TEMPERATURE)
    snprintf(one->shown_us, sizeof one->shown_us, "%s", tv_temperature(number, true).text);
  one->chosen = chosen;
}

/* An absent value made ready to be filled; NULL where it is present, or out of memory. */
static struct tv_value *absent(struct tv_draft *draft, struct tv_part *part, enum tv_key_id key) {
  if (part == NULL || part->value[key] != NULL) return NULL;
  struct tv_value *value = calloc(1, sizeof *value);
  if (value == NULL) {
    draft->no_memory = true;
    return NULL;
  }
  value->assumed = true;
  value->line = part->line;
  value->column = part->line > 0;
  return value;
}

static bool assume(struct tv_draft *draft, struct tv_part *part, enum tv_key_id key, const char *text) {
  struct tv_value *value = absent(draft, part, key);
  if (value == NULL) return false;
  struct tv_place place = {draft, draft->file, part->line, part->id, tv_key_of(key)->name, text, 0};
  if (!tv_value_read(&place, key, tv_key_of(key)->name, text, value)) {
    free(value);
    return false;
  }
  part->value[key] = value;
  return true;
}

void tv_assume(struct tv_draft *draft, struct tv_part *part, enum tv_key_id key, const char *text,
               bool listed) {
  if (assume(draft, part, key, text) && listed) list_assumption(draft, part, key, text, text, false);
}

static bool assume_number(struct tv_draft *draft, struct tv_part *part, enum tv_key_id key, double number) {
  struct tv_value *value = absent(draft, part, key);
  if (value == NULL) return false;
  value->x[0] = value->y[0] = number;
  value->count = 1;
  part->value[key] = value;
  return true;
}

static void list_number(struct tv_draft *draft, const struct tv_part *part, enum tv_key_id key, double number,
                        bool chosen) {
  static const char *const standards[] = {" EN", " SAE", " DIN"};
  const char *after = tv_key_of(key)->form == TV_FORM_CRANKING ? standards[part->value[key]->word] : "";
  char text[48], whole[64], shown[64];
  tv_quantity_write(text, sizeof text, number, tv_key_of(key)->measure, true);
  snprintf(whole, sizeof whole, "%s%s", text, after);
  tv_quantity_round(text, sizeof text, number, tv_key_of(key)->measure, 4);
  snprintf(shown, sizeof shown, "%s%s", text, after);
  list_assumption(draft, part, key, whole, shown, chosen);
}

void tv_assume_number(struct tv_draft *draft, struct tv_part *part, enum tv_key_id key, double value,
                      bool listed) {
  if (assume_number(draft, part, key, value) && listed) list_number(draft, part, key, value, false);
}

void tv_assume_same(struct tv_draft *draft, struct tv_part *part, enum tv_key_id key,
                    const struct tv_part *like) {
  struct tv_value *value = absent(draft, part, key);
  if (value == NULL) return;
  *value = *like->value[key];
  value->assumed = true;
  value->measured = value->from_setting = false;
  value->line = part->line;
  value->column = part->line > 0;
  part->value[key] = value;
  const char *text = like->value[key]->text[0] != '\0' ? like->value[key]->text : like->value[key]->raw;
  list_assumption(draft, part, key, text, text, false);
}

/* Makes way for a new choice where only a choice stands. */
static void drop_chosen(struct tv_part *part, enum tv_key_id key) {
  if (part->value[key] == NULL || !part->value[key]->assumed) return;
  free(part->value[key]);
  part->value[key] = NULL;
}

void tv_choose(struct tv_draft *draft, struct tv_part *part, enum tv_key_id key, const char *text, bool listed) {
  drop_chosen(part, key);
  part->chosen = true;
  if (assume(draft, part, key, text) && listed) list_assumption(draft, part, key, text, text, true);
}

void tv_choose_number(struct tv_draft *draft, struct tv_part *part, enum tv_key_id key, double value) {
  drop_chosen(part, key);
  part->chosen = true;
  if (assume_number(draft, part, key, value)) list_number(draft, part, key, value, true);
}

bool tv_is_straight(const struct tv_part *part) {
  enum { NONE = TAILVOLT_CONVERTER + 1 };
  return part->kind == TV_KIND_ISOLATOR && tv_word(part, TV_K_ISO_KIND) == NONE;
}

bool tv_has(const struct tv_part *part, enum tv_key_id key) {
  return part != NULL && part->value[key] != NULL;
}

bool tv_given(const struct tv_part *part, enum tv_key_id key) {
  return tv_has(part, key) && !part->value[key]->assumed;
}

double tv_number(const struct tv_part *part, enum tv_key_id key) {
  return tv_has(part, key) ? part->value[key]->x[0] : (double)NAN;
}

int tv_word(const struct tv_part *part, enum tv_key_id key) {
  return tv_has(part, key) ? part->value[key]->word : -1;
}

const char *tv_text(const struct tv_part *part, enum tv_key_id key) {
  return tv_has(part, key) ? part->value[key]->text : "";
}

void tv_part_fault(struct tv_draft *draft, const struct tv_part *part, enum tv_key_id key, const char *format,
                   ...) {
  const struct tv_value *value = part->value[key];
  if (value != NULL && value->bad) return;
  bool from_setting = value != NULL ? value->from_setting : part->from_setting;
  struct tv_place place = {draft,
                           from_setting ? "--set" : draft->file,
                           value != NULL ? value->line : part->line,
                           part->id,
                           tv_key_of(key)->name,
                           value != NULL ? value->raw : NULL,
                           value != NULL ? value->column : part->line > 0 ? 1 : 0};
  char message[TAILVOLT_TEXT_MAX];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(message, sizeof message, format, arguments);
  va_end(arguments);
  tv_place_fault(&place, "%s", message);
}
