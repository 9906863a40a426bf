/* Pictures drawn from a record: voltage, currents, charge, one beat magnified, histogram. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text/number.h"
#include "report/plot_parts.h"
#include "report/plot_record.h"

enum { PARTS_MAX = 8, CLASSES = 4000 };
#define CLASS_V 0.01 /* bin of the fine histogram; 0 to 40 V */

/* Indices into the chosen columns, -1 = the record has none. */
struct places {
  int min_v, mean_v, max_v, target_v, draw_a, draw_max_a; /* of the amplifier shown */
  int alternator_a, alternator_max_a;
  int battery_count, battery_a[PARTS_MAX], battery_max_a[PARTS_MAX], soc[PARTS_MAX];
  int capacitor_count, capacitor_a[PARTS_MAX];
  int amplifier_count, amplifier_a[PARTS_MAX];
};

struct view {
  struct tv_plot *plot;
  struct tv_record record;
  struct tv_record_pass pass;
  struct places at;
  struct tv_thinned thinned;
  char amplifier[TV_RECORD_NAME_MAX];
  char battery_name[PARTS_MAX][TV_RECORD_NAME_MAX];
  double worst_s, worst_v, worst_target_v;
  double alternator_max_a;
  double battery_max_a; /* highest of any battery */
  int battery_max_at;
  double draw_max_a; /* highest of the amplifier shown */
  long class_count[CLASSES], class_sum;
};

/* PART of "PART:QUANTITY"; false where the name does not end so. */
static bool part_of(const char *name, const char *quantity, char *part) {
  size_t length = strlen(name), end = strlen(quantity);
  if (length <= end + 1 || name[length - end - 1] != ':' || strcmp(name + length - end, quantity) != 0)
    return false;
  memcpy(part, name, length - end - 1);
  part[length - end - 1] = '\0';
  return true;
}

static int choose(struct view *view, const char *part, const char *quantity) {
  int column = tv_record_column(&view->record, part, quantity);
  if (column < 0 || view->pass.chosen_count == TV_RECORD_CHOSEN_MAX) return -1;
  for (int k = 0; k < view->pass.chosen_count; k++)
    if (view->pass.chosen[k] == column) return k;
  view->pass.chosen[view->pass.chosen_count] = column;
  return view->pass.chosen_count++;
}

static void choose_parts(struct view *view) {
  struct places *at = &view->at;
  char part[TV_RECORD_NAME_MAX];
  at->alternator_a = choose(view, "alternator", "a_mean");
  at->alternator_max_a = choose(view, "alternator", "a_max");
  for (int k = 0; k < view->record.column_count; k++) {
    const char *name = view->record.names[k];
    if (part_of(name, "soc_pct_mean", part) && at->battery_count < PARTS_MAX) {
      snprintf(view->battery_name[at->battery_count], sizeof view->battery_name[0], "%s", part);
      at->soc[at->battery_count] = choose(view, part, "soc_pct_mean");
      at->battery_max_a[at->battery_count] = choose(view, part, "a_max");
      at->battery_a[at->battery_count++] = choose(view, part, "a_mean");
    } else if (part_of(name, "target_v_max", part) && at->amplifier_count < PARTS_MAX) {
      at->amplifier_a[at->amplifier_count++] = choose(view, part, "a_mean");
    } else if (part_of(name, "a_mean", part) && at->capacitor_count < PARTS_MAX &&
               strcmp(part, "alternator") != 0 && tv_record_column(&view->record, part, "target_v_max") < 0 &&
               tv_record_column(&view->record, part, "soc_pct_mean") < 0) {
      at->capacitor_a[at->capacitor_count++] = choose(view, part, "a_mean");
    }
  }
}

static enum tailvolt_status choose_amplifier(struct view *view) {
  const char *wanted = view->plot->request->amplifier;
  char part[TV_RECORD_NAME_MAX];
  for (int k = 0; k < view->record.column_count; k++)
    if (part_of(view->record.names[k], "target_v_max", part) &&
        (wanted == NULL || strcmp(part, wanted) == 0)) {
      snprintf(view->amplifier, sizeof view->amplifier, "%s", part);
      view->at.min_v = choose(view, part, "v_min");
      view->at.mean_v = choose(view, part, "v_mean");
      view->at.max_v = choose(view, part, "v_max");
      view->at.target_v = choose(view, part, "target_v_max");
      view->at.draw_a = choose(view, part, "a_mean");
      view->at.draw_max_a = choose(view, part, "a_max");
      if (view->at.min_v >= 0 && view->at.mean_v >= 0 && view->at.max_v >= 0) return TAILVOLT_OK;
    }
  return tv_plot_refuse(view->plot, "%.120s: has no columns of an amplifier%s%.60s", view->record.path,
                        wanted != NULL ? " " : "", wanted != NULL ? wanted : "");
}

