/* Random wirings: the reduction to ports against a full nodal solution of every point.
 *
 * The full solution knows nothing of ports: dense equations of all points with the true conductances,
 * solved by elimination in long double. */
#include "support/assert_near.h"

#include <gsl/gsl_rng.h>
#include <stdlib.h>
#include <string.h>

#include "network/network.h"

#define NETWORKS 10000
#define NODES_MAX 14
#define LINEAR_MAX 5
#define NONLINEAR_MAX 5
#define UNKNOWNS_MAX (NODES_MAX + TV_SOURCES_MAX)
#define TOLERANCE_V 1e-9

struct scene {
  struct tv_network *network;
  double s_a[LINEAR_MAX], j_a[NONLINEAR_MAX], set_v[TV_SOURCES_MAX];
};

static double between(gsl_rng *rng, double low, double high) {
  return low + (high - low) * gsl_rng_uniform(rng);
}

static int pick(gsl_rng *rng, int count) {
  return (int)gsl_rng_uniform_int(rng, (unsigned long)count);
}

/* Two different points. */
static void pick_pair(gsl_rng *rng, int nodes, int *a, int *b) {
  *a = pick(rng, nodes);
  *b = (*a + 1 + pick(rng, nodes - 1)) % nodes;
}

/* A tree over all points plus extra branches; resistances from 0.1 mohm to 1 ohm. */
static void make_branches(gsl_rng *rng, struct tv_network *n) {
  for (int k = 0; k < n->branch_count; k++) {
    struct tv_branch *branch = &n->branch[k];
    if (k < n->node_count - 1) {
      branch->from = k + 1;
      branch->to = pick(rng, k + 1);
    } else {
      pick_pair(rng, n->node_count, &branch->from, &branch->to);
    }
    branch->ohm = pow(10, between(rng, -4, 0));
  }
}

static struct scene make_scene(gsl_rng *rng, int sources) {
  struct scene scene;
  int nodes = 2 + pick(rng, NODES_MAX - 1), linear = 1 + pick(rng, LINEAR_MAX);
  int nonlinear = sources + 1 + pick(rng, NONLINEAR_MAX - sources);
  int branches = nodes - 1 + pick(rng, 2 * nodes), watches = 3;
  assert_int_equal(tv_network_create(nodes, branches, linear, nonlinear, watches, &scene.network),
                   TAILVOLT_OK);
  struct tv_network *n = scene.network;
  make_branches(rng, n);
  for (int k = 0; k < linear + nonlinear; k++)
    pick_pair(rng, nodes, &n->port[k].positive, &n->port[k].negative);
  for (int k = 0; k < linear; k++) {
    n->reference_s[k] = pow(10, between(rng, 0, 2.5));
    /* storage of a step, an open switch, a closed one */
    double kind = gsl_rng_uniform(rng);
    n->conductance_s[k] = kind < 0.2 ? 0 : kind < 0.4 ? 1000 : pow(10, between(rng, 0, 3));
    scene.s_a[k] = between(rng, 10, 14) * n->conductance_s[k] + between(rng, -50, 50);
  }
  for (int k = 0; k < nonlinear; k++) scene.j_a[k] = between(rng, -150, 100);
  for (int k = 0; k < watches; k++) {
    pick_pair(rng, nodes, &n->watch[k].from, &n->watch[k].to);
    n->watch[k].ohm = k == 0 ? 1 : pow(10, between(rng, -3, 0));
  }
  n->source_count = sources;
  assert_int_equal(tv_network_fix(n), TAILVOLT_OK);
  for (int k = 0; k < sources; k++) {
    n->source[k] = (struct tv_source){k, k, pow(10, between(rng, -3, -1))};
    /* the last nonlinear port may be a sensing point away from the source */
    if (gsl_rng_uniform(rng) < 0.3) n->source[k].sense = nonlinear - 1;
    scene.set_v[k] = between(rng, 13, 15);
  }
  return scene;
}

/* Gaussian elimination with row exchange; false where it is near singular. */
static bool solve(int count, long double a[][UNKNOWNS_MAX + 1], double *x) {
  for (int k = 0; k < count; k++) {
    int best = k;
    for (int i = k; i < count; i++)
      if (fabsl(a[i][k]) > fabsl(a[best][k])) best = i;
    if (fabsl(a[best][k]) < 1e-9L) return false;
    for (int j = k; j <= count; j++) {
      long double swap = a[k][j];
      a[k][j] = a[best][j];
      a[best][j] = swap;
    }
    for (int i = 0; i < count; i++) {
      if (i == k) continue;
      long double factor = a[i][k] / a[k][k];
      for (int j = k; j <= count; j++) a[i][j] -= factor * a[k][j];
    }
  }
  for (int k = 0; k < count; k++) x[k] = (double)(a[k][count] / a[k][k]);
  return true;
}

