/* The sag ledger: drop by drop from the rest voltage to the worst moment, summing to the sag by Kirchhoff's voltage law. The residual
 * is computed, never spread. */
#include "simulate/ledger.h"

#include <math.h>
#include <stdlib.h>

#include "text/text.h"
#include "text/words.h"

static struct tailvolt_ledger_entry *add(struct tailvolt_ledger *ledger, enum tailvolt_drop drop,
                                         enum tailvolt_part_kind kind, int index, const char *name, double current_a,
                                         double drop_v) {
  struct tailvolt_ledger_entry *entry = &ledger->entries[ledger->entry_count++];
  entry->drop = drop;
  entry->part_kind = kind;
  entry->index = index;
  tv_copy_text(entry->name, sizeof entry->name, name);
  entry->current_a = current_a;
  entry->drop_v = drop_v;
  return entry;
}

/* Ohmic drop split by current direction: what charging added at rest and no longer adds, and what discharging takes. */
static void add_battery(const struct tv_run *run, const struct tv_feed_path *path, struct tailvolt_ledger *ledger) {
  const enum tailvolt_part_kind kind = TAILVOLT_PART_BATTERY;
  const char *name = run->system->batteries[path->battery].name;
  int index = path->battery;
  const struct tv_battery_drops *rest = &path->rest, *worst = &path->worst;
  bool rest_charges = path->rest_battery_a < 0, worst_charges = path->worst_battery_a < 0;
  double charging_v = (worst_charges ? worst->ohmic_v : 0) - (rest_charges ? rest->ohmic_v : 0);
  double resistance_v = (worst_charges ? 0 : worst->ohmic_v) - (rest_charges ? 0 : rest->ohmic_v);
  double a = path->worst_battery_a;
  bool machine = path->worst_at_limit && run->system->vehicle.charging != TAILVOLT_CHARGING_CONVERTER;
  if (rest_charges || worst_charges)
    add(ledger, machine ? TAILVOLT_DROP_AT_LIMIT : TAILVOLT_DROP_CHARGING, kind, index, name, a, charging_v);
  add(ledger, TAILVOLT_DROP_RESISTANCE, kind, index, name, a, resistance_v);
  for (int k = 0; k < worst->branch_count; k++) {
    double before_v = k < rest->branch_count ? rest->branch_v[k] : 0;
    struct tailvolt_ledger_entry *entry =
        add(ledger, TAILVOLT_DROP_POLARIZATION, kind, index, name, a, worst->branch_v[k] - before_v);
    entry->branch = k;
    if (!worst->given) entry->polarization = (enum tailvolt_polarization)(TAILVOLT_POLARIZATION_TRANSFER + k);
  }
  add(ledger, TAILVOLT_DROP_CHARGE_USED, kind, index, name, a, rest->ocv_v - worst->ocv_v);
}

static void add_path(const struct tv_run *run, const struct tv_feed_path *path, struct tailvolt_ledger *ledger) {
  for (int k = 0; k < path->count; k++) {
    const struct tv_feed_path_part *part = &path->part[k];
    const char *name = part->isolator ? run->system->isolators[part->index].name
                                                                        : run->system->conductors[part->index].name;
    enum tailvolt_part_kind kind =
        part->isolator ? TAILVOLT_PART_ISOLATOR : tv_part_of_conductor(run->system->conductors[part->index].kind);
    add(ledger, TAILVOLT_DROP_WIRING, kind, part->index, name, path->worst_a[k],
        path->worst_drop_v[k] - path->rest_drop_v[k])
        ->ground_side = part->ground_side;
  }
}

enum tailvolt_status tv_ledger_make(const struct tv_run *run, int amplifier, struct tailvolt_ledger *ledger) {
  const struct tv_feed_path *path = tv_feed_path_worst(run, amplifier);
  const struct tv_amplifier_total *total = &run->statistics->amplifier[amplifier];
  tv_copy_text(ledger->amplifier, sizeof ledger->amplifier, run->system->amplifiers[amplifier].name);
  ledger->amplifier_index = amplifier;
  ledger->battery_index = path->battery;
  ledger->time_s = total->min_time_s;
  ledger->rest_v = total->rest_v;
  ledger->terminal_v = total->min_v;
  ledger->residual_v = 0;
  ledger->entries = calloc((size_t)path->count + TV_BATTERY_BRANCHES + 4, sizeof *ledger->entries);
  if (ledger->entries == NULL) return TAILVOLT_NO_MEMORY;
  if (path->battery < 0 || isnan(total->min_time_s)) return TAILVOLT_OK;
  tv_copy_text(ledger->battery, sizeof ledger->battery, run->system->batteries[path->battery].name);
  ledger->alternator_at_limit = path->worst_at_limit;
  add_battery(run, path, ledger);
  add_path(run, path, ledger);
  double sag_v = ledger->rest_v - ledger->terminal_v;
  struct tv_sum sum = {0, 0};
  for (int k = 0; k < ledger->entry_count; k++) {
    tv_sum_add(&sum, ledger->entries[k].drop_v);
    ledger->entries[k].share_pct = sag_v != 0 ? 100 * ledger->entries[k].drop_v / sag_v : 0;
  }
  ledger->residual_v = sag_v - tv_sum_value(&sum);
  return TAILVOLT_OK;
}
