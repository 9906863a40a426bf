#include "study/spread.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_qrng.h>
#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "study/threads.h"

const char *const tv_tolerance_keys[TAILVOLT_TOLERANCES] = {
    "battery health", "state of charge", "temperature", "resistances", "level", "cranking current"};

/* A Sobol sequence fills its first dimensions best: they go to what usually matters most. */
static const int sobol_order[TAILVOLT_TOLERANCES] = {TAILVOLT_OF_LEVEL,       TAILVOLT_OF_CHARGE,
                                                     TAILVOLT_OF_HEALTH,      TAILVOLT_OF_CRANKING,
                                                     TAILVOLT_OF_RESISTANCES, TAILVOLT_OF_TEMPERATURE};

static double or_common(double given, double common) { return isnan(given) ? common : given; }

static void half_widths(const struct tailvolt_tolerance *t, double *half) {
  half[TAILVOLT_OF_HEALTH] = or_common(t->health_frac, 0.1);
  half[TAILVOLT_OF_CHARGE] = or_common(t->soc_frac, 0.1);
  half[TAILVOLT_OF_TEMPERATURE] = or_common(t->temperature_k, 5);
  half[TAILVOLT_OF_RESISTANCES] = or_common(t->resistance_frac, 0.2);
  half[TAILVOLT_OF_LEVEL] = or_common(t->level_db, 2);
  half[TAILVOLT_OF_CRANKING] = or_common(t->cranking_frac, 0.15);
}

/* ---- one vehicle ---- */

void tv_spread_vehicle_free(struct tv_spread_vehicle *vehicle) {
  free(vehicle->batteries);
  free(vehicle->conductors);
  vehicle->batteries = NULL;
  vehicle->conductors = NULL;
}

enum tailvolt_status tv_spread_draw(const struct tailvolt_system *system,
                                    const struct tailvolt_parked_options *options, const double *soc_frac,
                                    const double *draw, struct tv_spread_vehicle *vehicle) {
  double half[TAILVOLT_TOLERANCES];
  half_widths(&system->tolerance, half);
  memset(vehicle, 0, sizeof *vehicle);
  vehicle->system = *system;
  vehicle->options = *options;
  vehicle->options.run.progress = NULL;
  vehicle->options.run.record = NULL;
  vehicle->options.full = false;
  vehicle->batteries = malloc((size_t)system->battery_count * sizeof *vehicle->batteries + 1);
  vehicle->conductors = malloc((size_t)system->conductor_count * sizeof *vehicle->conductors + 1);
  if (vehicle->batteries == NULL || vehicle->conductors == NULL) return TAILVOLT_NO_MEMORY;
  double more_ohm = 1 + half[TAILVOLT_OF_RESISTANCES] * draw[TAILVOLT_OF_RESISTANCES];
  for (int k = 0; k < system->battery_count; k++) {
    struct tailvolt_battery *b = &vehicle->batteries[k];
    *b = system->batteries[k];
    b->health_frac =
        fmin(fmax(b->health_frac + half[TAILVOLT_OF_HEALTH] * draw[TAILVOLT_OF_HEALTH], 0.05), 1.2);
    b->soc_frac = fmin(fmax(soc_frac[k] + half[TAILVOLT_OF_CHARGE] * draw[TAILVOLT_OF_CHARGE], 0.01), 1.0);
    b->rested_v = (double)NAN;
    /* a battery's own resistance follows its cranking health unless stated */
    b->resistance_ohm *= more_ohm;
    b->cranking_health_frac /= more_ohm;
  }
  for (int k = 0; k < system->conductor_count; k++) {
    vehicle->conductors[k] = system->conductors[k];
    vehicle->conductors[k].resistance_ohm *= more_ohm;
  }
  vehicle->system.batteries = vehicle->batteries;
  vehicle->system.conductors = vehicle->conductors;
  /* a starter's currents, or what a hybrid's 12 V side draws while booting */
  double more_a = 1 + half[TAILVOLT_OF_CRANKING] * draw[TAILVOLT_OF_CRANKING];
  vehicle->system.engine.cranking_a *= more_a;
  vehicle->system.engine.breakaway_a *= more_a;
  vehicle->system.engine.start_needs_a *= more_a;
  vehicle->options.ambient_shift_k += half[TAILVOLT_OF_TEMPERATURE] * draw[TAILVOLT_OF_TEMPERATURE];
  vehicle->options.level_db += half[TAILVOLT_OF_LEVEL] * draw[TAILVOLT_OF_LEVEL];
  return TAILVOLT_OK;
}

