/* Playing with the engine off: against closed forms and labels, against the full simulation, and what must
 * follow from what. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "parts/battery_model.h"
#include "study/parked.h"
#include "support/assert_near.h"
#include "support/scenes.h"

/* A battery on the bench, and a drain across its posts that gives up at 10.5 V. */
static const char bench[] = "[vehicle]\ncharging = none\n"
                            "[battery one]\npositive = post\nnegative = ground\nkind = flooded\ncapacity = "
                            "70 Ah\nreserve = 117.7 min\n"
                            "cold cranking = 640 A EN\nstate of charge = 100 %%\nhealth = 100 %%\n"
                            "[joint tap]\nfrom = post\nto = drain\nresistance = 1 uohm\n"
                            "[amplifier drain]\npositive = drain\nnegative = ground\nrated power = 400 "
                            "W\ncut-out voltage = 10.5 V\n%s";

/* A small car with music; short cycles and no ripple, so that a whole evening at full resolution stays
 * affordable. */
static const char car[] =
    "[vehicle]\nambient = %g C\n[engine]\nsize = 1.6 L petrol\ncranking current = 150 A\nbreakaway current = "
    "450 A\n"
    "[alternator]\npositive = post\nnegative = block\nrated current = 90 A\nlow current = 45 A\n"
    "[battery one]\npositive = post\nnegative = ground\nkind = flooded\ncapacity = 45 Ah\ncold cranking = "
    "420 A EN\n"
    "state of charge = 85 %%\nhealth = 90 %%\n"
    "[strap engine]\nfrom = block\nto = ground\nsize = 25 mm2\nlength = 0.5 m\n"
    "[cable feed]\nfrom = post\nto = plus\nsize = %s\nlength = 5 m\n"
    "[cable return]\nfrom = minus\nto = ground\nsize = 10 mm2\nlength = 1 m\n"
    "[amplifier bass]\npositive = plus\nnegative = minus\nrated power = 600 W\ntopology = %s\n"
    "[programme beat]\ncrest factor = 9 dB\ntempo = 240 /min\ndecay = 60 ms\nbass note = 0 Hz\nphrases = 0 %%\n%s";

static struct tailvolt_system *parse(const char *format, double ambient_c, const char *size,
                                     const char *topology, const char *more) {
  char text[8192];
  if (format == bench)
    snprintf(text, sizeof text, bench, more);
  else
    snprintf(text, sizeof text, car, ambient_c, size, topology, more);
  return scene_parse(text);
}

static struct tailvolt_system *ordinary(void) {
  return parse(car, 25, "10 mm2", "d", "");
}

static struct tailvolt_parked *play(const struct tailvolt_system *system,
                                    const struct tailvolt_profile *profile,
                                    const struct tailvolt_parked_options *options) {
  struct tailvolt_parked *parked = NULL;
  char error[TAILVOLT_TEXT_MAX];
  enum tailvolt_status status = tailvolt_parked(system, profile, options, &parked, error);
  if (status != TAILVOLT_OK) fail_msg("status %d: %s", (int)status, error);
  return parked;
}

static struct tailvolt_profile *drain(const struct tailvolt_system *system, double current_a) {
  char text[256];
  snprintf(text, sizeof text, "time_s,supply_a:drain\n0,%g\n60,%g\n", current_a, current_a);
  return scene_profile(system, text);
}

/* Time to 10.5 V at a constant current. */
static double drained_s(double current_a, const char *more) {
  struct tailvolt_system *system = parse(bench, 25, NULL, NULL, more);
  struct tailvolt_profile *profile = drain(system, current_a);
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tailvolt_parked *parked = play(system, profile, &options);
  double time_s = parked->cut_out_s;
  tailvolt_parked_free(parked);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return time_s;
}

/* ---- constant currents ---- */

