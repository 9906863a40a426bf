/* Combining readings and priors: Gauss-Newton on a nonlinear model with jointly normal priors, in the form that needs no inverse
 * of the prior covariance (values that always move together make it singular). */
#ifndef TV_STUDY_MEASURE_FIT_H
#define TV_STUDY_MEASURE_FIT_H

#include "study/measure_model.h"

/* What is answered (tailvolt_certainty(), filled in: volts judged or amperes of charge) as one more unknown of the beliefs: its
 * covariance `with` [unknowns] each of them, and its variance, both from the effects that the shares of `measure first` come from.
 * Variance 0: nothing moves it, or shares were not found. */
TAILVOLT_CHECKED enum tailvolt_status tv_measure_answer(const struct tv_measure_model *model,
                                                        const struct tailvolt_measure_options *options,
                                                        struct tailvolt_certainty *certainty, gsl_vector *with, double *variance,
                                                        char *error);

/* One linear update. Priors (mean, covariance), readings y = shown + jacobian (x - at) + noise of deviation noise[]:
 *   S = J C J' + R,  K = C J' / S,  x = mean + K (y - shown - J (mean - at)),  C' = C - K J C
 * `x` and `covariance_after` (NULL = not wanted) receive the new ones, `hat` (NULL = not wanted) [count] how far each reading is
 * followed: the diagonal of J K. */
TAILVOLT_CHECKED enum tailvolt_status tv_measure_update(const gsl_vector *mean, const gsl_matrix *covariance, const gsl_vector *at,
                                                        const gsl_matrix *jacobian, const double *misses, const double *noise,
                                                        gsl_vector *x, gsl_matrix *covariance_after, double *hat);

/* The range that nine in ten cars show; a drop (of wires alone) that may be half as large again varies by ratio. */
void tv_measure_normal(double mean, double deviation, bool drop, double *low, double *high);

/* How far the readings are from what was believed of the car, by the linear model at its mean: chi-square with as many degrees of
 * freedom as there are readings; NAN where it cannot be told. */
TAILVOLT_CHECKED enum tailvolt_status tv_measure_surprise(const struct tv_measure_model *model, const gsl_matrix *jacobian,
                                                          const double *misses, const double *noise, double *surprise);

struct tv_measure_fit {
  gsl_vector *x;               /* as estimated */
  gsl_matrix *covariance;
  double *shown;               /* [count] from the estimated car */
  double chi_square, freedom;
};

/* Fits; `fit` is freed by tv_measure_fit_free() whatever the status. `at_mean` [count x unknowns] are the derivatives at the mean. */
TAILVOLT_CHECKED enum tailvolt_status tv_measure_fit_make(const struct tv_measure_model *model,
                                                          const struct tailvolt_probe *probes, const double *values, int count,
                                                          const gsl_matrix *at_mean, struct tv_measure_fit *fit, char *error);
void tv_measure_fit_free(struct tv_measure_fit *fit);

#endif
