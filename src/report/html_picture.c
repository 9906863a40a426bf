/* Small SVG pictures of a run over time, readable at phone width. */
#include <math.h>
#include <stdio.h>

#include "report/html_parts.h"
#include "text/number.h"
#include "report/parked_words.h"
#include "report/plot_parts.h"

enum { WIDE = 400 };

/* Where a value falls within the picture. */
struct frame {
  double left, right, top, bottom; /* px */
  double from, to, low, high;      /* values at the edges */
};

static double at_x(const struct frame *frame, double x) {
  return frame->left + (frame->right - frame->left) * (x - frame->from) / (frame->to - frame->from);
}

static double at_y(const struct frame *frame, double y) {
  return frame->bottom - (frame->bottom - frame->top) * (y - frame->low) / (frame->high - frame->low);
}

static void point(struct tv_buffer *page, const struct frame *frame, char letter, double x, double y) {
  char text[96];
  snprintf(text, sizeof text, "%c%s %s", letter, tv_compact(at_x(frame, x), 1).text,
           tv_compact(at_y(frame, y), 1).text);
  tv_buffer_add(page, text);
}

/* 1, 2 or 5 times a power of ten that gives at most `most` steps. */
static double step_of(double span, int most) {
  double step = pow(10.0, floor(log10(span / most)));
  while (span / step > most)
    step *= span / (2.0 * step) <= most ? 2.0 : span / (5.0 * step) <= most ? 5.0 : 10.0;
  return step;
}

static int digits_of(double step) {
  return step >= 0.999 ? 0 : step >= 0.0999 ? 1 : 2;
}

static void label(struct tv_buffer *page, double x, double y, const char *anchor, const char *class_name,
                  const char *text) {
  tv_html_add(page, "<text x=\"%s\" y=\"%s\" text-anchor=\"%s\" class=\"%s\">", tv_compact(x, 1).text,
              tv_compact(y, 1).text, anchor, class_name);
  tv_html_text(page, text);
  tv_buffer_add(page, "</text>");
}

static void line(struct tv_buffer *page, double x1, double y1, double x2, double y2, const char *look) {
  tv_html_add(page, "<path d=\"M%s %sL%s %s\" fill=\"none\" %s/>", tv_compact(x1, 1).text,
              tv_compact(y1, 1).text, tv_compact(x2, 1).text, tv_compact(y2, 1).text, look);
}

static void begin(struct tv_buffer *page, int height, const char *title) {
  tv_buffer_add(page, "<figure><figcaption>");
  tv_html_text(page, title);
  tv_html_add(page, "</figcaption><svg viewBox=\"0 0 %d %d\" role=\"img\" aria-label=\"", WIDE, height);
  tv_html_text(page, title);
  tv_buffer_add(page, "\">");
}

static void finish(struct tv_buffer *page) {
  tv_buffer_add(page, "</svg></figure>\n");
}

static void axes(struct tv_buffer *page, const struct frame *frame, const char *unit, bool times,
                 const char *time_unit) {
  double step = step_of(frame->high - frame->low, (int)((frame->bottom - frame->top) / 22.0));
  for (double y = ceil(frame->low / step) * step; y <= frame->high + 1e-9 * step; y += step) {
    line(page, frame->left, at_y(frame, y), frame->right, at_y(frame, y),
         "stroke=\"#d4d4d4\" stroke-width=\".6\"");
    label(page, frame->left - 4.0, at_y(frame, y) + 4.0, "end", "soft", tv_fixed(y, digits_of(step)).text);
  }
  label(page, 2.0, frame->top - 5.0, "start", "soft", unit);
  line(page, frame->left, frame->bottom, frame->right, frame->bottom, "stroke=\"#555\" stroke-width=\".8\"");
  if (!times) return;
  step = step_of(frame->to - frame->from, 6);
  for (double x = ceil(frame->from / step - 1e-9) * step; x <= frame->to + 1e-9 * step; x += step) {
    line(page, at_x(frame, x), frame->bottom, at_x(frame, x), frame->bottom + 3.0,
         "stroke=\"#555\" stroke-width=\".8\"");
    if (at_x(frame, x) < frame->right - 26.0)
      label(page, at_x(frame, x), frame->bottom + 14.0, "middle", "soft", tv_fixed(x, digits_of(step)).text);
  }
  label(page, frame->right, frame->bottom + 14.0, "end", "soft", time_unit);
}

/* Rows of a thinned run, or of a window around the worst moment. */
struct rows {
  int count, width;
  const double *cells;
  double in_s, zero_s; /* time axis */
};

static double cell(const struct rows *rows, int k, int place) {
  return place >= 0 ? rows->cells[(size_t)k * (size_t)rows->width + (size_t)place] : (double)NAN;
}

