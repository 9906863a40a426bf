/* A system's wiring as the run sees it: ports where storage, switches, loads and sources connect, what is watched, and where
 * each of them is in the loop's own block (simulate/hot.h). */
#include "simulate/wiring.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "parts/load.h"

static size_t some(int count) { return count > 0 ? (size_t)count : 1; }

bool tv_has_inside(const struct tv_run *run, int amplifier) {
  return !run->prescribed[amplifier] && run->system->amplifiers[amplifier].internal_ohm > 0;
}

bool tv_has_storage(const struct tv_run *run, int amplifier) {
  return !run->prescribed[amplifier] && run->system->amplifiers[amplifier].internal_f > 0;
}

static int converters(const struct tailvolt_system *sys) {
  int count = 0;
  for (int k = 0; k < sys->isolator_count; k++) count += sys->isolators[k].kind == TAILVOLT_CONVERTER;
  return count;
}

/* ---- ports ---- */

/* Similar loads between the same two points share a port. Returns its index in list[0..*count), adding it if
 * new. */
static int place(struct tv_port *list, int first, int *count, struct tv_port port) {
  for (int k = first; k < *count; k++)
    if (list[k].positive == port.positive && list[k].negative == port.negative) return k;
  list[*count] = port;
  return (*count)++;
}

/* Linear ports: batteries, capacitors, storages, resistor and current loads, starter, relays and diodes. */
static void place_linear(struct tv_run *run, struct tv_port *port, const int *inside, int *count) {
  const struct tailvolt_system *sys = run->system;
  int n = 0;
  for (int k = 0; k < sys->battery_count; k++)
    port[n++] = (struct tv_port){sys->batteries[k].positive, sys->batteries[k].negative};
  run->capacitor_port0 = n;
  for (int k = 0; k < sys->capacitor_count; k++)
    port[n++] = (struct tv_port){sys->capacitors[k].positive, sys->capacitors[k].negative};
  for (int k = 0; k < sys->amplifier_count; k++) {
    run->storage_port[k] = TV_NONE;
    if (!tv_has_storage(run, k)) continue;
    run->storage_port[k] = n;
    port[n++] = (struct tv_port){inside[k], sys->amplifiers[k].negative};
  }
  run->load_port0 = n;
  for (int k = 0; k < sys->load_count; k++) {
    run->load_port[k] = TV_NONE;
    if (tv_load_is_linear(&sys->loads[k]))
      run->load_port[k] =
          place(port, run->load_port0, &n, (struct tv_port){sys->loads[k].positive, sys->loads[k].negative});
  }
  /* the starter turns the engine block against the battery; used only where starts are simulated */
  run->starter_port = TV_NONE;
  if (sys->engine.simulate_starts && sys->battery_count > 0)
    run->starter_port = place(port, run->load_port0, &n,
                              (struct tv_port){sys->batteries[tv_start_battery(sys)].positive, sys->engine.block});
  run->load_port_count = n - run->load_port0;
  for (int k = 0; k < sys->isolator_count; k++) {
    run->isolator_port[k] = TV_NONE;
    if (sys->isolators[k].kind == TAILVOLT_CONVERTER) continue;
    run->isolator_port[k] = n;
    port[n++] = (struct tv_port){sys->isolators[k].from, sys->isolators[k].to};
  }
  *count = n;
}

/* Nonlinear ports, in the order of the unknowns: alternator, amplifiers, constant-power loads, converters (input and
 * output); then the alternator's sensing point, where it has its own. */
