/* A run in time: start, rows and their steps, the slow clocks. The steps themselves are in simulate/kernel.inc. */
#include <math.h>
#include <string.h>

#include "parts/alternator_heat.h"
#include "parts/elementary.h"
#include "parts/conductor.h"
#include "parts/starter.h"
#include "simulate/event.h"
#include "simulate/run.h"

/* ---- start ---- */

static void start_temperatures(struct tv_run *run, const struct tailvolt_row *row) {
  const struct tailvolt_system *sys = run->system;
  struct tv_state_scalars *now = &run->state.now;
  now->ambient_c = row->ambient_c;
  now->bay_c = row->engine_rpm > 0 && !run->options.isothermal ? sys->vehicle.engine_bay_c : row->ambient_c;
  /* a running machine has warmed through; without temperatures it is at the label's */
  now->copper_c = row->engine_rpm > 0 ? now->bay_c + TV_ALTERNATOR_RISE_K : row->ambient_c;
  tv_run_set_field_scale(run);
  for (int k = 0; k < sys->conductor_count; k++)
    run->state.conductor_c[k] =
        sys->conductors[k].place == TAILVOLT_ENGINE_BAY ? now->bay_c : now->ambient_c;
  for (int k = 0; k < sys->battery_count; k++)
    tv_battery_rest(run->battery[k], now->ambient_c, &run->state.battery[k]);
}

/* While the start settles, delays count as elapsed. */
static bool switch_at_rest(struct tv_run *run, int k) {
  const struct tailvolt_isolator *spec = &run->system->isolators[k];
  struct tv_hot_isolator *state = &TV_HOT(run->hot, isolator)[k];
  const double *end_v = tv_hot_y(run->hot) + run->layout->isolator_row + 2 * k;
  if (spec->kind == TAILVOLT_DIODE) return false;
  double sensed_v = spec->sense_either ? tv_most(end_v[0], end_v[1]) : end_v[0];
  bool closed = state->closed > 0;
  bool condition = closed ? sensed_v < state->opens_below_v : sensed_v > state->closes_above_v;
  state->held_s = 0;
  if (condition) state->closed = 1 - state->closed;
  return condition;
}

static void silence(struct tv_run *run, const struct tailvolt_row *row) {
  for (int k = 0; k < run->system->amplifier_count; k++) {
    struct tv_hot_unknown *u = &TV_HOT(run->hot, unknown)[run->first_amplifier + k];
    struct tv_hot_amplifier_note *note = &TV_HOT(run->hot, amplifier_note)[k];
    u->power_w = note->drive_w = note->wanted_w = 0;
    u->constant_a = run->prescribed[k] ? 0
                    : row->amplifier[k].powered ? run->amplifier[k].idle_a : run->amplifier[k].standby_a;
  }
}

/* Solves the instant: storage and switches as they are, every amplifier silent. */
static enum tailvolt_status solve_instant(struct tv_run *run, const struct tailvolt_row *row) {
  struct tv_hot *hot = run->hot;
  enum tailvolt_status status = tv_run_reduce(run, 0);
  if (status != TAILVOLT_OK) return status;
  tv_run_pack_row(run);
  silence(run, row);
  if (run->layout->alternator) {
    TV_HOT(hot, source)->field_low_frac = 0;
    TV_HOT(hot, source)->field_high_frac = run->field_scale;
  }
  hot->ops->open(hot);
  if ((status = tv_run_solve(run)) != TAILVOLT_OK) return status;
  return hot->ops->disagrees(hot) ? tv_hot_event(hot, 0, TV_EVENT_DISAGREES, 0) : TAILVOLT_OK;
}

/* The same with the switches brought to where they stay. */
static enum tailvolt_status solve_rest(struct tv_run *run, const struct tailvolt_row *row) {
  const struct tailvolt_system *sys = run->system;
  struct tv_hot *hot = run->hot;
  for (int round = 0;; round++) {
    enum tailvolt_status status = solve_instant(run, row);
    if (status != TAILVOLT_OK || round > 8) return status;
    bool moved = false;
    for (int k = 0; k < sys->isolator_count; k++) moved = switch_at_rest(run, k) || moved;
    if (!moved) return TAILVOLT_OK;
    for (int k = 0; k < sys->isolator_count && round == 8; k++) /* undecided: starts open */
      TV_HOT(hot, isolator)[k].closed = 0;
  }
}

