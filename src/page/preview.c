/* A stretch of a profile by itself: the preview of a change, and music watched while it plays. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "page/job.h"
#include "report/json_write.h"
#include "text/buffer.h"
#include "text/number.h"
#include "text/read_number.h"
#include "text/words.h"

/* Rows of a profile with everything they point to. */
struct rows {
  int count, room;
  struct tailvolt_row *row;
  double *load_on;                          /* [room][loads] */
  struct tailvolt_amplifier_row *amplifier; /* [room][amplifiers] */
};

static void free_rows(struct rows *rows) {
  free(rows->row);
  free(rows->load_on);
  free(rows->amplifier);
}

static bool take_rows(struct rows *rows, const struct tailvolt_system *system, int room) {
  *rows = (struct rows){.room = room};
  rows->row = calloc((size_t)room, sizeof *rows->row);
  rows->load_on = calloc((size_t)room * (size_t)(system->load_count + 1), sizeof *rows->load_on);
  rows->amplifier = calloc((size_t)room * (size_t)(system->amplifier_count + 1), sizeof *rows->amplifier);
  return rows->row != NULL && rows->load_on != NULL && rows->amplifier != NULL;
}

static void keep(struct rows *rows, const struct tailvolt_system *system, const struct tailvolt_row *row, double time_s) {
  size_t loads = (size_t)system->load_count, amplifiers = (size_t)system->amplifier_count;
  double *load_on = rows->load_on + (size_t)rows->count * (loads + 1);
  struct tailvolt_amplifier_row *amplifier = rows->amplifier + (size_t)rows->count * (amplifiers + 1);
  if (loads > 0) memcpy(load_on, row->load_on, loads * sizeof *load_on);
  if (amplifiers > 0) memcpy(amplifier, row->amplifier, amplifiers * sizeof *amplifier);
  rows->row[rows->count] = *row;
  rows->row[rows->count].time_s = time_s;
  rows->row[rows->count].load_on = load_on;
  rows->row[rows->count++].amplifier = amplifier;
}

/* What lies between two moments: the row in force at the first, those that follow, and an end. Engine speed and ambient within
 * a row that ramps are those of its start: good enough for a preview. */
enum { ROWS_MOST = 4000 };

static enum tailvolt_status cut(const struct tailvolt_profile *profile, const struct tailvolt_system *system, double from_s,
                                double to_s, struct rows *rows) {
  struct tailvolt_profile_cursor *cursor = NULL;
  const struct tailvolt_row *row = NULL, *next = NULL;
  enum tailvolt_status status = tailvolt_profile_open(profile, &cursor);
  if (status == TAILVOLT_OK) status = tailvolt_profile_next(cursor, &row);
  while (status == TAILVOLT_OK && row != NULL) {
    if ((status = tailvolt_profile_next(cursor, &next)) != TAILVOLT_OK) break;
    bool ends = next == NULL || rows->count + 2 >= rows->room;
    if (next == NULL || next->time_s > from_s)
      keep(rows, system, row, row->time_s > from_s ? row->time_s : from_s);
    if (ends) break;
    if (next->time_s >= to_s) {
      keep(rows, system, next, to_s);
      break;
    }
    row = next;
  }
  tailvolt_profile_close(cursor);
  return status;
}

/* The charge that each battery had by then, per cent. */
static void charge(struct tailvolt_system *system, const char *charge_pct) {
  for (int k = 0; k < system->battery_count && *charge_pct != '\0'; k++) {
    size_t length = strcspn(charge_pct, " ");
    double pct;
    if (tv_parse_number(charge_pct, length, &pct) && pct >= 0.0 && pct <= 100.0) {
      system->batteries[k].soc_frac = 0.01 * pct;
      system->batteries[k].rested_v = (double)NAN;
    }
    charge_pct += length + (charge_pct[length] == ' ');
  }
}

/* The music is off while a run settles: long steps leave the same voltage within some millivolts, at a third of the time. */
#define SETTLE_STEP_S 0.05

struct stretch {
  int profile;
  double from_s, to_s, every_s;
  const char *charge_pct;
};

