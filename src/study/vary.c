/* The rows of a variation, run side by side. Each reads its own files and shares nothing with the others except
 * programmes, constant once made, so neither threads nor shards can change a bit of it. */
#include "tailvolt/vary.h"

#include <math.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "input/faults.h"
#include "input/faults.h"
#include "simulate/each.h"
#include "simulate/lanes.h"
#include "simulate/programmes.h"
#include "study/parked.h"
#include "text/lock.h"
#include "text/unfit.h"

void tailvolt_vary_options_init(struct tailvolt_vary_options *options, size_t size) {
  struct tailvolt_vary_options all = {
      .size = size, .run = tailvolt_default_options(), .shard = 1, .shard_count = 1};
  memcpy(options, &all, size < sizeof all ? size : sizeof all);
}

bool tailvolt_vary_in_shard(const struct tailvolt_vary_options *options, long index) {
  return options->shard_count <= 1 || index % options->shard_count == options->shard - 1;
}

/* What all rows are made from. */
struct job {
  const char *system_path, *profile_path;
  struct tailvolt_vary_texts texts;
  const struct tailvolt_setting *settings;
  int setting_count;
  const struct tailvolt_variation *variation;
  const struct tailvolt_vary_options *options;
  long row_count; /* to run */
  long *rows;
  atomic_int status; /* the first failure that ends everything */
  struct tv_programmes *programmes; /* of the first row, so a recording is read once; may be NULL */
};

/* The row's settings, after the user's; free with free(). */
static struct tailvolt_setting *row_settings(const struct job *job, long index,
                                             char (*texts)[2 * TAILVOLT_VARY_TEXT_MAX + 8]) {
  struct tailvolt_setting *all = calloc((size_t)job->setting_count + TAILVOLT_VARY_KEYS, sizeof *all);
  if (all == NULL) return NULL;
  for (int k = 0; k < job->setting_count; k++) all[k] = job->settings[k];
  for (int k = 0; k < job->variation->key_count; k++) {
    snprintf(texts[k], sizeof texts[k], "%s = %s", job->variation->keys[k].key,
             tailvolt_variation_value(job->variation, index, k));
    all[job->setting_count + k].text = texts[k];
  }
  return all;
}

static enum tailvolt_status read_row(const struct job *job, long index, bool with_profile,
                                     struct tailvolt_system **system, struct tailvolt_profile **profile,
                                     struct tailvolt_faults *faults) {
  char texts[TAILVOLT_VARY_KEYS][2 * TAILVOLT_VARY_TEXT_MAX + 8];
  struct tailvolt_setting *all = row_settings(job, index, texts);
  *system = NULL;
  *profile = NULL;
  if (all == NULL) return TAILVOLT_NO_MEMORY;
  int count = job->setting_count + job->variation->key_count;
  const struct tailvolt_vary_texts *texts_of = &job->texts;
  const char *columns = job->options->columns;
  enum tailvolt_status status = texts_of->system != NULL
                                    ? tailvolt_system_parse(texts_of->system, job->system_path, all, count, system, faults)
                                    : tailvolt_system_read(job->system_path, all, count, system, faults);
  if (status == TAILVOLT_OK && with_profile)
    status = texts_of->profile != NULL ? tailvolt_profile_parse_columns(texts_of->profile, texts_of->profile_length, job->profile_path,
                                                                        columns, *system, profile, faults)
                                       : tailvolt_profile_read(job->profile_path, columns, *system, profile, faults);
  free(all);
  return status;
}

/* The row in which key k has its value v and every other key its first. */
static long row_of(const struct tailvolt_variation *variation, int key, int value) {
  long row = value;
  for (int k = key + 1; k < variation->key_count; k++) row *= variation->keys[k].value_count;
  return row;
}

static bool same_fault(const struct tailvolt_fault *a, const struct tailvolt_fault *b) {
  return strcmp(a->file, b->file) == 0 && a->line == b->line && a->column == b->column &&
         strcmp(a->key, b->key) == 0 && strcmp(a->value, b->value) == 0 &&
         strcmp(a->message, b->message) == 0;
}

/* A fault in the file itself comes up with every value: once is enough. */
static void gather(struct tailvolt_faults *to, const struct tailvolt_faults *from) {
  for (int k = 0; k < from->count; k++) {
    bool known = false;
    for (int j = 0; j < to->count && !known; j++) known = same_fault(&to->fault[j], &from->fault[k]);
    if (known) continue;
    if (to->count < TAILVOLT_FAULTS_MAX)
      to->fault[to->count++] = from->fault[k];
    else
      to->dropped++;
  }
}

