#include "report/json.h"

#include <stdio.h>
#include <stdlib.h>

#include "report/json_budget.h"
#include "report/json_write.h"
#include "report/words.h"
#include "tailvolt/report.h"
#include "tailvolt/version.h"

/* json_object_set_new() takes a NULL value as an error and frees nothing; the first failure empties the
 * whole, so that a document is never half there. */
static void put(json_t **object, const char *key, json_t *value) {
  if (*object == NULL) {
    json_decref(value);
    return;
  }
  if (json_object_set_new(*object, key, value) != 0) {
    json_decref(*object);
    *object = NULL;
  }
}

static void append(json_t **array, json_t *value) {
  if (*array == NULL) {
    json_decref(value);
    return;
  }
  if (json_array_append_new(*array, value) != 0) {
    json_decref(*array);
    *array = NULL;
  }
}

static void put_number(json_t **object, const char *key, double value) {
  put(object, key, tv_json_number(value));
}

static void put_text(json_t **object, const char *key, const char *text) {
  put(object, key, tv_json_text(text));
}

static json_t *reasons(const struct tailvolt_result *result, int phase) {
  json_t *list = json_array();
  for (int k = 0; k < result->reason_count; k++) {
    const struct tailvolt_reason *reason = &result->reasons[k];
    if (phase < 0 || reason->phase == phase || reason->phase < 0)
      append(&list, tv_json_text(reason->text));
  }
  return list;
}

static json_t *reason_details(const struct tailvolt_result *result) {
  static const char *const topics[] = {"voltage", "charge", "safety"};
  json_t *list = json_array();
  for (int k = 0; k < result->reason_count; k++) {
    const struct tailvolt_reason *reason = &result->reasons[k];
    json_t *entry = json_object();
    put_text(&entry, "status", tv_verdict_word(reason->status));
    put_text(&entry, "topic", topics[reason->topic]);
    put(&entry, "phase", reason->phase < 0 ? json_null() : tv_json_text(tv_phase_word(reason->phase)));
    put_text(&entry, "part", reason->part);
    put_text(&entry, "text", reason->text);
    append(&list, entry);
  }
  return list;
}

static json_t *verdict(const struct tailvolt_result *result) {
  json_t *object = json_object();
  put_text(&object, "status", tv_verdict_word(result->status));
  put(&object, "reasons", reasons(result, -1));
  put(&object, "details", reason_details(result));
  return object;
}

static json_t *amplifier(const struct tailvolt_amplifier_result *from) {
  json_t *object = json_object();
  put_text(&object, "name", from->name);
  put_number(&object, "rest_v", from->rest_v);
  put_number(&object, "min_v", from->min_v);
  put_number(&object, "min_time_s", from->min_time_s);
  put_number(&object, "min_without_ripple_v", from->min_without_ripple_v);
  put_number(&object, "mean_v", from->mean_v);
  put_number(&object, "low_1pct_v", from->low_1pct_v);
  put_number(&object, "target_v", from->target_v);
  put_number(&object, "below_target_pct", from->below_target_pct);
  put_number(&object, "mean_a", from->mean_a);
  put_number(&object, "peak_a", from->peak_a);
  put_number(&object, "input_j", from->input_j);
  put_number(&object, "output_j", from->output_j);
  put_number(&object, "lost_output_db", from->lost_output_db);
  put(&object, "cut_outs", json_integer(from->cut_outs));
  put_number(&object, "off_s", from->off_s);
  put(&object, "collapses", json_integer(from->collapses));
  put_number(&object, "first_collapse_s", from->first_collapse_s);
  put_number(&object, "play_s", from->play_s);
  put_number(&object, "play_mean_v", from->play_mean_v);
  put_number(&object, "plus_drop_v", from->plus_drop_v);
  put_number(&object, "minus_drop_v", from->minus_drop_v);
  put_number(&object, "drop_at_a", from->drop_at_a);
  return object;
}

json_t *tv_json_amplifiers(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->amplifier_count; k++)
    append(&list, amplifier(&result->amplifiers[k]));
  return list;
}

