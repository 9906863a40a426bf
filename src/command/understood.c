#include "command/understood.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/number.h"
#include "report/page.h"
#include "report/words.h"

static const char *point(const struct tailvolt_system *system, int at) {
  return at >= 0 && at < system->point_count ? system->point_names[at] : "";
}

/* Columns of the parts table: what it is, its two points, what it amounts to. */
static void part_row(struct tv_table *table, const struct tailvolt_system *system, const char *kind,
                     const char *name, int from, int to, const char *what) {
  char title[TAILVOLT_NAME_MAX + 32];
  snprintf(title, sizeof title, "%s%s%s", kind, name[0] != '\0' ? " " : "", name);
  tv_table_cell(table, title);
  tv_table_cell(table, point(system, from));
  tv_table_cell(table, point(system, to));
  tv_table_cell(table, what);
}

static void conductor_rows(struct tv_table *table, const struct tailvolt_system *system, bool us) {
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *from = &system->conductors[k];
    char what[2 * TV_CELL_MAX];
    struct tv_number mohm = tv_compact(from->resistance_ohm * 1000.0, 3);
    what[0] = '\0';
    if (from->kind == TAILVOLT_FUSE)
      snprintf(what, sizeof what, "%s A", tv_compact(from->rating_a, 1).text);
    else if (from->kind != TAILVOLT_JOINT)
      snprintf(what, sizeof what, "%s, %s, %s",
               from->size[0] != '\0' && !us ? from->size : tv_size(from->area_m2, us).text,
               tv_length(from->length_m, us).text, tv_material_word(from->material));
    part_row(table, system, tv_conductor_kind_word(from->kind), from->name, from->from, from->to, what);
    tv_table_cell(table, mohm.text);
  }
}

static void source_rows(struct tv_table *table, const struct tailvolt_system *system) {
  char what[2 * TV_CELL_MAX];
  const struct tailvolt_alternator *machine = &system->alternator;
  if (machine->present) {
    if (isfinite(machine->fixed_output_a))
      snprintf(what, sizeof what, "fixed %s A, set point %s V", tv_compact(machine->fixed_output_a, 1).text,
               tv_compact(machine->set_point_v, 2).text);
    else
      snprintf(what, sizeof what, "%s A rated, set point %s V", tv_compact(machine->rated_a, 1).text,
               tv_compact(machine->set_point_v, 2).text);
    part_row(table, system, "alternator", "", machine->positive, machine->negative, what);
  }
  for (int k = 0; k < system->battery_count; k++) {
    const struct tailvolt_battery *from = &system->batteries[k];
    char charge[64];
    if (isfinite(from->soc_frac))
      snprintf(charge, sizeof charge, "%s %% charged", tv_compact(100.0 * from->soc_frac, 1).text);
    else
      snprintf(charge, sizeof charge, "rested %s V", tv_compact(from->rested_v, 2).text);
    snprintf(what, sizeof what, "%s %s Ah, %s", tv_battery_word(from->kind),
             tv_compact(from->capacity_ah, 1).text, charge);
    part_row(table, system, "battery", from->name, from->positive, from->negative, what);
  }
  for (int k = 0; k < system->capacitor_count; k++) {
    const struct tailvolt_capacitor *from = &system->capacitors[k];
    snprintf(what, sizeof what, "%s F, ESR %s mohm", tv_compact(from->capacitance_f, 3).text,
             tv_compact(from->esr_ohm * 1000.0, 2).text);
    part_row(table, system, "capacitor", from->name, from->positive, from->negative, what);
  }
  for (int k = 0; k < system->isolator_count; k++) {
    static const char *const kinds[] = {"relay", "diode", "converter"};
    const struct tailvolt_isolator *from = &system->isolators[k];
    part_row(table, system, "isolator", from->name, from->from, from->to, kinds[from->kind]);
  }
}

