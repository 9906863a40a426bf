/* Charging, rest, temperature and two batteries side by side, against published figures. */
#include "support/assert_near.h"

#include "text/words.h"
#include "parts/battery_model.h"

static struct tailvolt_battery label(enum tailvolt_battery_kind kind, double capacity_ah, double soc_frac) {
  struct tailvolt_battery spec = {.name = "starter", .kind = kind, .capacity_ah = capacity_ah};
  spec.reserve_min = spec.cold_cranking_a = spec.rested_v = spec.resistance_ohm = (double)NAN;
  spec.soc_frac = soc_frac;
  spec.health_frac = spec.cranking_health_frac = 1.0;
  return spec;
}

static struct tv_battery *made_of(const struct tailvolt_battery *spec) {
  struct tv_battery *battery;
  char error[TAILVOLT_TEXT_MAX];
  if (tv_battery_create(spec, &battery, error) != TAILVOLT_OK) fail_msg("%s", error);
  return battery;
}

static struct tv_battery *made(enum tailvolt_battery_kind kind, double capacity_ah, double soc_frac) {
  struct tailvolt_battery spec = label(kind, capacity_ah, soc_frac);
  return made_of(&spec);
}

/* One step at a held voltage behind a current limit; returns the charging current. */
static double hold(const struct tv_battery *battery, struct tv_battery_state *state, double v, double limit_a,
                   double h_s, double *last_a) {
  struct tv_battery_line line = tv_battery_begin(battery, state, h_s, *last_a);
  double current_a = fmax((line.e_v - v) / line.r_ohm, -limit_a);
  tv_battery_end(battery, state, h_s, current_a);
  *last_a = current_a;
  return -current_a;
}

static double rest_v(const struct tv_battery *battery, struct tv_battery_state *state, double seconds,
                     double current_a, double h_s) {
  for (long k = 0; k < lround(seconds / h_s); k++) {
    (void)tv_battery_begin(battery, state, h_s, current_a);
    tv_battery_end(battery, state, h_s, current_a);
  }
  struct tv_battery_line line = tv_battery_begin(battery, state, 0.0, current_a);
  return line.e_v - line.r_ohm * current_a;
}

/* Warm flooded battery held at 14.2 V, A per Ah: 60 % 0.3-0.5, 70 % 0.2-0.35, 80 % 0.12-0.25, 90 % 0.05-0.10,
 * a few per cent at 95 %; charge returned 1.04 to 1.2 times (values from memory, the second in part
 * measured). */
static void recharge_tapers_as_published(void **unused) {
  (void)unused;
  static const double SOC[] = {0.61, 0.70, 0.80, 0.90, 0.95}, LOW[] = {0.30, 0.20, 0.12, 0.05, 0.02},
                      HIGH[] = {0.50, 0.35, 0.25, 0.105, 0.07};
  struct tv_battery *battery = made(TAILVOLT_FLOODED, 70.0, 0.60);
  struct tv_battery_state state;
  tv_battery_rest(battery, 25.0, &state);
  double start_c = state.charge_c, in_c = 0.0;
  double last_a = 0.0, t_s = 0.0;
  for (int k = 0; k < 5;) {
    double current_a = hold(battery, &state, 14.2, 60.0, 0.1, &last_a);
    t_s += 0.1;
    in_c += 0.1 * current_a;
    if (tv_battery_soc_frac(battery, &state) >= SOC[k]) {
      print_message("%.0f %% after %.2f h: %.3f A per Ah\n", 100.0 * SOC[k], t_s / 3600.0, current_a / 70.0);
      assert_true(current_a / 70.0 >= LOW[k] && current_a / 70.0 <= HIGH[k]);
      k++;
    }
  }
  /* integral of missing charge over those ranges: 1.4 to 3.3 h from 60 to 95 % */
  assert_true(t_s > 1.4 * 3600.0 && t_s < 3.3 * 3600.0);
  double stored_c = state.charge_c - start_c;
  assert_near(in_c, stored_c + state.gassed_c, 1e-9 * in_c);
  assert_true(in_c / stored_c > 1.02 && in_c / stored_c < 1.10);
  /* to 98 %, which usually counts as full */
  while (tv_battery_soc_frac(battery, &state) < 0.98)
    in_c += 0.1 * hold(battery, &state, 14.2, 60.0, 0.1, &last_a);
  stored_c = state.charge_c - start_c;
  print_message("charge factor to 98 %%: %.3f\n", in_c / stored_c);
  assert_true(in_c / stored_c >= 1.04 && in_c / stored_c <= 1.20);
  tv_battery_free(battery);
}

