#include "simulate/statistics.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "parts/alternator_heat.h"
#include "parts/conductor.h"
#include "simulate/run.h"

static size_t some(int count) { return count > 0 ? (size_t)count : 1; }

/* ---- making and clearing ---- */

static bool allocate_bins(struct tv_statistics *st) {
  for (int k = 0; k < st->amplifiers; k++) {
    struct tv_amplifier_total *total = &st->amplifier[k];
    total->ring = calloc(TV_RING, sizeof(double));
    if (total->ring == NULL) return false;
    for (int p = 0; p < TAILVOLT_PHASES; p++)
      if ((total->bins[p] = calloc(TV_BIN_COUNT, sizeof(double))) == NULL) return false;
  }
  return true;
}

enum tailvolt_status tv_statistics_create(const struct tv_run *run, struct tv_statistics **out) {
  const struct tailvolt_system *sys = run->system;
  struct tv_statistics *st = calloc(1, sizeof *st);
  *out = st;
  if (st == NULL) return TAILVOLT_NO_MEMORY;
  st->amplifiers = sys->amplifier_count;
  st->batteries = sys->battery_count;
  st->capacitors = sys->capacitor_count;
  st->conductors = sys->conductor_count;
  st->groups = run->group_count;
  st->meters = sys->meter_count;
  st->loads = sys->load_count;
  st->amplifier = calloc(some(st->amplifiers), sizeof *st->amplifier);
  st->battery = calloc(some(st->batteries), sizeof *st->battery);
  st->conductor = calloc(some(st->conductors), sizeof *st->conductor);
  st->capacitor = calloc(some(st->capacitors), sizeof *st->capacitor);
  st->meter = calloc(some(st->meters), sizeof *st->meter);
  st->fuse = calloc(some(st->conductors), sizeof *st->fuse);
  st->fuse_mark_as = calloc(some(st->groups), sizeof(double));
  st->use_load_frac = calloc(some(TAILVOLT_USES * st->loads), sizeof *st->use_load_frac);
  st->use_plays = calloc(some(TAILVOLT_USES * st->amplifiers), sizeof *st->use_plays);
  st->block.amplifier = calloc(some(st->amplifiers), sizeof *st->block.amplifier);
  st->block.battery = calloc(some(st->batteries), sizeof *st->block.battery);
  st->block.group = calloc(some(st->groups), sizeof *st->block.group);
  st->block.meter_vs = calloc(some(st->meters), sizeof(double));
  if (!st->amplifier || !st->battery || !st->conductor || !st->capacitor || !st->meter || !st->fuse ||
      !st->fuse_mark_as || !st->use_load_frac || !st->use_plays || !st->block.amplifier || !st->block.battery || !st->block.group ||
      !st->block.meter_vs || !allocate_bins(st))
    return TAILVOLT_NO_MEMORY;
  tv_statistics_clear(st);
  return TAILVOLT_OK;
}

void tv_statistics_free(struct tv_statistics *st) {
  if (st == NULL) return;
  for (int k = 0; st->amplifier != NULL && k < st->amplifiers; k++) {
    free(st->amplifier[k].ring);
    for (int p = 0; p < TAILVOLT_PHASES; p++) free(st->amplifier[k].bins[p]);
  }
  free(st->amplifier), free(st->battery), free(st->conductor), free(st->capacitor);
  free(st->meter), free(st->fuse), free(st->fuse_mark_as), free(st->use_load_frac), free(st->use_plays);
  free(st->block.amplifier), free(st->block.battery), free(st->block.group), free(st->block.meter_vs);
  free(st->recorder.name), free(st->recorder.cell);
  free(st);
}

static void clear_amplifier(struct tv_amplifier_total *total) {
  double *ring = total->ring, *bins[TAILVOLT_PHASES];
  memcpy(bins, total->bins, sizeof bins);
  for (int p = 0; p < TAILVOLT_PHASES; p++)
    if (tv_sum_value(&total->phase[p].play_s) > 0) memset(bins[p], 0, TV_BIN_COUNT * sizeof(double));
  memset(total, 0, sizeof *total);
  total->ring = ring;
  memcpy(total->bins, bins, sizeof bins);
  total->min_v = total->min_smooth_v = total->meter.min_v = HUGE_VAL;
  total->first_collapse_s = total->min_time_s = total->target_at_min_v = (double)NAN;
  for (int p = 0; p < TAILVOLT_PHASES; p++) {
    total->phase[p].min_v = HUGE_VAL;
    total->phase[p].min_time_s = total->phase[p].target_v = (double)NAN;
  }
}

