/* The kinetic battery model in closed form, in ampere-hours and hours as it was published.
 *
 * Manwell & McGowan, Solar Energy 50(5), 1993, 399-405: an available well of width c and a bound well of
 * width 1 - c, which level out at the rate k:  dq1/dt = -I + k c q2 - k (1-c) q1. The time loop carries the
 * same two wells (battery.c). */
#ifndef TV_PARTS_BATTERY_KINETIC_H
#define TV_PARTS_BATTERY_KINETIC_H

#include <stdbool.h>

struct tv_kinetic {
  double available_frac; /* c */
  double rate_per_h;     /* k */
  double most_ah;        /* both wells, full */
};

struct tv_kinetic_wells {
  double available_ah, bound_ah;
};

struct tv_kinetic_wells tv_kinetic_full(const struct tv_kinetic *model);
/* After hours of constant current, discharge positive. */
struct tv_kinetic_wells tv_kinetic_after(const struct tv_kinetic *model, struct tv_kinetic_wells wells,
                                         double current_a, double hours);
/* Charge that the constant current which empties the battery in `hours` delivers. */
double tv_kinetic_delivered_ah(const struct tv_kinetic *model, double hours);
/* Hours after which a constant current has emptied a full battery (the available well is empty). */
double tv_kinetic_empty_h(const struct tv_kinetic *model, double current_a);
/* Largest currents that can be held for `hours`, both positive. */
double tv_kinetic_discharge_a(const struct tv_kinetic *model, struct tv_kinetic_wells wells, double hours);
double tv_kinetic_charge_a(const struct tv_kinetic *model, struct tv_kinetic_wells wells, double hours);
/* From the charges delivered at three rates, the last two over 10 h and 20 h. False where no model fits. */
bool tv_kinetic_fit(double short_h, double short_ah, double ten_ah, double twenty_ah,
                    struct tv_kinetic *model);

#endif
