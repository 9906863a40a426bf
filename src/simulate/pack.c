/* A run's state, moved between its part-by-part form and the loop's block; and what the block takes from the row in
 * force. */
#include <float.h>
#include <math.h>
#include <string.h>

#include "parts/elementary.h"
#include "simulate/run.h"
#include "simulate/wiring.h"

/* ---- batteries ---- */

/* The inside voltage without current in the middle of the next step is linear in the states before this step and in the main current of
 * this one: a state x becomes (2 keep - 1) x + 2 gain a + 2 shift. [1]: charging, when only a share is stored. */
static void look_ahead(struct tv_hot_battery *b, const struct tv_battery_cache *c, int branches) {
  double shift_v = b->keep[0] * c->branch_shift_v + b->keep[TV_BATTERY_TAIL] * c->tail_shift_v, branches_ohm = 0;
  b->ahead_shift_v = b->inner_shift_v - 2 * shift_v;
  b->ahead_head_v_per_c = b->head_v_per_c * (2 * b->well_keep - 1);
  for (int j = 0; j < branches; j++) {
    b->ahead_keep[j] = b->keep[j] * (2 * b->keep[j] - 1);
    branches_ohm += 2 * b->keep[j] * b->gain_ohm[j];
  }
  double stored_ohm = b->u_per_c * c->h_s + 2 * b->head_v_per_c * b->well_gain_s;
  b->ahead_ohm[0] = branches_ohm + stored_ohm;
  b->ahead_ohm[1] = branches_ohm + stored_ohm * b->store_frac;
}

/* The surface charge: it may build up while charging, and is shorted where none is held (parts/battery.c). So an open branch without
 * any, and a shorted one that could hold some, have left their range. */
void tv_run_pack_range(struct tv_run *run, int k) {
  struct tv_hot_battery *b = &TV_HOT(run->hot, battery)[k];
  const struct tv_battery_cache *c = &run->state.battery[k].cache;
  bool label = !run->battery[k]->circuit, holds = label && run->battery[k]->branch_f[TV_BATTERY_TAIL] > 0;
  for (int j = 0; j < 2; j++) {
    bool shorted = holds && !c->tail_open;
    b->tail_low_v[j] = label ? c->tail_low_v : -HUGE_VAL;
    b->tail_high_v[j] = label ? c->tail_high_v : HUGE_VAL;
    if (holds && c->tail_open && j == 0) b->tail_high_v[j] = tv_least(c->tail_high_v, -DBL_MIN);
    if (shorted && j == 0) b->tail_low_v[j] = tv_most(c->tail_low_v, 0);
    bool strays = fabs(b->total_ohm[j] - b->used_ohm) > 1e-3 * b->used_ohm;
    if (strays || (shorted && j == 1)) b->tail_low_v[j] = HUGE_VAL;
  }
}

