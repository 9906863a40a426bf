/* Remedy: the cheapest set against every set tried one by one; thicker is never worse; a remedied system needs nothing more; a search
 * that is stopped is partial. Small catalogues and short profiles. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "study/remedy.h"
#include "support/long_case.h"
#include "support/remedy_scene.h"
#include "support/scenes.h"
#include "tailvolt/report.h"

static const char small_catalogue[] =
    "part,size,cost,cost_per_m,effort_h,esr_mohm,cold_cranking_a\nhour,,10,,,,\n"
    "cable,4 AWG,,2,,,\ncable,1/0 AWG,,5,,,\ncable,4/0 AWG,,10,,,\nwork,feed,,,2,,\nwork,fuse,4,,0.2,,\n"
    "capacitor,1 F,20,,0.5,2,\ncapacitor,20 F,90,,0.5,2,\n"
    "battery,80 Ah,60,,0.4,,740\nbattery,110 Ah,95,,0.4,,950\n"
    "alternator,130 A,90,,2,,\nalternator,180 A,140,,2,,\n";

/* Every choice of up to three families, each run to the end: the lowest cost among those that do not fail. */
static double brute_force(const struct tailvolt_remedy_options *options, char what[TAILVOLT_TEXT_MAX], int *tried) {
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  double least = (double)INFINITY;
  remedy_open_job(&job, options, remedy_van, remedy_idling, &before);
  int total = 1;
  for (int k = 0; k < job.plan.family_count; k++) total *= job.plan.family[k].size_step_count + 1;
  *tried = 0;
  for (int n = 0; n < total; n++) {
    struct tv_trial trial = {.ideal = -1, .to_the_end = true};
    int rest = n, families = 0;
    for (int k = 0; k < job.plan.family_count; k++) {
      trial.choice.size_step[k] = (signed char)(rest % (job.plan.family[k].size_step_count + 1));
      rest /= job.plan.family[k].size_step_count + 1;
      families += trial.choice.size_step[k] > 0;
    }
    if (families > 3) continue;
    assert_int_equal(tv_try(&job, &trial, 1), TAILVOLT_OK);
    assert_int_equal(trial.status, TAILVOLT_OK);
    ++*tried;
    double cost = tv_plan_cost(&job.plan, &trial.choice);
    if (trial.meets && cost < least) {
      least = cost;
      tv_plan_say(&job.plan, &trial.choice, false, what, TAILVOLT_TEXT_MAX);
    }
    tv_trial_clear(&trial);
  }
  remedy_close_job(&job, before);
  return least;
}

static void test_same_optimum_as_brute_force(void **state) {
  (void)state;
  LONG_CASE();
  const char *catalogue = remedy_catalogue_file(small_catalogue);
  struct tailvolt_remedy_options options = remedy_options_with(catalogue);
  char what[TAILVOLT_TEXT_MAX] = "";
  int tried;
  options.cheapest = true;
  double least = brute_force(&options, what, &tried);
  assert_true(isfinite(least));
  assert_true(tried > 80);
  struct tailvolt_remedy *remedy = remedy_find(remedy_van, remedy_idling, &options);
  assert_false(remedy->met_before);
  assert_true(remedy->found);
  assert_string_equal(remedy->chosen.what, what);
  assert_near(remedy->chosen.cost, least, 1e-9);
  /* most of them were never needed */
  assert_true(remedy->whole_runs < tried);
  for (int k = 0; k < remedy->runner_up_count; k++)
    assert_true(remedy->runners_up[k].cost >= (k == 0 ? least : remedy->runners_up[k - 1].cost));
  tailvolt_remedy_free(remedy);
  /* nor does the search without pruning find another */
  options.thorough = true;
  remedy = remedy_find(remedy_van, remedy_idling, &options);
  assert_true(remedy->found);
  assert_string_equal(remedy->chosen.what, what);
  tailvolt_remedy_free(remedy);
  unlink(catalogue);
}

