/* Amplifiers in a run: power taken from idle to clipping and beyond at every supply voltage, the cost of sag, many on
 * one feed, and how often they cut out. The balance of the energy books is checked in every run (scene_run). */
#include "support/assert_near.h"

#include <stdio.h>
#include <string.h>

#include "support/scene_record.h"

#define PI 3.14159265358979323846
#define STIFF_OHM 2e-5
#define RATED_W 500.0
#define RATED_V 14.4
#define IDLE_A 1.5
#define EFFICIENCY 0.7
#define LEVELS 41
#define SMALL_W 5.0
#define OVERDRIVE_W 1e5 /* 43 dB above it: a square wave */

static struct tailvolt_system *amplifier(double rated_w, double source_v, bool class_ab, bool regulated) {
  char more[512];
  snprintf(more, sizeof more,
           "rated power = %g W\nrated voltage = %g V\ntopology = %s\nsupply = %s\nefficiency = %g %%\n"
           "idle current = %g A\n[programme tone]\nbass note = 0 Hz\n",
           rated_w, RATED_V, class_ab ? "ab" : "d", regulated ? "regulated" : "unregulated", 100 * EFFICIENCY, IDLE_A);
  return scene_stiff(source_v, STIFF_OHM, more);
}

/* Mean power of a clipped sine by definition: a sine of power `drive_w` cut at the peak of one of power `clip_w`,
 * squared and averaged over many points of a quarter period. */
static double clipped_w(double drive_w, double clip_w) {
  const int points = 200000;
  double sum_w = 0;
  for (int k = 0; k < points; k++) {
    double v = sqrt(2 * drive_w) * sin(0.5 * PI * (k + 0.5) / points), most = sqrt(2 * clip_w);
    sum_w += v < most ? v * v : most * most;
  }
  return sum_w / points;
}

/* Worked examples at 13.8 V: class D by measured loss lines, class AB by the half-sines that each rail gives. Published
 * loss fits and the textbook's class B, worked out by hand: 1000 W; class D 82 %, idle 1.2 A; class AB 59.45 %, idle 2.5 A. */
static void input_power_as_worked_out(void **state) {
  (void)state;
  static const struct { double output_w, class_d_w, class_ab_w; } row[] = {
      {1000, 1219.5, 1682.2}, {500, 618.0, NAN}, {1000.0 / 3, 417.5, 985.8}, {250, 317.3, NAN},
      {125, 166.9, 617.1},    {50, 76.7, NAN},   {10, 28.6, NAN},            {0, 16.6, 34.5}};
  for (int ab = 0; ab < 2; ab++) {
    char more[512];
    snprintf(more, sizeof more,
             "rated power = 1000 W\nrated voltage = 13.8 V\ntopology = %s\nsupply = regulated\nefficiency = %s %%\n"
             "idle current = %s A\n[programme tone]\nbass note = 0 Hz\n",
             ab ? "ab" : "d", ab ? "59.446" : "82", ab ? "2.5" : "1.2");
    struct tailvolt_system *system = scene_stiff(13.8, STIFF_OHM, more);
    for (size_t k = 0; k < sizeof row / sizeof row[0]; k++) {
      double wanted_w = ab ? row[k].class_ab_w : row[k].class_d_w;
      if (isnan(wanted_w)) continue;
      struct tailvolt_result *r = scene_hold(system, "output_w:bass", row[k].output_w, 0.05, 1e-3);
      assert_near(r->amplifiers[0].input_j / 0.05, wanted_w, 0.08);
      assert_near(r->amplifiers[0].output_j / 0.05, row[k].output_w, 1e-6);
      tailvolt_result_free(r);
    }
    tailvolt_system_free(system);
  }
}

/* Driven past clipping it delivers the power of a clipped sine: at 3, 6 and 12 dB over, against the sine cut point by
 * point. */
static void overdriven_delivery(void **state) {
  (void)state;
  static const double over_db[] = {0.5, 3, 6, 12};
  struct tailvolt_system *system = amplifier(RATED_W, RATED_V, false, true);
  for (size_t k = 0; k < sizeof over_db / sizeof over_db[0]; k++) {
    double drive_w = RATED_W * pow(10, over_db[k] / 10);
    struct tailvolt_result *r = scene_hold(system, "output_w:bass", drive_w, 0.05, 1e-3);
    assert_near_rel(r->amplifiers[0].output_j / 0.05, clipped_w(drive_w, RATED_W), 1e-5);
    tailvolt_result_free(r);
  }
  tailvolt_system_free(system);
  /* a square wave carries twice the power of the sine that just clips */
  system = amplifier(SMALL_W, RATED_V, false, true);
  struct tailvolt_result *r = scene_hold(system, "output_w:bass", OVERDRIVE_W, 0.05, 1e-3);
  assert_near_rel(r->amplifiers[0].output_j / 0.05, 2 * SMALL_W, 5e-3); /* 43 dB over is not quite square */
  tailvolt_result_free(r);
  tailvolt_system_free(system);
}

