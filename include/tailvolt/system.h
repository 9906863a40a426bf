/* The system: every part of a vehicle's electrical system as plain data.
 *
 * Built by tailvolt_system_read() or filled in by a host program; never written during a run, so one system
 * may serve many runs and threads. SI units inside; each physical field has its unit as a suffix. NAN means
 * "not given" where a field says so. Points are numbered; point 0 is always `ground`. */
#ifndef TAILVOLT_SYSTEM_H
#define TAILVOLT_SYSTEM_H

#include <stddef.h>

#include "tailvolt/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define TAILVOLT_NAME_MAX 64
#define TAILVOLT_CURVE_MAX 16
#define TAILVOLT_BRANCH_MAX 4
#define TAILVOLT_NOWHERE (-1) /**< a point that is not given */

enum tailvolt_charging { TAILVOLT_CHARGING_BELT, TAILVOLT_CHARGING_COMPUTER,
                         TAILVOLT_CHARGING_CONVERTER, TAILVOLT_CHARGING_NONE };
enum tailvolt_fuel { TAILVOLT_PETROL, TAILVOLT_DIESEL };
/** How a lamp's light follows its voltage. IF_HALOGEN: not known, judged as halogen and reported as such. */
enum tailvolt_lamp { TAILVOLT_LAMP_NONE, TAILVOLT_LAMP_HALOGEN, TAILVOLT_LAMP_LED, TAILVOLT_LAMP_IF_HALOGEN };

struct tailvolt_vehicle {
  char name[TAILVOLT_NAME_MAX];
  double ambient_c;       /**< outside air, default 25 */
  double engine_bay_c;    /**< under-bonnet air when warm, default 60 */
  enum tailvolt_charging charging;
  bool battery_sensor;
  double base_load_a;     /**< clamp reading at idle: constant current at the posts of the first battery while
                           *   the engine runs. When given it replaces the loads: they stay in the array, so
                           *   that a profile may still name them, with power_w = 0. NAN = use the loads */
  double key_off_a;       /**< draw of the parked and locked car, default 0.03 A */
  enum tailvolt_lamp headlamps; /**< at the starting battery's posts; IF_HALOGEN in a standard car without a
                                 *   [load] that is a lamp */
  double warming_s;       /**< under-bonnet air goes towards engine_bay_c with this time constant while the engine runs; 0 = 600 s */
};

struct tailvolt_engine {
  double displacement_l;
  enum tailvolt_fuel fuel;
  double idle_rpm;
  double cranking_a;      /**< steady turning current at 25 C */
  double breakaway_a;     /**< first 100 ms */
  double cranking_s;
  bool simulate_starts;
  int starter_battery;    /**< index of the battery that starts the car and carries the base load */
  bool stop_and_start;    /**< rows of zero speed keep the running engine's targets */
  double start_needs_a, start_needs_s; /**< what a start takes where nothing is cranked (charging by converter:
                           *   30 A for 5 s, practice); NAN = the engine is cranked */
  double start_floor_v;   /**< lowest voltage at the posts while it does, 10.5 V; NAN = the engine is cranked */
  int block;              /**< point of the engine block, the return of the starter's current */
};

struct tailvolt_curve_point { double x; double y; };

/** Rotor speeds of the two currents that describe an alternator: rated at 6000 rpm (ISO 8854), low at 1800 rpm (common practice of
 * makers' data sheets). */
#define TAILVOLT_LOW_RPM 1800.0
#define TAILVOLT_RATED_RPM 6000.0

struct tailvolt_alternator {
  bool present;
  int positive, negative;
  int sense;              /**< point where the regulator measures, against `negative`; default `positive` */
  int output_count;       /**< label points, ascending speed; two at least unless fixed */
  double output_rpm[TAILVOLT_CURVE_MAX];  /**< rotor speed */
  double output_a[TAILVOLT_CURVE_MAX];
  double rated_a;         /**< label current (6000 rpm) */
  double pulley_ratio;
  double set_point_v;     /**< at 25 C */
  double drift_v_per_k;   /**< negative; 0 with fixed output unless stated */
  double field_s;         /**< field time constant; 0 = follows at once */
  double ramp_a_per_s;    /**< fastest rise below 1000 rpm of the engine; 0 = unlimited */
  double rated_v;         /**< voltage at which the label currents hold */
  double droop_ohm;
  double fixed_output_a;  /**< NAN = use the curve */
  double set_point_low_v, set_point_high_v; /**< band of a set point that the engine computer moves; both are
                           *   set_point_v where it is fixed. With a band set_point_v is its low end, where
                           *   voltage is judged */
  double low_end_above_frac; /**< the low end is used only while charge is above this, 0.75 */
};

