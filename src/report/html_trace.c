#include "report/html_trace.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static int choose(struct tv_trace *trace, const char *part, const char *quantity) {
  int column = tv_record_column(&trace->record, part, quantity);
  if (column < 0 || trace->pass.chosen_count == TV_RECORD_CHOSEN_MAX) return -1;
  for (int k = 0; k < trace->pass.chosen_count; k++)
    if (trace->pass.chosen[k] == column) return k;
  trace->pass.chosen[trace->pass.chosen_count] = column;
  return trace->pass.chosen_count++;
}

static int least(int count) {
  return count < TV_TRACE_PARTS ? count : TV_TRACE_PARTS;
}

static void choose_all(struct tv_trace *trace) {
  const struct tailvolt_system *system = trace->system;
  trace->pass.chosen_count = 1;
  trace->amplifier_count = least(system->amplifier_count);
  for (int k = 0; k < trace->amplifier_count; k++) {
    struct tv_trace_amplifier *amplifier = &trace->amplifier[k];
    const char *name = system->amplifiers[k].name;
    amplifier->min_v = choose(trace, name, "v_min");
    amplifier->mean_v = choose(trace, name, "v_mean");
    amplifier->max_v = choose(trace, name, "v_max");
    amplifier->target_v = choose(trace, name, "target_v_max");
    amplifier->draw_a = choose(trace, name, "a_mean");
    amplifier->lowest_v = HUGE_VAL;
  }
  trace->alternator_a = choose(trace, "alternator", "a_mean");
  trace->battery_count = least(system->battery_count);
  for (int k = 0; k < trace->battery_count; k++)
    trace->battery_a[k] = choose(trace, system->batteries[k].name, "a_mean");
  trace->capacitor_count = least(system->capacitor_count);
  for (int k = 0; k < trace->capacitor_count; k++)
    trace->capacitor_a[k] = choose(trace, system->capacitors[k].name, "a_mean");
}

static size_t row_size(const struct tv_trace *trace) {
  return (size_t)trace->pass.chosen_count * sizeof(double);
}

static int take_columns(void *context, const char *const *names, int count) {
  struct tv_trace *trace = context;
  trace->record.column_count = count;
  trace->record.names = calloc((size_t)count, sizeof *trace->record.names);
  trace->failed = trace->record.names == NULL;
  if (trace->failed) return 1;
  for (int k = 0; k < count; k++)
    snprintf(trace->record.names[k], sizeof trace->record.names[k], "%s", names[k]);
  choose_all(trace);
  trace->ring = calloc(TV_TRACE_WINDOW, row_size(trace));
  trace->failed =
      trace->ring == NULL || tv_thin_begin(&trace->thinned, &trace->record, &trace->pass) != TAILVOLT_OK;
  for (int k = 0; k < trace->amplifier_count && !trace->failed; k++) {
    trace->amplifier[k].window = calloc(TV_TRACE_WINDOW, row_size(trace));
    trace->failed = trace->amplifier[k].window == NULL;
  }
  return trace->failed;
}

/* Copies the rows around the lowest from the ring, oldest first. */
static void keep_window(struct tv_trace *trace, struct tv_trace_amplifier *amplifier) {
  long first = amplifier->lowest_row - TV_TRACE_HALF_ROWS;
  if (first < trace->row_count - TV_TRACE_WINDOW) first = trace->row_count - TV_TRACE_WINDOW;
  if (first < 0) first = 0;
  amplifier->window_count = 0;
  amplifier->lowest_at = (int)(amplifier->lowest_row - first);
  for (long row = first; row < trace->row_count; row++) {
    double *to = amplifier->window + (size_t)amplifier->window_count++ * (size_t)trace->pass.chosen_count;
    memcpy(to, trace->ring + (size_t)(row % TV_TRACE_WINDOW) * (size_t)trace->pass.chosen_count,
           row_size(trace));
  }
  amplifier->open = false;
}

static int take_row(void *context, const double *cells, int count) {
  struct tv_trace *trace = context;
  double chosen[TV_RECORD_CHOSEN_MAX];
  (void)count;
  for (int k = 0; k < trace->pass.chosen_count; k++) chosen[k] = cells[trace->pass.chosen[k]];
  tv_thin_row(&trace->thinned, chosen, 0);
  memcpy(trace->ring + (size_t)(trace->row_count % TV_TRACE_WINDOW) * (size_t)trace->pass.chosen_count,
         chosen, row_size(trace));
  trace->row_count++;
  for (int k = 0; k < trace->amplifier_count; k++) {
    struct tv_trace_amplifier *amplifier = &trace->amplifier[k];
    if (amplifier->min_v < 0) continue;
    if (chosen[amplifier->min_v] < amplifier->lowest_v) {
      amplifier->lowest_v = chosen[amplifier->min_v];
      amplifier->lowest_row = trace->row_count - 1;
      amplifier->open = true;
    } else if (amplifier->open && trace->row_count - 1 - amplifier->lowest_row == TV_TRACE_HALF_ROWS) {
      keep_window(trace, amplifier);
    }
  }
  return 0;
}

struct tailvolt_record_sink tv_trace_begin(struct tv_trace *trace, const struct tailvolt_system *system) {
  *trace = (struct tv_trace){.system = system};
  return (struct tailvolt_record_sink){.context = trace, .columns = take_columns, .row = take_row};
}

void tv_trace_end(struct tv_trace *trace) {
  for (int k = 0; k < trace->amplifier_count; k++)
    if (trace->amplifier[k].open) keep_window(trace, &trace->amplifier[k]);
  tv_thin_end(&trace->thinned);
}

void tv_trace_free(struct tv_trace *trace) {
  for (int k = 0; k < trace->amplifier_count; k++) free(trace->amplifier[k].window);
  free(trace->ring);
  free(trace->record.names);
  tv_thin_free(&trace->thinned);
  *trace = (struct tv_trace){0};
}
