/* How sure an answer is: vehicles drawn, run and counted, and the effect of each value that is not known. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "parts/battery_labels.h"
#include "study/certainty_effects.h"
#include "study/certainty_parts.h"
#include "simulate/each.h"
#include "study/certainty_sum.h"

enum { COMMON_VEHICLES = 64, LEAST_VEHICLES = 16, BATCH = 256 };
#define STEPS_PER_S 6e6 /* of a common processor, several lanes wide */

void tailvolt_certainty_options_init(struct tailvolt_certainty_options *options, size_t size) {
  struct tailvolt_certainty_options all = {.size = size, .budget_s = 3, .seed = 1, .shares = true};
  memcpy(options, &all, size < sizeof all ? size : sizeof all);
}

/* One question being answered. */
struct study {
  struct tv_certainty_plan plan;
  const struct tailvolt_certainty_options *options;
  struct tailvolt_uncertainty *list;
  struct tailvolt_result **own;          /* results that were run here */
  int vehicles, factors;
  double *values;                        /* [vehicles x list->count] */
  double *along;                         /* [vehicles x factors] */
  double *answer;                        /* [vehicles] */
  struct tv_vehicle_outcome *outcome;    /* [vehicles] */
  struct tv_vehicle_outcome *moved;      /* [1 + 2 x factors] the mean car, and that moved along each factor, up and down */
  int *up_at, *down_at;                  /* [factors] index in it, 0 = not run */
  int moves;                             /* how many of them there are */
  double *effect;                        /* [factors] of each on the answer; the caller's, may be NULL */
  int done;
  double from_frac, to_frac, end_frac;   /* of progress: now, and once all vehicles are done */
  int batches, batch;                    /* of runs within that */
  double batch_frac, shown_frac;
};

static int report_progress(void *context, double done_frac) {
  struct study *s = context;
  if (s->options->progress == NULL) return 0;
  if (done_frac < 0.5 * s->batch_frac && s->batch + 1 < s->batches) s->batch++; /* the next one has begun */
  s->batch_frac = done_frac;
  double part = s->batches > 0 ? (s->batch + done_frac) / s->batches : done_frac;
  /* what it takes to plan is not known beforehand */
  s->shown_frac = fmax(s->shown_frac, s->from_frac + (s->to_frac - s->from_frac) * part);
  return s->options->progress(s->options->context, s->shown_frac);
}

/* Progress from here to there while vehicles run: whole profiles, then stretches twice. */
static void run_from_to(struct study *s, double from_frac, double to_frac) {
  s->from_frac = from_frac;
  s->to_frac = to_frac;
  s->batches = s->plan.profile_count + (!s->plan.whole && s->plan.stretch_count > 0 ? 2 : 0);
  s->batch = 0;
  s->batch_frac = 0;
}

static enum tailvolt_status run_described(struct study *s, char *error) {
  struct tv_certainty_plan *plan = &s->plan;
  size_t n = (size_t)plan->profile_count + 1;
  s->own = calloc(n, sizeof *s->own);
  struct tv_lane_job *jobs = calloc(n, sizeof *jobs);
  struct tailvolt_options *runs = calloc(n, sizeof *runs);
  enum tailvolt_status status = s->own != NULL && jobs != NULL && runs != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  struct tv_lanes_how how = {.threads = plan->threads, .progress = report_progress, .context = s};
  for (int p = plan->profile_count - 1; p >= 0 && status == TAILVOLT_OK; p--) {
    runs[p] = plan->run;
    jobs[p] = (struct tv_lane_job){.system = plan->system, .profile = plan->profiles[p], .options = &runs[p],
                                    .least_rpm = plan->least_rpm};
  }
  if (status == TAILVOLT_OK) status = tv_lanes_simulate(jobs, plan->profile_count, NULL, &how);
  for (int p = 0; p < plan->profile_count && status == TAILVOLT_OK; p++) {
    s->own[p] = jobs[p].result;
    if (jobs[p].result != NULL) continue;
    status = jobs[p].status;
    memcpy(error, jobs[p].error, TAILVOLT_TEXT_MAX);
  }
  free(jobs);
  free(runs);
  return status;
}

/* How many vehicles fit a budget, and whether what to measure first can be answered too: counted in steps, not by a
 * clock. */
static void count_vehicles(struct study *s, bool *shares) {
  double each = tv_certainty_steps(&s->plan), budget = s->options->budget_s * STEPS_PER_S;
  *shares = s->options->shares && !s->options->quick;
  s->vehicles = s->options->vehicles;
  if (s->vehicles > 0) return;
  s->vehicles = COMMON_VEHICLES;
  while (s->vehicles > LEAST_VEHICLES && (s->vehicles + (*shares ? 1.5 * s->factors : 0)) * each > 1.5 * budget) s->vehicles /= 2;
  if ((s->vehicles + 1.5 * s->factors) * each > 2.5 * budget) *shares = false;
}

