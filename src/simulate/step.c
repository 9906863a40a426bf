/* The time loop: start, one step, a stretch of steps, the slow clock. */
#include <math.h>
#include <string.h>

#include "parts/alternator_heat.h"
#include "simulate/run.h"

/* ---- switches ---- */

static bool changeover(struct tv_isolator_state *state, bool condition, double delay_s, double step_s) {
  state->held_s = condition ? state->held_s + step_s : 0;
  if (!condition || state->held_s < delay_s - 1e-9) return false;
  state->held_s = 0;
  state->closed = !state->closed;
  return true;
}

/* A diode that carries current backwards opens, one that stands above its drop closes. */
static bool turn_diode(struct tv_run *run, int k) {
  struct tv_isolator_state *state = &run->state.isolator[k];
  const double *end_v = run->watch_y + run->isolator_watch0 + 2 * k;
  double above_v = end_v[0] - end_v[1] - run->system->isolators[k].drop_v;
  if (state->closed ? above_v >= 0 : above_v <= 0) return false;
  state->closed = !state->closed;
  return true;
}

/* One isolator after a solved step (step_s > 0) or while the start settles (delays count as over). */
static bool switch_isolator(struct tv_run *run, int k, double step_s) {
  const struct tailvolt_isolator *spec = &run->system->isolators[k];
  struct tv_isolator_state *state = &run->state.isolator[k];
  double from_v = run->watch_y[run->isolator_watch0 + 2 * k];
  double to_v = run->watch_y[run->isolator_watch0 + 2 * k + 1];
  if (spec->kind == TAILVOLT_DIODE) return step_s > 0 ? false : turn_diode(run, k);
  double sensed_v = spec->sense_either ? tv_most(from_v, to_v) : from_v;
  bool condition = state->closed ? sensed_v < spec->opens_below_v : sensed_v > spec->closes_above_v;
  if (spec->kind == TAILVOLT_CONVERTER)
    return changeover(state, state->closed ? from_v <= spec->opens_below_v : from_v > spec->opens_below_v, 0, step_s);
  double delay_s = state->closed ? spec->open_delay_s : spec->close_delay_s;
  return changeover(state, condition, step_s > 0 ? delay_s : 0, step_s);
}

static void trip(struct tv_run *run, int k, bool collapse) {
  struct tv_amplifier_total *total = &run->statistics->amplifier[k];
  struct tv_amplifier_state *state = &run->state.amplifier[k];
  state->out = true;
  state->below_s = state->above_s = 0;
  total->cut_outs++;
  if (run->in_grace) total->start_cut_outs++;
  if (collapse && total->collapses++ == 0) total->first_collapse_s = run->now_s;
}

static void switch_amplifier(struct tv_run *run, int k, double step_s) {
  const struct tv_amplifier *amplifier = &run->amplifier[k];
  struct tv_amplifier_state *state = &run->state.amplifier[k];
  double v = tv_run_amplifier_v(run, k);
  if (state->out) {
    /* without a comparator (cut-out 0 V) only a collapse brings it here */
    double back_v = amplifier->cut_in_v;
    state->above_s = v > back_v ? state->above_s + step_s : 0;
    if (state->above_s >= amplifier->restart_delay_s - 1e-9) {
      state->out = false;
      state->ramp_s = 0;
      state->below_s = 0;
    }
    return;
  }
  if (!run->drive[k].powered || amplifier->cut_out_v <= 0) {
    state->below_s = 0;
  } else {
    state->below_s = v < amplifier->cut_out_v ? state->below_s + step_s : 0;
    if (state->below_s > 0 && state->below_s >= amplifier->cut_out_delay_s - 1e-9) {
      trip(run, k, false);
      return;
    }
  }
  if (run->storage_port[k] >= 0 && run->state.storage_v[k] < 8 && run->path[k].battery >= 0) {
    int b = run->path[k].battery;
    if (run->state.storage_v[k] < 0.5 * tv_battery_open_circuit_v(run->battery[b], &run->state.battery[b]))
      trip(run, k, true);
  }
}

