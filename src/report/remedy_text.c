/* The remedy as text: five plain answers, the cause, what each cure is worth, the chosen set. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text/number.h"
#include "text/text.h"
#include "report/page.h"
#include "report/text_parts.h"
#include "text/words.h"
#include "tailvolt/remedy.h"

static const char *capital(const char *text, char to[TAILVOLT_TEXT_MAX]) {
  snprintf(to, TAILVOLT_TEXT_MAX, "%s", text);
  if (to[0] >= 'a' && to[0] <= 'z') to[0] = (char)(to[0] - 'a' + 'A');
  return to;
}

/* The first screen fits any terminal. */
enum { SCREEN = 80 };

/* "lowest voltage 0.82 V under target, below it 17 % of the time" */
static void state_of(double margin_v, double below_pct, char *to, size_t size) {
  if (!isfinite(margin_v)) {
    snprintf(to, size, "no amplifier plays");
    return;
  }
  snprintf(to, size, "lowest voltage %s V %s target, below it %s of the time", tv_fixed(fabs(margin_v), 2).text,
           margin_v < 0.0 ? "under" : "over", tv_percent(below_pct).text);
}

/* The amplifier whose lowest voltage is nearest its target, or furthest below. */
static const struct tailvolt_amplifier_result *worst_off(const struct tailvolt_result *result, double *target_v) {
  const struct tailvolt_amplifier_result *worst = NULL;
  double least_v = (double)INFINITY;
  for (int k = 0; k < result->amplifier_count; k++)
    for (int p = 0; p < TAILVOLT_PHASES; p++) {
      const struct tailvolt_amplifier_phase *phase = &result->amplifiers[k].phase[p];
      if (!(phase->play_s > 0.0) || !(phase->min_v - phase->target_v < least_v)) continue;
      least_v = phase->min_v - phase->target_v;
      worst = &result->amplifiers[k];
      *target_v = phase->target_v;
    }
  return worst;
}

/* "bass stays at or above 12.4 V (wanted 12.0 V)", "bass falls to 11.8 V (wanted 12.0 V)"; where it only dips below the
 * target: "bass at 12.2 V or more but for 1 % of the time (wanted 12.0 V), deepest dip 11.7 V" */
static void lowest_of(const struct tailvolt_result *result, char *to, size_t size) {
  double target_v = 0.0;
  const struct tailvolt_amplifier_result *a = result != NULL ? worst_off(result, &target_v) : NULL;
  if (a == NULL) {
    snprintf(to, size, "no amplifier plays");
    return;
  }
  if (a->min_v < target_v && a->low_1pct_v >= target_v) {
    snprintf(to, size, "%s at %s V or more but for 1 %% of the time (wanted %s V), deepest dip %s V", a->name,
             tv_fixed(a->low_1pct_v, 2).text, tv_compact(target_v, 2).text, tv_fixed(a->min_v, 2).text);
    return;
  }
  snprintf(to, size, "%s %s %s V (wanted %s V)", a->name, a->min_v < target_v ? "falls to" : "stays at or above",
           tv_fixed(a->min_v, 2).text, tv_compact(target_v, 2).text);
}

/* "4.5 h of work, 540 EUR in all" */
static void price_of(const struct tailvolt_remedy *remedy, const struct tailvolt_remedy_set *set, char *to, size_t size) {
  int used = snprintf(to, size, "%s h of work", tv_compact(set->effort_h, 1).text);
  if (used < 0 || (size_t)used >= size || remedy->currency[0] == '\0') return;
  if (isfinite(set->price))
    snprintf(to + used, size - (size_t)used, ", %s %s in all", tv_fixed(set->price, 0).text, remedy->currency);
  else
    snprintf(to + used, size - (size_t)used, "; what the price list does not have counts in the built-in list's points");
}

