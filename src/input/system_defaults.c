/* Every default of the system file, each noted as assumed; and what is missing or contradictory. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "input/assumes.h"
#include "input/faults.h"
#include "input/system_draft.h"
#include "parts/battery.h"
#include "text/text.h"

static bool good(const struct tv_part *part, enum tv_key_id key) {
  return tv_has(part, key) && !part->value[key]->bad;
}

/* Sections that every system has. */
static void add_sections(struct tv_draft *draft) {
  static const struct {
    enum tv_kind kind;
    const char *name;
  } always[] = {
      {TV_KIND_VEHICLE, ""}, {TV_KIND_ENGINE, ""}, {TV_KIND_TARGETS, ""}, {TV_KIND_TOLERANCE, ""},
      {TV_KIND_PROGRAMME, "music"}};
  for (size_t k = 0; k < sizeof always / sizeof always[0] && !draft->no_memory; k++) {
    if (tv_draft_find(draft, always[k].kind, NULL) != NULL) continue;
    struct tv_part *part = tv_draft_add(draft, always[k].kind, always[k].name, 0);
    if (part != NULL) part->standard = true;
  }
}

static void check_groups(struct tv_draft *draft, const struct tv_part *part) {
  for (int a = 0; a < TV_KEY_COUNT; a++) {
    int group = tv_key_of((enum tv_key_id)a)->group;
    if (group == 0 || !tv_given(part, (enum tv_key_id)a)) continue;
    for (int b = a + 1; b < TV_KEY_COUNT; b++) {
      if (tv_key_of((enum tv_key_id)b)->group != group || !tv_given(part, (enum tv_key_id)b)) continue;
      int later = part->value[b]->line > part->value[a]->line ? b : a;
      tv_part_fault(draft, part, (enum tv_key_id)later, "give '%s' or '%s' in [%s], not both",
                    tv_key_of((enum tv_key_id)a)->name, tv_key_of((enum tv_key_id)b)->name, part->id);
    }
  }
}

static void missing(struct tv_draft *draft, const struct tv_part *part, enum tv_key_id key,
                    const char *example) {
  tv_part_fault(draft, part, key, "'%s' is missing in [%s]; write for example '%s'", tv_key_of(key)->name,
                part->id, example);
}

static void default_engine(struct tv_draft *draft, struct tv_part *engine) {
  /* petrol: about 150 A turning and three times that to break away at 1.6 L, diesel double; scaled with the
   * square root of displacement, which gives the usual 80-220 A from 1 L to V8 (common practice) */
  bool cranks = tv_word(tv_draft_find(draft, TV_KIND_VEHICLE, ""), TV_K_CHARGING) != TAILVOLT_CHARGING_CONVERTER;
  tv_assume(draft, engine, TV_K_ENGINE_SIZE, "1.6 L petrol", cranks);
  /* the 12 V side of a hybrid boots computers and closes contactors (common practice); nothing cranks */
  if (!cranks) {
    tv_assume(draft, engine, TV_K_START_NEEDS, "30 A for 5 s", true);
    tv_assume(draft, engine, TV_K_START_FLOOR, "10.5 V", true);
    tv_assume(draft, engine, TV_K_CRANKING_TIME, "0.8 s", false);
  }
  if (!good(engine, TV_K_ENGINE_SIZE)) return;
  struct tv_value *size = engine->value[TV_K_ENGINE_SIZE];
  if (size->word < 0) size->word = 0;
  double turning_a = 150.0 * sqrt(size->x[0] / 1.6) * (size->word == 1 ? 2.0 : 1.0);
  tv_assume_number(draft, engine, TV_K_CRANKING, 5.0 * round(turning_a / 5.0), cranks);
  if (good(engine, TV_K_CRANKING))
    tv_assume_number(draft, engine, TV_K_BREAKAWAY, 3.0 * tv_number(engine, TV_K_CRANKING), cranks);
  if (good(engine, TV_K_CRANKING) && good(engine, TV_K_BREAKAWAY) &&
      tv_number(engine, TV_K_BREAKAWAY) < tv_number(engine, TV_K_CRANKING))
    tv_part_fault(draft, engine, TV_K_BREAKAWAY, "'breakaway current' is below 'cranking current'");
}

