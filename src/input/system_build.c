/* From sections with values to the plain structs of the public header: the parts, and the points that they join. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/faults.h"
#include "input/system_draft.h"
#include "parts/conductor.h"
#include "parts/fuse.h"
#include "text/number.h"
#include "text/text.h"

struct build {
  struct tv_draft *draft;
  struct tailvolt_system *system;
  int point_room;
  char first_negative[TAILVOLT_NAME_MAX]; /* the file's own name for `ground` */
};

/* Number of a point, created if new; TAILVOLT_NOWHERE when out of memory. */
static int point_of(struct build *b, const char *name) {
  struct tailvolt_system *system = b->system;
  if (b->first_negative[0] != '\0' && strcmp(name, b->first_negative) == 0) return 0;
  for (int k = 0; k < system->point_count; k++)
    if (strcmp(system->point_names[k], name) == 0) return k;
  if (system->point_count == b->point_room) {
    int room = b->point_room == 0 ? 32 : 2 * b->point_room;
    char(*names)[TAILVOLT_NAME_MAX] = realloc(system->point_names, (size_t)room * sizeof *names);
    if (names == NULL) {
      b->draft->no_memory = true;
      return TAILVOLT_NOWHERE;
    }
    system->point_names = names;
    b->point_room = room;
  }
  memset(system->point_names[system->point_count], 0, TAILVOLT_NAME_MAX);
  tv_copy_text(system->point_names[system->point_count], TAILVOLT_NAME_MAX, name);
  return system->point_count++;
}

/* The point a key names; a fault where it is absent and has no default. */
static int place(struct build *b, struct tv_part *part, enum tv_key_id key, const char *otherwise) {
  if (!tv_has(part, key) && otherwise == NULL) {
    b->draft->layout_broken = true;
    /* reported already: without the battery that starts the car the standard car has no wiring for the others */
    if (b->draft->standard_car && b->draft->starter == NULL) return TAILVOLT_NOWHERE;
    const char *own = b->draft->own_wiring;
    tv_part_fault(b->draft, part, key, "'%s' is missing in [%s]: which point does it join?%s%s%s",
                  tv_key_of(key)->name, part->id, own[0] == '\0' ? "" : " ([", own,
                  own[0] == '\0' ? "" : "] names its points, so all wiring is the file's own)");
    return TAILVOLT_NOWHERE;
  }
  if (tv_has(part, key) && part->value[key]->bad) {
    b->draft->layout_broken = true;
    return TAILVOLT_NOWHERE;
  }
  tv_assume(b->draft, part, key, otherwise == NULL ? "" : otherwise, false);
  return point_of(b, tv_text(part, key));
}

static bool file_names_point(const struct tv_draft *draft, const char *name) {
  for (int p = 0; p < draft->part_count; p++)
    for (int key = 0; key < TV_KEY_COUNT; key++)
      if (tv_key_of((enum tv_key_id)key)->form == TV_FORM_POINT && draft->parts[p]->value[key] != NULL &&
          strcmp(draft->parts[p]->value[key]->text, name) == 0)
        return true;
  return false;
}

/* Adds a label point to the curve, kept in ascending speed; false where that speed is already there. */
static bool add_output(struct tailvolt_alternator *a, double rpm, double current_a) {
  int at = a->output_count;
  for (int k = 0; k < a->output_count; k++)
    if (a->output_rpm[k] == rpm) return false;
  if (a->output_count == TAILVOLT_CURVE_MAX) return false;
  while (at > 0 && a->output_rpm[at - 1] > rpm) {
    a->output_rpm[at] = a->output_rpm[at - 1];
    a->output_a[at] = a->output_a[at - 1];
    at--;
  }
  a->output_rpm[at] = rpm;
  a->output_a[at] = current_a;
  a->output_count++;
  return true;
}

