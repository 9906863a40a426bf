#include "simulate/verdict.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/cautions.h"
#include "simulate/safety.h"
#include "text/text.h"
#include "text/words.h"

/* beyond this charge a battery's current tells its need, not what the alternator has to give */
#define NEARLY_FULL_PCT 90.0
/* a balance nearer to nothing than this is none: the state of the model, not of a car */
#define BALANCE_SLACK_A 0.02

struct bench {
  struct tailvolt_result *r;
  int reasons_room;
  bool out_of_memory;
};

__attribute__((format(printf, 6, 7)))
static struct tailvolt_reason *reason(struct bench *b, enum tailvolt_verdict status, enum tailvolt_topic topic, int phase,
                   const char *part, const char *format, ...) {
  struct tailvolt_result *r = b->r;
  if (r->reason_count == b->reasons_room) {
    int room = 2 * b->reasons_room + 8;
    struct tailvolt_reason *grown = realloc(r->reasons, (size_t)room * sizeof *grown);
    if (grown == NULL) {
      b->out_of_memory = true;
      return NULL;
    }
    r->reasons = grown;
    b->reasons_room = room;
  }
  struct tailvolt_reason *reason = &r->reasons[r->reason_count++];
  memset(reason, 0, sizeof *reason);
  reason->status = status;
  reason->topic = topic;
  reason->phase = phase;
  tv_copy_text(reason->part, sizeof reason->part, part);
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(reason->text, sizeof reason->text, format, arguments);
  va_end(arguments);
  return reason;
}

/* 252 -> "4:12" */
static const char *clock_text(double time_s, char *text, size_t size) {
  long long seconds = (long long)floor(time_s);
  const char *sign = seconds < 0 ? "-" : "";
  if (seconds < 0) seconds = -seconds;
  if (seconds >= 3600)
    snprintf(text, size, "%s%lld:%02lld:%02lld", sign, seconds / 3600, seconds / 60 % 60, seconds % 60);
  else
    snprintf(text, size, "%s%lld:%02lld", sign, seconds / 60, seconds % 60);
  return text;
}

static void note(struct tailvolt_reason *made, enum tailvolt_reason_kind kind, enum tailvolt_part_kind part, int index,
                 const char *name, double number, double limit) {
  if (made == NULL) return;
  made->kind = kind;
  made->about.kind = part;
  made->about.index = index;
  tv_copy_text(made->about.name, sizeof made->about.name, name);
  made->number = number;
  made->limit = limit;
  made->share_pct = made->time_s = (double)NAN;
}

static void judge_voltage(struct bench *b, const struct tv_run *run, int amplifier, int phase) {
  const struct tailvolt_amplifier_result *a = &b->r->amplifiers[amplifier];
  const struct tailvolt_amplifier_phase *p = &a->phase[phase];
  if (!(p->play_s > 0)) return;
  double margin_v = p->quantile_v - p->target_v, allowed_pct = 100 * run->system->targets.missed_frac;
  if (isnan(b->r->margin_v) || margin_v < b->r->margin_v) b->r->margin_v = margin_v;
  enum tailvolt_verdict status = tv_verdict_of_margin(margin_v);
  if (status == TAILVOLT_HOLDS) return;
  char when[32], part[TAILVOLT_NAME_MAX + 16];
  tv_section_words(TAILVOLT_PART_AMPLIFIER, a->name, part, sizeof part);
  clock_text(p->min_time_s, when, sizeof when);
  struct tailvolt_reason *made = reason(
      b, status, TAILVOLT_ABOUT_VOLTAGE, phase, part,
      "%s is below %.2f V for %.4g %% of the time (wanted %.1f V; %s), lowest %.2f V at %s", a->name, p->quantile_v,
      allowed_pct, p->target_v,
      status == TAILVOLT_FAILS ? "fails from 0.08 V below it" : "holds from 0.1 V above it", p->min_v, when);
  note(made, status == TAILVOLT_FAILS ? TAILVOLT_REASON_BELOW_TARGET : TAILVOLT_REASON_NEAR_TARGET,
       TAILVOLT_PART_AMPLIFIER, amplifier, a->name, p->quantile_v, p->target_v);
  if (made == NULL) return;
  made->share_pct = p->below_target_pct;
  made->time_s = p->min_time_s;
}

