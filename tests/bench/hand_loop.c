/* The reference network by hand: what one core can do when the network is known to the compiler.
 *
 *   battery   e = 11.9 V + 0.9 V soc - v1, 6 mohm in series, v1 the polarization: 4 mohm, 10 s
 *   source    14.2 V behind 8 mohm (5 of droop, 3 of its lead), at most 70 A
 *   base load 25 A at the battery
 *   amplifier a constant power P behind 9.48 mohm of feed, twice a second 15 W + 1200 W exp(-s/120 ms)
 *
 * With everything but the amplifier folded into a voltage V behind R, P = v (V - v)/R gives the amplifier's voltage
 * v = (V + sqrt(V^2 - 4 P R))/2. The step is 1 ms; P is its mean over the step; v1 follows exactly for a constant
 * current. The first step of a beat is also solved at its peak, for the lowest voltage. No checks, ledger, books,
 * recording or output: anything a general program spends beyond this is the price of generality. */
#include "bench/hand_loop.h"

#include <math.h>
#include <stddef.h>
#include <time.h>

#define STEP_S 1e-3
#define BEAT_S 0.5
#define DECAY_S 0.12
#define FLOOR_W 15.0
#define PEAK_W 1200.0
#define EMPTY_V 11.9
#define CHARGE_V 0.9
#define BATTERY_OHM 6e-3
#define BRANCH_OHM 4e-3
#define BRANCH_S 10.0
#define SOURCE_OHM 8e-3
#define SOURCE_V 14.2
#define LIMIT_A 70.0
#define FEED_OHM (0.017241 * 5.5 / 21.15 + 5e-3)
#define BASE_A 25.0
#define CAPACITY_C 216000.0
#define START_FRAC 0.9
#define TARGET_V 12.0
enum { STEPS_A_BEAT = 500, SIDE_BY_SIDE = 8 };