static void build_curve(struct build *b, struct tv_part *part, struct tailvolt_alternator *a) {
  bool unread = false;
  static const enum tv_key_id points[] = {TV_K_RATED_CURRENT, TV_K_LOW_CURRENT, TV_K_ALT_OUTPUT};
  for (size_t k = 0; k < 3; k++) unread = unread || (tv_has(part, points[k]) && part->value[points[k]]->bad);
  if (!tv_has(part, TV_K_RATED_CURRENT) || tv_has(part, TV_K_FIXED_OUTPUT) || unread) return;
  add_output(a, TAILVOLT_RATED_RPM, a->rated_a);
  if (tv_has(part, TV_K_LOW_CURRENT)) add_output(a, TAILVOLT_LOW_RPM, tv_number(part, TV_K_LOW_CURRENT));
  const struct tv_value *more = part->value[TV_K_ALT_OUTPUT];
  enum tv_key_id about = more != NULL ? TV_K_ALT_OUTPUT : TV_K_LOW_CURRENT;
  for (int k = 0; more != NULL && k < more->count; k++)
    if (!add_output(a, more->y[k], more->x[k])) {
      if (a->output_count == TAILVOLT_CURVE_MAX)
        tv_part_fault(b->draft, part, about, "more than %d outputs beside the rated current",
                      TAILVOLT_CURVE_MAX - 1);
      else
        tv_part_fault(b->draft, part, about, "two outputs at %s rpm", tv_significant(more->y[k], 6).text);
      return;
    }
  for (int k = 1; k < a->output_count; k++)
    if (a->output_a[k] <= a->output_a[k - 1]) {
      tv_part_fault(b->draft, part, about, "the output must rise with speed: %s A at %s rpm, %s A at %s rpm",
                    tv_significant(a->output_a[k - 1], 6).text, tv_significant(a->output_rpm[k - 1], 6).text,
                    tv_significant(a->output_a[k], 6).text, tv_significant(a->output_rpm[k], 6).text);
      return;
    }
  if (a->output_count < 2)
    tv_part_fault(b->draft, part, about,
                  "one more output below 6000 rpm is needed; write for example 'low current = 55 A'");
}

static void build_alternator(struct build *b, struct tv_part *part) {
  struct tailvolt_alternator *a = &b->system->alternator;
  a->present = true;
  a->positive = place(b, part, TV_K_ALT_POSITIVE, NULL);
  a->negative = place(b, part, TV_K_ALT_NEGATIVE,
                      file_names_point(b->draft, "engine block") ? "engine block" : "ground");
  a->fixed_output_a = tv_number(part, TV_K_FIXED_OUTPUT);
  a->rated_a = tv_has(part, TV_K_RATED_CURRENT) ? tv_number(part, TV_K_RATED_CURRENT) : a->fixed_output_a;
  a->pulley_ratio = tv_number(part, TV_K_PULLEY_RATIO);
  a->set_point_v = a->set_point_low_v = tv_number(part, TV_K_SET_POINT);
  a->set_point_high_v = tv_has(part, TV_K_SET_POINT) ? part->value[TV_K_SET_POINT]->y[0] : (double)NAN;
  a->low_end_above_frac = tv_number(part, TV_K_LOW_END_ABOVE);
  a->drift_v_per_k = tv_number(part, TV_K_DRIFT);
  a->field_s = tv_number(part, TV_K_FIELD_TIME);
  a->ramp_a_per_s = tv_number(part, TV_K_RAMP);
  a->rated_v = tv_number(part, TV_K_ALT_RATED_V);
  a->droop_ohm = tv_number(part, TV_K_DROOP);
  build_curve(b, part, a);
}

/* A source that needs no engine: works whenever the car is ready. */
static void build_converter(struct build *b, struct tv_part *part) {
  struct tailvolt_converter *c = &b->system->converter;
  struct tailvolt_alternator *a = &b->system->alternator;
  c->present = true;
  c->rated_a = tv_number(part, TV_K_CONV_RATED);
  c->set_point_v = tv_number(part, TV_K_CONV_SET_POINT);
  a->present = true;
  a->positive = place(b, part, TV_K_CONV_POSITIVE, NULL);
  a->negative = place(b, part, TV_K_CONV_NEGATIVE, file_names_point(b->draft, "body") ? "body" : "ground");
  a->fixed_output_a = a->rated_a = c->rated_a;
  a->pulley_ratio = 1.0;
  a->rated_v = 13.5;
  a->set_point_v = a->set_point_low_v = a->set_point_high_v = c->set_point_v;
  a->low_end_above_frac = 0.75;
  a->sense = a->positive;
}

