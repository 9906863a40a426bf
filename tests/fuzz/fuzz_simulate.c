/* Any accepted system file runs for a twentieth of a second: finite numbers or a plain refusal. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "tailvolt/tailvolt.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* idle, then off, to pass both sides of the alternator's switch */
static const char profile_text[] = "time_s,engine_rpm,base_load_a\n0,900,20\n0.04,0,5\n0.05,0,5\n";

/* A programme that names a file would read whatever the fuzzer names. */
static bool reads_files(const struct tailvolt_system *system) {
  for (int k = 0; k < system->programme_count; k++)
    if (system->programmes[k].recording[0] != '\0' || system->programmes[k].envelope[0] != '\0') return true;
  return false;
}

static void check_result(const struct tailvolt_result *result) {
  for (int k = 0; k < result->amplifier_count; k++) {
    const struct tailvolt_amplifier_result *amplifier = &result->amplifiers[k];
    if (!isfinite(amplifier->min_v) || !isfinite(amplifier->mean_v) || !isfinite(amplifier->input_j)) abort();
    if (amplifier->min_v > amplifier->mean_v + 1e-9) abort();
  }
  for (int k = 0; k < result->battery_count; k++)
    if (!isfinite(result->batteries[k].end_soc_pct)) abort();
  if (!isfinite(result->energy.residual_j)) abort();
}

static void run(const struct tailvolt_system *system) {
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  if (faults == NULL) abort();
  struct tailvolt_profile *profile = NULL;
  if (tailvolt_profile_parse(profile_text, "fixed.csv", system, &profile, faults) == TAILVOLT_OK) {
    struct tailvolt_options options = tailvolt_default_options();
    options.settle_s = 0;
    struct tailvolt_result *result = NULL;
    char error[TAILVOLT_TEXT_MAX] = "";
    if (tailvolt_simulate(system, profile, &options, &result, error) == TAILVOLT_OK)
      check_result(result);
    else if (error[0] == '\0')
      abort();
    tailvolt_result_free(result);
  } else if (faults->count < 1) {
    abort();
  }
  tailvolt_profile_free(profile);
  free(faults);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  char *text = malloc(size + 1);
  struct tailvolt_faults *faults = calloc(1, sizeof *faults);
  if (text == NULL || faults == NULL) abort();
  memcpy(text, data, size);
  text[size] = '\0';
  struct tailvolt_system *system = NULL;
  if (tailvolt_system_parse(text, "fuzz.ini", NULL, 0, &system, faults) == TAILVOLT_OK && !reads_files(system))
    run(system);
  tailvolt_system_free(system);
  free(faults);
  free(text);
  return 0;
}
