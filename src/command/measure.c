/* isatty() and fstat() are POSIX functions */
#define _XOPEN_SOURCE 700

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "command/commands.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "command/progress.h"
#include "command/run.h"
#include "command/terminal.h"
#include "tailvolt/measure.h"
#include "text/number.h"
#include "text/read_number.h"
#include "text/text.h"

/* Everything one call owns, freed in one place. */
struct job {
  char *text; /* of the system file */
  struct tailvolt_setting *settings;
  int setting_count;
  struct tailvolt_system *system, *after;
  struct tailvolt_measure_options options;
  struct tailvolt_measure_plan *plan;
  struct tailvolt_reading_taken *readings;
  int reading_count;
  struct tailvolt_estimate *estimate;
  char *written; /* the file with what was learned */
  struct tailvolt_certainty sure, surer; /* before it, and with it */
  int vehicles; /* for those; -1 = as many as take a second or two */
  struct tv_output output, write;
};

static int out_of_memory(void) {
  tv_error("out of memory");
  return TV_EXIT_NOT_COMPUTED;
}

static int say(enum tailvolt_status status, const char *error) {
  if (status != TAILVOLT_OK) tv_error("%s", error != NULL && error[0] != '\0' ? error : tailvolt_status_text(status));
  return tv_exit_code(status);
}

/* The file is kept as text: what is learned is written into it. */
static int load(const struct tv_invocation *invocation, struct job *job) {
  return tv_load_system_text(invocation, invocation->operands[0], &job->text, &job->settings, &job->setting_count, &job->system);
}

static void unload(struct job *job) {
  tailvolt_measure_plan_free(job->plan);
  tailvolt_estimate_free(job->estimate);
  tailvolt_system_free(job->system);
  tailvolt_system_free(job->after);
  tailvolt_system_text_free(job->text);
  tailvolt_system_text_free(job->written);
  free(job->readings);
  free(job->settings);
}

/* ---- asking ---- */

static bool at_terminal(void) { return isatty(STDIN_FILENO) == 1 && isatty(STDOUT_FILENO) == 1; }

/* Numbers may come through a pipe or from a file; a device, such as /dev/null, holds none. */
static bool by_pipe(void) {
  struct stat about;
  return fstat(STDIN_FILENO, &about) == 0 && (S_ISFIFO(about.st_mode) || S_ISREG(about.st_mode) || S_ISSOCK(about.st_mode));
}

static bool read_line(char *to, size_t size) {
  size_t length = 0;
  int c;
  while ((c = getc(stdin)) != EOF && c != '\n')
    if (length + 1 < size && c != '\0' && c != '\r') to[length++] = (char)c;
  to[length] = '\0';
  return c != EOF || length > 0;
}

/* The unit in which a reading is asked for: the one in which the plan shows the normal value. */
static const char *unit_of(const struct tailvolt_planned *one) {
  const double millivolts_below = 0.2;
  if (one->probe.instrument == TAILVOLT_CLAMP) return "A";
  return fabs(one->normal) < millivolts_below ? "mV" : "V";
}

/* A bare number is in the unit asked for. */
static enum tailvolt_status read_answer(const struct tailvolt_planned *one, const char *answer, double *value, char *error) {
  char whole[TAILVOLT_TEXT_MAX], plain[TAILVOLT_TEXT_MAX];
  double number = 0.0;
  tv_squeeze(plain, sizeof plain, answer);
  for (char *at = plain; *at != '\0'; at++)
    if (*at == ',') *at = '.';
  bool bare = tv_parse_number(plain, strlen(plain), &number);
  snprintf(whole, sizeof whole, "%.200s%s%s", plain, bare ? " " : "", bare ? unit_of(one) : "");
  return tailvolt_reading_read(&one->probe, whole, value, error);
}

