/* Remedy: the order of work. One run as it is; then what an ideal part would gain and what each cure is worth
 * alone; then the search. */
#include "study/remedy.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/system_edit.h"
#include "text/text.h"

#define COOKIE 0x7e3e

struct tailvolt_remedy_options tailvolt_default_remedy_options(void) {
  struct tailvolt_remedy_options options;
  memset(&options, 0, sizeof options);
  options.cookie = COOKIE;
  options.run = tailvolt_default_options();
  options.parked_s = options.sure_frac = (double)NAN;
  options.most_parts = 3;
  options.most_runs = 2000;
  return options;
}

static double lowest_v(const struct tailvolt_result *result) {
  double lowest = (double)INFINITY;
  for (int k = 0; k < result->amplifier_count; k++)
    for (int p = 0; p < TAILVOLT_PHASES; p++)
      if (result->amplifiers[k].phase[p].play_s > 0.0) lowest = fmin(lowest, result->amplifiers[k].phase[p].min_v);
  return lowest;
}

static void stage(struct tv_remedy_job *job, double to, int runs) {
  job->stage_from = job->done_frac;
  job->stage_to = to;
  job->stage_runs = runs;
  job->stage_done = 0;
}

/* The system as it is: without this run nothing can be said. */
static enum tailvolt_status run_before(struct tv_remedy_job *job, struct tailvolt_remedy *remedy) {
  struct tv_trial trial = {.ideal = -1, .raw = true, .to_the_end = true};
  stage(job, 0.02, 1);
  enum tailvolt_status status = tv_try(job, &trial, 1);
  if (status == TAILVOLT_OK) status = trial.status;
  if (status != TAILVOLT_OK) {
    memcpy(job->error, trial.error, sizeof job->error);
    tv_trial_clear(&trial);
    return status;
  }
  remedy->before = trial.result;
  remedy->met_before = trial.meets;
  remedy->margin_before_v = tv_margin_v(trial.result);
  remedy->below_before_pct = tv_below_pct(trial.result);
  remedy->parked_before_s = trial.parked_s;
  job->charge_short = tv_loses_charge(trial.result);
  remedy->margin_fitted_v = remedy->margin_before_v;
  remedy->below_fitted_pct = remedy->below_before_pct;
  job->fitted_ah = tv_charge_ah(trial.result);
  int count = trial.result->amplifier_count;
  job->play_s = calloc((size_t)count * TAILVOLT_PHASES + 1, sizeof *job->play_s);
  if (job->play_s == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < count; k++)
    for (int p = 0; p < TAILVOLT_PHASES; p++)
      job->play_s[k * TAILVOLT_PHASES + p] = trial.result->amplifiers[k].phase[p].play_s;
  return TAILVOLT_OK;
}

/* The size step of a family nearest to a value. */
static int nearest_size_step(const struct tv_family *family, double value) {
  int best = 1;
  for (int r = 2; r <= family->size_step_count; r++)
    if (fabs(log(family->size_step[r - 1].item->value / value)) < fabs(log(family->size_step[best - 1].item->value / value)))
      best = r;
  return best;
}

/* The sizes of a family tried alone first: the largest; for capacitors the one the rule of thumb names and the two
 * largest (a bank is not just a bigger capacitor). */
static int sizes_alone(const struct tv_remedy_job *job, int family, int size_steps[3]) {
  const struct tv_family *f = &job->plan.family[family];
  int count = 0;
  if (f->cure == TAILVOLT_CURE_CAPACITOR) {
    size_steps[count++] = nearest_size_step(f, job->system->amplifiers[job->plan.worst_amplifier].rated_w / 1000.0);
    if (f->size_step_count > 1) size_steps[count++] = f->size_step_count - 1;
  } else if (f->cure == TAILVOLT_CURE_LEVEL) {
    size_steps[count++] = nearest_size_step(f, 3.0);
    return count;
  }
  size_steps[count++] = f->size_step_count;
  int kept = 0;
  for (int k = 0; k < count; k++) {
    bool twice = false;
    for (int j = 0; j < kept; j++) twice = twice || size_steps[j] == size_steps[k];
    if (!twice) size_steps[kept++] = size_steps[k];
  }
  return kept;
}

