/* Remedy: what is known before any search. The system as it is, with one thing ideal, each cure alone: the figures of the tables. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/verdict.h"
#include "study/remedy.h"
#include "text/text.h"

static double lowest_v(const struct tailvolt_result *result) {
  double lowest = (double)INFINITY;
  for (int k = 0; k < result->amplifier_count; k++)
    for (int p = 0; p < TAILVOLT_PHASES; p++)
      if (result->amplifiers[k].phase[p].play_s > 0.0) lowest = fmin(lowest, result->amplifiers[k].phase[p].min_v);
  return lowest;
}

/* Of a block that costs little more than one run; what runs ahead is counted to fill such. */
enum { LANES = 4, BETWEEN_MOST = 2, SOONER_MOST = 4 };

void tv_remedy_stage(struct tv_remedy_job *job, double to, int runs) {
  job->stage_from = job->done_frac;
  job->stage_to = to;
  job->stage_runs = runs;
  job->stage_done = job->batch = 0;
}

static void put_first(struct tv_first *first, struct tv_trial trial) {
  trial.to_the_end = true;
  first->trial[first->count++] = trial;
}

static void put_ideal(const struct tv_remedy_job *job, struct tv_first *first, enum tailvolt_ideal ideal) {
  bool machine = ideal == TAILVOLT_IDEAL_ALTERNATOR || ideal == TAILVOLT_IDEAL_FIELD;
  if (!machine || job->system->alternator.present) put_first(first, (struct tv_trial){.ideal = (int)ideal});
}

static struct tv_trial just_the_fuses(void) { return (struct tv_trial){.ideal = -1, .to_the_end = true, .again = true}; }

/* The system as it is, without which nothing can be said; beside it, with one thing ideal, what needs no plan. Those of other shapes
 * wait for cures of theirs. With its fuses put right it takes the fourth lane, unless that run goes over again and lasts longer. */
enum tailvolt_status tv_run_before(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_first *first) {
  struct tv_trial *trial = first->trial;
  put_first(first, (struct tv_trial){.ideal = -1, .raw = true});
  put_ideal(job, first, TAILVOLT_IDEAL_WIRE);
  put_ideal(job, first, TAILVOLT_IDEAL_ALTERNATOR);
  put_ideal(job, first, TAILVOLT_IDEAL_BATTERY);
  if (job->over_again == NULL) put_first(first, just_the_fuses());
  tv_remedy_stage(job, 0.08, first->count);
  enum tailvolt_status status = tv_try(job, trial, first->count);
  if (trial->status != TAILVOLT_OK && (status == TAILVOLT_OK || status == trial->status)) {
    memcpy(job->error, trial->error, sizeof job->error);
    return trial->status;
  }
  if (status != TAILVOLT_OK) return status;
  remedy->before = trial->result;
  trial->result = NULL;
  remedy->met_before = trial->meets;
  remedy->margin_before_v = tv_margin_v(remedy->before);
  remedy->below_before_pct = tv_below_pct(remedy->before);
  remedy->parked_before_s = trial->parked_s;
  job->quick_before_s = trial->quick_s;
  job->charge_short = tv_loses_charge(remedy->before);
  remedy->margin_fitted_v = remedy->margin_before_v;
  remedy->below_fitted_pct = remedy->below_before_pct;
  job->fitted_ah = tv_charge_ah(remedy->before);
  int count = remedy->before->amplifier_count;
  job->play_s = calloc((size_t)count * TAILVOLT_PHASES + 1, sizeof *job->play_s);
  if (job->play_s == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < count; k++)
    for (int p = 0; p < TAILVOLT_PHASES; p++)
      job->play_s[k * TAILVOLT_PHASES + p] = remedy->before->amplifiers[k].phase[p].play_s;
  return TAILVOLT_OK;
}

