/* Where in a system the cures have their place: feeds, ground leads, the charging circuit, poor joints. */
#include <math.h>

#include "simulate/charge.h"
#include "simulate/safety_graph.h"
#include "study/remedy.h"

/* Joints above this are poor; a sound one (reference of joints, judgement). */
static const double POOR_OHM = 0.8e-3;

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

/* Sheet metal is not a joint to clean. */
static bool is_poor_joint(const struct tailvolt_conductor *c) {
  return c->kind == TAILVOLT_JOINT && c->resistance_ohm >= POOR_OHM && c->role != TAILVOLT_ROLE_BODY;
}

/* Cables and poor joints between a walk's start and a point. */
static void take_path(const struct tailvolt_system *system, const struct tv_reach *reach, int point, struct tv_places *places) {
  if (!tv_reached(reach, point)) return;
  for (int p = point; reach->previous[p] >= 0; p = reach->previous[p]) {
    int edge = reach->edge[p];
    if (edge >= system->conductor_count) continue;
    if (tv_is_cable(&system->conductors[edge])) list_add(&places->strap, edge);
    if (is_poor_joint(&system->conductors[edge])) list_add(&places->joint, edge);
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

/* The last cable of a ground side not shared by charging current is the battery's negative lead, if there is
 * another before it. */
static void find_in_ledger(const struct tailvolt_system *system, const struct tailvolt_ledger *ledger, bool worst,
                           struct tv_places *places) {
  struct tv_part_list ground = {0};
  const struct tailvolt_amplifier *a = &system->amplifiers[ledger->amplifier_index];
  double draw_a = a->rated_w / (a->efficiency_frac * a->rated_v);
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    if (entry->part_kind == TAILVOLT_PART_BATTERY || entry->part_kind == TAILVOLT_PART_ISOLATOR) continue;
    int at = entry->index;
    const struct tailvolt_conductor *c = &system->conductors[at];
    if (is_poor_joint(c)) list_add(&places->joint, at);
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
  if (worst_amplifier < 0 || system->battery_count != 1) return;
  int plus = system->amplifiers[worst_amplifier].positive;
  tv_reach_walk(system, system->batteries[0].positive, TV_BY_RESISTANCE, TV_ALL, reach);
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

/* Before the battery that loses charge first. */
static enum tailvolt_status find_converter(const struct tailvolt_system *system, const struct tailvolt_result *before,
                                           struct tv_places *places) {
  enum tailvolt_status status = TAILVOLT_OK;
  for (int k = 0; k < before->reason_count && places->converter < 0 && status == TAILVOLT_OK; k++)
    if (before->reasons[k].topic == TAILVOLT_ABOUT_CHARGE && before->reasons[k].about.index >= 0)
      status = tv_charge_converter(system, before->reasons[k].about.index, &places->converter);
  return status;
}

enum tailvolt_status tv_find_places(const struct tailvolt_system *system, const struct tailvolt_result *before, int worst_amplifier,
                                    struct tv_places *places) {
  struct tv_reach reach;
  enum tailvolt_status status = tv_reach_create(system, &reach);
  if (status != TAILVOLT_OK) return status;
  *places = (struct tv_places){.feed_cable = -1, .converter = -1};
  find_straps(system, &reach, places);
  find_second(system, &reach, worst_amplifier, places);
  for (int k = 0; k < before->ledger_count; k++) {
    const struct tailvolt_ledger *ledger = &before->ledgers[k];
    find_in_ledger(system, ledger, ledger->amplifier_index == worst_amplifier, places);
  }
  tv_reach_free(&reach);
  for (int k = 0; k < places->feed.count; k++) places->fullest_a = fmax(places->fullest_a, places->feed.full_a[k]);
  for (int k = 0; k < places->ground.count; k++) places->fullest_a = fmax(places->fullest_a, places->ground.full_a[k]);
  return find_converter(system, before, places);
}
