/* The alternator: a claw-pole machine with a rectifier feeding a constant voltage; its field fraction x, 0 to 1, is a
 * state.
 *
 * Law:  I(n, V, x) = x F(nu),  nu = n x / n0(V),  n0(V) = n0 (V + 1.6 V) / (rated voltage + 1.6 V)
 *       F(nu) = I_inf sqrt(1 - 1/nu^2) for nu >= nu1 (the lower label point), below it a straight line to zero at
 *       nu = 0.70. With three or more label points F^2 is a monotone curve over 1/nu^2, where the law is a straight
 *       line (a point that lies on the law changes nothing), and flat beyond the last.
 * Speeds are rotor speeds. */
#ifndef TV_PARTS_ALTERNATOR_H
#define TV_PARTS_ALTERNATOR_H

#include <stdbool.h>

#include "tailvolt/system.h"

/* two silicon diodes in series with the output */
#define TV_ALTERNATOR_DIODES_V 1.6
/* the machine first conducts at this share of the formula's cut-in speed */
#define TV_ALTERNATOR_FIRST_NU 0.70

/* F^2 over u = 1/nu^2 from a point on: level + slope d + bend d^2 + twist d^3, d = u - its u */
struct tv_alternator_piece {
  double u, level_a2, slope_a2, bend_a2, twist_a2;
};

struct tv_alternator {
  double n0_rpm, i_inf_a;      /* of the two-point form */
  double nu1, f1_a;            /* lower label point */
  double first_nu;
  double rated_v;
  double fixed_a;              /* NAN = the machine law */
  int count;                   /* label points, ascending speed */
  double nu[TAILVOLT_CURVE_MAX], a[TAILVOLT_CURVE_MAX];
  struct tv_alternator_piece piece[TAILVOLT_CURVE_MAX]; /* from point k on */
};

/* Solves the law's constants from the label. TAILVOLT_BAD_INPUT with `error` filled where the points fit no machine. */
TAILVOLT_CHECKED enum tailvolt_status tv_alternator_init(const struct tailvolt_alternator *spec,
                                                         struct tv_alternator *alternator,
                                                         char *error);

/* n0(V) over the rotor speed; INFINITY at standstill */
static inline double tv_alternator_cut_in_ratio(const struct tv_alternator *a, double rotor_rpm,
                                                double v) {
  return a->n0_rpm * (v + TV_ALTERNATOR_DIODES_V) /
         ((a->rated_v + TV_ALTERNATOR_DIODES_V) * rotor_rpm);
}

/* Output current at a rotor speed, terminal voltage and field; never negative. */
double tv_alternator_current_a(const struct tv_alternator *alternator, double rotor_rpm, double v,
                               double field_frac);
/* Its derivative with respect to voltage, A/V (0 or negative). */
double tv_alternator_slope_a_per_v(const struct tv_alternator *alternator, double rotor_rpm,
                                   double v, double field_frac);
/* The field fraction that gives a current; above 1 where the machine cannot. */
double tv_alternator_field_for(const struct tv_alternator *alternator, double rotor_rpm, double v,
                               double current_a);
/* The bare two-point function I_inf sqrt(x^2 - (n0(V)/n)^2), 0 below cut-in. */
double tv_alternator_curve_a(const struct tv_alternator *alternator, double rotor_rpm, double v,
                             double field_frac);

#endif
