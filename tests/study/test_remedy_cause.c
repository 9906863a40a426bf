/* What a car lacks, as remedy names it. */
#include "support/assert_near.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "study/certainty_parts.h"
#include "study/remedy.h"
#include "support/long_case.h"
#include "support/remedy_scene.h"
#include "support/scenes.h"

static enum tailvolt_shortage cause(const char *settings, const char *profile_text, char why[512]) {
  static char text[2048];
  const char *catalogue = remedy_catalogue_file("part,size,cost\ncapacitor,1 F,20\n");
  struct tailvolt_remedy_options options = remedy_options_with(catalogue);
  snprintf(text, sizeof text, "%s%s", remedy_van, settings);
  struct tailvolt_remedy *remedy = remedy_find(text, profile_text, &options);
  enum tailvolt_shortage shortage = remedy->shortage;
  tailvolt_shortage_text(remedy, why, 512);
  tailvolt_remedy_free(remedy);
  unlink(catalogue);
  return shortage;
}

static void test_causes(void **state) {
  (void)state;
  static const char road[] = "time_s,engine_rpm,programme\n0,3000,music\n12,3000,music\n";
  static const char parked[] = "time_s,engine_rpm,programme\n0,0,music\n12,0,music\n";
  char why[512];
  /* thin cable, plenty of everything else */
  static const char wire[] = "[fuse main]\nrating = 50 A\n[cable ground lead]\nsize = 4 AWG\n";
  if (cause(wire, road, why) != TAILVOLT_SHORTAGE_WIRE) fail_msg("wire: %s", why);
  assert_non_null(strstr(why, "feed"));
  /* thick cable, a battery worn to a fifth of its cranking current, engine off */
  static const char slow[] = "[cable ground lead]\nsize = 4/0 AWG\n[joint body shell]\nresistance = 0.1 mohm\n"
                             "[targets]\nvoltage parked = 12.0 V\n";
  static char worn[2048];
  snprintf(worn, sizeof worn, "%s%s", remedy_van, slow);
  char *size = strstr(worn, "size = 8 AWG\nlength"), *battery = strstr(worn, "capacity = 70 Ah");
  memcpy(size, "size = 2 AWG", 12);
  static char text[2048];
  snprintf(text, sizeof text, "%.*scranking health = 20 %%\n%s", (int)(battery - worn), worn, battery);
  const char *catalogue = remedy_catalogue_file("part,size,cost\ncapacitor,1 F,20\n");
  struct tailvolt_remedy_options options = remedy_options_with(catalogue);
  struct tailvolt_remedy *remedy = remedy_find(text, parked, &options);
  assert_int_equal(remedy->shortage, TAILVOLT_SHORTAGE_SLOW);
  tailvolt_remedy_free(remedy);
  unlink(catalogue);
  /* idle with every load on and thick cable: the alternator is at its limit */
  static const char steady[] = "[vehicle]\nbase load = 80 A\n[battery]\ncapacity = 70 Ah\n[alternator]\n"
                               "rated current = 110 A\n[amplifier bass]\nrated power = 800 W\n[cable feed]\n"
                               "size = 4/0 AWG\nlength = 3 m\n[joint body shell]\nresistance = 0.1 mohm\n";
  catalogue = remedy_catalogue_file("part,size,cost\ncapacitor,1 F,20\n");
  options = remedy_options_with(catalogue);
  remedy = remedy_find(steady, remedy_idling, &options);
  assert_int_equal(remedy->shortage, TAILVOLT_SHORTAGE_STEADY);
  tailvolt_remedy_free(remedy);
  unlink(catalogue);
}

/* An alternator with a sluggish field, more than strong enough; the target is above the battery's own
 * voltage. */
