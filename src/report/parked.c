/* The text report on a parked car: five lines, then the way down, the start, the batteries, the spread. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text/number.h"
#include "report/page.h"
#include "report/parked_words.h"
#include "report/text_parts.h"
#include "tailvolt/study.h"

enum { LABEL_WIDTH = 8, MOMENTS_SHOWN = 14 };

/* "45 s", "12 min", "3 h 05 min": playing times are read off a clock. */
static struct tv_number hours(double time_s) {
  struct tv_number out;
  if (!isfinite(time_s)) {
    snprintf(out.text, sizeof out.text, "-");
  } else if (time_s < 120) {
    snprintf(out.text, sizeof out.text, "%.20s s", tv_compact(time_s, time_s < 10 ? 1 : 0).text);
  } else {
    long minutes = lround(time_s / 60);
    if (minutes < 60)
      snprintf(out.text, sizeof out.text, "%ld min", minutes);
    else if (minutes % 60 == 0)
      snprintf(out.text, sizeof out.text, "%ld h", minutes / 60);
    else
      snprintf(out.text, sizeof out.text, "%ld h %02ld min", minutes / 60, minutes % 60);
  }
  return out;
}

static void limit_text(const struct tailvolt_parked *p, char *text, size_t size) {
  if (p->limit_by_voltage)
    snprintf(text, size, "%s V rested", tv_fixed(p->rest_limit_v, 2).text);
  else
    snprintf(text, size, "%s %% charged", tv_compact(p->soc_limit_pct, 1).text);
}

static const char *end_text(const struct tailvolt_parked *p, char *text, size_t size) {
  char limit[64];
  switch (p->ends_by) {
  case TAILVOLT_ENDS_BY_RESTART:
    snprintf(text, size, "then the car no longer starts (posts under %s V while cranking)",
             tv_fixed(p->floor_v, 1).text);
    break;
  case TAILVOLT_ENDS_BY_CUT_OUT:
    snprintf(text, size, "then amplifier %.30s cuts out; the car %s", p->cut_out_amplifier,
             p->starts ? "still starts" : "does not start");
    break;
  case TAILVOLT_ENDS_BY_REST_LIMIT:
    limit_text(p, limit, sizeof limit);
    snprintf(text, size, "then battery %.30s is down to %s; the car %s", p->limit_battery, limit,
             p->starts ? "still starts" : "does not start");
    break;
  case TAILVOLT_ENDS_BY_TIME:
    snprintf(text, size, "the longest time looked at; the car %s",
             p->starts ? "still starts" : "does not start");
    break;
  }
  return text;
}

static void label(struct tv_page *page, const char *text) {
  tv_page_colour(page, TV_BOLD);
  tv_page_add(page, text);
  tv_page_colour(page, TV_PLAIN);
  tv_buffer_fill(&page->text, ' ', LABEL_WIDTH - strlen(text));
}

static void labelled(struct tv_page *page, const char *name, const char *text) {
  char clean[2 * TAILVOLT_TEXT_MAX];
  label(page, name);
  tv_page_clean(page, clean, sizeof clean, text);
  tv_page_cut(clean, TV_PAGE_WIDTH - LABEL_WIDTH);
  tv_page_add(page, clean);
  tv_page_newline(page);
}

static void verdict_line(struct tv_page *page, const struct tailvolt_parked *p) {
  char end[160], text[320], clean[2 * TAILVOLT_TEXT_MAX];
  bool asked = isfinite(p->wanted_s), holds = asked && p->until_s >= p->wanted_s;
  const char *word = asked ? holds ? "HOLDS" : "FAILS" : "PLAYS";
  tv_page_colour(page, asked ? holds ? TV_GREEN : TV_RED : TV_BOLD);
  tv_page_add(page, word);
  tv_page_colour(page, TV_PLAIN);
  if (asked)
    snprintf(text, sizeof text, " %s: plays %s, %s", hours(p->wanted_s).text, hours(p->until_s).text,
             end_text(p, end, sizeof end));
  else
    snprintf(text, sizeof text, " %s, %s", hours(p->until_s).text, end_text(p, end, sizeof end));
  tv_page_clean(page, clean, sizeof clean, text);
  tv_page_cut(clean, TV_PAGE_WIDTH - strlen(word));
  tv_page_add(page, clean);
  tv_page_newline(page);
}

