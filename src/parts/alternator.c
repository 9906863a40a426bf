#include "parts/alternator.h"

#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* Two label points (n1, I1), (n2, I2) give both constants, with a = (I1/I2)^2:
 *   n0^2 = (1 - a) / (1/n1^2 - a/n2^2),  I_inf = I2 / sqrt(1 - (n0/n2)^2)
 * Machine with diode rectifier into a constant voltage: Caliskan, Perreault, Lang, Kassakian, IEEE Trans. Circuits and
 * Systems I 50(9), 2003 (formula from memory, re-derived). Its output is up to 28 % high near cut-in, hence the straight
 * line below the lower label point. */
enum tailvolt_status tv_alternator_init(const struct tailvolt_alternator *spec,
                                        struct tv_alternator *alternator, char *error) {
  memset(alternator, 0, sizeof *alternator);
  alternator->rated_v = spec->rated_v;
  alternator->fixed_a = spec->fixed_output_a;
  alternator->first_nu = TV_ALTERNATOR_FIRST_NU;
  if (!isnan(spec->fixed_output_a)) return TAILVOLT_OK;
  int last = spec->output_count - 1;
  double n1 = spec->output_rpm[0], i1 = spec->output_a[0];
  double n2 = spec->output_rpm[last < 0 ? 0 : last], i2 = spec->output_a[last < 0 ? 0 : last];
  double a = (i1 / i2) * (i1 / i2);
  if (last < 1 || !(n1 < n2) || !(a < 1) || !(i1 > 0)) {
    if (error != NULL)
      snprintf(error, TAILVOLT_TEXT_MAX,
               "alternator: %.6g A at %.6g rpm and %.6g A at %.6g rpm fit no machine (the current must "
               "rise with the speed)", i1, n1, i2, n2);
    return TAILVOLT_BAD_INPUT;
  }
  double n0 = sqrt((1 - a) / (1 / (n1 * n1) - a / (n2 * n2)));
  alternator->n0_rpm = n0;
  alternator->i_inf_a = i2 / sqrt(1 - (n0 / n2) * (n0 / n2));
  alternator->nu1 = n1 / n0;
  alternator->f1_a = i1;
  /* a lowest point below the formula's first conduction pulls the foot of the line with it */
  alternator->first_nu = fmin(TV_ALTERNATOR_FIRST_NU, 0.9 * alternator->nu1);
  alternator->last_nu = n2 / n0;
  alternator->last_a = i2;
  if (spec->output_count < 3) return TAILVOLT_OK;
  double nu[TAILVOLT_CURVE_MAX], current_a[TAILVOLT_CURVE_MAX];
  for (int k = 0; k <= last; k++) {
    nu[k] = spec->output_rpm[k] / n0;
    current_a[k] = spec->output_a[k];
  }
  size_t points = (size_t)spec->output_count;
  alternator->curve = gsl_spline_alloc(gsl_interp_steffen, points);
  if (alternator->curve == NULL) return TAILVOLT_NO_MEMORY;
  if (gsl_spline_init(alternator->curve, nu, current_a, points) != GSL_SUCCESS)
    return TAILVOLT_INTERNAL;
  return TAILVOLT_OK;
}

void tv_alternator_clear(struct tv_alternator *alternator) {
  if (alternator->curve != NULL) gsl_spline_free(alternator->curve);
  alternator->curve = NULL;
}

/* F(nu) */
static double full_field_a(const struct tv_alternator *a, double nu) {
  if (nu <= a->first_nu) return 0;
  if (nu < a->nu1) return a->f1_a * (nu - a->first_nu) / (a->nu1 - a->first_nu);
  if (a->curve == NULL) return a->i_inf_a * sqrt(1 - 1 / (nu * nu));
  return nu >= a->last_nu ? a->last_a : gsl_spline_eval(a->curve, nu, NULL);
}

double tv_alternator_current_a(const struct tv_alternator *a, double rotor_rpm, double v, double x) {
  if (rotor_rpm <= 0 || x <= 0) return 0;
  if (!isnan(a->fixed_a)) return x * a->fixed_a;
  double ratio = tv_alternator_cut_in_ratio(a, rotor_rpm, v);
  if (ratio <= 0) return x * (a->curve != NULL ? a->last_a : a->i_inf_a);
  return x * full_field_a(a, x / ratio);
}

double tv_alternator_slope_a_per_v(const struct tv_alternator *a, double rotor_rpm, double v,
                                   double x) {
  if (!isnan(a->fixed_a) || rotor_rpm <= 0) return 0;
  double ratio = tv_alternator_cut_in_ratio(a, rotor_rpm, v), nu = x / ratio;
  if (a->curve == NULL && nu > a->nu1) /* I = I_inf sqrt(x^2 - r^2), dr/dV = r / (V + 1.6 V) */
    return -a->i_inf_a * ratio * ratio / ((v + TV_ALTERNATOR_DIODES_V) * sqrt(x * x - ratio * ratio));
  const double dv = 1e-4;
  return (tv_alternator_current_a(a, rotor_rpm, v + dv, x) -
          tv_alternator_current_a(a, rotor_rpm, v - dv, x)) / (2 * dv);
}

double tv_alternator_curve_a(const struct tv_alternator *a, double rotor_rpm, double v, double x) {
  double ratio = tv_alternator_cut_in_ratio(a, rotor_rpm, v);
  double square = x * x - ratio * ratio;
  return square > 0 ? a->i_inf_a * sqrt(square) : 0;
}

/* x F(x / r) = I, r = n0(V)/n; monotone in x, so bisection always ends */
static double field_on_curve(const struct tv_alternator *a, double ratio, double current_a) {
  double low = 0, high = 1;
  while (high * full_field_a(a, high / ratio) < current_a && high < 1e6) high *= 2;
  for (int k = 0; k < 100 && high - low > 1e-13 * high; k++) {
    double middle = 0.5 * (low + high);
    if (middle * full_field_a(a, middle / ratio) < current_a)
      low = middle;
    else
      high = middle;
  }
  return 0.5 * (low + high);
}

double tv_alternator_field_for(const struct tv_alternator *a, double rotor_rpm, double v,
                               double current_a) {
  if (current_a <= 0) return 0;
  if (!isnan(a->fixed_a)) return current_a / a->fixed_a;
  if (rotor_rpm <= 0) return HUGE_VAL;
  double ratio = tv_alternator_cut_in_ratio(a, rotor_rpm, v);
  if (a->curve != NULL) return field_on_curve(a, ratio, current_a);
  if (current_a >= ratio * a->nu1 * a->f1_a) {
    double share = current_a / a->i_inf_a;
    return sqrt(share * share + ratio * ratio);
  }
  /* straight line: x f1 (x/r - nu0)/(nu1 - nu0) = I, a quadratic in x */
  double reach = current_a * (a->nu1 - a->first_nu) / a->f1_a;
  return 0.5 * (a->first_nu * ratio +
                sqrt(a->first_nu * a->first_nu * ratio * ratio + 4 * ratio * reach));
}