static void add_worth(const struct tv_remedy_job *job, struct tailvolt_remedy *remedy, const struct tv_trial *trial) {
  if (!trial->done || trial->result == NULL) return;
  int family = -1;
  for (int k = 0; k < job->plan.family_count; k++)
    if (trial->choice.size_step[k] > 0) family = k;
  if (family < 0) return;
  struct tailvolt_worth *worth = &remedy->worth[remedy->worth_count++];
  const struct tv_size_step *size_step = &job->plan.family[family].size_step[trial->choice.size_step[family] - 1];
  *worth = (struct tailvolt_worth){.cure = job->plan.family[family].cure, .cost = tv_plan_cost(&job->plan, &trial->choice),
                                   .effort_h = size_step->effort_h, .meets = trial->meets, .parked_s = trial->parked_s,
                                   .size = trial->choice.size_step[family]};
  tv_copy_text(worth->what, sizeof worth->what, size_step->what);
  worth->min_v = lowest_v(trial->result);
  bool again = worth->cure == TAILVOLT_CURE_CAPACITOR && isfinite(job->margin_again_v);
  worth->gain_v = isfinite(remedy->margin_fitted_v)
                      ? trial->margin_v - (again ? job->margin_again_v : remedy->margin_fitted_v) : 0.0;
  worth->below_pct = tv_below_pct(trial->result);
  worth->gain_pct = remedy->below_fitted_pct - worth->below_pct;
  worth->gain_ah = tv_charge_ah(trial->result) - job->fitted_ah;
  worth->gain_parked_s = trial->parked_s - remedy->parked_before_s;
}

/* Keeps the outcomes of cures run to the end and shows them in the table. */
static enum tailvolt_status take_alone(struct tv_remedy_job *job, struct tailvolt_remedy *remedy,
                                       struct tv_known *known, struct tv_trial *trials, int count) {
  enum tailvolt_status status = TAILVOLT_OK;
  for (int k = 0; k < count; k++) {
    if (trials[k].ideal >= 0) continue;
    if (!trials[k].done && trials[k].status == TAILVOLT_STOPPED) continue;
    add_worth(job, remedy, &trials[k]);
    enum tailvolt_status added = tv_known_add(known, &trials[k]);
    trials[k].result = NULL; /* owned by `known` from here */
    if (status == TAILVOLT_OK) status = added;
  }
  return status;
}

static void take_ideal(struct tailvolt_remedy *remedy, const struct tv_trial *trial) {
  struct tailvolt_counterfactual *c = &remedy->counterfactuals[remedy->counterfactual_count++];
  c->ideal = (enum tailvolt_ideal)trial->ideal;
  c->gain_v = c->gain_pct = (double)NAN;
  if (trial->result == NULL) return;
  c->gain_v = isfinite(remedy->margin_fitted_v) ? tv_margin_v(trial->result) - remedy->margin_fitted_v : 0.0;
  c->gain_pct = remedy->below_fitted_pct - tv_below_pct(trial->result);
}

static const struct tv_trial *find_known(const struct tv_known *known, const struct tv_choice *choice) {
  for (int k = 0; k < known->count; k++)
    if (memcmp(&known->trial[k].choice, choice, sizeof *choice) == 0) return &known->trial[k];
  return NULL;
}

/* The reference for capacitors. */
static enum tailvolt_status run_over_again(struct tv_remedy_job *job) {
  struct tailvolt_system *system = NULL;
  struct tv_choice none = {{0}};
  if (job->over_again == NULL) return TAILVOLT_OK;
  enum tailvolt_status status = tv_try_settings(job, &none, NULL, &system, job->error);
  struct tv_lane_job lane = {.system = system};
  if (status == TAILVOLT_OK) status = tv_remedy_runs(job, job->over_again, &lane, 1);
  if (status == TAILVOLT_OK) status = lane.status;
  if (status == TAILVOLT_OK) job->margin_again_v = tv_margin_v(lane.result);
  if (status != TAILVOLT_OK && lane.error[0] != '\0') memcpy(job->error, lane.error, sizeof job->error);
  tailvolt_result_free(lane.result);
  tailvolt_system_free(system);
  return status;
}

