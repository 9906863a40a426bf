#include "simulate/lanes.h"

#include <math.h>
#include <stdio.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "parts/battery_labels.h"
#include "simulate/draws.h"
#include "simulate/each.h"
#include "simulate/event.h"
#include "simulate/swing.h"
#include "text/lock.h"

/* ---- one job, on its way through its profile ---- */

enum stage { SETTLING, PLAYING };
enum { PARTS = 1000 }; /* of a job, for progress */

struct player {
  struct tv_lane_job *job;
  struct tv_run *run;
  enum stage stage;
  int shown;                             /* how much of it progress knows of, in PARTS */
  struct tailvolt_profile_cursor *cursor;
  struct tailvolt_row row;              /* the one in force, or the first */
  struct tailvolt_row next;             /* already read */
  bool ahead, over;                     /* there is a next one; there is none left */
  struct tailvolt_row settling;
  struct tailvolt_amplifier_row *quiet;
};

static void close_player(struct player *p) {
  tailvolt_profile_close(p->cursor);
  tv_run_free(p->run);
  free(p->quiet);
  memset(p, 0, sizeof *p);
}

static enum tailvolt_status fail(struct player *p, enum tailvolt_status status) {
  struct tv_lane_job *job = p->job;
  job->status = status;
  if (p->run != NULL && p->run->error[0] != '\0') memcpy(job->error, p->run->error, TAILVOLT_TEXT_MAX);
  if (job->error[0] == '\0') snprintf(job->error, sizeof job->error, "%s", tailvolt_status_text(status));
  return status;
}

static enum tailvolt_status make_run(struct player *p, const struct tv_programmes *shared, struct tv_labels *labels) {
  const struct tailvolt_system *sys = p->job->system;
  bool *prescribed = calloc((size_t)sys->amplifier_count + 1, sizeof *prescribed);
  if (prescribed == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < sys->amplifier_count; k++) prescribed[k] = tailvolt_profile_prescribes(p->job->profile, k);
  struct tailvolt_options options = *p->job->options;
  options.record = NULL;
  options.progress = NULL;
  enum tailvolt_status status = tv_run_create_by(sys, prescribed, &options, shared, labels, &p->run, p->job->error);
  free(prescribed);
  if (status == TAILVOLT_OK && p->job->drift_frac > 0) p->run->drift_frac = p->job->drift_frac;
  return status;
}

/* For an engine that idles faster than the profile says. */
static struct tailvolt_row lifted(const struct player *p, const struct tailvolt_row *row) {
  struct tailvolt_row copy = *row;
  if (copy.engine_rpm > 0) copy.engine_rpm = tv_most(copy.engine_rpm, p->job->least_rpm);
  return copy;
}

/* At the first row, and about to settle where it does. */
static enum tailvolt_status begin(struct player *p) {
  enum tailvolt_status status;
  p->quiet = calloc((size_t)p->job->system->amplifier_count + 1, sizeof *p->quiet);
  if (p->quiet == NULL) return TAILVOLT_NO_MEMORY;
  if ((status = tailvolt_profile_open(p->job->profile, &p->cursor)) != TAILVOLT_OK) return status;
  const struct tailvolt_row *first;
  if ((status = tailvolt_profile_next(p->cursor, &first)) != TAILVOLT_OK) return status;
  p->row = lifted(p, first);
  if ((status = tv_run_start(p->run, &p->row)) != TAILVOLT_OK) return status;
  if (!tv_run_settling_row(p->run, &p->row, p->quiet, &p->settling)) {
    p->stage = PLAYING;
    p->run->settled_s = 0;
    p->run->state.now.grid_count = p->run->state.now.grid_index = 0;
    return TAILVOLT_OK;
  }
  p->stage = SETTLING;
  p->run->options.time_step_s = tv_run_settling_step_s(p->run);
  return tv_run_begin_row(p->run, &p->settling, NULL, p->settling.time_s, p->row.time_s);
}

static enum tailvolt_status read_ahead(struct player *p) {
  const struct tailvolt_row *read;
  if (p->ahead || p->over) return TAILVOLT_OK;
  enum tailvolt_status status = tailvolt_profile_next(p->cursor, &read);
  if (status != TAILVOLT_OK) return status;
  p->ahead = read != NULL;
  p->over = read == NULL;
  if (p->ahead) p->next = lifted(p, read);
  return TAILVOLT_OK;
}