void tv_run_pack_battery(struct tv_run *run, int k) {
  struct tv_hot_battery *b = &TV_HOT(run->hot, battery)[k];
  const struct tv_battery *part = run->battery[k];
  const struct tv_battery_state *s = &run->state.battery[k];
  const struct tv_battery_cache *c = &s->cache;
  b->charge_c = s->charge_c;
  b->head_c = s->head_c;
  b->loss_j = s->loss_j;
  b->gassed_c = s->gassed_c;
  for (int j = 0; j < TV_BATTERY_BRANCHES; j++) {
    b->branch_v[j] = s->branch_v[j];
    b->keep[j] = c->keep[j];
    b->gain_ohm[j] = c->gain_ohm[j];
    b->siemens[j] = part->branch_siemens[j];
  }
  b->low_c = c->low_c;
  b->high_c = c->high_c;
  b->u_v = c->u_v;
  b->u_per_c = c->u_per_c;
  b->usable_c = part->usable_c;
  b->resistance_ohm = c->resistance_ohm;
  b->overload_a = part->overload_a;
  b->refuse_c = s->temperature_c < 0 ? -HUGE_VAL : TV_GUARD_FULL_FRAC * part->usable_c;
  b->line_e_v = c->line_e_v;
  b->charging = c->charging;
  if (part->circuit) {
    b->inner_shift_v = c->u_v;
    b->head_v_per_c = 0;
    for (int j = 0; j < 2; j++) {
      b->line_gain[j] = 1;
      b->line_shift_v[j] = b->inside_ohm[j] = 0;
      b->total_ohm[j] = c->total_ohm[0];
    }
    b->store_frac = 1;
    look_ahead(b, c, part->branch_count);
    tv_run_pack_range(run, k);
    return;
  }
  b->tail_open = c->tail_open;
  b->tail_shift_v = c->tail_shift_v;
  b->tail_leak_a = c->tail_leak_a;
  b->tail_leak_s = c->tail_leak_s;
  b->tail_f = part->branch_f[TV_BATTERY_TAIL];
  b->bound_low_c = c->bound_low_c;
  b->bound_high_c = c->bound_high_c;
  b->branch_low_v = c->branch_low_v;
  b->branch_high_v = c->branch_high_v;
  b->bound_v = c->bound_v;
  b->bound_per_c = c->bound_per_c;
  b->available_frac = c->available_frac;
  b->exchange_per_s = c->exchange_per_s;
  b->branch_shift_v = c->branch_shift_v;
  b->branch_a = c->branch_a;
  b->branch_s = c->branch_s;
  b->well_keep = c->well_keep;
  b->well_gain_s = c->well_gain_s;
  b->gas_s = c->gas_s;
  b->gas_shift_a = c->gas_shift_a;
  b->store_frac = c->store_frac;
  b->inner_shift_v = c->inner_shift_v;
  b->head_v_per_c = c->head_v_per_c;
  for (int j = 0; j < 2; j++) {
    b->line_gain[j] = c->line_gain[j];
    b->line_shift_v[j] = c->line_shift_v[j];
    b->inside_ohm[j] = c->inside_ohm[j];
    b->total_ohm[j] = c->total_ohm[j];
  }
  look_ahead(b, c, part->branch_count);
  tv_run_pack_range(run, k);
}

void tv_run_pack_tangent(struct tv_run *run, int k) {
  struct tv_hot_battery *b = &TV_HOT(run->hot, battery)[k];
  tv_run_pack_battery(run, k);
  int j = b->last_a < TV_BATTERY_CHARGED_A;
  double inner_v = b->inner_shift_v + b->u_per_c * b->charge_c - b->head_v_per_c * b->head_c;
  for (int i = 0; i < run->battery[k]->branch_count; i++) inner_v -= b->keep[i] * b->branch_v[i];
  b->charging = j;
  b->line_e_v = inner_v * b->line_gain[j] + b->line_shift_v[j];
}

void tv_run_unpack_battery(struct tv_run *run, int k) {
  const struct tv_hot_battery *b = &TV_HOT(run->hot, battery)[k];
  struct tv_battery_state *s = &run->state.battery[k];
  s->charge_c = b->charge_c;
  s->head_c = b->head_c;
  s->loss_j = b->loss_j;
  s->gassed_c = b->gassed_c;
  for (int j = 0; j < TV_BATTERY_BRANCHES; j++) s->branch_v[j] = b->branch_v[j];
  s->cache.line_e_v = b->line_e_v;
  s->cache.charging = b->charging > 0;
}

/* ---- the whole state ---- */

static void pack_clocks(struct tv_run *run) {
  struct tv_hot_lane *lane = TV_HOT(run->hot, lane);
  const struct tv_state_scalars *now = &run->state.now;
  lane->live = 1;
  lane->from_s = now->grid_from_s;
  lane->step_s = now->grid_step_s;
  lane->index = now->grid_index;
  lane->now_s = now->now_s;
  lane->tick_s = now->tick_s;
  lane->fuse_s = now->fuse_s;
  lane->crank_s = now->crank_s;
}