static void clear_block(struct tv_statistics *st) {
  struct tv_block kept = st->block;
  memset(&st->block, 0, sizeof st->block);
  st->block.amplifier = kept.amplifier;
  st->block.battery = kept.battery;
  st->block.group = kept.group;
  st->block.meter_vs = kept.meter_vs;
  memset(kept.amplifier, 0, (size_t)st->amplifiers * sizeof *kept.amplifier);
  memset(kept.battery, 0, (size_t)st->batteries * sizeof *kept.battery);
  memset(kept.group, 0, (size_t)st->groups * sizeof *kept.group);
  memset(kept.meter_vs, 0, (size_t)st->meters * sizeof(double));
  memset(st->fuse_mark_as, 0, (size_t)st->groups * sizeof(double));
}

void tv_statistics_clear(struct tv_statistics *st) {
  clear_block(st);
  st->dt_s = st->generated_j = st->alternator_as = st->available_as = st->limit_s = (struct tv_sum){0, 0};
  st->turns = (struct tv_sum){0, 0};
  st->engine_s = st->shaft_j = st->loads_j = st->isolator_j = st->capacitor_j = (struct tv_sum){0, 0};
  st->conductor_j = st->inner_j = (struct tv_sum){0, 0};
  st->alternator_peak_a = st->fuse_dt_s = 0;
  st->load_collapsed = false;
  st->load_collapse_s = (double)NAN;
  st->highest_post_v = -HUGE_VAL;
  memset(st->phase, 0, sizeof st->phase);
  memset(st->use, 0, sizeof st->use);
  memset(st->use_load_frac, 0, TAILVOLT_USES * (size_t)st->loads * sizeof *st->use_load_frac);
  memset(st->use_plays, 0, TAILVOLT_USES * (size_t)st->amplifiers * sizeof *st->use_plays);
  for (int k = 0; k < st->amplifiers; k++) clear_amplifier(&st->amplifier[k]);
  memset(st->battery, 0, (size_t)st->batteries * sizeof *st->battery);
  for (int k = 0; k < st->batteries; k++) st->battery[k].min_v = HUGE_VAL;
  memset(st->conductor, 0, (size_t)st->conductors * sizeof *st->conductor);
  memset(st->capacitor, 0, (size_t)st->capacitors * sizeof *st->capacitor);
  for (int k = 0; k < st->capacitors; k++) st->capacitor[k].min_v = HUGE_VAL;
  memset(st->meter, 0, (size_t)st->meters * sizeof *st->meter);
  for (int k = 0; k < st->meters; k++) st->meter[k].min_v = HUGE_VAL, st->meter[k].max_v = -HUGE_VAL;
  for (int k = 0; k < st->conductors; k++) st->fuse[k] = (struct tv_fuse_total){(double)NAN, false};
}

/* ---- folding a block ---- */

static void fold_amplifiers(struct tv_run *run) {
  struct tv_statistics *st = run->statistics;
  struct tv_phase_total *phase = &st->phase[run->phase], *use = &st->use[run->use].currents;
  for (int k = 0; k < st->amplifiers; k++) {
    const struct tv_amplifier_block *b = &st->block.amplifier[k];
    struct tv_amplifier_total *t = &st->amplifier[k];
    tv_sum_add(&t->v, b->v);
    tv_sum_add(&t->a, b->a);
    tv_sum_add(&t->input_j, b->input_j);
    tv_sum_add(&t->draw_j, b->draw_j);
    tv_sum_add(&t->output_j, b->output_j);
    tv_sum_add(&t->ideal_j, b->ideal_j);
    tv_sum_add(&t->play_s, b->play_s);
    tv_sum_add(&t->play_v, b->play_v);
    tv_sum_add(&t->play_a, b->play_a);
    tv_sum_add(&t->plus_v, b->plus_v);
    tv_sum_add(&t->minus_v, b->minus_v);
    tv_sum_add(&t->off_s, b->off_s);
    tv_sum_add(&t->phase[run->phase].play_s, b->play_s);
    tv_sum_add(&t->phase[run->phase].below_s, b->below_s);
    tv_sum_add(&t->phase[run->phase].a, b->a);
    tv_sum_add(&phase->amplifier_as, b->a);
    tv_sum_add(&use->amplifier_as, b->a);
    tv_sum_add(&st->inner_j, b->inner_j);
  }
}

