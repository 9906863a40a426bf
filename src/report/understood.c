#include "report/understood.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "parts/battery.h"
#include "text/buffer.h"
#include "text/feed_drops.h"
#include "text/number.h"
#include "text/text.h"
#include "report/page.h"
#include "report/text_parts.h"
#include "text/words.h"
#include "simulate/feed_path.h"
#include "simulate/safety.h"

static const char *point(const struct tailvolt_system *system, int at) {
  return at >= 0 && at < system->point_count ? system->point_names[at] : "";
}

/* Columns of the wiring table: what it is, its two points, its value. */
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
    struct tv_number mohm = tv_fixed(from->resistance_ohm * 1000.0, 2);
    what[0] = '\0';
    if (from->kind == TAILVOLT_FUSE)
      snprintf(what, sizeof what, "%s A%s", tv_compact(from->rating_a, 1).text,
               from->assumed ? ", assumed" : from->size_chosen ? ", chosen" : "");
    else if (from->kind != TAILVOLT_JOINT) {
      snprintf(what, sizeof what, "%s%s, %s%s%s", tv_size_words(from, us).text,
               from->size_chosen ? " (chosen)" : "",
               tv_length(from->length_m, us).text, from->material == TAILVOLT_COPPER ? "" : ", ",
               from->material == TAILVOLT_COPPER ? "" : tv_material_word(from->material));
    }
    part_row(table, system, tv_conductor_kind_word(from->kind), from->name, from->from, from->to, what);
    tv_table_cell(table, mohm.text);
  }
}

/* The picture: names in a first column, the rest wrapped beside it. */
struct picture {
  struct tv_page *page;
  size_t width; /* of the first column */
};

enum { WHAT_MOST = 24 };

static void line(const struct picture *picture, const char *what, const char *text) {
  char start[2 * TAILVOLT_NAME_MAX + 8], name[2 * TAILVOLT_NAME_MAX];
  size_t wide = tv_page_clean(picture->page, name, sizeof name, what);
  if (wide > picture->width) {
    tv_page_line(picture->page, "  %s", name);
    name[0] = '\0';
    wide = 0;
  }
  snprintf(start, sizeof start, "  %s%*s", name, (int)(picture->width - wide) + 2, "");
  tv_page_wrapped(picture->page, start, text);
}

static void widen(struct picture *picture, const char *kind, const char *name) {
  size_t wide = strlen(kind) + 1 + tv_columns(name);
  if (wide > picture->width && wide <= WHAT_MOST) picture->width = wide;
}

/* As wide as the longest name that is not too long. */
static struct picture begin_picture(struct tv_page *page, const struct tailvolt_system *system) {
  struct picture picture = {page, strlen("alternator")};
  for (int k = 0; k < system->battery_count; k++)
    if (strcmp(system->batteries[k].name, "battery") != 0)
      widen(&picture, "battery", system->batteries[k].name);
  for (int k = 0; k < system->capacitor_count; k++) widen(&picture, "capacitor", system->capacitors[k].name);
  for (int k = 0; k < system->isolator_count; k++) widen(&picture, "isolator", system->isolators[k].name);
  for (int k = 0; k < system->amplifier_count; k++) widen(&picture, "amplifier", system->amplifiers[k].name);
  for (int k = 0; k < system->programme_count; k++) widen(&picture, "programme", system->programmes[k].name);
  return picture;
}

