/* Remedy: what each cure makes of a car. Every set reads back, and is safe; where parts that are added have their place. */
#include "support/assert_near.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "simulate/safety.h"
#include "study/remedy.h"
#include "support/remedy_scene.h"
#include "support/scenes.h"
#include "support/systems.h"
#include "tailvolt/report.h"

/* Every set that a plan can compose reads back without a fault, in the standard car and in a file of remedy_points, and
 * whatever is added is fused: no cable at a battery without a fuse. */
static void every_cure_is_accepted(const char *system_text, const char *profile_text) {
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  char error[TAILVOLT_TEXT_MAX];
  remedy_open_job(&job, &options, system_text, profile_text, &before);
  assert_true(job.plan.family_count >= 8);
  for (int k = -1; k < job.plan.family_count; k++) {
    struct tv_choice choice = {{0}};
    for (int f = 0; f < job.plan.family_count; f++)
      if (k < 0 || f == k) choice.size_step[f] = (signed char)job.plan.family[f].size_step_count;
    struct tv_settings settings = {0};
    struct tailvolt_system *system = NULL;
    error[0] = '\0';
    if (tv_try_settings(&job, &choice, &settings, &system, error) != TAILVOLT_OK)
      fail_msg("%s: %s", k < 0 ? "all" : job.plan.family[k].size_step[0].what, error);
    struct tv_finding_list findings = {0, 0, NULL};
    assert_int_equal(tv_safety_check(system, NULL, &findings), TAILVOLT_OK);
    for (int f = 0; f < findings.count; f++) {
      char text[TAILVOLT_TEXT_MAX];
      tailvolt_finding_text(&findings.finding[f], false, text, sizeof text);
      if (findings.finding[f].status == TAILVOLT_FAILS) fail_msg("%s", text);
    }
    tv_finding_list_free(&findings);
    /* and stays the same when written */
    struct tailvolt_remedy_set set = {.change_count = 0};
    char *written;
    set.changes = calloc((size_t)settings.count + 1, sizeof *set.changes);
    assert_non_null(set.changes);
    for (int s = 0; s < settings.count; s++) {
      struct tailvolt_change *change = &set.changes[set.change_count++];
      memcpy(change->key, settings.asked[s].key, sizeof change->key);
      memcpy(change->value, settings.asked[s].value, sizeof change->value);
    }
    assert_int_equal(tailvolt_remedy_write(system_text, NULL, 0, &set, &written), TAILVOLT_OK);
    struct tailvolt_system *read = scene_parse(written);
    assert_int_equal(read->conductor_count, system->conductor_count);
    assert_int_equal(read->standard_car, system->standard_car);
    for (int c = 0; c < read->conductor_count; c++) {
      bool found = false;
      for (int d = 0; d < system->conductor_count; d++)
        found = found || (strcmp(read->conductors[c].name, system->conductors[d].name) == 0 &&
                          read->conductors[c].kind == system->conductors[d].kind &&
                          read->conductors[c].resistance_ohm == system->conductors[d].resistance_ohm);
      assert_true(found);
    }
    tailvolt_system_free(read);
    tailvolt_report_free(written);
    free(set.changes);
    tailvolt_system_free(system);
    tv_settings_free(&settings);
  }
  remedy_close_job(&job, before);
}

static void test_every_cure_is_accepted(void **state) {
  (void)state;
  every_cure_is_accepted(remedy_van, remedy_idling);
  every_cure_is_accepted(remedy_points, remedy_idling);
}

/* The second battery's relay judges the voltage in front of the feed and behind the alternator's lead; the battery joins where the leads
 * of the amplifiers part. */
