/* Every fault of a system file, by exact message, line and key. The cases are in system_faults.txt. */
#include "tailvolt/system.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"

enum { LONGEST = 8192, EXPECTED_MAX = 8 };

struct reader {
  FILE *stream;
  int number;
  char line[512];
  char ten[LONGEST], car[LONGEST];
};

static bool next(struct reader *r) {
  if (fgets(r->line, sizeof r->line, r->stream) == NULL) return false;
  r->line[strcspn(r->line, "\n")] = '\0';
  r->number++;
  return true;
}

static void add(char *text, const char *piece, const char *end) {
  assert_true(strlen(text) + strlen(piece) + strlen(end) < LONGEST);
  strcat(text, piece);
  strcat(text, end);
}

/* Reads lines up to `end` into text, filling in the defined texts. */
static void read_text(struct reader *r, const char *end, char *text) {
  text[0] = '\0';
  while (next(r) && strcmp(r->line, end) != 0) {
    if (strcmp(r->line, "@ten") == 0)
      add(text, r->ten, "");
    else if (strcmp(r->line, "@car") == 0)
      add(text, r->car, "");
    else
      add(text, r->line, "\n");
  }
}

static void check_fault(const struct tailvolt_fault *seen, char *wanted, int case_line) {
  char *key = strchr(wanted, '|');
  assert_non_null(key);
  *key++ = '\0';
  char *message = strchr(key, '|');
  assert_non_null(message);
  *message++ = '\0';
  if (seen->line != atoi(wanted) || strcmp(seen->key, key) != 0 || strcmp(seen->message, message) != 0)
    fail_msg("case at line %d: saw %d|%s|%s\n  wanted %s|%s|%s", case_line, seen->line, seen->key,
             seen->message, wanted, key, message);
  assert_string_equal(seen->file, "job.ini");
  if ((seen->line > 0) != (seen->column > 0)) fail_msg("case at line %d: column %d", case_line, seen->column);
}

static void every_case(void **state) {
  (void)state;
  static struct reader r;
  static char text[LONGEST];
  static struct tailvolt_faults faults;
  r.stream = fopen(TAILVOLT_SOURCE_DIR "/tests/input/system_faults.txt", "r");
  assert_non_null(r.stream);
  int cases = 0;
  bool more = next(&r);
  while (more) {
    if (strncmp(r.line, "define ", 7) == 0) {
      read_text(&r, "end", strcmp(r.line + 7, "ten") == 0 ? r.ten : r.car);
      more = next(&r);
      continue;
    }
    if (strcmp(r.line, "case") != 0) {
      assert_true(r.line[0] == '#');
      more = next(&r);
      continue;
    }
    int case_line = r.number, count = 0;
    read_text(&r, "faults", text);
    struct tailvolt_system *system = NULL;
    enum tailvolt_status status = tailvolt_system_parse(text, "job.ini", NULL, 0, &system, &faults);
    if (status != TAILVOLT_BAD_INPUT || system != NULL)
      fail_msg("case at line %d: status %d", case_line, (int)status);
    while ((more = next(&r)) && strcmp(r.line, "case") != 0) {
      if (count == faults.count) fail_msg("case at line %d: only %d faults", case_line, faults.count);
      check_fault(&faults.fault[count++], r.line, case_line);
    }
    if (count != faults.count) fail_msg("case at line %d: also %s", case_line, faults.fault[count].message);
    cases++;
  }
  fclose(r.stream);
  print_message("%d faulty files\n", cases);
  assert_true(cases >= 140);
}

static void the_texts_themselves(void **state) {
  (void)state;
  static const struct {
    const char *text, *message;
    int line;
  } bad[] = {{"[vehicle]\nname = b\x01ll\n", "the line holds a control character", 2},
             {"[vehicle]\nname = caf\xE9\n", "the line is not UTF-8 text; save the file as UTF-8", 2},
             {"[vehicle]\nname = \xED\xA0\x80\n", "the line is not UTF-8 text; save the file as UTF-8", 2},
             {"\xFF\xFE[\n", "UTF-16 text; save it as UTF-8", 0}};
  static struct tailvolt_faults faults;
  for (size_t k = 0; k < sizeof bad / sizeof bad[0]; k++) {
    struct tailvolt_system *system = NULL;
    assert_int_equal(tailvolt_system_parse(bad[k].text, "job.ini", NULL, 0, &system, &faults),
                     TAILVOLT_BAD_INPUT);
    bool found = false;
    for (int f = 0; f < faults.count; f++)
      found = found ||
              (strcmp(faults.fault[f].message, bad[k].message) == 0 && faults.fault[f].line == bad[k].line);
    if (!found) fail_msg("'%s' is missing; first: %s", bad[k].message, faults.fault[0].message);
  }
}

static void files_that_cannot_be_read(void **state) {
  (void)state;
  static const char *const paths[] = {"/nonexistent/job.ini", "/tmp"};
  static struct tailvolt_faults faults;
  for (size_t k = 0; k < 2; k++) {
    struct tailvolt_system *system = NULL;
    assert_int_equal(tailvolt_system_read(paths[k], NULL, 0, &system, &faults), TAILVOLT_NOT_READABLE);
    assert_null(system);
    assert_int_equal(faults.count, 1);
    assert_string_equal(faults.fault[0].file, paths[k]);
    assert_non_null(strstr(faults.fault[0].message, "cannot be read: "));
  }
}

/* Faults beyond the limit are counted; those kept are in line order. */
static void many_faults(void **state) {
  (void)state;
  static char text[8192];
  static struct tailvolt_faults faults;
  strcpy(text, "[battery]\ncapacity = 70 Ah\n[engine]\n");
  for (int k = 0; k < 30; k++) sprintf(text + strlen(text), "word%c%c = 1\n", 'a' + k / 6, 'p' + k % 6);
  struct tailvolt_system *system = NULL;
  assert_int_equal(tailvolt_system_parse(text, "job.ini", NULL, 0, &system, &faults), TAILVOLT_BAD_INPUT);
  assert_int_equal(faults.count, TAILVOLT_FAULTS_MAX);
  assert_true(faults.dropped >= 10);
  for (int k = 1; k < faults.count; k++) assert_true(faults.fault[k].line > faults.fault[k - 1].line);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(every_case), cmocka_unit_test(the_texts_themselves),
                                     cmocka_unit_test(files_that_cannot_be_read),
                                     cmocka_unit_test(many_faults)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
