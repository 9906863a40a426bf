/* Safety rules of fuses and cables: every positive cable at a battery fused, near to it, no fuse above what
 * the cables behind it carry, none in a ground lead. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "parts/fuse.h"
#include "simulate/safety_rules.h"

/* Marks every conductor on the way from the walk's start to a point. */
static void mark_way(const struct tailvolt_system *system, const struct tv_reach *reach, int point,
                     bool *mark) {
  for (int p = point; reach->previous[p] >= 0; p = reach->previous[p]) {
    if (reach->edge[p] < system->conductor_count) {
      mark[reach->edge[p]] = true;
    }
  }
}

/* True where the last walk, begun at this battery's post, came to a point without passing another battery's
 * post: what lies beyond is that battery's affair. */
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

/* Any marked conductor on the way to a point. */
static bool way_has(const struct tailvolt_system *system, const struct tv_reach *reach, int point,
                    const bool *mark) {
  for (int p = point; reach->previous[p] >= 0; p = reach->previous[p]) {
    if (reach->edge[p] < system->conductor_count && mark[reach->edge[p]]) {
      return true;
    }
  }
  return false;
}

static void check_distance(struct tv_safety_job *job, const struct tailvolt_battery *battery,
                           const struct tailvolt_conductor *fuse, double way_m) {
  const struct tv_safety_limits *limits = job->limits;
  /* a stated distance is part of a cable's length: it never adds to a cable that is drawn; fmax passes over a
   * NAN */
  double distance_m = fmax(way_m, fuse->distance_m);
  char far[24], most[24];
  tv_length_text(distance_m, far);
  tv_length_text(limits->fuse_distance_m, most);
  if (distance_m > limits->fuse_distance_fail_m + 1e-9) {
    tv_find(job, TV_FAILS, "fuse", fuse->name,
            "fuse %s is %s of cable from battery %s: that cable counts as unfused (at most %s)", fuse->name,
            far, battery->name, most);
  } else if (distance_m > limits->fuse_distance_m + 1e-9) {
    tv_find(job, TV_MARGINAL, "fuse", fuse->name, "fuse %s is %s of cable from battery %s (at most %s)",
            fuse->name, far, battery->name, most);
  } else if (isnan(fuse->distance_m) && way_m <= 0.0) {
    tv_find(job, TV_CAUTION, "fuse", fuse->name,
            "fuse %s: its distance from battery %s is not stated; at most %s of cable", fuse->name,
            battery->name, most);
  }
}

/* Cables that leave the battery without a fuse and are no factory lead. */
static void check_unfused(struct tv_safety_job *job, const struct tailvolt_battery *battery,
                          const bool *to_fuse, const bool *factory, bool *bad) {
  const struct tailvolt_system *system = job->system;
  const struct tv_reach *reach = &job->protection.reach;
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *c = &system->conductors[k];
    bool reached = own(system, reach, battery, c->from) || own(system, reach, battery, c->to);
    bad[k] = tv_is_cable(c) && reached && !to_fuse[k] && !factory[k] && strstr(c->name, "starter") == NULL;
  }
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *c = &system->conductors[k];
    if (factory[k] && tv_is_cable(c)) {
      tv_find(
          job, TV_CAUTION, tv_conductor_word(c->kind), c->name,
          "%s %s at battery %s has no fuse: customary for a factory charge lead, fuse it when you replace it",
          tv_conductor_word(c->kind), c->name, battery->name);
    }
    if (!bad[k]) {
      continue;
    }
    int near = reach->far[c->from] <= reach->far[c->to] ? c->from : c->to;
    bool reported = false; /* behind a cable that is already named */
    for (int p = near; reach->previous[p] >= 0; p = reach->previous[p]) {
      int edge = reach->edge[p];
      reported = reported || (edge < system->conductor_count && edge != k && bad[edge]);
    }
    if (!reported) {
      char size[40], most[24];
      job->next = (struct tv_finding){.rule = TV_RULE_UNFUSED, .conductor = k, .at_from = near == c->from};
      tv_find(job, TV_FAILS, tv_conductor_word(c->kind), c->name,
              "%s %s (%s) at battery %s has no fuse: one is needed within %s of cable from its post",
              tv_conductor_word(c->kind), c->name, tv_cable_size(c, size), battery->name,
              tv_length_text(job->limits->fuse_distance_m, most));
    }
  }
}

