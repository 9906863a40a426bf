/* Several fuses into one cable. Each may protect it alone and yet not together: where two fused leads meet, the
 * current beyond is the sum of what both let through. That sum is the maximum flow from the batteries to an end of
 * the cable, with fuses as wide as their rating and everything else unlimited (Ford and Fulkerson 1956; the
 * minimum cut counts fuses in series once). */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/safety_rules.h"

struct flow {
  const struct tailvolt_system *system;
  int edges, skipped; /* conductors, then isolators; the cable in question is excluded */
  double *along_a;    /* [edge] flow from `from` to `to`, may be negative */
  int *by, *queue;    /* [point] */
};

static void ends(const struct flow *flow, int edge, int *from, int *to) {
  const struct tailvolt_system *system = flow->system;
  bool conductor = edge < system->conductor_count;
  *from = conductor ? system->conductors[edge].from : system->isolators[edge - system->conductor_count].from;
  *to = conductor ? system->conductors[edge].to : system->isolators[edge - system->conductor_count].to;
}

/* Capacity left on an edge in one direction. */
static double room_a(const struct flow *flow, int edge, bool forwards) {
  const struct tailvolt_system *system = flow->system;
  double used_a = forwards ? flow->along_a[edge] : -flow->along_a[edge];
  if (edge == flow->skipped) return 0.0;
  if (edge < system->conductor_count) {
    const struct tailvolt_conductor *c = &system->conductors[edge];
    return (c->kind == TAILVOLT_FUSE ? c->rating_a : (double)INFINITY) - used_a;
  }
  const struct tailvolt_isolator *isolator = &system->isolators[edge - system->conductor_count];
  if (isolator->kind == TAILVOLT_RELAY) return (double)INFINITY;
  /* diode and converter: one way, though flow may be undone */
  double most_a = isolator->kind == TAILVOLT_CONVERTER ? isolator->output_a : (double)INFINITY;
  return forwards ? most_a - used_a : -used_a;
}

/* A path with capacity from any battery's post to `end`; true where there is one. by[] = edge by which a point is
 * reached, -2 = a post, -1 = not reached. */
static bool find_path(struct flow *flow, int end) {
  const struct tailvolt_system *system = flow->system;
  int head = 0, tail = 0;
  for (int p = 0; p < system->point_count; p++) flow->by[p] = -1;
  for (int b = 0; b < system->battery_count; b++) {
    int post = system->batteries[b].positive;
    if (flow->by[post] == -2) continue;
    flow->by[post] = -2;
    flow->queue[tail++] = post;
  }
  while (head < tail && flow->by[end] == -1) {
    int at = flow->queue[head++];
    for (int edge = 0; edge < flow->edges; edge++) {
      int from, to;
      ends(flow, edge, &from, &to);
      if (from != at && to != at) continue;
      int next = from == at ? to : from;
      if (next < 0 || flow->by[next] != -1 || !(room_a(flow, edge, from == at) > 1e-9)) continue;
      flow->by[next] = edge;
      flow->queue[tail++] = next;
    }
  }
  return flow->by[end] != -1;
}

/* Smallest capacity left on the path found; adds `amount_a` along it where that is finite. */
static double along_path(struct flow *flow, int end, double amount_a) {
  double least_a = (double)INFINITY;
  for (int p = end; flow->by[p] >= 0;) {
    int from, to, edge = flow->by[p];
    ends(flow, edge, &from, &to);
    bool forwards = to == p;
    least_a = fmin(least_a, room_a(flow, edge, forwards));
    if (isfinite(amount_a)) flow->along_a[edge] += forwards ? amount_a : -amount_a;
    p = forwards ? from : to;
  }
  return least_a;
}

/* What the fuses let through to a point; INFINITY where a path there has none. */
static double greatest_a(struct flow *flow, int end) {
  double sum_a = 0.0;
  memset(flow->along_a, 0, (size_t)flow->edges * sizeof *flow->along_a);
  while (find_path(flow, end)) {
    double more_a = along_path(flow, end, (double)INFINITY);
    if (!isfinite(more_a)) return (double)INFINITY;
    along_path(flow, end, more_a);
    sum_a += more_a;
  }
  return sum_a;
}

/* Whether each fuse before it is right by itself: if not, the rule of ratings has said so. */
static bool each_is_right(const struct tv_safety_job *job, int cable, double ampacity_a) {
  const struct tailvolt_system *system = job->system;
  for (int f = 0; f < system->conductor_count; f++)
    if (job->protection.by[f * system->conductor_count + cable] && system->conductors[f].rating_a > ampacity_a)
      return false;
  return true;
}

void tv_rules_fuse_sums(struct tv_safety_job *job) {
  const struct tailvolt_system *system = job->system;
  size_t points = (size_t)system->point_count + 1, edges = (size_t)(system->conductor_count + system->isolator_count);
  struct flow flow = {.system = system, .edges = (int)edges};
  flow.along_a = calloc(edges + 1, sizeof *flow.along_a);
  flow.by = calloc(points, sizeof *flow.by);
  flow.queue = calloc(points, sizeof *flow.queue);
  if (flow.along_a == NULL || flow.by == NULL || flow.queue == NULL) job->status = TAILVOLT_NO_MEMORY;
  for (int k = 0; k < system->conductor_count && job->status == TAILVOLT_OK; k++) {
    const struct tailvolt_conductor *cable = &system->conductors[k];
    if (!tv_is_cable(cable) || !job->protection.positive[cable->from] || job->protection.unfused[k]) continue;
    double ampacity_a = tv_ampacity_with(job->limits, system, cable);
    flow.skipped = k;
    double from_a = greatest_a(&flow, cable->from), to_a = greatest_a(&flow, cable->to);
    double most_a = fmax(isfinite(from_a) ? from_a : 0.0, isfinite(to_a) ? to_a : 0.0);
    if (most_a <= ampacity_a || !each_is_right(job, k, ampacity_a)) continue;
    struct tailvolt_finding found = tv_finding_of_conductor(job, TAILVOLT_FOUND_FUSES_SUM, TAILVOLT_FAILS, k);
    found.current_a = most_a;
    found.limit_a = ampacity_a;
    tv_find(job, &found);
  }
  free(flow.along_a);
  free(flow.by);
  free(flow.queue);
}
