/* From the label to the parameters, solved on the simulated standard tests.
 *
 * Three data fix three unknowns: capacity (20 h to 10.5 V at C20/20) fixes the knee of the rested voltage
 * below empty, reserve (25 A to 10.5 V) the width of the available well, cold cranking the ohmic resistance.
 * The state at a given time of a constant current does not depend on the knee, and the resistance adds to the
 * voltage in proportion to the current, so two of the three follow from one simulated test each; the width is
 * the root of the third (Brent), and the cycle repeats until the resistance settles. */
#include "numeric/root.h"
#include "parts/battery_model.h"
#include "text/number.h"
#include "text/words.h"

#include <math.h>
#include <stdio.h>

static const double EMPTY_V = 10.5;
static const double RESERVE_A = 25.0;
/* the reserve relation is for starter batteries; a smaller battery is treated as that size scaled down, test
 * current included */
static const double LEAST_RELATION_AH = 20.0;
static const double LEAST_FRAC = 0.05, MOST_FRAC = 0.95; /* width of the available well */
/* grids, straps and acid of the thinnest plates made (about 0.1 ohm Ah) leave no less ohmic resistance */
static const double LEAST_OHM_AH = 0.06;

struct tv_standard_test tv_cranking_test(enum tailvolt_cranking_standard standard) {
  switch (standard) {
  case TAILVOLT_SAE:
    return (struct tv_standard_test){7.2, 30.0}; /* SAE J537 */
  case TAILVOLT_DIN:
    return (struct tv_standard_test){9.0, 30.0}; /* DIN 43539-2 */
  default:
    return (struct tv_standard_test){7.5, 10.0}; /* EN 50342-1 */
  }
}

static void begin_full(const struct tv_battery *battery, double temperature_c,
                       struct tv_battery_state *state) {
  tv_battery_rest(battery, temperature_c, state);
  state->charge_c = battery->usable_c;
}

double tv_constant_current_v(const struct tv_battery *battery, double temperature_c, double current_a,
                             double seconds, struct tv_battery_state *end) {
  struct tv_battery_state state;
  begin_full(battery, temperature_c, &state);
  /* small steps first: a midpoint step much longer than the fast branch would ring */
  double t_s = 0.0, h_s = fmin(0.1, seconds / 50.0);
  while (t_s < seconds) {
    h_s = fmin(h_s, seconds - t_s);
    (void)tv_battery_begin(battery, &state, h_s, current_a);
    tv_battery_end(battery, &state, h_s, current_a);
    t_s += h_s;
    h_s = fmin(1.5 * h_s, seconds / 50.0);
    if (seconds - t_s < 1e-9 * seconds) break;
  }
  struct tv_battery_line line = tv_battery_begin(battery, &state, 0.0, current_a);
  if (end) *end = state;
  return line.e_v - line.r_ohm * current_a;
}

double tv_constant_current_s(const struct tv_battery *battery, double temperature_c, double current_a,
                             double end_v, double step_s, double limit_s) {
  struct tv_battery_state state;
  begin_full(battery, temperature_c, &state);
  double t_s = 0.0, h_s = fmin(0.1, step_s), last_t_s = 0.0, last_v = HUGE_VAL;
  while (t_s < limit_s) {
    struct tv_battery_line line = tv_battery_begin(battery, &state, h_s, current_a);
    double v = line.e_v - line.r_ohm * current_a, middle_s = t_s + h_s / 2.0;
    if (v <= end_v && isinf(last_v)) return 0.0;
    if (v <= end_v) return last_t_s + (middle_s - last_t_s) * (last_v - end_v) / (last_v - v);
    last_v = v;
    last_t_s = middle_s;
    tv_battery_end(battery, &state, h_s, current_a);
    t_s += h_s;
    h_s = fmin(1.2 * h_s, step_s);
  }
  return limit_s;
}

struct solve {
  struct tv_battery *battery;
  const struct tailvolt_battery *spec;
  double reserve_s;
};

/* Voltage at the end of a test without the knee, and the SOC of the available head there. */
static double smooth_end_v(const struct solve *solve, double current_a, double seconds, double *head_frac) {
  struct tv_battery_state end;
  const struct tv_battery *battery = solve->battery;
  double v = tv_constant_current_v(battery, TV_LABEL_C, current_a, seconds, &end);
  double h1_c = end.charge_c - (1.0 - end.cache.available_frac) * end.head_c;
  *head_frac = h1_c / battery->usable_c;
  if (*head_frac < 0.0) {
    /* add the battery's own fall below empty back */
    double slope_v, empty_v = tv_curve_at(&battery->curve, 0.0, &slope_v);
    v += empty_v + slope_v * *head_frac - tv_curve_at(&battery->curve, *head_frac, NULL);
  }
  return v;
}

