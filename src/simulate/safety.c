/* Safety findings: the list, what a cable may carry, which fuse goes with it. The rules stand in
 * safety_fuses.c and safety_parts.c. */
#include "simulate/safety.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "parts/conductor.h"
#include "parts/fuse.h"
#include "simulate/safety_rules.h"

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
                                    .lithium_v = 14.6};
  return limits;
}

const char *tv_conductor_word(enum tailvolt_conductor_kind kind) {
  switch (kind) {
  case TAILVOLT_STRAP:
    return "strap";
  case TAILVOLT_JOINT:
    return "joint";
  case TAILVOLT_FUSE:
    return "fuse";
  case TAILVOLT_CABLE:
    break;
  }
  return "cable";
}

const char *tv_cable_size(const struct tailvolt_conductor *cable, char text[40]) {
  if (cable->size[0] != '\0') {
    snprintf(text, 40, "%s", cable->size);
  } else {
    snprintf(text, 40, "%.1f mm2", cable->area_m2 * 1e6);
  }
  return text;
}

const char *tv_length_text(double length_m, char text[24]) {
  if (length_m < 1.0) {
    snprintf(text, 24, "%.0f cm", length_m * 100.0);
  } else {
    snprintf(text, 24, "%.1f m", length_m);
  }
  return text;
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

void tv_find(struct tv_safety_job *job, enum tv_severity status, const char *kind, const char *name,
             const char *format, ...) {
  struct tv_finding_list *list = job->list;
  struct tv_finding finding = job->next;
  finding.status = status;
  job->next = (struct tv_finding){.status = TV_CAUTION};
  snprintf(finding.part, sizeof finding.part, "%s%s%s", kind, name[0] != '\0' ? " " : "", name);
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(finding.text, sizeof finding.text, format, arguments);
  va_end(arguments);
  for (int k = 0; k < list->count; k++) {
    if (strcmp(list->finding[k].text, finding.text) == 0) {
      return;
    }
  }
  if (list->count == list->capacity) {
    int capacity = list->capacity == 0 ? 16 : 2 * list->capacity;
    struct tv_finding *larger = realloc(list->finding, (size_t)capacity * sizeof *larger);
    if (larger == NULL) {
      job->status = TAILVOLT_NO_MEMORY;
      return;
    }
    list->finding = larger;
    list->capacity = capacity;
  }
  /* worst first, else in the order found */
  int place = list->count;
  while (place > 0 && list->finding[place - 1].status < status) {
    list->finding[place] = list->finding[place - 1];
    place--;
  }
  list->finding[place] = finding;
  list->count++;
}

void tv_finding_list_free(struct tv_finding_list *list) {
  free(list->finding);
  memset(list, 0, sizeof *list);
}

/* Name of a battery whose posts are joined by conductors alone, or NULL. */
static const struct tailvolt_battery *shorted(const struct tv_safety_job *job) {
  for (int b = 0; b < job->system->battery_count; b++) {
    const struct tailvolt_battery *battery = &job->system->batteries[b];
    if (job->protection.ground[battery->positive]) {
      return battery;
    }
  }
  return NULL;
}

enum tailvolt_status tv_safety_check_with(const struct tv_safety_limits *limits,
                                          const struct tailvolt_system *system,
                                          const struct tailvolt_result *result, struct tv_finding_list *out) {
  struct tv_safety_job job = {.limits = limits, .system = system, .result = result, .list = out};
  job.status = tv_protection_create(system, &job.protection);
  if (job.status != TAILVOLT_OK) {
    return job.status;
  }
  const struct tailvolt_battery *battery = shorted(&job);
  if (battery != NULL) {
    tv_find(&job, TV_FAILS, "battery", battery->name,
            "battery %s: its positive post is joined to a negative post by conductors alone, a short circuit",
            battery->name);
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
