#include "tailvolt/budget.h"

#include <math.h>

#include "simulate/charge.h"

double tailvolt_hand_share_frac(const struct tailvolt_system *system, const struct tailvolt_amplifier *amplifier) {
  int index = amplifier->programme >= 0 ? amplifier->programme : 0;
  if (index >= system->programme_count) return TAILVOLT_HAND_MUSIC_FRAC;
  const struct tailvolt_programme *programme = &system->programmes[index];
  bool stated = programme->recording[0] == '\0' && programme->envelope[0] == '\0' && programme->style[0] == '\0';
  return stated && programme->crest_db < TAILVOLT_HAND_DENSE_BELOW_DB ? TAILVOLT_HAND_DENSE_FRAC : TAILVOLT_HAND_MUSIC_FRAC;
}

static bool is_curve(const struct tailvolt_system *system) {
  return isnan(system->alternator.fixed_output_a);
}

void tailvolt_hand_budget_of(const struct tailvolt_system *system, const struct tailvolt_use_result *details,
                    struct tailvolt_hand_budget *b) {
  b->output_a = details->label_a * (is_curve(system) ? TAILVOLT_HAND_HOT_FRAC : 1);
  b->base_a = details->base_load_a;
  b->amplifier_a = 0;
  for (int k = 0; k < system->load_count; k++)
    b->base_a += system->loads[k].power_w / TAILVOLT_HAND_V * system->loads[k].duty_frac * details->load_most_frac[k];
  for (int k = 0; k < system->amplifier_count; k++) {
    const struct tailvolt_amplifier *a = &system->amplifiers[k];
    if (!details->plays[k]) continue;
    b->amplifier_a += tailvolt_hand_share_frac(system, a) * a->rated_w / a->efficiency_frac / TAILVOLT_HAND_V + a->idle_a;
  }
  b->balance_a = b->output_a - b->base_a - b->amplifier_a;
}

void tailvolt_hand_budget_mixed(const struct tailvolt_system *system, const struct tailvolt_result *result,
                                struct tailvolt_hand_budget *b) {
  double span_s = 0;
  *b = (struct tailvolt_hand_budget){0};
  for (int u = 0; u < TAILVOLT_USE_PARKED; u++) {
    struct tailvolt_hand_budget use;
    double here_s = result->uses[u].duration_s;
    if (!result->uses[u].present) continue;
    tailvolt_hand_budget_of(system, &result->use_details[u], &use);
    b->output_a += use.output_a * here_s;
    b->base_a += use.base_a * here_s;
    b->amplifier_a += use.amplifier_a * here_s;
    span_s += here_s;
  }
  if (!(span_s > 0)) return;
  b->output_a /= span_s;
  b->base_a /= span_s;
  b->amplifier_a /= span_s;
  b->balance_a = b->output_a - b->base_a - b->amplifier_a;
}

void tailvolt_hand_gap_of(const struct tailvolt_system *system, const struct tailvolt_hand_budget *by_hand,
                 const struct tailvolt_budget *simulated, const struct tailvolt_use_result *details,
                 struct tailvolt_hand_gap *gap) {
  double hot_loss_a = is_curve(system) ? (1 - TAILVOLT_HAND_HOT_FRAC) * details->label_a : 0;
  gap->voltage_a = details->own_voltage_a - details->label_a;
  gap->heat_a = simulated->available_a - details->own_voltage_a + hot_loss_a;
  gap->not_taken_a = simulated->generation_a - simulated->available_a;
  gap->base_a = by_hand->base_a - simulated->base_a;
  gap->amplifier_a = by_hand->amplifier_a - simulated->amplifier_a;
  gap->rest_a = simulated->battery_a - (simulated->generation_a - simulated->base_a - simulated->amplifier_a);
}

/* Of the batteries that were joined, by the same count of posts as verdict and first screen: what a full battery does not keep, it keeps
 * once it is lower. */
static double flat_days(const struct tailvolt_result *r, int use, struct tv_group group) {
  double above_ah = tv_above_half_ah(r, group), lost_ah = 0;
  for (int u = 0; u < TAILVOLT_USES; u++)
    if (r->uses[u].present && (use < 0 || u == use))
      lost_ah -= tv_use_taken_a(r, (enum tailvolt_use)u, group) * r->uses[u].duration_s / 3600;
  return lost_ah > 0 ? above_ah / lost_ah : HUGE_VAL;
}

static enum tailvolt_phase phase_of(const struct tailvolt_result *r, int use) {
  if (use == TAILVOLT_USE_IDLE || (use < 0 && r->phases[TAILVOLT_IDLE].present)) return TAILVOLT_IDLE;
  if (use == TAILVOLT_USE_PARKED || (use < 0 && !r->phases[TAILVOLT_ROAD].present)) return TAILVOLT_PARKED;
  return TAILVOLT_ROAD;
}

void tailvolt_flat_after_of(const struct tailvolt_result *result, int use, struct tailvolt_flat_after *after) {
  enum tailvolt_phase joined = phase_of(result, use);
  int groups = tv_charge_groups(result, joined);
  double span_h = 0;
  for (int u = 0; u < TAILVOLT_USES; u++)
    if (result->uses[u].present && (use < 0 || u == use)) span_h += result->uses[u].duration_s / 3600;
  after->days = groups > 0 ? HUGE_VAL : flat_days(result, use, TV_ALL_BATTERIES);
  for (int k = 0; k < groups; k++) after->days = fmin(after->days, flat_days(result, use, tv_charge_group(result, joined, k)));
  after->hours = after->days * span_h;
}