double hand_used_s(void) {
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

struct beat {
  double at_start_w[STEPS_A_BEAT], mean_w[STEPS_A_BEAT];
};

static void fill(struct beat *beat) {
  for (int k = 0; k < STEPS_A_BEAT; k++) {
    double s = k * STEP_S;
    beat->at_start_w[k] = FLOOR_W + PEAK_W * exp(-s / DECAY_S);
    beat->mean_w[k] =
        FLOOR_W + PEAK_W * DECAY_S / STEP_S * (exp(-s / DECAY_S) - exp(-(s + STEP_S) / DECAY_S));
  }
}

/* Constants, as literals for the compiler. */
#define LIMITED_OHM (BATTERY_OHM + FEED_OHM)
#define HELD_OHM (1 / (1 / BATTERY_OHM + 1 / SOURCE_OHM))

static inline double upper_root(double open_v, double power_w, double ohm) {
  return 0.5 * (open_v + sqrt(open_v * open_v - 4 * power_w * ohm));
}

/* The amplifier's voltage and the battery's current at one instant; feed_a charges the battery. */
static inline double solve(bool engine_runs, double e_v, double power_w, double feed_a, double *battery_a) {
  double v = upper_root(e_v + BATTERY_OHM * feed_a, power_w, LIMITED_OHM);
  *battery_a = power_w / v - feed_a;
  if (engine_runs) {
    double post_v = e_v - BATTERY_OHM * *battery_a;
    if ((SOURCE_V - post_v) / SOURCE_OHM <= LIMIT_A) { /* it can hold its voltage after all */
      double open_v = (e_v / BATTERY_OHM + SOURCE_V / SOURCE_OHM - BASE_A) * HELD_OHM;
      v = upper_root(open_v, power_w, HELD_OHM + FEED_OHM);
      *battery_a = (e_v - v - power_w / v * FEED_OHM) / BATTERY_OHM;
    }
  }
  return v;
}

static struct hand_result one(bool engine_runs, long steps, const struct beat *beat) {
  const double keep = exp(-STEP_S / BRANCH_S), gain_ohm = BRANCH_OHM * (1 - keep);
  const double feed_a = (engine_runs ? LIMIT_A : 0) - BASE_A;
  double soc = START_FRAC, v1 = 0, min_v = 99, sum_v = 0, battery_a;
  long below = 0;
  for (long s = 0, k = 0; s < steps; s++) {
    double e_v = EMPTY_V + CHARGE_V * soc - v1;
    double v = solve(engine_runs, e_v, beat->mean_w[k], feed_a, &battery_a);
    if (k == 0) {
      double peak_v = upper_root(e_v + BATTERY_OHM * feed_a, beat->at_start_w[0], LIMITED_OHM);
      min_v = peak_v < min_v ? peak_v : min_v;
    }
    if (++k == STEPS_A_BEAT) k = 0;
    min_v = v < min_v ? v : min_v;
    sum_v += v;
    below += v < TARGET_V;
    v1 = v1 * keep + battery_a * gain_ohm;
    soc -= battery_a * (STEP_S / CAPACITY_C);
  }
  return (struct hand_result){min_v, sum_v / (double)steps, (double)below / (double)steps, soc, 0};
}

/* The regulated case is always computed and then selected: a branch would not vectorize. The power is that at the
 * start of the step. */
static struct hand_result eight(bool engine_runs, long steps, const struct beat *beat) {
  const double keep = exp(-STEP_S / BRANCH_S), gain_ohm = BRANCH_OHM * (1 - keep);
  const double feed_a = (engine_runs ? LIMIT_A : 0) - BASE_A;
  double soc[SIDE_BY_SIDE], v1[SIDE_BY_SIDE], min_v[SIDE_BY_SIDE], sum_v[SIDE_BY_SIDE], empty_v[SIDE_BY_SIDE];
  for (int l = 0; l < SIDE_BY_SIDE; l++) {
    soc[l] = START_FRAC, v1[l] = 0, min_v[l] = 99, sum_v[l] = 0, empty_v[l] = EMPTY_V;
  }
  for (long s = 0, k = 0; s < steps; s++) {
    double power_w = beat->at_start_w[k];
    if (++k == STEPS_A_BEAT) k = 0;
    for (int l = 0; l < SIDE_BY_SIDE; l++) {
      double e_v = empty_v[l] + CHARGE_V * soc[l] - v1[l];
      double v = upper_root(e_v + BATTERY_OHM * feed_a, power_w, LIMITED_OHM);
      double battery_a = power_w / v - feed_a;
      if (engine_runs) {
        double open_v = (e_v * (1 / BATTERY_OHM) + (SOURCE_V / SOURCE_OHM - BASE_A)) * HELD_OHM;
        double held_v = upper_root(open_v, power_w, HELD_OHM + FEED_OHM);
        double post_v = held_v + power_w / held_v * FEED_OHM;
        int held = (SOURCE_V - post_v) * (1 / SOURCE_OHM) <= LIMIT_A;
        v = held ? held_v : v;
        battery_a = held ? (e_v - post_v) * (1 / BATTERY_OHM) : battery_a;
      }
      min_v[l] = v < min_v[l] ? v : min_v[l];
      sum_v[l] += v;
      v1[l] = v1[l] * keep + battery_a * gain_ohm;
      soc[l] -= battery_a * (STEP_S / CAPACITY_C);
    }
  }
  return (struct hand_result){min_v[3], sum_v[3] / (double)steps, 0, soc[3], 0};
}

static struct hand_result fastest(struct hand_result (*loop)(bool, long, const struct beat *), int systems,
                                  bool engine_runs, double duration_s, int repeats) {
  struct beat beat;
  struct hand_result best = {0, 0, 0, 0, 0};
  long steps = lround(duration_s / STEP_S);
  fill(&beat);
  for (int k = 0; k < repeats; k++) {
    double begun_s = hand_used_s();
    struct hand_result now = loop(engine_runs, steps, &beat);
    now.system_steps_per_s = (double)steps * systems / (hand_used_s() - begun_s);
    if (now.system_steps_per_s > best.system_steps_per_s) best = now;
  }
  return best;
}

struct hand_result hand_loop(bool engine_runs, double duration_s, int repeats) {
  return fastest(one, 1, engine_runs, duration_s, repeats);
}

struct hand_result hand_loop_eight(bool engine_runs, double duration_s, int repeats) {
  return fastest(eight, SIDE_BY_SIDE, engine_runs, duration_s, repeats);
}
