#include "simulate/lamp.h"

#include <math.h>
#include <string.h>

#include "parts/elementary.h"
#include "simulate/run.h"

static bool dims(enum tailvolt_lamp lamp) { return lamp == TAILVOLT_LAMP_HALOGEN || lamp == TAILVOLT_LAMP_IF_HALOGEN; }

void tv_lamp_choose(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_lamp *lamp = &run->statistics->lamp;
  lamp->watched = false;
  lamp->window_s = 0.5; /* recordings: half a second, two beats of most music */
  for (int k = 0; k < sys->amplifier_count; k++) {
    int p = sys->amplifiers[k].programme >= 0 ? sys->amplifiers[k].programme : 0;
    if (p < sys->programme_count && sys->programmes[p].tempo_per_min > 0 && sys->programmes[p].recording[0] == '\0' &&
        sys->programmes[p].envelope[0] == '\0') {
      lamp->window_s = 60 / sys->programmes[p].tempo_per_min;
      break;
    }
  }
  /* a lamp named in the file, else the headlamps within the base load */
  for (int k = 0; k < sys->load_count && !lamp->watched; k++) {
    if (!dims(sys->loads[k].lamp) || run->load_port[k] < 0) continue;
    lamp->watched = true;
    lamp->if_halogen = sys->loads[k].lamp == TAILVOLT_LAMP_IF_HALOGEN;
    lamp->load = k;
    lamp->port = 1 + run->load_port[k] - run->load_port0;
  }
  if (lamp->watched || !dims(sys->vehicle.headlamps)) return;
  lamp->watched = true;
  lamp->if_halogen = sys->vehicle.headlamps == TAILVOLT_LAMP_IF_HALOGEN;
  lamp->load = -1;
  lamp->port = 0;
}

void tv_lamp_set_row(struct tv_run *run) {
  struct tv_lamp *lamp = &run->statistics->lamp;
  if (!lamp->watched) return;
  bool lit = lamp->load >= 0 ? run->load_on[lamp->load] > 0 : run->state.now.engine_on, plays = false;
  for (int k = 0; k < run->system->amplifier_count; k++) plays = plays || run->drive[k].playing;
  lamp->counts = lit && plays;
}

static void begin_window(struct tv_lamp *lamp) {
  lamp->least_v = HUGE_VAL;
  lamp->most_v = 0;
  lamp->now_s = 0;
}

void tv_lamp_clear(struct tv_lamp *lamp) {
  lamp->lag_v = lamp->lit_s = lamp->lag_step_s = lamp->sum_vs = lamp->sum_s = 0;
  lamp->lag_keep = 1;
  lamp->count = 0;
  memset(lamp->windows, 0, sizeof lamp->windows);
  begin_window(lamp);
}

static void end_window(struct tv_lamp *lamp) {
  double ratio = lamp->least_v / lamp->most_v, dim_frac = 1 - ratio * ratio * ratio;
  int bin = (int)(dim_frac * TV_LAMP_BIN_COUNT);
  bin = bin < 0 ? 0 : bin < TV_LAMP_BIN_COUNT ? bin : TV_LAMP_BIN_COUNT - 1;
  lamp->windows[bin]++;
  lamp->count++;
  begin_window(lamp);
}

void tv_lamp_take(struct tv_lamp *lamp, double v, double step_s) {
  if (!(lamp->lag_v > 0)) lamp->lag_v = v;
  if (step_s != lamp->lag_step_s) {
    lamp->lag_step_s = step_s;
    lamp->lag_keep = tv_exp(-step_s / TV_LAMP_LAG_S);
  }
  lamp->lag_v = v + (lamp->lag_v - v) * lamp->lag_keep;
  if (!lamp->counts) {
    lamp->lit_s = 0;
    begin_window(lamp);
    return;
  }
  /* earlier history fades after a few lags */
  lamp->lit_s += step_s;
  if (lamp->lit_s < 5 * TV_LAMP_LAG_S) return;
  if (lamp->lag_v < lamp->least_v) lamp->least_v = lamp->lag_v;
  if (lamp->lag_v > lamp->most_v) lamp->most_v = lamp->lag_v;
  lamp->now_s += step_s;
  if (lamp->now_s >= lamp->window_s - 1e-9) end_window(lamp);
}

double tv_lamp_dim_pct(const struct tv_lamp *lamp) {
  long half = (lamp->count + 1) / 2, sum = 0;
  if (lamp->count == 0) return (double)NAN;
  for (int k = 0; k < TV_LAMP_BIN_COUNT; k++)
    if ((sum += lamp->windows[k]) >= half) return 100 * (k + 0.5) / TV_LAMP_BIN_COUNT;
  return 100;
}
