#include <stdlib.h>
#include <string.h>

#include "command/again.h"
#include "command/commands.h"
#include "command/made.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "command/run.h"
#include "command/terminal.h"
#include "report/understood.h"
#include "text/buffer.h"
#include "text/number.h"
#include "tailvolt/report.h"

/* The car whose names a profile is checked against when no system precedes it. */
static const char standard_system[] =
    "[battery]\ncapacity = 70 Ah\n[alternator]\nrated current = 110 A\n[amplifier bass]\n"
    "rated power = 800 W\n[cable feed]\nsize = 8 AWG\nlength = 5.5 m\n";

struct checking {
  const struct tv_invocation *invocation;
  struct tailvolt_report_style style;
  struct tailvolt_system *system;   /* the last one read */
  struct tailvolt_system *standard; /* for a profile with no system before it; nothing is said of this car */
  struct tailvolt_faults *all, *each;
  struct tv_buffer text;
  bool no_memory;                   /* what was found is not all there is to find, or not so */
  int code;
};

static bool ends_in(const char *path, const char *end) {
  size_t length = strlen(path), short_length = strlen(end);
  return length >= short_length && strcmp(path + length - short_length, end) == 0;
}

static void gather(struct checking *checking, const char *path, enum tailvolt_status status) {
  struct tailvolt_faults *each = checking->each, *all = checking->all;
  if (status == TAILVOLT_OK) return;
  checking->no_memory = checking->no_memory || status == TAILVOLT_NO_MEMORY;
  if (each->count == 0) {
    struct tailvolt_fault *fault = &each->fault[each->count++];
    snprintf(fault->file, sizeof fault->file, "%s", path);
    snprintf(fault->message, sizeof fault->message, "%s", tailvolt_status_text(status));
  }
  for (int k = 0; k < each->count; k++) {
    if (all->count < TAILVOLT_FAULTS_MAX) all->fault[all->count++] = each->fault[k];
    else all->dropped++;
  }
  all->dropped += each->dropped;
  if (tv_exit_code(status) > checking->code) checking->code = tv_exit_code(status);
}

static void add_text(struct checking *checking, char *text) {
  if (text == NULL) checking->text.failed = true;
  else tv_buffer_add(&checking->text, text);
  tailvolt_report_free(text);
}

/* Below a sine's crest factor everything is clipped: possible, but seldom intended. */
static void warn_of_crest(const struct checking *checking, const struct tailvolt_system *system) {
  const double sine_db = 3.01;
  for (int k = 0; k < system->programme_count; k++) {
    const struct tailvolt_programme *from = &system->programmes[k];
    if (from->recording[0] != '\0' || from->envelope[0] != '\0' || !(from->crest_db < sine_db - 1e-9)) continue;
    tv_warning(checking->invocation->quiet,
               "%s: programme %s: a crest factor of %s dB is below that of a sine (3.01 dB): clipped throughout",
               system->file, from->name, tv_compact(from->crest_db, 2).text);
  }
}

static void check_system(struct checking *checking, const char *path) {
  const struct tv_invocation *invocation = checking->invocation;
  int count = 0;
  struct tailvolt_setting *settings = tv_settings(invocation, &count);
  struct tailvolt_system *system = NULL;
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  char *text = NULL, error[TAILVOLT_TEXT_MAX] = "";
  if (settings != NULL) status = tailvolt_system_text(path, &text, error);
  if (status == TAILVOLT_OK) {
    /* also what a refused one names is not written over */
    status = tv_note_named(invocation, text, path, settings, count)
                 ? tailvolt_system_parse(text, path, settings, count, &system, checking->each)
                 : TAILVOLT_NO_MEMORY;
  } else if (status != TAILVOLT_NO_MEMORY) {
    struct tailvolt_fault *fault = &checking->each->fault[checking->each->count++];
    snprintf(fault->file, sizeof fault->file, "%s", path);
    snprintf(fault->message, sizeof fault->message, "%s%s", status == TAILVOLT_NOT_READABLE ? "cannot be read: " : "", error);
  }
  tailvolt_system_text_free(text);
  free(settings);
  if (status == TAILVOLT_OK) status = tailvolt_check(system, checking->each);
  gather(checking, path, status);
  if (status != TAILVOLT_OK) {
    tailvolt_system_free(system);
    return;
  }
  tailvolt_system_free(checking->system);
  checking->system = system;
  (void)tv_note_programmes(invocation, system, false);
  warn_of_crest(checking, system);
  add_text(checking, tv_system_understood(system, &checking->style));
  if (tv_option_given(invocation, "explain")) add_text(checking, tv_batteries_explained(system));
}

static void check_profile(struct checking *checking, const char *path) {
  struct tailvolt_profile *profile = NULL;
  enum tailvolt_status status = TAILVOLT_OK;
  if (checking->system == NULL && checking->standard == NULL)
    status = tailvolt_system_parse(standard_system, "the standard car", NULL, 0, &checking->standard, checking->each);
  const struct tailvolt_system *system = checking->system != NULL ? checking->system : checking->standard;
  if (status == TAILVOLT_OK)
    status = tailvolt_profile_read(path, tv_value(checking->invocation, "columns"), system, &profile, checking->each);
  gather(checking, path, status);
  if (status != TAILVOLT_OK) return;
  add_text(checking, tv_profile_understood(path, profile, system, &checking->style));
  tailvolt_profile_free(profile);
}

