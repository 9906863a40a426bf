/* The remedy as JSON and as a CSV table. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/csv.h"
#include "report/json.h"
#include "report/json_write.h"
#include "report/sure.h"
#include "text/number.h"
#include "text/words.h"
#include "tailvolt/remedy.h"
#include "tailvolt/version.h"

static const char *const cure_words[TAILVOLT_CURES] = {
    [TAILVOLT_CURE_FUSES] = "fuses",           [TAILVOLT_CURE_FEED] = "feed",
    [TAILVOLT_CURE_GROUND] = "ground",         [TAILVOLT_CURE_STRAPS] = "straps",
    [TAILVOLT_CURE_JOINTS] = "joints",         [TAILVOLT_CURE_RETURN] = "return",
    [TAILVOLT_CURE_OWN_FEED] = "own_feed",     [TAILVOLT_CURE_CAPACITOR] = "capacitor",
    [TAILVOLT_CURE_BATTERY] = "battery",       [TAILVOLT_CURE_SECOND_BATTERY] = "second_battery",
    [TAILVOLT_CURE_ALTERNATOR] = "alternator", [TAILVOLT_CURE_IDLE] = "idle",
    [TAILVOLT_CURE_LEVEL] = "level",           [TAILVOLT_CURE_CONVERTER] = "converter"};

static json_t *cautions(const struct tailvolt_remedy_caution *list, int count) {
  json_t *array = json_array();
  for (int k = 0; k < count; k++) {
    char text[TAILVOLT_TEXT_MAX];
    tailvolt_remedy_caution_text(&list[k], false, text, sizeof text);
    tv_json_append(&array, tv_json_text(text));
  }
  return array;
}

static json_t *answers(const struct tailvolt_remedy *remedy) {
  static const char *const keys[TAILVOLT_ANSWERS] = {"capacitor", "second_battery", "cable", "ground", "alternator"};
  static const char *const words[] = {"needed", "helps", "useless"};
  char text[TAILVOLT_TEXT_MAX];
  json_t *object = json_object();
  for (int k = 0; k < TAILVOLT_ANSWERS; k++) {
    const struct tailvolt_answer *a = &remedy->answers[k];
    json_t *entry = json_object();
    tv_json_put_text(&entry, "status", words[a->status]);
    tv_json_put_number(&entry, "gain_v", a->with[0] != '\0' ? a->gain_v : (double)NAN);
    tv_json_put_text(&entry, "with", a->with);
    tailvolt_answer_text(a, text, sizeof text);
    tv_json_put_text(&entry, "text", text);
    tailvolt_rule_text(a, text, sizeof text);
    tv_json_put_text(&entry, "rule_of_thumb", text);
    tv_json_put(&object, keys[k], entry);
  }
  return object;
}

static json_t *changes(const struct tailvolt_remedy_set *set) {
  json_t *array = json_array();
  for (int k = 0; k < set->change_count; k++) {
    const struct tailvolt_change *c = &set->changes[k];
    json_t *entry = json_object();
    tv_json_put_text(&entry, "key", c->key);
    tv_json_put_text(&entry, "value", c->value);
    tv_json_put_number(&entry, "effort", c->effort_h);
    tv_json_put_text(&entry, "cure", cure_words[c->cure]);
    tv_json_put_number(&entry, "price", c->price);
    tv_json_append(&array, entry);
  }
  return array;
}

static json_t *leads(const struct tailvolt_remedy_set *set) {
  json_t *array = json_array();
  for (int k = 0; k < set->lead_count; k++) {
    const struct tailvolt_remedy_lead *lead = &set->leads[k];
    json_t *entry = json_object();
    tv_json_put_text(&entry, "kind", tv_part_word(lead->kind));
    tv_json_put_text(&entry, "name", lead->name);
    tv_json_put_text(&entry, "size", lead->size);
    tv_json_put(&entry, "size_before", lead->before[0] != '\0' ? tv_json_text(lead->before) : json_null());
    tv_json_put(&entry, "added", json_boolean(lead->added));
    tv_json_put_number(&entry, "length_m", lead->length_m);
    tv_json_append(&array, entry);
  }
  return array;
}

static json_t *fuses(const struct tailvolt_remedy_set *set) {
  json_t *array = json_array();
  for (int k = 0; k < set->fuse_count; k++) {
    json_t *entry = json_object();
    tv_json_put_text(&entry, "name", set->fuses[k].name);
    tv_json_put_number(&entry, "rating_a", set->fuses[k].rating_a);
    tv_json_put_number(&entry, "rms_a", set->fuses[k].rms_a);
    tv_json_put_number(&entry, "smallest_a", set->fuses[k].smallest_a);
    tv_json_put_number(&entry, "largest_a", set->fuses[k].largest_a);
    tv_json_append(&array, entry);
  }
  return array;
}

static json_t *set_of(const struct tailvolt_remedy_set *set) {
  json_t *object = json_object();
  tv_json_put_text(&object, "what", set->what);
  tv_json_put_number(&object, "cost", set->cost);
  tv_json_put_number(&object, "effort_h", set->effort_h);
  tv_json_put_number(&object, "price", set->price);
  tv_json_put_number(&object, "lowest_margin_v", set->margin_v);
  tv_json_put_number(&object, "below_target_pct", set->below_pct);
  tv_json_put_number(&object, "parked_s", set->parked_s);
  tv_json_put(&object, "certainty", tv_json_certainty(&set->certainty));
  tv_json_put(&object, "changes", changes(set));
  tv_json_put(&object, "leads", leads(set));
  tv_json_put(&object, "fuses", fuses(set));
  if (set->result != NULL) tv_json_put_text(&object, "status", tv_verdict_word(set->result->status));
  return object;
}

static json_t *after(const struct tailvolt_remedy *remedy) {
  const struct tailvolt_result *result = remedy->chosen.result != NULL ? remedy->chosen.result : remedy->before;
  if (!remedy->found) return json_null();
  json_t *object = json_object();
  tv_json_put_text(&object, "status", tv_verdict_word(result->status));
  tv_json_put(&object, "amplifiers", tv_json_amplifiers(result));
  tv_json_put(&object, "batteries", tv_json_batteries(result));
  tv_json_put(&object, "cautions", cautions(remedy->chosen.cautions, remedy->chosen.caution_count));
  return object;
}

static json_t *worth(const struct tailvolt_remedy *remedy) {
  json_t *array = json_array();
  for (int k = 0; k < remedy->worth_count; k++) {
    const struct tailvolt_worth *w = &remedy->worth[k];
    json_t *entry = json_object();
    tv_json_put_text(&entry, "cure", cure_words[w->cure]);
    tv_json_put_text(&entry, "what", w->what);
    tv_json_put_number(&entry, "gain_v", w->gain_v);
    tv_json_put_number(&entry, "min_v", w->min_v);
    tv_json_put_number(&entry, "below_target_pct", w->below_pct);
    tv_json_put_number(&entry, "gain_pct", w->gain_pct);
    tv_json_put_number(&entry, "gain_ah", w->gain_ah);
    tv_json_put_number(&entry, "gain_parked_s", w->gain_parked_s);
    tv_json_put(&entry, "meets", json_boolean(w->meets));
    tv_json_put_number(&entry, "cost", w->cost);
    tv_json_put_number(&entry, "effort_h", w->effort_h);
    tv_json_append(&array, entry);
  }
  return array;
}

static json_t *body(const struct tailvolt_remedy *remedy) {
  static const char *const shortages[] = {"none", "wire", "fast", "slow", "steady"};
  json_t *object = json_object(), *ideal = json_array(), *others = json_array(), *before = json_object();
  char why[2 * TAILVOLT_TEXT_MAX];
  for (int k = 0; k < remedy->counterfactual_count; k++) {
    const struct tailvolt_counterfactual *c = &remedy->counterfactuals[k];
    json_t *entry = json_object();
    tv_json_put_text(&entry, "what", tv_ideal_word(c->ideal));
    tv_json_put_number(&entry, "gain_v", c->gain_v);
    tv_json_put_number(&entry, "gain_pct", c->gain_pct);
    tv_json_append(&ideal, entry);
  }
  for (int k = 0; k < remedy->runner_up_count; k++) tv_json_append(&others, set_of(&remedy->runners_up[k]));
  tv_json_put_text(&before, "status", tv_verdict_word(remedy->before->status));
  tv_json_put_number(&before, "lowest_margin_v", remedy->margin_before_v);
  tv_json_put_number(&before, "below_target_pct", remedy->below_before_pct);
  tv_json_put_number(&before, "lowest_margin_fuses_right_v", remedy->margin_fitted_v);
  tv_json_put_number(&before, "parked_s", remedy->parked_before_s);
  tv_json_put(&before, "amplifiers", tv_json_amplifiers(remedy->before));
  tv_json_put_text(&object, "shortage", shortages[remedy->shortage]);
  tailvolt_shortage_text(remedy, why, sizeof why);
  tv_json_put_text(&object, "why", why);
  tv_json_put(&object, "counterfactuals", ideal);
  tv_json_put(&object, "answers", answers(remedy));
  tv_json_put(&object, "found", json_boolean(remedy->found));
  tv_json_put(&object, "chosen", remedy->found ? changes(&remedy->chosen) : json_array());
  tv_json_put(&object, "chosen_set", remedy->found ? set_of(&remedy->chosen) : json_null());
  tv_json_put(&before, "batteries", tv_json_batteries(remedy->before));
  tv_json_put(&object, "before", before);
  tv_json_put(&object, "after", after(remedy));
  tv_json_put(&object, "runners_up", others);
  json_t *sure = isfinite(remedy->sure_frac) ? json_object() : json_null();
  if (isfinite(remedy->sure_frac)) {
    tv_json_put_number(&sure, "wanted_pct", 100 * remedy->sure_frac);
    tv_json_put(&sure, "reached", json_boolean(remedy->sure_reached));
    tv_json_put(&sure, "complete", json_boolean(remedy->sure_complete));
    tv_json_put_number(&sure, "sets", remedy->sure_sets);
  }
  tv_json_put(&object, "sure", sure);
  tv_json_put(&object, "worth", worth(remedy));
  tv_json_put_number(&object, "holds_at_level_db", remedy->level_db);
  tv_json_put_number(&object, "quieter_db", remedy->quieter_db);
  tv_json_put(&object, "currency", remedy->currency[0] != '\0' ? tv_json_text(remedy->currency) : json_null());
  tv_json_put(&object, "marginal_set", remedy->marginal_found ? set_of(&remedy->marginal) : json_null());
  tv_json_put_number(&object, "parked_wanted_s", remedy->parked_wanted_s);
  tv_json_put(&object, "partial", json_boolean(remedy->partial));
  tv_json_put(&object, "runs", json_integer(remedy->runs));
  tv_json_put(&object, "whole_runs", json_integer(remedy->whole_runs));
  tv_json_put(&object, "cautions", cautions(remedy->cautions, remedy->caution_count));
  return object;
}

enum tailvolt_status tailvolt_report_remedy_json(const struct tailvolt_system *system,
                                                 const struct tailvolt_remedy *remedy, char **out) {
  json_t *root = json_object();
  *out = NULL;
  tv_json_put_text(&root, "tailvolt", TAILVOLT_VERSION);
  tv_json_put_text(&root, "system", remedy->system);
  tv_json_put_text(&root, "profile", remedy->profile);
  tv_json_put(&root, "remedy", body(remedy));
  if (system != NULL) tv_json_put(&root, "assumed", tv_json_assumed(system));
  return tv_json_finish(root, out);
}

static void add_number(struct tv_buffer *buffer, double value) {
  tv_buffer_add(buffer, ",");
  if (isfinite(value)) tv_buffer_add(buffer, tv_shortest(value).text);
}

static void add_quoted(struct tv_buffer *buffer, const char *text) {
  tv_buffer_add(buffer, ",\"");
  for (const char *c = text; *c != '\0'; c++) {
    if (*c == '"') tv_buffer_add(buffer, "\"");
    tv_buffer_add_bytes(buffer, c, 1);
  }
  tv_buffer_add(buffer, "\"");
}

/* A set that was found, in the columns of the single cures. */
static void add_set(struct tv_buffer *buffer, const char *word, const struct tailvolt_remedy_set *set) {
  double min_v = (double)NAN;
  for (int a = 0; set->result != NULL && a < set->result->amplifier_count; a++)
    if (!(set->result->amplifiers[a].min_v >= min_v)) min_v = set->result->amplifiers[a].min_v;
  tv_buffer_add(buffer, word);
  add_quoted(buffer, set->what);
  const double numbers[] = {(double)NAN, min_v, set->below_pct, (double)NAN, (double)NAN, (double)NAN};
  for (size_t n = 0; n < sizeof numbers / sizeof numbers[0]; n++) add_number(buffer, numbers[n]);
  tv_buffer_add(buffer, set->result != NULL && set->result->status == TAILVOLT_HOLDS ? ",1" : ",0");
  add_number(buffer, set->cost);
  add_number(buffer, set->effort_h);
  tv_csv_certainty(buffer, &set->certainty);
  tv_buffer_add(buffer, "\n");
}