static enum tailvolt_status run_stretch(struct tv_page_job *job, const struct stretch *of, struct tailvolt_result **out,
                                        char error[TAILVOLT_TEXT_MAX]) {
  const struct tailvolt_profile *whole = job->profiles[of->profile];
  struct tailvolt_profile *part = NULL;
  struct tailvolt_system *system = NULL;
  struct rows rows = {0};
  long row_count = tailvolt_profile_row_count(whole);
  enum tailvolt_status status = tailvolt_system_copy(job->system, &system);
  if (status == TAILVOLT_OK && !take_rows(&rows, system, row_count + 2 < ROWS_MOST ? (int)row_count + 2 : ROWS_MOST))
    status = TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK) status = cut(whole, system, of->from_s, of->to_s, &rows);
  if (status == TAILVOLT_OK) status = tailvolt_profile_from_rows(rows.row, rows.count, tailvolt_profile_name(whole), system, &part);
  if (status == TAILVOLT_OK) {
    struct tailvolt_options options = tailvolt_default_options();
    charge(system, of->charge_pct);
    tv_page_trace_free(&job->trace);
    struct tailvolt_record_sink sink = tv_page_trace_begin(&job->trace, system, job->watched);
    options.record = &sink;
    options.record_every_s = of->every_s;
    options.settle_step_s = SETTLE_STEP_S;
    options.progress = job->progress;
    options.progress_context = job->progress_context;
    status = tailvolt_simulate(system, part, &options, out, error);
    job->trace.system = NULL;
    if (job->trace.failed) status = TAILVOLT_NO_MEMORY;
  }
  free_rows(&rows);
  tailvolt_profile_free(part);
  tailvolt_system_free(system);
  return status;
}

/* The lowest voltage of the stretch, worded to say what it is. */
static void lowest_words(const struct tailvolt_result *result, double span_s, char *text, size_t size, double *lowest_v) {
  int worst = -1;
  for (int k = 0; k < result->amplifier_count; k++)
    if (worst < 0 || result->amplifiers[k].min_v < result->amplifiers[worst].min_v) worst = k;
  *lowest_v = worst >= 0 ? result->amplifiers[worst].min_v : (double)NAN;
  if (worst < 0) snprintf(text, size, "no amplifier");
  else
    snprintf(text, size, "%.60s falls to %s V (wanted %s V) in the worst %s; the whole profile follows", result->amplifiers[worst].name,
             tv_fixed(*lowest_v, 2).text, tv_fixed(result->amplifiers[worst].target_v, 1).text, tv_duration(span_s).text);
}

static char *stretch_answer(struct tv_page_job *job, const struct stretch *of) {
  struct tailvolt_result *result = NULL;
  char error[TAILVOLT_TEXT_MAX] = "", text[TAILVOLT_TEXT_MAX];
  double lowest_v;
  enum tailvolt_status status = run_stretch(job, of, &result, error);
  if (status != TAILVOLT_OK) return tv_page_refuse(status, error);
  json_t *root = tv_page_begin(), *loops = json_array();
  lowest_words(result, result->duration_s, text, sizeof text, &lowest_v);
  tv_json_put_text(&root, "text", text);
  tv_json_put_number(&root, "lowest_v", lowest_v);
  tv_json_put_text(&root, "lowest", tv_fixed(lowest_v, 2).text);
  for (int turn = 0; turn < 2; turn++)
    for (int k = 0; k < result->ledger_count; k++)
      if ((result->ledgers[k].amplifier_index == job->watched) == (turn == 0))
        tv_json_append(&loops, tv_page_loop(job->system, &result->ledgers[k]));
  tv_json_put(&root, "loops", loops);
  tv_json_put(&root, "rows", json_integer(job->trace.rows));
  tv_json_put_number(&root, "target_v", result->amplifier_count > job->watched ? result->amplifiers[job->watched].target_v : (double)NAN);
  tailvolt_result_free(result);
  return tv_page_finish(root);
}

#define PREVIEW_EVERY_S 0.01

static struct stretch around(const struct tv_page_job *job, int profile, double moment_s, double span_s, const char *charge_pct) {
  double start_s = tailvolt_profile_start_s(job->profiles[profile]), end_s = tailvolt_profile_end_s(job->profiles[profile]);
  /* three quarters of it before the moment; within the profile */
  double to_s = fmin(end_s, moment_s + 0.25 * span_s), from_s = fmax(start_s, to_s - span_s);
  to_s = fmin(end_s, fmax(to_s, from_s + span_s));
  return (struct stretch){profile, from_s, to_s, PREVIEW_EVERY_S, charge_pct};
}