/* Every size of the wire family that gains most: the thickest alone does not show how thick is enough. */
static enum tailvolt_status run_wire_sizes(struct tv_remedy_job *job, struct tailvolt_remedy *remedy,
                                           struct tv_known *known) {
  static const enum tailvolt_cure cables[] = {TAILVOLT_CURE_FEED, TAILVOLT_CURE_GROUND};
  struct tv_trial trials[2 * TV_SIZE_STEPS_MOST];
  int count = 0;
  if (remedy->shortage != TAILVOLT_SHORTAGE_WIRE || job->options.cheapest) return TAILVOLT_OK;
  for (int c = 0; c < 2; c++) {
    int family = tv_plan_family(&job->plan, cables[c]);
    for (int r = 1; family >= 0 && r < job->plan.family[family].size_step_count; r++) {
      struct tv_trial trial = {.ideal = -1, .to_the_end = true};
      trial.choice.size_step[family] = (signed char)r;
      if (find_known(known, &trial.choice) == NULL) trials[count++] = trial;
    }
  }
  stage(job, 0.65, count);
  enum tailvolt_status status = tv_try(job, trials, count);
  enum tailvolt_status taken = take_alone(job, remedy, known, trials, count);
  return status != TAILVOLT_OK ? status : taken;
}

/* One batch: just the fuses, the five ideal parts, each cure alone at some sizes. */
static enum tailvolt_status run_alone(struct tv_remedy_job *job, struct tailvolt_remedy *remedy,
                                      struct tv_known *known) {
  size_t room = 1 + TAILVOLT_COUNTERFACTUALS + 3 * (size_t)job->plan.family_count;
  struct tv_trial *trials = calloc(room, sizeof *trials);
  if (trials == NULL) return TAILVOLT_NO_MEMORY;
  int count = 0;
  trials[count++] = (struct tv_trial){.ideal = -1, .to_the_end = true}; /* just the fuses */
  for (int k = 0; k < TAILVOLT_COUNTERFACTUALS; k++) {
    bool machine = k != TAILVOLT_IDEAL_ALTERNATOR && k != TAILVOLT_IDEAL_FIELD;
    if (machine || job->system->alternator.present)
      trials[count++] = (struct tv_trial){.ideal = k, .to_the_end = true};
  }
  for (int k = 0; k < job->plan.family_count; k++) {
    int size_steps[3], sizes = sizes_alone(job, k, size_steps);
    for (int s = 0; s < sizes; s++) {
      trials[count] = (struct tv_trial){.ideal = -1, .to_the_end = true};
      trials[count++].choice.size_step[k] = (signed char)size_steps[s];
    }
  }
  stage(job, 0.4, count);
  enum tailvolt_status status = tv_try(job, trials, count);
  /* gains count from the system with its fuses put right: every cure includes that */
  if (trials[0].result != NULL) {
    remedy->margin_fitted_v = tv_margin_v(trials[0].result);
    remedy->below_fitted_pct = tv_below_pct(trials[0].result);
    job->fitted_ah = tv_charge_ah(trials[0].result);
  }
  if (status == TAILVOLT_OK) status = run_over_again(job);
  for (int k = 0; k < count; k++)
    if (trials[k].ideal >= 0 && trials[k].status != TAILVOLT_STOPPED) take_ideal(remedy, &trials[k]);
  enum tailvolt_status taken = take_alone(job, remedy, known, trials, count);
  for (int k = 0; k < count; k++) tv_trial_clear(&trials[k]);
  free(trials);
  return status != TAILVOLT_OK ? status : taken;
}

/* Also the smallest size of what is worth much at its largest. */
static enum tailvolt_status run_smallest(struct tv_remedy_job *job, struct tailvolt_remedy *remedy,
                                         struct tv_known *known) {
  struct tv_trial trials[TV_FAMILIES_MOST];
  int count = 0;
  for (int k = 0; k < job->plan.family_count && k < TV_FAMILIES_MOST; k++) {
    const struct tv_family *family = &job->plan.family[k];
    bool useful = false;
    if (family->size_step_count < 2 || family->cure == TAILVOLT_CURE_LEVEL || family->cure == TAILVOLT_CURE_CAPACITOR)
      continue;
    for (int w = 0; w < remedy->worth_count; w++) {
      const struct tailvolt_worth *worth = &remedy->worth[w];
      if (worth->cure == family->cure)
        useful = useful || worth->gain_v >= 0.3 || worth->gain_pct >= 0.2 * remedy->below_fitted_pct || worth->meets ||
                 (job->charge_short && worth->gain_ah >= 1.0);
    }
    if (!useful) continue;
    trials[count] = (struct tv_trial){.ideal = -1, .to_the_end = true};
    trials[count++].choice.size_step[k] = 1;
  }
  stage(job, 0.6, count);
  enum tailvolt_status status = tv_try(job, trials, count);
  enum tailvolt_status taken = take_alone(job, remedy, known, trials, count);
  return status != TAILVOLT_OK ? status : taken;
}

