#include "numeric/probability.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

/* The library's own inversion ends in its error handler where it does not converge: tests/numeric tries 1 to a million. */
double tv_student_95(double freedom) {
  return gsl_cdf_tdist_Pinv(0.975, fmin(fmax(freedom, 1), 1e6));
}

double tv_chi_square_above(double x, double freedom) {
  if (!(freedom > 0) || !(freedom <= 1e6) || isnan(x)) return (double)NAN;
  if (x > 20 * freedom + 2000) return 0; /* less than any double, and far outside what the series are made for */
  return gsl_cdf_chisq_Q(fmax(x, 0), freedom);
}
