/* What is run where no profile is given. */
#include <math.h>
#include <stdlib.h>

#include "tailvolt/profile.h"

/* Ten minutes at one engine speed, every load on while the engine runs, every amplifier playing. */
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

enum tailvolt_status tailvolt_standard_profiles(const struct tailvolt_system *system,
                                                struct tailvolt_profile *out[TAILVOLT_STANDARD_PROFILES], int *count) {
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
  return status;
}