static void build_battery(struct build *b, struct tv_part *part) {
  if (part == b->draft->starter) b->system->engine.starter_battery = b->system->battery_count;
  struct tailvolt_battery *t = &b->system->batteries[b->system->battery_count++];
  tv_part_name(t->name, part);
  t->positive = place(b, part, TV_K_BAT_POSITIVE, NULL);
  t->negative = place(b, part, TV_K_BAT_NEGATIVE, "ground");
  t->kind = (enum tailvolt_battery_kind)tv_word(part, TV_K_BAT_KIND);
  t->capacity_ah = tv_number(part, TV_K_CAPACITY);
  t->reserve_min = tv_number(part, TV_K_RESERVE);
  t->cold_cranking_a = tv_number(part, TV_K_COLD_CRANKING);
  t->cold_cranking_standard = (enum tailvolt_cranking_standard)tv_word(part, TV_K_COLD_CRANKING);
  t->soc_frac = tv_number(part, TV_K_SOC);
  t->rested_v = tv_number(part, TV_K_RESTED);
  t->health_frac = tv_number(part, TV_K_HEALTH);
  t->place = (enum tailvolt_place)tv_word(part, TV_K_PLACE);
  t->vented = tv_word(part, TV_K_VENTED) == 1;
  t->cranking_health_frac = tv_has(part, TV_K_TESTER_CRANKING)
                                ? tv_number(part, TV_K_TESTER_CRANKING) / t->cold_cranking_a
                                : tv_number(part, TV_K_CRANKING_HEALTH);
  if (tv_has(part, TV_K_TESTER_CRANKING) &&
      !(t->cranking_health_frac >= 0.05 && t->cranking_health_frac <= 1.5))
    tv_part_fault(b->draft, part, TV_K_TESTER_CRANKING,
                  "'tester cold cranking' must be 5 %% to 150 %% of 'cold cranking' (%s A)",
                  tv_significant(t->cold_cranking_a, 6).text);
  t->resistance_ohm = tv_number(part, TV_K_BAT_RESISTANCE);
  t->empty_v = tv_number(part, TV_K_EMPTY);
  const struct tv_value *slow = part->value[TV_K_POLARIZATION], *rested = part->value[TV_K_OPEN_CIRCUIT];
  for (int k = 0; slow != NULL && k < slow->count; k++) {
    t->polarization_ohm[k] = slow->x[k];
    t->polarization_s[k] = slow->y[k];
    t->polarization_count = k + 1;
  }
  for (int k = 0; rested != NULL && k < rested->count; k++) {
    t->open_circuit_v[k] = rested->x[k];
    t->open_circuit_frac[k] = rested->y[k];
    t->open_circuit_count = k + 1;
    if (k > 0 && (rested->y[k] <= rested->y[k - 1] || rested->x[k] < rested->x[k - 1])) {
      tv_part_fault(b->draft, part, TV_K_OPEN_CIRCUIT,
                    "'open circuit' must rise in charge and voltage from point to point");
      break;
    }
  }
  if (t->open_circuit_count == 1)
    tv_part_fault(b->draft, part, TV_K_OPEN_CIRCUIT,
                  "'open circuit' needs two points; write for example '11.9 V at 0 %%, 12.8 V at 100 %%'");
}

