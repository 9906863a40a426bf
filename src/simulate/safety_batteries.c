/* Safety rules for batteries: where they are, what charges them, frost. */
#include <math.h>

#include "parts/battery.h"
#include "simulate/safety_rules.h"

/* Open-circuit voltage of four lithium-iron cells at a third of their charge, for the charging current that a
 * lead-acid set point drives into them (batteries' table). */
static const double LITHIUM_LOW_V = 13.0;

static bool is_lead(const struct tailvolt_battery *battery) { return battery->kind != TAILVOLT_LITHIUM_IRON; }

/* Indoors people breathe, and sparks can fly where gas collects. The bed of a pick-up is open. */
static bool is_indoors(const struct tailvolt_battery *battery) {
  return battery->place == TAILVOLT_CABIN || battery->place == TAILVOLT_BOOT;
}

static void check_place(struct tv_safety_job *job, int index) {
  const struct tailvolt_battery *battery = &job->system->batteries[index];
  if (!is_indoors(battery)) return;
  bool wet = battery->kind == TAILVOLT_FLOODED || battery->kind == TAILVOLT_EFB;
  if (wet && battery->vented) return;
  struct tailvolt_finding found = tv_finding_of_battery(
      job, wet ? TAILVOLT_FOUND_BATTERY_GASSES : TAILVOLT_FOUND_BATTERY_IN_CABIN, TAILVOLT_HOLDS, index);
  tv_find(job, &found);
}

/* Air around a battery: from a finished run, else from the file. */
static double air_c(const struct tv_safety_job *job, int index) {
  if (job->result != NULL && index < job->result->battery_count && !isnan(job->result->batteries[index].end_c))
    return job->result->batteries[index].end_c;
  return job->system->vehicle.ambient_c;
}

/* Judged at the charge left in it: at the end of a run, else the file's. A rested voltage alone says nothing here
 * without the battery's own curve, and the run that follows will. */
static void check_frost(struct tv_safety_job *job, int index) {
  const struct tailvolt_battery *battery = &job->system->batteries[index];
  bool ran = job->result != NULL && index < job->result->battery_count;
  double charge_frac = ran ? job->result->batteries[index].end_soc_pct / 100.0 : battery->soc_frac;
  double at_c = air_c(job, index), freezing_c = tv_battery_freezing_c(battery->kind, charge_frac);
  if (isnan(charge_frac) || at_c > freezing_c) return;
  struct tailvolt_finding found = tv_finding_of_battery(job, TAILVOLT_FOUND_BATTERY_FREEZES, TAILVOLT_HOLDS, index);
  found.temperature_c = at_c;
  found.limit_c = freezing_c;
  found.charge_frac = charge_frac;
  tv_find(job, &found);
}

/* The isolator on the last walk's path to a point; -1 = wire alone. */
static int isolator_on(const struct tv_safety_job *job, const struct tv_reach *reach, int point) {
  for (int p = point; reach->previous[p] >= 0; p = reach->previous[p])
    if (reach->edge[p] >= job->system->conductor_count) return reach->edge[p] - job->system->conductor_count;
  return -1;
}

/* Joined to a lead battery by wire, relay or diode. Between the set point and its own voltage there is only the
 * resistance of battery and path: I = (V - U) / (R + R path). */
static void check_on_lead(struct tv_safety_job *job, int index) {
  const struct tailvolt_system *system = job->system;
  const struct tailvolt_battery *own = &system->batteries[index];
  struct tv_reach *reach = &job->protection.reach;
  for (int b = 0; b < system->battery_count; b++) {
    if (!is_lead(&system->batteries[b])) continue;
    /* from the lead battery, so a diode is passed in its conducting direction */
    tv_reach_walk(system, system->batteries[b].positive, TV_BY_RESISTANCE, TV_NO_CONVERTERS, reach);
    if (!tv_reached(reach, own->positive)) continue;
    struct tailvolt_finding found = tv_finding_of_battery(job, TAILVOLT_FOUND_LITHIUM_ON_LEAD, TAILVOLT_HOLDS, index);
    tv_finding_about(&found, system, TAILVOLT_PART_BATTERY, b);
    int isolator = isolator_on(job, reach, own->positive);
    if (isolator >= 0) tv_finding_about(&found, system, TAILVOLT_PART_ISOLATOR, isolator);
    double from_v = system->alternator.present ? tv_highest_set_point_v(system) : 14.2;
    found.current_a = (from_v - LITHIUM_LOW_V) / (tv_battery_short_ohm(own) + reach->far[own->positive]);
    tv_find(job, &found);
    return;
  }
}

/* By the alternator itself: behind a converter a battery sees what that gives. */
static bool is_charged_straight(struct tv_safety_job *job, int index) {
  const struct tailvolt_system *system = job->system;
  tv_reach_walk(system, system->alternator.positive, TV_BY_RESISTANCE, TV_NO_CONVERTERS, &job->protection.reach);
  return tv_reached(&job->protection.reach, system->batteries[index].positive);
}

static void check_lithium(struct tv_safety_job *job, int index) {
  const struct tailvolt_system *system = job->system;
  const struct tv_safety_limits *limits = job->limits;
  const struct tailvolt_battery *battery = &system->batteries[index];
  struct tailvolt_finding found = tv_finding_of_battery(job, TAILVOLT_FOUND_LITHIUM_CARE, TAILVOLT_HOLDS, index);
  tv_find(job, &found);
  check_on_lead(job, index);
  found.limit_c = limits->lithium_cold_c;
  found.temperature_c = air_c(job, index);
  /* without a run anything that could charge it counts as charging it */
  bool charged = job->result == NULL || job->result->batteries[index].charge_in_ah > 0.0;
  if (charged && system->alternator.present && found.temperature_c < found.limit_c) {
    found.kind = TAILVOLT_FOUND_LITHIUM_FROST;
    tv_find(job, &found);
  }
  if (battery->place == TAILVOLT_ENGINE_BAY && system->vehicle.engine_bay_c > limits->lithium_hot_c) {
    found.kind = TAILVOLT_FOUND_LITHIUM_BAY;
    found.temperature_c = system->vehicle.engine_bay_c;
    found.limit_c = limits->lithium_hot_c;
    tv_find(job, &found);
  }
  if (system->alternator.present && tv_highest_set_point_v(system) > limits->lithium_v && is_charged_straight(job, index)) {
    found = tv_finding_of_battery(job, TAILVOLT_FOUND_LITHIUM_VOLTAGE, TAILVOLT_HOLDS, index);
    found.voltage_v = tv_highest_set_point_v(system);
    found.limit_v = limits->lithium_v;
    tv_find(job, &found);
  }
}

void tv_rules_batteries(struct tv_safety_job *job) {
  for (int b = 0; b < job->system->battery_count; b++) {
    if (is_lead(&job->system->batteries[b])) check_frost(job, b);
    else check_lithium(job, b);
    check_place(job, b);
  }
}
