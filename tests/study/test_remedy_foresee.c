/* What longer steps settle before anything is run in full: never another answer than the run's. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "study/remedy.h"
#include "support/remedy_scene.h"
#include "support/scenes.h"

/* What a search sets up to foresee outcomes in longer steps. */
static void foresee_from(struct tv_remedy_job *job, const struct tailvolt_result *before, double play_s[TAILVOLT_PHASES]) {
  for (int p = 0; p < TAILVOLT_PHASES; p++) play_s[p] = before->amplifiers[0].phase[p].play_s;
  job->play_s = play_s;
  job->long_step_s = 4e-3;
}

/* Sparse kicks of so many watts. */
static void open_kicks(struct tv_remedy_job *job, const struct tailvolt_remedy_options *options, const char *power,
                       struct tailvolt_result **before, double play_s[TAILVOLT_PHASES]) {
  static char text[1024]; /* the job keeps it */
  snprintf(text, sizeof text,
           "[vehicle]\nbase load = 20 A\n[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n"
           "[amplifier bass]\nrated power = %s\n[cable feed]\nsize = 4 AWG\nlength = 5.5 m\n[targets]\nvoltage = 12.5 V\n"
           "[programme music]\ncrest factor = 12 dB\ntempo = 60 /min\ndecay = 40 ms\nbass note = 0 Hz\nphrases = 0 %%\n",
           power);
  remedy_open_job(job, options, text, remedy_idling, before);
  foresee_from(job, *before, play_s);
}

/* Loud ones, which 2 F carry; notes held, as loud on average, they do not. The set holds with its own music, so only the trial with held
 * notes can refuse it, in full and in longer steps. */
static void test_held_notes_refuse_a_capacitor(void **state) {
  (void)state;
  const char *catalogue = remedy_catalogue_file("part,size,cost,effort_h,esr_mohm\ncapacitor,2 F,30,0.5,2\n");
  struct tailvolt_remedy_options options = remedy_options_with(catalogue);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  double play_s[TAILVOLT_PHASES];
  open_kicks(&job, &options, "1500 W", &before, play_s);
  assert_int_equal(before->status, TAILVOLT_FAILS);
  int family = tv_plan_family(&job.plan, TAILVOLT_CURE_CAPACITOR);
  struct tv_trial trial[2] = {{.ideal = -1}, {.ideal = -1, .guess = TV_GUESS_OUTCOME}};
  trial[0].choice.size_step[family] = trial[1].choice.size_step[family] = 1;
  assert_int_equal(tv_try(&job, trial, 2), TAILVOLT_OK);
  assert_true(trial[0].whole);
  assert_int_equal(trial[0].result->status, TAILVOLT_HOLDS);
  assert_true(tv_is_safe(trial[0].result));
  assert_true(trial[1].foreseen);
  for (int k = 0; k < 2; k++) {
    assert_false(trial[k].meets);
    assert_true(trial[k].refused);
    tv_trial_clear(&trial[k]);
  }
  remedy_close_job(&job, before);
  unlink(catalogue);
}

/* What longer steps say of held notes is taken for the run in full, wherever a trial comes from: a set that those notes refuse holds where
 * it is said to cope with them. Of less than half the power they say it themselves. */
