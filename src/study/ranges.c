/* The uncertain values of a system: every number from a default, a label or a meter, with the range of similar cars. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/assumes.h"
#include "study/ranges.h"
#include "text/words.h"

/* ---- building the list ---- */

struct list {
  const struct tailvolt_system *system;
  struct tailvolt_uncertainty *out;
  int room, factor_room;
  bool *installed, *new_joint; /* [conductors] */
  int new_joints;              /* so far */
  bool out_of_memory;
};

/* The number of a vehicle that represents a factor; `part` distinguishes factors that every part has for
 * itself. */
struct factor_of {
  enum tailvolt_factor factor;
  int part; /* -1 = one for the car */
};

static int find_factor(struct list *list, struct factor_of wanted, int *parts) {
  struct tailvolt_uncertainty *out = list->out;
  for (int k = 0; k < out->factor_count; k++)
    if (out->factors[k] == wanted.factor && parts[k] == wanted.part) return k;
  out->factors[out->factor_count] = wanted.factor;
  parts[out->factor_count] = wanted.part;
  return out->factor_count++;
}

static struct tailvolt_uncertain *grow(struct list *list) {
  struct tailvolt_uncertainty *out = list->out;
  if (out->count == list->room) {
    int room = 2 * list->room + 64;
    struct tailvolt_uncertain *more = realloc(out->values, (size_t)room * sizeof *more);
    if (more == NULL) {
      list->out_of_memory = true;
      return NULL;
    }
    out->values = more;
    list->room = room;
  }
  struct tailvolt_uncertain *one = &out->values[out->count++];
  memset(one, 0, sizeof *one);
  return one;
}

static bool part_measured(const struct tailvolt_system *system, const char *section, const char *key) {
  char full[2 * TAILVOLT_NAME_MAX];
  snprintf(full, sizeof full, "%s.%s", section, key);
  return tv_system_measures(system, full);
}

static double on_basis(enum tv_basis basis, double number, double nominal) {
  return basis == TV_TIMES ? number * nominal : basis == TV_PLUS ? number + nominal : number;
}

static double bounded(const struct tv_range_row *row, double number) { return fmin(fmax(number, row->least), row->most); }

static void set_range(struct tailvolt_uncertain *one, const struct tv_range_row *row, const struct tv_range *range) {
  one->low = bounded(row, on_basis(range->basis, range->low, one->nominal));
  one->high = bounded(row, on_basis(range->basis, range->high, one->nominal));
  if (one->low > one->high) { /* multiplied by a negative number */
    double low = one->high;
    one->high = one->low;
    one->low = low;
  }
  one->distribution = range->distribution;
  one->tail_frac = range->tail_frac;
  one->tail_high = range->tail_frac > 0 ? bounded(row, on_basis(range->basis, range->tail_high, one->nominal)) : one->high;
  if (one->tail_high <= one->high) {
    one->tail_frac = 0;
    one->tail_high = one->high;
  }
  one->reason = range->reason;
}

static void set_meter(struct tailvolt_uncertain *one, const struct tv_range_row *row) {
  double half = fabs(one->nominal) * row->meter.share + row->meter.plus;
  struct tv_range range = {TV_PLUS, -half, half, TAILVOLT_EVEN, 0, 0, row->meter.reason};
  set_range(one, row, &range);
  one->origin = TAILVOLT_FROM_METER;
}