void tv_run_look_at_rest(struct tv_run *run) {
  for (int k = 0; k < run->system->amplifier_count; k++)
    tv_feed_path_look(run, k, true, run->now_s, tv_run_amplifier_v(run, k), run->step_s);
}

/* The values of the rest just solved become the reference. */
static void note_rest(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_statistics *st = run->statistics;
  const double *value = tv_hot_y(run->hot);
  for (int k = 0; k < sys->amplifier_count; k++) st->amplifier[k].rest_v = run->feed_path[k].rest_v;
  for (int k = 0; k < sys->meter_count; k++) st->meter[k].rest_v = value[run->layout->meter_value[k]];
  for (int k = 0; k < sys->battery_count; k++) {
    double soc = tv_battery_soc_frac(run->battery[k], &run->state.battery[k]);
    st->battery[k].start_soc_frac = st->battery[k].min_soc_frac = soc;
    st->battery[k].start_loss_j = run->state.battery[k].loss_j;
  }
  const struct tv_hot_source *s = TV_HOT(run->hot, source);
  run->rest_at_limit = run->layout->alternator && s->active > 0 && s->clamp > 0;
  st->start_stored_j = tv_run_stored_j(run);
  tv_uses_mark_charge(run);
}

static void clear(struct tv_run *run, double time_s) {
  const struct tailvolt_system *sys = run->system;
  run->packed = false;
  tv_statistics_clear(run->statistics);
  tv_statistics_clear_sums(run);
  memset(run->hot->d, 0, (size_t)run->layout->totals * sizeof(double));
  memset(run->state.block, 0, run->state.block_size);
  memset(&run->state.now, 0, sizeof run->state.now);
  memset(run->drive, 0, (size_t)sys->amplifier_count * sizeof *run->drive);
  run->state.now.crank_s = -1;
  run->state.now.grace_end_s = -HUGE_VAL;
  run->in_grace = false;
  run->state.now.grid_step_s = 1e-3;
  run->steps = 0;
  run->step_s = 0;
  run->largest_step_s = 0;
  run->coarse_ripple = false;
  run->network->wiring_reductions = 0;
  run->ripple_hz = -1;
  run->base_step_s = 0;
  run->now_s = run->begun_s = run->ended_s = run->state.now.now_s = time_s;
  for (int k = 0; k < sys->amplifier_count; k++) run->state.amplifier[k].ramp_s = TV_SOFT_START_S;
  for (int k = 0; k < sys->programme_count; k++) run->play[k].last_end_s = HUGE_VAL;
  /* between its thresholds a converter charges, which is what it is there for; a relay waits for an alternator */
  for (int k = 0; k < sys->isolator_count; k++) run->state.isolator[k].closed = sys->isolators[k].kind == TAILVOLT_CONVERTER;
}

/* What the instant found becomes the state. */
static void take_rest(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  const struct tv_hot *hot = run->hot;
  const double *value = tv_hot_y(hot);
  for (int k = 0; k < y->batteries; k++) TV_HOT(hot, battery)[k].last_a = TV_HOT(hot, battery)[k].a;
  for (int k = 0; k < y->capacitors; k++) TV_HOT(hot, capacitor)[k].v = value[y->capacitor_row + k];
  for (int k = 0; k < y->amplifiers; k++)
    if (y->storage[k] >= 0) TV_HOT(hot, amplifier)[k].storage_v = value[y->first_amplifier + k];
  for (int k = 0; k < y->unknowns; k++) {
    struct tv_hot_unknown *u = &TV_HOT(hot, unknown)[k];
    u->j = u->before_j = tv_hot_z(hot)[y->unknown_column + k];
  }
  struct tv_hot_source *s = TV_HOT(hot, source);
  if (!y->alternator || !(s->active > 0)) return;
  s->intercept_a = tv_hot_z(hot)[y->unknown_column] - s->slope_siemens * value[0];
  s->at_frac = s->clamp > 0 ? s->field_high_frac : s->field_low_frac;
  double rpm = tv_most(run->engine_rpm, 1) * run->system->alternator.pulley_ratio;
  double x = tv_alternator_field_for(&run->alternator, rpm, value[0], tv_hot_z(hot)[y->unknown_column]);
  s->field_frac = run->state.now.field_frac = s->clamp > 0 ? 1 : tv_least(x / run->field_scale, 1);
}

