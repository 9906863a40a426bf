/* Making and freeing a run: the fixed description, the network's ports and watches, and the state's block. */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/run.h"

static size_t some(int count) { return count > 0 ? (size_t)count : 1; }

/* ---- the wiring's shape ---- */

/* Chains of conductors through points where nothing else hangs carry one current: they share a group. */
static void attach(int *attached, int positive, int negative) {
  if (positive >= 0) attached[positive] = 1;
  if (negative >= 0) attached[negative] = 1;
}

static void mark_attached(const struct tv_run *run, int *attached) {
  const struct tailvolt_system *sys = run->system;
  attached[0] = 1;
  for (int k = 0; k < run->network->linear_count + run->network->nonlinear_count; k++)
    attach(attached, run->network->port[k].positive, run->network->port[k].negative);
  for (int k = 0; k < sys->amplifier_count; k++)
    attach(attached, sys->amplifiers[k].positive, sys->amplifiers[k].negative);
}

static enum tailvolt_status find_groups(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  size_t nodes = some(run->network->node_count);
  int *work = calloc(4 * nodes, sizeof(int));
  if (work == NULL) return TAILVOLT_NO_MEMORY;
  int *degree = work, *attached = work + nodes, *touch = work + 2 * nodes;
  mark_attached(run, attached);
  for (size_t k = 0; k < 2 * nodes; k++) touch[k] = TV_NONE;
  for (int k = 0; k < sys->conductor_count; k++) {
    int ends[2] = {sys->conductors[k].from, sys->conductors[k].to};
    for (int e = 0; e < 2; e++) {
      if (degree[ends[e]] < 2) touch[2 * ends[e] + degree[ends[e]]] = k;
      degree[ends[e]]++;
    }
    run->conductor_group[k] = TV_NONE;
  }
  for (int k = 0; k < sys->conductor_count; k++) {
    if (run->conductor_group[k] != TV_NONE) continue;
    int group = run->group_count++;
    run->conductor_group[k] = group;
    run->conductor_sign[k] = 1;
    for (int direction = 0; direction < 2; direction++) {
      int at = direction ? sys->conductors[k].from : sys->conductors[k].to, here = k;
      while (!attached[at] && degree[at] == 2) {
        int next = touch[2 * at] == here ? touch[2 * at + 1] : touch[2 * at];
        if (run->conductor_group[next] != TV_NONE) break;
        bool enters_from = sys->conductors[next].from == at;
        /* the current that leaves conductor k at `to` enters the next one; against it on the other side */
        run->conductor_group[next] = group;
        run->conductor_sign[next] = (direction == 0) == enters_from ? 1 : -1;
        at = enters_from ? sys->conductors[next].to : sys->conductors[next].from;
        here = next;
      }
    }
  }
  free(work);
  return TAILVOLT_OK;
}

static bool has_inside(const struct tv_run *run, int amplifier) {
  const struct tailvolt_amplifier *a = &run->system->amplifiers[amplifier];
  return !run->prescribed[amplifier] && a->internal_ohm > 0;
}

static bool has_storage(const struct tv_run *run, int amplifier) {
  return !run->prescribed[amplifier] && run->system->amplifiers[amplifier].internal_f > 0;
}

static int converters(const struct tailvolt_system *sys) {
  int count = 0;
  for (int k = 0; k < sys->isolator_count; k++) count += sys->isolators[k].kind == TAILVOLT_CONVERTER;
  return count;
}

/* Linear ports: batteries, capacitors, storages, resistor and current loads, relays and diodes, the starter. */
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
    if (!has_storage(run, k)) continue;
    run->storage_port[k] = n;
    port[n++] = (struct tv_port){inside[k], sys->amplifiers[k].negative};
  }
  for (int k = 0; k < sys->load_count; k++) {
    run->load_port[k] = TV_NONE;
    if (sys->loads[k].behaviour == TAILVOLT_CONSTANT_POWER) continue;
    run->load_port[k] = n;
    port[n++] = (struct tv_port){sys->loads[k].positive, sys->loads[k].negative};
  }
  for (int k = 0; k < sys->isolator_count; k++) {
    run->isolator_port[k] = TV_NONE;
    if (sys->isolators[k].kind == TAILVOLT_CONVERTER) continue;
    run->isolator_port[k] = n;
    port[n++] = (struct tv_port){sys->isolators[k].from, sys->isolators[k].to};
  }
  /* the starter turns the engine block against the first battery; it takes part only where starts are simulated */
  run->starter_port = TV_NONE;
  *count = n;
  if (!sys->engine.simulate_starts) return;
  run->starter_port = n;
  port[n++] = (struct tv_port){sys->batteries[sys->engine.starter_battery].positive, sys->engine.block};
  *count = n;
}