/* What the file's [tolerance] gives for a value: half the width of its range, NAN = nothing. */
static struct tv_range tolerance_of(const struct tailvolt_tolerance *t, enum tailvolt_uncertain_value value) {
  double plus = (double)NAN, share = (double)NAN;
  switch (value) {
  case TAILVOLT_VALUE_HEALTH: plus = t->health_frac; break;
  case TAILVOLT_VALUE_CHARGE: plus = t->soc_frac; break;
  case TAILVOLT_VALUE_AMBIENT: plus = t->temperature_k; break;
  case TAILVOLT_VALUE_LEVEL: plus = t->level_db; break;
  case TAILVOLT_VALUE_PER_METRE:
  case TAILVOLT_VALUE_JOINT:
  case TAILVOLT_VALUE_FUSE:
  case TAILVOLT_VALUE_BATTERY_RESISTANCE:
  case TAILVOLT_VALUE_CRANKING_HEALTH: share = t->resistance_frac; break;
  case TAILVOLT_VALUE_CRANKING:
  case TAILVOLT_VALUE_BREAKAWAY:
  case TAILVOLT_VALUE_START_NEEDS: share = t->cranking_frac; break;
  case TAILVOLT_VALUE_BASE_LOAD:
  case TAILVOLT_VALUE_LOAD_POWER: share = t->base_load_frac; break;
  case TAILVOLT_VALUE_SET_POINT:
  case TAILVOLT_VALUE_CONVERTER_SET_POINT: plus = t->set_point_v; break;
  case TAILVOLT_VALUE_RATED_CURRENT:
  case TAILVOLT_VALUE_LOW_CURRENT:
  case TAILVOLT_VALUE_FIXED_OUTPUT:
  case TAILVOLT_VALUE_CONVERTER_CURRENT: share = t->output_frac; break;
  case TAILVOLT_VALUE_PULLEY_RATIO: share = t->pulley_frac; break;
  case TAILVOLT_VALUE_IDLE_SPEED: plus = t->idle_rpm; break;
  case TAILVOLT_VALUE_RATED_POWER: share = t->power_frac; break;
  case TAILVOLT_VALUE_EFFICIENCY: plus = t->efficiency_frac; break;
  case TAILVOLT_VALUE_CUT_OUT: plus = t->cut_out_v; break;
  case TAILVOLT_VALUE_LENGTH: share = t->length_frac; break;
  default: break;
  }
  static const char reason[] = "the file's [tolerance]";
  if (!isnan(plus)) return (struct tv_range){TV_PLUS, -plus, plus, TAILVOLT_EVEN, 0, 0, reason};
  if (!isnan(share)) return (struct tv_range){TV_TIMES, 1 - share, 1 + share, TAILVOLT_EVEN, 0, 0, reason};
  return (struct tv_range){.reason = NULL};
}

/* Adds a value to the list, with the meter's range, else the file's tolerance, else `range`, or the table's
 * where that is NULL. */
static struct tailvolt_uncertain *add(struct list *list, int *parts, enum tailvolt_uncertain_value value,
                                      enum tailvolt_part_kind kind, int index, const char *name, const struct tv_range *range,
                                      struct factor_of factor) {
  const struct tailvolt_system *system = list->system;
  const struct tv_range_row *row = tv_range_row(value);
  double nominal = tv_uncertain_get(system, value, index);
  char section[TAILVOLT_NAME_MAX + 16], key[2 * TAILVOLT_NAME_MAX];
  tv_section_words(kind, name, section, sizeof section);
  snprintf(key, sizeof key, "%s.%s", section, row->key);
  bool assumed = tv_system_assumes(system, key), by_drop = part_measured(system, section, "measured drop");
  bool by_tester = value == TAILVOLT_VALUE_CRANKING_HEALTH && part_measured(system, section, "tester cold cranking");
  bool measured = tv_system_measures(system, key) || (value == TAILVOLT_VALUE_MEASURED_DROP) || by_tester ||
                  (by_drop && (value == TAILVOLT_VALUE_JOINT || value == TAILVOLT_VALUE_FUSE));
  struct tv_range tolerance = tolerance_of(&system->tolerance, value);
  if (range == NULL) range = assumed ? &row->assumed : &row->stated;
  if (!isfinite(nominal) || (!measured && tolerance.reason == NULL && range->reason == NULL)) return NULL;
  struct tailvolt_uncertain *one = grow(list);
  if (one == NULL) return NULL;
  snprintf(one->key, sizeof one->key, "%s", key);
  if (by_drop && measured) snprintf(one->key, sizeof one->key, "%s.measured drop", section);
  one->value = value;
  one->part.kind = kind;
  one->part.index = index;
  snprintf(one->part.name, sizeof one->part.name, "%s", name);
  one->nominal = nominal;
  one->when_parked_only = row->when_parked_only;
  if (value == TAILVOLT_VALUE_COLD_CRANKING) one->cranking_standard = system->batteries[index].cold_cranking_standard;
  one->origin = assumed ? TAILVOLT_FROM_DEFAULT : TAILVOLT_FROM_FILE;
  if (measured) {
    set_meter(one, row);
    factor = (struct factor_of){TAILVOLT_FACTOR_METER, list->out->count};
  } else if (tolerance.reason != NULL) {
    set_range(one, row, &tolerance);
    one->by_tolerance = true;
  } else {
    set_range(one, row, range);
  }
  if (one->low == one->high && one->tail_frac == 0) { /* zero tolerance, or a bound */
    list->out->count--;
    return NULL;
  }
  one->factor = factor.factor;
  one->factor_index = find_factor(list, factor, parts);
  one->tail_index = -1;
  return one;
}

static struct tailvolt_uncertain *add_plain(struct list *list, int *parts, enum tailvolt_uncertain_value value,
                                            enum tailvolt_part_kind kind, int index, const char *name, int part) {
  return add(list, parts, value, kind, index, name, NULL, (struct factor_of){tv_range_row(value)->factor, part});
}