static void add_time(char *text, size_t size, const char *what, double time_s, double followed_s) {
  size_t used = strlen(text);
  if (isfinite(time_s))
    snprintf(text + used, size - used, "%s%s after %s", used > 0 ? ", " : "", what, hours(time_s).text);
  else
    snprintf(text + used, size - used, "%s%s later than %s", used > 0 ? ", " : "", what,
             hours(followed_s).text);
}

static void ends_line(struct tv_page *page, const struct tailvolt_parked *p) {
  char text[320] = "", limit[64];
  add_time(text, sizeof text, "no start", p->restart_s, p->followed_s);
  add_time(text, sizeof text, "cut-out", p->cut_out_s, p->followed_s);
  if (isfinite(p->soc_limit_pct) || isfinite(p->rest_limit_v)) {
    if (isfinite(p->rest_limit_s))
      limit_text(p, limit, sizeof limit);
    else
      snprintf(limit, sizeof limit, "charge limit");
    add_time(text, sizeof text, limit, p->rest_limit_s, p->followed_s);
  }
  labelled(page, "ENDS", text);
}

static void state_line(struct tv_page *page, const struct tailvolt_parked *p) {
  char text[400];
  snprintf(text, sizeof text,
           "%.24s %s %% (%s V rested), %s V after %s of silence; cranks at %s V (floor %s V)", p->starter,
           tv_compact(p->soc_pct, 0).text, tv_fixed(p->rest_v, 2).text, tv_fixed(p->paused_v, 2).text,
           hours(p->pause_s).text, tv_fixed(p->cranking_v, 1).text, tv_fixed(p->floor_v, 1).text);
  labelled(page, "STATE", text);
}

static void back_line(struct tv_page *page, const struct tailvolt_parked *p) {
  char text[320], idle[48] = "idling never", town[48] = "town driving never";
  if (isfinite(p->idle_s)) snprintf(idle, sizeof idle, "%ld min at idle", lround(p->idle_s / 60));
  if (isfinite(p->town_s)) snprintf(town, sizeof town, "%ld min in town", lround(p->town_s / 60));
  if (p->taken_ah < 0.005) {
    labelled(page, "BACK", "next to nothing was taken");
    return;
  }
  snprintf(text, sizeof text, "%s Ah (%s Wh) taken, %s A mean; %s or %s brings it to %s %%",
           tv_fixed(p->taken_ah, 1).text, tv_fixed(p->taken_j / 3600, 0).text, tv_fixed(p->mean_a, 1).text,
           idle, town, tv_compact(p->back_soc_pct, 0).text);
  labelled(page, "BACK", text);
}

static void next_line(struct tv_page *page, const struct tailvolt_system *system,
                      const struct tailvolt_parked *p) {
  char text[320];
  if (!p->level_looked_for)
    snprintf(text, sizeof text, "--for 3h finds the level that lasts 3 h");
  else if (p->any_level_lasts)
    snprintf(text, sizeof text, "%s lasts even at %s dB", hours(p->wanted_s).text,
             tv_compact(p->wanted_level_db, 1).text);
  else if (isfinite(p->wanted_level_db))
    snprintf(text, sizeof text, "%s lasts at %s dB (now %s dB)", hours(p->wanted_s).text,
             tv_fixed(floor(10 * p->wanted_level_db) / 10, 1).text, tv_compact(p->level_db, 1).text);
  else
    snprintf(text, sizeof text, "no level lasts %s: even the idle draw is too much", hours(p->wanted_s).text);
  char assumed[80] = "";
  static const char how_sure[] = "; --spread 256 shows how sure that is";
  if (system != NULL && system->assumption_count > 0)
    snprintf(assumed, sizeof assumed, ".  %d values assumed, listed at the end", system->assumption_count);
  bool fits = strlen(text) + strlen(how_sure) + strlen(assumed) <= TV_PAGE_WIDTH - LABEL_WIDTH;
  size_t used = strlen(text);
  snprintf(text + used, sizeof text - used, "%s%s", p->spread.vehicles == 0 && fits ? how_sure : "", assumed);
  labelled(page, "NEXT", text);
}