static double cell(const double *cells, int place) {
  return place >= 0 ? cells[place] : (double)NAN;
}

/* The highest step within a row, where the record has it. */
static double peak(const double *cells, int mean, int highest) {
  double value = cell(cells, highest);
  return isfinite(value) ? value : cell(cells, mean);
}

static int look_at_row(void *context, const double *cells, long offset) {
  struct view *view = context;
  const struct places *at = &view->at;
  double low_v = cells[at->min_v], mean_v = cells[at->mean_v];
  if (low_v < view->worst_v || isnan(view->worst_v)) {
    view->worst_v = low_v;
    view->worst_s = cells[0];
    view->worst_target_v = cell(cells, at->target_v);
  }
  if (mean_v >= 0.0 && mean_v < CLASSES * CLASS_V) {
    view->class_count[(int)(mean_v / CLASS_V)]++;
    view->class_sum++;
  }
  for (int k = 0; k < at->battery_count; k++) {
    double highest_a = peak(cells, at->battery_a[k], at->battery_max_a[k]);
    if (!(highest_a > view->battery_max_a)) continue;
    view->battery_max_a = highest_a;
    view->battery_max_at = k;
  }
  view->alternator_max_a = fmax(view->alternator_max_a, peak(cells, at->alternator_a, at->alternator_max_a));
  view->draw_max_a = fmax(view->draw_max_a, peak(cells, at->draw_a, at->draw_max_a));
  tv_thin_row(&view->thinned, cells, offset);
  return 0;
}

static enum tailvolt_status read_all(struct view *view) {
  view->worst_v = (double)NAN;
  view->pass.context = view;
  view->pass.row = look_at_row;
  enum tailvolt_status status = tv_thin_begin(&view->thinned, &view->record, &view->pass);
  if (status == TAILVOLT_OK) status = tv_record_read(&view->record, &view->pass);
  if (status == TAILVOLT_OK && view->thinned.count == 0)
    return tv_plot_refuse(view->plot, "%.150s: has no row in the requested time", view->record.path);
  tv_thin_end(&view->thinned);
  return status;
}

static const double *row_at(const struct view *view, int k) {
  return view->thinned.cells + (size_t)k * (size_t)view->thinned.chosen_count;
}

static double span_s(const struct view *view) {
  return row_at(view, view->thinned.count)[0] - row_at(view, 0)[0];
}

static void make_voltage(struct view *view, struct tv_time_axis axis) {
  struct tv_plot *plot = view->plot;
  const struct places *at = &view->at;
  char text[128];
  double first_s = row_at(view, 0)[0];
  for (int k = 0; k <= view->thinned.count; k++) {
    const double *cells = row_at(view, k);
    tv_plot_cell(plot, cells[0] / axis.in_s);
    tv_plot_cell(plot, cells[at->min_v]);
    tv_plot_cell(plot, cells[at->mean_v]);
    tv_plot_cell(plot, cells[at->max_v]);
    tv_plot_cell(plot, cell(cells, at->target_v));
    tv_plot_row(plot);
  }
  tv_plot_set_text(plot, "amplifier", view->amplifier);
  tv_plot_set_number(plot, "worst_time", view->worst_s / axis.in_s);
  tv_plot_set_number(plot, "worst_v", view->worst_v);
  tv_plot_set_number(plot, "worst_side", view->worst_s - first_s > 0.75 * span_s(view) ? -1 : 1);
  snprintf(text, sizeof text, "%s V at %s", tv_fixed(view->worst_v, 2).text, tv_clock(view->worst_s).text);
  tv_plot_set_text(plot, "worst_text", text);
  tv_plot_title(plot, "%.40s %s %s V at %s (wanted %s V)", view->amplifier,
                view->worst_v < view->worst_target_v ? "falls to" : "stays at or above",
                tv_fixed(view->worst_v, 2).text, tv_clock(view->worst_s).text,
                tv_fixed(view->worst_target_v, 1).text);
}