/* ---- the parts of a system ---- */

static void add_car(struct list *list, int *parts) {
  static const enum tailvolt_uncertain_value vehicle[] = {TAILVOLT_VALUE_BASE_LOAD, TAILVOLT_VALUE_AMBIENT,
                                                          TAILVOLT_VALUE_ENGINE_BAY, TAILVOLT_VALUE_KEY_OFF};
  static const enum tailvolt_uncertain_value start[] = {TAILVOLT_VALUE_CRANKING, TAILVOLT_VALUE_BREAKAWAY,
                                                        TAILVOLT_VALUE_START_NEEDS};
  static const enum tailvolt_uncertain_value machine[] = {TAILVOLT_VALUE_RATED_CURRENT, TAILVOLT_VALUE_LOW_CURRENT,
                                                          TAILVOLT_VALUE_PULLEY_RATIO, TAILVOLT_VALUE_SET_POINT,
                                                          TAILVOLT_VALUE_DRIFT, TAILVOLT_VALUE_FIELD_TIME};
  const struct tailvolt_system *system = list->system;
  for (size_t k = 0; k < sizeof vehicle / sizeof *vehicle; k++)
    add_plain(list, parts, vehicle[k], TAILVOLT_PART_VEHICLE, 0, "", -1);
  bool boots = !isnan(system->engine.start_needs_a);
  for (size_t k = boots ? 2 : 0; k < (boots ? 3u : 2u); k++) add_plain(list, parts, start[k], TAILVOLT_PART_ENGINE, 0, "", -1);
  if (system->converter.present) {
    add_plain(list, parts, TAILVOLT_VALUE_CONVERTER_CURRENT, TAILVOLT_PART_CONVERTER, 0, "", -1);
    add_plain(list, parts, TAILVOLT_VALUE_CONVERTER_SET_POINT, TAILVOLT_PART_CONVERTER, 0, "", -1);
  } else if (system->alternator.present) {
    bool fixed = !isnan(system->alternator.fixed_output_a);
    if (!fixed) add_plain(list, parts, TAILVOLT_VALUE_IDLE_SPEED, TAILVOLT_PART_ENGINE, 0, "", -1);
    if (fixed) add_plain(list, parts, TAILVOLT_VALUE_FIXED_OUTPUT, TAILVOLT_PART_ALTERNATOR, 0, "", -1);
    for (size_t k = fixed ? 3 : 0; k < sizeof machine / sizeof *machine; k++)
      add_plain(list, parts, machine[k], TAILVOLT_PART_ALTERNATOR, 0, "", -1);
  }
}

static void add_batteries(struct list *list, int *parts) {
  static const enum tailvolt_uncertain_value values[] = {
      TAILVOLT_VALUE_CAPACITY, TAILVOLT_VALUE_COLD_CRANKING,   TAILVOLT_VALUE_CHARGE,           TAILVOLT_VALUE_RESTED_VOLTAGE,
      TAILVOLT_VALUE_HEALTH,   TAILVOLT_VALUE_CRANKING_HEALTH, TAILVOLT_VALUE_BATTERY_RESISTANCE};
  /* the one that starts the car first, wherever it stands in the file: its factors are then drawn alike */
  int first = list->system->engine.starter_battery;
  for (int n = 0; n < list->system->battery_count; n++)
    for (size_t k = 0; k < sizeof values / sizeof *values; k++) {
      enum tailvolt_factor factor = tv_range_row(values[k])->factor;
      int b = n == 0 ? first : n <= first ? n - 1 : n;
      bool starts = b == list->system->engine.starter_battery;
      bool alone = factor != TAILVOLT_FACTOR_AGE && factor != TAILVOLT_FACTOR_CHARGE;
      if (factor == TAILVOLT_FACTOR_AGE && !starts) factor = TAILVOLT_FACTOR_OTHER_AGE;
      add(list, parts, values[k], TAILVOLT_PART_BATTERY, b, list->system->batteries[b].name, NULL,
          (struct factor_of){factor, alone ? b : -1});
    }
}

/* Whether the part has a key in the file by which its copper was measured. */
static bool is_sized_by_copper(const struct list *list, const char *section) {
  static const char *const keys[] = {"strands", "conductor diameter", "per metre"};
  char key[2 * TAILVOLT_NAME_MAX];
  for (int k = 0; k < 3; k++) {
    snprintf(key, sizeof key, "%s.%s", section, keys[k]);
    if (tv_system_states(list->system, key)) return true;
  }
  return false;
}

