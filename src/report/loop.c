#include "report/loop.h"

#include <stdio.h>
#include <string.h>

bool tv_entry_is_battery(const struct tailvolt_ledger_entry *entry) {
  static const char *const own[] = {"charging voltage lost", "alternator at its limit",
                                    "battery resistance", "polarization", "charge used"};
  for (size_t k = 0; k < sizeof own / sizeof own[0]; k++)
    if (strncmp(entry->kind, own[k], strlen(own[k])) == 0) return true;
  return false;
}

static struct tv_loop_part *add(struct tv_loop *loop, const char *name, double drop_v) {
  if (loop->count == TV_LOOP_MAX) loop->count--;
  struct tv_loop_part *part = &loop->part[loop->count++];
  *part = (struct tv_loop_part){.drop_v = drop_v};
  snprintf(part->name, sizeof part->name, "%s", name);
  return part;
}

void tv_loop_of(const struct tailvolt_ledger *ledger, struct tv_loop *loop) {
  loop->count = 0;
  struct tv_loop_part *battery = add(loop, "battery", 0.0);
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    if (tv_entry_is_battery(entry)) battery->drop_v += entry->drop_v;
    else if (!entry->ground_side) add(loop, entry->part, entry->drop_v);
  }
  add(loop, ledger->amplifier, ledger->terminal_v)->amplifier = true;
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    if (entry->ground_side && !tv_entry_is_battery(entry))
      add(loop, entry->part, entry->drop_v)->ground_side = true;
  }
  int worst = -1;
  for (int k = 0; k < loop->count; k++) {
    if (loop->part[k].amplifier) continue;
    if (worst < 0 || loop->part[k].drop_v > loop->part[worst].drop_v) worst = k;
  }
  if (worst >= 0 && loop->part[worst].drop_v > 0.0) loop->part[worst].worst = true;
}
