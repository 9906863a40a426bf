/* Safety rules for fuses and cables: every positive cable at a battery fused, close to it, no fuse above what
 * the cables after it can carry, none in a ground lead. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "parts/fuse.h"
#include "simulate/safety_rules.h"

/* Marks every conductor on the path from the walk's start to a point. */
static void mark_path(const struct tailvolt_system *system, const struct tv_reach *reach, int point,
                      bool *mark) {
  for (int p = point; reach->previous[p] >= 0; p = reach->previous[p]) {
    if (reach->edge[p] < system->conductor_count) {
      mark[reach->edge[p]] = true;
    }
  }
}

/* True where the last walk, begun at this battery's post, reached a point without passing another battery's
 * post: anything beyond belongs to that battery. */
static bool own(const struct tailvolt_system *system, const struct tv_reach *reach,
                const struct tailvolt_battery *battery, int point) {
  if (!tv_reached(reach, point)) {
    return false;
  }
  for (int p = point; p >= 0; p = reach->previous[p]) {
    for (int b = 0; b < system->battery_count; b++) {
      if (system->batteries[b].positive == p && p != battery->positive) {
        return false;
      }
    }
  }
  return true;
}

/* Whether any marked conductor is on the path to a point. */
static bool path_has(const struct tailvolt_system *system, const struct tv_reach *reach, int point,
                     const bool *mark) {
  for (int p = point; reach->previous[p] >= 0; p = reach->previous[p]) {
    if (reach->edge[p] < system->conductor_count && mark[reach->edge[p]]) {
      return true;
    }
  }
  return false;
}

/* Where inches are used the same rule says 18 in, which are 45.72 cm. */
static const double ROUNDED_OFF_M = 0.0073;

static void check_distance(struct tv_safety_job *job, int battery, int index, double path_m) {
  const struct tv_safety_limits *limits = job->limits;
  const struct tailvolt_conductor *fuse = &job->system->conductors[index];
  /* a stated distance is part of a cable's length and never adds to a cable that is drawn; fmax ignores a
   * NAN */
  double distance_m = fmax(path_m, fuse->distance_m);
  enum tailvolt_finding_kind kind = TAILVOLT_FOUND_NONE;
  enum tailvolt_verdict status = TAILVOLT_HOLDS;
  if (fuse->assumed) {
    kind = TAILVOLT_FOUND_FUSE_ASSUMED;
  } else if (distance_m > limits->fuse_distance_fail_m + 1e-9) {
    kind = TAILVOLT_FOUND_FUSE_UNUSABLY_FAR;
    status = TAILVOLT_FAILS;
  } else if (distance_m > limits->fuse_distance_m + ROUNDED_OFF_M) {
    kind = TAILVOLT_FOUND_FUSE_FAR;
    status = TAILVOLT_MARGINAL;
  } else if (isnan(fuse->distance_m) && path_m <= 0.0) {
    kind = TAILVOLT_FOUND_FUSE_PLACE_UNKNOWN;
  } else {
    return;
  }
  struct tailvolt_finding found = tv_finding_of_conductor(job, kind, status, index);
  tv_finding_about(&found, job->system, TAILVOLT_PART_BATTERY, battery);
  found.current_a = fuse->rating_a;
  found.length_m = distance_m;
  /* the distance assumed for an assumed fuse is where it must go */
  found.limit_m = fuse->assumed && isfinite(fuse->distance_m) ? fuse->distance_m : limits->fuse_distance_m;
  tv_find(job, &found);
}

/* Cables that leave the battery without a fuse and are not factory leads. */
static void check_unfused(struct tv_safety_job *job, int index, const bool *to_fuse, const bool *factory, bool *bad) {
  const struct tailvolt_system *system = job->system;
  const struct tailvolt_battery *battery = &system->batteries[index];
  const struct tv_reach *reach = &job->protection.reach;
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *c = &system->conductors[k];
    bool reached = own(system, reach, battery, c->from) || own(system, reach, battery, c->to);
    bad[k] = tv_is_cable(c) && reached && !to_fuse[k] && !factory[k] && c->role != TAILVOLT_ROLE_STARTER_LEAD;
  }
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *c = &system->conductors[k];
    if (factory[k] && tv_is_cable(c)) {
      struct tailvolt_finding found =
          tv_finding_of_conductor(job, TAILVOLT_FOUND_CABLE_UNFUSED_FACTORY, TAILVOLT_HOLDS, k);
      tv_finding_about(&found, system, TAILVOLT_PART_BATTERY, index);
      tv_find(job, &found);
    }
    if (!bad[k]) {
      continue;
    }
    int near = reach->far[c->from] <= reach->far[c->to] ? c->from : c->to;
    bool reported = false; /* after a cable that is already named */
    for (int p = near; reach->previous[p] >= 0; p = reach->previous[p]) {
      int edge = reach->edge[p];
      reported = reported || (edge < system->conductor_count && edge != k && bad[edge]);
    }
    if (!reported) {
      struct tailvolt_finding found = tv_finding_of_conductor(job, TAILVOLT_FOUND_CABLE_UNFUSED, TAILVOLT_FAILS, k);
      tv_finding_about(&found, system, TAILVOLT_PART_BATTERY, index);
      found.limit_m = job->limits->fuse_distance_m;
      found.at_from = near == c->from;
      tv_find(job, &found);
    }
  }
}

