/* Running statistics in constant memory. The loop adds plain sums in its own block (simulate/hot.h); where something they
 * depend on changes they are collected here, and about once a second folded into compensated totals. */
#ifndef TV_SIMULATE_STATISTICS_H
#define TV_SIMULATE_STATISTICS_H

#include "simulate/lamp.h"
#include "tailvolt/result.h"
#include "tailvolt/simulate.h"

#define TV_BIN_V 0.001
#define TV_BIN_COUNT 20480

/* Neumaier's compensated sum. */
struct tv_sum { double sum, rest; };
static inline void tv_sum_add(struct tv_sum *s, double x) {
  double t = s->sum + x;
  s->rest += (s->sum >= 0 ? s->sum : -s->sum) >= (x >= 0 ? x : -x) ? (s->sum - t) + x : (x - t) + s->sum;
  s->sum = t;
}
static inline double tv_sum_value(const struct tv_sum *s) { return s->sum + s->rest; }

/* A multimeter's reading is a mean over a tenth of a second: a window sliding by hundredths. */
#define TV_METER_PARTS 10
#define TV_METER_PART_S 0.01
struct tv_meter_window { double part_vs[TV_METER_PARTS], min_v; int count, above; };

/* One block of steps; zeroed when folded. */
struct tv_amplifier_block {
  double v, a, input_j, draw_j, output_j, ideal_j, inner_j;
  double play_s, play_v, play_a, plus_v, minus_v, off_s, below_s;
};
struct tv_battery_block { double in_as, out_as, discharged_j, charged_j; };

struct tv_block {
  double dt_s;
  double generated_j, alternator_as, square_as, available_as, limit_s;
  double base_as, loads_j, isolator_j, capacitor_j;
  double further_as;            /* base load without the loads */
  struct tv_amplifier_block *amplifier;
  struct tv_battery_block *battery;
  double *meter_vs;
  double *closed_s;             /* [isolators] */
};

struct tv_amplifier_total {
  struct tv_sum v, a, input_j, draw_j, output_j, ideal_j;
  struct tv_sum play_s, play_v, play_a, plus_v, minus_v, off_s;
  double rest_v, min_v, min_time_s, min_smooth_v, peak_a, target_at_min_v;
  int cut_outs, collapses;
  int start_cut_outs;             /* among the cut-outs, those during an engine start */
  double start_min_v;             /* lowest during an engine start; counts in none of the other lowest voltages */
  double kept_smooth_v, kept_meter_v; /* what those two were when the start began */
  double first_collapse_s;
  struct { struct tv_sum play_s, below_s, a; double min_v, min_time_s, target_v; } phase[TAILVOLT_PHASES];
  double *bins[TAILVOLT_PHASES];  /* seconds at each millivolt while playing; NULL until the phase occurs */
  struct tv_meter_window meter;
};

struct tv_battery_total {
  struct tv_sum in_as, out_as, discharged_j, charged_j, phase_as[TAILVOLT_PHASES], use_as[TAILVOLT_USES];
  double min_v, start_soc_frac, min_soc_frac, start_loss_j;
};

struct tv_conductor_total { struct tv_sum square_as, loss_j; double peak_a, max_drop_v; };
struct tv_capacitor_total { struct tv_sum loss_j; double min_v, peak_a; };
struct tv_meter_total { struct tv_sum v; double rest_v, min_v, max_v; };
struct tv_fuse_total { double opens_time_s; bool may; };
struct tv_isolator_total { struct tv_sum closed_s[TAILVOLT_PHASES]; };

struct tv_phase_total {
  struct tv_sum dt_s, available_as, generation_as, base_as, amplifier_as, battery_as;
};

struct tv_use_total {
  struct tv_phase_total currents;
  struct tv_sum label_as, own_voltage_as, generated_j, copper_c_s, kept_as, further_as;
};

struct tv_recorder {
  const struct tailvolt_record_sink *sink;
  int column_count;
  char (*name)[TAILVOLT_NAME_MAX + 32];
  bool *is_mean;                /* for each column: summed over time, else its minimum or maximum is kept */
  double *cell;                 /* accumulating */
  double every_s, start_s, dt_s;
  long long index;
};

struct tv_statistics {
  int amplifiers, batteries, capacitors, conductors, groups, isolators, meters;
  struct tv_block block;
  struct tv_sum dt_s, generated_j, alternator_as, available_as, limit_s, engine_s, shaft_j, turns;
  struct tv_sum loads_j, isolator_j, capacitor_j, conductor_j, inner_j;
  double alternator_peak_a;
  double start_stored_j;
  struct tv_phase_total phase[TAILVOLT_PHASES];
  struct tv_use_total use[TAILVOLT_USES];
  double *use_load_frac;        /* [uses][loads] most each was on */
  bool *use_plays;              /* [uses][amplifiers] */
  int loads;
  double charge_mark_c;         /* of all batteries at the last fold */
  struct tv_amplifier_total *amplifier;
  struct tv_battery_total *battery;
  struct tv_conductor_total *conductor;
  struct tv_capacitor_total *capacitor;
  struct tv_meter_total *meter;
  struct tv_fuse_total *fuse;   /* one a conductor */
  struct tv_isolator_total *isolator;
  struct tv_recorder recorder;
  bool load_collapsed;
  double load_collapse_s;
  /* the start under way: lowest at the posts once its inrush is over; the first that failed to turn the engine, NAN =
   * none */
  double crank_v, no_start_v, no_start_needs_v, no_start_s;
  struct tv_lamp lamp;
  double highest_post_v;        /* over all batteries */
};

struct tv_run;

TAILVOLT_CHECKED enum tailvolt_status tv_statistics_create(const struct tv_run *run,
                                                           struct tv_statistics **out);
void tv_statistics_free(struct tv_statistics *statistics);
/* Resets to nothing gathered. */
void tv_statistics_clear(struct tv_statistics *statistics);
/* Resets the loop's sums. */
void tv_statistics_clear_sums(struct tv_run *run);
/* Takes over the loop's sums into the block: before a step length, a row's playing or targets, a load or a reduction changes. */
void tv_statistics_collect(struct tv_run *run);
/* Adds a hundredth of a second of an amplifier's voltage, as a multimeter sees it. */
void tv_meter_take(struct tv_meter_window *window, double v_s, double length_s);
/* Copies minimum and maximum so far to the totals: involves no sum, may be done at any time. */
void tv_statistics_show(struct tv_run *run);
/* Collects, and folds the block into the totals (of the run's present phase), before the slow clocks clear the heat
 * sums. */
void tv_statistics_fold(struct tv_run *run);
/* Voltage below which `frac` of the seconds lie; NAN without any. Adds up `count` histograms of one amplifier. */
double tv_statistics_quantile_v(double *const *bins, int count, double frac);

TAILVOLT_CHECKED enum tailvolt_status tv_recorder_open(struct tv_run *run);
TAILVOLT_CHECKED enum tailvolt_status tv_recorder_take(struct tv_run *run, double start_s, double step_s);
TAILVOLT_CHECKED enum tailvolt_status tv_recorder_close(struct tv_run *run);

#endif
