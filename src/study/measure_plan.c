/* The shortest list of readings: chosen one after another, each time the one that leaves the verdict least uncertain for its
 * trouble. What is uncertain in it comes from the same effects as the shares of `measure first`. */
#include <gsl/gsl_blas.h>
#include <math.h>
#include <stdlib.h>

#include "numeric/matrix.h"
#include "simulate/feed_path.h"
#include "study/measure_fit.h"

enum { CANDIDATES_MAX = 160 };

struct candidates {
  const struct tailvolt_system *system;
  struct tailvolt_probe probe[CANDIDATES_MAX];
  int count;
};

static void add(struct candidates *c, enum tailvolt_condition condition, enum tailvolt_instrument instrument, int positive,
                int negative) {
  if (c->count == CANDIDATES_MAX || positive < 0 || negative < 0 || positive == negative) return;
  for (int k = 0; k < c->count; k++) {
    const struct tailvolt_probe *old = &c->probe[k];
    if (old->condition == condition && old->instrument == instrument && old->positive == positive && old->negative == negative)
      return;
  }
  c->probe[c->count++] = (struct tailvolt_probe){condition, instrument, positive, negative, -1, false};
}

static void add_clamp(struct candidates *c, enum tailvolt_condition condition, int conductor) {
  if (c->count == CANDIDATES_MAX || conductor < 0) return;
  c->probe[c->count++] = (struct tailvolt_probe){condition, TAILVOLT_CLAMP, -1, -1, conductor, false};
}

/* The cable or strap at a point, to clamp around; beyond joints and fuses where it must be. */
static int lead_at(const struct tailvolt_system *system, int point) {
  int from = -1;
  for (int depth = 0; depth < 4; depth++) {
    int next = -1, by = -1;
    for (int k = 0; k < system->conductor_count; k++) {
      const struct tailvolt_conductor *one = &system->conductors[k];
      if ((one->from != point && one->to != point) || k == from) continue;
      if (one->kind == TAILVOLT_CABLE || one->kind == TAILVOLT_STRAP) return k;
      if (by < 0) {
        by = k;
        next = one->from == point ? one->to : one->from;
      }
    }
    if (by < 0) return -1;
    from = by;
    point = next;
  }
  return -1;
}

static int charge_lead(const struct tailvolt_system *system) {
  for (int k = 0; k < system->conductor_count; k++)
    if (system->conductors[k].role == TAILVOLT_ROLE_CHARGE_LEAD && system->conductors[k].kind == TAILVOLT_CABLE) return k;
  return lead_at(system, system->alternator.positive);
}

/* With a tone and the engine off only the amplifier's current flows: read every part of its feed and ground separately,
 * and both sides as a whole. */
static enum tailvolt_status add_feed(struct candidates *c, int amplifier) {
  const struct tailvolt_system *system = c->system;
  const struct tailvolt_amplifier *a = &system->amplifiers[amplifier];
  struct tv_feed_path_part *path = NULL;
  int count = 0, clamped = -1, start = -1, end = -1, battery = -1;
  enum tailvolt_status status = tv_feed_path_find(system, amplifier, &path, &count, &battery);
  for (int k = 0; k < count && status == TAILVOLT_OK; k++) {
    if (path[k].isolator) continue;
    const struct tailvolt_conductor *one = &system->conductors[path[k].index];
    int from = path[k].sign > 0 ? one->from : one->to, to = path[k].sign > 0 ? one->to : one->from;
    add(c, TAILVOLT_CONDITION_TONE_OFF, TAILVOLT_VOLTMETER, from, to);
    if (!path[k].ground_side && start < 0) start = from;
    if (path[k].ground_side) end = to;
    if (clamped < 0 && one->kind == TAILVOLT_CABLE) clamped = path[k].index;
  }
  free(path);
  add(c, TAILVOLT_CONDITION_TONE_OFF, TAILVOLT_VOLTMETER, start, a->positive);
  add(c, TAILVOLT_CONDITION_TONE_OFF, TAILVOLT_VOLTMETER, a->negative, end);
  add(c, TAILVOLT_CONDITION_TONE_OFF, TAILVOLT_VOLTMETER, a->positive, a->negative);
  add_clamp(c, TAILVOLT_CONDITION_TONE_OFF, clamped >= 0 ? clamped : lead_at(system, a->positive));
  return status;
}

