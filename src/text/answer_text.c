/* What a remedy found, as sentences: the cause, the answers, the rules of thumb beside them. */
#include <math.h>
#include <stdio.h>

#include "tailvolt/remedy.h"
#include "text/number.h"
#include "text/text.h"
#include "text/words.h"

static const char *subject(const struct tailvolt_answer *answer) {
  switch (answer->cure) {
  case TAILVOLT_CURE_CAPACITOR: return "a capacitor";
  case TAILVOLT_CURE_SECOND_BATTERY: return "a second battery";
  case TAILVOLT_CURE_FEED: return "thicker cable";
  case TAILVOLT_CURE_GROUND: return "better ground";
  default: return answer->converter ? "a bigger converter" : "a bigger alternator";
  }
}

/* "0.82 V", or "35 min" where parked playing time is what falls short. */
static void amount_of(const struct tailvolt_answer *answer, char *to, size_t size) {
  if (answer->in_minutes)
    snprintf(to, size, "%s min", tv_fixed(fabs(answer->gain_parked_s) / 60.0, 0).text);
  else
    snprintf(to, size, "%s V", tv_fixed(isfinite(answer->gain_v) ? fabs(answer->gain_v) : 0.0, 2).text);
}

/* It makes things worse, by an amount that shows. */
static bool is_worse(const struct tailvolt_answer *answer) {
  return answer->in_minutes ? answer->gain_parked_s < -30.0 : answer->gain_v <= -0.005;
}

/* "4 AWG feed brings 0.82 V", "60 Ah lowers the voltage by 0.34 V" */
static void effect_of(const struct tailvolt_answer *answer, char *to, size_t size) {
  char amount[64];
  amount_of(answer, amount, sizeof amount);
  if (!is_worse(answer))
    snprintf(to, size, "%s brings %s", answer->with, amount);
  else
    snprintf(to, size, "%s %s by %s", answer->with, answer->in_minutes ? "shortens it" : "lowers the voltage", amount);
}

void tailvolt_answer_text(const struct tailvolt_answer *answer, char *to, size_t size) {
  const char *who = subject(answer), *with = answer->with;
  char amount[64], effect[sizeof answer->with + 96];
  bool worse = is_worse(answer);
  if (size == 0) return;
  to[0] = '\0';
  amount_of(answer, amount, sizeof amount);
  effect_of(answer, effect, sizeof effect);
  switch (answer->kind) {
  case TAILVOLT_ANSWER_NOT_TRIED:
    tv_append(to, size, "%s: not tried", who);
    break;
  case TAILVOLT_ANSWER_NO_SUCH_PART:
    tv_append(to, size, "%s: there is nothing to change here", who);
    break;
  case TAILVOLT_ANSWER_NOT_IN_CATALOGUE:
    tv_append(to, size, "%s: none in the catalogue", who);
    break;
  case TAILVOLT_ANSWER_NOT_NEEDED:
    tv_append(to, size, "%s: not needed; %s would %s %s", who, with, worse ? "lower the voltage by" : "bring", amount);
    break;
  case TAILVOLT_ANSWER_IN_SET:
    if (answer->gain_in_set && !answer->in_minutes)
      tv_append(to, size, "%s: needed in this set; without %s the rest would be %s %s", who, with, amount, worse ? "higher" : "lower");
    else
      tv_append(to, size, "%s: needed in this set; %s", who, effect);
    break;
  case TAILVOLT_ANSWER_SHORTENS:
    tv_append(to, size, "%s: useless for playing time; with the engine off it feeds the music alone, and %s lasts %s min less "
              "than the starter battery did", who, with, tv_fixed(-answer->gain_parked_s / 60.0, 0).text);
    break;
  case TAILVOLT_ANSWER_BRINGS_LITTLE:
    tv_append(to, size, "%s: useless %s; %s%s", who, answer->in_minutes ? "for playing time" : "here", worse ? "" : "even ", effect);
    break;
  case TAILVOLT_ANSWER_DOES_ALONE:
    tv_append(to, size, "%s: would do as well; %s", who, effect);
    break;
  case TAILVOLT_ANSWER_NOT_ENOUGH:
    tv_append(to, size, "%s: helps but is not enough; %s", who, effect);
    if (!answer->in_minutes) tv_append(to, size, ", then %s V at the lowest", tv_fixed(answer->then_v, 2).text);
    if (answer->loses_charge && !answer->in_minutes) tv_append(to, size, ", but a battery loses charge");
    if (answer->long_enough) tv_append(to, size, ": long enough, but another target is missed");
    break;
  }
}

void tailvolt_rule_text(const struct tailvolt_answer *answer, char *to, size_t size) {
  const struct tailvolt_rule_of_thumb *rule = &answer->rule;
  switch (answer->cure) {
  case TAILVOLT_CURE_CAPACITOR:
    snprintf(to, size, "1 F for every 1000 W, here %s F", tv_compact(rule->rated_w / 1000.0, 1).text);
    break;
  case TAILVOLT_CURE_SECOND_BATTERY:
    snprintf(to, size, "a second battery above 1500 W, here %s W", tv_fixed(rule->rated_w, 0).text);
    break;
  case TAILVOLT_CURE_FEED:
    snprintf(to, size, "at most 0.5 V in the feed at full power, here %s over %s m: %s mm2", tv_amperes(rule->full_a).text,
             tv_compact(rule->feed_m, 1).text, tv_fixed(rule->feed_m2 * 1e6, 0).text);
    break;
  case TAILVOLT_CURE_GROUND:
    snprintf(to, size, "ground as thick as the feed and under half a metre long");
    break;
  default:
    snprintf(to, size, "the car's draw and a third of the amplifiers' at full power, here %s",
             tv_amperes(rule->car_a + rule->full_a / 3.0).text);
  }
}

