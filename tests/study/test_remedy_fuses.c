/* Remedy: the fuses and relays of what it makes of a car. */
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
  struct tailvolt_system *system = remedy_with_largest(&job, NULL);
  assert_near(remedy_fuse(system, "main")->rating_a, 100.0, 0.0);
  assert_int_equal(tv_fuses_cut_short(job.system, system, &cut), TAILVOLT_OK);
  assert_true(cut);
  tailvolt_system_free(system);
  system = remedy_with_largest(&job, &feed);
  assert_near(remedy_fuse(system, "main")->rating_a, 175.0, 0.0);
  assert_int_equal(tv_fuses_cut_short(job.system, system, &cut), TAILVOLT_OK);
  assert_false(cut);
  tailvolt_system_free(system);
  struct tv_trial trial = {.ideal = -1, .to_the_end = true};
  assert_int_equal(tv_try(&job, &trial, 1), TAILVOLT_OK);
  assert_true(trial.result->status == TAILVOLT_HOLDS && !trial.meets);
  tv_trial_clear(&trial);
  remedy_close_job(&job, before);

  remedy_open_job(&job, &options, wired, remedy_idling, &before);
  system = remedy_with_largest(&job, &alternator);
  assert_near(system->alternator.rated_a, 260.0, 0.0);
  assert_true(remedy_fuse(system, "charge")->rating_a >= 260.0);
  assert_near(remedy_fuse(system, "link")->rating_a, 150.0, 0.0);
  assert_true(system->isolators[0].rating_a > 70.0);
  tailvolt_system_free(system);
  remedy_close_job(&job, before);
}

/* A bare feed gets its fuse, and a fuse above its cable is brought down. */
static void test_fuses_put_right(void **state) {
  (void)state;
  static char bare[2048];
  const char *feed = strstr(remedy_points, "[fuse main]"), *after = strstr(remedy_points, "[cable feed]");
  snprintf(bare, sizeof bare, "%.*s%s", (int)(feed - remedy_points), remedy_points, after);
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
    remedy_open_job(&job, &options, k == 0 ? bare : remedy_points, remedy_idling, &before);
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
    struct tailvolt_system *system = remedy_with_largest(&job, NULL);
    assert_true(remedy_fuse(system, "main")->distance_m <= 0.3 + 1e-9);
    if (cases[k].rating_a > 0.0) assert_near(remedy_fuse(system, "main")->rating_a, cases[k].rating_a, 0.0);
    else assert_true(remedy_fuse(system, "main")->rating_a < 300.0);
    tailvolt_system_free(system);
    remedy_free_set(&set);
    remedy_close_job(&job, before);
  }
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
    struct tailvolt_system *system = remedy_with_largest(&job, &second);
    const char *const fuses[] = {"main", "second"};
    for (int f = 0; f < 2; f++) {
      const struct tailvolt_conductor *fuse = remedy_fuse(system, fuses[f]);
      double largest_a = tv_safety_largest_fuse_a(system, remedy_cable(system, "feed"), TAILVOLT_BOLT_DOWN);
      assert_true(fuse->rating_a <= largest_a);
      assert_true(fuse->rating_a >= fmin(system->isolators[0].rating_a, largest_a) - 1e-9);
    }
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
    struct tailvolt_system *system = remedy_with_largest(&job, &converter);
    const struct tailvolt_isolator *now = &system->isolators[0];
    rating_a[k] = remedy_fuse(system, "second feed")->rating_a;
    assert_true(0.75 * rating_a[k] >= now->output_v * now->output_a / 12.0 / now->efficiency_frac);
    tailvolt_system_free(system);
    remedy_close_job(&job, before);
  }
  assert_near(rating_a[0], rating_a[1], 0.0);
}

/* Where the fuse alone is wrong nothing else is needed, and the answers say so. */
static void test_only_the_fuse_is_wrong(void **state) {
  (void)state;
  const char *catalogue = remedy_catalogue_file("part,size,cost\ncapacitor,1 F,20\n");
  struct tailvolt_remedy_options options = remedy_options_with(catalogue);
  struct tailvolt_remedy *remedy = remedy_find("[battery]\ncapacity = 95 Ah\n[alternator]\nrated current = 150 A\n[amplifier bass]\n"
                                               "rated power = 300 W\n[cable feed]\nsize = 1/0 AWG\nlength = 5 m\n"
                                               "[fuse main]\nrating = 60 A\ndistance = 2 m\n", remedy_idling, &options);
  assert_true(remedy->before->status == TAILVOLT_HOLDS && remedy->before->safety == TAILVOLT_FAILS);
  assert_true(remedy->found && !remedy->met_before);
  assert_string_equal(remedy->chosen.what, "fuses put right");
  assert_int_equal(remedy->answers[0].cure, TAILVOLT_CURE_CAPACITOR);
  assert_int_equal(remedy->answers[0].kind, TAILVOLT_ANSWER_NOT_NEEDED);
  tailvolt_remedy_free(remedy);
  unlink(catalogue);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_fuses_let_pass_what_is_taken),
                                     cmocka_unit_test(test_fuses_put_right),
                                     cmocka_unit_test(test_fuse_brought_near),
                                     cmocka_unit_test(test_fuses_beside_a_second_battery),
                                     cmocka_unit_test(test_fuse_before_a_bigger_converter),
                                     cmocka_unit_test(test_only_the_fuse_is_wrong)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
