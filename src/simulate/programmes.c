#include "simulate/programmes.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "input/programme_read.h"
#include "text/text.h"

struct made {
  struct tailvolt_programme spec;
  unsigned long seed; /* in force */
  struct tv_programme *programme;
};

struct tv_programmes {
  char file[TAILVOLT_TEXT_MAX]; /* paths start from its folder */
  int count;
  struct made *made;
};

static unsigned long seed_of(const struct tailvolt_programme *spec, const struct tailvolt_options *options) {
  return options->seed_given ? options->seed : spec->seed;
}

static bool same_number(double a, double b) { return a == b || (isnan(a) && isnan(b)); }

static bool same_description(const struct tailvolt_programme *a, const struct tailvolt_programme *b) {
  return same_number(a->crest_db, b->crest_db) && same_number(a->tempo_per_min, b->tempo_per_min) &&
         same_number(a->decay_s, b->decay_s) && same_number(a->bass_hz, b->bass_hz) &&
         same_number(a->phrases_frac, b->phrases_frac) && same_number(a->sections_frac, b->sections_frac) &&
         same_number(a->below_hz, b->below_hz) && same_number(a->above_hz, b->above_hz) &&
         strcmp(a->recording, b->recording) == 0 && strcmp(a->envelope, b->envelope) == 0 &&
         strcmp(a->style, b->style) == 0;
}

/* A seed orders generated beats; a recording has none. */
static bool takes_seed(const struct tailvolt_programme *spec) {
  return spec->recording[0] == '\0' && spec->envelope[0] == '\0';
}

enum tailvolt_status tv_programmes_make_one(const struct tailvolt_system *system, int k,
                                            const struct tailvolt_options *options, struct tv_programme **out,
                                            char *error) {
  return tv_programme_create(&system->programmes[k], system->file, options->seed_given ? &options->seed : NULL, out,
                             error);
}

enum tailvolt_status tv_programmes_make(const struct tailvolt_system *system, const struct tailvolt_options *options,
                                        struct tv_programmes **out, char *error) {
  *out = NULL;
  error[0] = '\0';
  struct tv_programmes *programmes = calloc(1, sizeof *programmes);
  if (programmes == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  programmes->made = calloc((size_t)system->programme_count + 1, sizeof *programmes->made);
  if (programmes->made == NULL) goto failed;
  tv_copy_text(programmes->file, sizeof programmes->file, system->file);
  for (int k = 0; k < system->programme_count; k++) {
    struct made *made = &programmes->made[k];
    made->spec = system->programmes[k];
    made->seed = seed_of(&system->programmes[k], options);
    programmes->count = k + 1;
    if ((status = tv_programmes_make_one(system, k, options, &made->programme, error)) != TAILVOLT_OK) goto failed;
  }
  *out = programmes;
  return TAILVOLT_OK;
failed:
  tv_programmes_free(programmes);
  return status;
}

void tv_programmes_free(struct tv_programmes *programmes) {
  if (programmes == NULL) return;
  for (int k = 0; k < programmes->count; k++) tv_programme_free(programmes->made[k].programme);
  free(programmes->made);
  free(programmes);
}

const struct tv_programme *tv_programmes_find(const struct tv_programmes *programmes,
                                              const struct tailvolt_system *system, int k,
                                              const struct tailvolt_options *options) {
  if (programmes == NULL || strcmp(programmes->file, system->file) != 0) return NULL;
  const struct tailvolt_programme *spec = &system->programmes[k];
  for (int m = 0; m < programmes->count; m++) {
    const struct made *made = &programmes->made[m];
    if (same_description(&made->spec, spec) && (!takes_seed(spec) || made->seed == seed_of(spec, options)))
      return made->programme;
  }
  return NULL;
}