static void judge_cut_outs(struct bench *b, int amplifier) {
  const struct tailvolt_amplifier_result *a = &b->r->amplifiers[amplifier];
  int cut_outs = a->cut_outs - a->start_cut_outs;
  if (cut_outs <= 0) return;
  int phase = -1;
  for (int p = 0; p < TAILVOLT_PHASES; p++)
    if (a->phase[p].play_s > 0 && (phase < 0 || a->phase[p].min_v < a->phase[phase].min_v)) phase = p;
  char when[32], part[TAILVOLT_NAME_MAX + 16];
  tv_section_words(TAILVOLT_PART_AMPLIFIER, a->name, part, sizeof part);
  if (a->collapses > 0) {
    struct tailvolt_reason *made =
        reason(b, TAILVOLT_FAILS, TAILVOLT_ABOUT_VOLTAGE, phase, part,
               "%s asks for more than its wiring can carry: the supply collapses %d time%s, first at %s", a->name,
               a->collapses, a->collapses == 1 ? "" : "s", clock_text(a->first_collapse_s, when, sizeof when));
    note(made, TAILVOLT_REASON_COLLAPSES, TAILVOLT_PART_AMPLIFIER, amplifier, a->name, a->collapses, 0);
    if (made != NULL) made->time_s = a->first_collapse_s;
  }
  struct tailvolt_reason *made =
      reason(b, TAILVOLT_FAILS, TAILVOLT_ABOUT_VOLTAGE, phase, part, "%s cuts out %d time%s, silent for %.1f s", a->name,
             cut_outs, cut_outs == 1 ? "" : "s", a->off_s);
  note(made, TAILVOLT_REASON_CUTS_OUT, TAILVOLT_PART_AMPLIFIER, amplifier, a->name, cut_outs, 0);
  if (made != NULL) made->time_s = a->off_s;
}

double tv_above_half_ah(const struct tailvolt_result *r) {
  double above_ah = 0;
  for (int k = 0; k < r->battery_count; k++)
    above_ah += r->batteries[k].capacity_ah * (r->batteries[k].start_soc_pct - 50) / 100;
  return above_ah > 0 ? above_ah : 0;
}

double tv_balance_a(const struct tailvolt_result *r, enum tailvolt_phase phase) {
  const struct tailvolt_budget *budget = &r->phase_budget[phase];
  bool full = true;
  for (int k = 0; k < r->battery_count; k++) full = full && r->batteries[k].start_soc_pct >= NEARLY_FULL_PCT;
  bool spare = budget->battery_a > -BALANCE_SLACK_A && budget->surplus_a > budget->battery_a;
  return full && spare ? budget->surplus_a : budget->battery_a;
}

/* Seconds until the batteries are half empty at idle, HUGE_VAL = never. A set point that swings loses at the low end down to
 * `low end above`, and from there what the high end still loses. */
static double idle_lasts_s(const struct tailvolt_result *r) {
  double loss_a = -tv_balance_a(r, TAILVOLT_IDLE), above_ah = tv_above_half_ah(r);
  if (!(loss_a > BALANCE_SLACK_A)) return HUGE_VAL;
  if (!r->swing.present) return 3600 * above_ah / loss_a;
  double capacity_ah = 0;
  for (int k = 0; k < r->battery_count; k++) capacity_ah += r->batteries[k].capacity_ah;
  double low_ah = tv_least(capacity_ah * tv_most(r->swing.low_end_above_pct - 50, 0) / 100, above_ah);
  double high_loss_a = -r->swing.high_balance_a[TAILVOLT_IDLE];
  if (!(high_loss_a > BALANCE_SLACK_A)) return HUGE_VAL;
  return 3600 * ((above_ah - low_ah) / loss_a + low_ah / high_loss_a);
}

static void judge_charge(struct bench *b, const struct tv_run *run) {
  const struct tailvolt_result *r = b->r;
  const struct tailvolt_targets *targets = &run->system->targets;
  if (!r->phases[TAILVOLT_IDLE].present || run->system->vehicle.charging == TAILVOLT_CHARGING_NONE) return;
  double idle_a = r->swing.present ? r->swing.high_balance_a[TAILVOLT_IDLE] : tv_balance_a(r, TAILVOLT_IDLE);
  double lasts_s = idle_lasts_s(r);
  if (lasts_s < targets->idle_endurance_s) {
    struct tailvolt_reason *made = reason(
        b, TAILVOLT_FAILS, TAILVOLT_ABOUT_CHARGE, TAILVOLT_IDLE, "battery",
        "the battery loses %.1f A at idle: half charge after %.1f h (at least %.1f h wanted)", -idle_a, lasts_s / 3600,
        targets->idle_endurance_s / 3600);
    note(made, TAILVOLT_REASON_CHARGE_LOST, TAILVOLT_PART_BATTERY, 0, "battery", -idle_a,
         3600 * tv_above_half_ah(r) / targets->idle_endurance_s);
    if (made != NULL) made->time_s = lasts_s;
  }
  if (!r->phases[TAILVOLT_ROAD].present) return;
  double road_a = r->swing.present ? r->swing.high_balance_a[TAILVOLT_ROAD] : tv_balance_a(r, TAILVOLT_ROAD);
  double share = targets->idle_frac, mean_a = share * idle_a + (1 - share) * road_a;
  if (!(mean_a < -BALANCE_SLACK_A)) return;
  struct tailvolt_reason *made =
      reason(b, TAILVOLT_FAILS, TAILVOLT_ABOUT_CHARGE, TAILVOLT_IDLE, "battery",
             "the battery loses %.1f A on the mean of %.0f %% idle and %.0f %% road: the road does not bring back what idle "
             "takes", -mean_a, 100 * share, 100 * (1 - share));
  note(made, TAILVOLT_REASON_CHARGE_MIX, TAILVOLT_PART_BATTERY, 0, "battery", -mean_a, 0);
  if (made != NULL) made->share_pct = 100 * share;
}

