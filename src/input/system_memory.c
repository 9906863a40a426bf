/* What a system owns: freeing and copying it; and what was stated, kept for later changes. */
#include <stdlib.h>
#include <string.h>

#include "input/assumes.h"
#include "input/system_draft.h"
#include "text/text.h"

/* The sections and values of the file and of all settings so far, nothing assumed. */
struct tailvolt_stated {
  struct tv_draft draft;
};

static void free_stated(struct tailvolt_stated *stated) {
  if (stated == NULL) return;
  tv_draft_free(&stated->draft);
  free(stated);
}

/* Copies what was stated of one part; false when out of memory. */
static bool copy_part(struct tv_draft *to, const struct tv_part *from) {
  struct tv_part *part = tv_draft_add(to, from->kind, from->name, from->line);
  if (part == NULL) return false;
  part->from_setting = from->from_setting;
  for (int key = 0; key < TV_KEY_COUNT; key++) {
    if (from->value[key] == NULL || from->value[key]->assumed) continue;
    part->value[key] = malloc(sizeof *part->value[key]);
    if (part->value[key] == NULL) {
      to->no_memory = true;
      return false;
    }
    *part->value[key] = *from->value[key];
  }
  return true;
}

static bool copy_stated(struct tv_draft *to, const struct tv_draft *from) {
  tv_copy_text(to->file, sizeof to->file, from->file);
  for (int p = 0; p < from->part_count; p++)
    if (!from->parts[p]->standard && !copy_part(to, from->parts[p])) return false;
  return true;
}

struct tailvolt_stated *tv_stated_keep(const struct tv_draft *draft) {
  struct tailvolt_stated *stated = calloc(1, sizeof *stated);
  if (stated != NULL && copy_stated(&stated->draft, draft)) return stated;
  free_stated(stated);
  return NULL;
}

bool tv_stated_restore(const struct tailvolt_stated *stated, struct tv_draft *draft) {
  return copy_stated(draft, &stated->draft);
}

bool tv_system_states(const struct tailvolt_system *system, const char *key) {
  if (system->stated == NULL) return false;
  const struct tv_draft *draft = &system->stated->draft;
  for (int p = 0; p < draft->part_count; p++) {
    const struct tv_part *part = draft->parts[p];
    size_t length = strlen(part->id);
    if (strncmp(key, part->id, length) != 0 || key[length] != '.') continue;
    for (int k = 0; k < TV_KEY_COUNT; k++)
      if (part->value[k] != NULL && strcmp(tv_key_of((enum tv_key_id)k)->name, key + length + 1) == 0) return true;
  }
  return false;
}

int tv_system_line(const struct tailvolt_system *system, const char *section, const char *key, bool *setting) {
  *setting = false;
  if (system->stated == NULL) return 0;
  const struct tv_draft *draft = &system->stated->draft;
  for (int p = 0; p < draft->part_count; p++) {
    const struct tv_part *part = draft->parts[p];
    if (strcmp(part->id, section) != 0) continue;
    *setting = part->from_setting;
    for (int k = 0; key != NULL && k < TV_KEY_COUNT; k++) {
      const struct tv_value *value = part->value[k];
      if (value == NULL || strcmp(tv_key_of((enum tv_key_id)k)->name, key) != 0) continue;
      *setting = value->from_setting;
      return *setting ? 0 : value->line;
    }
    return *setting ? 0 : part->line;
  }
  return 0;
}

void tailvolt_system_free(struct tailvolt_system *system) {
  if (system == NULL) return;
  free(system->point_names);
  free(system->batteries);
  free(system->conductors);
  free(system->capacitors);
  free(system->isolators);
  free(system->loads);
  free(system->amplifiers);
  free(system->meters);
  free(system->programmes);
  free(system->assumptions);
  free(system->measured);
  free_stated(system->stated);
  free(system);
}

/* Copies a block of `count` items of `size` bytes, with room for at least one. */
static bool copy_block(void *to, const void *from, int count, size_t size) {
  void *block = calloc((size_t)count + 1, size);
  if (block == NULL) return false;
  if (count > 0) memcpy(block, from, (size_t)count * size);
  memcpy(to, &block, sizeof block);
  return true;
}

enum tailvolt_status tailvolt_system_copy(const struct tailvolt_system *from, struct tailvolt_system **out) {
  *out = NULL;
  struct tailvolt_system *to = malloc(sizeof *to);
  if (to == NULL) return TAILVOLT_NO_MEMORY;
  *to = *from;
  const struct {
    void *to;
    const void *from;
    int count;
    size_t size;
  } blocks[] = {{&to->point_names, from->point_names, from->point_count, sizeof *from->point_names},
                {&to->batteries, from->batteries, from->battery_count, sizeof *from->batteries},
                {&to->conductors, from->conductors, from->conductor_count, sizeof *from->conductors},
                {&to->capacitors, from->capacitors, from->capacitor_count, sizeof *from->capacitors},
                {&to->isolators, from->isolators, from->isolator_count, sizeof *from->isolators},
                {&to->loads, from->loads, from->load_count, sizeof *from->loads},
                {&to->amplifiers, from->amplifiers, from->amplifier_count, sizeof *from->amplifiers},
                {&to->meters, from->meters, from->meter_count, sizeof *from->meters},
                {&to->programmes, from->programmes, from->programme_count, sizeof *from->programmes},
                {&to->assumptions, from->assumptions, from->assumption_count, sizeof *from->assumptions},
                {&to->measured, from->measured, from->measured_count, sizeof *from->measured}};
  void *const nothing = NULL;
  to->stated = NULL;
  for (size_t k = 0; k < sizeof blocks / sizeof blocks[0]; k++) memcpy(blocks[k].to, &nothing, sizeof nothing);
  bool done = true;
  for (size_t k = 0; k < sizeof blocks / sizeof blocks[0] && done; k++)
    done = copy_block(blocks[k].to, blocks[k].from, blocks[k].count, blocks[k].size);
  if (done && from->stated != NULL) done = (to->stated = tv_stated_keep(&from->stated->draft)) != NULL;
  if (!done) {
    tailvolt_system_free(to);
    return TAILVOLT_NO_MEMORY;
  }
  *out = to;
  return TAILVOLT_OK;
}
