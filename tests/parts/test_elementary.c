/* The elementary functions against the C library's in extended precision, and their bits. */
#include "support/assert_near.h"

#include <inttypes.h>
#include <stdio.h>

#include "support/elementary_bits.h"

enum { SAMPLES = 400000 };

/* Error in units in the last place of the exact value; a unit is never below that of the smallest number. */
static double ulps(double seen, long double exact) {
  if (isnan(seen) || isinf(seen)) return seen == (double)exact ? 0 : (double)INFINITY;
  int exponent;
  frexpl(exact, &exponent);
  if (exponent < DBL_MIN_EXP) exponent = DBL_MIN_EXP;
  return (double)(fabsl((long double)seen - exact) / ldexpl(1.0L, exponent - DBL_MANT_DIG));
}

struct worst {
  double ulps, at, other;
};

static void keep(struct worst *worst, double seen, long double exact, double at, double other) {
  double error = ulps(seen, exact);
  if (!(error <= worst->ulps)) *worst = (struct worst){error, at, other};
}

static void judge(const char *name, struct worst worst, double most) {
  printf("%-9s worst %.3f ulp, at %a %a\n", name, worst.ulps, worst.at, worst.other);
  if (!(worst.ulps <= most)) fail_msg("%s: %.3f ulp at %a, %a", name, worst.ulps, worst.at, worst.other);
}

static void no_reference(void) {
  if (LDBL_MANT_DIG < 64) {
    printf("no extended precision on this system\n");
    skip();
  }
}

typedef double function(double x);
typedef long double reference(long double x);

/* Evenly over [-span, span], over exponents from 2^-spread to 2^spread (kept within +-span), both signs where
 * `negative`. */
static struct worst sweep(function *f, reference *exact, double span, unsigned spread, int negative) {
  struct worst worst = {0, 0, 0};
  uint64_t state = 7;
  for (int k = 0; k < SAMPLES; k++) {
    double x[3] = {span * elementary_even(&state), elementary_wide(&state, spread),
                   span * (2.0 * k / (SAMPLES - 1) - 1.0)};
    for (int j = 0; j < 3; j++) {
      double at = negative ? x[j] : fabs(x[j]);
      if (fabs(at) > span) continue;
      keep(&worst, f(at), exact(at), at, 0);
    }
  }
  return worst;
}

static void errors_are_within_the_stated_bounds(void **state) {
  (void)state;
  no_reference();
  judge("exp", sweep(tv_exp, expl, 745, 1000, 1), 1.0);
  judge("exp, near", sweep(tv_exp, expl, 2, 60, 1), 1.0);
  judge("expm1", sweep(tv_expm1, expm1l, 709, 1000, 1), 1.1);
  judge("expm1", sweep(tv_expm1, expm1l, 2, 60, 1), 1.1);
  judge("log", sweep(tv_log, logl, DBL_MAX, 1022, 0), 1.0);
  judge("log", sweep(tv_log, logl, 2, 3, 0), 1.0);
  judge("log10", sweep(tv_log10, log10l, DBL_MAX, 1022, 0), 2.0);
  judge("log10", sweep(tv_log10, log10l, 2, 3, 0), 2.0);
  judge("log1p", sweep(tv_log1p, log1pl, DBL_MAX, 1022, 0), 1.5);
  judge("log1p", sweep(tv_log1p, log1pl, 0.9999, 60, 1), 1.5);
  judge("log1p", sweep(tv_log1p, log1pl, 4, 3, 0), 1.5);
  judge("sin", sweep(tv_sin, sinl, 3e9, 31, 1), 1.0);
  judge("sin", sweep(tv_sin, sinl, 7, 3, 1), 1.0);
  judge("cos", sweep(tv_cos, cosl, 3e9, 31, 1), 1.0);
  judge("cos", sweep(tv_cos, cosl, 7, 3, 1), 1.0);
  judge("asin", sweep(tv_asin, asinl, 1, 60, 1), 1.0);
  judge("asinh", sweep(tv_asinh, asinhl, DBL_MAX, 1022, 1), 2.0);
  judge("asinh", sweep(tv_asinh, asinhl, 8, 4, 1), 2.0);
}

static void powers_are_within_the_stated_bound(void **state) {
  (void)state;
  no_reference();
  struct worst worst = {0, 0, 0};
  uint64_t random = 11;
  for (int k = 0; k < SAMPLES; k++) {
    double wide = fabs(elementary_wide(&random, 1000)), near = 1 + 0.5 * elementary_even(&random);
    double y = 1000 * elementary_even(&random), small = 3 * elementary_even(&random);
    keep(&worst, tv_pow(near, y), powl(near, y), near, y);
    keep(&worst, tv_pow(wide, small), powl(wide, small), wide, small);
    keep(&worst, tv_pow(10, small), powl(10, small), 10, small);
    /* results across the whole range */
    double far = 709 * small / 3 / (double)logl(wide);
    keep(&worst, tv_pow(wide, far), powl(wide, far), wide, far);
  }
  judge("pow", worst, 1.0);
}