static json_t *ledger(const struct tailvolt_ledger *from) {
  json_t *object = json_object(), *entries = json_array();
  for (int k = 0; k < from->entry_count; k++) {
    const struct tailvolt_ledger_entry *line = &from->entries[k];
    json_t *entry = json_object();
    put_text(&entry, "part", line->part);
    put_text(&entry, "kind", line->kind);
    put_number(&entry, "current_a", line->current_a);
    put_number(&entry, "drop_v", line->drop_v);
    put_number(&entry, "share_pct", line->share_pct);
    put(&entry, "ground_side", json_boolean(line->ground_side));
    append(&entries, entry);
  }
  put_text(&object, "amplifier", from->amplifier);
  put_number(&object, "time_s", from->time_s);
  put_number(&object, "rest_v", from->rest_v);
  put_number(&object, "terminal_v", from->terminal_v);
  put(&object, "entries", entries);
  put_number(&object, "residual_v", from->residual_v);
  put_text(&object, "battery", from->battery);
  put(&object, "alternator_at_limit", json_boolean(from->alternator_at_limit));
  return object;
}

static json_t *ledgers(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->ledger_count; k++) append(&list, ledger(&result->ledgers[k]));
  return list;
}

json_t *tv_json_batteries(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->battery_count; k++) {
    const struct tailvolt_battery_result *from = &result->batteries[k];
    json_t *object = json_object();
    put_text(&object, "name", from->name);
    put_number(&object, "start_soc_pct", from->start_soc_pct);
    put_number(&object, "end_soc_pct", from->end_soc_pct);
    put_number(&object, "min_soc_pct", from->min_soc_pct);
    put_number(&object, "min_v", from->min_v);
    put_number(&object, "end_rest_v", from->end_rest_v);
    put_number(&object, "charge_in_ah", from->charge_in_ah);
    put_number(&object, "charge_out_ah", from->charge_out_ah);
    put_number(&object, "discharged_j", from->discharged_j);
    put_number(&object, "charged_j", from->charged_j);
    put_number(&object, "loss_j", from->loss_j);
    put_number(&object, "capacity_ah", from->capacity_ah);
    append(&list, object);
  }
  return list;
}

static json_t *alternator(const struct tailvolt_alternator_result *from) {
  if (!from->present) return json_null();
  json_t *object = json_object();
  put_number(&object, "output_j", from->output_j);
  put_number(&object, "mean_a", from->mean_a);
  put_number(&object, "peak_a", from->peak_a);
  put_number(&object, "at_limit_pct", from->at_limit_pct);
  put_number(&object, "mean_available_a", from->mean_available_a);
  put_number(&object, "mean_shaft_w", from->mean_shaft_w);
  put_number(&object, "end_c", from->end_c);
  put_number(&object, "mean_torque_nm", from->mean_torque_nm);
  put_number(&object, "efficiency_pct", from->efficiency_pct);
  return object;
}

static json_t *capacitors(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->capacitor_count; k++) {
    const struct tailvolt_capacitor_result *from = &result->capacitors[k];
    json_t *object = json_object();
    put_text(&object, "name", from->name);
    put_number(&object, "min_v", from->min_v);
    put_number(&object, "peak_a", from->peak_a);
    put_number(&object, "loss_j", from->loss_j);
    append(&list, object);
  }
  return list;
}

static json_t *conductors(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->conductor_count; k++) {
    const struct tailvolt_conductor_result *from = &result->conductors[k];
    json_t *object = json_object();
    put_text(&object, "name", from->name);
    put_text(&object, "kind", tv_conductor_kind_word(from->kind));
    put_number(&object, "rms_a", from->rms_a);
    put_number(&object, "peak_a", from->peak_a);
    put_number(&object, "max_drop_v", from->max_drop_v);
    put_number(&object, "loss_j", from->loss_j);
    put_number(&object, "loss_w", from->loss_w);
    put_number(&object, "end_c", from->end_c);
    put_number(&object, "steady_c", from->steady_c);
    put_number(&object, "insulation_limit_c", from->insulation_limit_c);
    put_text(&object, "status", from->status);
    put_number(&object, "ampacity_a", from->ampacity_a);
    append(&list, object);
  }
  return list;
}

