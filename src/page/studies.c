/* Questions that take many runs: playing parked, the remedy, a variation. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "page/job.h"
#include "report/json.h"
#include "report/json_read.h"
#include "report/json_write.h"
#include "report/vary_table.h"
#include "text/number.h"
#include "text/words.h"

static const struct tailvolt_report_style plain = {.utf8 = true};

/* JSON of our own making as a tree; NULL where memory ran out. */
static json_t *read_json(const char *text) {
  char error[TAILVOLT_TEXT_MAX];
  return tv_json_read(text, strlen(text), error);
}

/* A document written by a report, as a tree. */
static json_t *tree_of(enum tailvolt_status status, char *text) {
  json_t *tree = status == TAILVOLT_OK ? read_json(text) : NULL;
  tailvolt_report_free(text);
  return tree;
}

char *tv_page_parked(struct tv_page_job *job) {
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tailvolt_parked *parked = NULL;
  char error[TAILVOLT_TEXT_MAX] = "", *text = NULL, *document = NULL;
  if (job->system == NULL) return tv_page_refuse(TAILVOLT_BAD_INPUT, "no system is loaded");
  options.run.progress = job->progress;
  options.run.progress_context = job->progress_context;
  enum tailvolt_status status = tailvolt_parked(job->system, NULL, &options, &parked, error);
  if (status != TAILVOLT_OK) return tv_page_refuse(status, error);
  json_t *root = tv_page_begin();
  char shown[64];
  snprintf(shown, sizeof shown, "%s%s", parked->ends_by == TAILVOLT_ENDS_BY_TIME ? "over " : "", tv_playing_time(parked->until_s).text);
  tv_json_put_number(&root, "parked_s", parked->until_s);
  tv_json_put_text(&root, "shown", shown);
  status = tailvolt_report_parked_text(job->system, parked, &plain, &text);
  tv_json_put(&root, "lines", status == TAILVOLT_OK ? tv_page_first_lines(text) : NULL);
  tv_json_put(&root, "details", status == TAILVOLT_OK ? tv_json_text(text) : NULL);
  tailvolt_report_free(text);
  status = tailvolt_report_parked_json(job->system, parked, &document);
  tv_json_put(&root, "parked", tree_of(status, document));
  tailvolt_parked_free(parked);
  return tv_page_finish(root);
}

static json_t *settings_of(const struct tailvolt_remedy_set *set) {
  json_t *list = json_array();
  for (int k = 0; k < set->change_count; k++) {
    json_t *change = json_object();
    tv_json_put_text(&change, "key", set->changes[k].key);
    tv_json_put_text(&change, "value", set->changes[k].value);
    tv_json_append(&list, change);
  }
  return list;
}

static json_t *set_of(const struct tailvolt_system *system, const struct tailvolt_remedy_set *set) {
  char *text = NULL;
  json_t *object = json_object();
  tv_json_put_text(&object, "what", set->change_count > 0 ? set->what : "nothing");
  tv_json_put(&object, "settings", settings_of(set));
  tv_json_put_text(&object, "effort", tv_compact(set->effort_h, 1).text);
  const struct tailvolt_result *const runs[] = {set->result};
  if (set->result != NULL) {
    enum tailvolt_status status = tailvolt_report_text(system, runs, 1, NULL, &plain, &text);
    json_t *lines = status == TAILVOLT_OK ? tv_page_first_lines(text) : NULL;
    tv_json_put(&object, "after", lines != NULL ? tv_json_text(tv_json_text_of(json_array_get(lines, 0), "text")) : NULL);
    json_decref(lines);
  }
  tailvolt_report_free(text);
  return object;
}

/* What single cures are worth, as far as they were tried. */
static json_t *worth_of(const struct tailvolt_remedy *remedy) {
  json_t *list = json_array();
  for (int k = 0; k < remedy->worth_count; k++) {
    const struct tailvolt_worth *worth = &remedy->worth[k];
    json_t *object = json_object();
    tv_json_put_text(&object, "what", worth->what);
    tv_json_put_number(&object, "gain_v", worth->gain_v);
    tv_json_put_text(&object, "shown", isfinite(worth->gain_v) ? tv_fixed(worth->gain_v, 2).text : "");
    tv_json_append(&list, object);
  }
  return list;
}

