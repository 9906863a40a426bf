/* The standard car: the wiring of a file that names no point.
 *
 * alternator - charge lead - battery - main fuse - feed - amplifier - ground lead - body stud - body shell -
 * battery negative lead, and the engine strap from engine block to body. Every value here is common practice
 * for a small car and is listed as assumed; every part has a name, so a setting can replace any of them. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "input/system_draft.h"
#include "parts/conductor.h"
#include "parts/fuse.h"
#include "text/text.h"

struct role {
  enum tv_kind kind;
  const char *name, *other; /* other: a second name for the same part, or NULL */
  const char *from, *to;
  const char *size, *length, *place; /* of cables and straps */
  const char *resistance;            /* of joints */
  bool of_alternator;                /* left out where there is no alternator */
  const char *judged_as;             /* `role` of a conductor, or NULL */
};

static const struct role roles[] = {
    {TV_KIND_JOINT, "charge lead at alternator", NULL, "alternator post", "charge lead start", NULL, NULL,
     NULL, "0.3 mohm", true, NULL},
    {TV_KIND_CABLE, "charge lead", NULL, "charge lead start", "charge lead end", "25 mm2", "1 m",
     "engine bay", NULL, true, "charge lead"},
    {TV_KIND_JOINT, "charge lead at battery", NULL, "charge lead end", "battery post", NULL, NULL, NULL,
     "0.3 mohm", true, NULL},
    {TV_KIND_JOINT, "feed at battery", NULL, "battery post", "fuse in", NULL, NULL, NULL, "0.3 mohm", false, NULL},
    {TV_KIND_FUSE, "main", NULL, "fuse in", "fused feed", NULL, NULL, NULL, NULL, false, NULL},
    {TV_KIND_CABLE, "feed", "amplifier feed", "fused feed", "feed end", NULL, NULL, NULL, NULL, false, NULL},
    {TV_KIND_JOINT, "feed at amplifier", NULL, "feed end", "amplifier plus", NULL, NULL, NULL, "0.3 mohm",
     false, NULL},
    {TV_KIND_JOINT, "ground lead at amplifier", NULL, "amplifier minus", "ground lead start", NULL, NULL,
     NULL, "0.3 mohm", false, NULL},
    {TV_KIND_CABLE, "ground lead", "amplifier ground", "ground lead start", "body stud", NULL, "1 m", NULL,
     NULL, false, NULL},
    {TV_KIND_JOINT, "body stud", NULL, "body stud", "body shell rear", NULL, NULL, NULL, "0.3 mohm", false, NULL},
    {TV_KIND_JOINT, "body shell", NULL, "body shell rear", "body", NULL, NULL, NULL, "1 mohm", false,
     "body"},
    {TV_KIND_JOINT, "negative lead at body", NULL, "body", "negative lead start", NULL, NULL, NULL,
     "0.3 mohm", false, NULL},
    {TV_KIND_CABLE, "negative lead", NULL, "negative lead start", "negative lead end", "25 mm2", "1 m", NULL,
     NULL, false, NULL},
    {TV_KIND_JOINT, "negative lead at battery", NULL, "negative lead end", "ground", NULL, NULL, NULL,
     "0.3 mohm", false, NULL},
    {TV_KIND_JOINT, "strap at engine", NULL, "engine block", "strap start", NULL, NULL, NULL, "0.3 mohm",
     true, NULL},
    {TV_KIND_STRAP, "engine", NULL, "strap start", "strap end", "25 mm2", "0.5 m", "engine bay", NULL, true, NULL},
    {TV_KIND_JOINT, "strap at body", NULL, "strap end", "body", NULL, NULL, NULL, "0.3 mohm", true, NULL},
};
enum { ROLES = sizeof roles / sizeof roles[0] };

/* True where the user, in the file itself, says where a part lies. */
static bool names_a_point(struct tv_draft *draft) {
  const struct tv_part *vehicle = tv_draft_find(draft, TV_KIND_VEHICLE, "");
  if (tv_has(vehicle, TV_K_WIRING)) return tv_word(vehicle, TV_K_WIRING) != 1;
  for (int p = 0; p < draft->part_count; p++)
    for (int key = 0; key < TV_KEY_COUNT; key++) {
      const struct tv_value *value = draft->parts[p]->value[key];
      if (value != NULL && !value->from_setting && key != TV_K_SENSE_POINT &&
          tv_key_of((enum tv_key_id)key)->form == TV_FORM_POINT)
        return true;
    }
  return false;
}

