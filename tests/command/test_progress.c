/* Progress: silent where nobody watches, and where Ctrl-C is noticed. */
#include "support/assert_near.h"

#include <stdlib.h>
#include <sys/wait.h>
#include <time.h>

/* the command's files are not in the library */
#include "command/progress.c"

static void test_no_line_without_a_terminal(void **state) {
  (void)state;
  struct tv_progress progress;
  int kept = dup(STDERR_FILENO);
  FILE *sink = freopen("/dev/null", "w", stderr);
  assert_non_null(sink);
  tv_progress_begin(&progress, "running", false);
  fflush(stderr);
  dup2(kept, STDERR_FILENO);
  close(kept);
  assert_false(progress.show);
  for (int k = 0; k <= 100; k++) assert_int_equal(tv_progress_report(&progress, 0.01 * k), 0);
  assert_near(progress.done_frac, 1.0, 1e-12);
  assert_false(progress.shown);
  tv_progress_end(&progress);
}

/* Ctrl-C is blocked during the run, stops it at the next report that asks for it, two milliseconds after the last, and is consumed by
 * that. */
static void test_ctrl_c_stops(void **state) {
  (void)state;
  static const int numbers[] = {SIGINT, SIGTERM, SIGHUP};
  for (int k = 0; k < 3; k++) {
    struct tv_progress progress;
    sigset_t pending, now;
    tv_progress_begin(&progress, "running", true);
    assert_int_equal(tv_progress_report(&progress, 0.1), 0);
    raise(numbers[k]);
    nanosleep(&(struct timespec){.tv_nsec = 3000000}, NULL);
    assert_int_equal(tv_progress_report(&progress, 0.2), 1);
    assert_true(progress.stopped);
    assert_int_equal(tv_progress_signal(), numbers[k]);
    assert_int_equal(tv_progress_report(&progress, 0.3), 1); /* and stays stopped */
    sigpending(&pending);
    assert_int_equal(sigismember(&pending, numbers[k]), 0);
    tv_progress_end(&progress);
    sigprocmask(SIG_BLOCK, NULL, &now);
    assert_int_equal(sigismember(&now, numbers[k]), 0); /* signals are unblocked again */
  }
}

/* A run that never asks is ended by the signal itself; one that asks in time is not. */
static void test_unanswered_signal_ends(void **state) {
  (void)state;
  for (int asks = 0; asks < 2; asks++) {
    int ended = 0;
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
      struct tv_progress progress;
      struct timespec now, until;
      bool stopped = false;
      tv_progress_begin(&progress, "running", true);
      kill(getpid(), SIGTERM);
      clock_gettime(CLOCK_MONOTONIC, &until);
      for (until.tv_sec += asks ? 3 : 20; clock_gettime(CLOCK_MONOTONIC, &now) == 0 && seconds_between(&now, &until) > 0;) {
        nanosleep(&(struct timespec){.tv_nsec = 3000000}, NULL);
        stopped = stopped || (asks && tv_progress_report(&progress, 0.5) != 0);
      }
      _exit(stopped ? 1 : 0);
    }
    assert_int_equal(waitpid(child, &ended, 0), child);
    if (asks) assert_true(WIFEXITED(ended) && WEXITSTATUS(ended) == 1);
    else assert_true(WIFSIGNALED(ended) && WTERMSIG(ended) == SIGTERM);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_no_line_without_a_terminal), cmocka_unit_test(test_ctrl_c_stops),
                                     cmocka_unit_test(test_unanswered_signal_ends)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
