/* One vehicle: its runs, and the windows the fine run plays. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "study/parked.h"
#include "study/smooth.h"

#define LEAD_S 2.0 /* the fast polarization (under a second) and the return from a cut-out settle within this */
#define LONGEST_WINDOW_S 120.0
#define QUICK_WINDOW_S 30.0 /* for a quick search; longer music by two pieces */
#define SMOOTH_STEP_S 0.02 /* what it leaves out is measured once with ripple */
#define LONG_WINDOW_STEP_S 1e-3
#define SCAN_SLICE_S 0.5
#define SCAN_FINE_S 0.005
#define TYPICAL_S 10.0
#define TYPICAL_STEP_S 0.5
#define LOUD_S 1.0
#define LOUD_STEP_S 0.25
#define PIECE_LEAD_S 2.0
#define LOOKED_AT_S 7200.0 /* of the longest music */

/* ---- long music ---- */

/* Recordings and other long music, roughly: for spreads and for finding a level, where thousands of windows as
 * long as the music would take hours.
 *
 * Each window is two short pieces, played from the slow run's state: one with the mean loudness of the whole,
 * which gives the mean currents, scaled by what its mean still differs; and the loudest, which shows whether
 * anything cuts out. */

static double mean_of(const struct tv_parked_search *search, int programme, double from_s, double length_s) {
  struct tv_programme_cursor cursor;
  memset(&cursor, 0, sizeof cursor);
  return tv_programme_mean(search->fine->programme[programme], &cursor, from_s, from_s + length_s);
}

/* Over all of it that is looked at. */
static double long_mean(const struct tv_parked_search *search, int programme) {
  double cycle_s = tv_programme_cycle_s(search->fine->programme[programme]);
  return mean_of(search, programme, 0, cycle_s > 0 ? cycle_s : 1.0);
}

static void choose_loud_piece(struct tv_parked_search *search, int programme) {
  double cycle_s = fmin(tv_programme_cycle_s(search->fine->programme[programme]), LOOKED_AT_S);
  double loudest = -HUGE_VAL;
  search->pieces.loud_s = PIECE_LEAD_S;
  for (double t_s = PIECE_LEAD_S; t_s + LOUD_S <= cycle_s; t_s += LOUD_STEP_S) {
    double mean = mean_of(search, programme, t_s, LOUD_S);
    if (mean > loudest) loudest = mean, search->pieces.loud_s = t_s;
  }
}

static void choose_typical_piece(struct tv_parked_search *search, int programme) {
  double cycle_s = fmin(tv_programme_cycle_s(search->fine->programme[programme]), LOOKED_AT_S);
  double whole = long_mean(search, programme), nearest = HUGE_VAL;
  for (double t_s = PIECE_LEAD_S; t_s + TYPICAL_S <= cycle_s; t_s += TYPICAL_STEP_S) {
    double off = fabs(mean_of(search, programme, t_s, TYPICAL_S) - whole);
    if (off < nearest) nearest = off, search->pieces.typical_s = t_s;
  }
}

/* All vehicles that share their music play the same pieces of it. */
static void choose_pieces(struct tv_parked_search *search, int programme, bool long_music) {
  const struct tv_run *fine = search->fine;
  const struct tv_programme *shared = fine->own_programme[programme] ? NULL : fine->programme[programme];
  if (shared != NULL && search->quick.pieces.programme == shared) {
    search->pieces = search->quick.pieces;
    return;
  }
  search->pieces.programme = shared;
  choose_loud_piece(search, programme);
  if (long_music) choose_typical_piece(search, programme);
}

/* ---- making ---- */

static enum tailvolt_status make_checkpoint(const struct tailvolt_system *system, struct tv_checkpoint *c) {
  memset(c, 0, sizeof *c);
  size_t amplifiers = (size_t)system->amplifier_count, conductors = (size_t)system->conductor_count;
  size_t batteries = (size_t)system->battery_count, isolators = (size_t)system->isolator_count;
  c->mean_a = calloc(amplifiers + conductors + batteries + 2 * isolators + 1, sizeof(double));
  if (c->mean_a == NULL) return TAILVOLT_NO_MEMORY;
  c->square_a2 = c->mean_a + amplifiers;
  c->battery_a = c->square_a2 + conductors;
  c->opens_lift_v = c->battery_a + batteries;
  c->closes_lift_v = c->opens_lift_v + isolators;
  return TAILVOLT_OK;
}

