/* What a verdict hangs on: the assumed values that move it most are varied within the range of cars nobody has measured, side
 * by side on lanes, and the one that turns the verdict soonest is followed until its turning value is known to the grain
 * printed. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "input/assumes.h"
#include "simulate/lanes.h"
#include "simulate/programmes.h"
#include "simulate/verdict.h"
#include "simulate/worst.h"
#include "tailvolt/study.h"
#include "text/number.h"
#include "text/words.h"

/* Range for a car nobody has measured (common practice): at night in the rain lights, wipers and blower take 25 to 50 A; music
 * has 7 to 14 dB; an alternator's low-speed current is within a tenth of its label; a battery in daily use is charged to 70 to
 * 95 %, with half to all of its capacity left; a body shell has 0.5 to 3 mohm. `grain`: resolution of the answer.
 * `more_helps`: a higher value helps the voltage. */
struct range {
  double low, high;
  double low_share, high_share; /* of the assumed value, instead of low and high */
  double grain;
  bool more_helps;
  double in_text; /* the unit in which it is written, in SI */
  const char *key, *unit;
};
static const struct range ranges[TAILVOLT_HANGS_ON_VALUES] = {
    [TAILVOLT_HANGS_ON_BASE_LOAD] = {25.0, 50.0, 0.0, 0.0, 1.0, false, 1.0, "base load", "A"},
    [TAILVOLT_HANGS_ON_CREST_FACTOR] = {7.0, 14.0, 0.0, 0.0, 0.1, true, 1.0, "crest factor", "dB"},
    [TAILVOLT_HANGS_ON_LOW_CURRENT] = {0.0, 0.0, 0.9, 1.1, 1.0, true, 1.0, "low current", "A"},
    [TAILVOLT_HANGS_ON_CHARGE] = {0.70, 0.95, 0.0, 0.0, 0.01, true, 0.01, "state of charge", "%"},
    [TAILVOLT_HANGS_ON_HEALTH] = {0.50, 1.00, 0.0, 0.0, 0.01, true, 0.01, "health", "%"},
    [TAILVOLT_HANGS_ON_BODY_SHELL] = {0.5e-3, 3e-3, 0.0, 0.0, 0.1e-3, false, 1e-3, "resistance", "mohm"}};

/* A verdict further than this from turning is left alone: none of those values moves it that much. */
#define NEAR_V 0.8
enum { AT_ONCE = 6, CLOSE_IN = 4 };

/* A sweep of one value, from what is assumed to where the verdict turns: `steps` grains lead to the end of its range. The
 * verdict is unchanged up to `kept` grains and different from `turned` grains on; the margins are volts from the threshold,
 * NAN where volts do not decide. */
struct sweep {
  enum tailvolt_hangs_on_value value;
  double assumed;
  int steps, kept, turned;
  double kept_v, turned_v;
  bool upward;
};

struct search {
  const struct tailvolt_system *system;
  const struct tailvolt_profile *profile;
  struct tailvolt_options options;
  struct tv_programmes *programmes;
  enum tailvolt_verdict now;
  double margin_v;
};

/* The worst amplifier's volts above the threshold; NAN where charge decides. */
static double margin_of(const struct tailvolt_result *result) {
  double least_v = (double)INFINITY;
  for (int k = 0; k < result->reason_count; k++)
    if (result->reasons[k].topic == TAILVOLT_ABOUT_CHARGE) return (double)NAN;
  for (int phase = 0; phase < TAILVOLT_PHASES; phase++)
    for (int a = 0; result->phases[phase].present && a < result->amplifier_count; a++)
      least_v = fmin(least_v, tv_phase_margin_v(result, a, phase) - TV_HOLDS_FROM_V);
  return isfinite(least_v) ? least_v : (double)NAN;
}

static void section_of(const struct tailvolt_system *system, enum tailvolt_hangs_on_value value, char *text,
                       size_t size) {
  text[0] = '\0';
  switch (value) {
  case TAILVOLT_HANGS_ON_BASE_LOAD:
    snprintf(text, size, "vehicle");
    break;
  case TAILVOLT_HANGS_ON_CREST_FACTOR:
    if (system->programme_count > 0) snprintf(text, size, "programme %s", system->programmes[0].name);
    break;
  case TAILVOLT_HANGS_ON_LOW_CURRENT:
    if (system->alternator.present) snprintf(text, size, "alternator");
    break;
  case TAILVOLT_HANGS_ON_CHARGE:
  case TAILVOLT_HANGS_ON_HEALTH:
    if (system->battery_count > 0)
      tv_section_words(TAILVOLT_PART_BATTERY, system->batteries[system->engine.starter_battery].name, text,
                       size);
    break;
  case TAILVOLT_HANGS_ON_BODY_SHELL:
    for (int k = 0; k < system->conductor_count && text[0] == '\0'; k++)
      if (system->conductors[k].kind == TAILVOLT_JOINT && system->conductors[k].role == TAILVOLT_ROLE_BODY)
        tv_section_words(TAILVOLT_PART_JOINT, system->conductors[k].name, text, size);
    break;
  case TAILVOLT_HANGS_ON_VALUES:
    break;
  }
}

