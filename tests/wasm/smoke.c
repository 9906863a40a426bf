/* Simulates a profile on a system and prints what must be the same natively and in WebAssembly: to the last
 *   bit. */
#include <stdio.h>

#include "support/elementary_bits.h"
#include "tailvolt/report.h"
#include "tailvolt/simulate.h"

static struct tailvolt_faults faults;

static int give_up(const char *what) {
  fprintf(stderr, "%s\n", what);
  return 1;
}

int main(int argc, char **argv) {
  struct tailvolt_system *system = NULL;
  struct tailvolt_profile *profile = NULL;
  struct tailvolt_result *result = NULL;
  struct tailvolt_options options = tailvolt_default_options();
  char error[TAILVOLT_TEXT_MAX] = "";
  if (argc != 3) return give_up("usage: smoke SYSTEM.ini PROFILE.csv");
  if (tailvolt_system_read(argv[1], NULL, 0, &system, &faults) != TAILVOLT_OK ||
      tailvolt_profile_read(argv[2], NULL, system, &profile, &faults) != TAILVOLT_OK)
    return give_up(faults.fault[0].message);
  if (tailvolt_simulate(system, profile, &options, &result, error) != TAILVOLT_OK) return give_up(error);
  printf("elementary functions %016llx\n", (unsigned long long)elementary_bits());
  printf("steps %lld\n", result->steps);
  for (int k = 0; k < result->amplifier_count; k++)
    printf("lowest at %s %a V, %.6f V\n", result->amplifiers[k].name, result->amplifiers[k].min_v,
           result->amplifiers[k].min_v);
  for (int k = 0; k < result->battery_count; k++)
    printf("charge of %s %a\n", result->batteries[k].name, result->batteries[k].end_soc_pct);
  printf("final state %016llx\n", result->state_hash);
  tailvolt_result_free(result);
  tailvolt_profile_free(profile);
  tailvolt_system_free(system);
  return 0;
}
