/* `--set`: what it overrides, what it creates, and how it fails. */
#include "input/system_edit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"

static struct tailvolt_faults faults;

#define TEN                                                                                                  \
  "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\n"                     \
  "rated power = 800 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n"

enum { SETTINGS_MAX = 8 };

static enum tailvolt_status parse(const char *text, const char *const *sets, struct tailvolt_system **out) {
  struct tailvolt_setting settings[SETTINGS_MAX];
  int count = 0;
  for (; count < SETTINGS_MAX && sets[count] != NULL; count++) settings[count].text = sets[count];
  return tailvolt_system_parse(text, "job.ini", settings, count, out, &faults);
}

#define MUST(text, ...) must(text, (const char *const[SETTINGS_MAX + 1]){__VA_ARGS__, NULL})

static struct tailvolt_system *must(const char *text, const char *const *sets) {
  struct tailvolt_system *system = NULL;
  if (parse(text, sets, &system) != TAILVOLT_OK)
    fail_msg("%s: %s", faults.fault[0].key, faults.fault[0].message);
  return system;
}

static const struct tailvolt_conductor *conductor(const struct tailvolt_system *s, const char *name) {
  for (int k = 0; k < s->conductor_count; k++)
    if (strcmp(s->conductors[k].name, name) == 0) return &s->conductors[k];
  fail_msg("no conductor '%s'", name);
  return NULL;
}

static void overrides(void **state) {
  (void)state;
  struct tailvolt_system *s =
      MUST(TEN, "cable feed.size = 4 AWG", "vehicle.ambient = 5 C", "battery.health=60%",
           "amplifier bass.rated power = 1 kW", "amplifier bass.power at 12.5 V = 990 W",
           "cable charge lead.length = 2 m", "vehicle.ambient = 6 C");
  assert_string_equal(conductor(s, "feed")->size, "4 AWG");
  assert_string_equal(conductor(s, "ground lead")->size, "4 AWG");
  assert_near(conductor(s, "charge lead")->length_m, 2.0, 0.0);
  assert_near(s->vehicle.ambient_c, 6.0, 0.0);
  assert_near(s->batteries[0].health_frac, 0.6, 0.0);
  assert_near(s->amplifiers[0].rated_w, 1000.0, 0.0);
  assert_true(s->amplifiers[0].regulated);
  assert_true(s->standard_car);
  for (int k = 0; k < s->assumption_count; k++) {
    assert_string_not_equal(s->assumptions[k].key, "vehicle.ambient");
    assert_string_not_equal(s->assumptions[k].key, "cable charge lead.length");
  }
  tailvolt_system_free(s);
}

/* A section's only part may be named by its kind alone. */
static const char *assumed(const struct tailvolt_system *s, const char *key) {
  for (int k = 0; k < s->assumption_count; k++)
    if (strcmp(s->assumptions[k].key, key) == 0) return s->assumptions[k].value;
  return "";
}

/* A converter closes half a volt above where it opens, as a relay does, wherever that is; a relay's two voltages stand for themselves. */
static void a_converter_keeps_its_gap(void **state) {
  (void)state;
  static const char two[] = TEN "[battery second]\ncapacity = 60 Ah\n[cable second feed]\nsize = 4 AWG\nlength = 5 m\n[isolator]\n"
                                "kind = converter\noutput = 30 A at 14.4 V\n";
  static const struct {
    const char *opens;
    double closes_v;
    const char *shown;
  } row[] = {{"isolator.delay = 2 s", 13.3, "13.3 V"},        {"isolator.opens below = 12.2 V", 12.7, "12.7 V"},
             {"isolator.opens below = 8 V", 10, "10 V"},      {"isolator.opens below = 15.8 V", 16, "16 V"},
             {"isolator.closes above = 13 V", 13, ""}};
  for (size_t k = 0; k < sizeof row / sizeof *row; k++) {
    struct tailvolt_system *s = MUST(two, row[k].opens);
    const struct tailvolt_isolator *i = &s->isolators[0];
    assert_near(i->closes_above_v, row[k].closes_v, 1e-12);
    assert_string_equal(assumed(s, "isolator.closes above"), row[k].shown);
    assert_near(i->close_delay_s, 2, 0);
    assert_near(i->open_delay_s, 10, 0);
    tailvolt_system_free(s);
  }
  struct tailvolt_system *s = MUST(two, "isolator.kind = relay", "isolator.opens below = 12.2 V");
  assert_near(s->isolators[0].closes_above_v, 13.3, 0);
  /* set afterwards it follows too */
  assert_int_equal(tailvolt_system_set(s, "isolator.kind", "converter"), TAILVOLT_OK);
  assert_near(s->isolators[0].closes_above_v, 12.7, 1e-12);
  tailvolt_system_free(s);
}