static void place_nonlinear(struct tv_run *run, struct tv_port *port, const int *inside, int *count) {
  const struct tailvolt_system *sys = run->system;
  int n = 0, ground = sys->battery_count > 0 ? sys->batteries[tv_start_battery(sys)].negative : 0;
  run->alternator_port = run->sense_port = TV_NONE;
  if (sys->alternator.present) {
    run->alternator_port = run->sense_port = n;
    port[n++] = (struct tv_port){sys->alternator.positive, sys->alternator.negative};
  }
  run->first_amplifier = n;
  for (int k = 0; k < sys->amplifier_count; k++)
    port[n++] = (struct tv_port){inside[k], sys->amplifiers[k].negative};
  run->first_load = n;
  for (int k = 0; k < sys->load_count; k++) {
    run->load_unknown[k] = TV_NONE;
    if (sys->loads[k].behaviour == TAILVOLT_CONSTANT_POWER)
      run->load_unknown[k] =
          place(port, run->first_load, &n, (struct tv_port){sys->loads[k].positive, sys->loads[k].negative});
  }
  run->first_converter = n;
  for (int k = 0; k < sys->isolator_count; k++)
    if (sys->isolators[k].kind == TAILVOLT_CONVERTER) {
      port[n++] = (struct tv_port){sys->isolators[k].from, ground};
      port[n++] = (struct tv_port){sys->isolators[k].to, ground};
    }
  run->unknowns = n;
  if (sys->alternator.present && sys->alternator.sense != sys->alternator.positive && sys->alternator.sense >= 0) {
    run->sense_port = n;
    port[n++] = (struct tv_port){sys->alternator.sense, sys->alternator.negative};
  }
  *count = n;
}

/* ---- groups: parts that carry one current ---- */

/* Conductors and two-ended parts, each from one point to another; `value` is the current in that direction among the step's
 * values. */
struct edge { int from, to, value; };

static int list_edges(const struct tv_run *run, struct edge *edge) {
  const struct tailvolt_system *sys = run->system;
  const struct tv_layout *y = run->layout;
  const struct tv_network *net = run->network;
  int n = 0;
  for (int k = 0; k < sys->conductor_count; k++)
    edge[n++] = (struct edge){sys->conductors[k].from, sys->conductors[k].to, TV_NONE};
  if (sys->alternator.present)
    edge[n++] = (struct edge){sys->alternator.negative, sys->alternator.positive, y->source_a};
  for (int k = 0; k < sys->battery_count; k++)
    edge[n++] = (struct edge){sys->batteries[k].negative, sys->batteries[k].positive, y->battery_net_a + k};
  for (int k = 0; k < sys->capacitor_count; k++)
    edge[n++] = (struct edge){sys->capacitors[k].negative, sys->capacitors[k].positive, y->capacitor_a + k};
  for (int k = 0; k < sys->amplifier_count; k++)
    edge[n++] = (struct edge){sys->amplifiers[k].positive, sys->amplifiers[k].negative, y->terminal_a + k};
  for (int k = 0; k < run->load_port_count; k++) {
    const struct tv_port *port = &net->port[run->load_port0 + k];
    edge[n++] = (struct edge){port->positive, port->negative, TV_NONE};
  }
  for (int k = run->first_load; k < run->unknowns; k++) {
    const struct tv_port *port = &net->port[net->linear_count + k];
    edge[n++] = (struct edge){port->positive, port->negative, TV_NONE};
  }
  for (int k = 0; k < sys->isolator_count; k++)
    if (run->isolator_port[k] >= 0)
      edge[n++] = (struct edge){sys->isolators[k].from, sys->isolators[k].to, y->isolator_a + k};
  return n;
}

/* Continues through points where just two edges meet. */
static void follow(struct tv_run *run, const struct edge *edge, const int *degree, const int *touch, int start,
                   bool forwards, int group) {
  int at = forwards ? edge[start].to : edge[start].from, here = start;
  while (degree[at] == 2) {
    int next = touch[2 * at] == here ? touch[2 * at + 1] : touch[2 * at];
    if (next == start || next == here) return;
    bool enters_from = edge[next].from == at;
    /* the current leaving the first edge at `to` enters the next one; reversed on the other side */
    double sign = forwards == enters_from ? 1 : -1;
    if (next < run->system->conductor_count) {
      if (run->conductor_group[next] != TV_NONE) return;
      run->conductor_group[next] = group;
      run->conductor_sign[next] = sign;
    } else if (run->group_value[group] == TV_NONE && edge[next].value >= 0) {
      run->group_value[group] = edge[next].value;
      run->group_sign[group] = sign;
    }
    at = enters_from ? edge[next].to : edge[next].from;
    here = next;
  }
}

