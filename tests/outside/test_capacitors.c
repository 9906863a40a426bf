/* Stiffening capacitors against closed forms and their worked tables. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/scenes.h"

#define PI 3.14159265358979323846
#define STEP_S 1e-4
#define DRAW_A 118.0 /* 1000 W out, 65 %, 13 V */

static struct tailvolt_system *with_capacitor(double source_v, double series_ohm, double capacitance_f,
                                              double esr_ohm) {
  char more[256];
  snprintf(more, sizeof more,
           "idle current = 0 A\n[capacitor stiffener]\npositive = amplifier plus\nnegative = ground\n"
           "capacitance = %.9g F\nesr = %.9g mohm\n",
           capacitance_f, 1e3 * esr_ohm);
  return scene_stiff(source_v, series_ohm, more);
}

/* Lowest terminal voltage after drawing DRAW_A for duration_s; it falls throughout, so this is the mean of
 * the last step, half a step before the end. */
static double lowest_v(const struct tailvolt_system *system, double duration_s) {
  struct tailvolt_result *r = scene_hold(system, "supply_a:bass", DRAW_A, duration_s, STEP_S);
  double v = r->amplifiers[0].min_v;
  tailvolt_result_free(r);
  return v;
}

/* Droop of a capacitor alone: I ESR + I t / C. The source sits behind 100 ohm, next to nothing. */
static void droop_table(void **state) {
  (void)state;
  static const struct {
    double capacitance_f, esr_ohm, droop_50ms_v, to_half_volt_s, digit_s;
  } row[] = {{1, 0.002, 6.14, 2.2e-3, 0.1e-3},
             {2, 0.002, 3.19, 4.5e-3, 0.1e-3},
             {10, 0.002, 0.83, 22e-3, 1e-3},
             {500, 0.0021, 0.26, 1.07, 0.01}};
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    double c_f = row[k].capacitance_f, esr_ohm = row[k].esr_ohm;
    struct tailvolt_system *system = with_capacitor(12.6, 100, c_f, esr_ohm);
    assert_near(DRAW_A * (esr_ohm + 0.05 / c_f), row[k].droop_50ms_v, 0.005);
    double middle_s = 0.05 - STEP_S / 2;
    assert_near(12.6 - lowest_v(system, 0.05), DRAW_A * (esr_ohm + middle_s / c_f), 3e-3);
    double half_s = (0.5 / DRAW_A - esr_ohm) * c_f, whole_s = STEP_S * round(half_s / STEP_S);
    assert_near(half_s, row[k].to_half_volt_s, 0.51 * row[k].digit_s);
    assert_near(12.6 - lowest_v(system, whole_s), 0.5, DRAW_A / c_f * STEP_S + 3e-3);
    tailvolt_system_free(system);
  }
  /* 100 A for 20 ms from 1 F, 2 mohm: 0.2 + 2.0 V */
  struct tailvolt_system *system = with_capacitor(12.6, 100, 1, 0.002);
  struct tailvolt_result *r = scene_hold(system, "supply_a:bass", 100, 0.02, STEP_S);
  assert_near(12.6 - r->amplifiers[0].min_v, 0.2 + 2.0 - 100 * STEP_S / 2, 2e-3);
  tailvolt_result_free(r);
  tailvolt_system_free(system);
}

/* U(t) = Uoc - I Rs (1 - Rs/(Rs + ESR) e^(-t/tau)), tau = (Rs + ESR) C */
static double step_response_v(double t_s, double capacitance_f, double esr_ohm) {
  double series_ohm = 0.02, tau_s = (series_ohm + esr_ohm) * capacitance_f;
  return 13.8 - DRAW_A * series_ohm * (1 - series_ohm / (series_ohm + esr_ohm) * exp(-t_s / tau_s));
}

static void step_response_table(void **state) {
  (void)state;
  static const double at_s[6] = {5e-3, 20e-3, 50e-3, 0.1, 0.5, 1};
  static const struct {
    double capacitance_f, esr_ohm, at_once_v, v[6];
  } row[] = {{1, 0.002, 13.585, {13.149, 12.304, 11.661, 11.463, 11.440, 11.440}},
             {5, 0.002, 13.585, {13.490, 13.229, 12.802, 12.304, 11.463, 11.440}},
             {500, 0.0021, 13.576, {13.575, 13.572, 13.566, 13.557, 13.481, 13.391}}};
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    double c_f = row[k].capacitance_f, esr_ohm = row[k].esr_ohm;
    struct tailvolt_system *system = with_capacitor(13.8, 0.02, c_f, esr_ohm);
    assert_near(step_response_v(0, c_f, esr_ohm), row[k].at_once_v, 0.0006);
    assert_near(lowest_v(system, STEP_S), step_response_v(STEP_S / 2, c_f, esr_ohm), 1e-4);
    for (int j = 0; j < 6; j++) {
      assert_near(step_response_v(at_s[j], c_f, esr_ohm), row[k].v[j], 0.0006);
      assert_near(lowest_v(system, at_s[j]), step_response_v(at_s[j] - STEP_S / 2, c_f, esr_ohm), 2e-4);
    }
    tailvolt_system_free(system);
  }
  /* no capacitor */
  struct tailvolt_system *system = scene_stiff(13.8, 0.02, "");
  assert_near(lowest_v(system, 0.01), 11.440, 1e-3);
  tailvolt_system_free(system);
}

