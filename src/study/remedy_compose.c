/* A choice of cures as settings on the system file, with the fuses it needs. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/quantity.h"
#include "parts/battery.h"
#include "parts/conductor.h"
#include "parts/fuse.h"
#include "text/number.h"
#include "text/text.h"
#include "text/words.h"
#include "simulate/safety.h"
#include "study/on_by_ignition.h"
#include "study/remedy.h"

void tv_settings_add(struct tv_settings *settings, enum tailvolt_cure cure, const char *section, const char *key,
                     const char *format, ...) {
  struct tv_asked asked = {.cure = cure}, *place = NULL;
  va_list arguments;
  va_start(arguments, format);
  int length = vsnprintf(asked.value, sizeof asked.value, format, arguments);
  va_end(arguments);
  settings->too_long = settings->too_long || length < 0 || (size_t)length >= sizeof asked.value;
  snprintf(asked.key, sizeof asked.key, "%s.%s", section, key);
  snprintf(asked.text, sizeof asked.text, "%s = %s", asked.key, asked.value);
  /* a later change of the same key replaces the earlier one in its place */
  for (int k = 0; k < settings->count && place == NULL; k++)
    if (strcmp(settings->asked[k].key, asked.key) == 0) place = &settings->asked[k];
  if (place != NULL) {
    asked.cure = place->cure;
  } else {
    if (settings->count == settings->room) {
      int room = 2 * settings->room + 16;
      struct tv_asked *larger = realloc(settings->asked, (size_t)room * sizeof *larger);
      if (larger == NULL) {
        settings->no_memory = true;
        return;
      }
      settings->asked = larger;
      settings->room = room;
    }
    place = &settings->asked[settings->count++];
  }
  *place = asked;
}

void tv_settings_free(struct tv_settings *settings) {
  free(settings->asked);
  *settings = (struct tv_settings){0};
}

static void add_quantity(struct tv_settings *settings, enum tailvolt_cure cure, const char *section, const char *key,
                         double value, enum tv_measure measure) {
  char text[64];
  tv_quantity_write(text, sizeof text, value, measure, false);
  tv_settings_add(settings, cure, section, key, "%s", text);
}

void tv_conductor_section(const struct tailvolt_conductor *c, char *to, size_t size) {
  tv_section_words(tv_part_of_conductor(c->kind), c->name, to, size);
}

/* The thicker of two size steps; NULL = none. */
static const struct tv_size_step *thicker(const struct tv_size_step *a, const struct tv_size_step *b) {
  if (a == NULL || b == NULL) return a != NULL ? a : b;
  return b->item->value < a->item->value ? b : a;
}

/* Applies the size to every part of a list that it improves. */
static void lay(const struct tv_plan *plan, const struct tv_part_list *list, const struct tv_size_step *size_step,
                enum tailvolt_cure cure, struct tv_settings *settings) {
  char section[TAILVOLT_NAME_MAX + 16];
  for (int k = 0; size_step != NULL && k < list->count; k++) {
    const struct tailvolt_conductor *c = &plan->system->conductors[list->part[k]];
    const struct tv_stock_item *item = tv_plan_size(plan, list, k, size_step->item);
    if (item == NULL) continue;
    tv_conductor_section(c, section, sizeof section);
    tv_settings_add(settings, cure, section, "size", "%s", item->size);
    if (tv_is_aluminium(c->material))
      tv_settings_add(settings, cure, section, "material", "copper");
  }
}

static const struct tailvolt_conductor *first_feed(const struct tv_plan *plan) {
  const struct tailvolt_conductor *found = &plan->system->conductors[plan->places.feed.part[0]];
  for (int k = 1; k < plan->places.feed.count; k++)
    if (tv_ohm_per_m(&plan->system->conductors[plan->places.feed.part[k]]) > tv_ohm_per_m(found))
      found = &plan->system->conductors[plan->places.feed.part[k]];
  return found;
}