static void free_checkpoint(struct tv_checkpoint *c) {
  free(c->mean_a);
  memset(c, 0, sizeof *c);
}

static bool used_by_rows(const struct tv_parked_search *search, int programme) {
  for (int r = 0; r < search->rows.count; r++)
    for (int k = 0; k < search->system->amplifier_count; k++)
      if (!search->rows.prescribed[k] && search->rows.row[r].amplifier[k].powered &&
          isnan(search->rows.row[r].amplifier[k].output_w) &&
          search->rows.row[r].amplifier[k].programme == programme)
        return true;
  return false;
}

/* The shortest time after which everything playing repeats. */
static void find_window(struct tv_parked_search *search) {
  double window_s = 0;
  int longest = 0;
  for (int k = 0; k < search->system->programme_count; k++) {
    double cycle_s = used_by_rows(search, k) ? tv_programme_cycle_s(search->fine->programme[k]) : 0;
    if (cycle_s > window_s) window_s = cycle_s, longest = k;
  }
  search->window_s = window_s > 0 ? window_s : 1.0;
  search->lead_s = LEAD_S;
  bool long_music = window_s > QUICK_WINDOW_S;
  if (search->is_quick && window_s > 0) choose_pieces(search, longest, long_music);
  if (search->is_quick && long_music) {
    search->sampled = true;
    search->window_s = TYPICAL_S;
    search->lead_s = PIECE_LEAD_S;
    return;
  }
  for (int n = 1; window_s > 0 && n * window_s <= LONGEST_WINDOW_S; n++) {
    bool fits = true;
    for (int k = 0; k < search->system->programme_count && fits; k++) {
      double cycle_s = used_by_rows(search, k) ? tv_programme_cycle_s(search->fine->programme[k]) : 0;
      if (!(cycle_s > 0)) continue;
      double count = n * window_s / cycle_s;
      fits = fabs(count - round(count)) < 1e-6;
    }
    if (!fits) continue;
    search->window_s = n * window_s;
    return;
  }
  if (!(window_s > 0)) return;
  search->full_reason = TAILVOLT_FULL_LONG_MUSIC;
  search->full_reason_s = LONGEST_WINDOW_S;
}

static void find_short_rows(struct tv_parked_search *search) {
  double least_s = 3 * (search->window_s + search->lead_s);
  if (search->full_reason != TAILVOLT_FULL_NOT) return;
  for (int r = 0; r + 1 < search->rows.count; r++)
    if (tv_parked_row_end_s(&search->rows, r) - search->rows.row[r].time_s < least_s) {
      search->full_reason = TAILVOLT_FULL_SHORT_ROWS;
      search->full_reason_s = least_s;
      return;
    }
}

enum tailvolt_status tv_search_progress(struct tv_parked_search *search, double done_frac) {
  const struct tailvolt_options *o = &search->options->run;
  if (o->progress == NULL) return TAILVOLT_OK;
  search->progress_frac = fmin(fmax(done_frac, search->progress_frac), 1.0);
  return o->progress(o->progress_context, search->progress_frac) ? TAILVOLT_STOPPED : TAILVOLT_OK;
}

static int ask(void *context, double done_frac) {
  struct tv_parked_search *search = context;
  (void)done_frac; /* of a profile, which is not how far the search is */
  return tv_search_progress(search, 0) != TAILVOLT_OK;
}

static struct tailvolt_options fine_options(struct tv_parked_search *search) {
  struct tailvolt_options run = search->options->run;
  run.record = NULL;
  if (run.progress != NULL) run.progress = ask;
  run.progress_context = search;
  return run;
}

enum tailvolt_status tv_parked_share(const struct tailvolt_system *system,
                                     const struct tailvolt_options *options, struct tv_programmes **out,
                                     char *error) {
  struct tailvolt_system smooth;
  *out = NULL;
  enum tailvolt_status status = tv_smooth_copy(system, &smooth);
  if (status == TAILVOLT_OK) status = tv_programmes_make(&smooth, options, out, error);
  tv_smooth_free(&smooth);
  return status;
}