/* Initial charge where the file gives a rested voltage. */
static enum tailvolt_status start_charges(const struct tailvolt_system *system, double ambient_c,
                                          double *soc_frac, char *error) {
  for (int k = 0; k < system->battery_count; k++) {
    struct tv_battery *battery;
    struct tv_battery_state state;
    soc_frac[k] = system->batteries[k].soc_frac;
    if (isnan(system->batteries[k].rested_v)) continue;
    enum tailvolt_status status = tv_battery_create(&system->batteries[k], &battery, error);
    if (status != TAILVOLT_OK) return status;
    tv_battery_rest(battery, ambient_c, &state);
    soc_frac[k] = tv_battery_soc_frac(battery, &state);
    tv_battery_free(battery);
  }
  return TAILVOLT_OK;
}

/* ---- all of them ---- */

struct all {
  int count;
  double *draw;                  /* [count x TAILVOLT_TOLERANCES] */
  struct tv_parked_brief *brief; /* [count] */
  unsigned char *state;          /* [count] 0 = not done, 1 = done, 2 = could not be computed */
  double *soc_frac;
  const struct tv_parked_quick *quick;
};

static enum tailvolt_status allocate(const struct tailvolt_system *system, int count, struct all *all) {
  size_t n = (size_t)count;
  all->count = count;
  all->draw = calloc(n * TAILVOLT_TOLERANCES, sizeof *all->draw);
  all->brief = calloc(n, sizeof *all->brief);
  all->state = calloc(n, 1);
  all->soc_frac = calloc((size_t)system->battery_count + 1, sizeof *all->soc_frac);
  if (!all->draw || !all->brief || !all->state || !all->soc_frac) return TAILVOLT_NO_MEMORY;
  gsl_qrng *sobol = gsl_qrng_alloc(gsl_qrng_sobol, TAILVOLT_TOLERANCES);
  if (sobol == NULL) return TAILVOLT_NO_MEMORY;
  /* The library omits the sequence's first point, the origin. With it, and shifted by half a cell, the first
   * 2^m points have one in the middle of each 2^m-th of every range. */
  for (int k = 0; k < count; k++) {
    double *draw = all->draw + (size_t)k * TAILVOLT_TOLERANCES;
    double point[TAILVOLT_TOLERANCES] = {0};
    if (k > 0) gsl_qrng_get(sobol, point);
    for (int t = 0; t < TAILVOLT_TOLERANCES; t++) draw[sobol_order[t]] = 2 * (point[t] + 0.5 / count) - 1;
  }
  gsl_qrng_free(sobol);
  return TAILVOLT_OK;
}

static void compute(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                    const struct tailvolt_parked_options *options, struct all *all, int k) {
  struct tv_spread_vehicle vehicle;
  enum tailvolt_status status =
      tv_spread_draw(system, options, all->soc_frac, all->draw + (size_t)k * TAILVOLT_TOLERANCES, &vehicle);
  if (status == TAILVOLT_OK)
    status =
        tv_parked_brief_with(&vehicle.system, profile, &vehicle.options, all->quick, &all->brief[k], NULL);
  tv_spread_vehicle_free(&vehicle);
  all->state[k] = status == TAILVOLT_OK ? 1 : 2;
}

