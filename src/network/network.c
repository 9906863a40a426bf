#include "network/network.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "numeric/matrix.h"

static double *numbers(int rows, int columns) {
  size_t count = (size_t)rows * (size_t)columns;
  return calloc(count > 0 ? count : 1, sizeof(double));
}

static size_t at_least_one(int count) { return count > 0 ? (size_t)count : 1; }

static bool allocate_results(struct tv_network *n) {
  int ports = n->linear_count + n->nonlinear_count;
  int l = n->linear_count;
  n->x = numbers(n->node_count, ports);
  n->z = numbers(ports, ports);
  n->scratch = numbers(2, ports + n->node_count + TV_SOURCES_MAX);
  n->nodal = tv_matrix_new(at_least_one(n->node_count - 1), at_least_one(n->node_count - 1));
  n->correction = tv_matrix_new(at_least_one(l), at_least_one(l));
  n->inverse = tv_matrix_new(at_least_one(l), at_least_one(l));
  n->column = tv_vector_new(at_least_one(n->node_count - 1));
  return n->x && n->z && n->scratch && n->nodal && n->correction && n->inverse && n->column;
}

enum tailvolt_status tv_network_fix(struct tv_network *n) {
  n->width = n->linear_count + n->source_count + n->nonlinear_count;
  n->row = numbers(n->linear_count + n->watch_count, n->width);
  n->port_row = numbers(n->nonlinear_count, n->width);
  if (n->row == NULL || n->port_row == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < 1 << n->source_count; k++) {
    n->active_set[k].row = numbers(n->nonlinear_count + n->source_count, n->width);
    if (n->active_set[k].row == NULL) return TAILVOLT_NO_MEMORY;
  }
  return TAILVOLT_OK;
}

enum tailvolt_status tv_network_create(int node_count, int branch_count, int linear_count,
                                       int nonlinear_count, int watch_count,
                                       struct tv_network **out) {
  *out = NULL;
  struct tv_network *n = calloc(1, sizeof *n);
  if (n == NULL) return TAILVOLT_NO_MEMORY;
  n->node_count = node_count;
  n->branch_count = branch_count;
  n->linear_count = linear_count;
  n->nonlinear_count = nonlinear_count;
  n->watch_count = watch_count;
  n->branch = calloc(at_least_one(branch_count), sizeof *n->branch);
  n->port = calloc(at_least_one(linear_count + nonlinear_count), sizeof *n->port);
  n->watch = calloc(at_least_one(watch_count), sizeof *n->watch);
  n->reference_s = numbers(1, linear_count);
  n->conductance_s = numbers(1, linear_count);
  if (!n->branch || !n->port || !n->watch || !n->reference_s || !n->conductance_s ||
      !allocate_results(n)) {
    tv_network_free(n);
    return TAILVOLT_NO_MEMORY;
  }
  *out = n;
  return TAILVOLT_OK;
}

void tv_network_free(struct tv_network *n) {
  if (n == NULL) return;
  for (int k = 0; k < 1 << TV_SOURCES_MAX; k++) free(n->active_set[k].row);
  free(n->branch), free(n->port), free(n->watch), free(n->reference_s), free(n->conductance_s);
  free(n->x), free(n->z), free(n->row), free(n->port_row);
  free(n->scratch);
  gsl_matrix_free(n->nodal);
  gsl_matrix_free(n->correction);
  gsl_matrix_free(n->inverse);
  gsl_vector_free(n->column);
  free(n);
}

/* Point 0 is ground and has no row. */
static void stamp(gsl_matrix *nodal, int from, int to, double siemens) {
  size_t f = (size_t)(from - 1), t = (size_t)(to - 1);
  if (from > 0) *gsl_matrix_ptr(nodal, f, f) += siemens;
  if (to > 0) *gsl_matrix_ptr(nodal, t, t) += siemens;
  if (from > 0 && to > 0) {
    *gsl_matrix_ptr(nodal, f, t) -= siemens;
    *gsl_matrix_ptr(nodal, t, f) -= siemens;
  }
}

static double across(const double *x, int ports, int from, int to, int port) {
  double v = 0;
  if (from > 0) v += x[from * ports + port];
  if (to > 0) v -= x[to * ports + port];
  return v;
}