/* An amplifier that a battery reaches through joints alone. */
static void check_bare_feeds(struct tv_safety_job *job, int index, const bool *bad) {
  const struct tailvolt_system *system = job->system;
  const struct tailvolt_battery *battery = &system->batteries[index];
  const struct tv_reach *reach = &job->protection.reach;
  for (int a = 0; a < system->amplifier_count; a++) {
    const struct tailvolt_amplifier *amplifier = &system->amplifiers[a];
    if (own(system, reach, battery, amplifier->positive) &&
        !path_has(system, reach, amplifier->positive, bad)) {
      struct tailvolt_finding found = tv_finding(TAILVOLT_FOUND_AMPLIFIER_UNFUSED, TAILVOLT_HOLDS);
      tv_finding_about(&found, system, TAILVOLT_PART_AMPLIFIER, a);
      tv_finding_about(&found, system, TAILVOLT_PART_BATTERY, index);
      tv_find(job, &found);
    }
  }
}

static bool same_post_before(const struct tailvolt_system *system, int battery) {
  for (int b = 0; b < battery; b++) {
    if (system->batteries[b].positive == system->batteries[battery].positive) {
      return true;
    }
  }
  return false;
}

/* A fuse that is only assumed, at a block or between others; with the cable that it is there for. */
static void find_inside(struct tv_safety_job *job, int index) {
  const struct tailvolt_system *system = job->system;
  const struct tailvolt_conductor *fuse = &system->conductors[index];
  int cable = -1;
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *c = &system->conductors[k];
    bool behind = c->from == fuse->to || c->to == fuse->to;
    if (tv_is_cable(c) && (behind || (cable < 0 && (c->from == fuse->from || c->to == fuse->from)))) cable = k;
  }
  struct tailvolt_finding found = tv_finding_of_conductor(job, TAILVOLT_FOUND_FUSE_ASSUMED_INSIDE, TAILVOLT_HOLDS, index);
  if (cable >= 0) tv_finding_about(&found, system, TAILVOLT_PART_CABLE, cable);
  found.current_a = fuse->rating_a;
  tv_find(job, &found);
}

void tv_rules_battery_cables(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  struct tv_reach *reach = &job->protection.reach;
  size_t count = (size_t)system->conductor_count + 1;
  /* on the path to a fuse; factory lead; without a fuse; a fuse beside a battery */
  bool *mark = calloc(4 * count, sizeof *mark), *beside = mark + 3 * count;
  if (mark == NULL) {
    job->status = TAILVOLT_NO_MEMORY;
    return;
  }
  for (int b = 0; b < system->battery_count; b++) {
    const struct tailvolt_battery *battery = &system->batteries[b];
    if (same_post_before(system, b)) {
      continue;
    }
    memset(mark, 0, 3 * count * sizeof *mark);
    bool *to_fuse = mark, *factory = mark + count, *bad = mark + 2 * count;
    tv_reach_walk(system, battery->positive, TV_BY_LENGTH, TV_NO_FUSES, reach);
    for (int k = 0; k < system->conductor_count; k++) {
      const struct tailvolt_conductor *fuse = &system->conductors[k];
      bool at_from = own(system, reach, battery, fuse->from);
      if (fuse->kind != TAILVOLT_FUSE || !(at_from || own(system, reach, battery, fuse->to))) {
        continue;
      }
      int near = at_from ? fuse->from : fuse->to;
      mark_path(system, reach, near, to_fuse);
      beside[k] = true;
      check_distance(job, b, k, reach->far[near]);
    }
    if (system->alternator.present && own(system, reach, battery, system->alternator.positive)) {
      mark_path(system, reach, system->alternator.positive, factory);
    }
    check_unfused(job, b, to_fuse, factory, bad);
    check_bare_feeds(job, b, bad);
  }
  for (int k = 0; k < system->conductor_count; k++)
    if (system->conductors[k].kind == TAILVOLT_FUSE && system->conductors[k].assumed && !beside[k]) find_inside(job, k);
  free(mark);
}