void tv_run_switch(struct tv_run *run, double step_s) {
  const struct tailvolt_system *sys = run->system;
  for (int k = 0; k < sys->amplifier_count; k++) switch_amplifier(run, k, step_s);
  for (int k = 0; k < sys->isolator_count; k++)
    if (switch_isolator(run, k, step_s)) run->stale_switches = true;
  if (run->state.now.crank_s >= 0) {
    run->state.now.crank_s += step_s;
    if (run->state.now.crank_s >= run->state.now.start.length_s - 1e-9) run->state.now.crank_s = -1;
  }
}

/* ---- start ---- */

static void start_temperatures(struct tv_run *run, const struct tailvolt_row *row) {
  const struct tailvolt_system *sys = run->system;
  struct tv_state_scalars *now = &run->state.now;
  now->ambient_c = row->ambient_c;
  now->bay_c = row->engine_rpm > 0 && !run->options.isothermal ? sys->vehicle.engine_bay_c : row->ambient_c;
  /* a machine that runs already has heated through; without temperatures it is the label's */
  now->copper_c = row->engine_rpm > 0 ? now->bay_c + TV_ALTERNATOR_RISE_K : row->ambient_c;
  tv_run_set_field_scale(run);
  for (int k = 0; k < sys->conductor_count; k++)
    run->state.conductor_c[k] =
        sys->conductors[k].place == TAILVOLT_ENGINE_BAY ? now->bay_c : now->ambient_c;
  for (int k = 0; k < sys->battery_count; k++)
    tv_battery_rest(run->battery[k], now->ambient_c, &run->state.battery[k]);
}

/* Solves the instant: storage and switches as they stand, every amplifier silent. */
static enum tailvolt_status solve_instant(struct tv_run *run, const struct tailvolt_row *row) {
  const struct tailvolt_system *sys = run->system;
  enum tailvolt_status status;
  if ((status = tv_run_reduce(run, 0)) != TAILVOLT_OK) return status;
  tv_run_prepare(run, row->time_s, row->time_s, 0);
  for (int k = 0; k < sys->amplifier_count; k++) {
    struct tv_draw *draw = &run->solver->load[k].draw;
    draw->power_w = 0;
    draw->may_clip = false;
    draw->constant_a = run->prescribed[k] ? 0
                       : row->amplifier[k].powered ? run->amplifier[k].idle_a : run->amplifier[k].standby_a;
  }
  tv_run_fill_sources(run, 0);
  return tv_run_solve(run);
}

/* The same with the switches brought to where they stay. */
static enum tailvolt_status solve_rest(struct tv_run *run, const struct tailvolt_row *row) {
  const struct tailvolt_system *sys = run->system;
  enum tailvolt_status status;
  for (int round = 0;; round++) {
    if ((status = solve_instant(run, row)) != TAILVOLT_OK) return status;
    bool moved = false;
    for (int k = 0; k < sys->isolator_count; k++) moved = switch_isolator(run, k, 0) || moved;
    if (!moved) return TAILVOLT_OK;
    if (round == 8) { /* undecided: starts open */
      for (int k = 0; k < sys->isolator_count; k++) run->state.isolator[k] = (struct tv_isolator_state){false, 0};
    }
    if (round > 8) return TAILVOLT_OK;
  }
}

void tv_run_look_at_rest(struct tv_run *run) {
  for (int k = 0; k < run->system->amplifier_count; k++)
    tv_path_look(run, k, true, run->now_s, tv_run_amplifier_v(run, k), run->step_s);
}

/* The numbers of the rest just solved become the reference. */
static void note_rest(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_statistics *st = run->statistics;
  for (int k = 0; k < sys->amplifier_count; k++) st->amplifier[k].rest_v = run->path[k].rest_v;
  for (int k = 0; k < sys->meter_count; k++) st->meter[k].rest_v = run->watch_y[run->meter_watch0 + k];
  for (int k = 0; k < sys->battery_count; k++) {
    double soc = tv_battery_soc_frac(run->battery[k], &run->state.battery[k]);
    st->battery[k].start_soc_frac = st->battery[k].min_soc_frac = soc;
    st->battery[k].start_loss_j = run->state.battery[k].loss_j;
  }
  run->rest_at_limit = false;
  for (int k = 0; k < run->network->source_count; k++)
    if (run->solver->source[k].kind == TV_SOURCE_ALTERNATOR)
      run->rest_at_limit = run->solver->source[k].active && run->solver->source[k].clamp > 0;
  st->start_stored_j = tv_run_stored_j(run);
  tv_uses_mark_charge(run);
}