/* Current-limited charge of a 105 Ah AGM from 50 %: the holding voltage was reached at 63 % with 0.4 C and at
 * 77 % with 0.2 C (a published charge-rate test). */
static void absorption_begins_where_it_was_measured(void **unused) {
  (void)unused;
  static const double RATE[] = {0.4, 0.2}, MEASURED[] = {0.63, 0.77};
  for (int k = 0; k < 2; k++) {
    struct tv_battery *battery = made(TAILVOLT_AGM, 105.0, 0.50);
    struct tv_battery_state state;
    tv_battery_rest(battery, 25.0, &state);
    double last_a = 0.0, limit_a = RATE[k] * 105.0;
    do (void)hold(battery, &state, 14.4, limit_a, 0.1, &last_a);
    while (last_a <= -limit_a);
    double soc = tv_battery_soc_frac(battery, &state);
    print_message("%.1f C: 14.4 V at %.0f %% (measured %.0f %%)\n", RATE[k], 100.0 * soc,
                  100.0 * MEASURED[k]);
    assert_near(soc, MEASURED[k], 0.10);
    tv_battery_free(battery);
  }
}

/* EN 50342-1 charge acceptance (value from memory): half charged, 0 C, 14.40 V: after 10 min at least 2 I20, which is a
 * tenth of the capacity. Every label on sale must pass: sizes, and 7 to 11 A of cold cranking for each Ah. */
static void accepts_charge_in_the_cold(void **unused) {
  (void)unused;
  static const double SIZE_AH[] = {36, 44, 60, 70, 80, 95, 110}, CRANKING[] = {7.0, 9.0, 11.0};
  for (int kind = TAILVOLT_FLOODED; kind <= TAILVOLT_GEL; kind++) {
    double least = HUGE_VAL, most = 0.0;
    for (int k = 0; k < 7; k++)
      for (int r = 0; r < 3; r++) {
        struct tailvolt_battery spec = label((enum tailvolt_battery_kind)kind, SIZE_AH[k], 0.50);
        spec.cold_cranking_a = CRANKING[r] * SIZE_AH[k] * (kind == TAILVOLT_GEL ? 0.7 : 1.0);
        struct tv_battery *battery = made_of(&spec);
        struct tv_battery_state state;
        tv_battery_rest(battery, 0.0, &state);
        double last_a = 0.0, current_a = 0.0;
        for (int t = 0; t < 6000; t++) current_a = hold(battery, &state, 14.40, 3.0 * SIZE_AH[k], 0.1, &last_a);
        least = fmin(least, current_a / (2.0 * SIZE_AH[k] / 20.0));
        most = fmax(most, current_a / (2.0 * SIZE_AH[k] / 20.0));
        tv_battery_free(battery);
      }
    print_message("%s at 0 C: %.2f to %.2f times what is wanted\n", tv_battery_word((enum tailvolt_battery_kind)kind), least, most);
    assert_true(least >= 1.0 && most < 5.0);
  }
}

/* Half empty at 14.4 V and 25 C: an AGM battery is said to take one and a half to two times what a flooded one does
 * (values from memory). The one that was measured, 0.4 C at 63 % and 0.2 C at 77 % (above), and the flooded ranges above
 * leave 1.3 to 1.5. The rest of the charge is slow, 5 to 6 h from half to full (values from memory; full here 99 %, at
 * 14.2 V, as in a car). */
