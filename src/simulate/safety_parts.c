/* Safety rules of the other parts: ground as strong as the feed, heat and watts of a run, amplifiers' own
 * fuses, and the hazards that batteries, capacitors, isolators and charging bring with them. */
#include <math.h>
#include <string.h>

#include "parts/conductor.h"
#include "parts/fuse.h"
#include "simulate/safety_rules.h"

/* Ground may have this much more resistance per metre than the feed before it counts as thinner: sizes of the
 * metric and the AWG series differ by a few per cent. */
static const double THINNER_RATIO = 1.1;
/* Rested voltage of an empty lead-acid battery, for the worst inrush (batteries' table, flooded and AGM). */
static const double EMPTY_V = 11.9;
/* Current a fuse carries for ever: the 110 % gate of ISO 8820-3. */
static const double FUSE_FOREVER_FRAC = 1.1;
/* Share of its rating that a fuse element itself drops at most, V: a fuse warms its holder by design, and
 * only what the holder adds speaks of bad contacts (makers' data sheets of bolt-down fuses, from memory). */
static const double ELEMENT_DROP_V = 0.09;
/* A relay's contacts and the fuses beside it bear an inrush this short (judgement). */
static const double INRUSH_S = 1.0;

static double ohm_per_m(const struct tailvolt_conductor *cable) {
  return cable->length_m > 0.0 ? cable->resistance_ohm / cable->length_m : 0.0;
}

/* Thinnest cable on the way the last walk took to a point; NULL where there is none. */
static const struct tailvolt_conductor *thinnest(const struct tailvolt_system *system,
                                                 const struct tv_reach *reach, int point) {
  const struct tailvolt_conductor *found = NULL;
  for (int p = point; reach->previous[p] >= 0; p = reach->previous[p]) {
    if (reach->edge[p] >= system->conductor_count) {
      continue;
    }
    const struct tailvolt_conductor *c = &system->conductors[reach->edge[p]];
    if (tv_is_cable(c) && (found == NULL || ohm_per_m(c) > ohm_per_m(found))) {
      found = c;
    }
  }
  return found;
}

static void check_ground(struct tv_safety_job *job, const struct tailvolt_amplifier *amplifier) {
  const struct tailvolt_system *system = job->system;
  struct tv_reach *reach = &job->protection.reach;
  for (int b = 0; b < system->battery_count; b++) {
    tv_reach_walk(system, system->batteries[b].positive, TV_BY_RESISTANCE, true, reach);
    if (!tv_reached(reach, amplifier->positive)) {
      continue;
    }
    const struct tailvolt_conductor *feed = thinnest(system, reach, amplifier->positive);
    tv_reach_walk(system, system->batteries[b].negative, TV_BY_RESISTANCE, true, reach);
    if (feed == NULL || !tv_reached(reach, amplifier->negative)) {
      return;
    }
    const struct tailvolt_conductor *ground = thinnest(system, reach, amplifier->negative);
    if (ground != NULL && ohm_per_m(ground) > THINNER_RATIO * ohm_per_m(feed)) {
      char ground_size[40], feed_size[40];
      tv_find(
          job, TV_CAUTION, tv_conductor_word(ground->kind), ground->name,
          "%s %s (%s) on the ground side is thinner than the feed of amplifier %s (%s): make it as strong",
          tv_conductor_word(ground->kind), ground->name, tv_cable_size(ground, ground_size), amplifier->name,
          tv_cable_size(feed, feed_size));
    }
    return;
  }
}

void tv_rules_ground(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  for (int a = 0; a < system->amplifier_count; a++) {
    check_ground(job, &system->amplifiers[a]);
  }
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *c = &system->conductors[k];
    if (tv_is_cable(c) && c->material == TAILVOLT_CLAD_ALUMINIUM) {
      char size[40];
      tv_find(job, TV_CAUTION, tv_conductor_word(c->kind), c->name,
              "%s %s (%s) is clad aluminium: counts as copper 2 sizes thinner, %.0f A at most; crimp, do not "
              "solder, "
              "keep dry",
              tv_conductor_word(c->kind), c->name, tv_cable_size(c, size),
              tv_ampacity_with(job->limits, system, c));
    }
  }
}

/* The conductor of the system that a result row speaks of; NULL where none has its name. */
static const struct tailvolt_conductor *conductor_of(const struct tailvolt_system *system,
                                                     const struct tailvolt_conductor_result *row) {
  for (int k = 0; k < system->conductor_count; k++) {
    if (system->conductors[k].kind == row->kind && strcmp(system->conductors[k].name, row->name) == 0) {
      return &system->conductors[k];
    }
  }
  return NULL;
}

