#include "simulate/worst.h"

#include <math.h>

double tv_phase_margin_v(const struct tailvolt_result *result, int amplifier, int phase) {
  const struct tailvolt_amplifier_phase *in = &result->amplifiers[amplifier].phase[phase];
  if (!(in->play_s > 0.0) || !isfinite(in->quantile_v)) return HUGE_VAL;
  return in->quantile_v - in->target_v;
}

int tv_worst_amplifier(const struct tailvolt_result *result, int phase) {
  int worst = -1;
  for (int k = 0; k < result->amplifier_count; k++) {
    double margin_v = tv_phase_margin_v(result, k, phase);
    if (isinf(margin_v)) continue;
    if (worst < 0 || margin_v < tv_phase_margin_v(result, worst, phase)) worst = k;
  }
  return worst;
}

static bool is_worse(const struct tailvolt_result *result, int a, int b) {
  if (result->phases[a].status != result->phases[b].status)
    return result->phases[a].status > result->phases[b].status;
  int in_a = tv_worst_amplifier(result, a), in_b = tv_worst_amplifier(result, b);
  double margin_a = in_a < 0 ? HUGE_VAL : tv_phase_margin_v(result, in_a, a);
  double margin_b = in_b < 0 ? HUGE_VAL : tv_phase_margin_v(result, in_b, b);
  return margin_a < margin_b;
}

int tv_phases_worst_first(const struct tailvolt_result *result, int order[TAILVOLT_PHASES]) {
  int count = 0;
  for (int p = 0; p < TAILVOLT_PHASES; p++) {
    if (!result->phases[p].present) continue;
    int at = count++;
    for (; at > 0 && is_worse(result, p, order[at - 1]); at--) order[at] = order[at - 1];
    order[at] = p;
  }
  return count;
}
