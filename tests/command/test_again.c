/* Reports that were made by hand: what they say they were made from has the SHA-256 that belongs to it, and still is no job. Each is
 * refused in its own words, with exit code 2. */
#include "support/assert_near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "report/json_read.h"
#include "report/made_from.h"

#define CAR(name) "{\"use\": \"system\", \"name\": \"" name "\", \"bytes\": 0, \"sha256\": " \
                  "\"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855\", \"text\": \"\"}"
#define JOB(command) "\"tailvolt\": \"0.1.0\", \"command\": \"" command "\""

/* A report that holds these members of "made_from", in `path`. */
static void write_report(const char *path, const char *members) {
  char sha256[TV_SHA256_HEX], problem[TAILVOLT_TEXT_MAX], text[4096];
  snprintf(text, sizeof text, "{%s}", members);
  json_t *object = tv_json_read(text, strlen(text), problem);
  if (object == NULL) fail_msg("%s: %s", members, problem);
  assert_true(tv_made_hash(object, sha256));
  assert_int_equal(json_object_set_new(object, "sha256", json_string(sha256)), 0);
  json_t *root = json_pack("{so}", "made_from", object);
  assert_int_equal(json_dump_file(root, path, 0), 0);
  json_decref(root);
}

static void what_is_no_job_is_refused(void **state) {
  (void)state;
  static const struct {
    const char *command, *members, *says;
  } cases[] = {
      {"simulate", JOB("simulate") ", \"files\": []", "holds no system file"},
      {"simulate", JOB("simulate") ", \"files\": [" CAR("a.ini") ", " CAR("b.ini") "]", "holds more than one system file"},
      {"simulate", JOB("simulate") ", \"files\": [" CAR("a.ini") "], \"options\": [\"--isothermal=3\"]",
       "holds the option --isothermal with a value"},
      {"simulate", JOB("simulate") ", \"files\": [" CAR("a.ini") "], \"options\": [\"--seed\"]", "holds the option --seed without a value"},
      {"simulate", JOB("simulate") ", \"files\": [" CAR("a.ini") "], \"options\": [\"--output=out.csv\"]",
       "holds the option --output, which no report does"},
      {"simulate", JOB("simulate") ", \"files\": [" CAR("a.ini") "], \"options\": [\"--record=out.csv\"]",
       "holds the option --record, which no report does"},
      {"remedy", JOB("remedy") ", \"files\": [" CAR("a.ini") "], \"options\": [\"--prices=own.csv\"]",
       "does not say what --prices own.csv was"},
      {"report", JOB("report") ", \"files\": [" CAR("a.ini") "], \"options\": [\"--compare=b.ini\"]",
       "does not say what --compare b.ini was"},
      {"simulate",
       JOB("simulate") ", \"files\": [" CAR("a.ini") ", {\"use\": \"profile\", \"name\": \"-\", \"bytes\": null, \"sha256\": null}]",
       "does not say what - held: it was a pipe, or decoded by a browser"},
      {"vary", JOB("vary") ", \"files\": [" CAR("a.ini") "], \"keys\": [\"cable feed.size = 8 AWG\"]", "was made from no profile"}};
  char folder[] = "/tmp/tailvolt-again-XXXXXX", path[64], line[1024], said[2048];
  assert_non_null(mkdtemp(folder));
  snprintf(path, sizeof path, "%s/report.json", folder);
  for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
    write_report(path, cases[k].members);
    snprintf(line, sizeof line, "%s %s --from %s 2>&1", TAILVOLT_COMMAND, cases[k].command, path);
    FILE *pipe = popen(line, "r");
    assert_non_null(pipe);
    said[fread(said, 1, sizeof said - 1, pipe)] = '\0';
    int status = pclose(pipe);
    if (!WIFEXITED(status) || WEXITSTATUS(status) != 2 || strstr(said, cases[k].says) == NULL)
      fail_msg("%s: exit %d, %s", cases[k].members, WEXITSTATUS(status), said);
  }
  unlink(path);
  rmdir(folder);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(what_is_no_job_is_refused)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