static enum tailvolt_status make_slow(struct tv_parked_search *search) {
  size_t amplifiers = (size_t)search->system->amplifier_count;
  struct tailvolt_amplifier *held = calloc(amplifiers + 1, sizeof *held);
  struct tailvolt_isolator *relays = search->relays.slow;
  search->slow_system = *search->system;
  if (relays != NULL) search->slow_system.isolators = relays;
  if (held == NULL) return TAILVOLT_NO_MEMORY;
  if (amplifiers > 0) memcpy(held, search->system->amplifiers, amplifiers * sizeof *held);
  for (size_t k = 0; k < amplifiers; k++) held[k].cut_out_v = 0;
  search->slow_system.amplifiers = held;
  search->slow_system.programme_count = 0; /* none is played here */
  struct tailvolt_options options = fine_options(search);
  options.time_step_s = 0.1;
  /* its wiring stays at air temperature, which the mean currents do not notice: conductor heating is computed
   * separately from the mean squares */
  options.isothermal = true;
  enum tailvolt_status status =
      tv_run_create_like(search->fine, &search->slow_system, search->always, &options, &search->slow, search->error);
  if (status == TAILVOLT_OK) tv_run_leave_out_sums(search->slow);
  return status;
}

/* The car as it plays: with the engine off the alternator gives nothing, and a load that no row switches on draws nothing. Left in,
 * each would be one more unknown of every step. The points stay, so all conductors keep their places. */
static enum tailvolt_status make_still(struct tv_parked_search *search) {
  size_t loads = (size_t)search->system->load_count;
  search->still_system = *search->system;
  search->still_system.loads = calloc(loads + 1, sizeof *search->still_system.loads);
  if (search->still_system.loads == NULL) return TAILVOLT_NO_MEMORY;
  bool runs = false;
  for (int r = 0; r < search->rows.count; r++) runs = runs || tv_row_runs(&search->rows.row[r]);
  if (!runs) search->still_system.alternator.present = false;
  for (size_t k = 0; k < loads; k++) {
    struct tailvolt_load *load = &search->still_system.loads[k];
    *load = search->system->loads[k];
    bool draws = false;
    for (int r = 0; r < search->rows.count; r++) draws = draws || search->rows.row[r].load_on[k] > 0;
    if (!draws) load->behaviour = TAILVOLT_RESISTOR; /* that is off */
  }
  return TAILVOLT_OK;
}

/* The fine run, or the quick search's smooth one: storage inside amplifiers settles in milliseconds. */
static enum tailvolt_status make_fine(struct tv_parked_search *search) {
  struct tailvolt_options options = fine_options(search);
  if (!search->is_quick) {
    enum tailvolt_status made = make_still(search);
    if (made == TAILVOLT_OK) made = tv_relays_make(search, &search->still_system);
    if (made != TAILVOLT_OK) return made;
    return tv_run_create(&search->still_system, search->rows.prescribed, &options, &search->fine, search->error);
  }
  enum tailvolt_status status = tv_smooth_copy(search->system, &search->smooth_system);
  if (status == TAILVOLT_OK) status = tv_relays_make(search, &search->smooth_system);
  if (status != TAILVOLT_OK) return status;
  options.time_step_s = fmax(options.time_step_s, SMOOTH_STEP_S);
  status = tv_run_create_with(&search->smooth_system, search->rows.prescribed, &options,
                              search->quick.programmes, &search->fine, search->error);
  if (status == TAILVOLT_OK) tv_search_comparators(search, false);
  return status;
}

static enum tailvolt_status make_runs(struct tv_parked_search *search) {
  struct tailvolt_options options = fine_options(search);
  enum tailvolt_status status = make_fine(search);
  if (status != TAILVOLT_OK) return status;
  if ((status = make_slow(search)) != TAILVOLT_OK) return status;
  if ((status = tv_start_trial_make(search->system, search->fine, &options, &search->start, search->error)) != TAILVOLT_OK)
    return status;
  size_t slow = tv_run_state_size(search->slow), fine = tv_run_state_size(search->fine);
  for (int k = 0; k < TV_SNAPSHOTS; k++)
    if ((search->kept[k] = malloc(slow > fine ? slow : fine)) == NULL) return TAILVOLT_NO_MEMORY;
  return TAILVOLT_OK;
}

