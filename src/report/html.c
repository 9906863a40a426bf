#include "report/html.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/html_parts.h"
#include "text/feed_drops.h"
#include "text/number.h"
#include "report/summary.h"
#include "simulate/worst.h"
#include "text/words.h"
#include "tailvolt/version.h"

/* "Can the charging system of NAME carry amplifier bass (800 W)?" */
static void question(struct tv_buffer *page, const struct tailvolt_system *system) {
  tv_buffer_add(page, "Can the charging system of ");
  tv_html_text(page, system->vehicle.name[0] != '\0' ? system->vehicle.name : "this vehicle");
  tv_buffer_add(page, " carry ");
  for (int k = 0; k < system->amplifier_count; k++) {
    const char *between = k == 0 ? "" : k + 1 == system->amplifier_count ? " and " : ", ";
    tv_buffer_add(page, between);
    tv_html_text(page, system->amplifiers[k].name);
    tv_html_add(page, " (%s W)", tv_fixed(system->amplifiers[k].rated_w, 0).text);
  }
  tv_buffer_add(page, system->amplifier_count == 0 ? "its loads?" : "?");
}

static void head(struct tv_buffer *page, const struct tv_html_report *report) {
  tv_buffer_add(page, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
                      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>");
  question(page, report->system);
  tv_buffer_add(page, "</title>\n<style>\n");
  for (const char *const *line = tv_html_style; *line != NULL; line++) {
    tv_buffer_add(page, *line);
    tv_buffer_add(page, "\n");
  }
  tv_buffer_add(page, "</style>\n</head>\n<body>\n<header>\n<h1>");
  question(page, report->system);
  tv_buffer_add(page, "</h1>\n<p class=\"small\">");
  if (report->note != NULL) {
    tv_html_text(page, report->note);
    tv_buffer_add(page, " &middot; ");
  }
  if (report->date != NULL) {
    tv_html_text(page, report->date);
    tv_buffer_add(page, " &middot; ");
  }
  tv_buffer_add(page, "answered by simulation</p>\n</header>\n<main>\n");
}

/* The verdict as a sentence. */
static void answer(struct tv_buffer *page, const struct tv_html_report *report,
                   const struct tv_html_run *run) {
  struct tv_summary summary;
  tv_summary_of(report->system, run->result, run->next, report->us_units, &summary);
  tv_html_add(page, "<p class=\"verdict %s\">", tv_verdict_word(summary.status));
  tv_html_text(page, summary.text[0]);
  tv_buffer_add(page, "</p>\n");
  /* an unsafe finding or too short an evening belongs beside it */
  if (summary.safety == TAILVOLT_FAILS) {
    tv_buffer_add(page, "<p class=\"verdict fails\">Safety: ");
    tv_html_text(page, summary.text[TV_LINE_SAFETY]);
    tv_buffer_add(page, "</p>\n");
  }
  const struct tailvolt_parked *evening = report->evening;
  if (evening != NULL && isfinite(evening->wanted_s))
    tv_html_add(page, "<p class=\"verdict %s\">%s parked: plays %s%s of the %s wanted</p>\n",
                evening->until_s < evening->wanted_s ? "fails" : "holds",
                evening->until_s < evening->wanted_s ? "FAILS" : "HOLDS",
                evening->ends_by == TAILVOLT_ENDS_BY_TIME ? "over " : "", tv_playing_time(evening->until_s).text,
                tv_playing_time(evening->wanted_s).text);
}

/* Why, charge, safety; what to do next has its own section. */
static void lines(struct tv_buffer *page, const struct tv_html_report *report, const struct tv_html_run *run) {
  struct tv_summary summary;
  tv_summary_of(report->system, run->result, run->next, report->us_units, &summary);
  tv_buffer_add(page, "<dl class=\"lines\">\n");
  for (int k = 1; k < TV_SUMMARY_LINES; k++) {
    if (k == TV_LINE_NEXT || summary.text[k][0] == '\0') continue;
    tv_html_add(page, "<dt>%s</dt><dd>", summary.label[k]);
    char *second = strchr(summary.text[k], '\n');
    if (second != NULL) *second = '\0';
    tv_html_text(page, summary.text[k]);
    if (second != NULL) tv_buffer_add(page, "<br>");
    if (second != NULL) tv_html_text(page, second + 1);
    tv_buffer_add(page, "</dd>\n");
  }
  tv_buffer_add(page, "</dl>\n");
}

static void also(struct tv_buffer *page, const struct tv_html_report *report, const struct tv_html_run *run) {
  struct tv_summary summary;
  tv_summary_of(report->system, run->result, NULL, report->us_units, &summary);
  /* a built-in profile is named by its phase, which the verdict gives */
  const char *slash = strrchr(run->result->profile, '/'),
             *name = slash != NULL ? slash + 1 : run->result->profile;
  size_t length = strlen(name);
  tv_buffer_add(page, "<p><strong>Also: </strong>");
  if (length > 4 && strcmp(name + length - 4, ".csv") == 0) {
    tv_html_text(page, name);
    tv_buffer_add(page, ": ");
  }
  tv_html_text(page, summary.text[0]);
  tv_buffer_add(page, "</p>\n");
}

/* The amplifier with the greatest sag against its target; the page shows its ledger. */
static int worst_amplifier(const struct tailvolt_result *run) {
  int order[TAILVOLT_PHASES];
  int worst = tv_phases_worst_first(run, order) > 0 ? tv_worst_amplifier(run, order[0]) : -1;
  return worst >= 0 ? worst : 0;
}

static const struct tailvolt_ledger *ledger_of(const struct tailvolt_result *run, int amplifier) {
  for (int k = 0; k < run->ledger_count && amplifier < run->amplifier_count; k++)
    if (run->ledgers[k].amplifier_index == amplifier) return &run->ledgers[k];
  return NULL;
}

static void reasons(struct tv_buffer *page, const struct tailvolt_result *run, bool us_units) {
  if (run->reason_count == 0) return;
  tv_buffer_add(page, "<ul>");
  for (int k = 0; k < run->reason_count; k++) {
    tv_html_add(page, "<li><strong>%s%s%s:</strong> ", tv_verdict_word(run->reasons[k].status),
                run->reasons[k].phase < 0 ? "" : " ",
                run->reasons[k].phase < 0 ? "" : tv_phase_place(run->reasons[k].phase));
    char text[TAILVOLT_TEXT_MAX];
    tailvolt_reason_text(&run->reasons[k], us_units, text, sizeof text);
    tv_html_text(page, text);
    tv_buffer_add(page, "</li>\n");
  }
  tv_buffer_add(page, "</ul>\n");
}

/* The worst amplifier's; NULL where nothing sags. */
static const struct tailvolt_ledger *sagging_ledger(const struct tv_html_run *run) {
  const struct tailvolt_ledger *ledger = ledger_of(run->result, worst_amplifier(run->result));
  return ledger != NULL && ledger->rest_v - ledger->terminal_v >= TV_NO_SAG_V ? ledger : NULL;
}

/* The pictures for the customer: the feed path, the run and its worst beat. */
static void pictures(struct tv_buffer *page, const struct tv_html_run *run) {
  int amplifier = worst_amplifier(run->result);
  if (sagging_ledger(run) != NULL) tv_html_feed_path(page, sagging_ledger(run), run->result->battery_count > 1);
  if (run->trace == NULL || amplifier >= run->trace->amplifier_count) return;
  tv_buffer_add(page, "<div class=\"pair\">\n");
  tv_html_voltage(page, run->trace, amplifier, run->result->amplifiers[amplifier].name);
  tv_html_beat(page, run->trace, amplifier, run->result->amplifiers[amplifier].name);
  tv_buffer_add(page, "</div>\n");
}

static void evidence(struct tv_buffer *page, const struct tv_html_run *run, bool us_units) {
  const struct tailvolt_ledger *ledger = sagging_ledger(run);
  tv_buffer_add(page, "<div class=\"pair\">\n");
  if (ledger != NULL) tv_html_ledger(page, ledger, run->result->battery_count > 1);
  if (run->trace != NULL) {
    tv_buffer_add(page, "<div>");
    tv_html_currents(page, run->trace);
    tv_buffer_add(page, "</div>\n");
  }
  tv_buffer_add(page, "</div>\n<section><h2>Verdict by phase</h2>\n");
  tv_html_phases(page, run->result);
  reasons(page, run->result, us_units);
  tv_buffer_add(page, "</section>\n");
}

static int order_runs(const struct tv_html_report *report, struct tv_html_run *sorted) {
  for (int k = 0; k < report->run_count; k++) {
    int at = k;
    for (; at > 0 && report->runs[k].result->status > sorted[at - 1].result->status; at--)
      sorted[at] = sorted[at - 1];
    sorted[at] = report->runs[k];
  }
  return report->run_count;
}

static void body(struct tv_buffer *page, const struct tv_html_report *report, const struct tv_html_run *runs,
                 int count) {
  /* page one: the customer's */
  answer(page, report, &runs[0]);
  for (int k = 1; k < count; k++) also(page, report, &runs[k]);
  pictures(page, &runs[0]);
  tv_html_change(page, &runs[0], report->evening);
  tv_html_compare(page, report);
  if (report->evening != NULL) tv_html_evening(page, report->evening);
  tv_html_granted(page, report->system, report->us_units);
  tv_html_always(page);
  tv_html_signature(page);
  /* page two: the workshop's */
  tv_buffer_add(page, "<div class=\"sheet\">\n");
  lines(page, report, &runs[0]);
  evidence(page, &runs[0], report->us_units);
  tv_html_advice(page, &runs[0], report->us_units);
  tv_buffer_add(page, "<section><h2>Cables and fuses</h2>\n<div class=\"wide\">");
  tv_html_cables(page, report->system, runs[0].result, report->us_units);
  tv_html_fuses(page, runs[0].result);
  tv_buffer_add(page, "</div></section>\n<section><h2>Measure at the car</h2>\n");
  tv_html_measure(page, runs[0].result);
  tv_buffer_add(page, "</section>\n");
  tv_html_assumed(page, report->system, report->us_units);
  tv_html_cautions(page, runs, count, report->us_units);
  tv_buffer_add(page, "</div>\n");
  tv_html_add(page, "</main>\n<footer class=\"small\"><p>tailvolt %s; system ", TAILVOLT_VERSION);
  tv_html_text(page, runs[0].result->system);
  tv_buffer_add(page, ", profile ");
  tv_html_text(page, runs[0].result->profile);
  tv_html_add(page,
              ", %s in %lld steps of %s ms. An estimate from what was typed in: measure before you rely on "
              "it.</p>\n",
              tv_duration(runs[0].result->duration_s).text, runs[0].result->steps,
              tv_compact(1000.0 * runs[0].result->step_s, 3).text);
  if (report->made != NULL) tv_html_made_from(page, report->made);
  tv_buffer_add(page, "</footer>\n</body>\n</html>\n");
}

enum tailvolt_status tv_html(const struct tv_html_report *report, char **out) {
  struct tv_buffer page = {0};
  struct tv_html_run *runs = calloc((size_t)report->run_count + 1, sizeof *runs);
  *out = NULL;
  if (runs == NULL) return TAILVOLT_NO_MEMORY;
  int count = order_runs(report, runs);
  head(&page, report);
  if (count > 0) body(&page, report, runs, count);
  free(runs);
  return tv_buffer_finish(&page, out);
}