void tv_new_part_name(const struct tailvolt_system *system, const char *wanted, char name[TAILVOLT_NAME_MAX]) {
  bool taken = true;
  for (int n = 1; taken && n < 100; n++) {
    if (n == 1)
      snprintf(name, TAILVOLT_NAME_MAX, "%.50s", wanted);
    else
      snprintf(name, TAILVOLT_NAME_MAX, "%.50s %d", wanted, n);
    taken = false;
    for (int k = 0; k < system->conductor_count; k++) taken = taken || strcmp(system->conductors[k].name, name) == 0;
    for (int k = 0; k < system->capacitor_count; k++) taken = taken || strcmp(system->capacitors[k].name, name) == 0;
    for (int k = 0; k < system->battery_count; k++) taken = taken || strcmp(system->batteries[k].name, name) == 0;
    for (int k = 0; k < system->isolator_count; k++) taken = taken || strcmp(system->isolators[k].name, name) == 0;
    for (int k = 0; k < system->point_count; k++) taken = taken || strcmp(system->point_names[k], name) == 0;
  }
}

static void new_cable(const struct tv_plan *plan, const char *section, enum tailvolt_cure cure, const char *from,
                      const char *to, const char *size, double length_m, struct tv_settings *settings) {
  const struct tailvolt_conductor *like = first_feed(plan);
  tv_settings_add(settings, cure, section, "from", "%s", from);
  tv_settings_add(settings, cure, section, "to", "%s", to);
  tv_settings_add(settings, cure, section, "size", "%s", size);
  add_quantity(settings, cure, section, "length", length_m, TV_LENGTH);
  add_quantity(settings, cure, section, "insulation", like->insulation_limit_c, TV_TEMPERATURE);
}

void tv_new_fuse(const char *section, enum tailvolt_cure cure, const char *from, const char *to, double distance_m,
                     struct tv_settings *settings) {
  tv_settings_add(settings, cure, section, "from", "%s", from);
  tv_settings_add(settings, cure, section, "to", "%s", to);
  tv_settings_add(settings, cure, section, "rating", "30 A");
  tv_settings_add(settings, cure, section, "kind", "bolt-down");
  add_quantity(settings, cure, section, "distance", distance_m, TV_LENGTH);
}

/* A single cable as sold; text about what was measured or counted is none. */
static bool is_sold_size(const char *size) {
  int awg;
  double area_m2;
  return tv_gauge_read(size, &awg) || tv_quantity_read(size, strlen(size), TV_AREA, &area_m2) == TV_QUANTITY_OK;
}

/* What is on offer as thick as a conductor, else the thickest. */
static const char *size_like(const struct tv_plan *plan, const struct tailvolt_conductor *c) {
  const struct tv_stock_item *found = NULL;
  if (is_sold_size(c->size)) return c->size;
  for (int k = 0; k < plan->catalogue->count; k++) {
    const struct tv_stock_item *item = &plan->catalogue->item[k];
    if (item->stock != TV_STOCK_CABLE || item->metric != tv_size_is_metric(c->size)) continue;
    bool enough = item->value <= 1.001 * tv_ohm_per_m(c), found_enough = found != NULL && found->value <= 1.001 * tv_ohm_per_m(c);
    if (found == NULL || (enough && !found_enough) || (enough == found_enough && (item->value > found->value) == enough)) found = item;
  }
  return found != NULL ? found->size : c->size;
}

/* The size that a conductor of the feed has with a choice. */
static const char *feed_size(const struct tv_plan *plan, int conductor, const struct tv_size_step *feed) {
  const struct tv_part_list *list = &plan->places.feed;
  for (int k = 0; k < list->count && feed != NULL; k++) {
    const struct tv_stock_item *item = list->part[k] == conductor ? tv_plan_size(plan, list, k, feed->item) : NULL;
    if (item != NULL) return item->size;
  }
  return size_like(plan, &plan->system->conductors[conductor]);
}

/* What a converter charges an AGM battery with (makers' data sheets, common practice). */
static const double CHARGER_V = 14.4;
/* Of a second battery's leads (common practice: beside the amplifiers, ground to the body there). */
static const double SECOND_LEAD_M = 0.5;

/* The points of the worst amplifier's feed, by name. */
struct tv_joins {
  char feed[TAILVOLT_NAME_MAX + 16];  /* section of its first cable; empty = none */
  const char *size;                   /* of it */
  const char *near;                   /* the key of its end towards the battery: "from" or "to" */
  char relay_at[TAILVOLT_NAME_MAX];   /* ... and the point there */
  char second_at[TAILVOLT_NAME_MAX];  /* where a second battery joins */
  char plus[TAILVOLT_NAME_MAX];       /* of the amplifier */
};

