/* What the quick search leaves out: ripple, and the storage inside amplifiers. Measured once on a car as described,
 * then carried over to all similar ones: how much more is drawn, and how far ripple crests keep a comparator from
 * tripping. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "study/parked.h"

#define LEVELS 9 /* halvings of the range in which the comparator trips: to about 5 mV */
#define BELOW_V 0.2
#define PLAYED_FRAC 0.5 /* of the charge, where crests are measured: nearer to the cut-out */
#define CREST_MOST 0.9
#define FIT_MOST 0.1
#define CUT_OUT_LEAST_S 120.0 /* sooner than this the wiring decides, and seconds mean nothing */

static double above_idle_a(const struct tv_parked_search *search, const struct tv_checkpoint *c) {
  double sum_a = 0;
  for (int k = 0; k < search->system->amplifier_count; k++)
    if (!search->rows.prescribed[k]) sum_a += fmax(c->mean_a[k] - search->fine->amplifier[k].idle_a, 0);
  return sum_a;
}

static bool hears(const struct tv_parked_search *search) {
  for (int k = 0; k < search->system->amplifier_count; k++)
    if (search->system->amplifiers[k].cut_out_v > 0 && search->fine->drive[k].playing) return true;
  return false;
}

static enum tailvolt_status draws(struct tv_parked_search *search, double *draw_a) {
  struct tv_checkpoint *c;
  enum tailvolt_status status = tv_search_start_slow(search);
  if (status == TAILVOLT_OK) status = tv_search_add_checkpoint(search, &c);
  if (status == TAILVOLT_OK)
    status = tv_search_play_window(search, 0, tv_search_window_s(search, 0, search->slow_s), c);
  if (status == TAILVOLT_OK) *draw_a = above_idle_a(search, c);
  return status;
}

/* How far all thresholds must be raised for the loudest piece to cut out, ripple included. */
static enum tailvolt_status trip_level(struct tv_parked_search *full, double low_v, double high_v, double *level_v) {
  struct tv_checkpoint *c;
  enum tailvolt_status status = tv_search_add_checkpoint(full, &c);
  if (status != TAILVOLT_OK) return status;
  for (int round = 0; round < LEVELS; round++) {
    double middle_v = 0.5 * (low_v + high_v);
    for (int k = 0; k < full->system->amplifier_count; k++)
      if (full->system->amplifiers[k].cut_out_v > 0)
        full->fine->amplifier[k].cut_out_v = full->system->amplifiers[k].cut_out_v + middle_v;
    status = tv_search_play_piece(full, 0, full->pieces.loud_s, TV_LOUD_PIECE_S, c);
    if (status != TAILVOLT_OK) return status;
    if (tv_parked_cut_outs(full->fine) > 0)
      high_v = middle_v;
    else
      low_v = middle_v;
  }
  tv_search_comparators(full, true);
  *level_v = 0.5 * (low_v + high_v);
  return TAILVOLT_OK;
}

/* The loudest piece, without ripple, once that share of the charge has been played; both searches' slow runs stand there then. */
static enum tailvolt_status loudest(struct tv_parked_search *smooth, struct tv_parked_search *full, double played_frac,
                                    struct tv_checkpoint **c) {
  enum tailvolt_status status = tv_search_start_slow(smooth);
  if (status == TAILVOLT_OK) status = tv_search_start_slow(full);
  if (status != TAILVOLT_OK) return status;
  double to_s = smooth->begin_s + played_frac * tv_search_charge_left_c(smooth->slow) / fmax(smooth->checkpoint[0].total_a, 1e-3);
  smooth->count = full->count = 1; /* their first windows: the means until then */
  status = tv_search_advance_slow(smooth, fmin(to_s, smooth->end_s));
  if (status == TAILVOLT_OK) status = tv_search_advance_slow(full, fmin(to_s, smooth->end_s));
  if (status == TAILVOLT_OK) status = tv_search_add_checkpoint(smooth, c);
  if (status == TAILVOLT_OK) status = tv_search_play_piece(smooth, 0, smooth->pieces.loud_s, TV_LOUD_PIECE_S, *c);
  if (status == TAILVOLT_OK) tv_search_measure(smooth, TV_LOUD_PIECE_S, *c);
  return status;
}