static enum tailvolt_status find_groups(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  size_t nodes = some(run->network->node_count);
  int most = sys->conductor_count + 1 + sys->battery_count + sys->capacitor_count + sys->amplifier_count +
             run->load_port_count + run->unknowns + sys->isolator_count;
  struct edge *edge = calloc(some(most), sizeof *edge);
  int *degree = calloc(nodes, sizeof *degree), *touch = calloc(2 * nodes, sizeof *touch);
  enum tailvolt_status status = edge == NULL || degree == NULL || touch == NULL ? TAILVOLT_NO_MEMORY : TAILVOLT_OK;
  int count = status == TAILVOLT_OK ? list_edges(run, edge) : 0;
  for (int k = 0; k < count; k++) {
    int ends[2] = {edge[k].from, edge[k].to};
    for (int e = 0; e < 2; e++) {
      if (degree[ends[e]] < 2) touch[2 * ends[e] + degree[ends[e]]] = k;
      degree[ends[e]]++;
    }
  }
  run->group_count = 0;
  for (int k = 0; k < sys->conductor_count; k++) run->conductor_group[k] = TV_NONE;
  for (int k = 0; k < sys->conductor_count && status == TAILVOLT_OK; k++) {
    if (run->conductor_group[k] != TV_NONE) continue;
    int group = run->group_count++;
    run->conductor_group[k] = group;
    run->group_conductor[group] = k;
    run->conductor_sign[k] = 1;
    run->group_value[group] = TV_NONE;
    follow(run, edge, degree, touch, k, true, group);
    follow(run, edge, degree, touch, k, false, group);
  }
  free(edge);
  free(degree);
  free(touch);
  return status;
}

/* ---- what is watched ---- */

static void place_watches(struct tv_run *run, struct tv_watch *watch, int *count) {
  const struct tailvolt_system *sys = run->system;
  int n = 0;
  for (int g = 0; g < run->group_count; g++) {
    const struct tailvolt_conductor *c = &sys->conductors[run->group_conductor[g]];
    watch[n++] = (struct tv_watch){c->from, c->to, 1};
  }
  run->drop_watch0 = n;
  for (int k = 0; k < sys->amplifier_count; k++) {
    int b = run->feed_path[k].battery < 0 ? 0 : run->feed_path[k].battery;
    watch[n++] = (struct tv_watch){sys->batteries[b].positive, sys->amplifiers[k].positive, 1};
    watch[n++] = (struct tv_watch){sys->amplifiers[k].negative, sys->batteries[b].negative, 1};
  }
  run->meter_watch0 = n;
  for (int k = 0; k < sys->meter_count; k++)
    watch[n++] = (struct tv_watch){sys->meters[k].positive, sys->meters[k].negative, 1};
  run->isolator_watch0 = n;
  for (int k = 0; k < sys->isolator_count; k++) {
    watch[n++] = (struct tv_watch){sys->isolators[k].from, 0, 1};
    watch[n++] = (struct tv_watch){sys->isolators[k].to, 0, 1};
  }
  *count = n;
}

static void fill_branches(struct tv_run *run, const int *inside) {
  const struct tailvolt_system *sys = run->system;
  struct tv_branch *branch = run->network->branch;
  for (int k = 0; k < sys->conductor_count; k++)
    branch[k] = (struct tv_branch){sys->conductors[k].from, sys->conductors[k].to,
                                   sys->conductors[k].resistance_ohm};
  int n = sys->conductor_count;
  for (int k = 0; k < sys->amplifier_count; k++)
    if (tv_has_inside(run, k))
      branch[n++] = (struct tv_branch){sys->amplifiers[k].positive, inside[k], sys->amplifiers[k].internal_ohm};
}

