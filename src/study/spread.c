#include "study/spread.h"

#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/each.h"
#include "study/certainty_sum.h"

/* ---- one vehicle ---- */

void tv_spread_vehicle_free(struct tv_spread_vehicle *vehicle) { tailvolt_system_free(vehicle->system); }

enum tailvolt_status tv_spread_vehicle(const struct tailvolt_system *system, const struct tailvolt_parked_options *options,
                                       const struct tailvolt_uncertainty *list, const double *values,
                                       struct tv_spread_vehicle *vehicle) {
  *vehicle = (struct tv_spread_vehicle){.options = *options};
  vehicle->options.run.progress = NULL;
  vehicle->options.run.record = NULL;
  vehicle->options.full = false;
  enum tailvolt_status status = tv_vehicle_system(system, list, values, &vehicle->system);
  if (status != TAILVOLT_OK) return status;
  /* the outside temperature may come from the profile or the options: shift it in either case */
  vehicle->system->vehicle.ambient_c = system->vehicle.ambient_c;
  vehicle->options.ambient_shift_k += tv_vehicle_rows(list, values).ambient_more_k;
  return TAILVOLT_OK;
}

/* ---- all of them ---- */

/* The vehicles drawn, then the car described and that car moved along each factor. */
struct all {
  int count, drawn;
  struct tailvolt_uncertainty *list;
  double *values;                /* [count x list->count] */
  int *moved_at;                 /* [factors] place of the car moved along it; 0 = moves nothing */
  struct tv_parked_brief *brief; /* [count] */
  unsigned char *state;          /* [count] 0 = not done, 1 = done, 2 = could not be computed */
};

struct tv_spread {
  const struct tailvolt_system *system;
  const struct tailvolt_profile *profile;
  const struct tailvolt_parked_options *options;
  struct all all;
  int computed; /* so many, beside other work */
  atomic_bool no_memory;
};

