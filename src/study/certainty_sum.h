/* What many vehicles say together. */
#ifndef TV_STUDY_CERTAINTY_SUM_H
#define TV_STUDY_CERTAINTY_SUM_H

#include "study/vehicles.h"

/* Wilson's score interval of a share, here of 90 % (J. Am. Stat. Assoc. 22, 1927): right near 0 and 1 too. Vehicles spread evenly make
 * it wider than it need be. In per cent; NAN of none. */
void tv_share_interval(int hits, int count, double *low_pct, double *high_pct);

struct tailvolt_three_quantiles tv_three_quantiles(double *numbers, int count); /* sorts them */

/* Shares of the variance of an answer, one a factor.
 *
 * By finite differences an answer is c + sum D_f z_f, z_f the standardized place of a vehicle along factor f and D_f what one
 * deviation of it does. Factors are independent, so factor f has the share D_f^2 / V of the variance V. What the vehicles drawn show
 * beside that, r = y - sum D_f z_f, corrects each D_f by its regression on z_f and adds the rest to V, and its scatter is the
 * standard error of every share. */
struct tv_shares {
  const struct tailvolt_uncertainty *list;
  const double *along;    /* [count x factor_count] z */
  const double *answer;   /* [count] y; what is not finite is left out */
  int count;
  const double *step;     /* [factor_count] D; NAN = not known: by the vehicles alone */
};
/* Fills share_pct and error_pct [factor_count]; returns the share that no factor explains, per cent; NAN where nothing varies. */
double tv_shares_of(const struct tv_shares *from, double *share_pct, double *error_pct);

/* Names those whose share exceeds twice its error, the greatest first, at most TAILVOLT_MEASURE_FIRST_MAX. */
void tv_name_first(const struct tailvolt_uncertainty *list, const double *share_pct, const double *error_pct,
                   struct tailvolt_certainty *out);

#endif
