#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "command/commands.h"
#include "command/made.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "command/progress.h"
#include "command/run.h"
#include "command/terminal.h"
#include "text/number.h"
#include "tailvolt/remedy.h"
#include "tailvolt/report.h"

/* Everything one call owns, freed in one place. */
struct job {
  char *text; /* of the system file */
  struct tailvolt_setting *settings;
  int setting_count;
  struct tailvolt_system *system;
  int profile_count;
  struct tailvolt_profile *profiles[TV_STANDARD_PROFILES];
  struct tailvolt_remedy_options options;
  struct tailvolt_remedy *remedy;
  struct tv_output output, write;
};

/* Idling is judged together with the road of the same day. */
static int drive(const struct tv_invocation *invocation, struct job *job) {
  struct tailvolt_result *road = NULL;
  int code = tv_run(invocation, job->system, job->profiles[job->profile_count - 1], job->options.run, &road);
  if (code == TV_EXIT_DONE) job->options.run.road_balance_a = tailvolt_charge_balance_a(road, TAILVOLT_ROAD);
  job->options.road = job->profiles[job->profile_count - 1];
  tailvolt_result_free(road);
  return code;
}

/* The file is kept as text: settings are tried on it again and again. */
static int load(const struct tv_invocation *invocation, struct job *job) {
  int code = tv_load_system_text(invocation, invocation->operands[0], &job->text, &job->settings, &job->setting_count, &job->system);
  if (code != TV_EXIT_DONE) return code;
  if (invocation->operand_count < 2) {
    code = tv_standard_profiles(invocation, job->system, job->profiles, &job->profile_count);
    return code == TV_EXIT_DONE && job->profile_count > 1 ? drive(invocation, job) : code;
  }
  job->profile_count = 1;
  return tv_load_profile(invocation, invocation->operands[1], job->system, &job->profiles[0]);
}

static void unload(struct job *job) {
  tailvolt_remedy_free(job->remedy);
  for (int k = 0; k < TV_STANDARD_PROFILES; k++) tailvolt_profile_free(job->profiles[k]);
  tailvolt_system_free(job->system);
  free(job->settings);
  tailvolt_system_text_free(job->text);
}

/* A stopped search is still reported, marked as such. */
static int search(const struct tv_invocation *invocation, struct job *job) {
  struct tv_progress progress;
  char error[TAILVOLT_TEXT_MAX] = "";
  tv_progress_begin(&progress, "remedy", invocation->quiet);
  job->options.run.progress_context = &progress;
  job->options.run.progress = tv_progress_report;
  enum tailvolt_status status =
      tailvolt_remedy(job->text, invocation->operands[0], job->settings, job->setting_count, job->profiles[0],
                      &job->options, &job->remedy, error);
  tv_progress_end(&progress);
  job->options.run.progress_context = NULL;
  if (status == TAILVOLT_STOPPED)
    tv_error("stopped at %s %% of the search%s", tv_fixed(100.0 * progress.done_frac, 0).text,
             job->remedy != NULL ? "; what follows is partial" : "");
  else if (status != TAILVOLT_OK)
    tv_run_failed(job->system, NULL, status, error);
  return tv_exit_code(status);
}

static int write_report(const struct tv_invocation *invocation, struct job *job, int format) {
  struct tailvolt_report_style style;
  char *text = NULL;
  if (!tv_style_of(invocation, job->output.file, &style)) return TV_EXIT_INPUT;
  enum tailvolt_status status = format == 0 ? tailvolt_report_remedy_text(job->system, job->remedy, &style, &text)
                                : format == 1 ? tailvolt_report_remedy_json(job->system, job->remedy, &text)
                                              : tailvolt_report_remedy_csv(job->remedy, &text);
  if (status == TAILVOLT_OK) status = tv_made_add(invocation, format, &style, false, &text);
  if (status != TAILVOLT_OK) {
    tv_error("%s", tailvolt_status_text(status));
    return tv_exit_code(status);
  }
  fputs(text, job->output.file);
  tailvolt_report_free(text);
  return TV_EXIT_DONE;
}

