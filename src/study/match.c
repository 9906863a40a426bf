/* Fitting keys of the system file to logs. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>


#include "input/system_edit.h"
#include "numeric/probability.h"
#include "simulate/run.h"
#include "study/match_fit.h"
#include "text/text.h"

/* ---- keys ---- */

/* Ranges of two decades or more are searched in ratios. */
static enum tailvolt_status begin_key(struct tv_fit *fit, const char *text, struct tv_fit_key *key) {
  struct tv_system_number *number = &key->number;
  enum tailvolt_status status = tv_system_number(fit->system, text, number, fit->error);
  if (status != TAILVOLT_OK) return status;
  if (isnan(number->value)) {
    snprintf(fit->error, sizeof fit->error, "%.90s: has no value to start from: give one, such as --set \"%.90s = ...\"", number->key,
             number->key);
    return TAILVOLT_BAD_INPUT;
  }
  key->ratio = number->low > 0 && number->high > 50 * number->low;
  key->low = key->ratio ? log(number->low) : number->low;
  key->high = key->ratio ? log(number->high) : number->high;
  key->start = key->value = fmin(fmax(number->value, number->low), number->high);
  key->reach = key->ratio ? key->value : 0.1 * (number->high - number->low);
  key->step = 0.02;
  key->state = TAILVOLT_MATCH_FITTED;
  return TAILVOLT_OK;
}

static enum tailvolt_status begin_keys(struct tv_fit *fit, const char *const *keys, int count) {
  if (count < 1 || count > TAILVOLT_MATCH_KEYS) {
    snprintf(fit->error, sizeof fit->error, "1 to %d keys can be fitted at a time", TAILVOLT_MATCH_KEYS);
    return TAILVOLT_BAD_INPUT;
  }
  for (int k = 0; k < count; k++) {
    enum tailvolt_status status = begin_key(fit, keys[k], &fit->key[k]);
    if (status != TAILVOLT_OK) return status;
    for (int j = 0; j < k; j++)
      if (tv_system_number_same(&fit->key[j].number, &fit->key[k].number)) {
        snprintf(fit->error, sizeof fit->error, "%.90s: stands twice among the keys to fit", keys[k]);
        return TAILVOLT_BAD_INPUT;
      }
    fit->key_count++;
  }
  return TAILVOLT_OK;
}

/* ---- the fit ---- */

/* What hundreds of runs have in common. */
static enum tailvolt_status prepare_runs(struct tv_fit *fit) {
  enum tailvolt_status status = tv_programmes_make(fit->system, &fit->run[0], &fit->shared, fit->error);
  if (status == TAILVOLT_OK) status = tv_run_open_like(fit->system, NULL, &fit->run[0], fit->shared, NULL, &fit->like, fit->error);
  return status;
}

/* Whether a key can be seen is judged where the others have settled. *slope: derivatives there. */
static enum tailvolt_status search(struct tv_fit *fit, double **slope) {
  bool found = true;
  *slope = malloc(((size_t)fit->count * (size_t)fit->key_count + 1) * sizeof **slope);
  enum tailvolt_status status = *slope != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  for (int round = 0; round <= TAILVOLT_MATCH_KEYS && status == TAILVOLT_OK && found; round++) {
    status = tv_fit_search(fit);
    if (status == TAILVOLT_OK) status = tv_fit_correlation(fit);
    if (status == TAILVOLT_OK) status = tv_fit_alike(fit, *slope, &found);
  }
  return status;
}

static bool at_bound(const struct tv_fit_key *key) {
  double x = key->ratio ? log(key->value) : key->value, margin = 1e-3 * (key->high - key->low);
  bool began_there = fabs(key->start - key->number.low) <= 0 || fabs(key->start - key->number.high) <= 0;
  return !(began_there && fabs(key->value - key->start) <= 0) && (x < key->low + margin || x > key->high - margin);
}

/* ---- the outcome ---- */

static void write_text(char to[48], double value, enum tv_measure measure, double error) {
  /* to a tenth of its error */
  int digits = 6;
  if (error > 0 && fabs(value) > 0) digits = (int)fmin(fmax(ceil(log10(fabs(value) / error)) + 1, 2), 8);
  tv_quantity_round(to, 48, value, measure, digits);
}

static void take_key(const struct tv_fit *fit, int k, double error, double t, struct tailvolt_matched *out) {
  const struct tv_fit_key *key = &fit->key[k];
  enum tv_measure measure = key->number.measure, difference = measure == TV_TEMPERATURE ? TV_DIFFERENCE : measure;
  tv_copy_text(out->key, sizeof out->key, key->number.key);
  out->state = key->state == TAILVOLT_MATCH_FITTED && at_bound(key) ? TAILVOLT_MATCH_AT_BOUND : key->state;
  out->assumed = key->number.assumed;
  out->before = key->start;
  out->value = key->value;
  out->alike = key->alike;
  out->error = out->low = out->high = (double)NAN;
  tv_quantity_round(out->before_text, sizeof out->before_text, out->before, measure, 4);
  if (out->state == TAILVOLT_MATCH_FITTED && isfinite(error)) {
    out->error = error * key->reach;
    out->low = fmax(out->value - t * out->error, key->number.low);
    out->high = fmin(out->value + t * out->error, key->number.high);
    write_text(out->low_text, out->low, measure, out->error);
    write_text(out->high_text, out->high, measure, out->error);
    tv_quantity_round(out->error_text, sizeof out->error_text, out->error, difference, 2);
  }
  write_text(out->text, out->value, measure, out->error);
}

static long count_spikes(const struct tv_fit *fit) {
  long spikes = 0;
  for (long r = 0; r < fit->count; r++)
    spikes += fit->reading[r].out;
  return spikes;
}

