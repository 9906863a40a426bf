/* What meters show, by the run that everything else uses: for each condition a generated profile, its voltages read by
 * meters of the system, its currents from its conductors. A display is the mean of 0.3 s, min-hold the lowest mean of 0.1
 * s. */
#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>

#include "numeric/matrix.h"
#include "study/measure_model.h"
#include "simulate/each.h"
#include "tailvolt/simulate.h"

/* Any display averages out the tone's ripple at twice its frequency, so it is left out and the step can be long. */
static const double STEP_S = 0.01, DISPLAY_S = 0.3, TONE_S = 10.0;

struct showing {
  const struct tv_measure_model *model;
  const gsl_vector *x;
  struct tailvolt_system car;  /* the copy's own, with our meters and a plain tone */
  const struct tailvolt_probe *probes;
  int count;
  double *shown;
  double *load_on;
  struct tailvolt_amplifier_row *plays;
  double *hold;                /* [count x HOLD_STEPS] the last 0.1 s */
};

enum { HOLD_STEPS = 10 }; /* 0.1 s */

static double occasion(const struct showing *s, enum tv_occasion which) {
  return gsl_vector_get(s->x, (size_t)(s->model->values + (int)which));
}

static struct tailvolt_row row_of(struct showing *s, enum tailvolt_condition condition, bool tone) {
  bool runs = condition != TAILVOLT_CONDITION_REST && condition != TAILVOLT_CONDITION_TONE_OFF;
  bool bare = condition == TAILVOLT_CONDITION_IDLE;
  for (int k = 0; k < s->car.load_count; k++) s->load_on[k] = runs && !bare ? 1.0 : 0.0;
  for (int k = 0; k < s->car.amplifier_count; k++)
    s->plays[k] = (struct tailvolt_amplifier_row){.programme = TAILVOLT_SILENCE, .powered = true, .output_w = (double)NAN,
                                                  .supply_w = (double)NAN, .supply_a = (double)NAN};
  if (tone)
    s->plays[s->model->amplifier].output_w =
        s->model->tone_w * exp(occasion(s, runs ? TV_OCCASION_TONE : TV_OCCASION_TONE_OFF));
  bool converter = s->car.vehicle.charging == TAILVOLT_CHARGING_CONVERTER;
  return (struct tailvolt_row){.engine_rpm = runs && !converter ? s->car.engine.idle_rpm : 0.0,
                               .ready = runs,
                               .ambient_c = s->car.vehicle.ambient_c,
                               .set_point_v = (double)NAN,
                               .load_on = s->load_on,
                               .amplifier = s->plays};
}

static double reading_of(const struct showing *s, const struct tailvolt_run *run, int p) {
  const struct tailvolt_probe *probe = &s->probes[p];
  if (probe->instrument != TAILVOLT_CLAMP) return tailvolt_run_meter_v(run, p);
  double current_a = tailvolt_run_conductor(run, probe->conductor).current_a;
  return probe->against ? -current_a : current_a;
}

/* From this instant: a third of a second of silence, or ten seconds of the tone. */
static enum tailvolt_status watch(struct showing *s, struct tailvolt_run *run, enum tailvolt_condition condition,
                                  const struct tailvolt_row *row) {
  bool tone = row->amplifier[s->model->amplifier].output_w > 0;
  int steps = (int)lround((tone ? TONE_S : DISPLAY_S) / STEP_S), display = (int)lround(DISPLAY_S / STEP_S);
  enum tailvolt_status status = TAILVOLT_OK;
  for (int k = 0; k < steps && status == TAILVOLT_OK; k++) {
    status = tailvolt_run_advance(run, row, NULL, row->time_s + (k + 1) * STEP_S);
    for (int p = 0; p < s->count && status == TAILVOLT_OK; p++) {
      if (s->probes[p].condition != condition) continue;
      double now = reading_of(s, run, p);
      if (s->probes[p].instrument != TAILVOLT_MIN_HOLD) {
        if (k >= steps - display) s->shown[p] += now / display;
        continue;
      }
      double *hold = s->hold + (size_t)p * HOLD_STEPS, mean = 0;
      hold[k % HOLD_STEPS] = now;
      for (int h = 0; h < HOLD_STEPS; h++) mean += hold[h] / HOLD_STEPS;
      if (k == HOLD_STEPS - 1 || (k >= HOLD_STEPS && mean < s->shown[p])) s->shown[p] = mean;
    }
  }
  return status;
}

static enum tailvolt_status show_condition(struct showing *s, enum tailvolt_condition condition, char *error) {
  struct tailvolt_options options = tailvolt_default_options();
  struct tailvolt_run *run = NULL;
  bool tone = condition == TAILVOLT_CONDITION_TONE || condition == TAILVOLT_CONDITION_TONE_OFF;
  double base_load_a = s->car.vehicle.base_load_a, bare_a = exp(occasion(s, TV_OCCASION_BARE_LOAD));
  if (condition == TAILVOLT_CONDITION_IDLE) s->car.vehicle.base_load_a = isnan(base_load_a) ? bare_a : fmin(bare_a, base_load_a);
  options.time_step_s = STEP_S;
  enum tailvolt_status status = tailvolt_run_open(&s->car, NULL, &options, &run, error);
  if (status == TAILVOLT_OK) {
    struct tailvolt_row row = row_of(s, condition, false);
    status = tailvolt_run_begin(run, &row);
    if (status == TAILVOLT_OK && tone) {
      /* a moment of silence first: the row of the tone is a new one */
      status = tailvolt_run_advance(run, &row, NULL, STEP_S);
      row = row_of(s, condition, true);
      row.time_s = STEP_S;
    }
    if (status == TAILVOLT_OK) status = watch(s, run, condition, &row);
  }
  tailvolt_run_close(run);
  s->car.vehicle.base_load_a = base_load_a;
  return status;
}

