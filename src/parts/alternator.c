#include "parts/alternator.h"
#include "text/number.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* F^2 over u = 1/nu^2, S(u), is the straight line I_inf^2 (1 - u) in the law. With more than two points the
 * topmost piece is straight and each piece below joins the next above with its slope, a cubic: what real machines
 * give beyond the law near cut-in bends the lowest piece and leaves road speeds alone. The lowest point's slope is
 * that of a parabola. Slopes from 0 to three times the piece's own keep it monotone (Fritsch & Carlson, SIAM J.
 * Numer. Anal. 17, 1980). Against the tests' rectifier bridge, given its currents at 1300, 2500 and 6000 rpm:
 * within 8 % at 1500 and 4 % at 1800 rpm, where F straight over nu is 21 and 24 % low. */
static void make_pieces(struct tv_alternator *a) {
  int last = a->count - 1;
  double u[TAILVOLT_CURVE_MAX], s[TAILVOLT_CURVE_MAX], own[TAILVOLT_CURVE_MAX];
  for (int k = 0; k <= last; k++) {
    u[k] = 1 / (a->nu[k] * a->nu[k]);
    s[k] = a->a[k] * a->a[k];
  }
  for (int k = 0; k < last; k++) own[k] = (s[k + 1] - s[k]) / (u[k + 1] - u[k]);
  for (int k = 0; k < last; k++) {
    double fast = k + 1 < last ? own[k + 1] : own[k], slow = k > 0 ? own[k] : 2 * own[k] - fast;
    fast = fmax(fast, 3 * own[k]); /* all are negative */
    slow = fmin(fmax(slow, 3 * own[k]), 0);
    double d = u[k + 1] - u[k];
    a->piece[k] = (struct tv_alternator_piece){u[k], s[k], slow, (3 * own[k] - 2 * slow - fast) / d,
                                               (slow + fast - 2 * own[k]) / (d * d)};
  }
  /* the two-point law continues beyond its second point; a machine measured at more is flat there */
  a->piece[last] = last > 1 ? (struct tv_alternator_piece){.u = u[last], .level_a2 = s[last]} : a->piece[last - 1];
}

/* Two label points (n1, I1), (n2, I2) give both constants, with a = (I1/I2)^2:
 *   n0^2 = (1 - a) / (1/n1^2 - a/n2^2),  I_inf = I2 / sqrt(1 - (n0/n2)^2)
 * Machine with a diode rectifier feeding a constant voltage: Caliskan, Perreault, Lang, Kassakian, IEEE Trans. Circuits
 * and Systems I 50(9), 2003 (formula from memory, re-derived). Its output is up to 28 % high near cut-in, hence the
 * straight line below the lower label point. */
enum tailvolt_status tv_alternator_init(const struct tailvolt_alternator *spec,
                                        struct tv_alternator *alternator, char *error) {
  memset(alternator, 0, sizeof *alternator);
  alternator->rated_v = spec->rated_v;
  alternator->fixed_a = spec->fixed_output_a;
  alternator->first_nu = TV_ALTERNATOR_FIRST_NU;
  if (!isnan(spec->fixed_output_a)) return TAILVOLT_OK;
  int last = spec->output_count - 1;
  double n1 = spec->output_rpm[0], i1 = spec->output_a[0];
  double n2 = spec->output_rpm[last < 0 ? 0 : last], i2 = spec->output_a[last < 0 ? 0 : last];
  double a = (i1 / i2) * (i1 / i2);
  if (last < 1 || !(n1 < n2) || !(a < 1) || !(i1 > 0)) {
    if (error != NULL)
      snprintf(error, TAILVOLT_TEXT_MAX,
               "alternator: %s A at %s rpm and %s A at %s rpm fit no machine (the current must "
               "rise with the speed)",
               tv_significant(i1, 6).text, tv_significant(n1, 6).text, tv_significant(i2, 6).text,
               tv_significant(n2, 6).text);
    return TAILVOLT_BAD_INPUT;
  }
  double n0 = sqrt((1 - a) / (1 / (n1 * n1) - a / (n2 * n2)));
  alternator->n0_rpm = n0;
  alternator->i_inf_a = i2 / sqrt(1 - (n0 / n2) * (n0 / n2));
  alternator->nu1 = n1 / n0;
  alternator->f1_a = i1;
  /* a lowest point below the formula's first conduction takes the foot of the line down with it */
  alternator->first_nu = fmin(TV_ALTERNATOR_FIRST_NU, 0.9 * alternator->nu1);
  alternator->count = spec->output_count;
  for (int k = 0; k <= last; k++) {
    alternator->nu[k] = spec->output_rpm[k] / n0;
    alternator->a[k] = spec->output_a[k];
  }
  make_pieces(alternator);
  return TAILVOLT_OK;
}