static void add_conductance(long double a[][UNKNOWNS_MAX + 1], int from, int to, double siemens) {
  if (from > 0) a[from - 1][from - 1] += (long double)siemens;
  if (to > 0) a[to - 1][to - 1] += (long double)siemens;
  if (from > 0 && to > 0) {
    a[from - 1][to - 1] -= (long double)siemens;
    a[to - 1][from - 1] -= (long double)siemens;
  }
}

static void add_entry(long double a[][UNKNOWNS_MAX + 1], int node, int column, double value) {
  if (node > 0) a[node - 1][column] += (long double)value;
}

/* Voltages of all points, v[0] = 0, and the currents of the sources that hold; `set` as in
 * tv_network_active_set(). */
static bool solve_all(const struct scene *scene, unsigned set, double *v, double *held_a) {
  static long double a[UNKNOWNS_MAX][UNKNOWNS_MAX + 1];
  const struct tv_network *n = scene->network;
  int nodes = n->node_count - 1, count = nodes;
  memset(a, 0, sizeof a);
  for (int k = 0; k < n->source_count; k++) count += (set & 1u << k) != 0;
  for (int k = 0; k < n->branch_count; k++)
    add_conductance(a, n->branch[k].from, n->branch[k].to, 1 / n->branch[k].ohm);
  for (int k = 0; k < n->linear_count; k++) {
    add_conductance(a, n->port[k].positive, n->port[k].negative, n->conductance_s[k]);
    add_entry(a, n->port[k].positive, count, scene->s_a[k]);
    add_entry(a, n->port[k].negative, count, -scene->s_a[k]);
  }
  for (int k = 0, row = nodes; k < n->nonlinear_count; k++) {
    const struct tv_port *port = &n->port[n->linear_count + k];
    if (k < n->source_count && (set & 1u << k) != 0) {
      const struct tv_port *sense = &n->port[n->linear_count + n->source[k].sense];
      add_entry(a, port->positive, row, -1);
      add_entry(a, port->negative, row, 1);
      if (sense->positive > 0) a[row][sense->positive - 1] += 1;
      if (sense->negative > 0) a[row][sense->negative - 1] -= 1;
      a[row][row] += (long double)n->source[k].droop_ohm;
      a[row][count] += (long double)scene->set_v[k];
      row++;
    } else {
      add_entry(a, port->positive, count, scene->j_a[k]);
      add_entry(a, port->negative, count, -scene->j_a[k]);
    }
  }
  double x[UNKNOWNS_MAX];
  if (!solve(count, a, x)) return false;
  v[0] = 0;
  for (int k = 0; k < nodes; k++) v[k + 1] = x[k];
  for (int k = 0, row = nodes; k < n->source_count; k++) held_a[k] = (set & 1u << k) != 0 ? x[row++] : 0;
  return true;
}

static double port_v(const struct tv_network *n, int port, const double *v) {
  return v[n->port[port].positive] - v[n->port[port].negative];
}

static double row_times(const double *row, const double *x, int count) {
  double sum = 0;
  for (int k = 0; k < count; k++) sum += row[k] * x[k];
  return sum;
}

/* The network's vector for a scene; set values only where sources hold. */
static double row_over(const struct scene *scene, const double *row, bool holding) {
  const struct tv_network *n = scene->network;
  int l = n->linear_count;
  double sum = row_times(row, scene->s_a, l) + row_times(row + l + n->source_count, scene->j_a, n->nonlinear_count);
  return holding ? sum + row_times(row + l, scene->set_v, n->source_count) : sum;
}

static double scale_of(const double *v, int count) {
  double most = 1;
  for (int k = 0; k < count; k++) most = fmax(most, fabs(v[k]));
  return most;
}

static void reduction_is_the_full_solution(void **state) {
  (void)state;
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  double worst_v = 0;
  for (int trial = 0; trial < NETWORKS; trial++) {
    struct scene scene = make_scene(rng, 0);
    struct tv_network *n = scene.network;
    double v[NODES_MAX + 1], none[TV_SOURCES_MAX];
    int l = n->linear_count, m = n->nonlinear_count;
    assert_int_equal(tv_network_reduce_wiring(n), TAILVOLT_OK);
    assert_int_equal(tv_network_reduce_ports(n), TAILVOLT_OK);
    assert_true(solve_all(&scene, 0, v, none));
    /* voltages here reach hundreds of volts, and the tolerance scales with them */
    double scale = scale_of(v, n->node_count) / 14;
    for (int k = 0; k < l; k++) {
      double seen = row_over(&scene, n->row + k * n->width, false);
      worst_v = fmax(worst_v, fabs(seen - port_v(n, k, v)) / fmax(scale, 1));
    }
    for (int k = 0; k < m; k++) {
      double seen = row_over(&scene, n->port_row + k * n->width, false);
      worst_v = fmax(worst_v, fabs(seen - port_v(n, l + k, v)) / fmax(scale, 1));
    }
    for (int k = 0; k < n->watch_count; k++) {
      const struct tv_watch *w = &n->watch[k];
      double seen = row_over(&scene, n->row + (l + k) * n->width, false);
      worst_v = fmax(worst_v, fabs(seen * w->ohm - (v[w->from] - v[w->to])) / fmax(scale, 1));
    }
    if (!(worst_v <= TOLERANCE_V)) fail_msg("network %d: off by %.3g V", trial, worst_v);
    tv_network_free(n);
  }
  print_message("%d networks, off by at most %.2g V\n", NETWORKS, worst_v);
  gsl_rng_free(rng);
}