static bool placed(const struct tv_part *part) {
  for (int key = 0; key < TV_KEY_COUNT; key++)
    if (key != TV_K_SENSE_POINT && part->value[key] != NULL &&
        tv_key_of((enum tv_key_id)key)->form == TV_FORM_POINT)
      return true;
  return false;
}

static bool has_role(const struct tv_part *part) {
  for (int r = 0; r < ROLES; r++)
    if (roles[r].kind == part->kind &&
        (strcasecmp(roles[r].name, part->name) == 0 ||
         (roles[r].other != NULL && strcasecmp(roles[r].other, part->name) == 0)))
      return true;
  return false;
}

/* The user's section for a role: by its name, else the only one of its kind that has no other role. */
static struct tv_part *find_part(struct tv_draft *draft, const struct role *role) {
  struct tv_part *found = NULL, *free_one = NULL;
  int free_count = 0;
  for (int p = 0; p < draft->part_count; p++) {
    struct tv_part *part = draft->parts[p];
    if (part->skipped || part->kind != role->kind || placed(part)) continue;
    if (strcasecmp(part->name, role->name) == 0 ||
        (role->other != NULL && strcasecmp(part->name, role->other) == 0))
      found = part;
    if (!has_role(part)) {
      free_one = part;
      free_count++;
    }
  }
  bool takes_any = role->kind == TV_KIND_FUSE || role->kind == TV_KIND_STRAP ||
                   (role->kind == TV_KIND_CABLE && strcmp(role->name, "feed") == 0);
  return found != NULL ? found : takes_any && free_count == 1 ? free_one : NULL;
}

/* The ground lead is as thick, and of the same stuff, as the feed. */
static void size_like_feed(struct tv_draft *draft, struct tv_part *lead, const struct tv_part *feed) {
  static const enum tv_key_id same[] = {TV_K_SIZE, TV_K_STRANDS, TV_K_CONDUCTOR_DIAMETER, TV_K_PER_METRE};
  bool sized = false;
  for (size_t k = 0; k < sizeof same / sizeof same[0]; k++) sized = sized || tv_has(lead, same[k]);
  for (size_t k = 0; k < sizeof same / sizeof same[0] && !sized; k++)
    if (tv_has(feed, same[k]) && !feed->value[same[k]]->bad)
      tv_assume(draft, lead, same[k], feed->value[same[k]]->raw, true);
  if (tv_has(feed, TV_K_MATERIAL) && !feed->value[TV_K_MATERIAL]->bad)
    tv_assume(draft, lead, TV_K_MATERIAL, tv_text(feed, TV_K_MATERIAL), true);
}

/* The largest standard fuse that the feed's insulation still allows, in air of 40 C (the air of the engine
 * bay's edge) or the ambient's where hotter. */
static void choose_fuse(struct tv_draft *draft, struct tv_part *fuse, const struct tv_part *feed) {
  static const struct {
    enum tailvolt_fuse_kind kind;
    const char *word;
  } kinds[] = {
      {TAILVOLT_BOLT_DOWN, "bolt-down"}, {TAILVOLT_LARGE_BLADE, "large blade"}, {TAILVOLT_BLADE, "blade"}};
  if (tv_has(fuse, TV_K_RATING)) return;
  struct tailvolt_conductor cable = {.length_m = 1.0};
  double ampacity_a = 0.0;
  if (tv_cable_section(NULL, feed, &cable)) {
    double air_c = fmax(40.0, tv_number(tv_draft_find(draft, TV_KIND_VEHICLE, ""), TV_K_AMBIENT));
    double limit_c = tv_has(feed, TV_K_INSULATION) ? tv_number(feed, TV_K_INSULATION) : 85.0;
    ampacity_a = tv_conductor_ampacity_a(&cable, limit_c, air_c);
  }
  double best_a = (double)NAN;
  const char *word = "bolt-down";
  for (size_t k = 0; k < sizeof kinds / sizeof kinds[0] && isnan(best_a); k++) {
    if (tv_has(fuse, TV_K_FUSE_KIND) && strcmp(tv_text(fuse, TV_K_FUSE_KIND), kinds[k].word) != 0) continue;
    word = kinds[k].word;
    for (double next_a = tv_fuse_standard_rating_a(kinds[k].kind, 0.5, ampacity_a); !isnan(next_a);
         next_a = tv_fuse_standard_rating_a(kinds[k].kind, next_a * 1.0001, ampacity_a))
      best_a = next_a;
  }
  char text[32];
  tv_quantity_write(text, sizeof text, isnan(best_a) ? 5.0 : best_a, TV_CURRENT, false);
  tv_assume(draft, fuse, TV_K_RATING, text, true);
  tv_assume(draft, fuse, TV_K_FUSE_KIND, word, true);
}