static void build_conductor(struct build *b, struct tv_part *part) {
  struct tailvolt_conductor *c = &b->system->conductors[b->system->conductor_count++];
  tv_part_name(c->name, part);
  c->kind = part->kind == TV_KIND_CABLE   ? TAILVOLT_CABLE
            : part->kind == TV_KIND_STRAP ? TAILVOLT_STRAP
            : part->kind == TV_KIND_FUSE  ? TAILVOLT_FUSE
                                          : TAILVOLT_JOINT;
  c->from = place(b, part, TV_K_FROM, NULL);
  c->to = place(b, part, TV_K_TO, NULL);
  c->distance_m = tv_number(part, TV_K_DISTANCE);
  c->rated_v = tv_number(part, TV_K_FUSE_RATED_V);
  c->role = (enum tailvolt_role)tv_word(part, TV_K_ROLE);
  c->parallel = 1;
  c->assumed = part->standard;
  c->size_chosen = part->chosen;
  c->claimed_ohm = (double)NAN;
  c->insulation_limit_c = (double)NAN;
  if (part->kind == TV_KIND_CABLE || part->kind == TV_KIND_STRAP) {
    c->length_m = tv_number(part, TV_K_LENGTH);
    c->insulation_limit_c = tv_number(part, TV_K_INSULATION);
    c->laid = (enum tailvolt_laid)tv_word(part, TV_K_LAID);
    c->place = (enum tailvolt_place)tv_word(part, TV_K_PLACE);
    tv_cable_section(b->draft, part, c);
    c->claimed_ohm = tv_claimed_ohm(part, c);
  }
  if (part->kind == TV_KIND_FUSE) {
    c->fuse_kind = (enum tailvolt_fuse_kind)tv_word(part, TV_K_FUSE_KIND);
    c->rating_a = tv_number(part, TV_K_RATING);
    c->resistance_ohm = tv_fuse_resistance_ohm(c->rating_a);
  }
  if (tv_has(part, TV_K_RESISTANCE)) c->resistance_ohm = tv_number(part, TV_K_RESISTANCE);
  const struct tv_value *drop = part->value[TV_K_MEASURED_DROP];
  if (drop == NULL || drop->bad) return;
  c->resistance_ohm = drop->x[0] / drop->y[0];
  if (c->length_m > 0.0) c->claimed_ohm = tv_claimed_ohm(part, c);
  if (c->area_m2 > 0.0 || (c->kind != TAILVOLT_CABLE && c->kind != TAILVOLT_STRAP)) return;
  /* only the drop is known: the cable that would have it */
  struct tv_section section = {0};
  if (tv_section_from_resistance(c->resistance_ohm / c->length_m, c->material, &section)) {
    c->area_m2 = tv_material_resistivity_ohm_m(c->material) / section.r20_ohm_per_m;
    c->outer_m = section.outer_m;
    c->temperature_per_k = tv_material_temperature_per_k(c->material);
    tv_copy_text(c->size, sizeof c->size, "as measured");
  } else if (c->length_m > 0.0) {
    tv_part_fault(b->draft, part, TV_K_MEASURED_DROP,
                  "a drop of '%.60s' fits no cable of this length; give its 'size' too", drop->raw);
  }
}

static void build_capacitor(struct build *b, struct tv_part *part, const char *plus, const char *minus) {
  struct tailvolt_capacitor *c = &b->system->capacitors[b->system->capacitor_count++];
  tv_part_name(c->name, part);
  c->positive = place(b, part, TV_K_CAP_POSITIVE, plus);
  c->negative = place(b, part, TV_K_CAP_NEGATIVE, minus);
  c->capacitance_f = tv_number(part, TV_K_CAPACITANCE);
  c->esr_ohm = tv_number(part, TV_K_ESR);
  c->rated_v = tv_number(part, TV_K_CAP_RATED_V);
}

static void build_meter(struct build *b, struct tv_part *part, const char *plus, const char *minus) {
  struct tailvolt_meter *m = &b->system->meters[b->system->meter_count++];
  tv_part_name(m->name, part);
  m->positive = place(b, part, TV_K_METER_POSITIVE, plus);
  m->negative = place(b, part, TV_K_METER_NEGATIVE, minus);
}

/* Joined directly: a joint in place of an isolator. */
static void build_straight(struct build *b, struct tv_part *part) {
  struct tailvolt_conductor *c = &b->system->conductors[b->system->conductor_count++];
  tv_part_name(c->name, part);
  c->kind = TAILVOLT_JOINT;
  c->from = place(b, part, TV_K_FROM, NULL);
  c->to = place(b, part, TV_K_TO, NULL);
  c->resistance_ohm = tv_number(part, TV_K_ISO_RESISTANCE);
  c->insulation_limit_c = c->distance_m = c->rated_v = c->claimed_ohm = (double)NAN;
  c->parallel = 1;
}

