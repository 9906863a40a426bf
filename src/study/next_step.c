/* The next step. */
#include "tailvolt/study.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "parts/battery.h"
#include "parts/conductor.h"
#include "study/larger_alternator.h"
#include "study/on_by_ignition.h"
#include "text/number.h"
#include "text/text.h"
#include "text/words.h"
#include "simulate/charge.h"
#include "simulate/each.h"
#include "simulate/safety.h"
#include "simulate/worst.h"

/* Power cable sizes the trade stocks (common practice), and the steps in which batteries and alternators are sold
 * (makers' lists, common practice). */
struct size {
  const char *text;
  double area_m2;
};
static const struct size awg_sizes[] = {{"8 AWG", 8.37e-6},    {"4 AWG", 21.15e-6},   {"2 AWG", 33.63e-6},
                                        {"1/0 AWG", 53.48e-6}, {"2/0 AWG", 67.43e-6}, {"4/0 AWG", 107.2e-6}};
static const struct size metric_sizes[] = {{"10 mm2", 10e-6}, {"16 mm2", 16e-6}, {"25 mm2", 25e-6}, {"35 mm2", 35e-6},
                                           {"50 mm2", 50e-6}, {"70 mm2", 70e-6}, {"95 mm2", 95e-6}};
static const double alternators_a[] = {70, 90, 110, 120, 150, 180, 220, 260};
static const double converters_a[] = {20, 30, 40, 60};
static const double batteries_ah[] = {45, 55, 60, 70, 80, 95, 110};
#define COUNT(table) (sizeof(table) / sizeof(table)[0])

enum { CHANGES_MOST = 4 };

/* One change to try. */
struct change {
  double drop_v; /* its entry in the ledger */
  struct tailvolt_next_step step;
};

static void set(struct change *change, const char *section, const char *key, const char *value) {
  struct tailvolt_next_step *step = &change->step;
  if (step->setting_count == TAILVOLT_STEP_SETTINGS) return;
  snprintf(step->setting[step->setting_count++], sizeof step->setting[0], "%s.%s = %s", section, key, value);
}

/* The first of an ascending series that is at least a tenth above `now`; NAN = none. */
static double next_above(const double *series, size_t count, double now) {
  for (size_t k = 0; k < count; k++)
    if (series[k] >= 1.1 * now) return series[k];
  return (double)NAN;
}

static bool change_cable(const struct tailvolt_conductor *cable, const struct tailvolt_ledger_entry *entry,
                         struct change *change) {
  bool metric = tv_size_is_metric(cable->size);
  const struct size *sizes = metric ? metric_sizes : awg_sizes;
  size_t count = metric ? COUNT(metric_sizes) : COUNT(awg_sizes);
  for (size_t k = 0; k < count; k++) {
    if (sizes[k].area_m2 < 1.15 * cable->area_m2) continue;
    char section[TAILVOLT_NAME_MAX + 16];
    tv_section_words(entry->part_kind, entry->name, section, sizeof section);
    /* clad cable differs from copper in more than size */
    bool clad = tv_is_aluminium(cable->material);
    snprintf(change->step.size, sizeof change->step.size, "%s", sizes[k].text);
    change->step.into_copper = clad;
    set(change, section, "size", sizes[k].text);
    if (clad) set(change, section, "material", "copper");
    return true;
  }
  return false;
}

/* A poor joint made as good as a sound lug. */
static bool change_joint(const struct tailvolt_conductor *joint, const struct tailvolt_ledger_entry *entry,
                         struct change *change) {
  if (!tv_is_poor_joint(joint)) return false;
  char section[TAILVOLT_NAME_MAX + 16];
  tv_section_words(entry->part_kind, entry->name, section, sizeof section);
  snprintf(change->step.size, sizeof change->step.size, "0.3 mohm");
  set(change, section, "resistance", change->step.size);
  return true;
}