static void no_set(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  if (remedy->partial) {
    tv_page_wrapped_within(page, SCREEN, "REMEDY  ", "the search was stopped early, before a set was found");
    return;
  }
  tv_page_wrapped_within(page, SCREEN, "REMEDY  ", tv_not_enough_words(remedy->most_parts));
  for (int k = 0; k < remedy->before->reason_count; k++) {
    const struct tailvolt_reason *reason = &remedy->before->reasons[k];
    char text[TAILVOLT_TEXT_MAX];
    if (reason->topic != TAILVOLT_ABOUT_SAFETY || reason->status != TAILVOLT_FAILS) continue;
    tailvolt_reason_text(reason, page->style.us_units, text, sizeof text);
    tv_page_wrapped_within(page, SCREEN, "FIRST   ", text);
  }
}

static void quieter(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  char text[TAILVOLT_TEXT_MAX];
  if (remedy->before->status == TAILVOLT_HOLDS || !remedy->level_looked_for) return;
  if (isfinite(remedy->quieter_db))
    snprintf(text, sizeof text, "%s dB quieter holds without any part%s", tv_compact(remedy->quieter_db, 1).text,
             remedy->before->safety == TAILVOLT_FAILS ? ", once what SAFETY names is right" : ": it costs nothing");
  else
    snprintf(text, sizeof text, "turning the music down is not enough by itself");
  tv_page_wrapped_within(page, SCREEN, "QUIETER ", text);
}

static void say_holds(const struct tailvolt_certainty *certainty, const char *before, const char *what, char *to, size_t size) {
  if (certainty->known) tv_append(to, size, "%s%s%s", before, tv_fixed(certainty->holds_pct, 0).text, what);
}

/* How far was looked for the share asked for. */
static void sure_search(const struct tailvolt_remedy *remedy, char *to, size_t size) {
  struct tv_number wanted = tv_compact(100 * remedy->sure_frac, 1);
  const char *sets = remedy->sure_sets == 1 ? "set" : "sets";
  if (remedy->sure_reached && remedy->sure_complete)
    snprintf(to, size, "none cheaper of those searched holds in %s of 100", wanted.text);
  else if (remedy->sure_reached)
    snprintf(to, size, "the cheapest that holds in %s of 100, of %d %s counted; the search was cut short", wanted.text,
             remedy->sure_sets, sets);
  else if (remedy->met_before)
    snprintf(to, size, "it holds as it is, but not in %s of 100: no parts were looked for", wanted.text);
  else if (remedy->sure_complete)
    snprintf(to, size, "no set on offer holds in %s of 100", wanted.text);
  else
    snprintf(to, size, "none of the %d %s counted holds in %s of 100; the search was cut short", remedy->sure_sets, sets,
             wanted.text);
}

/* "holds in 95 of 100 such cars, in 60 with 4 AWG feed, in 2 as it is" */
static void sure(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  const struct tailvolt_remedy_set *set = &remedy->chosen;
  char text[4 * TAILVOLT_TEXT_MAX] = "", what[TAILVOLT_TEXT_MAX + 16];
  if (!set->certainty.known) return;
  say_holds(&set->certainty, "holds in ", " of 100 such cars with it", text, sizeof text);
  snprintf(what, sizeof what, " with %s", remedy->marginal.what);
  if (remedy->marginal_found) say_holds(&remedy->marginal.certainty, ", in ", what, text, sizeof text);
  snprintf(what, sizeof what, " with %s", remedy->runners_up[0].what);
  if (remedy->runner_up_count > 0) say_holds(&remedy->runners_up[0].certainty, ", in ", what, text, sizeof text);
  say_holds(&remedy->certainty_before, ", in ", " as it is", text, sizeof text);
  tv_page_wrapped_within(page, SCREEN, "SURE    ", text);
  if (!isfinite(remedy->sure_frac)) return;
  sure_search(remedy, text, sizeof text);
  tv_page_wrapped_within(page, SCREEN, "        ", text);
}

