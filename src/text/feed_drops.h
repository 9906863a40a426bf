/* The drops along a feed path: one amplifier's circuit as a chain of parts, from the battery out along the feed,
 * through the amplifier and back along the ground side, each with the volts it lost at the worst moment. Text, page
 * and plots all draw this list. */
#ifndef TV_TEXT_FEED_DROPS_H
#define TV_TEXT_FEED_DROPS_H

#include <stdbool.h>
#include <stddef.h>

#include "tailvolt/result.h"

#define TV_FEED_DROPS_MAX 96

/* A smaller sag counts as none: the worst moment is the rest state itself. */
#define TV_NO_SAG_V 0.0005

struct tv_feed_drop {
  char name[TAILVOLT_NAME_MAX + 64];
  double drop_v;   /* for the amplifier: its terminal voltage */
  bool ground_side;
  bool amplifier;
  bool battery;    /* all of the battery's own entries together */
  bool worst;      /* loses the most of all parts */
};

struct tv_feed_drops {
  int count;
  struct tv_feed_drop part[TV_FEED_DROPS_MAX];
};

/* The battery's own entries and what charging lost stand together as one part, first: "battery", or "battery and charging"; where the
 * car has several it is named, "second battery". */
void tv_feed_drops_of(const struct tailvolt_ledger *ledger, bool several, struct tv_feed_drops *drops);

/* A part as people name it: "feed cable" for [cable feed], "body stud joint", "main fuse", "split charge relay"; a
 * name that already ends in its kind stays as it is, and so does a joint "at" something. */
void tv_part_spoken(enum tailvolt_part_kind kind, const char *name, char *to, size_t size);

/* What of the battery's part was charging lost (the alternator no longer lifts it, or is at its limit) rather than the
 * battery's own sag; less than this is not worth a word of its own, and counts as none. */
#define TV_CHARGING_TOLD_V 0.05
double tv_charging_drop_v(const struct tailvolt_ledger *ledger);

/* True for an entry of the battery itself (or of the charging), false for a part of the wiring. */
bool tv_entry_is_battery(const struct tailvolt_ledger_entry *entry);

#endif
