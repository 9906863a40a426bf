/* The two reference files field by field, and the list of what they leave assumed. */
#include "tailvolt/system.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"
#include "support/systems.h"

static struct tailvolt_faults faults;

static struct tailvolt_system *must_read(const char *name) {
  char path[512];
  snprintf(path, sizeof path, "%s/examples/reference/%s", TAILVOLT_SOURCE_DIR, name);
  struct tailvolt_system *system = NULL;
  enum tailvolt_status status = tailvolt_system_read(path, NULL, 0, &system, &faults);
  if (status != TAILVOLT_OK) fail_msg("%s: %s", name, faults.count > 0 ? faults.fault[0].message : "?");
  return system;
}

struct assumed {
  const char *key, *value;
};

static void check_ends(const struct tailvolt_system *s, const char *name, const char *from, const char *to) {
  const struct tailvolt_conductor *c = conductor_of(s, name);
  assert_string_equal(s->point_names[c->from], from);
  assert_string_equal(s->point_names[c->to], to);
}

/* Every value the ten lines leave open, as a setting would write it. */
static const struct assumed ten_line_assumptions[] = {
    {"vehicle.charging", "belt"},
    {"vehicle.base load", "35 A"},
    {"vehicle.headlamps", "if halogen"},
    {"vehicle.ambient", "25 C"},
    {"vehicle.engine bay", "60 C"},
    {"vehicle.key-off draw", "30 mA"},
    {"engine.size", "1.6 L petrol"},
    {"engine.cranking current", "150 A"},
    {"engine.breakaway current", "450 A"},
    {"engine.idle speed", "800 rpm"},
    {"engine.cranking time", "0.8 s"},
    {"alternator.set point drift", "-10 mV/K"},
    {"alternator.low current", "55 A"},
    {"alternator.pulley ratio", "2.6"},
    {"alternator.set point", "14.2 V"},
    {"alternator.field time constant", "100 ms"},
    {"alternator.ramp", "0 A/s"},
    {"alternator.rated voltage", "13.5 V"},
    {"battery.place", "engine bay"},
    {"battery.kind", "flooded"},
    {"battery.cold cranking", "630 A EN"},
    {"battery.reserve", "117.7 min"},
    {"battery.state of charge", "85 %"},
    {"battery.health", "80 %"},
    {"battery.cranking health", "100 %"},
    {"amplifier bass.rated voltage", "14.4 V"},
    {"amplifier bass.topology", "d"},
    {"amplifier bass.efficiency", "80 %"},
    {"amplifier bass.idle current", "1 A"},
    {"amplifier bass.cut-out voltage", "10 V"},
    {"amplifier bass.cut-in voltage", "11 V"},
    {"amplifier bass.internal capacitance", "0.16 F"},
    {"amplifier bass.supply", "unregulated"},
    {"amplifier bass.internal resistance", "5 mohm"},
    {"amplifier bass.level offset", "0 dB"},
    {"fuse main.distance", "30 cm"},
    {"fuse main.rating", "60 A"},
    {"fuse main.kind", "bolt-down"},
    {"cable charge lead.size", "25 mm2"},
    {"cable charge lead.length", "1 m"},
    {"cable charge lead.place", "engine bay"},
    {"cable negative lead.size", "25 mm2"},
    {"cable negative lead.length", "1 m"},
    {"cable ground lead.length", "1 m"},
    {"cable ground lead.size", "8 AWG"},
    {"cable charge lead.material", "copper"},
    {"cable charge lead.insulation", "85 C"},
    {"cable charge lead.laid", "free"},
    {"cable negative lead.material", "copper"},
    {"cable negative lead.insulation", "85 C"},
    {"cable negative lead.laid", "free"},
    {"cable negative lead.place", "cabin"},
    {"cable feed.material", "copper"},
    {"cable feed.insulation", "85 C"},
    {"cable feed.laid", "free"},
    {"cable feed.place", "cabin"},
    {"cable ground lead.material", "copper"},
    {"cable ground lead.insulation", "85 C"},
    {"cable ground lead.laid", "free"},
    {"cable ground lead.place", "cabin"},
    {"strap engine.size", "25 mm2"},
    {"strap engine.length", "0.5 m"},
    {"strap engine.place", "engine bay"},
    {"strap engine.material", "copper"},
    {"strap engine.insulation", "85 C"},
    {"strap engine.laid", "free"},
    {"joint charge lead at alternator.resistance", "0.3 mohm"},
    {"joint charge lead at battery.resistance", "0.3 mohm"},
    {"joint body stud.resistance", "0.3 mohm"},
    {"joint body shell.resistance", "1 mohm"},
    {"joint negative lead at body.resistance", "0.3 mohm"},
    {"joint negative lead at battery.resistance", "0.3 mohm"},
    {"joint strap at engine.resistance", "0.3 mohm"},
    {"joint strap at body.resistance", "0.3 mohm"},
    {"joint feed at battery.resistance", "0.3 mohm"},
    {"joint feed at amplifier.resistance", "0.3 mohm"},
    {"joint ground lead at amplifier.resistance", "0.3 mohm"},
    {"programme music.crest factor", "10 dB"},
    {"programme music.tempo", "120 /min"},
    {"programme music.decay", "120 ms"},
    {"programme music.bass note", "45 Hz"},
    {"programme music.phrases", "90 %"},
    {"targets.voltage", "12.0 V"},
    {"targets.voltage parked", "11.0 V"},
    {"targets.missed at most", "1 %"},
    {"targets.endurance at idle", "4 h"},
    {"targets.idle share", "40 %"}};
