#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/commands.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "text/read_number.h"
#include "tailvolt/drive.h"
#include "text/number.h"

/* Reads --factors: 1 to TAILVOLT_GEARS_MAX falling numbers. */
static bool read_factors(const char *list, struct tailvolt_drive_options *options) {
  int count = 0;
  for (const char *at = list; at != NULL && count < TAILVOLT_GEARS_MAX; count++) {
    while (*at == ' ') at++;
    double factor_rpm;
    size_t took = tv_parse_leading_number(at, strlen(at), &factor_rpm);
    bool falls = count == 0 || factor_rpm < options->gear_rpm[count - 1];
    if (took == 0 || !(factor_rpm >= 1 && factor_rpm <= 1000) || !falls) break;
    options->gear_rpm[count] = factor_rpm;
    at += took;
    while (*at == ' ') at++;
    if (*at == '\0') {
      options->gear_count = count + 1;
      return true;
    }
    if (*at++ != ',') break;
  }
  tv_error("--factors %s: accepted are 1 to %d falling numbers of 1 to 1000 rpm per km/h, such as 124,68,45,33,27",
           list, TAILVOLT_GEARS_MAX);
  return false;
}

static bool read_options(const struct tv_invocation *invocation, struct tailvolt_drive_options *options) {
  static const char *const gears[] = {"fixed", "highest", "prescribed", NULL};
  int choice = 0;
  const char *factors = tv_value(invocation, "factors");
  *options = tailvolt_default_drive_options();
  if (!tv_choice_option(invocation, "gears", gears, &choice) ||
      !tv_number_option(invocation, "idle", 300, 2000, &options->idle_rpm) ||
      !tv_number_option(invocation, "rated", 2001, 20000, &options->rated_rpm) ||
      !tv_number_option(invocation, "thin", 0, 1000, &options->thin_rpm) ||
      !tv_time_option(invocation, "stop-start", 0.1, 86400, &options->stop_after_s))
    return false;
  options->gears = choice == 0   ? TAILVOLT_GEARS_FIXED
                   : choice == 1 ? TAILVOLT_GEARS_HIGHEST
                                 : TAILVOLT_GEARS_OF_TRACE;
  return factors == NULL || read_factors(factors, options);
}

static int read_trace(const struct tv_invocation *invocation, struct tailvolt_trace **out) {
  static const char *const cycles[] = {"ece15", "eudc", "nedc", NULL};
  int cycle = 0;
  bool built = tv_option_given(invocation, "cycle");
  if (!tv_choice_option(invocation, "cycle", cycles, &cycle)) return TV_EXIT_INPUT;
  if (built == (invocation->operand_count > 0)) {
    tv_error(built ? "give a speed trace or --cycle, not both" : "give a speed trace, or --cycle");
    return tv_usage_hint("drive");
  }
  if (built) {
    enum tailvolt_status status = tailvolt_trace_cycle((enum tailvolt_cycle)cycle, out);
    if (status != TAILVOLT_OK) tv_error("%s", tailvolt_status_text(status));
    return tv_exit_code(status);
  }
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  if (faults == NULL) {
    tv_error("out of memory");
    return TV_EXIT_NOT_COMPUTED;
  }
  enum tailvolt_status status = tailvolt_trace_read(invocation->operands[0], out, faults);
  if (faults->count > 0)
    tv_print_faults(faults);
  else if (status != TAILVOLT_OK)
    tv_error("%s: %s", invocation->operands[0], tailvolt_status_text(status));
  free(faults);
  return tv_exit_code(status);
}

static void describe(const struct tailvolt_trace *trace, const struct tailvolt_drive_options *options,
                     const struct tailvolt_drive_summary *summary, char *text, size_t room) {
  static const char *const gears[] = {"gears up at 15, 35, 50, 70 km/h (UN R83)",
                                      "highest gear above its lower bound (UN GTR 15)", "gears of the cycle"};
  int used = snprintf(
      text, room, "Engine speed over %s: %s km in %s s, %s km/h, mean %s rpm\n%s, idle %s rpm, ", trace->name,
      tv_fixed(1e-3 * summary->distance_m, 3).text, tv_fixed(summary->duration_s, 0).text,
      tv_fixed(summary->mean_kmh, 1).text, tv_fixed(summary->mean_rpm, 0).text, gears[options->gears],
      tv_significant(options->idle_rpm, 6).text);
  for (int k = 0; k < options->gear_count && used > 0 && (size_t)used < room; k++)
    used += snprintf(text + used, room - (size_t)used, "%s%s", k > 0 ? ", " : "",
                     tv_significant(options->gear_rpm[k], 6).text);
  if (used > 0 && (size_t)used < room)
    used += snprintf(text + used, room - (size_t)used, " rpm per km/h");
  if (used > 0 && (size_t)used < room && options->stop_after_s > 0)
    snprintf(text + used, room - (size_t)used, "\nStop-start after %s s: %d stops, engine off for %s s",
             tv_significant(options->stop_after_s, 6).text, summary->stops,
             tv_fixed(summary->stopped_s, 0).text);
}