/* An amplifier that a battery reaches through joints alone. */
static void check_bare_feeds(struct tv_safety_job *job, const struct tailvolt_battery *battery,
                             const bool *bad) {
  const struct tailvolt_system *system = job->system;
  const struct tv_reach *reach = &job->protection.reach;
  for (int a = 0; a < system->amplifier_count; a++) {
    const struct tailvolt_amplifier *amplifier = &system->amplifiers[a];
    if (own(system, reach, battery, amplifier->positive) &&
        !way_has(system, reach, amplifier->positive, bad)) {
      tv_find(job, TV_CAUTION, "amplifier", amplifier->name,
              "amplifier %s is fed from battery %s without a fuse", amplifier->name, battery->name);
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

void tv_rules_battery_cables(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  struct tv_reach *reach = &job->protection.reach;
  size_t count = (size_t)system->conductor_count + 1;
  bool *mark = calloc(3 * count, sizeof *mark); /* on the way to a fuse; factory lead; without a fuse */
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
    tv_reach_walk(system, battery->positive, TV_BY_LENGTH, false, reach);
    for (int k = 0; k < system->conductor_count; k++) {
      const struct tailvolt_conductor *fuse = &system->conductors[k];
      bool at_from = own(system, reach, battery, fuse->from);
      if (fuse->kind != TAILVOLT_FUSE || !(at_from || own(system, reach, battery, fuse->to))) {
        continue;
      }
      int near = at_from ? fuse->from : fuse->to;
      mark_way(system, reach, near, to_fuse);
      check_distance(job, battery, fuse, reach->far[near]);
    }
    if (system->alternator.present && own(system, reach, battery, system->alternator.positive)) {
      mark_way(system, reach, system->alternator.positive, factory);
    }
    check_unfused(job, battery, to_fuse, factory, bad);
    check_bare_feeds(job, battery, bad);
  }
  free(mark);
}

/* Greatest and least ampacity among the cables that one fuse protects. */
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

/* "(at most 60 A)" or that none of the kind is small enough. */
static void most_text(enum tailvolt_fuse_kind kind, double ampacity_a, char text[48]) {
  double most_a = tv_fuse_largest_rating_a(kind, ampacity_a);
  if (isnan(most_a)) {
    snprintf(text, 48, "no fuse of this kind is small enough");
  } else {
    snprintf(text, 48, "at most %.0f A", most_a);
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
  char size[40], most[48], thick_size[40];
  const struct tailvolt_conductor *thick = &system->conductors[strongest];
  most_text(fuse->fuse_kind, least_a, most);
  tv_cable_size(thin, size);
  double air_c = tv_air_with(job->limits, system, thin);
  if (fuse->rating_a <= tv_ampacity_with(job->limits, system, thick)) {
    tv_find(
        job, TV_FAILS, "fuse", fuse->name,
        "fuse %s %.0f A suits %s but not %s of cable %s behind it (%s): a fuse of its own at the step down",
        fuse->name, fuse->rating_a, tv_cable_size(thick, thick_size), size, thin->name, most);
    return;
  }
  tv_find(job, TV_FAILS, "fuse", fuse->name,
          "fuse %s %.0f A too big for %s%s (%s): cable %s carries %.0f A in air of %.0f C with insulation "
          "for %.0f C",
          fuse->name, fuse->rating_a, size,
          thin->material == TAILVOLT_CLAD_ALUMINIUM ? " clad aluminium" : "", most, thin->name, least_a,
          air_c, thin->insulation_limit_c);
}

/* A fuse for a lower voltage may not put out its arc. Road vehicles of 12 V: 32 V (ISO 8820-3). */
static void check_voltage(struct tv_safety_job *job, const struct tailvolt_conductor *fuse) {
  const double standard_v = 32.0, charging_most_v = 16.0; /* the latter: ISO 16750-2, code C */
  if (fuse->rated_v > 0.0 && fuse->rated_v < charging_most_v) {
    tv_find(job, TV_FAILS, "fuse", fuse->name,
            "fuse %s is rated %.0f V, below the %.0f V that a 12 V car may reach: it may go on burning", fuse->name,
            fuse->rated_v, charging_most_v);
  } else if (fuse->rated_v > 0.0 && fuse->rated_v < standard_v) {
    tv_find(job, TV_CAUTION, "fuse", fuse->name, "fuse %s is rated %.0f V: fuses for cars are made for %.0f V",
            fuse->name, fuse->rated_v, standard_v);
  }
}

static void check_breaking(struct tv_safety_job *job, const struct tailvolt_battery *battery) {
  const struct tailvolt_system *system = job->system;
  struct tv_reach *reach = &job->protection.reach;
  tv_reach_walk(system, battery->positive, TV_BY_RESISTANCE, false, reach);
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *fuse = &system->conductors[k];
    if (fuse->kind != TAILVOLT_FUSE || !(tv_reached(reach, fuse->from) || tv_reached(reach, fuse->to))) {
      continue;
    }
    double way_ohm = fmin(reach->far[fuse->from], reach->far[fuse->to]);
    double short_a = 12.6 / (tv_battery_short_ohm(battery) + way_ohm + fuse->resistance_ohm);
    double breaks_a = tv_fuse_breaking_capacity_a(fuse->fuse_kind);
    if (short_a > breaks_a) {
      tv_find(job, TV_CAUTION, "fuse", fuse->name,
              "fuse %s: a short circuit just behind it could draw %.0f A, more than the %.0f A such a fuse "
              "is made to "
              "break: keep that stretch sheathed",
              fuse->name, round(short_a / 100.0) * 100.0, breaks_a);
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
      tv_find(
          job, TV_MARGINAL, "fuse", fuse->name,
          "fuse %s is in a ground lead, where none belongs: when it opens the current takes the signal leads",
          fuse->name);
      continue;
    }
    check_rating(job, k);
    check_voltage(job, fuse);
  }
  for (int b = 0; b < system->battery_count; b++) {
    check_breaking(job, &system->batteries[b]);
  }
}