/* The answer: what to fit, what it brings, what it takes. */
static void first_screen(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  char state[TAILVOLT_TEXT_MAX], price[TAILVOLT_TEXT_MAX], text[3 * TAILVOLT_TEXT_MAX];
  const struct tailvolt_remedy_set *set = &remedy->chosen;
  lowest_of(remedy->before, state, sizeof state);
  snprintf(text, sizeof text, "%s: %s%s%s", tv_verdict_word(remedy->before->status), state,
           remedy->charge_short ? "; a battery loses charge" : "", remedy->before->safety == TAILVOLT_FAILS ? "; SAFETY FAILS" : "");
  tv_page_wrapped_within(page, SCREEN, "NOW     ", text);
  quieter(page, remedy);
  if (!remedy->found) {
    no_set(page, remedy);
    return;
  }
  if (set->change_count == 0) {
    tv_page_wrapped_within(page, SCREEN, "REMEDY  ", "nothing is needed: every target is met already");
    return;
  }
  snprintf(text, sizeof text, "%s%s", set->what, remedy->partial ? " (the search was stopped early)" : "");
  tv_page_colour(page, TV_BOLD);
  tv_page_wrapped_within(page, SCREEN, "REMEDY  ", text);
  tv_page_colour(page, TV_PLAIN);
  lowest_of(set->result, state, sizeof state);
  snprintf(text, sizeof text, "%s: %s", set->result != NULL ? tv_verdict_word(set->result->status) : "holds", state);
  tv_page_wrapped_within(page, SCREEN, "THEN    ", text);
  if (isfinite(set->parked_s)) {
    snprintf(text, sizeof text, "plays about %s (wanted %s)", tv_playing_time(set->parked_s).text,
             tv_playing_time(remedy->parked_wanted_s).text);
    tv_page_wrapped_within(page, SCREEN, "PARKED  ", text);
  }
  price_of(remedy, set, price, sizeof price);
  tv_page_wrapped_within(page, SCREEN, "TAKES   ", price);
  sure(page, remedy);
  if (remedy->marginal_found && remedy->marginal.result != NULL) {
    lowest_of(remedy->marginal.result, state, sizeof state);
    price_of(remedy, &remedy->marginal, price, sizeof price);
    snprintf(text, sizeof text, "%s is cheaper but marginal: %s; %s", remedy->marginal.what, state, price);
    tv_page_wrapped_within(page, SCREEN, "OR      ", text);
  }
}

/* The cheapest cure that holds by itself, where a set that mends the cause was chosen before it. */
static void alone(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  const struct tailvolt_worth *cheapest = NULL;
  char text[2 * TAILVOLT_TEXT_MAX];
  /* where a share of such cars is wanted, holding in this one says little */
  if (!remedy->found || remedy->chosen.change_count == 0 || isfinite(remedy->sure_frac)) return;
  for (int k = 0; k < remedy->worth_count; k++) {
    const struct tailvolt_worth *w = &remedy->worth[k];
    if (!w->meets || w->cure == TAILVOLT_CURE_LEVEL || !(w->cost < remedy->chosen.cost - 1e-9)) continue;
    if (cheapest == NULL || w->cost < cheapest->cost) cheapest = w;
  }
  if (cheapest == NULL) return;
  snprintf(text, sizeof text, "%s holds by itself and is cheaper, but leaves the cause as it is; %s h of work", cheapest->what,
           tv_compact(cheapest->effort_h, 1).text);
  tv_page_wrapped_within(page, SCREEN, "ALONE   ", text);
}

static void answers(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  char text[TAILVOLT_TEXT_MAX], shown[TAILVOLT_TEXT_MAX];
  tv_page_newline(page);
  for (int k = 0; k < TAILVOLT_ANSWERS; k++) {
    tailvolt_answer_text(&remedy->answers[k], text, sizeof text);
    tv_page_wrapped_within(page, SCREEN, "", capital(text, shown));
    tailvolt_rule_text(&remedy->answers[k], text, sizeof text);
    tv_page_colour(page, TV_FAINT);
    tv_page_wrapped_within(page, SCREEN, "    rule of thumb: ", text);
    tv_page_colour(page, TV_PLAIN);
  }
}

