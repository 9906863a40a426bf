/* The battery in the time loop.
 *
 * From the terminals inwards:  v = inside - R0 i,  and inside, the gassing current bypasses the main branch:
 *
 *   inside = U(h1) - v_fast - v_slow - v_tail,   i_main = i + i_gas(inside)
 *
 * - v_fast: charge transfer, across a capacitance that holds the surface charge. Discharging,
 *   i = Ia sinh(v/Va): it saturates with current as in Butler-Volmer. Charging, the charge acceptance: a
 *   conductance proportional to the missing charge, because lead sulphate must dissolve before it can be
 *   charged.
 *
 * - v_slow: a linear branch of about a minute.
 *
 * - v_tail: surface charge that outlasts the charging by hours. A capacitance with a leak i = It sinh(v/Vt), so
 *   at rest it fades with the logarithm of time, as measured; discharging drains it, and at zero the branch is
 *   shorted: it only ever holds the voltage up.
 *
 * - U(h1): rested voltage at the head of the available well, of two (Manwell & McGowan, Solar Energy 50, 1993).
 *   They were chosen over Jackey's capacity formula because music is not a constant current: they recover in the
 *   pauses, need no mean current, keep charge and energy in states, and are a linear branch to the time step.
 *   The knee of U below empty stands in for Jackey's voltage limit. With q = c h1 + (1-c) h2 and d = h2 - h1:
 *
 *     q' = -i,   d' = i/c - k d,   h1 = q - (1-c) d,   h2 = q + c d
 *
 *   The stored energy is c W(h1) + (1-c) W(h2), W the integral of U; the flow k c (1-c) d between the wells
 *   loses U(h2) - U(h1).
 *
 * With explicit polarization the battery is the linear circuit that the user describes, and nothing else.
 *
 * Steps are implicit midpoints: x_mean = (x_old + x_new)/2 obeys the equation, x_new = 2 x_mean - x_old.
 * Nonlinear terms are tangents, taken again when a state leaves the range where they are good to 0.2 mV. */
#include "parts/battery_model.h"
#include "parts/elementary.h"

#include <math.h>

/* range of a tangent: 0.2 per mille of the charge (0.01 mV in the knee; the resistance to 1e-4 of itself), 8
 * mV of the fast branch (0.1 mV by its curvature) */
static const double CHARGE_WINDOW_FRAC = 2e-4;
static const double BRANCH_WINDOW_V = 8e-3;
/* pack protection: when open it still leaks a little, so the network keeps a solution */
static const double GUARD_OHM = 1e4;

enum { TAIL = TV_BATTERY_TAIL };

static double ohmic_factor(const struct tv_battery_kind *kind, double soc_frac) {
  double s = fmin(fmax(soc_frac, 0.0), 1.0);
  return 1.0 +
         kind->ohmic_soc_gain * (1.0 / (s + kind->ohmic_soc_shift) - 1.0 / (1.0 + kind->ohmic_soc_shift));
}

/* the nearer to empty, the faster the resistance moves with charge */
static double charge_window_c(const struct tv_battery *battery, double soc_frac) {
  double shift = battery->kind->ohmic_soc_shift;
  double part = (fmin(fmax(soc_frac, 0.0), 1.0) + shift) / (1.0 + shift);
  return CHARGE_WINDOW_FRAC * battery->usable_c * part * part;
}

/* ---- the linear circuit
 * ------------------------------------------------------------------------------------- */