enum tailvolt_status tv_search_make(const struct tailvolt_system *system,
                                    const struct tailvolt_profile *profile,
                                    const struct tailvolt_parked_options *options,
                                    const struct tv_parked_quick *quick, struct tv_parked_search *search) {
  memset(search, 0, sizeof *search);
  search->is_quick = quick != NULL;
  if (quick != NULL) search->quick = *quick;
  search->system = system;
  search->options = options;
  if (system->battery_count == 0) {
    snprintf(search->error, sizeof search->error,
             "there is no battery: nothing can play with the engine off");
    return TAILVOLT_BAD_INPUT;
  }
  enum tailvolt_status status = tv_parked_rows_make(system, profile, options, &search->rows, search->error);
  if (status != TAILVOLT_OK) return status;
  size_t amplifiers = (size_t)system->amplifier_count;
  search->always = calloc(amplifiers + 1, sizeof *search->always);
  search->mean = calloc(amplifiers + 1, sizeof *search->mean);
  search->old_c = calloc((size_t)system->conductor_count + 1, sizeof *search->old_c);
  if (!search->always || !search->mean || !search->old_c) return TAILVOLT_NO_MEMORY;
  for (size_t k = 0; k < amplifiers; k++) search->always[k] = true;
  search->begin_s = search->rows.row[0].time_s;
  search->end_s = search->begin_s + options->limit_s;
  if ((status = make_runs(search)) != TAILVOLT_OK) return status;
  find_window(search);
  /* long windows use steps that still give about ten per ripple period: the times shift by a thousandth */
  if (!search->is_quick && search->window_s > QUICK_WINDOW_S && !(options->run.time_step_s > 0) &&
      !options->full)
    tv_parked_set_step(search->fine, LONG_WINDOW_STEP_S);
  find_short_rows(search);
  if (options->full) search->full_reason = TAILVOLT_FULL_ASKED;
  return TAILVOLT_OK;
}

void tv_search_free(struct tv_parked_search *search) {
  if (search->system == NULL) return; /* never made */
  tv_run_free(search->fine);
  tv_run_free(search->slow);
  tv_start_trial_free(&search->start);
  if (search->slow_system.amplifiers != search->system->amplifiers) free(search->slow_system.amplifiers);
  free(search->still_system.loads);
  tv_relays_free(&search->relays);
  if (search->is_quick) tv_smooth_free(&search->smooth_system);
  for (int k = 0; k < search->room; k++) free_checkpoint(&search->checkpoint[k]);
  free(search->checkpoint);
  for (int k = 0; k < TV_SNAPSHOTS; k++) free(search->kept[k]);
  free(search->always);
  free(search->mean);
  free(search->old_c);
  free(search->moment);
  free(search->moment_soc_pct);
  free(search->moment_rest_v);
  tv_parked_rows_free(&search->rows);
}

enum tailvolt_status tv_search_add_checkpoint(struct tv_parked_search *search, struct tv_checkpoint **out) {
  if (search->count == search->room) {
    int room = search->room + 64;
    struct tv_checkpoint *grown = realloc(search->checkpoint, (size_t)room * sizeof *grown);
    if (grown == NULL) return TAILVOLT_NO_MEMORY;
    search->checkpoint = grown;
    while (search->room < room) {
      enum tailvolt_status status = make_checkpoint(search->system, &search->checkpoint[search->room]);
      if (status != TAILVOLT_OK) return status;
      search->room++;
    }
  }
  *out = &search->checkpoint[search->count];
  return TAILVOLT_OK;
}

/* Moves the one just filled to its place in time. */
int tv_search_insert_checkpoint(struct tv_parked_search *search) {
  struct tv_checkpoint added = search->checkpoint[search->count];
  int at = search->count++;
  while (at > 0 &&
         (search->checkpoint[at - 1].row > added.row || (search->checkpoint[at - 1].row == added.row &&
                                                         search->checkpoint[at - 1].time_s > added.time_s))) {
    search->checkpoint[at] = search->checkpoint[at - 1];
    at--;
  }
  search->checkpoint[at] = added;
  return at;
}

/* Where the slow run was when the window was played. */
double tv_search_slow_time_s(const struct tv_parked_search *search, int k) {
  const struct tv_checkpoint *c = &search->checkpoint[k];
  double start_s = c->time_s - 0.5 * search->window_s, row_s = search->rows.row[c->row].time_s;
  return fmax(start_s - search->lead_s, row_s);
}

/* ---- windows ---- */

