/* Keeping the network's reductions up to date with resistances, switches, loads and step length. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "parts/alternator_heat.h"
#include "parts/capacitor.h"
#include "parts/conductor.h"
#include "parts/starter.h"
#include "simulate/run.h"
#include "text/number.h"

static double conductor_ohm(const struct tv_run *run, int k) {
  if (run->state.blown[k]) return 1 / TV_OPEN_S;
  return tv_conductor_resistance_ohm(&run->system->conductors[k], run->state.conductor_c[k]);
}

/* ---- wiring ---- */

/* Puts state.conductor_ohm into the wiring. */
static enum tailvolt_status reduce_wiring(struct tv_run *run) {
  struct tv_network *n = run->network;
  for (int k = 0; k < run->system->conductor_count; k++) n->branch[k].ohm = run->state.conductor_ohm[k];
  for (int g = 0; g < run->group_count; g++) n->watch[g].ohm = n->branch[run->group_conductor[g]].ohm;
  enum tailvolt_status status = tv_network_reduce_wiring(n);
  if (status != TAILVOLT_OK)
    snprintf(run->error, sizeof run->error, "the wiring has a point that nothing holds up");
  run->stale_ports = true;
  return status;
}

/* Puts resistances that have drifted into the wiring. */
enum tailvolt_status tv_run_update_wiring(struct tv_run *run, bool always) {
  const struct tailvolt_system *sys = run->system;
  bool drifted = always;
  for (int k = 0; k < sys->conductor_count && !drifted; k++) {
    double ohm = conductor_ohm(run, k), used_ohm = run->state.conductor_ohm[k];
    drifted = fabs(ohm - used_ohm) > run->drift_frac * used_ohm;
  }
  if (!drifted) return TAILVOLT_OK;
  for (int k = 0; k < sys->conductor_count; k++) run->state.conductor_ohm[k] = conductor_ohm(run, k);
  return reduce_wiring(run);
}

/* ---- ports ---- */

void tv_run_tangent(struct tv_run *run, int k, double step_s) {
  tv_run_unpack_battery(run, k);
  tv_battery_linearise(run->battery[k], &run->state.battery[k], step_s, TV_HOT(run->hot, battery)[k].last_a);
  tv_run_pack_tangent(run, k);
}

/* A capacitance behind a resistance, over a step; see parts/capacitor.h. */
static double companion_s(const struct tv_run *run, int stiff, double farad, double ohm, double step_s) {
  if (step_s <= 0) return 0;
  return 1 / (ohm + tv_capacitor_step_ohm(farad, step_s, run->state.stiff[stiff]));
}

static void set_storage(struct tv_run *run, double step_s) {
  const struct tailvolt_system *sys = run->system;
  double *g = run->network->conductance_s;
  for (int k = 0; k < sys->capacitor_count; k++) {
    const struct tailvolt_capacitor *c = &sys->capacitors[k];
    struct tv_hot_capacitor *hot = &TV_HOT(run->hot, capacitor)[k];
    hot->conductance_s = g[run->capacitor_port0 + k] = companion_s(run, k, c->capacitance_f, c->esr_ohm, step_s);
    hot->step_per_f = step_s / c->capacitance_f;
  }
  for (int k = 0; k < sys->amplifier_count; k++) {
    struct tv_hot_amplifier *hot = &TV_HOT(run->hot, amplifier)[k];
    int stiff = sys->capacitor_count + k;
    hot->storage_s = 0;
    if (run->storage_port[k] < 0) continue;
    hot->storage_s = companion_s(run, stiff, run->amplifier[k].internal_f, 0, step_s);
    hot->storage_factor = run->state.stiff[stiff] ? 1 : 2;
    g[run->storage_port[k]] = hot->storage_s;
  }
}

static void set_loads(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  double *g = run->network->conductance_s;
  for (int k = 0; k < run->load_port_count; k++) g[run->load_port0 + k] = 0;
  for (int k = 0; k < sys->load_count; k++)
    if (run->load_port[k] >= 0) g[run->load_port[k]] += tv_load_conductance_s(&sys->loads[k], run->load_on[k]);
  for (int k = 0; k < run->layout->ports; k++) {
    const struct tv_hot_port *port = &TV_HOT(run->hot, port)[k];
    int linear = k == 0 ? run->layout->start_battery : run->load_port0 + k - 1;
    if (port->low > 0) g[linear] += port->constant_a / TV_TAPER_V;
  }
}

