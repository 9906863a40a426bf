/* tailvolt report: one HTML page to hand over. */
#define _POSIX_C_SOURCE 200809L

#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "command/commands.h"
#include "command/made.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "command/progress.h"
#include "command/run.h"
#include "command/terminal.h"
#include "report/html.h"
#include "tailvolt/study.h"

struct job {
  char *text; /* of the system file, for the remedy */
  struct tailvolt_setting *settings;
  int setting_count;
  struct tailvolt_system *system;
  int count, room;
  struct tailvolt_profile **profiles;
  struct tailvolt_result **results;
  struct tailvolt_system *other; /* --compare */
  struct tailvolt_result **after;
  struct tailvolt_parked *evening;
  struct tv_trace *traces;
  char (*next)[TAILVOLT_TEXT_MAX];
  struct tailvolt_options options;
  struct tailvolt_remedy *remedy;
  int worst;
  int vehicles; /* to be drawn; 0 = none, -1 = what takes a second or two */
};

static int no_memory(void) {
  tv_error("out of memory");
  return TV_EXIT_NOT_COMPUTED;
}

static int load(const struct tv_invocation *invocation, struct job *job) {
  int profiles = invocation->operand_count - 1;
  int code = tv_load_system_text(invocation, invocation->operands[0], &job->text, &job->settings, &job->setting_count, &job->system);
  if (code != TV_EXIT_DONE) return code;
  job->room = profiles > TV_STANDARD_PROFILES ? profiles : TV_STANDARD_PROFILES;
  job->profiles = calloc((size_t)job->room, sizeof *job->profiles);
  job->results = calloc((size_t)job->room, sizeof *job->results);
  job->after = calloc((size_t)job->room, sizeof *job->after);
  job->traces = calloc((size_t)job->room, sizeof *job->traces);
  job->next = calloc((size_t)job->room, sizeof *job->next);
  if (job->profiles == NULL || job->results == NULL || job->after == NULL || job->traces == NULL ||
      job->next == NULL)
    return no_memory();
  if (profiles == 0) return tv_standard_profiles(invocation, job->system, job->profiles, &job->count);
  for (int k = 0; k < profiles; k++) {
    int each = tv_load_profile(invocation, invocation->operands[k + 1], job->system, &job->profiles[k]);
    if (each == TV_EXIT_DONE)
      job->count++;
    else
      code = each;
  }
  return code;
}

static int run_all(const struct tv_invocation *invocation, struct job *job) {
  int code = TV_EXIT_DONE;
  for (int k = job->count - 1; k >= 0 && code == TV_EXIT_DONE; k--) {
    struct tailvolt_options options = job->options;
    struct tailvolt_record_sink sink = tv_trace_begin(&job->traces[k], job->system);
    options.record = &sink;
    options.record_every_s = TV_TRACE_EVERY_S;
    code = tv_run(invocation, job->system, job->profiles[k], options, &job->results[k]);
    if (job->traces[k].failed) return no_memory();
    tv_trace_end(&job->traces[k]);
    if (code == TV_EXIT_DONE) code = tv_ask_parked(job->system, job->profiles[k], &job->options, job->results[k]);
    /* idling is judged together with the road of the same day: the last of the standard profiles, so the first to
     * run */
    if (code == TV_EXIT_DONE && invocation->operand_count == 1 && k == job->count - 1)
      job->options.road_balance_a = tailvolt_charge_balance_a(job->results[k], TAILVOLT_ROAD);
  }
  for (int k = 0; k < job->count && code == TV_EXIT_DONE; k++)
    if (job->results[k]->status > job->results[job->worst]->status) job->worst = k;
  return code;
}

/* The file to compare with, before anything runs: it may name an output, or hold faults. */
static int load_other(const struct tv_invocation *invocation, struct job *job) {
  const char *path = tv_value(invocation, "compare");
  return path != NULL ? tv_load_system(invocation, path, &job->other) : TV_EXIT_DONE;
}

/* The same profiles on the file to compare with, read against it. */
static int run_other(const struct tv_invocation *invocation, struct job *job) {
  if (job->other == NULL) return TV_EXIT_DONE;
  int code = TV_EXIT_DONE;
  struct tailvolt_profile *standard[TV_STANDARD_PROFILES] = {NULL};
  int standards = 0;
  bool given = invocation->operand_count > 1;
  if (!given) code = tv_standard_profiles(invocation, job->other, standard, &standards);
  struct tailvolt_options options = job->options;
  options.road_balance_a = (double)NAN;
  for (int k = job->count - 1; k >= 0 && code == TV_EXIT_DONE; k--) {
    struct tailvolt_profile *profile = given ? NULL : standard[k];
    if (given) code = tv_load_profile(invocation, invocation->operands[k + 1], job->other, &profile);
    if (code == TV_EXIT_DONE) code = tv_run(invocation, job->other, profile, options, &job->after[k]);
    if (code == TV_EXIT_DONE && !given && k == job->count - 1)
      options.road_balance_a = tailvolt_charge_balance_a(job->after[k], TAILVOLT_ROAD);
    if (given) tailvolt_profile_free(profile);
  }
  for (int k = 0; k < standards; k++) tailvolt_profile_free(standard[k]);
  return code;
}

