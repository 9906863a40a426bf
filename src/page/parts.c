/* The parts of a system with the keys to change on the page: value, unit, choices. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "page/job.h"
#include "report/json_write.h"
#include "tailvolt/quantity.h"
#include "text/words.h"

/* A part being written: its section as in brackets, and its fields. */
struct part {
  const struct tailvolt_system *system;
  char section[TAILVOLT_NAME_MAX + 32];
  json_t *fields;
};

/* The assumption for a key that the file does not give; NULL where it does. */
static const struct tailvolt_assumption *assumed(const struct part *part, const char *key) {
  char whole[TAILVOLT_NAME_MAX + 160];
  snprintf(whole, sizeof whole, "%s.%s", part->section, key);
  for (int k = 0; k < part->system->assumption_count; k++)
    if (strcmp(part->system->assumptions[k].key, whole) == 0) return &part->system->assumptions[k];
  return NULL;
}

/* Choices are words between "|"; units likewise, the one in use is in the value. */
static void field(struct part *part, const char *key, const char *value, const char *units, const char *choices) {
  const struct tailvolt_assumption *instead = assumed(part, key);
  json_t *object = json_object();
  tv_json_put_text(&object, "key", key);
  tv_json_put_text(&object, "value", instead != NULL ? instead->shown : value);
  tv_json_put(&object, "assumed", json_boolean(instead != NULL && !instead->chosen));
  tv_json_put(&object, "chosen", json_boolean(instead != NULL && instead->chosen));
  tv_json_put_text(&object, "units", units);
  tv_json_put_text(&object, "choices", choices);
  tv_json_append(&part->fields, object);
}

static void quantity(struct part *part, const char *key, double value, enum tailvolt_measure measure, const char *units) {
  char text[48] = "";
  if (isfinite(value)) tailvolt_quantity_write(value, measure, text, sizeof text);
  field(part, key, text, units, "");
}

/* Contacts are given in milliohms, however small. */
static void milliohms(struct part *part, const char *key, double value_ohm) {
  char text[48];
  snprintf(text, sizeof text, "%s mohm", tv_significant(1000.0 * value_ohm, 6).text);
  field(part, key, text, "mohm", "");
}

static void begin(struct part *part, const struct tailvolt_system *system, const char *section) {
  *part = (struct part){.system = system, .fields = json_array()};
  snprintf(part->section, sizeof part->section, "%s", section);
}

static void begin_part(struct part *part, const struct tailvolt_system *system, enum tailvolt_part_kind kind, const char *name) {
  char section[TAILVOLT_NAME_MAX + 32];
  tv_section_words(kind, name, section, sizeof section);
  begin(part, system, section);
}

static void end(struct part *part, const char *kind, const char *name, bool given, json_t **list) {
  json_t *object = json_object();
  tv_json_put_text(&object, "section", part->section);
  tv_json_put_text(&object, "kind", kind);
  tv_json_put_text(&object, "name", name);
  tv_json_put(&object, "given", json_boolean(given));
  tv_json_put(&object, "fields", part->fields);
  tv_json_append(list, object);
}

static void surroundings(const struct tailvolt_system *system, json_t **list) {
  struct part part;
  begin(&part, system, "vehicle");
  if (system->vehicle.charging != TAILVOLT_CHARGING_NONE && isfinite(system->vehicle.base_load_a))
    quantity(&part, "base load", system->vehicle.base_load_a, TAILVOLT_CURRENT, "A");
  quantity(&part, "ambient", system->vehicle.ambient_c, TAILVOLT_TEMPERATURE, "C|F");
  end(&part, "vehicle", system->vehicle.name, true, list);
  if (!isfinite(system->engine.start_needs_a)) {
    begin(&part, system, "engine");
    quantity(&part, "idle speed", system->engine.idle_rpm, TAILVOLT_SPEED, "rpm");
    end(&part, "engine", "", true, list);
  }
}

static void targets(const struct tailvolt_system *system, json_t **list) {
  struct part part;
  begin(&part, system, "targets");
  quantity(&part, "voltage", system->targets.voltage_v, TAILVOLT_VOLTAGE, "V");
  quantity(&part, "voltage parked", system->targets.voltage_parked_v, TAILVOLT_VOLTAGE, "V");
  quantity(&part, "missed at most", system->targets.missed_frac, TAILVOLT_SHARE, "%");
  quantity(&part, "parked", system->targets.parked_s, TAILVOLT_TIME, "h|min");
  end(&part, "targets", "", true, list);
}

