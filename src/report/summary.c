#include "report/summary.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "text/text.h"
#include "text/feed_drops.h"
#include "text/number.h"
#include "report/page.h"
#include "report/sure.h"
#include "simulate/charge.h"
#include "simulate/worst.h"
#include "text/words.h"

enum { LABEL_WIDTH = 8, BODY_WIDTH = TV_SCREEN_WIDTH - LABEL_WIDTH };

static const struct tailvolt_reason *first_reason(const struct tailvolt_result *run, int phase,
                                                  enum tailvolt_verdict status) {
  for (int k = 0; k < run->reason_count; k++) {
    const struct tailvolt_reason *reason = &run->reasons[k];
    bool here = phase < 0 || reason->phase < 0 || reason->phase == phase;
    if (here && reason->status == status) return reason;
  }
  return NULL;
}

/* Whether a text fits two lines: the first of `first` columns, the second of BODY_WIDTH. */
static bool fits(const char *text, size_t first) {
  size_t at = 0, room = first;
  int lines = 1;
  for (;;) {
    char word[2 * TAILVOLT_TEXT_MAX];
    size_t blanks = tv_page_word(&text, word, sizeof word), wide = tv_columns(word);
    if (wide == 0) break;
    if (at > 0 && at + blanks + wide > room) {
      lines++;
      at = 0;
      room = BODY_WIDTH;
    }
    if (wide > room) return false;
    at += wide + (at > 0 ? blanks : 0);
  }
  return lines <= 2;
}

enum { NAME_SHORT = 20 };

/* Replaces a long name with a shortened form. */
static void shorten_name(char *text, size_t size, const char *name) {
  char *at = tv_columns(name) > NAME_SHORT ? strstr(text, name) : NULL;
  char cut[TAILVOLT_NAME_MAX];
  if (at == NULL) return;
  tv_copy_text(cut, sizeof cut, name);
  tv_page_cut(cut, NAME_SHORT);
  size_t shorter = strlen(cut), tail = strlen(at + strlen(name)) + 1;
  if ((size_t)(at - text) + shorter + tail > size) return;
  memmove(at + shorter, at + strlen(name), tail);
  memcpy(at, cut, shorter);
}

/* Where a text takes more than two lines, long names are shortened before figures are. */
static void shorten_names(const struct tailvolt_system *system, char *text, size_t size, size_t first) {
  if (system == NULL) return;
  for (int k = 0; k < system->conductor_count && !fits(text, first); k++)
    shorten_name(text, size, system->conductors[k].name);
  for (int k = 0; k < system->battery_count && !fits(text, first); k++)
    shorten_name(text, size, system->batteries[k].name);
  for (int k = 0; k < system->amplifier_count && !fits(text, first); k++)
    shorten_name(text, size, system->amplifiers[k].name);
  for (int k = 0; k < system->capacitor_count && !fits(text, first); k++)
    shorten_name(text, size, system->capacitors[k].name);
  for (int k = 0; k < system->isolator_count && !fits(text, first); k++)
    shorten_name(text, size, system->isolators[k].name);
}

/* Drops whole clauses, from the end, where shortening names was not enough: no sentence is cut. */
static void fit(const struct tailvolt_system *system, char *text, size_t size, size_t first) {
  shorten_names(system, text, size, first);
  while (!fits(text, first)) {
    char *semicolon = NULL;
    for (char *at = text; (at = strstr(at, "; ")) != NULL; at++) semicolon = at;
    if (semicolon == NULL) break; /* names without a blank in them: the page breaks such a word */
    *semicolon = '\0';
  }
}

/* A reason up to its explanation: "fuse main 80 A too big for 8 AWG (at most 50 A)". */
static void brief(const struct tailvolt_reason *reason, bool us_units, char *to, size_t size) {
  tailvolt_reason_text(reason, us_units, to, size);
  char *explanation = strstr(to, ": ");
  if (explanation != NULL && explanation - to >= 12) *explanation = '\0';
}

/* How much to say about the verdict: all, then less where it would take more than two lines. */
enum { SAY_ALL, SAY_NO_TIME, SAY_NO_METER, SAY_LEAST, SAY_SHORT, SAY_NO_SHARE };

