/* Rested voltage over state of charge: straight lines through a table, with a fall below empty.
 *
 * Quadratic pieces, so that the integral (stored energy) is exact for the curve that is used. */
#ifndef TV_PARTS_BATTERY_CURVE_H
#define TV_PARTS_BATTERY_CURVE_H

#include "tailvolt/system.h"

#define TV_CURVE_PIECES (TAILVOLT_CURVE_MAX + 3)

struct tv_battery_curve {
  int count;
  double from_frac[TV_CURVE_PIECES]; /* piece k holds from from_frac[k] to from_frac[k + 1], the last without limit */
  double v[TV_CURVE_PIECES];         /* at from_frac[k] */
  double slope_v[TV_CURVE_PIECES];   /* per unit of SOC, at from_frac[k] */
  double bend_v[TV_CURVE_PIECES];    /* per unit of SOC squared */
  double area_v[TV_CURVE_PIECES];    /* integral from SOC 0 to from_frac[k] */
};

/* Straight lines through `count` points of ascending SOC, extrapolated at both ends. Below SOC 0 the voltage
 * falls by knee_v * SOC^2 (or, with knee_v = 0, by 1 V for each percent) until it is zero, and stays there.
 */
void tv_curve_make(const double *soc_frac, const double *v, int count, double knee_v,
                   struct tv_battery_curve *curve);
int tv_curve_piece(const struct tv_battery_curve *curve, double soc_frac);
double tv_curve_at(const struct tv_battery_curve *curve, double soc_frac, double *slope_v);
/* Integral from SOC 0. */
double tv_curve_area(const struct tv_battery_curve *curve, double soc_frac);
/* SOC between 0 and 1 at which the curve has voltage v; the nearer end where it never has. */
double tv_curve_inverse(const struct tv_battery_curve *curve, double v);

#endif
