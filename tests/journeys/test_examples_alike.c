/* Every example through every command: the same car gives the same lowest volts, verdict and balance wherever it is asked
 * for.
 *
 * One short profile for all, in long steps: what is compared is exact, so seconds of it are enough. The file that `remedy --write` leaves
 * is simulated too, and gives what `remedy` promised. */
#include <fcntl.h>
#include <glob.h>
#include <jansson.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "support/assert_near.h"

static char folder[] = "/tmp/tailvolt-alike-XXXXXX", profile[64], brief[64], remedied[64];

/* The command's output; the caller frees it. */
static char *ask(const char *format, ...) {
  char command[1024] = "'" TAILVOLT_COMMAND "' ";
  size_t length = strlen(command), room = 1 << 16, got = 0;
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(command + length, sizeof command - length, format, arguments);
  va_end(arguments);
  FILE *pipe = popen(command, "r");
  assert_non_null(pipe);
  char *text = malloc(room);
  assert_non_null(text);
  for (size_t n; (n = fread(text + got, 1, room - got - 1, pipe)) > 0;) {
    got += n;
    if (room - got < 2) {
      text = realloc(text, room *= 2);
      assert_non_null(text);
    }
  }
  text[got] = '\0';
  if (pclose(pipe) != 0) fail_msg("%s: fails", command);
  return text;
}

static json_t *ask_json(const char *arguments, const char *system, const char *rest) {
  char *text = ask("%s -f json '%s' %s", arguments, system, rest);
  json_error_t error;
  json_t *root = json_loads(text, 0, &error);
  if (root == NULL) fail_msg("%s of %s: %s", arguments, system, error.text);
  free(text);
  return root;
}

static const char *text_of(const json_t *object, const char *key) {
  const char *text = json_string_value(json_object_get(object, key));
  assert_non_null(text);
  return text;
}

static double number_of(const json_t *object, const char *key) {
  const json_t *value = json_object_get(object, key);
  return json_is_number(value) ? json_number_value(value) : (double)NAN;
}

static void same_number(const char *where, const json_t *a, const json_t *b, const char *key) {
  double left = number_of(a, key), right = number_of(b, key);
  if (left != right && !(isnan(left) && isnan(right)))
    fail_msg("%s: %s of %s is %.9g, elsewhere %.9g", where, key, text_of(a, "name"), left, right);
}

/* Lowest volts and balance, bit by bit: two lists of amplifiers, two of batteries. */
static void same_lists(const char *where, const json_t *a, const json_t *b) {
  const json_t *left = json_object_get(a, "amplifiers"), *right = json_object_get(b, "amplifiers");
  assert_true(json_array_size(left) > 0);
  assert_int_equal(json_array_size(left), json_array_size(right));
  for (size_t k = 0; k < json_array_size(left); k++) {
    same_number(where, json_array_get(left, k), json_array_get(right, k), "rest_v");
    same_number(where, json_array_get(left, k), json_array_get(right, k), "min_v");
    same_number(where, json_array_get(left, k), json_array_get(right, k), "low_1pct_v");
    same_number(where, json_array_get(left, k), json_array_get(right, k), "below_target_pct");
  }
  left = json_object_get(a, "batteries"), right = json_object_get(b, "batteries");
  assert_true(json_array_size(left) > 0);
  assert_int_equal(json_array_size(left), json_array_size(right));
  for (size_t k = 0; k < json_array_size(left); k++) {
    same_number(where, json_array_get(left, k), json_array_get(right, k), "charge_in_ah");
    same_number(where, json_array_get(left, k), json_array_get(right, k), "charge_out_ah");
    same_number(where, json_array_get(left, k), json_array_get(right, k), "end_soc_pct");
  }
}

/* Text only: tags, line breaks and indents become blanks; an entity becomes its character. */
static char *plain(const char *text) {
  static const struct { const char *entity; char is; } known[] = {
      {"&#39;", '\''}, {"&quot;", '"'}, {"&amp;", '&'}, {"&lt;", '<'}, {"&gt;", '>'}};
  char *to = calloc(strlen(text) + 2, 1);
  assert_non_null(to);
  size_t at = 0;
  bool tag = false;
  for (; *text != '\0'; text++) {
    char c = *text;
    if (c == '<') tag = true;
    bool blank = tag || c == ' ' || c == '\n';
    if (c == '>') tag = false;
    for (size_t k = 0; c == '&' && k < sizeof known / sizeof known[0]; k++)
      if (strncmp(text, known[k].entity, strlen(known[k].entity)) == 0) {
        c = known[k].is;
        text += strlen(known[k].entity) - 1;
      }
    if (!blank) to[at++] = c;
    else if (at > 0 && to[at - 1] != ' ') to[at++] = ' ';
  }
  return to;
}

