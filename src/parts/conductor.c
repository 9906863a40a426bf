/* Conductors: resistance from size and material, heating by current.
 *
 * Resistivity of copper 17.241 nohm m and its 0.00393 /K: IEC 60028 (100 % IACS); aluminium 17.241/0.61: IEC
 * 60889; clad aluminium with 10 % copper by volume 62.9 % IACS: ASTM B566. AWG diameters: ASTM B258. Metric
 * cable: the maximum resistance at 20 C of ISO 6722 (ISO 19642-3 keeps its sizes). All from the standards'
 * published tables. */
#include "parts/conductor.h"
#include "parts/elementary.h"

#include <math.h>
#include <stddef.h>

#define PI 3.14159265358979323846

static const double COPPER_OHM_M = 17.241e-9;
static const double IACS_CLAD_FRAC = 0.629;     /* ASTM B566, 10 % copper by volume */
static const double IACS_ALUMINIUM_FRAC = 0.61; /* IEC 60889 */
/* IEC 60228 class 5, tinned over plain: 1.018 (50 mm2) to 1.029 (2.5 mm2) */
static const double TINNED_RATIO = 1.025;
/* stranded over solid of the same AWG: NEC chapter 9 table 8 against the solid wire of ASTM B258 */
static const double STRANDING = 1.02;
/* diameter over the strands against a solid wire of the same gauge (judgement, compact rope lay) */
static const double AWG_STRANDED_DIAMETER = 1.14;

/* W/(m2 K) on the outer surface, convection and radiation together. Free: 12 meets 33 CFR 183.425 for 8 AWG to 1/0
 * AWG. Otherwise scaled by the square of the share of free-air current that tables allow:
 * - sleeve 0.87: one cable in conduit against one clipped to a wall, IEC 60364-5-52 methods B1 and C, 76 and 85 A for
 *   16 mm2 (values from memory);
 * - carpet 0.75: in a thermally insulated wall against clipped, methods A1 and C, 61 and 85 A, and felt on one side
 *   only where that wall has two (values from memory, and judgement);
 * - bundled 0.70: up to three loaded cables together, ABYC E-11 (value from memory), and NEC tables 310.16 against
 *   310.17, 0.65 to 0.69. */
static const double COOLING_W_PER_M2K[] = {
    [TAILVOLT_FREE] = 12.0,
    [TAILVOLT_SLEEVE] = 12.0 * 0.87 * 0.87,
    [TAILVOLT_BUNDLED] = 12.0 * 0.70 * 0.70,
    [TAILVOLT_CARPET] = 12.0 * 0.75 * 0.75,
};

/* J/(m3 K), IEC 60949 to handbook values */
static const double HEAT_COPPER = 3.42e6;
static const double HEAT_CLAD = 2.53e6;
static const double HEAT_ALUMINIUM = 2.42e6;
static const double HEAT_INSULATION = 1.35e6;

/* Copper melts: nothing in the model gets hotter, so a runaway stays a number. */
static const double HOTTEST_C = 1085.0;

/* ISO 6722 thick wall; diameters of the two smallest sizes are values from memory */
struct metric_size {
  double area_mm2, r20_mohm_per_m, conductor_mm, outer_mm;
};
static const struct metric_size METRIC[] = {
    {0.5, 37.1, 1.1, 2.3},     {0.75, 24.7, 1.3, 2.5},    {1.0, 18.5, 1.5, 2.7},
    {1.5, 12.7, 1.8, 3.0},     {2.5, 7.6, 2.2, 3.6},      {4.0, 4.71, 2.8, 4.4},
    {6.0, 3.14, 3.4, 5.0},     {10.0, 1.82, 4.5, 6.5},    {16.0, 1.16, 6.3, 8.3},
    {25.0, 0.743, 7.8, 10.4},  {35.0, 0.527, 9.0, 11.6},  {50.0, 0.368, 10.5, 13.5},
    {70.0, 0.259, 12.5, 15.5}, {95.0, 0.196, 14.8, 18.0}, {120.0, 0.153, 16.5, 19.7},
};
#define METRIC_COUNT (sizeof METRIC / sizeof METRIC[0])