static enum tailvolt_status place_vehicles(struct all *all) {
  size_t width = (size_t)all->list->count, factors = (size_t)all->list->factor_count;
  double *points = calloc((size_t)all->drawn * factors + 1, sizeof *points);
  if (points == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = tv_vehicle_points((int)factors, 1, 0, all->drawn, points);
  for (size_t k = 0; k < (size_t)all->drawn && status == TAILVOLT_OK; k++)
    tv_vehicle_values(all->list, points + k * factors, all->values + k * width);
  free(points);
  double *described = all->values + (size_t)all->drawn * width;
  for (size_t k = 0; k < width; k++) described[k] = all->list->values[k].nominal;
  all->count = all->drawn + 1;
  for (int f = 0; f < (int)factors; f++) {
    double *moved = all->values + (size_t)all->count * width;
    memcpy(moved, described, width * sizeof *moved);
    all->moved_at[f] = tv_vehicle_move(all->list, f, 1, moved) ? all->count++ : 0;
  }
  return status;
}

static enum tailvolt_status allocate(const struct tailvolt_system *system, int vehicles, struct all *all) {
  enum tailvolt_status status = tailvolt_uncertainty_of(system, &all->list);
  if (status != TAILVOLT_OK) return status;
  size_t n = (size_t)vehicles + (size_t)all->list->factor_count + 2;
  all->drawn = vehicles;
  all->values = calloc(n * ((size_t)all->list->count + 1), sizeof *all->values);
  all->moved_at = calloc((size_t)all->list->factor_count + 1, sizeof *all->moved_at);
  all->brief = calloc(n, sizeof *all->brief);
  all->state = calloc(n, 1);
  if (!all->values || !all->moved_at || !all->brief || !all->state) return TAILVOLT_NO_MEMORY;
  return place_vehicles(all);
}

static bool asked_to_stop(const struct tailvolt_parked_options *options, int done, int count) {
  const struct tailvolt_options *run = &options->run;
  return run->progress != NULL && run->progress(run->progress_context, (double)done / count) != 0;
}

/* What the threads share. */
struct crew {
  struct tv_spread *spread;
  struct tv_parked_quick quick; /* its ratio is applied to all at the end */
  int first;
  atomic_int done;
  atomic_bool stopped;
};

static void compute_vehicle(struct crew *crew, int k) {
  struct tv_spread *s = crew->spread;
  struct all *all = &s->all;
  struct tv_spread_vehicle vehicle;
  enum tailvolt_status status =
      tv_spread_vehicle(s->system, s->options, all->list, all->values + (size_t)k * (size_t)all->list->count, &vehicle);
  if (status == TAILVOLT_OK)
    status = tv_parked_brief_with(vehicle.system, s->profile, &vehicle.options, &crew->quick, &all->brief[k], NULL);
  tv_spread_vehicle_free(&vehicle);
  all->state[k] = status == TAILVOLT_OK ? 1 : 2;
  if (status == TAILVOLT_NO_MEMORY) atomic_store(&s->no_memory, true);
}

/* The first thread reports progress, and checks for Ctrl-C, between two of its vehicles. */
static void compute_one(void *context, int k) {
  struct crew *crew = context;
  if (atomic_load(&crew->stopped) || atomic_load(&crew->spread->no_memory)) return;
  compute_vehicle(crew, crew->first + k);
  int so_far = atomic_fetch_add(&crew->done, 1) + 1;
  if (tv_thread() == 0 && asked_to_stop(crew->spread->options, so_far, crew->spread->all.count))
    atomic_store(&crew->stopped, true);
}

static void man(struct crew *crew, struct tv_spread *spread, const struct tv_parked_quick *quick) {
  *crew = (struct crew){.spread = spread, .quick = *quick, .first = spread->computed};
  crew->quick.cut_out_ratio = 1;
  atomic_init(&crew->done, spread->computed);
  atomic_init(&crew->stopped, false);
}

void tv_spread_some(struct tv_spread *spread, const struct tv_parked_quick *quick, const atomic_bool *enough) {
  struct crew crew;
  man(&crew, spread, quick);
  for (; spread->computed < spread->all.count && !atomic_load(enough) && !atomic_load(&spread->no_memory); spread->computed++)
    compute_vehicle(&crew, spread->computed);
}

static enum tailvolt_status compute_all(struct tv_spread *spread, const struct tv_parked_quick *quick) {
  struct crew crew;
  man(&crew, spread, quick);
  tv_each(spread->all.count - crew.first, tv_threads(spread->options->threads), compute_one, &crew);
  return atomic_load(&spread->no_memory) ? TAILVOLT_NO_MEMORY : TAILVOLT_OK;
}

/* ---- combining their results ---- */

#define NEVER_S 1e12 /* finite: a quantile lies between two times */

/* What has not happened while a car was followed may happen right after, or never. */
static void quantiles(double *soonest_s, double *latest_s, size_t n, double limit_s, struct tailvolt_parked_quantiles *to,
                      struct tailvolt_parked_quantiles *least) {
  double *place[] = {&to->p10, &to->p50, &to->p90}, *bound[] = {&least->p10, &least->p50, &least->p90};
  static const double share[] = {0.1, 0.5, 0.9};
  gsl_sort(soonest_s, 1, n);
  gsl_sort(latest_s, 1, n);
  for (int k = 0; k < 3; k++) {
    double soonest = n > 0 ? gsl_stats_quantile_from_sorted_data(soonest_s, 1, n, share[k]) : (double)NAN;
    double latest = n > 0 ? gsl_stats_quantile_from_sorted_data(latest_s, 1, n, share[k]) : (double)NAN;
    *place[k] = latest <= limit_s ? latest : (double)NAN;
    *bound[k] = latest > soonest ? soonest : (double)NAN;
  }
}

enum { UNTIL, RESTART, CUT_OUT, LIMIT, TIMES };

static void gather_times(const struct all *all, int which, double limit_s, double *soonest_s, double *latest_s) {
  size_t n = 0;
  for (int k = 0; k < all->drawn; k++) {
    if (all->state[k] != 1) continue;
    const struct tv_parked_brief *b = &all->brief[k];
    double value_s = which == UNTIL     ? b->until_s
                     : which == RESTART ? b->restart_s
                     : which == CUT_OUT ? b->cut_out_s
                                        : b->limit_s;
    bool later = isnan(value_s) || (which == UNTIL && b->ends_by == TAILVOLT_ENDS_BY_TIME);
    soonest_s[n] = !later ? value_s : which == UNTIL ? limit_s : b->followed_s;
    latest_s[n++] = later ? NEVER_S : value_s;
  }
}

/* Playing times are compared by their ratio. */
static double answer_of(const struct all *all, int k, double limit_s) {
  if (all->state[k] != 1) return (double)NAN;
  return log(fmin(fmax(all->brief[k].until_s, 1), 2 * limit_s));
}

/* What to measure first: shares of the variance of the playing time (study/certainty_sum.h). */
static enum tailvolt_status weigh(const struct all *all, double limit_s, struct tailvolt_certainty *out) {
  size_t factors = (size_t)all->list->factor_count, n = (size_t)all->drawn;
  double *work = calloc(n * (factors + 1) + 3 * factors + 1, sizeof *work);
  if (work == NULL) return TAILVOLT_NO_MEMORY;
  double *along = work, *answer = along + n * factors, *step = answer + n, *share_pct = step + factors,
         *error_pct = share_pct + factors;
  for (size_t k = 0; k < n; k++) answer[k] = answer_of(all, (int)k, limit_s);
  if (tv_vehicles_along(all->list, all->values, all->drawn, along) != TAILVOLT_OK) {
    free(work);
    return TAILVOLT_NO_MEMORY;
  }
  double described = answer_of(all, all->drawn, limit_s);
  for (size_t f = 0; f < factors; f++)
    step[f] = all->moved_at[f] > 0 ? answer_of(all, all->moved_at[f], limit_s) - described : 0;
  struct tv_shares from = {.list = all->list, .along = along, .answer = answer, .count = all->drawn, .step = step};
  enum tailvolt_status status = tv_shares_of(&from, share_pct, error_pct, NULL, &out->unexplained_pct);
  if (status == TAILVOLT_OK) tv_name_first(&from, share_pct, error_pct, out);
  free(work);
  return status;
}

static void shares(const struct all *all, double wanted_s, struct tailvolt_parked_spread *spread,
                   struct tailvolt_parked_soonest *soonest) {
  int dead = 0, brief = 0, unknown = 0, by[4] = {0};
  for (int k = 0; k < all->drawn; k++) {
    if (all->state[k] != 1) continue;
    dead += all->brief[k].restart_s < wanted_s;
    unknown += isnan(all->brief[k].restart_s) && all->brief[k].followed_s < wanted_s;
    brief += all->brief[k].until_s < wanted_s;
    by[all->brief[k].ends_by]++;
  }
  double each_pct = spread->done > 0 ? 100.0 / spread->done : (double)NAN;
  spread->not_starting_pct = isnan(wanted_s) ? (double)NAN : dead * each_pct;
  spread->too_short_pct = isnan(wanted_s) ? (double)NAN : brief * each_pct;
  soonest->not_followed_pct = isnan(wanted_s) ? (double)NAN : unknown * each_pct;
  spread->holds_low_pct = spread->holds_high_pct = (double)NAN;
  if (!isnan(wanted_s) && spread->done > 0)
    tv_share_interval(spread->done - brief, spread->done, &spread->holds_low_pct, &spread->holds_high_pct);
  for (int k = 0; k < 4; k++) spread->ends_by_pct[k] = by[k] * each_pct;
}

static enum tailvolt_status summarise(const struct all *all, double limit_s, double wanted_s,
                                      struct tailvolt_parked_spread *spread, struct tailvolt_parked_soonest *soonest,
                                      struct tailvolt_certainty *certainty) {
  double *work = calloc(2 * (size_t)all->drawn + 1, sizeof *work);
  int others = 0;
  if (work == NULL) return TAILVOLT_NO_MEMORY;
  spread->vehicles = all->drawn;
  for (int k = 0; k < all->drawn; k++) {
    spread->done += all->state[k] == 1;
    spread->refused += all->state[k] == 2;
  }
  for (int k = all->drawn; k < all->count; k++) others += all->state[k] != 0;
  spread->partial = spread->done + spread->refused < all->drawn;
  size_t n = (size_t)spread->done;
  struct tailvolt_parked_quantiles none; /* a car that plays is followed to the longest time */
  struct tailvolt_parked_quantiles *place[] = {&spread->until_s, &spread->restart_s, &spread->cut_out_s, &spread->rest_limit_s};
  struct tailvolt_parked_quantiles *bound[] = {&none, &soonest->restart_s, &soonest->cut_out_s, &soonest->rest_limit_s};
  for (int which = 0; which < TIMES; which++) {
    gather_times(all, which, limit_s, work, work + all->drawn);
    quantiles(work, work + all->drawn, n, limit_s, place[which], bound[which]);
  }
  free(work);
  shares(all, wanted_s, spread, soonest);
  *certainty = (struct tailvolt_certainty){.known = spread->done > 0,
                                           .vehicles = spread->done,
                                           .refused = spread->refused,
                                           .partial = spread->partial,
                                           .holds_pct = 100 - spread->too_short_pct,
                                           .holds_low_pct = spread->holds_low_pct,
                                           .holds_high_pct = spread->holds_high_pct,
                                           .min_v = {(double)NAN, (double)NAN, (double)NAN},
                                           .below_target_pct = (double)NAN,
                                           .charge_lost_pct = (double)NAN,
                                           .unexplained_pct = (double)NAN,
                                           .level_db = (double)NAN};
  return others == all->count - all->drawn ? weigh(all, limit_s, certainty) : TAILVOLT_OK;
}

void tv_spread_free(struct tv_spread *spread) {
  if (spread == NULL) return;
  tailvolt_uncertainty_free(spread->all.list);
  free(spread->all.values);
  free(spread->all.moved_at);
  free(spread->all.brief);
  free(spread->all.state);
  free(spread);
}

enum tailvolt_status tv_spread_begin(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                                     const struct tailvolt_parked_options *options, struct tv_spread **out) {
  struct tv_spread *spread = *out = calloc(1, sizeof *spread);
  if (spread == NULL) return TAILVOLT_NO_MEMORY;
  spread->system = system;
  spread->profile = profile;
  spread->options = options;
  atomic_init(&spread->no_memory, false);
  enum tailvolt_status status = allocate(system, options->vehicles, &spread->all);
  if (status == TAILVOLT_OK) return status;
  tv_spread_free(spread);
  *out = NULL;
  return status;
}

enum tailvolt_status tv_spread_end(struct tv_spread *spread, const struct tv_parked_quick *quick, double wanted_s,
                                   struct tailvolt_parked_spread *out, struct tailvolt_parked_soonest *soonest,
                                   struct tailvolt_certainty *certainty) {
  double limit_s = spread->options->limit_s;
  memset(out, 0, sizeof *out);
  memset(soonest, 0, sizeof *soonest);
  enum tailvolt_status status = compute_all(spread, quick);
  for (int k = 0; k < spread->all.count; k++)
    if (spread->all.state[k] == 1) tv_parked_brief_scale(&spread->all.brief[k], quick->cut_out_ratio, limit_s);
  if (status == TAILVOLT_OK) status = summarise(&spread->all, limit_s, wanted_s, out, soonest, certainty);
  certainty->level_db = spread->system->tolerance.level_db;
  return status;
}

enum tailvolt_status tv_parked_spread(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                                      const struct tailvolt_parked_options *options,
                                      const struct tv_parked_quick *quick, double wanted_s,
                                      struct tailvolt_parked_spread *out, struct tailvolt_parked_soonest *soonest,
                                      struct tailvolt_certainty *certainty) {
  struct tv_spread *spread;
  memset(out, 0, sizeof *out);
  memset(soonest, 0, sizeof *soonest);
  enum tailvolt_status status = tv_spread_begin(system, profile, options, &spread);
  if (status != TAILVOLT_OK) return status;
  status = tv_spread_end(spread, quick, wanted_s, out, soonest, certainty);
  tv_spread_free(spread);
  return status;
}