static struct tv_part *fill_role(struct tv_draft *draft, const struct role *role) {
  struct tv_part *part = find_part(draft, role);
  if (part == NULL) {
    part = tv_draft_add(draft, role->kind, role->name, 0);
    if (part == NULL) return NULL;
    part->standard = true;
  }
  tv_assume(draft, part, TV_K_FROM, role->from, false);
  tv_assume(draft, part, TV_K_TO, role->to, false);
  if (role->judged_as != NULL) tv_assume(draft, part, TV_K_ROLE, role->judged_as, false);
  bool sized = tv_has(part, TV_K_SIZE) || tv_has(part, TV_K_STRANDS) ||
               tv_has(part, TV_K_CONDUCTOR_DIAMETER) || tv_has(part, TV_K_PER_METRE);
  if (role->size != NULL && !sized) tv_assume(draft, part, TV_K_SIZE, role->size, true);
  if (role->length != NULL) tv_assume(draft, part, TV_K_LENGTH, role->length, true);
  if (role->place != NULL) tv_assume(draft, part, TV_K_PLACE, role->place, true);
  if (role->resistance != NULL && !tv_has(part, TV_K_MEASURED_DROP))
    tv_assume(draft, part, TV_K_RESISTANCE, role->resistance, true);
  if (role->kind == TV_KIND_FUSE) tv_assume(draft, part, TV_K_DISTANCE, "30 cm", true);
  return part;
}

/* Points of one part that the file did not place. */
static void place_terminals(struct tv_draft *draft, struct tv_part *part, enum tv_key_id positive,
                            const char *plus, enum tv_key_id negative, const char *minus) {
  if (tv_has(part, positive) != tv_has(part, negative)) return;
  tv_assume(draft, part, positive, plus, false);
  tv_assume(draft, part, negative, minus, false);
}

static void place_others(struct tv_draft *draft) {
  bool first_battery = true;
  for (int p = 0; p < draft->part_count; p++) {
    struct tv_part *part = draft->parts[p];
    if (part->skipped) continue;
    switch (part->kind) {
    case TV_KIND_BATTERY:
      if (first_battery)
        place_terminals(draft, part, TV_K_BAT_POSITIVE, "battery post", TV_K_BAT_NEGATIVE, "ground");
      first_battery = false;
      break;
    case TV_KIND_ALTERNATOR:
      place_terminals(draft, part, TV_K_ALT_POSITIVE, "alternator post", TV_K_ALT_NEGATIVE, "engine block");
      break;
    case TV_KIND_CONVERTER:
      place_terminals(draft, part, TV_K_CONV_POSITIVE, "alternator post", TV_K_CONV_NEGATIVE, "engine block");
      break;
    case TV_KIND_LOAD:
      place_terminals(draft, part, TV_K_LOAD_POSITIVE, "battery post", TV_K_LOAD_NEGATIVE, "body");
      break;
    case TV_KIND_AMPLIFIER:
      place_terminals(draft, part, TV_K_AMP_POSITIVE, "amplifier plus", TV_K_AMP_NEGATIVE, "amplifier minus");
      break;
    case TV_KIND_CAPACITOR:
      place_terminals(draft, part, TV_K_CAP_POSITIVE, "amplifier plus", TV_K_CAP_NEGATIVE, "amplifier minus");
      break;
    case TV_KIND_METER:
      place_terminals(draft, part, TV_K_METER_POSITIVE, "amplifier plus", TV_K_METER_NEGATIVE,
                      "amplifier minus");
      break;
    default:
      break;
    }
  }
}