static bool asked_to_stop(const struct tailvolt_parked_options *options, int done, int count) {
  const struct tailvolt_options *run = &options->run;
  return run->progress != NULL && run->progress(run->progress_context, (double)done / count) != 0;
}

/* The first thread reports progress and checks for Ctrl-C between two of its vehicles. */
static void compute_all(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                        const struct tailvolt_parked_options *options, struct all *all) {
  int stopped = 0, done = 0;
#pragma omp parallel for schedule(dynamic, 1) num_threads(tv_threads(options->threads))
  for (int k = 0; k < all->count; k++) {
    int stop, so_far;
#pragma omp atomic read
    stop = stopped;
    if (stop) continue;
    compute(system, profile, options, all, k);
#pragma omp atomic capture
    so_far = ++done;
    if (tv_thread() != 0) continue;
    if (!asked_to_stop(options, so_far, all->count)) continue;
#pragma omp atomic write
    stopped = 1;
  }
}

/* ---- what they say together ---- */

/* Times beyond the longest one simulated count as longer than any. */
static double or_long(double time_s, double limit_s) {
  return isnan(time_s) ? 10 * limit_s : time_s;
}

static struct tailvolt_parked_quantiles quantiles(double *times_s, size_t n, double limit_s) {
  struct tailvolt_parked_quantiles q;
  double *place[] = {&q.p10, &q.p50, &q.p90};
  static const double share[] = {0.1, 0.5, 0.9};
  gsl_sort(times_s, 1, n);
  for (int k = 0; k < 3; k++) {
    double value_s = n > 0 ? gsl_stats_quantile_from_sorted_data(times_s, 1, n, share[k]) : (double)NAN;
    *place[k] = value_s <= limit_s ? value_s : (double)NAN;
  }
  return q;
}

enum { UNTIL, RESTART, CUT_OUT, LIMIT, TIMES };

static void gather_times(const struct all *all, int which, double limit_s, double *to) {
  size_t n = 0;
  for (int k = 0; k < all->count; k++) {
    if (all->state[k] != 1) continue;
    const struct tv_parked_brief *b = &all->brief[k];
    double value_s = which == UNTIL     ? b->until_s
                     : which == RESTART ? b->restart_s
                     : which == CUT_OUT ? b->cut_out_s
                                        : b->limit_s;
    to[n++] = or_long(value_s, limit_s);
  }
}

static int by_weight(const void *left, const void *right) {
  const struct tailvolt_parked_matter *a = left, *b = right;
  double x = isnan(a->rank_correlation) ? -1 : fabs(a->rank_correlation);
  double y = isnan(b->rank_correlation) ? -1 : fabs(b->rank_correlation);
  return (y > x) - (y < x);
}

/* Rank correlation of each drawn number with the playing time. */
static void weigh(const struct all *all, const double *half, double limit_s, double *work, size_t n,
                  struct tailvolt_parked_spread *spread) {
  double *until_s = work, *drawn = work + n, *ranks = work + 2 * n;
  gather_times(all, UNTIL, limit_s, until_s);
  bool varies = false;
  for (size_t k = 1; k < n; k++) varies = varies || until_s[k] != until_s[0];
  for (int t = 0; t < TAILVOLT_TOLERANCES; t++) {
    struct tailvolt_parked_matter *matter = &spread->matters[t];
    size_t m = 0;
    for (int k = 0; k < all->count; k++)
      if (all->state[k] == 1) drawn[m++] = all->draw[(size_t)k * TAILVOLT_TOLERANCES + (size_t)t];
    snprintf(matter->key, sizeof matter->key, "%s", tv_tolerance_keys[t]);
    matter->tolerance = (enum tailvolt_parked_tolerance)t;
    matter->half_width = half[t];
    matter->rank_correlation = (double)NAN;
    if (varies && n > 2 && half[t] > 0)
      matter->rank_correlation = gsl_stats_spearman(drawn, 1, until_s, 1, n, ranks);
  }
  qsort(spread->matters, TAILVOLT_TOLERANCES, sizeof spread->matters[0], by_weight);
}

