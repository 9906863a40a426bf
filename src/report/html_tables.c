/* The page's feed path, ledger and tables. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "parts/cautions.h"
#include "report/html_parts.h"
#include "report/summary.h"
#include "text/feed_drops.h"
#include "text/number.h"
#include "report/page.h"
#include "text/finding_text.h"
#include "simulate/worst.h"
#include "text/words.h"

static void feed_path_part(struct tv_buffer *page, const struct tv_feed_drop *part, bool end) {
  tv_html_add(page, "<li><span class=\"box%s%s\">", part->worst ? " most" : "", end ? " end" : "");
  tv_html_text(page, part->name);
  tv_html_add(page, "<b>%s V%s</b></span></li>", tv_fixed(part->drop_v, 2).text,
              part->amplifier ? " left"
              : part->worst   ? " worst"
                              : "");
}

void tv_html_feed_path(struct tv_buffer *page, const struct tailvolt_ledger *ledger, bool several) {
  struct tv_feed_drops drops;
  int back = 0;
  tv_feed_drops_of(ledger, several, &drops);
  tv_buffer_add(page, "<section><h2>The feed path: volts lost at the worst moment, part by part</h2>\n");
  tv_buffer_add(page, "<ol class=\"loop\" aria-label=\"feed\">");
  for (int k = 0; k < drops.count; k++) {
    if (drops.part[k].ground_side)
      back++;
    else
      feed_path_part(page, &drops.part[k], k == 0 || drops.part[k].amplifier);
  }
  tv_buffer_add(page, "</ol>\n");
  if (back > 0) {
    tv_buffer_add(page, "<p class=\"small\">and back to the battery through the ground side:</p>\n<ol "
                        "class=\"loop\" aria-label=\"return\">");
    for (int k = 0; k < drops.count; k++)
      if (drops.part[k].ground_side) feed_path_part(page, &drops.part[k], false);
    tv_buffer_add(page, "</ol>\n");
  }
  tv_buffer_add(page, "</section>\n");
}

/* A bar from one voltage to the next, as a step of the waterfall. */
static void bar(struct tv_buffer *page, double from_v, double to_v, double low_v, double high_v,
                const char *fill) {
  double span_v = high_v - low_v, left_v = fmin(from_v, to_v), wide_v = fabs(from_v - to_v);
  tv_html_add(page,
              "<td><svg viewBox=\"0 0 120 10\" role=\"presentation\"><rect x=\"%s\" y=\"1\" width=\"%s\" "
              "height=\"8\" fill=\"%s\"/></svg></td>",
              tv_compact(120.0 * (left_v - low_v) / span_v, 1).text,
              tv_compact(fmax(0.8, 120.0 * wide_v / span_v), 1).text, fill);
}

static void ledger_end(struct tv_buffer *page, const char *what, double volts, double low_v, double high_v) {
  tv_html_add(page, "<tr><td>%s</td><td></td><td class=\"n\">%s</td><td></td>", what,
              tv_fixed(volts, 2).text);
  bar(page, low_v, volts, low_v, high_v, "#8c8c8c");
  tv_buffer_add(page, "</tr>\n");
}

static void ledger_row(struct tv_buffer *page, const struct tv_feed_drop *part,
                       const struct tailvolt_ledger *ledger, double *now_v, double low_v, double high_v) {
  double sag_v = ledger->rest_v - ledger->terminal_v;
  tv_html_add(page, "<tr%s><td>", part->worst ? " class=\"worst\"" : "");
  tv_html_text(page, part->name);
  tv_html_add(page, "</td><td>%s</td><td class=\"n\">%s</td><td class=\"n\">%s</td>",
              part->battery                      ? "battery"
              : part->ground_side                ? "return"
                                                 : "feed",
              tv_fixed(-part->drop_v, 2).text, tv_fixed(100.0 * part->drop_v / sag_v, 0).text);
  bar(page, *now_v, *now_v - part->drop_v, low_v, high_v,
      part->worst          ? "#a33d00"
      : part->drop_v < 0.0 ? "#00664b"
                           : "#d98a00");
  tv_buffer_add(page, "</tr>\n");
  *now_v -= part->drop_v;
}

void tv_html_ledger(struct tv_buffer *page, const struct tailvolt_ledger *ledger, bool several) {
  struct tv_feed_drops drops;
  double now_v = ledger->rest_v, low_v = ledger->terminal_v, high_v = ledger->rest_v;
  tv_feed_drops_of(ledger, several, &drops);
  for (int k = 0; k < drops.count; k++) {
    if (drops.part[k].amplifier) continue;
    now_v -= drops.part[k].drop_v;
    low_v = fmin(low_v, now_v);
    high_v = fmax(high_v, now_v);
  }
  low_v -= 0.1 * (high_v - low_v);
  now_v = ledger->rest_v;
  tv_html_add(page,
              "<section><h2>Where the volts go: the sag ledger at "
              "%s</h2>\n<table><thead><tr><th>part</th><th>side</th><th class=\"n\">V</th>"
              "<th class=\"n\">%%</th><th style=\"width:32%%\">rest to worst</th></tr></thead><tbody>\n",
              tv_clock(ledger->time_s).text);
  ledger_end(page, "at rest", ledger->rest_v, low_v, high_v);
  for (int k = 0; k < drops.count; k++)
    if (!drops.part[k].amplifier) ledger_row(page, &drops.part[k], ledger, &now_v, low_v, high_v);
  ledger_end(page, "at the worst moment", ledger->terminal_v, low_v, high_v);
  tv_buffer_add(page, "</tbody></table></section>\n");
}

