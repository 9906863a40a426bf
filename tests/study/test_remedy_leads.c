/* Remedy: the leads that it lays: their sizes, what they replace, what they cost. */
#include "support/assert_near.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/safety.h"
#include "study/remedy.h"
#include "support/remedy_scene.h"
#include "support/scenes.h"
#include "support/systems.h"
#include "tailvolt/report.h"

/* Two amplifiers behind a block. */
static const char block[] =
    "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[cable feed]\nsize = 8 AWG\nlength = 5 m\n"
    "[amplifier bass]\nrated power = 1200 W\n[cable bass]\nsize = 10 AWG\nlength = 1 m\n"
    "[amplifier tops]\nrated power = 200 W\n[cable tops]\nsize = 14 AWG\nlength = 60 cm\n";

/* Behind a block the feed gets what all amplifiers call for, each lead and its ground what its own does: enough to lose no more than
 * 0.15 V, and to carry it. The fuses let that pass, and no more than is needed. */
static void test_leads_sized_by_their_amplifier(void **state) {
  (void)state;
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  remedy_open_job(&job, &options, block, remedy_idling, &before);
  const enum tailvolt_cure feed = TAILVOLT_CURE_FEED;
  struct tailvolt_system *system = remedy_with_largest(&job, &feed);
  assert_string_equal(remedy_cable(system, "feed")->size, "4/0 AWG");
  const char *size[] = {"", ""};
  for (int k = 0; k < system->amplifier_count; k++) {
    const struct tailvolt_amplifier *a = &system->amplifiers[k];
    const struct tailvolt_conductor *lead = remedy_cable(system, a->name);
    char ground[TAILVOLT_NAME_MAX + 8];
    snprintf(ground, sizeof ground, "%s ground", a->name);
    double full_a = a->rated_w / (a->efficiency_frac * a->rated_v);
    assert_true((lead->resistance_ohm + remedy_cable(system, ground)->resistance_ohm) * full_a < 0.15);
    assert_true(tv_safety_ampacity_a(system, lead) >= full_a);
    assert_string_equal(remedy_cable(system, ground)->size, lead->size);
    size[k] = lead->size;
  }
  /* 104 A over 2 m, there and back: 2 AWG loses 0.11 V, 4 AWG 0.17 V; 17 A: 8 AWG is the least on offer */
  assert_string_equal(size[0], "2 AWG");
  assert_string_equal(size[1], "8 AWG");
  assert_true(remedy_fuse(system, "main")->rating_a >= 104.0 + 17.0 && remedy_fuse(system, "main")->rating_a <= 150.0);
  assert_near(remedy_fuse(system, "bass")->rating_a, 125.0, 0.0);
  assert_near(remedy_fuse(system, "tops")->rating_a, 20.0, 0.0);
  tailvolt_system_free(system);
  remedy_close_job(&job, before);
}

/* What is laid is listed lead by lead, each with its own size and length, and what it replaces; the words own up to the thinner ones. */
static void test_leads_are_listed(void **state) {
  (void)state;
  static const struct {
    const char *name, *size, *before;
    double length_m;
  } wanted[] = {{"feed", "4/0 AWG", "8 AWG", 5.0}, {"bass", "2 AWG", "10 AWG", 1.0}, {"tops", "8 AWG", "14 AWG", 0.6},
                {"bass ground", "2 AWG", "10 AWG", 1.0}, {"tops ground", "8 AWG", "14 AWG", 1.0}, {"second ground", "4/0 AWG", NULL, 0.5},
                {"second lead", "4/0 AWG", NULL, 0.5}};
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tailvolt_remedy_set set = {.change_count = 0};
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  remedy_open_job(&job, &options, block, remedy_idling, &before);
  int feed = tv_plan_family(&job.plan, TAILVOLT_CURE_FEED), second = tv_plan_family(&job.plan, TAILVOLT_CURE_SECOND_BATTERY);
  assert_true(feed >= 0 && second >= 0);
  struct tv_trial trial = {.ideal = -1};
  trial.choice.size_step[feed] = (signed char)job.plan.family[feed].size_step_count;
  trial.choice.size_step[second] = 1;
  assert_int_equal(tv_remedy_make_set(&job, &trial, false, before, &set), TAILVOLT_OK);
  assert_non_null(strstr(set.what, "4/0 AWG feed and ground (small leads thinner)"));
  assert_int_equal(set.lead_count, sizeof wanted / sizeof wanted[0]);
  for (size_t w = 0; w < sizeof wanted / sizeof wanted[0]; w++) {
    const struct tailvolt_remedy_lead *lead = NULL;
    for (int k = 0; k < set.lead_count; k++)
      if (strcmp(set.leads[k].name, wanted[w].name) == 0) lead = &set.leads[k];
    if (lead == NULL) fail_msg("%s is not listed", wanted[w].name);
    assert_string_equal(lead->size, wanted[w].size);
    assert_string_equal(lead->before, wanted[w].before != NULL ? wanted[w].before : "");
    assert_true(lead->added == (wanted[w].before == NULL));
    assert_near(lead->length_m, wanted[w].length_m, 1e-9);
  }
  remedy_free_set(&set);
  remedy_close_job(&job, before);
}

