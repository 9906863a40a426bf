/* How far along a run is: one line on a terminal, after the first second, wiped at the end. Also where Ctrl-C,
 * SIGTERM and SIGHUP are noticed: they are blocked during a run and polled at progress reports, so a run stops
 * between two steps and files are dropped cleanly. One that is not answered within two seconds ends the process. */
#ifndef TV_COMMAND_PROGRESS_H
#define TV_COMMAND_PROGRESS_H

#include <signal.h>
#include <stdbool.h>
#include <time.h>

struct tv_progress {
  const char *what;
  bool show, shown;
  struct timespec start, last, polled;
  sigset_t before; /* signals blocked before */
  bool stopped;
  double done_frac;
};

void tv_progress_begin(struct tv_progress *progress, const char *what, bool quiet);

/* As tailvolt_options.progress expects it; the context is the struct. */
int tv_progress_report(void *progress, double done_frac);

/* The signal that stopped a run, 0 = none; the exit code is 128 + it. */
int tv_progress_signal(void);

/* Wipes the line and unblocks signals. */
void tv_progress_end(struct tv_progress *progress);

#endif
