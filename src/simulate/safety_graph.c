/* Walks through the wiring for the safety rules (Dijkstra's shortest paths; systems are small). */
#include "simulate/safety_graph.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

bool tv_is_cable(const struct tailvolt_conductor *conductor) {
  return conductor->kind == TAILVOLT_CABLE || conductor->kind == TAILVOLT_STRAP;
}

enum tailvolt_status tv_reach_create(const struct tailvolt_system *system, struct tv_reach *reach) {
  size_t points = (size_t)(system->point_count > 0 ? system->point_count : 1);
  reach->far = calloc(points, sizeof *reach->far);
  reach->edge = calloc(points, sizeof *reach->edge);
  reach->previous = calloc(points, sizeof *reach->previous);
  reach->settled = calloc(points, sizeof *reach->settled);
  if (reach->far == NULL || reach->edge == NULL || reach->previous == NULL || reach->settled == NULL) {
    tv_reach_free(reach);
    return TAILVOLT_NO_MEMORY;
  }
  return TAILVOLT_OK;
}

void tv_reach_free(struct tv_reach *reach) {
  free(reach->far);
  free(reach->edge);
  free(reach->previous);
  free(reach->settled);
  memset(reach, 0, sizeof *reach);
}

bool tv_reached(const struct tv_reach *reach, int point) {
  return point >= 0 && isfinite(reach->far[point]);
}

static void offer(struct tv_reach *reach, int from, int to, int edge, double step) {
  if (from >= 0 && to >= 0 && reach->far[from] + step < reach->far[to]) {
    reach->far[to] = reach->far[from] + step;
    reach->edge[to] = edge;
    reach->previous[to] = from;
  }
}

static void relax(const struct tailvolt_system *system, int point, enum tv_weight weight, enum tv_through through,
                  struct tv_reach *reach) {
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *c = &system->conductors[k];
    if (c->kind == TAILVOLT_FUSE && through == TV_NO_FUSES) {
      continue;
    }
    double step = weight == TV_BY_RESISTANCE ? c->resistance_ohm : tv_is_cable(c) ? c->length_m : 0.0;
    if (c->from == point) {
      offer(reach, point, c->to, k, step);
    }
    if (c->to == point) {
      offer(reach, point, c->from, k, step);
    }
  }
  for (int k = 0; k < system->isolator_count && through != TV_CABLES_ALONE; k++) {
    const struct tailvolt_isolator *i = &system->isolators[k];
    if (i->kind == TAILVOLT_CONVERTER && through == TV_NO_CONVERTERS) {
      continue;
    }
    double step = weight == TV_BY_RESISTANCE ? i->resistance_ohm : 0.0;
    if (i->from == point) {
      offer(reach, point, i->to, system->conductor_count + k, step);
    }
    if (i->to == point && i->kind == TAILVOLT_RELAY) {
      offer(reach, point, i->from, system->conductor_count + k, step);
    }
  }
}

void tv_reach_walk(const struct tailvolt_system *system, int start, enum tv_weight weight, enum tv_through through,
                   struct tv_reach *reach) {
  for (int p = 0; p < system->point_count; p++) {
    reach->far[p] = (double)INFINITY;
    reach->edge[p] = -1;
    reach->previous[p] = -1;
    reach->settled[p] = false;
  }
  if (start < 0 || start >= system->point_count) {
    return;
  }
  reach->far[start] = 0.0;
  for (;;) {
    int next = -1;
    for (int p = 0; p < system->point_count; p++) {
      if (!reach->settled[p] && isfinite(reach->far[p]) && (next < 0 || reach->far[p] < reach->far[next])) {
        next = p;
      }
    }
    if (next < 0) {
      return;
    }
    reach->settled[next] = true;
    relax(system, next, weight, through, reach);
  }
}