static void head(struct tv_page *page, const struct tailvolt_parked *p) {
  tv_page_newline(page);
  tv_page_line(page, "system  %s", p->system);
  tv_page_line(page, "plays   %s, level %s dB, air %s C",
               p->profile[0] != '\0' ? p->profile : "without a break", tv_compact(p->level_db, 2).text,
               tv_compact(p->ambient_c, 1).text);
  if (p->full)
    tv_page_line(page, "run     every step, %lld of %s ms", p->steps, tv_compact(1000 * p->step_s, 3).text);
  else
    tv_page_line(page, "run     %d checkpoints in %d passes, %lld steps of %s ms", p->checkpoints, p->passes,
                 p->steps, tv_compact(1000 * p->step_s, 3).text);
}

/* Evenly thinned in time, the first and the last kept. */
static void way_down(struct tv_page *page, const struct tailvolt_parked *p) {
  static const struct tv_column columns[] = {{"time", true, 0},
                                             {"charge %", true, 0},
                                             {"rested V", true, 0},
                                             {"mean A", true, 0},
                                             {"lowest V at amplifier", true, 0},
                                             {"cranks at V", true, 0}};
  struct tv_table table;
  if (p->moment_count == 0) return;
  tv_page_heading(page, "THE WAY DOWN of battery %s; each line with the start as it would go then",
                  p->starter);
  tv_table_begin(&table, page, columns, 6);
  double last_s = p->moments[p->moment_count - 1].time_s, next_s = 0;
  for (int k = 0; k < p->moment_count; k++) {
    const struct tailvolt_parked_moment *m = &p->moments[k];
    if (m->time_s < next_s && k + 1 < p->moment_count) continue;
    next_s = m->time_s + last_s / MOMENTS_SHOWN;
    tv_table_cell(&table, hours(m->time_s).text);
    tv_table_cell(&table, tv_fixed(m->soc_pct, 1).text);
    tv_table_cell(&table, tv_fixed(m->rest_v, 2).text);
    tv_table_cell(&table, tv_fixed(m->mean_a, 1).text);
    tv_table_cell(&table, tv_fixed(m->min_v, 2).text);
    tv_table_cell(&table, tv_fixed(m->cranking_v, 2).text);
  }
  tv_table_end(&table, "  ");
}

static void start_lines(struct tv_page *page, const struct tailvolt_parked *p) {
  tv_page_heading(page, "THE START after %s of silence", hours(p->pause_s).text);
  tv_page_line(page,
               "  %s A to break away, then %s A turning, at %s; the music off, every other load as it was",
               tv_fixed(p->breakaway_a, 0).text, tv_fixed(p->cranking_a, 0).text,
               tv_temperature(p->ambient_c, page->style.us_units).text);
  tv_page_line(page, "  lowest at the posts %s V, at least %s V wanted: the car %s",
               tv_fixed(p->cranking_v, 2).text, tv_fixed(p->floor_v, 1).text,
               p->starts ? "starts" : "does not start");
}

static void batteries(struct tv_page *page, const struct tailvolt_parked *p) {
  static const struct tv_column columns[] = {{"battery", false, 40},
                                             {"start %", true, 0},
                                             {"end %", true, 0},
                                             {"rested V", true, 0},
                                             {"taken Ah", true, 0}};
  struct tv_table table;
  if (p->battery_count < 2) return;
  tv_page_heading(page, "BATTERIES at the end; %s starts the car", p->starter);
  tv_table_begin(&table, page, columns, 5);
  for (int k = 0; k < p->battery_count; k++) {
    const struct tailvolt_parked_battery *b = &p->batteries[k];
    tv_table_cell(&table, b->name);
    tv_table_cell(&table, tv_fixed(b->start_soc_pct, 1).text);
    tv_table_cell(&table, tv_fixed(b->end_soc_pct, 1).text);
    tv_table_cell(&table, tv_fixed(b->end_rest_v, 2).text);
    tv_table_cell(&table, tv_fixed(b->taken_ah, 1).text);
  }
  tv_table_end(&table, "  ");
}