/* The solver for steps where the joint iteration fails. */
static void fill_solver(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_network *n = run->network;
  int loads = 0, sources = 0;
  if (run->alternator_port >= 0) {
    n->source[sources] = (struct tv_source){run->alternator_port, run->sense_port, sys->alternator.droop_ohm};
    run->solver->source[sources].kind = TV_SOURCE_ALTERNATOR;
    run->solver->source[sources].alternator = &run->alternator;
    sources++;
  }
  for (int k = run->first_amplifier; k < run->first_converter; k++) {
    run->solver->load[loads].is_amplifier = k < run->first_load;
    run->solver->load[loads++].port = k;
  }
  int port = run->first_converter;
  for (int k = 0; k < sys->isolator_count; k++) {
    run->converter_source[k] = TV_NONE;
    if (sys->isolators[k].kind != TAILVOLT_CONVERTER) continue;
    run->solver->load[loads].port = port;
    n->source[sources] = (struct tv_source){port + 1, port + 1, TV_CONVERTER_DROOP_OHM};
    struct tv_source_law *law = &run->solver->source[sources];
    law->kind = TV_SOURCE_CONVERTER;
    law->set_v = sys->isolators[k].output_v;
    law->limit_a = sys->isolators[k].output_a;
    law->efficiency_frac = sys->isolators[k].efficiency_frac;
    law->input_load = loads++;
    run->converter_source[k] = sources++;
    port += 2;
  }
  run->solver->load_count = loads;
}

/* ---- the layout ---- */

static bool take_flags(struct tv_layout *y) {
  y->storage = calloc(some(y->amplifiers), sizeof(int));
  y->class_ab = calloc(some(y->amplifiers), sizeof(bool));
  y->regulated = calloc(some(y->amplifiers), sizeof(bool));
  y->prescribed = calloc(some(y->amplifiers), sizeof(bool));
  y->branches = calloc(some(y->batteries), sizeof(int));
  y->label = calloc(some(y->batteries), sizeof(bool));
  y->guarded = calloc(some(y->batteries), sizeof(bool));
  y->isolator_form = calloc(some(y->isolators), sizeof *y->isolator_form);
  y->isolator_unknown = calloc(some(y->isolators), sizeof(int));
  y->isolator_source = calloc(some(y->isolators), sizeof(int));
  y->group_value = calloc(some(y->groups), sizeof(int));
  y->meter_value = calloc(some(y->meters), sizeof(int));
  y->fuse_value = calloc(some(y->groups), sizeof(int));
  y->resistive = calloc(some(y->ports), sizeof(bool));
  y->constant = calloc(some(y->ports), sizeof(bool));
  y->port_value = calloc(some(y->ports), sizeof(int));
  return y->storage && y->class_ab && y->regulated && y->prescribed && y->branches && y->label && y->guarded &&
         y->isolator_form && y->isolator_unknown && y->isolator_source && y->group_value && y->meter_value &&
         y->fuse_value && y->resistive && y->constant && y->port_value;
}

void tv_layout_free(struct tv_layout *y) {
  if (y == NULL) return;
  free(y->storage), free(y->class_ab), free(y->regulated), free(y->prescribed), free(y->branches), free(y->label);
  free(y->guarded), free(y->isolator_form), free(y->isolator_unknown), free(y->isolator_source);
  free(y->group_value), free(y->meter_value), free(y->fuse_value), free(y->resistive), free(y->constant), free(y->port_value);
  free(y);
}