static void test_second_battery_has_its_relay_in_front(void **state) {
  (void)state;
  static const char car[] =
      "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[cable feed]\nsize = 4 AWG\nlength = 5 m\n";
  const enum tailvolt_cure second = TAILVOLT_CURE_SECOND_BATTERY;
  static const struct {
    const char *text, *relay_at, *joins, *ground, *size;
  } cases[] = {
      {"[amplifier bass]\nrated power = 800 W\n", "fused feed", "amplifier plus", "body stud", "4 AWG"},
      {"[amplifier bass]\nrated power = 800 W\n[cable bass]\nsize = 8 AWG\n[amplifier tops]\nrated power = 300 W\n", "fused feed", "block",
       "body stud", "4 AWG"},
      {remedy_points, "fused", "plus", "stud", "10 mm2"},
      {"[alternator]\npositive = hub\nnegative = body\nrated current = 110 A\n[battery]\npositive = post\ncapacity = 70 Ah\n"
       "[cable front]\nfrom = hub\nto = post\nsize = 25 mm2\nlength = 1 m\n"
       "[cable rear]\nfrom = plus\nto = hub\nsize = 25 mm2\nlength = 4 m\n"
       "[cable earth]\nfrom = body\nto = ground\nsize = 25 mm2\nlength = 1 m\n"
       "[amplifier bass]\npositive = plus\nnegative = body\nrated power = 800 W\n", "hub", "plus", "body", "25 mm2"}};
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
    char text[2048];
    bool whole = strstr(cases[k].text, "[battery") != NULL;
    snprintf(text, sizeof text, "%s%s", whole ? "" : car, cases[k].text);
    struct tv_remedy_job job;
    struct tailvolt_result *before;
    remedy_open_job(&job, &options, text, remedy_idling, &before);
    struct tailvolt_system *system = remedy_with_largest(&job, &second);
    assert_int_equal(system->isolator_count, 1);
    assert_int_equal(system->isolators[0].from, point_of(system, cases[k].relay_at));
    /* its fuse, and leads of its own, as thick as the feed */
    const struct tailvolt_conductor *fuse = remedy_fuse(system, "second"), *lead = remedy_cable(system, "second lead");
    assert_int_equal(fuse->from, system->batteries[1].positive);
    assert_int_equal(lead->from, fuse->to);
    assert_int_equal(lead->to, point_of(system, cases[k].joins));
    assert_string_equal(lead->size, cases[k].size);
    const struct tailvolt_conductor *ground = remedy_cable(system, "second ground");
    assert_int_equal(ground->from, system->batteries[1].negative);
    assert_int_equal(ground->to, point_of(system, cases[k].ground));
    assert_string_equal(ground->size, cases[k].size);
    tailvolt_system_free(system);
    remedy_close_job(&job, before);
  }
}

/* Where the computer holds the alternator below what a relay closes at, a converter charges the second battery, the smallest that brings
 * what the music takes, on by the ignition; where none is on offer, a relay on by the ignition. */