static void set_conductances(struct tv_run *run, double step_s) {
  const struct tailvolt_system *sys = run->system;
  double *g = run->network->conductance_s;
  for (int k = 0; k < sys->battery_count; k++) {
    struct tv_hot_battery *b = &TV_HOT(run->hot, battery)[k];
    if (run->state.battery[k].cache.h_s != step_s) tv_run_tangent(run, k, step_s);
    if (!run->keep_used) b->used_ohm = b->total_ohm[b->last_a < TV_BATTERY_CHARGED_A];
    tv_run_pack_range(run, k);
    g[k] = b->conductance_s = 1 / (b->used_ohm + b->guard_ohm);
  }
  set_storage(run, step_s);
  set_loads(run);
  for (int k = 0; k < sys->isolator_count; k++) {
    struct tv_hot_isolator *s = &TV_HOT(run->hot, isolator)[k];
    if (run->isolator_port[k] < 0) continue;
    s->conductance_s = s->closed > 0 ? 1 / sys->isolators[k].resistance_ohm : TV_OPEN_S;
    s->source_a = sys->isolators[k].kind == TAILVOLT_DIODE && s->closed > 0 ? s->conductance_s * s->drop_v : 0;
    g[run->isolator_port[k]] = s->conductance_s;
  }
}

/* Reference conductances: near the true ones at the default step, so the correction stays small. Fixed for the life of a
 * run. */
static void set_references(struct tv_run *run) {
  struct tv_network *n = run->network;
  double step_s = run->options.time_step_s > 0 ? run->options.time_step_s : 1e-3;
  set_conductances(run, step_s);
  memcpy(n->reference_s, n->conductance_s, (size_t)n->linear_count * sizeof(double));
  for (int k = 0; k < run->system->isolator_count; k++)
    if (run->isolator_port[k] >= 0) n->reference_s[run->isolator_port[k]] = 1;
}

/* ---- into the block ---- */

static const double *network_row(const struct tv_run *run, int row) {
  const struct tv_network *n = run->network;
  int source = run->row_of[row];
  if (source < 0) return NULL;
  if (source < n->nonlinear_count) return n->port_row + source * n->width;
  return n->row + (source - n->nonlinear_count) * n->width;
}

/* The rows, each column matching what is in the block: a line's voltage rather than its short-circuit
 * current. */
static void load_matrix(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  const struct tv_network *n = run->network;
  int unknown0 = n->linear_count + n->source_count;
  for (int i = 0; i < y->rows; i++) {
    const double *row = network_row(run, i);
    for (int j = 0; j < y->columns && row != NULL; j++) {
      double *entry = &run->hot->matrix[tv_hot_at(y, 1, i, j)];
      if (j < y->batteries)
        *entry = row[j] * TV_HOT(run->hot, battery)[j].conductance_s;
      else if (j < y->storage_column)
        *entry = row[run->capacitor_port0 + j - y->batteries] *
                 TV_HOT(run->hot, capacitor)[j - y->batteries].conductance_s;
      else if (j >= y->unknown_column)
        *entry = row[unknown0 + j - y->unknown_column];
    }
    for (int k = 0; k < y->amplifiers && row != NULL; k++)
      if (y->storage[k] >= 0)
        run->hot->matrix[tv_hot_at(y, 1, i, y->storage[k])] =
            row[run->storage_port[k]] * TV_HOT(run->hot, amplifier)[k].storage_s;
  }
  for (int i = 0; i <= y->unknowns; i++)
    for (int j = 0; j < y->unknowns; j++)
      run->hot->own[i * y->unknowns + j] =
          run->hot->matrix[tv_hot_at(y, 1, i < y->unknowns ? i : y->sense_row, y->unknown_column + j)];
  run->matrix_moved = true;
}