static void test_notes_shown_clear_are_not_run_again(void **state) {
  (void)state;
  const char *catalogue = remedy_catalogue_file("part,size,cost,effort_h,esr_mohm\ncapacitor,2 F,30,0.5,2\n");
  struct tailvolt_remedy_options options = remedy_options_with(catalogue);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  double play_s[TAILVOLT_PHASES];
  for (int loud = 0; loud < 2; loud++) {
    open_kicks(&job, &options, loud ? "1500 W" : "600 W", &before, play_s);
    struct tv_trial trial = {.ideal = -1, .guess = TV_GUESS_OUTCOME};
    trial.choice.size_step[tv_plan_family(&job.plan, TAILVOLT_CURE_CAPACITOR)] = 1;
    assert_int_equal(tv_try(&job, &trial, 1), TAILVOLT_OK);
    assert_true(trial.foreseen);
    assert_true(trial.meets == !loud);
    assert_true(trial.notes_clear == !loud);
    struct tv_trial full[2] = {{.ideal = -1, .choice = trial.choice}, {.ideal = -1, .choice = trial.choice, .notes_clear = true}};
    assert_int_equal(tv_try(&job, full, 2), TAILVOLT_OK);
    assert_true(full[0].meets == !loud);
    assert_true(full[1].meets);
    for (int expected = 0; expected < 2; expected++) {
      struct tv_trial foreseen = {.ideal = -1, .choice = trial.choice, .foreseen = true, .meets = expected, .notes_clear = true};
      struct tv_trial *confirmed = &foreseen;
      assert_int_equal(tv_confirm(&job, &confirmed, 1), TAILVOLT_OK);
      assert_true(foreseen.whole && foreseen.meets);
      tv_trial_clear(&foreseen);
    }
    for (int k = 0; k < 2; k++) tv_trial_clear(&full[k]);
    remedy_close_job(&job, before);
  }
  unlink(catalogue);
}

/* The way of a bisection that begins at a level, with what it counts; where longer steps leave that open the two next to it run ahead. */
static void bisect_at(struct tv_remedy_job *job, int family, int level, double long_step_s, struct tv_bisection *b, int counts[2]) {
  struct tv_trial bounds[2] = {{.ideal = -1}, {.ideal = -1, .meets = true}};
  struct tv_known known = {.count = 2, .trial = bounds};
  bounds[0].choice.size_step[family] = (signed char)(level - 2);
  bounds[1].choice.size_step[family] = (signed char)(level + 2);
  *b = (struct tv_bisection){.level = true};
  job->long_step_s = long_step_s;
  job->runs = job->whole_runs = 0;
  assert_int_equal(tv_bisect(job, &known, b), TAILVOLT_OK);
  counts[0] = job->runs, counts[1] = job->whole_runs;
}

static void check_same_way(struct tv_remedy_job *job, int family, int level) {
  struct tv_bisection foreseen, full;
  int counts[2], in_full[2];
  const double long_step_s = job->long_step_s;
  bisect_at(job, family, level, long_step_s, &foreseen, counts);
  bisect_at(job, family, level, 0, &full, in_full);
  job->long_step_s = long_step_s;
  assert_int_equal(foreseen.ahead.count, 1); /* of the two one was asked for */
  assert_int_equal(full.ahead.count, 0);
  assert_int_equal(foreseen.high[family], full.high[family]);
  assert_int_equal(foreseen.count, full.count);
  for (int k = 0; k < full.count; k++) {
    const struct tv_trial *a = &foreseen.tried.trial[foreseen.path[k]], *b = &full.tried.trial[full.path[k]];
    assert_memory_equal(&a->choice, &b->choice, sizeof a->choice);
    assert_true(a->meets == b->meets && a->whole == b->whole);
    if (a->result != NULL) assert_true(a->result->state_hash == b->result->state_hash);
  }
  for (int k = 0; k < 2; k++) assert_int_equal(counts[k], in_full[k]);
  tv_known_free(&foreseen.tried);
  tv_known_free(&foreseen.ahead);
  tv_known_free(&full.tried);
}

/* A level is shown with its figures if the way ends there: what steps of four times the length leave open is run in full, beside others,
 * what they settle is settled alike, and steps of half that length would settle more. */
