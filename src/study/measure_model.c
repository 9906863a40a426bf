/* Priors of a car before anything is measured: mean and covariance of 4096 vehicles drawn from the ranges. */
#include "study/measure_model.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "numeric/matrix.h"
#include "parts/conductor.h"
#include "study/ranges.h"
#include "study/vehicles.h"

enum { VEHICLES = 4096 };

/* With everything off an engine at idle draws 10 to 25 A by day (practice); if its loads are listed, some of that is among
 * them. The tone's power is set by ear or by a meter at the speakers: 15 %. Digits and gain: tailvolt_meter_tolerance(). An
 * error equally likely anywhere within its bounds has a deviation of 1/sqrt(3) of them. */
static const double BARE_LOW_A = 8.0, BARE_HIGH_A = 25.0, TONE_DEVIATION = 0.15;
static const double VOLT_GAIN = 0.005, CLAMP_GAIN = 0.025, CLAMP_ZERO_A = 0.5;

void tailvolt_measure_options_init(struct tailvolt_measure_options *options, size_t size) {
  struct tailvolt_measure_options all = {.size = size, .tone_w = (double)NAN, .most = 8, .amplifier = -1};
  memcpy(options, &all, size < sizeof all ? size : sizeof all);
}

double tv_measure_unknown(const struct tv_measure_model *model, int k, double value) {
  return model->by_ratio[k] ? log(value) : value;
}

double tv_measure_value(const struct tv_measure_model *model, const gsl_vector *x, int k) {
  const struct tv_range_row *row = tv_range_row(model->list->values[k].value);
  double value = gsl_vector_get(x, (size_t)k);
  if (model->by_ratio[k]) value = exp(value);
  return fmin(fmax(value, row->least), row->most);
}

/* Resistances, and anything that may be half as large again, vary by ratio. */
static bool thought_in_ratios(const struct tailvolt_uncertain *one) {
  if (one->value == TAILVOLT_VALUE_PER_METRE || one->value == TAILVOLT_VALUE_LENGTH) return true;
  return one->low > 0 && one->nominal > 0 && (one->tail_high > 1.5 * one->low || one->high > 1.5 * one->low);
}