double tv_search_window_s(const struct tv_parked_search *search, int row, double time_s) {
  double from_s = search->rows.row[row].time_s, until_s = tv_parked_row_end_s(&search->rows, row);
  /* at the very beginning nothing has to settle */
  double ready_s = time_s <= search->begin_s ? time_s : time_s + search->lead_s;
  double start_s = ceil(ready_s / search->window_s - 1e-9) * search->window_s;
  if (start_s < from_s) start_s += search->window_s;
  if (start_s + search->window_s > until_s) start_s = until_s - search->window_s;
  return fmax(start_s, from_s);
}

enum tailvolt_status tv_search_sync_fine(struct tv_parked_search *search, int row) {
  struct tv_run *fine = search->fine;
  tv_relays_hold(search, false);
  if (fine->steps == 0 || search->slow_s <= search->begin_s) {
    enum tailvolt_status status = tv_run_start(fine, &search->rows.row[row]);
    if (status != TAILVOLT_OK || search->slow_s <= search->begin_s) return status;
  }
  tv_parked_hand_over(search->slow, fine);
  return tv_run_update_wiring(fine, false);
}

enum tailvolt_status tv_search_play(struct tv_parked_search *search, int row, double from_s, double to_s) {
  if (!(to_s > from_s)) return TAILVOLT_OK;
  long long before = search->fine->steps;
  enum tailvolt_status status = tv_run_advance(search->fine, &search->rows.row[row],
                                               tv_parked_row_next(&search->rows, row), from_s, to_s);
  search->steps += search->fine->steps - before;
  return status;
}

int tv_parked_cut_outs(const struct tv_run *run) {
  int count = 0;
  for (int k = 0; k < run->system->amplifier_count; k++) count += run->statistics->amplifier[k].cut_outs;
  return count;
}

void tv_search_comparators(struct tv_parked_search *search, bool on) {
  for (int k = 0; k < search->system->amplifier_count; k++)
    search->fine->amplifier[k].cut_out_v = on ? search->system->amplifiers[k].cut_out_v : 0;
}

/* How far an amplifier is from cutting out. Its comparator waits for 20 ms below the threshold without a break, and ripple
 * crests are breaks: what counts stands above the mean by a share of the sag, as the ripple does of the draw. */
static void measure_margin(const struct tv_parked_search *search, int k, struct tv_checkpoint *c) {
  double lowest_v = search->fine->statistics->amplifier[k].min_smooth_v, rest_v = lowest_v;
  int battery = tv_feed_path_now(search->fine, k)->battery;
  if (!(search->system->amplifiers[k].cut_out_v > 0)) return;
  if (battery >= 0)
    rest_v = tv_battery_open_circuit_v(search->slow->battery[battery], &search->slow->state.battery[battery]);
  double sag_v = fmax(rest_v - lowest_v, 0);
  double margin_v = lowest_v + search->quick.crest_frac * sag_v - search->system->amplifiers[k].cut_out_v;
  if (!(margin_v < c->margin_v)) return;
  c->margin_v = margin_v;
  c->sag_v = sag_v;
}

void tv_search_measure(const struct tv_parked_search *search, double length_s, struct tv_checkpoint *c) {
  const struct tv_statistics *st = search->fine->statistics;
  const struct tailvolt_system *sys = search->system;
  c->total_a = c->power_w = 0;
  c->trips = c->collapses = c->settled = false;
  c->margin_v = c->min_v = HUGE_VAL;
  c->sag_v = 0;
  for (int k = 0; k < sys->amplifier_count; k++) {
    const struct tv_amplifier_total *t = &st->amplifier[k];
    c->mean_a[k] = tv_sum_value(&t->a) / length_s;
    if (!search->fine->drive[k].playing) continue;
    c->min_v = fmin(c->min_v, t->min_v);
    measure_margin(search, k, c);
  }
  for (int k = 0; k < sys->conductor_count; k++)
    c->square_a2[k] = tv_sum_value(&st->conductor[k].square_as) / length_s;
  for (int k = 0; k < sys->battery_count; k++) {
    const struct tv_battery_total *t = &st->battery[k];
    c->battery_a[k] = (tv_sum_value(&t->out_as) - tv_sum_value(&t->in_as)) / length_s;
    c->total_a += c->battery_a[k];
    c->power_w += (tv_sum_value(&t->discharged_j) - tv_sum_value(&t->charged_j)) / length_s;
  }
  for (int k = 0; k < sys->amplifier_count; k++) {
    c->trips = c->trips || st->amplifier[k].cut_outs > 0 || tv_sum_value(&st->amplifier[k].off_s) > 0;
    /* without its comparator an amplifier is off only where its supply has collapsed, be it before the window */
    bool compares = search->fine->amplifier[k].cut_out_v > 0;
    c->collapses = c->collapses || st->amplifier[k].collapses > 0 || (!compares && tv_sum_value(&st->amplifier[k].off_s) > 0);
  }
  /* the quick search plays on without comparators and goes by the lowest voltage */
  c->trips = c->trips || (search->is_quick && c->margin_v < 0);
}