static void step_ahead(struct player *p) {
  p->row = p->next;
  p->ahead = false;
}

static bool row_goes_on(const struct player *p) {
  if (!(p->run->state.now.grid_count > 0)) return false;
  return tv_run_steps_left(p->run, p->run->hot, 0, HUGE_VAL) > 0 || tv_run_grid_goes_on(p->run, HUGE_VAL);
}

/* Whether steps are left; lays out the next row if there is one. In the run's own block. */
static enum tailvolt_status next_steps(struct player *p, bool *done) {
  enum tailvolt_status status;
  struct tv_run *run = p->run;
  *done = false;
  while (tv_draws_left(run) == 0 && !row_goes_on(p)) {
    run->ended_s = run->state.now.row_end_s;
    if (p->stage == SETTLING) {
      p->stage = PLAYING;
      run->options.time_step_s = p->job->options->time_step_s;
      if ((status = tv_run_end_settling(run, &p->row)) != TAILVOLT_OK) return status;
    }
    if ((status = read_ahead(p)) != TAILVOLT_OK) return status;
    while (p->ahead && !tv_draws_full(run) && tv_draws_take(run, &p->row, &p->next)) {
      step_ahead(p);
      bool more = tv_draws_take_more(run, p->cursor);
      if ((status = read_ahead(p)) != TAILVOLT_OK) return status;
      if (!more) continue;
      step_ahead(p);
      if ((status = read_ahead(p)) != TAILVOLT_OK) return status;
    }
    if (tv_draws_left(run) > 0) break;
    if ((*done = p->over)) return TAILVOLT_OK;
    if ((status = tv_run_begin_row(run, &p->row, &p->next, p->row.time_s, p->next.time_s)) != TAILVOLT_OK) return status;
    step_ahead(p);
  }
  return tv_run_bring_up_to_date(run);
}

static long long steps_left(const struct player *p, const struct tv_hot *hot, int lane) {
  long long drawn = tv_draws_left(p->run);
  return drawn > 0 ? drawn : tv_run_steps_left(p->run, hot, lane, HUGE_VAL);
}

static void find_quantiles(const struct player *p) {
  const struct tv_lane_job *job = p->job;
  int amplifiers = job->system->amplifier_count;
  for (int k = 0; k < job->missed_count * amplifiers * TAILVOLT_PHASES; k++) {
    int a = k / TAILVOLT_PHASES % amplifiers, phase = k % TAILVOLT_PHASES;
    job->quantile_v[k] = tv_statistics_quantile_v(&p->run->statistics->amplifier[a].bins[phase], 1,
                                                  job->missed_frac[k / TAILVOLT_PHASES / amplifiers]);
  }
}

/* The profile may be run once more for that: `asked` whether to stop. */
static void finish(struct player *p, const struct tv_programmes *shared, int (*asked)(void *context, double done_frac), void *context) {
  p->run->options.progress = asked;
  p->run->options.progress_context = context;
  enum tailvolt_status status = tv_swing_run(p->run, p->job->profile, shared);
  if (status == TAILVOLT_OK) status = tv_run_finish(p->run, tailvolt_profile_name(p->job->profile), &p->job->result);
  if (status == TAILVOLT_OK) find_quantiles(p);
  if (status != TAILVOLT_OK)
    fail(p, status);
  else
    p->job->status = TAILVOLT_OK;
}

/* ---- a block of lanes ---- */

struct bench {
  struct tv_hot *hot;
  struct tv_layout *layout;             /* the first run's; kept alive by it */
  struct player player[TV_LANES_MOST];
  struct player stock[TV_LANES_MOST];   /* those that it began with and are in no lane yet */
  int stock_from, stock_to;
  long long left[TV_LANES_MOST];        /* steps left in the lane's row */
  bool touched;                         /* a lane was changed other than by its steps: they may hear something else */
};