static void take_over_rest(struct tv_run *run) {
  take_rest(run);
  tv_run_unpack(run);
  tv_run_look_at_rest(run);
  note_rest(run);
  run->stale_stiff = run->stale_ports = true;
}

/* A pack that is full or frozen refuses charge from the first instant: found a step later, the alternator would be left with
 * the field of a current that nothing takes. */
static void refuse_at_rest(struct tv_run *run) {
  for (int k = 0; k < run->layout->batteries; k++) {
    struct tv_hot_battery *b = &TV_HOT(run->hot, battery)[k];
    if (run->layout->guarded[k] && b->guard == TV_GUARD_CLOSED) b->one_way = b->charge_c >= b->refuse_c ? 1 : 0;
  }
}

enum tailvolt_status tv_run_start(struct tv_run *run, const struct tailvolt_row *row) {
  clear(run, row->time_s);
  start_temperatures(run, row);
  run->phase = tv_run_phase(run, row->engine_rpm);
  run->use = tv_use_of(run->phase, row->engine_rpm);
  run->use_noted = false;
  tv_run_set_row(run, row, NULL);
  tv_run_pack(run);
  refuse_at_rest(run);
  enum tailvolt_status status = solve_rest(run, row);
  if (status == TAILVOLT_OK) take_over_rest(run);
  return status;
}

enum tailvolt_status tv_run_rebase(struct tv_run *run, const struct tailvolt_row *row) {
  enum tailvolt_status status = tv_run_fold(run);
  if (status != TAILVOLT_OK) return status;
  tv_statistics_clear(run->statistics);
  tv_statistics_clear_sums(run);
  run->use_noted = false;
  run->steps = 0;
  run->largest_step_s = 0;
  run->begun_s = run->now_s = run->state.now.now_s = row->time_s;
  tv_run_pack(run);
  if ((status = solve_instant(run, row)) == TAILVOLT_OK) take_over_rest(run);
  return status;
}

/* ---- slow clocks ---- */

static void heat_conductors(struct tv_run *run, double elapsed_s) {
  const struct tailvolt_system *sys = run->system;
  struct tv_hot_group *group = TV_HOT(run->hot, group);
  for (int k = 0; k < sys->conductor_count && !run->options.isothermal; k++) {
    const struct tailvolt_conductor *c = &sys->conductors[k];
    if (c->length_m <= 0) continue;
    double air_c = c->place == TAILVOLT_ENGINE_BAY ? run->state.now.bay_c : run->state.now.ambient_c;
    run->state.conductor_c[k] =
        tv_conductor_step_c(c, &run->warming[k], run->state.conductor_c[k],
                            group[run->conductor_group[k]].square_as / elapsed_s, air_c, elapsed_s);
  }
  for (int g = 0; g < run->group_count; g++) group[g].square_as = group[g].fuse_as = 0;
}

static void heat_alternator(struct tv_run *run, double elapsed_s) {
  const struct tailvolt_alternator *spec = &run->system->alternator;
  if (!run->layout->alternator) return;
  struct tv_hot_source *s = TV_HOT(run->hot, source);
  double square_a2 = s->heat_a2s / elapsed_s, rated_a = tv_run_rated_a(run);
  double x = tv_run_field_share(run, elapsed_s);
  s->heat_as = s->heat_a2s = s->heat_j = 0;
  if (run->options.isothermal || run->layout->fixed_output) return;
  double rotor_rpm = run->state.now.engine_on ? tv_run_rpm(run, run->now_s) * spec->pulley_ratio : 0;
  run->state.now.copper_c = tv_alternator_heat_step_c(run->state.now.copper_c, square_a2 / (rated_a * rated_a), x,
                                                      rotor_rpm, run->state.now.bay_c, elapsed_s);
  tv_run_set_field_scale(run);
}

