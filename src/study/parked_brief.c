/* The times of one vehicle, by either method. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "study/parked.h"

void tv_parked_brief_scale(struct tv_parked_brief *b, double cut_out_ratio, double limit_s) {
  if (!b->likely || cut_out_ratio == 1) return;
  b->cut_out_s *= cut_out_ratio;
  b->until_s = fmin(fmin(b->restart_s, b->cut_out_s), fmin(b->limit_s, limit_s));
  b->ends_by = tv_ended_by(b->until_s, b->restart_s, b->cut_out_s, b->limit_s);
}

enum tailvolt_status tv_search_find(struct tv_parked_search *search, double *until_s) {
  if (search->full_reason != TAILVOLT_FULL_NOT) return tv_search_every_step(search, until_s);
  enum tailvolt_status status = tv_search_by_checkpoints(search, until_s);
  /* checkpoints turned out not to represent the whole */
  if (status == TAILVOLT_OK && search->full_reason != TAILVOLT_FULL_NOT)
    status = tv_search_every_step(search, until_s);
  return status;
}

enum tailvolt_status tv_parked_brief_with(const struct tailvolt_system *system,
                                          const struct tailvolt_profile *profile,
                                          const struct tailvolt_parked_options *options,
                                          const struct tv_parked_quick *quick, struct tv_parked_brief *brief,
                                          char *error) {
  struct tv_parked_search *search = calloc(1, sizeof *search);
  double until_s = 0;
  if (search == NULL) return TAILVOLT_NO_MEMORY;
  enum tailvolt_status status = tv_search_make(system, profile, options, quick, search);
  if (status == TAILVOLT_OK) status = tv_search_find(search, &until_s);
  if (status == TAILVOLT_OK) {
    *brief = (struct tv_parked_brief){until_s - search->begin_s,
                                      search->times.restart_s - search->begin_s,
                                      search->times.cut_out_s - search->begin_s,
                                      search->times.limit_s - search->begin_s,
                                      tv_search_ended_by(search, until_s),
                                      search->times.likely,
                                      fmin(search->followed_s - search->begin_s, options->limit_s)};
    tv_parked_brief_scale(brief, search->quick.cut_out_ratio, options->limit_s);
  } else if (error != NULL) {
    memcpy(error, search->error, TAILVOLT_TEXT_MAX);
  }
  tv_search_free(search);
  free(search);
  return status;
}
