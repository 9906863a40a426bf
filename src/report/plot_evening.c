/* Pictures of playing with the engine off, from the JSON of `parked`: the evening as it runs, several evenings on
 * one axis, and a bar with its spread for each end. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text/number.h"
#include "report/json_write.h"
#include "report/plot_parts.h"

/* The times at which something ends; NAN = later than the limit. */
enum { END_START, END_CUT_OUT, END_LIMIT, ENDS };

struct ends {
  double at_s[ENDS], until_s, followed_s, wanted_s;
  double longest_s; /* simulated; NAN = not known */
  double p10_s, p50_s, p90_s; /* NAN where none; p90 INFINITY = beyond */
  double limit_pct;           /* charge at which the playing stops, NAN = none */
  const char *ends_by;
};

static struct ends read_ends(const json_t *parked) {
  const json_t *playing = json_object_get(parked, "playing");
  const json_t *until = json_object_get(json_object_get(parked, "spread"), "until_s");
  struct ends ends = {.at_s = {tv_json_number_of(playing, "restart_s"), tv_json_number_of(playing, "cut_out_s"),
                               tv_json_number_of(playing, "rest_limit_s")},
                      .until_s = tv_json_number_of(playing, "until_s"),
                      .longest_s = tv_json_number_of(playing, "longest_s"),
                      .followed_s = tv_json_number_of(playing, "followed_s"),
                      .wanted_s = tv_json_number_of(json_object_get(parked, "wanted"), "for_s"),
                      .p10_s = tv_json_number_of(until, "p10"),
                      .p50_s = tv_json_number_of(until, "p50"),
                      .p90_s = tv_json_number_of(until, "p90"),
                      .limit_pct = tv_json_number_of(playing, "soc_limit_pct"),
                      .ends_by = tv_json_text_of(playing, "ends_by")};
  if (ends.until_s >= ends.longest_s) ends.until_s = (double)NAN;
  if (isfinite(ends.p10_s) && !isfinite(ends.p90_s)) ends.p90_s = (double)INFINITY;
  return ends;
}

static const char *end_words(const struct ends *ends) {
  if (strcmp(ends->ends_by, "restart") == 0) return "longer, and the car no longer starts";
  if (strcmp(ends->ends_by, "cut-out") == 0) return "then the amplifier cuts out";
  if (strcmp(ends->ends_by, "rest limit") == 0) return "then the battery is at its limit";
  return "";
}

/* "3 h 20 min", "over 48 h" */
static void say_time(double until_s, double longest_s, char *to, size_t size) {
  if (isfinite(until_s)) snprintf(to, size, "%s", tv_playing_time(until_s).text);
  else if (isfinite(longest_s)) snprintf(to, size, "over %s", tv_playing_time(longest_s).text);
  else snprintf(to, size, "longer than the time simulated");
}

static void set_title(struct tv_plot *plot, const struct ends *ends) {
  const char *words = end_words(ends);
  char time[64];
  say_time(ends->until_s, ends->longest_s, time, sizeof time);
  tv_plot_title(plot, "Plays %s with the engine off%s%s", time, words[0] != '\0' ? "; " : "", words);
}

/* "8 of 10 such cars stop between 1 h 40 min and 3 h 20 min", or "9 of 10 such cars play longer than 23 h 20 min"; where a dot marks
 * the middle, what it is. */
static void set_spread(struct tv_plot *plot, const struct ends *ends, double in_s, bool dot) {
  char text[224], middle[96] = "";
  if (!isfinite(ends->p10_s)) return;
  bool open = !isfinite(ends->p90_s);
  if (dot && isfinite(ends->p50_s))
    snprintf(middle, sizeof middle, "%s %s (dot)", open ? ", half longer than" : "; half of them by", tv_playing_time(ends->p50_s).text);
  if (open)
    snprintf(text, sizeof text, "9 of 10 such cars play longer than %s%s", tv_playing_time(ends->p10_s).text, middle);
  else
    snprintf(text, sizeof text, "8 of 10 such cars stop between %s and %s%s", tv_playing_time(ends->p10_s).text,
             tv_playing_time(ends->p90_s).text, middle);
  tv_plot_set_text(plot, "spread_text", text);
  tv_plot_set_number(plot, "p10", ends->p10_s / in_s);
  tv_plot_set_number(plot, "p50", ends->p50_s / in_s);
  tv_plot_set_number(plot, "p90", ends->p90_s / in_s);
  tv_plot_set_number(plot, "p90_open", open);
}

/* ---- the bars ---- */

