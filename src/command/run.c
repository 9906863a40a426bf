#include "command/run.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "command/again.h"
#include "command/made.h"
#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "command/progress.h"
#include "tailvolt/study.h"
#include "text/number.h"
#include "text/unfit.h"

static int out_of_memory(void) {
  tv_error("out of memory");
  return TV_EXIT_NOT_COMPUTED;
}

/* Prints the faults; where there are none, the status. */
static int report(const char *path, enum tailvolt_status status, const struct tailvolt_faults *faults) {
  if (status == TAILVOLT_OK) return TV_EXIT_DONE;
  if (status == TAILVOLT_NO_MEMORY) return out_of_memory();
  if (faults->count > 0) tv_print_faults(faults);
  else tv_error("%s: %s", path, tailvolt_status_text(status));
  return tv_exit_code(status);
}

/* The settings of a system: those of a report that --from names, then what has its files read from where they are, then the
 * command line's. `compared`: those of the system that --compare names. */
static struct tailvolt_setting *settings_of(const struct tv_invocation *invocation, bool compared, int *count) {
  const struct tv_again *again = invocation->again;
  size_t most = 1 + (size_t)(again != NULL ? again->from.file_count : 0);
  for (int k = 0; tv_value_at(invocation, "set", k) != NULL; k++) most++;
  struct tailvolt_setting *settings = calloc(most, sizeof *settings);
  *count = 0;
  if (settings == NULL) {
    out_of_memory();
    return NULL;
  }
  for (int turn = 0; turn < 2; turn++) {
    for (int k = 0; k < invocation->given_count; k++)
      if (strcmp(invocation->given[k].option->name, "set") == 0 && invocation->given[k].again == (turn == 0))
        settings[(*count)++].text = invocation->given[k].value;
    for (int k = 0; turn == 0 && again != NULL && k < again->from.file_count; k++) {
      if (again->from.files[k].use.compared == compared && again->settings[k] != NULL) settings[(*count)++].text = again->settings[k];
    }
  }
  return settings;
}

struct tailvolt_setting *tv_settings(const struct tv_invocation *invocation, int *count) {
  return settings_of(invocation, false, count);
}

/* A system that was read: no output may overwrite its files, and the report names them; and a battery with points of its own is all
 * it takes to lose the standard wiring: said, unless the file says that it is meant. */
static int note_system(const struct tv_invocation *invocation, const char *path, bool compared, const char *text,
                       const struct tailvolt_system *system) {
  struct tv_made_use use = {.role = TV_MADE_SYSTEM, .compared = compared};
  const char *there = tv_again_named(invocation, path) == NULL ? path : NULL;
  if (invocation->made != NULL) tv_made_text(invocation->made, use, path, there, text, strlen(text));
  if (!tv_note_programmes(invocation, system, compared)) return invocation->made->failed ? out_of_memory() : TV_EXIT_INPUT;
  if (tv_outputs_are_inputs(invocation)) return TV_EXIT_INPUT;
  if (system->own_wiring[0] != '\0')
    tv_note(invocation->quiet, "%s: [%s] names its points, so nothing of the standard car is added ('wiring = own' in [vehicle] says "
            "that it is meant)", system->file, system->own_wiring);
  return TV_EXIT_DONE;
}

/* A text from the report that --from names, or from its file. */
static int read_text(const struct tv_invocation *invocation, const char *path, char **text) {
  const struct tv_made_file *held = tv_again_named(invocation, path);
  char error[TAILVOLT_TEXT_MAX];
  if (held != NULL) {
    *text = strdup(held->text);
    return *text != NULL ? TV_EXIT_DONE : out_of_memory();
  }
  enum tailvolt_status status = tailvolt_system_text(path, text, error);
  if (status == TAILVOLT_NO_MEMORY) return out_of_memory();
  if (status != TAILVOLT_OK) tv_error(status == TAILVOLT_NOT_READABLE ? "%s: cannot be read: %s" : "%s: %s", path, error);
  return tv_exit_code(status);
}

int tv_load_system_text(const struct tv_invocation *invocation, const char *path, char **text,
                        struct tailvolt_setting **settings, int *setting_count, struct tailvolt_system **out) {
  bool compared = path == tv_value(invocation, "compare");
  int code = read_text(invocation, path, text);
  if (code != TV_EXIT_DONE) return code;
  *settings = settings_of(invocation, compared, setting_count);
  if (*settings == NULL) return TV_EXIT_NOT_COMPUTED;
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  if (faults == NULL) return out_of_memory();
  code = report(path, tailvolt_system_parse(*text, path, *settings, *setting_count, out, faults), faults);
  free(faults);
  return code == TV_EXIT_DONE ? note_system(invocation, path, compared, *text, *out) : code;
}

