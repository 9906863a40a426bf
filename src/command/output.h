/* Files written all or nothing: a temporary beside the target, renamed once complete. */
#ifndef TV_COMMAND_OUTPUT_H
#define TV_COMMAND_OUTPUT_H

#include "command/commands.h"

struct tv_output {
  FILE *file;
  char *target;    /* NULL = standard output */
  char *temporary; /* NULL = written directly: standard output, a device, a pipe */
  int error;       /* why tv_output_write() failed, or what is written is not whole; 0 = it did not */
};

/* A file or folder that is not to stay where a signal ends the process; its path must live as long. Files of a folder that is watched are
 * watched each by itself. */
void tv_temporary_watch(const char *path);
void tv_temporary_unwatch(const char *path);

/* Says that a file cannot be written and why (an errno); returns the exit code. */
int tv_cannot_write(const char *path, int error);

/* True, with a message, where `path` (may be NULL) is a file that the command reads. */
bool tv_output_is_input(const struct tv_invocation *invocation, const char *path);

/* True, with a message, where a file that the command line names for its output is one that the command reads. Asked before it runs,
 * and again as soon as more of its files are known: nothing is computed for a report that could not be written. */
bool tv_outputs_are_inputs(const struct tv_invocation *invocation);

/* True, with a message, where two of them are one file, whatever they are called: the second would replace the first. */
bool tv_outputs_are_one(const struct tv_invocation *invocation);

/* True where `path` is no file of its own: standard output, /dev/stdout and what else names a descriptor, a pipe, a device. */
bool tv_output_is_direct(const char *path);

/* Opens `path` for writing; NULL or "-" is standard output. A file that the command reads (an operand, a file
 * named by an option or a system) is refused, as is one that is write-protected. Links stay links; a file that is replaced keeps its
 * permissions. Prints what is wrong; returns an exit code. */
int tv_output_open(const struct tv_invocation *invocation, const char *path, struct tv_output *output);

/* Writes a text and remembers why that failed: closing reports it. */
void tv_output_write(struct tv_output *output, const char *text);

/* Finishes (`keep`) or discards what was written. Returns an exit code. An output that was never opened (all
 * zero) is fine. */
int tv_output_close(struct tv_output *output, bool keep);

/* Opens --output, writes `text`, closes. */
int tv_output_text(const struct tv_invocation *invocation, const char *text);

#endif