static void test_cause_fast(void **state) {
  (void)state;
  static const char sluggish[] =
      "[battery]\npositive = post\ncapacity = 70 Ah\nstate of charge = 100 %\n[alternator]\npositive = post\n"
      "negative = ground\nrated current = 300 A\nlow current = 260 A\nfield time constant = 2 s\nset point drift = 0 mV/C\n"
      "[joint feed]\nfrom = post\nto = plus\nresistance = 0.1 mohm\n"
      "[amplifier bass]\npositive = plus\nnegative = ground\nrated power = 800 W\n"
      "[programme music]\ntempo = 60 /min\nbass note = 0 Hz\n[targets]\nvoltage = 14.1 V\nmissed at most = 0 %\n";
  static const char road[] = "time_s,engine_rpm,programme\n0,3000,music\n20,3000,music\n";
  const char *catalogue = remedy_catalogue_file("part,size,cost\ncapacitor,1 F,20\n");
  struct tailvolt_remedy_options options = remedy_options_with(catalogue);
  options.run.settle_s = 120.0;
  struct tailvolt_remedy *remedy = remedy_find(sluggish, road, &options);
  assert_int_equal(remedy->shortage, TAILVOLT_SHORTAGE_FAST);
  tailvolt_remedy_free(remedy);
  unlink(catalogue);
}

/* A second battery that runs down behind a small converter: the converter is named, and a bigger one is what holds; no alternator is
 * missing. The next step of the simulation says the same. */
