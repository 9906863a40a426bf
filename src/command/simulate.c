#include <stdlib.h>
#include <string.h>

#include "command/commands.h"
#include "command/made.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "command/progress.h"
#include "command/record.h"
#include "command/run.h"
#include "command/terminal.h"
#include "report/text_parts.h"
#include "tailvolt/study.h"
#include "tailvolt/report.h"

/* Everything one call owns, freed in one place. */
struct job {
  struct tailvolt_system *system;
  int count, room;
  struct tailvolt_profile **profiles;
  struct tailvolt_result **results;
  char (*next)[TAILVOLT_TEXT_MAX]; /* one NEXT line per run; empty = none */
  struct tailvolt_options options;
  int vehicles;                    /* to be drawn; 0 = none, -1 = what takes a second or two */
  unsigned long vehicle_seed;
  struct tv_output output, record;
};

static int load(const struct tv_invocation *invocation, struct job *job) {
  int profiles = invocation->operand_count - 1;
  int code = tv_load_system(invocation, invocation->operands[0], &job->system);
  if (code != TV_EXIT_DONE) return code;
  job->room = profiles > TV_STANDARD_PROFILES ? profiles : TV_STANDARD_PROFILES;
  job->profiles = calloc((size_t)job->room, sizeof *job->profiles);
  job->results = calloc((size_t)job->room, sizeof *job->results);
  job->next = calloc((size_t)job->room, sizeof *job->next);
  if (job->profiles == NULL || job->results == NULL || job->next == NULL) {
    tv_error("out of memory");
    return TV_EXIT_NOT_COMPUTED;
  }
  if (profiles == 0) return tv_standard_profiles(invocation, job->system, job->profiles, &job->count);
  /* reports the faults of all profiles together */
  for (int k = 0; k < profiles; k++) {
    int each = tv_load_profile(invocation, invocation->operands[k + 1], job->system, &job->profiles[k]);
    if (each == TV_EXIT_DONE) job->count++;
    else code = each;
  }
  return code;
}

static void unload(struct job *job) {
  for (int k = 0; k < job->room; k++) {
    if (job->profiles != NULL) tailvolt_profile_free(job->profiles[k]);
    if (job->results != NULL) tailvolt_result_free(job->results[k]);
  }
  free(job->profiles);
  free(job->results);
  free(job->next);
  tailvolt_system_free(job->system);
}

static int run_all(const struct tv_invocation *invocation, struct job *job) {
  struct tailvolt_record_sink sink;
  const char *record = tv_value(invocation, "record");
  int code = tv_output_open(invocation, tv_value(invocation, "output"), &job->output);
  if (code == TV_EXIT_DONE && record != NULL) {
    code = tv_output_open(invocation, record, &job->record);
    sink = tv_record_sink(&job->record);
    job->options.record = &sink;
  }
  for (int k = job->count - 1; k >= 0 && code == TV_EXIT_DONE; k--) {
    code = tv_run(invocation, job->system, job->profiles[k], job->options, &job->results[k]);
    /* idling is judged together with the road of the same day: the last of the standard profiles, so the first to
     * run */
    if (code == TV_EXIT_DONE && invocation->operand_count == 1 && k == job->count - 1)
      job->options.road_balance_a = tailvolt_charge_balance_a(job->results[k], TAILVOLT_ROAD);
  }
  if (record != NULL) {
    /* a failed write ends the run; closing says why */
    bool keep = code == TV_EXIT_DONE || code == TV_EXIT_NOT_WRITTEN;
    int closed = tv_output_close(&job->record, keep);
    if (closed != TV_EXIT_DONE && keep) code = closed;
  }
  return code;
}

/* The run that the report leads with: the others get one line, without --details. */
static int worst_run(const struct job *job) {
  int worst = 0;
  for (int k = 1; k < job->count; k++)
    if (job->results[k]->status > job->results[worst]->status) worst = k;
  return worst;
}

/* In how many such cars all of the profiles hold, kept in the run that is shown first. */
static int find_certainty(const struct tv_invocation *invocation, struct job *job) {
  struct tailvolt_certainty_options options = tailvolt_default_certainty_options();
  struct tv_progress progress;
  char error[TAILVOLT_TEXT_MAX];
  if (job->vehicles == 0) return TV_EXIT_DONE;
  options.run = &job->options;
  options.vehicles = job->vehicles > 0 ? job->vehicles : 0;
  options.seed = job->vehicle_seed;
  options.same_day = invocation->operand_count == 1;
  tv_note_long_draw(invocation, job->system->file, (const struct tailvolt_profile *const *)job->profiles, job->count, options.vehicles);
  tv_progress_begin(&progress, "cars like this one", invocation->quiet);
  options.context = &progress;
  options.progress = tv_progress_report;
  struct tailvolt_certainty *out = &job->results[worst_run(job)]->certainty;
  enum tailvolt_status status =
      tailvolt_certainty(job->system, (const struct tailvolt_profile *const *)job->profiles, job->count,
                         (const struct tailvolt_result *const *)job->results, &options, out, error);
  tv_progress_end(&progress);
  if (status != TAILVOLT_OK) tv_run_failed(job->system, NULL, status, error);
  else if (out->partial)
    tv_warning(invocation->quiet, "stopped: SURE is of %d cars of %d", out->vehicles, job->vehicles);
  return tv_exit_code(status);
}