/* Storage without a battery's chemistry, and the field, stand where the solved instant has them. */
static void take_over_rest(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  for (int k = 0; k < sys->battery_count; k++) run->last_a[k] = tv_run_battery_a(run, k);
  for (int k = 0; k < sys->capacitor_count; k++)
    run->state.capacitor_v[k] = run->linear_v[run->capacitor_port0 + k];
  for (int k = 0; k < sys->amplifier_count; k++)
    if (run->storage_port[k] >= 0) run->state.storage_v[k] = run->linear_v[run->storage_port[k]];
  for (int k = 0; k < run->network->source_count; k++) {
    const struct tv_source_law *law = &run->solver->source[k];
    int port = run->network->source[k].port;
    if (law->kind != TV_SOURCE_ALTERNATOR || !law->active) continue;
    run->state.now.field_x =
        law->clamp > 0 ? 1
                       : tv_least(tv_alternator_field_for(&run->alternator, law->rotor_rpm, run->solver->v[port],
                                                          run->solver->j[port]) / run->field_scale, 1);
  }
  tv_run_look_at_rest(run);
  note_rest(run);
  run->stale_switches = run->stale_ports = true;
}

enum tailvolt_status tv_run_start(struct tv_run *run, const struct tailvolt_row *row) {
  const struct tailvolt_system *sys = run->system;
  tv_statistics_clear(run->statistics);
  memset(run->state.block, 0, run->state.block_size);
  memset(&run->state.now, 0, sizeof run->state.now);
  memset(run->cursor, 0, (size_t)sys->programme_count * sizeof *run->cursor);
  memset(run->last_a, 0, (size_t)sys->battery_count * sizeof(double));
  memset(run->drive, 0, (size_t)sys->amplifier_count * sizeof *run->drive);
  run->state.now.crank_s = -1;
  run->state.now.grace_end_s = -HUGE_VAL;
  run->in_grace = false;
  run->steps = 0;
  run->step_s = 0;
  run->largest_step_s = 0;
  run->coarse_ripple = false;
  run->network->wiring_reductions = 0;
  run->ripple_hz = -1;
  run->base_step_s = 0;
  run->now_s = run->begun_s = run->ended_s = row->time_s;
  for (int k = 0; k < sys->amplifier_count; k++) run->state.amplifier[k].ramp_s = TV_SOFT_START_S;
  for (int k = 0; k < run->network->source_count; k++) run->solver->source[k].clamp = 0;
  memset(run->solver->v, 0, (size_t)run->network->nonlinear_count * sizeof(double));
  memset(run->solver->j, 0, (size_t)run->network->nonlinear_count * sizeof(double));
  start_temperatures(run, row);
  tv_run_set_row(run, row, NULL);
  run->phase = tv_run_phase(run, row->engine_rpm);
  run->use = tv_use_of(run->phase, row->engine_rpm);
  run->use_noted = false;
  enum tailvolt_status status = solve_rest(run, row);
  if (status == TAILVOLT_OK) take_over_rest(run);
  return status;
}

enum tailvolt_status tv_run_rebase(struct tv_run *run, const struct tailvolt_row *row) {
  enum tailvolt_status status = tv_statistics_fold(run);
  if (status != TAILVOLT_OK) return status;
  tv_statistics_clear(run->statistics);
  run->use_noted = false;
  run->steps = 0;
  run->largest_step_s = 0;
  run->begun_s = run->now_s = row->time_s;
  if ((status = solve_instant(run, row)) == TAILVOLT_OK) take_over_rest(run);
  return status;
}

/* ---- one step ---- */

