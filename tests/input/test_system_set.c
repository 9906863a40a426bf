/* Changing a system equals reading its file again with the setting, for every key. */
#include "input/system_keys.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"
#include "tailvolt/system.h"

static struct tailvolt_faults faults, more;

static char *read_text(const char *name) {
  char path[512];
  snprintf(path, sizeof path, "%s/examples/reference/%s", TAILVOLT_SOURCE_DIR, name);
  FILE *file = fopen(path, "rb");
  assert_non_null(file);
  char *text = calloc(1, 65536);
  assert_non_null(text);
  assert_true(fread(text, 1, 65535, file) > 0);
  fclose(file);
  return text;
}

static void same_block(const char *what, const void *a, const void *b, int count_a, int count_b, size_t size) {
  if (count_a != count_b) fail_msg("%s: %d and %d", what, count_a, count_b);
  if (count_a > 0 && memcmp(a, b, (size_t)count_a * size) != 0) fail_msg("%s differ", what);
}

#define SAME(list, count) same_block(#list, a->list, b->list, a->count, b->count, sizeof *a->list)

static void same_system(const struct tailvolt_system *a, const struct tailvolt_system *b) {
  same_block("vehicle", &a->vehicle, &b->vehicle, 1, 1, sizeof a->vehicle);
  same_block("engine", &a->engine, &b->engine, 1, 1, sizeof a->engine);
  same_block("alternator", &a->alternator, &b->alternator, 1, 1, sizeof a->alternator);
  same_block("converter", &a->converter, &b->converter, 1, 1, sizeof a->converter);
  same_block("targets", &a->targets, &b->targets, 1, 1, sizeof a->targets);
  same_block("tolerance", &a->tolerance, &b->tolerance, 1, 1, sizeof a->tolerance);
  SAME(point_names, point_count);
  SAME(batteries, battery_count);
  SAME(conductors, conductor_count);
  SAME(capacitors, capacitor_count);
  SAME(isolators, isolator_count);
  SAME(loads, load_count);
  SAME(amplifiers, amplifier_count);
  SAME(meters, meter_count);
  SAME(programmes, programme_count);
  SAME(assumptions, assumption_count);
  SAME(measured, measured_count);
  assert_int_equal(a->standard_car, b->standard_car);
  assert_string_equal(a->file, b->file);
}

/* What one key might be set to; NULL = no such attempt. */
static const char *try_value(const struct tv_key *key, int which, char *room, size_t size) {
  switch (key->form) {
  case TV_FORM_QUANTITY:
  case TV_FORM_RANGE:
  case TV_FORM_POWER_AT:
  case TV_FORM_WHOLE:
    return which == 0 ? key->low : which == 1 ? key->high : which == 2 ? key->fallback : NULL;
  case TV_FORM_WORD:
  case TV_FORM_YES_NO: {
    const char *at = key->form == TV_FORM_WORD ? key->low : "yes|no";
    for (int k = 0; k < which && at != NULL; k++) {
      at = strchr(at, '|');
      if (at != NULL) at++;
    }
    if (at == NULL) return NULL;
    snprintf(room, size, "%.*s", (int)strcspn(at, "|,"), at);
    return room;
  }
  case TV_FORM_TEXT:
  case TV_FORM_POINT:
    return which == 0 ? "second" : which == 1 ? "body" : NULL;
  case TV_FORM_SYSTEM:
    return which == 0 ? "12 V" : NULL;
  case TV_FORM_SIZE:
    return which == 0 ? "2 x 4 AWG" : which == 1 ? "16 mm2" : NULL;
  case TV_FORM_STRANDS:
    return which == 0 ? "196 x 0.3 mm" : NULL;
  case TV_FORM_ENGINE_SIZE:
    return which == 0 ? "2.4 L diesel" : NULL;
  case TV_FORM_CRANKING:
    return which == 0 ? "500 A SAE" : NULL;
  case TV_FORM_TIMES:
    return which == 0 ? "2 x 25 A" : NULL;
  case TV_FORM_CHANNELS:
    return which == 0 ? "4 x 75 W at 4 ohm" : NULL;
  case TV_FORM_PAIRS:
    return which == 0 ? tv_key_second((enum tv_key_id)(key - tv_key_of((enum tv_key_id)0))).example : NULL;
  }
  return NULL;
}

static int tries, accepted;

