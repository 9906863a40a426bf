/* The list of commands. */
#include "command/commands.h"

#include <string.h>

#define TV_COMMAND(name) extern const struct tv_command tv_##name##_command;
#include "command/commands.def"
#undef TV_COMMAND

const struct tv_command *const tv_commands[] = {
#define TV_COMMAND(name) &tv_##name##_command,
#include "command/commands.def"
#undef TV_COMMAND
    NULL};

const struct tv_command *tv_command_named(const char *name) {
  for (int k = 0; tv_commands[k] != NULL; k++)
    if (strcmp(tv_commands[k]->name, name) == 0) return tv_commands[k];
  return NULL;
}
