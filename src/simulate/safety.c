/* Safety findings: the list, what a cable may carry, which fuse goes with it. The rules stand in
 * safety_fuses.c and safety_parts.c. */
#include "simulate/safety.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "parts/conductor.h"
#include "parts/fuse.h"
#include "simulate/safety_rules.h"
#include "text/finding_text.h"
#include "text/number.h"
#include "text/text.h"
#include "text/words.h"

/* Share of its rating at which a fuse carries a load for hours (a published fuse handbook). */
static const double CONTINUOUS_FRAC = 0.75;

struct tv_safety_limits tv_safety_default_limits(void) {
  struct tv_safety_limits limits = {.fuse_distance_m = 0.45,
                                    .fuse_distance_fail_m = 1.8,
                                    .joint_caution_w = 3.0,
                                    .joint_fail_w = 8.0,
                                    .near_limit_k = 10.0,
                                    .cabin_air_c = 40.0,
                                    .post_v = 15.0,
                                    .lithium_v = 14.6,
                                    .lithium_cold_c = 0.0,
                                    .lithium_hot_c = 55.0};
  return limits;
}

double tv_air_with(const struct tv_safety_limits *limits, const struct tailvolt_system *system,
                   const struct tailvolt_conductor *conductor) {
  if (conductor->place == TAILVOLT_ENGINE_BAY) {
    return fmax(system->vehicle.engine_bay_c, system->vehicle.ambient_c);
  }
  return fmax(system->vehicle.ambient_c, limits->cabin_air_c);
}

double tv_ampacity_with(const struct tv_safety_limits *limits, const struct tailvolt_system *system,
                        const struct tailvolt_conductor *cable) {
  struct tailvolt_conductor counted = *cable;
  if (cable->material == TAILVOLT_CLAD_ALUMINIUM) {
    /* the copper cable of the same resistance is two gauges thinner and so has less surface (ASTM B258 law)
     */
    counted.outer_m *= pow(92.0, -2.0 / 39.0);
  }
  return tv_conductor_ampacity_a(&counted, cable->insulation_limit_c, tv_air_with(limits, system, cable));
}

double tv_battery_short_ohm(const struct tailvolt_battery *battery) {
  if (!isnan(battery->resistance_ohm)) {
    return battery->resistance_ohm;
  }
  /* warm about 0.55 of the resistance that the cold cranking test at -18 C shows */
  double held_v = battery->cold_cranking_standard == TAILVOLT_EN    ? 7.5
                  : battery->cold_cranking_standard == TAILVOLT_SAE ? 7.2
                                                                    : 9.0;
  return 0.55 * (12.5 - held_v) / battery->cold_cranking_a;
}

double tv_safety_air_c(const struct tailvolt_system *system, const struct tailvolt_conductor *conductor) {
  struct tv_safety_limits limits = tv_safety_default_limits();
  return tv_air_with(&limits, system, conductor);
}

double tv_safety_ampacity_a(const struct tailvolt_system *system, const struct tailvolt_conductor *cable) {
  struct tv_safety_limits limits = tv_safety_default_limits();
  return tv_ampacity_with(&limits, system, cable);
}

double tv_safety_largest_fuse_a(const struct tailvolt_system *system, const struct tailvolt_conductor *cable,
                                enum tailvolt_fuse_kind kind) {
  return tv_fuse_largest_rating_a(kind, tv_safety_ampacity_a(system, cable));
}

double tv_safety_fuse_for_cable(const struct tailvolt_system *system, const struct tailvolt_conductor *cable,
                                enum tailvolt_fuse_kind kind, double rms_a) {
  return tv_fuse_standard_rating_a(kind, rms_a / CONTINUOUS_FRAC, tv_safety_ampacity_a(system, cable));
}

