/* How every run begins.
 *
 * Nobody measures a car, or turns the music up, in the instant its engine starts. So where the engine runs in the first row,
 * that row is run for a while with the music off: the alternator is up, relays have closed, and the battery takes what it
 * takes after that time (surface charge, as a voltmeter would find it). The charge gained or lost meanwhile is taken back,
 * so the run begins with the charge that the file states. */
#include <math.h>
#include <stdlib.h>

#include "simulate/run.h"

/* Restores the file's charge; polarization stays. */
static void set_charges_back(struct tv_run *run) {
  for (int k = 0; k < run->system->battery_count; k++) {
    struct tv_battery_state *state = &run->state.battery[k], rested;
    tv_battery_rest(run->battery[k], state->temperature_c, &rested);
    state->charge_c = rested.charge_c;
    state->cache.h_s = -1; /* its tangents were taken at another charge */
  }
}

bool tv_run_settling_row(const struct tv_run *run, const struct tailvolt_row *first, struct tailvolt_amplifier_row *quiet,
                         struct tailvolt_row *row) {
  if (!(run->options.settle_s > 0) || !tv_row_runs(first)) return false;
  for (int k = 0; k < run->system->amplifier_count; k++) {
    quiet[k] = first->amplifier[k];
    quiet[k].programme = TAILVOLT_SILENCE;
    quiet[k].output_w = quiet[k].supply_w = quiet[k].supply_a = (double)NAN;
  }
  *row = *first;
  row->amplifier = quiet;
  row->time_s -= run->options.settle_s;
  return true;
}

double tv_run_settling_step_s(const struct tv_run *run) {
  return run->options.settle_step_s > 0 ? run->options.settle_step_s : tv_most(run->options.time_step_s, TV_SETTLE_STEP_S);
}

enum tailvolt_status tv_run_end_settling(struct tv_run *run, const struct tailvolt_row *first) {
  tv_run_unpack(run);
  set_charges_back(run);
  run->settled_s = run->options.settle_s;
  return tv_run_rebase(run, first);
}

enum tailvolt_status tv_run_begin(struct tv_run *run, const struct tailvolt_row *first) {
  struct tailvolt_row row;
  tv_lamp_choose(run);
  enum tailvolt_status status = tv_run_start(run, first);
  run->settled_s = 0;
  if (status != TAILVOLT_OK) return status;
  struct tailvolt_amplifier_row *quiet = calloc((size_t)run->system->amplifier_count + 1, sizeof *quiet);
  if (quiet == NULL) return TAILVOLT_NO_MEMORY;
  bool settles = tv_run_settling_row(run, first, quiet, &row);
  double step_s = run->options.time_step_s;
  run->options.time_step_s = tv_run_settling_step_s(run);
  if (settles) status = tv_run_advance(run, &row, NULL, row.time_s, first->time_s);
  run->options.time_step_s = step_s;
  free(quiet);
  if (status != TAILVOLT_OK || !settles) return status;
  return tv_run_end_settling(run, first);
}