/* The fine run from the slow one's state, as if it were `from_s` in the music. */
enum tailvolt_status tv_search_play_piece(struct tv_parked_search *search, int index, double from_s,
                                          double length_s, struct tv_checkpoint *c) {
  struct tailvolt_row row = search->rows.row[index];
  long long before;
  enum tailvolt_status status = tv_search_sync_fine(search, index);
  if (status != TAILVOLT_OK) return status;
  tv_relays_hold(search, true);
  row.ambient_c = search->slow->state.now.ambient_c;
  row.time_s = from_s - search->lead_s;
  before = search->fine->steps;
  if ((status = tv_run_advance(search->fine, &row, NULL, row.time_s, from_s)) != TAILVOLT_OK) return status;
  if ((status = tv_run_fold(search->fine)) != TAILVOLT_OK) return status;
  tv_statistics_clear(search->fine->statistics);
  row.time_s = from_s;
  if ((status = tv_relays_play(search, &row, NULL, from_s, from_s + length_s, c)) != TAILVOLT_OK)
    return status;
  search->steps += search->fine->steps - before;
  return tv_run_fold(search->fine);
}

static void scale_totals(const struct tv_parked_search *search, double ratio, struct tv_checkpoint *c) {
  c->total_a *= ratio;
  c->power_w *= ratio;
  for (int k = 0; k < search->system->battery_count; k++) c->battery_a[k] *= ratio;
}

static void scale(const struct tv_parked_search *search, int row, struct tv_checkpoint *c) {
  double before_a = 0, after_a = 0;
  for (int k = 0; k < search->system->amplifier_count; k++) {
    int programme = search->rows.row[row].amplifier[k].programme;
    before_a += c->mean_a[k];
    if (!search->rows.prescribed[k] && search->fine->drive[k].playing && programme >= 0) {
      double idle_a = search->fine->amplifier[k].idle_a,
             here = mean_of(search, programme, search->pieces.typical_s, TYPICAL_S);
      if (here > 0) c->mean_a[k] = idle_a + (c->mean_a[k] - idle_a) * long_mean(search, programme) / here;
    }
    after_a += c->mean_a[k];
  }
  if (before_a > 0) scale_totals(search, after_a / before_a, c);
}

static enum tailvolt_status play_pieces(struct tv_parked_search *search, int row, double start_s,
                                        struct tv_checkpoint *c) {
  c->time_s = start_s + 0.5 * search->window_s;
  c->row = row;
  enum tailvolt_status status = tv_search_play_piece(search, row, search->pieces.loud_s, TV_LOUD_PIECE_S, c);
  if (status != TAILVOLT_OK) return status;
  tv_search_measure(search, TV_LOUD_PIECE_S, c);
  double margin_v = c->margin_v, min_v = c->min_v;
  bool trips = c->trips, collapses = c->collapses;
  if ((status = tv_search_play_piece(search, row, search->pieces.typical_s, TYPICAL_S, c)) != TAILVOLT_OK) return status;
  tv_search_measure(search, TYPICAL_S, c);
  scale(search, row, c);
  c->trips = c->trips || trips;
  c->collapses = c->collapses || collapses;
  c->margin_v = fmin(margin_v, c->margin_v);
  c->min_v = fmin(min_v, c->min_v);
  search->checkpoints++;
  search->step_s = search->fine->largest_step_s;
  return TAILVOLT_OK;
}

