/* The system: every part of a vehicle's electrical system as plain data.
 *
 * Built by tailvolt_system_read() or filled in by a host program; never written during a run, so one system
 * may serve many runs and threads. SI units inside; each physical field has its unit as a suffix. NAN means
 * "not given" where a field says so. Points are numbered; point 0 is always `ground`.
 *
 * In brackets stands what a system file may give and, behind a semicolon, what is assumed where it does not. The reader refuses all else;
 * fields that a host program sets are not checked against it.
 *
 * A host that fills in a system itself leaves `stated` NULL, keeps its arrays for as long as the system is used, and frees them
 * itself. tailvolt_system_free() is for systems that the library made (read, parsed or copied): it frees the arrays and the struct with
 * free(). A host may use tailvolt_system_copy() on its own to get one of those. */
#ifndef TAILVOLT_SYSTEM_H
#define TAILVOLT_SYSTEM_H

#include <stddef.h>

#include "tailvolt/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define TAILVOLT_NAME_MAX 64  /**< bytes of a name, its zero byte included */
#define TAILVOLT_CURVE_MAX 16 /**< points of a curve at most */
#define TAILVOLT_BRANCH_MAX 4 /**< branches of a battery's polarization at most */
#define TAILVOLT_NOWHERE (-1) /**< a point that is not given */

/** What charges: an alternator with a fixed set point; one whose set point the engine computer moves; a hybrid's converter; nothing. */
enum tailvolt_charging { TAILVOLT_CHARGING_BELT, TAILVOLT_CHARGING_COMPUTER,
                         TAILVOLT_CHARGING_CONVERTER, TAILVOLT_CHARGING_NONE };
/** What the engine burns: decides how it is cranked. */
enum tailvolt_fuel { TAILVOLT_PETROL, TAILVOLT_DIESEL };
/** How a lamp's light follows its voltage. IF_HALOGEN: not known, judged as halogen and reported as such. */
enum tailvolt_lamp { TAILVOLT_LAMP_NONE, TAILVOLT_LAMP_HALOGEN, TAILVOLT_LAMP_LED, TAILVOLT_LAMP_IF_HALOGEN };

/** [vehicle] */
struct tailvolt_vehicle {
  char name[TAILVOLT_NAME_MAX];
  double ambient_c;       /**< outside air [-40 to 60; 25] */
  double engine_bay_c;    /**< under-bonnet air when warm [-40 to 130; 60] */
  enum tailvolt_charging charging;
  bool battery_sensor;    /**< a sensor on the negative post counts charge: grounds belong to the body */
  double base_load_a;     /**< clamp reading at idle [0 to 300]: constant current at the posts of the first battery while
                           *   the engine runs. When given it replaces the loads: they stay in the array, so
                           *   that a profile may still name them, with power_w = 0. NAN = use the loads */
  double key_off_a;       /**< draw of the parked and locked car [0 to 20; 0.03] */
  enum tailvolt_lamp headlamps; /**< at the starting battery's posts; IF_HALOGEN in a standard car without a
                                 *   [load] that is a lamp */
  double warming_s;       /**< under-bonnet air goes towards engine_bay_c with this time constant while the engine runs [10 s to
                           *   10 h]; 0 = 600 s */
};

/** [engine] */
struct tailvolt_engine {
  double displacement_l;  /**< litres, all cylinders [0.1 to 20; 1.6] */
  enum tailvolt_fuel fuel;
  double idle_rpm;        /**< [300 to 2000; 800] */
  double cranking_a;      /**< steady turning current at 25 C [10 to 2000; by size and fuel] */
  double breakaway_a;     /**< first 100 ms, at 25 C [10 to 6000; by size and fuel] */
  double cranking_s;      /**< how long it is cranked [0.1 to 30; 0.8] */
  bool simulate_starts;   /**< a start inside a profile is run with its currents; else it is left out */
  int starter_battery;    /**< index of the battery that starts the car and carries the base load */
  bool stop_and_start;    /**< rows of zero speed keep the running engine's targets */
  double start_needs_a, start_needs_s; /**< what a start takes where nothing is cranked (charging by converter:
                           *   30 A for 5 s, practice); NAN = the engine is cranked */
  double start_floor_v;   /**< lowest voltage at the posts while it does [6 to 13; 10.5]; NAN = the engine is cranked */
  int block;              /**< point of the engine block, the return of the starter's current */
};

