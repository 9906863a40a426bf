/* Where in a system the cures have their place: feeds, ground leads, the charging circuit, poor joints. */
#include <math.h>

#include "parts/amplifier.h"
#include "parts/conductor.h"
#include "simulate/charge.h"
#include "simulate/safety_graph.h"
#include "study/remedy.h"

static bool in_list(const struct tv_part_list *list, int part) {
  for (int k = 0; k < list->count; k++)
    if (list->part[k] == part) return true;
  return false;
}

static void list_add(struct tv_part_list *list, int part) {
  if (list->count < TV_PARTS_LISTED && !in_list(list, part)) list->part[list->count++] = part;
}

static void list_add_draw(struct tv_part_list *list, int part, double draw_a) {
  list_add(list, part);
  for (int k = 0; k < list->count; k++)
    if (list->part[k] == part) list->full_a[k] += draw_a;
}

/* Cables and poor joints between a walk's start and a point. */
static void take_path(const struct tailvolt_system *system, const struct tv_reach *reach, int point, struct tv_places *places) {
  if (!tv_reached(reach, point)) return;
  for (int p = point; reach->previous[p] >= 0; p = reach->previous[p]) {
    int edge = reach->edge[p];
    if (edge >= system->conductor_count) continue;
    if (tv_is_cable(&system->conductors[edge])) list_add(&places->strap, edge);
    if (tv_is_poor_joint(&system->conductors[edge])) list_add(&places->joint, edge);
  }
}

static void find_straps(const struct tailvolt_system *system, struct tv_reach *reach, struct tv_places *places) {
  if (!system->alternator.present || system->battery_count == 0) return;
  const struct tailvolt_battery *first = &system->batteries[tv_start_battery(system)];
  tv_reach_walk(system, first->positive, TV_BY_RESISTANCE, TV_ALL, reach);
  take_path(system, reach, system->alternator.positive, places);
  tv_reach_walk(system, first->negative, TV_BY_RESISTANCE, TV_ALL, reach);
  take_path(system, reach, system->alternator.negative, places);
}

/* Where an amplifier's ground lead ends; the body itself where it has none. */
static int end_of_ground_lead(const struct tailvolt_system *system, const struct tailvolt_ledger *ledger, const struct tv_places *places) {
  int minus = system->amplifiers[ledger->amplifier_index].negative, at = minus;
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    if (!entry->ground_side || entry->part_kind == TAILVOLT_PART_BATTERY || entry->part_kind == TAILVOLT_PART_ISOLATOR) continue;
    const struct tailvolt_conductor *c = &system->conductors[entry->index];
    if (in_list(&places->strap, entry->index)) return at;
    at = c->from == at ? c->to : c->from;
    if (tv_is_cable(c)) return at;
  }
  return minus;
}

/* The last cable of a ground side not shared by charging current is the battery's negative lead, if there is
 * another before it. */
static void find_in_ledger(const struct tailvolt_system *system, const struct tailvolt_ledger *ledger, bool worst,
                           struct tv_places *places) {
  struct tv_part_list ground = {0};
  double draw_a = tv_amplifier_rated_draw_a(&system->amplifiers[ledger->amplifier_index]);
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    if (entry->part_kind == TAILVOLT_PART_BATTERY || entry->part_kind == TAILVOLT_PART_ISOLATOR) continue;
    int at = entry->index;
    const struct tailvolt_conductor *c = &system->conductors[at];
    if (tv_is_poor_joint(c)) list_add(&places->joint, at);
    if (!tv_is_cable(c) || in_list(&places->strap, at)) continue;
    if (entry->ground_side) {
      list_add(&ground, at);
    } else {
      list_add_draw(&places->feed, at, draw_a);
      if (worst) places->feed_m += c->length_m;
    }
  }
  bool split = !system->alternator.present && ground.count > 1;
  for (int k = 0; k < ground.count; k++)
    if (split && k == ground.count - 1)
      list_add(&places->strap, ground.part[k]);
    else
      list_add_draw(&places->ground, ground.part[k], draw_a);
}

/* Whether the way to `point` passes `by`. */
static bool is_fed_through(const struct tv_reach *reach, int by, int point) {
  if (!tv_reached(reach, point)) return false;
  while (point != by && reach->previous[point] >= 0) point = reach->previous[point];
  return point == by;
}

static bool feeds_another(const struct tailvolt_system *system, const struct tv_reach *reach, int worst_amplifier, int point) {
  bool another = false;
  for (int k = 0; k < system->amplifier_count; k++)
    another = another || (k != worst_amplifier && is_fed_through(reach, point, system->amplifiers[k].positive));
  return another;
}