static void source(const struct tailvolt_system *system, json_t **list) {
  const struct tailvolt_alternator *alternator = &system->alternator;
  struct part part;
  if (system->converter.present) {
    begin(&part, system, "converter");
    quantity(&part, "rated current", system->converter.rated_a, TAILVOLT_CURRENT, "A");
    quantity(&part, "set point", system->converter.set_point_v, TAILVOLT_VOLTAGE, "V");
    end(&part, "converter", "", true, list);
  } else if (alternator->present) {
    begin(&part, system, "alternator");
    if (isfinite(alternator->fixed_output_a)) {
      quantity(&part, "fixed output", alternator->fixed_output_a, TAILVOLT_CURRENT, "A");
    } else {
      quantity(&part, "rated current", alternator->rated_a, TAILVOLT_CURRENT, "A");
      if (alternator->output_count == 2 && alternator->output_rpm[0] == TAILVOLT_LOW_RPM)
        quantity(&part, "low current", alternator->output_a[0], TAILVOLT_CURRENT, "A");
    }
    if (!(alternator->set_point_high_v > alternator->set_point_low_v))
      quantity(&part, "set point", alternator->set_point_v, TAILVOLT_VOLTAGE, "V");
    end(&part, "alternator", "", true, list);
  }
}

static void batteries(const struct tailvolt_system *system, json_t **list) {
  for (int k = 0; k < system->battery_count; k++) {
    const struct tailvolt_battery *battery = &system->batteries[k];
    struct part part;
    begin_part(&part, system, TAILVOLT_PART_BATTERY, battery->name);
    field(&part, "kind", tv_battery_word(battery->kind), "", "flooded|EFB|AGM|gel|lithium-iron");
    quantity(&part, "capacity", battery->capacity_ah, TAILVOLT_CHARGE, "Ah");
    if (isfinite(battery->rested_v)) quantity(&part, "rested voltage", battery->rested_v, TAILVOLT_VOLTAGE, "V");
    else quantity(&part, "state of charge", battery->soc_frac, TAILVOLT_SHARE, "%");
    quantity(&part, "health", battery->health_frac, TAILVOLT_SHARE, "%");
    end(&part, "battery", battery->name, true, list);
  }
}

static const char sizes[] = "16 AWG|14 AWG|12 AWG|10 AWG|8 AWG|6 AWG|4 AWG|2 AWG|1/0 AWG|2/0 AWG|4/0 AWG|2.5 mm2|4 mm2|6 mm2|10 mm2|"
                            "16 mm2|25 mm2|35 mm2|50 mm2|70 mm2|95 mm2";

static const char fuse_kinds[] = "blade|large blade|bolt-down";
static void conductors(const struct tailvolt_system *system, json_t **list) {
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *conductor = &system->conductors[k];
    struct part part;
    begin_part(&part, system, tv_part_of_conductor(conductor->kind), conductor->name);
    if (conductor->kind == TAILVOLT_FUSE) {
      quantity(&part, "rating", conductor->rating_a, TAILVOLT_CURRENT, "A");
      field(&part, "kind", tv_fuse_kind_word(conductor->fuse_kind), "", fuse_kinds);
      quantity(&part, "distance", conductor->distance_m, TAILVOLT_LENGTH, "cm|m|in|ft");
    } else if (conductor->kind == TAILVOLT_JOINT) {
      milliohms(&part, "resistance", conductor->resistance_ohm);
    } else {
      field(&part, "size", conductor->size, "", sizes);
      quantity(&part, "length", conductor->length_m, TAILVOLT_LENGTH, "m|cm|ft|in");
      field(&part, "material", tv_material_word(conductor->material), "", "copper|tinned copper|clad aluminium|aluminium");
    }
    end(&part, tv_conductor_kind_word(conductor->kind), conductor->name, !conductor->assumed, list);
  }
}

