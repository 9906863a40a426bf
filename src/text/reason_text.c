/* The reasons for a verdict as sentences. */
#include <stdio.h>

#include "tailvolt/result.h"
#include "text/number.h"
#include "text/text.h"
#include "text/words.h"

static const char *plural(double count) { return count > 1.5 ? "s" : ""; }

void tailvolt_reason_text(const struct tailvolt_reason *r, bool us_units, char *to, size_t size) {
  const char *name = r->about.name;
  char battery[TAILVOLT_NAME_MAX + 16] = "the battery";
  if (size == 0) return;
  to[0] = '\0';
  if (r->about.index >= 0) tv_section_words(TAILVOLT_PART_BATTERY, name, battery, sizeof battery);
  switch (r->kind) {
  case TAILVOLT_REASON_SAFETY:
    tailvolt_finding_text(&r->finding, us_units, to, size);
    break;
  case TAILVOLT_REASON_BELOW_TARGET:
  case TAILVOLT_REASON_NEAR_TARGET:
    snprintf(to, size, "%s is below %s V for %s %% of the time (wanted %s V; %s %s V %s it), lowest %s V at %s", name,
             tv_fixed(r->number, 2).text, tv_significant(r->allowed_pct, 4).text, tv_fixed(r->limit, 1).text,
             r->kind == TAILVOLT_REASON_BELOW_TARGET ? "fails from" : "holds from", tv_compact(r->from_v, 2).text,
             r->kind == TAILVOLT_REASON_BELOW_TARGET ? "below" : "above", tv_fixed(r->least_v, 2).text,
             tv_clock(r->time_s).text);
    break;
  case TAILVOLT_REASON_COLLAPSES:
    snprintf(to, size, "%s asks for more than its wiring can carry: the supply collapses %s time%s, first at %s", name,
             tv_compact(r->number, 0).text, plural(r->number), tv_clock(r->time_s).text);
    break;
  case TAILVOLT_REASON_CUTS_OUT:
    snprintf(to, size, "%s cuts out %s time%s, silent for %s s", name, tv_compact(r->number, 0).text, plural(r->number),
             tv_fixed(r->time_s, 1).text);
    break;
  case TAILVOLT_REASON_CHARGE_LOST:
    snprintf(to, size, "%s loses %s A at idle: ", battery, tv_fixed(r->number, 1).text);
    if (r->time_s > 0)
      tv_append(to, size, "half charge after %s h", tv_fixed(r->time_s / 3600, 1).text);
    else
      tv_append(to, size, "already below half charge");
    tv_append(to, size, " (at least %s h wanted)", tv_fixed(r->wanted_s / 3600, 1).text);
    break;
  case TAILVOLT_REASON_CHARGE_MIX:
    snprintf(to, size, "%s loses %s A averaged over %s %% idling and %s %% driving: the road does not put back what "
             "idling takes", battery, tv_fixed(r->number, 1).text, tv_fixed(r->share_pct, 0).text,
             tv_fixed(100 - r->share_pct, 0).text);
    break;
  case TAILVOLT_REASON_CHARGE_ROAD:
    snprintf(to, size, "%s loses %s A even on the road", battery, tv_fixed(r->number, 1).text);
    break;
  }
}
