/* The standard car: the wiring of a file that says nothing about it.
 *
 * alternator - charge lead - battery - main fuse - feed - amplifier - ground lead - body stud - body shell - battery
 * negative lead, and the engine strap from engine block to body. A battery in the boot has a long lead from under
 * the bonnet. Every value here is common practice for a small car and is listed as assumed; every part has a name,
 * so a section or setting can replace it, and every point has one, so others can be added. */
#include "input/standard_car.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "input/faults.h"
#include "text/text.h"

/* The part of the file whose points make the wiring the file's own: a battery, source or amplifier; NULL = none.
 * Points given by a setting are additions. */
static const struct tv_part *names_points(struct tv_draft *draft) {
  static const unsigned kinds = 1u << TV_KIND_BATTERY | 1u << TV_KIND_ALTERNATOR | 1u << TV_KIND_CONVERTER |
                                1u << TV_KIND_AMPLIFIER;
  for (int p = 0; p < draft->part_count; p++) {
    const struct tv_part *part = draft->parts[p];
    if ((kinds & 1u << part->kind) == 0) continue;
    for (int key = 0; key < TV_KEY_COUNT; key++) {
      const struct tv_value *value = part->value[key];
      if (value != NULL && !value->from_setting && key != TV_K_SENSE_POINT &&
          tv_key_of((enum tv_key_id)key)->form == TV_FORM_POINT)
        return part;
    }
  }
  return NULL;
}

static struct tv_role *lay_cable(struct tv_layout *layout, const char *name, const char *from, const char *to,
                                 const char *size, const char *length) {
  struct tv_role *role = tv_lay(layout, TV_KIND_CABLE, name, from, to);
  if (role == NULL) return NULL;
  role->size = size;
  role->length = length;
  return role;
}

/* From the alternator or converter to the battery, or to the post under the bonnet. */
static void lay_charge_lead(struct tv_layout *layout, bool converter) {
  tv_lay_joint(layout, converter ? "charge lead at converter" : "charge lead at alternator",
               layout->source_post, "charge lead start");
  struct tv_role *lead = lay_cable(layout, "charge lead", "charge lead start", "charge lead end", "25 mm2", "1 m");
  if (lead != NULL) {
    lead->place = "engine bay";
    lead->judged_as = "charge lead";
  }
  bool front = strcmp(layout->front_post, layout->battery_post) != 0;
  tv_lay_joint(layout, front ? "charge lead at front post" : "charge lead at battery", "charge lead end",
               layout->front_post);
}

/* Makers run about 50 mm2 from a battery in the boot to the starter (common practice). A hybrid has no starter on its 12 V side: there
 * the same lead brings the converter's current. */
static void lay_long_lead(struct tv_layout *layout, int place, bool starts) {
  const char *name = starts ? "starter lead" : "positive lead";
  struct tv_name start = tv_joined(name, "start"), end = tv_joined(name, "end");
  tv_lay_joint(layout, tv_joined(name, "at front post").text, layout->front_post, start.text);
  struct tv_role *lead = lay_cable(layout, name, start.text, end.text, "50 mm2",
                                   place == TAILVOLT_CABIN ? "2.5 m" : place == TAILVOLT_BED ? "4 m" : "4.5 m");
  if (lead != NULL) lead->judged_as = starts ? "starter lead" : "charge lead";
  tv_lay_joint(layout, tv_joined(name, "at battery").text, end.text, layout->battery_post);
}

static void lay_body(struct tv_layout *layout, bool front) {
  tv_lay_joint(layout, "body stud", "body stud", "body shell rear");
  struct tv_role *shell = tv_lay(layout, TV_KIND_JOINT, "body shell", "body shell rear", "body");
  if (shell != NULL) {
    shell->resistance = "1 mohm";
    shell->judged_as = "body";
  }
  tv_lay_joint(layout, "negative lead at body", front ? "body" : "body shell rear", "negative lead start");
  lay_cable(layout, "negative lead", "negative lead start", "negative lead end", "25 mm2", front ? "1 m" : "0.5 m");
  tv_lay_joint(layout, "negative lead at battery", "negative lead end", "ground");
}

static void lay_strap(struct tv_layout *layout) {
  tv_lay_joint(layout, "strap at engine", "engine block", "strap start");
  struct tv_role *strap = tv_lay(layout, TV_KIND_STRAP, "engine", "strap start", "strap end");
  if (strap != NULL) {
    strap->size = "25 mm2";
    strap->length = "0.5 m";
    strap->place = "engine bay";
    strap->takes_any = true;
  }
  tv_lay_joint(layout, "strap at body", "strap end", "body");
}

