/* Making and freeing a run: the fixed description, the network's ports and watches, and the state's block. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "parts/battery_labels.h"
#include "simulate/event.h"
#include "simulate/places.h"
#include "simulate/run.h"
#include "simulate/wiring.h"

static size_t some(int count) { return count > 0 ? (size_t)count : 1; }

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

/* Solving a label takes as long as thousands of steps: batteries that another run has are copied from it. */
static enum tailvolt_status build_batteries(struct tv_run *run, struct tv_labels *labels, const struct tv_run *like) {
  const struct tailvolt_system *sys = run->system;
  size_t bytes = (size_t)sys->battery_count * sizeof *sys->batteries;
  bool same = like != NULL && like->system->battery_count == sys->battery_count &&
              (like->system->batteries == sys->batteries || memcmp(like->system->batteries, sys->batteries, bytes) == 0);
  for (int k = 0; k < sys->battery_count; k++) {
    enum tailvolt_status status = TAILVOLT_OK;
    if (same)
      status = (run->battery[k] = tv_battery_copy(like->battery[k])) != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
    else
      status = tv_battery_create_by(labels, &sys->batteries[k], &run->battery[k], run->error);
    if (status != TAILVOLT_OK) return status;
  }
  return TAILVOLT_OK;
}

static enum tailvolt_status build_parts(struct tv_run *run, const struct tv_programmes *shared, struct tv_labels *labels,
                                        const struct tv_run *like) {
  const struct tailvolt_system *sys = run->system;
  enum tailvolt_status made = build_batteries(run, labels, like);
  if (made != TAILVOLT_OK) return made;
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
  const struct tv_layout *y = run->layout;
  struct tv_state *s = &run->state;
  size_t batteries = (size_t)y->batteries, amplifiers = (size_t)y->amplifiers, groups = (size_t)y->groups;
  size_t conductors = (size_t)run->system->conductor_count, programmes = (size_t)run->system->programme_count;
  struct { void **place; size_t bytes; } piece[] = {
      {(void **)&s->battery, batteries * sizeof *s->battery},
      {(void **)&s->guard, batteries * sizeof *s->guard},
      {(void **)&s->battery_last_a, batteries * sizeof(double)},
      {(void **)&s->battery_used_ohm, batteries * sizeof(double)},
      {(void **)&s->capacitor_v, (size_t)y->capacitors * sizeof(double)},
      {(void **)&s->storage_v, amplifiers * sizeof(double)},
      {(void **)&s->stiff, ((size_t)y->capacitors + amplifiers) * sizeof(bool)},
      {(void **)&s->amplifier, amplifiers * sizeof *s->amplifier},
      {(void **)&s->isolator, (size_t)y->isolators * sizeof *s->isolator},
      {(void **)&s->guess, (size_t)y->unknowns * sizeof *s->guess},
      {(void **)&s->source, (size_t)y->sources * sizeof *s->source},
      {(void **)&s->low, (size_t)y->ports * sizeof(bool)},
      {(void **)&s->conductor_c, conductors * sizeof(double)},
      {(void **)&s->conductor_ohm, conductors * sizeof(double)},
      {(void **)&s->group_square_as, groups * sizeof(double)},
      {(void **)&s->group_fuse_as, groups * sizeof(double)},
      {(void **)&s->fuse, conductors * sizeof *s->fuse},
      {(void **)&s->blown, conductors * sizeof(bool)},
      {(void **)&s->cursor, programmes * sizeof *s->cursor},
      {(void **)&s->play, programmes * sizeof *s->play},
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
  run->play = s->play;
  return TAILVOLT_OK;
}

static bool allocate(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  size_t amplifiers = some(sys->amplifier_count), conductors = some(sys->conductor_count);
  run->battery = calloc(some(sys->battery_count), sizeof *run->battery);
  run->amplifier = calloc(amplifiers, sizeof *run->amplifier);
  run->programme = calloc(some(sys->programme_count), sizeof *run->programme);
  run->heard = calloc((size_t)sys->programme_count + 1, sizeof *run->heard);
  for (int k = 0; k < TV_AHEAD && run->heard != NULL; k++)
    run->heard[sys->programme_count].ripple_d[k] = run->heard[sys->programme_count].ripple_ab[k] = 1;
  run->own_programme = calloc(some(sys->programme_count), sizeof *run->own_programme);
  run->prescribed = calloc(amplifiers, sizeof(bool));
  run->storage_port = calloc(amplifiers, sizeof(int));
  run->load_port = calloc(some(sys->load_count), sizeof(int));
  run->load_unknown = calloc(some(sys->load_count), sizeof(int));
  run->load_on = calloc(some(sys->load_count), sizeof(double));
  run->isolator_port = calloc(some(sys->isolator_count), sizeof(int));
  run->converter_source = calloc(some(sys->isolator_count), sizeof(int));
  run->warming = calloc(conductors, sizeof *run->warming);
  run->fuse_at = calloc(conductors, sizeof(int));
  run->conductor_group = calloc(conductors, sizeof(int));
  run->group_conductor = calloc(conductors, sizeof(int));
  run->group_value = calloc(conductors, sizeof(int));
  run->group_sign = calloc(conductors, sizeof(double));
  run->conductor_sign = calloc(conductors, sizeof(double));
  run->feed_path = calloc(amplifiers, sizeof *run->feed_path);
  run->cable_path = calloc(amplifiers, sizeof *run->cable_path);
  run->drive = calloc(amplifiers, sizeof *run->drive);
  bool parts = run->battery && run->amplifier && run->programme && run->heard && run->own_programme && run->warming;
  bool places = run->storage_port && run->load_port && run->load_unknown && run->load_on && run->isolator_port &&
                run->converter_source && run->fuse_at && run->conductor_group && run->group_conductor && run->group_value;
  return parts && places && run->prescribed && run->group_sign && run->conductor_sign && run->feed_path && run->cable_path && run->drive;
}

static enum tailvolt_status create(const struct tailvolt_system *system, const bool *prescribed,
                                   const struct tailvolt_options *options, const struct tv_programmes *shared,
                                   struct tv_labels *labels, const struct tv_run *like, struct tv_run **out, char *error) {
  *out = NULL;
  struct tv_run *run = calloc(1, sizeof *run);
  if (run == NULL) return TAILVOLT_NO_MEMORY;
  run->system = system;
  run->options = *options;
  run->drift_frac = TV_DRIFT_FRAC;
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (!allocate(run)) goto failed;
  for (int k = 0; k < system->conductor_count; k++) {
    run->warming[k] = tv_conductor_warming(&system->conductors[k]);
    if (system->conductors[k].kind == TAILVOLT_FUSE) run->fuse_at[run->fuse_count++] = k;
  }
  for (int k = 0; prescribed != NULL && k < system->amplifier_count; k++)
    run->prescribed[k] = prescribed[k];
  if ((status = tv_check_places(system, run->error)) != TAILVOLT_OK) goto failed;
  if ((status = build_parts(run, shared, labels, like)) != TAILVOLT_OK) goto failed;
  if ((status = tv_wiring_build(run)) != TAILVOLT_OK) goto failed;
  if ((status = build_state(run)) != TAILVOLT_OK) goto failed;
  if ((status = tv_statistics_create(run, &run->statistics)) != TAILVOLT_OK) goto failed;
  if ((status = tv_hot_create(run->layout, 1, TV_VECTORS_ALL, tv_hot_event, &run->hot)) != TAILVOLT_OK) goto failed;
  if ((status = tv_draws_create(run)) != TAILVOLT_OK) goto failed;
  *out = run;
  return TAILVOLT_OK;
failed:
  if (error != NULL) memcpy(error, run->error, TAILVOLT_TEXT_MAX);
  tv_run_free(run);
  return status;
}

enum tailvolt_status tv_run_create(const struct tailvolt_system *system, const bool *prescribed,
                                   const struct tailvolt_options *options, struct tv_run **out,
                                   char *error) {
  return tv_run_create_with(system, prescribed, options, NULL, out, error);
}

enum tailvolt_status tv_run_create_with(const struct tailvolt_system *system, const bool *prescribed,
                                        const struct tailvolt_options *options, const struct tv_programmes *shared,
                                        struct tv_run **out, char *error) {
  return create(system, prescribed, options, shared, NULL, NULL, out, error);
}

enum tailvolt_status tv_run_create_by(const struct tailvolt_system *system, const bool *prescribed,
                                      const struct tailvolt_options *options, const struct tv_programmes *shared,
                                      struct tv_labels *labels, struct tv_run **out, char *error) {
  return create(system, prescribed, options, shared, labels, NULL, out, error);
}

enum tailvolt_status tv_run_create_from(const struct tailvolt_system *system, const bool *prescribed,
                                        const struct tailvolt_options *options, const struct tv_programmes *shared,
                                        const struct tv_run *like, struct tv_run **out, char *error) {
  return create(system, prescribed, options, shared, NULL, like, out, error);
}

enum tailvolt_status tv_run_create_like(const struct tv_run *like, const struct tailvolt_system *system,
                                        const bool *prescribed, const struct tailvolt_options *options,
                                        struct tv_run **out, char *error) {
  return create(system, prescribed, options, NULL, NULL, like, out, error);
}

void tv_run_free(struct tv_run *run) {
  if (run == NULL) return;
  const struct tailvolt_system *sys = run->system;
  for (int k = 0; run->battery != NULL && k < sys->battery_count; k++) tv_battery_free(run->battery[k]);
  for (int k = 0; run->own_programme != NULL && k < sys->programme_count; k++)
    tv_programme_free(run->own_programme[k]);
  tv_run_free_feed_paths(run->feed_path, sys->amplifier_count);
  tv_run_free_feed_paths(run->cable_path, sys->amplifier_count);
  tv_statistics_free(run->statistics);
  tailvolt_result_free(run->high_end);
  tv_port_solver_free(run->solver);
  tv_network_free(run->network);
  tv_hot_free(run->hot);
  tv_layout_free(run->layout);
  free(run->battery), free(run->amplifier), free(run->programme), free(run->heard), free(run->own_programme), free(run->prescribed);
  free(run->storage_port), free(run->load_port), free(run->load_unknown), free(run->load_on);
  free(run->isolator_port), free(run->converter_source), free(run->row_of);
  free(run->warming), free(run->fuse_at), free(run->conductor_group), free(run->group_conductor), free(run->group_value);
  free(run->group_sign);
  free(run->conductor_sign), free(run->drive), free(run->state.block), free(run->draws.record);
  free(run);
}

/* ---- snapshots ---- */

/* What is outside the state's own block. */
struct kept {
  struct tv_state_scalars now;
  double step_s;
  enum tailvolt_phase phase;
  enum tailvolt_use use;
  bool in_grace, stale_ports, stale_stiff, stale_wiring;
};

size_t tv_run_state_size(const struct tv_run *run) { return sizeof(struct kept) + run->state.block_size; }

void tv_run_save(const struct tv_run *run, void *buffer) {
  struct kept kept;
  memset(&kept, 0, sizeof kept);
  kept.now = run->state.now;
  kept.step_s = run->step_s;
  kept.phase = run->phase;
  kept.use = run->use;
  kept.in_grace = run->in_grace;
  kept.stale_ports = run->stale_ports;
  kept.stale_stiff = run->stale_stiff;
  kept.stale_wiring = run->stale_wiring;
  memcpy(buffer, &kept, sizeof kept);
  memcpy((char *)buffer + sizeof kept, run->state.block, run->state.block_size);
}

void tv_run_restore(struct tv_run *run, const void *buffer) {
  struct kept kept;
  memcpy(&kept, buffer, sizeof kept);
  tv_run_pack(run);
  tv_run_set_grace(run, kept.in_grace);
  memcpy(run->state.block, (const char *)buffer + sizeof kept, run->state.block_size);
  run->state.now = kept.now;
  run->now_s = kept.now.now_s;
  run->packed = false;
  if (run->phase != kept.phase || run->use != kept.use) run->use_noted = false;
  run->phase = kept.phase;
  run->use = kept.use;
  tv_run_set_field_scale(run);
  tv_uses_mark_charge(run);
  run->stale_row = true;
  run->rebuild_step_s = kept.step_s;
  run->stale_rebuild = true;
  run->stale_ports = kept.stale_ports;
  run->stale_stiff = kept.stale_stiff;
  run->stale_wiring = kept.stale_wiring;
}
