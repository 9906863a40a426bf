/* The ledger's entries say by kind and index which part they belong to. */
#include "support/assert_near.h"

#include <string.h>

#include "support/scenes.h"
#include "text/words.h"

static const char idling[] = "time_s,engine_rpm,programme\n0,800,drums\n5,800,drums\n";

static void check_entry(const struct tailvolt_system *system, const struct tailvolt_ledger *ledger,
                        const struct tailvolt_ledger_entry *entry) {
  if (entry->drop != TAILVOLT_DROP_WIRING) {
    assert_int_equal(entry->part_kind, TAILVOLT_PART_BATTERY);
    assert_int_equal(entry->index, ledger->battery_index);
    assert_string_equal(entry->name, system->batteries[entry->index].name);
    return;
  }
  if (entry->part_kind == TAILVOLT_PART_ISOLATOR) {
    assert_string_equal(entry->name, system->isolators[entry->index].name);
    return;
  }
  assert_int_equal(entry->part_kind, tv_part_of_conductor(system->conductors[entry->index].kind));
  assert_string_equal(entry->name, system->conductors[entry->index].name);
}

static void test_entries_name_their_parts(void **state) {
  (void)state;
  static const char *const files[] = {"examples/van-800w-8awg/system.ini", "examples/reference/all-of-it.ini"};
  int drops[TAILVOLT_DROP_CHARGE_USED + 1] = {0}, given_branches = 0;
  for (size_t f = 0; f < sizeof files / sizeof files[0]; f++) {
    struct tailvolt_system *system = scene_read(files[f]);
    struct tailvolt_profile *profile =
        scene_profile(system, f == 0 ? idling : "time_s,engine_rpm,programme\n0,800,club\n5,800,club\n");
    struct tailvolt_options options = scene_isothermal();
    struct tailvolt_result *result = scene_run(system, profile, &options);
    for (int k = 0; k < result->ledger_count; k++) {
      const struct tailvolt_ledger *ledger = &result->ledgers[k];
      int branches = 0;
      assert_int_equal(ledger->amplifier_index, k);
      assert_string_equal(ledger->amplifier, system->amplifiers[k].name);
      assert_string_equal(ledger->battery, system->batteries[ledger->battery_index].name);
      for (int j = 0; j < ledger->entry_count; j++) {
        check_entry(system, ledger, &ledger->entries[j]);
        drops[ledger->entries[j].drop]++;
        if (ledger->entries[j].drop != TAILVOLT_DROP_POLARIZATION) continue;
        bool given = system->batteries[ledger->battery_index].polarization_count > 0;
        assert_int_equal(ledger->entries[j].branch, branches++);
        assert_int_equal(ledger->entries[j].polarization,
                         given ? TAILVOLT_POLARIZATION_GIVEN : TAILVOLT_POLARIZATION_GIVEN + branches);
        given_branches += given;
      }
    }
    tailvolt_result_free(result);
    tailvolt_profile_free(profile);
    tailvolt_system_free(system);
  }
  assert_true(drops[TAILVOLT_DROP_WIRING] > 8 && drops[TAILVOLT_DROP_RESISTANCE] >= 2);
  assert_true(given_branches < drops[TAILVOLT_DROP_POLARIZATION]);
  assert_string_equal(tv_polarization_word(TAILVOLT_POLARIZATION_SURFACE), "surface charge");
  assert_true(drops[TAILVOLT_DROP_POLARIZATION] >= 2 && drops[TAILVOLT_DROP_CHARGE_USED] >= 2);
}

/* Behind a relay that stays open the amplifier is fed by the battery there: the path begins at it, and what is lost along it is the
 * sag, whichever of the two it was at rest. */
static void test_open_relay(void **state) {
  (void)state;
  static const char car[] =
      "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[battery second]\ncapacity = 60 Ah\n"
      "[isolator second]\nkind = relay\nopens below = 13.2 V\n[cable second feed]\nsize = 4 AWG\nlength = 5 m\n"
      "[amplifier bass]\nsupply from = second\nrated power = 800 W\n[cable feed]\nsize = 4 AWG\nlength = 1 m\n";
  static const struct {
    const char *profile;
    int battery;
    bool passes;
  } row[] = {{"time_s,engine_rpm,programme\n0,2500,silence\n5,2500,music\n10,2500,music\n", 0, true},
             {"time_s,engine_rpm,programme\n0,0,silence\n1,0,music\n5,0,music\n", 1, false},
             {"time_s,engine_rpm,programme\n0,2500,silence\n1,0,silence\n20,0,music\n25,0,music\n", 1, false}};
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    struct tailvolt_system *system = scene_parse(car);
    struct tailvolt_profile *profile = scene_profile(system, row[k].profile);
    struct tailvolt_options options = tailvolt_default_options();
    struct tailvolt_result *result = scene_run(system, profile, &options);
    const struct tailvolt_ledger *ledger = &result->ledgers[0];
    bool passes = false;
    assert_int_equal(ledger->battery_index, row[k].battery);
    assert_int_equal(result->amplifiers[0].battery, 0); /* from whose posts its leads are measured */
    for (int j = 0; j < ledger->entry_count; j++) passes = passes || ledger->entries[j].part_kind == TAILVOLT_PART_ISOLATOR;
    assert_int_equal(passes, row[k].passes);
    assert_near(ledger->residual_v, 0.0, 1e-6);
    assert_true(ledger->rest_v - ledger->terminal_v > 0.2);
    tailvolt_result_free(result);
    tailvolt_profile_free(profile);
    tailvolt_system_free(system);
  }
}

/* Words made from an entry's enums read back as those enums. */
static void test_words_read_back(void **state) {
  (void)state;
  enum tailvolt_drop drop;
  enum tailvolt_part_kind kind;
  for (int d = TAILVOLT_DROP_CHARGING; d <= TAILVOLT_DROP_CHARGE_USED; d++) {
    assert_true(tv_drop_of_word(tv_drop_word((enum tailvolt_drop)d, TAILVOLT_PART_BATTERY), &drop, &kind));
    assert_int_equal(drop, d);
    assert_int_equal(kind, TAILVOLT_PART_BATTERY);
  }
  static const enum tailvolt_part_kind kinds[] = {TAILVOLT_PART_CABLE, TAILVOLT_PART_STRAP, TAILVOLT_PART_JOINT,
                                                  TAILVOLT_PART_FUSE, TAILVOLT_PART_ISOLATOR};
  for (size_t k = 0; k < sizeof kinds / sizeof kinds[0]; k++) {
    assert_true(tv_drop_of_word(tv_drop_word(TAILVOLT_DROP_WIRING, kinds[k]), &drop, &kind));
    assert_int_equal(drop, TAILVOLT_DROP_WIRING);
    assert_int_equal(kind, kinds[k]);
  }
  assert_false(tv_drop_of_word("hearsay", &drop, &kind));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_entries_name_their_parts), cmocka_unit_test(test_open_relay),
                                     cmocka_unit_test(test_words_read_back)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