/** Charging by converter (hybrids): works whenever the car is ready. The same source also appears in
 *  tailvolt_alternator with a fixed output, so the network need not know two kinds. */
struct tailvolt_converter {
  bool present;
  double rated_a;
  double set_point_v;
};

enum tailvolt_place { TAILVOLT_CABIN, TAILVOLT_ENGINE_BAY, TAILVOLT_BOOT, TAILVOLT_BED };
enum tailvolt_battery_kind { TAILVOLT_FLOODED, TAILVOLT_EFB, TAILVOLT_AGM, TAILVOLT_GEL,
                             TAILVOLT_LITHIUM_IRON };
enum tailvolt_cranking_standard { TAILVOLT_EN, TAILVOLT_SAE, TAILVOLT_DIN };

struct tailvolt_battery {
  char name[TAILVOLT_NAME_MAX];
  int positive, negative;
  enum tailvolt_battery_kind kind;
  double capacity_ah;           /**< 20 h label capacity */
  double reserve_min;           /**< NAN = IEC 60095-1 relation */
  double cold_cranking_a;       /**< label */
  enum tailvolt_cranking_standard cold_cranking_standard;
  double soc_frac;              /**< at the start; NAN when rested_v is given */
  double rested_v;              /**< NAN when soc_frac is given */
  double health_frac;           /**< of the label's charge */
  double cranking_health_frac;  /**< of the label's cold cranking */
  /* explicit circuit values; each overrides what the label implies */
  double resistance_ohm;        /**< NAN = from the label */
  int polarization_count;       /**< 0 = from the label */
  double polarization_ohm[TAILVOLT_BRANCH_MAX];
  double polarization_s[TAILVOLT_BRANCH_MAX];
  int open_circuit_count;       /**< 0 = by kind; else points ascending in SOC */
  double open_circuit_frac[TAILVOLT_CURVE_MAX];
  double open_circuit_v[TAILVOLT_CURVE_MAX];
  enum tailvolt_place place;    /**< the starting battery in the engine bay, others in the boot by default */
  bool vented;                  /**< its gas is vented outside */
  double empty_v;               /**< rested voltage when empty, 25 C, to which the kind's curve is stretched from its full end; NAN or 0 =
                                 *   the kind's own */
};

enum tailvolt_conductor_kind { TAILVOLT_CABLE, TAILVOLT_STRAP, TAILVOLT_JOINT, TAILVOLT_FUSE };
enum tailvolt_material { TAILVOLT_COPPER, TAILVOLT_TINNED_COPPER, TAILVOLT_CLAD_ALUMINIUM,
                         TAILVOLT_ALUMINIUM };
enum tailvolt_laid { TAILVOLT_FREE, TAILVOLT_SLEEVE, TAILVOLT_BUNDLED, TAILVOLT_CARPET };
enum tailvolt_fuse_kind { TAILVOLT_BLADE, TAILVOLT_LARGE_BLADE, TAILVOLT_BOLT_DOWN };
/** What a conductor is in the vehicle, where that changes how it is judged. */
enum tailvolt_role {
  TAILVOLT_ROLE_NONE,         /**< of the installation: a positive one needs a fuse at every battery */
  TAILVOLT_ROLE_STARTER_LEAD, /**< the maker's unfused lead to the starter */
  TAILVOLT_ROLE_CHARGE_LEAD,  /**< from the alternator to the battery */
  TAILVOLT_ROLE_BODY          /**< sheet metal or the maker's own ground: not a joint to tighten */
};