/* Writes the remedied system, comments kept. */
static int write_system(const struct tv_invocation *invocation, struct job *job) {
  char *text = NULL;
  if (tv_value(invocation, "write") == NULL) return TV_EXIT_DONE;
  if (!job->remedy->found) {
    tv_warning(invocation->quiet, "nothing to write: no remedy was found");
    return TV_EXIT_DONE;
  }
  enum tailvolt_status status = tailvolt_remedy_write(job->text, job->settings, job->setting_count,
                                                      &job->remedy->chosen, &text);
  if (status != TAILVOLT_OK) {
    tv_error("%s", tailvolt_status_text(status));
    return tv_exit_code(status);
  }
  fputs(text, job->write.file);
  tailvolt_report_free(text);
  return TV_EXIT_DONE;
}

static int check_options(const struct tv_invocation *invocation, int *format,
                         struct tailvolt_remedy_options *options) {
  static const char *const formats[] = {"text", "json", "csv", NULL};
  struct tailvolt_report_style style;
  unsigned long threads = 0, parts = 3, vehicles = 64;
  const char *write = tv_value(invocation, "write");
  *options = tailvolt_default_remedy_options();
  if (!tv_choice_option(invocation, "format", formats, format) || !tv_style_of(invocation, NULL, &style))
    return TV_EXIT_INPUT;
  int code = tv_run_options(invocation, &options->run);
  if (code != TV_EXIT_DONE) return code;
  if (!tv_time_option(invocation, "parked", 60.0, 48.0 * 3600.0, &options->parked_s) ||
      !tv_count_option(invocation, "threads", 1, 1024, &threads) ||
      !tv_count_option(invocation, "parts", 1, 3, &parts) ||
      !tv_count_option(invocation, "spread", 0, 1000000, &vehicles) ||
      !tv_quantity_option(invocation, "sure", TAILVOLT_SHARE, 0.01, 1.0, &options->sure_frac))
    return TV_EXIT_INPUT;
  options->vehicles = (int)vehicles;
  if (vehicles == 0 && tv_option_given(invocation, "sure")) {
    tv_error("--sure counts cars that are drawn; --spread 0 draws none");
    return tv_usage_hint("remedy");
  }
  options->threads = (int)threads;
  options->most_parts = (int)parts;
  options->catalogue = tv_value(invocation, "catalogue");
  options->prices = tv_value(invocation, "prices");
  options->cheapest = tv_option_given(invocation, "cheapest");
  if (write != NULL && strcmp(write, "-") == 0) {
    tv_error("--write needs a file of its own");
    return tv_usage_hint("remedy");
  }
  return TV_EXIT_DONE;
}

static int tv_command_remedy(struct tv_invocation *invocation) {
  struct job job = {0};
  int format = 0;
  int code = check_options(invocation, &format, &job.options);
  if (code == TV_EXIT_DONE) code = load(invocation, &job);
  if (code == TV_EXIT_DONE) code = tv_output_open(invocation, tv_value(invocation, "output"), &job.output);
  if (code == TV_EXIT_DONE && tv_value(invocation, "write") != NULL)
    code = tv_output_open(invocation, tv_value(invocation, "write"), &job.write);
  bool ready = code == TV_EXIT_DONE;
  if (ready) code = search(invocation, &job);
  if (ready && job.remedy != NULL) {
    int written = write_report(invocation, &job, format);
    if (code == TV_EXIT_DONE) code = written;
  }
  if (code == TV_EXIT_DONE) code = write_system(invocation, &job);
  bool keep_report = code == TV_EXIT_DONE || (code == TV_EXIT_STOPPED && job.remedy != NULL);
  int closed = tv_output_close(&job.output, keep_report);
  int kept = tv_output_close(&job.write, code == TV_EXIT_DONE && job.remedy != NULL && job.remedy->found);
  if (code == TV_EXIT_DONE) code = closed != TV_EXIT_DONE ? closed : kept;
  if (code == TV_EXIT_DONE && tv_option_given(invocation, "strict") && !job.remedy->found) code = TV_EXIT_MISSED;
  unload(&job);
  return code;
}