static void mats_take_charge_faster_and_the_end_is_slow(void **unused) {
  (void)unused;
  double first_a[2];
  for (int k = 0; k < 2; k++) {
    struct tv_battery *battery = made(k ? TAILVOLT_AGM : TAILVOLT_FLOODED, 70.0, 0.50);
    struct tv_battery_state state;
    tv_battery_rest(battery, 25.0, &state);
    double last_a = 0.0, t_s = 0.0;
    for (int t = 0; t < 1800; t++) first_a[k] = hold(battery, &state, 14.4, 300.0, 0.1, &last_a);
    tv_battery_rest(battery, 25.0, &state);
    for (last_a = 0.0; tv_battery_soc_frac(battery, &state) < 0.99; t_s += 0.2)
      (void)hold(battery, &state, 14.2, 60.0, 0.2, &last_a);
    print_message("%s: %.1f A after 3 min at 50 %%; to 99 %% in %.1f h\n", tv_battery_word(battery->kind->kind), first_a[k],
                  t_s / 3600.0);
    assert_true(t_s > 4.5 * 3600.0 && t_s < 6.5 * 3600.0);
    tv_battery_free(battery);
  }
  assert_true(first_a[1] / first_a[0] >= 1.3 && first_a[1] / first_a[0] <= 2.0);
}

/* A 70 Ah AGM battery labelled 760 A EN has 3 to 3.5 mohm when full and warm; a flooded one of 640 A EN about 4 to 5
 * (values from memory; trade rule 3.0 V over the cold cranking current: 3.9 and 4.7). */
static void mats_are_stiffer(void **unused) {
  (void)unused;
  double ohm[2];
  for (int k = 0; k < 2; k++) {
    struct tailvolt_battery spec = label(k ? TAILVOLT_AGM : TAILVOLT_FLOODED, 70.0, 1.0);
    spec.cold_cranking_a = k ? 760.0 : 640.0;
    struct tv_battery *battery = made_of(&spec);
    struct tv_battery_state state;
    tv_battery_rest(battery, 25.0, &state);
    ohm[k] = tv_battery_resistance_ohm(battery, &state);
    tv_battery_free(battery);
  }
  print_message("70 Ah: flooded %.2f, glass mat %.2f mohm\n", 1e3 * ohm[0], 1e3 * ohm[1]);
  assert_true(ohm[0] >= 3.9e-3 && ohm[0] <= 5.0e-3);
  assert_true(ohm[1] >= 3.0e-3 && ohm[1] <= 3.5e-3);
}

/* 100 Ah valve-regulated block, 31.2 A to 14.9 V and held there to 1.66 A; then 13.43 V at 8 min of rest, 13.31 V at
 * 0.6 h, 13.24 V at 2.1 h (measured), but 12.62 V after 6 min at 10 A. */
static void surface_charge_fades(void **unused) {
  (void)unused;
  static const double AFTER_S[] = {480.0, 2160.0, 7560.0}, MEASURED_V[] = {13.43, 13.31, 13.24};
  struct tv_battery *battery = made(TAILVOLT_AGM, 100.0, 0.10);
  struct tv_battery_state state;
  tv_battery_rest(battery, 25.0, &state);
  double last_a = 0.0, at_s = 0.0, v = HUGE_VAL;
  do (void)hold(battery, &state, 14.9, 31.2, 0.1, &last_a);
  while (last_a < -1.66);
  assert_true(tv_battery_soc_frac(battery, &state) > 0.97 && tv_battery_soc_frac(battery, &state) <= 1.0);
  double rested_v = tv_battery_open_circuit_v(battery, &state);
  for (int k = 0; k < 3; k++) {
    double before_v = v;
    v = rest_v(battery, &state, AFTER_S[k] - at_s, 0.0, 0.1);
    at_s = AFTER_S[k];
    print_message("%.1f h: %.3f V (measured %.2f)\n", at_s / 3600.0, v, MEASURED_V[k]);
    assert_near(v, MEASURED_V[k], 0.10);
    assert_true(v < before_v);
  }
  /* gone with the first per cent drawn, and over days */
  struct tv_battery_state kept = state;
  assert_true(rest_v(battery, &state, 360.0, 10.0, 0.1) < rested_v);
  v = rest_v(battery, &kept, 3.0 * 86400.0, 0.0, 10.0);
  print_message("three days: %.3f V above rest\n", v - rested_v);
  assert_true(v - rested_v > 0.0 && v - rested_v < 0.10);
  tv_battery_free(battery);
}