static bool copy_flags(const struct tv_layout *from, struct tv_layout *to) {
  if (!take_flags(to)) return false;
  size_t amplifiers = (size_t)to->amplifiers, batteries = (size_t)to->batteries, isolators = (size_t)to->isolators;
  memcpy(to->storage, from->storage, amplifiers * sizeof(int));
  memcpy(to->class_ab, from->class_ab, amplifiers * sizeof(bool));
  memcpy(to->regulated, from->regulated, amplifiers * sizeof(bool));
  memcpy(to->prescribed, from->prescribed, amplifiers * sizeof(bool));
  memcpy(to->branches, from->branches, batteries * sizeof(int));
  memcpy(to->label, from->label, batteries * sizeof(bool));
  memcpy(to->guarded, from->guarded, batteries * sizeof(bool));
  memcpy(to->isolator_form, from->isolator_form, isolators * sizeof *to->isolator_form);
  memcpy(to->isolator_unknown, from->isolator_unknown, isolators * sizeof(int));
  memcpy(to->isolator_source, from->isolator_source, isolators * sizeof(int));
  memcpy(to->group_value, from->group_value, (size_t)to->groups * sizeof(int));
  memcpy(to->meter_value, from->meter_value, (size_t)to->meters * sizeof(int));
  memcpy(to->fuse_value, from->fuse_value, (size_t)to->groups * sizeof(int));
  memcpy(to->resistive, from->resistive, (size_t)to->ports * sizeof(bool));
  memcpy(to->constant, from->constant, (size_t)to->ports * sizeof(bool));
  memcpy(to->port_value, from->port_value, (size_t)to->ports * sizeof(int));
  return true;
}

enum tailvolt_status tv_layout_copy(const struct tv_layout *layout, struct tv_layout **out) {
  *out = calloc(1, sizeof **out);
  if (*out == NULL) return TAILVOLT_NO_MEMORY;
  memcpy(*out, layout, offsetof(struct tv_layout, storage));
  (*out)->hash = layout->hash;
  if (copy_flags(layout, *out)) return TAILVOLT_OK;
  tv_layout_free(*out);
  *out = NULL;
  return TAILVOLT_NO_MEMORY;
}

/* Counts, and the values derived from rows: numbered from the end of all possible rows. */
static void count_parts(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_layout *y = run->layout;
  y->batteries = sys->battery_count;
  y->capacitors = sys->capacitor_count;
  y->amplifiers = sys->amplifier_count;
  y->unknowns = run->unknowns;
  y->alternator = sys->alternator.present;
  y->sources = sys->alternator.present + converters(sys);
  y->isolators = sys->isolator_count;
  y->meters = sys->meter_count;
  y->ports = (sys->battery_count > 0) + run->load_port_count;
  y->first_amplifier = run->first_amplifier;
  y->first_load = run->first_load;
  y->first_converter = run->first_converter;
  y->start_battery = tv_start_battery(sys);
  int rows = run->unknowns + 1 + y->batteries + y->capacitors + y->ports + 2 * y->isolators + y->meters +
             sys->conductor_count;
  rows = (rows + TV_ROWS_TOGETHER - 1) / TV_ROWS_TOGETHER * TV_ROWS_TOGETHER;
  y->terminal_v = rows;
  y->terminal_a = y->terminal_v + y->amplifiers;
  y->battery_a = y->terminal_a + y->amplifiers;
  y->battery_net_a = y->battery_a + y->batteries;
  y->capacitor_a = y->battery_net_a + y->batteries;
  y->isolator_a = y->capacitor_a + y->capacitors;
  y->source_a = y->isolator_a + y->isolators;
  y->values = y->source_a + y->sources;
}

static int add_row(struct tv_run *run, int source) {
  run->row_of[run->layout->rows] = source;
  return run->layout->rows++;
}

