#include "simulate/draws.h"

#include <math.h>
#include <stdlib.h>

#define ROOM 256 /* rows kept at a time */

static bool same(double a, double b) { return a == b || (isnan(a) && isnan(b)); }
static double above_zero(double x) { return x > 0 ? x : 0; }

static int stride(const struct tv_run *run) { return 1 + 2 * run->layout->amplifiers; }

enum tailvolt_status tv_draws_create(struct tv_run *run) {
  bool any = false;
  for (int k = 0; k < run->layout->amplifiers; k++) any = any || run->prescribed[k];
  if (!any) return TAILVOLT_OK;
  run->draws.record = calloc((size_t)((ROOM + 1) * stride(run)), sizeof(double));
  return run->draws.record != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}

/* Everything else unchanged. */
static bool goes_on(const struct tv_run *run, const struct tailvolt_row *row, const struct tailvolt_row *next) {
  const struct tailvolt_system *sys = run->system;
  bool on = run->state.now.engine_on;
  if (tv_row_runs(row) != on || row->engine_rpm != run->engine_rpm || run->engine_rpm_slope != 0 || run->ambient_slope != 0 ||
      row->ambient_c != run->ambient_c || next->ambient_c != row->ambient_c)
    return false;
  if (on && next->engine_rpm > 0 && next->engine_rpm != row->engine_rpm) return false;
  bool commanded = !isnan(row->set_point_v) || sys->vehicle.charging == TAILVOLT_CHARGING_COMPUTER;
  double set_v = isnan(row->set_point_v) ? sys->alternator.set_point_v : row->set_point_v;
  double base_a = row->base_load_a + (on && !isnan(sys->vehicle.base_load_a) ? sys->vehicle.base_load_a : 0);
  if (commanded != run->set_commanded || set_v != run->set_v || base_a != run->base_a) return false;
  for (int k = 0; k < sys->load_count; k++)
    if (row->load_on[k] != run->load_on[k]) return false;
  for (int k = 0; k < sys->amplifier_count; k++) {
    const struct tailvolt_amplifier_row *a = &row->amplifier[k];
    const struct tv_drive *drive = &run->drive[k];
    if (a->powered != drive->powered || a->programme != drive->programme || !same(a->output_w, drive->output_w) ||
        a->level_db + sys->amplifiers[k].level_offset_db != drive->level_db)
      return false;
    if (!run->prescribed[k]) continue;
    if ((a->powered && (a->supply_w > 0 || a->supply_a > 0)) != drive->playing) return false;
  }
  return true;
}

bool tv_draws_take(struct tv_run *run, const struct tailvolt_row *row, const struct tailvolt_row *next) {
  struct tv_draws *d = &run->draws;
  const struct tv_state_scalars *now = &run->state.now;
  const struct tv_hot_lane *lane = TV_HOT(run->hot, lane);
  double wanted_s = run->base_step_s, span_s = next->time_s - row->time_s;
  if (d->record == NULL || !run->packed || run->in_grace || row->time_s < now->grace_end_s || !run->use_noted) return false;
  if (!(fabs(span_s - wanted_s) <= 1e-9 * wanted_s) || run->options.time_step_s != run->asked_step_s || run->ripple_hz < 0)
    return false;
  if (d->count == 0 && (lane->index < now->grid_count || now->grid_end_s < now->row_end_s || lane->step_s != wanted_s ||
                        run->step_s != wanted_s || lane->crank_s >= 0 || run->statistics->recorder.sink != NULL))
    return false;
  if (!goes_on(run, row, next)) return false;
  double *record = d->record + d->count * stride(run);
  *record++ = row->time_s;
  for (int k = 0; k < run->layout->amplifiers; k++) {
    const struct tailvolt_amplifier_row *a = &row->amplifier[k];
    bool draws = run->prescribed[k] && a->powered;
    *record++ = draws ? above_zero(a->supply_w) : 0;
    *record++ = draws ? above_zero(a->supply_a) : 0;
  }
  d->count++;
  d->end_s = next->time_s;
  return true;
}

bool tv_draws_take_more(struct tv_run *run, struct tailvolt_profile_cursor *cursor) {
  struct tv_draws *d = &run->draws;
  double *record = d->record + d->count * stride(run);
  int taken = tailvolt_profile_repeats(cursor, run->base_step_s, ROOM - d->count, record), step = stride(run);
  for (int k = 0; k < run->layout->amplifiers; k++) {
    const struct tv_drive *drive = &run->drive[k];
    bool draws = run->prescribed[k] && drive->powered, playing = drive->playing || !run->prescribed[k];
    double *draw = record + 1 + 2 * k;
    for (int row = 0; row < taken; row++, draw += step) {
      draw[0] = draws ? above_zero(draw[0]) : 0;
      draw[1] = draws ? above_zero(draw[1]) : 0;
      if (run->prescribed[k] && (draw[0] + draw[1] > 0) != playing) taken = row;
    }
  }
  if (taken == 0) return false;
  d->count += taken;
  d->end_s = record[taken * stride(run)];
  tailvolt_profile_skip(cursor, taken - 1);
  return true;
}

bool tv_draws_full(const struct tv_run *run) { return run->draws.count == ROOM; }

void tv_draws_hand_over(struct tv_run *run, struct tv_hot *hot, int lane) {
  hot->draw[lane] = tv_draws_left(run) > 0 ? run->draws.record + run->draws.at * stride(run) : NULL;
}

void tv_draws_done(struct tv_run *run, struct tv_hot *hot, int lane, long long done) {
  struct tv_draws *d = &run->draws;
  if (hot->draw[lane] == NULL) return;
  hot->draw[lane] = NULL;
  d->at += (int)done;
  const double *record = d->record + (d->at - 1) * stride(run);
  struct tv_state_scalars *now = &run->state.now;
  run->row_start_s = record[0];
  now->grid_count = 1;
  now->grid_end_s = now->row_end_s = d->at < d->count ? record[stride(run)] : d->end_s;
  run->ended_s = now->row_end_s;
  for (int k = 0; k < run->layout->amplifiers; k++) {
    struct tv_drive *drive = &run->drive[k];
    if (!run->prescribed[k]) continue;
    drive->supply_w = record[1 + 2 * k];
    drive->supply_a = record[2 + 2 * k];
  }
  if (d->at == d->count) d->at = d->count = 0;
}

enum tailvolt_status tv_run_go_draws(struct tv_run *run) {
  while (tv_draws_left(run) > 0) {
    enum tailvolt_status status = tv_run_bring_up_to_date(run);
    if (status != TAILVOLT_OK) return status;
    long long count = tv_run_steps_to_tick(run, run->hot, 0);
    if (count > tv_draws_left(run)) count = tv_draws_left(run);
    tv_draws_hand_over(run, run->hot, 0);
    status = run->hot->ops->steps(run->hot, count);
    tv_draws_done(run, run->hot, 0, run->hot->done);
    run->steps += run->hot->done;
    if (status != TAILVOLT_OK) return status;
    if (tv_run_is_due(run, run->hot, 0) && (status = tv_run_clocks(run)) != TAILVOLT_OK) return status;
  }
  return TAILVOLT_OK;
}