static void place_nonlinear(struct tv_run *run, struct tv_port *port, const int *inside, int *count) {
  const struct tailvolt_system *sys = run->system;
  int n = 0;
  run->alternator_port = run->sense_port = TV_NONE;
  if (sys->alternator.present) {
    run->alternator_port = run->sense_port = n;
    port[n++] = (struct tv_port){sys->alternator.positive, sys->alternator.negative};
    if (sys->alternator.sense != sys->alternator.positive && sys->alternator.sense >= 0) {
      run->sense_port = n;
      port[n++] = (struct tv_port){sys->alternator.sense, sys->alternator.negative};
    }
  }
  for (int k = 0; k < sys->amplifier_count; k++)
    port[n++] = (struct tv_port){inside[k], sys->amplifiers[k].negative};
  for (int k = 0; k < sys->load_count; k++)
    if (sys->loads[k].behaviour == TAILVOLT_CONSTANT_POWER)
      port[n++] = (struct tv_port){sys->loads[k].positive, sys->loads[k].negative};
  for (int k = 0; k < sys->isolator_count; k++)
    if (sys->isolators[k].kind == TAILVOLT_CONVERTER) {
      port[n++] = (struct tv_port){sys->isolators[k].from, sys->batteries[0].negative};
      port[n++] = (struct tv_port){sys->isolators[k].to, sys->batteries[0].negative};
    }
  *count = n;
}