static void say_voltage(const struct tailvolt_system *system, const struct tailvolt_result *run, int amplifier, int phase,
                        int less, char *to, size_t size) {
  const struct tailvolt_amplifier_result *whole = &run->amplifiers[amplifier];
  const struct tailvolt_amplifier_phase *in = &whole->phase[phase];
  char name[TAILVOLT_NAME_MAX];
  bool holds = in->min_v >= in->target_v;
  int cut_outs = whole->cut_outs - whole->start_cut_outs;
  snprintf(name, sizeof name, "%s", whole->name);
  if (less > SAY_ALL) tv_page_cut(name, 20);
  tv_append(to, size, "%s ", name);
  if (cut_outs > 0) tv_append(to, size, "cuts out %d time%s, ", cut_outs, cut_outs == 1 ? "" : "s");
  tv_append(to, size, "%s %s (wanted %s)", holds ? "stays at or above" : "falls to",
      tv_volts_beside(in->min_v, in->target_v).text, tv_volts_beside(in->target_v, in->min_v).text);
  if (in->below_target_pct > 0.0 && !holds && less < SAY_NO_SHARE) { /* else the starts were too low */
    tv_append(to, size, ", below it %s of the time", tv_percent(in->below_target_pct).text);
    if (system != NULL && less < SAY_LEAST)
      tv_append(to, size, " (%s %% allowed)", tv_compact(100.0 * system->targets.missed_frac, 2).text);
  }
  if (less < SAY_NO_TIME) tv_append(to, size, ", %s at %s", holds ? "lowest" : "worst", tv_clock(in->min_time_s).text);
  if (less < SAY_NO_METER && whole->start_min_v < whole->min_v - 0.05) {
    tv_append(to, size, "; %s while the engine is started", tv_volts_beside(whole->start_min_v, (double)NAN).text);
    return;
  }
  /* the meter stays connected for the whole profile: its lowest reading belongs to the lowest phase */
  if (less < SAY_NO_METER && isfinite(whole->meter_min_v) && in->min_v <= whole->min_v)
    tv_append(to, size, "; a meter's min-hold shows %s", tv_volts_beside(whole->meter_min_v, (double)NAN).text);
}

/* What decides, where it is not the voltage just given. */
static void say_decision(const struct tailvolt_result *run, int phase, char *to, size_t size) {
  const struct tailvolt_reason *reason = first_reason(run, phase, run->status);
  if (run->status == TAILVOLT_HOLDS || reason == NULL) return;
  char whose[TAILVOLT_NAME_MAX + 16] = "the battery";
  if (reason->about.index >= 0) tv_section_words(TAILVOLT_PART_BATTERY, reason->about.name, whose, sizeof whose);
  if (reason->kind == TAILVOLT_REASON_NEAR_TARGET && reason->number >= reason->limit)
    tv_append(to, size, "; %s V to spare for all but the share allowed, 0.1 V holds",
        tv_fixed(reason->number - reason->limit, 2).text);
  else if (reason->kind == TAILVOLT_REASON_NEAR_TARGET)
    tv_append(to, size, "; short by less than 0.08 V");
  else if (reason->kind == TAILVOLT_REASON_CHARGE_LOST && !(reason->time_s > 0.0))
    tv_append(to, size, "; but idle empties %s, already below half charge", whose);
  else if (reason->kind == TAILVOLT_REASON_CHARGE_LOST)
    tv_append(to, size, "; but idle empties %s to half in %s", whose, tv_duration(reason->time_s).text);
  else if (reason->kind == TAILVOLT_REASON_CHARGE_MIX && reason->about.index < 0)
    tv_append(to, size, "; but driving does not restore what idling takes");
  else if (reason->kind == TAILVOLT_REASON_CHARGE_MIX || reason->kind == TAILVOLT_REASON_CHARGE_ROAD)
    tv_append(to, size, "; but %s is not kept charged", whose);
}

static bool lacks_voltage(const struct tailvolt_result *run, int phase) {
  for (int k = 0; k < run->reason_count; k++)
    if (run->reasons[k].topic == TAILVOLT_ABOUT_VOLTAGE && run->reasons[k].phase == phase) return true;
  return false;
}

