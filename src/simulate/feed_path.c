/* The feed path: from the reference battery to the plus of an amplifier, and from its minus back, each side by the least total
 * resistance at 25 C; sources, loads, capacitors and amplifiers do not conduct here. Found at the start: one through relays, and where that
 * passes any, one from the battery that cable alone joins to the amplifier, which feeds it while a relay is open. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "parts/conductor.h"
#include "simulate/run.h"

struct search {
  const struct tailvolt_system *sys;
  bool by_cable_alone;
  double *distance_ohm;
  int *edge;      /* conductor index, or conductor_count + isolator index */
  int *previous;
  bool *done;
};

static void relax(struct search *s, int at, int edge, int a, int b, double ohm) {
  int other = a == at ? b : b == at ? a : TV_NONE;
  if (other < 0 || s->done[other] || s->distance_ohm[at] + ohm >= s->distance_ohm[other]) return;
  s->distance_ohm[other] = s->distance_ohm[at] + ohm;
  s->edge[other] = edge;
  s->previous[other] = at;
}

/* Shortest paths from one point to all; ties go to whatever comes first in the file. */
static void search_from(struct search *s, int start) {
  const struct tailvolt_system *sys = s->sys;
  for (int k = 0; k < sys->point_count; k++) {
    s->distance_ohm[k] = HUGE_VAL;
    s->edge[k] = s->previous[k] = TV_NONE;
    s->done[k] = false;
  }
  s->distance_ohm[start] = 0;
  for (;;) {
    int at = TV_NONE;
    for (int k = 0; k < sys->point_count; k++)
      if (!s->done[k] && s->distance_ohm[k] < HUGE_VAL && (at < 0 || s->distance_ohm[k] < s->distance_ohm[at]))
        at = k;
    if (at < 0) return;
    s->done[at] = true;
    for (int k = 0; k < sys->conductor_count; k++)
      relax(s, at, k, sys->conductors[k].from, sys->conductors[k].to,
            tv_conductor_resistance_ohm(&sys->conductors[k], 25));
    for (int k = 0; k < sys->isolator_count && !s->by_cable_alone; k++)
      if (sys->isolators[k].kind == TAILVOLT_RELAY)
        relax(s, at, sys->conductor_count + k, sys->isolators[k].from, sys->isolators[k].to,
              sys->isolators[k].resistance_ohm);
  }
}

/* Appends the path from the search's start to `goal`, in the direction of current. */
static void append_path(const struct search *s, struct tv_feed_path *path, int goal, bool ground_side) {
  int first = path->count;
  for (int at = goal; s->edge[at] >= 0; at = s->previous[at]) {
    struct tv_feed_path_part *part = &path->part[path->count++];
    int edge = s->edge[at];
    part->isolator = edge >= s->sys->conductor_count;
    part->index = part->isolator ? edge - s->sys->conductor_count : edge;
    int to = part->isolator ? s->sys->isolators[part->index].to : s->sys->conductors[part->index].to;
    part->sign = to == at ? 1 : -1;
    part->ground_side = ground_side;
  }
  for (int a = first, b = path->count - 1; a < b; a++, b--) {
    struct tv_feed_path_part swap = path->part[a];
    path->part[a] = path->part[b];
    path->part[b] = swap;
  }
}

static void find_path(struct search *s, struct tv_feed_path *path, const struct tailvolt_amplifier *amplifier) {
  path->battery = TV_NONE;
  int starter = tv_start_battery(s->sys);
  for (int k = 0; k < s->sys->battery_count && path->battery < 0; k++) {
    int b = k == 0 ? starter : k <= starter ? k - 1 : k; /* the starting one before the others */
    search_from(s, s->sys->batteries[b].positive);
    if (s->distance_ohm[amplifier->positive] == HUGE_VAL) continue;
    append_path(s, path, amplifier->positive, false);
    search_from(s, amplifier->negative);
    if (s->distance_ohm[s->sys->batteries[b].negative] == HUGE_VAL) {
      path->count = 0;
      continue;
    }
    append_path(s, path, s->sys->batteries[b].negative, true);
    path->battery = b;
  }
}

static enum tailvolt_status begin_search(struct search *s, const struct tailvolt_system *sys) {
  size_t points = (size_t)sys->point_count + 1;
  *s = (struct search){sys, false, calloc(points, sizeof(double)), calloc(points, sizeof(int)), calloc(points, sizeof(int)),
                       calloc(points, sizeof(bool))};
  return s->distance_ohm && s->edge && s->previous && s->done ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}

static void end_search(struct search *s) {
  free(s->distance_ohm), free(s->edge), free(s->previous), free(s->done);
}

/* Each side, feed and return, passes an edge at most once. */
static size_t most_edges(const struct tailvolt_system *sys) {
  return (size_t)(2 * (sys->conductor_count + sys->isolator_count)) + 1;
}

enum tailvolt_status tv_feed_path_find(const struct tailvolt_system *system, int amplifier, struct tv_feed_path_part **part,
                                       int *count, int *battery) {
  struct search s;
  struct tv_feed_path path = {.battery = TV_NONE};
  *part = NULL;
  *count = 0;
  enum tailvolt_status status = begin_search(&s, system);
  if (status == TAILVOLT_OK) path.part = calloc(most_edges(system), sizeof *path.part);
  if (path.part == NULL) status = TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK) find_path(&s, &path, &system->amplifiers[amplifier]);
  end_search(&s);
  *part = path.part;
  if (path.battery >= 0) *count = path.count;
  *battery = path.battery;
  return status;
}

