#include "simulate/event.h"

#include <math.h>

#include "parts/starter.h"
#include "simulate/run.h"

#define CRANK_LOOK_S 0.5     /* the voltage counts from then on, or for the last quarter of a shorter start */
#define CRANK_LOOK_FRAC 0.75

/* ---- within the step ---- */

/* Solves the same step again, after something has been settled differently. */
static enum tailvolt_status solve_again(struct tv_run *run) {
  run->hot->ops->open(run->hot);
  return tv_run_solve(run);
}

/* A diode that carries current backwards opens; one above its drop closes. */
static bool turn_diodes(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  const double *value = tv_hot_y(run->hot);
  bool turned = false;
  for (int k = 0; k < y->isolators; k++) {
    if (y->isolator_form[k] != TV_HOT_DIODE) continue;
    struct tv_hot_isolator *state = &TV_HOT(run->hot, isolator)[k];
    double above_v = value[y->isolator_row + 2 * k] - value[y->isolator_row + 2 * k + 1] - state->drop_v;
    if (state->closed > 0 ? above_v >= 0 : above_v <= 0) continue;
    state->closed = 1 - state->closed;
    turned = true;
  }
  return turned;
}

/* Constant currents below the taper become conductances, and back. */
static bool turn_draws(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  bool turned = false;
  for (int k = 0; k < y->ports; k++) {
    struct tv_hot_port *port = &TV_HOT(run->hot, port)[k];
    double low = tv_hot_y(run->hot)[y->port_value[k]] < TV_TAPER_V;
    if (!y->constant[k] || low == port->low || port->constant_a == 0) continue;
    tv_statistics_collect(run); /* what was drawn so far was drawn in the other form */
    port->low = low;
    turned = true;
  }
  return turned;
}

/* A pack that refuses charge lets current out, not in: its own diode. */
static bool turn_packs(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  bool turned = false;
  for (int k = 0; k < y->batteries; k++) {
    struct tv_hot_battery *b = &TV_HOT(run->hot, battery)[k];
    if (!y->guarded[k] || b->guard != TV_GUARD_CLOSED) continue;
    double out_v = b->e_v - tv_hot_y(run->hot)[y->battery_row + k];
    if (b->blocked > 0 ? !(out_v > 0 || b->one_way == 0) : !(b->one_way > 0 && out_v < TV_PACK_REFUSES_V)) continue;
    b->blocked = 1 - b->blocked;
    b->guard_ohm = b->blocked > 0 ? TV_BLOCKED_OHM : 0;
    turned = true;
  }
  return turned;
}

/* The step is solved again until everything agrees with its own voltages: a change one step late would let the first
 * millisecond of a beat, the worst moment, pass without the battery behind it. */
static enum tailvolt_status settle_within(struct tv_run *run) {
  int most = 2 * (run->layout->isolators + run->layout->ports + run->layout->batteries) + 2;
  for (int round = 0; round < most; round++) {
    bool turned = turn_diodes(run);
    turned = turn_packs(run) || turned;
    turned = turn_draws(run) || turned;
    if (!turned) return TAILVOLT_OK;
    enum tailvolt_status status = tv_run_update_stiff(run);
    if (status == TAILVOLT_OK) status = solve_again(run);
    if (status != TAILVOLT_OK) return status;
  }
  return TAILVOLT_OK;
}

#define SLOPE_FRAC 1e-3 /* a battery slope that differs more than this from the reduction's goes into it */

static enum tailvolt_status take_tangent(struct tv_run *run, int k) {
  struct tv_hot_battery *b = &TV_HOT(run->hot, battery)[k];
  tv_run_tangent(run, k, run->step_s);
  double ohm = b->total_ohm[b->last_a < TV_BATTERY_CHARGED_A];
  return fabs(ohm - b->used_ohm) > SLOPE_FRAC * b->used_ohm ? tv_run_reduce(run, run->step_s) : TAILVOLT_OK;
}

/* Load response: the output at the set point may rise by no more than ramp x step. */
static void limit_rise(struct tv_run *run) {
  const struct tailvolt_alternator *spec = &run->system->alternator;
  struct tv_hot_source *s = TV_HOT(run->hot, source);
  double middle_s = run->now_s + 0.5 * run->step_s, rpm = tv_run_rpm(run, middle_s);
  if (!(rpm < 1000)) return;
  double rotor_rpm = rpm * spec->pulley_ratio;
  double now_a = tv_alternator_current_a(&run->alternator, rotor_rpm, s->set_v, s->field_scale * s->field_frac);
  double reach = tv_alternator_field_for(&run->alternator, rotor_rpm, s->set_v, now_a + spec->ramp_a_per_s * run->step_s);
  s->field_high_frac = tv_most(tv_least(s->field_high_frac, reach), s->field_low_frac);
}