enum tailvolt_status tailvolt_report_remedy_csv(const struct tailvolt_remedy *remedy, char **out) {
  struct tv_buffer buffer = {0};
  tv_buffer_add(&buffer, "cure,what,gain_v,min_v,below_target_pct,gain_pct,gain_ah,gain_parked_s,meets,cost,effort_h," TV_CSV_CERTAINTY
                         "\n");
  for (int k = 0; k < remedy->worth_count; k++) {
    const struct tailvolt_worth *w = &remedy->worth[k];
    tv_buffer_add(&buffer, cure_words[w->cure]);
    add_quoted(&buffer, w->what);
    const double numbers[] = {w->gain_v, w->min_v, w->below_pct, w->gain_pct, w->gain_ah, w->gain_parked_s};
    for (size_t n = 0; n < sizeof numbers / sizeof numbers[0]; n++) add_number(&buffer, numbers[n]);
    tv_buffer_add(&buffer, w->meets ? ",1" : ",0");
    add_number(&buffer, w->cost);
    add_number(&buffer, w->effort_h);
    tv_csv_certainty(&buffer, NULL);
    tv_buffer_add(&buffer, "\n");
  }
  if (remedy->found) add_set(&buffer, "chosen set", &remedy->chosen);
  for (int k = 0; k < remedy->runner_up_count; k++) add_set(&buffer, "runner-up", &remedy->runners_up[k]);
  return tv_buffer_finish(&buffer, out);
}
