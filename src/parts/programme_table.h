/* A table of short-term power, played in a loop: from a recording (windows of one length, the last may be shorter) or
 * from an envelope file (any lengths). */
#ifndef TV_PARTS_PROGRAMME_TABLE_H
#define TV_PARTS_PROGRAMME_TABLE_H

#include "parts/programme_beats.h"

/* Owns its arrays. */
struct tv_table {
  long count;
  double window_s;       /* 0 = by edge_s */
  double *edge_s;        /* [count + 1] from 0; NULL where the windows are of one length */
  double *share_frac;    /* [count] */
  double *integral_s;    /* [count + 1] of the share, from 0 */
  double length_s;
};

/* Computes integral_s. TAILVOLT_OK or _NO_MEMORY. */
TAILVOLT_CHECKED enum tailvolt_status tv_table_finish(struct tv_table *table);
void tv_table_free(struct tv_table *table);

/* The window that holds time t, as a constant segment: start <= t < end. */
void tv_table_segment(const struct tv_table *table, double t_s, struct tv_segment *out);

/* Integral of the share from time zero; for spans of many windows. */
double tv_table_integral(const struct tv_table *table, double t_s);

#endif
