/* How far a run is: one line on a terminal, from the first second on, wiped at the end. Also the place where Ctrl-C,
 * SIGTERM and SIGHUP are noticed: they are held back during a run and looked for at each report of progress, so that
 * a run stops between two steps and files are dropped cleanly. */
#ifndef TV_COMMAND_PROGRESS_H
#define TV_COMMAND_PROGRESS_H

#include <signal.h>
#include <stdbool.h>
#include <time.h>

struct tv_progress {
  const char *what;
  bool show, shown;
  struct timespec start, last;
  sigset_t before; /* signals held before */
  bool stopped;
  double done_frac;
};

void tv_progress_begin(struct tv_progress *progress, const char *what, bool quiet);

/* As tailvolt_options.progress wants it; the context is the struct. */
int tv_progress_report(void *progress, double done_frac);

/* The signal that stopped a run, 0 = none: the exit code is 128 more. */
int tv_progress_signal(void);

/* Wipes the line and lets signals through again. */
void tv_progress_end(struct tv_progress *progress);

#endif
