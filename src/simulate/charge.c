#include "simulate/charge.h"

#include <math.h>
#include <stdlib.h>

#include "simulate/run.h"
#include "simulate/verdict.h"
#include "tailvolt/simulate.h"

/* above this charge a battery's current shows its need, not what the alternator could give */
#define NEARLY_FULL_PCT 90.0
/* a relay that was closed for less of a phase than this has parted what is behind it: what it let through while it opened feeds nobody */
#define CLOSED_FRAC 0.1

/* ---- groups ---- */

static int root_of(int *above, int point) {
  while (above[point] != point) point = above[point] = above[above[point]];
  return point;
}

static void join(int *above, int a, int b) { above[root_of(above, a)] = root_of(above, b); }

/* Points that cable joins have one root. NULL = out of memory. */
static int *join_by_cable(const struct tailvolt_system *system) {
  int *above = calloc((size_t)system->point_count + 1, sizeof *above);
  if (above == NULL) return NULL;
  for (int k = 0; k < system->point_count; k++) above[k] = k;
  for (int k = 0; k < system->conductor_count; k++) join(above, system->conductors[k].from, system->conductors[k].to);
  return above;
}

/* ... and those between which charge can return: through relays too, all or those that closed in a phase of a run. */
static int *join_points(const struct tailvolt_system *system, const bool *stays_open) {
  int *above = join_by_cable(system);
  if (above == NULL) return NULL;
  for (int k = 0; k < system->isolator_count; k++)
    if (system->isolators[k].kind == TAILVOLT_RELAY && (stays_open == NULL || !stays_open[k]))
      join(above, system->isolators[k].from, system->isolators[k].to);
  return above;
}

double tv_charge_lowest_v(const struct tailvolt_system *system) {
  const struct tailvolt_alternator *machine = &system->alternator;
  if (!machine->present) return (double)NAN;
  return system->vehicle.charging == TAILVOLT_CHARGING_COMPUTER ? machine->set_point_low_v : machine->set_point_v;
}

/* The end that does not lie at the alternator, as a root; -1 where it is no relay or converter that charges from there, or closes. */
static int behind_open(const struct tailvolt_system *system, int *above, const struct tailvolt_isolator *i) {
  int charged = root_of(above, system->alternator.positive), from = root_of(above, i->from), to = root_of(above, i->to);
  if (i->kind == TAILVOLT_DIODE || !(i->closes_above_v > tv_charge_lowest_v(system))) return -1;
  return from == charged ? to : i->kind == TAILVOLT_RELAY && to == charged ? from : -1;
}