static void circuit_linearise(const struct tv_battery *battery, struct tv_battery_state *state, double h_s) {
  struct tv_battery_cache *cache = &state->cache;
  const struct tv_battery_curve *curve = &battery->curve;
  double usable_c = battery->usable_c, soc_frac = state->charge_c / usable_c;
  int k = tv_curve_piece(curve, soc_frac);

  cache->h_s = h_s;
  cache->low_c = k > 0 ? curve->from_frac[k] * usable_c : -HUGE_VAL;
  cache->high_c = k + 1 < curve->count ? curve->from_frac[k + 1] * usable_c : HUGE_VAL;
  if (!battery->fixed_ohmic) {
    double window_c = charge_window_c(battery, soc_frac);
    cache->low_c = fmax(cache->low_c, state->charge_c - window_c);
    cache->high_c = fmin(cache->high_c, state->charge_c + window_c);
  }
  cache->u_per_c = curve->slope_v[k] / usable_c;
  cache->u_v = curve->v[k] - curve->slope_v[k] * curve->from_frac[k] + cache->shift_v;
  cache->resistance_ohm = cache->ohmic_ohm;
  if (!battery->fixed_ohmic) cache->resistance_ohm *= ohmic_factor(battery->kind, soc_frac);
  double total_ohm = cache->resistance_ohm + cache->u_per_c * h_s / 2.0;
  for (int b = 0; b < battery->branch_count; b++) {
    double tau_s = battery->branch_s[b], a = tau_s > 0.0 ? h_s / (2.0 * tau_s) : HUGE_VAL;
    cache->keep[b] = 1.0 / (1.0 + a);
    cache->gain_ohm[b] = battery->branch_ohm[b] * (tau_s > 0.0 ? a / (1.0 + a) : 1.0);
    total_ohm += cache->gain_ohm[b];
  }
  cache->total_ohm[0] = total_ohm;
}

static struct tv_battery_line circuit_begin(const struct tv_battery *battery, struct tv_battery_state *state,
                                            double h_s) {
  struct tv_battery_cache *cache = &state->cache;
  if (h_s != cache->h_s || state->charge_c < cache->low_c || state->charge_c > cache->high_c)
    circuit_linearise(battery, state, h_s);
  double e_v = cache->u_v + cache->u_per_c * state->charge_c;
  for (int b = 0; b < battery->branch_count; b++) e_v -= cache->keep[b] * state->branch_v[b];
  return (struct tv_battery_line){e_v, cache->total_ohm[0]};
}

/* Above full, charging current makes gas: the charge stays, the energy is lost. */
static void circuit_overcharge(const struct tv_battery *battery, struct tv_battery_state *state,
                               double before_c) {
  const struct tv_battery_cache *cache = &state->cache;
  double over_c = state->charge_c - fmax(battery->usable_c, before_c);
  double from_c = state->charge_c - over_c;
  state->loss_j += over_c * (cache->u_v + cache->u_per_c * (from_c + over_c / 2.0));
  state->gassed_c += over_c;
  state->charge_c = from_c;
}

static void circuit_end(const struct tv_battery *battery, struct tv_battery_state *state, double h_s,
                        double mean_a, double guard_ohm) {
  const struct tv_battery_cache *cache = &state->cache;
  double loss_w = (cache->resistance_ohm + guard_ohm) * mean_a * mean_a;
  for (int b = 0; b < battery->branch_count; b++) {
    double v_mean = cache->keep[b] * state->branch_v[b] + cache->gain_ohm[b] * mean_a;
    loss_w += v_mean * v_mean * battery->branch_siemens[b];
    state->branch_v[b] = 2.0 * v_mean - state->branch_v[b];
  }
  state->loss_j += loss_w * h_s;
  double before_c = state->charge_c;
  state->charge_c -= mean_a * h_s;
  if (state->charge_c > battery->usable_c && mean_a < 0.0) circuit_overcharge(battery, state, before_c);
}

/* ---- the battery of a label
 * --------------------------------------------------------------------------------- */

static int tail_open(const struct tv_battery *battery, const struct tv_battery_state *state, double main_a) {
  return battery->branch_f[TAIL] > 0.0 && (state->branch_v[TAIL] < 0.0 || main_a < 0.0);
}

/* Solves  v + p i(v) = v_old + p i  for the mean voltage of the fast branch, p = h/2C, and takes the tangent
 * of i(v). */
