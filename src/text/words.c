#include "text/words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

const char *tv_verdict_word(enum tailvolt_verdict verdict) {
  static const char *const words[] = {"holds", "marginal", "fails"};
  return words[verdict];
}

const char *tv_verdict_shout(enum tailvolt_verdict verdict) {
  static const char *const words[] = {"HOLDS", "MARGINAL", "FAILS"};
  return words[verdict];
}

const char *tv_phase_word(int phase) {
  static const char *const words[] = {"idle", "road", "parked"};
  return words[phase];
}

const char *tv_phase_place(int phase) {
  static const char *const words[] = {"at idle", "on the road", "parked"};
  return words[phase];
}

const char *tv_conductor_kind_word(enum tailvolt_conductor_kind kind) {
  static const char *const words[] = {"cable", "strap", "joint", "fuse"};
  return words[kind];
}

const char *tv_material_word(enum tailvolt_material material) {
  static const char *const words[] = {"copper", "tinned copper", "clad aluminium", "aluminium"};
  return words[material];
}

const char *tv_battery_word(enum tailvolt_battery_kind kind) {
  static const char *const words[] = {"flooded", "EFB", "AGM", "gel", "lithium-iron"};
  return words[kind];
}

const char *tv_place_word(enum tailvolt_place place) {
  static const char *const words[] = {"cabin", "engine bay", "boot", "bed"};
  return words[place];
}

const char *tv_heat_word(enum tailvolt_heat heat) {
  static const char *const words[] = {"cool", "warm", "too hot"};
  return words[heat];
}

const char *tv_part_word(enum tailvolt_part_kind kind) {
  static const char *const words[] = {"vehicle", "engine", "alternator", "converter", "battery",  "cable",     "strap",
                                      "joint",   "fuse",   "capacitor",  "isolator",  "load",     "amplifier", "programme"};
  return words[kind];
}

const char *tv_drop_word(enum tailvolt_drop drop, enum tailvolt_part_kind kind) {
  static const char *const words[] = {"",           "charging voltage lost", "alternator at its limit", "battery resistance",
                                      "polarization", "charge used"};
  if (drop != TAILVOLT_DROP_WIRING) return words[drop];
  /* a diode or a converter is no part of the ledger's path */
  return kind == TAILVOLT_PART_ISOLATOR ? "relay" : tv_part_word(kind);
}

enum tailvolt_part_kind tv_part_of_conductor(enum tailvolt_conductor_kind kind) {
  static const enum tailvolt_part_kind parts[] = {TAILVOLT_PART_CABLE, TAILVOLT_PART_STRAP, TAILVOLT_PART_JOINT,
                                                  TAILVOLT_PART_FUSE};
  return parts[kind];
}

void tv_section_words(enum tailvolt_part_kind kind, const char *name, char *to, size_t size) {
  const char *word = tv_part_word(kind);
  /* a section without a name is called by its kind */
  bool named = name[0] != '\0' && strcmp(name, word) != 0;
  snprintf(to, size, "%s%s%s", word, named ? " " : "", named ? name : "");
}

double tv_phase_margin_v(const struct tailvolt_result *result, int amplifier, int phase) {
  const struct tailvolt_amplifier_phase *in = &result->amplifiers[amplifier].phase[phase];
  if (!(in->play_s > 0.0) || !isfinite(in->min_v)) return HUGE_VAL;
  return in->min_v - in->target_v;
}

int tv_worst_amplifier(const struct tailvolt_result *result, int phase) {
  int worst = -1;
  for (int k = 0; k < result->amplifier_count; k++) {
    double margin_v = tv_phase_margin_v(result, k, phase);
    if (isinf(margin_v)) continue;
    if (worst < 0) {
      worst = k;
      continue;
    }
    double more_pct = result->amplifiers[k].phase[phase].below_target_pct -
                      result->amplifiers[worst].phase[phase].below_target_pct;
    if (more_pct > 0.0 ||
        (!(more_pct < 0.0) && margin_v < tv_phase_margin_v(result, worst, phase)))
      worst = k;
  }
  return worst;
}

static bool is_worse(const struct tailvolt_result *result, int a, int b) {
  if (result->phases[a].status != result->phases[b].status)
    return result->phases[a].status > result->phases[b].status;
  int in_a = tv_worst_amplifier(result, a), in_b = tv_worst_amplifier(result, b);
  double margin_a = in_a < 0 ? HUGE_VAL : tv_phase_margin_v(result, in_a, a);
  double margin_b = in_b < 0 ? HUGE_VAL : tv_phase_margin_v(result, in_b, b);
  return margin_a < margin_b;
}

int tv_phases_worst_first(const struct tailvolt_result *result, int order[TAILVOLT_PHASES]) {
  int count = 0;
  for (int p = 0; p < TAILVOLT_PHASES; p++) {
    if (!result->phases[p].present) continue;
    int at = count++;
    for (; at > 0 && is_worse(result, p, order[at - 1]); at--) order[at] = order[at - 1];
    order[at] = p;
  }
  return count;
}

const struct tailvolt_conductor *tv_conductor_named(const struct tailvolt_system *system,
                                                    const char *name,
                                                    enum tailvolt_conductor_kind kind) {
  for (int k = 0; system != NULL && k < system->conductor_count; k++) {
    const struct tailvolt_conductor *conductor = &system->conductors[k];
    if (conductor->kind == kind && strcmp(conductor->name, name) == 0) return conductor;
  }
  return NULL;
}
