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

/* a 1 % quantile nearer than this to the target leaves no margin */
#define NEAR_TARGET_V 0.2
/* charge lost by less than this counts as held, per cent */
#define CHARGE_SLACK_PCT 0.1

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

static void judge_voltage(struct bench *b, const struct tv_run *run, const struct tailvolt_amplifier_result *a,
                          int phase) {
  const struct tailvolt_amplifier_phase *p = &a->phase[phase];
  if (!(p->play_s > 0)) return;
  char when[32], part[TAILVOLT_NAME_MAX + 16];
  snprintf(part, sizeof part, "amplifier %s", a->name);
  clock_text(p->min_time_s, when, sizeof when);
  double allowed_pct = 100 * run->system->targets.missed_frac;
  /* a tie in the last bits is not a miss */
  if (p->below_target_pct > allowed_pct * (1 + 1e-9) + 1e-9)
    reason(b, TAILVOLT_FAILS, TAILVOLT_ABOUT_VOLTAGE, phase, part,
           "%s falls to %.1f V (wanted %.1f V), below it %.*f %% of the time (at most %.4g %%), worst at %s",
           a->name, p->min_v, p->target_v, p->below_target_pct < 10 ? 1 : 0, p->below_target_pct, allowed_pct, when);
  else if (p->min_v < p->target_v)
    reason(b, TAILVOLT_MARGINAL, TAILVOLT_ABOUT_VOLTAGE, phase, part,
           "%s touches %.2f V (wanted %.1f V) for %.2g %% of the time, worst at %s", a->name, p->min_v, p->target_v,
           p->below_target_pct, when);
  else if (p->low_1pct_v < p->target_v + NEAR_TARGET_V)
    reason(b, TAILVOLT_MARGINAL, TAILVOLT_ABOUT_VOLTAGE, phase, part,
           "%s is below %.2f V for 1 %% of the time, less than %.1f V above the wanted %.1f V", a->name, p->low_1pct_v,
           NEAR_TARGET_V, p->target_v);
}

static void judge_cut_outs(struct bench *b, const struct tailvolt_amplifier_result *a) {
  int cut_outs = a->cut_outs - a->start_cut_outs;
  if (cut_outs <= 0) return;
  int phase = -1;
  for (int p = 0; p < TAILVOLT_PHASES; p++)
    if (a->phase[p].play_s > 0 && (phase < 0 || a->phase[p].min_v < a->phase[phase].min_v)) phase = p;
  char when[32], part[TAILVOLT_NAME_MAX + 16];
  snprintf(part, sizeof part, "amplifier %s", a->name);
  if (a->collapses > 0)
    reason(b, TAILVOLT_FAILS, TAILVOLT_ABOUT_VOLTAGE, phase, part,
           "%s asks for more than its wiring can carry: the supply collapses %d times, first at %s", a->name,
           a->collapses, clock_text(a->first_collapse_s, when, sizeof when));
  reason(b, TAILVOLT_FAILS, TAILVOLT_ABOUT_VOLTAGE, phase, part, "%s cuts out %d time%s, silent for %.1f s", a->name,
         cut_outs, cut_outs == 1 ? "" : "s", a->off_s);
}

static void judge_charge(struct bench *b) {
  struct tailvolt_result *r = b->r;
  if (!r->driving.present || r->driving.duration_s <= 0.5 * r->duration_s || !(r->driving.surplus_a < 0)) return;
  for (int k = 0; k < r->battery_count; k++) {
    const struct tailvolt_battery_result *battery = &r->batteries[k];
    if (battery->end_soc_pct >= battery->start_soc_pct - CHARGE_SLACK_PCT) continue;
    char part[TAILVOLT_NAME_MAX + 16];
    tv_section_words(TAILVOLT_PART_BATTERY, battery->name, part, sizeof part);
    int phase = r->phases[TAILVOLT_IDLE].present &&
                        (!r->phases[TAILVOLT_ROAD].present ||
                         r->phase_budget[TAILVOLT_IDLE].surplus_a < r->phase_budget[TAILVOLT_ROAD].surplus_a)
                    ? TAILVOLT_IDLE : TAILVOLT_ROAD;
    reason(b, TAILVOLT_FAILS, TAILVOLT_ABOUT_CHARGE, phase, part,
           "%s ends at %.1f %% from %.1f %% with the engine running: the alternator can give %.0f A, the car "
           "and the music take %.0f A", part, battery->end_soc_pct, battery->start_soc_pct,
           r->driving.available_a, r->driving.base_a + r->driving.amplifier_a);
  }
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

enum tailvolt_status tv_verdict_judge(const struct tv_run *run, struct tailvolt_result *result) {
  struct bench b = {result, 0, false};
  for (int k = 0; k < result->amplifier_count; k++) {
    for (int p = 0; p < TAILVOLT_PHASES; p++) judge_voltage(&b, run, &result->amplifiers[k], p);
    judge_cut_outs(&b, &result->amplifiers[k]);
  }
  judge_charge(&b);
  struct tv_finding_list findings = {0, 0, NULL};
  enum tailvolt_status status = tv_safety_check(run->system, result, &findings);
  if (status == TAILVOLT_OK) judge_safety(&b, &findings);
  if (status == TAILVOLT_OK) status = tv_cautions_gather(run, &findings, result);
  tv_finding_list_free(&findings);
  if (status != TAILVOLT_OK) return status;
  if (b.out_of_memory) return TAILVOLT_NO_MEMORY;
  sort_reasons(result);
  result->status = TAILVOLT_HOLDS;
  for (int k = 0; k < result->reason_count; k++) {
    const struct tailvolt_reason *r = &result->reasons[k];
    if (r->status > result->status) result->status = r->status;
    if (r->phase >= 0 && r->status > result->phases[r->phase].status) result->phases[r->phase].status = r->status;
  }
  return TAILVOLT_OK;
}