enum tailvolt_status tailvolt_vary_check(const char *system_path, const struct tailvolt_setting *settings,
                                         int setting_count, const char *profile_path,
                                         const struct tailvolt_variation *variation,
                                         const struct tailvolt_vary_options *options,
                                         struct tailvolt_faults *faults) {
  TV_FAULTS_OR_OWN(faults, tailvolt_vary_check(system_path, settings, setting_count, profile_path, variation,
                                                options, faults));
  faults->count = faults->dropped = 0;
  if (options->size != sizeof *options) return TAILVOLT_INTERNAL;
  struct job job = {.system_path = system_path,
                    .profile_path = profile_path,
                    .settings = settings,
                    .setting_count = setting_count,
                    .variation = variation,
                    .options = options};
  struct tailvolt_faults *found = calloc(1, sizeof *found);
  enum tailvolt_status worst = found != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  const char *const paths[] = {system_path, profile_path};
  for (int k = 0; k < 2 && worst != TAILVOLT_NO_MEMORY; k++) {
    const char *unfit = tv_unfit(paths[k], true);
    if (unfit == NULL) continue;
    tv_fault_add(faults, paths[k], 0, 0, NULL, NULL, "%s", unfit);
    worst = TAILVOLT_NOT_READABLE;
  }
  for (int key = 0; key < variation->key_count; key++) {
    for (int value = key == 0 ? 0 : 1; value < variation->keys[key].value_count; value++) {
      struct tailvolt_system *system;
      struct tailvolt_profile *profile;
      if (worst != TAILVOLT_OK && worst != TAILVOLT_BAD_INPUT) break;
      memset(found, 0, sizeof *found);
      /* a long profile need not be read for every value */
      enum tailvolt_status status =
          read_row(&job, row_of(variation, key, value), key == 0 && value == 0, &system, &profile, found);
      gather(faults, found);
      if (status != TAILVOLT_OK) worst = status;
      tailvolt_profile_free(profile);
      tailvolt_system_free(system);
    }
  }
  free(found);
  return worst;
}

/* Rows in memory at a time: enough to keep every lane of every thread busy. */
#define BATCH_A_THREAD 16

struct row_run;

struct batch {
  struct job *job;
  long first;
  int count;
  struct row_run *run;
  int stage, stages; /* each row's run, its playing time, cars like it */
  struct tv_lock reporting;
  atomic_int played;
  atomic_bool stopped;
};

static void end_all(struct job *job, enum tailvolt_status status) {
  int none = TAILVOLT_OK;
  atomic_compare_exchange_strong(&job->status, &none, (int)status);
}

static int report_progress(void *context, double done_frac) {
  struct batch *batch = context;
  struct job *job = batch->job;
  double done = (double)batch->first + batch->count * (batch->stage + done_frac) / batch->stages;
  if (job->options->progress == NULL) return 0;
  if (job->options->progress(job->options->context, done / (double)job->row_count) != 0) atomic_store(&batch->stopped, true);
  return atomic_load(&batch->stopped);
}

/* Of rows that are played side by side; nobody waits for another thread that asks. */
static int look_while_playing(void *context, double done_frac) {
  struct batch *batch = context;
  (void)done_frac;
  if (atomic_load(&batch->stopped) || !tv_lock_try(&batch->reporting)) return atomic_load(&batch->stopped);
  int stop = report_progress(batch, (double)atomic_load(&batch->played) / batch->count);
  tv_lock_give(&batch->reporting);
  return stop;
}

/* Of cars like one row's, all threads together. */
static int look_while_drawing(void *context, double done_frac) {
  struct batch *batch = context;
  return report_progress(batch, (atomic_load(&batch->played) + done_frac) / batch->count);
}

static void say_fault(const struct tailvolt_faults *faults, enum tailvolt_status status,
                      char error[TAILVOLT_TEXT_MAX]) {
  if (error[0] != '\0') return;
  if (faults->count > 0)
    snprintf(error, TAILVOLT_TEXT_MAX, "%.90s: %.150s", faults->fault[0].key, faults->fault[0].message);
  else
    snprintf(error, TAILVOLT_TEXT_MAX, "%s", tailvolt_status_text(status));
}

/* What one row needs while it runs. */
struct row_run {
  struct tailvolt_faults *faults;
  struct tailvolt_system *system;
  struct tailvolt_profile *profile;
  enum tailvolt_status status;
  int place; /* index among the lanes' jobs; -1 = could not be read */
  double parked_s;
  struct tailvolt_certainty certainty;
};

/* Playing time of the system alone: its own music at level 0. A car that cannot be played parked has none.
 * With ripple, as in `parked`: without it, a note that dips under the cut-out cuts out too soon. */
