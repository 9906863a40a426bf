#include "report/measure_words.h"

#include <math.h>
#include <stdio.h>

#include "text/feed_drops.h"
#include "text/number.h"
#include "text/text.h"
#include "text/words.h"

static bool at_battery(const struct tailvolt_system *system, const struct tailvolt_probe *probe) {
  for (int k = 0; k < system->battery_count; k++) {
    const struct tailvolt_battery *one = &system->batteries[k];
    if ((probe->positive == one->positive && probe->negative == one->negative) ||
        (probe->positive == one->negative && probe->negative == one->positive))
      return true;
  }
  return false;
}

static int amplifier_at(const struct tailvolt_system *system, const struct tailvolt_probe *probe) {
  for (int k = 0; k < system->amplifier_count; k++)
    if (probe->positive == system->amplifiers[k].positive && probe->negative == system->amplifiers[k].negative) return k;
  return -1;
}

static enum tv_reading_of of_clamp(const struct tailvolt_system *system, int conductor) {
  const struct tailvolt_conductor *one = &system->conductors[conductor];
  if (one->role == TAILVOLT_ROLE_CHARGE_LEAD) return TV_READING_CHARGE_A;
  if (system->alternator.present && (one->from == system->alternator.positive || one->to == system->alternator.positive))
    return TV_READING_CHARGE_A;
  /* a lead beyond the joint at a battery's minus */
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *joint = &system->conductors[k];
    int far = joint->from == 0 ? joint->to : joint->to == 0 ? joint->from : -1;
    if (k == conductor && far >= 0) return TV_READING_BATTERY_A;
    if (far >= 0 && joint->kind == TAILVOLT_JOINT && (one->from == far || one->to == far)) return TV_READING_BATTERY_A;
  }
  return TV_READING_FEED_A;
}

enum tv_reading_of tv_reading_of(const struct tailvolt_system *system, const struct tailvolt_probe *probe,
                                 const struct tailvolt_straddled *between) {
  bool tone = probe->condition == TAILVOLT_CONDITION_TONE || probe->condition == TAILVOLT_CONDITION_TONE_OFF;
  if (probe->instrument == TAILVOLT_CLAMP) return of_clamp(system, probe->conductor);
  if (at_battery(system, probe))
    return tone ? TV_READING_SAG : probe->condition == TAILVOLT_CONDITION_REST ? TV_READING_REST : TV_READING_CHARGING;
  if (amplifier_at(system, probe) >= 0) return TV_READING_TERMINALS;
  if (between->count == 0) return TV_READING_OTHER;
  if (between->count > 1) return TV_READING_SEVERAL;
  switch (system->conductors[between->conductor[0]].kind) {
  case TAILVOLT_JOINT: return TV_READING_JOINT;
  case TAILVOLT_FUSE: return TV_READING_FUSE;
  default: return TV_READING_CABLE;
  }
}

const char *tv_condition_words(enum tailvolt_condition condition, bool hybrid) {
  switch (condition) {
  case TAILVOLT_CONDITION_REST: return hybrid ? "CAR OFF and locked for hours" : "ENGINE OFF for hours, everything off, doors shut";
  case TAILVOLT_CONDITION_TONE_OFF:
    return hybrid ? "CAR OFF, a tone of 50 Hz: read at the end of its ten seconds"
                  : "ENGINE OFF, a tone of 50 Hz: read at the end of its ten seconds";
  case TAILVOLT_CONDITION_IDLE:
    return hybrid ? "CAR READY for a minute, lights and blower off"
                  : "ENGINE AT IDLE for a minute, lights and blower off, music off";
  case TAILVOLT_CONDITION_LIGHTS:
    return hybrid ? "CAR READY, everything on: main beam, blower, wipers; music off"
                  : "ENGINE AT IDLE, everything on: main beam, blower, wipers, rear window; music off";
  case TAILVOLT_CONDITION_TONE:
    return hybrid ? "CAR READY, everything on, a tone of 50 Hz for ten seconds"
                  : "ENGINE AT IDLE, everything on, a tone of 50 Hz for ten seconds";
  case TAILVOLT_CONDITIONS: break;
  }
  return "";
}

