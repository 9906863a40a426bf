/* What is played, and the slow run: batteries, wells and temperatures under mean currents, in long steps; how far it is above its
 * limits of charge. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "parts/conductor.h"
#include "study/parked.h"
#include "text/number.h"

#define LONGEST_STEP_S 30.0
#define QUICK_STEP_S 60.0
#define STEPS_A_SLICE 5

/* ---- rows: a profile's, or one without end ---- */

static enum tailvolt_status allocate(const struct tailvolt_system *system, int count,
                                     struct tv_parked_rows *rows) {
  size_t n = (size_t)count + 1, loads = (size_t)system->load_count,
         amplifiers = (size_t)system->amplifier_count;
  memset(rows, 0, sizeof *rows);
  rows->row = calloc(n, sizeof *rows->row);
  rows->load_on = calloc(n * loads + 1, sizeof(double));
  rows->amplifier = calloc(n * amplifiers + 1, sizeof *rows->amplifier);
  rows->prescribed = calloc(amplifiers + 1, sizeof(bool));
  if (!rows->row || !rows->load_on || !rows->amplifier || !rows->prescribed) {
    tv_parked_rows_free(rows);
    return TAILVOLT_NO_MEMORY;
  }
  for (size_t k = 0; k < n; k++) {
    rows->row[k].load_on = rows->load_on + k * loads;
    rows->row[k].amplifier = rows->amplifier + k * amplifiers;
  }
  return TAILVOLT_OK;
}

void tv_parked_rows_free(struct tv_parked_rows *rows) {
  free(rows->row);
  free(rows->load_on);
  free(rows->amplifier);
  free(rows->prescribed);
  memset(rows, 0, sizeof *rows);
}

static void set_row(const struct tailvolt_system *system, const struct tailvolt_parked_options *options,
                    const struct tailvolt_row *from, struct tv_parked_rows *rows, int k) {
  struct tailvolt_row *to = &rows->row[k];
  double *load_on = rows->load_on + (size_t)k * (size_t)system->load_count;
  struct tailvolt_amplifier_row *plays = rows->amplifier + (size_t)k * (size_t)system->amplifier_count;
  memcpy(load_on, from->load_on, (size_t)system->load_count * sizeof *load_on);
  memcpy(plays, from->amplifier, (size_t)system->amplifier_count * sizeof *plays);
  *to = *from;
  to->load_on = load_on;
  to->amplifier = plays;
  if (!isnan(options->ambient_c)) to->ambient_c = options->ambient_c;
  to->ambient_c += options->ambient_shift_k;
  /* what the parked car draws by itself flows whatever plays */
  if (system->vehicle.key_off_a > 0) to->base_load_a += system->vehicle.key_off_a;
  for (int a = 0; a < system->amplifier_count; a++) plays[a].level_db += options->level_db;
}

static enum tailvolt_status steady(const struct tailvolt_system *system,
                                   const struct tailvolt_parked_options *options,
                                   struct tv_parked_rows *rows) {
  enum tailvolt_status status = allocate(system, 2, rows);
  if (status != TAILVOLT_OK) return status;
  struct tailvolt_amplifier_row *plays = rows->amplifier + system->amplifier_count; /* the spare row's */
  for (int k = 0; k < system->amplifier_count; k++) {
    int own = system->amplifiers[k].programme;
    int chosen = options->programme >= 0 ? options->programme : 0;
    plays[k] = (struct tailvolt_amplifier_row){.programme = own >= 0                      ? own
                                                            : system->programme_count > 0 ? chosen
                                                                                          : TAILVOLT_SILENCE,
                                               .powered = true,
                                               .output_w = (double)NAN,
                                               .supply_w = (double)NAN,
                                               .supply_a = (double)NAN};
  }
  struct tailvolt_row row = {.ambient_c = system->vehicle.ambient_c,
                             .set_point_v = (double)NAN,
                             .load_on = rows->load_on + system->load_count,
                             .amplifier = plays};
  set_row(system, options, &row, rows, 0);
  rows->count = 1;
  return TAILVOLT_OK;
}