static void add_charging(struct candidates *c, int post, int ground, int amplifier) {
  const struct tailvolt_system *system = c->system;
  int lead = charge_lead(system), at_battery = lead_at(system, ground);
  add(c, TAILVOLT_CONDITION_IDLE, TAILVOLT_VOLTMETER, post, ground);
  for (int k = 0; k < system->battery_count; k++)
    add(c, TAILVOLT_CONDITION_LIGHTS, TAILVOLT_VOLTMETER, system->batteries[k].positive, system->batteries[k].negative);
  add_clamp(c, TAILVOLT_CONDITION_LIGHTS, lead);
  /* a base load connects to the posts themselves: its effect on a clamp at the minus depends on where it returns */
  if (isnan(system->vehicle.base_load_a)) add_clamp(c, TAILVOLT_CONDITION_LIGHTS, at_battery);
  add(c, TAILVOLT_CONDITION_LIGHTS, TAILVOLT_VOLTMETER, system->alternator.positive, post);
  for (int k = 0; k < system->conductor_count; k++)
    if (system->conductors[k].kind == TAILVOLT_STRAP || k == lead)
      add(c, TAILVOLT_CONDITION_LIGHTS, TAILVOLT_VOLTMETER, system->conductors[k].from, system->conductors[k].to);
  add_clamp(c, TAILVOLT_CONDITION_TONE, lead);
  add(c, TAILVOLT_CONDITION_TONE, TAILVOLT_VOLTMETER, post, ground);
  add(c, TAILVOLT_CONDITION_TONE, TAILVOLT_MIN_HOLD, post, ground);
  add(c, TAILVOLT_CONDITION_TONE, TAILVOLT_VOLTMETER, system->amplifiers[amplifier].positive,
      system->amplifiers[amplifier].negative);
}

static enum tailvolt_status list_candidates(const struct tv_measure_model *model, struct candidates *c) {
  const struct tailvolt_system *system = model->system;
  c->system = system;
  if (system->battery_count == 0) return TAILVOLT_OK;
  const struct tailvolt_battery *starter = &system->batteries[system->engine.starter_battery];
  for (int k = 0; k < system->battery_count; k++)
    add(c, TAILVOLT_CONDITION_REST, TAILVOLT_VOLTMETER, system->batteries[k].positive, system->batteries[k].negative);
  add(c, TAILVOLT_CONDITION_TONE_OFF, TAILVOLT_VOLTMETER, starter->positive, starter->negative);
  enum tailvolt_status status = add_feed(c, model->amplifier);
  if (system->alternator.present && system->vehicle.charging != TAILVOLT_CHARGING_NONE)
    add_charging(c, starter->positive, starter->negative, model->amplifier);
  return status;
}

/* Turns probes and clamp so that the file's car shows no negative number. */
static void turn_round(struct candidates *c, double *shown, gsl_matrix *jacobian) {
  for (int p = 0; p < c->count; p++) {
    if (!(shown[p] < 0)) continue;
    struct tailvolt_probe *probe = &c->probe[p];
    int positive = probe->positive;
    probe->positive = probe->negative;
    probe->negative = positive;
    probe->against = probe->instrument == TAILVOLT_CLAMP && !probe->against;
    shown[p] = -shown[p];
    gsl_vector_view row = gsl_matrix_row(jacobian, (size_t)p);
    gsl_vector_scale(&row.vector, -1);
  }
}

/* A drop that a meter cannot distinguish from zero is not asked for. */
static bool too_small(const struct tailvolt_probe *probe, double shown) {
  const double tolerances = 4.0;
  return probe->instrument != TAILVOLT_CLAMP && fabs(shown) < tolerances * tailvolt_meter_tolerance(probe->instrument, 0);
}

/* What is believed once some readings are taken: of the unknowns, and of the answer as one more of them. */
struct beliefs {
  gsl_matrix *covariance;
  gsl_vector *with;              /* covariance of the answer with each unknown */
  double left_frac;              /* of its variance */
};

struct choice {
  const struct tv_measure_model *model;
  struct candidates *candidates;
  double shown[CANDIDATES_MAX];
  gsl_matrix *jacobian;
  struct beliefs now, trial;
  gsl_vector *gain;
  double variance;               /* of the answer, before any reading */
  bool taken[CANDIDATES_MAX], barred[CANDIDATES_MAX];
};

static double variance_of(const gsl_matrix *covariance, const gsl_vector *by, gsl_vector *work) {
  double variance = 0;
  gsl_blas_dsymv(CblasLower, 1, covariance, by, 0, work);
  gsl_blas_ddot(by, work, &variance);
  return variance;
}