static void build_isolator(struct build *b, struct tv_part *part) {
  if (tv_is_straight(part)) {
    build_straight(b, part);
    return;
  }
  struct tailvolt_isolator *i = &b->system->isolators[b->system->isolator_count++];
  tv_part_name(i->name, part);
  i->from = place(b, part, TV_K_FROM, NULL);
  i->to = place(b, part, TV_K_TO, NULL);
  i->kind = (enum tailvolt_isolator_kind)tv_word(part, TV_K_ISO_KIND);
  i->sense_either = tv_word(part, TV_K_ISO_SENSE) == TV_SENSE_EITHER;
  i->by_engine = tv_word(part, TV_K_ISO_SENSE) == TV_SENSE_ENGINE && i->kind != TAILVOLT_DIODE;
  bool at_any_voltage = i->by_engine && i->kind == TAILVOLT_RELAY;
  i->closes_above_v = at_any_voltage ? (double)NAN : tv_number(part, TV_K_CLOSES_ABOVE);
  i->opens_below_v = at_any_voltage ? (double)NAN : tv_number(part, TV_K_OPENS_BELOW);
  i->close_delay_s = tv_number(part, TV_K_CLOSE_DELAY);
  i->open_delay_s = tv_number(part, TV_K_OPEN_DELAY);
  i->rating_a = tv_number(part, TV_K_ISO_RATING);
  i->resistance_ohm = tv_number(part, TV_K_ISO_RESISTANCE);
  i->drop_v = tv_number(part, TV_K_ISO_DROP);
  i->efficiency_frac = tv_number(part, TV_K_ISO_EFFICIENCY);
  const struct tv_value *output = part->value[TV_K_ISO_OUTPUT];
  i->output_a = output != NULL && output->count > 0 ? output->x[0] : (double)NAN;
  i->output_v = output != NULL && output->count > 0 ? output->y[0] : (double)NAN;
}

static void build_load(struct build *b, struct tv_part *part, const char *first_post) {
  struct tailvolt_load *l = &b->system->loads[b->system->load_count++];
  tv_part_name(l->name, part);
  l->positive = place(b, part, TV_K_LOAD_POSITIVE, first_post);
  l->negative = place(b, part, TV_K_LOAD_NEGATIVE, file_names_point(b->draft, "body") ? "body" : "ground");
  l->rated_v = tv_number(part, TV_K_LOAD_RATED_V);
  l->power_w = tv_has(part, TV_K_LOAD_CURRENT) ? tv_number(part, TV_K_LOAD_CURRENT) * l->rated_v
                                               : tv_number(part, TV_K_LOAD_POWER);
  /* one clamp reading of everything replaces the individual loads */
  if (!isnan(b->system->vehicle.base_load_a)) l->power_w = 0.0;
  l->behaviour = (enum tailvolt_behaviour)tv_word(part, TV_K_BEHAVES);
  l->duty_frac = tv_number(part, TV_K_DUTY);
  l->lamp = (enum tailvolt_lamp)tv_word(part, TV_K_LAMP);
}

static int programme_index(const struct tailvolt_system *system, const char *name) {
  for (int k = 0; k < system->programme_count; k++)
    if (strcmp(system->programmes[k].name, name) == 0) return k;
  return -1;
}

/* Index of a named battery among all batteries; -1 where there is none. */
static int battery_index(struct tv_draft *draft, const char *name) {
  const struct tv_part *wanted = tv_battery_named(draft, name);
  int index = 0;
  for (int p = 0; p < draft->part_count && name[0] != '\0'; p++) {
    const struct tv_part *part = draft->parts[p];
    if (part->kind != TV_KIND_BATTERY || part->skipped) continue;
    if (part == wanted) return index;
    index++;
  }
  return -1;
}

static void build_amplifier(struct build *b, struct tv_part *part) {
  struct tailvolt_amplifier *a = &b->system->amplifiers[b->system->amplifier_count++];
  tv_part_name(a->name, part);
  a->positive = place(b, part, TV_K_AMP_POSITIVE, NULL);
  a->negative = place(b, part, TV_K_AMP_NEGATIVE, NULL);
  const struct tv_value *channels = part->value[TV_K_CHANNELS], *fuses = part->value[TV_K_ONBOARD_FUSES];
  a->rated_w = channels != NULL ? channels->x[0] * channels->y[0] : tv_number(part, TV_K_RATED_POWER);
  a->rated_v = tv_number(part, TV_K_AMP_RATED_V);
  a->topology = (enum tailvolt_topology)tv_word(part, TV_K_TOPOLOGY);
  a->regulated = tv_word(part, TV_K_SUPPLY) == 1;
  a->efficiency_frac = tv_number(part, TV_K_EFFICIENCY);
  a->idle_a = tv_number(part, TV_K_IDLE_CURRENT);
  a->standby_a = tv_number(part, TV_K_STANDBY);
  a->cut_out_v = tv_number(part, TV_K_CUT_OUT);
  a->cut_in_v = tv_number(part, TV_K_CUT_IN);
  a->cut_out_delay_s = tv_number(part, TV_K_CUT_OUT_DELAY);
  a->restart_delay_s = tv_number(part, TV_K_RESTART_DELAY);
  a->fuses_a = fuses != NULL ? fuses->x[0] * fuses->y[0] : (double)NAN;
  a->internal_f = tv_number(part, TV_K_INTERNAL_F);
  a->internal_ohm = tv_number(part, TV_K_INTERNAL_OHM);
  a->programme =
      tv_has(part, TV_K_AMP_PROGRAMME) ? programme_index(b->system, tv_text(part, TV_K_AMP_PROGRAMME)) : -1;
  a->level_offset_db = tv_number(part, TV_K_LEVEL_OFFSET);
  a->target_v = tv_number(part, TV_K_TARGET_VOLTAGE);
  a->supply_battery = battery_index(b->draft, tv_text(part, TV_K_SUPPLY_FROM));
}