enum { TEN_LINE_ASSUMPTIONS = sizeof ten_line_assumptions / sizeof ten_line_assumptions[0] };

static void ten_line_assumed(void **state) {
  (void)state;
  struct tailvolt_system *s = must_read("ten-line.ini");
  for (int k = 0; k < s->assumption_count && k < TEN_LINE_ASSUMPTIONS; k++) {
    assert_string_equal(s->assumptions[k].key, ten_line_assumptions[k].key);
    assert_string_equal(s->assumptions[k].shown, ten_line_assumptions[k].value);
  }
  assert_int_equal(s->assumption_count, TEN_LINE_ASSUMPTIONS);
  tailvolt_system_free(s);
}

/* Giving every assumed value back as a setting leaves nothing assumed and the same system. */
static void assumptions_are_settings(void **state) {
  (void)state;
  static char texts[TEN_LINE_ASSUMPTIONS][200];
  struct tailvolt_setting settings[TEN_LINE_ASSUMPTIONS];
  struct tailvolt_system *s = must_read("ten-line.ini"), *t = NULL;
  for (int k = 0; k < TEN_LINE_ASSUMPTIONS; k++) {
    snprintf(texts[k], sizeof texts[k], "%s = %s", s->assumptions[k].key, s->assumptions[k].value);
    settings[k].text = texts[k];
  }
  enum tailvolt_status status = tailvolt_system_read(TAILVOLT_SOURCE_DIR "/examples/reference/ten-line.ini",
                                                     settings, TEN_LINE_ASSUMPTIONS, &t, &faults);
  if (status != TAILVOLT_OK) fail_msg("%s", faults.fault[0].message);
  assert_int_equal(t->assumption_count, 0);
  assert_true(t->standard_car);
  assert_int_equal(t->conductor_count, s->conductor_count);
  for (int k = 0; k < s->conductor_count; k++) {
    const struct tailvolt_conductor *c = conductor_of(t, s->conductors[k].name);
    assert_true(c->resistance_ohm == s->conductors[k].resistance_ohm);
    assert_string_equal(t->point_names[c->from], s->point_names[s->conductors[k].from]);
    assert_string_equal(t->point_names[c->to], s->point_names[s->conductors[k].to]);
  }
  assert_memory_equal(&t->engine, &s->engine, sizeof s->engine);
  assert_memory_equal(&t->amplifiers[0].rated_w, &s->amplifiers[0].rated_w, sizeof(double));
  assert_true(t->alternator.output_a[0] == s->alternator.output_a[0]);
  assert_true(t->batteries[0].reserve_min == s->batteries[0].reserve_min);
  tailvolt_system_free(s);
  tailvolt_system_free(t);
}