static void fold_conductors(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_statistics *st = run->statistics;
  for (int k = 0; k < st->conductors; k++) {
    const struct tv_group_block *b = &st->block.group[run->conductor_group[k]];
    struct tv_conductor_total *t = &st->conductor[k];
    double ohm = run->network->branch[k].ohm;
    tv_sum_add(&t->square_as, b->square_as);
    tv_sum_add(&t->loss_j, b->square_as * ohm);
    tv_sum_add(&st->conductor_j, b->square_as * ohm);
    t->peak_a = tv_most(t->peak_a, b->peak_a);
    t->max_drop_v = tv_most(t->max_drop_v, b->peak_a * ohm);
    if (run->options.isothermal || sys->conductors[k].length_m <= 0) continue;
    double air_c = sys->conductors[k].place == TAILVOLT_ENGINE_BAY ? run->state.now.bay_c : run->state.now.ambient_c;
    run->state.conductor_c[k] = tv_conductor_step_c(&sys->conductors[k], run->state.conductor_c[k],
                                                    b->square_as / st->block.dt_s, air_c, st->block.dt_s);
  }
}

/* Fuses follow the current on a clock of their own: 10 ms. */
static void look_at_fuses(struct tv_run *run) {
  const struct tailvolt_system *sys = run->system;
  struct tv_statistics *st = run->statistics;
  if (!(st->fuse_dt_s > 0)) return;
  for (int k = 0; k < st->conductors; k++) {
    if (sys->conductors[k].kind != TAILVOLT_FUSE || run->state.blown[k]) continue;
    int g = run->conductor_group[k];
    double mean_square_a2 = (st->block.group[g].square_as - st->fuse_mark_as[g]) / st->fuse_dt_s;
    tv_fuse_step(sys->conductors[k].fuse_kind, sys->conductors[k].rating_a, tv_most(mean_square_a2, 0),
                 st->fuse_dt_s, &run->state.fuse[k]);
    st->fuse[k].may = st->fuse[k].may || run->state.fuse[k].damage_may >= 1;
    if (run->state.fuse[k].damage_must >= 1 && isnan(st->fuse[k].opens_time_s)) {
      st->fuse[k].opens_time_s = run->now_s;
      run->state.blown[k] = run->options.blow;
      run->stale_wiring = run->options.blow;
    }
  }
  for (int g = 0; g < st->groups; g++) st->fuse_mark_as[g] = st->block.group[g].square_as;
  st->fuse_dt_s = 0;
}

/* What the engine turns, and the winding's heat. Speed and field are those at the block's end. */
static void fold_alternator(struct tv_run *run) {
  const struct tailvolt_alternator *spec = &run->system->alternator;
  struct tv_statistics *st = run->statistics;
  struct tv_block *b = &st->block;
  if (run->alternator_port < 0) return;
  double rpm = run->engine_rpm + run->engine_rpm_slope * (run->now_s - run->row_start_s);
  double rotor_rpm = run->state.now.engine_on ? rpm * spec->pulley_ratio : 0;
  double mean_a = b->alternator_as / b->dt_s, square_a2 = b->square_as / b->dt_s;
  double rated_a = isnan(spec->fixed_output_a) ? spec->rated_a : spec->fixed_output_a;
  /* without a field lag no field state is kept: the share of the output stands for it */
  double x = spec->field_s > 0 ? run->state.now.field_x : tv_least(mean_a / rated_a, 1);
  double loss_w = tv_alternator_loss_w(rated_a, mean_a, square_a2, run->set_v, x, rotor_rpm, run->state.now.copper_c);
  if (rotor_rpm > 0) tv_sum_add(&st->shaft_j, b->generated_j + loss_w * b->dt_s);
  if (rotor_rpm > 0) tv_sum_add(&st->turns, rotor_rpm / 60 * b->dt_s);
  if (run->options.isothermal || !isnan(spec->fixed_output_a)) return;
  run->state.now.copper_c = tv_alternator_heat_step_c(run->state.now.copper_c, square_a2 / (rated_a * rated_a), x,
                                                      rotor_rpm, run->state.now.bay_c, b->dt_s);
  tv_run_set_field_scale(run);
}

static void fold_currents(struct tv_phase_total *to, const struct tv_block *b) {
  tv_sum_add(&to->dt_s, b->dt_s);
  tv_sum_add(&to->available_as, b->available_as);
  tv_sum_add(&to->generation_as, b->alternator_as);
  tv_sum_add(&to->base_as, b->base_as);
}