/** A point of a curve; no call uses it. */
struct tailvolt_curve_point { double x; double y; };

/** Rotor speeds of the two currents that describe an alternator: rated at 6000 rpm (ISO 8854), low at 1800 rpm (common practice of
 * makers' data sheets). */
#define TAILVOLT_LOW_RPM 1800.0
#define TAILVOLT_RATED_RPM 6000.0

/** [alternator] */
struct tailvolt_alternator {
  bool present;
  int positive, negative; /**< points */
  int sense;              /**< point where the regulator measures, against `negative`; default `positive` */
  int output_count;       /**< label points, ascending speed; two at least unless fixed */
  double output_rpm[TAILVOLT_CURVE_MAX];  /**< rotor speed: the engine's times pulley_ratio */
  double output_a[TAILVOLT_CURVE_MAX];    /**< at that speed, full field, rated_v [0 to 500] */
  double rated_a;         /**< label current (6000 rpm) [10 to 500] */
  double pulley_ratio;    /**< turns of the rotor for one of the engine [1 to 5; 2.6] */
  double set_point_v;     /**< at 25 C [11 to 16; 14.2] */
  double drift_v_per_k;   /**< of the set point [-0.05 to 0.01; -0.01]; 0 with fixed output unless stated */
  double field_s;         /**< field time constant [0 to 5; 0.1]; 0 = follows at once */
  double ramp_a_per_s;    /**< fastest rise below 1000 rpm of the engine [0 to 10000; 0]; 0 = unlimited */
  double rated_v;         /**< voltage at which the label currents hold [12 to 15; 13.5] */
  double droop_ohm;       /**< fall of the set point with current [0 to 1; 0] */
  double fixed_output_a;  /**< an ideal source in place of the curve [1 to 1000]; NAN = use the curve */
  double set_point_low_v, set_point_high_v; /**< band of a set point that the engine computer moves; both are
                           *   set_point_v where it is fixed. With a band set_point_v is its low end, where
                           *   voltage is judged */
  double low_end_above_frac; /**< the low end is used only while charge is above this [0 to 1; 0.75] */
};

/** Charging by converter (hybrids): works whenever the car is ready. The same source also appears in
 *  tailvolt_alternator with a fixed output, so the network need not know two kinds. */
struct tailvolt_converter {
  bool present;
  double rated_a;         /**< most it gives [10 to 500] */
  double set_point_v;     /**< what it holds [11 to 16; 14] */
};

/** Where a battery or a cable is: decides the air around it and what is safe there. BED is a pick-up's load bed. */
enum tailvolt_place { TAILVOLT_CABIN, TAILVOLT_ENGINE_BAY, TAILVOLT_BOOT, TAILVOLT_BED };
/** Chemistry and make of a battery; lithium-iron is LiFePO4 with its own protection. */
enum tailvolt_battery_kind { TAILVOLT_FLOODED, TAILVOLT_EFB, TAILVOLT_AGM, TAILVOLT_GEL,
                             TAILVOLT_LITHIUM_IRON };
/** By which test the label's cold-cranking current holds, at -18 C each: EN 50342-1, SAE J537, DIN 43539-2 (old). */
enum tailvolt_cranking_standard { TAILVOLT_EN, TAILVOLT_SAE, TAILVOLT_DIN };

