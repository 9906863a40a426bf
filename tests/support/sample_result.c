#include "support/sample_result.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static void name(char *to, size_t size, const char *text) { snprintf(to, size, "%s", text); }
#define NAME(to, text) name(to, sizeof(to), text)

static void entry(struct sample *s, const char *part, const char *kind, double current_a, double drop_v,
                  bool ground) {
  static const char *const wires[] = {"cable", "strap", "joint", "fuse"}, *const drops[] = {
      "", "charging voltage lost", "alternator at its limit", "battery resistance", "polarization", "charge used"};
  struct tailvolt_ledger_entry *e = &s->entries[s->ledger.entry_count++];
  e->part_kind = TAILVOLT_PART_BATTERY;
  for (int k = 0; k < 4; k++)
    if (strcmp(kind, wires[k]) == 0) e->part_kind = TAILVOLT_PART_CABLE + (enum tailvolt_part_kind)k;
  for (int k = 1; k < 6; k++)
    if (strcmp(kind, drops[k]) == 0) e->drop = (enum tailvolt_drop)k;
  e->index = e->drop == TAILVOLT_DROP_WIRING ? s->ledger.entry_count : 0;
  const char *blank = strchr(part, ' ');
  NAME(e->name, blank != NULL ? blank + 1 : part);
  e->current_a = current_a;
  e->drop_v = drop_v;
  e->share_pct = 100.0 * drop_v / 1.8;
  e->ground_side = ground;
}

static void ledger(struct sample *s) {
  NAME(s->ledger.amplifier, "bass");
  NAME(s->ledger.battery, "starter");
  s->ledger.time_s = 252.0;
  s->ledger.rest_v = 12.7;
  s->ledger.terminal_v = 10.9;
  s->ledger.entries = s->entries;
  s->ledger.residual_v = 3e-13;
  entry(s, "battery starter", "battery resistance", 60.0, 0.40, false);
  entry(s, "battery starter", "polarization", 60.0, 0.08, false);
  entry(s, "fuse main", "fuse", 60.0, 0.19, false);
  entry(s, "cable feed", "cable", 60.0, 0.72, false);
  entry(s, "cable ground", "cable", 60.0, 0.21, true);
  entry(s, "joint body stud", "joint", 60.0, 0.10, true);
  entry(s, "cable negative lead", "cable", 40.0, 0.10, true);
  s->result.ledger_count = 1;
  s->result.ledgers = &s->ledger;
}

static void amplifier(struct sample *s) {
  struct tailvolt_amplifier_result *a = &s->amplifiers[0];
  NAME(a->name, "bass");
  a->rest_v = 12.7;
  a->min_v = 10.9;
  a->min_time_s = 252.0;
  a->min_without_ripple_v = 11.1;
  a->mean_v = 12.25;
  a->low_1pct_v = 11.02;
  a->meter_min_v = 11.3;
  a->start_min_v = (double)NAN;
  a->target_v = 12.0;
  a->below_target_pct = 15.5;
  a->mean_a = 30.0;
  a->peak_a = 75.0;
  a->input_j = 441000.0;
  a->output_j = 300000.0;
  a->lost_output_db = 0.25;
  a->play_s = 1200.0;
  a->first_collapse_s = (double)NAN;
  a->phase[TAILVOLT_IDLE] = (struct tailvolt_amplifier_phase){
      .play_s = 600.0, .min_v = 10.9, .min_time_s = 252.0, .low_1pct_v = 11.02, .quantile_v = 11.02, .below_target_pct = 31.0,
      .target_v = 12.0, .mean_a = 36.0};
  a->phase[TAILVOLT_ROAD] = (struct tailvolt_amplifier_phase){
      .play_s = 600.0, .min_v = 12.9, .min_time_s = 700.0, .low_1pct_v = 13.0, .quantile_v = 13.0, .below_target_pct = 0.0,
      .target_v = 12.0, .mean_a = 24.0};
  a->plus_drop_v = 0.455;
  a->minus_drop_v = 0.2;
  a->drop_at_a = 30.0;
  a->play_mean_v = 12.2;
  s->result.amplifier_count = 1;
  s->result.amplifiers = s->amplifiers;
}

