/* What many vehicles say together. */
#ifndef TV_STUDY_CERTAINTY_SUM_H
#define TV_STUDY_CERTAINTY_SUM_H

#include "study/vehicles.h"

/* Wilson's score interval of a share, here of 90 % (J. Am. Stat. Assoc. 22, 1927): valid near 0 and 1 too. Evenly spread vehicles make
 * it wider than necessary. In per cent; NAN for none. */
void tv_share_interval(int hits, int count, double *low_pct, double *high_pct);

struct tailvolt_three_quantiles tv_three_quantiles(double *numbers, int count); /* sorts them */

/* Shares of the variance of an answer, one per factor.
 *
 * By finite differences an answer is c + sum D_f z_f, z_f the standardized place of a vehicle along factor f and D_f the effect of
 * one deviation. Factors are independent, so factor f has the share D_f^2 / V of the variance V. What the drawn vehicles show beyond
 * that, r = y - sum D_f z_f, corrects each D_f by its regression on z_f and adds the rest to V, and its scatter is the standard
 * error of every share. */
struct tv_shares {
  const struct tailvolt_uncertainty *list;
  const double *along;    /* [count x factor_count] z */
  const double *answer;   /* [count] y; values that are not finite are left out */
  int count;
  const double *step;     /* [factor_count] D; NAN = not known: from the vehicles alone */
};
/* Fills share_pct and error_pct [factor_count]; returns the share that no factor explains, per cent; NAN where nothing varies. */
double tv_shares_of(const struct tv_shares *from, double *share_pct, double *error_pct);

/* Names those whose share exceeds twice its error, the greatest first, at most TAILVOLT_MEASURE_FIRST_MAX. */
void tv_name_first(const struct tailvolt_uncertainty *list, const double *share_pct, const double *error_pct,
                   struct tailvolt_certainty *out);

#endif