char *tv_page_preview(struct tv_page_job *job, int profile, double moment_s, double span_s, const char *charge_pct) {
  if (job->system == NULL) return tv_page_refuse(TAILVOLT_BAD_INPUT, "no system is loaded");
  if (profile < 0 || profile >= job->count || !isfinite(moment_s) || !(span_s > 0.0))
    return tv_page_refuse(TAILVOLT_BAD_INPUT, "no such moment");
  struct stretch of = around(job, profile, moment_s, span_s, charge_pct);
  return stretch_answer(job, &of);
}

/* Too long for ripple, short enough for every beat. */
#define LOOK_STEP_S 0.01
/* Longer profiles are not looked at first. */
#define LOOK_MOST_S 3600.0

/* The worst run of all profiles in long steps; the caller's. */
static enum tailvolt_status look(struct tv_page_job *job, struct tailvolt_result **worst, int *profile, char error[TAILVOLT_TEXT_MAX]) {
  enum tailvolt_status status = TAILVOLT_OK;
  for (int k = 0; k < job->count && status == TAILVOLT_OK; k++) {
    const struct tailvolt_profile *whole = job->profiles[k];
    if (!(tailvolt_profile_end_s(whole) - tailvolt_profile_start_s(whole) <= LOOK_MOST_S)) continue;
    struct tailvolt_options options = tv_page_options(job);
    struct tailvolt_result *result = NULL;
    options.time_step_s = LOOK_STEP_S;
    options.settle_step_s = SETTLE_STEP_S;
    status = tailvolt_simulate(job->system, whole, &options, &result, error);
    bool worse = status == TAILVOLT_OK && (*worst == NULL || result->status > (*worst)->status);
    tailvolt_result_free(worse ? *worst : result);
    if (worse) *worst = result;
    if (worse) *profile = k;
  }
  return status;
}

/* The charge of each battery by a moment, on a straight line from the first to the last. */
static void charge_by(const struct tailvolt_result *result, double time_s, struct tv_buffer *pct) {
  double share = result->duration_s > 0.0 ? (time_s - result->start_s) / result->duration_s : 0.0;
  for (int k = 0; k < result->battery_count; k++) {
    const struct tailvolt_battery_result *battery = &result->batteries[k];
    tv_buffer_add(pct, tv_shortest(battery->start_soc_pct + share * (battery->end_soc_pct - battery->start_soc_pct)).text);
    tv_buffer_add(pct, " ");
  }
}

char *tv_page_glance(struct tv_page_job *job, double span_s) {
  struct tailvolt_result *worst = NULL;
  char error[TAILVOLT_TEXT_MAX] = "", *answer = NULL;
  int profile = 0;
  if (job->system == NULL || !(span_s > 0.0)) return tv_page_refuse(TAILVOLT_BAD_INPUT, "no system is loaded");
  enum tailvolt_status status = look(job, &worst, &profile, error);
  if (status == TAILVOLT_OK && (worst == NULL || worst->ledger_count == 0)) status = TAILVOLT_BAD_INPUT;
  if (status == TAILVOLT_OK) {
    struct tv_buffer charge_pct = {0};
    const struct tailvolt_ledger *ledger = &worst->ledgers[0];
    job->watched = tv_page_worst_amplifier(worst);
    for (int k = 0; k < worst->ledger_count; k++)
      if (worst->ledgers[k].amplifier_index == job->watched) ledger = &worst->ledgers[k];
    charge_by(worst, ledger->time_s, &charge_pct);
    struct stretch of = around(job, profile, ledger->time_s, span_s, charge_pct.text == NULL ? "" : charge_pct.text);
    if (charge_pct.failed) status = TAILVOLT_NO_MEMORY;
    else answer = stretch_answer(job, &of);
    free(charge_pct.text);
  }
  tailvolt_result_free(worst);
  return status == TAILVOLT_OK ? answer : tv_page_refuse(status, error);
}

char *tv_page_play(struct tv_page_job *job, double every_s) {
  if (job->system == NULL) return tv_page_refuse(TAILVOLT_BAD_INPUT, "no system is loaded");
  if (!(every_s >= 0.001)) return tv_page_refuse(TAILVOLT_BAD_INPUT, "no such interval");
  return stretch_answer(job, &(struct stretch){0, tailvolt_profile_start_s(job->profiles[0]), tailvolt_profile_end_s(job->profiles[0]),
                                               every_s, ""});
}

void tv_page_watch(struct tv_page_job *job, int amplifier) { job->watched = amplifier > 0 ? amplifier : 0; }
long tv_page_trace_rows(const struct tv_page_job *job) { return job->trace.rows; }
const float *tv_page_trace_cells(const struct tv_page_job *job) { return job->trace.cells; }
