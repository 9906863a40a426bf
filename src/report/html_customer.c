/* Page one, for the customer: what to change and what it takes, the evening parked, what is taken for granted, before and
 * after, and the line to sign. In words that need no meter. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/assumed.h"
#include "report/html_parts.h"
#include "report/parked_words.h"
#include "text/number.h"
#include "text/words.h"

enum { GRANTED_MOST = 5 };

/* The lowest voltage at the worst amplifier, and the one it spends 1 % of its time below. */
static double lowest_v(const struct tailvolt_result *result, double *target_v, double *low_v) {
  double lowest = (double)NAN, margin_v = (double)INFINITY;
  for (int k = 0; k < result->amplifier_count; k++)
    for (int p = 0; p < TAILVOLT_PHASES; p++) {
      const struct tailvolt_amplifier_phase *phase = &result->amplifiers[k].phase[p];
      if (!(phase->play_s > 0.0) || !(phase->min_v - phase->target_v < margin_v)) continue;
      margin_v = phase->min_v - phase->target_v;
      lowest = phase->min_v;
      *low_v = phase->low_1pct_v;
      *target_v = phase->target_v;
    }
  return lowest;
}

static void set_in_words(struct tv_buffer *page, const struct tailvolt_remedy *remedy,
                         const struct tailvolt_remedy_set *set) {
  double target_v = 0.0, low_v = 0.0;
  double lowest = set->result != NULL ? lowest_v(set->result, &target_v, &low_v) : (double)NAN;
  tv_buffer_add(page, "<p><strong>");
  tv_html_capital(page, set->what);
  tv_buffer_add(page, ".</strong>");
  if (isfinite(lowest) && lowest < target_v && low_v >= target_v)
    tv_html_add(page, " Then the voltage at the amplifier is %s V or more but for 1 %% of the time (wanted %s V), with the "
                      "deepest dip at %s V: it %s.",
                tv_fixed(low_v, 2).text, tv_compact(target_v, 2).text, tv_fixed(lowest, 2).text,
                tv_verdict_word(set->result->status));
  else if (isfinite(lowest))
    tv_html_add(page, " Then the voltage at the amplifier stays at or above %s V (wanted %s V): it %s.",
                tv_fixed(lowest, 2).text, tv_compact(target_v, 2).text, tv_verdict_word(set->result->status));
  if (isfinite(set->parked_s)) {
    tv_html_add(page, " Parked, it plays about %s", tv_playing_time(set->parked_s).text);
    if (isfinite(remedy->parked_wanted_s)) tv_html_add(page, " (wanted %s)", tv_playing_time(remedy->parked_wanted_s).text);
    tv_buffer_add(page, ".");
  }
  tv_html_add(page, " About %s h of work", tv_compact(set->effort_h, 1).text);
  if (isfinite(set->price)) {
    tv_html_add(page, "; %s ", tv_fixed(set->price, 0).text);
    tv_html_text(page, remedy->currency);
    tv_buffer_add(page, " in all");
  }
  tv_buffer_add(page, ".</p>\n");
}

/* The wanted playing time is missed, and no remedy was searched for. */
static bool too_short(const struct tailvolt_parked *evening) {
  return evening != NULL && isfinite(evening->wanted_s) && evening->until_s < evening->wanted_s;
}

void tv_html_change(struct tv_buffer *page, const struct tv_html_run *run, const struct tailvolt_parked *evening) {
  const struct tailvolt_remedy *remedy = run->remedy;
  tv_buffer_add(page, "<section><h2>What to change</h2>\n");
  if (remedy != NULL && remedy->found && remedy->chosen.change_count > 0) {
    set_in_words(page, remedy, &remedy->chosen);
  } else if (remedy != NULL && !remedy->found) {
    tv_buffer_add(page, "<p><strong>");
    tv_html_capital(page, remedy->partial ? "the search was stopped before a remedy was found"
                                          : tv_not_enough_words(remedy->most_parts));
    tv_buffer_add(page, ".</strong></p>\n");
  } else if (remedy == NULL && run->next != NULL && run->next[0] != '\0') {
    tv_buffer_add(page, "<p>");
    tv_html_capital(page, run->next);
    tv_buffer_add(page, ".</p>\n");
  } else if (run->result->status != TAILVOLT_HOLDS || !too_short(evening)) {
    tv_html_add(page, "<p>%s</p>\n", run->result->status == TAILVOLT_HOLDS
                                         ? "Nothing needs changing."
                                         : "Measure at the car before buying anything: see the second page.");
  }
  if (remedy == NULL && too_short(evening))
    tv_html_add(page, "<p>Parked it plays %s where %s is wanted: %s, or a larger or second battery.</p>\n",
                tv_playing_time(evening->until_s).text, tv_playing_time(evening->wanted_s).text,
                isfinite(evening->wanted_level_db) ? "quieter music" : "more battery than this one");
  if (remedy == NULL && too_short(evening) && isfinite(evening->wanted_level_db))
    tv_html_add(page, "<p>It lasts %s where the music is %s dB quieter.</p>\n", tv_playing_time(evening->wanted_s).text,
                tv_compact(fabs(evening->wanted_level_db), 1).text);
  if (remedy != NULL && remedy->quieter_db > 0.0)
    tv_html_add(page, remedy->before->safety == TAILVOLT_FAILS
                          ? "<p>Played %s dB quieter it holds without any part, once what is unsafe is put right.</p>\n"
                          : "<p>It costs nothing to play %s dB quieter: that holds as it is.</p>\n",
                tv_compact(remedy->quieter_db, 1).text);
  if (remedy != NULL && remedy->marginal_found) {
    tv_buffer_add(page, "<p>Cheaper, but with little to spare: ");
    tv_html_text(page, remedy->marginal.what);
    tv_buffer_add(page, ".</p>\n");
  }
  tv_buffer_add(page, "</section>\n");
}

