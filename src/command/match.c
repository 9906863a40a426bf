/* tailvolt match: values of the system file from what was measured. */
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "command/commands.h"
#include "command/logs.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "command/run.h"
#include "command/terminal.h"
#include "report/match.h"

struct job {
  struct tv_logs logs;
  char *fit; /* the lists of --fit, split at their commas */
  int key_count;
  const char *keys[TAILVOLT_MATCH_KEYS + 1];
  struct tailvolt_matching *matching;
  char date[64];
};

static char *trimmed(char *text) {
  text += strspn(text, " \t");
  size_t length = strlen(text);
  while (length > 0 && (text[length - 1] == ' ' || text[length - 1] == '\t')) text[--length] = '\0';
  return text;
}

/* --fit "KEY, KEY", which may be given several times. */
static int read_keys(const struct tv_invocation *invocation, struct job *job) {
  const char *list;
  size_t length = 1;
  for (int k = 0; (list = tv_value_at(invocation, "fit", k)) != NULL; k++) length += strlen(list) + 1;
  job->fit = calloc(length, 1);
  if (job->fit == NULL) {
    tv_error("out of memory");
    return TV_EXIT_NOT_COMPUTED;
  }
  size_t used = 0;
  for (int k = 0; (list = tv_value_at(invocation, "fit", k)) != NULL; k++) {
    if (k > 0) job->fit[used++] = ',';
    memcpy(job->fit + used, list, strlen(list));
    used += strlen(list);
  }
  for (char *at = job->fit, *next; at != NULL && job->key_count <= TAILVOLT_MATCH_KEYS; at = next) {
    next = strchr(at, ',');
    if (next != NULL) *next++ = '\0';
    job->keys[job->key_count] = trimmed(at);
    if (job->keys[job->key_count][0] != '\0') job->key_count++;
  }
  if (job->key_count >= 1 && job->key_count <= TAILVOLT_MATCH_KEYS) return TV_EXIT_DONE;
  if (job->key_count == 0)
    tv_error("match needs --fit \"KEY, KEY...\": which values are to be found?");
  else
    tv_error("--fit: at most %d keys at a time", TAILVOLT_MATCH_KEYS);
  return tv_usage_hint("match");
}

/* --date, else today. */
static int read_date(const struct tv_invocation *invocation, struct job *job) {
  const char *given = tv_value(invocation, "date");
  time_t now = time(NULL);
  struct tm day;
  if (given == NULL) {
    if (localtime_r(&now, &day) == NULL || strftime(job->date, sizeof job->date, "%Y-%m-%d", &day) == 0) job->date[0] = '\0';
    return TV_EXIT_DONE;
  }
  if (strlen(given) < sizeof job->date && strpbrk(given, "\r\n") == NULL && given[0] != '\0') {
    memcpy(job->date, given, strlen(given) + 1);
    return TV_EXIT_DONE;
  }
  tv_error("--date: one line of at most %zu characters, such as 2026-01-31", sizeof job->date - 1);
  return TV_EXIT_INPUT;
}

static int fit(const struct tv_invocation *invocation, struct job *job) {
  char error[TAILVOLT_TEXT_MAX] = "";
  tv_progress_begin(&job->logs.progress, "fitting", invocation->quiet);
  job->logs.options.run.progress = tv_progress_report;
  job->logs.options.run.progress_context = &job->logs.progress;
  enum tailvolt_status status =
      tailvolt_match(job->logs.system, (const struct tailvolt_log *const *)job->logs.logs, job->logs.count, job->keys, job->key_count,
                     &job->logs.options, &job->matching, error);
  tv_progress_end(&job->logs.progress);
  if (status != TAILVOLT_OK) tv_run_failed(job->logs.system, NULL, status, error);
  return tv_exit_code(status);
}

static int write_report(const struct tv_invocation *invocation, const struct job *job, int format) {
  struct tailvolt_report_style style;
  char *text = NULL;
  if (!tv_style_of(invocation, NULL, &style)) return TV_EXIT_INPUT;
  enum tailvolt_status status = format == 0   ? tv_match_text(job->matching, &style, &text)
                                : format == 1 ? tv_match_json(job->matching, &text)
                                              : tv_match_csv(job->matching, &text);
  int code = status == TAILVOLT_OK ? tv_output_text(invocation, text) : tv_exit_code(status);
  if (status != TAILVOLT_OK) tv_error("%s", tailvolt_status_text(status));
  tailvolt_report_free(text);
  return code;
}