/* 64 bits in, 64 well mixed ones out (splitmix64, public domain algorithm of S. Vigna). */
static double mixed(uint64_t *state) {
  uint64_t z = *state += 0x9E3779B97F4A7C15u;
  z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
  z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
  return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

/* Mean and covariance over the vehicles drawn. */
static enum tailvolt_status draw_beliefs(struct tv_measure_model *model) {
  size_t n = (size_t)model->values;
  double *factors = calloc((size_t)model->list->factor_count + 1, sizeof *factors), *all = calloc(n * VEHICLES + 1, sizeof *all);
  enum tailvolt_status status = factors == NULL || all == NULL ? TAILVOLT_NO_MEMORY : TAILVOLT_OK;
  uint64_t state = 1;
  for (size_t v = 0; v < VEHICLES && status == TAILVOLT_OK; v++) {
    for (int f = 0; f < model->list->factor_count; f++) factors[f] = mixed(&state);
    for (size_t k = 0; k < n; k++)
      all[v * n + k] = tv_measure_unknown(model, (int)k, tailvolt_uncertain_draw(&model->list->values[k], factors));
  }
  for (size_t k = 0; k < n && status == TAILVOLT_OK; k++) {
    double sum = 0;
    for (size_t v = 0; v < VEHICLES; v++) sum += all[v * n + k];
    gsl_vector_set(model->mean, k, sum / VEHICLES);
    for (size_t j = 0; j <= k; j++) {
      double product = 0, mean_j = gsl_vector_get(model->mean, j);
      for (size_t v = 0; v < VEHICLES; v++) product += (all[v * n + k] - sum / VEHICLES) * (all[v * n + j] - mean_j);
      /* values drawn independently must not correlate by the luck of the draw */
      const struct tailvolt_uncertain *a = &model->list->values[k], *b = &model->list->values[j];
      bool together = a->factor_index == b->factor_index || (a->tail_index >= 0 && a->tail_index == b->tail_index);
      if (!together) product = 0;
      gsl_matrix_set(model->covariance, k, j, product / VEHICLES);
      gsl_matrix_set(model->covariance, j, k, product / VEHICLES);
    }
  }
  free(factors);
  free(all);
  return status;
}

enum tailvolt_status tv_measure_along(const struct tv_measure_model *model, const double *effect, gsl_vector *with, double *variance) {
  const struct tailvolt_uncertainty *list = model->list;
  size_t n = (size_t)model->values, factor_count = (size_t)list->factor_count;
  double *factors = calloc(factor_count + 1, sizeof *factors), *values = calloc(n * VEHICLES + 1, sizeof *values);
  double *along = calloc(factor_count * VEHICLES + 1, sizeof *along);
  enum tailvolt_status status = factors == NULL || values == NULL || along == NULL ? TAILVOLT_NO_MEMORY : TAILVOLT_OK;
  uint64_t state = 1;
  for (size_t v = 0; v < VEHICLES && status == TAILVOLT_OK; v++) {
    for (size_t f = 0; f < factor_count; f++) factors[f] = mixed(&state);
    for (size_t k = 0; k < n; k++) values[v * n + k] = tailvolt_uncertain_draw(&list->values[k], factors);
  }
  if (status == TAILVOLT_OK) status = tv_vehicles_along(list, values, VEHICLES, along);
  gsl_vector_set_zero(with);
  *variance = 0;
  for (size_t f = 0; f < factor_count && status == TAILVOLT_OK; f++) {
    double sum = 0, square = 0;
    for (size_t v = 0; v < VEHICLES; v++) {
      sum += along[v * factor_count + f];
      square += along[v * factor_count + f] * along[v * factor_count + f];
    }
    *variance += effect[f] * effect[f] * (square - sum * sum / VEHICLES) / VEHICLES;
  }
  for (size_t k = 0; k < n && status == TAILVOLT_OK; k++) {
    /* a value moves with its own factors; with others only by the luck of the draw */
    const struct tailvolt_uncertain *one = &list->values[k];
    double product = 0, mean = gsl_vector_get(model->mean, k);
    for (size_t v = 0; v < VEHICLES; v++) {
      double moves = effect[one->factor_index] * along[v * factor_count + (size_t)one->factor_index];
      if (one->tail_index >= 0 && one->tail_index != one->factor_index)
        moves += effect[one->tail_index] * along[v * factor_count + (size_t)one->tail_index];
      product += moves * (tv_measure_unknown(model, (int)k, values[v * n + k]) - mean);
    }
    gsl_vector_set(with, k, product / VEHICLES);
  }
  free(factors);
  free(values);
  free(along);
  return status;
}

static void believe_occasion(struct tv_measure_model *model) {
  double mean[TV_OCCASIONS] = {[TV_OCCASION_BARE_LOAD] = 0.5 * log(BARE_LOW_A * BARE_HIGH_A)};
  double deviation[TV_OCCASIONS] = {
      [TV_OCCASION_BARE_LOAD] = log(BARE_HIGH_A / BARE_LOW_A) / sqrt(12.0),
      [TV_OCCASION_TONE_OFF] = TONE_DEVIATION,
      [TV_OCCASION_TONE] = TONE_DEVIATION,
      [TV_OCCASION_VOLT_GAIN] = VOLT_GAIN / sqrt(3.0),
      [TV_OCCASION_CLAMP_GAIN] = CLAMP_GAIN / sqrt(3.0),
      [TV_OCCASION_CLAMP_ZERO] = CLAMP_ZERO_A / sqrt(3.0)};
  for (size_t k = 0; k < TV_OCCASIONS; k++) {
    size_t at = (size_t)model->values + k;
    gsl_vector_set(model->mean, at, mean[k]);
    gsl_vector_set(model->file, at, mean[k]);
    gsl_matrix_set(model->covariance, at, at, deviation[k] * deviation[k]);
  }
}

/* The most powerful amplifier, and a tone that loads the wires without roasting a voice coil. */
static enum tailvolt_status choose_tone(const struct tailvolt_measure_options *options, struct tv_measure_model *model,
                                        char *error) {
  const struct tailvolt_system *system = model->system;
  model->amplifier = options->amplifier;
  if (system->amplifier_count == 0 || options->amplifier >= system->amplifier_count) {
    if (error != NULL) snprintf(error, TAILVOLT_TEXT_MAX, "the system has no such amplifier");
    return TAILVOLT_BAD_INPUT;
  }
  for (int k = 0; k < system->amplifier_count && options->amplifier < 0; k++)
    if (model->amplifier < 0 || system->amplifiers[k].rated_w > system->amplifiers[model->amplifier].rated_w) model->amplifier = k;
  const double share = 0.25;
  double rated_w = system->amplifiers[model->amplifier].rated_w;
  model->tone_w = isnan(options->tone_w) ? share * rated_w : fmin(options->tone_w, rated_w);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_measure_model_make(const struct tailvolt_system *system, const struct tailvolt_measure_options *options,
                                           struct tv_measure_model *model, char *error) {
  *model = (struct tv_measure_model){.system = system};
  if (options->size != sizeof *options) {
    snprintf(error, TAILVOLT_TEXT_MAX, "options must come from tailvolt_default_measure_options()");
    return TAILVOLT_INTERNAL;
  }
  model->threads = options->threads;
  enum tailvolt_status status = choose_tone(options, model, error);
  if (status == TAILVOLT_OK) status = tailvolt_uncertainty_of(system, &model->list);
  if (status != TAILVOLT_OK) return status;
  model->values = model->list->count;
  model->unknowns = model->values + TV_OCCASIONS;
  model->by_ratio = calloc((size_t)model->values + 1, sizeof *model->by_ratio);
  model->mean = tv_vector_new((size_t)model->unknowns);
  model->file = tv_vector_new((size_t)model->unknowns);
  model->covariance = tv_matrix_new((size_t)model->unknowns, (size_t)model->unknowns);
  if (model->by_ratio == NULL || model->mean == NULL || model->file == NULL || model->covariance == NULL)
    return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < model->values; k++) {
    model->by_ratio[k] = thought_in_ratios(&model->list->values[k]);
    gsl_vector_set(model->file, (size_t)k, tv_measure_unknown(model, k, model->list->values[k].nominal));
  }
  status = draw_beliefs(model);
  believe_occasion(model);
  return status;
}

void tv_measure_model_free(struct tv_measure_model *model) {
  tailvolt_uncertainty_free(model->list);
  free(model->by_ratio);
  gsl_vector_free(model->mean);
  gsl_vector_free(model->file);
  gsl_matrix_free(model->covariance);
  *model = (struct tv_measure_model){0};
}

/* By the same way as every other vehicle, so that what no car has is not measured either. */
enum tailvolt_status tv_measure_car(const struct tv_measure_model *model, const gsl_vector *x, struct tailvolt_system **out) {
  double *values = calloc((size_t)model->values + 1, sizeof *values);
  if (values == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < model->values; k++) values[k] = tv_measure_value(model, x, k);
  enum tailvolt_status status = tv_vehicle_system(model->system, model->list, values, out);
  free(values);
  return status;
}

/* Dijkstra's path of least resistance; conductors only. */
enum tailvolt_status tv_measure_straddled(const struct tailvolt_system *system, int from, int to,
                                          struct tailvolt_straddled *between) {
  size_t points = (size_t)system->point_count;
  double *ohm = malloc(points * sizeof *ohm);
  int *by = malloc(points * sizeof *by);
  bool *done = calloc(points, sizeof *done);
  between->count = 0;
  if (ohm == NULL || by == NULL || done == NULL) {
    free(ohm);
    free(by);
    free(done);
    return TAILVOLT_NO_MEMORY;
  }
  for (size_t k = 0; k < points; k++) {
    ohm[k] = HUGE_VAL;
    by[k] = -1;
  }
  ohm[from] = 0;
  for (;;) {
    int at = -1;
    for (int k = 0; k < system->point_count; k++)
      if (!done[k] && ohm[k] < HUGE_VAL && (at < 0 || ohm[k] < ohm[at])) at = k;
    if (at < 0 || at == to) break;
    done[at] = true;
    for (int k = 0; k < system->conductor_count; k++) {
      const struct tailvolt_conductor *one = &system->conductors[k];
      int other = one->from == at ? one->to : one->to == at ? one->from : -1;
      if (other < 0 || ohm[at] + one->resistance_ohm >= ohm[other]) continue;
      ohm[other] = ohm[at] + one->resistance_ohm;
      by[other] = k;
    }
  }
  for (int at = to; at != from && by[at] >= 0 && between->count < TAILVOLT_STRADDLED_MAX;) {
    const struct tailvolt_conductor *one = &system->conductors[by[at]];
    between->conductor[between->count++] = by[at];
    at = one->from == at ? one->to : one->from;
  }
  for (int k = 0; k < between->count / 2; k++) {
    int other = between->conductor[between->count - 1 - k];
    between->conductor[between->count - 1 - k] = between->conductor[k];
    between->conductor[k] = other;
  }
  free(ohm);
  free(by);
  free(done);
  return TAILVOLT_OK;
}

/* ---- meters ---- */

static double digits_of(enum tailvolt_instrument instrument, double value) {
  double size = fabs(value);
  if (instrument == TAILVOLT_CLAMP) return 0.5;
  return size < 0.2 ? 2e-4 : size < 2 ? 2e-3 : 2e-2;
}

double tailvolt_meter_tolerance(enum tailvolt_instrument instrument, double value) {
  bool clamp = instrument == TAILVOLT_CLAMP;
  return (clamp ? CLAMP_GAIN : VOLT_GAIN) * fabs(value) + digits_of(instrument, value) + (clamp ? CLAMP_ZERO_A : 0);
}

double tv_measure_noise(const struct tailvolt_probe *probe, double shown) {
  return digits_of(probe->instrument, shown) / sqrt(3.0);
}

double tv_measure_error(const struct tailvolt_probe *probe, double value) {
  bool clamp = probe->instrument == TAILVOLT_CLAMP;
  double gain = (clamp ? CLAMP_GAIN : VOLT_GAIN) * value, zero = clamp ? CLAMP_ZERO_A : 0;
  return hypot(hypot(gain, zero) / sqrt(3.0), tv_measure_noise(probe, value));
}
