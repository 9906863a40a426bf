/* The amplifier: what it draws from its supply for what it delivers, and when it switches itself off.
 *
 * Draw above idle, P_r the rated power, eta its efficiency there (idle draw included), V_r the rated voltage, I_q the idle
 * current, P the power delivered:
 *   class D    P (1/eta - V_r I_q / P_r)                      (losses: one part constant, one proportional)
 *   class AB   (P_r/eta - V_r I_q) sqrt(P / P_r)              (class B law (4/pi) sqrt(P P_max), fitted to the label)
 * taken as constant power, except class AB with an unregulated supply: constant current at its value for V_r. Delivered
 * power is limited by clipping; see tv_clipped_w(). With an unregulated supply the clip power goes as the square of the
 * terminal voltage. Any good textbook on power amplifiers has the class B law; class D follows makers' data sheets. */
#ifndef TV_PARTS_AMPLIFIER_H
#define TV_PARTS_AMPLIFIER_H

#include <stdbool.h>
#include <stddef.h>

#include "tailvolt/system.h"

#define TV_SOFT_START_S 0.5

struct tv_amplifier {
  double rated_w, rated_v, idle_a, standby_a;
  double above_w;          /* draw above idle at rated power */
  bool class_ab, regulated;
  double internal_ohm, internal_f;
  double cut_out_v, cut_in_v, cut_out_delay_s, restart_delay_s;
};

/* How an amplifier (or constant-power load) loads its port in one step:
 * i(v) = constant_a + power_w / v, or, clipped by a sagging unregulated supply, by the law. */
struct tv_load_law {
  double constant_a, power_w;
  bool may_clip;
  const struct tv_amplifier *amplifier;
  double drive_w, ripple;  /* ripple: the step's mean of the factor on the draw above idle */
  double storage_v, storage_s; /* internal storage as companion: current (v - storage_v) storage_s into it */
};

void tv_amplifier_init(const struct tailvolt_amplifier *spec, struct tv_amplifier *amplifier);

/* Mean power of a sine of drive_w clipped at the level where a sine gives clip_w; tends to 2 clip_w. */
double tv_clipped_w(double drive_w, double clip_w);

/* Clip power at a terminal voltage. */
static inline double tv_amplifier_clip_w(const struct tv_amplifier *a, double terminal_v) {
  if (a->regulated) return a->rated_w;
  double share = terminal_v / a->rated_v;
  return a->rated_w * share * share;
}

/* Power drawn at rated voltage, above idle, for a delivered power. */
double tv_amplifier_above_idle_w(const struct tv_amplifier *amplifier, double output_w);

/* The draw of an amplifier playing at this drive, without supply clipping; storage fields are left alone. */
void tv_amplifier_draw(const struct tv_amplifier *amplifier, double drive_w, double ripple,
                       struct tv_load_law *law);

/* Terminal voltage for a voltage and current at the draw port. */
static inline double tv_load_law_terminal_v(const struct tv_load_law *d, double v, double a) {
  if (d->amplifier == NULL) return v;
  return v + d->amplifier->internal_ohm * (a + (v - d->storage_v) * d->storage_s);
}

/* Current at a port voltage with the clip level of a terminal voltage. */
double tv_load_law_clipped_a(const struct tv_load_law *law, double v, double terminal_v);

/* Current at a port voltage, clipping by the supply included. */
double tv_load_law_a(const struct tv_load_law *law, double v);

/* Its draw at rated power and voltage. */
static inline double tv_amplifier_rated_draw_a(const struct tailvolt_amplifier *spec) {
  return spec->rated_w / (spec->efficiency_frac * spec->rated_v);
}

#endif
