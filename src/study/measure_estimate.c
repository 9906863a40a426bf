/* Readings judged: what is wrong with them, which resistances they give, and what they say about the values nobody knew. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "input/system_edit.h"
#include "numeric/matrix.h"
#include "numeric/probability.h"
#include "parts/conductor.h"
#include "study/measure_fit.h"
#include "study/ranges.h"
#include "text/number.h"
#include "text/words.h"

/* Odds below which readings contradict each other; how many may be set aside as slips. */
static const double CONTRADICTION_ODDS = 1e-3;

struct judging {
  const struct tv_measure_model *model;
  struct tailvolt_estimate *out;
  bool *aside;                 /* [count] set aside as a slip */
  gsl_matrix *jacobian;        /* [count x unknowns] at the mean of the beliefs */
  double *shown;               /* [count] for the mean car */
};

static bool is_drop(const struct tailvolt_judged *one) {
  return one->probe.instrument != TAILVOLT_CLAMP && one->between.count > 0;
}

/* What the file's car shows, and what nine in ten show, before anything is read. */
static enum tailvolt_status expect(struct judging *j, char *error) {
  struct tailvolt_estimate *out = j->out;
  size_t count = (size_t)out->count, unknowns = (size_t)j->model->unknowns;
  struct tailvolt_probe *probes = calloc(count + 1, sizeof *probes);
  double *mean = j->shown = calloc(count + 1, sizeof *mean), *file = calloc(count + 1, sizeof *file);
  gsl_matrix *jacobian = j->jacobian = tv_matrix_new(count, unknowns);
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (probes != NULL && mean != NULL && file != NULL && jacobian != NULL) {
    for (size_t p = 0; p < count; p++) probes[p] = out->readings[p].probe;
    status = tv_measure_show(j->model, j->model->mean, probes, out->count, mean, error);
    if (status == TAILVOLT_OK) status = tv_measure_show(j->model, j->model->file, probes, out->count, file, error);
    if (status == TAILVOLT_OK) status = tv_measure_jacobian(j->model, j->model->mean, probes, out->count, jacobian, error);
  }
  for (size_t p = 0; p < count && status == TAILVOLT_OK; p++) {
    struct tailvolt_judged *one = &out->readings[p];
    double variance = 0, noise = tv_measure_noise(&one->probe, mean[p]);
    for (size_t a = 0; a < unknowns; a++)
      for (size_t b = 0; b < unknowns; b++)
        variance += gsl_matrix_get(jacobian, p, a) * gsl_matrix_get(j->model->covariance, a, b) * gsl_matrix_get(jacobian, p, b);
    one->normal = file[p];
    tv_measure_normal(mean[p], sqrt(variance + noise * noise), is_drop(one), &one->low, &one->high);
  }
  free(probes);
  free(file);
  return status;
}

/* Slips: probes or clamp reversed, millivolts written as volts. */
static void mend(struct tailvolt_judged *one) {
  one->value = one->typed;
  double tolerance = tailvolt_meter_tolerance(one->probe.instrument, one->value);
  if (one->low > 0 && one->value < -3 * tolerance) {
    one->value = -one->value;
    one->notices |= TAILVOLT_NOTICE_SWAPPED;
  }
  /* a drop twenty times what is possible even then */
  const double far = 20.0, near = 8.0, thousand = 1000.0;
  if (is_drop(one) && one->value > far * one->high && one->value / thousand < near * one->high) {
    one->value /= thousand;
    one->notices |= TAILVOLT_NOTICE_MILLIVOLTS;
  }
  one->tolerance = tailvolt_meter_tolerance(one->probe.instrument, one->value);
  if (one->value < one->low || one->value > one->high) one->notices |= TAILVOLT_NOTICE_OUTSIDE;
}

