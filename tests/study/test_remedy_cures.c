/* Remedy: what each cure makes of a car. Every set reads back, and is safe; leads, fuses, ground and relay of what is added. */
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

/* Every set that a plan can compose reads back without a fault, in the standard car and in a file of points, and
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

static const char points[] =
    "[alternator]\npositive = alternator post\nnegative = block\nrated current = 110 A\nlow current = 52 A\n"
    "[battery starter]\npositive = post\ncapacity = 70 Ah\ncold cranking = 640 A EN\n"
    "[cable charge lead]\nfrom = alternator post\nto = post\nsize = 25 mm2\nlength = 1.2 m\n"
    "[strap engine]\nfrom = block\nto = body\nsize = 25 mm2\nlength = 0.5 m\n"
    "[cable negative lead]\nfrom = body\nto = ground\nsize = 25 mm2\nlength = 0.6 m\n"
    "[fuse main]\nfrom = post\nto = fused\nrating = 80 A\ndistance = 30 cm\n"
    "[cable feed]\nfrom = fused\nto = plus\nsize = 10 mm2\nlength = 5.5 m\n"
    "[cable earth]\nfrom = minus\nto = stud\nsize = 10 mm2\nlength = 0.8 m\n"
    "[joint stud]\nfrom = stud\nto = body\nresistance = 4 mohm\n"
    "[amplifier bass]\npositive = plus\nnegative = minus\nrated power = 800 W\n"
    "[amplifier voices]\npositive = plus\nnegative = minus\nrated power = 200 W\n";

static void test_every_cure_is_accepted(void **state) {
  (void)state;
  every_cure_is_accepted(remedy_van, remedy_idling);
  every_cure_is_accepted(points, remedy_idling);
}

static const struct tailvolt_conductor *cable_of(const struct tailvolt_system *system, const char *name) {
  for (int k = 0; k < system->conductor_count; k++)
    if (system->conductors[k].kind == TAILVOLT_CABLE && strcmp(system->conductors[k].name, name) == 0) return &system->conductors[k];
  fail_msg("no cable `%s`", name);
  return NULL;
}

static const struct tailvolt_conductor *fuse_of(const struct tailvolt_system *system, const char *name) {
  for (int k = 0; k < system->conductor_count; k++)
    if (system->conductors[k].kind == TAILVOLT_FUSE && strcmp(system->conductors[k].name, name) == 0) return &system->conductors[k];
  fail_msg("no fuse `%s`", name);
  return NULL;
}

/* What a choice of one family's largest (NULL: of none) makes of a car. */
static struct tailvolt_system *with_largest(struct tv_remedy_job *job, const enum tailvolt_cure *cure) {
  struct tv_choice choice = {{0}};
  struct tailvolt_system *system = NULL;
  char error[TAILVOLT_TEXT_MAX];
  int family = cure != NULL ? tv_plan_family(&job->plan, *cure) : 0;
  assert_true(family >= 0);
  if (cure != NULL) choice.size_step[family] = (signed char)job->plan.family[family].size_step_count;
  if (tv_try_settings(job, &choice, NULL, &system, error) != TAILVOLT_OK) fail_msg("%s", error);
  return system;
}

/* A cable that bears less than its amplifier takes is no remedy, even if the music's mean goes through the smaller fuse; a fuse
 * before an alternator grows with it, and a relay is rated for its inrush. */
