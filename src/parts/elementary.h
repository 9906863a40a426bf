/* exp, log, pow, sin, cos, asin and their kin in plain arithmetic, for everything that a run computes.
 *
 * A maths library may round as it likes, and differs between systems and in vector code. These use only + - * /,
 * sqrt, integer operations and selections, in a fixed order and without fused multiply-add (the library is
 * compiled with -ffp-contract=off), so a result has the same bits on every processor, at every vector width and
 * in WebAssembly. They are branch-free: a loop over lanes vectorizes.
 *
 * Method: argument reduction after Cody & Waite, Software Manual for the Elementary Functions (1980), the
 * constant cut into parts whose products are exact; then a polynomial. The logarithm uses
 * log m = 2 atanh((m - 1)/(m + 1)), the arc sine pi/2 - 2 asin(sqrt((1 - x)/2)) above one half. pow carries its
 * logarithm as an unevaluated sum of two numbers (Dekker, Numerische Mathematik 18, 1971). The coefficients
 * interpolate at the Chebyshev nodes of the reduced interval, computed with 80 digits and rounded; the error of
 * each polynomial, as a share of the result, stands beside it.
 *
 * Largest errors, in units in the last place (held by tests/parts/test_elementary.c against 64 bits of mantissa):
 *
 *   tv_exp     1.0   all x; overflows to infinity, underflows gradually
 *   tv_expm1   1.1   all x
 *   tv_log     1.0   all x; log 0 = -infinity, NaN below
 *   tv_log1p   1.5   x > -1
 *   tv_log10   2.0   as tv_log
 *   tv_pow     1.0   x >= 0 (NaN below zero, whatever the exponent); 0^0 = 1
 *   tv_sin, tv_cos   1.0   |x| <= 3e9, NaN beyond
 *   tv_asin    1.0   |x| <= 1, NaN beyond
 *   tv_asinh   2.0   all x
 *
 * NaN in, NaN out. Zeros may lose their sign. */
#ifndef TAILVOLT_PARTS_ELEMENTARY_H
#define TAILVOLT_PARTS_ELEMENTARY_H

#include <float.h>
#include <math.h>
#include <stdint.h>
#include <string.h>

/* x87 arithmetic would round twice */
_Static_assert(FLT_EVAL_METHOD == 0, "doubles must be computed as doubles");

/* adding it leaves a whole number in the low bits */
#define TV_ROUNDER 0x1.8p52
#define TV_LN2_HI 0x1.62e42fefp-1 /* 33 bits: exact times an exponent */
#define TV_LN2_LO 0x1.473de6af278edp-34

static inline uint64_t tv_bits(double x) {
  uint64_t bits;
  memcpy(&bits, &x, sizeof bits);
  return bits;
}

static inline double tv_from_bits(uint64_t bits) {
  double x;
  memcpy(&x, &bits, sizeof x);
  return x;
}

static inline double tv_with_sign(double magnitude, double sign) {
  const uint64_t top = UINT64_C(1) << 63;
  return tv_from_bits((tv_bits(magnitude) & ~top) | (tv_bits(sign) & top));
}

/* A number as the sum of two, the second below half a last place of the first. */
struct tv_pair {
  double hi, lo;
};

/* a + b exactly, |a| >= |b| or a = 0. */
static inline struct tv_pair tv_exact_sum(double a, double b) {
  double sum = a + b;
  return (struct tv_pair){sum, b - (sum - a)};
}

/* a b exactly, by halves of 26 bits. */
static inline struct tv_pair tv_exact_product(double a, double b) {
  const double cut = 0x1p27 + 1;
  double a_cut = cut * a, b_cut = cut * b;
  double a_hi = a_cut - (a_cut - a), b_hi = b_cut - (b_cut - b);
  double a_lo = a - a_hi, b_lo = b - b_hi;
  double product = a * b;
  return (struct tv_pair){product, ((a_hi * b_hi - product) + a_hi * b_lo + a_lo * b_hi) + a_lo * b_lo};
}

/* ---- exponentials ---- */

/* 2^k, k a whole number with TV_ROUNDER added, -1022 <= k <= 1023. */
static inline double tv_two_to(double rounded) {
  return tv_from_bits((tv_bits(rounded) + 1023) << 52);
}

/* x = k ln 2 + r with |r| < 0.35: k and exp(r) - 1 as a pair. */
struct tv_reduced_exp {
  double k;
  struct tv_pair less_one;
};