static void alternator_line(const struct picture *picture, const struct tailvolt_system *system) {
  const struct tailvolt_alternator *machine = &system->alternator;
  char text[TAILVOLT_TEXT_MAX] = "";
  if (!machine->present) {
    line(picture, "alternator", "none");
    return;
  }
  if (isfinite(machine->fixed_output_a)) {
    tv_append(text, sizeof text, "%s A at any speed", tv_compact(machine->fixed_output_a, 1).text);
  } else {
    for (int k = machine->output_count; k-- > 0;)
      tv_append(text, sizeof text, "%s%s A at %s rpm%s", k + 1 < machine->output_count ? ", " : "",
          tv_compact(machine->output_a[k], 1).text, tv_compact(machine->output_rpm[k], 0).text,
          k + 1 == machine->output_count ? " of its rotor" : "");
    tv_append(text, sizeof text, "; at idle it turns at %s rpm (%s x %s)",
        tv_compact(system->engine.idle_rpm * machine->pulley_ratio, 0).text,
        tv_compact(system->engine.idle_rpm, 0).text, tv_compact(machine->pulley_ratio, 2).text);
  }
  if (machine->set_point_high_v > machine->set_point_low_v)
    tv_append(text, sizeof text, "; the engine's computer moves its set point from %s to %s V, the low end only above %s %% of charge",
        tv_compact(machine->set_point_low_v, 2).text, tv_compact(machine->set_point_high_v, 2).text,
        tv_compact(100.0 * machine->low_end_above_frac, 0).text);
  else
    tv_append(text, sizeof text, "; holds %s V", tv_compact(machine->set_point_v, 2).text);
  if (machine->drift_v_per_k != 0.0 && !(machine->set_point_high_v > machine->set_point_low_v))
    tv_append(text, sizeof text, " at %s, %s mV %s for each degree above",
        tv_temperature(25.0, picture->page->style.us_units).text,
        tv_compact(fabs(machine->drift_v_per_k) * 1000.0 / (picture->page->style.us_units ? 1.8 : 1.0), 1).text,
        machine->drift_v_per_k > 0.0 ? "more" : "less");
  line(picture, system->converter.present ? "converter" : "alternator", text);
}

static void battery_line(const struct picture *picture, const struct tailvolt_system *system, int k) {
  static const char *const places[] = {"in the cabin", "in the engine bay", "in the boot", "in the bed"};
  const struct tailvolt_battery *from = &system->batteries[k];
  char name[TAILVOLT_NAME_MAX + 16], text[TAILVOLT_TEXT_MAX] = "";
  bool named = from->name[0] != '\0' && strcmp(from->name, "battery") != 0;
  snprintf(name, sizeof name, "battery%s%s", named ? " " : "", named ? from->name : "");
  tv_append(text, sizeof text, "%s Ah, %s", tv_compact(from->capacity_ah, 1).text, tv_battery_word(from->kind));
  if (isfinite(from->resistance_ohm))
    tv_append(text, sizeof text, ", %s mohm inside", tv_compact(from->resistance_ohm * 1000.0, 2).text);
  else
    tv_append(text, sizeof text, ", %s A %s cold cranking", tv_compact(from->cold_cranking_a, 0).text,
        tv_cranking_word(from->cold_cranking_standard));
  if (isfinite(from->soc_frac))
    tv_append(text, sizeof text, "; %s %% charged", tv_compact(100.0 * from->soc_frac, 1).text);
  else
    tv_append(text, sizeof text, "; rested at %s V", tv_compact(from->rested_v, 2).text);
  if (from->health_frac != 1.0)
    tv_append(text, sizeof text, ", holds %s %% of its label's charge",
        tv_compact(100.0 * from->health_frac, 1).text);
  if (from->cranking_health_frac != 1.0)
    tv_append(text, sizeof text, ", cranks with %s %% of its label's current",
        tv_compact(100.0 * from->cranking_health_frac, 1).text);
  tv_append(text, sizeof text, "; %s%s", places[from->place], from->vented ? ", vented" : "");
  if (system->battery_count > 1 && k == system->engine.starter_battery) tv_append(text, sizeof text, "; starts the car");
  line(picture, name, text);
}

static const char *running_words(const struct tailvolt_system *system) {
  return system->vehicle.charging == TAILVOLT_CHARGING_CONVERTER ? "car is ready" : "engine runs";
}

