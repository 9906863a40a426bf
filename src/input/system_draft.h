/* The system file while it is being read: sections with their values, before they become plain structs. */
#ifndef TV_INPUT_SYSTEM_DRAFT_H
#define TV_INPUT_SYSTEM_DRAFT_H

#include "input/lines.h"
#include "input/system_keys.h"
#include "tailvolt/system.h"

/* The choices of [isolator] `sense`. */
enum { TV_SENSE_FROM, TV_SENSE_EITHER, TV_SENSE_ENGINE };

struct tv_value {
  bool assumed;  /* a default, not the user's value */
  bool bad;      /* could not be read; already reported */
  bool misspelt; /* only a guess at what an unknown key meant; bad as well */
  bool measured; /* ends in the word `measured` */
  bool from_setting;
  int line, column;
  int count; /* pairs read; 1 for everything else */
  double x[TAILVOLT_CURVE_MAX], y[TAILVOLT_CURVE_MAX];
  int word; /* index of the choice, yes = 1, fuel, cranking standard, 1 = a wire gauge; -1 = left open */
  char text[TAILVOLT_TEXT_MAX]; /* plain form of texts, points and sizes */
  char raw[96];                 /* as the user wrote it */
};

struct tv_part {
  enum tv_kind kind;
  char name[TAILVOLT_NAME_MAX];
  char id[TAILVOLT_NAME_MAX + 16]; /* as in brackets: "battery starter" */
  int line;
  bool from_setting;
  bool standard;                        /* added by the standard car */
  bool on_common_feed;                  /* an amplifier on the feed that several may share */
  bool chosen;                          /* its size or rating was worked out */
  bool in_feed;                         /* a cable whose size is chosen if left open */
  bool skipped;                         /* a second section of the same name: reported, then left out */
  struct tv_value *value[TV_KEY_COUNT]; /* NULL = absent */
};

/* A cable of the standard car with its fuses, sized for what it feeds. */
struct tv_feed {
  const struct tv_part *amplifier; /* the only one on it; NULL = all that share it, or a battery */
  const struct tv_part *battery;   /* the further battery it leads to, or NULL */
  bool at_battery;                 /* begins at a battery: fuse within a hand's length, length known only to
                                    * the user */
  int first_role, end_role;        /* in the layout it was made from */
  struct tv_part *fuse, *end_fuse, *cable, *ground; /* NULL = none */
  const struct tv_part *isolator;
};

struct tv_draft {
  char file[TAILVOLT_TEXT_MAX];
  int part_count, part_room;
  struct tv_part **parts;
  int assumption_count, assumption_room;
  struct tailvolt_assumption *assumptions;
  int feed_count;
  struct tv_feed *feeds;
  char own_wiring[TAILVOLT_NAME_MAX + 16]; /* the section whose points make the wiring the file's own, or empty */
  const struct tv_part *starter; /* the battery that starts the car; NULL = none, or a fault says so */
  bool standard_car;
  bool layout_broken; /* a fault hides part of the wiring: do not judge it */
  unsigned misspelt;  /* bit 1 << tv_kind: an unreadable section header may have meant it */
  bool no_memory;
  struct tailvolt_faults *faults;
};

/* What a fault is about. */
struct tv_place {
  struct tv_draft *draft;
  const char *file;
  int line;
  const char *section, *key, *value; /* key and value may be NULL */
  int column;                        /* of the line, from 1; 0 = none */
};

/* system_draft.c */
struct tv_part *tv_draft_find(struct tv_draft *draft, enum tv_kind kind, const char *name);
/* A new section, NULL when out of memory (draft->no_memory is set). */
struct tv_part *tv_draft_add(struct tv_draft *draft, enum tv_kind kind, const char *name, int line);
void tv_draft_free(struct tv_draft *draft);
/* Fills `key` of a part where it is absent. `listed` also adds it to the list of assumptions. */
void tv_assume(struct tv_draft *draft, struct tv_part *part, enum tv_key_id key, const char *text,
               bool listed);
/* The same from a number: its text is made only for the list, with digits that read back to it. */
void tv_assume_number(struct tv_draft *draft, struct tv_part *part, enum tv_key_id key, double value,
                      bool listed);
/* The same value as another part has. */
void tv_assume_same(struct tv_draft *draft, struct tv_part *part, enum tv_key_id key,
                    const struct tv_part *like);