static void test_fuses_let_pass_what_is_taken(void **state) {
  (void)state;
  static const char thin[] =
      "[battery]\ncapacity = 95 Ah\n[alternator]\nrated current = 200 A\n[cable feed]\nsize = 4 AWG\nlength = 2 m\n[fuse main]\n"
      "rating = 150 A\n[amplifier bass]\nrated power = 2000 W\n[programme music]\ncrest factor = 20 dB\n";
  static const char wired[] =
      "[alternator]\npositive = alternator post\nnegative = body\nrated current = 110 A\n"
      "[fuse charge]\nfrom = alternator post\nto = charge\nrating = 125 A\n"
      "[cable charge lead]\nfrom = charge\nto = post\nsize = 25 mm2\nlength = 1.2 m\n"
      "[battery starter]\npositive = post\nnegative = body\ncapacity = 70 Ah\ncold cranking = 640 A EN\n"
      "[battery second]\npositive = second post\nnegative = body\ncapacity = 60 Ah\nkind = AGM\n[engine]\nstarts from = starter\n"
      "[isolator]\nfrom = post\nto = link\nkind = relay\nrating = 70 A\n"
      "[fuse link]\nfrom = link\nto = link end\nrating = 150 A\n"
      "[cable link]\nfrom = link end\nto = second post\nsize = 50 mm2\nlength = 1 m\n"
      "[amplifier bass]\npositive = second post\nnegative = body\nrated power = 800 W\n";
  const enum tailvolt_cure feed = TAILVOLT_CURE_FEED, alternator = TAILVOLT_CURE_ALTERNATOR;
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  bool cut;
  remedy_open_job(&job, &options, thin, remedy_idling, &before);
  struct tailvolt_system *system = with_largest(&job, NULL);
  assert_near(fuse_of(system, "main")->rating_a, 100.0, 0.0);
  assert_int_equal(tv_fuses_cut_short(job.system, system, &cut), TAILVOLT_OK);
  assert_true(cut);
  tailvolt_system_free(system);
  system = with_largest(&job, &feed);
  assert_near(fuse_of(system, "main")->rating_a, 175.0, 0.0);
  assert_int_equal(tv_fuses_cut_short(job.system, system, &cut), TAILVOLT_OK);
  assert_false(cut);
  tailvolt_system_free(system);
  struct tv_trial trial = {.ideal = -1, .to_the_end = true};
  assert_int_equal(tv_try(&job, &trial, 1), TAILVOLT_OK);
  assert_true(trial.result->status == TAILVOLT_HOLDS && !trial.meets);
  tv_trial_clear(&trial);
  remedy_close_job(&job, before);

  remedy_open_job(&job, &options, wired, remedy_idling, &before);
  system = with_largest(&job, &alternator);
  assert_near(system->alternator.rated_a, 260.0, 0.0);
  assert_true(fuse_of(system, "charge")->rating_a >= 260.0);
  assert_near(fuse_of(system, "link")->rating_a, 150.0, 0.0);
  assert_true(system->isolators[0].rating_a > 70.0);
  tailvolt_system_free(system);
  remedy_close_job(&job, before);
}

/* Behind a block the feed gets what all amplifiers call for, each lead and its ground what its own does: enough to lose no more than
 * 0.15 V, and to carry it. The fuses let that pass, and no more than is needed. */
static void test_leads_sized_by_their_amplifier(void **state) {
  (void)state;
  static const char block[] =
      "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[cable feed]\nsize = 8 AWG\nlength = 5 m\n"
      "[amplifier bass]\nrated power = 1200 W\n[cable bass]\nsize = 10 AWG\nlength = 1 m\n"
      "[amplifier tops]\nrated power = 200 W\n[cable tops]\nsize = 14 AWG\nlength = 1 m\n";
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  remedy_open_job(&job, &options, block, remedy_idling, &before);
  const enum tailvolt_cure feed = TAILVOLT_CURE_FEED;
  struct tailvolt_system *system = with_largest(&job, &feed);
  assert_string_equal(cable_of(system, "feed")->size, "4/0 AWG");
  const char *size[] = {"", ""};
  for (int k = 0; k < system->amplifier_count; k++) {
    const struct tailvolt_amplifier *a = &system->amplifiers[k];
    const struct tailvolt_conductor *lead = cable_of(system, a->name);
    char ground[TAILVOLT_NAME_MAX + 8];
    snprintf(ground, sizeof ground, "%s ground", a->name);
    double full_a = a->rated_w / (a->efficiency_frac * a->rated_v);
    assert_true((lead->resistance_ohm + cable_of(system, ground)->resistance_ohm) * full_a < 0.15);
    assert_true(tv_safety_ampacity_a(system, lead) >= full_a);
    assert_string_equal(cable_of(system, ground)->size, lead->size);
    size[k] = lead->size;
  }
  /* 104 A over 2 m: 2 AWG loses 0.11 V, 4 AWG 0.17 V; 17 A: 8 AWG is the least on offer */
  assert_string_equal(size[0], "2 AWG");
  assert_string_equal(size[1], "8 AWG");
  assert_true(fuse_of(system, "main")->rating_a >= 104.0 + 17.0 && fuse_of(system, "main")->rating_a <= 150.0);
  assert_near(fuse_of(system, "bass")->rating_a, 125.0, 0.0);
  assert_near(fuse_of(system, "tops")->rating_a, 20.0, 0.0);
  tailvolt_system_free(system);
  remedy_close_job(&job, before);
}