static void pack_parts(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  const struct tv_state *s = &run->state;
  for (int k = 0; k < y->batteries; k++) {
    struct tv_hot_battery *b = &TV_HOT(run->hot, battery)[k];
    b->last_a = s->battery_last_a[k];
    b->used_ohm = s->battery_used_ohm[k];
    tv_run_pack_battery(run, k);
    b->guard = s->guard[k].guard;
    b->guard_s = s->guard[k].guard_s;
    b->one_way = s->guard[k].one_way;
    b->blocked = s->guard[k].blocked;
    b->guard_ohm = b->guard != TV_GUARD_CLOSED ? 1 / TV_OPEN_S : b->blocked > 0 ? TV_BLOCKED_OHM : 0;
  }
  for (int k = 0; k < y->capacitors; k++) TV_HOT(run->hot, capacitor)[k].v = s->capacitor_v[k];
  for (int k = 0; k < y->amplifiers; k++) {
    struct tv_hot_amplifier *a = &TV_HOT(run->hot, amplifier)[k];
    a->storage_v = s->storage_v[k];
    a->below_s = s->amplifier[k].below_s;
    a->above_s = s->amplifier[k].above_s;
    a->ramp_s = s->amplifier[k].ramp_s;
    a->out = s->amplifier[k].out;
  }
  for (int k = 0; k < y->unknowns; k++) {
    TV_HOT(run->hot, unknown)[k].j = s->guess[k].j;
    TV_HOT(run->hot, unknown)[k].before_j = s->guess[k].before_j;
  }
  for (int k = 0; k < y->sources; k++) {
    struct tv_hot_source *source = &TV_HOT(run->hot, source)[k];
    source->clamp = s->source[k].clamp;
    source->heat_as = s->source[k].heat_as;
    source->heat_a2s = s->source[k].heat_a2s;
    source->heat_j = s->source[k].heat_j;
    source->slope_siemens = s->source[k].slope_siemens;
    source->intercept_a = s->source[k].intercept_a;
    source->per_field_a = s->source[k].per_field_a;
    source->at_frac = s->source[k].at_frac;
    source->field_frac = s->now.field_frac;
  }
  for (int k = 0; k < y->isolators; k++) {
    TV_HOT(run->hot, isolator)[k].closed = s->isolator[k].closed;
    TV_HOT(run->hot, isolator)[k].held_s = s->isolator[k].held_s;
  }
  for (int k = 0; k < y->groups; k++) {
    TV_HOT(run->hot, group)[k].square_as = s->group_square_as[k];
    TV_HOT(run->hot, group)[k].fuse_as = s->group_fuse_as[k];
  }
  for (int k = 0; k < y->ports; k++) TV_HOT(run->hot, port)[k].low = s->low[k];
}

void tv_run_pack(struct tv_run *run) {
  if (run->packed) return;
  pack_clocks(run);
  pack_parts(run);
  tv_run_pack_row(run);
  tv_run_pack_minima(run);
  run->packed = true;
}

static void unpack_clocks(struct tv_run *run) {
  const struct tv_hot_lane *lane = TV_HOT(run->hot, lane);
  struct tv_state_scalars *now = &run->state.now;
  now->grid_from_s = lane->from_s;
  now->grid_step_s = lane->step_s;
  now->grid_index = lane->index;
  now->now_s = run->now_s = lane->now_s;
  now->tick_s = lane->tick_s;
  now->fuse_s = lane->fuse_s;
  now->crank_s = lane->crank_s;
}