static void ten_line_wiring(void **state) {
  (void)state;
  struct tailvolt_system *s = must_read("ten-line.ini");
  assert_true(s->standard_car);
  assert_string_equal(s->point_names[0], "ground");
  assert_int_equal(s->conductor_count, 17);
  check_ends(s, "charge lead at alternator", "alternator post", "charge lead start");
  check_ends(s, "charge lead", "charge lead start", "charge lead end");
  check_ends(s, "charge lead at battery", "charge lead end", "battery post");
  check_ends(s, "feed at battery", "battery post", "fuse in");
  check_ends(s, "main", "fuse in", "fused feed");
  check_ends(s, "feed", "fused feed", "feed end");
  check_ends(s, "feed at amplifier", "feed end", "amplifier plus");
  check_ends(s, "ground lead at amplifier", "amplifier minus", "ground lead start");
  check_ends(s, "ground lead", "ground lead start", "body stud");
  check_ends(s, "body stud", "body stud", "body shell rear");
  check_ends(s, "body shell", "body shell rear", "body");
  check_ends(s, "negative lead at body", "body", "negative lead start");
  check_ends(s, "negative lead", "negative lead start", "negative lead end");
  check_ends(s, "negative lead at battery", "negative lead end", "ground");
  check_ends(s, "strap at engine", "engine block", "strap start");
  check_ends(s, "engine", "strap start", "strap end");
  check_ends(s, "strap at body", "strap end", "body");
  assert_int_equal(s->batteries[0].positive, point_of(s, "battery post"));
  assert_int_equal(s->batteries[0].negative, 0);
  assert_int_equal(s->alternator.positive, point_of(s, "alternator post"));
  assert_int_equal(s->alternator.sense, s->alternator.positive);
  assert_int_equal(s->alternator.negative, point_of(s, "engine block"));
  assert_int_equal(s->amplifiers[0].positive, point_of(s, "amplifier plus"));
  assert_int_equal(s->amplifiers[0].negative, point_of(s, "amplifier minus"));
  /* 8 AWG: ASTM B258 area with 2 % for stranding, copper of IEC 60028 at 20 C (values from memory) */
  assert_near_rel(conductor_of(s, "feed")->resistance_ohm, 5.5 * 2.1022e-3, 2e-4);
  assert_near_rel(conductor_of(s, "ground lead")->resistance_ohm, 2.1022e-3, 2e-4);
  /* ISO 6722: 25 mm2 has 0.743 mohm/m at most */
  assert_near_rel(conductor_of(s, "charge lead")->resistance_ohm, 0.743e-3, 1e-12);
  assert_near_rel(conductor_of(s, "engine")->resistance_ohm, 0.3715e-3, 1e-12);
  assert_near_rel(conductor_of(s, "body shell")->resistance_ohm, 1e-3, 1e-12);
  assert_near_rel(conductor_of(s, "body stud")->resistance_ohm, 0.3e-3, 1e-12);
  assert_near_rel(conductor_of(s, "main")->resistance_ohm, 0.1 / 60.0, 1e-12);
  assert_near(conductor_of(s, "main")->distance_m, 0.30, 1e-15);
  assert_near(s->vehicle.base_load_a, 35.0, 0.0);
  /* IEC 60095-1: 0.7732 C20^1.1828 (value from memory) */
  assert_near(s->batteries[0].reserve_min, 0.7732 * pow(70.0, 1.1828), 1e-9);
  tailvolt_system_free(s);
}

