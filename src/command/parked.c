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
#include "text/nearest.h"
#include "text/number.h"
#include "tailvolt/study.h"

enum { COMMON_VEHICLES = 64 }; /* well under a second */

/* A level may be a bare number: it can only be dB. */
static bool level(const struct tv_invocation *invocation, double *level_db) {
  const char *given = tv_value(invocation, "level");
  if (given == NULL) return true;
  size_t length = strlen(given);
  bool bare = length > 0 && given[length - 1] >= '0' && given[length - 1] <= '9';
  return bare ? tv_number_option(invocation, "level", -100, 20, level_db)
              : tv_quantity_option(invocation, "level", TAILVOLT_LEVEL, -100, 20, level_db);
}

static int read_options(const struct tv_invocation *invocation, int *format,
                        struct tailvolt_parked_options *o) {
  static const char *const formats[] = {"text", "json", "csv", NULL};
  struct tailvolt_report_style style;
  unsigned long vehicles = COMMON_VEHICLES, threads = 0;
  *o = tailvolt_default_parked_options();
  if (!tv_choice_option(invocation, "format", formats, format) || !tv_style_of(invocation, NULL, &style))
    return TV_EXIT_INPUT;
  int code = tv_run_options(invocation, &o->run);
  if (code != TV_EXIT_DONE) return code;
  if (tv_option_given(invocation, "settle")) {
    tv_error("parked begins with a rested battery; --settle does not apply");
    return tv_usage_hint("parked");
  }
  if (!level(invocation, &o->level_db) || !tv_quantity_option(invocation, "floor", TAILVOLT_VOLTAGE, 3, 12, &o->floor_v) ||
      !tv_quantity_option(invocation, "soc-limit", TAILVOLT_SHARE, 0, 1, &o->soc_limit_frac) ||
      !tv_quantity_option(invocation, "rest-limit", TAILVOLT_VOLTAGE, 9, 14, &o->rest_limit_v) ||
      !tv_quantity_option(invocation, "temperature", TAILVOLT_TEMPERATURE, -40, 60, &o->ambient_c) ||
      !tv_time_option(invocation, "pause", 0, 7 * 86400.0, &o->pause_s) ||
      !tv_time_option(invocation, "for", 1, 1000 * 3600.0, &o->wanted_s) ||
      !tv_time_option(invocation, "longest", 60, 1000 * 3600.0, &o->limit_s) ||
      !tv_count_option(invocation, "spread", 0, 1000000, &vehicles) ||
      !tv_count_option(invocation, "threads", 1, 1024, &threads))
    return TV_EXIT_INPUT;
  o->solve_level = tv_option_given(invocation, "for");
  o->full = tv_option_given(invocation, "full");
  o->vehicles = (int)vehicles;
  o->spread_if_quick = !tv_option_given(invocation, "spread");
  o->threads = (int)threads;
  return TV_EXIT_DONE;
}

static int find_programme(const struct tv_invocation *invocation, const struct tailvolt_system *system,
                          int *index) {
  const char *name = tv_value(invocation, "programme");
  if (name == NULL) return TV_EXIT_DONE;
  if (strcmp(name, "silence") == 0) {
    tv_error("--programme silence: nothing would play");
    return TV_EXIT_INPUT;
  }
  const char *words[64];
  size_t count = 0;
  for (int k = 0; k < system->programme_count; k++) {
    if (strcmp(system->programmes[k].name, name) == 0) {
      *index = k;
      return TV_EXIT_DONE;
    }
    if (count < 64) words[count++] = system->programmes[k].name;
  }
  const char *nearest = tv_nearest_word(name, words, count);
  if (nearest != NULL)
    tv_error("--programme %s: %s has no such programme; did you mean %s?", name, system->file, nearest);
  else
    tv_error("--programme %s: %s has no such programme", name, system->file);
  return TV_EXIT_INPUT;
}

static int study(const struct tv_invocation *invocation, const struct tailvolt_system *system,
                 const struct tailvolt_profile *profile, struct tailvolt_parked_options options,
                 struct tailvolt_parked **out) {
  struct tv_progress progress;
  char error[TAILVOLT_TEXT_MAX] = "";
  tv_progress_begin(&progress, options.vehicles > 0 ? "vehicles" : "parked", invocation->quiet);
  options.run.progress_context = &progress;
  options.run.progress = tv_progress_report;
  enum tailvolt_status status = tailvolt_parked(system, profile, &options, out, error);
  tv_progress_end(&progress);
  if (status == TAILVOLT_STOPPED)
    tv_error("stopped before the playing time was found");
  else if (status != TAILVOLT_OK)
    tv_run_failed(system, system->file, status, error);
  else if ((*out)->spread.partial)
    tv_warning(invocation->quiet, "stopped: the spread is of %d vehicles of %d", (*out)->spread.done,
               (*out)->spread.vehicles);
  return tv_exit_code(status);
}

static int write_report(const struct tv_invocation *invocation, const struct tailvolt_system *system,
                        const struct tailvolt_parked *parked, int format, struct tv_output *output) {
  struct tailvolt_report_style style;
  char *text = NULL;
  if (!tv_style_of(invocation, output->file, &style)) return TV_EXIT_INPUT;
  enum tailvolt_status status = format == 0   ? tailvolt_report_parked_text(system, parked, &style, &text)
                                : format == 1 ? tailvolt_report_parked_json(system, parked, &text)
                                              : tailvolt_report_parked_csv(parked, &text);
  if (status == TAILVOLT_OK) status = tv_made_add(invocation, format, &style, false, &text);
  if (status != TAILVOLT_OK) {
    tv_error("%s", tailvolt_status_text(status));
    return tv_exit_code(status);
  }
  fputs(text, output->file);
  tailvolt_report_free(text);
  return TV_EXIT_DONE;
}