/* What is laid is listed lead by lead, each with its own size and length, and what it replaces; the words own up to the thinner ones. */
static void test_leads_are_listed(void **state) {
  (void)state;
  static const char block[] =
      "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[cable feed]\nsize = 8 AWG\nlength = 5 m\n"
      "[amplifier bass]\nrated power = 1200 W\n[cable bass]\nsize = 10 AWG\nlength = 1 m\n"
      "[amplifier tops]\nrated power = 200 W\n[cable tops]\nsize = 14 AWG\nlength = 60 cm\n";
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
  free(set.changes);
  free(set.cautions);
  free(set.fuses);
  free(set.leads);
  remedy_close_job(&job, before);
}

/* The fuses between a second battery and the first let pass what the one takes from the other: they are as large as the relay, or as the
 * cable allows. */
static void test_fuses_beside_a_second_battery(void **state) {
  (void)state;
  static const char *const feeds[] = {"8 AWG", "4 AWG", "1/0 AWG", "4/0 AWG"};
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  for (size_t k = 0; k < sizeof feeds / sizeof feeds[0]; k++) {
    char text[512];
    struct tv_remedy_job job;
    struct tailvolt_result *before;
    snprintf(text, sizeof text, "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\n"
                                "rated power = 300 W\n[cable feed]\nsize = %s\nlength = 5 m\n[fuse main]\nrating = 30 A\n", feeds[k]);
    remedy_open_job(&job, &options, text, remedy_idling, &before);
    const enum tailvolt_cure second = TAILVOLT_CURE_SECOND_BATTERY;
    struct tailvolt_system *system = with_largest(&job, &second);
    const char *const fuses[] = {"main", "second"};
    for (int f = 0; f < 2; f++) {
      const struct tailvolt_conductor *fuse = fuse_of(system, fuses[f]);
      double largest_a = tv_safety_largest_fuse_a(system, cable_of(system, "feed"), TAILVOLT_BOLT_DOWN);
      assert_true(fuse->rating_a <= largest_a);
      assert_true(fuse->rating_a >= fmin(system->isolators[0].rating_a, largest_a) - 1e-9);
    }
    tailvolt_system_free(system);
    remedy_close_job(&job, before);
  }
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
    struct tailvolt_system *system = with_largest(&job, &second);
    assert_string_equal(cable_of(system, "second ground")->size, cases[k].ground);
    tailvolt_system_free(system);
    remedy_close_job(&job, before);
  }
}

