/* Putting a profile's row into force. */
#include <math.h>

#include "parts/elementary.h"
#include "simulate/run.h"

static bool same(double a, double b) { return a == b || (isnan(a) && isnan(b)); }

/* Sets the target in force, and how far the phase's own is above it. */
static void set_target(struct tv_run *run, int k, bool on) {
  const struct tailvolt_targets *targets = &run->system->targets;
  struct tv_drive *drive = &run->drive[k];
  double target_v = run->system->amplifiers[k].target_v, shift_v = 0;
  if (isnan(target_v)) {
    double phase_v = on || run->system->engine.stop_and_start ? targets->voltage_v : targets->voltage_parked_v;
    target_v = run->in_grace ? targets->voltage_parked_v : phase_v;
    shift_v = phase_v - target_v;
  }
  if (target_v == drive->target_v && shift_v == drive->shift_v) return;
  tv_statistics_collect(run);
  drive->target_v = target_v;
  drive->shift_v = shift_v;
  run->stale_row = true;
}

void tv_run_set_grace(struct tv_run *run, bool in_grace) {
  if (in_grace == run->in_grace) return;
  run->in_grace = in_grace;
  run->stale_row = true;
  for (int k = 0; k < run->system->amplifier_count; k++) {
    struct tv_amplifier_total *t = &run->statistics->amplifier[k];
    double *smooth_v = &TV_HOT(run->hot, amplifier_sum)[k].min_smooth_v;
    if (in_grace) {
      t->kept_smooth_v = *smooth_v;
      t->kept_meter_v = t->meter.min_v;
    } else {
      *smooth_v = t->min_smooth_v = t->kept_smooth_v;
      t->meter.min_v = t->kept_meter_v;
      t->meter.above = 0;
    }
    tv_run_pack_lowest(run, k);
  }
}

void tv_run_end_grace(struct tv_run *run) {
  tv_run_set_grace(run, false);
  for (int k = 0; k < run->system->amplifier_count; k++) set_target(run, k, run->state.now.engine_on);
}

static void set_drive(struct tv_run *run, int k, const struct tailvolt_amplifier_row *row, bool on) {
  const struct tailvolt_amplifier *spec = &run->system->amplifiers[k];
  struct tv_drive *drive = &run->drive[k];
  bool playing = row->powered;
  if (run->prescribed[k])
    playing = playing && (row->supply_w > 0 || row->supply_a > 0);
  else if (!isnan(row->output_w))
    playing = playing && row->output_w > 0;
  else
    playing = playing && row->programme != TAILVOLT_SILENCE;
  if (playing != drive->playing || row->programme != drive->programme || row->powered != drive->powered) {
    tv_statistics_collect(run);
    run->ripple_hz = -1;
    run->use_noted = false;
    run->stale_row = true;
  }
  if (!same(row->output_w, drive->output_w) || !same(row->supply_w, drive->supply_w) ||
      !same(row->supply_a, drive->supply_a))
    run->stale_row = true;
  double level_db = row->level_db + spec->level_offset_db;
  if (level_db != drive->level_db || drive->gain_w == 0) {
    drive->level_db = level_db;
    drive->gain_w = level_db == 0 ? spec->rated_w : spec->rated_w * tv_pow(10, level_db / 10);
    run->stale_row = true;
  }
  drive->powered = row->powered;
  drive->playing = playing;
  drive->programme = row->programme;
  drive->output_w = row->output_w;
  drive->supply_w = row->supply_w;
  drive->supply_a = row->supply_a;
  set_target(run, k, on);
}

double tv_run_ripple_step_s(double bass_hz) {
  static const double allowed_s[] = {1e-3, 0.5e-3, 0.25e-3, 0.2e-3, 0.125e-3, 0.1e-3};
  for (size_t k = 0; k < sizeof allowed_s / sizeof *allowed_s; k++)
    if (allowed_s[k] <= 1 / (40 * bass_hz) * (1 + 1e-12)) return allowed_s[k];
  return 0.1e-3;
}

