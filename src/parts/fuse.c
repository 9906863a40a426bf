/* Fuses: time-current gates with thermal memory, standard ratings.
 *
 * A gate says that at a multiple of its rating a fuse opens no sooner than one time and no later than
 * another. Gates: ISO 8820-3 (blade) and makers' data sheets in the manner of ISO 8820-5 (bolt-down), values
 * from memory. Strip fuses of the audio trade follow no standard and count as bolt-down. Between gates both
 * curves are straight on log-log axes; beyond the last, constant I2t. */
#include "parts/fuse.h"
#include "parts/elementary.h"

#include <math.h>
#include <stddef.h>

struct gate {
  double multiple, opens_s;
};
struct curve {
  size_t count;
  struct gate gate[6];
};
struct kind_data {
  struct curve quickest, slowest;
  struct curve element; /* of the slowest, fed with the smoothed current */
  double memory_s; /* of the fuse element: how long a beat of current is averaged (judgement) */
  size_t rating_count;
  double rating_a[18];
};

static const struct kind_data KINDS[] = {
    [TAILVOLT_BLADE] =
        {.quickest = {6,
                      {{1.10, 360000.0}, {1.35, 0.75}, {1.6, 0.25}, {2.0, 0.15}, {3.5, 0.04}, {6.0, 0.02}}},
         .slowest = {5, {{1.35, 600.0}, {1.6, 50.0}, {2.0, 5.0}, {3.5, 0.5}, {6.0, 0.1}}},
         .element = {5, {{1.35, 570.0}, {1.6, 47.5}, {2.0, 4.6}, {3.5, 0.36}, {6.0, 0.03}}},
         .memory_s = 0.05,
         .rating_count = 13,
         .rating_a = {1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 35, 40}},
    [TAILVOLT_LARGE_BLADE] =
        {.quickest = {5, {{1.10, 360000.0}, {1.35, 60.0}, {2.0, 2.0}, {3.5, 0.2}, {6.0, 0.04}}},
         .slowest = {4, {{1.35, 1800.0}, {2.0, 60.0}, {3.5, 7.0}, {6.0, 1.0}}},
         .element = {4, {{1.35, 1710.0}, {2.0, 57.0}, {3.5, 6.3}, {6.0, 0.7}}},
         .memory_s = 0.2,
         .rating_count = 8,
         .rating_a = {20, 30, 40, 50, 60, 70, 80, 100}},
    [TAILVOLT_BOLT_DOWN] = {.quickest = {5,
                                         {{1.0, 14400.0}, {1.35, 120.0}, {2.0, 1.0}, {3.5, 0.3}, {6.0, 0.1}}},
                            .slowest = {4, {{1.35, 1800.0}, {2.0, 15.0}, {3.5, 5.0}, {6.0, 1.0}}},
                            .element = {4, {{1.35, 1700.0}, {2.0, 13.2}, {3.5, 4.1}, {6.0, 0.35}}},
                            .memory_s = 0.5,
                            .rating_count = 17,
                            .rating_a = {30, 40, 50, 60, 70, 80, 100, 125, 150,
                                         175, 200, 225, 250, 300, 350, 400, 500}},
};

/* The curves are far steeper than I2 near the rating, so they are fed with a smoothed current; from this multiple on
 * the element melts without losing heat and the current itself counts. Smoothing takes time of its own: a cold fuse
 * at a steady overload opens later than its curve says. To open the slowest inside its gate at every multiple, its
 * element's curve lies below the gate by that time (fitted; the outside test checks the gates). A fuse already loaded
 * opens sooner than a cold one, as real ones do. */
static const double RAW_MULTIPLE = 6.0;
static const double DECAY_S = 30.0; /* damage fades below the rating (judgement) */

double tv_fuse_resistance_ohm(double rating_a) {
  return rating_a > 0.0 ? 0.1 / rating_a : (double)NAN;
}