static void storage_lines(const struct picture *picture, const struct tailvolt_system *system) {
  char name[TAILVOLT_NAME_MAX + 16], text[TAILVOLT_TEXT_MAX];
  for (int k = 0; k < system->battery_count; k++) battery_line(picture, system, k);
  for (int k = 0; k < system->capacitor_count; k++) {
    const struct tailvolt_capacitor *from = &system->capacitors[k];
    tv_section_words(TAILVOLT_PART_CAPACITOR, from->name, name, sizeof name);
    snprintf(text, sizeof text, "%s F behind %s mohm", tv_compact(from->capacitance_f, 3).text,
             tv_compact(from->esr_ohm * 1000.0, 2).text);
    line(picture, name, text);
  }
  for (int k = 0; k < system->isolator_count; k++) {
    const struct tailvolt_isolator *from = &system->isolators[k];
    tv_section_words(TAILVOLT_PART_ISOLATOR, from->name, name, sizeof name);
    snprintf(text, sizeof text, "%s from %s to %s%s%s", tv_isolator_kind_word(from->kind), point(system, from->from),
             point(system, from->to),
             from->by_engine ? ", on while the " : from->sense_either ? ", by the higher voltage of the two" : "",
             from->by_engine ? running_words(system) : "");
    line(picture, name, text);
  }
}

static void load_lines(const struct picture *picture, const struct tailvolt_system *system) {
  static const char *const behaviours[] = {"", " (constant power)", " (constant current)"};
  char text[4 * TAILVOLT_TEXT_MAX] = "";
  if (isfinite(system->vehicle.base_load_a))
    tv_append(text, sizeof text, "%s A while the %s", tv_compact(system->vehicle.base_load_a, 1).text, running_words(system));
  for (int k = 0; k < system->load_count; k++) {
    const struct tailvolt_load *from = &system->loads[k];
    /* a base load replaces them */
    if (isfinite(system->vehicle.base_load_a) && from->power_w == 0.0) continue;
    tv_append(text, sizeof text, "%s%s %s W%s", text[0] != '\0' ? "; " : "", from->name,
        tv_compact(from->power_w, 1).text, behaviours[from->behaviour]);
  }
  /* the file's loads replace the usual base load: a single one is seldom all that a car takes */
  double sum_w = 0.0;
  for (int k = 0; k < system->load_count; k++) sum_w += system->loads[k].power_w;
  if (system->standard_car && sum_w > 0.0 && sum_w < 300.0 && !isfinite(system->vehicle.base_load_a))
    tv_append(text, sizeof text, ", and nothing besides what [load] names: engine, lights and blower take 25 to 50 A at night in the rain");
  line(picture, "car takes", text[0] != '\0' ? text : "nothing");
}

static void amplifier_lines(const struct picture *picture, const struct tailvolt_system *system) {
  char name[TAILVOLT_NAME_MAX + 16], text[TAILVOLT_TEXT_MAX];
  for (int k = 0; k < system->amplifier_count; k++) {
    const struct tailvolt_amplifier *from = &system->amplifiers[k];
    tv_section_words(TAILVOLT_PART_AMPLIFIER, from->name, name, sizeof name);
    text[0] = '\0';
    tv_append(text, sizeof text, "%s W at %s V, class %s, %s, %s %% efficient", tv_compact(from->rated_w, 1).text,
        tv_compact(from->rated_v, 1).text, from->topology == TAILVOLT_CLASS_D ? "D" : "AB",
        from->regulated ? "regulated" : "unregulated", tv_compact(100.0 * from->efficiency_frac, 1).text);
    if (from->cut_out_v > 0.0)
      tv_append(text, sizeof text, "; cuts out below %s V", tv_compact(from->cut_out_v, 1).text);
    if (from->level_offset_db != 0.0)
      tv_append(text, sizeof text, "; plays at %s dB", tv_compact(from->level_offset_db, 1).text);
    line(picture, name, text);
  }
}

static void programme_line(const struct picture *picture, const struct tailvolt_programme *from) {
  char name[TAILVOLT_NAME_MAX + 16], text[2 * TAILVOLT_TEXT_MAX] = "";
  struct tv_number bass = tv_compact(from->bass_hz, 1);
  snprintf(name, sizeof name, "programme %s", from->name);
  if (from->recording[0] != '\0')
    tv_append(text, sizeof text, "recording %.120s, bass note %s Hz", from->recording, bass.text);
  else if (from->envelope[0] != '\0')
    tv_append(text, sizeof text, "envelope %.120s, bass note %s Hz", from->envelope, bass.text);
  else if (from->style[0] != '\0')
    tv_append(text, sizeof text, "style %.120s", from->style);
  else
    tv_append(text, sizeof text,
        "crest factor %s dB (%s of rated power on average), %s beats a minute, bass note %s Hz",
        tv_compact(from->crest_db, 2).text, tv_percent(200.0 * pow(10.0, -from->crest_db / 10.0)).text,
        tv_compact(from->tempo_per_min, 1).text, bass.text);
  line(picture, name, text);
}