/* The keys whose values end in `measured`, and those that are measurements by nature. */
static enum tailvolt_status list_measured(const struct tv_draft *draft, struct tailvolt_system *s) {
  int room = 0;
  for (int round = 0; round < 2; round++) {
    int count = 0;
    for (int p = 0; p < draft->part_count; p++)
      for (int key = 0; key < TV_KEY_COUNT && !draft->parts[p]->skipped; key++) {
        const struct tv_value *value = draft->parts[p]->value[key];
        if (value == NULL || value->assumed || !(value->measured || key == TV_K_MEASURED_DROP)) continue;
        if (round > 0)
          snprintf(s->measured[count].key, sizeof s->measured[count].key, "%.73s.%s", draft->parts[p]->id,
                   tv_key_of((enum tv_key_id)key)->name);
        count++;
      }
    room = count;
    if (round > 0 || count == 0) break;
    s->measured = calloc((size_t)count, sizeof *s->measured);
    if (s->measured == NULL) return TAILVOLT_NO_MEMORY;
  }
  s->measured_count = room;
  return TAILVOLT_OK;
}

static bool reserve(const struct tv_draft *draft, struct tailvolt_system *s) {
  size_t n = (size_t)draft->part_count + 1;
  s->batteries = calloc(n, sizeof *s->batteries);
  s->conductors = calloc(n, sizeof *s->conductors);
  s->capacitors = calloc(n, sizeof *s->capacitors);
  s->isolators = calloc(n, sizeof *s->isolators);
  s->loads = calloc(n, sizeof *s->loads);
  s->amplifiers = calloc(n, sizeof *s->amplifiers);
  s->meters = calloc(n, sizeof *s->meters);
  s->programmes = calloc(n, sizeof *s->programmes);
  return s->batteries != NULL && s->conductors != NULL && s->capacitors != NULL && s->isolators != NULL &&
         s->loads != NULL && s->amplifiers != NULL && s->meters != NULL && s->programmes != NULL;
}

static void build_parts(struct build *b) {
  struct tv_draft *draft = b->draft;
  const struct tv_part *battery =
      draft->starter != NULL ? draft->starter : tv_draft_find(draft, TV_KIND_BATTERY, NULL);
  const struct tv_part *amplifier = tv_draft_find(draft, TV_KIND_AMPLIFIER, NULL);
  const char *post = tv_has(battery, TV_K_BAT_POSITIVE) ? tv_text(battery, TV_K_BAT_POSITIVE) : NULL;
  for (int p = 0; p < draft->part_count && !draft->no_memory; p++) {
    struct tv_part *part = draft->parts[p];
    if (part->skipped) continue;
    /* a capacitor or meter that only a setting brought in belongs to the amplifier */
    bool added =
        part->from_setting && tv_has(amplifier, TV_K_AMP_POSITIVE) && tv_has(amplifier, TV_K_AMP_NEGATIVE);
    const char *plus = added ? tv_text(amplifier, TV_K_AMP_POSITIVE) : NULL;
    const char *minus = added ? tv_text(amplifier, TV_K_AMP_NEGATIVE) : NULL;
    switch (part->kind) {
    case TV_KIND_ALTERNATOR:
      build_alternator(b, part);
      break;
    case TV_KIND_CONVERTER:
      build_converter(b, part);
      break;
    case TV_KIND_BATTERY:
      build_battery(b, part);
      break;
    case TV_KIND_CABLE:
    case TV_KIND_STRAP:
    case TV_KIND_FUSE:
    case TV_KIND_JOINT:
      build_conductor(b, part);
      break;
    case TV_KIND_LOAD:
      build_load(b, part, post);
      break;
    case TV_KIND_AMPLIFIER:
      build_amplifier(b, part);
      break;
    case TV_KIND_METER:
      build_meter(b, part, plus, minus);
      break;
    case TV_KIND_CAPACITOR:
      build_capacitor(b, part, plus, minus);
      break;
    case TV_KIND_ISOLATOR:
      build_isolator(b, part);
      break;
    default:
      break;
    }
  }
}