/* Each size step of each family is at least as good as the one below it, the fuse matching the cable. */
static void test_more_is_never_worse(void **state) {
  (void)state;
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  remedy_open_job(&job, &options, remedy_van, remedy_idling, &before);
  int cables = 0;
  for (int k = 0; k < job.plan.family_count; k++) {
    enum tailvolt_cure cure = job.plan.family[k].cure;
    bool cable = cure == TAILVOLT_CURE_FEED || cure == TAILVOLT_CURE_GROUND || cure == TAILVOLT_CURE_STRAPS;
    if (!cable && cure != TAILVOLT_CURE_ALTERNATOR && cure != TAILVOLT_CURE_CAPACITOR) continue;
    double last_v = -1e9;
    for (int r = 0; r <= job.plan.family[k].size_step_count; r++) {
      struct tv_trial trial = {.ideal = -1, .to_the_end = true};
      trial.choice.size_step[k] = (signed char)r;
      assert_int_equal(tv_try(&job, &trial, 1), TAILVOLT_OK);
      double margin_v = tv_margin_v(trial.result);
      /* a bank's ESR may be a tenth of a milliohm above the capacitor's before it */
      if (margin_v < last_v - (cure == TAILVOLT_CURE_CAPACITOR ? 0.1 : 1e-3))
        fail_msg("family %d size_step %d: %.4f V after %.4f V", cure, r, margin_v, last_v);
      last_v = margin_v;
      tv_trial_clear(&trial);
    }
    cables += cable;
  }
  assert_int_equal(cables, 3);
  remedy_close_job(&job, before);
}

static void test_remedied_system_needs_nothing(void **state) {
  (void)state;
  LONG_CASE();
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tailvolt_remedy *remedy = remedy_find(remedy_van, remedy_idling, &options), *again;
  char *written;
  assert_true(remedy->found);
  assert_true(remedy->chosen.change_count > 0);
  /* the fuse of a new cable protects it, and is the smallest that lets the amplifier have its 800 W: 69 A */
  assert_true(remedy->chosen.fuse_count > 0);
  assert_near(remedy->chosen.fuses[0].rating_a, 80.0, 1e-9);
  assert_true(remedy->chosen.fuses[0].largest_a >= 80.0);
  assert_int_equal(tailvolt_remedy_write(remedy_van, NULL, 0, &remedy->chosen, &written), TAILVOLT_OK);
  assert_non_null(strstr(written, "# comes first"));
  again = remedy_find(written, remedy_idling, &options);
  assert_true(again->met_before);
  assert_true(again->found);
  assert_int_equal(again->chosen.change_count, 0);
  assert_int_equal(again->shortage, TAILVOLT_SHORTAGE_NONE);
  /* the written system is the one that was simulated */
  assert_true(again->margin_before_v == remedy->chosen.margin_v);
  tailvolt_report_free(written);
  tailvolt_remedy_free(again);
  tailvolt_remedy_free(remedy);
}

static void test_threads_change_nothing(void **state) {
  (void)state;
  LONG_CASE();
  char *text[3];
  for (int threads = 1; threads <= 3; threads++) {
    struct tailvolt_remedy_options options = remedy_options_with(NULL);
    options.threads = threads;
    struct tailvolt_remedy *remedy = remedy_find(remedy_van, remedy_idling, &options);
    assert_int_equal(tailvolt_report_remedy_json(NULL, remedy, &text[threads - 1]), TAILVOLT_OK);
    tailvolt_remedy_free(remedy);
  }
  assert_string_equal(text[0], text[1]);
  assert_string_equal(text[0], text[2]);
  for (int k = 0; k < 3; k++) tailvolt_report_free(text[k]);
}

/* Once each cure alone is known. It never goes back. */
static int stop_later(void *context, double done_frac) {
  double *before_frac = context;
  assert_true(done_frac >= *before_frac && done_frac <= 1.0);
  *before_frac = done_frac;
  return done_frac > 0.35;
}