static enum tailvolt_status take_errors(const struct tv_fit *fit, const double *slope, struct tailvolt_matching *out) {
  double error[TAILVOLT_MATCH_KEYS];
  int fitted = 0;
  for (int k = 0; k < fit->key_count; k++) fitted += fit->key[k].state == TAILVOLT_MATCH_FITTED;
  enum tailvolt_status status = tv_fit_errors(fit, slope, error, &out->worth);
  double t = tv_student_95(out->worth - fitted);
  for (int k = 0; k < fit->key_count && status == TAILVOLT_OK; k++) take_key(fit, k, error[k], t, &out->keys[k]);
  out->count = fit->key_count;
  out->readings = fit->count;
  out->spikes = count_spikes(fit);
  out->settled = fit->settled;
  for (int g = 0; g < fit->group_count; g++) out->alike_s = fmax(out->alike_s, fit->group[g].alike_s);
  return status;
}

static enum tailvolt_status compare_at(const struct tv_fit *fit, const struct tailvolt_system *system,
                                       struct tailvolt_comparison **out, char *error) {
  struct tailvolt_compare_options options = *fit->options;
  options.run.progress = NULL;
  return tailvolt_compare(system, fit->logs, fit->log_count, &options, out, error);
}

static enum tailvolt_status finish(struct tv_fit *fit, const double *slope, struct tailvolt_matching *out) {
  struct tailvolt_system *fitted = NULL;
  struct tv_fit_point here = tv_fit_here(fit);
  bool held = false;
  enum tailvolt_status status = take_errors(fit, slope, out);
  for (int k = 0; k < out->count; k++)
    held = held || out->keys[k].state == TAILVOLT_MATCH_ALIKE || out->keys[k].state == TAILVOLT_MATCH_UNSEEN;
  if (status == TAILVOLT_OK && held) status = tv_fit_advise(fit, out->keys);
  if (status == TAILVOLT_OK) status = compare_at(fit, fit->system, &out->before, fit->error);
  if (status == TAILVOLT_OK) status = tv_fit_system(fit, fit->system, &here, &fitted, fit->error);
  if (status == TAILVOLT_OK) status = compare_at(fit, fitted, &out->after, fit->error);
  out->runs = fit->runs;
  tailvolt_system_free(fitted);
  return status;
}

enum tailvolt_status tailvolt_match(const struct tailvolt_system *system, const struct tailvolt_log *const *logs, int log_count,
                                    const char *const *keys, int key_count, const struct tailvolt_compare_options *options,
                                    struct tailvolt_matching **out, char *error) {
  struct tv_fit *fit = calloc(1, sizeof *fit);
  struct tailvolt_matching *matching = calloc(1, sizeof *matching);
  double *slope = NULL;
  enum tailvolt_status status = fit != NULL && matching != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  *out = NULL;
  if (error != NULL) error[0] = '\0';
  if (status == TAILVOLT_OK) status = tv_compare_check(logs, log_count, options, fit->error);
  if (status == TAILVOLT_OK) status = tv_log_system(system, logs, log_count, &fit->system, fit->error);
  if (status == TAILVOLT_OK) {
    fit->logs = logs;
    fit->log_count = log_count;
    fit->options = options;
    for (int l = 0; l < log_count; l++) fit->run[l] = tv_compare_run_options(logs[l], options);
    status = begin_keys(fit, keys, key_count);
  }
  if (status == TAILVOLT_OK) status = prepare_runs(fit);
  if (status == TAILVOLT_OK) status = tv_fit_begin(fit);
  if (status == TAILVOLT_OK) status = search(fit, &slope);
  if (status == TAILVOLT_OK) status = finish(fit, slope, matching);
  if (status == TAILVOLT_OK) {
    *out = matching;
  } else {
    if (error != NULL && fit != NULL)
      snprintf(error, TAILVOLT_TEXT_MAX, "%s", fit->error[0] != '\0' ? fit->error : tailvolt_status_text(status));
    tailvolt_matching_free(matching);
  }
  free(slope);
  if (fit != NULL) {
    tailvolt_run_close(fit->like);
    tv_programmes_free(fit->shared);
    tailvolt_system_free(fit->system);
    free(fit->reading);
    free(fit->simulated);
    free(fit->group);
  }
  free(fit);
  return status;
}

void tailvolt_matching_free(struct tailvolt_matching *matching) {
  if (matching == NULL) return;
  tailvolt_comparison_free(matching->before);
  tailvolt_comparison_free(matching->after);
  free(matching);
}

/* ---- the system file with what was learned ---- */

enum tailvolt_status tailvolt_match_write(const char *text, const struct tailvolt_setting *settings, int setting_count,
                                          const struct tailvolt_matching *matching, const char *date, char **out) {
  char *now = NULL, note[TAILVOLT_TEXT_MAX], line[2 * TAILVOLT_TEXT_MAX];
  enum tailvolt_status status = tv_system_write_with(text, settings, setting_count, &now);
  *out = NULL;
  for (int k = 0; k < matching->count && status == TAILVOLT_OK; k++) {
    const struct tailvolt_matched *key = &matching->keys[k];
    if (key->state != TAILVOLT_MATCH_FITTED) continue;
    char *next = NULL;
    snprintf(line, sizeof line, "%s = %s measured", key->key, key->text);
    snprintf(note, sizeof note, "%s: fitted to logs, +- %s (one standard error); was %s%s", date, key->error_text, key->before_text,
             key->assumed ? ", assumed" : "");
    struct tailvolt_setting setting = {line};
    status = tv_system_write_noted(now, &setting, note, &next);
    free(now);
    now = next;
  }
  if (status == TAILVOLT_OK)
    *out = now;
  else
    free(now);
  return status;
}
