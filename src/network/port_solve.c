#include "network/port_solve.h"

#include <math.h>
#include <stdlib.h>

#include "numeric/matrix.h"

enum tailvolt_status tv_port_solver_create(struct tv_network *network, int load_count,
                                           struct tv_port_solver **out) {
  *out = NULL;
  struct tv_port_solver *solver = calloc(1, sizeof *solver);
  if (solver == NULL) return TAILVOLT_NO_MEMORY;
  size_t ports = (size_t)network->nonlinear_count + 1, loads = (size_t)load_count + 1;
  solver->z = calloc((size_t)network->width + 1, sizeof(double));
  solver->network = network;
  solver->load_count = load_count;
  solver->load = calloc(loads, sizeof *solver->load);
  solver->v = calloc(ports, sizeof(double));
  solver->base = calloc(ports, sizeof(double));
  solver->jacobian = calloc(loads * loads, sizeof(double));
  solver->residual = calloc(loads, sizeof(double));
  solver->active = calloc(loads, sizeof(int));
  if (!solver->z || !solver->load || !solver->v || !solver->base || !solver->jacobian ||
      !solver->residual || !solver->active) {
    tv_port_solver_free(solver);
    return TAILVOLT_NO_MEMORY;
  }
  solver->s = solver->z;
  solver->set = solver->s + network->linear_count;
  solver->j = solver->set + network->source_count;
  *out = solver;
  return TAILVOLT_OK;
}

void tv_port_solver_free(struct tv_port_solver *solver) {
  if (solver == NULL) return;
  free(solver->load), free(solver->v), free(solver->z), free(solver->base);
  free(solver->jacobian), free(solver->residual), free(solver->active);
  free(solver);
}

/* What the amplifier would draw at the voltages that go with a current, less that current. Port and terminal voltage both
 * fall linearly with current, so one evaluation of the law suffices. */
static double clipped_excess_a(const struct tv_load_law *law, double e_v, double r_ohm, double current_a) {
  double v = e_v - r_ohm * current_a;
  return tv_load_law_clipped_a(law, v, tv_load_law_terminal_v(law, v, current_a)) - current_a;
}

/* The supply clips: the draw falls as the current flowing lowers the voltage, so there is one solution. Secant steps from the last
 * solution, kept between bounds of opposite sign. */
static bool solve_clipped(const struct tv_load_law *law, double e_v, double r_ohm, double *v, double *current_a) {
  double low = 0, high = 0.98 * e_v / r_ohm;
  double f_low = clipped_excess_a(law, e_v, r_ohm, low), f_high = clipped_excess_a(law, e_v, r_ohm, high);
  if (!(f_low > 0) || !(f_high < 0)) return false;
  double a = *current_a > low && *current_a < high ? *current_a : low + 0.1 * (high - low);
  double f = clipped_excess_a(law, e_v, r_ohm, a), last_a = low, last_f = f_low;
  for (int k = 0; k < 200 && fabs(f) > 1e-12 * (1 + a); k++) {
    if (f > 0)
      low = a;
    else
      high = a;
    double next = f != last_f ? a - f * (a - last_a) / (f - last_f) : low;
    if (!(next > low && next < high)) next = 0.5 * (low + high);
    if (next == a) break;
    last_a = a;
    last_f = f;
    a = next;
    f = clipped_excess_a(law, e_v, r_ohm, a);
  }
  *current_a = a;
  *v = e_v - r_ohm * a;
  return true;
}

/* current_a comes in as a guess */
static bool solve_one(const struct tv_load_law *law, double e_v, double r_ohm, double *v, double *current_a) {
  double open_v = e_v - r_ohm * law->constant_a;
  double square = open_v * open_v - 4 * r_ohm * law->power_w;
  if (open_v > 0 && square >= 0) {
    *v = 0.5 * (open_v + sqrt(square));
    double plain_a = law->constant_a + law->power_w / *v;
    if (!law->may_clip ||
        law->drive_w <= tv_amplifier_clip_w(law->amplifier, tv_load_law_terminal_v(law, *v, plain_a))) {
      *current_a = plain_a;
      return *v > 0;
    }
  } else if (!law->may_clip) {
    return false;
  }
  return e_v > 0 && solve_clipped(law, e_v, r_ohm, v, current_a);
}

