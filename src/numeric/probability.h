/* Distributions, from GSL where it cannot call its error handler. */
#ifndef TV_NUMERIC_PROBABILITY_H
#define TV_NUMERIC_PROBABILITY_H

/* Quantile 0.975 of Student's t with at least one degree of freedom: half the width of a 95 % interval, in standard errors. */
double tv_student_95(double freedom);

/* Share of a chi-square distribution above x; freedom above 0. NAN where x is not a number. */
double tv_chi_square_above(double x, double freedom);

#endif
