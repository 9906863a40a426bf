/* Certainty against slower references: stretches against whole profiles, few vehicles against many. Minutes of processor time.
 *
 *   bench_certainty stretches [VEHICLES]   each vehicle by its worst seconds and by whole profiles
 *   bench_certainty quantiles [VEHICLES] [JOB]   the default's quantiles and share against those of 4 096 vehicles
 *   bench_certainty fleets [CARS]          cars made by chance inside what is called 85 to 95 of 100
 *   bench_certainty cost                   steps and seconds of the default */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "study/certainty_parts.h"
#include "support/fleets.h"
#include "support/scenes.h"
#include "text/number.h"

/* assertions of the scenes need cmocka's jump */
#include "support/assert_near.h"

static const struct {
  const char *name, *system, *profile;
} jobs[] = {{"ten-line", "examples/reference/ten-line.ini", NULL},
            {"van", "examples/van-800w-8awg/system.ini", "examples/van-800w-8awg/profile.csv"},
            {"van put right", "examples/van-put-right/system.ini", "examples/van-put-right/profile.csv"},
            {"hatchback", "examples/hatchback-300w/system.ini", NULL},
            {"fused block", "examples/fused-block/system.ini", NULL},
            {"second battery", "examples/second-battery/relay.ini", NULL},
            {"converter", "examples/second-battery/converter.ini", NULL}};
enum { JOBS = (int)(sizeof jobs / sizeof *jobs) };

struct question {
  struct tailvolt_system *system;
  struct tailvolt_profile *profile[2];
  struct tailvolt_result *result[2];
  int count;
};

static struct tailvolt_profile *steady(const struct tailvolt_system *system, double rpm) {
  char text[320];
  snprintf(text, sizeof text, "time_s,engine_rpm,programme\n0,%s,%s\n600,%s,%s\n", tv_compact(rpm, 1).text,
           system->programmes[0].name, tv_compact(rpm, 1).text, system->programmes[0].name);
  return scene_profile(system, text);
}

static void ask(struct question *q, int job) {
  struct tailvolt_options options = tailvolt_default_options();
  memset(q, 0, sizeof *q);
  q->system = scene_read(jobs[job].system);
  if (jobs[job].profile == NULL) {
    q->profile[0] = steady(q->system, q->system->engine.idle_rpm);
    q->profile[1] = steady(q->system, 2500);
    q->count = 2;
  } else {
    struct tailvolt_faults faults = {0};
    assert_int_equal(tailvolt_profile_read(jobs[job].profile, NULL, q->system, &q->profile[0], &faults), TAILVOLT_OK);
    q->count = 1;
  }
  for (int k = 0; k < q->count; k++)
    assert_int_equal(tailvolt_simulate(q->system, q->profile[k], &options, &q->result[k], NULL), TAILVOLT_OK);
}

static void forget(struct question *q) {
  for (int k = 0; k < q->count; k++) {
    tailvolt_profile_free(q->profile[k]);
    tailvolt_result_free(q->result[k]);
  }
  tailvolt_system_free(q->system);
}

static double now_s(void) { return (double)clock() / CLOCKS_PER_SEC; }

static struct tv_certainty_plan plan_of(const struct question *q, const struct tailvolt_uncertainty *list, bool whole) {
  struct tv_certainty_plan plan = {.system = q->system,
                                   .profiles = (const struct tailvolt_profile *const *)q->profile,
                                   .profile_count = q->count,
                                   .run = tailvolt_default_options(),
                                   .list = list,
                                   .whole = whole,
                                   .same_day = q->count > 1};
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tv_certainty_plan_make(&plan, (const struct tailvolt_result *const *)q->result, error), TAILVOLT_OK);
  return plan;
}

static void stretches(int vehicles) {
  printf("%-15s %9s %9s %9s %9s %9s %7s %7s %7s\n", "job", "margin", "rms", "lowest", "rms", "amperes", "holds", "whole", "differ");
  for (int job = 0; job < JOBS; job++) {
    struct question q;
    struct tailvolt_uncertainty *list;
    ask(&q, job);
    assert_int_equal(tailvolt_uncertainty_of(q.system, &list), TAILVOLT_OK);
    size_t n = (size_t)vehicles;
    double *points = calloc(n * (size_t)list->factor_count, sizeof *points), *values = calloc(n * (size_t)list->count, sizeof *values);
    struct tv_vehicle_outcome *few = calloc(n, sizeof *few), *all = calloc(n, sizeof *all);
    assert_int_equal(tv_vehicle_points(list->factor_count, 1, 0, vehicles, points), TAILVOLT_OK);
    for (size_t k = 0; k < n; k++)
      tv_vehicle_values(list, points + k * (size_t)list->factor_count, values + k * (size_t)list->count);
    double at_s = now_s();
    struct tv_certainty_plan plan = plan_of(&q, list, false), whole = plan_of(&q, list, true);
    assert_int_equal(tv_certainty_run(&plan, values, vehicles, few), TAILVOLT_OK);
    double short_s = now_s() - at_s;
    assert_int_equal(tv_certainty_run(&whole, values, vehicles, all), TAILVOLT_OK);
    double sum[3] = {0}, square[3] = {0};
    int holds = 0, whole_holds = 0, differ = 0;
    for (size_t k = 0; k < n; k++) {
      double off[3] = {few[k].margin_v - all[k].margin_v, few[k].min_v - all[k].min_v, few[k].charge_a - all[k].charge_a};
      for (int c = 0; c < 3; c++) {
        sum[c] += off[c];
        square[c] += off[c] * off[c];
      }
      holds += few[k].holds;
      whole_holds += all[k].holds;
      differ += few[k].holds != all[k].holds;
    }
    printf("%-15s %9s %9s %9s %9s %9s %7d %7d %7d   %s s, %d stretches, %s steps\n", jobs[job].name, tv_fixed(sum[0] / vehicles, 3).text,
           tv_fixed(sqrt(square[0] / vehicles), 3).text, tv_fixed(sum[1] / vehicles, 3).text,
           tv_fixed(sqrt(square[1] / vehicles), 3).text, tv_fixed(sqrt(square[2] / vehicles), 2).text, holds, whole_holds, differ,
           tv_fixed(short_s, 2).text, plan.stretch_count, tv_fixed(tv_certainty_steps(&plan), 0).text);
    fflush(stdout);
    tv_certainty_plan_free(&plan);
    tv_certainty_plan_free(&whole);
    free(points);
    free(values);
    free(few);
    free(all);
    tailvolt_uncertainty_free(list);
    forget(&q);
  }
}

