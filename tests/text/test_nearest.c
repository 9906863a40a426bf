/* The word that a message offers in place of an unknown one. */
#include "support/assert_near.h"
#include "text/nearest.h"

static const char *const keys[] = {"rated power", "cut out", "rms power", "supply from", "power factor"};

static void expect(const char *word, const char *wanted) {
  const char *found = tv_nearest_word(word, keys, sizeof keys / sizeof keys[0]);
  if (wanted == NULL)
    assert_null(found);
  else
    assert_string_equal(found, wanted);
}

static void misspelt(void **state) {
  (void)state;
  expect("rated pwoer", "rated power");
  expect("Cut Out", "cut out");
  expect("loudness", NULL);
  expect("", NULL);
}

static void part_of_several_words(void **state) {
  (void)state;
  expect("power", "rated power"); /* the first that ends or begins with it */
  expect("Supply", "supply from");
  expect("from", "supply from");
  expect("out", NULL); /* too short to mean one */
  expect("owner", NULL);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(misspelt), cmocka_unit_test(part_of_several_words)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
