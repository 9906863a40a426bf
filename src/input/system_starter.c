/* Which battery starts the car, carries the base load and has `ground` at its negative post. */
#include <stdlib.h>
#include <string.h>

#include "input/faults.h"
#include "input/system_draft.h"

enum { BATTERIES_MAX = 64 };

struct batteries {
  const struct tv_part *part[BATTERIES_MAX];
  int count;
};

static bool is_conductor(enum tv_kind kind) {
  return kind == TV_KIND_CABLE || kind == TV_KIND_STRAP || kind == TV_KIND_FUSE || kind == TV_KIND_JOINT;
}

/* Marks in `reached` the parts whose ends the source's positive reaches through cables, straps, fuses and
 * joints alone. */
static void reach(const struct tv_draft *draft, const char *start, bool *reached) {
  for (bool changed = true; changed;) {
    changed = false;
    for (int p = 0; p < draft->part_count; p++) {
      const struct tv_part *part = draft->parts[p];
      if (reached[p] || part->skipped || !is_conductor(part->kind)) continue;
      const char *from = tv_text(part, TV_K_FROM), *to = tv_text(part, TV_K_TO);
      bool joined = strcmp(from, start) == 0 || strcmp(to, start) == 0;
      for (int k = 0; k < draft->part_count && !joined; k++) {
        if (!reached[k]) continue;
        const char *a = tv_text(draft->parts[k], TV_K_FROM), *b = tv_text(draft->parts[k], TV_K_TO);
        joined = strcmp(from, a) == 0 || strcmp(from, b) == 0 || strcmp(to, a) == 0 || strcmp(to, b) == 0;
      }
      reached[p] = joined;
      changed = changed || joined;
    }
  }
}

static bool touches(const bool *reached, const struct tv_draft *draft, const char *start, const char *post) {
  bool joined = strcmp(post, start) == 0;
  for (int p = 0; p < draft->part_count && !joined; p++)
    joined = reached[p] && (strcmp(tv_text(draft->parts[p], TV_K_FROM), post) == 0 ||
                            strcmp(tv_text(draft->parts[p], TV_K_TO), post) == 0);
  return joined;
}

/* The only battery that the alternator charges with no isolator between; NULL where there are several or
 * none. */
static const struct tv_part *charged_directly(struct tv_draft *draft, const struct batteries *all) {
  const struct tv_part *source = tv_draft_find(draft, TV_KIND_ALTERNATOR, "");
  const char *start = tv_text(source, TV_K_ALT_POSITIVE);
  if (source == NULL) {
    source = tv_draft_find(draft, TV_KIND_CONVERTER, "");
    start = tv_text(source, TV_K_CONV_POSITIVE);
  }
  if (start[0] == '\0') return NULL;
  bool *reached = calloc((size_t)draft->part_count + 1, sizeof *reached);
  if (reached == NULL) {
    draft->no_memory = true;
    return NULL;
  }
  reach(draft, start, reached);
  const struct tv_part *found = NULL;
  int count = 0;
  for (int b = 0; b < all->count; b++) {
    if (!touches(reached, draft, start, tv_text(all->part[b], TV_K_BAT_POSITIVE))) continue;
    found = all->part[b];
    count++;
  }
  free(reached);
  return count == 1 ? found : NULL;
}

/* The only battery that isolators lead from and none leads to: the others are charged from it. */
static const struct tv_part *before_isolators(struct tv_draft *draft, const struct batteries *all) {
  bool before[BATTERIES_MAX] = {false}, behind[BATTERIES_MAX] = {false};
  bool *reached = calloc((size_t)draft->part_count + 1, sizeof *reached);
  if (reached == NULL) draft->no_memory = true;
  for (int p = 0; p < draft->part_count && reached != NULL; p++) {
    if (draft->parts[p]->kind != TV_KIND_ISOLATOR || draft->parts[p]->skipped) continue;
    for (int end = 0; end < 2; end++) {
      const char *start = tv_text(draft->parts[p], end == 0 ? TV_K_FROM : TV_K_TO);
      if (start[0] == '\0') continue;
      memset(reached, 0, (size_t)draft->part_count * sizeof *reached);
      reach(draft, start, reached);
      for (int b = 0; b < all->count; b++)
        if (touches(reached, draft, start, tv_text(all->part[b], TV_K_BAT_POSITIVE)))
          *(end == 0 ? &before[b] : &behind[b]) = true;
    }
  }
  free(reached);
  const struct tv_part *found = NULL;
  int count = 0;
  for (int b = 0; b < all->count; b++) {
    if (!before[b] || behind[b]) continue;
    found = all->part[b];
    count++;
  }
  return count == 1 ? found : NULL;
}

