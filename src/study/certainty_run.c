/* Vehicles run side by side on lanes: whole profiles, or long steps for the charge and stretches for the voltage. */
#include <math.h>
#include <stdlib.h>

#include "simulate/charge.h"
#include "simulate/worst.h"
#include "study/certainty_parts.h"
#include "study/smooth.h"

#define STRETCH_SETTLE_S 10.0
#define DRIFT_FRAC 2e-3 /* half a kelvin of copper: below a millivolt of drop */

/* One vehicle being run. */
struct vehicle {
  struct tailvolt_system *system;
  struct tailvolt_system smooth;       /* shallow copy; own amplifiers and programmes */
  struct tv_vehicle_rows rows;
  double road_a;                       /* of the profiles already run */
  struct tv_vehicle_outcome *outcome;
  double (*soc)[2];                    /* [stretches x batteries] at the start of the profile, at the start of the stretch */
  double *drift_v;                     /* [stretches x amplifiers] whole profile less stretch, both in long steps */
};

static void free_vehicle(struct vehicle *v) {
  tv_smooth_free(&v->smooth);
  tailvolt_system_free(v->system);
  free(v->soc);
  free(v->drift_v);
}

static enum tailvolt_status make_vehicle(const struct tv_certainty_plan *plan, const double *values,
                                         struct tv_vehicle_outcome *outcome, struct vehicle *v) {
  size_t stretches = (size_t)plan->stretch_count + 1;
  *v = (struct vehicle){.road_a = (double)NAN, .outcome = outcome};
  *outcome = (struct tv_vehicle_outcome){
      .computed = true, .margin_v = (double)INFINITY, .min_v = (double)INFINITY, .charge_a = (double)NAN};
  v->soc = calloc(stretches * (size_t)(plan->system->battery_count + 1), sizeof *v->soc);
  v->drift_v = calloc(stretches * (size_t)(plan->system->amplifier_count + 1), sizeof *v->drift_v);
  if (v->soc == NULL || v->drift_v == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = tv_vehicle_system(plan->system, plan->list, values, &v->system);
  /* no verdict needs the heat of a fuse that stays closed, and its memory is updated every 10 ms */
  for (int k = 0; status == TAILVOLT_OK && k < v->system->conductor_count && !plan->run.blow; k++)
    if (v->system->conductors[k].kind == TAILVOLT_FUSE) v->system->conductors[k].kind = TAILVOLT_JOINT;
  if (status == TAILVOLT_OK) status = tv_smooth_copy(v->system, &v->smooth);
  v->rows = tv_vehicle_rows(plan->list, values);
  return status;
}

/* ---- jobs of many vehicles ---- */

/* Jobs with what they own. */
struct jobs {
  int count;
  struct tv_lane_job *lane;
  struct tailvolt_profile **profile;   /* NULL = the plan's own */
  struct tailvolt_options *options;
  struct tailvolt_system *system;      /* shallow copies, where a job needs one */
  struct tailvolt_battery *batteries;
};

static bool jobs_make(struct jobs *j, int count, int batteries) {
  size_t n = (size_t)count + 1;
  *j = (struct jobs){.count = count,
                     .lane = calloc(n, sizeof *j->lane),
                     .profile = calloc(n, sizeof *j->profile),
                     .options = calloc(n, sizeof *j->options),
                     .system = calloc(n, sizeof *j->system),
                     .batteries = calloc(n * (size_t)(batteries + 1), sizeof *j->batteries)};
  return j->lane != NULL && j->profile != NULL && j->options != NULL && j->system != NULL && j->batteries != NULL;
}

static void jobs_free(struct jobs *j) {
  for (int k = 0; k < j->count && j->lane != NULL; k++) tailvolt_result_free(j->lane[k].result);
  for (int k = 0; k < j->count && j->profile != NULL; k++) tailvolt_profile_free(j->profile[k]);
  free(j->lane);
  free(j->profile);
  free(j->options);
  free(j->system);
  free(j->batteries);
}

static enum tailvolt_status jobs_run(const struct tv_certainty_plan *plan, struct jobs *j, bool smooth) {
  struct tv_lanes_how how = {.threads = plan->threads, .labels = plan->labels, .progress = plan->progress, .context = plan->context};
  return tv_lanes_simulate(j->lane, j->count, smooth ? plan->smooth_programmes : plan->programmes, &how);
}

/* Fills a job with a profile as the vehicle runs it. */
static enum tailvolt_status set_job(const struct tv_certainty_plan *plan, struct jobs *j, int k, const struct tailvolt_system *system,
                                    const struct tv_kept_rows *rows, int profile, struct tv_vehicle_rows more) {
  const struct tailvolt_profile *as_read = plan->profiles[profile];
  if (rows->count > 0) {
    enum tailvolt_status status = tv_kept_rows_profile(rows, system, more, &j->profile[k]);
    if (status == TAILVOLT_NO_MEMORY) return status;
  }
  j->options[k] = plan->run;
  j->lane[k] = (struct tv_lane_job){
      .system = system, .profile = j->profile[k] != NULL ? j->profile[k] : as_read, .options = &j->options[k],
      .least_rpm = plan->least_rpm * more.idle_ratio, .drift_frac = plan->whole ? 0 : DRIFT_FRAC};
  return TAILVOLT_OK;
}

/* ---- charge ---- */

static double group_to_spare_a(const struct tailvolt_system *system, const struct tailvolt_result *r, double idle_a, double road_a,
                               struct tv_group group) {
  double share = system->targets.idle_frac, spare_a = idle_a + 3600 * tv_above_half_ah(r, group) / system->targets.idle_endurance_s;
  return isnan(road_a) ? spare_a : fmin(spare_a, share * idle_a + (1 - share) * road_a);
}

/* Of a profile that never idles, all groups' least; NAN = not on the road either. */
static double least_road_a(const struct tailvolt_result *r, double all_a) {
  int groups = tv_charge_groups(r, TAILVOLT_ROAD);
  if (!r->phases[TAILVOLT_ROAD].present) return (double)NAN;
  if (groups == 0) return all_a;
  double least_a = HUGE_VAL;
  for (int k = 0; k < groups; k++) least_a = fmin(least_a, tv_counted_a(r, TAILVOLT_ROAD, tv_charge_group(r, TAILVOLT_ROAD, k)));
  return least_a;
}

double tv_charge_to_spare_a(const struct tailvolt_system *system, const struct tailvolt_result *r, double idle_more_a, double road_a) {
  if (system->vehicle.charging == TAILVOLT_CHARGING_NONE) return (double)NAN;
  if (!r->phases[TAILVOLT_IDLE].present) return least_road_a(r, road_a);
  double idle_a = tailvolt_charge_balance_a(r, TAILVOLT_IDLE) + idle_more_a, share = system->targets.idle_frac;
  int groups = tv_charge_groups(r, TAILVOLT_IDLE);
  if (groups == 0) return group_to_spare_a(system, r, idle_a, road_a, TV_ALL_BATTERIES);
  bool on_road = r->phases[TAILVOLT_ROAD].present;
  double spare_a = on_road || isnan(road_a) ? HUGE_VAL : share * idle_a + (1 - share) * road_a;
  for (int k = 0; k < groups; k++) { /* what is known of all together is the first group's, where the alternator is */
    struct tv_group group = tv_charge_group(r, TAILVOLT_IDLE, k);
    double group_a = tv_counted_a(r, TAILVOLT_IDLE, group) + (k == 0 ? idle_more_a : 0);
    spare_a = fmin(spare_a, group_to_spare_a(system, r, group_a, on_road ? tv_counted_a(r, TAILVOLT_ROAD, group) : (double)NAN, group));
  }
  return spare_a;
}

static bool loses_charge(const struct tailvolt_result *r) {
  for (int k = 0; k < r->reason_count; k++)
    if (r->reasons[k].topic == TAILVOLT_ABOUT_CHARGE) return true;
  return false;
}

static void take_charge(const struct tv_certainty_plan *plan, int profile, const struct tailvolt_result *r, struct vehicle *v) {
  struct tv_charge_offset offset = plan->offset != NULL ? plan->offset[profile] : (struct tv_charge_offset){0, 0};
  struct tv_vehicle_outcome *o = v->outcome;
  double road_a = tailvolt_charge_balance_a(r, TAILVOLT_ROAD) + offset.road_a;
  if (isnan(road_a)) road_a = plan->same_day ? v->road_a : plan->run.road_balance_a;
  if (plan->same_day && !isnan(road_a)) v->road_a = road_a;
  double spare_a = tv_charge_to_spare_a(v->system, r, offset.idle_a, road_a);
  if (isnan(o->charge_a) || spare_a < o->charge_a) o->charge_a = spare_a;
  /* within the slack of the verdict's own rule; a moving set point has its own rule */
  bool lost = r->swing.present ? loses_charge(r) : spare_a < -0.02;
  o->charge_lost = o->charge_lost || lost;
}

/* ---- whole profiles ---- */

static void take_whole(const struct tailvolt_result *r, struct tv_vehicle_outcome *o) {
  for (int a = 0; a < r->amplifier_count; a++) {
    const struct tailvolt_amplifier_result *one = &r->amplifiers[a];
    o->cuts_out = o->cuts_out || one->cut_outs > one->start_cut_outs;
    o->min_v = fmin(o->min_v, one->min_v);
  }
  if (!isnan(r->margin_v)) o->margin_v = fmin(o->margin_v, r->margin_v);
}

/* What the whole profile in long steps says about a stretch: the charge at its start, from the effect of each phase, and the
 * volts. */
static void take_before(const struct tv_certainty_plan *plan, int profile, const struct tailvolt_result *r, struct vehicle *v) {
  for (int s = 0; s < plan->stretch_count; s++) {
    const struct tv_stretch *stretch = &plan->stretches[s];
    if (stretch->profile != profile) continue;
    for (int b = 0; b < r->battery_count; b++) {
      double gained_ah = 0, *soc = v->soc[s * r->battery_count + b];
      for (int p = 0; p < TAILVOLT_PHASES; p++)
        if (isfinite(r->batteries[b].mean_a[p])) gained_ah += r->batteries[b].mean_a[p] * stretch->phase_s[p] / 3600;
      soc[0] = r->batteries[b].start_soc_pct / 100;
      soc[1] = fmin(fmax(soc[0] + gained_ah / r->batteries[b].capacity_ah, 0.01), 1.0);
    }
    for (int a = 0; a < r->amplifier_count; a++)
      v->drift_v[s * r->amplifier_count + a] = tv_phase_margin_v(r, a, stretch->phase);
  }
}

/* The verdict on voltage without stretches: half of what beats and ripple take away goes with the sag. */
static void take_quickly(const struct tv_certainty_plan *plan, int profile, const struct tailvolt_result *r, struct tv_vehicle_outcome *o) {
  for (int a = 0; a < r->amplifier_count; a++)
    for (int p = 0; p < TAILVOLT_PHASES; p++) {
      const struct tv_quick_offset *of = &plan->quick[(profile * r->amplifier_count + a) * TAILVOLT_PHASES + p];
      double sag_v = r->amplifiers[a].rest_v - r->amplifiers[a].phase[p].quantile_v, ratio = 1;
      if (of->sag_v > 0.05 && isfinite(sag_v)) ratio = fmin(fmax(0.5 + 0.5 * sag_v / of->sag_v, 0.5), 2.0);
      o->margin_v = fmin(o->margin_v, tv_phase_margin_v(r, a, p) + ratio * of->more_v);
    }
}

/* One profile for all vehicles, the road of the day before its idling. */
static enum tailvolt_status run_profile(const struct tv_certainty_plan *plan, int profile, struct vehicle *v, int count, bool smooth) {
  struct jobs j;
  enum tailvolt_status status = jobs_make(&j, count, 0) ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  for (int k = 0; k < count && status == TAILVOLT_OK; k++) {
    const struct tailvolt_system *system = smooth ? &v[k].smooth : v[k].system;
    status = set_job(plan, &j, k, system, &plan->rows[profile], profile, v[k].rows);
    if (smooth) j.options[k].time_step_s = plan->long_step_s;
    if (plan->same_day) j.options[k].road_balance_a = v[k].road_a;
  }
  if (status == TAILVOLT_OK) status = jobs_run(plan, &j, smooth);
  for (int k = 0; k < count && status == TAILVOLT_OK; k++) {
    const struct tailvolt_result *r = j.lane[k].result;
    if (r == NULL) {
      v[k].outcome->computed = false;
      continue;
    }
    take_charge(plan, profile, r, &v[k]);
    if (!smooth) take_whole(r, v[k].outcome);
    else if (plan->quick != NULL) take_quickly(plan, profile, r, v[k].outcome);
    else take_before(plan, profile, r, &v[k]);
    for (int a = 0; a < r->amplifier_count && smooth; a++)
      v[k].outcome->cuts_out = v[k].outcome->cuts_out || r->amplifiers[a].cut_outs > r->amplifiers[a].start_cut_outs;
  }
  jobs_free(&j);
  return status;
}

/* ---- stretches ---- */

/* A vehicle at the start of a stretch, at the charge it has by then; a moving set point is at its low end. */
static void at_stretch(const struct tv_certainty_plan *plan, struct jobs *j, int k, const struct tailvolt_system *system,
                       const double (*soc)[2], double missed_frac) {
  struct tailvolt_system *s = &j->system[k];
  *s = *system;
  s->batteries = j->batteries + (size_t)k * (size_t)(system->battery_count + 1);
  for (int b = 0; b < system->battery_count; b++) {
    s->batteries[b] = system->batteries[b];
    s->batteries[b].soc_frac = soc[b][1];
    s->batteries[b].rested_v = (double)NAN;
  }
  s->targets.missed_frac = missed_frac;
  s->alternator.set_point_high_v = s->alternator.set_point_low_v;
  j->lane[k].system = s;
  j->options[k].settle_s = fmin(STRETCH_SETTLE_S, plan->run.settle_s);
  j->options[k].settle_step_s = plan->long_step_s;
}

static void take_stretch(const struct tv_stretch *s, const struct tailvolt_result *r, const double *drift_v,
                         struct tv_vehicle_outcome *o) {
  for (int a = 0; a < r->amplifier_count; a++) {
    const struct tailvolt_amplifier_phase *p = &r->amplifiers[a].phase[s->phase];
    o->cuts_out = o->cuts_out || r->amplifiers[a].cut_outs > r->amplifiers[a].start_cut_outs;
    if (isnan(s->margin_more_v[a]) || !(p->play_s > 0)) continue;
    o->margin_v = fmin(o->margin_v, tv_phase_margin_v(r, a, s->phase) + s->margin_more_v[a] + drift_v[a]);
    o->min_v = fmin(o->min_v, p->min_v + s->min_more_v[a] + drift_v[a]);
  }
}

/* In long steps: only to see how far the stretch is above the whole. */
static void take_drift(const struct tv_stretch *s, const struct tailvolt_result *r, double *drift_v) {
  for (int a = 0; a < r->amplifier_count; a++) {
    double here_v = tv_phase_margin_v(r, a, s->phase);
    drift_v[a] = isfinite(drift_v[a]) && isfinite(here_v) ? drift_v[a] - here_v : 0;
  }
}

static enum tailvolt_status run_stretches(const struct tv_certainty_plan *plan, struct vehicle *v, int count, bool smooth) {
  struct jobs j;
  int batteries = plan->system->battery_count, amplifiers = plan->system->amplifier_count, jobs = count * plan->stretch_count;
  enum tailvolt_status status = jobs_make(&j, jobs, batteries) ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  for (int i = 0; i < jobs && status == TAILVOLT_OK; i++) {
    /* stretch by stretch: lanes that hear the same music listen together */
    int k = i % count, s = i / count;
    const struct tv_stretch *stretch = &plan->stretches[s];
    const struct tailvolt_system *system = smooth ? &v[k].smooth : v[k].system;
    status = set_job(plan, &j, i, system, &stretch->rows, stretch->profile, v[k].rows);
    at_stretch(plan, &j, i, system, (const double(*)[2])v[k].soc + s * batteries, stretch->missed_frac);
    j.options[i].time_step_s = smooth ? plan->long_step_s : plan->fine_step_s;
  }
  if (status == TAILVOLT_OK) status = jobs_run(plan, &j, smooth);
  for (int i = 0; i < jobs && status == TAILVOLT_OK; i++) {
    struct vehicle *one = &v[i % count];
    double *drift_v = one->drift_v + (i / count) * amplifiers;
    if (j.lane[i].result == NULL) one->outcome->computed = false;
    else if (smooth) take_drift(&plan->stretches[i / count], j.lane[i].result, drift_v);
    else take_stretch(&plan->stretches[i / count], j.lane[i].result, drift_v, one->outcome);
  }
  jobs_free(&j);
  return status;
}

/* ---- all ---- */

enum tailvolt_status tv_certainty_run(const struct tv_certainty_plan *plan, const double *values, int count,
                                      struct tv_vehicle_outcome *outcome) {
  struct vehicle *v = calloc((size_t)count + 1, sizeof *v);
  enum tailvolt_status status = v != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  for (int k = 0; k < count && status == TAILVOLT_OK; k++)
    status = make_vehicle(plan, values + (size_t)k * (size_t)plan->list->count, &outcome[k], &v[k]);
  /* of profiles of one day the last, the road, comes first */
  for (int p = plan->profile_count - 1; p >= 0 && status == TAILVOLT_OK; p--)
    status = run_profile(plan, p, v, count, !plan->whole);
  if (!plan->whole && plan->stretch_count > 0) {
    if (status == TAILVOLT_OK) status = run_stretches(plan, v, count, true);
    if (status == TAILVOLT_OK) status = run_stretches(plan, v, count, false);
  }
  for (int k = 0; k < count && status == TAILVOLT_OK; k++) {
    struct tv_vehicle_outcome *o = &outcome[k];
    if (isinf(o->margin_v)) o->margin_v = (double)NAN; /* nothing plays */
    if (isinf(o->min_v)) o->min_v = (double)NAN;
    o->holds = o->computed && !(o->margin_v < 0) && !o->cuts_out && !o->charge_lost;
  }
  for (int k = 0; k < count && v != NULL; k++) free_vehicle(&v[k]);
  free(v);
  return status;
}

/* ---- the car described ---- */

struct tv_described {
  struct vehicle v;
  struct tv_vehicle_outcome outcome;
};

enum tailvolt_status tv_certainty_describe(const struct tv_certainty_plan *plan, struct tv_described **out) {
  double *nominal = calloc((size_t)plan->list->count + 1, sizeof *nominal);
  struct tv_described *car = *out = calloc(1, sizeof *car);
  enum tailvolt_status status = nominal != NULL && car != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  for (int k = 0; k < plan->list->count && nominal != NULL; k++) nominal[k] = plan->list->values[k].nominal;
  if (status == TAILVOLT_OK) status = make_vehicle(plan, nominal, &car->outcome, &car->v);
  free(nominal);
  for (int p = plan->profile_count - 1; p >= 0 && status == TAILVOLT_OK; p--) status = run_profile(plan, p, &car->v, 1, true);
  return status;
}

void tv_described_free(struct tv_described *car) {
  if (car != NULL) free_vehicle(&car->v);
  free(car);
}

enum tailvolt_status tv_certainty_try_shares(const struct tv_certainty_plan *plan, const struct tv_described *car, const double *shares,
                                             int count, double *quantile_v, struct tailvolt_result **out) {
  struct jobs j;
  const struct vehicle *v = &car->v;
  int batteries = plan->system->battery_count, each = count * plan->system->amplifier_count * TAILVOLT_PHASES;
  enum tailvolt_status status = jobs_make(&j, plan->stretch_count, batteries) ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  for (int s = 0; s < plan->stretch_count && status == TAILVOLT_OK; s++) {
    status = set_job(plan, &j, s, v->system, &plan->stretches[s].rows, plan->stretches[s].profile, v->rows);
    at_stretch(plan, &j, s, v->system, (const double(*)[2])v->soc + s * batteries, plan->system->targets.missed_frac);
    j.options[s].time_step_s = plan->fine_step_s;
    j.lane[s].missed_frac = shares;
    j.lane[s].missed_count = count;
    j.lane[s].quantile_v = quantile_v + s * each;
  }
  if (status == TAILVOLT_OK) status = jobs_run(plan, &j, false);
  for (int s = 0; s < plan->stretch_count && status == TAILVOLT_OK; s++) {
    out[s] = j.lane[s].result;
    j.lane[s].result = NULL;
    if (out[s] == NULL) status = j.lane[s].status;
  }
  jobs_free(&j);
  return status;
}

enum tailvolt_status tv_certainty_drift(const struct tv_certainty_plan *plan, struct tv_described *car, double *drift_v) {
  enum tailvolt_status status = run_stretches(plan, &car->v, 1, true);
  for (int k = 0; k < plan->stretch_count * plan->system->amplifier_count && status == TAILVOLT_OK; k++) drift_v[k] = car->v.drift_v[k];
  return status;
}

enum tailvolt_status tv_certainty_try_long(const struct tv_certainty_plan *plan, struct tailvolt_result **out) {
  struct jobs j;
  struct tailvolt_system smooth = {0};
  enum tailvolt_status status = jobs_make(&j, plan->profile_count, 0) ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK) status = tv_smooth_copy(plan->system, &smooth);
  for (int p = 0; p < plan->profile_count && status == TAILVOLT_OK; p++) {
    status = set_job(plan, &j, p, &smooth, &plan->rows[p], p, (struct tv_vehicle_rows){1, 0});
    j.options[p].time_step_s = plan->long_step_s;
  }
  if (status == TAILVOLT_OK) status = jobs_run(plan, &j, true);
  for (int p = 0; p < plan->profile_count && status == TAILVOLT_OK; p++) {
    out[p] = j.lane[p].result;
    j.lane[p].result = NULL;
    if (out[p] == NULL) status = j.lane[p].status;
  }
  jobs_free(&j);
  tv_smooth_free(&smooth);
  return status;
}
