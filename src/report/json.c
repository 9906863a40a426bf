#include "report/json.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/json_budget.h"
#include "report/json_write.h"
#include "report/sure.h"
#include "simulate/safety.h"
#include "simulate/worst.h"
#include "text/words.h"
#include "tailvolt/report.h"
#include "tailvolt/version.h"

static json_t *sentence(const struct tailvolt_reason *reason) {
  char text[TAILVOLT_TEXT_MAX];
  tailvolt_reason_text(reason, false, text, sizeof text);
  return tv_json_text(text);
}

static json_t *reasons(const struct tailvolt_result *result, int phase) {
  json_t *list = json_array();
  for (int k = 0; k < result->reason_count; k++) {
    const struct tailvolt_reason *reason = &result->reasons[k];
    if (phase < 0 || reason->phase == phase || reason->phase < 0)
      tv_json_append(&list, sentence(reason));
  }
  return list;
}

static json_t *reason_details(const struct tailvolt_result *result) {
  static const char *const topics[] = {"voltage", "charge", "safety"};
  json_t *list = json_array();
  for (int k = 0; k < result->reason_count; k++) {
    const struct tailvolt_reason *reason = &result->reasons[k];
    json_t *entry = json_object();
    tv_json_put_text(&entry, "status", tv_verdict_word(reason->status));
    tv_json_put_text(&entry, "topic", topics[reason->topic]);
    tv_json_put(&entry, "phase", reason->phase < 0 ? json_null() : tv_json_text(tv_phase_word(reason->phase)));
    char part[TAILVOLT_NAME_MAX + 16];
    tv_section_words(reason->about.kind, reason->about.name, part, sizeof part);
    tv_json_put_text(&entry, "part", part);
    tv_json_put(&entry, "text", sentence(reason));
    tv_json_append(&list, entry);
  }
  return list;
}

static json_t *verdict(const struct tailvolt_result *result) {
  json_t *object = json_object();
  tv_json_put_text(&object, "status", tv_verdict_word(result->status));
  tv_json_put(&object, "reasons", reasons(result, -1));
  tv_json_put_number(&object, "margin_v", result->margin_v);
  tv_json_put_text(&object, "safety", tv_verdict_word(result->safety));
  tv_json_put(&object, "targets_met", json_boolean(result->targets_met));
  tv_json_put(&object, "details", reason_details(result));
  return object;
}

/* A set point moved by computer: where voltage was judged, and what the high end does for the charge. */
static json_t *swing(const struct tailvolt_result *result) {
  const struct tailvolt_swing *from = &result->swing;
  if (!from->present) return json_null();
  json_t *object = json_object();
  tv_json_put_number(&object, "low_v", from->low_v);
  tv_json_put_number(&object, "high_v", from->high_v);
  tv_json_put_number(&object, "low_end_above_pct", from->low_end_above_pct);
  for (int p = 0; p < TAILVOLT_PARKED; p++)
    tv_json_put_number(&object, p == TAILVOLT_IDLE ? "high_idle_a" : "high_road_a",
                       result->phases[p].present ? from->high_balance_a[p] : (double)NAN);
  tv_json_put_number(&object, "high_margin_v", result->high_margin_v);
  return object;
}

static json_t *lights(const struct tailvolt_result *result) {
  if (!result->lights.known) return json_null();
  json_t *object = json_object();
  tv_json_put_number(&object, "dim_pct", result->lights.dim_pct);
  tv_json_put(&object, "visible", json_boolean(result->lights.visible));
  return object;
}