static double value_of(const struct tailvolt_system *system, enum tailvolt_hangs_on_value value) {
  const struct tailvolt_battery *battery =
      system->battery_count > 0 ? &system->batteries[system->engine.starter_battery] : NULL;
  switch (value) {
  case TAILVOLT_HANGS_ON_BASE_LOAD:
    return system->vehicle.base_load_a;
  case TAILVOLT_HANGS_ON_CREST_FACTOR:
    return system->programmes[0].crest_db;
  case TAILVOLT_HANGS_ON_LOW_CURRENT:
    return system->alternator.output_a[0];
  case TAILVOLT_HANGS_ON_CHARGE:
    return battery->soc_frac;
  case TAILVOLT_HANGS_ON_HEALTH:
    return battery->health_frac;
  case TAILVOLT_HANGS_ON_BODY_SHELL:
    for (int k = 0; k < system->conductor_count; k++)
      if (system->conductors[k].kind == TAILVOLT_JOINT && system->conductors[k].role == TAILVOLT_ROLE_BODY)
        return system->conductors[k].resistance_ohm;
    break;
  case TAILVOLT_HANGS_ON_VALUES:
    break;
  }
  return (double)NAN;
}

/* The value this many grains along the sweep. */
static double at_step(const struct sweep *sweep, int step) {
  const struct range *range = &ranges[sweep->value];
  double from = floor(sweep->assumed / range->grain + 0.5), to = sweep->upward ? from + step : from - step;
  return to * range->grain;
}

/* False where the user gave the value, or its range ends here. */
static bool set_out(const struct search *search, enum tailvolt_hangs_on_value value, struct sweep *sweep) {
  const struct range *range = &ranges[value];
  char section[TAILVOLT_NAME_MAX + 16], key[TAILVOLT_NAME_MAX + 48];
  section_of(search->system, value, section, sizeof section);
  snprintf(key, sizeof key, "%s.%s", section, range->key);
  if (section[0] == '\0' || !tv_system_assumes(search->system, key)) return false;
  double assumed = value_of(search->system, value);
  double low = range->low_share > 0.0 ? range->low_share * assumed : range->low;
  double high = range->high_share > 0.0 ? range->high_share * assumed : range->high;
  /* a verdict that holds is put at risk, any other is helped */
  bool upward = (search->now == TAILVOLT_HOLDS) != range->more_helps;
  double room = upward ? high - assumed : assumed - low;
  *sweep = (struct sweep){.value = value,
                      .assumed = assumed,
                      .upward = upward,
                      .kept_v = search->margin_v,
                      .turned_v = (double)NAN};
  sweep->steps = isfinite(room) ? (int)floor(room / range->grain + 1e-6) : 0;
  sweep->turned = sweep->steps + 1;
  return sweep->steps > 0;
}

static enum tailvolt_status change(const struct search *search, const struct sweep *sweep, int step,
                                   struct tailvolt_system **out) {
  const struct range *range = &ranges[sweep->value];
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  char section[TAILVOLT_NAME_MAX + 16], text[TAILVOLT_NAME_MAX + 96];
  struct tailvolt_setting setting = {text};
  section_of(search->system, sweep->value, section, sizeof section);
  snprintf(text, sizeof text, "%s.%s = %s %s", section, range->key,
           tv_compact(at_step(sweep, step) / range->in_text, 3).text, range->unit);
  enum tailvolt_status status =
      faults != NULL ? tailvolt_system_copy(search->system, out) : TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK) status = tailvolt_system_change(*out, &setting, 1, faults);
  free(faults);
  return status;
}

struct trial {
  struct sweep *sweep;
  int step;
};

/* Runs all trials side by side and notes each outcome. A run that cannot be computed shows nothing. */
static enum tailvolt_status try_all(const struct search *search, const struct trial *trials, int count) {
  struct tailvolt_system *systems[AT_ONCE] = {NULL};
  struct tv_lane_job lanes[AT_ONCE];
  struct tv_lanes_how how = {
      .threads = 0, .progress = search->options.progress, .context = search->options.progress_context};
  struct tailvolt_options quiet = search->options;
  enum tailvolt_status status = TAILVOLT_OK;
  int at[AT_ONCE], runs = 0;
  quiet.record = NULL;
  quiet.progress = NULL;
  for (int k = 0; k < count; k++) {
    status = change(search, trials[k].sweep, trials[k].step, &systems[k]);
    if (status == TAILVOLT_NO_MEMORY) break;
    if (status != TAILVOLT_OK) continue;
    at[runs] = k;
    lanes[runs++] = (struct tv_lane_job){.system = systems[k], .profile = search->profile, .options = &quiet};
  }
  if (status != TAILVOLT_NO_MEMORY) status = tv_lanes_simulate(lanes, runs, search->programmes, &how);
  for (int k = 0; k < runs && status == TAILVOLT_OK; k++) {
    const struct trial *trial = &trials[at[k]];
    if (lanes[k].status != TAILVOLT_OK) continue;
    bool holds = lanes[k].result->status == TAILVOLT_HOLDS, turns = holds != (search->now == TAILVOLT_HOLDS);
    struct sweep *sweep = trial->sweep;
    if (turns && trial->step < sweep->turned)
      sweep->turned = trial->step, sweep->turned_v = margin_of(lanes[k].result);
    if (!turns && trial->step > sweep->kept && trial->step < sweep->turned)
      sweep->kept = trial->step, sweep->kept_v = margin_of(lanes[k].result);
  }
  for (int k = 0; k < runs; k++) tailvolt_result_free(lanes[k].result);
  for (int k = 0; k < AT_ONCE; k++) tailvolt_system_free(systems[k]);
  return status;
}