/* Smallest sufficient size, alone, of each family whose largest suffices (all families at once). `level`: for
 * the level alone, else for the others. */
static enum tailvolt_status bisect_alone(struct tv_remedy_job *job, struct tailvolt_remedy *remedy,
                                         struct tv_known *known, bool level) {
  int low[TV_FAMILIES_MOST], high[TV_FAMILIES_MOST];
  struct tv_trial trials[TV_FAMILIES_MOST];
  for (int k = 0; k < job->plan.family_count; k++) {
    const struct tv_family *family = &job->plan.family[k];
    low[k] = high[k] = 0;
    if ((family->cure == TAILVOLT_CURE_LEVEL) != level) continue;
    high[k] = level ? family->size_step_count + 1 : 0; /* for the level even the lowest may not suffice */
    low[k] = 1;
    for (int r = family->size_step_count; r >= 1; r--) {
      struct tv_choice choice = {{0}};
      choice.size_step[k] = (signed char)r;
      const struct tv_trial *tried = find_known(known, &choice);
      if (tried == NULL) continue;
      if (tried->meets) high[k] = r;
      if (!tried->meets && low[k] <= r) low[k] = r + 1;
    }
  }
  for (;;) {
    int count = 0, where[TV_FAMILIES_MOST];
    for (int k = 0; k < job->plan.family_count; k++) {
      if (high[k] == 0 || low[k] >= high[k]) continue;
      trials[count] = (struct tv_trial){.ideal = -1};
      trials[count].choice.size_step[k] = (signed char)((low[k] + high[k]) / 2);
      where[count++] = k;
    }
    if (count == 0) break;
    job->stage_runs += count;
    enum tailvolt_status status = tv_try(job, trials, count);
    for (int t = 0; t < count && status == TAILVOLT_OK; t++) {
      int k = where[t], size_step = trials[t].choice.size_step[k];
      if (trials[t].meets) high[k] = size_step;
      else low[k] = size_step + 1;
    }
    enum tailvolt_status taken = take_alone(job, remedy, known, trials, count);
    if (status == TAILVOLT_OK) status = taken;
    if (status != TAILVOLT_OK) return status;
  }
  for (int k = 0; k < job->plan.family_count && level; k++) {
    const struct tv_family *family = &job->plan.family[k];
    if (family->cure == TAILVOLT_CURE_LEVEL && high[k] >= 1 && high[k] <= family->size_step_count)
      remedy->quieter_db = family->size_step[high[k] - 1].item->value;
  }
  return TAILVOLT_OK;
}

static int compare_worth(const void *left, const void *right) {
  const struct tailvolt_worth *a = left, *b = right;
  if (a->cure != b->cure) return a->cure < b->cure ? -1 : 1;
  return a->cost < b->cost ? -1 : a->cost > b->cost;
}

/* Nothing is missed, so nothing is needed: the system stays as it is. */
static enum tailvolt_status keep_as_it_is(struct tailvolt_remedy *remedy) {
  remedy->found = true;
  remedy->chosen.changes = calloc(1, sizeof *remedy->chosen.changes);
  remedy->chosen.parked_s = remedy->parked_before_s;
  remedy->chosen.margin_v = remedy->margin_before_v;
  remedy->chosen.below_pct = remedy->below_before_pct;
  remedy->chosen.price = 0.0;
  remedy->quieter_db = 0.0;
  return remedy->chosen.changes != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}