/* Knee that ends the 20 h test at 20 h; 0 where the voltage is below the mark even without one. */
static double knee_of_capacity(const struct solve *solve) {
  double head_frac, v = smooth_end_v(solve, solve->spec->capacity_ah / 20.0, 20.0 * 3600.0, &head_frac);
  if (!(head_frac < 0.0) || v <= EMPTY_V) return 0.0;
  return (v - EMPTY_V) / (head_frac * head_frac);
}

/* Terminal voltage at the label's reserve time, less the mark, for a width of the available well. */
static double reserve_miss_v(double available_frac, void *context) {
  struct solve *solve = context;
  solve->battery->available_frac = available_frac;
  double knee_v = knee_of_capacity(solve);
  double head_frac, v = smooth_end_v(solve, solve->battery->reserve_a, solve->reserve_s, &head_frac);
  if (head_frac < 0.0) v -= knee_v * head_frac * head_frac;
  return v - EMPTY_V;
}

/* Root in width of reserve_miss_v(), or the nearer end; `miss_v` receives what remains. */
static double solve_width(struct solve *solve, double low_frac, double high_frac, double *miss_v) {
  double low_v = reserve_miss_v(low_frac, solve), high_v = reserve_miss_v(high_frac, solve);
  if (low_v > 0.0 || high_v < 0.0) {
    *miss_v = low_v > 0.0 ? low_v : high_v;
    return low_v > 0.0 ? low_frac : high_frac;
  }
  *miss_v = 0.0;
  struct tv_bracket bracket = {low_frac, high_frac, 0};
  (void)tv_root(reserve_miss_v, solve, &bracket, 0, 1e-5, 40);
  return bracket.root;
}

/* Changes the resistance until the cranking test ends at its voltage. */
static double solve_ohmic(struct tv_battery *battery) {
  struct tv_standard_test test = tv_cranking_test(battery->cranking_standard);
  struct tv_battery_state end;
  double v = tv_constant_current_v(battery, TV_CRANKING_C, battery->cranking_a, test.seconds, &end);
  double factor = tv_battery_resistance_ohm(battery, &end) / battery->ohmic_ohm;
  return battery->ohmic_ohm + (v - test.volts) / (battery->cranking_a * factor);
}

/* Reserve minutes where the label gives none: the relation of IEC 60095-1 (value from memory); lithium from its rate
 * dependence. */
static double usual_reserve_min(const struct tv_battery_kind *kind, double capacity_ah) {
  double relation_ah = fmax(capacity_ah, LEAST_RELATION_AH);
  double reserve_a = RESERVE_A * capacity_ah / relation_ah;
  if (kind->reserve_power > 0.0) return kind->reserve_min * pow(relation_ah, kind->reserve_power);
  return 1200.0 * pow(capacity_ah / 20.0 / reserve_a, kind->rate_power);
}

double tv_battery_reserve_min(enum tailvolt_battery_kind kind, double capacity_ah) {
  return capacity_ah >= LEAST_RELATION_AH ? usual_reserve_min(&tv_battery_kinds[kind], capacity_ah) : (double)NAN;
}

double tv_battery_reserve_scaled_min(const struct tailvolt_battery *battery, double to_ah) {
  if (battery->reserve_min == tv_battery_reserve_min(battery->kind, battery->capacity_ah)) return (double)NAN;
  return battery->reserve_min * to_ah / battery->capacity_ah;
}

static void read_label(struct tv_battery *battery, const struct tailvolt_battery *spec) {
  const struct tv_battery_kind *kind = battery->kind;
  /* the usual value tells nothing about this battery, whoever wrote it down */
  double usual_min = usual_reserve_min(kind, spec->capacity_ah);
  battery->reserve_assumed = isnan(spec->reserve_min) || spec->reserve_min == usual_min;
  battery->reserve_min = battery->reserve_assumed ? usual_min : spec->reserve_min;
  double relation_ah = fmax(spec->capacity_ah, LEAST_RELATION_AH);
  battery->reserve_a = RESERVE_A;
  if (battery->reserve_assumed) battery->reserve_a *= spec->capacity_ah / relation_ah;
  battery->cranking_assumed = isnan(spec->cold_cranking_a) || spec->cold_cranking_a <= 0.0;
  battery->cranking_a = spec->cold_cranking_a;
  battery->cranking_standard = spec->cold_cranking_standard;
  if (battery->cranking_assumed) {
    battery->cranking_a = kind->cranking_a_per_ah * spec->capacity_ah;
    battery->cranking_standard = TAILVOLT_EN;
  }
}

static double most_cranking_a(struct tv_battery *battery) {
  double kept_ohm = battery->ohmic_ohm, kept_a = battery->cranking_a, low_a = 0.0, high_a = kept_a;
  for (int k = 0; k < 12; k++) {
    battery->cranking_a = 0.5 * (low_a + high_a);
    battery->ohmic_ohm = LEAST_OHM_AH / (battery->usable_c / 3600.0);
    if (solve_ohmic(battery) >= battery->ohmic_ohm)
      low_a = battery->cranking_a;
    else
      high_a = battery->cranking_a;
  }
  battery->ohmic_ohm = kept_ohm;
  battery->cranking_a = kept_a;
  return low_a;
}

