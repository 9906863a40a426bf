#include "support/scenes.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/assert_near.h"

#define ROW_S 1e-3

const struct scene_beat scene_reference_beat = {15, 1200, 0.5, 0.12};

double scene_beat_mean_w(const struct scene_beat *beat, double from_s, double length_s) {
  double phase_s = fmod(from_s + 1e-9, beat->beat_s) - 1e-9;
  if (phase_s < 0) phase_s = 0;
  double share = length_s / beat->decay_s;
  return beat->floor_w + beat->peak_w * exp(-phase_s / beat->decay_s) * -expm1(-share) / share;
}

static void fail_with_faults(const char *what, const struct tailvolt_faults *faults) {
  for (int k = 0; k < faults->count; k++)
    print_error("%s:%d:%d: %s [%s = %s]\n", faults->fault[k].file, faults->fault[k].line,
                faults->fault[k].column, faults->fault[k].message, faults->fault[k].key,
                faults->fault[k].value);
  fail_msg("%s was refused", what);
}

struct tailvolt_system *scene_read(const char *relative_path) {
  char path[1024];
  snprintf(path, sizeof path, "%s/%s", TAILVOLT_SOURCE_DIR, relative_path);
  static struct tailvolt_faults faults;
  struct tailvolt_system *system = NULL;
  if (tailvolt_system_read(path, NULL, 0, &system, &faults) != TAILVOLT_OK)
    fail_with_faults(relative_path, &faults);
  return system;
}

struct tailvolt_system *scene_parse(const char *text) {
  static struct tailvolt_faults faults;
  struct tailvolt_system *system = NULL;
  if (tailvolt_system_parse(text, "scene.ini", NULL, 0, &system, &faults) != TAILVOLT_OK)
    fail_with_faults("the system", &faults);
  return system;
}

struct tailvolt_profile *scene_profile(const struct tailvolt_system *system, const char *text) {
  static struct tailvolt_faults faults;
  struct tailvolt_profile *profile = NULL;
  if (tailvolt_profile_parse(text, "scene.csv", system, &profile, &faults) != TAILVOLT_OK)
    fail_with_faults("the profile", &faults);
  return profile;
}

struct tailvolt_profile *scene_beats(const struct tailvolt_system *system, const struct scene_beat *beats,
                                     double engine_rpm, double base_load_a, double duration_s) {
  int row_count = (int)lround(duration_s / ROW_S) + 1;
  size_t amplifiers = (size_t)system->amplifier_count;
  struct tailvolt_row *rows = calloc((size_t)row_count, sizeof *rows);
  struct tailvolt_amplifier_row *draws = calloc((size_t)row_count * amplifiers, sizeof *draws);
  double *load_on = calloc((size_t)system->load_count + 1, sizeof *load_on);
  assert_true(rows != NULL && draws != NULL && load_on != NULL);
  for (int k = 0; k < system->load_count; k++) load_on[k] = 1;
  for (int k = 0; k < row_count; k++) {
    struct tailvolt_amplifier_row *own = draws + (size_t)k * amplifiers;
    rows[k] = (struct tailvolt_row){.time_s = k * ROW_S,
                                    .engine_rpm = engine_rpm,
                                    .ambient_c = system->vehicle.ambient_c,
                                    .set_point_v = (double)NAN,
                                    .base_load_a = base_load_a,
                                    .load_on = load_on,
                                    .amplifier = own};
    for (size_t j = 0; j < amplifiers; j++)
      own[j] = (struct tailvolt_amplifier_row){.programme = TAILVOLT_SILENCE,
                                               .powered = true,
                                               .output_w = (double)NAN,
                                               .supply_a = (double)NAN,
                                               .supply_w = scene_beat_mean_w(&beats[j], k * ROW_S, ROW_S)};
  }
  struct tailvolt_profile *profile = NULL;
  enum tailvolt_status status = tailvolt_profile_from_rows(rows, row_count, "beats", system, &profile);
  free(rows), free(draws), free(load_on);
  assert_int_equal(status, TAILVOLT_OK);
  return profile;
}

