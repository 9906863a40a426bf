/* What the numbers mean: the cause, the five plain answers, the hazards of the cures. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text/text.h"
#include "parts/conductor.h"
#include "text/finding_text.h"
#include "text/words.h"
#include "simulate/charge.h"
#include "study/remedy.h"

bool tv_loses_charge(const struct tailvolt_result *result) {
  for (int k = 0; k < result->reason_count; k++)
    if (result->reasons[k].topic == TAILVOLT_ABOUT_CHARGE && result->reasons[k].status == TAILVOLT_FAILS) return true;
  return false;
}

bool tv_is_safe(const struct tailvolt_result *result) {
  for (int k = 0; k < result->reason_count; k++)
    if (result->reasons[k].topic == TAILVOLT_ABOUT_SAFETY && result->reasons[k].status == TAILVOLT_FAILS) return false;
  return true;
}

static bool short_of_voltage(const struct tailvolt_result *result) {
  for (int k = 0; k < result->reason_count; k++)
    if (result->reasons[k].topic == TAILVOLT_ABOUT_VOLTAGE) return true;
  return false;
}

static double gain_of(const struct tailvolt_remedy *remedy, enum tailvolt_ideal ideal) {
  for (int k = 0; k < remedy->counterfactual_count; k++)
    if (remedy->counterfactuals[k].ideal == ideal && isfinite(remedy->counterfactuals[k].gain_v))
      return fmax(0.0, remedy->counterfactuals[k].gain_v);
  return 0.0;
}

/* The largest drop in the worst amplifier's wiring. */
static const struct tailvolt_ledger_entry *worst_wire(const struct tailvolt_result *result, int amplifier) {
  const struct tailvolt_ledger_entry *worst = NULL;
  for (int l = 0; l < result->ledger_count; l++) {
    if (amplifier >= 0 && l != amplifier) continue;
    for (int k = 0; k < result->ledgers[l].entry_count; k++) {
      const struct tailvolt_ledger_entry *entry = &result->ledgers[l].entries[k];
      bool wire = entry->part_kind != TAILVOLT_PART_BATTERY;
      if (wire && (worst == NULL || entry->drop_v > worst->drop_v)) worst = entry;
    }
  }
  return worst;
}

static bool short_of_playing_time(const struct tv_remedy_job *job, const struct tailvolt_remedy *remedy) {
  return isfinite(job->parked_s) && remedy->parked_before_s < job->parked_s;
}

enum tailvolt_shortage tv_shortage(const struct tv_remedy_job *job, const struct tailvolt_remedy *remedy) {
  bool charge = tv_loses_charge(remedy->before), voltage = short_of_voltage(remedy->before);
  double wire_v = gain_of(remedy, TAILVOLT_IDEAL_WIRE), battery_v = gain_of(remedy, TAILVOLT_IDEAL_BATTERY);
  double steady_v = gain_of(remedy, TAILVOLT_IDEAL_ALTERNATOR), fast_v = gain_of(remedy, TAILVOLT_IDEAL_FIELD);
  double most_v = fmax(fmax(wire_v, battery_v), fmax(steady_v, fast_v));
  bool parked = short_of_playing_time(job, remedy);
  if (!voltage && !charge && !parked) return TAILVOLT_SHORTAGE_NONE;
  if (charge || (!voltage && parked) || steady_v >= most_v) return TAILVOLT_SHORTAGE_STEADY;
  if (wire_v >= most_v) return TAILVOLT_SHORTAGE_WIRE;
  return battery_v >= most_v ? TAILVOLT_SHORTAGE_SLOW : TAILVOLT_SHORTAGE_FAST;
}

void tv_diagnose(const struct tv_remedy_job *job, struct tailvolt_remedy *remedy) {
  const struct tailvolt_ledger_entry *worst = worst_wire(remedy->before, job->plan.worst_amplifier);
  remedy->charge_short = tv_loses_charge(remedy->before);
  remedy->voltage_short = short_of_voltage(remedy->before);
  remedy->worst_wire_v = remedy->converter_a = remedy->stays_open_v = (double)NAN;
  if (job->plan.places.stays_open) remedy->stays_open_v = tv_charge_lowest_v(job->system);
  else if (job->plan.places.converter >= 0) remedy->converter_a = job->system->isolators[job->plan.places.converter].output_a;
  if (worst == NULL) return;
  remedy->worst_wire_kind = worst->part_kind;
  tv_copy_text(remedy->worst_wire, sizeof remedy->worst_wire, worst->name);
  remedy->worst_wire_v = worst->drop_v;
}

