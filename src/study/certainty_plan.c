/* What replaces whole profiles, and what that leaves out, measured on the car as described. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/swing.h"
#include "simulate/worst.h"
#include "study/certainty_parts.h"
#include "study/smooth.h"

enum { ROWS_MOST = 20000 };   /* above that a profile is a log: every vehicle runs it unchanged */
#define LONG_STEP_S 0.05
#define LONG_STEPS_MOST 40000 /* of one profile */
#define LONGEST_STEP_S 0.2

static const double shares[] = {0.0, 0.01, 0.02, 0.04, 0.06, 0.09, 0.12, 0.16, 0.2, 0.25, 0.3, 0.36, 0.43, 0.5, 0.6, 0.7, 0.8};
enum { SHARES = (int)(sizeof shares / sizeof *shares) };

static double length_s(const struct tailvolt_profile *profile) {
  return tailvolt_profile_end_s(profile) - tailvolt_profile_start_s(profile);
}

static double most_bass_hz(const struct tv_certainty_plan *plan) {
  double most_hz = 0;
  for (int k = 0; k < plan->system->programme_count; k++)
    if (plan->system->programmes[k].bass_hz > most_hz) most_hz = plan->system->programmes[k].bass_hz;
  return most_hz;
}

/* Steps per second while the music plays: with ripple, at most 1/(40 f). */
static double steps_per_s(const struct tv_certainty_plan *plan) {
  if (plan->run.time_step_s > 0) return 1 / plan->run.time_step_s;
  double most_hz = most_bass_hz(plan);
  return most_hz > 25 ? fmin(40 * most_hz * 2, 10000) : 1000;
}

static double quiet_per_s(const struct tv_certainty_plan *plan) {
  return plan->run.time_step_s > 0 ? 1 / plan->run.time_step_s : 1000;
}

static double whole_steps(const struct tv_certainty_plan *plan) {
  double steps = 0;
  for (int p = 0; p < plan->profile_count; p++)
    steps += length_s(plan->profiles[p]) * steps_per_s(plan) + plan->run.settle_s * quiet_per_s(plan);
  return steps;
}

/* A set point that swings is run at its other end too, by itself: a step in one lane costs that of three. */
static double passes(const struct tv_certainty_plan *plan) { return tv_swings(plan->system) ? 4 : 1; }

static double piece_steps(const struct tv_certainty_plan *plan) {
  double steps = 0;
  for (int p = 0; p < plan->profile_count; p++)
    steps += passes(plan) * (length_s(plan->profiles[p]) + plan->run.settle_s) / plan->long_step_s;
  for (int s = 0; s < plan->stretch_count; s++) {
    const struct tv_kept_rows *rows = &plan->stretches[s].rows;
    if (rows->count > 1)
      steps += (rows->row[rows->count - 1].time_s - rows->row[0].time_s) / plan->fine_step_s;
  }
  return steps;
}

double tv_certainty_steps(const struct tv_certainty_plan *plan) { return plan->whole ? whole_steps(plan) : piece_steps(plan); }

/* The share of a stretch's time below what the whole profile is judged by, for its worst amplifier; and for every amplifier what is
 * still missing at that share. */
static void settle_share(struct tv_stretch *s, const double *quantile_v, const struct tailvolt_result *here,
                         const struct tailvolt_result *full) {
  int best = 0, worst = tv_worst_amplifier(full, s->phase), each = full->amplifier_count * TAILVOLT_PHASES;
  double nearest_v = (double)INFINITY;
  for (int k = 0; k < SHARES && worst >= 0; k++) {
    double off_v = fabs(quantile_v[k * each + worst * TAILVOLT_PHASES + s->phase] -
                        here->amplifiers[worst].phase[s->phase].target_v - tv_phase_margin_v(full, worst, s->phase));
    if (!(off_v < nearest_v)) continue;
    nearest_v = off_v;
    best = k;
  }
  s->missed_frac = shares[best];
  for (int a = 0; a < full->amplifier_count; a++) {
    const struct tailvolt_amplifier_phase *there = &full->amplifiers[a].phase[s->phase];
    const struct tailvolt_amplifier_phase *piece = &here->amplifiers[a].phase[s->phase];
    bool plays = there->play_s > 0 && piece->play_s > 0;
    double margin_v = quantile_v[best * each + a * TAILVOLT_PHASES + s->phase] - piece->target_v;
    s->margin_more_v[a] = plays ? tv_phase_margin_v(full, a, s->phase) - margin_v : (double)NAN;
    s->min_more_v[a] = plays ? there->min_v - piece->min_v : (double)NAN;
  }
}

