/* What an amplifier draws at its terminals, against worked tables and measured devices.
 *
 * Each row is a run of the simulator on a stiff source, so the test covers the path from the profile's column
 * to the terminal voltage, not just a formula. */
#include "support/assert_near.h"

#include <stdio.h>

#include "parts/amplifier.h"
#include "support/scenes.h"

#define PI 3.14159265358979323846
#define STIFF_OHM 2e-5

/* Mean supply power of `system` while its speakers get output_w. */
static double supply_w(const struct tailvolt_system *system, double output_w) {
  struct tailvolt_result *r = scene_hold(system, "output_w:bass", output_w, 0.1, 1e-3);
  double power_w = r->amplifiers[0].input_j / 0.1;
  assert_near_rel(r->amplifiers[0].output_j, output_w * 0.1, 1e-9);
  tailvolt_result_free(r);
  return power_w;
}

/* Ideal class B stage: P_in = (4/pi) sqrt(P_out P_max), efficiency (pi/4) sqrt(P_out/P_max): any
 * textbook on power amplifiers. A label of 78.54 % and no idle draw is that stage. */
static void class_b_table(void **state) {
  (void)state;
  static const struct {
    double share, in_share, efficiency_pct;
  } row[] = {{1, 1.2732, 78.5},     {0.5, 0.9003, 55.5},  {1.0 / 3, 0.7351, 45.3}, {0.25, 0.6366, 39.3},
             {0.125, 0.4502, 27.8}, {0.05, 0.2847, 17.6}, {0.01, 0.1273, 7.9}};
  struct tailvolt_system *system =
      scene_stiff(13.8, STIFF_OHM,
                  "rated voltage = 13.8 V\ntopology = ab\nsupply = regulated\n"
                  "efficiency = 78.539816 %\nidle current = 0 A\n[programme tone]\nbass note = 0 Hz\n");
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    double in_w = supply_w(system, 1000 * row[k].share);
    assert_near(in_w / 1000, row[k].in_share, 5e-5);
    assert_near(100 * 1000 * row[k].share / in_w, row[k].efficiency_pct, 0.05);
    /* dissipation is greatest, and equals the output, at 4/pi^2 */
    assert_true(in_w - 1000 * row[k].share <= 1000 * 4 / (PI * PI) + 1e-6);
  }
  assert_near_rel(supply_w(system, 4000 / (PI * PI)), 2 * 4000 / (PI * PI), 1e-6);
  tailvolt_system_free(system);
}

/* A whole class AB amplifier: rail 1.10 times the clip voltage, converter 85 %, idle 2.5 A, 13.8 V:
 * (4/pi) 1.10 sqrt(P P_rated) / 0.85 + 13.8 V 2.5 A (factors: common practice). */
static void class_ab_worked(void **state) {
  (void)state;
  static const struct {
    double share, in_w, a, efficiency_pct;
  } row[] = {{1, 1682.2, 121.90, 59.4}, {1.0 / 3, 985.8, 71.44, 33.8}, {0.125, 617.1, 44.71, 20.3}};
  struct tailvolt_system *system =
      scene_stiff(13.8, STIFF_OHM,
                  "rated voltage = 13.8 V\ntopology = ab\nsupply = regulated\n"
                  "efficiency = 59.4457 %\nidle current = 2.5 A\n[programme tone]\nbass note = 0 Hz\n");
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    double in_w = supply_w(system, 1000 * row[k].share);
    /* the source sags by 20 uohm: 0.3 W of 1682 W */
    assert_near(in_w, row[k].in_w, 0.35);
    assert_near(in_w / 13.8, row[k].a, 0.03);
    assert_near(100 * 1000 * row[k].share / in_w, row[k].efficiency_pct, 0.06);
  }
  tailvolt_system_free(system);
}