/* What the speakers can take, asked before anything is planned that relies on it. */
static void ask_limit(struct job *job) {
  char line[TAILVOLT_TEXT_MAX];
  fputs("A tone will be played for ten seconds. Into a dummy load: Return. Into speakers: what do they\n"
        "bear continuously, in watts? > ", stderr);
  double limit_w = 0.0;
  char whole[TAILVOLT_TEXT_MAX + 4];
  if (!read_line(line, sizeof line) || line[0] == '\0') return;
  bool bare = tv_parse_number(line, strlen(line), &limit_w);
  snprintf(whole, sizeof whole, "%.250s%s", line, bare ? " W" : "");
  if (tailvolt_quantity_read(whole, TAILVOLT_POWER, &limit_w) == TAILVOLT_OK && limit_w > 0.0) job->options.tone_w = limit_w;
  else tv_error("'%s' is no power; planned for a dummy load", line);
}

static int ask_readings(struct job *job, bool terminal) {
  const struct tailvolt_measure_plan *plan = job->plan;
  int faults = 0;
  job->readings = calloc((size_t)plan->count + 1, sizeof *job->readings);
  if (job->readings == NULL) return out_of_memory();
  if (terminal && plan->count > 0) fputs("\nType what the meter shows; Return alone = not read.\n", stderr);
  for (int k = 0; k < plan->count; k++) {
    char line[TAILVOLT_TEXT_MAX], error[TAILVOLT_TEXT_MAX], id[TAILVOLT_TEXT_MAX];
    double value = 0.0;
    bool more = true, sound = false;
    tailvolt_probe_write(job->system, &plan->readings[k].probe, id, sizeof id);
    do {
      if (terminal) fprintf(stderr, "%2d  %s, in %s > ", k + 1, id, unit_of(&plan->readings[k]));
      more = read_line(line, sizeof line);
      if (!more || line[strspn(line, " \t")] == '\0') break;
      sound = read_answer(&plan->readings[k], line, &value, error) == TAILVOLT_OK;
      if (!sound) tv_error("reading %d: %s", k + 1, error);
      faults += !sound && !terminal;
    } while (terminal && !sound);
    if (sound) job->readings[job->reading_count++] = (struct tailvolt_reading_taken){plan->readings[k].probe, value};
    if (!more) break;
  }
  return faults > 0 ? TV_EXIT_INPUT : TV_EXIT_DONE;
}

static int load_readings(const char *path, struct job *job) {
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  if (faults == NULL) return out_of_memory();
  enum tailvolt_status status = tailvolt_readings_read(path, job->system, &job->readings, &job->reading_count, faults);
  if (faults->count > 0) tv_print_faults(faults);
  else say(status, NULL);
  free(faults);
  return tv_exit_code(status);
}

/* ---- what is printed ---- */

/* How sure the verdict is that `tailvolt simulate` would give without a profile: the profiles and options for it. */
struct asking {
  struct tailvolt_profile *profiles[TV_STANDARD_PROFILES];
  int count;
  struct tailvolt_certainty_options options;
  struct tv_progress progress;
};

static void end_asking(struct asking *asking) {
  tv_progress_end(&asking->progress);
  for (int k = 0; k < asking->count; k++) tailvolt_profile_free(asking->profiles[k]);
}

/* Ends with end_asking() where it returns TV_EXIT_DONE. */
static int begin_asking(const struct tv_invocation *invocation, const struct tailvolt_system *system, const struct job *job,
                        struct asking *asking) {
  *asking = (struct asking){.options = tailvolt_default_certainty_options()};
  int code = tv_standard_profiles(invocation, system, asking->profiles, &asking->count);
  if (code != TV_EXIT_DONE) return code;
  tv_note_long_draw(invocation, system->file, (const struct tailvolt_profile *const *)asking->profiles, asking->count,
                    job->vehicles > 0 ? job->vehicles : 0);
  tv_progress_begin(&asking->progress, "how sure", invocation->quiet);
  asking->options.same_day = asking->count > 1;
  asking->options.vehicles = job->vehicles > 0 ? job->vehicles : 0;
  asking->options.threads = job->options.threads;
  asking->options.progress = tv_progress_report;
  asking->options.context = &asking->progress;
  return TV_EXIT_DONE;
}