static void check_temperature(struct tv_safety_job *job, const struct tailvolt_conductor_result *row) {
  const char *word = tv_conductor_word(row->kind);
  double hottest_c = fmax(row->end_c, row->steady_c); /* fmax passes over a NAN */
  double limit_c = row->insulation_limit_c;
  if (isnan(hottest_c) || isnan(limit_c)) {
    return;
  }
  if (isinf(hottest_c)) {
    tv_find(job, TV_FAILS, word, row->name,
            "%s %s runs away at %.0f A: no end temperature (insulation for %.0f C)", word, row->name,
            row->rms_a, limit_c);
  } else if (hottest_c > limit_c) {
    tv_find(job, TV_FAILS, word, row->name, "%s %s comes to %.0f C at %.0f A, above its insulation's %.0f C",
            word, row->name, hottest_c, row->rms_a, limit_c);
  } else if (hottest_c > limit_c - job->limits->near_limit_k) {
    tv_find(job, TV_MARGINAL, word, row->name,
            "%s %s comes to %.0f C at %.0f A, within %.0f K of its insulation's %.0f C", word, row->name,
            hottest_c, row->rms_a, job->limits->near_limit_k, limit_c);
  }
}

/* Sheet metal spreads its heat: the shell of the body is no joint that burns. */
static bool is_sheet_metal(const struct tailvolt_conductor_result *row) {
  return strstr(row->name, "shell") != NULL || strstr(row->name, "chassis") != NULL ||
         strcmp(row->name, "body") == 0;
}

static void check_watts(struct tv_safety_job *job, const struct tailvolt_conductor_result *row) {
  double watts_w = row->loss_w;
  const char *what = row->kind == TAILVOLT_FUSE ? "holder of fuse" : "joint";
  if (row->kind == TAILVOLT_FUSE) {
    const struct tailvolt_conductor *fuse = conductor_of(job->system, row);
    if (fuse == NULL || fuse->resistance_ohm <= 0.0) {
      return;
    }
    watts_w *= fmax(0.0, 1.0 - ELEMENT_DROP_V / fuse->rating_a / fuse->resistance_ohm);
  } else if (is_sheet_metal(row)) {
    return;
  }
  if (watts_w > job->limits->joint_fail_w) {
    tv_find(job, TV_FAILS, tv_conductor_word(row->kind), row->name,
            "%s %s turns %.1f W into heat at %.0f A (at most %.0f W): clean and tighten it", what, row->name,
            watts_w, row->rms_a, job->limits->joint_fail_w);
  } else if (watts_w > job->limits->joint_caution_w) {
    tv_find(job, TV_CAUTION, tv_conductor_word(row->kind), row->name,
            "%s %s turns %.1f W into heat at %.0f A: above %.0f W look at it", what, row->name, watts_w,
            row->rms_a, job->limits->joint_caution_w);
  }
}

static void check_fuse_load(struct tv_safety_job *job, const struct tailvolt_fuse_result *row) {
  const struct tailvolt_system *system = job->system;
  double air_c = 25.0;
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *c = &system->conductors[k];
    if (c->kind == TAILVOLT_FUSE && strcmp(c->name, row->name) == 0 && c->place == TAILVOLT_ENGINE_BAY) {
      air_c = tv_air_with(job->limits, system, c);
    }
  }
  double most_a = tv_fuse_continuous_a(row->rating_a, air_c);
  if (row->opens) {
    tv_find(job, TV_FAILS, "fuse", row->name,
            "fuse %s %.0f A opens at %.1f s: %.0f A effective, %.0f A at the peak", row->name, row->rating_a,
            row->opens_time_s, row->rms_a, row->peak_a);
    return;
  }
  if (row->rms_a > most_a) {
    tv_find(job, TV_MARGINAL, "fuse", row->name,
            "fuse %s %.0f A carries %.0f A: %.0f %% of its rating, at most %.0f A for hours in air of %.0f C",
            row->name, row->rating_a, row->rms_a, 100.0 * row->rms_a / row->rating_a, most_a, air_c);
  }
  if (row->may_open) {
    tv_find(job, TV_CAUTION, "fuse", row->name,
            "fuse %s %.0f A may open: a quick one of its kind would have, at %.0f A effective and %.0f A at "
            "the peak",
            row->name, row->rating_a, row->rms_a, row->peak_a);
  }
}