/* The only battery with its negative at `ground`; NULL where several or none have. */
static const struct tv_part *at_ground(const struct batteries *all) {
  const struct tv_part *found = NULL;
  int count = 0;
  for (int b = 0; b < all->count; b++) {
    const char *negative = tv_text(all->part[b], TV_K_BAT_NEGATIVE);
    if (negative[0] != '\0' && strcmp(negative, "ground") != 0) continue;
    found = all->part[b];
    count++;
  }
  return count == 1 ? found : NULL;
}

static const struct tv_part *by_name(const struct batteries *all, const char *name) {
  for (int b = 0; b < all->count; b++)
    if (strcmp(all->part[b]->name, name) == 0) return all->part[b];
  return NULL;
}

/* What `starts from` and `supply from` accept: a name as in brackets; the unnamed one is `battery`. */
const struct tv_part *tv_battery_named(struct tv_draft *draft, const char *name) {
  const struct tv_part *part = tv_draft_find(draft, TV_KIND_BATTERY, name);
  return part == NULL && strcmp(name, "battery") == 0 ? tv_draft_find(draft, TV_KIND_BATTERY, "") : part;
}

void tv_no_such_battery(struct tv_draft *draft, const struct tv_part *part, enum tv_key_id key) {
  const char *names[BATTERIES_MAX];
  size_t count = 0;
  for (int p = 0; p < draft->part_count && count < BATTERIES_MAX; p++)
    if (draft->parts[p]->kind == TV_KIND_BATTERY && !draft->parts[p]->skipped)
      names[count++] = draft->parts[p]->name[0] != '\0' ? draft->parts[p]->name : "battery";
  const char *near = tv_nearest_word(tv_text(part, key), names, count);
  if (near == NULL && count == 1) near = names[0];
  tv_part_fault(draft, part, key, "no [battery %.60s]%s%s%s", tv_text(part, key),
                near == NULL ? "" : "; did you mean '", near == NULL ? "" : near, near == NULL ? "" : "'?");
}

void tv_find_starter(struct tv_draft *draft) {
  struct batteries all = {.count = 0};
  for (int p = 0; p < draft->part_count && all.count < BATTERIES_MAX; p++)
    if (draft->parts[p]->kind == TV_KIND_BATTERY && !draft->parts[p]->skipped)
      all.part[all.count++] = draft->parts[p];
  const struct tv_part *engine = tv_draft_find(draft, TV_KIND_ENGINE, "");
  draft->starter = NULL;
  if (all.count == 0) return;
  if (tv_has(engine, TV_K_STARTS_FROM)) {
    draft->starter = tv_battery_named(draft, tv_text(engine, TV_K_STARTS_FROM));
    if (draft->starter == NULL) tv_no_such_battery(draft, engine, TV_K_STARTS_FROM);
    return;
  }
  draft->starter = by_name(&all, "");
  if (draft->starter == NULL && all.count == 1) draft->starter = all.part[0];
  if (draft->starter == NULL) draft->starter = charged_directly(draft, &all);
  if (draft->starter == NULL) draft->starter = before_isolators(draft, &all);
  if (draft->starter == NULL) draft->starter = at_ground(&all);
  if (draft->starter != NULL || draft->no_memory) return;
  struct tv_place place = {draft, draft->file, engine == NULL ? 0 : engine->line, "engine", "starts from", NULL,
                           engine != NULL && engine->line > 0};
  tv_place_fault(&place, "which of %d batteries starts the engine? write for example 'starts from = %.60s' in "
                 "[engine]", all.count, all.part[0]->name);
}
