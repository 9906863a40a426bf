/* The layout of the standard car while it is built: adding parts, and finding sections of the file that have no points
 * yet. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "input/standard_car.h"
#include "text/text.h"

bool tv_is_two_ended(enum tv_kind kind) {
  return kind == TV_KIND_CABLE || kind == TV_KIND_STRAP || kind == TV_KIND_FUSE || kind == TV_KIND_JOINT || kind == TV_KIND_ISOLATOR;
}

bool tv_part_is_placed(const struct tv_part *part) {
  if (tv_is_two_ended(part->kind)) return part->value[TV_K_FROM] != NULL && part->value[TV_K_TO] != NULL;
  for (int key = 0; key < TV_KEY_COUNT; key++)
    if (key != TV_K_SENSE_POINT && part->value[key] != NULL &&
        tv_key_of((enum tv_key_id)key)->form == TV_FORM_POINT)
      return true;
  return false;
}

struct tv_name tv_joined(const char *name, const char *word) {
  struct tv_name both;
  snprintf(both.text, sizeof both.text, "%.*s %s", (int)(sizeof both.text - strlen(word) - 2), name, word);
  return both;
}

bool tv_point_is_joined(const struct tv_draft *draft, const char *point) {
  for (int p = 0; p < draft->part_count; p++)
    for (int key = 0; key < TV_KEY_COUNT; key++)
      if (draft->parts[p]->value[key] != NULL && tv_key_of((enum tv_key_id)key)->form == TV_FORM_POINT &&
          strcasecmp(tv_text(draft->parts[p], (enum tv_key_id)key), point) == 0)
        return true;
  return false;
}

struct tv_part *tv_unplaced(struct tv_draft *draft, enum tv_kind kind, const char *name) {
  for (int p = 0; p < draft->part_count; p++) {
    struct tv_part *part = draft->parts[p];
    if (!part->skipped && part->kind == kind && strcasecmp(part->name, name) == 0 && !tv_part_is_placed(part))
      return part;
  }
  return NULL;
}

struct tv_role *tv_lay(struct tv_layout *layout, enum tv_kind kind, const char *name, const char *from,
                       const char *to) {
  if (layout->count == layout->room) {
    int room = layout->room == 0 ? 32 : 2 * layout->room;
    struct tv_role *roles = realloc(layout->role, (size_t)room * sizeof *roles);
    if (roles == NULL) {
      layout->draft->no_memory = true;
      return NULL;
    }
    layout->role = roles;
    layout->room = room;
  }
  struct tv_role *role = &layout->role[layout->count++];
  *role = (struct tv_role){.kind = kind};
  tv_copy_text(role->name, sizeof role->name, name);
  tv_copy_text(role->from, sizeof role->from, from);
  tv_copy_text(role->to, sizeof role->to, to);
  return role;
}

void tv_lay_joint(struct tv_layout *layout, const char *name, const char *from, const char *to) {
  struct tv_role *role = tv_lay(layout, TV_KIND_JOINT, name, from, to);
  if (role != NULL) role->resistance = "0.3 mohm";
}
