/* The public call: one vehicle, then the level for a wanted time, then the spread. */
#include "study/parked.h"
#include "text/text.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "numeric/root.h"
#include "simulate/charge.h"
#include "simulate/each.h"
#include "simulate/safety.h"
#include "study/spread.h"

#define FULL_ENOUGH_FRAC 0.95 /* charging beyond this takes hours however the car is driven */
#define STRICT_FLOOR_V                                                                                       \
  9.0 /* the trade's rule of thumb for a start, given beside the starter's own floor in the cold */
#define STRICT_BELOW_C 0.0

void tailvolt_parked_options_init(struct tailvolt_parked_options *options, size_t size) {
  struct tailvolt_parked_options all;
  memset(&all, 0, sizeof all);
  all.size = size;
  all.run = tailvolt_default_options();
  all.programme = -1;
  all.ambient_c = all.rest_limit_v = all.wanted_s = all.floor_v = all.soc_limit_frac = (double)NAN;
  all.floor_after_s = 0.5;
  all.pause_s = 60.0;
  all.limit_s = 48 * 3600.0;
  memcpy(options, &all, size < sizeof all ? size : sizeof all);
}

void tailvolt_parked_free(struct tailvolt_parked *parked) {
  if (parked == NULL) return;
  free(parked->batteries);
  free(parked->moments);
  free(parked->findings);
  free(parked);
}

static void caution(struct tailvolt_parked *out, enum tailvolt_parked_caution which) {
  out->caution[out->caution_count++] = which;
}

/* Loads run with the engine, unless a profile keeps them on. */
static void set_loads_off(const struct tv_parked_search *search, struct tailvolt_parked *out) {
  for (int k = 0; k < search->system->load_count; k++) {
    bool on = false;
    for (int r = 0; r < search->rows.count; r++) on = on || search->rows.row[r].load_on[k] > 0;
    if (on) continue;
    tv_append(out->loads_off, sizeof out->loads_off, "%s%s", out->loads_off[0] != '\0' ? ", " : "", search->system->loads[k].name);
  }
}

static void set_times(const struct tv_parked_search *search, double until_s, struct tailvolt_parked *out) {
  const struct tailvolt_system *sys = search->system;
  out->restart_s = search->times.restart_s - search->begin_s;
  out->cut_out_s = search->times.cut_out_s - search->begin_s;
  out->rest_limit_s = search->times.limit_s - search->begin_s;
  out->until_s = until_s - search->begin_s;
  out->followed_s = search->followed_s - search->begin_s;
  out->ends_by = tv_search_ended_by(search, until_s);
  if (!isnan(out->cut_out_s))
    memcpy(out->cut_out_amplifier, sys->amplifiers[search->times.cut_out_amplifier].name, TAILVOLT_NAME_MAX);
  if (!isnan(out->rest_limit_s))
    memcpy(out->limit_battery, sys->batteries[search->times.limit_battery].name, TAILVOLT_NAME_MAX);
  out->limit_by_voltage = search->times.limit_by_voltage;
  out->taken_ah = search->taken_c / 3600;
  out->taken_j = search->taken_j;
  out->mean_a = out->until_s > 0 ? search->taken_c / out->until_s : (double)NAN;
  out->full = search->full_reason != TAILVOLT_FULL_NOT;
  out->full_reason = search->full_reason;
  out->full_reason_s = search->full_reason_s;
  out->steps = search->steps;
  out->step_s = search->step_s;
  out->checkpoints = search->checkpoints;
  out->passes = search->passes;
}