static void short_names(void **state) {
  (void)state;
  struct tailvolt_system *s =
      MUST(TEN, "amplifier.rated power = 500 W", "cable.length = 4 m", "programme.tempo = 100 bpm");
  assert_near(s->amplifiers[0].rated_w, 500.0, 0.0);
  assert_near(conductor(s, "feed")->length_m, 4.0, 0.0);
  assert_near(s->programmes[0].tempo_per_min, 100.0, 0.0);
  tailvolt_system_free(s);
}

static void creates(void **state) {
  (void)state;
  struct tailvolt_system *s =
      MUST(TEN, "capacitor stiffener.capacitance = 1 F", "battery second.positive = second plus",
           "battery second.capacity = 60 Ah", "isolator split.from = battery post",
           "isolator split.to = second plus", "meter at the amplifier.positive = amplifier plus",
           "meter at the amplifier.negative = ground");
  assert_true(s->standard_car);
  assert_int_equal(s->capacitor_count, 1);
  assert_string_equal(s->point_names[s->capacitors[0].positive], "amplifier plus");
  assert_string_equal(s->point_names[s->capacitors[0].negative], "amplifier minus");
  assert_int_equal(s->battery_count, 2);
  assert_int_equal(s->isolators[0].to, s->batteries[1].positive);
  assert_int_equal(s->meters[0].negative, 0);
  tailvolt_system_free(s);
  s = NULL;
  const char *const sets[] = {"capacitor stiffener.capacitance = 1 F", NULL};
  struct tailvolt_setting setting = {sets[0]};
  enum tailvolt_status status =
      tailvolt_system_read(TAILVOLT_SOURCE_DIR "/examples/reference/all-of-it.ini", &setting, 1, &s, &faults);
  assert_int_equal(status, TAILVOLT_OK);
  assert_int_equal(s->capacitor_count, 1);
  tailvolt_system_free(s);
}

/* In a file with points of its own a new capacitor goes to the amplifier too. */
static void creates_in_a_drawn_file(void **state) {
  (void)state;
  struct tailvolt_system *s =
      MUST("[battery]\npositive = post\ncapacity = 70 Ah\n[amplifier a]\npositive = plus\nnegative = ground\n"
           "rated power = 100 W\n[joint j]\nfrom = post\nto = plus\nresistance = 5 mohm\n",
           "capacitor c.capacitance = 1 F", "joint j.resistance = 6 mohm");
  assert_string_equal(s->point_names[s->capacitors[0].positive], "plus");
  assert_int_equal(s->capacitors[0].negative, 0);
  assert_near(s->conductors[0].resistance_ohm, 0.006, 0.0);
  assert_false(s->standard_car);
  tailvolt_system_free(s);
}