/* The verdict with up to `phases` of the phases that share it. */
static void verdict_of_phases(const struct tailvolt_system *system, const struct tailvolt_result *run, const int *order,
                              int phases, int less, char *to, size_t size) {
  int phase = order[0], amplifier = tv_worst_amplifier(run, phase);
  to[0] = '\0';
  tv_append(to, size, "%s", tv_verdict_shout(run->status));
  for (int k = 0; k < phases; k++) tv_append(to, size, "%s%s", k == 0 ? " " : " and ", tv_phase_place(order[k]));
  if (run->swing.present && phase != TAILVOLT_PARKED)
    tv_append(to, size, "%s %s", less < SAY_SHORT ? " while the computer charges at" : ", computer at",
              tv_volts_beside(run->swing.low_v, (double)NAN).text);
  if (amplifier >= 0) {
    tv_append(to, size, ": ");
    say_voltage(system, run, amplifier, phase, less, to, size);
  } else {
    tv_append(to, size, ": no amplifier plays");
  }
  say_decision(run, phase, to, size);
  /* the computer is often there, at night in the rain above all: a job need not be turned away for the low end alone */
  if (run->swing.present && phase != TAILVOLT_PARKED && run->high_end_holds && lacks_voltage(run, phase))
    tv_append(to, size, "; at %s the voltage holds", tv_volts_beside(run->swing.high_v, (double)NAN).text);
}

static void verdict_line(const struct tailvolt_system *system, const struct tailvolt_result *run, char *to,
                         size_t size) {
  int order[TAILVOLT_PHASES], count = tv_phases_worst_first(run, order), alike = 0;
  if (count == 0) {
    tv_append(to, size, "%s: no time passes", tv_verdict_shout(run->status));
    return;
  }
  while (alike < count && run->phases[order[alike]].status == run->phases[order[0]].status) alike++;
  for (int less = SAY_ALL; less <= SAY_NO_SHARE; less++)
    /* only the worst phase where the line would grow too long */
    for (int phases = alike; phases >= 1; phases = phases > 1 ? 1 : 0) {
      verdict_of_phases(system, run, order, phases, less, to, size);
      if (fits(to, TV_SCREEN_WIDTH)) return;
    }
  fit(system, to, size, TV_SCREEN_WIDTH);
}

struct share {
  char name[TAILVOLT_NAME_MAX + 64];
  double drop_v;
};

static void add_share(struct share *shares, int *count, const char *name, double drop_v) {
  for (int k = 0; k < *count; k++)
    if (strcmp(shares[k].name, name) == 0) {
      shares[k].drop_v += drop_v;
      return;
    }
  if (*count == TV_FEED_DROPS_MAX) return;
  snprintf(shares[*count].name, sizeof shares[0].name, "%s", name);
  shares[(*count)++].drop_v = drop_v;
}

/* The ledger to explain: the worst amplifier's, else the one that sags most. */
static const struct tailvolt_ledger *worst_ledger(const struct tailvolt_result *run) {
  int order[TAILVOLT_PHASES];
  const struct tailvolt_ledger *most = NULL;
  int amplifier = tv_phases_worst_first(run, order) > 0 ? tv_worst_amplifier(run, order[0]) : -1;
  for (int k = 0; k < run->ledger_count; k++) {
    const struct tailvolt_ledger *ledger = &run->ledgers[k];
    if (amplifier >= 0 && ledger->amplifier_index == amplifier)
      return ledger;
    if (most == NULL || ledger->rest_v - ledger->terminal_v > most->rest_v - most->terminal_v)
      most = ledger;
  }
  return most;
}

static int gather_shares(const struct tailvolt_ledger *ledger, bool several, struct share *shares) {
  char battery[TAILVOLT_NAME_MAX + 64];
  tv_part_spoken(TAILVOLT_PART_BATTERY, several ? ledger->battery : "", battery, sizeof battery);
  bool charging = tv_charging_drop_v(ledger) != 0.0;
  int count = 0;
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    char spoken[TAILVOLT_NAME_MAX + 64];
    const char *name = spoken;
    tv_part_spoken(entry->part_kind, entry->name, spoken, sizeof spoken);
    if (tv_entry_is_battery(entry))
      name = charging && entry->drop == TAILVOLT_DROP_CHARGING   ? "charging voltage"
             : charging && entry->drop == TAILVOLT_DROP_AT_LIMIT ? "alternator at its limit"
                                                                 : battery;
    else if (entry->ground_side) name = "ground side";
    add_share(shares, &count, name, entry->drop_v);
  }
  /* greatest first */
  for (int k = 1; k < count; k++) {
    struct share moved = shares[k];
    int at = k;
    for (; at > 0 && shares[at - 1].drop_v < moved.drop_v; at--) shares[at] = shares[at - 1];
    shares[at] = moved;
  }
  return count;
}