enum tailvolt_status tv_network_reduce_wiring(struct tv_network *n) {
  int ports = n->linear_count + n->nonlinear_count;
  n->wiring_reductions++;
  if (n->node_count > 1) {
    gsl_matrix_set_zero(n->nodal);
    for (int k = 0; k < n->branch_count; k++)
      stamp(n->nodal, n->branch[k].from, n->branch[k].to, 1 / n->branch[k].ohm);
    for (int k = 0; k < n->linear_count; k++)
      stamp(n->nodal, n->port[k].positive, n->port[k].negative, n->reference_s[k]);
    if (!tv_cholesky(n->nodal)) return TAILVOLT_SINGULAR;
  }
  for (int j = 0; j < ports; j++) {
    int plus = n->port[j].positive, minus = n->port[j].negative;
    gsl_vector_set_zero(n->column);
    if (plus > 0) *gsl_vector_ptr(n->column, (size_t)(plus - 1)) += 1;
    if (minus > 0) *gsl_vector_ptr(n->column, (size_t)(minus - 1)) -= 1;
    if (n->node_count > 1) gsl_linalg_cholesky_svx(n->nodal, n->column);
    for (int i = 1; i < n->node_count; i++)
      n->x[i * ports + j] = gsl_vector_get(n->column, (size_t)(i - 1));
  }
  for (int i = 0; i < ports; i++)
    for (int j = 0; j < ports; j++) {
      double v = across(n->x, ports, n->port[i].positive, n->port[i].negative, j);
      if (!isfinite(v)) return TAILVOLT_SINGULAR;
      n->z[i * ports + j] = v;
    }
  return TAILVOLT_OK;
}

/* Reductions run in the time loop: a call for each entry would cost more than the sums. */
static inline double *entry(const gsl_matrix *m, size_t i, size_t j) { return m->data + i * m->tda + j; }

static void swap_rows(gsl_matrix *a, size_t one, size_t other, size_t count) {
  for (size_t j = 0; j < count; j++) {
    double kept = *entry(a, one, j);
    *entry(a, one, j) = *entry(a, other, j);
    *entry(a, other, j) = kept;
  }
}

/* row <- row - factor * from, in both matrices */
static void take_off(gsl_matrix *a, gsl_matrix *b, size_t row, double factor, size_t from, size_t count) {
  for (size_t j = 0; j < count; j++) {
    *entry(a, row, j) -= factor * *entry(a, from, j);
    *entry(b, row, j) -= factor * *entry(b, from, j);
  }
}

/* inverse <- a^-1 by Gauss-Jordan elimination with partial pivoting; a is used up. It runs in the time loop, and the
 * library's own elimination would allocate its pivots. */
static bool invert_in_place(gsl_matrix *a, gsl_matrix *inverse, size_t count) {
  gsl_matrix_set_identity(inverse);
  for (size_t k = 0; k < count; k++) {
    size_t pivot = k;
    for (size_t i = k + 1; i < count; i++)
      if (fabs(*entry(a, i, k)) > fabs(*entry(a, pivot, k))) pivot = i;
    double largest = *entry(a, pivot, k);
    if (largest == 0.0 || !isfinite(largest)) return false;
    if (pivot != k) swap_rows(a, k, pivot, count), swap_rows(inverse, k, pivot, count);
    for (size_t j = 0; j < count; j++) {
      *entry(a, k, j) /= largest;
      *entry(inverse, k, j) /= largest;
    }
    for (size_t i = 0; i < count; i++)
      if (i != k) take_off(a, inverse, i, *entry(a, i, k), k, count);
  }
  return true;
}

/* inverse <- M^-1, M = 1 - Z_LL diag(g_ref - g) */
static enum tailvolt_status invert_correction(struct tv_network *n, const double *conductance_s) {
  int ports = n->linear_count + n->nonlinear_count, l = n->linear_count;
  if (l == 0) return TAILVOLT_OK;
  for (int i = 0; i < l; i++)
    for (int j = 0; j < l; j++)
      *entry(n->correction, (size_t)i, (size_t)j) = (i == j) - n->z[i * ports + j] * (n->reference_s[j] - conductance_s[j]);
  return invert_in_place(n->correction, n->inverse, (size_t)l) ? TAILVOLT_OK : TAILVOLT_SINGULAR;
}

/* A row over the injections of all ports -> a row over z: the linear ports' injections are s + (g_ref - g) v_linear. */
static void eliminate(const struct tv_network *n, const double *injected, double *row) {
  int l = n->linear_count, m = n->nonlinear_count, sources = n->source_count, w = n->width;
  for (int j = 0; j < l; j++) row[j] = injected[j];
  for (int j = 0; j < sources; j++) row[l + j] = 0;
  for (int j = 0; j < m; j++) row[l + sources + j] = injected[l + j];
  for (int k = 0; k < l; k++) {
    double factor = injected[k] * (n->reference_s[k] - n->conductance_s[k]);
    for (int j = 0; factor != 0 && j < w; j++) row[j] += factor * n->row[k * w + j];
  }
}