/* The range over which an engine computer moves the set point while driving (common practice). */
static void default_set_point(struct tv_draft *draft, struct tv_part *alternator) {
  const struct tv_part *vehicle = tv_draft_find(draft, TV_KIND_VEHICLE, "");
  bool computer = tv_word(vehicle, TV_K_CHARGING) == TAILVOLT_CHARGING_COMPUTER;
  if (computer && !tv_has(alternator, TV_K_FIXED_OUTPUT))
    tv_assume(draft, alternator, TV_K_SET_POINT, "12.4 V .. 14.8 V", true);
  bool band = good(alternator, TV_K_SET_POINT) &&
              alternator->value[TV_K_SET_POINT]->y[0] > alternator->value[TV_K_SET_POINT]->x[0];
  tv_assume(draft, alternator, TV_K_LOW_END_ABOVE, "75 %", band);
  if (band && !computer && tv_given(alternator, TV_K_SET_POINT))
    tv_part_fault(draft, alternator, TV_K_SET_POINT,
                  "a set point with two ends goes with 'charging = computer' in [vehicle]; give one voltage, or "
                  "write that");
}

static void default_alternator(struct tv_draft *draft, struct tv_part *alternator) {
  default_set_point(draft, alternator);
  bool fixed = tv_has(alternator, TV_K_FIXED_OUTPUT);
  tv_assume(draft, alternator, TV_K_DRIFT, fixed ? "0 mV/K" : "-10 mV/K", !fixed);
  if (fixed) {
    /* an ideal source has no curve */
    tv_assume(draft, alternator, TV_K_ALT_RATED_V, "13.5 V", false);
    tv_assume(draft, alternator, TV_K_PULLEY_RATIO, "2.6", false);
    return;
  }
  if (!tv_has(alternator, TV_K_RATED_CURRENT)) {
    missing(draft, alternator, TV_K_RATED_CURRENT, "rated current = 110 A");
    return;
  }
  const struct tv_value *outputs = alternator->value[TV_K_ALT_OUTPUT];
  bool low = false;
  for (int k = 0; outputs != NULL && k < outputs->count; k++) low = low || outputs->y[k] < TAILVOLT_RATED_RPM;
  if (!low && good(alternator, TV_K_RATED_CURRENT))
    tv_assume_number(draft, alternator, TV_K_LOW_CURRENT, 0.5 * tv_number(alternator, TV_K_RATED_CURRENT), true);
}

static void default_battery(struct tv_draft *draft, struct tv_part *battery) {
  tv_assume(draft, battery, TV_K_BAT_KIND, "flooded", true);
  if (!good(battery, TV_K_CAPACITY) || !good(battery, TV_K_BAT_KIND)) return;
  double capacity_ah = tv_number(battery, TV_K_CAPACITY);
  bool explicit_ohm = tv_has(battery, TV_K_BAT_RESISTANCE);
  tv_assume_number(draft, battery, TV_K_COLD_CRANKING, fmin(fmax(9.0 * capacity_ah, 10.0), 5000.0),
                   !explicit_ohm);
  double reserve_min = tv_battery_reserve_min((enum tailvolt_battery_kind)tv_word(battery, TV_K_BAT_KIND), capacity_ah);
  if (tv_word(battery, TV_K_BAT_KIND) != TAILVOLT_LITHIUM_IRON && isfinite(reserve_min))
    tv_assume_number(draft, battery, TV_K_RESERVE, reserve_min, true);
  if (!tv_has(battery, TV_K_RESTED)) tv_assume(draft, battery, TV_K_SOC, "85 %", true);
  if (explicit_ohm) tv_assume(draft, battery, TV_K_CRANKING_HEALTH, "100 %", false);
}