static void reserve_capacity_of_the_label(void **state) {
  (void)state;
  /* IEC 60095-1: 25 A at 25 C down to 10.50 V (value from memory) */
  assert_near_rel(drained_s(25, ""), 117.7 * 60, 2e-3);
  /* and the capacity: a twentieth of it for 20 h */
  assert_near_rel(drained_s(3.5, ""), 20 * 3600.0, 5e-3);
}

/* Manwell & McGowan, Solar Energy 50(5), 1993: both wells after a constant current from equal heads. */
static void two_wells(double q0_c, double c, double k_per_s, double current_a, double t_s, double *q1_c,
                      double *q2_c) {
  double e = exp(-k_per_s * t_s), q10_c = c * q0_c, q20_c = (1 - c) * q0_c;
  double ramp_s = (k_per_s * t_s - 1 + e) / k_per_s;
  *q1_c = q10_c * e + (q0_c * k_per_s * c - current_a) * (1 - e) / k_per_s - current_a * c * ramp_s;
  *q2_c = q20_c * e + q0_c * (1 - c) * (1 - e) - current_a * (1 - c) * ramp_s;
}

static void wells_by_the_closed_form(void **state) {
  (void)state;
  struct tailvolt_system *system = parse(bench, 25, NULL, NULL, "");
  struct tailvolt_profile *profile = drain(system, 20);
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  double until_s, q1_c, q2_c;
  struct tv_parked_search *v = calloc(1, sizeof *v);
  options.soc_limit_frac = 0.45;
  assert_int_equal(tv_search_make(system, profile, &options, false, v), TAILVOLT_OK);
  assert_int_equal(tv_search_by_checkpoints(v, &until_s), TAILVOLT_OK);
  assert_int_equal(v->full_reason, TAILVOLT_FULL_NOT);
  const struct tv_battery *battery = v->slow->battery[0];
  const struct tv_battery_state *now = &v->slow->state.battery[0];
  two_wells(battery->usable_c, battery->available_frac, battery->exchange_per_s, 20, until_s, &q1_c, &q2_c);
  double c = battery->available_frac;
  /* self-discharge, which the closed form lacks, takes about 10 mA of the 20 A */
  assert_near_rel(c * (now->charge_c - (1 - c) * now->head_c), q1_c, 2e-3);
  assert_near_rel((1 - c) * (now->charge_c + c * now->head_c), q2_c, 2e-3);
  assert_near_rel(until_s, 0.55 * battery->usable_c / 20, 1e-3);
  assert_true(now->head_c > 0.1 * battery->usable_c);
  tv_search_free(v);
  free(v);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

static void half_the_load_more_than_doubles_the_time(void **state) {
  (void)state;
  double times_s[4];
  for (int k = 0; k < 4; k++) times_s[k] = drained_s(40 / pow(2, k), "");
  for (int k = 1; k < 4; k++) {
    double ratio = times_s[k] / times_s[k - 1];
    /* Peukert exponents quoted for flooded batteries reach from 1.05 to 1.4 */
    assert_true(ratio > pow(2, 1.05));
    assert_true(ratio < pow(2, 1.4));
  }
}

static void a_second_equal_battery_slightly_more_than_doubles_the_time(void **state) {
  (void)state;
  static const char second[] =
      "[battery two]\npositive = post\nnegative = ground\nkind = flooded\ncapacity = 70 Ah\n"
      "reserve = 117.7 min\ncold cranking = 640 A EN\nstate of charge = 100 %\nhealth = 100 %\n";
  double one_s = drained_s(20, ""), two_s = drained_s(20, second);
  assert_true(two_s > 2.05 * one_s);
  assert_true(two_s < pow(2, 1.4) * one_s);
  /* each bears half the current: as one battery at half the current */
  assert_near_rel(two_s, drained_s(10, ""), 2e-3);
}

/* ---- by checkpoints as by every step ---- */

static void agree(const char *what, double quick_s, double full_s) {
  if (isnan(quick_s) && isnan(full_s)) return;
  if (!(fabs(quick_s - full_s) <= fmax(0.005 * full_s, 0.5)))
    fail_msg("%s: %.1f s by checkpoints, %.1f s by every step", what, quick_s, full_s);
}

static void compare(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                    double level_db, double limit_s) {
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  options.level_db = level_db;
  options.limit_s = limit_s;
  struct tailvolt_parked *quick = play(system, profile, &options);
  options.full = true;
  struct tailvolt_parked *full = play(system, profile, &options);
  assert_int_equal(quick->full_reason, TAILVOLT_FULL_NOT);
  assert_false(quick->full);
  assert_true(full->full);
  assert_true(quick->steps < full->steps);
  agree("restart", quick->restart_s, full->restart_s);
  agree("cut-out", quick->cut_out_s, full->cut_out_s);
  agree("limit", quick->rest_limit_s, full->rest_limit_s);
  agree("until", quick->until_s, full->until_s);
  assert_int_equal(quick->ends_by, full->ends_by);
  assert_near_rel(quick->taken_ah, full->taken_ah, 5e-3);
  assert_near_rel(quick->taken_j, full->taken_j, 5e-3);
  assert_near(quick->soc_pct, full->soc_pct, 0.3);
  assert_near(quick->paused_v, full->paused_v, 5e-3);
  assert_near(quick->cranking_v, full->cranking_v, 0.03);
  tailvolt_parked_free(quick);
  tailvolt_parked_free(full);
}

static void checkpoints_agree_with_every_step(void **state) {
  (void)state;
  struct tailvolt_system *class_d = ordinary(), *class_ab = parse(car, 0, "16 mm2", "ab", "");
  compare(class_d, NULL, 0, 3 * 3600.0);
  compare(class_ab, NULL, -3, 3 * 3600.0);
  tailvolt_system_free(class_d);
  tailvolt_system_free(class_ab);
}

static void checkpoints_agree_with_every_step_under_a_profile(void **state) {
  (void)state;
  struct tailvolt_system *system =
      parse(car, 25, "10 mm2", "d",
            "[load lamp]\npositive = post\nnegative = ground\npower = 40 W\nbehaves = resistor\n");
  /* quiet, loud with a lamp on, then on and on while it grows cold */
  struct tailvolt_profile *profile = scene_profile(system, "time_s,level_db,load:lamp,ambient_c\n30,-6,0,20\n"
                                                           "900,-1,1,20\n1800,-4,1,20\n5400,-4,1,-5\n");
  compare(system, profile, 0, 3 * 3600.0);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
}

/* The dips deepen so slowly here that an unlucky order of beats decides by a quarter of an hour. */
static void an_unlucky_order_of_beats_is_found(void **state) {
  (void)state;
  static const char wide[] =
      "[programme wide]\ncrest factor = 12 dB\ntempo = 240 /min\ndecay = 60 ms\nbass note = 0 Hz\nphrases = 0 %\n";
  static const double cut_outs_v[] = {10.8, 10.9, 11.0, 11.2, 11.3};
  for (size_t k = 0; k < sizeof cut_outs_v / sizeof cut_outs_v[0]; k++) {
    struct tailvolt_system *system = parse(car, 25, "6 mm2", "d", wide);
    system->amplifiers[0].cut_out_v = cut_outs_v[k];
    system->amplifiers[0].programme = 1;
    compare(system, NULL, 0, 1.5 * 3600);
    tailvolt_system_free(system);
  }
}

static void conductors_warm_as_in_every_step(void **state) {
  (void)state;
  struct tailvolt_system *system = parse(car, 25, "4 mm2", "d", "");
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  options.limit_s = 1800;
  double until_s;
  struct tv_parked_search *quick = calloc(1, sizeof *quick), *full = calloc(1, sizeof *full);
  assert_int_equal(tv_search_make(system, NULL, &options, false, quick), TAILVOLT_OK);
  assert_int_equal(tv_search_by_checkpoints(quick, &until_s), TAILVOLT_OK);
  assert_int_equal(tv_search_make(system, NULL, &options, false, full), TAILVOLT_OK);
  assert_int_equal(tv_search_every_step(full, &until_s), TAILVOLT_OK);
  for (int k = 0; k < system->conductor_count; k++)
    assert_near(quick->slow->state.conductor_c[k], full->fine->state.conductor_c[k], 0.3);
  /* the feed, by the mean of the squares; by the square of the mean it would stay near the air */
  assert_true(full->fine->state.conductor_c[1] > 32);
  tv_search_free(quick);
  tv_search_free(full);
  free(quick);
  free(full);
  tailvolt_system_free(system);
}

static const char behind_diode[] = "[battery two]\npositive = other\nnegative = ground\nkind = AGM\ncapacity "
                                   "= 30 Ah\nstate of charge = 90 %\n"
                                   "[isolator split]\nfrom = other\nto = post\nkind = diode\n";

static void checkpoints_agree_with_every_step_for_two_batteries(void **state) {
  (void)state;
  static const char abreast[] = "[battery two]\npositive = post two\nnegative = ground\nkind = AGM\ncapacity "
                                "= 30 Ah\nstate of charge = 60 %\n"
                                "[cable link]\nfrom = post\nto = post two\nsize = 16 mm2\nlength = 4 m\n";
  struct tailvolt_system *beside = parse(car, 25, "10 mm2", "d", abreast);
  compare(beside, NULL, -2, 4 * 3600.0);
  tailvolt_system_free(beside);
  struct tailvolt_system *diode = parse(car, 25, "10 mm2", "d", behind_diode);
  compare(diode, NULL, -2, 4 * 3600.0);
  tailvolt_system_free(diode);
}

static void falls_back_where_checkpoints_cannot_stand_for_the_whole(void **state) {
  (void)state;
  struct tailvolt_system *system;
  struct tailvolt_profile *brief;
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tailvolt_parked *parked;
  options.limit_s = 600;
  /* a beat a minute: what plays comes again after a quarter of an hour */
  system = parse(car, 25, "10 mm2", "d", "[programme slow]\ntempo = 1 /min\nphrases = 0 %\n");
  options.programme = 1;
  parked = play(system, NULL, &options);
  assert_true(parked->full);
  assert_int_equal(parked->full_reason, TAILVOLT_FULL_LONG_MUSIC);
  assert_int_equal(parked->caution[0], TAILVOLT_PARKED_EVERY_STEP);
  assert_int_equal(parked->caution_count, 1);
  tailvolt_parked_free(parked);
  tailvolt_system_free(system);
  options.programme = -1;
  system = ordinary();
  brief = scene_profile(system, "time_s,level_db\n0,0\n5,-3\n10,-2\n20,0\n");
  parked = play(system, brief, &options);
  assert_true(parked->full);
  assert_int_equal(parked->full_reason, TAILVOLT_FULL_SHORT_ROWS);
  tailvolt_parked_free(parked);
  tailvolt_profile_free(brief);
  tailvolt_system_free(system);
}

static void two_pieces_stand_for_long_music_roughly(void **state) {
  (void)state;
  /* comes again after 8 min: too long for windows; a search or a spread plays two pieces of it */
  struct tailvolt_system *system = parse(
      car, 25, "10 mm2", "d",
      "[programme slow]\ncrest factor = 9 dB\ntempo = 4 /min\ndecay = 3 s\nbass note = 0 Hz\nphrases = 0 %\n[programme long]\n"
      "crest factor = 9 dB\ntempo = 2 /min\ndecay = 6 s\nbass note = 0 Hz\nphrases = 0 %\n");
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  for (int programme = 1; programme < 3; programme++) {
    struct tv_parked_brief brief;
    options.programme = programme;
    options.limit_s = 4 * 3600.0;
    struct tailvolt_parked *full = play(system, NULL, &options);
    assert_true(full->full);
    assert_int_equal(tv_parked_brief(system, NULL, &options, &brief, NULL), TAILVOLT_OK);
    assert_near_rel(brief.limit_s, full->rest_limit_s, 0.03);
    assert_near_rel(brief.restart_s, full->restart_s, 0.03);
    assert_near_rel(brief.cut_out_s, full->cut_out_s, 0.05);
    tailvolt_parked_free(full);
  }
  tailvolt_system_free(system);
}

/* ---- what follows from what ---- */

/* NAN is later than any time. */
static double or_never(double time_s) {
  return isnan(time_s) ? HUGE_VAL : time_s;
}

static void colder_is_never_longer(void **state) {
  (void)state;
  double before_s = HUGE_VAL, restart_before_s = HUGE_VAL, cut_out_before_s = HUGE_VAL;
  bool shorter = false;
  for (double ambient_c = 35; ambient_c > -26; ambient_c -= 10) {
    struct tailvolt_system *system = parse(car, ambient_c, "10 mm2", "d", "");
    struct tailvolt_parked_options options = tailvolt_default_parked_options();
    options.level_db = -6;
    struct tailvolt_parked *parked = play(system, NULL, &options);
    assert_true(parked->until_s <= before_s * (1 + 2e-3));
    assert_true(or_never(parked->restart_s) <= restart_before_s * (1 + 2e-3));
    assert_true(or_never(parked->cut_out_s) <= cut_out_before_s * (1 + 2e-3));
    shorter = shorter || or_never(parked->restart_s) < 0.9 * restart_before_s;
    before_s = parked->until_s;
    restart_before_s = or_never(parked->restart_s);
    cut_out_before_s = or_never(parked->cut_out_s);
    tailvolt_parked_free(parked);
    tailvolt_system_free(system);
  }
  assert_true(shorter);
}

static void thicker_cable_never_shortens_the_time_to_cut_out(void **state) {
  (void)state;
  static const char *const sizes[] = {"4 mm2", "6 mm2", "10 mm2", "16 mm2", "25 mm2", "50 mm2"};
  double before_s = 0, first_s = 0;
  for (size_t k = 0; k < sizeof sizes / sizeof sizes[0]; k++) {
    struct tailvolt_system *system = parse(car, 25, sizes[k], "d", "");
    struct tailvolt_parked_options options = tailvolt_default_parked_options();
    options.level_db = 0;
    struct tailvolt_parked *parked = play(system, NULL, &options);
    assert_true(parked->cut_out_s > 0);
    assert_true(parked->cut_out_s >= before_s * (1 - 1e-3));
    before_s = parked->cut_out_s;
    if (k == 0) first_s = before_s;
    tailvolt_parked_free(parked);
    tailvolt_system_free(system);
  }
  assert_true(before_s > 1.05 * first_s);
}

static void louder_is_never_longer(void **state) {
  (void)state;
  struct tailvolt_system *system = ordinary();
  double before_s = HUGE_VAL;
  for (double level_db = -20; level_db <= 3; level_db += 4) {
    struct tailvolt_parked_options options = tailvolt_default_parked_options();
    options.level_db = level_db;
    struct tailvolt_parked *parked = play(system, NULL, &options);
    assert_true(parked->until_s < before_s);
    assert_near(parked->until_s,
                fmin(fmin(or_never(parked->restart_s), or_never(parked->cut_out_s)),
                     fmin(or_never(parked->rest_limit_s), 48 * 3600.0)),
                1e-6);
    before_s = parked->until_s;
    tailvolt_parked_free(parked);
  }
  tailvolt_system_free(system);
}

static void plays_on_the_second_and_starts_on_the_first(void **state) {
  (void)state;
  static const char format[] = "[battery starter]\npositive = post\nnegative = ground\ncapacity = 45 "
                               "Ah\ncold cranking = 420 A EN\nhealth = 100 %%\n"
                               "[battery house]\npositive = house\nnegative = ground\nkind = AGM\ncapacity = "
                               "60 Ah\nstate of charge = 90 %%\n"
                               "[alternator]\npositive = post\nnegative = ground\nrated current = 90 A\n"
                               "[isolator split]\nfrom = post\nto = house\nkind = %s\n%s"
                               "[cable feed]\nfrom = house\nto = plus\nsize = 16 mm2\nlength = 2 m\n"
                               "[amplifier bass]\npositive = plus\nnegative = ground\nrated power = 400 W\n"
                               "[programme beat]\ntempo = 240 /min\nbass note = 0 Hz\nphrases = 0 %%\n";
  static const char *const kinds[] = {"relay", "converter", "diode"};
  static const char *const more[] = {"", "output = 30 A at 14.4 V\nopens below = 13.0 V\n", "drop = 0.5 V\n"};
  for (int k = 0; k < 3; k++) {
    char text[2048];
    snprintf(text, sizeof text, format, kinds[k], more[k]);
    struct tailvolt_system *system = scene_parse(text);
    struct tailvolt_parked_options options = tailvolt_default_parked_options();
    options.level_db = -3;
    options.soc_limit_frac = 0.2;
    struct tailvolt_parked *parked = play(system, NULL, &options);
    const struct tailvolt_parked_battery *starter = &parked->batteries[0], *house = &parked->batteries[1];
    assert_string_equal(parked->starter, "starter");
    assert_true(house->taken_ah > 15);
    assert_true(parked->starts);
    if (k < 2) {
      /* relay and converter have let go: the first battery never knew */
      assert_near(starter->taken_ah, 0, 0.2);
      assert_true(isnan(parked->restart_s));
      assert_string_equal(parked->limit_battery, "house");
      assert_true(parked->cranking_v > 10.5);
    } else {
      /* a diode goes on feeding the second from the first */
      assert_true(starter->taken_ah > 0.2);
    }
    tailvolt_parked_free(parked);
    tailvolt_system_free(system);
  }
}

/* ---- limits, level, charge ---- */

static void each_limit_ends_the_playing(void **state) {
  (void)state;
  struct tailvolt_system *system = ordinary();
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tailvolt_parked *parked = play(system, NULL, &options);
  assert_int_equal(parked->ends_by, TAILVOLT_ENDS_BY_REST_LIMIT);
  assert_near(parked->soc_pct, 50, 0.02);
  assert_near(parked->batteries[0].start_soc_pct, 85, 1e-9);
  /* 35 % of 45 Ah at 90 % health; what self-discharge took shows in neither */
  assert_near_rel(parked->taken_ah, 0.35 * 0.9 * 45, 2e-3);
  double half_s = parked->until_s;
  tailvolt_parked_free(parked);
  options.rest_limit_v = 12.30;
  parked = play(system, NULL, &options);
  assert_int_equal(parked->ends_by, TAILVOLT_ENDS_BY_REST_LIMIT);
  assert_true(parked->limit_by_voltage);
  assert_near(parked->rest_v, 12.30, 2e-3);
  assert_true(parked->until_s < half_s);
  tailvolt_parked_free(parked);
  options.rest_limit_v = (double)NAN;
  options.soc_limit_frac = 0;
  parked = play(system, NULL, &options);
  assert_true(isnan(parked->rest_limit_s));
  assert_true(parked->until_s > half_s);
  double last_s = parked->until_s;
  tailvolt_parked_free(parked);
  options.floor_v = 10.8;
  parked = play(system, NULL, &options);
  assert_int_equal(parked->ends_by, TAILVOLT_ENDS_BY_RESTART);
  assert_true(parked->until_s < last_s);
  /* at the last moment that starts: the posts are at the floor */
  assert_near(parked->cranking_v, 10.8, 0.01);
  tailvolt_parked_free(parked);
  options.limit_s = 600;
  options.floor_v = 9;
  parked = play(system, NULL, &options);
  assert_int_equal(parked->ends_by, TAILVOLT_ENDS_BY_TIME);
  assert_near(parked->until_s, 600, 1e-6);
  tailvolt_parked_free(parked);
  tailvolt_system_free(system);
}

static void the_level_found_lasts_the_time_wanted(void **state) {
  (void)state;
  struct tailvolt_system *system = ordinary();
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  options.wanted_s = 4 * 3600.0;
  struct tailvolt_parked *parked = play(system, NULL, &options);
  assert_true(parked->until_s < options.wanted_s);
  assert_true(parked->level_looked_for);
  double level_db = parked->wanted_level_db;
  assert_true(level_db < 0 && level_db > -20);
  tailvolt_parked_free(parked);
  options.level_db = level_db;
  parked = play(system, NULL, &options);
  assert_near_rel(parked->until_s, options.wanted_s, 0.01);
  tailvolt_parked_free(parked);
  /* from a quiet level up */
  options.level_db = -30;
  options.solve_level = true;
  parked = play(system, NULL, &options);
  assert_near(parked->wanted_level_db, level_db, 0.06);
  tailvolt_parked_free(parked);
  /* full level lasts a minute, no level lasts a month */
  options.wanted_s = 60;
  options.level_db = -10;
  parked = play(system, NULL, &options);
  assert_true(parked->any_level_lasts);
  tailvolt_parked_free(parked);
  options.wanted_s = 30 * 86400.0;
  parked = play(system, NULL, &options);
  assert_true(isnan(parked->wanted_level_db));
  assert_false(parked->any_level_lasts);
  tailvolt_parked_free(parked);
  tailvolt_system_free(system);
}

static void driving_puts_the_charge_back(void **state) {
  (void)state;
  struct tailvolt_system *system = ordinary(), *weak = ordinary(), *none = parse(bench, 25, NULL, NULL, "");
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tailvolt_parked *parked = play(system, NULL, &options);
  assert_near(parked->back_soc_pct, 85, 1e-6);
  assert_true(parked->idle_s > 0);
  /* no battery takes more than the alternator gives */
  assert_true(parked->idle_s > parked->taken_ah * 3600 / 90);
  double idle_s = parked->idle_s, town_s = parked->town_s;
  tailvolt_parked_free(parked);
  /* a weak alternator under a heavy base load: idling takes longer than town, or never does it */
  weak->alternator.output_a[0] = 20;
  weak->vehicle.base_load_a = 40;
  parked = play(weak, NULL, &options);
  assert_true(or_never(parked->idle_s) > 1.3 * idle_s);
  assert_true(or_never(parked->idle_s) > 1.05 * or_never(parked->town_s));
  assert_true(parked->town_s >= town_s);
  tailvolt_parked_free(parked);
  weak->vehicle.base_load_a = 80;
  parked = play(weak, NULL, &options);
  assert_true(isnan(parked->idle_s));
  tailvolt_parked_free(parked);
  /* nothing charges */
  struct tailvolt_profile *profile = drain(none, 10);
  parked = play(none, profile, &options);
  assert_true(isnan(parked->idle_s) && isnan(parked->town_s));
  tailvolt_parked_free(parked);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  tailvolt_system_free(weak);
  tailvolt_system_free(none);
}

static void driving_at_a_known_current_takes_a_known_time(void **state) {
  (void)state;
  /* a linear battery stores all it is given, and the alternator is at its 10 A all the while */
  static const char linear[] =
      "[engine]\ncranking time = 0.8 s\ncranking current = 100 A\nbreakaway current = 300 A\n"
      "[battery one]\npositive = post\nnegative = ground\ncapacity = 40 Ah\nhealth = 100 %\n"
      "state of charge = 80 %\nresistance = 5 mohm\npolarization = 4 mohm, 10 s\n"
      "open circuit = 11.9 V at 0 %, 12.8 V at 100 %\n"
      "[alternator]\npositive = post\nnegative = ground\nfixed output = 10 A\nset point = 15.5 V\n"
      "[joint tap]\nfrom = post\nto = plus\nresistance = 1 mohm\n"
      "[amplifier bass]\npositive = plus\nnegative = ground\nrated power = 300 W\nidle current = 0 A\n"
      "[programme beat]\ntempo = 240 /min\nbass note = 0 Hz\nphrases = 0 %\n";
  struct tailvolt_system *system = scene_parse(linear);
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tailvolt_parked *parked = play(system, NULL, &options);
  assert_near_rel(parked->taken_ah, 12, 1e-3);
  double start_c = 0.1 * 300 + 0.7 * 100;
  assert_near(parked->idle_s, (12 * 3600 + start_c) / 10, 5);
  assert_near(parked->town_s, parked->idle_s, 5);
  tailvolt_parked_free(parked);
  tailvolt_system_free(system);
}

static void a_profile_may_begin_anywhere(void **state) {
  (void)state;
  struct tailvolt_system *system = ordinary();
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tailvolt_profile *early = scene_profile(system, "time_s,level_db\n0,-2\n60,-2\n");
  struct tailvolt_profile *late = scene_profile(system, "time_s,level_db\n-8000,-2\n-7000,-2\n");
  struct tailvolt_parked *a = play(system, early, &options), *b = play(system, late, &options);
  options.level_db = -2;
  struct tailvolt_parked *c = play(system, NULL, &options);
  assert_near_rel(a->until_s, b->until_s, 2e-3);
  assert_near_rel(a->until_s, c->until_s, 1e-9);
  tailvolt_parked_free(a);
  tailvolt_parked_free(b);
  tailvolt_parked_free(c);
  tailvolt_profile_free(early);
  tailvolt_profile_free(late);
  tailvolt_system_free(system);
}

static int stop(void *context, double done_frac) {
  (void)context;
  (void)done_frac;
  return 1;
}

static void refusals(void **state) {
  (void)state;
  struct tailvolt_system *system = ordinary();
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  struct tailvolt_parked *parked = NULL;
  char error[TAILVOLT_TEXT_MAX];
  struct tailvolt_profile *driving = scene_profile(system, "time_s,engine_rpm\n0,0\n60,900\n120,900\n");
  assert_int_equal(tailvolt_parked(system, driving, &options, &parked, error), TAILVOLT_BAD_INPUT);
  assert_non_null(strstr(error, "engine runs at 60 s"));
  assert_null(parked);
  options.run.progress = stop;
  assert_int_equal(tailvolt_parked(system, NULL, &options, &parked, error), TAILVOLT_STOPPED);
  options.cookie = 0;
  assert_int_equal(tailvolt_parked(system, NULL, &options, &parked, NULL), TAILVOLT_INTERNAL);
  tailvolt_profile_free(driving);
  tailvolt_system_free(system);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(reserve_capacity_of_the_label),
      cmocka_unit_test(wells_by_the_closed_form),
      cmocka_unit_test(half_the_load_more_than_doubles_the_time),
      cmocka_unit_test(a_second_equal_battery_slightly_more_than_doubles_the_time),
      cmocka_unit_test(checkpoints_agree_with_every_step),
      cmocka_unit_test(checkpoints_agree_with_every_step_under_a_profile),
      cmocka_unit_test(checkpoints_agree_with_every_step_for_two_batteries),
      cmocka_unit_test(an_unlucky_order_of_beats_is_found),
      cmocka_unit_test(conductors_warm_as_in_every_step),
      cmocka_unit_test(falls_back_where_checkpoints_cannot_stand_for_the_whole),
      cmocka_unit_test(two_pieces_stand_for_long_music_roughly),
      cmocka_unit_test(colder_is_never_longer),
      cmocka_unit_test(thicker_cable_never_shortens_the_time_to_cut_out),
      cmocka_unit_test(louder_is_never_longer),
      cmocka_unit_test(plays_on_the_second_and_starts_on_the_first),
      cmocka_unit_test(each_limit_ends_the_playing),
      cmocka_unit_test(the_level_found_lasts_the_time_wanted),
      cmocka_unit_test(driving_puts_the_charge_back),
      cmocka_unit_test(driving_at_a_known_current_takes_a_known_time),
      cmocka_unit_test(a_profile_may_begin_anywhere),
      cmocka_unit_test(refusals),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
