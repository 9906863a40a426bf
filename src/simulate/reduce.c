/* Keeping the network's reductions in step with resistances, switches, loads and the length of the step. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "parts/alternator_heat.h"
#include "parts/conductor.h"
#include "simulate/run.h"

static double conductor_ohm(const struct tv_run *run, int k) {
  if (run->state.blown[k]) return 1 / TV_OPEN_S;
  return tv_conductor_resistance_ohm(&run->system->conductors[k], run->state.conductor_c[k]);
}

/* Puts resistances that have drifted into the wiring. */
enum tailvolt_status tv_run_update_wiring(struct tv_run *run, bool always) {
  const struct tailvolt_system *sys = run->system;
  struct tv_network *n = run->network;
  bool drifted = always;
  for (int k = 0; k < sys->conductor_count && !drifted; k++) {
    double ohm = conductor_ohm(run, k);
    drifted = fabs(ohm - n->branch[k].ohm) > TV_DRIFT_FRAC * n->branch[k].ohm;
  }
  if (!drifted) return TAILVOLT_OK;
  if (run->step_s > 0) {
    enum tailvolt_status status = tv_statistics_fold(run);
    if (status != TAILVOLT_OK) return status;
  }
  for (int k = 0; k < sys->conductor_count; k++) n->branch[k].ohm = conductor_ohm(run, k);
  for (int g = 0; g < run->group_count; g++) n->watch[g].ohm = n->branch[run->group_conductor[g]].ohm;
  enum tailvolt_status status = tv_network_reduce_wiring(n);
  if (status != TAILVOLT_OK)
    snprintf(run->error, sizeof run->error, "the wiring has a point that nothing holds up");
  run->stale_ports = true;
  return status;
}

static void set_conductances(struct tv_run *run, double step_s) {
  const struct tailvolt_system *sys = run->system;
  struct tv_network *n = run->network;
  for (int k = 0; k < sys->battery_count; k++) {
    struct tv_battery_line line =
        tv_battery_begin(run->battery[k], &run->state.battery[k], step_s, run->last_a[k]);
    run->used_ohm[k] = run->line_ohm[k] = line.r_ohm;
    n->conductance_s[k] = 1 / line.r_ohm;
  }
  for (int k = 0; k < sys->capacitor_count; k++) {
    double ohm = sys->capacitors[k].esr_ohm + step_s / (2 * sys->capacitors[k].capacitance_f);
    n->conductance_s[run->capacitor_port0 + k] = step_s > 0 ? 1 / ohm : 0;
  }
  for (int k = 0; k < sys->amplifier_count; k++)
    if (run->storage_port[k] >= 0)
      n->conductance_s[run->storage_port[k]] = step_s > 0 ? 2 * run->amplifier[k].internal_f / step_s : 0;
  for (int k = 0; k < sys->load_count; k++) {
    const struct tailvolt_load *load = &sys->loads[k];
    if (run->load_port[k] >= 0)
      n->conductance_s[run->load_port[k]] = load->behaviour == TAILVOLT_RESISTOR
          ? run->load_on[k] * load->power_w / (load->rated_v * load->rated_v) : 0;
  }
  for (int k = 0; k < sys->isolator_count; k++)
    if (run->isolator_port[k] >= 0)
      n->conductance_s[run->isolator_port[k]] =
          run->state.isolator[k].closed ? 1 / sys->isolators[k].resistance_ohm : TV_OPEN_S;
  if (run->starter_port >= 0) n->conductance_s[run->starter_port] = 0;
}

/* Reference conductances: near the true ones at the default step, so that the correction stays small. */
static void set_references(struct tv_run *run) {
  struct tv_network *n = run->network;
  double step_s = run->options.time_step_s > 0 ? run->options.time_step_s : 1e-3;
  set_conductances(run, step_s);
  memcpy(n->reference_s, n->conductance_s, (size_t)n->linear_count * sizeof(double));
  for (int k = 0; k < run->system->isolator_count; k++)
    if (run->isolator_port[k] >= 0) n->reference_s[run->isolator_port[k]] = 1;
}