static void test_small_converter(void **state) {
  (void)state;
  static const char camper[] =
      "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 160 A\n[battery second]\ncapacity = 60 Ah\nkind = AGM\n"
      "[isolator]\nkind = converter\noutput = 12 A at 14.4 V\nrating = 15 A\n[cable second feed]\nsize = 4 AWG\nlength = 5 m\n"
      "[amplifier bass]\nsupply from = second\nrated power = 500 W\n[cable feed]\nsize = 2 AWG\nlength = 1 m\n";
  static const char road[] = "time_s,engine_rpm,programme\n0,2500,music\n60,2500,music\n";
  const char *catalogue = remedy_catalogue_file("part,size,cost\ncapacitor,1 F,20\nalternator,260 A,10\nconverter,20 A,40\n"
                                                "converter,30 A,50\n");
  struct tailvolt_remedy_options options = remedy_options_with(catalogue);
  struct tailvolt_remedy *remedy = remedy_find(camper, road, &options);
  char text[TAILVOLT_TEXT_MAX];
  assert_true(remedy->charge_short && !remedy->met_before);
  assert_near(remedy->converter_a, 12.0, 0.0);
  tailvolt_shortage_text(remedy, text, sizeof text);
  assert_non_null(strstr(text, "the converter before the battery that loses charge gives 12 A at most, the music takes "));
  assert_true(remedy->found);
  assert_string_equal(remedy->chosen.what, "20 A converter in place of the 12 A one");
  /* of single cures only that keeps the charge */
  for (int k = 0; k < remedy->worth_count; k++)
    if (remedy->worth[k].cure != TAILVOLT_CURE_LEVEL)
      assert_true(remedy->worth[k].loses_charge == (remedy->worth[k].cure != TAILVOLT_CURE_CONVERTER));
  assert_int_equal(remedy->chosen.change_count, 2);
  assert_string_equal(remedy->chosen.changes[0].value, "20 A at 14.4 V");
  assert_string_equal(remedy->chosen.changes[1].key, "isolator.rating");
  assert_true(remedy->chosen.result->batteries[1].end_soc_pct > remedy->before->batteries[1].end_soc_pct + 0.2);
  tailvolt_remedy_free(remedy);
  unlink(catalogue);

  struct tailvolt_system *system = scene_parse(camper);
  struct tailvolt_profile *profile = scene_profile(system, road);
  struct tailvolt_options run = tailvolt_default_options();
  struct tailvolt_result *result = scene_run(system, profile, &run);
  /* in SURE's cars charge is judged alike */
  const struct tailvolt_reason *charge = &result->reasons[0];
  for (int k = 0; k < result->reason_count && charge->topic != TAILVOLT_ABOUT_CHARGE; k++) charge = &result->reasons[k];
  assert_int_equal(charge->kind, TAILVOLT_REASON_CHARGE_ROAD);
  assert_near(tv_charge_to_spare_a(system, result, 0.0, tailvolt_charge_balance_a(result, TAILVOLT_ROAD)), -charge->number, 1e-9);
  struct tailvolt_next_step step;
  assert_int_equal(tailvolt_find_next_step(system, profile, &run, result, &step), TAILVOLT_OK);
  tailvolt_next_step_text(&step, text, sizeof text);
  assert_int_equal(step.kind, TAILVOLT_PART_ISOLATOR);
  if (strstr(text, "a 20 A converter: the battery then gains ") == NULL) fail_msg("%s", text);
  tailvolt_result_free(result);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

/* Idling and the road of the same day together lose charge, the road too: a set is judged by its own balance there. Without the road only
 * that of the system as it is is known, and no alternator can mend it. The set found holds when both profiles are run on it. */
static void test_road_of_its_own(void **state) {
  (void)state;
  static const char car[] =
      "[vehicle]\nbase load = 40 A\n[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 70 A\npulley ratio = 2.2\n"
      "[amplifier bass]\nrated power = 700 W\nclass = D\n[cable feed]\nsize = 25 mm2\nlength = 4 m\n";
  static const char driving[] = "time_s,engine_rpm,programme\n0,1400,music\n12,1400,music\n";
  const char *catalogue = remedy_catalogue_file("part,size,cost\nalternator,150 A,138\nalternator,220 A,215\n");
  struct tailvolt_system *system = scene_parse(car);
  struct tailvolt_profile *road = scene_profile(system, driving), *idle = scene_profile(system, remedy_idling);
  struct tailvolt_remedy_options options = remedy_options_with(catalogue);
  struct tailvolt_result *drive = scene_run(system, road, &options.run);
  options.run.road_balance_a = tailvolt_charge_balance_a(drive, TAILVOLT_ROAD);
  assert_true(options.run.road_balance_a < -1.0);
  for (int known = 0; known < 2; known++) {
    struct tailvolt_remedy *remedy = NULL;
    char error[TAILVOLT_TEXT_MAX];
    options.road = known ? road : NULL;
    assert_int_equal(tailvolt_remedy(car, "car.ini", NULL, 0, idle, &options, &remedy, error), TAILVOLT_OK);
    assert_int_equal(remedy->found, known);
    if (known) {
      struct tailvolt_setting settings[16];
      char text[16][512];
      assert_in_range(remedy->chosen.change_count, 1, 16);
      for (int k = 0; k < remedy->chosen.change_count; k++) {
        snprintf(text[k], sizeof text[k], "%s = %s", remedy->chosen.changes[k].key, remedy->chosen.changes[k].value);
        settings[k].text = text[k];
      }
      struct tailvolt_faults *faults = calloc(1, sizeof *faults);
      struct tailvolt_system *mended;
      assert_int_equal(tailvolt_system_parse(car, "car.ini", settings, remedy->chosen.change_count, &mended, faults),
                       TAILVOLT_OK);
      struct tailvolt_result *there = scene_run(mended, road, &options.run);
      struct tailvolt_options both = options.run;
      both.road_balance_a = tailvolt_charge_balance_a(there, TAILVOLT_ROAD);
      assert_true(both.road_balance_a > 0.0);
      struct tailvolt_result *here = scene_run(mended, idle, &both);
      assert_int_equal(here->status, TAILVOLT_HOLDS);
      tailvolt_result_free(here);
      tailvolt_result_free(there);
      tailvolt_system_free(mended);
      free(faults);
    }
    tailvolt_remedy_free(remedy);
  }
  tailvolt_result_free(drive);
  tailvolt_profile_free(road);
  tailvolt_profile_free(idle);
  tailvolt_system_free(system);
  unlink(catalogue);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_causes), cmocka_unit_test(test_cause_fast),
                                     cmocka_unit_test(test_road_of_its_own),
                                     cmocka_unit_test(test_small_converter)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