/* Initial charge of each battery: a run just begun knows it. */
static enum tailvolt_status set_batteries(struct tv_parked_search *search, const struct tv_run *end,
                                          struct tailvolt_parked *out, double *goal_c) {
  const struct tailvolt_system *sys = search->system;
  double capacity_c = 0, given_ah = 0, goals_c = 0;
  out->batteries = calloc((size_t)sys->battery_count, sizeof *out->batteries);
  if (out->batteries == NULL) return TAILVOLT_NO_MEMORY;
  out->battery_count = sys->battery_count;
  for (int k = 0; k < sys->battery_count; k++) {
    struct tailvolt_parked_battery *b = &out->batteries[k];
    const struct tv_battery *battery = end->battery[k];
    struct tv_battery_state start;
    tv_battery_rest(battery, search->rows.row[0].ambient_c, &start);
    double full_c = 3600 * tv_battery_capacity_ah(battery);
    memcpy(b->name, sys->batteries[k].name, sizeof b->name);
    b->start_soc_pct = 100 * tv_battery_soc_frac(battery, &start);
    b->end_soc_pct = 100 * tv_battery_soc_frac(battery, &end->state.battery[k]);
    b->end_rest_v = tv_battery_open_circuit_v(battery, &end->state.battery[k]);
    b->taken_ah = (start.charge_c - end->state.battery[k].charge_c) / 3600;
    double least_frac = tv_parked_least_frac(search->options, &sys->batteries[k]);
    b->limit_pct = least_frac > 0 ? 100 * least_frac : (double)NAN;
    b->starts_car = k == sys->engine.starter_battery;
    given_ah += fmax(b->taken_ah, 0);
    goals_c += goal_c[k] = fmin(start.charge_c, FULL_ENOUGH_FRAC * full_c);
    capacity_c += full_c;
  }
  out->back_soc_pct = 100 * goals_c / capacity_c;
  out->starter_index = out->music_index = sys->engine.starter_battery;
  for (int k = 0; k < sys->battery_count; k++) {
    struct tailvolt_parked_battery *b = &out->batteries[k];
    b->share_pct = given_ah > 0 ? 100 * fmax(b->taken_ah, 0) / given_ah : (double)NAN;
    if (b->taken_ah > out->batteries[out->music_index].taken_ah) out->music_index = k;
  }
  out->batteries[out->music_index].feeds_music = true;
  out->limit_index = isnan(out->rest_limit_s) ? out->music_index : search->times.limit_battery;
  out->soc_limit_pct = out->batteries[out->limit_index].limit_pct;
  return TAILVOLT_OK;
}

/* Of the batteries that driving does not restore the one that gave most, if the voltage leaves open what joins it. */
static enum tailvolt_status set_stays_open(const struct tailvolt_system *sys, struct tailvolt_parked *out) {
  struct tailvolt_parked_open *open = &out->stays_open;
  for (int k = 0; k < out->battery_count; k++) {
    const struct tailvolt_parked_battery *b = &out->batteries[k];
    int isolator;
    if (isfinite(b->idle_s) || isfinite(b->town_s) || isfinite(b->motorway_s)) continue;
    if (open->present && b->taken_ah <= out->batteries[open->battery].taken_ah) continue;
    enum tailvolt_status status = tv_charge_stays_open(sys, k, &isolator);
    if (status != TAILVOLT_OK) return status;
    if (isolator < 0) continue;
    const struct tailvolt_isolator *from = &sys->isolators[isolator];
    *open = (struct tailvolt_parked_open){true, k, isolator, from->kind, "", tv_charge_lowest_v(sys), from->closes_above_v};
    memcpy(open->name, from->name, sizeof open->name);
  }
  return TAILVOLT_OK;
}

static enum tailvolt_status set_back(struct tv_parked_search *search, const struct tv_run *paused,
                                     const double *goal_c, struct tailvolt_parked *out) {
  static const enum tv_back uses[] = {TV_BACK_IDLE, TV_BACK_TOWN, TV_BACK_MOTORWAY};
  double *const seconds[] = {&out->idle_s, &out->town_s, &out->motorway_s};
  double *each_s = calloc((size_t)out->battery_count, sizeof *each_s);
  enum tailvolt_status status = each_s != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  out->charged_when_ready = search->system->vehicle.charging == TAILVOLT_CHARGING_CONVERTER;
  for (int use = 0; use < 3 && status == TAILVOLT_OK; use++) {
    if (use == 0 || !out->charged_when_ready)
      status = tv_drive_back(search, paused, goal_c, out->charged_when_ready ? TV_BACK_READY : uses[use], seconds[use], each_s);
    else
      *seconds[use] = out->idle_s;
    for (int k = 0; k < out->battery_count && status == TAILVOLT_OK; k++) {
      struct tailvolt_parked_battery *b = &out->batteries[k];
      double *const own[] = {&b->idle_s, &b->town_s, &b->motorway_s};
      *own[use] = each_s[k];
    }
  }
  free(each_s);
  return status == TAILVOLT_OK ? set_stays_open(search->system, out) : status;
}

