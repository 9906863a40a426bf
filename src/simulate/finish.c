/* Gathers a run into a result. */
#include <math.h>

#include <gsl/gsl_math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "parts/conductor.h"
#include "text/text.h"
#include "simulate/ledger.h"
#include "simulate/run.h"
#include "simulate/safety.h"
#include "simulate/verdict.h"

static double per(double sum, double over) { return over > 0 ? sum / over : (double)NAN; }
static double of(const struct tv_sum *s) { return tv_sum_value(s); }

static void finish_phases(const struct tv_amplifier_total *t, double missed_frac, struct tailvolt_amplifier_result *r) {
  double below_s = 0;
  for (int p = 0; p < TAILVOLT_PHASES; p++) {
    struct tailvolt_amplifier_phase *phase = &r->phase[p];
    double play_s = of(&t->phase[p].play_s);
    phase->play_s = play_s;
    bool started = t->phase[p].min_v < HUGE_VAL; /* otherwise the phase is nothing but a start */
    phase->min_v = play_s > 0 ? started ? t->phase[p].min_v : t->start_min_v : (double)NAN;
    phase->min_time_s = play_s > 0 ? t->phase[p].min_time_s : (double)NAN;
    phase->target_v = t->phase[p].target_v;
    phase->low_1pct_v = play_s > 0 ? tv_statistics_quantile_v(&t->bins[p], 1, 0.01) : (double)NAN;
    phase->quantile_v = play_s > 0 ? tv_statistics_quantile_v(&t->bins[p], 1, missed_frac) : (double)NAN;
    phase->below_target_pct = 100 * per(of(&t->phase[p].below_s), play_s);
    below_s += of(&t->phase[p].below_s);
  }
  r->below_target_pct = 100 * per(below_s, r->play_s);
}

static void finish_amplifier(const struct tv_run *run, int k, struct tailvolt_amplifier_result *r) {
  const struct tv_amplifier_total *t = &run->statistics->amplifier[k];
  double duration_s = of(&run->statistics->dt_s);
  tv_copy_text(r->name, sizeof r->name, run->system->amplifiers[k].name);
  r->rest_v = t->rest_v;
  r->min_v = t->min_v;
  r->min_time_s = t->min_time_s;
  r->min_without_ripple_v = t->min_smooth_v < HUGE_VAL ? t->min_smooth_v : t->min_v;
  r->meter_min_v = t->meter.min_v < HUGE_VAL ? t->meter.min_v : r->min_v;
  r->mean_v = per(of(&t->v), duration_s);
  r->mean_a = per(of(&t->a), duration_s);
  r->peak_a = t->peak_a;
  r->input_j = of(&t->input_j);
  r->output_j = of(&t->output_j);
  double ideal_j = of(&t->ideal_j);
  r->lost_output_db = ideal_j > 0 && r->output_j > 0 ? 10 * log10(ideal_j / r->output_j) : (double)NAN;
  r->cut_outs = t->cut_outs;
  r->collapses = t->collapses;
  r->start_cut_outs = t->start_cut_outs;
  r->start_min_v = t->start_min_v < HUGE_VAL ? t->start_min_v : (double)NAN;
  r->first_collapse_s = t->first_collapse_s;
  r->off_s = of(&t->off_s);
  r->play_s = of(&t->play_s);
  r->target_v = t->target_at_min_v;
  r->low_1pct_v = tv_statistics_quantile_v(t->bins, TAILVOLT_PHASES, 0.01);
  finish_phases(t, run->system->targets.missed_frac, r);
  for (int p = 0; p < TAILVOLT_PHASES; p++)
    r->phase[p].mean_a = per(of(&t->phase[p].a), of(&run->statistics->phase[p].dt_s));
  r->plus_drop_v = per(of(&t->plus_v), r->play_s);
  r->minus_drop_v = per(of(&t->minus_v), r->play_s);
  r->drop_at_a = per(of(&t->play_a), r->play_s);
  r->play_mean_v = per(of(&t->play_v), r->play_s);
  r->battery = run->feed_path[k].battery; /* as watched: wiring.c */
}