/* Flooded 3 to 5 % a month, doubling for each 10 to 12 K (handbook values from memory). */
static void discharges_itself(void **unused) {
  (void)unused;
  double lost[2];
  for (int warm = 0; warm < 2; warm++) {
    struct tv_battery *battery = made(TAILVOLT_FLOODED, 70.0, 1.0);
    struct tv_battery_state state;
    tv_battery_rest(battery, warm ? 36.0 : 25.0, &state);
    (void)rest_v(battery, &state, 30.0 * 86400.0, 0.0, 60.0);
    lost[warm] = 1.0 - tv_battery_soc_frac(battery, &state);
    tv_battery_free(battery);
  }
  print_message("self-discharge in 30 days: %.2f %% at 25 C, %.2f %% at 36 C\n", 100.0 * lost[0],
                100.0 * lost[1]);
  assert_true(lost[0] > 0.03 && lost[0] < 0.05);
  assert_near(lost[1] / lost[0], 2.0, 0.25);
}

/* The key-off draw of a parked car, 30 mA (common practice, 20 to 50 mA; 0.72 Ah a day), takes 21 x 24 x 0.03 = 15.1 Ah
 * in three weeks: seven times what the battery loses by itself. */
static void three_weeks_of_standing(void **unused) {
  (void)unused;
  double lost_ah[2];
  for (int k = 0; k < 2; k++) {
    struct tv_battery *battery = made(TAILVOLT_FLOODED, 70.0, 0.85);
    struct tv_battery_state state;
    tv_battery_rest(battery, 25.0, &state);
    double before_c = state.charge_c;
    (void)rest_v(battery, &state, 21.0 * 86400.0, k ? 0.03 : 0.0, 60.0);
    lost_ah[k] = (before_c - state.charge_c) / 3600.0;
    tv_battery_free(battery);
  }
  print_message("three weeks: %.2f Ah by itself, %.2f Ah with the car\n", lost_ah[0], lost_ah[1]);
  assert_true(lost_ah[0] > 0.8 && lost_ah[0] < 3.0);
  assert_true(lost_ah[1] > 15.12 && lost_ah[1] < 15.12 + lost_ah[0] + 1e-6);
}

static double capacity_ah(const struct tv_battery *battery, double temperature_c, double current_a) {
  return current_a * tv_constant_current_s(battery, temperature_c, current_a, 10.5, 5.0, 2e5) / 3600.0;
}

/* C = C25 (1 + L (T - 25)), L = 0.006 at the ten-hour and 0.01 at the one-hour rate (IEC 60896, value from
 * memory); at -18 C a starter battery has 50 to 60 % left at moderate rates (value from memory). */
static void capacity_falls_in_the_cold(void **unused) {
  (void)unused;
  static const double AT_C[] = {-18.0, 0.0, 40.0}, TEN_H[] = {0.742, 0.850, 1.090},
                      ONE_H[] = {0.570, 0.750, 1.150};
  struct tv_battery *battery = made(TAILVOLT_FLOODED, 70.0, 1.0);
  double ten_ah = capacity_ah(battery, 25.0, 6.4), one_ah = capacity_ah(battery, 25.0, 43.0);
  for (int k = 0; k < 3; k++) {
    double ten = capacity_ah(battery, AT_C[k], 6.4) / ten_ah,
           one = capacity_ah(battery, AT_C[k], 43.0) / one_ah;
    print_message("%.0f C: %.3f (ten hours), %.3f (one hour)\n", AT_C[k], ten, one);
    assert_near(ten, TEN_H[k], 0.11);
    assert_near(one, ONE_H[k], 0.06);
  }
  double five = capacity_ah(battery, -18.0, 12.0) / capacity_ah(battery, 25.0, 12.0);
  print_message("-18 C: %.3f (five hours)\n", five);
  assert_true(five >= 0.50 && five <= 0.60);
  tv_battery_free(battery);
}

/* Drop in 15 s at half the cranking current: 0.73 %/K, from the floors of the workshop load test between
 * 21 C and -12 C; resistance at -18 C is 1.4 to 2 times that of 25 C (handbook value from memory). */