static void sink_rows(struct tv_table *table, const struct tailvolt_system *system) {
  char what[2 * TV_CELL_MAX];
  for (int k = 0; k < system->load_count; k++) {
    static const char *const behaviours[] = {"resistor", "constant power", "constant current"};
    const struct tailvolt_load *from = &system->loads[k];
    snprintf(what, sizeof what, "%s W, %s", tv_compact(from->power_w, 1).text, behaviours[from->behaviour]);
    part_row(table, system, "load", from->name, from->positive, from->negative, what);
  }
  for (int k = 0; k < system->amplifier_count; k++) {
    const struct tailvolt_amplifier *from = &system->amplifiers[k];
    snprintf(what, sizeof what, "%s W, class %s, %s, %s %%", tv_compact(from->rated_w, 1).text,
             from->topology == TAILVOLT_CLASS_D ? "D" : "AB", from->regulated ? "regulated" : "unregulated",
             tv_compact(100.0 * from->efficiency_frac, 1).text);
    part_row(table, system, "amplifier", from->name, from->positive, from->negative, what);
  }
  for (int k = 0; k < system->meter_count; k++)
    part_row(table, system, "meter", system->meters[k].name, system->meters[k].positive,
             system->meters[k].negative, "");
}

static void programme_line(struct tv_page *page, const struct tailvolt_programme *from) {
  struct tv_number bass = tv_compact(from->bass_hz, 1);
  if (from->recording[0] != '\0')
    tv_page_line(page, "  programme %s: recording %.120s, bass note %s Hz", from->name, from->recording, bass.text);
  else if (from->envelope[0] != '\0')
    tv_page_line(page, "  programme %s: envelope %.120s, bass note %s Hz", from->name, from->envelope, bass.text);
  else if (from->style[0] != '\0')
    tv_page_line(page, "  programme %s: style %.120s", from->name, from->style);
  else
    tv_page_line(page, "  programme %s: crest factor %s dB, %s beats a minute, bass note %s Hz", from->name,
                 tv_compact(from->crest_db, 2).text, tv_compact(from->tempo_per_min, 1).text, bass.text);
}

char *tv_system_understood(const struct tailvolt_system *system, const struct tailvolt_report_style *style) {
  static const struct tv_column columns[] = {
      {"part", false, 34}, {"plus", false, 24}, {"minus", false, 24}, {"is", false, 0}};
  static const struct tv_column wiring[] = {
      {"part", false, 34}, {"from", false, 24}, {"to", false, 24}, {"is", false, 0}, {"mohm", true, 0}};
  struct tv_page page = {.style = *style};
  struct tv_table table;
  char *out;
  tv_page_line(&page, "%s: %s%s, %d points", system->file,
               system->vehicle.name[0] != '\0' ? system->vehicle.name : "vehicle",
               system->standard_car ? ", wired as the standard car" : "", system->point_count);
  tv_table_begin(&table, &page, columns, 4);
  source_rows(&table, system);
  sink_rows(&table, system);
  tv_table_end(&table, "  ");
  tv_table_begin(&table, &page, wiring, 5);
  conductor_rows(&table, system, style->us_units);
  tv_table_end(&table, "  ");
  tv_page_line(&page, "  mohm: resistance at %s, fuses with their holders", style->us_units ? "68 F" : "20 C");
  for (int k = 0; k < system->programme_count; k++) programme_line(&page, &system->programmes[k]);
  tv_page_line(&page, "  wanted: %s V with the engine on, %s V off, missed at most %s",
               tv_compact(system->targets.voltage_v, 2).text,
               tv_compact(system->targets.voltage_parked_v, 2).text,
               tv_percent(100.0 * system->targets.missed_frac).text);
  if (system->assumption_count > 0)
    tv_page_line(&page, "  assumed, each with what replaces it:");
  for (int k = 0; k < system->assumption_count; k++) {
    char setting[256];
    snprintf(setting, sizeof setting, "\"%s = %s\"", system->assumptions[k].key, system->assumptions[k].value);
    tv_page_wrapped(&page, "    --set ", setting);
  }
  return tv_buffer_finish(&page.text, &out) == TAILVOLT_OK ? out : NULL;
}

char *tv_profile_understood(const char *path, const struct tailvolt_profile *profile,
                            const struct tailvolt_system *system,
                            const struct tailvolt_report_style *style) {
  struct tv_page page = {.style = *style};
  char *out;
  double start_s = tailvolt_profile_start_s(profile), end_s = tailvolt_profile_end_s(profile);
  tv_page_line(&page, "%s: %ld rows, %s from %s to %s", path, tailvolt_profile_row_count(profile),
               tv_duration(end_s - start_s).text, tv_clock(start_s).text, tv_clock(end_s).text);
  for (int k = 0; k < system->amplifier_count; k++)
    if (tailvolt_profile_prescribes(profile, k))
      tv_page_line(&page, "  prescribes what amplifier %s takes", system->amplifiers[k].name);
  return tv_buffer_finish(&page.text, &out) == TAILVOLT_OK ? out : NULL;
}