static void linearise_transfer(const struct tv_battery *battery, struct tv_battery_state *state, double h_s,
                               double main_a) {
  struct tv_battery_cache *cache = &state->cache;
  double p_ohm = h_s / (2.0 * battery->branch_f[0]), old_v = state->branch_v[0];
  double target_v = old_v + p_ohm * main_a, v, current_a, slope_s;
  if (target_v >= 0.0) {
    double scale_a = cache->transfer_a, scale_v = cache->transfer_v;
    /* p i(v) <= target bounds the root from above, and Newton descends to it from there; no state of a
     * circuit that obeys its currents comes near the second bound, which keeps exp() in range */
    v = target_v;
    if (v > scale_v && p_ohm > 0.0) v = fmin(v, scale_v * tv_asinh(target_v / (p_ohm * scale_a)));
    v = fmin(v, 40.0 * scale_v);
    for (int k = 0; k < 30; k++) {
      double up = tv_exp(v / scale_v), down = 1.0 / up;
      current_a = 0.5 * scale_a * (up - down);
      slope_s = 0.5 * scale_a / scale_v * (up + down);
      double change_v = (target_v - v - p_ohm * current_a) / (1.0 + p_ohm * slope_s);
      if (fabs(change_v) < 1e-4) break;
      v += change_v;
    }
  } else {
    double soc_frac = state->charge_c / battery->usable_c;
    double missing_frac = fmax(1.0 - soc_frac, 0.0) + battery->kind->accept_floor_frac;
    slope_s = 1.0 / (cache->transfer_v / cache->transfer_a + 1.0 / (cache->accept_a_per_v * missing_frac));
    v = target_v / (1.0 + p_ohm * slope_s);
    current_a = slope_s * v;
  }
  cache->branch_s = slope_s;
  cache->branch_a = current_a - slope_s * v;
  cache->keep[0] = 1.0 / (1.0 + p_ohm * slope_s);
  cache->gain_ohm[0] = p_ohm * cache->keep[0];
  cache->branch_shift_v = -cache->gain_ohm[0] * cache->branch_a;
  cache->branch_low_v = fmin(old_v, v) - BRANCH_WINDOW_V;
  cache->branch_high_v = fmax(old_v, v) + BRANCH_WINDOW_V;
  /* the law has a corner at zero */
  if (v >= 0.0)
    cache->branch_low_v = fmax(cache->branch_low_v, fmin(old_v, 0.0));
  else
    cache->branch_high_v = fmin(cache->branch_high_v, fmax(old_v, 0.0));
}

/* The same for the surface charge, v <= 0; shorted where none is held and no charging current is expected. */
static void linearise_tail(const struct tv_battery *battery, struct tv_battery_state *state, double h_s,
                           double main_a) {
  struct tv_battery_cache *cache = &state->cache;
  double old_v = state->branch_v[TAIL], scale_v = battery->kind->tail_v;
  cache->tail_open = tail_open(battery, state, main_a);
  cache->keep[TAIL] = cache->gain_ohm[TAIL] = cache->tail_shift_v = 0.0;
  cache->tail_leak_a = cache->tail_leak_s = 0.0;
  cache->tail_low_v = -HUGE_VAL;
  cache->tail_high_v = HUGE_VAL;
  if (!cache->tail_open) return;
  double p_ohm = h_s / (2.0 * battery->branch_f[TAIL]);
  double held_v = fmax(-(old_v + p_ohm * main_a), 0.0), v = held_v, current_a = 0.0, slope_s = 0.0;
  /* as for the fast branch: Newton descends to the root from a bound above */
  if (v > scale_v && p_ohm > 0.0) v = fmin(v, scale_v * tv_asinh(held_v / (p_ohm * cache->tail_a)));
  v = fmin(v, 40.0 * scale_v);
  for (int k = 0; k < 30; k++) {
    double up = tv_exp(v / scale_v), down = 1.0 / up;
    current_a = 0.5 * cache->tail_a * (up - down);
    slope_s = 0.5 * cache->tail_a / scale_v * (up + down);
    double change_v = (held_v - v - p_ohm * current_a) / (1.0 + p_ohm * slope_s);
    if (fabs(change_v) < 1e-4) break;
    v += change_v;
  }
  cache->tail_leak_s = slope_s;
  cache->tail_leak_a = slope_s * v - current_a;
  cache->keep[TAIL] = 1.0 / (1.0 + p_ohm * slope_s);
  cache->gain_ohm[TAIL] = p_ohm * cache->keep[TAIL];
  cache->tail_shift_v = -cache->gain_ohm[TAIL] * cache->tail_leak_a;
  cache->tail_low_v = fmin(old_v, -v) - BRANCH_WINDOW_V;
  cache->tail_high_v = fmax(old_v, -v) + BRANCH_WINDOW_V;
}