int tv_load_system(const struct tv_invocation *invocation, const char *path, struct tailvolt_system **out) {
  struct tailvolt_setting *settings = NULL;
  char *text = NULL;
  int count = 0;
  *out = NULL;
  int code = tv_load_system_text(invocation, path, &text, &settings, &count, out);
  tailvolt_system_text_free(text);
  free(settings);
  return code;
}

void tv_note_long_run(const struct tv_invocation *invocation, const char *name, const char *of_what, double span_s) {
  static const double steps_per_s = 3e6, long_s = 60; /* of a usual network, which takes a third of a microsecond */
  double step_s = tailvolt_default_options().time_step_s;
  if (!tv_time_option(invocation, "time-step", 1e-6, 1.0, &step_s)) return;
  if (!(step_s > 0)) step_s = 1e-3;
  double takes_s = span_s / step_s / steps_per_s;
  if (!(takes_s > long_s)) return;
  tv_note(invocation->quiet, "%s: %s of %s in steps of %s ms: a run through it takes about %s", name, tv_duration(span_s).text, of_what,
          tv_compact(step_s * 1e3, 3).text, tv_duration(takes_s).text);
}

double tv_car_span_s(const struct tailvolt_profile *profile) {
  static const double most_s = 40; /* of a longer one only the stretches that decide */
  return fmin(tailvolt_profile_end_s(profile) - tailvolt_profile_start_s(profile), most_s);
}

void tv_note_long_draw(const struct tv_invocation *invocation, const char *name, const struct tailvolt_profile *const *profiles, int count,
                       int vehicles) {
  double span_s = 0;
  char of_what[64];
  for (int k = 0; k < count; k++) span_s += tv_car_span_s(profiles[k]);
  snprintf(of_what, sizeof of_what, "driving, in %d such cars,", vehicles);
  tv_note_long_run(invocation, name, of_what, span_s * vehicles);
}

/* A profile that a report can hold, or that can be read once only, is read whole; a long one row by row. *text stays NULL for that. */
static int read_rows(const struct tv_invocation *invocation, const char *path, char **text, size_t *length) {
  static const size_t most_piped = (size_t)1 << 30;
  const struct tv_made_file *held = tv_again_named(invocation, path);
  struct stat about;
  *text = NULL;
  if (invocation->made == NULL || invocation->made->paths_only) return TV_EXIT_DONE;
  if (held != NULL) {
    *length = held->length;
    if ((*text = malloc(held->length + 1)) == NULL) return out_of_memory();
    memcpy(*text, held->text, held->length + 1);
    return TV_EXIT_DONE;
  }
  bool piped = strcmp(path, "-") == 0 || (stat(path, &about) == 0 && !S_ISREG(about.st_mode) && !S_ISDIR(about.st_mode));
  const char *unfit = tv_unfit(path, false);
  if (unfit != NULL) {
    tv_error("%s: cannot be read: %s", path, unfit);
    return TV_EXIT_INPUT;
  }
  *text = tv_read_file(path, piped ? most_piped : TV_MADE_KEPT, length);
  if (*text == NULL && errno == ENOMEM) return out_of_memory();
  if (*text != NULL || !piped || errno != EFBIG) return TV_EXIT_DONE;
  tv_error("%s: more than 1 GiB from a pipe: give the file itself", path);
  return TV_EXIT_INPUT;
}

/* Once for each time that it is given, however often it is read. */
static void note_profile(const struct tv_invocation *invocation, const char *path, const char *text, size_t length) {
  struct tv_made_from *made = invocation->made;
  int given = 0, noted = 0;
  for (int k = 0; k < invocation->operand_count; k++) given += strcmp(invocation->operands[k], path) == 0;
  for (int k = 0; made != NULL && k < made->file_count; k++)
    noted += made->files[k].use.role == TV_MADE_PROFILE && strcmp(made->files[k].name, path) == 0;
  if (made == NULL || noted >= (given > 0 ? given : 1)) return;
  struct tv_made_use use = {.role = TV_MADE_PROFILE};
  if (text != NULL) tv_made_text(made, use, path, tv_again_named(invocation, path) == NULL ? path : NULL, text, length);
  else tv_made_path(made, use, path, path);
}

