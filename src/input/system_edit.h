/* Settings ("section.key = value"): splitting them, and writing them into a system file's text. */
#ifndef TV_INPUT_SYSTEM_EDIT_H
#define TV_INPUT_SYSTEM_EDIT_H

#include <stdbool.h>
#include <stddef.h>

#include "input/system_keys.h"
#include "tailvolt/system.h"

struct tv_setting {
  enum tv_kind kind;                    /* TV_KINDS where the section's first word is unknown */
  enum tv_key_id id;                    /* TV_KEY_COUNT where the section has no such key */
  char name[TAILVOLT_NAME_MAX];         /* of the section, may be empty */
  char section[TAILVOLT_NAME_MAX + 32]; /* as in brackets */
  char key[96];                         /* as written */
  char value[TAILVOLT_TEXT_MAX];
  const char *note;                     /* a comment to stand behind the value; NULL = none */
};

/* Splits "section.key = value". The section is everything up to the last '.' that leaves a known key (a key
 * may hold a number: `power at 12.5 V`). NULL, or what is wrong with its form. */
const char *tv_setting_split(const char *text, struct tv_setting *setting);

/* The section that an unknown one stands for: the part of this name, one that has the key first, else the nearest kind; NULL = none. */
struct tv_draft;
const char *tv_setting_section_meant(const struct tv_draft *draft, const struct tv_setting *setting);

/* The text of a system file with settings applied, comments and order kept: an existing key's line is
 * changed, a new key goes to the end of its section, an unknown section to the end of the file. Settings must
 * have been accepted by tailvolt_system_parse() with this text. *out is to be freed. */
TAILVOLT_CHECKED enum tailvolt_status
tv_system_write_with(const char *text, const struct tailvolt_setting *settings, int count, char **out);

/* One setting, with a comment behind its value. */
TAILVOLT_CHECKED enum tailvolt_status
tv_system_write_noted(const char *text, const struct tailvolt_setting *setting, const char *note, char **out);

#endif
