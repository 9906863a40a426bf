/* A capacitance over a step of length h, behind its own resistance, if any.
 *
 * Implicit midpoint: the network sees the mean of old and new voltage, v_mean = v_old + i h/2C: a voltage behind h/2C. Where the
 * time constant is below half a step that would ring about its goal, so the network sees the new voltage itself, v_new = v_old +
 * i h/C (backward Euler, L-stable: straight to its goal). Either way v_new = v_old + i h/C.
 *
 * Energy: the midpoint stores v_mean i h = C/2 (v_new^2 - v_old^2) exactly. The other takes v_new i h, which is more by
 * C/2 (v_new - v_old)^2 = i^2 h^2/2C: what charging from one voltage to another loses in the resistance, however small. It is
 * booked as heat there. */
#ifndef TV_PARTS_CAPACITOR_H
#define TV_PARTS_CAPACITOR_H

#include <stdbool.h>

/* Resistance that represents the capacitance over the step. */
static inline double tv_capacitor_step_ohm(double farad, double step_s, bool stiff) {
  return step_s / (stiff ? farad : 2 * farad);
}

/* Resistance whose heat is the stiff update's loss; 0 for the midpoint. */
static inline double tv_capacitor_loss_ohm(double farad, double step_s, bool stiff) {
  return stiff ? step_s / (2 * farad) : 0;
}

#endif