/* What safety findings are worth: all but the cautions are reasons. */
static void judge_safety(struct bench *b, const struct tv_finding_list *list) {
  for (int k = 0; k < list->count; k++) {
    const struct tailvolt_finding *f = &list->finding[k];
    char part[TAILVOLT_NAME_MAX + 16], text[TAILVOLT_TEXT_MAX];
    if (f->status == TAILVOLT_HOLDS) continue;
    tv_section_words(f->part[0].kind, f->part[0].name, part, sizeof part);
    tailvolt_finding_text(f, false, text, sizeof text);
    struct tailvolt_reason *made = reason(b, f->status, TAILVOLT_ABOUT_SAFETY, -1, part, "%s", text);
    if (made == NULL) return;
    made->kind = TAILVOLT_REASON_SAFETY;
    made->about = f->part[0];
    made->finding = *f;
  }
}

static int by_weight(const void *left, const void *right) {
  const struct tailvolt_reason *a = left, *b = right;
  if (a->status != b->status) return b->status > a->status ? 1 : -1;
  if (a->topic != b->topic) return a->topic > b->topic ? 1 : -1;
  return 0;
}

/* Worst first; equal ones keep their order (insertion sort: few, and stable). */
static void sort_reasons(struct tailvolt_result *r) {
  for (int k = 1; k < r->reason_count; k++) {
    struct tailvolt_reason moved = r->reasons[k];
    int at = k;
    for (; at > 0 && by_weight(&r->reasons[at - 1], &moved) > 0; at--) r->reasons[at] = r->reasons[at - 1];
    r->reasons[at] = moved;
  }
}

static void take_swing(const struct tv_run *run, struct tailvolt_result *r) {
  const struct tailvolt_alternator *machine = &run->system->alternator;
  if (!run->high_end.known) return;
  r->swing.present = true;
  r->swing.low_v = machine->set_point_low_v;
  r->swing.high_v = machine->set_point_high_v;
  r->swing.low_end_above_pct = 100 * machine->low_end_above_frac;
  memcpy(r->swing.high_balance_a, run->high_end.balance_a, sizeof r->swing.high_balance_a);
}

/* What the reasons come to. */
static void sum_up(struct tailvolt_result *r) {
  r->status = r->safety = TAILVOLT_HOLDS;
  r->targets_met = !(r->margin_v < 0);
  for (int k = 0; k < r->reason_count; k++) {
    const struct tailvolt_reason *reason = &r->reasons[k];
    enum tailvolt_verdict *whole = reason->topic == TAILVOLT_ABOUT_SAFETY ? &r->safety : &r->status;
    if (reason->status > *whole) *whole = reason->status;
    if (reason->kind >= TAILVOLT_REASON_COLLAPSES) r->targets_met = false;
    if (reason->phase >= 0 && reason->status > r->phases[reason->phase].status)
      r->phases[reason->phase].status = reason->status;
  }
}

enum tailvolt_status tv_verdict_judge(const struct tv_run *run, struct tailvolt_result *result) {
  struct bench b = {result, 0, false};
  result->margin_v = (double)NAN;
  for (int k = 0; k < result->amplifier_count; k++) {
    for (int p = 0; p < TAILVOLT_PHASES; p++) judge_voltage(&b, run, k, p);
    judge_cut_outs(&b, k);
  }
  take_swing(run, result);
  judge_charge(&b, run);
  struct tv_finding_list findings = {0, 0, NULL};
  enum tailvolt_status status = tv_safety_check(run->system, result, &findings);
  if (status == TAILVOLT_OK) judge_safety(&b, &findings);
  if (status == TAILVOLT_OK) status = tv_cautions_gather(run, &findings, result);
  tv_finding_list_free(&findings);
  if (status != TAILVOLT_OK) return status;
  if (b.out_of_memory) return TAILVOLT_NO_MEMORY;
  sort_reasons(result);
  sum_up(result);
  return TAILVOLT_OK;
}