enum tailvolt_status tv_parked_rows_make(const struct tailvolt_system *system,
                                         const struct tailvolt_profile *profile,
                                         const struct tailvolt_parked_options *options,
                                         struct tv_parked_rows *rows, char *error) {
  if (profile == NULL) return steady(system, options, rows);
  long count = tailvolt_profile_row_count(profile);
  if (count > 2000000) {
    snprintf(error, TAILVOLT_TEXT_MAX, "a profile of %ld rows is too long for this study", count);
    return TAILVOLT_BAD_INPUT;
  }
  struct tailvolt_profile_cursor *cursor;
  enum tailvolt_status status = allocate(system, (int)count, rows);
  if (status != TAILVOLT_OK) return status;
  for (int k = 0; k < system->amplifier_count; k++)
    rows->prescribed[k] = tailvolt_profile_prescribes(profile, k);
  if ((status = tailvolt_profile_open(profile, &cursor)) == TAILVOLT_OK) {
    const struct tailvolt_row *row;
    while ((status = tailvolt_profile_next(cursor, &row)) == TAILVOLT_OK && row != NULL &&
           rows->count < count) {
      if (row->engine_rpm > 0) {
        snprintf(error, TAILVOLT_TEXT_MAX, "the engine runs at %s s: this study is about a parked car",
                 tv_fixed(row->time_s, 0).text);
        status = TAILVOLT_BAD_INPUT;
        break;
      }
      set_row(system, options, row, rows, rows->count++);
    }
    tailvolt_profile_close(cursor);
  }
  if (status == TAILVOLT_OK && rows->count >= 2) {
    /* the last row only ends the profile: what played before it continues, in the ambient it gives */
    struct tailvolt_row *last = &rows->row[rows->count - 1], *before = last - 1;
    if (last->ambient_c == before->ambient_c) {
      rows->count--;
    } else {
      double time_s = last->time_s, ambient_c = last->ambient_c;
      *last = *before;
      last->time_s = time_s;
      last->ambient_c = ambient_c;
    }
  }
  if (status != TAILVOLT_OK) tv_parked_rows_free(rows);
  return status;
}

int tv_parked_row_at(const struct tv_parked_rows *rows, double time_s) {
  int low = 0, high = rows->count - 1;
  while (low < high) {
    int middle = (low + high + 1) / 2;
    if (rows->row[middle].time_s <= time_s)
      low = middle;
    else
      high = middle - 1;
  }
  return low;
}

double tv_parked_row_end_s(const struct tv_parked_rows *rows, int index) {
  return index + 1 < rows->count ? rows->row[index + 1].time_s : HUGE_VAL;
}

const struct tailvolt_row *tv_parked_row_next(const struct tv_parked_rows *rows, int index) {
  return index + 1 < rows->count ? &rows->row[index + 1] : NULL;
}

double tv_parked_ambient_c(const struct tv_parked_rows *rows, double time_s) {
  int k = tv_parked_row_at(rows, time_s);
  const struct tailvolt_row *row = &rows->row[k], *next = tv_parked_row_next(rows, k);
  if (next == NULL || time_s <= row->time_s) return row->ambient_c;
  return row->ambient_c +
         (next->ambient_c - row->ambient_c) * (time_s - row->time_s) / (next->time_s - row->time_s);
}

/* ---- the slow advance ---- */

/* Weights of the two checkpoints of a row around a time; beyond the outer ones the nearest pair's line is
 * extended where there is a pair. Where the supply collapses the means are those of amplifiers that are off half of the time: the line
 * before is extended, since the charge is still taken at its rate until then. False where the row has none yet. */
