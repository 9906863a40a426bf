/* What the programmes play in a step: envelope and ripple. */
#include <math.h>

#include <gsl/gsl_math.h>

#include "parts/elementary.h"
#include "simulate/run.h"

/* Fraction of a period, kept exact for long times. */
static double phase_of(double cycles) { return cycles - floor(cycles); }

/* Integral of |sin(2 pi f t)| over half periods: each gives 2. */
static double rectified(double half_cycles) {
  double whole = floor(half_cycles);
  return 2 * whole + 1 - tv_cos(M_PI * (half_cycles - whole));
}

/* Sine and cosine of the bass note at a time. */
static void strike(struct tv_playing *play, double time_s) {
  double angle = 2 * M_PI * phase_of(play->bass_hz * time_s);
  play->last_sin = tv_sin(angle);
  play->last_cos = tv_cos(angle);
}

/* The same a step on: turned by the step's angle, and taken anew every so many steps of the row's grid, so that it does not
 * matter where a stretch of steps began. */
static void turn(struct tv_playing *play, double end_s, double step_s, double index) {
  long long next = (long long)index + 1;
  if (next % TV_ANCHOR_STEPS == 0) {
    strike(play, end_s);
    return;
  }
  if (play->turn_s != step_s) {
    play->turn_s = step_s;
    play->turn_sin = tv_sin(2 * M_PI * play->bass_hz * step_s);
    play->turn_cos = tv_cos(2 * M_PI * play->bass_hz * step_s);
  }
  double before = play->last_sin;
  play->last_sin = before * play->turn_cos + play->last_cos * play->turn_sin;
  play->last_cos = play->last_cos * play->turn_cos - before * play->turn_sin;
}

/* Cosine of the angle within the half period that holds it: where |sin|'s integral over the half period stands. */
static double half_cos(const struct tv_playing *play) {
  return play->last_sin >= 0 ? play->last_cos : -play->last_cos;
}

/* Exact means over the step of 1 - cos(4 pi f t) and (pi/2) |sin(2 pi f t)|, t the profile's time. */
static void ripple(struct tv_playing *play, double t0_s, double t1_s, double step_s, double index) {
  play->ripple_d = play->ripple_ab = 1;
  if (!(play->bass_hz > 0)) return;
  double f = play->bass_hz, span_s = t1_s - t0_s;
  if (f * span_s > 0.2) { /* steps so long that half periods may hide in them */
    double part_d = tv_sin(2 * M_PI * phase_of(2 * f * t1_s)) - tv_sin(2 * M_PI * phase_of(2 * f * t0_s));
    play->ripple_d = 1 - part_d / (4 * M_PI * f * span_s);
    play->ripple_ab = 0.25 * (rectified(2 * f * t1_s) - rectified(2 * f * t0_s)) / (f * span_s);
    play->last_end_s = HUGE_VAL;
    return;
  }
  if (play->last_end_s != t0_s) strike(play, t0_s);
  double before_sin = play->last_sin, before_cos = play->last_cos;
  turn(play, t1_s, step_s, index);
  if (play->ripple_on_d) {
    double two_d = 2 * (play->last_sin * play->last_cos - before_sin * before_cos);
    play->ripple_d = 1 - two_d / (4 * M_PI * f * span_s);
  }
  if (play->ripple_on_ab) {
    double crossed = (play->last_sin >= 0) != (before_sin >= 0) ? 2 : 0;
    double before_half = before_sin >= 0 ? before_cos : -before_cos;
    play->ripple_ab = 0.25 * (crossed + before_half - half_cos(play)) / (f * span_s);
  }
  play->last_end_s = t1_s;
}

void tv_run_listen(struct tv_run *run, double start_s, double end_s, double step_s, double index) {
  for (int k = 0; k < run->system->programme_count; k++) {
    struct tv_playing *play = &run->play[k];
    if (!play->used) continue;
    play->envelope = tv_programme_mean(run->programme[k], &run->state.cursor[k], start_s, end_s);
    ripple(play, start_s, end_s, step_s, index);
  }
}