/* A point on the run down, or that it lies beyond the limit. The text follows `text_s`. */
static void playing_row(struct tv_plot *plot, int row, double time_s, double limit_s, double text_s,
                        double in_s, const char *label) {
  bool known = isfinite(time_s);
  double end_s = known ? time_s : limit_s;
  tv_plot_cell(plot, row);
  tv_plot_cell(plot, time_s / in_s);
  tv_plot_cell_text(plot, label);
  tv_plot_cell_text(plot, known ? tv_playing_time(time_s).text : row == 0 ? "longer" : "later");
  tv_plot_cell(plot, known ? (double)NAN : limit_s / in_s);
  tv_plot_cell(plot, fmax(text_s, end_s) / in_s);
  tv_plot_row(plot);
}

static enum tailvolt_status make_bars(struct tv_plot *plot, const struct ends *ends) {
  double longest_s = isfinite(ends->followed_s) ? ends->followed_s : 0.0;
  const double times_s[] = {ends->until_s, ends->at_s[END_START], ends->at_s[END_CUT_OUT],
                            ends->at_s[END_LIMIT]};
  static const char *const labels[] = {"it plays for", "the car no longer starts", "the amplifier cuts out",
                                       "charge at its limit"};
  for (size_t k = 0; k < 4; k++)
    if (times_s[k] > longest_s) longest_s = times_s[k];
  if (isfinite(ends->p90_s)) longest_s = fmax(longest_s, ends->p90_s);
  if (!(longest_s > 0.0)) return tv_plot_refuse(plot, "the result has no playing time");
  struct tv_time_axis axis = tv_time_axis_of(longest_s * 2.0);
  double whisker_s = isnan(ends->p10_s) ? 0.0 : isfinite(ends->p90_s) ? ends->p90_s : longest_s;
  for (int k = 0; k < 4; k++)
    playing_row(plot, k, times_s[k], longest_s, k == 0 ? whisker_s : 0.0, axis.in_s, labels[k]);
  tv_plot_set_number(plot, "count", 4);
  tv_plot_set_number(plot, "to", 1.22 * longest_s / axis.in_s);
  tv_plot_set_text(plot, "unit", axis.unit);
  tv_plot_set_number(plot, "wanted", ends->wanted_s / axis.in_s);
  tv_plot_set_number(plot, "whisker", whisker_s / axis.in_s);
  set_spread(plot, ends, axis.in_s, ends->p50_s <= 1.22 * longest_s);
  set_title(plot, ends);
  return TAILVOLT_OK;
}

/* ---- the evening ---- */

static double last_moment_s(const json_t *moments) {
  size_t count = json_array_size(moments);
  return count > 0 ? tv_json_number_of(json_array_get(moments, count - 1), "time_s") : (double)NAN;
}

/* The line that marks an end; omitted where the axis ends before it. */
static void set_end(struct tv_plot *plot, const char *name, double time_s, double last_s, double in_s,
                    const char *words) {
  char text[128], key[32];
  if (!(time_s <= last_s)) return;
  snprintf(text, sizeof text, "%s %s", words, tv_playing_time(time_s).text);
  tv_plot_set_number(plot, name, time_s / in_s);
  snprintf(key, sizeof key, "%s_text", name);
  tv_plot_set_text(plot, key, text);
}

static void set_ends(struct tv_plot *plot, const struct ends *ends, double last_s, double in_s) {
  bool by_start = strcmp(ends->ends_by, "restart") == 0, by_cut_out = strcmp(ends->ends_by, "cut-out") == 0;
  set_end(plot, "stops", ends->until_s, last_s, in_s, "it stops after");
  if (!by_start) set_end(plot, "no_start", ends->at_s[END_START], last_s, in_s, "no start after");
  /* where both coincide one line says so */
  bool together = fabs(ends->at_s[END_CUT_OUT] - ends->at_s[END_START]) < 0.02 * last_s;
  if (!by_cut_out && !together)
    set_end(plot, "cut_out", ends->at_s[END_CUT_OUT], last_s, in_s, "cut-out after");
  set_end(plot, "wanted", ends->wanted_s, last_s, in_s, "wanted:");
}