static void diagnosis(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  char state[TAILVOLT_TEXT_MAX], why[2 * TAILVOLT_TEXT_MAX];
  tv_page_heading(page, "WHY");
  tailvolt_shortage_text(remedy, why, sizeof why);
  tv_page_wrapped(page, "  ", why);
  state_of(remedy->margin_before_v, remedy->below_before_pct, state, sizeof state);
  tv_page_wrapped(page, "  now: ", state);
  if (fabs(remedy->margin_fitted_v - remedy->margin_before_v) > 0.005)
    tv_page_line(page, "  putting the fuses right changes the lowest voltage by %s V; gains count from there",
                 tv_fixed(remedy->margin_fitted_v - remedy->margin_before_v, 2).text);
  if (isfinite(remedy->parked_before_s))
    tv_page_line(page, "  parked: plays %s (wanted %s)", tv_playing_time(remedy->parked_before_s).text,
                 tv_playing_time(remedy->parked_wanted_s).text);
  if (remedy->counterfactual_count > 0)
    tv_page_wrapped(page, "  ", "Each figure is what one perfect part would bring at the lowest voltage, from a run of "
                                "the whole profile.");
}

/* What to cut to length, or to order. */
static void leads(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  static const struct tv_column columns[] = {{"lead", false, 40}, {"size", false, 0}, {"length", true, 0}, {"in place of", false, 0}};
  const struct tailvolt_remedy_set *set = &remedy->chosen;
  struct tv_table table;
  if (!remedy->found || set->lead_count == 0) return;
  tv_page_heading(page, "CABLES TO LAY");
  tv_table_begin(&table, page, columns, 4);
  for (int k = 0; k < set->lead_count; k++) {
    const struct tailvolt_remedy_lead *lead = &set->leads[k];
    char text[TAILVOLT_NAME_MAX + 16];
    tv_section_words(lead->kind, lead->name, text, sizeof text);
    tv_table_cell(&table, text);
    tv_table_cell(&table, lead->size);
    tv_table_cell(&table, tv_length(lead->length_m, page->style.us_units).text);
    tv_table_cell(&table, lead->added ? "new" : lead->before[0] != '\0' ? lead->before : "-");
  }
  tv_table_end(&table, "  ");
}

static void settings(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  const struct tailvolt_remedy_set *set = &remedy->chosen;
  if (!remedy->found || set->change_count == 0) return;
  tv_page_heading(page, "THE REMEDY AS SETTINGS (--write FILE.ini writes them into a new system file)");
  for (int k = 0; k < set->change_count; k++)
    tv_page_line(page, "    --set \"%s = %s\"", set->changes[k].key, set->changes[k].value);
}

/* The conductor nearest its insulation's limit. */
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
    tv_page_line(page, "  nearest to its limit: %s %s, %s of %s at %s rms", tv_conductor_kind_word(c->kind), c->name,
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
  static const struct tv_column columns[] = {{"change", false, 60}, {"price", true, 0}, {"hours", true, 0},
                                             {"lowest over target V", true, 0}};
  struct tv_table table;
  if (remedy->runner_up_count == 0) return;
  tv_page_heading(page, "ALSO HOLDS");
  tv_table_begin(&table, page, columns, 4);
  for (int k = 0; k < remedy->runner_up_count; k++) {
    const struct tailvolt_remedy_set *set = &remedy->runners_up[k];
    tv_table_cell(&table, set->what);
    tv_table_cell(&table, isfinite(set->price) ? tv_fixed(set->price, 0).text : "-");
    tv_table_cell(&table, tv_compact(set->effort_h, 1).text);
    tv_table_cell(&table, tv_fixed(set->margin_v, 2).text);
  }
  tv_table_end(&table, "  ");
}