/** Anything two-ended that is a resistance: cable, strap, joint, fuse. */
struct tailvolt_conductor {
  char name[TAILVOLT_NAME_MAX];
  enum tailvolt_conductor_kind kind;
  int from, to;
  double resistance_ohm;        /**< at 20 C; fuses with their holder */
  double temperature_per_k;     /**< of resistance at 20 C; 0 for joints and fuses */
  /* cables and straps */
  double length_m;
  double area_m2;               /**< electrically effective at 20 C: rho L / R; 0 for joints and fuses */
  double outer_m;               /**< over the insulation */
  char size[32];                /**< as printed: "8 AWG", "25 mm2" */
  enum tailvolt_material material;
  double insulation_limit_c;
  enum tailvolt_laid laid;
  enum tailvolt_place place;
  /* fuses */
  enum tailvolt_fuse_kind fuse_kind;
  double rating_a;
  double distance_m;            /**< unfused cable between battery and fuse; NAN = not given */
  double rated_v;               /**< of a fuse; NAN or 0 = not given */
  enum tailvolt_role role;
  int parallel;                 /**< equal runs in parallel: resistance_ohm and area_m2 are of all, outer_m of
                                 *   one; 0 counts as 1 */
  bool assumed;                 /**< not in the file: added by the standard car */
  bool size_chosen;             /**< the size, or the fuse's rating, was chosen, not given */
  double claimed_ohm;           /**< resistance of its claimed size, where measured drop, strands or
                                 *   resistance per metre are clearly higher; NAN = no contradiction */
};

struct tailvolt_capacitor {
  char name[TAILVOLT_NAME_MAX];
  int positive, negative;
  double capacitance_f;
  double esr_ohm;
  double rated_v;               /**< NAN = not given */
};

enum tailvolt_isolator_kind { TAILVOLT_RELAY, TAILVOLT_DIODE, TAILVOLT_CONVERTER };

struct tailvolt_isolator {
  char name[TAILVOLT_NAME_MAX];
  int from, to;
  enum tailvolt_isolator_kind kind;
  double closes_above_v, opens_below_v; /**< NAN: a relay that the engine switches, whatever the voltage */
  double close_delay_s, open_delay_s;
  bool sense_either;            /**< relay, converter: senses at `from`, or at the higher of the two */
  bool by_engine;               /**< relay, converter: the ignition switches it, on while the engine runs (a hybrid: is ready) */
  double rating_a;              /**< NAN = not given */
  double resistance_ohm;        /**< relay 1 mohm, diode 2 mohm */
  double drop_v;                /**< diode */
  double output_a, output_v;    /**< converter */
  double efficiency_frac;       /**< converter, 0.9 */
};

enum tailvolt_behaviour { TAILVOLT_RESISTOR, TAILVOLT_CONSTANT_POWER, TAILVOLT_CONSTANT_CURRENT };

struct tailvolt_load {
  char name[TAILVOLT_NAME_MAX];
  int positive, negative;
  double power_w;               /**< at rated_v */
  enum tailvolt_behaviour behaviour;
  double rated_v;
  double duty_frac;             /**< share of the time it is on, for the budget; 1 */
  enum tailvolt_lamp lamp;
};

enum tailvolt_topology { TAILVOLT_CLASS_AB, TAILVOLT_CLASS_D };

struct tailvolt_amplifier {
  char name[TAILVOLT_NAME_MAX];
  int positive, negative;
  double rated_w;               /**< continuous sine, all channels, at rated_v */
  double rated_v;
  enum tailvolt_topology topology;
  bool regulated;
  double efficiency_frac;       /**< at rated power and voltage, idle draw included */
  double idle_a;
  double standby_a;
  double cut_out_v, cut_in_v;   /**< cut_out_v = 0: no comparator */
  double cut_out_delay_s, restart_delay_s;
  double fuses_a;               /**< sum of the onboard fuses; NAN = not given */
  double internal_f, internal_ohm;
  int programme;                /**< index, or -1 = the profile's */
  double level_offset_db;
  double target_v;              /**< own target, engine on and off; NAN = [targets] */
  int supply_battery;           /**< index of the battery that `supply from` names for its feed, else -1 */
};

struct tailvolt_meter {
  char name[TAILVOLT_NAME_MAX];
  int positive, negative;
};

