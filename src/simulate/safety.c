/* The safety check: every rule in turn. The rules are in safety_fuses.c, safety_sum.c, safety_parts.c and
 * safety_batteries.c. */
#include "simulate/safety.h"

#include <math.h>

#include "simulate/safety_rules.h"

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
  /* before anything else said about a hybrid */
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
      if (!(a >= *ampacity_a)) { /* includes the first */
        *ampacity_a = a;
        *cable = k;
      }
    }
  }
  tv_protection_free(&protection);
  return TAILVOLT_OK;
}