static double time_of(const struct rows *rows, int k) {
  return (cell(rows, k, 0) - rows->zero_s) / rows->in_s;
}

static double sum_of(const struct rows *rows, int k, const int *places, int count) {
  double sum = 0.0;
  for (int p = 0; p < count; p++)
    if (places[p] >= 0) sum += cell(rows, k, places[p]);
  return sum;
}

static void curve(struct tv_buffer *page, const struct frame *frame, const struct rows *rows, int place,
                  double sign, const char *look) {
  tv_buffer_add(page, "<path d=\"");
  for (int k = 0; k < rows->count; k++)
    point(page, frame, k == 0 ? 'M' : 'L', time_of(rows, k), sign * cell(rows, k, place));
  tv_html_add(page, "\" fill=\"none\" stroke-linejoin=\"round\" %s/>", look);
}

static void summed_curve(struct tv_buffer *page, const struct frame *frame, const struct rows *rows,
                         const int *places, int count, const char *look) {
  tv_buffer_add(page, "<path d=\"");
  for (int k = 0; k < rows->count; k++)
    point(page, frame, k == 0 ? 'M' : 'L', time_of(rows, k), sum_of(rows, k, places, count));
  tv_html_add(page, "\" fill=\"none\" stroke-linejoin=\"round\" %s/>", look);
}

static void band(struct tv_buffer *page, const struct frame *frame, const struct rows *rows, int low,
                 int high) {
  tv_buffer_add(page, "<path d=\"");
  for (int k = 0; k < rows->count; k++)
    point(page, frame, k == 0 ? 'M' : 'L', time_of(rows, k), cell(rows, k, high));
  for (int k = rows->count - 1; k >= 0; k--) point(page, frame, 'L', time_of(rows, k), cell(rows, k, low));
  tv_buffer_add(page, "Z\" fill=\"#a9d4ee\"/>");
}

/* Lines of the key, from left to right. */
struct key_entry {
  const char *look, *text;
  bool filled;
};

static void key(struct tv_buffer *page, double y, const struct key_entry *entries, int count) {
  double x = 4.0;
  for (int k = 0; k < count; k++) {
    if (entries[k].filled)
      tv_html_add(page, "<rect x=\"%s\" y=\"%s\" width=\"18\" height=\"8\" %s/>", tv_compact(x, 1).text,
                  tv_compact(y - 7.5, 1).text, entries[k].look);
    else
      line(page, x, y - 3.5, x + 18.0, y - 3.5, entries[k].look);
    label(page, x + 22.0, y, "start", "", entries[k].text);
    double letters = 0.0;
    for (const char *at = entries[k].text; *at != '\0'; at++) letters += 1.0;
    x += 31.0 + 6.3 * letters;
  }
}

static const char mean_look[] = "stroke=\"#00507f\" stroke-width=\"1.3\"";
static const char target_look[] = "stroke=\"#a33d00\" stroke-width=\"1.6\" stroke-dasharray=\"6 4\"";
static const char band_look[] = "fill=\"#a9d4ee\"";
static const char takes_look[] = "stroke=\"#1a1a1a\" stroke-width=\"1.6\"";
static const char alternator_look[] = "stroke=\"#00507f\" stroke-width=\"1.4\" stroke-dasharray=\"7 4\"";
static const char battery_look[] = "stroke=\"#a33d00\" stroke-width=\"1.4\" stroke-dasharray=\"7 3 2 3\"";
static const char capacitor_look[] = "stroke=\"#00664b\" stroke-width=\"1.4\" stroke-dasharray=\"2 3\"";

static void voltage_range(struct frame *frame, const struct rows *rows,
                          const struct tv_trace_amplifier *amplifier) {
  frame->low = HUGE_VAL;
  frame->high = -HUGE_VAL;
  for (int k = 0; k < rows->count; k++) {
    const int places[] = {amplifier->min_v, amplifier->max_v, amplifier->target_v};
    for (size_t p = 0; p < 3; p++) {
      frame->low = fmin(frame->low, cell(rows, k, places[p]));
      frame->high = fmax(frame->high, cell(rows, k, places[p]));
    }
  }
  double margin = 0.07 * (frame->high - frame->low) + 0.05;
  frame->low -= margin;
  frame->high += margin;
}

