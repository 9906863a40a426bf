/* Which cures suit this system: the families, and their standard sizes. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "input/assumes.h"
#include "input/quantity.h"
#include "text/feed_drops.h"
#include "text/number.h"
#include "text/words.h"
#include "parts/amplifier.h"
#include "parts/conductor.h"
#include "parts/fuse.h"
#include "simulate/charge.h"
#include "simulate/safety.h"
#include "simulate/safety_graph.h"
#include "study/remedy.h"

/* A size step must cut the resistance of the wire by this much to count as another size. */
static const double FINER_FRAC = 0.9;
/* What a lead to some of the amplifiers and its ground lead may lose at their full power before they call for more: a third of what is
 * usual for a whole feed (common practice). */
static const double LEAD_LOSS_V = 0.15;

static bool sold_by_awg(const struct tailvolt_conductor *c) { return !tv_size_is_metric(c->size); }

/* The part with the most resistance per metre, which gains first. */
static const struct tailvolt_conductor *thinnest(const struct tailvolt_system *system, const struct tv_part_list *list) {
  const struct tailvolt_conductor *found = NULL;
  for (int k = 0; k < list->count; k++) {
    const struct tailvolt_conductor *c = &system->conductors[list->part[k]];
    if (found == NULL || tv_ohm_per_m(c) > tv_ohm_per_m(found)) found = c;
  }
  return found;
}

static struct tv_size_step *add_size_step(struct tv_family *family, const struct tv_stock_item *item) {
  if (family->size_step_count == TV_SIZE_STEPS_MOST) return NULL;
  struct tv_size_step *size_step = &family->size_step[family->size_step_count++];
  *size_step = (struct tv_size_step){.item = item, .priced = item->priced};
  return size_step;
}

static const char *spoken_name(const struct tailvolt_system *system, const struct tv_part_list *list, const char *several) {
  return list->count == 1 ? system->conductors[list->part[0]].name : several;
}

static double work_h(const struct tv_plan *plan, enum tv_work kind) {
  const struct tv_stock_item *work = tv_catalogue_work(plan->catalogue, kind);
  return work != NULL ? work->effort_h : 0.0;
}

static double work_cost(const struct tv_plan *plan, enum tv_work kind) {
  const struct tv_stock_item *work = tv_catalogue_work(plan->catalogue, kind);
  return work != NULL ? work->cost : 0.0;
}

static bool carries(const struct tv_plan *plan, const struct tailvolt_conductor *old, const struct tv_stock_item *item, double current_a) {
  struct tv_section section;
  if (item->stock != TV_STOCK_CABLE || item->metric == sold_by_awg(old) ||
      !tv_section_from_resistance(item->value, TAILVOLT_COPPER, &section))
    return false;
  struct tailvolt_conductor lead = *old;
  lead.parallel = 1; /* sold singly */
  lead.material = TAILVOLT_COPPER;
  lead.resistance_ohm = item->value * old->length_m;
  lead.area_m2 = tv_material_resistivity_ohm_m(TAILVOLT_COPPER) / item->value;
  lead.outer_m = section.outer_m;
  lead.temperature_per_k = tv_material_temperature_per_k(TAILVOLT_COPPER);
  return tv_safety_ampacity_a(plan->system, &lead) >= current_a;
}

const struct tv_stock_item *tv_plan_size(const struct tv_plan *plan, const struct tv_part_list *list, int at,
                                         const struct tv_stock_item *wanted) {
  const struct tailvolt_conductor *c = &plan->system->conductors[list->part[at]];
  const struct tv_stock_item *size = wanted;
  double own_a = list->full_a[at];
  bool serves_some = own_a > 0.0 && own_a < 0.999 * plan->places.fullest_a;
  for (int k = 0; k < plan->catalogue->count && serves_some; k++) {
    const struct tv_stock_item *item = &plan->catalogue->item[k];
    if (item->value <= size->value || item->value * list->lead_m[at] * own_a > LEAD_LOSS_V || !carries(plan, c, item, own_a)) continue;
    size = item;
  }
  return size->value > FINER_FRAC * tv_ohm_per_m(c) ? NULL : size;
}

/* What laying a size over a list comes to. */
struct bill {
  double cost;
  int parts;
  bool priced;
  const struct tv_stock_item *thinnest; /* NULL = nothing is laid */
};

