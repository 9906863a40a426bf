/* What a reading is called, and what it means to read more or less than normal. */
#include "support/assert_near.h"

#include <string.h>

#include "report/measure_words.h"
#include "tailvolt/tailvolt.h"

static const char car[] = "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\nrated power = 800 W\n"
                          "[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n";

static struct tailvolt_system *system_of(const char *text) {
  static struct tailvolt_faults faults;
  struct tailvolt_system *system = NULL;
  faults = (struct tailvolt_faults){0};
  if (tailvolt_system_parse(text, "car.ini", NULL, 0, &system, &faults) != TAILVOLT_OK) fail_msg("%s", faults.fault[0].message);
  return system;
}

/* Adds the conductor of a kind and name to what is between the probes. */
static void add_between(const struct tailvolt_system *system, enum tailvolt_conductor_kind kind, const char *name,
                        struct tailvolt_straddled *between) {
  for (int k = 0; k < system->conductor_count; k++)
    if (system->conductors[k].kind == kind && strcmp(system->conductors[k].name, name) == 0) {
      between->conductor[between->count++] = k;
      return;
    }
  fail_msg("no conductor %s", name);
}

static void readings_are_named_for_what_they_tell(void **state) {
  (void)state;
  static const struct {
    const char *reading;
    int between; /* conductors named in `part`, 0 to 2 */
    enum tailvolt_conductor_kind kind;
    const char *part[2];
    enum tv_reading_of of;
    const char *words, *above, *below;
  } cases[] = {
      {"rest: battery post > ground", 0, TAILVOLT_CABLE, {NULL}, TV_READING_REST,
       "volts at the battery's posts: red on battery post, black on ground (the battery's minus)", "charged just now", "low charge"},
      {"rest: ground > battery post", 0, TAILVOLT_CABLE, {NULL}, TV_READING_REST,
       "volts at the battery's posts: red on ground, black on battery post", "charged just now", "low charge"},
      {"idle: battery post > ground", 0, TAILVOLT_CABLE, {NULL}, TV_READING_CHARGING,
       "volts at the battery's posts: ", "a high set point", "the alternator is at its limit"},
      {"lights: battery post > ground", 0, TAILVOLT_CABLE, {NULL}, TV_READING_CHARGING,
       "volts at the battery's posts: ", "a high set point", "the alternator is at its limit"},
      {"tone off: min battery post > ground", 0, TAILVOLT_CABLE, {NULL}, TV_READING_SAG,
       "min-hold volts at the battery's posts: ", "a stronger battery", "a worn or a cold battery"},
      {"tone: amplifier plus > amplifier minus", 0, TAILVOLT_CABLE, {NULL}, TV_READING_TERMINALS,
       "volts at the terminals of bass: red on amplifier plus", "better wiring", "feed or ground"},
      {"tone: amplifier plus > ground", 0, TAILVOLT_CABLE, {NULL}, TV_READING_OTHER,
       "volts: red on amplifier plus, black on ground (", "not as described", "not as described"},
      {"tone: body stud > body shell rear", 1, TAILVOLT_JOINT, {"body stud"}, TV_READING_JOINT,
       "drop across the body stud joint: red on body stud", "a bad joint", "a good joint"},
      {"tone: fuse in > fused feed", 1, TAILVOLT_FUSE, {"main"}, TV_READING_FUSE,
       "drop across the main fuse: ", "a poor fuse holder", "a good holder"},
      {"tone: fused feed > feed end", 1, TAILVOLT_CABLE, {"feed"}, TV_READING_CABLE,
       "drop across the feed cable: ", "undersize or clad", "better or shorter"},
      {"tone: min battery post > fused feed", 2, TAILVOLT_JOINT, {"feed at battery", "body stud"}, TV_READING_SEVERAL,
       "min-hold drop: red on battery post, black on fused feed", "halve the way", "better than thought"},
      {"idle: clamp charge lead", 0, TAILVOLT_CABLE, {NULL}, TV_READING_CHARGE_A,
       "clamp around the charge lead cable, arrow towards charge lead end", "more is switched on", "a slipping belt"},
      {"idle: clamp charge lead at alternator", 0, TAILVOLT_CABLE, {NULL}, TV_READING_CHARGE_A,
       "clamp around the charge lead at alternator, arrow towards charge lead start", "more is switched on", "a slipping belt"},
      {"idle: clamp negative lead", 0, TAILVOLT_CABLE, {NULL}, TV_READING_BATTERY_A,
       "clamp around the negative lead cable, arrow towards negative lead end", "a hungry battery", "a full battery"},
      {"tone: clamp feed reversed", 0, TAILVOLT_CABLE, {NULL}, TV_READING_FEED_A,
       "clamp around the feed cable, arrow towards fused feed", "a less efficient amplifier", "a quieter tone"}};
  struct tailvolt_system *system = system_of(car);
  for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
    struct tailvolt_probe probe;
    struct tailvolt_straddled between = {.count = 0};
    char error[TAILVOLT_TEXT_MAX], words[TAILVOLT_TEXT_MAX];
    if (tailvolt_probe_read(system, cases[k].reading, &probe, error) != TAILVOLT_OK) fail_msg("%s: %s", cases[k].reading, error);
    for (int n = 0; n < cases[k].between; n++) add_between(system, cases[k].kind, cases[k].part[n], &between);
    if (tv_reading_of(system, &probe, &between) != cases[k].of)
      fail_msg("%s is of kind %d", cases[k].reading, (int)tv_reading_of(system, &probe, &between));
    tailvolt_probe_words(system, &probe, &between, words, sizeof words);
    if (strncmp(words, cases[k].words, strlen(cases[k].words)) != 0) fail_msg("%s: %s", cases[k].reading, words);
    if (strstr(tv_reading_above(cases[k].of), cases[k].above) == NULL || strstr(tv_reading_below(cases[k].of), cases[k].below) == NULL)
      fail_msg("%s: above: %s; below: %s", cases[k].reading, tv_reading_above(cases[k].of), tv_reading_below(cases[k].of));
  }
  tailvolt_system_free(system);
}