static void test_second_battery_charged_by_computer(void **state) {
  (void)state;
  static const char car[] =
      "[vehicle]\ncharging = computer\n[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n%s"
      "[cable feed]\nsize = 4 AWG\nlength = 5 m\n[amplifier bass]\nrated power = %s\nclass = D\n";
  static const char no_converter[] = "part,size,cost\nsecond battery,60 Ah,140\n";
  static const struct {
    const char *low_end, *power, *catalogue;
    enum tailvolt_isolator_kind kind;
    bool by_engine;
    double least_a, most_a; /* what the music takes on average */
    double output_a;
  } cases[] = {{"", "350 W", NULL, TAILVOLT_CONVERTER, true, 0, 20 / 1.1, 20},
               {"", "700 W", NULL, TAILVOLT_CONVERTER, true, 30 / 1.1, 40 / 1.1, 40},
               {"", "3500 W", NULL, TAILVOLT_CONVERTER, true, 0, 30 / 1.1, 60}, /* it cuts out */
               {"", "700 W", no_converter, TAILVOLT_RELAY, true, 0, 300, (double)NAN},
               {"set point = 13.4 V .. 14.8 V\n", "700 W", NULL, TAILVOLT_RELAY, false, 0, 300, (double)NAN}};
  const enum tailvolt_cure second = TAILVOLT_CURE_SECOND_BATTERY;
  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
    const char *catalogue = cases[k].catalogue != NULL ? remedy_catalogue_file(cases[k].catalogue) : NULL;
    struct tailvolt_remedy_options options = remedy_options_with(catalogue);
    char text[1024];
    snprintf(text, sizeof text, car, cases[k].low_end, cases[k].power);
    struct tv_remedy_job job;
    struct tailvolt_result *before;
    remedy_open_job(&job, &options, text, remedy_idling, &before);
    struct tailvolt_system *system = remedy_with_largest(&job, &second);
    const struct tailvolt_isolator *isolator = &system->isolators[0];
    double mean_a = before->amplifiers[0].mean_a;
    if (!(mean_a > cases[k].least_a && mean_a <= cases[k].most_a)) fail_msg("%zu: the music takes %g A on average", k, mean_a);
    assert_int_equal(isolator->kind, cases[k].kind);
    assert_int_equal(isolator->by_engine, cases[k].by_engine);
    assert_string_equal(system->point_names[isolator->from], "fused feed");
    if (cases[k].kind == TAILVOLT_CONVERTER) assert_near(isolator->output_a, cases[k].output_a, 0.0);
    const struct tv_size_step *sold = &job.plan.family[tv_plan_family(&job.plan, second)].size_step[0];
    assert_int_equal(strstr(sold->what, "A converter") != NULL, cases[k].kind == TAILVOLT_CONVERTER);
    assert_near(sold->cost - sold->item->cost, sold->converter != NULL ? sold->converter->cost : 0.0, 1e-9);
    tailvolt_system_free(system);
    remedy_close_job(&job, before);
    if (catalogue != NULL) unlink(catalogue);
  }
}

/* A second battery that nothing charges, since what joins it stays open: a converter is switched by the ignition, at no cost where it is
 * large enough, and a relay gives way to a converter. Beside a battery that feeds nothing but itself there is a place for another at the
 * amplifier, and the battery that grows is the one that feeds the music. */
