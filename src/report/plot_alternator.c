/* The alternator's curve from its label, and what a run asked of it. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "parts/alternator.h"
#include "text/number.h"
#include "report/plot_parts.h"
#include "report/plot_record.h"

struct points {
  struct tv_thinned thinned;
  double most_a;
};

static int take_row(void *context, const double *cells, long offset) {
  struct points *points = context;
  if (cells[2] > points->most_a) points->most_a = cells[2];
  tv_thin_row(&points->thinned, cells, offset);
  return 0;
}

static enum tailvolt_status add_points(struct tv_plot *plot, const char *path, double *most_a,
                                       double *most_rpm) {
  struct tv_record record;
  struct points points = {.most_a = 0.0};
  struct tv_record_pass pass = {.chosen_count = 3,
                                .from_s = plot->request->from_s,
                                .to_s = plot->request->to_s,
                                .context = &points,
                                .row = take_row};
  enum tailvolt_status status = tv_record_open(path, &record);
  if (status == TAILVOLT_OK) {
    pass.chosen[1] = tv_record_column(&record, "engine", "rpm_mean");
    pass.chosen[2] = tv_record_column(&record, "alternator", "a_mean");
    if (pass.chosen[1] < 0 || pass.chosen[2] < 0)
      status = tv_plot_refuse(plot, "%.150s: has no alternator", path);
  }
  if (status == TAILVOLT_OK) status = tv_thin_begin(&points.thinned, &record, &pass);
  if (status == TAILVOLT_OK) status = tv_record_read(&record, &pass);
  for (int k = 0; status == TAILVOLT_OK && k < points.thinned.count; k++) {
    const double *cells = points.thinned.cells + 3 * (size_t)k;
    if (!(cells[1] > 0.0)) continue;
    if (cells[1] > *most_rpm) *most_rpm = cells[1];
    tv_plot_cell(plot, cells[1]);
    tv_plot_cell(plot, cells[2]);
    tv_plot_row(plot);
  }
  *most_a = points.most_a;
  if (status != TAILVOLT_OK && plot->error[0] == '\0')
    snprintf(plot->error, TAILVOLT_TEXT_MAX, "%s", record.error);
  tv_thin_free(&points.thinned);
  tv_record_close(&record);
  return status;
}

static enum tailvolt_status add_curve(struct tv_plot *plot, const struct tailvolt_system *system,
                                      double *idle_a) {
  const struct tailvolt_alternator *label = &system->alternator;
  struct tv_alternator machine;
  char text[128];
  if (!label->present) return tv_plot_refuse(plot, "%.150s: has no alternator", system->file);
  enum tailvolt_status status = tv_alternator_init(label, &machine, plot->error);
  if (status != TAILVOLT_OK) return status;
  double top_rpm = fmax(TAILVOLT_RATED_RPM / label->pulley_ratio * 1.6, 3.5 * system->engine.idle_rpm);
  for (int k = 0; k <= 200; k++) {
    double engine_rpm = top_rpm * k / 200.0;
    tv_plot_cell(plot, engine_rpm);
    tv_plot_cell(
        plot, k > 0 ? tv_alternator_current_a(&machine, engine_rpm * label->pulley_ratio, label->rated_v, 1.0)
                    : 0.0);
    tv_plot_row(plot);
  }
  *idle_a =
      tv_alternator_current_a(&machine, system->engine.idle_rpm * label->pulley_ratio, label->rated_v, 1.0);
  tv_plot_set_number(plot, "idle_rpm", system->engine.idle_rpm);
  tv_plot_set_number(plot, "idle_a", *idle_a);
  snprintf(text, sizeof text, "idle, %s rpm: %s", tv_fixed(system->engine.idle_rpm, 0).text,
           tv_amperes(*idle_a).text);
  tv_plot_set_text(plot, "idle_text", text);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_plot_of_alternator(struct tv_plot *plot, const char *path, const char *record) {
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  struct tailvolt_system *system = NULL;
  enum tailvolt_status status = faults != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  double idle_a = (double)NAN, most_a = (double)NAN, most_rpm = 0.0;
  if (status == TAILVOLT_OK && path != NULL) {
    status = tailvolt_system_read(path, NULL, 0, &system, faults);
    if (status == TAILVOLT_BAD_INPUT)
      tv_plot_refuse(plot, "%.90s:%d: %.140s", faults->fault[0].file, faults->fault[0].line,
                     faults->fault[0].message);
    if (status == TAILVOLT_OK) status = add_curve(plot, system, &idle_a);
    tv_buffer_add(&plot->data, "\n\n");
  }
  if (status == TAILVOLT_OK && record != NULL) status = add_points(plot, record, &most_a, &most_rpm);
  tv_plot_set_number(plot, "curve", path != NULL);
  tv_plot_set_number(plot, "points", record != NULL);
  if (system != NULL && status == TAILVOLT_OK && record != NULL)
    tv_plot_title(plot, "At idle the alternator can give %s of its %s; the run took up to %s",
                  tv_amperes(idle_a).text, tv_amperes(system->alternator.rated_a).text,
                  tv_amperes(most_a).text);
  else if (system != NULL && status == TAILVOLT_OK)
    tv_plot_title(plot, "At idle the alternator can give %s of its %s", tv_amperes(idle_a).text,
                  tv_amperes(system->alternator.rated_a).text);
  else if (status == TAILVOLT_OK)
    tv_plot_title(plot, "The run took up to %s from the alternator", tv_amperes(most_a).text);
  tailvolt_system_free(system);
  free(faults);
  return status;
}
