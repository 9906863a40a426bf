#include "report/summary.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "text/text.h"
#include "text/loop.h"
#include "text/number.h"
#include "report/page.h"
#include "simulate/worst.h"
#include "text/words.h"

enum { LABEL_WIDTH = 8, BODY_WIDTH = TV_PAGE_WIDTH - LABEL_WIDTH };

static void say(char *to, size_t size, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 3, 4)))
#endif
    ;

/* Appends. */
static void say(char *to, size_t size, const char *format, ...) {
  size_t length = strlen(to);
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(to + length, size - length, format, arguments);
  va_end(arguments);
}

static const struct tailvolt_reason *first_reason(const struct tailvolt_result *run, int phase,
                                                  enum tailvolt_verdict status) {
  for (int k = 0; k < run->reason_count; k++) {
    const struct tailvolt_reason *reason = &run->reasons[k];
    bool here = phase < 0 || reason->phase < 0 || reason->phase == phase;
    if (here && reason->status == status) return reason;
  }
  return NULL;
}

/* A verdict that no phase shares comes from the wiring as such. */
static bool is_about_safety(const struct tailvolt_result *run, const int *order, int count) {
  return count > 0 && run->phases[order[0]].status < run->status;
}

enum { NAME_SHORT = 20 };

/* Puts a shortened form in place of a long name. */
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

/* Long names give way before figures do, where a text is wider than `columns`. */
static void shorten_names(const struct tailvolt_system *system, char *text, size_t size, size_t columns) {
  if (system == NULL) return;
  for (int k = 0; k < system->conductor_count && tv_columns(text) > columns; k++)
    shorten_name(text, size, system->conductors[k].name);
  for (int k = 0; k < system->battery_count && tv_columns(text) > columns; k++)
    shorten_name(text, size, system->batteries[k].name);
  for (int k = 0; k < system->amplifier_count && tv_columns(text) > columns; k++)
    shorten_name(text, size, system->amplifiers[k].name);
  for (int k = 0; k < system->capacitor_count && tv_columns(text) > columns; k++)
    shorten_name(text, size, system->capacitors[k].name);
  for (int k = 0; k < system->isolator_count && tv_columns(text) > columns; k++)
    shorten_name(text, size, system->isolators[k].name);
}

/* What a reason says before its explanation: "fuse main 80 A too big for 8 AWG (at most 50 A)". */
static void brief(const struct tailvolt_reason *reason, char *to, size_t size) {
  snprintf(to, size, "%s", reason->text);
  char *explanation = strstr(to, ": ");
  if (explanation != NULL && explanation - to >= 12) *explanation = '\0';
}

static void say_voltage(const struct tailvolt_result *run, int amplifier, int phase, char *to,
                        size_t size) {
  const struct tailvolt_amplifier_result *whole = &run->amplifiers[amplifier];
  const struct tailvolt_amplifier_phase *in = &whole->phase[phase];
  char name[TAILVOLT_NAME_MAX];
  bool holds = in->min_v >= in->target_v;
  snprintf(name, sizeof name, "%s", whole->name);
  tv_page_cut(name, 20);
  say(to, size, ": %s ", name);
  if (whole->cut_outs > 0 && !holds)
    say(to, size, "cuts out %d time%s, ", whole->cut_outs, whole->cut_outs == 1 ? "" : "s");
  say(to, size, "%s %s (wanted %s)", holds ? "stays at or above" : "falls to",
      tv_volts_beside(in->min_v, in->target_v).text, tv_volts_beside(in->target_v, in->min_v).text);
  if (in->below_target_pct > 0.0)
    say(to, size, ", below it %s of the time", tv_percent(in->below_target_pct).text);
  say(to, size, ", %s at %s", holds ? "lowest" : "worst", tv_clock(in->min_time_s).text);
}

static bool voltage_is_why(const struct tailvolt_result *run, int phase) {
  for (int k = 0; k < run->reason_count; k++) {
    const struct tailvolt_reason *reason = &run->reasons[k];
    if (reason->topic == TAILVOLT_ABOUT_VOLTAGE && reason->status == run->status &&
        (reason->phase < 0 || reason->phase == phase))
      return true;
  }
  return false;
}

void tv_summary_shorten(char *line, size_t columns) {
  char *comma;
  while (tv_columns(line) > columns && (comma = strrchr(line, ',')) != NULL) *comma = '\0';
}

