#include "command/help.h"

#include <gsl/gsl_version.h>
#include <jansson.h>
#include <sndfile.h>
#include <string.h>

#include "command/messages.h"

enum { HELP_WIDTH = 80, HELP_INDENT = 30 };

/* Paragraphs separated by \n\n, wrapped; every line starts with `indent` blanks, those of the first already
 * written. */
static void wrapped(FILE *out, const char *text, int indent) {
  int at = indent;
  bool first = true;
  while (*text != '\0') {
    if (text[0] == '\n') {
      fprintf(out, "\n\n%*s", indent, "");
      text += strspn(text, "\n");
      at = indent;
      first = true;
      continue;
    }
    text += strspn(text, " ");
    int length = (int)strcspn(text, " \n");
    if (length == 0) continue;
    if (!first && at + 1 + length > HELP_WIDTH) {
      fprintf(out, "\n%*s", indent, "");
      at = indent;
      first = true;
    }
    fprintf(out, "%s%.*s", first ? "" : " ", length, text);
    at += length + (first ? 0 : 1);
    first = false;
    text += length;
  }
  putc('\n', out);
}

void tv_help_overview(FILE *out) {
  fputs("usage: tailvolt COMMAND [options] FILES\n\n"
        "Can this vehicle's charging system carry this amplifier? Simulates alternator,\n"
        "battery, wiring and amplifier under music.\n\ncommands:\n", out);
  for (int k = 0; tv_commands[k] != NULL; k++)
    fprintf(out, "  %-10s %s\n", tv_commands[k]->name, tv_commands[k]->summary);
  fputs("  help       show the help of a command; --man, --completion bash|zsh|fish\n\n"
        "exit codes: 0 done, 1 a target was missed or SAFETY fails (only with --strict),\n"
        "2 bad input or usage, 3 could not compute, 4 could not write\n\n"
        "try: tailvolt help simulate\n", out);
}

static int spell_option(char *to, size_t size, const struct tv_option *option) {
  char letter[8] = "    ";
  if (option->letter != 0) snprintf(letter, sizeof letter, "-%c, ", option->letter);
  return snprintf(to, size, "  %s--%s%s%s", letter, option->name, option->argument != NULL ? " " : "",
                  option->argument != NULL ? option->argument : "");
}

static void print_options(FILE *out, const struct tv_command *command) {
  const struct tv_option *option;
  for (int k = 0; (option = tv_command_option(command, k)) != NULL; k++) {
    char spelled[128];
    int length = spell_option(spelled, sizeof spelled, option);
    fputs(spelled, out);
    if (length > HELP_INDENT - 2) fprintf(out, "\n%*s", HELP_INDENT, "");
    else fprintf(out, "%*s", HELP_INDENT - length, "");
    char help[512];
    snprintf(help, sizeof help, "%s%s", option->help, option->repeatable ? " (repeatable)" : "");
    wrapped(out, help, HELP_INDENT);
  }
}

void tv_help_command(FILE *out, const struct tv_command *command) {
  fprintf(out, "usage: tailvolt %s [options] %s\n\n", command->name, command->operands);
  wrapped(out, command->description, 0);
  fputs("\noptions:\n", out);
  print_options(out, command);
  if (command->example_count > 0) fputs("\nexamples:\n", out);
  for (int k = 0; k < command->example_count; k++)
    fprintf(out, "  %s\n      %s\n", command->examples[k].line, command->examples[k].says);
}

void tv_help_version(FILE *out) {
  fprintf(out, "tailvolt %s\n"
               "licence GPL-3.0-or-later; there is no warranty, as far as the law allows\n"
               "with GSL %s, jansson %s, %s\n",
          TAILVOLT_VERSION, GSL_VERSION, JANSSON_VERSION, sf_version_string());
}

/* roff: a backslash starts an escape, a dash may become a hyphen, a dot or quote at the start of a line is a
 * request. */
static void roff(FILE *out, const char *text) {
  bool line_start = true;
  for (; *text != '\0'; text++) {
    if (line_start && (*text == '.' || *text == '\'')) fputs("\\&", out);
    if (*text == '\\') fputs("\\e", out);
    else if (*text == '-') fputs("\\-", out);
    else if (text[0] == '\n' && text[1] == '\n') {
      fputs("\n.PP", out);
      continue;
    } else putc(*text, out);
    line_start = *text == '\n';
  }
}

