/* The fuses of a choice of cures, fitted to its cables and to what its amplifiers take; and its relays. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "parts/amplifier.h"
#include "parts/fuse.h"
#include "simulate/safety.h"
#include "simulate/safety_graph.h"
#include "study/remedy.h"
#include "text/number.h"
#include "text/words.h"

/* Relays as they are sold (makers' lists, common practice). */
static const double relays_a[] = {70, 100, 140, 200, 300, 500};

/* ---- what passes a fuse at full power ---- */

static double taken_a(const struct tailvolt_amplifier *a) { return a->fuses_a > 0.0 ? a->fuses_a : tv_amplifier_rated_draw_a(a); }

/* Whether the last walk came to a point by an edge. */
static bool came_by(const struct tv_reach *reach, int edge, int point) {
  if (!tv_reached(reach, point)) return false;
  for (int p = point; reach->previous[p] >= 0; p = reach->previous[p])
    if (reach->edge[p] == edge) return true;
  return false;
}

/* From whichever battery the most comes: what the amplifiers behind it may take (their on-board fuses, else their draw at rated power),
 * a converter calls for, or the alternator gives. 0 = none of these is behind it. */
static double needed_a(const struct tailvolt_system *system, struct tv_reach *reach, int fuse) {
  double most_a = 0.0;
  for (int b = 0; b < system->battery_count; b++) {
    double sum_a = 0.0;
    tv_reach_walk(system, system->batteries[b].positive, TV_BY_RESISTANCE, TV_NO_CONVERTERS, reach);
    for (int k = 0; k < system->amplifier_count; k++)
      if (came_by(reach, fuse, system->amplifiers[k].positive)) sum_a += taken_a(&system->amplifiers[k]);
    for (int k = 0; k < system->isolator_count; k++)
      if (system->isolators[k].kind == TAILVOLT_CONVERTER && came_by(reach, fuse, system->isolators[k].from))
        sum_a += tv_fuse_for_converter_a(system->isolators[k].output_v, system->isolators[k].output_a,
                                         system->isolators[k].efficiency_frac);
    const struct tailvolt_alternator *machine = &system->alternator;
    if (machine->present && b == tv_start_battery(system) && came_by(reach, fuse, machine->positive))
      sum_a = fmax(sum_a, isfinite(machine->fixed_output_a) ? machine->fixed_output_a : machine->rated_a);
    most_a = fmax(most_a, sum_a);
  }
  return most_a;
}

/* Between two batteries joined by relays: what the smallest of those is rated for, since one charges the other through it with more than
 * any amplifier takes. 0 = not between batteries. */
static double joined_a(const struct tailvolt_system *system, struct tv_reach *reach, int fuse) {
  double most_a = 0.0;
  for (int b = 0; b < system->battery_count; b++) {
    tv_reach_walk(system, system->batteries[b].positive, TV_BY_RESISTANCE, TV_NO_CONVERTERS, reach);
    for (int o = 0; o < system->battery_count; o++) {
      double least_a = (double)INFINITY;
      if (o == b || !came_by(reach, fuse, system->batteries[o].positive)) continue;
      for (int p = system->batteries[o].positive; reach->previous[p] >= 0; p = reach->previous[p]) {
        int isolator = reach->edge[p] - system->conductor_count;
        if (isolator >= 0 && system->isolators[isolator].kind == TAILVOLT_RELAY)
          least_a = fmin(least_a, system->isolators[isolator].rating_a);
      }
      if (isfinite(least_a)) most_a = fmax(most_a, least_a);
    }
  }
  return most_a;
}

/* ---- fuses ---- */

int tv_conductor_in(const struct tailvolt_system *system, const struct tailvolt_conductor *like) {
  for (int k = 0; k < system->conductor_count; k++)
    if (system->conductors[k].kind == like->kind && strcmp(system->conductors[k].name, like->name) == 0) return k;
  return -1;
}

/* The largest rating that protects, of the fuse's own kind if there is one. */
static double largest_a(const struct tailvolt_conductor *fuse, double ampacity_a, enum tailvolt_fuse_kind *kind) {
  *kind = fuse->fuse_kind;
  double own_a = tv_fuse_largest_rating_a(fuse->fuse_kind, ampacity_a);
  double bolt_a = tv_fuse_largest_rating_a(TAILVOLT_BOLT_DOWN, ampacity_a);
  if (isnan(own_a) && isnan(bolt_a)) {
    *kind = TAILVOLT_BLADE;
    return tv_fuse_largest_rating_a(TAILVOLT_BLADE, ampacity_a);
  }
  if (isnan(own_a) || bolt_a > own_a) {
    *kind = TAILVOLT_BOLT_DOWN;
    return bolt_a;
  }
  return own_a;
}