static void resistance_rises_in_the_cold(void **unused) {
  (void)unused;
  struct tv_battery *battery = made(TAILVOLT_FLOODED, 70.0, 1.0);
  struct tv_battery_state state;
  double drop_v[2], ohm[2];
  for (int cold = 0; cold < 2; cold++) {
    tv_battery_rest(battery, cold ? -18.0 : 25.0, &state);
    ohm[cold] = tv_battery_resistance_ohm(battery, &state);
    drop_v[cold] = tv_battery_open_circuit_v(battery, &state) - rest_v(battery, &state, 15.0, 315.0, 1e-3);
  }
  print_message("cold against warm: drop %.2f, ohmic %.2f\n", drop_v[1] / drop_v[0], ohm[1] / ohm[0]);
  assert_near(drop_v[1] / drop_v[0], exp(0.0073 * 43.0), 0.10);
  assert_true(ohm[1] / ohm[0] >= 1.4 && ohm[1] / ohm[0] <= 2.0);
  tv_battery_free(battery);
}

/* Rest recovers what a high rate could not draw: the reason for two wells. */
static void recovers_at_rest(void **unused) {
  (void)unused;
  struct tv_battery *battery = made(TAILVOLT_FLOODED, 70.0, 1.0);
  struct tv_battery_state state;
  tv_battery_rest(battery, 25.0, &state);
  while (rest_v(battery, &state, 1.0, 50.0, 0.1) > 10.5)
    ;
  double empty_v = rest_v(battery, &state, 1.0, 50.0, 0.1);
  double rested_v = rest_v(battery, &state, 7200.0, 0.0, 0.1), again_s = 0.0;
  while (rest_v(battery, &state, 1.0, 50.0, 0.1) > 10.5) again_s += 1.0;
  assert_true(empty_v <= 10.5 && rested_v > 11.8 && rested_v < 12.4);
  assert_true(again_s > 600.0);
  tv_battery_free(battery);
}

/* Printed temperature table of a flooded battery (27 C: 12.650 V; -17.8 C: 12.516 V; 4.4 C, half: 12.196 V).
 */
static void rested_voltage_follows_its_table(void **unused) {
  (void)unused;
  struct tv_battery *battery = made(TAILVOLT_FLOODED, 70.0, 1.0);
  struct tv_battery_state state;
  tv_battery_rest(battery, 26.7, &state);
  assert_near(tv_battery_open_circuit_v(battery, &state), 12.650, 0.003);
  tv_battery_rest(battery, -17.8, &state);
  assert_near(tv_battery_open_circuit_v(battery, &state), 12.516, 0.003);
  tv_battery_free(battery);
  battery = made(TAILVOLT_FLOODED, 70.0, 0.5);
  tv_battery_rest(battery, 4.4, &state);
  assert_near(tv_battery_open_circuit_v(battery, &state), 12.196, 0.003);
  tv_battery_free(battery);
}

/* ---- two batteries at the ends of a lead ---- */

struct pair {
  struct tv_battery *battery[2];
  struct tv_battery_state state[2];
  double last_a[2];
};

/* Nodal solve of both at one point through lead_ohm from the second, with a load at the point. */
static void pair_step(struct pair *pair, double lead_ohm, double load_a, double h_s) {
  struct tv_battery_line line[2];
  for (int k = 0; k < 2; k++)
    line[k] = tv_battery_begin(pair->battery[k], &pair->state[k], h_s, pair->last_a[k]);
  double g0 = 1.0 / line[0].r_ohm, g1 = 1.0 / (line[1].r_ohm + lead_ohm);
  double v = (line[0].e_v * g0 + line[1].e_v * g1 - load_a) / (g0 + g1);
  pair->last_a[0] = (line[0].e_v - v) * g0;
  pair->last_a[1] = (line[1].e_v - v) * g1;
  for (int k = 0; k < 2; k++) tv_battery_end(pair->battery[k], &pair->state[k], h_s, pair->last_a[k]);
}