/* Fits what is not set aside; `fit` holds [kept] numbers. */
static enum tailvolt_status fit_kept(const struct judging *j, struct tv_measure_fit *fit, int *kept_of, int *kept, char *error) {
  size_t count = (size_t)j->out->count;
  struct tailvolt_probe *probes = calloc(count + 1, sizeof *probes);
  double *values = calloc(count + 1, sizeof *values);
  gsl_matrix *jacobian = NULL;
  enum tailvolt_status status = probes == NULL || values == NULL ? TAILVOLT_NO_MEMORY : TAILVOLT_OK;
  *kept = 0;
  for (size_t p = 0; p < count; p++) *kept += !j->aside[p];
  if (*kept > 0) jacobian = tv_matrix_new((size_t)*kept, (size_t)j->model->unknowns);
  if (jacobian == NULL) status = TAILVOLT_NO_MEMORY;
  *kept = 0;
  for (int p = 0; p < j->out->count && status == TAILVOLT_OK; p++) {
    if (j->aside[p]) continue;
    gsl_vector_const_view row = gsl_matrix_const_row(j->jacobian, (size_t)p);
    gsl_matrix_set_row(jacobian, (size_t)*kept, &row.vector);
    probes[*kept] = j->out->readings[p].probe;
    values[*kept] = j->out->readings[p].value;
    kept_of[(*kept)++] = p;
  }
  if (status == TAILVOLT_OK) status = tv_measure_fit_make(j->model, probes, values, *kept, jacobian, fit, error);
  gsl_matrix_free(jacobian);
  free(probes);
  free(values);
  return status;
}

/* The reading without which the others come nearest to what was believed of such cars; -1 = none can be told. */
static enum tailvolt_status find_slip(const struct judging *j, const int *kept_of, int kept, int *slip) {
  double least = HUGE_VAL;
  gsl_matrix *jacobian = tv_matrix_new((size_t)kept - 1, (size_t)j->model->unknowns);
  double *misses = calloc((size_t)kept, sizeof *misses), *noise = calloc((size_t)kept, sizeof *noise);
  enum tailvolt_status status = jacobian != NULL && misses != NULL && noise != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  *slip = -1;
  for (int without = 0; status == TAILVOLT_OK && without < kept; without++) {
    size_t at = 0;
    for (int p = 0; p < kept; p++) {
      if (p == without) continue;
      const struct tailvolt_judged *one = &j->out->readings[kept_of[p]];
      gsl_vector_const_view row = gsl_matrix_const_row(j->jacobian, (size_t)kept_of[p]);
      gsl_matrix_set_row(jacobian, at, &row.vector);
      misses[at] = one->value - j->shown[kept_of[p]];
      noise[at++] = tv_measure_noise(&one->probe, one->value);
    }
    double surprise;
    status = tv_measure_surprise(j->model, jacobian, misses, noise, &surprise);
    if (status != TAILVOLT_OK || !(surprise < least)) continue;
    least = surprise;
    *slip = without;
  }
  gsl_matrix_free(jacobian);
  free(misses);
  free(noise);
  return status;
}

/* Fits; where the readings cannot all be right, the worst one is set aside and the rest fitted again, once or twice. */
static enum tailvolt_status settle(struct judging *j, struct tv_measure_fit *fit, char *error) {
  struct tailvolt_estimate *out = j->out;
  int *kept_of = calloc((size_t)out->count + 1, sizeof *kept_of), kept = 0;
  enum tailvolt_status status = kept_of == NULL ? TAILVOLT_NO_MEMORY : TAILVOLT_OK;
  for (int slips = 0; status == TAILVOLT_OK; slips++) {
    status = fit_kept(j, fit, kept_of, &kept, error);
    if (status != TAILVOLT_OK) break;
    if (slips == 0) {
      out->chi_square = fit->chi_square;
      out->freedom = fit->freedom;
    }
    const double least_freedom = 0.2;
    bool contradict = fit->freedom > least_freedom && tv_chi_square_above(fit->chi_square, fit->freedom) < CONTRADICTION_ODDS;
    if (!contradict) break;
    out->contradict = true; /* of two nobody knows which */
    int worst = -1;
    if (slips < 2 && kept > 2) status = find_slip(j, kept_of, kept, &worst);
    if (worst < 0) break;
    j->aside[kept_of[worst]] = true;
    out->readings[kept_of[worst]].notices |= TAILVOLT_NOTICE_ODD;
    tv_measure_fit_free(fit);
  }
  free(kept_of);
  return status;
}