static bool is_called(const struct tv_role *role, const struct tv_part *part) {
  return part->kind == role->kind && (strcasecmp(role->name, part->name) == 0 ||
                                      (role->other != NULL && strcasecmp(role->other, part->name) == 0));
}

/* The user's section for a role: by its name, else the only one of its kind that has no other role. */
static struct tv_part *find_part(const struct tv_layout *layout, const struct tv_role *role) {
  struct tv_part *free_one = NULL;
  int free_count = 0;
  for (int p = 0; p < layout->draft->part_count; p++) {
    struct tv_part *part = layout->draft->parts[p];
    if (part->skipped || part->kind != role->kind || tv_part_is_placed(part)) continue;
    if (is_called(role, part)) return part;
    bool called = false;
    for (int r = 0; r < layout->count && !called; r++) called = is_called(&layout->role[r], part);
    if (called) continue;
    free_one = part;
    free_count++;
  }
  return role->takes_any && free_count == 1 ? free_one : NULL;
}

static bool is_sized(const struct tv_part *part) {
  return tv_has(part, TV_K_SIZE) || tv_has(part, TV_K_STRANDS) || tv_has(part, TV_K_CONDUCTOR_DIAMETER) ||
         tv_has(part, TV_K_PER_METRE);
}

/* True where the file holds a part of this name with points of its own: it replaces the standard one. */
static bool replaced_elsewhere(const struct tv_layout *layout, const struct tv_role *role) {
  for (int p = 0; p < layout->draft->part_count; p++) {
    const struct tv_part *part = layout->draft->parts[p];
    if (!part->skipped && !part->standard && is_called(role, part)) return true;
  }
  return false;
}

/* Whether a role ends at a point, once the file's part that takes it has moved its ends. */
static bool role_joins(const struct tv_layout *layout, const struct tv_role *role, const char *point) {
  const struct tv_part *part = find_part(layout, role);
  if (role->moved != NULL || (part == NULL && replaced_elsewhere(layout, role))) return false;
  return (strcasecmp(role->from, point) == 0 && !tv_has(part, TV_K_FROM)) || (strcasecmp(role->to, point) == 0 && !tv_has(part, TV_K_TO));
}

/* Where a battery, source or load has its place. */
static bool is_post(const struct tv_layout *layout, const char *point) {
  const char *const posts[] = {layout->source_post, layout->front_post, layout->battery_post, layout->negative_post, "body", "ground"};
  for (size_t k = 0; k < sizeof posts / sizeof posts[0]; k++)
    if (strcasecmp(point, posts[k]) == 0) return true;
  return false;
}

/* The role that should join a point of the layout besides `role`; NULL where one does, or none should. */
static const struct tv_role *missing_at(const struct tv_layout *layout, const struct tv_role *role, const char *point) {
  const struct tv_role *missing = NULL;
  if (is_post(layout, point)) return NULL;
  for (int r = 0; r < layout->count; r++) {
    const struct tv_role *other = &layout->role[r];
    if (other == role || (strcasecmp(other->from, point) != 0 && strcasecmp(other->to, point) != 0)) continue;
    if (role_joins(layout, other, point)) return NULL;
    missing = other;
  }
  return missing == NULL || tv_point_is_joined(layout->draft, point) ? NULL : missing;
}

/* Where the file lets a lead begin elsewhere, the fuse or relay before it leads nowhere, and what is before that: they are not laid where
 * they were only assumed, and refused where the file has them. Other joints may end blind: a body stud that nothing is bolted to. */
static void drop_dead_ends(struct tv_layout *layout) {
  for (int r = 0; r < layout->count; r++) {
    struct tv_role *role = &layout->role[r];
    if ((role->kind != TV_KIND_FUSE && role->kind != TV_KIND_JOINT && role->kind != TV_KIND_ISOLATOR) || role->moved != NULL) continue;
    struct tv_part *part = find_part(layout, role);
    if (part == NULL ? replaced_elsewhere(layout, role) : tv_has(part, TV_K_FROM) || tv_has(part, TV_K_TO)) continue;
    const struct tv_role *at_from = missing_at(layout, role, role->from);
    const struct tv_role *missing = at_from != NULL ? at_from : missing_at(layout, role, role->to);
    if (missing == NULL || (role->kind == TV_KIND_JOINT && missing->moved == NULL)) continue;
    role->moved = missing->moved != NULL ? missing->moved : missing;
    if (part != NULL) {
      const struct tv_part *moved = find_part(layout, role->moved);
      tv_part_fault(layout->draft, part, TV_K_FROM,
                    "[%s] leads nowhere: nothing else joins '%s'; give it 'from' and 'to', or leave those of [%s] out", part->id,
                    at_from != NULL ? role->from : role->to, moved != NULL ? moved->id : role->moved->name);
      part->skipped = layout->draft->layout_broken = true;
    }
    r = -1;
  }
}