/* Rated power against supply voltage: a supply that holds its rails gives about the same power at both, one
 * that does not follows the square. */
static bool looks_regulated(const struct tv_part *amplifier, double rated_w, double rated_v) {
  const struct tv_value *second = amplifier->value[TV_K_POWER_AT];
  return log(second->x[0] / rated_w) / log(second->y[0] / rated_v) < 1.0;
}

static void default_amplifier(struct tv_draft *draft, struct tv_part *amplifier) {
  if (good(amplifier, TV_K_SUPPLY_FROM) && tv_battery_named(draft, tv_text(amplifier, TV_K_SUPPLY_FROM)) == NULL)
    tv_no_such_battery(draft, amplifier, TV_K_SUPPLY_FROM);
  tv_assume(draft, amplifier, TV_K_AMP_RATED_V, "14.4 V", true);
  tv_assume(draft, amplifier, TV_K_TOPOLOGY, "d", true);
  bool class_d = tv_word(amplifier, TV_K_TOPOLOGY) != TAILVOLT_CLASS_AB;
  tv_assume(draft, amplifier, TV_K_EFFICIENCY, class_d ? "80 %" : "60 %", true);
  tv_assume(draft, amplifier, TV_K_IDLE_CURRENT, class_d ? "1 A" : "2 A", true);
  tv_assume(draft, amplifier, TV_K_CUT_OUT, "10 V", true);
  if (good(amplifier, TV_K_CUT_OUT)) {
    double cut_out_v = tv_number(amplifier, TV_K_CUT_OUT);
    tv_assume_number(draft, amplifier, TV_K_CUT_IN, cut_out_v > 0.0 ? cut_out_v + 1.0 : 0.0, cut_out_v > 0.0);
    if (good(amplifier, TV_K_CUT_IN) && tv_number(amplifier, TV_K_CUT_IN) < cut_out_v)
      tv_part_fault(draft, amplifier, TV_K_CUT_IN, "'cut-in voltage' is below 'cut-out voltage'");
  }
  bool power = tv_has(amplifier, TV_K_RATED_POWER), channels = tv_has(amplifier, TV_K_CHANNELS);
  if (!power && !channels) missing(draft, amplifier, TV_K_RATED_POWER, "rated power = 800 W");
  if (!good(amplifier, TV_K_RATED_POWER) && !good(amplifier, TV_K_CHANNELS)) return;
  double rated_w = power ? tv_number(amplifier, TV_K_RATED_POWER)
                         : tv_number(amplifier, TV_K_CHANNELS) * amplifier->value[TV_K_CHANNELS]->y[0];
  tv_assume_number(draft, amplifier, TV_K_INTERNAL_F, 2e-4 * rated_w, true);
  double rated_v = tv_number(amplifier, TV_K_AMP_RATED_V);
  if (!good(amplifier, TV_K_POWER_AT) || !good(amplifier, TV_K_AMP_RATED_V)) {
    tv_assume(draft, amplifier, TV_K_SUPPLY, "unregulated", true);
  } else if (fabs(amplifier->value[TV_K_POWER_AT]->y[0] - rated_v) < 0.05) {
    tv_part_fault(draft, amplifier, TV_K_POWER_AT,
                  "the second power stands at the rated voltage; give it at another one");
  } else {
    tv_assume(draft, amplifier, TV_K_SUPPLY,
              looks_regulated(amplifier, rated_w, rated_v) ? "regulated" : "unregulated", false);
  }
}

static void default_conductor(struct tv_draft *draft, struct tv_part *part) {
  bool sized = tv_has(part, TV_K_SIZE) || tv_has(part, TV_K_STRANDS) ||
               tv_has(part, TV_K_CONDUCTOR_DIAMETER) || tv_has(part, TV_K_PER_METRE);
  bool cable = part->kind == TV_KIND_CABLE || part->kind == TV_KIND_STRAP;
  if (cable && !sized && !tv_has(part, TV_K_MEASURED_DROP) && !part->standard && !part->in_feed)
    missing(draft, part, TV_K_SIZE, "size = 4 AWG");
  if (part->kind == TV_KIND_JOINT && !tv_has(part, TV_K_RESISTANCE) && !tv_has(part, TV_K_MEASURED_DROP))
    missing(draft, part, TV_K_RESISTANCE, "resistance = 0.3 mohm");
  if (part->kind == TV_KIND_FUSE && good(part, TV_K_RATING))
    tv_assume(draft, part, TV_K_FUSE_KIND, tv_number(part, TV_K_RATING) <= 30.0 ? "blade" : "bolt-down",
              true);
}

