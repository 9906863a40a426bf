/* What a search compares results by. */
#include <math.h>

#include "study/remedy.h"

double tv_margin_v(const struct tailvolt_result *result) {
  double margin_v = (double)INFINITY;
  for (int k = 0; k < result->amplifier_count; k++)
    for (int p = 0; p < TAILVOLT_PHASES; p++) {
      const struct tailvolt_amplifier_phase *phase = &result->amplifiers[k].phase[p];
      if (phase->play_s > 0.0) margin_v = fmin(margin_v, phase->min_v - phase->target_v);
    }
  return margin_v;
}

double tv_low_v(const struct tailvolt_result *result) {
  double low_v = (double)INFINITY;
  for (int k = 0; k < result->amplifier_count; k++)
    for (int p = 0; p < TAILVOLT_PHASES; p++) {
      const struct tailvolt_amplifier_phase *phase = &result->amplifiers[k].phase[p];
      if (phase->play_s > 0.0) low_v = fmin(low_v, phase->low_1pct_v - phase->target_v);
    }
  return low_v;
}

double tv_below_pct(const struct tailvolt_result *result) {
  double most_pct = 0.0;
  for (int k = 0; k < result->amplifier_count; k++)
    for (int p = 0; p < TAILVOLT_PHASES; p++) {
      const struct tailvolt_amplifier_phase *phase = &result->amplifiers[k].phase[p];
      if (phase->play_s > 0.0) most_pct = fmax(most_pct, phase->below_target_pct);
    }
  return most_pct;
}

double tv_charge_ah(const struct tailvolt_result *result) {
  double sum_ah = 0.0;
  for (int k = 0; k < result->battery_count; k++)
    sum_ah += result->batteries[k].charge_in_ah - result->batteries[k].charge_out_ah;
  return sum_ah;
}