enum tailvolt_status tv_statistics_fold(struct tv_run *run) {
  struct tv_statistics *st = run->statistics;
  struct tv_block *b = &st->block;
  if (!(b->dt_s > 0)) return TAILVOLT_OK;
  look_at_fuses(run);
  struct tv_phase_total *phase = &st->phase[run->phase], *use = &st->use[run->use].currents;
  tv_sum_add(&st->dt_s, b->dt_s);
  if (run->phase != TAILVOLT_PARKED) tv_sum_add(&st->engine_s, b->dt_s);
  tv_sum_add(&st->generated_j, b->generated_j);
  tv_sum_add(&st->alternator_as, b->alternator_as);
  tv_sum_add(&st->available_as, b->available_as);
  tv_sum_add(&st->limit_s, b->limit_s);
  fold_alternator(run);
  tv_sum_add(&st->loads_j, b->loads_j);
  tv_sum_add(&st->isolator_j, b->isolator_j);
  tv_sum_add(&st->capacitor_j, b->capacitor_j);
  fold_currents(phase, b);
  fold_currents(use, b);
  tv_uses_fold(run);
  fold_amplifiers(run);
  for (int k = 0; k < st->batteries; k++) {
    struct tv_battery_total *t = &st->battery[k];
    tv_sum_add(&t->in_as, b->battery[k].in_as);
    tv_sum_add(&t->out_as, b->battery[k].out_as);
    tv_sum_add(&t->discharged_j, b->battery[k].discharged_j);
    tv_sum_add(&t->charged_j, b->battery[k].charged_j);
    tv_sum_add(&t->phase_as[run->phase], b->battery[k].in_as - b->battery[k].out_as);
    tv_sum_add(&phase->battery_as, b->battery[k].in_as - b->battery[k].out_as);
    tv_sum_add(&use->battery_as, b->battery[k].in_as - b->battery[k].out_as);
    t->min_soc_frac = tv_least(t->min_soc_frac, tv_battery_soc_frac(run->battery[k], &run->state.battery[k]));
  }
  for (int k = 0; k < st->meters; k++) tv_sum_add(&st->meter[k].v, b->meter_vs[k]);
  fold_conductors(run);
  clear_block(st);
  return TAILVOLT_OK;
}

/* ---- taking a step ---- */

/* Lowest mean over one whole ripple period 1/(2f): a sliding window over the integral of the voltage. */
static void take_smooth(const struct tv_run *run, struct tv_amplifier_total *t, double v, double step_s) {
  if (!(run->ripple_hz > 0)) {
    t->min_smooth_v = tv_least(t->min_smooth_v, v);
    t->ring_count = 0;
    return;
  }
  if (t->ring_step_s != step_s || t->ring_count == 0) {
    t->ring_step_s = step_s;
    t->ring_count = 1;
    t->ring_v_s = 0;
    t->ring[0] = 0;
  }
  double period_s = 0.5 / run->ripple_hz;
  t->ring_v_s += v * step_s;
  long long now = t->ring_count++;
  t->ring[now % TV_RING] = t->ring_v_s;
  double back = period_s / step_s;
  long long whole = (long long)back;
  if (whole + 1 > now || whole + 2 >= TV_RING) return;
  double part = back - (double)whole;
  double then_v_s = (1 - part) * t->ring[(now - whole) % TV_RING] + part * t->ring[(now - whole - 1) % TV_RING];
  t->min_smooth_v = tv_least(t->min_smooth_v, (t->ring_v_s - then_v_s) / period_s);
}

static void take_meter(struct tv_meter_window *w, double v, double step_s) {
  w->now_vs += v * step_s;
  w->now_s += step_s;
  if (w->now_s < TV_METER_PART_S - 1e-9) return;
  /* steps do not always divide a hundredth: each part is brought to its length */
  w->part_vs[w->count++ % TV_METER_PARTS] = w->now_vs * (TV_METER_PART_S / w->now_s);
  w->now_vs = w->now_s = 0;
  if (w->count < TV_METER_PARTS) return;
  double sum_vs = 0;
  for (int k = 0; k < TV_METER_PARTS; k++) sum_vs += w->part_vs[k];
  w->min_v = tv_least(w->min_v, sum_vs / (TV_METER_PARTS * TV_METER_PART_S));
}