/* ---- totals ---- */

static void note_lowest(struct tv_run *run, int k) {
  struct tv_amplifier_total *t = &run->statistics->amplifier[k];
  struct tv_hot_amplifier_sum *sum = &TV_HOT(run->hot, amplifier_sum)[k];
  double v = tv_run_amplifier_v(run, k);
  if (run->in_grace) {
    t->start_min_v = tv_least(t->start_min_v, v);
    if (isnan(t->phase[run->phase].target_v)) { /* for a phase that is nothing but a start */
      t->phase[run->phase].min_time_s = run->now_s;
      t->phase[run->phase].target_v = run->drive[k].target_v + run->drive[k].shift_v;
    }
    tv_run_pack_lowest(run, k);
    return;
  }
  if (v < t->min_v) {
    int b = tv_feed_path_now(run, k)->battery;
    if (b >= 0) tv_run_unpack_battery(run, b);
    t->min_v = sum->min_v = v;
    t->min_time_s = run->now_s;
    t->target_at_min_v = run->drive[k].target_v;
    tv_feed_path_look(run, k, false, run->now_s, v, run->step_s);
  }
  if (TV_HOT(run->hot, amplifier)[k].plays > 0 && v < t->phase[run->phase].min_v) {
    t->phase[run->phase].min_v = sum->phase_min_v = v;
    t->phase[run->phase].min_time_s = run->now_s;
    t->phase[run->phase].target_v = run->drive[k].target_v + run->drive[k].shift_v;
  }
}

static enum tailvolt_status look(struct tv_run *run) {
  return tv_recorder_take(run, run->now_s, run->step_s);
}

/* ---- switches ---- */

static void trip(struct tv_run *run, int k, bool collapse) {
  struct tv_amplifier_total *total = &run->statistics->amplifier[k];
  struct tv_hot_amplifier *a = &TV_HOT(run->hot, amplifier)[k];
  a->out = 1;
  a->below_s = a->above_s = 0;
  total->cut_outs++;
  if (run->in_grace) total->start_cut_outs++;
  if (collapse && total->collapses++ == 0) total->first_collapse_s = run->now_s;
}

static void switch_amplifier(struct tv_run *run, int k) {
  const struct tv_amplifier *amplifier = &run->amplifier[k];
  struct tv_hot_amplifier *a = &TV_HOT(run->hot, amplifier)[k];
  if (a->out > 0) {
    if (!(a->above_s >= amplifier->restart_delay_s - 1e-9)) return;
    a->out = a->ramp_s = a->below_s = a->above_s = 0;
    return;
  }
  if (a->below_s > 0 && a->below_s >= amplifier->cut_out_delay_s - 1e-9) {
    trip(run, k, false);
    return;
  }
  int b = tv_feed_path_now(run, k)->battery;
  if (run->storage_port[k] < 0 || !(a->storage_v < 8) || b < 0) return;
  tv_run_unpack_battery(run, b);
  if (a->storage_v < 0.5 * tv_battery_open_circuit_v(run->battery[b], &run->state.battery[b])) trip(run, k, true);
}

static enum tailvolt_status switch_isolator(struct tv_run *run, int k) {
  struct tv_hot_isolator *s = &TV_HOT(run->hot, isolator)[k];
  int source = run->layout->isolator_source[k];
  if (source == TV_NONE) tv_statistics_collect(run); /* until now it was as it was */
  s->closed = 1 - s->closed;
  s->held_s = 0;
  if (source == TV_NONE) return tv_run_update_stiff(run);
  TV_HOT(run->hot, source)[source].active = s->closed; /* a converter's ports stay in the network */
  return TAILVOLT_OK;
}

static enum tailvolt_status switch_guard(struct tv_run *run, int k) {
  struct tv_hot_battery *b = &TV_HOT(run->hot, battery)[k];
  if (b->guard == TV_GUARD_CLOSED)
    b->guard = b->a > b->overload_a ? TV_GUARD_OVERLOAD : TV_GUARD_EMPTY;
  else
    b->guard = TV_GUARD_CLOSED;
  b->guard_s = b->blocked = 0;
  b->guard_ohm = b->guard == TV_GUARD_CLOSED ? 0 : 1 / TV_OPEN_S;
  return tv_run_update_stiff(run);
}