static void roff_option(FILE *out, const struct tv_option *option) {
  fputs(".TP\n", out);
  if (option->letter != 0) fprintf(out, "\\fB\\-%c\\fR, ", option->letter);
  fputs("\\fB\\-\\-", out);
  roff(out, option->name);
  fputs("\\fR", out);
  if (option->argument != NULL) {
    fputs(" \\fI", out);
    roff(out, option->argument);
    fputs("\\fR", out);
  }
  putc('\n', out);
  roff(out, option->help);
  fputs(option->repeatable ? " (repeatable)\n" : "\n", out);
}

static void roff_command(FILE *out, const struct tv_command *command) {
  const struct tv_option *option;
  fprintf(out, ".SS tailvolt %s\n.B tailvolt %s\n[options] ", command->name, command->name);
  roff(out, command->operands);
  fputs("\n.PP\n", out);
  roff(out, command->description);
  putc('\n', out);
  for (int k = 0; (option = tv_command_option(command, k)) != NULL; k++) roff_option(out, option);
  for (int k = 0; k < command->example_count; k++) {
    fputs(".PP\nExample: ", out);
    roff(out, command->examples[k].says);
    fputs("\n.PP\n.RS\n.nf\n", out);
    roff(out, command->examples[k].line);
    fputs("\n.fi\n.RE\n", out);
  }
}

void tv_help_manual(FILE *out) {
  fprintf(out, ".TH TAILVOLT 1 \"\" \"tailvolt %s\" \"User Commands\"\n", TAILVOLT_VERSION);
  fputs(".SH NAME\ntailvolt \\- can this vehicle's charging system carry this amplifier?\n"
        ".SH SYNOPSIS\n.B tailvolt\n.I COMMAND\n[options]\n.I FILES\n"
        ".SH DESCRIPTION\nSimulates alternator, battery, wiring and amplifier under music, in time steps,\n"
        "and says whether the voltage holds, where it is lost, and what to change.\n"
        "Results go to standard output, messages and progress to standard error.\n.SH COMMANDS\n", out);
  for (int k = 0; tv_commands[k] != NULL; k++) roff_command(out, tv_commands[k]);
  fputs(".SH EXIT STATUS\n"
        ".TP\n.B 0\ndone (and, with \\fB\\-\\-strict\\fR, every target met and nothing unsafe)\n"
        ".TP\n.B 1\ndone, but a target was missed or SAFETY fails (only with \\fB\\-\\-strict\\fR)\n"
        ".TP\n.B 2\nbad input or usage\n.TP\n.B 3\ncould not compute\n.TP\n.B 4\ncould not write\n"
        ".TP\n.B 130\nstopped by Ctrl\\-C; by another signal, 128 and its number\n"
        ".SH ENVIRONMENT\n.TP\n.B NO_COLOR\nset and not empty: no colour unless \\-\\-color=always\n"
        ".SH NOTES\nA simulation is an estimate: measure before relying on it.\n", out);
}

static void complete_bash(FILE *out) {
  const struct tv_option *option;
  fputs("# bash completion of tailvolt\n_tailvolt() {\n"
        "  local word=${COMP_WORDS[COMP_CWORD]} words=\n"
        "  if [ \"$COMP_CWORD\" -eq 1 ]; then\n    words='help", out);
  for (int k = 0; tv_commands[k] != NULL; k++) fprintf(out, " %s", tv_commands[k]->name);
  fputs("'\n  elif [ \"${COMP_WORDS[1]}\" = help ]; then\n    words='--man --completion bash zsh fish", out);
  for (int k = 0; tv_commands[k] != NULL; k++) fprintf(out, " %s", tv_commands[k]->name);
  fputs("'\n  elif [ \"${word#-}\" != \"$word\" ]; then\n    case ${COMP_WORDS[1]} in\n", out);
  for (int k = 0; tv_commands[k] != NULL; k++) {
    fprintf(out, "      %s) words='", tv_commands[k]->name);
    for (int o = 0; (option = tv_command_option(tv_commands[k], o)) != NULL; o++)
      fprintf(out, "%s--%s", o > 0 ? " " : "", option->name);
    fputs("' ;;\n", out);
  }
  fputs("    esac\n  fi\n  COMPREPLY=($(compgen -W \"$words\" -- \"$word\"))\n}\n"
        "complete -o default -F _tailvolt tailvolt\n", out);
}

