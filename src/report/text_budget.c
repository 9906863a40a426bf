#include "report/text_budget.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text/number.h"
#include "text/words.h"
#include "tailvolt/budget.h"

#define SAID_FROM_A 0.5 /* smaller differences are not explained */
#define LONG_DAYS 730.0

static bool any_use(const struct tailvolt_result *run) {
  for (int u = 0; u < TAILVOLT_USES; u++)
    if (run->uses[u].present) return true;
  return false;
}

static void number_cell(struct tv_table *table, double value, int digits) {
  tv_table_cell(table, tv_fixed(value, digits).text);
}

static void signed_cell(struct tv_table *table, double value_a) {
  char text[48];
  struct tv_number number = tv_fixed(value_a, 1);
  snprintf(text, sizeof text, "%s%s", value_a > 0 && strcmp(number.text, "0.0") != 0 ? "+" : "", number.text);
  tv_table_cell(table, text);
}

static void flat_cells(struct tv_table *table, const struct tailvolt_result *run, int use) {
  struct tailvolt_flat_after after;
  tailvolt_flat_after_of(run, use, &after);
  if (isinf(after.days)) {
    tv_table_cell(table, "never");
    tv_table_cell(table, "never");
    return;
  }
  if (!(after.days > 0)) {
    tv_table_cell(table, "is flat");
    tv_table_cell(table, "is flat");
    return;
  }
  char days[48];
  snprintf(days, sizeof days, "%s days", tv_fixed(after.days, after.days < 9.95 ? 1 : 0).text);
  tv_table_cell(table, after.days > LONG_DAYS ? "2 years +" : days);
  tv_table_cell(table, after.hours > 24 * LONG_DAYS ? "2 years +" : tv_duration(3600 * after.hours).text);
}

static void use_row(struct tv_table *table, const struct tailvolt_result *run, int use) {
  const struct tailvolt_budget *budget = &run->uses[use];
  tv_table_cell(table, tv_use_word(use));
  tv_table_cell(table, tv_duration(budget->duration_s).text);
  number_cell(table, budget->available_a, 1);
  number_cell(table, budget->generation_a, 1);
  number_cell(table, budget->base_a, 1);
  number_cell(table, budget->amplifier_a, 1);
  signed_cell(table, budget->battery_a);
  signed_cell(table, run->use_details[use].kept_a);
  flat_cells(table, run, use);
}

static void whole_row(struct tv_table *table, const struct tailvolt_result *run) {
  struct tailvolt_budget all = {0};
  double kept_as = 0;
  for (int u = 0; u < TAILVOLT_USES; u++) {
    const struct tailvolt_budget *use = &run->uses[u];
    if (!use->present) continue;
    all.duration_s += use->duration_s;
    all.available_a += use->available_a * use->duration_s;
    all.generation_a += use->generation_a * use->duration_s;
    all.base_a += use->base_a * use->duration_s;
    all.amplifier_a += use->amplifier_a * use->duration_s;
    all.battery_a += use->battery_a * use->duration_s;
    kept_as += run->use_details[u].kept_a * use->duration_s;
  }
  tv_table_cell(table, "all");
  tv_table_cell(table, tv_duration(all.duration_s).text);
  number_cell(table, all.available_a / all.duration_s, 1);
  number_cell(table, all.generation_a / all.duration_s, 1);
  number_cell(table, all.base_a / all.duration_s, 1);
  number_cell(table, all.amplifier_a / all.duration_s, 1);
  signed_cell(table, all.battery_a / all.duration_s);
  signed_cell(table, kept_as / all.duration_s);
  flat_cells(table, run, -1);
}

