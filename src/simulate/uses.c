#include "simulate/uses.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/run.h"

static double per(double sum, double over) { return over > 0 ? sum / over : (double)NAN; }
static double of(const struct tv_sum *s) { return tv_sum_value(s); }

static double charge_c(const struct tv_run *run) {
  double sum_c = 0;
  for (int k = 0; k < run->system->battery_count; k++) sum_c += run->state.battery[k].charge_c;
  return sum_c;
}

void tv_uses_mark_charge(struct tv_run *run) {
  run->statistics->charge_mark_c = charge_c(run);
}

/* What the label gives at this speed, at the label's voltage and at the machine's own: once per block, at its middle. */
static void fold_label(struct tv_run *run, struct tv_use_total *use) {
  const struct tv_block *b = &run->statistics->block;
  if (run->alternator_port < 0 || !run->state.now.engine_on) return;
  double middle_s = tv_most(run->now_s + run->step_s - 0.5 * b->dt_s, run->row_start_s);
  double engine_rpm = run->engine_rpm + run->engine_rpm_slope * (middle_s - run->row_start_s);
  double rotor_rpm = engine_rpm * run->system->alternator.pulley_ratio;
  double own_v = b->alternator_as > 0 ? b->generated_j / b->alternator_as : run->set_v;
  double label_a = tv_alternator_current_a(&run->alternator, rotor_rpm, run->alternator.rated_v, 1);
  double own_a = tv_alternator_current_a(&run->alternator, rotor_rpm, own_v, 1);
  tv_sum_add(&use->label_as, label_a * b->dt_s);
  tv_sum_add(&use->own_voltage_as, own_a * b->dt_s);
  tv_sum_add(&use->copper_c_s, run->state.now.copper_c * b->dt_s);
}

void tv_uses_fold(struct tv_run *run) {
  struct tv_use_total *use = &run->statistics->use[run->use];
  const struct tv_block *b = &run->statistics->block;
  tv_sum_add(&use->further_as, b->further_as);
  tv_sum_add(&use->generated_j, b->generated_j);
  double before_c = run->statistics->charge_mark_c;
  tv_uses_mark_charge(run);
  tv_sum_add(&use->kept_as, run->statistics->charge_mark_c - before_c);
  fold_label(run, use);
}

void tv_uses_note_row(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  double *most_frac = run->statistics->use_load_frac + (size_t)run->use * (size_t)sys->load_count;
  bool *plays = run->statistics->use_plays + (size_t)run->use * (size_t)sys->amplifier_count;
  for (int k = 0; k < sys->load_count; k++) most_frac[k] = tv_most(most_frac[k], run->load_on[k]);
  for (int k = 0; k < sys->amplifier_count; k++) plays[k] = plays[k] || run->drive[k].playing;
  run->use_noted = true;
}

void tv_budget_of(const struct tv_phase_total *const *totals, int count, struct tailvolt_budget *b) {
  double dt_s = 0, available = 0, generation = 0, base = 0, amplifier = 0, battery = 0;
  for (int k = 0; k < count; k++) {
    dt_s += of(&totals[k]->dt_s);
    available += of(&totals[k]->available_as);
    generation += of(&totals[k]->generation_as);
    base += of(&totals[k]->base_as);
    amplifier += of(&totals[k]->amplifier_as);
    battery += of(&totals[k]->battery_as);
  }
  b->present = dt_s > 0;
  b->duration_s = dt_s;
  b->available_a = per(available, dt_s);
  b->generation_a = per(generation, dt_s);
  b->base_a = per(base, dt_s);
  b->amplifier_a = per(amplifier, dt_s);
  b->battery_a = per(battery, dt_s);
  b->surplus_a = b->available_a - b->base_a - b->amplifier_a;
}

static void finish_use(const struct tv_run *run, int u, struct tailvolt_result *r) {
  const struct tv_use_total *use = &run->statistics->use[u];
  const struct tv_phase_total *currents = &use->currents;
  struct tailvolt_use_result *to = &r->use_details[u];
  size_t loads = (size_t)run->system->load_count, amplifiers = (size_t)run->system->amplifier_count;
  tv_budget_of(&currents, 1, &r->uses[u]);
  double dt_s = r->uses[u].duration_s;
  bool turns = run->alternator_port >= 0 && u != TAILVOLT_USE_PARKED;
  to->label_a = turns ? per(of(&use->label_as), dt_s) : 0;
  to->own_voltage_a = turns ? per(of(&use->own_voltage_as), dt_s) : 0;
  to->alternator_v = turns ? per(of(&use->generated_j), of(&currents->generation_as)) : (double)NAN;
  bool has_heat = turns && !run->options.isothermal && isnan(run->system->alternator.fixed_output_a);
  to->copper_c = has_heat ? per(of(&use->copper_c_s), dt_s) : (double)NAN;
  to->kept_a = per(of(&use->kept_as), dt_s);
  to->base_load_a = per(of(&use->further_as), dt_s);
  to->load_most_frac = r->use_load_frac + (size_t)u * loads;
  to->plays = r->use_plays + (size_t)u * amplifiers;
  memcpy(r->use_load_frac + (size_t)u * loads, run->statistics->use_load_frac + (size_t)u * loads,
         loads * sizeof(double));
  memcpy(r->use_plays + (size_t)u * amplifiers, run->statistics->use_plays + (size_t)u * amplifiers,
         amplifiers * sizeof(bool));
}

enum tailvolt_status tv_uses_finish(const struct tv_run *run, struct tailvolt_result *r) {
  size_t loads = (size_t)run->system->load_count, amplifiers = (size_t)run->system->amplifier_count;
  r->use_load_frac = calloc(TAILVOLT_USES * loads + 1, sizeof *r->use_load_frac);
  r->use_plays = calloc(TAILVOLT_USES * amplifiers + 1, sizeof *r->use_plays);
  if (r->use_load_frac == NULL || r->use_plays == NULL) return TAILVOLT_NO_MEMORY;
  for (int u = 0; u < TAILVOLT_USES; u++) finish_use(run, u, r);
  return TAILVOLT_OK;
}