static bool change_alternator(const struct tailvolt_system *system, struct change *change) {
  const struct tailvolt_alternator *machine = &system->alternator;
  if (!machine->present) return false;
  double now_a = isfinite(machine->fixed_output_a) ? machine->fixed_output_a : machine->rated_a;
  double next_a = next_above(alternators_a, COUNT(alternators_a), now_a);
  if (isnan(next_a)) return false;
  snprintf(change->step.size, sizeof change->step.size, "%s A", tv_compact(next_a, 1).text);
  struct tv_larger_alternator larger;
  if (!tv_larger_alternator(system, next_a, &larger)) return false;
  for (int k = 0; k < larger.count; k++) set(change, "alternator", larger.setting[k].key, larger.setting[k].value);
  return true;
}

static bool change_battery(const struct tailvolt_battery *battery, struct change *change) {
  char section[TAILVOLT_NAME_MAX + 16], value[64];
  double next_ah = next_above(batteries_ah, COUNT(batteries_ah), battery->capacity_ah);
  if (isfinite(battery->resistance_ohm) || battery->polarization_count > 0 || isnan(next_ah)) return false;
  tv_section_words(TAILVOLT_PART_BATTERY, battery->name, section, sizeof section);
  snprintf(value, sizeof value, "%s Ah", tv_compact(next_ah, 1).text);
  tv_copy_text(change->step.size, sizeof change->step.size, value);
  set(change, section, "capacity", value);
  snprintf(value, sizeof value, "%s A %s", tv_fixed(battery->cold_cranking_a * next_ah / battery->capacity_ah, 0).text,
           tv_cranking_word(battery->cold_cranking_standard));
  set(change, section, "cold cranking", value);
  double reserve_min = tv_battery_reserve_scaled_min(battery, next_ah);
  if (isfinite(reserve_min)) {
    snprintf(value, sizeof value, "%s min", tv_fixed(reserve_min, 0).text);
    set(change, section, "reserve", value);
  }
  return true;
}

/* Between two batteries, in place of one that brings the second too little. */
static bool change_converter(const struct tailvolt_isolator *old, struct change *change) {
  char section[TAILVOLT_NAME_MAX + 16], value[96];
  double next_a = next_above(converters_a, COUNT(converters_a), old->output_a);
  if (isnan(next_a)) return false;
  tv_section_words(TAILVOLT_PART_ISOLATOR, old->name, section, sizeof section);
  snprintf(change->step.size, sizeof change->step.size, "%s A", tv_compact(next_a, 1).text);
  snprintf(value, sizeof value, "%s A at %s V", tv_compact(next_a, 1).text, tv_compact(old->output_v, 2).text);
  set(change, section, "output", value);
  if (old->rating_a < next_a) {
    snprintf(value, sizeof value, "%s A", tv_compact(next_a, 1).text);
    set(change, section, "rating", value);
  }
  return true;
}

/* What the alternator's lowest set point leaves open, switched by the ignition instead. */
static void change_sense(const struct tailvolt_isolator *old, struct change *change) {
  char section[TAILVOLT_NAME_MAX + 16];
  tv_section_words(TAILVOLT_PART_ISOLATOR, old->name, section, sizeof section);
  tv_copy_text(change->step.size, sizeof change->step.size, tv_isolator_kind_word(old->kind));
  change->step.by_engine = true;
  struct tv_on_by_ignition on = tv_on_by_ignition(old->kind);
  for (int k = 0; k < on.count; k++) set(change, section, on.setting[k].key, on.setting[k].value);
}

static bool change_entry(const struct tailvolt_system *system, const struct tailvolt_ledger_entry *entry,
                         struct change *change) {
  if (entry->drop == TAILVOLT_DROP_CHARGING || entry->drop == TAILVOLT_DROP_AT_LIMIT)
    return change_alternator(system, change);
  switch ((int)entry->part_kind) {
  case TAILVOLT_PART_BATTERY:
    return change_battery(&system->batteries[entry->index], change);
  case TAILVOLT_PART_CABLE:
  case TAILVOLT_PART_STRAP:
    return change_cable(&system->conductors[entry->index], entry, change);
  case TAILVOLT_PART_JOINT:
    return change_joint(&system->conductors[entry->index], entry, change);
  }
  return false;
}

