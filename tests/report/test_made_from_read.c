/* What a report says it was made from, in every form but the right one: each with the SHA-256 that belongs to it, so that nothing but its
 * form can be refused. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/json_read.h"
#include "report/json_write.h"
#include "report/made_from.h"

/* A file of three bytes, "abc", which a standard gives this hash. */
#define ABC "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
#define JOB "\"tailvolt\": \"0.1.0\", \"command\": \"simulate\""
#define CAR "{\"use\": \"system\", \"name\": \"car.ini\", \"bytes\": 3, \"sha256\": \"" ABC "\", \"text\": \"abc\"}"

/* Of the members of "made_from"; `made` is the caller's to free. */
static enum tailvolt_status read_members(const char *members, struct tv_made_from *made, char *error) {
  char sha256[TV_SHA256_HEX], problem[TAILVOLT_TEXT_MAX], *object_text = malloc(strlen(members) + 8);
  assert_non_null(object_text);
  sprintf(object_text, "{%s}", members);
  json_t *object = tv_json_read(object_text, strlen(object_text), problem);
  if (object == NULL) fail_msg("%s: %s", members, problem);
  assert_true(tv_made_hash(object, sha256));
  assert_int_equal(json_object_set_new(object, "sha256", json_string(sha256)), 0);
  json_t *root = json_pack("{so}", "made_from", object);
  char *text = json_dumps(root, 0);
  assert_non_null(text);
  enum tailvolt_status status = tv_made_read(text, strlen(text), made, error);
  json_decref(root);
  free(object_text);
  free(text);
  return status;
}

static void every_form_but_the_right_one_is_refused(void **state) {
  (void)state;
  static const char *const wrong[] = {
      "\"command\": \"simulate\", \"files\": []",
      "\"tailvolt\": 1, \"command\": \"simulate\", \"files\": []",
      "\"tailvolt\": \"0.1.0\", \"files\": []",
      "\"tailvolt\": \"a version of more characters than any has\", \"command\": \"simulate\", \"files\": []",
      "\"tailvolt\": \"0.1.0\", \"command\": \"a command of more characters than any has\", \"files\": []",
      JOB,
      JOB ", \"files\": 3",
      JOB ", \"files\": [3]",
      JOB ", \"files\": [], \"options\": \"--seed=3\"",
      JOB ", \"files\": [], \"options\": [3]",
      JOB ", \"files\": [], \"options\": [\"seed=3\"]",
      JOB ", \"files\": [], \"options\": [\"--\"]",
      JOB ", \"files\": [], \"options\": [\"--an-option-whose-name-has-more-characters-than-that-of-any-command-has=3\"]",
      JOB ", \"files\": [], \"keys\": {}",
      JOB ", \"files\": [], \"keys\": [null]",
      JOB ", \"files\": [], \"state_hashes\": \"0123456789abcdef\"",
      JOB ", \"files\": [], \"state_hashes\": [1]",
      JOB ", \"files\": [], \"state_hashes\": [\"0123456789abcde\"]",
      JOB ", \"files\": [], \"state_hashes\": [\"0123456789abcdeF\"]",
      /* files: what for, what called, and its bytes */
      JOB ", \"files\": [{\"name\": \"car.ini\", \"bytes\": null, \"sha256\": null}]",
      JOB ", \"files\": [{\"use\": \"system\", \"bytes\": null, \"sha256\": null}]",
      JOB ", \"files\": [{\"use\": \"system\", \"name\": \"\", \"bytes\": null, \"sha256\": null}]",
      JOB ", \"files\": [{\"use\": \"letter\", \"name\": \"car.ini\", \"bytes\": null, \"sha256\": null}]",
      JOB ", \"files\": [{\"use\": \"system\", \"name\": \"car.ini\"}]",
      JOB ", \"files\": [{\"use\": \"system\", \"name\": \"car.ini\", \"bytes\": 3, \"sha256\": null}]",
      JOB ", \"files\": [{\"use\": \"system\", \"name\": \"car.ini\", \"bytes\": null, \"sha256\": \"" ABC "\"}]",
      JOB ", \"files\": [{\"use\": \"system\", \"name\": \"car.ini\", \"bytes\": -3, \"sha256\": \"" ABC "\"}]",
      JOB ", \"files\": [{\"use\": \"system\", \"name\": \"car.ini\", \"bytes\": 3.0, \"sha256\": \"" ABC "\"}]",
      JOB ", \"files\": [{\"use\": \"system\", \"name\": \"car.ini\", \"bytes\": 3, \"sha256\": \"ba78\"}]",
      /* a text that is kept is the one of that length and hash */
      JOB ", \"files\": [{\"use\": \"system\", \"name\": \"car.ini\", \"bytes\": 3, \"sha256\": \"" ABC "\", \"text\": 3}]",
      JOB ", \"files\": [{\"use\": \"system\", \"name\": \"car.ini\", \"bytes\": 3, \"sha256\": \"" ABC "\", \"text\": \"abd\"}]",
      JOB ", \"files\": [{\"use\": \"system\", \"name\": \"car.ini\", \"bytes\": 4, \"sha256\": \"" ABC "\", \"text\": \"abc\"}]",
      JOB ", \"files\": [{\"use\": \"system\", \"name\": \"car.ini\", \"bytes\": 3, \"sha256\": \"" ABC "\", \"text\": \"abc\", "
          "\"latin1\": \"abc\"}]",
      JOB ", \"files\": [{\"use\": \"system\", \"name\": \"car.ini\", \"bytes\": 3, \"sha256\": \"" ABC "\", "
          "\"latin1\": \"\xe2\x82\xac\"}]",
      /* nothing twice, in text or by name */
      JOB ", \"files\": [" CAR ", " CAR "]",
      JOB ", \"files\": [" CAR ", {\"use\": \"system\", \"name\": \"car.ini\", \"bytes\": null, \"sha256\": null}]"};
  for (size_t k = 0; k < sizeof wrong / sizeof *wrong; k++) {
    struct tv_made_from made;
    char error[TAILVOLT_TEXT_MAX];
    enum tailvolt_status status = read_members(wrong[k], &made, error);
    if (status != TAILVOLT_BAD_INPUT || strstr(error, "in a form that is not known here") == NULL)
      fail_msg("%s: %s, %s", wrong[k], tailvolt_status_text(status), error);
    tv_made_free(&made);
  }
}

