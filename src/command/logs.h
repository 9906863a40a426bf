/* What compare and match do alike: reading a system and its logs, and the options of both. */
#ifndef TV_COMMAND_LOGS_H
#define TV_COMMAND_LOGS_H

#include "command/commands.h"
#include "command/progress.h"

struct tv_logs {
  struct tailvolt_system *system;
  struct tailvolt_profile *profile; /* --profile, or NULL */
  int count;
  struct tailvolt_log *logs[TAILVOLT_LOGS_MAX];
  struct tailvolt_compare_options options;
  struct tv_progress progress;
};

#define TV_LOG_OPTIONS                                                                                                   \
  {"profile", 'p', "FILE", false, TV_OWN, "load profile of what the car did, where the log has no such columns"},       \
  {"from", 0, "TIME", false, TV_OWN, "readings count from this time of the log on"},                                    \
  {"to", 0, "TIME", false, TV_OWN, "readings count up to this time of the log"},                                        \
  {"threads", 0, "N", false, TV_OWN, "runs at the same time; default one per processor"}

/* 0 text, 1 JSON, 2 CSV: by --format, else by the ending of --output. False, with a message, where that asks for a picture. */
bool tv_log_format(const struct tv_invocation *invocation, int *format);

/* Options, system, profile and logs (operands from the second on); says what is wrong. Returns an exit code; tv_logs_free() is
 * due in any case. */
int tv_logs_load(const struct tv_invocation *invocation, struct tv_logs *logs);
void tv_logs_free(struct tv_logs *logs);

#endif