static void test_stopped_search_is_partial(void **state) {
  (void)state;
  double done_frac = 0.0;
  char error[TAILVOLT_TEXT_MAX], *text;
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  options.threads = 1;
  options.run.progress = stop_later;
  options.run.progress_context = &done_frac;
  struct tailvolt_system *system = scene_parse(remedy_van);
  struct tailvolt_profile *profile = scene_profile(system, remedy_idling);
  struct tailvolt_remedy *remedy = NULL;
  assert_int_equal(tailvolt_remedy(remedy_van, "scene.ini", NULL, 0, profile, &options, &remedy, error), TAILVOLT_STOPPED);
  assert_non_null(remedy);
  assert_true(remedy->partial);
  assert_true(remedy->worth_count > 0);
  assert_true(done_frac < 0.5);
  assert_int_equal(tailvolt_report_remedy_text(NULL, remedy, NULL, &text), TAILVOLT_OK);
  assert_non_null(strstr(text, "stopped early"));
  tailvolt_report_free(text);
  tailvolt_remedy_free(remedy);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

/* Where nothing helps the level is given; at that level it holds, one step louder it does not. */
static void test_level_that_holds(void **state) {
  (void)state;
  const char *catalogue = remedy_catalogue_file("part,size,cost\ncapacitor,0.5 F,20\nlevel,1 dB,\nlevel,2 dB,\nlevel,3 dB,\n"
                                         "level,4 dB,\nlevel,5 dB,\nlevel,6 dB,\nlevel,8 dB,\nlevel,10 dB,\nlevel,15 dB,\n");
  struct tailvolt_remedy_options options = remedy_options_with(catalogue);
  struct tailvolt_remedy *remedy = remedy_find(remedy_van, remedy_idling, &options);
  assert_false(remedy->found);
  assert_true(remedy->level_looked_for);
  assert_true(remedy->level_db < -1.0);
  for (int louder = 0; louder < 2; louder++) {
    char text[1024];
    double step_db = remedy->level_db < -6.0 ? 2.0 : 1.0;
    if (remedy->level_db < -10.0) step_db = 5.0;
    /* the fuse that the standard car chooses is right already, so nothing else changes */
    snprintf(text, sizeof text, "%s[targets]\nmissed at most = 1 %%\n[fuse main]\ndistance = 30 cm\n", remedy_van);
    char *at = strstr(text, "rated power = 800 W\n");
    char with[1200];
    snprintf(with, sizeof with, "%.*slevel offset = %.1f dB\n%s", (int)(at - text), text,
             remedy->level_db + louder * step_db, at);
    struct tailvolt_system *system = scene_parse(with);
    struct tailvolt_profile *profile = scene_profile(system, remedy_idling);
    struct tailvolt_result *result = scene_run(system, profile, &options.run);
    if (louder) assert_int_not_equal(result->status, TAILVOLT_HOLDS);
    else assert_int_equal(result->status, TAILVOLT_HOLDS);
    tailvolt_result_free(result);
    tailvolt_profile_free(profile);
    tailvolt_system_free(system);
  }
  tailvolt_remedy_free(remedy);
  unlink(catalogue);
}

/* A raised idle acts on the profile's idling rows, and still does once it is written. */
static void test_raised_idle(void **state) {
  (void)state;
  LONG_CASE();
  static const char short_at_idle[] =
      "[vehicle]\nbase load = 80 A\n[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n"
      "[amplifier bass]\nrated power = 500 W\n[cable feed]\nsize = 4/0 AWG\nlength = 4 m\n";
  const char *catalogue = remedy_catalogue_file("part,size,cost\nidle,100 rpm,10\nidle,300 rpm,30\nidle,600 rpm,60\n");
  struct tailvolt_remedy_options options = remedy_options_with(catalogue);
  options.run.settle_s = 60.0;
  struct tailvolt_remedy *remedy = remedy_find(short_at_idle, remedy_idling, &options), *again;
  char *written;
  assert_false(remedy->met_before);
  assert_true(remedy->found);
  assert_int_equal(remedy->chosen.change_count, 1);
  assert_string_equal(remedy->chosen.changes[0].key, "engine.idle speed");
  assert_true(remedy->chosen.result->driving.available_a > remedy->before->driving.available_a + 5.0);
  assert_int_equal(tailvolt_remedy_write(short_at_idle, NULL, 0, &remedy->chosen, &written), TAILVOLT_OK);
  again = remedy_find(written, remedy_idling, &options);
  assert_true(again->met_before);
  bool said = false;
  for (int k = 0; k < again->caution_count; k++) said = said || again->cautions[k].kind == TAILVOLT_REMEDY_SLOW_ROWS;
  assert_true(said);
  tailvolt_report_free(written);
  tailvolt_remedy_free(again);
  tailvolt_remedy_free(remedy);
  unlink(catalogue);
}

/* A playing time as the target: what is chosen lasts, the next smaller battery does not. */
static void test_parked_target(void **state) {
  (void)state;
  static const char quiet[] = "[vehicle]\nbase load = 10 A\n[battery]\ncapacity = 60 Ah\n[alternator]\n"
                              "rated current = 150 A\n[amplifier bass]\nrated power = 300 W\n[cable feed]\n"
                              "size = 4 AWG\nlength = 5 m\n[targets]\nparked = 4 h\n";
  const char *catalogue = remedy_catalogue_file("part,size,cost,cold_cranking_a\nbattery,70 Ah,50,640\nbattery,80 Ah,60,740\n"
                                         "battery,95 Ah,70,850\nbattery,110 Ah,80,950\ncapacitor,5 F,10,\n");
  struct tailvolt_remedy_options options = remedy_options_with(catalogue);
  struct tailvolt_remedy *remedy = remedy_find(quiet, remedy_idling, &options);
  assert_false(remedy->met_before);
  assert_true(remedy->found);
  assert_int_equal(remedy->shortage, TAILVOLT_SHORTAGE_STEADY);
  /* of the car as it is no other time is given than the parked study's; what each gains is the quick search's on both sides */
  struct tailvolt_system *system = scene_parse(quiet);
  struct tailvolt_parked_options played = tailvolt_default_parked_options();
  struct tailvolt_parked *parked = NULL;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tailvolt_parked(system, NULL, &played, &parked, error), TAILVOLT_OK);
  assert_true(remedy->parked_before_s == parked->until_s);
  tailvolt_parked_free(parked);
  tailvolt_system_free(system);
  for (int k = 1; k < remedy->worth_count; k++)
    assert_near(remedy->worth[k].parked_s - remedy->worth[k].gain_parked_s,
                remedy->worth[0].parked_s - remedy->worth[0].gain_parked_s, 1e-6);
  assert_true(remedy->worth[0].parked_s - remedy->worth[0].gain_parked_s != remedy->parked_before_s);
  assert_true(remedy->parked_before_s < 4 * 3600.0);
  assert_true(remedy->chosen.parked_s >= 4 * 3600.0 * 0.995);
  assert_non_null(strstr(remedy->chosen.what, "battery"));
  for (int k = 0; k < remedy->worth_count; k++) {
    const struct tailvolt_worth *w = &remedy->worth[k];
    if (w->cure == TAILVOLT_CURE_BATTERY && w->cost < remedy->chosen.cost) assert_true(w->parked_s < 4 * 3600.0);
    if (w->cure == TAILVOLT_CURE_CAPACITOR) assert_true(w->gain_parked_s < 300.0);
  }
  tailvolt_remedy_free(remedy);
  unlink(catalogue);
}