static enum tv_key_id first_point(enum tv_kind kind) {
  return kind == TV_KIND_BATTERY     ? TV_K_BAT_POSITIVE
         : kind == TV_KIND_CAPACITOR ? TV_K_CAP_POSITIVE
         : kind == TV_KIND_METER     ? TV_K_METER_POSITIVE
                                     : TV_K_FROM;
}

/* A fuse named after a further battery alone would become the one before the amplifiers, when a fitter means the one before the link to
 * that battery. While that one is not in the file it must be said which is meant. */
static void refuse_mistaken_fuses(struct tv_layout *layout) {
  struct tv_draft *draft = layout->draft;
  for (int r = 0; r < layout->count; r++) {
    const struct tv_role *role = &layout->role[r];
    struct tv_part *part = role->kind == TV_KIND_FUSE && role->takes_any ? find_part(layout, role) : NULL;
    if (part == NULL || part->name[0] == '\0' || is_called(role, part)) continue;
    struct tv_name link = tv_joined(part->name, "feed");
    for (int l = 0; l < layout->count && !part->skipped; l++) {
      const struct tv_role *other = &layout->role[l];
      if (other->kind != TV_KIND_FUSE || strcasecmp(other->name, link.text) != 0 || find_part(layout, other) != NULL ||
          replaced_elsewhere(layout, other) || tv_draft_find(draft, TV_KIND_BATTERY, part->name) == NULL)
        continue;
      tv_part_fault(draft, part, first_point(part->kind),
                    "[%s] may be meant for the cable to [battery %s] or for the one to the amplifiers; call it [fuse %s] or [fuse %s]",
                    part->id, part->name, other->name, role->name);
      part->skipped = draft->layout_broken = true;
    }
  }
}

static void fill_role(struct tv_layout *layout, struct tv_role *role) {
  struct tv_draft *draft = layout->draft;
  if (role->moved != NULL) return;
  struct tv_part *part = find_part(layout, role);
  if (part == NULL) {
    if (replaced_elsewhere(layout, role)) return;
    part = tv_draft_add(draft, role->kind, role->name, 0);
    if (part == NULL) return;
    part->standard = true;
  }
  role->part = part;
  tv_assume(draft, part, TV_K_FROM, role->from, false);
  tv_assume(draft, part, TV_K_TO, role->to, false);
  if (role->judged_as != NULL) tv_assume(draft, part, TV_K_ROLE, role->judged_as, false);
  if (role->size != NULL && !is_sized(part)) tv_assume(draft, part, TV_K_SIZE, role->size, true);
  if (role->length != NULL) tv_assume(draft, part, TV_K_LENGTH, role->length, true);
  if (role->place != NULL) tv_assume(draft, part, TV_K_PLACE, role->place, true);
  if (role->resistance != NULL && !tv_has(part, TV_K_MEASURED_DROP))
    tv_assume(draft, part, TV_K_RESISTANCE, role->resistance, true);
}

/* Points of one part that the file did not place. */
static void place_terminals(struct tv_draft *draft, struct tv_part *part, enum tv_key_id positive,
                            const char *plus, enum tv_key_id negative, const char *minus) {
  if (tv_has(part, positive) != tv_has(part, negative)) return;
  tv_assume(draft, part, positive, plus, false);
  tv_assume(draft, part, negative, minus, false);
}

/* Where a capacitor or meter goes if it does not say: at the amplifier of its name, else at the only one, else
 * where the leads split. */
static void place_at_amplifier(struct tv_layout *layout, struct tv_part *part, enum tv_key_id positive,
                               enum tv_key_id negative) {
  struct tv_draft *draft = layout->draft;
  const struct tv_part *at = tv_draft_find(draft, TV_KIND_AMPLIFIER, part->name);
  if (at == NULL && !layout->own_leads) at = tv_draft_find(draft, TV_KIND_AMPLIFIER, NULL);
  if (at != NULL && tv_has(at, TV_K_AMP_POSITIVE) && tv_has(at, TV_K_AMP_NEGATIVE)) {
    place_terminals(draft, part, positive, tv_text(at, TV_K_AMP_POSITIVE), negative,
                    tv_text(at, TV_K_AMP_NEGATIVE));
    return;
  }
  bool block = false;
  for (int r = 0; r < layout->count; r++) block = block || strcmp(layout->role[r].to, "block") == 0;
  if (block)
    place_terminals(draft, part, positive, "block", negative, layout->ground_block ? "ground block" : "body stud");
}