/* Wilson's score interval of a share, here for 90 % (J. Am. Stat. Assoc. 22, 1927): valid near 0 and 1 too.
 * Evenly spread draws make it wider than necessary. */
static void interval(int hits, int count, double *low_pct, double *high_pct) {
  double z = gsl_cdf_ugaussian_Pinv(0.95), n = count, p = hits / n;
  double middle = (p + z * z / (2 * n)) / (1 + z * z / n);
  double half = z / (1 + z * z / n) * sqrt(p * (1 - p) / n + z * z / (4 * n * n));
  *low_pct = 100 * fmax(middle - half, 0);
  *high_pct = 100 * fmin(middle + half, 1);
}

static void shares(const struct all *all, double wanted_s, struct tailvolt_parked_spread *spread) {
  int dead = 0, brief = 0, by[4] = {0};
  for (int k = 0; k < all->count; k++) {
    if (all->state[k] != 1) continue;
    dead += all->brief[k].restart_s < wanted_s;
    brief += all->brief[k].until_s < wanted_s;
    by[all->brief[k].ends_by]++;
  }
  double each_pct = spread->done > 0 ? 100.0 / spread->done : (double)NAN;
  spread->not_starting_pct = isnan(wanted_s) ? (double)NAN : dead * each_pct;
  spread->too_short_pct = isnan(wanted_s) ? (double)NAN : brief * each_pct;
  spread->holds_low_pct = spread->holds_high_pct = (double)NAN;
  if (!isnan(wanted_s) && spread->done > 0)
    interval(spread->done - brief, spread->done, &spread->holds_low_pct, &spread->holds_high_pct);
  for (int k = 0; k < 4; k++) spread->ends_by_pct[k] = by[k] * each_pct;
}

static enum tailvolt_status summarise(const struct tailvolt_system *system, const struct all *all,
                                      double limit_s, double wanted_s,
                                      struct tailvolt_parked_spread *spread) {
  double half[TAILVOLT_TOLERANCES], *work = calloc(4 * (size_t)all->count + 4, sizeof *work);
  if (work == NULL) return TAILVOLT_NO_MEMORY;
  spread->vehicles = all->count;
  for (int k = 0; k < all->count; k++) {
    spread->done += all->state[k] == 1;
    spread->refused += all->state[k] == 2;
  }
  spread->partial = spread->done + spread->refused < all->count;
  size_t n = (size_t)spread->done;
  struct tailvolt_parked_quantiles *place[] = {&spread->until_s, &spread->restart_s, &spread->cut_out_s,
                                               &spread->rest_limit_s};
  for (int which = 0; which < TIMES; which++) {
    gather_times(all, which, limit_s, work);
    *place[which] = quantiles(work, n, limit_s);
  }
  shares(all, wanted_s, spread);
  half_widths(&system->tolerance, half);
  weigh(all, half, limit_s, work, n, spread);
  free(work);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_parked_spread(const struct tailvolt_system *system,
                                      const struct tailvolt_profile *profile,
                                      const struct tailvolt_parked_options *options,
                                      const struct tv_parked_quick *quick, double wanted_s,
                                      struct tailvolt_parked_spread *spread, char *error) {
  struct all all = {.quick = quick};
  memset(spread, 0, sizeof *spread);
  enum tailvolt_status status = allocate(system, options->vehicles, &all);
  double ambient_c = isnan(options->ambient_c) ? system->vehicle.ambient_c : options->ambient_c;
  if (status == TAILVOLT_OK) status = start_charges(system, ambient_c, all.soc_frac, error);
  if (status == TAILVOLT_OK) {
    compute_all(system, profile, options, &all);
    status = summarise(system, &all, options->limit_s, wanted_s, spread);
  }
  free(all.draw);
  free(all.brief);
  free(all.state);
  free(all.soc_frac);
  return status;
}
