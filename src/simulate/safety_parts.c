/* Safety rules for the other parts: ground as strong as the feed, heat and watts of a run, amplifiers' own
 * fuses, and the hazards of capacitors, isolators and charging. */
#include <math.h>

#include "parts/amplifier.h"
#include "parts/conductor.h"
#include "parts/fuse.h"
#include "simulate/safety_rules.h"

/* Ground may have this much more resistance per metre than the feed before it counts as thinner. The trade takes the metric and AWG
 * sizes that lie nearest for the same; furthest apart are 50 mm2 (0.386 milliohms a metre at most, IEC 60228 class 5) and 1/0 AWG
 * (0.329), while a size less is 1.4 times as much. */
static const double THINNER_RATIO = 1.2;
/* Rested voltage of an empty lead-acid battery, for the worst inrush (batteries' table, flooded and AGM). */
static const double EMPTY_V = 11.9;
/* Rested voltage of a full one, the highest without charging (same table). */
static const double RESTED_V = 12.9;
/* Current a fuse carries indefinitely: the 110 % gate of ISO 8820-3. */
static const double FUSE_FOREVER_FRAC = 1.1;
/* Largest drop of a fuse element at its rating, V: a fuse warms its holder by design, and only what the
 * holder adds points to bad contacts (makers' data sheets of bolt-down fuses, from memory). */
static const double ELEMENT_DROP_V = 0.09;
/* A relay's contacts and the fuses beside it survive an inrush this short (judgement). */
static const double INRUSH_S = 1.0;

static double ohm_per_m(const struct tailvolt_conductor *cable) {
  return cable->length_m > 0.0 ? cable->resistance_ohm / cable->length_m : 0.0;
}

/* Thinnest cable on the last walk's path to a point; -1 where there is none. */
static int thinnest(const struct tailvolt_system *system, const struct tv_reach *reach, int point) {
  int found = -1;
  for (int p = point; reach->previous[p] >= 0; p = reach->previous[p]) {
    int edge = reach->edge[p];
    if (edge >= system->conductor_count) {
      continue;
    }
    const struct tailvolt_conductor *c = &system->conductors[edge];
    if (tv_is_cable(c) && (found < 0 || ohm_per_m(c) > ohm_per_m(&system->conductors[found]))) {
      found = edge;
    }
  }
  return found;
}

/* The amplifier may draw what its own fuses let pass, or the converter that alone feeds it gives (`most_a`), so the feed must carry
 * that, whatever fuse precedes it. */
static void check_feed(struct tv_safety_job *job, int amplifier, int feed, double most_a) {
  const struct tailvolt_system *system = job->system;
  double fuses_a = system->amplifiers[amplifier].fuses_a;
  double bears_a = tv_ampacity_with(job->limits, system, &system->conductors[feed]);
  if (!(fuses_a > bears_a) || most_a <= bears_a) return; /* the former false where either is not known */
  struct tailvolt_finding found = tv_finding_of_conductor(job, TAILVOLT_FOUND_CABLE_BELOW_FUSES, TAILVOLT_HOLDS, feed);
  tv_finding_about(&found, system, TAILVOLT_PART_AMPLIFIER, amplifier);
  found.current_a = fuses_a;
  found.limit_a = bears_a;
  tv_find(job, &found);
}

static void check_claim(struct tv_safety_job *job, int index) {
  const struct tailvolt_conductor *c = &job->system->conductors[index];
  if (!(c->claimed_ohm > 0.0)) return;
  struct tailvolt_finding found = tv_finding_of_conductor(job, TAILVOLT_FOUND_CABLE_UNDERSIZE, TAILVOLT_HOLDS, index);
  found.resistance_ohm = c->resistance_ohm;
  found.limit_ohm = c->claimed_ohm;
  tv_find(job, &found);
}

/* Where an amplifier's current comes from. */
struct source {
  int positive, battery;
  double most_a; /* what it can give; INFINITY of a battery */
};

/* The first battery that feeds an amplifier without a converter between: what lies before that one carries no more than it draws. Where
 * there is none, a converter, with the battery that feeds it. False where nothing feeds the amplifier. */