/* The smallest rating that lets pass what is needed, of the fuse's own kind if there is one; where the cable does not bear that, or nothing
 * is known of what is behind it, the largest that protects. */
static double fitting_a(const struct tailvolt_conductor *fuse, double need_a, double ampacity_a, enum tailvolt_fuse_kind *kind) {
  static const enum tailvolt_fuse_kind larger[] = {TAILVOLT_LARGE_BLADE, TAILVOLT_BOLT_DOWN};
  *kind = fuse->fuse_kind;
  double rating_a = need_a > 0.0 ? tv_fuse_standard_rating_a(*kind, need_a, ampacity_a) : (double)NAN;
  for (size_t k = 0; k < sizeof larger / sizeof larger[0] && need_a > 0.0 && isnan(rating_a); k++)
    rating_a = tv_fuse_standard_rating_a(*kind = larger[k], need_a, ampacity_a);
  return isfinite(rating_a) ? rating_a : largest_a(fuse, ampacity_a, kind);
}

/* What the fitting of one fuse goes by. */
struct fit {
  const struct tailvolt_system *base, *system;
  struct tv_reach base_reach, reach;
  struct tv_settings *settings;
  bool changed;
};

static enum tailvolt_status fit_one(struct fit *fit, int at) {
  const struct tailvolt_conductor *fuse = &fit->system->conductors[at];
  double ampacity_a, before_a = (double)NAN, need_a = needed_a(fit->system, &fit->reach, at), needed_before_a = 0.0;
  int cable, base_cable, base_at = tv_conductor_in(fit->base, fuse);
  enum tailvolt_status status = tv_safety_protected_a(fit->system, at, &ampacity_a, &cable);
  if (status != TAILVOLT_OK) return status;
  const struct tailvolt_conductor *old = base_at >= 0 ? &fit->base->conductors[base_at] : NULL;
  if (old != NULL) {
    needed_before_a = needed_a(fit->base, &fit->base_reach, base_at);
    if ((status = tv_safety_protected_a(fit->base, base_at, &before_a, &base_cable)) != TAILVOLT_OK) return status;
  }
  bool joined_before = old != NULL && joined_a(fit->base, &fit->base_reach, base_at) > 0.0;
  if (!joined_before) need_a = fmax(need_a, joined_a(fit->system, &fit->reach, at));
  if (cable < 0) ampacity_a = (double)INFINITY; /* between an alternator and its lead, say */
  bool too_large = fuse->rating_a > ampacity_a;
  bool thicker_now = old == NULL || (isfinite(before_a) && ampacity_a > 1.001 * before_a);
  bool more_now = old != NULL && need_a > 1.001 * needed_before_a;
  if (cable < 0 && !more_now) return TAILVOLT_OK;
  if (!too_large && (!(thicker_now || more_now) || (need_a > 0.0 && fuse->rating_a >= need_a))) return TAILVOLT_OK;
  enum tailvolt_fuse_kind kind;
  double rating_a = fitting_a(fuse, need_a, ampacity_a, &kind);
  if (isnan(rating_a) || rating_a == fuse->rating_a || (!too_large && rating_a < fuse->rating_a)) return TAILVOLT_OK;
  char section[TAILVOLT_NAME_MAX + 16];
  tv_section_words(TAILVOLT_PART_FUSE, fuse->name, section, sizeof section);
  tv_settings_add(fit->settings, TAILVOLT_CURE_FUSES, section, "rating", "%s A", tv_compact(rating_a, 1).text);
  if (kind != fuse->fuse_kind) tv_settings_add(fit->settings, TAILVOLT_CURE_FUSES, section, "kind", "%s", tv_fuse_kind_word(kind));
  fit->changed = true;
  return TAILVOLT_OK;
}

/* Adds a fuse at the end where a cable leaves a battery unfused. */
static void fit_missing(const struct tailvolt_system *system, const struct tv_finding_list *findings,
                        struct tv_settings *settings, bool *changed) {
  for (int f = 0; f < findings->count; f++) {
    const struct tailvolt_finding *finding = &findings->finding[f];
    if (finding->kind != TAILVOLT_FOUND_CABLE_UNFUSED) continue;
    const struct tailvolt_conductor *c = &system->conductors[finding->part[0].index];
    const char *near = system->point_names[finding->at_from ? c->from : c->to];
    char name[TAILVOLT_NAME_MAX], point[TAILVOLT_NAME_MAX], section[TAILVOLT_NAME_MAX + 16];
    tv_new_part_name(system, c->name, name);
    snprintf(point, sizeof point, "%.48s fused", name);
    tv_conductor_section(c, section, sizeof section);
    /* both ends: a part placed by the standard car must be placed as a whole */
    tv_settings_add(settings, TAILVOLT_CURE_FUSES, section, "from", "%s",
                    finding->at_from ? point : system->point_names[c->from]);
    tv_settings_add(settings, TAILVOLT_CURE_FUSES, section, "to", "%s",
                    finding->at_from ? system->point_names[c->to] : point);
    tv_section_words(TAILVOLT_PART_FUSE, name, section, sizeof section);
    tv_new_fuse(section, TAILVOLT_CURE_FUSES, near, point, TV_FUSE_DISTANCE_M, settings);
    *changed = true;
  }
}