static json_t *amplifier(const struct tailvolt_amplifier_result *from) {
  json_t *object = json_object();
  tv_json_put_text(&object, "name", from->name);
  tv_json_put_number(&object, "rest_v", from->rest_v);
  tv_json_put_number(&object, "min_v", from->min_v);
  tv_json_put_number(&object, "min_time_s", from->min_time_s);
  tv_json_put_number(&object, "min_without_ripple_v", from->min_without_ripple_v);
  tv_json_put_number(&object, "mean_v", from->mean_v);
  tv_json_put_number(&object, "low_1pct_v", from->low_1pct_v);
  tv_json_put_number(&object, "target_v", from->target_v);
  tv_json_put_number(&object, "below_target_pct", from->below_target_pct);
  tv_json_put_number(&object, "mean_a", from->mean_a);
  tv_json_put_number(&object, "peak_a", from->peak_a);
  tv_json_put_number(&object, "input_j", from->input_j);
  tv_json_put_number(&object, "output_j", from->output_j);
  tv_json_put_number(&object, "lost_output_db", from->lost_output_db);
  tv_json_put(&object, "cut_outs", json_integer(from->cut_outs));
  tv_json_put_number(&object, "off_s", from->off_s);
  tv_json_put(&object, "collapses", json_integer(from->collapses));
  tv_json_put_number(&object, "first_collapse_s", from->first_collapse_s);
  tv_json_put_number(&object, "play_s", from->play_s);
  tv_json_put_number(&object, "play_mean_v", from->play_mean_v);
  tv_json_put_number(&object, "plus_drop_v", from->plus_drop_v);
  tv_json_put_number(&object, "minus_drop_v", from->minus_drop_v);
  tv_json_put_number(&object, "drop_at_a", from->drop_at_a);
  tv_json_put_number(&object, "meter_min_v", from->meter_min_v);
  tv_json_put(&object, "start_cut_outs", json_integer(from->start_cut_outs));
  tv_json_put_number(&object, "start_min_v", from->start_min_v);
  return object;
}

json_t *tv_json_amplifiers(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->amplifier_count; k++)
    tv_json_append(&list, amplifier(&result->amplifiers[k]));
  return list;
}

static json_t *ledger(const struct tailvolt_ledger *from) {
  json_t *object = json_object(), *entries = json_array();
  for (int k = 0; k < from->entry_count; k++) {
    const struct tailvolt_ledger_entry *line = &from->entries[k];
    json_t *entry = json_object();
    char part[TAILVOLT_NAME_MAX + 16];
    tv_section_words(line->part_kind, line->name, part, sizeof part);
    tv_json_put_text(&entry, "part", part);
    tv_json_put_text(&entry, "kind", tv_drop_word(line->drop, line->part_kind));
    tv_json_put_number(&entry, "current_a", line->current_a);
    tv_json_put_number(&entry, "drop_v", line->drop_v);
    tv_json_put_number(&entry, "share_pct", line->share_pct);
    tv_json_put(&entry, "ground_side", json_boolean(line->ground_side));
    tv_json_put(&entry, "index", json_integer(line->index));
    tv_json_put_text(&entry, "name", line->name);
    tv_json_put(&entry, "polarization", line->drop == TAILVOLT_DROP_POLARIZATION
                                            ? tv_json_text(tv_polarization_word(line->polarization))
                                            : json_null());
    tv_json_append(&entries, entry);
  }
  tv_json_put_text(&object, "amplifier", from->amplifier);
  tv_json_put_number(&object, "time_s", from->time_s);
  tv_json_put_number(&object, "rest_v", from->rest_v);
  tv_json_put_number(&object, "terminal_v", from->terminal_v);
  tv_json_put(&object, "entries", entries);
  tv_json_put_number(&object, "residual_v", from->residual_v);
  tv_json_put_text(&object, "battery", from->battery);
  tv_json_put(&object, "alternator_at_limit", json_boolean(from->alternator_at_limit));
  return object;
}

static json_t *ledgers(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->ledger_count; k++) tv_json_append(&list, ledger(&result->ledgers[k]));
  return list;
}

json_t *tv_json_batteries(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->battery_count; k++) {
    const struct tailvolt_battery_result *from = &result->batteries[k];
    json_t *object = json_object();
    tv_json_put_text(&object, "name", from->name);
    tv_json_put_number(&object, "start_soc_pct", from->start_soc_pct);
    tv_json_put_number(&object, "end_soc_pct", from->end_soc_pct);
    tv_json_put_number(&object, "min_soc_pct", from->min_soc_pct);
    tv_json_put_number(&object, "min_v", from->min_v);
    tv_json_put_number(&object, "end_rest_v", from->end_rest_v);
    tv_json_put_number(&object, "charge_in_ah", from->charge_in_ah);
    tv_json_put_number(&object, "charge_out_ah", from->charge_out_ah);
    tv_json_put_number(&object, "discharged_j", from->discharged_j);
    tv_json_put_number(&object, "charged_j", from->charged_j);
    tv_json_put_number(&object, "loss_j", from->loss_j);
    tv_json_put_number(&object, "capacity_ah", from->capacity_ah);
    tv_json_append(&list, object);
  }
  return list;
}

