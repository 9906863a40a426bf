/* What the verdict turns on: derivatives of its two margins (lowest voltage with music, charge balance) by each unknown, from
 * two minutes of the music at idle, one car per unknown, side by side on lanes. */
#include <math.h>
#include <stdlib.h>

#include "simulate/lanes.h"
#include "study/measure_fit.h"

static const double LENGTH_S = 128.0; /* a cycle of phrases */
static const double STEP_DEVIATIONS = 0.5;

struct fleet {
  const struct tv_measure_model *model;
  struct tv_lane_job *jobs;    /* [unknowns + 1]; the last is the mean car */
  struct tailvolt_system **cars;
  struct tailvolt_profile *profile;
  struct tv_programmes *programmes;
  struct tailvolt_options options;
  int count;
};

static enum tailvolt_status make_profile(struct fleet *fleet) {
  const struct tailvolt_system *system = fleet->model->system;
  size_t loads = (size_t)system->load_count, amplifiers = (size_t)system->amplifier_count;
  double *load_on = calloc(loads + 1, sizeof *load_on);
  struct tailvolt_amplifier_row *plays = calloc(amplifiers + 1, sizeof *plays);
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (load_on != NULL && plays != NULL) {
    bool charges = system->vehicle.charging != TAILVOLT_CHARGING_NONE && system->alternator.present;
    for (size_t k = 0; k < loads; k++) load_on[k] = charges ? 1.0 : 0.0;
    for (size_t k = 0; k < amplifiers; k++) {
      int own = system->amplifiers[k].programme;
      plays[k] = (struct tailvolt_amplifier_row){.programme = own >= 0                         ? own
                                                              : system->programme_count > 0 ? 0
                                                                                            : TAILVOLT_SILENCE,
                                                 .powered = true,
                                                 .output_w = (double)NAN,
                                                 .supply_w = (double)NAN,
                                                 .supply_a = (double)NAN};
    }
    struct tailvolt_row rows[2];
    rows[0] = (struct tailvolt_row){.engine_rpm = charges ? system->engine.idle_rpm : 0.0, .ready = charges,
                                    .ambient_c = system->vehicle.ambient_c, .set_point_v = (double)NAN,
                                    .load_on = load_on, .amplifier = plays};
    rows[1] = rows[0];
    rows[1].time_s = LENGTH_S;
    status = tailvolt_profile_from_rows(rows, 2, "idle", system, &fleet->profile);
  }
  free(load_on);
  free(plays);
  return status;
}

static enum tailvolt_status send_out(struct fleet *fleet, char *error) {
  const struct tv_measure_model *model = fleet->model;
  gsl_vector *moved = gsl_vector_alloc((size_t)model->unknowns);
  enum tailvolt_status status = moved == NULL ? TAILVOLT_NO_MEMORY : make_profile(fleet);
  fleet->options = tailvolt_default_options();
  fleet->options.time_step_s = 2e-3;
  if (status == TAILVOLT_OK) status = tv_programmes_make(model->system, &fleet->options, &fleet->programmes, error);
  for (int k = 0; k <= model->unknowns && status == TAILVOLT_OK; k++) {
    gsl_vector_memcpy(moved, model->mean);
    if (k < model->unknowns) {
      double deviation = sqrt(gsl_matrix_get(model->covariance, (size_t)k, (size_t)k));
      bool still = k >= model->values || !(deviation > 0) || model->list->values[k].when_parked_only;
      if (still) continue;
      gsl_vector_set(moved, (size_t)k, gsl_vector_get(moved, (size_t)k) + STEP_DEVIATIONS * deviation);
    }
    status = tv_measure_car(model, moved, &fleet->cars[fleet->count]);
    if (status != TAILVOLT_OK) break;
    fleet->jobs[fleet->count] = (struct tv_lane_job){.system = fleet->cars[fleet->count], .profile = fleet->profile,
                                                     .options = &fleet->options};
    fleet->count++;
  }
  gsl_vector_free(moved);
  struct tv_lanes_how how = {.threads = model->threads};
  if (status == TAILVOLT_OK) status = tv_lanes_simulate(fleet->jobs, fleet->count, fleet->programmes, &how);
  return status;
}

/* The lowest voltage of all amplifiers for all but the allowed share of the time; the current into the batteries. */
static void margins_of(const struct tailvolt_result *result, double *margin) {
  margin[TV_MARGIN_VOLTAGE] = HUGE_VAL;
  margin[TV_MARGIN_CHARGE] = 0;
  for (int phase = 0; phase < TAILVOLT_PHASES; phase++) {
    if (!result->phases[phase].present) continue;
    for (int a = 0; a < result->amplifier_count; a++) {
      const struct tailvolt_amplifier_phase *one = &result->amplifiers[a].phase[phase];
      if (one->play_s > 0) margin[TV_MARGIN_VOLTAGE] = fmin(margin[TV_MARGIN_VOLTAGE], one->quantile_v - one->target_v);
    }
    margin[TV_MARGIN_CHARGE] = result->phase_budget[phase].battery_a;
  }
}

enum tailvolt_status tv_measure_margins(const struct tv_measure_model *model, double *margin, gsl_matrix *gradient, char *error) {
  size_t room = (size_t)model->unknowns + 1;
  struct fleet fleet = {.model = model, .jobs = calloc(room, sizeof *fleet.jobs), .cars = calloc(room, sizeof *fleet.cars)};
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (fleet.jobs != NULL && fleet.cars != NULL) status = send_out(&fleet, error);
  gsl_matrix_set_zero(gradient);
  if (status == TAILVOLT_OK) {
    const struct tv_lane_job *mean = &fleet.jobs[fleet.count - 1];
    status = mean->status;
    if (status == TAILVOLT_OK) margins_of(mean->result, margin);
  }
  int job = 0;
  for (int k = 0; k < model->values && status == TAILVOLT_OK; k++) {
    double deviation = sqrt(gsl_matrix_get(model->covariance, (size_t)k, (size_t)k));
    if (!(deviation > 0) || model->list->values[k].when_parked_only) continue;
    const struct tv_lane_job *moved = &fleet.jobs[job++];
    double there[TV_MARGINS];
    if (moved->status != TAILVOLT_OK) continue; /* no such car: an unknown without effect is not asked about */
    margins_of(moved->result, there);
    for (size_t m = 0; m < TV_MARGINS; m++) gsl_matrix_set(gradient, m, (size_t)k, (there[m] - margin[m]) / (STEP_DEVIATIONS * deviation));
  }
  for (int k = 0; k < fleet.count; k++) {
    tailvolt_result_free(fleet.jobs[k].result);
    tailvolt_system_free(fleet.cars[k]);
  }
  tailvolt_profile_free(fleet.profile);
  tv_programmes_free(fleet.programmes);
  free(fleet.jobs);
  free(fleet.cars);
  return status;
}