const char *tv_reading_above(enum tv_reading_of of) {
  switch (of) {
  case TV_READING_REST: return "charged just now: switch the lights on for a minute, wait five, read again";
  case TV_READING_CHARGING: return "a high set point, or fewer things are switched on";
  case TV_READING_SAG: return "a stronger battery, or less current than thought";
  case TV_READING_TERMINALS: return "better wiring, or less current than thought";
  case TV_READING_JOINT: return "a bad joint: clean to bright metal and tighten";
  case TV_READING_FUSE: return "a poor fuse holder, or a fuse about to go";
  case TV_READING_CABLE: return "undersize or clad aluminium, or longer than thought";
  case TV_READING_SEVERAL: return "one of the parts between: halve the way with the red probe until it is found";
  case TV_READING_CHARGE_A: return "more is switched on than thought, or the battery is hungry";
  case TV_READING_BATTERY_A: return "a hungry battery";
  case TV_READING_FEED_A: return "a less efficient amplifier, or a louder tone";
  case TV_READING_OTHER: break;
  }
  return "not as described";
}

const char *tv_reading_below(enum tv_reading_of of) {
  switch (of) {
  case TV_READING_REST: return "low charge: charge it, rest it, read again; still low: worn";
  case TV_READING_CHARGING: return "the alternator is at its limit, or its set point is low";
  case TV_READING_SAG: return "a worn or a cold battery, or poor posts";
  case TV_READING_TERMINALS: return "feed or ground: read each by itself";
  case TV_READING_JOINT: return "a good joint";
  case TV_READING_FUSE: return "a good holder";
  case TV_READING_CABLE: return "better or shorter than thought";
  case TV_READING_SEVERAL: return "better than thought";
  case TV_READING_CHARGE_A: return "less is switched on than thought, or a slipping belt";
  case TV_READING_BATTERY_A: return "a full battery; negative: it discharges, the alternator is at its limit";
  case TV_READING_FEED_A: return "a quieter tone: turn up until it is this";
  case TV_READING_OTHER: break;
  }
  return "not as described";
}

struct tv_number tv_reading_number(enum tailvolt_instrument instrument, double value) {
  return tv_reading_beside(instrument, value, value);
}

struct tv_number tv_reading_beside(enum tailvolt_instrument instrument, double value, double greatest) {
  struct tv_number text;
  if (instrument == TAILVOLT_CLAMP) snprintf(text.text, sizeof text.text, "%.36s A", tv_fixed(value, 1).text);
  else if (fabs(greatest) < 0.2) snprintf(text.text, sizeof text.text, "%.36s mV", tv_fixed(1e3 * value, 1).text);
  else if (fabs(greatest) < 2.0) snprintf(text.text, sizeof text.text, "%.36s V", tv_fixed(value, 3).text);
  else snprintf(text.text, sizeof text.text, "%.36s V", tv_fixed(value, 2).text);
  return text;
}

void tailvolt_probe_words(const struct tailvolt_system *system, const struct tailvolt_probe *probe,
                          const struct tailvolt_straddled *between, char *to, size_t size) {
  char part[TAILVOLT_NAME_MAX + 64];
  to[0] = '\0';
  if (probe->instrument == TAILVOLT_CLAMP) {
    const struct tailvolt_conductor *one = &system->conductors[probe->conductor];
    tv_part_spoken(tv_part_of_conductor(one->kind), one->name, part, sizeof part);
    tv_append(to, size, "clamp around the %s, arrow towards %s", part, system->point_names[probe->against ? one->from : one->to]);
    return;
  }
  enum tv_reading_of of = tv_reading_of(system, probe, between);
  const char *hold = probe->instrument == TAILVOLT_MIN_HOLD ? "min-hold " : "";
  if (of == TV_READING_REST || of == TV_READING_CHARGING || of == TV_READING_SAG) {
    tv_append(to, size, "%svolts at the battery's posts", hold);
  } else if (of == TV_READING_TERMINALS) {
    tv_append(to, size, "%svolts at the terminals of %s", hold, system->amplifiers[amplifier_at(system, probe)].name);
  } else if (between->count == 1) {
    const struct tailvolt_conductor *one = &system->conductors[between->conductor[0]];
    tv_part_spoken(tv_part_of_conductor(one->kind), one->name, part, sizeof part);
    tv_append(to, size, "%sdrop across the %s", hold, part);
  } else {
    tv_append(to, size, "%s%s", hold, between->count > 1 ? "drop" : "volts");
  }
  tv_append(to, size, ": red on %s, black on %s%s", system->point_names[probe->positive], system->point_names[probe->negative],
            probe->negative == 0 ? " (the battery's minus)" : "");
}
