#include "command/options.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "command/messages.h"
#include "text/read_number.h"
#include "text/nearest.h"
#include "text/number.h"

static const struct tv_option shared_options[] = {
#define TV_OPTION(name, letter, argument, repeatable, group, help) \
  {name, letter, argument, repeatable, group, help},
#include "command/options.def"
#undef TV_OPTION
};
enum { SHARED_COUNT = (int)(sizeof shared_options / sizeof shared_options[0]), WORDS_MAX = 64 };

const struct tv_option *tv_command_option(const struct tv_command *command, int index) {
  for (int k = 0; k < SHARED_COUNT; k++) {
    if ((shared_options[k].group & (command->groups | TV_GENERAL)) == 0) continue;
    if (index-- == 0) return &shared_options[k];
  }
  return index < command->option_count ? &command->options[index] : NULL;
}

const struct tv_option *tv_option_named(const struct tv_command *command, const char *name, size_t length) {
  const struct tv_option *option;
  for (int k = 0; (option = tv_command_option(command, k)) != NULL; k++)
    if (strlen(option->name) == length && memcmp(option->name, name, length) == 0) return option;
  return NULL;
}

bool tv_option_is_apart(const char *name, size_t length) {
  static const char *const apart[] = {"help",   "quiet",  "color",        "format", "output", "from",    "details",
                                      "record", "strict", "record-every", "write",  "shard",  "threads"};
  for (size_t k = 0; k < sizeof apart / sizeof *apart; k++)
    if (strlen(apart[k]) == length && memcmp(apart[k], name, length) == 0) return true;
  return false;
}

static const struct tv_option *by_letter(const struct tv_command *command, char letter) {
  const struct tv_option *option;
  for (int k = 0; (option = tv_command_option(command, k)) != NULL; k++)
    if (option->letter == letter) return option;
  return NULL;
}

static int unknown(const struct tv_command *command, const char *name, size_t length) {
  const char *words[WORDS_MAX];
  size_t count = 0;
  const struct tv_option *option;
  char cut[64];
  size_t taken = length < sizeof cut ? length : sizeof cut - 1;
  memcpy(cut, name, taken);
  cut[taken] = '\0';
  for (int k = 0; (option = tv_command_option(command, k)) != NULL && count < WORDS_MAX; k++)
    words[count++] = option->name;
  const char *nearest = tv_nearest_word(cut, words, count);
  if (nearest != NULL)
    tv_error("%s does not know the option --%s; did you mean --%s?", command->name, cut, nearest);
  else
    tv_error("%s does not know the option --%s", command->name, cut);
  return tv_usage_hint(command->name);
}

static int keep(struct tv_invocation *invocation, const struct tv_option *option, const char *value) {
  for (int k = 0; k < invocation->given_count && !option->repeatable; k++) {
    if (invocation->given[k].option != option) continue;
    tv_error("--%s is given twice", option->name);
    return tv_usage_hint(invocation->command->name);
  }
  invocation->given[invocation->given_count++] = (struct tv_given_option){option, value, value, false};
  return TV_EXIT_DONE;
}

static int missing_value(const struct tv_command *command, const struct tv_option *option) {
  tv_error("--%s needs a value: --%s %s", option->name, option->name, option->argument);
  return tv_usage_hint(command->name);
}

/* "--name", "--name=value" or "--name value"; moves *at past a separate value. */
static int long_option(struct tv_invocation *invocation, int count, char *const *words, int *at) {
  const struct tv_command *command = invocation->command;
  const char *name = words[*at] + 2;
  size_t length = strcspn(name, "=");
  const char *value = name[length] == '=' ? name + length + 1 : NULL;
  const struct tv_option *option = tv_option_named(command, name, length);
  if (option == NULL) return unknown(command, name, length);
  if (option->argument == NULL) {
    if (value == NULL) return keep(invocation, option, NULL);
    tv_error("--%s takes no value", option->name);
    return tv_usage_hint(command->name);
  }
  if (value == NULL) {
    if (*at + 1 >= count) return missing_value(command, option);
    value = words[++*at];
  }
  return keep(invocation, option, value);
}