void tv_run_unpack(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  struct tv_state *s = &run->state;
  if (!run->packed) return;
  unpack_clocks(run);
  for (int k = 0; k < y->batteries; k++) {
    const struct tv_hot_battery *b = &TV_HOT(run->hot, battery)[k];
    tv_run_unpack_battery(run, k);
    s->battery_last_a[k] = b->last_a;
    s->battery_used_ohm[k] = b->used_ohm;
    s->guard[k] = (struct tv_guard_state){b->guard, b->guard_s, b->one_way, b->blocked};
  }
  for (int k = 0; k < y->capacitors; k++) s->capacitor_v[k] = TV_HOT(run->hot, capacitor)[k].v;
  for (int k = 0; k < y->amplifiers; k++) {
    const struct tv_hot_amplifier *a = &TV_HOT(run->hot, amplifier)[k];
    s->storage_v[k] = a->storage_v;
    s->amplifier[k] = (struct tv_amplifier_state){a->out > 0, a->below_s, a->above_s, a->ramp_s};
  }
  for (int k = 0; k < y->unknowns; k++)
    s->guess[k] = (struct tv_guess){TV_HOT(run->hot, unknown)[k].j, TV_HOT(run->hot, unknown)[k].before_j};
  for (int k = 0; k < y->sources; k++) {
    const struct tv_hot_source *source = &TV_HOT(run->hot, source)[k];
    s->source[k] =
        (struct tv_source_state){(int)source->clamp,    source->heat_as,     source->heat_a2s,    source->heat_j,
                                 source->slope_siemens, source->intercept_a, source->per_field_a, source->at_frac};
  }
  if (y->alternator && run->system->alternator.field_s > 0) s->now.field_frac = TV_HOT(run->hot, source)->field_frac;
  for (int k = 0; k < y->isolators; k++)
    s->isolator[k] = (struct tv_isolator_state){TV_HOT(run->hot, isolator)[k].closed > 0,
                                                TV_HOT(run->hot, isolator)[k].held_s};
  for (int k = 0; k < y->groups; k++) {
    s->group_square_as[k] = TV_HOT(run->hot, group)[k].square_as;
    s->group_fuse_as[k] = TV_HOT(run->hot, group)[k].fuse_as;
  }
  for (int k = 0; k < y->ports; k++) s->low[k] = TV_HOT(run->hot, port)[k].low > 0;
  tv_statistics_show(run);
  run->packed = false;
}

/* ---- what the row brings ---- */

/* A ripple period in steps, for the lowest mean over it. */
static void pack_ripple(struct tv_run *run, struct tv_hot_amplifier_sum *sum) {
  double back = run->ripple_hz > 0 && run->base_step_s > 0 ? 0.5 / run->ripple_hz / TV_HOT(run->hot, lane)->step_s : 0;
  double whole = floor(back), per_s = back > 0 ? 2 * run->ripple_hz : 0;
  if (sum->ring_per_s == per_s && sum->ring_whole == whole && sum->ring_part == back - whole) return;
  sum->ring_per_s = whole + 2 < TV_RING ? per_s : 0;
  sum->ring_whole = whole;
  sum->ring_part = back - whole;
  sum->ring_count = sum->ring_v_s = 0;
  if (per_s > 0 && sum->ring_per_s == 0) sum->ring_whole = TV_RING; /* too fine a step for it: no such mean */
}

static void pack_amplifier(struct tv_run *run, int k) {
  struct tv_hot_amplifier *a = &TV_HOT(run->hot, amplifier)[k];
  const struct tv_amplifier *part = &run->amplifier[k];
  const struct tv_drive *drive = &run->drive[k];
  bool prescribed = run->prescribed[k], music = !prescribed && drive->powered;
  a->rated_w = part->rated_w;
  a->per_rated_w = 1 / part->rated_w;
  a->rated_v = part->rated_v;
  a->per_rated_v = 1 / part->rated_v;
  a->above_w = part->above_w;
  a->inside_ohm = tv_has_inside(run, k) ? part->internal_ohm : 0;
  a->cut_out_v = drive->powered && part->cut_out_v > 0 ? part->cut_out_v : -HUGE_VAL;
  a->cut_in_v = part->cut_in_v;
  a->cut_out_delay_s = part->cut_out_delay_s;
  a->restart_delay_s = part->restart_delay_s;
  a->idle_a = prescribed ? 0 : drive->powered ? part->idle_a : part->standby_a;
  bool given = !isnan(drive->output_w);
  a->gain_w = music && !given && drive->programme >= 0 ? drive->gain_w : 0;
  a->fixed_w = music && given ? drive->output_w : 0;
  a->row_w = prescribed && drive->powered && drive->supply_w > 0 ? drive->supply_w : 0;
  a->row_a = prescribed && drive->powered && drive->supply_a > 0 ? drive->supply_a : 0;
  a->plays = drive->playing;
  a->target_v = drive->target_v;
  a->shift_v = drive->shift_v;
  tv_run_pack_lowest(run, k);
  run->hot->bins[k] = run->statistics->amplifier[k].bins[run->phase];
  pack_ripple(run, &TV_HOT(run->hot, amplifier_sum)[k]);
}