/* What each part of the chosen set is worth alone, where that has not been run to the end. */
static enum tailvolt_status run_chosen_alone(struct tv_remedy_job *job, struct tailvolt_remedy *remedy,
                                             struct tv_known *known, const struct tv_choice *chosen) {
  struct tv_trial trials[TV_FAMILIES_MOST];
  int count = 0;
  for (int k = 0; k < job->plan.family_count; k++) {
    if (chosen->size_step[k] == 0) continue;
    bool shown = false;
    for (int w = 0; w < remedy->worth_count; w++)
      shown = shown || (remedy->worth[w].cure == job->plan.family[k].cure && remedy->worth[w].size == chosen->size_step[k]);
    if (shown) continue;
    trials[count] = (struct tv_trial){.ideal = -1, .to_the_end = true};
    trials[count++].choice.size_step[k] = chosen->size_step[k];
  }
  stage(job, 1.0, count);
  enum tailvolt_status status = tv_try(job, trials, count);
  enum tailvolt_status taken = take_alone(job, remedy, known, trials, count);
  return status != TAILVOLT_OK ? status : taken;
}

/* In the trade's order: one scope after the other until a set holds. */
static enum tailvolt_status search_in_order(struct tv_remedy_job *job, struct tailvolt_remedy *remedy,
                                            struct tv_known *known, int *best, int runners_up[TAILVOLT_RUNNERS_UP]) {
  struct tv_scope scopes[TV_SCOPES_MOST];
  enum tailvolt_status status = TAILVOLT_OK;
  int count = tv_scopes(job, remedy->shortage, known, scopes);
  *best = -1;
  for (int k = 0; k < count && *best < 0 && status == TAILVOLT_OK; k++)
    status = tv_search(job, &scopes[k], known, best, &remedy->runner_up_count, runners_up, &remedy->exhausted);
  return status;
}

/* The dearest set known to hold whose cars are not counted yet; -1 = none. Smaller ones than a set that holds in too few cars need no
 * counting. */
static int dearest_uncounted(const struct tv_remedy_job *job, struct tv_known *known) {
  int dearest = -1;
  for (int k = 0; k < known->count; k++) {
    struct tv_trial *tried = &known->trial[k];
    if (!tried->meets || tried->counted) continue;
    for (int t = 0; t < known->count && !tried->counted; t++)
      if (known->trial[t].unsure && tv_unsure_too(&job->plan, &known->trial[t], &tried->choice)) tried->counted = tried->unsure = true;
    if (tried->counted) continue;
    if (dearest < 0 || tv_plan_cost(&job->plan, &tried->choice) > tv_plan_cost(&job->plan, &known->trial[dearest].choice)) dearest = k;
  }
  return dearest;
}

/* Once more, for the cheapest set that holds in the share of such cars asked for. Of the sets already known to hold the dearest are
 * counted first: where those hold in too few cars, so do all that are smaller. The set found goes before the one that was best. */
static enum tailvolt_status search_by_cars(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known,
                                           int *best, int runners_up[TAILVOLT_RUNNERS_UP]) {
  int first = *best, found = -1, none[TAILVOLT_RUNNERS_UP], kept = remedy->runner_up_count;
  bool exhausted = remedy->exhausted;
  enum tailvolt_status status = tv_remedy_count_cars(job, &known->trial[first]);
  remedy->sure_reached = status == TAILVOLT_OK && !known->trial[first].unsure;
  remedy->sure_complete = remedy->sure_reached && !exhausted;
  if (status != TAILVOLT_OK || remedy->sure_reached) return status;
  job->by_cars = true;
  for (int dearest; status == TAILVOLT_OK && (dearest = dearest_uncounted(job, known)) >= 0;)
    status = tv_remedy_count_cars(job, &known->trial[dearest]);
  remedy->runner_up_count = 0;
  if (status == TAILVOLT_OK) status = search_in_order(job, remedy, known, &found, none);
  job->by_cars = false;
  remedy->runner_up_count = kept;
  remedy->sure_complete = status == TAILVOLT_OK && !remedy->exhausted;
  remedy->exhausted = exhausted;
  remedy->sure_reached = found >= 0;
  if (found < 0) return status;
  int last = kept < TAILVOLT_RUNNERS_UP ? kept : TAILVOLT_RUNNERS_UP - 1;
  for (int k = 0; k < kept; k++)
    if (runners_up[k] == found) last = k; /* changes places with the one that was best */
  if (last == kept) remedy->runner_up_count++;
  for (int k = last; k > 0; k--) runners_up[k] = runners_up[k - 1];
  runners_up[0] = first;
  *best = found;
  return status;
}