/* The regulator may sense at a point only if something else makes that point. */
static void build_sense(struct build *b) {
  struct tailvolt_alternator *a = &b->system->alternator;
  struct tv_part *part = tv_draft_find(b->draft, TV_KIND_ALTERNATOR, "");
  if (!a->present || part == NULL) return;
  a->sense = a->positive;
  if (!tv_has(part, TV_K_SENSE_POINT) || part->value[TV_K_SENSE_POINT]->bad) return;
  int before = b->system->point_count;
  a->sense = point_of(b, tv_text(part, TV_K_SENSE_POINT));
  if (b->system->point_count == before || b->draft->layout_broken) return;
  const char *names[256];
  size_t count = 0;
  for (int k = 0; k < before && k < 256; k++) names[count++] = b->system->point_names[k];
  const char *near = tv_nearest_word(tv_text(part, TV_K_SENSE_POINT), names, count);
  tv_part_fault(b->draft, part, TV_K_SENSE_POINT, "no part joins the point '%.60s'%s%s%s",
                tv_text(part, TV_K_SENSE_POINT), near == NULL ? "" : "; did you mean '",
                near == NULL ? "" : near, near == NULL ? "" : "'?");
  b->system->point_count = before;
}

/* The point of that name; else where the alternator is bolted on, else the battery's own post. */
static void find_engine_block(struct build *b) {
  struct tailvolt_system *s = b->system;
  s->engine.block = s->alternator.present ? s->alternator.negative : 0;
  if (!s->alternator.present && s->engine.starter_battery < s->battery_count)
    s->engine.block = s->batteries[s->engine.starter_battery].negative;
  for (int k = 0; k < s->point_count; k++)
    if (strcmp(s->point_names[k], "engine block") == 0) s->engine.block = k;
}

enum tailvolt_status tv_system_build(struct tv_draft *draft, struct tailvolt_system **out) {
  struct tailvolt_system *system = calloc(1, sizeof *system);
  if (system == NULL) return TAILVOLT_NO_MEMORY;
  *out = system;
  struct build b = {.draft = draft, .system = system};
  if (!reserve(draft, system)) return TAILVOLT_NO_MEMORY;
  tv_copy_text(system->file, sizeof system->file, draft->file);
  system->standard_car = draft->standard_car;
  tv_copy_text(system->own_wiring, sizeof system->own_wiring, draft->own_wiring);
  const struct tv_part *first =
      draft->starter != NULL ? draft->starter : tv_draft_find(draft, TV_KIND_BATTERY, NULL);
  if (point_of(&b, "ground") != 0) return TAILVOLT_NO_MEMORY;
  tv_copy_text(b.first_negative, sizeof b.first_negative, tv_text(first, TV_K_BAT_NEGATIVE));
  system->alternator.positive = system->alternator.negative = system->alternator.sense = TAILVOLT_NOWHERE;
  system->alternator.fixed_output_a = (double)NAN;
  tv_build_sections(draft, system);
  build_parts(&b);
  build_sense(&b);
  find_engine_block(&b);
  if (draft->no_memory) return TAILVOLT_NO_MEMORY;
  if (!draft->layout_broken) tv_check_wiring(draft, system);
  if (draft->no_memory || list_measured(draft, system) != TAILVOLT_OK) return TAILVOLT_NO_MEMORY;
  system->assumptions = draft->assumptions;
  system->assumption_count = draft->assumption_count;
  draft->assumptions = NULL;
  draft->assumption_count = 0;
  return TAILVOLT_OK;
}
