/* What the safety rules judge by: their limits, the air around a conductor, what a cable may carry, which fuse suits
 * it. */
#include <math.h>

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
    /* the copper cable of the same resistance is two gauges thinner, so it has less surface (ASTM B258 law)
     */
    counted.outer_m *= pow(92.0, -2.0 / 39.0);
  }
  return tv_conductor_ampacity_a(&counted, cable->insulation_limit_c, tv_air_with(limits, system, cable));
}

double tv_battery_short_ohm(const struct tailvolt_battery *battery) {
  if (!isnan(battery->resistance_ohm)) {
    return battery->resistance_ohm;
  }
  /* when warm, about 0.55 of the resistance seen in the cold cranking test at -18 C */
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

double tv_highest_set_point_v(const struct tailvolt_system *system) {
  const struct tailvolt_alternator *a = &system->alternator;
  double at_v = fmax(a->set_point_v, a->set_point_high_v);
  double cold_v = at_v + a->drift_v_per_k * (system->vehicle.ambient_c - 25.0);
  double warm_v = at_v + a->drift_v_per_k * (system->vehicle.engine_bay_c - 25.0);
  return fmax(cold_v, warm_v);
}