static void by_simulation(struct tv_page *page, const struct tailvolt_result *run) {
  static const struct tv_column columns[] = {
      {"use", false, 0},       {"lasts", true, 0},      {"available", true, 0},  {"generated", true, 0},
      {"car", true, 0},        {"amplifiers", true, 0}, {"battery", true, 0},    {"Ah kept/h", true, 0},
      {"flat daily", true, 0}, {"on end", true, 0}};
  struct tv_table table;
  int count = 0;
  tv_page_heading(page, "BUDGET by use, mean currents in A (battery: into its posts; kept: of that, what stays)");
  tv_table_begin(&table, page, columns, 10);
  for (int u = 0; u < TAILVOLT_USES; u++) {
    if (!run->uses[u].present) continue;
    use_row(&table, run, u);
    count++;
  }
  if (count > 1) whole_row(&table, run);
  tv_table_end(&table, "  ");
  tv_page_line(page, "  motorway: from 2500 rpm of the engine on; parked: engine off");
  tv_page_wrapped(page, "  ", "flat: half charge, the lowest a starter battery should go, by the current at the battery's posts "
                              "as in the CHARGE line; daily: with this once a day and no other use; on end: without a break");
}

static void hand_row(struct tv_table *table, const char *name, const struct tailvolt_hand_budget *hand, double simulated_a) {
  tv_table_cell(table, name);
  number_cell(table, hand->output_a, 1);
  number_cell(table, hand->base_a, 1);
  number_cell(table, hand->amplifier_a, 1);
  signed_cell(table, hand->balance_a);
  signed_cell(table, simulated_a);
  signed_cell(table, simulated_a - hand->balance_a);
}

static void hand_tables(struct tv_page *page, const struct tailvolt_system *system, const struct tailvolt_result *run) {
  static const struct tv_column hand_columns[] = {
      {"use", false, 0},         {"hot output", true, 0}, {"car", true, 0}, {"amplifiers", true, 0},
      {"balance by hand", true, 0}, {"simulated", true, 0}, {"difference", true, 0}};
  static const struct tv_column gap_columns[] = {
      {"difference", false, 0}, {"voltage", true, 0},    {"heat", true, 0}, {"not taken up", true, 0},
      {"car", true, 0},         {"amplifiers", true, 0}, {"rest", true, 0}, {"sum", true, 0}};
  struct tv_table table;
  struct tailvolt_hand_budget hand;
  tv_page_heading(page, "BUDGET by hand, in A, beside the simulated one");
  tv_table_begin(&table, page, hand_columns, 7);
  int driving = 0;
  for (int u = 0; u < TAILVOLT_USES; u++) {
    if (!run->uses[u].present) continue;
    tailvolt_hand_budget_of(system, &run->use_details[u], &hand);
    hand_row(&table, tv_use_word(u), &hand, run->uses[u].battery_a);
    driving += u != TAILVOLT_USE_PARKED;
  }
  if (driving > 1) {
    tailvolt_hand_budget_mixed(system, run, &hand);
    hand_row(&table, "all driving", &hand, run->driving.battery_a);
  }
  tv_table_end(&table, "  ");
  tv_table_begin(&table, page, gap_columns, 8);
  for (int u = 0; u < TAILVOLT_USES; u++) {
    struct tailvolt_hand_gap gap;
    if (!run->uses[u].present) continue;
    tailvolt_hand_budget_of(system, &run->use_details[u], &hand);
    tailvolt_hand_gap_of(system, &hand, &run->uses[u], &run->use_details[u], &gap);
    tv_table_cell(&table, tv_use_word(u));
    signed_cell(&table, gap.voltage_a);
    signed_cell(&table, gap.heat_a);
    signed_cell(&table, gap.not_taken_a);
    signed_cell(&table, gap.base_a);
    signed_cell(&table, gap.amplifier_a);
    signed_cell(&table, gap.rest_a);
    signed_cell(&table, run->uses[u].battery_a - hand.balance_a);
  }
  tv_table_end(&table, "  ");
}

/* "idle 13.9 V, town 14.1 V": one value for each use that has one. */
static void list_values(const struct tailvolt_result *run, bool heat, bool us_units, char *to, size_t size) {
  to[0] = '\0';
  for (int u = 0; u < TAILVOLT_USES; u++) {
    double value = heat ? run->use_details[u].copper_c : run->use_details[u].alternator_v;
    size_t length = strlen(to);
    if (!run->uses[u].present || !isfinite(value)) continue;
    snprintf(to + length, size - length, "%s%s %s%s", length > 0 ? ", " : "", tv_use_word(u),
             heat ? tv_temperature(value, us_units).text : tv_fixed(value, 2).text, heat ? "" : " V");
  }
}