/* Currents that do not depend on voltage: loads, base load, starter. */
static void set_constants(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_hot_port *port = TV_HOT(run->hot, port);
  double crank_s = TV_HOT(run->hot, lane)->crank_s;
  for (int k = 0; k < run->layout->ports; k++) port[k].constant_a = 0;
  if (run->layout->ports > 0)
    port[0].constant_a = run->base_a;
  if (run->starter_port >= 0)
    port[1 + run->starter_port - run->load_port0].constant_a = tv_starter_current_a(&run->state.now.start, crank_s);
  for (int k = 0; k < sys->load_count; k++)
    if (run->load_port[k] >= 0)
      port[1 + run->load_port[k] - run->load_port0].constant_a += tv_load_current_a(&sys->loads[k], run->load_on[k]);
}

void tv_run_load_offset(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  set_constants(run);
  for (int i = 0; i < y->rows; i++) {
    const double *row = network_row(run, i);
    double sum = 0;
    for (int k = 0; k < y->ports && row != NULL; k++) {
      const struct tv_hot_port *port = &TV_HOT(run->hot, port)[k];
      int linear = k == 0 ? y->start_battery : run->load_port0 + k - 1;
      if (!(port->low > 0)) sum -= row[linear] * port->constant_a;
    }
    for (int k = 0; k < y->isolators && row != NULL; k++)
      if (run->isolator_port[k] >= 0) sum += row[run->isolator_port[k]] * TV_HOT(run->hot, isolator)[k].source_a;
    run->hot->offset[i] = sum;
  }
}

