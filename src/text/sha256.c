#include "text/sha256.h"

#include <string.h>

/* Section 4.2.2: the first 32 bits of the fractional parts of the cube roots of the first 64 primes. */
static const uint32_t constant[64] = {
    0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5, 0xd807aa98, 0x12835b01, 0x243185be,
    0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174, 0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa,
    0x5cb0a9dc, 0x76f988da, 0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967, 0x27b70a85,
    0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85, 0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3,
    0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070, 0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f,
    0x682e6ff3, 0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2};

static uint32_t rotate(uint32_t x, int right) { return x >> right | x << (32 - right); }

/* Section 6.2.2, with the functions of 4.1.2. */
static void take_block(uint32_t state[8], const unsigned char *block) {
  uint32_t w[64];
  for (int t = 0; t < 16; t++)
    w[t] = (uint32_t)block[4 * t] << 24 | (uint32_t)block[4 * t + 1] << 16 | (uint32_t)block[4 * t + 2] << 8 | block[4 * t + 3];
  for (int t = 16; t < 64; t++) {
    uint32_t near = w[t - 2], far = w[t - 15];
    w[t] = (rotate(near, 17) ^ rotate(near, 19) ^ near >> 10) + w[t - 7] + (rotate(far, 7) ^ rotate(far, 18) ^ far >> 3) + w[t - 16];
  }
  uint32_t a = state[0], b = state[1], c = state[2], d = state[3], e = state[4], f = state[5], g = state[6], h = state[7];
  for (int t = 0; t < 64; t++) {
    uint32_t first = h + (rotate(e, 6) ^ rotate(e, 11) ^ rotate(e, 25)) + ((e & f) ^ (~e & g)) + constant[t] + w[t];
    uint32_t second = (rotate(a, 2) ^ rotate(a, 13) ^ rotate(a, 22)) + ((a & b) ^ (a & c) ^ (b & c));
    h = g;
    g = f;
    f = e;
    e = d + first;
    d = c;
    c = b;
    b = a;
    a = first + second;
  }
  const uint32_t after[8] = {a, b, c, d, e, f, g, h};
  for (int k = 0; k < 8; k++) state[k] += after[k];
}

void tv_sha256_begin(struct tv_sha256 *hash) {
  /* section 5.3.3: the square roots of the first eight primes */
  static const uint32_t first[8] = {0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a, 0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19};
  memcpy(hash->state, first, sizeof first);
  hash->bytes = 0;
}

void tv_sha256_add(struct tv_sha256 *hash, const void *bytes, size_t count) {
  const unsigned char *from = bytes;
  size_t held = hash->bytes % sizeof hash->block;
  hash->bytes += count;
  while (count > 0) {
    if (held == 0 && count >= sizeof hash->block) {
      take_block(hash->state, from);
      from += sizeof hash->block;
      count -= sizeof hash->block;
      continue;
    }
    size_t more = sizeof hash->block - held < count ? sizeof hash->block - held : count;
    memcpy(hash->block + held, from, more);
    held += more;
    from += more;
    count -= more;
    if (held < sizeof hash->block) break;
    take_block(hash->state, hash->block);
    held = 0;
  }
}

void tv_sha256_end(struct tv_sha256 *hash, char hex[TV_SHA256_HEX]) {
  static const char digits[] = "0123456789abcdef";
  uint64_t bits = 8 * hash->bytes;
  size_t held = hash->bytes % sizeof hash->block;
  /* section 5.1.1: a one, zeros, and the length in bits as the last eight bytes of a block */
  unsigned char end[2 * sizeof hash->block] = {0x80};
  size_t zeros = held < 56 ? 56 - held : 120 - held;
  for (int k = 0; k < 8; k++) end[zeros + (size_t)k] = (unsigned char)(bits >> (56 - 8 * k));
  tv_sha256_add(hash, end, zeros + 8);
  for (int k = 0; k < 8; k++)
    for (int d = 0; d < 8; d++) hex[8 * k + d] = digits[hash->state[k] >> (28 - 4 * d) & 15];
  hex[64] = '\0';
}