/* Where a playing time is wanted or a phase is parked, the evening belongs on the page. */
static int play_parked(const struct tv_invocation *invocation, struct job *job) {
  struct tailvolt_parked_options options = tailvolt_default_parked_options();
  char error[TAILVOLT_TEXT_MAX] = "";
  bool wanted = isfinite(job->system->targets.parked_s);
  for (int k = 0; k < job->count; k++) wanted = wanted || job->results[k]->phases[TAILVOLT_PARKED].present;
  if (!wanted) return TAILVOLT_OK;
  options.run = job->options;
  enum tailvolt_status status = tailvolt_parked(job->system, NULL, &options, &job->evening, error);
  if (status != TAILVOLT_OK)
    tv_warning(invocation->quiet, "no playing time parked: %s", error[0] != '\0' ? error : tailvolt_status_text(status));
  return status == TAILVOLT_NO_MEMORY ? tv_exit_code(status) : TV_EXIT_DONE;
}

/* One step for each run that misses something: quick, and enough where no remedy is searched for. */
static int try_next(const struct tv_invocation *invocation, struct job *job) {
  struct tv_progress progress;
  struct tailvolt_options options = job->options;
  tv_progress_begin(&progress, "trying the next step", invocation->quiet);
  options.progress_context = &progress;
  options.progress = tv_progress_report;
  struct tailvolt_next_step step;
  enum tailvolt_status status = tailvolt_find_next_step(job->system, job->profiles[job->worst], &options,
                                                        job->results[job->worst], &step);
  if (status == TAILVOLT_OK) tailvolt_next_step_text(&step, job->next[job->worst], sizeof job->next[job->worst]);
  tv_progress_end(&progress);
  if (status != TAILVOLT_OK) tv_error("%s", tailvolt_status_text(status));
  return tv_exit_code(status);
}

/* Cars like this one; where a remedy is searched for they are drawn meanwhile, and their progress is shown once that is done. */
struct cars {
  bool asked;
  struct tailvolt_certainty_options options;
  struct tailvolt_certainty_beside *beside; /* NULL = nothing else to do meanwhile: on all threads */
  struct tv_progress progress;
  atomic_bool shown, stopped;
};

static int look_at_cars(void *context, double done_frac) {
  struct cars *cars = context;
  if (atomic_load(&cars->stopped)) return 1;
  return atomic_load(&cars->shown) ? tv_progress_report(&cars->progress, done_frac) : 0;
}

/* In how many cars like this one all of the profiles hold; --quick and --spread 0 leave it out. */
static int begin_cars(const struct tv_invocation *invocation, struct job *job, bool beside, struct cars *cars) {
  *cars = (struct cars){.asked = !tv_option_given(invocation, "quick") && job->vehicles != 0,
                        .options = tailvolt_default_certainty_options()};
  atomic_init(&cars->shown, false);
  atomic_init(&cars->stopped, false);
  if (!cars->asked) return TV_EXIT_DONE;
  cars->options.vehicles = job->vehicles > 0 ? job->vehicles : 0;
  cars->options.run = &job->options;
  cars->options.same_day = invocation->operand_count == 1;
  cars->options.context = cars;
  cars->options.progress = look_at_cars;
  tv_note_long_draw(invocation, job->system->file, (const struct tailvolt_profile *const *)job->profiles, job->count,
                    cars->options.vehicles);
  /* before it begins: its thread, too, must leave signals to be polled */
  tv_progress_begin(&cars->progress, "cars like this one", invocation->quiet);
  if (!beside) return TV_EXIT_DONE;
  enum tailvolt_status status =
      tailvolt_certainty_begin(job->system, (const struct tailvolt_profile *const *)job->profiles, job->count,
                               (const struct tailvolt_result *const *)job->results, &cars->options, &cars->beside);
  if (status != TAILVOLT_OK) tv_progress_end(&cars->progress);
  return status == TAILVOLT_OK ? TV_EXIT_DONE : no_memory();
}