/* A setting replaces the keys it excludes, and all lines of a repeatable key. */
static void replaces(void **state) {
  (void)state;
  struct tailvolt_system *s = MUST("[battery]\ncapacity = 70 Ah\nrested voltage = 12.5 V\npolarization = 4 "
                                   "mohm, 10 s\npolarization = 2 mohm, 99 s\n"
                                   "[alternator]\nrated current = 110 A\n[amplifier bass]\nchannels = 4 x 75 "
                                   "W\n[cable feed]\nper metre = 3 mohm\n"
                                   "measured drop = 1 V at 40 A\nlength = 5 m\n",
                                   "battery.state of charge = 50 %", "battery.polarization = 1 mohm, 5 s",
                                   "amplifier bass.rated power = 600 W", "cable feed.size = 10 mm2");
  assert_near(s->batteries[0].soc_frac, 0.5, 0.0);
  assert_true(isnan(s->batteries[0].rested_v));
  assert_int_equal(s->batteries[0].polarization_count, 1);
  assert_near(s->batteries[0].polarization_s[0], 5.0, 0.0);
  assert_near(s->amplifiers[0].rated_w, 600.0, 0.0);
  assert_near_rel(conductor(s, "feed")->resistance_ohm, 5 * 1.82e-3, 1e-12);
  tailvolt_system_free(s);
}

static void faulty(void **state) {
  (void)state;
  static const struct {
    const char *text, *key, *message;
  } bad[] = {
      {"vehicle.ambient", "", "'vehicle.ambient' has no '='; write 'section.key = value'"},
      {"ambient = 5 C", "",
       "'ambient = 5 C' has no '.' between section and key; write 'section.key = value'"},
      {"[vehicle].ambient = 5 C", "",
       "'[vehicle].ambient = 5 C' names its section in brackets; write 'section.key = value', as in "
       "'battery.capacity = 70 Ah'"},
      {"vehicle.name = Van #2", "",
       "'vehicle.name = Van #2' holds a comment; leave out what follows '#' or ';'"},
      {"vehicle.ambient = 5", "vehicle.ambient", "no unit at '5' in 'ambient = 5'; accepted: C or F"},
      {"vehicle.ambient =", "vehicle.ambient", "'ambient' has no value"},
      {"vehicle.ambeint = 5 C", "vehicle.ambeint",
       "unknown key 'ambeint' in [vehicle]; did you mean 'ambient'?"},
      {"vehicle.zzz = 5 C", "vehicle.zzz", "unknown key 'zzz' in [vehicle]"},
      {"vehicel.ambient = 5 C", "vehicel.ambient", "unknown section 'vehicel'; did you mean 'vehicle'?"},
      {"body stud.resistance = 1 mohm", "body stud.resistance", "unknown section 'body stud'; did you mean 'joint body stud'?"},
      {"Feed.size = 4 AWG", "Feed.size", "unknown section 'Feed'; did you mean 'cable feed'?"},
      {"bass.size = 4 AWG", "bass.size", "unknown section 'bass'; did you mean 'amplifier bass'?"},
      {"zzz.ambient = 5 C", "zzz.ambient", "unknown section 'zzz'"},
      {"vehicle van.ambient = 5 C", "vehicle van.ambient",
       "there is one [vehicle] only; write 'vehicle.ambient'"},
      {"battery.capacity = 5,5 Ah", "battery.capacity",
       "decimal comma in 'capacity = 5,5 Ah'; write 'capacity = 5.5 Ah'"},
      {"cable extra.length = 5 m", "cable extra.from",
       "[cable extra] has no place in the standard car; give 'from' and 'to'"},
      {"amplifier bas.rated power = 90 W", "amplifier bas",
       "there is no [amplifier bas]; did you mean 'amplifier bass'?"},
      {"amplifier bass.cut-in voltage = 5 V", "amplifier bass.cut-in voltage",
       "'cut-in voltage' is below 'cut-out voltage'"},
      {"meter m.positive = nowhere", "meter m.positive",
       "no path from 'nowhere' to a battery or alternator: a cable, fuse or joint is missing there"},
      {"alternator.sense = batery post", "alternator.sense",
       "no part joins the point 'batery post'; did you mean 'battery post'?"},
      {"vehicle.name = b\x1B[31m", "", "'vehicle.name = b\x1B[31m' holds a control character"}};
  for (size_t k = 0; k < sizeof bad / sizeof bad[0]; k++) {
    struct tailvolt_system *system = NULL;
    const char *const sets[] = {bad[k].text, NULL};
    if (parse(TEN, sets, &system) != TAILVOLT_BAD_INPUT) fail_msg("accepted: %s", bad[k].text);
    assert_null(system);
    if (strcmp(faults.fault[0].message, bad[k].message) != 0 || strcmp(faults.fault[0].key, bad[k].key) != 0)
      fail_msg("%s\n  saw %s|%s", bad[k].text, faults.fault[0].key, faults.fault[0].message);
    assert_string_equal(faults.fault[0].file, "--set");
    assert_int_equal(faults.fault[0].line, 0);
    assert_int_equal(faults.count, 1);
  }
}