static bool is_hybrid(const struct tailvolt_remedy *remedy) { return remedy->before != NULL && remedy->before->alternator.by_converter; }

/* What charges the car. */
static const char *source_of(const struct tailvolt_remedy *remedy) { return is_hybrid(remedy) ? "converter" : "alternator"; }

/* A perfect part as it is called where that charges. */
static void put_ideal(const struct tailvolt_remedy *remedy, enum tailvolt_ideal ideal, char *to, size_t size) {
  const char *source = source_of(remedy);
  if (ideal == TAILVOLT_IDEAL_ALTERNATOR) tv_append(to, size, "unlimited %s", source);
  else if (ideal == TAILVOLT_IDEAL_FIELD) tv_append(to, size, "%s without lag", source);
  else tv_append(to, size, "%s", tv_ideal_word(ideal));
}

static double ideal_v(const struct tailvolt_remedy *remedy, enum tailvolt_ideal ideal) {
  for (int k = 0; k < remedy->counterfactual_count; k++)
    if (remedy->counterfactuals[k].ideal == ideal && isfinite(remedy->counterfactuals[k].gain_v))
      return fmax(0.0, remedy->counterfactuals[k].gain_v);
  return 0.0;
}

/* What each perfect part would gain, the cause itself left out. */
static void add_others(const struct tailvolt_remedy *remedy, enum tailvolt_ideal but, char *to, size_t size) {
  const char *between = " (";
  for (int k = 0; k < remedy->counterfactual_count; k++) {
    const struct tailvolt_counterfactual *c = &remedy->counterfactuals[k];
    if (c->ideal == but || !isfinite(c->gain_v)) continue;
    tv_append(to, size, "%s", between);
    put_ideal(remedy, c->ideal, to, size);
    tv_append(to, size, " %s", tv_fixed(c->gain_v, 2).text);
    between = ", ";
  }
  if (between[0] == ',') tv_append(to, size, " V)");
}

static void say_steady(const struct tailvolt_remedy *remedy, char *to, size_t size) {
  struct tv_number steady_v = tv_fixed(ideal_v(remedy, TAILVOLT_IDEAL_ALTERNATOR), 2);
  const struct tailvolt_budget *driving = &remedy->before->driving;
  tv_append(to, size, "steady shortage: ");
  if (remedy->stays_open_v > 0) {
    tv_append(to, size, "the relay or converter before the battery that loses charge stays open while the alternator is held at %s V",
              tv_compact(remedy->stays_open_v, 2).text);
  } else if (remedy->converter_a > 0) {
    tv_append(to, size, "the converter before the battery that loses charge gives %s at most, the music takes %s",
              tv_amperes(remedy->converter_a).text, tv_amperes(driving->amplifier_a).text);
  } else if (remedy->charge_short) {
    tv_append(to, size, "while the %s the %s can give %s, the car and the music take %s",
              is_hybrid(remedy) ? "car is on" : "engine runs", source_of(remedy),
              tv_amperes(driving->available_a).text, tv_amperes(driving->base_a + driving->amplifier_a).text);
    if (remedy->voltage_short)
      tv_append(to, size, "; without that limit the lowest voltage would be %s V higher", steady_v.text);
  } else if (!remedy->voltage_short) {
    tv_append(to, size, "the charge lasts %s parked, not %s", tv_duration(remedy->parked_before_s).text,
              tv_duration(remedy->parked_wanted_s).text);
  } else {
    tv_append(to, size, "with an unlimited %s the lowest voltage would be %s V higher", source_of(remedy), steady_v.text);
  }
}

static void say_wire(const struct tailvolt_remedy *remedy, char *to, size_t size) {
  tv_append(to, size, "in the wire: without resistance in feed, return and joints the lowest voltage would be %s V higher",
            tv_fixed(ideal_v(remedy, TAILVOLT_IDEAL_WIRE), 2).text);
  if (!isfinite(remedy->worst_wire_v)) return;
  char part[TAILVOLT_NAME_MAX + 16];
  tv_section_words(remedy->worst_wire_kind, remedy->worst_wire, part, sizeof part);
  tv_append(to, size, ", most of it in %s (%s V)", part, tv_fixed(remedy->worst_wire_v, 2).text);
}

void tailvolt_shortage_text(const struct tailvolt_remedy *remedy, char *to, size_t size) {
  if (size == 0) return;
  to[0] = '\0';
  switch (remedy->shortage) {
  case TAILVOLT_SHORTAGE_NONE:
    tv_append(to, size, remedy->met_before ? "every target is met already"
                                           : "no shortage of voltage or charge: only safety has to be put right");
    break;
  case TAILVOLT_SHORTAGE_STEADY:
    say_steady(remedy, to, size);
    add_others(remedy, TAILVOLT_IDEAL_ALTERNATOR, to, size);
    break;
  case TAILVOLT_SHORTAGE_WIRE:
    say_wire(remedy, to, size);
    add_others(remedy, TAILVOLT_IDEAL_WIRE, to, size);
    break;
  case TAILVOLT_SHORTAGE_SLOW:
    tv_append(to, size, "slow: with a battery that does not sag the lowest voltage would be %s V higher",
              tv_fixed(ideal_v(remedy, TAILVOLT_IDEAL_BATTERY), 2).text);
    add_others(remedy, TAILVOLT_IDEAL_BATTERY, to, size);
    break;
  case TAILVOLT_SHORTAGE_FAST:
    tv_append(to, size, "fast: the %s does not follow the beat; without lag the lowest voltage would be %s V higher", source_of(remedy),
              tv_fixed(ideal_v(remedy, TAILVOLT_IDEAL_FIELD), 2).text);
    add_others(remedy, TAILVOLT_IDEAL_FIELD, to, size);
    break;
  }
}