static void make_currents(struct view *view, struct tv_time_axis axis) {
  struct tv_plot *plot = view->plot;
  const struct places *at = &view->at;
  double low_a = HUGE_VAL;
  for (int k = 0; k <= view->thinned.count; k++) {
    const double *cells = row_at(view, k);
    double gives_a = 0.0, capacitor_a = 0.0, takes_a = 0.0, draw_a = 0.0;
    for (int b = 0; b < at->battery_count; b++) {
      double each_a = cell(cells, at->battery_a[b]);
      gives_a += fmax(0.0, each_a);
      takes_a += fmin(0.0, each_a);
    }
    for (int c = 0; c < at->capacitor_count; c++) {
      double each_a = cell(cells, at->capacitor_a[c]);
      capacitor_a += fmax(0.0, each_a);
      takes_a += fmin(0.0, each_a);
    }
    for (int a = 0; a < at->amplifier_count; a++) draw_a += fmax(0.0, cell(cells, at->amplifier_a[a]));
    double alternator_a = at->alternator_a >= 0 ? cells[at->alternator_a] : 0.0;
    if (takes_a < low_a) low_a = takes_a;
    tv_plot_cell(plot, cells[0] / axis.in_s);
    tv_plot_cell(plot, alternator_a);
    tv_plot_cell(plot, gives_a);
    tv_plot_cell(plot, capacitor_a);
    tv_plot_cell(plot, takes_a);
    tv_plot_cell(plot, draw_a);
    tv_plot_row(plot);
  }
  tv_plot_set_number(plot, "capacitors", at->capacitor_count);
  char of[64] = "";
  if (at->battery_count > 1) snprintf(of, sizeof of, " (%.30s)", view->battery_name[view->battery_max_at]);
  if (view->alternator_max_a > 0.0)
    tv_plot_title(plot, "Peaks: alternator %s A, battery%s %s A, %.30s takes %s A",
                  tv_fixed(view->alternator_max_a, 1).text, of, tv_fixed(view->battery_max_a, 1).text,
                  view->amplifier, tv_fixed(view->draw_max_a, 1).text);
  else
    tv_plot_title(plot, "Peaks: the battery%s alone gives %s A", of, tv_fixed(view->battery_max_a, 1).text);
}

static enum tailvolt_status make_charge(struct view *view, struct tv_time_axis axis) {
  struct tv_plot *plot = view->plot;
  const struct places *at = &view->at;
  if (at->battery_count == 0) return tv_plot_refuse(plot, "%.150s: has no battery", view->record.path);
  tv_plot_cell_text(plot, "time");
  for (int b = 0; b < at->battery_count; b++) tv_plot_cell_text(plot, view->battery_name[b]);
  tv_plot_row(plot);
  for (int k = 0; k <= view->thinned.count; k++) {
    tv_plot_cell(plot, row_at(view, k)[0] / axis.in_s);
    for (int b = 0; b < at->battery_count; b++) tv_plot_cell(plot, cell(row_at(view, k), at->soc[b]));
    tv_plot_row(plot);
  }
  double first = cell(row_at(view, 0), at->soc[0]),
         last = cell(row_at(view, view->thinned.count), at->soc[0]);
  int digits = fabs(last - first) < 1.0 ? 2 : 1;
  tv_plot_set_number(plot, "count", at->battery_count);
  tv_plot_title(plot, "%.40s %s from %s %% to %s %% in %s", view->battery_name[0],
                last < first ? "loses charge:" : "gains charge:", tv_fixed(first, digits).text,
                tv_fixed(last, digits).text, tv_duration(span_s(view)).text);
  return TAILVOLT_OK;
}

#define LENS_S 0.25

static int beat_row(void *context, const double *cells, long offset) {
  struct view *view = context;
  struct tv_plot *plot = view->plot;
  const struct places *at = &view->at;
  double battery_a = 0.0, capacitor_a = 0.0;
  (void)offset;
  for (int k = 0; k < at->battery_count; k++) battery_a += cell(cells, at->battery_a[k]);
  for (int k = 0; k < at->capacitor_count; k++) capacitor_a += cell(cells, at->capacitor_a[k]);
  tv_plot_cell(plot, 1000.0 * (cells[0] - view->worst_s));
  const double values[] = {cells[at->min_v],
                           cells[at->mean_v],
                           cells[at->max_v],
                           cell(cells, at->target_v),
                           cell(cells, at->draw_a),
                           cell(cells, at->draw_max_a),
                           at->alternator_a >= 0 ? cells[at->alternator_a] : 0.0,
                           battery_a,
                           capacitor_a};
  for (size_t k = 0; k < sizeof values / sizeof values[0]; k++) tv_plot_cell(plot, values[k]);
  tv_plot_row(plot);
  return 0;
}

