#include "study/on_by_ignition.h"

#include <stdio.h>

#include "input/assumes.h"
#include "text/number.h"

struct tv_on_by_ignition tv_on_by_ignition(enum tailvolt_isolator_kind kind) {
  struct tv_on_by_ignition on = {1, {{"sense", "engine"}, {"opens below", ""}, {"closes above", ""}}};
  if (kind != TAILVOLT_CONVERTER) return on; /* a relay closes at any voltage */
  on.count = 3;
  snprintf(on.setting[1].value, sizeof on.setting[1].value, "%s V", tv_compact(TV_GUARDS_BELOW_V, 1).text);
  snprintf(on.setting[2].value, sizeof on.setting[2].value, "%s V", tv_compact(TV_GUARDS_BELOW_V + 0.5, 1).text);
  return on;
}