void tv_html_phases(struct tv_buffer *page, const struct tailvolt_result *run) {
  int order[TAILVOLT_PHASES], count = tv_phases_worst_first(run, order);
  tv_buffer_add(page, "<table><thead><tr><th>phase</th><th>verdict</th><th>amplifier</th><th "
                      "class=\"n\">lowest V</th><th class=\"n\">wanted V</th>"
                      "<th class=\"n\">below, % of time</th></tr></thead><tbody>\n");
  for (int p = 0; p < count; p++)
    for (int a = 0; a < run->amplifier_count; a++) {
      const struct tailvolt_amplifier_phase *in = &run->amplifiers[a].phase[order[p]];
      bool plays = in->play_s > 0.0;
      tv_html_add(page, "<tr><td>%s</td><td>%s</td>", a == 0 ? tv_phase_place(order[p]) : "",
                  a == 0 ? tv_verdict_word(run->phases[order[p]].status) : "");
      tv_html_cell(page, run->amplifiers[a].name);
      tv_html_number_cell(page, plays ? in->min_v : (double)NAN, 2);
      tv_html_number_cell(page, plays ? in->target_v : (double)NAN, 1);
      tv_html_number_cell(page, plays ? in->below_target_pct : (double)NAN, 1);
      tv_buffer_add(page, "</tr>\n");
    }
  tv_buffer_add(page, "</tbody></table>\n");
}

void tv_html_cables(struct tv_buffer *page, const struct tailvolt_system *system,
                    const struct tailvolt_result *run, bool us_units) {
  tv_html_add(page,
              "<table><thead><tr><th>cable, strap</th><th>size</th><th class=\"n\">length</th><th "
              "class=\"n\">peak A</th>"
              "<th class=\"n\">most V</th><th class=\"n\">steady %s</th><th class=\"n\">limit "
              "%s</th><th>is</th></tr></thead><tbody>\n",
              us_units ? "F" : "C", us_units ? "F" : "C");
  for (int k = 0; k < run->conductor_count; k++) {
    const struct tailvolt_conductor_result *from = &run->conductors[k];
    const struct tailvolt_conductor *made = tv_conductor_at(system, k);
    bool poor_joint = from->kind == TAILVOLT_JOINT && from->status != TAILVOLT_COOL;
    if (from->kind != TAILVOLT_CABLE && from->kind != TAILVOLT_STRAP && !poor_joint) continue;
    char name[TAILVOLT_NAME_MAX + 16];
    snprintf(name, sizeof name, "%s%s%s", from->name, from->kind == TAILVOLT_CABLE ? "" : " ",
             from->kind == TAILVOLT_CABLE ? "" : tv_conductor_kind_word(from->kind));
    tv_buffer_add(page, "<tr>");
    tv_html_cell(page, name);
    tv_html_cell(page, made != NULL && !poor_joint ? tv_size_words(made, us_units).text : "");
    tv_html_add(page, "<td class=\"n\">%s</td>",
                made == NULL || poor_joint ? "" : tv_length(made->length_m, us_units).text);
    tv_html_number_cell(page, from->peak_a, 0);
    tv_html_number_cell(page, from->max_drop_v, 2);
    tv_html_number_cell(page, us_units ? 1.8 * from->steady_c + 32.0 : from->steady_c, 0);
    tv_html_number_cell(page, us_units ? 1.8 * from->insulation_limit_c + 32.0 : from->insulation_limit_c, 0);
    tv_html_cell(page, tv_heat_word(from->status));
    tv_buffer_add(page, "</tr>\n");
  }
  tv_buffer_add(page, "</tbody></table>\n");
}

void tv_html_fuses(struct tv_buffer *page, const struct tailvolt_result *run) {
  if (run->fuse_count == 0) {
    tv_buffer_add(page, "<p><strong>There is no fuse.</strong></p>\n");
    return;
  }
  tv_buffer_add(page,
                "<table><thead><tr><th>fuse</th><th class=\"n\">rating A</th><th class=\"n\">peak A</th>"
                "<th class=\"n\">cable limit A</th><th>is</th></tr></thead><tbody>\n");
  for (int k = 0; k < run->fuse_count; k++) {
    const struct tailvolt_fuse_result *from = &run->fuses[k];
    char is[96];
    snprintf(is, sizeof is, "%s%s",
             from->opens                               ? "opens at "
             : from->rating_a > from->cable_ampacity_a ? "too big for its cable"
             : from->may_open                          ? "a fast one may open"
             : from->assumed                           ? "to be fitted: not in your file"
                                                       : "right",
             from->opens ? tv_clock(from->opens_time_s).text : "");
    tv_buffer_add(page, "<tr>");
    tv_html_cell(page, from->name);
    tv_html_number_cell(page, from->rating_a, 0);
    tv_html_number_cell(page, from->peak_a, 0);
    tv_html_number_cell(page, from->cable_ampacity_a, 0);
    tv_html_cell(page, is);
    tv_buffer_add(page, "</tr>\n");
  }
  tv_buffer_add(page, "</tbody></table>\n");
}