/* What ran before it is asked for counts only then. */
static enum tailvolt_status keep_ahead(struct tv_remedy_job *job, struct tv_known *ahead, struct tv_trial *trials, int count) {
  enum tailvolt_status status = TAILVOLT_OK;
  for (int k = 0; k < count; k++) {
    job->runs--;
    job->whole_runs -= trials[k].whole;
    enum tailvolt_status added = trials[k].done ? tv_known_add(ahead, &trials[k]) : TAILVOLT_OK;
    if (!trials[k].done) tv_trial_clear(&trials[k]);
    if (status == TAILVOLT_OK) status = added;
  }
  return status;
}

void tv_first_clear(struct tv_first *first) {
  tv_known_free(&first->ahead);
  for (int k = 0; k < first->count; k++) tv_trial_clear(&first->trial[k]);
  first->count = 0;
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
  worth->loses_charge = tv_loses_charge(trial->result);
  worth->min_v = lowest_v(trial->result);
  bool again = worth->cure == TAILVOLT_CURE_CAPACITOR && isfinite(job->margin_again_v);
  worth->gain_v = isfinite(remedy->margin_fitted_v)
                      ? trial->margin_v - (again ? job->margin_again_v : remedy->margin_fitted_v) : 0.0;
  worth->below_pct = tv_below_pct(trial->result);
  worth->gain_pct = remedy->below_fitted_pct - worth->below_pct;
  worth->gain_ah = tv_charge_ah(trial->result) - job->fitted_ah;
  worth->gain_parked_s = trial->parked_s - job->quick_before_s;
}

/* Keeps the outcomes of cures run to the end and shows them in the table. */
enum tailvolt_status tv_take_alone(struct tv_remedy_job *job, struct tailvolt_remedy *remedy,
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

/* Every size of the wire family that gains most: the thickest alone does not show how thick is enough. */
enum tailvolt_status tv_run_wire_sizes(struct tv_remedy_job *job, struct tailvolt_remedy *remedy,
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
      if (tv_find_known(known, &trial.choice) == NULL) trials[count++] = trial;
    }
  }
  tv_remedy_stage(job, 0.45, count);
  enum tailvolt_status status = tv_try(job, trials, count);
  enum tailvolt_status taken = tv_take_alone(job, remedy, known, trials, count);
  return status != TAILVOLT_OK ? status : taken;
}

/* Each cure alone at some sizes. */
static int list_alone(const struct tv_remedy_job *job, struct tv_trial *trials) {
  int count = 0;
  for (int k = 0; k < job->plan.family_count; k++) {
    int size_steps[3], sizes = sizes_alone(job, k, size_steps);
    for (int s = 0; s < sizes; s++) {
      trials[count] = (struct tv_trial){.ideal = -1, .to_the_end = true};
      trials[count++].choice.size_step[k] = (signed char)size_steps[s];
    }
  }
  return count;
}

/* The smallest size of a cure that steps in no lane with others goes beside its largest: it is nearly always asked for. */
static void list_unlike(const struct tv_remedy_job *job, struct tv_first *first) {
  static const enum tailvolt_cure unlike[] = {TAILVOLT_CURE_RETURN, TAILVOLT_CURE_SECOND_BATTERY};
  for (int c = 0; c < 2; c++) {
    int family = tv_plan_family(&job->plan, unlike[c]);
    if (family < 0 || job->plan.family[family].size_step_count < 2) continue;
    struct tv_trial trial = {.ideal = -1};
    trial.choice.size_step[family] = 1;
    put_first(first, trial);
  }
}

/* In the lanes that those leave, the sizes of a second battery that are asked for first where its largest is enough and its smallest is
 * not: each would run by itself. Returns how many. */
static int list_between(const struct tv_remedy_job *job, struct tv_trial *trials) {
  int family = tv_plan_family(&job->plan, TAILVOLT_CURE_SECOND_BATTERY), count = 0;
  if (family < 0 || tv_lanes_best() < LANES) return 0;
  int largest = job->plan.family[family].size_step_count, middle = (2 + largest) / 2;
  for (int size = middle; size > 1 && size < largest && count < BETWEEN_MOST; size = (size + 1 + largest) / 2) {
    trials[count] = (struct tv_trial){.ideal = -1};
    trials[count++].choice.size_step[family] = (signed char)size;
  }
  return count;
}