static double tangent(const struct tv_battery *battery, double shift_v, double charge_c, double *per_c) {
  double slope_v, v = tv_curve_at(&battery->curve, charge_c / battery->usable_c, &slope_v);
  *per_c = slope_v / battery->usable_c;
  return v + shift_v - *per_c * charge_c;
}

static void linearise_wells(const struct tv_battery *battery, struct tv_battery_state *state, double h_s,
                            double stored_a) {
  struct tv_battery_cache *cache = &state->cache;
  double c = cache->available_frac, head_c = state->head_c, charge_c = state->charge_c;
  cache->well_keep = 1.0 / (1.0 + 0.5 * h_s * cache->exchange_per_s);
  cache->well_gain_s = 0.5 * h_s / c * cache->well_keep;
  double mean_head_c = cache->well_keep * head_c + cache->well_gain_s * stored_a;
  double mean_c = charge_c - 0.5 * h_s * stored_a;
  double h1_c = charge_c - (1.0 - c) * head_c, mean_h1_c = mean_c - (1.0 - c) * mean_head_c;
  double h2_c = charge_c + c * head_c, mean_h2_c = mean_c + c * mean_head_c;
  cache->u_v = tangent(battery, cache->shift_v, mean_h1_c, &cache->u_per_c);
  cache->bound_v = tangent(battery, cache->shift_v, mean_h2_c, &cache->bound_per_c);
  double window_c = charge_window_c(battery, charge_c / battery->usable_c);
  cache->low_c = fmin(h1_c, mean_h1_c) - window_c;
  cache->high_c = fmax(h1_c, mean_h1_c) + window_c;
  cache->bound_low_c = fmin(h2_c, mean_h2_c) - window_c;
  cache->bound_high_c = fmax(h2_c, mean_h2_c) + window_c;
}

/* inside voltage without main current at mid-step; summed as a tree to cut latency */
static double inner_rest_v(const struct tv_battery_state *state) {
  const struct tv_battery_cache *cache = &state->cache;
  double held_v = cache->head_v_per_c * state->head_c + cache->keep[0] * state->branch_v[0];
  double charge_v = cache->inner_shift_v + cache->u_per_c * state->charge_c;
  double slow_v = cache->keep[1] * state->branch_v[1] + cache->keep[TAIL] * state->branch_v[TAIL];
  return (charge_v - held_v) - slow_v;
}

static void label_linearise(const struct tv_battery *battery, struct tv_battery_state *state, double h_s,
                            double last_mean_a) {
  struct tv_battery_cache *cache = &state->cache;
  const struct tv_battery_kind *kind = battery->kind;
  if (fabs(last_mean_a) <= -TV_BATTERY_CHARGED_A) last_mean_a = 0.0;
  double soc_frac = state->charge_c / battery->usable_c;
  double missing_frac = fmax(1.0 - soc_frac, 0.0);
  cache->h_s = h_s;
  cache->store_frac = kind->store_frac * -tv_expm1(-missing_frac / kind->store_end_frac);
  double stored_a = last_mean_a < 0.0 ? last_mean_a * cache->store_frac : last_mean_a;
  linearise_wells(battery, state, h_s, stored_a);
  linearise_transfer(battery, state, h_s, last_mean_a);
  linearise_tail(battery, state, h_s, last_mean_a);
  double a = h_s / (2.0 * battery->branch_s[1]);
  cache->keep[1] = 1.0 / (1.0 + a);
  cache->gain_ohm[1] = battery->branch_ohm[1] * a * cache->keep[1];
  cache->resistance_ohm = cache->ohmic_ohm;
  if (!battery->fixed_ohmic) cache->resistance_ohm *= ohmic_factor(kind, soc_frac);

  double per_stored_ohm = cache->u_per_c * (0.5 * h_s + (1.0 - cache->available_frac) * cache->well_gain_s);
  double branches_ohm = cache->gain_ohm[0] + cache->gain_ohm[1] + cache->gain_ohm[TAIL];
  cache->inner_ohm[0] = per_stored_ohm + branches_ohm;
  cache->inner_ohm[1] = per_stored_ohm * cache->store_frac + branches_ohm;
  cache->inner_shift_v = cache->u_v - cache->branch_shift_v - cache->tail_shift_v;
  cache->head_v_per_c = cache->u_per_c * (1.0 - cache->available_frac) * cache->well_keep;
  double inside_v = inner_rest_v(state) - cache->inner_ohm[last_mean_a < 0.0] * last_mean_a;
  /* capped at 18 V: beyond it the law means nothing and exp() may overflow */
  double gas_a = cache->gas_a * tv_exp(kind->gas_per_v * (fmin(inside_v, 18.0) - kind->gas_at_v));
  cache->gas_s = gas_a * kind->gas_per_v;
  cache->gas_shift_a = gas_a - cache->gas_s * fmin(inside_v, 18.0);
  for (int j = 0; j < 2; j++) {
    cache->line_gain[j] = 1.0 / (1.0 + cache->inner_ohm[j] * cache->gas_s);
    cache->inside_ohm[j] = cache->inner_ohm[j] * cache->line_gain[j];
    cache->line_shift_v[j] = -cache->inside_ohm[j] * cache->gas_shift_a;
    cache->total_ohm[j] = cache->resistance_ohm + cache->inside_ohm[j];
  }
}