/* One set of holding sources against the full solution; returns the largest difference in volts. */
static double holding_difference_v(const struct scene *scene, unsigned set, int *checked) {
  struct tv_network *n = scene->network;
  int l = n->linear_count, m = n->nonlinear_count;
  double v[NODES_MAX + 1], held_a[TV_SOURCES_MAX], worst_v = 0;
  if (!solve_all(scene, set, v, held_a)) return 0;
  double scale = fmax(scale_of(v, n->node_count) / 14, 1);
  /* two sources fighting over one point can need kiloamperes: not a vehicle, and not a check of the
   * arithmetic */
  if (scale > 20) return 0;
  (*checked)++;
  const struct tv_active_set *mode = tv_network_active_set(n, set);
  for (int k = 0; k < m; k++) {
    double seen = row_over(scene, mode->row + k * n->width, true);
    worst_v = fmax(worst_v, fabs(seen - port_v(n, l + k, v)) / scale);
  }
  for (int k = 0; k < n->source_count; k++) {
    if (!(set & 1u << k)) continue;
    double seen = row_over(scene, mode->row + (m + k) * n->width, true);
    /* amperes times the droop: the effect at the sensing point */
    worst_v = fmax(worst_v, fabs(seen - held_a[k]) * n->source[k].droop_ohm / scale);
  }
  return worst_v;
}

static void holding_sources_are_the_full_solution(void **state) {
  (void)state;
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(rng, 7);
  int checked = 0;
  for (int trial = 0; trial < NETWORKS / 4; trial++) {
    struct scene scene = make_scene(rng, 1 + trial % 3);
    assert_int_equal(tv_network_reduce_wiring(scene.network), TAILVOLT_OK);
    assert_int_equal(tv_network_reduce_ports(scene.network), TAILVOLT_OK);
    for (unsigned set = 0; set < 1u << scene.network->source_count; set++) {
      double off_v = holding_difference_v(&scene, set, &checked);
      if (!(off_v <= TOLERANCE_V)) fail_msg("network %d, set %u: off by %.3g V", trial, set, off_v);
    }
    tv_network_free(scene.network);
  }
  print_message("%d sets of holding sources checked\n", checked);
  assert_true(checked > NETWORKS / 2);
  gsl_rng_free(rng);
}

/* Changed conductances need only the second reduction. */
static void ports_are_reduced_anew(void **state) {
  (void)state;
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(rng, 11);
  struct scene scene = make_scene(rng, 0);
  struct tv_network *n = scene.network;
  assert_int_equal(tv_network_reduce_wiring(n), TAILVOLT_OK);
  for (int trial = 0; trial < 50; trial++) {
    double v[NODES_MAX + 1], none[TV_SOURCES_MAX];
    for (int k = 0; k < n->linear_count; k++) n->conductance_s[k] = between(rng, 0, 400);
    assert_int_equal(tv_network_reduce_ports(n), TAILVOLT_OK);
    assert_true(solve_all(&scene, 0, v, none));
    int l = n->linear_count;
    double seen = row_over(&scene, n->port_row, false);
    assert_near(seen, port_v(n, l, v), TOLERANCE_V * fmax(1, scale_of(v, n->node_count) / 14));
  }
  assert_int_equal(n->wiring_reductions, 1);
  assert_int_equal(n->port_reductions, 50);
  tv_network_free(n);
  gsl_rng_free(rng);
}