/* A relay opens by the voltage before it: it goes to the front, where the feed's drop does not count, but not before the alternator. */
static void find_second(const struct tailvolt_system *system, struct tv_reach *reach, int worst_amplifier, struct tv_places *places) {
  if (worst_amplifier < 0 || system->battery_count == 0) return;
  int plus = system->amplifiers[worst_amplifier].positive, starter = tv_start_battery(system);
  /* where another feeds the amplifier there is a second one */
  for (int k = 0; k < system->battery_count; k++) {
    if (k == starter) continue;
    tv_reach_walk(system, system->batteries[k].positive, TV_BY_RESISTANCE, TV_CABLES_ALONE, reach);
    if (tv_reached(reach, plus)) return;
  }
  tv_reach_walk(system, system->batteries[starter].positive, TV_BY_RESISTANCE, TV_ALL, reach);
  if (!tv_reached(reach, plus)) return;
  for (int p = plus; reach->previous[p] >= 0; p = reach->previous[p]) {
    int edge = reach->edge[p];
    if (system->alternator.present && is_fed_through(reach, p, system->alternator.positive)) break;
    if (edge >= system->conductor_count || !tv_is_cable(&system->conductors[edge])) continue;
    places->feed_cable = edge;
    places->relay_at = reach->previous[p];
  }
  if (places->feed_cable < 0) return;
  places->second_at = plus;
  for (int p = plus; p != places->relay_at && !places->second_shared; p = reach->previous[p])
    if (feeds_another(system, reach, worst_amplifier, p)) {
      places->second_at = p;
      places->second_shared = true;
    }
}

/* A battery that cable alone joins to a point; -1 = none. The one that starts the car before others. */
static int battery_at(const struct tailvolt_system *system, struct tv_reach *reach, int point) {
  int found = -1, starter = tv_start_battery(system);
  for (int k = 0; k < system->battery_count && point >= 0; k++) {
    tv_reach_walk(system, system->batteries[k].positive, TV_BY_RESISTANCE, TV_CABLES_ALONE, reach);
    if (tv_reached(reach, point) && (found < 0 || k == starter)) found = k;
  }
  return found;
}

/* Before the battery that loses charge first. */
static enum tailvolt_status find_converter(const struct tailvolt_system *system, const struct tailvolt_result *before,
                                           struct tv_places *places) {
  enum tailvolt_status status = TAILVOLT_OK;
  for (int k = 0; k < before->reason_count && places->converter < 0 && status == TAILVOLT_OK; k++)
    if (before->reasons[k].topic == TAILVOLT_ABOUT_CHARGE && before->reasons[k].about.index >= 0) {
      status = tv_charge_stays_open(system, before->reasons[k].about.index, &places->converter);
      places->stays_open = places->converter >= 0;
      if (status == TAILVOLT_OK && !places->stays_open)
        status = tv_charge_converter(system, before->reasons[k].about.index, &places->converter);
    }
  return status;
}

static double fullest_of(const struct tv_part_list *list) {
  double most_a = 0.0;
  for (int k = 0; k < list->count; k++) most_a = fmax(most_a, list->full_a[k]);
  return most_a;
}

/* The part of a list that serves some of the amplifiers only; -1 = none. */
static int lead_at(const struct tv_part_list *list, int part, double fullest_a) {
  for (int k = 0; k < list->count; k++)
    if (list->part[k] == part) return list->full_a[k] < 0.999 * fullest_a ? k : -1;
  return -1;
}

/* Lead and ground lead of an amplifier are chosen together. */
static void add_lengths(const struct tailvolt_system *system, const struct tailvolt_ledger *ledger, struct tv_places *places) {
  double sum_m = 0.0;
  for (int round = 0; round < 2; round++)
    for (int k = 0; k < ledger->entry_count; k++) {
      const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
      if (entry->part_kind == TAILVOLT_PART_BATTERY || entry->part_kind == TAILVOLT_PART_ISOLATOR) continue;
      struct tv_part_list *list = entry->ground_side ? &places->ground : &places->feed;
      int at = lead_at(list, entry->index, places->fullest_a);
      if (at < 0) continue;
      if (round == 0) sum_m += system->conductors[entry->index].length_m;
      else list->lead_m[at] = fmax(list->lead_m[at], sum_m);
    }
}

enum tailvolt_status tv_find_places(const struct tailvolt_system *system, const struct tailvolt_result *before, int worst_amplifier,
                                    struct tv_places *places) {
  struct tv_reach reach;
  enum tailvolt_status status = tv_reach_create(system, &reach);
  if (status != TAILVOLT_OK) return status;
  *places = (struct tv_places){.feed_cable = -1, .converter = -1, .battery = system->battery_count > 0 ? tv_start_battery(system) : -1};
  find_straps(system, &reach, places);
  find_second(system, &reach, worst_amplifier, places);
  int at = worst_amplifier >= 0 ? battery_at(system, &reach, system->amplifiers[worst_amplifier].positive) : -1;
  if (at >= 0) places->battery = at;
  for (int k = 0; k < before->ledger_count; k++) {
    const struct tailvolt_ledger *ledger = &before->ledgers[k];
    bool worst = ledger->amplifier_index == worst_amplifier;
    if (worst) places->second_ground = end_of_ground_lead(system, ledger, places);
    find_in_ledger(system, ledger, worst, places);
  }
  tv_reach_free(&reach);
  places->fullest_a = fmax(fullest_of(&places->feed), fullest_of(&places->ground));
  for (int k = 0; k < before->ledger_count; k++) add_lengths(system, &before->ledgers[k], places);
  return find_converter(system, before, places);
}
