#include "report/sure.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/json_write.h"
#include "text/number.h"
#include "text/text.h"
#include "text/words.h"

static const char *common_words(enum tailvolt_uncertain_value value) {
  static const char *const words[TAILVOLT_VALUES] = {
      [TAILVOLT_VALUE_BASE_LOAD] = "base load",
      [TAILVOLT_VALUE_AMBIENT] = "temperatures",
      [TAILVOLT_VALUE_ENGINE_BAY] = "heat under the bonnet",
      [TAILVOLT_VALUE_KEY_OFF] = "key-off draw",
      [TAILVOLT_VALUE_IDLE_SPEED] = "idle speed",
      [TAILVOLT_VALUE_CRANKING] = "cranking current",
      [TAILVOLT_VALUE_BREAKAWAY] = "cranking current",
      [TAILVOLT_VALUE_START_NEEDS] = "what booting takes",
      [TAILVOLT_VALUE_RATED_CURRENT] = "alternator output",
      [TAILVOLT_VALUE_LOW_CURRENT] = "alternator output at idle",
      [TAILVOLT_VALUE_PULLEY_RATIO] = "pulley ratio",
      [TAILVOLT_VALUE_SET_POINT] = "charging voltage",
      [TAILVOLT_VALUE_DRIFT] = "charging voltage when hot",
      [TAILVOLT_VALUE_FIELD_TIME] = "alternator's field",
      [TAILVOLT_VALUE_FIXED_OUTPUT] = "output of the source",
      [TAILVOLT_VALUE_CONVERTER_CURRENT] = "converter output",
      [TAILVOLT_VALUE_CONVERTER_SET_POINT] = "converter voltage",
      [TAILVOLT_VALUE_CAPACITY] = "battery capacity",
      [TAILVOLT_VALUE_COLD_CRANKING] = "battery's cranking label",
      [TAILVOLT_VALUE_CHARGE] = "battery charge",
      [TAILVOLT_VALUE_RESTED_VOLTAGE] = "rested voltage",
      [TAILVOLT_VALUE_HEALTH] = "battery health",
      [TAILVOLT_VALUE_CRANKING_HEALTH] = "battery's cranking health",
      [TAILVOLT_VALUE_BATTERY_RESISTANCE] = "battery resistance",
      [TAILVOLT_VALUE_PER_METRE] = "real size of the cables",
      [TAILVOLT_VALUE_LENGTH] = "cable lengths",
      [TAILVOLT_VALUE_MEASURED_DROP] = "drop",
      [TAILVOLT_VALUE_JOINT] = "joint",
      [TAILVOLT_VALUE_FUSE] = "drop of fuse and holder",
      [TAILVOLT_VALUE_LOAD_POWER] = "what the loads take",
      [TAILVOLT_VALUE_RATED_POWER] = "amplifier's real power",
      [TAILVOLT_VALUE_EFFICIENCY] = "amplifier's efficiency",
      [TAILVOLT_VALUE_CUT_OUT] = "where the amplifier cuts out",
      [TAILVOLT_VALUE_IDLE_CURRENT] = "amplifier's idle draw",
      [TAILVOLT_VALUE_INTERNAL_CAPACITANCE] = "storage in the amplifier",
      [TAILVOLT_VALUE_INTERNAL_RESISTANCE] = "resistance in the amplifier",
      [TAILVOLT_VALUE_LEVEL] = "level",
      [TAILVOLT_VALUE_CAPACITANCE] = "capacitor",
      [TAILVOLT_VALUE_ESR] = "capacitor",
      [TAILVOLT_VALUE_ISOLATOR_RESISTANCE] = "isolator",
      [TAILVOLT_VALUE_CLOSES_ABOVE] = "isolator",
      [TAILVOLT_VALUE_OPENS_BELOW] = "isolator",
      [TAILVOLT_VALUE_ISOLATOR_DROP] = "isolator",
      [TAILVOLT_VALUE_ISOLATOR_OUTPUT] = "charger's output",
      [TAILVOLT_VALUE_ISOLATOR_EFFICIENCY] = "charger's efficiency"};
  return words[value];
}

void tv_measure_words(const struct tailvolt_measure_first *what, char *to, size_t size) {
  char name[TAILVOLT_NAME_MAX + 16];
  tv_section_words(what->part.kind, what->part.name, name, sizeof name);
  if (what->part.name[0] != '\0') tv_copy_text(name, sizeof name, what->part.name);
  bool stands_alone = what->factor == TAILVOLT_FACTOR_OLD_JOINT || what->factor == TAILVOLT_FACTOR_SHELL;
  bool new_ones = what->factor == TAILVOLT_FACTOR_WORKMANSHIP || what->factor == TAILVOLT_FACTOR_BAD_JOINT;
  if (new_ones) snprintf(to, size, "new joints");
  else if (what->factor == TAILVOLT_FACTOR_NIGHT && what->value == TAILVOLT_VALUE_LOAD_POWER) snprintf(to, size, "lamps");
  else if (what->factor == TAILVOLT_FACTOR_FACTORY_CABLE) snprintf(to, size, "the maker's cables");
  else if (stands_alone) snprintf(to, size, "%s", name);
  else if (what->value == TAILVOLT_VALUE_MEASURED_DROP || what->value == TAILVOLT_VALUE_JOINT) snprintf(to, size, "%s", name);
  else snprintf(to, size, "%s", common_words(what->value));
}