static void place_others(struct tv_layout *layout) {
  struct tv_draft *draft = layout->draft;
  for (int p = 0; p < draft->part_count; p++) {
    struct tv_part *part = draft->parts[p];
    if (part->skipped) continue;
    switch (part->kind) {
    case TV_KIND_BATTERY:
      if (part == draft->starter)
        place_terminals(draft, part, TV_K_BAT_POSITIVE, layout->battery_post, TV_K_BAT_NEGATIVE, "ground");
      break;
    case TV_KIND_ALTERNATOR:
      place_terminals(draft, part, TV_K_ALT_POSITIVE, layout->source_post, TV_K_ALT_NEGATIVE,
                      layout->negative_post);
      break;
    case TV_KIND_CONVERTER:
      place_terminals(draft, part, TV_K_CONV_POSITIVE, layout->source_post, TV_K_CONV_NEGATIVE,
                      layout->negative_post);
      break;
    case TV_KIND_LOAD:
      place_terminals(draft, part, TV_K_LOAD_POSITIVE, layout->front_post, TV_K_LOAD_NEGATIVE, "body");
      break;
    case TV_KIND_AMPLIFIER:
      place_terminals(draft, part, TV_K_AMP_POSITIVE, "amplifier plus", TV_K_AMP_NEGATIVE, "amplifier minus");
      break;
    default:
      break;
    }
  }
  /* after the amplifiers have their points */
  for (int p = 0; p < draft->part_count; p++) {
    struct tv_part *part = draft->parts[p];
    if (part->skipped) continue;
    if (part->kind == TV_KIND_CAPACITOR) place_at_amplifier(layout, part, TV_K_CAP_POSITIVE, TV_K_CAP_NEGATIVE);
    if (part->kind == TV_KIND_METER) place_at_amplifier(layout, part, TV_K_METER_POSITIVE, TV_K_METER_NEGATIVE);
  }
}

/* A file of the standard car must name the parts it is about. */
static void require_sections(struct tv_draft *draft, bool alternator) {
  static const struct {
    enum tv_kind kind;
    const char *key, *example;
  } needed[] = {{TV_KIND_BATTERY, "capacity", "capacity = 70 Ah"},
                {TV_KIND_ALTERNATOR, "rated current", "rated current = 110 A"},
                {TV_KIND_AMPLIFIER, "rated power", "rated power = 800 W"}};
  for (size_t k = 0; k < sizeof needed / sizeof needed[0]; k++) {
    if (tv_draft_find(draft, needed[k].kind, NULL) != NULL || (draft->misspelt & 1u << needed[k].kind) != 0)
      continue;
    if (needed[k].kind == TV_KIND_ALTERNATOR && !alternator) continue;
    draft->layout_broken = true;
    struct tv_place place = {draft, draft->file, 0, tv_kind_word(needed[k].kind), needed[k].key, NULL, 0};
    tv_place_fault(&place, "[%s] is missing; write for example '%s' in it%s", tv_kind_word(needed[k].kind),
                   needed[k].example,
                   needed[k].kind == TV_KIND_ALTERNATOR ? ", or 'charging = none' in [vehicle]" : "");
  }
}

/* The layout name that a part without a place may have meant, NULL = none near. */
static const char *nearest_role(const struct tv_layout *layout, const struct tv_part *part) {
  const char *names[128];
  size_t count = 0;
  for (int r = 0; r < layout->count && count < sizeof names / sizeof names[0]; r++)
    if (layout->role[r].kind == part->kind) names[count++] = layout->role[r].name;
  return tv_nearest_word(part->name, names, count);
}