static void quantile_row(struct tv_table *table, const char *what, const struct tailvolt_parked_quantiles *q,
                         double limit_s) {
  const double times_s[] = {q->p10, q->p50, q->p90};
  tv_table_cell(table, what);
  for (int k = 0; k < 3; k++) {
    char text[64];
    snprintf(text, sizeof text, "over %s", hours(limit_s).text);
    tv_table_cell(table, isfinite(times_s[k]) ? hours(times_s[k]).text : text);
  }
}

static void half_width(const struct tailvolt_parked_matter *m, char *text, size_t size) {
  if (strcmp(m->key, "level") == 0)
    snprintf(text, size, "+-%s dB", tv_compact(m->half_width, 1).text);
  else if (strcmp(m->key, "temperature") == 0)
    snprintf(text, size, "+-%s C", tv_compact(m->half_width, 1).text);
  else
    snprintf(text, size, "+-%s %%", tv_compact(100 * m->half_width, 1).text);
}

static void spread(struct tv_page *page, const struct tailvolt_parked *p) {
  static const struct tv_column columns[] = {
      {"", false, 0}, {"10 %", true, 0}, {"half", true, 0}, {"90 %", true, 0}};
  static const struct tv_column weights[] = {
      {"tolerance", false, 0}, {"drawn within", true, 0}, {"rank correlation with the time", true, 0}};
  const struct tailvolt_parked_spread *s = &p->spread;
  struct tv_table table;
  if (s->vehicles == 0) return;
  tv_page_heading(page, "SPREAD over %d vehicles%s: so many have ended by then", s->done,
                  s->partial ? " (PARTIAL: stopped before all were done)" : "");
  tv_table_begin(&table, page, columns, 4);
  quantile_row(&table, "playing ends", &s->until_s, p->limit_s);
  quantile_row(&table, "no start", &s->restart_s, p->limit_s);
  quantile_row(&table, "cut-out", &s->cut_out_s, p->limit_s);
  if (isfinite(p->soc_limit_pct) || isfinite(p->rest_limit_v))
    quantile_row(&table, "charge limit", &s->rest_limit_s, p->limit_s);
  tv_table_end(&table, "  ");
  if (isfinite(s->not_starting_pct))
    tv_page_line(page, "  after %s: %s would not start, %s have stopped playing", hours(p->wanted_s).text,
                 tv_percent(s->not_starting_pct).text, tv_percent(s->too_short_pct).text);
  if (s->refused > 0) tv_page_line(page, "  %d vehicles could not be computed and are left out", s->refused);
  tv_page_heading(page, "WHAT MATTERS MOST");
  tv_table_begin(&table, page, weights, 3);
  for (int k = 0; k < TAILVOLT_TOLERANCES; k++) {
    char text[48];
    half_width(&s->matters[k], text, sizeof text);
    tv_table_cell(&table, s->matters[k].key);
    tv_table_cell(&table, text);
    tv_table_cell(&table, tv_fixed(s->matters[k].rank_correlation, 2).text);
  }
  tv_table_end(&table, "  ");
  tv_page_line(page, "  every value within is as likely as any other; the [tolerance] section sets them");
}

enum tailvolt_status tailvolt_report_parked_text(const struct tailvolt_system *system,
                                                 const struct tailvolt_parked *p,
                                                 const struct tailvolt_report_style *style, char **out) {
  struct tv_page page = {0};
  *out = NULL;
  if (style != NULL) page.style = *style;
  verdict_line(&page, p);
  ends_line(&page, p);
  state_line(&page, p);
  back_line(&page, p);
  next_line(&page, system, p);
  head(&page, p);
  spread(&page, p);
  way_down(&page, p);
  start_lines(&page, p);
  batteries(&page, p);
  if (p->caution_count > 0) tv_page_heading(&page, "CAUTIONS");
  for (int k = 0; k < p->caution_count; k++) {
    char sentence[TAILVOLT_TEXT_MAX];
    tv_parked_caution_text(p, p->caution[k], sentence, sizeof sentence);
    tv_page_wrapped(&page, "  - ", sentence);
  }
  tv_text_assumed(&page, system);
  return tv_buffer_finish(&page.text, out);
}
