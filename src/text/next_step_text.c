/* The next step as a sentence. */
#include <math.h>
#include <stdio.h>

#include "tailvolt/study.h"
#include "text/feed_drops.h"
#include "text/number.h"
#include "text/words.h"

/* "an 80 Ah battery" */
static const char *article(const char *number) { return number[0] == '8' ? "an" : "a"; }

/* What is changed: "4 AWG copper feed", "a 150 A alternator". */
static void what_of(const struct tailvolt_next_step *step, char *to, size_t size) {
  switch ((int)step->kind) {
  case TAILVOLT_PART_BATTERY:
  case TAILVOLT_PART_ALTERNATOR:
    snprintf(to, size, "%s %s %s", article(step->size), step->size, tv_part_word(step->kind));
    return;
  case TAILVOLT_PART_ISOLATOR:
    if (step->by_engine) {
      snprintf(to, size, "%s %s switched by the ignition", step->size, step->name);
      return;
    }
    snprintf(to, size, "%s %s converter", article(step->size), step->size);
    return;
  case TAILVOLT_PART_FUSE:
    snprintf(to, size, "%s %s fuse %s", article(step->size), step->size, step->name);
    return;
  case TAILVOLT_PART_JOINT:
    snprintf(to, size, "%s made sound (%s)", step->name, step->size);
    return;
  default:
    snprintf(to, size, "%s%s %s", step->size, step->into_copper ? " copper" : "", step->name);
  }
}

/* Whether that is enough: "not enough at idle; `tailvolt remedy` finds what is". */
static void enough_of(const struct tailvolt_next_step *step, char *to, size_t size) {
  if (step->short_phase < 0)
    snprintf(to, size, "%s", step->safety == TAILVOLT_FAILS ? "enough, but SAFETY still fails" : "enough");
  else
    snprintf(to, size, "%s %s; `tailvolt remedy` finds what is",
             step->short_verdict == TAILVOLT_FAILS ? "not enough" : "only just enough", tv_phase_place(step->short_phase));
}

void tailvolt_next_step_text(const struct tailvolt_next_step *step, char *to, size_t size) {
  char what[TAILVOLT_NAME_MAX + 96], enough[96];
  if (size == 0) return;
  to[0] = '\0';
  what_of(step, what, sizeof what);
  enough_of(step, enough, sizeof enough);
  switch (step->outcome) {
  case TAILVOLT_STEP_NOT_TRIED:
    break;
  case TAILVOLT_STEP_NONE_HELPS:
    snprintf(to, size, "no single part gains 0.05 V; `tailvolt remedy` tries several together");
    break;
  case TAILVOLT_STEP_NONE_CHARGES:
    snprintf(to, size, "no single part brings it more charge; `tailvolt remedy` tries several together");
    break;
  case TAILVOLT_STEP_VOLTAGE:
    snprintf(to, size, "%s lifts it to %s for all but %s %% of the time: %s", what,
             tv_volts_beside(step->quantile_v, step->target_v).text, tv_compact(100.0 * step->missed_frac, 2).text, enough);
    break;
  case TAILVOLT_STEP_CHARGE:
    snprintf(to, size, "%s: the battery then %s %s, %s", what, step->battery_a < 0 ? "loses" : "gains",
             tv_amperes(fabs(step->battery_a)).text, enough);
    break;
  case TAILVOLT_STEP_FUSE:
    if (step->safety == TAILVOLT_FAILS)
      snprintf(to, size, "%s: see SAFETY for what else is unsafe", what);
    else
      snprintf(to, size, "%s: then it %s%s", what, step->verdict == TAILVOLT_MARGINAL ? "is " : "",
               tv_verdict_word(step->verdict));
    break;
  }
}
