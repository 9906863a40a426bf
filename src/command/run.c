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

/* Faults say all; where there are none the status does. */
static int report(const char *path, enum tailvolt_status status, const struct tailvolt_faults *faults) {
  if (status == TAILVOLT_OK) return TV_EXIT_DONE;
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

int tv_load_system(const struct tv_invocation *invocation, const char *path,
                   struct tailvolt_system **out) {
  int count, code = TV_EXIT_NOT_COMPUTED;
  struct tailvolt_setting *settings = tv_settings(invocation, &count);
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  *out = NULL;
  if (faults == NULL) code = out_of_memory();
  else if (settings != NULL)
    code = report(path, tailvolt_system_read(path, settings, count, out, faults), faults);
  if (*out != NULL) tv_note_inputs(invocation, *out);
  free(settings);
  free(faults);
  return code;
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
  return code;
}

/* Ten minutes of one engine speed, every load on while the engine runs, every amplifier playing. */
static enum tailvolt_status steady_profile(const struct tailvolt_system *system, const char *name,
                                           double engine_rpm, struct tailvolt_profile **out) {
  enum { LENGTH_S = 600 };
  size_t loads = (size_t)system->load_count, amplifiers = (size_t)system->amplifier_count;
  double *load_on = calloc(loads + 1, sizeof *load_on);
  struct tailvolt_amplifier_row *plays = calloc(amplifiers + 1, sizeof *plays);
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (load_on != NULL && plays != NULL) {
    for (size_t k = 0; k < loads; k++) load_on[k] = engine_rpm > 0.0 ? 1.0 : 0.0;
    for (size_t k = 0; k < amplifiers; k++) {
      int own = system->amplifiers[k].programme;
      int programme = own >= 0 ? own : system->programme_count > 0 ? 0 : TAILVOLT_SILENCE;
      plays[k] = (struct tailvolt_amplifier_row){.programme = programme, .powered = true,
                                                 .output_w = (double)NAN, .supply_w = (double)NAN,
                                                 .supply_a = (double)NAN};
    }
    struct tailvolt_row rows[2];
    rows[0] = (struct tailvolt_row){.engine_rpm = engine_rpm, .ambient_c = system->vehicle.ambient_c,
                                    .set_point_v = (double)NAN, .load_on = load_on, .amplifier = plays};
    rows[1] = rows[0];
    rows[1].time_s = LENGTH_S;
    status = tailvolt_profile_from_rows(rows, 2, name, system, out);
  }
  free(load_on);
  free(plays);
  return status;
}

int tv_standard_profiles(const struct tailvolt_system *system, struct tailvolt_profile **out, int *count) {
  const double road_rpm = 2500.0;
  bool charges = system->alternator.present && system->vehicle.charging != TAILVOLT_CHARGING_NONE;
  *count = 0;
  enum tailvolt_status status =
      charges ? steady_profile(system, "idle at night in the rain", system->engine.idle_rpm, &out[0])
              : steady_profile(system, "parked", 0.0, &out[0]);
  if (status == TAILVOLT_OK) *count = 1;
  if (status == TAILVOLT_OK && charges) {
    status = steady_profile(system, "on the road", road_rpm, &out[1]);
    if (status == TAILVOLT_OK) *count = 2;
  }
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
    tv_error("%s: %s", tailvolt_profile_name(profile),
             error[0] != '\0' ? error : tailvolt_status_text(status));
  }
  return tv_exit_code(status);
}

int tv_ask_parked(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                  const struct tailvolt_options *options, struct tailvolt_result *result) {
  const struct tailvolt_phase_result *parked = &result->phases[TAILVOLT_PARKED];
  struct tailvolt_parked_options asked = tailvolt_default_parked_options();
  struct tailvolt_parked *answer = NULL;
  if (!parked->present || !(parked->duration_s > 0.5 * result->duration_s)) return TV_EXIT_DONE;
  asked.run = *options;
  asked.run.record = NULL;
  asked.run.progress = NULL;
  /* with the engine on at some time the music alone is played; the study begins with a rested battery */
  enum tailvolt_status status = tailvolt_parked(system, result->driving.present ? NULL : profile, &asked, &answer, NULL);
  if (status == TAILVOLT_OK) {
    result->parked_answer.asked = true;
    result->parked_answer.until_s = answer->until_s;
    result->parked_answer.restart_s = answer->restart_s;
  }
  tailvolt_parked_free(answer);
  return status == TAILVOLT_NO_MEMORY ? tv_exit_code(status) : TV_EXIT_DONE;
}