static bool passes_relay(const struct tv_feed_path *path) {
  for (int k = 0; k < path->count; k++)
    if (path->part[k].isolator) return true;
  return false;
}

static enum tailvolt_status make_path(struct search *s, const struct tailvolt_amplifier *amplifier, struct tv_feed_path *path) {
  size_t edges = most_edges(s->sys);
  path->part = calloc(edges, sizeof *path->part);
  path->rest_drop_v = calloc(4 * edges, sizeof(double));
  if (!path->part || !path->rest_drop_v) return TAILVOLT_NO_MEMORY;
  path->rest_a = path->rest_drop_v + edges;
  path->worst_drop_v = path->rest_a + edges;
  path->worst_a = path->worst_drop_v + edges;
  find_path(s, path, amplifier);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_run_find_feed_paths(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct search s;
  enum tailvolt_status status = begin_search(&s, sys);
  for (int k = 0; k < sys->amplifier_count && status == TAILVOLT_OK; k++) {
    struct tv_feed_path *path = &run->feed_path[k], *by_cable = &run->cable_path[k];
    by_cable->battery = TV_NONE;
    s.by_cable_alone = false;
    status = make_path(&s, &sys->amplifiers[k], path);
    s.by_cable_alone = true;
    if (status == TAILVOLT_OK && passes_relay(path)) status = make_path(&s, &sys->amplifiers[k], by_cable);
  }
  end_search(&s);
  return status;
}

void tv_run_free_feed_paths(struct tv_feed_path *paths, int count) {
  for (int k = 0; k < count && paths != NULL; k++) {
    free(paths[k].part);
    free(paths[k].rest_drop_v);
  }
  free(paths);
}

static bool is_closed(const struct tv_run *run, int isolator) {
  return run->packed ? TV_HOT(run->hot, isolator)[isolator].closed > 0 : run->state.isolator[isolator].closed;
}

const struct tv_feed_path *tv_feed_path_now(const struct tv_run *run, int amplifier) {
  const struct tv_feed_path *path = &run->feed_path[amplifier], *by_cable = &run->cable_path[amplifier];
  for (int k = 0; k < path->count && by_cable->battery >= 0; k++)
    if (path->part[k].isolator && !is_closed(run, path->part[k].index)) return by_cable;
  return path;
}

const struct tv_feed_path *tv_feed_path_worst(const struct tv_run *run, int amplifier) {
  return run->feed_path[amplifier].parted ? &run->cable_path[amplifier] : &run->feed_path[amplifier];
}

/* Notes the drops along a path in the step just solved. */
static void look_along(const struct tv_run *run, struct tv_feed_path *path, bool rest, double time_s, double terminal_v,
                       double step_s) {
  if (rest) path->rest_v = terminal_v;
  if (path->battery < 0) return;
  double *drop_v = rest ? path->rest_drop_v : path->worst_drop_v, *current_a = rest ? path->rest_a : path->worst_a;
  const struct tv_layout *y = run->layout;
  const double *value = tv_hot_y(run->hot);
  for (int k = 0; k < path->count; k++) {
    const struct tv_feed_path_part *part = &path->part[k];
    if (part->isolator) {
      const double *end_v = value + y->isolator_row + 2 * part->index;
      drop_v[k] = part->sign * (end_v[0] - end_v[1]);
      current_a[k] = part->sign * value[y->isolator_a + part->index];
    } else {
      int group = run->conductor_group[part->index];
      double a = part->sign * run->conductor_sign[part->index] * value[y->group_value[group]];
      drop_v[k] = a * run->state.conductor_ohm[part->index];
      current_a[k] = a;
    }
  }
  int b = path->battery;
  const struct tv_hot_battery *hot = &TV_HOT(run->hot, battery)[b];
  double battery_a = hot->a;
  struct tv_battery_drops *drops = rest ? &path->rest : &path->worst;
  tv_battery_drops(run->battery[b], &run->state.battery[b], step_s, battery_a, drops);
  /* the step was solved with the resistance in the reduction, around the last current */
  double line_ohm = hot->total_ohm[hot->charging > 0];
  drops->ohmic_v += (hot->used_ohm - line_ohm) * (battery_a - hot->last_a) + hot->guard_ohm * battery_a;
  if (rest) {
    path->rest_battery_a = battery_a;
    return;
  }
  path->worst_v = terminal_v;
  path->worst_time_s = time_s;
  path->worst_battery_a = battery_a;
  const struct tv_hot_source *s = TV_HOT(run->hot, source);
  path->worst_at_limit =
      y->alternator && s->active > 0 && s->clamp > 0 && s->field_high_frac > TV_FULL_FIELD * run->field_scale;
}

void tv_feed_path_look(const struct tv_run *run, int amplifier, bool rest, double time_s, double terminal_v, double step_s) {
  struct tv_feed_path *path = &run->feed_path[amplifier], *by_cable = &run->cable_path[amplifier];
  if (!rest) path->parted = tv_feed_path_now(run, amplifier) == by_cable;
  if (rest || !path->parted) look_along(run, path, rest, time_s, terminal_v, step_s);
  if (rest || path->parted) look_along(run, by_cable, rest, time_s, terminal_v, step_s);
}