struct tailvolt_finding tv_finding(enum tailvolt_finding_kind kind, enum tailvolt_verdict status) {
  const double none = (double)NAN;
  return (struct tailvolt_finding){.kind = kind, .status = status,
      .current_a = none, .limit_a = none, .most_a = none, .peak_a = none, .voltage_v = none, .limit_v = none,
      .temperature_c = none, .limit_c = none, .air_c = none, .margin_k = none, .length_m = none, .limit_m = none,
      .power_w = none, .limit_w = none, .capacitance_f = none, .crest_db = none, .limit_db = none,
      .charge_frac = none, .time_s = none};
}

static const char *name_of(const struct tailvolt_system *system, enum tailvolt_part_kind kind, int index) {
  switch (kind) {
  case TAILVOLT_PART_BATTERY:
    return system->batteries[index].name;
  case TAILVOLT_PART_CAPACITOR:
    return system->capacitors[index].name;
  case TAILVOLT_PART_ISOLATOR:
    return system->isolators[index].name;
  case TAILVOLT_PART_LOAD:
    return system->loads[index].name;
  case TAILVOLT_PART_AMPLIFIER:
    return system->amplifiers[index].name;
  case TAILVOLT_PART_PROGRAMME:
    return system->programmes[index].name;
  case TAILVOLT_PART_CABLE:
  case TAILVOLT_PART_STRAP:
  case TAILVOLT_PART_JOINT:
  case TAILVOLT_PART_FUSE:
    return system->conductors[index].name;
  case TAILVOLT_PART_VEHICLE:
  case TAILVOLT_PART_ENGINE:
  case TAILVOLT_PART_ALTERNATOR:
  case TAILVOLT_PART_CONVERTER:
    break;
  }
  return "";
}

void tv_finding_about(struct tailvolt_finding *finding, const struct tailvolt_system *system,
                      enum tailvolt_part_kind kind, int index) {
  if (finding->part_count == TAILVOLT_FINDING_PARTS) return;
  struct tailvolt_part *part = &finding->part[finding->part_count++];
  bool conductor = kind >= TAILVOLT_PART_CABLE && kind <= TAILVOLT_PART_FUSE;
  part->kind = conductor ? tv_part_of_conductor(system->conductors[index].kind) : kind;
  part->index = index;
  tv_copy_text(part->name, sizeof part->name, name_of(system, kind, index));
  if (kind == TAILVOLT_PART_BATTERY && finding->part_count == 1) {
    finding->battery = system->batteries[index].kind;
    finding->place = system->batteries[index].place;
  }
  if (!conductor || !tv_is_cable(&system->conductors[index])) return;
  const struct tailvolt_conductor *c = &system->conductors[index];
  if (c->size[0] != '\0') tv_copy_text(part->size, sizeof part->size, c->size);
  else snprintf(part->size, sizeof part->size, "%.24s mm2", tv_fixed(c->area_m2 * 1e6, 1).text);
}

struct tailvolt_finding tv_finding_of_conductor(const struct tv_safety_job *job, enum tailvolt_finding_kind kind,
                                                enum tailvolt_verdict status, int conductor) {
  struct tailvolt_finding finding = tv_finding(kind, status);
  tv_finding_about(&finding, job->system, TAILVOLT_PART_CABLE, conductor);
  return finding;
}

struct tailvolt_finding tv_finding_of_battery(const struct tv_safety_job *job, enum tailvolt_finding_kind kind,
                                              enum tailvolt_verdict status, int battery) {
  struct tailvolt_finding finding = tv_finding(kind, status);
  tv_finding_about(&finding, job->system, TAILVOLT_PART_BATTERY, battery);
  return finding;
}