static void set_ripple(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  double lowest_hz = 0, highest_hz = 0;
  run->plays = false;
  for (int k = 0; k < sys->programme_count; k++) run->play[k].used = run->play[k].ripple_on_d = run->play[k].ripple_on_ab = false;
  for (int k = 0; k < sys->amplifier_count; k++) {
    const struct tv_drive *drive = &run->drive[k];
    if (!drive->powered || run->prescribed[k] || drive->programme == TAILVOLT_SILENCE) continue;
    run->plays = true;
    struct tv_playing *play = &run->play[drive->programme];
    if (!play->used) {
      play->used = true;
      play->bass_hz = tv_programme_bass_hz(run->programme[drive->programme]);
    }
    if (run->amplifier[k].class_ab)
      play->ripple_on_ab = true;
    else
      play->ripple_on_d = true;
    if (play->bass_hz > 0 && drive->playing) {
      lowest_hz = lowest_hz > 0 ? fmin(lowest_hz, play->bass_hz) : play->bass_hz;
      highest_hz = fmax(highest_hz, play->bass_hz);
    }
  }
  run->ripple_hz = lowest_hz;
  double step_s = run->options.time_step_s > 0 ? run->options.time_step_s : 1e-3;
  if (highest_hz > 0) {
    double fine_s = tv_run_ripple_step_s(highest_hz);
    if (run->options.time_step_s <= 0)
      step_s = fine_s;
    else if (step_s > fine_s * (1 + 1e-9))
      run->coarse_ripple = true;
  }
  run->base_step_s = step_s;
  run->asked_step_s = run->options.time_step_s;
  run->stale_row = true;
}

/* Starts the starter where the engine begins to run within the profile. */
static void set_starter(struct tv_run *run, bool on) {
  double crank_s = run->packed ? TV_HOT(run->hot, lane)->crank_s : run->state.now.crank_s, before_s = crank_s;
  if (on && !run->state.now.engine_on && run->system->engine.simulate_starts && run->steps > 0) {
    /* the oil is at the temperature of the air under the bonnet */
    run->state.now.start = tv_starter_needs(&run->system->engine, run->state.now.bay_c);
    crank_s = 0;
  }
  if (!on) crank_s = -1;
  if (crank_s == before_s) return;
  run->state.now.crank_s = crank_s;
  if (run->packed) TV_HOT(run->hot, lane)->crank_s = crank_s;
  run->stale_row = run->stale_offset = true;
}

void tv_run_set_row(struct tv_run *run, const struct tailvolt_row *row, const struct tailvolt_row *next) {
  const struct tailvolt_system *sys = run->system;
  bool on = tv_row_runs(row);
  double slope = run->engine_rpm_slope, rpm = run->engine_rpm, set_v = run->set_v;
  bool commanded = run->set_commanded;
  run->row_start_s = row->time_s;
  run->engine_rpm = row->engine_rpm;
  run->engine_rpm_slope = run->ambient_slope = 0;
  run->ambient_c = row->ambient_c;
  if (next != NULL) {
    double length_s = next->time_s - row->time_s;
    if (on && next->engine_rpm > 0 && next->engine_rpm != row->engine_rpm)
      run->engine_rpm_slope = (next->engine_rpm - row->engine_rpm) / length_s;
    if (next->ambient_c != row->ambient_c) run->ambient_slope = (next->ambient_c - row->ambient_c) / length_s;
  }
  /* the engine computer commands volts: they do not drift with the regulator's heat */
  run->set_commanded = !isnan(row->set_point_v) || sys->vehicle.charging == TAILVOLT_CHARGING_COMPUTER;
  run->set_v = isnan(row->set_point_v) ? sys->alternator.set_point_v : row->set_point_v;
  run->stale_row = run->stale_row || rpm != run->engine_rpm || slope != run->engine_rpm_slope || slope != 0 ||
                   set_v != run->set_v || commanded != run->set_commanded || on != run->state.now.engine_on;
  double base_a = row->base_load_a + (on && !isnan(sys->vehicle.base_load_a) ? sys->vehicle.base_load_a : 0);
  if (base_a != run->base_a) {
    tv_statistics_collect(run);
    run->base_a = base_a;
    run->stale_offset = true;
  }
  for (int k = 0; k < sys->load_count; k++) {
    if (row->load_on[k] == run->load_on[k]) continue;
    tv_statistics_collect(run);
    run->load_on[k] = row->load_on[k];
    run->stale_row = run->stale_offset = true;
    if (sys->loads[k].behaviour == TAILVOLT_RESISTOR) run->stale_stiff = true;
    run->use_noted = false;
  }
  for (int k = 0; k < sys->amplifier_count; k++) set_drive(run, k, &row->amplifier[k], on);
  if (run->ripple_hz < 0 || run->options.time_step_s != run->asked_step_s) set_ripple(run);
  set_starter(run, on);
  run->state.now.engine_on = on;
  tv_lamp_set_row(run);
}
