/* The start after the music: pause, breakaway, turning, watched at the battery's posts; and recharging by
 * driving. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "parts/starter.h"
#include "simulate/charge.h"
#include "study/parked.h"
#include "tailvolt/drive.h"

#define DRIVE_MOST_S 86400.0
#define MOTORWAY_RPM 3000.0        /* petrol in top gear at 120 km/h, common practice ... */
#define MOTORWAY_DIESEL_RPM 2300.0 /* ... and diesel */
#define SETTLING_S 5.0
#define STAND_STEP_S 1800.0
#define STAND_LOOK_S (7 * 86400.0)
#define STAND_GRAIN_S 21600.0
#define STAND_MOST_S (26 * 7 * 86400.0)
#define CRANK_STEP_S 0.01

void tailvolt_cold_start(const struct tailvolt_engine *engine, double temperature_c, double *cranking_a,
                         double *breakaway_a) {
  struct tv_start_needs needs = tv_starter_needs(engine, temperature_c);
  *cranking_a = needs.turning_a;
  *breakaway_a = needs.breakaway_a;
}

void tv_parked_set_step(struct tv_run *run, double step_s) {
  if (run->options.time_step_s == step_s) return;
  run->options.time_step_s = step_s;
  run->ripple_hz = -1; /* the step is recomputed with the next row */
}

void tv_parked_hand_over(const struct tv_run *from, struct tv_run *to) {
  const struct tailvolt_system *sys = to->system;
  struct tv_state *a = &to->state;
  const struct tv_state *b = &from->state;
  memcpy(a->battery, b->battery, (size_t)sys->battery_count * sizeof *a->battery);
  memcpy(a->guard, b->guard, (size_t)sys->battery_count * sizeof *a->guard);
  memcpy(a->capacitor_v, b->capacitor_v, (size_t)sys->capacitor_count * sizeof *a->capacitor_v);
  memcpy(a->isolator, b->isolator, (size_t)sys->isolator_count * sizeof *a->isolator);
  memcpy(a->conductor_c, b->conductor_c, (size_t)sys->conductor_count * sizeof *a->conductor_c);
  memcpy(a->blown, b->blown, (size_t)sys->conductor_count * sizeof *a->blown);
  memcpy(a->battery_last_a, b->battery_last_a, (size_t)sys->battery_count * sizeof *a->battery_last_a);
  for (int k = 0; k < sys->amplifier_count; k++) {
    a->amplifier[k] = (struct tv_amplifier_state){.ramp_s = TV_SOFT_START_S};
    /* storage follows the terminals within milliseconds */
    a->storage_v[k] = from->storage_port[k] >= 0 ? b->storage_v[k] : tv_run_amplifier_v(from, k);
  }
  a->now.ambient_c = b->now.ambient_c;
  a->now.bay_c = b->now.bay_c;
  a->now.field_frac = b->now.field_frac; /* of a stopped engine, whatever `to` was started with */
  to->stale_stiff = to->stale_ports = true;
  for (int k = 0; k < sys->programme_count; k++) to->play[k].last_end_s = HUGE_VAL;
}

enum tailvolt_status tv_start_trial_make(const struct tailvolt_system *system, const struct tv_run *like,
                                         const struct tailvolt_options *options, struct tv_start_trial *trial,
                                         char *error) {
  memset(trial, 0, sizeof *trial);
  trial->system = *system;
  trial->system.engine.simulate_starts = true;
  trial->system.programme_count = 0;
  /* with the key at start the car's other loads are shed (common practice); [load] sections follow the row */
  trial->system.vehicle.base_load_a = (double)NAN;
  size_t amplifiers = (size_t)system->amplifier_count + 1;
  trial->quiet = calloc(amplifiers, sizeof *trial->quiet);
  bool *always = calloc(amplifiers, sizeof *always);
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (trial->quiet != NULL && always != NULL) {
    for (size_t k = 0; k < amplifiers; k++) always[k] = true;
    struct tailvolt_options own = *options;
    own.record = NULL;
    own.progress = NULL;
    own.time_step_s = CRANK_STEP_S;
    status = tv_run_create_like(like, &trial->system, always, &own, &trial->run, error);
    if (status == TAILVOLT_OK) tv_run_leave_out_sums(trial->run);
  }
  free(always);
  return status;
}