static enum tailvolt_status set_end(struct tv_parked_search *search, double until_s, double *goal_c,
                                    struct tailvolt_parked *out) {
  const struct tv_run *end = tv_search_end_run(search);
  const struct tailvolt_system *sys = search->system;
  int starter = sys->engine.starter_battery;
  struct tv_start_outcome outcome = {0};
  const struct tailvolt_row *row = &search->rows.row[tv_parked_row_at(&search->rows, until_s)];
  enum tailvolt_status status = set_batteries(search, end, out, goal_c);
  if (status != TAILVOLT_OK) return status;
  memcpy(out->starter, sys->batteries[starter].name, sizeof out->starter);
  status = tv_start_trial_run(&search->start, end, row, until_s, search->options, &outcome);
  if (status != TAILVOLT_OK) return status;
  out->soc_pct = out->batteries[starter].end_soc_pct;
  out->rest_v = out->batteries[starter].end_rest_v;
  out->paused_v = outcome.paused_v;
  out->cranking_v = outcome.cranking_v;
  out->floor_v = outcome.floor_v;
  out->floor_from = !isnan(search->options->floor_v) ? TAILVOLT_FLOOR_STATED
                    : sys->engine.start_needs_a > 0  ? TAILVOLT_FLOOR_OF_BOOTING
                                                     : TAILVOLT_FLOOR_OF_STARTER;
  out->starts = outcome.margin_v >= 0;
  out->ambient_c = end->state.now.ambient_c;
  tailvolt_cold_start(&sys->engine, out->ambient_c, &out->cranking_a, &out->breakaway_a);
  out->key_off_a = sys->vehicle.key_off_a;
  if ((status = set_back(search, search->start.run, goal_c, out)) != TAILVOLT_OK) return status;
  if ((status = tv_stand(search, NULL, &out->standing_s)) != TAILVOLT_OK) return status;
  return tv_stand(search, tv_search_end_run(search), &out->standing_after_s);
}

static int by_time(const void *left, const void *right) {
  const struct tv_noted_moment *a = left, *b = right;
  return (a->moment.time_s > b->moment.time_s) - (a->moment.time_s < b->moment.time_s);
}

/* The moments in order, with the battery that turned out to feed the music. */
static enum tailvolt_status set_moments(struct tv_parked_search *search, struct tailvolt_parked *out) {
  if (search->moment_count == 0) return TAILVOLT_OK;
  qsort(search->moment, (size_t)search->moment_count, sizeof *search->moment, by_time);
  out->moments = calloc((size_t)search->moment_count, sizeof *out->moments);
  if (out->moments == NULL) return TAILVOLT_NO_MEMORY;
  out->moment_count = search->moment_count;
  for (int k = 0; k < out->moment_count; k++) {
    size_t at = search->moment[k].batteries_at + (size_t)out->music_index;
    out->moments[k] = search->moment[k].moment;
    out->moments[k].music_soc_pct = search->moment_soc_pct[at];
    out->moments[k].music_rest_v = search->moment_rest_v[at];
  }
  return TAILVOLT_OK;
}

/* The time by the rule of thumb, where it is cold and the rule is stricter: cranking voltage is linear
 * between two moments. */
static void set_strict(struct tailvolt_parked *out) {
  out->strict_floor_v = out->strict_until_s = (double)NAN;
  if (out->floor_from != TAILVOLT_FLOOR_OF_STARTER || out->ambient_c >= STRICT_BELOW_C) return;
  for (int k = 0; k < out->moment_count; k++) {
    const struct tailvolt_parked_moment *m = &out->moments[k], *before = m - 1;
    if (m->cranking_v >= STRICT_FLOOR_V) continue;
    double at_s = k == 0 ? 0
                         : before->time_s + (m->time_s - before->time_s) *
                                                (before->cranking_v - STRICT_FLOOR_V) /
                                                (before->cranking_v - m->cranking_v);
    if (!(at_s < out->until_s)) return;
    out->strict_floor_v = STRICT_FLOOR_V;
    out->strict_until_s = at_s;
    return;
  }
}

static enum tailvolt_status set_safety(const struct tailvolt_system *system, struct tailvolt_parked *out) {
  struct tv_finding_list list;
  memset(&list, 0, sizeof list);
  enum tailvolt_status status = tv_safety_check(system, NULL, &list);
  if (status != TAILVOLT_OK || list.count == 0) {
    tv_finding_list_free(&list);
    return status;
  }
  out->findings = list.finding;
  out->finding_count = list.count;
  return TAILVOLT_OK;
}

