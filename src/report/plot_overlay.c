/* Several records on one axis: the lowest voltage of each, or the charge of its first battery. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text/number.h"
#include "report/plot_parts.h"
#include "report/plot_record.h"

enum { PLACE_FIGURE = 1, PLACE_TARGET = 2 };

struct curve {
  struct tv_record record;
  struct tv_record_pass pass;
  struct tv_thinned thinned;
  double lowest, lowest_s, first, last;
};

static int take(void *context, const double *cells, long offset) {
  struct curve *curve = context;
  double figure = cells[PLACE_FIGURE];
  if (isnan(curve->first)) curve->first = figure;
  if (!isnan(figure)) curve->last = figure;
  if (figure < curve->lowest) {
    curve->lowest = figure;
    curve->lowest_s = cells[0];
  }
  tv_thin_row(&curve->thinned, cells, offset);
  return 0;
}

/* The part whose column has this ending: the requested amplifier, else the first. */
static bool find_part(const struct tv_record *record, const char *ending, const char *wanted,
                      char part[TV_RECORD_NAME_MAX]) {
  size_t end = strlen(ending);
  for (int k = 0; k < record->column_count; k++) {
    size_t length = strlen(record->names[k]);
    if (length <= end || strcmp(record->names[k] + length - end, ending) != 0) continue;
    memcpy(part, record->names[k], length - end);
    part[length - end] = '\0';
    if (wanted == NULL || strcmp(part, wanted) == 0) return true;
  }
  return false;
}

static enum tailvolt_status read_curve(struct tv_plot *plot, const char *path, bool charge,
                                       struct curve *curve) {
  char part[TV_RECORD_NAME_MAX];
  const char *wanted = charge ? NULL : plot->request->amplifier;
  *curve = (struct curve){.pass = {.chosen_count = 2,
                                   .from_s = plot->request->from_s,
                                   .to_s = plot->request->to_s,
                                   .context = curve,
                                   .row = take},
                          .lowest = HUGE_VAL,
                          .first = (double)NAN,
                          .last = (double)NAN};
  enum tailvolt_status status = tv_record_open(path, &curve->record);
  if (status != TAILVOLT_OK) return tv_plot_refuse(plot, "%.200s", curve->record.error), status;
  if (!find_part(&curve->record, charge ? ":soc_pct_mean" : ":target_v_max", wanted, part))
    return tv_plot_refuse(plot, "%.120s: has no columns of %s%.60s", path,
                          charge           ? "a battery"
                          : wanted != NULL ? "amplifier "
                                           : "an amplifier",
                          wanted != NULL ? wanted : "");
  curve->pass.chosen[PLACE_FIGURE] =
      tv_record_column(&curve->record, part, charge ? "soc_pct_mean" : "v_min");
  curve->pass.chosen[PLACE_TARGET] = charge ? -1 : tv_record_column(&curve->record, part, "target_v_max");
  if (!charge) curve->pass.chosen_count = 3;
  if (curve->pass.chosen[PLACE_FIGURE] < 0)
    return tv_plot_refuse(plot, "%.120s: has no voltage of %.60s", path, part);
  status = tv_thin_begin(&curve->thinned, &curve->record, &curve->pass);
  if (status == TAILVOLT_OK) status = tv_record_read(&curve->record, &curve->pass);
  if (status != TAILVOLT_OK) return tv_plot_refuse(plot, "%.200s", curve->record.error), status;
  if (curve->thinned.count == 0)
    return tv_plot_refuse(plot, "%.150s: has no row in the requested time", path);
  tv_thin_end(&curve->thinned);
  return TAILVOLT_OK;
}

static void add_curve(struct tv_plot *plot, const struct curve *curve, const char *name, bool charge,
                      struct tv_time_axis axis) {
  char text[TV_PLOT_NAME_MAX + 96];
  if (charge)
    snprintf(text, sizeof text, "%s: %s %% to %s %%", name, tv_fixed(curve->first, 2).text,
             tv_fixed(curve->last, 2).text);
  else
    snprintf(text, sizeof text, "%s: lowest %s V at %s", name, tv_fixed(curve->lowest, 2).text,
             tv_clock(curve->lowest_s).text);
  tv_plot_cell_text(plot, text);
  tv_plot_row(plot);
  for (int k = 0; k <= curve->thinned.count; k++) {
    const double *cells = curve->thinned.cells + (size_t)k * (size_t)curve->thinned.chosen_count;
    tv_plot_cell(plot, cells[0] / axis.in_s);
    tv_plot_cell(plot, cells[PLACE_FIGURE]);
    tv_plot_cell(plot, charge ? (double)NAN : cells[PLACE_TARGET]);
    tv_plot_row(plot);
  }
}

enum tailvolt_status tv_plot_of_records(struct tv_plot *plot, const struct tv_plot_file *const *files,
                                        int count, int picture) {
  bool charge = picture == TV_PICTURE_CHARGE;
  struct tv_time_axis axis = {NULL, 1.0};
  double low = HUGE_VAL, high = -HUGE_VAL;
  int low_at = 0, high_at = 0;
  if (picture != TV_PICTURE_VOLTAGE && !charge)
    return tv_plot_refuse(
        plot, "several records are drawn over each other as `voltage` or `charge`; for `%s` give one",
        tv_picture_names[picture]);
  for (int f = 0; f < count; f++) {
    struct curve curve;
    enum tailvolt_status status = read_curve(plot, files[f]->path, charge, &curve);
    if (status == TAILVOLT_OK) {
      double figure = charge ? curve.last : curve.lowest;
      if (axis.unit == NULL) axis = tv_time_axis_of(curve.thinned.last_s - curve.thinned.cells[0]);
      if (f > 0) tv_buffer_add(&plot->data, "\n\n");
      add_curve(plot, &curve, files[f]->name, charge, axis);
      if (figure < low) low = figure, low_at = f;
      if (figure > high) high = figure, high_at = f;
    }
    tv_thin_free(&curve.thinned);
    tv_record_close(&curve.record);
    if (status != TAILVOLT_OK) return status;
  }
  tv_plot_set_number(plot, "count", count);
  tv_plot_set_text(plot, "time_unit", axis.unit);
  tv_plot_set_number(plot, "charge", charge);
  tv_plot_title(plot, "%s: %s %s (%.40s) to %s %s (%.40s)", charge ? "Charge at the end" : "Lowest voltage",
                tv_fixed(low, 2).text, charge ? "%" : "V", files[low_at]->name, tv_fixed(high, 2).text,
                charge ? "%" : "V", files[high_at]->name);
  return TAILVOLT_OK;
}
