/* The public call: one vehicle, then the level for a chosen time, then the spread. */
#include "study/parked.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text/number.h"
#include "study/spread.h"

#define COOKIE 0x9a4c
#define FULL_ENOUGH_FRAC 0.95 /* charging beyond takes hours whatever is driven */

struct tailvolt_parked_options tailvolt_default_parked_options(void) {
  struct tailvolt_parked_options o;
  memset(&o, 0, sizeof o);
  o.cookie = COOKIE;
  o.run = tailvolt_default_options();
  o.programme = -1;
  o.ambient_c = o.rest_limit_v = o.wanted_s = (double)NAN;
  o.floor_v = 9.0;
  o.floor_after_s = 0.5;
  o.pause_s = 60.0;
  o.soc_limit_frac = 0.5;
  o.limit_s = 48 * 3600.0;
  return o;
}

void tailvolt_parked_free(struct tailvolt_parked *parked) {
  if (parked == NULL) return;
  free(parked->batteries);
  free(parked->moments);
  free(parked->cautions);
  free(parked);
}

__attribute__((format(printf, 2, 3))) static enum tailvolt_status caution(struct tailvolt_parked *out,
                                                                          const char *format, ...) {
  void *grown = realloc(out->cautions, (size_t)(out->caution_count + 1) * sizeof *out->cautions);
  if (grown == NULL) return TAILVOLT_NO_MEMORY;
  out->cautions = grown;
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(out->cautions[out->caution_count++], TAILVOLT_TEXT_MAX, format, arguments);
  va_end(arguments);
  return TAILVOLT_OK;
}

static enum tailvolt_parked_end ended_by(const struct tv_vehicle *v, double until_s) {
  if (v->times.restart_s <= until_s) return TAILVOLT_ENDS_BY_RESTART;
  if (v->times.cut_out_s <= until_s) return TAILVOLT_ENDS_BY_CUT_OUT;
  return v->times.limit_s <= until_s ? TAILVOLT_ENDS_BY_REST_LIMIT : TAILVOLT_ENDS_BY_TIME;
}

static enum tailvolt_status play(struct tv_vehicle *v, double *until_s) {
  if (v->options->full || v->why_full[0] != '\0') return tv_vehicle_play_full(v, until_s);
  enum tailvolt_status status = tv_vehicle_play(v, until_s);
  /* found on the way that checkpoints cannot stand for the whole */
  if (status == TAILVOLT_OK && v->why_full[0] != '\0') status = tv_vehicle_play_full(v, until_s);
  return status;
}

static void set_times(const struct tv_vehicle *v, double until_s, struct tailvolt_parked *out) {
  const struct tailvolt_system *sys = v->system;
  out->restart_s = v->times.restart_s - v->begin_s;
  out->cut_out_s = v->times.cut_out_s - v->begin_s;
  out->rest_limit_s = v->times.limit_s - v->begin_s;
  out->until_s = until_s - v->begin_s;
  out->followed_s = v->followed_s - v->begin_s;
  out->ends_by = ended_by(v, until_s);
  if (!isnan(out->cut_out_s))
    memcpy(out->cut_out_amplifier, sys->amplifiers[v->times.cut_out_amplifier].name, TAILVOLT_NAME_MAX);
  if (!isnan(out->rest_limit_s))
    memcpy(out->limit_battery, sys->batteries[v->times.limit_battery].name, TAILVOLT_NAME_MAX);
  out->limit_by_voltage = v->times.limit_by_voltage;
  out->taken_ah = v->taken_c / 3600;
  out->taken_j = v->taken_j;
  out->mean_a = out->until_s > 0 ? v->taken_c / out->until_s : (double)NAN;
  out->full = v->options->full || v->why_full[0] != '\0';
  memcpy(out->why_full, v->why_full, TAILVOLT_TEXT_MAX);
  out->steps = v->steps;
  out->step_s = v->step_s;
  out->checkpoints = v->checkpoints;
  out->passes = v->passes;
}