/* The road of the same day first, where both standard profiles are run: idling is what the remedy cures. */
static enum tailvolt_status search(struct tv_page_job *job, struct tailvolt_remedy_options *options,
                                   struct tailvolt_remedy **remedy, char error[TAILVOLT_TEXT_MAX]) {
  struct tailvolt_result *road = NULL;
  if (job->standard && job->count > 1) {
    options->run = tailvolt_default_options();
    enum tailvolt_status status = tailvolt_simulate(job->system, job->profiles[1], &options->run, &road, error);
    if (status != TAILVOLT_OK) return status;
    options->run.road_balance_a = tailvolt_charge_balance_a(road, TAILVOLT_ROAD);
    options->road = job->profiles[1];
    tailvolt_result_free(road);
  }
  options->run.progress = job->progress;
  options->run.progress_context = job->progress_context;
  return tailvolt_remedy(job->text, job->name, job->settings, job->setting_count, job->profiles[0], options, remedy, error);
}

char *tv_page_remedy(struct tv_page_job *job) {
  struct tailvolt_remedy_options options = tailvolt_default_remedy_options();
  struct tailvolt_remedy *remedy = NULL;
  char error[TAILVOLT_TEXT_MAX] = "", *text = NULL;
  if (job->system == NULL) return tv_page_refuse(TAILVOLT_BAD_INPUT, "no system is loaded");
  enum tailvolt_status status = search(job, &options, &remedy, error);
  if (status != TAILVOLT_OK && (status != TAILVOLT_STOPPED || remedy == NULL)) return tv_page_refuse(status, error);
  json_t *root = tv_page_begin(), *others = json_array();
  tv_json_put(&root, "partial", json_boolean(remedy->partial));
  tv_json_put(&root, "found", json_boolean(remedy->found));
  status = tailvolt_report_remedy_text(job->system, remedy, &plain, &text);
  tv_json_put(&root, "lines", status == TAILVOLT_OK ? tv_page_first_lines(text) : NULL);
  tv_json_put(&root, "details", status == TAILVOLT_OK ? tv_json_text(text) : NULL);
  tailvolt_report_free(text);
  if (remedy->found) tv_json_put(&root, "chosen", set_of(job->system, &remedy->chosen));
  for (int k = 0; k < remedy->runner_up_count; k++) tv_json_append(&others, set_of(job->system, &remedy->runners_up[k]));
  tv_json_put(&root, "others", others);
  tv_json_put(&root, "worth", worth_of(remedy));
  tailvolt_remedy_free(remedy);
  return tv_page_finish(root);
}

/* The values of one key, each run on its own copy of the system. */
struct variation {
  struct tv_page_job *job;
  struct tailvolt_variation *of;
  char **lines;
};

/* The worst of the profiles; owned by the caller. */
static enum tailvolt_status run_worst(const struct tailvolt_system *system, const struct tv_page_job *job,
                                      struct tailvolt_result **out, char error[TAILVOLT_TEXT_MAX]) {
  struct tailvolt_options options = tailvolt_default_options();
  *out = NULL;
  for (int k = job->count - 1; k >= 0; k--) {
    struct tailvolt_result *result = NULL;
    enum tailvolt_status status = tailvolt_simulate(system, job->profiles[k], &options, &result, error);
    if (status != TAILVOLT_OK) return status;
    if (job->standard && k == job->count - 1) options.road_balance_a = tailvolt_charge_balance_a(result, TAILVOLT_ROAD);
    if (*out == NULL || result->status >= (*out)->status) {
      tailvolt_result_free(*out);
      *out = result;
    } else {
      tailvolt_result_free(result);
    }
  }
  return TAILVOLT_OK;
}

static enum tailvolt_status vary_row(struct variation *variation, long index) {
  struct tailvolt_system *system = NULL;
  struct tailvolt_vary_row row = {.index = index, .parked_s = (double)NAN};
  struct tailvolt_result *result = NULL;
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  char error[TAILVOLT_TEXT_MAX] = "";
  enum tailvolt_status status = faults != NULL ? tailvolt_system_copy(variation->job->system, &system) : TAILVOLT_NO_MEMORY;
  for (int k = 0; k < variation->of->key_count && status == TAILVOLT_OK; k++) {
    char text[2 * TAILVOLT_VARY_TEXT_MAX + 8];
    snprintf(text, sizeof text, "%s = %s", variation->of->keys[k].key, tailvolt_variation_value(variation->of, index, k));
    const struct tailvolt_setting setting = {text};
    status = tailvolt_system_change(system, &setting, 1, faults);
    if (status == TAILVOLT_BAD_INPUT && faults->count > 0) snprintf(error, sizeof error, "%s", faults->fault[0].message);
  }
  if (status == TAILVOLT_OK) status = run_worst(system, variation->job, &result, error);
  row.status = status;
  row.system = system;
  row.result = status == TAILVOLT_OK ? result : NULL;
  row.error = status == TAILVOLT_OK || error[0] != '\0' ? error : tailvolt_status_text(status);
  variation->lines[index] = status != TAILVOLT_NO_MEMORY ? tv_vary_line(variation->of, &row) : NULL;
  tailvolt_result_free(result);
  tailvolt_system_free(system);
  free(faults);
  return variation->lines[index] != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}