static void all_of_it_sources(const struct tailvolt_system *s) {
  assert_string_equal(s->vehicle.name, "Puppet theatre van");
  assert_near(s->vehicle.ambient_c, 25.0, 0.0);
  assert_near(s->vehicle.engine_bay_c, 60.0, 0.0);
  assert_int_equal(s->vehicle.charging, TAILVOLT_CHARGING_BELT);
  assert_false(s->vehicle.battery_sensor);
  assert_near(s->vehicle.base_load_a, 28.0, 0.0);
  assert_near(s->engine.displacement_l, 1.6, 0.0);
  assert_int_equal(s->engine.fuel, TAILVOLT_PETROL);
  assert_near(s->engine.idle_rpm, 800.0, 0.0);
  assert_near(s->engine.cranking_a, 180.0, 0.0);
  assert_near(s->engine.breakaway_a, 520.0, 0.0);
  assert_near(s->engine.cranking_s, 0.8, 0.0);
  assert_false(s->engine.simulate_starts);
  const struct tailvolt_alternator *a = &s->alternator;
  assert_true(a->present);
  assert_string_equal(s->point_names[a->positive], "alternator post");
  assert_string_equal(s->point_names[a->negative], "engine block");
  assert_int_equal(a->sense, a->positive);
  assert_int_equal(a->output_count, 2);
  assert_near(a->output_rpm[0], 1800.0, 0.0);
  assert_near(a->output_a[0], 52.0, 0.0);
  assert_near(a->output_rpm[1], 6000.0, 0.0);
  assert_near(a->output_a[1], 110.0, 0.0);
  assert_near(a->rated_a, 110.0, 0.0);
  assert_near(a->pulley_ratio, 2.6, 0.0);
  assert_near(a->set_point_v, 14.3, 0.0);
  assert_near(a->drift_v_per_k, -0.010, 1e-17);
  assert_near(a->field_s, 0.1, 0.0);
  assert_near(a->ramp_a_per_s, 0.0, 0.0);
  assert_near(a->rated_v, 13.5, 0.0);
  assert_near(a->droop_ohm, 0.0, 0.0);
  assert_true(isnan(a->fixed_output_a));
  assert_int_equal(s->battery_count, 2);
  const struct tailvolt_battery *b = &s->batteries[0];
  assert_string_equal(b->name, "starter");
  assert_string_equal(s->point_names[b->positive], "battery post");
  assert_int_equal(b->negative, 0);
  assert_int_equal(b->kind, TAILVOLT_FLOODED);
  assert_near(b->capacity_ah, 70.0, 0.0);
  assert_near(b->reserve_min, 115.0, 0.0);
  assert_near(b->cold_cranking_a, 640.0, 0.0);
  assert_int_equal(b->cold_cranking_standard, TAILVOLT_EN);
  assert_near(b->soc_frac, 0.9, 0.0);
  assert_true(isnan(b->rested_v) && isnan(b->resistance_ohm));
  assert_near(b->health_frac, 1.0, 0.0);
  assert_near(b->cranking_health_frac, 1.0, 0.0);
  assert_int_equal(b->polarization_count, 0);
  assert_int_equal(b->open_circuit_count, 0);
  b = &s->batteries[1];
  assert_string_equal(b->name, "second");
  assert_string_equal(s->point_names[b->positive], "second plus");
  assert_string_equal(s->point_names[b->negative], "body stud");
  assert_int_equal(b->kind, TAILVOLT_AGM);
  assert_near(b->capacity_ah, 60.0, 0.0);
  assert_near(b->cold_cranking_a, 540.0, 0.0);
}

static void all_of_it_wiring(const struct tailvolt_system *s) {
  assert_false(s->standard_car);
  assert_int_equal(s->conductor_count, 8);
  check_ends(s, "charge lead", "alternator post", "battery post");
  check_ends(s, "engine", "engine block", "body");
  check_ends(s, "negative lead", "body", "ground");
  check_ends(s, "main", "battery post", "fused feed");
  check_ends(s, "amplifier feed", "fused feed", "amplifier plus");
  check_ends(s, "amplifier ground", "amplifier minus", "body stud");
  check_ends(s, "body stud", "body stud", "body shell rear");
  check_ends(s, "body shell", "body shell rear", "body");
  const struct tailvolt_conductor *c = conductor_of(s, "charge lead");
  assert_int_equal(c->kind, TAILVOLT_CABLE);
  assert_near(c->length_m, 1.2, 0.0);
  assert_near_rel(c->resistance_ohm, 1.2 * 0.743e-3, 1e-12);
  assert_near_rel(c->area_m2, 17.241e-9 / 0.743e-3, 1e-6);
  assert_near_rel(c->temperature_per_k, 0.00393, 1e-12);
  assert_string_equal(c->size, "25 mm2");
  assert_int_equal(c->material, TAILVOLT_COPPER);
  assert_near(c->insulation_limit_c, 105.0, 0.0);
  assert_int_equal(c->laid, TAILVOLT_FREE);
  assert_int_equal(c->place, TAILVOLT_CABIN);
  assert_int_equal(conductor_of(s, "engine")->kind, TAILVOLT_STRAP);
  assert_near(conductor_of(s, "engine")->insulation_limit_c, 85.0, 0.0);
  c = conductor_of(s, "main");
  assert_int_equal(c->kind, TAILVOLT_FUSE);
  assert_int_equal(c->fuse_kind, TAILVOLT_BOLT_DOWN);
  assert_near(c->rating_a, 80.0, 0.0);
  assert_near(c->distance_m, 0.3, 0.0);
  assert_near_rel(c->resistance_ohm, 1.25e-3, 1e-12);
  assert_near(c->temperature_per_k, 0.0, 0.0);
  assert_true(isnan(c->insulation_limit_c));
  c = conductor_of(s, "amplifier feed");
  assert_string_equal(c->size, "8 AWG");
  assert_true(isnan(c->distance_m));
  c = conductor_of(s, "body shell");
  assert_int_equal(c->kind, TAILVOLT_JOINT);
  assert_near_rel(c->resistance_ohm, 0.7e-3, 1e-12);
  assert_near(c->area_m2, 0.0, 0.0);
}