/* Rows of the matrix, by their place in the network: nonlinear ports, linear ports, watches. */
static void place_rows(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_layout *y = run->layout;
  int linear0 = run->network->nonlinear_count, watch0 = linear0 + run->network->linear_count;
  y->rows = 0;
  for (int k = 0; k < run->unknowns; k++) add_row(run, k);
  y->sense_row = run->sense_port > 0 ? add_row(run, run->sense_port) : 0;
  y->battery_row = y->rows;
  for (int k = 0; k < y->batteries; k++) add_row(run, linear0 + k);
  y->capacitor_row = y->rows;
  for (int k = 0; k < y->capacitors; k++) add_row(run, linear0 + run->capacitor_port0 + k);
  y->port_row = y->rows;
  if (y->ports > 0) y->port_value[0] = y->battery_row + y->start_battery;
  for (int k = 0; k < run->load_port_count; k++) y->port_value[1 + k] = add_row(run, linear0 + run->load_port0 + k);
  y->isolator_row = y->rows;
  for (int k = 0; k < 2 * y->isolators; k++) add_row(run, watch0 + run->isolator_watch0 + k);
  for (int k = 0; k < y->meters; k++) {
    y->meter_value[k] = TV_NONE;
    for (int j = 0; j < y->amplifiers; j++)
      if (sys->meters[k].positive == sys->amplifiers[j].positive &&
          sys->meters[k].negative == sys->amplifiers[j].negative)
        y->meter_value[k] = y->terminal_v + j;
    if (y->meter_value[k] == TV_NONE) y->meter_value[k] = add_row(run, watch0 + run->meter_watch0 + k);
  }
  for (int g = 0; g < y->groups; g++) {
    y->group_value[g] = run->group_value[g];
    if (y->group_value[g] != TV_NONE) continue;
    y->group_value[g] = add_row(run, watch0 + g);
    run->group_sign[g] = 1;
  }
  for (int k = 0; k < sys->conductor_count; k++) run->conductor_sign[k] *= run->group_sign[run->conductor_group[k]];
  y->rows_used = y->rows;
  while (y->rows % TV_ROWS_TOGETHER != 0) add_row(run, TV_NONE);
}

static void place_columns(struct tv_run *run) {
  struct tv_layout *y = run->layout;
  y->storage_column = y->batteries + y->capacitors;
  int n = y->storage_column;
  for (int k = 0; k < y->amplifiers; k++) y->storage[k] = run->storage_port[k] >= 0 ? n++ : TV_NONE;
  y->unknown_column = n;
  y->columns = n + y->unknowns;
}

static void add_fuse(struct tv_layout *y, int value) {
  y->fuses = true;
  for (int i = 0; i < y->fuse_values; i++)
    if (y->fuse_value[i] == value) return;
  y->fuse_value[y->fuse_values++] = value;
}

static void describe_parts(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_layout *y = run->layout;
  for (int k = 0; k < y->amplifiers; k++) {
    y->class_ab[k] = run->amplifier[k].class_ab;
    y->regulated[k] = run->amplifier[k].regulated;
    y->prescribed[k] = run->prescribed[k];
    y->may_clip = y->may_clip || (!y->regulated[k] && !y->prescribed[k]);
  }
  for (int k = 0; k < y->batteries; k++) {
    y->branches[k] = run->battery[k]->branch_count;
    y->label[k] = !run->battery[k]->circuit;
    y->guarded[k] = run->battery[k]->guarded;
    y->agrees_within = y->agrees_within || y->guarded[k];
  }
  for (int k = 0, i = run->first_converter; k < y->isolators; k++) {
    const struct tailvolt_isolator *s = &sys->isolators[k];
    y->isolator_form[k] = s->kind == TAILVOLT_DIODE ? TV_HOT_DIODE : s->sense_either ? TV_HOT_EITHER : TV_HOT_FROM;
    y->isolator_unknown[k] = s->kind == TAILVOLT_CONVERTER ? i : TV_NONE;
    y->isolator_source[k] = run->converter_source[k];
    if (s->kind == TAILVOLT_CONVERTER) i += 2;
    y->agrees_within = y->agrees_within || s->kind == TAILVOLT_DIODE;
  }
  if (y->ports > 0) y->constant[0] = true;
  if (run->starter_port >= 0) y->constant[1 + run->starter_port - run->load_port0] = true;
  for (int k = 0; k < sys->load_count; k++) {
    if (run->load_port[k] < 0) continue;
    int port = 1 + run->load_port[k] - run->load_port0;
    if (sys->loads[k].behaviour == TAILVOLT_RESISTOR) y->resistive[port] = true;
    if (sys->loads[k].behaviour == TAILVOLT_CONSTANT_CURRENT) y->constant[port] = true;
  }
  for (int k = 0; k < y->ports; k++)
    if (y->constant[k]) y->constant_end = k + 1;
  y->agrees_within = y->agrees_within || y->ports > 0;
  y->fixed_output = y->alternator && !isnan(sys->alternator.fixed_output_a);
  y->curve = y->alternator && !y->fixed_output && run->alternator.count > 2;
  y->ramp = y->alternator && sys->alternator.ramp_a_per_s > 0;
  /* without a time constant nothing is left of the field after a step: the same sums, in lanes with those that have one */
  y->field_lag = y->alternator && (sys->alternator.field_s > 0 || !(y->fixed_output || y->ramp));
  for (int k = 0; k < sys->conductor_count; k++)
    if (sys->conductors[k].kind == TAILVOLT_FUSE) add_fuse(y, y->group_value[run->conductor_group[k]]);
}