/* ---- resistances ---- */

/* Resistance between the probes of a car, and its deviation by the covariance: the sum of what its parts follow. */
static enum tailvolt_status resistance_of(const struct tv_measure_model *model, const gsl_vector *x, const gsl_matrix *covariance,
                                          const struct tailvolt_straddled *between, double *ohm, double *deviation) {
  struct tailvolt_system *car = NULL;
  double *by = calloc((size_t)model->values + 1, sizeof *by);
  enum tailvolt_status status = by == NULL ? TAILVOLT_NO_MEMORY : tv_measure_car(model, x, &car);
  *ohm = *deviation = 0;
  for (int c = 0; c < between->count && status == TAILVOLT_OK; c++) {
    double one_ohm = car->conductors[between->conductor[c]].resistance_ohm;
    *ohm += one_ohm;
    for (int k = 0; k < model->values; k++) {
      const struct tailvolt_uncertain *value = &model->list->values[k];
      bool of_it = value->part.index == between->conductor[c] && value->value >= TAILVOLT_VALUE_PER_METRE &&
                   value->value <= TAILVOLT_VALUE_FUSE;
      if (of_it) by[k] += model->by_ratio[k] ? one_ohm : one_ohm / tv_measure_value(model, x, k);
    }
  }
  for (int a = 0; a < model->values && status == TAILVOLT_OK; a++)
    for (int b = 0; b < model->values && by[a] != 0; b++)
      *deviation += by[a] * by[b] * gsl_matrix_get(covariance, (size_t)a, (size_t)b);
  *deviation = sqrt(fmax(*deviation, 0));
  free(by);
  tailvolt_system_free(car);
  return status;
}

/* The same parts at the upper ends of their ranges, bad ones excluded: anything above is not an ordinary
 * car. */
static double ordinary_high_ohm(const struct tv_measure_model *model, const struct tailvolt_straddled *between) {
  double sum_ohm = 0;
  for (int c = 0; c < between->count; c++) {
    double one_ohm = model->system->conductors[between->conductor[c]].resistance_ohm;
    for (int k = 0; k < model->values; k++) {
      const struct tailvolt_uncertain *value = &model->list->values[k];
      if (value->part.index == between->conductor[c] && value->value >= TAILVOLT_VALUE_PER_METRE &&
          value->value <= TAILVOLT_VALUE_FUSE && value->nominal > 0)
        one_ohm *= fmax(value->high / value->nominal, 1);
    }
    sum_ohm += one_ohm;
  }
  return sum_ohm;
}

/* Tables and files give resistances at 20 C; readings were taken in the day's air, under the bonnet in that of a warm engine. */
static double to_20_c(const struct tailvolt_system *system, const struct tailvolt_judged *one) {
  double cold_ohm = 0, warm_ohm = 0;
  bool engine_off = one->probe.condition == TAILVOLT_CONDITION_REST || one->probe.condition == TAILVOLT_CONDITION_TONE_OFF;
  for (int c = 0; c < one->between.count; c++) {
    const struct tailvolt_conductor *part = &system->conductors[one->between.conductor[c]];
    bool hot = part->place == TAILVOLT_ENGINE_BAY && !engine_off;
    cold_ohm += part->resistance_ohm;
    warm_ohm += tv_conductor_resistance_ohm(part, hot ? system->vehicle.engine_bay_c : system->vehicle.ambient_c);
  }
  return cold_ohm / warm_ohm;
}