void tv_start_trial_free(struct tv_start_trial *trial) {
  tv_run_free(trial->run);
  free(trial->quiet);
  memset(trial, 0, sizeof *trial);
}

/* A stretch in which everything that moves slows down. */
static enum tailvolt_status wait(struct tv_run *run, const struct tailvolt_row *row, double from_s,
                                 double length_s) {
  double at_s = 0, step_s = 0.01;
  while (at_s < length_s) {
    /* ten steps of one length: each new length costs a network reduction */
    double to_s = fmin(at_s + 10 * step_s, length_s);
    if (length_s - to_s < step_s) to_s = length_s;
    tv_parked_set_step(run, step_s);
    enum tailvolt_status status = tv_run_advance(run, row, NULL, from_s + at_s, from_s + to_s);
    if (status != TAILVOLT_OK) return status;
    at_s = to_s;
    step_s = fmin(2 * step_s, 1.0);
  }
  return TAILVOLT_OK;
}

enum tailvolt_status tv_start_trial_run(struct tv_start_trial *trial, const struct tv_run *from,
                                        const struct tailvolt_row *row, double time_s,
                                        const struct tailvolt_parked_options *options,
                                        struct tv_start_outcome *outcome) {
  struct tv_run *run = trial->run;
  const struct tailvolt_system *sys = &trial->system;
  enum tailvolt_status status;
  for (int k = 0; k < sys->amplifier_count; k++)
    trial->quiet[k] = (struct tailvolt_amplifier_row){.programme = TAILVOLT_SILENCE,
                                                      .powered = true,
                                                      .output_w = (double)NAN,
                                                      .supply_w = (double)NAN,
                                                      .supply_a = sys->amplifiers[k].standby_a};
  struct tailvolt_row quiet = *row;
  quiet.time_s = time_s;
  quiet.amplifier = trial->quiet;
  quiet.ambient_c = from->state.now.ambient_c;
  tv_parked_set_step(run, CRANK_STEP_S);
  if ((status = tv_run_start(run, &quiet)) != TAILVOLT_OK) return status;
  tv_parked_hand_over(from, run);
  if ((status = tv_run_update_wiring(run, false)) != TAILVOLT_OK) return status;
  if ((status = wait(run, &quiet, time_s, options->pause_s)) != TAILVOLT_OK) return status;
  int starter = sys->engine.starter_battery;
  struct tv_start_needs needs = tv_starter_needs(&sys->engine, quiet.ambient_c);
  outcome->paused_v = tv_run_battery_v(run->steps > 0 ? run : from, starter);
  outcome->floor_v = isnan(options->floor_v) ? needs.floor_v : options->floor_v;
  double begun_s = time_s + options->pause_s;
  /* a start shorter than the wait before the voltage counts is judged by its last quarter */
  double after_s = fmin(options->floor_after_s, 0.75 * needs.length_s);
  run->state.now.bay_c = quiet.ambient_c; /* an engine that has stood for hours, whatever it did before */
  struct tailvolt_row turns = quiet;
  turns.time_s = begun_s;
  turns.engine_rpm = sys->engine.idle_rpm;
  tv_parked_set_step(run, CRANK_STEP_S);
  run->steps +=
      run->steps == 0; /* even without a pause this is a start, not a run that begins with the engine on */
  if ((status = tv_run_advance(run, &turns, NULL, begun_s, begun_s + after_s)) != TAILVOLT_OK) return status;
  run->statistics->battery[starter].min_v = HUGE_VAL;
  status = tv_run_advance(run, &turns, NULL, begun_s + after_s, begun_s + needs.length_s);
  if (status != TAILVOLT_OK) return status;
  outcome->cranking_v = run->statistics->battery[starter].min_v;
  outcome->margin_v = outcome->cranking_v - outcome->floor_v;
  return TAILVOLT_OK;
}