/* Of x + lo, lo far below x. */
static inline struct tv_reduced_exp tv_reduce_exp(double x, double lo) {
  double k = (x * 0x1.71547652b82fep+0 + TV_ROUNDER) - TV_ROUNDER;
  double hi = x - k * TV_LN2_HI, low = k * TV_LN2_LO - lo, r = hi - low;
  double lost = (hi - r) - low;
  /* (exp(r) - 1 - r)/r^2, 2^-61 */
  double r2 = r * r, r4 = r2 * r2;
  double p = (0.5 + 0x1.5555555555557p-3 * r) + r2 * (0x1.5555555555556p-5 + 0x1.111111110ff87p-7 * r) +
             r4 * ((0x1.6c16c16c16212p-10 + 0x1.a01a01aca0134p-13 * r) +
                   r2 * (0x1.a01a01a741b3cp-16 + 0x1.71ddffef9e7b1p-19 * r)) +
             r4 * r4 * ((0x1.27e4da1a3bf04p-22 + 0x1.af52906239de4p-26 * r) + r2 * 0x1.1f75aba0b1e2ep-29);
  return (struct tv_reduced_exp){k, tv_exact_sum(r, r2 * p + lost)};
}

/* exp(x + lo); in two factors, so it overflows and underflows where it must. */
static inline double tv_exp_sum(double x, double lo) {
  lo = fabs(x) > 746.0 ? 0.0 : lo;
  x = x > 710.0 ? 710.0 : x;
  x = x < -746.0 ? -746.0 : x;
  struct tv_reduced_exp e = tv_reduce_exp(x, lo);
  double one_factor = e.k * 0.5 + TV_ROUNDER, other = e.k - (one_factor - TV_ROUNDER);
  double mantissa = 1.0 + (e.less_one.hi + e.less_one.lo);
  return mantissa * tv_two_to(one_factor) * tv_two_to(other + TV_ROUNDER);
}

/* e^x. */
static inline double tv_exp(double x) {
  return tv_exp_sum(x, 0.0);
}

/* e^x - 1, good for small x too. */
static inline double tv_expm1(double x) {
  double all = tv_exp_sum(x, 0.0);
  double held = x > 40.0 ? 40.0 : x;
  held = held < -40.0 ? -40.0 : held;
  struct tv_reduced_exp e = tv_reduce_exp(held, 0.0);
  double scale = tv_two_to(e.k + TV_ROUNDER), whole = scale - 1.0, part = scale * e.less_one.hi;
  /* either may be the larger: the sum's loss in both orders */
  double sum = whole + part, back = sum - whole;
  double lost = (whole - (sum - back)) + (part - back);
  double near = sum + (lost + scale * e.less_one.lo);
  return x > 40.0 ? all : near;
}

/* ---- logarithms ---- */

/* x = 2^k m with m from sqrt(1/2) to sqrt(2); x positive and finite. */
struct tv_split_number {
  double k, m;
};

static inline struct tv_split_number tv_split(double x) {
  double tiny = x < DBL_MIN ? 1.0 : 0.0;
  uint64_t bits = tv_bits(x * (x < DBL_MIN ? 0x1p54 : 1.0));
  const uint64_t root_half = UINT64_C(0x3fe6a09e667f3bcd);
  uint64_t exponent = (bits - root_half + (UINT64_C(1024) << 52)) >> 52; /* k + 1024 */
  double k = tv_from_bits(exponent | UINT64_C(0x4330000000000000)) - (0x1p52 + 1024.0);
  return (struct tv_split_number){k - 54.0 * tiny, tv_from_bits(bits - ((exponent - 1024) << 52))};
}

/* k ln 2 + log(1 + f + lo), 1 + f from sqrt(1/2) to sqrt(2), lo far below it.
 * With s = f/(2 + f): log(1 + f) = f - f^2/2 + s (f^2/2 + R), R = 2 atanh(s)/s - 2. */
static inline double tv_log_sum(double k, double f, double lo) {
  double s = f / (2.0 + f), z = s * s, z2 = z * z, half_square = 0.5 * f * f;
  /* R/z, 2^-60 */
  double p = (0x1.5555555555555p-1 + 0x1.9999999999a43p-2 * z) +
             z2 * (0x1.249249247513dp-2 + 0x1.c71c7204621fep-3 * z) +
             z2 * z2 *
                 ((0x1.745cf7c1d5dafp-3 + 0x1.3b1c79943fca2p-3 * z) +
                  z2 * (0x1.0fb77bcdefa76p-3 + 0x1.0c4d8297b1431p-3 * z));
  return k * TV_LN2_HI - ((half_square - (s * (half_square + z * p) + (k * TV_LN2_LO + lo))) - f);
}