/* The beliefs once probe p is read too: C - C j j' C / (j' C j + r), and the same for the answer's row of C. */
static void read_too(struct choice *c, struct beliefs *beliefs, int p) {
  gsl_vector_view row = gsl_matrix_row(c->jacobian, (size_t)p);
  double noise = tv_measure_noise(&c->candidates->probe[p], c->shown[p]), tells = 0;
  double variance = variance_of(beliefs->covariance, &row.vector, c->gain) + noise * noise;
  gsl_blas_ddot(&row.vector, beliefs->with, &tells);
  if (c->variance > 0) beliefs->left_frac -= tells * tells / variance / c->variance;
  gsl_blas_daxpy(-tells / variance, c->gain, beliefs->with);
  gsl_blas_dger(-1 / variance, c->gain, c->gain, beliefs->covariance);
}

static void copy_beliefs(struct beliefs *to, const struct beliefs *from) {
  gsl_matrix_memcpy(to->covariance, from->covariance);
  gsl_vector_memcpy(to->with, from->with);
  to->left_frac = from->left_frac;
}

/* Trouble: a reading 1; a condition not set up yet the same again, one with a tone twice that. */
static double trouble(const struct choice *c, int p, int with) {
  double sum = 0;
  for (int k = 0; k < 2; k++) {
    int at = k == 0 ? p : with;
    if (at < 0) continue;
    enum tailvolt_condition condition = c->candidates->probe[at].condition;
    bool set_up = k == 1 && c->candidates->probe[p].condition == condition;
    for (int q = 0; q < c->candidates->count; q++)
      set_up = set_up || (c->taken[q] && c->candidates->probe[q].condition == condition);
    bool tone = condition == TAILVOLT_CONDITION_TONE || condition == TAILVOLT_CONDITION_TONE_OFF;
    sum += 1 + (set_up ? 0 : tone ? 2 : 1);
  }
  return sum;
}

/* A drop gives a resistance only together with its current: it is tried with the clamp reading of its
 * condition. */
static int clamp_beside(const struct choice *c, int p) {
  if (c->candidates->probe[p].instrument == TAILVOLT_CLAMP) return -1;
  for (int q = 0; q < c->candidates->count; q++)
    if (!c->taken[q] && c->candidates->probe[q].instrument == TAILVOLT_CLAMP &&
        c->candidates->probe[q].condition == c->candidates->probe[p].condition)
      return q;
  return -1;
}

/* The next reading, or a pair; false where none is worth it. */
static bool choose_next(struct choice *c, int room, int *first, int *second) {
  const double worth_while = 0.01;
  double before = c->now.left_frac, best = 0;
  *first = *second = -1;
  for (int p = 0; p < c->candidates->count; p++) {
    if (c->taken[p] || c->barred[p]) continue;
    for (int pair = 0; pair < 2; pair++) {
      int with = pair == 1 ? clamp_beside(c, p) : -1;
      if (pair == 1 && (with < 0 || room < 2)) continue;
      copy_beliefs(&c->trial, &c->now);
      read_too(c, &c->trial, p);
      if (with >= 0) read_too(c, &c->trial, with);
      double gain = before - c->trial.left_frac, rate = gain / trouble(c, p, with);
      if (gain < worth_while * (with >= 0 ? 2 : 1) || !(rate > best)) continue;
      best = rate;
      *first = p;
      *second = with;
    }
  }
  return *first >= 0;
}

static int by_condition(const void *left_one, const void *right_one) {
  const struct tailvolt_planned *a = left_one, *b = right_one;
  if (a->probe.condition != b->probe.condition) return a->probe.condition < b->probe.condition ? -1 : 1;
  bool x = a->probe.instrument == TAILVOLT_CLAMP, y = b->probe.instrument == TAILVOLT_CLAMP;
  return (int)y - (int)x;
}

static enum tailvolt_status keep(struct choice *c, int p, double *file_shows, struct tailvolt_measure_plan *plan) {
  struct tailvolt_planned *one = &plan->readings[plan->count++];
  gsl_vector_view row = gsl_matrix_row(c->jacobian, (size_t)p);
  one->probe = c->candidates->probe[p];
  one->normal = file_shows[p];
  enum tailvolt_status status = TAILVOLT_OK;
  if (one->probe.instrument != TAILVOLT_CLAMP)
    status = tv_measure_straddled(c->model->system, one->probe.positive, one->probe.negative, &one->between);
  double noise = tv_measure_noise(&one->probe, c->shown[p]);
  double deviation = sqrt(variance_of(c->model->covariance, &row.vector, c->gain) + noise * noise);
  tv_measure_normal(c->shown[p], deviation, one->between.count > 0, &one->low, &one->high);
  one->tolerance = tailvolt_meter_tolerance(one->probe.instrument, one->normal);
  c->taken[p] = true;
  read_too(c, &c->now, p);
  one->worth_pct = 100 * (1 - c->now.left_frac);
  return status;
}

