/* The order in which cures are searched: that of the trade and of the cause.
 *
 * What is wrong is put right before parts are added: poor joints in every set; where the volts are lost in the wire,
 * wire first, and parts at its end only on top of wire that is as good as it need be; where less is generated than
 * used, the alternator first. Raising the idle is the last thing a workshop offers. Within each of these the cheapest
 * set that holds is taken. All of it is service practice; the cause itself comes from runs. */
#include <math.h>

#include "study/remedy.h"

/* A cure that gains less at the low voltage is not part of the base. */
static const double JOINT_GAIN_V = 0.05;
/* Wire that gains this share of what the thickest on offer gains is good enough. */
static const double ENOUGH_FRAC = 0.8;

static unsigned bit(const struct tv_plan *plan, enum tailvolt_cure cure) {
  int family = tv_plan_family(plan, cure);
  return family >= 0 ? 1u << family : 0;
}

/* A second battery that a converter charges at the amplifier takes the feed out of the music's way, as a thicker one would. */
static unsigned charged_there(const struct tv_plan *plan) {
  int family = tv_plan_family(plan, TAILVOLT_CURE_SECOND_BATTERY);
  return family >= 0 && plan->family[family].size_step[0].converter != NULL ? 1u << family : 0;
}

static const struct tv_trial *tried_alone(const struct tv_known *known, int family, int size_step) {
  struct tv_choice choice = {{0}};
  if (family >= 0) choice.size_step[family] = (signed char)size_step;
  for (int k = 0; k < known->count; k++) {
    bool same = known->trial[k].whole;
    for (int f = 0; f < TV_FAMILIES_MOST && same; f++) same = known->trial[k].choice.size_step[f] == choice.size_step[f];
    if (same) return &known->trial[k];
  }
  return NULL;
}

/* What a size step alone gains at the low voltage; NAN where that was not run to the end. */
static double gain_v(const struct tv_known *known, int family, int size_step) {
  const struct tv_trial *none = tried_alone(known, -1, 0), *with = tried_alone(known, family, size_step);
  return none != NULL && with != NULL ? with->low_v - none->low_v : (double)NAN;
}

/* The smallest size step run alone that gains most of what the family's largest does; 0 = it gains nothing. */
static int enough_size_step(const struct tv_plan *plan, const struct tv_known *known, enum tailvolt_cure cure) {
  int family = tv_plan_family(plan, cure);
  if (family < 0) return 0;
  int largest = plan->family[family].size_step_count;
  double most_v = gain_v(known, family, largest);
  if (!(most_v >= JOINT_GAIN_V)) return 0;
  for (int r = 1; r < largest; r++)
    if (gain_v(known, family, r) >= ENOUGH_FRAC * most_v) return r;
  return largest;
}

int tv_scopes(const struct tv_remedy_job *job, enum tailvolt_shortage shortage, const struct tv_known *known,
              struct tv_scope scopes[TV_SCOPES_MOST]) {
  const struct tv_plan *plan = &job->plan;
  const unsigned wire = bit(plan, TAILVOLT_CURE_FEED) | bit(plan, TAILVOLT_CURE_GROUND) |
                        bit(plan, TAILVOLT_CURE_STRAPS) | bit(plan, TAILVOLT_CURE_JOINTS) |
                        bit(plan, TAILVOLT_CURE_RETURN) | bit(plan, TAILVOLT_CURE_OWN_FEED) |
                        charged_there(plan);
  const unsigned all = ((1u << plan->family_count) - 1) & ~bit(plan, TAILVOLT_CURE_LEVEL);
  const unsigned fitted = all & ~bit(plan, TAILVOLT_CURE_IDLE);
  struct tv_choice none = {{0}}, sound = none;
  int count = 0, joints = tv_plan_family(plan, TAILVOLT_CURE_JOINTS);
  if (job->options.cheapest) {
    scopes[count++] = (struct tv_scope){.base = none, .families = all, .must = -1};
    return count;
  }
  if (joints >= 0 && gain_v(known, joints, 1) >= JOINT_GAIN_V) sound.size_step[joints] = 1;
  if (shortage == TAILVOLT_SHORTAGE_WIRE) {
    scopes[count++] = (struct tv_scope){.base = sound, .families = wire, .must = -1};
    struct tv_choice laid = sound;
    static const enum tailvolt_cure cables[] = {TAILVOLT_CURE_FEED, TAILVOLT_CURE_GROUND};
    int best = -1;
    for (int c = 0; c < 2; c++) {
      int family = tv_plan_family(plan, cables[c]);
      if (family < 0) continue;
      if (best < 0 || gain_v(known, family, plan->family[family].size_step_count) >
                          gain_v(known, best, plan->family[best].size_step_count))
        best = family;
    }
    if (best >= 0) laid.size_step[best] = (signed char)enough_size_step(plan, known, plan->family[best].cure);
    scopes[count++] = (struct tv_scope){.base = laid, .families = fitted, .must = -1};
  }
  int brings = tv_plan_family(plan, plan->places.converter >= 0 ? TAILVOLT_CURE_CONVERTER : TAILVOLT_CURE_ALTERNATOR);
  if (shortage == TAILVOLT_SHORTAGE_STEADY && job->charge_short && brings >= 0)
    scopes[count++] = (struct tv_scope){.base = sound, .families = fitted, .must = brings};
  scopes[count++] = (struct tv_scope){.base = sound, .families = fitted, .must = -1};
  scopes[count++] = (struct tv_scope){.base = sound, .families = all, .must = -1};
  return count;
}