static struct bill bill_of(const struct tv_plan *plan, const struct tv_part_list *list, const struct tv_stock_item *wanted) {
  struct bill bill = {.priced = true};
  for (int k = 0; k < list->count; k++) {
    const struct tv_stock_item *item = tv_plan_size(plan, list, k, wanted);
    if (item == NULL) continue;
    bill.cost += plan->system->conductors[list->part[k]].length_m * item->cost_per_m;
    bill.priced = bill.priced && item->priced;
    bill.parts++;
    if (bill.thinnest == NULL || item->value > bill.thinnest->value) bill.thinnest = item;
  }
  return bill;
}

static bool lays_the_same(const struct tv_plan *plan, const struct tv_part_list *list, const struct tv_stock_item *a,
                          const struct tv_stock_item *b) {
  for (int k = 0; k < list->count; k++)
    if (tv_plan_size(plan, list, k, a) != tv_plan_size(plan, list, k, b)) return false;
  return true;
}

/* Cable sizes above the thinnest of a list. A feed takes its ground leads along. */
static void plan_cable(struct tv_plan *plan, enum tailvolt_cure cure, const struct tv_part_list *list, enum tv_work work,
                       const char *several) {
  const struct tailvolt_system *system = plan->system;
  const struct tv_part_list none = {0}, *ground = cure == TAILVOLT_CURE_FEED ? &plan->places.ground : &none;
  const struct tailvolt_conductor *thin = thinnest(system, list);
  if (thin == NULL || tv_catalogue_work(plan->catalogue, work) == NULL) return;
  struct tv_family family = {.cure = cure};
  bool metric = !sold_by_awg(thin);
  const struct tv_stock_item *before = NULL;
  for (int k = 0; k < plan->catalogue->count; k++) {
    const struct tv_stock_item *item = &plan->catalogue->item[k];
    if (item->stock != TV_STOCK_CABLE || item->metric != metric || item->value > FINER_FRAC * tv_ohm_per_m(thin)) continue;
    struct bill laid = bill_of(plan, list, item), more = bill_of(plan, ground, item);
    bool same = before != NULL && lays_the_same(plan, list, before, item) && lays_the_same(plan, ground, before, item);
    if (laid.parts == 0 || same) continue;
    struct tv_size_step *size_step = add_size_step(&family, item);
    if (size_step == NULL) break;
    before = item;
    int works = cure == TAILVOLT_CURE_FEED ? 1 : laid.parts;
    size_step->effort_h = works * work_h(plan, work) + more.parts * work_h(plan, TV_WORK_GROUND);
    size_step->cost = works * work_cost(plan, work) + laid.cost + more.cost;
    size_step->priced = laid.priced && more.priced;
    bool thinner = laid.thinnest != item || (more.parts > 0 && more.thinnest != item);
    snprintf(size_step->what, sizeof size_step->what, "%.16s%s %.36s%s%s", item->size, tv_is_aluminium(thin->material) ? " copper" : "",
             spoken_name(system, list, several), more.parts > 0 ? " and ground" : "", thinner ? " (small leads thinner)" : "");
  }
  if (family.size_step_count > 0) plan->family[plan->family_count++] = family;
}

static void plan_joints(struct tv_plan *plan) {
  const struct tv_places *places = &plan->places;
  const struct tv_stock_item *work = tv_catalogue_work(plan->catalogue, TV_WORK_JOINT);
  if (places->joint.count == 0 || work == NULL) return;
  struct tv_family family = {.cure = TAILVOLT_CURE_JOINTS};
  struct tv_size_step *size_step = add_size_step(&family, work);
  size_step->cost = places->joint.count * work->cost;
  size_step->effort_h = places->joint.count * work->effort_h;
  if (places->joint.count == 1)
    snprintf(size_step->what, sizeof size_step->what, "joint %s cleaned", plan->system->conductors[places->joint.part[0]].name);
  else
    snprintf(size_step->what, sizeof size_step->what, "%d poor joints cleaned", places->joint.count);
  plan->family[plan->family_count++] = family;
}