void tv_html_voltage(struct tv_buffer *page, const struct tv_trace *trace, int index, const char *name) {
  const struct tv_trace_amplifier *amplifier = &trace->amplifier[index];
  struct rows rows = {trace->thinned.count + 1, trace->thinned.chosen_count, trace->thinned.cells, 1.0, 0.0};
  struct frame frame = {.left = 34.0, .right = WIDE - 6.0, .top = 16.0, .bottom = 158.0};
  char title[224], text[96];
  if (trace->thinned.count < 2 || amplifier->min_v < 0 || amplifier->window_count == 0) return;
  struct tv_time_axis axis = tv_time_axis_of(cell(&rows, rows.count - 1, 0) - cell(&rows, 0, 0));
  rows.in_s = axis.in_s;
  frame.from = time_of(&rows, 0);
  frame.to = time_of(&rows, rows.count - 1);
  voltage_range(&frame, &rows, amplifier);
  double worst_s = amplifier->window[(size_t)amplifier->lowest_at * (size_t)rows.width];
  snprintf(title, sizeof title, "Voltage at %.48s over the run: lowest %s V at %s", name,
           tv_fixed(amplifier->lowest_v, 2).text, tv_clock(worst_s).text);
  begin(page, 192, title);
  axes(page, &frame, "V", true, axis.unit);
  band(page, &frame, &rows, amplifier->min_v, amplifier->max_v);
  curve(page, &frame, &rows, amplifier->mean_v, 1.0, mean_look);
  curve(page, &frame, &rows, amplifier->target_v, 1.0, target_look);
  double x = at_x(&frame, worst_s / axis.in_s), y = at_y(&frame, amplifier->lowest_v);
  tv_html_add(page,
              "<circle cx=\"%s\" cy=\"%s\" r=\"4\" fill=\"#fff\" stroke=\"#a33d00\" stroke-width=\"1.6\"/>",
              tv_compact(x, 1).text, tv_compact(y, 1).text);
  snprintf(text, sizeof text, "%s V", tv_fixed(amplifier->lowest_v, 2).text);
  bool left = x > 0.7 * WIDE;
  label(page, x + (left ? -8.0 : 8.0), y + 4.0, left ? "end" : "start", "", text);
  const struct key_entry entries[] = {
      {band_look, "lowest to highest", true}, {mean_look, "mean", false}, {target_look, "wanted", false}};
  key(page, 188.0, entries, 3);
  finish(page);
}

static const char limit_look[] = "stroke=\"#a33d00\" stroke-width=\"1.2\" stroke-dasharray=\"2 3\"";

/* The moment that ends something: a line from top to bottom, with a label. */
static void moment(struct tv_buffer *page, const struct frame *frame, double at_h, double y, const char *what) {
  if (!(at_h >= frame->from && at_h <= frame->to)) return;
  double x = at_x(frame, at_h);
  bool left = x > 0.6 * WIDE;
  line(page, x, frame->top, x, frame->bottom, limit_look);
  label(page, x + (left ? -4.0 : 4.0), y, left ? "end" : "start", "", what);
}

void tv_html_charge_curve(struct tv_buffer *page, const struct tailvolt_parked *evening) {
  const struct tailvolt_parked_moment *m = evening->moments;
  struct frame frame = {.left = 34.0, .right = WIDE - 6.0, .top = 16.0, .bottom = 138.0, .low = 0.0, .high = 100.0};
  char battery[TAILVOLT_NAME_MAX + 32], title[sizeof battery + 32];
  int count = evening->moment_count;
  if (count < 2) return;
  frame.from = 0.0;
  frame.to = m[count - 1].time_s / 3600.0;
  if (!(frame.to > 0.0)) return;
  tv_parked_battery_words(evening, evening->music_index, battery, sizeof battery);
  snprintf(title, sizeof title, "The evening: charge of %s", battery);
  begin(page, 172, title);
  axes(page, &frame, "%", true, "h");
  tv_buffer_add(page, "<path d=\"");
  for (int k = 0; k < count; k++) point(page, &frame, k == 0 ? 'M' : 'L', m[k].time_s / 3600.0, m[k].music_soc_pct);
  tv_html_add(page, "\" fill=\"none\" stroke-linejoin=\"round\" %s/>", mean_look);
  line(page, frame.left, at_y(&frame, evening->soc_limit_pct), frame.right, at_y(&frame, evening->soc_limit_pct), target_look);
  moment(page, &frame, evening->rest_limit_s / 3600.0, frame.top + 10.0, "charge limit");
  moment(page, &frame, evening->restart_s / 3600.0, frame.top + 24.0, "no start");
  moment(page, &frame, evening->cut_out_s / 3600.0, frame.top + 38.0, "cut-out");
  const struct key_entry entries[] = {{mean_look, "charge", false}, {target_look, "to be left in it", false}};
  key(page, 168.0, entries, 2);
  finish(page);
}