static void finish_battery(const struct tv_run *run, int k, struct tailvolt_battery_result *r) {
  const struct tv_battery_total *t = &run->statistics->battery[k];
  const struct tv_battery_state *state = &run->state.battery[k];
  tv_copy_text(r->name, sizeof r->name, run->system->batteries[k].name);
  r->start_soc_pct = 100 * t->start_soc_frac;
  r->end_soc_pct = 100 * tv_battery_soc_frac(run->battery[k], state);
  r->min_soc_pct = fmin(100 * t->min_soc_frac, r->end_soc_pct);
  r->min_v = t->min_v;
  r->end_rest_v = tv_battery_open_circuit_v(run->battery[k], state);
  r->charge_in_ah = of(&t->in_as) / 3600;
  r->charge_out_ah = of(&t->out_as) / 3600;
  r->discharged_j = of(&t->discharged_j);
  r->charged_j = of(&t->charged_j);
  r->loss_j = state->loss_j - t->start_loss_j;
  for (int p = 0; p < TAILVOLT_PHASES; p++)
    r->mean_a[p] = per(of(&t->phase_as[p]), of(&run->statistics->phase[p].dt_s));
  for (int u = 0; u < TAILVOLT_USES; u++)
    r->use_a[u] = per(of(&t->use_as[u]), of(&run->statistics->use[u].currents.dt_s));
  r->capacity_ah = tv_battery_capacity_ah(run->battery[k]);
  r->end_c = state->temperature_c;
}

static void finish_conductor(const struct tv_run *run, int k, struct tailvolt_conductor_result *r) {
  const struct tailvolt_conductor *c = &run->system->conductors[k];
  const struct tv_conductor_total *t = &run->statistics->conductor[k];
  double duration_s = of(&run->statistics->dt_s), mean_square = per(of(&t->square_as), duration_s);
  tv_copy_text(r->name, sizeof r->name, c->name);
  r->kind = c->kind;
  r->rms_a = sqrt(mean_square);
  r->peak_a = t->peak_a;
  r->max_drop_v = t->max_drop_v;
  r->loss_j = of(&t->loss_j);
  r->loss_w = per(r->loss_j, duration_s);
  r->end_c = r->steady_c = r->insulation_limit_c = r->ampacity_a = (double)NAN;
  r->status = TAILVOLT_COOL;
  if (c->length_m <= 0) return;
  double air_c = c->place == TAILVOLT_ENGINE_BAY ? run->state.now.bay_c : run->state.now.ambient_c;
  r->end_c = run->state.conductor_c[k];
  r->steady_c = tv_conductor_steady_c(c, mean_square, air_c);
  r->insulation_limit_c = c->insulation_limit_c;
  r->ampacity_a = tv_safety_ampacity_a(run->system, c);
  double worst_c = fmax(r->end_c, r->steady_c);
  if (worst_c > c->insulation_limit_c)
    r->status = TAILVOLT_TOO_HOT;
  else if (worst_c > c->insulation_limit_c - 10)
    r->status = TAILVOLT_WARM;
}

static enum tailvolt_status finish_fuse(const struct tv_run *run, int k, struct tailvolt_fuse_result *r) {
  const struct tailvolt_conductor *c = &run->system->conductors[k];
  const struct tv_conductor_total *t = &run->statistics->conductor[k];
  tv_copy_text(r->name, sizeof r->name, c->name);
  r->rating_a = c->rating_a;
  r->conductor = k;
  r->assumed = c->assumed;
  r->rms_a = sqrt(per(of(&t->square_as), of(&run->statistics->dt_s)));
  r->peak_a = t->peak_a;
  r->margin_pct = 100 * (1 - r->rms_a / c->rating_a);
  r->opens_time_s = run->statistics->fuse[k].opens_time_s;
  r->opens = !isnan(r->opens_time_s);
  r->may_open = run->statistics->fuse[k].may;
  int cable;
  enum tailvolt_status status = tv_safety_protected_a(run->system, k, &r->cable_ampacity_a, &cable);
  r->largest_a = cable < 0 ? (double)NAN : tv_fuse_largest_rating_a(c->fuse_kind, r->cable_ampacity_a);
  return status;
}