static void compare_charge(struct tv_certainty_plan *plan, const struct tailvolt_result *const *results,
                           struct tailvolt_result *const *smooth) {
  for (int p = 0; p < plan->profile_count; p++) {
    plan->offset[p].idle_a = tailvolt_charge_balance_a(results[p], TAILVOLT_IDLE) - tailvolt_charge_balance_a(smooth[p], TAILVOLT_IDLE);
    plan->offset[p].road_a = tailvolt_charge_balance_a(results[p], TAILVOLT_ROAD) - tailvolt_charge_balance_a(smooth[p], TAILVOLT_ROAD);
  }
}

/* What full detail takes away, where no pieces are run. */
static enum tailvolt_status compare_quickly(struct tv_certainty_plan *plan, const struct tailvolt_result *const *results) {
  int each = plan->system->amplifier_count * TAILVOLT_PHASES;
  struct tailvolt_result **smooth = calloc((size_t)plan->profile_count + 1, sizeof *smooth);
  plan->quick = calloc((size_t)plan->profile_count * (size_t)each + 1, sizeof *plan->quick);
  enum tailvolt_status status = smooth != NULL && plan->quick != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK) status = tv_certainty_try_long(plan, smooth);
  if (status == TAILVOLT_OK) compare_charge(plan, results, smooth);
  for (int k = 0; k < plan->profile_count * each && status == TAILVOLT_OK; k++) {
    int p = k / each, a = k % each / TAILVOLT_PHASES, phase = k % TAILVOLT_PHASES;
    double full_v = tv_phase_margin_v(results[p], a, phase), long_v = tv_phase_margin_v(smooth[p], a, phase);
    if (!isfinite(full_v) || !isfinite(long_v)) continue;
    const struct tailvolt_amplifier_result *one = &smooth[p]->amplifiers[a];
    plan->quick[k] = (struct tv_quick_offset){one->rest_v - one->phase[phase].quantile_v, full_v - long_v};
  }
  for (int p = 0; p < plan->profile_count && smooth != NULL; p++) tailvolt_result_free(smooth[p]);
  free(smooth);
  return status;
}

static enum tailvolt_status compare_pieces(struct tv_certainty_plan *plan, const struct tailvolt_result *const *results) {
  int amplifiers = plan->system->amplifier_count;
  size_t tries = (size_t)plan->stretch_count + 1, profiles = (size_t)plan->profile_count + 1;
  size_t each = (size_t)(SHARES * amplifiers * TAILVOLT_PHASES);
  struct tailvolt_result **tried = calloc(tries, sizeof *tried), **smooth = calloc(profiles, sizeof *smooth);
  double *quantile_v = calloc(tries * each + 1, sizeof *quantile_v);
  enum tailvolt_status status = tried != NULL && smooth != NULL && quantile_v != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  struct tv_described *car = NULL;
  if (status == TAILVOLT_OK) status = tv_certainty_describe(plan, &car);
  if (status == TAILVOLT_OK) status = tv_certainty_try_shares(plan, car, shares, SHARES, quantile_v, tried);
  for (size_t s = 0; s < (size_t)plan->stretch_count && status == TAILVOLT_OK; s++)
    settle_share(&plan->stretches[s], quantile_v + s * each, tried[s], results[plan->stretches[s].profile]);
  free(quantile_v);
  double *drift_v = calloc((size_t)plan->stretch_count * (size_t)amplifiers + 1, sizeof *drift_v);
  if (drift_v == NULL) status = TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK) status = tv_certainty_drift(plan, car, drift_v);
  tv_described_free(car);
  for (int k = 0; k < plan->stretch_count * amplifiers && status == TAILVOLT_OK; k++) {
    plan->stretches[k / amplifiers].margin_more_v[k % amplifiers] -= drift_v[k];
    plan->stretches[k / amplifiers].min_more_v[k % amplifiers] -= drift_v[k];
  }
  free(drift_v);
  if (status == TAILVOLT_OK) status = tv_certainty_try_long(plan, smooth);
  if (status == TAILVOLT_OK) compare_charge(plan, results, smooth);
  for (size_t k = 0; k < tries && tried != NULL; k++) tailvolt_result_free(tried[k]);
  for (size_t k = 0; k < profiles && smooth != NULL; k++) tailvolt_result_free(smooth[k]);
  free(tried);
  free(smooth);
  return status;
}

