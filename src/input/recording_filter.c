#include "input/recording_filter.h"

#include <math.h>

#include <gsl/gsl_math.h>

/* Butterworth H(s) = 1 / (s^2 + sqrt(2) s + 1) and its high-pass twin, by the bilinear transform, prewarped to put
 * the crossover at the requested frequency. */
struct tv_section tv_crossover_section(bool high_pass, double frequency_hz, double rate_hz) {
  double k = tan(M_PI * frequency_hz / rate_hz);
  double scale = 1.0 / (1.0 + M_SQRT2 * k + k * k);
  struct tv_section section;
  section.b0 = high_pass ? scale : k * k * scale;
  section.b1 = high_pass ? -2.0 * section.b0 : 2.0 * section.b0;
  section.b2 = section.b0;
  section.a1 = 2.0 * (k * k - 1.0) * scale;
  section.a2 = (1.0 - M_SQRT2 * k + k * k) * scale;
  return section;
}

/* A state that has decayed this far is silence; left alone it would become denormal, which is slow. */
static double flushed(double state) {
  return fabs(state) < 1e-100 ? 0.0 : state;
}

/* Transposed direct form II, both sections in one pass. */
void tv_crossover_run(const struct tv_section *section, struct tv_crossover_state *state, double *sample,
                      size_t count, size_t stride) {
  const struct tv_section c = *section;
  double p1 = state->first[0], p2 = state->first[1], q1 = state->second[0], q2 = state->second[1];
  for (size_t i = 0; i < count; i++) {
    double x = sample[i * stride];
    double y = c.b0 * x + p1;
    p1 = c.b1 * x - c.a1 * y + p2;
    p2 = c.b2 * x - c.a2 * y;
    double z = c.b0 * y + q1;
    q1 = c.b1 * y - c.a1 * z + q2;
    q2 = c.b2 * y - c.a2 * z;
    sample[i * stride] = z;
  }
  state->first[0] = flushed(p1);
  state->first[1] = flushed(p2);
  state->second[0] = flushed(q1);
  state->second[1] = flushed(q2);
}
