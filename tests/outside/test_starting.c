/* Starts against published figures: the worked cranking table, currents in the cold, and the voltage dip a
 * start may cause.
 *
 * Sources are beside each check. The simulated start goes through the cables of a system file, as in the
 * parked study; the law for the cold is the study's. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "parts/load.h"
#include "study/parked.h"
#include "support/assert_near.h"
#include "support/scenes.h"

struct start {
  double posts_v, starter_v;
};

/* A start with these currents right after rest: a rested battery needs no pause. */
static struct start crank(const char *battery, double ambient_c, double turning_a, double loop_mohm) {
  char text[2048];
  struct start start;
  snprintf(text, sizeof text,
           "[vehicle]\nambient = %.12g C\n"
           "[engine]\ncranking current = %.12g A\nbreakaway current = %.12g A\ncranking time = 2 s\n"
           "[alternator]\npositive = post\nnegative = engine block\nrated current = 90 A\n%s"
           "[joint starter loop]\nfrom = engine block\nto = ground\nresistance = %.12g mohm\n"
           "[amplifier a]\npositive = post\nnegative = ground\nrated power = 100 W\nidle current = 0 A\n",
           ambient_c, turning_a, turning_a, battery, loop_mohm);
  struct tailvolt_system *system = scene_parse(text);
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tv_parked_search *v = calloc(1, sizeof *v);
  struct tv_start_outcome outcome;
  /* the table's current, at the table's temperature: stated as what it would be at 25 C */
  double cold_a, breakaway_a;
  tailvolt_cold_start(&system->engine, ambient_c, &cold_a, &breakaway_a);
  system->engine.cranking_a *= turning_a / cold_a;
  system->engine.breakaway_a = system->engine.cranking_a;
  assert_int_equal(tv_search_make(system, NULL, &options, NULL, v), TAILVOLT_OK);
  assert_int_equal(tv_search_start_slow(v), TAILVOLT_OK);
  assert_int_equal(tv_start_trial_run(&v->start, v->slow, &v->rows.row[0], 0, &options, &outcome),
                   TAILVOLT_OK);
  start.posts_v = outcome.cranking_v;
  start.starter_v = outcome.cranking_v - turning_a * loop_mohm * 1e-3;
  if (start.starter_v < TV_TAPER_V) /* the starter fades with the voltage: I = turning x U / 6 V */
    start.starter_v = outcome.cranking_v / (1 + turning_a / TV_TAPER_V * loop_mohm * 1e-3);
  tv_search_free(v);
  free(v);
  tailvolt_system_free(system);
  return start;
}

/* The worked table: U = OCV(SOC, T) - I (R_battery + R_loop), loop 1.5 mohm (common practice), resistances
 * of 600 CCA from the load-test floors of a workshop manual, cranking currents from memory. */
static const struct worked {
  double temperature_c, soc_pct, current_a, battery_mohm, volts;
} worked[] = {{25, 100, 150, 6.47, 11.45},   {25, 50, 150, 9.06, 10.66},    {25, 25, 150, 12.94, 9.89},
              {-17.8, 100, 280, 8.85, 9.62}, {-17.8, 50, 280, 12.39, 8.22}, {-17.8, 50, 450, 12.39, 5.86}};
enum { WORKED = (int)(sizeof worked / sizeof worked[0]) };

/* Printed temperature table of rested voltages of a flooded battery at 27 C and -17.8 C. */
static double rested_v(double temperature_c, double soc_pct) {
  double warm_v = soc_pct > 90 ? 12.650 : soc_pct > 40 ? 12.240 : 12.060;
  return temperature_c > 0 ? warm_v : warm_v - (12.650 - 12.516);
}

static void worked_table_with_its_own_resistances(void **state) {
  (void)state;
  for (int k = 0; k < WORKED; k++) {
    const struct worked *w = &worked[k];
    char battery[512];
    snprintf(battery, sizeof battery,
             "[battery b]\npositive = post\nnegative = ground\ncapacity = 70 Ah\nstate of charge = 50 "
             "%%\nhealth = 100 %%\n"
             "resistance = %.4f mohm\npolarization = 0.001 mohm, 1 s\nopen circuit = %.4f V at 0 %%, %.4f V "
             "at 100 %%\n",
             w->battery_mohm, rested_v(w->temperature_c, w->soc_pct), rested_v(w->temperature_c, w->soc_pct));
    struct start start = crank(battery, w->temperature_c, w->current_a, 1.5);
    /* the table is printed to 10 mV for a resting battery; two seconds of current cost some millivolts */
    double volts = w->volts, loop_ohm = (w->battery_mohm + 1.5) * 1e-3;
    if (volts < TV_TAPER_V) volts = (volts + w->current_a * loop_ohm) / (1 + w->current_a / TV_TAPER_V * loop_ohm);
    assert_near(start.starter_v, volts, 0.015);
  }
}

/* The same starts with a battery made from its label alone: 70 Ah, 600 A SAE. Fully charged the two must
 * agree. Below that the table multiplies the whole 30 s resistance by its rough factors for charge (1.4 at 50
 * %, 2 at 25 %; values from memory), the battery here only the ohmic part: it may be up to 2.2 mohm better,
 * never worse than 0.05 V. */
