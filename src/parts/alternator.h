/* The alternator: a claw-pole machine with a rectifier into a constant voltage, its field a state x from 0 to 1.
 *
 * Law:  I(n, V, x) = x F(nu),  nu = n x / n0(V),  n0(V) = n0 (V + 1.6 V) / (rated voltage + 1.6 V)
 *       F(nu) = I_inf sqrt(1 - 1/nu^2) for nu >= nu1 (the lower label point), below it a straight line to zero at
 *       nu = 0.70; with three or more label points a monotone curve through them, flat beyond the last.
 * Speeds are of the rotor. */
#ifndef TV_PARTS_ALTERNATOR_H
#define TV_PARTS_ALTERNATOR_H

#include <gsl/gsl_spline.h>
#include <stdbool.h>

#include "tailvolt/system.h"

/* two silicon diodes in series with the output */
#define TV_ALTERNATOR_DIODES_V 1.6
/* the machine first conducts at this share of the cut-in speed of the formula */
#define TV_ALTERNATOR_FIRST_NU 0.70

struct tv_alternator {
  double n0_rpm, i_inf_a;      /* of the two-point form */
  double nu1, f1_a;            /* lower label point */
  double first_nu;
  double rated_v;
  double fixed_a;              /* NAN = the machine law */
  gsl_spline *curve;           /* three or more points: F over nu; NULL otherwise */
  double last_nu, last_a;
};

/* Solves the law's constants from the label. TAILVOLT_BAD_INPUT with `error` filled where the points fit no machine. */
TAILVOLT_CHECKED enum tailvolt_status tv_alternator_init(const struct tailvolt_alternator *spec,
                                                         struct tv_alternator *alternator,
                                                         char *error);
void tv_alternator_clear(struct tv_alternator *alternator);

/* n0(V) over the rotor speed; INFINITY at standstill */
static inline double tv_alternator_cut_in_ratio(const struct tv_alternator *a, double rotor_rpm,
                                                double v) {
  return a->n0_rpm * (v + TV_ALTERNATOR_DIODES_V) /
         ((a->rated_v + TV_ALTERNATOR_DIODES_V) * rotor_rpm);
}

/* Output current at rotor speed, own voltage and field; never negative. */
double tv_alternator_current_a(const struct tv_alternator *alternator, double rotor_rpm, double v,
                               double x);
/* Its derivative over the voltage, A/V (0 or negative). */
double tv_alternator_slope_a_per_v(const struct tv_alternator *alternator, double rotor_rpm,
                                   double v, double x);
/* The field that gives a current; above 1 where the machine cannot. */
double tv_alternator_field_for(const struct tv_alternator *alternator, double rotor_rpm, double v,
                               double current_a);
/* The bare two-point function I_inf sqrt(x^2 - (n0(V)/n)^2), 0 below cut-in. */
double tv_alternator_curve_a(const struct tv_alternator *alternator, double rotor_rpm, double v,
                             double x);

#endif
