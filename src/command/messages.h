/* Messages to standard error: `tailvolt: text`, lower-case start, no full stop. */
#ifndef TV_COMMAND_MESSAGES_H
#define TV_COMMAND_MESSAGES_H

#include <stdbool.h>

#include "tailvolt/status.h"

#if defined(__GNUC__)
#define TV_PRINTF(at, first) __attribute__((format(printf, at, first)))
#else
#define TV_PRINTF(at, first)
#endif

void tv_error(const char *format, ...) TV_PRINTF(1, 2);
/* Silenced by --quiet: pass the invocation's flag. */
void tv_warning(bool quiet, const char *format, ...) TV_PRINTF(2, 3);
void tv_note(bool quiet, const char *format, ...) TV_PRINTF(2, 3);

/* Says which help to read; returns TV_EXIT_INPUT. `command` may be NULL. */
int tv_usage_hint(const char *command);

/* One line per fault, in the order found. */
void tv_print_faults(const struct tailvolt_faults *faults);

/* The exit code of a status. */
int tv_exit_code(enum tailvolt_status status);

#endif