enum tailvolt_status tv_network_reduce_ports(struct tv_network *n) {
  int l = n->linear_count, m = n->nonlinear_count, ports = l + m, w = n->width;
  n->port_reductions++;
  enum tailvolt_status status = invert_correction(n, n->conductance_s);
  if (status != TAILVOLT_OK) return status;
  for (int i = 0; i < l; i++) {
    double *row = n->row + i * w;
    for (int j = 0; j < w; j++) row[j] = 0;
    const double *inverse = l > 0 ? entry(n->inverse, (size_t)i, 0) : NULL;
    for (int j = 0; j < ports; j++) {
      double sum = 0;
      for (int k = 0; k < l; k++) sum += inverse[k] * n->z[k * ports + j];
      row[j < l ? j : j + n->source_count] = sum;
    }
  }
  for (int i = 0; i < m; i++) eliminate(n, n->z + (l + i) * ports, n->port_row + i * w);
  for (int i = 0; i < n->watch_count; i++) {
    const struct tv_watch *watch = &n->watch[i];
    for (int j = 0; j < ports; j++) n->scratch[j] = across(n->x, ports, watch->from, watch->to, j) / watch->ohm;
    eliminate(n, n->scratch, n->row + (l + i) * w);
  }
  for (int k = 0; k < 1 << n->source_count; k++) n->active_set[k].valid = false;
  return TAILVOLT_OK;
}

static void substitute(double *row, const double *current, int column, int width) {
  double factor = row[column];
  if (factor == 0) return;
  for (int j = 0; j < width; j++) row[j] += factor * current[j];
  row[column] = 0;
}

/* Eliminates source k from the unknowns: v_sense = set - droop j gives its current as a row, which then replaces it
 * everywhere. */
static void hold(const struct tv_network *n, struct tv_active_set *active, int k) {
  int m = n->nonlinear_count, w = n->width;
  const struct tv_source *source = &n->source[k];
  int column = n->linear_count + n->source_count + source->port;
  const double *sense = active->row + source->sense * w;
  double *current = active->row + (m + k) * w, own = sense[column] + source->droop_ohm;
  for (int j = 0; j < w; j++) current[j] = -sense[j] / own;
  current[n->linear_count + k] += 1 / own;
  current[column] = 0;
  for (int i = 0; i < m + n->source_count; i++)
    if (i != m + k) substitute(active->row + i * w, current, column, w);
}

void tv_network_make_active_set(struct tv_network *n, unsigned set) {
  struct tv_active_set *active = &n->active_set[set];
  size_t width = (size_t)n->width, m = (size_t)n->nonlinear_count;
  memcpy(active->row, n->port_row, m * width * sizeof(double));
  memset(active->row + m * width, 0, (size_t)n->source_count * width * sizeof(double));
  for (int k = 0; k < n->source_count; k++)
    if (set & 1u << k) hold(n, active, k);
  active->valid = true;
}

enum tailvolt_status tv_network_shortest_s(struct tv_network *n, const double *farad,
                                           const double *esr_ohm, double *shortest_s) {
  int l = n->linear_count, ports = l + n->nonlinear_count;
  size_t count = 0;
  *shortest_s = INFINITY;
  double *open_s = n->scratch;
  for (int k = 0; k < l; k++) {
    open_s[k] = farad[k] > 0 ? 0 : n->conductance_s[k];
    count += farad[k] > 0;
  }
  if (count == 0) return TAILVOLT_OK;
  enum tailvolt_status status = invert_correction(n, open_s);
  if (status != TAILVOLT_OK) return status;
  gsl_matrix *tau = tv_matrix_new(count, count);
  gsl_vector *values = tv_vector_new(count);
  if (tau == NULL || values == NULL) {
    status = TAILVOLT_NO_MEMORY;
    goto done;
  }
  size_t row = 0;
  for (int i = 0; i < l; i++) {
    if (farad[i] <= 0) continue;
    size_t column = 0;
    for (int j = 0; j < l; j++) {
      if (farad[j] <= 0) continue;
      double sum = i == j ? esr_ohm[i] : 0;
      for (int k = 0; k < l; k++)
        sum += gsl_matrix_get(n->inverse, (size_t)i, (size_t)k) * n->z[k * ports + j];
      gsl_matrix_set(tau, row, column++, sum * sqrt(farad[i] * farad[j]));
    }
    row++;
  }
  if (tv_eigen(tau, values, NULL)) *shortest_s = fmax(gsl_vector_min(values), 0);
  else status = TAILVOLT_NO_MEMORY;
done:
  gsl_matrix_free(tau);
  gsl_vector_free(values);
  return status;
}
