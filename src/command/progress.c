#include "command/progress.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/time.h>
#include <unistd.h>

static double seconds_between(const struct timespec *from, const struct timespec *to) {
  return (double)(to->tv_sec - from->tv_sec) + (double)(to->tv_nsec - from->tv_nsec) * 1e-9;
}

#define POLL_S 2e-3

static const int stops[] = {SIGINT, SIGTERM, SIGHUP};
enum { STOPS = sizeof stops / sizeof stops[0] };

/* Signals belong to the process, and so does this: the one that stopped a run, 0 = none. */
static int stopped_by;

int tv_progress_signal(void) { return stopped_by; }

static void stop_signals(sigset_t *set) {
  sigemptyset(set);
  for (int k = 0; k < STOPS; k++) sigaddset(set, stops[k]);
}

/* A run that does not ask (it reads what nobody writes, or is slow to get ready) must not outlive the signal: what has waited for
 * two seconds gets its usual effect. In a handler, so that it works whatever the run is at. */
enum { LOOK_US = 250000, LOOKS_MOST = 8 };
static volatile sig_atomic_t unanswered;

static void look(int alarm) {
  sigset_t pending, held;
  int error = errno;
  bool waits = false;
  (void)alarm;
  if (sigpending(&pending) != 0) return;
  for (int k = 0; k < STOPS; k++) waits = waits || sigismember(&pending, stops[k]) == 1;
  unanswered = waits ? unanswered + 1 : 0;
  if (unanswered > LOOKS_MOST) {
    stop_signals(&held);
    sigprocmask(SIG_UNBLOCK, &held, NULL); /* of this thread: it is delivered here */
  }
  errno = error;
}

/* A run may go on within another. */
static int under_way;

static void look_every(long us) {
  const struct itimerval every = {{0, us}, {0, us}};
  struct sigaction ours = {.sa_handler = look, .sa_flags = SA_RESTART};
  sigemptyset(&ours.sa_mask);
  unanswered = 0;
  if (us > 0 && sigaction(SIGALRM, &ours, NULL) != 0) return;
  setitimer(ITIMER_REAL, &every, NULL);
}

void tv_progress_begin(struct tv_progress *progress, const char *what, bool quiet) {
  sigset_t held;
  *progress = (struct tv_progress){.what = what};
  progress->show = !quiet && isatty(STDERR_FILENO) == 1;
  clock_gettime(CLOCK_MONOTONIC, &progress->start);
  progress->last = progress->start;
  stop_signals(&held);
  sigprocmask(SIG_BLOCK, &held, &progress->before);
  if (under_way++ == 0) look_every(LOOK_US);
}

/* Takes a pending Ctrl-C off the queue: the run answers it with its exit code. */
static bool stop_asked(void) {
  sigset_t pending, held;
  int taken;
  if (sigpending(&pending) != 0) return false;
  stop_signals(&held);
  for (int k = 0; k < STOPS; k++)
    if (sigismember(&pending, stops[k]) == 1 && sigwait(&held, &taken) == 0) {
      stopped_by = taken;
      return true;
    }
  return false;
}

/* Columns of the terminal; a line that wraps could not be overwritten. */
static int terminal_width(void) {
  struct winsize size;
  return ioctl(STDERR_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 ? size.ws_col : 80;
}

static void draw(struct tv_progress *progress, double elapsed_s) {
  char left[48] = "", line[160];
  if (progress->done_frac > 0.02) {
    double left_s = elapsed_s * (1.0 - progress->done_frac) / progress->done_frac;
    snprintf(left, sizeof left, ", %ld s left", (long)(left_s + 1.0));
  }
  int length = snprintf(line, sizeof line, ": %d %%%s", (int)(100.0 * progress->done_frac), left);
  int room = terminal_width() - 1 - length;
  /* the end of a path says more than its start */
  int what = (int)strlen(progress->what), cut = what > room ? what - room : 0;
  while (((unsigned char)progress->what[cut] & 0xc0) == 0x80) cut++;
  fprintf(stderr, "\r%s%s\033[K", room >= 8 ? progress->what + cut : "", room >= 8 ? line : line + 2);
  fflush(stderr);
  progress->shown = true;
}

int tv_progress_report(void *context, double done_frac) {
  struct tv_progress *progress = context;
  struct timespec now;
  progress->done_frac = done_frac;
  if (progress->stopped) return 1;
  /* a study may report ten thousand times a second, and to ask for signals each time took a twentieth of its time */
  clock_gettime(CLOCK_MONOTONIC, &now);
  if (seconds_between(&progress->polled, &now) < POLL_S) return 0;
  progress->polled = now;
  if (stop_asked()) progress->stopped = true;
  if (progress->stopped) return 1;
  if (!progress->show) return 0;
  double elapsed_s = seconds_between(&progress->start, &now);
  if (elapsed_s < 1.0 || seconds_between(&progress->last, &now) < 0.2) return 0;
  progress->last = now;
  draw(progress, elapsed_s);
  return 0;
}

void tv_progress_end(struct tv_progress *progress) {
  if (progress->shown) fputs("\r\033[K", stderr);
  progress->shown = false;
  if (--under_way == 0) look_every(0);
  sigprocmask(SIG_SETMASK, &progress->before, NULL);
}