/* Cures that count for an answer: a better ground is any of four. */
static bool belongs(enum tailvolt_cure asked, enum tailvolt_cure cure) {
  if (asked == TAILVOLT_CURE_GROUND)
    return cure == TAILVOLT_CURE_GROUND || cure == TAILVOLT_CURE_JOINTS || cure == TAILVOLT_CURE_RETURN ||
           cure == TAILVOLT_CURE_STRAPS;
  if (asked == TAILVOLT_CURE_FEED) return cure == TAILVOLT_CURE_FEED || cure == TAILVOLT_CURE_OWN_FEED;
  return asked == cure;
}

static struct tailvolt_rule_of_thumb rule_of(const struct tv_remedy_job *job, double car_a) {
  const struct tailvolt_system *system = job->system;
  struct tailvolt_rule_of_thumb rule = {.car_a = car_a};
  for (int k = 0; k < system->amplifier_count; k++) {
    const struct tailvolt_amplifier *a = &system->amplifiers[k];
    rule.rated_w += a->rated_w;
    rule.full_a += a->rated_w / (a->efficiency_frac * 13.8);
  }
  rule.feed_m = job->plan.places.feed_m;
  rule.feed_m2 = tv_material_resistivity_ohm_m(TAILVOLT_COPPER) * rule.feed_m * rule.full_a / 0.5;
  return rule;
}

static bool is_worth_something(const struct tailvolt_remedy *remedy, const struct tailvolt_worth *worth) {
  /* a capacitor brings only its own charge, and its time is judged by what is left without that */
  bool capacitor = worth->cure == TAILVOLT_CURE_CAPACITOR;
  return worth->gain_v >= TV_WORTH_V || (!capacitor && worth->gain_pct >= TV_WORTH_PCT) ||
         (!capacitor && tv_loses_charge(remedy->before) && worth->gain_ah >= 0.1) ||
         (isfinite(worth->gain_parked_s) && worth->gain_parked_s >= 0.1 * remedy->parked_before_s);
}

/* The cheapest that suffices alone, else the one that gains most; something beats nothing. */
static const struct tailvolt_worth *best_of(const struct tailvolt_remedy *remedy, enum tailvolt_cure asked,
                                            bool minutes) {
  const struct tailvolt_worth *best = NULL;
  for (int k = 0; k < remedy->worth_count; k++) {
    const struct tailvolt_worth *w = &remedy->worth[k];
    if (!belongs(asked, w->cure)) continue;
    bool more = best == NULL || (minutes ? w->gain_parked_s > best->gain_parked_s + 1.0
                                         : w->gain_v > best->gain_v + 0.005);
    bool better = best == NULL || (w->meets && !best->meets) ||
                  (w->meets == best->meets && (w->meets ? w->cost < best->cost : more));
    if (better) best = w;
  }
  return best;
}

/* The most valuable part of the chosen set that is of the requested kind; NULL = none. */
static const struct tailvolt_worth *part_of_set(const struct tv_remedy_job *job, const struct tailvolt_remedy *remedy,
                                                const struct tv_choice *chosen, enum tailvolt_cure asked,
                                                double *in_set_v) {
  const struct tailvolt_worth *part = NULL;
  *in_set_v = (double)NAN;
  for (int k = 0; k < job->plan.family_count && k < TV_FAMILIES_MOST; k++) {
    enum tailvolt_cure cure = job->plan.family[k].cure;
    if (chosen->size_step[k] == 0 || !belongs(asked, cure)) continue;
    if (part != NULL && !(job->in_set_v[k] > *in_set_v)) continue;
    for (int w = 0; w < remedy->worth_count; w++)
      if (remedy->worth[w].cure == cure && remedy->worth[w].size == chosen->size_step[k]) {
        part = &remedy->worth[w];
        *in_set_v = job->in_set_v[k];
      }
  }
  return part;
}

static bool only_fuses(const struct tailvolt_remedy *remedy) {
  for (int k = 0; k < remedy->chosen.change_count; k++)
    if (remedy->chosen.changes[k].cure != TAILVOLT_CURE_FUSES) return false;
  return remedy->found;
}

