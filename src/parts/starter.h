/* The starter: what it draws from the battery, and the voltage it needs. Sources in starter.c. */
#ifndef TV_PARTS_STARTER_H
#define TV_PARTS_STARTER_H

#include "tailvolt/system.h"

/* How long the breakaway current flows before the engine turns, and the lowest voltage at the posts that the car's
 * electronics ride through. */
#define TV_STARTER_BREAKAWAY_S 0.1
#define TV_STARTER_LEAST_V 8.0

/* What one start demands of the battery. */
struct tv_start_needs {
  double breakaway_a, breakaway_s; /* at first; equal to the turning current where nothing breaks away */
  double turning_a, length_s;      /* then, until length_s from the start */
  double floor_v;                  /* the engine starts where the posts stay at or above this while it turns */
};

/* The engine at engine_c (of the oil; ambient where it has stood for hours). The file's currents hold at 25 C and above.
 * Where the car is booted rather than cranked (charging by converter) its `start needs`: 30 A for 5 s and 10.5 V unless
 * stated (common practice). */
struct tv_start_needs tv_starter_needs(const struct tailvolt_engine *engine, double engine_c);
/* Current at a time after the starter was engaged; 0 after the end. */
double tv_starter_current_a(const struct tv_start_needs *needs, double since_s);

/* Turning current at a temperature relative to that at 25 C; 1 above. */
double tv_starter_cold_ratio(enum tailvolt_fuel fuel, double engine_c);
/* Resistance of leads, brushes and winding of the starter that makers fit to an engine of that size. */
double tv_starter_resistance_ohm(const struct tailvolt_engine *engine);
/* Voltage behind that resistance per rpm of the engine. */
double tv_starter_v_per_rpm(const struct tailvolt_engine *engine);
/* Lowest speed at which the engine fires. */
double tv_starter_least_rpm(enum tailvolt_fuel fuel);

#endif
