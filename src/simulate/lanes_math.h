/* A number as wide as TV_LANES and its operations: the same sums in every lane, selections instead of branches. */
#ifndef TV_SIMULATE_LANES_MATH_H
#define TV_SIMULATE_LANES_MATH_H

#include <math.h>
#include <stdbool.h>

/* numbers are passed between functions that are all inlined */
#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC diagnostic ignored "-Wpsabi"
#endif

#ifdef __AVX2__
#include <immintrin.h>
#endif
#ifdef __SSE2__
#include <emmintrin.h>
#endif

#define TV_INLINE static inline __attribute__((always_inline))

/* this many rows of a one-lane matrix together */
typedef double four __attribute__((vector_size(32)));

#if TV_LANES == 1

typedef double number;
typedef int choice;
TV_INLINE number of(double x) { return x; }
TV_INLINE number pick(choice c, number a, number b) { return c ? a : b; }
TV_INLINE bool any(choice c) { return c != 0; }
TV_INLINE bool in_lane(choice c, int lane) { return (void)lane, c != 0; }
TV_INLINE double lane_of(number x, int lane) { return (void)lane, x; }
TV_INLINE void set_lane(number *x, int lane, double value) { (void)lane, *x = value; }
TV_INLINE choice both(choice a, choice b) { return a & b; }
TV_INLINE choice either(choice a, choice b) { return a | b; }
TV_INLINE choice no(choice a) { return !a; }
TV_INLINE choice never(void) { return 0; }
TV_INLINE number root(number x) { return sqrt(x); }

#else

typedef double number __attribute__((vector_size(8 * TV_LANES)));
typedef long long choice __attribute__((vector_size(8 * TV_LANES)));
TV_INLINE number of(double x) {
  return (number){0} + x;
}
#if defined(__AVX2__) && TV_LANES == 4
TV_INLINE number pick(choice c, number a, number b) {
  return (number)_mm256_blendv_pd((__m256d)b, (__m256d)a, (__m256d)c);
}
#else
TV_INLINE number pick(choice c, number a, number b) { return (number)(((choice)a & c) | ((choice)b & ~c)); }
#endif
TV_INLINE bool in_lane(choice c, int lane) { return c[lane] != 0; }
TV_INLINE double lane_of(number x, int lane) { return x[lane]; }
TV_INLINE void set_lane(number *x, int lane, double value) { (*x)[lane] = value; }
TV_INLINE choice both(choice a, choice b) { return a & b; }
TV_INLINE choice either(choice a, choice b) { return a | b; }
TV_INLINE choice no(choice a) { return ~a; }
TV_INLINE choice never(void) { return (choice)of(0); }

#if defined(__AVX2__) && TV_LANES == 4
TV_INLINE bool any(choice c) { return _mm256_movemask_pd((__m256d)c) != 0; }
TV_INLINE number root(number x) { return (number)_mm256_sqrt_pd((__m256d)x); }
#elif defined(__AVX2__) && TV_LANES == 8
union halves { number whole; choice asked; __m256d half[2]; };
TV_INLINE bool any(choice c) {
  union halves h = {.asked = c};
  return _mm256_movemask_pd(_mm256_or_pd(h.half[0], h.half[1])) != 0;
}
TV_INLINE number root(number x) {
  union halves h = {.whole = x};
  h.half[0] = _mm256_sqrt_pd(h.half[0]);
  h.half[1] = _mm256_sqrt_pd(h.half[1]);
  return h.whole;
}
#elif defined(__SSE2__) && TV_LANES == 2
TV_INLINE bool any(choice c) { return _mm_movemask_pd((__m128d)c) != 0; }
TV_INLINE number root(number x) { return (number)_mm_sqrt_pd((__m128d)x); }
#else
TV_INLINE bool any(choice c) {
  long long seen = 0;
  for (int l = 0; l < TV_LANES; l++) seen |= c[l];
  return seen != 0;
}
TV_INLINE number root(number x) {
  number r;
  for (int l = 0; l < TV_LANES; l++) r[l] = sqrt(x[l]);
  return r;
}
#endif
#endif

/* the processor's own min and max return the second operand where neither is less, as these do */
#if defined(__AVX2__) && TV_LANES == 4
TV_INLINE number least(number a, number b) { return (number)_mm256_min_pd((__m256d)a, (__m256d)b); }
TV_INLINE number most(number a, number b) { return (number)_mm256_max_pd((__m256d)a, (__m256d)b); }
TV_INLINE number size_of(number a) { return (number)_mm256_andnot_pd(_mm256_set1_pd(-0.0), (__m256d)a); }
#else
TV_INLINE number least(number a, number b) { return pick(a < b, a, b); }
TV_INLINE number most(number a, number b) { return pick(a > b, a, b); }
#if TV_LANES == 1
TV_INLINE number size_of(number a) { return fabs(a); }
#else
/* not by -0.0: of() adds to zero, which loses its sign */
TV_INLINE number size_of(number a) { return (number)((choice)a & 0x7fffffffffffffffLL); }
#endif
#endif

#endif