/* The verdict with as many of the phases that share it as `phases` says. */
static void verdict_of_phases(const struct tailvolt_result *run, const int *order, int phases, char *to,
                              size_t size) {
  int phase = order[0], amplifier = tv_worst_amplifier(run, phase);
  const struct tailvolt_reason *reason = first_reason(run, phase, run->status);
  char text[TAILVOLT_TEXT_MAX];
  to[0] = '\0';
  say(to, size, "%s", tv_verdict_shout(run->status));
  for (int k = 0; k < phases; k++) say(to, size, "%s%s", k == 0 ? " " : " and ", tv_phase_place(order[k]));
  if (run->status != TAILVOLT_HOLDS && reason != NULL && (amplifier < 0 || !voltage_is_why(run, phase))) {
    brief(reason, text, sizeof text);
    say(to, size, ": %s", text);
  } else if (amplifier >= 0) {
    say_voltage(run, amplifier, phase, to, size);
  } else {
    say(to, size, ": no amplifier plays");
  }
}

static void verdict_line(const struct tailvolt_system *system, const struct tailvolt_result *run, char *to,
                         size_t size) {
  int order[TAILVOLT_PHASES], count = tv_phases_worst_first(run, order), alike = 0;
  const struct tailvolt_reason *reason = first_reason(run, -1, run->status);
  if (count == 0 || is_about_safety(run, order, count)) {
    char text[TAILVOLT_TEXT_MAX] = "";
    if (reason != NULL) brief(reason, text, sizeof text);
    say(to, size, "%s%s: %s", tv_verdict_shout(run->status), count > 0 ? " on safety" : "", text);
    shorten_names(system, to, size, TV_PAGE_WIDTH);
    return;
  }
  while (alike < count && run->phases[order[alike]].status == run->phases[order[0]].status) alike++;
  /* the worst phase alone where the line would grow too long */
  for (; alike >= 1; alike--) {
    verdict_of_phases(run, order, alike, to, size);
    shorten_names(system, to, size, TV_PAGE_WIDTH);
    if (tv_columns(to) <= TV_PAGE_WIDTH) return;
  }
  tv_summary_shorten(to, TV_PAGE_WIDTH);
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
  if (*count == TV_LOOP_MAX) return;
  snprintf(shares[*count].name, sizeof shares[0].name, "%s", name);
  shares[(*count)++].drop_v = drop_v;
}

/* The ledger to explain: of the amplifier worst off, else the one that sags the most. */
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

static int gather_shares(const struct tailvolt_ledger *ledger, struct share *shares) {
  int count = 0;
  for (int k = 0; k < ledger->entry_count; k++) {
    const struct tailvolt_ledger_entry *entry = &ledger->entries[k];
    char spoken[TAILVOLT_NAME_MAX + 64];
    const char *name = spoken;
    tv_part_spoken(entry->part_kind, entry->name, spoken, sizeof spoken);
    if (tv_entry_is_battery(entry))
      name = entry->drop == TAILVOLT_DROP_CHARGING   ? "charging voltage"
             : entry->drop == TAILVOLT_DROP_AT_LIMIT ? "alternator at its limit"
                                                     : "battery";
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
    tv_page_cut(name, 24);
    say(to, size, "%s%s %s V", shown > 0 ? ", " : "", name, tv_fixed(shares[shown].drop_v, 2).text);
  }
  if (back != NULL)
    say(to, size, "%s%s gives %s V back; sag %s V", shown > 0 ? "; " : "", back->name, tv_fixed(-back->drop_v, 2).text,
        sag.text);
  else
    say(to, size, "%s%s V sag", shown > 0 ? " of " : "", sag.text);
}

static void why_line(const struct tailvolt_result *run, char *to, size_t size) {
  enum { SHOWN = 3 };
  const struct tailvolt_ledger *ledger = worst_ledger(run);
  struct share shares[TV_LOOP_MAX];
  double sag_v = ledger == NULL ? 0.0 : ledger->rest_v - ledger->terminal_v;
  if (ledger == NULL || !(sag_v >= TV_NO_SAG_V)) {
    say(to, size, "no sag: the voltage never falls below its rest value");
    return;
  }
  int count = gather_shares(ledger, shares);
  /* fewer parts, then no explanation, where the line would grow too long */
  for (int most = SHOWN; most >= 1; most--) {
    say_shares(shares, count, most, sag_v, to, size);
    if (tv_columns(to) + 26 <= BODY_WIDTH) say(to, size, " (voltage drop under load)");
    if (tv_columns(to) <= BODY_WIDTH) return;
  }
}

