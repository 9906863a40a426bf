/* Reading a command's arguments, and asking what was given. */
#ifndef TV_COMMAND_OPTIONS_H
#define TV_COMMAND_OPTIONS_H

#include "command/commands.h"

/* Parses the words after the command's name. Prints any fault and returns TV_EXIT_INPUT. Free with tv_free_options(), whatever
 * it returns. */
int tv_parse_options(const struct tv_command *command, int count, char *const *words,
                     struct tv_invocation *invocation);
void tv_free_options(struct tv_invocation *invocation);

/* As many operands as the command takes; else says so. */
int tv_check_operands(const struct tv_invocation *invocation);
/* Whether an option decides where a result goes, how it is shown or how quickly it is found, not what it says. */
bool tv_option_is_apart(const char *name, size_t length);
/* An option of the command; NULL = it has none of this name. */
const struct tv_option *tv_option_named(const struct tv_command *command, const char *name, size_t length);

bool tv_option_given(const struct tv_invocation *invocation, const char *name);

/* The value of an option, NULL = not given; the last one of a repeatable option. */
const char *tv_value(const struct tv_invocation *invocation, const char *name);

/* The report that --from names; NULL = none. Of another command --from may be something else. */
const char *tv_report_given(const struct tv_invocation *invocation);

/* The k-th value of a repeatable option, NULL after the last. */
const char *tv_value_at(const struct tv_invocation *invocation, const char *name, int k);

/* The readers below print what is wrong and return false on a bad value; where the option is not given they
 * return true and leave *value alone. */

/* A time with its unit (ms, s, min, h), within [least_s, most_s]. */
bool tv_time_option(const struct tv_invocation *invocation, const char *name, double least_s,
                    double most_s, double *value_s);

/* A value with its unit, as in a system file, within [least, most] in the unit of the number. */
bool tv_quantity_option(const struct tv_invocation *invocation, const char *name, enum tailvolt_measure measure,
                        double least, double most, double *value);

/* A plain number within [least, most]. */
bool tv_number_option(const struct tv_invocation *invocation, const char *name, double least,
                      double most, double *value);

/* A whole number within [least, most]. */
bool tv_count_option(const struct tv_invocation *invocation, const char *name, unsigned long least,
                     unsigned long most, unsigned long *value);

/* One of `words` (NULL ends them); *value gets its index. */
bool tv_choice_option(const struct tv_invocation *invocation, const char *name,
                      const char *const *words, int *value);

#endif