/* Current at the terminals: the draw, and what the storage takes or gives. */
static double terminal_a(const struct tv_run *run, int k, double v, double port_v, double draw_a) {
  if (run->amplifier_watch[k] >= 0) return (v - port_v) / run->amplifier[k].internal_ohm;
  int port = run->storage_port[k];
  if (port < 0) return draw_a;
  return draw_a + run->network->conductance_s[port] * (port_v - run->state.storage_v[k]);
}

static void take_minimum(struct tv_run *run, int k, double v, double start_s, double step_s) {
  struct tv_amplifier_total *t = &run->statistics->amplifier[k];
  t->min_v = v;
  t->min_time_s = start_s;
  t->target_at_min_v = run->drive[k].target_v;
  tv_path_look(run, k, false, start_s, v, step_s);
}

static void take_amplifier(struct tv_run *run, int k, double start_s, double step_s) {
  struct tv_statistics *st = run->statistics;
  struct tv_amplifier_block *b = &st->block.amplifier[k];
  struct tv_amplifier_total *t = &st->amplifier[k];
  const struct tv_drive *drive = &run->drive[k];
  const struct tv_load_port *load = &run->solver->load[k];
  double v = tv_run_amplifier_v(run, k);
  double port_v = run->solver->v[load->port], draw_a = load->active ? -run->solver->j[load->port] : 0;
  double input_a = terminal_a(run, k, v, port_v, draw_a);
  b->v += v * step_s;
  b->a += input_a * step_s;
  b->input_j += v * input_a * step_s;
  b->draw_j += port_v * draw_a * step_s;
  if (run->amplifier_watch[k] >= 0)
    b->inner_j += input_a * input_a * run->amplifier[k].internal_ohm * step_s;
  if (drive->wanted_w > 0) {
    const struct tv_amplifier *amplifier = &run->amplifier[k];
    if (load->active)
      b->output_j += tv_clipped_w(load->draw.drive_w, tv_amplifier_clip_w(amplifier, v)) * step_s;
    b->ideal_j += tv_clipped_w(drive->wanted_w, amplifier->rated_w) * step_s;
  }
  if (run->state.amplifier[k].out) b->off_s += step_s;
  if (input_a > t->peak_a) t->peak_a = input_a;
  if (v < t->min_v) take_minimum(run, k, v, start_s, step_s);
  take_smooth(run, t, v, step_s);
  take_meter(&t->meter, v, step_s);
  if (!drive->playing) return;
  b->play_s += step_s;
  b->play_v += v * step_s;
  b->play_a += input_a * step_s;
  const double *drops = run->watch_y + run->drop_watch0 + 2 * k;
  b->plus_v += drops[0] * step_s;
  b->minus_v += drops[1] * step_s;
  if (v < drive->target_v) b->below_s += step_s;
  /* while the engine is started the voltage counts against the lower target of that moment */
  double judged_v = v + drive->shift_v;
  int bin = judged_v > 0 ? (int)(judged_v * (1 / TV_BIN_V)) : 0;
  t->bins[run->phase][bin < TV_BIN_COUNT ? bin : TV_BIN_COUNT - 1] += step_s;
  if (v < t->phase[run->phase].min_v) {
    t->phase[run->phase].min_v = v;
    t->phase[run->phase].min_time_s = start_s;
    t->phase[run->phase].target_v = drive->target_v + drive->shift_v;
  }
}

static void take_alternator(struct tv_run *run, double step_s) {
  struct tv_statistics *st = run->statistics;
  for (int k = 0; k < run->network->source_count; k++) {
    const struct tv_source_law *law = &run->solver->source[k];
    if (law->kind != TV_SOURCE_ALTERNATOR || !law->active) continue;
    int port = run->network->source[k].port;
    double v = run->solver->v[port], a = run->solver->j[port];
    bool at_limit = law->clamp > 0 && law->x_high > TV_FULL_FIELD * run->field_scale;
    st->block.generated_j += v * a * step_s;
    st->block.alternator_as += a * step_s;
    st->block.square_as += a * a * step_s;
    st->block.available_as +=
        (at_limit ? a : tv_alternator_current_a(&run->alternator, law->rotor_rpm, v, run->field_scale)) *
        step_s;
    if (at_limit) st->block.limit_s += step_s;
    if (a > st->alternator_peak_a) st->alternator_peak_a = a;
  }
}

