#include "input/system_number.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/system_draft.h"
#include "input/system_edit.h"
#include "text/text.h"

/* The part that a setting means: by name, else the only one of its kind. */
static struct tv_part *part_of(struct tv_draft *draft, const struct tv_setting *setting) {
  struct tv_part *part = tv_draft_find(draft, setting->kind, setting->name), *only = NULL;
  if (part != NULL || setting->name[0] != '\0') return part;
  for (int p = 0; p < draft->part_count; p++) {
    if (draft->parts[p]->kind != setting->kind) continue;
    if (only != NULL) return NULL;
    only = draft->parts[p];
  }
  return only;
}

static double bound(const char *text, enum tv_measure measure) {
  double value = (double)NAN;
  if (text == NULL || tv_quantity_read(text, strlen(text), measure, &value) != TV_QUANTITY_OK) return (double)NAN;
  return value;
}

static enum tailvolt_status refuse(char *error, const char *key, const char *why) {
  snprintf(error, TAILVOLT_TEXT_MAX, "%.90s: %.150s", key, why);
  return TAILVOLT_BAD_INPUT;
}

static enum tailvolt_status split(const char *key, struct tv_setting *setting, char *error) {
  char text[TAILVOLT_TEXT_MAX];
  snprintf(text, sizeof text, "%.200s = x", key);
  const char *problem = tv_setting_split(text, setting);
  if (problem != NULL) return refuse(error, key, "name a key as --set does, such as alternator.set point");
  if (setting->kind == TV_KINDS || setting->id != TV_KEY_COUNT) return TAILVOLT_OK;
  const char *near = tv_key_nearest(setting->kind, setting->key);
  snprintf(error, TAILVOLT_TEXT_MAX, "%.90s: unknown key in [%.60s]%s%s%s", key, setting->section,
           near != NULL ? "; did you mean '" : "", near != NULL ? near : "", near != NULL ? "'?" : "");
  return TAILVOLT_BAD_INPUT;
}

/* Values derived from other keys that exist only in the plain structs. */
static double derived(const struct tailvolt_system *system, const struct tv_part *part, enum tv_key_id id) {
  double sum_a = 0;
  const char *name = part->name[0] != '\0' ? part->name : tv_kind_word(part->kind);
  if (id == TV_K_BASE_LOAD) {
    for (int k = 0; k < system->load_count; k++) sum_a += system->loads[k].power_w / system->loads[k].rated_v;
    return sum_a;
  }
  if (id != TV_K_RESISTANCE) return (double)NAN;
  for (int k = 0; k < system->conductor_count; k++)
    if (system->conductors[k].kind == (part->kind == TV_KIND_FUSE ? TAILVOLT_FUSE : TAILVOLT_JOINT) &&
        strcmp(system->conductors[k].name, name) == 0)
      return system->conductors[k].resistance_ohm;
  return (double)NAN;
}

static enum tailvolt_status look_up(struct tv_draft *draft, const struct tailvolt_system *system, const struct tv_setting *setting,
                                    const char *asked, struct tv_system_number *number, char *error) {
  if (setting->kind == TV_KINDS) {
    const char *near = tv_setting_section_meant(draft, setting);
    snprintf(error, TAILVOLT_TEXT_MAX, "%.90s: unknown section%s%.70s%s", asked, near != NULL ? "; did you mean '" : "",
             near != NULL ? near : "", near != NULL ? "'?" : "");
    return TAILVOLT_BAD_INPUT;
  }
  const struct tv_key *key = tv_key_of(setting->id);
  struct tv_part *part = part_of(draft, setting);
  if (key->form != TV_FORM_QUANTITY && key->form != TV_FORM_RANGE)
    return refuse(error, asked, "is not one number with a unit: it cannot be fitted");
  if (part == NULL) return refuse(error, asked, "the system has no such part; `tailvolt check` lists its parts");
  const struct tv_value *value = part->value[setting->id];
  if (key->form == TV_FORM_RANGE && value != NULL && fabs(value->y[0] - value->x[0]) > 0)
    return refuse(error, asked, "is a range: give one value to start from, by --set");
  snprintf(number->key, sizeof number->key, "%.60s.%.30s", part->id, key->name);
  number->measure = key->measure;
  number->value = value != NULL ? value->x[0] : derived(system, part, setting->id);
  number->assumed = value == NULL || value->assumed;
  number->low = bound(key->low, key->measure);
  number->high = bound(key->high, key->measure);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_system_number(const struct tailvolt_system *system, const char *key, struct tv_system_number *number,
                                      char *error) {
  struct tv_setting setting;
  struct tailvolt_system *again = NULL;
  if (system->stated == NULL) return refuse(error, key, "the system was not read from a file");
  enum tailvolt_status status = split(key, &setting, error);
  if (status != TAILVOLT_OK) return status;
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  struct tv_draft draft = {.faults = faults};
  status = TAILVOLT_NO_MEMORY;
  /* the defaults are in the draft once the system has been made from it */
  if (faults != NULL && tv_stated_restore(system->stated, &draft)) status = tv_draft_build(&draft, NULL, 0, &again);
  if (status == TAILVOLT_OK) status = look_up(&draft, again, &setting, key, number, error);
  tailvolt_system_free(again);
  tv_draft_free(&draft);
  free(faults);
  return status;
}

enum tailvolt_status tv_system_variant(const struct tailvolt_system *system, const struct tailvolt_setting *settings, int count,
                                       struct tailvolt_system **out, struct tailvolt_faults *faults) {
  struct tv_draft draft = {.faults = faults};
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  *out = NULL;
  faults->count = faults->dropped = 0;
  if (tv_stated_restore(system->stated, &draft)) status = tv_draft_build(&draft, settings, count, out);
  tv_draft_free(&draft);
  if (status == TAILVOLT_OK) return status;
  tailvolt_system_free(*out);
  *out = NULL;
  return status;
}

bool tv_system_number_same(const struct tv_system_number *a, const struct tv_system_number *b) { return strcmp(a->key, b->key) == 0; }
