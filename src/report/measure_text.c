/* What to measure, and what the readings say. */
#include <math.h>
#include <stdio.h>

#include "report/measure_words.h"
#include "report/page.h"
#include "report/sure.h"
#include "text/feed_drops.h"
#include "text/number.h"
#include "text/text.h"
#include "text/words.h"

static bool is_hybrid(const struct tailvolt_system *system) { return system->vehicle.charging == TAILVOLT_CHARGING_CONVERTER; }

static void begin(struct tv_page *page, const struct tailvolt_report_style *style) {
  *page = (struct tv_page){.columns = 80};
  if (style != NULL) page->style = *style;
}

/* How sure the answer is, in the words of the first screen. */
static void sure(struct tv_page *page, const char *start, const char *when, const struct tailvolt_certainty *certainty) {
  char first[TV_SURE_LINE], second[TV_SURE_LINE], text[2 * TV_SURE_LINE + 32];
  if (certainty == NULL || !certainty->known) return;
  tv_sure_lines(certainty, first, second);
  snprintf(text, sizeof text, "%.16s%s%s%s", when, first, second[0] != '\0' ? "; " : "", second);
  tv_page_wrapped(page, start, text);
}

/* ---- the plan ---- */

static bool plays_tone(const struct tailvolt_measure_plan *plan) {
  for (int k = 0; k < plan->count; k++)
    if (plan->readings[k].probe.condition == TAILVOLT_CONDITION_TONE ||
        plan->readings[k].probe.condition == TAILVOLT_CONDITION_TONE_OFF)
      return true;
  return false;
}

static void cautions(struct tv_page *page, const struct tailvolt_system *system, const struct tailvolt_measure_plan *plan) {
  tv_page_wrapped(page, "SAFE    ",
                  is_hybrid(system) ? "Zero the clamp with nothing in it before each reading. Never touch an orange cable, nor clamp one. "
                                      "Never disconnect the battery with the car ready. No rings."
                                    : "Zero the clamp with nothing in it before each reading. Never disconnect the battery with the "
                                      "engine running. Never touch an orange cable. No rings; keep clear of belt and fan.");
  if (!plays_tone(plan)) return;
  char text[4 * TAILVOLT_TEXT_MAX];
  snprintf(text, sizeof text,
           "50 Hz from a generator or a recording, ten seconds at most, then a minute to cool; %s puts out %s W. A steady tone burns "
           "voice coils: use a dummy load that bears it, or speakers whose makers allow that power continuously. If they "
           "allow less, say so first: --tone 50W.",
           system->amplifiers[plan->amplifier].name, tv_significant(plan->tone_w, 3).text);
  tv_page_wrapped(page, "TONE    ", text);
}

static double greatest(double a, double b, double c) {
  return fmax(fabs(a), fmax(fabs(b), fabs(c)));
}

static void one_reading(struct tv_page *page, const struct tailvolt_system *system, const struct tailvolt_planned *one, int number) {
  char text[4 * TAILVOLT_TEXT_MAX], start[16], id[TAILVOLT_TEXT_MAX];
  enum tv_reading_of of = tv_reading_of(system, &one->probe, &one->between);
  snprintf(start, sizeof start, "%2d  ", number);
  tailvolt_probe_words(system, &one->probe, &one->between, text, sizeof text);
  tv_page_wrapped(page, start, text);
  enum tailvolt_instrument instrument = one->probe.instrument;
  double most = greatest(one->normal, one->low, one->high);
  snprintf(text, sizeof text, "shows %s, normal from %s to %s", tv_reading_beside(instrument, one->normal, most).text,
           tv_reading_beside(instrument, one->low, most).text, tv_reading_beside(instrument, one->high, most).text);
  tv_page_wrapped(page, "    ", text);
  snprintf(text, sizeof text, "below: %s", tv_reading_below(of));
  tv_page_wrapped(page, "      ", text);
  snprintf(text, sizeof text, "above: %s", tv_reading_above(of));
  tv_page_wrapped(page, "      ", text);
  tailvolt_probe_write(system, &one->probe, id, sizeof id);
  snprintf(text, sizeof text, "in a file: %s", id);
  tv_page_wrapped(page, "    ", text);
}