static void add_change(struct change *list, int *count, const struct change *change) {
  for (int k = 0; k < *count; k++)
    if (list[k].step.kind == change->step.kind && list[k].step.index == change->step.index) return;
  int at = *count < CHANGES_MOST ? (*count)++ : CHANGES_MOST - 1;
  if (at == CHANGES_MOST - 1 && *count == CHANGES_MOST && list[at].step.setting_count > 0 && !(change->drop_v > list[at].drop_v))
    return;
  for (; at > 0 && list[at - 1].drop_v < change->drop_v; at--) list[at] = list[at - 1];
  list[at] = *change;
}

/* The largest entries that can be changed. A battery counts once, with all its branches. Where charge is lost the alternator
 * comes first, whatever the ledger of one moment says, or the converter before that battery. -1 = out of memory. */
static int choose_changes(const struct tailvolt_system *system, const struct tailvolt_result *result,
                          const struct tailvolt_ledger *ledger, struct change *list) {
  const double least_v = 0.05; /* less is not worth a part */
  double battery_v = 0.0;
  int count = 0;
  for (int k = 0; k < ledger->entry_count; k++) {
    enum tailvolt_drop drop = ledger->entries[k].drop;
    if (drop == TAILVOLT_DROP_RESISTANCE || drop == TAILVOLT_DROP_POLARIZATION)
      battery_v += ledger->entries[k].drop_v;
  }
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    bool machine_s = entry->drop == TAILVOLT_DROP_CHARGING || entry->drop == TAILVOLT_DROP_AT_LIMIT;
    struct change change = {.drop_v = entry->drop == TAILVOLT_DROP_RESISTANCE ? battery_v : entry->drop_v,
                            .step = {.kind = machine_s ? TAILVOLT_PART_ALTERNATOR : entry->part_kind,
                                     .index = machine_s ? 0 : entry->index}};
    if (!machine_s) tv_copy_text(change.step.name, sizeof change.step.name, entry->name);
    if (change.drop_v >= least_v && change_entry(system, entry, &change)) add_change(list, &count, &change);
  }
  struct change machine = {.drop_v = HUGE_VAL, .step = {.kind = TAILVOLT_PART_ALTERNATOR}};
  struct change feeder = {.drop_v = HUGE_VAL, .step = {.kind = TAILVOLT_PART_ISOLATOR}}, joiner = feeder;
  bool lost = ledger->alternator_at_limit;
  int converter = -1, open = -1;
  for (int k = 0; k < result->reason_count; k++) {
    const struct tailvolt_reason *reason = &result->reasons[k];
    if (reason->topic != TAILVOLT_ABOUT_CHARGE) continue;
    lost = true;
    if (reason->about.index < 0) continue;
    if (converter < 0 && tv_charge_converter(system, reason->about.index, &converter) != TAILVOLT_OK) return -1;
    if (open < 0 && tv_charge_stays_open(system, reason->about.index, &open) != TAILVOLT_OK) return -1;
  }
  if (lost && change_alternator(system, &machine)) add_change(list, &count, &machine);
  if (open >= 0) {
    joiner.step.index = open;
    tv_copy_text(joiner.step.name, sizeof joiner.step.name, system->isolators[open].name);
    change_sense(&system->isolators[open], &joiner);
    add_change(list, &count, &joiner);
    return count;
  }
  if (converter < 0) return count;
  feeder.step.index = converter;
  tv_copy_text(feeder.step.name, sizeof feeder.step.name, system->isolators[converter].name);
  if (change_converter(&system->isolators[converter], &feeder)) add_change(list, &count, &feeder);
  return count;
}

/* The fuse too big for its cable, brought down to the largest standard one that protects it. */
static enum tailvolt_status choose_fuse(const struct tailvolt_system *system, struct change *change, bool *found) {
  *found = false;
  for (int k = 0; k < system->conductor_count && !*found; k++) {
    const struct tailvolt_conductor *fuse = &system->conductors[k];
    double ampacity_a;
    int cable;
    if (fuse->kind != TAILVOLT_FUSE) continue;
    enum tailvolt_status status = tv_safety_protected_a(system, k, &ampacity_a, &cable);
    if (status != TAILVOLT_OK) return status;
    if (cable < 0 || !(fuse->rating_a > ampacity_a)) continue;
    double fits_a = tv_safety_largest_fuse_a(system, &system->conductors[cable], fuse->fuse_kind);
    if (isnan(fits_a)) continue;
    char section[TAILVOLT_NAME_MAX + 16], value[48];
    tv_section_words(TAILVOLT_PART_FUSE, fuse->name, section, sizeof section);
    snprintf(value, sizeof value, "%s A", tv_compact(fits_a, 1).text);
    *change = (struct change){.step = {.kind = TAILVOLT_PART_FUSE, .index = k}};
    tv_copy_text(change->step.name, sizeof change->step.name, fuse->name);
    tv_copy_text(change->step.size, sizeof change->step.size, value);
    set(change, section, "rating", value);
    *found = true;
  }
  return TAILVOLT_OK;
}