static enum tailvolt_status read_all_rows(struct tv_certainty_plan *plan) {
  for (int p = 0; p < plan->profile_count; p++) {
    if (tailvolt_profile_row_count(plan->profiles[p]) > ROWS_MOST) continue;
    enum tailvolt_status status =
        tv_kept_rows_read(plan->system, plan->profiles[p], (double)-INFINITY, (double)INFINITY, &plan->rows[p]);
    if (status != TAILVOLT_OK) return status;
  }
  return TAILVOLT_OK;
}

static enum tailvolt_status make_music(struct tv_certainty_plan *plan, char *error) {
  struct tailvolt_system smooth;
  enum tailvolt_status status = tv_smooth_copy(plan->system, &smooth);
  if (status == TAILVOLT_OK) status = tv_programmes_make(plan->system, &plan->run, &plan->programmes, error);
  if (status == TAILVOLT_OK && !plan->whole) status = tv_programmes_make(&smooth, &plan->run, &plan->smooth_programmes, error);
  tv_smooth_free(&smooth);
  return status;
}

enum tailvolt_status tv_certainty_plan_make(struct tv_certainty_plan *plan, const struct tailvolt_result *const *results, char *error) {
  double longest_s = 0, worst_v = (double)INFINITY;
  plan->rows = calloc((size_t)plan->profile_count + 1, sizeof *plan->rows);
  if (plan->rows == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = read_all_rows(plan);
  for (int p = 0; p < plan->profile_count; p++) {
    longest_s = fmax(longest_s, length_s(plan->profiles[p]));
    if (!isnan(results[p]->margin_v)) worst_v = fmin(worst_v, results[p]->margin_v);
  }
  plan->long_step_s = fmax(fmin(fmax(longest_s / LONG_STEPS_MOST, LONG_STEP_S), LONGEST_STEP_S), plan->run.time_step_s);
  /* a period of ripple in twenty steps; what twenty more would show is measured on the car described */
  plan->fine_step_s = plan->run.time_step_s > 0 ? plan->run.time_step_s : fmin(1e-3, 1 / (20 * fmax(most_bass_hz(plan), 1)));
  for (int p = 0; p < plan->profile_count && status == TAILVOLT_OK && !plan->whole && !plan->quickly; p++)
    status = tv_stretches_choose(plan, p, results[p], worst_v);
  plan->whole = plan->whole || (!plan->quickly && whole_steps(plan) <= 1.5 * piece_steps(plan));
  if (status == TAILVOLT_OK) status = make_music(plan, error);
  if (status != TAILVOLT_OK || plan->whole) return status;
  struct tv_charge_offset *offset = calloc((size_t)plan->profile_count + 1, sizeof *offset);
  if (offset == NULL) return TAILVOLT_NO_MEMORY;
  plan->offset = offset;
  return plan->quickly ? compare_quickly(plan, results) : compare_pieces(plan, results);
}

void tv_certainty_plan_free(struct tv_certainty_plan *plan) {
  for (int p = 0; p < plan->profile_count && plan->rows != NULL; p++) tv_kept_rows_free(&plan->rows[p]);
  for (int s = 0; s < plan->stretch_count; s++) {
    tv_kept_rows_free(&plan->stretches[s].rows);
    free(plan->stretches[s].margin_more_v);
    free(plan->stretches[s].min_more_v);
  }
  free(plan->rows);
  free(plan->stretches);
  free(plan->offset);
  free(plan->quick);
  tv_programmes_free(plan->programmes);
  tv_programmes_free(plan->smooth_programmes);
}
