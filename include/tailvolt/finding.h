/* Findings as facts: what is unsafe about a vehicle, and how far the figures of a run can be trusted. */
#ifndef TAILVOLT_FINDING_H
#define TAILVOLT_FINDING_H

#include <stddef.h>

#include "tailvolt/system.h"

#ifdef __cplusplus
extern "C" {
#endif

/** MARGINAL: too near to call, or to be looked at; no target is missed for certain. */
enum tailvolt_verdict { TAILVOLT_HOLDS = 0, TAILVOLT_MARGINAL = 1, TAILVOLT_FAILS = 2 };

/** A part of the vehicle. Cables, straps, joints and fuses are conductors, in the order of enum tailvolt_conductor_kind. */
enum tailvolt_part_kind {
  TAILVOLT_PART_VEHICLE, TAILVOLT_PART_ENGINE, TAILVOLT_PART_ALTERNATOR, TAILVOLT_PART_CONVERTER,
  TAILVOLT_PART_BATTERY, TAILVOLT_PART_CABLE, TAILVOLT_PART_STRAP, TAILVOLT_PART_JOINT, TAILVOLT_PART_FUSE,
  TAILVOLT_PART_CAPACITOR, TAILVOLT_PART_ISOLATOR, TAILVOLT_PART_LOAD, TAILVOLT_PART_AMPLIFIER, TAILVOLT_PART_PROGRAMME
};

/** Which part: enough to find it in the system, or to name it without. */
struct tailvolt_part {
  enum tailvolt_part_kind kind;
  int index;                    /**< in the system's array of its kind (one array for the four conductors); -1 =
                                 *   none */
  char name[TAILVOLT_NAME_MAX]; /**< as in the file; empty where there is only one of the kind */
  char size[32];                /**< of a cable or strap, as printed */
};

/** What was found about safety, or about how far to trust the figures. In brackets the parts, first to last,
 *  and the numbers set; all others are NAN. Append only. */
enum tailvolt_finding_kind {
  TAILVOLT_FOUND_NONE,
  /* fuses and cables, from the wiring alone */
  TAILVOLT_FOUND_SHORT_CIRCUIT,           /**< posts joined by conductors alone [battery] */
  TAILVOLT_FOUND_CABLE_UNFUSED,           /**< no fuse at the battery [cable, battery; limit_m] */
  TAILVOLT_FOUND_CABLE_UNFUSED_FACTORY,   /**< the charge lead has no fuse [cable, battery] */
  TAILVOLT_FOUND_AMPLIFIER_UNFUSED,       /**< fed through joints alone [amplifier, battery] */
  TAILVOLT_FOUND_FUSE_FAR,                /**< too much cable ahead of it [fuse, battery; length_m, limit_m] */
  TAILVOLT_FOUND_FUSE_UNUSABLY_FAR,       /**< so far that the cable counts as unfused [the same] */
  TAILVOLT_FOUND_FUSE_PLACE_UNKNOWN,      /**< distance not stated [fuse, battery; limit_m] */
  TAILVOLT_FOUND_FUSE_ASSUMED,            /**< not in the file: to be fitted [fuse, battery; current_a = its
                                           *   rating, limit_m] */
  TAILVOLT_FOUND_FUSE_TOO_BIG,            /**< [fuse, cable; current_a = rating, most_a = largest standard fuse
                                           *   that protects or NAN,
                                           *   limit_a = ampacity, air_c, limit_c = insulation] */
  TAILVOLT_FOUND_FUSE_NO_STEP_DOWN,       /**< right for one cable, not for a thinner one [fuse, thin cable,
                                           *   thick cable; the same] */
  TAILVOLT_FOUND_FUSES_SUM,               /**< several into one cable [cable; current_a = their sum, limit_a =
                                           *   ampacity] */
  TAILVOLT_FOUND_FUSE_IN_GROUND,          /**< [fuse] */
  TAILVOLT_FOUND_FUSE_VOLTAGE,            /**< voltage rating too low [fuse; voltage_v, limit_v] */
  TAILVOLT_FOUND_FUSE_VOLTAGE_UNUSUAL,    /**< below that of road vehicles [fuse; voltage_v, limit_v] */
  TAILVOLT_FOUND_FUSE_BREAKING,           /**< a short circuit exceeds its breaking capacity [fuse; current_a,
                                           *   limit_a] */
  TAILVOLT_FOUND_GROUND_THINNER,          /**< than the feed [ground cable, amplifier, feed cable] */
  TAILVOLT_FOUND_CLAD_ALUMINIUM,          /**< [cable; limit_a = ampacity] */
  /* from the run */
  TAILVOLT_FOUND_CABLE_RUNS_AWAY,         /**< no final temperature [cable; current_a, limit_c] */
  TAILVOLT_FOUND_CABLE_TOO_HOT,           /**< [cable; temperature_c, current_a, limit_c] */
  TAILVOLT_FOUND_CABLE_NEARLY_TOO_HOT,    /**< [cable; temperature_c, current_a, limit_c, margin_k] */
  TAILVOLT_FOUND_JOINT_HOT,               /**< joint or fuse holder [joint or fuse; power_w, current_a, limit_w] */
  TAILVOLT_FOUND_JOINT_WARM,              /**< [the same] */
  TAILVOLT_FOUND_FUSE_OPENS,              /**< [fuse; limit_a = rating, time_s, current_a, peak_a] */
  TAILVOLT_FOUND_FUSE_LOADED,             /**< more than it carries for hours [fuse; limit_a = rating, current_a,
                                           *   most_a, air_c] */
  TAILVOLT_FOUND_FUSE_MAY_OPEN,           /**< [fuse; limit_a = rating, current_a, peak_a] */
  /* other parts */
  TAILVOLT_FOUND_AMPLIFIER_FUSES,         /**< its own fuses can never pass its claimed power [amplifier;
                                           *   power_w = claimed, current_a = that takes, limit_a = fuses,
                                           *   limit_w = what they pass] */
  TAILVOLT_FOUND_CAPACITOR_PRECHARGE,     /**< [capacitor; capacitance_f] */
  TAILVOLT_FOUND_CAPACITOR_VOLTAGE,       /**< rated too low [capacitor; voltage_v, limit_v = charging] */
  TAILVOLT_FOUND_ISOLATOR_RATING_UNKNOWN, /**< [isolator] */
  TAILVOLT_FOUND_ISOLATOR_INRUSH,         /**< [isolator, battery; current_a, limit_a] */
  TAILVOLT_FOUND_FUSE_INRUSH,             /**< [fuse, battery, isolator; current_a, limit_a = rating] */
  TAILVOLT_FOUND_CONVERTER_VOLTAGE,       /**< [isolator; voltage_v, limit_v] */
  TAILVOLT_FOUND_SET_POINT_HIGH,          /**< [alternator; voltage_v, limit_v] */
  TAILVOLT_FOUND_CHARGING_COMPUTER,       /**< the set point swings [vehicle; voltage_v = low, limit_v = high] */
  TAILVOLT_FOUND_CHARGING_HYBRID,         /**< orange cable [vehicle] */
  TAILVOLT_FOUND_SENSOR_GROUNDS,          /**< every ground to the body [vehicle] */
  TAILVOLT_FOUND_SENSOR_BYPASSED,         /**< ground connected to the post [amplifier] */
  TAILVOLT_FOUND_SENSOR_SECOND_BATTERY,   /**< the sensor does not see it [battery] */
  /* batteries */
  TAILVOLT_FOUND_BATTERY_IN_CABIN,        /**< [battery] */
  TAILVOLT_FOUND_BATTERY_GASSES,          /**< flooded in boot or cabin [battery] */
  TAILVOLT_FOUND_BATTERY_FREEZES,         /**< at its final charge [battery; temperature_c = its own, limit_c
                                           *   = freezing point, charge_frac] */
  TAILVOLT_FOUND_LITHIUM_CARE,            /**< [battery] */
  TAILVOLT_FOUND_LITHIUM_ON_LEAD,         /**< connected directly or by relay [battery, isolator or lead
                                           *   battery; current_a] */
  TAILVOLT_FOUND_LITHIUM_FROST,           /**< charged below freezing [battery; temperature_c, limit_c] */
  TAILVOLT_FOUND_LITHIUM_BAY,             /**< under the bonnet [battery; temperature_c, limit_c] */
  TAILVOLT_FOUND_LITHIUM_VOLTAGE,         /**< charging voltage too high [battery; voltage_v, limit_v] */
  /* how far to trust the figures */
  TAILVOLT_FOUND_REST_MOVING,             /**< rest voltage is only that of the first instant */
  TAILVOLT_FOUND_CREST_BELOW_SINE,        /**< [programme; crest_db, limit_db] */
  TAILVOLT_FOUND_RIPPLE_COARSE,           /**< time step too long for the bass note */
  TAILVOLT_FOUND_LOAD_COLLAPSED,          /**< dropped where it asked for more than there was [time_s = first] */
  /* more about cables */
  TAILVOLT_FOUND_CABLE_UNDERSIZE,         /**< more resistance than the claimed size has [cable; resistance_ohm,
                                           *   limit_ohm = of the size] */
  TAILVOLT_FOUND_CABLE_BELOW_FUSES,       /**< carries less than the amplifier's own fuses [cable, amplifier; current_a
                                           *   = fuses, limit_a = ampacity] */
  TAILVOLT_FOUND_NO_START,                /**< the engine does not start [voltage_v = at the posts while cranking,
                                           *   limit_v = needed, time_s = first] */
  TAILVOLT_FOUND_OVERVOLTAGE,             /**< [the lithium battery where there is one; voltage_v = highest at a
                                           *   battery's posts, limit_v] */
  TAILVOLT_FOUND_FUSE_ASSUMED_INSIDE,     /**< not in the file, at a block or between others: to be fitted [fuse, the cable behind it;
                                           *   current_a = its rating] */
  TAILVOLT_FOUND_KINDS
};

enum { TAILVOLT_FINDING_PARTS = 3 };

/** One finding: facts only; tailvolt_finding_text() makes the sentence. Numbers its kind does not use are NAN. What a number
 *  is, and of which part, stands at the kind. */
struct tailvolt_finding {
  enum tailvolt_finding_kind kind;
  enum tailvolt_verdict status; /**< TAILVOLT_HOLDS = a caution, which leaves the verdict alone */
  int part_count;
  struct tailvolt_part part[TAILVOLT_FINDING_PARTS];
  double current_a, limit_a, most_a, peak_a;
  double voltage_v, limit_v;
  double temperature_c, limit_c, air_c, margin_k;
  double length_m, limit_m;
  double power_w, limit_w;
  double capacitance_f;
  double crest_db, limit_db;
  double charge_frac;
  double time_s;
  bool at_from;                 /**< of an unfused cable: the battery is at its `from` end */
  bool clad;                    /**< the cable is clad aluminium */
  enum tailvolt_battery_kind battery; /**< of the first battery named */
  enum tailvolt_place place;    /**< of that battery */
  double resistance_ohm, limit_ohm;
};

/** The sentence of a finding in plain English, naming parts, numbers and limits; numbers in the C locale. The part
 *  before its first ": " can stand alone.
 *  \param us_units feet, inches and Fahrenheit in place of metres and Celsius
 *  \param to       receives the text, cut to `size` bytes; TAILVOLT_TEXT_MAX always do */
TAILVOLT_API void tailvolt_finding_text(const struct tailvolt_finding *finding, bool us_units, char *to, size_t size);

#ifdef __cplusplus
}
#endif
#endif