enum tailvolt_status tailvolt_report_measure_plan(const struct tailvolt_system *system, const struct tailvolt_measure_plan *plan,
                                                  const struct tailvolt_certainty *now,
                                                  const struct tailvolt_report_style *style, char **out) {
  struct tv_page page;
  begin(&page, style);
  sure(&page, "SURE    ", "", now);
  if (plan->count == 0) {
    tv_page_line(&page, "MEASURE nothing: no reading would make the answer surer");
    return tv_buffer_finish(&page.text, out);
  }
  char text[TAILVOLT_TEXT_MAX];
  double worth_pct = 0;
  for (int k = 0; k < plan->count; k++) worth_pct = fmax(worth_pct, plan->readings[k].worth_pct);
  snprintf(text, sizeof text, "%d reading%s, which take away %s %% of what is uncertain in the verdict", plan->count,
           plan->count == 1 ? "" : "s", tv_fixed(worth_pct, 0).text);
  tv_page_wrapped(&page, "MEASURE ", text);
  cautions(&page, system, plan);
  for (int k = 0; k < plan->count; k++) {
    enum tailvolt_condition condition = plan->readings[k].probe.condition;
    if (k == 0 || plan->readings[k - 1].probe.condition != condition)
      tv_page_heading(&page, "%s", tv_condition_words(condition, is_hybrid(system)));
    one_reading(&page, system, &plan->readings[k], k + 1);
  }
  return tv_buffer_finish(&page.text, out);
}

static void quoted(struct tv_buffer *text, const char *cell) {
  tv_buffer_add(text, "\"");
  for (; *cell != '\0'; cell++) {
    if (*cell == '"') tv_buffer_add(text, "\"");
    tv_buffer_add_bytes(text, cell, 1);
  }
  tv_buffer_add(text, "\"");
}

enum tailvolt_status tailvolt_report_measure_csv(const struct tailvolt_system *system, const struct tailvolt_measure_plan *plan,
                                                 char **out) {
  struct tv_buffer text = {0};
  tv_buffer_add(&text, "reading,value,normal,low,high,unit,what\n");
  for (int k = 0; k < plan->count; k++) {
    const struct tailvolt_planned *one = &plan->readings[k];
    char cell[4 * TAILVOLT_TEXT_MAX];
    tailvolt_probe_write(system, &one->probe, cell, sizeof cell);
    quoted(&text, cell);
    tv_buffer_add(&text, ",");
    const double numbers[] = {one->normal, one->low, one->high};
    for (int n = 0; n < 3; n++) {
      tv_buffer_add(&text, ",");
      tv_buffer_add(&text, tv_significant(numbers[n], 6).text);
    }
    tv_buffer_add(&text, one->probe.instrument == TAILVOLT_CLAMP ? ",A," : ",V,");
    tailvolt_probe_words(system, &one->probe, &one->between, cell, sizeof cell);
    quoted(&text, cell);
    tv_buffer_add(&text, "\n");
  }
  return tv_buffer_finish(&text, out);
}

/* ---- what they say ---- */

static struct tv_number milliohms(double ohm) {
  double mohm = 1e3 * ohm;
  return tv_fixed(mohm, mohm < 10 ? 2 : 1);
}