/* Below the taper a constant current is a conductance, and belongs in the matrix. */
enum tailvolt_status tv_run_change_constants(struct tv_run *run) {
  bool low = false;
  for (int k = 0; k < run->layout->ports; k++) low = low || TV_HOT(run->hot, port)[k].low > 0;
  tv_statistics_collect(run);
  if (low) return tv_run_update_stiff(run);
  tv_run_load_offset(run);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_run_reduce(struct tv_run *run, double step_s) {
  tv_run_pack(run);
  tv_statistics_collect(run);
  set_constants(run);
  if (run->network->wiring_reductions == 0) {
    set_references(run);
    enum tailvolt_status status = tv_run_update_wiring(run, true);
    if (status != TAILVOLT_OK) return status;
  }
  bool other_step = run->step_s != step_s;
  run->step_s = step_s;
  set_conductances(run, step_s);
  enum tailvolt_status status = tv_network_reduce_ports(run->network);
  if (status != TAILVOLT_OK)
    snprintf(run->error, sizeof run->error, "the network has no unique solution with its switches as they stand");
  run->stale_ports = false;
  if (status != TAILVOLT_OK) return status;
  load_matrix(run);
  tv_run_load_offset(run);
  if (other_step) tv_run_pack_source(run);
  return TAILVOLT_OK;
}

/* A capacitance whose time constant at its port is below half a step gets the update that does not ring:
 * parts/capacitor.h. */
static bool is_stiff(const struct tv_run *run, int linear, double farad, double esr_ohm, double step_s) {
  const struct tv_network *n = run->network;
  double own_ohm = n->row[linear * n->width + linear], g = n->conductance_s[linear];
  double open_s = 1 / own_ohm - g;
  return !(open_s > 0) ? false : farad * (esr_ohm + 1 / open_s) < 0.5 * step_s;
}

enum tailvolt_status tv_run_update_stiff(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  int capacitors = sys->capacitor_count;
  run->stale_stiff = false;
  enum tailvolt_status status = tv_run_reduce(run, run->step_s);
  if (status != TAILVOLT_OK || run->step_s <= 0) return status;
  bool moved = false;
  for (int k = 0; k < capacitors + sys->amplifier_count; k++) {
    int linear = k < capacitors ? run->capacitor_port0 + k : run->storage_port[k - capacitors];
    if (linear < 0) continue;
    double farad = k < capacitors ? sys->capacitors[k].capacitance_f : run->amplifier[k - capacitors].internal_f;
    bool stiff = is_stiff(run, linear, farad, k < capacitors ? sys->capacitors[k].esr_ohm : 0, run->step_s);
    moved = moved || stiff != run->state.stiff[k];
    run->state.stiff[k] = stiff;
  }
  return moved ? tv_run_reduce(run, run->step_s) : TAILVOLT_OK;
}

/* Rebuilds the reductions as they were when a state was saved, from what it keeps of them. */
enum tailvolt_status tv_run_rebuild(struct tv_run *run, double step_s) {
  bool moved = false;
  for (int k = 0; k < run->system->conductor_count && !moved; k++)
    moved = run->network->branch[k].ohm != run->state.conductor_ohm[k];
  if (moved) {
    enum tailvolt_status status = reduce_wiring(run);
    if (status != TAILVOLT_OK) return status;
  }
  run->keep_used = true;
  enum tailvolt_status status = tv_run_reduce(run, step_s);
  run->keep_used = false;
  return status;
}

/* ---- steps where the joint iteration fails ---- */

static void fill_sources(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  const double *z = tv_hot_z(run->hot), *g = run->network->conductance_s;
  double *s = run->solver->s;
  memset(s, 0, (size_t)run->network->linear_count * sizeof(double));
  for (int k = 0; k < y->batteries; k++) s[k] = TV_HOT(run->hot, battery)[k].conductance_s * z[k];
  for (int k = 0; k < y->capacitors; k++) s[run->capacitor_port0 + k] = g[run->capacitor_port0 + k] * z[y->batteries + k];
  for (int k = 0; k < y->amplifiers; k++)
    if (y->storage[k] >= 0) s[run->storage_port[k]] = g[run->storage_port[k]] * z[y->storage[k]];
  for (int k = 0; k < y->ports; k++) {
    const struct tv_hot_port *port = &TV_HOT(run->hot, port)[k];
    if (!(port->low > 0)) s[k == 0 ? y->start_battery : run->load_port0 + k - 1] -= port->constant_a;
  }
  for (int k = 0; k < y->isolators; k++)
    if (run->isolator_port[k] >= 0) s[run->isolator_port[k]] = TV_HOT(run->hot, isolator)[k].source_a;
}

static void fill_loads(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  for (int k = 0; k < y->first_converter - y->first_amplifier; k++) {
    struct tv_load_port *load = &run->solver->load[k];
    const struct tv_hot_unknown *u = &TV_HOT(run->hot, unknown)[y->first_amplifier + k];
    load->law = (struct tv_load_law){.constant_a = u->constant_a, .power_w = u->power_w};
    load->active = u->constant_a > 0 || u->power_w > 0;
    run->solver->j[load->port] = load->active ? u->j : 0;
    if (k >= y->amplifiers || run->prescribed[k]) continue;
    const struct tv_hot_amplifier *a = &TV_HOT(run->hot, amplifier)[k];
    double drive_w = TV_HOT(run->hot, amplifier_note)[k].drive_w;
    load->law.amplifier = &run->amplifier[k];
    load->law.drive_w = drive_w;
    load->law.ripple = a->ripple;
    load->law.storage_v = a->storage_v;
    load->law.storage_s = a->storage_s;
    load->law.may_clip = !run->amplifier[k].regulated && drive_w > 0 && load->active;
  }
  for (int k = 0; k < y->sources; k++) {
    struct tv_source_law *law = &run->solver->source[k];
    const struct tv_hot_source *s = &TV_HOT(run->hot, source)[k];
    law->active = s->active > 0;
    /* it starts from the last step, not from its own last answer: that one is no part of the state */
    int port = run->network->source[k].port;
    run->solver->j[port] = TV_HOT(run->hot, unknown)[port].j;
    law->clamp = (int)s->clamp;
    law->set_v = s->set_v;
    if (law->kind == TV_SOURCE_ALTERNATOR) {
      law->field_low_frac = s->field_low_frac;
      law->field_high_frac = s->field_high_frac;
      law->rotor_rpm = y->fixed_output ? s->rotor_rpm : s->ratio_rpm_per_v / s->ratio_per_v;
    } else {
      struct tv_load_port *input = &run->solver->load[law->input_load];
      input->active = law->active;
      input->law = (struct tv_load_law){0};
      if (!law->active) run->solver->j[input->port] = 0;
    }
  }
  for (int k = 0; k < run->network->nonlinear_count; k++) run->solver->v[k] = tv_hot_y(run->hot)[k];
}

/* A step without a solution may have one with the diodes conducting and the packs giving: lets current through all that stop it.
 * What it runs backwards through stops it again (event.c). */
static bool let_current_through(struct tv_run *run) {
  bool any = false;
  for (int k = 0; k < run->system->isolator_count; k++) {
    struct tv_hot_isolator *s = &TV_HOT(run->hot, isolator)[k];
    if (run->system->isolators[k].kind != TAILVOLT_DIODE || s->closed > 0) continue;
    s->closed = 1;
    any = true;
  }
  for (int k = 0; k < run->layout->batteries; k++) {
    struct tv_hot_battery *b = &TV_HOT(run->hot, battery)[k];
    if (!run->layout->guarded[k] || b->guard != TV_GUARD_CLOSED || !(b->blocked > 0)) continue;
    b->blocked = b->guard_ohm = 0;
    any = true;
  }
  return any;
}

/* With no pack behind it a source may carry its constant currents only below the taper, where they are conductances: takes them as
 * such. Those that end above it turn back (event.c). */
static bool soften_draws(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  bool any = false;
  for (int k = 0; k < y->ports; k++) {
    struct tv_hot_port *port = &TV_HOT(run->hot, port)[k];
    if (!y->constant[k] || port->low > 0 || port->constant_a == 0) continue;
    if (!any) tv_statistics_collect(run); /* what was drawn so far was drawn in the other form */
    port->low = 1;
    any = true;
  }
  return any;
}

/* Opens a converter at once, whatever its delay: one that draws more than there is lets go by itself. */
static void open_converter(struct tv_run *run, int k) {
  struct tv_hot_isolator *s = &TV_HOT(run->hot, isolator)[k];
  int source = run->layout->isolator_source[k];
  struct tv_load_port *input = &run->solver->load[run->solver->source[source].input_load];
  s->closed = s->held_s = 0;
  TV_HOT(run->hot, source)[source].active = 0;
  run->solver->source[source].active = input->active = false;
  run->solver->j[run->network->source[source].port] = run->solver->j[input->port] = 0;
}

/* The converter whose input a load is; TV_NONE for any other load. */
static int converter_of(const struct tv_run *run, int load) {
  for (int k = 0; k < run->layout->isolators; k++) {
    int source = run->layout->isolator_source[k];
    if (source != TV_NONE && run->solver->source[source].input_load == load) return k;
  }
  return TV_NONE;
}

/* A step that does not settle may do so with the converters open: returns those that were closed, a bit each. */
static unsigned open_converters(struct tv_run *run) {
  unsigned opened = 0;
  for (int k = 0; k < run->layout->isolators; k++) {
    int source = run->layout->isolator_source[k];
    if (source == TV_NONE || !(TV_HOT(run->hot, isolator)[k].closed > 0)) continue;
    open_converter(run, k);
    opened |= 1u << source;
  }
  return opened;
}

/* Whether one of those was below its threshold. If not its input is well, and it is its output that nothing holds. */
static bool had_to_open(const struct tv_run *run, unsigned opened) {
  for (int k = 0; k < run->layout->isolators; k++) {
    int source = run->layout->isolator_source[k];
    if (source == TV_NONE || !(opened & 1u << source)) continue;
    int input = run->solver->load[run->solver->source[source].input_load].port;
    if (run->solver->v[input] < TV_HOT(run->hot, isolator)[k].opens_below_v) return true;
  }
  return false;
}

/* Handles the load that asks for more than there is: an amplifier trips, a converter opens, any other load is left out of the
 * step. */
static void drop_load(struct tv_run *run, int index) {
  int port = run->solver->load[index].port, converter = converter_of(run, index);
  struct tv_hot_unknown *u = &TV_HOT(run->hot, unknown)[port];
  if (converter != TV_NONE) {
    open_converter(run, converter);
    return;
  }
  run->solver->load[index].active = false;
  run->solver->j[port] = 0;
  u->power_w = u->constant_a = 0;
  if (!run->solver->load[index].is_amplifier) {
    if (!run->statistics->load_collapsed) run->statistics->load_collapse_s = run->now_s;
    run->statistics->load_collapsed = true;
    return;
  }
  struct tv_amplifier_total *total = &run->statistics->amplifier[index];
  struct tv_hot_amplifier *a = &TV_HOT(run->hot, amplifier)[index];
  a->out = 1;
  a->above_s = a->below_s = 0;
  total->cut_outs++;
  if (run->in_grace) total->start_cut_outs++;
  if (total->collapses++ == 0) total->first_collapse_s = run->now_s;
}

/* A solution must lie above the taper for every constant-power load. */
static int below_taper(const struct tv_run *run) {
  int worst = TV_NONE;
  for (int k = 0; k < run->solver->load_count; k++) {
    const struct tv_load_port *load = &run->solver->load[k];
    if (!load->active || !(load->law.power_w > 0) || run->solver->v[load->port] >= TV_TAPER_V) continue;
    if (worst < 0 || run->solver->v[load->port] < run->solver->v[run->solver->load[worst].port]) worst = k;
  }
  return worst;
}

/* Which part, when, and what to change. */
static void explain_unsettled(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  for (int k = 0; k < sys->isolator_count; k++)
    if (sys->isolators[k].kind == TAILVOLT_CONVERTER && TV_HOT(run->hot, isolator)[k].closed > 0) {
      snprintf(run->error, sizeof run->error,
               "at %s s isolator %s finds no voltage to hold: put a battery or a capacitor at its output",
               tv_fixed(run->now_s, 4).text, sys->isolators[k].name);
      return;
    }
  snprintf(run->error, sizeof run->error,
           run->layout->alternator
               ? "at %s s the alternator finds no voltage to hold: give it a droop of some milliohms, or a "
                 "battery in its circuit"
               : "at %s s the network did not settle: a load sits where only other loads hold the voltage",
           tv_fixed(run->now_s, 4).text);
}

enum tailvolt_status tv_run_solve_hard(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  struct tv_port_solver *solver = run->solver;
  fill_loads(run);
  fill_sources(run);
  unsigned opened = 0;
  for (bool tried = false, softened = false;;) {
    enum tv_port_outcome outcome = tv_port_solve(solver);
    int collapsed_load = outcome == TV_PORT_SOLVED ? below_taper(run) : solver->collapsed_load;
    if (outcome == TV_PORT_SOLVED && collapsed_load < 0) {
      if (opened == 0 || had_to_open(run, opened)) break;
      return TAILVOLT_DIVERGED;
    }
    bool again = !tried && let_current_through(run);
    tried = true;
    if (!again && outcome == TV_PORT_UNSETTLED && !softened) again = softened = soften_draws(run);
    if (again) {
      enum tailvolt_status status = tv_run_update_stiff(run);
      if (status != TAILVOLT_OK) return status;
      run->hot->ops->open(run->hot);
      fill_sources(run);
      continue;
    }
    if (outcome == TV_PORT_UNSETTLED || collapsed_load < 0) {
      if (opened == 0) explain_unsettled(run);
      if (opened != 0 || (opened = open_converters(run)) == 0) return TAILVOLT_DIVERGED;
      continue;
    }
    drop_load(run, collapsed_load);
  }
  for (int k = 0; k < y->unknowns; k++) tv_hot_z(run->hot)[y->unknown_column + k] = solver->j[k];
  for (int k = 0; k < y->sources; k++) TV_HOT(run->hot, source)[k].clamp = solver->source[k].clamp;
  /* a load left out of this step asks again in the next, however the run is sliced */
  tv_run_pack_loads(run);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_run_solve(struct tv_run *run) {
  enum tailvolt_status status = TAILVOLT_OK;
  if (!run->hot->ops->solve(run->hot)) status = tv_run_solve_hard(run);
  if (status == TAILVOLT_OK) run->hot->ops->close(run->hot);
  return status;
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
