/* Recordings and other long music, roughly: for spreads and for the search of a level, where thousands of windows
 * as long as the music would take hours.
 *
 * Each window is two short pieces of it, played from the slow run's state: one as loud on the average as the
 * whole, which gives the mean currents, scaled by what its mean still differs; and the loudest, which shows
 * whether anything cuts out. */
#include <math.h>
#include <string.h>

#include "study/parked.h"

#define TYPICAL_S 20.0
#define TYPICAL_STEP_S 2.0
#define LOUD_S 1.0
#define LOUD_STEP_S 0.25
#define AROUND_S 1.0 /* played after the loudest second: its polarization comes late */
#define LEAD_S 3.0
#define LOOKED_AT_S 7200.0 /* of the longest music */

static double mean_of(const struct tv_vehicle *v, int programme, double from_s, double length_s) {
  struct tv_programme_cursor cursor;
  memset(&cursor, 0, sizeof cursor);
  return tv_programme_mean(v->fine->programme[programme], &cursor, from_s, from_s + length_s);
}

/* Over the whole of it, as far as it is looked at. */
static double long_mean(const struct tv_vehicle *v, int programme) {
  double cycle_s = tv_programme_cycle_s(v->fine->programme[programme]);
  return mean_of(v, programme, 0, cycle_s > 0 ? cycle_s : 1.0);
}

void tv_vehicle_sample(struct tv_vehicle *v, int programme) {
  double cycle_s = fmin(tv_programme_cycle_s(v->fine->programme[programme]), LOOKED_AT_S);
  double whole = long_mean(v, programme), nearest = HUGE_VAL, loudest = -HUGE_VAL;
  v->sampled = true;
  v->why_full[0] = '\0';
  v->window_s = TYPICAL_S;
  v->lead_s = LEAD_S;
  for (double t_s = LEAD_S; t_s + TYPICAL_S <= cycle_s; t_s += TYPICAL_STEP_S) {
    double off = fabs(mean_of(v, programme, t_s, TYPICAL_S) - whole);
    if (off < nearest) nearest = off, v->typical_s = t_s;
  }
  for (double t_s = LEAD_S; t_s + LOUD_S <= cycle_s; t_s += LOUD_STEP_S) {
    double mean = mean_of(v, programme, t_s, LOUD_S);
    if (mean > loudest) loudest = mean, v->loud_s = t_s;
  }
}

/* The fine run from the slow one's state, as if it were `from_s` in the music. */
static enum tailvolt_status play_piece(struct tv_vehicle *v, int index, double from_s, double length_s) {
  struct tailvolt_row row = v->rows.row[index];
  long long before;
  enum tailvolt_status status = tv_vehicle_take_over(v, index);
  if (status != TAILVOLT_OK) return status;
  row.ambient_c = v->slow->state.now.ambient_c;
  row.time_s = from_s - v->lead_s;
  before = v->fine->steps;
  if ((status = tv_run_advance(v->fine, &row, NULL, row.time_s, from_s)) != TAILVOLT_OK) return status;
  if ((status = tv_statistics_fold(v->fine)) != TAILVOLT_OK) return status;
  tv_statistics_clear(v->fine->statistics);
  row.time_s = from_s;
  if ((status = tv_run_advance(v->fine, &row, NULL, from_s, from_s + length_s)) != TAILVOLT_OK) return status;
  v->steps += v->fine->steps - before;
  return tv_statistics_fold(v->fine);
}

static void scale(const struct tv_vehicle *v, int row, struct tv_checkpoint *c) {
  double before_a = 0, after_a = 0;
  for (int k = 0; k < v->system->amplifier_count; k++) {
    int programme = v->rows.row[row].amplifier[k].programme;
    before_a += c->mean_a[k];
    if (!v->rows.prescribed[k] && v->fine->drive[k].playing && programme >= 0) {
      double idle_a = v->fine->amplifier[k].idle_a, here = mean_of(v, programme, v->typical_s, TYPICAL_S);
      if (here > 0) c->mean_a[k] = idle_a + (c->mean_a[k] - idle_a) * long_mean(v, programme) / here;
    }
    after_a += c->mean_a[k];
  }
  if (!(before_a > 0)) return;
  double ratio = after_a / before_a;
  c->total_a *= ratio;
  c->power_w *= ratio;
  for (int k = 0; k < v->system->battery_count; k++) c->battery_a[k] *= ratio;
}

enum tailvolt_status tv_vehicle_probe_sampled(struct tv_vehicle *v, int row, double start_s,
                                              struct tv_checkpoint *c) {
  c->time_s = start_s + 0.5 * v->window_s;
  c->row = row;
  enum tailvolt_status status = play_piece(v, row, v->loud_s, LOUD_S + AROUND_S);
  if (status != TAILVOLT_OK) return status;
  tv_checkpoint_measure(v, LOUD_S + AROUND_S, c);
  double margin_v = c->margin_v, min_v = c->min_v;
  bool trips = c->trips, collapses = c->collapses;
  tv_parked_comparators(v->fine, false);
  if (trips && (status = play_piece(v, row, v->loud_s, LOUD_S + AROUND_S)) == TAILVOLT_OK) {
    tv_checkpoint_measure(v, LOUD_S + AROUND_S, c);
    min_v = c->min_v;
    margin_v = c->margin_v;
  }
  if (status == TAILVOLT_OK) status = play_piece(v, row, v->typical_s, TYPICAL_S);
  tv_parked_comparators(v->fine, true);
  if (status != TAILVOLT_OK) return status;
  tv_checkpoint_measure(v, TYPICAL_S, c);
  scale(v, row, c);
  c->trips = trips;
  c->collapses = c->collapses || collapses;
  c->margin_v = fmin(margin_v, c->margin_v);
  c->min_v = fmin(min_v, c->min_v);
  v->checkpoints++;
  v->step_s = v->fine->largest_step_s;
  return TAILVOLT_OK;
}