static void read_by_meter(struct showing *s) {
  for (int p = 0; p < s->count; p++) {
    bool clamp = s->probes[p].instrument == TAILVOLT_CLAMP;
    s->shown[p] *= 1 + occasion(s, clamp ? TV_OCCASION_CLAMP_GAIN : TV_OCCASION_VOLT_GAIN);
    if (clamp) s->shown[p] += occasion(s, TV_OCCASION_CLAMP_ZERO);
  }
}

enum tailvolt_status tv_measure_show(const struct tv_measure_model *model, const gsl_vector *x,
                                     const struct tailvolt_probe *probes, int count, double *shown, char *error) {
  struct tailvolt_system *copy = NULL;
  struct showing s = {.model = model, .x = x, .probes = probes, .count = count, .shown = shown};
  enum tailvolt_status status = tv_measure_car(model, x, &copy);
  if (status != TAILVOLT_OK) return status;
  struct tailvolt_meter *meters = calloc((size_t)count + 1, sizeof *meters);
  s.load_on = calloc((size_t)copy->load_count + 1, sizeof *s.load_on);
  s.plays = calloc((size_t)copy->amplifier_count + 1, sizeof *s.plays);
  s.hold = calloc((size_t)count * HOLD_STEPS + 1, sizeof *s.hold);
  if (meters == NULL || s.load_on == NULL || s.plays == NULL || s.hold == NULL) status = TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK) {
    for (int p = 0; p < count; p++) {
      bool clamp = probes[p].instrument == TAILVOLT_CLAMP;
      meters[p].positive = clamp ? 0 : probes[p].positive;
      meters[p].negative = clamp ? 0 : probes[p].negative;
      shown[p] = 0;
    }
    s.car = *copy;
    s.car.meters = meters;
    s.car.meter_count = count;
    s.car.programme_count = 0; /* no music is played, so none needs reading */
    for (int c = 0; c < TAILVOLT_CONDITIONS && status == TAILVOLT_OK; c++) {
      bool asked = false;
      for (int p = 0; p < count; p++) asked = asked || probes[p].condition == (enum tailvolt_condition)c;
      if (asked) status = show_condition(&s, (enum tailvolt_condition)c, error);
    }
    read_by_meter(&s);
  }
  free(meters);
  free(s.load_on);
  free(s.plays);
  free(s.hold);
  tailvolt_system_free(copy);
  return status;
}

/* What the threads share. */
struct slopes {
  const struct tv_measure_model *model;
  const gsl_vector *x;
  const struct tailvolt_probe *probes;
  int count;
  const double *base;
  gsl_matrix *jacobian;
  atomic_bool no_memory;
};

/* One column: what the readings gain as unknown k moves by a tenth of its deviation, up or, where the car allows no more, down. */
static void slope_of(void *context, int k) {
  struct slopes *s = context;
  const struct tv_measure_model *model = s->model;
  double deviation = sqrt(gsl_matrix_get(model->covariance, (size_t)k, (size_t)k));
  bool parked = k < model->values && model->list->values[k].when_parked_only;
  if (!(deviation > 0) || parked) return;
  gsl_vector *moved = tv_vector_new((size_t)model->unknowns);
  double *shown = calloc((size_t)s->count + 1, sizeof *shown);
  double step = 0.1 * deviation;
  enum tailvolt_status each = moved == NULL || shown == NULL ? TAILVOLT_NO_MEMORY : TAILVOLT_OK;
  for (int way = 0; way < 2 && each != TAILVOLT_NO_MEMORY; way++, step = -step) {
    gsl_vector_memcpy(moved, s->x);
    gsl_vector_set(moved, (size_t)k, gsl_vector_get(s->x, (size_t)k) + step);
    each = tv_measure_show(model, moved, s->probes, s->count, shown, NULL);
    if (each != TAILVOLT_OK) continue;
    for (int p = 0; p < s->count; p++) gsl_matrix_set(s->jacobian, (size_t)p, (size_t)k, (shown[p] - s->base[p]) / step);
    break;
  }
  if (each == TAILVOLT_NO_MEMORY) atomic_store(&s->no_memory, true);
  gsl_vector_free(moved);
  free(shown);
}

enum tailvolt_status tv_measure_jacobian(const struct tv_measure_model *model, const gsl_vector *x,
                                         const struct tailvolt_probe *probes, int count, gsl_matrix *jacobian, char *error) {
  double *base = calloc((size_t)count + 1, sizeof *base);
  if (base == NULL) return TAILVOLT_NO_MEMORY;
  struct slopes s = {.model = model, .x = x, .probes = probes, .count = count, .base = base, .jacobian = jacobian};
  atomic_init(&s.no_memory, false);
  enum tailvolt_status status = tv_measure_show(model, x, probes, count, base, error);
  gsl_matrix_set_zero(jacobian);
  if (status == TAILVOLT_OK) tv_each(model->unknowns, tv_threads(model->threads), slope_of, &s);
  free(base);
  return atomic_load(&s.no_memory) ? TAILVOLT_NO_MEMORY : status;
}