/* Newton on F_k(v) = v_k - E_k + sum_l U_kl i_l(v_l), from a given start. Returns false where it does not
 * converge. */
static bool newton(struct tv_port_solver *solver, const double *u, int count) {
  int w = solver->network->width;
  for (int round = 0; round < 60; round++) {
    double largest = 0;
    for (int k = 0; k < count; k++) {
      int p = solver->load[solver->active[k]].port;
      solver->residual[k] = solver->v[p] - solver->base[p];
    }
    for (int l = 0; l < count; l++) {
      const struct tv_load_port *load = &solver->load[solver->active[l]];
      double v = solver->v[load->port];
      double current_a = tv_load_law_a(&load->law, v);
      double slope = -load->law.power_w / (v * v);
      if (load->law.may_clip)
        slope = (tv_load_law_a(&load->law, v + 1e-5) - tv_load_law_a(&load->law, v - 1e-5)) / 2e-5;
      for (int k = 0; k < count; k++) {
        double mutual = u[solver->load[solver->active[k]].port * w + load->port];
        solver->residual[k] += mutual * current_a;
        solver->jacobian[k * count + l] = (k == l) + mutual * slope;
      }
    }
    if (!tv_solve(solver->jacobian, solver->residual, count)) return false;
    for (int k = 0; k < count; k++) {
      int p = solver->load[solver->active[k]].port;
      double next_v = solver->v[p] - solver->residual[k];
      if (!(next_v > 0.05) || !isfinite(next_v)) return false;
      /* with sources at limits that nothing takes the open port stands at kilovolts, whose rounding never settles closer */
      largest = fmax(largest, fabs(solver->residual[k]) / fmax(fabs(solver->base[p]) / 1e3, 1));
      solver->v[p] = next_v;
    }
    if (largest < 1e-12) return true;
  }
  return false;
}

/* The operating point is the solution that rises as demand falls: all pivots of the Jacobian positive (with a
 * symmetric impedance matrix, the test for the upper solution). */
static bool is_upper(struct tv_port_solver *solver, const double *u, int count) {
  int w = solver->network->width;
  double *a = solver->jacobian;
  for (int k = 0; k < count; k++)
    for (int l = 0; l < count; l++) {
      const struct tv_load_port *load = &solver->load[solver->active[l]];
      double v = solver->v[load->port];
      a[k * count + l] =
          (k == l) - u[solver->load[solver->active[k]].port * w + load->port] * load->law.power_w / (v * v);
    }
  for (int k = 0; k < count; k++) {
    if (!(a[k * count + k] > 0)) return false;
    for (int i = k + 1; i < count; i++) {
      double factor = a[i * count + k] / a[k * count + k];
      for (int l = k; l < count; l++) a[i * count + l] -= factor * a[k * count + l];
    }
  }
  return true;
}

static int most_demanding(const struct tv_port_solver *solver, const double *u, int count,
                          bool amplifiers_only) {
  int w = solver->network->width, worst = -1;
  double worst_share = 0;
  for (int k = 0; k < count; k++) {
    int index = solver->active[k];
    const struct tv_load_port *load = &solver->load[index];
    if (amplifiers_only && !load->is_amplifier) continue;
    double e = fmax(solver->base[load->port], 1e-3);
    double demand_w = load->law.power_w + load->law.constant_a * e;
    double share = demand_w * u[load->port * w + load->port] / (e * e);
    if (worst < 0 || share > worst_share) {
      worst = index;
      worst_share = share;
    }
  }
  return worst;
}

/* Loads at their ports: base (open) voltages, then their own solve; fills v and j of the active loads. `rows` are the active set's,
 * u their columns for the nonlinear ports' currents. */