/* Class D: one loss constant, one proportional: P_in = V I_q + P (1/eta - V I_q/P_rated). */
static void class_d_table(void **state) {
  (void)state;
  static const struct {
    double share, in_w, a, efficiency_pct;
  } row[] = {{1, 1219.5, 88.37, 82.0},   {0.5, 618.0, 44.79, 80.9},   {1.0 / 3, 417.5, 30.26, 79.8},
             {0.25, 317.3, 22.99, 78.8}, {0.125, 166.9, 12.10, 74.9}, {0.05, 76.7, 5.56, 65.2},
             {0.01, 28.6, 2.07, 35.0},   {0, 16.6, 1.20, 0}};
  struct tailvolt_system *system =
      scene_stiff(13.8, STIFF_OHM,
                  "rated voltage = 13.8 V\ntopology = d\nsupply = regulated\n"
                  "efficiency = 82 %\nidle current = 1.2 A\n[programme tone]\nbass note = 0 Hz\n");
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    double in_w = supply_w(system, 1000 * row[k].share);
    assert_near(in_w, row[k].in_w, 0.06);
    assert_near(in_w / 13.8, row[k].a, 0.006);
    assert_near(100 * 1000 * row[k].share / in_w, row[k].efficiency_pct, 0.06);
  }
  tailvolt_system_free(system);
}

/* A class D chip of 10 W a channel measured at 12 V (a maker's data sheet): its loss line, 0.563 W + 0.2210
 * P, is within 1 point of the measured efficiency. */
static void class_d_chip_as_measured(void **state) {
  (void)state;
  static const struct {
    double output_w, measured_pct, line_pct;
  } row[] = {{0.5, 41.7, 42.6}, {2, 66.7, 66.6}, {5, 75.1, 75.0}, {8, 78.0, 77.4}, {10, 77.9, 78.3}};
  struct tailvolt_system *system = scene_stiff(
      12, STIFF_OHM,
      "rated power = 10 W\nrated voltage = 12 V\ntopology = d\nsupply = regulated\nefficiency = 78.290 %\n"
      "idle current = 46.917 mA\n[programme tone]\nbass note = 0 Hz\n");
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    double efficiency_pct = 100 * row[k].output_w / supply_w(system, row[k].output_w);
    assert_near(efficiency_pct, row[k].line_pct, 0.06);
    assert_near(efficiency_pct, row[k].measured_pct, 1.0);
  }
  tailvolt_system_free(system);
}

/* Constant power behind a resistance: V = (E + sqrt(E^2 - 4 R P)) / 2, the upper of two solutions. */
static void solvability_table(void **state) {
  (void)state;
  static const struct {
    double source_v, series_ohm, power_w, upper_v, a;
  } row[] = {{12.6, 0.020, 1000, 10.73734, 93.133},   {13.8, 0.020, 1000, 12.15452, 82.274},
             {13.8, 0.015, 1219.5, 12.31456, 99.029}, {14.4, 0.010, 1219.5, 13.49643, 90.357},
             {12.0, 0.030, 1000, 8.44949, 118.350},   {12.6, 0.020, 800, 11.1672, 71.638}};
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    struct tailvolt_system *system = scene_stiff(row[k].source_v, row[k].series_ohm, "");
    struct tailvolt_result *r = scene_hold(system, "supply_w:bass", row[k].power_w, 0.01, 1e-3);
    assert_near(r->amplifiers[0].mean_v, row[k].upper_v, 1e-4);
    assert_near(r->amplifiers[0].mean_a, row[k].a, 2e-3);
    assert_near(r->amplifiers[0].rest_v, row[k].source_v, 1e-9);
    assert_int_equal(r->amplifiers[0].collapses, 0);
    tailvolt_result_free(r);
    tailvolt_system_free(system);
  }
}