/* A required key that a setting gives in a wrong form is not reported as missing too. */
static void bad_value_of_a_missing_key(void **state) {
  (void)state;
  struct tailvolt_system *system = NULL;
  const char *const sets[] = {"cable feed.length = 5", NULL};
  assert_int_equal(
      parse("[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\n"
            "rated power = 800 W\n[cable feed]\nsize = 8 AWG\n",
            sets, &system),
      TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.count, 1);
  assert_string_equal(faults.fault[0].file, "--set");
}

static void ambiguous(void **state) {
  (void)state;
  struct tailvolt_system *system = NULL;
  const char *const sets[] = {"amplifier.efficiency = 90 %", NULL};
  assert_int_equal(parse(TEN "[amplifier tops]\nrated power = 100 W\n", sets, &system), TAILVOLT_BAD_INPUT);
  assert_string_equal(faults.fault[0].message,
                      "which amplifier? write for example 'amplifier tops.efficiency'");
  assert_int_equal(faults.count, 1);
}

/* Faults of the file come before those of settings, and an overridden line must still be valid. */
static void order(void **state) {
  (void)state;
  struct tailvolt_system *system = NULL;
  const char *const sets[] = {"zzz.a = 1", "battery.capacity = 60 Ah", NULL};
  assert_int_equal(parse("[battery]\ncapacity = 70\n[alternator]\nrated current = 110 A\n[amplifier bass]\n"
                         "rated power = 800 W\n[cable feed]\nsize = 8\nlength = 5.5 m\n",
                         sets, &system),
                   TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.count, 3);
  assert_int_equal(faults.fault[0].line, 2);
  assert_int_equal(faults.fault[1].line, 8);
  assert_string_equal(faults.fault[2].file, "--set");
}

static void splitting(void **state) {
  (void)state;
  struct tv_setting setting;
  assert_null(tv_setting_split("cable 5.5 m  feed . size  = 4 AWG ", &setting));
  assert_string_equal(setting.section, "cable 5.5 m feed");
  assert_string_equal(setting.name, "5.5 m feed");
  assert_string_equal(setting.key, "size");
  assert_string_equal(setting.value, "4 AWG");
  assert_int_equal(setting.id, TV_K_SIZE);
  assert_null(tv_setting_split("amplifier a.b.power at 12.5 V = 780 W", &setting));
  assert_string_equal(setting.name, "a.b");
  assert_string_equal(setting.key, "power at 12.5 V");
  assert_int_equal(setting.id, TV_K_POWER_AT);
  assert_null(tv_setting_split("music club.recording = a=b.ogg", &setting));
  assert_int_equal(setting.kind, TV_KIND_PROGRAMME);
  assert_string_equal(setting.value, "a=b.ogg");
  assert_non_null(tv_setting_split("", &setting));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(overrides),
                                     cmocka_unit_test(a_converter_keeps_its_gap),
                                     cmocka_unit_test(short_names),
                                     cmocka_unit_test(creates),
                                     cmocka_unit_test(creates_in_a_drawn_file),
                                     cmocka_unit_test(replaces),
                                     cmocka_unit_test(faulty),
                                     cmocka_unit_test(bad_value_of_a_missing_key),
                                     cmocka_unit_test(ambiguous),
                                     cmocka_unit_test(order),
                                     cmocka_unit_test(splitting)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