/* ---- driving ---- */

/* What is missing until every battery has its own goal: one battery's surplus is no use to another. */
static double missing_c(const struct tv_run *run, const double *goal_c) {
  double sum_c = 0;
  for (int k = 0; k < run->system->battery_count; k++) sum_c += fmax(goal_c[k] - run->state.battery[k].charge_c, 0);
  return sum_c;
}

/* Engine speeds second by second: the elementary urban cycle, repeated. */
static enum tailvolt_status town_speeds(double idle_rpm, struct tailvolt_drive **drive) {
  struct tailvolt_trace *trace;
  struct tailvolt_drive_options options = tailvolt_default_drive_options();
  options.idle_rpm = idle_rpm;
  options.gears = TAILVOLT_GEARS_OF_TRACE;
  enum tailvolt_status status = tailvolt_trace_cycle(TAILVOLT_CYCLE_ECE15, &trace);
  if (status != TAILVOLT_OK) return status;
  status = tailvolt_drive_create(trace, &options, drive);
  tailvolt_trace_free(trace);
  return status;
}

struct goal {
  const struct tailvolt_system *system;
  const double *charge_c; /* [batteries] */
  double *seconds, *each_s;
};

static void note_each(const struct tv_run *run, const struct goal *goal, double driven_s) {
  for (int k = 0; k < run->system->battery_count; k++)
    if (isnan(goal->each_s[k]) && run->state.battery[k].charge_c >= goal->charge_c[k]) goal->each_s[k] = driven_s + SETTLING_S;
}

/* A computer holds the set point high while charge is low, then swings it. */
static bool swings(const struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  const struct tailvolt_alternator *a = &sys->alternator;
  int b = sys->engine.starter_battery;
  if (sys->vehicle.charging != TAILVOLT_CHARGING_COMPUTER || !(a->set_point_high_v > a->set_point_low_v)) return false;
  return !(tv_battery_soc_frac(run->battery[b], &run->state.battery[b]) < a->low_end_above_frac);
}

/* Where it swings: the middle. */
static double set_point_v(const struct tv_run *run) {
  const struct tailvolt_alternator *a = &run->system->alternator;
  if (run->system->vehicle.charging != TAILVOLT_CHARGING_COMPUTER || !(a->set_point_high_v > a->set_point_low_v)) return (double)NAN;
  return swings(run) ? 0.5 * (a->set_point_low_v + a->set_point_high_v) : a->set_point_high_v;
}

/* The relays and converters of the car that is driven. A middle voltage would close what the low end leaves open, and it goes to the high
 * end for the battery alone that it watches (simulate/charge.h): while it swings these stay open. */
struct joiners {
  struct tailvolt_isolator *own; /* [isolators], of the system that is driven */
  bool *open;                    /* those that the low end leaves open */
  bool *parted;                  /* [batteries] behind one of those */
  bool held;
};

static void joiners_free(struct joiners *j) { free(j->own), free(j->open), free(j->parted); }

static enum tailvolt_status joiners_make(const struct tailvolt_system *system, struct joiners *j) {
  size_t count = (size_t)system->isolator_count;
  *j = (struct joiners){calloc(count + 1, sizeof *j->own), calloc(count + 1, sizeof *j->open),
                        calloc((size_t)system->battery_count + 1, sizeof *j->parted), false};
  if (j->own == NULL || j->open == NULL || j->parted == NULL) return TAILVOLT_NO_MEMORY;
  if (count > 0) memcpy(j->own, system->isolators, count * sizeof *j->own);
  enum tailvolt_status status = tv_charge_left_open(system, j->open);
  for (int k = 0; k < system->battery_count && status == TAILVOLT_OK; k++) {
    int isolator;
    status = tv_charge_stays_open(system, k, &isolator);
    j->parted[k] = isolator >= 0;
  }
  return status;
}