static bool neighbours(const struct tv_parked_search *search, int row, double time_s,
                       const struct tv_checkpoint **low, const struct tv_checkpoint **high, double *part) {
  int first = -1, last = -1;
  for (int k = 0; k < search->count; k++) {
    if (search->checkpoint[k].row != row) continue;
    if (first < 0) first = k;
    if (k > first && search->checkpoint[k].collapses) break;
    last = k;
  }
  if (first < 0) return false;
  int at = first;
  while (at + 1 < last && search->checkpoint[at + 1].time_s <= time_s) at++;
  *low = &search->checkpoint[at];
  *high = last > first ? &search->checkpoint[at + 1] : *low;
  double gap_s = (*high)->time_s - (*low)->time_s;
  *part = gap_s > 0 ? (time_s - (*low)->time_s) / gap_s : 0;
  /* a line is trusted half a gap beyond its ends, but not where amplifiers cut out */
  *part = fmin(fmax(*part, -0.5), (*high)->trips ? 1.0 : 1.5);
  return true;
}

static double mix(double low, double high, double part) {
  return low + (high - low) * part;
}

static void set_means(struct tv_parked_search *search, const struct tv_checkpoint *low,
                      const struct tv_checkpoint *high, double part) {
  for (int k = 0; k < search->system->amplifier_count; k++)
    search->mean[k] = (struct tailvolt_amplifier_row){
        .programme = TAILVOLT_SILENCE,
        .powered = true,
        .output_w = (double)NAN,
        .supply_w = (double)NAN,
        .supply_a = low == NULL ? 0 : fmax(mix(low->mean_a[k], high->mean_a[k], part), 0)};
}

/* Heating from the mean of the squares, which the slow run's mean current would understate. */
static void warm(struct tv_parked_search *search, const struct tv_checkpoint *low,
                 const struct tv_checkpoint *high, double part, double dt_s) {
  const struct tailvolt_system *sys = search->system;
  struct tv_state *state = &search->slow->state;
  for (int k = 0; k < sys->conductor_count; k++) {
    const struct tailvolt_conductor *c = &sys->conductors[k];
    if (c->length_m <= 0) continue;
    double air_c = c->place == TAILVOLT_ENGINE_BAY ? state->now.bay_c : state->now.ambient_c;
    double square_a2 = fmax(mix(low->square_a2[k], high->square_a2[k], part), 0);
    state->conductor_c[k] = tv_conductor_step_c(c, &search->slow->warming[k], search->old_c[k], square_a2, air_c, dt_s);
  }
}

/* Steps grow with the time since the row began, so that polarization is followed to its slow end. */
static double step_for(const struct tv_parked_search *search, double age_s, double total_a) {
  double charge_c = 0, step_s = 0.1;
  for (int k = 0; k < search->system->battery_count; k++) charge_c += search->slow->state.battery[k].charge_c;
  double left_s = charge_c / fmax(total_a, 1e-3);
  double most_s = search->is_quick ? fmin(fmax(left_s / 200, 1.0), QUICK_STEP_S)
                                   : fmin(fmax(left_s / 500, 1.0), LONGEST_STEP_S);
  double wanted_s = fmin(0.1 + age_s / (search->is_quick ? 8 : 20), most_s);
  while (2 * step_s <= wanted_s) step_s *= 2;
  return step_s;
}

enum tailvolt_status tv_search_start_slow(struct tv_parked_search *search) {
  struct tailvolt_row row = search->rows.row[0];
  set_means(search, NULL, NULL, 0);
  tv_relays_lift(search, NULL, NULL, 0);
  row.amplifier = search->mean;
  search->slow_s = search->begin_s;
  search->taken_c = search->taken_j = 0;
  enum tailvolt_status status = tv_run_start(search->slow, &row);
  tv_relays_watch(search, 0);
  return status;
}

double tv_search_charge_left_c(const struct tv_run *run) {
  double sum_c = 0;
  for (int k = 0; k < run->system->battery_count; k++) sum_c += fmax(run->state.battery[k].charge_c, 0);
  return sum_c;
}

