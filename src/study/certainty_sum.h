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
 * An answer is about m + sum B_f z_f, z_f the standardized place of a vehicle along factor f. Factors are independent, so factor f has
 * the share B_f^2 / V of the variance V. Two things say what B_f is: the effect D_f of one deviation, from differences at one car, and
 * the vehicles drawn. Differences there are too large or too small in common where an answer has a corner, so B_f is believed to be
 * c D_f, c by regression of all vehicles on sum D_f z_f, with a deviation of 30 % and 4 % of the answer's own; the vehicles then correct
 * it as any prior is corrected by a linear regression with normal errors (Bayes). The rest of the regression is what no factor explains,
 * and with the deviation left in B_f gives the standard error of its share. */
struct tv_shares {
  const struct tailvolt_uncertainty *list;
  const double *along;    /* [count x factor_count] z */
  const double *answer;   /* [count] y; values that are not finite are left out */
  int count;
  const double *step;     /* [factor_count] D; NAN = not known */
};
/* Fills share_pct, error_pct and, unless NULL, effect (B) [factor_count]; *rest_pct: the share that no factor explains, NAN where nothing
 * varies. */
TAILVOLT_CHECKED enum tailvolt_status tv_shares_of(const struct tv_shares *from, double *share_pct, double *error_pct, double *effect,
                                                   double *rest_pct);

/* Names those whose share exceeds twice its error, the greatest first, at most TAILVOLT_MEASURE_FIRST_MAX. Shares that differ by no more
 * than their errors are in the order of their steps, so that other vehicles do not change it. */
void tv_name_first(const struct tv_shares *from, const double *share_pct, const double *error_pct, struct tailvolt_certainty *out);

#endif