static bool find_source(struct tv_safety_job *job, int positive, struct source *source) {
  const struct tailvolt_system *system = job->system;
  struct tv_reach *reach = &job->protection.reach;
  for (int b = 0; b < system->battery_count; b++) {
    *source = (struct source){system->batteries[b].positive, b, (double)INFINITY};
    tv_reach_walk(system, source->positive, TV_BY_RESISTANCE, TV_NO_CONVERTERS, reach);
    if (tv_reached(reach, positive)) return true;
  }
  for (int b = 0; b < system->battery_count; b++) {
    tv_reach_walk(system, system->batteries[b].positive, TV_BY_RESISTANCE, TV_ALL, reach);
    if (!tv_reached(reach, positive)) continue;
    for (int p = positive; reach->previous[p] >= 0; p = reach->previous[p]) {
      int isolator = reach->edge[p] - system->conductor_count;
      if (isolator < 0 || system->isolators[isolator].kind != TAILVOLT_CONVERTER) continue;
      *source = (struct source){p, b, system->isolators[isolator].output_a};
      return true;
    }
  }
  return false;
}

static void check_ground(struct tv_safety_job *job, int index) {
  const struct tailvolt_system *system = job->system;
  const struct tailvolt_amplifier *amplifier = &system->amplifiers[index];
  struct tv_reach *reach = &job->protection.reach;
  struct source source;
  if (!find_source(job, amplifier->positive, &source)) return;
  tv_reach_walk(system, source.positive, TV_BY_RESISTANCE, TV_NO_CONVERTERS, reach);
  int feed = thinnest(system, reach, amplifier->positive);
  if (feed < 0) return;
  check_feed(job, index, feed, source.most_a);
  tv_reach_walk(system, system->batteries[source.battery].negative, TV_BY_RESISTANCE, TV_ALL, reach);
  if (!tv_reached(reach, amplifier->negative)) return;
  int ground = thinnest(system, reach, amplifier->negative);
  if (ground >= 0 && ohm_per_m(&system->conductors[ground]) > THINNER_RATIO * ohm_per_m(&system->conductors[feed])) {
    struct tailvolt_finding found = tv_finding_of_conductor(job, TAILVOLT_FOUND_GROUND_THINNER, TAILVOLT_HOLDS, ground);
    tv_finding_about(&found, system, TAILVOLT_PART_AMPLIFIER, index);
    tv_finding_about(&found, system, TAILVOLT_PART_CABLE, feed);
    tv_find(job, &found);
  }
}

void tv_rules_ground(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  for (int a = 0; a < system->amplifier_count; a++) {
    check_ground(job, a);
  }
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *c = &system->conductors[k];
    if (tv_is_cable(c)) check_claim(job, k);
    if (tv_is_cable(c) && c->material == TAILVOLT_CLAD_ALUMINIUM) {
      struct tailvolt_finding found = tv_finding_of_conductor(job, TAILVOLT_FOUND_CLAD_ALUMINIUM, TAILVOLT_HOLDS, k);
      found.limit_a = tv_ampacity_with(job->limits, system, c);
      tv_find(job, &found);
    }
  }
}

/* Row k of a result's conductors is conductor k of the system. */
static void check_temperature(struct tv_safety_job *job, int index) {
  const struct tailvolt_conductor_result *row = &job->result->conductors[index];
  double hottest_c = fmax(row->end_c, row->steady_c); /* fmax ignores a NAN */
  double limit_c = row->insulation_limit_c;
  enum tailvolt_finding_kind kind = TAILVOLT_FOUND_NONE;
  enum tailvolt_verdict status = TAILVOLT_FAILS;
  if (isnan(hottest_c) || isnan(limit_c)) {
    return;
  }
  if (isinf(hottest_c)) {
    kind = TAILVOLT_FOUND_CABLE_RUNS_AWAY;
  } else if (hottest_c > limit_c) {
    kind = TAILVOLT_FOUND_CABLE_TOO_HOT;
  } else if (hottest_c > limit_c - job->limits->near_limit_k) {
    kind = TAILVOLT_FOUND_CABLE_NEARLY_TOO_HOT;
    status = TAILVOLT_MARGINAL;
  } else {
    return;
  }
  struct tailvolt_finding found = tv_finding_of_conductor(job, kind, status, index);
  found.temperature_c = hottest_c;
  found.current_a = row->rms_a;
  found.limit_c = limit_c;
  found.margin_k = job->limits->near_limit_k;
  tv_find(job, &found);
}

