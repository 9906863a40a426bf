/* The starter's equation.
 *
 * A starter's torque follows its current; its speed follows the voltage left after the resistance of its leads,
 * brushes and winding:
 *
 *   V_posts = k n + R I
 *
 * The torque that turns the engine fixes the current, so the posts must hold
 *
 *   V_floor = max(8.0 V, k n_least + R I(T))
 *
 * - I(T): rises as the oil thickens. Petrol: 100, 110 and 255 A at 16, 5 and -20 C, midpoints of a published table of
 *   average cranking currents of a 1.9 L engine (service practice: 80-120 A at 5 to 27 C, 90-130 A at 5 C cold,
 *   230-280 A at -20 C). Diesel: 250 and 425 A at 20 and -20 C (handbook ranges, value from memory). The logarithm is
 *   linear between the points; above 25 C nothing is gained, below -20 C the last slope continues to -40 C. The
 *   breakaway current is that of the stalled starter, set by its copper: it rises as the resistance falls, 0.39 % a
 *   kelvin (IEC 60028).
 * - R: a starter of a 1.6 L petrol engine stalls at some 650 A with 8 V, 12 mohm (common practice). A bigger engine
 *   has a bigger starter: R falls as the turning current rises, with the square root of displacement, and is half for
 *   a diesel (starters of 1.7 to 2.2 kW against 0.8 to 1.4 kW for the same size; values from memory).
 * - k: the warm cranking point, 220 rpm at 10.5 V and the turning current of 25 C (common practice): about 40 mV.
 * - n_least: 80 rpm, diesel 120 rpm, of handbook ranges of 60 to 100 and 80 to 200 rpm (values from memory).
 * - 8.0 V: ISO 16750-2, 12 V, starting profile level I, its lowest voltage (value from memory); service practice says
 *   that a car still starts with that at -18 C. Electronics, ignition and injection must survive it too. */
#include "parts/starter.h"

#include <math.h>

static const double COPPER_PER_K = 0.0039;
static const double WARM_C = 25.0, COLDEST_C = -40.0;
static const double STALL_V = 8.0, STALL_A = 650.0, STALL_L = 1.6; /* petrol */
static const double DIESEL_RATIO = 2.0;                            /* current of a starter for the same size */
static const double WARM_V = 10.5, WARM_RPM = 220.0;
static const double BOOT_FLOOR_V = 10.5;
static const double LEAST_RPM = 80.0, LEAST_DIESEL_RPM = 120.0;

struct cold_point {
  double engine_c, ratio;
};
enum { COLD_POINTS = 3 };
static const struct cold_point PETROL[COLD_POINTS] = {{25.0, 1.0}, {5.0, 1.1}, {-20.0, 2.55}};
static const struct cold_point DIESEL[COLD_POINTS] = {{25.0, 1.0}, {20.0, 1.0}, {-20.0, 1.7}};

double tv_starter_cold_ratio(enum tailvolt_fuel fuel, double engine_c) {
  const struct cold_point *table = fuel == TAILVOLT_DIESEL ? DIESEL : PETROL;
  double t_c = fmax(engine_c, COLDEST_C);
  if (t_c >= table[0].engine_c) return 1.0;
  int k = 0;
  while (k + 2 < COLD_POINTS && t_c < table[k + 1].engine_c) k++;
  double part = (table[k].engine_c - t_c) / (table[k].engine_c - table[k + 1].engine_c);
  return table[k].ratio * pow(table[k + 1].ratio / table[k].ratio, part);
}

double tv_starter_resistance_ohm(const struct tailvolt_engine *engine) {
  double stall_a = STALL_A * sqrt(engine->displacement_l / STALL_L);
  if (engine->fuel == TAILVOLT_DIESEL) stall_a *= DIESEL_RATIO;
  return STALL_V / stall_a;
}

double tv_starter_v_per_rpm(const struct tailvolt_engine *engine) {
  return fmax(WARM_V - tv_starter_resistance_ohm(engine) * engine->cranking_a, 0.0) / WARM_RPM;
}

double tv_starter_least_rpm(enum tailvolt_fuel fuel) {
  return fuel == TAILVOLT_DIESEL ? LEAST_DIESEL_RPM : LEAST_RPM;
}

/* A car charged by converter is booted, not cranked: computers and contactors, the same in the cold. */
static struct tv_start_needs boot(const struct tailvolt_engine *engine) {
  return (struct tv_start_needs){.breakaway_a = engine->start_needs_a,
                                 .breakaway_s = TV_STARTER_BREAKAWAY_S,
                                 .turning_a = engine->start_needs_a,
                                 .length_s = engine->start_needs_s,
                                 .floor_v = engine->start_floor_v > 0.0 ? engine->start_floor_v : BOOT_FLOOR_V};
}

struct tv_start_needs tv_starter_needs(const struct tailvolt_engine *engine, double engine_c) {
  if (engine->start_needs_a > 0.0 && engine->start_needs_s > 0.0) return boot(engine);
  struct tv_start_needs needs = {.breakaway_s = TV_STARTER_BREAKAWAY_S, .length_s = engine->cranking_s};
  needs.turning_a = engine->cranking_a * tv_starter_cold_ratio(engine->fuel, engine_c);
  /* a turning starter draws no more than a stalled one */
  double below_k = fmax(WARM_C - fmax(engine_c, COLDEST_C), 0.0);
  needs.breakaway_a = fmax(engine->breakaway_a * (1.0 + COPPER_PER_K * below_k), needs.turning_a);
  needs.floor_v = fmax(TV_STARTER_LEAST_V, tv_starter_v_per_rpm(engine) * tv_starter_least_rpm(engine->fuel) +
                                               tv_starter_resistance_ohm(engine) * needs.turning_a);
  return needs;
}

double tv_starter_current_a(const struct tv_start_needs *needs, double since_s) {
  if (since_s < 0.0 || since_s >= needs->length_s - 1e-9) return 0.0;
  return since_s < needs->breakaway_s - 1e-9 ? needs->breakaway_a : needs->turning_a;
}