static json_t *fuses(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->fuse_count; k++) {
    const struct tailvolt_fuse_result *from = &result->fuses[k];
    json_t *object = json_object();
    put_text(&object, "name", from->name);
    put_number(&object, "rating_a", from->rating_a);
    put_number(&object, "rms_a", from->rms_a);
    put_number(&object, "peak_a", from->peak_a);
    put_number(&object, "margin_pct", from->margin_pct);
    put(&object, "opens", json_boolean(from->opens));
    put_number(&object, "opens_time_s", from->opens_time_s);
    put(&object, "may_open", json_boolean(from->may_open));
    put_number(&object, "cable_ampacity_a", from->cable_ampacity_a);
    append(&list, object);
  }
  return list;
}

static json_t *budget(const struct tailvolt_budget *from) {
  if (!from->present) return json_null();
  json_t *object = json_object();
  put_number(&object, "available_a", from->available_a);
  put_number(&object, "generation_a", from->generation_a);
  put_number(&object, "base_a", from->base_a);
  put_number(&object, "amplifier_a", from->amplifier_a);
  put_number(&object, "battery_a", from->battery_a);
  put_number(&object, "surplus_a", from->surplus_a);
  put_number(&object, "duration_s", from->duration_s);
  return object;
}

static json_t *budgets(const struct tailvolt_system *system, const struct tailvolt_result *result) {
  json_t *object = json_object(), *by_phase = json_object();
  put(&object, "driving", budget(&result->driving));
  put(&object, "parked", budget(&result->parked));
  for (int p = 0; p < TAILVOLT_PHASES; p++)
    if (result->phase_budget[p].present)
      put(&by_phase, tv_phase_word(p), budget(&result->phase_budget[p]));
  put(&object, "by_phase", by_phase);
  put(&object, "uses", tv_json_uses(result));
  put(&object, "hand_budget", tv_json_hand_budget(system, result));
  return object;
}

static json_t *meters(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->meter_count; k++) {
    const struct tailvolt_meter_result *from = &result->meters[k];
    json_t *object = json_object();
    put_text(&object, "name", from->name);
    put_number(&object, "rest_v", from->rest_v);
    put_number(&object, "min_v", from->min_v);
    put_number(&object, "mean_v", from->mean_v);
    put_number(&object, "max_v", from->max_v);
    append(&list, object);
  }
  return list;
}

static json_t *energy(const struct tailvolt_energy_result *from) {
  json_t *object = json_object();
  put_number(&object, "generated_j", from->generated_j);
  put_number(&object, "from_storage_j", from->from_storage_j);
  put_number(&object, "loads_j", from->loads_j);
  put_number(&object, "amplifiers_j", from->amplifiers_j);
  put_number(&object, "losses_j", from->losses_j);
  put_number(&object, "residual_j", from->residual_j);
  return object;
}

static json_t *phases(const struct tailvolt_result *result) {
  json_t *list = json_array();
  int order[TAILVOLT_PHASES], count = tv_phases_worst_first(result, order);
  for (int k = 0; k < count; k++) {
    const struct tailvolt_phase_result *from = &result->phases[order[k]];
    json_t *object = json_object(), *amplifiers = json_array();
    put_text(&object, "name", tv_phase_word(order[k]));
    put_text(&object, "status", tv_verdict_word(from->status));
    put(&object, "reasons", reasons(result, order[k]));
    put_number(&object, "duration_s", from->duration_s);
    for (int a = 0; a < result->amplifier_count; a++) {
      const struct tailvolt_amplifier_phase *in = &result->amplifiers[a].phase[order[k]];
      json_t *entry = json_object();
      put_text(&entry, "name", result->amplifiers[a].name);
      put_number(&entry, "play_s", in->play_s);
      put_number(&entry, "min_v", in->min_v);
      put_number(&entry, "min_time_s", in->min_time_s);
      put_number(&entry, "low_1pct_v", in->low_1pct_v);
      put_number(&entry, "target_v", in->target_v);
      put_number(&entry, "below_target_pct", in->below_target_pct);
      put_number(&entry, "mean_a", in->mean_a);
      append(&amplifiers, entry);
    }
    put(&object, "amplifiers", amplifiers);
    append(&list, object);
  }
  return list;
}