/* A report: whether it is as it was made, and whether the files that it only names are there. */
static void check_report(struct checking *checking, const char *path) {
  struct tv_again again;
  int code = tv_again_read(path, true, &again);
  if (code == TV_EXIT_DONE && again.from.report_changed) {
    tv_error("%s: was changed after it was made, all but what it was made from: it may say anything; --from still runs the job", path);
    code = TV_EXIT_INPUT;
  }
  if (!tv_note_report(checking->invocation, &again)) {
    tv_error("out of memory");
    code = TV_EXIT_NOT_COMPUTED;
  }
  if (code == TV_EXIT_DONE) add_text(checking, tv_made_understood(&again.from, path, &checking->style));
  if (code > checking->code) checking->code = code;
  tv_again_end(&again);
}

static bool is_report(const char *path) { return ends_in(path, ".html") || ends_in(path, ".htm") || ends_in(path, ".json"); }

static void check_file(struct checking *checking, const char *path) {
  *checking->each = (struct tailvolt_faults){0};
  if (ends_in(path, ".csv")) check_profile(checking, path);
  else if (is_report(path)) check_report(checking, path);
  else check_system(checking, path);
}

/* In the order given; profiles with no system before them wait for the first. */
static void check_files(struct checking *checking, const char *const *paths, int count) {
  int first = 0;
  while (first < count && (ends_in(paths[first], ".csv") || is_report(paths[first]))) first++;
  if (first < count) check_file(checking, paths[first]);
  for (int k = 0; k < count; k++)
    if (k != first) check_file(checking, paths[k]);
}

static int finish(struct checking *checking, bool json) {
  char *text = NULL;
  enum tailvolt_status status = tv_buffer_finish(&checking->text, &text);
  if (status == TAILVOLT_OK && checking->no_memory) {
    tailvolt_report_free(text);
    status = TAILVOLT_NO_MEMORY;
  }
  if (status == TAILVOLT_OK && json) {
    tailvolt_report_free(text);
    status = tailvolt_report_faults_json(checking->all, checking->system, &text);
  }
  if (status != TAILVOLT_OK) {
    tv_error("%s", tailvolt_status_text(status));
    return tv_exit_code(status);
  }
  if (!json) tv_print_faults(checking->all);
  /* where nothing was understood there is nothing to write, and what is there stays */
  int code = text[0] != '\0' ? tv_output_text(checking->invocation, text) : TV_EXIT_DONE;
  tailvolt_report_free(text);
  return code != TV_EXIT_DONE ? code : checking->code;
}

static int tv_command_check(struct tv_invocation *invocation) {
  static const char *const formats[] = {"text", "json", NULL};
  struct checking checking = {.invocation = invocation};
  int format = 0;
  FILE *out = tv_option_given(invocation, "output") ? NULL : stdout;
  if (!tv_choice_option(invocation, "format", formats, &format) || !tv_style_of(invocation, out, &checking.style))
    return TV_EXIT_INPUT;
  int code = TV_EXIT_NOT_COMPUTED;
  checking.all = calloc(1, sizeof *checking.all);
  checking.each = calloc(1, sizeof *checking.each);
  if (checking.all == NULL || checking.each == NULL) {
    tv_error("out of memory");
  } else {
    check_files(&checking, invocation->operands, invocation->operand_count);
    code = finish(&checking, format == 1);
  }
  tailvolt_system_free(checking.system);
  tailvolt_system_free(checking.standard);
  free(checking.all);
  free(checking.each);
  return code;
}

static const struct tv_option options[] = {
    {"explain", 0, NULL, false, TV_OWN, "also show what was derived from each battery's label"}};

static const struct tv_example examples[] = {
    {"tailvolt check examples/van-800w-8awg/system.ini profiles/parked.csv", "a system file and a profile for it"}};

const struct tv_command tv_check_command = {
    .name = "check",
    .operands = "FILES",
    .summary = "read the files, list every fault, show what was understood",
    .description =
        "Reads system files and profiles (names that end in .csv) without running anything. Each fault is "
        "printed on a line of its own with file, line, column, key, value and what is accepted. For a "
        "valid file it shows what was understood: the parts, where they are connected, their resistances, "
        "what is unsafe in the wiring, and every value that was assumed. A profile is checked against the system file before it, else "
        "against the first one given, else against the standard car. Standard input (-) is read as a "
        "system file. Of a report (.html, .json) it says what it was made from, refuses one that was changed since, and looks for "
        "the files that it names without holding them.",
    .least_operands = 1,
    .most_operands = -1,
    .groups = TV_FORMAT | TV_OUTPUT | TV_UNITS | TV_SYSTEM | TV_PROFILE,
    .options = options,
    .option_count = (int)(sizeof options / sizeof options[0]),
    .examples = examples,
    .example_count = (int)(sizeof examples / sizeof examples[0]),
    .run = tv_command_check};