/* Outer diameter by gauge, mm: 8 to 1/0 AWG typical battery cable whose heating meets 33 CFR 183.425, the
 * others extrapolated in proportion (judgement). Index 0 is 20 AWG, the last 4/0 AWG; odd gauges are
 * interpolated. */
static const struct {
  int awg;
  double outer_mm;
} AWG_OUTER[] = {{20, 2.3}, {18, 2.6}, {16, 2.9}, {14, 3.4}, {12, 4.0},  {10, 4.9},  {8, 6.5},
                 {6, 7.6},  {4, 8.9},  {2, 10.5}, {0, 12.6}, {-1, 13.9}, {-2, 15.5}, {-3, 17.3}};
#define AWG_OUTER_COUNT (sizeof AWG_OUTER / sizeof AWG_OUTER[0])

double tv_material_resistivity_ohm_m(enum tailvolt_material material) {
  switch (material) {
  case TAILVOLT_TINNED_COPPER:
    return COPPER_OHM_M * TINNED_RATIO;
  case TAILVOLT_CLAD_ALUMINIUM:
    return COPPER_OHM_M / IACS_CLAD_FRAC;
  case TAILVOLT_ALUMINIUM:
    return COPPER_OHM_M / IACS_ALUMINIUM_FRAC;
  case TAILVOLT_COPPER:
    break;
  }
  return COPPER_OHM_M;
}

double tv_material_temperature_per_k(enum tailvolt_material material) {
  switch (material) {
  case TAILVOLT_CLAD_ALUMINIUM:
    return 0.0040;
  case TAILVOLT_ALUMINIUM:
    return 0.00403;
  case TAILVOLT_COPPER:
  case TAILVOLT_TINNED_COPPER:
    break;
  }
  return 0.00393;
}

/* Straight line between (x0, y0) and (x1, y1) on log-log axes, extrapolated beyond both. */
static double log_log(double x0, double y0, double x1, double y1, double x) {
  return y0 * tv_pow(x / x0, tv_log(y1 / y0) / tv_log(x1 / x0));
}

static double by_nominal_area(const struct metric_size *size) {
  return size->area_mm2;
}
/* copper area with the table's resistance, mm2 */
static double by_effective_area(const struct metric_size *size) {
  return COPPER_OHM_M * 1e9 / size->r20_mohm_per_m;
}
static double by_outer(const struct metric_size *size) {
  return size->outer_mm;
}

/* The metric table at any point, interpolated along one of its columns. */
static struct metric_size metric_at(double (*column)(const struct metric_size *), double x) {
  size_t k = 0;
  while (k + 2 < METRIC_COUNT && x > column(&METRIC[k + 1])) {
    k++;
  }
  const struct metric_size *low = &METRIC[k];
  const struct metric_size *high = &METRIC[k + 1];
  double x0 = column(low);
  double x1 = column(high);
  struct metric_size at;
  at.area_mm2 = log_log(x0, low->area_mm2, x1, high->area_mm2, x);
  at.r20_mohm_per_m = log_log(x0, low->r20_mohm_per_m, x1, high->r20_mohm_per_m, x);
  at.conductor_mm = log_log(x0, low->conductor_mm, x1, high->conductor_mm, x);
  at.outer_mm = log_log(x0, low->outer_mm, x1, high->outer_mm, x);
  return at;
}

static double material_ratio(enum tailvolt_material material) {
  return tv_material_resistivity_ohm_m(material) / COPPER_OHM_M;
}

static double awg_outer_m(int awg) {
  size_t k = 0;
  while (k + 2 < AWG_OUTER_COUNT && awg < AWG_OUTER[k + 1].awg) {
    k++;
  }
  double along = (double)(AWG_OUTER[k].awg - awg) / (double)(AWG_OUTER[k].awg - AWG_OUTER[k + 1].awg);
  return 1e-3 * AWG_OUTER[k].outer_mm * tv_pow(AWG_OUTER[k + 1].outer_mm / AWG_OUTER[k].outer_mm, along);
}

