/* The search for the cheapest set.
 *
 * All sets of up to three cures are listed by cost. Most are never run: where a set fails, every set with the same or
 * smaller size steps fails too (a thicker cable, a larger capacitor, one more part is never worse: checked by tests, not
 * by the search), and anything dearer than a set that holds is of no interest. The next runs are chosen to finish soonest:
 * the cheapest set whose cures' single gains add up to a promise of being enough, and the largest size steps of a
 * combination where they do not. The promise only orders the runs; a set counts by its own run alone. The search is over
 * when every cheaper set is known to fail.
 *
 * Where a share of such cars is asked for, the same search goes over the sets once more: one that holds in too few cars fails, and
 * rules out smaller ones likewise. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "study/remedy.h"

static const double LEARN_V = 0.03;
enum { BATCH = 8, PROMISING = 2, RUNNER_UP_RUNS = 8 };

struct candidate {
  double cost;
  double low_v; /* 1 % voltage less its target, by the sum of the single gains */
  int families; /* one bit each */
  bool decided;
  struct tv_choice choice;
};

/* The undecided sets of one combination of families. */
struct group {
  int open;
  struct tv_choice corner; /* largest size_step of each */
  bool likely;             /* that corner should hold, going by the single cures */
  bool taken;              /* in the batch already */
};

struct search {
  struct tv_remedy_job *job;
  const struct tv_scope *scope;
  struct tv_known *known;
  int count, room;
  struct candidate *candidate; /* by cost */
  struct group *group;         /* [1 << families] */
  bool prune;
  int most_parts;
  double promise_v; /* a set is promising from this on; adapts to what was run */
  double base_low_v, gain_v[TV_FAMILIES_MOST][TV_SIZE_STEPS_MOST + 1];
};

static int families_in(const struct tv_plan *plan, const struct tv_choice *choice) {
  int sum = 0;
  for (int k = 0; k < plan->family_count; k++) sum += choice->size_step[k] > 0;
  return sum;
}

static bool within(const struct tv_plan *plan, const struct tv_choice *a, const struct tv_choice *b) {
  for (int k = 0; k < plan->family_count; k++)
    if (a->size_step[k] > b->size_step[k]) return false;
  return true;
}

static bool same(const struct tv_plan *plan, const struct tv_choice *a, const struct tv_choice *b) {
  return within(plan, a, b) && within(plan, b, a);
}

static bool searched(const struct search *search, int family) {
  return (search->scope->families >> family & 1) != 0;
}

/* Families that a set adds to the base. */
static int added_to_base(const struct search *search, const struct tv_choice *choice) {
  int sum = 0;
  for (int k = 0; k < search->job->plan.family_count; k++) sum += choice->size_step[k] != search->scope->base.size_step[k];
  return sum;
}

/* Whether the set is within the scope. */
static bool in_scope(const struct search *search, const struct tv_choice *choice) {
  const struct tv_scope *scope = search->scope;
  for (int k = 0; k < search->job->plan.family_count; k++)
    if (choice->size_step[k] < scope->base.size_step[k] || (choice->size_step[k] != scope->base.size_step[k] && !searched(search, k)))
      return false;
  return scope->must < 0 || choice->size_step[scope->must] > 0;
}

bool tv_rules_out(const struct tv_plan *plan, const struct tv_trial *tried, const struct tv_choice *choice) {
  if (!tried->done) return same(plan, choice, &tried->choice);
  if (tried->unsure) return tv_unsure_too(plan, tried, choice);
  if (tried->refused && tv_plan_step(plan, choice, TAILVOLT_CURE_CAPACITOR) == NULL) return false;
  return within(plan, choice, &tried->choice);
}

static bool rules_out(const struct search *search, const struct tv_trial *tried, const struct tv_choice *choice) {
  const struct tv_plan *plan = &search->job->plan;
  return search->prune ? tv_rules_out(plan, tried, choice) : same(plan, choice, &tried->choice);
}