/* The first screen of the text report is on the page too, label by label. */
static void same_first_screen(const char *where, const char *text, const char *page) {
  static const char *const labels[] = {"WHY ", "CHARGE ", "SAFETY ", "PARKED ", "LIGHTS ", "NEXT ", "ALSO "};
  char *words = plain(text), *shown = plain(page), *end = strstr(words, " NEXT ");
  int compared = 0;
  assert_non_null(end);
  *end = '\0';
  for (char *line = words; line != NULL;) {
    char *next = NULL;
    for (size_t k = 0; k < sizeof labels / sizeof labels[0]; k++) {
      char *found = strstr(line, labels[k]);
      if (found != NULL && found > line && (next == NULL || found < next)) next = found;
    }
    if (next != NULL) next[-1] = '\0';
    for (size_t k = 0; k < sizeof labels / sizeof labels[0]; k++)
      if (strncmp(line, labels[k], strlen(labels[k])) == 0) line += strlen(labels[k]);
    while (*line == ' ') line++;
    if (strstr(shown, line) == NULL) fail_msg("%s: the page lacks: %s", where, line);
    compared++;
    line = next;
  }
  assert_true(compared >= 4); /* verdict, WHY, CHARGE, SAFETY */
  free(words);
  free(shown);
}

static const char *status_of(const json_t *simulated) {
  return text_of(json_object_get(simulated, "verdict"), "status");
}

/* About a hundred runs: half the profile, after 2 s of silence instead of a minute. */
static void compare_remedy(const char *path) {
  char rest[256];
  snprintf(rest, sizeof rest, "'%s' --quiet --time-step 5ms --settle 2s --parts 1 --spread 0 --write '%s'", brief, remedied);
  unlink(remedied);
  json_t *root = ask_json("remedy", path, rest), *remedy = json_object_get(root, "remedy");
  json_t *simulated = ask_json("simulate --quiet --time-step 5ms --spread 0 --settle 2s", path, brief);
  const json_t *before = json_object_get(remedy, "before"), *after = json_object_get(remedy, "after");
  same_lists("remedy, before", before, simulated);
  assert_string_equal(text_of(before, "status"), status_of(simulated));
  if (json_is_object(after) && access(remedied, R_OK) == 0) {
    json_t *again = ask_json("simulate --quiet --time-step 5ms --spread 0 --settle 2s", remedied, brief);
    same_lists("remedy, after", after, again);
    assert_string_equal(text_of(after, "status"), status_of(again));
    json_decref(again);
  }
  json_decref(simulated);
  json_decref(root);
}

static void compare_vary_and_parked(const char *path, const json_t *simulated) {
  char rest[256];
  snprintf(rest, sizeof rest, "'%s' 'engine.cranking time = 0.8 s'", profile);
  json_t *varied = ask_json("vary --quiet --time-step 5ms --parked", path, rest);
  json_t *parked = ask_json("parked --quiet --time-step 5ms --spread 0", path, "");
  const json_t *row = json_array_get(json_object_get(varied, "rows"), 0);
  same_lists("vary", row, simulated);
  assert_string_equal(text_of(row, "status"), status_of(simulated));
  double varied_s = number_of(json_object_get(row, "parked"), "until_s"),
         parked_s = number_of(json_object_get(parked, "playing"), "until_s");
  assert_true(parked_s > 0);
  if (varied_s != parked_s)
    fail_msg("%s: parked for %.0f s, by vary %.0f s", path, parked_s, varied_s);
  json_decref(varied);
  json_decref(parked);
}

static void every_command_says_the_same(void **state) {
  (void)state;
  glob_t found;
  assert_int_equal(glob("examples/*/*.ini", 0, NULL, &found), 0);
  assert_true(found.gl_pathc >= 16);
  for (size_t k = 0; k < found.gl_pathc; k++) {
    const char *path = found.gl_pathv[k];
    json_t *simulated = ask_json("simulate --quiet --time-step 5ms --spread 0", path, profile);
    char *text = ask("simulate --quiet --time-step 5ms --spread 0 '%s' '%s'", path, profile),
         *page = ask("report --quiet --time-step 5ms --quick --date x '%s' '%s'", path, profile);
    printf("%s: %s\n", path, status_of(simulated));
    fflush(stdout);
    same_first_screen(path, text, page);
    compare_vary_and_parked(path, simulated);
    compare_remedy(path);
    free(text);
    free(page);
    json_decref(simulated);
  }
  globfree(&found);
}

static int put(const char *path, const char *text) {
  FILE *file = fopen(path, "w");
  return file == NULL || fputs(text, file) < 0 || fclose(file) != 0;
}

static int make_profile(void **state) {
  (void)state;
  if (mkdtemp(folder) == NULL) return 1;
  snprintf(profile, sizeof profile, "%s/short.csv", folder);
  snprintf(brief, sizeof brief, "%s/brief.csv", folder);
  snprintf(remedied, sizeof remedied, "%s/remedied.ini", folder);
  return put(profile, "time_s,engine_rpm\n0,800\n8,800\n8.5,2500\n12,2500\n") ||
         put(brief, "time_s,engine_rpm\n0,800\n4,800\n4.5,2500\n6,2500\n");
}

static int remove_profile(void **state) {
  (void)state;
  unlink(profile);
  unlink(brief);
  unlink(remedied);
  return rmdir(folder);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(every_command_says_the_same)};
  return cmocka_run_group_tests(tests, make_profile, remove_profile);
}