/* Logarithm of zero, of infinity and outside its domain. */
static inline double tv_log_ends(double x, double log_x) {
  double end = x > DBL_MAX ? x : log_x;
  end = x == 0.0 ? -(double)INFINITY : end;
  return x >= 0.0 ? end : (double)NAN;
}

/* Natural logarithm. */
static inline double tv_log(double x) {
  struct tv_split_number at = tv_split(x);
  return tv_log_ends(x, tv_log_sum(at.k, at.m - 1.0, 0.0));
}

/* log(1 + x), good for small x too. */
static inline double tv_log1p(double x) {
  double sum = 1.0 + x;
  struct tv_split_number at = tv_split(sum);
  /* what 1 + x has lost: x - (sum - 1), or 1 - (sum - x) where x is the larger */
  double lost = x > 1.0 ? 1.0 - (sum - x) : x - (sum - 1.0);
  double f = at.k == 0.0 ? x : at.m - 1.0, lo = at.k == 0.0 ? 0.0 : lost / sum;
  return tv_log_ends(sum, tv_log_sum(at.k, f, lo));
}

/* Logarithm to base ten. */
static inline double tv_log10(double x) {
  return tv_log(x) * 0x1.bcb7b1526e50ep-2;
}

/* log x as a pair, relative error 2^-64; x positive and finite. With s = f/(2 + f) as a pair:
 * log m = 2 s (1 + z (1/3 + z Q)), z = s^2. */
static inline struct tv_pair tv_log_pair(double x) {
  struct tv_split_number at = tv_split(x);
  double f = at.m - 1.0, below = 2.0 + f, below_lost = f - (below - 2.0);
  double s = f / below;
  struct tv_pair back = tv_exact_product(s, below);
  double s_lo = (((f - back.hi) - back.lo) - s * below_lost) / below;
  struct tv_pair z = tv_exact_product(s, s);
  z.lo += 2.0 * s * s_lo;
  /* Q, 2^-66 of the result */
  double y = z.hi, y2 = y * y;
  double q = (0x1.999999999999ap-3 + 0x1.249249249252cp-3 * y) +
             y2 * (0x1.c71c71c6e78a1p-4 + 0x1.745d177d4ef6cp-4 * y) +
             y2 * y2 *
                 ((0x1.3b1394b0a7753p-4 + 0x1.11190514d902bp-4 * y) +
                  y2 * (0x1.df700c050c69dp-5 + 0x1.e0b2fadc317e7p-5 * y));
  struct tv_pair third = tv_exact_sum(0x1.5555555555555p-2, y * q);
  third.lo += 0x1.5555555555555p-56;
  struct tv_pair w = tv_exact_product(z.hi, third.hi);
  w.lo += z.hi * third.lo + z.lo * third.hi;
  struct tv_pair tail = tv_exact_product(s, w.hi);
  tail.lo += s * w.lo + s_lo * w.hi;
  struct tv_pair log_m = tv_exact_sum(2.0 * s, 2.0 * tail.hi);
  log_m.lo += 2.0 * (s_lo + tail.lo);
  struct tv_pair sum = tv_exact_sum(at.k * TV_LN2_HI, log_m.hi);
  sum.lo += log_m.lo + at.k * TV_LN2_LO;
  return sum;
}

/* x^y, x >= 0. */
static inline double tv_pow(double x, double y) {
  /* beyond these bounds the result is 0, 1 or infinity all the same, and the halves of a product stay finite */
  double exponent = y > 0x1p66 ? 0x1p66 : y;
  exponent = exponent < -0x1p66 ? -0x1p66 : exponent;
  struct tv_pair log_x = tv_log_pair(x);
  struct tv_pair product = tv_exact_product(exponent, log_x.hi);
  product.lo += exponent * log_x.lo;
  double power = tv_exp_sum(product.hi, product.lo);
  double at_end = y > 0.0 ? x : 1.0 / x; /* for x = 0 and x = infinity */
  power = x == 0.0 || x > DBL_MAX ? at_end : power;
  power = y == 0.0 ? 1.0 : power;
  return x >= 0.0 && y == y ? power : (double)NAN;
}

/* ---- circular functions ---- */

/* sin and cos of r + lo, |r| < 0.79; lo far below r. */
static inline double tv_sin_near(double r, double lo) {
  double z = r * r, z2 = z * z, r3 = z * r;
  /* (sin r - r)/r^3 less its first term, 2^-55 of the result */
  double p = 0x1.1111111110ba5p-7 + z * -0x1.a01a019e80693p-13 +
             z2 * (0x1.71de379252004p-19 + z * -0x1.ae60069e53ef1p-26 + z2 * 0x1.5e098556d302ep-33);
  return r - ((z * (0.5 * lo - r3 * p) - lo) + r3 * 0x1.5555555555555p-3);
}