/* No solution above E^2/4R = 1200 W: reported as a collapse with its time, and the amplifier is off. */
static void collapse(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_stiff(12, 0.030, "");
  struct tailvolt_result *r = scene_hold(system, "supply_w:bass", 1199.9, 0.01, 1e-3);
  assert_int_equal(r->amplifiers[0].collapses, 0);
  assert_near(r->amplifiers[0].min_v, 6 + sqrt(36 - 0.030 * 1199.9), 0.01);
  tailvolt_result_free(r);
  struct tailvolt_profile *profile =
      scene_profile(system, "time_s,supply_w:bass\n0,600\n0.25,1201\n0.5,1201\n");
  struct tailvolt_options options = scene_isothermal();
  r = scene_run(system, profile, &options);
  assert_int_equal(r->amplifiers[0].collapses, 1);
  assert_int_equal(r->amplifiers[0].cut_outs, 1);
  assert_near(r->amplifiers[0].first_collapse_s, 0.25, 1e-9);
  assert_near(r->amplifiers[0].off_s, 0.25, 2e-3);
  assert_true(isfinite(r->amplifiers[0].mean_v) && isfinite(r->amplifiers[0].min_v));
  assert_int_equal(r->status, TAILVOLT_FAILS);
  tailvolt_result_free(r);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

/* The comparator acts first wherever its voltage is above E/2: V_uv (E - V_uv)/R is the most that still
 * plays. */
static void cut_out_comes_first(void **state) {
  (void)state;
  static const struct {
    double source_v, series_ohm, most_w;
  } row[] = {{12.6, 0.020, 1300}, {13.8, 0.020, 1900}, {12.0, 0.030, 2000.0 / 3}};
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    struct tailvolt_system *system = scene_stiff(row[k].source_v, row[k].series_ohm, "");
    system->amplifiers[0].cut_out_v = 10;
    system->amplifiers[0].cut_in_v = 11;
    struct tailvolt_result *r = scene_hold(system, "supply_w:bass", row[k].most_w - 1, 0.5, 1e-3);
    assert_int_equal(r->amplifiers[0].cut_outs, 0);
    assert_true(r->amplifiers[0].min_v > 10);
    tailvolt_result_free(r);
    r = scene_hold(system, "supply_w:bass", row[k].most_w + 1, 0.5, 1e-3);
    assert_int_equal(r->amplifiers[0].cut_outs, 1);
    assert_int_equal(r->amplifiers[0].collapses, 0);
    /* after 20 ms continuously below it; then the terminals recover, and stay above cut-in for less than 1
     * s */
    assert_near(r->amplifiers[0].off_s, 0.48, 2e-3);
    tailvolt_result_free(r);
    tailvolt_system_free(system);
  }
}

/* Off 1 s, then 0.5 s of ramp, then below again near its end: the cycle lasts about 1.52 s. */
static void cut_out_cycles(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_stiff(12.6, 0.020, "");
  system->amplifiers[0].cut_out_v = 10;
  system->amplifiers[0].cut_in_v = 11;
  struct tailvolt_result *r = scene_hold(system, "supply_w:bass", 1301, 10, 1e-3);
  assert_int_equal(r->amplifiers[0].cut_outs, 7); /* at 0.02, 1.54, 3.06 ... 9.14 s */
  assert_near(r->amplifiers[0].off_s, 6 + (10 - 0.02 - 6 * 1.52), 0.03);
  tailvolt_result_free(r);
  tailvolt_system_free(system);
}

/* 1000 W wanted at 13.8 V through 20 mohm, for the three behaviours of a load. */
static void three_behaviours(void **state) {
  (void)state;
  static const struct {
    const char *behaves;
    double v, a;
  } row[] = {
      {"constant power", 12.155, 82.27}, {"constant current", 12.351, 72.46}, {"resistor", 12.488, 65.58}};
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    char more[512];
    snprintf(
        more, sizeof more,
        "idle current = 0 A\n[load heater]\npositive = amplifier plus\nnegative = ground\npower = 1000 W\n"
        "rated voltage = 13.8 V\nbehaves = %s\n[meter there]\npositive = amplifier plus\nnegative = ground\n",
        row[k].behaves);
    struct tailvolt_system *system = scene_stiff(13.8, 0.020, more);
    struct tailvolt_profile *profile =
        scene_profile(system, "time_s,load:heater,programme\n0,1,silence\n0.1,1,silence\n");
    struct tailvolt_options options = scene_isothermal();
    struct tailvolt_result *r = scene_run(system, profile, &options);
    assert_near(r->meters[0].mean_v, row[k].v, 1e-3);
    assert_near(r->conductors[0].rms_a, row[k].a, 0.02);
    tailvolt_result_free(r);
    tailvolt_profile_free(profile);
    tailvolt_system_free(system);
  }
}

