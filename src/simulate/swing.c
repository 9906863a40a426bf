#include "simulate/swing.h"

#include "simulate/programmes.h"
#include "simulate/verdict.h"

enum tailvolt_status tv_swing_run(struct tv_run *run, const struct tailvolt_profile *profile,
                                  const struct tv_programmes *shared) {
  if (!tv_swings(run->system)) return TAILVOLT_OK;
  struct tailvolt_system high = *run->system; /* its arrays are the run's own: they are read only */
  struct tailvolt_options options = run->options;
  struct tailvolt_result *result = NULL;
  options.record = NULL;
  options.progress = NULL;
  high.alternator.set_point_v = high.alternator.set_point_low_v = high.alternator.set_point_high_v;
  enum tailvolt_status status = tv_simulate_with(&high, profile, &options, shared, &result, run->error);
  if (status != TAILVOLT_OK) return status;
  run->high_end.known = true;
  for (int p = 0; p < TAILVOLT_PHASES; p++)
    run->high_end.balance_a[p] = result->phases[p].present ? tv_balance_a(result, (enum tailvolt_phase)p) : 0;
  tailvolt_result_free(result);
  return TAILVOLT_OK;
}