bool tv_is_poor_joint(const struct tailvolt_conductor *conductor) {
  static const double POOR_OHM = 0.8e-3;
  return conductor->kind == TAILVOLT_JOINT && conductor->resistance_ohm >= POOR_OHM && conductor->role != TAILVOLT_ROLE_BODY;
}

bool tv_section_from_awg(int awg, enum tailvolt_material material, struct tv_section *section) {
  if (awg < -3 || awg > 20) {
    return false;
  }
  double solid_m = 0.127e-3 * tv_pow(92.0, (36.0 - (double)awg) / 39.0); /* ASTM B258 */
  double area_m2 = PI * solid_m * solid_m / 4.0;
  section->r20_ohm_per_m = tv_material_resistivity_ohm_m(material) * STRANDING / area_m2;
  section->conductor_m = AWG_STRANDED_DIAMETER * solid_m;
  section->outer_m = awg_outer_m(awg);
  return true;
}

bool tv_section_from_mm2(double area_mm2, enum tailvolt_material material, struct tv_section *section) {
  if (!(area_mm2 >= 0.2 && area_mm2 <= 300.0)) {
    return false;
  }
  struct metric_size at = metric_at(by_nominal_area, area_mm2);
  section->r20_ohm_per_m = 1e-3 * at.r20_mohm_per_m * material_ratio(material);
  section->conductor_m = 1e-3 * at.conductor_mm;
  section->outer_m = 1e-3 * at.outer_mm;
  return true;
}

bool tv_section_from_true_area(double area_m2, enum tailvolt_material material, struct tv_section *section) {
  if (!(area_m2 > 0.0)) {
    return false;
  }
  return tv_section_from_resistance(tv_material_resistivity_ohm_m(material) * STRANDING / area_m2, material,
                                    section);
}

bool tv_section_from_resistance(double ohm_per_m, enum tailvolt_material material,
                                struct tv_section *section) {
  if (!(ohm_per_m > 0.0)) {
    return false;
  }
  double effective_mm2 = 1e6 * tv_material_resistivity_ohm_m(material) / ohm_per_m;
  if (effective_mm2 < 0.1 || effective_mm2 > 400.0) {
    return false;
  }
  struct metric_size at = metric_at(by_effective_area, effective_mm2);
  section->r20_ohm_per_m = ohm_per_m;
  section->conductor_m = 1e-3 * at.conductor_mm;
  section->outer_m = 1e-3 * at.outer_mm;
  return true;
}

double tv_conductor_resistance_ohm(const struct tailvolt_conductor *conductor, double temperature_c) {
  return conductor->resistance_ohm * (1.0 + conductor->temperature_per_k * (temperature_c - 20.0));
}

/* Only what has a length and a surface warms up in the model. */
static bool warms(const struct tailvolt_conductor *conductor) {
  return (conductor->kind == TAILVOLT_CABLE || conductor->kind == TAILVOLT_STRAP) &&
         conductor->length_m > 0.0 && conductor->outer_m > 0.0 && conductor->area_m2 > 0.0;
}

/* Equal runs side by side, each with its own insulation. */
static double runs(const struct tailvolt_conductor *conductor) {
  return conductor->parallel > 1 ? (double)conductor->parallel : 1.0;
}

double tv_conductor_cooling_w_per_k(const struct tailvolt_conductor *conductor) {
  if (!warms(conductor)) {
    return 0.0;
  }
  return runs(conductor) * COOLING_W_PER_M2K[conductor->laid] * PI * conductor->outer_m * conductor->length_m;
}

static double metal_heat_j_per_m3k(enum tailvolt_material material) {
  switch (material) {
  case TAILVOLT_CLAD_ALUMINIUM:
    return HEAT_CLAD;
  case TAILVOLT_ALUMINIUM:
    return HEAT_ALUMINIUM;
  case TAILVOLT_COPPER:
  case TAILVOLT_TINNED_COPPER:
    break;
  }
  return HEAT_COPPER;
}