/* The largest size promised: 64 points, 128 parts, 16 amplifiers, 8 batteries. */
static void large_network(void **state) {
  (void)state;
  enum { NODES = 64, BRANCHES = 128, BATTERIES = 8, AMPLIFIERS = 16 };
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  struct tv_network *n;
  assert_int_equal(tv_network_create(NODES, BRANCHES, BATTERIES, AMPLIFIERS, 0, &n), TAILVOLT_OK);
  assert_int_equal(tv_network_fix(n), TAILVOLT_OK);
  make_branches(rng, n);
  double s_a[BATTERIES], j_a[AMPLIFIERS], v[NODES] = {0}, taken_a[NODES] = {0};
  for (int k = 0; k < BATTERIES + AMPLIFIERS; k++)
    pick_pair(rng, NODES, &n->port[k].positive, &n->port[k].negative);
  for (int k = 0; k < BATTERIES; k++) {
    n->reference_s[k] = n->conductance_s[k] = 150;
    s_a[k] = 12.6 * 150;
  }
  for (int k = 0; k < AMPLIFIERS; k++) j_a[k] = -between(rng, 0, 80);
  assert_int_equal(tv_network_reduce_wiring(n), TAILVOLT_OK);
  assert_int_equal(tv_network_reduce_ports(n), TAILVOLT_OK);
  /* node voltages from the injections, then Kirchhoff's current law at every point */
  int ports = BATTERIES + AMPLIFIERS;
  for (int k = 1; k < NODES; k++) {
    for (int p = 0; p < BATTERIES; p++) v[k] += n->x[k * ports + p] * s_a[p];
    for (int p = 0; p < AMPLIFIERS; p++) v[k] += n->x[k * ports + BATTERIES + p] * j_a[p];
  }
  for (int k = 0; k < BRANCHES; k++) {
    double i_a = (v[n->branch[k].from] - v[n->branch[k].to]) / n->branch[k].ohm;
    taken_a[n->branch[k].from] += i_a;
    taken_a[n->branch[k].to] -= i_a;
  }
  for (int k = 0; k < ports; k++) {
    double i_a = k < BATTERIES ? s_a[k] - 150 * port_v(n, k, v) : j_a[k - BATTERIES];
    taken_a[n->port[k].positive] -= i_a;
    taken_a[n->port[k].negative] += i_a;
  }
  for (int k = 0; k < NODES; k++) assert_near(taken_a[k], 0, 1e-7);
  tv_network_free(n);
  gsl_rng_free(rng);
}

static void floating_point_is_singular(void **state) {
  (void)state;
  struct tv_network *n;
  assert_int_equal(tv_network_create(4, 2, 1, 1, 0, &n), TAILVOLT_OK);
  assert_int_equal(tv_network_fix(n), TAILVOLT_OK);
  n->branch[0] = (struct tv_branch){0, 1, 0.01};
  n->branch[1] = (struct tv_branch){2, 3, 0.01}; /* nothing ties these two to ground */
  n->port[0] = (struct tv_port){1, 0};
  n->port[1] = (struct tv_port){1, 0};
  n->reference_s[0] = n->conductance_s[0] = 100;
  assert_int_equal(tv_network_reduce_wiring(n), TAILVOLT_SINGULAR);
  tv_network_free(n);
}

/* 1 F behind 2 mohm on a source of 20 mohm: 22 ms. A second one of 0.2 F behind 5 mohm at the same
 * terminals: the shorter of the two roots of tau^2 - (a + d) tau + (a d - b^2) = 0. */
static void shortest_time_constant(void **state) {
  (void)state;
  struct tv_network *n;
  assert_int_equal(tv_network_create(2, 1, 2, 1, 0, &n), TAILVOLT_OK);
  assert_int_equal(tv_network_fix(n), TAILVOLT_OK);
  n->branch[0] = (struct tv_branch){1, 0, 0.02};
  for (int k = 0; k < 3; k++) n->port[k] = (struct tv_port){1, 0};
  for (int k = 0; k < 2; k++) n->reference_s[k] = n->conductance_s[k] = 30;
  assert_int_equal(tv_network_reduce_wiring(n), TAILVOLT_OK);
  double shortest_s = 0;
  n->conductance_s[1] = 0;
  assert_int_equal(tv_network_shortest_s(n, (double[]){1, 0}, (double[]){0.002, 0}, &shortest_s),
                   TAILVOLT_OK);
  assert_near_rel(shortest_s, 0.022, 1e-9);
  double a = 0.022, d = 0.2 * 0.025, b2 = 0.2 * 0.02 * 0.02;
  assert_int_equal(tv_network_shortest_s(n, (double[]){1, 0.2}, (double[]){0.002, 0.005}, &shortest_s),
                   TAILVOLT_OK);
  assert_near_rel(shortest_s, 0.5 * (a + d - sqrt((a - d) * (a - d) + 4 * b2)), 1e-9);
  assert_int_equal(tv_network_shortest_s(n, (double[]){0, 0}, (double[]){0, 0}, &shortest_s), TAILVOLT_OK);
  assert_true(isinf(shortest_s));
  tv_network_free(n);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(reduction_is_the_full_solution),
      cmocka_unit_test(holding_sources_are_the_full_solution),
      cmocka_unit_test(ports_are_reduced_anew),
      cmocka_unit_test(large_network),
      cmocka_unit_test(floating_point_is_singular),
      cmocka_unit_test(shortest_time_constant),
  };
  return cmocka_run_group_tests_name("network", tests, NULL, NULL);
}