/* A cable from amplifier minus to the battery, where the body is now the return. Not past a battery sensor. */
static void plan_return(struct tv_plan *plan) {
  const struct tailvolt_system *system = plan->system;
  const struct tv_places *places = &plan->places;
  if (plan->worst_amplifier < 0 || system->battery_count == 0 || places->feed.count == 0 ||
      system->vehicle.battery_sensor || tv_catalogue_work(plan->catalogue, TV_WORK_FEED) == NULL)
    return;
  const struct tailvolt_amplifier *a = &system->amplifiers[plan->worst_amplifier];
  const struct tailvolt_conductor *feed = thinnest(system, &places->feed);
  if (a->negative == system->batteries[tv_start_battery(system)].negative) return;
  struct tv_family family = {.cure = TAILVOLT_CURE_RETURN};
  bool metric = !sold_by_awg(feed);
  for (int k = 0; k < plan->catalogue->count; k++) {
    const struct tv_stock_item *item = &plan->catalogue->item[k];
    if (item->stock != TV_STOCK_CABLE || item->metric != metric || item->value > 1.001 * tv_ohm_per_m(feed)) continue;
    struct tv_size_step *size_step = add_size_step(&family, item);
    if (size_step == NULL) break;
    size_step->cost = plan->places.feed_m * item->cost_per_m;
    size_step->effort_h = work_h(plan, TV_WORK_FEED);
    snprintf(size_step->what, sizeof size_step->what, "%s return cable to the battery", item->size);
  }
  if (family.size_step_count > 0) plan->family[plan->family_count++] = family;
}

/* Another amplifier is on the same feed. */
static void plan_own_feed(struct tv_plan *plan) {
  const struct tailvolt_system *system = plan->system;
  if (plan->worst_amplifier < 0 || plan->places.feed.count == 0 || system->battery_count == 0 ||
      tv_catalogue_work(plan->catalogue, TV_WORK_FEED) == NULL || tv_catalogue_work(plan->catalogue, TV_WORK_FUSE) == NULL)
    return;
  const struct tailvolt_amplifier *worst = &system->amplifiers[plan->worst_amplifier];
  const struct tailvolt_conductor *feed = thinnest(system, &plan->places.feed);
  bool shared = false;
  for (int k = 0; k < system->amplifier_count; k++)
    shared = shared || (k != plan->worst_amplifier && system->amplifiers[k].positive == worst->positive);
  if (!shared) return;
  struct tv_family family = {.cure = TAILVOLT_CURE_OWN_FEED};
  /* a fuse that lets pass what it takes must protect the cable */
  double fuse_a = tv_fuse_standard_rating_a(TAILVOLT_BOLT_DOWN, tv_amplifier_rated_draw_a(worst), (double)INFINITY);
  bool metric = !sold_by_awg(feed);
  for (int k = 0; k < plan->catalogue->count; k++) {
    const struct tv_stock_item *item = &plan->catalogue->item[k];
    if (item->stock != TV_STOCK_CABLE || item->metric != metric || item->value > 1.001 * tv_ohm_per_m(feed) ||
        !carries(plan, feed, item, fuse_a))
      continue;
    struct tv_size_step *size_step = add_size_step(&family, item);
    if (size_step == NULL) break;
    size_step->cost = plan->places.feed_m * item->cost_per_m + work_cost(plan, TV_WORK_FUSE);
    size_step->effort_h = work_h(plan, TV_WORK_FEED) + work_h(plan, TV_WORK_FUSE);
    snprintf(size_step->what, sizeof size_step->what, "%s feed of its own for %.30s", item->size, worst->name);
  }
  if (family.size_step_count > 0) plan->family[plan->family_count++] = family;
}

static void plan_sized(struct tv_plan *plan, enum tailvolt_cure cure, enum tv_stock stock, double above,
                       const char *words) {
  struct tv_family family = {.cure = cure};
  for (int k = 0; k < plan->catalogue->count; k++) {
    const struct tv_stock_item *item = &plan->catalogue->item[k];
    if (item->stock != stock || item->value < above) continue;
    struct tv_size_step *size_step = add_size_step(&family, item);
    if (size_step == NULL) break;
    size_step->cost = item->cost;
    size_step->effort_h = item->effort_h;
    char *what = size_step->what;
    size_t size = sizeof size_step->what;
    if (cure == TAILVOLT_CURE_CAPACITOR && isfinite(item->esr_ohm))
      snprintf(what, size, "%s capacitor of %s mohm", item->size, tv_compact(1e3 * item->esr_ohm, 2).text);
    else if (cure == TAILVOLT_CURE_LEVEL)
      snprintf(what, size, "music turned down by %s", item->size);
    else if (cure == TAILVOLT_CURE_IDLE)
      snprintf(what, size, "idle raised by %s", item->size);
    else
      snprintf(what, size, "%s%s %s", cure == TAILVOLT_CURE_BATTERY ? "new " : "", item->size, words);
  }
  if (family.size_step_count > 0) plan->family[plan->family_count++] = family;
}