/* ---- the evening ---- */

/* Of the battery that feeds the music, and of the one that starts the car where that is another. */
static void charge_left(struct tv_buffer *page, const struct tailvolt_parked *evening) {
  char battery[TAILVOLT_NAME_MAX + 32];
  int music = evening->music_index, starter = evening->starter_index;
  tv_parked_battery_words(evening, music, battery, sizeof battery);
  tv_html_capital(page, battery);
  tv_html_add(page, " is then %s %% charged", tv_fixed(evening->batteries[music].end_soc_pct, 0).text);
  if (starter != music) {
    tv_parked_battery_words(evening, starter, battery, sizeof battery);
    tv_buffer_add(page, ", ");
    tv_html_text(page, battery);
    tv_html_add(page, " %s %%", tv_fixed(evening->soc_pct, 0).text);
  }
  tv_buffer_add(page, ".");
}

void tv_html_evening(struct tv_buffer *page, const struct tailvolt_parked *evening) {
  tv_buffer_add(page, "<section><h2>Playing parked, engine off</h2>\n<div class=\"pair\"><p><strong>");
  if (evening->ends_by == TAILVOLT_ENDS_BY_TIME)
    tv_html_add(page, "Plays longer than %s", tv_playing_time(evening->limit_s).text);
  else
    tv_html_add(page, "Plays %s", tv_playing_time(evening->until_s).text);
  tv_buffer_add(page, "</strong>");
  if (isfinite(evening->wanted_s)) tv_html_add(page, " (wanted %s)", tv_playing_time(evening->wanted_s).text);
  tv_html_add(page, "; after that the car %s. ", evening->starts ? "still starts" : "does not start");
  charge_left(page, evening);
  tv_buffer_add(page, "</p>\n");
  tv_html_charge_curve(page, evening);
  tv_buffer_add(page, "</div></section>\n");
}

/* ---- what is taken for granted ---- */

void tv_html_granted(struct tv_buffer *page, const struct tailvolt_system *system, bool us_units) {
  char text[2 * TAILVOLT_TEXT_MAX];
  if (system->assumption_count == 0) return;
  tv_assumed_sentence(system, GRANTED_MOST, us_units, text, sizeof text);
  tv_html_add(page, "<section><h2>What this takes for granted</h2>\n<p>%d value%s not known from the car %s assumed",
              system->assumption_count, system->assumption_count == 1 ? "" : "s",
              system->assumption_count == 1 ? "is" : "are");
  if (text[0] != '\0') tv_buffer_add(page, ", above all ");
  tv_html_text(page, text);
  tv_buffer_add(page, ". The figures are an estimate: they are measured at the car when the work is done.</p></section>\n");
}

/* ---- before and after ---- */

static int amplifier_called(const struct tailvolt_result *result, const char *name) {
  for (int k = 0; k < result->amplifier_count; k++)
    if (strcmp(result->amplifiers[k].name, name) == 0) return k;
  return -1;
}

