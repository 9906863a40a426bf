/* What a set will turn out to be, from a run in longer steps, a quarter of the work.
 *
 * A longer step is a mean over more time, so its voltages reach less deep: where they are too low already, those of a run in full
 * are too. By how much they fall short grows with the ripple that the step smooths: a swing at twice the bass note is left with
 * sin(x)/x of itself, x = 2 pi f h. What is clear in spite of that is settled; all else is run in full, and so is whatever is
 * shown. A set taken for holding that is not shown afterwards has done nothing but end the search for dearer ones sooner. */
#include <math.h>

#include "simulate/run.h"
#include "simulate/verdict.h"
#include "study/certainty_parts.h"
#include "study/remedy.h"

#define PI 3.14159265358979323846
static const double PER_NOTE = 11.0;   /* steps in a period of the bass note, at least */
static const double LONGEST_S = 4e-3;  /* a beat's attack shows */
static const int LEAST_RATIO = 3, BEST_RATIO = 4;
static const double DEPTH_V = 0.01;    /* of what longer steps lose besides ripple */
/* What a quantile loses is more than what its ripple does where an alternator reaches its limit: 0.4 to 3.4 times in the searches for the
 * shipped cars. */
static const double MORE_THAN_RIPPLE = 3.5;
static const double CHARGE_A = 0.25;   /* the same for a balance: some hundredths were seen */

static double highest_note_hz(const struct tv_remedy_job *job) {
  double most_hz = 0.0;
  for (int k = 0; k < job->system->programme_count; k++) {
    const struct tv_programme *programme = tv_programmes_find(job->programmes, job->system, k, &job->options.run);
    if (programme != NULL) most_hz = fmax(most_hz, tv_programme_bass_hz(programme));
  }
  return most_hz;
}

static double step_in_full_s(const struct tv_remedy_job *job) {
  if (job->options.run.time_step_s > 0.0) return job->options.run.time_step_s;
  return tv_run_ripple_step_s(fmax(highest_note_hz(job), 1.0));
}

double tv_foresee_step_s(const struct tv_remedy_job *job) {
  double full_s = step_in_full_s(job), note_hz = highest_note_hz(job), most_s = LONGEST_S;
  for (int k = 0; k < job->system->amplifier_count; k++)
    if (tailvolt_profile_prescribes(job->profile, k)) return 0.0; /* its rows set the step */
  if (note_hz > 0.0) most_s = fmin(most_s, 1.0 / (PER_NOTE * note_hz));
  double ratio = fmin(floor(most_s / full_s * (1.0 + 1e-9)), BEST_RATIO);
  return ratio >= LEAST_RATIO ? ratio * full_s : 0.0;
}

static double left_of_ripple(double note_hz, double step_s) {
  double x = 2.0 * PI * note_hz * step_s;
  return x > 0.0 ? sin(x) / x : 1.0;
}

/* At most so much lower is the voltage of a run in full. What is lost goes with the square of the step, so from twice the step to four
 * times it four times as much as from once to twice; twice that is allowed for. */
static double lost_v(const struct tv_remedy_job *job, const struct tailvolt_result *result, double coarser_v) {
  if (isfinite(coarser_v)) return 0.5 * fmax(coarser_v - result->margin_v, 0.0) + 0.5 * DEPTH_V;
  double note_hz = highest_note_hz(job), ripple_v = 0.0;
  double more = left_of_ripple(note_hz, step_in_full_s(job)) / left_of_ripple(note_hz, job->long_step_s) - 1.0;
  for (int k = 0; k < result->amplifier_count; k++)
    ripple_v = fmax(ripple_v, result->amplifiers[k].min_without_ripple_v - result->amplifiers[k].min_v);
  return MORE_THAN_RIPPLE * fmax(more * ripple_v, 0.0) + DEPTH_V;
}

static enum tv_outlook charge_outlook(const struct tailvolt_system *system, const struct tailvolt_result *result, double apart_a) {
  double road_a = tailvolt_charge_balance_a(result, TAILVOLT_ROAD);
  if (result->swing.present) return tv_loses_charge(result) ? TV_OUTLOOK_OPEN : TV_OUTLOOK_GOOD;
  double spare_a = tv_charge_to_spare_a(system, result, 0.0, isnan(road_a) ? apart_a : road_a);
  if (isnan(spare_a) || spare_a > CHARGE_A) return TV_OUTLOOK_GOOD;
  return spare_a < -CHARGE_A ? TV_OUTLOOK_BAD : TV_OUTLOOK_OPEN;
}

enum tv_outlook tv_outlook(const struct tv_remedy_job *job, const struct tailvolt_system *system, const struct tailvolt_result *result,
                           double road_a, double coarser_v, double from_v) {
  if (isnan(result->margin_v)) return TV_OUTLOOK_OPEN;
  if (result->margin_v < from_v - 0.5 * DEPTH_V) return TV_OUTLOOK_BAD;
  enum tv_outlook charge = charge_outlook(system, result, road_a);
  if (charge != TV_OUTLOOK_GOOD) return charge;
  for (int k = 0; k < result->amplifier_count; k++)
    if (result->amplifiers[k].cut_outs > result->amplifiers[k].start_cut_outs) return TV_OUTLOOK_OPEN;
  if (!tv_is_safe(result)) return TV_OUTLOOK_OPEN;
  return result->margin_v - lost_v(job, result, coarser_v) >= from_v ? TV_OUTLOOK_GOOD : TV_OUTLOOK_OPEN;
}