/* What each family is worth within the chosen set: the set without it. */
static enum tailvolt_status run_set_without(struct tv_remedy_job *job, const struct tv_choice *chosen, double low_v) {
  struct tv_trial trials[TV_FAMILIES_MOST];
  int count = 0, family[TV_FAMILIES_MOST];
  for (int k = 0; k < job->plan.family_count; k++) {
    if (chosen->size_step[k] == 0) continue;
    trials[count] = (struct tv_trial){.ideal = -1, .to_the_end = true, .choice = *chosen};
    trials[count].choice.size_step[k] = 0;
    family[count++] = k;
  }
  if (count < 2) return TAILVOLT_OK;
  enum tailvolt_status status = tv_try(job, trials, count);
  for (int t = 0; t < count; t++) {
    if (trials[t].done) job->in_set_v[family[t]] = low_v - trials[t].low_v;
    tv_trial_clear(&trials[t]);
  }
  return status;
}

static enum tailvolt_status search(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known,
                                   struct tv_choice *chosen) {
  const bool steady = remedy->shortage == TAILVOLT_SHORTAGE_STEADY;
  int best, runners_up[TAILVOLT_RUNNERS_UP];
  stage(job, 0.95, 20);
  if (remedy->met_before) return keep_as_it_is(remedy);
  enum tailvolt_status status = bisect_alone(job, remedy, known, false);
  if (status == TAILVOLT_OK) status = run_wire_sizes(job, remedy, known);
  if (status != TAILVOLT_OK) return status;
  status = search_in_order(job, remedy, known, &best, runners_up);
  bool by_cars = best >= 0 && job->options.vehicles > 0 && isfinite(job->options.sure_frac);
  if (by_cars && status == TAILVOLT_OK) status = search_by_cars(job, remedy, known, &best, runners_up);
  int count = remedy->runner_up_count;
  remedy->runner_up_count = 0;
  enum tailvolt_status made = TAILVOLT_OK;
  if (best >= 0) {
    *chosen = known->trial[best].choice;
    made = tv_remedy_make_set(job, &known->trial[best], steady, remedy->before, &remedy->chosen);
    remedy->found = made == TAILVOLT_OK;
    for (int k = 0; k < count && made == TAILVOLT_OK; k++)
      made = tv_remedy_make_set(job, &known->trial[runners_up[k]], steady, remedy->before,
                      &remedy->runners_up[remedy->runner_up_count++]);
  }
  int marginal = tv_known_marginal(job, known, remedy->found ? remedy->chosen.cost : (double)INFINITY);
  if (marginal >= 0 && made == TAILVOLT_OK) {
    made = tv_remedy_make_set(job, &known->trial[marginal], steady, remedy->before, &remedy->marginal);
    remedy->marginal_found = made == TAILVOLT_OK;
  }
  if (status == TAILVOLT_OK) status = made;
  if (status == TAILVOLT_OK && remedy->found) status = run_chosen_alone(job, remedy, known, chosen);
  if (status == TAILVOLT_OK && remedy->found) status = run_set_without(job, chosen, known->trial[best].low_v);
  if (status != TAILVOLT_OK) return status;
  remedy->level_looked_for = true;
  stage(job, 1.0, 6);
  return bisect_alone(job, remedy, known, true);
}

static enum tailvolt_status add_caution(struct tailvolt_remedy *remedy, enum tailvolt_remedy_caution_kind kind) {
  return tv_add_remedy_caution(&remedy->cautions, &remedy->caution_count, kind) != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}

/* What the reader should know about how the numbers came about. */
static enum tailvolt_status add_cautions(const struct tv_remedy_job *job, struct tailvolt_remedy *remedy) {
  enum tailvolt_status status = TAILVOLT_OK;
  if (job->slow_rows) status = add_caution(remedy, TAILVOLT_REMEDY_SLOW_ROWS);
  for (int k = 0; k < job->plan.family_count && status == TAILVOLT_OK; k++)
    if (job->plan.family[k].cure == TAILVOLT_CURE_SECOND_BATTERY) status = add_caution(remedy, TAILVOLT_REMEDY_SECOND_AS_NEW);
  if (status == TAILVOLT_OK && remedy->exhausted) status = add_caution(remedy, TAILVOLT_REMEDY_BOUND);
  return status;
}