/* Hours until the batteries together are half empty, at a loss of `loss_a`; NAN where they already are. */
static double hours_to_half(const struct tailvolt_result *run, double loss_a) {
  double above_ah = 0.0;
  for (int k = 0; k < run->battery_count; k++)
    above_ah += run->batteries[k].capacity_ah * (run->batteries[k].start_soc_pct - 50.0) / 100.0;
  return above_ah > 0.0 ? above_ah / loss_a : (double)NAN;
}

static void charge_line(const struct tailvolt_result *run, char *to, size_t size) {
  int order[TAILVOLT_PHASES];
  if (tv_phases_worst_first(run, order) == 0) {
    say(to, size, "no time passes");
    return;
  }
  const struct tailvolt_budget *budget = &run->phase_budget[order[0]];
  if (!budget->present) {
    say(to, size, "%s: no figures", tv_phase_word(order[0]));
    return;
  }
  say(to, size, "%s: ", tv_phase_word(order[0]));
  if (order[0] != TAILVOLT_PARKED) say(to, size, "alternator %s, ", tv_amperes(budget->generation_a).text);
  say(to, size, "car %s, amplifier%s %s: battery ", tv_amperes(budget->base_a).text,
      run->amplifier_count == 1 ? "" : "s", tv_amperes(budget->amplifier_a).text);
  double loss_a = -budget->battery_a;
  if (loss_a >= 0.05) {
    double hours = hours_to_half(run, loss_a);
    say(to, size, "loses %s, ", tv_amperes(loss_a).text);
    if (isnan(hours)) say(to, size, "already below half charge");
    else say(to, size, "%s to half charge", tv_duration(hours * 3600.0).text);
  } else if (loss_a <= -0.05) {
    say(to, size, "gains %s", tv_amperes(-loss_a).text);
  } else {
    say(to, size, "keeps its charge");
  }
}

/* Whether a fuse sits near enough to its battery; 45 cm of cable at most (common practice). */
static bool is_near(const struct tailvolt_conductor *fuse) {
  return fuse != NULL && isfinite(fuse->distance_m) && fuse->distance_m <= 0.45 + 1e-9;
}

/* "fit 60 A within 30 cm of the battery (not in your file)": what nobody has fitted is never right. */
static void assumed_fuses(const struct tailvolt_result *run, bool us_units, char *to, size_t size) {
  int count = 0;
  for (int k = 0; k < run->caution_count; k++) {
    const struct tailvolt_finding *f = &run->cautions[k];
    char part[2 * TAILVOLT_NAME_MAX + 64], post[TAILVOLT_NAME_MAX + 16];
    if (f->kind != TAILVOLT_FOUND_FUSE_ASSUMED) continue;
    tv_section_words(f->part[1].kind, f->part[1].name, post, sizeof post);
    snprintf(part, sizeof part, "%s%s A within %s of %s%s", count > 0 ? " and " : to[0] != '\0' ? "; fit " : "fit ",
             tv_compact(f->current_a, 1).text, tv_length(f->limit_m, us_units).text,
             run->battery_count == 1 || strcmp(post, "battery") == 0 ? "the " : "",
             run->battery_count == 1 ? "battery" : post);
    if (tv_columns(to) + tv_columns(part) + 20 > BODY_WIDTH) {
      if (count == 0) say(to, size, "; fuse not in your file");
      break;
    }
    say(to, size, "%s", part);
    count++;
  }
  if (count > 0) say(to, size, " (not in your file)");
}

static void safe_fuses(const struct tailvolt_system *system, const struct tailvolt_result *run,
                       bool us_units, char *to, size_t size) {
  for (int k = 0; k < run->fuse_count; k++) {
    const struct tailvolt_fuse_result *fuse = &run->fuses[k];
    char part[2 * TAILVOLT_TEXT_MAX] = "";
    const struct tailvolt_conductor *made = tv_conductor_at(system, fuse->conductor);
    if (fuse->assumed) continue;
    say(part, sizeof part, "%sfuse %s %s A", to[0] != '\0' ? "; " : "", fuse->name,
        tv_compact(fuse->rating_a, 1).text);
    if (isfinite(fuse->largest_a))
      say(part, sizeof part, " protects its cable (at most %s A)", tv_compact(fuse->largest_a, 1).text);
    if (is_near(made))
      say(part, sizeof part, ", %s from the battery: right", tv_length(made->distance_m, us_units).text);
    if (tv_columns(to) + tv_columns(part) > BODY_WIDTH) break;
    say(to, size, "%s", part);
  }
}

