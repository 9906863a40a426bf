/* One uncertain value: reading a system's number, replacing it, a draw, its mean and deviation, its text. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "parts/battery.h"
#include "study/ranges.h"
#include "text/number.h"


static double known(bool there, double value) { return there ? value : (double)NAN; }

static int low_point(const struct tailvolt_alternator *a) {
  for (int k = 0; k < a->output_count; k++)
    if (a->output_rpm[k] == TAILVOLT_LOW_RPM) return k;
  return -1;
}

static double get_car(const struct tailvolt_system *s, enum tailvolt_uncertain_value value) {
  const struct tailvolt_alternator *a = &s->alternator;
  int low = low_point(a);
  switch (value) {
  case TAILVOLT_VALUE_BASE_LOAD: return s->vehicle.base_load_a;
  case TAILVOLT_VALUE_AMBIENT: return s->vehicle.ambient_c;
  case TAILVOLT_VALUE_ENGINE_BAY: return s->vehicle.engine_bay_c;
  case TAILVOLT_VALUE_KEY_OFF: return s->vehicle.key_off_a;
  case TAILVOLT_VALUE_IDLE_SPEED: return s->engine.idle_rpm;
  case TAILVOLT_VALUE_CRANKING: return s->engine.cranking_a;
  case TAILVOLT_VALUE_BREAKAWAY: return s->engine.breakaway_a;
  case TAILVOLT_VALUE_START_NEEDS: return s->engine.start_needs_a;
  case TAILVOLT_VALUE_RATED_CURRENT: return a->rated_a;
  case TAILVOLT_VALUE_LOW_CURRENT: return low >= 0 ? a->output_a[low] : (double)NAN;
  case TAILVOLT_VALUE_PULLEY_RATIO: return a->pulley_ratio;
  case TAILVOLT_VALUE_SET_POINT: return a->set_point_v;
  case TAILVOLT_VALUE_DRIFT: return a->drift_v_per_k;
  case TAILVOLT_VALUE_FIELD_TIME: return a->field_s;
  case TAILVOLT_VALUE_FIXED_OUTPUT: return a->fixed_output_a;
  case TAILVOLT_VALUE_CONVERTER_CURRENT: return s->converter.rated_a;
  case TAILVOLT_VALUE_CONVERTER_SET_POINT: return s->converter.set_point_v;
  default: return (double)NAN;
  }
}

static double get_battery(const struct tailvolt_battery *b, enum tailvolt_uncertain_value value) {
  switch (value) {
  case TAILVOLT_VALUE_CAPACITY: return b->capacity_ah;
  case TAILVOLT_VALUE_COLD_CRANKING: return b->cold_cranking_a;
  case TAILVOLT_VALUE_CHARGE: return known(isnan(b->rested_v), b->soc_frac);
  case TAILVOLT_VALUE_RESTED_VOLTAGE: return b->rested_v;
  case TAILVOLT_VALUE_HEALTH: return b->health_frac;
  case TAILVOLT_VALUE_CRANKING_HEALTH: return b->cranking_health_frac;
  case TAILVOLT_VALUE_BATTERY_RESISTANCE: return b->resistance_ohm;
  default: return (double)NAN;
  }
}

static int runs(const struct tailvolt_conductor *c) { return c->parallel > 1 ? c->parallel : 1; }

static double get_conductor(const struct tailvolt_conductor *c, enum tailvolt_uncertain_value value) {
  switch (value) {
  case TAILVOLT_VALUE_PER_METRE: return known(c->length_m > 0, c->resistance_ohm * runs(c) / c->length_m);
  case TAILVOLT_VALUE_LENGTH: return known(c->length_m > 0, c->length_m);
  default: return c->resistance_ohm;
  }
}

static double get_amplifier(const struct tailvolt_amplifier *a, enum tailvolt_uncertain_value value) {
  switch (value) {
  case TAILVOLT_VALUE_RATED_POWER: return a->rated_w;
  case TAILVOLT_VALUE_EFFICIENCY: return a->efficiency_frac;
  case TAILVOLT_VALUE_CUT_OUT: return known(a->cut_out_v > 0, a->cut_out_v);
  case TAILVOLT_VALUE_IDLE_CURRENT: return a->idle_a;
  case TAILVOLT_VALUE_INTERNAL_CAPACITANCE: return known(a->internal_f > 0, a->internal_f);
  case TAILVOLT_VALUE_INTERNAL_RESISTANCE: return known(a->internal_f > 0, a->internal_ohm);
  case TAILVOLT_VALUE_LEVEL: return a->level_offset_db;
  default: return (double)NAN;
  }
}

static double get_isolator(const struct tailvolt_isolator *i, enum tailvolt_uncertain_value value) {
  bool relay = i->kind == TAILVOLT_RELAY, diode = i->kind == TAILVOLT_DIODE, converter = i->kind == TAILVOLT_CONVERTER;
  switch (value) {
  case TAILVOLT_VALUE_ISOLATOR_RESISTANCE: return known(relay || diode, i->resistance_ohm);
  case TAILVOLT_VALUE_CLOSES_ABOVE: return known(relay || converter, i->closes_above_v);
  case TAILVOLT_VALUE_OPENS_BELOW: return known(relay || converter, i->opens_below_v);
  case TAILVOLT_VALUE_ISOLATOR_DROP: return known(diode, i->drop_v);
  case TAILVOLT_VALUE_ISOLATOR_OUTPUT: return known(converter, i->output_a);
  case TAILVOLT_VALUE_ISOLATOR_EFFICIENCY: return known(converter, i->efficiency_frac);
  default: return (double)NAN;
  }
}

double tv_uncertain_get(const struct tailvolt_system *system, enum tailvolt_uncertain_value value, int index) {
  if (value <= TAILVOLT_VALUE_CONVERTER_SET_POINT) return get_car(system, value);
  if (value <= TAILVOLT_VALUE_BATTERY_RESISTANCE) return get_battery(&system->batteries[index], value);
  if (value <= TAILVOLT_VALUE_FUSE) return get_conductor(&system->conductors[index], value);
  if (value == TAILVOLT_VALUE_LOAD_POWER) return system->loads[index].power_w;
  if (value <= TAILVOLT_VALUE_LEVEL) return get_amplifier(&system->amplifiers[index], value);
  if (value == TAILVOLT_VALUE_CAPACITANCE) return system->capacitors[index].capacitance_f;
  if (value == TAILVOLT_VALUE_ESR) return system->capacitors[index].esr_ohm;
  return get_isolator(&system->isolators[index], value);
}

static void put_set_point(struct tailvolt_alternator *a, double set_point_v) {
  double more_v = set_point_v - a->set_point_v;
  a->set_point_v += more_v;
  a->set_point_low_v += more_v;
  a->set_point_high_v += more_v;
}

static void put_machine(struct tailvolt_alternator *a, enum tailvolt_uncertain_value value, double number) {
  int low = low_point(a);
  if (value == TAILVOLT_VALUE_RATED_CURRENT) {
    for (int k = 0; k < a->output_count; k++)
      if (k != low) a->output_a[k] *= number / a->rated_a;
    a->rated_a = number;
  } else if (low >= 0) {
    /* a label's lower point stays below the next one */
    a->output_a[low] = low + 1 < a->output_count ? fmin(number, 0.98 * a->output_a[low + 1]) : number;
  }
}

