/* A battery at rest, and the effects of temperature. */
#include "parts/battery_model.h"
#include "parts/elementary.h"

#include <math.h>
#include <string.h>

/* Rested voltage of a flooded battery against temperature, the same for every state of charge (printed
 * temperature table, 100 % column). */
static const double SHIFT_C[] = {-17.8, -12.2, -6.7, -1.1, 4.4, 10.0, 15.6, 21.1, 26.7, 37.8};
static const double SHIFT_V[] = {12.516, 12.542, 12.566, 12.588, 12.606,
                                 12.622, 12.634, 12.643, 12.650, 12.658};
enum { SHIFT_COUNT = (int)(sizeof SHIFT_C / sizeof SHIFT_C[0]) };

static double acid_table_v(double temperature_c) {
  int k = 0;
  while (k + 2 < SHIFT_COUNT && temperature_c > SHIFT_C[k + 1]) k++;
  double slope = (SHIFT_V[k + 1] - SHIFT_V[k]) / (SHIFT_C[k + 1] - SHIFT_C[k]);
  return SHIFT_V[k] + slope * (temperature_c - SHIFT_C[k]);
}

static void set_cache(const struct tv_battery *battery, double temperature_c,
                      struct tv_battery_cache *cache) {
  const struct tv_battery_kind *kind = battery->kind;
  double above_k = temperature_c - TV_LABEL_C;
  cache->h_s = -1.0;
  cache->ohmic_ohm = battery->ohmic_ohm;
  if (!battery->fixed_ohmic) cache->ohmic_ohm *= tv_exp(-kind->ohmic_per_k * above_k);
  cache->shift_v = 0.0;
  if (kind->acid_shift && !battery->fixed_ocv)
    cache->shift_v = acid_table_v(temperature_c) - acid_table_v(TV_LABEL_C);
  cache->available_frac =
      fmin(fmax(battery->available_frac * (1.0 + kind->available_per_k * above_k), 0.03), 0.98);
  cache->exchange_per_s = battery->exchange_per_s * tv_exp(kind->exchange_per_k * above_k);
  cache->transfer_v = kind->transfer_v * (temperature_c + TV_ABSOLUTE_C) / (TV_LABEL_C + TV_ABSOLUTE_C);
  cache->transfer_a = kind->transfer_v / battery->transfer_ohm * tv_exp(kind->transfer_per_k * above_k);
  cache->accept_a_per_v =
      kind->accept_per_v_h * battery->usable_c / 3600.0 * tv_pow(2.0, fmin(above_k, 15.0) / kind->accept_doubling_k);
  cache->tail_a = kind->tail_a_per_ah * battery->usable_c / 3600.0 * tv_exp(kind->transfer_per_k * above_k);
  cache->gas_a = kind->gas_a_per_ah * battery->usable_c / 3600.0 * tv_exp(kind->gas_per_k * above_k);
}

void tv_battery_rest(const struct tv_battery *battery, double temperature_c, struct tv_battery_state *state) {
  memset(state, 0, sizeof *state);
  state->temperature_c = temperature_c;
  set_cache(battery, temperature_c, &state->cache);
  double soc_frac = battery->start_frac;
  if (!isnan(battery->start_v))
    soc_frac = tv_curve_inverse(&battery->curve, battery->start_v - state->cache.shift_v);
  state->charge_c = soc_frac * battery->usable_c;
}

void tv_battery_set_temperature(const struct tv_battery *battery, double temperature_c,
                                struct tv_battery_state *state) {
  if (temperature_c == state->temperature_c) return;
  double before_j = tv_battery_stored_j(battery, state);
  state->temperature_c = temperature_c;
  set_cache(battery, temperature_c, &state->cache);
  state->loss_j += before_j - tv_battery_stored_j(battery, state);
}

/* The kind's rested voltage with another one when empty: v'(s) = v(1) - (v(1) - v(s)) (v(1) - empty)/(v(1) - v(0)). When empty is where
 * batteries of a kind differ, as their acid runs out: a measured 17 Ah block ended at 11.28 V, its kind's curve at 11.80 V
 * (tests/outside/test_battery_measured.c). */
static void stretch_curve(const struct tv_battery_kind *kind, double empty_v, double v[TAILVOLT_CURVE_MAX]) {
  double full_v = kind->ocv_v[kind->ocv_count - 1], ratio = (full_v - empty_v) / (full_v - kind->ocv_v[0]);
  for (int k = 0; k < kind->ocv_count; k++) v[k] = full_v - (full_v - kind->ocv_v[k]) * ratio;
}

void tv_battery_make_curve(struct tv_battery *battery, const struct tailvolt_battery *spec) {
  const struct tv_battery_kind *kind = battery->kind;
  battery->fixed_ocv = spec->open_circuit_count > 0;
  if (battery->fixed_ocv)
    tv_curve_make(spec->open_circuit_frac, spec->open_circuit_v, spec->open_circuit_count, battery->knee_v,
                  &battery->curve);
  else {
    double v[TAILVOLT_CURVE_MAX];
    stretch_curve(kind, spec->empty_v > 0 ? spec->empty_v : kind->ocv_v[0], v);
    tv_curve_make(kind->ocv_frac, spec->empty_v > 0 ? v : kind->ocv_v, kind->ocv_count, battery->knee_v, &battery->curve);
  }
}