static enum tailvolt_status play_parked(struct batch *batch, struct row_run *run) {
  const struct job *job = batch->job;
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tv_parked_brief brief;
  char error[TAILVOLT_TEXT_MAX];
  options.run = job->options->run;
  options.run.record = NULL;
  options.run.progress = look_while_playing;
  options.run.progress_context = batch;
  options.threads = 1;
  enum tailvolt_status status = tv_parked_brief_with(run->system, NULL, &options, NULL, &brief, error);
  if (status == TAILVOLT_OK) run->parked_s = brief.ends_by == TAILVOLT_ENDS_BY_TIME ? (double)INFINITY : brief.until_s;
  return status == TAILVOLT_NO_MEMORY ? status : TAILVOLT_OK;
}

/* In how many cars like this row's the profile holds; the same cars, factor by factor, in every row. */
static enum tailvolt_status draw_cars(struct batch *batch, struct row_run *run, const struct tailvolt_result *result) {
  const struct job *job = batch->job;
  struct tailvolt_certainty_options options = tailvolt_default_certainty_options();
  const struct tailvolt_profile *profiles[] = {run->profile};
  options.run = &job->options->run;
  options.vehicles = job->options->vehicles;
  options.threads = tv_threads(job->options->threads);
  options.shares = false;
  options.progress = look_while_drawing;
  options.context = batch;
  enum tailvolt_status status = tailvolt_certainty(run->system, profiles, 1, &result, &options, &run->certainty, NULL);
  if (atomic_load(&batch->stopped)) return TAILVOLT_STOPPED; /* what it has by then is no answer for a row */
  return status == TAILVOLT_NO_MEMORY ? status : TAILVOLT_OK;
}

static void hand_over(struct job *job, long place, const struct row_run *run, const struct tv_lane_job *lane) {
  struct tailvolt_vary_row row = {.index = job->rows[place], .status = lane != NULL ? lane->status : run->status,
                                  .parked_s = run->parked_s};
  char error[TAILVOLT_TEXT_MAX] = "";
  if (atomic_load(&job->status) != TAILVOLT_OK) return;
  if (row.status == TAILVOLT_NO_MEMORY || row.status == TAILVOLT_STOPPED) {
    end_all(job, row.status);
    return;
  }
  if (run->certainty.known) row.certainty = &run->certainty;
  if (lane != NULL) memcpy(error, lane->error, sizeof error);
  if (row.status != TAILVOLT_OK) say_fault(run->faults, row.status, error);
  row.system = run->system;
  row.result = row.status == TAILVOLT_OK && lane != NULL ? lane->result : NULL;
  row.error = error;
  if (job->options->row != NULL && job->options->row(job->options->context, &row) != 0)
    end_all(job, TAILVOLT_NOT_WRITTEN);
}

static void read_one(void *context, int k) {
  struct batch *batch = context;
  struct row_run *run = &batch->run[k];
  run->faults = calloc(1, sizeof *run->faults);
  run->status = TAILVOLT_NO_MEMORY;
  run->parked_s = (double)NAN;
  if (run->faults == NULL) return;
  run->status = read_row(batch->job, batch->job->rows[batch->first + k], true, &run->system, &run->profile, run->faults);
}

static void play_one(void *context, int k) {
  struct batch *batch = context;
  if (batch->run[k].place >= 0 && !atomic_load(&batch->stopped)) batch->run[k].status = play_parked(batch, &batch->run[k]);
  atomic_fetch_add(&batch->played, 1);
}

/* How long each plays, then in how many cars like it the profile holds. */
static enum tailvolt_status study_rows(struct batch *batch, const struct tv_lane_job *lane, int threads) {
  const struct tailvolt_vary_options *options = batch->job->options;
  enum tailvolt_status status = TAILVOLT_OK;
  if (options->parked) {
    batch->stage++;
    tv_each(batch->count, threads, play_one, batch);
    for (int k = 0; k < batch->count; k++)
      if (batch->run[k].status == TAILVOLT_NO_MEMORY) status = TAILVOLT_NO_MEMORY;
    if (status == TAILVOLT_OK && atomic_load(&batch->stopped)) status = TAILVOLT_STOPPED;
  }
  if (options->vehicles > 0) batch->stage++;
  for (int k = 0; k < batch->count && status == TAILVOLT_OK && options->vehicles > 0; k++) {
    struct row_run *run = &batch->run[k];
    atomic_store(&batch->played, k);
    if (run->place >= 0 && lane[run->place].result != NULL) status = draw_cars(batch, run, lane[run->place].result);
  }
  return status;
}