static void find_joins(const struct tv_plan *plan, const struct tv_size_step *feed, struct tv_joins *joins) {
  const struct tv_places *places = &plan->places;
  const struct tailvolt_system *system = plan->system;
  if (plan->worst_amplifier < 0) return;
  tv_copy_text(joins->plus, sizeof joins->plus, system->point_names[system->amplifiers[plan->worst_amplifier].positive]);
  if (places->feed_cable < 0) return;
  const struct tailvolt_conductor *cable = &system->conductors[places->feed_cable];
  tv_conductor_section(cable, joins->feed, sizeof joins->feed);
  tv_copy_text(joins->relay_at, sizeof joins->relay_at, system->point_names[places->relay_at]);
  joins->size = feed_size(plan, places->feed_cable, feed);
  joins->near = cable->from == places->relay_at ? "from" : "to";
  tv_copy_text(joins->second_at, sizeof joins->second_at, system->point_names[places->second_at]);
}

static void amplifier_section(const struct tailvolt_amplifier *a, char *to, size_t size) {
  tv_section_words(TAILVOLT_PART_AMPLIFIER, a->name, to, size);
}

/* An own feed: battery post - fuse - cable - the amplifier's new plus. Where a relay in it goes, and that plus, are handed on. */
static void give_own_feed(const struct tv_plan *plan, const struct tv_size_step *size_step, struct tv_settings *settings,
                          struct tv_joins *joins) {
  const struct tailvolt_system *system = plan->system;
  const struct tailvolt_amplifier *a = &system->amplifiers[plan->worst_amplifier];
  const char *post = system->point_names[system->batteries[tv_start_battery(system)].positive];
  char name[TAILVOLT_NAME_MAX], wanted[TAILVOLT_NAME_MAX], section[TAILVOLT_NAME_MAX + 16];
  snprintf(wanted, sizeof wanted, "%.40s feed", a->name);
  tv_new_part_name(system, wanted, name);
  snprintf(joins->relay_at, TAILVOLT_NAME_MAX, "%.48s start", name);
  snprintf(joins->plus, TAILVOLT_NAME_MAX, "%.48s end", name);
  memcpy(joins->second_at, joins->plus, TAILVOLT_NAME_MAX);
  joins->near = "from";
  joins->size = size_step->item->size;
  tv_section_words(TAILVOLT_PART_FUSE, name, section, sizeof section);
  tv_new_fuse(section, TAILVOLT_CURE_OWN_FEED, post, joins->relay_at, TV_FUSE_DISTANCE_M, settings);
  tv_section_words(TAILVOLT_PART_CABLE, name, joins->feed, sizeof joins->feed);
  new_cable(plan, joins->feed, TAILVOLT_CURE_OWN_FEED, joins->relay_at, joins->plus, size_step->item->size, plan->places.feed_m,
            settings);
  amplifier_section(a, section, sizeof section);
  tv_settings_add(settings, TAILVOLT_CURE_OWN_FEED, section, "positive", "%s", joins->plus);
  tv_settings_add(settings, TAILVOLT_CURE_OWN_FEED, section, "negative", "%s", system->point_names[a->negative]);
}

/* A relay or converter before the feed's first cable, and the battery through its own fuse where that leads: a cable between two
 * batteries is fused at both ends. Its own leads are as thick as that cable. */