/* Nothing where nobody asked: `vehicles` 0. */
static int find_certainty(const struct tv_invocation *invocation, const struct tailvolt_system *system, const struct job *job,
                          struct tailvolt_certainty *out) {
  struct asking asking;
  char error[TAILVOLT_TEXT_MAX];
  if (job->vehicles == 0) return TV_EXIT_DONE;
  int code = begin_asking(invocation, system, job, &asking);
  if (code != TV_EXIT_DONE) return code;
  enum tailvolt_status status = tailvolt_certainty(system, (const struct tailvolt_profile *const *)asking.profiles, asking.count, NULL,
                                                   &asking.options, out, error);
  end_asking(&asking);
  return status != TAILVOLT_OK ? tv_run_failed(system, NULL, status, error) : TV_EXIT_DONE;
}

static int print(struct job *job, enum tailvolt_status status, char *text) {
  if (status != TAILVOLT_OK) return say(status, NULL);
  tv_output_write(&job->output, text);
  tailvolt_report_free(text);
  return TV_EXIT_DONE;
}

enum { TEXT, TABLE, JSON };

static int make_plan(const struct tv_invocation *invocation, struct job *job, int format) {
  struct tailvolt_report_style style;
  char error[TAILVOLT_TEXT_MAX], *text = NULL;
  if (!tv_style_of(invocation, job->output.file, &style)) return TV_EXIT_INPUT;
  struct asking asking;
  int code = begin_asking(invocation, job->system, job, &asking);
  if (code != TV_EXIT_DONE) return code;
  struct tailvolt_measure_options options = job->options;
  options.profiles = (const struct tailvolt_profile *const *)asking.profiles;
  options.profile_count = asking.count;
  options.sure = &asking.options;
  enum tailvolt_status status = tailvolt_measure_plan(job->system, &options, &job->plan, error);
  end_asking(&asking);
  if (status != TAILVOLT_OK) return tv_run_failed(job->system, NULL, status, error);
  if (job->vehicles != 0) job->sure = job->plan->certainty;
  if (format == TABLE) status = tailvolt_report_measure_csv(job->system, job->plan, &text);
  else if (format == JSON) status = tailvolt_report_measure_json(job->system, job->plan, &job->sure, &text);
  else status = tailvolt_report_measure_plan(job->system, job->plan, &job->sure, &style, &text);
  return print(job, status, text);
}

/* The date written after what was learned. */
static bool find_date(const struct tv_invocation *invocation, char *to, size_t size) {
  const char *given = tv_value(invocation, "date");
  if (given != NULL) {
    static const char shape[] = "dddd-dd-dd";
    bool sound = strlen(given) == sizeof shape - 1;
    for (size_t k = 0; sound && shape[k] != '\0'; k++)
      sound = shape[k] == 'd' ? given[k] >= '0' && given[k] <= '9' : given[k] == shape[k];
    if (!sound) tv_error("--date %s: write it as 2026-11-29", given);
    else snprintf(to, size, "%s", given);
    return sound;
  }
  time_t now = time(NULL);
  struct tm parts;
  if (localtime_r(&now, &parts) == NULL || strftime(to, size, "%Y-%m-%d", &parts) == 0) snprintf(to, size, "date unknown");
  return true;
}

/* What was written is a system file like any other. */
static int read_back(const char *text, const char *name, struct tailvolt_system **out) {
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  if (faults == NULL) return out_of_memory();
  enum tailvolt_status status = tailvolt_system_parse(text, name, NULL, 0, out, faults);
  if (faults->count > 0) tv_print_faults(faults);
  else say(status, NULL);
  free(faults);
  return tv_exit_code(status);
}

static int write_learned(const struct tv_invocation *invocation, struct job *job) {
  char date[32];
  if (!find_date(invocation, date, sizeof date)) return TV_EXIT_INPUT;
  enum tailvolt_status status =
      tailvolt_estimate_write(job->text, job->settings, job->setting_count, job->estimate, date, &job->written);
  if (status != TAILVOLT_OK) return say(status, NULL);
  int code = read_back(job->written, invocation->operands[0], &job->after);
  if (code == TV_EXIT_DONE && job->write.file != NULL) tv_output_write(&job->write, job->written);
  return code;
}