/* Whether rows turn slower than idle speed: a remedy's runs raise them to it. */
static bool has_slow_rows(const struct tv_remedy_job *job) {
  struct tailvolt_profile_cursor *cursor = NULL;
  const struct tailvolt_row *row;
  bool slow = false;
  if (tailvolt_profile_open(job->profile, &cursor) != TAILVOLT_OK) return false;
  while (!slow && tailvolt_profile_next(cursor, &row) == TAILVOLT_OK && row != NULL)
    slow = row->engine_rpm > 0.0 && row->engine_rpm < job->system->engine.idle_rpm;
  tailvolt_profile_close(cursor);
  return slow;
}

static enum tailvolt_status work(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known) {
  struct tv_choice chosen = {{0}};
  enum tailvolt_status status = tv_try_settings(job, NULL, NULL, &job->system, job->error);
  if (status != TAILVOLT_OK) return status;
  status = tv_programmes_make(job->system, &job->options.run, &job->programmes, job->error);
  if (status != TAILVOLT_OK) return status;
  if (isnan(job->parked_s)) job->parked_s = job->system->targets.parked_s;
  if ((status = tv_remedy_calibrate(job)) != TAILVOLT_OK) return status;
  remedy->parked_wanted_s = job->parked_s;
  tv_copy_text(remedy->system, sizeof remedy->system, job->name);
  tv_copy_text(remedy->profile, sizeof remedy->profile, tailvolt_profile_name(job->profile));
  job->margin_again_v = (double)NAN;
  job->slow_rows = has_slow_rows(job);
  for (int k = 0; k < TV_FAMILIES_MOST; k++) job->in_set_v[k] = (double)NAN;
  if ((status = tv_remedy_over_again(job->profile, job->system, &job->over_again)) != TAILVOLT_OK) return status;
  if ((status = run_before(job, remedy)) != TAILVOLT_OK) return status;
  status = tv_plan_make(job->system, &job->catalogue, remedy->before, &job->plan);
  if (status != TAILVOLT_OK) return status;
  /* at most each size of each family once */
  remedy->worth = calloc((size_t)job->plan.family_count * TV_SIZE_STEPS_MOST + 1, sizeof *remedy->worth);
  if (remedy->worth == NULL) return TAILVOLT_NO_MEMORY;
  status = run_alone(job, remedy, known);
  if (status == TAILVOLT_OK) status = run_smallest(job, remedy, known);
  remedy->shortage = tv_shortage(job, remedy);
  if (status == TAILVOLT_OK) status = search(job, remedy, known, &chosen);
  /* what is known so far is worth reporting, even if the search was stopped */
  if (remedy->quieter_db > 0.0) remedy->level_db = -remedy->quieter_db;
  qsort(remedy->worth, (size_t)remedy->worth_count, sizeof *remedy->worth, compare_worth);
  tv_diagnose(job, remedy);
  static const enum tailvolt_cure asked[TAILVOLT_ANSWERS] = {TAILVOLT_CURE_CAPACITOR, TAILVOLT_CURE_SECOND_BATTERY,
                                                             TAILVOLT_CURE_FEED, TAILVOLT_CURE_GROUND,
                                                             TAILVOLT_CURE_ALTERNATOR};
  for (int k = 0; k < TAILVOLT_ANSWERS; k++) {
    remedy->answers[k].cure = asked[k];
    tv_answer(job, remedy, &chosen, &remedy->answers[k]);
  }
  enum tailvolt_status added = add_cautions(job, remedy);
  return status == TAILVOLT_OK ? added : status;
}

/* Puts the file's name before the "LINE:COLUMN: text" of a catalogue or price list. */
static void name_file(const char *path, char error[TAILVOLT_TEXT_MAX]) {
  char text[TAILVOLT_TEXT_MAX];
  tv_copy_text(text, sizeof text, error);
  bool line = text[0] >= '0' && text[0] <= '9';
  if (path != NULL) snprintf(error, TAILVOLT_TEXT_MAX, "%.120s:%s%.130s", path, line ? "" : " ", text);
}