/* Single quotes close and reopen around a quoted one. */
static void shell_quoted(FILE *out, const char *text) {
  for (; *text != '\0'; text++) {
    if (*text == '\'') fputs("'\\''", out);
    else putc(*text, out);
  }
}

static void complete_zsh(FILE *out) {
  const struct tv_option *option;
  fputs("#compdef tailvolt\nif (( CURRENT == 2 )); then\n  compadd help", out);
  for (int k = 0; tv_commands[k] != NULL; k++) fprintf(out, " %s", tv_commands[k]->name);
  fputs("\nelif [[ ${words[2]} == help ]]; then\n  compadd -- --man --completion", out);
  for (int k = 0; tv_commands[k] != NULL; k++) fprintf(out, " %s", tv_commands[k]->name);
  fputs("\nelif [[ ${words[CURRENT]} == -* ]]; then\n  case ${words[2]} in\n", out);
  for (int k = 0; tv_commands[k] != NULL; k++) {
    fprintf(out, "    %s) compadd --", tv_commands[k]->name);
    for (int o = 0; (option = tv_command_option(tv_commands[k], o)) != NULL; o++)
      fprintf(out, " --%s", option->name);
    fputs(" ;;\n", out);
  }
  fputs("  esac\nelse\n  _files\nfi\n", out);
}

static void complete_fish(FILE *out) {
  const struct tv_option *option;
  fputs("# fish completion of tailvolt\n"
        "complete -c tailvolt -n __fish_use_subcommand -a help -d 'show the help of a command'\n"
        "complete -c tailvolt -n '__fish_seen_subcommand_from help' -l man -d 'the manual page'\n"
        "complete -c tailvolt -n '__fish_seen_subcommand_from help' -l completion -r -f -a 'bash zsh fish'\n", out);
  for (int k = 0; tv_commands[k] != NULL; k++) {
    fprintf(out, "complete -c tailvolt -n __fish_use_subcommand -a %s -d '", tv_commands[k]->name);
    shell_quoted(out, tv_commands[k]->summary);
    fputs("'\n", out);
    for (int o = 0; (option = tv_command_option(tv_commands[k], o)) != NULL; o++) {
      fprintf(out, "complete -c tailvolt -n '__fish_seen_subcommand_from %s' -l %s", tv_commands[k]->name,
              option->name);
      if (option->letter != 0) fprintf(out, " -s %c", option->letter);
      if (option->argument != NULL) fputs(" -r", out);
      fputs(" -d '", out);
      shell_quoted(out, option->help);
      fputs("'\n", out);
    }
  }
}

bool tv_help_completion(FILE *out, const char *shell) {
  if (strcmp(shell, "bash") == 0) complete_bash(out);
  else if (strcmp(shell, "zsh") == 0) complete_zsh(out);
  else if (strcmp(shell, "fish") == 0) complete_fish(out);
  else return false;
  return true;
}

int tv_help(int count, char *const *words) {
  if (count == 0) {
    tv_help_overview(stdout);
    return TV_EXIT_DONE;
  }
  if (count == 1 && strcmp(words[0], "--man") == 0) {
    tv_help_manual(stdout);
    return TV_EXIT_DONE;
  }
  if (strcmp(words[0], "--completion") == 0) {
    if (count == 2 && tv_help_completion(stdout, words[1])) return TV_EXIT_DONE;
    tv_error("--completion needs bash, zsh or fish");
    return TV_EXIT_INPUT;
  }
  if (count == 1 && strcmp(words[0], "help") == 0) {
    tv_help_overview(stdout);
    return TV_EXIT_DONE;
  }
  const struct tv_command *command = count == 1 ? tv_command_named(words[0]) : NULL;
  if (command != NULL) {
    tv_help_command(stdout, command);
    return TV_EXIT_DONE;
  }
  tv_error("help takes one command, --man, or --completion bash|zsh|fish");
  return tv_usage_hint(NULL);
}
