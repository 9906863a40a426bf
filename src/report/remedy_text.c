/* The remedy in words: five plain answers, the cause, what each cure is worth, the chosen set. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text/number.h"
#include "report/page.h"
#include "report/text_parts.h"
#include "text/words.h"
#include "tailvolt/remedy.h"

static const char *capital(const char *text, char to[TAILVOLT_TEXT_MAX]) {
  snprintf(to, TAILVOLT_TEXT_MAX, "%s", text);
  if (to[0] >= 'a' && to[0] <= 'z') to[0] = (char)(to[0] - 'a' + 'A');
  return to;
}

/* "lowest 11.2 V, 0.8 V below target 17 % of the time" */
static void state_of(const struct tailvolt_remedy *remedy, double margin_v, double below_pct, char *to, size_t size) {
  if (!isfinite(margin_v)) {
    snprintf(to, size, "no amplifier plays");
    return;
  }
  (void)remedy;
  snprintf(to, size, "lowest voltage %s V %s target, below it %s of the time", tv_fixed(fabs(margin_v), 2).text,
           margin_v < 0.0 ? "under" : "over", tv_percent(below_pct).text);
}

static void answers(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  char text[TAILVOLT_TEXT_MAX], rule[TAILVOLT_TEXT_MAX + 48];
  for (int k = 0; k < TAILVOLT_ANSWERS; k++) {
    tv_page_wrapped(page, "", capital(remedy->answers[k].text, text));
    if (remedy->answers[k].rule[0] == '\0') continue;
    snprintf(rule, sizeof rule, "%s", remedy->answers[k].rule);
    tv_page_colour(page, TV_FAINT);
    tv_page_wrapped(page, "    rule of thumb, not simulated: ", rule);
    tv_page_colour(page, TV_PLAIN);
  }
}

static void diagnosis(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  char state[TAILVOLT_TEXT_MAX];
  tv_page_heading(page, "WHY");
  tv_page_wrapped(page, "  ", remedy->why);
  state_of(remedy, remedy->margin_before_v, remedy->below_before_pct, state, sizeof state);
  tv_page_wrapped(page, "  now: ", state);
  if (fabs(remedy->margin_fitted_v - remedy->margin_before_v) > 0.005)
    tv_page_line(page, "  putting the fuses right changes the lowest voltage by %s V; gains count from there",
                 tv_fixed(remedy->margin_fitted_v - remedy->margin_before_v, 2).text);
  if (isfinite(remedy->parked_before_s))
    tv_page_line(page, "  parked: plays %s (wanted %s)", tv_duration(remedy->parked_before_s).text,
                 tv_duration(remedy->parked_wanted_s).text);
  tv_page_wrapped(page, "  ", "Each figure in brackets is what one thing made ideal would win at the lowest voltage, "
                              "from a run of the whole profile.");
}

static void chosen(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  char state[TAILVOLT_TEXT_MAX], text[2 * TAILVOLT_TEXT_MAX];
  const struct tailvolt_remedy_set *set = &remedy->chosen;
  tv_page_heading(page, "REMEDY%s", remedy->partial ? " (search stopped early: what is known so far)" : "");
  if (!remedy->found) {
    if (remedy->partial) {
      tv_page_line(page, "  stopped before a set was found");
      return;
    }
    tv_page_wrapped(page, "  ", "no set of up to three cures from the catalogue meets every target");
    for (int k = 0; k < remedy->before->reason_count; k++)
      if (remedy->before->reasons[k].topic == TAILVOLT_ABOUT_SAFETY &&
          remedy->before->reasons[k].status == TAILVOLT_FAILS)
        tv_page_wrapped(page, "  to be put right first: ", remedy->before->reasons[k].text);
    if (isfinite(remedy->level_db))
      tv_page_line(page, "  without any part it would hold at %s dB", tv_compact(remedy->level_db, 1).text);
    else if (remedy->level_looked_for)
      tv_page_line(page, "  nor does turning the music down as far as the catalogue goes");
    return;
  }
  if (set->change_count == 0) {
    tv_page_line(page, "  nothing is needed: every target is met as it is");
    return;
  }
  tv_page_wrapped(page, "  the least that holds: ", set->what);
  state_of(remedy, set->margin_v, set->below_pct, state, sizeof state);
  if (set->result != NULL)
    snprintf(text, sizeof text, "%s; verdict %s", state, tv_verdict_word(set->result->status));
  else
    snprintf(text, sizeof text, "%s", state);
  tv_page_wrapped(page, "  then: ", text);
  if (isfinite(set->parked_s)) tv_page_line(page, "  parked: then plays %s", tv_duration(set->parked_s).text);
  tv_page_line(page, "  cost %s in the catalogue's units, of it %s h of work", tv_compact(set->cost, 1).text,
               tv_compact(set->effort_h, 1).text);
  tv_page_line(page, "  as settings:");
  for (int k = 0; k < set->change_count; k++)
    tv_page_line(page, "    --set \"%s = %s\"", set->changes[k].key, set->changes[k].value);
}

/* Conductor that comes nearest to what its insulation bears. */
static const struct tailvolt_conductor_result *hottest(const struct tailvolt_result *result) {
  const struct tailvolt_conductor_result *found = NULL;
  for (int k = 0; k < result->conductor_count; k++) {
    const struct tailvolt_conductor_result *c = &result->conductors[k];
    if (!isfinite(c->steady_c) || !isfinite(c->insulation_limit_c)) continue;
    if (found == NULL || c->insulation_limit_c - c->steady_c < found->insulation_limit_c - found->steady_c) found = c;
  }
  return found;
}

