#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text/feed_drops.h"
#include "text/number.h"
#include "report/page.h"
#include "report/summary.h"
#include "report/sure.h"
#include "report/text_budget.h"
#include "report/text_parts.h"
#include "simulate/worst.h"
#include "text/words.h"
#include "tailvolt/report.h"

static enum tv_colour colour_of(enum tailvolt_verdict status) {
  return status == TAILVOLT_HOLDS ? TV_GREEN : status == TAILVOLT_MARGINAL ? TV_YELLOW : TV_RED;
}

/* A text under its label, in as many lines as it needs, further lines indented by 8. The verdict's first word is
 * highlighted; the line reads the same without. */
static void summary_line(struct tv_page *page, const char *label, const char *text, enum tv_colour colour) {
  char word[16];
  if (text[0] == '\0') return;
  size_t length = strcspn(text, " :"), at = 8;
  if (length >= sizeof word) length = sizeof word - 1;
  if (label[0] == '\0') {
    memcpy(word, text, length);
    word[length] = '\0';
    tv_page_colour(page, colour);
    tv_page_add(page, word);
    tv_page_colour(page, TV_PLAIN);
    text += length;
    at = length;
  } else {
    tv_page_colour(page, colour);
    tv_page_add(page, label);
    tv_page_colour(page, TV_PLAIN);
    tv_buffer_fill(&page->text, ' ', 8 - strlen(label));
  }
  char clean[4 * TAILVOLT_TEXT_MAX];
  tv_page_clean(page, clean, sizeof clean, text);
  for (const char *from = clean; *from != '\0';) {
    char next[4 * TAILVOLT_TEXT_MAX];
    size_t blanks = tv_page_word(&from, next, sizeof next);
    tv_page_cut(next, TV_SCREEN_WIDTH - 8);
    size_t wide = tv_columns(next);
    if (wide == 0) break;
    if (at > 8 && at + blanks + wide > TV_SCREEN_WIDTH) {
      tv_page_newline(page);
      blanks = 8;
      at = 0;
    }
    tv_buffer_fill(&page->text, ' ', blanks);
    tv_buffer_add(&page->text, next);
    at += blanks + wide;
  }
  tv_page_newline(page);
}

static void first_screen(struct tv_page *page, const struct tailvolt_system *system,
                         const struct tailvolt_result *run, const char *next) {
  struct tv_summary summary;
  tv_summary_of(system, run, next, page->style.us_units, &summary);
  for (int k = 0; k < TV_SUMMARY_LINES; k++) {
    enum tv_colour colour = k == TV_LINE_VERDICT ? colour_of(summary.status)
                            : k == TV_LINE_SAFETY && summary.safety == TAILVOLT_FAILS ? TV_RED : TV_BOLD;
    char *second = strchr(summary.text[k], '\n');
    if (second != NULL) *second = '\0';
    summary_line(page, summary.label[k], summary.text[k], colour);
    if (second != NULL) tv_page_line(page, "        %s", second + 1);
  }
}

static void origin(struct tv_page *page, const struct tailvolt_result *run) {
  tv_page_newline(page);
  tv_page_line(page, "system  %s", run->system);
  tv_page_line(page, "profile %s", run->profile);
  char settled[96] = "", step[160] = "";
  if (run->settled_s > 0.0)
    snprintf(settled, sizeof settled, ", after %s with the music off", tv_duration(run->settled_s).text);
  /* the step is finer while bass ripple is on */
  double mean_s = run->steps > 0 ? run->duration_s / (double)run->steps : run->step_s;
  if (page->style.details)
    snprintf(step, sizeof step, " in %lld steps of %s ms%s", run->steps, tv_compact(run->step_s * 1000.0, 3).text,
             mean_s < 0.999 * run->step_s ? " and finer" : "");
  tv_page_line(page, "run     %s%s%s", tv_duration(run->duration_s).text, settled, step);
}

/* The feed path of the worst amplifier; with details those of all, and where every tenth of a volt goes. */
static void sag_sections(struct tv_page *page, const struct tailvolt_result *run, int worst) {
  for (int k = 0; k < run->ledger_count; k++) {
    const struct tailvolt_ledger *ledger = &run->ledgers[k];
    if (!page->style.details && run->ledger_count > 1 && ledger->amplifier_index != worst) continue;
    if (!(ledger->rest_v - ledger->terminal_v >= TV_NO_SAG_V)) {
      tv_page_heading(page, "SAG of %s: none; it never falls below its %s V at rest", ledger->amplifier,
                      tv_fixed(ledger->rest_v, 2).text);
      continue;
    }
    tv_text_feed_path(page, ledger, run->battery_count > 1);
    if (page->style.details) tv_text_ledger(page, ledger);
  }
}