/* Sheet metal spreads its heat: the body does not burn like a joint. */
static void check_watts(struct tv_safety_job *job, int index) {
  const struct tailvolt_conductor_result *row = &job->result->conductors[index];
  const struct tailvolt_conductor *made = &job->system->conductors[index];
  double watts_w = row->loss_w;
  if (made->role == TAILVOLT_ROLE_BODY) {
    return;
  }
  if (made->kind == TAILVOLT_FUSE) {
    if (made->resistance_ohm <= 0.0) {
      return;
    }
    watts_w *= fmax(0.0, 1.0 - ELEMENT_DROP_V / made->rating_a / made->resistance_ohm);
  }
  bool hot = watts_w > job->limits->joint_fail_w;
  if (!hot && !(watts_w > job->limits->joint_caution_w)) {
    return;
  }
  struct tailvolt_finding found = tv_finding_of_conductor(job, hot ? TAILVOLT_FOUND_JOINT_HOT : TAILVOLT_FOUND_JOINT_WARM,
                                                          hot ? TAILVOLT_FAILS : TAILVOLT_HOLDS, index);
  found.power_w = watts_w;
  found.current_a = row->rms_a;
  found.limit_w = hot ? job->limits->joint_fail_w : job->limits->joint_caution_w;
  tv_find(job, &found);
}

static void check_fuse_load(struct tv_safety_job *job, const struct tailvolt_fuse_result *row) {
  const struct tailvolt_system *system = job->system;
  const struct tailvolt_conductor *made = &system->conductors[row->conductor];
  double air_c = made->place == TAILVOLT_ENGINE_BAY ? tv_air_with(job->limits, system, made) : 25.0;
  double most_a = tv_fuse_continuous_a(row->rating_a, air_c);
  struct tailvolt_finding found =
      tv_finding_of_conductor(job, TAILVOLT_FOUND_FUSE_OPENS, TAILVOLT_FAILS, row->conductor);
  found.limit_a = row->rating_a;
  found.current_a = row->rms_a;
  found.peak_a = row->peak_a;
  if (row->opens) {
    found.time_s = row->opens_time_s;
    tv_find(job, &found);
    return;
  }
  if (row->may_open) {
    found.kind = TAILVOLT_FOUND_FUSE_MAY_OPEN;
    found.status = TAILVOLT_HOLDS;
    tv_find(job, &found);
  }
  if (row->rms_a > most_a) {
    found.kind = TAILVOLT_FOUND_FUSE_LOADED;
    found.status = TAILVOLT_MARGINAL;
    found.most_a = most_a;
    found.air_c = air_c;
    tv_find(job, &found);
  }
}

void tv_rules_result(struct tv_safety_job *job) {
  const struct tailvolt_result *result = job->result;
  for (int k = 0; k < result->conductor_count && k < job->system->conductor_count; k++) {
    if (tv_is_cable(&job->system->conductors[k])) {
      check_temperature(job, k);
    } else {
      check_watts(job, k);
    }
  }
  for (int k = 0; k < result->fuse_count; k++) {
    check_fuse_load(job, &result->fuses[k]);
  }
}

void tv_rules_amplifiers(struct tv_safety_job *job) {
  for (int k = 0; k < job->system->amplifier_count; k++) {
    const struct tailvolt_amplifier *a = &job->system->amplifiers[k];
    if (isnan(a->fuses_a)) {
      continue;
    }
    double needed_a = tv_amplifier_rated_draw_a(a);
    double passes_a = FUSE_FOREVER_FRAC * a->fuses_a;
    if (needed_a > passes_a) {
      struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_AMPLIFIER_FUSES, TAILVOLT_HOLDS);
      tv_finding_about(&found, job->system, TAILVOLT_PART_AMPLIFIER, k);
      found.power_w = a->rated_w;
      found.current_a = needed_a;
      found.limit_a = a->fuses_a;
      found.limit_w = a->rated_w * passes_a / needed_a;
      tv_find(job, &found);
    }
  }
}