static void target_line(const struct picture *picture, const struct tailvolt_system *system) {
  char text[4 * TAILVOLT_TEXT_MAX] = "";
  const struct tailvolt_targets *from = &system->targets;
  tv_append(text, sizeof text,
      "%s V at the amplifier with the engine on, %s V off, missed at most %s %% of the time",
      tv_compact(from->voltage_v, 2).text, tv_compact(from->voltage_parked_v, 2).text,
      tv_compact(100.0 * from->missed_frac, 2).text);
  for (int k = 0; k < system->amplifier_count; k++)
    if (isfinite(system->amplifiers[k].target_v))
      tv_append(text, sizeof text, "; %s: %s V", system->amplifiers[k].name,
          tv_fixed(system->amplifiers[k].target_v, 1).text);
  tv_append(text, sizeof text, " (holds with 0.1 V to spare, fails 0.08 V below it or where an amplifier cuts out)");
  if (system->vehicle.charging != TAILVOLT_CHARGING_NONE)
    tv_append(text, sizeof text, "; %s at idle to half charge, and no charge lost over %s %% idle and %s %% road",
        tv_duration(from->idle_endurance_s).text, tv_compact(100.0 * from->idle_frac, 1).text,
        tv_compact(100.0 - 100.0 * from->idle_frac, 1).text);
  if (isfinite(from->parked_s))
    tv_append(text, sizeof text, "; %s of playing parked", tv_duration(from->parked_s).text);
  line(picture, "wanted", text);
}

/* A part of the feed path to an amplifier: "feed cable" and its milliohms. */
static double strip_part(const struct tailvolt_system *system, const struct tv_feed_path_part *from, char *name,
                         size_t size, struct tv_strip_part *to) {
  double ohm;
  if (from->isolator) {
    const struct tailvolt_isolator *isolator = &system->isolators[from->index];
    ohm = isolator->resistance_ohm;
    snprintf(name, size, "%s", isolator->name);
  } else {
    const struct tailvolt_conductor *conductor = &system->conductors[from->index];
    ohm = conductor->resistance_ohm;
    tv_part_spoken(tv_part_of_conductor(conductor->kind), conductor->name, name, size);
  }
  *to = (struct tv_strip_part){.name = name};
  snprintf(to->below, sizeof to->below, "%s", tv_fixed(ohm * 1000.0, 2).text);
  return ohm;
}

/* Fills the feed path in the order the current takes; returns the sum. *split: parts before the ground
 * side. */
static double fill_feed_path(const struct tailvolt_system *system, int amplifier, const char *battery,
                        const struct tv_feed_path_part *part, int count, struct tv_strip_part *strip, char (*names)[TAILVOLT_NAME_MAX + 64],
                        int *split) {
  double sum_ohm = 0.0, worst_ohm = 0.0;
  int at = 0, worst = 0;
  *split = 0;
  strip[at++] = (struct tv_strip_part){.name = battery};
  for (int k = 0; k <= count; k++) {
    if (*split == 0 && (k == count || part[k].ground_side)) {
      strip[at++] = (struct tv_strip_part){.name = system->amplifiers[amplifier].name};
      *split = at;
    }
    if (k == count) break;
    double ohm = strip_part(system, &part[k], names[k], sizeof names[k], &strip[at]);
    if (ohm > worst_ohm) worst = at;
    worst_ohm = fmax(worst_ohm, ohm);
    sum_ohm += ohm;
    at++;
  }
  strip[worst].marked = worst_ohm > 0.0;
  return sum_ohm;
}