static void all_of_it_amplifier(const struct tailvolt_system *s) {
  const struct tailvolt_amplifier *a = &s->amplifiers[0];
  assert_int_equal(s->amplifier_count, 1);
  assert_string_equal(a->name, "bass");
  assert_string_equal(s->point_names[a->positive], "amplifier plus");
  assert_string_equal(s->point_names[a->negative], "amplifier minus");
  assert_near(a->rated_w, 800.0, 0.0);
  assert_near(a->rated_v, 14.4, 0.0);
  assert_int_equal(a->topology, TAILVOLT_CLASS_D);
  assert_true(a->regulated);
  assert_near(a->efficiency_frac, 0.82, 0.0);
  assert_near(a->idle_a, 1.2, 0.0);
  assert_near(a->standby_a, 0.0, 0.0);
  assert_near(a->cut_out_v, 10.0, 0.0);
  assert_near(a->cut_in_v, 11.0, 0.0);
  assert_near(a->cut_out_delay_s, 0.020, 0.0);
  assert_near(a->restart_delay_s, 1.0, 0.0);
  assert_near(a->fuses_a, 80.0, 0.0);
  assert_near(a->internal_f, 0.16, 0.0);
  assert_near(a->internal_ohm, 0.005, 0.0);
  assert_int_equal(a->programme, -1);
  assert_near(a->level_offset_db, 0.0, 0.0);
  assert_true(isnan(a->target_v));
}

static void all_of_it_rest(const struct tailvolt_system *s) {
  assert_int_equal(s->load_count, 1);
  const struct tailvolt_load *l = &s->loads[0];
  assert_string_equal(l->name, "lights");
  assert_string_equal(s->point_names[l->positive], "battery post");
  assert_string_equal(s->point_names[l->negative], "body");
  assert_near(l->power_w, 0.0, 0.0); /* `base load` replaces it */
  assert_near(l->rated_v, 13.5, 0.0);
  assert_int_equal(l->behaviour, TAILVOLT_RESISTOR);
  assert_near(l->duty_frac, 1.0, 0.0);
  assert_int_equal(s->meter_count, 1);
  assert_string_equal(s->meters[0].name, "at the amplifier");
  assert_string_equal(s->point_names[s->meters[0].positive], "amplifier plus");
  assert_string_equal(s->point_names[s->meters[0].negative], "amplifier minus");
  assert_int_equal(s->capacitor_count, 1);
  assert_string_equal(s->capacitors[0].name, "stiffener");
  assert_near(s->capacitors[0].capacitance_f, 1.0, 0.0);
  assert_near(s->capacitors[0].esr_ohm, 0.002, 0.0);
  assert_true(isnan(s->capacitors[0].rated_v));
  assert_int_equal(s->isolator_count, 1);
  const struct tailvolt_isolator *i = &s->isolators[0];
  assert_string_equal(i->name, "split charge");
  assert_string_equal(s->point_names[i->from], "battery post");
  assert_string_equal(s->point_names[i->to], "second plus");
  assert_int_equal(i->kind, TAILVOLT_RELAY);
  assert_near(i->closes_above_v, 13.3, 0.0);
  assert_near(i->opens_below_v, 12.8, 0.0);
  assert_near(i->close_delay_s, 5.0, 0.0);
  assert_near(i->open_delay_s, 10.0, 0.0);
  assert_false(i->sense_either || i->by_engine);
  assert_near(i->rating_a, 140.0, 0.0);
  assert_near(i->resistance_ohm, 0.001, 0.0);
  assert_int_equal(s->programme_count, 1);
  const struct tailvolt_programme *p = &s->programmes[0];
  assert_string_equal(p->name, "club");
  assert_near(p->crest_db, 9.0, 0.0);
  assert_near(p->tempo_per_min, 120.0, 0.0);
  assert_near(p->decay_s, 0.12, 0.0);
  assert_near(p->bass_hz, 45.0, 0.0);
  assert_int_equal(p->seed, 1);
  assert_string_equal(p->recording, "");
  assert_string_equal(p->envelope, "");
  assert_near(s->targets.voltage_v, 12.0, 0.0);
  assert_near(s->targets.voltage_parked_v, 11.0, 0.0);
  assert_near(s->targets.missed_frac, 0.01, 0.0);
  assert_near(s->targets.parked_s, 7200.0, 0.0);
}