static enum tailvolt_status reserve(struct study *s) {
  size_t n = (size_t)s->vehicles + 1, values = (size_t)s->list->count + 1, factors = (size_t)s->factors + 1;
  s->values = calloc((n > factors + 1 ? n : factors + 1) * values, sizeof *s->values);
  s->along = calloc(n * factors, sizeof *s->along);
  s->answer = calloc(n, sizeof *s->answer);
  s->outcome = calloc(n, sizeof *s->outcome);
  s->moved = calloc(2 * factors + 1, sizeof *s->moved);
  s->up_at = calloc(factors, sizeof *s->up_at);
  s->down_at = calloc(factors, sizeof *s->down_at);
  bool room = s->values && s->along && s->answer && s->outcome && s->moved && s->up_at && s->down_at;
  return room ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}

static enum tailvolt_status run_vehicles(struct study *s) {
  size_t width = (size_t)s->list->count, factors = (size_t)s->factors;
  double *points = calloc((size_t)s->vehicles * factors + 1, sizeof *points);
  enum tailvolt_status status = points != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  double from_frac = s->from_frac;
  if (status == TAILVOLT_OK) status = tv_vehicle_points(s->factors, s->options->seed, 0, s->vehicles, points);
  for (int k = 0; k < s->vehicles && status == TAILVOLT_OK; k++)
    tv_vehicle_values(s->list, points + (size_t)k * factors, s->values + (size_t)k * width);
  if (status == TAILVOLT_OK) status = tv_vehicles_along(s->list, s->values, s->vehicles, s->along);
  free(points);
  for (s->done = 0; s->done < s->vehicles && status == TAILVOLT_OK;) {
    int count = s->vehicles - s->done < BATCH ? s->vehicles - s->done : BATCH;
    double each_frac = (s->end_frac - from_frac) / s->vehicles;
    run_from_to(s, from_frac + each_frac * s->done, from_frac + each_frac * (s->done + count));
    status = tv_certainty_run(&s->plan, s->values + (size_t)s->done * width, count, s->outcome + s->done);
    if (status == TAILVOLT_OK) s->done += count;
  }
  return status == TAILVOLT_STOPPED && s->done > 0 ? TAILVOLT_OK : status;
}

static enum tailvolt_status sum_up(struct study *s, struct tailvolt_certainty *out) {
  int holds = 0, low = 0, lost = 0, count = 0, known = 0;
  double *lowest_v = calloc((size_t)s->done + 1, sizeof *lowest_v);
  if (lowest_v == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < s->done; k++) {
    const struct tv_vehicle_outcome *o = &s->outcome[k];
    if (!o->computed) continue;
    count++;
    holds += o->holds;
    low += o->margin_v < 0 || o->cuts_out;
    lost += o->charge_lost;
    if (isfinite(o->min_v)) lowest_v[known++] = o->min_v;
  }
  out->known = count > 0;
  out->vehicles = count;
  out->refused = s->done - count;
  out->partial = s->done < s->vehicles;
  out->holds_pct = count > 0 ? 100.0 * holds / count : (double)NAN;
  out->below_target_pct = count > 0 ? 100.0 * low / count : (double)NAN;
  out->charge_lost_pct = count > 0 ? 100.0 * lost / count : (double)NAN;
  tv_share_interval(holds, count, &out->holds_low_pct, &out->holds_high_pct);
  out->min_v = tv_three_quantiles(lowest_v, known);
  out->of_charge = lost > low || known == 0;
  out->by_stretches = !s->plan.whole;
  out->level_db = s->plan.system->tolerance.level_db;
  free(lowest_v);
  return TAILVOLT_OK;
}

static double answer_of(const struct tailvolt_certainty *sum, const struct tv_vehicle_outcome *o) {
  return !o->computed ? (double)NAN : sum->of_charge ? o->charge_a : o->margin_v;
}

/* ---- one factor at a time ---- */

#define NOTABLE_FRAC 0.1 /* of the greatest effect upwards: from there on both sides are looked at */

/* Runs the mean car moved along those factors of `wanted` that matter while the engine runs or the music plays; `at` says where in
 * s->moved. Upwards the mean car itself comes first. */