static int write_profile(const struct tv_invocation *invocation, const struct tailvolt_trace *trace,
                         const struct tailvolt_drive_options *options) {
  struct tailvolt_drive *drive = NULL;
  struct tv_output output = {0};
  char comment[1024];
  enum tailvolt_status status = tailvolt_drive_create(trace, options, &drive);
  if (status != TAILVOLT_OK) {
    tv_error("%s", tailvolt_status_text(status));
    return tv_exit_code(status);
  }
  describe(trace, options, &drive->summary, comment, sizeof comment);
  int code = tv_output_open(invocation, tv_value(invocation, "output"), &output);
  if (code == TV_EXIT_DONE) {
    status = tailvolt_drive_write(drive, options, comment, output.file);
    /* closing reports why a write failed */
    code = tv_output_close(&output, true);
    if (code == TV_EXIT_DONE) code = tv_exit_code(status);
  }
  tailvolt_drive_free(drive);
  return code;
}

static int tv_command_drive(struct tv_invocation *invocation) {
  struct tailvolt_drive_options options;
  struct tailvolt_trace *trace = NULL;
  if (!read_options(invocation, &options)) return TV_EXIT_INPUT;
  int code = read_trace(invocation, &trace);
  if (code == TV_EXIT_DONE) code = write_profile(invocation, trace, &options);
  tailvolt_trace_free(trace);
  return code;
}

static const struct tv_option options_taken[] = {
    {"cycle", 0, "NAME", false, TV_OWN, "a built-in cycle of UN Regulation 83: ece15, eudc or nedc"},
    {"gears", 'g', "CHOICE", false, TV_OWN,
     "fixed (up at 15, 35, 50, 70 km/h, the default), highest (thrifty driver) or prescribed (by a built-in cycle)"},
    {"factors", 0, "LIST", false, TV_OWN,
     "engine speed at 1 km/h in each gear, rpm; default 124,68,45,33,27 (a small petrol car)"},
    {"idle", 0, "RPM", false, TV_OWN, "idle speed; default 750"},
    {"rated", 0, "RPM", false, TV_OWN, "speed of rated power, for --gears highest; default 6000"},
    {"stop-start", 0, "TIME", false, TV_OWN, "stop the engine after standing this long, such as 2s"},
    {"thin", 0, "RPM", false, TV_OWN, "leave out rows that a straight line replaces to within this; default 1"}};

static const struct tv_example examples[] = {
    {"tailvolt drive profiles/cycle-udds.csv --stop-start 3s", "a town cycle with stop-start, as a load profile"},
    {"tailvolt drive --cycle ece15 --gears prescribed --idle 800", "the urban cycle of UN Regulation 83"}};

const struct tv_command tv_drive_command = {
    .name = "drive",
    .operands = "[TRACE.csv]",
    .summary = "turn a speed trace into a load profile: gears, idle, stop-start",
    .description =
        "Reads road speed over time (columns time_s and speed_kmh; also km/h, mph or m/s) and writes "
        "engine speed as a load profile for simulate. Engine speed is road speed times the factor of the "
        "gear, and never below idle. A row is written only where the engine speed departs from a straight "
        "line.\n\n"
        "Driving cycles are in profiles/: cycle-nedc.csv, cycle-udds.csv, cycle-wltc3b.csv.",
    .least_operands = 0,
    .most_operands = 1,
    .groups = TV_OUTPUT,
    .options = options_taken,
    .option_count = (int)(sizeof options_taken / sizeof options_taken[0]),
    .examples = examples,
    .example_count = (int)(sizeof examples / sizeof examples[0]),
    .run = tv_command_drive};
