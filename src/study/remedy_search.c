/* The search for the cheapest set.
 *
 * Sets are looked at in the order of their cost, so the first that meets every target is the answer. Most are never
 * run: where a set fails, every set with the same or lesser rungs fails too (a thicker cable, a larger capacitor, one
 * more part is never worse: checked by tests, not by the search). Three kinds of run feed that rule beforehand: all
 * families but one at their largest (a family without which nothing holds must be in every set), the largest rungs of
 * a combination, and bisection of each family in it. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "study/remedy.h"

enum { BATCH = 8, FEW = 2, RUNNER_UP_RUNS = 12 };

struct candidate {
  double cost;
  struct tv_choice choice;
};

struct search {
  struct tv_remedy_job *job;
  struct tv_known *known;
  int count, room;
  struct candidate *candidate; /* by cost */
  bool prune;
  int most_parts;
};

static int families_in(const struct tv_plan *plan, const struct tv_choice *choice) {
  int sum = 0;
  for (int k = 0; k < plan->family_count; k++) sum += choice->rung[k] > 0;
  return sum;
}

static bool within(const struct tv_plan *plan, const struct tv_choice *a, const struct tv_choice *b) {
  for (int k = 0; k < plan->family_count; k++)
    if (a->rung[k] > b->rung[k]) return false;
  return true;
}

static bool uses_level(const struct tv_plan *plan, const struct tv_choice *choice) {
  int level = tv_plan_family(plan, TAILVOLT_CURE_LEVEL);
  return level >= 0 && choice->rung[level] > 0;
}

static bool same(const struct tv_plan *plan, const struct tv_choice *a, const struct tv_choice *b) {
  return within(plan, a, b) && within(plan, b, a);
}

enum tailvolt_status tv_known_add(struct tv_known *known, struct tv_trial *trial) {
  if (known->count == known->room) {
    int room = 2 * known->room + 64;
    struct tv_trial *larger = realloc(known->trial, (size_t)room * sizeof *larger);
    if (larger == NULL) {
      tv_trial_clear(trial);
      return TAILVOLT_NO_MEMORY;
    }
    known->trial = larger;
    known->room = room;
  }
  known->trial[known->count++] = *trial;
  return TAILVOLT_OK;
}

void tv_known_free(struct tv_known *known) {
  for (int k = 0; k < known->count; k++) tv_trial_clear(&known->trial[k]);
  free(known->trial);
  *known = (struct tv_known){0};
}

/* Index of the choice itself among what was tried, -1 = not tried. */
static int find_tried(const struct search *search, const struct tv_choice *choice) {
  for (int k = 0; k < search->known->count; k++)
    if (same(&search->job->plan, &search->known->trial[k].choice, choice)) return k;
  return -1;
}

/* Known to fail: tried, or not above one that failed. */
static bool fails(const struct search *search, const struct tv_choice *choice) {
  const struct tv_plan *plan = &search->job->plan;
  for (int k = 0; k < search->known->count; k++) {
    const struct tv_trial *tried = &search->known->trial[k];
    if (tried->meets) continue;
    if (search->prune ? within(plan, choice, &tried->choice) : same(plan, choice, &tried->choice)) return true;
  }
  return false;
}

/* Known to meet every target: not below one that did. */
static bool meets(const struct search *search, const struct tv_choice *choice) {
  const struct tv_plan *plan = &search->job->plan;
  for (int k = 0; k < search->known->count; k++) {
    const struct tv_trial *tried = &search->known->trial[k];
    if (tried->meets && (search->prune ? within(plan, &tried->choice, choice) : same(plan, choice, &tried->choice)))
      return true;
  }
  return false;
}

static int by_cost(const void *left, const void *right) {
  const struct candidate *a = left, *b = right;
  if (a->cost != b->cost) return a->cost < b->cost ? -1 : 1;
  int parts_a = 0, parts_b = 0;
  for (int k = 0; k < TV_FAMILIES_MOST; k++) {
    parts_a += a->choice.rung[k] > 0;
    parts_b += b->choice.rung[k] > 0;
  }
  if (parts_a != parts_b) return parts_a - parts_b;
  return memcmp(&a->choice, &b->choice, sizeof a->choice);
}

static bool searched(const struct tv_plan *plan, int family) {
  return plan->family[family].cure != TAILVOLT_CURE_LEVEL;
}