void tv_rules_result(struct tv_safety_job *job) {
  const struct tailvolt_result *result = job->result;
  for (int k = 0; k < result->conductor_count; k++) {
    const struct tailvolt_conductor_result *row = &result->conductors[k];
    if (row->kind == TAILVOLT_CABLE || row->kind == TAILVOLT_STRAP) {
      check_temperature(job, row);
    } else {
      check_watts(job, row);
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
    double needed_a = a->rated_w / (a->efficiency_frac * a->rated_v);
    double passes_a = FUSE_FOREVER_FRAC * a->fuses_a;
    if (needed_a > passes_a) {
      tv_find(job, TV_CAUTION, "amplifier", a->name,
              "amplifier %s: %.0f W would take %.0f A, its own fuses of %.0f A never pass that: about %.0f W "
              "at most",
              a->name, a->rated_w, needed_a, a->fuses_a, a->rated_w * passes_a / needed_a);
    }
  }
}

static const char *kind_word(enum tailvolt_battery_kind kind) {
  switch (kind) {
  case TAILVOLT_EFB:
    return "EFB";
  case TAILVOLT_AGM:
    return "AGM";
  case TAILVOLT_GEL:
    return "gel";
  case TAILVOLT_LITHIUM_IRON:
    return "lithium-iron";
  case TAILVOLT_FLOODED:
    break;
  }
  return "flooded";
}

static bool has_converter(const struct tailvolt_system *system) {
  for (int k = 0; k < system->isolator_count; k++) {
    if (system->isolators[k].kind == TAILVOLT_CONVERTER) {
      return true;
    }
  }
  return false;
}

/* Highest set point in the air of a cold start and of a warm bay. */
static double highest_set_point_v(const struct tailvolt_system *system) {
  const struct tailvolt_alternator *a = &system->alternator;
  double cold_v = a->set_point_v + a->drift_v_per_k * (system->vehicle.ambient_c - 25.0);
  double warm_v = a->set_point_v + a->drift_v_per_k * (system->vehicle.engine_bay_c - 25.0);
  return fmax(cold_v, warm_v);
}

static void check_batteries(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  for (int b = 0; b < system->battery_count; b++) {
    const struct tailvolt_battery *battery = &system->batteries[b];
    if (battery->kind == TAILVOLT_LITHIUM_IRON) {
      tv_find(job, TV_CAUTION, "battery", battery->name,
              "battery %s is lithium-iron: no charging below 0 C, not under the bonnet, its protection may "
              "drop out%s",
              battery->name, has_converter(system) ? "" : "; charge it through a converter");
      if (system->alternator.present && highest_set_point_v(system) > job->limits->lithium_v) {
        tv_find(job, TV_CAUTION, "battery", battery->name,
                "battery %s: the alternator's %.1f V is above the %.1f V that lithium-iron cells bear",
                battery->name, highest_set_point_v(system), job->limits->lithium_v);
      }
    }
    if (b > 0) {
      bool wet = battery->kind == TAILVOLT_FLOODED || battery->kind == TAILVOLT_EFB;
      tv_find(job, TV_CAUTION, "battery", battery->name,
              "battery %s (%s) in the cabin: %s, fastened, posts covered, vented outside where it can gas",
              battery->name, kind_word(battery->kind), wet ? "only a sealed kind belongs there" : "sealed");
    }
  }
}

static void check_capacitors(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  for (int k = 0; k < system->capacitor_count; k++) {
    const struct tailvolt_capacitor *c = &system->capacitors[k];
    tv_find(job, TV_CAUTION, "capacitor", c->name,
            "capacitor %s (%.3g F): pre-charge it through a resistor or lamp before connecting, discharge it "
            "before "
            "work; cells in series need balancing",
            c->name, c->capacitance_f);
    double highest_v = system->alternator.present ? highest_set_point_v(system) : 12.9;
    if (!isnan(c->rated_v) && c->rated_v < highest_v) {
      tv_find(job, TV_FAILS, "capacitor", c->name,
              "capacitor %s is rated %.1f V, below the charging voltage of %.1f V", c->name, c->rated_v,
              highest_v);
    }
  }
}

/* Worst current when a relay joins a charged battery to an empty one, with the fuses on the way. */
static void check_inrush(struct tv_safety_job *job, int isolator, int full, int empty) {
  const struct tailvolt_system *system = job->system;
  const struct tailvolt_isolator *relay = &system->isolators[isolator];
  const struct tailvolt_battery *a = &system->batteries[full];
  const struct tailvolt_battery *b = &system->batteries[empty];
  struct tv_reach *reach = &job->protection.reach;
  tv_reach_walk(system, a->negative, TV_BY_RESISTANCE, true, reach);
  double return_ohm = tv_reached(reach, b->negative) ? reach->far[b->negative] : 0.0;
  tv_reach_walk(system, a->positive, TV_BY_RESISTANCE, true, reach);
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
  double from_v = system->alternator.present ? highest_set_point_v(system) : relay->closes_above_v;
  double loop_ohm = tv_battery_short_ohm(a) + tv_battery_short_ohm(b) + reach->far[b->positive] + return_ohm;
  double inrush_a = (from_v - EMPTY_V) / loop_ohm;
  if (!isnan(relay->rating_a) && inrush_a > relay->rating_a) {
    tv_find(job, TV_MARGINAL, "isolator", relay->name,
            "isolator %s may have to close onto %.0f A when battery %s is empty, above its %.0f A",
            relay->name, inrush_a, b->name, relay->rating_a);
  }
  for (int p = b->positive; reach->previous[p] >= 0; p = reach->previous[p]) {
    int edge = reach->edge[p];
    const struct tailvolt_conductor *c = edge < system->conductor_count ? &system->conductors[edge] : NULL;
    if (c != NULL && c->kind == TAILVOLT_FUSE &&
        tv_fuse_quickest_s(c->fuse_kind, inrush_a / c->rating_a) < INRUSH_S) {
      tv_find(job, TV_CAUTION, "fuse", c->name,
              "fuse %s %.0f A may open when isolator %s joins an empty battery %s: up to %.0f A", c->name,
              c->rating_a, relay->name, b->name, inrush_a);
    }
  }
}

/* The battery at the alternator is the full one. */
static bool nearer_to_alternator(struct tv_safety_job *job, int battery, int than) {
  const struct tailvolt_system *system = job->system;
  struct tv_reach *reach = &job->protection.reach;
  if (!system->alternator.present) {
    return false;
  }
  tv_reach_walk(system, system->alternator.positive, TV_BY_RESISTANCE, true, reach);
  return reach->far[system->batteries[battery].positive] < reach->far[system->batteries[than].positive];
}

static void check_isolators(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  for (int k = 0; k < system->isolator_count; k++) {
    const struct tailvolt_isolator *i = &system->isolators[k];
    if (i->kind == TAILVOLT_CONVERTER) {
      if (i->output_v > job->limits->post_v) {
        tv_find(job, TV_CAUTION, "isolator", i->name,
                "isolator %s gives %.1f V: above %.1f V lamps and electronics suffer", i->name, i->output_v,
                job->limits->post_v);
      }
      continue;
    }
    if (isnan(i->rating_a)) {
      tv_find(job, TV_CAUTION, "isolator", i->name,
              "isolator %s: its rating is not stated, so its current could not be checked", i->name);
    }
    for (int a = 0; i->kind == TAILVOLT_RELAY && a < system->battery_count; a++) {
      for (int b = a + 1; b < system->battery_count; b++) {
        bool other_way = nearer_to_alternator(job, b, a);
        check_inrush(job, k, other_way ? b : a, other_way ? a : b);
      }
    }
  }
}

/* The edge by which the last walk left its start towards a point; -1 = never left. */
static int first_edge(const struct tv_reach *reach, int point) {
  int edge = -1;
  for (int p = point; p >= 0 && reach->previous[p] >= 0; p = reach->previous[p]) {
    edge = reach->edge[p];
  }
  return edge;
}

/* The sensor sits on the negative post, in the lead that the alternator's current takes. */
static void check_sensor(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  if (!system->vehicle.battery_sensor || system->battery_count == 0) {
    return;
  }
  struct tv_reach *reach = &job->protection.reach;
  int post = system->batteries[0].negative;
  tv_reach_walk(system, post, TV_BY_RESISTANCE, true, reach);
  int factory = system->alternator.present ? first_edge(reach, system->alternator.negative) : -1;
  bool found = false;
  for (int k = 0; k < system->amplifier_count; k++) {
    const struct tailvolt_amplifier *a = &system->amplifiers[k];
    int edge = first_edge(reach, a->negative);
    if (a->negative == post || (tv_reached(reach, a->negative) && factory >= 0 && edge != factory)) {
      found = true;
      tv_find(job, TV_CAUTION, "amplifier", a->name,
              "amplifier %s is earthed at the battery's post and bypasses the battery sensor: earth it to "
              "the body",
              a->name);
    }
  }
  if (!found) {
    tv_find(
        job, TV_CAUTION, "vehicle", "",
        "the car has a battery sensor: every ground goes to the body, none to the battery's negative post");
  }
}

static void check_charging(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  if (system->vehicle.charging == TAILVOLT_CHARGING_COMPUTER) {
    tv_find(job, TV_CAUTION, "vehicle", "",
            "computer-controlled charging lets the set point swing from 12.4 to 15.0 V: try both ends in the "
            "profile");
  }
  if (system->vehicle.charging == TAILVOLT_CHARGING_CONVERTER) {
    tv_find(job, TV_CAUTION, "vehicle", "",
            "hybrid: the 12 V converter's limit is all there is; do not touch orange cable, it may carry "
            "hundreds of "
            "volts");
  }
  if (system->alternator.present && highest_set_point_v(system) > job->limits->post_v) {
    tv_find(
        job, TV_CAUTION, "alternator", "",
        "alternator: a set point of %.1f V puts the posts above %.1f V, where lamps and electronics suffer",
        highest_set_point_v(system), job->limits->post_v);
  }
}

void tv_rules_hazards(struct tv_safety_job *job) {
  check_batteries(job);
  check_capacitors(job);
  check_isolators(job);
  check_sensor(job);
  check_charging(job);
}