/* A lead that two families of a set would lay is paid for once, as the thicker of the two. */
static void test_leads_are_paid_for_once(void **state) {
  (void)state;
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  remedy_open_job(&job, &options, remedy_van, remedy_idling, &before);
  const struct tv_plan *plan = &job.plan;
  const enum tailvolt_cure pairs[2][2] = {{TAILVOLT_CURE_FEED, TAILVOLT_CURE_GROUND}, {TAILVOLT_CURE_ALTERNATOR, TAILVOLT_CURE_STRAPS}};
  const enum tv_work works[2] = {TV_WORK_GROUND, TV_WORK_STRAP};
  const struct tv_part_list *lists[2] = {&plan->places.ground, &plan->places.strap};
  for (int p = 0; p < 2; p++) {
    struct tv_choice one = {{0}}, other = {{0}}, both = {{0}};
    int a = tv_plan_family(plan, pairs[p][0]), b = tv_plan_family(plan, pairs[p][1]);
    assert_true(a >= 0 && b >= 0);
    one.size_step[a] = both.size_step[a] = (signed char)plan->family[a].size_step_count;
    other.size_step[b] = both.size_step[b] = 1; /* the thinnest */
    const struct tv_stock_item *thin = plan->family[b].size_step[0].item, *work = tv_catalogue_work(plan->catalogue, works[p]);
    double cost = 0.0, effort_h = 0.0;
    const struct tv_stock_item *thickest = plan->family[a].size_step[one.size_step[a] - 1].item;
    for (int k = 0; k < lists[p]->count; k++) {
      int part = lists[p]->part[k];
      const struct tv_stock_item *laid =
          p == 0 ? tv_plan_size(plan, lists[p], k, thickest) : tv_plan_lead(plan, part, thickest->value);
      const struct tv_stock_item *again = tv_plan_size(plan, lists[p], k, thin);
      if (laid == NULL || again == NULL) continue;
      assert_true(again->value >= laid->value);
      cost += job.system->conductors[part].length_m * again->cost_per_m + work->cost + plan->catalogue->hour_cost * work->effort_h;
      effort_h += work->effort_h;
    }
    assert_true(effort_h > 0.0);
    assert_near(tv_plan_effort_h(plan, &both), tv_plan_effort_h(plan, &one) + tv_plan_effort_h(plan, &other) - effort_h, 1e-9);
    assert_near(tv_plan_cost(plan, &both), tv_plan_cost(plan, &one) + tv_plan_cost(plan, &other) - cost, 1e-9);
  }
  remedy_close_job(&job, before);
}

/* A set with ground leads no thicker than those of its feed is the set without them. */
static void test_ground_that_a_feed_takes_along(void **state) {
  (void)state;
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  remedy_open_job(&job, &options, remedy_van, remedy_idling, &before);
  int feed = tv_plan_family(&job.plan, TAILVOLT_CURE_FEED), ground = tv_plan_family(&job.plan, TAILVOLT_CURE_GROUND);
  assert_true(feed >= 0 && ground >= 0);
  for (int f = 0; f <= job.plan.family[feed].size_step_count; f++)
    for (int g = 0; g <= job.plan.family[ground].size_step_count; g++) {
      struct tv_choice both = {{0}}, alone = {{0}};
      struct tailvolt_system *system = NULL, *without = NULL;
      char error[TAILVOLT_TEXT_MAX];
      both.size_step[feed] = alone.size_step[feed] = (signed char)f;
      both.size_step[ground] = (signed char)g;
      assert_int_equal(tv_try_settings(&job, &both, NULL, &system, error), TAILVOLT_OK);
      assert_int_equal(tv_try_settings(&job, &alone, NULL, &without, error), TAILVOLT_OK);
      bool same = true;
      for (int c = 0; c < system->conductor_count; c++)
        same = same && system->conductors[c].resistance_ohm == without->conductors[c].resistance_ohm;
      assert_true(tv_plan_is_redundant(&job.plan, &both) == (same && f > 0 && g > 0));
      tailvolt_system_free(system);
      tailvolt_system_free(without);
    }
  remedy_close_job(&job, before);
}

/* Beside a feed that was measured, counted or doubled, a second battery's ground lead is the next thicker one on offer. */
static void test_ground_like_a_feed_of_no_size(void **state) {
  (void)state;
  static const struct {
    const char *feed, *ground;
  } cases[] = {{"size = 4 AWG\n", "4 AWG"},
               {"size = 2 x 4 AWG\n", "1/0 AWG"},         /* 42 mm2 */
               {"size = 20 mm2\n", "20 mm2"},
               {"strands = 160 x 0.4 mm\n", "25 mm2"},    /* 20.1 mm2 */
               {"measured drop = 0.25 V at 50 A\n", "25 mm2"}, /* 1 mohm/m is 17.5 mm2 */
               {"per metre = 0.1 mohm\n", "95 mm2"}};
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
    char text[512];
    struct tv_remedy_job job;
    struct tailvolt_result *before;
    snprintf(text, sizeof text, "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\n"
                                "rated power = 1000 W\n[cable feed]\n%slength = 5 m\n", cases[k].feed);
    remedy_open_job(&job, &options, text, remedy_idling, &before);
    const enum tailvolt_cure second = TAILVOLT_CURE_SECOND_BATTERY;
    struct tailvolt_system *system = remedy_with_largest(&job, &second);
    assert_string_equal(remedy_cable(system, "second ground")->size, cases[k].ground);
    tailvolt_system_free(system);
    remedy_close_job(&job, before);
  }
}

