#include "simulate/swing.h"

#include "simulate/programmes.h"

/* The run itself has told how far it is. */
static int ask(void *context, double done_frac) {
  const struct tv_run *run = context;
  (void)done_frac;
  return run->options.progress(run->options.progress_context, 1);
}

enum tailvolt_status tv_swing_run(struct tv_run *run, const struct tailvolt_profile *profile,
                                  const struct tv_programmes *shared) {
  if (!tv_swings(run->system)) return TAILVOLT_OK;
  struct tailvolt_system high = *run->system; /* its arrays are the run's own: they are read only */
  struct tailvolt_options options = run->options;
  struct tailvolt_result *result = NULL;
  struct tv_run *at_high_end = NULL;
  options.record = NULL;
  options.progress = run->options.progress != NULL ? ask : NULL;
  options.progress_context = run;
  high.alternator.set_point_v = high.alternator.set_point_low_v = high.alternator.set_point_high_v;
  enum tailvolt_status status = tv_profile_run(&high, profile, &options, shared, run, &at_high_end, run->error);
  if (status != TAILVOLT_OK) return status;
  status = tv_run_finish(at_high_end, tailvolt_profile_name(profile), &result);
  tv_run_free(at_high_end);
  if (status != TAILVOLT_OK) return status;
  tailvolt_result_free(run->high_end);
  run->high_end = result;
  return TAILVOLT_OK;
}