bool tv_unsure_too(const struct tv_plan *plan, const struct tv_trial *unsure, const struct tv_choice *choice) {
  for (int k = 0; k < plan->family_count && unsure->by_charge; k++) {
    enum tailvolt_cure cure = plan->family[k].cure;
    bool charge = cure == TAILVOLT_CURE_BATTERY || cure == TAILVOLT_CURE_SECOND_BATTERY || cure == TAILVOLT_CURE_ALTERNATOR ||
                  cure == TAILVOLT_CURE_IDLE || cure == TAILVOLT_CURE_CONVERTER;
    if (charge && choice->size_step[k] != unsure->choice.size_step[k]) return false;
  }
  return within(plan, choice, &unsure->choice);
}

/* Meets every target, and holds in as many such cars as are asked for. */
static bool good(const struct tv_trial *tried) { return tried->meets && !tried->unsure; }

/* Known to fail: no better than one that failed. */
static bool fails(const struct search *search, const struct tv_choice *choice) {
  for (int k = 0; k < search->known->count; k++) {
    const struct tv_trial *tried = &search->known->trial[k];
    if (!good(tried) && rules_out(search, tried, choice)) return true;
  }
  return false;
}

/* Known to meet every target: no worse than one that did. */
static bool meets(const struct search *search, const struct tv_choice *choice) {
  const struct tv_plan *plan = &search->job->plan;
  for (int k = 0; k < search->known->count; k++)
    if (good(&search->known->trial[k]) && within(plan, &search->known->trial[k].choice, choice)) return true;
  return false;
}

/* ---- the list ---- */

static int by_cost(const void *left, const void *right) {
  const struct candidate *a = left, *b = right;
  if (a->cost != b->cost) return a->cost < b->cost ? -1 : 1;
  return memcmp(&a->choice, &b->choice, sizeof a->choice);
}

static enum tailvolt_status add_candidate(struct search *search, const struct tv_choice *choice) {
  if (!in_scope(search, choice) || tv_plan_is_redundant(&search->job->plan, choice)) return TAILVOLT_OK;
  if (search->count == search->room) {
    int room = 2 * search->room + 256;
    struct candidate *larger = realloc(search->candidate, (size_t)room * sizeof *larger);
    if (larger == NULL) return TAILVOLT_NO_MEMORY;
    search->candidate = larger;
    search->room = room;
  }
  struct candidate *candidate = &search->candidate[search->count++];
  *candidate = (struct candidate){.cost = tv_plan_cost(&search->job->plan, choice), .low_v = search->base_low_v,
                                  .choice = *choice};
  for (int k = 0; k < search->job->plan.family_count; k++) {
    if (choice->size_step[k] == 0) continue;
    candidate->families |= 1 << k;
    candidate->low_v += search->gain_v[k][choice->size_step[k]];
  }
  return TAILVOLT_OK;
}

/* All choices of up to `left` more families, from `family` on. */
static enum tailvolt_status enumerate(struct search *search, struct tv_choice *choice, int family, int left) {
  const struct tv_plan *plan = &search->job->plan;
  enum tailvolt_status status = TAILVOLT_OK;
  for (int k = family; k < plan->family_count && left > 0 && status == TAILVOLT_OK; k++) {
    if (!searched(search, k)) continue;
    int base = search->scope->base.size_step[k];
    for (int r = base + 1; r <= plan->family[k].size_step_count && status == TAILVOLT_OK; r++) {
      choice->size_step[k] = (signed char)r;
      status = add_candidate(search, choice);
      if (status == TAILVOLT_OK) status = enumerate(search, choice, k + 1, left - 1);
    }
    choice->size_step[k] = (signed char)base;
  }
  return status;
}

/* Gains of single cures run to the end; linear in between, flat beyond the last. */
static void learn_gains(struct search *search) {
  const struct tv_plan *plan = &search->job->plan;
  search->base_low_v = 0.0;
  for (int t = 0; t < search->known->count; t++)
    if (families_in(plan, &search->known->trial[t].choice) == 0 && search->known->trial[t].whole)
      search->base_low_v = search->known->trial[t].low_v;
  for (int k = 0; k < plan->family_count; k++) {
    int last = 0;
    search->gain_v[k][0] = 0.0;
    for (int r = 1; r <= plan->family[k].size_step_count; r++) {
      search->gain_v[k][r] = search->gain_v[k][last];
      for (int t = 0; t < search->known->count; t++) {
        const struct tv_trial *tried = &search->known->trial[t];
        if (!tried->whole || tried->choice.size_step[k] != r || families_in(plan, &tried->choice) != 1) continue;
        double from_v = search->gain_v[k][last], to_v = tried->low_v - search->base_low_v;
        for (int between = last + 1; between <= r; between++)
          search->gain_v[k][between] = from_v + (to_v - from_v) * (between - last) / (r - last);
        last = r;
        break;
      }
    }
  }
}