static void say_crest(const struct tailvolt_system *system, char *to, size_t size) {
  const struct tailvolt_programme *programme = system->programme_count > 0 ? &system->programmes[0] : NULL;
  to[0] = '\0';
  if (programme == NULL || programme->recording[0] != '\0' || programme->envelope[0] != '\0') return;
  if (programme->style[0] != '\0' || !isfinite(programme->crest_db)) return;
  snprintf(to, size, " (%s: crest factor %s dB, %s of rated power at full level)", programme->name,
           tv_compact(programme->crest_db, 1).text, tv_percent(200 * pow(10, -programme->crest_db / 10)).text);
}

static void explain(struct tv_page *page, const struct tailvolt_system *system, const struct tailvolt_result *run) {
  double most[6] = {0};
  char values[256], text[640];
  for (int u = 0; u < TAILVOLT_USES; u++) {
    struct tailvolt_hand_budget hand;
    struct tailvolt_hand_gap gap;
    if (!run->uses[u].present) continue;
    tailvolt_hand_budget_of(system, &run->use_details[u], &hand);
    tailvolt_hand_gap_of(system, &hand, &run->uses[u], &run->use_details[u], &gap);
    const double terms[] = {gap.voltage_a, gap.heat_a, gap.not_taken_a, gap.base_a, gap.amplifier_a, gap.rest_a};
    for (int k = 0; k < 6; k++) most[k] = fmax(most[k], fabs(terms[k]));
  }
  if (most[0] >= SAID_FROM_A) {
    list_values(run, false, false, values, sizeof values);
    snprintf(text, sizeof text,
             "the label's output holds at %s V. The machine has its own voltage (%s): the higher, the less it "
             "gives, most of all near idle", tv_compact(system->alternator.rated_v, 2).text, values);
    tv_page_wrapped(page, "  voltage: ", text);
  }
  if (most[1] >= SAID_FROM_A) {
    list_values(run, true, page->style.us_units, values, sizeof values);
    snprintf(text, sizeof text,
             "by hand a hot machine gives 85 %% of its label at any speed. In the run its winding is at %s: hot copper "
             "costs most near idle and little at high speed, and the label holds for a warm machine",
             values[0] == '\0' ? "the label's temperature" : values);
    tv_page_wrapped(page, "  heat: ", text);
  }
  if (most[2] >= SAID_FROM_A)
    tv_page_wrapped(page, "  not taken up: ", "the regulator lets the machine give only what is drawn. What is to spare "
                    "charges the battery no faster than it accepts, the less the fuller it is");
  if (most[3] >= SAID_FROM_A)
    tv_page_wrapped(page, "  car: ", "by hand each load counts in full, or by its `duty`, at 14 V. In the run it is on as "
                    "long as the profile says and takes what its own voltage gives it");
  if (most[4] >= SAID_FROM_A) {
    say_crest(system, values, sizeof values);
    snprintf(text, sizeof text,
             "by hand an eighth of rated power (a third below 9 dB of crest factor), rated efficiency, and idle current, "
             "whatever the level. In the run the programme itself%s, at its level, with what the amplifier needs at low "
             "power", values);
    tv_page_wrapped(page, "  amplifiers: ", text);
  }
  if (most[5] >= SAID_FROM_A)
    tv_page_wrapped(page, "  rest: ", "starting the engine, isolators, charge of capacitors");
}

void tv_text_uses(struct tv_page *page, const struct tailvolt_system *system, const struct tailvolt_result *run) {
  if (!any_use(run)) return;
  by_simulation(page, run);
  if (system == NULL) return;
  hand_tables(page, system, run);
  explain(page, system, run);
}