static double opens_s(const struct curve *curve, double multiple) {
  const struct gate *gate = curve->gate;
  size_t last = curve->count - 1;
  if (!(multiple >= gate[0].multiple)) {
    return (double)INFINITY;
  }
  if (multiple >= gate[last].multiple) {
    double ratio = gate[last].multiple / multiple;
    return gate[last].opens_s * ratio * ratio;
  }
  size_t k = 0;
  while (multiple >= gate[k + 1].multiple) {
    k++;
  }
  double n = tv_log(gate[k].opens_s / gate[k + 1].opens_s) / tv_log(gate[k + 1].multiple / gate[k].multiple);
  return gate[k].opens_s * tv_pow(gate[k].multiple / multiple, n);
}

double tv_fuse_quickest_s(enum tailvolt_fuse_kind kind, double multiple) {
  return opens_s(&KINDS[kind].quickest, multiple);
}

double tv_fuse_slowest_s(enum tailvolt_fuse_kind kind, double multiple) {
  return opens_s(&KINDS[kind].slowest, multiple);
}

/* A fuse that has opened stays open: damage of 1 and more never fades. */
static void decay(double *damage, double factor) {
  if (*damage < 1.0) {
    *damage *= factor;
  }
}

void tv_fuse_step(enum tailvolt_fuse_kind kind, double rating_a, double mean_square_a2, double dt_s,
                  struct tv_fuse_state *state) {
  const struct kind_data *data = &KINDS[kind];
  double before_a2 = state->mean_square_a2;
  if (state->step_s != dt_s) {
    state->step_s = dt_s;
    state->taken_frac = -tv_expm1(-dt_s / data->memory_s);
    state->left_frac = tv_exp(-dt_s / DECAY_S);
  }
  state->mean_square_a2 = before_a2 + (mean_square_a2 - before_a2) * state->taken_frac;
  double rating_a2 = rating_a * rating_a;
  double equivalent_a2 = state->mean_square_a2;
  if (mean_square_a2 >= RAW_MULTIPLE * RAW_MULTIPLE * rating_a2) {
    equivalent_a2 = mean_square_a2;
  }
  if (equivalent_a2 < rating_a2) {
    if (state->damage_may > 0.0 || state->damage_must > 0.0) {
      decay(&state->damage_may, state->left_frac);
      decay(&state->damage_must, state->left_frac);
    }
    return;
  }
  double multiple = sqrt(equivalent_a2 / rating_a2);
  state->damage_may += dt_s / opens_s(&data->quickest, multiple);
  state->damage_must += dt_s / opens_s(&data->element, multiple);
}

double tv_fuse_standard_rating_a(enum tailvolt_fuse_kind kind, double least_a, double most_a) {
  const struct kind_data *data = &KINDS[kind];
  for (size_t k = 0; k < data->rating_count; k++) {
    if (data->rating_a[k] >= least_a) {
      return data->rating_a[k] <= most_a ? data->rating_a[k] : (double)NAN;
    }
  }
  return (double)NAN;
}

double tv_fuse_largest_rating_a(enum tailvolt_fuse_kind kind, double most_a) {
  const struct kind_data *data = &KINDS[kind];
  double largest_a = (double)NAN;
  for (size_t k = 0; k < data->rating_count && data->rating_a[k] <= most_a; k++) {
    largest_a = data->rating_a[k];
  }
  return largest_a;
}

double tv_fuse_breaking_capacity_a(enum tailvolt_fuse_kind kind) {
  return kind == TAILVOLT_BOLT_DOWN ? 2000.0 : 1000.0;
}

double tv_fuse_rerating_frac(double air_c) {
  /* makers' data sheets, values from memory: 1 at 25 C, 0.93 at 60 C, 0.89 at 85 C */
  if (air_c <= 25.0) {
    return 1.0;
  }
  if (air_c <= 60.0) {
    return 1.0 - 0.07 * (air_c - 25.0) / 35.0;
  }
  return fmax(0.93 - 0.04 * (air_c - 60.0) / 25.0, 0.0);
}

/* Common practice. */
static const double FOR_HOURS_FRAC = 0.75;

double tv_fuse_continuous_a(double rating_a, double air_c) {
  return FOR_HOURS_FRAC * tv_fuse_rerating_frac(air_c) * rating_a;
}

double tv_fuse_for_converter_a(double output_v, double output_a, double efficiency_frac) {
  return output_v * output_a / 12.0 / fmax(0.2, efficiency_frac) / FOR_HOURS_FRAC;
}