static double promised_v(const struct search *search, const struct tv_choice *choice) {
  double low_v = search->base_low_v;
  for (int k = 0; k < search->job->plan.family_count && k < TV_FAMILIES_MOST; k++)
    low_v += search->gain_v[k][choice->size_step[k]];
  return low_v;
}

/* ---- running ---- */

/* What an earlier search found out about a choice; false = nothing. */
static bool take_fact(struct tv_remedy_job *job, struct tv_trial *trial) {
  for (int k = 0; k < job->facts.count; k++) {
    if (!same(&job->plan, &job->facts.trial[k].choice, &trial->choice)) continue;
    *trial = job->facts.trial[k];
    job->facts.trial[k] = job->facts.trial[--job->facts.count];
    job->runs++; /* as if it had run: a repeated search takes the same way */
    return true;
  }
  return false;
}

static enum tailvolt_status try_batch(struct tv_remedy_job *job, struct tv_trial *batch, int count) {
  struct tv_trial missing[BATCH], *held[BATCH];
  int where[BATCH], missing_count = 0, held_count = 0;
  for (int k = 0; k < count; k++) {
    if (take_fact(job, &batch[k])) continue;
    where[missing_count] = k;
    missing[missing_count++] = batch[k];
  }
  job->stage_runs += missing_count;
  enum tailvolt_status status = tv_try(job, missing, missing_count);
  for (int k = 0; k < missing_count; k++) batch[where[k]] = missing[k];
  if (!job->by_cars || status != TAILVOLT_OK) return status;
  for (int k = 0; k < count; k++)
    if (batch[k].meets && batch[k].foreseen) held[held_count++] = &batch[k];
  status = tv_confirm(job, held, held_count);
  for (int k = 0; k < count && status == TAILVOLT_OK; k++) status = tv_remedy_count_cars(job, &batch[k]);
  return status;
}

/* Tries the batch; all outcomes are kept, and decide candidates. */
static enum tailvolt_status run_batch(struct search *search, struct tv_trial *batch, int *count) {
  const struct tv_plan *plan = &search->job->plan;
  enum tailvolt_status status = try_batch(search->job, batch, *count);
  for (int k = 0; k < *count; k++) {
    if (!batch[k].done && status != TAILVOLT_OK) {
      tv_trial_clear(&batch[k]);
      continue;
    }
    if (!batch[k].meets && !batch[k].marginal) tv_trial_clear(&batch[k]);
    for (int c = 0; c < search->count; c++) {
      struct candidate *candidate = &search->candidate[c];
      if (candidate->decided) continue;
      if (good(&batch[k])) candidate->decided = same(plan, &candidate->choice, &batch[k].choice);
      else candidate->decided = same(plan, &candidate->choice, &batch[k].choice) ||
                                rules_out(search, &batch[k], &candidate->choice);
    }
    enum tailvolt_status added = tv_known_add(search->known, &batch[k]);
    if (status == TAILVOLT_OK) status = added;
  }
  *count = 0;
  return status;
}

/* The volts of a single cure tell what it promises in a set. */
static void put(const struct search *search, struct tv_trial *batch, int *count, const struct tv_choice *choice) {
  bool single = families_in(&search->job->plan, choice) <= 1;
  batch[(*count)++] = (struct tv_trial){.choice = *choice, .ideal = -1,
                                        .guess = single ? TV_GUESS_FAILURE : TV_GUESS_OUTCOME,
                                        .expected = promised_v(search, choice) >= search->promise_v};
}

/* Whether a set's families are reported already. */
static bool covered(const struct search *search, const struct tv_choice *choice, const int *reported, int count) {
  for (int k = 0; k < count; k++) {
    const struct tv_choice *set = &search->known->trial[reported[k]].choice;
    bool all = true;
    for (int f = 0; f < search->job->plan.family_count; f++) all = all && (set->size_step[f] == 0 || choice->size_step[f] > 0);
    if (all) return true;
  }
  return false;
}