static void compare_row(struct tv_buffer *page, const struct tailvolt_result *before, const struct tailvolt_result *after,
                        const char *amplifier) {
  const struct tailvolt_result *each[2] = {before, after};
  const char *slash = strrchr(before->profile, '/');
  tv_buffer_add(page, "<tr>");
  tv_html_cell(page, slash != NULL ? slash + 1 : before->profile);
  tv_html_cell(page, amplifier);
  for (int r = 0; r < 2; r++) {
    int k = amplifier_called(each[r], amplifier);
    tv_html_add(page, "<td>%s</td>", tv_verdict_word(each[r]->status));
    tv_html_number_cell(page, k >= 0 ? each[r]->amplifiers[k].min_v : (double)NAN, 2);
    tv_html_number_cell(page, k >= 0 ? each[r]->amplifiers[k].below_target_pct : (double)NAN, 2);
  }
  tv_buffer_add(page, "</tr>\n");
}

static void compare_rows(struct tv_buffer *page, const struct tailvolt_result *before, const struct tailvolt_result *after) {
  for (int k = 0; k < before->amplifier_count; k++) compare_row(page, before, after, before->amplifiers[k].name);
  for (int k = 0; k < after->amplifier_count; k++)
    if (amplifier_called(before, after->amplifiers[k].name) < 0) compare_row(page, before, after, after->amplifiers[k].name);
}

/* A part as you would order it: "4 AWG, 5.5 m", "80 A". */
static void conductor_in_words(const struct tailvolt_conductor *c, bool us_units, char *to, size_t size) {
  if (c->kind == TAILVOLT_FUSE)
    snprintf(to, size, "%s A", tv_compact(c->rating_a, 1).text);
  else if (c->kind == TAILVOLT_JOINT)
    snprintf(to, size, "%s mohm", tv_compact(1e3 * c->resistance_ohm, 2).text);
  else
    snprintf(to, size, "%s, %s", c->size, tv_length(c->length_m, us_units).text);
}

static void difference(struct tv_buffer *page, int *count, const char *kind, const char *name, const char *from,
                       const char *to) {
  tv_buffer_add(page, (*count)++ == 0 ? "<ul class=\"tight\"><li>" : "<li>");
  tv_html_text(page, kind);
  if (name[0] != '\0' && strcmp(kind, name) != 0) {
    tv_buffer_add(page, " ");
    tv_html_text(page, name);
  }
  tv_buffer_add(page, ": ");
  tv_html_text(page, from != NULL ? from : "none");
  tv_buffer_add(page, " before, ");
  tv_html_text(page, to != NULL ? to : "none");
  tv_buffer_add(page, " after</li>\n");
}

static const struct tailvolt_conductor *same_conductor(const struct tailvolt_system *system,
                                                       const struct tailvolt_conductor *like) {
  for (int k = 0; k < system->conductor_count; k++)
    if (system->conductors[k].kind == like->kind && strcmp(system->conductors[k].name, like->name) == 0)
      return &system->conductors[k];
  return NULL;
}

static void conductor_differences(struct tv_buffer *page, const struct tailvolt_system *before,
                                  const struct tailvolt_system *after, bool us_units, int *count) {
  char from[96], to[96];
  for (int k = 0; k < before->conductor_count; k++) {
    const struct tailvolt_conductor *old = &before->conductors[k], *new = same_conductor(after, old);
    conductor_in_words(old, us_units, from, sizeof from);
    if (new != NULL) conductor_in_words(new, us_units, to, sizeof to);
    if (new == NULL || strcmp(from, to) != 0)
      difference(page, count, tv_conductor_kind_word(old->kind), old->name, from, new != NULL ? to : NULL);
  }
  for (int k = 0; k < after->conductor_count; k++) {
    const struct tailvolt_conductor *new = &after->conductors[k];
    if (same_conductor(before, new) != NULL) continue;
    conductor_in_words(new, us_units, to, sizeof to);
    difference(page, count, tv_conductor_kind_word(new->kind), new->name, NULL, to);
  }
}

/* Parts identified by a name and one figure. */
static void figure_difference(struct tv_buffer *page, int *count, const char *kind, const char *name, const double *from,
                              const double *to, const char *unit) {
  char old[48] = "", new[48] = "";
  if (from != NULL && to != NULL && *from == *to) return;
  if (from != NULL) snprintf(old, sizeof old, "%s %s", tv_compact(*from, 2).text, unit);
  if (to != NULL) snprintf(new, sizeof new, "%s %s", tv_compact(*to, 2).text, unit);
  difference(page, count, kind, name, from != NULL ? old : NULL, to != NULL ? new : NULL);
}

/* The k-th part of a kind: its name and its one figure; false behind the last. */
typedef bool part_figure(const struct tailvolt_system *system, int k, const char **name, const double **figure);

static bool battery_figure(const struct tailvolt_system *system, int k, const char **name, const double **figure) {
  if (k >= system->battery_count) return false;
  *name = system->batteries[k].name;
  *figure = &system->batteries[k].capacity_ah;
  return true;
}