/* The smallest sizes of the cures of the car's own shape that are nearly always worth much, one for each lane: with them two threads have
 * the same to do, and need not wait for another block of one thread's. Returns how many. */
static int list_sooner(const struct tv_remedy_job *job, struct tv_trial *trials) {
  static const enum tailvolt_cure cures[] = {TAILVOLT_CURE_FEED, TAILVOLT_CURE_BATTERY, TAILVOLT_CURE_ALTERNATOR, TAILVOLT_CURE_IDLE};
  int count = 0;
  for (int c = 0; c < SOONER_MOST && tv_lanes_best() >= LANES; c++) {
    int family = tv_plan_family(&job->plan, cures[c]);
    if (family < 0 || job->plan.family[family].size_step_count < 2) continue;
    trials[count] = (struct tv_trial){.ideal = -1, .to_the_end = true};
    trials[count++].choice.size_step[family] = 1;
  }
  return count;
}

/* Gains count from the system with its fuses put right: every cure includes that. */
static void take_fitted(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, const struct tv_trial *fitted) {
  if (fitted->result == NULL) return;
  remedy->margin_fitted_v = tv_margin_v(fitted->result);
  remedy->below_fitted_pct = tv_below_pct(fitted->result);
  job->fitted_ah = tv_charge_ah(fitted->result);
  job->margin_again_v = fitted->margin_again_v; /* the reference for capacitors */
}

/* Where a choice ran already. */
static bool take_first(struct tv_first *first, struct tv_trial *trial) {
  for (int k = 1; k < first->count; k++) {
    struct tv_trial *tried = &first->trial[k];
    if (tried->ideal >= 0 || !tried->done || memcmp(&tried->choice, &trial->choice, sizeof trial->choice) != 0) continue;
    *trial = *tried;
    tried->result = NULL;
    return true;
  }
  return false;
}

enum tailvolt_status tv_run_alone(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known,
                                  struct tv_first *first) {
  struct tv_trial *trials = calloc(1 + 3 * (size_t)job->plan.family_count + TV_FIRST_MOST + BETWEEN_MOST + SOONER_MOST, sizeof *trials);
  if (trials == NULL) return TAILVOLT_NO_MEMORY;
  trials[0] = just_the_fuses();
  int count = 1 + list_alone(job, trials + 1), begun = first->count, ran = take_first(first, &trials[0]);
  put_ideal(job, first, TAILVOLT_IDEAL_FIELD);
  put_ideal(job, first, TAILVOLT_IDEAL_CAPACITOR);
  list_unlike(job, first);
  int more = first->count - begun;
  memcpy(trials + count, first->trial + begun, (size_t)more * sizeof *trials);
  struct tv_trial *between = trials + count + more;
  int between_count = list_between(job, between), sooner = list_sooner(job, between + between_count);
  int all = count + more + between_count + sooner - ran;
  tv_remedy_stage(job, 0.3, all);
  enum tailvolt_status status = tv_try(job, trials + ran, all);
  enum tailvolt_status kept = keep_ahead(job, &first->ahead, between, between_count + sooner);
  if (status == TAILVOLT_OK) status = kept;
  memcpy(first->trial + begun, trials + count, (size_t)more * sizeof *trials);
  take_fitted(job, remedy, &trials[0]);
  for (int ideal = 0; ideal < TAILVOLT_COUNTERFACTUALS; ideal++)
    for (int k = 0; k < first->count; k++)
      if (first->trial[k].ideal == ideal && first->trial[k].status != TAILVOLT_STOPPED) take_ideal(remedy, &first->trial[k]);
  enum tailvolt_status taken = tv_take_alone(job, remedy, known, trials, count);
  for (int k = 0; k < count; k++) tv_trial_clear(&trials[k]);
  free(trials);
  return status != TAILVOLT_OK ? status : taken;
}