/* Index of the cheapest set known to hold and not covered; -1 = none. */
static int cheapest_known(const struct search *search, const int *reported, int reported_count) {
  const struct tv_plan *plan = &search->job->plan;
  int best = -1;
  for (int k = 0; k < search->known->count; k++) {
    const struct tv_trial *tried = &search->known->trial[k];
    if (!good(tried) || !in_scope(search, &tried->choice) ||
        added_to_base(search, &tried->choice) > search->most_parts ||
        covered(search, &tried->choice, reported, reported_count))
      continue;
    if (best < 0 || tv_plan_cost(plan, &tried->choice) < tv_plan_cost(plan, &search->known->trial[best].choice)) best = k;
  }
  return best;
}

/* Smallest size step of one family with the rest of a choice unchanged, by bisection: everything below
 * fails. */
static enum tailvolt_status narrow(struct search *search, struct tv_choice choice, int family) {
  int low = 1, high = choice.size_step[family] + 1; /* even the largest may fail */
  enum tailvolt_status status = TAILVOLT_OK;
  while (low < high && status == TAILVOLT_OK) {
    struct tv_trial batch[1];
    int count = 0;
    choice.size_step[family] = (signed char)((low + high) / 2);
    if (!fails(search, &choice) && !meets(search, &choice)) {
      put(search, batch, &count, &choice);
      status = run_batch(search, batch, &count);
    }
    if (fails(search, &choice)) low = choice.size_step[family] + 1;
    else high = choice.size_step[family];
  }
  return status;
}

/* Everything at its largest: where that fails nothing will hold. Where charge is lost only more generation helps, or a bigger converter
 * before that battery, shown once for all by a run with everything except that, and by runs with the least of each kind. */
static enum tailvolt_status probe_all(struct search *search) {
  const struct tv_plan *plan = &search->job->plan;
  bool converter = plan->places.converter >= 0;
  const enum tailvolt_cure generating[] = {converter ? TAILVOLT_CURE_CONVERTER : TAILVOLT_CURE_ALTERNATOR, TAILVOLT_CURE_IDLE};
  struct tv_trial batch[4];
  struct tv_choice all = search->scope->base, without, with[2];
  int count = 0, family[2];
  for (int k = 0; k < plan->family_count && k < TV_FAMILIES_MOST; k++)
    if (searched(search, k)) all.size_step[k] = (signed char)plan->family[k].size_step_count;
  without = all;
  for (int g = 0; g < 2; g++) {
    family[g] = converter && g > 0 ? -1 : tv_plan_family(plan, generating[g]);
    if (family[g] >= 0 && (!searched(search, family[g]) || search->scope->base.size_step[family[g]] > 0)) family[g] = -1;
    if (family[g] >= 0) without.size_step[family[g]] = 0;
  }
  if (!meets(search, &all)) put(search, batch, &count, &all);
  bool probe = search->job->charge_short && (family[0] >= 0 || family[1] >= 0) && !meets(search, &without);
  if (probe && !fails(search, &without)) put(search, batch, &count, &without);
  for (int g = 0; g < 2; g++) {
    with[g] = without;
    if (family[g] < 0) continue;
    with[g].size_step[family[g]] = 1;
    if (probe && !fails(search, &with[g]) && !meets(search, &with[g])) put(search, batch, &count, &with[g]);
  }
  enum tailvolt_status status = run_batch(search, batch, &count);
  for (int g = 0; g < 2 && probe && status == TAILVOLT_OK; g++) {
    if (family[g] < 0 || !fails(search, &with[g])) continue;
    with[g].size_step[family[g]] = all.size_step[family[g]];
    status = narrow(search, with[g], family[g]);
  }
  return status;
}

/* The open sets below a cost, by combination. Returns how many. */
static int take_stock(struct search *search, double below) {
  int open = 0, groups = 1 << search->job->plan.family_count;
  for (int g = 0; g < groups; g++) search->group[g] = (struct group){.open = 0};
  for (int c = 0; c < search->count && search->candidate[c].cost < below; c++) {
    const struct candidate *candidate = &search->candidate[c];
    if (candidate->decided) continue;
    struct group *group = &search->group[candidate->families];
    group->open++;
    open++;
    for (int k = 0; k < search->job->plan.family_count && k < TV_FAMILIES_MOST; k++)
      if (candidate->choice.size_step[k] > group->corner.size_step[k]) group->corner.size_step[k] = candidate->choice.size_step[k];
  }
  return open;
}

