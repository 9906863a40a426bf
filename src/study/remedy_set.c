/* A set of cures as presented: settings with prices, what it achieves, its cables and its fuses. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "simulate/safety.h"
#include "simulate/safety_graph.h"
#include "study/remedy.h"
#include "text/text.h"
#include "text/words.h"

/* What is laid: every cable that the system does not have, or not like that. */
static enum tailvolt_status list_leads(const struct tailvolt_system *base, const struct tailvolt_system *system,
                                       struct tailvolt_remedy_set *set) {
  set->leads = calloc((size_t)system->conductor_count + 1, sizeof *set->leads);
  if (set->leads == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *c = &system->conductors[k];
    if (!tv_is_cable(c)) continue;
    int at = tv_conductor_in(base, c);
    const struct tailvolt_conductor *old = at >= 0 ? &base->conductors[at] : NULL;
    if (old != NULL && old->resistance_ohm == c->resistance_ohm && old->material == c->material) continue;
    struct tailvolt_remedy_lead *lead = &set->leads[set->lead_count++];
    *lead = (struct tailvolt_remedy_lead){
        .kind = tv_part_of_conductor(c->kind), .added = old == NULL, .length_m = c->length_m};
    tv_copy_text(lead->name, sizeof lead->name, c->name);
    tv_copy_text(lead->size, sizeof lead->size, c->size);
    if (old != NULL) tv_copy_text(lead->before, sizeof lead->before, old->size);
  }
  return TAILVOLT_OK;
}

/* Each fuse between the smallest that carries the music and the largest its cable allows. */
static enum tailvolt_status list_fuses(const struct tailvolt_system *system, struct tailvolt_remedy_set *set) {
  set->fuses = calloc((size_t)system->conductor_count + 1, sizeof *set->fuses);
  if (set->fuses == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *c = &system->conductors[k];
    double ampacity_a;
    int cable;
    if (c->kind != TAILVOLT_FUSE) continue;
    struct tailvolt_remedy_fuse *fuse = &set->fuses[set->fuse_count++];
    *fuse = (struct tailvolt_remedy_fuse){.rating_a = c->rating_a, .rms_a = (double)NAN, .smallest_a = (double)NAN,
                                          .largest_a = (double)NAN};
    tv_copy_text(fuse->name, sizeof fuse->name, c->name);
    for (int f = 0; set->result != NULL && f < set->result->fuse_count; f++)
      if (set->result->fuses[f].conductor == k) fuse->rms_a = set->result->fuses[f].rms_a;
    enum tailvolt_status status = tv_safety_protected_a(system, k, &ampacity_a, &cable);
    if (status != TAILVOLT_OK) return status;
    if (cable < 0) continue;
    fuse->largest_a = tv_safety_largest_fuse_a(system, &system->conductors[cable], c->fuse_kind);
    fuse->smallest_a = tv_safety_fuse_for_cable(system, &system->conductors[cable], c->fuse_kind, fuse->rms_a);
  }
  return TAILVOLT_OK;
}

/* Fuses that are fitted, changed or moved beside what the cures bring with them. */
static int fuses_fitted(const struct tv_remedy_job *job, const struct tv_choice *choice, const struct tailvolt_system *system) {
  int count = 0;
  for (int k = 0; k < system->conductor_count; k++) {
    const struct tailvolt_conductor *c = &system->conductors[k];
    if (c->kind != TAILVOLT_FUSE) continue;
    int at = tv_conductor_in(job->system, c);
    const struct tailvolt_conductor *old = at >= 0 ? &job->system->conductors[at] : NULL;
    count += old == NULL || old->rating_a != c->rating_a || old->fuse_kind != c->fuse_kind || c->distance_m < old->distance_m;
  }
  static const enum tailvolt_cure with_a_fuse[] = {TAILVOLT_CURE_OWN_FEED, TAILVOLT_CURE_SECOND_BATTERY};
  for (size_t c = 0; c < sizeof with_a_fuse / sizeof with_a_fuse[0]; c++)
    count -= tv_plan_step(&job->plan, choice, with_a_fuse[c]) != NULL;
  return count > 0 ? count : 0;
}

enum tailvolt_status tv_remedy_make_set(const struct tv_remedy_job *job, struct tv_trial *trial, bool steady,
                                        const struct tailvolt_result *before, struct tailvolt_remedy_set *set) {
  struct tv_settings settings = {0};
  struct tailvolt_system *system = NULL;
  char error[TAILVOLT_TEXT_MAX];
  enum tailvolt_status status = tv_try_settings(job, &trial->choice, &settings, &system, error);
  if (status != TAILVOLT_OK) return status;
  tv_plan_say(&job->plan, &trial->choice, steady, set->what, sizeof set->what);
  set->changes = calloc((size_t)settings.count + 1, sizeof *set->changes);
  if (set->changes == NULL) status = TAILVOLT_NO_MEMORY;
  for (int k = 0; k < settings.count && status == TAILVOLT_OK; k++) {
    struct tailvolt_change *change = &set->changes[set->change_count++];
    const struct tv_asked *asked = &settings.asked[k];
    tv_copy_text(change->key, sizeof change->key, asked->key);
    tv_copy_text(change->value, sizeof change->value, asked->value);
    change->cure = asked->cure;
    bool first = true;
    for (int j = 0; j < k; j++) first = first && settings.asked[j].cure != change->cure;
    int family = tv_plan_family(&job->plan, change->cure);
    change->price = (double)NAN;
    if (first && family >= 0 && trial->choice.size_step[family] > 0) {
      struct tv_choice alone = {{0}};
      alone.size_step[family] = trial->choice.size_step[family];
      change->effort_h = tv_plan_effort_h(&job->plan, &alone);
      change->price = tv_plan_price(&job->plan, &alone);
    }
  }
  tv_settings_free(&settings);
  if (set->what[0] == '\0' && set->change_count > 0) snprintf(set->what, sizeof set->what, "fuses put right");
  set->cost = tv_plan_cost(&job->plan, &trial->choice);
  double fuse_h, fuse_cost = tv_plan_fuse_cost(&job->plan, &fuse_h);
  int fuses = fuses_fitted(job, &trial->choice, system);
  set->effort_h = tv_plan_effort_h(&job->plan, &trial->choice) + fuses * fuse_h;
  set->price = tv_plan_price(&job->plan, &trial->choice) + fuses * fuse_cost;
  set->result = trial->result;
  trial->result = NULL;
  set->parked_s = trial->parked_s;
  if (set->result != NULL) {
    set->margin_v = tv_margin_v(set->result);
    set->below_pct = tv_below_pct(set->result);
  }
  if (status == TAILVOLT_OK) status = list_leads(job->system, system, set);
  if (status == TAILVOLT_OK) status = list_fuses(system, set);
  tailvolt_system_free(system);
  return status == TAILVOLT_OK ? tv_cure_cautions(job, &trial->choice, before, set) : status;
}