struct tailvolt_programme {
  char name[TAILVOLT_NAME_MAX];
  double crest_db;
  double tempo_per_min;
  double decay_s;               /**< of power, e-fold */
  double bass_hz;               /**< 0 = envelope only */
  unsigned long seed;
  char recording[TAILVOLT_TEXT_MAX]; /**< path or empty */
  char envelope[TAILVOLT_TEXT_MAX];  /**< path of an envelope CSV or empty */
  char style[TAILVOLT_TEXT_MAX];     /**< name of a style, or path of a style file, or empty; any NAN value above
                                      *   is then the style's */
  double below_hz;              /**< crossover for a recording: only what lies below; 0 = all */
  double above_hz;              /**< only what lies above; 0 = all */
  double phrases_frac;          /**< slow level of generated music: standard deviation of one-second mean power over
                                 *   the overall mean; 0 = beats alone */
  double sections_frac;         /**< share of that swing still in ten-second means, 0 to 1 */
};

struct tailvolt_targets {
  double voltage_v;             /**< at every amplifier while the engine runs */
  double voltage_parked_v;
  double missed_frac;           /**< of the time that it plays */
  double parked_s;              /**< wanted playing time, NAN = none */
  double idle_endurance_s;      /**< at idle to half charge, 4 h */
  double idle_frac;             /**< share of the driving time spent at idle, 0.4 */
};

/** The file's [tolerance] section: how far cars like the one described differ from it, as half widths of ranges with every value
 *  equally likely, each replacing the range in tailvolt_uncertainty_of(); NAN = not given. Shares of charge, health and efficiency
 *  are in points (0.1 = from 75 to 95 % about 85 %), others in shares of the value. */
struct tailvolt_tolerance {
  double health_frac;           /**< points of battery health */
  double soc_frac;              /**< points of charge at the start */
  double temperature_k;
  double resistance_frac;       /**< of cables, joints, fuses and batteries, each */
  double level_db;              /**< of the playing level, which is not drawn without it */
  double cranking_frac;         /**< of the starter's currents */
  double base_load_frac, set_point_v;
  double output_frac;           /**< of the label currents of alternator or converter */
  double pulley_frac, idle_rpm;
  double power_frac, efficiency_frac, cut_out_v; /**< of amplifiers */
  double length_frac;           /**< of cables */
};

/** A value that the user did not give. */
struct tailvolt_assumption {
  char key[96];                 /**< "section.key", as --set takes it */
  char value[96];               /**< with its unit, as --set takes it; reads back as the exact value in use */
  char shown[64];               /**< the same for people: at most four digits */
  char shown_us[64];            /**< the same in feet and Fahrenheit where it is a length or a temperature, else empty */
  bool chosen;                  /**< worked out for this car (a size, a fuse), not typical of cars in general */
};

/** A value given with the word `measured`: its range is the meter's. */
struct tailvolt_measured {
  char key[96];                 /**< "section.key", as --set takes it */
};

struct tailvolt_stated; /* opaque */

struct tailvolt_system {
  char file[TAILVOLT_TEXT_MAX];
  struct tailvolt_vehicle vehicle;
  struct tailvolt_engine engine;
  struct tailvolt_alternator alternator;
  struct tailvolt_targets targets;
  int point_count;              /**< point 0 is `ground` */
  char (*point_names)[TAILVOLT_NAME_MAX];
  int battery_count;    struct tailvolt_battery *batteries;
  int conductor_count;  struct tailvolt_conductor *conductors;
  int capacitor_count;  struct tailvolt_capacitor *capacitors;
  int isolator_count;   struct tailvolt_isolator *isolators;
  int load_count;       struct tailvolt_load *loads;
  int amplifier_count;  struct tailvolt_amplifier *amplifiers;
  int meter_count;      struct tailvolt_meter *meters;
  int programme_count;  struct tailvolt_programme *programmes; /**< one "music" by default */
  int assumption_count; struct tailvolt_assumption *assumptions;
  bool standard_car;            /**< no part names a point */
  struct tailvolt_tolerance tolerance;
  struct tailvolt_converter converter;
  int measured_count;   struct tailvolt_measured *measured;
  struct tailvolt_stated *stated; /**< what the file and its settings stated; NULL where a host filled in the
                                   *   fields */
  char own_wiring[TAILVOLT_NAME_MAX + 16]; /**< the section whose points make all wiring the file's own, so that nothing of the
                                            *   standard car is added; empty where the file or its settings say so, or not so */
};

