/* What the numbers mean in words: the cause, the five plain answers, the hazards that cures bring. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text/text.h"
#include "parts/conductor.h"
#include "text/number.h"
#include "text/finding_text.h"
#include "text/words.h"
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

/* Greatest drop of the worst amplifier's wiring. */
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

/* What each perfect part would bring, the cause itself left out. */
static void add_others(const struct tailvolt_remedy *remedy, enum tailvolt_ideal but, char *text, size_t size) {
  const char *between = " (";
  for (int k = 0; k < remedy->counterfactual_count; k++) {
    const struct tailvolt_counterfactual *c = &remedy->counterfactuals[k];
    if (c->ideal == but || !isfinite(c->gain_v)) continue;
    tv_append(text, size, "%s%s %s", between, c->what, tv_fixed(c->gain_v, 2).text);
    between = ", ";
  }
  if (between[0] == ',') tv_append(text, size, " V)");
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

static enum tailvolt_ideal say_steady(const struct tv_remedy_job *job, const struct tailvolt_remedy *remedy, char *why,
                                      size_t size) {
  const struct tailvolt_result *before = remedy->before;
  double steady_v = gain_of(remedy, TAILVOLT_IDEAL_ALTERNATOR);
  bool charge = tv_loses_charge(before), voltage = short_of_voltage(before);
  if (charge)
    tv_append(why, size, "steady shortage: while the engine runs the alternator can give %s, the car and the music take %s",
        tv_amperes(before->driving.available_a).text,
        tv_amperes(before->driving.base_a + before->driving.amplifier_a).text);
  else if (!voltage)
    tv_append(why, size, "steady shortage: the charge lasts %s parked, not %s", tv_duration(remedy->parked_before_s).text,
        tv_duration(job->parked_s).text);
  else
    tv_append(why, size, "steady shortage: with an unlimited alternator the lowest voltage would be %s V higher",
        tv_fixed(steady_v, 2).text);
  if (voltage && charge)
    tv_append(why, size, "; without that limit the lowest voltage would be %s V higher", tv_fixed(steady_v, 2).text);
  return TAILVOLT_IDEAL_ALTERNATOR;
}

static enum tailvolt_ideal say_wire(const struct tv_remedy_job *job, const struct tailvolt_remedy *remedy, char *why,
                                    size_t size) {
  const struct tailvolt_ledger_entry *worst = worst_wire(remedy->before, job->plan.worst_amplifier);
  tv_append(why, size, "in the wire: without resistance in feed, return and joints the lowest voltage would be %s V higher",
      tv_fixed(gain_of(remedy, TAILVOLT_IDEAL_WIRE), 2).text);
  if (worst != NULL) {
    char part[TAILVOLT_NAME_MAX + 16];
    tv_section_words(worst->part_kind, worst->name, part, sizeof part);
    tv_append(why, size, ", most of it in %s (%s V)", part, tv_fixed(worst->drop_v, 2).text);
  }
  return TAILVOLT_IDEAL_WIRE;
}

void tv_diagnose(const struct tv_remedy_job *job, struct tailvolt_remedy *remedy) {
  char *why = remedy->why;
  size_t size = sizeof remedy->why;
  enum tailvolt_ideal named = TAILVOLT_IDEAL_FIELD;
  why[0] = '\0';
  switch (remedy->shortage) {
  case TAILVOLT_SHORTAGE_NONE:
    tv_append(why, size, remedy->met_before ? "every target is met already"
                                      : "no shortage of voltage or charge: only safety has to be put right");
    return;
  case TAILVOLT_SHORTAGE_STEADY:
    named = say_steady(job, remedy, why, size);
    break;
  case TAILVOLT_SHORTAGE_WIRE:
    named = say_wire(job, remedy, why, size);
    break;
  case TAILVOLT_SHORTAGE_SLOW:
    named = TAILVOLT_IDEAL_BATTERY;
    tv_append(why, size, "slow: with a battery that does not sag the lowest voltage would be %s V higher",
        tv_fixed(gain_of(remedy, TAILVOLT_IDEAL_BATTERY), 2).text);
    break;
  case TAILVOLT_SHORTAGE_FAST:
    tv_append(why, size, "fast: the alternator does not follow the beat; without lag the lowest voltage would be %s V higher",
        tv_fixed(gain_of(remedy, TAILVOLT_IDEAL_FIELD), 2).text);
    break;
  }
  add_others(remedy, named, why, size);
}

static const char *subject(const struct tv_remedy_job *job, enum tailvolt_cure cure) {
  switch (cure) {
  case TAILVOLT_CURE_CAPACITOR: return "a capacitor";
  case TAILVOLT_CURE_SECOND_BATTERY: return "a second battery";
  case TAILVOLT_CURE_FEED: return "thicker cable";
  case TAILVOLT_CURE_GROUND: return "better ground";
  default:
    return job->system->vehicle.charging == TAILVOLT_CHARGING_CONVERTER ? "a bigger converter" : "a bigger alternator";
  }
}

/* Cures that count as an answer: a better ground is any of four. */
static bool belongs(enum tailvolt_cure asked, enum tailvolt_cure cure) {
  if (asked == TAILVOLT_CURE_GROUND)
    return cure == TAILVOLT_CURE_GROUND || cure == TAILVOLT_CURE_JOINTS || cure == TAILVOLT_CURE_RETURN ||
           cure == TAILVOLT_CURE_STRAPS;
  if (asked == TAILVOLT_CURE_FEED) return cure == TAILVOLT_CURE_FEED || cure == TAILVOLT_CURE_OWN_FEED;
  return asked == cure;
}

static void write_rule(const struct tv_remedy_job *job, double base_a, struct tailvolt_answer *answer) {
  const struct tailvolt_system *system = job->system;
  double watts_w = 0.0, full_a = 0.0;
  for (int k = 0; k < system->amplifier_count; k++) {
    const struct tailvolt_amplifier *a = &system->amplifiers[k];
    watts_w += a->rated_w;
    full_a += a->rated_w / (a->efficiency_frac * 13.8);
  }
  switch (answer->cure) {
  case TAILVOLT_CURE_CAPACITOR:
    snprintf(answer->rule, sizeof answer->rule, "1 F for every 1000 W, here %s F", tv_compact(watts_w / 1000.0, 1).text);
    return;
  case TAILVOLT_CURE_SECOND_BATTERY:
    snprintf(answer->rule, sizeof answer->rule, "a second battery above 1500 W, here %s W", tv_fixed(watts_w, 0).text);
    return;
  case TAILVOLT_CURE_FEED: {
    double length_m = 0.0;
    for (int k = 0; k < job->plan.places.feed_count; k++) length_m += system->conductors[job->plan.places.feed[k]].length_m;
    double area_mm2 = tv_material_resistivity_ohm_m(TAILVOLT_COPPER) * length_m * full_a / 0.5 * 1e6;
    snprintf(answer->rule, sizeof answer->rule, "at most 0.5 V in the feed at full power, here %s over %s m: %s mm2",
             tv_amperes(full_a).text, tv_compact(length_m, 1).text, tv_fixed(area_mm2, 0).text);
    return;
  }
  case TAILVOLT_CURE_GROUND:
    snprintf(answer->rule, sizeof answer->rule, "ground as thick as the feed and under half a metre long");
    return;
  default:
    snprintf(answer->rule, sizeof answer->rule, "the car's draw and a third of the amplifiers' at full power, here %s",
             tv_amperes(base_a + full_a / 3.0).text);
  }
}

static bool is_worth_something(const struct tailvolt_remedy *remedy, const struct tailvolt_worth *worth) {
  /* a capacitor brings no charge but its own, and its time is judged by what is left without that */
  bool capacitor = worth->cure == TAILVOLT_CURE_CAPACITOR;
  return worth->gain_v >= TV_WORTH_V || (!capacitor && worth->gain_pct >= TV_WORTH_PCT) ||
         (!capacitor && tv_loses_charge(remedy->before) && worth->gain_ah >= 0.1) ||
         (isfinite(worth->gain_parked_s) && worth->gain_parked_s >= 0.1 * remedy->parked_before_s);
}

/* The cheapest that does alone, else the one that gains most; something is always better than nothing. */
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

/* The chosen set's part of the kind asked for that is worth most in it; NULL = the set has none. */
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

/* "0.82 V", or "35 min" where playing time parked is what is short. */
static void say_gain(const struct tailvolt_worth *worth, bool minutes, char *to, size_t size) {
  if (minutes)
    snprintf(to, size, "%s min", tv_fixed(worth->gain_parked_s / 60.0, 0).text);
  else
    snprintf(to, size, "%s V", tv_fixed(fmax(0.0, worth->gain_v), 2).text);
}

void tv_answer(const struct tv_remedy_job *job, const struct tailvolt_remedy *remedy, const struct tv_choice *chosen,
               struct tailvolt_answer *answer) {
  char *text = answer->text, gain[48];
  const size_t size = sizeof answer->text;
  const char *who = subject(job, answer->cure);
  /* targets that are missed in minutes are judged in minutes */
  bool minutes = short_of_playing_time(job, remedy) && !short_of_voltage(remedy->before);
  double in_set_v, base_a = remedy->before->driving.present ? remedy->before->driving.base_a : 0.0;
  const struct tailvolt_worth *part = part_of_set(job, remedy, chosen, answer->cure, &in_set_v);
  const struct tailvolt_worth *best = part != NULL ? part : best_of(remedy, answer->cure, minutes);
  text[0] = '\0';
  answer->status = TAILVOLT_USELESS;
  write_rule(job, base_a, answer);
  if (best == NULL) {
    tv_append(text, size, remedy->partial ? "%s: not tried" : "%s: there is nothing to change here", who);
    return;
  }
  answer->gain_v = isfinite(in_set_v) ? in_set_v : best->gain_v;
  tv_copy_text(answer->with, sizeof answer->with, best->what);
  say_gain(best, minutes, gain, sizeof gain);
  /* a tenth of what is missing, or it is no cure for playing time */
  double missing_s = remedy->parked_wanted_s - remedy->parked_before_s;
  bool worth = minutes ? best->gain_parked_s >= fmax(60.0, 0.1 * missing_s) : is_worth_something(remedy, best);
  if (remedy->met_before) {
    answer->status = worth ? TAILVOLT_HELPS : TAILVOLT_USELESS;
    tv_append(text, size, "%s: not needed; %s would bring %s", who, best->what, gain);
  } else if (part != NULL) {
    answer->status = TAILVOLT_NEEDED;
    if (isfinite(in_set_v) && !minutes)
      tv_append(text, size, "%s: needed; without %s the rest would be %s V lower", who, best->what,
          tv_fixed(fmax(0.0, in_set_v), 2).text);
    else
      tv_append(text, size, "%s: needed; %s brings %s", who, best->what, gain);
  } else if (minutes && answer->cure == TAILVOLT_CURE_SECOND_BATTERY && best->gain_parked_s < -60.0) {
    tv_append(text, size, "%s: useless for playing time; with the engine off it feeds the music alone, and %s lasts %s min less "
                    "than the starter battery did", who, best->what, tv_fixed(-best->gain_parked_s / 60.0, 0).text);
  } else if (!worth) {
    tv_append(text, size, "%s: useless %s; even %s brings %s", who, minutes ? "for playing time" : "here", best->what, gain);
  } else if (best->meets) {
    answer->status = TAILVOLT_HELPS;
    tv_append(text, size, "%s: would do as well; %s brings %s", who, best->what, gain);
  } else {
    answer->status = TAILVOLT_HELPS;
    tv_append(text, size, "%s: helps but is not enough; %s brings %s", who, best->what, gain);
    if (!minutes) tv_append(text, size, ", then %s V at the lowest", tv_fixed(best->min_v, 2).text);
    if (minutes && best->parked_s >= remedy->parked_wanted_s) tv_append(text, size, ": long enough, but another target is missed");
  }
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

/* What no rule of the simulation can see. False = out of memory. */
static bool hazards_of(const struct tv_remedy_job *job, enum tailvolt_cure cure, struct tailvolt_remedy_set *set) {
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
    return caution(set, TAILVOLT_REMEDY_SECOND_BATTERY) != NULL;
  case TAILVOLT_CURE_ALTERNATOR:
    if ((lead = caution(set, TAILVOLT_REMEDY_CHARGE_LEAD)) == NULL) return false;
    lead->current_a = job->system->alternator.rated_a;
    if (caution(set, TAILVOLT_REMEDY_BELT) == NULL) return false;
    return job->system->vehicle.charging != TAILVOLT_CHARGING_COMPUTER || caution(set, TAILVOLT_REMEDY_REGULATOR) != NULL;
  case TAILVOLT_CURE_IDLE:
    return caution(set, TAILVOLT_REMEDY_IDLE_SPEED) != NULL && caution(set, TAILVOLT_REMEDY_IDLING) != NULL;
  case TAILVOLT_CURE_FUSES:
  case TAILVOLT_CURE_LEVEL:
  case TAILVOLT_CURES:
    break;
  }
  return true;
}

enum tailvolt_status tv_cure_cautions(const struct tv_remedy_job *job, const struct tv_choice *choice,
                                      const struct tailvolt_result *before, struct tailvolt_remedy_set *set) {
  for (int k = 0; k < job->plan.family_count; k++)
    if (choice->size_step[k] > 0 && !hazards_of(job, job->plan.family[k].cure, set)) return TAILVOLT_NO_MEMORY;
  for (int k = 0; set->result != NULL && k < set->result->caution_count; k++) {
    bool old = false;
    for (int j = 0; j < before->caution_count; j++)
      old = old || tv_finding_same(&before->cautions[j], &set->result->cautions[k]);
    if (old) continue;
    struct tailvolt_remedy_caution *found = caution(set, TAILVOLT_REMEDY_FOUND);
    if (found == NULL) return TAILVOLT_NO_MEMORY;
    found->finding = set->result->cautions[k];
  }
  /* what still stands between it and a clean pass */
  for (int k = 0; set->result != NULL && k < set->result->reason_count; k++) {
    struct tailvolt_remedy_caution *only_just = caution(set, TAILVOLT_REMEDY_ONLY_JUST);
    if (only_just == NULL) return TAILVOLT_NO_MEMORY;
    only_just->reason = set->result->reasons[k];
  }
  return TAILVOLT_OK;
}