static void slips(struct tv_page *page, const struct tailvolt_system *system, const struct tailvolt_estimate *estimate) {
  for (int k = 0; k < estimate->count; k++) {
    const struct tailvolt_judged *one = &estimate->readings[k];
    char id[TAILVOLT_TEXT_MAX], text[4 * TAILVOLT_TEXT_MAX];
    enum tailvolt_instrument instrument = one->probe.instrument;
    tailvolt_probe_write(system, &one->probe, id, sizeof id);
    bool clamp = instrument == TAILVOLT_CLAMP;
    if ((one->notices & TAILVOLT_NOTICE_SWAPPED) != 0) {
      snprintf(text, sizeof text, "%s: %s: %s; taken as %s", id, tv_reading_number(instrument, one->typed).text,
               clamp ? "the clamp's arrow points the other way" : "probes swapped", tv_reading_number(instrument, one->value).text);
      tv_page_wrapped(page, "SLIP    ", text);
    }
    if ((one->notices & TAILVOLT_NOTICE_MILLIVOLTS) != 0) {
      snprintf(text, sizeof text, "%s: %s across a wire: mV meant? taken as %s", id, tv_reading_number(instrument, one->typed).text,
               tv_reading_number(instrument, one->value).text);
      tv_page_wrapped(page, "SLIP    ", text);
    }
    if ((one->notices & TAILVOLT_NOTICE_ODD) != 0) {
      snprintf(text, sizeof text, "the readings cannot all hold; %s at %s fits worst and is left out: read it again", id,
               tv_reading_number(instrument, one->value).text);
      tv_page_wrapped(page, "SLIP    ", text);
    }
  }
}

/* A drop at a current: bad where it is beyond the range of ordinary parts, allowing for its own error. */
static bool is_bad(const struct tailvolt_judged *one) {
  const double errors = 1.645;
  return one->resistance_ohm - errors * one->error_ohm > one->usual_high_ohm;
}

static const char *remedy_of(const struct tailvolt_system *system, const struct tailvolt_judged *one) {
  if (one->between.count > 1) return "read its parts one by one";
  switch (system->conductors[one->between.conductor[0]].kind) {
  case TAILVOLT_JOINT: return "clean to bright metal and tighten";
  case TAILVOLT_FUSE: return "change fuse and holder";
  default: return "undersize, clad aluminium, or longer than written";
  }
}

static void resistances(struct tv_page *page, const struct tailvolt_system *system, const struct tailvolt_estimate *estimate) {
  bool first = true;
  for (int k = 0; k < estimate->count; k++) {
    const struct tailvolt_judged *one = &estimate->readings[k];
    char part[TAILVOLT_NAME_MAX + 64], text[4 * TAILVOLT_TEXT_MAX];
    if (!isfinite(one->resistance_ohm) || (one->notices & TAILVOLT_NOTICE_ODD) != 0) continue;
    const struct tailvolt_conductor *conductor = &system->conductors[one->between.conductor[0]];
    if (one->between.count == 1) tv_part_spoken(tv_part_of_conductor(conductor->kind), conductor->name, part, sizeof part);
    else
      snprintf(part, sizeof part, "%.50s to %.50s", system->point_names[one->probe.positive],
               system->point_names[one->probe.negative]);
    bool bad = is_bad(one);
    snprintf(text, sizeof text, "%s: %s mohm +- %s where %s is usual%s%s", part, milliohms(one->resistance_ohm).text,
             milliohms(one->error_ohm).text, milliohms(one->usual_ohm).text, bad ? ": " : "", bad ? remedy_of(system, one) : "");
    if (bad) tv_page_colour(page, TV_RED);
    tv_page_wrapped(page, bad ? "BAD     " : first ? "DROPS   " : "        ", text);
    if (bad) tv_page_colour(page, TV_PLAIN);
    if (!bad) first = false;
  }
}

static void others(struct tv_page *page, const struct tailvolt_system *system, const struct tailvolt_estimate *estimate) {
  for (int k = 0; k < estimate->count; k++) {
    const struct tailvolt_judged *one = &estimate->readings[k];
    char id[TAILVOLT_TEXT_MAX], text[4 * TAILVOLT_TEXT_MAX];
    if ((one->notices & TAILVOLT_NOTICE_OUTSIDE) == 0 || (one->notices & TAILVOLT_NOTICE_ODD) != 0) continue;
    if (isfinite(one->resistance_ohm)) continue;
    enum tailvolt_instrument instrument = one->probe.instrument;
    enum tv_reading_of of = tv_reading_of(system, &one->probe, &one->between);
    tailvolt_probe_write(system, &one->probe, id, sizeof id);
    double most = greatest(one->value, one->low, one->high);
    snprintf(text, sizeof text, "%s: %s, normal from %s to %s: %s", id, tv_reading_beside(instrument, one->value, most).text,
             tv_reading_beside(instrument, one->low, most).text, tv_reading_beside(instrument, one->high, most).text,
             one->value > one->high ? tv_reading_above(of) : tv_reading_below(of));
    tv_page_wrapped(page, "UNUSUAL ", text);
  }
}

