#include "text/words.h"

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

const char *tv_use_word(int use) {
  static const char *const words[] = {"idle", "town", "motorway", "parked"};
  return words[use];
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

const char *tv_isolator_kind_word(enum tailvolt_isolator_kind kind) {
  static const char *const words[] = {[TAILVOLT_RELAY] = "relay", [TAILVOLT_DIODE] = "diode", [TAILVOLT_CONVERTER] = "converter"};
  return words[kind];
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
  /* a diode or converter is never on the ledger's path */
  return kind == TAILVOLT_PART_ISOLATOR ? "relay" : tv_part_word(kind);
}

const char *tv_polarization_word(enum tailvolt_polarization polarization) {
  static const char *const words[] = {"polarization", "charge transfer", "slow polarization", "charge within reach",
                                      "surface charge"};
  return words[polarization];
}

bool tv_drop_of_word(const char *word, enum tailvolt_drop *drop, enum tailvolt_part_kind *kind) {
  *drop = TAILVOLT_DROP_WIRING;
  for (int k = TAILVOLT_PART_CABLE; k <= TAILVOLT_PART_ISOLATOR; k++) {
    *kind = (enum tailvolt_part_kind)k;
    if (strcmp(word, tv_drop_word(*drop, *kind)) == 0) return true;
  }
  *kind = TAILVOLT_PART_BATTERY;
  for (int k = TAILVOLT_DROP_CHARGING; k <= TAILVOLT_DROP_CHARGE_USED; k++) {
    *drop = (enum tailvolt_drop)k;
    if (strcmp(word, tv_drop_word(*drop, *kind)) == 0) return true;
  }
  return false;
}

enum tailvolt_part_kind tv_part_of_conductor(enum tailvolt_conductor_kind kind) {
  static const enum tailvolt_part_kind parts[] = {TAILVOLT_PART_CABLE, TAILVOLT_PART_STRAP, TAILVOLT_PART_JOINT,
                                                  TAILVOLT_PART_FUSE};
  return parts[kind];
}

const char *tv_fuse_kind_word(enum tailvolt_fuse_kind kind) {
  static const char *const words[] = {"blade", "large blade", "bolt-down"};
  return words[kind];
}

bool tv_size_is_metric(const char *size) { return strstr(size, "AWG") == NULL; }

struct tv_number tv_size_words(const struct tailvolt_conductor *conductor, bool us_units) {
  struct tv_number words;
  bool near = us_units && (conductor->size[0] == '\0' || tv_size_is_metric(conductor->size));
  if (conductor->size[0] != '\0' && !near)
    snprintf(words.text, sizeof words.text, "%.39s", conductor->size);
  else
    snprintf(words.text, sizeof words.text, "%s%.32s", near ? "about " : "", tv_size(conductor->area_m2, us_units).text);
  return words;
}

void tv_section_words(enum tailvolt_part_kind kind, const char *name, char *to, size_t size) {
  const char *word = tv_part_word(kind);
  /* a section without a name is called by its kind */
  bool named = name[0] != '\0' && strcmp(name, word) != 0;
  snprintf(to, size, "%s%s%s", word, named ? " " : "", named ? name : "");
}

const char *tv_cranking_word(enum tailvolt_cranking_standard standard) {
  static const char *const words[] = {"EN", "SAE", "DIN"};
  return words[standard];
}

const char *tv_ideal_word(enum tailvolt_ideal ideal) {
  static const char *const words[TAILVOLT_COUNTERFACTUALS] = {"perfect wire", "perfect battery", "unlimited alternator",
                                                              "alternator without lag", "huge capacitor"};
  return words[ideal];
}

const char *tv_not_enough_words(int most_parts) {
  switch (most_parts) {
  case 1: return "nothing that is on offer is enough by itself";
  case 2: return "nothing that is on offer is enough, not even two changes at once";
  default: return "nothing that is on offer is enough, not even three changes at once";
  }
}