/* "-q", several in one word, or "-o FILE" and "-oFILE". */
static int short_options(struct tv_invocation *invocation, int count, char *const *words, int *at) {
  const struct tv_command *command = invocation->command;
  for (const char *letter = words[*at] + 1; *letter != '\0'; letter++) {
    const struct tv_option *option = by_letter(command, *letter);
    if (option == NULL) {
      tv_error("%s does not know the option -%c", command->name,
               *letter >= 0x20 && *letter < 0x7f ? *letter : '?');
      return tv_usage_hint(command->name);
    }
    if (option->argument == NULL) {
      int code = keep(invocation, option, NULL);
      if (code != TV_EXIT_DONE) return code;
      continue;
    }
    const char *value = letter + 1;
    if (*value == '\0') {
      if (*at + 1 >= count) return missing_value(command, option);
      value = words[++*at];
    }
    return keep(invocation, option, value);
  }
  return TV_EXIT_DONE;
}

int tv_check_operands(const struct tv_invocation *invocation) {
  const struct tv_command *command = invocation->command;
  int count = invocation->operand_count;
  if (count < command->least_operands) {
    tv_error("%s needs %s", command->name, command->operands);
    return tv_usage_hint(command->name);
  }
  if (command->most_operands >= 0 && count > command->most_operands) {
    tv_error("%s takes %s; what is `%s`?", command->name,
             command->operands[0] != '\0' ? command->operands : "no operand",
             invocation->operands[command->most_operands]);
    return tv_usage_hint(command->name);
  }
  return TV_EXIT_DONE;
}

int tv_parse_options(const struct tv_command *command, int count, char *const *words,
                     struct tv_invocation *invocation) {
  size_t room = (size_t)count + 1;
  bool options_end = false;
  *invocation = (struct tv_invocation){.command = command};
  /* a word of short switches may hold several options */
  size_t most = room;
  for (int k = 0; k < count; k++) most += strlen(words[k]);
  invocation->given = malloc(most * sizeof *invocation->given);
  invocation->operands = malloc(room * sizeof *invocation->operands);
  if (invocation->given == NULL || invocation->operands == NULL) {
    tv_error("out of memory");
    return TV_EXIT_NOT_COMPUTED;
  }
  for (int at = 0; at < count; at++) {
    const char *word = words[at];
    int code = TV_EXIT_DONE;
    if (options_end || word[0] != '-' || word[1] == '\0') invocation->operands[invocation->operand_count++] = word;
    else if (strcmp(word, "--") == 0) options_end = true;
    else if (word[1] == '-') code = long_option(invocation, count, words, &at);
    else code = short_options(invocation, count, words, &at);
    if (code != TV_EXIT_DONE) return code;
  }
  invocation->quiet = tv_option_given(invocation, "quiet");
  /* a report brings its own operands */
  bool later = tv_option_given(invocation, "help") || tv_report_given(invocation) != NULL;
  return later ? TV_EXIT_DONE : tv_check_operands(invocation);
}

void tv_free_options(struct tv_invocation *invocation) {
  free(invocation->given);
  free(invocation->operands);
  invocation->given = NULL;
  invocation->operands = NULL;
}

bool tv_option_given(const struct tv_invocation *invocation, const char *name) {
  for (int k = 0; k < invocation->given_count; k++)
    if (strcmp(invocation->given[k].option->name, name) == 0) return true;
  return false;
}

const char *tv_value(const struct tv_invocation *invocation, const char *name) {
  const char *value = NULL;
  for (int k = 0; k < invocation->given_count; k++)
    if (strcmp(invocation->given[k].option->name, name) == 0) value = invocation->given[k].value;
  return value;
}

const char *tv_value_at(const struct tv_invocation *invocation, const char *name, int k) {
  for (int g = 0; g < invocation->given_count; g++)
    if (strcmp(invocation->given[g].option->name, name) == 0 && k-- == 0)
      return invocation->given[g].value;
  return NULL;
}

const char *tv_report_given(const struct tv_invocation *invocation) {
  return invocation->command != NULL && (invocation->command->groups & TV_AGAIN) != 0 ? tv_value(invocation, "from") : NULL;
}