static void give_second_battery(const struct tv_plan *plan, const struct tv_size_step *size_step, const struct tv_joins *joins,
                                struct tv_settings *settings) {
  const enum tailvolt_cure cure = TAILVOLT_CURE_SECOND_BATTERY;
  const struct tailvolt_system *system = plan->system;
  const struct tailvolt_battery *first = &system->batteries[tv_start_battery(system)];
  char name[TAILVOLT_NAME_MAX], section[TAILVOLT_NAME_MAX + 16], behind[TAILVOLT_NAME_MAX], post[TAILVOLT_NAME_MAX],
      minus[TAILVOLT_NAME_MAX], ground[TAILVOLT_NAME_MAX], lead[TAILVOLT_NAME_MAX], fused[TAILVOLT_NAME_MAX];
  tv_new_part_name(system, "second", name);
  snprintf(behind, sizeof behind, "%.48s %s", name, size_step->converter != NULL ? "converter" : "relay");
  snprintf(post, sizeof post, "%.48s post", name);
  snprintf(minus, sizeof minus, "%.48s minus", name);
  snprintf(ground, sizeof ground, "%.48s ground", name);
  snprintf(lead, sizeof lead, "%.48s lead", name);
  snprintf(fused, sizeof fused, "%.48s fused", name);
  tv_settings_add(settings, cure, joins->feed, joins->near, "%s", behind);
  tv_section_words(TAILVOLT_PART_ISOLATOR, name, section, sizeof section);
  tv_settings_add(settings, cure, section, "from", "%s", joins->relay_at);
  tv_settings_add(settings, cure, section, "to", "%s", behind);
  if (size_step->converter != NULL) {
    tv_settings_add(settings, cure, section, "kind", "converter");
    tv_settings_add(settings, cure, section, "output", "%s at %s V", size_step->converter->size, tv_compact(CHARGER_V, 2).text);
    tv_settings_add(settings, cure, section, "rating", "%s", size_step->converter->size);
  } else {
    tv_settings_add(settings, cure, section, "kind", "relay");
    tv_settings_add(settings, cure, section, "rating", "200 A");
  }
  if (plan->by_engine) tv_settings_add(settings, cure, section, "sense", "engine");
  tv_section_words(TAILVOLT_PART_BATTERY, name, section, sizeof section);
  tv_settings_add(settings, cure, section, "positive", "%s", post);
  tv_settings_add(settings, cure, section, "negative", "%s", minus);
  tv_settings_add(settings, cure, section, "kind", "AGM");
  tv_settings_add(settings, cure, section, "capacity", "%s", size_step->item->size);
  if (isfinite(size_step->item->cold_cranking_a))
    tv_settings_add(settings, cure, section, "cold cranking", "%s A EN", tv_compact(size_step->item->cold_cranking_a, 0).text);
  tv_settings_add(settings, cure, section, "health", "100 %%");
  if (isfinite(first->soc_frac))
    tv_settings_add(settings, cure, section, "state of charge", "%s %%", tv_compact(100.0 * first->soc_frac, 1).text);
  tv_section_words(TAILVOLT_PART_FUSE, name, section, sizeof section);
  tv_new_fuse(section, cure, post, fused, 0.2, settings);
  tv_section_words(TAILVOLT_PART_CABLE, lead, section, sizeof section);
  new_cable(plan, section, cure, fused, joins->second_at, joins->size, SECOND_LEAD_M, settings);
  tv_section_words(TAILVOLT_PART_CABLE, ground, section, sizeof section);
  new_cable(plan, section, cure, minus, system->point_names[plan->places.second_ground], joins->size, SECOND_LEAD_M, settings);
}

static void give_capacitor(const struct tv_plan *plan, const struct tv_size_step *size_step, const char *plus,
                           struct tv_settings *settings) {
  const enum tailvolt_cure cure = TAILVOLT_CURE_CAPACITOR;
  const struct tailvolt_system *system = plan->system;
  char name[TAILVOLT_NAME_MAX], section[TAILVOLT_NAME_MAX + 16];
  tv_new_part_name(system, "stiffener", name);
  tv_section_words(TAILVOLT_PART_CAPACITOR, name, section, sizeof section);
  tv_settings_add(settings, cure, section, "positive", "%s", plus);
  tv_settings_add(settings, cure, section, "negative", "%s",
                  system->point_names[system->amplifiers[plan->worst_amplifier].negative]);
  tv_settings_add(settings, cure, section, "capacitance", "%s", size_step->item->size);
  if (isfinite(size_step->item->esr_ohm)) add_quantity(settings, cure, section, "esr", size_step->item->esr_ohm, TV_RESISTANCE);
}