/* The piece valid at nu, which is not below the lower label point. */
static const struct tv_alternator_piece *piece_at(const struct tv_alternator *a, double nu) {
  int k = 0;
  while (k + 1 < a->count && nu >= a->nu[k + 1]) k++;
  return &a->piece[k];
}

/* F^2 at u = 1/nu^2, and its slope with respect to u */
static double square_a2(const struct tv_alternator_piece *piece, double u, double *slope_a2) {
  double d = u - piece->u;
  *slope_a2 = piece->slope_a2 + d * (2 * piece->bend_a2 + 3 * d * piece->twist_a2);
  return piece->level_a2 + d * (piece->slope_a2 + d * (piece->bend_a2 + d * piece->twist_a2));
}

/* F(nu) */
static double full_field_a(const struct tv_alternator *a, double nu) {
  if (nu <= a->first_nu) return 0;
  if (nu < a->nu1) return a->f1_a * (nu - a->first_nu) / (a->nu1 - a->first_nu);
  double slope_a2;
  return sqrt(square_a2(piece_at(a, nu), 1 / (nu * nu), &slope_a2));
}

double tv_alternator_current_a(const struct tv_alternator *a, double rotor_rpm, double v, double field_frac) {
  if (rotor_rpm <= 0 || field_frac <= 0) return 0;
  if (!isnan(a->fixed_a)) return field_frac * a->fixed_a;
  double ratio = tv_alternator_cut_in_ratio(a, rotor_rpm, v);
  if (ratio <= 0) return field_frac * full_field_a(a, HUGE_VAL);
  return field_frac * full_field_a(a, field_frac / ratio);
}

double tv_alternator_slope_a_per_v(const struct tv_alternator *a, double rotor_rpm, double v,
                                   double field_frac) {
  if (!isnan(a->fixed_a) || rotor_rpm <= 0) return 0;
  double ratio = tv_alternator_cut_in_ratio(a, rotor_rpm, v), nu = field_frac / ratio;
  if (nu > a->nu1) { /* I = x sqrt(S(u)), u = (r/x)^2, dr/dV = r / (V + 1.6 V) */
    double slope_a2, u = 1 / (nu * nu), now_a2 = square_a2(piece_at(a, nu), u, &slope_a2);
    return field_frac * u * slope_a2 / ((v + TV_ALTERNATOR_DIODES_V) * sqrt(now_a2));
  }
  const double dv = 1e-4;
  return (tv_alternator_current_a(a, rotor_rpm, v + dv, field_frac) -
          tv_alternator_current_a(a, rotor_rpm, v - dv, field_frac)) / (2 * dv);
}

double tv_alternator_curve_a(const struct tv_alternator *a, double rotor_rpm, double v, double field_frac) {
  double ratio = tv_alternator_cut_in_ratio(a, rotor_rpm, v);
  double square = field_frac * field_frac - ratio * ratio;
  return square > 0 ? a->i_inf_a * sqrt(square) : 0;
}

/* u at which S(u) = share u on piece k. S falls, so the difference does too: Newton's method between bounds,
 * exact at once where the piece is straight. */
static double u_of_share(const struct tv_alternator *a, int k, double share_a2) {
  const struct tv_alternator_piece *piece = &a->piece[k];
  double high = 1 / (a->nu[k] * a->nu[k]), low = 0;
  if (k + 1 < a->count) low = 1 / (a->nu[k + 1] * a->nu[k + 1]);
  double u = high;
  for (int round = 0; round < 60; round++) {
    double slope_a2, miss_a2 = square_a2(piece, u, &slope_a2) - share_a2 * u;
    if (miss_a2 > 0)
      low = u;
    else
      high = u;
    double next = u - miss_a2 / (slope_a2 - share_a2);
    if (!(next >= low && next <= high)) next = 0.5 * (low + high);
    if (fabs(next - u) <= 1e-15 * u) return next;
    u = next;
  }
  return u;
}

double tv_alternator_field_for(const struct tv_alternator *a, double rotor_rpm, double v,
                               double current_a) {
  if (current_a <= 0) return 0;
  if (!isnan(a->fixed_a)) return current_a / a->fixed_a;
  if (rotor_rpm <= 0) return HUGE_VAL;
  double ratio = tv_alternator_cut_in_ratio(a, rotor_rpm, v);
  /* x F(x / r) rises with x and passes r nu_k I_k at each point */
  int k = a->count - 1;
  while (k >= 0 && current_a < ratio * a->nu[k] * a->a[k]) k--;
  if (k >= 0) return ratio / sqrt(u_of_share(a, k, current_a * current_a / (ratio * ratio)));
  /* straight line: x f1 (x/r - nu0)/(nu1 - nu0) = I, a quadratic in x */
  double reach = current_a * (a->nu1 - a->first_nu) / a->f1_a;
  return 0.5 * (a->first_nu * ratio +
                sqrt(a->first_nu * a->first_nu * ratio * ratio + 4 * ratio * reach));
}