static inline double tv_cos_near(double r, double lo) {
  double z = r * r, z2 = z * z, half = 0.5 * z, most = 1.0 - half;
  /* (cos r - 1 + r^2/2)/r^4, 2^-59 */
  double p = (0x1.5555555555555p-5 + z * -0x1.6c16c16c16960p-10) +
             z2 * (0x1.a01a019f4d0edp-16 + z * -0x1.27e4fa15bd814p-22) +
             z2 * z2 * (0x1.1eeb66b683028p-29 + z * -0x1.907c0e63adbb6p-37);
  return most + (((1.0 - most) - half) + (z2 * p - r * lo));
}

/* sin(x + quarters pi/2), quarters 0 or 1. pi/2 in three parts of 22 bits, exact times 31 bits, and a rest. */
static inline double tv_sin_shifted(double x, uint64_t quarters) {
  double rounded = x * 0x1.45f306dc9c883p-1 + TV_ROUNDER, k = rounded - TV_ROUNDER;
  double coarse = (x - k * 0x1.921fbp+0) - k * 0x1.5110bp-22, third = k * 0x1.184698p-44;
  double fine = coarse - third, back = coarse - fine;
  double lost = (back - third) + (coarse - (fine + back));
  double rest = lost - k * 0x1.3198a2e037073p-69;
  struct tv_pair r = {fine + rest, 0.0};
  r.lo = rest - (r.hi - fine);
  uint64_t quadrant = tv_bits(rounded) + quarters;
  double odd = tv_cos_near(r.hi, r.lo), even = tv_sin_near(r.hi, r.lo);
  double value = (quadrant & 1) != 0 ? odd : even;
  value = tv_from_bits(tv_bits(value) ^ ((quadrant & 2) << 62));
  return fabs(x) <= 3e9 ? value : (double)NAN;
}

/* Sine and cosine of an angle in radians. */
static inline double tv_sin(double x) {
  return tv_sin_shifted(x, 0);
}
static inline double tv_cos(double x) {
  return tv_sin_shifted(x, 1);
}

/* Arc sine in radians. */
static inline double tv_asin(double x) {
  double size = fabs(x);
  double z = size < 0.5 ? x * x : 0.5 * (1.0 - size), z2 = z * z, z4 = z2 * z2;
  /* (asin(sqrt z)/sqrt z - 1)/z, 2^-57 of the result */
  double p = ((0x1.5555555555556p-3 + 0x1.3333333332eaap-4 * z) +
              z2 * (0x1.6db6db6e35217p-5 + 0x1.f1c71c1baf1c5p-6 * z)) +
             z4 * ((0x1.6e8bb21b0d9bap-6 + 0x1.1c4d2df172182p-6 * z) +
                   z2 * (0x1.c9cff8af3076fp-7 + 0x1.781cd742184c7p-7 * z)) +
             z4 * z4 *
                 ((0x1.52816d4983b43p-7 + 0x1.637b7e101b0dap-8 * z) +
                  z2 * (0x1.1e9d59329c4d3p-6 + -0x1.eb83e904a1bfcp-7 * z) + z4 * 0x1.d8dbb348232e7p-6);
  double r = z * p, root = sqrt(z);
  /* the root as a pair: its upper half squares exactly */
  double upper = tv_from_bits(tv_bits(root) & UINT64_C(0xffffffff00000000));
  double lower = root > 0.0 ? (z - upper * upper) / (root + upper) : 0.0;
  double near_one = 0x1.921fb54442d18p-1 - ((2.0 * root * r - (0x1.1a62633145c07p-54 - 2.0 * lower)) -
                                            (0x1.921fb54442d18p-1 - 2.0 * upper));
  double value = size < 0.5 ? size + size * r : near_one;
  return size <= 1.0 ? tv_with_sign(value, x) : (double)NAN;
}

/* Inverse hyperbolic sine: log(1 + x + x^2/(1 + sqrt(1 + x^2))), for large x log(2 x). */
static inline double tv_asinh(double x) {
  double size = fabs(x), held = size > 0x1p30 ? 0x1p30 : size, square = held * held;
  double near = tv_log1p(held + square / (1.0 + sqrt(1.0 + square)));
  double far = tv_log(size) + 0x1.62e42fefa39efp-1;
  double value = size > 0x1p30 ? far : near;
  return x == x ? tv_with_sign(value, x) : (double)NAN;
}

#endif