void scene_write_drive(const char *path, const struct scene_beat *beats, int count, double duration_s,
                       double step_s) {
  FILE *file = fopen(path, "w");
  assert_non_null(file);
  for (int k = 0; k < count; k++) {
    const struct scene_beat *b = &beats[k];
    /* the tick makes a breakpoint at every beat; the power jumps half a nanosecond after it. It is zero at
     * the operating point, since the amplifiers are silent at rest */
    fprintf(file, "Vtick%d tick%d 0 PULSE(0 1 0 1n 1n 1m %.17g)\n", k + 1, k + 1, b->beat_s);
    fprintf(file,
            "Bp%d p%d 0 V=(%.17g+%.17g*exp(-(time-%.17g*floor((time-0.5n)/%.17g))/%.17g))*u(time-0.5n)\n",
            k + 1, k + 1, b->floor_w, b->peak_w, b->beat_s, b->beat_s, b->decay_s);
  }
  fprintf(file, ".tran 1m %.17g 0 %.17g\n", duration_s, step_s);
  assert_int_equal(fclose(file), 0);
}

bool scene_ngspice_installed(void) {
  return system("command -v ngspice >/dev/null 2>&1") == 0;
}

struct tailvolt_options scene_isothermal(void) {
  struct tailvolt_options options = tailvolt_default_options();
  options.isothermal = true;
  options.settle_s = 0; /* a circuit begins at rest */
  return options;
}

double scene_energy_residual(const struct tailvolt_result *result) {
  double turned_over_j = fabs(result->energy.generated_j) + fabs(result->energy.from_storage_j);
  return fabs(result->energy.residual_j) / fmax(turned_over_j, 1e-300);
}

struct tailvolt_result *scene_run(const struct tailvolt_system *system,
                                  const struct tailvolt_profile *profile,
                                  const struct tailvolt_options *options) {
  char error[TAILVOLT_TEXT_MAX] = "";
  struct tailvolt_result *result = NULL;
  enum tailvolt_status status = tailvolt_simulate(system, profile, options, &result, error);
  if (status != TAILVOLT_OK) fail_msg("%s: %s", tailvolt_status_text(status), error);
  assert_near(scene_energy_residual(result), 0, 1e-6);
  assert_int_equal(result->ledger_count, system->amplifier_count);
  for (int k = 0; k < result->ledger_count; k++) {
    const struct tailvolt_ledger *ledger = &result->ledgers[k];
    double sum_v = 0;
    for (int j = 0; j < ledger->entry_count; j++) sum_v += ledger->entries[j].drop_v;
    assert_near(sum_v, ledger->rest_v - ledger->terminal_v, 1e-6);
    assert_near(ledger->residual_v, 0, 1e-6);
  }
  return result;
}

struct tailvolt_result *scene_run_texts(const char *system_text, const char *profile_text, const struct tailvolt_options *options) {
  struct tailvolt_system *system = scene_parse(system_text);
  struct tailvolt_profile *profile = scene_profile(system, profile_text);
  struct tailvolt_result *result = scene_run(system, profile, options);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return result;
}

struct tailvolt_system *scene_stiff(double source_v, double series_ohm, const char *more) {
  char text[4096];
  int length = snprintf(text, sizeof text,
                        "[vehicle]\nname = Stiff source\ncharging = none\n"
                        "[battery source]\npositive = post\nnegative = ground\ncapacity = 1000 Ah\n"
                        "state of charge = 50 %%\nhealth = 100 %%\nresistance = 0.01 mohm\n"
                        "polarization = 0.001 mohm, 1000 s\n"
                        "open circuit = %.9g V at 0 %%, %.9g V at 100 %%\n"
                        "[joint wire]\nfrom = post\nto = amplifier plus\nresistance = %.9g mohm\n"
                        "[amplifier bass]\npositive = amplifier plus\nnegative = ground\n"
                        "cut-out voltage = 0 V\n%s%s",
                        source_v, source_v, 1e3 * series_ohm - 0.01,
                        strstr(more, "rated power") == NULL ? "rated power = 1000 W\n" : "", more);
  assert_true(length > 0 && (size_t)length < sizeof text);
  struct tailvolt_system *system = scene_parse(text);
  if (strstr(more, "internal capacitance") == NULL) {
    system->amplifiers[0].internal_f = 0;
    system->amplifiers[0].internal_ohm = 0;
  }
  return system;
}

struct tailvolt_result *scene_hold(const struct tailvolt_system *system, const char *column, double value,
                                   double duration_s, double step_s) {
  char text[256];
  snprintf(text, sizeof text, "time_s,%s\n0,%.17g\n%.17g,%.17g\n", column, value, duration_s, value);
  struct tailvolt_profile *profile = scene_profile(system, text);
  struct tailvolt_options options = scene_isothermal();
  options.time_step_s = step_s;
  struct tailvolt_result *result = scene_run(system, profile, &options);
  tailvolt_profile_free(profile);
  return result;
}