/* Whether all lanes hear the same, so that it is computed once, by the first; an idle one hears what that hears. */
static void compare_lanes(struct bench *b) {
  struct tv_hot *hot = b->hot;
  const struct tv_run *first = b->player[0].run;
  hot->one_time = first != NULL;
  for (int l = 1; l < hot->lanes && hot->one_time; l++) {
    const struct tv_run *run = b->player[l].run;
    if (run == NULL) continue;
    size_t lane = offsetof(struct tv_hot_lane, from_s);
    bool alike = tv_hot_lane_value(hot, l, lane) == tv_hot_lane_value(hot, 0, lane);
    lane = offsetof(struct tv_hot_lane, step_s);
    alike = alike && tv_hot_lane_value(hot, l, lane) == tv_hot_lane_value(hot, 0, lane);
    lane = offsetof(struct tv_hot_lane, index);
    alike = alike && tv_hot_lane_value(hot, l, lane) == tv_hot_lane_value(hot, 0, lane);
    alike = alike && run->system->programme_count == first->system->programme_count && run->plays == first->plays;
    for (int k = 0; alike && k < run->system->programme_count; k++)
      alike = run->programme[k] == first->programme[k] && run->play[k].used == first->play[k].used &&
              memcmp(&run->state.cursor[k], &first->state.cursor[k], sizeof run->state.cursor[k]) == 0 &&
              run->play[k].last_end_s == first->play[k].last_end_s && run->play[k].last_sin == first->play[k].last_sin &&
              run->play[k].last_cos == first->play[k].last_cos;
    for (int k = 0; alike && k < run->system->amplifier_count; k++)
      alike = run->drive[k].programme == first->drive[k].programme;
    hot->one_time = alike;
  }
}

/* The others' cursors follow the one that was used. */
static void share_time(struct bench *b) {
  if (!b->hot->one_time) return;
  const struct tv_run *first = b->player[0].run;
  size_t count = (size_t)first->system->programme_count;
  for (int l = 1; l < b->hot->lanes; l++) {
    struct tv_run *run = b->player[l].run;
    if (run == NULL) continue;
    memcpy(run->state.cursor, first->state.cursor, count * sizeof *run->state.cursor);
    memcpy(run->play, first->play, count * sizeof *run->play);
  }
}

/* An idle lane runs as a copy of a live one, taken again whenever a lane was changed: its numbers stay those of a car. */
static void fill_idle(struct bench *b) {
  int source = -1;
  for (int l = 0; l < b->hot->lanes && source < 0; l++)
    if (b->player[l].run != NULL) source = l;
  if (source < 0) return;
  size_t live = (size_t)b->hot->layout->lane + offsetof(struct tv_hot_lane, live) / sizeof(double);
  for (int l = 0; l < b->hot->lanes; l++) {
    if (b->player[l].run != NULL) continue;
    tv_hot_copy_lane(b->hot, source, l);
    b->hot->run[l] = b->player[source].run;
    b->hot->d[live * (size_t)b->hot->lanes + (size_t)l] = 0;
  }
}

/* ---- the queue ---- */

struct queue {
  struct tv_lock lock, reporting;       /* of what is made and busy; of progress */
  struct tv_lane_job *jobs;
  struct player *made;                  /* runs made but not begun */
  int count;
  int busy;                             /* threads that step a block */
  atomic_llong finished;                /* in PARTS of a job */
  const struct tv_programmes *shared;
  const struct tv_lanes_how *how;
  atomic_bool stopped;                  /* set by the thread that notices it, checked by all between stretches */
};

static bool take_job(struct bench *b, struct queue *q, struct player *out) {
  bool found = b->stock_from < b->stock_to && !q->stopped;
  if (found) *out = b->stock[b->stock_from++];
  if (found) return true;
  tv_lock_take(&q->lock);
  for (int k = 0; k < q->count && !found && !q->stopped; k++)
    if (q->made[k].run != NULL && q->made[k].run->layout->hash == b->layout->hash) {
      *out = q->made[k];
      memset(&q->made[k], 0, sizeof q->made[k]);
      found = true;
    }
  tv_lock_give(&q->lock);
  return found;
}

