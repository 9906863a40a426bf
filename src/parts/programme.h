/* The programme being played, as a short-term power envelope: share of rated power over time.
 *
 * A programme is constant once made and may serve many runs and threads; its position is a cursor, plain data that
 * may be copied (snapshots). Beats start at profile time zero and keep their phase. */
#ifndef TV_PARTS_PROGRAMME_H
#define TV_PARTS_PROGRAMME_H

#include "parts/programme_beats.h"
#include "parts/programme_table.h"

struct tv_programme; /* opaque */

/* A cursor is only a cache: the same [t0, t1] gives the same mean within rounding whatever was asked before,
 * and the same bits for the same sequence of calls. Start with memset 0. It knows the programme it was last
 * used with, so one cursor may move between programmes. */
struct tv_programme_cursor {
  unsigned long long programme_id; /* of the programme the cached values hold for; 0 = none */
  double value[8];
};

/* A programme of beats; steady where the requested mean is that of a sine (1) or more. `bass_hz` is the note
 * whose ripple shows on the supply. TAILVOLT_OK, _NO_MEMORY, or _BAD_INPUT with `error` (TAILVOLT_TEXT_MAX
 * bytes) filled. */
TAILVOLT_CHECKED enum tailvolt_status
tv_programme_from_beats(const struct tv_beats_spec *beats, double bass_hz, struct tv_programme **out, char *error);

/* A programme that repeats a finished table. Takes over the table's arrays and leaves it empty; on failure the table
 * stays the caller's. */
TAILVOLT_CHECKED enum tailvolt_status
tv_programme_from_table(struct tv_table *table, double bass_hz, struct tv_programme **out, char *error);

void tv_programme_free(struct tv_programme *programme);

/* Mean of the envelope over [t0_s, t1_s] (profile time, t1 > t0, any length), share of rated power. */
double tv_programme_mean(const struct tv_programme *programme, struct tv_programme_cursor *cursor,
                         double t0_s, double t1_s);

/* The means over `count` steps of an even grid, t = from_s + k step_s, from step `index` on: mean[k] is what the call above gives for
 * the k-th, called in order. */
void tv_programme_means(const struct tv_programme *programme, struct tv_programme_cursor *cursor, double from_s, double step_s,
                        double index, int count, double *mean);

/* Period after which the mean repeats: the cycle of phrases, whole blocks of beats and passages, or the length of
 * a recording; 0 = steady. */
double tv_programme_cycle_s(const struct tv_programme *programme);

/* Bass note, Hz; 0 = envelope only. */
double tv_programme_bass_hz(const struct tv_programme *programme);

#endif