static void test_second_battery_never_joined(void **state) {
  (void)state;
  static const char car[] =
      "[vehicle]\ncharging = computer\n[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n"
      "[battery second]\ncapacity = 45 Ah\nkind = AGM\n[isolator]\n%s[cable second feed]\nsize = 25 mm2\nlength = 4 m\n"
      "[cable feed]\nsize = 4 AWG\nlength = %s\n[amplifier bass]\n%srated power = 1000 W\nclass = D\n";
  static const struct {
    const char *isolator;
    bool feeds_music;
    double output_a, cost; /* of the smallest step */
    const char *what;
  } cases[] = {{"kind = relay\n", true, 20, 110, "20 A converter on by the ignition, in place of the relay"},
               {"kind = converter\noutput = 30 A at 14.2 V\ncloses above = 13.5 V\n", true, 30, 0, "ignition lead to the 30 A converter"},
               {"kind = converter\noutput = 25 A at 14.2 V\n", true, 30, 140, "30 A converter on by the ignition in place of the 25 A one"},
               {"kind = relay\n", false, (double)NAN, 0, NULL}};
  const enum tailvolt_cure second = TAILVOLT_CURE_SECOND_BATTERY, battery = TAILVOLT_CURE_BATTERY;
  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
    char text[1024];
    const char *length = cases[k].feeds_music ? "1 m" : "5 m", *from = cases[k].feeds_music ? "supply from = second\n" : "";
    snprintf(text, sizeof text, car, cases[k].isolator, length, from);
    struct tailvolt_remedy_options options = remedy_options_with(NULL);
    struct tv_remedy_job job;
    struct tailvolt_result *before;
    remedy_open_job(&job, &options, text, remedy_idling, &before);
    int family = tv_plan_family(&job.plan, TAILVOLT_CURE_CONVERTER);
    assert_int_equal(family >= 0, cases[k].feeds_music);
    assert_int_equal(tv_plan_family(&job.plan, second) >= 0, !cases[k].feeds_music);
    const struct tv_family *batteries = &job.plan.family[tv_plan_family(&job.plan, battery)];
    const char *grows = cases[k].feeds_music ? "battery in place of battery second" : "starting battery";
    if (strstr(batteries->size_step[0].what, grows) == NULL) fail_msg("said `%s`", batteries->size_step[0].what);
    struct tailvolt_system *larger = remedy_with_largest(&job, &battery);
    assert_near(larger->batteries[cases[k].feeds_music ? 1 : 0].capacity_ah, 110.0, 1e-9);
    assert_near(larger->batteries[cases[k].feeds_music ? 0 : 1].capacity_ah, cases[k].feeds_music ? 70 : 45, 1e-9);
    tailvolt_system_free(larger);
    if (cases[k].feeds_music) {
      const struct tv_size_step *least = &job.plan.family[family].size_step[0];
      assert_string_equal(least->what, cases[k].what);
      assert_near(least->cost, cases[k].cost, 1e-9);
      struct tv_choice choice = {{0}};
      struct tailvolt_system *system;
      char error[TAILVOLT_TEXT_MAX];
      choice.size_step[family] = 1;
      assert_int_equal(tv_try_settings(&job, &choice, NULL, &system, error), TAILVOLT_OK);
      const struct tailvolt_isolator *isolator = &system->isolators[0];
      assert_int_equal(isolator->kind, TAILVOLT_CONVERTER);
      assert_true(isolator->by_engine && isolator->closes_above_v < 12.0);
      assert_near(isolator->output_a, cases[k].output_a, 0.0);
      assert_near(isolator->output_v, strstr(cases[k].isolator, "14.2") != NULL ? 14.2 : 14.4, 1e-9);
      tailvolt_system_free(system);
    }
    remedy_close_job(&job, before);
  }
}

/* Two amplifiers on one thin feed: a feed of its own helps the worst one, and is fused at the battery. */
static void test_feed_of_its_own(void **state) {
  (void)state;
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  remedy_open_job(&job, &options, remedy_points, remedy_idling, &before);
  int family = tv_plan_family(&job.plan, TAILVOLT_CURE_OWN_FEED);
  assert_true(family >= 0);
  /* no size of it is too thin for that amplifier */
  const struct tailvolt_amplifier *bass = &job.system->amplifiers[0];
  double full_a = bass->rated_w / (bass->efficiency_frac * bass->rated_v);
  for (int k = 1; k <= job.plan.family[family].size_step_count; k++) {
    struct tv_choice choice = {{0}};
    struct tailvolt_system *system = NULL;
    char error[TAILVOLT_TEXT_MAX];
    choice.size_step[family] = (signed char)k;
    assert_int_equal(tv_try_settings(&job, &choice, NULL, &system, error), TAILVOLT_OK);
    assert_true(remedy_fuse(system, "bass feed")->rating_a >= full_a);
    assert_true(tv_safety_ampacity_a(system, remedy_cable(system, "bass feed")) >= full_a);
    tailvolt_system_free(system);
  }
  struct tv_trial trial = {.ideal = -1, .to_the_end = true}, nothing = {.ideal = -1, .to_the_end = true};
  trial.choice.size_step[family] = 1;
  assert_int_equal(tv_try(&job, &trial, 1), TAILVOLT_OK);
  assert_int_equal(tv_try(&job, &nothing, 1), TAILVOLT_OK);
  assert_true(tv_margin_v(trial.result) > tv_margin_v(nothing.result) + 0.1);
  for (int k = 0; k < trial.result->reason_count; k++)
    /* the stud is not part of the feed, and hot with either */
    if (trial.result->reasons[k].topic == TAILVOLT_ABOUT_SAFETY && trial.result->reasons[k].status == TAILVOLT_FAILS &&
        trial.result->reasons[k].about.kind != TAILVOLT_PART_JOINT)
      fail_msg("a finding of kind %d is left", (int)trial.result->reasons[k].finding.kind);
  tv_trial_clear(&trial);
  tv_trial_clear(&nothing);
  remedy_close_job(&job, before);
}