/* So much of a job is done. Nobody waits for another thread that reports, unless a job has ended. */
static void report_progress(struct queue *q, struct player *p, int done) {
  int more = done > p->shown ? done - p->shown : 0;
  long long finished = atomic_fetch_add(&q->finished, more) + more;
  p->shown += more;
  if (q->how->progress == NULL || q->stopped) return;
  if (done == PARTS) tv_lock_take(&q->reporting);
  else if (!tv_lock_try(&q->reporting)) return;
  if (!q->stopped) q->stopped = q->how->progress(q->how->context, (double)finished / ((double)q->count * PARTS)) != 0;
  tv_lock_give(&q->reporting);
}

/* Whether to stop, while a run goes on by itself. */
static int ask(void *context, double done_frac) {
  struct queue *q = context;
  (void)done_frac;
  if (q->how->progress == NULL || q->stopped || !tv_lock_try(&q->reporting)) return q->stopped;
  double finished = (double)atomic_load(&q->finished) / ((double)q->count * PARTS);
  if (!q->stopped) q->stopped = q->how->progress(q->how->context, finished) != 0;
  tv_lock_give(&q->reporting);
  return q->stopped;
}

static int done_parts(const struct player *p) {
  const struct tailvolt_profile *profile = p->job->profile;
  double start_s = tailvolt_profile_start_s(profile), length_s = tailvolt_profile_end_s(profile) - start_s;
  if (p->stage == SETTLING || !(length_s > 0)) return 0;
  return (int)(tv_least(tv_most((p->run->now_s - start_s) / length_s, 0), 1) * (PARTS - 1));
}

static void end_lane(struct bench *b, struct queue *q, int l) {
  report_progress(q, &b->player[l], PARTS);
  close_player(&b->player[l]);
}

/* Puts the next job of the shape into a lane, ready to step; false where none is left. */
static bool refill(struct bench *b, struct queue *q, int l) {
  struct player *p = &b->player[l];
  while (take_job(b, q, p)) {
    bool done = false;
    enum tailvolt_status status = begin(p);
    if (status == TAILVOLT_OK) status = next_steps(p, &done);
    if (status == TAILVOLT_OK && !done) {
      b->hot->run[l] = p->run;
      TV_HOT(p->run->hot, lane)->live = 1;
      tv_hot_insert(b->hot, l, true);
      b->left[l] = steps_left(p, b->hot, l);
      b->touched = true;
      return true;
    }
    if (status == TAILVOLT_OK)
      finish(p, q->shared, ask, q);
    else
      fail(p, status);
    end_lane(b, q, l);
  }
  return false;
}

/* After a stretch of steps: clocks, the next row, the end. In the lane's own block where there is anything to
 * do. */
static void look_after(struct bench *b, struct queue *q, int l) {
  struct player *p = &b->player[l];
  struct tv_run *run = p->run;
  enum tailvolt_status status = run->failed;
  bool done = false, due = status == TAILVOLT_OK && tv_run_is_due(run, b->hot, l);
  if (status == TAILVOLT_OK && !due && b->left[l] > 0) return;
  b->touched = true;
  tv_hot_extract(b->hot, l);
  run->matrix_moved = false;
  run->now_s = TV_HOT(run->hot, lane)->now_s;
  if (due) {
    status = tv_run_clocks(run);
    report_progress(q, p, done_parts(p));
  }
  if (status == TAILVOLT_OK && due && p->job->stop != NULL && p->stage == PLAYING && p->job->stop(p->job->context, run))
    status = TAILVOLT_STOPPED;
  if (status == TAILVOLT_OK) status = next_steps(p, &done);
  if (status == TAILVOLT_OK && !done) {
    tv_hot_insert(b->hot, l, run->matrix_moved);
    b->left[l] = steps_left(p, b->hot, l);
    return;
  }
  if (status == TAILVOLT_OK)
    finish(p, q->shared, ask, q);
  else
    fail(p, status);
  end_lane(b, q, l);
  refill(b, q, l);
}

static bool anyone(const struct bench *b) {
  for (int l = 0; l < b->hot->lanes; l++)
    if (b->player[l].run != NULL) return true;
  return false;
}