static void finish_alternator(const struct tv_run *run, struct tailvolt_alternator_result *r) {
  const struct tv_statistics *st = run->statistics;
  double engine_s = of(&st->engine_s);
  r->present = run->alternator_port >= 0;
  r->output_j = of(&st->generated_j);
  r->mean_a = per(of(&st->alternator_as), engine_s);
  r->peak_a = st->alternator_peak_a;
  r->at_limit_pct = 100 * per(of(&st->limit_s), engine_s);
  r->mean_available_a = per(of(&st->available_as), engine_s);
  r->by_converter = run->system->vehicle.charging == TAILVOLT_CHARGING_CONVERTER;
  if (r->by_converter) { /* not driven by an engine */
    r->mean_shaft_w = r->mean_torque_nm = r->efficiency_pct = r->end_c = (double)NAN;
    return;
  }
  r->mean_shaft_w = per(of(&st->shaft_j), engine_s);
  double turns = of(&st->turns);
  r->mean_torque_nm = turns > 0 ? of(&st->shaft_j) / (2 * M_PI * turns) : (double)NAN;
  r->efficiency_pct = 100 * per(r->output_j, of(&st->shaft_j));
  bool has_heat = r->present && !run->options.isothermal && isnan(run->system->alternator.fixed_output_a);
  r->end_c = has_heat ? run->state.now.copper_c : (double)NAN;
}

static void finish_energy(const struct tv_run *run, struct tailvolt_energy_result *e) {
  const struct tv_statistics *st = run->statistics;
  e->generated_j = of(&st->generated_j);
  e->from_storage_j = st->start_stored_j - tv_run_stored_j(run);
  e->loads_j = of(&st->loads_j);
  e->amplifiers_j = 0;
  for (int k = 0; k < st->amplifiers; k++) e->amplifiers_j += of(&st->amplifier[k].draw_j);
  e->losses_j = of(&st->conductor_j) + of(&st->inner_j) + of(&st->isolator_j) + of(&st->capacitor_j);
  for (int k = 0; k < st->batteries; k++)
    e->losses_j += run->state.battery[k].loss_j - st->battery[k].start_loss_j;
  e->residual_j = e->generated_j + e->from_storage_j - e->loads_j - e->amplifiers_j - e->losses_j;
}

/* FNV-1a over the final state's bits. */
static unsigned long long hash_bytes(unsigned long long hash, const void *bytes, size_t count) {
  const unsigned char *at = bytes;
  for (size_t k = 0; k < count; k++) hash = (hash ^ at[k]) * 1099511628211ULL;
  return hash;
}

static unsigned long long hash_state(const struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  unsigned long long hash = 14695981039346656037ULL;
  for (int k = 0; k < sys->battery_count; k++) {
    hash = hash_bytes(hash, &run->state.battery[k].charge_c, sizeof(double));
    hash = hash_bytes(hash, run->state.battery[k].branch_v, sizeof run->state.battery[k].branch_v);
  }
  hash = hash_bytes(hash, run->state.capacitor_v, (size_t)sys->capacitor_count * sizeof(double));
  hash = hash_bytes(hash, run->state.storage_v, (size_t)sys->amplifier_count * sizeof(double));
  hash = hash_bytes(hash, run->state.conductor_c, (size_t)sys->conductor_count * sizeof(double));
  hash = hash_bytes(hash, &run->state.now.field_frac, sizeof(double));
  for (int k = 0; k < sys->amplifier_count; k++)
    hash = hash_bytes(hash, &run->statistics->amplifier[k].min_v, sizeof(double));
  return hash;
}

static bool allocate(const struct tailvolt_system *sys, struct tailvolt_result *r) {
  r->amplifier_count = r->ledger_count = sys->amplifier_count;
  r->battery_count = sys->battery_count;
  r->capacitor_count = sys->capacitor_count;
  r->conductor_count = sys->conductor_count;
  r->meter_count = sys->meter_count;
  r->amplifiers = calloc((size_t)sys->amplifier_count + 1, sizeof *r->amplifiers);
  r->ledgers = calloc((size_t)sys->amplifier_count + 1, sizeof *r->ledgers);
  r->batteries = calloc((size_t)sys->battery_count + 1, sizeof *r->batteries);
  r->capacitors = calloc((size_t)sys->capacitor_count + 1, sizeof *r->capacitors);
  r->conductors = calloc((size_t)sys->conductor_count + 1, sizeof *r->conductors);
  r->fuses = calloc((size_t)sys->conductor_count + 1, sizeof *r->fuses);
  r->meters = calloc((size_t)sys->meter_count + 1, sizeof *r->meters);
  return r->amplifiers && r->ledgers && r->batteries && r->capacitors && r->conductors && r->fuses && r->meters;
}