/* Highest and lowest ampacity among the cables that one fuse protects. */
static void extremes(const struct tv_safety_job *job, int fuse, int *strongest, int *weakest) {
  const struct tailvolt_system *system = job->system;
  double most_a = -1.0, least_a = (double)INFINITY;
  *strongest = *weakest = -1;
  for (int k = 0; k < system->conductor_count; k++) {
    if (!job->protection.by[fuse * system->conductor_count + k] || job->protection.unfused[k]) {
      continue;
    }
    double a = tv_ampacity_with(job->limits, system, &system->conductors[k]);
    if (a > most_a) {
      most_a = a;
      *strongest = k;
    }
    if (a < least_a) {
      least_a = a;
      *weakest = k;
    }
  }
}

static void check_rating(struct tv_safety_job *job, int fuse_index) {
  const struct tailvolt_system *system = job->system;
  const struct tailvolt_conductor *fuse = &system->conductors[fuse_index];
  int strongest, weakest;
  extremes(job, fuse_index, &strongest, &weakest);
  if (weakest < 0) {
    return;
  }
  const struct tailvolt_conductor *thin = &system->conductors[weakest];
  double least_a = tv_ampacity_with(job->limits, system, thin);
  if (fuse->rating_a <= least_a) {
    return;
  }
  bool step_down = fuse->rating_a <= tv_ampacity_with(job->limits, system, &system->conductors[strongest]);
  struct tailvolt_finding found = tv_finding_of_conductor(
      job, step_down ? TAILVOLT_FOUND_FUSE_NO_STEP_DOWN : TAILVOLT_FOUND_FUSE_TOO_BIG, TAILVOLT_FAILS, fuse_index);
  tv_finding_about(&found, system, TAILVOLT_PART_CABLE, weakest);
  if (step_down) tv_finding_about(&found, system, TAILVOLT_PART_CABLE, strongest);
  found.current_a = fuse->rating_a;
  found.most_a = tv_fuse_largest_rating_a(fuse->fuse_kind, least_a);
  found.limit_a = least_a;
  found.air_c = tv_air_with(job->limits, system, thin);
  found.limit_c = thin->insulation_limit_c;
  found.clad = thin->material == TAILVOLT_CLAD_ALUMINIUM;
  tv_find(job, &found);
}

/* A fuse rated for a lower voltage may not quench its arc. 12 V road vehicles: 32 V (ISO 8820-3). */
static void check_voltage(struct tv_safety_job *job, int index) {
  const struct tailvolt_conductor *fuse = &job->system->conductors[index];
  const double standard_v = 32.0, charging_most_v = 16.0; /* the latter: ISO 16750-2, code C */
  if (!(fuse->rated_v > 0.0) || fuse->rated_v >= standard_v) return;
  bool low = fuse->rated_v < charging_most_v;
  struct tailvolt_finding found =
      tv_finding_of_conductor(job, low ? TAILVOLT_FOUND_FUSE_VOLTAGE : TAILVOLT_FOUND_FUSE_VOLTAGE_UNUSUAL,
                              low ? TAILVOLT_FAILS : TAILVOLT_HOLDS, index);
  found.voltage_v = fuse->rated_v;
  found.limit_v = low ? charging_most_v : standard_v;
  tv_find(job, &found);
}

static void check_breaking(struct tv_safety_job *job, const struct tailvolt_battery *battery) {
  const struct tailvolt_system *system = job->system;
  struct tv_reach *reach = &job->protection.reach;
  tv_reach_walk(system, battery->positive, TV_BY_RESISTANCE, TV_NO_FUSES, reach);
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *fuse = &system->conductors[k];
    if (fuse->kind != TAILVOLT_FUSE || !(tv_reached(reach, fuse->from) || tv_reached(reach, fuse->to))) {
      continue;
    }
    double path_ohm = fmin(reach->far[fuse->from], reach->far[fuse->to]);
    double short_a = 12.6 / (tv_battery_short_ohm(battery) + path_ohm + fuse->resistance_ohm);
    double breaks_a = tv_fuse_breaking_capacity_a(fuse->fuse_kind);
    if (short_a > breaks_a) {
      struct tailvolt_finding found = tv_finding_of_conductor(job, TAILVOLT_FOUND_FUSE_BREAKING, TAILVOLT_HOLDS, k);
      found.current_a = short_a;
      found.limit_a = breaks_a;
      tv_find(job, &found);
    }
  }
}

void tv_rules_fuse_ratings(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *fuse = &system->conductors[k];
    if (fuse->kind != TAILVOLT_FUSE) {
      continue;
    }
    const struct tv_protection *sides = &job->protection;
    bool positive = sides->positive[fuse->from] || sides->positive[fuse->to];
    if (!positive && (sides->ground[fuse->from] || sides->ground[fuse->to])) {
      struct tailvolt_finding found = tv_finding_of_conductor(job, TAILVOLT_FOUND_FUSE_IN_GROUND, TAILVOLT_MARGINAL, k);
      tv_find(job, &found);
      continue;
    }
    check_rating(job, k);
    check_voltage(job, k);
  }
  for (int b = 0; b < system->battery_count; b++) {
    check_breaking(job, &system->batteries[b]);
  }
}