/* The clamp reading whose current passes everything between the probes; -1 where there is none. */
static enum tailvolt_status find_current(const struct judging *j, const struct tv_measure_fit *fit, int drop, int *clamp,
                                         char *error) {
  const struct tailvolt_estimate *out = j->out;
  const struct tailvolt_judged *one = &out->readings[drop];
  struct tailvolt_probe probes[TAILVOLT_STRADDLED_MAX + 1];
  double shown[TAILVOLT_STRADDLED_MAX + 1];
  *clamp = -1;
  for (int q = 0; q < out->count && *clamp < 0; q++) {
    const struct tailvolt_probe *other = &out->readings[q].probe;
    if (other->instrument != TAILVOLT_CLAMP || other->condition != one->probe.condition || j->aside[q]) continue;
    probes[0] = *other;
    for (int c = 0; c < one->between.count; c++)
      probes[c + 1] = (struct tailvolt_probe){one->probe.condition, TAILVOLT_CLAMP, -1, -1, one->between.conductor[c], false};
    enum tailvolt_status status = tv_measure_show(j->model, fit->x, probes, one->between.count + 1, shown, error);
    if (status != TAILVOLT_OK) return status;
    bool same = true;
    for (int c = 0; c < one->between.count; c++)
      same = same && fabs(fabs(shown[c + 1]) - fabs(shown[0])) < 0.02 * fabs(shown[0]) + 0.1;
    if (same) *clamp = q;
  }
  return TAILVOLT_OK;
}

/* Ohm's law of one drop and its current. */
static enum tailvolt_status turn_into_resistance(const struct judging *j, const struct tv_measure_fit *fit, int drop, char *error) {
  struct tailvolt_judged *one = &j->out->readings[drop];
  int clamp = -1;
  one->resistance_ohm = one->error_ohm = one->usual_ohm = one->usual_high_ohm = (double)NAN;
  if (!is_drop(one)) return TAILVOLT_OK;
  enum tailvolt_status status = find_current(j, fit, drop, &clamp, error);
  if (status != TAILVOLT_OK || clamp < 0) return status;
  one->usual_ohm = 0;
  for (int c = 0; c < one->between.count; c++)
    one->usual_ohm += j->model->system->conductors[one->between.conductor[c]].resistance_ohm;
  one->usual_high_ohm = ordinary_high_ohm(j->model, &one->between);
  const struct tailvolt_judged *current = &j->out->readings[clamp];
  if (!(fabs(current->value) > current->tolerance)) return TAILVOLT_OK;
  double share_v = tv_measure_error(&one->probe, one->value) / fmax(fabs(one->value), 1e-9);
  double share_a = tv_measure_error(&current->probe, current->value) / fabs(current->value);
  one->resistance_ohm = fabs(one->value / current->value) * to_20_c(j->model->system, one);
  one->error_ohm = one->resistance_ohm * hypot(share_v, share_a);
  return TAILVOLT_OK;
}

/* ---- what was learned ---- */

static double in_unit(const struct tv_measure_model *model, int k, double value, double deviation) {
  return model->by_ratio[k] ? value * deviation : deviation;
}

/* One deviation of a range with every value equally likely. */
static double even(double width) { return fabs(width) / sqrt(12.0); }

static double meter_deviation(const struct tv_range_row *row, double value) {
  return even(2 * (row->meter.share * fabs(value) + row->meter.plus));
}

static double stated_deviation(const struct tv_range_row *row, double value) {
  if (row->stated.reason == NULL) return 0;
  double width = row->stated.high - row->stated.low;
  return even(row->stated.basis == TV_TIMES ? width * value : width);
}

/* Writes the value only where marking it claims no more than is true. */
static void set_setting(struct tailvolt_learned *one) {
  const struct tv_range_row *row = tv_range_row(one->what.value);
  /* the table's meters read a drop at 20 A; a smaller tone tells somewhat less */
  const double by_meter = 2.0, nearly = 1.5;
  char value[64];
  one->measured = one->after_error <= by_meter * meter_deviation(row, one->after) && row->meter.reason != NULL;
  bool stated = one->after_error <= nearly * stated_deviation(row, one->after);
  one->setting[0] = '\0';
  if (!one->measured && !stated) return;
  if (one->what.value == TAILVOLT_VALUE_JOINT || one->what.value == TAILVOLT_VALUE_FUSE)
    snprintf(value, sizeof value, "%s mohm", tv_significant(1e3 * one->after, 4).text);
  else
    tailvolt_uncertain_write(&one->what, one->after, 4, value, sizeof value);
  snprintf(one->setting, sizeof one->setting, "%.90s = %.50s%s", one->what.key, value,
           one->measured && one->what.value != TAILVOLT_VALUE_MEASURED_DROP ? " measured" : "");
}