static enum tailvolt_status add_candidate(struct search *search, const struct tv_choice *choice) {
  if (search->count == search->room) {
    int room = 2 * search->room + 256;
    struct candidate *larger = realloc(search->candidate, (size_t)room * sizeof *larger);
    if (larger == NULL) return TAILVOLT_NO_MEMORY;
    search->candidate = larger;
    search->room = room;
  }
  search->candidate[search->count].choice = *choice;
  search->candidate[search->count++].cost = tv_plan_cost(&search->job->plan, choice);
  return TAILVOLT_OK;
}

/* All choices of up to `left` more families, from `family` on. */
static enum tailvolt_status enumerate(struct search *search, struct tv_choice *choice, int family, int left) {
  const struct tv_plan *plan = &search->job->plan;
  enum tailvolt_status status = TAILVOLT_OK;
  for (int k = family; k < plan->family_count && left > 0 && status == TAILVOLT_OK; k++) {
    if (!searched(plan, k)) continue;
    for (int r = 1; r <= plan->family[k].rung_count && status == TAILVOLT_OK; r++) {
      choice->rung[k] = (signed char)r;
      status = add_candidate(search, choice);
      if (status == TAILVOLT_OK) status = enumerate(search, choice, k + 1, left - 1);
    }
    choice->rung[k] = 0;
  }
  return status;
}

static bool out_of_runs(const struct search *search) {
  return search->job->runs >= search->job->options.most_runs;
}

/* Tries what is in the batch; all outcomes are kept. */
static enum tailvolt_status run_batch(struct search *search, struct tv_trial *batch, int *count) {
  search->job->stage_runs += *count;
  enum tailvolt_status status = tv_try(search->job, batch, *count);
  for (int k = 0; k < *count; k++) {
    if (!batch[k].done && status != TAILVOLT_OK) {
      tv_trial_clear(&batch[k]);
      continue;
    }
    if (!batch[k].meets) tv_trial_clear(&batch[k]);
    enum tailvolt_status added = tv_known_add(search->known, &batch[k]);
    if (status == TAILVOLT_OK) status = added;
  }
  *count = 0;
  return status;
}

static void put(const struct search *search, struct tv_trial *batch, int *count, const struct tv_choice *choice) {
  for (int k = 0; k < *count; k++)
    if (same(&search->job->plan, &batch[k].choice, choice)) return;
  batch[(*count)++] = (struct tv_trial){.choice = *choice, .ideal = -1};
}

/* Cost of the cheapest set found so far that `reported` ones do not cover. */
static double incumbent(const struct search *search, const int *reported, int reported_count);

/* The largest rungs that still leave a combination cheaper than `below`: nothing dearer is of interest. */
static struct tv_choice box_of(const struct tv_plan *plan, const struct tv_choice *choice, double below) {
  struct tv_choice box = *choice;
  for (int k = 0; k < plan->family_count && k < TV_FAMILIES_MOST; k++) {
    struct tv_choice least = *choice;
    for (int f = 0; f < plan->family_count && f < TV_FAMILIES_MOST; f++) least.rung[f] = least.rung[f] > 0;
    for (int r = 1; choice->rung[k] > 0 && r <= plan->family[k].rung_count; r++) {
      least.rung[k] = (signed char)r;
      if (tv_plan_cost(plan, &least) < below) box.rung[k] = (signed char)(r > box.rung[k] ? r : box.rung[k]);
    }
  }
  return box;
}

/* Sets that would have to be looked at before the cheapest cure that is known to do: worth the runs below? */
static bool many_open(const struct search *search) {
  enum { MANY = 60 };
  int open = 0;
  for (int k = 0; k < search->count && open < MANY; k++) {
    if (find_tried(search, &search->candidate[k].choice) >= 0 && meets(search, &search->candidate[k].choice)) break;
    open += !fails(search, &search->candidate[k].choice);
  }
  return open == MANY;
}