/* Takes a trial out of those that ran ahead, and counts it; false = it did not. */
static bool take_ahead(struct tv_remedy_job *job, struct tv_known *ahead, struct tv_trial *trial) {
  for (int k = 0; k < ahead->count; k++) {
    if (memcmp(&ahead->trial[k].choice, &trial->choice, sizeof trial->choice) != 0) continue;
    *trial = ahead->trial[k];
    ahead->trial[k] = ahead->trial[--ahead->count];
    job->runs++;
    job->whole_runs += trial->whole;
    return true;
  }
  return false;
}

/* Also the smallest size of what is worth much at its largest. */
enum tailvolt_status tv_run_smallest(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known,
                                     struct tv_first *first) {
  struct tv_trial trials[TV_FAMILIES_MOST], missing[TV_FAMILIES_MOST];
  int count = 0, missing_count = 0, where[TV_FAMILIES_MOST];
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
  for (int k = 0; k < count; k++)
    if (!take_first(first, &trials[k]) && !take_ahead(job, &first->ahead, &trials[k]))
      where[missing_count] = k, missing[missing_count++] = trials[k];
  tv_remedy_stage(job, 0.38, missing_count);
  enum tailvolt_status status = tv_try(job, missing, missing_count);
  for (int k = 0; k < missing_count; k++) trials[where[k]] = missing[k];
  enum tailvolt_status taken = tv_take_alone(job, remedy, known, trials, count);
  return status != TAILVOLT_OK ? status : taken;
}

/* ---- the smallest size that is enough ---- */

static int tried_at(const struct tv_bisection *b, const struct tv_choice *choice) {
  for (int k = 0; k < b->tried.count; k++)
    if (memcmp(&b->tried.trial[k].choice, choice, sizeof *choice) == 0) return k;
  return -1;
}

/* Bounds from what was run before. */
static void begin_bisection(const struct tv_remedy_job *job, const struct tv_known *known, const struct tv_bisection *b,
                            int low[TV_FAMILIES_MOST], int high[TV_FAMILIES_MOST]) {
  for (int k = 0; k < job->plan.family_count; k++) {
    const struct tv_family *family = &job->plan.family[k];
    low[k] = high[k] = 0;
    if ((family->cure == TAILVOLT_CURE_LEVEL) != b->level) continue;
    high[k] = b->level ? family->size_step_count + 1 : 0; /* for the level even the lowest may not suffice */
    low[k] = 1;
    for (int r = family->size_step_count; r >= 1; r--) {
      struct tv_choice choice = {{0}};
      choice.size_step[k] = (signed char)r;
      const struct tv_trial *tried = tv_find_known(known, &choice);
      if (tried == NULL) continue;
      if (tried->meets) high[k] = r;
      if (!tried->meets && low[k] <= r) low[k] = r + 1;
    }
  }
}

/* Takes over what was tried of it. */
static enum tailvolt_status keep(struct tv_bisection *b, struct tv_trial *trials, int count) {
  enum tailvolt_status status = TAILVOLT_OK;
  for (int k = 0; k < count; k++) {
    if (!trials[k].done && trials[k].status == TAILVOLT_STOPPED) continue;
    enum tailvolt_status added = tv_known_add(&b->tried, &trials[k]);
    if (status == TAILVOLT_OK) status = added;
  }
  return status;
}

/* Goes its way as far as it was tried; what it asks for next, to be run where clear in longer steps. Returns how many, 0 = it is
 * found. */
static int next_on_way(const struct tv_remedy_job *job, const struct tv_known *known, struct tv_bisection *b,
                       struct tv_trial trials[TV_FAMILIES_MOST]) {
  int *low = b->low, *high = b->high;
  b->count = 0;
  begin_bisection(job, known, b, low, high);
  for (;;) {
    int count = 0, missing = 0, where[TV_FAMILIES_MOST];
    struct tv_choice choice[TV_FAMILIES_MOST] = {{{0}}};
    for (int k = 0; k < job->plan.family_count; k++) {
      if (high[k] == 0 || low[k] >= high[k]) continue;
      choice[count].size_step[k] = (signed char)((low[k] + high[k]) / 2);
      where[count++] = k;
    }
    if (count == 0) break;
    for (int t = 0; t < count; t++)
      if (tried_at(b, &choice[t]) < 0)
        trials[missing++] = (struct tv_trial){.ideal = -1, .choice = choice[t], .guess = TV_GUESS_SHOWN};
    if (missing > 0) return missing;
    for (int t = 0; t < count && b->count < TV_BISECTED_MOST; t++) {
      int k = where[t], at = tried_at(b, &choice[t]), size_step = choice[t].size_step[k];
      b->path[b->count++] = at;
      if (b->tried.trial[at].meets) high[k] = size_step;
      else low[k] = size_step + 1;
    }
  }
  return 0;
}