/** [battery] */
struct tailvolt_battery {
  char name[TAILVOLT_NAME_MAX];
  int positive, negative;       /**< points */
  enum tailvolt_battery_kind kind;
  double capacity_ah;           /**< 20 h label capacity [1 to 1000] */
  double reserve_min;           /**< minutes at 25 A [1 to 3000]; NAN = IEC 60095-1 relation */
  double cold_cranking_a;       /**< label [10 to 5000; by capacity and kind] */
  enum tailvolt_cranking_standard cold_cranking_standard;
  double soc_frac;              /**< charge at the start [0 to 1; 0.85]; NAN when rested_v is given */
  double rested_v;              /**< open-circuit voltage at the start [9 to 15]; NAN when soc_frac is given */
  double health_frac;           /**< charge left of the label's [0.05 to 1.2; 0.8] */
  double cranking_health_frac;  /**< cold cranking left of the label's [0.05 to 1.5; 1] */
  /* explicit circuit values; each overrides what the label implies */
  double resistance_ohm;        /**< [1e-5 to 1]; NAN = from the label */
  int polarization_count;       /**< branches, TAILVOLT_BRANCH_MAX at most; 0 = from the label */
  double polarization_ohm[TAILVOLT_BRANCH_MAX]; /**< [1e-6 to 1] */
  double polarization_s[TAILVOLT_BRANCH_MAX];   /**< time constant of each */
  int open_circuit_count;       /**< 0 = by kind; else points ascending in SOC */
  double open_circuit_frac[TAILVOLT_CURVE_MAX]; /**< charge */
  double open_circuit_v[TAILVOLT_CURVE_MAX];    /**< at that charge [8 to 16] */
  enum tailvolt_place place;    /**< the starting battery in the engine bay, others in the boot by default */
  bool vented;                  /**< its gas is vented outside */
  double empty_v;               /**< rested voltage when empty, 25 C, to which the kind's curve is stretched from its full end; NAN or 0 =
                                 *   the kind's own */
};

/** A strap is judged as a cable; a joint is any lug, clamp, block, screw terminal or sheet of metal. */
enum tailvolt_conductor_kind { TAILVOLT_CABLE, TAILVOLT_STRAP, TAILVOLT_JOINT, TAILVOLT_FUSE };
/** What a cable is made of: resistance at its size, and its course with temperature. */
enum tailvolt_material { TAILVOLT_COPPER, TAILVOLT_TINNED_COPPER, TAILVOLT_CLAD_ALUMINIUM,
                         TAILVOLT_ALUMINIUM };
/** How a cable is laid: how well its heat gets away. */
enum tailvolt_laid { TAILVOLT_FREE, TAILVOLT_SLEEVE, TAILVOLT_BUNDLED, TAILVOLT_CARPET };
/** Shape of a fuse: its standard ratings and its characteristic. */
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
  int from, to;                 /**< points */
  double resistance_ohm;        /**< at 20 C [joints and fuses: 1e-6 to 100]; fuses with their holder */
  double temperature_per_k;     /**< of resistance at 20 C; 0 for joints and fuses */
  /* cables and straps */
  double length_m;              /**< [0.01 to 100]; 0 for joints and fuses */
  double area_m2;               /**< electrically effective at 20 C: rho L / R [0.5 to 240 mm2]; 0 for joints and fuses */
  double outer_m;               /**< over the insulation */
  char size[32];                /**< as printed: "8 AWG", "25 mm2" */
  enum tailvolt_material material;
  double insulation_limit_c;    /**< what its insulation stands [50 to 260; 85] */
  enum tailvolt_laid laid;
  enum tailvolt_place place;
  /* fuses */
  enum tailvolt_fuse_kind fuse_kind;
  double rating_a;              /**< of a fuse [1 to 1000] */
  double distance_m;            /**< unfused cable between battery and fuse [0 to 20]; NAN = not given */
  double rated_v;               /**< of a fuse [1 to 1000]; NAN or 0 = not given */
  enum tailvolt_role role;
  int parallel;                 /**< equal runs in parallel: resistance_ohm and area_m2 are of all, outer_m of
                                 *   one; 0 counts as 1 */
  bool assumed;                 /**< not in the file: added by the standard car */
  bool size_chosen;             /**< the size, or the fuse's rating, was chosen, not given */
  double claimed_ohm;           /**< resistance of its claimed size, where measured drop, strands or
                                 *   resistance per metre are clearly higher; NAN = no contradiction */
};

/** [capacitor] */
struct tailvolt_capacitor {
  char name[TAILVOLT_NAME_MAX];
  int positive, negative;       /**< points */
  double capacitance_f;         /**< [1e-6 to 1e5] */
  double esr_ohm;               /**< [1e-5 to 10; 0.002] */
  double rated_v;               /**< most it stands [2 to 100]; NAN = not given */
};