static void try_setting(const char *text, const char *key, const char *value) {
  struct tailvolt_system *once = NULL, *set = NULL, *kept = NULL, *again = NULL;
  char setting[600];
  snprintf(setting, sizeof setting, "%s = %s", key, value);
  const struct tailvolt_setting settings[] = {{setting}};
  assert_int_equal(tailvolt_system_parse(text, "job.ini", NULL, 0, &set, &faults), TAILVOLT_OK);
  assert_int_equal(tailvolt_system_copy(set, &kept), TAILVOLT_OK);
  same_system(set, kept);
  enum tailvolt_status read = tailvolt_system_parse(text, "job.ini", settings, 1, &once, &faults);
  enum tailvolt_status changed = tailvolt_system_change(set, settings, 1, &more);
  if (read != changed) fail_msg("%s: %d read, %d set: %s", setting, (int)read, (int)changed, more.fault[0].message);
  assert_int_equal(faults.count, more.count);
  for (int k = 0; k < faults.count; k++) assert_string_equal(faults.fault[k].message, more.fault[k].message);
  same_system(read == TAILVOLT_OK ? once : kept, set);
  /* a copy can be changed without affecting the original */
  assert_int_equal(tailvolt_system_copy(kept, &again), TAILVOLT_OK);
  assert_int_equal(tailvolt_system_set(again, key, value), read);
  same_system(again, set);
  tries++;
  accepted += read == TAILVOLT_OK;
  tailvolt_system_free(once);
  tailvolt_system_free(set);
  tailvolt_system_free(kept);
  tailvolt_system_free(again);
}

static void every_key_of(const char *file, const char *const *sections, int section_count) {
  char *text = read_text(file), room[64], name[200];
  for (int s = 0; s < section_count; s++) {
    enum tv_kind kind = tv_kind_find(sections[s], strcspn(sections[s], " "));
    for (int k = 0; k < TV_KEY_COUNT; k++) {
      const struct tv_key *key = tv_key_of((enum tv_key_id)k);
      if ((key->kinds & 1u << kind) == 0) continue;
      for (int which = 0; which < 6; which++) {
        const char *value = try_value(key, which, room, sizeof room);
        if (value == NULL) continue;
        snprintf(name, sizeof name, "%s.%s%s", sections[s], key->name, key->form == TV_FORM_POWER_AT ? " 12.5 V" : "");
        try_setting(text, name, value);
      }
    }
  }
  free(text);
}

static void every_key(void **state) {
  (void)state;
  static const char *const ten[] = {"vehicle",     "engine",    "alternator", "targets",       "tolerance",    "battery",
                                    "cable feed",  "fuse main", "joint body stud", "amplifier bass", "programme music",
                                    "strap engine", "load fan", "capacitor",  "converter",     "meter x",      "isolator y"};
  static const char *const all[] = {"vehicle", "engine", "alternator", "targets", "battery second", "cable charge lead",
                                    "fuse main", "joint body shell", "load lights", "amplifier bass",
                                    "meter at the amplifier", "capacitor stiffener", "isolator split charge",
                                    "programme club", "strap engine"};
  tries = accepted = 0;
  every_key_of("ten-line.ini", ten, sizeof ten / sizeof ten[0]);
  every_key_of("all-of-it.ini", all, sizeof all / sizeof all[0]);
  static const char *const converter[] = {"isolator"};
  every_key_of("../second-battery/converter.ini", converter, 1);
  print_message("%d settings, %d accepted\n", tries, accepted);
  assert_true(tries > 400 && accepted > 200);
}

/* One after another equals all at once. */
static void in_turn(void **state) {
  (void)state;
  char *text = read_text("ten-line.ini");
  static const char *const keys[][2] = {{"battery.kind", "AGM"},           {"battery.place", "boot"},
                                        {"amplifier bass.rated power", "2 kW"}, {"amplifier tops.rated power", "300 W"},
                                        {"fuse tops.rating", "30 A"},      {"cable feed.size", "1/0 AWG"}};
  enum { COUNT = sizeof keys / sizeof keys[0] };
  char texts[COUNT][120];
  struct tailvolt_setting settings[COUNT];
  struct tailvolt_system *set = NULL, *once = NULL;
  assert_int_equal(tailvolt_system_parse(text, "job.ini", NULL, 0, &set, &faults), TAILVOLT_OK);
  for (int k = 0; k < COUNT; k++) {
    snprintf(texts[k], sizeof texts[k], "%s = %s", keys[k][0], keys[k][1]);
    settings[k].text = texts[k];
    assert_int_equal(tailvolt_system_set(set, keys[k][0], keys[k][1]), TAILVOLT_OK);
    assert_int_equal(tailvolt_system_parse(text, "job.ini", settings, k + 1, &once, &faults), TAILVOLT_OK);
    same_system(set, once);
    tailvolt_system_free(once);
  }
  assert_int_equal(set->amplifier_count, 2);
  /* refused: unchanged */
  assert_int_equal(tailvolt_system_set(set, "battery.capacity", "70 V"), TAILVOLT_BAD_INPUT);
  assert_int_equal(tailvolt_system_set(set, "batery.capacity", "70 Ah"), TAILVOLT_BAD_INPUT);
  assert_near(set->batteries[0].capacity_ah, 70, 0);
  /* a system filled in by hand has nothing stated */
  struct tailvolt_system own = {.file = "own"};
  const struct tailvolt_setting one = {"battery.capacity = 70 Ah"};
  assert_int_equal(tailvolt_system_change(&own, &one, 1, &faults), TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.count, 1);
  tailvolt_system_free(set);
  free(text);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(every_key), cmocka_unit_test(in_turn)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
