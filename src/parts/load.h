/* A load: lights, fans, anything the vehicle itself draws.
 *
 * Its power at its rated voltage, and how its current depends on voltage:
 *   resistor          i = P/Vr^2 v
 *   constant current  i = P/Vr
 *   constant power    i = P/v
 * Below TV_TAPER_V every draw but a resistance is multiplied by v/TV_TAPER_V (and is nothing below zero): electronics and motors
 * do not keep drawing their current from a supply that is all but gone (judgement; a 12 V unit's undervoltage lock-out lies at 5
 * to 7 V). A constant current thus becomes a conductance, a constant power a constant current. */
#ifndef TV_PARTS_LOAD_H
#define TV_PARTS_LOAD_H

#include <stdbool.h>

#include "tailvolt/system.h"

#define TV_TAPER_V 6.0

static inline bool tv_load_is_linear(const struct tailvolt_load *load) {
  return load->behaviour != TAILVOLT_CONSTANT_POWER;
}

/* For a resistor with a share `on` switched on; 0 for the others. */
static inline double tv_load_conductance_s(const struct tailvolt_load *load, double on) {
  return load->behaviour == TAILVOLT_RESISTOR ? on * load->power_w / (load->rated_v * load->rated_v) : 0;
}

/* For a constant current; 0 for the others. */
static inline double tv_load_current_a(const struct tailvolt_load *load, double on) {
  return load->behaviour == TAILVOLT_CONSTANT_CURRENT ? on * load->power_w / load->rated_v : 0;
}

static inline double tv_load_power_w(const struct tailvolt_load *load, double on) {
  return load->behaviour == TAILVOLT_CONSTANT_POWER ? on * load->power_w : 0;
}

#endif