/* What gave volts back since rest, where it is enough to puzzle a reader who adds up; NULL = nothing. */
static const struct share *returned(const struct share *shares, int count) {
  return count > 0 && shares[count - 1].drop_v <= -0.095 ? &shares[count - 1] : NULL;
}

/* The greatest drops, then the sag: "A 1.37 V, B 0.46 V of 2.4 V sag", or where something gave volts back
 * "A 1.27 V, B 0.35 V; battery gives 0.15 V back; sag 1.7 V". */
static void say_shares(const struct share *shares, int count, int most, double sag_v, char *to, size_t size) {
  const struct share *back = returned(shares, count);
  struct tv_number sag = tv_fixed(sag_v, sag_v < 0.95 ? 2 : 1);
  int shown = 0;
  to[0] = '\0';
  for (; shown < most && shown < count && shares[shown].drop_v >= 0.005; shown++) {
    char name[TAILVOLT_NAME_MAX + 64];
    tv_copy_text(name, sizeof name, shares[shown].name);
    tv_append(to, size, "%s%s %s V", shown > 0 ? ", " : "", name, tv_fixed(shares[shown].drop_v, 2).text);
  }
  if (back != NULL)
    tv_append(to, size, "%s%s gives %s V back; sag %s V", shown > 0 ? "; " : "", back->name, tv_fixed(-back->drop_v, 2).text,
        sag.text);
  else
    tv_append(to, size, "%s%s V sag", shown > 0 ? " of " : "", sag.text);
}

static void why_line(const struct tailvolt_result *run, char *to, size_t size) {
  enum { SHOWN = 3 };
  const struct tailvolt_ledger *ledger = worst_ledger(run);
  struct share shares[TV_FEED_DROPS_MAX];
  double sag_v = ledger == NULL ? 0.0 : ledger->rest_v - ledger->terminal_v;
  if (ledger == NULL || !(sag_v >= TV_NO_SAG_V)) {
    tv_append(to, size, "no sag: the voltage never falls below its rest value");
    return;
  }
  int count = gather_shares(ledger, run->battery_count > 1, shares);
  /* fewer parts, then no explanation, where the line would grow too long */
  for (int most = SHOWN; most >= 1; most--) {
    say_shares(shares, count, most, sag_v, to, size);
    size_t length = strlen(to);
    tv_append(to, size, " (voltage drop under load)");
    if (fits(to, BODY_WIDTH)) return;
    to[length] = '\0';
    if (fits(to, BODY_WIDTH)) return;
  }
}

/* "battery loses 19 A, 1.4 h to half charge"; `who` empty where it was named just before, else NULL. */
static void say_balance(const struct tailvolt_result *run, struct tv_group group, const char *who, double battery_a, bool hours_too,
                        char *to, size_t size) {
  char named[TAILVOLT_NAME_MAX + 16];
  double above_ah = tv_above_half_ah(run, group);
  tv_section_words(TAILVOLT_PART_BATTERY, group.first < 0 ? "" : run->batteries[group.first].name, named, sizeof named);
  if (who == NULL) who = named;
  if (battery_a <= -0.05) {
    tv_append(to, size, "%s loses %s", who, tv_amperes(-battery_a).text);
    if (hours_too && !(above_ah > 0)) tv_append(to, size, ", already below half charge");
    else if (hours_too) tv_append(to, size, ", %s to half charge", tv_duration(above_ah / -battery_a * 3600.0).text);
  } else if (battery_a >= 0.05) {
    tv_append(to, size, "%s gains %s", who, tv_amperes(battery_a).text);
  } else {
    tv_append(to, size, "%s keeps its charge", who);
  }
}

/* How to say what the high end does: behind all batteries, or where that takes more than two lines, with the battery that the computer
 * watches, which then comes first; last without the volts. */
enum { HIGH_LAST, HIGH_FIRST, HIGH_SHORT };

