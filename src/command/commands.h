/* What a command is, and what it is given when it runs.
 *
 * A command lives in one file, src/command/NAME.c, which ends in
 *
 *   const struct tv_command tv_NAME_command = {.name = "NAME", ..., .run = tv_command_NAME};
 *
 * and has a line in commands.def. Its option table feeds the parser, the help, the manual page and the shell
 * completions. `run` returns the exit code. */
#ifndef TV_COMMAND_COMMANDS_H
#define TV_COMMAND_COMMANDS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "tailvolt/tailvolt.h"

/* Exit codes. */
enum {
  TV_EXIT_DONE = 0,
  TV_EXIT_MISSED = 1,      /* done, but a target was missed or SAFETY fails; only with --strict */
  TV_EXIT_INPUT = 2,       /* bad input or usage */
  TV_EXIT_NOT_COMPUTED = 3,
  TV_EXIT_NOT_WRITTEN = 4,
  TV_EXIT_STOPPED = 130    /* Ctrl-C, as shells count it; for another signal main() makes it 128 + its number */
};

/* Groups of shared options. */
enum {
  TV_GENERAL = 1, /* every command */
  TV_FORMAT = 2,
  TV_OUTPUT = 4,
  TV_UNITS = 8,
  TV_SYSTEM = 16, /* reads a system file */
  TV_RUN = 32,    /* runs the simulation */
  TV_PROFILE = 64,
  TV_OWN = 128,   /* a command's own option */
  TV_MADE = 256,  /* its reports say what they were made from */
  TV_AGAIN = 512, /* takes a job from such a report */
  TV_KEYS = 1024  /* SYSTEM, PROFILE, then keys with their values, which may be given beside such a report; reads files by name */
};

struct tv_option {
  const char *name;     /* without its dashes */
  char letter;          /* 0 = none */
  const char *argument; /* the word shown in the help; NULL = a switch */
  bool repeatable;
  int group;
  const char *help;     /* one sentence, lower-case start, no full stop */
};

struct tv_example {
  const char *line; /* as typed, from the source folder */
  const char *says;
};

struct tv_invocation;
struct tv_made_from;
struct tv_again;

struct tv_command {
  const char *name;
  const char *operands;    /* "SYSTEM [PROFILE...]" */
  const char *summary;     /* one line */
  const char *description; /* paragraphs, separated by \n\n */
  int least_operands, most_operands; /* most < 0 = any count */
  int groups;              /* shared options taken, besides TV_GENERAL */
  const struct tv_option *options; /* own options */
  int option_count;
  const struct tv_example *examples;
  int example_count;
  int (*run)(struct tv_invocation *invocation);
};

/* All commands; NULL ends the list. */
extern const struct tv_command *const tv_commands[];
const struct tv_command *tv_command_named(const char *name);

/* Visits the options a command takes, shared ones first; NULL after the last. */
const struct tv_option *tv_command_option(const struct tv_command *command, int index);

struct tv_given_option {
  const struct tv_option *option;
  const char *value; /* NULL for a switch */
  const char *said;  /* ... and as a report names it: the same, or the name of a file that is taken from elsewhere */
  bool again;        /* from the report that --from names */
};

struct tv_invocation {
  const struct tv_command *command;
  int given_count;
  struct tv_given_option *given; /* in the order given */
  int operand_count;
  const char **operands;
  bool quiet;
  struct tv_made_from *made; /* what was read so far: no output overwrites it, and the report names it; NULL = nothing is noted */
  struct tv_again *again;    /* the report that --from takes the job from; NULL = none */
};

#endif