static void wiring(struct sample *s) {
  static const char *const names[] = {"main", "feed", "ground", "body stud"};
  static const enum tailvolt_conductor_kind kinds[] = {TAILVOLT_FUSE, TAILVOLT_CABLE, TAILVOLT_CABLE,
                                                       TAILVOLT_JOINT};
  for (int k = 0; k < 4; k++) {
    bool cable = kinds[k] == TAILVOLT_CABLE;
    struct tailvolt_conductor_result *c = &s->conductors[k];
    *c = (struct tailvolt_conductor_result){.kind = kinds[k], .rms_a = 36.0, .peak_a = 75.0,
                                            .max_drop_v = 0.9, .loss_j = 9000.0, .loss_w = 7.5};
    NAME(c->name, names[k]);
    c->status = TAILVOLT_COOL;
    c->end_c = cable ? 42.0 : (double)NAN;
    c->steady_c = cable ? 48.0 : (double)NAN;
    c->insulation_limit_c = cable ? 105.0 : (double)NAN;
    c->ampacity_a = cable ? 60.0 : (double)NAN;
    s->parts[k] = (struct tailvolt_conductor){.kind = kinds[k], .resistance_ohm = 0.012, .length_m = 5.5,
                                              .area_m2 = cable ? 8.2e-6 : 0.0, .rating_a = 80.0,
                                              .distance_m = 0.3};
    NAME(s->parts[k].name, names[k]);
    NAME(s->parts[k].size, cable ? "8 AWG" : "");
  }
  s->result.conductor_count = 4;
  s->result.conductors = s->conductors;
  s->fuse = (struct tailvolt_fuse_result){.rating_a = 80.0, .rms_a = 36.0, .peak_a = 75.0, .margin_pct = 55.0,
                                          .opens_time_s = (double)NAN, .cable_ampacity_a = 64.6, .largest_a = 60.0};
  NAME(s->fuse.name, "main");
  s->result.fuse_count = 1;
  s->result.fuses = &s->fuse;
}

static void supply(struct sample *s) {
  s->battery = (struct tailvolt_battery_result){
      .start_soc_pct = 90.0, .end_soc_pct = 88.5, .min_soc_pct = 87.0, .min_v = 11.6, .end_rest_v = 12.6,
      .charge_in_ah = 1.5, .charge_out_ah = 2.55, .discharged_j = 111000.0, .charged_j = 75000.0,
      .loss_j = 5000.0, .capacity_ah = 70.0};
  NAME(s->battery.name, "starter");
  s->result.battery_count = 1;
  s->result.batteries = &s->battery;
  s->result.alternator = (struct tailvolt_alternator_result){
      .present = true, .output_j = 1.1e6, .mean_a = 65.0, .peak_a = 104.0, .at_limit_pct = 50.0,
      .mean_available_a = 81.0, .mean_shaft_w = 1700.0, .end_c = 95.0};
  s->capacitor = (struct tailvolt_capacitor_result){.min_v = 11.0, .peak_a = 20.0, .loss_j = 33.0};
  NAME(s->capacitor.name, "stiffener");
  s->result.capacitor_count = 1;
  s->result.capacitors = &s->capacitor;
  s->meter = (struct tailvolt_meter_result){.rest_v = 12.7, .min_v = 10.9, .mean_v = 12.25, .max_v = 14.2};
  NAME(s->meter.name, "at the amplifier");
  s->result.meter_count = 1;
  s->result.meters = &s->meter;
  s->result.driving = (struct tailvolt_budget){
      .present = true, .duration_s = 1200.0, .available_a = 81.0, .generation_a = 65.0, .base_a = 41.0,
      .amplifier_a = 30.0, .battery_a = -6.0, .surplus_a = 10.0};
  s->result.phase_budget[TAILVOLT_IDLE] = (struct tailvolt_budget){
      .present = true, .duration_s = 600.0, .available_a = 58.0, .generation_a = 58.0, .base_a = 41.0,
      .amplifier_a = 36.0, .battery_a = -19.0, .surplus_a = -19.0};
  s->result.phase_budget[TAILVOLT_ROAD] = (struct tailvolt_budget){
      .present = true, .duration_s = 600.0, .available_a = 104.0, .generation_a = 72.0, .base_a = 41.0,
      .amplifier_a = 24.0, .battery_a = 7.0, .surplus_a = 39.0};
  s->result.energy = (struct tailvolt_energy_result){
      .generated_j = 1.1e6, .from_storage_j = 36000.0, .loads_j = 645000.0, .amplifiers_j = 441000.0,
      .losses_j = 50000.0, .residual_j = 1.25e-9};
}