static void advance_states(struct tv_run *run, double step_s) {
  const struct tailvolt_system *sys = run->system;
  struct tv_state *state = &run->state;
  for (int k = 0; k < sys->battery_count; k++) {
    double mean_a = tv_run_battery_a(run, k);
    tv_battery_end(run->battery[k], &state->battery[k], step_s, mean_a);
    run->last_a[k] = mean_a;
  }
  for (int k = 0; k < sys->capacitor_count; k++) {
    int port = run->capacitor_port0 + k;
    double out_a = run->s[port] - run->network->conductance_s[port] * run->linear_v[port];
    state->capacitor_v[k] -= out_a * step_s / sys->capacitors[k].capacitance_f;
  }
  for (int k = 0; k < sys->amplifier_count; k++) {
    int port = run->storage_port[k];
    if (port >= 0) state->storage_v[k] = 2 * run->linear_v[port] - state->storage_v[k];
  }
  for (int k = 0; k < run->network->source_count; k++) {
    const struct tv_source_law *law = &run->solver->source[k];
    if (law->kind != TV_SOURCE_ALTERNATOR || sys->alternator.field_s <= 0) continue;
    int port = run->network->source[k].port;
    double x = law->clamp > 0 ? law->x_high : law->x_low;
    if (!law->active)
      x = run->field_scale * state->now.field_x * run->field_decay;
    else if (law->clamp == 0)
      x = tv_least(tv_most(tv_alternator_field_for(&run->alternator, law->rotor_rpm, run->solver->v[port],
                                            run->solver->j[port]), law->x_low), law->x_high);
    state->now.field_x = x / run->field_scale;
  }
}

/* A diode's state belongs to the step's own voltages: the step is solved again until every diode agrees with it.
 * One that came a step late would let the first millisecond of a beat, the worst moment, go by without the battery
 * behind it. */
static enum tailvolt_status settle_diodes(struct tv_run *run, double step_s) {
  const struct tailvolt_system *sys = run->system;
  enum tailvolt_status status;
  for (int round = 0; round < 2 * sys->isolator_count + 2; round++) {
    bool turned = false;
    for (int k = 0; k < sys->isolator_count; k++)
      if (sys->isolators[k].kind == TAILVOLT_DIODE) turned = turn_diode(run, k) || turned;
    if (!turned) return TAILVOLT_OK;
    run->stale_switches = true;
    if ((status = tv_run_reduce(run, step_s)) != TAILVOLT_OK) return status;
    tv_run_fill_sources(run, step_s);
    if ((status = tv_run_solve(run)) != TAILVOLT_OK) return status;
  }
  return TAILVOLT_OK;
}

enum tailvolt_status tv_run_step(struct tv_run *run, double start_s, double end_s, double step_s) {
  enum tailvolt_status status;
  run->now_s = start_s;
  if (step_s != run->step_s || run->stale_ports)
    if ((status = tv_run_reduce(run, step_s)) != TAILVOLT_OK) return status;
  tv_run_prepare(run, start_s, end_s, step_s);
  tv_run_fill_sources(run, step_s);
  if (run->stale_ports) {
    if ((status = tv_run_reduce(run, step_s)) != TAILVOLT_OK) return status;
    tv_run_fill_sources(run, step_s);
  }
  if ((status = tv_run_solve(run)) != TAILVOLT_OK) return status;
  if (run->system->isolator_count > 0 && (status = settle_diodes(run, step_s)) != TAILVOLT_OK) return status;
  if ((status = tv_statistics_take(run, start_s, step_s)) != TAILVOLT_OK) return status;
  advance_states(run, step_s);
  tv_run_switch(run, step_s);
  run->steps++;
  return TAILVOLT_OK;
}

/* ---- the slow clock ---- */

enum tailvolt_status tv_run_tick(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_state_scalars *now = &run->state.now;
  double elapsed_s = run->statistics->block.dt_s;
  run->stale_wiring = false;
  enum tailvolt_status status = tv_statistics_fold(run);
  if (status != TAILVOLT_OK) return status;
  double ambient_c = run->ambient_c + run->ambient_slope * (run->now_s - run->row_start_s);
  now->ambient_c = ambient_c;
  if (run->options.isothermal) {
    now->bay_c = ambient_c;
    for (int k = 0; k < sys->conductor_count; k++) run->state.conductor_c[k] = ambient_c;
  } else {
    /* under-bonnet air: 600 s towards warm while the engine runs, 3600 s back */
    double goal_c = now->engine_on ? sys->vehicle.engine_bay_c : ambient_c;
    now->bay_c = goal_c + (now->bay_c - goal_c) * exp(-elapsed_s / (now->engine_on ? 600.0 : 3600.0));
  }
  for (int k = 0; k < sys->battery_count; k++)
    if (run->state.battery[k].temperature_c != ambient_c)
      tv_battery_set_temperature(run->battery[k], ambient_c, &run->state.battery[k]);
  return tv_run_update_wiring(run, false);
}