double tv_conductor_heat_j_per_k(const struct tailvolt_conductor *conductor) {
  if (!warms(conductor)) {
    return 0.0;
  }
  double run_m2 = conductor->area_m2 / runs(conductor);
  /* diameter over the strands of the metric cable of the same outside diameter: a thinner AWG rope has more
   * insulation, so the true cable warms a little more slowly */
  double strands_m = 1e-3 * metric_at(by_outer, conductor->outer_m * 1e3).conductor_mm;
  double strands_m2 = fmax(PI * strands_m * strands_m / 4.0, run_m2);
  double outer_m2 = PI * conductor->outer_m * conductor->outer_m / 4.0;
  double insulation_m2 = fmax(outer_m2 - strands_m2, 0.0);
  return runs(conductor) * conductor->length_m *
         (metal_heat_j_per_m3k(conductor->material) * run_m2 + HEAT_INSULATION * insulation_m2);
}

struct tv_warming tv_conductor_warming(const struct tailvolt_conductor *conductor) {
  return (struct tv_warming){tv_conductor_cooling_w_per_k(conductor), tv_conductor_heat_j_per_k(conductor)};
}

double tv_conductor_step_c(const struct tailvolt_conductor *conductor, const struct tv_warming *warming,
                           double temperature_c, double mean_square_a2, double air_c, double dt_s) {
  double g = warming->cooling_w_per_k, c = warming->heat_j_per_k;
  if (g <= 0.0 || c <= 0.0) {
    return air_c;
  }
  /* C dT/dt = I2 R20 (1 + a (T - 20)) - G (T - Ta) is linear in T, so with q = dT/dt now and k = (G - I2 R20
   * a)/C T moves by q dt (1 - e^-k dt)/(k dt), whatever the sign of k (k < 0: runaway). */
  double heating_w = mean_square_a2 * conductor->resistance_ohm;
  double q =
      (mean_square_a2 * tv_conductor_resistance_ohm(conductor, temperature_c) - g * (temperature_c - air_c)) /
      c;
  double x = dt_s * (g - heating_w * conductor->temperature_per_k) / c;
  double share = x == 0.0 ? 1.0 : -tv_expm1(-x) / x;
  double end_c = temperature_c + q * dt_s * share;
  return end_c < HOTTEST_C ? end_c : HOTTEST_C;
}

double tv_conductor_steady_c(const struct tailvolt_conductor *conductor, double mean_square_a2,
                             double air_c) {
  double g = tv_conductor_cooling_w_per_k(conductor);
  if (g <= 0.0) {
    return air_c;
  }
  double heating_w = mean_square_a2 * conductor->resistance_ohm;
  double left_w_per_k = g - heating_w * conductor->temperature_per_k;
  if (left_w_per_k <= 0.0) {
    return (double)INFINITY;
  }
  return air_c + heating_w * (1.0 + conductor->temperature_per_k * (air_c - 20.0)) / left_w_per_k;
}

double tv_conductor_ampacity_a(const struct tailvolt_conductor *conductor, double limit_c, double air_c) {
  double g = tv_conductor_cooling_w_per_k(conductor);
  if (g <= 0.0) {
    return (double)NAN;
  }
  if (limit_c <= air_c) {
    return 0.0;
  }
  return sqrt(g * (limit_c - air_c) / tv_conductor_resistance_ohm(conductor, limit_c));
}

double tv_material_adiabatic_k(enum tailvolt_material material, double start_c, double end_c) {
  /* volumetric heat Qc in J/(K mm3), reciprocal of the temperature coefficient at 0 C beta in K: IEC 60949 */
  double heat = 3.45e-3;
  double beta_k = 234.5;
  if (material == TAILVOLT_ALUMINIUM || material == TAILVOLT_CLAD_ALUMINIUM) {
    heat = 2.5e-3;
    beta_k = 228.0;
  }
  double ohm_mm = 1e3 * tv_material_resistivity_ohm_m(material);
  return sqrt(heat * (beta_k + 20.0) / ohm_mm * tv_log((end_c + beta_k) / (start_c + beta_k)));
}

double tv_conductor_adiabatic_s(const struct tailvolt_conductor *conductor, double current_a, double start_c,
                                double end_c) {
  if (conductor->area_m2 <= 0.0) {
    return (double)INFINITY;
  }
  double k = tv_material_adiabatic_k(conductor->material, start_c, end_c);
  double root = k * conductor->area_m2 * 1e6 / current_a;
  return root * root;
}
