#include "simulate/verdict.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "simulate/cautions.h"
#include "simulate/charge.h"
#include "simulate/safety.h"
#include "text/text.h"


struct bench {
  struct tailvolt_result *r;
  int reasons_room;
  bool out_of_memory;
};

/* Adds a reason; NULL where memory is out. Numbers its kind does not use are NAN. */
static struct tailvolt_reason *add_reason(struct bench *b, enum tailvolt_reason_kind kind, enum tailvolt_verdict status,
                                          enum tailvolt_topic topic, int phase) {
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
  reason->kind = kind;
  reason->status = status;
  reason->topic = topic;
  reason->phase = phase;
  reason->number = reason->limit = reason->share_pct = reason->time_s = (double)NAN;
  reason->least_v = reason->allowed_pct = reason->wanted_s = reason->from_v = (double)NAN;
  return reason;
}

static void is_about(struct tailvolt_reason *reason, enum tailvolt_part_kind part, int index, const char *name) {
  reason->about.kind = part;
  reason->about.index = index;
  tv_copy_text(reason->about.name, sizeof reason->about.name, name);
}

static void judge_voltage(struct bench *b, const struct tv_run *run, int amplifier, int phase) {
  const struct tailvolt_amplifier_result *a = &b->r->amplifiers[amplifier];
  const struct tailvolt_amplifier_phase *p = &a->phase[phase];
  if (!(p->play_s > 0)) return;
  double margin_v = p->quantile_v - p->target_v, allowed_pct = 100 * run->system->targets.missed_frac;
  if (isnan(b->r->margin_v) || margin_v < b->r->margin_v) b->r->margin_v = margin_v;
  enum tailvolt_verdict status = tv_verdict_of_margin(margin_v);
  if (status == TAILVOLT_HOLDS) return;
  bool fails = status == TAILVOLT_FAILS;
  struct tailvolt_reason *reason = add_reason(b, fails ? TAILVOLT_REASON_BELOW_TARGET : TAILVOLT_REASON_NEAR_TARGET, status,
                                              TAILVOLT_ABOUT_VOLTAGE, phase);
  if (reason == NULL) return;
  is_about(reason, TAILVOLT_PART_AMPLIFIER, amplifier, a->name);
  reason->number = p->quantile_v;
  reason->limit = p->target_v;
  reason->share_pct = p->below_target_pct;
  reason->allowed_pct = allowed_pct;
  reason->least_v = p->min_v;
  reason->time_s = p->min_time_s;
  reason->from_v = fails ? -TV_MARGINAL_FROM_V : TV_HOLDS_FROM_V;
}

static void judge_cut_outs(struct bench *b, int amplifier) {
  const struct tailvolt_amplifier_result *a = &b->r->amplifiers[amplifier];
  int cut_outs = a->cut_outs - a->start_cut_outs;
  if (cut_outs <= 0) return;
  int phase = -1;
  for (int p = 0; p < TAILVOLT_PHASES; p++)
    if (a->phase[p].play_s > 0 && (phase < 0 || a->phase[p].min_v < a->phase[phase].min_v)) phase = p;
  struct tailvolt_reason *reason = NULL;
  if (a->collapses > 0 &&
      (reason = add_reason(b, TAILVOLT_REASON_COLLAPSES, TAILVOLT_FAILS, TAILVOLT_ABOUT_VOLTAGE, phase)) != NULL) {
    is_about(reason, TAILVOLT_PART_AMPLIFIER, amplifier, a->name);
    reason->number = a->collapses;
    reason->time_s = a->first_collapse_s;
  }
  reason = add_reason(b, TAILVOLT_REASON_CUTS_OUT, TAILVOLT_FAILS, TAILVOLT_ABOUT_VOLTAGE, phase);
  if (reason == NULL) return;
  is_about(reason, TAILVOLT_PART_AMPLIFIER, amplifier, a->name);
  reason->number = cut_outs;
  reason->time_s = a->off_s;
}

static struct tailvolt_reason *add_charge(struct bench *b, enum tailvolt_reason_kind kind, int phase, struct tv_group group) {
  struct tailvolt_reason *reason = add_reason(b, kind, TAILVOLT_FAILS, TAILVOLT_ABOUT_CHARGE, phase);
  if (reason != NULL) is_about(reason, TAILVOLT_PART_BATTERY, group.first, group.first < 0 ? "" : b->r->batteries[group.first].name);
  return reason;
}