/* A file of the standard car must name what it is about. */
static void require_sections(struct tv_draft *draft, bool alternator, const struct tv_part *feed) {
  static const struct {
    enum tv_kind kind;
    const char *key, *example;
  } needed[] = {{TV_KIND_BATTERY, "capacity", "capacity = 70 Ah"},
                {TV_KIND_ALTERNATOR, "rated current", "rated current = 110 A"},
                {TV_KIND_AMPLIFIER, "rated power", "rated power = 800 W"}};
  for (size_t k = 0; k < sizeof needed / sizeof needed[0]; k++) {
    if (tv_draft_find(draft, needed[k].kind, NULL) != NULL || (draft->misspelt & 1u << needed[k].kind) != 0)
      continue;
    if (needed[k].kind == TV_KIND_ALTERNATOR &&
        (!alternator || tv_draft_find(draft, TV_KIND_CONVERTER, "") != NULL ||
         strcmp(tv_text(tv_draft_find(draft, TV_KIND_VEHICLE, ""), TV_K_CHARGING), "converter") == 0))
      continue;
    draft->layout_broken = true;
    struct tv_place place = {draft, draft->file, 0, tv_kind_word(needed[k].kind), needed[k].key, NULL};
    tv_place_fault(&place, "[%s] is missing; write for example '%s' in it%s", tv_kind_word(needed[k].kind),
                   needed[k].example,
                   needed[k].kind == TV_KIND_ALTERNATOR ? ", or 'charging = none' in [vehicle]" : "");
  }
  if (feed->standard && (draft->misspelt & 1u << TV_KIND_CABLE) == 0) {
    draft->layout_broken = true;
    struct tv_place place = {draft, draft->file, 0, feed->id, "size", NULL};
    tv_place_fault(&place,
                   "[cable feed] is missing; write for example 'size = 4 AWG' and 'length = 5.5 m' in it");
  }
}

/* Parts that the standard car does not have need a place. */
static void refuse_unplaced(struct tv_draft *draft) {
  const char *where = "has no place in the standard car";
  bool first_battery = true;
  for (int p = 0; p < draft->part_count; p++) {
    struct tv_part *part = draft->parts[p];
    if (part->skipped || placed(part)) {
      if (part->kind == TV_KIND_BATTERY) first_battery = false;
      continue;
    }
    bool two_ended = part->kind == TV_KIND_CABLE || part->kind == TV_KIND_STRAP ||
                     part->kind == TV_KIND_FUSE || part->kind == TV_KIND_JOINT ||
                     part->kind == TV_KIND_ISOLATOR;
    bool second = part->kind == TV_KIND_BATTERY && !first_battery;
    if (part->kind == TV_KIND_BATTERY) first_battery = false;
    if (two_ended)
      tv_part_fault(draft, part, TV_K_FROM, "[%s] %s; give 'from' and 'to'", part->id, where);
    else if (second)
      tv_part_fault(draft, part, TV_K_BAT_POSITIVE, "[%s] %s, which has one battery; give its 'positive'",
                    part->id, where);
    part->skipped = two_ended || second;
    draft->layout_broken = draft->layout_broken || part->skipped;
  }
}

void tv_standard_car(struct tv_draft *draft) {
  draft->standard_car = !names_a_point(draft);
  if (!draft->standard_car) {
    tv_refuse_strays(draft, false);
    return;
  }
  struct tv_part *vehicle = tv_draft_find(draft, TV_KIND_VEHICLE, "");
  bool alternator = strcmp(tv_text(vehicle, TV_K_CHARGING), "none") != 0 ||
                    tv_draft_find(draft, TV_KIND_ALTERNATOR, "") != NULL;
  struct tv_part *feed = NULL, *lead = NULL, *fuse = NULL;
  for (int r = 0; r < ROLES && !draft->no_memory; r++) {
    if (roles[r].of_alternator && !alternator) continue;
    struct tv_part *part = fill_role(draft, &roles[r]);
    if (strcmp(roles[r].name, "feed") == 0) feed = part;
    if (strcmp(roles[r].name, "ground lead") == 0) lead = part;
    if (roles[r].kind == TV_KIND_FUSE) fuse = part;
  }
  if (draft->no_memory || feed == NULL || lead == NULL || fuse == NULL) return;
  size_like_feed(draft, lead, feed);
  choose_fuse(draft, fuse, feed);
  /* the only user part of these kinds keeps its own order; the rest of the file places nothing */
  tv_refuse_strays(draft, true);
  place_others(draft);
  refuse_unplaced(draft);
  require_sections(draft, alternator, feed);
}