static void isolators(const struct tailvolt_system *system, json_t **list) {
  for (int k = 0; k < system->isolator_count; k++) {
    const struct tailvolt_isolator *isolator = &system->isolators[k];
    struct part part;
    begin_part(&part, system, TAILVOLT_PART_ISOLATOR, isolator->name);
    field(&part, "kind", tv_isolator_kind_word(isolator->kind), "", "");
    if (isolator->kind == TAILVOLT_DIODE) {
      quantity(&part, "drop", isolator->drop_v, TAILVOLT_VOLTAGE, "V");
    } else {
      bool by_voltage = isfinite(isolator->closes_above_v);
      if (by_voltage) quantity(&part, "closes above", isolator->closes_above_v, TAILVOLT_VOLTAGE, "V");
      if (by_voltage) quantity(&part, "opens below", isolator->opens_below_v, TAILVOLT_VOLTAGE, "V");
    }
    end(&part, "isolator", isolator->name, true, list);
  }
}

static void loads(const struct tailvolt_system *system, json_t **list) {
  struct part part;
  for (int k = 0; k < system->load_count; k++) {
    const struct tailvolt_load *load = &system->loads[k];
    begin_part(&part, system, TAILVOLT_PART_LOAD, load->name);
    if (load->behaviour == TAILVOLT_CONSTANT_CURRENT && load->rated_v > 0.0 && assumed(&part, "power") == NULL)
      quantity(&part, "current", load->power_w / load->rated_v, TAILVOLT_CURRENT, "A");
    else
      quantity(&part, "power", load->power_w, TAILVOLT_POWER, "W");
    end(&part, "load", load->name, true, list);
  }
  for (int k = 0; k < system->capacitor_count; k++) {
    char text[48];
    begin_part(&part, system, TAILVOLT_PART_CAPACITOR, system->capacitors[k].name);
    snprintf(text, sizeof text, "%s F", tv_significant(system->capacitors[k].capacitance_f, 6).text);
    field(&part, "capacitance", text, "F", "");
    milliohms(&part, "esr", system->capacitors[k].esr_ohm);
    end(&part, "capacitor", system->capacitors[k].name, true, list);
  }
}

static void amplifiers(const struct tailvolt_system *system, json_t **list) {
  for (int k = 0; k < system->amplifier_count; k++) {
    const struct tailvolt_amplifier *amplifier = &system->amplifiers[k];
    struct part part;
    begin_part(&part, system, TAILVOLT_PART_AMPLIFIER, amplifier->name);
    quantity(&part, "rated power", amplifier->rated_w, TAILVOLT_POWER, "W|kW");
    field(&part, "topology", amplifier->topology == TAILVOLT_CLASS_D ? "d" : "ab", "", "d|ab");
    quantity(&part, "efficiency", amplifier->efficiency_frac, TAILVOLT_SHARE, "%");
    quantity(&part, "level offset", amplifier->level_offset_db, TAILVOLT_LEVEL, "dB");
    end(&part, "amplifier", amplifier->name, true, list);
  }
}

static void music(const struct tailvolt_system *system, json_t **list) {
  for (int k = 0; k < system->programme_count; k++) {
    const struct tailvolt_programme *programme = &system->programmes[k];
    char section[TAILVOLT_NAME_MAX + 32];
    struct part part;
    snprintf(section, sizeof section, "programme %s", programme->name);
    begin(&part, system, section);
    if (programme->recording[0] != '\0') {
      quantity(&part, "below", programme->below_hz > 0.0 ? programme->below_hz : (double)NAN, TAILVOLT_FREQUENCY, "Hz");
    } else if (programme->envelope[0] == '\0') {
      quantity(&part, "crest factor", programme->crest_db, TAILVOLT_LEVEL, "dB");
      quantity(&part, "phrases", programme->phrases_frac, TAILVOLT_SHARE, "%");
    }
    if (!(isnan(programme->bass_hz))) quantity(&part, "bass note", programme->bass_hz, TAILVOLT_FREQUENCY, "Hz");
    end(&part, "music", programme->name, true, list);
  }
}

json_t *tv_page_parts(const struct tailvolt_system *system) {
  json_t *list = json_array();
  amplifiers(system, &list);
  source(system, &list);
  batteries(system, &list);
  conductors(system, &list);
  isolators(system, &list);
  loads(system, &list);
  music(system, &list);
  surroundings(system, &list);
  targets(system, &list);
  return list;
}