static struct tv_battery_line label_begin(const struct tv_battery *battery, struct tv_battery_state *state,
                                          double h_s, double last_mean_a) {
  struct tv_battery_cache *cache = &state->cache;
  double c = cache->available_frac, head_c = state->head_c;
  double h1_c = state->charge_c - (1.0 - c) * head_c, h2_c = state->charge_c + c * head_c;
  double fast_v = state->branch_v[0], tail_v = state->branch_v[TAIL];
  if (h_s != cache->h_s || h1_c < cache->low_c || h1_c > cache->high_c || h2_c < cache->bound_low_c ||
      h2_c > cache->bound_high_c || fast_v < cache->branch_low_v || fast_v > cache->branch_high_v ||
      tail_v < cache->tail_low_v || tail_v > cache->tail_high_v ||
      cache->tail_open != tail_open(battery, state, last_mean_a))
    label_linearise(battery, state, h_s, last_mean_a);
  int j = last_mean_a < TV_BATTERY_CHARGED_A;
  cache->charging = j;
  cache->line_e_v = inner_rest_v(state) * cache->line_gain[j] + cache->line_shift_v[j];
  return (struct tv_battery_line){cache->line_e_v, cache->total_ohm[j]};
}

static void label_end(const struct tv_battery *battery, struct tv_battery_state *state, double h_s,
                      double mean_a, double guard_ohm) {
  const struct tv_battery_cache *cache = &state->cache;
  int j = cache->charging;
  double inside_v = cache->line_e_v - cache->inside_ohm[j] * mean_a;
  double gas_a = cache->gas_s * inside_v + cache->gas_shift_a;
  double main_a = mean_a + gas_a;
  /* by the sign the current took, not the one the line assumed: the difference from the line is below 1 uV,
   * but at full charge, where nothing is stored, a lag of one step would add up */
  double stored_a = main_a < 0.0 ? main_a * cache->store_frac : main_a;

  double fast_v = cache->keep[0] * state->branch_v[0] + cache->gain_ohm[0] * main_a + cache->branch_shift_v;
  double slow_v = cache->keep[1] * state->branch_v[1] + cache->gain_ohm[1] * main_a;
  double tail_v = cache->keep[TAIL] * state->branch_v[TAIL] + cache->gain_ohm[TAIL] * main_a + cache->tail_shift_v;
  double head_c = cache->well_keep * state->head_c + cache->well_gain_s * stored_a;
  double charge_c = state->charge_c - 0.5 * h_s * stored_a;
  double c = cache->available_frac;
  double h1_v = cache->u_v + cache->u_per_c * (charge_c - (1.0 - c) * head_c);
  double h2_v = cache->bound_v + cache->bound_per_c * (charge_c + c * head_c);

  double loss_w = (cache->resistance_ohm + guard_ohm) * mean_a * mean_a +
                  fast_v * (cache->branch_a + cache->branch_s * fast_v) +
                  slow_v * slow_v * battery->branch_siemens[1] +
                  tail_v * (cache->tail_leak_a + cache->tail_leak_s * tail_v) +
                  cache->exchange_per_s * c * (1.0 - c) * head_c * (h2_v - h1_v) + inside_v * gas_a -
                  h1_v * (main_a - stored_a);
  state->loss_j += loss_w * h_s;
  state->gassed_c += (gas_a + stored_a - main_a) * h_s;
  state->branch_v[0] = 2.0 * fast_v - state->branch_v[0];
  state->branch_v[1] = 2.0 * slow_v - state->branch_v[1];
  if (cache->tail_open) {
    state->branch_v[TAIL] = 2.0 * tail_v - state->branch_v[TAIL];
    if (state->branch_v[TAIL] > 0.0) { /* drained within the step: the rest passed through the short */
      state->loss_j += 0.5 * battery->branch_f[TAIL] * state->branch_v[TAIL] * state->branch_v[TAIL];
      state->branch_v[TAIL] = 0.0;
    }
  }
  state->head_c = 2.0 * head_c - state->head_c;
  state->charge_c = 2.0 * charge_c - state->charge_c;
  if (state->charge_c > battery->usable_c && stored_a < 0.0) {
    /* the step was too long for store_frac to close: the rest made gas */
    double over_c = state->charge_c - battery->usable_c;
    state->charge_c = battery->usable_c;
    state->gassed_c += over_c;
    state->loss_j += over_c * (c * h1_v + (1.0 - c) * h2_v);
  }
}