enum tailvolt_status tv_finding_list_add(struct tv_finding_list *list, const struct tailvolt_finding *finding) {
  for (int k = 0; k < list->count; k++)
    if (list->finding[k].status == finding->status && tv_finding_same(&list->finding[k], finding)) {
      /* of one hazard seen from two sides the greater current counts */
      if (finding->current_a > list->finding[k].current_a) list->finding[k] = *finding;
      return TAILVOLT_OK;
    }
  if (list->count == list->capacity) {
    int capacity = list->capacity == 0 ? 16 : 2 * list->capacity;
    struct tailvolt_finding *larger = realloc(list->finding, (size_t)capacity * sizeof *larger);
    if (larger == NULL) return TAILVOLT_NO_MEMORY;
    list->finding = larger;
    list->capacity = capacity;
  }
  /* worst first, else in the order found */
  int place = list->count;
  while (place > 0 && list->finding[place - 1].status < finding->status) {
    list->finding[place] = list->finding[place - 1];
    place--;
  }
  list->finding[place] = *finding;
  list->count++;
  return TAILVOLT_OK;
}

void tv_find(struct tv_safety_job *job, const struct tailvolt_finding *finding) {
  if (job->status == TAILVOLT_OK) job->status = tv_finding_list_add(job->list, finding);
}

void tv_finding_list_free(struct tv_finding_list *list) {
  free(list->finding);
  memset(list, 0, sizeof *list);
}

/* A battery whose posts are joined by conductors alone; -1 = none. */
static int shorted(const struct tv_safety_job *job) {
  for (int b = 0; b < job->system->battery_count; b++) {
    if (job->protection.ground[job->system->batteries[b].positive]) {
      return b;
    }
  }
  return -1;
}

enum tailvolt_status tv_safety_check_with(const struct tv_safety_limits *limits,
                                          const struct tailvolt_system *system,
                                          const struct tailvolt_result *result, struct tv_finding_list *out) {
  struct tv_safety_job job = {.limits = limits, .system = system, .result = result, .list = out};
  job.status = tv_protection_create(system, &job.protection);
  if (job.status != TAILVOLT_OK) {
    return job.status;
  }
  int battery = shorted(&job);
  /* before everything else that one reads of a hybrid */
  if (system->vehicle.charging == TAILVOLT_CHARGING_CONVERTER) {
    struct tailvolt_finding hybrid = tv_finding(TAILVOLT_FOUND_CHARGING_HYBRID, TAILVOLT_HOLDS);
    tv_finding_about(&hybrid, system, TAILVOLT_PART_VEHICLE, -1);
    tv_find(&job, &hybrid);
  }
  if (battery >= 0) {
    struct tailvolt_finding found = tv_finding_of_battery(&job, TAILVOLT_FOUND_SHORT_CIRCUIT, TAILVOLT_FAILS, battery);
    tv_find(&job, &found);
  } else {
    tv_rules_battery_cables(&job);
    tv_rules_fuse_ratings(&job);
    tv_rules_fuse_sums(&job);
    tv_rules_ground(&job);
  }
  if (result != NULL) {
    tv_rules_result(&job);
  }
  tv_rules_amplifiers(&job);
  tv_rules_batteries(&job);
  tv_rules_hazards(&job);
  tv_protection_free(&job.protection);
  return job.status;
}

enum tailvolt_status tv_safety_check(const struct tailvolt_system *system,
                                     const struct tailvolt_result *result, struct tv_finding_list *out) {
  struct tv_safety_limits limits = tv_safety_default_limits();
  return tv_safety_check_with(&limits, system, result, out);
}

enum tailvolt_status tv_safety_protected_a(const struct tailvolt_system *system, int fuse, double *ampacity_a,
                                           int *cable) {
  struct tv_protection protection;
  enum tailvolt_status status = tv_protection_create(system, &protection);
  *ampacity_a = (double)NAN;
  *cable = -1;
  if (status != TAILVOLT_OK) {
    return status;
  }
  for (int k = 0; k < system->conductor_count; k++) {
    if (protection.by[fuse * system->conductor_count + k] && !protection.unfused[k]) {
      double a = tv_safety_ampacity_a(system, &system->conductors[k]);
      if (!(a >= *ampacity_a)) { /* also the first one */
        *ampacity_a = a;
        *cable = k;
      }
    }
  }
  tv_protection_free(&protection);
  return TAILVOLT_OK;
}