enum tailvolt_status tailvolt_remedy(const char *text, const char *name, const struct tailvolt_setting *settings,
                                     int setting_count, const struct tailvolt_profile *profile,
                                     const struct tailvolt_remedy_options *options, struct tailvolt_remedy **out,
                                     char *error) {
  char unheard[TAILVOLT_TEXT_MAX];
  if (error == NULL) error = unheard;
  error[0] = '\0';
  *out = NULL;
  if (options->cookie != COOKIE) {
    snprintf(error, TAILVOLT_TEXT_MAX, "options must come from tailvolt_default_remedy_options()");
    return TAILVOLT_INTERNAL;
  }
  struct tv_remedy_job *job = calloc(1, sizeof *job);
  struct tailvolt_remedy *remedy = calloc(1, sizeof *remedy);
  struct tv_known known = {0};
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (job == NULL || remedy == NULL) goto done;
  *job = (struct tv_remedy_job){.text = text, .name = name, .settings = settings, .setting_count = setting_count,
                                .profile = profile, .options = *options, .parked_s = options->parked_s};
  remedy->sure_frac = (double)NAN;
  remedy->level_db = remedy->parked_before_s = remedy->parked_wanted_s = (double)NAN;
  atomic_init(&job->stop, false);
  remedy->quieter_db = (double)NAN;
  status = tv_catalogue_read(options->catalogue, &job->catalogue, job->error);
  if (status != TAILVOLT_OK) name_file(options->catalogue, job->error);
  if (status == TAILVOLT_OK && options->prices != NULL) {
    status = tv_catalogue_price(options->prices, &job->catalogue, job->error);
    if (status != TAILVOLT_OK) name_file(options->prices, job->error);
  }
  tv_copy_text(remedy->currency, sizeof remedy->currency, job->catalogue.currency);
  if (status == TAILVOLT_OK) status = work(job, remedy, &known);
  if (status == TAILVOLT_OK) status = tv_remedy_draw_cars(job, remedy);
  remedy->sure_sets = job->counted_sets;
  remedy->runs = job->runs;
  remedy->whole_runs = job->whole_runs;
  if (status != TAILVOLT_OK)
    snprintf(error, TAILVOLT_TEXT_MAX, "%s", job->error[0] != '\0' ? job->error : tailvolt_status_text(status));
  if (status == TAILVOLT_OK || (status == TAILVOLT_STOPPED && remedy->before != NULL)) {
    remedy->partial = status == TAILVOLT_STOPPED;
    *out = remedy;
    remedy = NULL;
  }
done:
  tv_known_free(&known);
  tailvolt_remedy_free(remedy);
  if (job != NULL) {
    tailvolt_system_free(job->system);
    tv_programmes_free(job->programmes);
    tv_programmes_free(job->smooth_programmes);
    tailvolt_profile_free(job->over_again);
    tv_catalogue_free(&job->catalogue);
    free(job->play_s);
  }
  free(job);
  return status;
}

enum tailvolt_status tailvolt_remedy_write(const char *text, const struct tailvolt_setting *settings,
                                           int setting_count, const struct tailvolt_remedy_set *set, char **out) {
  size_t count = (size_t)setting_count + (size_t)set->change_count;
  struct tailvolt_setting *all = calloc(count + 1, sizeof *all);
  char(*lines)[TAILVOLT_TEXT_MAX + 8] = calloc((size_t)set->change_count + 1, sizeof *lines);
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  *out = NULL;
  if (all != NULL && lines != NULL) {
    for (int k = 0; k < setting_count; k++) all[k] = settings[k];
    for (int k = 0; k < set->change_count; k++) {
      snprintf(lines[k], sizeof lines[k], "%s = %s", set->changes[k].key, set->changes[k].value);
      all[setting_count + k].text = lines[k];
    }
    status = tv_system_write_with(text, all, (int)count, out);
  }
  free(all);
  free(lines);
  return status;
}

static void free_set(struct tailvolt_remedy_set *set) {
  free(set->changes);
  free(set->cautions);
  free(set->fuses);
  tailvolt_result_free(set->result);
}

void tailvolt_remedy_free(struct tailvolt_remedy *remedy) {
  if (remedy == NULL) return;
  tailvolt_result_free(remedy->before);
  free(remedy->worth);
  free(remedy->cautions);
  free_set(&remedy->chosen);
  free_set(&remedy->marginal);
  for (int k = 0; k < remedy->runner_up_count; k++) free_set(&remedy->runners_up[k]);
  free(remedy);
}