/* `run` NULL: not made yet. What has closed at the high end stays closed where it opens only below the low end. */
static void hold_open(struct joiners *j, struct tv_run *run, const struct tailvolt_system *real, bool hold) {
  if (hold == j->held) return;
  j->held = hold;
  for (int k = 0; k < real->isolator_count; k++) {
    if (!j->open[k]) continue;
    const struct tailvolt_isolator *i = &real->isolators[k];
    j->own[k].closes_above_v = hold ? HUGE_VAL : i->closes_above_v;
    j->own[k].opens_below_v = hold && i->opens_below_v > tv_charge_lowest_v(real) ? HUGE_VAL : i->opens_below_v;
    if (run != NULL) run->stale_row = true;
  }
}

/* Nothing is missing but what stays behind an open relay. */
static bool only_parted(const struct tv_run *run, const struct joiners *j, const double *goal_c) {
  for (int k = 0; k < run->system->battery_count; k++)
    if (!j->parted[k] && goal_c[k] > run->state.battery[k].charge_c) return false;
  return j->held;
}

static enum tailvolt_status drive_until(struct tv_run *run, struct tailvolt_row *row, const struct tailvolt_drive *drive,
                                        const struct goal *goal, struct joiners *joiners) {
  double begun_s = row->time_s, begun_c = missing_c(run, goal->charge_c), last_c = begun_c;
  double cycle_s = drive != NULL ? drive->summary.duration_s : 60.0;
  int moments = drive != NULL ? drive->count - 1 : 60;
  for (double t_s = 0; t_s < DRIVE_MOST_S; t_s += cycle_s) {
    for (int k = 0; k < moments; k++) {
      double from_s = begun_s + t_s + (double)k, to_s = from_s + 1;
      struct tailvolt_row next = *row;
      if (drive != NULL) {
        from_s = begun_s + t_s + drive->moments[k].time_s;
        to_s = begun_s + t_s + drive->moments[k + 1].time_s;
        row->engine_rpm = drive->moments[k].engine_rpm;
        next.engine_rpm = drive->moments[k + 1].engine_rpm;
      }
      row->time_s = from_s;
      row->set_point_v = set_point_v(run);
      next.time_s = to_s;
      hold_open(joiners, run, goal->system, swings(run));
      enum tailvolt_status status = tv_run_advance(run, row, &next, from_s, to_s);
      if (status != TAILVOLT_OK) return status;
      note_each(run, goal, to_s - begun_s);
      double now_c = missing_c(run, goal->charge_c);
      if (!(now_c > 0)) {
        *goal->seconds = to_s - begun_s + SETTLING_S;
        return TAILVOLT_OK;
      }
      last_c = now_c;
    }
    /* nothing gained after ten minutes: it never will */
    if (t_s > 600 && (last_c >= begun_c || only_parted(run, joiners, goal->charge_c))) return TAILVOLT_OK;
  }
  return TAILVOLT_OK;
}

static double speed_rpm(const struct tailvolt_engine *engine, enum tv_back use) {
  if (use != TV_BACK_MOTORWAY) return engine->idle_rpm;
  return fmax(engine->fuel == TAILVOLT_DIESEL ? MOTORWAY_DIESEL_RPM : MOTORWAY_RPM, engine->idle_rpm);
}

static void all_at(struct tailvolt_amplifier_row *row, const struct tailvolt_system *sys, bool idle) {
  for (int k = 0; k < sys->amplifier_count; k++)
    row[k] = (struct tailvolt_amplifier_row){.programme = TAILVOLT_SILENCE,
                                             .powered = true,
                                             .output_w = (double)NAN,
                                             .supply_w = (double)NAN,
                                             .supply_a = idle ? sys->amplifiers[k].idle_a
                                                              : sys->amplifiers[k].standby_a};
}

