/* Engine speed from road speed: n = v times the gear's factor, at least idle; n = v i_g i_f / (0.06 U) with the ratios
 * of gear and final drive and the rolling circumference U in metres gives the factors. */
#include "tailvolt/drive.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define STEP_S 1.0 /* a gear is chosen at least this often */

void tailvolt_drive_options_init(struct tailvolt_drive_options *options, size_t size) {
  struct tailvolt_drive_options all = {.size = size,
                                       .gears = TAILVOLT_GEARS_FIXED,
                                       .gear_count = 5,
                                       .gear_rpm = {124, 68, 45, 33, 27},
                                       .idle_rpm = 750,
                                       .rated_rpm = 6000,
                                       .start_before_s = 1,
                                       .thin_rpm = 1};
  memcpy(options, &all, size < sizeof all ? size : sizeof all);
}

static bool options_are_right(const struct tailvolt_drive_options *options) {
  if (options->size != sizeof *options || options->gear_count < 1 || options->gear_count > TAILVOLT_GEARS_MAX) return false;
  for (int k = 0; k < options->gear_count; k++)
    if (!(options->gear_rpm[k] > 0) || (k > 0 && !(options->gear_rpm[k] < options->gear_rpm[k - 1]))) return false;
  return options->idle_rpm > 0 && options->rated_rpm > options->idle_rpm && options->stop_after_s >= 0 &&
         options->start_before_s >= 0 && options->thin_rpm >= 0;
}

/* UN R83 changes up at these speeds; the last two are common practice. */
static int gear_by_speed(const struct tailvolt_drive_options *options, double speed_kmh) {
  static const double up_kmh[TAILVOLT_GEARS_MAX - 1] = {15, 35, 50, 70, 90, 110, 130};
  int gear = 1;
  while (gear < options->gear_count && speed_kmh > up_kmh[gear - 1]) gear++;
  return gear;
}

/* UN GTR 15, Annex 2, lower bounds of the engine speed. */
static int gear_highest(const struct tailvolt_drive_options *options, double speed_kmh) {
  double idle_rpm = options->idle_rpm;
  for (int gear = options->gear_count; gear > 1; gear--) {
    double least_rpm = gear == 2 ? 0.9 * idle_rpm : idle_rpm + 0.125 * (options->rated_rpm - idle_rpm);
    if (speed_kmh * options->gear_rpm[gear - 1] >= least_rpm) return gear;
  }
  return 1;
}

static void choose_gear(const struct tailvolt_drive_options *options, int prescribed,
                        struct tailvolt_drive_moment *moment) {
  moment->gear = 0;
  moment->engine_rpm = options->idle_rpm;
  if (!(moment->speed_kmh > 0)) return;
  if (options->gears == TAILVOLT_GEARS_OF_TRACE && prescribed >= 0)
    moment->gear = prescribed < options->gear_count ? prescribed : options->gear_count;
  else if (options->gears == TAILVOLT_GEARS_HIGHEST)
    moment->gear = gear_highest(options, moment->speed_kmh);
  else
    moment->gear = gear_by_speed(options, moment->speed_kmh);
  if (moment->gear > 0)
    moment->engine_rpm = fmax(options->idle_rpm, moment->speed_kmh * options->gear_rpm[moment->gear - 1]);
}

/* Parts that the stretch from sample k to the next is cut into. */
static int parts_of(const struct tailvolt_trace *trace, int k) {
  double length_s = trace->time_s[k + 1] - trace->time_s[k];
  bool flat = trace->speed_kmh[k] == trace->speed_kmh[k + 1];
  return flat || length_s <= STEP_S * (1 + 1e-9) ? 1 : (int)ceil(length_s / STEP_S - 1e-9);
}

static bool make_moments(struct tailvolt_drive *drive, const struct tailvolt_trace *trace,
                         const struct tailvolt_drive_options *options) {
  long long count = 1;
  for (int k = 0; k + 1 < trace->count; k++) count += parts_of(trace, k);
  /* stop-start adds at most two moments to each stop */
  if (count > 100000000) return false;
  drive->moments = calloc((size_t)(3 * count + 2), sizeof *drive->moments);
  if (drive->moments == NULL) return false;
  for (int k = 0; k < trace->count; k++) {
    int parts = k + 1 < trace->count ? parts_of(trace, k) : 1;
    for (int p = 0; p < parts; p++) {
      double share = (double)p / parts;
      struct tailvolt_drive_moment *moment = &drive->moments[drive->count++];
      moment->time_s = trace->time_s[k];
      moment->speed_kmh = trace->speed_kmh[k];
      if (p > 0) {
        moment->time_s += share * (trace->time_s[k + 1] - trace->time_s[k]);
        moment->speed_kmh += share * (trace->speed_kmh[k + 1] - trace->speed_kmh[k]);
      }
      choose_gear(options, p == 0 ? trace->gear[k] : trace->gear[k + 1], moment);
    }
  }
  return true;
}