static void add_cable(struct list *list, int *parts, int index) {
  const struct tailvolt_conductor *c = &list->system->conductors[index];
  enum tailvolt_part_kind kind = tv_part_of_conductor(c->kind);
  char section[TAILVOLT_NAME_MAX + 16];
  tv_section_words(kind, c->name, section, sizeof section);
  if (part_measured(list->system, section, "measured drop")) {
    add_plain(list, parts, TAILVOLT_VALUE_MEASURED_DROP, kind, index, c->name, index);
    return;
  }
  bool kit = list->installed[index];
  const struct tv_range *range = !kit                               ? &tv_range_factory_cable
                                 : is_sized_by_copper(list, section) ? &tv_range_kit_sized
                                                                    : &tv_range_row(TAILVOLT_VALUE_PER_METRE)->assumed;
  add(list, parts, TAILVOLT_VALUE_PER_METRE, kind, index, c->name, range,
      (struct factor_of){kit ? TAILVOLT_FACTOR_KIT : TAILVOLT_FACTOR_FACTORY_CABLE, -1});
  add_plain(list, parts, TAILVOLT_VALUE_LENGTH, kind, index, c->name, -1);
}

static void add_joint(struct list *list, int *parts, int index) {
  const struct tailvolt_conductor *c = &list->system->conductors[index];
  char section[TAILVOLT_NAME_MAX + 16], key[2 * TAILVOLT_NAME_MAX];
  tv_section_words(TAILVOLT_PART_JOINT, c->name, section, sizeof section);
  snprintf(key, sizeof key, "%s.resistance", section);
  bool assumed = tv_system_assumes(list->system, key), fresh = list->new_joint[index];
  if (c->role == TAILVOLT_ROLE_BODY) {
    add(list, parts, TAILVOLT_VALUE_JOINT, TAILVOLT_PART_JOINT, index, c->name,
        assumed ? &tv_range_body_shell : &tv_range_stated_shell, (struct factor_of){TAILVOLT_FACTOR_SHELL, index});
    return;
  }
  const struct tv_range *range = fresh ? (assumed ? &tv_range_new_joint : &tv_range_stated_new_joint)
                                       : (assumed ? &tv_range_old_joint : &tv_range_stated_old_joint);
  struct tailvolt_uncertain *one =
      add(list, parts, TAILVOLT_VALUE_JOINT, TAILVOLT_PART_JOINT, index, c->name, range,
          (struct factor_of){fresh ? TAILVOLT_FACTOR_WORKMANSHIP : TAILVOLT_FACTOR_OLD_JOINT, fresh ? -1 : index});
  if (one == NULL || one->factor != TAILVOLT_FACTOR_WORKMANSHIP || !(one->tail_frac > 0)) return;
  /* one slice of the factor for each; with more joints than slices the last ones share */
  int slices = (int)floor(1 / one->tail_frac + 1e-9);
  one->tail_index = find_factor(list, (struct factor_of){TAILVOLT_FACTOR_BAD_JOINT, -1}, parts);
  one->tail_place = list->new_joints++ % slices;
}

static void add_conductors(struct list *list, int *parts) {
  for (int k = 0; k < list->system->conductor_count; k++) {
    const struct tailvolt_conductor *c = &list->system->conductors[k];
    if (c->kind == TAILVOLT_JOINT) add_joint(list, parts, k);
    else if (c->kind == TAILVOLT_FUSE) add_plain(list, parts, TAILVOLT_VALUE_FUSE, TAILVOLT_PART_FUSE, k, c->name, -1);
    else add_cable(list, parts, k);
  }
}

static void add_loads(struct list *list, int *parts) {
  for (int k = 0; k < list->system->load_count; k++) {
    const struct tailvolt_load *load = &list->system->loads[k];
    if (!(load->power_w > 0)) continue;
    enum tailvolt_factor factor = load->lamp != TAILVOLT_LAMP_NONE ? TAILVOLT_FACTOR_NIGHT : TAILVOLT_FACTOR_LOADS;
    add(list, parts, TAILVOLT_VALUE_LOAD_POWER, TAILVOLT_PART_LOAD, k, load->name, NULL, (struct factor_of){factor, -1});
  }
}

