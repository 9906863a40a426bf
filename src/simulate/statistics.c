#include "simulate/statistics.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "parts/alternator_heat.h"
#include "parts/capacitor.h"
#include "parts/conductor.h"
#include "simulate/run.h"

static size_t some(int count) { return count > 0 ? (size_t)count : 1; }

/* ---- making and clearing ---- */

static bool allocate_bins(struct tv_statistics *st) {
  for (int k = 0; k < st->amplifiers; k++) {
    struct tv_amplifier_total *total = &st->amplifier[k];
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
  st->isolators = sys->isolator_count;
  st->meters = sys->meter_count;
  st->loads = sys->load_count;
  st->amplifier = calloc(some(st->amplifiers), sizeof *st->amplifier);
  st->battery = calloc(some(st->batteries), sizeof *st->battery);
  st->conductor = calloc(some(st->conductors), sizeof *st->conductor);
  st->capacitor = calloc(some(st->capacitors), sizeof *st->capacitor);
  st->meter = calloc(some(st->meters), sizeof *st->meter);
  st->fuse = calloc(some(st->conductors), sizeof *st->fuse);
  st->isolator = calloc(some(st->isolators), sizeof *st->isolator);
  st->use_load_frac = calloc(some(TAILVOLT_USES * st->loads), sizeof *st->use_load_frac);
  st->use_plays = calloc(some(TAILVOLT_USES * st->amplifiers), sizeof *st->use_plays);
  st->block.amplifier = calloc(some(st->amplifiers), sizeof *st->block.amplifier);
  st->block.battery = calloc(some(st->batteries), sizeof *st->block.battery);
  st->block.meter_vs = calloc(some(st->meters), sizeof(double));
  st->block.closed_s = calloc(some(st->isolators), sizeof(double));
  if (!st->amplifier || !st->battery || !st->conductor || !st->capacitor || !st->meter || !st->fuse ||
      !st->isolator || !st->block.closed_s || !st->use_load_frac || !st->use_plays || !st->block.amplifier || !st->block.battery ||
      !st->block.meter_vs || !allocate_bins(st))
    return TAILVOLT_NO_MEMORY;
  tv_statistics_clear(st);
  return TAILVOLT_OK;
}

void tv_statistics_free(struct tv_statistics *st) {
  if (st == NULL) return;
  for (int k = 0; st->amplifier != NULL && k < st->amplifiers; k++) {
    for (int p = 0; p < TAILVOLT_PHASES; p++) free(st->amplifier[k].bins[p]);
  }
  free(st->amplifier), free(st->battery), free(st->conductor), free(st->capacitor);
  free(st->meter), free(st->fuse), free(st->isolator), free(st->use_load_frac), free(st->use_plays);
  free(st->block.amplifier), free(st->block.battery), free(st->block.meter_vs), free(st->block.closed_s);
  free(st->recorder.name), free(st->recorder.is_mean), free(st->recorder.cell);
  free(st);
}

static void clear_amplifier(struct tv_amplifier_total *total) {
  double *bins[TAILVOLT_PHASES];
  memcpy(bins, total->bins, sizeof bins);
  for (int p = 0; p < TAILVOLT_PHASES; p++)
    if (tv_sum_value(&total->phase[p].play_s) > 0) memset(bins[p], 0, TV_BIN_COUNT * sizeof(double));
  memset(total, 0, sizeof *total);
  memcpy(total->bins, bins, sizeof bins);
  total->min_v = total->start_min_v = total->min_smooth_v = total->meter.min_v = HUGE_VAL;
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
  st->block.meter_vs = kept.meter_vs;
  st->block.closed_s = kept.closed_s;
  memset(kept.amplifier, 0, (size_t)st->amplifiers * sizeof *kept.amplifier);
  memset(kept.battery, 0, (size_t)st->batteries * sizeof *kept.battery);
  memset(kept.meter_vs, 0, (size_t)st->meters * sizeof(double));
  memset(kept.closed_s, 0, (size_t)st->isolators * sizeof(double));
}

void tv_statistics_clear(struct tv_statistics *st) {
  tv_lamp_clear(&st->lamp);
  clear_block(st);
  st->dt_s = st->generated_j = st->alternator_as = st->available_as = st->limit_s = (struct tv_sum){0, 0};
  st->turns = (struct tv_sum){0, 0};
  st->engine_s = st->shaft_j = st->loads_j = st->isolator_j = st->capacitor_j = (struct tv_sum){0, 0};
  st->conductor_j = st->inner_j = (struct tv_sum){0, 0};
  st->alternator_peak_a = 0;
  st->load_collapsed = false;
  st->load_collapse_s = (double)NAN;
  st->crank_v = HUGE_VAL;
  st->no_start_v = st->no_start_needs_v = st->no_start_s = (double)NAN;
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
  memset(st->isolator, 0, (size_t)st->isolators * sizeof *st->isolator);
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
  struct tv_statistics *st = run->statistics;
  for (int k = 0; k < st->conductors; k++) {
    int g = run->conductor_group[k];
    double square_as = TV_HOT(run->hot, group)[g].square_as, peak_a = TV_HOT(run->hot, group_sum)[g].peak_a;
    struct tv_conductor_total *t = &st->conductor[k];
    double ohm = run->state.conductor_ohm[k];
    tv_sum_add(&t->square_as, square_as);
    tv_sum_add(&t->loss_j, square_as * ohm);
    tv_sum_add(&st->conductor_j, square_as * ohm);
    t->peak_a = tv_most(t->peak_a, peak_a);
    t->max_drop_v = tv_most(t->max_drop_v, peak_a * ohm);
  }
  for (int g = 0; g < st->groups; g++) TV_HOT(run->hot, group_sum)[g].peak_a = 0;
}

double tv_run_rated_a(const struct tv_run *run) {
  const struct tailvolt_alternator *spec = &run->system->alternator;
  return isnan(spec->fixed_output_a) ? spec->rated_a : spec->fixed_output_a;
}

/* Share of the field at the block's end. Without a field lag no field state counts: the share of the output stands for it. */
double tv_run_field_share(const struct tv_run *run, double elapsed_s) {
  const struct tv_hot_source *s = TV_HOT(run->hot, source);
  if (run->system->alternator.field_s > 0) return s->field_frac;
  return tv_least(s->heat_as / elapsed_s / tv_run_rated_a(run), 1);
}

/* What the engine turns. Speed and field are those at the block's end. */
static void fold_alternator(struct tv_run *run) {
  struct tv_statistics *st = run->statistics;
  struct tv_block *b = &st->block;
  if (!run->layout->alternator) return;
  const struct tv_hot_source *s = TV_HOT(run->hot, source);
  b->generated_j = s->heat_j;
  b->alternator_as = s->heat_as;
  double rotor_rpm = run->state.now.engine_on ? tv_run_rpm(run, run->now_s) * run->system->alternator.pulley_ratio : 0;
  if (!(rotor_rpm > 0)) return;
  double loss_w = tv_alternator_loss_w(tv_run_rated_a(run), s->heat_as / b->dt_s, s->heat_a2s / b->dt_s, run->set_v,
                                       tv_run_field_share(run, b->dt_s), rotor_rpm, run->state.now.copper_c);
  tv_sum_add(&st->shaft_j, b->generated_j + loss_w * b->dt_s);
  tv_sum_add(&st->turns, rotor_rpm / 60 * b->dt_s);
}

static void fold_currents(struct tv_phase_total *to, const struct tv_block *b) {
  tv_sum_add(&to->dt_s, b->dt_s);
  tv_sum_add(&to->available_as, b->available_as);
  tv_sum_add(&to->generation_as, b->alternator_as);
  tv_sum_add(&to->base_as, b->base_as);
}

/* ---- the loop's sums ---- */

void tv_statistics_clear_sums(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  memset(run->hot->d + y->totals, 0, (size_t)(y->end - y->totals) * sizeof(double));
  for (int k = 0; k < y->amplifiers; k++) TV_HOT(run->hot, amplifier_sum)[k].lowest_v = HUGE_VAL;
  tv_run_pack_minima(run);
  run->stale_row = true; /* the ripple period too */
}

void tv_run_leave_out_sums(struct tv_run *run) { run->hot->unsummed = true; }

void tv_run_look_back(struct tv_run *run, double *charge_c, double *energy_j, double *lowest_v) {
  for (int k = 0; k < run->layout->batteries; k++) {
    struct tv_hot_battery_sum *sum = &TV_HOT(run->hot, battery_sum)[k];
    *charge_c += (sum->out_a - sum->in_a) * run->step_s;
    *energy_j += (sum->discharged_w - sum->charged_w) * run->step_s;
    sum->out_a = sum->in_a = sum->discharged_w = sum->charged_w = 0;
  }
  for (int k = 0; k < run->layout->amplifiers; k++) {
    struct tv_hot_amplifier_sum *sum = &TV_HOT(run->hot, amplifier_sum)[k];
    if (run->drive[k].playing) *lowest_v = tv_least(*lowest_v, sum->lowest_v);
    sum->lowest_v = HUGE_VAL;
  }
}

void tv_run_pack_lowest(struct tv_run *run, int k) {
  struct tv_hot_amplifier_sum *sum = &TV_HOT(run->hot, amplifier_sum)[k];
  const struct tv_amplifier_total *t = &run->statistics->amplifier[k];
  if (run->hot->unsummed) { /* no voltage is news */
    sum->min_v = sum->phase_min_v = -HUGE_VAL;
    return;
  }
  sum->min_v = run->in_grace ? t->start_min_v : t->min_v;
  sum->phase_min_v = run->in_grace ? t->start_min_v : t->phase[run->phase].min_v;
}

void tv_run_pack_minima(struct tv_run *run) {
  const struct tv_statistics *st = run->statistics;
  const struct tv_hot *hot = run->hot;
  for (int k = 0; k < st->amplifiers; k++) {
    struct tv_hot_amplifier_sum *sum = &TV_HOT(hot, amplifier_sum)[k];
    const struct tv_amplifier_total *t = &st->amplifier[k];
    tv_run_pack_lowest(run, k);
    sum->min_smooth_v = t->min_smooth_v;
    sum->peak_a = t->peak_a;
  }
  for (int k = 0; k < st->batteries; k++) {
    TV_HOT(hot, battery_sum)[k].min_v = st->battery[k].min_v;
    TV_HOT(hot, battery_sum)[k].max_v = st->highest_post_v;
  }
  for (int k = 0; k < st->capacitors; k++) {
    TV_HOT(hot, capacitor_sum)[k].min_v = st->capacitor[k].min_v;
    TV_HOT(hot, capacitor_sum)[k].peak_a = st->capacitor[k].peak_a;
  }
  for (int k = 0; k < st->meters; k++) {
    TV_HOT(hot, meter_sum)[k].min_v = st->meter[k].min_v;
    TV_HOT(hot, meter_sum)[k].max_v = st->meter[k].max_v;
  }
  if (run->layout->alternator) TV_HOT(hot, source_sum)->peak_a = st->alternator_peak_a;
}

void tv_statistics_show(struct tv_run *run) {
  struct tv_statistics *st = run->statistics;
  const struct tv_hot *hot = run->hot;
  for (int k = 0; k < st->amplifiers; k++) {
    st->amplifier[k].min_smooth_v = TV_HOT(hot, amplifier_sum)[k].min_smooth_v;
    st->amplifier[k].peak_a = TV_HOT(hot, amplifier_sum)[k].peak_a;
  }
  for (int k = 0; k < st->batteries; k++) {
    st->battery[k].min_v = TV_HOT(hot, battery_sum)[k].min_v;
    st->highest_post_v = tv_most(st->highest_post_v, TV_HOT(hot, battery_sum)[k].max_v);
  }
  for (int k = 0; k < st->capacitors; k++) {
    st->capacitor[k].min_v = TV_HOT(hot, capacitor_sum)[k].min_v;
    st->capacitor[k].peak_a = TV_HOT(hot, capacitor_sum)[k].peak_a;
  }
  for (int k = 0; k < st->meters; k++) {
    st->meter[k].min_v = TV_HOT(hot, meter_sum)[k].min_v;
    st->meter[k].max_v = TV_HOT(hot, meter_sum)[k].max_v;
  }
  if (run->layout->alternator) st->alternator_peak_a = TV_HOT(hot, source_sum)->peak_a;
}

void tv_meter_take(struct tv_meter_window *w, double v_s, double length_s) {
  /* steps do not always divide a hundredth: each part is scaled to its length */
  double part_vs = v_s * (TV_METER_PART_S / length_s), sum_vs = 0;
  w->part_vs[w->count++ % TV_METER_PARTS] = part_vs;
  /* while no part is below the lowest reading, no window is */
  w->above = part_vs >= w->min_v * TV_METER_PART_S ? w->above + 1 : 0;
  if (w->count < TV_METER_PARTS || w->above >= TV_METER_PARTS) return;
  for (int k = 0; k < TV_METER_PARTS; k++) sum_vs += w->part_vs[k];
  w->min_v = tv_least(w->min_v, sum_vs / (TV_METER_PARTS * TV_METER_PART_S));
}

/* Sum over the steps of a value that is a row of the network: that row times the sums of its columns. */
static double sum_of_row(const struct tv_run *run, const double *row) {
  const struct tv_layout *y = run->layout;
  const struct tv_network *n = run->network;
  const double *z = run->hot->d + y->z_sum;
  double sum = 0, steps = z[y->columns], constant = 0;
  for (int k = 0; k < y->batteries; k++) sum += row[k] * TV_HOT(run->hot, battery)[k].conductance_s * z[k];
  for (int k = 0; k < y->capacitors; k++)
    sum += row[run->capacitor_port0 + k] * TV_HOT(run->hot, capacitor)[k].conductance_s * z[y->batteries + k];
  for (int k = 0; k < y->amplifiers; k++)
    if (y->storage[k] >= 0)
      sum += row[run->storage_port[k]] * TV_HOT(run->hot, amplifier)[k].storage_s * z[y->storage[k]];
  for (int k = 0; k < y->unknowns; k++) sum += row[n->linear_count + n->source_count + k] * z[y->unknown_column + k];
  for (int k = 0; k < y->ports; k++) {
    const struct tv_hot_port *port = &TV_HOT(run->hot, port)[k];
    if (!(port->low > 0)) constant -= row[k == 0 ? y->start_battery : run->load_port0 + k - 1] * port->constant_a;
  }
  for (int k = 0; k < y->isolators; k++)
    if (run->isolator_port[k] >= 0) constant += row[run->isolator_port[k]] * TV_HOT(run->hot, isolator)[k].source_a;
  return sum + constant * steps;
}

static double sum_of_watch(const struct tv_run *run, int watch) {
  const struct tv_network *n = run->network;
  return sum_of_row(run, n->row + (n->linear_count + watch) * n->width);
}

static void collect_amplifier(struct tv_run *run, int k, double steps, double h) {
  struct tv_amplifier_block *b = &run->statistics->block.amplifier[k];
  struct tv_hot_amplifier_sum *sum = &TV_HOT(run->hot, amplifier_sum)[k];
  const struct tv_hot_amplifier *a = &TV_HOT(run->hot, amplifier)[k];
  int stiff = run->layout->capacitors + k;
  double loss_ohm = tv_capacitor_loss_ohm(run->amplifier[k].internal_f, h, run->state.stiff[stiff]);
  b->v += sum->v * h;
  b->a += sum->a * h;
  b->input_j += sum->input_w * h;
  b->draw_j += sum->draw_w * h;
  b->output_j += sum->output_w * h;
  b->ideal_j += sum->ideal_w * h;
  b->inner_j += sum->square_a2 * a->inside_ohm * h;
  if (run->storage_port[k] >= 0) b->inner_j += sum->storage_a2 * loss_ohm * h;
  b->off_s += sum->off * h;
  b->below_s += sum->below * h;
  if (a->plays > 0) {
    b->play_s += steps * h;
    b->play_v += sum->v * h;
    b->play_a += sum->a * h;
    b->plus_v += sum_of_watch(run, run->drop_watch0 + 2 * k) * h;
    b->minus_v += sum_of_watch(run, run->drop_watch0 + 2 * k + 1) * h;
  }
  sum->v = sum->a = sum->input_w = sum->draw_w = sum->output_w = sum->ideal_w = 0;
  sum->square_a2 = sum->storage_a2 = sum->off = sum->below = 0;
}

/* Loads at one port, at the first the base load, at another the starter: constant currents (fading below the taper), resistances. */
static void collect_port(struct tv_run *run, int k, double steps, double h) {
  const struct tailvolt_system *sys = run->system;
  struct tv_block *b = &run->statistics->block;
  struct tv_hot_port_sum *sum = &TV_HOT(run->hot, port_sum)[k];
  const struct tv_hot_port *port = &TV_HOT(run->hot, port)[k];
  int linear = k == 0 ? run->layout->start_battery : run->load_port0 + k - 1;
  double sum_v = sum_of_row(run, run->network->row + linear * run->network->width);
  double share = port->low > 0 ? sum_v / TV_TAPER_V : steps; /* for the constant currents, over the steps */
  double share_v = port->low > 0 ? sum->square_v2 / TV_TAPER_V : sum_v, conductance_s = 0;
  double counted_a = k == 0 ? run->base_a : 0; /* all except the starter */
  for (int j = 0; j < sys->load_count; j++) {
    if (k == 0 || run->load_port[j] != linear) continue;
    conductance_s += tv_load_conductance_s(&sys->loads[j], run->load_on[j]);
    counted_a += tv_load_current_a(&sys->loads[j], run->load_on[j]);
  }
  b->base_as += (counted_a * share + conductance_s * sum_v) * h;
  b->loads_j += (port->constant_a * share_v + conductance_s * sum->square_v2) * h;
  if (k == 0) b->further_as += run->base_a * steps * h;
  sum->square_v2 = 0;
}

static void collect_loads(struct tv_run *run, double steps, double h) {
  const struct tv_layout *y = run->layout;
  struct tv_block *b = &run->statistics->block;
  const double *z = run->hot->d + y->z_sum;
  for (int k = 0; k < y->ports; k++) collect_port(run, k, steps, h);
  for (int k = y->first_load; k < y->unknowns; k++) {
    double drawn_j = -TV_HOT(run->hot, unknown_sum)[k].w * h;
    TV_HOT(run->hot, unknown_sum)[k].w = 0;
    if (k >= y->first_converter) {
      b->isolator_j += drawn_j;
      continue;
    }
    b->base_as -= z[y->unknown_column + k] * h;
    b->loads_j += drawn_j;
  }
  for (int k = 0; k < y->isolators; k++) {
    b->isolator_j += TV_HOT(run->hot, isolator_sum)[k].w * h;
    TV_HOT(run->hot, isolator_sum)[k].w = 0;
  }
}

static void collect_storage(struct tv_run *run, double h) {
  struct tv_statistics *st = run->statistics;
  for (int k = 0; k < st->batteries; k++) {
    struct tv_hot_battery_sum *sum = &TV_HOT(run->hot, battery_sum)[k];
    struct tv_battery_block *b = &st->block.battery[k];
    b->out_as += sum->out_a * h;
    b->in_as += sum->in_a * h;
    b->discharged_j += sum->discharged_w * h;
    b->charged_j += sum->charged_w * h;
    sum->out_a = sum->in_a = sum->discharged_w = sum->charged_w = 0;
  }
  for (int k = 0; k < st->capacitors; k++) {
    const struct tailvolt_capacitor *c = &run->system->capacitors[k];
    struct tv_hot_capacitor_sum *sum = &TV_HOT(run->hot, capacitor_sum)[k];
    double loss_ohm = c->esr_ohm + tv_capacitor_loss_ohm(c->capacitance_f, h, run->state.stiff[k]);
    double loss_j = sum->square_a2 * loss_ohm * h;
    st->block.capacitor_j += loss_j;
    tv_sum_add(&st->capacitor[k].loss_j, loss_j);
    sum->square_a2 = 0;
  }
}

void tv_statistics_collect(struct tv_run *run) {
  const struct tv_layout *y = run->layout;
  struct tv_statistics *st = run->statistics;
  double *z = run->hot->d + y->z_sum, steps = z[y->columns], h = run->step_s;
  if (!run->packed || !(steps > 0) || run->hot->unsummed) return;
  for (int k = 0; k < st->meters; k++) {
    int value = y->meter_value[k];
    bool terminals = value >= y->terminal_v;
    double sum_v = terminals ? TV_HOT(run->hot, amplifier_sum)[value - y->terminal_v].v
                             : sum_of_watch(run, run->meter_watch0 + k);
    st->block.meter_vs[k] += sum_v * h;
  }
  for (int k = 0; k < st->amplifiers; k++) collect_amplifier(run, k, steps, h);
  collect_loads(run, steps, h);
  collect_storage(run, h);
  if (y->alternator) {
    struct tv_hot_source_sum *sum = TV_HOT(run->hot, source_sum);
    st->block.available_as += sum->available_a * h;
    st->block.limit_s += sum->at_limit * h;
    sum->available_a = sum->at_limit = 0;
  }
  for (int k = 0; k < st->isolators; k++)
    if (TV_HOT(run->hot, isolator)[k].closed > 0) st->block.closed_s[k] += steps * h;
  st->block.dt_s += steps * h;
  memset(z, 0, (size_t)(y->columns + 1) * sizeof(double));
  tv_statistics_show(run);
}

void tv_statistics_fold(struct tv_run *run) {
  struct tv_statistics *st = run->statistics;
  struct tv_block *b = &st->block;
  tv_statistics_collect(run);
  if (!(b->dt_s > 0)) return;
  fold_alternator(run);
  struct tv_phase_total *phase = &st->phase[run->phase], *use = &st->use[run->use].currents;
  tv_sum_add(&st->dt_s, b->dt_s);
  if (run->phase != TAILVOLT_PARKED) tv_sum_add(&st->engine_s, b->dt_s);
  tv_sum_add(&st->generated_j, b->generated_j);
  tv_sum_add(&st->alternator_as, b->alternator_as);
  tv_sum_add(&st->available_as, b->available_as);
  tv_sum_add(&st->limit_s, b->limit_s);
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
    tv_sum_add(&t->use_as[run->use], b->battery[k].in_as - b->battery[k].out_as);
    tv_sum_add(&phase->battery_as, b->battery[k].in_as - b->battery[k].out_as);
    tv_sum_add(&use->battery_as, b->battery[k].in_as - b->battery[k].out_as);
    t->min_soc_frac = tv_least(t->min_soc_frac, tv_battery_soc_frac(run->battery[k], &run->state.battery[k]));
  }
  for (int k = 0; k < st->isolators; k++) tv_sum_add(&st->isolator[k].closed_s[run->phase], b->closed_s[k]);
  for (int k = 0; k < st->meters; k++) tv_sum_add(&st->meter[k].v, b->meter_vs[k]);
  fold_conductors(run);
  clear_block(st);
}

double tv_statistics_quantile_v(double *const *bins, int count, double frac) {
  /* a voltage fills few of the bins; what is empty below and above changes no sum */
  int first = TV_BIN_COUNT, end = 0;
  for (int b = 0; b < count; b++) {
    int low = 0, high = TV_BIN_COUNT;
    while (low < first && bins[b][low] == 0) low++;
    while (high > end && bins[b][high - 1] == 0) high--;
    if (low < first) first = low;
    if (high > end) end = high;
  }
  double total = 0;
  for (int b = 0; b < count; b++)
    for (int k = first; k < end; k++) total += bins[b][k];
  if (!(total > 0)) return (double)NAN;
  double wanted = frac * total, sum = 0;
  for (int k = first; k < end; k++) {
    double here = 0;
    for (int b = 0; b < count; b++) here += bins[b][k];
    if (here > 0 && sum + here >= wanted) return TV_BIN_V * (k + (wanted - sum) / here);
    sum += here;
  }
  return TV_BIN_V * TV_BIN_COUNT;
}