/* What the best size of a cure amounts to, for those not in the set. */
static void judge(const struct tailvolt_remedy *remedy, const struct tailvolt_worth *best, struct tailvolt_answer *answer) {
  /* less than a tenth of what is missing is no cure for playing time */
  double missing_s = remedy->parked_wanted_s - remedy->parked_before_s;
  bool worth = answer->in_minutes ? best->gain_parked_s >= fmax(60.0, 0.1 * missing_s) : is_worth_something(remedy, best);
  answer->status = worth ? TAILVOLT_HELPS : TAILVOLT_USELESS;
  if (remedy->met_before || only_fuses(remedy))
    answer->kind = TAILVOLT_ANSWER_NOT_NEEDED;
  else if (answer->in_minutes && answer->cure == TAILVOLT_CURE_SECOND_BATTERY && best->gain_parked_s < -60.0)
    answer->kind = TAILVOLT_ANSWER_SHORTENS;
  else if (!worth)
    answer->kind = TAILVOLT_ANSWER_BRINGS_LITTLE;
  else
    answer->kind = best->meets ? TAILVOLT_ANSWER_DOES_ALONE : TAILVOLT_ANSWER_NOT_ENOUGH;
  answer->long_enough = answer->in_minutes && best->parked_s >= remedy->parked_wanted_s;
}

void tv_answer(const struct tv_remedy_job *job, const struct tailvolt_remedy *remedy, const struct tv_choice *chosen,
               struct tailvolt_answer *answer) {
  double in_set_v, car_a = remedy->before->driving.present ? remedy->before->driving.base_a : 0.0;
  const struct tailvolt_worth *part = part_of_set(job, remedy, chosen, answer->cure, &in_set_v);
  /* targets missed in minutes are judged in minutes */
  answer->in_minutes = short_of_playing_time(job, remedy) && !short_of_voltage(remedy->before);
  const struct tailvolt_worth *best = part != NULL ? part : best_of(remedy, answer->cure, answer->in_minutes);
  answer->status = TAILVOLT_USELESS;
  answer->converter = job->system->vehicle.charging == TAILVOLT_CHARGING_CONVERTER;
  answer->rule = rule_of(job, car_a);
  if (best == NULL) {
    answer->kind = remedy->partial                                ? TAILVOLT_ANSWER_NOT_TRIED
                   : tv_plan_has_place(&job->plan, answer->cure) ? TAILVOLT_ANSWER_NOT_IN_CATALOGUE
                                                                 : TAILVOLT_ANSWER_NO_SUCH_PART;
    return;
  }
  answer->gain_in_set = isfinite(in_set_v);
  answer->gain_v = answer->gain_in_set ? in_set_v : best->gain_v;
  answer->gain_parked_s = best->gain_parked_s;
  answer->then_v = best->min_v;
  answer->loses_charge = best->loses_charge;
  tv_copy_text(answer->with, sizeof answer->with, best->what);
  judge(remedy, best, answer);
  if (part == NULL || remedy->met_before) return;
  answer->kind = TAILVOLT_ANSWER_IN_SET;
  answer->status = TAILVOLT_NEEDED;
}

struct tailvolt_remedy_caution *tv_add_remedy_caution(struct tailvolt_remedy_caution **list, int *count,
                                                      enum tailvolt_remedy_caution_kind kind) {
  struct tailvolt_remedy_caution *grown = realloc(*list, ((size_t)*count + 1) * sizeof *grown);
  if (grown == NULL) return NULL;
  *list = grown;
  struct tailvolt_remedy_caution *added = &grown[(*count)++];
  memset(added, 0, sizeof *added);
  added->kind = kind;
  added->current_a = (double)NAN;
  return added;
}

static struct tailvolt_remedy_caution *caution(struct tailvolt_remedy_set *set, enum tailvolt_remedy_caution_kind kind) {
  return tv_add_remedy_caution(&set->cautions, &set->caution_count, kind);
}

