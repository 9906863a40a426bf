/* Text copied into a fixed room: cut, never overrun, never inside a character. */
#include <string.h>

#include "text/text.h"
#include "support/assert_near.h"

static void cut_at_whole_characters(void **state) {
  (void)state;
  static const struct {
    const char *from;
    size_t size;
    const char *to;
  } cases[] = {
      {"fuse", 8, "fuse"},        {"fuse", 5, "fuse"},         {"fuse", 4, "fus"}, {"fuse", 1, ""},
      {NULL, 8, ""},              {"", 8, ""},                 {"5 m\xCE\xA9", 6, "5 m\xCE\xA9"},
      {"5 m\xCE\xA9", 5, "5 m"},  {"1\xE2\x82\xAC", 4, "1"},   {"1\xE2\x82\xAC", 3, "1"},
      {"\xE2\x82\xAC", 3, ""},
  };
  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
    char room[16];
    memset(room, '#', sizeof room);
    tv_copy_text(room, cases[k].size, cases[k].from);
    assert_string_equal(room, cases[k].to);
    for (size_t i = cases[k].size; i < sizeof room; i++) assert_int_equal(room[i], '#');
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(cut_at_whole_characters)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