static const struct tv_option options[] = {
    {"parked", 0, "TIME", false, TV_OWN, "playing time wanted with the engine off, such as 2h"},
    {"catalogue", 0, "FILE.csv", false, TV_OWN, "sizes, costs and hours in place of those built in"},
    {"prices", 0, "FILE.csv", false, TV_OWN, "your own currency, prices and hours, for totals in money"},
    {"cheapest", 0, NULL, false, TV_OWN, "choose the cheapest set, even if it only covers up a fault in the wiring"},
    {"sure", 0, "SHARE", false, TV_OWN, "choose the cheapest set that holds in this share of such cars: 90%"},
    {"spread", 0, "N", false, TV_OWN, "cars drawn to say in how many a set holds; default 64, 0 = none"},
    {"parts", 0, "N", false, TV_OWN, "at most N cures in one set, 1 to 3; default 3"},
    {"threads", 0, "N", false, TV_OWN, "runs at the same time; default one per processor"},
    {"write", 'w', "NEW.ini", false, TV_OWN, "write the remedied system file, comments kept"},
    {"strict", 0, NULL, false, TV_OWN, "exit with 1 if no set of cures is enough"}};

static const struct tv_example examples[] = {
    {"tailvolt remedy examples/van-800w-8awg/system.ini examples/van-800w-8awg/profile.csv",
     "the smallest set of changes that puts the van right"},
    {"tailvolt remedy examples/van-800w-8awg/system.ini --parked 80min --write remedied.ini",
     "at idle in the rain, and 80 minutes parked; written as a new system file"}};

const struct tv_command tv_remedy_command = {
    .name = "remedy",
    .operands = "SYSTEM [PROFILE]",
    .summary = "find the smallest change that makes it hold, by simulation",
    .description =
        "Runs the profile as it is, then with one thing at a time made ideal (wire, battery, alternator, "
        "capacitor) to find the cause, then with each cure alone, then with sets of up to three, beside sound "
        "joints and a thicker cable that comes first: thicker feed and ground, straps, cleaned joints, a capacitor, "
        "a bigger or second battery, a bigger alternator, a bigger converter before a battery that runs down, "
        "a raised idle. Names the cheapest "
        "set that meets every target of the system file and mends the cause first (with --cheapest of all), "
        "the runners-up, a cheaper cure that holds by itself, the leads to lay, and what each cure is worth on "
        "its own. A lead gets no more than its amplifiers call for; fuses let pass what they take, within what the cable bears.\n\n"
        "Every figure comes from a run of the whole profile. A run is stopped early only once a target is "
        "certain to be missed; a set that is not shown is passed over by a run in longer steps where that is "
        "clear. Sizes, costs and hours come from a catalogue (profiles/catalogue.csv), which --catalogue "
        "replaces.\n\n"
        "Cars like this one are drawn to say in how many a set holds. With --sure a set that holds in fewer "
        "of them counts as failing, and the search goes on until the cheapest that does is found, or 40 sets "
        "have been counted: the result says which.\n\n"
        "Without a profile it runs ten minutes of idling at night in the rain. Ctrl-C ends the search and "
        "reports what is known so far.",
    .least_operands = 1,
    .most_operands = 2,
    .groups = TV_FORMAT | TV_OUTPUT | TV_UNITS | TV_SYSTEM | TV_RUN | TV_PROFILE | TV_MADE | TV_AGAIN,
    .options = options,
    .option_count = (int)(sizeof options / sizeof options[0]),
    .examples = examples,
    .example_count = (int)(sizeof examples / sizeof examples[0]),
    .run = tv_command_remedy};