/* Speed at a moment of a row: a straight line to the next where the engine runs in both. */
static double rpm_at(const struct tailvolt_row *row, const struct tailvolt_row *next, double at_s) {
  if (next == NULL || at_s == row->time_s || !(row->engine_rpm > 0) || !(next->engine_rpm > 0)) return row->engine_rpm;
  return row->engine_rpm +
         (next->engine_rpm - row->engine_rpm) * ((at_s - row->time_s) / (next->time_s - row->time_s));
}

/* What was gathered belongs to the phase and use that end here. */
static enum tailvolt_status enter_phase(struct tv_run *run, double engine_rpm) {
  enum tailvolt_phase phase = tv_run_phase(run, engine_rpm);
  enum tailvolt_use use = tv_use_of(phase, engine_rpm);
  if (phase == run->phase && use == run->use) return TAILVOLT_OK;
  enum tailvolt_status status = tv_statistics_fold(run);
  run->phase = phase;
  run->use = use;
  run->use_noted = false;
  return status;
}

/* One stretch in which nothing but time goes on. */
static enum tailvolt_status stretch(struct tv_run *run, const struct tailvolt_row *row,
                                    const struct tailvolt_row *next, double from_s, double to_s) {
  enum tailvolt_status status;
  if ((status = enter_phase(run, rpm_at(row, next, from_s))) != TAILVOLT_OK) return status;
  tv_run_set_row(run, row, next);
  if (!run->use_noted) tv_uses_note_row(run);
  while (from_s < to_s) {
    if (run->stale_switches && (status = tv_run_update_division(run)) != TAILVOLT_OK) return status;
    double wanted_s = run->base_step_s / run->parts, span_s = to_s - from_s;
    double count = 1, step_s = span_s;
    if (span_s > wanted_s * (1 + 1e-6)) {
      count = ceil(span_s / wanted_s - 1e-6);
      step_s = span_s / count;
    }
    if (fabs(step_s - wanted_s) <= 1e-9 * wanted_s) step_s = wanted_s;
    run->largest_step_s = tv_most(run->largest_step_s, step_s);
    long long steps = (long long)count, k = 0;
    /* one step's end is bit for bit the next one's start: programme and ripple go on from where they stood */
    double start_s = from_s;
    while (k < steps) {
      double end_s = from_s + (double)++k * step_s;
      if ((status = tv_run_step(run, start_s, end_s, step_s)) != TAILVOLT_OK) return status;
      start_s = end_s;
      if (run->statistics->block.dt_s >= TV_TICK_S - 1e-9 || run->stale_wiring) {
        if ((status = tv_run_tick(run)) != TAILVOLT_OK) return status;
        if ((status = enter_phase(run, rpm_at(row, next, start_s))) != TAILVOLT_OK) return status;
        if (!run->use_noted) tv_uses_note_row(run);
      }
      if (run->stale_switches) break;
    }
    from_s = k == steps ? to_s : start_s;
  }
  run->ended_s = to_s;
  return TAILVOLT_OK;
}

enum tailvolt_status tv_run_advance(struct tv_run *run, const struct tailvolt_row *row,
                                    const struct tailvolt_row *next, double from_s, double to_s) {
  struct tv_state_scalars *now = &run->state.now;
  bool starts = tv_row_runs(row) && !now->engine_on && run->steps > 0;
  if (starts && !run->system->engine.stop_and_start) now->grace_end_s = from_s + TV_GRACE_S;
  run->in_grace = tv_row_runs(row) && from_s < now->grace_end_s;
  if (run->in_grace && now->grace_end_s < to_s) {
    enum tailvolt_status status = stretch(run, row, next, from_s, now->grace_end_s);
    if (status != TAILVOLT_OK) return status;
    from_s = now->grace_end_s;
    run->in_grace = false;
  }
  return stretch(run, row, next, from_s, to_s);
}