enum tailvolt_status tv_run_reduce(struct tv_run *run, double step_s) {
  if (run->network->wiring_reductions == 0) {
    set_references(run);
    enum tailvolt_status status = tv_run_update_wiring(run, true);
    if (status != TAILVOLT_OK) return status;
  }
  run->step_s = step_s;
  set_conductances(run, step_s);
  double tau_s = run->system->alternator.field_s;
  run->field_decay = tau_s > 0 ? exp(-step_s / tau_s) : 0;
  enum tailvolt_status status = tv_network_reduce_ports(run->network);
  if (status != TAILVOLT_OK)
    snprintf(run->error, sizeof run->error, "the network has no unique solution with its switches as they stand");
  run->stale_ports = false;
  return status;
}

/* The step is halved until half of it is below the shortest capacitive time constant (at most 64 parts). */
enum tailvolt_status tv_run_update_division(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_network *n = run->network;
  run->stale_switches = false;
  run->stale_ports = true;
  run->parts = 1;
  bool any = sys->capacitor_count > 0;
  for (int k = 0; k < sys->amplifier_count; k++) any = any || run->storage_port[k] >= 0;
  if (!any) return TAILVOLT_OK;
  double farad[512] = {0}, esr_ohm[512] = {0}, shortest_s;
  if (n->linear_count > 512) return TAILVOLT_INTERNAL;
  for (int k = 0; k < sys->capacitor_count; k++) {
    farad[run->capacitor_port0 + k] = sys->capacitors[k].capacitance_f;
    esr_ohm[run->capacitor_port0 + k] = sys->capacitors[k].esr_ohm;
  }
  for (int k = 0; k < sys->amplifier_count; k++)
    if (run->storage_port[k] >= 0) farad[run->storage_port[k]] = run->amplifier[k].internal_f;
  set_conductances(run, run->base_step_s);
  enum tailvolt_status status = tv_network_shortest_s(n, farad, esr_ohm, &shortest_s);
  if (status != TAILVOLT_OK) return status;
  while (run->parts < TV_PARTS_MOST && shortest_s < 0.5 * run->base_step_s / run->parts) run->parts *= 2;
  run->stale_ports = true;
  return TAILVOLT_OK;
}

/* s = g e + i of every linear port, for a step (or the instant, step_s = 0). */
void tv_run_fill_sources(struct tv_run *run, double step_s) {
  const struct tailvolt_system *sys = run->system;
  const double *g = run->network->conductance_s;
  double *s = run->s;
  for (int k = 0; k < sys->battery_count; k++) {
    struct tv_battery_line line =
        tv_battery_begin(run->battery[k], &run->state.battery[k], step_s, run->last_a[k]);
    run->line_ohm[k] = line.r_ohm;
    if (line.r_ohm != run->used_ohm[k]) {
      /* the same line, about the last current, with the resistance that is in the reduction */
      if (fabs(line.r_ohm - run->used_ohm[k]) > 1e-3 * run->used_ohm[k]) run->stale_ports = true;
      line.e_v += (run->used_ohm[k] - line.r_ohm) * run->last_a[k];
    }
    s[k] = g[k] * line.e_v;
  }
  s[0] -= run->base_a;
  for (int k = 0; k < sys->capacitor_count; k++)
    s[run->capacitor_port0 + k] = g[run->capacitor_port0 + k] * run->state.capacitor_v[k];
  for (int k = 0; k < sys->amplifier_count; k++)
    if (run->storage_port[k] >= 0) s[run->storage_port[k]] = g[run->storage_port[k]] * run->state.storage_v[k];
  for (int k = 0; k < sys->load_count; k++) {
    const struct tailvolt_load *load = &sys->loads[k];
    if (run->load_port[k] >= 0)
      s[run->load_port[k]] = load->behaviour == TAILVOLT_CONSTANT_CURRENT
          ? -run->load_on[k] * load->power_w / load->rated_v : 0;
  }
  for (int k = 0; k < sys->isolator_count; k++)
    if (run->isolator_port[k] >= 0)
      s[run->isolator_port[k]] = sys->isolators[k].kind == TAILVOLT_DIODE && run->state.isolator[k].closed
          ? g[run->isolator_port[k]] * sys->isolators[k].drop_v : 0;
  if (run->starter_port < 0) return;
  s[run->starter_port] = -tv_starter_current_a(&run->state.now.start, run->state.now.crank_s);
}

