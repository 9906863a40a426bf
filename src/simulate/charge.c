#include "simulate/charge.h"

#include <math.h>
#include <stdlib.h>

#include "tailvolt/simulate.h"

/* above this charge a battery's current shows its need, not what the alternator could give */
#define NEARLY_FULL_PCT 90.0

/* ---- groups ---- */

static int root_of(int *above, int point) {
  while (above[point] != point) point = above[point] = above[above[point]];
  return point;
}

static void join(int *above, int a, int b) { above[root_of(above, a)] = root_of(above, b); }

/* Points between which charge can return have one root; NULL = out of memory. */
static int *join_points(const struct tailvolt_system *system) {
  int *above = calloc((size_t)system->point_count + 1, sizeof *above);
  if (above == NULL) return NULL;
  for (int k = 0; k < system->point_count; k++) above[k] = k;
  for (int k = 0; k < system->conductor_count; k++) join(above, system->conductors[k].from, system->conductors[k].to);
  for (int k = 0; k < system->isolator_count; k++)
    if (system->isolators[k].kind == TAILVOLT_RELAY) join(above, system->isolators[k].from, system->isolators[k].to);
  return above;
}

enum tailvolt_status tv_charge_converter(const struct tailvolt_system *system, int battery, int *converter) {
  int *above = join_points(system), ways = 0, root;
  *converter = -1;
  if (above == NULL) return TAILVOLT_NO_MEMORY;
  root = root_of(above, system->batteries[battery].positive);
  if (system->alternator.present && root_of(above, system->alternator.positive) == root) ways++;
  for (int k = 0; k < system->isolator_count; k++) {
    const struct tailvolt_isolator *i = &system->isolators[k];
    if (root_of(above, i->to) != root || root_of(above, i->from) == root) continue;
    ways++;
    if (i->kind == TAILVOLT_CONVERTER) *converter = k;
  }
  if (ways != 1) *converter = -1;
  free(above);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_charge_group(const struct tailvolt_system *system, struct tailvolt_result *result) {
  int *above = join_points(system), groups = 0;
  if (above == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < result->battery_count; k++) {
    int root = root_of(above, system->batteries[k].positive), same = 0;
    while (same < k && root_of(above, system->batteries[same].positive) != root) same++;
    result->batteries[k].group = same < k ? result->batteries[same].group : groups++;
  }
  free(above);
  return TAILVOLT_OK;
}

int tv_charge_groups(const struct tailvolt_result *r) {
  int groups = 0;
  for (int k = 0; k < r->battery_count; k++)
    if (r->batteries[k].group >= groups) groups = r->batteries[k].group + 1;
  return groups > 1 && !r->swing.present ? groups : 0;
}

static bool is_in(const struct tailvolt_result *r, int battery, int group) {
  return group == TV_ALL_BATTERIES || r->batteries[battery].group == group;
}

int tv_charge_first(const struct tailvolt_result *r, int group) {
  for (int k = 0; k < r->battery_count && group != TV_ALL_BATTERIES; k++)
    if (is_in(r, k, group)) return k;
  return -1;
}

/* ---- the rule ---- */

double tv_taken_a(const struct tailvolt_result *r, enum tailvolt_phase phase, int group) {
  double taken_a = 0;
  if (group == TV_ALL_BATTERIES) return r->phase_budget[phase].battery_a;
  for (int k = 0; k < r->battery_count; k++)
    if (is_in(r, k, group)) taken_a += r->batteries[k].mean_a[phase];
  return taken_a;
}

double tv_balance_a(const struct tailvolt_result *r, enum tailvolt_phase phase, int group) {
  double taken_a = tv_taken_a(r, phase, group), surplus_a = r->phase_budget[phase].surplus_a;
  bool full = true;
  for (int k = 0; k < r->battery_count; k++)
    if (is_in(r, k, group)) full = full && r->batteries[k].start_soc_pct >= NEARLY_FULL_PCT;
  return full && taken_a > -TV_BALANCE_SLACK_A && surplus_a > taken_a ? surplus_a : taken_a;
}

double tv_above_half_ah(const struct tailvolt_result *r, int group) {
  double above_ah = 0;
  for (int k = 0; k < r->battery_count; k++)
    if (is_in(r, k, group)) above_ah += r->batteries[k].capacity_ah * (r->batteries[k].start_soc_pct - 50) / 100;
  return above_ah > 0 ? above_ah : 0;
}

/* With a moving set point they lose at the low end down to `low end above`, and below that whatever the high end still loses. */
double tv_idle_lasts_s(const struct tailvolt_result *r, int group) {
  double loss_a = -tv_balance_a(r, TAILVOLT_IDLE, group), above_ah = tv_above_half_ah(r, group);
  if (!(loss_a > TV_BALANCE_SLACK_A)) return HUGE_VAL;
  if (!r->swing.present) return 3600 * above_ah / loss_a;
  double capacity_ah = 0;
  for (int k = 0; k < r->battery_count; k++)
    if (is_in(r, k, group)) capacity_ah += r->batteries[k].capacity_ah;
  double low_ah = fmin(capacity_ah * fmax(r->swing.low_end_above_pct - 50, 0) / 100, above_ah);
  double high_loss_a = -r->swing.high_balance_a[TAILVOLT_IDLE];
  if (!(high_loss_a > TV_BALANCE_SLACK_A)) return HUGE_VAL;
  return 3600 * ((above_ah - low_ah) / loss_a + low_ah / high_loss_a);
}

double tailvolt_charge_balance_a(const struct tailvolt_result *r, enum tailvolt_phase phase) {
  if (!r->phases[phase].present) return (double)NAN;
  return r->swing.present ? r->swing.high_balance_a[phase] : tv_balance_a(r, phase, TV_ALL_BATTERIES);
}