/* For what is shown in full: what the verdict hangs on, and the next step where something is missed. */
static int look_ahead(const struct tv_invocation *invocation, struct job *job) {
  int code = TV_EXIT_DONE;
  int worst = worst_run(job);
  for (int k = 0; k < job->count && code == TV_EXIT_DONE; k++) {
    if (k != worst && !tv_option_given(invocation, "details")) continue;
    code = tv_ask_parked(job->system, job->profiles[k], &job->options, job->results[k]);
    if (code != TV_EXIT_DONE) break;
    struct tv_progress progress;
    struct tailvolt_options options = job->options;
    tv_progress_begin(&progress, "trying a remedy", invocation->quiet);
    options.progress_context = &progress;
    options.progress = tv_progress_report;
    struct tailvolt_next_step step;
    enum tailvolt_status status = tailvolt_find_next_step(job->system, job->profiles[k], &options, job->results[k], &step);
    if (status == TAILVOLT_OK) tailvolt_next_step_text(&step, job->next[k], sizeof job->next[k]);
    if (status == TAILVOLT_OK && k == worst && tv_option_given(invocation, "details") && job->vehicles != 0)
      status = tailvolt_find_hangs_on(job->system, job->profiles[k], &options, job->results[k], &job->results[k]->hangs_on);
    tv_progress_end(&progress);
    if (status != TAILVOLT_OK) tv_error("%s", tailvolt_status_text(status));
    code = tv_exit_code(status);
  }
  return code;
}

static enum tailvolt_status text_report(const struct job *job, const struct tailvolt_report_style *style, char **text) {
  const char **next = calloc((size_t)job->room, sizeof *next);
  if (next == NULL) return TAILVOLT_NO_MEMORY;
  for (int k = 0; k < job->count; k++) next[k] = job->next[k][0] != '\0' ? job->next[k] : NULL;
  enum tailvolt_status status = tailvolt_report_text(job->system, (const struct tailvolt_result *const *)job->results,
                                                     job->count, next, style, text);
  free(next);
  return status;
}

static int write_report(const struct tv_invocation *invocation, struct job *job, int format) {
  const struct tailvolt_result *const *runs = (const struct tailvolt_result *const *)job->results;
  struct tailvolt_report_style style;
  char *text = NULL;
  if (!tv_style_of(invocation, job->output.file, &style)) return TV_EXIT_INPUT;
  style.details = tv_option_given(invocation, "details");
  enum tailvolt_status status =
      format == 0   ? text_report(job, &style, &text)
      : format == 1 ? tailvolt_report_json(job->system, runs, job->count, &text)
                    : tailvolt_report_csv(runs, job->count, &text);
  tv_note_runs(invocation, job->results, job->count);
  bool labelled = tv_text_ends_assumed(job->system, &style);
  if (status == TAILVOLT_OK) status = tv_made_add(invocation, format, &style, labelled, &text);
  if (status != TAILVOLT_OK) {
    tv_error("%s", tailvolt_status_text(status));
    return tv_exit_code(status);
  }
  tv_output_write(&job->output, text);
  tailvolt_report_free(text);
  return TV_EXIT_DONE;
}

static int verdict_code(const struct tv_invocation *invocation, const struct job *job) {
  for (int k = 0; k < job->count; k++)
    if (tv_option_given(invocation, "strict") &&
        !(job->results[k]->targets_met && job->results[k]->safety != TAILVOLT_FAILS))
      return TV_EXIT_MISSED;
  return TV_EXIT_DONE;
}