static bool solve_loads(struct tv_port_solver *solver, const double *rows) {
  int w = solver->network->width, count = 0;
  double guess_a = 0;
  const double *u = rows + (solver->j - solver->z);
  for (int k = 0; k < solver->load_count; k++) {
    if (!solver->load[k].active) continue;
    solver->active[count++] = k;
    guess_a = -solver->j[solver->load[k].port];
    solver->j[solver->load[k].port] = 0;
  }
  if (count == 0) return true;
  for (int k = 0; k < count; k++) {
    int p = solver->load[solver->active[k]].port;
    solver->base[p] = tv_dot(rows + p * w, solver->z, w);
  }
  bool solved;
  if (count == 1) {
    const struct tv_load_port *load = &solver->load[solver->active[0]];
    double current_a = guess_a;
    solved = solve_one(&load->law, solver->base[load->port], u[load->port * w + load->port],
                       &solver->v[load->port], &current_a);
    if (solved) {
      solver->j[load->port] = -current_a;
      return true;
    }
  } else {
    bool warm = true;
    for (int k = 0; k < count; k++) warm = warm && solver->v[solver->load[solver->active[k]].port] > 1;
    solved = warm && newton(solver, u, count) && is_upper(solver, u, count);
    if (!solved) {
      for (int k = 0; k < count; k++) {
        int p = solver->load[solver->active[k]].port;
        solver->v[p] = fmax(solver->base[p], 0.1);
      }
      solved = newton(solver, u, count);
    }
  }
  if (!solved) {
    solver->collapsed_load = most_demanding(solver, u, count, true);
    if (solver->collapsed_load < 0) solver->collapsed_load = most_demanding(solver, u, count, false);
    return false;
  }
  for (int k = 0; k < count; k++) {
    const struct tv_load_port *load = &solver->load[solver->active[k]];
    double v = solver->v[load->port];
    solver->j[load->port] =
        load->law.may_clip ? -tv_load_law_a(&load->law, v) : -(load->law.constant_a + load->law.power_w / v);
  }
  return true;
}

static double most_a(const struct tv_source_law *law, double v) {
  if (law->kind == TV_SOURCE_CONVERTER) return law->limit_a;
  return tv_alternator_current_a(law->alternator, law->rotor_rpm, v, law->field_high_frac);
}

static double least_a(const struct tv_source_law *law, double v) {
  if (law->kind == TV_SOURCE_CONVERTER || law->field_low_frac <= 0) return 0;
  return tv_alternator_current_a(law->alternator, law->rotor_rpm, v, law->field_low_frac);
}

/* Slope of a clamped source's miss (what its law gives less what it carries) over its current: -1 or steeper. */
static double miss_slope(const struct tv_port_solver *solver, int k, const double *rows) {
  const struct tv_source_law *law = &solver->source[k];
  if (law->kind == TV_SOURCE_CONVERTER || law->has_last) return -1;
  int port = solver->network->source[k].port;
  double own_ohm = rows[port * solver->network->width + (solver->j - solver->z) + port];
  double slope = tv_alternator_slope_a_per_v(law->alternator, law->rotor_rpm, solver->v[port],
                                             law->clamp > 0 ? law->field_high_frac : law->field_low_frac);
  return slope * own_ohm - 1;
}

