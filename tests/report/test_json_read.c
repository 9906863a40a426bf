/* The JSON reader: what it takes and refuses is what jansson takes and refuses, and the trees are the same. */
#include "support/assert_near.h"

#include <stdlib.h>
#include <string.h>

#include "report/json_read.h"
#include "tailvolt/status.h"

static bool agree(const char *text, size_t length) {
  char error[TAILVOLT_TEXT_MAX];
  json_error_t problem;
  /* a text of its own, so that a sanitizer sees what lies behind it being read */
  char *copy = malloc(length + 1);
  memcpy(copy, text, length);
  copy[length] = '\0';
  json_t *ours = tv_json_read(copy, length, error), *theirs = json_loadb(copy, length, JSON_REJECT_DUPLICATES, &problem);
  if ((ours == NULL) != (theirs == NULL)) fail_msg("`%s`: here %s, there %s", copy, ours != NULL ? "taken" : error,
                                                    theirs != NULL ? "taken" : problem.text);
  if (ours != NULL && !json_equal(ours, theirs)) fail_msg("`%s` is another tree", copy);
  assert_int_equal(ours == NULL, error[0] != '\0');
  bool taken = ours != NULL;
  json_decref(ours);
  json_decref(theirs);
  free(copy);
  return taken;
}

static void test_taken(void **state) {
  (void)state;
  static const char *const texts[] = {
      "{}", "[]", " \t\r\n[ ] ", "{\"a\": 1, \"b\" : [true,false , null],\"c\":{\"d\":{}}}",
      "[0,-0,7,-7,9223372036854775807,-9223372036854775808]",
      "[0.5,-0.0,1e3,1E+3,1.25e-7,123456789.123456789,1e308,1e-320,4.9406564584124654e-324,0.1,2.2250738585072011e-308]",
      "[\"\", \"a\\\"b\\\\c\\/d\\b\\f\\n\\r\\t\"]", "[\"\\u0041\\u00e9\\u20ac\\ud83d\\ude00\\uD83D\\uDE00\"]",
      "[\"caf\xc3\xa9 \xe2\x82\xac \xf0\x9f\x98\x80 \x7f\"]", "{\"\": \"empty name\", \"\\u0061b\": 1}", "[[[[[[[[[[]]]]]]]]]]"};
  for (size_t k = 0; k < sizeof texts / sizeof *texts; k++)
    if (!agree(texts[k], strlen(texts[k]))) fail_msg("`%s` is refused", texts[k]);
}

static void test_refused(void **state) {
  (void)state;
  static const char *const texts[] = {
      "", " ", "1", "\"a\"", "null", "{", "}", "[1,]", "[,]", "[1 2]", "{\"a\"}", "{\"a\":}", "{\"a\":1,}", "{a:1}",
      "{\"a\":1 \"b\":2}", "{\"a\":1,\"a\":2}", "{\"a\":1,\"\\u0061\":2}", "[]]", "[] x", "{} {}", "[tru]", "[nul]", "[True]",
      "[NaN]", "[Infinity]", "[+1]", "[01]", "[-]", "[1.]", "[.5]", "[1e]", "[1e+]", "[0x10]", "[9223372036854775808]",
      "[-9223372036854775809]", "[1e309]", "[\"]", "[\"a]", "[\"\\\"]", "[\"\\x\"]", "[\"\\u12\"]", "[\"\\u12g4\"]",
      "[\"\\u0000\"]", "[\"\\ud83d\"]", "[\"\\ud83dx\"]", "[\"\\ud83d\\u0041\"]", "[\"\\ude00\"]", "[\"a\nb\"]", "[\"a\tb\"]",
      "[\"\xff\"]", "[\"\xc3\"]", "[\"\xc0\x80\"]", "[\"\xe0\x80\x80\"]", "[\"\xed\xa0\x80\"]", "[\"\xf0\x80\x80\x80\"]",
      "[\"\xf4\x90\x80\x80\"]", "[\"\xe2\x82\"]", "[\xc3\xa9]", "[1]\x01", "\xef\xbb\xbf[]", "['a']", "[1;2]", "[\"\\", "[\"\\u",
      "[-"};
  for (size_t k = 0; k < sizeof texts / sizeof *texts; k++)
    if (agree(texts[k], strlen(texts[k]))) fail_msg("`%s` is taken", texts[k]);
  /* jansson passes over a zero */
  char error[TAILVOLT_TEXT_MAX];
  assert_null(tv_json_read("[1\0]", 4, error));
  assert_null(tv_json_read("[\"a\0b\"]", 7, error));
}

/* Cut anywhere, and with any byte replaced. */
static void test_damaged(void **state) {
  (void)state;
  static const char whole[] =
      "{\n  \"name\": \"a \\\"b\\\" \\u00e9\xc3\xa9\",\n  \"rows\": [1, -2.5e-3, true, null, {\"x\": []}],\n  \"last\": false\n}\n";
  static const char others[] = "\"\\{}[],:0x \n\xc3u-.e";
  for (size_t k = 0; k < sizeof whole - 1; k++) (void)agree(whole, k);
  for (size_t k = 0; k < sizeof whole - 1; k++)
    for (size_t o = 0; o < sizeof others - 1; o++) {
      char text[sizeof whole];
      memcpy(text, whole, sizeof whole);
      text[k] = others[o];
      (void)agree(text, sizeof whole - 1);
    }
}

static void test_said(void **state) {
  (void)state;
  char error[TAILVOLT_TEXT_MAX];
  static char deep[5000];
  assert_null(tv_json_read("{\n\"a\": 1\n\"b\": 2}", 16, error));
  assert_string_equal(error, "line 3: ',' or '}' is missing");
  memset(deep, '[', sizeof deep);
  assert_null(tv_json_read(deep, sizeof deep, error));
  assert_non_null(strstr(error, "nested too deep"));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_taken), cmocka_unit_test(test_refused), cmocka_unit_test(test_damaged),
                                     cmocka_unit_test(test_said)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