/* It starts where the posts, once the inrush is over, are at or above what the starter needs (parts/starter.h). */
static void judge_start(struct tv_run *run, double crank_s, bool ends) {
  const struct tv_start_needs *needs = &run->state.now.start;
  struct tv_statistics *st = run->statistics;
  double v = tv_hot_y(run->hot)[run->layout->battery_row + run->layout->start_battery];
  if (crank_s >= tv_least(CRANK_LOOK_S, CRANK_LOOK_FRAC * needs->length_s) - 1e-9) st->crank_v = tv_least(st->crank_v, v);
  if (!ends) return;
  if (st->crank_v < needs->floor_v && isnan(st->no_start_s)) {
    st->no_start_v = st->crank_v;
    st->no_start_needs_v = needs->floor_v;
    st->no_start_s = run->now_s - crank_s;
  }
  st->crank_v = HUGE_VAL;
}

static enum tailvolt_status turn_starter(struct tv_run *run) {
  struct tv_hot_lane *lane = TV_HOT(run->hot, lane);
  double crank_s = lane->crank_s;
  double before_a = tv_starter_current_a(&run->state.now.start, lane->crank_s);
  lane->crank_s += run->step_s;
  if (lane->crank_s >= run->state.now.start.length_s - 1e-9) lane->crank_s = -1;
  judge_start(run, crank_s, lane->crank_s < 0);
  double now_a = lane->crank_s < 0 ? 0 : tv_starter_current_a(&run->state.now.start, lane->crank_s);
  if (now_a == before_a) return TAILVOLT_OK;
  enum tailvolt_status status = tv_run_change_constants(run);
  tv_run_pack_source(run);
  return status;
}

/* ---- all of them ---- */

static enum tailvolt_status happen(struct tv_run *run, enum tv_event event, int index) {
  switch (event) {
    case TV_EVENT_TANGENT: return take_tangent(run, index);
    case TV_EVENT_RAMP: limit_rise(run); return TAILVOLT_OK;
    case TV_EVENT_UNSOLVED: return tv_run_solve_hard(run);
    case TV_EVENT_DISAGREES: return settle_within(run);
    case TV_EVENT_LOWEST: note_lowest(run, index); return TAILVOLT_OK;
    case TV_EVENT_WATCH: return look(run);
    case TV_EVENT_AMPLIFIER: switch_amplifier(run, index); return TAILVOLT_OK;
    case TV_EVENT_ISOLATOR: return switch_isolator(run, index);
    case TV_EVENT_GUARD: return switch_guard(run, index);
    case TV_EVENT_CRANK: return turn_starter(run);
  }
  return TAILVOLT_INTERNAL;
}

/* The commonest event of a lane needs only its battery; false, with nothing changed, where more follows. */
static bool take_tangent_alone(struct tv_hot *hot, int lane, int k) {
  struct tv_run *run = hot->run[lane];
  int size = (int)(sizeof(struct tv_hot_battery) / sizeof(double)), place = hot->layout->battery + k * size;
  const struct tv_hot_battery *b = &TV_HOT(run->hot, battery)[k];
  tv_hot_extract_part(hot, lane, place, size);
  tv_run_tangent(run, k, run->step_s);
  if (fabs(b->total_ohm[b->last_a < TV_BATTERY_CHARGED_A] - b->used_ohm) > SLOPE_FRAC * b->used_ohm) return false;
  tv_hot_insert_part(hot, lane, place, size);
  return true;
}

enum tailvolt_status tv_hot_event(struct tv_hot *hot, int lane, enum tv_event event, int index) {
  struct tv_run *run = hot->run[lane];
  bool own = hot == run->hot;
  if (!own && event == TV_EVENT_TANGENT && take_tangent_alone(hot, lane, index)) return TAILVOLT_OK;
  if (!own) tv_hot_extract(hot, lane);
  run->now_s = TV_HOT(run->hot, lane)->now_s;
  run->matrix_moved = false;
  enum tailvolt_status status = happen(run, event, index);
  if (own) return status;
  if (status != TAILVOLT_OK) { /* this lane ends; the others go on */
    run->failed = status;
    TV_HOT(run->hot, lane)->live = 0;
  }
  tv_hot_insert(hot, lane, run->matrix_moved);
  return TAILVOLT_OK;
}