/* The feed path of an amplifier with each part's resistance beneath it: where the volts will go. */
static void feed_path(struct tv_page *page, const struct tailvolt_system *system, int amplifier) {
  struct tv_feed_path_part *part = NULL;
  char from[TAILVOLT_NAME_MAX + 16] = "";
  int count = 0, split = 0, battery = -1;
  enum tailvolt_status status = tv_feed_path_find(system, amplifier, &part, &count, &battery);
  struct tv_strip_part *strip = calloc((size_t)count + 3, sizeof *strip);
  char(*names)[TAILVOLT_NAME_MAX + 64] = calloc((size_t)count + 1, sizeof *names);
  if (status != TAILVOLT_OK || strip == NULL || names == NULL) {
    page->text.failed = true;
  } else if (count > 0) {
    tv_part_spoken(TAILVOLT_PART_BATTERY, system->battery_count > 1 ? system->batteries[battery].name : "", from, sizeof from);
    double ohm = fill_feed_path(system, amplifier, from, part, count, strip, names, &split);
    tv_page_heading(page, "FEED PATH of %s, there and back: %s mohm at %s, that is %s V lost at 100 A",
                    system->amplifiers[amplifier].name, tv_fixed(ohm * 1000.0, 1).text,
                    page->style.us_units ? "68 F" : "20 C", tv_fixed(ohm * 100.0, 2).text);
    tv_text_strip(page, strip, split, "  feed    + ");
    if (count + 2 > split) tv_text_strip(page, strip + split, count + 2 - split, "  return  - ");
  }
  free(part);
  free(strip);
  free(names);
}

static void placed_row(struct tv_table *table, const struct tailvolt_system *system, const char *kind,
                       const char *name, int plus, int minus) {
  part_row(table, system, kind, strcmp(kind, name) == 0 ? "" : name, plus, minus, "");
  tv_table_cell(table, "");
}

/* Where everything that is not a cable sits. */
static void placed_rows(struct tv_table *table, const struct tailvolt_system *system) {
  if (system->alternator.present)
    placed_row(table, system, system->converter.present ? "converter" : "alternator", "",
               system->alternator.positive, system->alternator.negative);
  for (int k = 0; k < system->battery_count; k++) {
    const struct tailvolt_battery *from = &system->batteries[k];
    placed_row(table, system, "battery", from->name, from->positive, from->negative);
  }
  for (int k = 0; k < system->capacitor_count; k++) {
    const struct tailvolt_capacitor *from = &system->capacitors[k];
    placed_row(table, system, "capacitor", from->name, from->positive, from->negative);
  }
  for (int k = 0; k < system->load_count; k++) {
    const struct tailvolt_load *from = &system->loads[k];
    placed_row(table, system, "load", from->name, from->positive, from->negative);
  }
  for (int k = 0; k < system->amplifier_count; k++) {
    const struct tailvolt_amplifier *from = &system->amplifiers[k];
    placed_row(table, system, "amplifier", from->name, from->positive, from->negative);
  }
  for (int k = 0; k < system->meter_count; k++) {
    const struct tailvolt_meter *from = &system->meters[k];
    placed_row(table, system, "meter", from->name, from->positive, from->negative);
  }
}

/* What was measured on this car, so that only the meter's tolerance counts. */
static void measured_line(const struct picture *picture, const struct tailvolt_system *system) {
  char text[4 * TAILVOLT_TEXT_MAX] = "";
  for (int k = 0; k < system->measured_count; k++)
    tv_append(text, sizeof text, "%s%s", k > 0 ? ", " : "", system->measured[k].key);
  if (system->measured_count > 0) line(picture, "measured", text);
}

/* The points that added parts may connect to. */
static void points_line(struct tv_page *page, const struct tailvolt_system *system) {
  char text[8 * TAILVOLT_TEXT_MAX] = "";
  tv_page_heading(page, "POINTS that meters, loads, joints and cables of the file may join");
  for (int k = 0; k < system->point_count; k++)
    tv_append(text, sizeof text, "%s%s", k > 0 ? ", " : "", system->point_names[k]);
  tv_page_wrapped(page, "  ", text);
}

/* Readable is not safe: what can be known without a run is said here too. */
static void wiring_safety(struct tv_page *page, const struct tailvolt_system *system) {
  struct tv_finding_list list;
  memset(&list, 0, sizeof list);
  if (tv_safety_check(system, NULL, &list) != TAILVOLT_OK) page->text.failed = true;
  else tv_text_wiring_safety(page, list.finding, list.count);
  tv_finding_list_free(&list);
}