static void say_balances(const struct tailvolt_result *run, enum tailvolt_phase phase, bool swings, int high, char *to, size_t size) {
  int groups = tv_charge_groups(run, phase), watched = -1, said = 0;
  const struct tailvolt_swing *swing = &run->swing;
  for (int k = 0; k < groups && swings; k++)
    if (tv_charge_swings(run, tv_charge_group(run, phase, k))) watched = k;
  struct tv_group restored = tv_charge_group(run, phase, watched);
  double high_a = swings ? tv_high_balance_a(run, phase, restored) : 0.0;
  struct tv_number high_end = tv_volts_beside(swing->high_v, (double)NAN);
  if (swings && high != HIGH_LAST) {
    said++;
    say_balance(run, restored, NULL, tv_taken_a(run, phase, restored), false, to, size);
    tv_append(to, size, ", below %s %% of charge%s%s", tv_compact(swing->low_end_above_pct, 1).text,
        high == HIGH_FIRST ? " at " : "", high == HIGH_FIRST ? high_end.text : "");
    say_balance(run, restored, "", high_a, true, to, size);
  }
  for (int k = groups > 0 ? 0 : -1; k < (groups > 0 ? groups : 0); k++) {
    struct tv_group group = tv_charge_group(run, phase, k);
    bool by_both = swings && (k == watched || tv_charge_swings(run, group)); /* how long then depends on the high end too */
    if (by_both && high != HIGH_LAST) continue;
    if (said++ > 0) tv_append(to, size, "; ");
    say_balance(run, group, NULL, tv_taken_a(run, phase, group), !by_both, to, size);
  }
  if (!swings || high != HIGH_LAST) return;
  tv_append(to, size, "; below %s %% of charge at %s: ", tv_compact(swing->low_end_above_pct, 1).text, high_end.text);
  say_balance(run, restored, NULL, high_a, true, to, size);
}

/* Whether a line fits, long names shortened. */
static bool fits_shortened(const struct tailvolt_system *system, const char *text) {
  char copy[4 * TAILVOLT_TEXT_MAX];
  tv_copy_text(copy, sizeof copy, text);
  shorten_names(system, copy, sizeof copy, BODY_WIDTH);
  return fits(copy, BODY_WIDTH);
}

static void charge_line(const struct tailvolt_system *system, const struct tailvolt_result *run, char *to, size_t size) {
  int order[TAILVOLT_PHASES];
  if (tv_phases_worst_first(run, order) == 0) {
    tv_append(to, size, "no time passes");
    return;
  }
  int phase = order[0];
  const struct tailvolt_budget *budget = &run->phase_budget[phase];
  if (!budget->present) {
    tv_append(to, size, "%s: no figures", tv_phase_word(phase));
    return;
  }
  bool converter = run->alternator.by_converter, swings = run->swing.present && phase != TAILVOLT_PARKED;
  tv_append(to, size, "%s", tv_phase_word(phase));
  if (swings) tv_append(to, size, " at %s", tv_volts_beside(run->swing.low_v, (double)NAN).text);
  tv_append(to, size, ": ");
  if (phase != TAILVOLT_PARKED)
    tv_append(to, size, "%s %s, ", converter ? "converter" : "alternator", tv_amperes(budget->generation_a).text);
  tv_append(to, size, "car %s, amplifier%s %s: ", tv_amperes(budget->base_a).text, run->amplifier_count == 1 ? "" : "s",
      tv_amperes(budget->amplifier_a).text);
  size_t length = strlen(to);
  for (int high = HIGH_LAST; high <= HIGH_SHORT; high++) {
    to[length] = '\0';
    say_balances(run, (enum tailvolt_phase)phase, swings, high, to, size);
    if (!swings || fits_shortened(system, to)) return;
  }
}

/* Whether a fuse is near enough to its battery; at most 45 cm of cable (common practice). */
static bool is_near(const struct tailvolt_conductor *fuse) {
  return fuse != NULL && isfinite(fuse->distance_m) && fuse->distance_m <= 0.45 + 1e-9;
}

/* Whether `more` still fits after what is said. */
static bool fits_with(const char *said, const char *more) {
  char both[4 * TAILVOLT_TEXT_MAX] = "";
  tv_append(both, sizeof both, "%s%s", said, more);
  return fits(both, BODY_WIDTH);
}