/* A car that stands ready has no engine to idle, and no heading of another. */
static void conditions_are_of_the_car(void **state) {
  (void)state;
  for (int k = 0; k < TAILVOLT_CONDITIONS; k++) {
    const enum tailvolt_condition condition = (enum tailvolt_condition)k;
    const char *engine = tv_condition_words(condition, false), *hybrid = tv_condition_words(condition, true);
    assert_memory_equal(engine, "ENGINE ", 7);
    assert_memory_equal(hybrid, "CAR ", 4);
    bool off = k == TAILVOLT_CONDITION_REST || k == TAILVOLT_CONDITION_TONE_OFF;
    assert_int_equal(strncmp(engine, "ENGINE OFF", 10) == 0, off);
    assert_int_equal(strncmp(hybrid, "CAR OFF", 7) == 0, off);
    bool tone = k == TAILVOLT_CONDITION_TONE || k == TAILVOLT_CONDITION_TONE_OFF;
    assert_int_equal(strstr(engine, "a tone of 50 Hz") != NULL, tone);
    assert_int_equal(strstr(hybrid, "a tone of 50 Hz") != NULL, tone);
    for (int other = 0; other < k; other++) {
      assert_string_not_equal(engine, tv_condition_words((enum tailvolt_condition)other, false));
      assert_string_not_equal(hybrid, tv_condition_words((enum tailvolt_condition)other, true));
    }
  }
}

/* Digits as on the range that a meter would be set to. */
static void numbers_are_as_a_meter_shows_them(void **state) {
  (void)state;
  assert_string_equal(tv_reading_number(TAILVOLT_CLAMP, 31.24).text, "31.2 A");
  assert_string_equal(tv_reading_number(TAILVOLT_VOLTMETER, -0.0853).text, "-85.3 mV");
  assert_string_equal(tv_reading_number(TAILVOLT_VOLTMETER, 0.2).text, "0.200 V");
  assert_string_equal(tv_reading_number(TAILVOLT_VOLTMETER, 12.524).text, "12.52 V");
  /* a range does not change its unit on the way */
  assert_string_equal(tv_reading_beside(TAILVOLT_VOLTMETER, 0.0965, 0.223).text, "0.097 V");
  assert_string_equal(tv_reading_beside(TAILVOLT_VOLTMETER, 0.0965, -0.15).text, "96.5 mV");
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(readings_are_named_for_what_they_tell), cmocka_unit_test(conditions_are_of_the_car),
                                     cmocka_unit_test(numbers_are_as_a_meter_shows_them)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
