#include "support/fleets.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "study/certainty_parts.h"
#include "support/assert_near.h"
#include "support/scenes.h"

struct fleet fleet_of(int design) {
  char text[512];
  struct fleet fleet = {.run = tailvolt_default_options()};
  snprintf(text, sizeof text,
           "[battery]\ncapacity = %d Ah\n[alternator]\nrated current = %d A\n[amplifier bass]\nrated power = %d W\n[cable feed]\n"
           "size = %d AWG\nlength = %d m\n[programme beat]\ncrest factor = 9 dB\ntempo = 240 /min\ndecay = 60 ms\n"
           "bass note = 0 Hz\nphrases = 0 %%\n",
           50 + design % 5 * 10, 90 + design % 7 * 10, design, design % 2 == 0 ? 4 : 2, 3 + design % 4);
  fleet.system = scene_parse(text);
  fleet.profile = scene_profile(fleet.system, "time_s,engine_rpm,programme\n0,800,beat\n6,800,beat\n");
  fleet.run.time_step_s = 4e-3;
  fleet.run.settle_s = 5;
  return fleet;
}

void fleet_free(struct fleet *fleet) {
  tailvolt_profile_free(fleet->profile);
  tailvolt_system_free(fleet->system);
}

double fleet_called_pct(const struct fleet *fleet, unsigned long seed) {
  struct tailvolt_certainty_options options = tailvolt_default_certainty_options();
  const struct tailvolt_profile *profiles[] = {fleet->profile};
  struct tailvolt_certainty sure;
  options.run = &fleet->run;
  options.shares = false;
  options.seed = seed;
  assert_int_equal(tailvolt_certainty(fleet->system, profiles, 1, NULL, &options, &sure, NULL), TAILVOLT_OK);
  return sure.holds_pct;
}

int fleet_holds(const struct fleet *fleet, unsigned long seed, int cars, double shift) {
  struct tailvolt_uncertainty *list;
  struct tailvolt_result *result;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(tailvolt_simulate(fleet->system, fleet->profile, &fleet->run, &result, error), TAILVOLT_OK);
  assert_int_equal(tailvolt_uncertainty_of(fleet->system, &list), TAILVOLT_OK);
  for (int k = 0; k < list->count; k++) {
    double more = shift * (list->values[k].high - list->values[k].low);
    list->values[k].low += more;
    list->values[k].high += more;
    list->values[k].tail_high += more;
  }
  size_t n = (size_t)cars, width = (size_t)list->count, factors = (size_t)list->factor_count;
  double *points = calloc(n * factors, sizeof *points), *values = calloc(n * width, sizeof *values);
  struct tv_vehicle_outcome *outcome = calloc(n, sizeof *outcome);
  tv_random_points(list->factor_count, seed, cars, points);
  for (size_t k = 0; k < n; k++) {
    tv_vehicle_values(list, points + k * factors, values + k * width);
    for (size_t v = 0; v < width; v++) /* no share above all of it */
      if (list->values[v].value == TAILVOLT_VALUE_CHARGE) values[k * width + v] = fmin(values[k * width + v], 1);
  }
  const struct tailvolt_profile *profiles[] = {fleet->profile};
  const struct tailvolt_result *results[] = {result};
  struct tv_certainty_plan plan = {
      .system = fleet->system, .profiles = profiles, .profile_count = 1, .run = fleet->run, .list = list, .whole = true};
  assert_int_equal(tv_certainty_plan_make(&plan, results, error), TAILVOLT_OK);
  assert_int_equal(tv_certainty_run(&plan, values, cars, outcome), TAILVOLT_OK);
  int holds = 0;
  for (int k = 0; k < cars; k++) holds += outcome[k].holds;
  tv_certainty_plan_free(&plan);
  tailvolt_uncertainty_free(list);
  tailvolt_result_free(result);
  free(points);
  free(values);
  free(outcome);
  return holds;
}