static bool is_resistance(enum tailvolt_uncertain_value value) {
  switch (value) {
  case TAILVOLT_VALUE_JOINT:
  case TAILVOLT_VALUE_FUSE:
  case TAILVOLT_VALUE_MEASURED_DROP:
  case TAILVOLT_VALUE_BATTERY_RESISTANCE:
  case TAILVOLT_VALUE_INTERNAL_RESISTANCE:
  case TAILVOLT_VALUE_ESR:
  case TAILVOLT_VALUE_ISOLATOR_RESISTANCE: return true;
  default: return false;
  }
}

static void learned(struct tv_page *page, const struct tailvolt_estimate *estimate) {
  static const struct tv_column columns[] = {{"value", false, 38}, {"before", true, 0}, {"+-", true, 0}, {"now", true, 0},
                                             {"+-", true, 0}, {"kept as", false, 0}};
  struct tv_table table;
  if (estimate->learned_count == 0) {
    tv_page_wrapped(page, "LEARNED ", "nothing that was not as well known before");
    return;
  }
  tv_page_heading(page, "LEARNED, each with one deviation");
  tv_table_begin(&table, page, columns, 6);
  for (int k = 0; k < estimate->learned_count; k++) {
    const struct tailvolt_learned *one = &estimate->learned[k];
    const double numbers[] = {one->before, one->before_error, one->after, one->after_error};
    tv_table_cell(&table, one->what.key);
    for (int n = 0; n < 4; n++) {
      char cell[64];
      int digits = n % 2 == 0 ? 3 : 2;
      if (is_resistance(one->what.value)) snprintf(cell, sizeof cell, "%s mohm", tv_significant(1e3 * numbers[n], digits).text);
      else tailvolt_uncertain_write(&one->what, numbers[n], digits, cell, sizeof cell);
      tv_table_cell(&table, cell);
    }
    tv_table_cell(&table, one->setting[0] == '\0' ? "no" : one->measured ? "measured" : "stated");
  }
  tv_table_end(&table, "  ");
}

static void agreement(struct tv_page *page, const struct tailvolt_estimate *estimate) {
  char text[TAILVOLT_TEXT_MAX];
  if (estimate->freedom < 0.2)
    snprintf(text, sizeof text, "%d reading%s; too few to tell whether they agree", estimate->count, estimate->count == 1 ? "" : "s");
  else
    snprintf(text, sizeof text, "%d readings; they %s (chi-square %s, %s is usual)", estimate->count,
             estimate->contradict ? "cannot all hold" : "agree within what the meters are good for",
             estimate->chi_square > 1000 ? "over 1000" : tv_fixed(estimate->chi_square, 1).text, tv_fixed(estimate->freedom, 1).text);
  tv_page_wrapped(page, "READ    ", text);
}

enum tailvolt_status tailvolt_report_estimate(const struct tailvolt_system *system, const struct tailvolt_estimate *estimate,
                                              const struct tailvolt_certainty *before, const struct tailvolt_certainty *after,
                                              const struct tailvolt_report_style *style, char **out) {
  struct tv_page page;
  begin(&page, style);
  agreement(&page, estimate);
  slips(&page, system, estimate);
  resistances(&page, system, estimate);
  others(&page, system, estimate);
  sure(&page, "SURE    ", "before: ", before);
  sure(&page, "        ", "after: ", after);
  learned(&page, estimate);
  return tv_buffer_finish(&page.text, out);
}
