#include "text/loop.h"

#include <stdio.h>
#include <string.h>

#include "text/words.h"

bool tv_entry_is_battery(const struct tailvolt_ledger_entry *entry) {
  return entry->part_kind == TAILVOLT_PART_BATTERY;
}

static bool ends_in(const char *text, const char *end) {
  size_t length = strlen(text), tail = strlen(end);
  return length >= tail && strcmp(text + length - tail, end) == 0;
}

void tv_part_spoken(enum tailvolt_part_kind kind, const char *name, char *to, size_t size) {
  const char *word = tv_drop_word(TAILVOLT_DROP_WIRING, kind);
  /* a section without a name is called by its kind */
  bool named = name[0] != '\0' && strcmp(name, tv_part_word(kind)) != 0;
  /* "feed at battery" can be nothing but a joint */
  bool said = named && (ends_in(name, word) || (kind == TAILVOLT_PART_JOINT && strstr(name, " at ") != NULL));
  snprintf(to, size, "%s%s%s", named ? name : "", named && !said ? " " : "", said ? "" : word);
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
  tv_part_spoken(entry->part_kind, entry->name, name, sizeof name);
  return add(loop, name, entry->drop_v);
}

void tv_loop_of(const struct tailvolt_ledger *ledger, struct tv_loop *loop) {
  loop->count = 0;
  struct tv_loop_part *battery = add(loop, "battery", 0.0);
  battery->battery = true;
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