/* More than any job has are not read. */
static void lists_have_an_end(void **state) {
  (void)state;
  static const char *const lists[] = {"options", "keys", "files", "state_hashes"},
                           *const entries[] = {"\"--set=a\"", "\"a\"", "3", "\"0123456789abcdef\""};
  for (int k = 0; k < 4; k++)
    for (int count = 1000; count <= 1001; count++) {
      struct tv_made_from made;
      char error[TAILVOLT_TEXT_MAX], *text = malloc(32768);
      assert_non_null(text);
      size_t length = (size_t)sprintf(text, JOB "%s, \"%s\": [", k != 2 ? ", \"files\": []" : "", lists[k]);
      for (int n = 0; n < count; n++) length += (size_t)sprintf(text + length, "%s%s", n > 0 ? ", " : "", entries[k]);
      memcpy(text + length, "]", 2);
      bool read = read_members(text, &made, error) == TAILVOLT_OK;
      assert_int_equal(read, count == 1000 && k != 2);
      if (read) assert_int_equal(made.option_count + made.key_count + made.run_count, 1000);
      tv_made_free(&made);
      free(text);
    }
}

static void the_right_one_is_read(void **state) {
  (void)state;
  struct tv_made_from made;
  char error[TAILVOLT_TEXT_MAX];
  assert_int_equal(read_members(JOB ", \"options\": [\"--seed=3\", \"--isothermal\"], \"keys\": [\"cable feed.size = 8 AWG\"], "
                                    "\"files\": [" CAR ", {\"use\": \"--prices\", \"name\": \"own.csv\", \"bytes\": 7, \"sha256\": \"" ABC
                                    "\"}, {\"use\": \"profile\", \"name\": \"-\", \"bytes\": null, \"sha256\": null}, "
                                    "{\"use\": \"programme club.style\", \"name\": \"old.ini\", \"bytes\": 1, \"sha256\": "
                                    "\"de2e331d891ae267a7009cb45b4e8830f170e0c937288ea2731a1941c7a53b0d\", \"latin1\": \"\xc3\xa9\"}], "
                                    "\"state_hashes\": [\"0123456789abcdef\"]",
                                &made, error),
                   TAILVOLT_OK);
  assert_int_equal(made.option_count, 2);
  assert_string_equal(made.options[1], "--isothermal");
  assert_string_equal(made.keys[0], "cable feed.size = 8 AWG");
  assert_int_equal(made.file_count, 4);
  assert_string_equal(made.files[0].text, "abc");
  assert_null(made.files[1].text);
  assert_int_equal(made.files[1].bytes, 7);
  assert_string_equal(made.files[1].sha256, ABC);
  assert_string_equal(made.files[2].sha256, "");
  assert_string_equal(made.files[3].text, "\xe9");
  assert_string_equal(made.state_hashes[0], "0123456789abcdef");
  assert_true(made.report_changed); /* nothing says what the rest was */
  tv_made_free(&made);
}

/* Before the object is looked at: what holds none, or one that was changed. */
static void what_holds_no_job_is_refused(void **state) {
  (void)state;
  static const struct {
    const char *text, *why;
  } wrong[] = {{"", "neither HTML nor JSON"},
               {"hello", "neither HTML nor JSON"},
               {"\xef\xbb\xbf hello", "neither HTML nor JSON"},
               {"<p>page</p>", "does not say what it was made from"},
               {"<script type=\"application/json\" id=\"made-from\">{}", "does not end"},
               {"<script type=\"application/json\" id=\"made-from\">{</script>", "damaged or cut short"},
               {"<script type=\"application/json\" id=\"made-from\">{}</script>"
                "<script type=\"application/json\" id=\"made-from\">{}</script>",
                "says twice"},
               {"<script type=\"application/json\" id=\"made-from\">[]</script>", "not as tailvolt wrote it"},
               {"{\"made_from\": ", "damaged or cut short"},
               {"{\"verdict\": {}}", "did not yet write"},
               {"{\"made_from\": 3}", "not as tailvolt wrote it"},
               {"\xef\xbb\xbf\n{\"made_from\": {" JOB ", \"files\": []}}", "was changed after it was made"}};
  for (size_t k = 0; k < sizeof wrong / sizeof *wrong; k++) {
    struct tv_made_from made;
    char error[TAILVOLT_TEXT_MAX];
    enum tailvolt_status status = tv_made_read(wrong[k].text, strlen(wrong[k].text), &made, error);
    if (status != TAILVOLT_BAD_INPUT || strstr(error, wrong[k].why) == NULL)
      fail_msg("%s: %s, %s", wrong[k].text, tailvolt_status_text(status), error);
    tv_made_free(&made);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(every_form_but_the_right_one_is_refused), cmocka_unit_test(lists_have_an_end),
                                     cmocka_unit_test(the_right_one_is_read), cmocka_unit_test(what_holds_no_job_is_refused)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