/* A second pass over the rows around the worst moment. */
static enum tailvolt_status make_beat(struct view *view) {
  struct tv_plot *plot = view->plot;
  int before = 0;
  for (int k = 0; k < view->thinned.count && row_at(view, k)[0] < view->worst_s - LENS_S; k++) before = k;
  view->pass.row = beat_row;
  view->pass.start_at = view->thinned.offsets[before > 0 ? before - 1 : 0];
  view->pass.from_s = view->worst_s - LENS_S;
  view->pass.to_s = view->worst_s + LENS_S;
  enum tailvolt_status status = tv_record_read(&view->record, &view->pass);
  tv_plot_set_text(plot, "amplifier", view->amplifier);
  tv_plot_set_number(plot, "capacitors", view->at.capacitor_count);
  tv_plot_title(plot, "The worst beat: %.40s down to %s V at %s", view->amplifier,
                tv_fixed(view->worst_v, 2).text, tv_clock(view->worst_s).text);
  return status;
}

/* Voltage below which a share of the rows lies. */
static double quantile_v(const struct view *view, double share) {
  long below = 0;
  for (int k = 0; k < CLASSES; k++) {
    below += view->class_count[k];
    if ((double)below > share * (double)view->class_sum) return k * CLASS_V;
  }
  return (double)NAN;
}

static void make_histogram(struct view *view) {
  struct tv_plot *plot = view->plot;
  int low = 0, high = CLASSES - 1;
  while (low < CLASSES - 1 && view->class_count[low] == 0) low++;
  while (high > low && view->class_count[high] == 0) high--;
  static const int steps[] = {1, 2, 5, 10, 20, 50, 100};
  int each = 100;
  for (size_t k = sizeof steps / sizeof steps[0]; k-- > 0;)
    if ((high - low) / steps[k] <= 60 && (high - low) / steps[k] >= 12) each = steps[k];
  for (int from = low - low % each; from <= high; from += each) {
    long count = 0;
    for (int k = from; k < from + each && k < CLASSES; k++) count += view->class_count[k];
    tv_plot_cell(plot, (from + 0.5 * each) * CLASS_V);
    tv_plot_cell(plot, 100.0 * (double)count / (double)view->class_sum);
    tv_plot_row(plot);
  }
  tv_plot_set_text(plot, "amplifier", view->amplifier);
  tv_plot_set_number(plot, "class_v", each * CLASS_V);
  tv_plot_set_number(plot, "wanted_v", view->worst_target_v);
  tv_plot_set_number(plot, "low_v", quantile_v(view, 0.01));
  tv_plot_title(plot, "%.40s: half of the time above %s V, 1 %% below %s V (means of %s ms)", view->amplifier,
                tv_fixed(quantile_v(view, 0.5), 1).text, tv_fixed(quantile_v(view, 0.01), 2).text,
                tv_compact(1000.0 * view->thinned.interval_s, 3).text);
}

static enum tailvolt_status make(struct view *view, int picture) {
  enum tailvolt_status status = choose_amplifier(view);
  if (status == TAILVOLT_OK) {
    choose_parts(view);
    status = read_all(view);
  }
  if (status != TAILVOLT_OK) return status;
  struct tv_time_axis axis = tv_time_axis_of(span_s(view));
  tv_plot_set_text(view->plot, "time_unit", axis.unit);
  switch (picture) {
  case TV_PICTURE_CURRENTS:
    make_currents(view, axis);
    break;
  case TV_PICTURE_CHARGE:
    status = make_charge(view, axis);
    break;
  case TV_PICTURE_BEAT:
    status = make_beat(view);
    break;
  case TV_PICTURE_HISTOGRAM:
    make_histogram(view);
    break;
  default:
    make_voltage(view, axis);
    break;
  }
  return status;
}

enum tailvolt_status tv_plot_of_record(struct tv_plot *plot, const char *path, int picture) {
  struct view view = {.plot = plot};
  view.pass = (struct tv_record_pass){
      .chosen_count = 1, .from_s = plot->request->from_s, .to_s = plot->request->to_s};
  enum tailvolt_status status = tv_record_open(path, &view.record);
  if (status == TAILVOLT_OK) status = make(&view, picture);
  if (status != TAILVOLT_OK && plot->error[0] == '\0')
    snprintf(plot->error, TAILVOLT_TEXT_MAX, "%s", view.record.error);
  tv_thin_free(&view.thinned);
  tv_record_close(&view.record);
  return status;
}