/* Impossible options are refused before anything is read. */
static int check_options(const struct tv_invocation *invocation, int *format, struct job *job) {
  struct tailvolt_options *run = &job->options;
  unsigned long vehicles = 0;
  static const char *const formats[] = {"text", "json", "csv", NULL};
  struct tailvolt_report_style style;
  const char *record = tv_value(invocation, "record");
  if (!tv_choice_option(invocation, "format", formats, format) || !tv_style_of(invocation, NULL, &style))
    return TV_EXIT_INPUT;
  int code = tv_run_options(invocation, run);
  run->record_every_s = 0.01;
  if (code != TV_EXIT_DONE) return code;
  if (!tv_count_option(invocation, "spread", 0, 1000000, &vehicles) ||
      !tv_count_option(invocation, "spread-seed", 0, 4294967295ul, &job->vehicle_seed))
    return TV_EXIT_INPUT;
  job->vehicles = tv_option_given(invocation, "spread") ? (int)vehicles : -1;
  if (!tv_time_option(invocation, "record-every", 1e-6, 86400.0, &run->record_every_s)) return TV_EXIT_INPUT;
  if (record == NULL) {
    if (!tv_option_given(invocation, "record-every")) return TV_EXIT_DONE;
    tv_error("--record-every needs --record FILE");
    return tv_usage_hint("simulate");
  }
  if (invocation->operand_count != 2) {
    tv_error("--record takes exactly one profile");
    return tv_usage_hint("simulate");
  }
  if (strcmp(record, "-") == 0) {
    tv_error("--record needs a file of its own");
    return tv_usage_hint("simulate");
  }
  return TV_EXIT_DONE;
}

static int tv_command_simulate(struct tv_invocation *invocation) {
  struct job job = {.vehicle_seed = 1};
  int format = 0;
  int code = check_options(invocation, &format, &job);
  if (code == TV_EXIT_DONE) code = load(invocation, &job);
  if (code == TV_EXIT_DONE) code = run_all(invocation, &job);
  if (code == TV_EXIT_DONE && format == 0) code = look_ahead(invocation, &job);
  if (code == TV_EXIT_DONE) code = find_certainty(invocation, &job);
  if (code == TV_EXIT_DONE) code = write_report(invocation, &job, format);
  int closed = tv_output_close(&job.output, code == TV_EXIT_DONE);
  if (code == TV_EXIT_DONE) code = closed;
  if (code == TV_EXIT_DONE) code = verdict_code(invocation, &job);
  unload(&job);
  return code;
}

static const struct tv_option options[] = {
    {"strict", 0, NULL, false, TV_OWN, "exit with 1 where a target is missed or SAFETY fails"},
    {"details", 'd', NULL, false, TV_OWN,
     "the whole report: budgets by use and by hand, every conductor, energy, all assumed values, fitting list"},
    {"spread", 0, "N", false, TV_OWN,
     "draw N cars like this one for the SURE line; default what takes a second or two (64), 0 = none, 1024 for finer shares"},
    {"spread-seed", 0, "N", false, TV_OWN, "other cars of the same kind; default 1"},
    {"record", 'r', "FILE.csv", false, TV_OWN, "write the time series of one profile to FILE.csv"},
    {"record-every", 0, "TIME", false, TV_OWN, "interval of the record; default 10ms"}};

static const struct tv_example examples[] = {
    {"tailvolt simulate examples/van-800w-8awg/system.ini",
     "no profile: idle at night in the rain, and on the road"},
    {"tailvolt simulate examples/van-800w-8awg/system.ini --set \"cable amplifier feed.size = 4 AWG\"",
     "the same with a thicker feed"},
    {"tailvolt simulate --from van.html", "the job of a report again"}};

const struct tv_command tv_simulate_command = {
    .name = "simulate",
    .operands = "SYSTEM [PROFILE...]",
    .summary = "run the model in time steps: voltage sag, current budget, state of charge, verdict",
    .description =
        "Reads a system file (what is in the vehicle) and load profiles (what happens), runs the "
        "simulation, and reports for each profile whether the amplifiers get their voltage, where every "
        "tenth of a volt is lost, whether the battery keeps its charge, and whether cables and fuses are "
        "safe.\n\n"
        "Without a profile it runs ten minutes of idling at night in the rain and ten minutes on the "
        "road. Where the engine is running at the start, it has already run for a minute with the music "
        "off (--settle). Several profiles are reported one after the other, worst first; as JSON they "
        "form one document {\"runs\": [...]}.\n\n"
        "JSON and the page that `report` writes hold the files and options they were made from; --from runs that job again, without "
        "its files, to the same bits. Options given besides replace those of the report. MADE BY names the version, the job, the "
        "options and the files, each with the first digits of its SHA-256; the job's is of all of it.",
    .least_operands = 1,
    .most_operands = -1,
    .groups = TV_FORMAT | TV_OUTPUT | TV_UNITS | TV_SYSTEM | TV_RUN | TV_PROFILE | TV_MADE | TV_AGAIN,
    .options = options,
    .option_count = (int)(sizeof options / sizeof options[0]),
    .examples = examples,
    .example_count = (int)(sizeof examples / sizeof examples[0]),
    .run = tv_command_simulate};