static enum tailvolt_status run_moved(struct study *s, int side, const bool *wanted, int *at) {
  const struct tailvolt_uncertainty *list = s->list;
  size_t width = (size_t)list->count;
  int count = side > 0 ? 1 : 0;
  tv_vehicle_mean(list, s->values);
  for (int f = 0; f < s->factors; f++) {
    double *values = s->values + (size_t)count * width;
    int value = tv_factor_value(list, f);
    at[f] = 0;
    if (!wanted[f] || value < 0 || list->values[value].when_parked_only) continue;
    tv_vehicle_mean(list, values);
    if (tv_vehicle_move(list, f, side, values)) at[f] = s->moves + count++;
  }
  struct tv_vehicle_outcome *to = s->moved + s->moves;
  s->moves += count;
  return tv_certainty_run(&s->plan, s->values, count, to);
}

static double moved_by(const struct study *s, const struct tailvolt_certainty *sum, int at) {
  double more = at > 0 ? answer_of(sum, &s->moved[at]) - answer_of(sum, &s->moved[0]) : 0;
  return isfinite(more) ? more : 0;
}

/* The effect of one deviation: half the way from below to above where it matters, for an answer often has a corner near its mean, such
 * as an alternator at its limit; else upwards alone. */
static enum tailvolt_status find_steps(struct study *s, const struct tailvolt_certainty *sum, double *step) {
  bool *wanted = calloc((size_t)s->factors + 1, sizeof *wanted);
  double most = 0;
  if (wanted == NULL) return TAILVOLT_NO_MEMORY;
  for (int f = 0; f < s->factors; f++) wanted[f] = true;
  double from_frac = s->from_frac, to_frac = s->to_frac;
  run_from_to(s, from_frac, from_frac + 0.7 * (to_frac - from_frac));
  enum tailvolt_status status = run_moved(s, 1, wanted, s->up_at);
  for (int f = 0; f < s->factors; f++) {
    step[f] = moved_by(s, sum, s->up_at[f]);
    most = fmax(most, fabs(step[f]));
  }
  for (int f = 0; f < s->factors; f++) wanted[f] = fabs(step[f]) >= NOTABLE_FRAC * most && most > 0;
  run_from_to(s, s->to_frac, to_frac);
  if (status == TAILVOLT_OK) status = run_moved(s, -1, wanted, s->down_at);
  for (int f = 0; f < s->factors && status == TAILVOLT_OK; f++)
    if (s->down_at[f] > 0 && s->moved[s->down_at[f]].computed) step[f] = 0.5 * (step[f] - moved_by(s, sum, s->down_at[f]));
  free(wanted);
  return status;
}

static enum tailvolt_status find_shares(struct study *s, struct tailvolt_certainty *out) {
  size_t n = (size_t)s->factors + 1;
  double *work = calloc(3 * n, sizeof *work);
  if (work == NULL) return TAILVOLT_NO_MEMORY;
  double *step = work, *share_pct = work + n, *error_pct = work + 2 * n;
  for (int k = 0; k < s->done; k++) s->answer[k] = answer_of(out, &s->outcome[k]);
  enum tailvolt_status status = find_steps(s, out, step);
  for (int f = 0; f < s->factors && !s->moved[0].computed; f++) step[f] = (double)NAN; /* no such car: from the vehicles alone */
  if (status == TAILVOLT_OK) {
    struct tv_shares from = {.list = s->list, .along = s->along, .answer = s->answer, .count = s->done, .step = step};
    status = tv_shares_of(&from, share_pct, error_pct, s->effect, &out->unexplained_pct);
    if (status == TAILVOLT_OK) tv_name_first(&from, share_pct, error_pct, out);
  }
  free(work);
  /* what is known without them stays known */
  return status == TAILVOLT_STOPPED ? TAILVOLT_OK : status;
}

static enum tailvolt_status answer(struct study *s, const struct tailvolt_result *const *results, struct tailvolt_certainty *out,
                                   char *error) {
  bool shares;
  enum tailvolt_status status = tailvolt_uncertainty_of(s->plan.system, &s->list);
  if (status != TAILVOLT_OK) return status;
  s->plan.list = s->list;
  s->factors = s->list->factor_count;
  s->to_frac = 0.1;
  if (results == NULL) {
    status = run_described(s, error);
    results = (const struct tailvolt_result *const *)s->own;
  }
  s->from_frac = s->to_frac;
  s->to_frac = 0.15;
  if (status == TAILVOLT_OK) status = tv_certainty_plan_make(&s->plan, results, error);
  if (status != TAILVOLT_OK) return status;
  count_vehicles(s, &shares);
  if ((status = reserve(s)) != TAILVOLT_OK) return status;
  s->from_frac = s->to_frac;
  s->end_frac = shares ? 1 - 0.85 * 1.5 * s->factors / (1.5 * s->factors + s->vehicles) : 1;
  status = run_vehicles(s);
  if (status == TAILVOLT_OK) status = sum_up(s, out);
  s->from_frac = s->end_frac;
  s->to_frac = 1;
  if (status == TAILVOLT_OK && shares && !out->partial) status = find_shares(s, out);
  return status;
}

