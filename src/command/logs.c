#include "command/logs.h"

#include <stdlib.h>
#include <string.h>

#include "command/messages.h"
#include "command/options.h"
#include "command/run.h"

bool tv_log_format(const struct tv_invocation *invocation, int *format) {
  static const char *const formats[] = {"text", "json", "csv", NULL}, *const pictures[] = {".svg", ".png", ".pdf"};
  const char *output = tv_value(invocation, "output"), *dot = output != NULL ? strrchr(output, '.') : NULL;
  for (int k = 0; dot != NULL && k < 3; k++)
    if (strcmp(dot, pictures[k]) == 0) {
      tv_error("--output %s: write FILE.csv, and `tailvolt plot FILE.csv -o %s` draws it", output, output);
      return false;
    }
  *format = dot != NULL && strcmp(dot, ".json") == 0 ? 1 : dot != NULL && strcmp(dot, ".csv") == 0 ? 2 : 0;
  return tv_choice_option(invocation, "format", formats, format);
}

static int read_options(const struct tv_invocation *invocation, struct tv_logs *logs) {
  unsigned long threads = 0;
  logs->options = tailvolt_default_compare_options();
  int code = tv_run_options(invocation, &logs->options.run);
  if (code != TV_EXIT_DONE) return code;
  if (!tv_time_option(invocation, "from", -1e9, 1e9, &logs->options.from_s) ||
      !tv_time_option(invocation, "to", -1e9, 1e9, &logs->options.to_s) ||
      !tv_count_option(invocation, "threads", 1, 1024, &threads))
    return TV_EXIT_INPUT;
  logs->options.threads = (int)threads;
  if (logs->options.from_s >= logs->options.to_s) {
    tv_error("--to must be later than --from");
    return TV_EXIT_INPUT;
  }
  return TV_EXIT_DONE;
}

static int read_log(const struct tv_invocation *invocation, const char *path, struct tv_logs *logs) {
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  if (faults == NULL) {
    tv_error("out of memory");
    return TV_EXIT_NOT_COMPUTED;
  }
  enum tailvolt_status status =
      tailvolt_log_read(path, tv_value(invocation, "columns"), logs->system, &logs->logs[logs->count], faults);
  if (status == TAILVOLT_OK)
    logs->count++;
  else if (faults->count > 0)
    tv_print_faults(faults);
  else
    tv_error("%s: %s", path, tailvolt_status_text(status));
  free(faults);
  return tv_exit_code(status);
}

int tv_logs_load(const struct tv_invocation *invocation, struct tv_logs *logs) {
  const char *profile = tv_value(invocation, "profile");
  memset(logs, 0, sizeof *logs);
  int code = read_options(invocation, logs);
  if (code == TV_EXIT_DONE) code = tv_load_system(invocation, invocation->operands[0], &logs->system);
  if (code == TV_EXIT_DONE && profile != NULL) code = tv_load_profile(invocation, profile, logs->system, &logs->profile);
  if (code != TV_EXIT_DONE) return code;
  logs->options.profile = logs->profile;
  for (int k = 1; k < invocation->operand_count; k++) { /* faults of all logs together */
    int each = read_log(invocation, invocation->operands[k], logs);
    if (each != TV_EXIT_DONE) code = each;
  }
  for (int k = 0; code == TV_EXIT_DONE && k < logs->count; k++)
    tv_note_long_run(invocation, tailvolt_log_name(logs->logs[k]), "log", tailvolt_log_span_s(logs->logs[k]));
  return code;
}

void tv_logs_free(struct tv_logs *logs) {
  for (int k = 0; k < logs->count; k++) tailvolt_log_free(logs->logs[k]);
  tailvolt_profile_free(logs->profile);
  tailvolt_system_free(logs->system);
  memset(logs, 0, sizeof *logs);
}
