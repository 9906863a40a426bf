/* What to measure, and what the readings say, as JSON. */
#include <math.h>
#include <string.h>

#include "report/json.h"
#include "report/json_write.h"
#include "report/sure.h"
#include "tailvolt/certainty.h"
#include "tailvolt/measure.h"
#include "tailvolt/version.h"

static void put_probe(json_t **object, const struct tailvolt_system *system, const struct tailvolt_probe *probe) {
  char name[4 * TAILVOLT_TEXT_MAX];
  tailvolt_probe_write(system, probe, name, sizeof name);
  tv_json_put_text(object, "reading", name);
  tv_json_put_text(object, "unit", probe->instrument == TAILVOLT_CLAMP ? "A" : "V");
}

static void put_range(json_t **object, double normal, double low, double high, double tolerance) {
  tv_json_put_number(object, "normal", normal);
  tv_json_put_number(object, "low", low);
  tv_json_put_number(object, "high", high);
  tv_json_put_number(object, "tolerance", tolerance);
}

static json_t *sure_of(const struct tailvolt_certainty *certainty) {
  return certainty != NULL ? tv_json_certainty(certainty) : json_null();
}

enum tailvolt_status tailvolt_report_measure_json(const struct tailvolt_system *system, const struct tailvolt_measure_plan *plan,
                                                  const struct tailvolt_certainty *now, char **out) {
  json_t *root = json_object(), *list = json_array();
  tv_json_put_text(&root, "tailvolt", TAILVOLT_VERSION);
  tv_json_put_text(&root, "amplifier", plan->amplifier >= 0 ? system->amplifiers[plan->amplifier].name : "");
  tv_json_put_number(&root, "tone_w", plan->tone_w);
  for (int k = 0; k < plan->count; k++) {
    const struct tailvolt_planned *one = &plan->readings[k];
    json_t *entry = json_object();
    char what[4 * TAILVOLT_TEXT_MAX];
    put_probe(&entry, system, &one->probe);
    tailvolt_probe_words(system, &one->probe, &one->between, what, sizeof what);
    tv_json_put_text(&entry, "what", what);
    put_range(&entry, one->normal, one->low, one->high, one->tolerance);
    tv_json_put_number(&entry, "worth_pct", one->worth_pct);
    tv_json_append(&list, entry);
  }
  tv_json_put(&root, "readings", list);
  tv_json_put(&root, "certainty", sure_of(now));
  return tv_json_finish(root, out);
}

static json_t *notices(unsigned given) {
  static const char *const words[] = {"swapped", "millivolts", "outside", "odd"};
  json_t *list = json_array();
  for (unsigned k = 0; k < 4; k++)
    if ((given >> k & 1) != 0) tv_json_append(&list, tv_json_text(words[k]));
  return list;
}

static json_t *judged(const struct tailvolt_system *system, const struct tailvolt_judged *one) {
  json_t *entry = json_object();
  put_probe(&entry, system, &one->probe);
  tv_json_put_number(&entry, "value", one->value);
  tv_json_put_number(&entry, "typed", one->typed);
  tv_json_put(&entry, "notices", notices(one->notices));
  put_range(&entry, one->normal, one->low, one->high, one->tolerance);
  tv_json_put_number(&entry, "fitted", one->fitted);
  tv_json_put_number(&entry, "resistance_ohm", one->resistance_ohm);
  tv_json_put_number(&entry, "error_ohm", one->error_ohm);
  tv_json_put_number(&entry, "usual_ohm", one->usual_ohm);
  tv_json_put_number(&entry, "usual_high_ohm", one->usual_high_ohm);
  return entry;
}

enum tailvolt_status tailvolt_report_estimate_json(const struct tailvolt_system *system, const struct tailvolt_estimate *estimate,
                                                   const struct tailvolt_certainty *before, const struct tailvolt_certainty *after,
                                                   char **out) {
  json_t *root = json_object(), *readings = json_array(), *learned = json_array();
  tv_json_put_text(&root, "tailvolt", TAILVOLT_VERSION);
  for (int k = 0; k < estimate->count; k++) tv_json_append(&readings, judged(system, &estimate->readings[k]));
  tv_json_put(&root, "readings", readings);
  tv_json_put_number(&root, "chi_square", estimate->chi_square);
  tv_json_put_number(&root, "freedom", estimate->freedom);
  tv_json_put(&root, "contradict", json_boolean(estimate->contradict));
  for (int k = 0; k < estimate->learned_count; k++) {
    const struct tailvolt_learned *one = &estimate->learned[k];
    json_t *entry = json_object();
    tv_json_put_text(&entry, "key", one->what.key);
    tv_json_put_number(&entry, "before", one->before);
    tv_json_put_number(&entry, "before_error", one->before_error);
    tv_json_put_number(&entry, "after", one->after);
    tv_json_put_number(&entry, "after_error", one->after_error);
    tv_json_put(&entry, "measured", json_boolean(one->measured));
    tv_json_put_text(&entry, "setting", one->setting);
    tv_json_append(&learned, entry);
  }
  tv_json_put(&root, "learned", learned);
  tv_json_put(&root, "certainty_before", sure_of(before));
  tv_json_put(&root, "certainty_after", sure_of(after));
  return tv_json_finish(root, out);
}