/* What the first screen marks FAILS. */
static bool fails(const struct tailvolt_parked *parked) {
  for (int k = 0; k < parked->finding_count; k++)
    if (parked->findings[k].status == TAILVOLT_FAILS) return true;
  return parked->until_s < parked->wanted_s;
}

static int tv_command_parked(struct tv_invocation *invocation) {
  struct tailvolt_parked_options options;
  struct tailvolt_system *system = NULL;
  struct tailvolt_profile *profile = NULL;
  struct tailvolt_parked *parked = NULL;
  struct tv_output output = {0};
  int format = 0;
  int code = read_options(invocation, &format, &options);
  if (code == TV_EXIT_DONE) code = tv_load_system(invocation, invocation->operands[0], &system);
  if (code == TV_EXIT_DONE && invocation->operand_count > 1)
    code = tv_load_evening(invocation, invocation->operands[1], system, &profile);
  if (code == TV_EXIT_DONE) code = find_programme(invocation, system, &options.programme);
  if (code == TV_EXIT_DONE && options.full)
    tv_note_long_run(invocation, invocation->operands[0], "playing, or less if it ends sooner,", options.limit_s);
  else if (code == TV_EXIT_DONE)
    tv_note_long_run(invocation, invocation->operands[0], "playing, in pieces,", fmin(TV_PLAYING_SPAN_S, options.limit_s));
  if (code == TV_EXIT_DONE) code = tv_output_open(invocation, tv_value(invocation, "output"), &output);
  if (code == TV_EXIT_DONE) code = study(invocation, system, profile, options, &parked);
  if (code == TV_EXIT_DONE) code = write_report(invocation, system, parked, format, &output);
  int closed = tv_output_close(&output, code == TV_EXIT_DONE);
  if (code == TV_EXIT_DONE) code = closed;
  if (code == TV_EXIT_DONE && tv_option_given(invocation, "strict") && fails(parked)) code = TV_EXIT_MISSED;
  /* what was done is written, and the exit code still says it was stopped */
  if (code == TV_EXIT_DONE && parked->spread.partial) code = TV_EXIT_STOPPED;
  tailvolt_parked_free(parked);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return code;
}

static const struct tv_option options[] = {
    {"programme", 0, "NAME", false, TV_OWN,
     "what an amplifier without its own programme plays; default the first in the file"},
    {"level", 0, "DB", false, TV_OWN, "playing level, 0 = just below clipping; added to a profile's levels"},
    {"for", 0, "TIME", false, TV_OWN, "wanted playing time, such as 3h: also finds the level that lasts that long"},
    {"floor", 0, "VOLTAGE", false, TV_OWN,
     "lowest voltage at the posts at which the starter still turns the engine; default what it needs at that temperature"},
    {"pause", 0, "TIME", false, TV_OWN, "silence before the restart; default 60s"},
    {"soc-limit", 0, "SHARE", false, TV_OWN,
     "state of charge at which playing stops; default 50% (lithium-iron 20%), 0% = no limit"},
    {"rest-limit", 0, "VOLTAGE", false, TV_OWN, "rested voltage at which playing stops; default none"},
    {"temperature", 0, "T", false, TV_OWN, "outside air, such as -10C, instead of the files'"},
    {"longest", 0, "TIME", false, TV_OWN, "stop looking after this long; default 48h"},
    {"spread", 0, "N", false, TV_OWN,
     "draw N cars like this one; default 64, 0 = none, 1024 for finer shares"},
    {"threads", 0, "N", false, TV_OWN, "processors that --spread uses; default all"},
    {"full", 0, NULL, false, TV_OWN,
     "simulate every step of the evening: slower, within 0.5 % of the quick answer; where a relay opens under music, within its cycle"},
    {"strict", 0, NULL, false, TV_OWN, "exit with 1 where the wanted time is not reached or SAFETY fails"}};

static const struct tv_example examples[] = {
    {"tailvolt parked examples/van-put-right/system.ini --for 3h",
     "the playing time, and the level that lasts 3 h"},
    {"tailvolt parked examples/van-put-right/system.ini --level -6 --temperature -10C --spread 256",
     "a frosty evening, quieter, with its spread"}};

const struct tv_command tv_parked_command = {
    .name = "parked",
    .operands = "SYSTEM [PROFILE]",
    .summary = "engine off: how long it can play and still start",
    .description =
        "Plays with the engine off until the first of these: the car could no longer be restarted, an "
        "amplifier cuts out, a battery reaches its limit of charge or rested voltage, 48 h are up. The "
        "restart is simulated: music off, a pause, then the starter's currents at the outside "
        "temperature, drawn from the battery that starts the car.\n\n"
        "Without a profile every amplifier plays its music at one level; with one, it plays what the "
        "profile says and then holds its last row. The target `parked` in the system file "
        "counts as --for.\n\n"
        "SURE and --spread describe cars like this one: they differ in what the file leaves to assumption, in labels, and within "
        "the errors of measured values (age and charge of the battery, joints, cable, cold); the music is the one stated. The "
        "[tolerance] section sets its own ranges; a level in it makes the level vary too. Ctrl-C during the spread reports the "
        "vehicles finished so far, marked as partial.",
    .least_operands = 1,
    .most_operands = 2,
    .groups = TV_FORMAT | TV_OUTPUT | TV_UNITS | TV_SYSTEM | TV_RUN | TV_PROFILE | TV_MADE | TV_AGAIN,
    .options = options,
    .option_count = (int)(sizeof options / sizeof options[0]),
    .examples = examples,
    .example_count = (int)(sizeof examples / sizeof examples[0]),
    .run = tv_command_parked};
