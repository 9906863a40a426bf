/* In how many such cars a remedy holds: the car as it is, the set chosen and those named beside it, each with the same cars drawn; and
 * whether a set that the search tries holds in as many as are asked for. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "study/certainty_effects.h"
#include "study/remedy.h"

struct cars {
  struct tv_remedy_job *job;
  struct tailvolt_options run;
  struct tailvolt_certainty_options options;
};

/* The system with a set's changes; NULL where that cannot be read again. */
static enum tailvolt_status changed_system(const struct tv_remedy_job *job, const struct tailvolt_remedy_set *set,
                                           struct tailvolt_system **out) {
  size_t count = (size_t)job->setting_count + (size_t)set->change_count;
  struct tailvolt_setting *all = calloc(count + 1, sizeof *all);
  char(*lines)[sizeof set->changes->key + sizeof set->changes->value + 4] = calloc((size_t)set->change_count + 1, sizeof *lines);
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

static bool reaches(const struct tailvolt_certainty *certainty, double sure_frac) {
  return certainty->known && certainty->holds_pct >= 100 * sure_frac - 1e-9;
}

static int look(void *context, double done_frac) {
  struct tv_remedy_job *job = context;
  atomic_store(&job->batch_done, (int)(1000 * done_frac));
  return tv_remedy_asked_to_stop(job);
}

static struct cars cars_of(struct tv_remedy_job *job) {
  struct cars cars = {.job = job, .run = job->options.run, .options = tailvolt_default_certainty_options()};
  cars.options.vehicles = job->options.vehicles;
  cars.options.threads = job->options.threads;
  cars.options.shares = false;
  cars.options.context = job;
  cars.options.progress = look;
  return cars;
}

/* Where a set's own balance on the road counts. */
static enum tailvolt_status drive(struct cars *cars, const struct tailvolt_system *system) {
  struct tv_lane_job lane = {.system = system};
  cars->run.road_balance_a = cars->job->options.run.road_balance_a;
  if (cars->job->road == NULL) return TAILVOLT_OK;
  enum tailvolt_status status = tv_remedy_runs(cars->job, cars->job->road, &lane, 1);
  if (status == TAILVOLT_OK) status = lane.status;
  if (status == TAILVOLT_OK) cars->run.road_balance_a = tailvolt_charge_balance_a(lane.result, TAILVOLT_ROAD);
  tailvolt_result_free(lane.result);
  return status;
}

/* A certainty that cannot be found says nothing. `run`: the trial of this system, NULL = none; the car described need not run again,
 * unless a trial lifts rows that certainty leaves. */
static enum tailvolt_status count_system(struct cars *cars, const struct tailvolt_system *system, const struct tailvolt_result *run,
                                         struct tailvolt_certainty *out) {
  const struct tailvolt_profile *profiles[] = {cars->job->profile};
  /* a raised idle lifts what the profile says */
  bool raised = system->engine.idle_rpm > cars->job->system->engine.idle_rpm;
  bool same = run != NULL && (raised || !cars->job->slow_rows);
  cars->options.least_rpm = raised ? system->engine.idle_rpm : 0;
  cars->options.run = &cars->run;
  enum tailvolt_status status = drive(cars, system);
  if (status != TAILVOLT_OK) return status;
  status =
      tv_certainty_effects(system, profiles, 1, same ? &run : NULL, &cars->options, cars->job->labels, out, NULL, NULL);
  /* fewer cars than elsewhere could not be set beside those */
  if (status == TAILVOLT_OK && out->partial) status = TAILVOLT_STOPPED;
  if (status == TAILVOLT_STOPPED) out->known = false;
  return status == TAILVOLT_NO_MEMORY || status == TAILVOLT_STOPPED ? status : TAILVOLT_OK;
}

static enum tailvolt_status draw_cars(struct cars *cars, const struct tailvolt_result *run, struct tailvolt_remedy_set *set) {
  struct tailvolt_system *system;
  if (set->certainty.known || cars->options.vehicles == 0) return TAILVOLT_OK;
  enum tailvolt_status status = changed_system(cars->job, set, &system);
  if (status == TAILVOLT_NO_MEMORY) return status;
  if (status != TAILVOLT_OK) return TAILVOLT_OK; /* nothing is said of it */
  cars->job->batch = 1;
  atomic_store(&cars->job->batch_done, 0);
  status = count_system(cars, system, run, &set->certainty);
  cars->job->batch = 0;
  cars->job->stage_done++;
  tailvolt_system_free(system);
  return status;
}

enum tailvolt_status tv_remedy_count_cars(struct tv_remedy_job *job, struct tv_trial *trial) {
  struct cars cars = cars_of(job);
  struct tailvolt_system *system = NULL;
  struct tailvolt_certainty certainty = {.known = false};
  char error[TAILVOLT_TEXT_MAX];
  if (!trial->meets || trial->counted) return TAILVOLT_OK;
  if (atomic_load(&job->stop)) return TAILVOLT_STOPPED;
  enum tailvolt_status status = tv_try_settings(job, &trial->choice, NULL, &system, error);
  if (status == TAILVOLT_OK) status = count_system(&cars, system, trial->result, &certainty);
  tailvolt_system_free(system);
  if (status == TAILVOLT_NO_MEMORY || status == TAILVOLT_STOPPED) return status;
  job->counted_sets++;
  trial->counted = true;
  trial->unsure = !reaches(&certainty, job->options.sure_frac);
  trial->by_charge = trial->unsure && certainty.charge_lost_pct >= certainty.below_target_pct;
  return TAILVOLT_OK;
}

enum tailvolt_status tv_remedy_draw_before(struct tv_remedy_job *job, const struct tailvolt_result *before,
                                           struct tailvolt_certainty *out) {
  struct tailvolt_remedy_set as_it_is = {.change_count = 0, .certainty = *out};
  struct cars cars = cars_of(job);
  enum tailvolt_status status = draw_cars(&cars, before, &as_it_is);
  *out = as_it_is.certainty;
  return status;
}

enum tailvolt_status tv_remedy_draw_sets(struct tv_remedy_job *job, struct tailvolt_remedy *remedy) {
  struct cars cars = cars_of(job);
  bool asked = isfinite(job->options.sure_frac);
  remedy->sure_frac = job->options.sure_frac;
  if (job->options.vehicles == 0 || !remedy->found) return TAILVOLT_OK;
  int shown = asked ? remedy->runner_up_count : remedy->runner_up_count > 0;
  tv_remedy_stage(job, 1.0, remedy->met_before + 1 + remedy->marginal_found + shown);
  enum tailvolt_status status = draw_cars(&cars, remedy->chosen.result, &remedy->chosen);
  if (status == TAILVOLT_OK && remedy->marginal_found) status = draw_cars(&cars, remedy->marginal.result, &remedy->marginal);
  for (int k = 0; k < shown && status == TAILVOLT_OK; k++)
    status = draw_cars(&cars, remedy->runners_up[k].result, &remedy->runners_up[k]);
  if (asked) remedy->sure_reached = reaches(&remedy->chosen.certainty, job->options.sure_frac);
  return status;
}