/* Each cure carries its own hazards. */
static void test_every_cure_has_its_cautions(void **state) {
  (void)state;
  static const struct {
    enum tailvolt_cure cure;
    const char *words[2];
  } wanted[] = {{TAILVOLT_CURE_FEED, {"grommet", "airbag"}},
                {TAILVOLT_CURE_GROUND, {"bare metal", "rust"}},
                {TAILVOLT_CURE_RETURN, {"body ground", "signal leads"}},
                {TAILVOLT_CURE_CAPACITOR, {"poles", "fuse its lead"}},
                {TAILVOLT_CURE_BATTERY, {"vent tube", "battery management"}},
                {TAILVOLT_CURE_SECOND_BATTERY, {"vented outside", "a fuse at each battery"}},
                {TAILVOLT_CURE_ALTERNATOR, {"charge lead and its fuse", "belt"}},
                {TAILVOLT_CURE_IDLE, {"engine computer allows", "outdoors only"}}};
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  remedy_open_job(&job, &options, remedy_van, remedy_idling, &before);
  for (size_t w = 0; w < sizeof wanted / sizeof wanted[0]; w++) {
    struct tailvolt_remedy_set set = {.change_count = 0};
    struct tv_choice choice = {{0}};
    int family = tv_plan_family(&job.plan, wanted[w].cure);
    assert_true(family >= 0);
    choice.size_step[family] = 1;
    assert_int_equal(tv_cure_cautions(&job, &choice, before, &set), TAILVOLT_OK);
    for (int k = 0; k < 2; k++) {
      bool said = false;
      for (int c = 0; c < set.caution_count; c++) said = said || remedy_warns_of(&set.cautions[c], wanted[w].words[k]);
      if (!said) fail_msg("cure %d does not warn of `%s`", wanted[w].cure, wanted[w].words[k]);
    }
    free(set.cautions);
  }
  remedy_close_job(&job, before);
}

/* A set that failed rules out those with no more of anything; one that could not be run, itself alone. */
static void test_what_a_trial_says_of_others(void **state) {
  (void)state;
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  remedy_open_job(&job, &options, remedy_van, remedy_idling, &before);
  int feed = tv_plan_family(&job.plan, TAILVOLT_CURE_FEED), capacitor = tv_plan_family(&job.plan, TAILVOLT_CURE_CAPACITOR);
  assert_true(feed >= 0 && capacitor >= 0);
  struct tv_trial tried = {.done = true};
  struct tv_choice less = {{0}}, more = {{0}};
  tried.choice.size_step[feed] = tried.choice.size_step[capacitor] = 2;
  less.size_step[feed] = 1;
  more.size_step[feed] = 3;
  assert_true(tv_rules_out(&job.plan, &tried, &less) && tv_rules_out(&job.plan, &tried, &tried.choice));
  assert_false(tv_rules_out(&job.plan, &tried, &more));
  tried.refused = true; /* for its capacitor */
  assert_false(tv_rules_out(&job.plan, &tried, &less));
  tried = (struct tv_trial){.choice = tried.choice};
  assert_true(tv_rules_out(&job.plan, &tried, &tried.choice));
  assert_false(tv_rules_out(&job.plan, &tried, &less));
  remedy_close_job(&job, before);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_every_cure_is_accepted),
                                     cmocka_unit_test(test_second_battery_has_its_relay_in_front),
                                     cmocka_unit_test(test_second_battery_charged_by_computer),
                                     cmocka_unit_test(test_second_battery_never_joined),
                                     cmocka_unit_test(test_feed_of_its_own),
                                     cmocka_unit_test(test_every_cure_has_its_cautions),
                                     cmocka_unit_test(test_what_a_trial_says_of_others)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