/* Parts that the standard car does not have need a place. */
static void refuse_unplaced(struct tv_layout *layout) {
  struct tv_draft *draft = layout->draft;
  if (draft->starter == NULL && tv_draft_find(draft, TV_KIND_BATTERY, NULL) != NULL) {
    draft->layout_broken = true; /* reported already: without it nothing leads to the others */
    return;
  }
  for (int p = 0; p < draft->part_count; p++) {
    struct tv_part *part = draft->parts[p];
    if (part->skipped || tv_part_is_placed(part)) continue;
    bool two_ended = tv_is_two_ended(part->kind);
    bool at_amplifier = part->kind == TV_KIND_CAPACITOR || part->kind == TV_KIND_METER;
    if (!two_ended && !at_amplifier && part->kind != TV_KIND_BATTERY) continue;
    const char *near = nearest_role(layout, part);
    tv_part_fault(draft, part, first_point(part->kind),
                  "[%s] has no place in the standard car; give %s%s%s%s", part->id,
                  two_ended ? "'from' and 'to'" : "'positive' and 'negative'",
                  near != NULL                      ? ", or did you mean '"
                  : part->kind == TV_KIND_JOINT ? ", or call it as a joint of that car: '"
                                                    : "",
                  near != NULL                  ? near
                  : part->kind == TV_KIND_JOINT ? "body stud', 'body shell', 'feed at battery', 'feed at amplifier"
                                                    : "",
                  near != NULL ? "'?" : part->kind == TV_KIND_JOINT ? "' ..." : "");
    part->skipped = true;
    draft->layout_broken = true;
  }
}

/* The car's own parts in layout order, whoever wrote them, after all others: so stating a value as it would have
 * been assumed changes no bit of a run. */
static void put_in_order(struct tv_layout *layout) {
  struct tv_draft *draft = layout->draft;
  struct tv_part **parts = calloc((size_t)draft->part_room + 1, sizeof(struct tv_part *));
  if (parts == NULL) {
    draft->no_memory = true;
    return;
  }
  int count = 0;
  for (int p = 0; p < draft->part_count; p++) {
    bool has_role = false;
    for (int r = 0; r < layout->count && !has_role; r++) has_role = layout->role[r].part == draft->parts[p];
    if (!has_role) parts[count++] = draft->parts[p];
  }
  for (int r = 0; r < layout->count; r++)
    if (layout->role[r].part != NULL) parts[count++] = layout->role[r].part;
  free(draft->parts);
  draft->parts = parts;
}

static void lay_all(struct tv_layout *layout) {
  struct tv_draft *draft = layout->draft;
  const struct tv_part *vehicle = tv_draft_find(draft, TV_KIND_VEHICLE, "");
  bool converter = tv_draft_find(draft, TV_KIND_CONVERTER, "") != NULL ||
                   strcmp(tv_text(vehicle, TV_K_CHARGING), "converter") == 0;
  bool alternator = strcmp(tv_text(vehicle, TV_K_CHARGING), "none") != 0 ||
                    tv_draft_find(draft, TV_KIND_ALTERNATOR, "") != NULL;
  bool starts = !converter;
  /* a converter of its own replaces the alternator; the older form gives an alternator a fixed output */
  converter = converter && tv_draft_find(draft, TV_KIND_ALTERNATOR, "") == NULL;
  int place = tv_has(draft->starter, TV_K_PLACE) ? tv_word(draft->starter, TV_K_PLACE) : TAILVOLT_ENGINE_BAY;
  bool front = place == TAILVOLT_ENGINE_BAY || place < 0;
  layout->source_post = converter ? "converter post" : "alternator post";
  layout->negative_post = converter ? "body" : "engine block";
  layout->battery_post = "battery post";
  layout->front_post = front ? "battery post" : "front post";
  if (alternator) lay_charge_lead(layout, converter);
  if (!front) lay_long_lead(layout, place, starts);
  lay_body(layout, front);
  if (alternator && !converter) lay_strap(layout);
  tv_lay_batteries(layout);
  tv_lay_amplifiers(layout);
  if (!draft->no_memory) drop_dead_ends(layout);
  if (!draft->no_memory) refuse_mistaken_fuses(layout);
  for (int r = 0; r < layout->count && !draft->no_memory; r++) fill_role(layout, &layout->role[r]);
  require_sections(draft, alternator && !converter);
  if (!draft->no_memory) put_in_order(layout);
}

void tv_standard_car(struct tv_draft *draft) {
  const struct tv_part *vehicle = tv_draft_find(draft, TV_KIND_VEHICLE, "");
  const struct tv_part *own = names_points(draft);
  draft->standard_car = own == NULL;
  if (tv_has(vehicle, TV_K_WIRING)) draft->standard_car = tv_word(vehicle, TV_K_WIRING) == 1;
  if (!draft->standard_car) {
    if (own != NULL && !tv_has(vehicle, TV_K_WIRING))
      tv_copy_text(draft->own_wiring, sizeof draft->own_wiring, own->id);
    tv_refuse_strays(draft, false);
    return;
  }
  struct tv_layout layout = {.draft = draft};
  lay_all(&layout);
  if (!draft->no_memory) {
    tv_link_feeds(&layout);
    tv_refuse_strays(draft, true);
    place_others(&layout);
    refuse_unplaced(&layout);
  }
  free(layout.role);
}