static double gain_of(const struct tailvolt_learned *one) {
  return one->before_error > 0 ? one->after_error / one->before_error : 1;
}

static int by_gain(const void *left, const void *right) {
  double a = gain_of(left), b = gain_of(right);
  return (a > b) - (a < b);
}

static bool is_of_cable(const struct tailvolt_uncertain *one) {
  return one->value == TAILVOLT_VALUE_PER_METRE || one->value == TAILVOLT_VALUE_LENGTH;
}

static void take(struct tailvolt_estimate *out, const struct tailvolt_learned *one) {
  const double much = 0.6; /* of the deviation before */
  if (gain_of(one) > much) return;
  out->learned[out->learned_count] = *one;
  set_setting(&out->learned[out->learned_count++]);
}

/* A cable's length and ohms per metre are read as one resistance, which a file takes as a measured drop. */
static enum tailvolt_status learn_cables(const struct judging *j, const struct tv_measure_fit *fit) {
  const struct tailvolt_system *system = j->model->system;
  for (int c = 0; c < system->conductor_count; c++) {
    const struct tailvolt_uncertain *of_it = NULL;
    for (int k = 0; k < j->model->values && of_it == NULL; k++)
      if (is_of_cable(&j->model->list->values[k]) && j->model->list->values[k].part.index == c) of_it = &j->model->list->values[k];
    if (of_it == NULL) continue;
    struct tailvolt_straddled it = {1, {c}};
    struct tailvolt_learned one = {.what = *of_it};
    enum tailvolt_status status =
        resistance_of(j->model, j->model->mean, j->model->covariance, &it, &one.before, &one.before_error);
    if (status == TAILVOLT_OK) status = resistance_of(j->model, fit->x, fit->covariance, &it, &one.after, &one.after_error);
    if (status != TAILVOLT_OK) return status;
    char section[TAILVOLT_NAME_MAX + 16];
    tv_section_words(tv_part_of_conductor(system->conductors[c].kind), system->conductors[c].name, section, sizeof section);
    snprintf(one.what.key, sizeof one.what.key, "%s.measured drop", section);
    one.what.value = TAILVOLT_VALUE_MEASURED_DROP;
    one.what.nominal = system->conductors[c].resistance_ohm;
    take(j->out, &one);
  }
  return TAILVOLT_OK;
}

static enum tailvolt_status learn(const struct judging *j, const struct tv_measure_fit *fit) {
  const struct tv_measure_model *model = j->model;
  j->out->learned = calloc((size_t)(model->values + model->system->conductor_count) + 1, sizeof *j->out->learned);
  if (j->out->learned == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < model->values; k++) {
    const struct tailvolt_uncertain *value = &model->list->values[k];
    size_t at = (size_t)k;
    if (is_of_cable(value)) continue;
    struct tailvolt_learned one = {.what = *value};
    one.before = tv_measure_value(model, model->mean, k);
    one.after = tv_measure_value(model, fit->x, k);
    one.before_error = in_unit(model, k, one.before, sqrt(gsl_matrix_get(model->covariance, at, at)));
    one.after_error = in_unit(model, k, one.after, sqrt(fmax(gsl_matrix_get(fit->covariance, at, at), 0)));
    take(j->out, &one);
  }
  enum tailvolt_status status = learn_cables(j, fit);
  qsort(j->out->learned, (size_t)j->out->learned_count, sizeof *j->out->learned, by_gain);
  return status;
}

