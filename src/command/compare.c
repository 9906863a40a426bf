/* tailvolt compare: measured values beside simulated ones. */
#include <stdlib.h>
#include <string.h>

#include "command/commands.h"
#include "command/logs.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "command/run.h"
#include "command/terminal.h"
#include "report/compare.h"

static int compare(const struct tv_invocation *invocation, struct tv_logs *logs, struct tailvolt_comparison **out) {
  char error[TAILVOLT_TEXT_MAX] = "";
  tv_progress_begin(&logs->progress, "comparing", invocation->quiet);
  logs->options.run.progress = tv_progress_report;
  logs->options.run.progress_context = &logs->progress;
  enum tailvolt_status status = tailvolt_compare(logs->system, (const struct tailvolt_log *const *)logs->logs, logs->count,
                                                 &logs->options, out, error);
  tv_progress_end(&logs->progress);
  if (status != TAILVOLT_OK) tv_run_failed(logs->system, NULL, status, error);
  return tv_exit_code(status);
}

static int write_comparison(const struct tv_invocation *invocation, const struct tailvolt_comparison *comparison, int format) {
  struct tailvolt_report_style style;
  char *text = NULL;
  if (!tv_style_of(invocation, NULL, &style)) return TV_EXIT_INPUT;
  enum tailvolt_status status = format == 0   ? tv_compare_text(comparison, &style, &text)
                                : format == 1 ? tv_compare_json(comparison, &text)
                                              : tv_compare_csv(comparison, NULL, &text);
  int code = status == TAILVOLT_OK ? tv_output_text(invocation, text) : tv_exit_code(status);
  if (status != TAILVOLT_OK) tv_error("%s", tailvolt_status_text(status));
  tailvolt_report_free(text);
  return code;
}

static int tv_command_compare(struct tv_invocation *invocation) {
  struct tv_logs logs = {0};
  struct tailvolt_comparison *comparison = NULL;
  int format = 0;
  if (!tv_log_format(invocation, &format)) return TV_EXIT_INPUT;
  int code = tv_logs_load(invocation, &logs);
  if (code == TV_EXIT_DONE) code = compare(invocation, &logs, &comparison);
  if (code == TV_EXIT_DONE) code = write_comparison(invocation, comparison, format);
  tailvolt_comparison_free(comparison);
  tv_logs_free(&logs);
  return code;
}

static const struct tv_option options[] = {TV_LOG_OPTIONS};

static const struct tv_example examples[] = {
    {"tailvolt compare examples/as-measured/system.ini examples/as-measured/log.csv", "how far the model is from the meters"},
    {"tailvolt compare examples/as-measured/system.ini examples/as-measured/log.csv --from 30s -o compared.csv",
     "the readings after half a minute, into a file that `tailvolt plot` draws"}};

const struct tv_command tv_compare_command = {
    .name = "compare",
    .operands = "SYSTEM LOG.csv...",
    .summary = "set measured volts and amperes beside what is simulated",
    .description =
        "A log is a load profile with measured columns: voltage_v:NAME (a point of the wiring against the battery's negative "
        "post; or a meter, battery, amplifier or the alternator across its terminals) and current_a:NAME (out of a battery "
        "or the alternator, into an amplifier, from the `from` to the `to` of a cable, strap, joint or fuse). Any of them, at "
        "any rate; an empty cell is a reading that was not taken. The car is simulated along the log, and each reading is set "
        "beside the value at its time: bias, root mean square, the worst, and the moments at which the two are farthest "
        "apart.\n\n"
        "A log that says nothing of the music is simulated without any. One that has measured columns alone needs --profile. "
        "What a load or a discharge test drew is prescribed by base_load_a, supply_a:AMPLIFIER or supply_w:AMPLIFIER; what a car's "
        "computer had its alternator hold, by set_point_v. "
        "FILE.csv and FILE.json choose their format by name; `tailvolt plot` draws the CSV.",
    .least_operands = 2,
    .most_operands = 1 + TAILVOLT_LOGS_MAX,
    .groups = TV_FORMAT | TV_OUTPUT | TV_UNITS | TV_SYSTEM | TV_RUN | TV_PROFILE,
    .options = options,
    .option_count = (int)(sizeof options / sizeof options[0]),
    .examples = examples,
    .example_count = (int)(sizeof examples / sizeof examples[0]),
    .run = tv_command_compare};
