#include "network/network.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_eigen.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static double *numbers(int rows, int columns) {
  size_t count = (size_t)rows * (size_t)columns;
  return calloc(count > 0 ? count : 1, sizeof(double));
}

static size_t at_least_one(int count) { return count > 0 ? (size_t)count : 1; }

static bool allocate_results(struct tv_network *n) {
  int ports = n->linear_count + n->nonlinear_count;
  int l = n->linear_count, m = n->nonlinear_count;
  n->x = numbers(n->node_count, ports);
  n->z = numbers(ports, ports);
  n->p = numbers(l, l);
  n->q = numbers(l, m);
  n->t = numbers(m, l);
  n->u = numbers(m, m);
  n->a = numbers(n->watch_count, l);
  n->b = numbers(n->watch_count, m);
  n->scratch = numbers(1, ports + n->node_count + TV_SOURCES_MAX);
  n->nodal = gsl_matrix_calloc(at_least_one(n->node_count - 1), at_least_one(n->node_count - 1));
  n->lu = gsl_matrix_calloc(at_least_one(l), at_least_one(l));
  n->inverse = gsl_matrix_calloc(at_least_one(l), at_least_one(l));
  n->column = gsl_vector_calloc(at_least_one(n->node_count - 1));
  n->permutation = gsl_permutation_calloc(at_least_one(l));
  return n->x && n->z && n->p && n->q && n->t && n->u && n->a && n->b && n->scratch && n->nodal &&
         n->lu && n->inverse && n->column && n->permutation;
}

static bool allocate_modes(struct tv_network *n) {
  int l = n->linear_count, m = n->nonlinear_count;
  for (int k = 0; k < 1 << TV_SOURCES_MAX; k++) {
    struct tv_mode *mode = &n->mode[k];
    mode->t = numbers(m, l);
    mode->h = numbers(m, TV_SOURCES_MAX);
    mode->u = numbers(m, m);
    mode->c = numbers(TV_SOURCES_MAX, l);
    mode->d = numbers(TV_SOURCES_MAX, TV_SOURCES_MAX);
    mode->e = numbers(TV_SOURCES_MAX, m);
    if (!mode->t || !mode->h || !mode->u || !mode->c || !mode->d || !mode->e) return false;
  }
  return true;
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
      !allocate_results(n) || !allocate_modes(n)) {
    tv_network_free(n);
    return TAILVOLT_NO_MEMORY;
  }
  *out = n;
  return TAILVOLT_OK;
}