json_t *tv_json_assumed(const struct tailvolt_system *system) {
  json_t *list = json_array();
  for (int k = 0; system != NULL && k < system->assumption_count; k++) {
    json_t *object = json_object();
    put_text(&object, "key", system->assumptions[k].key);
    put_text(&object, "value", system->assumptions[k].value);
    append(&list, object);
  }
  return list;
}

static json_t *cautions(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->caution_count; k++) append(&list, tv_json_text(result->cautions[k]));
  return list;
}

json_t *tv_json_result(const struct tailvolt_system *system, const struct tailvolt_result *result) {
  json_t *root = json_object();
  char hash[24];
  snprintf(hash, sizeof hash, "%016llx", result->state_hash);
  put_text(&root, "tailvolt", TAILVOLT_VERSION);
  put_text(&root, "system", result->system);
  put_text(&root, "profile", result->profile);
  put_number(&root, "duration_s", result->duration_s);
  put_number(&root, "step_s", result->step_s);
  put(&root, "steps", json_integer((json_int_t)result->steps));
  put(&root, "verdict", verdict(result));
  put(&root, "amplifiers", tv_json_amplifiers(result));
  put(&root, "sag_ledger", ledgers(result));
  put(&root, "batteries", tv_json_batteries(result));
  put(&root, "alternator", alternator(&result->alternator));
  put(&root, "capacitors", capacitors(result));
  put(&root, "conductors", conductors(result));
  put(&root, "fuses", fuses(result));
  put(&root, "budget", budgets(system, result));
  put(&root, "meters", meters(result));
  put(&root, "energy", energy(&result->energy));
  put(&root, "phases", phases(result));
  put(&root, "assumed", tv_json_assumed(system));
  put(&root, "cautions", cautions(result));
  put_number(&root, "start_s", result->start_s);
  put_text(&root, "state_hash", hash);
  return root;
}

enum tailvolt_status tv_json_finish(json_t *root, char **out) {
  struct tv_buffer buffer = {0};
  tv_json_write(root, &buffer);
  json_decref(root);
  return tv_buffer_finish(&buffer, out);
}

enum tailvolt_status tailvolt_report_json(const struct tailvolt_system *system,
                                          const struct tailvolt_result *const *runs, int run_count,
                                          char **out) {
  if (run_count == 1) return tv_json_finish(tv_json_result(system, runs[0]), out);
  json_t *root = json_object(), *list = json_array();
  put_text(&root, "tailvolt", TAILVOLT_VERSION);
  for (int k = 0; k < run_count; k++) append(&list, tv_json_result(system, runs[k]));
  put(&root, "runs", list);
  return tv_json_finish(root, out);
}

json_t *tv_json_faults(const struct tailvolt_faults *faults) {
  json_t *list = json_array();
  for (int k = 0; k < faults->count; k++) {
    const struct tailvolt_fault *from = &faults->fault[k];
    json_t *object = json_object();
    put_text(&object, "file", from->file);
    put(&object, "line", from->line > 0 ? json_integer(from->line) : json_null());
    put(&object, "column", from->column > 0 ? json_integer(from->column) : json_null());
    put_text(&object, "key", from->key);
    put_text(&object, "value", from->value);
    put_text(&object, "message", from->message);
    append(&list, object);
  }
  return list;
}

enum tailvolt_status tailvolt_report_faults_json(const struct tailvolt_faults *faults,
                                                 const struct tailvolt_system *system, char **out) {
  json_t *root = json_object();
  put_text(&root, "tailvolt", TAILVOLT_VERSION);
  put(&root, "faults", tv_json_faults(faults));
  put(&root, "dropped", json_integer(faults->dropped));
  put(&root, "assumed", tv_json_assumed(system));
  return tv_json_finish(root, out);
}

void tailvolt_report_free(char *text) { free(text); }
