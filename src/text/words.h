/* Words for enums, the same in every report. */
#ifndef TV_TEXT_WORDS_H
#define TV_TEXT_WORDS_H

#include <stddef.h>

#include "tailvolt/remedy.h"
#include "tailvolt/result.h"
#include "tailvolt/system.h"
#include "text/number.h"

const char *tv_verdict_word(enum tailvolt_verdict verdict); /* "holds", "marginal", "fails" */
const char *tv_verdict_shout(enum tailvolt_verdict verdict); /* "HOLDS", ... */
const char *tv_phase_word(int phase);                        /* "idle", "road", "parked" */
const char *tv_phase_place(int phase);                       /* "at idle", "on the road", "parked" */
const char *tv_use_word(int use);                            /* "idle", "town", "motorway", "parked" */
const char *tv_conductor_kind_word(enum tailvolt_conductor_kind kind);
const char *tv_isolator_kind_word(enum tailvolt_isolator_kind kind); /* "relay", "diode", "converter" */
const char *tv_material_word(enum tailvolt_material material);
const char *tv_battery_word(enum tailvolt_battery_kind kind);
const char *tv_ideal_word(enum tailvolt_ideal ideal); /* "perfect wire", "unlimited alternator" */
/* That no set was found, of at most so many changes: no full stop. */
const char *tv_not_enough_words(int most_parts);
const char *tv_cranking_word(enum tailvolt_cranking_standard standard); /* "EN", "SAE", "DIN" */
const char *tv_place_word(enum tailvolt_place place); /* "cabin", "engine bay", "boot", "bed" */
const char *tv_heat_word(enum tailvolt_heat heat); /* "cool", "warm", "too hot" */
const char *tv_part_word(enum tailvolt_part_kind kind); /* as its section is named: "cable", "isolator" */
/* What an entry of the ledger is: "cable", "relay", "polarization" ... */
const char *tv_drop_word(enum tailvolt_drop drop, enum tailvolt_part_kind kind);
/* The reverse; false where it is no such word. */
bool tv_drop_of_word(const char *word, enum tailvolt_drop *drop, enum tailvolt_part_kind *kind);
/* "charge transfer", "slow polarization", "charge within reach", "surface charge"; "polarization" of a given branch. */
const char *tv_polarization_word(enum tailvolt_polarization polarization);
enum tailvolt_part_kind tv_part_of_conductor(enum tailvolt_conductor_kind kind);
/* True where a cable of that size is replaced from the metric series; AWG sizes are not. */
const char *tv_fuse_kind_word(enum tailvolt_fuse_kind kind);
bool tv_size_is_metric(const char *size);
/* A size as sold: metric cable has no AWG name, only a near one: "about 4 AWG". */
struct tv_number tv_size_words(const struct tailvolt_conductor *conductor, bool us_units);
/* The section of a part: "cable feed"; the kind alone where the part has no other name. */
void tv_section_words(enum tailvolt_part_kind kind, const char *name, char *to, size_t size);

#endif