static void check_capacitors(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  double highest_v = system->alternator.present ? tv_highest_set_point_v(system) : RESTED_V;
  for (int k = 0; k < system->capacitor_count; k++) {
    const struct tailvolt_capacitor *c = &system->capacitors[k];
    struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_CAPACITOR_PRECHARGE, TAILVOLT_HOLDS);
    tv_finding_about(&found, system, TAILVOLT_PART_CAPACITOR, k);
    found.capacitance_f = c->capacitance_f;
    tv_find(job, &found);
    if (c->rated_v < highest_v) { /* false where not given */
      found.kind = TAILVOLT_FOUND_CAPACITOR_VOLTAGE;
      found.status = TAILVOLT_FAILS;
      found.voltage_v = c->rated_v;
      found.limit_v = highest_v;
      tv_find(job, &found);
    }
  }
}

/* Worst current when a relay joins a charged battery to an empty one, given the fuses on the path. */
static void check_inrush(struct tv_safety_job *job, int isolator, int full, int empty) {
  const struct tailvolt_system *system = job->system;
  const struct tailvolt_isolator *relay = &system->isolators[isolator];
  const struct tailvolt_battery *a = &system->batteries[full];
  const struct tailvolt_battery *b = &system->batteries[empty];
  struct tv_reach *reach = &job->protection.reach;
  tv_reach_walk(system, a->negative, TV_BY_RESISTANCE, TV_ALL, reach);
  double return_ohm = tv_reached(reach, b->negative) ? reach->far[b->negative] : 0.0;
  tv_reach_walk(system, a->positive, TV_BY_RESISTANCE, TV_ALL, reach);
  if (!tv_reached(reach, b->positive)) {
    return;
  }
  bool through = false;
  for (int p = b->positive; reach->previous[p] >= 0; p = reach->previous[p]) {
    through = through || reach->edge[p] == system->conductor_count + isolator;
  }
  if (!through) {
    return;
  }
  double from_v = system->alternator.present ? tv_highest_set_point_v(system) : relay->closes_above_v;
  double loop_ohm = tv_battery_short_ohm(a) + tv_battery_short_ohm(b) + reach->far[b->positive] + return_ohm;
  double inrush_a = (from_v - EMPTY_V) / loop_ohm;
  if (!isnan(relay->rating_a) && inrush_a > relay->rating_a) {
    struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_ISOLATOR_INRUSH, TAILVOLT_MARGINAL);
    tv_finding_about(&found, system, TAILVOLT_PART_ISOLATOR, isolator);
    tv_finding_about(&found, system, TAILVOLT_PART_BATTERY, empty);
    found.current_a = inrush_a;
    found.limit_a = relay->rating_a;
    tv_find(job, &found);
  }
  for (int p = b->positive; reach->previous[p] >= 0; p = reach->previous[p]) {
    int edge = reach->edge[p];
    const struct tailvolt_conductor *c = edge < system->conductor_count ? &system->conductors[edge] : NULL;
    if (c != NULL && c->kind == TAILVOLT_FUSE &&
        tv_fuse_quickest_s(c->fuse_kind, inrush_a / c->rating_a) < INRUSH_S) {
      struct tailvolt_finding found = tv_finding_of_conductor(job, TAILVOLT_FOUND_FUSE_INRUSH, TAILVOLT_HOLDS, edge);
      tv_finding_about(&found, system, TAILVOLT_PART_BATTERY, empty);
      tv_finding_about(&found, system, TAILVOLT_PART_ISOLATOR, isolator);
      found.current_a = inrush_a;
      found.limit_a = c->rating_a;
      tv_find(job, &found);
    }
  }
}

/* The battery next to the alternator is the full one. */
static bool nearer_to_alternator(struct tv_safety_job *job, int battery, int than) {
  const struct tailvolt_system *system = job->system;
  struct tv_reach *reach = &job->protection.reach;
  if (!system->alternator.present) {
    return false;
  }
  tv_reach_walk(system, system->alternator.positive, TV_BY_RESISTANCE, TV_ALL, reach);
  return reach->far[system->batteries[battery].positive] < reach->far[system->batteries[than].positive];
}

static void check_isolators(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  for (int k = 0; k < system->isolator_count; k++) {
    const struct tailvolt_isolator *i = &system->isolators[k];
    struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_CONVERTER_VOLTAGE, TAILVOLT_HOLDS);
    tv_finding_about(&found, system, TAILVOLT_PART_ISOLATOR, k);
    if (i->kind == TAILVOLT_CONVERTER) {
      found.voltage_v = i->output_v;
      found.limit_v = job->limits->post_v;
      if (i->output_v > job->limits->post_v) tv_find(job, &found);
      continue;
    }
    if (isnan(i->rating_a)) {
      found.kind = TAILVOLT_FOUND_ISOLATOR_RATING_UNKNOWN;
      tv_find(job, &found);
    }
    for (int a = 0; i->kind == TAILVOLT_RELAY && a < system->battery_count; a++) {
      for (int b = a + 1; b < system->battery_count; b++) {
        bool swapped = nearer_to_alternator(job, b, a);
        check_inrush(job, k, swapped ? b : a, swapped ? a : b);
      }
    }
  }
}