static void default_load(struct tv_draft *draft, struct tv_part *load) {
  if (!tv_has(load, TV_K_LOAD_POWER) && !tv_has(load, TV_K_LOAD_CURRENT))
    missing(draft, load, TV_K_LOAD_POWER, "power = 120 W");
  tv_assume(draft, load, TV_K_BEHAVES, tv_has(load, TV_K_LOAD_CURRENT) ? "constant current" : "resistor",
            true);
}

/* Of relay and converter alike, which switch by one rule. A relay opens and closes at what its maker has set; a converter's threshold is
 * set by whoever fits it, so there the second follows the first at the relay's distance. That distance and the delays are those of such
 * chargers too (common practice): without them the converter's own draw, which pulls down what it senses, would switch it at once. What
 * the engine switches lets go with it; a converter then keeps a threshold that only guards the starter battery (makers' data sheets,
 * from memory: 10.5 to 12 V). */
static void default_switching(struct tv_draft *draft, struct tv_part *isolator, bool relay, bool converter) {
  bool engine = tv_word(isolator, TV_K_ISO_SENSE) == TV_SENSE_ENGINE;
  double opens_v = good(isolator, TV_K_OPENS_BELOW) ? tv_number(isolator, TV_K_OPENS_BELOW) : engine ? TV_GUARDS_BELOW_V : TV_RELAY_OPENS_V;
  if (converter) tv_assume_number(draft, isolator, TV_K_CLOSES_ABOVE, fmin(fmax(opens_v + 0.5, 10.0), 16.0), true);
  tv_assume_number(draft, isolator, TV_K_CLOSES_ABOVE, TV_RELAY_CLOSES_V, relay && !engine);
  tv_assume_number(draft, isolator, TV_K_OPENS_BELOW, opens_v, (relay && !engine) || converter);
  tv_assume(draft, isolator, TV_K_CLOSE_DELAY, "2 s", relay || converter);
  tv_assume(draft, isolator, TV_K_OPEN_DELAY, engine ? "0 s" : "10 s", relay || converter);
  if ((relay || converter) && good(isolator, TV_K_CLOSES_ABOVE) && good(isolator, TV_K_OPENS_BELOW) &&
      tv_number(isolator, TV_K_OPENS_BELOW) >= tv_number(isolator, TV_K_CLOSES_ABOVE))
    tv_part_fault(draft, isolator, TV_K_OPENS_BELOW, "'opens below' must be below 'closes above'");
}

static void default_isolator(struct tv_draft *draft, struct tv_part *isolator) {
  tv_assume(draft, isolator, TV_K_ISO_KIND, "relay", true);
  bool relay = tv_word(isolator, TV_K_ISO_KIND) == TAILVOLT_RELAY;
  bool diode = tv_word(isolator, TV_K_ISO_KIND) == TAILVOLT_DIODE;
  bool converter = tv_word(isolator, TV_K_ISO_KIND) == TAILVOLT_CONVERTER;
  default_switching(draft, isolator, relay, converter);
  tv_assume(draft, isolator, TV_K_ISO_RESISTANCE,
            diode                       ? "2 mohm"
            : tv_is_straight(isolator) ? "0.3 mohm"
                                        : "1 mohm",
            relay || diode || tv_is_straight(isolator));
  tv_assume(draft, isolator, TV_K_ISO_DROP, "0.4 V", diode);
  tv_assume(draft, isolator, TV_K_ISO_EFFICIENCY, "90 %", converter);
  if (converter && !tv_has(isolator, TV_K_ISO_OUTPUT))
    missing(draft, isolator, TV_K_ISO_OUTPUT, "output = 30 A at 14.4 V");
}