char *tv_system_understood(const struct tailvolt_system *system, const struct tailvolt_report_style *style) {
  static const struct tv_column wiring[] = {
      {"part", false, 0}, {"from", false, 20}, {"to", false, 20}, {"is", false, 0}, {"mohm", true, 0}};
  struct tv_page page = {.style = *style};
  struct tv_table table;
  char *out;
  bool named = system->vehicle.name[0] != '\0';
  tv_page_line(&page, "%s%s%s%s%s", system->file, named || system->standard_car ? ": " : "",
               system->vehicle.name, named && system->standard_car ? ", " : "",
               system->standard_car ? "wired as the standard car" : "");
  if (!system->standard_car) {
    char own[2 * TAILVOLT_NAME_MAX + 128];
    bool by_points = system->own_wiring[0] != '\0';
    snprintf(own, sizeof own, "%s%s%s wiring and loads are this file's: no part of the standard car is added", by_points ? "[" : "",
             system->own_wiring, by_points ? "] names its points, so all" : "all");
    tv_page_wrapped(&page, "  ", own);
  }
  struct picture picture = begin_picture(&page, system);
  alternator_line(&picture, system);
  storage_lines(&picture, system);
  load_lines(&picture, system);
  amplifier_lines(&picture, system);
  for (int k = 0; k < system->programme_count; k++) programme_line(&picture, &system->programmes[k]);
  target_line(&picture, system);
  measured_line(&picture, system);
  wiring_safety(&page, system);
  for (int k = 0; k < system->amplifier_count; k++) feed_path(&page, system, k);
  tv_page_heading(
      &page, "WIRING between %d points (from is plus, to is minus; mohm at %s, fuses with their holders)",
      system->point_count, style->us_units ? "68 F" : "20 C");
  tv_table_begin(&table, &page, wiring, 5);
  conductor_rows(&table, system, style->us_units);
  placed_rows(&table, system);
  tv_table_end(&table, "  ");
  if (system->standard_car) points_line(&page, system);
  tv_text_assumed(&page, system);
  return tv_buffer_finish(&page.text, &out) == TAILVOLT_OK ? out : NULL;
}

char *tv_batteries_explained(const struct tailvolt_system *system) {
  struct tv_buffer text = {0};
  char *out;
  for (int k = 0; k < system->battery_count; k++) {
    struct tv_battery *battery = NULL;
    /* it was sound when the file was checked: only memory can run out */
    if (tv_battery_create(&system->batteries[k], &battery, NULL) != TAILVOLT_OK) text.failed = true;
    size_t size = battery != NULL ? tv_battery_explain(battery, NULL, 0) + 1 : 0;
    char *lines = size > 0 ? malloc(size) : NULL;
    if (lines != NULL) {
      tv_battery_explain(battery, lines, size);
      tv_buffer_add(&text, lines);
    } else {
      text.failed = true;
    }
    free(lines);
    tv_battery_free(battery);
  }
  return tv_buffer_finish(&text, &out) == TAILVOLT_OK ? out : NULL;
}

/* What the rows of a profile amount to. */
struct course {
  double phase_s[TAILVOLT_PHASES];
  double playing_s, lowest_rpm, highest_rpm, lowest_c, highest_c, lowest_db, highest_db;
};

static void take_row(struct course *course, const struct tailvolt_row *row, double span_s,
                     const struct tailvolt_system *system) {
  /* idle is up to a quarter above idle speed, as in a run */
  int phase = !(row->engine_rpm > 0.0)                            ? TAILVOLT_PARKED
              : row->engine_rpm <= 1.25 * system->engine.idle_rpm ? TAILVOLT_IDLE
                                                                  : TAILVOLT_ROAD;
  bool plays = false;
  course->phase_s[phase] += span_s;
  if (phase != TAILVOLT_PARKED) course->lowest_rpm = fmin(course->lowest_rpm, row->engine_rpm);
  course->highest_rpm = fmax(course->highest_rpm, row->engine_rpm);
  course->lowest_c = fmin(course->lowest_c, row->ambient_c);
  course->highest_c = fmax(course->highest_c, row->ambient_c);
  for (int k = 0; k < system->amplifier_count; k++) {
    const struct tailvolt_amplifier_row *from = &row->amplifier[k];
    bool given = from->output_w > 0.0 || from->supply_w > 0.0 || from->supply_a > 0.0;
    if (!from->powered || (from->programme == TAILVOLT_SILENCE && !given)) continue;
    plays = true;
    course->lowest_db = fmin(course->lowest_db, from->level_db);
    course->highest_db = fmax(course->highest_db, from->level_db);
  }
  if (plays) course->playing_s += span_s;
}