/* The median, by cost, of a combination's open sets. */
static const struct tv_choice *middle_of(const struct search *search, int families, double below) {
  const struct group *group = &search->group[families];
  int seen = 0;
  for (int c = 0; c < search->count && search->candidate[c].cost < below; c++) {
    const struct candidate *candidate = &search->candidate[c];
    if (!candidate->decided && candidate->families == families && ++seen > group->open / 2) return &candidate->choice;
  }
  return &group->corner;
}

/* The combination not in the batch with the most open sets, among those whose largest size steps are likely to hold or among
 * the others; -1 = none. */
static int widest_group(const struct search *search, bool likely) {
  int best = -1;
  for (int g = 0; g < 1 << search->job->plan.family_count; g++) {
    const struct group *group = &search->group[g];
    if (group->open == 0 || group->taken || group->likely != likely) continue;
    if (best < 0 || group->open > search->group[best].open) best = g;
  }
  return best;
}

/* Fills a batch: promising sets, cheapest first; then those whose failure would decide the most. */
static void choose(struct search *search, double below, struct tv_trial *batch, int *count) {
  int promising = isfinite(below) ? PROMISING : 2 * PROMISING;
  for (int c = 0; c < search->count && search->candidate[c].cost < below && *count < promising; c++) {
    const struct candidate *candidate = &search->candidate[c];
    struct group *group = &search->group[candidate->families];
    if (candidate->decided || group->taken || candidate->low_v < search->promise_v) continue;
    group->taken = true;
    put(search, batch, count, &candidate->choice);
  }
  /* while nothing is known to hold, large sets are no use: most hold, and cost whole runs */
  if (!isfinite(below) && *count > 0) return;
  for (int g = 0; g < 1 << search->job->plan.family_count; g++)
    if (search->group[g].open > 0)
      search->group[g].likely = meets(search, &search->group[g].corner) ||
                                promised_v(search, &search->group[g].corner) >= search->promise_v;
  for (int g; *count < BATCH && (g = widest_group(search, false)) >= 0;) {
    put(search, batch, count, &search->group[g].corner);
    search->group[g].taken = true;
  }
  /* runs that go to the end are the expensive ones: no more at once than the usual number of processors */
  for (int g; *count < PROMISING && (g = widest_group(search, true)) >= 0;) {
    put(search, batch, count, middle_of(search, g, below));
    search->group[g].taken = true;
  }
}

/* Without pruning: the cheapest open sets. */
static void choose_in_order(struct search *search, double below, struct tv_trial *batch, int *count) {
  for (int c = 0; c < search->count && search->candidate[c].cost < below && *count < BATCH; c++)
    if (!search->candidate[c].decided) put(search, batch, count, &search->candidate[c].choice);
}

/* Until every set cheaper than the best is decided, or no runs are left (then *open is not 0). */
static enum tailvolt_status settle_below(struct search *search, const int *reported, int reported_count, int runs_most,
                                         int *open) {
  for (double learn_v = LEARN_V;;) {
    struct tv_trial batch[BATCH];
    int count = 0, best = cheapest_known(search, reported, reported_count);
    double below = best < 0 ? (double)INFINITY : tv_plan_cost(&search->job->plan, &search->known->trial[best].choice);
    *open = take_stock(search, below);
    bool counted = search->job->by_cars && search->job->counted_sets >= TV_COUNTED_MOST;
    if (*open == 0 || search->job->runs >= runs_most || counted) return TAILVOLT_OK;
    if (search->prune) choose(search, below, batch, &count);
    else choose_in_order(search, below, batch, &count);
    int from = search->known->count, broken = 0;
    enum tailvolt_status status = run_batch(search, batch, &count);
    if (status != TAILVOLT_OK) return status;
    for (int k = from; k < search->known->count; k++) {
      bool promised = promised_v(search, &search->known->trial[k].choice) >= search->promise_v;
      if (promised && !good(&search->known->trial[k])) broken++;
      if (!promised && good(&search->known->trial[k])) search->promise_v -= LEARN_V;
    }
    /* promises that keep failing are doubted more each time */
    learn_v = broken > 0 ? fmin(2.0 * learn_v, 16.0 * LEARN_V) : LEARN_V;
    if (broken > 0) search->promise_v += 0.5 * learn_v;
  }
}