/** What separates two batteries; a converter charges the one at `to` and carries no current back. */
enum tailvolt_isolator_kind { TAILVOLT_RELAY, TAILVOLT_DIODE, TAILVOLT_CONVERTER };

/** [isolator] */
struct tailvolt_isolator {
  char name[TAILVOLT_NAME_MAX];
  int from, to;                 /**< points */
  enum tailvolt_isolator_kind kind;
  double closes_above_v, opens_below_v; /**< [10 to 16; 13.3], [8 to 16; 12.8]; NAN: a relay that the engine switches, whatever the
                                 *   voltage */
  double close_delay_s, open_delay_s;   /**< how long it has been so before it switches [0 to 1 h; 2], [0 to 1 h; 10] */
  bool sense_either;            /**< relay, converter: senses at `from`, or at the higher of the two */
  bool by_engine;               /**< relay, converter: the ignition switches it, on while the engine runs (a hybrid: is ready) */
  double rating_a;              /**< most it carries [1 to 2000]; NAN = not given */
  double resistance_ohm;        /**< [1e-6 to 10; relay 0.001, diode 0.002] */
  double drop_v;                /**< diode [0 to 2; 0.4] */
  double output_a, output_v;    /**< converter: limit of its current [1 to 500], and what it holds */
  double efficiency_frac;       /**< converter [0.2 to 1; 0.9] */
};

/** How a load's current follows its voltage. */
enum tailvolt_behaviour { TAILVOLT_RESISTOR, TAILVOLT_CONSTANT_POWER, TAILVOLT_CONSTANT_CURRENT };

/** [load] */
struct tailvolt_load {
  char name[TAILVOLT_NAME_MAX];
  int positive, negative;       /**< points */
  double power_w;               /**< at rated_v [0 to 10000] */
  enum tailvolt_behaviour behaviour;
  double rated_v;               /**< [6 to 16; 13.5] */
  double duty_frac;             /**< share of the time it is on, for the budget [0 to 1; 1] */
  enum tailvolt_lamp lamp;
};

/** Output stage of an amplifier: how its efficiency falls at part load. */
enum tailvolt_topology { TAILVOLT_CLASS_AB, TAILVOLT_CLASS_D };

/** [amplifier] */
struct tailvolt_amplifier {
  char name[TAILVOLT_NAME_MAX];
  int positive, negative;       /**< points */
  double rated_w;               /**< continuous sine, all channels, at rated_v [1 to 30000] */
  double rated_v;               /**< [10 to 16; 14.4] */
  enum tailvolt_topology topology;
  bool regulated;               /**< the same power at any voltage; else it falls with the voltage's square */
  double efficiency_frac;       /**< at rated power and voltage, idle draw included [0.1 to 0.99; class D 0.8, class AB 0.6] */
  double idle_a;                /**< on, without music [0 to 50; class D 1, class AB 2] */
  double standby_a;             /**< switched off [0 to 10; 0] */
  double cut_out_v, cut_in_v;   /**< [0 to 14; 10], [0 to 15; 1 V above cut_out_v]; cut_out_v = 0: no comparator */
  double cut_out_delay_s, restart_delay_s; /**< [0 to 60; 0.02], [0 to 600; 1] */
  double fuses_a;               /**< sum of the onboard fuses [1 to 1000 each]; NAN = not given */
  double internal_f, internal_ohm; /**< storage seen from its terminals, and what lies before it [0 to 100; 0.2 F/kW], [1e-4 to 1;
                                 *   0.005] */
  int programme;                /**< index, or -1 = the profile's */
  double level_offset_db;       /**< added to the profile's level [-100 to 40; 0] */
  double target_v;              /**< own target, engine on and off [6 to 15]; NAN = [targets] */
  int supply_battery;           /**< index of the battery that `supply from` names for its feed, else -1 */
};

/** [meter]: any two points to be watched. */
struct tailvolt_meter {
  char name[TAILVOLT_NAME_MAX];
  int positive, negative;       /**< points of red and black */
};

