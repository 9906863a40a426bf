/* What the verdict turns on, for the plan of readings: the effects that certainty finds, as one more unknown of the joint beliefs. */
#include <math.h>
#include <stdlib.h>

#include "study/certainty_effects.h"
#include "study/measure_fit.h"

static const double LENGTH_S = 128.0; /* a cycle of phrases */

/* Music at idle with everything on, or parked where nothing charges. */
static enum tailvolt_status make_profile(const struct tailvolt_system *system, struct tailvolt_profile **out) {
  size_t loads = (size_t)system->load_count, amplifiers = (size_t)system->amplifier_count;
  double *load_on = calloc(loads + 1, sizeof *load_on);
  struct tailvolt_amplifier_row *plays = calloc(amplifiers + 1, sizeof *plays);
  enum tailvolt_status status = TAILVOLT_NO_MEMORY;
  if (load_on != NULL && plays != NULL) {
    bool charges = system->vehicle.charging != TAILVOLT_CHARGING_NONE && system->alternator.present;
    for (size_t k = 0; k < loads; k++) load_on[k] = charges ? 1.0 : 0.0;
    for (size_t k = 0; k < amplifiers; k++) {
      int own = system->amplifiers[k].programme;
      plays[k] = (struct tailvolt_amplifier_row){.programme = own >= 0                         ? own
                                                              : system->programme_count > 0 ? 0
                                                                                            : TAILVOLT_SILENCE,
                                                 .powered = true,
                                                 .output_w = (double)NAN,
                                                 .supply_w = (double)NAN,
                                                 .supply_a = (double)NAN};
    }
    struct tailvolt_row rows[2];
    rows[0] = (struct tailvolt_row){.engine_rpm = charges ? system->engine.idle_rpm : 0.0, .ready = charges,
                                    .ambient_c = system->vehicle.ambient_c, .set_point_v = (double)NAN,
                                    .load_on = load_on, .amplifier = plays};
    rows[1] = rows[0];
    rows[1].time_s = LENGTH_S;
    status = tailvolt_profile_from_rows(rows, 2, "idle", system, out);
  }
  free(load_on);
  free(plays);
  return status;
}

enum tailvolt_status tv_measure_answer(const struct tv_measure_model *model, const struct tailvolt_measure_options *options,
                                       struct tailvolt_certainty *certainty, gsl_vector *with, double *variance, char *error) {
  struct tailvolt_certainty_options how = options->sure != NULL ? *options->sure : tailvolt_default_certainty_options();
  struct tailvolt_profile *idle = NULL;
  double *effect = calloc((size_t)model->list->factor_count + 1, sizeof *effect);
  enum tailvolt_status status = effect != NULL ? TAILVOLT_OK : TAILVOLT_NO_MEMORY;
  if (status == TAILVOLT_OK && options->profile_count == 0) status = make_profile(model->system, &idle);
  const struct tailvolt_profile *const own[] = {idle};
  const struct tailvolt_profile *const *profiles = options->profile_count > 0 ? options->profiles : own;
  if (options->sure == NULL) how.threads = options->threads;
  how.shares = true;
  how.quick = false;
  if (status == TAILVOLT_OK)
    status = tv_certainty_effects(model->system, profiles, options->profile_count > 0 ? options->profile_count : 1, NULL, &how,
                                  NULL, certainty, effect, error);
  if (status == TAILVOLT_OK) status = tv_measure_along(model, effect, with, variance);
  tailvolt_profile_free(idle);
  free(effect);
  return status;
}