/* A weak supply collapses under the piece long before half its charge is gone: it is measured with more of it. */
static enum tailvolt_status crests(struct tv_parked_search *smooth, struct tv_parked_search *full, double *crest_frac) {
  static const double played_frac[] = {PLAYED_FRAC, 0.5 * PLAYED_FRAC, 0};
  struct tv_checkpoint *c = NULL;
  double level_v = 0;
  enum tailvolt_status status = TAILVOLT_OK;
  for (size_t k = 0; k < sizeof played_frac / sizeof played_frac[0] && status == TAILVOLT_OK && (k == 0 || c->collapses); k++)
    status = loudest(smooth, full, played_frac[k], &c);
  if (status != TAILVOLT_OK || c->collapses || !isfinite(c->margin_v) || !(c->sag_v > BELOW_V)) return status;
  status = trip_level(full, c->margin_v - BELOW_V, c->margin_v + c->sag_v, &level_v);
  if (status == TAILVOLT_OK) *crest_frac = fmin(fmax((level_v - c->margin_v) / c->sag_v, 0), CREST_MOST);
  return status;
}

static enum tailvolt_status calibrate(struct tv_parked_search *smooth, struct tv_parked_search *full,
                                      struct tv_parked_quick *quick) {
  double smooth_a = 0, full_a = 0;
  /* the full search plays a whole cycle, unless the music is so long that both use its pieces */
  if (full->full_reason == TAILVOLT_FULL_LONG_MUSIC) {
    full->sampled = smooth->sampled;
    full->window_s = smooth->window_s;
  }
  full->full_reason = TAILVOLT_FULL_NOT;
  full->pieces = quick->pieces = smooth->pieces;
  enum tailvolt_status status = draws(smooth, &smooth_a);
  if (status == TAILVOLT_OK) status = draws(full, &full_a);
  if (status != TAILVOLT_OK) return status;
  if (smooth_a > 0 && full_a > 0) quick->draw_ratio = full_a / smooth_a;
  tv_parked_set_step(full->fine, full->options->run.time_step_s);
  return hears(full) ? crests(smooth, full, &quick->crest_frac) : TAILVOLT_OK;
}

/* Near the end it collapses a little sooner with ripple than without, by nearly the same share of the time for similar
 * cars. */
enum tailvolt_status tv_parked_fit_cut_out(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                                           const struct tailvolt_parked_options *options, double cut_out_s,
                                           struct tv_parked_quick *quick) {
  struct tv_parked_brief brief;
  struct tailvolt_parked_options own = *options;
  if (!(cut_out_s > CUT_OUT_LEAST_S) || profile != NULL) return TAILVOLT_OK;
  own.full = false;
  own.run.progress = NULL;
  enum tailvolt_status status = tv_parked_brief_with(system, profile, &own, quick, &brief, NULL);
  if (status != TAILVOLT_OK) return status;
  double ratio = cut_out_s / brief.cut_out_s;
  if (ratio > 1 - FIT_MOST && ratio < 1 + FIT_MOST) quick->cut_out_ratio = ratio;
  return TAILVOLT_OK;
}

enum tailvolt_status tv_parked_calibrate(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                                         const struct tailvolt_parked_options *options, double cut_out_s,
                                         struct tv_parked_quick *quick, char *error) {
  struct tailvolt_parked_options own = *options;
  struct tv_parked_search *smooth = calloc(1, sizeof *smooth), *full = calloc(1, sizeof *full);
  enum tailvolt_status status = smooth != NULL && full != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  own.full = false;
  quick->draw_ratio = 1;
  quick->crest_frac = 0;
  quick->cut_out_ratio = 1;
  if (status == TAILVOLT_OK) status = tv_search_make(system, profile, &own, quick, smooth);
  if (status == TAILVOLT_OK) status = tv_search_make(system, profile, &own, NULL, full);
  if (status == TAILVOLT_OK) status = calibrate(smooth, full, quick);
  if (status == TAILVOLT_OK) status = tv_parked_fit_cut_out(system, profile, options, cut_out_s, quick);
  if (status != TAILVOLT_OK && error != NULL && smooth != NULL && full != NULL)
    memcpy(error, smooth->error[0] != '\0' ? smooth->error : full->error, TAILVOLT_TEXT_MAX);
  if (smooth != NULL) tv_search_free(smooth);
  if (full != NULL) tv_search_free(full);
  free(smooth);
  free(full);
  return status;
}

enum tailvolt_status tv_parked_brief(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                                     const struct tailvolt_parked_options *options, struct tv_parked_brief *brief,
                                     char *error) {
  struct tv_parked_quick quick = {.draw_ratio = 1, .cut_out_ratio = 1};
  enum tailvolt_status status = tv_parked_calibrate(system, profile, options, (double)NAN, &quick, error);
  return status == TAILVOLT_OK ? tv_parked_brief_with(system, profile, options, &quick, brief, error) : status;
}