/* A new battery in place of the first. What was stated about the old one's circuit scales with charge. */
static void give_battery(const struct tv_plan *plan, const struct tv_size_step *size_step, struct tv_settings *settings) {
  const enum tailvolt_cure cure = TAILVOLT_CURE_BATTERY;
  const struct tailvolt_battery *old = &plan->system->batteries[plan->places.battery];
  char section[TAILVOLT_NAME_MAX + 16];
  double ratio = size_step->item->value / old->capacity_ah;
  tv_section_words(TAILVOLT_PART_BATTERY, old->name, section, sizeof section);
  tv_settings_add(settings, cure, section, "capacity", "%s", size_step->item->size);
  if (isfinite(old->resistance_ohm)) {
    add_quantity(settings, cure, section, "resistance", old->resistance_ohm / ratio, TV_RESISTANCE);
  } else {
    /* never less than the old one per ampere-hour: another make may crank better */
    double scaled_a = old->cold_cranking_a * ratio;
    double stock_a = old->cold_cranking_standard == TAILVOLT_EN ? size_step->item->cold_cranking_a : (double)NAN;
    tv_settings_add(settings, cure, section, "cold cranking", "%s A %s", tv_fixed(fmax(scaled_a, stock_a), 0).text,
                    tv_cranking_word(old->cold_cranking_standard));
    double reserve_min = tv_battery_reserve_scaled_min(old, size_step->item->value);
    if (isfinite(reserve_min)) add_quantity(settings, cure, section, "reserve", reserve_min, TV_MINUTES);
    tv_settings_add(settings, cure, section, "cranking health", "100 %%");
  }
  tv_settings_add(settings, cure, section, "health", "100 %%");
  char branches[TAILVOLT_TEXT_MAX] = "";
  size_t used = 0;
  for (int k = 0; k < old->polarization_count; k++) {
    char ohm[40], seconds[40];
    tv_quantity_write(ohm, sizeof ohm, old->polarization_ohm[k] / ratio, TV_RESISTANCE, false);
    tv_quantity_write(seconds, sizeof seconds, old->polarization_s[k], TV_TIME, false);
    int wrote = snprintf(branches + used, sizeof branches - used, "%s%s, %s", k > 0 ? ", " : "", ohm, seconds);
    if (wrote > 0) used += (size_t)wrote;
  }
  if (used > 0) tv_settings_add(settings, cure, section, "polarization", "%s", branches);
}

/* The same machine, larger: its whole curve scales. */
static void give_alternator(const struct tv_plan *plan, const struct tv_size_step *size_step, const struct tv_size_step *straps,
                            struct tv_settings *settings) {
  const enum tailvolt_cure cure = TAILVOLT_CURE_ALTERNATOR;
  char section[TAILVOLT_NAME_MAX + 16];
  for (int k = 0; k < plan->places.strap.count; k++) {
    const struct tv_stock_item *lead = tv_plan_lead(plan, plan->places.strap.part[k], size_step->item->value);
    if (lead == NULL || (straps != NULL && straps->item->value <= lead->value)) continue;
    tv_conductor_section(&plan->system->conductors[plan->places.strap.part[k]], section, sizeof section);
    tv_settings_add(settings, cure, section, "size", "%s", lead->size);
    if (tv_is_aluminium(plan->system->conductors[plan->places.strap.part[k]].material))
      tv_settings_add(settings, cure, section, "material", "copper");
  }
  struct tv_larger_alternator larger;
  if (!tv_larger_alternator(plan->system, size_step->item->value, &larger)) settings->too_long = true;
  for (int k = 0; k < larger.count; k++)
    tv_settings_add(settings, cure, "alternator", larger.setting[k].key, "%s", larger.setting[k].value);
}

static void give_converter(const struct tv_plan *plan, const struct tv_size_step *size_step, struct tv_settings *settings) {
  const enum tailvolt_cure cure = TAILVOLT_CURE_CONVERTER;
  const struct tailvolt_isolator *old = &plan->system->isolators[plan->places.converter];
  char section[TAILVOLT_NAME_MAX + 16];
  tv_section_words(TAILVOLT_PART_ISOLATOR, old->name, section, sizeof section);
  double output_v = isfinite(old->output_v) ? old->output_v : CHARGER_V;
  if (old->kind != TAILVOLT_CONVERTER) tv_settings_add(settings, cure, section, "kind", "converter");
  tv_settings_add(settings, cure, section, "output", "%s at %s V", size_step->item->size, tv_compact(output_v, 2).text);
  struct tv_on_by_ignition on = tv_on_by_ignition(TAILVOLT_CONVERTER);
  for (int k = 0; k < on.count && plan->places.stays_open; k++)
    tv_settings_add(settings, cure, section, on.setting[k].key, "%s", on.setting[k].value);
  if (old->rating_a < size_step->item->value) tv_settings_add(settings, cure, section, "rating", "%s", size_step->item->size);
}