enum tailvolt_status tv_search_advance_slow(struct tv_parked_search *search, double to_s) {
  while (search->slow_s < to_s) {
    int index = tv_parked_row_at(&search->rows, search->slow_s);
    const struct tv_checkpoint *low = NULL, *high = NULL;
    double part = 0;
    struct tailvolt_row row = search->rows.row[index];
    bool known = neighbours(search, index, search->slow_s, &low, &high, &part);
    double step_s =
        step_for(search, search->slow_s - row.time_s, known ? mix(low->total_a, high->total_a, part) : 0);
    double next_s =
        fmin(fmin(search->slow_s + STEPS_A_SLICE * step_s, tv_parked_row_end_s(&search->rows, index)), to_s);
    double dt_s = next_s - search->slow_s;
    if (known) (void)neighbours(search, index, search->slow_s + 0.5 * dt_s, &low, &high, &part);
    set_means(search, low, high, part);
    tv_relays_lift(search, low, high, part);
    row.amplifier = search->mean;
    tv_parked_set_step(search->slow, step_s);
    memcpy(search->old_c, search->slow->state.conductor_c,
           (size_t)search->system->conductor_count * sizeof *search->old_c);
    double before_c = tv_search_charge_left_c(search->slow);
    enum tailvolt_status status =
        tv_run_advance(search->slow, &row, tv_parked_row_next(&search->rows, index), search->slow_s, next_s);
    if (status != TAILVOLT_OK) return status;
    tv_relays_watch(search, index);
    if (known) {
      if (!search->options->run.isothermal) warm(search, low, high, part, dt_s);
      double drawn_c = fmax(mix(low->total_a, high->total_a, part), 0) * dt_s, given_c = drawn_c;
      /* between two windows a relay or converter opens at once, where the line between their means falls all the way */
      if (search->relays.count > 0) given_c = fmax(before_c - tv_search_charge_left_c(search->slow), 0);
      search->taken_c += given_c;
      search->taken_j += fmax(mix(low->power_w, high->power_w, part), 0) * dt_s * (drawn_c > 0 ? given_c / drawn_c : 1);
    }
    search->slow_s = next_s;
  }
  return TAILVOLT_OK;
}

void tv_search_save(struct tv_parked_search *search, int which) {
  tv_run_save(search->slow, search->kept[which]);
  search->kept_s[which] = search->slow_s;
}

void tv_search_restore(struct tv_parked_search *search, int which) {
  tv_run_restore(search->slow, search->kept[which]);
  search->slow_s = search->kept_s[which];
  tv_relays_went_back(search);
}

double tv_parked_least_frac(const struct tailvolt_parked_options *options,
                            const struct tailvolt_battery *battery) {
  return isnan(options->soc_limit_frac) ? tv_battery_least_soc_frac(battery->kind) : options->soc_limit_frac;
}

bool tv_parked_has_limit(const struct tailvolt_parked_options *options) {
  return isnan(options->soc_limit_frac) || options->soc_limit_frac > 0 || !isnan(options->rest_limit_v);
}

double tv_search_above_limit(const struct tv_parked_search *search, const struct tv_run *run, int *battery,
                             bool *by_voltage) {
  const struct tailvolt_parked_options *o = search->options;
  double least = HUGE_VAL;
  *battery = 0;
  *by_voltage = false;
  for (int k = 0; k < search->system->battery_count; k++) {
    double least_frac = tv_parked_least_frac(o, &search->system->batteries[k]);
    if (least_frac > 0) {
      double above = tv_battery_soc_frac(run->battery[k], &run->state.battery[k]) - least_frac;
      if (above < least) least = above, *battery = k, *by_voltage = false;
    }
    if (!isnan(o->rest_limit_v)) {
      double above = tv_battery_open_circuit_v(run->battery[k], &run->state.battery[k]) - o->rest_limit_v;
      if (above < least) least = above, *battery = k, *by_voltage = true;
    }
  }
  return least;
}