void tv_sure_share(double low_pct, double high_pct, char *to, size_t size) {
  double low = floor(low_pct + 0.5), high = floor(high_pct + 0.5);
  if (low >= high) snprintf(to, size, "%s of 100", tv_fixed(high, 0).text);
  else snprintf(to, size, "%s to %s of 100", tv_fixed(low, 0).text, tv_fixed(high, 0).text);
}

void tv_measure_first_line(const struct tailvolt_certainty *c, size_t columns, char *to, size_t size) {
  enum { MOST = 3 };
  char said[MOST][TAILVOLT_NAME_MAX + 16];
  int count = 0;
  to[0] = '\0';
  for (int k = 0; k < c->measure_first_count && count < MOST; k++) {
    char words[TAILVOLT_NAME_MAX + 16];
    tv_measure_words(&c->measure_first[k], words, sizeof words);
    bool before = false;
    for (int j = 0; j < count; j++) before = before || strcmp(said[j], words) == 0;
    size_t now = tv_columns(to) + tv_columns(words) + (count == 0 ? strlen("measure first: ") : strlen(", "));
    if (before || now > columns) continue;
    tv_append(to, size, "%s%s", count == 0 ? "measure first: " : ", ", words);
    tv_copy_text(said[count++], sizeof said[0], words);
  }
}

void tv_sure_lines(const struct tailvolt_certainty *c, char first[TV_SURE_LINE], char second[TV_SURE_LINE]) {
  char share[48], level[48] = "";
  first[0] = second[0] = '\0';
  if (!c->known) return;
  tv_sure_share(c->holds_low_pct, c->holds_high_pct, share, sizeof share);
  if (c->level_db > 0) snprintf(level, sizeof level, " +-%s dB", tv_compact(c->level_db, 1).text);
  tv_append(first, TV_SURE_LINE, "%s such cars hold with this music%s", share, level);
  if (isfinite(c->min_v.p10))
    tv_append(first, TV_SURE_LINE, " (lowest %s to %s V)", tv_fixed(c->min_v.p10, 1).text, tv_fixed(c->min_v.p90, 1).text);
  tv_measure_first_line(c, 72, second, TV_SURE_LINE);
}

/* "fails with the 35 A assumed for lights and blower; holds up to 33 A: clamp it" */
void tv_hangs_on_sentence(const struct tailvolt_result *run, char *to, size_t size) {
  static const struct {
    double in;
    int digits;
    const char *unit, *what, *advice;
  } words[TAILVOLT_HANGS_ON_VALUES] = {
      [TAILVOLT_HANGS_ON_BASE_LOAD] = {1.0, 1, "A", "assumed for lights and blower", "clamp it"},
      [TAILVOLT_HANGS_ON_CREST_FACTOR] = {1.0, 1, "dB", "assumed between the music's peaks and its average",
                                          "`tailvolt envelope` measures it"},
      [TAILVOLT_HANGS_ON_LOW_CURRENT] = {1.0, 1, "A", "assumed for the alternator at 1800 rpm of its rotor",
                                         "see its data sheet"},
      [TAILVOLT_HANGS_ON_CHARGE] = {0.01, 0, "%", "of charge assumed in the battery", "measure it rested"},
      [TAILVOLT_HANGS_ON_HEALTH] = {0.01, 0, "%", "of its capacity assumed left in the battery", "test it"},
      [TAILVOLT_HANGS_ON_BODY_SHELL] = {1e-3, 2, "mohm", "assumed for the body shell", "measure its drop"}};
  const struct tailvolt_hangs_on *hangs = &run->hangs_on;
  to[0] = '\0';
  if (!hangs->known) return;
  const char *unit = words[hangs->value].unit;
  double in = words[hangs->value].in;
  struct tv_number limit = tv_compact(hangs->limit / in, words[hangs->value].digits);
  tv_append(to, size, "%s%s with the %s %s %s; ", run->status == TAILVOLT_MARGINAL ? "is " : "", tv_verdict_word(run->status),
            tv_compact(hangs->number / in, words[hangs->value].digits).text, unit, words[hangs->value].what);
  if (run->status == TAILVOLT_HOLDS)
    tv_append(to, size, "no longer at %s %s or %s", limit.text, unit, hangs->above ? "more" : "less");
  else
    tv_append(to, size, "holds %s %s %s", hangs->above ? "from" : "up to", limit.text, unit);
  tv_append(to, size, ": %s", words[hangs->value].advice);
}

