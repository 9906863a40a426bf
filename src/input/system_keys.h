/* The one table of sections and keys of the system file. */
#ifndef TV_INPUT_SYSTEM_KEYS_H
#define TV_INPUT_SYSTEM_KEYS_H

#include <stdbool.h>
#include <stddef.h>

#include "input/quantity.h"

enum tv_kind {
  TV_KIND_VEHICLE,
  TV_KIND_ENGINE,
  TV_KIND_ALTERNATOR,
  TV_KIND_CONVERTER,
  TV_KIND_TARGETS,
  TV_KIND_TOLERANCE, /* there is only one of these, without a name */
  TV_KIND_BATTERY,
  TV_KIND_CABLE,
  TV_KIND_STRAP,
  TV_KIND_FUSE,
  TV_KIND_JOINT,
  TV_KIND_LOAD,
  TV_KIND_AMPLIFIER,
  TV_KIND_METER,
  TV_KIND_CAPACITOR,
  TV_KIND_ISOLATOR,
  TV_KIND_PROGRAMME,
  TV_KINDS
};

enum tv_form {
  TV_FORM_QUANTITY, /* 5.5 m */
  TV_FORM_WORD,     /* one of the choices */
  TV_FORM_YES_NO,
  TV_FORM_WHOLE, /* a whole number */
  TV_FORM_TEXT,
  TV_FORM_POINT,       /* a place in the wiring */
  TV_FORM_SYSTEM,      /* 12 V and nothing else */
  TV_FORM_SIZE,        /* 8 AWG, 10 mm2, 2 x 4 AWG */
  TV_FORM_STRANDS,     /* 196 x 0.3 mm */
  TV_FORM_ENGINE_SIZE, /* 1.6 L petrol */
  TV_FORM_CRANKING,    /* 640 A EN */
  TV_FORM_TIMES,       /* 2 x 40 A, or 80 A */
  TV_FORM_CHANNELS,    /* 4 x 75 W at 4 ohm */
  TV_FORM_RANGE,       /* 12.4 V .. 14.8 V, or one value */
  TV_FORM_PAIRS,       /* 16 A at 1300 rpm; 4 mohm, 10 s */
  TV_FORM_POWER_AT     /* the key holds a voltage: power at 12.5 V = 780 W */
};

enum tv_key_flags { TV_KEY_NEED = 1, TV_KEY_MANY = 2, TV_KEY_QUIET = 4 };

enum tv_key_id {
#define KEY(id, sections, name, other, form, measure, low, high, fallback, group, flags) TV_K_##id,
#include "input/system_keys.def"
#undef KEY
  TV_KEY_COUNT
};

struct tv_key {
  unsigned kinds; /* bit 1 << tv_kind for each section that has it */
  const char *name;
  const char *other; /* other spellings, "," between, or NULL; a hyphen counts as a blank */
  enum tv_form form;
  enum tv_measure measure;
  const char *low, *high; /* range as the file would write it; of words: the choices */
  const char *fallback;   /* default as the file would write it, or NULL */
  int group;              /* keys of one group exclude each other in a section; 0 = none */
  unsigned flags;
};

/* The table; *count receives its length. */
const struct tv_key *tv_system_keys(size_t *count);
const struct tv_key *tv_key_of(enum tv_key_id id);
/* The second value of pairs ("16 A at 1300 rpm"). */
struct tv_key_second {
  enum tv_measure measure;
  const char *low, *high;
  const char *between; /* "at" or "," */
  const char *example;
  const char *alone; /* the key that takes the first value alone, or NULL */
};
struct tv_key_second tv_key_second(enum tv_key_id id);

/* True where a new value of a key replaces another key's: of its group, or as another way to describe the
 * cable. */
bool tv_key_replaces(enum tv_key_id id, enum tv_key_id other);

const char *tv_kind_word(enum tv_kind kind); /* "battery" */
bool tv_kind_is_single(enum tv_kind kind);
/* Kind of a section's first word in any accepted spelling, TV_KINDS where unknown. */
enum tv_kind tv_kind_find(const char *word, size_t length);
/* Key of a section by name in any accepted spelling, TV_KEY_COUNT where unknown. `power at 12.5 V` finds
 * "power at". */
enum tv_key_id tv_key_find(enum tv_kind kind, const char *name);
/* The known word nearest to a wrong one, or NULL. */
const char *tv_kind_nearest(const char *word);
const char *tv_key_nearest(enum tv_kind kind, const char *name);
/* A section kind that does have this key, TV_KINDS where none has it. */
enum tv_kind tv_key_elsewhere(const char *name);

#endif