/* Runs the car on from a state, driven by `row`; steps are short for the first seconds, until polarization has
 * settled at the new current. */
static enum tailvolt_status run_on(const struct tailvolt_system *sys, const struct tailvolt_options *options,
                                   const bool *always, const struct tv_run *like, const struct tv_run *from,
                                   struct tailvolt_row *row,
                                   double step_s, struct tv_run **out) {
  char error[TAILVOLT_TEXT_MAX];
  enum tailvolt_status status = tv_run_create_like(like, sys, always, options, out, error);
  if (status != TAILVOLT_OK) return status;
  tv_run_leave_out_sums(*out);
  if ((status = tv_run_start(*out, row)) != TAILVOLT_OK) return status;
  if (from != NULL) tv_parked_hand_over(from, *out);
  if ((status = tv_run_update_wiring(*out, false)) != TAILVOLT_OK) return status;
  if ((status = wait(*out, row, row->time_s, SETTLING_S)) != TAILVOLT_OK) return status;
  tv_parked_set_step(*out, step_s);
  row->time_s += SETTLING_S;
  return TAILVOLT_OK;
}

/* A pack opened by its own electronics closes when charged, which it refuses in the cold: it stays open. */
static bool stays_open(const struct tv_run *run) {
  for (int k = 0; k < run->system->battery_count; k++)
    if (run->state.guard[k].guard != TV_GUARD_CLOSED && run->state.battery[k].temperature_c < 0) return true;
  return false;
}

enum tailvolt_status tv_drive_back(const struct tv_parked_search *search, const struct tv_run *from,
                                   const double *goal_c, enum tv_back use, double *seconds, double *each_s) {
  const struct tailvolt_system *sys = search->system;
  *seconds = (double)NAN;
  for (int k = 0; k < sys->battery_count; k++) each_s[k] = goal_c[k] > from->state.battery[k].charge_c ? (double)NAN : 0;
  if (!(missing_c(from, goal_c) > 0)) {
    *seconds = 0;
    return TAILVOLT_OK;
  }
  if (!sys->alternator.present || sys->vehicle.charging == TAILVOLT_CHARGING_NONE || stays_open(from))
    return TAILVOLT_OK;
  size_t amplifiers = (size_t)sys->amplifier_count, loads = (size_t)sys->load_count;
  struct tailvolt_amplifier_row *silent = calloc(amplifiers + 1, sizeof *silent);
  double *load_on = calloc(loads + 1, sizeof *load_on);
  struct tailvolt_drive *drive = NULL;
  struct tv_run *run = NULL;
  struct tailvolt_system driven = *sys;
  struct joiners joiners;
  struct goal goal = {sys, goal_c, seconds, each_s};
  enum tailvolt_status status = joiners_make(sys, &joiners);
  if (status != TAILVOLT_OK) goto done;
  driven.isolators = joiners.own;
  hold_open(&joiners, NULL, sys, swings(from));
  status = TAILVOLT_NO_MEMORY;
  if (silent == NULL || load_on == NULL) goto done;
  for (size_t k = 0; k < loads; k++) load_on[k] = 1;
  all_at(silent, sys, true);
  struct tailvolt_row row = {.time_s = from->ended_s,
                             .engine_rpm = speed_rpm(&sys->engine, use),
                             .ready = true,
                             .ambient_c = from->state.now.ambient_c,
                             .set_point_v = set_point_v(from),
                             .load_on = load_on,
                             .amplifier = silent};
  struct tailvolt_options options = search->options->run;
  options.record = NULL;
  options.progress = NULL;
  options.time_step_s = 1.0;
  if (use == TV_BACK_TOWN && (status = town_speeds(sys->engine.idle_rpm, &drive)) != TAILVOLT_OK) goto done;
  if ((status = run_on(&driven, &options, search->always, search->fine, from, &row, 1.0, &run)) != TAILVOLT_OK) goto done;
  status = drive_until(run, &row, drive, &goal, &joiners);
done:
  /* an empty pack has opened and the alternator cannot carry the car by itself: nothing is put back */
  if (status == TAILVOLT_DIVERGED) {
    status = TAILVOLT_OK;
    *seconds = (double)NAN;
    for (int k = 0; k < sys->battery_count; k++) each_s[k] = (double)NAN;
  }
  tailvolt_drive_free(drive);
  tv_run_free(run);
  joiners_free(&joiners);
  free(silent);
  free(load_on);
  return status;
}