/* The levels that may be asked for next, whichever way the one that is open turns out. Returns how many. */
static int list_ahead(const struct tv_remedy_job *job, const struct tv_bisection *b, struct tv_choice next[2]) {
  int family = tv_plan_family(&job->plan, TAILVOLT_CURE_LEVEL), count = 0;
  if (!b->level || family < 0) return 0;
  int low = b->low[family], high = b->high[family], middle = (low + high) / 2;
  for (int side = 0; side < 2; side++) {
    int from = side == 0 ? low : middle + 1, to = side == 0 ? middle : high;
    struct tv_choice choice = {{0}};
    choice.size_step[family] = (signed char)((from + to) / 2);
    if (from < to && tried_at(b, &choice) < 0) next[count++] = choice;
  }
  return count;
}

/* Runs what is open in full; beside it what will be shown of the way so far, and in lanes left what may come next. */
static enum tailvolt_status settle(struct tv_remedy_job *job, struct tv_bisection *b) {
  struct tv_choice next[2];
  int count = 0, ahead = list_ahead(job, b, next), *at = calloc((size_t)b->tried.count + 1, sizeof *at);
  struct tv_trial *full = calloc((size_t)b->tried.count + 2, sizeof *full);
  enum tailvolt_status status = at != NULL && full != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  for (int t = 0; t < b->tried.count && status == TAILVOLT_OK; t++) {
    const struct tv_trial *tried = &b->tried.trial[t];
    if (!tried->open && (!tried->foreseen || tried->cut_short)) continue;
    at[count] = t;
    full[count++] = (struct tv_trial){.ideal = -1, .choice = tried->choice, .expected = tried->meets, .notes_clear = tried->notes_clear};
  }
  if (ahead > LANES - count) ahead = count < LANES ? LANES - count : 0;
  for (int k = 0; k < ahead && status == TAILVOLT_OK; k++) full[count + k] = (struct tv_trial){.ideal = -1, .choice = next[k]};
  if (status == TAILVOLT_OK) {
    status = tv_try(job, full, count + ahead);
    job->runs -= count; /* they were counted when they were asked for */
    for (int k = 0; k < count; k++) {
      if (!full[k].done) tv_trial_clear(&full[k]);
      if (full[k].done || status == TAILVOLT_OK) b->tried.trial[at[k]] = full[k];
    }
    enum tailvolt_status kept = keep_ahead(job, &b->ahead, full + count, ahead);
    if (status == TAILVOLT_OK) status = kept;
  }
  free(at);
  free(full);
  return status;
}

/* Finds the way; again once more is known. */
static enum tailvolt_status find_way(struct tv_remedy_job *job, const struct tv_known *known, struct tv_bisection *b) {
  struct tv_trial trials[TV_FAMILIES_MOST];
  for (int missing; (missing = next_on_way(job, known, b, trials)) > 0;) {
    int ran = 0;
    bool open = false;
    for (int t = 0; t < missing; t++)
      if (take_ahead(job, &b->ahead, &trials[t])) {
        struct tv_trial taken = trials[t];
        trials[t] = trials[ran];
        trials[ran++] = taken;
      }
    job->stage_runs += missing - ran;
    enum tailvolt_status status = tv_try(job, trials + ran, missing - ran);
    enum tailvolt_status kept = keep(b, trials, missing);
    if (status == TAILVOLT_OK) status = kept;
    for (int t = 0; t < missing; t++) open = open || trials[t].open;
    if (status == TAILVOLT_OK && open) status = settle(job, b);
    if (status != TAILVOLT_OK) return status;
  }
  return TAILVOLT_OK;
}