/* Start charge of each battery: a run that has just been started knows it. */
static enum tailvolt_status set_batteries(struct tv_vehicle *v, const struct tv_run *end,
                                          struct tailvolt_parked *out, double *goal_c) {
  const struct tailvolt_system *sys = v->system;
  double capacity_c = 0;
  *goal_c = 0;
  out->batteries = calloc((size_t)sys->battery_count, sizeof *out->batteries);
  if (out->batteries == NULL) return TAILVOLT_NO_MEMORY;
  out->battery_count = sys->battery_count;
  for (int k = 0; k < sys->battery_count; k++) {
    struct tailvolt_parked_battery *b = &out->batteries[k];
    const struct tv_battery *battery = end->battery[k];
    struct tv_battery_state start;
    tv_battery_rest(battery, v->rows.row[0].ambient_c, &start);
    double full_c = 3600 * tv_battery_capacity_ah(battery);
    memcpy(b->name, sys->batteries[k].name, sizeof b->name);
    b->start_soc_pct = 100 * tv_battery_soc_frac(battery, &start);
    b->end_soc_pct = 100 * tv_battery_soc_frac(battery, &end->state.battery[k]);
    b->end_rest_v = tv_battery_open_circuit_v(battery, &end->state.battery[k]);
    b->taken_ah = (start.charge_c - end->state.battery[k].charge_c) / 3600;
    *goal_c += fmin(start.charge_c, FULL_ENOUGH_FRAC * full_c);
    capacity_c += full_c;
  }
  out->back_soc_pct = 100 * *goal_c / capacity_c;
  return TAILVOLT_OK;
}

static enum tailvolt_status set_end(struct tv_vehicle *v, double until_s, struct tailvolt_parked *out) {
  const struct tv_run *end = tv_vehicle_run(v);
  const struct tailvolt_system *sys = v->system;
  struct tv_start_seen seen;
  double goal_c;
  const struct tailvolt_row *row = &v->rows.row[tv_parked_row_at(&v->rows, until_s)];
  enum tailvolt_status status = set_batteries(v, end, out, &goal_c);
  if (status != TAILVOLT_OK) return status;
  memcpy(out->starter, sys->batteries[0].name, sizeof out->starter);
  status = tv_starter_try(&v->starter, end, row, until_s, v->options, false, &seen);
  if (status != TAILVOLT_OK) return status;
  const struct tv_run *paused = v->starter.run;
  out->soc_pct = 100 * tv_battery_soc_frac(end->battery[0], &end->state.battery[0]);
  out->rest_v = tv_battery_open_circuit_v(end->battery[0], &end->state.battery[0]);
  out->paused_v = seen.paused_v;
  out->cranking_v = seen.cranking_v;
  out->starts = seen.cranking_v >= v->options->floor_v;
  out->ambient_c = end->state.now.ambient_c;
  tailvolt_cold_start(&sys->engine, out->ambient_c, &out->cranking_a, &out->breakaway_a);
  if ((status = tv_drive_back(v, paused, goal_c, false, &out->idle_s)) != TAILVOLT_OK) return status;
  return tv_drive_back(v, paused, goal_c, true, &out->town_s);
}

static int by_time(const void *left, const void *right) {
  const struct tailvolt_parked_moment *a = left, *b = right;
  return (a->time_s > b->time_s) - (a->time_s < b->time_s);
}

static enum tailvolt_status set_cautions(const struct tv_vehicle *v, struct tailvolt_parked *out) {
  enum tailvolt_status status = TAILVOLT_OK;
  bool plays = false;
  for (int r = 0; r < v->rows.count; r++)
    for (int k = 0; k < v->system->amplifier_count; k++) {
      const struct tailvolt_amplifier_row *row = &v->rows.row[r].amplifier[k];
      plays = plays || (row->powered && (row->programme != TAILVOLT_SILENCE || row->output_w > 0 ||
                                         row->supply_w > 0 || row->supply_a > 0));
    }
  if (!plays) status = caution(out, "nothing plays: the time is that of the standing draws");
  if (status == TAILVOLT_OK && out->restart_s == 0)
    status = caution(
        out,
        "the car does not start even before anything has played: the battery is too weak for its starter");
  if (status == TAILVOLT_OK && out->rest_limit_s == 0)
    status = caution(out, "battery %s is below its limit before anything has played", out->limit_battery);
  if (status == TAILVOLT_OK && out->cut_out_s < 60)
    status = caution(
        out, "the cut-out comes within the first minute: the wiring, not the charge, ends the playing");
  if (status == TAILVOLT_OK && v->why_full[0] != '\0')
    status = caution(out, "simulated step by step: %s", v->why_full);
  return status;
}

