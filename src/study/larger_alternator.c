/* The same alternator, larger: rated current, low current and every other point of its curve in proportion. */
#include "study/larger_alternator.h"

#include <math.h>
#include <stdio.h>

#include "input/assumes.h"
#include "text/number.h"
#include "text/text.h"

static char *next_value(struct tv_larger_alternator *larger, const char *key) {
  larger->setting[larger->count].key = key;
  char *value = larger->setting[larger->count++].value;
  value[0] = '\0';
  return value;
}

static void put(struct tv_larger_alternator *larger, const char *key, double current_a) {
  snprintf(next_value(larger, key), TV_VALUE_ROOM, "%s A", tv_compact(current_a, 1).text);
}

/* The points with no key of their own; false where they do not fit. */
static bool list_others(const struct tailvolt_alternator *old, double ratio, bool low_among_others, int decimals, char *value) {
  size_t used = 0;
  for (int k = 0; k < old->output_count; k++) {
    if (old->output_rpm[k] == TAILVOLT_RATED_RPM || (old->output_rpm[k] == TAILVOLT_LOW_RPM && !low_among_others)) continue;
    int wrote = snprintf(value + used, TV_VALUE_ROOM - used, "%s%s A at %s rpm", used > 0 ? ", " : "",
                         tv_compact(old->output_a[k] * ratio, decimals).text, tv_compact(old->output_rpm[k], 0).text);
    if (wrote < 0 || (used += (size_t)wrote) >= TV_VALUE_ROOM) return false;
  }
  return true;
}

bool tv_larger_alternator(const struct tailvolt_system *system, double rated_a, struct tv_larger_alternator *larger) {
  const struct tailvolt_alternator *old = &system->alternator;
  *larger = (struct tv_larger_alternator){0};
  if (isfinite(old->fixed_output_a)) {
    put(larger, "fixed output", rated_a);
    return true;
  }
  double ratio = rated_a / old->rated_a;
  put(larger, "rated current", rated_a);
  /* the label's lower point has a key of its own, unless the file has it among the others */
  bool low_among_others = tv_system_states(system, "alternator.output") && !tv_system_states(system, "alternator.low current");
  bool others = false;
  for (int k = 0; k < old->output_count; k++) {
    bool low = old->output_rpm[k] == TAILVOLT_LOW_RPM && !low_among_others;
    if (low) put(larger, "low current", old->output_a[k] * ratio);
    others = others || (!low && old->output_rpm[k] != TAILVOLT_RATED_RPM);
  }
  if (!others) return true;
  char *value = next_value(larger, "output");
  return list_others(old, ratio, low_among_others, 1, value) || list_others(old, ratio, low_among_others, 0, value);
}
