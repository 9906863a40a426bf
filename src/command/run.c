#include "command/run.h"

#include <math.h>
#include <stdlib.h>

#include "command/messages.h"
#include "command/options.h"
#include "command/output.h"
#include "command/progress.h"
#include "tailvolt/study.h"
#include "text/number.h"

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

struct tailvolt_setting *tv_settings(const struct tv_invocation *invocation, int *count) {
  *count = 0;
  while (tv_value_at(invocation, "set", *count) != NULL) ++*count;
  struct tailvolt_setting *settings = calloc((size_t)*count + 1, sizeof *settings);
  if (settings == NULL) out_of_memory();
  for (int k = 0; settings != NULL && k < *count; k++) settings[k].text = tv_value_at(invocation, "set", k);
  return settings;
}

/* A system that was read: no output may overwrite its files; and a battery with points of its own is all it takes to lose the
 * standard wiring: said, unless the file says that it is meant. */
static void note_system(const struct tv_invocation *invocation, const struct tailvolt_system *system) {
  tv_note_inputs(invocation, system);
  if (system->own_wiring[0] == '\0') return;
  tv_note(invocation->quiet, "%s: [%s] names its points, so nothing of the standard car is added ('wiring = own' in [vehicle] says that "
          "it is meant)", system->file, system->own_wiring);
}

int tv_load_system(const struct tv_invocation *invocation, const char *path,
                   struct tailvolt_system **out) {
  int count, code = TV_EXIT_NOT_COMPUTED;
  struct tailvolt_setting *settings = tv_settings(invocation, &count);
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  *out = NULL;
  if (faults == NULL) code = out_of_memory();
  else if (settings != NULL)
    code = report(path, tailvolt_system_read(path, settings, count, out, faults), faults);
  if (*out != NULL) note_system(invocation, *out);
  free(settings);
  free(faults);
  return code;
}

int tv_load_system_text(const struct tv_invocation *invocation, const char *path, char **text,
                        struct tailvolt_setting **settings, int *setting_count, struct tailvolt_system **out) {
  char error[TAILVOLT_TEXT_MAX];
  enum tailvolt_status status = tailvolt_system_text(path, text, error);
  if (status != TAILVOLT_OK) {
    tv_error("%s: %s", path, error);
    return tv_exit_code(status);
  }
  *settings = tv_settings(invocation, setting_count);
  if (*settings == NULL) return TV_EXIT_NOT_COMPUTED;
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  if (faults == NULL) return out_of_memory();
  int code = report(path, tailvolt_system_parse(*text, path, *settings, *setting_count, out, faults), faults);
  free(faults);
  if (code == TV_EXIT_DONE) note_system(invocation, *out);
  return code;
}

/* How long a run of hours will take, before it begins: by the steps of a usual network, which take a third of a microsecond. */
static void note_long_run(const struct tv_invocation *invocation, const struct tailvolt_profile *profile) {
  static const double steps_per_s = 3e6, long_s = 60;
  double step_s = tailvolt_default_options().time_step_s, span_s = tailvolt_profile_end_s(profile) - tailvolt_profile_start_s(profile);
  if (!tv_time_option(invocation, "time-step", 1e-6, 1.0, &step_s)) return;
  if (!(step_s > 0)) step_s = 1e-3;
  double takes_s = span_s / step_s / steps_per_s;
  if (!(takes_s > long_s)) return;
  tv_note(invocation->quiet, "%s: %s of profile in steps of %s ms: a run through it takes about %s", tailvolt_profile_name(profile),
          tv_duration(span_s).text, tv_compact(step_s * 1e3, 3).text, tv_duration(takes_s).text);
}

int tv_load_profile(const struct tv_invocation *invocation, const char *path,
                    const struct tailvolt_system *system, struct tailvolt_profile **out) {
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  *out = NULL;
  if (faults == NULL) return out_of_memory();
  enum tailvolt_status status =
      tailvolt_profile_read(path, tv_value(invocation, "columns"), system, out, faults);
  int code = report(path, status, faults);
  free(faults);
  if (code == TV_EXIT_DONE) note_long_run(invocation, *out);
  return code;
}

int tv_standard_profiles(const struct tailvolt_system *system, struct tailvolt_profile **out, int *count) {
  enum tailvolt_status status = tailvolt_standard_profiles(system, out, count);
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
