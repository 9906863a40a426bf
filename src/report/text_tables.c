/* Tables of the text report: budget, amplifiers, batteries, conductors, fuses, meters, energy. */
#include <math.h>
#include <stdio.h>

#include "text/number.h"
#include "report/text_parts.h"
#include "text/words.h"

static void number_cell(struct tv_table *table, double value, int digits) {
  tv_table_cell(table, tv_fixed(value, digits).text);
}

static void budget_row(struct tv_table *table, const char *name, const struct tailvolt_budget *budget) {
  if (!budget->present) return;
  tv_table_cell(table, name);
  tv_table_cell(table, tv_duration(budget->duration_s).text);
  number_cell(table, budget->available_a, 1);
  number_cell(table, budget->generation_a, 1);
  number_cell(table, budget->base_a, 1);
  number_cell(table, budget->amplifier_a, 1);
  number_cell(table, budget->battery_a, 1);
  number_cell(table, budget->surplus_a, 1);
}

void tv_text_budget(struct tv_page *page, const struct tailvolt_result *run) {
  static const struct tv_column columns[] = {
      {"phase", false, 0},      {"lasts", true, 0},    {"available", true, 0}, {"generated", true, 0},
      {"car", true, 0},         {"music", true, 0},    {"into battery", true, 0}, {"surplus", true, 0}};
  struct tv_table table;
  tv_page_heading(page, "BUDGET by phase, mean currents in A");
  tv_table_begin(&table, page, columns, 8);
  for (int p = 0; p < TAILVOLT_PHASES; p++) budget_row(&table, tv_phase_word(p), &run->phase_budget[p]);
  if (run->phase_budget[TAILVOLT_IDLE].present && run->phase_budget[TAILVOLT_ROAD].present)
    budget_row(&table, "all driving", &run->driving);
  tv_table_end(&table, "  ");
  tv_page_line(page, "  available: at full field; surplus = available - car - music");
}

void tv_text_amplifiers(struct tv_page *page, const struct tailvolt_result *run) {
  static const struct tv_column columns[] = {
      {"amplifier", false, 30}, {"rest V", true, 0}, {"lowest V", true, 0}, {"no ripple V", true, 0},
      {"mean V", true, 0},      {"mean A", true, 0}, {"peak A", true, 0}};
  static const struct tv_column more[] = {
      {"amplifier", false, 30}, {"taken kJ", true, 0}, {"delivered kJ", true, 0}, {"lost dB", true, 0},
      {"cut-outs", true, 0},    {"off s", true, 0}};
  struct tv_table table;
  tv_page_heading(page, "AMPLIFIERS (lost dB: what the sag costs in loudness)");
  tv_table_begin(&table, page, columns, 7);
  for (int k = 0; k < run->amplifier_count; k++) {
    const struct tailvolt_amplifier_result *from = &run->amplifiers[k];
    tv_table_cell(&table, from->name);
    number_cell(&table, from->rest_v, 2);
    number_cell(&table, from->min_v, 2);
    number_cell(&table, from->min_without_ripple_v, 2);
    number_cell(&table, from->mean_v, 2);
    number_cell(&table, from->mean_a, 1);
    number_cell(&table, from->peak_a, 1);
  }
  tv_table_end(&table, "  ");
  tv_table_begin(&table, page, more, 6);
  for (int k = 0; k < run->amplifier_count; k++) {
    const struct tailvolt_amplifier_result *from = &run->amplifiers[k];
    tv_table_cell(&table, from->name);
    number_cell(&table, from->input_j / 1000.0, 1);
    number_cell(&table, from->output_j / 1000.0, 1);
    number_cell(&table, from->lost_output_db, 2);
    number_cell(&table, from->cut_outs, 0);
    number_cell(&table, from->off_s, 1);
  }
  tv_table_end(&table, "  ");
}

static void batteries(struct tv_page *page, const struct tailvolt_result *run) {
  static const struct tv_column columns[] = {
      {"battery", false, 24},     {"start %", true, 0}, {"end %", true, 0},  {"lowest %", true, 0},
      {"lowest V", true, 0},      {"end rest V", true, 0}, {"in Ah", true, 0}, {"out Ah", true, 0},
      {"loss kJ", true, 0}};
  struct tv_table table;
  tv_table_begin(&table, page, columns, 9);
  for (int k = 0; k < run->battery_count; k++) {
    const struct tailvolt_battery_result *from = &run->batteries[k];
    tv_table_cell(&table, from->name);
    number_cell(&table, from->start_soc_pct, 2);
    number_cell(&table, from->end_soc_pct, 2);
    number_cell(&table, from->min_soc_pct, 2);
    number_cell(&table, from->min_v, 2);
    number_cell(&table, from->end_rest_v, 2);
    number_cell(&table, from->charge_in_ah, 3);
    number_cell(&table, from->charge_out_ah, 3);
    number_cell(&table, from->loss_j / 1000.0, 2);
  }
  tv_table_end(&table, "  ");
}