/* What no simulation rule can see. False = out of memory. */
static bool hazards_of(const struct tv_remedy_job *job, enum tailvolt_cure cure, const struct tv_size_step *size_step,
                       struct tailvolt_remedy_set *set) {
  struct tailvolt_remedy_caution *lead;
  switch (cure) {
  case TAILVOLT_CURE_FEED:
  case TAILVOLT_CURE_OWN_FEED:
    return caution(set, TAILVOLT_REMEDY_FEED) != NULL;
  case TAILVOLT_CURE_GROUND:
  case TAILVOLT_CURE_STRAPS:
  case TAILVOLT_CURE_JOINTS:
    return caution(set, TAILVOLT_REMEDY_GROUND) != NULL;
  case TAILVOLT_CURE_RETURN:
    return caution(set, TAILVOLT_REMEDY_RETURN) != NULL;
  case TAILVOLT_CURE_CAPACITOR:
    return caution(set, TAILVOLT_REMEDY_CAPACITOR) != NULL;
  case TAILVOLT_CURE_BATTERY:
    return caution(set, TAILVOLT_REMEDY_BATTERY) != NULL;
  case TAILVOLT_CURE_SECOND_BATTERY:
    return caution(set, size_step->converter != NULL ? TAILVOLT_REMEDY_SECOND_BY_CONVERTER : TAILVOLT_REMEDY_SECOND_BATTERY) != NULL;
  case TAILVOLT_CURE_ALTERNATOR:
    if ((lead = caution(set, TAILVOLT_REMEDY_CHARGE_LEAD)) == NULL) return false;
    lead->current_a = job->system->alternator.rated_a;
    if (caution(set, TAILVOLT_REMEDY_BELT) == NULL) return false;
    return job->system->vehicle.charging != TAILVOLT_CHARGING_COMPUTER || caution(set, TAILVOLT_REMEDY_REGULATOR) != NULL;
  case TAILVOLT_CURE_CONVERTER:
    return caution(set, TAILVOLT_REMEDY_CONVERTER) != NULL;
  case TAILVOLT_CURE_IDLE:
    return caution(set, TAILVOLT_REMEDY_IDLE_SPEED) != NULL && caution(set, TAILVOLT_REMEDY_IDLING) != NULL;
  case TAILVOLT_CURE_FUSES:
  case TAILVOLT_CURE_LEVEL:
  case TAILVOLT_CURES:
    break;
  }
  return true;
}

/* More than a 1/0 AWG cable has: the most that the terminals of many amplifiers and blocks take (common practice). */
static const double THICK_M2 = 55e-6;

/* Charge leads and straps end in lugs. */
static bool needs_large_terminals(const struct tv_plan *plan, const struct tv_choice *choice) {
  static const enum tailvolt_cure to_amplifiers[] = {TAILVOLT_CURE_FEED, TAILVOLT_CURE_GROUND, TAILVOLT_CURE_RETURN,
                                                     TAILVOLT_CURE_OWN_FEED};
  for (size_t c = 0; c < sizeof to_amplifiers / sizeof to_amplifiers[0]; c++) {
    const struct tv_size_step *laid = tv_plan_step(plan, choice, to_amplifiers[c]);
    if (laid != NULL && tv_material_resistivity_ohm_m(TAILVOLT_COPPER) / laid->item->value > THICK_M2) return true;
  }
  return false;
}

enum tailvolt_status tv_cure_cautions(const struct tv_remedy_job *job, const struct tv_choice *choice,
                                      const struct tailvolt_result *before, struct tailvolt_remedy_set *set) {
  for (int k = 0; k < job->plan.family_count; k++) {
    const struct tv_family *family = &job->plan.family[k];
    int taken = choice->size_step[k];
    if (taken > 0 && !hazards_of(job, family->cure, &family->size_step[taken - 1], set)) return TAILVOLT_NO_MEMORY;
  }
  if (needs_large_terminals(&job->plan, choice) && caution(set, TAILVOLT_REMEDY_TERMINALS) == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; set->result != NULL && k < set->result->caution_count; k++) {
    bool old = false;
    for (int j = 0; j < before->caution_count; j++)
      old = old || tv_finding_same(&before->cautions[j], &set->result->cautions[k]);
    if (old) continue;
    struct tailvolt_remedy_caution *found = caution(set, TAILVOLT_REMEDY_FOUND);
    if (found == NULL) return TAILVOLT_NO_MEMORY;
    found->finding = set->result->cautions[k];
  }
  /* what still keeps it from a clean pass */
  for (int k = 0; set->result != NULL && k < set->result->reason_count; k++) {
    struct tailvolt_remedy_caution *only_just = caution(set, TAILVOLT_REMEDY_ONLY_JUST);
    if (only_just == NULL) return TAILVOLT_NO_MEMORY;
    only_just->reason = set->result->reasons[k];
  }
  return TAILVOLT_OK;
}
