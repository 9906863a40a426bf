/* Lines of a text file: line ends, marks, comments, lengths. */
#include "input/lines.h"

#include <string.h>

#include "support/assert_near.h"

static void check(const char *text, const char *const *wanted, const int *numbers, int count) {
  struct tv_lines lines;
  assert_int_equal(tv_lines_copy(text, &lines), TAILVOLT_OK);
  char line[TV_LINE_LONGEST + 1];
  const char *problem = NULL;
  for (int k = 0; k < count; k++) {
    assert_true(tv_lines_next(&lines, line, &problem));
    assert_null(problem);
    assert_string_equal(line, wanted[k]);
    assert_int_equal(lines.number, numbers[k]);
  }
  assert_false(tv_lines_next(&lines, line, &problem));
  tv_lines_free(&lines);
}

static void comments_and_indentation(void **state) {
  (void)state;
  const char *wanted[] = {"[a b]", "key = x#y;z", "k = 1", "last"};
  const int numbers[] = {2, 4, 5, 7};
  check("# top\n[a b]   ; why\n\n   key = x#y;z  # tail ; more\n\tk = 1\t;c\n ; all comment\nlast", wanted,
        numbers, 4);
}

static void line_ends(void **state) {
  (void)state;
  const char *wanted[] = {"a", "b", "c", "d"};
  const int numbers[] = {1, 2, 4, 6};
  check("\xEF\xBB\xBF"
        "a\r\nb\n\nc\r\r\nd\r",
        wanted, (const int[]){1, 2, 4, 6}, 4);
  check("a\nb\n\nc\n\nd\n", wanted, numbers, 4);
  check("", wanted, numbers, 0);
}

static void longest(void **state) {
  (void)state;
  char text[TV_LINE_LONGEST + 40];
  for (int over = 0; over < 2; over++) {
    memset(text, 'x', sizeof text);
    strcpy(text + TV_LINE_LONGEST + over, "   # a comment does not count\n");
    struct tv_lines lines;
    assert_int_equal(tv_lines_copy(text, &lines), TAILVOLT_OK);
    char line[TV_LINE_LONGEST + 1];
    const char *problem = NULL;
    assert_true(tv_lines_next(&lines, line, &problem));
    assert_int_equal(strlen(line), TV_LINE_LONGEST);
    if (over == 0)
      assert_null(problem);
    else
      assert_string_equal(problem, "is longer than 198 characters");
    tv_lines_free(&lines);
  }
}

static void text_problems(void **state) {
  (void)state;
  static const char *const good[] = {"plain",        "tab\there",        "caf\xC3\xA9",
                                     "\xE2\x82\xAC", "\xF0\x9F\x8E\xAD", ""};
  static const char *const bad[] = {"\x01",
                                    "\x7F",
                                    "\x1B[31m",
                                    "\xE9",
                                    "\xC3",
                                    "\xC0\xAF",
                                    "\xE0\x80\xAF",
                                    "\xED\xA0\x80",
                                    "\xF4\x90\x80\x80",
                                    "\xF8\x88\x80\x80\x80",
                                    "\x80",
                                    "\xE2\x28\xA1",
                                    "\xE2\x82\x28"};
  for (size_t k = 0; k < sizeof good / sizeof good[0]; k++)
    assert_null(tv_text_problem(good[k], strlen(good[k])));
  for (size_t k = 0; k < sizeof bad / sizeof bad[0]; k++)
    assert_non_null(tv_text_problem(bad[k], strlen(bad[k])));
}

static void whole_files(void **state) {
  (void)state;
  struct tv_lines lines = {.text = (char[]){'a', '\0', 'b', '\0'}, .length = 3};
  assert_string_equal(tv_lines_unreadable(&lines), "holds a NUL byte: not a text file");
  lines = (struct tv_lines){.text = (char[]){'\xFE', '\xFF', '\0'}, .length = 2};
  assert_string_equal(tv_lines_unreadable(&lines), "UTF-16 text; save it as UTF-8");
  lines = (struct tv_lines){.text = (char[]){'a', '\0'}, .length = 1};
  assert_null(tv_lines_unreadable(&lines));
  const char *why = NULL;
  assert_int_equal(tv_lines_read("/nonexistent", &lines, &why), TAILVOLT_NOT_READABLE);
  assert_non_null(why);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(comments_and_indentation), cmocka_unit_test(line_ends),
                                     cmocka_unit_test(longest), cmocka_unit_test(text_problems),
                                     cmocka_unit_test(whole_files)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
