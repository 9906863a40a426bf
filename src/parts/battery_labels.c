#include "parts/battery_labels.h"

#include <stdlib.h>
#include <string.h>

#include "parts/battery_model.h"
#include "text/lock.h"

/* A label and the battery at full health that it describes. */
struct entry {
  unsigned long long hash;
  struct tailvolt_battery label;
  struct tv_battery *battery;
  struct entry *next;
};

enum { BUCKETS = 256 };

struct tv_labels {
  struct tv_lock lock;
  struct entry *first[BUCKETS];
};

struct tv_labels *tv_labels_make(void) {
  struct tv_labels *labels = calloc(1, sizeof *labels);
  if (labels != NULL) tv_lock_make(&labels->lock);
  return labels;
}

static void free_entry(struct entry *entry) {
  if (entry == NULL) return;
  tv_battery_free(entry->battery);
  free(entry);
}

void tv_labels_free(struct tv_labels *labels) {
  for (int k = 0; k < BUCKETS && labels != NULL; k++)
    for (struct entry *e = labels->first[k], *next; e != NULL; e = next) {
      next = e->next;
      free_entry(e);
    }
  if (labels != NULL) tv_lock_free(&labels->lock);
  free(labels);
}

/* What the solution depends on, nothing else. Compared byte by byte: at worst a label is solved once more. */
static struct tailvolt_battery label_of(const struct tailvolt_battery *spec) {
  struct tailvolt_battery label;
  memcpy(&label, spec, sizeof label);
  memset(label.name, 0, sizeof label.name);
  label.positive = label.negative = 0;
  label.soc_frac = label.rested_v = label.health_frac = label.cranking_health_frac = 0;
  label.place = (enum tailvolt_place)0;
  label.vented = false;
  return label;
}

/* FNV-1a (Fowler, Noll, Vo). */
static unsigned long long hash_of(const struct tailvolt_battery *label) {
  const unsigned char *byte = (const unsigned char *)label;
  unsigned long long hash = 14695981039346656037u;
  for (size_t k = 0; k < sizeof *label; k++) hash = (hash ^ byte[k]) * 1099511628211u;
  return hash;
}

/* Entries never move or change while others may read them. */
static const struct tv_battery *find(struct tv_labels *labels, unsigned long long hash,
                                     const struct tailvolt_battery *label) {
  const struct tv_battery *found = NULL;
  tv_lock_take(&labels->lock);
  for (const struct entry *e = labels->first[hash % BUCKETS]; e != NULL && found == NULL; e = e->next)
    if (e->hash == hash && memcmp(&e->label, label, sizeof *label) == 0) found = e->battery;
  tv_lock_give(&labels->lock);
  return found;
}

/* Not keeping it for want of memory costs only time. */
static void keep(struct tv_labels *labels, unsigned long long hash, const struct tailvolt_battery *label,
                 const struct tv_battery *battery) {
  struct entry *entry = calloc(1, sizeof *entry);
  if (entry == NULL) return;
  entry->hash = hash;
  memcpy(&entry->label, label, sizeof *label);
  if ((entry->battery = tv_battery_copy(battery)) == NULL) {
    free_entry(entry);
    return;
  }
  tv_lock_take(&labels->lock);
  entry->next = labels->first[hash % BUCKETS];
  labels->first[hash % BUCKETS] = entry;
  tv_lock_give(&labels->lock);
}

enum tailvolt_status tv_battery_create_by(struct tv_labels *labels, const struct tailvolt_battery *spec, struct tv_battery **out,
                                          char *error) {
  if (labels == NULL) return tv_battery_create(spec, out, error);
  struct tailvolt_battery label = label_of(spec);
  unsigned long long hash = hash_of(&label);
  const struct tv_battery *known = find(labels, hash, &label);
  if (known != NULL) {
    *out = tv_battery_copy(known);
  } else {
    enum tailvolt_status status = tv_battery_create_full(spec, &tv_battery_kinds[spec->kind], out, error);
    if (status != TAILVOLT_OK) return status;
    keep(labels, hash, &label, *out);
  }
  if (*out == NULL) return TAILVOLT_NO_MEMORY;
  tv_battery_put_condition(*out, spec);
  return TAILVOLT_OK;
}