/* Where a straight line between the two margins puts the turning point; the midpoint where charge decides. */
static double turning_step(const struct sweep *sweep) {
  double span_v = sweep->turned_v - sweep->kept_v, share = -sweep->kept_v / span_v;
  if (!(share >= 0.0 && share <= 1.0)) share = 0.5;
  return sweep->kept + share * (sweep->turned - sweep->kept);
}

/* Neighbouring steps around the expected one, within the unknown; returns how many. */
static int close_in(struct sweep *sweep, struct trial *trials) {
  int unknown = sweep->turned - sweep->kept - 1, count = unknown < CLOSE_IN ? unknown : CLOSE_IN;
  int first = (int)floor(turning_step(sweep)) - CLOSE_IN / 2 + 1;
  if (first > sweep->turned - count) first = sweep->turned - count;
  if (first <= sweep->kept) first = sweep->kept + 1;
  for (int k = 0; k < count; k++) trials[k] = (struct trial){sweep, first + k};
  return count;
}

static enum tailvolt_status follow(const struct search *search, struct sweep *sweeps, int count,
                                   struct sweep **found) {
  struct trial trials[AT_ONCE] = {{0}};
  double soonest = HUGE_VAL;
  for (int k = 0; k < count; k++) trials[k] = (struct trial){&sweeps[k], sweeps[k].steps};
  enum tailvolt_status status = try_all(search, trials, count);
  for (int k = 0; k < count; k++) {
    if (sweeps[k].turned > sweeps[k].steps || !(turning_step(&sweeps[k]) / sweeps[k].steps < soonest)) continue;
    soonest = turning_step(&sweeps[k]) / sweeps[k].steps;
    *found = &sweeps[k];
  }
  while (status == TAILVOLT_OK && *found != NULL && (*found)->turned - (*found)->kept > 1)
    status = try_all(search, trials, close_in(*found, trials));
  return status;
}

/* Whether the judged voltage is near enough to turning, or charge decides. */
static bool is_near(const struct tailvolt_result *result) {
  int order[TAILVOLT_PHASES];
  if (tv_phases_worst_first(result, order) == 0) return false;
  int amplifier = tv_worst_amplifier(result, order[0]);
  if (amplifier < 0) return false;
  for (int k = 0; k < result->reason_count; k++)
    if (result->reasons[k].topic == TAILVOLT_ABOUT_CHARGE) return true;
  return fabs(tv_phase_margin_v(result, amplifier, order[0]) - TV_HOLDS_FROM_V) <= NEAR_V;
}

enum tailvolt_status tailvolt_find_hangs_on(const struct tailvolt_system *system,
                                            const struct tailvolt_profile *profile,
                                            const struct tailvolt_options *options,
                                            const struct tailvolt_result *result,
                                            struct tailvolt_hangs_on *out) {
  struct search search = {.system = system,
                          .profile = profile,
                          .options = *options,
                          .now = result->status,
                          .margin_v = margin_of(result)};
  struct sweep sweeps[TAILVOLT_HANGS_ON_VALUES], *found = NULL;
  char error[TAILVOLT_TEXT_MAX];
  int count = 0;
  *out = (struct tailvolt_hangs_on){.known = false};
  if (!is_near(result)) return TAILVOLT_OK;
  for (int k = 0; k < TAILVOLT_HANGS_ON_VALUES; k++)
    count += set_out(&search, (enum tailvolt_hangs_on_value)k, &sweeps[count]);
  if (count == 0) return TAILVOLT_OK;
  if (tv_programmes_make(system, options, &search.programmes, error) != TAILVOLT_OK) search.programmes = NULL;
  enum tailvolt_status status = follow(&search, sweeps, count, &found);
  tv_programmes_free(search.programmes);
  if (status != TAILVOLT_OK) return status;
  if (found != NULL)
    *out = (struct tailvolt_hangs_on){.known = true,
                                      .value = found->value,
                                      .number = found->assumed,
                                      .limit = at_step(found, found->turned),
                                      .above = found->upward};
  return TAILVOLT_OK;
}