bool tv_time_option(const struct tv_invocation *invocation, const char *name, double least_s,
                    double most_s, double *value_s) {
  static const struct { const char *unit; double in_s; } units[] = {
      {"ms", 1e-3}, {"s", 1.0}, {"min", 60.0}, {"h", 3600.0}};
  const char *text = tv_value(invocation, name);
  if (text == NULL) return true;
  double number = 0.0, seconds = 0.0;
  size_t length = tv_parse_leading_number(text, strlen(text), &number);
  if (length == 0) {
    tv_error("--%s %s: not a time; write one such as 10ms, 1s, 5min, 2h", name, text);
    return false;
  }
  const char *unit = text + length;
  unit += strspn(unit, " ");
  if (*unit == '\0') {
    tv_error("--%s %s: which unit? write %sms, %ss, %smin or %sh", name, text, text, text, text, text);
    return false;
  }
  bool known = false;
  for (size_t k = 0; k < sizeof units / sizeof units[0] && !known; k++) {
    known = strcmp(unit, units[k].unit) == 0;
    /* 1 / 1000 is the double nearest to a millisecond, 1 * 0.001 may not be */
    if (known) seconds = units[k].in_s < 1.0 ? number / 1000.0 : number * units[k].in_s;
  }
  if (!known) {
    tv_error("--%s %s: unknown unit `%s`; use ms, s, min or h", name, text, unit);
    return false;
  }
  if (seconds < least_s || seconds > most_s) {
    tv_error("--%s %s: must be between %s s and %s s", name, text, tv_compact(least_s, 6).text,
             tv_compact(most_s, 6).text);
    return false;
  }
  *value_s = seconds;
  return true;
}

bool tv_quantity_option(const struct tv_invocation *invocation, const char *name, enum tailvolt_measure measure,
                        double least, double most, double *value) {
  const char *given = tv_value(invocation, name);
  char low[48], high[48];
  double number = 0.0;
  if (given == NULL) return true;
  tailvolt_quantity_write(least, measure, low, sizeof low);
  tailvolt_quantity_write(most, measure, high, sizeof high);
  if (tailvolt_quantity_read(given, measure, &number) != TAILVOLT_OK) {
    tv_error("--%s %s: write a value with its unit (%s), %s to %s", name, given, tailvolt_measure_units(measure), low,
             high);
    return false;
  }
  if (!(number >= least && number <= most)) {
    tv_error("--%s %s: must be between %s and %s", name, given, low, high);
    return false;
  }
  *value = number;
  return true;
}

bool tv_number_option(const struct tv_invocation *invocation, const char *name, double least,
                      double most, double *value) {
  const char *text = tv_value(invocation, name);
  double number;
  if (text == NULL) return true;
  if (!tv_parse_number(text, strlen(text), &number) || number < least || number > most) {
    tv_error("--%s %s: must be a number between %s and %s", name, text, tv_compact(least, 6).text,
             tv_compact(most, 6).text);
    return false;
  }
  *value = number;
  return true;
}

bool tv_count_option(const struct tv_invocation *invocation, const char *name, unsigned long least,
                     unsigned long most, unsigned long *value) {
  const char *text = tv_value(invocation, name);
  if (text == NULL) return true;
  char *end = NULL;
  errno = 0;
  unsigned long number = text[0] >= '0' && text[0] <= '9' ? strtoul(text, &end, 10) : 0;
  if (end == NULL || *end != '\0' || errno != 0 || number < least || number > most) {
    tv_error("--%s %s: must be a whole number between %lu and %lu", name, text, least, most);
    return false;
  }
  *value = number;
  return true;
}

bool tv_choice_option(const struct tv_invocation *invocation, const char *name,
                      const char *const *words, int *value) {
  const char *text = tv_value(invocation, name);
  if (text == NULL) return true;
  char list[256] = "";
  size_t count = 0;
  for (; words[count] != NULL; count++) {
    if (strcmp(words[count], text) == 0) {
      *value = (int)count;
      return true;
    }
    size_t length = strlen(list);
    snprintf(list + length, sizeof list - length, "%s%s", count > 0 ? ", " : "", words[count]);
  }
  const char *nearest = tv_nearest_word(text, words, count);
  if (nearest != NULL) tv_error("--%s %s: did you mean %s? choices are %s", name, text, nearest, list);
  else tv_error("--%s %s: choices are %s", name, text, list);
  return false;
}