static void put_car(struct tailvolt_system *s, enum tailvolt_uncertain_value value, double number) {
  switch (value) {
  case TAILVOLT_VALUE_BASE_LOAD: s->vehicle.base_load_a = number; break;
  case TAILVOLT_VALUE_AMBIENT: s->vehicle.ambient_c = number; break;
  case TAILVOLT_VALUE_ENGINE_BAY: s->vehicle.engine_bay_c = number; break;
  case TAILVOLT_VALUE_KEY_OFF: s->vehicle.key_off_a = number; break;
  case TAILVOLT_VALUE_IDLE_SPEED: s->engine.idle_rpm = number; break;
  case TAILVOLT_VALUE_CRANKING: s->engine.cranking_a = number; break;
  case TAILVOLT_VALUE_BREAKAWAY: s->engine.breakaway_a = number; break;
  case TAILVOLT_VALUE_START_NEEDS: s->engine.start_needs_a = number; break;
  case TAILVOLT_VALUE_RATED_CURRENT:
  case TAILVOLT_VALUE_LOW_CURRENT: put_machine(&s->alternator, value, number); break;
  case TAILVOLT_VALUE_PULLEY_RATIO: s->alternator.pulley_ratio = number; break;
  case TAILVOLT_VALUE_SET_POINT: put_set_point(&s->alternator, number); break;
  case TAILVOLT_VALUE_DRIFT: s->alternator.drift_v_per_k = number; break;
  case TAILVOLT_VALUE_FIELD_TIME: s->alternator.field_s = number; break;
  case TAILVOLT_VALUE_FIXED_OUTPUT: s->alternator.fixed_output_a = number; break;
  case TAILVOLT_VALUE_CONVERTER_CURRENT:
    s->converter.rated_a = number;
    s->alternator.fixed_output_a = number;
    break;
  case TAILVOLT_VALUE_CONVERTER_SET_POINT:
    s->converter.set_point_v = number;
    put_set_point(&s->alternator, number);
    break;
  default: break;
  }
}