static void alternator(struct tv_page *page, const struct tailvolt_alternator_result *from) {
  tv_page_line(page, "  %s: mean %s A, peak %s A, could give %s A; at its limit %s of the time",
               from->by_converter ? "converter" : "alternator",
               tv_fixed(from->mean_a, 1).text, tv_fixed(from->peak_a, 1).text,
               tv_fixed(from->mean_available_a, 1).text, tv_percent(from->at_limit_pct).text);
  if (from->mean_shaft_w > 0.0)
    tv_page_line(page, "  it takes %s W from the engine on average, %s N m at its shaft; efficiency %s",
                 tv_fixed(from->mean_shaft_w, 0).text, tv_fixed(from->mean_torque_nm, 1).text,
                 tv_percent(from->efficiency_pct).text);
  if (isfinite(from->end_c))
    tv_page_line(page, "  it ends at %s", tv_temperature(from->end_c, page->style.us_units).text);
}

static void capacitors(struct tv_page *page, const struct tailvolt_result *run) {
  static const struct tv_column columns[] = {
      {"capacitor", false, 24}, {"lowest V", true, 0}, {"peak A", true, 0}, {"loss J", true, 0}};
  struct tv_table table;
  tv_table_begin(&table, page, columns, 4);
  for (int k = 0; k < run->capacitor_count; k++) {
    tv_table_cell(&table, run->capacitors[k].name);
    number_cell(&table, run->capacitors[k].min_v, 2);
    number_cell(&table, run->capacitors[k].peak_a, 1);
    number_cell(&table, run->capacitors[k].loss_j, 1);
  }
  tv_table_end(&table, "  ");
}

void tv_text_supply(struct tv_page *page, const struct tailvolt_result *run) {
  tv_page_heading(page, run->alternator.by_converter ? "BATTERIES AND CONVERTER" : "BATTERIES AND ALTERNATOR");
  batteries(page, run);
  if (run->alternator.present) alternator(page, &run->alternator);
  if (run->capacitor_count > 0) capacitors(page, run);
}

static void cables(struct tv_page *page, const struct tailvolt_system *system, const struct tailvolt_result *run) {
  static const struct tv_column columns[] = {
      {"cable, strap", false, 30}, {"size", false, 12}, {"length", true, 0}, {"rms A", true, 0},
      {"peak A", true, 0},         {"most V", true, 0}, {"W", true, 0},      {"end", true, 0},
      {"steady", true, 0},         {"limit", true, 0},  {"is", false, 0}};
  bool us = page->style.us_units;
  struct tv_table table;
  tv_table_begin(&table, page, columns, 11);
  for (int k = 0; k < run->conductor_count; k++) {
    const struct tailvolt_conductor_result *from = &run->conductors[k];
    if (from->kind != TAILVOLT_CABLE && from->kind != TAILVOLT_STRAP) continue;
    const struct tailvolt_conductor *made = tv_conductor_at(system, k);
    char name[TAILVOLT_NAME_MAX + 16];
    snprintf(name, sizeof name, "%s%s", from->name, from->kind == TAILVOLT_STRAP ? " strap" : "");
    tv_table_cell(&table, name);
    tv_table_cell(&table, made == NULL ? "" : tv_size_words(made, us).text);
    tv_table_cell(&table, made == NULL ? "" : tv_length(made->length_m, us).text);
    number_cell(&table, from->rms_a, 1);
    number_cell(&table, from->peak_a, 1);
    number_cell(&table, from->max_drop_v, 3);
    number_cell(&table, from->loss_w, 2);
    tv_table_cell(&table, tv_degrees(from->end_c, us).text);
    tv_table_cell(&table, tv_degrees(from->steady_c, us).text);
    tv_table_cell(&table, tv_degrees(from->insulation_limit_c, us).text);
    tv_table_cell(&table, tv_heat_word(from->status));
  }
  tv_table_end(&table, "  ");
}