static enum tailvolt_status run_through(const struct tailvolt_profile *profile,
                                        const struct tailvolt_system *system, struct course *course) {
  struct tailvolt_profile_cursor *cursor = NULL;
  const struct tailvolt_row *row = NULL, *next = NULL;
  *course = (struct course){.lowest_rpm = HUGE_VAL,
                            .lowest_c = HUGE_VAL,
                            .highest_c = -HUGE_VAL,
                            .lowest_db = HUGE_VAL,
                            .highest_db = -HUGE_VAL};
  enum tailvolt_status status = tailvolt_profile_open(profile, &cursor);
  if (status == TAILVOLT_OK) status = tailvolt_profile_next(cursor, &row);
  while (status == TAILVOLT_OK && (status = tailvolt_profile_next(cursor, &next)) == TAILVOLT_OK &&
         next != NULL) {
    take_row(course, row, next->time_s - row->time_s, system);
    row = next;
  }
  tailvolt_profile_close(cursor);
  return status;
}

/* "5", or "5 to 8" where they differ. */
static struct tv_number range(double low, double high) {
  struct tv_number both = tv_compact(low, 1);
  size_t length = strlen(both.text);
  if (high > low)
    snprintf(both.text + length, sizeof both.text - length, " to %.16s", tv_compact(high, 1).text);
  return both;
}

static void course_lines(struct tv_page *page, const struct course *course) {
  char text[TAILVOLT_TEXT_MAX] = "";
  for (int p = 0; p < TAILVOLT_PHASES; p++)
    if (course->phase_s[p] > 0.0)
      tv_append(text, sizeof text, "%s%s %s", text[0] != '\0' ? ", " : "", tv_phase_place(p),
          tv_duration(course->phase_s[p]).text);
  if (course->highest_rpm > 0.0)
    tv_append(text, sizeof text, "; engine at %s rpm", range(course->lowest_rpm, course->highest_rpm).text);
  tv_append(text, sizeof text, "; air of %s %s",
      page->style.us_units ? range(32.0 + 1.8 * course->lowest_c, 32.0 + 1.8 * course->highest_c).text
                           : range(course->lowest_c, course->highest_c).text,
      page->style.us_units ? "F" : "C");
  tv_page_wrapped(page, "  ", text);
  text[0] = '\0';
  if (course->playing_s > 0.0)
    tv_append(text, sizeof text, "plays for %s, level %s dB", tv_duration(course->playing_s).text,
        range(course->lowest_db, course->highest_db).text);
  tv_page_line(page, "  %s", text[0] != '\0' ? text : "nothing plays");
}

char *tv_profile_understood(const char *path, const struct tailvolt_profile *profile,
                            const struct tailvolt_system *system, const struct tailvolt_report_style *style) {
  struct tv_page page = {.style = *style};
  struct course course;
  char *out;
  double start_s = tailvolt_profile_start_s(profile), end_s = tailvolt_profile_end_s(profile);
  tv_page_line(&page, "%s: %ld rows, %s from %s to %s, for %s", path, tailvolt_profile_row_count(profile),
               tv_duration(end_s - start_s).text, tv_clock(start_s).text, tv_clock(end_s).text, system->file);
  if (run_through(profile, system, &course) == TAILVOLT_OK)
    course_lines(&page, &course);
  else
    page.text.failed = true;
  for (int k = 0; k < system->amplifier_count; k++)
    if (tailvolt_profile_prescribes(profile, k))
      tv_page_line(&page, "  prescribes what amplifier %s takes", system->amplifiers[k].name);
  return tv_buffer_finish(&page.text, &out) == TAILVOLT_OK ? out : NULL;
}