const struct tv_stock_item *tv_plan_lead(const struct tv_plan *plan, int conductor, double current_a) {
  const struct tailvolt_conductor *old = &plan->system->conductors[conductor];
  if (!tv_is_cable(old) || tv_safety_ampacity_a(plan->system, old) >= current_a) return NULL;
  for (int k = 0; k < plan->catalogue->count; k++) {
    const struct tv_stock_item *item = &plan->catalogue->item[k];
    if (carries(plan, old, item, current_a)) return item;
  }
  return NULL;
}

/* A larger alternator includes the charge lead and straps that its current needs. */
static void add_leads(struct tv_plan *plan) {
  int at = tv_plan_family(plan, TAILVOLT_CURE_ALTERNATOR);
  if (at < 0) return;
  for (int r = 0; r < plan->family[at].size_step_count; r++) {
    struct tv_size_step *size_step = &plan->family[at].size_step[r];
    int leads = 0;
    for (int k = 0; k < plan->places.strap.count; k++) {
      const struct tv_stock_item *lead = tv_plan_lead(plan, plan->places.strap.part[k], size_step->item->value);
      if (lead == NULL) continue;
      size_step->cost += lead->cost_per_m * plan->system->conductors[plan->places.strap.part[k]].length_m + work_cost(plan, TV_WORK_STRAP);
      size_step->effort_h += work_h(plan, TV_WORK_STRAP);
      size_step->priced = size_step->priced && lead->priced;
      leads++;
    }
    if (leads > 0)
      snprintf(size_step->what, sizeof size_step->what, "%.16s alternator with its charge lead and straps", size_step->item->size);
  }
}

/* A new battery of the same size is a cure where the old one is worn. */
static void plan_battery(struct tv_plan *plan) {
  const struct tailvolt_system *system = plan->system;
  if (plan->places.battery < 0) return;
  const struct tailvolt_battery *battery = &system->batteries[plan->places.battery];
  bool worn = battery->health_frac < 0.95 || battery->cranking_health_frac < 0.95;
  bool of_several = system->battery_count > 1, starts = plan->places.battery == tv_start_battery(system);
  char words[40 + TAILVOLT_NAME_MAX], which[TAILVOLT_NAME_MAX + 16];
  tv_section_words(TAILVOLT_PART_BATTERY, battery->name, which, sizeof which);
  if (of_several && starts) snprintf(words, sizeof words, "starting battery");
  else if (of_several) snprintf(words, sizeof words, "battery in place of %.40s", which);
  else snprintf(words, sizeof words, battery->kind == TAILVOLT_FLOODED ? "battery" : "battery of its kind");
  plan_sized(plan, TAILVOLT_CURE_BATTERY, TV_STOCK_BATTERY, (worn ? 1.0 : 1.05) * battery->capacity_ah - 1e-9, words);
}

/* Whether the alternator's lowest set point would leave a usual relay open (input/system_defaults.c). */
static bool leaves_relays_open(const struct tailvolt_system *system) {
  return tv_charge_lowest_v(system) < TV_RELAY_CLOSES_V;
}

/* What an amplifier would take on average if it never clipped or cut out. */
static double wanted_a(const struct tailvolt_amplifier_result *a) {
  return isfinite(a->lost_output_db) ? a->mean_a * pow(10.0, a->lost_output_db / 10.0) : a->mean_a;
}

/* The smallest converter that brings what the amplifiers behind it take on average, and a tenth more to charge by; else the largest. */
static const struct tv_stock_item *converter_for(const struct tv_plan *plan, const struct tailvolt_result *before) {
  const struct tv_stock_item *found = NULL;
  double mean_a = 0.0;
  for (int k = 0; k < before->amplifier_count; k++)
    if (k == plan->worst_amplifier || plan->places.second_shared) mean_a += wanted_a(&before->amplifiers[k]);
  for (int k = 0; k < plan->catalogue->count; k++) {
    const struct tv_stock_item *item = &plan->catalogue->item[k];
    if (item->stock != TV_STOCK_CONVERTER || (found != NULL && found->value >= 1.1 * mean_a)) continue;
    found = item;
  }
  return found;
}