/* Brings those nearer whose stated distance from the battery is too long. */
static void fit_near(const struct tailvolt_system *system, const struct tv_finding_list *findings, struct tv_settings *settings,
                     bool *changed) {
  for (int f = 0; f < findings->count; f++) {
    const struct tailvolt_finding *finding = &findings->finding[f];
    if (finding->kind != TAILVOLT_FOUND_FUSE_UNUSABLY_FAR && finding->kind != TAILVOLT_FOUND_FUSE_FAR) continue;
    const struct tailvolt_conductor *fuse = &system->conductors[finding->part[0].index];
    char section[TAILVOLT_NAME_MAX + 16];
    if (!(fuse->distance_m > TV_FUSE_DISTANCE_M)) continue;
    tv_section_words(TAILVOLT_PART_FUSE, fuse->name, section, sizeof section);
    tv_settings_add(settings, TAILVOLT_CURE_FUSES, section, "distance", "%s cm", tv_compact(100 * TV_FUSE_DISTANCE_M, 0).text);
    *changed = true;
  }
}

/* Relays that would see more than they are rated for. */
static void fit_relays(struct fit *fit, const struct tv_finding_list *findings) {
  for (int f = 0; f < findings->count; f++) {
    const struct tailvolt_finding *finding = &findings->finding[f];
    size_t size = 0, sizes = sizeof relays_a / sizeof relays_a[0];
    while (size < sizes && relays_a[size] < finding->current_a) size++;
    if (finding->kind != TAILVOLT_FOUND_ISOLATOR_INRUSH || size == sizes) continue;
    char section[TAILVOLT_NAME_MAX + 16];
    tv_section_words(TAILVOLT_PART_ISOLATOR, fit->system->isolators[finding->part[0].index].name, section, sizeof section);
    tv_settings_add(fit->settings, TAILVOLT_CURE_FUSES, section, "rating", "%s A", tv_compact(relays_a[size], 0).text);
    fit->changed = true;
  }
}

enum tailvolt_status tv_fit_fuses(const struct tailvolt_system *base, const struct tailvolt_system *system,
                                  struct tv_settings *settings, bool *changed) {
  struct fit fit = {.base = base, .system = system, .settings = settings};
  struct tv_finding_list findings = {0, 0, NULL};
  *changed = false;
  enum tailvolt_status status = tv_reach_create(base, &fit.base_reach);
  if (status != TAILVOLT_OK) return status;
  if ((status = tv_reach_create(system, &fit.reach)) == TAILVOLT_OK) status = tv_safety_check(system, NULL, &findings);
  if (status == TAILVOLT_OK) fit_missing(system, &findings, settings, &fit.changed);
  if (status == TAILVOLT_OK) fit_near(system, &findings, settings, &fit.changed);
  if (status == TAILVOLT_OK) fit_relays(&fit, &findings);
  tv_finding_list_free(&findings);
  for (int k = 0; k < system->conductor_count && status == TAILVOLT_OK; k++)
    if (system->conductors[k].kind == TAILVOLT_FUSE) status = fit_one(&fit, k);
  tv_reach_free(&fit.base_reach);
  tv_reach_free(&fit.reach);
  *changed = fit.changed;
  return status == TAILVOLT_OK && settings->no_memory ? TAILVOLT_NO_MEMORY : status;
}

enum tailvolt_status tv_fuses_cut_short(const struct tailvolt_system *base, const struct tailvolt_system *system, bool *cut) {
  struct tv_reach reach;
  enum tailvolt_status status = tv_reach_create(system, &reach);
  *cut = false;
  for (int k = 0; k < system->conductor_count && status == TAILVOLT_OK; k++) {
    const struct tailvolt_conductor *fuse = &system->conductors[k];
    int at = fuse->kind == TAILVOLT_FUSE ? tv_conductor_in(base, fuse) : -1;
    if (at < 0) continue;
    *cut = *cut || (fuse->rating_a < base->conductors[at].rating_a && fuse->rating_a < needed_a(system, &reach, k));
  }
  if (status == TAILVOLT_OK) tv_reach_free(&reach);
  return status;
}
