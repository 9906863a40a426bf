#include <stdlib.h>
#include <string.h>

#include "text/loop.h"
#include "text/number.h"
#include "report/page.h"
#include "report/summary.h"
#include "report/text_budget.h"
#include "report/text_parts.h"
#include "text/words.h"
#include "tailvolt/report.h"

static enum tv_colour colour_of(enum tailvolt_verdict status) {
  return status == TAILVOLT_HOLDS ? TV_GREEN : status == TAILVOLT_MARGINAL ? TV_YELLOW : TV_RED;
}

/* The verdict's first word stands out; the line reads the same without. */
static void verdict_line(struct tv_page *page, const struct tv_summary *summary) {
  const char *text = summary->text[0];
  char word[16];
  size_t length = strcspn(text, " :");
  if (length >= sizeof word) length = sizeof word - 1;
  memcpy(word, text, length);
  word[length] = '\0';
  tv_page_colour(page, colour_of(summary->status));
  tv_page_add(page, word);
  tv_page_colour(page, TV_PLAIN);
  tv_page_add(page, text + length);
  tv_page_newline(page);
}

static void five_lines(struct tv_page *page, const struct tailvolt_system *system,
                       const struct tailvolt_result *run, const char *next) {
  struct tv_summary summary;
  tv_summary_of(system, run, next, page->style.us_units, &summary);
  verdict_line(page, &summary);
  for (int k = 1; k < TV_SUMMARY_LINES; k++) {
    tv_page_colour(page, TV_BOLD);
    tv_page_add(page, summary.label[k]);
    tv_page_colour(page, TV_PLAIN);
    tv_buffer_fill(&page->text, ' ', 8 - strlen(summary.label[k]));
    tv_page_add(page, summary.text[k]);
    tv_page_newline(page);
  }
}

static void run_sections(struct tv_page *page, const struct tailvolt_system *system,
                         const struct tailvolt_result *run) {
  tv_page_newline(page);
  tv_page_line(page, "system  %s", run->system);
  tv_page_line(page, "profile %s", run->profile);
  if (run->settled_s > 0.0)
    tv_page_line(page, "settled %s with the music off before the start", tv_duration(run->settled_s).text);
  /* the step is finer while a bass note's ripple is on */
  double mean_s = run->steps > 0 ? run->duration_s / (double)run->steps : run->step_s;
  tv_page_line(page, "run     %s in %lld steps of %s ms%s", tv_duration(run->duration_s).text, run->steps,
               tv_compact(run->step_s * 1000.0, 3).text, mean_s < 0.999 * run->step_s ? " and finer" : "");
  tv_text_phases(page, run);
  for (int k = 0; k < run->ledger_count; k++) {
    const struct tailvolt_ledger *ledger = &run->ledgers[k];
    if (!(ledger->rest_v - ledger->terminal_v >= TV_NO_SAG_V)) {
      tv_page_heading(page, "SAG of %s: none; it never falls below its %s V at rest", ledger->amplifier,
                      tv_fixed(ledger->rest_v, 2).text);
      continue;
    }
    tv_text_loop(page, ledger);
    tv_text_ledger(page, ledger);
  }
  tv_text_budget(page, run);
  tv_text_uses(page, system, run);
  tv_text_amplifiers(page, run);
  tv_text_supply(page, run);
  tv_text_conductors(page, system, run);
  tv_text_fuses(page, run);
  tv_text_meters(page, run);
  tv_text_energy(page, run);
  tv_text_measure(page, run);
  tv_text_cautions(page, run);
}

/* Verdict of one more run, in a line under the five. */
static void also_line(struct tv_page *page, const struct tailvolt_system *system,
                      const struct tailvolt_result *run) {
  struct tv_summary summary;
  tv_summary_of(system, run, NULL, page->style.us_units, &summary);
  const char *name = strrchr(run->profile, '/') != NULL ? strrchr(run->profile, '/') + 1 : run->profile;
  /* a profile made in the program is named by its phase */
  bool file = strlen(name) > 4 && strcmp(name + strlen(name) - 4, ".csv") == 0;
  tv_summary_shorten(summary.text[0], TV_PAGE_WIDTH - 8 - (file ? strlen(name) + 2 : 0));
  tv_page_line(page, "ALSO    %s%s%s", file ? name : "", file ? ": " : "", summary.text[0]);
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
  enum tailvolt_status status = order_runs(runs, run_count, &order);
  if (status != TAILVOLT_OK) return status;
  for (int k = 0; k < run_count; k++) {
    const struct tailvolt_result *run = runs[order[k]];
    if (k > 0) {
      tv_page_newline(&page);
      tv_buffer_fill(&page.text, '=', TV_PAGE_WIDTH);
      tv_page_newline(&page);
    }
    five_lines(&page, system, run, next != NULL ? next[order[k]] : NULL);
    for (int other = 1; k == 0 && other < run_count; other++)
      also_line(&page, system, runs[order[other]]);
    run_sections(&page, system, run);
  }
  tv_text_assumed(&page, system);
  tv_text_checklist(&page);
  free(order);
  return tv_buffer_finish(&page.text, out);
}