static void pair_open(struct pair *pair, double first_soc, double second_soc) {
  pair->battery[0] = made(TAILVOLT_FLOODED, 70.0, first_soc);
  pair->battery[1] = made(TAILVOLT_FLOODED, 50.0, second_soc);
  for (int k = 0; k < 2; k++) {
    tv_battery_rest(pair->battery[k], 25.0, &pair->state[k]);
    pair->last_a[k] = 0.0;
  }
}

static void pair_close(struct pair *pair) {
  tv_battery_free(pair->battery[0]);
  tv_battery_free(pair->battery[1]);
}

static void two_share_by_resistance_and_swap_charge(void **unused) {
  (void)unused;
  struct pair pair;
  pair_open(&pair, 0.9, 0.9);
  pair_step(&pair, 0.0, 120.0, 1e-4);
  double r0 = tv_battery_resistance_ohm(pair.battery[0], &pair.state[0]);
  double r1 = tv_battery_resistance_ohm(pair.battery[1], &pair.state[1]);
  assert_near_rel(pair.last_a[0] / pair.last_a[1], r1 / r0, 2e-3);
  assert_near(pair.last_a[0] + pair.last_a[1], 120.0, 1e-9);
  pair_close(&pair);

  pair_open(&pair, 0.9, 0.5);
  double both_c = pair.state[0].charge_c + pair.state[1].charge_c, first_a = 0.0;
  double apart_frac = 0.4;
  for (int hour = 0; hour < 12; hour++) {
    for (long k = 0; k < 36000; k++) pair_step(&pair, 2e-3, 0.0, 0.1);
    double now_frac = tv_battery_soc_frac(pair.battery[0], &pair.state[0]) -
                      tv_battery_soc_frac(pair.battery[1], &pair.state[1]);
    assert_true(now_frac < apart_frac);
    assert_near(pair.last_a[0] + pair.last_a[1], 0.0, 1e-9);
    if (hour == 0) first_a = pair.last_a[0];
    apart_frac = now_frac;
  }
  print_message("swap at rest: %.2f A after an hour, %.2f A after twelve; SOC apart by %.0f %% of 40 %%\n",
                first_a, pair.last_a[0], 100.0 * apart_frac);
  assert_true(first_a > 0.05 && pair.last_a[0] < first_a && apart_frac < 0.37);
  double gassed_c = pair.state[0].gassed_c + pair.state[1].gassed_c;
  assert_near(pair.state[0].charge_c + pair.state[1].charge_c + gassed_c, both_c, 1e-8 * both_c);
  pair_close(&pair);

  /* kept apart: unconnected batteries exchange nothing */
  pair_open(&pair, 0.9, 0.5);
  for (long k = 0; k < 36000; k++) pair_step(&pair, 1e9, 0.0, 0.1);
  assert_near(pair.last_a[0], 0.0, 1e-8);
  assert_near(tv_battery_soc_frac(pair.battery[1], &pair.state[1]), 0.5, 1e-3);
  pair_close(&pair);
}

/* ---- lithium-iron pack ---- */

/* A 100 Ah pack has 3 to 8 mohm at 25 C and three to five times that at -10 C (values from memory), small currents for 20 s; at
 * -18 C it is stiff enough to deliver 100 A above 11 V from full: charge transfer saturates. */
static void pack_in_the_cold(void **unused) {
  (void)unused;
  struct tv_battery *battery = made(TAILVOLT_LITHIUM_IRON, 100.0, 1.0);
  struct tv_battery_state state;
  static const double at_c[] = {25.0, -10.0, -18.0};
  double ohm[3];
  for (int k = 0; k < 3; k++) {
    tv_battery_rest(battery, at_c[k], &state);
    double rested_v = tv_battery_open_circuit_v(battery, &state);
    ohm[k] = (rested_v - rest_v(battery, &state, 20.0, 1.0, 1e-2)) / 1.0;
  }
  tv_battery_rest(battery, -18.0, &state);
  double loaded_v = rest_v(battery, &state, 20.0, 100.0, 1e-2);
  print_message("pack of 100 Ah: %.2f mohm at 25 C, %.2f at -10 C, %.2f at -18 C; %.2f V at 100 A and -18 C\n", 1e3 * ohm[0],
                1e3 * ohm[1], 1e3 * ohm[2], loaded_v);
  assert_true(ohm[0] >= 3e-3 && ohm[0] <= 8e-3);
  assert_true(ohm[1] / ohm[0] >= 3.0 && ohm[1] / ohm[0] <= 5.0 && ohm[2] > ohm[1]);
  assert_true(loaded_v > 11.0);
  tv_battery_free(battery);
}