/* ---- left standing ---- */

/* A start a week until one fails, then closer in between. */
static enum tailvolt_status stand_until(struct tv_parked_search *search, struct tv_run *run,
                                        const struct tailvolt_row *row, void *kept, double *seconds) {
  struct tv_start_outcome outcome = {0};
  double low_s = 0, high_s = HUGE_VAL, at_s = 0, begun_s = row->time_s;
  tv_run_save(run, kept);
  while (high_s - low_s > STAND_GRAIN_S) {
    double to_s = isfinite(high_s) ? 0.5 * (low_s + high_s) : low_s + STAND_LOOK_S;
    if (to_s > STAND_MOST_S) return TAILVOLT_OK;
    enum tailvolt_status status = tv_run_advance(run, row, NULL, begun_s + at_s, begun_s + to_s);
    if (status != TAILVOLT_OK) return status;
    status = tv_start_trial_run(&search->start, run, row, begun_s + to_s, search->options, &outcome);
    if (status != TAILVOLT_OK) return status;
    if (outcome.margin_v >= 0) {
      low_s = at_s = to_s;
      tv_run_save(run, kept);
    } else {
      high_s = to_s;
      at_s = low_s;
      tv_run_restore(run, kept);
    }
  }
  *seconds = low_s;
  return TAILVOLT_OK;
}

enum tailvolt_status tv_stand(struct tv_parked_search *search, const struct tv_run *from, double *seconds) {
  const struct tailvolt_system *sys = &search->slow_system;
  struct tailvolt_amplifier_row *silent = calloc((size_t)sys->amplifier_count + 1, sizeof *silent);
  double *load_on = calloc((size_t)sys->load_count + 1, sizeof *load_on);
  struct tv_run *run = NULL;
  struct tv_start_outcome outcome = {0};
  void *kept = NULL;
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  *seconds = (double)NAN;
  if (silent == NULL || load_on == NULL) goto done;
  all_at(silent, sys, false);
  struct tailvolt_row row = {.time_s = from != NULL ? from->ended_s : search->begin_s,
                             .ambient_c =
                                 from != NULL ? from->state.now.ambient_c : search->rows.row[0].ambient_c,
                             .set_point_v = (double)NAN,
                             .base_load_a = fmax(sys->vehicle.key_off_a, 0),
                             .load_on = load_on,
                             .amplifier = silent};
  struct tailvolt_options options = search->options->run;
  options.record = NULL;
  options.progress = NULL;
  options.time_step_s = STAND_STEP_S;
  options.isothermal = true;
  if ((status = run_on(sys, &options, search->always, search->fine, from, &row, STAND_STEP_S, &run)) != TAILVOLT_OK)
    goto done;
  status = TAILVOLT_NO_MEMORY;
  if ((kept = malloc(tv_run_state_size(run))) == NULL) goto done;
  status = tv_start_trial_run(&search->start, run, &row, row.time_s, search->options, &outcome);
  if (status == TAILVOLT_OK && outcome.margin_v >= 0) status = stand_until(search, run, &row, kept, seconds);
done:
  tv_run_free(run);
  free(kept);
  free(silent);
  free(load_on);
  return status;
}