/* Levels from nothing to twice the rated power, 10 to 15 V, classes AB and D, regulated and not: never less power for more
 * output, steady beyond clipping, idle draw alone in silence. */
static void input_power_is_monotone(void **state) {
  (void)state;
  struct tailvolt_options options = scene_isothermal();
  options.time_step_s = 1e-3;
  int checked = 0;
  for (int kind = 0; kind < 4; kind++) {
    bool class_ab = kind & 1, regulated = kind & 2;
    for (double source_v = 10; source_v < 15.01; source_v += 0.5) {
      struct tailvolt_system *system = amplifier(RATED_W, source_v, class_ab, regulated);
      char text[4096] = "time_s,output_w:bass\n";
      for (int k = 0; k <= LEVELS; k++)
        snprintf(text + strlen(text), sizeof text - strlen(text), "%.2f,%.9g\n", 0.01 * k,
                 RATED_W * 2 * (k < LEVELS ? k : LEVELS - 1) / (LEVELS - 1));
      struct scene_record record;
      scene_record_run(system, text, &options, 0.01, &record);
      double before_w = 0;
      for (int k = 0; k < LEVELS; k++) {
        double v = scene_record_at(&record, "bass:v_mean", 0.01 * k), a = scene_record_at(&record, "bass:a_mean", 0.01 * k);
        if (k == 0) assert_near(a, IDLE_A, 1e-9);
        if (k > 0) assert_true(v * a > before_w);
        /* rated power at rated voltage is taken with the efficiency on the label */
        if (k == (LEVELS - 1) / 2 && regulated && source_v == 14.5)
          assert_near_rel(v * a, RATED_W / EFFICIENCY + (v - RATED_V) * IDLE_A, 1e-9);
        before_w = v * a;
        checked++;
      }
      assert_int_equal(record.result->amplifiers[0].cut_outs, 0);
      scene_record_free(&record);
      tailvolt_system_free(system);
    }
  }
  assert_int_equal(checked, 4 * 11 * LEVELS);
}

/* At one output the supply falls from 15 to 10 V: a regulated amplifier and class D draw more current for the same power, class
 * AB without regulation the same current, and less beyond its clip level. */
static void current_against_voltage(void **state) {
  (void)state;
  for (int kind = 0; kind < 4; kind++) {
    bool class_ab = kind & 1, regulated = kind & 2;
    double before_a = 0;
    for (double source_v = 15; source_v > 9.99; source_v -= 0.5) {
      struct tailvolt_system *system = amplifier(RATED_W, source_v, class_ab, regulated);
      struct tailvolt_result *r = scene_hold(system, "output_w:bass", 200, 0.02, 1e-3); /* below clip down to 9.2 V */
      double a = r->amplifiers[0].mean_a;
      if (before_a > 0 && class_ab && !regulated) assert_near_rel(a, before_a, 1e-9);
      if (before_a > 0 && (regulated || !class_ab)) assert_true(a > before_a);
      before_a = a;
      tailvolt_result_free(r);
      tailvolt_system_free(system);
    }
  }
}

/* Output lost to sag, 20 log10(V / 14.4 V) at clip with an unregulated supply, none with a regulated one. Driven far into
 * clipping (a square wave) the delivered power is twice the clip power at any voltage, so the figures are exact; at the clip
 * level itself it is the undistorted power that falls this far. */
