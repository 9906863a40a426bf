/* A van that falls short, a catalogue, and a search: what tests of remedy begin with. */
#ifndef TEST_REMEDY_SCENE_H
#define TEST_REMEDY_SCENE_H

#include "study/remedy.h"
#include "tailvolt/tailvolt.h"

/* `points` is a car of its own wiring, two amplifiers on one thin feed. */
extern const char remedy_van[], remedy_points[], remedy_idling[];

/* Writes a catalogue to a file; the name is valid until the next call. */
const char *remedy_catalogue_file(const char *text);
/* In steps of 1 ms; NULL = the catalogue that is built in. */
struct tailvolt_remedy_options remedy_options_with(const char *catalogue);
/* What remedy says; fails the test where it says nothing. */
struct tailvolt_remedy *remedy_find(const char *system_text, const char *profile_text, const struct tailvolt_remedy_options *options);

/* A job as the study sets it up, for trying choices one by one. */
void remedy_open_job(struct tv_remedy_job *job, const struct tailvolt_remedy_options *options, const char *system_text,
                     const char *profile_text, struct tailvolt_result **before);
void remedy_close_job(struct tv_remedy_job *job, struct tailvolt_result *before);

/* What a choice of one family's largest (NULL: of none) makes of a car; free it. */
struct tailvolt_system *remedy_with_largest(struct tv_remedy_job *job, const enum tailvolt_cure *cure);
/* A conductor by its name; fails the test where there is none. */
const struct tailvolt_conductor *remedy_cable(const struct tailvolt_system *system, const char *name);
const struct tailvolt_conductor *remedy_fuse(const struct tailvolt_system *system, const char *name);
/* Whether a caution's sentence has these words. */
bool remedy_warns_of(const struct tailvolt_remedy_caution *caution, const char *words);
/* Of one made by tv_remedy_make_set() from a trial that was not run. */
void remedy_free_set(struct tailvolt_remedy_set *set);

#endif