static void put_battery(struct tailvolt_battery *b, enum tailvolt_uncertain_value value, double number) {
  switch (value) {
  case TAILVOLT_VALUE_CAPACITY:
    b->reserve_min = tv_battery_reserve_scaled_min(b, number);
    b->capacity_ah = number;
    break;
  case TAILVOLT_VALUE_COLD_CRANKING: b->cold_cranking_a = number; break;
  case TAILVOLT_VALUE_CHARGE: b->soc_frac = number; break;
  case TAILVOLT_VALUE_RESTED_VOLTAGE: b->rested_v = number; break;
  case TAILVOLT_VALUE_HEALTH: b->health_frac = number; break;
  case TAILVOLT_VALUE_CRANKING_HEALTH: b->cranking_health_frac = number; break;
  case TAILVOLT_VALUE_BATTERY_RESISTANCE: b->resistance_ohm = number; break;
  default: break;
  }
}

static void put_conductor(struct tailvolt_conductor *c, enum tailvolt_uncertain_value value, double number) {
  double more = number / get_conductor(c, value);
  c->resistance_ohm *= more;
  if (value == TAILVOLT_VALUE_LENGTH) c->length_m = number;
  else if (c->area_m2 > 0) c->area_m2 /= more;
}

static void put_amplifier(struct tailvolt_amplifier *a, enum tailvolt_uncertain_value value, double number) {
  switch (value) {
  case TAILVOLT_VALUE_RATED_POWER: a->rated_w = number; break;
  case TAILVOLT_VALUE_EFFICIENCY: a->efficiency_frac = number; break;
  case TAILVOLT_VALUE_CUT_OUT:
    a->cut_in_v += number - a->cut_out_v;
    a->cut_out_v = number;
    break;
  case TAILVOLT_VALUE_IDLE_CURRENT: a->idle_a = number; break;
  case TAILVOLT_VALUE_INTERNAL_CAPACITANCE: a->internal_f = number; break;
  case TAILVOLT_VALUE_INTERNAL_RESISTANCE: a->internal_ohm = number; break;
  case TAILVOLT_VALUE_LEVEL: a->level_offset_db = number; break;
  default: break;
  }
}

static void put_isolator(struct tailvolt_isolator *i, enum tailvolt_uncertain_value value, double number) {
  switch (value) {
  case TAILVOLT_VALUE_ISOLATOR_RESISTANCE: i->resistance_ohm = number; break;
  case TAILVOLT_VALUE_CLOSES_ABOVE: i->closes_above_v = number; break;
  case TAILVOLT_VALUE_OPENS_BELOW: i->opens_below_v = number; break;
  case TAILVOLT_VALUE_ISOLATOR_DROP: i->drop_v = number; break;
  case TAILVOLT_VALUE_ISOLATOR_OUTPUT: i->output_a = number; break;
  case TAILVOLT_VALUE_ISOLATOR_EFFICIENCY: i->efficiency_frac = number; break;
  default: break;
  }
}

