/* --from REPORT: the job of a report, run again. */
#ifndef TV_COMMAND_AGAIN_H
#define TV_COMMAND_AGAIN_H

#include "command/commands.h"
#include "report/made_from.h"

struct tv_again {
  const char *report;
  struct tv_made_from from;
  char *folder;         /* a temporary one with files that are read by name; NULL = none */
  char **settings;      /* of each file, the setting that has it read from there; NULL = none */
  const char **operands;
  struct tv_given_option *given;
};

/* Reads the report that --from names, and puts its files and options into the invocation; what the command line gives besides comes
 * last, so that it wins. Keys to vary (TV_KEYS) given besides replace those of the report. Without --from it does nothing. Prints what is
 * wrong; returns an exit code. */
int tv_again_begin(struct tv_invocation *invocation, struct tv_again *again);
void tv_again_end(struct tv_again *again);

/* Reads a report and finds the files that it does not hold: beside it, then where their names lead. What it was made from must be
 * unchanged; `quiet` leaves out warnings, of another version and of a report whose rest was changed. */
int tv_again_read(const char *report, bool quiet, struct tv_again *again);

enum { TV_AGAIN_PATH = 4096 };
/* The place-th at which a file of the report is looked for: beside the report, then where its name leads; empty where that is too long a
 * path. False after the last. */
bool tv_again_place(const struct tv_again *again, int file, int place, char path[TV_AGAIN_PATH]);

/* The report's file behind an operand or an option's value, by its address; behind a path from which it is read. NULL = none. */
const struct tv_made_file *tv_again_named(const struct tv_invocation *invocation, const char *name);
const struct tv_made_file *tv_again_at(const struct tv_invocation *invocation, const char *path);
/* The report's file that a key of its system has as its value. NULL = none. */
const struct tv_made_file *tv_again_value(const struct tv_invocation *invocation, const char *key, const char *value);
/* Where the file of an operand is: the operand, or the temporary file that a report's went into. */
const char *tv_again_path(const struct tv_invocation *invocation, const char *operand);

#endif