/* Below clipping a class AB amplifier with an unregulated supply draws the same current at any voltage; a
 * class D or regulated one the same power. */
static void unregulated_below_clip(void **state) {
  (void)state;
  static const struct {
    const char *topology, *supply;
    bool constant_current;
  } row[] = {{"ab", "unregulated", true},
             {"ab", "regulated", false},
             {"d", "unregulated", false},
             {"d", "regulated", false}};
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    double a[2], v[2];
    for (int thin = 0; thin < 2; thin++) {
      char more[256];
      snprintf(more, sizeof more,
               "topology = %s\nsupply = %s\nidle current = 0 A\n[programme tone]\nbass note = 0 Hz\n",
               row[k].topology, row[k].supply);
      struct tailvolt_system *system = scene_stiff(13.8, thin ? 0.030 : STIFF_OHM, more);
      struct tailvolt_result *r = scene_hold(system, "output_w:bass", 400, 0.1, 1e-3);
      a[thin] = r->amplifiers[0].mean_a;
      v[thin] = r->amplifiers[0].mean_v;
      tailvolt_result_free(r);
      tailvolt_system_free(system);
    }
    assert_true(v[0] - v[1] > 0.5);
    if (row[k].constant_current)
      assert_near_rel(a[1], a[0], 1e-9);
    else
      assert_near_rel(a[1] * v[1], a[0] * v[0], 1e-9);
  }
}

/* Level against current: class D as above, programme of 9 dB crest factor on 13.8 V. Mean supply power
 * is linear in the output, so the mean current follows the level whatever the beat. */
static void level_table(void **state) {
  (void)state;
  static const struct {
    double level_db, mean_a, peak_a;
  } row[] = {{0, 23.15, 88.37}, {-1, 18.63, 70.44}, {-3, 12.20, 44.89}, {-6, 6.71, 23.10}, {-9, 3.96, 12.17},
             {-12, 2.58, 6.70}, {-15, 1.89, 3.96},  {-20, 1.42, 2.07},  {-30, 1.22, 1.29}};
  struct tailvolt_system *system =
      scene_stiff(13.8, STIFF_OHM,
                  "rated voltage = 13.8 V\ntopology = d\nsupply = regulated\nefficiency = 82 %\n"
                  "idle current = 1.2 A\n[programme club]\nphrases = 0 %\ncrest factor = 9 dB\ntempo = 120 /min\n"
                  "decay = 120 ms\nbass note = 0 Hz\n");
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    struct tailvolt_result *r = scene_hold(system, "level_db", row[k].level_db, 16, 1e-3);
    assert_near(r->amplifiers[0].mean_a, row[k].mean_a, 0.01);
    /* the first step's mean of the decay over the floor of 0.0203; and the source sags by 20 uohm */
    double above_a = row[k].peak_a - 1.2, sag = 1 + row[k].peak_a * STIFF_OHM / 13.8;
    double decayed = 1 - 0.9797 * (1 - 0.12 / 1e-3 * -expm1(-1e-3 / 0.12));
    assert_near(r->amplifiers[0].peak_a, 1.2 + above_a * decayed * sag, 0.0055);
    tailvolt_result_free(r);
  }
  tailvolt_system_free(system);
}

/* Source 13.8 V behind 15 mohm, mean 1219.5 W in a 40 Hz note, 5 mohm between the terminals and the
 * storage inside; reference by an integration at 2 us. */