static json_t *alternator(const struct tailvolt_alternator_result *from) {
  if (!from->present) return json_null();
  json_t *object = json_object();
  tv_json_put_number(&object, "output_j", from->output_j);
  tv_json_put_number(&object, "mean_a", from->mean_a);
  tv_json_put_number(&object, "peak_a", from->peak_a);
  tv_json_put_number(&object, "at_limit_pct", from->at_limit_pct);
  tv_json_put_number(&object, "mean_available_a", from->mean_available_a);
  tv_json_put_number(&object, "mean_shaft_w", from->mean_shaft_w);
  tv_json_put_number(&object, "end_c", from->end_c);
  tv_json_put_number(&object, "mean_torque_nm", from->mean_torque_nm);
  tv_json_put_number(&object, "efficiency_pct", from->efficiency_pct);
  tv_json_put(&object, "by_converter", json_boolean(from->by_converter));
  return object;
}

static json_t *capacitors(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->capacitor_count; k++) {
    const struct tailvolt_capacitor_result *from = &result->capacitors[k];
    json_t *object = json_object();
    tv_json_put_text(&object, "name", from->name);
    tv_json_put_number(&object, "min_v", from->min_v);
    tv_json_put_number(&object, "peak_a", from->peak_a);
    tv_json_put_number(&object, "loss_j", from->loss_j);
    tv_json_append(&list, object);
  }
  return list;
}

static json_t *conductors(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->conductor_count; k++) {
    const struct tailvolt_conductor_result *from = &result->conductors[k];
    json_t *object = json_object();
    tv_json_put_text(&object, "name", from->name);
    tv_json_put_text(&object, "kind", tv_conductor_kind_word(from->kind));
    tv_json_put_number(&object, "rms_a", from->rms_a);
    tv_json_put_number(&object, "peak_a", from->peak_a);
    tv_json_put_number(&object, "max_drop_v", from->max_drop_v);
    tv_json_put_number(&object, "loss_j", from->loss_j);
    tv_json_put_number(&object, "loss_w", from->loss_w);
    tv_json_put_number(&object, "end_c", from->end_c);
    tv_json_put_number(&object, "steady_c", from->steady_c);
    tv_json_put_number(&object, "insulation_limit_c", from->insulation_limit_c);
    tv_json_put_text(&object, "status", tv_heat_word(from->status));
    tv_json_put_number(&object, "ampacity_a", from->ampacity_a);
    tv_json_append(&list, object);
  }
  return list;
}

static json_t *fuses(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->fuse_count; k++) {
    const struct tailvolt_fuse_result *from = &result->fuses[k];
    json_t *object = json_object();
    tv_json_put_text(&object, "name", from->name);
    tv_json_put_number(&object, "rating_a", from->rating_a);
    tv_json_put_number(&object, "rms_a", from->rms_a);
    tv_json_put_number(&object, "peak_a", from->peak_a);
    tv_json_put_number(&object, "margin_pct", from->margin_pct);
    tv_json_put(&object, "opens", json_boolean(from->opens));
    tv_json_put_number(&object, "opens_time_s", from->opens_time_s);
    tv_json_put(&object, "may_open", json_boolean(from->may_open));
    tv_json_put_number(&object, "cable_ampacity_a", from->cable_ampacity_a);
    tv_json_put(&object, "assumed", json_boolean(from->assumed));
    tv_json_put_number(&object, "largest_a", from->largest_a);
    tv_json_append(&list, object);
  }
  return list;
}

static json_t *budget(const struct tailvolt_budget *from) {
  if (!from->present) return json_null();
  json_t *object = json_object();
  tv_json_put_number(&object, "available_a", from->available_a);
  tv_json_put_number(&object, "generation_a", from->generation_a);
  tv_json_put_number(&object, "base_a", from->base_a);
  tv_json_put_number(&object, "amplifier_a", from->amplifier_a);
  tv_json_put_number(&object, "battery_a", from->battery_a);
  tv_json_put_number(&object, "surplus_a", from->surplus_a);
  tv_json_put_number(&object, "duration_s", from->duration_s);
  return object;
}