/* Everything at its largest, and everything but one family. */
static enum tailvolt_status probe_needed(struct search *search) {
  const struct tv_plan *plan = &search->job->plan;
  struct tv_trial batch[TV_FAMILIES_MOST + 1];
  struct tv_choice all = {{0}};
  int count = 0;
  double below = incumbent(search, NULL, 0);
  for (int k = 0; k < plan->family_count && k < TV_FAMILIES_MOST; k++) {
    if (!searched(plan, k)) continue;
    struct tv_choice alone = {{0}};
    alone.rung[k] = 1;
    alone = box_of(plan, &alone, below);
    all.rung[k] = alone.rung[k];
  }
  if (!meets(search, &all)) put(search, batch, &count, &all);
  enum tailvolt_status status = run_batch(search, batch, &count);
  if (status != TAILVOLT_OK || fails(search, &all)) return status;
  for (int k = 0; k < plan->family_count && k < TV_FAMILIES_MOST; k++) {
    if (!searched(plan, k)) continue;
    struct tv_choice most = all;
    most.rung[k] = 0;
    if (!fails(search, &most) && !meets(search, &most)) put(search, batch, &count, &most);
  }
  return run_batch(search, batch, &count);
}

/* Least rung of each family of a combination with the others at their largest, by bisection. */
static enum tailvolt_status narrow(struct search *search, const struct tv_choice *top) {
  const struct tv_plan *plan = &search->job->plan;
  int low[TV_FAMILIES_MOST], high[TV_FAMILIES_MOST];
  for (int k = 0; k < plan->family_count; k++) {
    low[k] = 1;
    high[k] = top->rung[k];
  }
  for (;;) {
    struct tv_trial batch[TV_FAMILIES_MOST];
    int count = 0, open = 0;
    for (int k = 0; k < plan->family_count; k++) {
      while (low[k] < high[k]) {
        struct tv_choice middle = *top;
        middle.rung[k] = (signed char)((low[k] + high[k]) / 2);
        if (fails(search, &middle)) {
          low[k] = middle.rung[k] + 1;
        } else if (meets(search, &middle)) {
          high[k] = middle.rung[k];
        } else {
          put(search, batch, &count, &middle);
          open++;
          break;
        }
      }
    }
    if (open == 0 || out_of_runs(search)) return TAILVOLT_OK;
    enum tailvolt_status status = run_batch(search, batch, &count);
    if (status != TAILVOLT_OK) return status;
  }
}

/* Above a set that is reported already: nothing new. */
static bool covered(const struct search *search, const struct tv_choice *choice, const int *reported, int count) {
  for (int k = 0; k < count; k++) {
    const struct tv_choice *set = &search->known->trial[reported[k]].choice;
    bool all = true;
    for (int f = 0; f < search->job->plan.family_count; f++) all = all && (set->rung[f] == 0 || choice->rung[f] > 0);
    if (all) return true;
  }
  return false;
}

/* Index of the cheapest set that is known to do and is not covered; -1 = none. */
static int cheapest_known(const struct search *search, const int *reported, int reported_count) {
  const struct tv_plan *plan = &search->job->plan;
  int best = -1;
  for (int k = 0; k < search->known->count; k++) {
    const struct tv_trial *tried = &search->known->trial[k];
    if (!tried->meets || families_in(plan, &tried->choice) > search->most_parts || uses_level(plan, &tried->choice) ||
        covered(search, &tried->choice, reported, reported_count))
      continue;
    if (best < 0 || tv_plan_cost(plan, &tried->choice) < tv_plan_cost(plan, &search->known->trial[best].choice)) best = k;
  }
  return best;
}

static double incumbent(const struct search *search, const int *reported, int reported_count) {
  int best = cheapest_known(search, reported, reported_count);
  return best < 0 ? (double)INFINITY : tv_plan_cost(&search->job->plan, &search->known->trial[best].choice);
}

/* Undecided sets of one combination among those cheaper than `below`, from a place in the list on; no more than
 * `most` are counted. */
static int undecided(const struct search *search, int from, const struct tv_choice *like, double below, int most) {
  int count = 0;
  for (int k = from; k < search->count && search->candidate[k].cost < below && count < most; k++) {
    const struct tv_choice *choice = &search->candidate[k].choice;
    bool alike = true;
    for (int f = 0; f < search->job->plan.family_count && alike; f++) alike = (choice->rung[f] > 0) == (like->rung[f] > 0);
    if (alike && !fails(search, choice)) count++;
  }
  return count;
}

/* A combination was narrowed already. */
static bool narrowed(struct tv_choice *list, int *count, int room, const struct tv_choice *top,
                     const struct tv_plan *plan) {
  for (int k = 0; k < *count; k++)
    if (same(plan, &list[k], top)) return true;
  if (*count < room) list[(*count)++] = *top;
  return false;
}