static void summarize(struct tailvolt_drive *drive, const struct tailvolt_drive_options *options) {
  struct tailvolt_drive_summary *summary = &drive->summary;
  const struct tailvolt_drive_moment *moments = drive->moments;
  int idle = 0;
  for (int k = 0; k < drive->count; k++) {
    summary->mean_rpm += moments[k].engine_rpm;
    idle += moments[k].engine_rpm <= options->idle_rpm;
    summary->highest_kmh = fmax(summary->highest_kmh, moments[k].speed_kmh);
    if (k == 0) continue;
    double length_s = moments[k].time_s - moments[k - 1].time_s;
    double both_kmh = moments[k].speed_kmh + moments[k - 1].speed_kmh;
    summary->distance_m += 0.5 * both_kmh / 3.6 * length_s;
    if (!(both_kmh > 0)) summary->standing_s += length_s;
  }
  summary->duration_s = moments[drive->count - 1].time_s - moments[0].time_s;
  summary->mean_kmh = 3.6 * summary->distance_m / summary->duration_s;
  summary->mean_rpm /= drive->count;
  summary->idle_frac = (double)idle / drive->count;
}

static void insert_moment(struct tailvolt_drive *drive, int at, double time_s, double engine_rpm) {
  struct tailvolt_drive_moment *moments = drive->moments;
  memmove(&moments[at + 1], &moments[at], (size_t)(drive->count - at) * sizeof *moments);
  moments[at] = (struct tailvolt_drive_moment){.time_s = time_s, .engine_rpm = engine_rpm};
  drive->count++;
}

/* First moment at or after `time_s` within [from, to], inserted where there is none. */
static int moment_at(struct tailvolt_drive *drive, int from, double time_s, double engine_rpm) {
  int k = from;
  while (k < drive->count && drive->moments[k].time_s < time_s - 1e-9) k++;
  if (k == drive->count || drive->moments[k].time_s > time_s + 1e-9) insert_moment(drive, k, time_s, engine_rpm);
  return k;
}

/* Stop-start: the engine stops once the vehicle has stood for stop_after_s and starts start_before_s before it moves
 * off. A stop too short for both idles through. */
static void stop_engine(struct tailvolt_drive *drive, const struct tailvolt_drive_options *options) {
  struct tailvolt_drive_summary *summary = &drive->summary;
  for (int k = 0; k < drive->count; k++) {
    if (drive->moments[k].speed_kmh > 0) continue;
    int last = k;
    while (last + 1 < drive->count && !(drive->moments[last + 1].speed_kmh > 0)) last++;
    bool to_the_end = last + 1 == drive->count;
    double stop_s = drive->moments[k].time_s + options->stop_after_s;
    double start_s = drive->moments[last].time_s - (to_the_end ? 0 : options->start_before_s);
    if (start_s > stop_s + 1e-9) {
      int count = drive->count;
      int stop = moment_at(drive, k, stop_s, options->idle_rpm);
      int start = moment_at(drive, stop, start_s, options->idle_rpm);
      for (int m = stop; m < start || (to_the_end && m == start); m++) drive->moments[m].engine_rpm = 0;
      summary->stopped_s += start_s - stop_s;
      summary->stops++;
      last += drive->count - count;
    }
    k = last;
  }
}

enum tailvolt_status tailvolt_drive_create(const struct tailvolt_trace *trace,
                                           const struct tailvolt_drive_options *options,
                                           struct tailvolt_drive **out) {
  *out = NULL;
  if (trace->count < 2 || !options_are_right(options)) return TAILVOLT_BAD_INPUT;
  struct tailvolt_drive *drive = calloc(1, sizeof *drive);
  if (drive == NULL || !make_moments(drive, trace, options)) {
    tailvolt_drive_free(drive);
    return TAILVOLT_NO_MEMORY;
  }
  if (options->stop_after_s > 0) stop_engine(drive, options);
  summarize(drive, options);
  *out = drive;
  return TAILVOLT_OK;
}

void tailvolt_drive_free(struct tailvolt_drive *drive) {
  if (drive == NULL) return;
  free(drive->moments);
  free(drive);
}