static void set_cautions(const struct tv_parked_search *search, struct tailvolt_parked *out) {
  bool plays = false;
  for (int r = 0; r < search->rows.count; r++)
    for (int k = 0; k < search->system->amplifier_count; k++) {
      const struct tailvolt_amplifier_row *row = &search->rows.row[r].amplifier[k];
      plays = plays || (row->powered && (row->programme != TAILVOLT_SILENCE || row->output_w > 0 ||
                                         row->supply_w > 0 || row->supply_a > 0));
    }
  if (!plays) caution(out, TAILVOLT_PARKED_NOTHING_PLAYS);
  if (out->restart_s == 0) caution(out, TAILVOLT_PARKED_NEVER_STARTS);
  if (out->rest_limit_s == 0) caution(out, TAILVOLT_PARKED_AT_LIMIT_FROM_THE_START);
  if (out->cut_out_s < 60) caution(out, TAILVOLT_PARKED_CUT_OUT_AT_ONCE);
  if (search->full_reason > TAILVOLT_FULL_ASKED) caution(out, TAILVOLT_PARKED_EVERY_STEP);
}

static enum tailvolt_status play_one(const struct tailvolt_system *system,
                                     const struct tailvolt_profile *profile,
                                     const struct tailvolt_parked_options *options,
                                     struct tailvolt_parked *out, char *error) {
  struct tv_parked_search *search = calloc(1, sizeof *search);
  double until_s = 0;
  if (search == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = tv_search_make(system, profile, options, NULL, search);
  if (status == TAILVOLT_OK) status = tv_search_find(search, &until_s);
  if (status == TAILVOLT_OK) {
    set_times(search, until_s, out);
    set_loads_off(search, out);
    double *goal_c = calloc((size_t)system->battery_count, sizeof *goal_c);
    status = goal_c != NULL ? set_end(search, until_s, goal_c, out) : TAILVOLT_NO_MEMORY;
    free(goal_c);
  }
  if (status == TAILVOLT_OK) status = set_moments(search, out);
  if (status == TAILVOLT_OK) status = set_safety(system, out);
  if (status == TAILVOLT_OK) {
    set_strict(out);
    set_cautions(search, out);
  }
  if (status != TAILVOLT_OK && error != NULL) {
    const struct tv_run *runs[] = {search->fine, search->slow, search->start.run};
    for (int k = 0; k < 3 && search->error[0] == '\0'; k++)
      if (runs[k] != NULL) memcpy(search->error, runs[k]->error, TAILVOLT_TEXT_MAX);
    memcpy(error, search->error, TAILVOLT_TEXT_MAX);
  }
  tv_search_free(search);
  free(search);
  return status;
}

/* ---- The level that lasts a wanted time: the root of log(time / wanted) over level. ---- */

#define LOWEST_DB (-60.0)
#define GRAIN_DB 0.02
#define LASTS_FRAC 0.02  /* short by less than this counts as lasting */
#define LOWERED_MOST 3

struct level_search {
  const struct tailvolt_system *system;
  const struct tailvolt_profile *profile;
  struct tailvolt_parked_options options;
  const struct tv_parked_quick *quick;
  double wanted_s;
  enum tailvolt_status status;
  char *error;
};

static double miss(double level_db, void *context) {
  struct level_search *s = context;
  struct tv_parked_brief brief;
  if (s->status != TAILVOLT_OK) return 0;
  s->options.level_db = level_db;
  s->status = tv_parked_brief_with(s->system, s->profile, &s->options, s->quick, &brief, s->error);
  return s->status == TAILVOLT_OK ? log(fmax(brief.until_s, 0.1) / s->wanted_s) : 0;
}

static double root_db(struct level_search *s, double low_db, double high_db) {
  struct tv_bracket bracket = {low_db, high_db, 0};
  (void)tv_root(miss, s, &bracket, GRAIN_DB, 0, 20);
  /* the quieter end lasts */
  return bracket.low;
}

/* Plays the car thoroughly at the level found: the quick search may promise too much where batteries share the beats unequally, and is
 * then asked for more. */
static enum tailvolt_status lower_until_it_lasts(struct level_search *s, double level_db, struct tailvolt_parked *out) {
  double wanted_s = out->wanted_s;
  for (int round = 0; round < LOWERED_MOST; round++) {
    struct tv_parked_brief brief;
    s->options.level_db = level_db;
    s->status = tv_parked_brief_with(s->system, s->profile, &s->options, NULL, &brief, s->error);
    if (s->status != TAILVOLT_OK) return s->status;
    if (brief.until_s >= (1 - LASTS_FRAC) * wanted_s) break;
    s->wanted_s *= wanted_s / fmax(brief.until_s, 0.1 * wanted_s);
    s->options.limit_s = 2 * s->wanted_s;
    if (miss(LOWEST_DB, s) < 0) return s->status; /* nothing lasts */
    level_db = root_db(s, LOWEST_DB, level_db);
  }
  if (s->status == TAILVOLT_OK) out->wanted_level_db = level_db;
  return s->status;
}

static enum tailvolt_status find_level(const struct tailvolt_system *system,
                                       const struct tailvolt_profile *profile,
                                       const struct tailvolt_parked_options *options,
                                       const struct tv_parked_quick *quick, struct tailvolt_parked *out,
                                       char *error) {
  struct level_search s = {system, profile, *options, quick, out->wanted_s, TAILVOLT_OK, error};
  /* beyond this, differences do not matter; the first run reported the progress */
  s.options.limit_s = fmin(options->limit_s, 2 * out->wanted_s);
  double here_db = options->level_db, low_db = LOWEST_DB, high_db = here_db;
  if (options->limit_s <= out->wanted_s) s.options.limit_s = 2 * out->wanted_s;
  s.options.full = false;
  out->level_looked_for = true;
  if (out->until_s >= out->wanted_s) {
    low_db = here_db;
    high_db = 0;
    if (here_db >= 0) {
      out->any_level_lasts = true;
      out->wanted_level_db = here_db;
      return TAILVOLT_OK;
    }
    if (miss(high_db, &s) >= 0) {
      enum tailvolt_status status = lower_until_it_lasts(&s, high_db, out);
      out->any_level_lasts = out->wanted_level_db >= high_db;
      return status;
    }
  } else if (miss(low_db, &s) < 0) {
    return s.status;
  } else if (miss(high_db, &s) >= 0) {
    /* short by less than the rough search can resolve */
    return lower_until_it_lasts(&s, here_db, out);
  }
  /* usually close to the present level */
  for (double step_db = 3;
       out->until_s < out->wanted_s && high_db - step_db > low_db && s.status == TAILVOLT_OK; step_db *= 2) {
    double try_db = high_db - step_db;
    if (miss(try_db, &s) >= 0) {
      low_db = try_db;
      break;
    }
    high_db = try_db;
  }
  double level_db = s.status == TAILVOLT_OK ? root_db(&s, low_db, high_db) : 0;
  return s.status == TAILVOLT_OK ? lower_until_it_lasts(&s, level_db, out) : s.status;
}

/* ---- the car described, and cars like it beside it ---- */

/* The car described is played on the caller's thread. Meanwhile another measures what the quick search leaves out, and computes vehicles of
 * the spread: that does not wait for how the car described fared. */
struct beside {
  const struct tailvolt_system *system;
  const struct tailvolt_profile *profile;
  const struct tailvolt_parked_options *options;
  struct tailvolt_parked *parked;
  char *error;
  int thread; /* the caller's */
  enum tailvolt_status played_status;
  atomic_bool played;
  /* of the other thread */
  bool begun;
  enum tailvolt_status status;
  struct tv_parked_quick quick; /* its cut-out ratio is still to be fitted */
  struct tv_programmes *shared;
  struct tv_spread *spread;
  char measure_error[TAILVOLT_TEXT_MAX];
};

/* Asked by the thread beside: the caller's hears whether to stop. */
static int look_beside(void *context, double done_frac) {
  const struct beside *b = context;
  (void)done_frac;
  return atomic_load(&b->played) && b->played_status != TAILVOLT_OK;
}

static void measure(struct beside *b) {
  struct tailvolt_parked_options own = *b->options;
  if (tv_thread() != b->thread) {
    own.run.progress = look_beside;
    own.run.progress_context = b;
  }
  b->begun = true;
  b->status = tv_parked_share(b->system, &b->options->run, &b->shared, b->measure_error);
  b->quick.programmes = b->shared;
  if (b->status == TAILVOLT_OK)
    b->status = tv_parked_calibrate(b->system, b->profile, &own, (double)NAN, &b->quick, b->measure_error);
}

static void play(struct beside *b) {
  b->played_status = play_one(b->system, b->profile, b->options, b->parked, b->error);
  atomic_store(&b->played, true);
}

static void one_of_two(void *context, int k) {
  struct beside *b = context;
  (void)k;
  if (tv_thread() == b->thread) {
    if (!atomic_load(&b->played)) play(b);
    return;
  }
  if (b->begun) return;
  measure(b);
  if (b->status == TAILVOLT_OK) b->status = tv_spread_begin(b->system, b->profile, b->options, &b->spread);
  if (b->status == TAILVOLT_OK) tv_spread_some(b->spread, &b->quick, &b->played);
}

static enum tailvolt_status play_beside(struct beside *b) {
  atomic_init(&b->played, false);
  /* where every step is asked for, that is no sign of a slow search */
  bool spreads = b->options->vehicles > 0 && (!b->options->spread_if_quick || b->options->full);
  bool two = spreads && tv_threads(b->options->threads) > 1;
  if (two) tv_each(2, 2, one_of_two, b);
  /* the other thread may have had both turns, or none */
  if (!atomic_load(&b->played)) play(b);
  if (b->played_status != TAILVOLT_OK || !b->begun) return b->played_status;
  return b->status;
}

static enum tailvolt_status spread_out(struct beside *b) {
  enum tailvolt_status status = TAILVOLT_OK;
  if (b->spread == NULL) status = tv_spread_begin(b->system, b->profile, b->options, &b->spread);
  if (status != TAILVOLT_OK) return status;
  return tv_spread_end(b->spread, &b->quick, b->parked->wanted_s, &b->parked->spread, &b->parked->spread_soonest,
                       &b->parked->certainty);
}

/* ---- the public call ---- */

static void copy_head(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                      const struct tailvolt_parked_options *options, struct tailvolt_parked *out) {
  memcpy(out->system, system->file, sizeof out->system);
  if (profile != NULL) snprintf(out->profile, sizeof out->profile, "%s", tailvolt_profile_name(profile));
  out->level_db = options->level_db;
  out->rest_limit_v = options->rest_limit_v;
  out->limit_s = options->limit_s;
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
  if (options->size != sizeof *options) {
    snprintf(error, TAILVOLT_TEXT_MAX, "options must come from tailvolt_default_parked_options()");
    return TAILVOLT_INTERNAL;
  }
  struct tailvolt_parked *parked = calloc(1, sizeof *parked);
  if (parked == NULL) return TAILVOLT_NO_MEMORY;
  copy_head(system, profile, options, parked);
  struct beside b = {.system = system, .profile = profile, .options = options, .parked = parked, .error = error,
                     .quick = {.draw_ratio = 1, .cut_out_ratio = 1}, .thread = tv_thread()};
  enum tailvolt_status status = play_beside(&b);
  bool short_of = !isnan(parked->wanted_s) && parked->until_s < parked->wanted_s;
  bool level = !isnan(parked->wanted_s) && (short_of || options->solve_level);
  if (status == TAILVOLT_OK && !b.begun && (level || options->vehicles > 0)) {
    measure(&b);
    status = b.status;
  }
  if (status == TAILVOLT_OK && b.begun)
    status = tv_parked_fit_cut_out(system, profile, options, parked->cut_out_s, &b.quick);
  if (status == TAILVOLT_OK && level) status = find_level(system, profile, options, &b.quick, parked, error);
  bool slow = parked->full_reason > TAILVOLT_FULL_LONG_MUSIC;
  if (status == TAILVOLT_OK && options->vehicles > 0 && !(slow && options->spread_if_quick))
    status = spread_out(&b);
  tv_spread_free(b.spread);
  tv_programmes_free(b.shared);
  bool searched = parked->level_looked_for || options->vehicles > 0;
  if (status == TAILVOLT_OK && searched && parked->full_reason == TAILVOLT_FULL_LONG_MUSIC)
    caution(parked, TAILVOLT_PARKED_TWO_PIECES);
  if (status != TAILVOLT_OK) {
    if (error[0] == '\0') memcpy(error, b.measure_error, TAILVOLT_TEXT_MAX);
    if (error[0] == '\0') snprintf(error, TAILVOLT_TEXT_MAX, "%s", tailvolt_status_text(status));
    tailvolt_parked_free(parked);
    return status;
  }
  *out = parked;
  return TAILVOLT_OK;
}