/* Which of the shapes with their own loop it is. */
static enum tv_shape form_of(const struct tv_layout *y) {
  int loads = y->first_converter - y->first_load;
  if (y->amplifiers != 1 || y->sources != y->alternator || y->unknowns != 1 + y->alternator + loads || y->sense_row != 0 || y->ramp)
    return TV_SHAPE_ANY;
  for (int k = 0; k < y->batteries; k++)
    if (y->guarded[k] || y->label[k] != y->label[0] || y->branches[k] != (y->label[k] ? TV_BATTERY_TAIL + 1 : 1)) return TV_SHAPE_ANY;
  bool plain = y->batteries == 1 && y->isolators == 0 && y->capacitors == 0;
  if (!y->alternator)
    return plain && y->label[0] && loads == 0 && y->storage[0] >= 0 ? TV_SHAPE_PARKED : TV_SHAPE_ANY;
  if (!y->label[0])
    return plain && loads == 0 && y->fixed_output && !y->field_lag && y->prescribed[0] && y->storage[0] < 0 ? TV_SHAPE_BARE
                                                                                                             : TV_SHAPE_ANY;
  if (y->fixed_output || y->curve || !y->field_lag || loads > 1) return TV_SHAPE_ANY;
  if (plain && y->storage[0] < 0) return loads == 0 ? TV_SHAPE_SMOOTH : TV_SHAPE_SMOOTH_LOAD;
  if (plain) return loads == 0 ? TV_SHAPE_CAR : TV_SHAPE_CAR_LOAD;
  if (y->prescribed[0] || y->storage[0] < 0) return TV_SHAPE_ANY;
  bool relay = y->isolators == 1 && y->isolator_form[0] != TV_HOT_DIODE; /* a converter is one more source */
  if (y->batteries == 1 && y->isolators == 0 && y->capacitors == 1 && loads == 1) return TV_SHAPE_CAPACITOR;
  if (y->batteries == 2 && y->capacitors == 0 && relay && loads == 1) return TV_SHAPE_SECOND;
  if (y->batteries == 2 && y->capacitors == 1 && relay) return loads == 0 ? TV_SHAPE_TWO_BATTERIES : TV_SHAPE_BOTH;
  return TV_SHAPE_ANY;
}

/* FNV-1a: lanes may share a block only where all of this is alike. */
static unsigned long long mix(unsigned long long hash, const void *bytes, size_t count) {
  const unsigned char *at = bytes;
  for (size_t k = 0; k < count; k++) hash = (hash ^ at[k]) * 1099511628211ULL;
  return hash;
}