/** [programme]: what is played. */
struct tailvolt_programme {
  char name[TAILVOLT_NAME_MAX];
  double crest_db;              /**< peak over mean [0.01 to 30; 10] */
  double tempo_per_min;         /**< beats a minute [1 to 1000; 120] */
  double decay_s;               /**< of power, e-fold [0.001 to 1000; 0.12] */
  double bass_hz;               /**< note of the bass, whose ripple the supply sees [0 to 500; 45]; 0 = envelope only */
  unsigned long seed;           /**< of generated music [0 to 4294967295; 1] */
  char recording[TAILVOLT_TEXT_MAX]; /**< path or empty */
  char envelope[TAILVOLT_TEXT_MAX];  /**< path of an envelope CSV or empty */
  char style[TAILVOLT_TEXT_MAX];     /**< name of a style, or path of a style file, or empty; any NAN value above
                                      *   is then the style's */
  double below_hz;              /**< crossover for a recording: only what lies below [10 to 20000]; 0 = all */
  double above_hz;              /**< only what lies above [10 to 20000]; 0 = all */
  double phrases_frac;          /**< slow level of generated music: standard deviation of one-second mean power over
                                 *   the overall mean [0 to 3; 0.9]; 0 = beats alone */
  double sections_frac;         /**< share of that swing still in ten-second means [0 to 1; 0.7] */
};

/** [targets] */
struct tailvolt_targets {
  double voltage_v;             /**< at every amplifier while the engine runs [6 to 15; 12] */
  double voltage_parked_v;      /**< engine off [6 to 15; 11] */
  double missed_frac;           /**< of the time that it plays [0 to 1; 0.01] */
  double parked_s;              /**< wanted playing time [1 min to 1000 h]; NAN = none */
  double idle_endurance_s;      /**< at idle to half charge [1 min to 1000 h; 4 h] */
  double idle_frac;             /**< share of the driving time spent at idle [0 to 1; 0.4] */
};

/** The file's [tolerance] section: how far cars like the one described differ from it, as half widths of ranges with every value
 *  equally likely, each replacing the range in tailvolt_uncertainty_of(); NAN = not given. Shares of charge, health and efficiency
 *  are in points (0.1 = from 75 to 95 % about 85 %), others in shares of the value. */
struct tailvolt_tolerance {
  double health_frac;           /**< points of battery health */
  double soc_frac;              /**< points of charge at the start */
  double temperature_k;         /**< of the outside air */
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

/** All of it; each array has its count before it. */
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
 *  \param out       receives the system; free with tailvolt_system_free(). Recordings, envelopes and styles that it names are
 *                   read by each run, or by tailvolt_check()
 *  \param faults    filled with everything wrong; its count is 0 on success
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NOT_READABLE, TAILVOLT_NO_MEMORY */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status
tailvolt_system_read(const char *path, const struct tailvolt_setting *settings, int setting_count,
                     struct tailvolt_system **out, struct tailvolt_faults *faults);

/** The same from text in memory; faults use `name` as the file's name, and files that it names are found from that name's folder.
 *  \return TAILVOLT_OK, TAILVOLT_BAD_INPUT, TAILVOLT_NO_MEMORY */
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
/** Frees a text; NULL is fine. */
TAILVOLT_API void tailvolt_system_text_free(char *text);

/** Sets one value of a system that was read or parsed, as `--set "KEY = VALUE"` would: every default is derived
 *  again, and the result is that of reading the file again with this setting last.
 *  \param key    "section.key": "cable feed.size"
 *  \param value  with its unit: "4 AWG"
 *  \return TAILVOLT_OK; TAILVOLT_BAD_INPUT, TAILVOLT_NO_MEMORY with the system unchanged. A profile read for the
 *          system stays valid as long as no load, amplifier or programme is added. */
TAILVOLT_API TAILVOLT_CHECKED enum tailvolt_status tailvolt_system_set(struct tailvolt_system *system,
                                                                       const char *key, const char *value);

/** The same for several settings at once, with everything that is wrong in `faults`. Statuses as above; a system that a host filled
 *  in is TAILVOLT_BAD_INPUT. */
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

/** Frees a system that the library made, and all it owns; NULL is fine. */
TAILVOLT_API void tailvolt_system_free(struct tailvolt_system *system);

#ifdef __cplusplus
}
#endif
#endif