static enum tailvolt_status run_bench(struct bench *b, struct queue *q) {
  for (int l = 0; l < b->hot->lanes; l++) refill(b, q, l);
  while (anyone(b) && !q->stopped) {
    long long count = -1;
    if (b->touched) fill_idle(b);
    if (b->touched) compare_lanes(b);
    b->touched = false;
    for (int l = 0; l < b->hot->lanes; l++) {
      struct tv_run *run = b->player[l].run;
      if (run == NULL) continue;
      tv_draws_hand_over(run, b->hot, l);
      long long here = tv_run_steps_to_tick(run, b->hot, l);
      if (b->left[l] < here) here = b->left[l];
      if (count < 0 || here < count) count = here;
    }
    enum tailvolt_status status = b->hot->ops->steps(b->hot, count);
    if (status != TAILVOLT_OK) return status;
    share_time(b);
    for (int l = 0; l < b->hot->lanes; l++) {
      if (b->player[l].run == NULL) continue;
      b->player[l].run->steps += b->hot->done;
      b->left[l] -= b->hot->done;
      tv_draws_done(b->player[l].run, b->hot, l, b->hot->done);
    }
    for (int l = 0; l < b->hot->lanes; l++)
      if (b->player[l].run != NULL) look_after(b, q, l);
  }
  for (int l = 0; l < b->hot->lanes; l++)
    if (b->player[l].run != NULL) {
      fail(&b->player[l], TAILVOLT_STOPPED);
      close_player(&b->player[l]);
    }
  return TAILVOLT_OK;
}

/* How wide a block for that many jobs of a shape. Four lanes step for the price of two, or of one and a third: only a job alone is
 * better off in one, and two where another thread would have nothing to do. */
static int width_for(int alike, int most, int idle) {
  if (most == 4 && tv_hot_ops(most, TV_VECTORS_ALL)->wide) return alike == 1 || (alike == 2 && idle > 1) ? 1 : most;
  if (idle > 1) alike = (alike + idle - 1) / idle;
  while (most > 1 && most / 2 >= alike) most /= 2;
  return most;
}

/* The next job, a width for its shape, and as many like it as there are lanes: another thread that found some of them would step a
 * second block, half empty, for as long. Returns how many. */
static int take_block(struct queue *q, struct player stock[TV_LANES_MOST], int *lanes, int threads) {
  const struct tv_run *first = NULL;
  tv_lock_take(&q->lock);
  int alike = 0, left = 0, taken = 0, idle = threads - q->busy;
  for (int k = 0; k < q->count && !q->stopped; k++) {
    if (q->made[k].run == NULL) continue;
    if (first == NULL) first = q->made[k].run;
    left++;
    alike += q->made[k].run->layout->hash == first->layout->hash;
  }
  if (first != NULL && q->how->lanes <= 0) *lanes = width_for(alike, *lanes, left == alike ? idle : 1);
  unsigned long long hash = first != NULL ? first->layout->hash : 0;
  for (int k = 0; k < q->count && first != NULL && taken < *lanes; k++) {
    if (q->made[k].run == NULL || q->made[k].run->layout->hash != hash) continue;
    stock[taken++] = q->made[k];
    memset(&q->made[k], 0, sizeof q->made[k]);
  }
  if (taken > 0) q->busy++;
  tv_lock_give(&q->lock);
  return taken;
}

static void end_block(struct queue *q) {
  tv_lock_take(&q->lock);
  q->busy--;
  tv_lock_give(&q->lock);
}

/* One thread: takes blocks of the shape of whatever job is next, until none is left. */
static enum tailvolt_status work(struct queue *q, int most, int threads) {
  struct player stock[TV_LANES_MOST];
  enum tailvolt_status status = TAILVOLT_OK;
  int count;
  for (int lanes = most; status == TAILVOLT_OK && (count = take_block(q, stock, &lanes, threads)) > 0; lanes = most) {
    struct bench *b = calloc(1, sizeof *b);
    struct tv_layout *layout = NULL;
    status = b == NULL ? TAILVOLT_NO_MEMORY : tv_layout_copy(stock[0].run->layout, &layout);
    if (status == TAILVOLT_OK) status = tv_hot_create(layout, lanes, q->how->vectors, tv_hot_event, &b->hot);
    int unused = 0;
    if (status == TAILVOLT_OK) {
      b->layout = layout;
      memcpy(b->stock, stock, (size_t)count * sizeof *stock);
      b->stock_to = count;
      status = run_bench(b, q);
      unused = b->stock_from;
    } else {
      fail(&stock[0], status);
    }
    for (int k = unused; k < count; k++) close_player(&stock[k]); /* stopped before their turn */
    if (b != NULL) tv_hot_free(b->hot);
    tv_layout_free(layout);
    free(b);
    end_block(q);
  }
  return status;
}

