/* A root between two ends, by Brent's method (GSL roots); cannot call GSL's error handler. */
#ifndef TV_NUMERIC_ROOT_H
#define TV_NUMERIC_ROOT_H

#include <stdbool.h>

struct tv_bracket {
  double low, high; /* hold the root between them, before and after */
  double root;      /* best of what was tried */
};

/* Narrows the bracket until it is at most `near` wide, or `near_frac` of the root, or for `rounds`. `f` is called once at each end first.
 * False: both ends on the same side of zero, or f is not finite; the bracket is then as far as it came. */
bool tv_root(double (*f)(double x, void *context), void *context, struct tv_bracket *bracket, double near, double near_frac, int rounds);

#endif
