/* Remedy: the order of work. One run as it is; then what an ideal part would gain and what each cure is worth
 * alone; then the search; last, in one batch, all that is shown and was only foreseen. */
#include "study/remedy.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/system_edit.h"
#include "parts/battery_labels.h"
#include "simulate/each.h"
#include "text/text.h"

void tailvolt_remedy_options_init(struct tailvolt_remedy_options *options, size_t size) {
  struct tailvolt_remedy_options all;
  memset(&all, 0, sizeof all);
  all.size = size;
  all.run = tailvolt_default_options();
  all.parked_s = all.sure_frac = (double)NAN;
  all.most_parts = 3;
  all.most_runs = 2000;
  memcpy(options, &all, size < sizeof all ? size : sizeof all);
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
  for (int dearest; status == TAILVOLT_OK && (dearest = dearest_uncounted(job, known)) >= 0;) {
    struct tv_trial *trial = &known->trial[dearest];
    if (trial->foreseen) status = tv_confirm(job, &trial, 1);
    if (status == TAILVOLT_OK) status = tv_remedy_count_cars(job, trial);
  }
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

/* ---- what is shown, run in full ---- */

enum { LAST_MOST = 2 + TAILVOLT_RUNNERS_UP + 2 * TV_FAMILIES_MOST };

/* The last batch: sets found in longer steps, the chosen one's cures alone and the set without each. */
struct last {
  int count;
  struct tv_trial *trial;                /* [LAST_MOST] */
  int set_count, set[2 + TAILVOLT_RUNNERS_UP]; /* index in `known`; they come first */
  int alone[TV_FAMILIES_MOST], without[TV_FAMILIES_MOST]; /* index in the batch; -1 = not asked for */
};

static void list_set(struct last *last, const struct tv_known *known, int at) {
  if (at < 0 || !known->trial[at].foreseen) return;
  const struct tv_trial *foreseen = &known->trial[at];
  last->set[last->set_count++] = at;
  last->trial[last->count++] = (struct tv_trial){.ideal = -1, .choice = foreseen->choice, .expected = foreseen->meets,
                                                       .notes_clear = foreseen->notes_clear};
}

static int list_whole(struct last *last, const struct tv_choice *choice) {
  for (int k = last->set_count; k < last->count; k++)
    if (memcmp(&last->trial[k].choice, choice, sizeof *choice) == 0) return k;
  last->trial[last->count] = (struct tv_trial){.ideal = -1, .to_the_end = true, .choice = *choice};
  return last->count++;
}

/* Each part of the chosen set alone, where that is not in the table yet, and the set without it. */
static void list_parts(const struct tv_remedy_job *job, const struct tailvolt_remedy *remedy, const struct tv_choice *chosen,
                       struct last *last) {
  int parts = 0;
  for (int k = 0; k < job->plan.family_count; k++) parts += chosen->size_step[k] > 0;
  for (int k = 0; k < job->plan.family_count; k++) {
    struct tv_choice alone = {{0}};
    bool shown = false;
    if (chosen->size_step[k] == 0) continue;
    for (int w = 0; w < remedy->worth_count; w++)
      shown = shown || (remedy->worth[w].cure == job->plan.family[k].cure && remedy->worth[w].size == chosen->size_step[k]);
    alone.size_step[k] = chosen->size_step[k];
    if (!shown) last->alone[k] = list_whole(last, &alone);
  }
  for (int k = 0; k < job->plan.family_count && parts > 1; k++) {
    struct tv_choice without = *chosen;
    if (chosen->size_step[k] == 0) continue;
    without.size_step[k] = 0;
    last->without[k] = list_whole(last, &without);
  }
}

/* The sets of the batch take the place of what was foreseen; false where one does not hold as it should. */
static bool take_sets(struct tv_remedy_job *job, struct tv_known *known, struct last *last, int marginal) {
  bool as_foreseen = true;
  for (int k = 0; k < last->set_count; k++) {
    struct tv_trial *of = &known->trial[last->set[k]];
    if (last->trial[k].status == TAILVOLT_STOPPED) continue;
    if (last->set[k] != marginal && last->trial[k].meets != of->meets) as_foreseen = false;
    *of = last->trial[k];
    last->trial[k].result = NULL;
    job->runs--; /* counted when it was foreseen */
  }
  return as_foreseen;
}

static enum tailvolt_status take_parts(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known,
                                       struct last *last, double low_v) {
  enum tailvolt_status status = TAILVOLT_OK;
  for (int k = 0; k < job->plan.family_count; k++)
    if (last->without[k] >= 0 && last->trial[last->without[k]].done)
      job->in_set_v[k] = low_v - last->trial[last->without[k]].low_v;
  for (int k = 0; k < job->plan.family_count; k++) {
    if (last->alone[k] < 0) continue;
    enum tailvolt_status taken = tv_take_alone(job, remedy, known, &last->trial[last->alone[k]], 1);
    if (status == TAILVOLT_OK) status = taken;
  }
  return status;
}

static void clear_last(struct last *last) {
  for (int k = 0; k < last->count; k++) tv_trial_clear(&last->trial[k]);
  last->count = last->set_count = 0;
  for (int k = 0; k < TV_FAMILIES_MOST; k++) last->alone[k] = last->without[k] = -1;
}

/* What a search found. */
struct found {
  int best, runner_up_count, runners_up[TAILVOLT_RUNNERS_UP];
};

static enum tailvolt_status run_last(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known,
                                     const struct found *found, bool parts, struct last *last, bool *as_foreseen) {
  clear_last(last);
  double below = found->best >= 0 ? tv_plan_cost(&job->plan, &known->trial[found->best].choice) : (double)INFINITY;
  int marginal = parts ? tv_known_marginal(job, known, below) : -1;
  list_set(last, known, found->best);
  for (int k = 0; k < found->runner_up_count; k++) list_set(last, known, found->runners_up[k]);
  list_set(last, known, marginal);
  if (found->best >= 0 && parts) list_parts(job, remedy, &known->trial[found->best].choice, last);
  tv_remedy_stage(job, 0.86, last->count);
  enum tailvolt_status status = tv_try(job, last->trial, last->count);
  *as_foreseen = take_sets(job, known, last, marginal);
  return status;
}

/* The search, and what it found run in full; once more, knowing better, where that turns out otherwise. With `parts` also all else that
 * is shown of it. */
static enum tailvolt_status search_and_confirm(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known,
                                               struct found *found, bool parts, struct last *last) {
  const int from = known->count, runs = job->runs;
  for (bool as_foreseen = false;;) {
    enum tailvolt_status status = search_in_order(job, remedy, known, &found->best, found->runners_up);
    found->runner_up_count = found->best >= 0 ? remedy->runner_up_count : 0;
    if (status == TAILVOLT_OK) status = run_last(job, remedy, known, found, parts, last, &as_foreseen);
    if (status != TAILVOLT_OK || as_foreseen) return status;
    while (known->count > from && status == TAILVOLT_OK) {
      struct tv_trial *moved = &known->trial[--known->count];
      moved->expected = false;
      status = tv_known_add(&job->facts, moved);
    }
    if (status != TAILVOLT_OK) return status;
    job->runs = runs;
  }
}

/* Drops what was only foreseen, where the search was stopped. */
static void drop_foreseen(const struct tv_known *known, struct found *found) {
  int kept = 0;
  if (found->best >= 0 && known->trial[found->best].result == NULL) found->best = -1;
  for (int k = 0; k < found->runner_up_count; k++)
    if (found->best >= 0 && known->trial[found->runners_up[k]].result != NULL) found->runners_up[kept++] = found->runners_up[k];
  found->runner_up_count = kept;
}

static enum tailvolt_status make_sets(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known,
                                      const struct found *found) {
  const bool steady = remedy->shortage == TAILVOLT_SHORTAGE_STEADY;
  enum tailvolt_status made = TAILVOLT_OK;
  remedy->runner_up_count = 0;
  if (found->best >= 0) {
    made = tv_remedy_make_set(job, &known->trial[found->best], steady, remedy->before, &remedy->chosen);
    remedy->found = made == TAILVOLT_OK;
    for (int k = 0; k < found->runner_up_count && made == TAILVOLT_OK; k++)
      made = tv_remedy_make_set(job, &known->trial[found->runners_up[k]], steady, remedy->before,
                      &remedy->runners_up[remedy->runner_up_count++]);
  }
  double below = remedy->found ? remedy->chosen.cost : (double)INFINITY;
  for (int marginal; made == TAILVOLT_OK && (marginal = tv_known_marginal(job, known, below)) >= 0;) {
    struct tv_trial *trial = &known->trial[marginal];
    if (trial->foreseen) made = tv_confirm(job, &trial, 1);
    if (made != TAILVOLT_OK || !trial->marginal || trial->result == NULL) continue;
    made = tv_remedy_make_set(job, trial, steady, remedy->before, &remedy->marginal);
    remedy->marginal_found = made == TAILVOLT_OK;
    break;
  }
  return made;
}

/* ---- what needs nothing of the search goes on beside it ---- */

/* A search, and what comes before it, leaves a processor idle for much of its time. */
struct beside {
  struct tv_beside thread;
  struct tv_remedy_job *of;
  struct tv_remedy_job job;              /* as it was when this began, with its own counts, on one thread */
  struct tv_known known;                 /* likewise; results belong to the search */
  const struct tailvolt_result *before;
  atomic_bool over, waited_for;          /* the search has failed; it is over, and waits */
  struct tv_bisection levels;
  struct tailvolt_certainty cars;
  enum tailvolt_status status;
};

/* What the user is asked is the search's business while that lasts. */
static int look_beside(void *context, double done_frac) {
  struct beside *b = context;
  (void)done_frac;
  const struct tailvolt_options *run = &b->of->options.run;
  if (atomic_load(&b->over) || atomic_load(&b->of->stop)) return 1;
  if (!atomic_load(&b->waited_for) || run->progress == NULL || run->progress(run->progress_context, b->of->done_frac) == 0) return 0;
  atomic_store(&b->of->stop, true);
  return 1;
}

static void find_level(void *context) {
  struct beside *b = context;
  b->status = tv_bisect(&b->job, &b->known, &b->levels);
}

static void draw_as_it_is(void *context) {
  struct beside *b = context;
  b->status = tv_remedy_draw_before(&b->job, b->before, &b->cars);
}

/* *out = NULL where there is no memory. */
static enum tailvolt_status begin_beside(struct tv_remedy_job *job, const struct tailvolt_remedy *remedy, const struct tv_known *known,
                                         void (*what)(void *context), struct beside **out) {
  struct tv_trial *trials = malloc((size_t)known->count * sizeof *trials + 1);
  struct beside *b = *out = trials != NULL ? malloc(sizeof *b) : NULL;
  if (b == NULL) {
    free(trials);
    return TAILVOLT_NO_MEMORY;
  }
  if (known->count > 0) memcpy(trials, known->trial, (size_t)known->count * sizeof *trials);
  *b = (struct beside){.of = job, .job = *job, .known = {.count = known->count, .trial = trials}, .before = remedy->before,
                       .levels = {.level = true}};
  b->job.options.threads = 1;
  b->job.options.run.progress = look_beside;
  b->job.options.run.progress_context = b;
  b->job.runs = b->job.whole_runs = 0;
  atomic_init(&b->job.stop, false);
  atomic_init(&b->over, false);
  atomic_init(&b->waited_for, false);
  tv_lock_make(&b->job.reporting);
  tv_beside_begin(&b->thread, tv_threads(job->options.threads), what, b);
  return TAILVOLT_OK;
}

/* Waits for it; `searched`: how the search ended. */
static void wait_for(struct beside *b, enum tailvolt_status searched) {
  atomic_store(searched == TAILVOLT_OK ? &b->waited_for : &b->over, true);
  tv_beside_end(&b->thread);
  tv_lock_free(&b->job.reporting);
  free(b->known.trial);
  b->of->beside_runs += b->job.runs;
  b->of->whole_runs += b->job.whole_runs;
}

/* Takes over what was found out about the level. */
static enum tailvolt_status end_levels(struct beside *b, struct tailvolt_remedy *remedy, struct tv_known *known,
                                       enum tailvolt_status searched) {
  struct tv_remedy_job *job = b->of;
  wait_for(b, searched);
  enum tailvolt_status status = searched != TAILVOLT_OK ? searched : b->status;
  remedy->level_looked_for = status == TAILVOLT_OK && tv_plan_family(&job->plan, TAILVOLT_CURE_LEVEL) >= 0;
  for (int k = 0; k < job->plan.family_count && status == TAILVOLT_OK; k++) {
    const struct tv_family *family = &job->plan.family[k];
    if (family->cure == TAILVOLT_CURE_LEVEL && b->levels.high[k] >= 1 && b->levels.high[k] <= family->size_step_count)
      remedy->quieter_db = family->size_step[b->levels.high[k] - 1].item->value;
  }
  enum tailvolt_status taken = tv_bisect_take(job, remedy, known, &b->levels);
  free(b);
  return status == TAILVOLT_OK ? taken : status;
}

/* And about such cars as it is; where that was stopped nothing is said of them. */
static enum tailvolt_status end_cars(struct beside *b, struct tailvolt_remedy *remedy, enum tailvolt_status searched) {
  wait_for(b, searched);
  enum tailvolt_status drawn = b->status;
  if (searched == TAILVOLT_OK && remedy->found && drawn == TAILVOLT_OK) remedy->certainty_before = b->cars;
  free(b);
  return searched == TAILVOLT_OK && drawn == TAILVOLT_NO_MEMORY ? drawn : searched;
}

static enum tailvolt_status search(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known,
                                   struct tv_first *first, struct tv_choice *chosen) {
  struct tv_bisection single = {.level = false, .ahead = first->ahead};
  first->ahead = (struct tv_known){0};
  struct last last = {.trial = calloc(LAST_MOST, sizeof *last.trial)};
  struct found found = {.best = -1};
  bool by_cars = job->options.vehicles > 0 && isfinite(job->options.sure_frac);
  enum tailvolt_status status = last.trial != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  tv_remedy_stage(job, 0.5, 20);
  if (status == TAILVOLT_OK) status = tv_bisect(job, known, &single);
  enum tailvolt_status taken = tv_bisect_take(job, remedy, known, &single);
  if (status == TAILVOLT_OK) status = taken;
  if (status == TAILVOLT_OK) status = tv_run_wire_sizes(job, remedy, known);
  bool begun = status == TAILVOLT_OK;
  tv_remedy_stage(job, 0.72, 20);
  if (status == TAILVOLT_OK) status = search_and_confirm(job, remedy, known, &found, !by_cars, &last);
  if (by_cars && status == TAILVOLT_OK) {
    bool as_foreseen;
    remedy->runner_up_count = found.runner_up_count;
    if (found.best >= 0) status = search_by_cars(job, remedy, known, &found.best, found.runners_up);
    found.runner_up_count = remedy->runner_up_count;
    if (status == TAILVOLT_OK) status = run_last(job, remedy, known, &found, true, &last, &as_foreseen);
  }
  if (status != TAILVOLT_OK) drop_foreseen(known, &found);
  if (begun) {
    double low_v = found.best >= 0 ? known->trial[found.best].low_v : (double)NAN;
    if (found.best >= 0) *chosen = known->trial[found.best].choice;
    if (status == TAILVOLT_OK) status = take_parts(job, remedy, known, &last, low_v);
    enum tailvolt_status made = make_sets(job, remedy, known, &found);
    if (status == TAILVOLT_OK) status = made;
  }
  clear_last(&last);
  free(last.trial);
  return status;
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

static int compare_worth(const void *left, const void *right) {
  const struct tailvolt_worth *a = left, *b = right;
  if (a->cure != b->cure) return a->cure < b->cure ? -1 : 1;
  return a->cost < b->cost ? -1 : a->cost > b->cost;
}

/* Whether rows turn slower than idle speed: a remedy's runs raise them to it. */
static enum tailvolt_status find_slow_rows(const struct tv_remedy_job *job, bool *slow) {
  struct tailvolt_profile_cursor *cursor = NULL;
  const struct tailvolt_row *row;
  enum tailvolt_status status = tailvolt_profile_open(job->profile, &cursor);
  *slow = false;
  while (status == TAILVOLT_OK && !*slow && (status = tailvolt_profile_next(cursor, &row)) == TAILVOLT_OK && row != NULL)
    *slow = row->engine_rpm > 0.0 && row->engine_rpm < job->system->engine.idle_rpm;
  tailvolt_profile_close(cursor);
  return status;
}

/* Whether idling and the road together lose charge, or nearly: then what a set changes on the road must be known. No cure on offer takes
 * as much from it. */
static bool mix_decides(const struct tv_remedy_job *job, const struct tailvolt_result *before) {
  const double nearly_a = 1.0;
  double share = job->system->targets.idle_frac, road_a = job->options.run.road_balance_a;
  return share * tailvolt_charge_balance_a(before, TAILVOLT_IDLE) + (1.0 - share) * road_a < nearly_a;
}

static enum tailvolt_status work(struct tv_remedy_job *job, struct tailvolt_remedy *remedy, struct tv_known *known,
                                 struct tv_first *first) {
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
  if ((status = find_slow_rows(job, &job->slow_rows)) != TAILVOLT_OK) return status;
  for (int k = 0; k < TV_FAMILIES_MOST; k++) job->in_set_v[k] = (double)NAN;
  if ((status = tv_remedy_over_again(job->profile, job->system, &job->over_again)) != TAILVOLT_OK) return status;
  job->plan = (struct tv_plan){.system = job->system, .catalogue = &job->catalogue, .worst_amplifier = -1};
  job->long_step_s = job->options.thorough ? 0.0 : tv_foresee_step_s(job);
  if ((status = tv_run_before(job, remedy, first)) != TAILVOLT_OK) return status;
  if (mix_decides(job, remedy->before)) job->road = job->options.road;
  struct beside *cars = NULL, *levels = NULL;
  if (!remedy->met_before && job->options.vehicles > 0) status = begin_beside(job, remedy, known, draw_as_it_is, &cars);
  if (status == TAILVOLT_OK) status = tv_plan_make(job->system, &job->catalogue, remedy->before, &job->plan);
  /* at most each size of each family once */
  remedy->worth = calloc((size_t)job->plan.family_count * TV_SIZE_STEPS_MOST + 1, sizeof *remedy->worth);
  if (remedy->worth == NULL) status = TAILVOLT_NO_MEMORY;
  bool planned = status == TAILVOLT_OK;
  if (planned) status = tv_run_alone(job, remedy, known, first);
  if (status == TAILVOLT_OK && !remedy->met_before) status = begin_beside(job, remedy, known, find_level, &levels);
  if (status == TAILVOLT_OK) status = tv_run_smallest(job, remedy, known, first);
  if (planned) remedy->shortage = tv_shortage(job, remedy);
  if (status == TAILVOLT_OK) status = remedy->met_before ? keep_as_it_is(remedy) : search(job, remedy, known, first, &chosen);
  enum tailvolt_status drawn = status == TAILVOLT_OK ? tv_remedy_draw_sets(job, remedy) : TAILVOLT_OK;
  if (levels != NULL) status = end_levels(levels, remedy, known, status);
  if (cars != NULL) status = end_cars(cars, remedy, status);
  if (status == TAILVOLT_OK) status = drawn;
  if (!planned) return status;
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
  if (options->size != sizeof *options) {
    snprintf(error, TAILVOLT_TEXT_MAX, "options must come from tailvolt_default_remedy_options()");
    return TAILVOLT_INTERNAL;
  }
  struct tv_remedy_job *job = calloc(1, sizeof *job);
  struct tailvolt_remedy *remedy = calloc(1, sizeof *remedy);
  struct tv_known known = {0};
  struct tv_first first = {.count = 0};
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  struct tv_labels *labels = tv_labels_make();
  if (job == NULL || remedy == NULL || labels == NULL) {
    tv_labels_free(labels);
    free(job);
    free(remedy);
    return status;
  }
  *job = (struct tv_remedy_job){.text = text, .name = name, .settings = settings, .setting_count = setting_count,
                                .profile = profile, .options = *options, .labels = labels, .parked_s = options->parked_s};
  job->options.most_parts = options->most_parts < 1 ? 1 : options->most_parts > 3 ? 3 : options->most_parts;
  remedy->most_parts = job->options.most_parts;
  remedy->sure_frac = (double)NAN;
  remedy->level_db = remedy->parked_before_s = remedy->parked_wanted_s = (double)NAN;
  atomic_init(&job->stop, false);
  tv_lock_make(&job->reporting);
  remedy->quieter_db = (double)NAN;
  status = tv_catalogue_read(options->catalogue, &job->catalogue, job->error);
  if (status != TAILVOLT_OK) name_file(options->catalogue, job->error);
  if (status == TAILVOLT_OK && options->prices != NULL) {
    status = tv_catalogue_price(options->prices, &job->catalogue, job->error);
    if (status != TAILVOLT_OK) name_file(options->prices, job->error);
  }
  tv_copy_text(remedy->currency, sizeof remedy->currency, job->catalogue.currency);
  if (status == TAILVOLT_OK) status = work(job, remedy, &known, &first);
  if (status == TAILVOLT_OK && remedy->found) status = tv_remedy_draw_before(job, remedy->before, &remedy->certainty_before);
  remedy->sure_sets = job->counted_sets;
  remedy->runs = job->runs + job->beside_runs;
  remedy->whole_runs = job->whole_runs;
  if (status != TAILVOLT_OK)
    snprintf(error, TAILVOLT_TEXT_MAX, "%s", job->error[0] != '\0' ? job->error : tailvolt_status_text(status));
  if (status == TAILVOLT_OK || (status == TAILVOLT_STOPPED && remedy->before != NULL)) {
    remedy->partial = status == TAILVOLT_STOPPED;
    *out = remedy;
    remedy = NULL;
  }
  tv_first_clear(&first);
  tv_known_free(&known);
  tailvolt_remedy_free(remedy);
  tailvolt_system_free(job->system);
  tv_programmes_free(job->programmes);
  tv_programmes_free(job->smooth_programmes);
  tv_labels_free(job->labels);
  tailvolt_profile_free(job->over_again);
  tv_catalogue_free(&job->catalogue);
  tv_known_free(&job->facts);
  tv_lock_free(&job->reporting);
  free(job->play_s);
  free(job);
  return status;
}

enum tailvolt_status tailvolt_remedy_write(const char *text, const struct tailvolt_setting *settings,
                                           int setting_count, const struct tailvolt_remedy_set *set, char **out) {
  size_t count = (size_t)setting_count + (size_t)set->change_count;
  struct tailvolt_setting *all = calloc(count + 1, sizeof *all);
  char(*lines)[sizeof set->changes->key + sizeof set->changes->value + 4] = calloc((size_t)set->change_count + 1, sizeof *lines);
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
  free(set->leads);
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
