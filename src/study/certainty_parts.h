/* Certainty: what a run says about many vehicles, using short pieces where whole profiles would take too long.
 *
 * One car, the one described, is run in full. For the others two things replace each profile:
 *  - the whole of it without ripple and without the storage inside amplifiers, in long steps: that gives the charge verdict, and
 *    the charge at each moment;
 *  - for each phase that could decide, the seconds around its lowest voltage, in full detail: that gives the voltages.
 * How far a battery has tired by then differs between vehicles: the pieces are run again in long steps, and their difference from
 * the whole in long steps is added. What is still left out (the rest of the music, warmth) is measured once, on the car
 * described: the share of a piece's time below the voltage that the whole profile is judged by, and the volts and amperes that
 * are then still missing. The same share and volts apply to every vehicle.
 *
 * Quickly there are no pieces: what full detail takes away from the car described is taken away from every vehicle, half of it in
 * proportion to its sag. */
#ifndef TV_STUDY_CERTAINTY_PARTS_H
#define TV_STUDY_CERTAINTY_PARTS_H

#include "simulate/lanes.h"
#include "study/vehicles.h"

/* What is kept of one vehicle. */
struct tv_vehicle_outcome {
  bool computed, holds, charge_lost, cuts_out;
  double margin_v; /* smallest judged voltage less its target, over all phases of all profiles */
  double min_v;    /* lowest at any amplifier */
  double charge_a; /* smallest current to spare by the charge rule; NAN = nothing charges */
};

/* Rows of a profile in memory, with everything they own. */
struct tv_kept_rows {
  int count;
  struct tailvolt_row *row;
  double *load_on;
  struct tailvolt_amplifier_row *amplifier;
};

/* The seconds around the lowest voltage of a phase. */
struct tv_stretch {
  int profile, phase;
  double at_s;                 /* the lowest voltage of the phase, profile time */
  struct tv_kept_rows rows;
  double missed_frac;          /* share of its time below what the whole is judged by */
  double *margin_more_v;       /* [amplifiers] to be added; NAN = not watched here */
  double *min_more_v;
  double phase_s[TAILVOLT_PHASES]; /* of the profile before the stretch */
};

struct tv_charge_offset {
  double idle_a, road_a;       /* to be added to the balances from long steps */
};

/* Of the car described, in one phase: its sag in long steps, and the volts that full detail adds to the margin. */
struct tv_quick_offset {
  double sag_v, more_v;
};

struct tv_certainty_plan {
  const struct tailvolt_system *system;
  const struct tailvolt_profile *const *profiles;
  int profile_count;
  struct tailvolt_options run;        /* without record and progress */
  const struct tailvolt_uncertainty *list;
  bool whole;                         /* run the profiles themselves */
  bool quickly;                       /* no stretches */
  bool same_day;
  int threads;
  double long_step_s, fine_step_s;    /* of whole profiles, of stretches; 0 = as every run */
  double least_rpm;                   /* rows in which the engine turns slower are raised to it */
  struct tv_kept_rows *rows;               /* [profiles]; count 0 = too many to follow the vehicle */
  int stretch_count;
  struct tv_stretch *stretches;
  struct tv_charge_offset *offset;    /* [profiles] */
  struct tv_quick_offset *quick;      /* [profiles x amplifiers x phases]; NULL = the stretches say it */
  struct tv_programmes *programmes, *smooth_programmes;
  struct tv_labels *labels;           /* solved batteries; the caller's */
  int (*progress)(void *context, double done_frac);
  void *context;
};

/* Makes the plan from full results of the car as described. `whole` asks for the profiles themselves; they are also run without
 * it where the pieces would not be shorter. */
TAILVOLT_CHECKED enum tailvolt_status tv_certainty_plan_make(struct tv_certainty_plan *plan,
                                                             const struct tailvolt_result *const *results, char *error);
void tv_certainty_plan_free(struct tv_certainty_plan *plan);

/* Steps that one vehicle takes, for budgeting. */
double tv_certainty_steps(const struct tv_certainty_plan *plan);

/* Runs vehicles side by side: values[count x list->count]. One that cannot be computed (labels that contradict each other) is not
 * `computed`. TAILVOLT_OK, _NO_MEMORY or _STOPPED. */
TAILVOLT_CHECKED enum tailvolt_status tv_certainty_run(const struct tv_certainty_plan *plan, const double *values, int count,
                                                       struct tv_vehicle_outcome *outcome);

/* ---- pieces (certainty_stretch.c) ---- */

void tv_kept_rows_free(struct tv_kept_rows *rows);
/* All rows of a profile, or those from from_s to to_s, the first and last cut there. */
TAILVOLT_CHECKED enum tailvolt_status tv_kept_rows_read(const struct tailvolt_system *system, const struct tailvolt_profile *profile,
                                                   double from_s, double to_s, struct tv_kept_rows *rows);
/* The rows as a vehicle runs them. */
TAILVOLT_CHECKED enum tailvolt_status tv_kept_rows_profile(const struct tv_kept_rows *rows, const struct tailvolt_system *system,
                                                      struct tv_vehicle_rows more, struct tailvolt_profile **out);
/* Chooses the stretches of a profile from its full result and adds them to the plan. */
TAILVOLT_CHECKED enum tailvolt_status tv_stretches_choose(struct tv_certainty_plan *plan, int profile,
                                                          const struct tailvolt_result *result, double worst_margin_v);

/* ---- one vehicle's jobs (certainty_run.c) ---- */

/* Smallest current to spare by the charge rule: until idle empties too soon, and over the mix of idle and road. */
double tv_charge_to_spare_a(const struct tailvolt_system *system, const struct tailvolt_result *result, double idle_more_a,
                            double road_a);

/* The car described, its profiles run in long steps. */
struct tv_described;
TAILVOLT_CHECKED enum tailvolt_status tv_certainty_describe(const struct tv_certainty_plan *plan, struct tv_described **out);
void tv_described_free(struct tv_described *car);
/* Runs its stretches: out[stretches], and the voltages below which each of `count` shares of their time is
 * spent, quantile_v[stretches x count x amplifiers x phases]. */
TAILVOLT_CHECKED enum tailvolt_status tv_certainty_try_shares(const struct tv_certainty_plan *plan, const struct tv_described *car,
                                                              const double *shares, int count, double *quantile_v,
                                                              struct tailvolt_result **out);
/* Difference in volts between its stretches in long steps and its whole profiles in long steps: drift_v[stretch x amplifiers]. */
TAILVOLT_CHECKED enum tailvolt_status tv_certainty_drift(const struct tv_certainty_plan *plan, struct tv_described *car, double *drift_v);
/* Runs the long steps of the described car: out[profiles]. */
TAILVOLT_CHECKED enum tailvolt_status tv_certainty_try_long(const struct tv_certainty_plan *plan, struct tailvolt_result **out);

#endif
