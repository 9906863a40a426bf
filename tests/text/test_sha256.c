/* SHA-256 against the examples of the standard: FIPS 180-2, appendix B.1 to B.3 (the first two also in NIST's "Examples with
 * intermediate values", SHA256.pdf), and the message of no length of NIST's SHAVS (SHA256ShortMsg.rsp). */
#include <stdio.h>
#include <string.h>

#include "text/sha256.h"
#include "support/assert_near.h"

static const char million_a[] = "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0";

static void published_examples(void **state) {
  (void)state;
  static const struct { const char *message, *hash; } examples[] = {
      {"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
      {"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
      {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
       "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"}};
  for (size_t k = 0; k < sizeof examples / sizeof *examples; k++) {
    struct tv_sha256 hash;
    char hex[TV_SHA256_HEX];
    tv_sha256_begin(&hash);
    tv_sha256_add(&hash, examples[k].message, strlen(examples[k].message));
    tv_sha256_end(&hash, hex);
    assert_string_equal(hex, examples[k].hash);
  }
}

/* A million times the letter a, in pieces of every length up to some blocks: how it is cut makes no difference. */
static void long_message_in_pieces(void **state) {
  (void)state;
  char piece[200], hex[TV_SHA256_HEX];
  memset(piece, 'a', sizeof piece);
  for (size_t first = 1; first <= sizeof piece; first += 33) {
    struct tv_sha256 hash;
    size_t done = 0, length = first;
    tv_sha256_begin(&hash);
    while (done < 1000000) {
      size_t count = length < 1000000 - done ? length : 1000000 - done;
      tv_sha256_add(&hash, piece, count);
      done += count;
      length = length % sizeof piece + 1;
    }
    tv_sha256_end(&hash, hex);
    assert_string_equal(hex, million_a);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(published_examples), cmocka_unit_test(long_message_in_pieces)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
