#include "text/feed_drops.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text/text.h"
#include "text/words.h"

bool tv_entry_is_battery(const struct tailvolt_ledger_entry *entry) {
  return entry->part_kind == TAILVOLT_PART_BATTERY;
}

double tv_charging_drop_v(const struct tailvolt_ledger *ledger) {
  double sum_v = 0.0;
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    bool charging = entry->drop == TAILVOLT_DROP_CHARGING || entry->drop == TAILVOLT_DROP_AT_LIMIT;
    if (charging && tv_entry_is_battery(entry)) sum_v += entry->drop_v;
  }
  return fabs(sum_v) < TV_CHARGING_TOLD_V ? 0.0 : sum_v;
}

static bool ends_in(const char *text, const char *end) {
  size_t length = strlen(text), tail = strlen(end);
  return length >= tail && strcmp(text + length - tail, end) == 0;
}

void tv_part_spoken(enum tailvolt_part_kind kind, const char *name, char *to, size_t size) {
  const char *word = tv_drop_word(TAILVOLT_DROP_WIRING, kind);
  /* a section without a name is called by its kind */
  bool named = name[0] != '\0' && strcmp(name, tv_part_word(kind)) != 0;
  /* "feed at battery" can only be a joint */
  bool said = named && (ends_in(name, word) || (kind == TAILVOLT_PART_JOINT && strstr(name, " at ") != NULL));
  snprintf(to, size, "%s%s%s", named ? name : "", named && !said ? " " : "", said ? "" : word);
}

static struct tv_feed_drop *add(struct tv_feed_drops *drops, const char *name, double drop_v) {
  if (drops->count == TV_FEED_DROPS_MAX) drops->count--;
  struct tv_feed_drop *part = &drops->part[drops->count++];
  *part = (struct tv_feed_drop){.drop_v = drop_v};
  snprintf(part->name, sizeof part->name, "%s", name);
  return part;
}

static struct tv_feed_drop *add_entry(struct tv_feed_drops *drops, const struct tailvolt_ledger_entry *entry) {
  char name[TAILVOLT_NAME_MAX + 64];
  tv_part_spoken(entry->part_kind, entry->name, name, sizeof name);
  return add(drops, name, entry->drop_v);
}

void tv_feed_drops_of(const struct tailvolt_ledger *ledger, bool several, struct tv_feed_drops *drops) {
  char name[TAILVOLT_NAME_MAX + 32];
  tv_part_spoken(TAILVOLT_PART_BATTERY, several ? ledger->battery : "", name, sizeof name);
  drops->count = 0;
  struct tv_feed_drop *battery = add(drops, name, 0.0);
  if (tv_charging_drop_v(ledger) != 0.0) tv_append(battery->name, sizeof battery->name, " and charging");
  battery->battery = true;
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    if (tv_entry_is_battery(entry)) battery->drop_v += entry->drop_v;
    else if (!entry->ground_side) add_entry(drops, entry);
  }
  add(drops, ledger->amplifier, ledger->terminal_v)->amplifier = true;
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    if (entry->ground_side && !tv_entry_is_battery(entry))
      add_entry(drops, entry)->ground_side = true;
  }
  int worst = -1;
  for (int k = 0; k < drops->count; k++) {
    if (drops->part[k].amplifier) continue;
    if (worst < 0 || drops->part[k].drop_v > drops->part[worst].drop_v) worst = k;
  }
  if (worst >= 0 && drops->part[worst].drop_v > 0.0) drops->part[worst].worst = true;
}