static json_t *budgets(const struct tailvolt_system *system, const struct tailvolt_result *result) {
  json_t *object = json_object(), *by_phase = json_object();
  tv_json_put(&object, "driving", budget(&result->driving));
  tv_json_put(&object, "parked", budget(&result->parked));
  for (int p = 0; p < TAILVOLT_PHASES; p++)
    if (result->phase_budget[p].present)
      tv_json_put(&by_phase, tv_phase_word(p), budget(&result->phase_budget[p]));
  tv_json_put(&object, "by_phase", by_phase);
  tv_json_put(&object, "uses", tv_json_uses(result));
  tv_json_put(&object, "hand_budget", tv_json_hand_budget(system, result));
  return object;
}

static json_t *meters(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->meter_count; k++) {
    const struct tailvolt_meter_result *from = &result->meters[k];
    json_t *object = json_object();
    tv_json_put_text(&object, "name", from->name);
    tv_json_put_number(&object, "rest_v", from->rest_v);
    tv_json_put_number(&object, "min_v", from->min_v);
    tv_json_put_number(&object, "mean_v", from->mean_v);
    tv_json_put_number(&object, "max_v", from->max_v);
    tv_json_append(&list, object);
  }
  return list;
}

static json_t *energy(const struct tailvolt_energy_result *from) {
  json_t *object = json_object();
  tv_json_put_number(&object, "generated_j", from->generated_j);
  tv_json_put_number(&object, "from_storage_j", from->from_storage_j);
  tv_json_put_number(&object, "loads_j", from->loads_j);
  tv_json_put_number(&object, "amplifiers_j", from->amplifiers_j);
  tv_json_put_number(&object, "losses_j", from->losses_j);
  tv_json_put_number(&object, "residual_j", from->residual_j);
  return object;
}

static json_t *phases(const struct tailvolt_result *result) {
  json_t *list = json_array();
  int order[TAILVOLT_PHASES], count = tv_phases_worst_first(result, order);
  for (int k = 0; k < count; k++) {
    const struct tailvolt_phase_result *from = &result->phases[order[k]];
    json_t *object = json_object(), *amplifiers = json_array();
    tv_json_put_text(&object, "name", tv_phase_word(order[k]));
    tv_json_put_text(&object, "status", tv_verdict_word(from->status));
    tv_json_put(&object, "reasons", reasons(result, order[k]));
    tv_json_put_number(&object, "duration_s", from->duration_s);
    for (int a = 0; a < result->amplifier_count; a++) {
      const struct tailvolt_amplifier_phase *in = &result->amplifiers[a].phase[order[k]];
      json_t *entry = json_object();
      tv_json_put_text(&entry, "name", result->amplifiers[a].name);
      tv_json_put_number(&entry, "play_s", in->play_s);
      tv_json_put_number(&entry, "min_v", in->min_v);
      tv_json_put_number(&entry, "min_time_s", in->min_time_s);
      tv_json_put_number(&entry, "low_1pct_v", in->low_1pct_v);
      tv_json_put_number(&entry, "target_v", in->target_v);
      tv_json_put_number(&entry, "below_target_pct", in->below_target_pct);
      tv_json_put_number(&entry, "mean_a", in->mean_a);
      tv_json_append(&amplifiers, entry);
    }
    tv_json_put(&object, "amplifiers", amplifiers);
    tv_json_append(&list, object);
  }
  return list;
}

json_t *tv_json_assumed(const struct tailvolt_system *system) {
  json_t *list = json_array();
  for (int k = 0; system != NULL && k < system->assumption_count; k++) {
    json_t *object = json_object();
    tv_json_put_text(&object, "key", system->assumptions[k].key);
    tv_json_put_text(&object, "value", system->assumptions[k].value);
    tv_json_put(&object, "chosen", json_boolean(system->assumptions[k].chosen));
    tv_json_append(&list, object);
  }
  return list;
}

static json_t *cautions(const struct tailvolt_result *result) {
  json_t *list = json_array();
  for (int k = 0; k < result->caution_count; k++) {
    char text[TAILVOLT_TEXT_MAX];
    tailvolt_finding_text(&result->cautions[k], false, text, sizeof text);
    tv_json_append(&list, tv_json_text(text));
  }
  return list;
}