/* ---- pack protection
 * ---------------------------------------------------------------------------------------- */

static double guard_ohm(const struct tv_battery_state *state) {
  return state->guard == TV_GUARD_CLOSED ? 0.0 : GUARD_OHM;
}

static void guard_begin(const struct tv_battery *battery, struct tv_battery_state *state,
                        double last_mean_a) {
  bool refuses = state->temperature_c < 0.0 || state->charge_c >= TV_GUARD_FULL_FRAC * battery->usable_c;
  if (state->guard == TV_GUARD_CLOSED && refuses && last_mean_a < 0.0)
    state->guard = TV_GUARD_NO_CHARGE;
  else if (state->guard == TV_GUARD_NO_CHARGE && (!refuses || last_mean_a > 0.0))
    state->guard = TV_GUARD_CLOSED;
  else if (state->guard == TV_GUARD_EMPTY && !refuses && last_mean_a < 0.0)
    state->guard = TV_GUARD_CLOSED;
  else if (state->guard == TV_GUARD_OVERLOAD && state->guard_s > TV_GUARD_RETRY_S) {
    state->guard = TV_GUARD_CLOSED;
    state->guard_s = 0.0;
  }
}

static void guard_end(const struct tv_battery *battery, struct tv_battery_state *state, double h_s,
                      double mean_a, double terminal_v) {
  bool empty = terminal_v<TV_GUARD_EMPTY_V, overload = mean_a> battery->overload_a;
  if (state->guard == TV_GUARD_OVERLOAD || (state->guard == TV_GUARD_CLOSED && (empty || overload)))
    state->guard_s += h_s;
  else
    state->guard_s = 0.0;
  if (state->guard == TV_GUARD_CLOSED && state->guard_s > TV_GUARD_DELAY_S) {
    state->guard = overload ? TV_GUARD_OVERLOAD : TV_GUARD_EMPTY;
    state->guard_s = 0.0;
  }
}

/* ---- what the run calls
 * ------------------------------------------------------------------------------------- */

void tv_battery_linearise(const struct tv_battery *battery, struct tv_battery_state *state, double h_s,
                          double last_mean_a) {
  if (battery->circuit)
    circuit_linearise(battery, state, h_s);
  else
    label_linearise(battery, state, h_s, last_mean_a);
}

struct tv_battery_line tv_battery_begin(const struct tv_battery *battery, struct tv_battery_state *state,
                                        double h_s, double last_mean_a) {
  struct tv_battery_line line =
      battery->circuit ? circuit_begin(battery, state, h_s) : label_begin(battery, state, h_s, last_mean_a);
  if (battery->guarded) {
    guard_begin(battery, state, last_mean_a);
    line.r_ohm += guard_ohm(state);
  }
  return line;
}