/** One `--set "section.key = value"`. A section that the file lacks is created. */
struct tailvolt_setting {
  const char *text;             /**< the whole "section.key = value" */
};

/** Reads and validates a system file.
 *  \param path      file to read, or "-" for standard input
 *  \param settings  overrides, later ones win; may be NULL when count is 0
 *  \param out       receives the system; free with tailvolt_system_free()
 *  \param faults    filled with everything wrong; its count is 0 on success
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NOT_READABLE, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_system_read(const char *path, const struct tailvolt_setting *settings, int setting_count,
                     struct tailvolt_system **out, struct tailvolt_faults *faults);

/** The same from text in memory; faults use `name` as the file's name. */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_system_parse(const char *text, const char *name, const struct tailvolt_setting *settings,
                      int setting_count, struct tailvolt_system **out,
                      struct tailvolt_faults *faults);

/** A system file as text, for tailvolt_system_parse() and tailvolt_remedy(): the way to read standard input once and
 *  use it often.
 *  \param path   file to read, or "-" for standard input
 *  \param out    receives the text; free with tailvolt_system_text_free()
 *  \param error  why it cannot be read; at least TAILVOLT_TEXT_MAX bytes, may be NULL
 *  \return TAILVOLT_OK, TAILVOLT_NOT_READABLE, TAILVOLT_BAD_INPUT (not text: UTF-16, control characters),
 *          TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_system_text(const char *path, char **out, char *error);
TAILVOLT_API void tailvolt_system_text_free(char *text);

/** Sets one value of a system that was read or parsed, as `--set "KEY = VALUE"` would: every default is derived
 *  again, and the result is that of reading the file again with this setting last.
 *  \param key    "section.key": "cable feed.size"
 *  \param value  with its unit: "4 AWG"
 *  \return TAILVOLT_OK; TAILVOLT_BAD_INPUT, TAILVOLT_NO_MEMORY with the system unchanged. A profile read for the
 *          system stays valid as long as no load, amplifier or programme is added. */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_system_set(struct tailvolt_system *system,
                                                                       const char *key, const char *value);

/** The same for several settings at once, with everything that is wrong in `faults`. */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_system_change(struct tailvolt_system *system, const struct tailvolt_setting *settings, int setting_count,
                       struct tailvolt_faults *faults);

/** An independent copy; free with tailvolt_system_free().
 *  \return TAILVOLT_OK, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_system_copy(const struct tailvolt_system *system,
                                                                        struct tailvolt_system **out);

/** A further file that a run of the system reads: recordings, envelopes and styles of its programmes, relative to
 *  the system file's folder. A built-in style is named like a file; it need not exist.
 *  \param index  from 0 up
 *  \param path   receives the path; free with tailvolt_system_text_free(). NULL after the last
 *  \return TAILVOLT_OK, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_system_input(const struct tailvolt_system *system, int index,
                                                                         char **path);

/** The same of a system that need not be complete: every recording, envelope and style that its text or a setting names, whatever else
 *  is wrong with it: in a section that is unknown too. What is to be written beside a refused system can be held against them.
 *  \param text   of the system file
 *  \param name   the file's name, which names in it are relative to
 *  \param index  from 0 up
 *  \param path   receives the path; free with tailvolt_system_text_free(). NULL after the last
 *  \return TAILVOLT_OK, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_system_named(const char *text, const char *name,
                                                                         const struct tailvolt_setting *settings, int setting_count,
                                                                         int index, char **path);

/** The key that names the same file, as a setting takes it: "programme club.recording"; empty for a style that is built in, and after
 *  the last.
 *  \param key  receives it, cut to `size` bytes
 *  \return the file as it is written there, in the system's memory; "" where the key is empty */
TAILVOLT_API const char *tailvolt_system_input_key(const struct tailvolt_system *system, int index, char *key, size_t size);

/** Frees a system and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_system_free(struct tailvolt_system *system);

#ifdef __cplusplus
}
#endif
#endif
