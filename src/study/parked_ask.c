/* A run that is mostly parked tells how far the volts fall, not whether the car starts. */
#include "tailvolt/study.h"

#include <math.h>

enum tailvolt_status tailvolt_ask_parked(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                                         const struct tailvolt_options *options, struct tailvolt_result *result) {
  const struct tailvolt_phase_result *parked = &result->phases[TAILVOLT_PARKED];
  struct tailvolt_parked_options asked = tailvolt_default_parked_options();
  struct tailvolt_parked *answer = NULL;
  if (!parked->present || !(parked->duration_s > 0.5 * result->duration_s)) return TAILVOLT_OK;
  asked.run = *options;
  asked.run.record = NULL;
  asked.run.progress = NULL;
  /* if the engine is ever on, only the music is played; the study begins with a rested battery */
  enum tailvolt_status status = tailvolt_parked(system, result->driving.present ? NULL : profile, &asked, &answer, NULL);
  if (status == TAILVOLT_OK) {
    result->parked_answer.asked = true;
    result->parked_answer.until_s = answer->ends_by == TAILVOLT_ENDS_BY_TIME ? (double)NAN : answer->until_s;
    result->parked_answer.restart_s = answer->restart_s;
  }
  tailvolt_parked_free(answer);
  return status == TAILVOLT_NO_MEMORY ? status : TAILVOLT_OK;
}
