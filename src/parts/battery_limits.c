/* What a kind of battery must not be asked: how deep, how cold.
 *
 * Depth: lead half its charge, for the sake of its life (service practice: stop at 50 %, 12.0 to 12.2 V rested);
 * a lithium-iron pack down to 20 % (makers' data sheets, 10 to 20 %; value from memory).
 *
 * Freezing: the acid of a discharged battery is thin. The printed table of a vehicle handbook gives -57, -26 and -16 C
 * at full, half and a quarter charge (-71, -15 and +4 F); empty about -8 C, three quarters -38 C (values from memory,
 * held against the freezing points of sulphuric acid in the tests). Between them straight lines. The same for valve-
 * regulated types, whose acid is somewhat stronger. A full battery's table is of rested acid: one that has just been
 * discharged hard is thinner at its plates. */
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