static void take_loads(struct tv_run *run, double step_s) {
  const struct tailvolt_system *sys = run->system;
  struct tv_block *b = &run->statistics->block;
  b->base_as += run->base_a * step_s;
  b->loads_j += run->base_a * run->linear_v[0] * step_s;
  for (int k = 0; k < sys->load_count; k++) {
    double v, a;
    if (run->load_port[k] >= 0) {
      int port = run->load_port[k];
      v = run->linear_v[port];
      a = run->network->conductance_s[port] * v - run->s[port];
    } else {
      int port = run->solver->load[run->load_index[k]].port;
      v = run->solver->v[port];
      a = -run->solver->j[port];
    }
    b->base_as += a * step_s;
    b->loads_j += v * a * step_s;
  }
  if (run->state.now.crank_s >= 0 && run->starter_port >= 0)
    b->loads_j -= run->linear_v[run->starter_port] * run->s[run->starter_port] * step_s;
  for (int k = 0; k < sys->isolator_count; k++) {
    int port = run->isolator_port[k];
    if (port >= 0) {
      double v = run->linear_v[port];
      b->isolator_j += v * (run->network->conductance_s[port] * v - run->s[port]) * step_s;
      continue;
    }
    const struct tv_source_law *law = &run->solver->source[run->converter_source[k]];
    int in = run->solver->load[law->input_load].port, out = run->network->source[run->converter_source[k]].port;
    b->isolator_j -= (run->solver->v[in] * run->solver->j[in] + run->solver->v[out] * run->solver->j[out]) * step_s;
  }
}

static void take_storage(struct tv_run *run, double step_s) {
  struct tv_statistics *st = run->statistics;
  for (int k = 0; k < st->batteries; k++) {
    struct tv_battery_block *b = &st->block.battery[k];
    double v = run->linear_v[k], a = tv_run_battery_a(run, k);
    if (a >= 0) {
      b->out_as += a * step_s;
      b->discharged_j += v * a * step_s;
    } else {
      b->in_as -= a * step_s;
      b->charged_j -= v * a * step_s;
    }
    if (v < st->battery[k].min_v) st->battery[k].min_v = v;
    if (v > st->highest_post_v) st->highest_post_v = v;
  }
  for (int k = 0; k < st->capacitors; k++) {
    int port = run->capacitor_port0 + k;
    double v = run->linear_v[port], a = run->s[port] - run->network->conductance_s[port] * v;
    double loss_j = a * a * run->system->capacitors[k].esr_ohm * step_s;
    st->block.capacitor_j += loss_j;
    tv_sum_add(&st->capacitor[k].loss_j, loss_j);
    st->capacitor[k].min_v = tv_least(st->capacitor[k].min_v, v);
    st->capacitor[k].peak_a = tv_most(st->capacitor[k].peak_a, fabs(a));
  }
}

enum tailvolt_status tv_statistics_take(struct tv_run *run, double start_s, double step_s) {
  struct tv_statistics *st = run->statistics;
  for (int k = 0; k < st->amplifiers; k++) take_amplifier(run, k, start_s, step_s);
  take_alternator(run, step_s);
  take_loads(run, step_s);
  take_storage(run, step_s);
  for (int g = 0; g < st->groups; g++) {
    double a = run->watch_y[g];
    struct tv_group_block *b = &st->block.group[g];
    b->square_as += a * a * step_s;
    b->peak_a = fabs(a) > b->peak_a ? fabs(a) : b->peak_a;
  }
  for (int k = 0; k < st->meters; k++) {
    double v = run->watch_y[run->meter_watch0 + k];
    st->block.meter_vs[k] += v * step_s;
    st->meter[k].min_v = tv_least(st->meter[k].min_v, v);
    st->meter[k].max_v = tv_most(st->meter[k].max_v, v);
  }
  st->block.dt_s += step_s;
  st->fuse_dt_s += step_s;
  if (st->fuse_dt_s >= TV_FUSE_TICK_S - 1e-9) look_at_fuses(run);
  if (st->recorder.sink != NULL) return tv_recorder_take(run, start_s, step_s);
  return TAILVOLT_OK;
}

double tv_statistics_quantile_v(double *const *bins, int count, double frac) {
  double total = 0;
  for (int b = 0; b < count; b++)
    for (int k = 0; k < TV_BIN_COUNT; k++) total += bins[b][k];
  if (!(total > 0)) return (double)NAN;
  double wanted = frac * total, sum = 0;
  for (int k = 0; k < TV_BIN_COUNT; k++) {
    double here = 0;
    for (int b = 0; b < count; b++) here += bins[b][k];
    if (here > 0 && sum + here >= wanted) return TV_BIN_V * (k + (wanted - sum) / here);
    sum += here;
  }
  return TV_BIN_V * TV_BIN_COUNT;
}