/* A value worked out for this car, listed as chosen; it may replace an earlier choice. */
void tv_choose(struct tv_draft *draft, struct tv_part *part, enum tv_key_id key, const char *text, bool listed);
void tv_choose_number(struct tv_draft *draft, struct tv_part *part, enum tv_key_id key, double value);
/* An isolator of kind `none`: two batteries joined directly. */
bool tv_is_straight(const struct tv_part *part);
bool tv_has(const struct tv_part *part, enum tv_key_id key);         /* given or assumed */
bool tv_given(const struct tv_part *part, enum tv_key_id key);       /* the user's value */
double tv_number(const struct tv_part *part, enum tv_key_id key);    /* NAN where absent */
int tv_word(const struct tv_part *part, enum tv_key_id key);         /* -1 where absent */
const char *tv_text(const struct tv_part *part, enum tv_key_id key); /* "" where absent */
/* A fault about a key of a part, at the line where the key stands, else the section's. Silent where the value
 * could not be read: that has been reported. */
void tv_part_fault(struct tv_draft *draft, const struct tv_part *part, enum tv_key_id key, const char *format,
                   ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 4, 5)))
#endif
    ;

/* system_settings.c: applies `--set` texts. */
void tv_apply_settings(struct tv_draft *draft, const struct tailvolt_setting *settings, int count);
/* Refuses settings whose section is of no kind, once every part is known: the part that was meant may be one of the standard car. */
void tv_refuse_unknown_sections(struct tv_draft *draft, const struct tailvolt_setting *settings, int count);
/* Refuses parts known only from settings and without a place: mostly misspelt names. near_only: only those
 * whose name is near one in the file. */
void tv_refuse_strays(struct tv_draft *draft, bool near_only);

/* system_value.c: reads a value by its key's form; adds to `value` for repeatable keys. False after a fault.
 */
bool tv_value_read(const struct tv_place *place, enum tv_key_id id, const char *name, const char *text,
                   struct tv_value *value);
void tv_place_fault(const struct tv_place *place, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 2, 3)))
#endif
    ;

/* standard_car.c: the wiring of a file that does not give it. */
void tv_standard_car(struct tv_draft *draft);
/* system_file.c: settings, wiring, defaults and plain structs from a draft that holds what the file states. */
enum tailvolt_status tv_draft_finish(struct tv_draft *draft, const struct tailvolt_setting *settings,
                                     int setting_count, struct tailvolt_system **out);
/* The same without what was stated: a system for runs alone, which cannot be changed further. */
enum tailvolt_status tv_draft_build(struct tv_draft *draft, const struct tailvolt_setting *settings, int setting_count,
                                    struct tailvolt_system **out);
/* system_memory.c: what was stated, kept for later changes; NULL when out of memory. */
struct tailvolt_stated *tv_stated_keep(const struct tv_draft *draft);
/* Puts what was stated into an empty draft; false when out of memory. */
bool tv_stated_restore(const struct tailvolt_stated *stated, struct tv_draft *draft);
/* standard_sizes.c: cables and fuses of the standard car that the file leaves open. */
void tv_choose_sizes(struct tv_draft *draft);
/* The default place of every battery. */
void tv_default_places(struct tv_draft *draft);
/* system_starter.c */
void tv_find_starter(struct tv_draft *draft);
/* A battery as `starts from` or `supply from` names it; the unnamed one is `battery`. NULL = none. */
const struct tv_part *tv_battery_named(struct tv_draft *draft, const char *name);
/* The fault for a key that names a battery that does not exist. */
void tv_no_such_battery(struct tv_draft *draft, const struct tv_part *part, enum tv_key_id key);
/* system_defaults.c: every default, and what contradicts or is missing. */
void tv_fill_defaults(struct tv_draft *draft);
/* system_build.c: the plain structs. */
enum tailvolt_status tv_system_build(struct tv_draft *draft, struct tailvolt_system **out);
/* system_sections.c: those that join no points. */
void tv_build_sections(const struct tv_draft *draft, struct tailvolt_system *system);
/* A part's name, or that of its kind; `to` has TAILVOLT_NAME_MAX bytes. */
void tv_part_name(char *to, const struct tv_part *part);
/* system_cable.c: the electrical side of one cable or strap; false after a fault. */
bool tv_cable_section(struct tv_draft *draft, const struct tv_part *part,
                      struct tailvolt_conductor *conductor);
/* Resistance of the size a cable is sold as, where the true one is clearly higher; NAN where it is not, or where only
 * the size is known. A drop is measured with lugs and clamp included: a quarter more proves nothing; strands and ohms
 * per metre are held to 15 % (a cable's own tolerance is 5 %). */
double tv_claimed_ohm(const struct tv_part *part, const struct tailvolt_conductor *conductor);
/* system_wiring.c: loose points, sources without a way back, short circuits. */
void tv_check_wiring(struct tv_draft *draft, const struct tailvolt_system *system);

#endif