static void add_rest(struct list *list, int *parts) {
  static const enum tailvolt_uncertain_value amplifier[] = {
      TAILVOLT_VALUE_RATED_POWER,          TAILVOLT_VALUE_EFFICIENCY,          TAILVOLT_VALUE_CUT_OUT, TAILVOLT_VALUE_IDLE_CURRENT,
      TAILVOLT_VALUE_INTERNAL_CAPACITANCE, TAILVOLT_VALUE_INTERNAL_RESISTANCE, TAILVOLT_VALUE_LEVEL};
  static const enum tailvolt_uncertain_value isolator[] = {TAILVOLT_VALUE_ISOLATOR_RESISTANCE, TAILVOLT_VALUE_CLOSES_ABOVE,
                                                           TAILVOLT_VALUE_OPENS_BELOW, TAILVOLT_VALUE_ISOLATOR_DROP,
                                                           TAILVOLT_VALUE_ISOLATOR_OUTPUT, TAILVOLT_VALUE_ISOLATOR_EFFICIENCY};
  const struct tailvolt_system *system = list->system;
  for (int a = 0; a < system->amplifier_count; a++)
    for (size_t k = 0; k < sizeof amplifier / sizeof *amplifier; k++)
      add_plain(list, parts, amplifier[k], TAILVOLT_PART_AMPLIFIER, a, system->amplifiers[a].name,
                amplifier[k] == TAILVOLT_VALUE_LEVEL ? -1 : a);
  for (int c = 0; c < system->capacitor_count; c++) {
    add_plain(list, parts, TAILVOLT_VALUE_CAPACITANCE, TAILVOLT_PART_CAPACITOR, c, system->capacitors[c].name, c);
    add_plain(list, parts, TAILVOLT_VALUE_ESR, TAILVOLT_PART_CAPACITOR, c, system->capacitors[c].name, c);
  }
  for (int i = 0; i < system->isolator_count; i++)
    for (size_t k = 0; k < sizeof isolator / sizeof *isolator; k++)
      add_plain(list, parts, isolator[k], TAILVOLT_PART_ISOLATOR, i, system->isolators[i].name, i);
}

/* Every conductor has at most one factor of its own, every other part a handful. */
static int factors_at_most(const struct tailvolt_system *system) {
  return TAILVOLT_FACTORS + 2 * system->conductor_count + 8 * system->battery_count + 8 * system->amplifier_count +
         system->load_count + 2 * system->capacitor_count + 8 * system->isolator_count + 16;
}

/* Sorts factors by their enum: the sequence that draws vehicles fills its first dimensions best. */
static void sort_factors(struct tailvolt_uncertainty *out, int *place) {
  int count = out->factor_count, at = 0;
  for (int f = 0; f < TAILVOLT_FACTORS; f++)
    for (int k = 0; k < count; k++)
      if ((int)out->factors[k] == f) place[k] = at++;
  for (int k = 0; k < out->count; k++) {
    struct tailvolt_uncertain *one = &out->values[k];
    one->factor_index = place[one->factor_index];
    if (one->tail_index >= 0) one->tail_index = place[one->tail_index];
  }
  for (int k = 1; k < count; k++) {
    enum tailvolt_factor moved = out->factors[k];
    int to = k;
    for (; to > 0 && out->factors[to - 1] > moved; to--) out->factors[to] = out->factors[to - 1];
    out->factors[to] = moved;
  }
}

enum tailvolt_status tailvolt_uncertainty_of(const struct tailvolt_system *system, struct tailvolt_uncertainty **out) {
  struct list list = {.system = system, .out = calloc(1, sizeof *list.out)};
  size_t most = (size_t)factors_at_most(system), conductors = (size_t)system->conductor_count + 1;
  int *parts = calloc(2 * most, sizeof *parts);
  list.installed = calloc(conductors, sizeof *list.installed);
  list.new_joint = calloc(conductors, sizeof *list.new_joint);
  if (list.out != NULL) list.out->factors = calloc(most, sizeof *list.out->factors);
  *out = NULL;
  bool room = list.out != NULL && list.out->factors != NULL && parts != NULL && list.installed != NULL && list.new_joint != NULL;
  enum tailvolt_status status = room ? tv_find_installation(system, list.installed, list.new_joint) : TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK) {
    add_car(&list, parts);
    add_batteries(&list, parts);
    add_conductors(&list, parts);
    add_loads(&list, parts);
    add_rest(&list, parts);
    sort_factors(list.out, parts + most);
    if (list.out_of_memory) status = TAILVOLT_NO_MEMORY;
  }
  free(parts);
  free(list.installed);
  free(list.new_joint);
  if (status == TAILVOLT_OK) *out = list.out;
  else tailvolt_uncertainty_free(list.out);
  return status;
}

void tailvolt_uncertainty_free(struct tailvolt_uncertainty *uncertainty) {
  if (uncertainty == NULL) return;
  free(uncertainty->values);
  free(uncertainty->factors);
  free(uncertainty);
}
