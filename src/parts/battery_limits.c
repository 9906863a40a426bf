/* The limits of each kind of battery: how deep, how cold.
 *
 * Depth: lead to half its charge, to spare its life (service practice: stop at 50 %, 12.0 to 12.2 V rested); a
 * lithium-iron pack to 20 % (makers' data sheets, 10 to 20 %; value from memory).
 *
 * Freezing: the acid of a discharged battery is thin. The printed table of a vehicle handbook gives -57, -26 and -16 C
 * at full, half and a quarter charge (-71, -15 and +4 F); empty about -8 C, three quarters -38 C (values from memory,
 * checked in the tests against the freezing points of sulphuric acid). Straight lines between. The same for
 * valve-regulated types, whose acid is slightly stronger. The table is for rested acid: just after a hard discharge it
 * is thinner at the plates. */
#include "parts/battery_model.h"

#include <math.h>

static const double FREEZING_C[] = {-8.0, -16.0, -26.0, -38.0, -57.0}; /* at 0, 25, 50, 75, 100 % */

double tv_battery_freezing_c(enum tailvolt_battery_kind kind, double soc_frac) {
  if (kind == TAILVOLT_LITHIUM_IRON) return (double)NAN;
  double quarters = 4.0 * fmin(fmax(soc_frac, 0.0), 1.0);
  int k = quarters < 3.0 ? (int)quarters : 3;
  return FREEZING_C[k] + (quarters - k) * (FREEZING_C[k + 1] - FREEZING_C[k]);
}

double tv_battery_least_soc_frac(enum tailvolt_battery_kind kind) {
  return kind == TAILVOLT_LITHIUM_IRON ? 0.2 : 0.5;
}