static void clean_joints(const struct tv_plan *plan, struct tv_settings *settings) {
  char section[TAILVOLT_NAME_MAX + 16];
  for (int k = 0; k < plan->places.joint.count; k++) {
    tv_conductor_section(&plan->system->conductors[plan->places.joint.part[k]], section, sizeof section);
    tv_settings_add(settings, TAILVOLT_CURE_JOINTS, section, "resistance", "0.3 mohm");
  }
}

static void lower_level(const struct tv_plan *plan, const struct tv_size_step *size_step, struct tv_settings *settings) {
  char section[TAILVOLT_NAME_MAX + 16];
  for (int k = 0; k < plan->system->amplifier_count; k++) {
    const struct tailvolt_amplifier *a = &plan->system->amplifiers[k];
    amplifier_section(a, section, sizeof section);
    tv_settings_add(settings, TAILVOLT_CURE_LEVEL, section, "level offset", "%s dB",
                    tv_compact(a->level_offset_db - size_step->item->value, 2).text);
  }
}

void tv_plan_compose(const struct tv_plan *plan, const struct tv_choice *choice, struct tv_settings *settings) {
  const struct tv_places *places = &plan->places;
  const struct tailvolt_system *system = plan->system;
  const struct tv_size_step *size_step;
  const struct tv_size_step *feed = tv_plan_step(plan, choice, TAILVOLT_CURE_FEED);
  const struct tv_size_step *ground = tv_plan_step(plan, choice, TAILVOLT_CURE_GROUND);
  struct tv_joins joins = {0};
  find_joins(plan, feed, &joins);
  lay(plan, &places->feed, feed, TAILVOLT_CURE_FEED, settings);
  lay(plan, &places->ground, thicker(feed, ground),
      ground != NULL && thicker(feed, ground) == ground ? TAILVOLT_CURE_GROUND : TAILVOLT_CURE_FEED, settings);
  lay(plan, &places->strap, tv_plan_step(plan, choice, TAILVOLT_CURE_STRAPS), TAILVOLT_CURE_STRAPS,
      settings);
  if (tv_plan_step(plan, choice, TAILVOLT_CURE_JOINTS) != NULL) clean_joints(plan, settings);
  if ((size_step = tv_plan_step(plan, choice, TAILVOLT_CURE_RETURN)) != NULL) {
    char name[TAILVOLT_NAME_MAX], section[TAILVOLT_NAME_MAX + 16];
    tv_new_part_name(system, "return", name);
    tv_section_words(TAILVOLT_PART_CABLE, name, section, sizeof section);
    new_cable(plan, section, TAILVOLT_CURE_RETURN, system->point_names[system->amplifiers[plan->worst_amplifier].negative],
              system->point_names[system->batteries[tv_start_battery(system)].negative],
              size_step->item->size, plan->places.feed_m, settings);
  }
  if ((size_step = tv_plan_step(plan, choice, TAILVOLT_CURE_OWN_FEED)) != NULL) give_own_feed(plan, size_step, settings, &joins);
  if ((size_step = tv_plan_step(plan, choice, TAILVOLT_CURE_SECOND_BATTERY)) != NULL)
    give_second_battery(plan, size_step, &joins, settings);
  if ((size_step = tv_plan_step(plan, choice, TAILVOLT_CURE_CAPACITOR)) != NULL) give_capacitor(plan, size_step, joins.plus, settings);
  if ((size_step = tv_plan_step(plan, choice, TAILVOLT_CURE_BATTERY)) != NULL) give_battery(plan, size_step, settings);
  if ((size_step = tv_plan_step(plan, choice, TAILVOLT_CURE_ALTERNATOR)) != NULL)
    give_alternator(plan, size_step, tv_plan_step(plan, choice, TAILVOLT_CURE_STRAPS), settings);
  if ((size_step = tv_plan_step(plan, choice, TAILVOLT_CURE_CONVERTER)) != NULL) give_converter(plan, size_step, settings);
  if ((size_step = tv_plan_step(plan, choice, TAILVOLT_CURE_IDLE)) != NULL)
    tv_settings_add(settings, TAILVOLT_CURE_IDLE, "engine", "idle speed", "%s rpm",
                    tv_compact(system->engine.idle_rpm + size_step->item->value, 0).text);
  if ((size_step = tv_plan_step(plan, choice, TAILVOLT_CURE_LEVEL)) != NULL) lower_level(plan, size_step, settings);
}