static int judge(const struct tv_invocation *invocation, struct job *job, int format) {
  struct tailvolt_report_style style;
  char error[TAILVOLT_TEXT_MAX], *text = NULL;
  if (!tv_style_of(invocation, job->output.file, &style)) return TV_EXIT_INPUT;
  enum tailvolt_status status =
      tailvolt_estimate(job->system, &job->options, job->readings, job->reading_count, &job->estimate, error);
  if (status != TAILVOLT_OK) return tv_run_failed(job->system, NULL, status, error);
  int code = write_learned(invocation, job);
  if (code != TV_EXIT_DONE) return code;
  /* after a plan it is known already */
  if (!job->sure.known) code = find_certainty(invocation, job->system, job, &job->sure);
  if (code == TV_EXIT_DONE) code = find_certainty(invocation, job->after, job, &job->surer);
  if (code != TV_EXIT_DONE) return code;
  status = format == JSON ? tailvolt_report_estimate_json(job->system, job->estimate, &job->sure, &job->surer, &text)
                          : tailvolt_report_estimate(job->system, job->estimate, &job->sure, &job->surer, &style, &text);
  return print(job, status, text);
}

/* ---- the command ---- */

static int find_amplifier(const struct tv_invocation *invocation, struct job *job) {
  const char *name = tv_value(invocation, "amplifier");
  for (int k = 0; name != NULL && k < job->system->amplifier_count; k++)
    if (strcasecmp(job->system->amplifiers[k].name, name) == 0) job->options.amplifier = k;
  if (name == NULL || job->options.amplifier >= 0) return TV_EXIT_DONE;
  tv_error("--amplifier %s: the system has no such amplifier", name);
  return TV_EXIT_INPUT;
}

static int check_options(const struct tv_invocation *invocation, struct job *job, int *format) {
  static const char *const formats[] = {"text", "csv", "json", NULL};
  struct tailvolt_report_style style;
  unsigned long most = 8, threads = 0, vehicles = 0;
  char date[32];
  const char *write = tv_value(invocation, "write");
  job->options = tailvolt_default_measure_options();
  if (!tv_count_option(invocation, "spread", 0, 1000000, &vehicles)) return TV_EXIT_INPUT;
  if (!tv_choice_option(invocation, "format", formats, format) || !tv_style_of(invocation, NULL, &style) ||
      !tv_quantity_option(invocation, "tone", TAILVOLT_POWER, 1.0, 30000.0, &job->options.tone_w) ||
      !tv_count_option(invocation, "most", 1, 40, &most) || !tv_count_option(invocation, "threads", 1, 1024, &threads) ||
      !find_date(invocation, date, sizeof date))
    return TV_EXIT_INPUT;
  job->options.most = (int)most;
  job->vehicles = tv_option_given(invocation, "spread") ? (int)vehicles : -1;
  job->options.threads = (int)threads;
  if (write != NULL && strcmp(write, "-") == 0) {
    tv_error("--write needs a file of its own");
    return tv_usage_hint("measure");
  }
  return TV_EXIT_DONE;
}

static int plan_and_ask(const struct tv_invocation *invocation, struct job *job, int format) {
  bool terminal = at_terminal() && format == TEXT;
  if (terminal && isnan(job->options.tone_w)) ask_limit(job);
  int code = make_plan(invocation, job, format);
  if (code != TV_EXIT_DONE || format != TEXT) return code;
  if (terminal || by_pipe()) code = ask_readings(job, terminal);
  if (code == TV_EXIT_DONE && job->reading_count > 0) fputs("\n", job->output.file);
  return code;
}

