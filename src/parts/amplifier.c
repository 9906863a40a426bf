#include "parts/amplifier.h"
#include "parts/elementary.h"

#include <math.h>
#include <string.h>

#include <gsl/gsl_math.h>

void tv_amplifier_init(const struct tailvolt_amplifier *spec, struct tv_amplifier *a) {
  memset(a, 0, sizeof *a);
  a->rated_w = spec->rated_w;
  a->rated_v = spec->rated_v;
  a->idle_a = spec->idle_a;
  a->standby_a = spec->standby_a;
  a->above_w = fmax(spec->rated_w / spec->efficiency_frac - spec->rated_v * spec->idle_a, 0);
  a->class_ab = spec->topology == TAILVOLT_CLASS_AB;
  a->regulated = spec->regulated;
  a->internal_ohm = spec->internal_ohm;
  a->internal_f = spec->internal_f;
  a->cut_out_v = spec->cut_out_v;
  a->cut_in_v = spec->cut_in_v;
  a->cut_out_delay_s = spec->cut_out_delay_s;
  a->restart_delay_s = spec->restart_delay_s;
}

double tv_clipped_w(double drive_w, double clip_w) {
  if (drive_w <= clip_w) return drive_w;
  if (clip_w <= 0) return 0;
  double s = sqrt(clip_w / drive_w);
  double theta = tv_asin(s);
  return drive_w * (2 / M_PI) * (theta - s * sqrt(1 - s * s) + 2 * s * s * (M_PI / 2 - theta));
}

double tv_amplifier_above_idle_w(const struct tv_amplifier *a, double output_w) {
  if (output_w <= 0) return 0;
  double share = output_w / a->rated_w;
  return a->above_w * (a->class_ab ? sqrt(share) : share);
}

void tv_amplifier_draw(const struct tv_amplifier *a, double drive_w, double ripple,
                       struct tv_load_law *law) {
  law->amplifier = a;
  law->drive_w = drive_w;
  law->ripple = ripple;
  law->may_clip = !a->regulated && drive_w > 0;
  double output_w = a->regulated ? tv_clipped_w(drive_w, a->rated_w) : drive_w;
  double above_w = tv_amplifier_above_idle_w(a, output_w) * ripple;
  law->constant_a = a->idle_a;
  law->power_w = 0;
  if (a->class_ab && !a->regulated)
    law->constant_a += above_w / a->rated_v;
  else
    law->power_w = above_w;
}

double tv_load_law_clipped_a(const struct tv_load_law *d, double v, double terminal_v) {
  const struct tv_amplifier *a = d->amplifier;
  double output_w = tv_clipped_w(d->drive_w, tv_amplifier_clip_w(a, fmax(terminal_v, 0)));
  double above_w = tv_amplifier_above_idle_w(a, output_w) * d->ripple;
  return a->idle_a + above_w / (a->class_ab ? a->rated_v : v);
}

/* The terminals lie internal_ohm above the draw port, so the clip level depends a little on the current itself:
 * a contraction (a few per cent a round), iterated to rounding. */
double tv_load_law_a(const struct tv_load_law *d, double v) {
  double current_a = d->constant_a + d->power_w / v;
  if (!d->may_clip) return current_a;
  if (d->drive_w <= tv_amplifier_clip_w(d->amplifier, tv_load_law_terminal_v(d, v, current_a)))
    return current_a;
  for (int k = 0; k < 60; k++) {
    double next_a = tv_load_law_clipped_a(d, v, tv_load_law_terminal_v(d, v, current_a));
    double change_a = next_a - current_a;
    current_a = next_a;
    if (fabs(change_a) <= 1e-13 * (1 + fabs(next_a))) break;
  }
  return current_a;
}