/* `code`: how all else went. */
static int end_cars(struct job *job, struct cars *cars, int code) {
  struct tailvolt_certainty certainty;
  char error[TAILVOLT_TEXT_MAX];
  if (!cars->asked) return code;
  atomic_store(code == TV_EXIT_DONE ? &cars->shown : &cars->stopped, true);
  enum tailvolt_status status =
      cars->beside != NULL
          ? tailvolt_certainty_end(cars->beside, &certainty, error)
          : tailvolt_certainty(job->system, (const struct tailvolt_profile *const *)job->profiles, job->count,
                               (const struct tailvolt_result *const *)job->results, &cars->options, &certainty, error);
  tv_progress_end(&cars->progress);
  if (code != TV_EXIT_DONE) return code;
  job->results[job->worst]->certainty = certainty;
  if (status != TAILVOLT_OK) tv_run_failed(job->system, NULL, status, error);
  return tv_exit_code(status);
}

/* A stopped search still yields what it knows. */
static int search_remedy(const struct tv_invocation *invocation, struct job *job) {
  struct tailvolt_remedy_options options = tailvolt_default_remedy_options();
  struct tv_progress progress;
  char error[TAILVOLT_TEXT_MAX] = "";
  options.run = job->options;
  if (!isnan(options.run.road_balance_a) && job->worst != job->count - 1) options.road = job->profiles[job->count - 1];
  options.prices = tv_value(invocation, "prices");
  tv_progress_begin(&progress, "searching for the smallest remedy", invocation->quiet);
  options.run.progress_context = &progress;
  options.run.progress = tv_progress_report;
  enum tailvolt_status status = tailvolt_remedy(job->text, invocation->operands[0], job->settings, job->setting_count,
                                                job->profiles[job->worst], &options, &job->remedy, error);
  tv_progress_end(&progress);
  if (status != TAILVOLT_OK && status != TAILVOLT_STOPPED)
    tv_run_failed(job->system, NULL, status, error);
  return tv_exit_code(status);
}

static bool is_to_advise(const struct tv_invocation *invocation, const struct job *job) {
  bool holds = job->results[job->worst]->status == TAILVOLT_HOLDS;
  bool lasts = job->evening == NULL || !isfinite(job->evening->wanted_s) ||
               !(job->evening->until_s < job->evening->wanted_s);
  return !(holds && (lasts || tv_option_given(invocation, "quick")));
}

/* Beside each other: a search leaves a processor idle for much of its time. */
static int advise_and_draw(const struct tv_invocation *invocation, struct job *job) {
  struct cars cars;
  bool advise = is_to_advise(invocation, job);
  int code = begin_cars(invocation, job, advise, &cars);
  if (code != TV_EXIT_DONE) return code;
  if (advise) code = tv_option_given(invocation, "quick") ? try_next(invocation, job) : search_remedy(invocation, job);
  return end_cars(job, &cars, code);
}

/* "25 November 2026", in English whatever the locale */
static void today(char *text, size_t size) {
  static const char *const months[] = {"January", "February", "March",     "April",   "May",      "June",
                                       "July",    "August",   "September", "October", "November", "December"};
  time_t now = time(NULL);
  struct tm local;
  text[0] = '\0';
  if (now == (time_t)-1 || localtime_r(&now, &local) == NULL) return;
  snprintf(text, size, "%d %s %d", local.tm_mday, months[local.tm_mon % 12], local.tm_year + 1900);
}

static int write_page(const struct tv_invocation *invocation, struct job *job, bool us_units) {
  struct tv_html_run *runs = calloc((size_t)job->count + 1, sizeof *runs);
  char date[64], *text = NULL;
  const char *given = tv_value(invocation, "date");
  if (runs == NULL) return no_memory();
  for (int k = 0; k < job->count; k++)
    runs[k] =
        (struct tv_html_run){job->results[k], &job->traces[k], job->next[k][0] != '\0' ? job->next[k] : NULL,
                             k == job->worst ? job->remedy : NULL, job->after[k]};
  today(date, sizeof date);
  tv_note_runs(invocation, job->results, job->count);
  struct tv_html_report report = {.system = job->system,
                                  .run_count = job->count,
                                  .runs = runs,
                                  .other = job->other,
                                  .evening = job->evening,
                                  .us_units = us_units,
                                  .date = given != NULL ? given : date,
                                  .note = tv_value(invocation, "note"),
                                  .made = invocation->made != NULL ? tv_made_of(invocation, date) : NULL};
  enum tailvolt_status status = tv_html(&report, &text);
  free(runs);
  if (status != TAILVOLT_OK) {
    tv_error("%s", tailvolt_status_text(status));
    return tv_exit_code(status);
  }
  int code = tv_output_text(invocation, text);
  tailvolt_report_free(text);
  return code;
}

