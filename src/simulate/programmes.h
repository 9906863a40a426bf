/* What is played in a run: programmes made from their descriptions, once for all runs of a study if it likes.
 *
 * A programme is constant once made, so runs on any number of threads may play it. With check.c, the one place where
 * this folder calls the readers. */
#ifndef TV_SIMULATE_PROGRAMMES_H
#define TV_SIMULATE_PROGRAMMES_H

#include "parts/programme.h"
#include "tailvolt/simulate.h"

struct tv_programmes; /* opaque; constant once made */

/* Makes every programme of a system; recordings, envelope files and style files are read here.
 * TAILVOLT_OK, _NO_MEMORY, or _BAD_INPUT with `error` (TAILVOLT_TEXT_MAX bytes) filled. */
TAILVOLT_CHECKED enum tailvolt_status tv_programmes_make(const struct tailvolt_system *system,
                                                         const struct tailvolt_options *options,
                                                         struct tv_programmes **out, char *error);
void tv_programmes_free(struct tv_programmes *programmes);

/* The programme made for a description like system->programmes[k], in a file of the same name, with the same seed;
 * NULL where there is none. `programmes` may be NULL. */
const struct tv_programme *tv_programmes_find(const struct tv_programmes *programmes,
                                              const struct tailvolt_system *system, int k,
                                              const struct tailvolt_options *options);

/* Makes one programme of a system, for one run. */
TAILVOLT_CHECKED enum tailvolt_status tv_programmes_make_one(const struct tailvolt_system *system, int k,
                                                             const struct tailvolt_options *options,
                                                             struct tv_programme **out, char *error);

/* tailvolt_simulate() that plays whatever in `shared` (may be NULL) fits the system's descriptions, and makes only the
 * rest. The result is the same to the last bit. `shared` must outlive the call; calls may run side by side. */
TAILVOLT_CHECKED enum tailvolt_status tv_simulate_with(const struct tailvolt_system *system,
                                                       const struct tailvolt_profile *profile,
                                                       const struct tailvolt_options *options,
                                                       const struct tv_programmes *shared,
                                                       struct tailvolt_result **out, char *error);

struct tv_run;
/* A run that has gone through the profile, ready to be turned into a result; free it with tv_run_free(). `like`: a
 * run with the same batteries, or NULL. */
TAILVOLT_CHECKED enum tailvolt_status tv_profile_run(const struct tailvolt_system *system,
                                                     const struct tailvolt_profile *profile,
                                                     const struct tailvolt_options *options,
                                                     const struct tv_programmes *shared, const struct tv_run *like,
                                                     struct tv_run **out, char *error);

#endif
