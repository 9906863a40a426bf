/* Rows of a record for the moving picture. */
#include "page/trace.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/lamp.h"

static int place_of(const char *const *names, int count, const char *part, const char *quantity) {
  char wanted[TAILVOLT_NAME_MAX + 32];
  snprintf(wanted, sizeof wanted, "%s:%s", part, quantity);
  for (int k = 0; k < count; k++)
    if (strcmp(names[k], wanted) == 0) return k;
  return -1;
}

static int take_columns(void *context, const char *const *names, int count) {
  struct tv_page_trace *trace = context;
  const struct tailvolt_system *system = trace->system;
  trace->takes = calloc((size_t)system->amplifier_count + 1, sizeof *trace->takes);
  trace->gives = calloc((size_t)system->battery_count + 1, sizeof *trace->gives);
  trace->failed = trace->takes == NULL || trace->gives == NULL;
  if (trace->failed) return 1;
  for (int k = 0; k < system->amplifier_count; k++)
    trace->takes[k] = place_of(names, count, system->amplifiers[k].name, "a_mean");
  for (int k = 0; k < system->battery_count; k++)
    trace->gives[k] = place_of(names, count, system->batteries[k].name, "a_mean");
  bool plays = trace->amplifier < system->amplifier_count, stands = trace->battery < system->battery_count;
  trace->amplifier_min = plays ? place_of(names, count, system->amplifiers[trace->amplifier].name, "v_min") : -1;
  trace->amplifier_mean = plays ? place_of(names, count, system->amplifiers[trace->amplifier].name, "v_mean") : -1;
  trace->battery_v = stands ? place_of(names, count, system->batteries[trace->battery].name, "v_mean") : -1;
  trace->alternator_a = place_of(names, count, "alternator", "a_mean");
  return 0;
}

static double cell(const double *cells, int place) { return place >= 0 ? cells[place] : 0.0; }

/* As in simulate/lamp.h: the filament lags the voltage by TV_LAMP_LAG_S, light goes as the cube. */
static double light(struct tv_page_trace *trace, double now_s, double v) {
  if (trace->rows == 0) {
    trace->lag_v = trace->rest_v = v;
    trace->last_s = now_s;
  }
  trace->lag_v += (v - trace->lag_v) * (1.0 - exp(-(now_s - trace->last_s) / TV_LAMP_LAG_S));
  trace->last_s = now_s;
  return trace->rest_v > 0.0 ? pow(trace->lag_v / trace->rest_v, 3.0) : 0.0;
}

static int take_row(void *context, const double *cells, int count) {
  struct tv_page_trace *trace = context;
  (void)count;
  if (trace->rows == trace->room) {
    long room = trace->room > 0 ? 2 * trace->room : 4096;
    float *more = realloc(trace->cells, (size_t)room * TV_PAGE_TRACE_COLUMNS * sizeof *more);
    trace->failed = more == NULL;
    if (trace->failed) return 1;
    trace->cells = more;
    trace->room = room;
  }
  double takes_a = 0.0, gives_a = 0.0;
  for (int k = 0; k < trace->system->amplifier_count; k++) takes_a += cell(cells, trace->takes[k]);
  for (int k = 0; k < trace->system->battery_count; k++) gives_a += cell(cells, trace->gives[k]);
  double row[TV_PAGE_TRACE_COLUMNS];
  row[TV_PAGE_TIME] = cells[0];
  row[TV_PAGE_AMPLIFIER_MIN] = cell(cells, trace->amplifier_min);
  row[TV_PAGE_AMPLIFIER] = cell(cells, trace->amplifier_mean);
  row[TV_PAGE_BATTERY] = cell(cells, trace->battery_v);
  row[TV_PAGE_TAKES] = takes_a;
  row[TV_PAGE_ALTERNATOR] = cell(cells, trace->alternator_a);
  row[TV_PAGE_GIVES] = gives_a;
  row[TV_PAGE_LIGHT] = light(trace, cells[0], row[TV_PAGE_BATTERY]);
  float *to = trace->cells + (size_t)trace->rows++ * TV_PAGE_TRACE_COLUMNS;
  for (int k = 0; k < TV_PAGE_TRACE_COLUMNS; k++) to[k] = (float)row[k];
  return 0;
}

struct tailvolt_record_sink tv_page_trace_begin(struct tv_page_trace *trace, const struct tailvolt_system *system, int amplifier) {
  *trace = (struct tv_page_trace){.system = system, .amplifier = amplifier, .battery = system->engine.starter_battery};
  if (trace->battery < 0) trace->battery = 0;
  return (struct tailvolt_record_sink){.context = trace, .columns = take_columns, .row = take_row};
}

void tv_page_trace_free(struct tv_page_trace *trace) {
  free(trace->cells);
  free(trace->takes);
  free(trace->gives);
  *trace = (struct tv_page_trace){0};
}
