#include "numeric/descend.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <math.h>

#include "numeric/matrix.h"

enum { REJECTED_MAX = 15 };

struct place {
  const struct tv_descent *how;
  gsl_vector *x;
  gsl_vector *f, *f_trial, *x_trial, *step, *gradient, *scale;
  gsl_matrix *jacobian, *normal, *damped;
  double damping, growth;
};

static bool make(struct place *p) {
  size_t n = p->how->unknowns, m = p->how->size;
  p->f = tv_vector_new(m);
  p->f_trial = tv_vector_new(m);
  p->x_trial = tv_vector_new(n);
  p->step = tv_vector_new(n);
  p->gradient = tv_vector_new(n);
  p->scale = tv_vector_new(n);
  p->jacobian = tv_matrix_new(m, n);
  p->normal = tv_matrix_new(n, n);
  p->damped = tv_matrix_new(n, n);
  return p->f && p->f_trial && p->x_trial && p->step && p->gradient && p->scale && p->jacobian && p->normal && p->damped;
}

static void take_apart(struct place *p) {
  gsl_vector *vectors[] = {p->f, p->f_trial, p->x_trial, p->step, p->gradient, p->scale};
  gsl_matrix *matrices[] = {p->jacobian, p->normal, p->damped};
  for (size_t k = 0; k < sizeof vectors / sizeof *vectors; k++) gsl_vector_free(vectors[k]);
  for (size_t k = 0; k < sizeof matrices / sizeof *matrices; k++) gsl_matrix_free(matrices[k]);
}

/* J, J'J, J'f and the scale, where x stands. */
static bool look_around(struct place *p) {
  if (!p->how->slopes(p->x, p->how->context, p->jacobian)) return false;
  gsl_blas_dgemm(CblasTrans, CblasNoTrans, 1, p->jacobian, p->jacobian, 0, p->normal);
  gsl_blas_dgemv(CblasTrans, 1, p->jacobian, p->f, 0, p->gradient);
  for (size_t k = 0; k < p->how->unknowns; k++) {
    double norm = sqrt(gsl_matrix_get(p->normal, k, k)), before = gsl_vector_get(p->scale, k);
    gsl_vector_set(p->scale, k, before > 0 ? fmax(before, norm) : norm > 0 ? norm : 1);
  }
  return true;
}

/* (J'J + damping D^2) step = -J'f; returns what the model says that it takes off |f|^2. Not above zero: no step. */
static double propose(struct place *p) {
  gsl_matrix_memcpy(p->damped, p->normal);
  gsl_vector_memcpy(p->step, p->gradient);
  gsl_vector_scale(p->step, -1);
  for (size_t k = 0; k < p->how->unknowns; k++) {
    double d = gsl_vector_get(p->scale, k);
    gsl_matrix_set(p->damped, k, k, gsl_matrix_get(p->damped, k, k) + p->damping * d * d);
  }
  if (!tv_cholesky(p->damped)) return 0;
  gsl_linalg_cholesky_svx(p->damped, p->step);
  double taken = 0;
  for (size_t k = 0; k < p->how->unknowns; k++) {
    double d = gsl_vector_get(p->scale, k), step = gsl_vector_get(p->step, k);
    taken += step * (p->damping * d * d * step - gsl_vector_get(p->gradient, k));
  }
  return taken;
}

static double square(const gsl_vector *f) {
  double sum = 0;
  gsl_blas_ddot(f, f, &sum);
  return sum;
}

/* Tries dampings until one leads down. */
static enum tv_descent_end step_down(struct place *p) {
  for (int rejected = 0; rejected <= REJECTED_MAX; rejected++) {
    double promised = propose(p), before = square(p->f);
    gsl_vector_memcpy(p->x_trial, p->x);
    gsl_vector_add(p->x_trial, p->step);
    double kept = 0; /* of the promise */
    if (promised > 0) {
      if (!p->how->residuals(p->x_trial, p->how->context, p->f_trial)) return TV_NOT_THERE;
      kept = (before - square(p->f_trial)) / promised;
    }
    if (kept > 0) {
      gsl_vector_memcpy(p->x, p->x_trial);
      gsl_vector_memcpy(p->f, p->f_trial);
      double bend = 2 * kept - 1;
      p->damping *= fmax(1.0 / 3, 1 - bend * bend * bend);
      p->growth = 2;
      return look_around(p) ? TV_ARRIVED : TV_NOT_THERE;
    }
    p->damping *= p->growth;
    p->growth *= 2;
  }
  return TV_NO_LOWER;
}

static bool arrived(const struct place *p) {
  double near_frac = p->how->near_frac, steepest = 0;
  bool near = true;
  for (size_t k = 0; k < p->how->unknowns; k++) {
    double x = gsl_vector_get(p->x, k);
    near = near && fabs(gsl_vector_get(p->step, k)) < near_frac * near_frac + near_frac * fabs(x);
    steepest = fmax(steepest, fabs(fmax(x, 1) * gsl_vector_get(p->gradient, k)));
  }
  return near || steepest <= p->how->slope * fmax(0.5 * square(p->f), 1);
}

static enum tv_descent_end descend(struct place *p) {
  if (!p->how->residuals(p->x, p->how->context, p->f) || !look_around(p)) return TV_NOT_THERE;
  p->damping = 1e-3; /* times D^2, which is the diagonal of J'J here */
  p->growth = 2;
  for (int k = 0; k < p->how->steps; k++) {
    enum tv_descent_end end = step_down(p);
    if (end != TV_ARRIVED || arrived(p)) return end;
  }
  return TV_OUT_OF_STEPS;
}

enum tv_descent_end tv_descend(const struct tv_descent *how, gsl_vector *x) {
  struct place place = {.how = how, .x = x};
  enum tv_descent_end end = make(&place) ? descend(&place) : TV_NO_ROOM;
  take_apart(&place);
  return end;
}