/* Source currents (batteries and capacitors positive when discharging) and the draw, for a frame's range. */
static void current_range(struct frame *frame, const struct tv_trace *trace, const struct rows *rows,
                          const int *draws, int draw_count) {
  frame->low = 0.0;
  frame->high = 1.0;
  for (int k = 0; k < rows->count; k++) {
    const double values[] = {sum_of(rows, k, draws, draw_count), sum_of(rows, k, &trace->alternator_a, 1),
                             sum_of(rows, k, trace->battery_a, trace->battery_count),
                             sum_of(rows, k, trace->capacitor_a, trace->capacitor_count)};
    for (size_t v = 0; v < 4; v++) {
      frame->low = fmin(frame->low, values[v]);
      frame->high = fmax(frame->high, values[v]);
    }
  }
  frame->high += 0.06 * (frame->high - frame->low);
  if (frame->low < 0.0) frame->low -= 0.06 * (frame->high - frame->low);
}

static void current_curves(struct tv_buffer *page, const struct tv_trace *trace, const struct frame *frame,
                           const struct rows *rows, const int *draws, int draw_count, const char *takes,
                           double key_y) {
  struct key_entry entries[4] = {{takes_look, takes, false}};
  int count = 1;
  if (frame->low < 0.0)
    line(page, frame->left, at_y(frame, 0.0), frame->right, at_y(frame, 0.0),
         "stroke=\"#555\" stroke-width=\".8\"");
  summed_curve(page, frame, rows, draws, draw_count, takes_look);
  if (trace->alternator_a >= 0) {
    summed_curve(page, frame, rows, &trace->alternator_a, 1, alternator_look);
    bool converter = trace->system->vehicle.charging == TAILVOLT_CHARGING_CONVERTER;
    entries[count++] = (struct key_entry){alternator_look, converter ? "converter" : "alternator", false};
  }
  summed_curve(page, frame, rows, trace->battery_a, trace->battery_count, battery_look);
  entries[count++] = (struct key_entry){battery_look, "battery", false};
  if (trace->capacitor_count > 0) {
    summed_curve(page, frame, rows, trace->capacitor_a, trace->capacitor_count, capacitor_look);
    entries[count++] = (struct key_entry){capacitor_look, "capacitor", false};
  }
  key(page, key_y, entries, count);
}

void tv_html_beat(struct tv_buffer *page, const struct tv_trace *trace, int index, const char *name) {
  const struct tv_trace_amplifier *amplifier = &trace->amplifier[index];
  struct rows rows = {amplifier->window_count, trace->thinned.chosen_count, amplifier->window, 0.001, 0.0};
  struct frame above = {.left = 34.0, .right = WIDE - 6.0, .top = 16.0, .bottom = 108.0};
  struct frame below = {.left = 34.0, .right = WIDE - 6.0, .top = 128.0, .bottom = 206.0};
  char title[224];
  if (rows.count < 3 || amplifier->min_v < 0) return;
  rows.zero_s = cell(&rows, amplifier->lowest_at, 0);
  above.from = below.from = time_of(&rows, 0);
  above.to = below.to = time_of(&rows, rows.count - 1);
  voltage_range(&above, &rows, amplifier);
  current_range(&below, trace, &rows, &amplifier->draw_a, 1);
  snprintf(title, sizeof title, "The worst beat magnified: %.48s at %s", name,
           tv_clock(rows.zero_s).text);
  begin(page, 240, title);
  axes(page, &above, "V", false, "");
  band(page, &above, &rows, amplifier->min_v, amplifier->max_v);
  curve(page, &above, &rows, amplifier->mean_v, 1.0, mean_look);
  curve(page, &above, &rows, amplifier->target_v, 1.0, target_look);
  axes(page, &below, "A", true, "ms");
  current_curves(page, trace, &below, &rows, &amplifier->draw_a, 1, "amplifier takes", 236.0);
  finish(page);
}

void tv_html_currents(struct tv_buffer *page, const struct tv_trace *trace) {
  struct rows rows = {trace->thinned.count + 1, trace->thinned.chosen_count, trace->thinned.cells, 1.0, 0.0};
  struct frame frame = {.left = 34.0, .right = WIDE - 6.0, .top = 16.0, .bottom = 138.0};
  int draws[TV_TRACE_PARTS];
  if (trace->thinned.count < 2) return;
  struct tv_time_axis axis = tv_time_axis_of(cell(&rows, rows.count - 1, 0) - cell(&rows, 0, 0));
  rows.in_s = axis.in_s;
  frame.from = time_of(&rows, 0);
  frame.to = time_of(&rows, rows.count - 1);
  for (int k = 0; k < trace->amplifier_count; k++) draws[k] = trace->amplifier[k].draw_a;
  current_range(&frame, trace, &rows, draws, trace->amplifier_count);
  begin(page, 172, "Currents over the run, means (below zero: charging)");
  axes(page, &frame, "A", true, axis.unit);
  current_curves(page, trace, &frame, &rows, draws, trace->amplifier_count,
                 trace->amplifier_count > 1 ? "amplifiers take" : "amplifier takes", 168.0);
  finish(page);
}