static void all_of_it_assumed(const struct tailvolt_system *s) {
  static const struct assumed wanted[] = {{"vehicle.key-off draw", "30 mA"},
                                                      {"battery starter.place", "engine bay"},
                                                      {"battery second.place", "boot"},
                                                      {"battery second.cold cranking", "540 A EN"},
                                                      {"battery second.reserve", "111.2 min"},
                                                      {"battery second.state of charge", "85 %"},
                                                      {"battery second.health", "80 %"},
                                                      {"battery second.cranking health", "100 %"},
                                                      {"amplifier bass.level offset", "0 dB"},
                                                      {"cable charge lead.place", "cabin"},
                                                      {"cable negative lead.material", "copper"},
                                                      {"cable negative lead.insulation", "85 C"},
                                                      {"cable negative lead.laid", "free"},
                                                      {"cable negative lead.place", "cabin"},
                                                      {"cable amplifier feed.material", "copper"},
                                                      {"cable amplifier feed.insulation", "85 C"},
                                                      {"cable amplifier feed.laid", "free"},
                                                      {"cable amplifier feed.place", "cabin"},
                                                      {"cable amplifier ground.material", "copper"},
                                                      {"cable amplifier ground.insulation", "85 C"},
                                                      {"cable amplifier ground.laid", "free"},
                                                      {"cable amplifier ground.place", "cabin"},
                                                      {"strap engine.material", "copper"},
                                                      {"strap engine.insulation", "85 C"},
                                                      {"strap engine.laid", "free"},
                                                      {"strap engine.place", "cabin"},
                                                      {"isolator split charge.opening delay", "10 s"},
                                                      {"isolator split charge.resistance", "1 mohm"},
                                                      {"programme club.phrases", "90 %"},
                                                      {"targets.endurance at idle", "4 h"},
                                                      {"targets.idle share", "40 %"}};
  int count = sizeof wanted / sizeof wanted[0];
  for (int k = 0; k < s->assumption_count && k < count; k++) {
    assert_string_equal(s->assumptions[k].key, wanted[k].key);
    assert_string_equal(s->assumptions[k].shown, wanted[k].value);
  }
  assert_int_equal(s->assumption_count, count);
}

static void all_of_it(void **state) {
  (void)state;
  struct tailvolt_system *s = must_read("all-of-it.ini");
  assert_int_equal(s->point_count, 11);
  all_of_it_sources(s);
  all_of_it_wiring(s);
  all_of_it_amplifier(s);
  all_of_it_rest(s);
  all_of_it_assumed(s);
  tailvolt_system_free(s);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(ten_line_assumed),
                                     cmocka_unit_test(assumptions_are_settings),
                                     cmocka_unit_test(ten_line_wiring), cmocka_unit_test(all_of_it)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