static enum tailvolt_status try_change(const struct tailvolt_system *system, const struct change *change,
                                       const struct tailvolt_profile *profile, const struct tailvolt_options *options,
                                       struct tailvolt_result **after) {
  struct tailvolt_setting settings[TAILVOLT_STEP_SETTINGS];
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  struct tailvolt_system *changed = NULL;
  struct tailvolt_options quiet = *options;
  *after = NULL;
  quiet.record = NULL;
  enum tailvolt_status status = faults != NULL ? tailvolt_system_copy(system, &changed) : TAILVOLT_NO_MEMORY;
  const struct tailvolt_next_step *step = &change->step;
  for (int k = 0; k < step->setting_count; k++) settings[k].text = step->setting[k];
  if (status == TAILVOLT_OK) status = tailvolt_system_change(changed, settings, step->setting_count, faults);
  /* a part that the file does not place itself may refuse this setting: nothing to try */
  bool same = changed != NULL && changed->amplifier_count == system->amplifier_count &&
              changed->load_count == system->load_count && changed->programme_count == system->programme_count;
  if (status == TAILVOLT_OK && same) status = tailvolt_simulate(changed, profile, &quiet, after, NULL);
  tailvolt_system_free(changed);
  free(faults);
  return status;
}

/* What one step is worth. */
struct worth {
  struct tailvolt_result *after;
  double gain_v;
};

static void take_outcome(const struct tailvolt_result *after, struct tailvolt_next_step *step) {
  int order[TAILVOLT_PHASES], count = tv_phases_worst_first(after, order);
  step->verdict = after->status;
  step->safety = after->safety;
  step->short_phase = -1;
  if (count == 0 || after->phases[order[0]].status == TAILVOLT_HOLDS) return;
  step->short_phase = order[0];
  step->short_verdict = after->phases[order[0]].status;
}

static const struct tailvolt_ledger *ledger_of(const struct tailvolt_result *result, int amplifier) {
  for (int k = 0; k < result->ledger_count; k++)
    if (result->ledgers[k].amplifier_index == amplifier) return &result->ledgers[k];
  return NULL;
}

/* For when nothing but a fuse is wrong. */
static enum tailvolt_status fuse_step(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                                      const struct tailvolt_options *options, struct tailvolt_next_step *out) {
  struct change change;
  struct tailvolt_result *after = NULL;
  bool found;
  enum tailvolt_status status = choose_fuse(system, &change, &found);
  if (status != TAILVOLT_OK || !found) return status;
  status = try_change(system, &change, profile, options, &after);
  if (after != NULL) {
    *out = change.step;
    out->outcome = TAILVOLT_STEP_FUSE;
    take_outcome(after, out);
  }
  tailvolt_result_free(after);
  return status;
}

/* What the threads share. */
struct crew {
  const struct tailvolt_system *system;
  const struct tailvolt_profile *profile;
  const struct tailvolt_options *options;
  const struct change *list;
  struct worth *worth;
  enum tailvolt_status each[CHANGES_MOST];
};

static void try_one(void *context, int k) {
  struct crew *crew = context;
  struct tailvolt_options own = *crew->options;
  if (k > 0) own.progress = NULL; /* one reports for all */
  crew->each[k] = try_change(crew->system, &crew->list[k], crew->profile, &own, &crew->worth[k].after);
}