static void joints(struct tv_page *page, const struct tailvolt_result *run) {
  static const struct tv_column columns[] = {
      {"joint, fuse holder", false, 40}, {"kind", false, 0}, {"rms A", true, 0}, {"peak A", true, 0},
      {"most V", true, 0},               {"W", true, 0},     {"is", false, 0}};
  struct tv_table table;
  tv_table_begin(&table, page, columns, 7);
  for (int k = 0; k < run->conductor_count; k++) {
    const struct tailvolt_conductor_result *from = &run->conductors[k];
    if (from->kind != TAILVOLT_JOINT && from->kind != TAILVOLT_FUSE) continue;
    tv_table_cell(&table, from->name);
    tv_table_cell(&table, tv_conductor_kind_word(from->kind));
    number_cell(&table, from->rms_a, 1);
    number_cell(&table, from->peak_a, 1);
    number_cell(&table, from->max_drop_v, 3);
    number_cell(&table, from->loss_w, 2);
    tv_table_cell(&table, tv_heat_word(from->status));
  }
  tv_table_end(&table, "  ");
}

void tv_text_conductors(struct tv_page *page, const struct tailvolt_system *system,
                        const struct tailvolt_result *run) {
  int cable_count = 0;
  for (int k = 0; k < run->conductor_count; k++)
    cable_count += run->conductors[k].kind == TAILVOLT_CABLE || run->conductors[k].kind == TAILVOLT_STRAP;
  if (run->conductor_count == 0) return;
  tv_page_heading(page, "CABLES AND JOINTS (degrees %s; steady: where the temperature would settle)",
                  page->style.us_units ? "F" : "C");
  if (cable_count > 0) cables(page, system, run);
  if (cable_count < run->conductor_count) joints(page, run);
}

void tv_text_fuses(struct tv_page *page, const struct tailvolt_result *run) {
  static const struct tv_column columns[] = {
      {"fuse", false, 30},     {"rating A", true, 0}, {"rms A", true, 0}, {"peak A", true, 0},
      {"margin %", true, 0},   {"cable limit A", true, 0}, {"", false, 0}};
  if (run->fuse_count == 0) return;
  struct tv_table table;
  tv_page_heading(page, "FUSES");
  tv_table_begin(&table, page, columns, 7);
  for (int k = 0; k < run->fuse_count; k++) {
    const struct tailvolt_fuse_result *from = &run->fuses[k];
    char opens[64];
    snprintf(opens, sizeof opens, "%s%s",
             from->opens      ? "opens at "
             : from->may_open ? "a fast one may open"
             : from->assumed  ? "holds; not in your file"
                              : "holds",
             from->opens ? tv_clock(from->opens_time_s).text : "");
    tv_table_cell(&table, from->name);
    tv_table_cell(&table, tv_compact(from->rating_a, 1).text);
    number_cell(&table, from->rms_a, 1);
    number_cell(&table, from->peak_a, 1);
    number_cell(&table, from->margin_pct, 0);
    number_cell(&table, from->cable_ampacity_a, 0);
    tv_table_cell(&table, opens);
  }
  tv_table_end(&table, "  ");
}

void tv_text_meters(struct tv_page *page, const struct tailvolt_result *run) {
  static const struct tv_column columns[] = {{"meter", false, 40},   {"rest V", true, 0},
                                             {"lowest V", true, 0},  {"mean V", true, 0},
                                             {"highest V", true, 0}};
  if (run->meter_count == 0) return;
  struct tv_table table;
  tv_page_heading(page, "METERS: what a multimeter should show");
  tv_table_begin(&table, page, columns, 5);
  for (int k = 0; k < run->meter_count; k++) {
    const struct tailvolt_meter_result *from = &run->meters[k];
    tv_table_cell(&table, from->name);
    number_cell(&table, from->rest_v, 3);
    number_cell(&table, from->min_v, 3);
    number_cell(&table, from->mean_v, 3);
    number_cell(&table, from->max_v, 3);
  }
  tv_table_end(&table, "  ");
}

void tv_text_energy(struct tv_page *page, const struct tailvolt_result *run) {
  const struct tailvolt_energy_result *from = &run->energy;
  tv_page_heading(page, "ENERGY");
  tv_page_line(page, "  generated %s kJ + from storage %s kJ", tv_fixed(from->generated_j / 1000.0, 2).text,
               tv_fixed(from->from_storage_j / 1000.0, 2).text);
  tv_page_line(page, "  = loads %s kJ + amplifiers %s kJ + losses %s kJ", tv_fixed(from->loads_j / 1000.0, 2).text,
               tv_fixed(from->amplifiers_j / 1000.0, 2).text, tv_fixed(from->losses_j / 1000.0, 2).text);
  tv_page_line(page, "  residual %s J: what the books leave unexplained",
               tv_scientific(from->residual_j).text);
}