static enum tailvolt_status list_all(struct search *search) {
  struct tv_choice choice = search->scope->base;
  learn_gains(search);
  search->group = calloc((size_t)1 << search->job->plan.family_count, sizeof *search->group);
  if (search->group == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = add_candidate(search, &choice); /* only the base and the fuses */
  if (status == TAILVOLT_OK) status = enumerate(search, &choice, 0, search->most_parts);
  if (status != TAILVOLT_OK) return status;
  if (search->count > 0) qsort(search->candidate, (size_t)search->count, sizeof *search->candidate, by_cost);
  for (int c = 0; c < search->count; c++) {
    struct candidate *candidate = &search->candidate[c];
    candidate->decided = fails(search, &candidate->choice);
    for (int k = 0; k < search->known->count; k++)
      candidate->decided = candidate->decided ||
                           same(&search->job->plan, &candidate->choice, &search->known->trial[k].choice);
  }
  return TAILVOLT_OK;
}

int tv_known_marginal(const struct tv_remedy_job *job, const struct tv_known *known, double below) {
  int level = tv_plan_family(&job->plan, TAILVOLT_CURE_LEVEL), best = -1;
  for (int k = 0; k < known->count; k++) {
    const struct tv_trial *tried = &known->trial[k];
    double cost = tv_plan_cost(&job->plan, &tried->choice);
    bool shown = tried->marginal && (tried->result != NULL || tried->foreseen);
    if (families_in(&job->plan, &tried->choice) == 0) continue; /* the car as it is: no set */
    if (!shown || (level >= 0 && tried->choice.size_step[level] > 0) || !(cost < below)) continue;
    best = k;
    below = cost;
  }
  return best;
}

enum tailvolt_status tv_search(struct tv_remedy_job *job, const struct tv_scope *scope, struct tv_known *known,
                               int *best, int *runner_up_count, int runners_up[TAILVOLT_RUNNERS_UP], bool *exhausted) {
  enum { MANY = 40 };
  struct search search = {.job = job, .scope = scope, .known = known, .prune = !job->options.thorough};
  search.most_parts = job->options.most_parts;
  int open = 0;
  *best = -1;
  *runner_up_count = 0;
  *exhausted = false;
  enum tailvolt_status status = list_all(&search);
  if (status == TAILVOLT_OK) {
    int first = cheapest_known(&search, NULL, 0);
    double below = first < 0 ? (double)INFINITY : tv_plan_cost(&job->plan, &known->trial[first].choice);
    if (search.prune && take_stock(&search, below) > MANY) status = probe_all(&search);
  }
  if (status == TAILVOLT_OK) status = settle_below(&search, NULL, 0, job->options.most_runs, &open);
  /* the best so far, where the search was stopped */
  *best = cheapest_known(&search, NULL, 0);
  *exhausted = status == TAILVOLT_OK && open > 0;
  bool nothing = *best < 0 || families_in(&job->plan, &known->trial[*best].choice) == 0;
  int reported[TAILVOLT_RUNNERS_UP + 1] = {*best}, count = 1;
  const int most = job->runs + RUNNER_UP_RUNS;
  while (!nothing && !job->by_cars && *runner_up_count < TAILVOLT_RUNNERS_UP) {
    for (int c = 0; c < search.count; c++)
      if (covered(&search, &search.candidate[c].choice, reported, count)) search.candidate[c].decided = true;
    if (status == TAILVOLT_OK) status = settle_below(&search, reported, count, most, &open);
    int found = cheapest_known(&search, reported, count);
    if (found < 0) break;
    reported[count++] = runners_up[(*runner_up_count)++] = found;
  }
  /* later runs may have found cheaper ones than earlier */
  for (int k = 1; k < *runner_up_count; k++)
    for (int j = k; j > 0 && tv_plan_cost(&job->plan, &known->trial[runners_up[j]].choice) <
                                 tv_plan_cost(&job->plan, &known->trial[runners_up[j - 1]].choice); j--) {
      int moved = runners_up[j];
      runners_up[j] = runners_up[j - 1];
      runners_up[j - 1] = moved;
    }
  free(search.candidate);
  free(search.group);
  return status;
}