static void what_sag_costs(void **state) {
  (void)state;
  static const struct { double v, lost_db, share; } row[] = {
      {14.4, 0, 1},          {13.8, 0.370, 0.9184}, {13.2, 0.756, 0.8403}, {12.6, 1.160, 0.7656}, {12.0, 1.584, 0.6944},
      {11.5, 1.953, 0.6378}, {11.0, 2.339, 0.5835}, {10.5, 2.743, 0.5317}, {10.0, 3.167, 0.4823}};
  for (size_t k = 0; k < sizeof row / sizeof row[0]; k++)
    for (int kind = 0; kind < 4; kind++) {
      bool class_ab = kind & 1, regulated = kind & 2;
      struct tailvolt_system *system = amplifier(SMALL_W, row[k].v, class_ab, regulated);
      struct tailvolt_result *r = scene_hold(system, "output_w:bass", OVERDRIVE_W, 0.05, 1e-3);
      double v = r->amplifiers[0].mean_v; /* the source sags by some mV */
      assert_near(v, row[k].v, 0.005);
      assert_near(r->amplifiers[0].lost_output_db, regulated ? 0 : row[k].lost_db, 0.01);
      tailvolt_result_free(r);
      /* just below its clip level it delivers all that is asked, just above less */
      double clip_w = SMALL_W * (regulated ? 1 : row[k].share);
      for (int above = 0; above < 2; above++) {
        double drive_w = clip_w * (above ? 1.02 : 0.995);
        r = scene_hold(system, "output_w:bass", drive_w, 0.05, 1e-3);
        double got_w = r->amplifiers[0].output_j / 0.05;
        if (above) assert_true(got_w < drive_w * 0.9995);
        else assert_near_rel(got_w, drive_w, 1e-9);
        tailvolt_result_free(r);
      }
      tailvolt_system_free(system);
    }
}

#define MANY 16
#define FEED_OHM 0.004
#define SOURCE_V 13.8

/* A feed, a distribution block, and MANY branches of their own resistance, each with an amplifier. */
static struct tailvolt_system *block(bool alike, double *branch_ohm) {
  char text[16384];
  int used = snprintf(text, sizeof text,
                      "[vehicle]\nname = Block\ncharging = none\n[battery source]\npositive = post\nnegative = ground\n"
                      "capacity = 1000 Ah\nstate of charge = 50 %%\nhealth = 100 %%\nresistance = 0.01 mohm\n"
                      "polarization = 0.001 mohm, 1000 s\nopen circuit = %g V at 0 %%, %g V at 100 %%\n"
                      "[joint feed]\nfrom = post\nto = block\nresistance = %.9g mohm\n",
                      SOURCE_V, SOURCE_V, 1e3 * FEED_OHM - 0.01);
  for (int k = 0; k < MANY; k++) {
    branch_ohm[k] = alike ? 0.020 : 0.010 + 0.002 * k;
    used += snprintf(text + used, sizeof text - (size_t)used,
                     "[joint branch %d]\nfrom = block\nto = plus %d\nresistance = %.9g mohm\n"
                     "[amplifier a%d]\npositive = plus %d\nnegative = ground\nrated power = 200 W\nrated voltage = 14.4 V\n"
                     "topology = d\nsupply = regulated\nefficiency = 80 %%\nidle current = 0.5 A\ncut-out voltage = 0 V\n"
                     "internal capacitance = 0.01 F\ninternal resistance = 1 mohm\n",
                     k, k, 1e3 * branch_ohm[k], k, k);
  }
  used += snprintf(text + used, sizeof text - (size_t)used,
                   "[meter block]\npositive = block\nnegative = ground\n[programme tone]\nbass note = 0 Hz\n");
  assert_true((size_t)used < sizeof text);
  struct tailvolt_system *system = scene_parse(text);
  for (int k = 0; k < MANY; k++) system->amplifiers[k].internal_f = system->amplifiers[k].internal_ohm = 0;
  return system;
}

/* Upper voltage solution for a draw of idle_a + power_w / V behind a resistance. */
static double branch_v(double feed_v, double ohm, double power_w, double idle_a) {
  double open_v = feed_v - ohm * idle_a;
  return 0.5 * (open_v + sqrt(open_v * open_v - 4 * ohm * power_w));
}

/* The block's voltage by bisection: the branches draw what the feed supplies. */
static double block_v(const double *branch_ohm, const double *power_w, double idle_a) {
  double low = 8, high = SOURCE_V;
  for (int round = 0; round < 100; round++) {
    double v = 0.5 * (low + high), drawn_a = 0;
    for (int k = 0; k < MANY; k++) drawn_a += (v - branch_v(v, branch_ohm[k], power_w[k], idle_a)) / branch_ohm[k];
    if (drawn_a * FEED_OHM > SOURCE_V - v) high = v;
    else low = v;
  }
  return 0.5 * (low + high);
}

static struct tailvolt_result *play_block(const struct tailvolt_system *system, const char *column, const double *value) {
  char text[4096] = "time_s";
  for (int k = 0; k < MANY; k++) snprintf(text + strlen(text), sizeof text - strlen(text), ",%s:a%d", column, k);
  for (int end = 0; end < 2; end++) {
    snprintf(text + strlen(text), sizeof text - strlen(text), "\n%g", 0.05 * end);
    for (int k = 0; k < MANY; k++) snprintf(text + strlen(text), sizeof text - strlen(text), ",%.9g", value[k]);
  }
  strcat(text, "\n");
  struct tailvolt_profile *profile = scene_profile(system, text);
  struct tailvolt_options options = scene_isothermal();
  options.time_step_s = 1e-3;
  struct tailvolt_result *r = scene_run(system, profile, &options);
  tailvolt_profile_free(profile);
  return r;
}

