/* The slow run: batteries, wells, temperatures under mean currents, in long steps. */
#include <math.h>
#include <string.h>

#include "parts/conductor.h"
#include "study/parked.h"

#define LONGEST_STEP_S 30.0
#define STEPS_A_SLICE 5

/* Weights of the two checkpoints of a row between which a time lies; beyond the outer ones the nearest
 * pair's line goes on where there is a pair. False where the row has none yet. */
static bool neighbours(const struct tv_vehicle *v, int row, double time_s, const struct tv_checkpoint **low,
                       const struct tv_checkpoint **high, double *part) {
  int first = -1, last = -1;
  for (int k = 0; k < v->count; k++) {
    if (v->checkpoint[k].row != row) continue;
    if (first < 0) first = k;
    last = k;
  }
  if (first < 0) return false;
  int at = first;
  while (at + 1 < last && v->checkpoint[at + 1].time_s <= time_s) at++;
  *low = &v->checkpoint[at];
  *high = last > first ? &v->checkpoint[at + 1] : *low;
  double gap_s = (*high)->time_s - (*low)->time_s;
  *part = gap_s > 0 ? (time_s - (*low)->time_s) / gap_s : 0;
  /* a line is trusted half a gap beyond its ends, and not where amplifiers cut out */
  *part = fmin(fmax(*part, -0.5), (*high)->trips ? 1.0 : 1.5);
  return true;
}

static double mix(double low, double high, double part) {
  return low + (high - low) * part;
}

static void set_means(struct tv_vehicle *v, const struct tv_checkpoint *low, const struct tv_checkpoint *high,
                      double part) {
  for (int k = 0; k < v->system->amplifier_count; k++)
    v->mean[k] = (struct tailvolt_amplifier_row){
        .programme = TAILVOLT_SILENCE,
        .powered = true,
        .output_w = (double)NAN,
        .supply_w = (double)NAN,
        .supply_a = low == NULL ? 0 : fmax(mix(low->mean_a[k], high->mean_a[k], part), 0)};
}

/* Heating by the mean of the squares, which the slow run's own mean current understates. */
static void warm(struct tv_vehicle *v, const struct tv_checkpoint *low, const struct tv_checkpoint *high,
                 double part, double dt_s) {
  const struct tailvolt_system *sys = v->system;
  struct tv_state *state = &v->slow->state;
  for (int k = 0; k < sys->conductor_count; k++) {
    const struct tailvolt_conductor *c = &sys->conductors[k];
    if (c->length_m <= 0) continue;
    double air_c = c->place == TAILVOLT_ENGINE_BAY ? state->now.bay_c : state->now.ambient_c;
    double square_a2 = fmax(mix(low->square_a2[k], high->square_a2[k], part), 0);
    state->conductor_c[k] = tv_conductor_step_c(c, v->old_c[k], square_a2, air_c, dt_s);
  }
}

/* Steps grow with the time since the row began, so that polarization is followed down to its slow end. */
static double step_for(const struct tv_vehicle *v, double age_s, double total_a) {
  double charge_c = 0, step_s = 0.1;
  for (int k = 0; k < v->system->battery_count; k++) charge_c += v->slow->state.battery[k].charge_c;
  double most_s = fmin(fmax(charge_c / fmax(total_a, 1e-3) / 500, 1.0), LONGEST_STEP_S);
  double wanted_s = fmin(0.1 + age_s / 20, most_s);
  while (2 * step_s <= wanted_s) step_s *= 2;
  return step_s;
}

enum tailvolt_status tv_vehicle_begin_slow(struct tv_vehicle *v) {
  struct tailvolt_row row = v->rows.row[0];
  set_means(v, NULL, NULL, 0);
  row.amplifier = v->mean;
  v->slow_s = v->begin_s;
  v->taken_c = v->taken_j = 0;
  return tv_run_start(v->slow, &row);
}

enum tailvolt_status tv_vehicle_glide(struct tv_vehicle *v, double to_s) {
  while (v->slow_s < to_s) {
    int index = tv_parked_row_at(&v->rows, v->slow_s);
    const struct tv_checkpoint *low = NULL, *high = NULL;
    double part = 0;
    struct tailvolt_row row = v->rows.row[index];
    bool known = neighbours(v, index, v->slow_s, &low, &high, &part);
    double step_s = step_for(v, v->slow_s - row.time_s, known ? mix(low->total_a, high->total_a, part) : 0);
    double next_s =
        fmin(fmin(v->slow_s + STEPS_A_SLICE * step_s, tv_parked_row_end_s(&v->rows, index)), to_s);
    double dt_s = next_s - v->slow_s;
    if (known) (void)neighbours(v, index, v->slow_s + 0.5 * dt_s, &low, &high, &part);
    set_means(v, low, high, part);
    row.amplifier = v->mean;
    tv_parked_set_step(v->slow, step_s);
    memcpy(v->old_c, v->slow->state.conductor_c, (size_t)v->system->conductor_count * sizeof *v->old_c);
    enum tailvolt_status status =
        tv_run_advance(v->slow, &row, tv_parked_row_next(&v->rows, index), v->slow_s, next_s);
    if (status != TAILVOLT_OK) return status;
    if (known) {
      if (!v->options->run.isothermal) warm(v, low, high, part, dt_s);
      v->taken_c += fmax(mix(low->total_a, high->total_a, part), 0) * dt_s;
      v->taken_j += fmax(mix(low->power_w, high->power_w, part), 0) * dt_s;
    }
    v->slow_s = next_s;
  }
  return TAILVOLT_OK;
}