static char *vary_answer(const struct variation *variation, long done) {
  char *text = NULL, *document = NULL, *csv = NULL;
  json_t *root = tv_page_begin(), *shown = json_array();
  for (long k = 0; k < done; k++) {
    /* as the table of the command shows it */
    json_t *row = read_json(variation->lines[k]), *amplifiers = json_object_get(row, "amplifiers");
    double least = (double)NAN;
    for (size_t a = 0; a < json_array_size(amplifiers); a++) {
      double v = tv_json_number_of(json_array_get(amplifiers, a), "min_v");
      if (!(v >= least)) least = v;
    }
    json_t *point = row != NULL ? json_object() : NULL;
    tv_json_put_text(&point, "value", tailvolt_variation_value(variation->of, k, 0));
    tv_json_put_text(&point, "status", tv_json_text_of(row, "status"));
    tv_json_put_number(&point, "min_v", least);
    tv_json_put_text(&point, "lowest", isfinite(least) ? tv_fixed(least, 2).text : "");
    tv_json_put_text(&point, "error", tv_json_text_of(row, "error"));
    tv_json_append(&shown, point);
    json_decref(row);
  }
  tv_json_put(&root, "points", shown);
  tv_json_put(&root, "partial", json_boolean(done < variation->of->row_count));
  if (done < variation->of->row_count) return tv_page_finish(root);
  enum tailvolt_status status = tv_vary_json(variation->of, variation->lines, &document);
  tv_json_put(&root, "vary", tree_of(status, document));
  status = tv_vary_text(variation->of, variation->lines, &plain, &text);
  tv_json_put(&root, "details", status == TAILVOLT_OK ? tv_json_text(text) : NULL);
  status = tv_vary_csv(variation->of, variation->lines, &csv);
  tv_json_put(&root, "csv", status == TAILVOLT_OK ? tv_json_text(csv) : NULL);
  tailvolt_report_free(text);
  tailvolt_report_free(csv);
  return tv_page_finish(root);
}

/* More would keep a phone busy for minutes. */
enum { VARY_MOST = 64 };

char *tv_page_vary(struct tv_page_job *job, const char *text) {
  struct variation variation = {.job = job};
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  if (faults == NULL) return NULL;
  char *answer = NULL;
  enum tailvolt_status status = TAILVOLT_BAD_INPUT;
  if (job->system != NULL) status = tailvolt_variation_parse(&text, 1, &variation.of, faults);
  if (job->system == NULL) {
    answer = tv_page_refuse(status, "no system is loaded");
  } else if (status != TAILVOLT_OK) {
    answer = tv_page_refuse(status, faults->count > 0 ? faults->fault[0].message : NULL);
  } else if (variation.of->row_count > VARY_MOST) {
    answer = tv_page_refuse(TAILVOLT_BAD_INPUT, "at most 64 values at a time: take a larger step");
  } else {
    long done = 0;
    variation.lines = calloc((size_t)variation.of->row_count, sizeof *variation.lines);
    if (variation.lines == NULL) status = TAILVOLT_NO_MEMORY;
    for (; done < variation.of->row_count && status == TAILVOLT_OK; done++) {
      status = vary_row(&variation, done);
      if (status == TAILVOLT_OK && job->progress != NULL &&
          job->progress(job->progress_context, (double)(done + 1) / (double)variation.of->row_count))
        status = TAILVOLT_STOPPED;
    }
    /* stopped: the points that are done */
    if (status == TAILVOLT_OK || status == TAILVOLT_STOPPED) answer = vary_answer(&variation, done);
    else answer = tv_page_refuse(status, NULL);
    for (long k = 0; variation.lines != NULL && k < variation.of->row_count; k++) free(variation.lines[k]);
    free(variation.lines);
  }
  tailvolt_variation_free(variation.of);
  free(faults);
  return answer;
}