void tv_network_free(struct tv_network *n) {
  if (n == NULL) return;
  for (int k = 0; k < 1 << TV_SOURCES_MAX; k++) {
    struct tv_mode *mode = &n->mode[k];
    free(mode->t), free(mode->h), free(mode->u), free(mode->c), free(mode->d), free(mode->e);
  }
  free(n->branch), free(n->port), free(n->watch), free(n->reference_s), free(n->conductance_s);
  free(n->x), free(n->z), free(n->p), free(n->q), free(n->t), free(n->u), free(n->a), free(n->b);
  free(n->scratch);
  if (n->nodal) gsl_matrix_free(n->nodal);
  if (n->lu) gsl_matrix_free(n->lu);
  if (n->inverse) gsl_matrix_free(n->inverse);
  if (n->column) gsl_vector_free(n->column);
  if (n->permutation) gsl_permutation_free(n->permutation);
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
    if (gsl_linalg_cholesky_decomp1(n->nodal) != GSL_SUCCESS) return TAILVOLT_SINGULAR;
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

/* inverse <- M^-1, M = 1 - Z_LL diag(g_ref - g) */
static enum tailvolt_status invert_correction(struct tv_network *n, const double *conductance_s) {
  int ports = n->linear_count + n->nonlinear_count, l = n->linear_count;
  if (l == 0) return TAILVOLT_OK;
  for (int i = 0; i < l; i++)
    for (int j = 0; j < l; j++)
      gsl_matrix_set(n->lu, (size_t)i, (size_t)j,
                     (i == j) - n->z[i * ports + j] * (n->reference_s[j] - conductance_s[j]));
  int sign;
  if (gsl_linalg_LU_decomp(n->lu, n->permutation, &sign) != GSL_SUCCESS) return TAILVOLT_SINGULAR;
  for (int i = 0; i < l; i++)
    if (gsl_matrix_get(n->lu, (size_t)i, (size_t)i) == 0.0) return TAILVOLT_SINGULAR;
  if (gsl_linalg_LU_invert(n->lu, n->permutation, n->inverse) != GSL_SUCCESS)
    return TAILVOLT_SINGULAR;
  return TAILVOLT_OK;
}

/* rows of `left` (count x ports, response to injections) -> response to s and j of the nonlinear ports */
static void eliminate(const struct tv_network *n, int count, const double *left, double *to_s,
                      double *to_j) {
  int l = n->linear_count, m = n->nonlinear_count, ports = l + m;
  for (int i = 0; i < count; i++) {
    const double *row = left + i * ports;
    for (int j = 0; j < l; j++) {
      double sum = row[j];
      for (int k = 0; k < l; k++)
        sum += row[k] * (n->reference_s[k] - n->conductance_s[k]) * n->p[k * l + j];
      to_s[i * l + j] = sum;
    }
    for (int j = 0; j < m; j++) {
      double sum = row[l + j];
      for (int k = 0; k < l; k++)
        sum += row[k] * (n->reference_s[k] - n->conductance_s[k]) * n->q[k * m + j];
      to_j[i * m + j] = sum;
    }
  }
}

enum tailvolt_status tv_network_reduce_ports(struct tv_network *n) {
  int l = n->linear_count, m = n->nonlinear_count, ports = l + m;
  n->port_reductions++;
  enum tailvolt_status status = invert_correction(n, n->conductance_s);
  if (status != TAILVOLT_OK) return status;
  for (int i = 0; i < l; i++)
    for (int j = 0; j < ports; j++) {
      double sum = 0;
      for (int k = 0; k < l; k++)
        sum += gsl_matrix_get(n->inverse, (size_t)i, (size_t)k) * n->z[k * ports + j];
      if (j < l)
        n->p[i * l + j] = sum;
      else
        n->q[i * m + j - l] = sum;
    }
  eliminate(n, m, n->z + (size_t)l * (size_t)ports, n->t, n->u);
  for (int i = 0; i < n->watch_count; i++) {
    const struct tv_watch *w = &n->watch[i];
    double *row = n->scratch;
    for (int j = 0; j < ports; j++) row[j] = across(n->x, ports, w->from, w->to, j) / w->ohm;
    eliminate(n, 1, row, n->a + i * l, n->b + i * m);
  }
  for (int k = 0; k < 1 << n->source_count; k++) n->mode[k].valid = false;
  return TAILVOLT_OK;
}

/* Takes source k out of the unknowns: its current follows from the voltage it holds. */
static void hold(const struct tv_network *n, struct tv_mode *mode, int k) {
  int l = n->linear_count, m = n->nonlinear_count, sources = TV_SOURCES_MAX;
  const struct tv_source *source = &n->source[k];
  int a = source->port, s = source->sense;
  double own = mode->u[s * m + a] + source->droop_ohm;
  double *c = mode->c + k * l, *d = mode->d + k * sources, *e = mode->e + k * m;
  for (int j = 0; j < l; j++) c[j] = -mode->t[s * l + j] / own;
  for (int j = 0; j < sources; j++) d[j] = ((j == k) - mode->h[s * sources + j]) / own;
  for (int j = 0; j < m; j++) e[j] = j == a ? 0 : -mode->u[s * m + j] / own;
  for (int i = 0; i < m; i++) {
    double u = mode->u[i * m + a];
    for (int j = 0; j < l; j++) mode->t[i * l + j] += u * c[j];
    for (int j = 0; j < sources; j++) mode->h[i * sources + j] += u * d[j];
    for (int j = 0; j < m; j++) mode->u[i * m + j] = j == a ? 0 : mode->u[i * m + j] + u * e[j];
  }
  /* sources held before this one no longer see its current as free */
  for (int b = 0; b < k; b++) {
    double share = mode->e[b * m + a];
    if (share == 0) continue;
    for (int j = 0; j < l; j++) mode->c[b * l + j] += share * c[j];
    for (int j = 0; j < sources; j++) mode->d[b * sources + j] += share * d[j];
    for (int j = 0; j < m; j++)
      mode->e[b * m + j] = j == a ? 0 : mode->e[b * m + j] + share * e[j];
  }
}

const struct tv_mode *tv_network_mode(struct tv_network *n, unsigned set) {
  struct tv_mode *mode = &n->mode[set];
  if (mode->valid) return mode;
  size_t l = (size_t)n->linear_count, m = (size_t)n->nonlinear_count;
  memcpy(mode->t, n->t, m * l * sizeof(double));
  memcpy(mode->u, n->u, m * m * sizeof(double));
  memset(mode->h, 0, m * TV_SOURCES_MAX * sizeof(double));
  memset(mode->c, 0, TV_SOURCES_MAX * l * sizeof(double));
  memset(mode->d, 0, TV_SOURCES_MAX * TV_SOURCES_MAX * sizeof(double));
  memset(mode->e, 0, TV_SOURCES_MAX * m * sizeof(double));
  for (int k = 0; k < n->source_count; k++)
    if (set & 1u << k) hold(n, mode, k);
  mode->valid = true;
  return mode;
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
  gsl_matrix *tau = gsl_matrix_alloc(count, count);
  gsl_vector *values = gsl_vector_alloc(count);
  gsl_eigen_symm_workspace *work = gsl_eigen_symm_alloc(count);
  if (tau == NULL || values == NULL || work == NULL) {
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
  gsl_eigen_symm(tau, values, work);
  *shortest_s = fmax(gsl_vector_min(values), 0);
done:
  if (tau) gsl_matrix_free(tau);
  if (values) gsl_vector_free(values);
  if (work) gsl_eigen_symm_free(work);
  return status;
}
