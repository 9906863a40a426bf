/* The end of the text report: what to measure, what was assumed, cautions, the fitting checklist. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "parts/cautions.h"
#include "report/assumed.h"
#include "report/summary.h"
#include "text/number.h"
#include "report/text_parts.h"

void tv_text_measure(struct tv_page *page, const struct tailvolt_result *run, int amplifier) {
  if (run->amplifier_count == 0) return;
  tv_page_heading(page, "MEASURE AT THE CAR");
  for (int k = 0; k < run->amplifier_count; k++) {
    const struct tailvolt_amplifier_result *from = &run->amplifiers[k];
    char battery[TAILVOLT_NAME_MAX + 16];
    if (amplifier >= 0 && k != amplifier) continue;
    tv_page_line(page, "  %s, between its terminals, silent: %s V", from->name,
                 tv_fixed(from->rest_v, 2).text);
    if (!isfinite(from->play_mean_v)) continue;
    tv_page_line(page, "  %s, between its terminals, playing, mean: %s V at %s A", from->name,
                 tv_fixed(from->play_mean_v, 2).text, tv_fixed(from->drop_at_a, 1).text);
    tv_feeding_battery(run, k, battery, sizeof battery);
    tv_page_line(page, "  %s post to %s plus: %s V; %s minus to %s minus: %s V", battery, from->name,
                 tv_fixed(from->plus_drop_v, 3).text, from->name, battery, tv_fixed(from->minus_drop_v, 3).text);
  }
}

static bool is_to_be_fitted(const struct tailvolt_finding *finding) {
  return finding->kind == TAILVOLT_FOUND_FUSE_ASSUMED || finding->kind == TAILVOLT_FOUND_FUSE_ASSUMED_INSIDE;
}

/* Fuses to be fitted are on the first screen, unless another safety finding takes their place or there is no room; below they are never
 * left out for brevity. */
void tv_text_cautions(struct tv_page *page, const struct tailvolt_result *run, bool all, bool fuses) {
  enum { BRIEFLY = 4 };
  int others = 0, shown = 0, said = 0;
  fuses = fuses || all;
  for (int k = 0; k < run->reason_count; k++) fuses = fuses || run->reasons[k].topic == TAILVOLT_ABOUT_SAFETY;
  for (int k = 0; k < run->caution_count; k++) others += !is_to_be_fitted(&run->cautions[k]);
  int most = all || others <= BRIEFLY ? others : BRIEFLY - 1;
  for (int k = 0; k < run->caution_count; k++) {
    bool fuse = is_to_be_fitted(&run->cautions[k]);
    if (fuse ? !fuses : said++ >= most) continue;
    if (shown++ == 0) tv_page_heading(page, "CAUTIONS");
    char text[TAILVOLT_TEXT_MAX];
    tailvolt_finding_text(&run->cautions[k], page->style.us_units, text, sizeof text);
    tv_page_wrapped(page, "  - ", text);
  }
  if (most < others) tv_page_line(page, "  - and %d more: --details", others - most);
}

void tv_text_assumed(struct tv_page *page, const struct tailvolt_system *system) {
  if (system == NULL || system->assumption_count == 0) return;
  tv_page_heading(page, "ASSUMED: %d value%s that the system file does not give; each --set replaces one",
                  system->assumption_count, system->assumption_count == 1 ? "" : "s");
  tv_page_assumed(page, system, 2);
}

bool tv_text_ends_assumed(const struct tailvolt_system *system, const struct tailvolt_report_style *style) {
  return system != NULL && system->assumption_count > 0 && (style == NULL || !style->details);
}

void tv_text_assumed_briefly(struct tv_page *page, const struct tailvolt_system *system) {
  enum { MOST = 5 };
  char text[4 * TAILVOLT_TEXT_MAX];
  int count = system->assumption_count;
  snprintf(text, sizeof text, "%d value%s not in the file%s", count, count == 1 ? "" : "s",
           count > MOST ? "; these matter most: " : ": ");
  size_t length = strlen(text);
  tv_assumed_sentence(system, MOST, page->style.us_units, text + length, sizeof text - length);
  length = strlen(text);
  snprintf(text + length, sizeof text - length, ". --details lists them all, each with the --set that replaces it");
  tv_page_newline(page);
  tv_page_wrapped(page, "ASSUMED ", text);
}

void tv_text_checklist(struct tv_page *page) {
  size_t count;
  const char *const *lines = tv_fitting_checklist(page->style.us_units, &count);
  tv_page_heading(page, "WHEN FITTING");
  for (size_t k = 0; k < count; k++) tv_page_wrapped(page, "  [ ] ", lines[k]);
  lines = tv_general_cautions(&count);
  tv_page_heading(page, "ALWAYS");
  for (size_t k = 0; k < count; k++) tv_page_wrapped(page, "  - ", lines[k]);
}

void tv_text_wiring_safety(struct tv_page *page, const struct tailvolt_finding *findings, int count) {
  if (count > 0) tv_page_heading(page, "SAFETY AND CAUTIONS, from the wiring alone");
  for (int k = 0; k < count; k++) {
    char text[TAILVOLT_TEXT_MAX];
    tailvolt_finding_text(&findings[k], page->style.us_units, text, sizeof text);
    tv_page_wrapped(page, "  - ", text);
  }
}