enum tailvolt_status tv_charge_left_open(const struct tailvolt_system *system, bool *open) {
  int *above = join_by_cable(system);
  if (above == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < system->isolator_count; k++)
    open[k] = system->alternator.present && behind_open(system, above, &system->isolators[k]) >= 0;
  free(above);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_charge_stays_open(const struct tailvolt_system *system, int battery, int *isolator) {
  *isolator = -1;
  if (!system->alternator.present) return TAILVOLT_OK;
  int *above = join_by_cable(system);
  if (above == NULL) return TAILVOLT_NO_MEMORY;
  int own = root_of(above, system->batteries[battery].positive);
  for (int k = 0; k < system->isolator_count && *isolator < 0; k++)
    if (!system->isolators[k].by_engine && behind_open(system, above, &system->isolators[k]) == own) *isolator = k;
  free(above);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_charge_converter(const struct tailvolt_system *system, int battery, int *converter) {
  int *above = join_points(system, NULL), ways = 0, root;
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

static enum tailvolt_status group_in(const struct tv_run *run, int phase, struct tailvolt_result *result) {
  const struct tailvolt_system *system = run->system;
  bool *stays_open = calloc((size_t)system->isolator_count + 1, sizeof *stays_open);
  if (stays_open == NULL) return TAILVOLT_NO_MEMORY;
  double in_all_s = tv_sum_value(&run->statistics->phase[phase].dt_s);
  for (int k = 0; k < system->isolator_count; k++)
    stays_open[k] = tv_sum_value(&run->statistics->isolator[k].closed_s[phase]) < CLOSED_FRAC * in_all_s;
  int *above = join_points(system, stays_open), groups = 0;
  free(stays_open);
  if (above == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < result->battery_count; k++) {
    int root = root_of(above, system->batteries[k].positive), same = 0;
    while (same < k && root_of(above, system->batteries[same].positive) != root) same++;
    result->batteries[k].phase_group[phase] = same < k ? result->batteries[same].phase_group[phase] : groups++;
  }
  free(above);
  return TAILVOLT_OK;
}

static void take_high_end(const struct tv_run *run, struct tailvolt_result *r) {
  const struct tailvolt_alternator *machine = &run->system->alternator;
  const struct tailvolt_result *high = run->high_end;
  r->high_margin_v = high != NULL ? high->margin_v : (double)NAN;
  r->high_end_holds = r->high_margin_v >= TV_HOLDS_FROM_V;
  if (high == NULL) return;
  r->swing.present = true;
  r->swing.low_v = machine->set_point_low_v;
  r->swing.high_v = machine->set_point_high_v;
  r->swing.low_end_above_pct = 100 * machine->low_end_above_frac;
  r->swing.watched = run->system->engine.starter_battery;
  for (int p = 0; p < TAILVOLT_PHASES; p++) {
    if (!high->phases[p].present) continue;
    r->swing.high_balance_a[p] = tv_balance_a(high, (enum tailvolt_phase)p, TV_ALL_BATTERIES);
    r->swing.high_surplus_a[p] = high->phase_budget[p].surplus_a;
    for (int k = 0; k < r->battery_count; k++) r->batteries[k].high_a[p] = high->batteries[k].mean_a[p];
  }
}

enum tailvolt_status tv_charge_prepare(const struct tv_run *run, struct tailvolt_result *result) {
  enum tailvolt_status status = TAILVOLT_OK;
  int judged = 0;
  for (int p = 0; p < TAILVOLT_PHASES && status == TAILVOLT_OK; p++) status = group_in(run, p, result);
  while (judged < TAILVOLT_PHASES - 1 && !result->phases[judged].present) judged++;
  for (int k = 0; k < result->battery_count; k++) result->batteries[k].group = result->batteries[k].phase_group[judged];
  take_high_end(run, result);
  return status;
}

int tv_charge_groups(const struct tailvolt_result *r, enum tailvolt_phase joined) {
  int groups = 0;
  for (int k = 0; k < r->battery_count; k++)
    if (r->batteries[k].phase_group[joined] >= groups) groups = r->batteries[k].phase_group[joined] + 1;
  return groups > 1 ? groups : 0;
}

struct tv_group tv_charge_group(const struct tailvolt_result *r, enum tailvolt_phase joined, int number) {
  for (int k = 0; k < r->battery_count && number >= 0; k++)
    if (r->batteries[k].phase_group[joined] == number) return (struct tv_group){joined, k};
  return TV_ALL_BATTERIES;
}

static bool is_all(struct tv_group group) { return group.first < 0; }

static bool is_in(const struct tailvolt_result *r, int battery, struct tv_group group) {
  return is_all(group) || r->batteries[battery].phase_group[group.joined] == r->batteries[group.first].phase_group[group.joined];
}

bool tv_charge_swings(const struct tailvolt_result *r, struct tv_group group) {
  return r->swing.present && r->swing.watched >= 0 && is_in(r, r->swing.watched, group);
}

/* ---- the rule ---- */

double tv_taken_a(const struct tailvolt_result *r, enum tailvolt_phase phase, struct tv_group group) {
  double taken_a = 0;
  if (is_all(group)) return r->phase_budget[phase].battery_a;
  for (int k = 0; k < r->battery_count; k++)
    if (is_in(r, k, group)) taken_a += r->batteries[k].mean_a[phase];
  return taken_a;
}

double tv_use_taken_a(const struct tailvolt_result *r, enum tailvolt_use use, struct tv_group group) {
  double taken_a = 0;
  if (is_all(group)) return r->uses[use].battery_a;
  for (int k = 0; k < r->battery_count; k++)
    if (is_in(r, k, group)) taken_a += r->batteries[k].use_a[use];
  return taken_a;
}

static double balance_a(const struct tailvolt_result *r, double taken_a, double surplus_a, struct tv_group group) {
  bool full = true;
  for (int k = 0; k < r->battery_count; k++)
    if (is_in(r, k, group)) full = full && r->batteries[k].start_soc_pct >= NEARLY_FULL_PCT;
  return full && taken_a > -TV_BALANCE_SLACK_A && surplus_a > taken_a ? surplus_a : taken_a;
}

double tv_balance_a(const struct tailvolt_result *r, enum tailvolt_phase phase, struct tv_group group) {
  return balance_a(r, tv_taken_a(r, phase, group), r->phase_budget[phase].surplus_a, group);
}

double tv_high_balance_a(const struct tailvolt_result *r, enum tailvolt_phase phase, struct tv_group group) {
  double taken_a = 0;
  if (is_all(group) || !r->phases[phase].present) return r->swing.high_balance_a[phase];
  for (int k = 0; k < r->battery_count; k++)
    if (is_in(r, k, group)) taken_a += r->batteries[k].high_a[phase];
  return balance_a(r, taken_a, r->swing.high_surplus_a[phase], group);
}

double tv_counted_a(const struct tailvolt_result *r, enum tailvolt_phase phase, struct tv_group group) {
  if (is_all(group)) return tailvolt_charge_balance_a(r, phase);
  return tv_charge_swings(r, group) ? tv_high_balance_a(r, phase, group) : tv_balance_a(r, phase, group);
}

double tv_above_half_ah(const struct tailvolt_result *r, struct tv_group group) {
  double above_ah = 0;
  for (int k = 0; k < r->battery_count; k++)
    if (is_in(r, k, group)) above_ah += r->batteries[k].capacity_ah * (r->batteries[k].start_soc_pct - 50) / 100;
  return above_ah > 0 ? above_ah : 0;
}

/* With a moving set point they lose at the low end down to `low end above`, and below that whatever the high end still loses. */
double tv_idle_lasts_s(const struct tailvolt_result *r, struct tv_group group) {
  double loss_a = -tv_balance_a(r, TAILVOLT_IDLE, group), above_ah = tv_above_half_ah(r, group);
  if (!(loss_a > TV_BALANCE_SLACK_A)) return HUGE_VAL;
  if (!tv_charge_swings(r, group)) return 3600 * above_ah / loss_a;
  double capacity_ah = 0;
  for (int k = 0; k < r->battery_count; k++)
    if (is_in(r, k, group)) capacity_ah += r->batteries[k].capacity_ah;
  double low_ah = fmin(capacity_ah * fmax(r->swing.low_end_above_pct - 50, 0) / 100, above_ah);
  double high_loss_a = -tv_high_balance_a(r, TAILVOLT_IDLE, group);
  if (!(high_loss_a > TV_BALANCE_SLACK_A)) return HUGE_VAL;
  return 3600 * ((above_ah - low_ah) / loss_a + low_ah / high_loss_a);
}

double tailvolt_charge_balance_a(const struct tailvolt_result *r, enum tailvolt_phase phase) {
  if (!r->phases[phase].present) return (double)NAN;
  return r->swing.present ? r->swing.high_balance_a[phase] : tv_balance_a(r, phase, TV_ALL_BATTERIES);
}