static void worth(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  bool parked = isfinite(remedy->parked_wanted_s);
  const struct tv_column columns[] = {{"alone", false, 48},      {"gain V", true, 0},  {"below %", true, 0},
                                      {"gain %", true, 0},       {"gain Ah", true, 0}, {"holds", false, 0},
                                      {"hours", true, 0},        {"parked min", true, 0}};
  struct tv_table table;
  if (remedy->worth_count == 0) return;
  tv_page_heading(page, "WHAT EACH CHANGE ALONE IS WORTH (whole profile)");
  tv_table_begin(&table, page, columns, parked ? 8 : 7);
  for (int k = 0; k < remedy->worth_count; k++) {
    const struct tailvolt_worth *w = &remedy->worth[k];
    if (w->meets) tv_table_mark(&table);
    tv_table_cell(&table, w->what);
    tv_table_cell(&table, tv_fixed(w->gain_v, 2).text);
    tv_table_cell(&table, tv_fixed(w->below_pct, 2).text);
    tv_table_cell(&table, tv_fixed(w->gain_pct, 2).text);
    tv_table_cell(&table, tv_fixed(w->gain_ah, 2).text);
    tv_table_cell(&table, w->meets ? "yes" : "no");
    tv_table_cell(&table, w->cure == TAILVOLT_CURE_LEVEL ? "-" : tv_compact(w->effort_h, 1).text);
    if (parked) tv_table_cell(&table, tv_fixed(w->gain_parked_s / 60.0, 0).text);
  }
  tv_table_end(&table, "  ");
  tv_page_wrapped(page, "  ", "gain V: at the lowest voltage of the worst amplifier, for a capacitor once its first "
                              "charge is spent; gain %: less time below target; gain Ah: more charge left at the end; a "
                              "fuse above its cable is put right in each, and a cable that bears less than its amplifier takes is "
                              "not enough, whatever its volts.");
}

static void list_cautions(struct tv_page *page, const struct tailvolt_remedy_caution *list, int count) {
  for (int k = 0; k < count; k++) {
    char text[TAILVOLT_TEXT_MAX];
    tailvolt_remedy_caution_text(&list[k], page->style.us_units, text, sizeof text);
    tv_page_wrapped(page, "  - ", text);
  }
}

static void cautions(struct tv_page *page, const struct tailvolt_remedy *remedy) {
  if (remedy->chosen.caution_count + remedy->caution_count == 0) return;
  tv_page_heading(page, "CAUTIONS OF THIS REMEDY");
  list_cautions(page, remedy->chosen.cautions, remedy->chosen.caution_count);
  list_cautions(page, remedy->cautions, remedy->caution_count);
}

enum tailvolt_status tailvolt_report_remedy_text(const struct tailvolt_system *system,
                                                 const struct tailvolt_remedy *remedy,
                                                 const struct tailvolt_report_style *style, char **out) {
  struct tv_page page = {0};
  *out = NULL;
  if (style != NULL) page.style = *style;
  first_screen(&page, remedy);
  alone(&page, remedy);
  answers(&page, remedy);
  tv_page_newline(&page);
  tv_page_line(&page, "system  %s", remedy->system);
  tv_page_line(&page, "profile %s", remedy->profile);
  tv_page_line(&page, "runs    %d tried, %d in full to the end of the profile, the rest until what they show was clear",
               remedy->runs, remedy->whole_runs);
  diagnosis(&page, remedy);
  leads(&page, remedy);
  settings(&page, remedy);
  heat_and_fuses(&page, remedy);
  runners_up(&page, remedy);
  worth(&page, remedy);
  cautions(&page, remedy);
  if (system != NULL) tv_text_assumed(&page, system);
  tv_text_checklist(&page);
  return tv_buffer_finish(&page.text, out);
}
