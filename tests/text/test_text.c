/* Text copied into fixed room: cut, never overrun, never inside a character. */
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

static void appended_behind_what_stands(void **state) {
  (void)state;
  char room[12] = "feed";
  tv_append(room, sizeof room, " %d", 4);
  assert_string_equal(room, "feed 4");
  tv_append(room, sizeof room, " AWG copper");
  assert_string_equal(room, "feed 4 AWG ");
  tv_append(room, sizeof room, "more");
  assert_string_equal(room, "feed 4 AWG ");
}

static void blanks_squeezed(void **state) {
  (void)state;
  char room[16];
  tv_squeeze(room, sizeof room, " \t charge \n  lead ");
  assert_string_equal(room, "charge lead");
  tv_squeeze(room, 8, "charge lead");
  assert_string_equal(room, "charge");
  tv_squeeze(room, sizeof room, "   ");
  assert_string_equal(room, "");
}

static void places_before_texts(void **state) {
  (void)state;
  char room[32];
  tv_at_place(room, sizeof room, 12, 3, "no number");
  assert_string_equal(room, "12:3: no number");
  tv_at_place(room, sizeof room, 12, 0, "no number");
  assert_string_equal(room, "12: no number");
  tv_at_place(room, sizeof room, 0, 3, "no number");
  assert_string_equal(room, "no number");
}

/* Nothing that acts on a terminal gets through; letters of any writing do. */
static void test_seen(void **state) {
  (void)state;
  static const struct {
    const char *from, *to;
  } table[] = {{"plain", "plain"},
               {"B\xc3\xbchne \xe6\x97\xa5", "B\xc3\xbchne \xe6\x97\xa5"},
               {"a\tb\nc\x1b[31m\x7f", "a b?c?[31m?"},
               {"c1 \xc2\x9b then \xc2\xa0", "c1 ? then \xc2\xa0"},
               {"\xe2\x80\xae" "evil\xe2\x81\xa6.\xd8\x9c.\xe2\x80\x8f", "?evil?.?.?"},
               {"\xe2\x80\xa6", "\xe2\x80\xa6"}, /* an ellipsis is seen */
               {"\xff\xc3(\xed\xa0", "?\?(?\?"},
               {"\xc3", "?"}};
  char to[64];
  for (size_t k = 0; k < sizeof table / sizeof table[0]; k++) {
    tv_copy_seen(to, sizeof to, table[k].from);
    assert_string_equal(to, table[k].to);
  }
  tv_copy_seen(to, 4, "ab\xc3\xbc"); /* a letter that does not fit whole is left out */
  assert_string_equal(to, "ab");
}

/* As jansson has it: what is taken here is never refused there. */
static void well_formed(void **state) {
  (void)state;
  static const struct {
    const char *text;
    size_t length;
  } cases[] = {{"a", 1}, {"\x7f", 1}, {"\xc2\x80", 2}, {"\xe0\xa0\x80", 3}, {"\xed\x9f\xbf", 3}, {"\xee\x80\x80", 3},
               {"\xf0\x90\x80\x80", 4}, {"\xf4\x8f\xbf\xbf", 4}, {"\x80", 0}, {"\xc1\xbf", 0}, {"\xc2", 0}, {"\xe0\x9f\xbf", 0},
               {"\xed\xa0\x80", 0}, {"\xf0\x8f\xbf\xbf", 0}, {"\xf4\x90\x80\x80", 0}, {"\xf5\x80\x80\x80", 0}, {"\xe2\x82", 0}};
  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) assert_int_equal(tv_utf8_length(cases[k].text), cases[k].length);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_seen), cmocka_unit_test(cut_at_whole_characters),
                                     cmocka_unit_test(appended_behind_what_stands), cmocka_unit_test(blanks_squeezed),
                                     cmocka_unit_test(places_before_texts), cmocka_unit_test(well_formed)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