/* The fuse before a bigger converter carries what that draws for hours, whether the file states it or the standard car chose it. */
static void test_fuse_before_a_bigger_converter(void **state) {
  (void)state;
  static const char camper[] =
      "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 160 A\n[battery second]\ncapacity = 60 Ah\nkind = AGM\n"
      "[isolator]\nkind = converter\noutput = 12 A at 14.4 V\nrating = 15 A\n[cable second feed]\nsize = 1/0 AWG\nlength = 5 m\n%s"
      "[amplifier bass]\nsupply from = second\nrated power = 500 W\n[cable feed]\nsize = 2 AWG\nlength = 1 m\n";
  static const char road[] = "time_s,engine_rpm,programme\n0,2500,music\n20,2500,music\n";
  static const char *const stated[] = {"", "[fuse second feed]\nrating = 20 A\n"};
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  double rating_a[2];
  for (int k = 0; k < 2; k++) {
    char text[1024];
    struct tv_remedy_job job;
    struct tailvolt_result *before;
    snprintf(text, sizeof text, camper, stated[k]);
    remedy_open_job(&job, &options, text, road, &before);
    const enum tailvolt_cure converter = TAILVOLT_CURE_CONVERTER;
    struct tailvolt_system *system = with_largest(&job, &converter);
    const struct tailvolt_isolator *now = &system->isolators[0];
    rating_a[k] = fuse_of(system, "second feed")->rating_a;
    assert_true(0.75 * rating_a[k] >= now->output_v * now->output_a / 12.0 / now->efficiency_frac);
    tailvolt_system_free(system);
    remedy_close_job(&job, before);
  }
  assert_near(rating_a[0], rating_a[1], 0.0);
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
      {points, "fused", "plus", "stud", "10 mm2"},
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
    struct tailvolt_system *system = with_largest(&job, &second);
    assert_int_equal(system->isolator_count, 1);
    assert_int_equal(system->isolators[0].from, point_of(system, cases[k].relay_at));
    /* its fuse, and leads of its own, as thick as the feed */
    const struct tailvolt_conductor *fuse = fuse_of(system, "second"), *lead = cable_of(system, "second lead");
    assert_int_equal(fuse->from, system->batteries[1].positive);
    assert_int_equal(lead->from, fuse->to);
    assert_int_equal(lead->to, point_of(system, cases[k].joins));
    assert_string_equal(lead->size, cases[k].size);
    const struct tailvolt_conductor *ground = cable_of(system, "second ground");
    assert_int_equal(ground->from, system->batteries[1].negative);
    assert_int_equal(ground->to, point_of(system, cases[k].ground));
    assert_string_equal(ground->size, cases[k].size);
    tailvolt_system_free(system);
    remedy_close_job(&job, before);
  }
}

/* A bare feed gets its fuse, and a fuse above its cable is brought down. */
static void test_fuses_put_right(void **state) {
  (void)state;
  static char bare[2048];
  const char *feed = strstr(points, "[fuse main]"), *after = strstr(points, "[cable feed]");
  snprintf(bare, sizeof bare, "%.*s%s", (int)(feed - points), points, after);
  char *from = strstr(bare, "from = fused");
  memcpy(from, "from =  post", 12);
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  char error[TAILVOLT_TEXT_MAX];
  for (int k = 0; k < 2; k++) {
    struct tv_choice nothing = {{0}};
    struct tailvolt_system *system = NULL;
    struct tv_finding_list findings = {0, 0, NULL};
    remedy_open_job(&job, &options, k == 0 ? bare : points, remedy_idling, &before);
    assert_int_equal(before->status, TAILVOLT_FAILS);
    assert_int_equal(tv_try_settings(&job, &nothing, NULL, &system, error), TAILVOLT_OK);
    assert_int_equal(tv_safety_check(system, NULL, &findings), TAILVOLT_OK);
    for (int f = 0; f < findings.count; f++) assert_true(findings.finding[f].status != TAILVOLT_FAILS);
    const struct tailvolt_conductor *fuse = NULL;
    for (int c = 0; c < system->conductor_count; c++)
      if (system->conductors[c].kind == TAILVOLT_FUSE) fuse = &system->conductors[c];
    assert_non_null(fuse);
    double ampacity_a;
    int cable;
    assert_int_equal(tv_safety_protected_a(system, (int)(fuse - system->conductors), &ampacity_a, &cable), TAILVOLT_OK);
    assert_true(fuse->rating_a <= ampacity_a);
    tv_finding_list_free(&findings);
    tailvolt_system_free(system);
    remedy_close_job(&job, before);
  }
}