static void warm_air(struct tv_run *run, double elapsed_s) {
  const struct tailvolt_system *sys = run->system;
  struct tv_state_scalars *now = &run->state.now;
  double ambient_c = run->ambient_c + run->ambient_slope * (run->now_s - run->row_start_s);
  now->ambient_c = ambient_c;
  if (run->options.isothermal) {
    now->bay_c = ambient_c;
    for (int k = 0; k < sys->conductor_count; k++) run->state.conductor_c[k] = ambient_c;
  } else {
    /* under-bonnet air towards warm while the engine runs (600 s, common practice; one belt car's regulator: see
     * tests/outside/test_one_car.c), 3600 s back */
    double warming_s = sys->vehicle.warming_s > 0 ? sys->vehicle.warming_s : 600.0;
    double goal_c = now->engine_on ? sys->vehicle.engine_bay_c : ambient_c;
    now->bay_c = goal_c + (now->bay_c - goal_c) * tv_exp(-elapsed_s / (now->engine_on ? warming_s : 3600.0));
  }
  for (int k = 0; k < sys->battery_count; k++) {
    if (run->state.battery[k].temperature_c == ambient_c) continue;
    tv_run_unpack_battery(run, k);
    tv_battery_set_temperature(run->battery[k], ambient_c, &run->state.battery[k]);
    tv_run_pack_battery(run, k);
    if (run->step_s > 0) tv_run_tangent(run, k, run->step_s);
  }
}

/* About once a second, and where a phase ends: what has been gathered goes to its phase, and temperatures
 * move. */
enum tailvolt_status tv_run_tick(struct tv_run *run) {
  struct tv_hot_lane *lane = TV_HOT(run->hot, lane);
  double elapsed_s = lane->tick_s;
  if (!(elapsed_s > 0)) return TAILVOLT_OK;
  run->now_s = lane->now_s;
  if (run->layout->fuses) tv_run_look_at_fuses(run, run->hot, 0);
  for (int k = 0; k < run->system->battery_count; k++) tv_run_unpack_battery(run, k);
  tv_statistics_fold(run);
  heat_alternator(run, elapsed_s);
  heat_conductors(run, elapsed_s);
  lane->tick_s = lane->fuse_s = 0;
  warm_air(run, elapsed_s);
  tv_run_pack_source(run);
  run->stale_wiring = false;
  return tv_run_update_wiring(run, false);
}

enum tailvolt_status tv_run_fold(struct tv_run *run) {
  tv_run_pack(run);
  enum tailvolt_status status = tv_run_tick(run);
  tv_run_unpack(run);
  return status;
}

/* ---- rows and their steps ---- */

/* What was gathered belongs to the phase and use that end here. */
static enum tailvolt_status enter_phase(struct tv_run *run, double engine_rpm, bool on) {
  enum tailvolt_phase phase = on && !(engine_rpm > 0) ? TAILVOLT_IDLE : tv_run_phase(run, engine_rpm);
  enum tailvolt_use use = tv_use_of(phase, engine_rpm);
  if (phase == run->phase && use == run->use) return TAILVOLT_OK;
  enum tailvolt_status status = tv_run_tick(run);
  run->phase = phase;
  run->use = use;
  run->use_noted = false;
  run->stale_row = true;
  return status;
}