static void run_sections(struct tv_page *page, const struct tailvolt_system *system,
                         const struct tailvolt_result *run) {
  bool details = page->style.details;
  origin(page, run);
  int present = 0;
  for (int p = 0; p < TAILVOLT_PHASES; p++) present += run->phases[p].present;
  if (details || present > 1 || run->amplifier_count > 1) tv_text_phases(page, run);
  tv_text_reasons(page, run, details);
  int order[TAILVOLT_PHASES];
  int worst = tv_phases_worst_first(run, order) > 0 ? tv_worst_amplifier(run, order[0]) : 0;
  if (worst < 0) worst = 0;
  sag_sections(page, run, worst);
  if (details) {
    tv_text_budget(page, run);
    tv_text_uses(page, system, run);
    tv_text_amplifiers(page, run);
    tv_text_supply(page, run);
    tv_text_conductors(page, system, run);
    tv_text_fuses(page, run);
  }
  tv_text_meters(page, run);
  if (details) tv_text_certainty(page, run);
  if (details) tv_text_energy(page, run);
  tv_text_measure(page, run, details ? -1 : worst);
  struct tv_summary summary;
  tv_summary_of(system, run, NULL, page->style.us_units, &summary);
  tv_text_cautions(page, run, details, summary.fuses_below);
}

/* The verdict of one more run, as a line below the five. */
static void also_line(struct tv_page *page, const struct tailvolt_system *system,
                      const struct tailvolt_result *run) {
  struct tv_summary summary;
  tv_summary_of(system, run, NULL, page->style.us_units, &summary);
  const char *name = strrchr(run->profile, '/') != NULL ? strrchr(run->profile, '/') + 1 : run->profile;
  /* a built-in profile is named by its phase */
  bool file = strlen(name) > 4 && strcmp(name + strlen(name) - 4, ".csv") == 0;
  char line[4 * TAILVOLT_TEXT_MAX];
  snprintf(line, sizeof line, "%s%s%s", file ? name : "", file ? ": " : "", summary.text[TV_LINE_VERDICT]);
  char *clause = NULL; /* one line too many: the last clause goes */
  for (char *at = line; (at = strstr(at, "; ")) != NULL; at++) clause = at;
  if (clause != NULL && tv_columns(line) > 2 * (TV_SCREEN_WIDTH - 8) - 8) *clause = '\0';
  summary_line(page, "ALSO", line, TV_BOLD);
}

static enum tailvolt_status order_runs(const struct tailvolt_result *const *runs, int run_count,
                                       int **out) {
  int *order = malloc((size_t)(run_count > 0 ? run_count : 1) * sizeof *order);
  if (order == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < run_count; k++) {
    int at = k;
    for (; at > 0 && runs[k]->status > runs[order[at - 1]]->status; at--) order[at] = order[at - 1];
    order[at] = k;
  }
  *out = order;
  return TAILVOLT_OK;
}

enum tailvolt_status tailvolt_report_text(const struct tailvolt_system *system,
                                          const struct tailvolt_result *const *runs, int run_count,
                                          const char *const *next,
                                          const struct tailvolt_report_style *style, char **out) {
  struct tv_page page = {0};
  int *order = NULL;
  *out = NULL;
  if (style != NULL) page.style = *style;
  if (!page.style.details) page.columns = TV_SCREEN_WIDTH;
  enum tailvolt_status status = order_runs(runs, run_count, &order);
  if (status != TAILVOLT_OK) return status;
  /* the others get a line below the first; with details each gets its report */
  int shown = page.style.details || run_count == 0 ? run_count : 1;
  for (int k = 0; k < shown; k++) {
    const struct tailvolt_result *run = runs[order[k]];
    if (k > 0) {
      tv_page_newline(&page);
      tv_buffer_fill(&page.text, '=', tv_page_columns(&page));
      tv_page_newline(&page);
    }
    first_screen(&page, system, run, next != NULL ? next[order[k]] : NULL);
    for (int other = 1; k == 0 && other < run_count; other++)
      also_line(&page, system, runs[order[other]]);
    run_sections(&page, system, run);
  }
  if (page.style.details) {
    tv_text_assumed(&page, system);
    tv_text_checklist(&page);
  }
  if (tv_text_ends_assumed(system, &page.style)) tv_text_assumed_briefly(&page, system);
  free(order);
  return tv_buffer_finish(&page.text, out);
}