static void ripple_table(void **state) {
  (void)state;
  static const struct {
    const char *name;
    double internal_f, hz;
    bool capacitor;
    double min_v, mean_v, rms_a, mean_a;
  } row[] = {{"envelope only", 0.2125, 0, false, 12.239, 12.239, 104.1, 104.1},
             {"10 mF", 0.010, 40, false, 8.86, 11.84, 170.4, 130.5},
             {"50 mF", 0.050, 40, false, 10.13, 12.02, 143.9, 118.4},
             {"0.2125 F", 0.2125, 40, false, 11.51, 12.21, 111.1, 106.2},
             {"10 mF and 1 F", 0.010, 40, true, 11.89, 12.17, 109.4, 108.6},
             {"0.2125 F and 1 F", 0.2125, 40, true, 12.01, 12.21, 106.7, 106.3}};
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    char more[512];
    snprintf(more, sizeof more,
             "topology = d\nsupply = regulated\nefficiency = 82 %%\nidle current = 0 A\n"
             "internal capacitance = %.6g F\ninternal resistance = 5 mohm\n[programme tone]\nbass note = "
             "%.6g Hz\n%s",
             row[k].internal_f, row[k].hz,
             row[k].capacitor
                 ? "[capacitor stiffener]\npositive = amplifier plus\nnegative = ground\ncapacitance = 1 F\n"
                   "esr = 2 mohm\n"
                 : "");
    struct tailvolt_system *system = scene_stiff(13.8, 0.015, more);
    struct tailvolt_result *r = scene_hold(system, "output_w:bass", 1000, 10, 0.25e-3);
    const struct tailvolt_amplifier_result *a = &r->amplifiers[0];
    print_message("%s: min %.3f V (%.2f), mean %.3f V (%.2f), rms %.2f A (%.1f), mean %.2f A (%.1f)\n",
                  row[k].name, a->min_v, row[k].min_v, a->mean_v, row[k].mean_v, r->conductors[0].rms_a,
                  row[k].rms_a, a->mean_a, row[k].mean_a);
    assert_near(a->min_v, row[k].min_v, 0.05);
    assert_near(a->mean_v, row[k].mean_v, 0.05);
    assert_near(r->conductors[0].rms_a, row[k].rms_a, 1.0);
    assert_near((13.8 - a->mean_v) / 0.015, row[k].mean_a, 1.0);
    if (row[k].hz > 0) {
      /* the mean over whole ripple periods hardly depends on ripple */
      assert_true(a->min_without_ripple_v > a->min_v + 0.1);
      assert_near(a->min_without_ripple_v, a->mean_v, 0.05);
    }
    tailvolt_result_free(r);
    tailvolt_system_free(system);
  }
}

/* Without smoothing a sustained tone heats the cable 1.5 times (class D) or 1.2337 times (class AB) as
 * much as its mean current would: here the draw itself, at a stiff source. */
static void ripple_heats_the_cable(void **state) {
  (void)state;
  static const struct {
    const char *topology;
    double rms_over_mean, peak_over_mean;
  } row[] = {{"d", 1.2247, 2}, {"ab", 1.1107, 1.5708}};
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
    char more[256];
    snprintf(more, sizeof more,
             "topology = %s\nsupply = regulated\nidle current = 0 A\n[programme tone]\nbass note = 40 Hz\n",
             row[k].topology);
    struct tailvolt_system *system = scene_stiff(13.8, STIFF_OHM, more);
    struct tailvolt_result *r = scene_hold(system, "output_w:bass", 500, 1, 0.1e-3);
    assert_near(r->conductors[0].rms_a / r->amplifiers[0].mean_a, row[k].rms_over_mean, 1e-3);
    assert_near(r->amplifiers[0].peak_a / r->amplifiers[0].mean_a, row[k].peak_over_mean, 2e-3);
    /* the swing itself has zero mean */
    double mean_a = r->amplifiers[0].mean_a;
    tailvolt_result_free(r);
    system->programmes[0].bass_hz = 0;
    r = scene_hold(system, "output_w:bass", 500, 1, 1e-3);
    assert_near_rel(mean_a, r->amplifiers[0].mean_a, 2e-4);
    tailvolt_result_free(r);
    tailvolt_system_free(system);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(class_b_table),
      cmocka_unit_test(class_ab_worked),
      cmocka_unit_test(class_d_table),
      cmocka_unit_test(class_d_chip_as_measured),
      cmocka_unit_test(solvability_table),
      cmocka_unit_test(collapse),
      cmocka_unit_test(cut_out_comes_first),
      cmocka_unit_test(cut_out_cycles),
      cmocka_unit_test(three_behaviours),
      cmocka_unit_test(unregulated_below_clip),
      cmocka_unit_test(level_table),
      cmocka_unit_test(ripple_table),
      cmocka_unit_test(ripple_heats_the_cable),
  };
  return cmocka_run_group_tests_name("amplifiers", tests, NULL, NULL);
}