/* Charge and volts of one evening, with what ends it. */
static enum tailvolt_status make_evening(struct tv_plot *plot, const json_t *parked,
                                         const struct ends *ends) {
  const json_t *moments = json_object_get(parked, "moments");
  double last_s = last_moment_s(moments), floor_v = (double)NAN;
  bool two = false;
  if (json_array_size(moments) < 2 || !(last_s > 0.0))
    return tv_plot_refuse(plot, "the result has no moments of the evening to draw");
  struct tv_time_axis axis = tv_time_axis_of(last_s * 2.0);
  for (size_t k = 0; k < json_array_size(moments); k++) {
    const json_t *moment = json_array_get(moments, k);
    static const char *const columns[] = {"soc_pct", "music_soc_pct", "rest_v", "min_v", "cranking_v"};
    tv_plot_cell(plot, tv_json_number_of(moment, "time_s") / axis.in_s);
    for (size_t c = 0; c < sizeof columns / sizeof columns[0]; c++)
      tv_plot_cell(plot, tv_json_number_of(moment, columns[c]));
    tv_plot_row(plot);
    two = two || fabs(tv_json_number_of(moment, "soc_pct") - tv_json_number_of(moment, "music_soc_pct")) > 0.05;
    floor_v = tv_json_number_of(moment, "floor_v");
  }
  tv_plot_set_text(plot, "unit", axis.unit);
  tv_plot_set_number(plot, "two_batteries", two);
  tv_plot_set_number(plot, "limit_pct", ends->limit_pct > 0.0 ? ends->limit_pct : (double)NAN);
  tv_plot_set_number(plot, "floor_v", floor_v);
  set_ends(plot, ends, last_s, axis.in_s);
  set_spread(plot, ends, axis.in_s, false);
  set_title(plot, ends);
  return TAILVOLT_OK;
}

/* The charge of several evenings, each to its own end. */
static enum tailvolt_status make_evenings(struct tv_plot *plot, const struct tv_plot_file *const *files,
                                          int count) {
  double last_s = 0.0, longest_s = -1.0, shortest_s = HUGE_VAL;
  const char *longest = "", *shortest = "";
  struct ends longest_ends = {0}, shortest_ends = {0};
  for (int f = 0; f < count; f++)
    last_s = fmax(last_s, last_moment_s(json_object_get(files[f]->json, "moments")));
  if (!(last_s > 0.0)) return tv_plot_refuse(plot, "the results have no moments of the evening to draw");
  struct tv_time_axis axis = tv_time_axis_of(last_s * 2.0);
  for (int f = 0; f < count; f++) {
    const json_t *moments = json_object_get(files[f]->json, "moments");
    struct ends ends = read_ends(files[f]->json);
    char name[TV_PLOT_NAME_MAX + 72], time[64];
    say_time(ends.until_s, ends.longest_s, time, sizeof time);
    snprintf(name, sizeof name, "%s: %s", files[f]->name, time);
    if (f > 0) tv_buffer_add(&plot->data, "\n\n");
    tv_plot_cell_text(plot, name);
    tv_plot_row(plot);
    double before_s = (double)NAN, before_pct = (double)NAN;
    for (size_t k = 0; k < json_array_size(moments); k++) {
      const json_t *moment = json_array_get(moments, k);
      double time_s = tv_json_number_of(moment, "time_s"), soc_pct = tv_json_number_of(moment, "music_soc_pct");
      bool over = time_s > ends.until_s;
      if (over && !(before_s < ends.until_s)) break;
      if (over) /* the end lies between two points */
        soc_pct = before_pct + (soc_pct - before_pct) * (ends.until_s - before_s) / (time_s - before_s);
      tv_plot_cell(plot, (over ? ends.until_s : time_s) / axis.in_s);
      tv_plot_cell(plot, soc_pct);
      tv_plot_row(plot);
      if (over) break;
      before_s = time_s;
      before_pct = soc_pct;
    }
    double plays_s = isnan(ends.until_s) ? HUGE_VAL : ends.until_s;
    if (plays_s > longest_s) longest = files[f]->name, longest_s = plays_s, longest_ends = ends;
    if (plays_s < shortest_s || f == 0) shortest = files[f]->name, shortest_s = plays_s, shortest_ends = ends;
  }
  tv_plot_set_number(plot, "count", count);
  tv_plot_set_text(plot, "unit", axis.unit);
  char from[64], to[64];
  say_time(shortest_ends.until_s, shortest_ends.longest_s, from, sizeof from);
  say_time(longest_ends.until_s, longest_ends.longest_s, to, sizeof to);
  tv_plot_title(plot, "Plays %s (%.30s) to %s (%.30s), engine off", from, shortest, to, longest);
  return TAILVOLT_OK;
}

enum tailvolt_status tv_plot_of_parked(struct tv_plot *plot, const struct tv_plot_file *const *files,
                                       int count, int *picture) {
  struct ends ends = read_ends(files[0]->json);
  if (count > 1 && *picture == TV_PICTURE_PLAYING)
    return tv_plot_refuse(plot, "the picture `playing` shows one result; several are drawn as `evenings`");
  if (count > 1) {
    *picture = TV_PICTURE_EVENINGS;
    return make_evenings(plot, files, count);
  }
  bool bars = plot->request->picture < 0 && json_array_size(json_object_get(files[0]->json, "moments")) < 2;
  if (bars || *picture == TV_PICTURE_PLAYING) {
    *picture = TV_PICTURE_PLAYING;
    return make_bars(plot, &ends);
  }
  *picture = TV_PICTURE_EVENING;
  return make_evening(plot, files[0]->json, &ends);
}