/* Where a relay would stay open. */
static void add_converter(struct tv_size_step *size_step, const struct tv_stock_item *converter) {
  size_t used = strlen(size_step->what);
  size_step->converter = converter;
  size_step->cost += converter->cost;
  size_step->effort_h += converter->effort_h;
  size_step->priced = size_step->priced && converter->priced;
  snprintf(size_step->what + used, sizeof size_step->what - used, " behind a %.16s converter", converter->size);
}

static void plan_second_battery(struct tv_plan *plan, const struct tailvolt_result *before) {
  const struct tailvolt_system *system = plan->system;
  if (plan->places.feed_cable < 0) return;
  const struct tailvolt_amplifier *a = &system->amplifiers[plan->worst_amplifier];
  char words[32 + TAILVOLT_NAME_MAX];
  snprintf(words, sizeof words, "AGM at %s",
           plan->places.second_shared ? "the amplifiers" : system->amplifier_count > 1 ? a->name : "the amplifier");
  plan_sized(plan, TAILVOLT_CURE_SECOND_BATTERY, TV_STOCK_SECOND_BATTERY, 0.0, words);
  const struct tv_stock_item *converter = plan->by_engine ? converter_for(plan, before) : NULL;
  int at = tv_plan_family(plan, TAILVOLT_CURE_SECOND_BATTERY);
  for (int r = 0; at >= 0 && converter != NULL && r < plan->family[at].size_step_count; r++)
    add_converter(&plan->family[at].size_step[r], converter);
}

/* One that never works is switched by the ignition, which costs no part where it is large enough; a relay gives way to a converter. */
static void plan_converter(struct tv_plan *plan) {
  if (plan->places.converter < 0) return;
  const struct tailvolt_isolator *old = &plan->system->isolators[plan->places.converter];
  bool relay = old->kind == TAILVOLT_RELAY, open = plan->places.stays_open;
  double now_a = relay ? 0.0 : old->output_a;
  char words[112];
  if (relay) snprintf(words, sizeof words, "converter on by the ignition, in place of the relay");
  else snprintf(words, sizeof words, "converter%s in place of the %s A one", open ? " on by the ignition" : "", tv_compact(now_a, 1).text);
  plan_sized(plan, TAILVOLT_CURE_CONVERTER, TV_STOCK_CONVERTER, (open ? 0.95 : 1.05) * now_a, words);
  int at = tv_plan_family(plan, TAILVOLT_CURE_CONVERTER);
  struct tv_size_step *first = at >= 0 ? &plan->family[at].size_step[0] : NULL;
  if (first == NULL || relay || first->item->value > 1.05 * now_a) return;
  first->cost = 0.0;
  snprintf(first->what, sizeof first->what, "ignition lead to the %.16s converter", first->item->size);
}

static int worst_amplifier_of(const struct tailvolt_result *result) {
  int worst = -1;
  double margin_v = (double)INFINITY;
  for (int k = 0; k < result->amplifier_count; k++)
    for (int p = 0; p < TAILVOLT_PHASES; p++) {
      const struct tailvolt_amplifier_phase *phase = &result->amplifiers[k].phase[p];
      if (phase->play_s > 0.0 && phase->min_v - phase->target_v < margin_v) {
        margin_v = phase->min_v - phase->target_v;
        worst = k;
      }
    }
  return worst;
}

static bool has_belt(const struct tailvolt_system *system) {
  return system->alternator.present && system->vehicle.charging != TAILVOLT_CHARGING_CONVERTER &&
         system->vehicle.charging != TAILVOLT_CHARGING_NONE;
}

bool tv_plan_has_place(const struct tv_plan *plan, enum tailvolt_cure cure) {
  switch (cure) {
  case TAILVOLT_CURE_CAPACITOR: return plan->worst_amplifier >= 0;
  case TAILVOLT_CURE_SECOND_BATTERY: return plan->places.feed_cable >= 0;
  case TAILVOLT_CURE_FEED: return plan->places.feed.count > 0;
  case TAILVOLT_CURE_GROUND: return plan->places.ground.count + plan->places.strap.count > 0;
  case TAILVOLT_CURE_ALTERNATOR: return has_belt(plan->system);
  default: return false;
  }
}