void tv_text_shares(struct tv_page *page, const struct tailvolt_certainty *c, const char *of) {
  static const struct tv_column columns[] = {{"measure first", false, 0}, {"key", false, 0}, {"share %", true, 0}, {"+-", true, 0}};
  struct tv_table table;
  if (isnan(c->unexplained_pct)) return;
  tv_page_heading(page, "MEASURE FIRST: shares of the variance of the %s", of);
  tv_table_begin(&table, page, columns, 4);
  for (int k = 0; k < c->measure_first_count; k++) {
    char words[TAILVOLT_NAME_MAX + 16];
    tv_measure_words(&c->measure_first[k], words, sizeof words);
    tv_table_cell(&table, words);
    tv_table_cell(&table, c->measure_first[k].key);
    tv_table_cell(&table, tv_fixed(c->measure_first[k].share_pct, 1).text);
    tv_table_cell(&table, tv_fixed(c->measure_first[k].error_pct, 1).text);
  }
  tv_table_end(&table, "  ");
  tv_page_line(page, "  named where a share is more than twice its error; %s %% is no single value's",
               tv_fixed(c->unexplained_pct, 0).text);
}

void tv_text_certainty(struct tv_page *page, const struct tailvolt_result *run) {
  const struct tailvolt_certainty *c = &run->certainty;
  char text[2 * TAILVOLT_TEXT_MAX], share[48];
  tv_hangs_on_sentence(run, text, sizeof text);
  if (!c->known && text[0] == '\0') return;
  tv_page_heading(page, "HOW SURE");
  if (text[0] != '\0') tv_page_wrapped(page, "  one value: ", text);
  if (!c->known) return;
  tv_sure_share(c->holds_low_pct, c->holds_high_pct, share, sizeof share);
  snprintf(text, sizeof text, "%d cars like this one, drawn from the ranges of what is not measured: %s %% hold (90 %% interval of the "
           "estimate %s); %s %% miss a voltage or cut out, %s %% lose charge", c->vehicles, tv_fixed(c->holds_pct, 0).text, share,
           tv_fixed(c->below_target_pct, 0).text, tv_fixed(c->charge_lost_pct, 0).text);
  tv_page_wrapped(page, "  ", text);
  if (c->partial) tv_page_line(page, "  PARTIAL: stopped before all were done");
  if (c->refused > 0) tv_page_line(page, "  %d more could not be computed and are left out", c->refused);
  if (isfinite(c->min_v.p50))
    tv_page_line(page, "  lowest voltage: in one of ten below %s V, in half below %s V, in nine of ten below %s V",
                 tv_fixed(c->min_v.p10, 2).text, tv_fixed(c->min_v.p50, 2).text, tv_fixed(c->min_v.p90, 2).text);
  if (c->by_stretches)
    tv_page_line(page, "  for each car the worst seconds stand for the whole run, so far off as they are for this one");
  tv_text_shares(page, c, c->of_charge ? "charge balance" : "voltage judged");
}

static json_t *quantiles(const struct tailvolt_three_quantiles *q) {
  json_t *object = json_object();
  tv_json_put_number(&object, "p10", q->p10);
  tv_json_put_number(&object, "p50", q->p50);
  tv_json_put_number(&object, "p90", q->p90);
  return object;
}

json_t *tv_json_certainty(const struct tailvolt_certainty *c) {
  if (!c->known) return json_null();
  json_t *object = json_object(), *first = json_array();
  tv_json_put(&object, "vehicles", json_integer(c->vehicles));
  tv_json_put_number(&object, "holds_pct", c->holds_pct);
  tv_json_put_number(&object, "holds_low_pct", c->holds_low_pct);
  tv_json_put_number(&object, "holds_high_pct", c->holds_high_pct);
  tv_json_put(&object, "min_v", quantiles(&c->min_v));
  for (int k = 0; k < c->measure_first_count; k++) {
    json_t *one = json_object();
    char words[TAILVOLT_NAME_MAX + 16];
    tv_json_put_text(&one, "key", c->measure_first[k].key);
    tv_json_put_number(&one, "share_pct", c->measure_first[k].share_pct);
    tv_json_put_number(&one, "error_pct", c->measure_first[k].error_pct);
    tv_measure_words(&c->measure_first[k], words, sizeof words);
    tv_json_put_text(&one, "what", words);
    tv_json_append(&first, one);
  }
  tv_json_put(&object, "measure_first", first);
  tv_json_put_number(&object, "unexplained_pct", c->unexplained_pct);
  tv_json_put_number(&object, "below_target_pct", c->below_target_pct);
  tv_json_put_number(&object, "charge_lost_pct", c->charge_lost_pct);
  tv_json_put(&object, "refused", json_integer(c->refused));
  tv_json_put(&object, "partial", json_boolean(c->partial));
  return object;
}