static void check_programme(struct tv_draft *draft, const struct tv_part *amplifier) {
  const char *wanted = tv_text(amplifier, TV_K_AMP_PROGRAMME);
  if (wanted[0] == '\0') return;
  const char *names[64];
  size_t count = 0;
  for (int p = 0; p < draft->part_count; p++) {
    const struct tv_part *part = draft->parts[p];
    if (part->kind != TV_KIND_PROGRAMME || part->skipped) continue;
    const char *name = part->name[0] == '\0' ? "programme" : part->name;
    if (strcmp(name, wanted) == 0) return;
    if (count < sizeof names / sizeof names[0]) names[count++] = name;
  }
  const char *near = tv_nearest_word(wanted, names, count);
  tv_part_fault(draft, amplifier, TV_K_AMP_PROGRAMME, "no [programme %.60s]%s%s%s", wanted,
                near == NULL ? "" : "; did you mean '", near == NULL ? "" : near, near == NULL ? "" : "'?");
}

/* A crossover acts on a recording; an envelope no longer has frequencies, a generated programme never had
 * any. */
static void check_crossover(struct tv_draft *draft, const struct tv_part *programme) {
  static const enum tv_key_id ids[] = {TV_K_BELOW, TV_K_ABOVE};
  for (int k = 0; k < 2; k++)
    if (tv_has(programme, ids[k]) && !tv_has(programme, TV_K_RECORDING))
      tv_part_fault(draft, programme, ids[k], "'%s' is for 'recording' only", tv_key_of(ids[k])->name);
}

/* Keys for what a recording has already and generated music must be given. */
static bool shapes_music(enum tv_key_id id) {
  return id == TV_K_CREST || id == TV_K_TEMPO || id == TV_K_DECAY || id == TV_K_PHRASES || id == TV_K_SECTIONS;
}

/* Keys that a style sets need no default. */
static bool stated_by_style(const struct tv_part *part, enum tv_key_id id) {
  return part->kind == TV_KIND_PROGRAMME && tv_has(part, TV_K_STYLE) && (shapes_music(id) || id == TV_K_BASS_NOTE);
}

static void default_part(struct tv_draft *draft, struct tv_part *part) {
  switch (part->kind) {
  case TV_KIND_ENGINE:
    default_engine(draft, part);
    break;
  case TV_KIND_ALTERNATOR:
    default_alternator(draft, part);
    break;
  case TV_KIND_BATTERY:
    default_battery(draft, part);
    break;
  case TV_KIND_AMPLIFIER:
    default_amplifier(draft, part);
    check_programme(draft, part);
    break;
  case TV_KIND_CABLE:
  case TV_KIND_STRAP:
  case TV_KIND_JOINT:
  case TV_KIND_FUSE:
    default_conductor(draft, part);
    break;
  case TV_KIND_LOAD:
    default_load(draft, part);
    break;
  case TV_KIND_ISOLATOR:
    default_isolator(draft, part);
    break;
  case TV_KIND_PROGRAMME:
    check_crossover(draft, part);
    break;
  default:
    break;
  }
}