/* The feed below its target for 31 % of the time at idle, and an 80 A fuse on an 8 AWG cable. */
static void reasons(struct sample *s) {
  s->reasons[0] = (struct tailvolt_reason){
      .kind = TAILVOLT_REASON_BELOW_TARGET, .status = TAILVOLT_FAILS, .topic = TAILVOLT_ABOUT_VOLTAGE,
      .phase = TAILVOLT_IDLE, .about = {.kind = TAILVOLT_PART_AMPLIFIER, .name = "bass"}, .number = 11.02, .limit = 12.0,
      .share_pct = 31.0, .allowed_pct = 1.0, .least_v = 10.9, .time_s = 252.0, .from_v = 0.08};
  s->reasons[1] = (struct tailvolt_reason){
      .kind = TAILVOLT_REASON_SAFETY, .status = TAILVOLT_FAILS, .topic = TAILVOLT_ABOUT_SAFETY, .phase = -1,
      .about = {.kind = TAILVOLT_PART_FUSE, .name = "main"},
      .finding = {.kind = TAILVOLT_FOUND_FUSE_TOO_BIG, .status = TAILVOLT_FAILS, .part_count = 2, .current_a = 80.0,
                  .most_a = 60.0, .limit_a = 64.6, .air_c = 30.0, .limit_c = 105.0,
                  .part = {{.kind = TAILVOLT_PART_FUSE, .name = "main"},
                           {.kind = TAILVOLT_PART_CABLE, .index = 1, .name = "feed", .size = "8 AWG"}}}};
  s->result.reason_count = 2;
}

static void common(struct sample *s) {
  memset(s, 0, sizeof *s);
  struct tailvolt_result *r = &s->result;
  NAME(r->system, "Puppet theatre van");
  NAME(r->profile, "evening.csv");
  r->duration_s = 1200.0;
  r->step_s = 0.001;
  r->steps = 1200000;
  r->state_hash = 0x0123456789abcdefull;
  r->reasons = s->reasons;
  r->cautions = s->cautions;
  amplifier(s);
  ledger(s);
  wiring(s);
  supply(s);
  s->system.targets.missed_frac = 0.01;
  NAME(s->system.vehicle.name, "Puppet theatre van");
  s->system.conductor_count = 4;
  s->system.conductors = s->parts;
  s->system.assumption_count = 9;
  s->system.assumptions = s->assumptions;
  for (int k = 0; k < 9; k++) {
    char key[96];
    snprintf(key, sizeof key, "joint number %d.resistance", k + 1);
    NAME(s->assumptions[k].key, key);
    NAME(s->assumptions[k].value, "0.3 mohm");
  }
}

void sample_fails(struct sample *s) {
  common(s);
  s->result.status = TAILVOLT_FAILS;
  s->result.phases[TAILVOLT_IDLE] = (struct tailvolt_phase_result){true, 600.0, TAILVOLT_FAILS};
  s->result.phases[TAILVOLT_ROAD] = (struct tailvolt_phase_result){true, 600.0, TAILVOLT_HOLDS};
  reasons(s);
  s->cautions[0] = (struct tailvolt_finding){.kind = TAILVOLT_FOUND_RIPPLE_COARSE};
  s->result.caution_count = 1;
}

void sample_holds(struct sample *s) {
  common(s);
  s->result.status = TAILVOLT_HOLDS;
  s->result.phases[TAILVOLT_IDLE] = (struct tailvolt_phase_result){true, 600.0, TAILVOLT_HOLDS};
  s->result.phases[TAILVOLT_ROAD] = (struct tailvolt_phase_result){true, 600.0, TAILVOLT_HOLDS};
  struct tailvolt_amplifier_phase *idle = &s->amplifiers[0].phase[TAILVOLT_IDLE];
  idle->min_v = 12.4;
  idle->low_1pct_v = idle->quantile_v = 12.5;
  s->amplifiers[0].meter_min_v = 12.5;
  idle->below_target_pct = 0.0;
  s->amplifiers[0].min_v = 12.4;
  s->amplifiers[0].below_target_pct = 0.0;
  s->fuse.rating_a = 60.0;
  s->parts[0].rating_a = 60.0;
}
