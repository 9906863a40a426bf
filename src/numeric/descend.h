/* Least squares of a function that is not linear: Levenberg and Marquardt's method, damped by Nielsen's rule (Madsen, Nielsen, Tingleff,
 * Methods for Non-Linear Least Squares Problems, 2004, algorithm 3.16), each unknown scaled by the largest norm that its column of the
 * Jacobian has had (More, 1978). GSL has the method, but calls its error handler where its workspace finds no memory. */
#ifndef TV_NUMERIC_DESCEND_H
#define TV_NUMERIC_DESCEND_H

#include <gsl/gsl_matrix.h>
#include <gsl/gsl_vector.h>
#include <stdbool.h>

struct tv_descent {
  /* f [size] and J [size x unknowns] at x [unknowns]; false: not there, the descent ends. J is asked for where f was last, or where
   * the descent stands. */
  bool (*residuals)(const gsl_vector *x, void *context, gsl_vector *f);
  bool (*slopes)(const gsl_vector *x, void *context, gsl_matrix *jacobian);
  void *context;
  size_t size, unknowns;
  int steps;        /* at most */
  double near_frac; /* arrived where a step moves no unknown by more than this share of itself (and its square) */
  double slope;     /* or where the gradient times the unknown (at least 1) is below this share of half the sum of squares (at least 1) */
};

enum tv_descent_end {
  TV_ARRIVED,
  TV_NO_LOWER,   /* sixteen dampings in a row found nothing lower: arrived as far as the function is smooth */
  TV_OUT_OF_STEPS,
  TV_NOT_THERE,  /* residuals() or slopes() said no */
  TV_NO_ROOM     /* no memory */
};

/* Moves x [unknowns] to a minimum of |f|^2; x is where the descent stood last, whatever the end. */
enum tv_descent_end tv_descend(const struct tv_descent *d, gsl_vector *x);

#endif