static struct tailvolt_certainty certainty_of(const struct question *q, int vehicles, unsigned long seed) {
  struct tailvolt_certainty_options options = tailvolt_default_certainty_options();
  struct tailvolt_certainty out;
  options.vehicles = vehicles;
  options.seed = seed;
  options.same_day = q->count > 1;
  assert_int_equal(tailvolt_certainty(q->system, (const struct tailvolt_profile *const *)q->profile, q->count,
                                      (const struct tailvolt_result *const *)q->result, &options, &out, NULL),
                   TAILVOLT_OK);
  return out;
}

static void say(const char *name, const struct tailvolt_certainty *c) {
  printf("%-15s %5d holds %6s (%s to %s)  lowest %s %s %s  rest %s %%:", name, c->vehicles, tv_fixed(c->holds_pct, 1).text,
         tv_fixed(c->holds_low_pct, 1).text, tv_fixed(c->holds_high_pct, 1).text, tv_fixed(c->min_v.p10, 3).text,
         tv_fixed(c->min_v.p50, 3).text, tv_fixed(c->min_v.p90, 3).text, tv_fixed(c->unexplained_pct, 0).text);
  for (int k = 0; k < c->measure_first_count && k < 4; k++)
    printf(" %s %s+-%s", c->measure_first[k].key, tv_fixed(c->measure_first[k].share_pct, 1).text,
           tv_fixed(c->measure_first[k].error_pct, 1).text);
  printf("\n");
  fflush(stdout);
}

static void quantiles(int vehicles, const char *only) {
  for (int job = 0; job < JOBS; job++) {
    struct question q;
    if (only != NULL && strcmp(only, jobs[job].name) != 0) continue;
    ask(&q, job);
    for (unsigned long seed = 1; seed <= 4; seed++) {
      struct tailvolt_certainty c = certainty_of(&q, 0, seed);
      say(jobs[job].name, &c);
    }
    struct tailvolt_certainty many = certainty_of(&q, vehicles, 1);
    say(jobs[job].name, &many);
    forget(&q);
  }
}

static void cost(void) {
  for (int job = 0; job < JOBS; job++) {
    struct question q;
    ask(&q, job);
    double at_s = now_s();
    struct tailvolt_certainty c = certainty_of(&q, 0, 1);
    printf("%-15s %d vehicles, %s s of processor time\n", jobs[job].name, c.vehicles, tv_fixed(now_s() - at_s, 2).text);
    forget(&q);
  }
}

/* Made fleets: cars drawn by chance from the ranges, and from ranges moved down or up by a fifth of their width, of designs for which
 * 85 to 95 of 100 are called. */
static void fleets(int wanted) {
  enum { EACH = 20 };
  static const double shifts[] = {0, -0.2, 0.2};
  int cars = 0, holds[3] = {0}, designs = 0;
  double called = 0;
  for (int design = 250; cars < wanted && design < 1200; design += 3) {
    struct fleet fleet = fleet_of(design);
    double pct = fleet_called_pct(&fleet, (unsigned long)design);
    if (pct >= 85 && pct <= 95) {
      for (int s = 0; s < 3; s++) holds[s] += fleet_holds(&fleet, (unsigned long)(1000 + design), EACH, shifts[s]);
      called += pct * EACH;
      cars += EACH;
      designs++;
      printf("%d W: called %s %%\n", design, tv_fixed(pct, 1).text);
    }
    fleet_free(&fleet);
  }
  printf("%d cars of %d designs: called %s %% on the mean, observed %s %%, of ranges moved down %s %%, up %s %%\n", cars, designs,
         tv_fixed(called / cars, 1).text, tv_fixed(100.0 * holds[0] / cars, 1).text, tv_fixed(100.0 * holds[1] / cars, 1).text,
         tv_fixed(100.0 * holds[2] / cars, 1).text);
}

int main(int argc, char **argv) {
  int vehicles = argc > 2 ? atoi(argv[2]) : 0;
  if (argc > 1 && strcmp(argv[1], "stretches") == 0) stretches(vehicles > 0 ? vehicles : 64);
  else if (argc > 1 && strcmp(argv[1], "quantiles") == 0) quantiles(vehicles > 0 ? vehicles : 4096, argc > 3 ? argv[3] : NULL);
  else if (argc > 1 && strcmp(argv[1], "fleets") == 0) fleets(vehicles > 0 ? vehicles : 1000);
  else cost();
  return 0;
}