/* Checks whether source k may stay as it is; moves it if not. True where nothing changed. */
static bool review_source(struct tv_port_solver *solver, int k, const double *rows) {
  struct tv_source_law *law = &solver->source[k];
  const struct tv_source *source = &solver->network->source[k];
  double v = solver->v[source->port], current_a = solver->j[source->port];
  const double slack_a = 1e-9;
  if (law->clamp == 0) {
    double most = most_a(law, v);
    if (current_a > most + slack_a) {
      law->clamp = 1;
      law->has_last = false;
      solver->j[source->port] = most;
      return false;
    }
    double least = least_a(law, v);
    if (current_a < least - slack_a) {
      law->clamp = -1;
      law->has_last = false;
      solver->j[source->port] = least;
      return false;
    }
    return true;
  }
  double wanted_a = law->clamp > 0 ? most_a(law, v) : least_a(law, v);
  double miss_a = wanted_a - current_a;
  if (fabs(miss_a) > slack_a) {
    /* Newton with the network's own response first, then the secant, which includes the loads' response */
    double slope = miss_slope(solver, k, rows);
    if (law->has_last && current_a != law->last_a) {
      double seen = (miss_a - law->last_miss_a) / (current_a - law->last_a);
      if (seen < -0.2) slope = seen;
    }
    law->has_last = true;
    law->last_a = current_a;
    law->last_miss_a = miss_a;
    double next_a = current_a - miss_a / slope;
    solver->j[source->port] = next_a > 0 ? next_a : 0;
    return false;
  }
  double above_v = solver->v[source->sense] - (law->set_v - source->droop_ohm * current_a);
  if (law->clamp > 0 ? above_v > 1e-9 : above_v < -1e-9) {
    law->clamp = 0;
    return false;
  }
  return true;
}

static bool review_converter_input(struct tv_port_solver *solver, int k) {
  const struct tv_source_law *law = &solver->source[k];
  int port = solver->network->source[k].port;
  struct tv_load_port *input = &solver->load[law->input_load];
  double power_w = fmax(solver->v[port] * solver->j[port], 0) / law->efficiency_frac;
  double miss_w = fabs(power_w - input->law.power_w);
  input->law.power_w = power_w;
  return miss_w <= 1e-10 * (1 + power_w);
}

/* All port voltages and the currents of the holding sources, all other currents known. */
static void complete(struct tv_port_solver *solver, const double *rows) {
  const struct tv_network *n = solver->network;
  int m = n->nonlinear_count, w = n->width;
  for (int i = 0; i < m; i++) solver->v[i] = tv_dot(rows + i * w, solver->z, w);
  for (int k = 0; k < n->source_count; k++)
    if (solver->source[k].active && solver->source[k].clamp == 0)
      solver->j[n->source[k].port] = tv_dot(rows + (m + k) * w, solver->z, w);
}

/* Enters set values and currents where the rows expect them; returns the set of holding sources. */
static unsigned enter_sources(struct tv_port_solver *solver, bool first) {
  const struct tv_network *n = solver->network;
  unsigned set = 0;
  for (int k = 0; k < n->source_count; k++) {
    struct tv_source_law *law = &solver->source[k];
    if (first) law->has_last = false;
    bool holds = law->active && law->clamp == 0;
    solver->set[k] = holds ? law->set_v : 0;
    if (holds) set |= 1u << k;
    if (!law->active) solver->j[n->source[k].port] = 0;
  }
  return set;
}

enum tv_port_outcome tv_port_solve(struct tv_port_solver *solver) {
  struct tv_network *n = solver->network;
  int freed_times = 0;
  solver->collapsed_load = -1;
  for (int round = 0; round < 200; round++) {
    const double *rows = tv_network_active_set(n, enter_sources(solver, round == 0))->row;
    if (!solve_loads(solver, rows)) {
      /* a source at its minimum may have more to give */
      bool freed = false;
      for (int k = 0; k < n->source_count; k++)
        if (solver->source[k].active && solver->source[k].clamp < 0) {
          solver->source[k].clamp = 0;
          freed = true;
        }
      /* back and forth between holding, where it gives more than is taken, and its least, which nothing takes */
      if (freed && ++freed_times > 2 * n->source_count) return TV_PORT_UNSETTLED;
      if (freed) continue;
      return TV_PORT_NO_SOLUTION;
    }
    complete(solver, rows);
    bool settled = true;
    for (int k = 0; k < n->source_count; k++) {
      if (!solver->source[k].active) continue;
      settled = review_source(solver, k, rows) && settled;
      if (solver->source[k].kind == TV_SOURCE_CONVERTER) settled = review_converter_input(solver, k) && settled;
    }
    if (settled) return TV_PORT_SOLVED;
  }
  return TV_PORT_UNSETTLED;
}