static bool at_same_post(const struct tailvolt_finding *f, const struct tailvolt_finding *other) {
  return other->kind == TAILVOLT_FOUND_FUSE_ASSUMED && f->part[1].kind == other->part[1].kind &&
         f->part[1].index == other->part[1].index;
}

/* "60 A", "2 x 100 A", "60 A and 125 A": the fuses to fit at the post of finding `from`. */
static void ratings_at_post(const struct tailvolt_result *run, int from, char *to, size_t size) {
  const struct tailvolt_finding *f = &run->cautions[from];
  to[0] = '\0';
  for (int k = from; k < run->caution_count; k++) {
    const struct tailvolt_finding *one = &run->cautions[k];
    int alike = 0;
    bool before = false;
    for (int j = from; j < run->caution_count; j++) {
      bool same = at_same_post(f, &run->cautions[j]) && fabs(run->cautions[j].current_a - one->current_a) < 0.05;
      alike += same;
      before = before || (same && j < k);
    }
    if (!at_same_post(f, one) || before) continue;
    tv_append(to, size, "%s", to[0] != '\0' ? " and " : "");
    if (alike > 1) tv_append(to, size, "%d x ", alike);
    tv_append(to, size, "%s A", tv_compact(one->current_a, 1).text);
  }
}

void tv_feeding_battery(const struct tailvolt_result *run, int amplifier, char *to, size_t size) {
  int battery = run->amplifiers[amplifier].battery;
  bool named = run->battery_count > 1 && battery >= 0 && battery < run->battery_count;
  tv_section_words(TAILVOLT_PART_BATTERY, named ? run->batteries[battery].name : "", to, size);
}

/* Whether a caution is the first of its post about a fuse to be fitted. */
static bool begins_post(const struct tailvolt_result *run, int caution) {
  if (run->cautions[caution].kind != TAILVOLT_FOUND_FUSE_ASSUMED) return false;
  for (int k = 0; k < caution; k++)
    if (at_same_post(&run->cautions[caution], &run->cautions[k])) return false;
  return true;
}

/* "fit 60 A within 30 cm of the battery (not in your file)": a fuse nobody has fitted is never right. Posts for which there is no room
 * are counted; true where there are any, for they have to be told below. */
static bool assumed_fuses(const struct tailvolt_result *run, bool us_units, char *to, size_t size) {
  static const char end[] = " (not in your file)";
  int posts = 0, count = 0, inside = 0;
  for (int k = 0; k < run->caution_count; k++) {
    posts += begins_post(run, k);
    inside += run->cautions[k].kind == TAILVOLT_FOUND_FUSE_ASSUMED_INSIDE;
  }
  for (int k = 0; k < run->caution_count; k++) {
    const struct tailvolt_finding *f = &run->cautions[k];
    char part[2 * TAILVOLT_NAME_MAX + 160], post[TAILVOLT_NAME_MAX + 16], ratings[96];
    if (!begins_post(run, k)) continue;
    ratings_at_post(run, k, ratings, sizeof ratings);
    tv_section_words(f->part[1].kind, f->part[1].name, post, sizeof post);
    snprintf(part, sizeof part, "%s%s within %s of %s%s", count > 0 ? " and " : to[0] != '\0' ? "; fit " : "fit ",
             ratings, tv_length(f->limit_m, us_units).text,
             run->battery_count == 1 || strcmp(post, "battery") == 0 ? "the " : "",
             run->battery_count == 1 ? "battery" : post);
    char with_end[4 * TAILVOLT_NAME_MAX + 128];
    snprintf(with_end, sizeof with_end, "%s%s%s", part, count + 1 < posts || inside > 0 ? "; 99 more below" : "", end);
    if (!fits_with(to, with_end)) {
      if (count == 0) tv_append(to, size, "%sfuses to be fitted: below", to[0] != '\0' ? "; " : "");
      else tv_append(to, size, "; %d more below%s", posts - count + inside, end);
      return true;
    }
    tv_append(to, size, "%s", part);
    count++;
  }
  if (inside > 0 && count == 0) tv_append(to, size, "%sfuses to be fitted: below", to[0] != '\0' ? "; " : "");
  else if (inside > 0) tv_append(to, size, "; %d more below", inside);
  if (count > 0) tv_append(to, size, "%s", end);
  return inside > 0;
}