/* A fuse too far from the battery is brought near, and that is work, as any fuse that is fitted or changed. */
static void test_fuse_brought_near(void **state) {
  (void)state;
  static const struct {
    const char *fuse;
    double rating_a;
    int fitted;
  } cases[] = {{"rating = 60 A\ndistance = 2 m\n", 60.0, 1}, {"rating = 60 A\ndistance = 20 cm\n", 60.0, 0},
               {"rating = 300 A\ndistance = 20 cm\n", 0.0, 1}};
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
    char text[512];
    struct tv_remedy_job job;
    struct tailvolt_result *before;
    struct tailvolt_remedy_set set = {.change_count = 0};
    snprintf(text, sizeof text, "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\n"
                                "rated power = 500 W\n[cable feed]\nsize = 4 AWG\nlength = 5 m\n[fuse main]\n%s", cases[k].fuse);
    remedy_open_job(&job, &options, text, remedy_idling, &before);
    struct tv_trial nothing = {.ideal = -1};
    assert_int_equal(tv_remedy_make_set(&job, &nothing, false, before, &set), TAILVOLT_OK);
    const struct tv_stock_item *work = tv_catalogue_work(job.plan.catalogue, TV_WORK_FUSE);
    assert_near(set.effort_h, cases[k].fitted * work->effort_h, 1e-9);
    assert_int_equal(set.change_count > 0, cases[k].fitted > 0);
    struct tailvolt_system *system = with_largest(&job, NULL);
    assert_true(fuse_of(system, "main")->distance_m <= 0.3 + 1e-9);
    if (cases[k].rating_a > 0.0) assert_near(fuse_of(system, "main")->rating_a, cases[k].rating_a, 0.0);
    else assert_true(fuse_of(system, "main")->rating_a < 300.0);
    tailvolt_system_free(system);
    free(set.changes);
    free(set.cautions);
    free(set.fuses);
    free(set.leads);
    remedy_close_job(&job, before);
  }
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
      assert_true(tv_plan_is_idle(&job.plan, &both) == (same && f > 0 && g > 0));
      tailvolt_system_free(system);
      tailvolt_system_free(without);
    }
  remedy_close_job(&job, before);
}

/* Two amplifiers on one thin feed: a feed of its own helps the worst one, and is fused at the battery. */
static void test_feed_of_its_own(void **state) {
  (void)state;
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  remedy_open_job(&job, &options, points, remedy_idling, &before);
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
    assert_true(fuse_of(system, "bass feed")->rating_a >= full_a);
    assert_true(tv_safety_ampacity_a(system, cable_of(system, "bass feed")) >= full_a);
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

static bool warns_of(const struct tailvolt_remedy_caution *caution, const char *words) {
  char text[TAILVOLT_TEXT_MAX];
  tailvolt_remedy_caution_text(caution, false, text, sizeof text);
  return strstr(text, words) != NULL;
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
      for (int c = 0; c < set.caution_count; c++) said = said || warns_of(&set.cautions[c], wanted[w].words[k]);
      if (!said) fail_msg("cure %d does not warn of `%s`", wanted[w].cure, wanted[w].words[k]);
    }
    free(set.cautions);
  }
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
      for (int w = 0; w < set.caution_count; w++) said = said || warns_of(&set.cautions[w], "thicker than 1/0 AWG");
      if (said != wanted) fail_msg("%s of cure %d", size, (int)cures[c]);
      free(set.cautions);
    }
  }
  remedy_close_job(&job, before);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_every_cure_is_accepted),
                                     cmocka_unit_test(test_fuses_let_pass_what_is_taken),
                                     cmocka_unit_test(test_leads_sized_by_their_amplifier),
                                     cmocka_unit_test(test_leads_are_listed), cmocka_unit_test(test_leads_are_paid_for_once),
                                     cmocka_unit_test(test_fuse_before_a_bigger_converter),
                                     cmocka_unit_test(test_ground_like_a_feed_of_no_size),
                                     cmocka_unit_test(test_fuses_beside_a_second_battery),
                                     cmocka_unit_test(test_second_battery_has_its_relay_in_front),
                                     cmocka_unit_test(test_copper_is_named),
                                     cmocka_unit_test(test_fuses_put_right),
                                     cmocka_unit_test(test_feed_of_its_own), cmocka_unit_test(test_fuse_brought_near),
                                     cmocka_unit_test(test_ground_that_a_feed_takes_along),
                                     cmocka_unit_test(test_every_cure_has_its_cautions),
                                     cmocka_unit_test(test_cable_thicker_than_terminals)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