/* Alternator and converters, from row, slow clocks and starter. */
void tv_run_pack_source(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  const struct tailvolt_system *sys = run->system;
  struct tv_hot_source *s = TV_HOT(run->hot, source);
  if (y->alternator) {
    const struct tailvolt_alternator *spec = &sys->alternator;
    const struct tv_alternator *part = &run->alternator;
    double tau_s = spec->field_s, step_s = run->step_s;
    bool turns = run->state.now.engine_on && TV_HOT(run->hot, lane)->crank_s < 0;
    s->active = turns;
    s->droop_ohm = spec->droop_ohm;
    s->set_v = run->set_v;
    if (!run->set_commanded) s->set_v += spec->drift_v_per_k * (run->state.now.bay_c - 25);
    s->rotor_rpm = tv_most(run->engine_rpm, 1) * spec->pulley_ratio;
    s->rotor_rpm_per_s = turns ? run->engine_rpm_slope * spec->pulley_ratio : 0;
    s->row_from_s = run->row_start_s;
    s->field_decay = tau_s > 0 && step_s > 0 ? tv_exp(-step_s / tau_s) : 0;
    if (step_s <= 0) s->field_decay = 0;
    s->field_scale = run->field_scale;
    s->per_field_scale = 1 / run->field_scale;
    s->limit_a = y->fixed_output ? part->fixed_a : 0;
    if (!y->fixed_output) {
      s->ratio_rpm_per_v = part->n0_rpm / (part->rated_v + TV_ALTERNATOR_DIODES_V);
      s->ratio_per_v = s->ratio_rpm_per_v / s->rotor_rpm;
      s->i_inf_a = part->i_inf_a;
      s->per_i_inf_a = 1 / part->i_inf_a;
      s->nu1 = part->nu1;
      s->first_nu = part->first_nu;
      s->line_a = part->f1_a / (part->nu1 - part->first_nu);
    }
    s++;
  }
  for (int k = 0; k < y->isolators; k++) {
    if (y->isolator_source[k] < 0) continue;
    const struct tailvolt_isolator *spec = &sys->isolators[k];
    s = &TV_HOT(run->hot, source)[y->isolator_source[k]];
    s->active = TV_HOT(run->hot, isolator)[k].closed;
    s->set_v = spec->output_v;
    s->droop_ohm = TV_CONVERTER_DROOP_OHM;
    s->limit_a = spec->output_a;
    s->per_efficiency = 1 / spec->efficiency_frac;
  }
}

void tv_run_pack_loads(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  for (int k = y->first_load; k < y->first_converter; k++) TV_HOT(run->hot, unknown)[k].power_w = 0;
  for (int k = 0; k < run->system->load_count; k++)
    if (run->load_unknown[k] >= 0)
      TV_HOT(run->hot, unknown)[run->load_unknown[k]].power_w +=
          tv_load_power_w(&run->system->loads[k], run->load_on[k]);
}

/* What the engine switches is open at any voltage while it stands, and a relay closed at any while it runs. */
static void pack_thresholds(const struct tv_run *run, const struct tailvolt_isolator *spec, struct tv_hot_isolator *s) {
  bool stands = spec->by_engine && !run->state.now.engine_on;
  s->closes_above_v = stands ? INFINITY : isnan(spec->closes_above_v) ? -INFINITY : spec->closes_above_v;
  s->opens_below_v = stands ? INFINITY : isnan(spec->opens_below_v) ? -INFINITY : spec->opens_below_v;
}

void tv_run_pack_row(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  for (int k = 0; k < y->amplifiers; k++) pack_amplifier(run, k);
  tv_run_pack_loads(run);
  for (int k = 0; k < y->isolators; k++) {
    struct tv_hot_isolator *s = &TV_HOT(run->hot, isolator)[k];
    const struct tailvolt_isolator *spec = &run->system->isolators[k];
    s->drop_v = spec->drop_v;
    pack_thresholds(run, spec, s);
    s->close_delay_s = spec->close_delay_s;
    s->open_delay_s = spec->open_delay_s;
  }
  tv_run_pack_source(run);
  run->hot->run[0] = run;
  run->hot->one_time = true;
  run->hot->watched = run->statistics->recorder.sink != NULL;
  run->stale_row = false;
}