enum tailvolt_status tv_plan_make(const struct tailvolt_system *system, const struct tv_catalogue *catalogue,
                                  const struct tailvolt_result *before, struct tv_plan *plan) {
  *plan = (struct tv_plan){.system = system, .catalogue = catalogue, .worst_amplifier = worst_amplifier_of(before)};
  struct tv_places *places = &plan->places;
  plan->by_engine = leaves_relays_open(system);
  enum tailvolt_status status = tv_find_places(system, before, plan->worst_amplifier, places);
  if (status != TAILVOLT_OK) return status;
  plan_cable(plan, TAILVOLT_CURE_FEED, &places->feed, TV_WORK_FEED, "feed");
  plan_cable(plan, TAILVOLT_CURE_GROUND, &places->ground, TV_WORK_GROUND, "ground leads");
  plan_cable(plan, TAILVOLT_CURE_STRAPS, &places->strap, TV_WORK_STRAP, "straps and charge lead");
  plan_joints(plan);
  plan_return(plan);
  plan_own_feed(plan);
  if (plan->worst_amplifier >= 0) plan_sized(plan, TAILVOLT_CURE_CAPACITOR, TV_STOCK_CAPACITOR, 0.0, "capacitor");
  plan_battery(plan);
  plan_second_battery(plan, before);
  const struct tailvolt_alternator *machine = &system->alternator;
  bool belt = has_belt(system);
  double now_a = isfinite(machine->fixed_output_a) ? machine->fixed_output_a : machine->rated_a;
  struct tv_larger_alternator larger;
  bool grows = belt && tv_larger_alternator(system, 1000.0, &larger); /* beyond any on offer: smaller ones take no more room */
  if (grows) plan_sized(plan, TAILVOLT_CURE_ALTERNATOR, TV_STOCK_ALTERNATOR, 1.05 * now_a, "alternator");
  if (grows) add_leads(plan);
  plan_converter(plan);
  if (belt && before->phases[TAILVOLT_IDLE].present)
    plan_sized(plan, TAILVOLT_CURE_IDLE, TV_STOCK_IDLE, 0.0, "");
  if (plan->worst_amplifier >= 0) plan_sized(plan, TAILVOLT_CURE_LEVEL, TV_STOCK_LEVEL, 0.0, "");
  return TAILVOLT_OK;
}

int tv_plan_family(const struct tv_plan *plan, enum tailvolt_cure cure) {
  for (int k = 0; k < plan->family_count; k++)
    if (plan->family[k].cure == cure) return k;
  return -1;
}

const struct tv_size_step *tv_plan_step(const struct tv_plan *plan, const struct tv_choice *choice, enum tailvolt_cure cure) {
  int k = tv_plan_family(plan, cure);
  return k >= 0 && choice->size_step[k] > 0 ? &plan->family[k].size_step[choice->size_step[k] - 1] : NULL;
}

bool tv_plan_is_redundant(const struct tv_plan *plan, const struct tv_choice *choice) {
  const struct tv_size_step *feed = tv_plan_step(plan, choice, TAILVOLT_CURE_FEED);
  const struct tv_size_step *ground = tv_plan_step(plan, choice, TAILVOLT_CURE_GROUND);
  return feed != NULL && ground != NULL && ground->item->value >= feed->item->value;
}

/* What two families would do to the same leads, and is done once. */
struct overlap {
  double cost, effort_h;
};

static void add_overlap(const struct tv_plan *plan, int conductor, const struct tv_stock_item *not_laid, enum tv_work work,
                        struct overlap *overlap) {
  overlap->cost += plan->system->conductors[conductor].length_m * not_laid->cost_per_m + work_cost(plan, work);
  overlap->effort_h += work_h(plan, work);
}