static enum tailvolt_status choose(struct choice *c, const struct tailvolt_measure_options *options,
                                   struct tailvolt_measure_plan *plan, char *error) {
  double file_shows[CANDIDATES_MAX];
  const struct tv_measure_model *model = c->model;
  int count = c->candidates->count;
  enum tailvolt_status status = tv_measure_show(model, model->mean, c->candidates->probe, count, c->shown, error);
  if (status == TAILVOLT_OK)
    status = tv_measure_jacobian(model, model->mean, c->candidates->probe, count, c->jacobian, error);
  if (status == TAILVOLT_OK) turn_round(c->candidates, c->shown, c->jacobian);
  if (status == TAILVOLT_OK) status = tv_measure_show(model, model->file, c->candidates->probe, count, file_shows, error);
  if (status == TAILVOLT_OK) status = tv_measure_answer(model, options, &plan->certainty, c->now.with, &c->variance, error);
  if (status != TAILVOLT_OK) return status;
  for (int p = 0; p < count; p++) c->barred[p] = too_small(&c->candidates->probe[p], file_shows[p]);
  gsl_matrix_memcpy(c->now.covariance, model->covariance);
  c->now.left_frac = 1;
  int first, second, most = options->most;
  while (plan->count < most && status == TAILVOLT_OK && choose_next(c, most - plan->count, &first, &second)) {
    status = keep(c, first, file_shows, plan);
    if (second >= 0 && status == TAILVOLT_OK) status = keep(c, second, file_shows, plan);
  }
  qsort(plan->readings, (size_t)plan->count, sizeof *plan->readings, by_condition);
  return status;
}

enum tailvolt_status tailvolt_measure_plan(const struct tailvolt_system *system, const struct tailvolt_measure_options *options,
                                           struct tailvolt_measure_plan **out, char *error) {
  struct tv_measure_model model;
  struct candidates *candidates = calloc(1, sizeof *candidates);
  struct choice *c = calloc(1, sizeof *c);
  struct tailvolt_measure_plan *plan = calloc(1, sizeof *plan);
  char unheard[TAILVOLT_TEXT_MAX];
  *out = NULL;
  if (error == NULL) error = unheard;
  error[0] = '\0';
  enum tailvolt_status status = tv_measure_model_make(system, options, &model, error);
  if (candidates == NULL || c == NULL || plan == NULL) status = TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK) status = list_candidates(&model, candidates);
  if (status == TAILVOLT_OK && candidates->count > 0) {
    size_t n = (size_t)model.unknowns, m = (size_t)candidates->count;
    c->model = &model;
    c->candidates = candidates;
    c->jacobian = tv_matrix_new(m, n);
    bool room = true;
    for (int k = 0; k < 2; k++) {
      struct beliefs *one = k == 0 ? &c->now : &c->trial;
      one->covariance = tv_matrix_new(n, n);
      one->with = tv_vector_new(n);
      room = room && one->covariance != NULL && one->with != NULL;
    }
    c->gain = tv_vector_new(n);
    plan->readings = calloc((size_t)options->most + 1, sizeof *plan->readings);
    plan->amplifier = model.amplifier;
    plan->tone_w = model.tone_w;
    room = room && c->jacobian != NULL && c->gain != NULL && plan->readings != NULL;
    status = room ? choose(c, options, plan, error) : TAILVOLT_NO_MEMORY;
    gsl_matrix_free(c->jacobian);
    gsl_matrix_free(c->now.covariance);
    gsl_matrix_free(c->trial.covariance);
    gsl_vector_free(c->now.with);
    gsl_vector_free(c->trial.with);
    gsl_vector_free(c->gain);
  }
  tv_measure_model_free(&model);
  free(candidates);
  free(c);
  if (status == TAILVOLT_OK) *out = plan;
  else tailvolt_measure_plan_free(plan);
  return status;
}

void tailvolt_measure_plan_free(struct tailvolt_measure_plan *plan) {
  if (plan == NULL) return;
  free(plan->readings);
  free(plan);
}