void tailvolt_uncertain_put(struct tailvolt_system *system, const struct tailvolt_uncertain *one, double number) {
  enum tailvolt_uncertain_value value = one->value;
  int index = one->part.index;
  if (value <= TAILVOLT_VALUE_CONVERTER_SET_POINT) put_car(system, value, number);
  else if (value <= TAILVOLT_VALUE_BATTERY_RESISTANCE) put_battery(&system->batteries[index], value, number);
  else if (value <= TAILVOLT_VALUE_FUSE) put_conductor(&system->conductors[index], value, number);
  else if (value == TAILVOLT_VALUE_LOAD_POWER) system->loads[index].power_w = number;
  else if (value <= TAILVOLT_VALUE_LEVEL) put_amplifier(&system->amplifiers[index], value, number);
  else if (value == TAILVOLT_VALUE_CAPACITANCE) system->capacitors[index].capacitance_f = number;
  else if (value == TAILVOLT_VALUE_ESR) system->capacitors[index].esr_ohm = number;
  else put_isolator(&system->isolators[index], value, number);
}

/* ---- draws ---- */

static double by_ratio(double low, double high, double u) { return low > 0 ? low * pow(high / low, u) : low + (high - low) * u; }

static double in_body(const struct tailvolt_uncertain *one, double u) {
  switch (one->distribution) {
  case TAILVOLT_UPPER_END: return one->high - (one->high - one->low) * u * sqrt(u);
  case TAILVOLT_BY_RATIO: return by_ratio(one->low, one->high, u);
  case TAILVOLT_EVEN: break;
  }
  return one->low + (one->high - one->low) * u;
}

static double in_tail(const struct tailvolt_uncertain *one, double u) { return by_ratio(one->high, one->tail_high, u); }

double tailvolt_uncertain_draw(const struct tailvolt_uncertain *one, const double *factors) {
  double u = factors[one->factor_index], share = one->tail_frac;
  if (!(share > 0)) return in_body(one, u);
  if (one->tail_index < 0) return u < 1 - share ? in_body(one, u / (1 - share)) : in_tail(one, (u - (1 - share)) / share);
  double slice = factors[one->tail_index] / share - one->tail_place;
  return slice >= 0 && slice < 1 ? in_tail(one, slice) : in_body(one, u);
}

/* Mean of the first or second power by the midpoint rule over body and tail. */
static double moment(const struct tailvolt_uncertain *one, int power) {
  enum { PIECES = 512 };
  double body = 0, tail = 0;
  for (int k = 0; k < PIECES; k++) {
    double u = (k + 0.5) / PIECES, x = in_body(one, u) - one->low, y = in_tail(one, u) - one->low;
    body += power == 1 ? x : x * x;
    tail += power == 1 ? y : y * y;
  }
  return ((1 - one->tail_frac) * body + one->tail_frac * tail) / PIECES;
}

double tailvolt_uncertain_mean(const struct tailvolt_uncertain *one) { return one->low + moment(one, 1); }

double tailvolt_uncertain_deviation(const struct tailvolt_uncertain *one) {
  double mean = moment(one, 1);
  return sqrt(fmax(moment(one, 2) - mean * mean, 0));
}

/* ---- text ---- */

void tailvolt_uncertain_write(const struct tailvolt_uncertain *one, double number, int digits, char *to, size_t size) {
  enum tv_measure measure = tv_range_row(one->value)->measure;
  bool drop = one->value == TAILVOLT_VALUE_MEASURED_DROP ||
              (one->origin == TAILVOLT_FROM_METER && (one->value == TAILVOLT_VALUE_JOINT || one->value == TAILVOLT_VALUE_FUSE));
  if (drop) {
    const double at_a = 10;
    snprintf(to, size, "%s mV at 10 A", tv_significant(1e3 * number * at_a, digits > 0 ? digits : 17).text);
    return;
  }
  if (digits > 0) tv_quantity_round(to, size, number, measure, digits);
  else tv_quantity_write(to, size, number, measure, true);
  if (one->value != TAILVOLT_VALUE_COLD_CRANKING) return;
  static const char *const standards[] = {[TAILVOLT_EN] = " EN", [TAILVOLT_SAE] = " SAE", [TAILVOLT_DIN] = " DIN"};
  size_t length = strlen(to);
  snprintf(to + length, size - length, "%s", standards[one->cranking_standard]);
}