/* A bigger alternator's charge lead is one copper cable that bears its current, in place of two thin ones or of aluminium. */
static void test_charge_lead_of_a_bigger_alternator(void **state) {
  (void)state;
  static const char *const leads[] = {"size = 2 x 10 mm2\n", "size = 25 mm2\nmaterial = clad aluminium\n"};
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  for (size_t k = 0; k < sizeof leads / sizeof leads[0]; k++) {
    char text[512];
    struct tv_remedy_job job;
    struct tailvolt_result *before;
    snprintf(text, sizeof text, "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 90 A\n[amplifier bass]\nrated power = 800 W\n"
                                "[cable feed]\nsize = 4 AWG\nlength = 5 m\n[cable charge lead]\nlength = 1 m\n%s", leads[k]);
    remedy_open_job(&job, &options, text, remedy_idling, &before);
    int family = tv_plan_family(&job.plan, TAILVOLT_CURE_ALTERNATOR);
    assert_true(family >= 0);
    for (int size = 1; size <= job.plan.family[family].size_step_count; size++) {
      struct tv_choice choice = {{0}};
      struct tailvolt_system *system = NULL;
      char error[TAILVOLT_TEXT_MAX];
      choice.size_step[family] = (signed char)size;
      if (tv_try_settings(&job, &choice, NULL, &system, error) != TAILVOLT_OK) fail_msg("%s", error);
      const struct tailvolt_conductor *lead = remedy_cable(system, "charge lead");
      assert_true(tv_safety_ampacity_a(system, lead) >= system->alternator.rated_a);
      assert_true(lead->parallel <= 1 && lead->material == TAILVOLT_COPPER);
      tailvolt_system_free(system);
    }
    remedy_close_job(&job, before);
  }
}

/* Copper in place of clad cable is called so: the size alone may be the one that it has. */
static void test_copper_is_named(void **state) {
  (void)state;
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  remedy_open_job(&job, &options,
                  "[battery]\ncapacity = 55 Ah\n[alternator]\nrated current = 90 A\n[amplifier sub]\nrated power = 500 W\n"
                  "[cable feed]\nsize = 8 AWG\nlength = 5 m\nmaterial = clad aluminium\n",
                  remedy_idling, &before);
  int family = tv_plan_family(&job.plan, TAILVOLT_CURE_FEED);
  assert_true(family >= 0);
  assert_string_equal(job.plan.family[family].size_step[0].what, "8 AWG copper feed and ground");
  remedy_close_job(&job, before);
}

/* Terminals that take 1/0 AWG do not take 2/0; straps and charge leads end in lugs. */
static void test_cable_thicker_than_terminals(void **state) {
  (void)state;
  static const enum tailvolt_cure cures[] = {TAILVOLT_CURE_FEED, TAILVOLT_CURE_GROUND, TAILVOLT_CURE_RETURN, TAILVOLT_CURE_STRAPS};
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  remedy_open_job(&job, &options, remedy_van, remedy_idling, &before);
  for (size_t c = 0; c < sizeof cures / sizeof cures[0]; c++) {
    int family = tv_plan_family(&job.plan, cures[c]);
    assert_true(family >= 0);
    for (int k = 0; k < job.plan.family[family].size_step_count; k++) {
      const char *size = job.plan.family[family].size_step[k].item->size;
      bool wanted = cures[c] != TAILVOLT_CURE_STRAPS && (strcmp(size, "2/0 AWG") == 0 || strcmp(size, "4/0 AWG") == 0), said = false;
      struct tailvolt_remedy_set set = {.change_count = 0};
      struct tv_choice choice = {{0}};
      choice.size_step[family] = (signed char)(k + 1);
      assert_int_equal(tv_cure_cautions(&job, &choice, before, &set), TAILVOLT_OK);
      for (int w = 0; w < set.caution_count; w++) said = said || remedy_warns_of(&set.cautions[w], "thicker than 1/0 AWG");
      if (said != wanted) fail_msg("%s of cure %d", size, (int)cures[c]);
      free(set.cautions);
    }
  }
  remedy_close_job(&job, before);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_leads_sized_by_their_amplifier),
                                     cmocka_unit_test(test_leads_are_listed),
                                     cmocka_unit_test(test_charge_lead_of_a_bigger_alternator),
                                     cmocka_unit_test(test_leads_are_paid_for_once),
                                     cmocka_unit_test(test_ground_that_a_feed_takes_along),
                                     cmocka_unit_test(test_ground_like_a_feed_of_no_size),
                                     cmocka_unit_test(test_copper_is_named),
                                     cmocka_unit_test(test_cable_thicker_than_terminals)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