static enum tailvolt_status play_window(struct tv_parked_search *search, int row, double start_s,
                                        struct tv_checkpoint *c) {
  enum tailvolt_status status = tv_search_sync_fine(search, row);
  if (status != TAILVOLT_OK) return status;
  tv_relays_hold(search, true);
  if ((status = tv_search_play(search, row, search->slow_s, start_s)) != TAILVOLT_OK) return status;
  if ((status = tv_run_fold(search->fine)) != TAILVOLT_OK) return status;
  tv_statistics_clear(search->fine->statistics);
  long long before = search->fine->steps;
  status = tv_relays_play(search, &search->rows.row[row], tv_parked_row_next(&search->rows, row), start_s,
                          start_s + search->window_s, c);
  if (status != TAILVOLT_OK) return status;
  search->steps += search->fine->steps - before;
  if ((status = tv_run_fold(search->fine)) != TAILVOLT_OK) return status;
  tv_search_measure(search, search->window_s, c);
  search->checkpoints++;
  return status;
}

/* What ripple adds to the draw above idle, as measured on the car as described. */
static void add_ripple(const struct tv_parked_search *search, struct tv_checkpoint *c) {
  double before_a = 0, after_a = 0;
  for (int k = 0; k < search->system->amplifier_count; k++) {
    before_a += c->mean_a[k];
    if (!search->rows.prescribed[k] && search->fine->drive[k].playing) {
      double idle_a = fmin(search->fine->amplifier[k].idle_a, c->mean_a[k]);
      c->mean_a[k] = idle_a + (c->mean_a[k] - idle_a) * search->quick.draw_ratio;
    }
    after_a += c->mean_a[k];
  }
  if (before_a > 0) scale_totals(search, after_a / before_a, c);
}

enum tailvolt_status tv_search_play_window(struct tv_parked_search *search, int row, double start_s,
                                           struct tv_checkpoint *c) {
  enum tailvolt_status status =
      search->sampled ? play_pieces(search, row, start_s, c) : play_window(search, row, start_s, c);
  if (search->is_quick) {
    add_ripple(search, c);
  } else if (status == TAILVOLT_OK && c->trips) {
    /* where it cuts out the means are those of playing on: the other times stand on their own terms */
    bool collapses = c->collapses;
    tv_search_comparators(search, false);
    status = search->sampled ? play_pieces(search, row, start_s, c) : play_window(search, row, start_s, c);
    tv_search_comparators(search, true);
    c->trips = true;
    c->collapses = c->collapses || collapses;
  }
  c->time_s = start_s + 0.5 * search->window_s;
  c->row = row;
  search->step_s = search->fine->largest_step_s;
  return status;
}

/* ---- the time of a cut-out ---- */

static int who_is_out(const struct tv_run *run) {
  for (int k = 0; k < run->system->amplifier_count; k++)
    if (run->state.amplifier[k].out) return k;
  return 0;
}

enum tailvolt_status tv_search_scan(struct tv_parked_search *search, double to_s, double *trip_s,
                                    int *amplifier) {
  *trip_s = (double)NAN;
  double at_s = search->slow_s, valid_s = at_s <= search->begin_s ? at_s : at_s + search->lead_s;
  enum tailvolt_status status = tv_search_sync_fine(search, tv_parked_row_at(&search->rows, at_s));
  tv_search_comparators(search, true);
  while (status == TAILVOLT_OK && at_s < to_s) {
    int row = tv_parked_row_at(&search->rows, at_s);
    double next_s = (floor(at_s / SCAN_SLICE_S + 1e-9) + 1) * SCAN_SLICE_S;
    next_s = fmin(fmin(next_s, tv_parked_row_end_s(&search->rows, row)), to_s);
    int before = tv_parked_cut_outs(search->fine);
    tv_run_save(search->fine, search->kept[TV_AT_TRIP]);
    if ((status = tv_search_play(search, row, at_s, next_s)) != TAILVOLT_OK) break;
    if (tv_parked_cut_outs(search->fine) == before || next_s <= valid_s) {
      at_s = next_s;
      continue;
    }
    tv_run_restore(search->fine, search->kept[TV_AT_TRIP]);
    before = tv_parked_cut_outs(search->fine);
    for (double t_s = at_s; t_s < next_s && status == TAILVOLT_OK; t_s += SCAN_FINE_S) {
      status = tv_search_play(search, row, t_s, fmin(t_s + SCAN_FINE_S, next_s));
      if (tv_parked_cut_outs(search->fine) == before) continue;
      *trip_s = t_s + SCAN_FINE_S;
      *amplifier = who_is_out(search->fine);
      goto done;
    }
    at_s = next_s;
  }
done:
  if (search->is_quick) tv_search_comparators(search, false);
  return status;
}