static void unload(struct job *job) {
  for (int k = 0; k < job->room; k++) {
    if (job->profiles != NULL) tailvolt_profile_free(job->profiles[k]);
    if (job->results != NULL) tailvolt_result_free(job->results[k]);
    if (job->after != NULL) tailvolt_result_free(job->after[k]);
    if (job->traces != NULL) tv_trace_free(&job->traces[k]);
  }
  free(job->profiles);
  free(job->results);
  free(job->after);
  tailvolt_system_free(job->other);
  tailvolt_parked_free(job->evening);
  free(job->traces);
  free(job->next);
  free(job->settings);
  tailvolt_remedy_free(job->remedy);
  tailvolt_system_free(job->system);
  tailvolt_system_text_free(job->text);
}

static int tv_command_report(struct tv_invocation *invocation) {
  struct job job = {0};
  struct tailvolt_report_style style;
  unsigned long vehicles = 0;
  if (!tv_style_of(invocation, NULL, &style) || !tv_count_option(invocation, "spread", 0, 1000000, &vehicles))
    return TV_EXIT_INPUT;
  job.vehicles = tv_option_given(invocation, "spread") ? (int)vehicles : -1;
  int code = tv_run_options(invocation, &job.options);
  if (code == TV_EXIT_DONE) code = load(invocation, &job);
  if (code == TV_EXIT_DONE) code = load_other(invocation, &job);
  if (code == TV_EXIT_DONE) code = run_all(invocation, &job);
  if (code == TV_EXIT_DONE) code = run_other(invocation, &job);
  if (code == TV_EXIT_DONE) code = play_parked(invocation, &job);
  if (code == TV_EXIT_DONE) code = advise_and_draw(invocation, &job);
  if (code == TV_EXIT_DONE) code = write_page(invocation, &job, style.us_units);
  if (code == TV_EXIT_DONE && tv_option_given(invocation, "strict") &&
      !(job.results[job.worst]->targets_met && job.results[job.worst]->safety != TAILVOLT_FAILS))
    code = TV_EXIT_MISSED;
  unload(&job);
  return code;
}

static const struct tv_option options[] = {
    {"quick", 0, NULL, false, TV_OWN, "try one next step instead of searching for the smallest remedy"},
    {"spread", 0, "N", false, TV_OWN, "draw N cars to say how sure the verdict is; default what takes a second or two, 0 = leave it out"},
    {"compare", 0, "OTHER.ini", false, TV_OWN, "before and after: the same profiles on this system file"},
    {"prices", 0, "FILE.csv", false, TV_OWN, "your own currency, prices and hours, for the remedy's total in money"},
    {"note", 0, "TEXT", false, TV_OWN, "a line of your own at the top, such as job and customer"},
    {"date", 0, "TEXT", false, TV_OWN, "the date at the top instead of today's"},
    {"strict", 0, NULL, false, TV_OWN, "exit with 1 where a target is missed or SAFETY fails"}};

static const struct tv_example examples[] = {
    {"tailvolt report examples/van-800w-8awg/system.ini examples/van-800w-8awg/profile.csv -o van.html",
     "the page of the van that fails, with the smallest change that would hold"},
    {"tailvolt report examples/reference/ten-line.ini --quick -o page.html",
     "idle and road, with one next step only"}};

const struct tv_command tv_report_command = {
    .name = "report",
    .operands = "SYSTEM [PROFILE...]",
    .summary = "one self-contained HTML page for customer or class",
    .description =
        "Simulates as `simulate` does and writes one HTML page. The first part is for the customer: the "
        "question, the verdict in one sentence, voltage over time and the worst beat, what to change and "
        "what it takes, the evening parked if a playing time is wanted, what is taken for granted, a line "
        "to sign. The second is for the workshop: the feed path, the sag ledger, what each change is worth, "
        "cables and fuses, what to measure, what was assumed, cautions. The page needs no other file and "
        "no network, prints on two A4 sheets and can be read on a phone. It holds the files and options it was made from, in a block "
        "that no browser shows: --from makes the page again, byte for byte. Recordings and files of more than 1 MiB are named by "
        "their SHA-256: keep them beside the page.\n\n"
        "If a target is missed, the smallest remedy is searched for, which takes about a hundred runs; "
        "--quick tries a single step.",
    .least_operands = 1,
    .most_operands = -1,
    .groups = TV_OUTPUT | TV_UNITS | TV_SYSTEM | TV_RUN | TV_PROFILE | TV_MADE | TV_AGAIN,
    .options = options,
    .option_count = (int)(sizeof options / sizeof options[0]),
    .examples = examples,
    .example_count = (int)(sizeof examples / sizeof examples[0]),
    .run = tv_command_report};