static void hash_layout(struct tv_run *run) {
  struct tv_layout *y = run->layout;
  unsigned long long hash = mix(14695981039346656037ULL, y, offsetof(struct tv_layout, storage));
  hash = mix(hash, y->storage, (size_t)y->amplifiers * sizeof(int));
  hash = mix(hash, y->class_ab, (size_t)y->amplifiers);
  hash = mix(hash, y->regulated, (size_t)y->amplifiers);
  hash = mix(hash, y->prescribed, (size_t)y->amplifiers);
  hash = mix(hash, y->branches, (size_t)y->batteries * sizeof(int));
  hash = mix(hash, y->label, (size_t)y->batteries);
  hash = mix(hash, y->guarded, (size_t)y->batteries);
  hash = mix(hash, y->isolator_form, (size_t)y->isolators * sizeof *y->isolator_form);
  hash = mix(hash, y->group_value, (size_t)y->groups * sizeof(int));
  hash = mix(hash, y->meter_value, (size_t)y->meters * sizeof(int));
  hash = mix(hash, y->fuse_value, (size_t)y->fuse_values * sizeof(int));
  hash = mix(hash, y->resistive, (size_t)y->ports);
  y->hash = mix(hash, y->constant, (size_t)y->ports);
}

static enum tailvolt_status lay_out(struct tv_run *run) {
  struct tv_layout *y = run->layout;
  if (!take_flags(y)) return TAILVOLT_NO_MEMORY;
  run->row_of = calloc(some(y->terminal_v + TV_ROWS_TOGETHER), sizeof *run->row_of);
  if (run->row_of == NULL) return TAILVOLT_NO_MEMORY;
  place_rows(run);
  place_columns(run);
  tv_layout_place(y);
  describe_parts(run);
  y->form = form_of(y);
  hash_layout(run);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_wiring_build(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  size_t most = some(sys->battery_count + sys->capacitor_count + 2 * sys->amplifier_count +
                     sys->load_count + 2 * sys->isolator_count + 5);
  struct tv_port *linear = calloc(most, sizeof *linear), *nonlinear = calloc(most, sizeof *nonlinear);
  int *inside = calloc(some(sys->amplifier_count), sizeof *inside);
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (linear == NULL || nonlinear == NULL || inside == NULL) goto done;
  if ((run->layout = calloc(1, sizeof *run->layout)) == NULL) goto done;
  int nodes = sys->point_count, inner = 0, linear_count, nonlinear_count;
  for (int k = 0; k < sys->amplifier_count; k++) {
    inside[k] = tv_has_inside(run, k) ? nodes++ : sys->amplifiers[k].positive;
    inner += tv_has_inside(run, k);
  }
  place_linear(run, linear, inside, &linear_count);
  place_nonlinear(run, nonlinear, inside, &nonlinear_count);
  int watches = sys->conductor_count + 2 * sys->amplifier_count + sys->meter_count + 2 * sys->isolator_count;
  status = tv_network_create(nodes, sys->conductor_count + inner, linear_count, nonlinear_count, watches,
                             &run->network);
  if (status != TAILVOLT_OK) goto done;
  memcpy(run->network->port, linear, (size_t)linear_count * sizeof *linear);
  memcpy(run->network->port + linear_count, nonlinear, (size_t)nonlinear_count * sizeof *nonlinear);
  fill_branches(run, inside);
  count_parts(run);
  if ((status = tv_run_find_feed_paths(run)) != TAILVOLT_OK) goto done;
  if ((status = find_groups(run)) != TAILVOLT_OK) goto done;
  run->layout->groups = run->group_count;
  place_watches(run, run->network->watch, &run->network->watch_count);
  run->network->source_count = run->layout->sources;
  if ((status = tv_network_fix(run->network)) != TAILVOLT_OK) goto done;
  status = tv_port_solver_create(run->network, run->unknowns + 1, &run->solver);
  if (status != TAILVOLT_OK) goto done;
  fill_solver(run);
  status = lay_out(run);
done:
  free(linear);
  free(nonlinear);
  free(inside);
  return status;
}