/* Defaults from the table, and required keys that have none. */
static void table_defaults(struct tv_draft *draft, struct tv_part *part) {
  bool recorded =
      part->kind == TV_KIND_PROGRAMME && (tv_has(part, TV_K_RECORDING) || tv_has(part, TV_K_ENVELOPE));
  for (int k = 0; k < TV_KEY_COUNT; k++) {
    enum tv_key_id id = (enum tv_key_id)k;
    const struct tv_key *key = tv_key_of(id);
    if ((key->kinds & (1u << part->kind)) == 0 || part->value[k] != NULL) continue;
    bool excluded = false;
    for (int other = 0; other < TV_KEY_COUNT && key->group != 0; other++)
      excluded =
          excluded || (tv_key_of((enum tv_key_id)other)->group == key->group && part->value[other] != NULL);
    if (excluded || stated_by_style(part, id)) continue;
    bool noted = (key->flags & TV_KEY_QUIET) == 0 &&
                 !(recorded && shapes_music(id));
    if (key->fallback != NULL) {
      tv_assume(draft, part, id, key->fallback, noted);
    } else if ((key->flags & TV_KEY_NEED) != 0 && !part->standard) {
      char example[64];
      snprintf(example, sizeof example, "%s = %s", key->name,
               id == TV_K_CAPACITY ? "70 Ah"
               : id == TV_K_LENGTH ? "5.5 m"
               : id == TV_K_RATING ? "60 A"
                                   : "1 F");
      missing(draft, part, id, example);
    }
  }
}

static void check_charging(struct tv_draft *draft, struct tv_part *vehicle) {
  struct tv_part *alternator = tv_draft_find(draft, TV_KIND_ALTERNATOR, "");
  if (tv_draft_find(draft, TV_KIND_CONVERTER, "") != NULL)
    tv_assume(draft, vehicle, TV_K_CHARGING, "converter", true);
  if (alternator == NULL && !tv_has(vehicle, TV_K_CHARGING) && !draft->standard_car)
    tv_assume(draft, vehicle, TV_K_CHARGING, "none", true);
  tv_assume(draft, vehicle, TV_K_CHARGING, "belt", true);
  if (!good(vehicle, TV_K_CHARGING)) return;
  int charging = tv_word(vehicle, TV_K_CHARGING);
  bool given = tv_given(vehicle, TV_K_CHARGING);
  if (charging == TAILVOLT_CHARGING_NONE && alternator != NULL)
    tv_part_fault(draft, vehicle, TV_K_CHARGING,
                  "'charging = none' but there is an [alternator]; remove one of the two");
  const struct tv_part *converter = tv_draft_find(draft, TV_KIND_CONVERTER, "");
  bool by_converter = charging == TAILVOLT_CHARGING_CONVERTER;
  if (by_converter && converter == NULL && (alternator == NULL || !tv_has(alternator, TV_K_FIXED_OUTPUT)))
    tv_part_fault(
        draft, vehicle, TV_K_CHARGING,
        "'charging = converter' needs its limit; write for example 'rated current = 120 A' in [converter]");
  else if (converter != NULL && alternator != NULL)
    tv_part_fault(draft, vehicle, TV_K_CHARGING,
                  "[converter] takes the place of the alternator; remove [alternator] or [converter]");
  else if (converter != NULL && !by_converter)
    tv_part_fault(draft, vehicle, TV_K_CHARGING,
                  "'charging = %s' but there is a [converter]; write 'charging = converter'",
                  tv_text(vehicle, TV_K_CHARGING));
  else if (charging != TAILVOLT_CHARGING_NONE && alternator == NULL && converter == NULL && given && !draft->standard_car)
    tv_part_fault(draft, vehicle, TV_K_CHARGING,
                  "'charging = %s' but there is no [alternator]; write 'charging = none' or add one",
                  tv_text(vehicle, TV_K_CHARGING));
}

/* The standard car's base load includes its headlamps; a file that names its loads says which are lamps. */
static void default_headlamps(struct tv_draft *draft, struct tv_part *vehicle) {
  bool loads = tv_draft_find(draft, TV_KIND_LOAD, NULL) != NULL;
  tv_assume(draft, vehicle, TV_K_HEADLAMPS, draft->standard_car && !loads ? "if halogen" : "none",
            draft->standard_car && !loads);
}

