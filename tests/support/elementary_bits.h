/* One number for the bits of many results of the elementary functions: the same at every optimization level, on
 * every processor, in vectors and in WebAssembly. */
#ifndef TAILVOLT_TEST_ELEMENTARY_BITS_H
#define TAILVOLT_TEST_ELEMENTARY_BITS_H

#include "parts/elementary.h"

#define ELEMENTARY_BITS UINT64_C(0x149f2e04a101c9fc)
enum { ELEMENTARY_BLOCK = 64, ELEMENTARY_BLOCKS = 2000 };

/* splitmix64 (Steele, Lea & Flood, OOPSLA 2014) */
static inline uint64_t elementary_random(uint64_t *state) {
  uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);
  z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
  z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
  return z ^ (z >> 31);
}

/* Evenly from -1 to 1, exactly. */
static inline double elementary_even(uint64_t *state) {
  return (double)(int64_t)(elementary_random(state) >> 10) * 0x1p-53 - 1.0;
}

/* Any sign, exponents evenly from -spread to spread. */
static inline double elementary_wide(uint64_t *state, unsigned spread) {
  uint64_t bits = elementary_random(state);
  uint64_t exponent = 1023 - spread + (bits >> 52) % (2 * spread + 1);
  return tv_with_sign(tv_from_bits((bits & UINT64_C(0xfffffffffffff)) | exponent << 52),
                      (bits >> 51) & 1 ? -1.0 : 1.0);
}

/* Plain loops that compilers turn into vectors. */
static inline __attribute__((always_inline)) void elementary_block(double x[4][ELEMENTARY_BLOCK],
                                                                   double y[10][ELEMENTARY_BLOCK]) {
  for (int k = 0; k < ELEMENTARY_BLOCK; k++) y[0][k] = tv_exp(700 * x[0][k]);
  for (int k = 0; k < ELEMENTARY_BLOCK; k++) y[1][k] = tv_expm1(x[1][k]);
  for (int k = 0; k < ELEMENTARY_BLOCK; k++) y[2][k] = tv_log(fabs(x[2][k]));
  for (int k = 0; k < ELEMENTARY_BLOCK; k++) y[3][k] = tv_log1p(x[0][k]);
  for (int k = 0; k < ELEMENTARY_BLOCK; k++) y[4][k] = tv_log10(fabs(x[1][k]));
  for (int k = 0; k < ELEMENTARY_BLOCK; k++) y[5][k] = tv_pow(fabs(x[1][k]), 8 * x[0][k]);
  for (int k = 0; k < ELEMENTARY_BLOCK; k++) y[6][k] = tv_sin(1e4 * x[1][k]);
  for (int k = 0; k < ELEMENTARY_BLOCK; k++) y[7][k] = tv_cos(x[3][k]);
  for (int k = 0; k < ELEMENTARY_BLOCK; k++) y[8][k] = tv_asin(x[0][k]);
  for (int k = 0; k < ELEMENTARY_BLOCK; k++) y[9][k] = tv_asinh(x[1][k]);
}

static inline __attribute__((always_inline)) uint64_t elementary_bits(void) {
  uint64_t state = 1, hash = UINT64_C(0xcbf29ce484222325);
  for (int block = 0; block < ELEMENTARY_BLOCKS; block++) {
    double x[4][ELEMENTARY_BLOCK], y[10][ELEMENTARY_BLOCK];
    for (int k = 0; k < ELEMENTARY_BLOCK; k++) {
      x[0][k] = elementary_even(&state);
      x[1][k] = elementary_wide(&state, 20);
      x[2][k] = elementary_wide(&state, 1022);
      x[3][k] = 3.2e9 * elementary_even(&state);
    }
    elementary_block(x, y);
    for (int f = 0; f < 10; f++)
      for (int k = 0; k < ELEMENTARY_BLOCK; k++) {
        /* the choice of NaN is the processor's */
        uint64_t bits = y[f][k] == y[f][k] ? tv_bits(y[f][k]) : UINT64_C(0x7ff8000000000000);
        hash = (hash ^ bits) * UINT64_C(0x100000001b3);
        hash ^= hash >> 29;
      }
  }
  return hash;
}

#endif
