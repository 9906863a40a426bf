/* What the programmes play in the steps to come: envelope and ripple. */
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

/* Means over steps so long that they may hide half periods. */
static void ripple_over(const struct tv_playing *play, double t0_s, double t1_s, double *class_d, double *class_ab) {
  double f = play->bass_hz, span_s = t1_s - t0_s;
  double part_d = tv_sin(2 * M_PI * phase_of(2 * f * t1_s)) - tv_sin(2 * M_PI * phase_of(2 * f * t0_s));
  *class_d = 1 - part_d / (4 * M_PI * f * span_s);
  *class_ab = 0.25 * (rectified(2 * f * t1_s) - rectified(2 * f * t0_s)) / (f * span_s);
}

/* Sine and cosine at the ends of the steps, the first at their start: each rotated by a step's angle from the one before,
 * and recomputed every so many steps of the row's grid, so it does not matter where a stretch of steps began. */
static void turn(struct tv_playing *play, const double *end_s, double step_s, double index, int count, double *sine,
                 double *cosine) {
  if (play->last_end_s != end_s[0]) strike(play, end_s[0]);
  if (play->turn_s != step_s) {
    play->turn_s = step_s;
    play->turn_sin = tv_sin(2 * M_PI * play->bass_hz * step_s);
    play->turn_cos = tv_cos(2 * M_PI * play->bass_hz * step_s);
  }
  const double by_sin = play->turn_sin, by_cos = play->turn_cos;
  int to_anchor = TV_ANCHOR_STEPS - (int)((long long)index % TV_ANCHOR_STEPS);
  sine[0] = play->last_sin;
  cosine[0] = play->last_cos;
  for (int k = 1; k <= count; k++, to_anchor--) {
    sine[k] = sine[k - 1] * by_cos + cosine[k - 1] * by_sin;
    cosine[k] = cosine[k - 1] * by_cos - sine[k - 1] * by_sin;
    if (to_anchor > 1) continue;
    strike(play, end_s[k]);
    sine[k] = play->last_sin;
    cosine[k] = play->last_cos;
    to_anchor += TV_ANCHOR_STEPS;
  }
  play->last_sin = sine[count];
  play->last_cos = cosine[count];
  play->last_end_s = end_s[count];
}

/* Where the integral of |sin| over the half period has got to. */
static double half_cos(double sine, double cosine) { return sine >= 0 ? cosine : -cosine; }

/* Exact means over each step of 1 - cos(4 pi f t) and (pi/2) |sin(2 pi f t)|, t the profile's time. */
static void ripple(struct tv_playing *play, double from_s, double step_s, double index, int count, struct tv_heard *heard) {
  double end_s[TV_AHEAD + 1], sine[TV_AHEAD + 1], cosine[TV_AHEAD + 1], f = play->bass_hz;
  for (int k = 0; k < count; k++) heard->ripple_d[k] = heard->ripple_ab[k] = 1;
  if (!(f > 0)) return;
  for (int k = 0; k <= count; k++) end_s[k] = from_s + (index + k) * step_s;
  if (f * step_s > 0.2) {
    for (int k = 0; k < count; k++) ripple_over(play, end_s[k], end_s[k + 1], &heard->ripple_d[k], &heard->ripple_ab[k]);
    play->last_end_s = HUGE_VAL;
    return;
  }
  turn(play, end_s, step_s, index, count, sine, cosine);
  for (int k = 0; k < count && play->ripple_on_d; k++) {
    double two_d = 2 * (sine[k + 1] * cosine[k + 1] - sine[k] * cosine[k]);
    heard->ripple_d[k] = 1 - two_d / (4 * M_PI * f * (end_s[k + 1] - end_s[k]));
  }
  for (int k = 0; k < count && play->ripple_on_ab; k++) {
    double crossed = (sine[k + 1] >= 0) != (sine[k] >= 0) ? 2 : 0;
    double moved = crossed + half_cos(sine[k], cosine[k]) - half_cos(sine[k + 1], cosine[k + 1]);
    heard->ripple_ab[k] = 0.25 * moved / (f * (end_s[k + 1] - end_s[k]));
  }
}

void tv_run_listen(struct tv_run *run, double from_s, double step_s, double index, int count) {
  for (int k = 0; k < run->system->programme_count; k++) {
    if (!run->play[k].used) continue;
    run->heard[k].from_cursor = run->state.cursor[k];
    run->heard[k].from_play = run->play[k];
    tv_programme_means(run->programme[k], &run->state.cursor[k], from_s, step_s, index, count, run->heard[k].envelope);
    ripple(&run->play[k], from_s, step_s, index, count, &run->heard[k]);
  }
}

void tv_run_listen_less(struct tv_run *run, double from_s, double step_s, double index, int count) {
  for (int k = 0; k < run->system->programme_count; k++) {
    if (!run->play[k].used) continue;
    run->state.cursor[k] = run->heard[k].from_cursor;
    run->play[k] = run->heard[k].from_play;
  }
  tv_run_listen(run, from_s, step_s, index, count);
}