/* Reads the rows of a batch, runs them side by side and delivers them in order. */
static void run_batch(struct job *job, long first, int count) {
  struct row_run *run = calloc((size_t)count, sizeof *run);
  struct tv_lane_job *lane = calloc((size_t)count, sizeof *lane);
  struct batch batch = {.job = job, .first = first, .count = count, .run = run};
  struct tv_lanes_how how = {.threads = tv_threads(job->options->threads), .progress = report_progress, .context = &batch};
  struct tailvolt_options options = job->options->run;
  enum tailvolt_status status = run != NULL && lane != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  int lanes = 0;
  batch.stages = 1 + job->options->parked + (job->options->vehicles > 0);
  tv_lock_make(&batch.reporting);
  atomic_init(&batch.played, 0);
  atomic_init(&batch.stopped, false);
  options.record = NULL;
  options.progress = NULL;
  if (status == TAILVOLT_OK) tv_each(count, how.threads, read_one, &batch);
  for (int k = 0; k < count && status == TAILVOLT_OK; k++)
    if (run[k].status == TAILVOLT_NO_MEMORY) status = TAILVOLT_NO_MEMORY;
  for (int k = 0; k < count && status == TAILVOLT_OK; k++) {
    run[k].place = run[k].status == TAILVOLT_OK ? lanes++ : -1;
    if (run[k].place < 0) continue;
    lane[run[k].place] =
        (struct tv_lane_job){.system = run[k].system, .profile = run[k].profile, .options = &options};
  }
  if (status == TAILVOLT_OK) status = tv_lanes_simulate(lane, lanes, job->programmes, &how);
  if (status == TAILVOLT_OK) status = study_rows(&batch, lane, how.threads);
  if (status != TAILVOLT_OK) end_all(job, status);
  for (int k = 0; k < count && run != NULL && lane != NULL; k++) {
    if (status == TAILVOLT_OK) hand_over(job, first + k, &run[k], run[k].place >= 0 ? &lane[run[k].place] : NULL);
    tailvolt_profile_free(run[k].profile);
    tailvolt_system_free(run[k].system);
    free(run[k].faults);
  }
  for (int k = 0; k < lanes; k++) tailvolt_result_free(lane[k].result);
  tv_lock_free(&batch.reporting);
  free(run);
  free(lane);
}

static enum tailvolt_status choose_rows(struct job *job) {
  const struct tailvolt_vary_options *options = job->options;
  job->rows = malloc((size_t)job->variation->row_count * sizeof *job->rows);
  if (job->rows == NULL) return TAILVOLT_NO_MEMORY;
  for (long k = 0; k < job->variation->row_count; k++)
    if (tailvolt_vary_in_shard(options, k) &&
        (options->wanted == NULL || options->wanted(options->context, k)))
      job->rows[job->row_count++] = k;
  return TAILVOLT_OK;
}

/* Where this fails each row makes its own and reports what is wrong. */
static void make_programmes(struct job *job) {
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  struct tailvolt_system *system = NULL;
  struct tailvolt_profile *profile = NULL;
  char error[TAILVOLT_TEXT_MAX];
  if (faults != NULL && job->row_count > 1 &&
      read_row(job, job->rows[0], false, &system, &profile, faults) == TAILVOLT_OK &&
      tv_programmes_make(system, &job->options->run, &job->programmes, error) != TAILVOLT_OK)
    job->programmes = NULL;
  tailvolt_system_free(system);
  free(faults);
}

enum tailvolt_status tailvolt_vary_texts(const struct tailvolt_vary_texts *texts, const char *system_path,
                                         const struct tailvolt_setting *settings, int setting_count, const char *profile_path,
                                         const struct tailvolt_variation *variation, const struct tailvolt_vary_options *options) {
  if (options->size != sizeof *options || options->shard_count < 1 || options->shard < 1 ||
      options->shard > options->shard_count)
    return TAILVOLT_INTERNAL;
  struct job job = {.system_path = system_path,
                    .profile_path = profile_path,
                    .texts = *texts,
                    .settings = settings,
                    .setting_count = setting_count,
                    .variation = variation,
                    .options = options};
  atomic_init(&job.status, (int)TAILVOLT_OK);
  enum tailvolt_status status = choose_rows(&job);
  if (status == TAILVOLT_OK) {
    make_programmes(&job);
    int most = BATCH_A_THREAD * tv_threads(options->threads);
    for (long k = 0; k < job.row_count && atomic_load(&job.status) == TAILVOLT_OK; k += most)
      run_batch(&job, k, job.row_count - k < most ? (int)(job.row_count - k) : most);
    status = (enum tailvolt_status)atomic_load(&job.status);
  }
  tv_programmes_free(job.programmes);
  free(job.rows);
  return status;
}

enum tailvolt_status tailvolt_vary(const char *system_path, const struct tailvolt_setting *settings, int setting_count,
                                   const char *profile_path, const struct tailvolt_variation *variation,
                                   const struct tailvolt_vary_options *options) {
  const struct tailvolt_vary_texts none = {0};
  return tailvolt_vary_texts(&none, system_path, settings, setting_count, profile_path, variation, options);
}
