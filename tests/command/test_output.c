/* Output in one piece: written beside its target, renamed once complete, never over an input. */
/* as the file under test, before anything is included */
#define _XOPEN_SOURCE 700

#include "support/assert_near.h"

#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

/* the command's files are not in the library; first the one that sets its feature macro */
#include "command/output.c"

#include "command/messages.c"
#include "command/options.c"

static char folder[] = "/tmp/tailvolt-output-XXXXXX";

static const char *in_folder(const char *name) {
  static char path[2][128];
  static int turn;
  turn = 1 - turn;
  snprintf(path[turn], sizeof path[turn], "%s/%s", folder, name);
  return path[turn];
}

static int make_folder(void **state) {
  (void)state;
  return mkdtemp(folder) == NULL;
}

static int remove_folder(void **state) {
  (void)state;
  unlink(in_folder("out.txt"));
  unlink(in_folder("in.ini"));
  return rmdir(folder); /* fails where a temporary was left behind */
}

static void expect_content(const char *path, const char *wanted) {
  char text[64] = "";
  FILE *file = fopen(path, "r");
  assert_non_null(file);
  size_t length = fread(text, 1, sizeof text - 1, file);
  fclose(file);
  text[length] = '\0';
  assert_string_equal(text, wanted);
}

static void put(const char *path, const char *text) {
  FILE *file = fopen(path, "w");
  assert_non_null(file);
  fputs(text, file);
  fclose(file);
}

static void test_appears_when_kept(void **state) {
  (void)state;
  struct tv_invocation invocation = {.command = NULL};
  struct tv_output output;
  const char *path = in_folder("out.txt");
  put(path, "old");
  assert_int_equal(tv_output_open(&invocation, path, &output), TV_EXIT_DONE);
  tv_output_write(&output, "new");
  expect_content(path, "old"); /* untouched until everything is written */
  assert_int_equal(tv_output_close(&output, true), TV_EXIT_DONE);
  expect_content(path, "new");
}

static void test_dropped_leaves_the_old_one(void **state) {
  (void)state;
  struct tv_invocation invocation = {.command = NULL};
  struct tv_output output;
  const char *path = in_folder("out.txt");
  put(path, "old");
  assert_int_equal(tv_output_open(&invocation, path, &output), TV_EXIT_DONE);
  tv_output_write(&output, "half");
  assert_int_equal(tv_output_close(&output, false), TV_EXIT_DONE);
  expect_content(path, "old");
}

static void test_refuses_an_input_and_what_cannot_be_written(void **state) {
  (void)state;
  const char *in = in_folder("in.ini");
  const char *operands[] = {in};
  struct tv_invocation invocation = {.operands = operands, .operand_count = 1};
  struct tv_output output;
  put(in, "[battery]");
  assert_int_equal(tv_output_open(&invocation, in, &output), TV_EXIT_INPUT);
  expect_content(in, "[battery]");
  assert_int_equal(tv_output_open(&invocation, folder, &output), TV_EXIT_NOT_WRITTEN);
  assert_int_equal(tv_output_open(&invocation, in_folder("not/there.txt"), &output), TV_EXIT_NOT_WRITTEN);
  /* a full device is reported at the end */
  if (access("/dev/full", W_OK) == 0) {
    assert_int_equal(tv_output_open(&invocation, "/dev/full", &output), TV_EXIT_DONE);
    tv_output_write(&output, "lost");
    assert_int_equal(tv_output_close(&output, true), TV_EXIT_NOT_WRITTEN);
  }
}

static void test_standard_output(void **state) {
  (void)state;
  struct tv_invocation invocation = {.command = NULL};
  struct tv_output output;
  assert_int_equal(tv_output_open(&invocation, NULL, &output), TV_EXIT_DONE);
  assert_ptr_equal(output.file, stdout);
  assert_int_equal(tv_output_close(&output, true), TV_EXIT_DONE);
  assert_int_equal(tv_output_open(&invocation, "-", &output), TV_EXIT_DONE);
  assert_ptr_equal(output.file, stdout);
  output.error = ENOSPC;
  assert_int_equal(tv_output_close(&output, true), TV_EXIT_NOT_WRITTEN);
  struct tv_output never = {0};
  assert_int_equal(tv_output_close(&never, true), TV_EXIT_DONE);
}

/* How a process ends that opens an output, has closed another and gets that signal. */
static int ended_by(int signal, bool ignored) {
  int status = 0;
  pid_t child = fork();
  if (child == 0) {
    struct tv_invocation invocation = {.command = NULL};
    struct tv_output output, closed;
    struct sigaction action = {.sa_handler = ignored ? SIG_IGN : SIG_DFL};
    sigaction(signal, &action, NULL);
    bool open = tv_output_open(&invocation, in_folder("closed.txt"), &closed) == TV_EXIT_DONE &&
                tv_output_close(&closed, false) == TV_EXIT_DONE &&
                tv_output_open(&invocation, in_folder("never.txt"), &output) == TV_EXIT_DONE;
    if (open) raise(signal);
    _exit(open && tv_output_close(&output, false) == TV_EXIT_DONE ? 7 : 8);
  }
  assert_true(child > 0);
  assert_int_equal(waitpid(child, &status, 0), child);
  return WIFSIGNALED(status) ? WTERMSIG(status) : -WEXITSTATUS(status);
}

/* What they leave remove_folder() would find. */
static void test_a_signal_leaves_nothing(void **state) {
  (void)state;
  const int ends[] = {SIGINT, SIGTERM, SIGHUP};
  for (size_t k = 0; k < sizeof ends / sizeof ends[0]; k++) {
    assert_int_equal(ended_by(ends[k], false), ends[k]);
    assert_int_equal(ended_by(ends[k], true), -7);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_appears_when_kept), cmocka_unit_test(test_dropped_leaves_the_old_one),
      cmocka_unit_test(test_refuses_an_input_and_what_cannot_be_written), cmocka_unit_test(test_standard_output),
      cmocka_unit_test(test_a_signal_leaves_nothing)};
  return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