static enum tailvolt_status fill(struct tv_run *run, struct tailvolt_result *r) {
  const struct tailvolt_system *sys = run->system;
  const struct tv_statistics *st = run->statistics;
  enum tailvolt_status status;
  for (int k = 0; k < r->amplifier_count; k++) {
    finish_amplifier(run, k, &r->amplifiers[k]);
    if ((status = tv_ledger_make(run, k, &r->ledgers[k])) != TAILVOLT_OK) return status;
  }
  for (int k = 0; k < r->battery_count; k++) finish_battery(run, k, &r->batteries[k]);
  for (int k = 0; k < r->capacitor_count; k++) {
    tv_copy_text(r->capacitors[k].name, sizeof r->capacitors[k].name, sys->capacitors[k].name);
    r->capacitors[k].min_v = st->capacitor[k].min_v;
    r->capacitors[k].peak_a = st->capacitor[k].peak_a;
    r->capacitors[k].loss_j = of(&st->capacitor[k].loss_j);
  }
  for (int k = 0; k < r->conductor_count; k++) {
    finish_conductor(run, k, &r->conductors[k]);
    if (sys->conductors[k].kind == TAILVOLT_FUSE)
      if ((status = finish_fuse(run, k, &r->fuses[r->fuse_count++])) != TAILVOLT_OK) return status;
  }
  for (int k = 0; k < r->meter_count; k++) {
    tv_copy_text(r->meters[k].name, sizeof r->meters[k].name, sys->meters[k].name);
    r->meters[k].rest_v = st->meter[k].rest_v;
    r->meters[k].min_v = st->meter[k].min_v;
    r->meters[k].max_v = st->meter[k].max_v;
    r->meters[k].mean_v = per(of(&st->meter[k].v), of(&st->dt_s));
  }
  finish_alternator(run, &r->alternator);
  const struct tv_phase_total *all[] = {&st->phase[TAILVOLT_IDLE], &st->phase[TAILVOLT_ROAD],
                                        &st->phase[TAILVOLT_PARKED]};
  tv_budget_of(all, 2, &r->driving);
  tv_budget_of(all + 2, 1, &r->parked);
  for (int p = 0; p < TAILVOLT_PHASES; p++) {
    tv_budget_of(all + p, 1, &r->phase_budget[p]);
    r->phases[p].present = r->phase_budget[p].present;
    r->phases[p].duration_s = r->phase_budget[p].duration_s;
  }
  if ((status = tv_uses_finish(run, r)) != TAILVOLT_OK) return status;
  finish_energy(run, &r->energy);
  double dim_pct = st->lamp.watched ? tv_lamp_dim_pct(&st->lamp) : (double)NAN;
  r->lights.known = isfinite(dim_pct);
  r->lights.dim_pct = r->lights.known ? dim_pct : 0;
  r->lights.visible = r->lights.dim_pct >= TAILVOLT_DIM_VISIBLE_PCT;
  r->lights.if_halogen = st->lamp.if_halogen;
  r->lights.load = st->lamp.load;
  r->state_hash = hash_state(run);
  return tv_verdict_judge(run, r);
}

enum tailvolt_status tv_run_finish(struct tv_run *run, const char *profile_name, struct tailvolt_result **out) {
  *out = NULL;
  enum tailvolt_status status = tv_run_fold(run);
  if (status != TAILVOLT_OK) return status;
  if ((status = tv_recorder_close(run)) != TAILVOLT_OK) return status;
  struct tailvolt_result *r = calloc(1, sizeof *r);
  if (r == NULL) return TAILVOLT_NO_MEMORY;
  tv_copy_text(r->system, sizeof r->system, run->system->file);
  tv_copy_text(r->profile, sizeof r->profile, profile_name);
  r->start_s = run->begun_s;
  r->duration_s = run->ended_s - run->begun_s;
  r->step_s = run->largest_step_s;
  r->steps = run->steps;
  r->settled_s = run->settled_s;
  status = allocate(run->system, r) ? fill(run, r) : TAILVOLT_NO_MEMORY;
  if (status != TAILVOLT_OK) {
    tailvolt_result_free(r);
    return status;
  }
  *out = r;
  return TAILVOLT_OK;
}

void tailvolt_result_free(struct tailvolt_result *r) {
  if (r == NULL) return;
  for (int k = 0; r->ledgers != NULL && k < r->ledger_count; k++) free(r->ledgers[k].entries);
  free(r->reasons), free(r->amplifiers), free(r->ledgers), free(r->batteries), free(r->capacitors);
  free(r->conductors), free(r->fuses), free(r->meters), free(r->cautions);
  free(r->use_load_frac), free(r->use_plays);
  free(r);
}