void tv_html_measure(struct tv_buffer *page, const struct tailvolt_result *run) {
  tv_buffer_add(page, "<table><thead><tr><th>measure</th><th class=\"n\">should be, V</th><th "
                      "class=\"n\">measured</th></tr></thead>"
                      "<tbody>\n");
  for (int k = 0; k < run->amplifier_count; k++) {
    const struct tailvolt_amplifier_result *from = &run->amplifiers[k];
    const double volts[] = {from->rest_v, from->play_mean_v, from->plus_drop_v, from->minus_drop_v};
    char battery[TAILVOLT_NAME_MAX + 16], plus[2 * TAILVOLT_NAME_MAX], minus[2 * TAILVOLT_NAME_MAX];
    tv_feeding_battery(run, k, battery, sizeof battery);
    snprintf(plus, sizeof plus, ": %s post to amplifier plus", battery);
    snprintf(minus, sizeof minus, ": amplifier minus to %s negative", battery);
    const char *const what[] = {", between its terminals, silent", ", between its terminals, playing, mean", plus, minus};
    for (size_t row = 0; row < 4; row++) {
      if (!isfinite(volts[row])) continue;
      tv_buffer_add(page, "<tr><td>");
      tv_html_text(page, from->name);
      tv_html_add(page, "%s", what[row]);
      if (row > 0) tv_html_add(page, ", at %s A", tv_fixed(from->drop_at_a, 1).text);
      tv_html_add(page, "</td><td class=\"n\">%s</td><td></td></tr>\n",
                  tv_fixed(volts[row], row < 2 ? 2 : 3).text);
    }
  }
  tv_buffer_add(page, "</tbody></table>\n");
}

static bool said_before(const struct tv_html_run *runs, int run, int caution) {
  for (int r = 0; r <= run; r++)
    for (int k = 0; k < (r == run ? caution : runs[r].result->caution_count); k++)
      if (tv_finding_same(&runs[r].result->cautions[k], &runs[run].result->cautions[caution])) return true;
  return false;
}

void tv_html_cautions(struct tv_buffer *page, const struct tv_html_run *runs, int run_count, bool us_units) {
  size_t count;
  const char *const *lines;
  char text[TAILVOLT_TEXT_MAX];
  int own = 0;
  tv_buffer_add(page, "<section><h2>Cautions</h2>\n");
  for (int r = 0; r < run_count; r++)
    for (int k = 0; k < runs[r].result->caution_count; k++) {
      if (said_before(runs, r, k)) continue;
      tv_buffer_add(page, own++ == 0 ? "<ul class=\"tight\"><li>" : "<li>");
      tailvolt_finding_text(&runs[r].result->cautions[k], us_units, text, sizeof text);
      tv_html_text(page, text);
      tv_buffer_add(page, "</li>\n");
    }
  tv_buffer_add(page, own > 0 ? "</ul></section>\n" : "<p>None besides those on the first page.</p></section>\n");
  tv_buffer_add(page, "<section><h2>When fitting</h2>\n<ul class=\"tight columns\">");
  lines = tv_fitting_checklist(us_units, &count);
  for (size_t k = 0; k < count; k++) tv_html_add(page, "<li>%s</li>\n", lines[k]);
  tv_buffer_add(page, "</ul></section>\n");
}

void tv_html_always(struct tv_buffer *page) {
  size_t count;
  const char *const *lines = tv_general_cautions(&count);
  tv_buffer_add(page, "<section><h2>Cautions</h2>\n<ul class=\"tight columns\">");
  for (size_t k = 0; k < count; k++) tv_html_add(page, "<li>%s</li>\n", lines[k]);
  tv_buffer_add(page, "</ul></section>\n");
}

void tv_html_assumed(struct tv_buffer *page, const struct tailvolt_system *system, bool us_units) {
  if (system == NULL || system->assumption_count == 0) return;
  tv_html_add(page, "<section><h2>Assumed: %d value%s not given</h2>\n<ul class=\"tight columns dense\">",
              system->assumption_count, system->assumption_count == 1 ? "" : "s");
  for (int k = 0; k < system->assumption_count; k++) {
    tv_buffer_add(page, "<li>");
    tv_html_text(page, system->assumptions[k].key);
    tv_buffer_add(page, " = ");
    const struct tailvolt_assumption *one = &system->assumptions[k];
    const char *shown = us_units && one->shown_us[0] != '\0' ? one->shown_us : one->shown;
    tv_html_text(page, shown[0] != '\0' ? shown : one->value);
    tv_buffer_add(page, "</li>\n");
  }
  tv_buffer_add(page, "</ul></section>\n");
}