enum tailvolt_status tv_parked_one(const struct tailvolt_system *system,
                                   const struct tailvolt_profile *profile,
                                   const struct tailvolt_parked_options *options, struct tailvolt_parked *out,
                                   char *error) {
  struct tv_vehicle *v = calloc(1, sizeof *v);
  double until_s = 0;
  if (v == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = tv_vehicle_make(system, profile, options, false, v);
  if (status == TAILVOLT_OK) status = play(v, &until_s);
  if (status == TAILVOLT_OK) {
    set_times(v, until_s, out);
    status = set_end(v, until_s, out);
  }
  if (status == TAILVOLT_OK) status = set_cautions(v, out);
  if (status == TAILVOLT_OK && v->moment_count > 0) {
    qsort(v->moment, (size_t)v->moment_count, sizeof *v->moment, by_time);
    out->moments = v->moment;
    out->moment_count = v->moment_count;
    v->moment = NULL;
  }
  if (status != TAILVOLT_OK && error != NULL) {
    const struct tv_run *runs[] = {v->fine, v->slow, v->starter.run};
    for (int k = 0; k < 3 && v->error[0] == '\0'; k++)
      if (runs[k] != NULL) memcpy(v->error, runs[k]->error, TAILVOLT_TEXT_MAX);
    memcpy(error, v->error, TAILVOLT_TEXT_MAX);
  }
  tv_vehicle_free(v);
  free(v);
  return status;
}

enum tailvolt_status tv_parked_brief(const struct tailvolt_system *system,
                                     const struct tailvolt_profile *profile,
                                     const struct tailvolt_parked_options *options,
                                     struct tv_parked_brief *brief, char *error) {
  struct tv_vehicle *v = calloc(1, sizeof *v);
  double until_s = 0;
  if (v == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = tv_vehicle_make(system, profile, options, true, v);
  if (status == TAILVOLT_OK) status = play(v, &until_s);
  if (status == TAILVOLT_OK)
    *brief = (struct tv_parked_brief){until_s - v->begin_s, v->times.restart_s - v->begin_s,
                                      v->times.cut_out_s - v->begin_s, v->times.limit_s - v->begin_s,
                                      ended_by(v, until_s)};
  else if (error != NULL)
    memcpy(error, v->error, TAILVOLT_TEXT_MAX);
  tv_vehicle_free(v);
  free(v);
  return status;
}

static void copy_head(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                      const struct tailvolt_parked_options *options, struct tailvolt_parked *out) {
  memcpy(out->system, system->file, sizeof out->system);
  if (profile != NULL) snprintf(out->profile, sizeof out->profile, "%s", tailvolt_profile_name(profile));
  out->level_db = options->level_db;
  out->soc_limit_pct = options->soc_limit_frac > 0 ? 100 * options->soc_limit_frac : (double)NAN;
  out->rest_limit_v = options->rest_limit_v;
  out->limit_s = options->limit_s;
  out->floor_v = options->floor_v;
  out->pause_s = options->pause_s;
  out->wanted_s = isnan(options->wanted_s) ? system->targets.parked_s : options->wanted_s;
  out->wanted_level_db = (double)NAN;
}

enum tailvolt_status tailvolt_parked(const struct tailvolt_system *system,
                                     const struct tailvolt_profile *profile,
                                     const struct tailvolt_parked_options *options,
                                     struct tailvolt_parked **out, char *error) {
  char unheard[TAILVOLT_TEXT_MAX];
  if (error == NULL) error = unheard;
  error[0] = '\0';
  *out = NULL;
  if (options->cookie != COOKIE) {
    snprintf(error, TAILVOLT_TEXT_MAX, "options must come from tailvolt_default_parked_options()");
    return TAILVOLT_INTERNAL;
  }
  struct tailvolt_parked *parked = calloc(1, sizeof *parked);
  if (parked == NULL) return TAILVOLT_NO_MEMORY;
  copy_head(system, profile, options, parked);
  enum tailvolt_status status = tv_parked_one(system, profile, options, parked, error);
  bool short_of = !isnan(parked->wanted_s) && parked->until_s < parked->wanted_s;
  if (status == TAILVOLT_OK && !isnan(parked->wanted_s) && (short_of || options->solve_level))
    status = tv_parked_find_level(system, profile, options, parked, error);
  if (status == TAILVOLT_OK && options->vehicles > 0)
    status = tv_parked_spread(system, profile, options, parked->wanted_s, &parked->spread, error);
  bool rough = !options->full && parked->full && (parked->level_looked_for || options->vehicles > 0);
  if (status == TAILVOLT_OK && rough && strstr(parked->why_full, "comes again") != NULL)
    status = caution(parked, "level and spread are found with two pieces of the music, one typical and the loudest: "
                             "right within a few percent");
  if (status != TAILVOLT_OK) {
    if (error[0] == '\0') snprintf(error, TAILVOLT_TEXT_MAX, "%s", tailvolt_status_text(status));
    tailvolt_parked_free(parked);
    return status;
  }
  *out = parked;
  return TAILVOLT_OK;
}