/* Sixteen alike: each sees E through its branch and sixteen times the feed. Sixteen different ones, with prescribed draws and
 * with their own: a nodal solve made here. */
static void many_on_one_feed(void **state) {
  (void)state;
  double ohm[MANY], draw_w[MANY], out_w[MANY];
  struct tailvolt_system *system = block(true, ohm);
  for (int k = 0; k < MANY; k++) draw_w[k] = 90;
  struct tailvolt_result *r = play_block(system, "supply_w", draw_w);
  double wanted_v = branch_v(SOURCE_V, ohm[0] + MANY * FEED_OHM, 90, 0);
  print_message("sixteen alike: %.4f V at each, %.3f V at the block\n", wanted_v, r->meters[0].mean_v);
  for (int k = 0; k < MANY; k++) assert_near(r->amplifiers[k].mean_v, wanted_v, 1e-7);
  assert_near(r->meters[0].mean_v, wanted_v + ohm[0] * 90 / wanted_v, 1e-7);
  tailvolt_result_free(r);
  tailvolt_system_free(system);

  system = block(false, ohm);
  for (int own = 0; own < 2; own++) {
    for (int k = 0; k < MANY; k++) {
      out_w[k] = 20 + 7.5 * k;
      draw_w[k] = own ? out_w[k] * (1 / 0.80 - 14.4 * 0.5 / 200) : 30 + 8.0 * k;
    }
    r = play_block(system, own ? "output_w" : "supply_w", own ? out_w : draw_w);
    double idle_a = own ? 0.5 : 0, at_block_v = block_v(ohm, draw_w, idle_a);
    assert_near(r->meters[0].mean_v, at_block_v, 1e-7);
    for (int k = 0; k < MANY; k++) {
      double v = branch_v(at_block_v, ohm[k], draw_w[k], idle_a);
      assert_near(r->amplifiers[k].mean_v, v, 1e-7);
      assert_near(r->amplifiers[k].mean_a, (at_block_v - v) / ohm[k], 1e-5);
      if (own) assert_near_rel(r->amplifiers[k].output_j, 0.05 * out_w[k], 1e-9);
    }
    tailvolt_result_free(r);
  }
  tailvolt_system_free(system);
}

/* Cut-out has a cycle of fixed length: 1 s off, a restart of 0.5 s during which the terminals fall below 10 V where the
 * growing draw passes V_uv (E - V_uv) / R, then 20 ms. The count over a minute follows, whatever the step. */
static void cut_outs_are_counted(void **state) {
  (void)state;
  static const double most_w = 10 * (12.6 - 10) / 0.020; /* 1300 W */
  static const double wanted_w[] = {1310, 1400, 1600, 1900};
  static const double step_s[] = {0.5e-3, 1e-3, 2e-3, 5e-3};
  for (size_t w = 0; w < sizeof wanted_w / sizeof *wanted_w; w++) {
    double cycle_s = 1 + 0.5 * most_w / wanted_w[w] + 0.020;
    int expected = 1 + (int)floor((60 - 0.020) / cycle_s);
    for (size_t s = 0; s < sizeof step_s / sizeof *step_s; s++) {
      struct tailvolt_system *system = scene_stiff(12.6, 0.020, "");
      system->amplifiers[0].cut_out_v = 10;
      system->amplifiers[0].cut_in_v = 11;
      struct tailvolt_result *r = scene_hold(system, "supply_w:bass", wanted_w[w], 60, step_s[s]);
      /* a cycle is whole steps: rounding up may cost one per minute with coarse ones */
      int late = step_s[s] > 1e-3 ? (int)floor((60 - 0.020) / (cycle_s + 3 * step_s[s])) + 1 : expected;
      if (r->amplifiers[0].cut_outs > expected || r->amplifiers[0].cut_outs < late)
        fail_msg("%g W, step %g ms: %d cut-outs, wanted %d (at least %d)", wanted_w[w], 1e3 * step_s[s],
                 r->amplifiers[0].cut_outs, expected, late);
      assert_int_equal(r->amplifiers[0].collapses, 0);
      tailvolt_result_free(r);
      tailvolt_system_free(system);
    }
    print_message("%4.0f W: a cycle of %.3f s, %d cut-outs a minute\n", wanted_w[w], cycle_s, expected);
  }
}

