/* Rested voltage over state of charge: see battery_curve.h. */
#include "parts/battery_curve.h"

#include <math.h>
#include <stddef.h>

/* V per unit of SOC below empty where no knee is fitted: an empty battery has nothing left to hold its
 * voltage */
static const double STEEP_V = 100.0;

static void add_piece(struct tv_battery_curve *curve, double from_frac, double v, double slope_v,
                      double bend_v) {
  int k = curve->count;
  curve->from_frac[k] = from_frac;
  curve->v[k] = v;
  curve->slope_v[k] = slope_v;
  curve->bend_v[k] = bend_v;
  curve->count = k + 1;
}

/* integral of piece k from its start over d */
static double piece_area(const struct tv_battery_curve *curve, int k, double d) {
  return d * (curve->v[k] + d * (curve->slope_v[k] / 2.0 + d * curve->bend_v[k] / 3.0));
}

void tv_curve_make(const double *soc_frac, const double *v, int count, double knee_v,
                   struct tv_battery_curve *curve) {
  double first_slope_v = 0.0, last_slope_v = 0.0;
  if (count > 1) {
    first_slope_v = (v[1] - v[0]) / (soc_frac[1] - soc_frac[0]);
    last_slope_v = (v[count - 1] - v[count - 2]) / (soc_frac[count - 1] - soc_frac[count - 2]);
  }
  double empty_v = v[0] - first_slope_v * soc_frac[0];
  curve->count = 0;

  double floor_frac, floor_slope_v;
  if (knee_v > 0.0) {
    floor_frac =
        (first_slope_v - sqrt(first_slope_v * first_slope_v + 4.0 * knee_v * empty_v)) / (2.0 * knee_v);
    floor_slope_v = first_slope_v - 2.0 * knee_v * floor_frac;
  } else {
    floor_frac = -empty_v / STEEP_V;
    floor_slope_v = STEEP_V;
  }
  add_piece(curve, floor_frac - 1.0, 0.0, 0.0, 0.0);
  add_piece(curve, floor_frac, 0.0, floor_slope_v, knee_v > 0.0 ? -knee_v : 0.0);
  if (soc_frac[0] > 0.0) add_piece(curve, 0.0, empty_v, first_slope_v, 0.0);
  for (int k = 0; k < count; k++) {
    double slope_v = k + 1 < count ? (v[k + 1] - v[k]) / (soc_frac[k + 1] - soc_frac[k]) : last_slope_v;
    add_piece(curve, soc_frac[k], v[k], slope_v, 0.0);
  }

  int zero = tv_curve_piece(curve, 0.0);
  curve->area_v[zero] = -piece_area(curve, zero, -curve->from_frac[zero]);
  for (int k = zero; k + 1 < curve->count; k++)
    curve->area_v[k + 1] =
        curve->area_v[k] + piece_area(curve, k, curve->from_frac[k + 1] - curve->from_frac[k]);
  for (int k = zero - 1; k >= 0; k--)
    curve->area_v[k] =
        curve->area_v[k + 1] - piece_area(curve, k, curve->from_frac[k + 1] - curve->from_frac[k]);
}

int tv_curve_piece(const struct tv_battery_curve *curve, double soc_frac) {
  int k = curve->count - 1;
  while (k > 0 && soc_frac < curve->from_frac[k]) k--;
  return k;
}

double tv_curve_at(const struct tv_battery_curve *curve, double soc_frac, double *slope_v) {
  int k = tv_curve_piece(curve, soc_frac);
  double d = soc_frac - curve->from_frac[k];
  if (slope_v) *slope_v = curve->slope_v[k] + 2.0 * d * curve->bend_v[k];
  return curve->v[k] + d * (curve->slope_v[k] + d * curve->bend_v[k]);
}

double tv_curve_area(const struct tv_battery_curve *curve, double soc_frac) {
  int k = tv_curve_piece(curve, soc_frac);
  return curve->area_v[k] + piece_area(curve, k, soc_frac - curve->from_frac[k]);
}

double tv_curve_inverse(const struct tv_battery_curve *curve, double v) {
  if (v <= tv_curve_at(curve, 0.0, NULL)) return 0.0;
  if (v >= tv_curve_at(curve, 1.0, NULL)) return 1.0;
  double low_frac = 0.0, high_frac = 1.0;
  for (int k = 0; k < 60; k++) {
    double mid_frac = 0.5 * (low_frac + high_frac);
    if (tv_curve_at(curve, mid_frac, NULL) < v)
      low_frac = mid_frac;
    else
      high_frac = mid_frac;
  }
  return 0.5 * (low_frac + high_frac);
}