/* Fuses that are right, as far as there is room before `then`. */
static void safe_fuses(const struct tailvolt_system *system, const struct tailvolt_result *run,
                       bool us_units, const char *then, char *to, size_t size) {
  for (int k = 0; k < run->fuse_count; k++) {
    const struct tailvolt_fuse_result *fuse = &run->fuses[k];
    char part[2 * TAILVOLT_TEXT_MAX] = "";
    const struct tailvolt_conductor *made = tv_conductor_at(system, fuse->conductor);
    if (fuse->assumed) continue;
    char name[TAILVOLT_NAME_MAX + 16];
    tv_section_words(TAILVOLT_PART_FUSE, fuse->name, name, sizeof name);
    tv_append(part, sizeof part, "%s%s %s A", to[0] != '\0' ? "; " : "", name, tv_compact(fuse->rating_a, 1).text);
    if (isfinite(fuse->largest_a))
      tv_append(part, sizeof part, " protects its cable (at most %s A)", tv_compact(fuse->largest_a, 1).text);
    if (is_near(made))
      tv_append(part, sizeof part, ", %s from the battery: right", tv_length(made->distance_m, us_units).text);
    char with_then[4 * TAILVOLT_TEXT_MAX];
    snprintf(with_then, sizeof with_then, "%s%s%s", part, then[0] != '\0' ? "; " : "", then);
    if (!fits_with(to, with_then)) break;
    tv_append(to, size, "%s", part);
  }
}

/* Where the only fuse is placed right, that is said even while something else is wrong. */
static void say_distance(const struct tailvolt_system *system, const struct tailvolt_result *run, bool us_units,
                         char *to, size_t size) {
  char part[96];
  if (run->fuse_count != 1 || run->fuses[0].assumed) return;
  const struct tailvolt_conductor *fuse = tv_conductor_at(system, run->fuses[0].conductor);
  if (!is_near(fuse)) return;
  snprintf(part, sizeof part, "; %s from the battery: right", tv_length(fuse->distance_m, us_units).text);
  if (fits_with(to, part)) tv_append(to, size, "%s", part);
}

/* No safety line is cut off: what does not fit is counted here and printed in full below; true where fuses to be fitted are. */
static bool safety_line(const struct tailvolt_system *system, const struct tailvolt_result *run,
                        bool us_units, char *to, size_t size) {
  int hidden = 0, shown = 0;
  /* lethal faults first */
  for (int k = 0; k < run->caution_count; k++)
    if (run->cautions[k].kind == TAILVOLT_FOUND_CHARGING_HYBRID) tv_append(to, size, "hybrid: do not touch orange cable");
  for (int k = 0; k < run->reason_count; k++) {
    char text[TAILVOLT_TEXT_MAX], part[2 * TAILVOLT_TEXT_MAX];
    if (run->reasons[k].topic != TAILVOLT_ABOUT_SAFETY) continue;
    brief(&run->reasons[k], us_units, text, sizeof text);
    if (shown == 0) shorten_names(system, text, sizeof text, BODY_WIDTH);
    snprintf(part, sizeof part, "%s%s%s", to[0] != '\0' ? "; " : "",
             shown == 0 && run->reasons[k].status == TAILVOLT_FAILS ? "FAILS: " : "", text);
    char with_count[3 * TAILVOLT_TEXT_MAX];
    snprintf(with_count, sizeof with_count, "%s; 99 more below", part);
    if (hidden > 0 || (shown > 0 && !fits_with(to, with_count))) hidden++;
    else {
      tv_append(to, size, "%s", part);
      shown++;
    }
  }
  if (hidden > 0) tv_append(to, size, "; %d more below", hidden);
  else if (shown > 0) say_distance(system, run, us_units, to, size);
  else {
    char missing[2 * TAILVOLT_TEXT_MAX] = "";
    (void)assumed_fuses(run, us_units, missing, sizeof missing);
    safe_fuses(system, run, us_units, missing, to, size);
  }
  bool fuses_below = assumed_fuses(run, us_units, to, size);
  if (to[0] == '\0') tv_append(to, size, "no fuse, cable or joint out of its limits");
  return fuses_below;
}