static enum tailvolt_status judge(struct judging *j, char *error) {
  struct tv_measure_fit fit = {0};
  enum tailvolt_status status = TAILVOLT_OK;
  for (int p = 0; p < j->out->count && status == TAILVOLT_OK; p++) {
    struct tailvolt_judged *one = &j->out->readings[p];
    if (one->probe.instrument != TAILVOLT_CLAMP)
      status = tv_measure_straddled(j->model->system, one->probe.positive, one->probe.negative, &one->between);
  }
  if (status == TAILVOLT_OK) status = expect(j, error);
  for (int p = 0; p < j->out->count && status == TAILVOLT_OK; p++) mend(&j->out->readings[p]);
  if (status == TAILVOLT_OK) status = settle(j, &fit, error);
  struct tailvolt_probe *probes = calloc((size_t)j->out->count + 1, sizeof *probes);
  double *shown = calloc((size_t)j->out->count + 1, sizeof *shown);
  if (probes == NULL || shown == NULL) status = TAILVOLT_NO_MEMORY;
  for (int p = 0; p < j->out->count && status == TAILVOLT_OK; p++) probes[p] = j->out->readings[p].probe;
  if (status == TAILVOLT_OK) status = tv_measure_show(j->model, fit.x, probes, j->out->count, shown, error);
  for (int p = 0; p < j->out->count && status == TAILVOLT_OK; p++) {
    j->out->readings[p].fitted = shown[p];
    status = turn_into_resistance(j, &fit, p, error);
  }
  if (status == TAILVOLT_OK) status = learn(j, &fit);
  tv_measure_fit_free(&fit);
  free(probes);
  free(shown);
  return status;
}

enum tailvolt_status tailvolt_estimate(const struct tailvolt_system *system, const struct tailvolt_measure_options *options,
                                       const struct tailvolt_reading_taken *readings, int count, struct tailvolt_estimate **out,
                                       char *error) {
  struct tv_measure_model model;
  struct tailvolt_estimate *estimate = calloc(1, sizeof *estimate);
  struct judging j = {.model = &model, .out = estimate, .aside = calloc((size_t)count + 1, sizeof *j.aside)};
  char unheard[TAILVOLT_TEXT_MAX];
  *out = NULL;
  if (error == NULL) error = unheard;
  error[0] = '\0';
  enum tailvolt_status status = tv_measure_model_make(system, options, &model, error);
  if (estimate == NULL || j.aside == NULL) status = TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK && count < 1) {
    snprintf(error, TAILVOLT_TEXT_MAX, "no readings are given");
    status = TAILVOLT_BAD_INPUT;
  }
  if (status == TAILVOLT_OK) {
    estimate->readings = calloc((size_t)count + 1, sizeof *estimate->readings);
    if (estimate->readings == NULL) status = TAILVOLT_NO_MEMORY;
  }
  if (status == TAILVOLT_OK) {
    estimate->count = count;
    estimate->amplifier = model.amplifier;
    estimate->tone_w = model.tone_w;
    for (int p = 0; p < count; p++)
      estimate->readings[p] = (struct tailvolt_judged){.probe = readings[p].probe, .typed = readings[p].value};
    status = judge(&j, error);
  }
  tv_measure_model_free(&model);
  free(j.aside);
  free(j.shown);
  gsl_matrix_free(j.jacobian);
  if (status == TAILVOLT_OK) *out = estimate;
  else tailvolt_estimate_free(estimate);
  return status;
}

void tailvolt_estimate_free(struct tailvolt_estimate *estimate) {
  if (estimate == NULL) return;
  free(estimate->readings);
  free(estimate->learned);
  free(estimate);
}

enum tailvolt_status tailvolt_estimate_write(const char *text, const struct tailvolt_setting *settings, int setting_count,
                                             const struct tailvolt_estimate *estimate, const char *date, char **out) {
  char measured[64], stated[64], *now = NULL, *next = NULL;
  *out = NULL;
  snprintf(measured, sizeof measured, "measured %.30s", date);
  snprintf(stated, sizeof stated, "from readings of %.30s", date);
  enum tailvolt_status status = tv_system_write_with(text, settings, setting_count, &now);
  for (int k = 0; k < estimate->learned_count && status == TAILVOLT_OK; k++) {
    const struct tailvolt_learned *one = &estimate->learned[k];
    const struct tailvolt_setting setting = {one->setting};
    if (one->setting[0] == '\0') continue;
    status = tv_system_write_noted(now, &setting, one->measured ? measured : stated, &next);
    if (status != TAILVOLT_OK) break;
    free(now);
    now = next;
  }
  if (status == TAILVOLT_OK) *out = now;
  else free(now);
  return status;
}
