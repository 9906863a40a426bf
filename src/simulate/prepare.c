/* What the step's loads and sources will be: programmes, amplifiers, constant-power loads, alternator and converters. */
#include <math.h>

#include <gsl/gsl_math.h>

#include "simulate/run.h"

/* Fraction of a period, kept exact for long times. */
static double phase_of(double cycles) { return cycles - floor(cycles); }

/* Integral of |sin(2 pi f t)| over half periods: each gives 2. */
static double rectified(double half_cycles) {
  double whole = floor(half_cycles);
  return 2 * whole + 1 - cos(M_PI * (half_cycles - whole));
}

/* Exact means over the step of 1 - cos(4 pi f t) and (pi/2) |sin(2 pi f t)|, t the profile's time. */
static void prepare_ripple(struct tv_playing *play, double t0_s, double t1_s) {
  play->ripple_d = play->ripple_ab = 1;
  if (!(play->bass_hz > 0)) return;
  double f = play->bass_hz, span_s = t1_s - t0_s;
  bool goes_on = play->last_end_s == t0_s;
  if (play->ripple_on_d) {
    if (!goes_on) play->last_sin = sin(2 * M_PI * phase_of(2 * f * t0_s));
    double end_sin = sin(2 * M_PI * phase_of(2 * f * t1_s));
    play->ripple_d = 1 - (end_sin - play->last_sin) / (4 * M_PI * f * span_s);
    play->last_sin = end_sin;
  }
  if (play->ripple_on_ab) {
    if (!goes_on) play->last_abs = rectified(2 * f * t0_s);
    double end_abs = rectified(2 * f * t1_s);
    play->ripple_ab = 0.5 * M_PI * (end_abs - play->last_abs) / (2 * M_PI * f * span_s);
    play->last_abs = end_abs;
  }
  play->last_end_s = t1_s;
}

/* What the amplifier is asked to deliver, before clipping, sag or its own protection. */
static double wanted_w(const struct tv_run *run, const struct tv_drive *drive) {
  if (!drive->powered) return 0;
  if (!isnan(drive->output_w)) return drive->output_w;
  return drive->programme >= 0 ? run->play[drive->programme].envelope * drive->gain_w : 0;
}

static void prepare_amplifier(struct tv_run *run, int k, double step_s) {
  const struct tv_amplifier *amplifier = &run->amplifier[k];
  struct tv_drive *drive = &run->drive[k];
  struct tv_amplifier_state *state = &run->state.amplifier[k];
  struct tv_load_port *load = &run->solver->load[k];
  struct tv_draw *draw = &load->draw;
  drive->wanted_w = run->prescribed[k] ? 0 : wanted_w(run, drive);
  load->active = !state->out;
  if (state->out) {
    run->solver->j[load->port] = 0;
    return;
  }
  double ramp = 1;
  if (state->ramp_s < TV_SOFT_START_S) {
    ramp = tv_least((state->ramp_s + 0.5 * step_s) / TV_SOFT_START_S, 1);
    state->ramp_s += step_s;
  }
  if (run->prescribed[k]) {
    draw->amplifier = NULL;
    draw->may_clip = false;
    draw->power_w = drive->powered && drive->supply_w > 0 ? drive->supply_w * ramp : 0;
    draw->constant_a = drive->powered && drive->supply_a > 0 ? drive->supply_a * ramp : 0;
    return;
  }
  int port = run->storage_port[k];
  draw->storage_v = run->state.storage_v[k];
  draw->storage_s = port >= 0 ? run->network->conductance_s[port] : 0;
  if (!drive->powered) {
    tv_amplifier_draw(amplifier, 0, 1, draw);
    draw->constant_a = amplifier->standby_a;
    return;
  }
  double ripple = 1;
  if (drive->programme >= 0) {
    const struct tv_playing *play = &run->play[drive->programme];
    ripple = amplifier->class_ab ? play->ripple_ab : play->ripple_d;
  }
  tv_amplifier_draw(amplifier, drive->wanted_w * ramp, ripple, draw);
}

static void prepare_alternator(struct tv_run *run, struct tv_source_law *law, double middle_s, double step_s) {
  const struct tailvolt_alternator *spec = &run->system->alternator;
  double rpm = run->engine_rpm + run->engine_rpm_slope * (middle_s - run->row_start_s);
  law->active = rpm > 0 && run->state.now.crank_s < 0;
  law->rotor_rpm = rpm * spec->pulley_ratio;
  law->set_v = run->set_v;
  if (!run->set_commanded) law->set_v += spec->drift_v_per_k * (run->state.now.bay_c - 25);
  double x = run->state.now.field_x;
  law->x_low = run->field_scale * x * run->field_decay;
  law->x_high = run->field_scale * (1 - (1 - x) * run->field_decay);
  if (!law->active || step_s <= 0) {
    law->x_low = 0;
    law->x_high = run->field_scale;
    return;
  }
  /* load response: the output at the set point may rise by no more than ramp x step */
  if (spec->ramp_a_per_s > 0 && rpm < 1000) {
    double now_a = tv_alternator_current_a(&run->alternator, law->rotor_rpm, law->set_v,
                                           run->field_scale * x);
    double reach = tv_alternator_field_for(&run->alternator, law->rotor_rpm, law->set_v,
                                           now_a + spec->ramp_a_per_s * step_s);
    law->x_high = tv_most(tv_least(law->x_high, reach), law->x_low);
  }
}

void tv_run_prepare(struct tv_run *run, double start_s, double end_s, double step_s) {
  const struct tailvolt_system *sys = run->system;
  for (int k = 0; k < sys->programme_count; k++) {
    struct tv_playing *play = &run->play[k];
    if (!play->used || step_s <= 0) continue;
    play->envelope = tv_programme_mean(run->programme[k], &run->cursor[k], start_s, end_s);
    prepare_ripple(play, start_s, end_s);
  }
  for (int k = 0; k < sys->amplifier_count; k++) prepare_amplifier(run, k, step_s);
  for (int k = 0; k < sys->load_count; k++) {
    if (run->load_index[k] < 0) continue;
    struct tv_load_port *load = &run->solver->load[run->load_index[k]];
    load->draw.power_w = run->load_on[k] * sys->loads[k].power_w;
    load->active = load->draw.power_w > 0;
    if (!load->active) run->solver->j[load->port] = 0;
  }
  for (int k = 0; k < run->network->source_count; k++)
    if (run->solver->source[k].kind == TV_SOURCE_ALTERNATOR)
      prepare_alternator(run, &run->solver->source[k], start_s + 0.5 * step_s, step_s);
  for (int k = 0; k < sys->isolator_count; k++) {
    if (run->converter_source[k] < 0) continue;
    struct tv_source_law *law = &run->solver->source[run->converter_source[k]];
    law->active = run->state.isolator[k].closed;
    struct tv_load_port *input = &run->solver->load[law->input_load];
    input->active = law->active;
    if (!law->active) run->solver->j[input->port] = 0;
  }
}