enum tailvolt_status tv_certainty_effects(const struct tailvolt_system *system, const struct tailvolt_profile *const *profiles,
                                          int profile_count, const struct tailvolt_result *const *results,
                                          const struct tailvolt_certainty_options *options, struct tv_labels *labels,
                                          struct tailvolt_certainty *out, double *effect, char *error) {
  char unheard[TAILVOLT_TEXT_MAX];
  if (error == NULL) error = unheard;
  error[0] = '\0';
  *out = (struct tailvolt_certainty){.unexplained_pct = (double)NAN};
  if (options->size != sizeof *options) return TAILVOLT_INTERNAL;
  struct study s = {.options = options,
                    .effect = effect,
                    .plan = {.system = system,
                             .profiles = profiles,
                             .profile_count = profile_count,
                             .run = options->run != NULL ? *options->run : tailvolt_default_options(),
                             .whole = options->whole,
                             .quickly = options->quick && !options->whole,
                             .same_day = options->same_day,
                             .least_rpm = options->least_rpm,
                             .labels = labels != NULL ? labels : tv_labels_make(),
                             .threads = tv_threads(options->threads)}};
  s.plan.run.record = NULL;
  s.plan.run.progress = NULL;
  s.plan.progress = report_progress;
  s.plan.context = &s;
  enum tailvolt_status status = s.plan.labels != NULL ? answer(&s, results, out, error) : TAILVOLT_NO_MEMORY;
  for (int p = 0; p < profile_count && s.own != NULL; p++) tailvolt_result_free(s.own[p]);
  free(s.own);
  tv_certainty_plan_free(&s.plan);
  if (labels == NULL) tv_labels_free(s.plan.labels);
  tailvolt_uncertainty_free(s.list);
  free(s.values);
  free(s.along);
  free(s.answer);
  free(s.outcome);
  free(s.moved);
  free(s.up_at);
  free(s.down_at);
  return status;
}

enum tailvolt_status tailvolt_certainty(const struct tailvolt_system *system, const struct tailvolt_profile *const *profiles,
                                        int profile_count, const struct tailvolt_result *const *results,
                                        const struct tailvolt_certainty_options *options, struct tailvolt_certainty *out, char *error) {
  return tv_certainty_effects(system, profiles, profile_count, results, options, NULL, out, NULL, error);
}

/* ---- while the program does something else ---- */

struct tailvolt_certainty_beside {
  struct tv_beside thread;
  const struct tailvolt_system *system;
  const struct tailvolt_profile *const *profiles;
  int profile_count;
  const struct tailvolt_result *const *results;
  struct tailvolt_certainty_options options;
  struct tailvolt_certainty out;
  enum tailvolt_status status;
  char error[TAILVOLT_TEXT_MAX];
};

static void go_beside(void *context) {
  struct tailvolt_certainty_beside *b = context;
  b->status = tailvolt_certainty(b->system, b->profiles, b->profile_count, b->results, &b->options, &b->out, b->error);
}

enum tailvolt_status tailvolt_certainty_begin(const struct tailvolt_system *system, const struct tailvolt_profile *const *profiles,
                                              int profile_count, const struct tailvolt_result *const *results,
                                              const struct tailvolt_certainty_options *options, struct tailvolt_certainty_beside **out) {
  struct tailvolt_certainty_beside *b = *out = calloc(1, sizeof *b);
  if (b == NULL) return TAILVOLT_NO_MEMORY;
  b->system = system;
  b->profiles = profiles;
  b->profile_count = profile_count;
  b->results = results;
  memcpy(&b->options, options, options->size < sizeof b->options ? options->size : sizeof b->options);
  tv_beside_begin(&b->thread, options->size == sizeof *options ? tv_threads(options->threads) : 1, go_beside, b);
  return TAILVOLT_OK;
}

enum tailvolt_status tailvolt_certainty_end(struct tailvolt_certainty_beside *b, struct tailvolt_certainty *out, char *error) {
  tv_beside_end(&b->thread);
  enum tailvolt_status status = b->status;
  *out = b->out;
  if (error != NULL) memcpy(error, b->error, TAILVOLT_TEXT_MAX);
  free(b);
  return status;
}