static int write_system(const struct tv_invocation *invocation, const struct job *job) {
  const char *path = tv_value(invocation, "write");
  char *text = NULL, *written = NULL, error[TAILVOLT_TEXT_MAX] = "";
  struct tv_output output = {0};
  int count, fitted = 0;
  for (int k = 0; k < job->matching->count; k++) fitted += job->matching->keys[k].state == TAILVOLT_MATCH_FITTED;
  if (fitted == 0) {
    tv_warning(invocation->quiet, "nothing to write: no key was fitted");
    return TV_EXIT_DONE;
  }
  struct tailvolt_setting *settings = tv_settings(invocation, &count);
  if (settings == NULL) return TV_EXIT_NOT_COMPUTED;
  enum tailvolt_status status = tailvolt_system_text(invocation->operands[0], &text, error);
  bool readable = status == TAILVOLT_OK;
  if (readable) status = tailvolt_match_write(text, settings, count, job->matching, job->date, &written);
  if (status != TAILVOLT_OK) tv_error("%s", readable ? tailvolt_status_text(status) : error);
  int code = tv_exit_code(status);
  if (code == TV_EXIT_DONE) code = tv_output_open(invocation, path, &output);
  if (code == TV_EXIT_DONE) {
    tv_output_write(&output, written);
    code = tv_output_close(&output, true);
  }
  tailvolt_system_text_free(text);
  tailvolt_system_text_free(written);
  free(settings);
  return code;
}

/* Impossible outputs are refused before anything runs. */
static int check_outputs(const struct tv_invocation *invocation) {
  const char *write = tv_value(invocation, "write");
  if (write != NULL && strcmp(write, "-") == 0) {
    tv_error("--write needs a file of its own");
    return TV_EXIT_INPUT;
  }
  if (write != NULL && strcmp(invocation->operands[0], "-") == 0) {
    tv_error("--write needs the system as a file, not from standard input");
    return TV_EXIT_INPUT;
  }
  return TV_EXIT_DONE;
}

static int tv_command_match(struct tv_invocation *invocation) {
  struct job job = {0};
  int format = 0;
  if (!tv_log_format(invocation, &format)) return TV_EXIT_INPUT;
  int code = read_keys(invocation, &job);
  if (code == TV_EXIT_DONE) code = read_date(invocation, &job);
  if (code == TV_EXIT_DONE) code = tv_logs_load(invocation, &job.logs);
  if (code == TV_EXIT_DONE) code = check_outputs(invocation);
  if (code == TV_EXIT_DONE) code = fit(invocation, &job);
  if (code == TV_EXIT_DONE) code = write_report(invocation, &job, format);
  if (code == TV_EXIT_DONE && tv_value(invocation, "write") != NULL) code = write_system(invocation, &job);
  tailvolt_matching_free(job.matching);
  tv_logs_free(&job.logs);
  free(job.fit);
  return code;
}

static const struct tv_option options[] = {
    {"fit", 0, "\"KEY, KEY...\"", true, TV_OWN, "the values to find, named as --set does, up to eight"},
    {"write", 'w', "NEW.ini", false, TV_OWN, "write the system file with what was found, marked `measured`, comments kept"},
    {"date", 0, "DAY", false, TV_OWN, "the day given in the comments of --write; default today"},
    TV_LOG_OPTIONS};

static const struct tv_example examples[] = {
    {"tailvolt match examples/as-measured/system.ini examples/as-measured/log.csv --fit \"alternator.set point, vehicle.base load, "
     "joint body stud.resistance\" --set \"vehicle.base load = 35 A\"",
     "three values of a car from four columns"},
    {"tailvolt match examples/as-measured/system.ini examples/as-measured/log.csv --fit \"alternator.set point\" -o matched.csv",
     "before and after, into a file that `tailvolt plot` draws"}};

const struct tv_command tv_match_command = {
    .name = "match",
    .operands = "SYSTEM LOG.csv...",
    .summary = "find values of the system file that fit measured volts and amperes",
    .description =
        "The logs are those of compare. Each KEY of --fit starts at its value in the file (or of --set) and moves within the range "
        "that the file accepts, until the simulation is as near to the readings as it can be. Single wild readings are left out. "
        "Each value comes with the interval that holds it in 95 of 100 such fits. The residuals of a real log stay correlated for a "
        "while, so readings count only for as many independent ones as they are worth.\n\n"
        "Keys that these columns cannot tell apart, or do not show at all, are named, with the reading that would decide; of such a "
        "set the value that the file states, or else the key named last, is left as it was. --write keeps the result in a new system file. "
        "FILE.csv and FILE.json choose their format by name; `tailvolt plot` draws the CSV.",
    .least_operands = 2,
    .most_operands = 1 + TAILVOLT_LOGS_MAX,
    .groups = TV_FORMAT | TV_OUTPUT | TV_UNITS | TV_SYSTEM | TV_RUN | TV_PROFILE,
    .options = options,
    .option_count = (int)(sizeof options / sizeof options[0]),
    .examples = examples,
    .example_count = (int)(sizeof examples / sizeof examples[0]),
    .run = tv_command_match};
