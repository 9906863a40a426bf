/* Sections and keys of the system file: the table made from system_keys.def, and looking things up in it. */
#include "input/system_keys.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "input/faults.h"
#include "text/text.h"

enum { OTHERS_LONGEST = 48 };

#define IN(kind) (1u << TV_KIND_##kind)
#define NEED TV_KEY_NEED
#define MANY TV_KEY_MANY
#define QUIET TV_KEY_QUIET

static const struct tv_key keys[TV_KEY_COUNT] = {
#define KEY(id, sections, name, other, form, measure, low, high, fallback, group, flags)                     \
  [TV_K_##id] = {sections, name, other, TV_FORM_##form, TV_##measure, low, high, fallback, group, flags},
#include "input/system_keys.def"
#undef KEY
};

static const char *const kind_words[TV_KINDS] = {
    "vehicle", "engine", "alternator", "converter", "targets", "tolerance", "battery",  "cable",    "strap",
    "fuse",    "joint",  "load",       "amplifier", "meter",   "capacitor", "isolator", "programme"};

static const struct {
  const char *word;
  enum tv_kind kind;
} other_words[] = {{"music", TV_KIND_PROGRAMME}, {"program", TV_KIND_PROGRAMME}, {"target", TV_KIND_TARGETS},
                   {"tolerances", TV_KIND_TOLERANCE}};

const struct tv_key *tv_system_keys(size_t *count) {
  *count = TV_KEY_COUNT;
  return keys;
}

const struct tv_key *tv_key_of(enum tv_key_id id) {
  return &keys[id];
}

struct tv_key_second tv_key_second(enum tv_key_id id) {
  switch (id) {
  case TV_K_ALT_OUTPUT:
    return (struct tv_key_second){TV_SPEED, "500 rpm", "25000 rpm", "at", "16 A at 1300 rpm", "rated current"};
  case TV_K_POLARIZATION:
    return (struct tv_key_second){TV_TIME, "1 ms", "1000 h", ",", "4 mohm, 10 s", NULL};
  case TV_K_OPEN_CIRCUIT:
    return (struct tv_key_second){TV_SHARE, "0 %", "100 %", "at", "11.9 V at 0 %, 12.8 V at 100 %", NULL};
  case TV_K_START_NEEDS:
    return (struct tv_key_second){TV_TIME, "100 ms", "5 min", "for", "30 A for 5 s", NULL};
  case TV_K_MEASURED_DROP:
    return (struct tv_key_second){TV_CURRENT, "0.1 A", "2000 A", "at", "0.18 V at 40 A", NULL};
  case TV_K_ISO_OUTPUT:
    return (struct tv_key_second){TV_VOLTAGE, "10 V", "16 V", "at", "30 A at 14.4 V", NULL};
  default:
    return (struct tv_key_second){TV_PLAIN, "", "", "at", "", NULL};
  }
}

bool tv_key_replaces(enum tv_key_id id, enum tv_key_id other) {
  bool cable = id == TV_K_SIZE || id == TV_K_STRANDS || id == TV_K_CONDUCTOR_DIAMETER || id == TV_K_PER_METRE;
  if (id == other) return false;
  if (cable && (other == TV_K_SIZE || other == TV_K_STRANDS || other == TV_K_CONDUCTOR_DIAMETER ||
                other == TV_K_PER_METRE || other == TV_K_MEASURED_DROP))
    return true;
  return keys[id].group != 0 && keys[id].group == keys[other].group;
}

const char *tv_kind_word(enum tv_kind kind) {
  return kind_words[kind];
}
bool tv_kind_is_single(enum tv_kind kind) {
  return kind <= TV_KIND_TOLERANCE;
}

enum tv_kind tv_kind_find(const char *word, size_t length) {
  for (int k = 0; k < TV_KINDS; k++)
    if (strlen(kind_words[k]) == length && strncasecmp(kind_words[k], word, length) == 0)
      return (enum tv_kind)k;
  for (size_t k = 0; k < sizeof other_words / sizeof other_words[0]; k++)
    if (strlen(other_words[k].word) == length && strncasecmp(other_words[k].word, word, length) == 0)
      return other_words[k].kind;
  return TV_KINDS;
}

/* Takes one of the other spellings, which commas separate, and returns where the next one starts; NULL after the last. */
static const char *next_other(const char *at, char *spelling) {
  if (at == NULL || *at == '\0') return NULL;
  size_t length = strcspn(at, ",");
  snprintf(spelling, OTHERS_LONGEST, "%.*s", (int)length, at);
  return at + length + (at[length] == ',');
}

static bool is_key(const struct tv_key *key, const char *name) {
  if (key->form == TV_FORM_POWER_AT) {
    size_t length = strlen(key->name);
    return strncasecmp(name, key->name, length) == 0 && (name[length] == ' ' || name[length] == '\0');
  }
  char other[OTHERS_LONGEST];
  if (tv_words_alike(key->name, name)) return true;
  for (const char *at = key->other; (at = next_other(at, other)) != NULL;)
    if (tv_words_alike(other, name)) return true;
  return false;
}

enum tv_key_id tv_key_find(enum tv_kind kind, const char *name) {
  for (int k = 0; k < TV_KEY_COUNT; k++)
    if ((keys[k].kinds & (1u << kind)) != 0 && is_key(&keys[k], name)) return (enum tv_key_id)k;
  return TV_KEY_COUNT;
}

const char *tv_kind_nearest(const char *word) {
  /* as the trade calls them */
  static const struct {
    const char *word;
    enum tv_kind kind;
  } trade[] = {{"amp", TV_KIND_AMPLIFIER}, {"cap", TV_KIND_CAPACITOR}, {"relay", TV_KIND_ISOLATOR}, {"diode", TV_KIND_ISOLATOR},
               {"wire", TV_KIND_CABLE}, {"lead", TV_KIND_CABLE}, {"car", TV_KIND_VEHICLE}, {"van", TV_KIND_VEHICLE}};
  for (size_t k = 0; k < sizeof trade / sizeof trade[0]; k++)
    if (strcasecmp(word, trade[k].word) == 0) return kind_words[trade[k].kind];
  return tv_nearest_word(word, kind_words, TV_KINDS);
}

const char *tv_key_nearest(enum tv_kind kind, const char *name) {
  const char *words[TV_KEY_COUNT];
  char other[OTHERS_LONGEST];
  size_t count = 0;
  for (int k = 0; k < TV_KEY_COUNT; k++)
    if ((keys[k].kinds & (1u << kind)) != 0) words[count++] = keys[k].name;
  const char *near = tv_nearest_word(name, words, count);
  /* a slip in another spelling means the key too */
  for (int k = 0; k < TV_KEY_COUNT && near == NULL; k++)
    for (const char *at = (keys[k].kinds & (1u << kind)) != 0 ? keys[k].other : NULL; (at = next_other(at, other)) != NULL;) {
      const char *spelling = other;
      if (tv_nearest_word(name, &spelling, 1) != NULL) near = keys[k].name;
    }
  return near;
}

enum tv_kind tv_key_elsewhere(const char *name) {
  enum tv_kind found = TV_KINDS;
  for (int kind = TV_KINDS - 1; kind >= 0; kind--) {
    if (tv_key_find((enum tv_kind)kind, name) == TV_KEY_COUNT) continue;
    /* a tolerance is called as what it is of: the part is meant */
    if (kind != TV_KIND_TOLERANCE || found == TV_KINDS) found = (enum tv_kind)kind;
  }
  return found;
}