/* Where the one fuse sits right, it is said even while something else is wrong. */
static void say_distance(const struct tailvolt_system *system, const struct tailvolt_result *run, bool us_units,
                         char *to, size_t size) {
  char part[96];
  if (run->fuse_count != 1 || run->fuses[0].assumed) return;
  const struct tailvolt_conductor *fuse = tv_conductor_at(system, run->fuses[0].conductor);
  if (!is_near(fuse)) return;
  snprintf(part, sizeof part, "; %s from the battery: right", tv_length(fuse->distance_m, us_units).text);
  if (tv_columns(to) + tv_columns(part) <= BODY_WIDTH) say(to, size, "%s", part);
}

/* Nothing of safety is cut off: what does not fit is counted and stands below in full. */
static void safety_line(const struct tailvolt_system *system, const struct tailvolt_result *run,
                        bool us_units, char *to, size_t size) {
  enum { COUNT_WIDTH = 14 };
  int hidden = 0, shown = 0;
  for (int k = 0; k < run->reason_count; k++) {
    char text[TAILVOLT_TEXT_MAX];
    if (run->reasons[k].topic != TAILVOLT_ABOUT_SAFETY) continue;
    brief(&run->reasons[k], text, sizeof text);
    if (shown == 0) shorten_names(system, text, sizeof text, BODY_WIDTH - COUNT_WIDTH);
    if (shown == 0) tv_page_cut(text, BODY_WIDTH - COUNT_WIDTH);
    if (hidden > 0 || tv_columns(to) + 2 + tv_columns(text) > BODY_WIDTH - (shown > 0 ? COUNT_WIDTH : 0)) hidden++;
    else say(to, size, "%s%s", shown++ > 0 ? "; " : "", text);
  }
  if (hidden > 0) say(to, size, "; %d more below", hidden);
  else if (shown > 0) say_distance(system, run, us_units, to, size);
  else safe_fuses(system, run, us_units, to, size);
  assumed_fuses(run, us_units, to, size);
  if (to[0] == '\0') say(to, size, "no fuse, cable or joint out of its limits");
}

static void next_line(const struct tailvolt_system *system, const struct tailvolt_result *run,
                      const char *next, char *to, size_t size) {
  enum { ASSUMED_WIDTH = 41 }; /* ".  999 values assumed, listed at the end" */
  char assumed[64] = "";
  int count = system != NULL ? system->assumption_count : 0;
  if (next == NULL)
    next = run->status == TAILVOLT_HOLDS ? "nothing needs changing"
                                         : "measure the drops listed below before buying";
  char text[TAILVOLT_TEXT_MAX];
  snprintf(text, sizeof text, "%s", next);
  shorten_names(system, text, sizeof text, BODY_WIDTH - ASSUMED_WIDTH);
  if (count > 0)
    snprintf(assumed, sizeof assumed, ".  %d value%s assumed%s", count, count == 1 ? "" : "s",
             tv_columns(text) <= BODY_WIDTH - ASSUMED_WIDTH ? ", listed at the end" : "");
  tv_page_cut(text, BODY_WIDTH - tv_columns(assumed));
  say(to, size, "%s%s", text, assumed);
}

void tv_summary_of(const struct tailvolt_system *system, const struct tailvolt_result *run,
                   const char *next, bool us_units, struct tv_summary *summary) {
  static const char *const labels[TV_SUMMARY_LINES] = {"", "WHY", "CHARGE", "SAFETY", "NEXT"};
  *summary = (struct tv_summary){.status = run->status};
  for (int k = 0; k < TV_SUMMARY_LINES; k++)
    snprintf(summary->label[k], sizeof summary->label[k], "%s", labels[k]);
  verdict_line(system, run, summary->text[0], sizeof summary->text[0]);
  why_line(run, summary->text[1], sizeof summary->text[1]);
  charge_line(run, summary->text[2], sizeof summary->text[2]);
  safety_line(system, run, us_units, summary->text[3], sizeof summary->text[3]);
  next_line(system, run, next, summary->text[4], sizeof summary->text[4]);
  for (int k = 0; k < TV_SUMMARY_LINES; k++)
    tv_page_cut(summary->text[k], k == 0 ? TV_PAGE_WIDTH : BODY_WIDTH);
}
