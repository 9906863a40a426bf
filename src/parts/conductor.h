/* Conductors: resistance from size and material, heating by current, current the insulation allows.
 * Equations, values and sources: conductor.c. */
#ifndef TV_PARTS_CONDUCTOR_H
#define TV_PARTS_CONDUCTOR_H

#include <stdbool.h>
#include "tailvolt/system.h"

/* A cross section, as the input gave it. */
struct tv_section {
  double r20_ohm_per_m; /* at 20 C, stranding included */
  double conductor_m;   /* diameter over the strands */
  double outer_m;       /* over the insulation */
};

/* A joint above what a sound one has (reference of joints, judgement), to be cleaned. Sheet metal is none. */
bool tv_is_poor_joint(const struct tailvolt_conductor *conductor);
/* awg: 1/0 = 0, 2/0 = -1, 4/0 = -3; 16 to 4/0 accepted (n from 20 to -3). ASTM B258 area, stranding
 * factor 1.02. */
bool tv_section_from_awg(int awg, enum tailvolt_material material, struct tv_section *section);
/* nominal metric size: ISO 6722 maximum resistance where it is a standard size, else interpolated by area */
bool tv_section_from_mm2(double area_mm2, enum tailvolt_material material, struct tv_section *section);
/* true copper (or aluminium) area, e.g. counted strands or a measured conductor diameter */
bool tv_section_from_true_area(double area_m2, enum tailvolt_material material, struct tv_section *section);
/* measured resistance at 20 C */
bool tv_section_from_resistance(double ohm_per_m, enum tailvolt_material material,
                                struct tv_section *section);

double tv_material_resistivity_ohm_m(enum tailvolt_material material); /* at 20 C */
/* Aluminium, clad or not. */
static inline bool tv_is_aluminium(enum tailvolt_material material) {
  return material == TAILVOLT_CLAD_ALUMINIUM || material == TAILVOLT_ALUMINIUM;
}
double tv_material_temperature_per_k(enum tailvolt_material material); /* alpha at 20 C */

/* R(T) = R20 (1 + alpha (T - 20)); works for every conductor kind. */
double tv_conductor_resistance_ohm(const struct tailvolt_conductor *conductor, double temperature_c);
/* Heat given off per kelvin over the whole length, W/K; and heat capacity, J/K. 0 for joints and fuses. */
double tv_conductor_cooling_w_per_k(const struct tailvolt_conductor *conductor);
double tv_conductor_heat_j_per_k(const struct tailvolt_conductor *conductor);
/* Both, which do not change. */
struct tv_warming { double cooling_w_per_k, heat_j_per_k; };
struct tv_warming tv_conductor_warming(const struct tailvolt_conductor *conductor);
/* Temperature after dt_s at a steady mean square current, exact for the linear balance; joints and fuses stay
 * at air temperature. */
double tv_conductor_step_c(const struct tailvolt_conductor *conductor, const struct tv_warming *warming,
                           double temperature_c, double mean_square_a2, double air_c, double dt_s);
/* End temperature at that current; INFINITY where it runs away. */
double tv_conductor_steady_c(const struct tailvolt_conductor *conductor, double mean_square_a2, double air_c);
/* Current that brings the conductor to `limit_c` in air of `air_c`; NAN for joints and fuses. */
double tv_conductor_ampacity_a(const struct tailvolt_conductor *conductor, double limit_c, double air_c);
/* k of I2 t = k2 S2 in A s^0.5/mm2 (IEC 60949, IEC 60364-5-54): heating too fast for heat to leave the metal,
 * from start_c to end_c. */
double tv_material_adiabatic_k(enum tailvolt_material material, double start_c, double end_c);
/* Time for which a short-circuit current may flow, by the effective area; good to about 5 s. INFINITY where
 * it has no area (joints, fuses). */
double tv_conductor_adiabatic_s(const struct tailvolt_conductor *conductor, double current_a, double start_c,
                                double end_c);

#endif