static void judge_idle(struct bench *b, double endurance_s, struct tv_group group) {
  double lasts_s = tv_idle_lasts_s(b->r, group);
  if (!(lasts_s < endurance_s)) return;
  struct tailvolt_reason *reason = add_charge(b, TAILVOLT_REASON_CHARGE_LOST, TAILVOLT_IDLE, group);
  if (reason == NULL) return;
  reason->number = -tv_counted_a(b->r, TAILVOLT_IDLE, group);
  reason->limit = 3600 * tv_above_half_ah(b->r, group) / endurance_s;
  reason->time_s = lasts_s;
  reason->wanted_s = endurance_s;
}

static void judge_mix(struct bench *b, double share, double road_a, struct tv_group group) {
  double mean_a = share * tv_counted_a(b->r, TAILVOLT_IDLE, group) + (1 - share) * road_a;
  if (!(mean_a < -TV_BALANCE_SLACK_A)) return;
  struct tailvolt_reason *reason = add_charge(b, TAILVOLT_REASON_CHARGE_MIX, TAILVOLT_IDLE, group);
  if (reason == NULL) return;
  reason->number = -mean_a;
  reason->limit = 0;
  reason->share_pct = 100 * share;
}

/* Of a profile that never idles: what the road does not put back, no idling will. */
static void judge_road(struct bench *b, struct tv_group group) {
  double road_a = tv_counted_a(b->r, TAILVOLT_ROAD, group);
  if (!(road_a < -TV_BALANCE_SLACK_A)) return;
  struct tailvolt_reason *reason = add_charge(b, TAILVOLT_REASON_CHARGE_ROAD, TAILVOLT_ROAD, group);
  if (reason == NULL) return;
  reason->number = -road_a;
  reason->limit = 0;
}

static void judge_charge(struct bench *b, const struct tv_run *run) {
  const struct tailvolt_result *r = b->r;
  const struct tailvolt_targets *targets = &run->system->targets;
  if (run->system->vehicle.charging == TAILVOLT_CHARGING_NONE) return;
  bool idles = r->phases[TAILVOLT_IDLE].present, on_road = r->phases[TAILVOLT_ROAD].present;
  enum tailvolt_phase joined = idles ? TAILVOLT_IDLE : TAILVOLT_ROAD;
  int groups = tv_charge_groups(r, joined), from = groups > 0 ? 0 : -1, to = groups > 0 ? groups : 0;
  for (int k = from; k < to && !idles && on_road; k++) judge_road(b, tv_charge_group(r, joined, k));
  if (!idles) return;
  for (int k = from; k < to; k++) judge_idle(b, targets->idle_endurance_s, tv_charge_group(r, joined, k));
  for (int k = from; k < to && on_road; k++) {
    struct tv_group group = tv_charge_group(r, joined, k);
    judge_mix(b, targets->idle_frac, tv_counted_a(r, TAILVOLT_ROAD, group), group);
  }
  if (!on_road && !isnan(run->options.road_balance_a)) /* known for all together */
    judge_mix(b, targets->idle_frac, run->options.road_balance_a, TV_ALL_BATTERIES);
}

/* Turns safety findings into reasons, all except the cautions. */
static void judge_safety(struct bench *b, const struct tv_finding_list *list) {
  for (int k = 0; k < list->count; k++) {
    const struct tailvolt_finding *f = &list->finding[k];
    if (f->status == TAILVOLT_HOLDS) continue;
    struct tailvolt_reason *reason = add_reason(b, TAILVOLT_REASON_SAFETY, f->status, TAILVOLT_ABOUT_SAFETY, -1);
    if (reason == NULL) return;
    reason->about = f->part[0];
    reason->finding = *f;
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

/* Sums up the reasons. */
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
  enum tailvolt_status status = tv_charge_prepare(run, result);
  if (status != TAILVOLT_OK) return status;
  for (int k = 0; k < result->amplifier_count; k++) {
    for (int p = 0; p < TAILVOLT_PHASES; p++) judge_voltage(&b, run, k, p);
    judge_cut_outs(&b, k);
  }
  judge_charge(&b, run);
  struct tv_finding_list findings = {0, 0, NULL};
  status = tv_safety_check(run->system, result, &findings);
  if (status == TAILVOLT_OK) judge_safety(&b, &findings);
  if (status == TAILVOLT_OK) status = tv_cautions_gather(run, &findings, result);
  tv_finding_list_free(&findings);
  if (status != TAILVOLT_OK) return status;
  if (b.out_of_memory) return TAILVOLT_NO_MEMORY;
  sort_reasons(result);
  sum_up(result);
  return TAILVOLT_OK;
}