static bool capacitor_figure(const struct tailvolt_system *system, int k, const char **name, const double **figure) {
  if (k >= system->capacitor_count) return false;
  *name = system->capacitors[k].name;
  *figure = &system->capacitors[k].capacitance_f;
  return true;
}

static bool amplifier_figure(const struct tailvolt_system *system, int k, const char **name, const double **figure) {
  if (k >= system->amplifier_count) return false;
  *name = system->amplifiers[k].name;
  *figure = &system->amplifiers[k].rated_w;
  return true;
}

static bool load_figure(const struct tailvolt_system *system, int k, const char **name, const double **figure) {
  if (k >= system->load_count) return false;
  *name = system->loads[k].name;
  *figure = &system->loads[k].power_w;
  return true;
}

static const double *figure_called(const struct tailvolt_system *system, part_figure *part, const char *wanted) {
  const char *name;
  const double *figure;
  for (int k = 0; part(system, k, &name, &figure); k++)
    if (strcmp(name, wanted) == 0) return figure;
  return NULL;
}

static void figure_differences(struct tv_buffer *page, const struct tailvolt_system *before, const struct tailvolt_system *after,
                               const char *kind, part_figure *part, const char *unit, int *count) {
  const char *name;
  const double *figure;
  for (int k = 0; part(before, k, &name, &figure); k++)
    figure_difference(page, count, kind, name, figure, figure_called(after, part, name), unit);
  for (int k = 0; part(after, k, &name, &figure); k++)
    if (figure_called(before, part, name) == NULL) figure_difference(page, count, kind, name, NULL, figure, unit);
}

static const struct tailvolt_isolator *isolator_called(const struct tailvolt_system *system, const char *name) {
  for (int k = 0; k < system->isolator_count; k++)
    if (strcmp(system->isolators[k].name, name) == 0) return &system->isolators[k];
  return NULL;
}

static void isolator_differences(struct tv_buffer *page, const struct tailvolt_system *before, const struct tailvolt_system *after,
                                 int *count) {
  for (int k = 0; k < before->isolator_count; k++) {
    const struct tailvolt_isolator *old = &before->isolators[k], *new = isolator_called(after, old->name);
    if (new == NULL || new->kind != old->kind)
      difference(page, count, "isolator", old->name, tv_isolator_kind_word(old->kind),
                 new != NULL ? tv_isolator_kind_word(new->kind) : NULL);
  }
  for (int k = 0; k < after->isolator_count; k++)
    if (isolator_called(before, after->isolators[k].name) == NULL)
      difference(page, count, "isolator", after->isolators[k].name, NULL, tv_isolator_kind_word(after->isolators[k].kind));
}

static void part_differences(struct tv_buffer *page, const struct tailvolt_system *before,
                             const struct tailvolt_system *after, int *count) {
  if (before->alternator.present || after->alternator.present)
    figure_difference(page, count, "alternator", "", before->alternator.present ? &before->alternator.rated_a : NULL,
                      after->alternator.present ? &after->alternator.rated_a : NULL, "A");
  figure_differences(page, before, after, "battery", battery_figure, "Ah", count);
  figure_differences(page, before, after, "capacitor", capacitor_figure, "F", count);
  figure_differences(page, before, after, "amplifier", amplifier_figure, "W", count);
  figure_differences(page, before, after, "load", load_figure, "W", count);
  isolator_differences(page, before, after, count);
}

void tv_html_compare(struct tv_buffer *page, const struct tv_html_report *report) {
  int count = 0;
  if (report->other == NULL) return;
  tv_buffer_add(page, "<section><h2>Before and after</h2>\n<div class=\"wide\"><table><thead><tr><th>run</th><th>amplifier</th>"
                      "<th>before</th><th class=\"n\">lowest V</th><th class=\"n\">below target, %</th><th>after</th>"
                      "<th class=\"n\">lowest V</th><th class=\"n\">below target, %</th></tr></thead><tbody>\n");
  for (int k = 0; k < report->run_count; k++)
    if (report->runs[k].after != NULL) compare_rows(page, report->runs[k].result, report->runs[k].after);
  tv_buffer_add(page, "</tbody></table></div>\n");
  conductor_differences(page, report->system, report->other, report->us_units, &count);
  part_differences(page, report->system, report->other, &count);
  tv_buffer_add(page, count > 0 ? "</ul></section>\n" : "<p>No part differs in size or rating.</p></section>\n");
}

void tv_html_signature(struct tv_buffer *page) {
  tv_buffer_add(page, "<div class=\"sign\"><span>Date</span><span>For the workshop</span><span>Customer</span></div>\n");
}