static enum tailvolt_status try_all(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                                    const struct tailvolt_options *options, const struct change *list, int count,
                                    struct worth *worth) {
  struct crew crew = {system, profile, options, list, worth, {TAILVOLT_OK}};
  tv_each(count, tv_threads(0), try_one, &crew);
  for (int k = 0; k < count; k++)
    if (crew.each[k] == TAILVOLT_NO_MEMORY || crew.each[k] == TAILVOLT_STOPPED) return crew.each[k];
  return TAILVOLT_OK;
}

/* The first that is enough, from the largest drop on, one that puts SAFETY right before others; else the one that gains most. -1 = none
 * gains anything worth a part. */
static int best_of(struct worth *worth, int count, const struct tailvolt_result *before, bool charge_alone, int phase,
                   struct tv_group group, int amplifier) {
  int best = -1, enough = -1;
  double most = 0.05;
  enum tailvolt_phase at = (enum tailvolt_phase)phase;
  for (int k = 0; k < count; k++) {
    const struct tailvolt_result *after = worth[k].after;
    if (after == NULL) continue;
    worth[k].gain_v = tv_phase_margin_v(after, amplifier, phase) - tv_phase_margin_v(before, amplifier, phase);
    double gain = charge_alone ? tv_taken_a(after, at, group) - tv_taken_a(before, at, group) : worth[k].gain_v;
    bool holds = after->status == TAILVOLT_HOLDS && gain >= 0.05;
    if (holds && after->safety != TAILVOLT_FAILS) return k;
    if (holds && enough < 0) enough = k;
    if (gain >= most) best = k, most = gain;
  }
  return enough >= 0 ? enough : best;
}

enum tailvolt_status tailvolt_find_next_step(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                                             const struct tailvolt_options *options,
                                             const struct tailvolt_result *result, struct tailvolt_next_step *out) {
  int order[TAILVOLT_PHASES];
  struct change list[CHANGES_MOST] = {{0}};
  struct worth worth[CHANGES_MOST] = {{0}};
  *out = (struct tailvolt_next_step){.short_phase = -1};
  if ((result->status == TAILVOLT_HOLDS && result->safety != TAILVOLT_FAILS))
    return TAILVOLT_OK;
  if (tv_phases_worst_first(result, order) == 0) return TAILVOLT_OK;
  enum tailvolt_status status;
  if (result->status == TAILVOLT_HOLDS) {
    status = fuse_step(system, profile, options, out);
    return status == TAILVOLT_NO_MEMORY || status == TAILVOLT_STOPPED ? status : TAILVOLT_OK;
  }
  int phase = order[0], amplifier = tv_worst_amplifier(result, phase);
  const struct tailvolt_ledger *ledger = amplifier >= 0 ? ledger_of(result, amplifier) : NULL;
  if (ledger == NULL) return TAILVOLT_OK;
  bool charge_alone = result->reason_count > 0 && result->reasons[0].topic == TAILVOLT_ABOUT_CHARGE;
  struct tv_group group = TV_ALL_BATTERIES;
  if (charge_alone) group = (struct tv_group){(enum tailvolt_phase)result->reasons[0].phase, result->reasons[0].about.index};
  int count = choose_changes(system, result, ledger, list);
  if (count < 0) return TAILVOLT_NO_MEMORY;
  status = try_all(system, profile, options, list, count, worth);
  int best = best_of(worth, count, result, charge_alone, phase, group, amplifier);
  out->outcome = charge_alone ? TAILVOLT_STEP_NONE_CHARGES : TAILVOLT_STEP_NONE_HELPS;
  if (best >= 0) {
    const struct tailvolt_result *after = worth[best].after;
    *out = list[best].step;
    out->outcome = charge_alone ? TAILVOLT_STEP_CHARGE : TAILVOLT_STEP_VOLTAGE;
    out->phase = phase;
    /* what is judged, not the deepest dip: the reader compares it with the target */
    out->quantile_v = after->amplifiers[amplifier].phase[phase].quantile_v;
    out->target_v = after->amplifiers[amplifier].phase[phase].target_v;
    out->missed_frac = system->targets.missed_frac;
    out->battery_a = tv_taken_a(after, (enum tailvolt_phase)phase, group);
    take_outcome(after, out);
  }
  for (int k = 0; k < count; k++) tailvolt_result_free(worth[k].after);
  return status;
}
