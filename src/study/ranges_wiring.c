/* Which conductors the fitter put in. A conductor belongs to the installation if removing it leaves on one side an amplifier, a
 * capacitor or a further battery, and nothing of the car's own: not its starting battery, source, loads or body. */
#include <stdlib.h>

#include "study/ranges.h"

struct places {
  int count;
  int *root;          /* union-find over points */
  bool *own, *fitted; /* the car's own terminals; those of fitted parts */
};

static int root_of(struct places *p, int point) {
  while (p->root[point] != point) point = p->root[point] = p->root[p->root[point]];
  return point;
}

static void join(struct places *p, int a, int b) { p->root[root_of(p, a)] = root_of(p, b); }

static void mark(bool *marks, int positive, int negative) {
  if (positive >= 0) marks[positive] = true;
  if (negative >= 0) marks[negative] = true;
}

static void mark_all(const struct tailvolt_system *system, struct places *p) {
  for (int k = 0; k < system->battery_count; k++)
    mark(k == system->engine.starter_battery ? p->own : p->fitted, system->batteries[k].positive, system->batteries[k].negative);
  if (system->alternator.present) mark(p->own, system->alternator.positive, system->alternator.negative);
  for (int k = 0; k < system->load_count; k++) mark(p->own, system->loads[k].positive, system->loads[k].negative);
  for (int k = 0; k < system->conductor_count; k++)
    if (system->conductors[k].role != TAILVOLT_ROLE_NONE) mark(p->own, system->conductors[k].from, system->conductors[k].to);
  if (system->engine.block >= 0) p->own[system->engine.block] = true;
  for (int k = 0; k < system->amplifier_count; k++) mark(p->fitted, system->amplifiers[k].positive, system->amplifiers[k].negative);
  for (int k = 0; k < system->capacitor_count; k++) mark(p->fitted, system->capacitors[k].positive, system->capacitors[k].negative);
}

/* Whether the side of `end` holds something fitted and nothing of the car's own. */
static bool cut_off(struct places *p, int end) {
  int side = root_of(p, end);
  bool fitted = false;
  for (int k = 0; k < p->count; k++) {
    if (root_of(p, k) != side) continue;
    if (p->own[k]) return false;
    fitted = fitted || p->fitted[k];
  }
  return fitted;
}

static bool is_installed(const struct tailvolt_system *system, struct places *p, int conductor) {
  const struct tailvolt_conductor *c = &system->conductors[conductor];
  if (c->role != TAILVOLT_ROLE_NONE) return false;
  for (int k = 0; k < p->count; k++) p->root[k] = k;
  for (int k = 0; k < system->conductor_count; k++)
    if (k != conductor) join(p, system->conductors[k].from, system->conductors[k].to);
  for (int k = 0; k < system->isolator_count; k++) join(p, system->isolators[k].from, system->isolators[k].to);
  if (root_of(p, c->from) == root_of(p, c->to)) return false; /* another path leads round it */
  return cut_off(p, c->from) || cut_off(p, c->to);
}

static bool on_sheet_metal(const struct tailvolt_system *system, int conductor) {
  const struct tailvolt_conductor *c = &system->conductors[conductor];
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *other = &system->conductors[k];
    if (other->role == TAILVOLT_ROLE_BODY && (other->from == c->from || other->from == c->to || other->to == c->from || other->to == c->to))
      return true;
  }
  return false;
}

enum tailvolt_status tv_find_installation(const struct tailvolt_system *system, bool *installed, bool *new_joint) {
  size_t n = (size_t)system->point_count + 1;
  struct places p = {.count = system->point_count,
                     .root = calloc(n, sizeof *p.root),
                     .own = calloc(n, sizeof *p.own),
                     .fitted = calloc(n, sizeof *p.fitted)};
  bool room = p.root != NULL && p.own != NULL && p.fitted != NULL;
  if (room) mark_all(system, &p);
  for (int k = 0; k < system->conductor_count && room; k++) {
    installed[k] = is_installed(system, &p, k);
    new_joint[k] = installed[k] && system->conductors[k].kind == TAILVOLT_JOINT && !on_sheet_metal(system, k);
  }
  free(p.root);
  free(p.own);
  free(p.fitted);
  return room ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
}