/* A load without a solution may have one with the diodes conducting: closes those that are open. */
static bool close_diodes(struct tv_run *run) {
  bool any = false;
  for (int k = 0; k < run->system->isolator_count; k++) {
    if (run->system->isolators[k].kind != TAILVOLT_DIODE || run->state.isolator[k].closed) continue;
    run->state.isolator[k].closed = run->stale_switches = any = true;
  }
  return any;
}

/* Solves the network for the sources filled in; an amplifier that asks for more than there is trips at once. */
enum tailvolt_status tv_run_solve(struct tv_run *run) {
  struct tv_network *n = run->network;
  struct tv_port_solver *solver = run->solver;
  for (bool tried = false;;) {
    enum tv_port_outcome outcome = tv_port_solve(solver);
    if (outcome == TV_PORT_SOLVED) break;
    if (outcome == TV_PORT_NO_SOLUTION && !tried && close_diodes(run)) {
      tried = true;
      enum tailvolt_status status = tv_run_reduce(run, run->step_s);
      if (status != TAILVOLT_OK) return status;
      tv_run_fill_sources(run, run->step_s);
      continue;
    }
    if (outcome == TV_PORT_UNSETTLED || solver->hopeless < 0) {
      snprintf(run->error, sizeof run->error, "the network did not settle at %.4f s", run->now_s);
      return TAILVOLT_DIVERGED;
    }
    struct tv_load_port *load = &solver->load[solver->hopeless];
    load->active = false;
    solver->j[load->port] = 0;
    if (load->is_amplifier) {
      struct tv_amplifier_total *total = &run->statistics->amplifier[solver->hopeless];
      struct tv_amplifier_state *state = &run->state.amplifier[solver->hopeless];
      state->out = true;
      state->above_s = state->below_s = 0;
      total->cut_outs++;
      if (total->collapses++ == 0) total->first_collapse_s = run->now_s;
    } else if (!run->statistics->load_collapsed) {
      run->statistics->load_collapsed = true;
      run->statistics->load_collapse_s = run->now_s;
    }
  }
  int l = n->linear_count, w = n->width;
  for (int i = 0; i < l; i++) run->linear_v[i] = tv_dot(n->row + i * w, solver->z, w);
  for (int k = 0; k < run->system->battery_count; k++)
    run->battery_a[k] = run->s[k] + (k == 0 ? run->base_a : 0) - n->conductance_s[k] * run->linear_v[k];
  const double *rows = n->row + l * w;
  for (int i = 0; i < n->watch_count; i++) run->watch_y[i] = tv_dot(rows + i * w, solver->z, w);
  return TAILVOLT_OK;
}

void tv_run_set_field_scale(struct tv_run *run) {
  bool cold_or_hot = !run->options.isothermal && isnan(run->system->alternator.fixed_output_a);
  run->field_scale = cold_or_hot ? tv_alternator_field_scale(run->state.now.copper_c) : 1;
}

double tv_run_stored_j(const struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_sum sum = {0, 0};
  for (int k = 0; k < sys->battery_count; k++)
    tv_sum_add(&sum, tv_battery_stored_j(run->battery[k], &run->state.battery[k]));
  for (int k = 0; k < sys->capacitor_count; k++) {
    double v = run->state.capacitor_v[k];
    tv_sum_add(&sum, 0.5 * sys->capacitors[k].capacitance_f * v * v);
  }
  for (int k = 0; k < sys->amplifier_count; k++)
    if (run->storage_port[k] >= 0)
      tv_sum_add(&sum, 0.5 * run->amplifier[k].internal_f * run->state.storage_v[k] * run->state.storage_v[k]);
  return tv_sum_value(&sum);
}