json_t *tv_json_result(const struct tailvolt_system *system, const struct tailvolt_result *result) {
  json_t *root = json_object();
  char hash[24];
  snprintf(hash, sizeof hash, "%016llx", result->state_hash);
  tv_json_put_text(&root, "tailvolt", TAILVOLT_VERSION);
  tv_json_put_text(&root, "system", result->system);
  tv_json_put_text(&root, "profile", result->profile);
  tv_json_put_number(&root, "duration_s", result->duration_s);
  tv_json_put_number(&root, "step_s", result->step_s);
  tv_json_put(&root, "steps", json_integer((json_int_t)result->steps));
  tv_json_put(&root, "verdict", verdict(result));
  tv_json_put(&root, "amplifiers", tv_json_amplifiers(result));
  tv_json_put(&root, "sag_ledger", ledgers(result));
  tv_json_put(&root, "batteries", tv_json_batteries(result));
  tv_json_put(&root, "alternator", alternator(&result->alternator));
  tv_json_put(&root, "capacitors", capacitors(result));
  tv_json_put(&root, "conductors", conductors(result));
  tv_json_put(&root, "fuses", fuses(result));
  tv_json_put(&root, "budget", budgets(system, result));
  tv_json_put(&root, "meters", meters(result));
  tv_json_put(&root, "energy", energy(&result->energy));
  tv_json_put(&root, "phases", phases(result));
  tv_json_put(&root, "assumed", tv_json_assumed(system));
  tv_json_put(&root, "cautions", cautions(result));
  tv_json_put_number(&root, "start_s", result->start_s);
  tv_json_put_text(&root, "state_hash", hash);
  tv_json_put(&root, "swing", swing(result));
  tv_json_put(&root, "lights", lights(result));
  tv_json_put(&root, "certainty", tv_json_certainty(&result->certainty));
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
  tv_json_put_text(&root, "tailvolt", TAILVOLT_VERSION);
  for (int k = 0; k < run_count; k++) tv_json_append(&list, tv_json_result(system, runs[k]));
  tv_json_put(&root, "runs", list);
  /* of all of them together: what stands in the run that is shown first */
  const struct tailvolt_certainty none = {0}, *certainty = &none;
  for (int k = 0; k < run_count; k++)
    if (runs[k]->certainty.known) certainty = &runs[k]->certainty;
  tv_json_put(&root, "certainty", tv_json_certainty(certainty));
  return tv_json_finish(root, out);
}

json_t *tv_json_faults(const struct tailvolt_faults *faults) {
  json_t *list = json_array();
  for (int k = 0; faults != NULL && k < faults->count; k++) {
    const struct tailvolt_fault *from = &faults->fault[k];
    json_t *object = json_object();
    tv_json_put_text(&object, "file", from->file);
    tv_json_put(&object, "line", from->line > 0 ? json_integer(from->line) : json_null());
    tv_json_put(&object, "column", from->column > 0 ? json_integer(from->column) : json_null());
    tv_json_put_text(&object, "key", from->key);
    tv_json_put_text(&object, "value", from->value);
    tv_json_put_text(&object, "message", from->message);
    tv_json_append(&list, object);
  }
  return list;
}

json_t *tv_json_findings(const struct tailvolt_finding *findings, int count) {
  json_t *list = json_array();
  for (int k = 0; k < count; k++) {
    char text[TAILVOLT_TEXT_MAX];
    tailvolt_finding_text(&findings[k], false, text, sizeof text);
    json_t *o = json_object();
    tv_json_put_text(&o, "status", tv_verdict_word(findings[k].status));
    tv_json_put_text(&o, "text", text);
    tv_json_append(&list, o);
  }
  return list;
}

enum tailvolt_status tailvolt_report_faults_json(const struct tailvolt_faults *faults,
                                                 const struct tailvolt_system *system, char **out) {
  struct tv_finding_list safety;
  memset(&safety, 0, sizeof safety);
  *out = NULL;
  if (system != NULL && tv_safety_check(system, NULL, &safety) != TAILVOLT_OK) {
    tv_finding_list_free(&safety);
    return TAILVOLT_NO_MEMORY;
  }
  json_t *root = json_object();
  tv_json_put_text(&root, "tailvolt", TAILVOLT_VERSION);
  tv_json_put(&root, "faults", tv_json_faults(faults));
  tv_json_put(&root, "dropped", json_integer(faults != NULL ? faults->dropped : 0));
  tv_json_put(&root, "safety", tv_json_findings(safety.finding, safety.count));
  tv_json_put(&root, "assumed", tv_json_assumed(system));
  tv_finding_list_free(&safety);
  return tv_json_finish(root, out);
}

void tailvolt_report_free(char *text) { free(text); }
