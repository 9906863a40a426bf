/* Help, version, manual page and shell completions, all made from the tables of the commands. */
#ifndef TV_COMMAND_HELP_H
#define TV_COMMAND_HELP_H

#include "command/commands.h"

void tv_help_overview(FILE *out);
void tv_help_command(FILE *out, const struct tv_command *command);
void tv_help_version(FILE *out);
void tv_help_manual(FILE *out);

/* `shell` is bash, zsh or fish; false for anything else. */
bool tv_help_completion(FILE *out, const char *shell);

/* `tailvolt help [COMMAND | --man | --completion SHELL]`. */
int tv_help(int count, char *const *words);

#endif