/* Does everything that a change of row, switch, step or temperature requires before the next step. */
enum tailvolt_status tv_run_bring_up_to_date(struct tv_run *run) {
  enum tailvolt_status status = TAILVOLT_OK;
  if (run->stale_rebuild) {
    bool stale_ports = run->stale_ports;
    run->stale_rebuild = false;
    if ((status = tv_run_rebuild(run, run->rebuild_step_s)) != TAILVOLT_OK) return status;
    run->stale_ports = run->stale_ports || stale_ports;
  }
  double step_s = TV_HOT(run->hot, lane)->step_s;
  if (step_s != run->step_s) {
    tv_statistics_collect(run);
    run->stale_stiff = run->stale_stiff || fabs(step_s - run->step_s) > 1e-6 * step_s;
    if (!run->stale_stiff) status = tv_run_reduce(run, step_s);
    run->stale_row = true;
    run->step_s = run->stale_stiff ? step_s : run->step_s;
  }
  if (status == TAILVOLT_OK && run->stale_stiff)
    status = tv_run_update_stiff(run);
  else if (status == TAILVOLT_OK && run->stale_ports)
    status = tv_run_reduce(run, step_s);
  if (status == TAILVOLT_OK && run->stale_offset) status = tv_run_change_constants(run);
  run->stale_offset = false;
  if (run->stale_row) tv_run_pack_row(run);
  return status;
}

/* Even steps from one time to another, near the requested length. */
static void lay_grid(struct tv_run *run, double from_s, double end_s) {
  double wanted_s = run->base_step_s, span_s = end_s - from_s, count = 1, step_s = span_s;
  if (isinf(end_s)) { /* for as long as it is asked to */
    count = HUGE_VAL;
    step_s = wanted_s;
  } else if (!(span_s > 0)) {
    count = 0;
    step_s = wanted_s;
  } else if (span_s > wanted_s * (1 + 1e-6)) {
    count = ceil(span_s / wanted_s - 1e-6);
    step_s = span_s / count;
  }
  if (fabs(step_s - wanted_s) <= 1e-9 * wanted_s) step_s = wanted_s;
  if (count > 0) run->largest_step_s = tv_most(run->largest_step_s, step_s);
  struct tv_hot_lane *lane = TV_HOT(run->hot, lane);
  lane->from_s = from_s;
  lane->step_s = step_s;
  lane->index = 0;
  run->state.now.grid_end_s = end_s;
  run->state.now.grid_count = count;
}

/* A simulated start may take longer: a car with a converter boots for seconds before it is ready. */
static double grace_s(const struct tv_run *run) {
  const struct tailvolt_engine *engine = &run->system->engine;
  if (!engine->simulate_starts) return TV_GRACE_S;
  return tv_most(TV_GRACE_S, tv_starter_needs(engine, run->state.now.bay_c).length_s + TV_UP_S);
}

enum tailvolt_status tv_run_begin_row(struct tv_run *run, const struct tailvolt_row *row,
                                      const struct tailvolt_row *next, double from_s, double end_s) {
  enum tailvolt_status status;
  struct tv_state_scalars *now = &run->state.now;
  tv_run_pack(run);
  bool starts = tv_row_runs(row) && !now->engine_on && run->steps > 0;
  if (starts && !run->system->engine.stop_and_start) now->grace_end_s = from_s + grace_s(run);
  tv_run_set_grace(run, tv_row_runs(row) && from_s < now->grace_end_s);
  double rpm = row->engine_rpm;
  if (next != NULL && from_s != row->time_s && row->engine_rpm > 0 && next->engine_rpm > 0)
    rpm += (next->engine_rpm - row->engine_rpm) * ((from_s - row->time_s) / (next->time_s - row->time_s));
  if ((status = enter_phase(run, rpm, tv_row_runs(row))) != TAILVOLT_OK) return status;
  tv_run_set_row(run, row, next);
  if (!run->use_noted) tv_uses_note_row(run);
  now->row_end_s = end_s;
  lay_grid(run, from_s, run->in_grace && now->grace_end_s < end_s ? now->grace_end_s : end_s);
  return TAILVOLT_OK;
}

/* The grace of a start ends within the row: the rest of it gets its own steps. */
bool tv_run_grid_goes_on(struct tv_run *run, double to_s) {
  const struct tv_state_scalars *now = &run->state.now;
  if (now->grid_end_s >= now->row_end_s || to_s <= now->grid_end_s) return false;
  if (TV_HOT(run->hot, lane)->index < now->grid_count) return false;
  tv_run_end_grace(run);
  lay_grid(run, now->grid_end_s, now->row_end_s);
  return true;
}

