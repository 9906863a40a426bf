/* Sections that describe the car and what it plays, and join no points: vehicle, engine, targets, tolerance, programmes. */
#include <math.h>

#include "input/system_draft.h"
#include "text/text.h"

void tv_part_name(char *to, const struct tv_part *part) {
  tv_copy_text(to, TAILVOLT_NAME_MAX, part->name[0] != '\0' ? part->name : tv_kind_word(part->kind));
}

static void build_vehicle(struct tailvolt_system *system, const struct tv_part *part) {
  struct tailvolt_vehicle *v = &system->vehicle;
  tv_copy_text(v->name, sizeof v->name, tv_text(part, TV_K_VEHICLE_NAME));
  v->ambient_c = tv_number(part, TV_K_AMBIENT);
  v->engine_bay_c = tv_number(part, TV_K_ENGINE_BAY);
  v->warming_s = tv_number(part, TV_K_WARMING);
  v->charging = (enum tailvolt_charging)tv_word(part, TV_K_CHARGING);
  v->battery_sensor = tv_word(part, TV_K_BATTERY_SENSOR) == 1;
  v->base_load_a = tv_number(part, TV_K_BASE_LOAD);
  v->key_off_a = tv_number(part, TV_K_KEY_OFF);
  v->headlamps = (enum tailvolt_lamp)tv_word(part, TV_K_HEADLAMPS);
}

static void build_engine(struct tailvolt_system *system, const struct tv_part *part) {
  struct tailvolt_engine *e = &system->engine;
  e->displacement_l = tv_number(part, TV_K_ENGINE_SIZE);
  e->fuel = tv_word(part, TV_K_ENGINE_SIZE) == 1 ? TAILVOLT_DIESEL : TAILVOLT_PETROL;
  e->idle_rpm = tv_number(part, TV_K_IDLE_SPEED);
  e->cranking_a = tv_number(part, TV_K_CRANKING);
  e->breakaway_a = tv_number(part, TV_K_BREAKAWAY);
  e->cranking_s = tv_number(part, TV_K_CRANKING_TIME);
  e->simulate_starts = tv_word(part, TV_K_SIMULATE_STARTS) == 1;
  e->stop_and_start = tv_word(part, TV_K_STOP_START) == 1;
  const struct tv_value *needs = part->value[TV_K_START_NEEDS];
  e->start_needs_a = needs != NULL && needs->count > 0 ? needs->x[0] : (double)NAN;
  e->start_needs_s = needs != NULL && needs->count > 0 ? needs->y[0] : (double)NAN;
  e->start_floor_v = tv_number(part, TV_K_START_FLOOR);
}

static void build_targets(struct tailvolt_system *system, const struct tv_part *part) {
  struct tailvolt_targets *t = &system->targets;
  t->voltage_v = tv_number(part, TV_K_TARGET_V);
  t->voltage_parked_v = tv_number(part, TV_K_TARGET_PARKED_V);
  t->missed_frac = tv_number(part, TV_K_MISSED);
  t->parked_s = tv_number(part, TV_K_PARKED);
  t->idle_endurance_s = tv_number(part, TV_K_IDLE_ENDURANCE);
  t->idle_frac = tv_number(part, TV_K_IDLE_SHARE);
}

static void build_tolerance(struct tailvolt_system *system, const struct tv_part *part) {
  struct tailvolt_tolerance *t = &system->tolerance;
  t->health_frac = tv_number(part, TV_K_TOL_HEALTH);
  t->soc_frac = tv_number(part, TV_K_TOL_SOC);
  t->temperature_k = tv_number(part, TV_K_TOL_TEMPERATURE);
  t->resistance_frac = tv_number(part, TV_K_TOL_RESISTANCES);
  t->level_db = tv_number(part, TV_K_TOL_LEVEL);
  t->cranking_frac = tv_number(part, TV_K_TOL_CRANKING);
  t->base_load_frac = tv_number(part, TV_K_TOL_BASE_LOAD);
  t->set_point_v = tv_number(part, TV_K_TOL_SET_POINT);
  t->output_frac = tv_number(part, TV_K_TOL_OUTPUT);
  t->pulley_frac = tv_number(part, TV_K_TOL_PULLEY);
  t->idle_rpm = tv_number(part, TV_K_TOL_IDLE);
  t->power_frac = tv_number(part, TV_K_TOL_POWER);
  t->efficiency_frac = tv_number(part, TV_K_TOL_EFFICIENCY);
  t->cut_out_v = tv_number(part, TV_K_TOL_CUT_OUT);
  t->length_frac = tv_number(part, TV_K_TOL_LENGTH);
}

static void build_programme(struct tailvolt_system *system, const struct tv_part *part) {
  struct tailvolt_programme *p = &system->programmes[system->programme_count++];
  tv_part_name(p->name, part);
  p->crest_db = tv_number(part, TV_K_CREST);
  p->tempo_per_min = tv_number(part, TV_K_TEMPO);
  p->decay_s = tv_number(part, TV_K_DECAY);
  p->bass_hz = tv_number(part, TV_K_BASS_NOTE);
  p->phrases_frac = tv_number(part, TV_K_PHRASES);
  p->sections_frac = tv_number(part, TV_K_SECTIONS);
  double seed = tv_number(part, TV_K_SEED);
  p->seed = isnan(seed) ? 1UL : (unsigned long)seed;
  tv_copy_text(p->recording, sizeof p->recording, tv_text(part, TV_K_RECORDING));
  tv_copy_text(p->envelope, sizeof p->envelope, tv_text(part, TV_K_ENVELOPE));
  tv_copy_text(p->style, sizeof p->style, tv_text(part, TV_K_STYLE));
  p->below_hz = tv_has(part, TV_K_BELOW) ? tv_number(part, TV_K_BELOW) : 0;
  p->above_hz = tv_has(part, TV_K_ABOVE) ? tv_number(part, TV_K_ABOVE) : 0;
}

void tv_build_sections(const struct tv_draft *draft, struct tailvolt_system *system) {
  for (int p = 0; p < draft->part_count; p++) {
    const struct tv_part *part = draft->parts[p];
    if (part->skipped) continue;
    if (part->kind == TV_KIND_VEHICLE) build_vehicle(system, part);
    if (part->kind == TV_KIND_ENGINE) build_engine(system, part);
    if (part->kind == TV_KIND_TARGETS) build_targets(system, part);
    if (part->kind == TV_KIND_TOLERANCE) build_tolerance(system, part);
    if (part->kind == TV_KIND_PROGRAMME) build_programme(system, part);
  }
}