static void place_watches(struct tv_run *run, struct tv_watch *watch, int *count) {
  const struct tailvolt_system *sys = run->system;
  int n = 0;
  for (int k = sys->conductor_count - 1; k >= 0; k--)
    if (run->conductor_sign[k] > 0) {
      run->group_conductor[run->conductor_group[k]] = k;
      watch[run->conductor_group[k]] = (struct tv_watch){sys->conductors[k].from, sys->conductors[k].to, 1};
    }
  n = run->group_count;
  for (int k = 0; k < sys->amplifier_count; k++) {
    run->amplifier_watch[k] = TV_NONE;
    if (!has_inside(run, k)) continue;
    run->amplifier_watch[k] = n;
    watch[n++] = (struct tv_watch){sys->amplifiers[k].positive, sys->amplifiers[k].negative, 1};
  }
  run->drop_watch0 = n;
  for (int k = 0; k < sys->amplifier_count; k++) {
    int b = run->path[k].battery < 0 ? 0 : run->path[k].battery;
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
    if (has_inside(run, k))
      branch[n++] = (struct tv_branch){sys->amplifiers[k].positive, inside[k], sys->amplifiers[k].internal_ohm};
}

static void fill_sources(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_network *n = run->network;
  int loads = 0, sources = 0, port = run->alternator_port < 0 ? 0 : run->sense_port + 1;
  if (run->alternator_port >= 0) {
    n->source[sources] = (struct tv_source){run->alternator_port, run->sense_port, sys->alternator.droop_ohm};
    run->solver->source[sources].kind = TV_SOURCE_ALTERNATOR;
    run->solver->source[sources].alternator = &run->alternator;
    sources++;
  }
  for (int k = 0; k < sys->amplifier_count; k++) {
    run->solver->load[loads].is_amplifier = true;
    run->solver->load[loads++].port = port++;
  }
  for (int k = 0; k < sys->load_count; k++) {
    run->load_index[k] = TV_NONE;
    if (sys->loads[k].behaviour != TAILVOLT_CONSTANT_POWER) continue;
    run->load_index[k] = loads;
    run->solver->load[loads++].port = port++;
  }
  for (int k = 0; k < sys->isolator_count; k++) {
    run->converter_source[k] = TV_NONE;
    if (sys->isolators[k].kind != TAILVOLT_CONVERTER) continue;
    run->solver->load[loads].port = port++;
    n->source[sources] = (struct tv_source){port, port, 1e-4};
    struct tv_source_law *law = &run->solver->source[sources];
    law->kind = TV_SOURCE_CONVERTER;
    law->set_v = sys->isolators[k].output_v;
    law->limit_a = sys->isolators[k].output_a;
    law->efficiency_frac = sys->isolators[k].efficiency_frac;
    law->input_load = loads++;
    run->converter_source[k] = sources++;
    port++;
  }
  run->solver->load_count = loads;
}

static enum tailvolt_status build_network(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  size_t most = some(sys->battery_count + sys->capacitor_count + 2 * sys->amplifier_count +
                     sys->load_count + 2 * sys->isolator_count + 4);
  struct tv_port *linear = calloc(2 * most, sizeof *linear), *nonlinear = linear + most;
  int *inside = calloc(some(sys->amplifier_count), sizeof *inside);
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (linear == NULL || inside == NULL) goto done;
  int nodes = sys->point_count, inner = 0, linear_count, nonlinear_count;
  for (int k = 0; k < sys->amplifier_count; k++) {
    inside[k] = has_inside(run, k) ? nodes++ : sys->amplifiers[k].positive;
    inner += has_inside(run, k);
  }
  place_linear(run, linear, inside, &linear_count);
  place_nonlinear(run, nonlinear, inside, &nonlinear_count);
  int watches = sys->conductor_count + 3 * sys->amplifier_count + sys->meter_count + 2 * sys->isolator_count;
  status = tv_network_create(nodes, sys->conductor_count + inner, linear_count, nonlinear_count, watches,
                             &run->network);
  if (status != TAILVOLT_OK) goto done;
  memcpy(run->network->port, linear, (size_t)linear_count * sizeof *linear);
  memcpy(run->network->port + linear_count, nonlinear, (size_t)nonlinear_count * sizeof *nonlinear);
  fill_branches(run, inside);
  if ((status = tv_run_find_paths(run)) != TAILVOLT_OK) goto done;
  if ((status = find_groups(run)) != TAILVOLT_OK) goto done;
  place_watches(run, run->network->watch, &run->network->watch_count);
  run->network->source_count = sys->alternator.present + converters(sys);
  if ((status = tv_network_fix(run->network)) != TAILVOLT_OK) goto done;
  status = tv_port_solver_create(run->network, sys->amplifier_count + sys->load_count + sys->isolator_count,
                                 &run->solver);
  if (status != TAILVOLT_OK) goto done;
  fill_sources(run);
done:
  free(linear);
  free(inside);
  return status;
}

/* ---- the parts ---- */

static enum tailvolt_status build_programmes(struct tv_run *run, const struct tv_programmes *shared) {
  for (int k = 0; k < run->system->programme_count; k++) {
    run->programme[k] = tv_programmes_find(shared, run->system, k, &run->options);
    if (run->programme[k] != NULL) continue;
    enum tailvolt_status status =
        tv_programmes_make_one(run->system, k, &run->options, &run->own_programme[k], run->error);
    if (status != TAILVOLT_OK) return status;
    run->programme[k] = run->own_programme[k];
  }
  return TAILVOLT_OK;
}

static enum tailvolt_status build_parts(struct tv_run *run, const struct tv_programmes *shared) {
  const struct tailvolt_system *sys = run->system;
  for (int k = 0; k < sys->battery_count; k++) {
    enum tailvolt_status status = tv_battery_create(&sys->batteries[k], &run->battery[k], run->error);
    if (status != TAILVOLT_OK) return status;
  }
  if (sys->alternator.present) {
    enum tailvolt_status status = tv_alternator_init(&sys->alternator, &run->alternator, run->error);
    if (status != TAILVOLT_OK) return status;
  }
  for (int k = 0; k < sys->amplifier_count; k++)
    tv_amplifier_init(&sys->amplifiers[k], &run->amplifier[k]);
  return build_programmes(run, shared);
}

/* One block for all of the state's arrays, each at an 8-byte boundary. */
static enum tailvolt_status build_state(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_state *s = &run->state;
  struct { void **place; size_t bytes; } piece[] = {
      {(void **)&s->battery, (size_t)sys->battery_count * sizeof *s->battery},
      {(void **)&s->capacitor_v, (size_t)sys->capacitor_count * sizeof(double)},
      {(void **)&s->storage_v, (size_t)sys->amplifier_count * sizeof(double)},
      {(void **)&s->amplifier, (size_t)sys->amplifier_count * sizeof *s->amplifier},
      {(void **)&s->isolator, (size_t)sys->isolator_count * sizeof *s->isolator},
      {(void **)&s->conductor_c, (size_t)sys->conductor_count * sizeof(double)},
      {(void **)&s->fuse, (size_t)sys->conductor_count * sizeof *s->fuse},
      {(void **)&s->blown, (size_t)sys->conductor_count * sizeof(bool)},
  };
  size_t total = 0;
  for (size_t k = 0; k < sizeof piece / sizeof *piece; k++) total += (piece[k].bytes + 7) / 8 * 8;
  s->block = calloc(1, total + 8);
  if (s->block == NULL) return TAILVOLT_NO_MEMORY;
  s->block_size = total;
  char *at = s->block;
  for (size_t k = 0; k < sizeof piece / sizeof *piece; k++) {
    *piece[k].place = at;
    at += (piece[k].bytes + 7) / 8 * 8;
  }
  return TAILVOLT_OK;
}

static bool allocate(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  size_t amplifiers = some(sys->amplifier_count), conductors = some(sys->conductor_count);
  run->battery = calloc(some(sys->battery_count), sizeof *run->battery);
  run->amplifier = calloc(amplifiers, sizeof *run->amplifier);
  run->programme = calloc(some(sys->programme_count), sizeof *run->programme);
  run->own_programme = calloc(some(sys->programme_count), sizeof *run->own_programme);
  run->prescribed = calloc(amplifiers, sizeof(bool));
  run->storage_port = calloc(amplifiers, sizeof(int));
  run->load_port = calloc(some(sys->load_count), sizeof(int));
  run->load_index = calloc(some(sys->load_count), sizeof(int));
  run->load_on = calloc(some(sys->load_count), sizeof(double));
  run->isolator_port = calloc(some(sys->isolator_count), sizeof(int));
  run->converter_source = calloc(some(sys->isolator_count), sizeof(int));
  run->amplifier_watch = calloc(amplifiers, sizeof(int));
  run->conductor_group = calloc(conductors, sizeof(int));
  run->group_conductor = calloc(conductors, sizeof(int));
  run->conductor_sign = calloc(conductors, sizeof(double));
  run->path = calloc(amplifiers, sizeof *run->path);
  run->cursor = calloc(some(sys->programme_count), sizeof *run->cursor);
  run->drive = calloc(amplifiers, sizeof *run->drive);
  run->play = calloc(some(sys->programme_count), sizeof *run->play);
  run->used_ohm = calloc(some(sys->battery_count), sizeof(double));
  run->line_ohm = calloc(some(sys->battery_count), sizeof(double));
  run->last_a = calloc(some(sys->battery_count), sizeof(double));
  run->battery_a = calloc(some(sys->battery_count), sizeof(double));
  return run->battery && run->amplifier && run->programme && run->own_programme && run->prescribed && run->storage_port &&
         run->load_port && run->load_index && run->load_on && run->isolator_port && run->converter_source &&
         run->amplifier_watch && run->conductor_group && run->group_conductor && run->conductor_sign && run->path && run->cursor &&
         run->drive && run->play && run->used_ohm && run->line_ohm && run->last_a && run->battery_a;
}

enum tailvolt_status tv_run_create(const struct tailvolt_system *system, const bool *prescribed,
                                   const struct tailvolt_options *options, struct tv_run **out,
                                   char *error) {
  return tv_run_create_with(system, prescribed, options, NULL, out, error);
}

enum tailvolt_status tv_run_create_with(const struct tailvolt_system *system, const bool *prescribed,
                                        const struct tailvolt_options *options, const struct tv_programmes *shared,
                                        struct tv_run **out, char *error) {
  *out = NULL;
  struct tv_run *run = calloc(1, sizeof *run);
  if (run == NULL) return TAILVOLT_NO_MEMORY;
  run->system = system;
  run->options = *options;
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (!allocate(run)) goto failed;
  for (int k = 0; prescribed != NULL && k < system->amplifier_count; k++)
    run->prescribed[k] = prescribed[k];
  if (converters(system) + system->alternator.present > TV_SOURCES_MAX) {
    snprintf(run->error, sizeof run->error, "at most %d converters beside the alternator", TV_SOURCES_MAX - 1);
    status = TAILVOLT_BAD_INPUT;
    goto failed;
  }
  if ((status = build_parts(run, shared)) != TAILVOLT_OK) goto failed;
  if ((status = build_network(run)) != TAILVOLT_OK) goto failed;
  if ((status = build_state(run)) != TAILVOLT_OK) goto failed;
  status = TAILVOLT_NO_MEMORY;
  run->s = run->solver->s;
  run->linear_v = calloc(some(run->network->linear_count), sizeof(double));
  run->watch_y = calloc(some(run->network->watch_count), sizeof(double));
  if (!run->linear_v || !run->watch_y) goto failed;
  if ((status = tv_statistics_create(run, &run->statistics)) != TAILVOLT_OK) goto failed;
  *out = run;
  return TAILVOLT_OK;
failed:
  if (error != NULL) memcpy(error, run->error, TAILVOLT_TEXT_MAX);
  tv_run_free(run);
  return status;
}

void tv_run_free(struct tv_run *run) {
  if (run == NULL) return;
  const struct tailvolt_system *sys = run->system;
  for (int k = 0; run->battery != NULL && k < sys->battery_count; k++) tv_battery_free(run->battery[k]);
  for (int k = 0; run->own_programme != NULL && k < sys->programme_count; k++)
    tv_programme_free(run->own_programme[k]);
  if (run->path != NULL) tv_run_free_paths(run);
  tv_statistics_free(run->statistics);
  tv_port_solver_free(run->solver);
  tv_network_free(run->network);
  free(run->battery), free(run->amplifier), free(run->programme), free(run->own_programme), free(run->prescribed);
  free(run->storage_port), free(run->load_port), free(run->load_index), free(run->load_on);
  free(run->isolator_port), free(run->converter_source), free(run->amplifier_watch);
  free(run->conductor_group), free(run->group_conductor), free(run->conductor_sign), free(run->path), free(run->cursor);
  free(run->drive), free(run->play), free(run->used_ohm), free(run->line_ohm), free(run->last_a), free(run->battery_a);
  free(run->linear_v), free(run->watch_y), free(run->state.block);
  free(run);
}

/* ---- snapshots ---- */

static size_t guesses(const struct tv_run *run) { return (size_t)run->network->nonlinear_count; }

size_t tv_run_state_size(const struct tv_run *run) {
  return sizeof run->state.now + run->state.block_size + 2 * guesses(run) * sizeof(double) +
         sizeof run->solver->source + (size_t)run->system->battery_count * sizeof(double);
}

static void pass(char *buffer, size_t *at, void *inside, size_t bytes, bool save) {
  if (save)
    memcpy(buffer + *at, inside, bytes);
  else
    memcpy(inside, buffer + *at, bytes);
  *at += bytes;
}

static void pass_all(struct tv_run *run, char *buffer, bool save) {
  size_t at = 0;
  pass(buffer, &at, &run->state.now, sizeof run->state.now, save);
  pass(buffer, &at, run->state.block, run->state.block_size, save);
  pass(buffer, &at, run->solver->v, guesses(run) * sizeof(double), save);
  pass(buffer, &at, run->solver->j, guesses(run) * sizeof(double), save);
  pass(buffer, &at, run->solver->source, sizeof run->solver->source, save);
  pass(buffer, &at, run->last_a, (size_t)run->system->battery_count * sizeof(double), save);
}

void tv_run_save(const struct tv_run *run, void *buffer) {
  pass_all((struct tv_run *)(uintptr_t)run, buffer, true);
}

void tv_run_restore(struct tv_run *run, const void *buffer) {
  pass_all(run, (char *)(uintptr_t)buffer, false);
  memset(run->cursor, 0, (size_t)run->system->programme_count * sizeof *run->cursor);
  for (int k = 0; k < run->system->programme_count; k++) run->play[k].last_end_s = HUGE_VAL;
  tv_run_set_field_scale(run);
  tv_uses_mark_charge(run);
  run->stale_switches = true;
}
