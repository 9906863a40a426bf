/* Jackey's circuit of a lead-acid battery: see battery_jackey.h. */
#include "parts/battery_jackey.h"

#include <math.h>

static const double ABSOLUTE_C = 273.0; /* as the papers round it */

const struct tv_jackey tv_jackey_sae_50ah = {.nominal_a = 15.0,
                                             .capacity_ah = 50.0,
                                             .gain = 1.2,
                                             .power = 0.73,
                                             .freezing_c = -40.0,
                                             .point_count = 5,
                                             .point_c = {-40.0, 25.0, 40.0, 60.0, 75.0},
                                             .point_factor = {0.0, 0.80, 1.10, 1.20, 1.12},
                                             .emf_v = 2.18,
                                             .emf_v_per_k = 0.6e-3,
                                             .r00_ohm = 4.2e-3,
                                             .a0 = -0.6,
                                             .r10_ohm = 1.0e-3,
                                             .branch_s = 100.0,
                                             .r20_ohm = 110e-3,
                                             .a21 = -10.0,
                                             .a22 = -8.75,
                                             .parasitic_s = 20e-12,
                                             .parasitic_v = 0.12,
                                             .parasitic_temperature = 2.0};

const struct tv_jackey tv_jackey_ceraolo_500ah = {.nominal_a = 49.0,
                                                  .capacity_ah = 261.9,
                                                  .gain = 1.18,
                                                  .power = 1.40,
                                                  .freezing_c = -40.0,
                                                  .temperature_power = 1.29,
                                                  .emf_v = 2.135,
                                                  .emf_v_per_k = 0.58e-3,
                                                  .r00_ohm = 2.0e-3,
                                                  .a0 = -0.3,
                                                  .r10_ohm = 0.7e-3,
                                                  .branch_s = 5000.0,
                                                  .r20_ohm = 15e-3,
                                                  .a21 = -8.0,
                                                  .a22 = -8.45,
                                                  .parasitic_s = 2e-12,
                                                  .parasitic_v = 0.1,
                                                  .parasitic_temperature = 2.0};

static double temperature_factor(const struct tv_jackey *set, double temperature_c) {
  if (set->temperature_power > 0.0)
    return pow(fmax(1.0 - temperature_c / set->freezing_c, 0.0), set->temperature_power);
  int k = 0, last = set->point_count - 1;
  if (temperature_c <= set->point_c[0]) return set->point_factor[0];
  if (temperature_c >= set->point_c[last]) return set->point_factor[last];
  while (temperature_c > set->point_c[k + 1]) k++;
  double share = (temperature_c - set->point_c[k]) / (set->point_c[k + 1] - set->point_c[k]);
  return set->point_factor[k] + share * (set->point_factor[k + 1] - set->point_factor[k]);
}

double tv_jackey_capacity_ah(const struct tv_jackey *set, double current_a, double temperature_c) {
  double rate = pow(fabs(current_a) / set->nominal_a, set->power);
  return set->gain * set->capacity_ah * temperature_factor(set, temperature_c) /
         (1.0 + (set->gain - 1.0) * rate);
}

double tv_jackey_emf_v(const struct tv_jackey *set, double soc_frac, double temperature_c) {
  return set->emf_v - set->emf_v_per_k * (ABSOLUTE_C + temperature_c) * (1.0 - soc_frac);
}

double tv_jackey_r0_ohm(const struct tv_jackey *set, double soc_frac) {
  return set->r00_ohm * (1.0 + set->a0 * (1.0 - soc_frac));
}

double tv_jackey_r1_ohm(const struct tv_jackey *set, double depth_of_charge_frac) {
  return -set->r10_ohm * log(depth_of_charge_frac);
}

double tv_jackey_r2_ohm(const struct tv_jackey *set, double soc_frac, double charge_a) {
  return set->r20_ohm * exp(set->a21 * (1.0 - soc_frac)) / (1.0 + exp(set->a22 * charge_a / set->nominal_a));
}

double tv_jackey_parasitic_a(const struct tv_jackey *set, double cell_v, double temperature_c) {
  return cell_v * set->parasitic_s *
         exp(cell_v / set->parasitic_v +
             set->parasitic_temperature * (1.0 - temperature_c / set->freezing_c));
}

double tv_jackey_discharge_v(const struct tv_jackey *set, double current_a, double taken_ah,
                             double temperature_c) {
  double soc_frac = 1.0 - taken_ah / tv_jackey_capacity_ah(set, 0.0, temperature_c);
  double depth_frac = 1.0 - taken_ah / tv_jackey_capacity_ah(set, current_a, temperature_c);
  return tv_jackey_emf_v(set, soc_frac, temperature_c) -
         current_a * (tv_jackey_r0_ohm(set, soc_frac) + tv_jackey_r1_ohm(set, depth_frac) +
                      tv_jackey_r2_ohm(set, soc_frac, -current_a));
}

double tv_jackey_charge_a(const struct tv_jackey *set, double soc_frac, double cell_v, double temperature_c) {
  double over_v = cell_v - tv_jackey_emf_v(set, soc_frac, temperature_c);
  double r0_ohm = tv_jackey_r0_ohm(set, soc_frac);
  if (over_v <= 0.0) return 0.0;
  /* I (R0 + R2(I)) rises with I: bisection */
  double low_a = 0.0, high_a = over_v / r0_ohm;
  for (int k = 0; k < 100; k++) {
    double mid_a = 0.5 * (low_a + high_a);
    if (mid_a * (r0_ohm + tv_jackey_r2_ohm(set, soc_frac, mid_a)) < over_v)
      low_a = mid_a;
    else
      high_a = mid_a;
  }
  return 0.5 * (low_a + high_a);
}