static void heat_and_fuses(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  static const struct tv_column columns[] = {{"fuse", false, 30},          {"rating A", true, 0},
                                             {"carries A", true, 0},       {"smallest that carries A", true, 0},
                                             {"largest that protects A", true, 0}};
  const struct tailvolt_remedy_set *set = &remedy->chosen;
  struct tv_table table;
  if (!remedy->found || set->result == NULL) return;
  const struct tailvolt_conductor_result *c = hottest(set->result);
  tv_page_heading(page, "CABLES AND FUSES AFTER IT");
  if (c != NULL)
    tv_page_line(page, "  nearest to its limit: %s %s, %s of %s at %s effective", tv_conductor_kind_word(c->kind), c->name,
                 tv_temperature(c->steady_c, page->style.us_units).text,
                 tv_temperature(c->insulation_limit_c, page->style.us_units).text, tv_amperes(c->rms_a).text);
  tv_table_begin(&table, page, columns, 5);
  for (int k = 0; k < set->fuse_count; k++) {
    tv_table_cell(&table, set->fuses[k].name);
    tv_table_cell(&table, tv_compact(set->fuses[k].rating_a, 1).text);
    tv_table_cell(&table, tv_fixed(set->fuses[k].rms_a, 0).text);
    tv_table_cell(&table, isnan(set->fuses[k].smallest_a) ? "none" : tv_compact(set->fuses[k].smallest_a, 1).text);
    tv_table_cell(&table, isnan(set->fuses[k].largest_a) ? "-" : tv_compact(set->fuses[k].largest_a, 1).text);
  }
  tv_table_end(&table, "  ");
}

static void runners_up(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  static const struct tv_column columns[] = {{"also holds", false, 60}, {"cost", true, 0}, {"hours", true, 0},
                                             {"lowest over target V", true, 0}};
  struct tv_table table;
  if (remedy->runner_up_count == 0) return;
  tv_page_heading(page, "RUNNERS-UP");
  tv_table_begin(&table, page, columns, 4);
  for (int k = 0; k < remedy->runner_up_count; k++) {
    const struct tailvolt_remedy_set *set = &remedy->runners_up[k];
    tv_table_cell(&table, set->what);
    tv_table_cell(&table, tv_compact(set->cost, 1).text);
    tv_table_cell(&table, tv_compact(set->effort_h, 1).text);
    tv_table_cell(&table, tv_fixed(set->margin_v, 2).text);
  }
  tv_table_end(&table, "  ");
}

static void worth(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  bool parked = isfinite(remedy->parked_wanted_s);
  const struct tv_column columns[] = {{"alone", false, 40},      {"wins V", true, 0},  {"below %", true, 0},
                                      {"wins %", true, 0},       {"wins Ah", true, 0}, {"meets all", false, 0},
                                      {"cost", true, 0},         {"hours", true, 0},   {"parked min", true, 0}};
  struct tv_table table;
  if (remedy->worth_count == 0) return;
  tv_page_heading(page, "WHAT EACH CURE ALONE IS WORTH (whole profile)");
  tv_table_begin(&table, page, columns, parked ? 9 : 8);
  for (int k = 0; k < remedy->worth_count; k++) {
    const struct tailvolt_worth *w = &remedy->worth[k];
    if (w->meets) tv_table_mark(&table);
    tv_table_cell(&table, w->what);
    tv_table_cell(&table, tv_fixed(w->gain_v, 2).text);
    tv_table_cell(&table, tv_fixed(w->below_pct, 2).text);
    tv_table_cell(&table, tv_fixed(w->gain_pct, 2).text);
    tv_table_cell(&table, tv_fixed(w->gain_ah, 2).text);
    tv_table_cell(&table, w->meets ? "yes" : "no");
    tv_table_cell(&table, w->cure == TAILVOLT_CURE_LEVEL ? "-" : tv_compact(w->cost, 1).text);
    tv_table_cell(&table, w->cure == TAILVOLT_CURE_LEVEL ? "-" : tv_compact(w->effort_h, 1).text);
    if (parked) tv_table_cell(&table, tv_fixed(w->gain_parked_s / 60.0, 0).text);
  }
  tv_table_end(&table, "  ");
  tv_page_wrapped(page, "  ", "wins V: at the lowest voltage of the amplifier worst off; wins %: less time below target; "
                              "wins Ah: more charge left at the end; a fuse above its cable is put right in each.");
}

static void cautions(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  if (remedy->chosen.caution_count + remedy->caution_count == 0) return;
  tv_page_heading(page, "CAUTIONS OF THIS REMEDY");
  for (int k = 0; k < remedy->chosen.caution_count; k++) tv_page_wrapped(page, "  - ", remedy->chosen.cautions[k]);
  for (int k = 0; k < remedy->caution_count; k++) tv_page_wrapped(page, "  - ", remedy->cautions[k]);
}

enum tailvolt_status tailvolt_report_remedy_text(const struct tailvolt_system *system,
                                                 const struct tailvolt_remedy *remedy,
                                                 const struct tailvolt_report_style *style, char **out) {
  struct tv_page page = {0};
  *out = NULL;
  if (style != NULL) page.style = *style;
  answers(&page, remedy);
  tv_page_newline(&page);
  tv_page_line(&page, "system  %s", remedy->system);
  tv_page_line(&page, "profile %s", remedy->profile);
  tv_page_line(&page, "runs    %d tried, %d to the end of the profile, the rest until a target was missed",
               remedy->runs, remedy->whole_runs);
  diagnosis(&page, remedy);
  chosen(&page, remedy);
  heat_and_fuses(&page, remedy);
  runners_up(&page, remedy);
  worth(&page, remedy);
  cautions(&page, remedy);
  if (system != NULL) tv_text_assumed(&page, system);
  tv_text_checklist(&page);
  return tv_buffer_finish(&page.text, out);
}