static void test_nothing_needed(void **state) {
  (void)state;
  static const char quiet[] = "[vehicle]\nbase load = 10 A\n[battery]\ncapacity = 70 Ah\n[alternator]\n"
                              "rated current = 150 A\n[amplifier bass]\nrated power = 100 W\n[cable feed]\n"
                              "size = 4 AWG\nlength = 5 m\n";
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tailvolt_remedy *remedy = remedy_find(quiet, remedy_idling, &options);
  assert_true(remedy->met_before);
  assert_true(remedy->found);
  assert_int_equal(remedy->chosen.change_count, 0);
  for (int k = 0; k < TAILVOLT_ANSWERS; k++) assert_true(remedy->answers[k].status != TAILVOLT_NEEDED);
  tailvolt_remedy_free(remedy);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_same_optimum_as_brute_force),
                                     cmocka_unit_test(test_more_is_never_worse),
                                     cmocka_unit_test(test_remedied_system_needs_nothing),
                                     cmocka_unit_test(test_threads_change_nothing),
                                     cmocka_unit_test(test_stopped_search_is_partial),
                                     cmocka_unit_test(test_level_that_holds),
                                     cmocka_unit_test(test_raised_idle),
                                     cmocka_unit_test(test_parked_target),
                                     cmocka_unit_test(test_nothing_needed)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