static void worked_table_with_a_battery_made_from_its_label(void **state) {
  (void)state;
  double before_v = HUGE_VAL;
  for (int k = 0; k < WORKED; k++) {
    const struct worked *w = &worked[k];
    char battery[512];
    snprintf(battery, sizeof battery,
             "[battery b]\npositive = post\nnegative = ground\ncapacity = 70 Ah\nstate of charge = %g "
             "%%\nhealth = 100 %%\n"
             "cold cranking = 600 A SAE\n",
             w->soc_pct);
    struct start start = crank(battery, w->temperature_c, w->current_a, 1.5);
    print_message("%6.1f C %3.0f %% %3.0f A: %.2f V, worked %.2f V\n", w->temperature_c, w->soc_pct,
                  w->current_a, start.starter_v, w->volts);
    double allowed_v = w->soc_pct > 90 ? 0.05 : 2.2e-3 * w->current_a;
    assert_true(start.starter_v > w->volts - 0.05);
    assert_true(start.starter_v < w->volts + allowed_v);
    if (k != 3) assert_true(start.starter_v < before_v);
    before_v = start.starter_v;
    /* the one that fails in the table fails here */
    if (k == 5) assert_true(start.posts_v < 7.5);
  }
}

/* Service practice, a 1.9 L petrol engine: mean cranking current 80-120 A at 5 to 27 C, 90-130 A at 5 C
 * cold, 230-280 A at -20 C. */
static void currents_in_the_cold(void **state) {
  (void)state;
  struct tailvolt_engine petrol = {
      .displacement_l = 1.9, .fuel = TAILVOLT_PETROL, .cranking_a = 100, .breakaway_a = 400};
  struct tailvolt_engine diesel = {
      .displacement_l = 2.0, .fuel = TAILVOLT_DIESEL, .cranking_a = 250, .breakaway_a = 750};
  double turning_a, breakaway_a, before_a = 0;
  tailvolt_cold_start(&petrol, 25, &turning_a, &breakaway_a);
  assert_near(turning_a, 100, 1e-9);
  assert_near(breakaway_a, 400, 1e-9);
  tailvolt_cold_start(&petrol, 16, &turning_a, &breakaway_a);
  assert_true(turning_a > 80 && turning_a < 120);
  tailvolt_cold_start(&petrol, 5, &turning_a, &breakaway_a);
  assert_true(turning_a > 90 && turning_a < 130);
  tailvolt_cold_start(&petrol, -20, &turning_a, &breakaway_a);
  assert_true(turning_a > 230 && turning_a < 280);
  /* copper at -20 C has 0.82 of its resistance at 25 C (IEC 60028: 0.393 % a kelvin at 20 C) */
  assert_near_rel(breakaway_a, 400 / (1 - 0.00393 * 45), 0.04);
  /* handbook ranges (values from memory): diesel 200-300 A at 20 C, 350-500 A at -20 C */
  tailvolt_cold_start(&diesel, -20, &turning_a, &breakaway_a);
  assert_true(turning_a > 350 && turning_a < 500);
  assert_true(breakaway_a >= turning_a);
  for (double t_c = 60; t_c >= -45; t_c -= 1) {
    tailvolt_cold_start(&petrol, t_c, &turning_a, &breakaway_a);
    assert_true(turning_a >= before_a);
    before_a = turning_a;
  }
}

/* ISO 16750-2, 12 V, level I (2003 edition): a good start dips to 8 V and turns at 9.5 V or more. A healthy,
 * charged battery of the usual size must do better at 25 C; service practice wants 9.6 V or more at 20 C and
 * above. */
static void a_good_battery_starts_well(void **state) {
  (void)state;
  static const char battery[] =
      "[battery b]\npositive = post\nnegative = ground\ncapacity = 70 Ah\nstate of charge = 100 %\n"
      "health = 100 %\ncold cranking = 640 A EN\n";
  assert_true(crank(battery, 25, 150, 1.5).posts_v > 9.6);
  /* and still 8.0 V at -18 C at three quarters of its charge (common practice) */
  static const char cold[] =
      "[battery b]\npositive = post\nnegative = ground\ncapacity = 70 Ah\nstate of charge = 75 %\n"
      "health = 100 %\ncold cranking = 640 A EN\n";
  assert_true(crank(cold, -18, 255, 1.5).posts_v > 8.0);
  /* worn to a third of its cranking current it fails */
  static const char worn[] =
      "[battery b]\npositive = post\nnegative = ground\ncapacity = 70 Ah\nstate of charge = 75 %\n"
      "health = 100 %\ncold cranking = 640 A EN\ncranking health = 33 %\n";
  assert_true(crank(worn, -18, 255, 1.5).posts_v < 8.0);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(worked_table_with_its_own_resistances),
      cmocka_unit_test(worked_table_with_a_battery_made_from_its_label),
      cmocka_unit_test(currents_in_the_cold),
      cmocka_unit_test(a_good_battery_starts_well),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
