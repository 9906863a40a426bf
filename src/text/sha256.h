/* SHA-256 as the Secure Hash Standard describes it (FIPS 180-4, sections 4.1.2, 4.2.2, 5.1.1, 5.3.3 and 6.2). */
#ifndef TV_TEXT_SHA256_H
#define TV_TEXT_SHA256_H

#include <stddef.h>
#include <stdint.h>

enum { TV_SHA256_BYTES = 32, TV_SHA256_HEX = 65 /* its digits and a zero */ };

struct tv_sha256 {
  uint32_t state[8];
  uint64_t bytes;         /* taken so far */
  unsigned char block[64]; /* what of them fills no block yet */
};

void tv_sha256_begin(struct tv_sha256 *hash);
void tv_sha256_add(struct tv_sha256 *hash, const void *bytes, size_t count);
/* In lower-case hexadecimal. */
void tv_sha256_end(struct tv_sha256 *hash, char hex[TV_SHA256_HEX]);

#endif