/* A feed takes its ground leads along, an alternator its charge lead and straps: of two sizes for a lead the thicker is laid. */
static struct overlap overlap_of(const struct tv_plan *plan, const struct tv_choice *choice) {
  const struct tv_places *places = &plan->places;
  const struct tv_size_step *feed = tv_plan_step(plan, choice, TAILVOLT_CURE_FEED),
                            *ground = tv_plan_step(plan, choice, TAILVOLT_CURE_GROUND),
                            *machine = tv_plan_step(plan, choice, TAILVOLT_CURE_ALTERNATOR),
                            *straps = tv_plan_step(plan, choice, TAILVOLT_CURE_STRAPS);
  struct overlap overlap = {0.0, 0.0};
  for (int k = 0; k < places->ground.count && feed != NULL && ground != NULL; k++) {
    const struct tv_stock_item *a = tv_plan_size(plan, &places->ground, k, feed->item),
                               *b = tv_plan_size(plan, &places->ground, k, ground->item);
    if (a != NULL && b != NULL) add_overlap(plan, places->ground.part[k], a->value > b->value ? a : b, TV_WORK_GROUND, &overlap);
  }
  for (int k = 0; k < places->strap.count && machine != NULL && straps != NULL; k++) {
    const struct tv_stock_item *a = tv_plan_lead(plan, places->strap.part[k], machine->item->value),
                               *b = tv_plan_size(plan, &places->strap, k, straps->item);
    if (a != NULL && b != NULL) add_overlap(plan, places->strap.part[k], a->value > b->value ? a : b, TV_WORK_STRAP, &overlap);
  }
  return overlap;
}

double tv_plan_effort_h(const struct tv_plan *plan, const struct tv_choice *choice) {
  double sum_h = -overlap_of(plan, choice).effort_h;
  for (int k = 0; k < plan->family_count; k++)
    if (choice->size_step[k] > 0) sum_h += plan->family[k].size_step[choice->size_step[k] - 1].effort_h;
  return sum_h;
}

double tv_plan_cost(const struct tv_plan *plan, const struct tv_choice *choice) {
  double sum = plan->catalogue->hour_cost * tv_plan_effort_h(plan, choice) - overlap_of(plan, choice).cost;
  for (int k = 0; k < plan->family_count; k++)
    if (choice->size_step[k] > 0) sum += plan->family[k].size_step[choice->size_step[k] - 1].cost;
  return sum;
}

double tv_plan_fuse_cost(const struct tv_plan *plan, double *effort_h) {
  *effort_h = work_h(plan, TV_WORK_FUSE);
  return work_cost(plan, TV_WORK_FUSE) + plan->catalogue->hour_cost * *effort_h;
}

double tv_plan_price(const struct tv_plan *plan, const struct tv_choice *choice) {
  if (plan->catalogue->currency[0] == '\0') return (double)NAN;
  for (int k = 0; k < plan->family_count; k++)
    if (choice->size_step[k] > 0 && !plan->family[k].size_step[choice->size_step[k] - 1].priced) return (double)NAN;
  return tv_plan_cost(plan, choice);
}

void tv_plan_say(const struct tv_plan *plan, const struct tv_choice *choice, bool steady, char *text, size_t size) {
  /* in a workshop's order; where more is used than generated, the alternator comes first */
  static const enum tailvolt_cure order[] = {
      TAILVOLT_CURE_LEVEL,   TAILVOLT_CURE_ALTERNATOR, TAILVOLT_CURE_JOINTS,         TAILVOLT_CURE_GROUND,
      TAILVOLT_CURE_RETURN,  TAILVOLT_CURE_STRAPS,     TAILVOLT_CURE_FEED,           TAILVOLT_CURE_OWN_FEED,
      TAILVOLT_CURE_BATTERY, TAILVOLT_CURE_SECOND_BATTERY, TAILVOLT_CURE_ALTERNATOR, TAILVOLT_CURE_CONVERTER, TAILVOLT_CURE_CAPACITOR,
      TAILVOLT_CURE_IDLE};
  enum { EARLY = 1 };
  size_t used = 0;
  text[0] = '\0';
  for (size_t place = 0; place < sizeof order / sizeof *order; place++) {
    int k = tv_plan_family(plan, order[place]);
    if (order[place] == TAILVOLT_CURE_ALTERNATOR && (place == EARLY) != steady) continue;
    if (k < 0 || choice->size_step[k] == 0 || used >= size) continue;
    int wrote = snprintf(text + used, size - used, "%s%s", used > 0 ? " + " : "",
                         plan->family[k].size_step[choice->size_step[k] - 1].what);
    if (wrote > 0) used += (size_t)wrote;
  }
}
