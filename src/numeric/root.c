#include "numeric/root.h"

#include <gsl/gsl_roots.h>
#include <math.h>

/* What GSL sees: f, its values at both ends taken beforehand, and always a finite number. */
struct seen {
  double (*f)(double x, void *context);
  void *context;
  double low, high, f_low, f_high;
  bool finite;
};

static double look(double x, void *context) {
  struct seen *seen = context;
  if (!(x < seen->low) && !(x > seen->low)) return seen->f_low;
  if (!(x < seen->high) && !(x > seen->high)) return seen->f_high;
  double y = seen->f(x, seen->context);
  if (isfinite(y)) return y;
  seen->finite = false;
  return 0;
}

bool tv_root(double (*f)(double x, void *context), void *context, struct tv_bracket *bracket, double near, double near_frac, int rounds) {
  struct seen seen = {f, context, bracket->low, bracket->high, f(bracket->low, context), f(bracket->high, context), true};
  double memory[16];
  gsl_function function = {look, &seen};
  gsl_root_fsolver solver = {.type = gsl_root_fsolver_brent, .state = memory};
  bracket->root = 0.5 * (bracket->low + bracket->high);
  bool straddle = seen.f_low <= 0 ? seen.f_high >= 0 : seen.f_high <= 0;
  if (!isfinite(seen.f_low) || !isfinite(seen.f_high) || !straddle || !(bracket->low <= bracket->high) ||
      gsl_root_fsolver_brent->size > sizeof memory)
    return false;
  gsl_root_fsolver_set(&solver, &function, bracket->low, bracket->high);
  for (int k = 0; k < rounds; k++) {
    gsl_root_fsolver_iterate(&solver);
    if (!seen.finite) return false;
    *bracket = (struct tv_bracket){gsl_root_fsolver_x_lower(&solver), gsl_root_fsolver_x_upper(&solver), gsl_root_fsolver_root(&solver)};
    if (bracket->high - bracket->low <= fmax(near, near_frac * fabs(bracket->root))) break;
  }
  return true;
}
