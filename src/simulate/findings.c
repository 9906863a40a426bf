/* Findings: making one, naming its parts, keeping them sorted. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/safety_rules.h"
#include "text/finding_text.h"
#include "text/number.h"
#include "text/text.h"
#include "text/words.h"

struct tailvolt_finding tv_finding(enum tailvolt_finding_kind kind, enum tailvolt_verdict status) {
  const double none = (double)NAN;
  return (struct tailvolt_finding){.kind = kind, .status = status,
      .current_a = none, .limit_a = none, .most_a = none, .peak_a = none, .voltage_v = none, .limit_v = none,
      .temperature_c = none, .limit_c = none, .air_c = none, .margin_k = none, .length_m = none, .limit_m = none,
      .power_w = none, .limit_w = none, .capacitance_f = none, .crest_db = none, .limit_db = none,
      .charge_frac = none, .time_s = none, .resistance_ohm = none, .limit_ohm = none};
}

static const char *name_of(const struct tailvolt_system *system, enum tailvolt_part_kind kind, int index) {
  switch (kind) {
  case TAILVOLT_PART_BATTERY:
    return system->batteries[index].name;
  case TAILVOLT_PART_CAPACITOR:
    return system->capacitors[index].name;
  case TAILVOLT_PART_ISOLATOR:
    return system->isolators[index].name;
  case TAILVOLT_PART_LOAD:
    return system->loads[index].name;
  case TAILVOLT_PART_AMPLIFIER:
    return system->amplifiers[index].name;
  case TAILVOLT_PART_PROGRAMME:
    return system->programmes[index].name;
  case TAILVOLT_PART_CABLE:
  case TAILVOLT_PART_STRAP:
  case TAILVOLT_PART_JOINT:
  case TAILVOLT_PART_FUSE:
    return system->conductors[index].name;
  case TAILVOLT_PART_VEHICLE:
  case TAILVOLT_PART_ENGINE:
  case TAILVOLT_PART_ALTERNATOR:
  case TAILVOLT_PART_CONVERTER:
    break;
  }
  return "";
}

void tv_finding_about(struct tailvolt_finding *finding, const struct tailvolt_system *system,
                      enum tailvolt_part_kind kind, int index) {
  if (finding->part_count == TAILVOLT_FINDING_PARTS) return;
  struct tailvolt_part *part = &finding->part[finding->part_count++];
  bool conductor = kind >= TAILVOLT_PART_CABLE && kind <= TAILVOLT_PART_FUSE;
  part->kind = conductor ? tv_part_of_conductor(system->conductors[index].kind) : kind;
  part->index = index;
  tv_copy_text(part->name, sizeof part->name, name_of(system, kind, index));
  if (kind == TAILVOLT_PART_BATTERY && finding->part_count == 1) {
    finding->battery = system->batteries[index].kind;
    finding->place = system->batteries[index].place;
  }
  if (!conductor || !tv_is_cable(&system->conductors[index])) return;
  const struct tailvolt_conductor *c = &system->conductors[index];
  if (c->size[0] != '\0') tv_copy_text(part->size, sizeof part->size, c->size);
  else snprintf(part->size, sizeof part->size, "%.24s mm2", tv_fixed(c->area_m2 * 1e6, 1).text);
}

struct tailvolt_finding tv_finding_of_conductor(const struct tv_safety_job *job, enum tailvolt_finding_kind kind,
                                                enum tailvolt_verdict status, int conductor) {
  struct tailvolt_finding finding = tv_finding(kind, status);
  tv_finding_about(&finding, job->system, TAILVOLT_PART_CABLE, conductor);
  return finding;
}

struct tailvolt_finding tv_finding_of_battery(const struct tv_safety_job *job, enum tailvolt_finding_kind kind,
                                              enum tailvolt_verdict status, int battery) {
  struct tailvolt_finding finding = tv_finding(kind, status);
  tv_finding_about(&finding, job->system, TAILVOLT_PART_BATTERY, battery);
  return finding;
}

enum tailvolt_status tv_finding_list_add(struct tv_finding_list *list, const struct tailvolt_finding *finding) {
  for (int k = 0; k < list->count; k++)
    if (list->finding[k].status == finding->status && tv_finding_same(&list->finding[k], finding)) {
      /* where one hazard is seen from two sides the larger current counts */
      if (finding->current_a > list->finding[k].current_a) list->finding[k] = *finding;
      return TAILVOLT_OK;
    }
  if (list->count == list->capacity) {
    int capacity = list->capacity == 0 ? 16 : 2 * list->capacity;
    struct tailvolt_finding *larger = realloc(list->finding, (size_t)capacity * sizeof *larger);
    if (larger == NULL) return TAILVOLT_NO_MEMORY;
    list->finding = larger;
    list->capacity = capacity;
  }
  /* worst first, else in the order found */
  int place = list->count;
  while (place > 0 && list->finding[place - 1].status < finding->status) {
    list->finding[place] = list->finding[place - 1];
    place--;
  }
  list->finding[place] = *finding;
  list->count++;
  return TAILVOLT_OK;
}

void tv_find(struct tv_safety_job *job, const struct tailvolt_finding *finding) {
  if (job->status == TAILVOLT_OK) job->status = tv_finding_list_add(job->list, finding);
}

void tv_finding_list_free(struct tv_finding_list *list) {
  free(list->finding);
  memset(list, 0, sizeof *list);
}
