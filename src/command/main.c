/* The command `tailvolt`: finds the requested command, parses its options, runs it. */
#include <errno.h>
#include <string.h>

#include "command/again.h"
#include "command/commands.h"
#include "command/help.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "command/progress.h"
#include "text/nearest.h"

static int unknown_command(const char *name) {
  const char *words[64];
  size_t count = 0;
  for (; count < 63 && tv_commands[count] != NULL; count++) words[count] = tv_commands[count]->name;
  words[count++] = "help";
  const char *nearest = tv_nearest_word(name, words, count);
  if (nearest != NULL) tv_error("there is no command `%s`; did you mean %s?", name, nearest);
  else tv_error("there is no command `%s`", name);
  return tv_usage_hint(NULL);
}

static int run_command(const struct tv_command *command, int count, char *const *words) {
  struct tv_invocation invocation;
  struct tv_made_from made = {.paths_only = (command->groups & TV_MADE) == 0};
  struct tv_again again = {0};
  int code = tv_parse_options(command, count, words, &invocation);
  invocation.made = &made;
  if (code == TV_EXIT_DONE && tv_option_given(&invocation, "help")) {
    tv_help_command(stdout, command);
  } else if (code == TV_EXIT_DONE) {
    code = tv_again_begin(&invocation, &again);
    if (code == TV_EXIT_DONE && (tv_outputs_are_inputs(&invocation) || tv_outputs_are_one(&invocation))) code = TV_EXIT_INPUT;
    if (code == TV_EXIT_DONE) code = command->run(&invocation);
  }
  tv_free_options(&invocation);
  tv_again_end(&again);
  tv_made_free(&made);
  return code;
}

static int dispatch(int count, char *const *words) {
  if (count == 0) {
    tv_error("no command is given");
    return tv_usage_hint(NULL);
  }
  if (strcmp(words[0], "--version") == 0 || strcmp(words[0], "-V") == 0) {
    tv_help_version(stdout);
    return TV_EXIT_DONE;
  }
  if (strcmp(words[0], "--help") == 0 || strcmp(words[0], "-h") == 0) return tv_help(0, words);
  if (strcmp(words[0], "help") == 0) return tv_help(count - 1, words + 1);
  if (words[0][0] == '-') {
    tv_error("a command comes first, then its options; what is `%s`?", words[0]);
    return tv_usage_hint(NULL);
  }
  const struct tv_command *command = tv_command_named(words[0]);
  return command != NULL ? run_command(command, count - 1, words + 1) : unknown_command(words[0]);
}

int main(int argument_count, char **arguments) {
  int code = dispatch(argument_count > 0 ? argument_count - 1 : 0, arguments + 1);
  if (code == TV_EXIT_STOPPED && tv_progress_signal() != 0) code = 128 + tv_progress_signal();
  errno = 0;
  bool sound = fflush(stdout) == 0 && ferror(stdout) == 0;
  int error = errno;
  if (fclose(stdout) != 0 && sound) {
    sound = false;
    error = errno;
  }
  if (!sound && code == TV_EXIT_NOT_WRITTEN) return code; /* reported already */
  if (!sound) {
    tv_error("standard output: cannot write: %s", strerror(error != 0 ? error : EIO));
    return TV_EXIT_NOT_WRITTEN;
  }
  return code;
}