static void test_what_is_shown_is_not_looked_at_closer(void **state) {
  (void)state;
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  double play_s[TAILVOLT_PHASES];
  remedy_open_job(&job, &options, remedy_van, remedy_idling, &before);
  foresee_from(&job, before, play_s);
  int family = tv_plan_family(&job.plan, TAILVOLT_CURE_LEVEL), closer = 0, settled = 0, checked = 0;
  assert_true(family >= 0);
  for (int r = 1; r <= job.plan.family[family].size_step_count; r++) {
    struct tv_trial outcome = {.ideal = -1, .guess = TV_GUESS_OUTCOME}, shown = {.ideal = -1, .guess = TV_GUESS_SHOWN};
    outcome.choice.size_step[family] = shown.choice.size_step[family] = (signed char)r;
    assert_int_equal(tv_try(&job, &outcome, 1), TAILVOLT_OK);
    assert_int_equal(tv_try(&job, &shown, 1), TAILVOLT_OK);
    assert_true(shown.foreseen != shown.open);
    struct tv_trial *left = &shown;
    bool open = shown.open;
    if (open) assert_int_equal(tv_confirm(&job, &left, 1), TAILVOLT_OK);
    assert_true(shown.foreseen || shown.result != NULL);
    if (open && r > 2 && r + 2 <= job.plan.family[family].size_step_count) check_same_way(&job, family, r), checked++;
    assert_true(outcome.foreseen || !shown.foreseen);
    assert_true(shown.meets == outcome.meets);
    settled += shown.foreseen;
    closer += outcome.foreseen && !shown.foreseen;
    tv_trial_clear(&outcome);
    tv_trial_clear(&shown);
  }
  print_message("levels settled by longer steps: %d, by a closer look %d more\n", settled, closer);
  assert_true(settled > 0);
  assert_true(closer > 0);
  assert_true(checked > 0);
  remedy_close_job(&job, before);
}

/* Two runs tell how quiet it must be, so that the way of the level runs in full at once: the same way, and the same counts, as where one
 * of them is not known. */
static void test_a_way_that_is_guessed_is_the_same(void **state) {
  (void)state;
  struct tailvolt_remedy_options options = remedy_options_with(NULL);
  struct tv_remedy_job job;
  struct tailvolt_result *before;
  double play_s[TAILVOLT_PHASES];
  remedy_open_job(&job, &options, remedy_van, remedy_idling, &before);
  foresee_from(&job, before, play_s);
  int family = tv_plan_family(&job.plan, TAILVOLT_CURE_LEVEL), counts[2][2], tried[2];
  struct tv_trial trial[2] = {{.ideal = -1, .to_the_end = true}, {.ideal = -1, .to_the_end = true}};
  trial[1].choice.size_step[family] = 2;
  assert_int_equal(tv_try(&job, trial, 2), TAILVOLT_OK);
  struct tv_bisection way[2];
  for (int k = 0; k < 2; k++) {
    struct tv_known known = {.count = k == 0 ? 2 : 1, .trial = trial + k};
    way[k] = (struct tv_bisection){.level = true};
    job.runs = job.whole_runs = job.stage_done = 0;
    assert_int_equal(tv_bisect(&job, &known, &way[k]), TAILVOLT_OK);
    counts[k][0] = job.runs, counts[k][1] = job.whole_runs, tried[k] = job.stage_done;
  }
  assert_int_equal(way[0].high[family], way[1].high[family]);
  assert_int_equal(way[0].count, way[1].count);
  for (int k = 0; k < way[0].count; k++)
    assert_memory_equal(&way[0].tried.trial[way[0].path[k]].choice, &way[1].tried.trial[way[1].path[k]].choice, sizeof(struct tv_choice));
  for (int k = 0; k < 2; k++) assert_int_equal(counts[0][k], counts[1][k]);
  assert_true(tried[1] > way[1].count); /* in longer steps, and in full */
  if (tv_lanes_best() >= 4) assert_true(tried[0] < tried[1]);
  for (int k = 0; k < 2; k++) {
    tv_known_free(&way[k].tried);
    tv_known_free(&way[k].ahead);
    tv_trial_clear(&trial[k]);
  }
  remedy_close_job(&job, before);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_held_notes_refuse_a_capacitor),
                                     cmocka_unit_test(test_notes_shown_clear_are_not_run_again),
                                     cmocka_unit_test(test_what_is_shown_is_not_looked_at_closer),
                                     cmocka_unit_test(test_a_way_that_is_guessed_is_the_same)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