/* Goes on from `*at` to the next candidate that meets every target, its index among the known in *found (-1 = none
 * is left, or the bound on runs was reached). */
static enum tailvolt_status next_meeting(struct search *search, int *at, const int *reported, int reported_count,
                                         int runs_most, int *found) {
  enum { NARROWED_MOST = 512 };
  const struct tv_plan *plan = &search->job->plan;
  struct tv_choice *list = calloc(NARROWED_MOST, sizeof *list);
  enum tailvolt_status status = list != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  int list_count = 0;
  *found = -1;
  while (status == TAILVOLT_OK) {
    struct tv_trial batch[BATCH];
    int count = 0;
    bool open = false; /* an undecided candidate stands before what follows */
    int k = *at;
    for (; k < search->count && count < BATCH && status == TAILVOLT_OK; k++) {
      const struct tv_choice *choice = &search->candidate[k].choice;
      if (covered(search, choice, reported, reported_count) || fails(search, choice)) {
        if (!open) *at = k + 1;
        continue;
      }
      int tried = find_tried(search, choice);
      if (tried >= 0) {
        if (!open) {
          *found = tried;
          *at = k + 1;
        }
        break; /* nothing dearer matters until the open ones are decided */
      }
      open = true;
      double below = incumbent(search, reported, reported_count);
      struct tv_choice top = box_of(plan, choice, below);
      if (!search->prune || undecided(search, k, choice, below, FEW + 1) <= FEW) {
        put(search, batch, &count, choice);
      } else if (!meets(search, &top)) {
        put(search, batch, &count, &top);
      } else if (families_in(plan, choice) > 1 && !narrowed(list, &list_count, NARROWED_MOST, &top, plan)) {
        status = narrow(search, &top);
        k--; /* look at it again */
      } else {
        put(search, batch, &count, choice);
      }
    }
    if (status != TAILVOLT_OK || *found >= 0 || count == 0) break;
    if (search->job->runs >= runs_most) break;
    status = run_batch(search, batch, &count);
  }
  free(list);
  return status;
}

enum tailvolt_status tv_search(struct tv_remedy_job *job, struct tv_known *known, int best[1], int *runner_up_count,
                               int runners_up[TAILVOLT_RUNNERS_UP], bool *exhausted) {
  struct search search = {.job = job, .known = known, .prune = !job->options.thorough};
  struct tv_choice choice = {{0}};
  int at = 0, most_parts = job->options.most_parts < 1 ? 1 : job->options.most_parts > 3 ? 3 : job->options.most_parts;
  search.most_parts = most_parts;
  best[0] = -1;
  *runner_up_count = 0;
  *exhausted = false;
  enum tailvolt_status status = add_candidate(&search, &choice); /* nothing but the fuses */
  if (status == TAILVOLT_OK) status = enumerate(&search, &choice, 0, most_parts);
  if (status == TAILVOLT_OK) qsort(search.candidate, (size_t)search.count, sizeof *search.candidate, by_cost);
  if (status == TAILVOLT_OK && search.prune && most_parts > 1 && many_open(&search)) status = probe_needed(&search);
  if (status == TAILVOLT_OK) status = next_meeting(&search, &at, NULL, 0, job->options.most_runs, &best[0]);
  if (status == TAILVOLT_OK && best[0] < 0) *exhausted = at < search.count && out_of_runs(&search);
  if (status == TAILVOLT_OK && best[0] >= 0) {
    int reported[TAILVOLT_RUNNERS_UP + 1] = {best[0]}, count = 1;
    bool nothing = families_in(&job->plan, &known->trial[best[0]].choice) == 0;
    int most = job->runs + RUNNER_UP_RUNS;
    while (status == TAILVOLT_OK && !nothing && *runner_up_count < TAILVOLT_RUNNERS_UP) {
      int found = -1;
      status = next_meeting(&search, &at, reported, count, most, &found);
      if (found < 0) break;
      reported[count++] = runners_up[(*runner_up_count)++] = found;
    }
    /* the rest from what the search came across */
    for (int found = 0; status == TAILVOLT_OK && !nothing && found >= 0 && *runner_up_count < TAILVOLT_RUNNERS_UP;) {
      found = cheapest_known(&search, reported, count);
      if (found >= 0) reported[count++] = runners_up[(*runner_up_count)++] = found;
    }
  }
  free(search.candidate);
  return status;
}