/* At least one battery; and names that are not allowed. */
static void check_sections(struct tv_draft *draft) {
  if (!draft->standard_car && tv_draft_find(draft, TV_KIND_BATTERY, NULL) == NULL &&
      (draft->misspelt & 1u << TV_KIND_BATTERY) == 0) {
    struct tv_place place = {draft, draft->file, 0, "battery", "capacity", NULL, 0};
    tv_place_fault(&place, "[battery] is missing; write for example 'capacity = 70 Ah' in it");
    draft->layout_broken = true;
  }
  for (int p = 0; p < draft->part_count; p++) {
    const struct tv_part *part = draft->parts[p];
    if (part->kind != TV_KIND_PROGRAMME || strcasecmp(part->name, "silence") != 0) continue;
    struct tv_place place = {
        draft, part->from_setting ? "--set" : draft->file, part->line, part->id, NULL, part->name, part->line > 0};
    tv_place_fault(&place, "[%s]: 'silence' means no music and cannot name a programme", part->id);
  }
}

/* Position of a section's kind in the list of assumptions: source to amplifier, music and targets last. */
static int rank(const struct tailvolt_assumption *one) {
  static const int ranks[TV_KINDS] = {
      [TV_KIND_VEHICLE] = 0,   [TV_KIND_ENGINE] = 1,     [TV_KIND_ALTERNATOR] = 2, [TV_KIND_BATTERY] = 3,
      [TV_KIND_CONVERTER] = 2,
      [TV_KIND_AMPLIFIER] = 4, [TV_KIND_CABLE] = 6,      [TV_KIND_STRAP] = 7,      [TV_KIND_FUSE] = 5,
      [TV_KIND_JOINT] = 8,     [TV_KIND_CAPACITOR] = 9,  [TV_KIND_ISOLATOR] = 9,   [TV_KIND_LOAD] = 9,
      [TV_KIND_METER] = 9,     [TV_KIND_PROGRAMME] = 10, [TV_KIND_TARGETS] = 11,
      [TV_KIND_TOLERANCE] = 12};
  enum tv_kind kind = tv_kind_find(one->key, strcspn(one->key, " ."));
  return kind == TV_KINDS ? TV_KINDS : ranks[kind];
}

static void sort_assumptions(struct tv_draft *draft) {
  for (int k = 1; k < draft->assumption_count; k++) {
    struct tailvolt_assumption one = draft->assumptions[k];
    int at = k;
    for (; at > 0 && rank(&draft->assumptions[at - 1]) > rank(&one); at--)
      draft->assumptions[at] = draft->assumptions[at - 1];
    draft->assumptions[at] = one;
  }
}

void tv_default_places(struct tv_draft *draft) {
  for (int p = 0; p < draft->part_count; p++)
    if (draft->parts[p]->kind == TV_KIND_BATTERY && !draft->parts[p]->skipped)
      tv_assume(draft, draft->parts[p], TV_K_PLACE, draft->parts[p] == draft->starter ? "engine bay" : "boot",
                true);
}

static bool is_conductor(enum tv_kind kind) {
  return kind == TV_KIND_CABLE || kind == TV_KIND_STRAP || kind == TV_KIND_FUSE || kind == TV_KIND_JOINT;
}

static void fill_parts(struct tv_draft *draft, bool conductors) {
  for (int p = 0; p < draft->part_count && !draft->no_memory; p++) {
    struct tv_part *part = draft->parts[p];
    if (part->skipped || is_conductor(part->kind) != conductors) continue;
    check_groups(draft, part);
    default_part(draft, part);
    table_defaults(draft, part);
  }
}

void tv_fill_defaults(struct tv_draft *draft) {
  add_sections(draft);
  check_sections(draft);
  struct tv_part *vehicle = tv_draft_find(draft, TV_KIND_VEHICLE, "");
  if (draft->no_memory || vehicle == NULL) return;
  check_charging(draft, vehicle);
  if (draft->standard_car && tv_draft_find(draft, TV_KIND_LOAD, NULL) == NULL)
    tv_assume(draft, vehicle, TV_K_BASE_LOAD, "35 A", true);
  default_headlamps(draft, vehicle);
  /* sizes follow from what the amplifiers draw */
  fill_parts(draft, false);
  tv_choose_sizes(draft);
  fill_parts(draft, true);
  sort_assumptions(draft);
}