void tv_battery_end(const struct tv_battery *battery, struct tv_battery_state *state, double h_s,
                    double mean_a) {
  double added_ohm = 0.0;
  if (battery->guarded) {
    struct tv_battery_drops drops;
    tv_battery_drops(battery, state, h_s, mean_a, &drops);
    double terminal_v = drops.ocv_v - drops.ohmic_v;
    for (int b = 0; b < drops.branch_count; b++) terminal_v -= drops.branch_v[b];
    added_ohm = guard_ohm(state);
    guard_end(battery, state, h_s, mean_a, terminal_v);
  }
  if (battery->circuit)
    circuit_end(battery, state, h_s, mean_a, added_ohm);
  else
    label_end(battery, state, h_s, mean_a, added_ohm);
}

void tv_battery_drops(const struct tv_battery *battery, const struct tv_battery_state *state, double h_s,
                      double mean_a, struct tv_battery_drops *drops) {
  const struct tv_battery_cache *cache = &state->cache;
  drops->ohmic_v = cache->resistance_ohm * mean_a;
  if (battery->guarded) drops->ohmic_v += guard_ohm(state) * mean_a;
  drops->given = battery->circuit;
  if (battery->circuit) {
    drops->ocv_v = cache->u_v + cache->u_per_c * (state->charge_c - 0.5 * h_s * mean_a);
    drops->branch_count = battery->branch_count;
    for (int b = 0; b < battery->branch_count; b++)
      drops->branch_v[b] = cache->keep[b] * state->branch_v[b] + cache->gain_ohm[b] * mean_a;
    return;
  }
  int j = cache->charging;
  double inside_v = cache->line_e_v - cache->inside_ohm[j] * mean_a;
  double main_a = mean_a + cache->gas_s * inside_v + cache->gas_shift_a;
  double stored_a = j ? main_a * cache->store_frac : main_a;
  double charge_c = state->charge_c - 0.5 * h_s * stored_a;
  drops->ocv_v = tv_curve_at(&battery->curve, charge_c / battery->usable_c, NULL) + cache->shift_v;
  drops->branch_count = battery->branch_f[TAIL] > 0.0 ? 4 : 3;
  drops->branch_v[0] =
      cache->keep[0] * state->branch_v[0] + cache->gain_ohm[0] * main_a + cache->branch_shift_v;
  drops->branch_v[1] = cache->keep[1] * state->branch_v[1] + cache->gain_ohm[1] * main_a;
  double tail_v = cache->keep[TAIL] * state->branch_v[TAIL] + cache->gain_ohm[TAIL] * main_a + cache->tail_shift_v;
  drops->branch_v[3] = tail_v;
  /* what the available well is short of against the battery at rest */
  drops->branch_v[2] = drops->ocv_v - inside_v - drops->branch_v[0] - drops->branch_v[1] - tail_v;
}

double tv_battery_soc_frac(const struct tv_battery *battery, const struct tv_battery_state *state) {
  return state->charge_c / battery->usable_c;
}

double tv_battery_open_circuit_v(const struct tv_battery *battery, const struct tv_battery_state *state) {
  return tv_curve_at(&battery->curve, state->charge_c / battery->usable_c, NULL) + state->cache.shift_v;
}

double tv_battery_stored_j(const struct tv_battery *battery, const struct tv_battery_state *state) {
  double usable_c = battery->usable_c, charge_c = state->charge_c, c = state->cache.available_frac;
  double stored_j = state->cache.shift_v * charge_c;
  if (battery->circuit) {
    stored_j += usable_c * tv_curve_area(&battery->curve, charge_c / usable_c);
  } else {
    double h1_c = charge_c - (1.0 - c) * state->head_c, h2_c = charge_c + c * state->head_c;
    stored_j += usable_c * (c * tv_curve_area(&battery->curve, h1_c / usable_c) +
                            (1.0 - c) * tv_curve_area(&battery->curve, h2_c / usable_c));
  }
  for (int b = 0; b < battery->branch_count; b++)
    stored_j += 0.5 * battery->branch_f[b] * state->branch_v[b] * state->branch_v[b];
  return stored_j;
}

double tv_battery_capacity_ah(const struct tv_battery *battery) {
  return battery->usable_c / 3600.0;
}

double tv_battery_resistance_ohm(const struct tv_battery *battery, const struct tv_battery_state *state) {
  if (battery->fixed_ohmic) return battery->ohmic_ohm;
  return state->cache.ohmic_ohm * ohmic_factor(battery->kind, state->charge_c / battery->usable_c);
}