/* Both sides of the car, through everything that conducts. */
static void mark_sides(const struct tailvolt_system *system, struct tv_protection *protection) {
  for (int b = 0; b < system->battery_count; b++) {
    tv_reach_walk(system, system->batteries[b].positive, TV_BY_LENGTH, TV_ALL, &protection->reach);
    for (int p = 0; p < system->point_count; p++) {
      protection->positive[p] = protection->positive[p] || tv_reached(&protection->reach, p);
    }
    tv_reach_walk(system, system->batteries[b].negative, TV_BY_LENGTH, TV_ALL, &protection->reach);
    for (int p = 0; p < system->point_count; p++) {
      protection->ground[p] = protection->ground[p] || tv_reached(&protection->reach, p);
    }
  }
}

/* One step of the spread: from `start` (a post, or the far end of fuse `last`) up to the next fuses, whose
 * far ends are pushed on the stack; todo[] holds fuse * 2 + (entered at `to`). */
static int spread(const struct tailvolt_system *system, int start, int last, struct tv_protection *protection,
                  bool *done, int *todo, int todo_count) {
  tv_reach_walk(system, start, TV_BY_LENGTH, TV_NO_FUSES, &protection->reach);
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *c = &system->conductors[k];
    bool at_from = tv_reached(&protection->reach, c->from);
    bool at_to = tv_reached(&protection->reach, c->to);
    if (tv_is_cable(c) && (at_from || at_to)) {
      if (last < 0) {
        protection->unfused[k] = true;
      } else {
        protection->by[last * system->conductor_count + k] = true;
      }
    }
    if (c->kind == TAILVOLT_FUSE && k != last) {
      for (int entry = 0; entry < 2; entry++) {
        if ((entry == 0 ? at_from : at_to) && !done[2 * k + entry]) {
          done[2 * k + entry] = true;
          todo[todo_count++] = 2 * k + entry;
        }
      }
    }
  }
  return todo_count;
}

static enum tailvolt_status mark_protected(const struct tailvolt_system *system,
                                           struct tv_protection *protection) {
  size_t entries = 2 * (size_t)system->conductor_count + 1;
  bool *done = calloc(entries, sizeof *done);
  int *todo = calloc(entries, sizeof *todo);
  if (done == NULL || todo == NULL) {
    free(done);
    free(todo);
    return TAILVOLT_NO_MEMORY;
  }
  int todo_count = 0;
  for (int b = 0; b < system->battery_count; b++) {
    todo_count = spread(system, system->batteries[b].positive, -1, protection, done, todo, todo_count);
  }
  while (todo_count > 0) {
    int entry = todo[--todo_count];
    const struct tailvolt_conductor *fuse = &system->conductors[entry / 2];
    todo_count =
        spread(system, entry % 2 == 0 ? fuse->to : fuse->from, entry / 2, protection, done, todo, todo_count);
  }
  free(done);
  free(todo);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_protection_create(const struct tailvolt_system *system,
                                          struct tv_protection *protection) {
  memset(protection, 0, sizeof *protection);
  size_t points = (size_t)system->point_count + 1;
  size_t conductors = (size_t)system->conductor_count + 1;
  enum tailvolt_status status = tv_reach_create(system, &protection->reach);
  if (status != TAILVOLT_OK) {
    return status;
  }
  protection->positive = calloc(points, sizeof *protection->positive);
  protection->ground = calloc(points, sizeof *protection->ground);
  protection->unfused = calloc(conductors, sizeof *protection->unfused);
  protection->by = calloc(conductors * conductors, sizeof *protection->by);
  if (protection->positive == NULL || protection->ground == NULL || protection->unfused == NULL ||
      protection->by == NULL) {
    tv_protection_free(protection);
    return TAILVOLT_NO_MEMORY;
  }
  mark_sides(system, protection);
  status = mark_protected(system, protection);
  if (status != TAILVOLT_OK) {
    tv_protection_free(protection);
  }
  return status;
}

void tv_protection_free(struct tv_protection *protection) {
  tv_reach_free(&protection->reach);
  free(protection->positive);
  free(protection->ground);
  free(protection->unfused);
  free(protection->by);
  memset(protection, 0, sizeof *protection);
}