static void pack_protects_itself(void **unused) {
  (void)unused;
  struct tv_battery *battery = made(TAILVOLT_LITHIUM_IRON, 100.0, 0.50);
  struct tv_battery_state state;
  double last_a = 0.0;
  /* no charging below 0 C, but discharging */
  tv_battery_rest(battery, -5.0, &state);
  for (int k = 0; k < 10000; k++) (void)hold(battery, &state, 14.4, 60.0, 1e-3, &last_a);
  assert_int_equal(state.guard, TV_GUARD_NO_CHARGE);
  assert_true(-last_a < 1e-3);
  assert_true(rest_v(battery, &state, 1.0, 50.0, 1e-3) > 12.0);
  assert_int_equal(state.guard, TV_GUARD_CLOSED);
  /* charges when warm */
  tv_battery_set_temperature(battery, 10.0, &state);
  for (int k = 0; k < 10000; k++) (void)hold(battery, &state, 14.4, 60.0, 1e-3, &last_a);
  assert_true(-last_a > 50.0);
  tv_battery_free(battery);

  /* opens when empty, stays open at rest, and closes for a charger */
  battery = made(TAILVOLT_LITHIUM_IRON, 100.0, 0.01);
  tv_battery_rest(battery, 25.0, &state);
  last_a = 0.0;
  long steps = 0;
  while (state.guard == TV_GUARD_CLOSED && steps++ < 2000000) {
    struct tv_battery_line line = tv_battery_begin(battery, &state, 1e-3, last_a);
    last_a = line.e_v / (line.r_ohm + 0.3); /* a resistor */
    tv_battery_end(battery, &state, 1e-3, last_a);
  }
  assert_int_equal(state.guard, TV_GUARD_EMPTY);
  struct tv_battery_line line = tv_battery_begin(battery, &state, 1e-3, 0.0);
  assert_true(line.e_v / (line.r_ohm + 0.3) < 2e-3);
  tv_battery_end(battery, &state, 1e-3, line.e_v / (line.r_ohm + 0.3));
  last_a = 0.0;
  for (int k = 0; k < 1000; k++) (void)hold(battery, &state, 14.2, 40.0, 1e-3, &last_a);
  assert_int_equal(state.guard, TV_GUARD_CLOSED);
  assert_near(last_a, -40.0, 1e-9);
  tv_battery_free(battery);

  /* opens on over-current */
  battery = made(TAILVOLT_LITHIUM_IRON, 100.0, 0.9);
  tv_battery_rest(battery, 25.0, &state);
  for (int k = 0; k < 1000 && state.guard == TV_GUARD_CLOSED; k++) {
    (void)tv_battery_begin(battery, &state, 1e-3, 300.0);
    tv_battery_end(battery, &state, 1e-3, 300.0);
  }
  assert_int_equal(state.guard, TV_GUARD_OVERLOAD);
  tv_battery_free(battery);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(recharge_tapers_as_published),
      cmocka_unit_test(absorption_begins_where_it_was_measured),
      cmocka_unit_test(accepts_charge_in_the_cold),
      cmocka_unit_test(mats_take_charge_faster_and_the_end_is_slow),
      cmocka_unit_test(mats_are_stiffer),
      cmocka_unit_test(surface_charge_fades),
      cmocka_unit_test(discharges_itself),
      cmocka_unit_test(three_weeks_of_standing),
      cmocka_unit_test(capacity_falls_in_the_cold),
      cmocka_unit_test(resistance_rises_in_the_cold),
      cmocka_unit_test(recovers_at_rest),
      cmocka_unit_test(rested_voltage_follows_its_table),
      cmocka_unit_test(two_share_by_resistance_and_swap_charge),
      cmocka_unit_test(pack_in_the_cold),
      cmocka_unit_test(pack_protects_itself),
  };
  return cmocka_run_group_tests(tests, NULL, NULL);
}