/* Within the hysteresis nothing happens: a draw that holds the terminals between cut-out and cut-in never trips; a source below
 * cut-in lets an amplifier trip once and keeps it off; a beat shorter than 20 ms below does not trip it. */
static void hysteresis_holds(void **state) {
  (void)state;
  struct tailvolt_system *system = scene_stiff(12.6, 0.020, "");
  system->amplifiers[0].cut_out_v = 10;
  system->amplifiers[0].cut_in_v = 11;
  for (double power_w = 1000; power_w < 1300; power_w += 33) {
    struct tailvolt_result *r = scene_hold(system, "supply_w:bass", power_w, 5, 1e-3);
    assert_true(r->amplifiers[0].min_v > 10 && r->amplifiers[0].min_v < 11);
    assert_int_equal(r->amplifiers[0].cut_outs, 0);
    tailvolt_result_free(r);
  }
  struct tailvolt_options options = scene_isothermal();
  options.time_step_s = 1e-3;
  char text[2048] = "time_s,supply_w:bass\n";
  for (int k = 0; k < 20; k++)
    snprintf(text + strlen(text), sizeof text - strlen(text), "%.3f,1500\n%.3f,100\n", 0.2 * k, 0.2 * k + 0.019);
  strcat(text, "4,100\n");
  struct tailvolt_profile *profile = scene_profile(system, text);
  struct tailvolt_result *r = scene_run(system, profile, &options);
  assert_true(r->amplifiers[0].min_v < 10);
  assert_int_equal(r->amplifiers[0].cut_outs, 0);
  tailvolt_result_free(r);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);

  system = scene_stiff(10.8, 0.020, "");
  system->amplifiers[0].cut_out_v = 10;
  system->amplifiers[0].cut_in_v = 11;
  r = scene_hold(system, "supply_w:bass", 600, 60, 1e-3);
  assert_int_equal(r->amplifiers[0].cut_outs, 1);
  assert_near(r->amplifiers[0].off_s, 60 - 0.020, 2e-3);
  tailvolt_result_free(r);
  tailvolt_system_free(system);
}

/* Sixteen on one feed that together draw too much trip together, come back together, and count alike. */
static void many_cut_out_together(void **state) {
  (void)state;
  double ohm[MANY], draw_w[MANY];
  struct tailvolt_system *system = block(true, ohm);
  for (int k = 0; k < MANY; k++) {
    draw_w[k] = 1; /* replaced below */
    system->amplifiers[k].cut_out_v = 10;
    system->amplifiers[k].cut_in_v = 11;
  }
  double most_w = 10 * (SOURCE_V - 10) / (ohm[0] + MANY * FEED_OHM);
  for (int above = 0; above < 2; above++) {
    for (int k = 0; k < MANY; k++) draw_w[k] = most_w * (above ? 1.1 : 0.999);
    char text[4096] = "time_s";
    for (int k = 0; k < MANY; k++) snprintf(text + strlen(text), sizeof text - strlen(text), ",supply_w:a%d", k);
    for (int end = 0; end < 2; end++) {
      snprintf(text + strlen(text), sizeof text - strlen(text), "\n%d", 20 * end);
      for (int k = 0; k < MANY; k++) snprintf(text + strlen(text), sizeof text - strlen(text), ",%.9g", draw_w[k]);
    }
    strcat(text, "\n");
    struct tailvolt_profile *profile = scene_profile(system, text);
    struct tailvolt_options options = scene_isothermal();
    options.time_step_s = 1e-3;
    struct tailvolt_result *r = scene_run(system, profile, &options);
    double cycle_s = 1 + 0.5 / 1.1 + 0.020;
    int expected = above ? 1 + (int)floor((20 - 0.020) / cycle_s) : 0;
    for (int k = 0; k < MANY; k++) assert_int_equal(r->amplifiers[k].cut_outs, expected);
    tailvolt_result_free(r);
    tailvolt_profile_free(profile);
  }
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(input_power_as_worked_out), cmocka_unit_test(overdriven_delivery),
      cmocka_unit_test(input_power_is_monotone), cmocka_unit_test(current_against_voltage),
      cmocka_unit_test(what_sag_costs),          cmocka_unit_test(many_on_one_feed),
      cmocka_unit_test(cut_outs_are_counted),    cmocka_unit_test(hysteresis_holds),
      cmocka_unit_test(many_cut_out_together),
  };
  return cmocka_run_group_tests_name("amplifiers in a run", tests, NULL, NULL);
}