/* What on the way needs a run in full to be shown: index in `tried`; returns how many. */
static int left_open(const struct tv_bisection *b, int open[TV_BISECTED_MOST]) {
  int count = 0;
  for (int k = 0; k < b->count; k++) {
    const struct tv_trial *tried = &b->tried.trial[b->path[k]];
    if (tried->foreseen && !tried->cut_short) open[count++] = b->path[k];
  }
  return count;
}

/* The power that may be left for the music to keep the target, going by that of two runs, with the voltage in a straight line over it;
 * NAN = they do not tell. */
static double power_enough(const struct tv_remedy_job *job, const struct tv_known *known, int family) {
  const struct tv_trial *loud = tv_find_known(known, &(struct tv_choice){{0}}), *quiet = NULL;
  double power = 1.0;
  for (int r = 1; r <= job->plan.family[family].size_step_count && quiet == NULL; r++) {
    struct tv_choice choice = {{0}};
    choice.size_step[family] = (signed char)r;
    quiet = tv_find_known(known, &choice);
    power = pow(10.0, -0.1 * job->plan.family[family].size_step[r - 1].item->value);
  }
  if (loud == NULL || quiet == NULL || !(quiet->low_v > loud->low_v)) return (double)NAN;
  return 1.0 - (TV_HOLDS_FROM_V - loud->low_v) / (quiet->low_v - loud->low_v) * (1.0 - power);
}

/* The way of the level as two runs let expect it, in full at once: four lanes cost little more than one. Where it goes another, what
 * was not asked for does not count. Volts do not tell how quiet it must be for the charge. */
static enum tailvolt_status guess_way(struct tv_remedy_job *job, const struct tv_known *known, struct tv_bisection *b) {
  struct tv_trial trials[LANES];
  int family = tv_plan_family(&job->plan, TAILVOLT_CURE_LEVEL), count = 0;
  if (!b->level || family < 0 || job->charge_short || tv_lanes_best() < LANES) return TAILVOLT_OK;
  double power = power_enough(job, known, family);
  if (isnan(power)) return TAILVOLT_OK;
  begin_bisection(job, known, b, b->low, b->high);
  for (int low = b->low[family], high = b->high[family]; low < high && count < LANES;) {
    int middle = (low + high) / 2;
    trials[count] = (struct tv_trial){.ideal = -1};
    trials[count++].choice.size_step[family] = (signed char)middle;
    if (pow(10.0, -0.1 * job->plan.family[family].size_step[middle - 1].item->value) <= power) high = middle;
    else low = middle + 1;
  }
  enum tailvolt_status status = tv_try(job, trials, count), kept = keep_ahead(job, &b->ahead, trials, count);
  return status == TAILVOLT_OK ? kept : status;
}

enum tailvolt_status tv_bisect(struct tv_remedy_job *job, const struct tv_known *known, struct tv_bisection *b) {
  enum tailvolt_status guessed = guess_way(job, known, b);
  if (guessed != TAILVOLT_OK) return guessed;
  for (;;) {
    int open[TV_BISECTED_MOST];
    struct tv_trial *trials[TV_BISECTED_MOST];
    enum tailvolt_status status = find_way(job, known, b);
    int count = status == TAILVOLT_OK ? left_open(b, open) : 0;
    for (int k = 0; k < count; k++) trials[k] = &b->tried.trial[open[k]];
    if (count > 0) status = tv_confirm(job, trials, count);
    if (status != TAILVOLT_OK || count == 0) return status;
  }
}

enum tailvolt_status tv_bisect_take(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known,
                                    struct tv_bisection *b) {
  enum tailvolt_status status = TAILVOLT_OK;
  for (int k = 0; k < b->count; k++) {
    enum tailvolt_status taken = tv_take_alone(job, remedy, known, &b->tried.trial[b->path[k]], 1);
    if (status == TAILVOLT_OK) status = taken;
  }
  tv_known_free(&b->tried);
  tv_known_free(&b->ahead);
  return status;
}

