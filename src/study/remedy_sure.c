/* In how many such cars a remedy holds: the car as it is, the set chosen and those named beside it, each with cars drawn alike. Where a
 * share is asked for, the first set by cost that reaches it is the one chosen. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "study/remedy.h"
#include "tailvolt/certainty.h"

struct cars {
  struct tv_remedy_job *job;
  struct tailvolt_certainty_options options;
};

/* The system with a set's changes; NULL where that cannot be read again. */
static enum tailvolt_status changed_system(const struct tv_remedy_job *job, const struct tailvolt_remedy_set *set,
                                           struct tailvolt_system **out) {
  size_t count = (size_t)job->setting_count + (size_t)set->change_count;
  struct tailvolt_setting *all = calloc(count + 1, sizeof *all);
  char(*lines)[TAILVOLT_TEXT_MAX + 8] = calloc((size_t)set->change_count + 1, sizeof *lines);
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  *out = NULL;
  if (all != NULL && lines != NULL && faults != NULL) {
    for (int k = 0; k < job->setting_count; k++) all[k] = job->settings[k];
    for (int k = 0; k < set->change_count; k++) {
      snprintf(lines[k], sizeof lines[k], "%s = %s", set->changes[k].key, set->changes[k].value);
      all[job->setting_count + k].text = lines[k];
    }
    status = tailvolt_system_parse(job->text, job->name, all, (int)count, out, faults);
  }
  free(all);
  free(lines);
  free(faults);
  return status;
}

static enum tailvolt_status draw_cars(struct cars *cars, struct tailvolt_remedy_set *set) {
  const struct tailvolt_profile *profiles[] = {cars->job->profile};
  struct tailvolt_system *system;
  if (set->certainty.known || cars->options.vehicles == 0) return TAILVOLT_OK;
  enum tailvolt_status status = changed_system(cars->job, set, &system);
  if (status == TAILVOLT_NO_MEMORY) return status;
  if (status != TAILVOLT_OK) return TAILVOLT_OK; /* nothing is said of it */
  /* a raised idle lifts what the profile says */
  cars->options.least_rpm =
      system->engine.idle_rpm > cars->job->system->engine.idle_rpm ? system->engine.idle_rpm : 0;
  status = tailvolt_certainty(system, profiles, 1, NULL, &cars->options, &set->certainty, NULL);
  tailvolt_system_free(system);
  return status == TAILVOLT_NO_MEMORY || status == TAILVOLT_STOPPED ? status : TAILVOLT_OK;
}

static bool reaches(const struct tailvolt_remedy_set *set, double sure_frac) {
  return set->certainty.known && set->certainty.holds_pct >= 100 * sure_frac - 1e-9;
}

static void swap(struct tailvolt_remedy_set *a, struct tailvolt_remedy_set *b) {
  struct tailvolt_remedy_set kept = *a;
  *a = *b;
  *b = kept;
}

enum tailvolt_status tv_remedy_draw_cars(struct tv_remedy_job *job, struct tailvolt_remedy *remedy) {
  struct tailvolt_remedy_set as_it_is = {.change_count = 0};
  struct cars cars = {.job = job, .options = tailvolt_default_certainty_options()};
  double sure_frac = job->options.sure_frac;
  cars.options.run = &job->options.run;
  cars.options.vehicles = job->options.vehicles;
  cars.options.threads = job->options.threads;
  cars.options.shares = false;
  remedy->sure_frac = sure_frac;
  if (job->options.vehicles == 0 || !remedy->found) return TAILVOLT_OK;
  enum tailvolt_status status = draw_cars(&cars, &as_it_is);
  remedy->certainty_before = as_it_is.certainty;
  if (status == TAILVOLT_OK) status = draw_cars(&cars, &remedy->chosen);
  if (status == TAILVOLT_OK && remedy->marginal_found) status = draw_cars(&cars, &remedy->marginal);
  if (isnan(sure_frac)) {
    if (status == TAILVOLT_OK && remedy->runner_up_count > 0) status = draw_cars(&cars, &remedy->runners_up[0]);
    return status;
  }
  remedy->sure_reached = reaches(&remedy->chosen, sure_frac);
  for (int k = 0; k < remedy->runner_up_count && status == TAILVOLT_OK; k++) {
    status = draw_cars(&cars, &remedy->runners_up[k]);
    if (remedy->sure_reached || !reaches(&remedy->runners_up[k], sure_frac)) continue;
    swap(&remedy->chosen, &remedy->runners_up[k]);
    remedy->sure_reached = true;
  }
  return status;
}