static int tv_command_measure(struct tv_invocation *invocation) {
  struct job job = {0};
  int format = 0;
  const char *readings = tv_value(invocation, "readings"), *write = tv_value(invocation, "write");
  int code = check_options(invocation, &job, &format);
  if (code == TV_EXIT_DONE) code = load(invocation, &job);
  if (code == TV_EXIT_DONE) code = find_amplifier(invocation, &job);
  if (code == TV_EXIT_DONE) code = tv_output_open(invocation, tv_value(invocation, "output"), &job.output);
  if (code == TV_EXIT_DONE && readings != NULL) code = load_readings(readings, &job);
  else if (code == TV_EXIT_DONE) code = plan_and_ask(invocation, &job, format);
  if (code == TV_EXIT_DONE && write != NULL && job.reading_count == 0) {
    tv_error("--write %s: no readings, so nothing was learned", write);
    code = TV_EXIT_INPUT;
  }
  if (code == TV_EXIT_DONE && write != NULL) code = tv_output_open(invocation, write, &job.write);
  if (code == TV_EXIT_DONE && job.reading_count > 0) code = judge(invocation, &job, format);
  int closed = tv_output_close(&job.output, code == TV_EXIT_DONE), kept = tv_output_close(&job.write, code == TV_EXIT_DONE);
  if (code == TV_EXIT_DONE) code = closed != TV_EXIT_DONE ? closed : kept;
  unload(&job);
  return code;
}

static const struct tv_option options[] = {
    {"readings", 'r', "FILE.csv", false, TV_OWN, "readings taken: columns reading and value, as --format csv begins it"},
    {"write", 'w', "NEW.ini", false, TV_OWN, "write the system file with what was learned, comments kept"},
    {"date", 0, "YYYY-MM-DD", false, TV_OWN, "the date written behind each value learned; default today"},
    {"tone", 0, "POWER", false, TV_OWN, "power of the tone, no more than load or speakers bear; default a quarter of the rated power"},
    {"amplifier", 0, "NAME", false, TV_OWN, "which amplifier plays the tone; default the most powerful"},
    {"spread", 0, "N", false, TV_OWN, "draw N cars for the SURE lines; default what takes a second or two, 0 = leave them out"},
    {"most", 0, "N", false, TV_OWN, "at most N readings; default 8"},
    {"threads", 0, "N", false, TV_OWN, "runs at the same time; default one per processor"}};

static const struct tv_example examples[] = {
    {"tailvolt measure examples/van-800w-8awg/system.ini", "what to read at the van, where the probes go, what is normal"},
    {"tailvolt measure job.ini --format csv -o readings.csv", "the same as a table to be filled in"},
    {"tailvolt measure job.ini --readings readings.csv --write measured.ini", "what the readings say; kept in a new system file"}};

const struct tv_command tv_measure_command = {
    .name = "measure",
    .operands = "SYSTEM",
    .summary = "what to measure at the car, and what the readings say of it",
    .description =
        "Names the fewest readings that settle the verdict: rest voltage, engine on, lights on, a tone, a clamp on feed and charge "
        "lead. For each it says where the probes go, what to switch, what a meter shows (the mean of 0.3 s; min-hold: of "
        "0.1 s), what is normal in such cars and what it means outside. What a meter should show is simulated, from the ranges of "
        "all values that nobody has measured.\n\n"
        "Readings come at the prompt, by a pipe (one value a line in the order of the plan, an empty line = not read) or from a file. "
        "Drops at a current become resistances with their error; a joint is named only where the probes sat on both sides of it. "
        "Swapped probes, millivolts written as volts, and readings that cannot all hold are noticed. --write keeps what was "
        "learned.\n\n"
        "Never disconnect the battery with the engine running; zero the clamp; never touch an orange cable; a tone of ten seconds "
        "goes into a dummy load, or into speakers that bear it.",
    .least_operands = 1,
    .most_operands = 1,
    .groups = TV_FORMAT | TV_OUTPUT | TV_UNITS | TV_SYSTEM,
    .options = options,
    .option_count = (int)(sizeof options / sizeof options[0]),
    .examples = examples,
    .example_count = (int)(sizeof examples / sizeof examples[0]),
    .run = tv_command_measure};