/* The edge by which the last walk left its start towards a point; -1 = it never left. */
static int first_edge(const struct tv_reach *reach, int point) {
  int edge = -1;
  for (int p = point; p >= 0 && reach->previous[p] >= 0; p = reach->previous[p]) {
    edge = reach->edge[p];
  }
  return edge;
}

/* Batteries that the previous walk reached with no converter between count as joined to the car's own. */
static void check_unseen_batteries(struct tv_safety_job *job, int own) {
  const struct tailvolt_system *system = job->system;
  struct tv_reach *reach = &job->protection.reach;
  tv_reach_walk(system, system->batteries[own].positive, TV_BY_RESISTANCE, TV_NO_CONVERTERS, reach);
  for (int b = 0; b < system->battery_count; b++) {
    if (b == own || !tv_reached(reach, system->batteries[b].positive)) {
      continue;
    }
    struct tailvolt_finding found =
        tv_finding_of_battery(job, TAILVOLT_FOUND_SENSOR_SECOND_BATTERY, TAILVOLT_HOLDS, b);
    tv_find(job, &found);
  }
}

/* The sensor sits on the negative post, in the lead that carries the alternator's current. A car whose computer
 * moves the set point has one, since the computer relies on it (service practice). */
static void check_sensor(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  bool sensor = system->vehicle.battery_sensor || system->vehicle.charging == TAILVOLT_CHARGING_COMPUTER;
  if (!sensor || system->battery_count == 0) {
    return;
  }
  int own = system->engine.starter_battery;
  struct tv_reach *reach = &job->protection.reach;
  int post = system->batteries[own].negative;
  tv_reach_walk(system, post, TV_BY_RESISTANCE, TV_ALL, reach);
  int factory = system->alternator.present ? first_edge(reach, system->alternator.negative) : -1;
  bool bypassed = false;
  for (int k = 0; k < system->amplifier_count; k++) {
    const struct tailvolt_amplifier *a = &system->amplifiers[k];
    int edge = first_edge(reach, a->negative);
    if (a->negative == post || (tv_reached(reach, a->negative) && factory >= 0 && edge != factory)) {
      struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_SENSOR_BYPASSED, TAILVOLT_HOLDS);
      tv_finding_about(&found, system, TAILVOLT_PART_AMPLIFIER, k);
      tv_find(job, &found);
      bypassed = true;
    }
  }
  if (!bypassed) {
    struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_SENSOR_GROUNDS, TAILVOLT_HOLDS);
    tv_finding_about(&found, system, TAILVOLT_PART_VEHICLE, -1);
    tv_find(job, &found);
  }
  check_unseen_batteries(job, own);
}

/* A stated band is what the run was judged by; without one the usual band is given (service practice). */
static void check_charging(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  const struct tailvolt_alternator *a = &system->alternator;
  if (system->vehicle.charging == TAILVOLT_CHARGING_COMPUTER && !(a->set_point_low_v < a->set_point_high_v)) {
    struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_CHARGING_COMPUTER, TAILVOLT_HOLDS);
    tv_finding_about(&found, system, TAILVOLT_PART_VEHICLE, -1);
    found.voltage_v = 12.4;
    found.limit_v = 15.0;
    tv_find(job, &found);
  }
  if (a->present && tv_highest_set_point_v(system) > job->limits->post_v) {
    struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_SET_POINT_HIGH, TAILVOLT_HOLDS);
    tv_finding_about(&found, system, TAILVOLT_PART_ALTERNATOR, -1);
    found.voltage_v = tv_highest_set_point_v(system);
    found.limit_v = job->limits->post_v;
    tv_find(job, &found);
  }
}

void tv_rules_hazards(struct tv_safety_job *job) {
  check_capacitors(job);
  check_isolators(job);
  check_sensor(job);
  check_charging(job);
}
