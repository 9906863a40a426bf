/* How many places a system may have where current is nonlinear in voltage. */
#include "simulate/places.h"

#include <stdio.h>

/* Every step solves for all nonlinear currents together, at a cost that grows with the cube of their number. Loads at one
 * place count once. */
enum tailvolt_status tv_check_places(const struct tailvolt_system *system, char error[TAILVOLT_TEXT_MAX]) {
  struct {
    int positive, negative;
  } place[TV_PLACES_MOST];
  int places = 0, count = (system->alternator.present ? 1 : 0) + system->amplifier_count;
  for (int k = 0; k < system->isolator_count; k++) count += system->isolators[k].kind == TAILVOLT_CONVERTER ? 2 : 0;
  for (int k = 0; k < system->load_count && places < TV_PLACES_MOST; k++) {
    const struct tailvolt_load *load = &system->loads[k];
    bool known = load->behaviour != TAILVOLT_CONSTANT_POWER;
    for (int j = 0; j < places && !known; j++)
      known = place[j].positive == load->positive && place[j].negative == load->negative;
    if (known) continue;
    place[places].positive = load->positive;
    place[places++].negative = load->negative;
  }
  if (count + places <= TV_PLACES_MOST) return TAILVOLT_OK;
  snprintf(error, TAILVOLT_TEXT_MAX,
           "more than %d places where current is nonlinear in voltage (alternator, amplifiers, converters, constant-power "
           "loads): join some loads at one point, or let them behave as resistors",
           TV_PLACES_MOST);
  return TAILVOLT_BAD_INPUT;
}