static void next_line(const struct tailvolt_system *system, const struct tailvolt_result *run,
                      const char *next, char *to, size_t size) {
  int count = system != NULL ? system->assumption_count : 0;
  bool right = run->status == TAILVOLT_HOLDS && run->safety != TAILVOLT_FAILS;
  if (next == NULL)
    next = right                              ? "nothing needs changing"
           : run->status == TAILVOLT_HOLDS    ? "put right what SAFETY names; the volts need nothing"
                                              : "measure the drops listed below before buying";
  char assumed[64] = "";
  if (count > 0) snprintf(assumed, sizeof assumed, ".  %d value%s assumed", count, count == 1 ? "" : "s");
  tv_append(to, size, "%s", next);
  shorten_names(system, to, size, BODY_WIDTH);
  if (fits_with(to, assumed)) tv_append(to, size, "%s", assumed);
}

/* A parked profile answers one of two questions: how far the volts fall. The other is for the parked study. */
static void parked_line(const struct tailvolt_result *run, char *to, size_t size) {
  const struct tailvolt_phase_result *parked = &run->phases[TAILVOLT_PARKED];
  if (!parked->present || !(parked->duration_s > 0.5 * run->duration_s)) return;
  tv_append(to, size, "these are volts while it plays, not whether the car still starts; `tailvolt parked`");
  if (!run->parked_answer.asked) {
    tv_append(to, size, " says that");
    return;
  }
  if (isnan(run->parked_answer.restart_s)) tv_append(to, size, ": it still starts throughout");
  else tv_append(to, size, ": no start after %s", tv_duration(run->parked_answer.restart_s).text);
  if (isfinite(run->parked_answer.until_s)) tv_append(to, size, "; plays %s", tv_duration(run->parked_answer.until_s).text);
}

/* What customers complain of first. */
static void lights_line(const struct tailvolt_system *system, const struct tailvolt_result *run, char *to, size_t size) {
  const struct tailvolt_lights *lights = &run->lights;
  if (!lights->known || !lights->visible) return;
  bool load = system != NULL && lights->load >= 0 && lights->load < system->load_count;
  tv_append(to, size, "%s dim by %s on each beat%s: %s", load ? system->loads[lights->load].name : "headlamps",
      tv_percent(lights->dim_pct).text, lights->if_halogen ? ", if halogen" : "",
      lights->dim_pct > TAILVOLT_DIM_PLAIN_PCT ? "plainly seen" : "seen against a wall");
}

/* Two lines as they stand; a line of its own for what to measure. */
static void sure_line(const struct tailvolt_result *run, char *to, size_t size) {
  char first[TV_SURE_LINE], second[TV_SURE_LINE];
  tv_sure_lines(&run->certainty, first, second);
  tv_append(to, size, "%s%s%s", first, second[0] != '\0' ? "\n" : "", second);
}

void tv_summary_of(const struct tailvolt_system *system, const struct tailvolt_result *run,
                   const char *next, bool us_units, struct tv_summary *summary) {
  static const char *const labels[TV_SUMMARY_LINES] = {"", "WHY", "CHARGE", "SAFETY", "PARKED", "LIGHTS", "SURE", "NEXT"};
  *summary = (struct tv_summary){.status = run->status, .safety = run->safety};
  for (int k = 0; k < TV_SUMMARY_LINES; k++)
    snprintf(summary->label[k], sizeof summary->label[k], "%s", labels[k]);
  const size_t size = sizeof summary->text[0];
  verdict_line(system, run, summary->text[TV_LINE_VERDICT], size);
  why_line(run, summary->text[TV_LINE_WHY], size);
  charge_line(system, run, summary->text[TV_LINE_CHARGE], size);
  summary->fuses_below = safety_line(system, run, us_units, summary->text[TV_LINE_SAFETY], size);
  parked_line(run, summary->text[TV_LINE_PARKED], size);
  lights_line(system, run, summary->text[TV_LINE_LIGHTS], size);
  sure_line(run, summary->text[TV_LINE_SURE], size);
  next_line(system, run, next, summary->text[TV_LINE_NEXT], size);
  for (int k = 0; k < TV_SUMMARY_LINES; k++)
    if (k != TV_LINE_SURE) fit(system, summary->text[k], size, k == 0 ? TV_SCREEN_WIDTH : BODY_WIDTH);
}