int tv_lanes_best(void) {
  const struct tv_hot_ops *four = tv_hot_ops(4, TV_VECTORS_ALL);
  return four != NULL && four->wide ? 4 : 2;
}

/* What the threads share. */
struct crew {
  struct queue *q;
  const struct tv_programmes *shared;
  struct tv_labels *labels;
  int lanes, threads;
  enum tailvolt_status status;
};

static void make_one(void *context, int k) {
  struct crew *crew = context;
  struct player *made = &crew->q->made[k];
  struct tv_lane_job *job = &crew->q->jobs[k];
  job->status = TAILVOLT_STOPPED;
  job->result = NULL;
  job->error[0] = '\0';
  made->job = job;
  enum tailvolt_status status = make_run(made, crew->shared, crew->labels);
  if (status == TAILVOLT_OK) return;
  fail(made, status);
  close_player(made);
}

static void work_one(void *context, int k) {
  struct crew *crew = context;
  (void)k;
  enum tailvolt_status mine = work(crew->q, crew->lanes, crew->threads);
  if (mine == TAILVOLT_OK) return;
  tv_lock_take(&crew->q->lock);
  crew->status = mine;
  tv_lock_give(&crew->q->lock);
}

enum tailvolt_status tv_lanes_simulate(struct tv_lane_job *jobs, int count, const struct tv_programmes *shared,
                                       const struct tv_lanes_how *how) {
  struct queue q = {.jobs = jobs, .count = count, .shared = shared, .how = how};
  int lanes = how->lanes > 0 ? how->lanes : tv_lanes_best(), threads = how->threads;
  enum tailvolt_status status = TAILVOLT_OK;
  while (lanes > 2 && tv_hot_ops(lanes, how->vectors) == NULL) lanes /= 2; /* not made for this processor */
  if (count <= 0) return TAILVOLT_OK;
  /* jobs on systems of one origin mostly play the same: then it is made once, and lanes listen together */
  struct tv_programmes *made_here = NULL;
  struct tv_labels *own_labels = how->labels == NULL && count > 1 ? tv_labels_make() : NULL;
  struct tv_labels *labels = how->labels != NULL ? how->labels : own_labels;
  char unheard[TAILVOLT_TEXT_MAX];
  if (shared == NULL && count > 1 && tv_programmes_make(jobs[0].system, jobs[0].options, &made_here, unheard) == TAILVOLT_OK)
    q.shared = shared = made_here;
  q.made = calloc((size_t)count, sizeof *q.made);
  if (q.made == NULL) {
    tv_programmes_free(made_here);
    tv_labels_free(own_labels);
    return TAILVOLT_NO_MEMORY;
  }
  threads = tv_threads(threads);
  struct crew crew = {&q, shared, labels, lanes, threads, TAILVOLT_OK};
  tv_lock_make(&q.lock);
  tv_lock_make(&q.reporting);
  tv_each(count, threads, make_one, &crew);
  tv_labels_free(own_labels);
  tv_each(threads < count ? threads : count, threads, work_one, &crew);
  tv_lock_free(&q.lock);
  tv_lock_free(&q.reporting);
  status = crew.status;
  for (int k = 0; k < count; k++)
    if (q.made[k].run != NULL) close_player(&q.made[k]);
  free(q.made);
  tv_programmes_free(made_here);
  if (status == TAILVOLT_OK && q.stopped) status = TAILVOLT_STOPPED;
  /* a job less would be another answer of whoever asked */
  for (int k = 0; k < count; k++)
    if (jobs[k].status == TAILVOLT_NO_MEMORY) status = TAILVOLT_NO_MEMORY;
  for (int k = 0; k < count && status == TAILVOLT_NO_MEMORY; k++) {
    tailvolt_result_free(jobs[k].result);
    jobs[k].result = NULL;
    jobs[k].status = status;
  }
  return status;
}