static void ends_and_exact_values(void **state) {
  (void)state;
  const double inf = (double)INFINITY, none = (double)NAN;
  assert_true(tv_exp(0) == 1 && tv_exp(-inf) == 0 && tv_exp(inf) == inf && tv_exp(710) == inf);
  assert_true(tv_exp(-745) == 0x1p-1074 && tv_exp(-746) == 0 && isnan(tv_exp(none)));
  assert_true(tv_expm1(0) == 0 && tv_expm1(-inf) == -1 && tv_expm1(inf) == inf && isnan(tv_expm1(none)));
  assert_true(tv_expm1(1e-300) == 1e-300 && tv_expm1(-1e-20) == -1e-20);
  assert_true(tv_log(1) == 0 && tv_log(0) == -inf && tv_log(inf) == inf && isnan(tv_log(-1)) &&
              isnan(tv_log(none)));
  assert_true(tv_log1p(0) == 0 && tv_log1p(-1) == -inf && isnan(tv_log1p(-2)) && tv_log1p(inf) == inf);
  assert_true(tv_log1p(1e-300) == 1e-300 && isnan(tv_log1p(none)));
  assert_true(tv_log10(1) == 0 && tv_log10(0) == -inf && isnan(tv_log10(-3)));
  assert_true(tv_pow(2, 10) == 1024 && tv_pow(10, 2) == 100 && tv_pow(10, -0.0) == 1 && tv_pow(3, 1) == 3);
  assert_true(tv_pow(0, 2) == 0 && tv_pow(0, -1) == inf && tv_pow(0, 0) == 1 && tv_pow(inf, 0.5) == inf);
  assert_true(tv_pow(inf, -2) == 0 && tv_pow(1, inf) == 1 && tv_pow(2, inf) == inf && tv_pow(2, -inf) == 0);
  assert_true(tv_pow(0.5, inf) == 0 && tv_pow(2, 1e300) == inf && tv_pow(2, 1e-300) == 1 &&
              tv_pow(4, 0.5) == 2);
  assert_true(isnan(tv_pow(-1, 2)) && isnan(tv_pow(none, 1)) && isnan(tv_pow(2, none)));
  assert_true(tv_sin(0) == 0 && tv_cos(0) == 1 && isnan(tv_sin(4e9)) && isnan(tv_cos(inf)) &&
              isnan(tv_sin(none)));
  assert_true(tv_asin(0) == 0 && tv_asin(1) == 0x1.921fb54442d18p0 && tv_asin(-1) == -0x1.921fb54442d18p0);
  assert_true(isnan(tv_asin(1.0000001)) && isnan(tv_asin(none)));
  assert_true(tv_asinh(0) == 0 && tv_asinh(inf) == inf && tv_asinh(-inf) == -inf && isnan(tv_asinh(none)));
  assert_true(tv_asinh(1e-300) == 1e-300 && tv_asinh(-2) == -tv_asinh(2));
}

/* A run of neighbouring numbers starting at `from`: f must not turn back. */
static void rises(const char *name, function *f, double from, int count, double sign) {
  double last = sign * f(from), x = from;
  for (int k = 0; k < count; k++) {
    x = nextafter(x, (double)INFINITY);
    double now = sign * f(x);
    if (!(now >= last)) fail_msg("%s turns back at %a: %a after %a", name, x, now, last);
    last = now;
  }
}

/* Newton's method on a law with exp, and a search over log, need curves that do not turn back; above all where one
 * piece of a function meets the next. */
static void curves_do_not_turn_back(void **state) {
  (void)state;
  enum { STRETCH = 2000 };
  uint64_t random = 3;
  for (int k = 0; k < 200; k++) {
    double half = (k - 100 + 0.5) * 0x1.62e42fefa39efp-1; /* where the exponent changes */
    rises("exp", tv_exp, half - 1000 * 0x1p-46, STRETCH, 1);
    rises("expm1", tv_expm1, half - 1000 * 0x1p-46, STRETCH, 1);
    double any = 20 * elementary_even(&random), power = ldexp(0x1.6a09e667f3bcdp-1, k - 100);
    rises("exp", tv_exp, any, STRETCH, 1);
    rises("expm1", tv_expm1, any, STRETCH, 1);
    rises("log", tv_log, power * (1 - 1000 * 0x1p-53), STRETCH, 1);
    rises("log", tv_log, fabs(any), STRETCH, 1);
    rises("asin", tv_asin, any / 20 * 0.99, STRETCH, 1);
  }
  rises("log", tv_log, 1 - 1000 * 0x1p-53, STRETCH, 1);
  rises("asin", tv_asin, 0.5 - 1000 * 0x1p-54, STRETCH, 1);
  rises("cos", tv_cos, 0.7853, 20000, -1);
}

#if defined(__x86_64__) && defined(__GNUC__)
__attribute__((target("avx2,fma"))) static uint64_t bits_in_wide_vectors(void) {
  return elementary_bits();
}
static int wide_vectors(void) {
  return __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma");
}
#else
static uint64_t bits_in_wide_vectors(void) {
  return elementary_bits();
}
static int wide_vectors(void) {
  return 0;
}
#endif

/* One at a time through a pointer that the compiler cannot see through. */
static uint64_t bits_one_by_one(void) {
  uint64_t (*volatile call)(void) = elementary_bits;
  return call();
}

static void bits_are_the_same_everywhere(void **state) {
  (void)state;
  uint64_t seen = bits_one_by_one();
  printf("bits %016" PRIx64 "\n", seen);
  assert_int_equal(seen, ELEMENTARY_BITS);
  if (wide_vectors()) assert_int_equal(bits_in_wide_vectors(), ELEMENTARY_BITS);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(errors_are_within_the_stated_bounds),
      cmocka_unit_test(powers_are_within_the_stated_bound), cmocka_unit_test(ends_and_exact_values),
      cmocka_unit_test(curves_do_not_turn_back), cmocka_unit_test(bits_are_the_same_everywhere)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
