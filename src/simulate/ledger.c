/* The sag ledger: drop by drop what lies between the rest voltage and the worst moment, summing to the sag by Kirchhoff's voltage law.
 * The residual is computed, never spread. */
#include "simulate/ledger.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text/text.h"

static struct tailvolt_ledger_entry *add(struct tailvolt_ledger *ledger, const char *part, const char *kind,
                                         double current_a, double drop_v) {
  struct tailvolt_ledger_entry *entry = &ledger->entries[ledger->entry_count++];
  tv_copy_text(entry->part, sizeof entry->part, part);
  tv_copy_text(entry->kind, sizeof entry->kind, kind);
  entry->current_a = current_a;
  entry->drop_v = drop_v;
  return entry;
}

/* Ohmic drop split by the direction of the current: what charging added at rest and no longer adds, and what discharging takes. */
static void add_battery(const struct tv_run *run, const struct tv_path *path, struct tailvolt_ledger *ledger) {
  const char *name = run->system->batteries[path->battery].name;
  char part[TAILVOLT_NAME_MAX + 32];
  bool named = strcmp(name, "battery") != 0; /* a section without a name is called by its kind */
  snprintf(part, sizeof part, "battery%s%s", named ? " " : "", named ? name : "");
  const struct tv_battery_drops *rest = &path->rest, *worst = &path->worst;
  bool rest_charges = path->rest_battery_a < 0, worst_charges = path->worst_battery_a < 0;
  double charging_v = (worst_charges ? worst->ohmic_v : 0) - (rest_charges ? rest->ohmic_v : 0);
  double resistance_v = (worst_charges ? 0 : worst->ohmic_v) - (rest_charges ? 0 : rest->ohmic_v);
  double a = path->worst_battery_a;
  if (rest_charges || worst_charges)
    add(ledger, part, path->worst_at_limit ? "alternator at its limit" : "charging voltage lost", a, charging_v);
  add(ledger, part, "battery resistance", a, resistance_v);
  for (int k = 0; k < worst->branch_count; k++) {
    double before_v = k < rest->branch_count ? rest->branch_v[k] : 0;
    add(ledger, part, "polarization", a, worst->branch_v[k] - before_v);
  }
  add(ledger, part, "charge used", a, rest->ocv_v - worst->ocv_v);
}

static void add_path(const struct tv_run *run, const struct tv_path *path, struct tailvolt_ledger *ledger) {
  static const char *const kinds[] = {"cable", "strap", "joint", "fuse"};
  for (int k = 0; k < path->count; k++) {
    const struct tv_path_part *part = &path->part[k];
    char name[TAILVOLT_NAME_MAX + 32];
    const char *kind = "relay";
    if (part->isolator) {
      snprintf(name, sizeof name, "isolator %s", run->system->isolators[part->index].name);
    } else {
      const struct tailvolt_conductor *c = &run->system->conductors[part->index];
      kind = kinds[c->kind];
      snprintf(name, sizeof name, "%s %s", kind, c->name);
    }
    add(ledger, name, kind, path->worst_a[k], path->worst_drop_v[k] - path->rest_drop_v[k])->ground_side =
        part->ground_side;
  }
}

enum tailvolt_status tv_ledger_make(const struct tv_run *run, int amplifier, struct tailvolt_ledger *ledger) {
  const struct tv_path *path = &run->path[amplifier];
  const struct tv_amplifier_total *total = &run->statistics->amplifier[amplifier];
  tv_copy_text(ledger->amplifier, sizeof ledger->amplifier, run->system->amplifiers[amplifier].name);
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