#define LANE_VALUE(hot, lane_index, member) tv_hot_lane_value(hot, lane_index, offsetof(struct tv_hot_lane, member))

long long tv_run_steps_left(const struct tv_run *run, const struct tv_hot *hot, int lane, double to_s) {
  double count = run->state.now.grid_count, from_s = LANE_VALUE(hot, lane, from_s);
  if (to_s < run->state.now.grid_end_s)
    count = tv_least(count, floor((to_s - from_s) / LANE_VALUE(hot, lane, step_s) + 1e-6));
  return (long long)(count - LANE_VALUE(hot, lane, index));
}

long long tv_run_steps_to_tick(const struct tv_run *run, const struct tv_hot *hot, int lane) {
  double step_s = LANE_VALUE(hot, lane, step_s);
  double left = ceil((TV_TICK_S - 1e-9 - LANE_VALUE(hot, lane, tick_s)) / step_s - 1e-6);
  if (run->layout->fuses && !tv_run_fuses_are_cold(run, hot, lane))
    left = tv_least(left, ceil((TV_FUSE_TICK_S - 1e-9 - LANE_VALUE(hot, lane, fuse_s)) / step_s - 1e-6));
  return left < 1 ? 1 : (long long)left;
}

bool tv_run_is_due(struct tv_run *run, struct tv_hot *hot, int lane) {
  if (run->layout->fuses && LANE_VALUE(hot, lane, fuse_s) >= TV_FUSE_TICK_S - 1e-9) tv_run_look_at_fuses(run, hot, lane);
  return LANE_VALUE(hot, lane, tick_s) >= TV_TICK_S - 1e-9 || run->stale_wiring;
}

enum tailvolt_status tv_run_clocks(struct tv_run *run) {
  const struct tv_hot_lane *lane = TV_HOT(run->hot, lane);
  enum tailvolt_status status = tv_run_tick(run);
  double end_s = lane->from_s + lane->index * lane->step_s;
  if (status == TAILVOLT_OK) status = enter_phase(run, tv_run_rpm(run, end_s), run->state.now.engine_on);
  if (!run->use_noted) tv_uses_note_row(run);
  return status;
}

/* However long a row, however short its steps: whoever listens can stop the run within some hundredths of a second. */
static enum tailvolt_status ask(struct tv_run *run) {
  static const long long every = 50000;
  const struct tailvolt_options *o = &run->options;
  if (o->progress == NULL || run->steps - run->asked_at < every) return TAILVOLT_OK;
  run->asked_at = run->steps;
  return o->progress(o->progress_context, run->shown_frac) != 0 ? TAILVOLT_STOPPED : TAILVOLT_OK;
}

enum tailvolt_status tv_run_go(struct tv_run *run, double to_s) {
  long long left;
  while ((left = tv_run_steps_left(run, run->hot, 0, to_s)) > 0 || tv_run_grid_goes_on(run, to_s)) {
    if (left <= 0) continue;
    enum tailvolt_status status = tv_run_bring_up_to_date(run);
    if (status != TAILVOLT_OK) return status;
    long long count = tv_run_steps_to_tick(run, run->hot, 0);
    if (count > left) count = left;
    status = run->hot->ops->steps(run->hot, count);
    if (status != TAILVOLT_OK) return status;
    run->steps += run->hot->done;
    if (tv_run_is_due(run, run->hot, 0) && (status = tv_run_clocks(run)) != TAILVOLT_OK) return status;
    if ((status = ask(run)) != TAILVOLT_OK) return status;
  }
  run->ended_s = tv_least(to_s, run->state.now.row_end_s);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_run_go_on(struct tv_run *run, double to_s) {
  tv_run_pack(run);
  return tv_run_go(run, to_s);
}

enum tailvolt_status tv_run_advance(struct tv_run *run, const struct tailvolt_row *row,
                                    const struct tailvolt_row *next, double from_s, double to_s) {
  enum tailvolt_status status = tv_run_begin_row(run, row, next, from_s, to_s);
  if (status == TAILVOLT_OK) status = tv_run_go(run, to_s);
  tv_run_unpack(run);
  return status;
}