/* ---- ripple: amplitude of the terminal voltage for a sinusoidal draw ---- */

struct swing {
  int column;
  double from_s, low_v, high_v;
};

static int find_column(void *context, const char *const *names, int count) {
  struct swing *swing = context;
  swing->column = -1;
  for (int k = 0; k < count && swing->column < 0; k++)
    if (strstr(names[k], "meter") != NULL || strstr(names[k], "there") != NULL) swing->column = k;
  return swing->column < 0;
}

static int take_row(void *context, const double *cells, int count) {
  struct swing *swing = context;
  assert_true(swing->column < count);
  if (cells[0] < swing->from_s) return 0;
  swing->low_v = fmin(swing->low_v, cells[swing->column]);
  swing->high_v = fmax(swing->high_v, cells[swing->column]);
  return 0;
}

/* Amplitude of the terminal voltage for 150 A + amplitude_a sin(2 pi f t), once the start has died away. */
static double ripple_v(struct tailvolt_system *system, double amplitude_a, double hz, double duration_s) {
  int rows = (int)lround(duration_s / STEP_S) + 1;
  struct tailvolt_row *row = calloc((size_t)rows, sizeof *row);
  struct tailvolt_amplifier_row *draw = calloc((size_t)rows, sizeof *draw);
  assert_true(row != NULL && draw != NULL);
  for (int k = 0; k < rows; k++) {
    double w = 2 * PI * hz, a = k * STEP_S, b = a + STEP_S;
    draw[k] = (struct tailvolt_amplifier_row){.programme = TAILVOLT_SILENCE,
                                              .powered = true,
                                              .output_w = (double)NAN,
                                              .supply_w = (double)NAN,
                                              .supply_a = 150 + amplitude_a * (cos(w * a) - cos(w * b)) /
                                                                    (w * STEP_S)};
    row[k] = (struct tailvolt_row){
        .time_s = a, .ambient_c = 25, .set_point_v = (double)NAN, .amplifier = &draw[k]};
  }
  struct tailvolt_profile *profile = NULL;
  assert_int_equal(tailvolt_profile_from_rows(row, rows, "ripple", system, &profile), TAILVOLT_OK);
  free(row), free(draw);
  struct swing swing = {.from_s = duration_s - 1 / hz - 1e-9, .low_v = 1e9, .high_v = -1e9};
  struct tailvolt_record_sink sink = {&swing, find_column, take_row};
  struct tailvolt_options options = scene_isothermal();
  options.time_step_s = STEP_S;
  options.record_every_s = STEP_S;
  options.record = &sink;
  tailvolt_result_free(scene_run(system, profile, &options));
  tailvolt_profile_free(profile);
  return (swing.high_v - swing.low_v) / 2;
}

/* |Z| of Rs parallel to (ESR + 1/jwC), times the draw's amplitude. */
static double impedance_v(double amplitude_a, double hz, double capacitance_f, double esr_ohm) {
  double reactance_ohm = 1 / (2 * PI * hz * capacitance_f);
  return amplitude_a * 0.02 * hypot(esr_ohm, reactance_ohm) / hypot(0.02 + esr_ohm, reactance_ohm);
}

/* A 40 Hz note draws at 80 Hz, a beat at 2 Hz: 1 F removes the first and leaves the second. */
static void ripple_table(void **state) {
  (void)state;
  static const struct {
    double capacitance_f, esr_ohm, hz, v, digit_v;
  } row[] = {{0.1, 0.002, 80, 1.348, 0.001}, {1, 0.002, 80, 0.255, 0.001},    {1, 0.020, 80, 1.004, 0.001},
             {5, 0.002, 80, 0.185, 0.001},   {500, 0.0021, 80, 0.190, 0.001}, {1, 0.002, 2, 2 * 0.96, 0.02}};
  static const char meter[] =
      "idle current = 0 A\n[meter there]\npositive = amplifier plus\nnegative = ground\n";
  struct tailvolt_system *bare = scene_stiff(13.8, 0.02, meter);
  /* step means of a sine: sinc(f h) of its amplitude, 1e-4 here */
  assert_near(ripple_v(bare, 100, 80, 0.5), 2.00, 2e-3);
  tailvolt_system_free(bare);
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    char more[512];
    snprintf(more, sizeof more,
             "%s[capacitor stiffener]\npositive = amplifier plus\nnegative = ground\ncapacitance = %.9g "
             "F\nesr = %.9g mohm\n",
             meter, row[k].capacitance_f, 1e3 * row[k].esr_ohm);
    struct tailvolt_system *system = scene_stiff(13.8, 0.02, more);
    double exact_v = impedance_v(100, row[k].hz, row[k].capacitance_f, row[k].esr_ohm);
    assert_near(exact_v, row[k].v, 0.6 * row[k].digit_v);
    /* 500 F has a time constant of 11 s: within one period it still falls by some millivolts */
    assert_near(ripple_v(system, 100, row[k].hz, row[k].hz < 10 ? 3 : 1), exact_v, 3e-3);
    tailvolt_system_free(system);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(droop_table),
      cmocka_unit_test(step_response_table),
      cmocka_unit_test(ripple_table),
  };
  return cmocka_run_group_tests_name("capacitors", tests, NULL, NULL);
}