static enum tailvolt_status refuse_cranking(struct tv_battery *battery, char *error) {
  if (error)
    (void)snprintf(error, TAILVOLT_TEXT_MAX,
                   "cold cranking %s A %s and capacity %s Ah cannot both hold for a %s battery: at most %s A",
                   tv_fixed(battery->cranking_a, 0).text, tv_cranking_word(battery->cranking_standard),
                   tv_significant(battery->usable_c / 3600.0, 3).text, tv_battery_word(battery->kind->kind),
                   tv_fixed(floor(most_cranking_a(battery)), 0).text);
  return TAILVOLT_BAD_INPUT;
}

static enum tailvolt_status refuse_reserve(const struct solve *solve, double miss_v, char *error) {
  struct tv_battery *battery = solve->battery;
  battery->knee_v = knee_of_capacity(solve);
  tv_battery_make_curve(battery, solve->spec);
  double limit_s = 1.05 * 3600.0 * solve->spec->capacity_ah / battery->reserve_a;
  double bound_min = tv_constant_current_s(battery, TV_LABEL_C, battery->reserve_a, EMPTY_V,
                                           fmin(30.0, limit_s / 200.0), limit_s) /
                     60.0;
  if (error)
    (void)snprintf(
        error, TAILVOLT_TEXT_MAX,
        "reserve %s min and capacity %s Ah cannot both hold for a %s battery with %s A %s: %s %s min",
        tv_significant(battery->reserve_min, 4).text, tv_significant(solve->spec->capacity_ah, 3).text,
        tv_battery_word(battery->kind->kind), tv_fixed(battery->cranking_a, 0).text,
        tv_cranking_word(battery->cranking_standard), miss_v > 0.0 ? "at least" : "at most",
        tv_fixed(miss_v > 0.0 ? ceil(bound_min) : floor(bound_min), 0).text);
  return TAILVOLT_BAD_INPUT;
}

/* Resistance of a battery whose explicit polarization leaves nothing else to find. */
static enum tailvolt_status solve_circuit(struct tv_battery *battery, char *error) {
  if (battery->cranking_a <= 0.0) return TAILVOLT_OK;
  for (int k = 0; k < 3; k++) {
    double ohm = solve_ohmic(battery);
    if (ohm * battery->usable_c / 3600.0 < LEAST_OHM_AH) {
      if (!battery->cranking_assumed && !battery->fixed_ocv) return refuse_cranking(battery, error);
      ohm = LEAST_OHM_AH / (battery->usable_c / 3600.0);
    }
    battery->ohmic_ohm = ohm;
  }
  return TAILVOLT_OK;
}

enum tailvolt_status tv_battery_solve_label(struct tv_battery *battery, const struct tailvolt_battery *spec,
                                            char *error) {
  struct solve solve = {battery, spec, 0.0};
  read_label(battery, spec);
  solve.reserve_s = battery->reserve_min * 60.0;
  if (battery->circuit) return solve_circuit(battery, error);
  double low_frac = LEAST_FRAC, high_frac = MOST_FRAC, miss_v = 0.0;
  for (int round = 0; round < 8; round++) {
    double before_ohm = battery->ohmic_ohm;
    if (!battery->fixed_ohmic && battery->cranking_a > 0.0) {
      double ohm = solve_ohmic(battery), least_ohm = LEAST_OHM_AH / spec->capacity_ah;
      if (ohm < least_ohm && round > 0 && !battery->cranking_assumed && !battery->fixed_ocv)
        return refuse_cranking(battery, error);
      battery->ohmic_ohm = fmax(ohm, least_ohm);
    }
    double width_frac = solve_width(&solve, low_frac, high_frac, &miss_v);
    if (isnan(miss_v)) return TAILVOLT_NO_MEMORY;
    if (miss_v != 0.0 && (low_frac > LEAST_FRAC || high_frac < MOST_FRAC))
      width_frac = solve_width(&solve, LEAST_FRAC, MOST_FRAC, &miss_v);
    battery->available_frac = width_frac;
    battery->knee_v = knee_of_capacity(&solve);
    /* explicit values win over the label, even where they cannot meet it */
    bool bound = !battery->reserve_assumed && !battery->fixed_ohmic && !battery->fixed_ocv;
    if (miss_v != 0.0 && round > 0 && bound) return refuse_reserve(&solve, miss_v, error);
    if (round > 0 && fabs(battery->ohmic_ohm - before_ohm) <= 1e-4 * before_ohm) break;
    low_frac = fmax(LEAST_FRAC, width_frac - 0.02);
    high_frac = fmin(MOST_FRAC, width_frac + 0.02);
  }
  tv_battery_make_curve(battery, spec);
  battery->solved = true;
  return TAILVOLT_OK;
}
