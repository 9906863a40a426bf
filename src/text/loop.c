#include "text/loop.h"

#include <stdio.h>
#include <string.h>

bool tv_entry_is_battery(const struct tailvolt_ledger_entry *entry) {
  static const char *const own[] = {"charging voltage lost", "alternator at its limit",
                                    "battery resistance", "polarization", "charge used"};
  for (size_t k = 0; k < sizeof own / sizeof own[0]; k++)
    if (strncmp(entry->kind, own[k], strlen(own[k])) == 0) return true;
  return false;
}

const char *tv_part_name(const struct tailvolt_ledger_entry *entry) {
  size_t length = strlen(entry->kind);
  bool prefixed = length > 0 && strncmp(entry->part, entry->kind, length) == 0 && entry->part[length] == ' ' &&
                  entry->part[length + 1] != '\0';
  return prefixed ? entry->part + length + 1 : entry->part;
}

void tv_part_spoken(const struct tailvolt_ledger_entry *entry, char *to, size_t size) {
  const char *name = tv_part_name(entry);
  size_t length = strlen(name), kind_length = strlen(entry->kind);
  bool said = length >= kind_length && strcmp(name + length - kind_length, entry->kind) == 0;
  /* "feed at battery" can be nothing but a joint */
  said = said || (strcmp(entry->kind, "joint") == 0 && strstr(name, " at ") != NULL);
  snprintf(to, size, "%s%s%s", name, said ? "" : " ", said ? "" : entry->kind);
}

static struct tv_loop_part *add(struct tv_loop *loop, const char *name, double drop_v) {
  if (loop->count == TV_LOOP_MAX) loop->count--;
  struct tv_loop_part *part = &loop->part[loop->count++];
  *part = (struct tv_loop_part){.drop_v = drop_v};
  snprintf(part->name, sizeof part->name, "%s", name);
  return part;
}

static struct tv_loop_part *add_entry(struct tv_loop *loop, const struct tailvolt_ledger_entry *entry) {
  char name[TAILVOLT_NAME_MAX + 64];
  tv_part_spoken(entry, name, sizeof name);
  return add(loop, name, entry->drop_v);
}

void tv_loop_of(const struct tailvolt_ledger *ledger, struct tv_loop *loop) {
  loop->count = 0;
  struct tv_loop_part *battery = add(loop, "battery", 0.0);
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    if (tv_entry_is_battery(entry)) battery->drop_v += entry->drop_v;
    else if (!entry->ground_side) add_entry(loop, entry);
  }
  add(loop, ledger->amplifier, ledger->terminal_v)->amplifier = true;
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    if (entry->ground_side && !tv_entry_is_battery(entry))
      add_entry(loop, entry)->ground_side = true;
  }
  int worst = -1;
  for (int k = 0; k < loop->count; k++) {
    if (loop->part[k].amplifier) continue;
    if (worst < 0 || loop->part[k].drop_v > loop->part[worst].drop_v) worst = k;
  }
  if (worst >= 0 && loop->part[worst].drop_v > 0.0) loop->part[worst].worst = true;
}