int tv_load_evening(const struct tv_invocation *invocation, const char *path,
                    const struct tailvolt_system *system, struct tailvolt_profile **out) {
  const char *columns = tv_value(invocation, "columns"), *name = strcmp(path, "-") == 0 ? "standard input" : path;
  char *text = NULL;
  size_t length = 0;
  *out = NULL;
  int code = read_rows(invocation, path, &text, &length);
  if (code != TV_EXIT_DONE) return code;
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  if (faults == NULL) {
    free(text);
    return out_of_memory();
  }
  enum tailvolt_status status = text != NULL ? tailvolt_profile_parse_columns(text, length, name, columns, system, out, faults)
                                             : tailvolt_profile_read(path, columns, system, out, faults);
  code = report(path, status, faults);
  free(faults);
  if (code == TV_EXIT_DONE) note_profile(invocation, path, text, length);
  free(text);
  return code;
}

int tv_load_profile(const struct tv_invocation *invocation, const char *path,
                    const struct tailvolt_system *system, struct tailvolt_profile **out) {
  int code = tv_load_evening(invocation, path, system, out);
  if (code == TV_EXIT_DONE)
    tv_note_long_run(invocation, tailvolt_profile_name(*out), "profile", tailvolt_profile_end_s(*out) - tailvolt_profile_start_s(*out));
  return code;
}

int tv_standard_profiles(const struct tv_invocation *invocation, const struct tailvolt_system *system, struct tailvolt_profile **out,
                         int *count) {
  enum tailvolt_status status = tailvolt_standard_profiles(system, out, count);
  double span_s = 0;
  for (int k = 0; k < *count && status == TAILVOLT_OK; k++) span_s += tailvolt_profile_end_s(out[k]) - tailvolt_profile_start_s(out[k]);
  tv_note_long_run(invocation, system->file, "standard profiles", span_s);
  if (status != TAILVOLT_OK) tv_error("%s", tailvolt_status_text(status));
  return tv_exit_code(status);
}

int tv_run_options(const struct tv_invocation *invocation, struct tailvolt_options *options) {
  *options = tailvolt_default_options();
  if (!tv_time_option(invocation, "time-step", 1e-6, 1.0, &options->time_step_s) ||
      !tv_time_option(invocation, "settle", 0.0, 86400.0, &options->settle_s) ||
      !tv_count_option(invocation, "seed", 0, 4294967295ul, &options->seed))
    return TV_EXIT_INPUT;
  options->seed_given = tv_option_given(invocation, "seed");
  options->isothermal = tv_option_given(invocation, "isothermal");
  options->blow = tv_option_given(invocation, "blow");
  return TV_EXIT_DONE;
}

int tv_run_failed(const struct tailvolt_system *system, const char *about, enum tailvolt_status status, const char *error) {
  struct tailvolt_faults *faults = status == TAILVOLT_BAD_INPUT && system != NULL ? calloc(1, sizeof *faults) : NULL;
  if (faults != NULL && tailvolt_check(system, faults) == TAILVOLT_BAD_INPUT && faults->count > 0)
    tv_print_faults(faults);
  else if (status == TAILVOLT_NO_MEMORY)
    out_of_memory();
  else
    tv_error("%s%s%s", about != NULL ? about : "", about != NULL ? ": " : "",
             error != NULL && error[0] != '\0' ? error : tailvolt_status_text(status));
  free(faults);
  return tv_exit_code(status);
}

int tv_run(const struct tv_invocation *invocation, const struct tailvolt_system *system,
           const struct tailvolt_profile *profile, struct tailvolt_options options,
           struct tailvolt_result **out) {
  struct tv_progress progress;
  char error[TAILVOLT_TEXT_MAX] = "";
  tv_progress_begin(&progress, tailvolt_profile_name(profile), invocation->quiet);
  options.progress_context = &progress;
  options.progress = tv_progress_report;
  *out = NULL;
  enum tailvolt_status status = tailvolt_simulate(system, profile, &options, out, error);
  tv_progress_end(&progress);
  if (status == TAILVOLT_STOPPED) {
    tv_error("%s: stopped at %s %% of the run", tailvolt_profile_name(profile),
             tv_fixed(100.0 * progress.done_frac, 0).text);
  } else if (status != TAILVOLT_OK && status / 100 != 4) {
    tv_run_failed(system, tailvolt_profile_name(profile), status, error);
  }
  return tv_exit_code(status);
}

int tv_ask_parked(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                  const struct tailvolt_options *options, struct tailvolt_result *result) {
  return tv_exit_code(tailvolt_ask_parked(system, profile, options, result));
}
