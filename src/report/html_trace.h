/* What a run keeps for the pictures of a page: the whole run thinned, and half a second around the worst moment of each
 * amplifier, collected as it runs. Memory does not grow with the length of the run. */
#ifndef TV_REPORT_HTML_TRACE_H
#define TV_REPORT_HTML_TRACE_H

#include "report/plot_record.h"
#include "tailvolt/simulate.h"

#define TV_TRACE_EVERY_S 0.002
#define TV_TRACE_HALF_ROWS 125 /* a quarter of a second */
enum { TV_TRACE_WINDOW = 2 * TV_TRACE_HALF_ROWS + 1, TV_TRACE_PARTS = 4 };

/* Indices into the chosen columns, -1 = none. */
struct tv_trace_amplifier {
  int min_v, mean_v, max_v, target_v, draw_a;
  double lowest_v;
  long lowest_row;
  bool open; /* rows after the lowest are still to come */
  int window_count;
  double *window; /* [TV_TRACE_WINDOW][chosen] */
  int lowest_at;  /* its row in the window */
};

struct tv_trace {
  struct tv_record record; /* names only */
  struct tv_record_pass pass;
  struct tv_thinned thinned;
  int amplifier_count;
  struct tv_trace_amplifier amplifier[TV_TRACE_PARTS];
  int alternator_a;
  int battery_count, battery_a[TV_TRACE_PARTS];
  int capacitor_count, capacitor_a[TV_TRACE_PARTS];
  long row_count;
  double *ring; /* [TV_TRACE_WINDOW][chosen] */
  bool failed;  /* out of memory */
  const struct tailvolt_system *system;
};

/* `system` must outlive the run. The sink's context is the trace. */
struct tailvolt_record_sink tv_trace_begin(struct tv_trace *trace, const struct tailvolt_system *system);
void tv_trace_end(struct tv_trace *trace);
void tv_trace_free(struct tv_trace *trace);

#endif
